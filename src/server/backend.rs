//! The protocol's messages, each handed on to the worker and to the handler of its feature.
//!
//! No handler waits between receiving a message and handing it on, so the worker gets them in the order in which
//! they came.

use super::capabilities::capabilities;
use super::client::{self, ClientAbilities};
use super::layer::Ending;
use super::settings::{SECTION, Settings};
use super::sight::Sight;
use super::state::State;
use super::work::Worker;
use super::{
    actions, calls, completion, documents, hints, hover, layout, lenses, lifecycle, navigation,
    pull, rename, shape, signature, symbols, tokens,
};
use crate::syntax::format::Unlike;
#[cfg(test)]
use serde_json::Value;
use tower_lsp::LanguageServer;
use tower_lsp::jsonrpc::{Error, ErrorCode, Result};
use tower_lsp::lsp_types::*;

/// `RequestFailed` of the protocol.
const REQUEST_FAILED: i64 = -32803;

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

    /// A message that could not be read: its answer is the error.
    pub(super) async fn malformed(&self, params: serde_json::Value) -> Result<()> {
        let code = params.get("code").and_then(serde_json::Value::as_i64);
        Err(match code {
            Some(-32_600) => Error::invalid_request(),
            _ => Error::parse_error(),
        })
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

    async fn hover(&self, params: HoverParams) -> Result<Option<Hover>> {
        let at = params.text_document_position_params;
        self.ask("textDocument/hover", move |state| {
            let markdown = state.client.markdown_hover;
            let sight = state.see(&at.text_document.uri)?;
            Ok(hover::hover(&sight, at.position, markdown))
        })
        .await
    }

    async fn completion(&self, params: CompletionParams) -> Result<Option<CompletionResponse>> {
        let at = params.text_document_position;
        self.ask("textDocument/completion", move |state| {
            state.settle();
            let file = state.open_file(&at.text_document.uri)?;
            let near = state.desk.names_near(file);
            let client = state.client.clone();
            let sight = state.see(&at.text_document.uri)?;
            let offered = completion::complete(&sight, &near, at.position, &client);
            Ok(Some(offered))
        })
        .await
    }

    async fn completion_resolve(&self, item: CompletionItem) -> Result<CompletionItem> {
        self.ask("completionItem/resolve", move |state| {
            Ok(completion::resolve(item, state.client.markdown_completion))
        })
        .await
    }

    async fn signature_help(&self, params: SignatureHelpParams) -> Result<Option<SignatureHelp>> {
        let at = params.text_document_position_params;
        self.ask("textDocument/signatureHelp", move |state| {
            let sight = state.see(&at.text_document.uri)?;
            Ok(signature::help(&sight, at.position))
        })
        .await
    }

    async fn goto_definition(
        &self,
        params: GotoDefinitionParams,
    ) -> Result<Option<GotoDefinitionResponse>> {
        let at = params.text_document_position_params;
        self.ask("textDocument/definition", move |state| {
            documents::need_copies(state);
            let sight = state.see(&at.text_document.uri)?;
            let found = navigation::definition(&sight, at.position);
            Ok(found.map(GotoDefinitionResponse::Scalar))
        })
        .await
    }

    async fn goto_type_definition(
        &self,
        params: request::GotoTypeDefinitionParams,
    ) -> Result<Option<request::GotoTypeDefinitionResponse>> {
        let at = params.text_document_position_params;
        self.ask("textDocument/typeDefinition", move |state| {
            documents::need_copies(state);
            let sight = state.see(&at.text_document.uri)?;
            let found = navigation::type_definition(&sight, at.position);
            Ok(found.map(GotoDefinitionResponse::Scalar))
        })
        .await
    }

    async fn references(&self, params: ReferenceParams) -> Result<Option<Vec<Location>>> {
        let at = params.text_document_position;
        let declaration = params.context.include_declaration;
        self.ask("textDocument/references", move |state| {
            let sight = state.see(&at.text_document.uri)?;
            Ok(navigation::references(&sight, at.position, declaration))
        })
        .await
    }

    async fn document_highlight(
        &self,
        params: DocumentHighlightParams,
    ) -> Result<Option<Vec<DocumentHighlight>>> {
        let at = params.text_document_position_params;
        self.ask("textDocument/documentHighlight", move |state| {
            let sight = state.see(&at.text_document.uri)?;
            Ok(navigation::highlight(&sight, at.position))
        })
        .await
    }

    async fn prepare_rename(
        &self,
        params: TextDocumentPositionParams,
    ) -> Result<Option<PrepareRenameResponse>> {
        self.ask("textDocument/prepareRename", move |state| {
            let sight = state.see(&params.text_document.uri)?;
            rename::prepare(&sight, params.position)
                .map(Some)
                .map_err(refused)
        })
        .await
    }

    async fn rename(&self, params: RenameParams) -> Result<Option<WorkspaceEdit>> {
        let at = params.text_document_position;
        self.ask("textDocument/rename", move |state| {
            state.settle();
            let versions = state.client.document_changes;
            let file = state.open_file(&at.text_document.uri)?;
            let sight = state
                .sight(file)
                .ok_or_else(|| refused("the document is gone".to_owned()))?;
            let version = |file| state.version(file);
            rename::rename(&sight, at.position, &params.new_name, versions, &version)
                .map(Some)
                .map_err(refused)
        })
        .await
    }

    async fn document_symbol(
        &self,
        params: DocumentSymbolParams,
    ) -> Result<Option<DocumentSymbolResponse>> {
        self.ask("textDocument/documentSymbol", move |state| {
            let nested = state.client.nested_symbols;
            let sight = state.see(&params.text_document.uri)?;
            let mut outline = symbols::outline(&sight);
            outline.extend(symbols::not_begun(&sight));
            Ok(Some(match nested {
                true => DocumentSymbolResponse::Nested(outline),
                false => DocumentSymbolResponse::Flat(symbols::flat(&sight, outline)),
            }))
        })
        .await
    }

    async fn symbol(
        &self,
        params: WorkspaceSymbolParams,
    ) -> Result<Option<Vec<SymbolInformation>>> {
        self.ask("workspace/symbol", move |state| {
            state.settle();
            let mut found = Vec::new();
            for file in state.desk.looked_after() {
                if let Some(sight) = state.sight(file) {
                    symbols::workspace(&sight, &params.query, &mut found);
                }
            }
            Ok(Some(found))
        })
        .await
    }

    async fn folding_range(&self, params: FoldingRangeParams) -> Result<Option<Vec<FoldingRange>>> {
        self.ask("textDocument/foldingRange", move |state| {
            let sight = state.see(&params.text_document.uri)?;
            Ok(Some(shape::folding(&sight)))
        })
        .await
    }

    async fn selection_range(
        &self,
        params: SelectionRangeParams,
    ) -> Result<Option<Vec<SelectionRange>>> {
        self.ask("textDocument/selectionRange", move |state| {
            let sight = state.see(&params.text_document.uri)?;
            let positions = params.positions.into_iter();
            Ok(Some(
                positions.map(|at| shape::selection(&sight, at)).collect(),
            ))
        })
        .await
    }

    async fn document_link(&self, params: DocumentLinkParams) -> Result<Option<Vec<DocumentLink>>> {
        self.ask("textDocument/documentLink", move |state| {
            documents::need_copies(state);
            let sight = state.see(&params.text_document.uri)?;
            Ok(Some(shape::links(&sight)))
        })
        .await
    }

    async fn prepare_call_hierarchy(
        &self,
        params: CallHierarchyPrepareParams,
    ) -> Result<Option<Vec<CallHierarchyItem>>> {
        let at = params.text_document_position_params;
        self.ask("textDocument/prepareCallHierarchy", move |state| {
            documents::need_copies(state);
            let sight = state.see(&at.text_document.uri)?;
            Ok(calls::prepare(&sight, at.position))
        })
        .await
    }

    async fn incoming_calls(
        &self,
        params: CallHierarchyIncomingCallsParams,
    ) -> Result<Option<Vec<CallHierarchyIncomingCall>>> {
        self.ask("callHierarchy/incomingCalls", move |state| {
            let sight = state.see(&asked(&params.item))?;
            Ok(calls::incoming(&sight, params.item.data.as_ref()))
        })
        .await
    }

    async fn outgoing_calls(
        &self,
        params: CallHierarchyOutgoingCallsParams,
    ) -> Result<Option<Vec<CallHierarchyOutgoingCall>>> {
        self.ask("callHierarchy/outgoingCalls", move |state| {
            let sight = state.see(&asked(&params.item))?;
            Ok(calls::outgoing(&sight, params.item.data.as_ref()))
        })
        .await
    }

    async fn inlay_hint(&self, params: InlayHintParams) -> Result<Option<Vec<InlayHint>>> {
        self.ask("textDocument/inlayHint", move |state| {
            let settings = state.settings.inlay_hints;
            let sight = state.see(&params.text_document.uri)?;
            Ok(hints::hints(&sight, params.range, settings))
        })
        .await
    }

    async fn inlay_hint_resolve(&self, hint: InlayHint) -> Result<InlayHint> {
        self.ask("inlayHint/resolve", move |state| {
            let of = |key: &str| hint.data.as_ref()?.get(key).cloned();
            let url = of("uri").and_then(|url| serde_json::from_value::<Url>(url).ok());
            let offset = of("offset").and_then(|offset| offset.as_u64());
            let (Some(url), Some(offset)) = (url, offset) else {
                return Ok(hint);
            };
            let sight = state.see(&url)?;
            let offset = u32::try_from(offset).unwrap_or(u32::MAX);
            Ok(hints::resolve(&sight, hint, offset))
        })
        .await
    }

    async fn code_lens(&self, params: CodeLensParams) -> Result<Option<Vec<CodeLens>>> {
        self.ask("textDocument/codeLens", move |state| {
            if !state.settings.code_lens {
                return Ok(None);
            }
            let sight = state.see(&params.text_document.uri)?;
            Ok(Some(lenses::lenses(&sight)))
        })
        .await
    }

    async fn semantic_tokens_full(
        &self,
        params: SemanticTokensParams,
    ) -> Result<Option<SemanticTokensResult>> {
        self.ask("textDocument/semanticTokens/full", move |state| {
            let told = colours(state, &params.text_document.uri)?;
            Ok(Some(SemanticTokensResult::Tokens(SemanticTokens {
                result_id: Some(told.id),
                data: told.tokens,
            })))
        })
        .await
    }

    async fn semantic_tokens_full_delta(
        &self,
        params: SemanticTokensDeltaParams,
    ) -> Result<Option<SemanticTokensFullDeltaResult>> {
        self.ask("textDocument/semanticTokens/full/delta", move |state| {
            let uri = &params.text_document.uri;
            let file = state.open_file(uri)?;
            let before = state.tokens.get(&file).cloned();
            let told = colours(state, uri)?;
            let before = before.filter(|before| before.id == params.previous_result_id);
            Ok(Some(match before {
                Some(before) => SemanticTokensFullDeltaResult::TokensDelta(SemanticTokensDelta {
                    result_id: Some(told.id),
                    edits: tokens::delta(&before.tokens, &told.tokens),
                }),
                None => SemanticTokensFullDeltaResult::Tokens(SemanticTokens {
                    result_id: Some(told.id),
                    data: told.tokens,
                }),
            }))
        })
        .await
    }

    async fn semantic_tokens_range(
        &self,
        params: SemanticTokensRangeParams,
    ) -> Result<Option<SemanticTokensRangeResult>> {
        self.ask("textDocument/semanticTokens/range", move |state| {
            let sight = state.see(&params.text_document.uri)?;
            let part = sight.span(params.range);
            Ok(Some(SemanticTokensRangeResult::Tokens(SemanticTokens {
                result_id: None,
                data: tokens::tokens(&sight, Some(part)),
            })))
        })
        .await
    }

    async fn formatting(&self, params: DocumentFormattingParams) -> Result<Option<Vec<TextEdit>>> {
        self.ask("textDocument/formatting", move |state| {
            let sight = see_text(state, &params.text_document.uri)?;
            layout::document(&sight).map_err(not_laid_out)
        })
        .await
    }

    async fn range_formatting(
        &self,
        params: DocumentRangeFormattingParams,
    ) -> Result<Option<Vec<TextEdit>>> {
        self.ask("textDocument/rangeFormatting", move |state| {
            let sight = see_text(state, &params.text_document.uri)?;
            layout::range(&sight, params.range).map_err(not_laid_out)
        })
        .await
    }

    async fn on_type_formatting(
        &self,
        params: DocumentOnTypeFormattingParams,
    ) -> Result<Option<Vec<TextEdit>>> {
        let at = params.text_document_position;
        self.ask("textDocument/onTypeFormatting", move |state| {
            let sight = see_text(state, &at.text_document.uri)?;
            layout::typed(&sight, at.position, &params.ch).map_err(not_laid_out)
        })
        .await
    }

    async fn code_action(&self, params: CodeActionParams) -> Result<Option<CodeActionResponse>> {
        self.ask("textDocument/codeAction", move |state| {
            state.settle();
            let file = state.open_file(&params.text_document.uri)?;
            let only = params.context.only.as_deref();
            Ok(Some(actions::actions(state, file, params.range, only)))
        })
        .await
    }
}

/// A document as it was typed last, judged or not: its layout hangs on nothing else.
fn see_text<'s>(state: &'s mut State, uri: &Url) -> Result<Sight<'s>> {
    state.share();
    let file = state.open_file(uri)?;
    state
        .sight(file)
        .ok_or_else(|| refused("the document is gone".to_owned()))
}

/// A fault of the formatter: nothing is changed then.
fn not_laid_out(unlike: Unlike) -> Error {
    refused(format!(
        "internal error: {unlike}, so nothing was changed; please report it together with this file"
    ))
}

/// A request that is understood and cannot be done, with the reason.
fn refused(message: String) -> Error {
    Error {
        code: ErrorCode::ServerError(REQUEST_FAILED),
        message: message.into(),
        data: None,
    }
}

/// The document from which a hierarchy was asked for: names are read against its plan.
fn asked(item: &CallHierarchyItem) -> Url {
    let own = item
        .data
        .as_ref()
        .and_then(|data| data.get("asked").cloned());
    let own = own.and_then(|url| serde_json::from_value(url).ok());
    own.unwrap_or_else(|| item.uri.clone())
}

/// The tokens of a document, kept for the next delta.
fn colours(state: &mut State, uri: &Url) -> Result<tokens::Told> {
    let sight = state.see(uri)?;
    let file = sight.file;
    let tokens = tokens::tokens(&sight, None);
    let number = state
        .tokens
        .get(&file)
        .and_then(|told| told.id.parse::<u64>().ok())
        .map_or(1, |number| number + 1);
    let told = tokens::Told {
        id: number.to_string(),
        tokens,
    };
    state.tokens.insert(file, told.clone());
    Ok(told)
}
