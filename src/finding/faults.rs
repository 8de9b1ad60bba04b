//! Faults of the text as findings.

use super::rules;
use super::{Finding, Rule};
use crate::syntax::{Fault, FaultKind};
use crate::text::{FileId, Place};

fn rule(kind: FaultKind) -> &'static Rule {
    match kind {
        FaultKind::UnexpectedText => &rules::UNEXPECTED_TEXT,
        FaultKind::UnknownStatement => &rules::UNKNOWN_STATEMENT,
        FaultKind::MisplacedStatement => &rules::MISPLACED_STATEMENT,
        FaultKind::UnterminatedText => &rules::UNTERMINATED_TEXT,
        FaultKind::DecimalComma => &rules::DECIMAL_COMMA,
        FaultKind::UnitSpaceMissing => &rules::UNIT_SPACE_MISSING,
        FaultKind::TabIndentation => &rules::TAB_INDENTATION,
        FaultKind::ControlCharacter => &rules::CONTROL_CHARACTER,
        FaultKind::ByteOrderMark => &rules::BYTE_ORDER_MARK,
        FaultKind::LoneCarriageReturn => &rules::LONE_CARRIAGE_RETURN,
        FaultKind::OutlineTooDeep => &rules::OUTLINE_TOO_DEEP,
        FaultKind::NestingTooDeep => &rules::NESTING_TOO_DEEP,
        FaultKind::RowLength => &rules::ROW_LENGTH,
        FaultKind::ReasonMissing => &rules::REASON_MISSING,
        FaultKind::RelaxWithoutReason => &rules::RELAX_WITHOUT_REASON,
        FaultKind::UnknownDocument => &rules::UNKNOWN_DOCUMENT,
        FaultKind::EmptyDocument => &rules::EMPTY_DOCUMENT,
    }
}

/// One fault of a document as a finding.
pub fn from_fault(fault: &Fault, file: FileId) -> Finding {
    let mut finding = Finding::new(
        rule(fault.kind),
        Place {
            file,
            span: fault.span,
        },
        fault.message.clone(),
    );
    finding.help = fault.help.clone();
    if let Some((title, edits)) = &fault.fix {
        finding = finding.fix(title.clone(), edits.clone());
    }
    finding
}
