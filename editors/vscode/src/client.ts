// The language server: found, started, started anew.
import * as vscode from "vscode";
import { LanguageClient, type LanguageClientOptions, State } from "vscode-languageclient/node";
import { linkPages } from "./documents";
import { findServer } from "./server";

/** The server and what it is connected to. */
export class Server implements vscode.Disposable {
  private readonly log = vscode.window.createOutputChannel("stagebook");
  private readonly changed = new vscode.EventEmitter<void>();
  private running: Promise<LanguageClient> | undefined;

  /** Fires when the server has started or stopped. */
  readonly onDidChange = this.changed.event;

  constructor(private readonly extension: vscode.ExtensionContext) {}

  /** The connected client; rejects with the reason where there is none. */
  ready(): Promise<LanguageClient> {
    return this.running ?? Promise.reject(new Error("the server of stagebook does not run"));
  }

  /** Starts the server, or says once why it cannot and what to do. */
  async start(): Promise<void> {
    const setting = vscode.workspace.getConfiguration("stagebook").get<string>("server.path", "");
    const found = findServer(setting, this.extension.extensionPath, process.env["PATH"] ?? "");
    if ("fault" in found) {
      this.log.appendLine(found.fault);
      await this.tell(found.fault);
      return;
    }
    this.running = this.connect(found.program);
    try {
      await this.running;
    } catch (error) {
      this.running = undefined;
      const fault = `${found.program} could not be started as a language server: ${String(error)}`;
      this.log.appendLine(fault);
      await this.tell(fault);
    }
    this.changed.fire();
  }

  /** Stops the server. */
  async stop(): Promise<void> {
    const client = await this.running?.catch(() => undefined);
    this.running = undefined;
    if (client?.state === State.Running) {
      await client.stop();
    }
    await client?.dispose();
  }

  async restart(): Promise<void> {
    await this.stop();
    await this.start();
  }

  showLog(): void {
    this.log.show();
  }

  dispose(): void {
    this.log.dispose();
    this.changed.dispose();
  }

  private async connect(command: string): Promise<LanguageClient> {
    const client = new LanguageClient(
      "stagebook",
      "stagebook",
      { command, args: ["lsp"] },
      this.options(),
    );
    client.onDidChangeState(() => this.changed.fire());
    await client.start();
    return client;
  }

  private options(): LanguageClientOptions {
    return {
      documentSelector: ["file", "untitled", "stagebook"].map((scheme) => ({
        language: "ubr",
        scheme,
      })),
      outputChannel: this.log,
      initializationOptions: {
        ...vscode.workspace.getConfiguration("stagebook"),
        // Built-in plans and pages of rules are asked for by the extension; no copies are made.
        documents: true,
      },
      middleware: {
        provideDiagnostics: async (document, previous, token, next) => {
          const report = await next(document, previous, token);
          if (report?.kind === "full") {
            linkPages(report.items);
          }
          return report;
        },
        handleDiagnostics: (uri, found, next) => {
          linkPages(found);
          next(uri, found);
        },
      },
    };
  }

  private async tell(fault: string): Promise<void> {
    const setting = "Open the Setting";
    const chosen = await vscode.window.showErrorMessage(fault, setting, "Show the Log");
    if (chosen === setting) {
      await vscode.commands.executeCommand("workbench.action.openSettings", "stagebook.server.path");
    } else if (chosen !== undefined) {
      this.showLog();
    }
  }
}
