//! What stands behind a reading at a glance: what is allowed, how far off it is, what is calculated from it.

use super::reading;
use super::settings::InlayHints;
use super::sight::Sight;
use crate::syntax::NodeKind;
use crate::text::Span;
use crate::verdict::{Glance, with_glances};
use serde_json::json;
use tower_lsp::lsp_types::{
    InlayHint, InlayHintLabel, InlayHintTooltip, MarkupContent, MarkupKind, Range,
};

/// The hints in a range. Cells of a table have none but in their tooltip: they would push the columns apart.
pub(super) fn hints(
    sight: &Sight<'_>,
    range: Range,
    settings: InlayHints,
) -> Option<Vec<InlayHint>> {
    let unit = sight.desk.unit(sight.file)?;
    let (plan, record) = (unit.plan?, unit.record?);
    let span = sight.span(range);
    let readings: Vec<_> = reading::within(sight, record, span)
        .into_iter()
        .filter(|at| at.last_round && !in_row(sight, at.entry.place.span))
        .collect();
    Some(with_glances(
        plan,
        record,
        sight.file,
        sight.desk.sources(),
        |glances| {
            readings
                .iter()
                .filter_map(|at| {
                    let glance = glances.reading(at.id, at.slot);
                    let span = at.entry.place.span;
                    // What is neither a value nor kept open has a finding of its own.
                    if glance.written.is_none() && sight.source.slice(span) != "?" {
                        return None;
                    }
                    let label = label(&glance, settings)?;
                    Some(InlayHint {
                        position: sight.position(span.end),
                        label: InlayHintLabel::String(label),
                        kind: None,
                        text_edits: None,
                        tooltip: None,
                        padding_left: Some(true),
                        padding_right: Some(true),
                        data: sight
                            .url(sight.file)
                            .map(|url| json!({ "uri": url, "offset": span.start })),
                    })
                })
                .collect()
        },
    ))
}

fn in_row(sight: &Sight<'_>, span: Span) -> bool {
    let nodes = sight.nodes_at(span.start);
    nodes
        .iter()
        .any(|node| sight.tree.kind(*node) == NodeKind::Row)
}

/// The words of a hint; nothing where there is nothing to say.
fn label(glance: &Glance, settings: InlayHints) -> Option<String> {
    let mut words = Vec::new();
    if settings.range {
        words.extend(
            glance
                .limits
                .iter()
                .filter_map(|limit| limit.allowed.clone())
                // That what stands there is what is wanted says nothing new.
                .filter(|allowed| glance.written.as_ref() != Some(allowed))
                .take(2),
        );
    }
    if settings.deviation {
        words.extend(glance.deviation.clone());
        words.extend(
            glance
                .derived
                .iter()
                .take(2)
                .map(|(name, value)| format!("{name} {value}")),
        );
    }
    if settings.corrected {
        words.extend(
            glance
                .corrected
                .iter()
                .take(2)
                .map(|(name, value)| format!("{name} {value}")),
        );
    }
    if settings.margin {
        let margins = glance
            .limits
            .iter()
            .filter_map(|limit| limit.margin.as_ref());
        words.extend(margins.take(1).map(|margin| format!("margin {margin}")));
    }
    (!words.is_empty()).then(|| words.join(" · "))
}

/// Adds what is told on request.
pub(super) fn resolve(sight: &Sight<'_>, mut hint: InlayHint, offset: u32) -> InlayHint {
    let position = sight.position(offset);
    if let Some(hover) = super::hover::hover(sight, position, true)
        && let tower_lsp::lsp_types::HoverContents::Markup(markup) = hover.contents
    {
        hint.tooltip = Some(InlayHintTooltip::MarkupContent(MarkupContent {
            kind: MarkupKind::Markdown,
            value: markup.value,
        }));
    }
    hint
}
