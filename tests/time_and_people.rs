//! Who may act and when: each rule where it must speak and where it must not.

mod common;

use common::{Came, Small, in_short};
use stagebook::finding::{PointState, Severity};
use stagebook::workspace::{self, Input, Options, Silent, Today};

const REGISTER: &str = "\
register bench
  zone Europe/Vienna

person L.Novak \"Lena Novak\"
  roles test

person T.Lind \"Tove Lind\"
  roles test, quality

person M.Okafor \"Mary Okafor\"
  roles quality

person A.Brandt \"Anna Brandt\"
  roles design

person C.Moreau \"Claire Moreau\"
  roles customer

person P.Okello \"Paul Okello\"
  roles test
  retired 2026-03-01 \"left the works\"

instrument TP-1 \"tape\"
  measures length
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-1\"

instrument TP-2 \"tape, dropped\"
  measures length
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-2\"
  retired 2026-03-01 \"dropped\"

instrument TP-3 \"hired tape\"
  measures length
  calibrated 2026-01-01 due 2027-01-01 certificate \"C-3\"
  valid 2026-02-01 .. 2026-03-01

instrument TP-4 \"tape without papers\"
  measures length
  calibrated 2026-01-01 due 2027-01-01
";

/// Judges by a plan of a stage `s` and what follows it; the unit's lines begin on line 5, in stage `s`. The
/// record states no zone, so it keeps the register's.
#[track_caller]
fn bench(plan: &str, unit: &str) -> Came {
    works(plan).judge(&record(unit))
}

#[track_caller]
fn works(plan: &str) -> Small {
    let plan = format!(
        "plan p rev A\n  concessions by quality, design other than raiser\n\nset phase = U V W\n\n\
         role test, quality, design, customer\n\nstage s\n{plan}"
    );
    Small::new(&[&plan, REGISTER])
}

fn record(unit: &str) -> String {
    format!("unit KFT-0500-1\n  plan p\n  register bench\nstage s\n{unit}")
}

const HELD: &str = "  reading x : length\n  hold H10 by quality\nstage t\n  reading y : length\n";
const LIMITED: &str = "  reading x : length\n    limit <= 1700 mm\n    source works \"instruction 2\"\n  hold H10 by quality\n";

// ------------------------------------------------------------------------------------------------ people

#[test]
fn whoever_measured_may_not_release_where_the_plan_says_so() {
    let plan =
        "  reading x : length\n  reading y : length\n  hold H10 by quality other than measurer\n";
    let unit = |first: &str, second: &str, releaser: &str| {
        bench(
            plan,
            &format!(
                "  on 2026-03-02\n  x = 1 mm by {first}\n  y = 1 mm by {second}\n  release H10 by {releaser} on 2026-03-03\n"
            ),
        )
    };
    unit("L.Novak", "L.Novak", "M.Okafor").expect(&[]);
    unit("L.Novak", "T.Lind", "M.Okafor").expect(&[]);
    let came = unit("L.Novak", "T.Lind", "T.Lind");
    came.expect(&[(8, "released-own-reading")]);
    assert_eq!(came.the("released-own-reading").severity, Severity::Error);
    // Without the words the role alone decides.
    let free = plan.replace(" other than measurer", "");
    bench(
        &free,
        "  on 2026-03-02 by T.Lind\n  x = 1 mm\n  y = 1 mm\n  release H10 by T.Lind on 2026-03-03\n",
    )
    .expect(&[]);
}

#[test]
fn whoever_amended_or_kept_the_log_measured_too() {
    let plan = "  reading x : length\n  log oven\n    column pressure : pressure\n  hold H10 by quality other than measurer\n";
    let log = |person: &str| {
        format!("  log oven by {person}\n    time  pressure(mbar)\n    2026-03-02 10:00  1\n")
    };
    let read = "  on 2026-03-02 by L.Novak\n  x = 1 mm\n";
    let released = "  release H10 by T.Lind on 2026-03-03\n";
    bench(plan, &format!("{read}{}{released}", log("L.Novak"))).expect(&[]);
    bench(plan, &format!("{read}{}{released}", log("T.Lind")))
        .expect(&[(10, "released-own-reading")]);
    let amended = "  amend x = 2 mm was 1 mm by T.Lind on 2026-03-02 because \"misread\"\n";
    bench(
        plan,
        &format!("{read}{}{amended}{released}", log("L.Novak")),
    )
    .expect(&[(11, "released-own-reading")]);
}

#[test]
fn only_the_last_round_keeps_its_measurers_from_releasing() {
    let plan = "  reading x : length\n  hold H10 by quality other than measurer\n";
    let unit = "  on 2026-03-02 by T.Lind\n  x = 1 mm\nstage s round 2\n  on 2026-03-04 by L.Novak\n  x = 1 mm\n  release H10 by T.Lind on 2026-03-05\n";
    bench(plan, unit).expect(&[]);
}

#[test]
fn two_readings_that_must_be_independent_are_by_two_people() {
    let plan = "  reading turns[phase] : count\n  reading second[phase] : count\n    independent of turns\n";
    let unit = |second: &str| {
        bench(
            plan,
            &format!(
                "  on 2026-03-02 by L.Novak\n  table turns\n    U  V  W\n    9  9  9\n  table second {second}\n    U  V  W\n    9  9  9\n"
            ),
        )
    };
    unit("by T.Lind").expect(&[]);
    let came = unit("");
    came.expect(&[(11, "reading-not-independent")]);
    let message = &came.the("reading-not-independent").message;
    assert!(
        message.contains("second[U], second[V], second[W]"),
        "{message}"
    );
    // A count that nobody signed yet is not held against anybody.
    bench(plan, "  turns[U] = 9 by L.Novak\n  second[U] = 9\n").expect(&[]);
    bench(
        plan,
        "  turns[U] = 9 by L.Novak\n  second[U] = ?  by L.Novak\n",
    )
    .expect(&[]);
}

#[test]
fn independence_needs_another_reading_of_the_same_stage_with_the_same_indices() {
    let wrong = |plan: &str, rule: &str| {
        let plan = format!("plan p rev A\n\nset phase = U V W\n\nrole quality\n\nstage s\n{plan}");
        let small = Small::unchecked(&[&plan]);
        let found = in_short(&common::check(&[small.path().join("document-0.ubr")]));
        assert!(found.iter().any(|found| found.rule == rule), "{found:#?}");
    };
    wrong(
        "  reading a : count\n  reading b : count\n    independent of c\n",
        "unknown-name",
    );
    wrong(
        "  reading a : count\n    independent of a\n",
        "unknown-name",
    );
    wrong(
        "  reading a[phase] : count\n  reading b : count\n    independent of a\n",
        "index-count",
    );
    wrong(
        "  reading a : count\n  hold H1 by quality notice 5 mm\n",
        "wrong-unit",
    );
    wrong(
        "  reading a : count\n  hold H1 by quality notice -5 d\n",
        "wrong-kind",
    );
    wrong(
        "  reading a : count\n  hold H1 by quality other than raiser\n",
        "unexpected-text",
    );
}

#[test]
fn who_left_counts_up_to_the_last_day() {
    let unit = |day: &str| {
        bench(
            "  reading x : length\n",
            &format!("  x = 1 mm by P.Okello on {day}\n"),
        )
    };
    unit("2026-03-01").expect(&[]);
    let came = unit("2026-03-02");
    came.expect(&[(5, "person-not-valid")]);
    let message = &came.the("person-not-valid").message;
    assert!(
        message.contains("retired on 2026-03-01: left the works"),
        "{message}"
    );
}

#[test]
fn an_instrument_counts_within_its_time_of_service_only() {
    let unit = |with: &str, day: &str| {
        bench(
            "  reading x : length\n",
            &format!("  x = 1 mm with {with} by L.Novak on {day}\n"),
        )
    };
    unit("TP-2", "2026-03-01").expect(&[]);
    unit("TP-2", "2026-03-02").expect(&[(5, "instrument-not-in-service")]);
    unit("TP-3", "2026-02-01").expect(&[]);
    unit("TP-3", "2026-01-31").expect(&[(5, "instrument-not-in-service")]);
    unit("TP-3", "2026-03-02").expect(&[(5, "instrument-not-in-service")]);
}

#[test]
fn a_calibration_without_certificate_is_noted_where_readings_rest_on_it() {
    let plan = "  reading x : length\n";
    bench(plan, "  x = 1 mm with TP-1 by L.Novak on 2026-03-02\n").expect(&[]);
    let came = bench(plan, "  x = 1 mm with TP-4 by L.Novak on 2026-03-02\n");
    let finding = came.the("calibration-without-certificate");
    assert_eq!(finding.severity, Severity::Note);
    assert!(finding.message.contains("TP-4"), "{}", finding.message);
}

// -------------------------------------------------------------------------------------------------- time

#[test]
fn a_log_that_runs_on_past_the_release_was_not_looked_at() {
    let plan = "  log oven\n    column pressure : pressure\n  hold H10 by quality\nstage t\n  log pump\n    column pressure : pressure\n";
    let log = |name: &str, times: [&str; 2]| {
        format!(
            "  log {name} by L.Novak\n    time  pressure(mbar)\n    {}  1\n    {}  1\n",
            times[0], times[1]
        )
    };
    let released = "  release H10 by M.Okafor on 2026-03-02 12:00\n";
    let oven = |end: &str| log("oven", ["2026-03-02 08:00", end]);
    bench(plan, &format!("{}{released}", oven("2026-03-02 12:00"))).expect(&[]);
    bench(plan, &format!("{}{released}", oven("2026-03-02 12:01")))
        .expect(&[(9, "release-before-reading")]);
    let pump = |start: &str| log("pump", [start, "2026-03-02 14:00"]);
    let done = oven("2026-03-02 11:00");
    bench(
        plan,
        &format!("{done}{released}stage t\n{}", pump("2026-03-02 12:00")),
    )
    .expect(&[]);
    bench(
        plan,
        &format!("{done}{released}stage t\n{}", pump("2026-03-02 11:59")),
    )
    .expect(&[(13, "hold-passed")]);
}

#[test]
fn only_what_is_certain_is_held_against_a_release() {
    let unit = |read: &str, released: &str| {
        bench(
            HELD,
            &format!("  x = 1 mm by L.Novak on {read}\n  release H10 by M.Okafor on {released}\n"),
        )
    };
    for (read, released) in [
        ("2026-03-02", "2026-03-02 00:00"),
        ("2026-03-02 23:59", "2026-03-02"),
        ("2026-03-02 10:15", "2026-03-02 10:15"),
        ("2026-03-02 10:15:20", "2026-03-02 10:15"),
    ] {
        unit(read, released).expect(&[]);
    }
    for (read, released) in [
        ("2026-03-03", "2026-03-02 23:59"),
        ("2026-03-02 10:16", "2026-03-02 10:15"),
        ("2026-03-02 10:15:20", "2026-03-02 10:15:19"),
    ] {
        unit(read, released).expect(&[(6, "release-before-reading")]);
    }
}

#[test]
fn an_event_or_a_release_of_a_later_stage_is_work_past_the_hold() {
    let plan = "  reading x : length\n  hold H10 by quality\nstage t\n  reading pump-on : moment\n  hold H20 by quality\n";
    let read = "  x = 1 mm by L.Novak on 2026-03-02 08:00\n  release H10 by M.Okafor on 2026-03-02 12:00\n";
    let event = |at: &str| {
        bench(
            plan,
            &format!("{read}stage t\n  pump-on = {at} by L.Novak on 2026-03-02 18:00\n"),
        )
    };
    event("2026-03-02 12:00").expect(&[]);
    event("2026-03-02").expect(&[]);
    event("2026-03-02 11:59").expect(&[(8, "hold-passed")]);
    // A release without any reading behind it passes a hold like work does.
    let open = "  x = 1 mm by L.Novak on 2026-03-02 08:00\n";
    let came = bench(
        plan,
        &format!("{open}stage t\n  release H20 by M.Okafor on 2026-03-04\n"),
    );
    assert!(
        came.rules().contains(&(6, "hold-passed")),
        "{:?}",
        came.rules()
    );
}

#[test]
fn what_is_dated_after_today_is_told_whatever_it_is() {
    let plan = "  reading x : length\n  reading pump-on : moment\n  log oven\n    column pressure : pressure\n  hold H10 by quality\n";
    let unit = "  x = 1 mm by L.Novak on 2026-03-02\n  pump-on = 2026-03-02 23:30 by L.Novak on 2026-03-02\n  \
        log oven by L.Novak\n    time  pressure(mbar)\n    2026-03-02 10:00  1\n  release H10 by M.Okafor on 2026-03-02\n\
        nonconformity NC-1 on 2026-03-02 by L.Novak\n  against s.x\n  found \"scratch\"\n  disposition use-as-is\n  \
        agreed by M.Okafor on 2026-03-02\n  closed by M.Okafor on 2026-03-02\n";
    let small = works(plan);
    let on = |today: Option<Today>, unit: &str| {
        let path = small.path().join("unit.ubr");
        let input = Input::Text {
            name: path.to_string_lossy().into_owned(),
            bytes: record(unit).into_bytes(),
        };
        let options = Options {
            today,
            ..Options::default()
        };
        let outcome = workspace::check(&[input], &options, &Silent).expect("a text can be checked");
        in_short(&outcome)
            .into_iter()
            .filter(|found| found.rule == "dated-in-the-future")
            .map(|found| found.line)
            .collect::<Vec<_>>()
    };
    let day = stagebook::quantity::moment::parse_day("2026-03-02").expect("a day");
    assert_eq!(on(None, unit), [0; 0]);
    assert_eq!(on(Some(Today::Day(day)), unit), [0; 0]);
    // The same person's same date is told once, where it stands first.
    let lines = [5, 6, 9, 10];
    assert_eq!(on(Some(Today::Day(day - 1)), unit), lines);
    // An instant is a day of the record's zone: 23:30 in Vienna is 22:30 UTC of the same day, 00:30 is not.
    let midnight = i64::from(day) * 86_400;
    assert_eq!(on(Some(Today::Instant(midnight - 3600)), unit), [0; 0]);
    assert_eq!(on(Some(Today::Instant(midnight - 3601)), unit), lines);
}

#[test]
fn a_time_of_the_repeated_hour_needs_its_offset() {
    let unit = |at: &str| {
        bench(
            "  reading x : moment\n",
            &format!("  x = {at} by L.Novak on 2026-10-26\n"),
        )
    };
    for clear in [
        "2026-10-25 01:59",
        "2026-10-25 03:00",
        "2026-10-25 02:30 +02:00",
        "2026-10-25 02:30 +01:00",
        "2026-10-25 02:30+01:00",
        "2026-10-25",
    ] {
        unit(clear).expect(&[]);
    }
    for open in ["2026-10-25 02:00", "2026-10-25 02:59:59"] {
        unit(open).expect(&[(5, "ambiguous-time")]);
    }
    for skipped in ["2026-03-29 02:00", "2026-03-29 02:59"] {
        unit(skipped).expect(&[(5, "time-does-not-exist")]);
    }
    for clear in [
        "2026-03-29 01:59",
        "2026-03-29 03:00",
        "2026-03-29 02:30 +01:00",
    ] {
        unit(clear).expect(&[]);
    }
    for wrong in [
        "2026-07-01 10:00 +01:00",
        "2026-01-15 10:00 +02:00",
        "2026-01-15 10:00 -01:00",
    ] {
        unit(wrong).expect(&[(5, "offset-does-not-fit")]);
    }
    unit("2026-01-15 10:00 +25:00").expect(&[(5, "impossible-date")]);
}

#[test]
fn offsets_are_read_in_clauses_and_in_rows() {
    let plan = "  reading x[phase] : length\n  hold H10 by quality\n";
    let unit = "  table x(mm)  by L.Novak\n    phase  x  on\n    U  1  2026-10-25 02:30 +02:00\n    V  1  2026-10-25 02:10 +01:00\n    W 1 2026-10-25 02:20 +01:00\n  \
        release H10 by M.Okafor on 2026-10-25 02:20 +01:00\n";
    let unit = unit
        .replace("table x(mm)", "table")
        .replace("phase  x  on", "phase  x(mm)  on");
    bench(plan, &unit).expect(&[]);
    // An hour earlier by the same face of the clock.
    bench(
        plan,
        &unit.replace(
            "on 2026-10-25 02:20 +01:00\n",
            "on 2026-10-25 02:20 +02:00\n",
        ),
    )
    .expect(&[(10, "release-before-reading")]);
}

#[test]
fn a_log_tells_the_repeated_hour_by_its_order_once_it_steps_back() {
    let plan = "  log oven\n    column pressure : pressure\n  check long \"Held\"\n    require duration(oven.pressure) >= 3 h\n    source works \"instruction 2\"\n";
    let log = |times: &[&str]| {
        let rows: String = times
            .iter()
            .map(|time| format!("    2026-10-25 {time}  1\n"))
            .collect();
        bench(
            plan,
            &format!("  log oven by L.Novak\n    time  pressure(mbar)\n{rows}"),
        )
    };
    // From 01:30 +02:00 to 03:30 +01:00 are three hours.
    log(&["01:30", "02:30", "02:45", "02:10", "02:50", "03:30"]).expect(&[]);
    log(&["01:31", "02:30", "02:45", "02:10", "02:50", "03:30"]).expect(&[(5, "check-failed")]);
    log(&["01:30", "02:30", "03:30"]).expect(&[(8, "ambiguous-time")]);
    log(&["01:30", "02:30 +01:00", "03:30"]).expect(&[]);
    log(&["01:30", "02:30", "02:20", "02:10"])
        .expect(&[(5, "check-failed"), (10, "time-runs-backwards")]);
    log(&["01:30", "03:30"]).expect(&[]);
}

#[test]
fn a_log_file_may_write_its_offset_or_utc() {
    let plan = "  log oven\n    column pressure : pressure\n  check long \"Held\"\n    require duration(oven.pressure) = 3 h\n    source works \"instruction 2\"\n";
    let small = works(plan);
    let judge = |rows: &[&str]| {
        let rows: String = rows.iter().map(|time| format!("{time},1\n")).collect();
        small.write("oven.csv", format!("time,pressure(mbar)\n{rows}"));
        small.judge(&record("  log oven from \"oven.csv\" by L.Novak\n"))
    };
    judge(&["2026-10-25T01:30+02:00", "2026-10-25T03:30+01:00"]).expect(&[]);
    judge(&["2026-10-24T23:30Z", "2026-10-25T02:30Z"]).expect(&[]);
    judge(&[
        "2026-10-25 01:30",
        "2026-10-25 02:30",
        "2026-10-25 02:10",
        "2026-10-25 03:30",
    ])
    .expect(&[]);
    let came = judge(&["2026-10-25 01:30", "2026-10-25 02:30", "2026-10-25 03:30"]);
    came.expect(&[(5, "ambiguous-time")]);
    judge(&[
        "2026-03-29 00:30",
        "2026-03-29 02:10",
        "2026-03-29 02:20",
        "2026-03-29 04:30",
    ])
    .expect(&[(5, "time-does-not-exist")]);
}

#[test]
fn time_between_events_is_elapsed_time_and_across_stages() {
    let plan = "  reading tank-opened : moment\nstage t\n  reading vacuum-on : moment\n  check open-time \"Time in the open\"\n    require vacuum-on - s.tank-opened <= 10 h\n    source works \"instruction 9\"\n";
    let unit = |opened: &str, on: &str| {
        bench(
            plan,
            &format!(
                "  tank-opened = {opened} by L.Novak on 2026-10-30\nstage t\n  vacuum-on = {on} by L.Novak on 2026-10-30\n"
            ),
        )
    };
    unit("2026-03-02 08:00", "2026-03-02 18:00").expect(&[]);
    let came = unit("2026-03-02 08:00", "2026-03-02 18:01");
    came.expect(&[(7, "check-failed")]);
    let reasoning = came
        .the("check-failed")
        .reasoning
        .as_deref()
        .expect("a check explains itself");
    assert_eq!(
        reasoning.steps,
        ["= 2026-03-02 18:01 - 2026-03-02 08:00 <= 10 h"]
    );
    assert_eq!(reasoning.margin.as_deref(), Some("-0.0166667 h"));
    // The clock shows eleven hours, ten have passed; and the other way round.
    unit("2026-03-28 22:00", "2026-03-29 09:00").expect(&[]);
    unit("2026-10-24 22:00", "2026-10-25 08:00").expect(&[(7, "check-failed")]);
    unit("2026-10-24 22:00", "2026-10-25 07:00").expect(&[]);
}

#[test]
fn a_check_asks_for_the_time_of_an_event_only_where_it_hangs_on_it() {
    let plan = |own: &str| {
        format!(
            "  reading tank-opened : moment\nstage t\n  reading vacuum-on : moment\n  check open-time \"Time in the open\"\n    require vacuum-on - s.tank-opened <= 10 h\n    source works \"instruction 9\"\n{own}"
        )
    };
    let unit = |opened: &str, on: &str| {
        format!(
            "  tank-opened = {opened} by L.Novak on 2026-10-30\nstage t\n  vacuum-on = {on} by L.Novak on 2026-10-30\n"
        )
    };
    let of = |opened: &str, on: &str| bench(&plan(""), &unit(opened, on));
    // The same at every minute of the day: it holds, or it fails.
    of("2026-03-03 20:00", "2026-03-02").expect(&[]);
    of("2026-03-01", "2026-03-03 12:00").expect(&[(7, "check-failed")]);
    of("2026-03-02 16:00", "2026-03-03").expect(&[(7, "time-of-day-missing")]);
    // Two hours to 26 hours may have passed.
    let came = of("2026-03-02", "2026-03-03 02:00");
    came.expect(&[(5, "time-of-day-missing")]);
    let message = &came.the("time-of-day-missing").message;
    assert!(
        message.starts_with("expected the time of day of tank-opened, found 2026-03-02 alone"),
        "{message}"
    );
    assert_eq!(came.the("time-of-day-missing").severity, Severity::Error);
    // As heavy as the check that it leaves open, and nothing is asked once that is conceded.
    let warns = bench(
        &plan("    severity warning\n"),
        &unit("2026-03-02", "2026-03-03 02:00"),
    );
    assert_eq!(warns.the("time-of-day-missing").severity, Severity::Warning);
    let conceded = "nonconformity NC-1 on 2026-10-30 by L.Novak\n  against t.open-time\n  found \"nobody noted the time\"\n  disposition use-as-is\n  agreed by M.Okafor on 2026-10-30\n  closed by M.Okafor on 2026-10-30\n";
    let came = bench(
        &plan(""),
        &format!("{}{conceded}", unit("2026-03-02", "2026-03-03 02:00")),
    );
    assert!(
        came.rules()
            .iter()
            .all(|(_, rule)| *rule != "time-of-day-missing")
    );
}

#[test]
fn a_condition_a_decision_and_a_limit_ask_for_the_time_of_an_event_too() {
    let asks = |own: &str, unit: &str, expected: &[(usize, &str)]| -> Option<String> {
        let plan = format!("  reading opened : moment\n  reading closed : moment\n{own}");
        let came = bench(&plan, &format!("  on 2026-10-30 by L.Novak\n{unit}"));
        let of_times: Vec<(usize, &str)> = came
            .rules()
            .into_iter()
            .filter(|(_, rule)| *rule != "pending" && *rule != "missing-reading")
            .collect();
        assert_eq!(of_times, expected, "{own}{unit}{:#?}", came.rules());
        let asked = expected
            .iter()
            .any(|(_, rule)| *rule == "time-of-day-missing");
        asked.then(|| came.the("time-of-day-missing").message.clone())
    };
    let both = |opened: &str| format!("  opened = {opened}\n  closed = 2026-03-02 12:00\n");
    let asked = &[(6, "time-of-day-missing")][..];

    // What decides inside a requirement.
    let own = "  check open \"Open\"\n    require (if closed - opened > 6 h then 1 else 3) <= 2\n    source works \"x\"\n";
    asks(own, &both("2026-03-01 12:00"), &[]);
    asks(own, &both("2026-03-01"), &[]);
    asks(own, &both("2026-03-02"), asked);
    // Whichever way it is decided, it holds.
    let alike = own.replace("then 1 else 3", "then 1 else 2");
    asks(&alike, &both("2026-03-02"), &[]);

    // Whether a check, or a reading that nobody has recorded, applies at all.
    let own = "  reading x : count\n  check few \"Few\"\n    when closed - opened > 6 h\n    require x <= 2\n    source works \"x\"\n";
    let with_x = |opened: &str| format!("{}  x = 3\n", both(opened));
    asks(own, &with_x("2026-03-02 11:00"), &[]);
    asks(own, &with_x("2026-03-01"), &[(8, "check-failed")]);
    let said = asks(own, &with_x("2026-03-02"), asked).unwrap_or_default();
    assert!(
        said.ends_with("whether `few` applies hangs on it"),
        "{said}"
    );
    let own = "  reading x : count\n    when closed - opened > 6 h\n    limit <= 9\n    source works \"x\"\n";
    asks(own, &both("2026-03-01"), &[]);
    asks(own, &both("2026-03-02"), asked);
    // It is recorded and judged all the same: nothing is left to ask.
    asks(own, &with_x("2026-03-02"), &[]);

    // A limit of the event itself, and a limit of something else that rests on it.
    let own = "  reading x : count\n  reading began : moment\n    limit >= closed\n    source works \"x\"\n";
    let began = |at: &str| format!("{}  began = {at}\n", both("2026-03-01 12:00"));
    asks(own, &began("2026-03-03"), &[]);
    asks(own, &began("2026-03-01"), &[(8, "out-of-limit")]);
    let said = asks(own, &began("2026-03-02"), &[(8, "time-of-day-missing")]);
    let said = said.unwrap_or_default();
    assert!(
        said.ends_with("whether `began` is within its limit hangs on it"),
        "{said}"
    );
    let own = "  reading x : count\n    limit <= if closed - opened > 6 h then 4 else 2\n    source works \"x\"\n";
    asks(own, &with_x("2026-03-01"), &[]);
    asks(own, &with_x("2026-03-02"), asked);
    // The limit's own weight.
    let warns = own.replace("\"x\"\n", "\"x\"\n    severity warning\n");
    let plan = format!("  reading opened : moment\n  reading closed : moment\n{warns}");
    let came = bench(
        &plan,
        &format!("  on 2026-10-30 by L.Novak\n{}", with_x("2026-03-02")),
    );
    assert_eq!(came.the("time-of-day-missing").severity, Severity::Warning);
}

#[test]
fn a_time_limit_without_its_unit_is_found_in_the_plan() {
    let plan = "plan p rev A\n\nrole quality\n\nstage s\n  reading a : moment\n  reading b : moment\n  check open \"Open\"\n    require b - a <= 10\n    source works \"x\"\n";
    let small = Small::unchecked(&[plan]);
    let found = in_short(&common::check(&[small.path().join("document-0.ubr")]));
    assert_eq!(found.len(), 1, "{found:#?}");
    assert_eq!((found[0].line, &*found[0].rule), (9, "dimension-mismatch"));
}

// --------------------------------------------------------------------------------- witness, review, notice

const WITNESSED: &str = "  reading x : length\n  witness W10 by customer notice 5 d\n  review R10 by design\n  hold H10 by quality\nstage t\n  reading y : length\n";

fn attended(lines: &str) -> Came {
    bench(
        WITNESSED,
        &format!("  x = 1 mm by L.Novak on 2026-03-02 08:00\n{lines}"),
    )
}

const NOTIFIED: &str = "  notified W10 by L.Novak on 2026-02-20 \"letter 4\"\n";
const REVIEWED: &str = "  reviewed R10 by A.Brandt on 2026-03-02 09:00\n";

#[test]
fn work_past_an_open_witness_point_is_found_and_past_a_review_point_is_warned_of() {
    let release = "  release H10 by M.Okafor on 2026-03-02 12:00\n";
    let witnessed = "  witnessed W10 by C.Moreau on 2026-03-02 11:00\n";
    attended(&format!("{NOTIFIED}{REVIEWED}{witnessed}{release}")).expect(&[]);
    let came = attended(&format!("{NOTIFIED}{REVIEWED}{release}"));
    came.expect(&[(8, "witness-passed")]);
    let points = &came.unit.expect("it was judged").stages[0].points;
    assert_eq!(points[0].state, PointState::Passed);
    let came = attended(&format!("{NOTIFIED}{witnessed}{release}"));
    came.expect(&[(8, "review-passed")]);
    assert_eq!(came.the("review-passed").severity, Severity::Warning);
    // Nothing behind it yet: the points are open and that is all.
    attended("").expect(&[]);
    let waived = "  waived W10 by C.Moreau on 2026-03-01 \"letter of 2026-02-28\"\n";
    attended(&format!("{NOTIFIED}{REVIEWED}{waived}{release}")).expect(&[]);
}

#[test]
fn what_is_attended_only_after_work_went_on_was_passed_all_the_same() {
    let release = "  release H10 by M.Okafor on 2026-03-02 12:00\n";
    let at = |time: &str| {
        attended(&format!(
            "{NOTIFIED}{REVIEWED}  witnessed W10 by C.Moreau on {time}\n{release}"
        ))
    };
    at("2026-03-02 12:00").expect(&[]);
    at("2026-03-02").expect(&[]);
    at("2026-03-02 12:01").expect(&[(8, "witness-passed")]);
    let late = "  reviewed R10 by A.Brandt on 2026-03-03\n  witnessed W10 by C.Moreau on 2026-03-02 11:00\n";
    attended(&format!("{NOTIFIED}{late}{release}")).expect(&[(7, "review-passed")]);
}

#[test]
fn a_later_stage_passes_a_witness_point_of_a_stage_without_a_hold() {
    let plan = "  reading x : length\n  witness W10 by customer\nstage t\n  reading y : length\n";
    let read = "  x = 1 mm by L.Novak on 2026-03-02\n";
    let next = "stage t\n  y = 1 mm by L.Novak on 2026-03-03\n";
    bench(plan, &format!("{read}{next}")).expect(&[(7, "witness-passed")]);
    bench(
        plan,
        &format!("{read}  witnessed W10 by C.Moreau on 2026-03-02\n{next}"),
    )
    .expect(&[]);
    bench(
        plan,
        &format!("{read}  witnessed W10 by C.Moreau on 2026-03-04\n{next}"),
    )
    .expect(&[(6, "witness-passed")]);
}

#[test]
fn notice_is_counted_in_days_of_the_calendar_or_by_the_clock() {
    let with = |notified: &str, act: &str| attended(&format!("{notified}  {act}\n"));
    let witnessed = "witnessed W10 by C.Moreau on 2026-03-02 09:00";
    let waived = "waived W10 by C.Moreau on 2026-03-02 \"letter 7\"";
    let on = |day: &str| format!("  notified W10 by L.Novak on {day} \"letter 4\"\n");
    with("", witnessed).expect(&[(6, "notice-missing")]);
    with("", waived).expect(&[(6, "notice-missing")]);
    for act in [witnessed, waived] {
        with(&on("2026-02-25 17:00"), act).expect(&[]);
        let came = with(&on("2026-02-26"), act);
        came.expect(&[(6, "notice-too-short")]);
        assert_eq!(came.the("notice-too-short").severity, Severity::Warning);
        with(&on("2026-03-05"), act).expect(&[(6, "notice-too-short")]);
    }
    // Put off and announced again: the first notification gave the time.
    let twice = format!("{}{}", on("2026-02-20"), on("2026-02-27"));
    with(&twice, witnessed).expect(&[]);
    let hours = "  reading x : length\n  witness W10 by customer notice 36 h\n";
    let by_clock = |told: &str, at: &str| {
        bench(
            hours,
            &format!("  notified W10 by L.Novak on {told}\n  witnessed W10 by C.Moreau on {at}\n"),
        )
    };
    by_clock("2026-03-01 08:00", "2026-03-02 20:00").expect(&[]);
    by_clock("2026-03-01 08:00", "2026-03-02 19:58").expect(&[(5, "notice-too-short")]);
    // The clocks went forward in between: 37 h on their faces, 36 h passed.
    by_clock("2026-03-28 08:00", "2026-03-29 21:00").expect(&[]);
    by_clock("2026-03-28 08:00", "2026-03-29 20:30").expect(&[(5, "notice-too-short")]);
}

#[test]
fn a_waiver_names_its_letter() {
    attended(&format!(
        "{NOTIFIED}  waived W10 by C.Moreau on 2026-03-02\n"
    ))
    .expect(&[(7, "reason-missing")]);
}

// -------------------------------------------------------------------------------------------- amendments

const AMENDED: &str =
    "  amend x = 2 mm was 1 mm by L.Novak on 2026-03-02 10:00 because \"misread\"\n";

#[test]
fn an_amendment_after_a_release_asks_for_a_new_release() {
    let read = "  x = 1 mm by L.Novak on 2026-03-02 08:00\n";
    let release = |time: &str| format!("  release H10 by M.Okafor on 2026-03-02 {time}\n");
    bench(HELD, &format!("{read}{AMENDED}{}", release("12:00"))).expect(&[]);
    bench(HELD, &format!("{read}{}{AMENDED}", release("09:00")))
        .expect(&[(7, "amended-after-release")]);
    // Standing below the release is enough, whatever its date says.
    bench(HELD, &format!("{read}{}{AMENDED}", release("12:00")))
        .expect(&[(7, "amended-after-release")]);
    // And so is its date.
    bench(HELD, &format!("{read}{AMENDED}{}", release("09:00")))
        .expect(&[(6, "amended-after-release")]);
    let anew = format!("{read}{}{AMENDED}{}", release("09:00"), release("12:00"));
    let came = bench(HELD, &anew);
    came.expect(&[]);
    let points = &came.unit.expect("it was judged").stages[0].points;
    assert_eq!(
        points[0].by.as_ref().map(|(_, when)| when.as_str()),
        Some("2026-03-02 12:00")
    );
    // A further amendment asks for a further release.
    let more = "  amend x = 3 mm was 2 mm by L.Novak on 2026-03-02 13:00 because \"again\"\n";
    bench(HELD, &format!("{anew}{more}")).expect(&[(9, "amended-after-release")]);
    bench(HELD, &format!("{anew}{more}{}", release("14:00"))).expect(&[]);
}

#[test]
fn a_second_release_without_an_amendment_between_is_one_too_many() {
    let read = "  x = 1 mm by L.Novak on 2026-03-02 08:00\n";
    let release = "  release H10 by M.Okafor on 2026-03-02 12:00\n";
    bench(HELD, &format!("{read}{release}{release}")).expect(&[(7, "duplicate-reading")]);
    bench(HELD, &format!("{read}{AMENDED}{release}{release}")).expect(&[(8, "duplicate-reading")]);
}

#[test]
fn work_that_went_on_after_the_first_release_stands_when_a_second_follows() {
    let unit = format!(
        "  x = 1 mm by L.Novak on 2026-03-02 08:00\n  release H10 by M.Okafor on 2026-03-02 09:00\n{AMENDED}  \
         release H10 by M.Okafor on 2026-03-02 12:00\nstage t\n  y = 1 mm by L.Novak on 2026-03-02 09:30\n"
    );
    bench(HELD, &unit).expect(&[]);
}

#[test]
fn an_amendment_has_an_author_a_date_and_a_reason_and_comes_after_the_reading() {
    let amend = |line: &str| {
        let came = bench(
            HELD,
            &format!("  x = 1 mm by L.Novak on 2026-03-02 08:00\n  amend {line}\n"),
        );
        let found: Vec<(String, Severity)> = came
            .found
            .iter()
            .filter(|found| found.line == 6)
            .map(|found| (found.rule.clone(), found.severity))
            .collect();
        found
    };
    let error = |rule: &str| vec![(rule.to_owned(), Severity::Error)];
    assert_eq!(
        amend("x = 2 mm was 1 mm by L.Novak on 2026-03-02 10:00 because \"misread\""),
        []
    );
    assert_eq!(
        amend("x = 2 mm was 1 mm on 2026-03-02 10:00 because \"misread\""),
        error("missing-person")
    );
    assert_eq!(
        amend("x = 2 mm was 1 mm by L.Novak because \"misread\""),
        error("missing-date")
    );
    assert_eq!(
        amend("x = 2 mm was 1 mm by L.Novak on 2026-03-02 10:00"),
        error("reason-missing")
    );
    assert_eq!(
        amend("x = 2 mm was 1 mm by L.Novak on 2026-03-02 07:59 because \"misread\""),
        error("time-runs-backwards")
    );
}

#[test]
fn a_chain_of_amendments_is_shown_in_every_explanation() {
    let unit = "  x = 1 mm by L.Novak on 2026-03-02 08:00\n  \
        amend x = 1650 mm was 1 mm by L.Novak on 2026-03-02 10:00 because \"slip of the pen\"\n  \
        amend x = 1701 mm was 1650 mm by T.Lind on 2026-03-03 because \"misread\"\n";
    let came = bench(LIMITED, unit);
    came.expect(&[(7, "out-of-limit")]);
    let reasoning = came
        .the("out-of-limit")
        .reasoning
        .as_deref()
        .expect("a limit explains itself");
    let words: Vec<String> = reasoning.inputs[0]
        .amended
        .iter()
        .map(|each| each.words())
        .collect();
    assert_eq!(
        words,
        [
            "was 1650 mm, amended by T.Lind on 2026-03-03: misread",
            "was 1 mm, amended by L.Novak on 2026-03-02 10:00: slip of the pen",
        ]
    );
    let page = stagebook::finding::terminal::render(
        came.the("out-of-limit"),
        &came.outcome.sources,
        stagebook::finding::terminal::Style::default(),
    );
    assert!(
        page.contains("was 1650 mm, amended by T.Lind on 2026-03-03: misread"),
        "{page}"
    );
    let json = stagebook::finding::json::document(
        &came.outcome.units,
        &came.outcome.findings,
        &came.outcome.sources,
    );
    assert_eq!(
        json["findings"][0]["inputs"][0]["amended"][0]["was"],
        "1650 mm"
    );
    assert_eq!(
        json["findings"][0]["inputs"][0]["amended"][1]["because"],
        "slip of the pen"
    );
    // `was` repeats the value in force, not the first.
    let wrong = unit.replace("was 1650 mm by T.Lind", "was 1 mm by T.Lind");
    bench(LIMITED, &wrong).expect(&[(7, "amendment-mismatch")]);
}

#[test]
fn the_instrument_of_an_amended_reading_is_judged_on_the_day_it_was_read() {
    let unit = "  x = 1 mm with TP-2 by L.Novak on 2026-03-01\n  \
        amend x = 2 mm was 1 mm by L.Novak on 2026-03-05 because \"misread\"\n";
    bench(HELD, unit).expect(&[]);
}

// --------------------------------------------------------------------------------------- nonconformities

fn conceded(steps: &str, release: &str) -> Came {
    bench(
        LIMITED,
        &format!(
            "  x = 1701 mm by L.Novak on 2026-03-02 08:00\n  release H10 by M.Okafor on {release}\n\
             nonconformity NC-1 on 2026-03-02 10:00 by L.Novak\n  against s.x\n  found \"1 mm over\"\n{steps}"
        ),
    )
}

const STEPS: &str = "  disposition use-as-is\n  agreed by A.Brandt on 2026-03-02 11:00\n  closed by M.Okafor on 2026-03-02 12:00\n";

#[test]
fn a_concession_is_shown_and_counted_and_comes_before_the_release() {
    let came = conceded(STEPS, "2026-03-02 13:00");
    came.expect(&[(5, "conceded")]);
    assert_eq!(
        came.unit.as_ref().expect("it was judged").counts.conceded,
        1
    );
    let json = stagebook::finding::json::document(
        &came.outcome.units,
        &came.outcome.findings,
        &came.outcome.sources,
    );
    let rules = json["findings"].as_array().expect("a list");
    assert!(
        rules.iter().any(|found| found["rule"] == "conceded"),
        "{json:#}"
    );
    assert_eq!(json["units"][0]["counts"]["conceded"], 1);
    conceded(STEPS, "2026-03-02 11:59").expect(&[
        (5, "conceded"),
        (6, "released-over-failure"),
        (12, "nonconformity-open"),
    ]);
    conceded(STEPS, "2026-03-02").expect(&[(5, "conceded")]);
}

#[test]
fn a_nonconformity_is_raised_then_agreed_then_closed() {
    let steps = |agreed: &str, closed: &str| {
        let steps = format!(
            "  disposition use-as-is\n  agreed by A.Brandt on {agreed}\n  closed by M.Okafor on {closed}\n"
        );
        conceded(&steps, "2026-03-05")
    };
    steps("2026-03-02", "2026-03-02").expect(&[(5, "conceded")]);
    steps("2026-03-02 09:59", "2026-03-03").expect(&[(5, "conceded"), (11, "time-runs-backwards")]);
    steps("2026-03-04", "2026-03-03").expect(&[(5, "conceded"), (12, "time-runs-backwards")]);
    let came = steps("2026-03-01", "2026-03-01");
    assert!(
        came.rules().contains(&(11, "time-runs-backwards")),
        "{:?}",
        came.rules()
    );
}

#[test]
fn a_disposition_is_agreed_by_a_role_that_may_and_not_by_whoever_raised_it() {
    let by = |name: &str| conceded(&STEPS.replace("A.Brandt", name), "2026-03-02 13:00");
    by("M.Okafor").expect(&[(5, "conceded")]);
    by("C.Moreau").expect(&[(5, "conceded"), (11, "disposition-not-authorised")]);
    by("L.Novak").expect(&[(5, "conceded"), (11, "disposition-not-authorised")]);
    let came = by("A.Brant");
    came.expect(&[(5, "conceded"), (11, "unknown-person")]);
    let came = by("P.Okello");
    assert!(
        came.rules().contains(&(11, "person-not-valid")),
        "{:?}",
        came.rules()
    );
}

#[test]
fn each_step_of_a_nonconformity_is_signed() {
    for (old, new, rule) in [
        (
            "agreed by A.Brandt on 2026-03-02 11:00",
            "agreed on 2026-03-02",
            "missing-person",
        ),
        (
            "agreed by A.Brandt on 2026-03-02 11:00",
            "agreed by A.Brandt",
            "missing-date",
        ),
        (
            "closed by M.Okafor on 2026-03-02 12:00",
            "closed by M.Okafor",
            "missing-date",
        ),
    ] {
        let came = conceded(&STEPS.replace(old, new), "2026-03-02 13:00");
        assert_eq!(came.the(rule).severity, Severity::Error);
    }
}

#[test]
fn closing_without_a_disposition_or_an_agreement_settles_nothing() {
    let bare = STEPS.replace("  disposition use-as-is\n", "");
    let came = conceded(&bare, "2026-03-02 13:00");
    assert!(
        came.rules().contains(&(7, "nonconformity-open")),
        "{:?}",
        came.rules()
    );
    let came = conceded(
        &STEPS.replace("  agreed by A.Brandt on 2026-03-02 11:00\n", ""),
        "2026-03-02 13:00",
    );
    assert!(
        came.rules().contains(&(7, "nonconformity-open")),
        "{:?}",
        came.rules()
    );
}

#[test]
fn rework_is_shown_by_a_new_reading() {
    let unit = |again: &str| {
        bench(
            LIMITED,
            &format!(
                "  x = 1701 mm by L.Novak on 2026-03-02 08:00\n{again}nonconformity NC-1 on 2026-03-02 10:00 by L.Novak\n  \
                 against s.x\n  disposition rework\n  agreed by A.Brandt on 2026-03-02\n  closed by M.Okafor on 2026-03-04\n"
            ),
        )
    };
    unit("stage s round 2\n  x = 1699 mm by L.Novak on 2026-03-03\n").expect(&[]);
    unit("").expect(&[(5, "out-of-limit"), (10, "rework-without-new-reading")]);
    let amended =
        "  amend x = 1699 mm was 1701 mm by L.Novak on 2026-03-03 because \"pressed again\"\n";
    // A correction of what was read is no new reading.
    unit(amended).expect(&[(11, "rework-without-new-reading")]);
    let read_anew = amended.replace("by L.Novak", "with TP-1 by L.Novak");
    unit(&read_anew).expect(&[]);
}

#[test]
fn what_is_scrapped_stops_every_release_until_it_is_made_anew() {
    let plan = "  reading x : length\nstage t\n  after nothing\n  reading y : length\n  hold H20 by quality\n";
    let other =
        "stage t\n  y = 1 mm by L.Novak on 2026-03-05\n  release H20 by M.Okafor on 2026-03-06\n";
    let scrap = "nonconformity NC-1 on 2026-03-02 by L.Novak\n  against s.x\n  disposition scrap\n  \
        agreed by A.Brandt on 2026-03-03\n  closed by M.Okafor on 2026-03-04\n";
    let read = "  x = 1 mm by L.Novak on 2026-03-02\n";
    bench(plan, &format!("{read}{scrap}")).expect(&[]);
    bench(plan, &format!("{read}{other}{scrap}")).expect(&[(9, "nonconformity-open")]);
    let anew = "stage s round 2\n  x = 1 mm by L.Novak on 2026-03-05\n";
    bench(plan, &format!("{read}{anew}{other}{scrap}")).expect(&[]);
}
