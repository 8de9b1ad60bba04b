// Begins a first plan, register and record in the opened folder.
import * as vscode from "vscode";

const DOCUMENTS = ["plan.ubr", "register.ubr", "T-1.ubr"];

/** Writes the three documents of the walkthrough; what is there already stays as it is. */
export async function writeFirstRecord(extension: vscode.Uri): Promise<void> {
  const folder = vscode.workspace.workspaceFolders?.[0]?.uri;
  if (folder === undefined) {
    const open = "Open a Folder";
    const chosen = await vscode.window.showInformationMessage(
      "Plan, register and record are written into an opened folder. Open an empty one first.",
      open,
    );
    if (chosen === open) {
      await vscode.commands.executeCommand("workbench.action.files.openFolder");
    }
    return;
  }
  for (const name of DOCUMENTS) {
    const source = vscode.Uri.joinPath(extension, "first", name);
    try {
      await vscode.workspace.fs.copy(source, vscode.Uri.joinPath(folder, name), { overwrite: false });
    } catch (error) {
      if (!(error instanceof vscode.FileSystemError && error.code === "FileExists")) {
        throw error;
      }
    }
  }
  const record = vscode.Uri.joinPath(folder, "T-1.ubr");
  const editor = await vscode.window.showTextDocument(record, { preview: false });
  const end = editor.document.lineAt(editor.document.lineCount - 1).range.end;
  editor.selection = new vscode.Selection(end, end);
}
