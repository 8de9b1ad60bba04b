//! Logs with an index, and logs over another quantity than time.

mod common;

use common::{Came, Found, Small, in_short, stagebook, works};
use stagebook::finding::Severity;

/// Two cooling curves, a limit on each, and a stage that looks back at one of them.
const COOLING: &str = "plan p rev A

set winding = HV LV

role quality

stage tests
  log cooling[winding] \"Cooling\"
    column resistance : resistance
  calc last-value[winding] = last(cooling.resistance[winding])
  check cold[winding] \"Cold\"
    require last-value[winding] <= 0.5 ohm
    source common-practice
  check longest-log \"Long enough\"
    require duration(cooling.resistance[HV]) >= 1 min
    source common-practice
  hold H1 \"Tests\" by quality

stage site
  after tests
  reading colder : resistance
  check falls-on \"Falls on\"
    require colder <= min(tests.cooling.resistance[HV])
    source common-practice
";

fn cooling(lines: &str) -> Came {
    Small::new(&[COOLING]).judge(&format!("unit KFT-0500-1\n  plan p\nstage tests\n{lines}"))
}

/// A log of two rows whose last value is given.
fn two_rows(member: &str, last: &str) -> String {
    format!(
        "  log cooling[{member}]\n    time  resistance(ohm)\n    2026-05-04 12:00  0.7\n    2026-05-04 12:05  {last}\n"
    )
}

#[test]
fn each_instance_of_a_log_is_judged_apart() {
    let good = format!("{}{}", two_rows("HV", "0.4"), two_rows("LV", "0.5"));
    cooling(&good).expect(&[]);
    let came = cooling(&format!(
        "{}{}",
        two_rows("HV", "0.4"),
        two_rows("LV", "0.6")
    ));
    let failed = came.the("check-failed");
    assert!(
        failed.message.contains("\"Cold\" [LV]"),
        "{}",
        failed.message
    );
    let inputs = &failed.reasoning.as_ref().expect("it is reasoned").inputs;
    assert!(
        inputs
            .iter()
            .any(|input| input.name == "cooling.resistance[LV]" && input.value == "2 rows"),
        "{inputs:?}"
    );
    let counts = &came.unit.as_ref().expect("it was judged").stages[0].counts;
    assert_eq!((counts.recorded, counts.pending), (2, 0));
}

#[test]
fn an_instance_that_is_not_there_is_pending_or_missing() {
    let came = cooling(&two_rows("HV", "0.4"));
    came.expect(&[]);
    assert_eq!(
        came.pending(),
        ["still to be recorded in stage `tests`: `cooling` [LV]"]
    );
    let stage = &came.unit.as_ref().expect("it was judged").stages[0];
    assert_eq!((stage.counts.recorded, stage.counts.pending), (1, 1));
    assert_eq!(stage.pending, [("cooling".into(), 1)]);
    let released = format!(
        "{}  release H1 by A.Bee on 2026-05-05\n",
        two_rows("HV", "0.4")
    );
    let came = cooling(&released);
    let missing = came.the("released-incomplete");
    assert!(
        missing
            .message
            .ends_with("found nothing for `cooling` [LV]"),
        "{}",
        missing.message
    );
    let gone_on = format!("{}stage site\n  colder = 0.3 ohm\n", two_rows("LV", "0.4"));
    let came = cooling(&gone_on);
    let missing = came.the("missing-reading");
    assert!(
        missing.message.starts_with("expected `cooling` [HV] in"),
        "{}",
        missing.message
    );
}

#[test]
fn another_stage_refers_to_one_instance() {
    let site = |colder: &str| {
        let both = format!("{}{}", two_rows("HV", "0.4"), two_rows("LV", "0.2"));
        let released = "  release H1 by A.Bee on 2026-05-05\n";
        cooling(&format!(
            "{both}{released}stage site\n  colder = {colder} ohm\n"
        ))
    };
    site("0.4").expect(&[]);
    let came = site("0.45");
    let failed = came.the("check-failed");
    let inputs = &failed.reasoning.as_ref().expect("it is reasoned").inputs;
    assert!(
        inputs
            .iter()
            .any(|input| input.name == "tests.cooling.resistance[HV]"),
        "{inputs:?}"
    );
}

#[test]
fn a_wrong_member_a_second_instance_and_a_wrong_count_are_found() {
    let came = cooling(&two_rows("MV", "0.4"));
    came.expect(&[(4, "unknown-member")]);
    assert!(came.the("unknown-member").message.contains("(HV, LV)"));
    cooling(&two_rows("*", "0.4")).expect(&[(4, "unknown-member")]);
    let twice = format!("{}{}", two_rows("HV", "0.4"), two_rows("HV", "0.3"));
    let came = cooling(&twice);
    came.expect(&[(8, "duplicate-reading")]);
    assert!(
        came.the("duplicate-reading")
            .message
            .contains("one log `cooling[HV]` in a round")
    );
    for head in ["cooling", "cooling[HV, LV]"] {
        let text = format!("  log {head}\n    time  resistance(ohm)\n    2026-05-04 12:00  0.7\n");
        cooling(&text).expect(&[(4, "index-count")]);
    }
    let raised = format!(
        "{}{}nonconformity N-1 on 2026-05-04 by A.Bee\n  against tests.cooling[MV]\n",
        two_rows("HV", "0.4"),
        two_rows("LV", "0.4")
    );
    cooling(&raised).expect(&[(13, "unknown-member")]);
}

#[test]
fn a_condition_may_use_the_index_of_the_log() {
    let plan = COOLING.replacen(
        "    column resistance : resistance\n",
        "    column resistance : resistance\n    when winding = HV\n",
        1,
    );
    let unit = format!(
        "unit KFT-0500-1\n  plan p\nstage tests\n{}",
        two_rows("HV", "0.4")
    );
    let came = Small::new(&[&plan]).judge(&unit);
    assert_eq!(came.pending(), Vec::<&str>::new(), "{:#?}", came.found);
}

/// What is found when a plan is opened with this in place of a check's condition.
fn opened(declared: &str, condition: &str) -> Vec<Found> {
    let plan = format!(
        "plan p rev A\n\nset winding = HV LV\n\nstage s\n{declared}  check c \"C\"\n    require {condition}\n    source common-practice\n"
    );
    let works = Small::unchecked(&[&plan]);
    in_short(&common::check(&[works.path().join("document-0.ubr")]))
}

#[track_caller]
fn one(found: &[Found], rule: &str, part: &str) {
    assert_eq!(found.len(), 1, "{found:#?}");
    assert_eq!(found[0].rule, rule, "{found:#?}");
    assert!(found[0].message.contains(part), "{}", found[0].message);
}

const INDEXED: &str = "  log a[winding] \"A\"\n    column p : pressure\n";
const CURVE: &str =
    "  log a \"A\" over frequency : frequency\n    column magnitude : attenuation\n";

#[test]
fn a_plan_names_one_instance_of_a_log() {
    assert_eq!(opened(INDEXED, "max(a.p[HV]) < 1 bar"), []);
    one(
        &opened(INDEXED, "max(a.p[*]) < 1 bar"),
        "wrong-kind",
        "expected one member of `winding` as the index of a log's column, found `*`",
    );
    one(
        &opened(INDEXED, "max(a.p) < 1 bar"),
        "index-count",
        "expected one index for `a.p`, [winding], found 0",
    );
    one(
        &opened(INDEXED, "max(a.p[MV]) < 1 bar"),
        "unknown-member",
        "(HV, LV)",
    );
    let five =
        "  log a[winding, winding, winding, winding, winding] \"A\"\n    column p : pressure\n";
    assert!(
        opened(five, "1 < 2")
            .iter()
            .any(|found| found.rule == "index-count")
    );
}

#[test]
fn a_function_of_time_refuses_a_curve() {
    assert_eq!(opened(CURVE, "max(a.magnitude) < 0 dB"), []);
    assert_eq!(opened(CURVE, "value-on(a.magnitude, 1 kHz) < 0 dB"), []);
    for condition in [
        "time-below(a.magnitude, -3 dB) > 1 h",
        "duration(a.magnitude) > 1 h",
        "mean(a.magnitude) < 0 dB",
    ] {
        one(
            &opened(CURVE, condition),
            "wrong-arguments",
            "a log column over time",
        );
    }
    one(
        &opened(CURVE, "value-on(a.magnitude, 1 h) < 0 dB"),
        "wrong-arguments",
        ", as the log runs over",
    );
}

#[test]
fn a_log_runs_over_a_quantity_that_is_no_point_on_a_scale() {
    let over = |axis: &str| {
        let declared = format!("  log a \"A\" over {axis}\n    column magnitude : attenuation\n");
        opened(&declared, "max(a.magnitude) < 0 dB")
    };
    assert_eq!(over("elapsed : time"), []);
    assert_eq!(over("turn : number"), []);
    one(
        &over("oil : temperature"),
        "wrong-kind",
        "no point on a scale",
    );
    one(&over("name : text"), "wrong-kind", "found `text`");
    one(
        &over("time : time"),
        "wrong-kind",
        "another name than `time`",
    );
    let found = over("magnitude : frequency");
    assert!(
        found.iter().any(|one| one.rule == "duplicate-declaration"),
        "{found:#?}"
    );
}

/// A response with a limit at 10 kHz.
fn response(lines: &str, files: &[(&str, &str)]) -> Came {
    let plan = "plan p rev A\n\nset curve = HV-U LV-U\n\nstage s\n  log response[curve] \"R\" over frequency : frequency\n    column magnitude : attenuation\n  check level \"L\"\n    require value-on(response.magnitude[HV-U], 10 kHz) in -30.001 dB .. -29.999 dB\n    source common-practice\n";
    let works = Small::new(&[plan]);
    for (name, text) in files {
        works.write(name, text);
    }
    works.judge(&format!("unit KFT-0500-1\n  plan p\nstage s\n{lines}"))
}

const HEAD: &str = "  log response[HV-U]\n    frequency(Hz)  magnitude(dB)\n";

#[test]
fn a_curve_is_read_off_between_its_points() {
    response(&format!("{HEAD}    1000  -20\n    100000  -40\n"), &[]).expect(&[]);
    // A unit in a cell is that cell's own.
    response(&format!("{HEAD}    1 kHz  -20\n    0.1 MHz  -40 dB\n"), &[]).expect(&[]);
    let came = response(&format!("{HEAD}    1000  -20\n    100000  -41\n"), &[]);
    let failed = came.the("check-failed");
    assert_eq!(came.rules().len(), 1, "{}", failed.message);
}

#[test]
fn a_curve_that_does_not_reach_gives_no_result() {
    let came = response(&format!("{HEAD}    1000  -20\n    9000  -40\n"), &[]);
    let finding = came.the("cannot-be-calculated");
    assert!(
        finding
            .message
            .contains("10 kHz lies outside the log, which runs from 1 kHz to 9 kHz"),
        "{}",
        finding.message
    );
}

#[test]
fn a_curve_written_in_the_record_is_checked_row_by_row() {
    for again in ["1000", "1 kHz", "500"] {
        let came = response(&format!("{HEAD}    1000  -20\n    {again}  -40\n"), &[]);
        came.expect(&[(7, "log-not-a-table")]);
        assert!(
            came.the("log-not-a-table")
                .message
                .contains("expected `frequency` to rise from row to row")
        );
    }
    let bare = "  log response[HV-U]\n    frequency  magnitude(dB)\n    1000  -20\n";
    response(bare, &[]).expect(&[(5, "unit-missing")]);
    let wrong = "  log response[HV-U]\n    frequency(mm)  magnitude(dB)\n    1000  -20\n";
    response(wrong, &[]).expect(&[(5, "wrong-unit")]);
    let time = "  log response[HV-U]\n    time  magnitude(dB)\n    2026-05-04 12:00  -20\n";
    let came = response(time, &[]);
    came.expect(&[(5, "log-not-a-table")]);
    assert!(
        came.the("log-not-a-table")
            .message
            .contains("a `frequency` column")
    );
    // A row that is wrong, or not filled in yet, takes nothing from the others.
    for (row, rules) in [
        ("2026-05-04 12:00  -20", &[(7, "wrong-kind")][..]),
        ("?  ?", &[]),
    ] {
        let rows = format!("    1000  -20\n    {row}\n    100000  -40\n");
        response(&format!("{HEAD}{rows}"), &[]).expect(rules);
    }
}

#[test]
fn a_curve_is_read_from_a_file() {
    let line = "  log response[HV-U] from \"r.csv\"\n";
    let judge = |text: &str| response(line, &[("r.csv", text)]);
    judge("frequency(Hz),magnitude(dB)\n1000,-20\n100000,-40\n").expect(&[]);
    judge("frequency(kHz),magnitude(dB)\n1,-20\n1e2,-40\n").expect(&[]);
    for (text, rule, part) in [
        (
            "frequency(Hz),magnitude(dB)\n1000,-20\n1000,-40\n",
            "log-not-a-table",
            "line 3 of `r.csv`: expected `frequency` to rise",
        ),
        (
            "frequency(Hz),magnitude(dB)\nlow,-20\n",
            "log-not-a-table",
            "expected a number for `frequency`, found `low`",
        ),
        (
            "frequency,magnitude(dB)\n1000,-20\n",
            "unit-missing",
            "the unit of column `frequency`",
        ),
        (
            "time,magnitude(dB)\n2026-05-04 12:00,-20\n",
            "log-not-a-table",
            "expected a column `frequency`",
        ),
        (
            "frequency(Hz),magnitude(dB)\n",
            "log-not-a-table",
            "found only the header",
        ),
    ] {
        let came = judge(text);
        came.expect(&[(4, rule)]);
        let message = &came.the(rule).message;
        assert!(message.contains(part), "{message}");
    }
    let mapped =
        format!("{line}    column frequency(Hz) from \"F\"\n    column magnitude(dB) from \"A\"\n");
    response(&mapped, &[("r.csv", "F,A\n1000,-20\n100000,-40\n")]).expect(&[]);
}

#[test]
fn two_sweeps_are_compared_in_a_band() {
    let plan = "plan p rev A\n\nset curve = HV-U LV-U\n\nstage works\n  log response[curve] \"R\" over frequency : frequency\n    column magnitude : attenuation\n\nstage site\n  log response[curve] \"R\" over frequency : frequency\n    column magnitude : attenuation\n  check same[curve] \"Same\"\n    require band-factor(response.magnitude[curve], works.response.magnitude[curve], 1 kHz, 10 kHz) >= 2\n    source common-practice\n";
    let works = Small::new(&[plan]);
    let log = |curve: &str, levels: [i32; 4]| {
        let [a, b, c, d] = levels;
        format!(
            "  log response[{curve}]\n    frequency(kHz)  magnitude(dB)\n    1  {a}\n    2  {b}\n    5  {c}\n    10  {d}\n"
        )
    };
    let text = format!(
        "unit KFT-0500-1\n  plan p\nstage works\n{}{}stage site\n{}{}",
        log("HV-U", [-10, -20, -35, -50]),
        log("LV-U", [-10, -20, -35, -50]),
        log("HV-U", [-10, -20, -35, -50]),
        log("LV-U", [-10, -40, -15, -50]),
    );
    let came = works.judge(&text);
    let failed: Vec<&Found> = came
        .found
        .iter()
        .filter(|found| found.severity == Severity::Error)
        .collect();
    assert_eq!(failed.len(), 1, "{:#?}", came.found);
    assert!(failed[0].message.contains("\"Same\" [LV-U]"), "{failed:#?}");
}

#[test]
fn a_new_document_has_a_line_for_each_instance() {
    let plan = format!(
        "{COOLING}  log response[winding] \"R\" over frequency : frequency\n    column magnitude : attenuation\n"
    );
    let works = Small::new(&[&plan]);
    let said = stagebook(works.path(), &["start", "p", "KFT-0500-1"]).expect(0);
    for part in [
        "#   # log cooling[HV] from \"logs/cooling-HV.csv\"  # Cooling\n#   # log cooling[LV] from \"logs/cooling-LV.csv\"  # Cooling\n#   # each file begins with time,resistance(",
        "#   # log cooling[HV]\n#   #   time ",
        "#   # each file begins with frequency(Hz),magnitude(dB); or, written here:\n#   # log response[HV]\n#   #   frequency(Hz)  magnitude(dB)\n#   #   ?              ?\n",
    ] {
        assert!(said.out.contains(part), "{part}\n{}", said.out);
    }
    let from_design = plan.replace(
        "set winding = HV LV\n",
        "set winding from design.windings\n\ndesign\n  need windings : names\n",
    );
    let from_design = from_design
        .replace("resistance[HV]", "resistance[design.first]")
        .replace(
            "  need windings : names\n",
            "  need windings : names\n  need first : name\n",
        );
    let works = Small::new(&[&from_design]);
    let said = stagebook(works.path(), &["start", "p", "KFT-0500-1"]).expect(0);
    let part = "#   # one line for each winding, once the design gives them:\n#   # log cooling[WINDING] from \"logs/cooling-WINDING.csv\"";
    assert!(said.out.contains(part), "{}", said.out);
}

#[test]
fn instances_of_logs_are_bounded_with_the_others() {
    let members: Vec<String> = (1..=1001).map(|number| number.to_string()).collect();
    let members = members.join(" ");
    let plan = format!(
        "plan p rev A\n\nset a = {members}\nset b = {members}\n\nstage s\n  log l[a, b] \"L\"\n    column p : pressure\n"
    );
    let works = Small::unchecked(&[&plan]);
    let found = in_short(&common::check(&[works.path().join("document-0.ubr")]));
    one(&found, "plan-too-large", "with those of `s.l`");
}

/// The complete unit of the examples, compared at site: the curves of these two were taken for HV-U and LV-V.
fn at_site(first: &str, second: &str) -> Came {
    let path = works().join("units/KFT-0412-1.ubr");
    let mut text = std::fs::read_to_string(&path).expect("the unit is part of the project");
    text += "\nstage site\n  on 2026-06-08 09:00 by T.Aldous\n";
    for (curve, taken) in [("HV-U", first), ("LV-V", second)] {
        text += &format!(
            "  log response[{curve}] from \"logs/KFT-0412-1-response-{taken}.csv\"\n  response-tapping[{curve}] = 1\n  response-fill[{curve}] = oil\n"
        );
    }
    let outcome = common::check_text(&path, &text);
    Came {
        found: in_short(&outcome),
        unit: outcome.units.first().cloned(),
        outcome,
    }
}

#[test]
fn the_response_at_site_is_compared_with_that_of_the_works() {
    at_site("HV-U", "LV-V").expect(&[]);
    let came = at_site("HV-U", "HV-U");
    let failed = came.the("check-failed");
    assert_eq!(came.rules().len(), 1, "{:#?}", came.found);
    assert!(failed.message.contains("[LV-V]"), "{}", failed.message);
    let reasoning = failed.reasoning.as_ref().expect("it is reasoned");
    let names: Vec<&str> = reasoning.inputs.iter().map(|input| &*input.name).collect();
    for name in [
        "response.magnitude[LV-V]",
        "customer-inspection.response.magnitude[LV-V]",
    ] {
        assert!(names.contains(&name), "{names:?} {:?}", reasoning.steps);
    }
}
