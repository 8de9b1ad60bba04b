//! Rows of tables and logs: where one cell ends and the next begins.
//!
//! Two blanks (or a tab) always part cells. One blank parts them only where the row would not fit its
//! header otherwise, and never between a date, its time and its offset or between `n/a` and its reason.

use super::cursor::Parser;
use super::fault::{Fault, FaultKind};
use super::token::TokenKind;
use super::tree::NodeKind;

impl Parser<'_> {
    /// `header-row`: leaves its parts waiting and gives the number of columns.
    pub fn header_row(&mut self) -> usize {
        let mut columns = 0;
        while self.position < self.end {
            let first = self.position;
            let mark = self.mark();
            match self.peek() {
                Some(TokenKind::Name | TokenKind::Number) => {
                    let glued = self.glued_next() == Some(TokenKind::OpenParen);
                    self.leaf(NodeKind::Name);
                    if glued {
                        self.unit_in_parens();
                    }
                    self.finish(NodeKind::HeaderCell, first, mark);
                    columns += 1;
                }
                _ => {
                    self.expected(
                        "a column name, with its unit in parentheses if it has one",
                        "head each column with an index, a member, a reading, or at, with, by, on",
                    );
                    return columns;
                }
            }
        }
        columns
    }

    /// `(unit)` behind a name: leaves one node waiting.
    pub fn unit_in_parens(&mut self) {
        self.bump();
        if matches!(
            self.peek(),
            Some(TokenKind::Name | TokenKind::Percent | TokenKind::Number)
        ) {
            let first = self.position;
            let mark = self.mark();
            self.unit_tokens();
            self.finish(NodeKind::UnitPart, first, mark);
        } else {
            self.expected(
                "a unit",
                "write the unit between the parentheses, as in height(mm)",
            );
        }
        if !self.eat(TokenKind::CloseParen) {
            self.expected("`)` after the unit", "");
        }
    }

    /// `row`: leaves one value a cell waiting; reports a row that does not fit `columns`.
    pub fn row(&mut self, columns: usize) {
        let (first, end) = (self.position, self.end);
        self.cells.clear();
        self.split_hard(first, end);
        if self.cells.len() != columns {
            self.split_soft();
        }
        let found = self.cells.len();
        if found != columns && columns > 0 {
            let span = self
                .span_of(first)
                .cover(self.span_of(self.line_end(end) - 1));
            let (relation, help) = if found < columns {
                (
                    "too short",
                    "write `?` for a cell that is still to be recorded",
                )
            } else {
                (
                    "too long",
                    "part cells by two blanks where a cell holds one, as 1613 mm does, or write the unit in the header, as in height(mm)",
                )
            };
            self.fault(
                Fault::new(
                    FaultKind::RowLength,
                    span,
                    format!(
                        "expected {columns} cells as in the header, found {found}: the row is {relation}"
                    ),
                )
                .help(help),
            );
        }
        for index in 0..found {
            let (from, to) = self.cells[index];
            self.end = to as usize;
            self.seek(from as usize);
            let mark = self.mark();
            if !self.value() {
                self.skip_line();
                self.finish(NodeKind::Rest, from as usize, mark);
            } else if self.position < self.end {
                self.expected(
                    "one value in the cell",
                    "part the cells by two blanks or more",
                );
            }
        }
        self.end = end;
        self.seek(end);
    }

    fn line_end(&self, mut end: usize) -> usize {
        while end > 1 && self.tokens[end - 1].kind.is_trivia() {
            end -= 1;
        }
        end
    }

    fn split_hard(&mut self, first: usize, end: usize) {
        let mut start = first;
        for at in first..end {
            let kind = self.tokens[at].kind;
            if !kind.is_trivia() {
                continue;
            }
            let hard = kind != TokenKind::Space || {
                let space = self.span_of(at);
                space.len() > 1 || self.text.as_bytes()[space.start as usize] == b'\t'
            };
            if hard {
                if start < at {
                    self.cells.push((start as u32, at as u32));
                }
                start = at + 1;
            }
        }
        if start < end {
            self.cells.push((start as u32, end as u32));
        }
    }

    /// Splits the cells found so far at single blanks too, except inside what belongs together.
    fn split_soft(&mut self) {
        let hard = std::mem::take(&mut self.cells);
        let mut cells = Vec::with_capacity(hard.len() * 2);
        for (from, to) in hard {
            let mut start = from;
            for at in from..to {
                if self.tokens[at as usize].kind != TokenKind::Space {
                    continue;
                }
                let before = self.tokens[at as usize - 1].kind;
                let after = self.tokens.get(at as usize + 1).map(|token| token.kind);
                let further = self.tokens.get(at as usize + 2).map(|token| token.kind);
                let offset = further == Some(TokenKind::Time);
                let joined = matches!(
                    (before, after),
                    (TokenKind::Date, Some(TokenKind::Time))
                        | (TokenKind::NotApplicable, Some(TokenKind::Text))
                ) || before == TokenKind::Time
                    && offset
                    && matches!(after, Some(TokenKind::Plus | TokenKind::Minus));
                if !joined {
                    if start < at {
                        cells.push((start, at));
                    }
                    start = at + 1;
                }
            }
            if start < to {
                cells.push((start, to));
            }
        }
        self.cells = cells;
    }
}
