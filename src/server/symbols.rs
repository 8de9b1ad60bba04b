//! The outline of a document and the names of the workspace.

use super::sight::Sight;
use crate::finding::{StageState, StageSummary};
use crate::syntax::{NodeId, NodeKind};
use crate::text::Span;
use tower_lsp::lsp_types::{DocumentSymbol, Location, SymbolInformation, SymbolKind};

/// At most so many names of the workspace are given at once.
const MOST: usize = 500;

/// How a stage stands, in a few words.
pub(super) fn standing(stage: &StageSummary) -> String {
    let counts = &stage.counts;
    let state = match stage.state {
        StageState::NotApplicable => return "does not apply".to_owned(),
        StageState::NotStarted => "not started",
        StageState::InProgress => "in progress",
        StageState::Complete => "complete",
    };
    let mut words = vec![state.to_owned(), format!("{} recorded", counts.recorded)];
    for (count, word) in [
        (counts.pending, "pending"),
        (counts.missing, "missing"),
        (counts.failing, "failing"),
        (counts.conceded, "conceded"),
    ] {
        if count > 0 {
            words.push(format!("{count} {word}"));
        }
    }
    words.join(", ")
}

/// The outline of a document.
pub(super) fn outline(sight: &Sight<'_>) -> Vec<DocumentSymbol> {
    let root = sight.tree.root();
    sight
        .tree
        .children(root)
        .filter_map(|node| symbol(sight, node))
        .collect()
}

/// The stages of a record that have no line yet, in the order of the plan. They stand behind the last line, where the
/// next one will be written. A stage that does not apply to the unit is not among them.
pub(super) fn not_begun(sight: &Sight<'_>) -> Vec<DocumentSymbol> {
    let unit = sight.desk.unit(sight.file);
    let bound = unit.and_then(|unit| Some((unit.plan?, unit.record?, unit.summary?)));
    let Some((plan, record, summary)) = bound else {
        return Vec::new();
    };
    let end = sight.source.text.len() as u32;
    let range = sight.range(Span::new(end, end));
    let open = |stage: &&StageSummary| {
        let id = plan.stage_by_name.get(&*stage.name);
        stage.state == StageState::NotStarted
            && id.is_some_and(|id| record.stages[id.index()].is_empty())
    };
    let stages = summary.stages.iter().filter(open);
    stages
        .map(|stage| {
            #[allow(deprecated, reason = "the type has a field that is no longer used")]
            DocumentSymbol {
                name: format!("stage {}", stage.name),
                detail: Some(standing(stage)),
                kind: SymbolKind::MODULE,
                tags: None,
                deprecated: None,
                range,
                selection_range: range,
                children: None,
            }
        })
        .collect()
}

fn symbol(sight: &Sight<'_>, node: NodeId) -> Option<DocumentSymbol> {
    let tree = sight.tree;
    let kind = symbol_kind(tree.kind(node))?;
    let line = trimmed(sight, tree.span(node));
    let text = sight.source.slice(line);
    let name_span = name(sight, node).unwrap_or(line);
    let word = text.split_whitespace().next().unwrap_or_default();
    let own = sight.source.slice(name_span);
    let name = match tree.kind(node) {
        NodeKind::DesignValue | NodeKind::Reading | NodeKind::Person | NodeKind::Instrument => {
            own.to_owned()
        }
        _ if name_span == line => text.lines().next().unwrap_or(word).to_owned(),
        _ => format!("{word} {own}"),
    };
    if name.trim().is_empty() {
        return None;
    }
    let children: Vec<DocumentSymbol> = tree
        .children(node)
        .filter_map(|child| symbol(sight, child))
        .collect();
    #[allow(deprecated, reason = "the type has a field that is no longer used")]
    Some(DocumentSymbol {
        name,
        detail: detail(sight, node),
        kind,
        tags: None,
        deprecated: None,
        range: sight.range(trimmed(sight, tree.outline_span(node))),
        selection_range: sight.range(name_span),
        children: (!children.is_empty()).then_some(children),
    })
}

/// A span without the blanks and line ends behind it.
pub(super) fn trimmed(sight: &Sight<'_>, span: Span) -> Span {
    let text = sight.source.slice(span);
    Span::new(span.start, span.start + text.trim_end().len() as u32)
}

/// Where the name of a statement stands.
fn name(sight: &Sight<'_>, node: NodeId) -> Option<Span> {
    let tree = sight.tree;
    let part = tree.children(node).find(|child| {
        matches!(
            tree.kind(*child),
            NodeKind::Name | NodeKind::Path | NodeKind::Declared | NodeKind::DeclaredValue
        )
    })?;
    Some(tree.span(part))
}

fn symbol_kind(kind: NodeKind) -> Option<SymbolKind> {
    Some(match kind {
        NodeKind::Plan | NodeKind::Register | NodeKind::Unit => SymbolKind::FILE,
        NodeKind::StagePlan | NodeKind::StageRecord | NodeKind::Add => SymbolKind::MODULE,
        NodeKind::Design | NodeKind::DesignPlan => SymbolKind::STRUCT,
        NodeKind::Need | NodeKind::May | NodeKind::DesignValue => SymbolKind::PROPERTY,
        NodeKind::ReadingPlan | NodeKind::Reading => SymbolKind::FIELD,
        NodeKind::Table | NodeKind::Log | NodeKind::LogPlan => SymbolKind::ARRAY,
        NodeKind::Calc => SymbolKind::FUNCTION,
        NodeKind::Check => SymbolKind::METHOD,
        NodeKind::Hold | NodeKind::Witness | NodeKind::Review => SymbolKind::EVENT,
        NodeKind::Release
        | NodeKind::Witnessed
        | NodeKind::Waived
        | NodeKind::Reviewed
        | NodeKind::Notified
        | NodeKind::Amend => SymbolKind::EVENT,
        NodeKind::Nonconformity => SymbolKind::OBJECT,
        NodeKind::Set => SymbolKind::ENUM,
        NodeKind::Role => SymbolKind::KEY,
        NodeKind::Person => SymbolKind::CLASS,
        NodeKind::Instrument => SymbolKind::CONSTANT,
        NodeKind::Tighten | NodeKind::Relax | NodeKind::Drop => SymbolKind::OPERATOR,
        _ => return None,
    })
}

/// The state of a stage, the title of what has one, the value of a reading.
fn detail(sight: &Sight<'_>, node: NodeId) -> Option<String> {
    let tree = sight.tree;
    let title = || {
        let text = tree.child(node, NodeKind::TextPart)?;
        Some(tree.unquoted(text))
    };
    match tree.kind(node) {
        NodeKind::StageRecord => {
            let name = tree.text_of(tree.child(node, NodeKind::Name)?);
            let summary = sight.desk.unit(sight.file)?.summary?;
            let stage = summary.stages.iter().find(|stage| *stage.name == *name)?;
            Some(standing(stage))
        }
        NodeKind::Reading | NodeKind::DesignValue => {
            let (_, value) = tree.text_of(node).split_once('=')?;
            Some(value.trim().lines().next()?.to_owned())
        }
        NodeKind::ReadingPlan | NodeKind::Need | NodeKind::May => {
            let kind = tree.child(node, NodeKind::Kind)?;
            Some(tree.text_of(kind).to_owned())
        }
        _ => title(),
    }
}

/// The outline without its levels, for clients that know none.
pub(super) fn flat(sight: &Sight<'_>, symbols: Vec<DocumentSymbol>) -> Vec<SymbolInformation> {
    let Some(url) = sight.url(sight.file) else {
        return Vec::new();
    };
    let mut out = Vec::new();
    let mut waiting: Vec<(DocumentSymbol, Option<String>)> = symbols
        .into_iter()
        .rev()
        .map(|symbol| (symbol, None))
        .collect();
    while let Some((symbol, above)) = waiting.pop() {
        for child in symbol.children.into_iter().flatten().rev() {
            waiting.push((child, Some(symbol.name.clone())));
        }
        #[allow(deprecated, reason = "the type has a field that is no longer used")]
        out.push(SymbolInformation {
            name: symbol.name,
            kind: symbol.kind,
            tags: None,
            deprecated: None,
            location: Location::new(url.clone(), symbol.range),
            container_name: above,
        });
    }
    out
}

/// Names of all documents that hold the letters of `query` in their order.
pub(super) fn workspace(sight: &Sight<'_>, query: &str, out: &mut Vec<SymbolInformation>) {
    if out.len() >= MOST {
        return;
    }
    let wanted: Vec<char> = query.to_lowercase().chars().collect();
    let names = flat(sight, outline(sight));
    let good = names.into_iter().filter(|symbol| {
        // Values of a record are found in it; the workspace is searched for what is declared.
        symbol.kind != SymbolKind::FIELD && symbol.kind != SymbolKind::PROPERTY
            || crate::syntax::DocumentKind::Plan == sight.tree.document
    });
    let good = good.filter(|symbol| holds(&symbol.name, &wanted));
    out.extend(good.take(MOST - out.len()));
}

fn holds(name: &str, wanted: &[char]) -> bool {
    let mut left = wanted.iter();
    let mut next = left.next();
    for character in name.chars().flat_map(char::to_lowercase) {
        if next == Some(&character) {
            next = left.next();
        }
    }
    next.is_none()
}

#[cfg(test)]
mod tests {
    #[test]
    fn letters_are_found_in_their_order() {
        let holds =
            |name: &str, query: &str| super::holds(name, &query.chars().collect::<Vec<_>>());
        assert!(holds("stage winding", "swind") && holds("stage winding", ""));
        assert!(!holds("stage winding", "gnidniw"));
    }
}
