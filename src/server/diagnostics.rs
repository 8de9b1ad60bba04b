//! Findings as diagnostics.

use super::client::ClientAbilities;
use super::settings::Settings;
use super::sight::Sight;
use super::urls::rule_url;
use crate::finding::{Finding, Severity, rules};
use crate::text::Place;
use rustc_hash::FxHasher;
use serde_json::json;
use std::hash::{Hash, Hasher};
use std::sync::Arc;
use tower_lsp::lsp_types::{
    CodeDescription, Diagnostic, DiagnosticRelatedInformation, DiagnosticSeverity, DiagnosticTag,
    NumberOrString,
};

/// At most so many related places of one finding are shown: editors list them above the page of the reading with its
/// limits and margin, and more would push that out of sight. The terminal shows all.
const MOST_RELATED: usize = 6;

/// The diagnostics of one document.
#[derive(Clone, Debug)]
pub(super) struct Report {
    pub items: Arc<Vec<Diagnostic>>,
    /// Equal for equal diagnostics.
    pub id: Arc<str>,
}

impl Report {
    pub(super) fn new(items: Vec<Diagnostic>) -> Report {
        let mut hasher = FxHasher::default();
        for item in &items {
            hash(item, &mut hasher);
        }
        Report {
            id: format!("{:x}-{}", hasher.finish(), items.len()).into(),
            items: Arc::new(items),
        }
    }
}

fn hash(item: &Diagnostic, hasher: &mut FxHasher) {
    let position = |position: tower_lsp::lsp_types::Position| (position.line, position.character);
    let range = |range: tower_lsp::lsp_types::Range| (position(range.start), position(range.end));
    range(item.range).hash(hasher);
    item.message.hash(hasher);
    if let Some(NumberOrString::String(code)) = &item.code {
        code.hash(hasher);
    }
    for related in item.related_information.iter().flatten() {
        related.message.hash(hasher);
        related.location.uri.as_str().hash(hasher);
        range(related.location.range).hash(hasher);
    }
    if let Some(data) = &item.data {
        data.to_string().hash(hasher);
    }
}

/// Whether a finding is shown at all.
pub(super) fn shown(finding: &Finding, settings: &Settings) -> bool {
    (settings.pending || finding.severity != Severity::Pending)
        && (settings.accepted || finding.accepted.is_none())
}

/// One finding as the client shows it.
pub(super) fn diagnostic(
    finding: &Finding,
    sight: &Sight<'_>,
    client: &ClientAbilities,
) -> Diagnostic {
    let severity = match (&finding.accepted, finding.severity) {
        (Some(_), _) | (None, Severity::Pending) => DiagnosticSeverity::HINT,
        (None, Severity::Error) => DiagnosticSeverity::ERROR,
        (None, Severity::Warning) => DiagnosticSeverity::WARNING,
        (None, Severity::Note) => DiagnosticSeverity::INFORMATION,
    };
    let related = client.related_information.then(|| related(finding, sight));
    let description = client
        .code_description
        .then_some(sight.urls.own_documents)
        .filter(|own| *own)
        .and_then(|_| rule_url(finding.rule.name))
        .map(|href| CodeDescription { href });
    Diagnostic {
        range: sight.range(finding.place.span),
        severity: Some(severity),
        code: Some(NumberOrString::String(finding.rule.name.to_owned())),
        code_description: description,
        source: Some("stagebook".to_owned()),
        message: message(finding),
        related_information: related.filter(|related| !related.is_empty()),
        tags: client.tags.then(|| tags(finding)).flatten(),
        data: client
            .diagnostic_data
            .then(|| data(finding, sight))
            .flatten(),
    }
}

/// What was found, what to do next, and who accepted it.
fn message(finding: &Finding) -> String {
    let mut message = finding.message.clone();
    if let Some(accepted) = &finding.accepted {
        message += &format!(
            "\naccepted by {} on {}: {}",
            accepted.by, accepted.on, accepted.because
        );
        return message;
    }
    if let Some(reasoning) = &finding.reasoning {
        if let Some(first) = reasoning.causes.first() {
            message += &format!("\nlikely cause: {first}");
        }
        if let Some(caution) = &reasoning.caution {
            message += &format!("\ncaution: {caution}");
        }
    }
    if let Some(help) = &finding.help {
        message += &format!("\nnext: {help}");
    }
    message
}

/// The other places that belong to it: design value, limit, instrument, hold point, and what went in.
fn related(finding: &Finding, sight: &Sight<'_>) -> Vec<DiagnosticRelatedInformation> {
    let mut seen = vec![finding.place];
    let mut related = Vec::new();
    let mut add = |place: Place, message: String| {
        if seen.contains(&place) || related.len() >= MOST_RELATED {
            return;
        }
        seen.push(place);
        if let Some(location) = sight.location(place) {
            related.push(DiagnosticRelatedInformation { location, message });
        }
    };
    for part in &finding.related {
        add(part.place, part.text.clone());
    }
    for input in finding.reasoning.iter().flat_map(|own| &own.inputs) {
        if let Some(place) = input.place {
            add(place, format!("{} = {}", input.name, input.value));
        }
    }
    if let Some(accepted) = &finding.accepted {
        add(accepted.place, "accepted here".to_owned());
    }
    related
}

/// What says nothing and can be left out is shown as such.
fn tags(finding: &Finding) -> Option<Vec<DiagnosticTag>> {
    let idle = [
        rules::ACCEPT_WITHOUT_FINDING.name,
        rules::CHECK_NEVER_APPLIES.name,
    ];
    idle.contains(&finding.rule.name)
        .then(|| vec![DiagnosticTag::UNNECESSARY])
}

/// The fix, so that a client can offer it without asking.
fn data(finding: &Finding, sight: &Sight<'_>) -> Option<serde_json::Value> {
    let fix = finding.fix.as_ref()?;
    let edits: Vec<_> = fix
        .edits
        .iter()
        .map(|(span, text)| json!({ "range": sight.range(*span), "newText": text }))
        .collect();
    Some(json!({ "fix": { "title": fix.title, "edits": edits } }))
}
