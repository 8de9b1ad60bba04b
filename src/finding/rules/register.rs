//! Rules about people, instruments, nonconformities and amendments.

use crate::finding::{Rule, Severity};

/// `unknown-person`: the person is not in the register.
pub static UNKNOWN_PERSON: Rule = Rule {
    name: "unknown-person",
    severity: Severity::Error,
    summary: "The person is not in the register.",
    why: "Only for people in the register is it known who they are and what they may release.",
    wrong: "height[HV, U] = 1613 mm by L.Nowak",
    mend: "Correct the name; the nearest is named. A new colleague is added to the register first.",
    reference: "ISO 9001:2015, 7.2",
    caution: "",
};

/// `person-not-valid`: the person was not valid in the register on that day.
pub static PERSON_NOT_VALID: Rule = Rule {
    name: "person-not-valid",
    severity: Severity::Error,
    summary: "The person was not valid in the register on that day.",
    why: "Qualifications run out and people change their duties. A release by someone no longer entitled \
        is no release.",
    wrong: r#"person L.Novak "Lena Novak"
  roles test
  valid 2024-01-01 .. 2025-12-31    # the reading is of 2026-02-19"#,
    mend: "Renew the entry if the person was entitled on that day; else have the act repeated by someone \
        who is.",
    reference: "ISO 9001:2015, 7.2",
    caution: "",
};

/// `unknown-instrument`: the instrument is not in the register.
pub static UNKNOWN_INSTRUMENT: Rule = Rule {
    name: "unknown-instrument",
    severity: Severity::Error,
    summary: "The instrument is not in the register.",
    why: "An instrument outside the register has no known calibration: its reading cannot be traced.",
    wrong: "resistance[HV, U] = 412.6 mohm with MR-40",
    mend: "Correct the number; the nearest is named. A new or hired instrument is entered with its \
        certificate first.",
    reference: "ISO 9001:2015, 7.1.5.2",
    caution: "",
};

/// `instrument-out-of-calibration`: the instrument was not in calibration on the day of the reading.
pub static INSTRUMENT_OUT_OF_CALIBRATION: Rule = Rule {
    name: "instrument-out-of-calibration",
    severity: Severity::Error,
    summary: "The instrument was not in calibration on the day of the reading.",
    why: "Outside its calibration an instrument may still be right; nobody can show it. If the next \
        calibration finds it wrong, every reading since the last one is in doubt.",
    wrong: r#"instrument TTR-3 "turns ratio meter"
  calibrated 2025-01-12 due 2026-01-12     # used on 2026-03-30"#,
    mend: "Measure again with an instrument in calibration. If it was calibrated in time, add that \
        calibration to the register.",
    reference: "ISO 9001:2015, 7.1.5.2; ISO/IEC 17025:2017, 6.4",
    caution: "",
};

/// `instrument-does-not-measure`: the instrument is not registered for this kind of reading.
pub static INSTRUMENT_DOES_NOT_MEASURE: Rule = Rule {
    name: "instrument-does-not-measure",
    severity: Severity::Warning,
    summary: "The instrument is not registered for this kind of reading.",
    why: "A slip in the instrument's number is the usual reason; what an instrument is not registered for \
        has no stated accuracy.",
    wrong: "resistance[HV, U] = 412.6 mohm with TTR-3      # TTR-3 measures ratio",
    mend: "Correct the instrument's number, or complete `measures` in the register.",
    reference: "ISO 9001:2015, 7.1.5.1",
    caution: "",
};

/// `nonconformity-open`: a nonconformity is still open at a release that it concerns.
pub static NONCONFORMITY_OPEN: Rule = Rule {
    name: "nonconformity-open",
    severity: Severity::Error,
    summary: "A nonconformity is still open at a release that it concerns.",
    why: "Until it is disposed of, agreed and closed, nobody has decided whether the part may be used.",
    wrong: r#"nonconformity NC-3 on 2026-03-05 by L.Novak
  against winding.height[HV, W]
  found "4 mm over after pressing"
# and later: release H20 by M.Okafor on 2026-03-28 11:00"#,
    mend: "Add `disposition`, `agreed by … on …` and `closed by … on …`, before the release.",
    reference: "ISO 9001:2015, 8.7",
    caution: "",
};

/// `nonconformity-target-unknown`: a nonconformity is raised against something that is not in the plan.
pub static NONCONFORMITY_TARGET_UNKNOWN: Rule = Rule {
    name: "nonconformity-target-unknown",
    severity: Severity::Error,
    summary: "A nonconformity is raised against something that is not in the plan.",
    why: "It would cover nothing, and the failing reading stays uncovered.",
    wrong: "against winding.hight[HV, W]",
    mend: "Name it as stage.name with its index: `against winding.height[HV, W]`.",
    reference: "common practice, no source",
    caution: "",
};

/// `amendment-mismatch`: the value after `was` is not the one on record.
pub static AMENDMENT_MISMATCH: Rule = Rule {
    name: "amendment-mismatch",
    severity: Severity::Error,
    summary: "The value after `was` is not the one on record.",
    why: "An amendment must quote what it replaces, so that nobody amends a reading he has not looked at.",
    wrong: r#"ratio[2, V] = 3.4547
amend ratio[2, V] = 3.4551 was 3.4574 by L.Novak on 2026-03-31 07:45 because "misread display""#,
    mend: "Quote the recorded value, digit for digit: `was 3.4547`.",
    reference: "ISO 9001:2015, 7.5.3",
    caution: "",
};
