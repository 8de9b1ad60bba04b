//! Values as a record writes them: quantities, tolerances, ranges, bounds, dates, texts, names.

use super::cursor::{Parser, shown};
use super::fault::{Fault, FaultKind};
use super::token::TokenKind;
use super::tree::{NodeId, NodeKind, Tree};
use super::words::{is_clause_word, is_expression_word};
use crate::text::Span;

/// The pieces of a written quantity: `-8.5 °C`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct QuantityText<'t> {
    /// A minus sign stands before the number.
    pub negative: bool,
    /// The number's own digits; with a comma where a decimal comma was written.
    pub number: &'t str,
    /// Where the number stands.
    pub number_span: Span,
    /// The unit as written.
    pub unit: Option<&'t str>,
    /// Where the unit stands.
    pub unit_span: Span,
}

impl Tree {
    /// Takes a quantity node apart.
    pub fn quantity(&self, id: NodeId) -> Option<QuantityText<'_>> {
        let node = self.node(id);
        let mut tokens = (node.first as usize..node.head as usize)
            .filter(|at| !self.tokens[*at].kind.is_trivia());
        let mut at = tokens.next()?;
        let negative = self.tokens[at].kind == TokenKind::Minus;
        if negative {
            at = tokens.next()?;
        }
        if self.tokens[at].kind != TokenKind::Number {
            return None;
        }
        let mut number_span = self.token_span(at);
        let mut next = tokens.next();
        // A decimal comma, reported by the parser: the digits behind it belong to the number.
        if next.is_some_and(|comma| self.tokens[comma].kind == TokenKind::Comma) {
            if let Some(decimals) = tokens.next() {
                let own = self.token_span(decimals);
                if let Some(digits) = glued_digits(self.token_text(decimals)) {
                    // `2,5kW`: the unit begins in the same word, which was reported too.
                    let border = own.start + digits as u32;
                    return Some(QuantityText {
                        negative,
                        number: &self.text[number_span.start as usize..border as usize],
                        number_span: Span::new(number_span.start, border),
                        unit: Some(&self.text[border as usize..self.span(id).end as usize]),
                        unit_span: Span::new(border, self.span(id).end),
                    });
                }
                number_span = number_span.cover(own);
            }
            next = tokens.next();
        }
        let unit_span = match next {
            Some(first) => Span::new(self.token_start(first), self.span(id).end),
            None => Span::new(number_span.end, number_span.end),
        };
        let unit = (!unit_span.is_empty()).then(|| &self.text[unit_span.range()]);
        Some(QuantityText {
            negative,
            number: &self.text[number_span.range()],
            number_span,
            unit,
            unit_span,
        })
    }
}

impl Parser<'_> {
    /// `value`: leaves one node waiting. False (with a fault) when nothing readable stands here.
    pub fn value(&mut self) -> bool {
        let first = self.position;
        let mark = self.mark();
        match self.peek() {
            Some(TokenKind::Question) => {
                self.leaf(NodeKind::Pending);
                true
            }
            Some(TokenKind::NotApplicable) => {
                self.bump();
                if self.at(TokenKind::Text) {
                    self.leaf(NodeKind::TextPart);
                } else if self.at(TokenKind::OpenText) {
                    self.open_text();
                } else {
                    let span = self.span_of(first);
                    self.fault(
                        Fault::new(
                            FaultKind::ReasonMissing,
                            span,
                            "expected a reason in quotes after `n/a`, found none",
                        )
                        .help("write why it does not apply: n/a \"no tap-changer on this unit\""),
                    );
                }
                self.finish(NodeKind::NotApplicable, first, mark);
                true
            }
            Some(TokenKind::Less | TokenKind::AtMost | TokenKind::Greater | TokenKind::AtLeast) => {
                self.bump();
                let read = self.quantity();
                if !read {
                    self.expected("a number with its unit after the comparison sign", "");
                }
                self.finish(NodeKind::Bound, first, mark);
                read
            }
            Some(TokenKind::Number | TokenKind::Minus) => self.number_value(first, mark),
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
            Some(TokenKind::Name) => {
                self.path(NodeKind::Path);
                while self.at(TokenKind::Comma) {
                    self.bump();
                    if self.at(TokenKind::Name) {
                        self.path(NodeKind::Path);
                    } else {
                        self.expected("a name after the comma", "");
                        break;
                    }
                }
                self.finish(NodeKind::NameList, first, mark);
                true
            }
            _ => {
                self.expected(
                    "a value",
                    "write a number with its unit, a date, a text in quotes, a name, `?` for pending, or n/a with a reason",
                );
                false
            }
        }
    }

    fn number_value(&mut self, first: usize, mark: usize) -> bool {
        if !self.quantity() {
            self.expected("a number", "");
            return false;
        }
        match self.peek() {
            Some(TokenKind::DotDot) => {
                self.bump();
                if !self.quantity() {
                    self.expected("the upper end of the range after `..`", "");
                }
                self.finish(NodeKind::Range, first, mark);
            }
            Some(TokenKind::PlusMinus) => {
                self.bump();
                if !self.quantity() {
                    self.expected("a tolerance after `+-`", "write it as 1612 mm +- 3 mm");
                }
                self.finish(NodeKind::PlusMinus, first, mark);
            }
            Some(TokenKind::Plus) => {
                self.plus_slash_minus();
                self.finish(NodeKind::PlusSlashMinus, first, mark);
            }
            _ => {}
        }
        true
    }

    /// `+3/-0 mm` after a value: leaves two quantities waiting.
    pub fn plus_slash_minus(&mut self) {
        self.bump();
        let help = "write it as 1612 mm +3/-0 mm";
        if !self.at(TokenKind::Number) {
            self.expected("the upper tolerance after `+`", help);
            return;
        }
        self.leaf(NodeKind::Quantity);
        if !self.eat(TokenKind::Slash) {
            self.expected("`/-` and the lower tolerance", help);
            return;
        }
        if !self.eat(TokenKind::Minus) || !self.quantity() {
            self.expected("`-` and the lower tolerance", help);
        }
    }

    /// True when `+3/-0` stands here, written without blanks inside.
    pub fn at_plus_slash_minus(&self) -> bool {
        let kinds = |offset: usize| {
            self.tokens
                .get(self.position + offset)
                .map(|token| token.kind)
        };
        self.position + 3 < self.end
            && kinds(0) == Some(TokenKind::Plus)
            && kinds(1) == Some(TokenKind::Number)
            && kinds(2) == Some(TokenKind::Slash)
            && kinds(3) == Some(TokenKind::Minus)
    }

    /// `quantity`: leaves one node waiting when a number stands here.
    pub fn quantity(&mut self) -> bool {
        let first = self.position;
        let mark = self.mark();
        if self.at(TokenKind::Minus) {
            let number_follows = self.after_next().is_some_and(|at| {
                self.tokens[at].kind == TokenKind::Number
                    || glued_digits(self.text_of(at)).is_some()
            });
            if !number_follows {
                return false;
            }
            self.bump();
        }
        if !self.at(TokenKind::Number) {
            return self.glued_quantity(first, mark);
        }
        let number = self.bump();
        let with_unit = self.brackets == 0 && self.decimal_comma(number);
        if !with_unit {
            self.unit_behind_number(number);
        }
        self.finish(NodeKind::Quantity, first, mark);
        true
    }

    /// `3mm` where only a quantity can stand: it reads as one name, and what is meant is plain.
    fn glued_quantity(&mut self, first: usize, mark: usize) -> bool {
        let Some(digits) = self.peek_name().and_then(glued_digits) else {
            return false;
        };
        let start = self.span_of(self.position).start;
        let gap = start + digits as u32;
        self.unit_tokens();
        let whole = Span::new(start, self.start_of(self.behind()));
        let number = shown(&self.text[start as usize..gap as usize]).into_owned();
        let unit = shown(&self.text[gap as usize..whole.end as usize]).into_owned();
        self.fault(
            Fault::new(
                FaultKind::UnitSpaceMissing,
                whole,
                format!("expected a space between number and unit, found `{number}{unit}`"),
            )
            .help(format!("write {number} {unit}, as ISO 80000-1 does"))
            .fix("put a space before the unit", Span::new(gap, gap), " "),
        );
        self.finish(NodeKind::Quantity, first, mark);
        true
    }

    /// `3,1769`: reported, and read as one number so that nothing else goes wrong with it. True where the unit stood in
    /// the same word (`2,5kW`) and was read with it.
    fn decimal_comma(&mut self, number: usize) -> bool {
        let kind = |at: usize| self.tokens.get(at).map(|token| token.kind);
        let decimals = number + 2;
        if decimals >= self.end
            || kind(number + 1) != Some(TokenKind::Comma)
            || self.text_of(number).contains('.')
        {
            return false;
        }
        let digits = match kind(decimals) {
            Some(TokenKind::Number) => None,
            Some(TokenKind::Name) => match glued_digits(self.text_of(decimals)) {
                Some(digits) => Some(digits as u32),
                None => return false,
            },
            _ => return false,
        };
        let own = self.span_of(decimals);
        let end = digits.map_or(own.end, |digits| own.start + digits);
        let span = Span::new(self.span_of(number).start, end);
        let comma = self.span_of(number + 1);
        let written = self.text[span.range()].to_owned();
        let pointed = written.replacen(',', ".", 1);
        self.fault(
            Fault::new(
                FaultKind::DecimalComma,
                span,
                format!(
                    "expected a decimal point, found the decimal comma in `{}`",
                    shown(&written)
                ),
            )
            .help(format!("write {}", shown(&pointed)))
            .fix("write the decimal point", comma, "."),
        );
        if digits.is_none() {
            self.seek(decimals + 1);
            return false;
        }
        self.seek(decimals);
        self.unit_tokens();
        let whole = Span::new(span.start, self.start_of(self.behind()));
        let unit = shown(&self.text[end as usize..whole.end as usize]).into_owned();
        self.fault(
            Fault::new(
                FaultKind::UnitSpaceMissing,
                whole,
                format!(
                    "expected a space between number and unit, found `{}{unit}`",
                    shown(&written)
                ),
            )
            .help(format!(
                "write {} {unit}, as ISO 80000-1 does",
                shown(&pointed)
            ))
            .fix("put a space before the unit", Span::new(end, end), " "),
        );
        true
    }

    /// The unit that follows a number, if one does; reports a missing space between them.
    fn unit_behind_number(&mut self, number: usize) {
        if !self.at_unit() {
            return;
        }
        if self.position == number + 1 {
            let span = self.span_of(number);
            let unit_at = self.position;
            self.unit_tokens();
            let whole = span.cover(Span::new(span.start, self.start_of(self.behind())));
            let number_text = shown(self.text_of(number)).into_owned();
            let unit_text =
                shown(&self.text[self.span_of(unit_at).start as usize..whole.end as usize])
                    .into_owned();
            self.fault(
                Fault::new(
                    FaultKind::UnitSpaceMissing,
                    whole,
                    format!(
                        "expected a space between number and unit, found `{number_text}{unit_text}`"
                    ),
                )
                .help(format!(
                    "write {number_text} {unit_text}, as ISO 80000-1 does"
                ))
                .fix(
                    "put a space before the unit",
                    Span::new(span.end, span.end),
                    " ",
                ),
            );
        } else {
            self.unit_tokens();
        }
    }

    fn at_unit(&self) -> bool {
        match self.peek() {
            Some(TokenKind::Percent) => true,
            Some(TokenKind::Name) => {
                let word = self.text_of(self.position);
                let call = self.glued_next() == Some(TokenKind::OpenParen)
                    || self.glued_next() == Some(TokenKind::OpenBracket);
                if call {
                    false
                } else if self.in_expression {
                    !is_expression_word(word) || word == "in" && !self.value_follows()
                } else {
                    !is_clause_word(word)
                }
            }
            Some(TokenKind::Number) => {
                // `1/s` as a unit: the figure one, glued to a slash.
                self.text_of(self.position) == "1" && self.glued_next() == Some(TokenKind::Slash)
            }
            _ => false,
        }
    }

    /// Whether the word at hand is followed by a value: then `in` asks whether something lies in it, else
    /// it is the inch.
    fn value_follows(&self) -> bool {
        self.after_next().is_some_and(|at| {
            matches!(
                self.tokens[at].kind,
                TokenKind::Number | TokenKind::Name | TokenKind::OpenParen
            )
        })
    }

    /// Takes the tokens of one unit: names, `*`, `/`, `^` and exponents with no blank between them.
    pub fn unit_tokens(&mut self) {
        let mut at = self.position;
        loop {
            at += 1;
            let kind = |index: usize| (index < self.end).then(|| self.tokens[index].kind);
            if kind(at) == Some(TokenKind::Caret) {
                let exponent = if kind(at + 1) == Some(TokenKind::Minus) {
                    at + 2
                } else {
                    at + 1
                };
                if kind(exponent) != Some(TokenKind::Number) {
                    break;
                }
                at = exponent + 1;
            }
            let joined = matches!(kind(at), Some(TokenKind::Star | TokenKind::Slash))
                && matches!(kind(at + 1), Some(TokenKind::Name | TokenKind::Percent));
            if !joined {
                break;
            }
            at += 1;
        }
        self.seek(at);
    }

    /// `date-time`: leaves one node waiting.
    pub fn date_time(&mut self) {
        let first = self.bump();
        let mark = self.mark();
        if self.at(TokenKind::Time) {
            self.bump();
            // An offset is written without a blank behind its sign; `+ 2 h` of an expression is none.
            let sign = matches!(self.peek(), Some(TokenKind::Plus | TokenKind::Minus));
            if sign && self.glued_next() == Some(TokenKind::Time) {
                self.bump();
                self.bump();
            }
        }
        self.finish(NodeKind::DateTime, first, mark);
    }

    /// A text whose closing quote is missing: taken whole, reported.
    pub fn open_text(&mut self) {
        let span = self.span_of(self.position);
        let head = Span::new(span.start, span.start + 1);
        self.fault(
            Fault::new(
                FaultKind::UnterminatedText,
                head,
                "expected a closing quote before the end of the line, found none",
            )
            .help("close the text with \" on the same line"),
        );
        self.leaf(NodeKind::TextPart);
        let end = self.end;
        self.seek(end);
    }

    /// `path`: names joined by dots without blanks; leaves one node waiting.
    pub fn path(&mut self, kind: NodeKind) {
        let first = self.position;
        let mark = self.mark();
        let mut at = self.position;
        while at + 2 < self.end
            && self.tokens[at + 1].kind == TokenKind::Dot
            && self.tokens[at + 2].kind == TokenKind::Name
        {
            at += 2;
        }
        self.seek(at + 1);
        // A trailing dot is half-typed text: keep it with the path.
        if self.at(TokenKind::Dot) && self.position == at + 1 {
            self.bump();
            self.expected("a name after the dot", "");
        }
        self.finish(kind, first, mark);
    }
}

/// How many digits a name such as `3mm` begins with, when letters follow them.
fn glued_digits(name: &str) -> Option<usize> {
    let digits = name.find(|character: char| !character.is_ascii_digit())?;
    (digits > 0 && name[digits..].starts_with(char::is_alphabetic)).then_some(digits)
}
