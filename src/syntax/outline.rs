//! The outline: lines to statements, deeper lines below the line that they belong to.

use super::MAX_OUTLINE_DEPTH;
use super::cursor::{Parser, shown};
use super::fault::{Fault, FaultKind};
use super::nodes::Nodes;
use super::placement;
use super::token::{Token, TokenKind, tokenize};
use super::tree::{DocumentKind, NONE, Node, NodeId, NodeKind, Tree};
use super::words::{STATEMENT_WORDS, nearest, statement};
use crate::text::Span;
use std::sync::Arc;

/// A statement whose outline is still open.
pub(super) struct Open {
    pub id: NodeId,
    pub kind: NodeKind,
    pub indent: u32,
    pub last_child: u32,
    /// Of a table or log: how many columns its header has.
    pub columns: Option<usize>,
}

pub(super) fn parse_document(text: Arc<str>) -> Tree {
    let mut parser = parser_for(&text);
    parser.document = document_kind(&parser);
    let mut outline = Outline::default();
    parser.nodes.push(document_node(parser.tokens.len()));
    outline.open.push(Open {
        id: NodeId(0),
        kind: NodeKind::Document,
        indent: 0,
        last_child: NONE,
        columns: None,
    });
    let mut unknown = parser.document == DocumentKind::Unknown;
    outline.lines(&mut parser, 0, |_, parser, first, _| {
        if std::mem::take(&mut unknown) {
            unknown_document(parser, first);
        }
        false
    });
    while outline.open.len() > 1 {
        outline.close(&mut parser);
    }
    let all = 0..parser.tokens.len();
    stray_tokens(&mut parser, all);
    let document = parser.document;
    let Parser {
        tokens,
        nodes,
        mut faults,
        ..
    } = parser;
    let nodes = nodes.all();
    if nodes.len() == 1 {
        faults.push(
            Fault::new(
                FaultKind::EmptyDocument,
                Span::new(0, 0),
                "expected a plan, a register or a unit, found an empty document",
            )
            .help("begin with `unit SERIAL`, `plan NAME` or `register NAME`"),
        );
    }
    faults.sort_by_key(|fault| (fault.span.start, fault.span.end));
    Tree {
        text,
        tokens,
        nodes,
        faults,
        document,
    }
}

pub(super) fn parse_expression_alone(text: Arc<str>) -> Tree {
    let mut parser = parser_for(&text);
    parser.document = DocumentKind::Plan;
    parser.nodes.push(document_node(parser.tokens.len()));
    parser.end = parser.tokens.len();
    parser.seek(0);
    let first = parser.position;
    if !parser.expression() {
        parser.skip_line();
    } else if parser.position < parser.end {
        parser.expected("the end of the expression", "");
        parser.skip_line();
    }
    let id = parser.finish(NodeKind::Require, first, 0);
    parser.nodes[NodeId(0)].child = id.0;
    parser.nodes[id].parent = 0;
    let all = 0..parser.tokens.len();
    stray_tokens(&mut parser, all);
    let Parser {
        tokens,
        nodes,
        faults,
        ..
    } = parser;
    Tree {
        text,
        tokens,
        nodes: nodes.all(),
        faults,
        document: DocumentKind::Plan,
    }
}

fn parser_for(text: &str) -> Parser<'_> {
    let tokens = tokenize(text);
    let nodes = Nodes::with_capacity(tokens.len() / 2 + 8);
    parser_of(text, tokens, nodes)
}

/// A parser of tokens that are there, behind nodes that are.
pub(super) fn parser_of(text: &str, tokens: Vec<Token>, nodes: Nodes) -> Parser<'_> {
    Parser {
        text,
        tokens,
        nodes,
        faults: Vec::new(),
        document: DocumentKind::Unknown,
        position: 0,
        end: 0,
        pending: Vec::new(),
        nesting: 0,
        brackets: 0,
        nesting_reported: false,
        in_expression: false,
        cells: Vec::new(),
        misplaced: 0,
    }
}

fn document_node(tokens: usize) -> Node {
    let last = tokens as u32;
    Node {
        kind: NodeKind::Document,
        first: 0,
        head: last,
        last,
        parent: NONE,
        child: NONE,
        next: NONE,
    }
}

fn document_kind(parser: &Parser<'_>) -> DocumentKind {
    let first = parser
        .tokens
        .iter()
        .position(|token| !token.kind.is_trivia());
    match first.map(|at| parser.text_of(at)) {
        Some("plan") => DocumentKind::Plan,
        Some("register") => DocumentKind::Register,
        Some("unit") => DocumentKind::Unit,
        _ => DocumentKind::Unknown,
    }
}

#[derive(Default)]
pub(super) struct Outline {
    pub open: Vec<Open>,
    too_deep: bool,
    tabs: usize,
    lone_returns: bool,
}

impl Outline {
    /// Reads the lines from the one that begins with the token `line`, until `stops` says so of a line by its first
    /// token, its first significant token and its indentation. Gives the first token of that line.
    pub fn lines(
        &mut self,
        parser: &mut Parser<'_>,
        mut line: usize,
        mut stops: impl FnMut(&mut Outline, &mut Parser<'_>, usize, u32) -> bool,
    ) -> Option<usize> {
        let total = parser.tokens.len();
        while line < total {
            let mut end = self.physical_end(parser, line);
            let Some(first) = first_significant(parser, line, end) else {
                line = end + 1;
                continue;
            };
            let indent = self.indent(parser, line, first);
            if stops(self, parser, first, indent) {
                return Some(line);
            }
            end = self.logical_end(parser, first, end, indent);
            self.statement(parser, first, end, indent);
            line = end + 1;
        }
        None
    }

    /// Index of the newline that ends the physical line at `line`, or the token count.
    fn physical_end(&mut self, parser: &mut Parser<'_>, line: usize) -> usize {
        let mut end = line;
        while end < parser.tokens.len() && parser.tokens[end].kind != TokenKind::Newline {
            end += 1;
        }
        if end < parser.tokens.len() && !self.lone_returns && parser.text_of(end) == "\r" {
            self.lone_returns = true;
            let span = parser.span_of(end);
            parser.fault(
                Fault::new(
                    FaultKind::LoneCarriageReturn,
                    span,
                    "expected lines that end in LF or CR LF, found a lone carriage return",
                )
                .help("save the file with LF line ends"),
            );
        }
        end
    }

    /// The indentation in columns; a tab counts as one level of two and is reported.
    pub fn indent(&mut self, parser: &mut Parser<'_>, line: usize, first: usize) -> u32 {
        if line == first {
            return 0;
        }
        let mut columns = 0;
        for at in line..first {
            let span = parser.span_of(at);
            let text = &parser.text[span.range()];
            if text.contains('\t') {
                for character in text.chars() {
                    columns += if character == '\t' { 2 } else { 1 };
                }
                self.tabs += 1;
                // One finding a document would hide the others' fixes; a thousand would drown the rest.
                if self.tabs <= 100 {
                    let spaces = text.replace('\t', "  ");
                    parser.fault(
                        Fault::new(
                            FaultKind::TabIndentation,
                            span,
                            "expected blanks in the indentation, found a tab",
                        )
                        .help("indent by two blanks a level")
                        .fix("indent with blanks", span, spaces),
                    );
                }
            } else if parser.tokens[at].kind == TokenKind::Space {
                columns += if text.is_ascii() {
                    text.len()
                } else {
                    text.chars().count()
                } as u32;
            }
        }
        columns
    }

    /// Takes in the deeper lines that go on with an unfinished expression.
    fn logical_end(&self, parser: &Parser<'_>, first: usize, mut end: usize, indent: u32) -> usize {
        let inside_rows = self.parent_takes_rows(indent);
        if inside_rows {
            return end;
        }
        let mut brackets = 0i64;
        let mut last = TokenKind::Newline;
        let mut at = first;
        loop {
            while at < end {
                let kind = parser.tokens[at].kind;
                match kind {
                    TokenKind::OpenParen | TokenKind::OpenBracket => brackets += 1,
                    TokenKind::CloseParen | TokenKind::CloseBracket => brackets -= 1,
                    _ => {}
                }
                if !kind.is_trivia() {
                    last = kind;
                }
                at += 1;
            }
            let word_operator = last == TokenKind::Name && ends_in_word_operator(parser, end);
            let open = brackets > 0
                || word_operator
                || matches!(
                    last,
                    TokenKind::Equals
                        | TokenKind::Comma
                        | TokenKind::Plus
                        | TokenKind::Minus
                        | TokenKind::Star
                        | TokenKind::Slash
                        | TokenKind::Less
                        | TokenKind::AtMost
                        | TokenKind::Greater
                        | TokenKind::AtLeast
                        | TokenKind::DotDot
                        | TokenKind::PlusMinus
                );
            if !open || end >= parser.tokens.len() {
                return end;
            }
            // The next line with anything on it.
            let mut next = end + 1;
            let mut columns = 0u32;
            let mut found = None;
            while next < parser.tokens.len() {
                match parser.tokens[next].kind {
                    TokenKind::Newline => columns = 0,
                    TokenKind::Space => {
                        columns = parser.text[parser.span_of(next).range()].chars().count() as u32
                    }
                    TokenKind::Comment | TokenKind::ByteOrderMark => {}
                    _ => {
                        found = Some(next);
                        break;
                    }
                }
                next += 1;
            }
            let Some(next) = found else { return end };
            if columns <= indent || starts_statement(parser, next) {
                return end;
            }
            at = next;
            end = next;
            while end < parser.tokens.len() && parser.tokens[end].kind != TokenKind::Newline {
                end += 1;
            }
        }
    }

    fn parent_takes_rows(&self, indent: u32) -> bool {
        self.open
            .iter()
            .rev()
            .find(|open| open.kind == NodeKind::Document || open.indent < indent)
            .is_some_and(|open| matches!(open.kind, NodeKind::Table | NodeKind::Log))
    }

    fn statement(&mut self, parser: &mut Parser<'_>, first: usize, end: usize, indent: u32) {
        while self.open.len() > 1 && self.open.last().is_some_and(|open| open.indent >= indent) {
            self.close(parser);
        }
        if self.open.len() > MAX_OUTLINE_DEPTH {
            if !self.too_deep {
                self.too_deep = true;
                let span = parser.span_of(first);
                parser.fault(
                    Fault::new(
                        FaultKind::OutlineTooDeep,
                        span,
                        format!(
                            "expected at most {MAX_OUTLINE_DEPTH} levels of indentation, found more"
                        ),
                    )
                    .help("indent by two blanks a level; no statement needs more than four levels"),
                );
            }
            self.close(parser);
        }
        let Some(parent) = self.open.last() else {
            return;
        };
        let (parent_kind, parent_columns) = (parent.kind, parent.columns);
        parser.end = end;
        parser.nesting = 0;
        parser.brackets = 0;
        parser.nesting_reported = false;
        parser.pending.clear();
        parser.seek(first);
        let mut columns = None;
        let kind = match parent_kind {
            NodeKind::Table | NodeKind::Log => {
                self.row_statement(parser, parent_kind, parent_columns)
            }
            _ => ordinary_statement(parser, parent_kind),
        };
        if kind == NodeKind::HeaderRow {
            columns = Some(parser.pending.len());
        }
        if parser.position < parser.end {
            leftover(parser, kind);
        }
        let id = parser.finish(kind, first, 0);
        parser.pending.clear();
        self.append(parser, id);
        if let (Some(count), Some(parent)) = (columns, self.open.last_mut()) {
            parent.columns = Some(count);
        }
        let last_child = last_child(parser, id);
        self.open.push(Open {
            id,
            kind,
            indent,
            last_child,
            columns: None,
        });
    }

    fn row_statement(
        &mut self,
        parser: &mut Parser<'_>,
        parent: NodeKind,
        columns: Option<usize>,
    ) -> NodeKind {
        if parent == NodeKind::Log && parser.at_word("column") && has_from(parser) {
            parser.bump();
            parser.statement_parts(NodeKind::ColumnMap);
            return NodeKind::ColumnMap;
        }
        if parser.at_word("accept") && is_acceptance(parser) {
            parser.bump();
            parser.statement_parts(NodeKind::Accept);
            return NodeKind::Accept;
        }
        match columns {
            None => {
                parser.header_row();
                NodeKind::HeaderRow
            }
            Some(columns) => {
                parser.row(columns);
                NodeKind::Row
            }
        }
    }

    fn append(&mut self, parser: &mut Parser<'_>, id: NodeId) {
        let Some(parent) = self.open.last_mut() else {
            return;
        };
        parser.nodes[id].parent = parent.id.0;
        if parent.last_child == NONE {
            parser.nodes[parent.id].child = id.0;
        } else {
            parser.nodes[NodeId(parent.last_child)].next = id.0;
        }
        parent.last_child = id.0;
    }

    /// Ends the innermost outline and stretches its parent to cover it.
    pub fn close(&mut self, parser: &mut Parser<'_>) {
        let Some(closed) = self.open.pop() else {
            return;
        };
        let last = parser.nodes[closed.id].last;
        if let Some(parent) = self.open.last() {
            let node = &mut parser.nodes[parent.id];
            node.last = node.last.max(last);
        }
    }
}

fn last_child(parser: &Parser<'_>, id: NodeId) -> u32 {
    let mut last = NONE;
    let mut next = parser.nodes[id].child;
    while next != NONE {
        last = next;
        next = parser.nodes[NodeId(next)].next;
    }
    last
}

fn first_significant(parser: &Parser<'_>, line: usize, end: usize) -> Option<usize> {
    (line..end).find(|at| !parser.tokens[*at].kind.is_trivia())
}

fn ends_in_word_operator(parser: &Parser<'_>, end: usize) -> bool {
    (0..end)
        .rev()
        .find(|at| !parser.tokens[*at].kind.is_trivia())
        .is_some_and(|at| {
            matches!(
                parser.text_of(at),
                "and" | "or" | "not" | "then" | "else" | "in"
            )
        })
}

/// True when the line at `at` plainly is a statement of its own, so that an unclosed bracket above does
/// not swallow it.
fn starts_statement(parser: &Parser<'_>, at: usize) -> bool {
    if parser.tokens[at].kind != TokenKind::Name
        || statement(parser.text_of(at), parser.document).is_none()
    {
        return false;
    }
    let next = parser.tokens[at + 1..]
        .iter()
        .find(|token| token.kind != TokenKind::Space);
    next.is_some_and(|token| {
        matches!(
            token.kind,
            TokenKind::Name
                | TokenKind::Text
                | TokenKind::Number
                | TokenKind::AtMost
                | TokenKind::AtLeast
        )
    })
}

fn has_from(parser: &Parser<'_>) -> bool {
    (parser.position..parser.end)
        .any(|at| parser.tokens[at].kind == TokenKind::Name && parser.text_of(at) == "from")
}

/// `accept RULE because …`, `by …` or `on …` among rows, where a cell might be called `accept`.
fn is_acceptance(parser: &Parser<'_>) -> bool {
    let mut words = (parser.position + 1..parser.end)
        .filter(|at| !parser.tokens[*at].kind.is_trivia())
        .map(|at| (parser.tokens[at].kind, parser.text_of(at)));
    words
        .next()
        .is_some_and(|(kind, _)| kind == TokenKind::Name)
        && words
            .next()
            .is_some_and(|(_, text)| matches!(text, "because" | "by" | "on"))
}

fn ordinary_statement(parser: &mut Parser<'_>, parent: NodeKind) -> NodeKind {
    let first = parser.position;
    if !parser.at(TokenKind::Name) {
        parser.expected(
            "a statement",
            "every line begins with a word: a statement word or a reading's name",
        );
        parser.skip_line();
        return NodeKind::Broken;
    }
    let word = parser.text_of(first).to_owned();
    let assigned = parser.after_next().map(|at| parser.tokens[at].kind);
    let assigns = matches!(assigned, Some(TokenKind::Equals | TokenKind::OpenBracket));
    if assigns && matches!(parent, NodeKind::StageRecord | NodeKind::Design) {
        parser.assignment();
        return if parent == NodeKind::Design {
            NodeKind::DesignValue
        } else {
            NodeKind::Reading
        };
    }
    let Some(kind) = statement(&word, parser.document) else {
        unknown_statement(parser, &word, assigns, parent);
        return NodeKind::Broken;
    };
    parser.bump();
    parser.statement_parts(kind);
    if !placement::allowed(parent, kind) && parent != NodeKind::Broken {
        misplaced(parser, first, &word, parent, kind);
    }
    kind
}

fn unknown_statement(parser: &mut Parser<'_>, word: &str, assigns: bool, parent: NodeKind) {
    let span = parser.span_of(parser.position);
    let found = shown(word);
    let mut fault = Fault::new(
        FaultKind::UnknownStatement,
        span,
        if assigns && parent == NodeKind::Document {
            format!(
                "expected a statement here, found the value `{found} …` outside a stage or design"
            )
        } else if assigns {
            format!(
                "expected the value `{found} …` in line with the others of its stage, found it indented deeper"
            )
        } else {
            format!("expected a statement word or `NAME = VALUE`, found `{found}`")
        },
    );
    if let Some(known) = nearest(word, STATEMENT_WORDS.iter().copied()) {
        fault = fault.help(format!("did you mean `{known}`?")).fix(
            format!("write {known}"),
            span,
            known,
        );
    } else if assigns && parent == NodeKind::Document {
        fault = fault.help("indent the line below the stage that it belongs to");
    }
    // A document of another kind has been reported as such at this very word.
    let same_place = parser
        .faults
        .last()
        .is_some_and(|known| known.kind == FaultKind::UnknownDocument && known.span == span);
    if !same_place {
        parser.fault(fault);
    }
    parser.skip_line();
}

/// Most misplaced statements reported in one document: one wrong level of indentation moves all below it.
pub(super) const MOST_MISPLACED: usize = 100;

fn misplaced(parser: &mut Parser<'_>, first: usize, word: &str, parent: NodeKind, kind: NodeKind) {
    parser.misplaced += 1;
    if parser.misplaced > MOST_MISPLACED {
        return;
    }
    let span = parser.span_of(first);
    let place = placement::place_name(parent);
    let mut fault = Fault::new(
        FaultKind::MisplacedStatement,
        span,
        format!("expected a statement that belongs under {place}, found `{word}`"),
    );
    if placement::allowed(NodeKind::Document, kind) {
        fault = fault.help("write it without indentation");
    } else if parent == NodeKind::Document {
        fault = fault.help("indent it below the statement that it belongs to");
    }
    parser.fault(fault);
}

fn leftover(parser: &mut Parser<'_>, kind: NodeKind) {
    let reported = parser.faults.last().is_some_and(|fault| {
        fault.span.start >= parser.start_of(parser.position.saturating_sub(2))
            && fault.kind != FaultKind::UnitSpaceMissing
    });
    if !reported {
        let what = match kind {
            NodeKind::Reading | NodeKind::DesignValue => {
                "at, with, by, on, because, or the end of the line"
            }
            _ => "the end of the line",
        };
        parser.expected(
            what,
            "put a text in quotes, and each statement on a line of its own",
        );
    }
    let first = parser.position;
    let mark = parser.mark();
    parser.skip_line();
    parser.finish(NodeKind::Rest, first, mark);
}

fn unknown_document(parser: &mut Parser<'_>, first: usize) {
    let span = parser.span_of(first);
    let word = parser.text_of(first);
    let found = shown(word).into_owned();
    let near = nearest(word, ["plan", "register", "unit"]);
    let fault = Fault::new(
        FaultKind::UnknownDocument,
        span,
        format!(
            "expected the document to begin with `plan`, `register` or `unit`, found `{found}`"
        ),
    );
    parser.fault(match near {
        Some(near) => {
            fault
                .help(format!("did you mean `{near}`?"))
                .fix(format!("write {near}"), span, near)
        }
        None => fault.help("a build record begins with `unit SERIAL \"what it is\"`"),
    });
}

/// Most control characters reported in one document.
pub(super) const MOST_CONTROLS: usize = 20;

/// Reports control characters and a byte-order mark among some tokens, which no statement takes.
pub(super) fn stray_tokens(parser: &mut Parser<'_>, among: std::ops::Range<usize>) {
    let mut controls = 0;
    for at in among {
        match parser.tokens[at].kind {
            TokenKind::ByteOrderMark => {
                let span = parser.span_of(at);
                parser.fault(
                    Fault::new(
                        FaultKind::ByteOrderMark,
                        span,
                        "expected plain UTF-8, found a byte-order mark",
                    )
                    .help("save the file as UTF-8 without a byte-order mark")
                    .fix("remove the byte-order mark", span, ""),
                );
            }
            TokenKind::Stray => {
                let text = parser.text_of(at);
                let control = text
                    .chars()
                    .next()
                    .filter(|character| character.is_control());
                if let Some(character) = control {
                    controls += 1;
                    if controls <= MOST_CONTROLS {
                        let span = parser.span_of(at);
                        parser.fault(
                            Fault::new(
                                FaultKind::ControlCharacter,
                                span,
                                format!(
                                    "expected text, found the control character U+{:04X}",
                                    u32::from(character)
                                ),
                            )
                            .help("remove it; the file may have been damaged on its way"),
                        );
                    }
                }
            }
            _ => {}
        }
    }
}
