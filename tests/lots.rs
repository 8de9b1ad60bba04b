//! Lots: numbers, type tests on the first unit, later units that refer to it, and a unit beside its sisters.

mod common;

use common::{Found, Small, check, in_short, stagebook, works};
use stagebook::finding::{Severity, TypeTestState};
use std::path::{Path, PathBuf};

/// Type tests in a stage of their own and in one reading of another stage; one value that is compared.
const PLAN: &str = "plan p rev A

set phase = U V

role quality

stage tests
  reading loss : power
    compare floor 1 % of median
  reading resistance[phase] : resistance
    limit 1 ohm .. 3 ohm
    source common-practice
    compare
  reading noise : power
    when first-of-lot()
  hold H1 \"Tests\" by quality

stage type-tests
  after tests
  when first-of-lot()
  reading rise : temperature-rise
    limit <= 60 K
    source common-practice
  hold H2 \"Type tests\" by quality

stage dispatch
  after tests type-tests
  reading weight : mass
  hold H3 \"Dispatch\" by quality
";

/// A unit whose tests are recorded and passed; `lot` is the rest of its `lot` line.
fn tested(serial: &str, lot: &str, loss: &str) -> String {
    let noise = if lot.contains("unit 1") {
        "  noise = 1 W\n"
    } else {
        ""
    };
    format!(
        "unit {serial}\n  plan p rev A\n  lot {lot}\nstage tests\n  loss = {loss} kW\n  resistance[U] = 2.000 ohm\n  resistance[V] = 2.000 ohm\n{noise}  release H1 by A.Bee on 2026-03-01\n"
    )
}

/// The type tests of a first unit, complete.
const TYPE_TESTS: &str = "stage type-tests\n  rise = 55 K\n  release H2 by A.Bee on 2026-03-03\n";
/// The unit has left.
const LEFT: &str = "stage dispatch\n  weight = 5 t\n  release H3 by A.Bee on 2026-03-05\n";

/// A works of this plan with these units.
fn lot(units: &[(&str, String)]) -> Small {
    let small = Small::new(&[PLAN]);
    for (name, text) in units {
        small.write(name, text);
    }
    small
}

/// What the rules of this file say of these documents; who read something is not asked here.
fn found(paths: &[PathBuf]) -> Vec<Found> {
    let about = [
        "apart-from-sisters",
        "duplicate-serial",
        "lot-numbers-disagree",
        "lot-without-type-test",
        "type-test-reference-missing",
        "type-test-reference-wrong",
        "type-tested-unit-not-at-hand",
        "type-tests-open",
    ];
    in_short(&check(paths))
        .into_iter()
        .filter(|found| about.contains(&&*found.rule))
        .collect()
}

/// Rule and weight of what is said of one file, and the message.
#[track_caller]
fn one(small: &Small, name: &str) -> Vec<(String, Severity, String)> {
    let path = small.path().join(name);
    let alone = found(std::slice::from_ref(&path));
    // Whether the record is checked alone or with the whole folder makes no difference.
    let own = |found: &Found| found.path == path.to_string_lossy();
    let together: Vec<Found> = found(&[small.path().to_owned()])
        .into_iter()
        .filter(own)
        .collect();
    let alone: Vec<Found> = alone.into_iter().filter(own).collect();
    assert_eq!(alone, together, "{name} alone and in its folder");
    alone
        .into_iter()
        .map(|found| (found.rule, found.severity, found.message))
        .collect()
}

/// The rules and weights alone.
fn rules(said: &[(String, Severity, String)]) -> Vec<(&str, Severity)> {
    said.iter()
        .map(|(rule, severity, _)| (&**rule, *severity))
        .collect()
}

// ---------------------------------------------------------------- the example

#[test]
fn the_lot_of_the_example_has_what_is_marked_and_nothing_else() {
    let folder = works().join("lot");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(&folder)
        .expect("the lot is part of the project")
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "ubr"))
        .collect();
    paths.sort();
    assert_eq!(paths.len(), 6, "a plan and five units");
    let mut marked = 0;
    for path in &paths {
        let text = std::fs::read_to_string(path).expect("an example is UTF-8");
        let marks: Vec<(usize, String)> = text
            .lines()
            .enumerate()
            .filter_map(|(index, line)| {
                Some((index + 1, line.split_once("#!")?.1.trim().to_owned()))
            })
            .collect();
        marked += marks.len();
        let own = |inputs: &[PathBuf]| -> Vec<(usize, String)> {
            in_short(&check(inputs))
                .into_iter()
                .filter(|found| found.path == path.to_string_lossy())
                .filter(|found| found.severity != Severity::Pending)
                .map(|found| (found.line, found.rule))
                .collect()
        };
        assert_eq!(
            own(std::slice::from_ref(path)),
            marks,
            "{} alone",
            path.display()
        );
        assert_eq!(
            own(std::slice::from_ref(&folder)),
            marks,
            "{}",
            path.display()
        );
    }
    assert_eq!(marked, 2);
}

#[test]
fn a_unit_apart_is_told_with_its_sisters_and_fails_nothing() {
    let path = "lot/KFT-0440-3.ubr";
    let said = stagebook(&works(), &["check", "--as", "json", path]).expect(0);
    let json = said.json();
    let finding = json["findings"]
        .as_array()
        .and_then(|findings| {
            findings
                .iter()
                .find(|finding| finding["rule"] == "apart-from-sisters")
        })
        .expect("it is planted");
    assert_eq!(finding["severity"], "warning");
    let inputs: Vec<String> = finding["inputs"]
        .as_array()
        .expect("the schema says so")
        .iter()
        .map(|input| {
            format!(
                "{} = {}",
                input["name"].as_str().unwrap_or(""),
                input["value"].as_str().unwrap_or("")
            )
        })
        .collect();
    for sister in ["1", "2", "4", "5"] {
        let wanted = format!("resistance-75[HV, V] of KFT-0440-{sister} = ");
        assert!(
            inputs.iter().any(|input| input.starts_with(&wanted)),
            "{inputs:#?}"
        );
    }
    let units = json["units"].as_array().expect("the schema says so");
    assert_eq!(units.len(), 1, "sisters are looked at, not judged");
    assert_eq!(units[0]["lot"]["type_tests"], "complete");
    assert_eq!(units[0]["lot"]["type_tested"], "KFT-0440-1");
    let status = stagebook(&works(), &["status", path]).expect(0);
    assert!(
        status
            .out
            .contains("KFT-0440: unit 3 of 5, type tests on KFT-0440-1: complete"),
        "{}",
        status.out
    );
}

// ---------------------------------------------------------------- type tests

#[test]
fn a_later_unit_that_names_the_complete_first_one_is_fine() {
    let small = lot(&[
        (
            "1.ubr",
            tested("K-1", "K unit 1 of 2", "5") + TYPE_TESTS + LEFT,
        ),
        (
            "2.ubr",
            tested("K-2", "K unit 2 of 2 type-tested K-1", "5") + LEFT,
        ),
    ]);
    assert_eq!(one(&small, "1.ubr"), []);
    assert_eq!(one(&small, "2.ubr"), []);
    let outcome = check(&[small.path().join("2.ubr")]);
    let state = outcome.units[0].lot.as_ref().map(|lot| &lot.state);
    assert_eq!(state, Some(&TypeTestState::Complete));
}

#[test]
fn a_reference_is_asked_for_and_missed_when_the_unit_leaves() {
    let first = ("1.ubr", tested("K-1", "K unit 1 of 3", "5") + TYPE_TESTS);
    let working = tested("K-2", "K unit 2 of 3", "5");
    let small = lot(&[
        first,
        ("2.ubr", working.clone()),
        ("3.ubr", tested("K-3", "K unit 3 of 3", "5") + LEFT),
    ]);
    let said = one(&small, "2.ubr");
    assert_eq!(
        rules(&said),
        [("type-test-reference-missing", Severity::Pending)]
    );
    let said = one(&small, "3.ubr");
    assert_eq!(
        rules(&said),
        [("type-test-reference-missing", Severity::Error)]
    );
    let outcome = check(&[small.path().join("3.ubr")]);
    let finding = outcome
        .findings
        .iter()
        .find(|finding| finding.rule.name == "type-test-reference-missing")
        .expect("it was found above");
    assert_eq!(
        finding.help.as_deref(),
        Some("write: lot K unit 3 of 3 type-tested K-1")
    );
    // What is pending never fails a check.
    stagebook(small.path(), &["check", "2.ubr", "1.ubr"]).expect(0);
    stagebook(small.path(), &["check", "3.ubr"]).expect(1);
}

#[test]
fn no_reference_is_asked_of_a_first_unit_or_without_a_lot_or_without_type_tests() {
    let small = lot(&[
        (
            "1.ubr",
            tested("K-1", "K unit 1 of 1", "5") + TYPE_TESTS + LEFT,
        ),
        ("2.ubr", tested("K-2", "L", "5") + TYPE_TESTS + LEFT),
        (
            "3.ubr",
            tested("K-3", "X", "5").replace("  lot X\n", "") + TYPE_TESTS + LEFT,
        ),
    ]);
    for name in ["1.ubr", "2.ubr", "3.ubr"] {
        assert_eq!(one(&small, name), [], "{name}");
    }
    let plain = "plan p rev A\n\nrole quality\n\nstage tests\n  reading loss : power\n  hold H1 \"T\" by quality\n";
    let small = Small::new(&[plain]);
    small.write(
        "2.ubr",
        "unit K-2\n  plan p\n  lot K unit 2 of 2\nstage tests\n  loss = 1 kW\n  release H1 by A.Bee on 2026-03-01\n",
    );
    assert_eq!(one(&small, "2.ubr"), []);
}

#[test]
fn open_type_tests_are_named_and_stop_a_unit_that_leaves() {
    let later = tested("K-2", "K unit 2 of 2 type-tested K-1", "5");
    let cases = [
        // Nothing of the stage yet; a reading of another stage that only the first unit has.
        (
            tested("K-1", "K unit 1 of 2", "5")
                .replace("  noise = 1 W\n", "")
                .replace("  release H1 by A.Bee on 2026-03-01\n", ""),
            vec![
                "stage `tests`: `noise` not recorded",
                "stage `type-tests` is not begun",
            ],
        ),
        // Recorded and failing, its hold point open.
        (
            tested("K-1", "K unit 1 of 2", "5") + "stage type-tests\n  rise = 65 K\n",
            vec!["stage `type-tests`: rise failing, H2 open"],
        ),
        (
            tested("K-1", "K unit 1 of 2", "5") + "stage type-tests\n  rise = 55 K\n",
            vec!["stage `type-tests`: H2 open"],
        ),
    ];
    for (first, wanted) in cases {
        let small = lot(&[("1.ubr", first), ("2.ubr", later.clone())]);
        let said = one(&small, "2.ubr");
        assert_eq!(rules(&said), [("type-tests-open", Severity::Pending)]);
        for part in wanted {
            assert!(said[0].2.contains(part), "{}", said[0].2);
        }
        small.write("2.ubr", later.clone() + LEFT);
        let said = one(&small, "2.ubr");
        assert_eq!(rules(&said), [("type-tests-open", Severity::Error)]);
    }
}

#[test]
fn what_is_open_of_other_stages_is_no_type_test() {
    let small = lot(&[
        (
            "1.ubr",
            tested("K-1", "K unit 1 of 2", "5").replace("  loss = 5 kW\n", "") + TYPE_TESTS,
        ),
        (
            "2.ubr",
            tested("K-2", "K unit 2 of 2 type-tested K-1", "5") + LEFT,
        ),
    ]);
    assert_eq!(one(&small, "2.ubr"), []);
}

#[test]
fn a_reference_that_cannot_be_right_is_an_error_at_once() {
    let other_plan = PLAN.replace("plan p rev A", "plan q rev A");
    let cases = [
        // Itself; a later unit; one of another lot; one without a lot; one of another plan.
        ("K-3", "unit 3 of its lot, on which they are not"),
        ("K-2", "unit 2 of its lot, on which they are not"),
        ("M-1", "found M-1 of lot M"),
        ("N-1", "found N-1 of no lot"),
        ("Q-1", "found Q-1 built to `q`"),
    ];
    for (serial, wanted) in cases {
        let small = Small::new(&[PLAN, &other_plan]);
        let complete = |serial: &str, lot: &str| tested(serial, lot, "5") + TYPE_TESTS;
        small.write("1.ubr", complete("K-1", "K unit 1 of 3"));
        small.write("2.ubr", tested("K-2", "K unit 2 of 3 type-tested K-1", "5"));
        small.write("m.ubr", complete("M-1", "M unit 1 of 1"));
        small.write(
            "n.ubr",
            complete("N-1", "N unit 1 of 1").replace("  lot N unit 1 of 1\n", ""),
        );
        if serial == "Q-1" {
            small.write(
                "q.ubr",
                complete("Q-1", "K unit 1 of 3").replace("plan p", "plan q"),
            );
        }
        small.write(
            "3.ubr",
            tested("K-3", &format!("K unit 3 of 3 type-tested {serial}"), "5"),
        );
        let said = one(&small, "3.ubr");
        assert_eq!(
            rules(&said),
            [("type-test-reference-wrong", Severity::Error)],
            "{serial}"
        );
        assert!(said[0].2.contains(wanted), "{}", said[0].2);
    }
    // The first unit names another; naming itself says what is so.
    let small = lot(&[
        (
            "1.ubr",
            tested("K-1", "K unit 1 of 2 type-tested K-2", "5") + TYPE_TESTS,
        ),
        (
            "m.ubr",
            tested("M-1", "M unit 1 of 2 type-tested M-1", "5") + TYPE_TESTS,
        ),
    ]);
    assert_eq!(
        rules(&one(&small, "1.ubr")),
        [("type-test-reference-wrong", Severity::Error)]
    );
    assert_eq!(one(&small, "m.ubr"), []);
}

#[test]
fn a_named_unit_whose_record_is_not_at_hand_is_worth_a_note() {
    let small = lot(&[(
        "2.ubr",
        tested("K-2", "K unit 2 of 2 type-tested K-1", "5") + LEFT,
    )]);
    let said = one(&small, "2.ubr");
    assert_eq!(
        rules(&said),
        [("type-tested-unit-not-at-hand", Severity::Note)]
    );
    stagebook(small.path(), &["check", "2.ubr"]).expect(0);
    // A record that names no plan cannot be judged, and says so itself when it is checked.
    small.write("1.ubr", "unit K-1\n  lot K unit 1 of 2\n");
    let said = one(&small, "2.ubr");
    assert_eq!(
        rules(&said),
        [("type-tested-unit-not-at-hand", Severity::Note)]
    );
    assert!(
        said[0].2.ends_with("found one that cannot be judged"),
        "{}",
        said[0].2
    );
}

#[test]
fn a_lot_without_a_type_tested_unit_is_told_once() {
    let of_the_lot = |small: &Small| -> Vec<(String, Severity)> {
        found(&[small.path().to_owned()])
            .into_iter()
            .filter(|found| found.rule == "lot-without-type-test")
            .map(|found| {
                let name = Path::new(&found.path)
                    .file_name()
                    .map(|name| name.to_string_lossy().into_owned());
                (name.unwrap_or_default(), found.severity)
            })
            .collect()
    };
    let small = lot(&[
        ("2.ubr", tested("K-2", "K unit 2 of 4", "5")),
        ("3.ubr", tested("K-3", "K unit 3 of 4", "5")),
        ("4.ubr", tested("K-4", "K unit 4 of 4", "5")),
    ]);
    assert_eq!(of_the_lot(&small), [("2.ubr".to_owned(), Severity::Note)]);
    // Whichever of its records is checked.
    let alone: Vec<Found> = found(&[small.path().join("4.ubr")])
        .into_iter()
        .filter(|found| found.rule == "lot-without-type-test")
        .collect();
    assert_eq!(alone.len(), 1);
    assert!(
        alone[0].path.ends_with("2.ubr") && alone[0].message.contains("its 3 records"),
        "{alone:?}"
    );
    small.write("3.ubr", tested("K-3", "K unit 3 of 4", "5") + LEFT);
    assert_eq!(of_the_lot(&small), [("2.ubr".to_owned(), Severity::Error)]);
    // Unit 1 is there, its type tests open, and a unit that names none has left.
    small.write("1.ubr", tested("K-1", "K unit 1 of 4", "5"));
    assert_eq!(of_the_lot(&small), [("1.ubr".to_owned(), Severity::Error)]);
    small.write("1.ubr", tested("K-1", "K unit 1 of 4", "5") + TYPE_TESTS);
    assert_eq!(of_the_lot(&small), []);
    // Units that name a unit from elsewhere are answered for one by one.
    let small = lot(&[
        (
            "2.ubr",
            tested("K-2", "K unit 2 of 3 type-tested K-1", "5") + LEFT,
        ),
        (
            "3.ubr",
            tested("K-3", "K unit 3 of 3 type-tested K-1", "5") + LEFT,
        ),
    ]);
    assert_eq!(of_the_lot(&small), []);
}

// ---------------------------------------------------------------- numbers

#[test]
fn numbers_of_a_lot_must_agree() {
    let unit = |serial: &str, lot: &str| tested(serial, lot, "5");
    let small = lot(&[
        ("1.ubr", unit("K-1", "K unit 1 of 3") + TYPE_TESTS),
        ("2.ubr", unit("K-2", "K unit 2 of 3 type-tested K-1")),
        ("3.ubr", unit("K-3", "K unit 3 of 3 type-tested K-1")),
    ]);
    for name in ["1.ubr", "2.ubr", "3.ubr"] {
        assert_eq!(one(&small, name), [], "{name}");
    }
    let cases = [
        (
            "K-4",
            "K unit 4 of 3 type-tested K-1",
            "a unit from 1 to 3 of 3, found unit 4 of 3",
        ),
        (
            "K-4",
            "K unit 4 of 4 type-tested K-1",
            "to have 3 units, as most of its records say, found 4",
        ),
        (
            "K-4",
            "K unit 3 of 3 type-tested K-1",
            "one unit 3 of lot K, found K-4 and K-3",
        ),
        (
            "K-0",
            "K unit 0 of 3 type-tested K-1",
            "a unit from 1 to 3 of 3, found unit 0 of 3",
        ),
    ];
    for (serial, line, wanted) in cases {
        small.write("4.ubr", unit(serial, line));
        let said = one(&small, "4.ubr");
        assert_eq!(
            rules(&said),
            [("lot-numbers-disagree", Severity::Error)],
            "{line}"
        );
        assert!(said[0].2.contains(wanted), "{}", said[0].2);
        // Only what is contradicted is told of: the third unit where its number is given twice.
        let others = one(&small, "3.ubr").len();
        assert_eq!(others, usize::from(line.contains("unit 3")), "{line}");
    }
    small.write("4.ubr", unit("K-2", "K unit 2 of 3 type-tested K-1"));
    assert_eq!(
        rules(&one(&small, "4.ubr")),
        [("duplicate-serial", Severity::Error)]
    );
    assert_eq!(
        rules(&one(&small, "2.ubr")),
        [("duplicate-serial", Severity::Error)]
    );
}

// ---------------------------------------------------------------- comparison

/// Units of one lot with these losses, in kW; the last is the one that is asked of.
fn losses(values: &[&str]) -> Small {
    let units: Vec<(String, String)> = values
        .iter()
        .enumerate()
        .map(|(index, loss)| {
            let number = index + 1;
            let reference = if number == 1 { "" } else { " type-tested K-1" };
            let line = format!("K unit {number} of {}{reference}", values.len());
            let types = if number == 1 { TYPE_TESTS } else { "" };
            (
                format!("{number}.ubr"),
                tested(&format!("K-{number}"), &line, loss) + types,
            )
        })
        .collect();
    let named: Vec<(&str, String)> = units
        .iter()
        .map(|(name, text)| (&**name, text.clone()))
        .collect();
    lot(&named)
}

#[test]
fn a_unit_is_compared_from_three_sisters_up() {
    assert_eq!(one(&losses(&["5.00", "5.01", "9.00"]), "3.ubr"), []);
    let small = losses(&["5.00", "5.01", "4.99", "9.00"]);
    let said = one(&small, "4.ubr");
    assert_eq!(rules(&said), [("apart-from-sisters", Severity::Warning)]);
    // Median 5 kW, deviations 0, 0.01, 0.01; floor 1 % = 0.05 kW; 4 / 0.05 = 80.
    assert_eq!(
        said[0].2,
        "expected loss to be like that of its 3 sister units, 5 kW in the middle, found 9.00 kW, 4 kW above: 80 times their scatter"
    );
    // The sisters of the others include the one that is off: the median takes no notice of it.
    for name in ["1.ubr", "2.ubr", "3.ubr"] {
        assert_eq!(one(&small, name), [], "{name}");
    }
    stagebook(small.path(), &["check", "."]).expect(0);
}

#[test]
fn the_floor_holds_where_sisters_are_alike() {
    // Three equal sisters: the deviation is nothing, the floor 1 % of 5 kW, so 3.5 times that are 0.175 kW.
    assert_eq!(one(&losses(&["5.00", "5.00", "5.00", "5.17"]), "4.ubr"), []);
    assert_eq!(
        one(&losses(&["5.00", "5.00", "5.00", "5.18"]), "4.ubr").len(),
        1
    );
    assert_eq!(
        one(&losses(&["5.00", "5.00", "5.00", "4.82"]), "4.ubr").len(),
        1
    );
    // Where the sisters scatter it is their scatter that counts: MAD 0.1, scatter 0.148, bound 0.519.
    assert_eq!(one(&losses(&["4.90", "5.00", "5.10", "5.51"]), "4.ubr"), []);
    assert_eq!(
        one(&losses(&["4.90", "5.00", "5.10", "5.52"]), "4.ubr").len(),
        1
    );
    // A coarse last digit hides as much as a floor: one step is 1 kW.
    assert_eq!(one(&losses(&["5", "5", "5", "8"]), "4.ubr"), []);
    assert_eq!(one(&losses(&["5", "5", "5", "9"]), "4.ubr").len(), 1);
}

#[test]
fn the_worst_instance_stands_for_the_others_of_its_name() {
    let small = losses(&["5.00", "5.00", "5.00", "5.00"]);
    let text = std::fs::read_to_string(small.path().join("4.ubr")).expect("it was written above");
    small.write(
        "4.ubr",
        text.replace("resistance[U] = 2.000", "resistance[U] = 2.200")
            .replace("resistance[V] = 2.000", "resistance[V] = 2.300"),
    );
    let said = one(&small, "4.ubr");
    assert_eq!(rules(&said), [("apart-from-sisters", Severity::Warning)]);
    assert!(
        said[0].2.starts_with("expected resistance[V] to be"),
        "{}",
        said[0].2
    );
    let outcome = check(&[small.path().join("4.ubr")]);
    let finding = outcome
        .findings
        .iter()
        .find(|finding| finding.rule.name == "apart-from-sisters")
        .expect("it was found above");
    let reasoning = finding.reasoning.as_ref().expect("it is reasoned");
    assert_eq!(reasoning.also.as_deref(), Some("resistance[U]"));
    let inputs: Vec<(&str, &str)> = reasoning
        .inputs
        .iter()
        .map(|input| (&*input.name, &*input.value))
        .collect();
    assert_eq!(
        inputs,
        [
            ("resistance[V] of K-4", "2.300 ohm"),
            ("resistance[V] of K-1", "2.000 ohm"),
            ("resistance[V] of K-2", "2.000 ohm"),
            ("resistance[V] of K-3", "2.000 ohm"),
        ]
    );
    // Beside its own limit, in the unit of the reading.
    assert!(
        reasoning
            .steps
            .iter()
            .any(|step| step == "its own limit in the plan: 1 .. 3 ohm"),
        "{:?}",
        reasoning.steps
    );
}

#[test]
fn only_units_of_the_same_lot_and_plan_are_sisters() {
    let alike = ["5.00", "5.00", "5.00", "9.00"];
    let small = losses(&alike);
    let text = |name: &str| {
        std::fs::read_to_string(small.path().join(name)).expect("it was written above")
    };
    let third = text("3.ubr");
    small.write("3.ubr", third.replace("lot K unit 3", "lot M unit 3"));
    assert!(
        !one(&small, "4.ubr")
            .iter()
            .any(|(rule, ..)| rule == "apart-from-sisters")
    );
    let small = Small::new(&[PLAN, &PLAN.replace("plan p rev A", "plan q rev A")]);
    for (index, loss) in alike.iter().enumerate() {
        let number = index + 1;
        let plan = if number == 3 { "plan q" } else { "plan p" };
        let unit = tested(
            &format!("K-{number}"),
            &format!("K unit {number} of 4 type-tested K-1"),
            loss,
        );
        small.write(&format!("{number}.ubr"), unit.replace("plan p", plan));
    }
    assert!(
        !one(&small, "4.ubr")
            .iter()
            .any(|(rule, ..)| rule == "apart-from-sisters")
    );
}

/// Checks four units of a plan with one `compare` below one reading: whether the last stands apart.
fn apart(plan: &str, values: [&str; 4]) -> bool {
    let small = Small::new(&[plan]);
    for (index, value) in values.iter().enumerate() {
        let unit = format!("unit K-{index}\n  plan p\n  lot K\nstage s\n  {value}\n");
        small.write(&format!("{index}.ubr"), unit);
    }
    let last = one(&small, "3.ubr");
    assert!(
        last.iter().all(|(rule, ..)| rule == "apart-from-sisters"),
        "{last:?}"
    );
    !last.is_empty()
}

#[test]
fn threshold_and_floor_are_the_plans() {
    let plan = |reading: &str, compare: &str| {
        format!(
            "plan p\n\nrole quality\n\nstage s\n  reading {reading}\n    {compare}\n  hold H1 \"H\" by quality\n"
        )
    };
    let loss = |compare: &str, last: &str| {
        let last = format!("x = {last} W");
        apart(
            &plan("x : power", compare),
            ["x = 100.00 W", "x = 100.00 W", "x = 100.00 W", &last],
        )
    };
    // 0.5 % of 100 W by 3.5 times is 1.75 W.
    assert!(!loss("compare", "101.75") && loss("compare", "101.76"));
    assert!(!loss("compare beyond 6", "103.00") && loss("compare beyond 6", "103.01"));
    assert!(!loss("compare floor 2 W", "107.00") && loss("compare floor 2 W", "92.99"));
    assert!(!loss("compare beyond 2 floor 1 % of median", "102.00"));
    assert!(loss("compare beyond 2 floor 1 % of median", "102.01"));
    // Two lines: one that is passed is enough.
    assert!(loss("compare beyond 6\n    compare beyond 3", "102.00"));
    // A temperature and a level have no share: their floor is a difference.
    let warm = |last: &str| {
        let last = format!("x = {last} °C");
        apart(
            &plan("x : temperature", "compare floor 1 K"),
            ["x = 60.0 °C", "x = 60.0 °C", "x = 60.0 °C", &last],
        )
    };
    assert!(!warm("63.5") && warm("63.6") && warm("56.4"));
    let loud = |last: &str| {
        let last = format!("x = {last} dB(A)");
        apart(
            &plan("x : sound-level", "compare floor 1 dB"),
            ["x = 62.0 dB(A)", "x = 62.0 dB(A)", "x = 62.0 dB(A)", &last],
        )
    };
    assert!(!loud("65.5") && loud("65.6"));
}

#[test]
fn a_calculated_value_is_compared_at_its_reference() {
    let plan = "plan p\n\nrole quality\n\nstage s\n  reading r : resistance given temperature\n  calc r-75 = resistance-at(r, r.temperature, 75 °C, \"copper\")\n    compare\n  hold H1 \"H\" by quality\n";
    // The same winding at 20, 25, 30 and 40 °C: 255, 260, 265 and 275 parts.
    let alike = [
        "r = 2.550 ohm at 20 °C",
        "r = 2.600 ohm at 25 °C",
        "r = 2.650 ohm at 30 °C",
    ];
    let [a, b, c] = alike;
    assert!(!apart(plan, [a, b, c, "r = 2.750 ohm at 40 °C"]));
    assert!(apart(plan, [a, b, c, "r = 2.550 ohm at 40 °C"]));
    // Nothing is compared where the temperature is not known.
    assert!(!apart(plan, [a, b, c, "r = ?"]));
}

#[test]
fn a_plan_may_be_told_closer_or_wider() {
    let base = "plan base\n\nrole quality\n\nstage s\n  reading x : power\n    compare\n  hold H1 \"H\" by quality\n";
    let own = |change: &str| {
        let plan = format!("plan p extends base\n{change}");
        let small = Small::new(&[base, &plan]);
        for (index, value) in ["100.00", "100.00", "100.00", "102.00"].iter().enumerate() {
            let unit = format!("unit K-{index}\n  plan p\n  lot K\nstage s\n  x = {value} W\n");
            small.write(&format!("{index}.ubr"), unit);
        }
        !one(&small, "3.ubr").is_empty()
    };
    assert!(own("\nset phase = U V W\n"));
    assert!(!own(
        "\nrelax s.x because \"cores of two makers\"\n  compare floor 2 % of median\n"
    ));
    // Tightening adds a line and never loosens.
    assert!(own("\ntighten s.x\n  compare floor 2 % of median\n"));
}

#[test]
fn what_cannot_be_compared_is_told_with_the_plan() {
    let fault = |reading: &str, compare: &str| -> Vec<(String, String)> {
        let plan = format!(
            "plan p\n\nrole quality\n\nstage s\n  reading {reading}\n    {compare}\n  hold H1 \"H\" by quality\n"
        );
        let small = Small::unchecked(&[&plan]);
        in_short(&check(&[small.path().to_owned()]))
            .into_iter()
            .map(|found| (found.rule, found.message))
            .collect()
    };
    let cases = [
        ("x : text", "compare", "wrong-kind", "found it below a text"),
        (
            "x : yes-no",
            "compare",
            "wrong-kind",
            "found it below yes or no",
        ),
        (
            "x : temperature",
            "compare",
            "wrong-kind",
            "expected `floor`",
        ),
        (
            "x : sound-level",
            "compare",
            "wrong-kind",
            "expected `floor`",
        ),
        (
            "x : power",
            "compare floor 0 W",
            "wrong-kind",
            "found `0 W`",
        ),
        ("x : power", "compare beyond 0", "wrong-kind", "found 0"),
        (
            "x : power",
            "compare floor 2 mm",
            "dimension-mismatch",
            "found `2 mm`",
        ),
        (
            "x : power",
            "compare floor 2 W of median",
            "dimension-mismatch",
            "a share of the median",
        ),
        (
            "x : temperature",
            "compare floor 1 °C",
            "dimension-mismatch",
            "in K",
        ),
        (
            "x : power",
            "compare floor 5 furlongs",
            "unknown-unit",
            "furlongs",
        ),
        (
            "x : power",
            "compare floor",
            "unexpected-text",
            "the least scatter",
        ),
        (
            "x : power",
            "compare beyond",
            "unexpected-text",
            "how many times",
        ),
    ];
    for (reading, compare, rule, wanted) in cases {
        let found = fault(reading, compare);
        assert!(
            found.len() == 1 && found[0].0 == rule && found[0].1.contains(wanted),
            "{reading}, {compare}: {found:#?}"
        );
    }
    // Below a check there is nothing to compare.
    let check = "plan p\n\nrole quality\n\nstage s\n  reading x : power\n  check c \"C\"\n    require x > 1 W\n    source physics\n    compare\n  hold H1 \"H\" by quality\n";
    let small = Small::unchecked(&[check]);
    let rules: Vec<String> = in_short(&common::check(&[small.path().to_owned()]))
        .into_iter()
        .map(|found| found.rule)
        .collect();
    assert_eq!(rules, ["misplaced-statement"]);
}

// ---------------------------------------------------------------- where sisters are looked for

#[test]
fn sisters_lie_in_one_folder_or_in_folders_beside_each_other() {
    let first = tested("K-1", "K unit 1 of 2", "5") + TYPE_TESTS;
    let second = tested("K-2", "K unit 2 of 2 type-tested K-1", "5") + LEFT;
    let state = |first_at: &str, second_at: &str| -> Vec<String> {
        let small = Small::new(&[PLAN]);
        small.write(first_at, &first);
        small.write(second_at, &second);
        one(&small, second_at)
            .into_iter()
            .map(|(rule, ..)| rule)
            .collect()
    };
    let missing = ["type-tested-unit-not-at-hand"];
    assert!(state("units/1.ubr", "units/2.ubr").is_empty());
    assert!(state("units/K-1/record.ubr", "units/K-2/record.ubr").is_empty());
    assert!(state("1.ubr", "units/2.ubr").is_empty());
    assert!(state("units/1.ubr", "2.ubr").is_empty());
    assert_eq!(state("2025/units/1.ubr", "2026/units/2.ubr"), missing);
    // Nothing above the works is looked at: here the plan stands in the record's own folder.
    let small = Small::new(&[]);
    small.write("other/1.ubr", &first);
    small.write("works/plan.ubr", PLAN);
    small.write("works/2.ubr", &second);
    let rules: Vec<String> = found(&[small.path().join("works/2.ubr")])
        .into_iter()
        .map(|found| found.rule)
        .collect();
    assert_eq!(rules, missing);
}

#[test]
fn a_sister_beside_is_looked_at_and_not_told_of() {
    let small = losses(&["5.00", "5.01", "4.99", "9.00"]);
    let text = std::fs::read_to_string(small.path().join("2.ubr")).expect("it was written above");
    // Faults of its own: an unknown name, a broken line, a failing limit, an `accept` that hits nothing.
    small.write(
        "2.ubr",
        text + "  nonsense = 5\n  resistance[ = \n  resistance[Q] = 9 ohm\n",
    );
    let path = small.path().join("4.ubr");
    let outcome = check(std::slice::from_ref(&path));
    let elsewhere: Vec<Found> = in_short(&outcome)
        .into_iter()
        .filter(|found| found.path != path.to_string_lossy())
        .collect();
    assert_eq!(elsewhere, []);
    assert_eq!(outcome.units.len(), 1);
    assert_eq!(outcome.documents, 1);
    assert_eq!(one(&small, "4.ubr").len(), 1);
}

#[test]
fn any_bytes_may_lie_beside_a_record() {
    let small = losses(&["5.00", "5.01", "4.99", "5.00"]);
    small.write("a.ubr", [0xff_u8, 0xfe, 0, b'u', b'n', b'i', b't']);
    small.write("b.ubr", "");
    small.write("c.ubr", "unit\n  lot\n");
    small.write(
        "d.ubr",
        "unit \"K-9\n  lot K unit 99999999999999999999 of 2\n",
    );
    small.write(
        "e.ubr",
        format!("unit K-8\n  lot K\n{}", "  note \"x\"\n".repeat(10_000)),
    );
    small.write("f.ubr/unit.ubr", "unit K-7\n  lot K unit 9 of 4\n");
    for name in ["1.ubr", "4.ubr"] {
        check(&[small.path().join(name)]);
    }
    check(&[small.path().to_owned()]);
}

#[test]
fn standard_input_is_compared_as_if_it_stood_in_its_folder() {
    let small = losses(&["5.00", "5.01", "4.99", "5.00"]);
    let text = std::fs::read_to_string(small.path().join("4.ubr")).expect("it was written above");
    let changed = text.replace("loss = 5.00", "loss = 9.00");
    let said = common::stagebook_reads(
        small.path(),
        &["check", "--as", "json", "--name", "4.ubr", "-"],
        changed.as_bytes(),
    )
    .expect(0);
    let found: Vec<String> = said
        .found()
        .into_iter()
        .map(|(_, rule, _)| rule)
        .filter(|rule| rule == "apart-from-sisters" || rule == "duplicate-serial")
        .collect();
    assert_eq!(found, ["apart-from-sisters"]);
}

#[test]
fn one_file_under_two_names_is_one_record() {
    let small = losses(&["5.00", "5.01", "4.99", "5.00"]);
    let path = small.path().join("4.ubr");
    let whole = path.to_string_lossy().into_owned();
    let said = stagebook(small.path(), &["check", "--as", "json", "4.ubr", &whole]).expect(0);
    assert!(
        !said
            .found()
            .iter()
            .any(|(_, rule, _)| rule == "duplicate-serial"),
        "{}",
        said.out
    );
}

#[test]
fn a_large_lot_is_compared_whole() {
    let small = Small::new(&[PLAN]);
    let count = 300;
    for number in 1..=count {
        let reference = if number == 1 { "" } else { " type-tested K-1" };
        let line = format!("K unit {number} of {count}{reference}");
        let loss = if number == 200 {
            "6.00".to_owned()
        } else {
            format!("5.0{}", number % 10)
        };
        let types = if number == 1 { TYPE_TESTS } else { "" };
        small.write(
            &format!("units/{number}.ubr"),
            tested(&format!("K-{number}"), &line, &loss) + types,
        );
    }
    let said = found(&[small.path().join("units")]);
    assert_eq!(said.len(), 1, "{said:#?}");
    assert!(
        said[0].path.ends_with("200.ubr") && said[0].message.contains("299 sister units"),
        "{said:?}"
    );
}

// ---------------------------------------------------------------- the gate

#[test]
fn open_type_tests_of_the_lot_stop_the_last_gate_only() {
    let small = lot(&[
        ("1.ubr", tested("K-1", "K unit 1 of 2", "5")),
        (
            "2.ubr",
            tested("K-2", "K unit 2 of 2 type-tested K-1", "5")
                + "stage dispatch\n  weight = 5 t\n",
        ),
    ]);
    let stops = |stage: &str| {
        let said = stagebook(small.path(), &["release", stage, "2.ubr"]);
        said.out
            .contains("expected the type tests on K-1 to be complete")
    };
    assert!(!stops("tests"));
    assert!(stops("dispatch"));
    small.write("1.ubr", tested("K-1", "K unit 1 of 2", "5") + TYPE_TESTS);
    assert!(!stops("dispatch"));
}

#[test]
fn who_has_looked_accepts_that_a_unit_stands_apart() {
    let small = losses(&["5.00", "5.01", "4.99", "9.00"]);
    let text = std::fs::read_to_string(small.path().join("4.ubr")).expect("it was written above");
    let accept = "  accept apart-from-sisters because \"steel of another maker\" by A.Bee on 2026-03-02\n  loss = 9.00";
    small.write("4.ubr", text.replace("  loss = 9.00", accept));
    let outcome = check(&[small.path().join("4.ubr")]);
    let apart: Vec<_> = outcome
        .findings
        .iter()
        .filter(|finding| finding.rule.name == "apart-from-sisters")
        .collect();
    assert!(
        apart.len() == 1 && apart[0].accepted.is_some(),
        "{apart:#?}"
    );
    // Beside another record its `accept` line is neither missed nor unused.
    let rules: Vec<String> = in_short(&check(&[small.path().join("1.ubr")]))
        .into_iter()
        .filter(|found| found.path.ends_with("4.ubr"))
        .map(|found| found.rule)
        .collect();
    assert_eq!(rules, [""; 0]);
}
