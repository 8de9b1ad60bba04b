//! Rules about `accept` lines.

use crate::finding::{Rule, Severity};

/// `accept-without-finding`: an `accept` line meets no finding.
pub static ACCEPT_WITHOUT_FINDING: Rule = Rule {
    name: "accept-without-finding",
    severity: Severity::Warning,
    summary: "An `accept` line meets no finding.",
    why: "An acceptance that outlives its finding would quiet the next one of its kind at that place, which \
        nobody has looked at.",
    wrong: r#"accept apart-from-sisters because "steel of another lot" by M.Okafor on 2026-03-12
no-load-loss = 21.4 kW"#,
    mend: "Remove the line, or put it directly above the line at which the finding stands, at the same \
        level.",
    reference: "common practice, no source",
    caution: "",
};

/// `accept-refused`: an `accept` line stands above a finding that cannot be quieted, or by someone who may
/// not.
pub static ACCEPT_REFUSED: Rule = Rule {
    name: "accept-refused",
    severity: Severity::Error,
    summary: "This finding cannot be accepted, or not by this person.",
    why: "A person may accept what a person has to look at. What a hold, a seal or a limit says is conceded by \
        a nonconformity, with a disposition that is agreed and closed; what cannot be read is mended. \
        Other errors about people, instruments and papers may be accepted by someone who may release a \
        hold point.",
    wrong: r#"accept out-of-limit because "close enough" by L.Novak on 2026-03-12
height[HV, U] = 1617 mm with TP-11"#,
    mend: "Raise a nonconformity against the reading or the check, have its disposition agreed and close it; \
        or put the work right and measure again.",
    reference: "ISO 9001:2015, 8.7",
    caution: "",
};
