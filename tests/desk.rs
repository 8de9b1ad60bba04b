//! The desk: after any number of edits it says what a fresh check of the same texts says.

#[path = "benches/generated.rs"]
mod generated;

mod common;

use common::works;
use stagebook::finding::Finding;
use stagebook::text::{Buffer, FileId, Span};
use stagebook::workspace::desk::Desk;
use stagebook::workspace::{Input, Options, Silent, Today, check};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// The day on which the tests are run.
const TODAY: Option<Today> = Some(Today::Day(20_600));

/// Numbers that look random and are the same in every run.
struct Dice(u64);

impl Dice {
    fn next(&mut self, below: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 % below.max(1) as u64) as usize
    }
}

/// Documents in a folder, on disk and on a desk.
struct Folder {
    _temporary: tempfile::TempDir,
    root: PathBuf,
    desk: Desk,
    open: BTreeMap<String, (Buffer, FileId)>,
}

impl Folder {
    fn new(documents: &[(String, String)]) -> Folder {
        let temporary = tempfile::tempdir().expect("a temporary folder can be made");
        let root = temporary
            .path()
            .canonicalize()
            .expect("the folder was just made");
        let mut desk = Desk::new(None);
        desk.set_today(TODAY);
        for (name, text) in documents {
            let path = root.join(name);
            std::fs::create_dir_all(path.parent().expect("it lies in the folder"))
                .expect("a folder can be made");
            std::fs::write(&path, text).expect("a file can be written");
        }
        for (name, _) in documents {
            desk.shelve(&root.join(name));
        }
        Folder {
            _temporary: temporary,
            root,
            desk,
            open: BTreeMap::new(),
        }
    }

    fn path(&self, name: &str) -> String {
        self.root.join(name).to_string_lossy().into_owned()
    }

    fn open(&mut self, name: &str) {
        let text = std::fs::read_to_string(self.path(name)).expect("the file was written");
        let buffer = Buffer::new(text);
        let file = self.desk.put(&self.path(name), &buffer);
        self.open.insert(name.to_owned(), (buffer, file));
    }

    fn edit(&mut self, name: &str, span: Span, new: &str) {
        let path = self.path(name);
        let (buffer, _) = self.open.get_mut(name).expect("it is open");
        buffer.replace(span, new);
        self.desk.put(&path, buffer);
    }

    /// Writes the texts that are edited, so that a check of the folder sees them.
    fn save(&self) {
        for (name, (buffer, _)) in &self.open {
            std::fs::write(self.path(name), buffer.text()).expect("a file can be written");
        }
    }

    /// What a fresh check of the folder says of the documents that are open.
    fn fresh(&self) -> BTreeMap<String, Vec<String>> {
        let options = Options {
            today: TODAY,
            threads: 1,
        };
        let outcome = check(&[Input::Path(self.root.clone())], &options, &Silent)
            .expect("the folder can be checked");
        let mut by_name: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for finding in &outcome.findings {
            let source = &outcome.sources[finding.place.file.0 as usize];
            let related = |file: FileId| outcome.sources[file.0 as usize].name.to_string();
            by_name
                .entry(source.name.to_string())
                .or_default()
                .push(words(finding, &related));
        }
        self.open
            .keys()
            .map(|name| {
                let found = by_name.remove(&self.path(name)).unwrap_or_default();
                (name.clone(), found)
            })
            .collect()
    }

    fn on_desk(&mut self) -> BTreeMap<String, Vec<String>> {
        self.desk.settle();
        assert_eq!(self.desk.take_faults(), Vec::<String>::new());
        let desk = &self.desk;
        let name = |file: FileId| desk.sources()[file.0 as usize].name.to_string();
        self.open
            .iter()
            .map(|(own, (_, file))| {
                let found = desk.findings(*file);
                (
                    own.clone(),
                    found.iter().map(|one| words(one, &name)).collect(),
                )
            })
            .collect()
    }
}

/// All of a finding but the numbers of its documents.
fn words(finding: &Finding, name: &dyn Fn(FileId) -> String) -> String {
    let related: Vec<String> = finding
        .related
        .iter()
        .map(|related| {
            format!(
                "{} {:?} {}",
                name(related.place.file),
                related.place.span,
                related.text
            )
        })
        .collect();
    let accepted = finding
        .accepted
        .as_ref()
        .map(|accepted| (&accepted.by, &accepted.because));
    let reasons = finding.reasoning.as_ref().map(|reasoning| {
        (
            &reasoning.steps,
            &reasoning.margin,
            &reasoning.limit,
            &reasoning.causes,
            &reasoning.also,
        )
    });
    format!(
        "{:?} {} {:?} {} {:?} {related:?} {:?} {accepted:?} {reasons:?}",
        finding.severity,
        finding.rule.name,
        finding.place.span,
        finding.message,
        finding.help,
        finding.fix,
    )
}

const PLAN: &str = "plan p rev A
  concessions by quality

set phase = U V

role quality, production

design
  need height : length

stage tests
  reading loss : power
    compare floor 1 % of median
  reading resistance[phase] : resistance given temperature
    limit 1 ohm .. 3 ohm
    source common-practice
    compare
  reading drop : length
    limit design.height
    source works \"rule 1\"
  calc mean-resistance = mean(resistance[*])
  check even[phase] \"Even\"
    require abs(resistance[phase] / mean-resistance - 1) <= 2 %
    source common-practice
    because \"a loose joint\"
  hold H1 \"Tests\" by quality

stage dispatch
  reading weight : mass
  hold H2 \"Dispatch\" by quality
";

const REGISTER: &str = "register r
  zone +01:00

person A.Bee \"Anna Bee\"
  roles quality, production

instrument MR-1 \"ohmmeter\"
  measures resistance
  calibrated 2026-01-12 due 2027-01-12 certificate \"C-1\"
";

fn unit(number: usize, ohms: &str) -> String {
    format!(
        "unit T-{number} \"unit °{number}\"\n  plan p rev A\n  register r\n  lot T unit {number} of 4\n\ndesign rev A on 2026-02-02\n  height = 1612 mm +3/-0 mm\n\nstage tests\n  on 2026-02-19 09:30 by A.Bee\n  loss = 12.{number} kW\n  table resistance(ohm) at 20 °C with MR-1\n    U     V\n    {ohms}  2.001\n  drop = 1613 mm\n  release H1 by A.Bee on 2026-02-20\n"
    )
}

fn small_works() -> Folder {
    let mut documents = vec![
        ("plan.ubr".to_owned(), PLAN.to_owned()),
        ("register.ubr".to_owned(), REGISTER.to_owned()),
    ];
    for number in 1..=4 {
        let text = unit(number, ["2.000", "2.010", "1.990", "3.100"][number - 1]);
        documents.push((format!("units/T-{number}.ubr"), text));
    }
    Folder::new(&documents)
}

/// What gets typed: pieces of the language, and pieces that break it.
const PIECES: &[&str] = &[
    " ",
    "\n",
    "  ",
    "\r\n",
    "\t",
    "1",
    "3,5",
    "2.5 ohm",
    "?",
    "n/a \"no\"",
    "°C",
    "😀",
    "\"",
    "]",
    "[U]",
    "resistance[V] = 2.002 ohm at 21 °C with MR-1",
    "\n  weight = 5 t\n",
    "\n  loss = ?\n",
    "stage dispatch\n",
    "\nstage tests round 2\n",
    "plan p",
    "register",
    "lot T unit 2 of 4",
    "A.Bee",
    "2026-03-01",
    "accept out-of-limit because \"seen\" by A.Bee on 2026-03-01\n",
    "limit <= 2 ohm",
    "amend loss = 12 kW was 12.1 kW by A.Bee on 2026-03-02 because \"misread\"\n",
    "#",
    "x",
];

/// An edit at a random place: something typed, something deleted, a line doubled, something pasted.
fn random_edit(dice: &mut Dice, text: &str) -> (Span, String) {
    let mut at = dice.next(text.len() + 1);
    while !text.is_char_boundary(at) {
        at -= 1;
    }
    let mut end = (at + dice.next(12)).min(text.len());
    while !text.is_char_boundary(end) {
        end += 1;
    }
    let span = |start: usize, end: usize| Span::new(start as u32, end as u32);
    match dice.next(4) {
        0 => (span(at, at), PIECES[dice.next(PIECES.len())].to_owned()),
        1 => (span(at, end), String::new()),
        2 => (span(at, end), PIECES[dice.next(PIECES.len())].to_owned()),
        _ => {
            let start = text[..at].rfind('\n').map_or(0, |line| line + 1);
            let line = text[start..].split_inclusive('\n').next().unwrap_or("");
            (span(start, start), line.to_owned())
        }
    }
}

/// Edits at random and undoes them, and compares with a fresh check again and again.
fn edit_at_random(folder: &mut Folder, names: &[&str], seed: u64, edits: usize, every: usize) {
    let mut dice = Dice(seed);
    let mut undo: Vec<(String, Span, String)> = Vec::new();
    for edit in 0..edits {
        let back = (dice.next(3) == 0 || undo.len() > 12)
            .then(|| undo.pop())
            .flatten();
        let (name, span, new) = back.unwrap_or_else(|| {
            let name = names[dice.next(names.len())];
            let text = folder.open[name].0.text();
            let (span, new) = random_edit(&mut dice, text);
            let was = text[span.range()].to_owned();
            let after = Span::new(span.start, span.start + new.len() as u32);
            undo.push((name.to_owned(), after, was));
            (name.to_owned(), span, new)
        });
        folder.edit(&name, span, &new);
        if dice.next(3) == 0 {
            folder.desk.settle();
        }
        if edit % every == 0 {
            folder.save();
            let fresh = folder.fresh();
            let desk = folder.on_desk();
            for (name, expected) in &fresh {
                assert_eq!(
                    &desk[name],
                    expected,
                    "{name} after edit {edit} of seed {seed}:\n{}",
                    folder.open[name].0.text()
                );
            }
        }
    }
}

#[test]
fn random_edits_come_to_what_a_fresh_check_says() {
    let names = [
        "units/T-1.ubr",
        "units/T-2.ubr",
        "units/T-4.ubr",
        "plan.ubr",
        "register.ubr",
    ];
    for seed in 1..=8 {
        let mut folder = small_works();
        for name in names {
            folder.open(name);
        }
        edit_at_random(&mut folder, &names[..3], seed, 300, 2);
        edit_at_random(&mut folder, &names, seed + 100, 150, 2);
    }
}

/// What somebody changes within a line.
const WITHIN: &[&str] = &[
    "9",
    ".5",
    " ",
    "?",
    "  with TP-11",
    "  by M.Okafor",
    "  on 2026-02-09 10:15",
    "  at 24 °C",
    "  # as read",
    "mm",
    "x",
];

/// Lines that somebody writes.
const LINES: &[&str] = &[
    "  note \"seen\"",
    "  height[1] = 1612.1 mm  with TP-11  by L.Novak  on 2026-02-04 10:01",
    "  height[2] = ?",
    "  resistance[3] = 412.0 mohm  at 23.1 °C  with MR-04  by L.Novak  on 2026-02-06 11:03",
    "  by M.Okafor on 2026-02-07 08:00",
    "    4  110  110  111",
    "    2026-03-01 00:02  83.1  0.4",
    "  # a remark",
    "",
    "  re",
    "nonconformity NCR-1 \"x\"",
];

/// Somebody works on the lines of one record: every change is judged at once, as an editor has it.
fn edit_lines(documents: &[(String, String)], own: &str, seed: u64, edits: usize) -> u64 {
    let mut folder = Folder::new(documents);
    folder.open(own);
    folder.desk.settle();
    let mut dice = Dice(seed);
    let mut undo: Vec<(Span, String)> = Vec::new();
    for edit in 0..edits {
        let text = folder.open[own].0.text().to_owned();
        let back = (dice.next(8) < 4 || undo.len() > 6)
            .then(|| undo.pop())
            .flatten();
        let (undoing, (span, new)) = (
            back.is_some(),
            back.unwrap_or_else(|| {
                let starts: Vec<usize> = text
                    .split_inclusive('\n')
                    .scan(0, |at, line| {
                        *at += line.len();
                        Some(*at)
                    })
                    .collect();
                let start = starts[7 + dice.next(starts.len() - 8)];
                let line = text[start..].split_inclusive('\n').next().unwrap_or("");
                let mut column = dice.next(line.len().max(1));
                while !line.is_char_boundary(column) {
                    column -= 1;
                }
                let inside = start + column;
                let one = line[column..].chars().next().map_or(0, char::len_utf8);
                let at = |from: usize, to: usize| Span::new(from as u32, to as u32);
                match dice.next(7) {
                    0 | 1 => (
                        at(inside, inside),
                        WITHIN[dice.next(WITHIN.len())].to_owned(),
                    ),
                    2 => {
                        let end = start + line.trim_end().len();
                        (at(end, end), WITHIN[dice.next(WITHIN.len())].to_owned())
                    }
                    3 => (at(inside, inside + one), String::new()),
                    4 => (at(start, start + line.len()), String::new()),
                    5 => (at(start, start), line.to_owned()),
                    _ => (
                        at(start, start),
                        format!("{}\n", LINES[dice.next(LINES.len())]),
                    ),
                }
            }),
        );
        let was = text[span.range()].to_owned();
        if !undoing {
            undo.push((Span::new(span.start, span.start + new.len() as u32), was));
        }
        folder.edit(own, span, &new);
        let desk = folder.on_desk();
        folder.save();
        let fresh = folder.fresh();
        assert_eq!(
            desk[own], fresh[own],
            "after edit {edit} of seed {seed}: {span:?} -> {new:?} in\n{text}"
        );
    }
    folder.desk.bound_in_part()
}

#[test]
fn lines_edited_one_by_one_come_to_what_a_fresh_check_says() {
    let generated = generated::record("T-1", 90);
    let shared = generated
        .replace(" 10:0", " 10:00  # ")
        .replace("  by L.Novak", "");
    let pieces = generated
        .replace(
            "stage drying",
            "stage winding round 2\n  height[1] = 1612 mm\n\nstage drying",
        )
        .replace(
            "  resistance[2]",
            "  on 2026-02-20 at 22 °C\n  resistance[2]",
        );
    for (text, seed) in [
        (&generated, 11),
        (&shared, 12),
        (&pieces, 13),
        (&generated, 14),
    ] {
        let documents = [
            ("plan.ubr".to_owned(), generated::PLAN.to_owned()),
            ("register.ubr".to_owned(), generated::REGISTER.to_owned()),
            ("T-1.ubr".to_owned(), text.clone()),
        ];
        let in_part = edit_lines(&documents, "T-1.ubr", seed, 250);
        // Else the test would say nothing of what it is for.
        assert!(
            in_part > 50,
            "{in_part} changes of seed {seed} were bound in part"
        );
    }
}

#[test]
fn lines_of_an_example_edited_one_by_one_come_to_what_a_fresh_check_says() {
    for (own, seed) in [("units/KFT-0412-1.ubr", 21), ("units/KFT-0415-1.ubr", 22)] {
        let documents = ["plan.ubr", "register.ubr", own].map(|name| {
            let text = std::fs::read_to_string(works().join(name)).expect("the example is there");
            (name.to_owned(), text)
        });
        let in_part = edit_lines(&documents, own, seed, 60);
        assert!(in_part > 0, "{in_part} changes of {own} were bound in part");
    }
}

/// A record in which each thing rests on others, with its plan and register.
fn resting() -> Vec<(String, String)> {
    let read = |name: &str| {
        let path = Path::new("tests/fixtures/desk").join(name);
        std::fs::read_to_string(path).expect("the fixture is there")
    };
    vec![
        ("plan.ubr".to_owned(), read("plan.ubr")),
        ("register.ubr".to_owned(), generated::REGISTER.to_owned()),
        ("T-1.ubr".to_owned(), read("T-1.ubr")),
    ]
}

/// Has each of the digits at `places` be another and then itself again; of the changes many are to be bound in part.
fn change_digits(documents: &[(String, String)], own: &str, places: impl Fn(&str, usize) -> bool) {
    let mut folder = Folder::new(documents);
    folder.open(own);
    folder.desk.settle();
    let text = folder.open[own].0.text().to_owned();
    let mut changes = 0;
    let digits = text.match_indices(|one: char| one.is_ascii_digit());
    for (at, was) in digits.filter(|(at, _)| places(&text, *at)) {
        let span = Span::new(at as u32, at as u32 + 1);
        let new = if was == "9" { "1" } else { "9" };
        folder.edit(own, span, new);
        let desk = folder.on_desk();
        folder.save();
        let fresh = folder.fresh();
        assert_eq!(desk[own], fresh[own], "with {new} for {was} at {at}");
        folder.edit(own, span, was);
        folder.desk.settle();
        changes += 2;
    }
    let in_part = folder.desk.bound_in_part();
    assert!(
        changes > 20 && in_part > changes / 4,
        "{in_part} of {changes} changes were bound in part"
    );
}

#[test]
fn a_digit_changed_anywhere_comes_to_what_a_fresh_check_says() {
    change_digits(&resting(), "T-1.ubr", |text, at| {
        text[..at].contains("stage winding")
    });
}

#[test]
fn a_digit_changed_in_an_example_comes_to_what_a_fresh_check_says() {
    let own = "units/KFT-0412-1.ubr";
    let documents = ["plan.ubr", "register.ubr", own].map(|name| {
        let text = std::fs::read_to_string(works().join(name)).expect("the example is there");
        (name.to_owned(), text)
    });
    // Values stand behind `=` and in the rows of tables; of every few one is enough.
    change_digits(&documents, own, |text, at| {
        let line = &text[text[..at].rfind('\n').map_or(0, |end| end + 1)..at];
        let row = line.starts_with("    ") && !line.contains("covers ") && !line.contains("seal ");
        (row || line.contains(" = ")) && at % 97 == 0
    });
}

#[test]
fn lines_that_rest_on_each_other_come_to_what_a_fresh_check_says() {
    for seed in [31, 32, 33] {
        let in_part = edit_lines(&resting(), "T-1.ubr", seed, 250);
        assert!(
            in_part > 20,
            "{in_part} changes of seed {seed} were bound in part"
        );
    }
}

#[test]
fn edits_of_an_example_come_to_what_a_fresh_check_says() {
    let mut documents = Vec::new();
    for name in ["plan.ubr", "register.ubr", "units/KFT-0415-1.ubr"] {
        let text = std::fs::read_to_string(works().join(name)).expect("the example is there");
        documents.push((name.to_owned(), text));
    }
    let mut folder = Folder::new(&documents);
    folder.open("units/KFT-0415-1.ubr");
    edit_at_random(&mut folder, &["units/KFT-0415-1.ubr"], 7, 60, 6);
}

#[test]
fn the_text_on_the_desk_wins_over_the_file() {
    let mut folder = small_works();
    folder.open("units/T-1.ubr");
    assert!(
        folder.on_desk()["units/T-1.ubr"]
            .iter()
            .all(|found| !found.contains("out-of-limit"))
    );
    // A stricter limit in a plan that is not saved judges the open unit anew.
    folder.open("plan.ubr");
    let at = PLAN.find("3 ohm").expect("the plan has the limit") as u32;
    folder.edit("plan.ubr", Span::new(at, at + 5), "1.5 ohm");
    let found = folder.on_desk();
    assert!(
        found["units/T-1.ubr"]
            .iter()
            .any(|found| found.contains("out-of-limit")),
        "{found:?}"
    );
    // Closed without saving: the file counts again.
    let (_, plan) = folder.open.remove("plan.ubr").expect("it is open");
    folder.desk.close(plan);
    assert!(
        folder.on_desk()["units/T-1.ubr"]
            .iter()
            .all(|found| !found.contains("out-of-limit"))
    );
}

#[test]
fn a_plan_that_was_never_saved_is_found() {
    let mut folder = small_works();
    folder.open("units/T-1.ubr");
    let head = "  plan p rev A";
    let text = folder.open["units/T-1.ubr"].0.text().to_owned();
    let at = text.find(head).expect("the unit names its plan") as u32;
    folder.edit(
        "units/T-1.ubr",
        Span::new(at, at + head.len() as u32),
        "  plan new rev A",
    );
    let unknown = |folder: &mut Folder| {
        folder.on_desk()["units/T-1.ubr"]
            .iter()
            .any(|found| found.contains("unknown-plan"))
    };
    assert!(unknown(&mut folder));
    let plan = Buffer::new(PLAN.replace("plan p", "plan new"));
    let path = folder.path("new-plan.ubr");
    folder.desk.put(&path, &plan);
    assert!(!unknown(&mut folder));
}

#[test]
fn a_file_that_changes_outside_is_read_again() {
    let mut folder = small_works();
    folder.open("units/T-1.ubr");
    let before = folder.on_desk();
    let stricter = PLAN.replace("3 ohm", "1.5 ohm").replace("rev A", "rev A ");
    std::fs::write(folder.root.join("plan.ubr"), stricter).expect("a file can be written");
    folder.desk.look_at_files();
    assert_ne!(folder.on_desk(), before);
    std::fs::write(folder.root.join("plan.ubr"), PLAN).expect("a file can be written");
    folder.desk.look_at_files();
    assert_eq!(folder.on_desk(), before);
    // A deleted register is unknown, and one that comes back is known.
    std::fs::remove_file(folder.root.join("register.ubr")).expect("the file is there");
    folder.desk.look_at_files();
    assert!(
        folder.on_desk()["units/T-1.ubr"]
            .iter()
            .any(|found| found.contains("unknown-register"))
    );
    std::fs::write(folder.root.join("register.ubr"), REGISTER).expect("a file can be written");
    folder.desk.shelve(&folder.root.join("register.ubr"));
    assert_eq!(folder.on_desk(), before);
}

#[test]
fn a_log_that_changes_has_its_record_judged_again() {
    let plan = "plan p rev A\nrole quality\nstage drying\n  log run\n    column vacuum : pressure\n  check deep\n    require min(run.vacuum) <= 1 mbar\n    source common-practice\n";
    let record = "unit T-1\n  plan p rev A\nstage drying\n  log run from \"run.csv\"\n";
    let mut folder = Folder::new(&[
        ("plan.ubr".to_owned(), plan.to_owned()),
        ("T-1.ubr".to_owned(), record.to_owned()),
    ]);
    let log = folder.root.join("run.csv");
    let write = |least: &str| {
        let rows = format!("time,vacuum(mbar)\n2026-02-01 10:00,5\n2026-02-01 11:00,{least}\n");
        std::fs::write(&log, rows).expect("a file can be written");
    };
    write("0.5");
    folder.open("T-1.ubr");
    let failing = |folder: &mut Folder| {
        folder.on_desk()["T-1.ubr"]
            .iter()
            .any(|found| found.contains("check-failed"))
    };
    assert!(!failing(&mut folder));
    write("3");
    folder.desk.file_changed(Path::new(&log));
    assert!(failing(&mut folder));
    // Somebody saves: all files are looked at, and what changed is seen without being named.
    write("0.25");
    folder.desk.look_at_files();
    assert!(!failing(&mut folder));
    write("4");
    let end = folder.open["T-1.ubr"].0.text().len() as u32;
    folder.edit("T-1.ubr", Span::new(end, end), "  # a remark\n");
    folder.desk.look_at_files();
    assert!(failing(&mut folder));
}

#[test]
fn lines_that_amendments_and_releases_look_back_at_come_to_what_a_fresh_check_says() {
    let mut folder = Folder::new(&resting());
    folder.open("T-1.ubr");
    folder.desk.settle();
    let steps = [
        // An amended reading fails, and what stands above it comes and goes.
        ("height[1] = 1611.5 mm", "height[1] = 1511.5 mm"),
        ("  sound = yes", "  # sound = yes"),
        ("  clean = yes\n", ""),
        ("  # sound = yes", "  sound = yes"),
        (
            "  table resistance",
            "  clean = yes\n  begun = ?\n  table resistance",
        ),
        // The release says the same as the line above it.
        ("sound = yes  by M.Okafor", "sound = no  by M.Okafor"),
        (
            "H10 by M.Okafor on 2026-02-26",
            "H10 by M.Okafor on 2027-02-26",
        ),
        (
            "no  by M.Okafor on 2026-02-26",
            "no  by M.Okafor on 2027-02-26",
        ),
        (
            "no  by M.Okafor on 2027-02-26",
            "no  by M.Okafor on 2026-02-26",
        ),
        ("no  by M.Okafor", "no  by M.Okaforr"),
    ];
    for (was, new) in steps {
        let text = folder.open["T-1.ubr"].0.text().to_owned();
        let at = text
            .find(was)
            .unwrap_or_else(|| panic!("no {was} in {text}")) as u32;
        folder.edit("T-1.ubr", Span::new(at, at + was.len() as u32), new);
        let desk = folder.on_desk();
        folder.save();
        assert_eq!(desk, folder.fresh(), "after {new} for {was}");
    }
    assert!(folder.desk.bound_in_part() > 0);
}

#[test]
fn values_that_rest_on_each_other_in_a_ring_come_to_what_a_fresh_check_says() {
    let plan = "plan p rev A\n\nstage s\n  reading r : length\n  reading q : length\n  reading k : length\n  \
                calc a = b or r > 0 mm\n  calc b = a or q > 0 mm\n  check of-a\n    require a\n    \
                source common-practice\n  check of-b\n    require b\n    source common-practice\n\n\
                stage t\n  after s\n  reading w : mass\n";
    let record = "unit T-1\n  plan p rev A\n\nstage s\n  r = 1 mm\n  k = 1 mm\n  q = -1 mm\n\nstage t\n  w = 1 t\n";
    let mut folder = Folder::new(&[
        ("plan.ubr".to_owned(), plan.to_owned()),
        ("T-1.ubr".to_owned(), record.to_owned()),
    ]);
    folder.open("T-1.ubr");
    let before = folder.on_desk();
    folder.save();
    assert_eq!(before, folder.fresh());
    assert!(
        before["T-1.ubr"]
            .iter()
            .any(|found| found.contains("`of-b`"))
    );
    for digit in ["2", "3"] {
        let at = record.find("k = 1").expect("it is recorded") as u32 + 4;
        folder.edit("T-1.ubr", Span::new(at, at + 1), digit);
        let desk = folder.on_desk();
        folder.save();
        assert_eq!(desk, folder.fresh());
    }
    assert_eq!(folder.desk.bound_in_part(), 2);
}

#[test]
fn a_save_has_nothing_judged_again_that_did_not_change() {
    let mut folder = Folder::new(&resting());
    folder.open("T-1.ubr");
    folder.desk.settle();
    let text = folder.open["T-1.ubr"].0.text().to_owned();
    let at = text.find("411").expect("the record has this reading") as u32;
    for (digit, in_part) in [("5", 1), ("4", 2)] {
        folder.edit("T-1.ubr", Span::new(at, at + 1), digit);
        folder.desk.look_at_files();
        folder.desk.settle();
        assert_eq!(folder.desk.bound_in_part(), in_part);
    }
    let desk = folder.on_desk();
    folder.save();
    assert_eq!(desk, folder.fresh());
}
