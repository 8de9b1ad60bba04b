// Documents that come with the program: built-in plans and the pages of rules, under the scheme `stagebook`.
import * as vscode from "vscode";
import type { Server } from "./client";

const SCHEME = "stagebook";

/** Shows the documents that come with the program. */
export function showDocuments(server: Server): vscode.Disposable {
  return vscode.Disposable.from(
    vscode.workspace.registerTextDocumentContentProvider(SCHEME, {
      provideTextDocumentContent: async (uri, token) => {
        const client = await server.ready();
        return client.sendRequest<string>("stagebook/document", { uri: uri.toString() }, token);
      },
    }),
    vscode.commands.registerCommand("stagebook.page", async (address: unknown) => {
      const uri = typeof address === "string" ? vscode.Uri.parse(address) : undefined;
      if (uri?.scheme === SCHEME) {
        await vscode.commands.executeCommand("markdown.showPreview", uri);
      }
    }),
  );
}

/** Has the name of a rule, shown with a finding, open the page of the rule as it is meant to be read. */
export function linkPages(found: vscode.Diagnostic[]): void {
  for (const finding of found) {
    const code = finding.code;
    if (typeof code === "object" && code.target.scheme === SCHEME) {
      const address = encodeURIComponent(JSON.stringify([code.target.toString()]));
      finding.code = { ...code, target: vscode.Uri.parse(`command:stagebook.page?${address}`) };
    }
  }
}
