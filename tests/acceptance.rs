//! `accept` lines: what they quiet, what they cannot, and that nothing of it is hidden.

mod common;

use common::{Came, Small};
use stagebook::finding::Severity;

const PLAN: &str = "plan p rev A

role quality, production

stage winding
  reading height : length
    limit <= 1620 mm
    source works \"w\"
    severity warning
  reading mass : mass
    limit <= 3 t
    source works \"w\"
  reading row[position] : length
    limit <= 10 mm
    source works \"w\"
    severity warning
  hold H1 \"Winding\" by quality

set position = A B
";

const REGISTER: &str = "register r

person M.Okafor \"Mary Okafor\"
  roles quality
  valid 2025-01-01 .. 2026-12-31

person L.Novak \"Lena Novak\"
  roles production

instrument TP-1 \"tape\"
  measures length
  calibrated 2026-01-12 due 2026-03-01 certificate \"C-1\"
";

/// A stage of these lines, judged. Line 6 is the first of them.
fn stage(lines: &str) -> Came {
    Small::new(&[PLAN, REGISTER]).judge(&format!(
        "unit KFT-0500-1\n  plan p\n  register r\nstage winding\n  on 2026-02-19 by L.Novak with TP-1\n{lines}"
    ))
}

const WHO: &str = "because \"steel shim of 4 mm fitted\" by M.Okafor on 2026-02-20";

/// Whether the first finding of a rule is accepted.
fn accepted(came: &Came, rule: &str) -> bool {
    came.the(rule).accepted.is_some()
}

#[test]
fn an_accepted_warning_stays_with_the_name_and_the_reason() {
    let came = stage(&format!(
        "  accept out-of-limit {WHO}\n  height = 1625 mm\n"
    ));
    came.expect(&[(7, "out-of-limit")]);
    let accepted = came.the("out-of-limit").accepted.clone().expect("accepted");
    assert_eq!(
        (&*accepted.by, &*accepted.on, &*accepted.because),
        ("M.Okafor", "2026-02-20", "steel shim of 4 mm fitted")
    );
}

#[test]
fn it_reaches_the_next_line_only_and_only_its_own_rule() {
    let two = "  height = 1625 mm\n  table row(mm)\n    A   B\n    11  9\n";
    let came = stage(&format!("  accept out-of-limit {WHO}\n{two}"));
    let rows: Vec<bool> = came
        .outcome
        .findings
        .iter()
        .filter(|finding| finding.rule.name == "out-of-limit")
        .map(|finding| finding.accepted.is_some())
        .collect();
    assert_eq!(rows, [true, false]);
    let came = stage(&format!("  accept wrong-unit {WHO}\n  height = 1625 mm\n"));
    came.expect(&[(6, "accept-without-finding"), (7, "out-of-limit")]);
    assert!(!accepted(&came, "out-of-limit"));
}

#[test]
fn several_stand_above_one_line_and_a_comment_or_blank_line_may_stand_between() {
    let came = stage(&format!(
        "  accept out-of-limit {WHO}\n\n  # seen\n  accept instrument-out-of-calibration {WHO}\n  height = 1625 mm with TP-1 on 2026-03-05\n"
    ));
    assert!(accepted(&came, "out-of-limit"));
    assert!(accepted(&came, "instrument-out-of-calibration"));
    came.expect(&[(10, "out-of-limit"), (10, "instrument-out-of-calibration")]);
}

#[test]
fn a_row_of_a_table_has_its_own() {
    let came = stage(&format!(
        "  table row(mm)\n    A  B\n    accept out-of-limit {WHO}\n    11  9\n"
    ));
    came.expect(&[(9, "out-of-limit")]);
    assert!(accepted(&came, "out-of-limit"));
    // A cell may be called so: what follows decides.
    let plan = "plan p rev A\nset position = A B\nstage winding\n  reading state[position] : choice(accept, refuse)\n";
    let came = Small::new(&[plan]).judge(
        "unit KFT-0500-1\n  plan p\nstage winding\n  table state\n    A  B\n    accept  refuse\n",
    );
    came.expect(&[]);
}

#[test]
fn what_a_limit_or_a_hold_says_cannot_be_quieted() {
    let came = stage(&format!(
        "  accept out-of-limit {WHO}\n  mass = 3.4 t with TP-1\n"
    ));
    assert!(!accepted(&came, "out-of-limit"));
    assert_eq!(came.the("out-of-limit").severity, Severity::Error);
    let refused = came.the("accept-refused");
    assert!(
        refused.message.contains("mended or conceded"),
        "{}",
        refused.message
    );
    let came = stage(&format!(
        "  accept released-incomplete {WHO}\n  release H1 by M.Okafor on 2026-02-20\n"
    ));
    assert!(!accepted(&came, "released-incomplete"));
    came.the("accept-refused");
    let came = stage(&format!(
        "  accept role-may-not-release {WHO}\n  release H1 by L.Novak on 2026-02-20\n"
    ));
    assert!(!accepted(&came, "role-may-not-release"));
}

#[test]
fn what_is_pending_cannot_be_accepted() {
    let came = Small::new(&[PLAN, REGISTER]).judge(&format!(
        "unit KFT-0500-1\n  plan p\n  register r\naccept pending {WHO}\nstage winding\n  height = 1600 mm\n"
    ));
    let refused = came.the("accept-refused");
    assert!(refused.message.contains("pending"), "{}", refused.message);
    assert!(!accepted(&came, "pending"));
}

#[test]
fn an_error_of_the_papers_needs_someone_who_may_release() {
    let reading = "  height = 1600 mm with TP-1 on 2026-03-05\n";
    let came = stage(&format!(
        "  accept instrument-out-of-calibration {WHO}\n{reading}"
    ));
    assert!(accepted(&came, "instrument-out-of-calibration"));
    let came = stage(&format!(
        "  accept instrument-out-of-calibration because \"fine\" by L.Novak on 2026-03-06\n{reading}"
    ));
    assert!(!accepted(&came, "instrument-out-of-calibration"));
    let refused = came.the("accept-refused");
    assert!(
        refused.message.contains("(quality), found L.Novak"),
        "{}",
        refused.message
    );
}

#[test]
fn an_incomplete_or_impossible_acceptance_accepts_nothing() {
    let reading = "  height = 1625 mm\n";
    for (line, rule) in [
        ("accept out-of-limit", "reason-missing"),
        (
            "accept out-of-limit because \" \" by M.Okafor on 2026-02-20",
            "reason-missing",
        ),
        (
            "accept out-of-limit because \"x\" on 2026-02-20",
            "missing-person",
        ),
        (
            "accept out-of-limit because \"x\" by M.Okafor",
            "missing-date",
        ),
        (
            "accept out-of-limit because \"x\" by M.Okafor on 2026-02-30",
            "impossible-date",
        ),
        (
            "accept out-of-limit because \"x\" by N.Obody on 2026-02-20",
            "unknown-person",
        ),
        (
            "accept out-of-limit because \"x\" by M.Okafor on 2027-02-20",
            "person-not-valid",
        ),
        (
            "accept out-of-limits because \"x\" by M.Okafor on 2026-02-20",
            "unknown-name",
        ),
    ] {
        let came = stage(&format!("  {line}\n{reading}"));
        assert!(!accepted(&came, "out-of-limit"), "{line}");
        assert_eq!(came.the(rule).severity, Severity::Error, "{line}");
    }
}

#[test]
fn nothing_below_is_a_finding() {
    let came = stage(&format!(
        "  height = 1600 mm\n  accept out-of-limit {WHO}\n"
    ));
    came.expect(&[(7, "accept-without-finding")]);
}

#[test]
fn a_plan_and_a_register_may_have_it_too() {
    let plan = "plan p rev A
stage winding
  reading height : length
    accept limit-without-source because \"drawing to follow\" by M.Okafor on 2026-02-20
    limit <= 1 m
";
    let small = Small::unchecked(&[]);
    let outcome = common::check_text(&small.path().join("p.ubr"), plan);
    let rules: Vec<(&str, bool)> = outcome
        .findings
        .iter()
        .map(|finding| (finding.rule.name, finding.accepted.is_some()))
        .collect();
    assert_eq!(rules, [("limit-without-source", true)]);
}
