//! Expressions of the plan language, by precedence climbing over the grammar's levels.

use super::cursor::Parser;
use super::fault::{Fault, FaultKind};
use super::token::TokenKind;
use super::tree::NodeKind;
use super::{MAX_CHAIN, MAX_NESTING};

impl Parser<'_> {
    /// `expression`: leaves one node waiting. False when nothing readable stands here.
    pub fn expression(&mut self) -> bool {
        if !self.enter() {
            self.skip_line();
            return false;
        }
        let outer = std::mem::replace(&mut self.in_expression, true);
        let read = if self.at_word("if") {
            self.condition()
        } else {
            self.binary(0)
        };
        self.in_expression = outer;
        self.leave();
        read
    }

    /// `interval` or a plain expression, as `limit` and `in` take it.
    pub fn interval(&mut self) -> bool {
        let first = self.position;
        let mark = self.mark();
        let outer = std::mem::replace(&mut self.in_expression, true);
        let read = self.binary(SUM_LEVEL);
        if read {
            match self.peek() {
                Some(TokenKind::DotDot) => {
                    self.bump();
                    if !self.binary(SUM_LEVEL) {
                        self.expected("the upper end of the range after `..`", "");
                    }
                    self.finish(NodeKind::Range, first, mark);
                }
                Some(TokenKind::PlusMinus) => {
                    self.bump();
                    if !self.binary(SUM_LEVEL) {
                        self.expected("a tolerance after `+-`", "");
                    }
                    self.finish(NodeKind::PlusMinus, first, mark);
                }
                Some(TokenKind::Plus) if self.at_plus_slash_minus() => {
                    self.plus_slash_minus();
                    self.finish(NodeKind::PlusSlashMinus, first, mark);
                }
                _ => {}
            }
        }
        self.in_expression = outer;
        read
    }

    fn condition(&mut self) -> bool {
        let first = self.bump();
        let mark = self.mark();
        let help = "write: if CONDITION then VALUE else VALUE";
        if !self.expression() {
            return false;
        }
        if !self.eat_word("then") {
            self.expected("`then`", help);
        } else if !self.expression() {
            return false;
        } else if !self.eat_word("else") {
            self.expected("`else`", help);
        } else if !self.expression() {
            return false;
        }
        self.finish(NodeKind::If, first, mark);
        true
    }

    /// Reads operators of `level` and tighter ones.
    fn binary(&mut self, level: usize) -> bool {
        if level == NOT_LEVEL {
            if self.at_word("not") {
                let first = self.bump();
                let mark = self.mark();
                if !self.enter() {
                    self.skip_line();
                    return false;
                }
                let read = self.binary(NOT_LEVEL);
                self.leave();
                self.finish(NodeKind::Not, first, mark);
                return read;
            }
            return self.binary(RELATION_LEVEL);
        }
        if level == PREFIX_LEVEL {
            return self.prefix();
        }
        let first = self.position;
        let mark = self.mark();
        if !self.binary(level + 1) {
            return false;
        }
        let mut chain = 0;
        while let Some(kind) = self.operator(level) {
            chain += 1;
            if chain > MAX_CHAIN {
                let span = self.span_of(self.position);
                self.fault(
                    Fault::new(
                        FaultKind::NestingTooDeep,
                        span,
                        format!(
                            "expected at most {MAX_CHAIN} operators in one expression, found more"
                        ),
                    )
                    .help("split the expression into several `calc` lines"),
                );
                self.skip_line();
                break;
            }
            self.bump();
            let right = if kind == NodeKind::In {
                self.interval()
            } else {
                self.binary(level + 1)
            };
            if !right {
                self.finish(kind, first, mark);
                return false;
            }
            self.finish(kind, first, mark);
        }
        true
    }

    fn operator(&self, level: usize) -> Option<NodeKind> {
        let token = self.peek()?;
        let word = |word: &str| token == TokenKind::Name && self.text_of(self.position) == word;
        match level {
            0 if word("or") => Some(NodeKind::Or),
            1 if word("and") => Some(NodeKind::And),
            RELATION_LEVEL => match token {
                TokenKind::Equals => Some(NodeKind::Equal),
                TokenKind::NotEqual => Some(NodeKind::NotEqual),
                TokenKind::Less => Some(NodeKind::Less),
                TokenKind::AtMost => Some(NodeKind::AtMost),
                TokenKind::Greater => Some(NodeKind::Greater),
                TokenKind::AtLeast => Some(NodeKind::AtLeast),
                _ if word("in") => Some(NodeKind::In),
                _ => None,
            },
            SUM_LEVEL => match token {
                TokenKind::Plus if self.at_plus_slash_minus() => None,
                TokenKind::Plus => Some(NodeKind::Sum),
                TokenKind::Minus => Some(NodeKind::Difference),
                _ => None,
            },
            5 => match token {
                TokenKind::Star => Some(NodeKind::Product),
                TokenKind::Slash => Some(NodeKind::Quotient),
                _ => None,
            },
            _ => None,
        }
    }

    /// A minus binds looser than a power, as in written formulas: `-x^2` is minus the square.
    fn prefix(&mut self) -> bool {
        if !self.at(TokenKind::Minus) {
            return self.power();
        }
        let glued = self.glued_next() == Some(TokenKind::Number);
        let raised = self
            .after_next()
            .and_then(|number| (number + 1..self.end).find(|at| !self.tokens[*at].kind.is_trivia()))
            .is_some_and(|behind| self.tokens[behind].kind == TokenKind::Caret);
        if glued && !raised {
            // `-5 °C` is a point below zero, not minus a point.
            return self.quantity();
        }
        let first = self.bump();
        let mark = self.mark();
        if !self.enter() {
            self.skip_line();
            return false;
        }
        let read = self.prefix();
        self.leave();
        self.finish(NodeKind::Negative, first, mark);
        read
    }

    fn power(&mut self) -> bool {
        let first = self.position;
        let mark = self.mark();
        if !self.primary() {
            return false;
        }
        if !self.eat(TokenKind::Caret) {
            return true;
        }
        let negative = self.at(TokenKind::Minus);
        let read = if negative {
            self.prefix()
        } else {
            self.primary()
        };
        self.finish(NodeKind::Power, first, mark);
        if read && self.at(TokenKind::Caret) {
            self.expected(
                "brackets around one of the powers",
                "write (a ^ b) ^ c or a ^ (b ^ c)",
            );
            return false;
        }
        read
    }

    fn primary(&mut self) -> bool {
        let first = self.position;
        let mark = self.mark();
        match self.peek() {
            Some(TokenKind::Number) => self.quantity(),
            Some(TokenKind::Date) => {
                self.date_time();
                true
            }
            Some(TokenKind::Text) => {
                self.leaf(NodeKind::TextPart);
                true
            }
            Some(TokenKind::OpenText) => {
                self.open_text();
                true
            }
            Some(TokenKind::OpenParen) => {
                self.bump();
                let read = self.expression();
                if read && !self.eat(TokenKind::CloseParen) {
                    self.expected("`)`", "close the bracket that was opened before");
                    self.finish(NodeKind::Group, first, mark);
                    return false;
                }
                self.finish(NodeKind::Group, first, mark);
                read
            }
            Some(TokenKind::Name) if self.glued_next() == Some(TokenKind::OpenParen) => {
                self.leaf(NodeKind::Name);
                self.bump();
                let mut read = true;
                if !self.at(TokenKind::CloseParen) {
                    read = self.list(|parser| parser.expression());
                }
                if read && !self.eat(TokenKind::CloseParen) {
                    self.expected("`)` or a comma", "close the bracket that was opened before");
                    read = false;
                }
                self.finish(NodeKind::Call, first, mark);
                read
            }
            Some(TokenKind::Name) => {
                self.path(NodeKind::Path);
                let mut read = true;
                if self.at(TokenKind::OpenBracket) {
                    read = self.index();
                }
                self.finish(NodeKind::Reference, first, mark);
                read
            }
            _ => {
                self.expected("a value, a name or `(`", "");
                false
            }
        }
    }

    /// `index`: leaves one node waiting.
    pub fn index(&mut self) -> bool {
        let first = self.bump();
        let mark = self.mark();
        let outer = std::mem::replace(&mut self.in_expression, true);
        let mut read = self.list(|parser| {
            if parser.at(TokenKind::Star) {
                parser.leaf(NodeKind::Star);
                true
            } else {
                parser.expression()
            }
        });
        self.in_expression = outer;
        if read && !self.eat(TokenKind::CloseBracket) {
            self.expected("`]` or a comma", "close the index that was opened before");
            read = false;
        }
        self.finish(NodeKind::Index, first, mark);
        read
    }

    fn list(&mut self, mut item: impl FnMut(&mut Self) -> bool) -> bool {
        self.brackets += 1;
        let read = self.items(&mut item);
        self.brackets -= 1;
        read
    }

    fn items(&mut self, item: &mut impl FnMut(&mut Self) -> bool) -> bool {
        for _ in 0..MAX_ARGUMENTS {
            if !item(self) {
                return false;
            }
            if !self.eat(TokenKind::Comma) {
                return true;
            }
        }
        self.expected("fewer arguments", "");
        false
    }

    pub fn skip_line(&mut self) {
        let end = self.end;
        self.seek(end);
    }
}

/// Most arguments of one call.
const MAX_ARGUMENTS: usize = 10_000;
const NOT_LEVEL: usize = 2;
const RELATION_LEVEL: usize = 3;
const SUM_LEVEL: usize = 4;
const PREFIX_LEVEL: usize = 6;
const _: () = assert!(
    MAX_NESTING < 200,
    "each level of nesting costs eight stack frames"
);
