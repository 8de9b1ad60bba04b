//! `stagebook fix`: faults of notation mended in files, and never a value.

mod common;

use std::path::Path;

use common::{Said, stagebook, works};
use proptest::prelude::*;
use stagebook::finding::Finding;
use stagebook::workspace::notation::is_notation;
use stagebook::workspace::{Input, Options, Silent, check, mend};
use tempfile::TempDir;

const PLAN: &str = r#"plan p rev A
set phase = U V
set tap = 1 2
role quality
design
  may rated-power : apparent-power
stage tests "Tests"
  reading loss : power
    limit <= 3 kW
    source common-practice
  reading height : length given temperature
  reading resistance[phase] : resistance
    limit 1 ohm .. 3 ohm
    source common-practice
  reading ratio[tap, phase] : ratio
  hold H1 "Tests" by quality
"#;
const REGISTER: &str = r#"register r
person A.Bee "Anna"
  roles quality
instrument MI-1 "meter"
  measures power, resistance, ratio, length
  range 0 kW .. 10 kW
  calibrated 2026-01-12 due 2027-01-12 certificate "C-1"
"#;
const HEAD: &str = "unit T-1\n  plan p rev A\n  register r\n";

/// A works in which one record is to be mended.
fn small(record: &str) -> TempDir {
    let folder = TempDir::new().expect("a temporary folder can be made");
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("it can be written");
    };
    std::fs::create_dir(folder.path().join(".git")).expect("it can be made");
    write("plan.ubr", PLAN);
    write("register.ubr", REGISTER);
    write("T-1.ubr", record);
    folder
}

fn read(folder: &Path, name: &str) -> String {
    String::from_utf8(std::fs::read(folder.join(name)).expect("it is there")).expect("it is text")
}

fn fix(folder: &Path, arguments: &[&str]) -> Said {
    let all = [&["fix"], arguments].concat();
    stagebook(folder, &all)
}

fn notation(folder: &Path) -> Vec<Finding> {
    let outcome = check(
        &[Input::Path(folder.to_owned())],
        &Options::default(),
        &Silent,
    );
    let findings = outcome.expect("it can be checked").findings;
    findings.into_iter().filter(is_notation).collect()
}

#[track_caller]
fn is_mended(rule: &str, wrong: &str, right: &str, faults: usize) {
    let before = format!("{HEAD}stage tests\n  on 2026-02-01 by A.Bee with MI-1\n{wrong}");
    let after = format!("{HEAD}stage tests\n  on 2026-02-01 by A.Bee with MI-1\n{right}");
    let folder = small(&before);
    let found = notation(folder.path());
    assert!(found.iter().any(|own| own.rule.name == rule), "{rule}");
    let said = fix(folder.path(), &["T-1.ubr"]).expect(0);
    let word = if faults == 1 { "fault" } else { "faults" };
    assert_eq!(
        said.out,
        format!("{faults} {word} of notation mended in T-1.ubr\n")
    );
    assert_eq!(read(folder.path(), "T-1.ubr"), after, "{rule}");
    assert!(notation(folder.path()).is_empty());
    let again = fix(folder.path(), &["T-1.ubr"]).expect(0);
    assert_eq!(again.out, "no fault of notation in 1 document\n");
}

#[test]
fn each_rule_before_and_after() {
    is_mended("unit-space-missing", "  loss = 2kW\n", "  loss = 2 kW\n", 1);
    // A name until the plan says that it is an amount.
    is_mended(
        "unit-space-missing",
        "  height = 3mm at 20.5°C\n",
        "  height = 3 mm at 20.5 °C\n",
        2,
    );
    is_mended("decimal-comma", "  loss = 2,5 kW\n", "  loss = 2.5 kW\n", 1);
    is_mended("decimal-comma", "  loss = 2,5kW\n", "  loss = 2.5 kW\n", 2);
    is_mended(
        "decimal-comma",
        "  table resistance(ohm)\n    U    V\n    1,5  2,25\n",
        "  table resistance(ohm)\n    U    V\n    1.5  2.25\n",
        2,
    );
    is_mended(
        "tab-indentation",
        "\tloss = 2 kW # a\ttab\n\t# one more\n",
        "  loss = 2 kW # a\ttab\n  # one more\n",
        2,
    );
    is_mended(
        "lone-carriage-return",
        "  loss = 2 kW\r  height = ?\r",
        "  loss = 2 kW\n  height = ?\n",
        2,
    );
}

#[test]
fn a_byte_order_mark_goes_and_line_ends_stay() {
    let text = format!("\u{feff}{HEAD}stage tests\n  loss = 2 kW\n").replace('\n', "\r\n");
    let folder = small(&text);
    fix(folder.path(), &["T-1.ubr"]).expect(0);
    assert_eq!(
        read(folder.path(), "T-1.ubr"),
        text.trim_start_matches('\u{feff}')
    );
}

#[test]
fn plans_and_registers_are_mended_too() {
    let folder = small(&format!("{HEAD}stage tests\n  loss = 2 kW\n"));
    let write = |name: &str, text: String| {
        std::fs::write(folder.path().join(name), text).expect("it can be written");
    };
    write("plan.ubr", PLAN.replace("<= 3 kW", "<= 3kW"));
    write("register.ubr", REGISTER.replace("10 kW", "10,5 kW"));
    let said = fix(folder.path(), &["."]).expect(0);
    assert_eq!(
        said.out,
        "1 fault of notation mended in ./plan.ubr\n1 fault of notation mended in ./register.ubr\n"
            .replace("./", "")
    );
    assert_eq!(read(folder.path(), "plan.ubr"), PLAN);
    assert!(read(folder.path(), "register.ubr").contains("10.5 kW"));
}

#[test]
fn with_diff_nothing_is_written() {
    let text = format!("{HEAD}stage tests\n\tloss = 2,5 kW\n");
    let folder = small(&text);
    let said = fix(folder.path(), &["--diff", "."]).expect(1);
    assert!(
        said.out.contains("-\tloss = 2,5 kW\n+  loss = 2.5 kW\n"),
        "{}",
        said.out
    );
    assert!(
        said.out
            .ends_with("2 faults of notation to be mended in T-1.ubr\n")
    );
    assert_eq!(read(folder.path(), "T-1.ubr"), text);
}

#[test]
fn what_is_no_fault_of_notation_stays() {
    // A unit and a name that are nearest to others, and a reading out of its limit.
    let text = format!("{HEAD}stage tests\n  los = 2 kW\n  loss = 4 kw\n  resistance[U] = 9 ohm\n");
    let folder = small(&text);
    fix(folder.path(), &["."]).expect(0);
    assert_eq!(read(folder.path(), "T-1.ubr"), text);
}

#[test]
fn a_line_that_would_read_otherwise_is_left_and_told() {
    // The header has three columns: with a blank more, the cells would be three.
    let text =
        format!("{HEAD}stage tests\n  loss = 2,5 kW\n  table ratio\n    tap U V\n    1 3.5%\n");
    let folder = small(&text);
    let said = fix(folder.path(), &["."]).expect(1);
    assert!(said.out.contains("1 fault of notation mended in T-1.ubr"));
    assert!(
        said.out
            .contains("1 fault of notation left in T-1.ubr: written otherwise")
    );
    assert_eq!(read(folder.path(), "T-1.ubr"), text.replace("2,5", "2.5"));
}

#[test]
fn work_that_goes_on_beside_seals_is_mended() {
    let folder = TempDir::new().expect("a temporary folder can be made");
    let record = std::fs::read_to_string(works().join("units/KFT-0415-1.ubr"));
    let record = record.expect("part of the project");
    let sealed = record.replace("oxygen-at-entry  = 20.8 %", "oxygen-at-entry  = 20,8 %");
    let text = format!("{sealed}  insulation-60s[HV-to-rest] = 4,2 Gohm at 5 kV\n");
    std::fs::write(folder.path().join("U.ubr"), &text).expect("it can be written");
    let said = fix(folder.path(), &["."]);
    assert!(
        said.out.contains("1 fault of notation mended in U.ubr"),
        "{}",
        said.out
    );
    assert_eq!(read(folder.path(), "U.ubr"), text.replace("4,2 G", "4.2 G"));
}

#[test]
fn a_sealed_record_stays_as_it_is() {
    let folder = TempDir::new().expect("a temporary folder can be made");
    let sealed = std::fs::read_to_string(works().join("units/KFT-0412-1.ubr"));
    let text = sealed
        .expect("part of the project")
        .replace("oxygen-at-entry  = 20.8 %", "oxygen-at-entry  = 20,8 %");
    let path = folder.path().join("KFT-0412-1.ubr");
    std::fs::write(&path, &text).expect("it can be written");
    let said = fix(folder.path(), &["."]).expect(1);
    assert_eq!(
        said.out,
        "1 fault of notation left in KFT-0412-1.ubr: what is sealed keeps its notation\n"
    );
    assert_eq!(read(folder.path(), "KFT-0412-1.ubr"), text);
}

#[test]
fn what_cannot_be_read_or_written_is_told_and_left() {
    let folder = small(&format!("{HEAD}stage tests\n  loss = 2,5 kW\n"));
    for arguments in [&["no-such.ubr"][..], &["-"], &[]] {
        let said = fix(folder.path(), arguments).expect(2);
        assert!(!said.err.trim().is_empty() && said.out.is_empty());
    }
    let path = folder.path().join("T-1.ubr");
    let mut bytes = std::fs::read(&path).expect("it is there");
    bytes.extend_from_slice(b"  note \"\xff\"\n");
    std::fs::write(&path, &bytes).expect("it can be written");
    let said = fix(folder.path(), &["T-1.ubr"]).expect(2);
    assert!(
        said.err.contains("expected UTF-8 text in T-1.ubr"),
        "{}",
        said.err
    );
    assert_eq!(std::fs::read(&path).expect("it is there"), bytes);
}

/// A line of the record: right, and as somebody might write it.
fn line() -> impl Strategy<Value = (String, String)> {
    let amount = (0..9_999u32, 0..999u32, any::<bool>(), any::<bool>());
    let names = prop_oneof![
        Just(("loss", "kW")),
        Just(("loss", "W")),
        Just(("height", "mm")),
        Just(("resistance[U]", "ohm")),
        Just(("ratio[1, V]", "%")),
        Just(("design-like", "")),
    ];
    (names, amount, any::<bool>(), any::<bool>()).prop_map(
        |((name, unit), (whole, part, comma, glued), tab, hot)| {
            let tail = if hot { " at 20.5 °C" } else { "" };
            let right = format!("  {name} = {whole}.{part} {unit}{tail}\n");
            let point = if comma { ',' } else { '.' };
            let gap = if glued { "" } else { " " };
            let indent = if tab { "\t" } else { "  " };
            let tail = if comma {
                tail.replace('.', ",")
            } else {
                tail.to_owned()
            };
            (
                right,
                format!("{indent}{name} = {whole}{point}{part}{gap}{unit}{tail}\n"),
            )
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// What is mended says what was written: the record with faults comes to what the record without them is, and to
    /// the same findings but for the notation.
    #[test]
    fn mending_never_changes_a_value(lines in prop::collection::vec(line(), 1..12), row in prop::collection::vec(line(), 0..4)) {
        let text = |wrong: bool| {
            let mut text = format!("{HEAD}stage tests\n  on 2026-02-01 by A.Bee with MI-1\n");
            for (right, other) in lines.iter().chain(&row) {
                text += if wrong { other } else { right };
            }
            text
        };
        let folder = small(&text(true));
        let path = folder.path().join("T-1.ubr");
        let done = mend(std::slice::from_ref(&path), false, &Options::default(), &mut |_| {});
        let done = done.expect("it can be mended");
        prop_assert!(done.files.iter().all(|file| file.left == 0 && file.why.is_none()));
        let mended = read(folder.path(), "T-1.ubr");
        // A number without a unit may have had a blank at its end.
        let bare = |text: &str| -> Vec<String> { text.lines().map(|line| line.trim_end().replace("  at", " at")).collect() };
        prop_assert_eq!(bare(&mended), bare(&text(false)));
        prop_assert!(notation(folder.path()).is_empty());
    }

    /// Whatever stands in a file, mending leaves its content, and a second time there is nothing to do.
    #[test]
    fn any_document_is_mended_once(seed in prop::collection::vec(prop_oneof![
        Just("  loss = 2kW"), Just("\tloss = 2,5 kW"), Just("  table resistance(ohm)"), Just("    U  V"),
        Just("\t\t1,5 2kohm"), Just("stage tests"), Just("  height = 3,5mm at 20,5°C"), Just("}}? 3mm"),
        Just("  note \"3mm\t2,5 kW\""), Just("# 3mm\t2,5 kW"), Just("  amend loss = 3,5 kW was 2kW because \"x\""), Just(""),
        Just("  windings = 1U,2U"), Just("\u{feff}"), Just("\r"), Just("  loss = -2,5kW, 3"), Just("  x = 12,5,7kW"),
    ], 0..16)) {
        let text = format!("{HEAD}{}\n", seed.join("\n"));
        let folder = small(&text);
        let path = folder.path().join("T-1.ubr");
        let paths = std::slice::from_ref(&path);
        let first = mend(paths, false, &Options::default(), &mut |_| {}).expect("it can be mended");
        let changed = stagebook::workspace::Left::ValueChanged;
        prop_assert!(first.files.iter().all(|file| file.why != Some(changed)));
        let once = read(folder.path(), "T-1.ubr");
        let tree = |text: &str| stagebook::syntax::parse(text);
        prop_assert!(stagebook::workspace::notation::same_content(&tree(&text), &tree(&once)));
        let second = mend(paths, false, &Options::default(), &mut |_| {}).expect("it can be mended");
        prop_assert!(second.files.iter().all(|file| file.mended == 0));
        prop_assert_eq!(read(folder.path(), "T-1.ubr"), once);
    }
}
