//! The protocol's messages, each handed on to the worker and to the handler of its feature.
//!
//! No handler waits between receiving a message and handing it on, so the worker gets them in the order in which
//! they came.

use super::capabilities::capabilities;
use super::client::{self, ClientAbilities};
use super::layer::Ending;
use super::settings::{SECTION, Settings};
use super::state::State;
use super::work::Worker;
use super::{documents, lifecycle, pull};
#[cfg(test)]
use serde_json::Value;
use tower_lsp::LanguageServer;
use tower_lsp::jsonrpc::Result;
use tower_lsp::lsp_types::*;

/// The server of one client.
pub(super) struct Backend {
    worker: Worker,
    ending: Ending,
}

impl Backend {
    /// A server whose worker runs already.
    pub(super) fn new(worker: Worker, ending: Ending) -> Backend {
        Backend { worker, ending }
    }

    /// Asks the worker, noting the request in the trace.
    async fn ask<R, Q>(&self, method: &'static str, question: Q) -> Result<R>
    where
        R: Send + 'static,
        Q: FnOnce(&mut State) -> Result<R> + Send + 'static,
    {
        let asked = self.worker.ask(move |state| {
            let began = std::time::Instant::now();
            let answer = question(state);
            state.trace(format!("answered {method}"), || {
                format!("in {:?}", began.elapsed())
            });
            answer
        });
        asked.await
    }

    /// `$/setTrace`
    pub(super) async fn set_trace(&self, params: SetTraceParams) {
        self.worker
            .tell(move |state| state.trace = client::trace(Some(params.value)));
    }

    /// `window/workDoneProgress/cancel`
    pub(super) async fn cancel_progress(&self, params: WorkDoneProgressCancelParams) {
        self.worker.tell(move |state| {
            if let NumberOrString::String(token) = &params.token {
                state.looking.cancel(token);
            }
        });
    }

    /// `stagebook/document`: the text of a `stagebook:` document.
    pub(super) async fn own_document(&self, params: TextDocumentIdentifier) -> Result<String> {
        documents::own_document(&params.uri)
    }

    /// A handler that panics, to test that such a one is answered and survived.
    #[cfg(test)]
    pub(super) async fn panic(&self) -> Result<Value> {
        self.ask("test/panic", |_| panic!("a test asked for it"))
            .await
    }

    /// The text of a document as it stands here.
    #[cfg(test)]
    pub(super) async fn text(&self, params: TextDocumentIdentifier) -> Result<String> {
        self.ask("test/text", move |state| {
            Ok(state.see(&params.uri)?.source.text.to_string())
        })
        .await
    }

    /// A handler that waits for the client without holding anything up, to test that none does.
    #[cfg(test)]
    pub(super) async fn ask_client(&self) -> Result<Value> {
        self.ask("test/askClient", |state| {
            state.out.configuration(SECTION, |_| {});
            Ok(Value::Null)
        })
        .await
    }
}

#[tower_lsp::async_trait]
impl LanguageServer for Backend {
    async fn initialize(&self, params: InitializeParams) -> Result<InitializeResult> {
        let abilities = ClientAbilities::of(&params);
        let (encoding, kind) = client::encoding(&params);
        let capabilities = capabilities(&abilities, kind);
        if let Some(process) = params.process_id {
            lifecycle::watch(process, self.ending.clone());
        }
        self.worker.tell(move |state| {
            lifecycle::begin(state, params, abilities, encoding);
        });
        Ok(InitializeResult {
            capabilities,
            server_info: Some(ServerInfo {
                name: "stagebook".to_owned(),
                version: Some(env!("CARGO_PKG_VERSION").to_owned()),
            }),
        })
    }

    async fn initialized(&self, _: InitializedParams) {
        self.worker.tell(lifecycle::initialized);
    }

    async fn shutdown(&self) -> Result<()> {
        Ok(())
    }

    async fn did_open(&self, params: DidOpenTextDocumentParams) {
        let document = params.text_document;
        self.worker
            .tell(move |state| state.open(document.uri, document.version, document.text));
    }

    async fn did_change(&self, params: DidChangeTextDocumentParams) {
        let document = params.text_document;
        self.worker.tell(move |state| {
            state.change(&document.uri, document.version, params.content_changes)
        });
    }

    async fn did_save(&self, _: DidSaveTextDocumentParams) {
        self.worker.tell(|state| {
            if !state.client.registers_watching {
                state.desk.look_at_files();
            }
        });
    }

    async fn did_close(&self, params: DidCloseTextDocumentParams) {
        self.worker
            .tell(move |state| state.close(&params.text_document.uri));
    }

    async fn did_change_configuration(&self, params: DidChangeConfigurationParams) {
        self.worker.tell(move |state| {
            if state.client.configuration {
                lifecycle::ask_settings(state);
                return;
            }
            let own = params.settings.get(SECTION).unwrap_or(&params.settings);
            lifecycle::take_settings(state, Settings::read(own));
        });
    }

    async fn did_change_workspace_folders(&self, params: DidChangeWorkspaceFoldersParams) {
        self.worker.tell(move |state| {
            let added = lifecycle::folders(params.event.added);
            let removed = lifecycle::folders(params.event.removed);
            state.folders_changed(added, &removed);
        });
    }

    async fn did_change_watched_files(&self, params: DidChangeWatchedFilesParams) {
        self.worker
            .tell(move |state| documents::files_changed(state, &params.changes));
    }

    async fn diagnostic(
        &self,
        params: DocumentDiagnosticParams,
    ) -> Result<DocumentDiagnosticReportResult> {
        self.ask("textDocument/diagnostic", move |state| {
            pull::document(state, &params)
        })
        .await
    }

    async fn workspace_diagnostic(
        &self,
        params: WorkspaceDiagnosticParams,
    ) -> Result<WorkspaceDiagnosticReportResult> {
        self.ask("workspace/diagnostic", move |state| {
            Ok(pull::workspace(state, params))
        })
        .await
    }
}
