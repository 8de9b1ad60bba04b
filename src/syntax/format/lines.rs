//! The document as physical lines, each with the statement that it belongs to, and which of them stay as they are.

use crate::syntax::fault::FaultKind;
use crate::syntax::placement;
use crate::syntax::token::TokenKind;
use crate::syntax::tree::{NodeId, NodeKind, Tree};

/// A gap that stays as it is.
pub const AS_IS: u32 = u32::MAX;

/// What a physical line holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Content {
    /// White space.
    Blank,
    /// A comment and nothing else.
    Comment,
    /// A line, the first or a further one, of the statement with this number.
    Statement(usize),
    /// Something that is left alone.
    Alone,
}

/// A physical line.
#[derive(Clone, Copy, Debug)]
pub struct Line {
    /// Its first token.
    pub start: usize,
    /// Its first token that is no white space, or `end`.
    pub first: usize,
    /// Its newline, or the number of tokens.
    pub end: usize,
    /// What it holds.
    pub content: Content,
    /// Columns of its indentation as written, a tab for two.
    pub written: usize,
    /// Columns of its indentation as wanted; none: it stays.
    pub wanted: Option<usize>,
}

/// A statement.
#[derive(Clone, Copy, Debug)]
pub struct Statement {
    /// Its node.
    pub node: NodeId,
    /// What it is.
    pub kind: NodeKind,
    /// The statement that it belongs to.
    pub parent: Option<usize>,
    /// The statement of the outermost level to whose outline it belongs.
    pub block: usize,
    /// Its level in the outline, the outermost 0.
    pub level: usize,
    /// Its first physical line.
    pub line: usize,
    /// Its last physical line.
    pub last: usize,
    /// Something is wrong with its text: it stays byte for byte.
    pub frozen: bool,
}

/// What the passes of the formatter work on.
pub struct Sheet<'t> {
    /// The document.
    pub tree: &'t Tree,
    /// Its lines.
    pub lines: Vec<Line>,
    /// Its statements in order.
    pub statements: Vec<Statement>,
    /// For each token: the blanks before it, where something stands before it in its line.
    pub gaps: Vec<u32>,
    /// Tokens that begin a new line, and the columns of its indentation; in order.
    pub breaks: Vec<(usize, usize)>,
}

impl Sheet<'_> {
    /// The tokens of a line that are no white space.
    pub fn tokens_of(&self, line: &Line) -> impl DoubleEndedIterator<Item = usize> + use<'_> {
        let tokens = &self.tree.tokens;
        (line.first..line.end).filter(move |token| tokens[*token].kind != TokenKind::Space)
    }

    /// What kind of token stands there.
    pub fn kind(&self, token: usize) -> TokenKind {
        self.tree.tokens[token].kind
    }

    /// The comment behind a statement in its line.
    pub fn comment_behind(&self, line: &Line) -> Option<usize> {
        let last = self.tokens_of(line).next_back()?;
        (last != line.first && self.kind(last) == TokenKind::Comment).then_some(last)
    }

    /// Columns of a line's indentation as it will stand.
    pub fn indentation(&self, line: usize) -> usize {
        let line = &self.lines[line];
        line.wanted.unwrap_or(line.written)
    }
}

/// Cuts a document into lines and statements. None where it is to be left alone as a whole: it is empty, or its lines
/// end in a lone carriage return.
pub fn read(tree: &Tree) -> Option<Sheet<'_>> {
    // It might become one line end with a line feed behind it.
    let lone_return = |token: usize| {
        tree.tokens[token].kind == TokenKind::Newline && tree.token_text(token) == "\r"
    };
    if (0..tree.tokens.len()).any(lone_return) {
        return None;
    }
    let mut sheet = Sheet {
        tree,
        lines: cut(tree),
        statements: Vec::new(),
        gaps: vec![AS_IS; tree.tokens.len()],
        breaks: Vec::new(),
    };
    if sheet
        .lines
        .iter()
        .all(|line| line.content == Content::Blank)
    {
        return None;
    }
    find_statements(&mut sheet);
    freeze(&mut sheet);
    Some(sheet)
}

fn cut(tree: &Tree) -> Vec<Line> {
    let tokens = &tree.tokens;
    let mut lines = Vec::with_capacity(tokens.len() / 8 + 1);
    let mut start = 0;
    while start < tokens.len() {
        // A byte-order mark at the beginning stays; the line begins behind it.
        let mark = start == 0 && tokens[0].kind == TokenKind::ByteOrderMark;
        let begin = start + usize::from(mark);
        let mut end = begin;
        let mut first = None;
        let mut alone = false;
        while end < tokens.len() && tokens[end].kind != TokenKind::Newline {
            let kind = tokens[end].kind;
            alone |= kind == TokenKind::ByteOrderMark;
            if first.is_none() && kind != TokenKind::Space {
                first = Some(end);
            }
            end += 1;
        }
        let first = first.unwrap_or(end);
        let content = match tokens.get(first).map(|token| token.kind) {
            _ if alone => Content::Alone,
            _ if first == end => Content::Blank,
            Some(TokenKind::Comment) => Content::Comment,
            _ => Content::Alone,
        };
        lines.push(Line {
            start: begin,
            first,
            end,
            content,
            written: columns(tree, begin, first),
            wanted: None,
        });
        start = end + 1;
    }
    lines
}

/// Columns of white space, a tab for two, as the outline counts them.
fn columns(tree: &Tree, from: usize, to: usize) -> usize {
    (from..to)
        .flat_map(|token| tree.token_text(token).chars())
        .map(|character| if character == '\t' { 2 } else { 1 })
        .sum()
}

fn find_statements(sheet: &mut Sheet<'_>) {
    let tree = sheet.tree;
    let mut waiting = Vec::new();
    let children: Vec<NodeId> = tree.children(tree.root()).collect();
    waiting.extend(children.into_iter().rev().map(|node| (node, None)));
    let mut line = 0;
    while let Some((id, parent)) = waiting.pop() {
        let node = tree.node(id);
        if node.first >= node.head {
            continue;
        }
        let number = sheet.statements.len();
        while line + 1 < sheet.lines.len() && sheet.lines[line].end <= node.first as usize {
            line += 1;
        }
        let begin = line;
        while line + 1 < sheet.lines.len() && sheet.lines[line].end < node.head as usize {
            line += 1;
        }
        for place in begin..=line {
            let place = &mut sheet.lines[place];
            let own = tree.tokens.get(place.first).map(|token| token.kind);
            if place.content == Content::Alone && own != Some(TokenKind::ByteOrderMark) {
                place.content = Content::Statement(number);
            }
        }
        let (level, block) = match parent {
            None => (0, number),
            Some(parent) => {
                let parent: &Statement = &sheet.statements[parent];
                (parent.level + 1, parent.block)
            }
        };
        sheet.statements.push(Statement {
            node: id,
            kind: node.kind,
            parent,
            block,
            level,
            line: begin,
            last: line,
            frozen: false,
        });
        let below: Vec<NodeId> = tree
            .children(id)
            .filter(|child| tree.node(*child).first >= node.head)
            .collect();
        waiting.extend(below.into_iter().rev().map(|child| (child, Some(number))));
    }
}

/// Finds what is wrong, and with it what must stay as it is.
fn freeze(sheet: &mut Sheet<'_>) {
    let tree = sheet.tree;
    for fault in &tree.faults {
        if !matches!(
            fault.kind,
            FaultKind::TabIndentation | FaultKind::ByteOrderMark | FaultKind::EmptyDocument
        ) {
            freeze_at(&mut sheet.statements, tree, fault.span.start);
        }
    }
    for number in 0..tree.nodes.len() {
        // Not everything left over is told: of control characters the first twenty are.
        if tree.nodes[number].kind == NodeKind::Rest {
            freeze_at(
                &mut sheet.statements,
                tree,
                tree.span(NodeId(number as u32)).start,
            );
        }
    }
    let mut under_broken = vec![false; sheet.statements.len()];
    let mut rows_stay = vec![false; sheet.statements.len()];
    for number in 0..sheet.statements.len() {
        let statement = sheet.statements[number];
        let node = tree.node(statement.node);
        let parent = statement.parent.map(|parent| sheet.statements[parent].kind);
        let strange = (node.first as usize..node.head as usize).any(|token| {
            matches!(
                tree.tokens[token].kind,
                TokenKind::Stray | TokenKind::OpenText | TokenKind::ByteOrderMark
            )
        });
        let broken = statement.kind == NodeKind::Broken
            || statement.parent.is_some_and(|parent| under_broken[parent]);
        let misplaced = !placement::allowed(parent.unwrap_or(NodeKind::Document), statement.kind);
        let row = matches!(statement.kind, NodeKind::Row | NodeKind::HeaderRow);
        let headless = row && statement.parent.is_some_and(|parent| rows_stay[parent]);
        under_broken[number] = broken;
        let frozen = statement.frozen || strange || broken || misplaced || headless;
        sheet.statements[number].frozen = frozen;
        if let Some(parent) = statement.parent
            && frozen
            && statement.kind == NodeKind::HeaderRow
        {
            rows_stay[parent] = true;
        }
    }
    keep_inside(sheet);
}

/// Comments and blank lines between the lines of a broken statement stay too.
fn keep_inside(sheet: &mut Sheet<'_>) {
    for statement in &sheet.statements {
        if !statement.frozen {
            continue;
        }
        for line in &mut sheet.lines[statement.line..=statement.last] {
            if matches!(line.content, Content::Blank | Content::Comment) {
                line.content = Content::Alone;
            }
        }
    }
}

fn freeze_at(statements: &mut [Statement], tree: &Tree, place: u32) {
    let behind = statements.partition_point(|statement| tree.span(statement.node).start <= place);
    if let Some(statement) = statements.get_mut(behind.saturating_sub(1)) {
        statement.frozen = true;
    }
}
