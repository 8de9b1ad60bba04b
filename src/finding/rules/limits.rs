//! Rules about readings against limits and checks, and about what is needed and not there.

use crate::finding::{Rule, Severity};

/// `out-of-limit`: a reading is outside its limit.
pub static OUT_OF_LIMIT: Rule = Rule {
    name: "out-of-limit",
    severity: Severity::Error,
    summary: "A reading is outside its limit.",
    why: "The limit stands in the plan, with its source. What is outside it is either wrong on the unit, \
        wrongly read or wrongly written, and each of the three is answered differently.",
    wrong: "height[HV, U] = 1617 mm     # design: 1612 mm +3/-0 mm",
    mend: "Measure again with a fit instrument. If it was misread, `amend` it with name, time and reason. \
        If the part is so, open a nonconformity against it. Never write the value that would pass.",
    reference: "ISO 9001:2015, 8.6 and 8.7",
    caution: "A dielectric test is not a thing to repeat at will: it ages the insulation, and it is done \
        behind interlocks by authorised persons. Local codes, the works' rules and licensed practice \
        come first.",
};

/// `check-failed`: a check of the plan does not hold for what was recorded.
pub static CHECK_FAILED: Rule = Rule {
    name: "check-failed",
    severity: Severity::Error,
    summary: "A check of the plan does not hold for what was recorded.",
    why: "The finding shows the readings that went in, the formula with the numbers put in, the limit and \
        its source; likely causes come first where the plan names an analysis.",
    wrong: "table ratio
  tap  U       V       W
  1    3.4946  3.5396  3.4947",
    mend: "Start with the likely causes listed; measure again before anything is opened. What stays wrong \
        gets a nonconformity.",
    reference: "the source named in the plan beside the check",
    caution: "A dielectric test is not a thing to repeat at will: it ages the insulation, and it is done \
        behind interlocks by authorised persons. Local codes, the works' rules and licensed practice \
        come first.",
};

/// `not-proven`: what was recorded is within its limit, but not by more than its uncertainty.
pub static NOT_PROVEN: Rule = Rule {
    name: "not-proven",
    severity: Severity::Error,
    summary: "What was recorded is within its limit, but not by more than its uncertainty.",
    why: "Under `decide guarded` the limit is drawn in at each side by the expanded uncertainty (k = 2). \
        Between the two the reading proves neither that it conforms nor that it does not; where the \
        uncertainty is not known it proves nothing. An instrument's accuracy is divided by its k, or by √3 \
        where it is a limit of error; what the plan states with `uncertainty` is added as squares, and stands \
        for the whole where the register states no accuracy. In a check each value that goes in is shifted by its \
        standard uncertainty, and what the result changes by is added as squares. What is outside the limit itself fails, however \
        uncertain it is; `limit = X` and what is counted are compared as they stand.",
    wrong: "load-loss = 149.6 kW with PA-1     # limit 150 kW, uncertainty 0.8 kW",
    mend: "Measure again with an instrument of smaller uncertainty, or put the work right. What stays so gets \
        a nonconformity, or the plan relaxes the decision for it, with a reason, as agreed with the customer.",
    reference: "ISO 14253-1:2017; JCGM 106:2012, 8.3.2; JCGM 100:2008, 4.3 and 5.1.3 note 2; all from memory",
    caution: "A dielectric test is not a thing to repeat at will: it ages the insulation, and it is done \
        behind interlocks by authorised persons. Local codes, the works' rules and licensed practice \
        come first.",
};

/// `conceded`: a failing reading is covered by a closed nonconformity with an accepting disposition.
pub static CONCEDED: Rule = Rule {
    name: "conceded",
    severity: Severity::Note,
    summary: "A failing reading is covered by a closed nonconformity with an accepting disposition.",
    why: "It still fails. The note keeps it in sight of the final review and of whoever repairs the unit \
        in twenty years.",
    wrong: r#"nonconformity NC-3 on 2026-03-05 by L.Novak
  against winding.height[HV, W]
  found "4 mm over after pressing"
  disposition use-as-is
  agreed by A.Brandt on 2026-03-06
  closed by M.Okafor on 2026-03-06"#,
    mend: "Nothing to mend. See that the concession is listed in the papers that go with the unit.",
    reference: "ISO 9001:2015, 8.7.1 (acceptance under concession)",
    caution: "",
};

/// `cannot-be-calculated`: a calculated value has no result for these inputs.
pub static CANNOT_BE_CALCULATED: Rule = Rule {
    name: "cannot-be-calculated",
    severity: Severity::Error,
    summary: "A calculated value has no result for these inputs.",
    why: "A division by zero or a temperature outside the range of a formula means that one input is not \
        what it claims to be.",
    wrong: "ratio[1, U] = 0",
    mend: "Look at the inputs shown with the finding and amend the one that cannot be.",
    reference: "the source named on the page of the function",
    caution: "",
};

/// `undecided`: a limit or check stays open behind work that went on, for want of an input.
pub static UNDECIDED: Rule = Rule {
    name: "undecided",
    severity: Severity::Warning,
    summary: "A limit or a check stays undecided behind work that went on, for want of an input.",
    why: "What was never judged has not passed. A design value that nobody gave, or a reading that was written \
        off as not applicable, leaves every limit that rests on it open, and nothing else would say so.",
    wrong: "plan:  check rise \"Rise of pressure\"
         require rise <= design.rise-allowed     # a `may` value that the design does not give",
    mend: "Give the design value or the reading, or have the plan say with `when` for which units the limit \
        applies.",
    reference: "common practice, no source",
    caution: "",
};

/// `missing-reading`: a reading that should already be there is not recorded.
pub static MISSING_READING: Rule = Rule {
    name: "missing-reading",
    severity: Severity::Error,
    summary: "A reading that should already be there is not recorded.",
    why: "What is not recorded while work is on its way is pending. Once the stage is closed, released or \
        passed, it can often not be measured any more: the part is under oil or under other parts.",
    wrong: "stage winding
  height[HV, U] = 1613 mm      # height[HV, V] and [HV, W] never recorded
  release H10 by M.Okafor on 2026-02-27 16:20",
    mend: "Record it if it can still be measured. If not, open a nonconformity against it; `n/a \"reason\"` \
        only where it truly does not apply.",
    reference: "ISO 9001:2015, 8.5.1 and 8.6",
    caution: "",
};

/// `missing-condition`: a reading lacks the condition under which it holds.
pub static MISSING_CONDITION: Rule = Rule {
    name: "missing-condition",
    severity: Severity::Error,
    summary: "A reading lacks the condition under which it holds.",
    why: "A winding resistance without its temperature, or a dissipation factor without its voltage, \
        cannot be compared with anything: copper changes by 0.4 % a kelvin.",
    wrong: "resistance[HV, U] = 412.6 mohm with MR-04",
    mend: "State it: `resistance[HV, U] = 412.6 mohm at 23.4 °C with MR-04`, or once for the table in a \
        column `at`.",
    reference: "IEC 60076-1:2011, 11.2 (measurement of winding resistance), quoted from memory",
    caution: "",
};

/// `missing-instrument`: a reading does not say with which instrument it was taken.
pub static MISSING_INSTRUMENT: Rule = Rule {
    name: "missing-instrument",
    severity: Severity::Warning,
    summary: "A reading does not say with which instrument it was taken.",
    why: "Without the instrument neither its calibration on that day nor its uncertainty can be shown.",
    wrong: "resistance[HV, U] = 412.6 mohm at 23.4 °C",
    mend: "Add `with MR-04` to the reading, to the table or once to the stage.",
    reference: "ISO 9001:2015, 7.1.5.2 (measurement traceability)",
    caution: "",
};

/// `missing-person`: a reading does not say who took it.
pub static MISSING_PERSON: Rule = Rule {
    name: "missing-person",
    severity: Severity::Warning,
    summary: "A reading does not say who took it.",
    why: "When a value is doubted, the one who stood beside the instrument is the first to ask.",
    wrong: "resistance[HV, U] = 412.6 mohm at 23.4 °C with MR-04",
    mend: "Add `by L.Novak` to the reading, to the table or once to the stage.",
    reference: "ISO 9001:2015, 8.6",
    caution: "",
};

/// `missing-date`: a reading does not say when it was taken.
pub static MISSING_DATE: Rule = Rule {
    name: "missing-date",
    severity: Severity::Warning,
    summary: "A reading does not say when it was taken.",
    why: "Without a date it can be shown neither that the instrument was in calibration nor that the work \
        came before its release.",
    wrong: "resistance[HV, U] = 412.6 mohm at 23.4 °C with MR-04 by L.Novak",
    mend: "Add `on 2026-03-30 15:02` to the reading, to the table or once to the stage.",
    reference: "ISO 9001:2015, 7.5.3",
    caution: "",
};

/// `design-value-missing`: a design value that the plan needs is not in the record.
pub static DESIGN_VALUE_MISSING: Rule = Rule {
    name: "design-value-missing",
    severity: Severity::Error,
    summary: "A design value that the plan needs is not in the record.",
    why: "Limits and checks are computed from the issued design. Without the value they cannot be judged, \
        and the unit would pass for want of a question.",
    wrong: "design rev D on 2026-01-19
  rated-power = 40 MVA       # the plan also needs frequency",
    mend: "Copy the value from the issued design, with the revision it comes from.",
    reference: "common practice, no source",
    caution: "",
};

/// `pending`: something is still to be recorded.
pub static PENDING: Rule = Rule {
    name: "pending",
    severity: Severity::Pending,
    summary: "Something is still to be recorded.",
    why: "This is work in progress, not a fault. It becomes `missing-reading` when the record itself shows \
        that work went on past it.",
    wrong: "height[HV, V] = ?",
    mend: "Record it when it is measured.",
    reference: "common practice, no source",
    caution: "",
};
