//! The parser's hand: where it stands in the tokens of one line, and the nodes it has made.

use super::fault::{Fault, FaultKind};
use super::nodes::Nodes;
use super::token::{Token, TokenKind};
use super::tree::{DocumentKind, NONE, Node, NodeId, NodeKind};
use crate::text::Span;

pub(super) struct Parser<'t> {
    pub text: &'t str,
    pub tokens: Vec<Token>,
    pub nodes: Nodes,
    pub faults: Vec<Fault>,
    pub document: DocumentKind,
    /// The next significant token, or `end`.
    pub position: usize,
    /// One past the last token of the line (or cell) being read.
    pub end: usize,
    /// Children waiting for their parent node.
    pub pending: Vec<NodeId>,
    /// Open brackets and operators around the position.
    pub nesting: usize,
    /// Open calls and indices, inside which a comma parts arguments.
    pub brackets: usize,
    /// Set once per line when the nesting is too deep.
    pub nesting_reported: bool,
    /// True inside an expression of a plan, where some words mean something else than in a record.
    pub in_expression: bool,
    /// Cell borders of the row being read, kept to save allocation.
    pub cells: Vec<(u32, u32)>,
    /// Misplaced statements so far.
    pub misplaced: usize,
}

impl Parser<'_> {
    pub fn start_of(&self, token: usize) -> u32 {
        if token == 0 {
            0
        } else {
            self.tokens[token - 1].end
        }
    }

    pub fn span_of(&self, token: usize) -> Span {
        match self.tokens.get(token) {
            Some(found) => Span::new(self.start_of(token), found.end),
            None => Span::new(self.text.len() as u32, self.text.len() as u32),
        }
    }

    pub fn text_of(&self, token: usize) -> &str {
        &self.text[self.span_of(token).range()]
    }

    /// Moves onto the first significant token at or after `token`.
    pub fn seek(&mut self, token: usize) {
        self.position = token;
        while self.position < self.end && self.tokens[self.position].kind.is_trivia() {
            self.position += 1;
        }
    }

    pub fn peek(&self) -> Option<TokenKind> {
        (self.position < self.end).then(|| self.tokens[self.position].kind)
    }

    pub fn at(&self, kind: TokenKind) -> bool {
        self.peek() == Some(kind)
    }

    /// The text of the next token, when it is a name.
    pub fn peek_name(&self) -> Option<&str> {
        self.at(TokenKind::Name)
            .then(|| self.text_of(self.position))
    }

    pub fn at_word(&self, word: &str) -> bool {
        self.peek_name() == Some(word)
    }

    /// Index of the next significant token after the next one.
    pub fn after_next(&self) -> Option<usize> {
        (self.position + 1..self.end).find(|index| !self.tokens[*index].kind.is_trivia())
    }

    /// The kind of the token right behind the next one, white space counted.
    pub fn glued_next(&self) -> Option<TokenKind> {
        (self.position + 1 < self.end).then(|| self.tokens[self.position + 1].kind)
    }

    /// Takes the next token and moves on; its index.
    pub fn bump(&mut self) -> usize {
        let taken = self.position;
        self.seek(taken + 1);
        taken
    }

    pub fn eat(&mut self, kind: TokenKind) -> bool {
        let found = self.at(kind);
        if found {
            self.bump();
        }
        found
    }

    pub fn eat_word(&mut self, word: &str) -> bool {
        let found = self.at_word(word);
        if found {
            self.bump();
        }
        found
    }

    /// One past the last significant token taken so far.
    pub fn behind(&self) -> usize {
        let mut index = self.position;
        while index > 0 && self.tokens[index - 1].kind.is_trivia() {
            index -= 1;
        }
        index
    }

    /// How many children are waiting: hand it to [`Parser::finish`].
    pub fn mark(&self) -> usize {
        self.pending.len()
    }

    /// Makes a node of the tokens from `first` to the position with the children since `mark`,
    /// and leaves it waiting for its own parent.
    pub fn finish(&mut self, kind: NodeKind, first: usize, mark: usize) -> NodeId {
        let behind = self.behind();
        // A node for what is missing stands right behind what was read, not behind the blanks after it:
        // there it could lie outside its own parent.
        let first = first.min(behind);
        let id = self.nodes.next();
        let child = self.link(id, mark);
        self.nodes.push(Node {
            kind,
            first: first as u32,
            head: behind as u32,
            last: behind as u32,
            parent: NONE,
            child,
            next: NONE,
        });
        self.pending.truncate(mark);
        self.pending.push(id);
        id
    }

    /// Chains the children waiting since `mark` under a node that is about to be made.
    fn link(&mut self, parent: NodeId, mark: usize) -> u32 {
        let mut next = NONE;
        for index in (mark..self.pending.len()).rev() {
            let child = self.pending[index];
            let node = &mut self.nodes[child];
            node.parent = parent.0;
            node.next = next;
            next = child.0;
        }
        next
    }

    /// Takes one token as a node of its own.
    pub fn leaf(&mut self, kind: NodeKind) -> NodeId {
        let first = self.bump();
        let mark = self.mark();
        self.finish(kind, first, mark)
    }

    pub fn fault(&mut self, fault: Fault) {
        self.faults.push(fault);
    }

    /// Reports that something else was expected at the position.
    pub fn expected(&mut self, what: &str, help: &str) {
        let (span, found) = self.here();
        // One finding a place is enough: the first says what was missing, and a control character is
        // reported for itself.
        let said = |fault: &Fault| fault.kind == FaultKind::UnexpectedText && fault.span == span;
        let control =
            self.at(TokenKind::Stray) && self.text_of(self.position).contains(char::is_control);
        if control || self.faults.last().is_some_and(said) {
            return;
        }
        let mut fault = Fault::new(
            FaultKind::UnexpectedText,
            span,
            format!("expected {what}, found {found}"),
        );
        if !help.is_empty() {
            fault = fault.help(help);
        }
        self.fault(fault);
    }

    /// The span of the next token and how to call it in a message.
    pub fn here(&self) -> (Span, String) {
        if self.position < self.end {
            (
                self.span_of(self.position),
                format!("`{}`", shown(self.text_of(self.position))),
            )
        } else {
            let at = self.behind();
            let end = self.start_of(at);
            let start = self.text[..end as usize]
                .char_indices()
                .next_back()
                .map_or(end, |(at, _)| at as u32);
            (Span::new(start, end), "the end of the line".to_owned())
        }
    }

    /// Enters one level of nesting; false (with one fault a line) when it would be too deep.
    pub fn enter(&mut self) -> bool {
        if self.nesting >= super::MAX_NESTING {
            if !self.nesting_reported {
                self.nesting_reported = true;
                let span = self.span_of(self.position.min(self.tokens.len().saturating_sub(1)));
                self.fault(
                    Fault::new(
                        FaultKind::NestingTooDeep,
                        span,
                        format!(
                            "expected at most {} nested brackets, found more",
                            super::MAX_NESTING
                        ),
                    )
                    .help("split the expression into several `calc` lines"),
                );
            }
            return false;
        }
        self.nesting += 1;
        true
    }

    pub fn leave(&mut self) {
        self.nesting -= 1;
    }
}

/// The beginning of a text, short enough for a message.
pub(super) fn shown(text: &str) -> std::borrow::Cow<'_, str> {
    match text.char_indices().nth(40) {
        Some((end, _)) => format!("{}…", &text[..end]).into(),
        None => text.into(),
    }
}
