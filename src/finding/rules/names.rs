//! Rules about names, kinds and units: whether what is written fits what the plan declares.

use crate::finding::{Rule, Severity};

/// `unknown-name`: the name is not declared in the plan, or nowhere else where it could be meant.
pub static UNKNOWN_NAME: Rule = Rule {
    name: "unknown-name",
    severity: Severity::Error,
    summary: "The name is not declared in the plan, or nowhere else where it could be meant.",
    why: "A reading under a mistyped name answers nothing the plan asks for: the real one stays open while \
        the record looks full.",
    wrong: "stage connections
  resistence[HV, U] = 412.6 mohm",
    mend: "Use the declared name; the nearest one is named in the message:

  resistance[HV, U] = 412.6 mohm",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `unknown-unit`: the unit of measurement is not known.
pub static UNKNOWN_UNIT: Rule = Rule {
    name: "unknown-unit",
    severity: Severity::Error,
    summary: "The unit of measurement is not known.",
    why: "Capital and small letters matter: `mW` is a milliwatt, `MW` a megawatt, and `kv` is nothing at \
        all.",
    wrong: "rated-voltage[HV] = 110 kv",
    mend: "Write the unit as SI writes it: `110 kV`. `stagebook explain` with no word lists all units.",
    reference: "SI Brochure, 9th edition; NIST SP 811",
    caution: "",
};

/// `unknown-member`: the index is not a member of its set.
pub static UNKNOWN_MEMBER: Rule = Rule {
    name: "unknown-member",
    severity: Severity::Error,
    summary: "The index is not a member of its set.",
    why: "The set lists the windings, phases or tappings this unit has. A reading for one it has not \
        belongs to another unit or another plan.",
    wrong: "height[TV, U] = 1612 mm    # the design names HV and LV only",
    mend: "Use a member of the set, or add the member where the set comes from (here `windings` in the \
        design).",
    reference: "common practice, no source",
    caution: "",
};

/// `wrong-kind`: the value is of another kind than the one declared.
pub static WRONG_KIND: Rule = Rule {
    name: "wrong-kind",
    severity: Severity::Error,
    summary: "The value is of another kind than the one declared.",
    why: "A text in the place of a quantity cannot be held against a limit, and a choice outside its list \
        has no meaning in the plan.",
    wrong: r#"resistance[HV, U] = "in order""#,
    mend: "Record what is asked for. Remarks go in a deeper line: `note \"…\"`.",
    reference: "common practice, no source",
    caution: "",
};

/// `wrong-unit`: the unit does not measure what is asked for.
pub static WRONG_UNIT: Rule = Rule {
    name: "wrong-unit",
    severity: Severity::Error,
    summary: "The unit does not measure what is asked for.",
    why: "Apparent power is stated in VA, active power in W; torque in N*m, energy in J. The dimension may \
        even agree, but a number in the wrong one was taken from the wrong line of the rating plate or \
        the instrument.",
    wrong: "rated-power = 40 MW",
    mend: "Give the quantity asked for, in its own unit: `rated-power = 40 MVA`.",
    reference: "SI Brochure, 9th edition; ISO 80000-6 (power in alternating current)",
    caution: "",
};

/// `unit-missing`: a number stands without the unit that its kind needs.
pub static UNIT_MISSING: Rule = Rule {
    name: "unit-missing",
    severity: Severity::Error,
    summary: "A number stands without the unit that its kind needs.",
    why: "A bare number leaves the unit to memory. 412.6 could be milliohm or ohm, and the verdict hangs \
        on it.",
    wrong: "resistance[HV, U] = 412.6",
    mend: "Write the unit after the number, or once in the header of the table: `resistance(mohm)`.",
    reference: "ISO 80000-1:2022, 7.1",
    caution: "",
};

/// `number-missing`: a unit stands where a value is expected, without its number.
pub static NUMBER_MISSING: Rule = Rule {
    name: "number-missing",
    severity: Severity::Error,
    summary: "A unit stands where a value is expected, without its number.",
    why: "Nothing was recorded yet: the unit is what an editor left behind for the number to be typed. The \
        reading counts as pending.",
    wrong: "resistance[HV, U] =  mohm at 23.4 °C",
    mend: "Write the number before the unit, or `?` in place of both to keep the reading open.",
    reference: "ISO 80000-1:2022, 7.1",
    caution: "",
};

/// `index-count`: the name has more or fewer indices than declared.
pub static INDEX_COUNT: Rule = Rule {
    name: "index-count",
    severity: Severity::Error,
    summary: "The name has more or fewer indices than declared.",
    why: "Without the full index nobody can tell for which winding, phase or tapping the reading holds.",
    wrong: "resistance[HV] = 412.6 mohm    # declared as resistance[winding, phase]",
    mend: "Give one member for each index, in the declared order: `resistance[HV, U]`.",
    reference: "common practice, no source",
    caution: "",
};

/// `duplicate-reading`: the same reading is recorded twice in one round of a stage.
pub static DUPLICATE_READING: Rule = Rule {
    name: "duplicate-reading",
    severity: Severity::Error,
    summary: "The same reading is recorded twice in one round of a stage.",
    why: "Of two values for one reading one is wrong, and the record must not leave it open which. The \
        first is judged.",
    wrong: "height[HV, U] = 1613 mm
height[HV, U] = 1614 mm",
    mend: r#"Keep the first and correct it openly:

  amend height[HV, U] = 1614 mm was 1613 mm by L.Novak on 2026-03-05 because "read off again"

Work done again after rework is a new round: `stage winding round 2`."#,
    reference: "ISO 9001:2015, 7.5.3 (control of documented information)",
    caution: "",
};

/// `duplicate-declaration`: the name is declared twice.
pub static DUPLICATE_DECLARATION: Rule = Rule {
    name: "duplicate-declaration",
    severity: Severity::Error,
    summary: "The name is declared twice.",
    why: "With two declarations nobody can tell which limit holds.",
    wrong: "calc deviation = 1
calc deviation = 2",
    mend: "Give the second a name of its own, or delete it. To change an inherited one use `tighten` or \
        `relax`.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `reason-missing`: a reason is required here and none is given.
pub static REASON_MISSING: Rule = Rule {
    name: "reason-missing",
    severity: Severity::Error,
    summary: "A reason is required here and none is given.",
    why: "`n/a` and `amend` change what the record claims. Without a reason the next reader cannot tell a \
        decision from a slip.",
    wrong: "dew-point = n/a
amend ratio[2, V] = 3.4551 was 3.4547 by L.Novak on 2026-03-31 07:45",
    mend: "State the reason: `n/a \"no gas space in this design\"`, `… because \"misread display\"`.",
    reference: "ISO 9001:2015, 7.5.3",
    caution: "",
};

/// `unknown-plan`: the plan that is named is not known here.
pub static UNKNOWN_PLAN: Rule = Rule {
    name: "unknown-plan",
    severity: Severity::Error,
    summary: "The plan that is named is not known here.",
    why: "Without its plan a record cannot be judged at all: there is no list of what to record and no \
        limit.",
    wrong: "unit KFT-0413-1
  plan oil-imersed-power",
    mend: "Correct the name, or check the folder that holds the plan together with the record. Built-in \
        plans need no file.",
    reference: "common practice, no source",
    caution: "",
};

/// `unknown-register`: the register that is named is not known here.
pub static UNKNOWN_REGISTER: Rule = Rule {
    name: "unknown-register",
    severity: Severity::Error,
    summary: "The register that is named is not known here.",
    why: "The register tells who may release what, and which instrument was in calibration on which day. \
        Without it neither can be judged.",
    wrong: "register kestrel-fort",
    mend: "Correct the name, or check the folder that holds the register together with the record.",
    reference: "common practice, no source",
    caution: "",
};

/// `duplicate-document`: two documents carry the same name.
pub static DUPLICATE_DOCUMENT: Rule = Rule {
    name: "duplicate-document",
    severity: Severity::Error,
    summary: "Two documents carry the same name.",
    why: "Two plans of one name and revision with different limits make it a matter of chance which one \
        judged the unit.",
    wrong: "# plan.ubr
plan oil-immersed-power rev C
# old/plan.ubr
plan oil-immersed-power rev C",
    mend: "Rename one, give it another revision, or take the old one out of the folder.",
    reference: "ISO 9001:2015, 7.5.3.2 (prevention of unintended use of obsolete documents)",
    caution: "",
};

/// `plan-revision-differs`: the record names another revision of the plan than the one found.
pub static PLAN_REVISION_DIFFERS: Rule = Rule {
    name: "plan-revision-differs",
    severity: Severity::Warning,
    summary: "The record names another revision of the plan than the one found.",
    why: "The limits may have changed between the two. A unit is built to the revision that was agreed for \
        it.",
    wrong: "unit KFT-0413-1
  plan oil-immersed-power rev B     # the plan at hand is rev C",
    mend: "Check against the agreed revision, or agree on the new one and write it in the record.",
    reference: "ISO 9001:2015, 7.5.3",
    caution: "",
};
