//! Parsing again after a change: lines that did not change keep their tokens and nodes, moved along.
//!
//! The tree comes out as [`parse`](super::parse) would give it for the new text, node for node; where that cannot be
//! had by moving, the whole text is parsed. The parser looks back only to the statements that are still open and
//! forward at most to the next line that has anything on it, so it begins one statement before the changed one and
//! ends at the first line behind the change that belongs below the same statement as before.

use super::cursor::Parser;
use super::fault::{Fault, FaultKind};
use super::nodes::Nodes;
use super::outline::{
    MOST_CONTROLS, MOST_MISPLACED, Open, Outline, parse_document, parser_of, stray_tokens,
};
use super::token::{Token, TokenKind, tokenize_into};
use super::tree::{DocumentKind, NONE, Node, NodeId, NodeKind, Tree, is_statement};
use crate::text::Span;
use std::sync::Arc;

/// What became of the statements between a tree and the one before it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// The bytes that were parsed again, of the text before. They begin and end with lines.
    pub before: Span,
    /// The bytes that stand in their place.
    pub after: Span,
    /// The bytes of the text before that are not there any more or stand elsewhere.
    pub differs: Span,
    /// Nodes below this one are the same in both trees, but for what follows them.
    pub kept: u32,
    /// The statements that stood there, in order.
    pub removed: Vec<Removed>,
    /// The statements that stand there now, in order: nodes of the new tree.
    pub added: Vec<NodeId>,
}

/// A statement that was parsed again.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Removed {
    /// Its number in the tree before.
    pub id: NodeId,
    /// What it was.
    pub kind: NodeKind,
    /// The statement that it stood below, by its number in the tree before.
    pub parent: NodeId,
    /// The bytes of its own line in the text before.
    pub span: Span,
}

/// Parses `text` on the ground of the tree of another text that is much like it. Gives the tree and what changed
/// between the two; no change where all was parsed again.
pub fn reparse(old: Tree, text: Arc<str>) -> (Tree, Option<Change>) {
    match splice(old, &text) {
        Some((tree, change)) => (tree, Some(change)),
        None => (parse_document(text), None),
    }
}

/// Where the new text differs from the old one.
struct Cut {
    /// The bytes of the old text that differ.
    differs: Span,
    /// The last statement before what is parsed again.
    last_kept: NodeId,
    /// First token that is read again; it begins a line.
    first_token: usize,
    /// First token of the old tree behind what must be read again; it begins a line.
    behind: usize,
    /// First byte of the new text behind what must be read again.
    behind_byte: u32,
}

fn splice(old: Tree, text: &Arc<str>) -> Option<(Tree, Change)> {
    if hangs_on_the_whole(&old) {
        return None;
    }
    let cut = cut(&old, text)?;
    let start = old.token_start(cut.first_token);
    let middle = text.get(start as usize..cut.behind_byte as usize)?;
    if has_lone_return(text.as_bytes(), start as usize..cut.behind_byte as usize) {
        return None;
    }
    let Tree {
        mut tokens,
        nodes,
        faults,
        document,
        ..
    } = old;
    let old_behind_byte = i64::from(
        tokens
            .get(cut.behind.wrapping_sub(1))
            .map_or(0, |token| token.end),
    );
    let kept = cut.last_kept.0 + 1;
    let mut fresh = Vec::new();
    tokenize_into(middle, start, &mut fresh);
    let first_behind = cut.first_token + fresh.len();
    let mut shift = Shift {
        kept,
        bytes: i64::from(cut.behind_byte) - old_behind_byte,
        tokens: first_behind as i64 - cut.behind as i64,
        nodes: 0,
    };
    if shift.bytes != 0 {
        for token in &mut tokens[cut.behind..] {
            token.end = moved(token.end, shift.bytes);
        }
    }
    // What is large stays where it is: only what lies between is exchanged.
    let tokens_before = tokens.splice(cut.first_token..cut.behind, fresh).collect();
    let tokens_before = TokensBefore {
        gone: tokens_before,
        first: cut.first_token,
        start,
        shift,
    };
    let nodes = Nodes::behind(nodes, kept as usize);
    let mut parser = parser_of(text, tokens, nodes);
    parser.document = document;
    let (before, behind): (Vec<Fault>, Vec<Fault>) = faults
        .into_iter()
        .partition(|fault| fault.span.start < start);
    parser.misplaced = count(&before, FaultKind::MisplacedStatement);
    let first_fault = before.len();
    parser.faults = before;
    let (mut outline, opened) = open_at(&mut parser, cut.last_kept);
    let mut search = Search {
        opened: &opened,
        shift,
        first_behind,
        passed: false,
        at: 0,
    };
    let stopped = outline.lines(
        &mut parser,
        cut.first_token,
        |outline, parser, first, indent| search.meets(outline, parser, first, indent),
    );
    let found = search.at;
    // How many of the old nodes were made again, and where the rest begins.
    let (gone, line) = match stopped {
        Some(line) => {
            let put_aside = parser.nodes.put_aside();
            (first_of_line(put_aside, kept, found), line)
        }
        None => {
            while outline.open.len() > 1 {
                outline.close(&mut parser);
            }
            (parser.nodes.put_aside().len(), parser.tokens.len())
        }
    };
    stray_tokens(&mut parser, cut.first_token..line);
    parser.faults[first_fault..].sort_by_key(|fault| (fault.span.start, fault.span.end));
    if parser.faults[first_fault..]
        .iter()
        .any(|fault| tells_of_the_whole(fault.kind))
    {
        return None;
    }
    let end = parser.start_of(line);
    let added = kept..parser.nodes.next().0;
    shift.nodes = i64::from(added.end - added.start) - gone as i64;
    let change = Change {
        before: Span::new(start, moved(end, -shift.bytes)),
        after: Span::new(start, end),
        differs: cut.differs,
        kept,
        removed: removed(
            &parser.nodes.put_aside()[..gone],
            kept,
            &tokens_before,
            &parser.tokens,
        ),
        added: added
            .map(NodeId)
            .filter(|id| is_statement(parser.nodes[*id], id.0))
            .collect(),
    };
    if stopped.is_some() {
        join(&mut parser, &outline, &opened, kept + found as u32, shift);
        let behind = behind
            .into_iter()
            .filter(|fault| fault.span.start >= change.before.end);
        parser.faults.extend(behind.map(|fault| shift.fault(fault)));
    }
    if count(&parser.faults, FaultKind::MisplacedStatement) > MOST_MISPLACED
        || count(&parser.faults, FaultKind::ControlCharacter) > MOST_CONTROLS
    {
        return None;
    }
    let total = parser.tokens.len() as u32;
    let root = &mut parser.nodes[NodeId(0)];
    (root.head, root.last) = (total, total);
    let Parser {
        tokens,
        nodes,
        faults,
        ..
    } = parser;
    let moves = shift.tokens != 0 || shift.nodes != 0;
    let tree = Tree {
        text: text.clone(),
        tokens,
        nodes: nodes.join(gone, moves.then_some(|node| shift.node(node))),
        faults,
        document,
    };
    Some((tree, change))
}

/// Faults that hang on more than the lines around them: they are told once for all, or counted over all lines.
fn tells_of_the_whole(kind: FaultKind) -> bool {
    matches!(
        kind,
        FaultKind::LoneCarriageReturn
            | FaultKind::OutlineTooDeep
            | FaultKind::TabIndentation
            | FaultKind::UnknownDocument
            | FaultKind::EmptyDocument
    )
}

fn hangs_on_the_whole(tree: &Tree) -> bool {
    tree.document == DocumentKind::Unknown
        || tree
            .faults
            .iter()
            .any(|fault| tells_of_the_whole(fault.kind))
        || count(&tree.faults, FaultKind::MisplacedStatement) >= MOST_MISPLACED
        || count(&tree.faults, FaultKind::ControlCharacter) >= MOST_CONTROLS
}

fn count(faults: &[Fault], kind: FaultKind) -> usize {
    faults.iter().filter(|fault| fault.kind == kind).count()
}

fn cut(old: &Tree, text: &str) -> Option<Cut> {
    let (before, after) = (old.text.as_bytes(), text.as_bytes());
    let same = common_start(before, after);
    let most = before.len().min(after.len()) - same;
    let same_end = common_end(&before[before.len() - most..], &after[after.len() - most..]);
    let changed = old.statement_at(same as u32)?;
    let again = previous_statement(old, changed)?;
    let last_kept = previous_statement(old, again)?;
    let first_token = line_of(&old.tokens, old.node(again).first as usize);
    let end = (before.len() - same_end) as u32;
    let differs = Span::new(same as u32, end);
    let grown = after.len() as i64 - before.len() as i64;
    let mut at = old.tokens.partition_point(|token| token.end < end);
    while let Some(token) = old.tokens.get(at) {
        at += 1;
        let behind_byte = moved(token.end, grown);
        if token.kind == TokenKind::Newline && begins_line(after, behind_byte as usize) {
            return Some(Cut {
                differs,
                last_kept,
                first_token,
                behind: at,
                behind_byte,
            });
        }
    }
    Some(Cut {
        differs,
        last_kept,
        first_token,
        behind: old.tokens.len(),
        behind_byte: after.len() as u32,
    })
}

/// Whether a line begins at a byte, as the tokens have it.
fn begins_line(text: &[u8], at: usize) -> bool {
    match at.checked_sub(1).map(|before| text[before]) {
        Some(b'\n') => true,
        Some(b'\r') => text.get(at) != Some(&b'\n'),
        _ => false,
    }
}

fn has_lone_return(text: &[u8], among: std::ops::Range<usize>) -> bool {
    among
        .into_iter()
        .any(|at| text[at] == b'\r' && text.get(at + 1) != Some(&b'\n'))
}

/// How many bytes two texts have in common from their beginning.
fn common_start(one: &[u8], other: &[u8]) -> usize {
    const STEP: usize = 1024;
    let blocks = one.chunks_exact(STEP).zip(other.chunks_exact(STEP));
    let same = blocks.take_while(|(one, other)| one == other).count() * STEP;
    let bytes = one[same..].iter().zip(&other[same..]);
    same + bytes.take_while(|(one, other)| one == other).count()
}

/// How many bytes two texts of the same length have in common at their end.
fn common_end(one: &[u8], other: &[u8]) -> usize {
    const STEP: usize = 1024;
    let blocks = one.rchunks_exact(STEP).zip(other.rchunks_exact(STEP));
    let same = blocks.take_while(|(one, other)| one == other).count() * STEP;
    let (one, other) = (&one[..one.len() - same], &other[..other.len() - same]);
    let bytes = one.iter().rev().zip(other.iter().rev());
    same + bytes.take_while(|(one, other)| one == other).count()
}

fn previous_statement(tree: &Tree, statement: NodeId) -> Option<NodeId> {
    (1..statement.0)
        .rev()
        .find(|id| is_statement(tree.nodes[*id as usize], *id))
        .map(NodeId)
}

/// A statement that was still open where reading begins again, as it was.
struct Opened {
    id: NodeId,
    last: u32,
    next: u32,
    columns: Option<usize>,
}

/// The outline behind a statement. Cuts the links from there to what is read again.
fn open_at(parser: &mut Parser<'_>, statement: NodeId) -> (Outline, Vec<Opened>) {
    let mut chain = vec![statement];
    while let Some(parent) = chain.last().map(|id| parser.nodes[*id].parent)
        && parent != NONE
    {
        chain.push(NodeId(parent));
    }
    chain.reverse();
    let mut outline = Outline::default();
    let opened: Vec<Opened> = chain
        .iter()
        .map(|id| {
            let node = parser.nodes[*id];
            Opened {
                id: *id,
                last: node.last,
                next: node.next,
                columns: columns(parser.nodes.earlier(), *id),
            }
        })
        .collect();
    for (depth, id) in chain.iter().enumerate() {
        let node = parser.nodes[*id];
        let last_child = match chain.get(depth + 1) {
            Some(child) => child.0,
            None => last_part(parser.nodes.kept(), *id),
        };
        let indent = match depth {
            0 => 0,
            _ => {
                let line = line_of(&parser.tokens, node.first as usize);
                outline.indent(parser, line, node.first as usize)
            }
        };
        let own = &mut parser.nodes[*id];
        own.last = own.head;
        if last_child == NONE {
            own.child = NONE;
        } else {
            parser.nodes[NodeId(last_child)].next = NONE;
        }
        outline.open.push(Open {
            id: *id,
            kind: node.kind,
            indent,
            last_child,
            columns: columns(parser.nodes.kept(), *id),
        });
    }
    (outline, opened)
}

/// The first token of the line in which a token stands.
fn line_of(tokens: &[Token], mut token: usize) -> usize {
    while token > 0 && tokens[token - 1].kind != TokenKind::Newline {
        token -= 1;
    }
    token
}

/// The last part of a statement's own line.
fn last_part(nodes: &[Node], statement: NodeId) -> u32 {
    let mut last = NONE;
    let mut next = nodes[statement.0 as usize].child;
    while next < statement.0 {
        last = next;
        next = nodes[next as usize].next;
    }
    last
}

/// How many columns the header of a table or log has, among these nodes.
fn columns(nodes: &[Node], table: NodeId) -> Option<usize> {
    let node = |id: u32| nodes.get(id as usize);
    let children = |parent: u32| {
        let first = node(parent).map_or(NONE, |node| node.child);
        std::iter::successors(
            node(first).map(|found| (first, found)),
            move |(_, found)| node(found.next).map(|next| (found.next, next)),
        )
    };
    if !matches!(node(table.0)?.kind, NodeKind::Table | NodeKind::Log) {
        return None;
    }
    let (header, _) = children(table.0).find(|(_, node)| node.kind == NodeKind::HeaderRow)?;
    Some(
        children(header)
            .filter(|(_, node)| node.kind == NodeKind::HeaderCell)
            .count(),
    )
}

/// Looks for the first line from which on everything is as it was.
struct Search<'a> {
    opened: &'a [Opened],
    shift: Shift,
    first_behind: usize,
    /// A line behind the change was read: what the parser says of a line may hang on the line before it.
    passed: bool,
    at: usize,
}

impl Search<'_> {
    fn meets(
        &mut self,
        outline: &mut Outline,
        parser: &mut Parser<'_>,
        first: usize,
        indent: u32,
    ) -> bool {
        if first < self.first_behind {
            return false;
        }
        if !std::mem::replace(&mut self.passed, true) {
            return false;
        }
        let Ok(before) = u32::try_from(first as i64 - self.shift.tokens) else {
            return false;
        };
        let is_it = |(at, node): (usize, &Node)| {
            is_statement(*node, self.shift.kept + at as u32) && node.first >= before
        };
        let put_aside = parser.nodes.put_aside();
        let rest = put_aside.iter().enumerate().skip(self.at);
        let Some(found) = rest
            .map(|(at, node)| (at, is_it((at, node))))
            .find(|(_, is)| *is)
        else {
            self.at = put_aside.len();
            return false;
        };
        self.at = found.0;
        let node = put_aside[self.at];
        if node.first != before {
            return false;
        }
        let Some(depth) = outline
            .open
            .iter()
            .rposition(|open| open.kind == NodeKind::Document || open.indent < indent)
        else {
            return false;
        };
        let parent = &outline.open[depth];
        let same = self.opened.iter().find(|opened| opened.id == parent.id);
        let stays = same.is_some_and(|opened| opened.columns == parent.columns)
            && node.parent == parent.id.0;
        if stays {
            while outline.open.len() > depth + 1 {
                outline.close(parser);
            }
        }
        stays
    }
}

/// The first node of the line whose statement is at `found`.
fn first_of_line(tail: &[Node], kept: u32, found: usize) -> usize {
    let mut first = found;
    while first > 0 && !is_statement(tail[first - 1], kept + first as u32 - 1) {
        first -= 1;
    }
    first
}

/// The tokens of the text before, of which those behind the change stand elsewhere now.
struct TokensBefore {
    /// Those that were read again, from the number `first` and the byte `start` on.
    gone: Vec<Token>,
    first: usize,
    start: u32,
    shift: Shift,
}

impl TokensBefore {
    /// Where one of them began, by its number then.
    fn start_of(&self, token: u32, now: &[Token]) -> u32 {
        let Some(before) = (token as usize).checked_sub(self.first + 1) else {
            return self.start;
        };
        match self.gone.get(before) {
            Some(token) => token.end,
            None => {
                let at = i64::from(token) - 1 + self.shift.tokens;
                moved(now[at as usize].end, -self.shift.bytes)
            }
        }
    }
}

fn removed(gone: &[Node], kept: u32, before: &TokensBefore, now: &[Token]) -> Vec<Removed> {
    gone.iter()
        .enumerate()
        .filter(|(at, node)| is_statement(**node, kept + *at as u32))
        .map(|(at, node)| Removed {
            id: NodeId(kept + at as u32),
            kind: node.kind,
            parent: NodeId(node.parent),
            span: Span::new(
                before.start_of(node.first, now),
                before.start_of(node.head, now),
            ),
        })
        .collect()
}

/// Ties the statement `found` of the old tree, and all behind it, to what is still open.
fn join(parser: &mut Parser<'_>, outline: &Outline, opened: &[Opened], found: u32, shift: Shift) {
    for (open, known) in outline.open.iter().zip(opened) {
        let node = &mut parser.nodes[open.id];
        node.last = moved(known.last, shift.tokens);
        node.next = shift.link(known.next);
    }
    if let Some(parent) = outline.open.last() {
        let found = shift.link(found);
        match parent.last_child {
            NONE => parser.nodes[parent.id].child = found,
            sister => parser.nodes[NodeId(sister)].next = found,
        }
    }
}

/// By how much what lies behind the change is moved.
#[derive(Clone, Copy)]
struct Shift {
    /// Nodes below this one stay.
    kept: u32,
    bytes: i64,
    tokens: i64,
    nodes: i64,
}

impl Shift {
    fn link(self, id: u32) -> u32 {
        if id == NONE || id < self.kept {
            id
        } else {
            moved(id, self.nodes)
        }
    }

    fn node(self, node: Node) -> Node {
        Node {
            kind: node.kind,
            first: moved(node.first, self.tokens),
            head: moved(node.head, self.tokens),
            last: moved(node.last, self.tokens),
            parent: self.link(node.parent),
            child: self.link(node.child),
            next: self.link(node.next),
        }
    }

    fn fault(self, mut fault: Fault) -> Fault {
        fault.span = fault.span.moved(self.bytes);
        for (place, _) in fault.fix.iter_mut().flat_map(|(_, edits)| edits) {
            *place = place.moved(self.bytes);
        }
        fault
    }
}

/// Both lie within a text of at most 4 GiB.
fn moved(place: u32, by: i64) -> u32 {
    (i64::from(place) + by) as u32
}
