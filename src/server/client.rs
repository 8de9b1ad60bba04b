//! What the client can do, as far as it matters.

use crate::text::ColumnUnit;
use serde_json::Value;
use tower_lsp::lsp_types::{
    CodeActionKind, InitializeParams, InsertTextMode, MarkupKind, PositionEncodingKind, TraceValue,
};

/// What the client can do.
#[derive(Clone, Debug, Default)]
pub(super) struct ClientAbilities {
    /// It pulls diagnostics; then none are pushed.
    pub pulls: bool,
    /// It can be asked to pull again.
    pub refreshes_diagnostics: bool,
    pub refreshes_hints: bool,
    pub refreshes_lenses: bool,
    pub related_information: bool,
    pub tags: bool,
    pub code_description: bool,
    pub diagnostic_data: bool,
    pub markdown_hover: bool,
    pub markdown_completion: bool,
    pub snippets: bool,
    /// It can be told to insert a completion as it stands, without indentation of its own.
    pub inserts_as_is: bool,
    pub nested_symbols: bool,
    pub literal_actions: bool,
    /// It shows an action that cannot be done, with the reason.
    pub disabled_actions: bool,
    pub document_changes: bool,
    pub configuration: bool,
    pub registers_configuration: bool,
    pub registers_watching: bool,
    pub progress: bool,
    /// It opens `stagebook:` documents by asking for their text.
    pub opens_own_documents: bool,
}

impl ClientAbilities {
    /// Reads them from what the client said of itself.
    pub(super) fn of(params: &InitializeParams) -> ClientAbilities {
        let all = &params.capabilities;
        let workspace = all.workspace.as_ref();
        let text = all.text_document.as_ref();
        let published = text.and_then(|text| text.publish_diagnostics.as_ref());
        let action = text.and_then(|text| text.code_action.as_ref());
        let literal = action.and_then(|action| action.code_action_literal_support.as_ref());
        let markdown = |kinds: Option<&Vec<MarkupKind>>| {
            kinds.is_some_and(|kinds| kinds.contains(&MarkupKind::Markdown))
        };
        let hover = text.and_then(|text| text.hover.as_ref());
        let item = text
            .and_then(|text| text.completion.as_ref())
            .and_then(|completion| completion.completion_item.as_ref());
        let yes = |flag: Option<bool>| flag == Some(true);
        ClientAbilities {
            pulls: text.is_some_and(|text| text.diagnostic.is_some()),
            refreshes_diagnostics: yes(
                workspace.and_then(|own| own.diagnostic.as_ref()?.refresh_support)
            ),
            refreshes_hints: yes(workspace.and_then(|own| own.inlay_hint.as_ref()?.refresh_support)),
            refreshes_lenses: yes(workspace.and_then(|own| own.code_lens.as_ref()?.refresh_support)),
            related_information: yes(published.and_then(|own| own.related_information)),
            tags: published.is_some_and(|own| own.tag_support.is_some()),
            code_description: yes(published.and_then(|own| own.code_description_support)),
            diagnostic_data: yes(published.and_then(|own| own.data_support)),
            markdown_hover: markdown(hover.and_then(|hover| hover.content_format.as_ref())),
            markdown_completion: markdown(item.and_then(|item| item.documentation_format.as_ref())),
            snippets: yes(item.and_then(|item| item.snippet_support)),
            inserts_as_is: item
                .and_then(|item| item.insert_text_mode_support.as_ref())
                .is_some_and(|own| own.value_set.contains(&InsertTextMode::AS_IS)),
            nested_symbols: yes(text.and_then(|text| {
                text.document_symbol
                    .as_ref()?
                    .hierarchical_document_symbol_support
            })),
            literal_actions: literal.is_some_and(|literal| {
                let kinds = &literal.code_action_kind.value_set;
                kinds.is_empty()
                    || kinds
                        .iter()
                        .any(|kind| kind == CodeActionKind::QUICKFIX.as_str())
            }),
            disabled_actions: yes(action.and_then(|action| action.disabled_support)),
            document_changes: yes(
                workspace.and_then(|own| own.workspace_edit.as_ref()?.document_changes)
            ),
            configuration: yes(workspace.and_then(|own| own.configuration)),
            registers_configuration: yes(workspace
                .and_then(|own| own.did_change_configuration.as_ref()?.dynamic_registration)),
            registers_watching: yes(workspace
                .and_then(|own| own.did_change_watched_files.as_ref()?.dynamic_registration)),
            progress: yes(all.window.as_ref().and_then(|own| own.work_done_progress)),
            opens_own_documents: params
                .initialization_options
                .as_ref()
                .and_then(|options| options.get("documents"))
                == Some(&Value::Bool(true)),
        }
    }
}

/// How positions are counted with this client: bytes where it can, because the texts are UTF-8; else as it likes best;
/// UTF-16 where it says nothing.
pub(super) fn encoding(params: &InitializeParams) -> (ColumnUnit, PositionEncodingKind) {
    let offered = params
        .capabilities
        .general
        .as_ref()
        .and_then(|general| general.position_encodings.as_deref())
        .unwrap_or(&[]);
    if offered.contains(&PositionEncodingKind::UTF8) {
        (ColumnUnit::Utf8, PositionEncodingKind::UTF8)
    } else if offered.first() == Some(&PositionEncodingKind::UTF32) {
        (ColumnUnit::Utf32, PositionEncodingKind::UTF32)
    } else {
        (ColumnUnit::Utf16, PositionEncodingKind::UTF16)
    }
}

/// How much is traced.
pub(super) fn trace(value: Option<TraceValue>) -> Trace {
    match value {
        Some(TraceValue::Messages) => Trace::Messages,
        Some(TraceValue::Verbose) => Trace::Verbose,
        Some(TraceValue::Off) | None => Trace::Off,
    }
}

/// How much is traced.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Trace {
    #[default]
    Off,
    Messages,
    Verbose,
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn params(capabilities: Value) -> InitializeParams {
        serde_json::from_value(
            json!({ "processId": null, "rootUri": null, "capabilities": capabilities }),
        )
        .expect("these are initialize parameters")
    }

    #[test]
    fn bytes_are_taken_where_offered_and_utf_16_is_the_default() {
        let of = |offered: Value| {
            encoding(&params(
                json!({ "general": { "positionEncodings": offered } }),
            ))
            .0
        };
        assert_eq!(encoding(&params(json!({}))).0, ColumnUnit::Utf16);
        assert_eq!(of(json!(["utf-16", "utf-8"])), ColumnUnit::Utf8);
        assert_eq!(of(json!(["utf-32", "utf-16"])), ColumnUnit::Utf32);
        assert_eq!(of(json!(["utf-16", "utf-32"])), ColumnUnit::Utf16);
    }

    #[test]
    fn a_client_that_says_nothing_can_nothing() {
        let abilities = ClientAbilities::of(&params(json!({})));
        assert!(!abilities.pulls && !abilities.snippets && !abilities.progress);
        let pulls = json!({ "textDocument": { "diagnostic": {} } });
        assert!(ClientAbilities::of(&params(pulls)).pulls);
    }
}
