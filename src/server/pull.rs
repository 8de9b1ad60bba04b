//! Diagnostics that the client pulls, of one document and of the workspace.

use super::state::State;
use rustc_hash::FxHashMap;
use tower_lsp::jsonrpc::Result;
use tower_lsp::lsp_types::*;

/// The diagnostics of one document; "unchanged" where the client has them.
pub(super) fn document(
    state: &mut State,
    params: &DocumentDiagnosticParams,
) -> Result<DocumentDiagnosticReportResult> {
    state.settle();
    let file = state.open_file(&params.text_document.uri)?;
    let report = state.pull(file);
    let id = report.id.to_string();
    let report = if params.previous_result_id.as_ref() == Some(&id) {
        DocumentDiagnosticReport::Unchanged(RelatedUnchangedDocumentDiagnosticReport {
            related_documents: None,
            unchanged_document_diagnostic_report: UnchangedDocumentDiagnosticReport {
                result_id: id,
            },
        })
    } else {
        DocumentDiagnosticReport::Full(RelatedFullDocumentDiagnosticReport {
            related_documents: None,
            full_document_diagnostic_report: FullDocumentDiagnosticReport {
                result_id: Some(id),
                items: report.items.to_vec(),
            },
        })
    };
    Ok(DocumentDiagnosticReportResult::Report(report))
}

/// The diagnostics of every document that is looked after; of those that the client has, only that they are
/// unchanged.
pub(super) fn workspace(
    state: &mut State,
    params: WorkspaceDiagnosticParams,
) -> WorkspaceDiagnosticReportResult {
    state.settle();
    let known: FxHashMap<Url, String> = params
        .previous_result_ids
        .into_iter()
        .map(|previous| (previous.uri, previous.value))
        .collect();
    let mut items = Vec::new();
    for file in state.desk.looked_after() {
        let Some(uri) = state.urls.of(&state.desk, file) else {
            continue;
        };
        let version = state.version(file).map(i64::from);
        let report = state.pull(file);
        let id = report.id.to_string();
        let before = known.get(&uri);
        items.push(if before == Some(&id) {
            WorkspaceDocumentDiagnosticReport::Unchanged(
                WorkspaceUnchangedDocumentDiagnosticReport {
                    uri,
                    version,
                    unchanged_document_diagnostic_report: UnchangedDocumentDiagnosticReport {
                        result_id: id,
                    },
                },
            )
        } else {
            WorkspaceDocumentDiagnosticReport::Full(WorkspaceFullDocumentDiagnosticReport {
                uri,
                version,
                full_document_diagnostic_report: FullDocumentDiagnosticReport {
                    result_id: Some(id),
                    items: report.items.to_vec(),
                },
            })
        });
    }
    WorkspaceDiagnosticReportResult::Report(WorkspaceDiagnosticReport { items })
}
