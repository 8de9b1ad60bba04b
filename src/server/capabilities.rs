//! What the server says it can do. Only what it can do for this client.

use super::client::ClientAbilities;
use tower_lsp::lsp_types::*;

/// The capabilities for a client.
pub(super) fn capabilities(
    client: &ClientAbilities,
    encoding: PositionEncodingKind,
) -> ServerCapabilities {
    ServerCapabilities {
        position_encoding: Some(encoding),
        text_document_sync: Some(TextDocumentSyncCapability::Options(
            TextDocumentSyncOptions {
                open_close: Some(true),
                change: Some(TextDocumentSyncKind::INCREMENTAL),
                save: Some(TextDocumentSyncSaveOptions::SaveOptions(SaveOptions {
                    include_text: Some(false),
                })),
                ..TextDocumentSyncOptions::default()
            },
        )),
        diagnostic_provider: client.pulls.then(|| {
            DiagnosticServerCapabilities::Options(DiagnosticOptions {
                identifier: Some("stagebook".to_owned()),
                inter_file_dependencies: true,
                workspace_diagnostics: true,
                work_done_progress_options: WorkDoneProgressOptions::default(),
            })
        }),
        workspace: Some(WorkspaceServerCapabilities {
            workspace_folders: Some(WorkspaceFoldersServerCapabilities {
                supported: Some(true),
                change_notifications: Some(OneOf::Left(true)),
            }),
            file_operations: None,
        }),
        ..ServerCapabilities::default()
    }
}
