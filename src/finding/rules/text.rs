//! Rules about bytes, lines, words and numbers: whether a line can be read at all.

use crate::finding::{Rule, Severity};

/// `invalid-utf8`: a byte of the document is not UTF-8 text.
pub static INVALID_UTF8: Rule = Rule {
    name: "invalid-utf8",
    severity: Severity::Error,
    summary: "A byte of the document is not UTF-8 text.",
    why: "A byte in another encoding shows as one sign on one desk and as another on the next: a degree \
        sign or an ohm sign that changes is a changed reading. The place of the first such byte is \
        named; the rest of the document is still judged.",
    wrong: "# saved in another encoding, the degree sign is the single byte B0
resistance[HV, U] = 412.6 mohm at 23.4 °C",
    mend: "Save the document as UTF-8 in the editor; then check that °, Ω and µ still read as meant.",
    reference: "RFC 3629 (UTF-8); grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `control-character`: a control byte, such as NUL, stands in the text.
pub static CONTROL_CHARACTER: Rule = Rule {
    name: "control-character",
    severity: Severity::Error,
    summary: "A control byte, such as NUL, stands in the text.",
    why: "Control bytes come from a broken transfer or a wrong program. They cannot be seen, so nobody can \
        say what was written there.",
    wrong: "height[HV, U] = 16␀13 mm",
    mend: "Delete the byte and compare the line with the paper or the instrument it came from.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `byte-order-mark`: the document starts with a byte-order mark.
pub static BYTE_ORDER_MARK: Rule = Rule {
    name: "byte-order-mark",
    severity: Severity::Warning,
    summary: "The document starts with a byte-order mark.",
    why: "The mark is invisible, is not needed in UTF-8, and makes the first word differ from what it \
        looks like in other programs. The checker reads past it.",
    wrong: "<byte-order mark>unit KFT-0413-1",
    mend: "Remove the mark; the fix does it. Editors call the right choice 'UTF-8' or 'UTF-8 without BOM'.",
    reference: "RFC 3629, section 6",
    caution: "",
};

/// `lone-carriage-return`: a line ends in a carriage return alone instead of LF or CR LF.
pub static LONE_CARRIAGE_RETURN: Rule = Rule {
    name: "lone-carriage-return",
    severity: Severity::Error,
    summary: "A line ends in a carriage return alone instead of LF or CR LF.",
    why: "Programs disagree on whether such a byte ends a line. Where one shows two readings in two lines, \
        another shows one long line, and a comment may hide a reading.",
    wrong: "stage winding<CR>  height[HV, U] = 1613 mm",
    mend: "Convert the line ends to LF or CR LF in the editor; `stagebook fix` writes LF.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `file-too-large`: the document is larger than the checker takes.
pub static FILE_TOO_LARGE: Rule = Rule {
    name: "file-too-large",
    severity: Severity::Error,
    summary: "The document is larger than the checker takes.",
    why: "A document is read whole and every answer comes in bounded time, so there is an upper size. A \
        record of one unit with all its tables stays far below it; what is larger is mostly a logger's \
        file.",
    wrong: "# hundreds of megabytes of vacuum readings typed into one record",
    mend: "Keep long series in a CSV file and name it: `log drying from \"logs/drying.csv\"`. If it is not \
        a record, do not name it .ubr.",
    reference: "limit of this program",
    caution: "",
};

/// `tab-indentation`: a tab stands in the indentation where spaces are expected.
pub static TAB_INDENTATION: Rule = Rule {
    name: "tab-indentation",
    severity: Severity::Warning,
    summary: "A tab stands in the indentation where spaces are expected.",
    why: "What a line belongs to is read from its indentation, and a tab is as wide as each editor likes: \
        the same record could look different to two people.",
    wrong: "stage winding
	height[HV, U] = 1613 mm",
    mend: "Use two spaces a level; the fix replaces the tabs.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `outline-too-deep`: a line is indented deeper than 64 levels.
pub static OUTLINE_TOO_DEEP: Rule = Rule {
    name: "outline-too-deep",
    severity: Severity::Error,
    summary: "A line is indented deeper than 64 levels.",
    why: "No plan or record needs more than a handful of levels. The cap keeps any file, however made, \
        safe to open.",
    wrong: "# a line that belongs to a line that belongs to a line … 65 times over",
    mend: "Indent the line under the statement it belongs to.",
    reference: "limit of this program",
    caution: "",
};

/// `nesting-too-deep`: brackets are nested deeper than 64.
pub static NESTING_TOO_DEEP: Rule = Rule {
    name: "nesting-too-deep",
    severity: Severity::Error,
    summary: "Brackets are nested deeper than 64.",
    why: "An expression that deep cannot be reviewed by a person. The cap keeps any plan safe to open.",
    wrong: "calc x = ((((((((((((((((((((((((((((((( … 1 … )))))))))))))))))))))))))))))))",
    mend: "Split the expression into several named `calc` lines.",
    reference: "limit of this program",
    caution: "",
};

/// `unexpected-text`: something else was expected at this place of the line.
pub static UNEXPECTED_TEXT: Rule = Rule {
    name: "unexpected-text",
    severity: Severity::Error,
    summary: "Something else was expected at this place of the line.",
    why: "A line that cannot be read holds no reading. It breaks only itself: everything else in the \
        document is still judged.",
    wrong: "height[HV, U = 1613 mm",
    mend: "Write what the message names as expected, here the closing bracket:

  height[HV, U] = 1613 mm",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `unknown-statement`: the first word of the line begins no statement.
pub static UNKNOWN_STATEMENT: Rule = Rule {
    name: "unknown-statement",
    severity: Severity::Error,
    summary: "The first word of the line begins no statement.",
    why: "The first word decides what a line is. A mistyped word would silently drop a release or a \
        nonconformity.",
    wrong: "stage winding
  relase H10 by M.Okafor on 2026-02-27 16:20",
    mend: "Use the word that is meant; the nearest known one is named:

  release H10 by M.Okafor on 2026-02-27 16:20",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `misplaced-statement`: the statement does not belong at this place of the document.
pub static MISPLACED_STATEMENT: Rule = Rule {
    name: "misplaced-statement",
    severity: Severity::Error,
    summary: "The statement does not belong at this place of the document.",
    why: "A line belongs to the line above it that is indented less. A release outside its stage, or a \
        reading outside any stage, releases and records nothing.",
    wrong: "unit KFT-0413-1
  release H10 by M.Okafor on 2026-02-27 16:20",
    mend: "Move the line below the statement it belongs to, and indent it deeper:

stage winding
  release H10 by M.Okafor on 2026-02-27 16:20",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `unterminated-text`: a text is not closed with a quotation mark before the line ends.
pub static UNTERMINATED_TEXT: Rule = Rule {
    name: "unterminated-text",
    severity: Severity::Error,
    summary: "A text is not closed with a quotation mark before the line ends.",
    why: "Without the closing mark the rest of the line, with its name and date, counts as part of the \
        text.",
    wrong: r#"attach "photos/hv-u-pressed.jpg"#,
    mend: r#"Close the text in the same line:

  attach "photos/hv-u-pressed.jpg""#,
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `decimal-comma`: a number is written with a decimal comma where a decimal point is expected.
pub static DECIMAL_COMMA: Rule = Rule {
    name: "decimal-comma",
    severity: Severity::Error,
    summary: "A number is written with a decimal comma where a decimal point is expected.",
    why: "The comma parts the members of a list here, so `3,4946` could be read as two numbers. A ratio or \
        a resistance that is wrong by a factor of ten thousand must not pass by accident.",
    wrong: "stage connections
  ratio[1, U] = 3,4946",
    mend: "Write a decimal point; the fix replaces the comma:

  ratio[1, U] = 3.4946",
    reference: "ISO 80000-1:2022, 7.2 allows either sign; this language takes the point",
    caution: "",
};

/// `unit-space-missing`: no space stands between a number and its unit.
pub static UNIT_SPACE_MISSING: Rule = Rule {
    name: "unit-space-missing",
    severity: Severity::Warning,
    summary: "No space stands between a number and its unit.",
    why: "With the space, number and unit cannot be mistaken for one word, and a unit cannot be mistaken \
        for an exponent.",
    wrong: "rated-power = 40MVA",
    mend: "Put one space between them; the fix does it:

  rated-power = 40 MVA",
    reference: "ISO 80000-1:2022, 7.1",
    caution: "",
};

/// `number-out-of-range`: the number is too large, too small or too long to be computed exactly.
pub static NUMBER_OUT_OF_RANGE: Rule = Rule {
    name: "number-out-of-range",
    severity: Severity::Error,
    summary: "The number is too large, too small or too long to be computed exactly.",
    why: "Verdicts are computed with exact numbers. A number that does not fit is nearly always a slip of \
        the exponent or a column that ran into the next.",
    wrong: "resistance[HV, U] = 1e999 ohm",
    mend: "Write the digits the instrument showed, with a prefix of the unit in place of a long exponent: \
        `412.6 mohm`.",
    reference: "limit of this program",
    caution: "",
};

/// `impossible-date`: the date or the time of day does not exist.
pub static IMPOSSIBLE_DATE: Rule = Rule {
    name: "impossible-date",
    severity: Severity::Error,
    summary: "The date or the time of day does not exist.",
    why: "Order in time decides whether work went on past a hold point and whether an instrument was in \
        calibration. A day that never was proves nothing.",
    wrong: "on 2026-02-30 by L.Novak",
    mend: "Write the day on which it was done, as year-month-day, and the time in 24 hours: `2026-02-28 \
        16:20`.",
    reference: "ISO 8601-1:2019",
    caution: "",
};

/// `impossible-zone`: the time zone is not known, or its offset is out of range.
pub static IMPOSSIBLE_ZONE: Rule = Rule {
    name: "impossible-zone",
    severity: Severity::Error,
    summary: "The time zone is not known, or its offset is out of range.",
    why: "Readings, releases and logs are put in order of time. With an unknown zone a log from the oven \
        and a release from the desk may be hours apart.",
    wrong: "zone Europe/Wien",
    mend: "Name a zone of the time-zone database or an offset: `zone Europe/Vienna`, `zone +01:00`.",
    reference: "IANA time zone database; ISO 8601-1:2019",
    caution: "",
};

/// `row-length`: a row of a table has more or fewer cells than its header asks for.
pub static ROW_LENGTH: Rule = Rule {
    name: "row-length",
    severity: Severity::Error,
    summary: "A row of a table has more or fewer cells than its header asks for.",
    why: "In a row with one cell missing, every value to the right of the gap stands under the wrong phase \
        or tapping. None of the row is taken.",
    wrong: "table ratio
  tap  U       V       W
  1    3.4946  3.4944",
    mend: "Give every column its cell; write `?` for a value still to be recorded:

  1    3.4946  3.4944  ?",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `empty-document`: the document has no statement.
pub static EMPTY_DOCUMENT: Rule = Rule {
    name: "empty-document",
    severity: Severity::Warning,
    summary: "The document has no statement.",
    why: "An empty record looks like a record. Either it was never begun or it was lost when it was saved.",
    wrong: "# nothing but a comment",
    mend: "Begin with `unit`, `plan` or `register`, or delete the file.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `unknown-document`: the first statement is none of plan, register and unit.
pub static UNKNOWN_DOCUMENT: Rule = Rule {
    name: "unknown-document",
    severity: Severity::Error,
    summary: "The first statement is none of plan, register and unit.",
    why: "The first word tells what the document is. Without it no line below can be judged.",
    wrong: "stage winding
  height[HV, U] = 1613 mm",
    mend: r#"Begin with the unit that the record is of:

unit KFT-0413-1 "40 MVA 110/20 kV"
  plan oil-immersed-power"#,
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};
