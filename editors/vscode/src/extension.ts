// Begin and end of the extension.
import * as vscode from "vscode";
import { Server } from "./client";
import { showDocuments } from "./documents";
import { writeFirstRecord } from "./first";
import { Stages } from "./stages";

let server: Server | undefined;

export async function activate(context: vscode.ExtensionContext): Promise<void> {
  server = new Server(context);
  const own = server;
  context.subscriptions.push(
    own,
    showDocuments(own),
    new Stages(own),
    vscode.commands.registerCommand("stagebook.restart", () => own.restart()),
    vscode.commands.registerCommand("stagebook.log", () => own.showLog()),
    vscode.commands.registerCommand("stagebook.firstRecord", () =>
      writeFirstRecord(context.extensionUri),
    ),
    vscode.workspace.onDidChangeConfiguration(async (event) => {
      if (event.affectsConfiguration("stagebook.server.path")) {
        await own.restart();
      }
    }),
  );
  await vscode.commands.executeCommand("setContext", "stagebook.knowsRecords", true);
  // Not waited for: commands and views are there also while the server starts, or where it is not found.
  void own.start();
}

export async function deactivate(): Promise<void> {
  await server?.stop();
}
