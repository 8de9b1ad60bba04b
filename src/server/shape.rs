//! The shape of a text: what folds, what belongs together when a selection grows, which texts are links.

use super::sight::Sight;
use super::symbols::trimmed;
use crate::syntax::{NodeId, NodeKind, TokenKind};
use crate::text::Span;
use tower_lsp::lsp_types::{
    DocumentLink, FoldingRange, FoldingRangeKind, Position, SelectionRange, Url,
};

/// What folds: every statement with something below it, and every run of comment lines.
pub(super) fn folding(sight: &Sight<'_>) -> Vec<FoldingRange> {
    let tree = sight.tree;
    let mut ranges = Vec::new();
    let mut waiting: Vec<NodeId> = tree.children(tree.root()).collect();
    while let Some(node) = waiting.pop() {
        if tree.node(node).last > tree.node(node).head {
            waiting.extend(tree.children(node));
        }
        let span = trimmed(sight, tree.outline_span(node));
        let (first, last) = (
            sight.position(span.start).line,
            sight.position(span.end).line,
        );
        if last > first {
            ranges.push(range(first, last, None));
        }
    }
    comments(sight, &mut ranges);
    ranges.sort_by_key(|range| (range.start_line, std::cmp::Reverse(range.end_line)));
    ranges.dedup_by_key(|range| (range.start_line, range.end_line));
    ranges
}

fn range(start_line: u32, end_line: u32, kind: Option<FoldingRangeKind>) -> FoldingRange {
    FoldingRange {
        start_line,
        start_character: None,
        end_line,
        end_character: None,
        kind,
        collapsed_text: None,
    }
}

fn comments(sight: &Sight<'_>, ranges: &mut Vec<FoldingRange>) {
    let tree = sight.tree;
    let mut run: Option<(u32, u32)> = None;
    for (index, token) in tree.tokens().iter().enumerate() {
        if token.kind != TokenKind::Comment {
            continue;
        }
        let start = tree.token_start(index);
        let (line, text) = sight.line(start);
        if !text.trim_start().starts_with('#') {
            continue;
        }
        let line = line as u32;
        run = match run {
            Some((first, last)) if last + 1 == line => Some((first, line)),
            other => {
                finish(other, ranges);
                Some((line, line))
            }
        };
    }
    finish(run, ranges);
}

fn finish(run: Option<(u32, u32)>, ranges: &mut Vec<FoldingRange>) {
    if let Some((first, last)) = run.filter(|(first, last)| last > first) {
        ranges.push(range(first, last, Some(FoldingRangeKind::Comment)));
    }
}

/// The spans that a selection grows through, from the word at a position to the document.
pub(super) fn selection(sight: &Sight<'_>, position: Position) -> SelectionRange {
    let offset = sight.offset(position);
    let tree = sight.tree;
    let whole = Span::new(0, sight.source.text.len() as u32);
    let mut spans = vec![whole];
    let mut add = |span: Span| {
        let last = spans[spans.len() - 1];
        if span != last && span.start >= last.start && span.end <= last.end && !span.is_empty() {
            spans.push(span);
        }
    };
    for node in sight.nodes_at(offset) {
        add(trimmed(sight, tree.outline_span(node)));
        let own = trimmed(sight, tree.span(node));
        // Below a statement its own line is not around the place.
        if own.start <= offset && offset <= own.end {
            add(own);
        }
    }
    let token = tree.tokens().partition_point(|token| token.end <= offset);
    if token < tree.tokens().len() && !tree.tokens()[token].kind.is_trivia() {
        add(tree.token_span(token));
    }
    let mut range = SelectionRange {
        range: sight.range(whole),
        parent: None,
    };
    for span in spans.into_iter().skip(1) {
        range = SelectionRange {
            range: sight.range(span),
            parent: Some(Box::new(range)),
        };
    }
    range
}

/// What leads to another document: the plan, what it extends, the register, logs and attachments.
pub(super) fn links(sight: &Sight<'_>) -> Vec<DocumentLink> {
    let tree = sight.tree;
    let mut links = Vec::new();
    for index in 0..tree.len() as u32 {
        let node = NodeId(index);
        let part = match tree.kind(node) {
            NodeKind::PlanChoice | NodeKind::RegisterChoice | NodeKind::Extends => {
                tree.child(node, NodeKind::Name)
            }
            NodeKind::Attach | NodeKind::Log => tree.child(node, NodeKind::TextPart),
            _ => None,
        };
        let Some(part) = part else { continue };
        let target = match tree.kind(part) {
            NodeKind::Name => super::meaning::of_node(sight, part, tree.span(part).start)
                .and_then(|(meaning, _)| sight.url(meaning.declared?.file)),
            _ => file(sight, &tree.unquoted(part)),
        };
        if let Some(target) = target {
            links.push(DocumentLink {
                range: sight.range(tree.span(part)),
                target: Some(target),
                tooltip: None,
                data: None,
            });
        }
    }
    links
}

/// The address of a file that a record names, where it lies inside the workspace.
fn file(sight: &Sight<'_>, name: &str) -> Option<Url> {
    let path = sight.desk.named_file(sight.file, name)?;
    Url::from_file_path(path).ok()
}
