//! Uncertainty in the judgement: `decide guarded` and its three answers, instruments that are too coarse or
//! used outside their range. Each where it must speak and where it must not.
//!
//! Whole findings are compared with `tests/fixtures/uncertainty/*.txt`; `UPDATE_EXPECT=1 cargo test --test
//! decisions` writes what is rendered now. Read the difference before you keep it.

mod common;

use common::{Came, Small, in_short};
use stagebook::finding::json;
use stagebook::finding::terminal::{Style, render};
use stagebook::finding::{Finding, Severity};

/// TP-1 is stated with k = 2, TP-3 with k = 3, TP-L as limits of error, TP-0 not at all.
const REGISTER: &str = "\
register bench

person L.Novak \"Lena Novak\"
  roles test

person M.Okafor \"Mary Okafor\"
  roles quality

instrument TP-1 \"tape\"
  measures length
  range 0 mm .. 3000 mm
  accuracy 0.5 mm  k = 2
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-1\"

instrument TP-3 \"tape\"
  measures length
  accuracy 0.6 mm  k = 3
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-3\"

instrument TP-L \"tape with limits of error\"
  measures length
  accuracy 0.6 mm
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-4\"

instrument TP-0 \"tape without a statement\"
  measures length
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-5\"

instrument GG-1 \"gauge\"
  measures pressure
  range 0 bar .. 10 bar
  accuracy 1 % of range  k = 2
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-6\"

instrument IR-5 \"insulation tester\"
  measures resistance
  range 1 Mohm .. 1 Tohm
  accuracy 5 % of reading  k = 2
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-7\"

instrument TH-1 \"thermometer\"
  measures temperature
  range -20 °C .. 150 °C
  accuracy 0.5 K  k = 2
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-8\"

instrument TC-1 \"counter\"
  measures count
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-9\"
";

/// A plan of one stage `s`, with lines of its own below `plan` and in the stage.
fn plan(head: &str, stage: &str) -> String {
    format!("plan p rev A\n{head}role test, quality\n\nstage s\n{stage}")
}

fn record(unit: &str) -> String {
    format!(
        "unit KFT-0500-1\n  plan p\n  register bench\nstage s\n  on 2026-02-02 09:00 by L.Novak\n{unit}"
    )
}

/// Judges by a plan in order; the unit's lines begin on line 6.
#[track_caller]
fn bench(head: &str, stage: &str, unit: &str) -> Came {
    Small::new(&[&plan(head, stage), REGISTER]).judge(&record(unit))
}

/// The rules that one reading meets under one limit, decided guarded.
#[track_caller]
fn guarded(declared: &str, limit: &str, recorded: &str) -> Vec<String> {
    let stage =
        format!("  reading {declared}\n    limit {limit}\n    source works \"instruction 2\"\n");
    let came = bench("  decide guarded\n", &stage, &format!("  {recorded}\n"));
    came.found.iter().map(|found| found.rule.clone()).collect()
}

const PASSES: &[&str] = &[];
const OPEN: &[&str] = &["not-proven"];
const FAILS: &[&str] = &["out-of-limit"];

// ---------------------------------------------------------------------------------- limits of readings

/// Worked by hand after ISO 14253-1: the limit drawn in by U at each side that it has, and met where it is met
/// exactly. U = 0.5 mm (TP-1), 0.6 mm * 2 / 3 = 0.4 mm (TP-3), 2 * 0.6 mm / √3 = 0.692820 mm (TP-L).
#[test]
fn a_guarded_limit_has_three_answers() {
    for (limit, recorded, expected) in [
        // Both sides.
        ("1600 mm +- 2 mm", "1600 mm with TP-1", PASSES),
        ("1600 mm +- 2 mm", "1601.5 mm with TP-1", PASSES),
        ("1600 mm +- 2 mm", "1601.51 mm with TP-1", OPEN),
        ("1600 mm +- 2 mm", "1602 mm with TP-1", OPEN),
        ("1600 mm +- 2 mm", "1602.01 mm with TP-1", FAILS),
        ("1600 mm +- 2 mm", "1598.5 mm with TP-1", PASSES),
        ("1600 mm +- 2 mm", "1.59849 m with TP-1", OPEN),
        ("1600 mm +- 2 mm", "1597.99 mm with TP-1", FAILS),
        ("1600 mm +3/-0 mm", "1600.5 mm with TP-1", PASSES),
        ("1600 mm +3/-0 mm", "1600.4 mm with TP-1", OPEN),
        // One side.
        ("<= 1700 mm", "1699.5 mm with TP-1", PASSES),
        ("<= 1700 mm", "1699.6 mm with TP-1", OPEN),
        ("<= 1700 mm", "1700 mm with TP-1", OPEN),
        ("<= 1700 mm", "1700.1 mm with TP-1", FAILS),
        (">= 1700 mm", "1700.5 mm with TP-1", PASSES),
        (">= 1700 mm", "1700.4 mm with TP-1", OPEN),
        (">= 1700 mm", "1699.9 mm with TP-1", FAILS),
        ("< 1700 mm", "1699.5 mm with TP-1", OPEN),
        ("< 1700 mm", "1699.49 mm with TP-1", PASSES),
        ("< 1700 mm", "1700 mm with TP-1", FAILS),
        // Another coverage factor, and limits of error.
        ("<= 1700 mm", "1699.6 mm with TP-3", PASSES),
        ("<= 1700 mm", "1699.61 mm with TP-3", OPEN),
        ("<= 1700 mm", "1699.3071 mm with TP-L", PASSES),
        ("<= 1700 mm", "1699.3073 mm with TP-L", OPEN),
        // The uncertainty leaves nothing of the limit.
        ("1600 mm +- 0.4 mm", "1600 mm with TP-1", OPEN),
        ("1600 mm +- 0.5 mm", "1600 mm with TP-1", PASSES),
        // What is not known proves nothing; what is outside fails all the same.
        ("<= 1700 mm", "1000 mm with TP-0", OPEN),
        ("<= 1700 mm", "1800 mm with TP-0", FAILS),
    ] {
        let found = guarded("x : length", limit, &format!("x = {recorded}"));
        assert_eq!(found, expected, "{limit}, {recorded}");
    }
}

#[test]
fn shares_of_the_reading_shares_of_the_range_and_temperatures() {
    for (declared, limit, recorded, expected) in [
        // 5 % of 530 Mohm are 26.5 Mohm.
        (
            "r : resistance",
            ">= 500 Mohm",
            "r = 530 Mohm with IR-5",
            PASSES,
        ),
        (
            "r : resistance",
            ">= 500 Mohm",
            "r = 526 Mohm with IR-5",
            OPEN,
        ),
        (
            "r : resistance",
            ">= 500 Mohm",
            "r = 499 Mohm with IR-5",
            FAILS,
        ),
        // 1 % of 10 bar is 0.1 bar wherever it is read.
        ("p : pressure", "<= 2 bar", "p = 1.9 bar with GG-1", PASSES),
        ("p : pressure", "<= 2 bar", "p = 1.91 bar with GG-1", OPEN),
        // A thermometer's uncertainty is a difference.
        (
            "t : temperature",
            "<= 80 °C",
            "t = 79.5 °C with TH-1",
            PASSES,
        ),
        ("t : temperature", "<= 80 °C", "t = 79.6 °C with TH-1", OPEN),
        (
            "t : temperature",
            "15 °C .. 30 °C",
            "t = 15.4 °C with TH-1",
            OPEN,
        ),
    ] {
        assert_eq!(guarded(declared, limit, recorded), expected, "{recorded}");
    }
}

/// 0.5 mm and 1.2 mm, both with k = 2, give sqrt(0.5² + 1.2²) = 1.3 mm.
#[test]
fn what_the_plan_states_is_added_as_squares_and_stands_alone_where_the_register_states_nothing() {
    for (stated, recorded, expected) in [
        ("1.2 mm k = 2", "1698.7 mm with TP-1", PASSES),
        ("1.2 mm k = 2", "1698.71 mm with TP-1", OPEN),
        ("1.2 mm k = 2", "1698.8 mm with TP-0", PASSES),
        ("1.2 mm k = 2", "1698.81 mm with TP-0", OPEN),
        ("1.2 mm k = 2", "1698.8 mm", PASSES),
        // 0.1 % of 1650 mm is 1.65 mm; as squares with 0.5 mm 1.7241 mm.
        ("0.1 % of reading k = 2", "1650 mm with TP-1", PASSES),
        ("0.1 % of reading k = 2", "1698.3 mm with TP-1", OPEN),
    ] {
        let stage = format!(
            "  reading x : length\n    limit <= 1700 mm\n    source works \"instruction 2\"\n    uncertainty {stated}\n"
        );
        let came = bench("  decide guarded\n", &stage, &format!("  x = {recorded}\n"));
        let found: Vec<&str> = came.rules().into_iter().map(|(_, rule)| rule).collect();
        assert_eq!(found, expected, "{stated}, {recorded}: {:#?}", came.found);
    }
}

#[test]
fn an_uncertainty_of_the_condition_says_nothing_of_the_reading() {
    let stage = "  reading r : resistance given temperature\n    limit >= 500 Mohm\n    source works \"instruction 2\"\n    uncertainty 2 K for temperature\n";
    let came = bench(
        "  decide guarded\n",
        stage,
        "  r = 530 Mohm at 20 °C with IR-5\n",
    );
    came.expect(&[]);
}

#[test]
fn what_is_missing_is_named() {
    for (recorded, missing) in [
        (
            "x = 1000 mm",
            "the instrument with which the length was read",
        ),
        (
            "x = 1000 mm with TP-0",
            "an accuracy of TP-0 for length in the register",
        ),
        ("x = 1000 mm with TP-9", "TP-9 in the register"),
        (
            "x = 1000 mm with GG-1",
            "an accuracy of GG-1 for length in the register",
        ),
    ] {
        let stage =
            "  reading x : length\n    limit <= 1700 mm\n    source works \"instruction 2\"\n";
        let came = bench("  decide guarded\n", stage, &format!("  {recorded}\n"));
        let finding = came.the("not-proven");
        assert!(finding.message.contains(missing), "{}", finding.message);
        let reasoning = finding.reasoning.as_deref().expect("it has its reasons");
        assert_eq!(reasoning.missing, [missing.to_owned()]);
        let uncertainty = reasoning.uncertainty.as_ref().expect("it is asked for");
        assert_eq!(uncertainty.expanded, None);
    }
}

#[test]
fn what_is_counted_named_or_compared_as_it_stands_is_not_guarded() {
    let stage = "  reading n : count\n    limit = 880\n    source works \"w\"\n  reading m : count\n    limit <= 3\n    source works \"w\"\n  reading done : yes-no\n    limit = yes\n    source works \"w\"\n  reading x : length\n    limit <= 1700 mm\n    source works \"w\"\n    decide simple\n";
    let came = bench(
        "  decide guarded\n",
        stage,
        "  n = 880 with TC-1\n  m = 3 with TC-1\n  done = yes\n  x = 1700 mm with TP-1\n",
    );
    came.expect(&[]);
    // And the other way round: one reading guarded in a plan that is not.
    let stage = stage.replace("decide simple", "decide guarded");
    let came = bench("", &stage, "  n = 880 with TC-1\n  x = 1700 mm with TP-1\n");
    came.expect(&[(7, "not-proven")]);
}

#[test]
fn exactly_one_value_of_what_is_measured_is_told_when_the_plan_is_opened() {
    let stage = |limit: &str| {
        format!(
            "  reading x : length\n    limit {limit}\n    source works \"w\"\n  reading n : count\n    limit = 3\n    source works \"w\"\n"
        )
    };
    let told = |head: &str, stage: &str| {
        let small = Small::unchecked(&[&plan(head, stage), REGISTER]);
        let found = in_short(&common::check(&[small.path().join("document-0.ubr")]));
        let rules: Vec<(usize, String)> = found
            .into_iter()
            .map(|found| (found.line, found.rule))
            .collect();
        rules
    };
    let guarded = "  decide guarded\n";
    let expected = [(7, "limit-not-provable".to_owned())];
    assert_eq!(told(guarded, &stage("= 1600 mm")), expected);
    assert_eq!(told(guarded, &stage("1600 mm +- 1 mm")), []);
    assert_eq!(told("", &stage("= 1600 mm")), []);
    let check = "  reading x : length\n  reading n : count\n  calc y = x + 1 mm\n  check c\n    require y = 3 mm\n    source works \"w\"\n  check d\n    require n = 3 and x > 1 mm\n    source works \"w\"\n";
    assert_eq!(
        told(guarded, check),
        [(10, "limit-not-provable".to_owned())]
    );
    // It is then compared as it stands.
    let small = Small::unchecked(&[&plan(guarded, &stage("= 1600 mm")), REGISTER]);
    let rules = |unit: &str| {
        let came = small.judge(&record(unit));
        came.found
            .into_iter()
            .filter(|found| found.path.ends_with("unit.ubr") && found.severity == Severity::Error)
            .map(|found| found.rule)
            .collect::<Vec<_>>()
    };
    assert_eq!(rules("  x = 1600 mm with TP-1\n"), Vec::<String>::new());
    assert_eq!(rules("  x = 1600.1 mm with TP-1\n"), ["out-of-limit"]);
}

#[test]
fn of_several_limits_a_failing_one_is_told_before_one_that_is_not_proven() {
    let stage = "  reading x : length\n    limit >= 1000 mm\n    limit <= 1700 mm\n    source works \"w\"\n";
    let came = bench("  decide guarded\n", stage, "  x = 999.9 mm with TP-1\n");
    came.expect(&[(6, "out-of-limit")]);
    let came = bench("  decide guarded\n", stage, "  x = 1699.9 mm with TP-1\n");
    came.expect(&[(6, "not-proven")]);
    assert!(came.the("not-proven").message.contains("≤ 1700 mm"));
}

const HELD: &str =
    "  reading x : length\n    limit <= 1700 mm\n    source works \"w\"\n  hold H10 by quality\n";

#[test]
fn what_is_not_proven_holds_the_release_until_it_is_conceded() {
    let release = "  release H10 by M.Okafor on 2026-02-03 10:00\n";
    let open = format!("  x = 1699.8 mm with TP-1\n{release}");
    let came = bench("  decide guarded\n", HELD, &open);
    came.expect(&[(6, "not-proven"), (7, "released-over-failure")]);
    let counts = came.unit.as_ref().expect("it is judged").counts;
    assert_eq!(
        (counts.failing, counts.not_proven, counts.holding),
        (0, 1, 0)
    );
    let conceded = "nonconformity NC-1 on 2026-02-02 by L.Novak\n  against s.x\n  found \"not proven\"\n  disposition use-as-is\n  agreed by M.Okafor on 2026-02-02\n  closed by M.Okafor on 2026-02-02\n";
    let came = bench("  decide guarded\n", HELD, &format!("{open}{conceded}"));
    came.expect(&[(6, "conceded")]);
    let counts = came.unit.as_ref().expect("it is judged").counts;
    assert_eq!((counts.not_proven, counts.conceded), (0, 1));
    // A limit that only warns does not hold the release.
    let warns = HELD.replace("works \"w\"", "works \"w\"\n    severity warning");
    let came = bench("  decide guarded\n", &warns, &open);
    came.expect(&[(6, "not-proven")]);
    assert_eq!(came.the("not-proven").severity, Severity::Warning);
}

#[test]
fn a_plan_that_tightens_to_guarded_is_obeyed() {
    let base = "plan base rev A\nrole test, quality\n\nstage s\n  reading x : length\n    limit <= 1700 mm\n    source works \"w\"\n";
    let extended = "plan p rev A extends base rev A\n\ntighten s.x\n  decide guarded\n";
    let small = Small::new(&[base, extended, REGISTER]);
    small
        .judge(&record("  x = 1699.8 mm with TP-1\n"))
        .expect(&[(6, "not-proven")]);
    let relaxed = "plan p rev A extends base rev A\n  decide guarded\n\nrelax s.x because \"agreed\"\n  decide simple\n";
    let small = Small::new(&[base, relaxed, REGISTER]);
    small
        .judge(&record("  x = 1699.8 mm with TP-1\n"))
        .expect(&[]);
}

// ------------------------------------------------------------------------- how fine, and where it measures

/// Half the width over U = 0.5 mm (TP-1), or over 0.692820 mm (TP-L).
#[test]
fn an_instrument_that_is_too_coarse_for_a_limit_with_two_sides() {
    const COARSE: &[&str] = &["instrument-too-coarse"];
    for (head, own, limit, recorded, expected) in [
        ("", "", "1600 mm +- 2 mm", "1600 mm with TP-1", PASSES),
        ("", "", "1600 mm +- 1.9 mm", "1600 mm with TP-1", COARSE),
        ("", "", "1598 mm .. 1601.8 mm", "1600 mm with TP-1", COARSE),
        ("", "", "1600 mm +- 2 mm", "1600 mm with TP-L", COARSE),
        ("", "", "1600 mm +- 2.8 mm", "1600 mm with TP-L", PASSES),
        // A limit with one side, and one value, have no width.
        ("", "", "<= 1700 mm", "1600 mm with TP-1", PASSES),
        ("", "", "= 1600 mm", "1600 mm with TP-1", PASSES),
        // What states no accuracy is not judged.
        ("", "", "1600 mm +- 0.1 mm", "1600 mm with TP-0", PASSES),
        ("", "", "1600 mm +- 0.1 mm", "1600 mm", PASSES),
        // The ratio of the plan, and of the reading.
        (
            "  uncertainty-ratio 10\n",
            "",
            "1600 mm +- 4 mm",
            "1600 mm with TP-1",
            COARSE,
        ),
        (
            "  uncertainty-ratio 2\n",
            "",
            "1600 mm +- 1 mm",
            "1600 mm with TP-1",
            PASSES,
        ),
        (
            "",
            "    uncertainty-ratio 3\n",
            "1600 mm +- 1.5 mm",
            "1600 mm with TP-1",
            PASSES,
        ),
        (
            "",
            "    uncertainty-ratio 3\n",
            "1600 mm +- 1.4 mm",
            "1600 mm with TP-1",
            COARSE,
        ),
        // A guarded limit allows for the uncertainty; a ratio holds there only where the plan says so.
        (
            "  decide guarded\n",
            "",
            "1600 mm +- 1 mm",
            "1600 mm with TP-1",
            PASSES,
        ),
        (
            "  decide guarded\n  uncertainty-ratio 4\n",
            "",
            "1600 mm +- 1 mm",
            "1600 mm with TP-1",
            COARSE,
        ),
    ] {
        let stage =
            format!("  reading x : length\n    limit {limit}\n    source works \"w\"\n{own}");
        let came = bench(head, &stage, &format!("  x = {recorded}\n"));
        let found: Vec<&str> = came.rules().into_iter().map(|(_, rule)| rule).collect();
        assert_eq!(found, expected, "{head}{own}{limit}, {recorded}");
    }
}

/// U of the difference of two readings by TP-1 is √2 * 0.5 mm = 0.707107 mm, of their sum too.
#[test]
fn a_ratio_below_a_check_is_held_against_what_goes_in() {
    const COARSE: &[(usize, &str)] = &[(6, "instrument-too-coarse")];
    const FINE: &[(usize, &str)] = &[];
    for (require, decide, ratio, expected) in [
        ("abs(x - y) <= 3 mm", "", "4", FINE),
        ("abs(x - y) <= 2.8 mm", "", "4", COARSE),
        ("abs(x - y) <= 2.8 mm", "", "3.9", FINE),
        ("d in -2.8 mm .. 2.8 mm", "", "4", COARSE),
        ("d in 0 mm .. 6 mm", "", "4", FINE),
        ("d in 1 mm +- 2.8 mm", "", "4", COARSE),
        ("x > 0 mm and abs(d) < 2.8 mm", "", "4", COARSE),
        ("all(abs(d) <= 2.8 mm)", "", "4", COARSE),
        // One side has no width.
        ("d <= 2.8 mm", "", "400", FINE),
        ("x - y >= -2.8 mm", "", "400", FINE),
        // Without a statement of its own a check is not held to any.
        ("abs(x - y) <= 2.8 mm", "", "", FINE),
        ("abs(x - y) <= 2.8 mm", "    decide guarded\n", "4", COARSE),
        ("abs(x - y) <= 3 mm", "    decide guarded\n", "4", FINE),
        // What is certain, and what is not known, say nothing.
        ("abs(n - 3) <= 1", "", "4", FINE),
        ("abs(z) <= 900 mm", "", "4", FINE),
    ] {
        let own = match ratio {
            "" => String::new(),
            ratio => format!("    uncertainty-ratio {ratio}\n"),
        };
        let stage = format!(
            "  reading x : length\n  reading y : length\n  reading z : length\n  reading n : count\n  calc d = x - y\n  check c\n    require {require}\n{own}{decide}    source works \"w\"\n"
        );
        let unit = "  x = 801 mm with TP-1\n  y = 800 mm with TP-1\n  z = 800 mm with TP-0\n  n = 3 with TC-1\n";
        let came = bench("", &stage, unit);
        assert_eq!(came.rules(), expected, "{require}, {ratio}{decide}");
    }
}

#[test]
fn a_check_that_is_too_coarse_is_told_once_with_its_budget() {
    let plan = "plan p rev A\nset phase = U V W\nrole test\nstage s\n  reading x[phase] : length\n  check level[phase] \"Level\"\n    require abs(x[phase] - 800 mm) <= 3 mm\n    uncertainty-ratio 10\n    source works \"w\"\n    severity note\n";
    let unit = "  x[U] = 801 mm with TP-1\n  x[V] = 801 mm with TP-L\n  x[W] = 801 mm with TP-1\n";
    let came = Small::new(&[plan, REGISTER]).judge(&record(unit));
    came.expect(&[(7, "instrument-too-coarse")]);
    let finding = came.the("instrument-too-coarse");
    // 3 mm over 0.692820 mm.
    assert_eq!(
        finding.message,
        "expected the uncertainty of level[V] to go 10 times into its tolerance, found 4.33 times: 0.69282 mm in ±3 mm; the worst of 3 instances"
    );
    assert_eq!(finding.severity, Severity::Note);
    let reasoning = finding.reasoning.as_deref().expect("it explains itself");
    let budget = reasoning.uncertainty.as_ref().expect("it has a budget");
    assert_eq!(budget.contributions.len(), 1);
    assert_eq!(budget.contributions[0].name, "x[V]");
}

#[test]
fn a_coarse_instrument_is_told_once_where_it_is_worst() {
    let plan = "plan p rev A\nset phase = U V W\nrole test\nstage s\n  reading r[phase] : resistance\n    limit 100 Mohm .. 140 Mohm\n    source works \"w\"\n    severity note\n";
    let unit = "  table r(Mohm) with IR-5\n    U    V    W\n    110  130  120\n";
    let came = Small::new(&[plan, REGISTER]).judge(&record(unit));
    came.expect(&[(8, "instrument-too-coarse")]);
    let finding = came.the("instrument-too-coarse");
    // 20 Mohm over 5 % of 130 Mohm.
    assert!(
        finding.message.contains("r[V], found 3.08 times"),
        "{}",
        finding.message
    );
    assert!(
        finding.message.ends_with("the worst of 3 readings"),
        "{}",
        finding.message
    );
    assert_eq!(
        finding.severity,
        Severity::Note,
        "no heavier than its limit"
    );
    let accuracy = finding
        .related
        .iter()
        .find(|related| related.text == "the accuracy of IR-5");
    let place = accuracy.expect("it names the accuracy").place;
    let source = &came.outcome.sources[place.file.0 as usize];
    assert_eq!(source.slice(place.span), "accuracy 5 % of reading  k = 2");
}

#[test]
fn a_value_outside_the_range_of_its_instrument() {
    for (declared, recorded, expected) in [
        ("p : pressure", "p = 10 bar with GG-1", PASSES),
        (
            "p : pressure",
            "p = 10.1 bar with GG-1",
            &["outside-instrument-range"][..],
        ),
        (
            "p : pressure",
            "p = 1100 kPa with GG-1",
            &["outside-instrument-range"],
        ),
        (
            "t : temperature",
            "t = -21 °C with TH-1",
            &["outside-instrument-range"],
        ),
        ("t : temperature", "t = -20 °C with TH-1", PASSES),
        ("x : length", "x = 5 m with TP-3", PASSES),
        // What it does not measure is told by another rule.
        (
            "p : pressure",
            "p = 20 bar with TP-1",
            &["instrument-does-not-measure"],
        ),
        ("n : count", "n = 5000 with TC-1", PASSES),
    ] {
        let came = bench(
            "",
            &format!("  reading {declared}\n"),
            &format!("  {recorded}\n"),
        );
        let found: Vec<&str> = came.rules().into_iter().map(|(_, rule)| rule).collect();
        assert_eq!(found, expected, "{recorded}");
    }
    let came = bench(
        "",
        "  reading p : pressure\n  reading q : pressure\n",
        "  p = 11 bar with GG-1\n  q = 12 bar with GG-1\n",
    );
    came.expect(&[
        (6, "outside-instrument-range"),
        (7, "outside-instrument-range"),
    ]);
}

// ------------------------------------------------------------------------------------------------ checks

/// The answer of one guarded check over readings of TP-1 (U = 0.5 mm each, u = 0.25 mm) and what stands above it.
#[track_caller]
fn checked(require: &str, unit: &str) -> Vec<String> {
    let stage = format!(
        "  reading x : length\n  reading y : length\n  reading n : count\n  reading r[phase] : length\n  reading t : resistance given temperature\n    uncertainty 1 K k = 2\n  calc sum = x + y\n  calc fine = x - y <= 2 mm\n  calc largest = max(r[*])\n  check c\n    require {require}\n    source works \"w\"\n    decide guarded\n"
    );
    let plan = plan("", &stage).replace("role test", "set phase = U V W\nrole test");
    let unit = format!("  with TP-1\n{unit}");
    let came = Small::new(&[&plan, REGISTER]).judge(&record(&unit));
    came.found
        .iter()
        .filter(|found| found.severity == Severity::Error)
        .map(|found| found.rule.clone())
        .collect()
}

const CHECK_FAILS: &[&str] = &["check-failed"];

/// Worked by hand: of a sum or a difference of two U = sqrt(0.5² + 0.5²) = 0.707107 mm.
#[test]
fn a_guarded_check_has_three_answers() {
    let xy = "  x = 10 mm\n  y = 5 mm\n";
    for (require, unit, expected) in [
        ("x + y <= 16 mm", xy, PASSES),
        ("x + y <= 15.708 mm", xy, PASSES),
        ("x + y <= 15.707 mm", xy, OPEN),
        ("x + y <= 15 mm", xy, OPEN),
        ("x + y <= 14.9 mm", xy, CHECK_FAILS),
        ("15.707 mm >= x + y", xy, OPEN),
        ("x + y >= 14.292 mm", xy, PASSES),
        // 15 - 0.707107 is 14.292893.
        ("x + y >= 14.293 mm", xy, OPEN),
        ("sum <= 15.708 mm", xy, PASSES),
        ("sum <= 15.707 mm", xy, OPEN),
        // One reading on both sides is one reading.
        ("2 * x <= x + 10.501 mm", xy, PASSES),
        ("2 * x <= x + 10.499 mm", xy, OPEN),
        ("x - x <= 0 mm", xy, PASSES),
        // Between two limits.
        ("x in 9.5 mm .. 10.5 mm", xy, PASSES),
        ("x in 9.6 mm .. 10.5 mm", xy, OPEN),
        ("x in 10.1 mm .. 10.5 mm", xy, CHECK_FAILS),
        // Several conditions.
        ("x <= 11 mm and y <= 6 mm", xy, PASSES),
        ("x <= 11 mm and y <= 5.4 mm", xy, OPEN),
        ("x <= 10.4 mm or y <= 6 mm", xy, PASSES),
        ("x <= 10.4 mm or y <= 5.4 mm", xy, OPEN),
        ("x <= 9 mm or y <= 5.4 mm", xy, OPEN),
        ("x <= 9 mm and y <= 5.4 mm", xy, CHECK_FAILS),
        ("not (x > 11 mm)", xy, PASSES),
        ("not (x > 10.4 mm)", xy, OPEN),
        ("not (x > 10.4 mm and y > 6 mm)", xy, PASSES),
        ("if x > 9.9 mm then y <= 6 mm else y <= 1 mm", xy, PASSES),
        ("if x > 9.9 mm then y <= 5.4 mm else y <= 9 mm", xy, OPEN),
        ("recorded(x) and y <= 6 mm", xy, PASSES),
        // A calculated answer.
        ("fine", "  x = 10 mm\n  y = 8.8 mm\n", PASSES),
        ("fine", "  x = 10 mm\n  y = 8.6 mm\n", OPEN),
        // What is counted is certain.
        ("n <= 3", "  n = 3\n", PASSES),
        ("n <= 2", "  n = 3\n", CHECK_FAILS),
        ("x <= n * 4 mm", "  x = 11.4 mm\n  n = 3\n", PASSES),
        ("x <= n * 4 mm", "  x = 11.6 mm\n  n = 3\n", OPEN),
    ] {
        assert_eq!(checked(require, unit), expected, "{require}, {unit}");
    }
}

#[test]
fn a_guarded_check_of_lists() {
    let r = "  table r(mm)\n    U   V   W\n    10  11  12\n";
    let alike = r.replace("10  11  12", "10  10  10");
    for (require, unit, expected) in [
        ("r[*] <= 12.5 mm", r, PASSES),
        ("r[*] <= 12.4 mm", r, OPEN),
        ("r[*] <= 11.9 mm", r, CHECK_FAILS),
        ("all(r[*] <= 12.5 mm)", r, PASSES),
        ("all(r[*] <= 12.4 mm)", r, OPEN),
        ("any(r[*] <= 10.5 mm)", r, PASSES),
        ("any(r[*] <= 10.4 mm)", r, OPEN),
        ("any(r[*] <= 9.9 mm)", r, CHECK_FAILS),
        ("not any(r[*] > 12.5 mm)", r, PASSES),
        ("not any(r[*] > 12.4 mm)", r, OPEN),
        ("r[*] in 9.5 mm .. 12.5 mm", r, PASSES),
        ("r[*] in 9.6 mm .. 12.5 mm", r, OPEN),
        ("largest <= 12.5 mm", r, PASSES),
        ("largest <= 12.4 mm", r, OPEN),
        // U of the mean is 0.5 mm / √3 = 0.288675 mm.
        ("mean(r[*]) <= 11.289 mm", r, PASSES),
        ("mean(r[*]) <= 11.288 mm", r, OPEN),
        // Three equal readings have no spread, and each of them may yet be another.
        ("max(r[*]) - min(r[*]) <= 0.1 mm", &alike, OPEN),
        ("max(r[*]) - min(r[*]) <= 1 mm", &alike, PASSES),
    ] {
        assert_eq!(checked(require, unit), expected, "{require}");
    }
}

/// r = 600 Mohm with U = 30 Mohm, at 20 °C with U = 1 K. 600 Mohm * (1 + 0.1 / K * 0 K): with the temperature alone U is
/// 60 Mohm, with both sqrt(30² + 60²) = 67.082 Mohm.
#[test]
fn a_condition_carries_its_own_uncertainty() {
    let unit = "  t = 600 Mohm at 20 °C with IR-5\n";
    for (limit, expected) in [("667.1", PASSES), ("667.0", OPEN), ("599", CHECK_FAILS)] {
        let require = format!("t * (1 + 0.1 * ((t.temperature - 20 °C) / (1 K))) <= {limit} Mohm");
        assert_eq!(checked(&require, unit), expected, "{limit}");
    }
    // What the calculation does not use is not asked for.
    let unit = "  t = 600 Mohm at 20 °C with IR-5\n  x = 1 mm\n";
    assert_eq!(checked("t <= 631 Mohm and x <= 2 mm", unit), PASSES);
    let plan = "  reading t : resistance given temperature\n  check c\n    require t * (t.temperature - 10 °C) / (1 K) <= 9 Gohm\n    source works \"w\"\n";
    let came = bench(
        "  decide guarded\n",
        plan,
        "  t = 600 Mohm at 20 °C with IR-5\n",
    );
    let finding = came.the("not-proven");
    let missing = "an accuracy of IR-5 for temperature in the register";
    assert!(finding.message.contains(missing), "{}", finding.message);
}

/// The rows of a log are read by one instrument: their errors are taken as the same, so that a mean is as uncertain
/// as a row. U = 0.1 bar.
#[test]
fn a_log_is_as_uncertain_as_its_instrument() {
    let plan = |require: &str| {
        format!(
            "  log oven\n    column pressure : pressure\n  check c\n    require {require}\n    source works \"w\"\n    decide guarded\n"
        )
    };
    let unit = |with: &str| {
        format!(
            "  log oven {with}\n    time pressure(bar)\n    2026-02-02 10:00 1.2\n    2026-02-02 11:00 1.0\n    2026-02-02 12:00 0.8\n"
        )
    };
    for (require, with, expected) in [
        ("last(oven.pressure) <= 0.91 bar", "with GG-1", PASSES),
        ("last(oven.pressure) <= 0.89 bar", "with GG-1", OPEN),
        ("mean(oven.pressure) <= 1.101 bar", "with GG-1", PASSES),
        ("mean(oven.pressure) <= 1.099 bar", "with GG-1", OPEN),
        (
            "first(oven.pressure) - last(oven.pressure) <= 0.4 bar",
            "with GG-1",
            PASSES,
        ),
        ("last(oven.pressure) <= 5 bar", "", OPEN),
    ] {
        let came = bench("", &plan(require), &unit(with));
        let found: Vec<&str> = came.rules().into_iter().map(|(_, rule)| rule).collect();
        assert_eq!(found, expected, "{require}: {:#?}", came.found);
    }
}

#[test]
fn a_check_that_is_not_proven_is_counted_grouped_and_conceded() {
    let plan = "plan p rev A\nset phase = U V W N\nrole test, quality\nstage s\n  reading r[phase] : length\n  check c[phase]\n    require r[phase] <= 12 mm\n    source works \"w\"\n    decide guarded\n  hold H10 by quality\n";
    let unit = "  table r(mm) with TP-1\n    U     V     W     N\n    11.6  11.9  11.8  11.7\n  release H10 by M.Okafor on 2026-02-03\n";
    let small = Small::new(&[plan, REGISTER]);
    let came = small.judge(&record(unit));
    came.expect(&[(8, "not-proven"), (9, "released-over-failure")]);
    let message = &came.the("not-proven").message;
    assert!(
        message.contains("c[V]") || message.contains("[V]"),
        "{message}"
    );
    assert!(
        message.ends_with("the worst of 4 that are not proven"),
        "{message}"
    );
    let counts = came.unit.as_ref().expect("it is judged").counts;
    assert_eq!((counts.failing, counts.not_proven), (0, 4));
    let conceded = "nonconformity NC-1 on 2026-02-02 by L.Novak\n  against s.c\n  found \"not proven\"\n  disposition use-as-is\n  agreed by M.Okafor on 2026-02-02\n  closed by M.Okafor on 2026-02-02\n";
    let came = small.judge(&record(&format!("{unit}{conceded}")));
    came.expect(&[(8, "conceded")]);
}

/// A plan of any size ends in bounded time; what is left over is told, not passed.
#[test]
fn carrying_uncertainties_through_is_bounded() {
    let plan = "plan p rev A\nset tap from design.taps\nset phase = U V W\nrole test\ndesign\n  need taps : positions\nstage s\n  reading r[tap, phase] : length\n  calc m = mean(r[*, *])\n  check c[tap]\n    require r[tap, U] <= 3 * m\n    source works \"w\"\n    decide guarded\n";
    let mut unit = "unit KFT-0500-1\n  plan p\n  register bench\ndesign\n  taps = 1 .. 2000\nstage s\n  on 2026-02-02 by L.Novak\n  table r(mm) with TP-1\n    tap  U  V  W\n".to_owned();
    for tap in 1..=2000 {
        unit.push_str(&format!("    {tap}  10  11  12\n"));
    }
    let start = std::time::Instant::now();
    let came = Small::new(&[plan, REGISTER]).judge(&unit);
    assert!(start.elapsed() < common::LONGEST);
    let message = &came.the("not-proven").message;
    assert!(message.contains("small enough"), "{message}");
}

// ------------------------------------------------------------------------------------------ what is shown

#[test]
fn json_holds_the_uncertainty_with_what_it_is_made_of() {
    let came = bench("  decide guarded\n", HELD, "  x = 1699.8 mm with TP-1\n");
    let findings: Vec<Finding> = came.outcome.findings.clone();
    let document = json::document(&came.outcome.units, &findings, &came.outcome.sources);
    let found = document["findings"].as_array().expect("a list");
    let finding = found
        .iter()
        .find(|finding| finding["rule"] == "not-proven")
        .expect("it is there");
    let uncertainty = &finding["uncertainty"];
    assert_eq!(uncertainty["expanded"], "0.5 mm");
    assert_eq!(uncertainty["coverage"], 2.0);
    assert_eq!(uncertainty["acceptance"], "≤ 1699.5 mm");
    let part = &uncertainty["contributions"][0];
    assert_eq!(part["name"], "TP-1");
    assert_eq!(part["standard"], "0.5 mm / 2 = 0.25 mm");
    assert_eq!(part["statement"], "accuracy 0.5 mm k = 2");
    assert!(
        part["path"]
            .as_str()
            .is_some_and(|path| path.ends_with("document-1.ubr"))
    );
    assert_eq!(document["units"][0]["counts"]["not_proven"], 1);
    let schema: serde_json::Value = serde_json::from_str(json::SCHEMA).expect("it is JSON");
    let validator = jsonschema::validator_for(&schema).expect("it is a schema");
    assert!(validator.is_valid(&document));
}

#[test]
fn findings_read_as_they_are_kept() {
    let both = HELD.replace("limit <= 1700 mm", "limit 1700 mm +- 2 mm");
    let stated = both.replace("    source", "    uncertainty 1.2 mm\n    source");
    let cases = [
        (
            "not-proven",
            "not-proven",
            "  decide guarded\n",
            &*both,
            "  x = 1701.8 mm with TP-1\n",
        ),
        (
            "two-parts",
            "not-proven",
            "  decide guarded\n",
            &*stated,
            "  x = 1701.8 mm with TP-1\n",
        ),
        (
            "not-known",
            "not-proven",
            "  decide guarded\n",
            &*both,
            "  x = 1701 mm with TP-0\n",
        ),
        (
            "nothing-left",
            "not-proven",
            "  decide guarded\n",
            &*both.replace("+- 2", "+- 0.3"),
            "  x = 1700 mm with TP-1\n",
        ),
        (
            "out-of-limit",
            "out-of-limit",
            "  decide guarded\n",
            &*both,
            "  x = 1702.2 mm with TP-1\n",
        ),
        (
            "too-coarse",
            "instrument-too-coarse",
            "",
            &*both.replace("+- 2", "+- 1"),
            "  x = 1700 mm with TP-1\n",
        ),
        (
            "outside-range",
            "outside-instrument-range",
            "",
            "  reading x : length\n",
            "  x = 3.1 m with TP-1\n",
        ),
        (
            "check",
            "not-proven",
            "",
            "  reading r : resistance given temperature\n    uncertainty 1 K k = 2 for temperature\n  calc warm = resistance-at(r, r.temperature, 75 °C, \"copper\")\n  check c \"Resistance at 75 °C\"\n    require warm <= 700 Mohm\n    source works \"w\"\n    decide guarded\n",
            "  r = 550 Mohm at 20 °C with IR-5\n",
        ),
    ]
    .map(|(name, rule, head, stage, unit)| (name, rule, head, stage.to_owned(), unit));
    let folder = common::project().join("tests/fixtures/uncertainty");
    let mut pages = Vec::new();
    for (name, rule, head, stage, unit) in &cases {
        let small = Small::new(&[&plan(head, stage), REGISTER]);
        let came = small.judge(&record(unit));
        let page = render(came.the(rule), &came.outcome.sources, Style::default());
        let page = page.replace(&format!("{}/", small.path().to_string_lossy()), "");
        pages.push((name.to_string(), page));
    }
    common::same_as_kept(&folder, &pages);
}
