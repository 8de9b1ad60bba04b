//! The works of the examples: the clean unit is clean, the planted faults are all found and nothing else
//! is, and a change of one reading in the clean unit shows.

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use common::{Found, check, in_short, works};
use stagebook::finding::{Finding, PointState, Severity, StageState};
use stagebook::workspace::{self, Input, Options, Outcome, Silent};

const CLEAN: &str = "units/KFT-0412-1.ubr";

fn clean_text() -> String {
    std::fs::read_to_string(works().join(CLEAN)).expect("the clean unit is part of the project")
}

#[test]
fn the_complete_units_have_no_finding_and_every_point_is_done() {
    for serial in ["KFT-0412-1", "KFT-0420-1"] {
        complete(serial);
    }
}

fn complete(serial: &str) {
    let outcome = check(&[works().join(format!("units/{serial}.ubr"))]);
    let found: Vec<Found> = in_short(&outcome)
        .into_iter()
        .filter(|found| found.severity != Severity::Pending)
        .collect();
    assert_eq!(found, [], "{serial}");
    assert_eq!(outcome.units.len(), 1);
    let unit = &outcome.units[0];
    assert_eq!(
        (&*unit.serial, unit.stage_reached.as_deref()),
        (serial, Some("dispatch"))
    );
    assert!(unit.counts.recorded > 500, "{:?}", unit.counts);
    // What is compared again at the site lies ahead.
    for stage in unit.stages.iter().filter(|stage| &*stage.name != "site") {
        let counts = &stage.counts;
        assert_eq!(
            counts.pending + counts.missing + counts.failing + counts.unknown,
            0,
            "{} {counts:?}",
            stage.name
        );
        assert_eq!(stage.state, StageState::Complete, "{}", stage.name);
        for point in &stage.points {
            assert_eq!(
                point.state,
                PointState::Done,
                "{} {}",
                stage.name,
                point.name
            );
        }
    }
    assert!(
        unit.stages
            .iter()
            .map(|stage| stage.points.len())
            .sum::<usize>()
            >= 15
    );
}

#[test]
fn the_unit_in_progress_has_pending_items_only() {
    let path = works().join("units/KFT-0415-1.ubr");
    let outcome = check(std::slice::from_ref(&path));
    let found = in_short(&outcome);
    assert!(
        !found.is_empty()
            && found
                .iter()
                .all(|found| found.severity == Severity::Pending),
        "{found:#?}"
    );
    let unit = &outcome.units[0];
    assert!(
        unit.counts.pending > 0 && unit.counts.missing + unit.counts.failing == 0,
        "{:?}",
        unit.counts
    );
    let path = path.to_string_lossy();
    common::stagebook(&common::project(), &["check", &path]).expect(0);
}

#[test]
fn both_units_together_are_without_error() {
    let said = common::stagebook(&works(), &["check", "units"]).expect(0);
    assert!(
        said.out.contains("KFT-0412-1") && said.out.contains("KFT-0415-1"),
        "{}",
        said.out
    );
}

/// The marks of a document: line from 1 and rule.
fn marks(text: &str) -> Vec<(usize, String)> {
    let mut marks = Vec::new();
    for (index, line) in text.lines().enumerate() {
        if let Some((_, rules)) = line.split_once("#!") {
            marks.extend(
                rules
                    .split(',')
                    .map(|rule| (index + 1, rule.trim().to_owned())),
            );
        }
    }
    marks.sort();
    marks
}

/// The documents of the folder of faults.
fn faulty() -> Vec<PathBuf> {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(works().join("faults"))
        .expect("the faults are part of the project")
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "ubr"))
        .collect();
    paths.sort();
    assert!(paths.len() >= 5);
    paths
}

#[test]
fn every_planted_fault_is_found_on_its_line_and_nothing_else_is() {
    for path in faulty() {
        let text = std::fs::read_to_string(&path).expect("a fault file is UTF-8");
        let name = path.to_string_lossy();
        let (own, others): (Vec<Found>, Vec<Found>) = in_short(&check(std::slice::from_ref(&path)))
            .into_iter()
            .filter(|found| found.severity != Severity::Pending)
            .partition(|found| found.path == name);
        let mut found: Vec<(usize, String)> = own
            .iter()
            .map(|found| (found.line, found.rule.clone()))
            .collect();
        found.sort();
        assert_eq!(found, marks(&text), "{name}\n{own:#?}");
        assert_eq!(others, [], "{name}: found in other documents");
    }
}

#[test]
fn the_planted_faults_are_of_many_kinds() {
    let rules: BTreeSet<String> = faulty()
        .iter()
        .flat_map(|path| marks(&std::fs::read_to_string(path).expect("a fault file is UTF-8")))
        .map(|(_, rule)| rule)
        .collect();
    assert!(rules.len() >= 25, "{} rules: {rules:?}", rules.len());
    for rule in &rules {
        assert!(
            stagebook::finding::catalogue::find(rule).is_some(),
            "no rule is called {rule}"
        );
    }
}

#[test]
fn the_units_with_planted_faults_give_exit_status_1() {
    common::stagebook(&works(), &["check", "faults/KFT-0413-1.ubr", "--quiet"]).expect(1);
}

#[test]
fn the_script_writes_the_same_files_again() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let script = folder.path().join("make_examples.py");
    // The script writes beside itself.
    std::fs::copy(works().join("make_examples.py"), &script)
        .expect("the script is part of the project");
    let parts = folder.path().join("making");
    std::fs::create_dir(&parts).expect("a temporary folder");
    for entry in std::fs::read_dir(works().join("making")).expect("the script has its parts") {
        let path = entry.expect("a folder of the project").path();
        if path.extension().is_some_and(|extension| extension == "py") {
            let name = path.file_name().expect("it has a name");
            std::fs::copy(&path, parts.join(name)).expect("a temporary file");
        }
    }
    let named = std::env::var_os("STAGEBOOK_PYTHON");
    let python = named.clone().unwrap_or_else(|| "python3".into());
    // What the units are sealed on stands beside the script.
    let beside = ["plan.ubr", "plan-ieee.ubr", "register.ubr"];
    for name in beside {
        std::fs::copy(works().join(name), folder.path().join(name)).expect("a temporary file");
    }
    let output = std::process::Command::new(&python)
        .arg(&script)
        .arg(env!("CARGO_BIN_EXE_stagebook"))
        .output();
    let output = match output {
        Ok(output) => output,
        Err(error) if named.is_none() => {
            println!("skipped: python3 does not start ({error}), so the script was not run");
            return;
        }
        Err(error) => panic!("STAGEBOOK_PYTHON names {python:?}, which does not start: {error}"),
    };
    assert!(
        output.status.success(),
        "{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let mut written = 0;
    for entry in ignore::WalkBuilder::new(folder.path())
        .standard_filters(false)
        .build()
    {
        let entry = entry.expect("a temporary folder can be read");
        if !entry.file_type().is_some_and(|kind| kind.is_file())
            || entry.path() == script
            || beside.iter().any(|name| entry.path().ends_with(name))
            || entry.path().starts_with(&parts)
        {
            continue;
        }
        let name = entry
            .path()
            .strip_prefix(folder.path())
            .expect("it was found below")
            .to_owned();
        let fresh = std::fs::read(entry.path()).expect("a temporary file");
        let kept = std::fs::read(works().join(&name)).unwrap_or_default();
        assert!(
            fresh == kept,
            "{} differs from what the script writes",
            name.display()
        );
        written += 1;
    }
    assert!(written >= 7, "the script wrote {written} files");
}

// ------------------------------------------------------------------------- one change in the clean unit

/// Where one recorded value stands.
#[derive(Clone, Debug)]
struct Cell {
    stage: String,
    reading: String,
    /// Line from 0.
    line: usize,
    /// Bytes of the value in its line.
    start: usize,
    end: usize,
}

/// The words of a line with the byte at which each begins; a date and its time are one.
fn words(line: &str) -> Vec<(usize, &str)> {
    let mut words: Vec<(usize, &str)> = Vec::new();
    for word in line.split_ascii_whitespace() {
        let start = word.as_ptr() as usize - line.as_ptr() as usize;
        match words.last_mut() {
            // A text between quotes is one word.
            Some((text, last))
                if last.starts_with('"') && (last.len() == 1 || !last.ends_with('"')) =>
            {
                *last = &line[*text..start + word.len()];
            }
            Some((date, last))
                if last.len() == 10 && last.starts_with("2026-") && word.contains(':') =>
            {
                *last = &line[*date..start + word.len()];
            }
            _ => words.push((start, word)),
        }
    }
    words
}

/// Words at the head of a table's columns that say which member a row is for.
const KEYS: &[&str] = &[
    "accessory",
    "bushing",
    "chopped-impulse",
    "condenser-bushing",
    "crate",
    "current-transformer",
    "duct",
    "end-tap",
    "excitation",
    "gap",
    "gas",
    "harmonic",
    "insulation-path",
    "limb-path",
    "microphone",
    "minute",
    "paint-spot",
    "pair",
    "phase",
    "recorder",
    "response-curve",
    "shot",
    "stacking-step",
    "tap",
    "terminal",
    "winding",
];

/// Every value recorded in the stages: single readings and cells of tables.
fn cells(text: &str) -> Vec<Cell> {
    let mut cells = Vec::new();
    let mut stage = String::new();
    // The reading of the table, or the readings of its columns, and whether its header row is read.
    let mut table: Option<(Option<String>, Option<Vec<String>>)> = None;
    for (number, line) in text.lines().enumerate() {
        let depth = line.len() - line.trim_start().len();
        let words = words(line.split(" #").next().unwrap_or(line));
        let Some((_, first)) = words.first() else {
            continue;
        };
        if depth == 0 {
            stage = if *first == "stage" {
                words[1].1.to_owned()
            } else {
                String::new()
            };
        }
        if depth <= 2 {
            table = None;
        }
        if stage.is_empty() || depth == 0 {
            continue;
        }
        let mut cell = |reading: &str, (start, word): (usize, &str)| {
            let (stage, reading) = (stage.clone(), reading.to_owned());
            cells.push(Cell {
                stage,
                reading,
                line: number,
                start,
                end: start + word.len(),
            });
        };
        let bare = |word: &str| word.split('(').next().unwrap_or(word).to_owned();
        match (&mut table, words.get(1)) {
            (Some((_, header @ None)), _) => {
                *header = Some(words.iter().map(|(_, word)| bare(word)).collect());
            }
            (Some((one, Some(header))), _) => {
                for (column, word) in words.iter().enumerate() {
                    if KEYS.contains(&header[column].as_str()) {
                        continue;
                    }
                    cell(one.as_ref().unwrap_or(&header[column]), *word);
                }
            }
            (None, second) if *first == "table" => {
                let named = second
                    .map(|(_, word)| *word)
                    .filter(|word| !["at", "with", "by", "on"].contains(word));
                table = Some((named.map(bare), None));
            }
            (None, Some((_, "="))) if words.len() > 2 => {
                cell(first.split('[').next().unwrap_or(first), words[2]);
            }
            _ => {}
        }
    }
    cells
}

/// What a value may grossly be changed to; nothing for texts.
fn gross(value: &str) -> Vec<String> {
    if let Ok(number) = value.parse::<f64>() {
        let whole = !value.contains('.');
        let shown = |number: f64| {
            if whole {
                format!("{number:.0}")
            } else {
                format!("{number:.4}")
            }
        };
        return vec![
            shown(number * 4.0 + 40.0),
            shown(number / 100.0),
            shown(number / 1000.0),
        ];
    }
    match value {
        "yes" => vec!["no".to_owned()],
        _ if value.starts_with("2026-") => {
            vec![
                value.replacen("2026-", "2027-", 1),
                value.replacen("2026-", "2025-", 1),
            ]
        }
        _ => Vec::new(),
    }
}

/// The clean unit with one line changed; each variant has its own serial number.
fn variant(text: &str, index: usize, line: usize, with: Option<String>) -> Input {
    let mut lines: Vec<String> = text.lines().map(str::to_owned).collect();
    match with {
        Some(with) => lines[line] = with,
        // An empty line keeps the numbers of the lines below.
        None => lines[line].clear(),
    }
    let text =
        lines
            .join("\n")
            .replacen("unit KFT-0412-1 ", &format!("unit KFT-0412-1-{index} "), 1);
    let name = works()
        .join(format!("units/variant-{index:04}.ubr"))
        .to_string_lossy()
        .into_owned();
    Input::Text {
        name,
        bytes: text.into_bytes(),
    }
}

/// Checks many variants in one run; the findings of each, in its order.
fn judge(variants: Vec<Input>) -> (Outcome, Vec<Vec<Finding>>) {
    let count = variants.len();
    let outcome =
        workspace::check(&variants, &Options::default(), &Silent).expect("texts can be checked");
    let mut findings = vec![Vec::new(); count];
    for finding in &outcome.findings {
        let name = &*outcome.sources[finding.place.file.0 as usize].name;
        let index: usize = Path::new(name)
            .file_stem()
            .and_then(|stem| stem.to_str()?.strip_prefix("variant-")?.parse().ok())
            .unwrap_or_else(|| panic!("found outside the unit, in {name}: {finding:#?}"));
        findings[index].push(finding.clone());
    }
    (outcome, findings)
}

/// Whether a finding is on a line (from 0) or takes it as an input or a related place.
fn is_about(finding: &Finding, line: usize, outcome: &Outcome) -> bool {
    let own = finding.place.file;
    let mut places = vec![finding.place];
    places.extend(finding.related.iter().map(|related| related.place));
    if let Some(reasoning) = &finding.reasoning {
        places.extend(reasoning.inputs.iter().filter_map(|input| input.place));
    }
    let source = &outcome.sources[own.0 as usize];
    places
        .iter()
        .any(|place| place.file == own && source.lines.line_of(place.span.start) == line)
}

/// What the plan asks for without a limit and without a check on its middle value: a wrong one cannot show.
const RECORDED_ONLY: &[&str] = &[
    "customer-inspection.response-tapping",
    // Of the gases around the dielectric tests hydrogen and acetylene are judged.
    "dielectric-tests.gas-after",
    "dielectric-tests.gas-before",
    // Above 5 Gohm the polarisation index is not asked for.
    "routine-tests.insulation-600s",
    // No power of the auxiliaries is guaranteed for this unit.
    "special-tests.auxiliary-power",
    // Judged above 170 kV.
    "standing.particles-per-millilitre",
    "type-tests.gas-before-rise",
];

#[test]
fn a_gross_change_of_any_reading_is_found_unless_nothing_is_asked_of_it() {
    let text = clean_text();
    let lines: Vec<&str> = text.lines().collect();
    // Of each reading the middle one of its values.
    let mut by_reading: BTreeMap<(String, String), Vec<Cell>> = BTreeMap::new();
    for cell in cells(&text) {
        by_reading
            .entry((cell.stage.clone(), cell.reading.clone()))
            .or_default()
            .push(cell);
    }
    let chosen: Vec<Cell> = by_reading
        .values()
        .map(|cells| cells[cells.len() / 2].clone())
        .collect();
    assert!(chosen.len() > 100, "{} readings", chosen.len());
    let mut seen: BTreeSet<String> = BTreeSet::new();
    let mut errors: BTreeSet<String> = BTreeSet::new();
    let name = |cell: &Cell| format!("{}.{}", cell.stage, cell.reading);
    // A limit may be on one side only: first too much, then too little where that was not found.
    for choice in 0..3 {
        let mut variants = Vec::new();
        let mut about = Vec::new();
        for cell in chosen.iter().filter(|cell| !seen.contains(&name(cell))) {
            let line = lines[cell.line];
            if let Some(value) = gross(&line[cell.start..cell.end]).get(choice) {
                let changed = format!("{}{value}{}", &line[..cell.start], &line[cell.end..]);
                variants.push(variant(&text, variants.len(), cell.line, Some(changed)));
                about.push(cell);
            }
        }
        let (outcome, findings) = judge(variants);
        for (cell, findings) in about.iter().zip(&findings) {
            let on_it = |severity| {
                findings.iter().any(|finding| {
                    finding.severity == severity && is_about(finding, cell.line, &outcome)
                })
            };
            if on_it(Severity::Error) {
                errors.insert(name(cell));
            }
            if on_it(Severity::Error) || on_it(Severity::Warning) {
                seen.insert(name(cell));
            }
        }
    }
    let with_value = chosen
        .iter()
        .filter(|cell| !gross(&lines[cell.line][cell.start..cell.end]).is_empty());
    let silent: Vec<String> = with_value
        .map(name)
        .filter(|name| !seen.contains(name))
        .collect();
    assert_eq!(silent, RECORDED_ONLY);
    assert!(
        seen.len() >= 100 && errors.len() >= 60,
        "{} readings, {} errors",
        seen.len(),
        errors.len()
    );
}

/// One change: stage, start of a line in it, what is replaced there, by what, the rule, and a word of its message.
type Change = (
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
    &'static str,
);

const CHANGES: &[Change] = &[
    (
        "connections",
        "    HV-LV  9    3.1771",
        "3.1771",
        "3.1971",
        "check-failed",
        "Voltage ratio on the principal tapping",
    ),
    (
        "connections",
        "    HV-LV  5    3.3361",
        "3.3357",
        "3.3236",
        "check-failed",
        "Ratio against whole turns",
    ),
    (
        "connections",
        "    HV       584.0",
        "585.4",
        "601.4",
        "check-failed",
        "Resistances of the phases",
    ),
    (
        "winding",
        "    HV       880  880  880",
        "880  880  880",
        "880  881  880",
        "out-of-limit",
        "turns",
    ),
    (
        "winding",
        "    HV       1638.3",
        "1638.3",
        "1663.7",
        "out-of-limit",
        "height",
    ),
    (
        "winding-pressing",
        "    LV       1614.0",
        "1612.5",
        "1615.5",
        "out-of-limit",
        "pressed-height",
    ),
    (
        "core",
        "  steel-loss",
        "0.96",
        "1.07",
        "out-of-limit",
        "steel-loss",
    ),
    (
        "core-and-winding-assembly",
        "    LV-HV ",
        "49.0",
        "52.9",
        "out-of-limit",
        "duct-width",
    ),
    (
        "drying",
        "  equilibrium-pressure",
        "0.46 mbar",
        "46 mbar",
        "check-failed",
        "Moisture by vapour pressure",
    ),
    (
        "tanking",
        "    LV-lead-to-tank",
        "68",
        "37",
        "out-of-limit",
        "clearance",
    ),
    (
        "tanking",
        "  oxygen-at-entry",
        "20.8",
        "18.8",
        "out-of-limit",
        "oxygen-at-entry",
    ),
    (
        "vacuum",
        "  leak-pressure-end",
        "0.669",
        "9.669",
        "check-failed",
        "Leak rate",
    ),
    (
        "oil-filling",
        "  oil-water",
        "3.8",
        "38",
        "out-of-limit",
        "oil-water",
    ),
    (
        "vacuum",
        "  dry-air-time",
        "35.0",
        "3.5",
        "check-failed",
        "Open time",
    ),
    (
        "routine-tests",
        "    HV-LV  17   2.8594",
        "2.8594",
        "2.8954",
        "check-failed",
        "Voltage ratio on the other tappings",
    ),
    (
        "routine-tests",
        "  no-load-power",
        "18.81",
        "28.81",
        "check-failed",
        "No-load loss",
    ),
    (
        "routine-tests",
        "    HV-LV  80.41",
        "80.41",
        "110.41",
        "check-failed",
        "Load loss at the reference temperature",
    ),
    (
        "routine-tests",
        "    HV-LV  80.41",
        "10257",
        "12057",
        "check-failed",
        "Short-circuit impedance",
    ),
    (
        "dielectric-tests",
        "    30      21",
        "25",
        "251",
        "out-of-limit",
        "discharge",
    ),
    (
        "dielectric-tests",
        "  induced-time",
        "30 s",
        "13 s",
        "check-failed",
        "Induced voltage, time by frequency",
    ),
    (
        "type-tests",
        "  top-oil",
        "71.8",
        "91.8",
        "check-failed",
        "Rise of the top oil",
    ),
    (
        "dielectric-tests",
        "    H2    5",
        "5",
        "50",
        "check-failed",
        "Hydrogen",
    ),
    (
        "dispatch",
        "  gas-pressure =",
        "24.5",
        "4.5",
        "out-of-limit",
        "gas-pressure",
    ),
    (
        "dispatch",
        "  removed-parts-packed",
        "41",
        "40",
        "check-failed",
        "Every crate is packed",
    ),
    // dates and persons
    (
        "connections",
        "  release H50",
        "2026-03-31",
        "2026-03-29",
        "release-before-reading",
        "H50",
    ),
    (
        "connections",
        "  release H50",
        "2026-03-31",
        "2026-04-10",
        "hold-passed",
        "H50",
    ),
    (
        "connections",
        "  release H50",
        "M.Okafor",
        "L.Novak",
        "role-may-not-release",
        "L.Novak",
    ),
    (
        "final-clamping",
        "  oven-opened",
        "2026-04-13 10:38",
        "2026-04-12 22:38",
        "check-failed",
        "Open time",
    ),
    (
        "drying",
        "  on 2026-04-09",
        "2026-04-09",
        "2026-02-30",
        "impossible-date",
        "2026-02-30",
    ),
    // units and instruments
    ("core", "  burr", "0.016 mm", "0.016 kg", "wrong-unit", "kg"),
    (
        "core",
        "  burr",
        "with MM-3",
        "with MM-33",
        "unknown-instrument",
        "MM-33",
    ),
];

/// Whether a line begins with these words, as deep as they are, whatever columns it stands in.
fn begins(line: &str, words: &str) -> bool {
    let depth = |text: &str| text.len() - text.trim_start().len();
    let mut found = line.split_whitespace();
    depth(line) == depth(words)
        && words
            .split_whitespace()
            .all(|word| found.next() == Some(word))
}

#[test]
fn a_change_of_one_reading_gives_the_expected_rule() {
    let text = clean_text();
    let lines: Vec<&str> = text.lines().collect();
    let mut variants = Vec::new();
    let mut at = Vec::new();
    for (stage, start, what, with, ..) in CHANGES {
        let begin = lines
            .iter()
            .position(|line| {
                line.split('#').next().unwrap_or("").trim_end() == format!("stage {stage}")
            })
            .unwrap_or_else(|| panic!("no stage {stage}"));
        let line = (begin..lines.len())
            .find(|line| begins(lines[*line], start))
            .unwrap_or_else(|| panic!("no line `{start}` in stage {stage}"));
        assert!(
            lines[line].contains(what),
            "`{what}` is not in `{}`",
            lines[line]
        );
        variants.push(variant(
            &text,
            variants.len(),
            line,
            Some(lines[line].replacen(what, with, 1)),
        ));
        at.push(line);
    }
    let (outcome, findings) = judge(variants);
    let mut wrong = Vec::new();
    for ((change, findings), line) in CHANGES.iter().zip(&findings).zip(&at) {
        let (_, _, _, _, rule, word) = change;
        let expected = findings.iter().any(|finding| {
            finding.rule.name == *rule
                && finding.message.contains(word)
                && is_about(finding, *line, &outcome)
        });
        if !expected {
            let found: Vec<String> = findings
                .iter()
                .map(|finding| format!("{}: {}", finding.rule.name, finding.message))
                .collect();
            wrong.push(format!("{change:?}, line {}:\n{found:#?}", line + 1));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_outer_limbs_are_held_closer_where_their_currents_are_above_50_ma() {
    let rows = "    U      12.4\n    V       8.1\n    W      12.7\n";
    // Milliamperes of three limbs, and whether the outer ones differ too much.
    let cases = [
        (["12.4", "8.1", "13.2"], false),
        (["12.4", "8.1", "13.7"], true),
        (["60.0", "40.0", "62.4"], false),
        (["60.0", "40.0", "63.6"], true),
    ];
    let clean = clean_text();
    assert!(clean.contains(rows));
    let line = clean.lines().position(|line| line == "    U      12.4");
    let line = line.expect("the row is there, as its text is");
    let variants = cases.iter().enumerate().map(|(index, ([u, v, w], _))| {
        let text = clean.replacen(
            rows,
            &format!("    U      {u}\n    V      {v:>4}\n    W      {w}\n"),
            1,
        );
        variant(&text, index, line, Some(format!("    U      {u}")))
    });
    let (_, findings) = judge(variants.collect());
    for ((currents, differ), findings) in cases.iter().zip(&findings) {
        let found = findings
            .iter()
            .filter(|finding| finding.message.contains("outer limbs"))
            .count();
        assert_eq!(found, usize::from(*differ), "{currents:?}: {findings:#?}");
    }
}

#[test]
fn without_any_one_release_work_has_passed_a_hold() {
    let text = clean_text();
    let releases: Vec<(usize, &str)> = text
        .lines()
        .enumerate()
        .filter(|(_, line)| line.trim_start().starts_with("release "))
        .collect();
    assert!(releases.len() >= 13, "{releases:?}");
    let variants = releases
        .iter()
        .enumerate()
        .map(|(index, (line, _))| variant(&text, index, *line, None))
        .collect();
    let (outcome, findings) = judge(variants);
    for (index, ((_, line), findings)) in releases.iter().zip(&findings).enumerate() {
        let point = line
            .split_whitespace()
            .nth(1)
            .expect("a release names its point");
        let passed = findings.iter().any(|finding| {
            finding.rule.name == "hold-passed"
                && finding.severity == Severity::Error
                && finding.message.contains(point)
        });
        // Nothing comes after the last hold: it is open, not passed over.
        let last = index + 1 == releases.len();
        assert_eq!(passed, !last, "{line}: {findings:#?}");
        let state = outcome.units[index]
            .stages
            .iter()
            .flat_map(|stage| &stage.points)
            .find(|summary| &*summary.name == point)
            .map(|summary| summary.state);
        assert_eq!(
            state,
            Some(if last {
                PointState::Open
            } else {
                PointState::Passed
            }),
            "{line}"
        );
    }
}

#[test]
fn without_any_one_reading_the_release_was_incomplete() {
    let text = clean_text();
    let lines: Vec<&str> = text.lines().collect();
    let single: Vec<Cell> = cells(&text)
        .into_iter()
        .filter(|cell| lines[cell.line].contains(" = "))
        .collect();
    let rows: Vec<Cell> = cells(&text)
        .into_iter()
        .filter(|cell| !lines[cell.line].contains(" = "))
        .step_by(19)
        .collect();
    let chosen: Vec<Cell> = single.into_iter().chain(rows).collect();
    assert!(chosen.len() > 100, "{}", chosen.len());
    let variants = chosen
        .iter()
        .enumerate()
        .map(|(index, cell)| variant(&text, index, cell.line, None))
        .collect();
    let (_, findings) = judge(variants);
    for (cell, findings) in chosen.iter().zip(&findings) {
        let missed = findings.iter().any(|finding| {
            matches!(finding.rule.name, "missing-reading" | "released-incomplete")
                && finding.severity == Severity::Error
                && finding.message.contains(&format!("`{}`", cell.reading))
        });
        assert!(missed, "{cell:?}: {findings:#?}");
    }
}
