//! Statement words and the nearest known word to a mistyped one.

use super::tree::{DocumentKind, NodeKind};

/// The statement that a first word announces in a document of this kind.
pub fn statement(word: &str, document: DocumentKind) -> Option<NodeKind> {
    use NodeKind::*;
    let plan = document == DocumentKind::Plan;
    Some(match word {
        "accept" => Accept,
        "plan" => match document {
            DocumentKind::Unit => PlanChoice,
            _ => Plan,
        },
        "register" => match document {
            DocumentKind::Unit => RegisterChoice,
            _ => Register,
        },
        "design" if plan => DesignPlan,
        "design" => Design,
        "stage" if plan => StagePlan,
        "stage" => StageRecord,
        "log" if plan => LogPlan,
        "log" => Log,
        "column" if plan => ColumnPlan,
        "column" => ColumnMap,
        "title" => Title,
        "decide" => Decide,
        "uncertainty" => Uncertainty,
        "uncertainty-ratio" => UncertaintyRatio,
        "set" => Set,
        "role" => Role,
        "need" => Need,
        "may" => May,
        "after" => After,
        "when" => When,
        "reading" => ReadingPlan,
        "calc" => Calc,
        "check" => Check,
        "require" => Require,
        "limit" => Limit,
        "source" => SourceLine,
        "because" => Because,
        "look" => Look,
        "caution" => Caution,
        "severity" => SeverityLine,
        "causes" => Causes,
        "compare" => Compare,
        "independent" => Independent,
        "concessions" => Concessions,
        "sealed" => SealedPoints,
        "hold" => Hold,
        "witness" => Witness,
        "review" => Review,
        "tighten" => Tighten,
        "relax" => Relax,
        "drop" => Drop,
        "add" => Add,
        "zone" => Zone,
        "person" => Person,
        "roles" => Roles,
        "key" => Key,
        "valid" => Valid,
        "retired" => Retired,
        "instrument" => Instrument,
        "measures" => Measures,
        "range" => InstrumentRange,
        "accuracy" => Accuracy,
        "calibrated" => Calibrated,
        "unit" => Unit,
        "lot" => Lot,
        "table" => Table,
        "attach" => Attach,
        "note" => Note,
        "release" => Release,
        "witnessed" => Witnessed,
        "waived" => Waived,
        "reviewed" => Reviewed,
        "notified" => Notified,
        "seal" => Seal,
        "covers" => Covers,
        "signature" => Signature,
        "amend" => Amend,
        "nonconformity" => Nonconformity,
        "against" => Against,
        "found" => Found,
        "disposition" => Disposition,
        "agreed" => Agreed,
        "closed" => Closed,
        "on" | "by" | "with" | "at" => Context,
        _ => return None,
    })
}

/// All statement words, for suggestions.
pub const STATEMENT_WORDS: &[&str] = &[
    "accept",
    "accuracy",
    "add",
    "after",
    "against",
    "agreed",
    "amend",
    "attach",
    "because",
    "calc",
    "calibrated",
    "causes",
    "caution",
    "check",
    "closed",
    "column",
    "compare",
    "concessions",
    "covers",
    "decide",
    "design",
    "disposition",
    "drop",
    "found",
    "hold",
    "independent",
    "instrument",
    "key",
    "limit",
    "log",
    "look",
    "lot",
    "may",
    "measures",
    "need",
    "nonconformity",
    "note",
    "notified",
    "person",
    "plan",
    "range",
    "reading",
    "register",
    "relax",
    "release",
    "require",
    "retired",
    "review",
    "reviewed",
    "role",
    "roles",
    "seal",
    "sealed",
    "set",
    "severity",
    "signature",
    "source",
    "stage",
    "table",
    "tighten",
    "title",
    "uncertainty",
    "uncertainty-ratio",
    "unit",
    "valid",
    "waived",
    "when",
    "witness",
    "witnessed",
    "zone",
];

/// True for words that begin a clause and so never are a unit.
pub fn is_clause_word(word: &str) -> bool {
    matches!(
        word,
        "at" | "with"
            | "by"
            | "on"
            | "because"
            | "was"
            | "from"
            | "of"
            | "for"
            | "k"
            | "due"
            | "certificate"
    )
}

/// True for words that mean something inside an expression and so never are a unit there.
pub fn is_expression_word(word: &str) -> bool {
    matches!(
        word,
        "and"
            | "or"
            | "not"
            | "in"
            | "if"
            | "then"
            | "else"
            | "because"
            | "of"
            | "k"
            | "notice"
            | "sealed"
    )
}

/// The known name nearest to `wrong`, if one is near enough to be meant.
pub fn nearest<'a>(wrong: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let folded = wrong.to_lowercase();
    let length = wrong.chars().count();
    known
        .into_iter()
        .filter(|candidate| *candidate != wrong && candidate.len().abs_diff(wrong.len()) <= 3)
        .map(|candidate| {
            let same_but_case = candidate.to_lowercase() == folded;
            let distance = if same_but_case {
                0
            } else {
                strsim::damerau_levenshtein(wrong, candidate)
            };
            (distance, candidate)
        })
        .filter(|(distance, _)| *distance <= length.div_ceil(3).min(3))
        .min()
        .map(|(_, candidate)| candidate)
}
