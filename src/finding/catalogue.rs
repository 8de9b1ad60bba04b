//! The rule catalogue: every rule the tool can raise, each with its page.
//!
//! To add a rule: write its page in the file of its subject under `rules/`, and list it in `ALL` below.

use super::Severity;

pub use super::rules::*;

/// One rule and its page.
#[derive(Debug)]
pub struct Rule {
    /// Its kebab-case name.
    pub name: &'static str,
    /// Its usual weight; a plan or a place may change it.
    pub severity: Severity,
    /// What it says, in one sentence.
    pub summary: &'static str,
    /// Why it matters, in a few sentences.
    pub why: &'static str,
    /// A few lines that break it.
    pub wrong: &'static str,
    /// The same lines mended, or how to mend them.
    pub mend: &'static str,
    /// Standards or other sources; `common practice, no source` where there is none.
    pub reference: &'static str,
    /// The safety caution that goes with it; empty for none.
    pub caution: &'static str,
}

/// All rules, sorted by name.
static ALL: &[&Rule] = &[
    &ACCEPT_REFUSED,
    &ACCEPT_WITHOUT_FINDING,
    &AMBIGUOUS_TIME,
    &AMENDED_AFTER_RELEASE,
    &AMENDMENT_MISMATCH,
    &APART_FROM_SISTERS,
    &ATTACHMENT_MISSING,
    &BYTE_ORDER_MARK,
    &CALCULATION_CYCLE,
    &CALIBRATION_WITHOUT_CERTIFICATE,
    &CANNOT_BE_CALCULATED,
    &CHECK_FAILED,
    &CHECK_NEVER_APPLIES,
    &CONCEDED,
    &CONTROL_CHARACTER,
    &DATED_IN_THE_FUTURE,
    &DECIMAL_COMMA,
    &DESIGN_REVISED_BEHIND_SEAL,
    &DESIGN_VALUE_MISSING,
    &DIMENSION_MISMATCH,
    &DISPOSITION_NOT_AUTHORISED,
    &DUPLICATE_DECLARATION,
    &DUPLICATE_DOCUMENT,
    &DUPLICATE_READING,
    &DUPLICATE_SERIAL,
    &EMPTY_DOCUMENT,
    &FILE_TOO_LARGE,
    &HOLD_PASSED,
    &HOLD_WITHOUT_ROLE,
    &IMPOSSIBLE_DATE,
    &IMPOSSIBLE_ZONE,
    &INDEX_COUNT,
    &INSTRUMENT_DOES_NOT_MEASURE,
    &INSTRUMENT_NOT_IN_SERVICE,
    &INSTRUMENT_OUT_OF_CALIBRATION,
    &INSTRUMENT_TOO_COARSE,
    &INVALID_UTF8,
    &LIMIT_NOT_PROVABLE,
    &LIMIT_WITHOUT_SOURCE,
    &LOG_NOT_A_TABLE,
    &LOG_OUTSIDE_WORKSPACE,
    &LOG_UNREADABLE,
    &LONE_CARRIAGE_RETURN,
    &LOT_NUMBERS_DISAGREE,
    &LOT_WITHOUT_TYPE_TEST,
    &MISPLACED_STATEMENT,
    &MISSING_CONDITION,
    &MISSING_DATE,
    &MISSING_INSTRUMENT,
    &MISSING_PERSON,
    &MISSING_READING,
    &NESTING_TOO_DEEP,
    &NO_SUCH_TARGET,
    &NONCONFORMITY_OPEN,
    &NONCONFORMITY_TARGET_UNKNOWN,
    &NOT_PROVEN,
    &NOTICE_MISSING,
    &NOTICE_TOO_SHORT,
    &NUMBER_MISSING,
    &NUMBER_OUT_OF_RANGE,
    &OFFSET_DOES_NOT_FIT,
    &OUT_OF_LIMIT,
    &OUTLINE_TOO_DEEP,
    &OUTSIDE_INSTRUMENT_RANGE,
    &PENDING,
    &PERSON_NOT_VALID,
    &PLAN_EXTENDS_ITSELF,
    &PLAN_REVISION_DIFFERS,
    &PLAN_TOO_LARGE,
    &PUBLIC_KEY_UNREADABLE,
    &READING_NOT_INDEPENDENT,
    &REASON_MISSING,
    &RECORDED_BEHIND_SEAL,
    &RELAX_WITHOUT_REASON,
    &RELEASE_BEFORE_READING,
    &RELEASED_INCOMPLETE,
    &RELEASED_OVER_FAILURE,
    &RELEASED_OWN_READING,
    &REVIEW_PASSED,
    &REWORK_WITHOUT_NEW_READING,
    &ROLE_MAY_NOT_RELEASE,
    &ROW_LENGTH,
    &SEAL_BROKEN,
    &SEAL_CHAIN_BROKEN,
    &SEAL_MISSING,
    &SET_WITHOUT_SOURCE,
    &SIGNATURE_INVALID,
    &SIGNER_UNKNOWN,
    &STAGE_CYCLE,
    &STAGE_OUT_OF_ORDER,
    &TAB_INDENTATION,
    &TIME_DOES_NOT_EXIST,
    &TIME_OF_DAY_MISSING,
    &TIME_RUNS_BACKWARDS,
    &TYPE_TEST_REFERENCE_MISSING,
    &TYPE_TEST_REFERENCE_WRONG,
    &TYPE_TESTED_UNIT_NOT_AT_HAND,
    &TYPE_TESTS_OPEN,
    &UNDECIDED,
    &UNEXPECTED_TEXT,
    &UNIT_MISSING,
    &UNIT_SPACE_MISSING,
    &UNKNOWN_DOCUMENT,
    &UNKNOWN_FUNCTION,
    &UNKNOWN_INSTRUMENT,
    &UNKNOWN_MEMBER,
    &UNKNOWN_NAME,
    &UNKNOWN_PERSON,
    &UNKNOWN_PLAN,
    &UNKNOWN_POINT,
    &UNKNOWN_REGISTER,
    &UNKNOWN_STATEMENT,
    &UNKNOWN_UNIT,
    &UNTERMINATED_TEXT,
    &WITNESS_PASSED,
    &WRONG_ARGUMENTS,
    &WRONG_KIND,
    &WRONG_POINT_WORD,
    &WRONG_UNIT,
];

/// All rules, sorted by name.
pub fn all() -> &'static [&'static Rule] {
    ALL
}

/// The rule of this name.
pub fn find(name: &str) -> Option<&'static Rule> {
    ALL.binary_search_by(|rule| rule.name.cmp(name))
        .ok()
        .map(|index| ALL[index])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every `pub static NAME: Rule` of the files under `rules/`, with the name its page gives.
    fn declared() -> Vec<(String, String)> {
        let sources = [
            include_str!("rules/acceptance.rs"),
            include_str!("rules/entitled.rs"),
            include_str!("rules/files.rs"),
            include_str!("rules/instruments.rs"),
            include_str!("rules/limits.rs"),
            include_str!("rules/lots.rs"),
            include_str!("rules/names.rs"),
            include_str!("rules/plan.rs"),
            include_str!("rules/points.rs"),
            include_str!("rules/register.rs"),
            include_str!("rules/seals.rs"),
            include_str!("rules/text.rs"),
            include_str!("rules/time.rs"),
        ];
        let mut found = Vec::new();
        for source in sources {
            for part in source.split("pub static ").skip(1) {
                let constant = part.split(':').next().unwrap_or("");
                let name = part
                    .split("name: \"")
                    .nth(1)
                    .and_then(|rest| rest.split('"').next());
                found.push((constant.to_string(), name.unwrap_or("").to_string()));
            }
        }
        found
    }

    #[test]
    fn every_rule_is_listed_once_under_its_own_name() {
        let mut names: Vec<String> = declared().into_iter().map(|(_, name)| name).collect();
        names.sort();
        let listed: Vec<&str> = all().iter().map(|rule| rule.name).collect();
        assert_eq!(
            names, listed,
            "a rule is not in ALL, or twice, or ALL is not sorted by name"
        );
        for (constant, name) in declared() {
            assert_eq!(constant, name.to_uppercase().replace('-', "_"));
        }
        for rule in all() {
            assert!(find(rule.name).is_some_and(|found| found.name == rule.name));
        }
        assert!(find("no-such-rule").is_none());
    }

    #[test]
    fn names_are_kebab_case() {
        for rule in all() {
            let kebab = rule.name.split('-').all(|word| {
                !word.is_empty()
                    && word
                        .bytes()
                        .all(|byte| byte.is_ascii_lowercase() || byte.is_ascii_digit())
            });
            assert!(kebab, "{}", rule.name);
        }
    }

    #[test]
    fn every_page_is_full() {
        for rule in all() {
            for part in [
                rule.summary,
                rule.why,
                rule.wrong,
                rule.mend,
                rule.reference,
            ] {
                assert!(
                    !part.trim().is_empty(),
                    "{}: a part of the page is empty",
                    rule.name
                );
            }
            assert!(
                rule.summary.ends_with('.') && rule.why.ends_with('.'),
                "{}",
                rule.name
            );
        }
    }

    #[test]
    fn pages_about_holds_carry_the_safety_caution() {
        for name in [
            "hold-passed",
            "hold-without-role",
            "released-over-failure",
            "check-failed",
            "out-of-limit",
        ] {
            let caution = find(name).map(|rule| rule.caution).unwrap_or("");
            assert!(caution.contains("licensed practice come first"), "{name}");
        }
    }
}
