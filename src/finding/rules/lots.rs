//! Rules about the units of a lot: numbers, type tests, and a unit beside its sisters.

use crate::finding::{Rule, Severity};

/// `type-test-reference-missing`: a later unit of a lot does not name the type-tested one.
pub static TYPE_TEST_REFERENCE_MISSING: Rule = Rule {
    name: "type-test-reference-missing",
    severity: Severity::Error,
    summary: "A later unit of a lot does not name the unit on which the type tests were made.",
    why: "Type tests prove the design on one unit; the others rest on it. A record that does not say on which \
        cannot show that its design was ever proven. While the unit is in the works this is pending; it is an \
        error once the last hold point that applies to it is released.",
    wrong: "lot KFT-0412 unit 2 of 3",
    mend: "lot KFT-0412 unit 2 of 3 type-tested KFT-0412-1",
    reference: "IEC 60076-1, from memory: type tests on a unit that stands for the others; the plan",
    caution: "",
};

/// `type-test-reference-wrong`: the unit named as type-tested cannot be that.
pub static TYPE_TEST_REFERENCE_WRONG: Rule = Rule {
    name: "type-test-reference-wrong",
    severity: Severity::Error,
    summary: "The unit that is named as type-tested is of another lot or plan, or no type tests are made on it.",
    why: "A type test on another design proves nothing of this one, and a later unit has no type tests to \
        point to.",
    wrong: "lot KFT-0412 unit 3 of 3 type-tested KFT-0412-2     # the type tests are made on unit 1",
    mend: "Name unit 1 of this lot. Where the type tests of another lot are to count by agreement, that is a \
        matter of the plan: let it ask for the report.",
    reference: "common practice, no source",
    caution: "",
};

/// `type-tests-open`: the named unit's type tests are not complete.
pub static TYPE_TESTS_OPEN: Rule = Rule {
    name: "type-tests-open",
    severity: Severity::Error,
    summary: "The type tests on the named unit are not complete.",
    why: "What a type test still has to show may stop the whole lot. While the later unit is in the works this \
        is pending; it is an error once the last hold point that applies to it is released.",
    wrong: "lot KFT-0412 unit 2 of 3 type-tested KFT-0412-1     # its temperature-rise test is not recorded",
    mend: "Complete the type tests, release their hold point, and only then let a later unit leave.",
    reference: "common practice, no source",
    caution: "",
};

/// `type-tested-unit-not-at-hand`: the named unit's record is not near the one that names it.
pub static TYPE_TESTED_UNIT_NOT_AT_HAND: Rule = Rule {
    name: "type-tested-unit-not-at-hand",
    severity: Severity::Note,
    summary: "The record of the type-tested unit is not at hand, so nobody has looked whether its type tests are complete.",
    why: "The records of a lot are looked for in the folder above the record, where that still belongs to the \
        works, and in the folders directly below it.",
    wrong: "lot KFT-0412 unit 2 of 3 type-tested KFT-0412-1     # no such record near this one",
    mend: "Keep the records of a lot in one folder, or in folders beside each other; or look it up by hand.",
    reference: "common practice, no source",
    caution: "",
};

/// `lot-without-type-test`: a lot in which nobody can point to complete type tests.
pub static LOT_WITHOUT_TYPE_TEST: Rule = Rule {
    name: "lot-without-type-test",
    severity: Severity::Error,
    summary: "A lot has no unit with type tests to point to.",
    why: "Each unit may pass its routine tests while nobody ever proved the design. Told once a lot; a note \
        while all its units are in the works, an error once one of them has been released to leave.",
    wrong: "lot KFT-0412 unit 2 of 3     # and unit 3, but no record of unit 1",
    mend: "Make the type tests on unit 1 and record them; or name the unit on which they were made in each \
        later one.",
    reference: "IEC 60076-1, from memory: type tests on a unit that stands for the others; the plan",
    caution: "",
};

/// `lot-numbers-disagree`: the records of a lot contradict each other in number or total.
pub static LOT_NUMBERS_DISAGREE: Rule = Rule {
    name: "lot-numbers-disagree",
    severity: Severity::Error,
    summary: "The number of a unit lies outside its lot, is given twice, or the records give different totals.",
    why: "The number decides whether the type tests are made on a unit. Two units with number 1, or none, is a \
        slip that costs a type test or makes one too many.",
    wrong: "lot KFT-0412 unit 4 of 3",
    mend: "Correct the slip; when a lot is enlarged, its new number of units goes into every record.",
    reference: "common practice, no source",
    caution: "",
};

/// `duplicate-serial`: two records of a lot are about the same unit.
pub static DUPLICATE_SERIAL: Rule = Rule {
    name: "duplicate-serial",
    severity: Severity::Error,
    summary: "Two records of a lot bear the same serial.",
    why: "One of them is a copy that somebody may go on filling. What is recorded in one is missing in the \
        other.",
    wrong: "unit KFT-0412-2     # in KFT-0412-2.ubr and again in copy-of-KFT-0412-2.ubr",
    mend: "Keep one record of a unit. A stage done again is a round: stage drying round 2.",
    reference: "common practice, no source",
    caution: "",
};

/// `apart-from-sisters`: a value stands apart from those of the other units of the lot.
pub static APART_FROM_SISTERS: Rule = Rule {
    name: "apart-from-sisters",
    severity: Severity::Warning,
    summary: "A value stands apart from those of the other units of its lot.",
    why: "Units of one design come out alike, much closer than any limit asks. What stands apart while it is \
        within its limit is often the first sign of another wire, another steel, a wrong tapping or a poor \
        joint. It is no failure, and a person has to look: units that are alike give such a finding by chance too, the \
        oftener the fewer sisters there are (with a floor of one usual scatter 1 in 400 values for three \
        sisters, without any floor 1 in 4). \
        A unit is held against the median of its sisters, three at least, in multiples of their scatter: 1.4826 times \
        the median of their deviations, or the floor of the plan, or one step of the last written digit, \
        whichever is largest.",
    wrong: "reading winding-resistance[winding, phase] : resistance
  compare floor 0.5 % of median     # 412 mohm, 413 mohm, 411 mohm, and 431 mohm here",
    mend: "Look at instrument and conditions first, then at what differs in this unit. Who has looked \
        accepts the finding with the reason. Where units scatter more by nature, the plan states it: compare floor 2 % of median.",
    reference: "B. Iglewicz and D. C. Hoaglin, How to Detect and Handle Outliers, ASQC 1993, from memory: \
        modified z-score, 3.5; floor: common practice, no source",
    caution: "",
};
