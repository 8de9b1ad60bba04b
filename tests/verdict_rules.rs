//! Each rule of judging, once where it must speak and once where it must not.
//!
//! The works is small and built from texts: one plan, one register, one unit. Line numbers in the
//! expectations are those of the unit's text, whose head is four lines long.
//!
//! The last test compares whole findings as a person reads them with `tests/fixtures/rendered/*.txt`;
//! `UPDATE_EXPECT=1 cargo test --test verdict_rules` writes what is rendered now. Read the difference
//! before keeping it.

mod common;

use common::{Came, Small};
use stagebook::finding::terminal::{Style, render};
use stagebook::finding::{PointState, Severity};

const REGISTER: &str = "\
register bench
  zone +01:00

person M.Okafor \"Mary Okafor\"
  roles quality

person L.Novak \"Lena Novak\"
  roles test
  valid 2025-01-01 .. 2026-12-31

person C.Moreau \"Claire Moreau\"
  roles customer

instrument TP-1 \"tape\"
  measures length
  range 0 mm .. 3000 mm
  accuracy 1 mm  k = 2
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-1\"
";

const PLAN: &str = "\
plan bench rev A
  title \"Bench\"

set phase = U V W

role production, quality, test, customer

design
  need rated-voltage : voltage
  may  oil-mass : mass

stage winding \"Winding\"
  reading height[phase] : length
    limit <= 1700 mm
    source works \"bench instruction 2\"
    because \"a taller winding does not enter the bench\"
    look \"the force under which it was measured\", \"the spacer count\", \"the drying sheet\"
  reading turns : count
  check alike \"Heights alike\"
    require max(height[*]) - min(height[*]) <= 3 mm
    source common-practice
    because \"unequal windings push each other\"
  hold H10 \"Cleared for drying\" by quality
    because \"after drying nothing can be parted\"

stage drying \"Drying\"
  after winding
  reading moisture : ratio
  reading pressure : pressure given temperature
  witness W20 \"End of drying\" by customer notice 5 d
  hold H20 \"Cleared for packing\" by quality

stage packing \"Packing\"
  after drying
  reading net-mass : mass
    limit >= 100 kg
    source works \"bench instruction 5\"
    severity warning
  reading boxes : count
  review R30 \"Papers\" by quality
";

/// Head of a unit; what follows begins on line 5.
const HEAD: &str = "unit KFT-0500-1 \"bench\"\n  plan bench rev A\n  register bench\ndesign rev A\n  rated-voltage = 20 kV\n";

/// The winding stage, complete: lines 6 to 9.
const WINDING: &str = "stage winding\n  on 2026-03-02 by L.Novak\n  height[U] = 1600 mm\n  height[V] = 1601 mm\n  height[W] = 1600 mm\n  turns = 880\n";
const ATTENDED: &str =
    "notified W20 by L.Novak on 2026-02-20 \"letter 4\"\n  witnessed W20 by C.Moreau on 2026-03-05";
const RELEASED: &str = "  release H10 by M.Okafor on 2026-03-03\n";

fn works() -> Small {
    Small::new(&[PLAN, REGISTER])
}

#[track_caller]
fn judge(rest: &str) -> Came {
    works().judge(&format!("{HEAD}{rest}"))
}

/// Judges by a plan of one stage called `s`, whose lines are given, with a unit whose lines of that stage
/// (from line 4) are given.
#[track_caller]
fn small(plan: &str, unit: &str) -> Came {
    let plan = format!(
        "plan p rev A\n\nset phase = U V W\nset part = a b\n\nrole quality\n\nstage s\n{plan}"
    );
    Small::new(&[&plan]).judge(&format!("unit KFT-0500-1\n  plan p\nstage s\n{unit}"))
}

/// The same with a limit of one reading `x`; whether it holds.
#[track_caller]
fn holds(kind: &str, limit: &str, value: &str) -> bool {
    let came = small(
        &format!("  reading x : {kind}\n    limit {limit}\n    source common-practice\n"),
        &format!("  x = {value}\n"),
    );
    match &came.rules()[..] {
        [] => true,
        [(4, "out-of-limit")] => false,
        other => panic!("{other:?}: {:#?}", came.found),
    }
}

/// A check of the expression; whether it holds.
#[track_caller]
fn require(expression: &str, readings: &str, values: &str) -> bool {
    let came = small(
        &format!(
            "{readings}  check c \"C\"\n    require {expression}\n    source common-practice\n"
        ),
        values,
    );
    match &came.rules()[..] {
        [] => true,
        [(_, "check-failed")] => false,
        other => panic!("{other:?}: {:#?}", came.found),
    }
}

// ------------------------------------------------------------------------------------- pending or missing

#[test]
fn what_is_not_recorded_is_pending_while_nothing_goes_on_past_it() {
    let came = judge("stage winding\n  height[U] = 1600 mm\n");
    came.expect(&[]);
    let pending = came.pending();
    assert!(
        pending.len() == 1 && pending[0].contains("`height` [V], [W]"),
        "{pending:?}"
    );
    assert!(pending[0].contains("`turns`"), "{pending:?}");
    let unit = came.unit.expect("it was judged");
    assert_eq!((unit.counts.recorded, unit.counts.missing), (1, 0));
}

#[test]
fn a_place_kept_open_is_pending_too() {
    let came = judge("stage winding\n  height[U] = ?\n");
    came.expect(&[]);
    assert!(
        came.pending()[0].contains("`height` [U], [V], [W]"),
        "{:?}",
        came.pending()
    );
}

#[test]
fn what_is_not_recorded_is_missing_once_a_later_stage_has_work() {
    let rest = WINDING.replace("  turns = 880\n", "");
    judge(&format!("{rest}stage drying\n  moisture = 0.3 %\n"))
        .expect(&[(6, "missing-reading"), (11, "hold-passed")]);
}

#[test]
fn a_place_kept_open_is_missing_once_a_later_stage_has_work() {
    let rest = WINDING.replace("turns = 880", "turns = ?");
    judge(&format!(
        "{rest}{RELEASED}stage drying\n  moisture = 0.3 %\n"
    ))
    .expect(&[(12, "released-incomplete")]);
}

#[test]
fn a_release_over_something_not_recorded_is_incomplete() {
    let rest = WINDING.replace("  turns = 880\n", "");
    judge(&format!("{rest}{RELEASED}")).expect(&[(11, "released-incomplete")]);
    judge(&format!("{WINDING}{RELEASED}")).expect(&[]);
}

#[test]
fn what_is_not_applicable_with_a_reason_is_recorded() {
    let rest = WINDING.replace("turns = 880", "turns = n/a \"counted by the supplier\"");
    judge(&format!("{rest}{RELEASED}")).expect(&[]);
}

#[test]
fn a_design_value_is_pending_before_work_and_missing_after() {
    let head = HEAD.replace("  rated-voltage = 20 kV\n", "");
    works().judge(&head).expect(&[]);
    works()
        .judge(&format!("{head}{WINDING}"))
        .expect(&[(4, "design-value-missing")]);
    judge(WINDING).expect(&[]);
}

// ------------------------------------------------------------------------------------------------- points

#[test]
fn work_past_a_hold_that_is_not_released_passes_it() {
    let came = judge(&format!("{WINDING}stage drying\n  moisture = 0.3 %\n"));
    came.expect(&[(12, "hold-passed")]);
    let unit = came.unit.expect("it was judged");
    assert_eq!(unit.stages[0].points[0].state, PointState::Passed);
    let came = judge(&format!(
        "{WINDING}{RELEASED}stage drying\n  moisture = 0.3 %\n"
    ));
    came.expect(&[]);
    assert_eq!(
        came.unit.expect("it was judged").stages[0].points[0].state,
        PointState::Done
    );
}

#[test]
fn work_dated_before_the_release_of_the_hold_passes_it() {
    let drying = |date: &str| {
        judge(&format!(
            "{WINDING}{RELEASED}stage drying\n  on {date}\n  moisture = 0.3 %\n"
        ))
    };
    drying("2026-03-04").expect(&[]);
    // The same day is no proof of either order.
    drying("2026-03-03").expect(&[]);
    drying("2026-03-02 23:59").expect(&[(14, "hold-passed")]);
}

#[test]
fn times_of_day_decide_where_both_are_given() {
    let judged = |released: &str, work: &str| {
        let rest = WINDING.replace("2026-03-02", "2026-03-02 08:00");
        judge(&format!(
            "{rest}  release H10 by M.Okafor on {released}\nstage drying\n  on {work}\n  moisture = 0.3 %\n"
        ))
    };
    judged("2026-03-03 10:00", "2026-03-03 10:00").expect(&[]);
    judged("2026-03-03 10:01", "2026-03-03 10:00").expect(&[(14, "hold-passed")]);
}

#[test]
fn a_stage_two_further_on_passes_the_hold_as_well() {
    let came = judge(&format!("{WINDING}stage packing\n  boxes = 2\n"));
    let rules = came.rules();
    assert!(rules.contains(&(12, "hold-passed")), "{rules:?}");
    assert_eq!(
        came.found
            .iter()
            .filter(|found| found.rule == "hold-passed")
            .count(),
        2,
        "H10 and H20"
    );
}

#[test]
fn a_release_dated_before_a_reading_that_it_covers_is_found() {
    judge(&format!(
        "{WINDING}  release H10 by M.Okafor on 2026-03-01\n"
    ))
    .expect(&[(12, "release-before-reading")]);
    judge(&format!(
        "{WINDING}  release H10 by M.Okafor on 2026-03-02\n"
    ))
    .expect(&[]);
}

#[test]
fn only_the_role_of_the_point_may_release_it() {
    judge(&format!(
        "{WINDING}  release H10 by L.Novak on 2026-03-03\n"
    ))
    .expect(&[(12, "role-may-not-release")]);
    judge(&format!(
        "{WINDING}  release H10 by N.Obody on 2026-03-03\n"
    ))
    .expect(&[(12, "unknown-person")]);
}

#[test]
fn each_kind_of_point_has_its_word() {
    let drying = format!(
        "{WINDING}{RELEASED}stage drying\n  moisture = 0.3 %\n  pressure = 1 mbar at 100 °C\n  notified W20 by L.Novak on 2026-02-20\n"
    );
    judge(&format!(
        "{drying}  witnessed W20 by C.Moreau on 2026-03-05\n"
    ))
    .expect(&[]);
    let came = judge(&format!(
        "{drying}  waived W20 by C.Moreau on 2026-03-05 \"letter of 2026-03-01\"\n"
    ));
    came.expect(&[]);
    assert_eq!(
        came.unit.expect("it was judged").stages[1].points[0].state,
        PointState::Waived
    );
    judge(&format!(
        "{drying}  release W20 by C.Moreau on 2026-03-05\n"
    ))
    .expect(&[(17, "wrong-point-word")]);
    judge(&format!(
        "{drying}  witnessed H20 by M.Okafor on 2026-03-05\n"
    ))
    .expect(&[(17, "wrong-point-word")]);
    judge(&format!(
        "{drying}  release H99 by M.Okafor on 2026-03-05\n"
    ))
    .expect(&[(17, "unknown-point")]);
    judge(&format!(
        "{drying}  release H10 by M.Okafor on 2026-03-05\n"
    ))
    .expect(&[(17, "unknown-point")]);
}

#[test]
fn a_witness_or_a_review_at_the_end_of_the_work_holds_nothing_up() {
    let rest = format!(
        "{WINDING}{RELEASED}stage drying\n  moisture = 0.3 %\n  pressure = 1 mbar at 100 °C\n"
    );
    let came = judge(&rest);
    came.expect(&[]);
    let unit = came.unit.expect("it was judged");
    assert_eq!(unit.stages[1].points[0].state, PointState::Open);
}

#[test]
fn work_dated_before_the_stage_that_it_follows_is_out_of_order() {
    let came = judge(&format!(
        "{WINDING}stage drying\n  on 2026-03-01\n  moisture = 0.3 %\n"
    ));
    assert!(
        came.rules().contains(&(13, "stage-out-of-order")),
        "{:?}",
        came.rules()
    );
    let came = judge(&format!(
        "{WINDING}stage drying\n  on 2026-03-02\n  moisture = 0.3 %\n"
    ));
    assert!(
        !came
            .rules()
            .iter()
            .any(|(_, rule)| *rule == "stage-out-of-order"),
        "{:?}",
        came.rules()
    );
}

// ------------------------------------------------------------------------- failures and nonconformities

const TALL: &str = "stage winding\n  on 2026-03-02 by L.Novak\n  height[U] = 1701 mm\n  height[V] = 1700 mm\n  height[W] = 1700 mm\n  turns = 880\n";

#[test]
fn a_release_over_a_failure_is_found() {
    judge(TALL).expect(&[(8, "out-of-limit")]);
    judge(&format!("{TALL}{RELEASED}"))
        .expect(&[(8, "out-of-limit"), (12, "released-over-failure")]);
}

#[test]
fn a_warning_does_not_stop_a_release() {
    let rest = format!(
        "{WINDING}{RELEASED}stage drying\n  {ATTENDED}\n  moisture = 0.3 %\n  pressure = 1 mbar at 100 °C\n  \
         release H20 by M.Okafor on 2026-03-06\nstage packing\n  net-mass = 99 kg\n  boxes = 1\n"
    );
    let came = judge(&rest);
    came.expect(&[(20, "out-of-limit")]);
    assert_eq!(came.the("out-of-limit").severity, Severity::Warning);
}

/// A nonconformity against the height of phase U, with the lines given; it begins on line 13.
fn nonconformity(lines: &str) -> String {
    format!(
        "nonconformity NC-1 on 2026-03-02 by L.Novak\n  against winding.height[U]\n  found \"1 mm over\"\n{lines}"
    )
}

#[test]
fn a_closed_nonconformity_with_an_accepting_disposition_concedes() {
    let closed = nonconformity(
        "  disposition use-as-is\n  agreed by M.Okafor on 2026-03-02\n  closed by M.Okafor on 2026-03-03\n",
    );
    let came = judge(&format!("{TALL}{RELEASED}{closed}"));
    came.expect(&[(8, "conceded")]);
    assert_eq!(came.the("conceded").severity, Severity::Note);
    let unit = came.unit.expect("it was judged");
    assert_eq!((unit.counts.conceded, unit.counts.failing), (1, 0));
}

#[test]
fn a_nonconformity_that_is_open_or_against_another_reading_concedes_nothing() {
    judge(&format!("{TALL}{RELEASED}{}", nonconformity(""))).expect(&[
        (8, "out-of-limit"),
        (12, "released-over-failure"),
        (13, "nonconformity-open"),
    ]);
    let other = nonconformity(
        "  disposition use-as-is\n  agreed by M.Okafor on 2026-03-02\n  closed by M.Okafor on 2026-03-03\n",
    )
    .replace("height[U]", "height[V]");
    judge(&format!("{TALL}{RELEASED}{other}"))
        .expect(&[(8, "out-of-limit"), (12, "released-over-failure")]);
}

#[test]
fn scrap_concedes_nothing() {
    let closed = nonconformity(
        "  disposition scrap\n  agreed by M.Okafor on 2026-03-02\n  closed by M.Okafor on 2026-03-03\n",
    );
    let came = judge(&format!("{TALL}{RELEASED}{closed}"));
    let rules = came.rules();
    assert!(
        rules.contains(&(8, "out-of-limit")) && rules.contains(&(13, "nonconformity-open")),
        "{rules:?}"
    );
}

#[test]
fn a_nonconformity_may_stay_open_while_its_stage_is_not_released() {
    judge(&format!("{TALL}{}", nonconformity(""))).expect(&[(8, "out-of-limit")]);
}

#[test]
fn a_nonconformity_against_nothing_known_is_found() {
    let unknown = nonconformity("").replace("height[U]", "hieght[U]");
    judge(&format!("{TALL}{unknown}"))
        .expect(&[(8, "out-of-limit"), (13, "nonconformity-target-unknown")]);
}

#[test]
fn readings_that_work_has_passed_need_a_person_a_time_and_an_instrument() {
    let asked = |rest: &str| -> Vec<String> {
        let mut rules: Vec<String> = judge(rest)
            .found
            .into_iter()
            .map(|found| found.rule)
            .collect();
        rules.retain(|rule| {
            ["missing-person", "missing-date", "missing-instrument"].contains(&rule.as_str())
        });
        rules
    };
    let bare = WINDING.replace("  on 2026-03-02 by L.Novak\n", "");
    assert_eq!(asked(&bare), [""; 0], "nothing went on past it yet");
    assert_eq!(
        asked(&format!("{bare}{RELEASED}")),
        ["missing-date", "missing-instrument", "missing-person"]
    );
    let full = WINDING.replace("by L.Novak", "by L.Novak with TP-1");
    assert_eq!(asked(&format!("{full}{RELEASED}")), [""; 0]);
}

// ----------------------------------------------------------------------------------- rounds, amendments

#[test]
fn only_the_last_round_counts() {
    let again = WINDING
        .replace("stage winding", "stage winding round 2")
        .replace("03-02", "03-05");
    judge(&format!("{TALL}{again}")).expect(&[]);
    let worse = TALL
        .replace("stage winding", "stage winding round 2")
        .replace("03-02", "03-05");
    judge(&format!("{WINDING}{worse}")).expect(&[(14, "out-of-limit")]);
}

#[test]
fn a_release_of_the_first_round_does_not_cover_the_second() {
    let again = WINDING
        .replace("stage winding", "stage winding round 2")
        .replace("03-02", "03-05");
    let came = judge(&format!("{WINDING}{RELEASED}{again}"));
    came.expect(&[]);
    assert_eq!(
        came.unit.expect("it was judged").stages[0].points[0].state,
        PointState::Open
    );
    let came = judge(&format!(
        "{WINDING}{RELEASED}{again}stage drying\n  moisture = 0.3 %\n"
    ));
    came.expect(&[(19, "hold-passed")]);
}

#[test]
fn an_amendment_counts_in_place_of_the_first_value() {
    let amend = |line: &str| judge(&format!("{TALL}  amend {line}\n"));
    let tail = "by L.Novak on 2026-03-02 because \"misread tape\"";
    amend(&format!("height[U] = 1700 mm was 1701 mm {tail}")).expect(&[]);
    amend(&format!("height[U] = 1700 mm was 1702 mm {tail}"))
        .expect(&[(8, "out-of-limit"), (12, "amendment-mismatch")]);
    amend("height[U] = 1700 mm was 1701 mm by L.Novak on 2026-03-02")
        .expect(&[(12, "reason-missing")]);
    let came = judge(&format!(
        "{WINDING}  amend height[U] = 1800 mm was 1600 mm {tail}\n"
    ));
    assert!(
        came.rules().iter().any(|(_, rule)| *rule == "out-of-limit"),
        "{:?}",
        came.rules()
    );
}

#[test]
fn a_value_recorded_twice_is_found_and_the_first_counts() {
    judge(&format!("{WINDING}  height[U] = 1800 mm\n")).expect(&[(12, "duplicate-reading")]);
}

// ------------------------------------------------------------------------------------- people, instruments

#[test]
fn an_instrument_must_be_known_valid_and_of_the_right_kind() {
    let with = |line: &str| {
        let rest = format!("stage winding\n  on 2026-03-02 by L.Novak\n  {line}\n");
        judge(&rest)
    };
    with("height[U] = 1600 mm with TP-1").expect(&[]);
    with("height[U] = 1600 mm with TP-2").expect(&[(8, "unknown-instrument")]);
    with("height[U] = 1600 mm with TP-1 on 2027-01-02").expect(&[
        (7, "person-not-valid"),
        (8, "instrument-out-of-calibration"),
    ]);
    with("height[U] = 1600 mm with TP-1 on 2025-12-31")
        .expect(&[(8, "instrument-out-of-calibration")]);
    judge(&format!(
        "{WINDING}{RELEASED}stage drying\n  on 2026-03-04 by L.Novak\n  moisture = 0.3 % with TP-1\n"
    ))
    .expect(&[(15, "instrument-does-not-measure")]);
}

#[test]
fn a_condition_without_which_a_reading_means_nothing_is_asked_for() {
    let with = |line: &str| judge(&format!("{WINDING}{RELEASED}stage drying\n  {line}\n"));
    with("pressure = 1 mbar").expect(&[(14, "missing-condition")]);
    with("pressure = 1 mbar at 100 °C").expect(&[]);
    let rules = with("pressure = 1 mbar at 100 mm");
    assert!(!rules.rules().is_empty());
}

// ------------------------------------------------------------------------------------------------- limits

#[test]
fn a_limit_that_is_met_exactly_holds_in_whatever_unit() {
    assert!(holds("voltage", "<= 300 V", "0.3 kV"));
    assert!(holds("voltage", "<= 300 V", "300000 mV"));
    assert!(!holds("voltage", "<= 300 V", "0.3000000000000000000001 kV"));
    assert!(holds("length", "<= 1 in", "25.4 mm"));
    assert!(!holds("length", "<= 1 in", "25.4001 mm"));
    assert!(holds("time", ">= 0.5 h", "1800 s"));
    assert!(holds("ratio", "<= 0.5 %", "5000 ppm"));
}

#[test]
fn sums_of_decimals_are_exact() {
    let readings = "  reading a : voltage\n  reading b : voltage\n";
    assert!(require(
        "a + b <= 300 V",
        readings,
        "  a = 0.1 kV\n  b = 0.2 kV\n"
    ));
    assert!(require(
        "a + b >= 300 V",
        readings,
        "  a = 0.1 kV\n  b = 0.2 kV\n"
    ));
    assert!(require(
        "a + b = 300 V",
        readings,
        "  a = 0.1 kV\n  b = 0.2 kV\n"
    ));
    assert!(!require(
        "a + b < 300 V",
        readings,
        "  a = 0.1 kV\n  b = 0.2 kV\n"
    ));
    assert!(!require(
        "a + b <= 300 V",
        readings,
        "  a = 0.1 kV\n  b = 0.20000000000000000001 kV\n"
    ));
}

#[test]
fn a_root_that_meets_its_limit_holds() {
    let readings = "  reading a : area\n";
    assert!(require(
        "sqrt(a) <= 1.4142135623730951 m",
        readings,
        "  a = 2 m^2\n"
    ));
    assert!(require("sqrt(a) <= 3 m", readings, "  a = 9 m^2\n"));
    assert!(!require("sqrt(a) <= 2.999999 m", readings, "  a = 9 m^2\n"));
}

#[test]
fn every_form_of_a_limit_holds_at_both_its_ends_and_not_past_them() {
    let cases: &[(&str, &[&str], &[&str])] = &[
        ("= 10 mm", &["10 mm", "1 cm"], &["10.001 mm", "9.999 mm"]),
        (
            "10 mm .. 12 mm",
            &["10 mm", "11 mm", "12 mm"],
            &["9.99 mm", "12.01 mm"],
        ),
        ("10 mm +- 2 mm", &["8 mm", "12 mm"], &["7.9 mm", "12.1 mm"]),
        (
            "10 mm +3/-0 mm",
            &["10 mm", "13 mm"],
            &["9.9 mm", "13.1 mm"],
        ),
        (
            "10 mm +- 10 % * 10 mm",
            &["9 mm", "11 mm"],
            &["8.9 mm", "11.1 mm"],
        ),
        (">= 10 mm", &["10 mm", "1e9 mm"], &["9.99 mm", "-10 mm"]),
    ];
    for (limit, good, bad) in cases {
        for value in *good {
            assert!(holds("length", limit, value), "{value} against {limit}");
        }
        for value in *bad {
            assert!(!holds("length", limit, value), "{value} against {limit}");
        }
    }
}

#[test]
fn a_tolerance_of_the_design_is_the_limit() {
    let plan = "plan p rev A\n\ndesign\n  need height : length\n\nstage s\n  reading x : length\n    limit design.height\n    source works \"as drawn\"\n";
    let works = Small::new(&[plan]);
    let judged = |tolerance: &str, value: &str| {
        let unit = format!(
            "unit KFT-0500-1\n  plan p\ndesign rev A\n  height = {tolerance}\nstage s\n  x = {value}\n"
        );
        works.judge(&unit).rules().is_empty()
    };
    for (tolerance, good, bad) in [
        (
            "1612 mm +3/-0 mm",
            ["1612 mm", "1.615 m"],
            ["1611.9 mm", "1615.1 mm"],
        ),
        (
            "1612 mm +- 3 mm",
            ["1609 mm", "1615 mm"],
            ["1608.9 mm", "1615.1 mm"],
        ),
        (
            "1612 mm ± 3 mm",
            ["1609 mm", "1615 mm"],
            ["1608.9 mm", "1615.1 mm"],
        ),
        ("<= 1612 mm", ["1612 mm", "0 mm"], ["1612.1 mm", "2000 mm"]),
        (
            "1610 .. 1612 mm",
            ["1610 mm", "1612 mm"],
            ["1609 mm", "1613 mm"],
        ),
    ] {
        for value in good {
            assert!(judged(tolerance, value), "{value} against {tolerance}");
        }
        for value in bad {
            assert!(!judged(tolerance, value), "{value} against {tolerance}");
        }
    }
}

#[test]
fn a_temperature_is_a_point_and_its_difference_is_none() {
    assert!(holds("temperature", "40 °C .. 60 °C", "60 °C"));
    assert!(holds("temperature", "<= 60 °C", "140 °F"));
    assert!(!holds("temperature", "<= 60 °C", "140.1 °F"));
    assert!(holds("temperature", "<= -40 °C", "-40 °F"));
    let readings = "  reading a : temperature\n  reading b : temperature\n";
    assert!(require(
        "a - b <= 45 K",
        readings,
        "  a = 65 °C\n  b = 20 °C\n"
    ));
    assert!(require(
        "a - b <= 45 K",
        readings,
        "  a = 149 °F\n  b = 68 °F\n"
    ));
    assert!(!require(
        "a - b <= 45 K",
        readings,
        "  a = 65.01 °C\n  b = 20 °C\n"
    ));
    assert!(require(
        "a <= b + 45 K",
        readings,
        "  a = 65 °C\n  b = 20 °C\n"
    ));
}

// ---------------------------------------------------------------------------------- what is not known

#[test]
fn what_is_not_known_is_never_wrong() {
    let readings = "  reading a : yes-no\n  reading b : yes-no\n";
    let cases = [
        // The one that is known decides where it can.
        ("a and b", "  a = no\n", false),
        ("a and b", "  a = yes\n", true),
        ("a or b", "  a = no\n", true),
        ("not (a or b)", "  a = yes\n", false),
        ("a and b", "", true),
        ("b", "  a = no\n", true),
        ("a and b", "  a = yes\n  b = no\n", false),
    ];
    for (expression, values, held) in cases {
        let values = if values.is_empty() {
            "  note \"nothing\"\n"
        } else {
            values
        };
        assert_eq!(
            require(expression, readings, values),
            held,
            "{expression} with {values:?}"
        );
    }
}

#[test]
fn a_check_is_decided_by_the_readings_that_are_there_or_not_at_all() {
    let readings = "  reading x[phase] : length\n";
    // A maximum over what is not complete is not known.
    assert!(require("max(x[*]) <= 1 mm", readings, "  x[U] = 0.5 mm\n"));
    assert!(!require(
        "max(x[*]) <= 1 mm",
        readings,
        "  x[U] = 2 mm\n  x[V] = 0.5 mm\n  x[W] = 0.5 mm\n"
    ));
    let came = small(
        &format!(
            "{readings}  check c \"C\"\n    require x[U] + x[V] <= 1 mm\n    source common-practice\n"
        ),
        "  x[U] = 5 mm\n",
    );
    came.expect(&[]);
    assert_eq!(came.unit.expect("it was judged").counts.unknown, 1);
}

#[test]
fn what_is_guarded_by_when_is_left_out() {
    let plan = "  reading a : yes-no\n  reading b : length\n    limit <= 1 mm\n    when a\n    source common-practice\n  \
                check c \"C\"\n    require b <= 1 mm\n    when a\n    source common-practice\n  hold H1 \"H\" by quality\n";
    let came = small(plan, "  a = no\n  release H1 by M.Okafor on 2026-03-02\n");
    came.expect(&[]);
    let came = small(plan, "  a = yes\n  release H1 by M.Okafor on 2026-03-02\n");
    came.expect(&[(5, "released-incomplete")]);
    let came = small(plan, "  a = yes\n  b = 2 mm\n");
    came.expect(&[(5, "check-failed"), (5, "out-of-limit")]);
}

#[test]
fn a_share_of_zero_is_told_and_not_judged() {
    let readings = "  reading a : length\n  reading b : length\n";
    let came = small(
        &format!("{readings}  check c \"C\"\n    require a / b <= 1\n    source common-practice\n"),
        "  a = 2 mm\n  b = 0 mm\n",
    );
    let rules = came.rules();
    assert!(
        rules.len() == 1 && rules[0].1 == "cannot-be-calculated",
        "{rules:?}"
    );
}

#[test]
fn an_if_takes_only_the_branch_that_holds() {
    let readings = "  reading a : length\n  reading b : length\n";
    assert!(require(
        "(if b = 0 mm then 0 else a / b) <= 1",
        readings,
        "  a = 2 mm\n  b = 0 mm\n"
    ));
    assert!(!require(
        "(if b = 0 mm then 0 else a / b) <= 1",
        readings,
        "  a = 2 mm\n  b = 1 mm\n"
    ));
}

#[test]
fn the_first_of_a_lot_is_asked_for_more() {
    let plan = "plan p rev A\n\nrole quality\n\nstage s\n  reading a : length\n  reading rise : length\n    when first-of-lot()\n  hold H1 \"H\" by quality\n";
    let works = Small::new(&[plan]);
    let judged = |lot: &str| {
        let unit = format!(
            "unit KFT-0500-1\n  plan p\n{lot}stage s\n  a = 1 mm\n  release H1 by M.Okafor on 2026-03-02\n"
        );
        works
            .judge(&unit)
            .rules()
            .iter()
            .map(|(_, rule)| (*rule).to_owned())
            .collect::<Vec<_>>()
    };
    assert_eq!(
        judged("  lot KFT-0500  unit 1 of 3\n"),
        ["released-incomplete"]
    );
    assert_eq!(
        judged("  lot KFT-0500  unit 2 of 3 type-tested KFT-0500-9\n"),
        ["type-tested-unit-not-at-hand"]
    );
}

#[test]
fn a_stage_that_is_not_for_this_unit_asks_for_nothing_and_holds_nothing() {
    let plan = "plan p rev A\n\nrole quality\n\ndesign\n  need gas : yes-no\n\nstage one\n  reading a : length\n\nstage two\n  after one\n  when design.gas\n  reading b : length\n  hold H2 \"H\" by quality\n\nstage three\n  after two\n  reading c : length\n";
    let works = Small::new(&[plan]);
    let judged = |gas: &str| {
        works.judge(&format!(
            "unit KFT-0500-1\n  plan p\ndesign rev A\n  gas = {gas}\nstage one\n  a = 1 mm\nstage three\n  c = 1 mm\n"
        ))
    };
    judged("no").expect(&[]);
    judged("yes").expect(&[(7, "hold-passed"), (7, "missing-reading")]);
}

// ----------------------------------------------------------------------------------- plans that extend

const BASE: &str = "plan base rev A\n\nrole quality\n\nstage s\n  reading x : length\n    limit <= 10 mm\n    source common-practice\n  reading y : length\n  check c \"C\"\n    require x + y <= 15 mm\n    source common-practice\n  hold H1 \"H\" by quality\n";

#[track_caller]
fn extended(changes: &str, unit: &str) -> Came {
    let own = format!("plan own rev A extends base\n\n{changes}");
    Small::new(&[BASE, &own]).judge(&format!("unit KFT-0500-1\n  plan own\nstage s\n{unit}"))
}

#[test]
fn a_plan_that_extends_another_inherits_it() {
    extended("", "  x = 10 mm\n").expect(&[]);
    extended("", "  x = 11 mm\n").expect(&[(4, "out-of-limit")]);
}

#[test]
fn both_limits_hold_where_one_is_tightened() {
    let tighten = "tighten s.x\n  limit >= 2 mm\n  source works \"own\"\n  because \"own\"\n";
    extended(tighten, "  x = 2 mm\n").expect(&[]);
    extended(tighten, "  x = 1 mm\n").expect(&[(4, "out-of-limit")]);
    extended(tighten, "  x = 11 mm\n").expect(&[(4, "out-of-limit")]);
    let check =
        "tighten s.c\n  require x + y <= 12 mm\n  source works \"own\"\n  because \"own\"\n";
    extended(check, "  x = 10 mm\n  y = 2 mm\n").expect(&[]);
    let came = extended(check, "  x = 10 mm\n  y = 3 mm\n");
    assert!(
        came.rules().iter().any(|(_, rule)| *rule == "check-failed"),
        "{:?}",
        came.rules()
    );
    // What calls itself tighter and is wider changes nothing.
    let wider = "tighten s.x\n  limit <= 20 mm\n  source works \"own\"\n  because \"own\"\n";
    extended(wider, "  x = 11 mm\n").expect(&[(4, "out-of-limit")]);
}

#[test]
fn a_relaxed_limit_takes_the_place_of_the_first() {
    let relax = "relax s.x because \"own windings settle\"\n  limit <= 12 mm\n  source works \"own\"\n  because \"own\"\n";
    extended(relax, "  x = 12 mm\n").expect(&[]);
    extended(relax, "  x = 13 mm\n").expect(&[(4, "out-of-limit")]);
}

#[test]
fn what_is_dropped_is_no_longer_asked_for() {
    let drop = "drop s.y because \"measured elsewhere\"\ndrop s.c because \"measured elsewhere\"\n";
    extended(drop, "  x = 1 mm\n  release H1 by M.Okafor on 2026-03-02\n").expect(&[]);
    extended("", "  x = 1 mm\n  release H1 by M.Okafor on 2026-03-02\n")
        .expect(&[(5, "released-incomplete")]);
}

#[test]
fn what_is_added_is_asked_for() {
    let add = "add stage s\n  reading z : length\n    limit <= 1 mm\n    source works \"own\"\n";
    extended(add, "  z = 1 mm\n").expect(&[]);
    extended(add, "  z = 2 mm\n").expect(&[(4, "out-of-limit")]);
    extended(
        add,
        "  x = 1 mm\n  y = 1 mm\n  release H1 by M.Okafor on 2026-03-02\n",
    )
    .expect(&[(6, "released-incomplete")]);
}

#[test]
fn a_change_that_has_no_reason_or_no_target_is_found_in_the_plan() {
    for (change, rule) in [
        (
            "relax s.x\n  limit <= 12 mm\n  source works \"own\"\n",
            "relax-without-reason",
        ),
        (
            "tighten s.q\n  limit <= 12 mm\n  source works \"own\"\n",
            "no-such-target",
        ),
        ("drop s.q because \"none\"\n", "no-such-target"),
        ("add stage t\n  reading z : length\n", "no-such-target"),
    ] {
        let own = format!("plan own rev A extends base\n\n{change}");
        let works = Small::unchecked(&[BASE, &own]);
        let found = common::in_short(&common::check(&[works.path().join("document-1.ubr")]));
        assert!(
            found
                .iter()
                .any(|found| found.rule == rule && found.line == 3),
            "{change}: {found:#?}"
        );
    }
}

#[test]
fn another_revision_of_the_plan_is_told() {
    let came = works().judge("unit KFT-0500-1\n  plan bench rev B\n");
    assert_eq!(came.rules(), [(2, "plan-revision-differs")]);
}

// ----------------------------------------------------------------------------------- what a person reads

#[test]
fn findings_read_as_they_are_kept() {
    let closed = nonconformity(
        "  disposition use-as-is\n  agreed by M.Okafor on 2026-03-02\n  closed by M.Okafor on 2026-03-03\n",
    );
    let amended = "  amend height[U] = 1700 mm was 1702 mm by L.Novak on 2026-03-02 because \"misread tape\"\n";
    let cases: Vec<(&str, String)> = vec![
        ("out-of-limit", TALL.to_owned()),
        (
            "check-failed",
            WINDING.replace("height[V] = 1601 mm", "height[V] = 1.6045 m"),
        ),
        (
            "hold-passed",
            format!("{WINDING}stage drying\n  moisture = 0.3 %\n"),
        ),
        (
            "released-incomplete",
            format!("{}{RELEASED}", WINDING.replace("  turns = 880\n", "")),
        ),
        ("released-over-failure", format!("{TALL}{RELEASED}")),
        (
            "role-may-not-release",
            format!("{WINDING}  release H10 by L.Novak on 2026-03-03\n"),
        ),
        ("conceded", format!("{TALL}{RELEASED}{closed}")),
        (
            "nonconformity-open",
            format!("{TALL}{RELEASED}{}", nonconformity("")),
        ),
        ("amendment-mismatch", format!("{TALL}{amended}")),
        ("decimal-comma", WINDING.replace("1601 mm", "1601,5 mm")),
        ("unknown-name", WINDING.replace("turns", "tunrs")),
        ("wrong-unit", WINDING.replace("1601 mm", "1601 kg")),
        (
            "missing-condition",
            format!("{WINDING}{RELEASED}stage drying\n  pressure = 1 mbar\n"),
        ),
        (
            "instrument-out-of-calibration",
            WINDING.replace("1601 mm", "1601 mm with TP-1 on 2025-12-30"),
        ),
    ];
    let folder = common::project().join("tests/fixtures/rendered");
    let mut pages = Vec::new();
    for (rule, rest) in &cases {
        let works = works();
        let came = works.judge(&format!("{HEAD}{rest}"));
        let place = format!("{}/", works.path().to_string_lossy());
        let page = render(came.the(rule), &came.outcome.sources, Style::default());
        // The rule and the frame are compared, not where the temporary folder lies.
        let page = page.replace(&place, "");
        assert!(
            page.lines().all(|line| line.trim_end() == line),
            "{rule}: blanks at a line's end\n{page}"
        );
        pages.push((rule.to_string(), page));
    }
    common::same_as_kept(&folder, &pages);
}
