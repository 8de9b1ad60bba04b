//! What a handler sees: one document of a desk, in the client's positions.

use super::urls::Urls;
use crate::quantity::moment::format_day;
use crate::syntax::{NodeId, Tree};
use crate::text::{ColumnUnit, FileId, Place, SourceText, Span};
use crate::workspace::desk::Desk;
use crate::workspace::notation::{sealed_parts, touches_any};
use tower_lsp::lsp_types::{Location, Position, Range, Url};

/// One document as a handler sees it.
#[derive(Clone, Copy)]
pub(super) struct Sight<'a> {
    pub desk: &'a Desk,
    pub urls: &'a Urls,
    pub file: FileId,
    pub source: &'a SourceText,
    pub tree: &'a Tree,
    pub encoding: ColumnUnit,
}

impl<'a> Sight<'a> {
    pub(super) fn new(
        desk: &'a Desk,
        urls: &'a Urls,
        file: FileId,
        encoding: ColumnUnit,
    ) -> Option<Sight<'a>> {
        Some(Sight {
            desk,
            urls,
            file,
            source: desk.source(file)?,
            tree: desk.tree(file)?,
            encoding,
        })
    }

    /// The same with another document before the eyes.
    pub(super) fn of(&self, file: FileId) -> Option<Sight<'a>> {
        Sight::new(self.desk, self.urls, file, self.encoding)
    }

    /// The byte at a position; one out of range is moved to the nearest that is there.
    pub(super) fn offset(&self, position: Position) -> u32 {
        let text = &self.source.text;
        let lines = &self.source.lines;
        lines.offset(text, position.line, position.character, self.encoding)
    }

    pub(super) fn position(&self, offset: u32) -> Position {
        let lines = &self.source.lines;
        let (line, column) = lines.position(&self.source.text, offset, self.encoding);
        Position::new(line, column)
    }

    pub(super) fn range(&self, span: Span) -> Range {
        Range::new(self.position(span.start), self.position(span.end))
    }

    /// The bytes of a range.
    pub(super) fn span(&self, range: Range) -> Span {
        let (start, end) = (self.offset(range.start), self.offset(range.end));
        Span::new(start.min(end), end.max(start))
    }

    /// A place in any document, where the client can open it.
    pub(super) fn location(&self, place: Place) -> Option<Location> {
        let other = self.of(place.file)?;
        Some(Location::new(
            self.url(place.file)?,
            other.range(place.span),
        ))
    }

    /// Whether the document holds a seal.
    pub(super) fn is_sealed(&self) -> bool {
        !sealed_parts(self.tree).is_empty()
    }

    /// Whether a seal holds what stands there: then not even its notation is changed.
    pub(super) fn is_sealed_at(&self, span: Span) -> bool {
        touches_any(&sealed_parts(self.tree), span)
    }

    /// The day to write where one is asked for: today, where it is known.
    pub(super) fn today(&self) -> String {
        let today = self.desk.today(self.file);
        today.map_or_else(|| "DATE".to_owned(), format_day)
    }

    /// Bytes of this document.
    pub(super) fn place(&self, span: Span) -> Place {
        Place {
            file: self.file,
            span,
        }
    }

    pub(super) fn url(&self, file: FileId) -> Option<Url> {
        self.urls.of(self.desk, file)
    }

    /// The innermost node at a byte; of two that meet there the one that begins.
    pub(super) fn node_at(&self, offset: u32) -> NodeId {
        innermost(self.tree, offset)
    }

    /// The nodes from the document down to the innermost at a byte.
    pub(super) fn nodes_at(&self, offset: u32) -> Vec<NodeId> {
        let mut nodes = vec![self.node_at(offset)];
        while let Some(parent) = nodes.last().and_then(|node| self.tree.parent(*node)) {
            nodes.push(parent);
        }
        nodes.reverse();
        nodes
    }

    pub(super) fn text(&self, place: Place) -> &'a str {
        self.desk
            .source(place.file)
            .map_or("", |source| source.slice(place.span))
    }

    /// The line (from 0) of a byte and its text without the line end.
    pub(super) fn line(&self, offset: u32) -> (usize, &'a str) {
        let line = self.source.lines.line_of(offset);
        let start = self.source.lines.start_of(line) as usize;
        let end = self.source.lines.start_of(line + 1) as usize;
        let text = &self.source.text[start..end];
        (line, text.trim_end_matches(['\n', '\r']))
    }
}

fn innermost(tree: &Tree, offset: u32) -> NodeId {
    let mut node = tree.statement_at(offset).unwrap_or(tree.root());
    if !reaches(tree, node, offset) {
        // Behind the end of a statement only those are left that it belongs to.
        while let Some(parent) = tree.parent(node) {
            node = parent;
            if reaches(tree, node, offset) {
                break;
            }
        }
        return node;
    }
    while let Some(child) = child_at(tree, node, offset) {
        node = child;
    }
    node
}

/// Whether a byte lies in a node or at its end.
fn reaches(tree: &Tree, node: NodeId, offset: u32) -> bool {
    let outline = tree.outline_span(node);
    offset < outline.end || (offset == outline.end && !outline.is_empty())
}

/// The child in which a byte lies. A part that ends where another begins gives way to it.
fn child_at(tree: &Tree, node: NodeId, offset: u32) -> Option<NodeId> {
    tree.children(node)
        .take_while(|child| tree.outline_span(*child).start <= offset)
        .filter(|child| reaches(tree, *child, offset))
        .last()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::syntax::parse;

    #[test]
    fn the_innermost_node_is_the_one_found_from_the_root() {
        let text = "unit T-1 \"x\"\n  plan p\n\n# remark\nstage winding\n  on 2026-02-02 by A.B\n\n  table turns\n    \
                    section  U\n    1  110\n\n    2  112 # remark\n  height[1] = 3 mm  at 20 °C\n   broken [\n\n\n\
                    stage drying\n  release H1 by A.B\n    seal \"0\" after nothing\n\n";
        for text in [text, "", "\n\n", "  x", &text.replace('\n', "\r\n")] {
            let tree = parse(text);
            for offset in 0..=text.len() as u32 {
                let mut node = tree.root();
                while let Some(child) = child_at(&tree, node, offset) {
                    node = child;
                }
                assert_eq!(innermost(&tree, offset), node, "at {offset} of {text:?}");
            }
        }
    }
}
