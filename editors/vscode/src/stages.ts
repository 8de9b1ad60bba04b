// The view of the stages of a unit: how each stands, its points, and a way there.
import * as vscode from "vscode";
import { CodeLensRequest, DocumentSymbolRequest } from "vscode-languageclient/node";
import type { Server } from "./client";
import { countsOf, iconOf, type Place, type Point, type Stage, stagesOf, unitOf } from "./outline";

/** How long it is waited for typing to pause, in ms. */
const PAUSE = 200;

type Row = { stage: Stage } | { point: Point };

/** The view `Stages`: of the record that was looked at last. */
export class Stages implements vscode.TreeDataProvider<Row>, vscode.Disposable {
  private readonly changed = new vscode.EventEmitter<void>();
  private readonly view: vscode.TreeView<Row>;
  private readonly parts: vscode.Disposable[];
  private shown: vscode.TextDocument | undefined;
  private stages: Stage[] = [];
  private pause: NodeJS.Timeout | undefined;

  readonly onDidChangeTreeData = this.changed.event;

  constructor(private readonly server: Server) {
    this.view = vscode.window.createTreeView("stagebook.stages", { treeDataProvider: this });
    const ifShown = (document: vscode.TextDocument) => {
      if (document === this.shown) {
        this.soon();
      }
    };
    this.parts = [
      this.view,
      this.changed,
      server.onDidChange(() => this.soon()),
      vscode.window.onDidChangeActiveTextEditor(() => this.soon()),
      vscode.workspace.onDidChangeTextDocument((event) => ifShown(event.document)),
      vscode.workspace.onDidCloseTextDocument(ifShown),
      // A change of plan or register changes the stages too, and always the findings with them.
      vscode.languages.onDidChangeDiagnostics((event) => {
        if (event.uris.some((uri) => uri.toString() === this.shown?.uri.toString())) {
          this.soon();
        }
      }),
      vscode.commands.registerCommand("stagebook.goTo", (place: Place) => this.goTo(place)),
    ];
    this.soon();
  }

  getChildren(row?: Row): Row[] {
    if (row === undefined) {
      return this.stages.map((stage) => ({ stage }));
    }
    return "stage" in row ? row.stage.points.map((point) => ({ point })) : [];
  }

  getTreeItem(row: Row): vscode.TreeItem {
    if ("point" in row) {
      const { name, state, place } = row.point;
      const item = new vscode.TreeItem(name);
      item.iconPath = new vscode.ThemeIcon(state === "open" ? "circle-outline" : "check");
      item.accessibilityInformation = { label: `${name} ${state ?? ""}` };
      item.description = state ?? "";
      return withPlace(item, place);
    }
    const { name, standing, place, points } = row.stage;
    const open = points.some((point) => point.state === "open");
    const item = new vscode.TreeItem(
      name,
      points.length === 0
        ? vscode.TreeItemCollapsibleState.None
        : open
          ? vscode.TreeItemCollapsibleState.Expanded
          : vscode.TreeItemCollapsibleState.Collapsed,
    );
    // What is unfolded is kept by unit, and for each round of a stage that is done again.
    item.id = `${this.view.description}/${this.stages.indexOf(row.stage)}`;
    const [icon, colour] = iconOf(standing);
    item.iconPath = new vscode.ThemeIcon(icon, colour && new vscode.ThemeColor(colour));
    item.accessibilityInformation = { label: `${name}: ${standing}` };
    item.description = countsOf(standing);
    item.tooltip = standing;
    return withPlace(item, place);
  }

  dispose(): void {
    clearTimeout(this.pause);
    vscode.Disposable.from(...this.parts).dispose();
  }

  private soon(): void {
    clearTimeout(this.pause);
    this.pause = setTimeout(() => void this.look(), PAUSE);
  }

  private async look(): Promise<void> {
    const active = vscode.window.activeTextEditor?.document;
    const document = active?.languageId === "ubr" ? active : this.shown;
    const asked = document && !document.isClosed ? await this.ask(document) : undefined;
    // A plan or register in front leaves the record that was looked at before.
    if (asked === undefined && document !== this.shown && this.shown?.isClosed === false) {
      return;
    }
    this.shown = asked && document;
    this.stages = asked?.stages ?? [];
    this.view.description = asked?.unit ?? "";
    this.changed.fire();
  }

  private async ask(
    document: vscode.TextDocument,
  ): Promise<{ unit: string; stages: Stage[] } | undefined> {
    // Asked directly: the editor keeps an outline as long as the text is the same, but the state changes without it.
    const textDocument = { uri: document.uri.toString() };
    try {
      const client = await this.server.ready();
      const symbols = (await client.sendRequest(DocumentSymbolRequest.type, { textDocument })) ?? [];
      const nested = symbols.flatMap((symbol) => ("selectionRange" in symbol ? [symbol] : []));
      const unit = unitOf(nested);
      if (unit === undefined) {
        return undefined;
      }
      const lenses = (await client.sendRequest(CodeLensRequest.type, { textDocument })) ?? [];
      return { unit, stages: stagesOf(nested, lenses) };
    } catch {
      // No server, or the document has just been closed: there is nothing to show.
      return undefined;
    }
  }

  private async goTo(place: Place): Promise<void> {
    if (this.shown !== undefined) {
      const at = new vscode.Position(place.line, place.character);
      await vscode.window.showTextDocument(this.shown, { selection: new vscode.Range(at, at) });
    }
  }
}

function withPlace(item: vscode.TreeItem, place: Place): vscode.TreeItem {
  item.command = { command: "stagebook.goTo", title: "Go There", arguments: [place] };
  return item;
}
