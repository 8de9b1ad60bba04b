//! Rules about whether an instrument was fit for what was read with it.

use crate::finding::{Rule, Severity};

/// `instrument-too-coarse`: the uncertainty of the instrument does not go often enough into the tolerance.
pub static INSTRUMENT_TOO_COARSE: Rule = Rule {
    name: "instrument-too-coarse",
    severity: Severity::Warning,
    summary: "The uncertainty of the instrument does not go often enough into the tolerance.",
    why: "Near the limit a coarse instrument says nothing: the part may be as good or as bad as the reading. \
        Half the width of a limit with two sides has to be so many times the expanded uncertainty (k = 2), \
        four times where the plan has no `uncertainty-ratio`. A limit with one side has no width and is not \
        judged so; under `decide guarded`, and under a check, a ratio is held only where the plan states one. \
        For a check the uncertainties of what goes in are carried through. Accuracy without k is a limit of error.",
    wrong: "height[HV, U] = 1613 mm with TP-2     # limit 1612 mm +3/-0 mm, accuracy 1 mm  k = 2",
    mend: "Measure with a finer instrument. Where there is none, let the plan say `decide guarded`, which \
        draws the limit in by the uncertainty, or a lower `uncertainty-ratio`.",
    reference: "common practice, no source; as a test uncertainty ratio in ANSI/NCSL Z540.3, from memory",
    caution: "",
};

/// `outside-instrument-range`: a value lies outside the range of the instrument it was read with.
pub static OUTSIDE_INSTRUMENT_RANGE: Rule = Rule {
    name: "outside-instrument-range",
    severity: Severity::Warning,
    summary: "A value lies outside the range of the instrument it was read with.",
    why: "Outside its range an instrument has no stated accuracy and was not calibrated. A slip in the \
        instrument's number or in the unit is the usual reason.",
    wrong: "resistance[HV, U] = 412.6 ohm with MR-04      # range 0.01 mohm .. 100 ohm",
    mend: "Correct the instrument's number, or `amend` a misread unit. If it was so, measure again with an \
        instrument whose range it is.",
    reference: "ISO 9001:2015, 7.1.5.1",
    caution: "",
};
