//! What is wrong with the text itself.

use crate::text::Span;

/// The rule that a piece of text breaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum FaultKind {
    /// Not what the grammar expects here.
    UnexpectedText,
    /// A line whose first word is no statement.
    UnknownStatement,
    /// A statement that does not belong here.
    MisplacedStatement,
    /// The closing quote is missing.
    UnterminatedText,
    /// `3,1769`.
    DecimalComma,
    /// `5%` or `412.6mohm`.
    UnitSpaceMissing,
    /// A tab in the indentation.
    TabIndentation,
    /// A control byte.
    ControlCharacter,
    /// The text begins with a byte-order mark.
    ByteOrderMark,
    /// Lines that end in a lone CR.
    LoneCarriageReturn,
    /// More levels of outline than are read.
    OutlineTooDeep,
    /// More nesting than is read.
    NestingTooDeep,
    /// A row with more or fewer cells than its header.
    RowLength,
    /// `n/a` or `amend` without a reason.
    ReasonMissing,
    /// `relax` or `drop` without a reason.
    RelaxWithoutReason,
    /// The first statement is none of plan, register and unit.
    UnknownDocument,
    /// Nothing but blank lines.
    EmptyDocument,
}

/// One fault.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// The rule.
    pub kind: FaultKind,
    /// Where.
    pub span: Span,
    /// What was expected and what stands there.
    pub message: String,
    /// How to mend it.
    pub help: Option<String>,
    /// A change of notation that mends it: a title and replacements.
    pub fix: Option<(String, Vec<(Span, String)>)>,
}

impl Fault {
    /// A fault without help or fix.
    pub fn new(kind: FaultKind, span: Span, message: impl Into<String>) -> Fault {
        Fault {
            kind,
            span,
            message: message.into(),
            help: None,
            fix: None,
        }
    }

    /// Adds how to mend it.
    pub fn help(mut self, help: impl Into<String>) -> Fault {
        self.help = Some(help.into());
        self
    }

    /// Adds a replacement that mends it.
    pub fn fix(mut self, title: impl Into<String>, span: Span, text: impl Into<String>) -> Fault {
        self.fix = Some((title.into(), vec![(span, text.into())]));
        self
    }
}
