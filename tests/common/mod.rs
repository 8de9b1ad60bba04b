//! What several end-to-end tests share: the real program, the library's answer in short, small works in a
//! temporary folder.

// Each test file uses its own share of this.
#![allow(dead_code)]

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use stagebook::finding::Severity;
use stagebook::finding::summary::UnitSummary;
use stagebook::workspace::{self, Input, Options, Outcome, Silent};

/// Longer than this is a hang. No claim of speed, which the benchmark makes.
pub const LONGEST: Duration = Duration::from_secs(60);

/// The input of a case with the signs put in that a text file can't show plainly.
pub fn plain(case: &str) -> String {
    case.replace("\\t", "\t")
        .replace("\\r", "\r")
        .replace("\\0", "\0")
        .replace("\\u{feff}", "\u{feff}")
}

/// A text with these signs written out.
pub fn visible(text: &str) -> String {
    text.replace('\t', "\\t")
        .replace('\r', "\\r")
        .replace('\0', "\\0")
        .replace('\u{feff}', "\\u{feff}")
}

/// The folder of the project.
pub fn project() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// The folder of the examples.
pub fn works() -> PathBuf {
    project().join("examples/kestrel-ford")
}

/// What the program said.
pub struct Said {
    /// Its exit status; none when a signal ended it.
    pub status: Option<i32>,
    /// Standard output.
    pub out: String,
    /// Standard error.
    pub err: String,
    /// How long it took.
    pub took: Duration,
}

impl Said {
    /// Fails unless the status is this one and nothing went wrong inside the program.
    #[track_caller]
    pub fn expect(self, status: i32) -> Said {
        assert_eq!(
            self.status,
            Some(status),
            "stdout:\n{}\nstderr:\n{}",
            head(&self.out),
            head(&self.err)
        );
        let panicked = ["stagebook: internal error", "panicked"]
            .iter()
            .any(|words| self.err.contains(words));
        assert!(!panicked, "{}", self.err);
        assert!(self.took < LONGEST, "took {:?}", self.took);
        self
    }

    /// The answer as JSON.
    #[track_caller]
    pub fn json(&self) -> serde_json::Value {
        match serde_json::from_str(&self.out) {
            Ok(value) => value,
            Err(error) => panic!("{error}: {}\n{}", head(&self.out), self.err),
        }
    }

    /// Line, rule and severity of each finding of a JSON answer.
    #[track_caller]
    pub fn found(&self) -> Vec<(u64, String, String)> {
        let json = self.json();
        let findings = json["findings"].as_array().expect("the schema says so");
        findings
            .iter()
            .map(|finding| {
                let word = |key: &str| finding[key].as_str().unwrap_or("").to_owned();
                (
                    finding["start"]["line"].as_u64().unwrap_or(0),
                    word("rule"),
                    word("severity"),
                )
            })
            .collect()
    }
}

/// The first few thousand characters.
fn head(text: &str) -> String {
    text.chars().take(4000).collect()
}

/// The program with a plain environment, standing in a folder.
pub fn program(folder: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_stagebook"));
    command.current_dir(folder);
    for name in [
        "NO_COLOR",
        "CLICOLOR",
        "CLICOLOR_FORCE",
        "LC_ALL",
        "LC_CTYPE",
        "COLUMNS",
    ] {
        command.env_remove(name);
    }
    command
        .env("LANG", "C.UTF-8")
        .stdin(Stdio::null())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

/// Runs a prepared program to its end.
pub fn run(command: &mut Command) -> Said {
    let start = Instant::now();
    let output = command
        .output()
        .expect("the program was built with the test");
    Said {
        status: output.status.code(),
        out: String::from_utf8(output.stdout).expect("the program writes UTF-8"),
        err: String::from_utf8(output.stderr).expect("the program writes UTF-8"),
        took: start.elapsed(),
    }
}

/// The day on which the tests take place, whenever they run: the examples are dated before it.
pub const TODAY: &str = "2026-11-25";

/// The arguments with the day of the tests, for the commands that hold dates against today.
fn dated<'a>(arguments: &[&'a str]) -> Vec<&'a str> {
    let mut dated = arguments.to_vec();
    let judges = matches!(dated.first(), Some(&("check" | "status" | "release")));
    if judges && !dated.iter().any(|argument| argument.starts_with("--today")) {
        dated.splice(1..1, ["--today", TODAY]);
    }
    dated
}

/// Runs the program in a folder, on the day of the tests.
pub fn stagebook(folder: &Path, arguments: &[&str]) -> Said {
    run(program(folder).args(dated(arguments)))
}

/// Runs the program in a folder with something on its standard input.
pub fn stagebook_reads(folder: &Path, arguments: &[&str], input: &[u8]) -> Said {
    let start = Instant::now();
    let mut child = program(folder)
        .args(dated(arguments))
        .stdin(Stdio::piped())
        .spawn()
        .expect("the program was built with the test");
    let mut pipe = child.stdin.take().expect("it was asked for");
    let input = input.to_vec();
    let writer = std::thread::spawn(move || {
        // A program that stops reading early shows in its answer.
        let _ = pipe.write_all(&input);
    });
    let output = child.wait_with_output().expect("the program ends");
    writer.join().expect("writing does not panic");
    Said {
        status: output.status.code(),
        out: String::from_utf8(output.stdout).expect("the program writes UTF-8"),
        err: String::from_utf8(output.stderr).expect("the program writes UTF-8"),
        took: start.elapsed(),
    }
}

/// A finding in short.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Found {
    /// The document's path.
    pub path: String,
    /// Its line, from 1.
    pub line: usize,
    /// The rule's name.
    pub rule: String,
    /// Its weight.
    pub severity: Severity,
    /// What it says.
    pub message: String,
}

/// Every finding of an outcome, in short.
pub fn in_short(outcome: &Outcome) -> Vec<Found> {
    outcome
        .findings
        .iter()
        .map(|finding| {
            let source = &outcome.sources[finding.place.file.0 as usize];
            let before = &source.text.as_bytes()[..finding.place.span.start as usize];
            Found {
                path: source.name.to_string(),
                line: before.iter().filter(|byte| **byte == b'\n').count() + 1,
                rule: finding.rule.name.to_owned(),
                severity: finding.severity,
                message: finding.message.clone(),
            }
        })
        .collect()
}

/// Checks files or folders with the library.
#[track_caller]
pub fn check(paths: &[PathBuf]) -> Outcome {
    let inputs: Vec<Input> = paths.iter().cloned().map(Input::Path).collect();
    workspace::check(&inputs, &Options::default(), &Silent).expect("the paths can be read")
}

/// Checks a text as if it stood at a path.
#[track_caller]
pub fn check_text(path: &Path, text: &str) -> Outcome {
    let name = path.to_string_lossy().into_owned();
    let input = Input::Text {
        name,
        bytes: text.as_bytes().to_vec(),
    };
    let options = Options {
        threads: 1,
        ..Options::default()
    };
    workspace::check(&[input], &options, &Silent).expect("a text can be checked")
}

/// A works of two files in a temporary folder: a plan and one unit.
pub struct Small {
    folder: tempfile::TempDir,
    plans: Vec<String>,
}

/// What a small works came to.
pub struct Came {
    /// Everything found, in short.
    pub found: Vec<Found>,
    /// The unit's line, where it could be judged.
    pub unit: Option<UnitSummary>,
    /// The whole outcome.
    pub outcome: Outcome,
}

impl Small {
    /// Writes plans or registers, each into a file of its own; none may have a fault.
    #[track_caller]
    pub fn new(documents: &[&str]) -> Small {
        let small = Small::unchecked(documents);
        let paths: Vec<PathBuf> = small
            .plans
            .iter()
            .map(|name| small.folder.path().join(name))
            .collect();
        let found = in_short(&check(&paths));
        assert!(
            found.is_empty(),
            "the plan of the test is wrong: {found:#?}"
        );
        small
    }

    /// The same without looking at them.
    pub fn unchecked(documents: &[&str]) -> Small {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let mut plans = Vec::new();
        for (index, document) in documents.iter().enumerate() {
            let name = format!("document-{index}.ubr");
            std::fs::write(folder.path().join(&name), document).expect("a temporary file");
            plans.push(name);
        }
        Small { folder, plans }
    }

    /// The folder.
    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// Writes a file beside the plan.
    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.folder.path().join(name);
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).expect("a temporary folder");
        }
        std::fs::write(&path, bytes).expect("a temporary file");
        path
    }

    /// Judges a unit document that stands beside the plan.
    #[track_caller]
    pub fn judge(&self, unit: &str) -> Came {
        let outcome = check_text(&self.folder.path().join("unit.ubr"), unit);
        Came {
            found: in_short(&outcome),
            unit: outcome.units.first().cloned(),
            outcome,
        }
    }
}

impl Came {
    /// The rules found, with their lines in the unit. What is pending is left out, and so is what only asks
    /// who read something, when and with what.
    pub fn rules(&self) -> Vec<(usize, &str)> {
        let asks_who =
            |rule: &str| ["missing-person", "missing-date", "missing-instrument"].contains(&rule);
        self.found
            .iter()
            .filter(|found| found.severity != Severity::Pending && !asks_who(&found.rule))
            .map(|found| (found.line, &*found.rule))
            .collect()
    }

    /// Fails unless [`Came::rules`] are exactly these.
    #[track_caller]
    pub fn expect(&self, rules: &[(usize, &str)]) -> &Came {
        assert_eq!(self.rules(), rules, "{:#?}", self.found);
        self
    }

    /// The messages of the pending findings.
    pub fn pending(&self) -> Vec<&str> {
        self.found
            .iter()
            .filter(|found| found.severity == Severity::Pending)
            .map(|found| &*found.message)
            .collect()
    }

    /// The first finding of a rule.
    #[track_caller]
    pub fn the(&self, rule: &str) -> &stagebook::finding::Finding {
        let found = self
            .outcome
            .findings
            .iter()
            .find(|finding| finding.rule.name == rule);
        match found {
            Some(finding) => finding,
            None => panic!("no {rule} among {:#?}", self.found),
        }
    }
}

/// Hands rows to a script of `tests/external` and holds its last line against "N passed, 0 failed". Says so
/// and does nothing where `STAGEBOOK_PYTHON` does not name an interpreter with the pinned packages.
pub fn outside_check(script: &str, rows: &str) {
    let Some(python) = std::env::var_os("STAGEBOOK_PYTHON") else {
        println!("skipped: STAGEBOOK_PYTHON is not set, so {script} compared nothing");
        return;
    };
    let mut child = Command::new(&python)
        .arg(project().join("tests/external").join(script))
        .env("PYTHONIOENCODING", "utf-8")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| {
            panic!("STAGEBOOK_PYTHON names {python:?}, which does not start: {error}")
        });
    let mut stdin = child
        .stdin
        .take()
        .expect("standard input was asked for above");
    // The script reads everything before it writes, so this can't block on a full output pipe. A script
    // that ends early closes the pipe; what it said is shown below.
    let written = stdin.write_all(rows.as_bytes());
    drop(stdin);
    let output = child.wait_with_output().expect("the script ends");
    let printed = String::from_utf8_lossy(&output.stdout);
    let errors = String::from_utf8_lossy(&output.stderr);
    println!("{printed}");
    assert!(output.status.success(), "{printed}\n{errors}");
    assert!(
        written.is_ok(),
        "the script did not read all rows: {written:?}\n{errors}"
    );
    let last = printed.lines().last().unwrap_or_default();
    assert!(
        last.ends_with(" passed, 0 failed"),
        "the last line does not sum up: {last:?}"
    );
}

/// A git repository in a temporary folder, with settings of its own and none of the machine's.
pub struct Repository {
    folder: tempfile::TempDir,
}

impl Repository {
    /// An empty one.
    #[track_caller]
    pub fn new() -> Repository {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let repository = Repository { folder };
        repository.git(&["init", "-q", "-b", "main"]);
        for (name, value) in [
            ("user.name", "Lena Novak"),
            ("user.email", "l.novak@kestrel-ford.example"),
            ("commit.gpgsign", "false"),
            ("core.autocrlf", "false"),
        ] {
            repository.git(&["config", name, value]);
        }
        repository
    }

    /// Its top folder.
    pub fn path(&self) -> &Path {
        self.folder.path()
    }

    /// The git program in the top folder.
    pub fn command(&self) -> Command {
        let mut command = Command::new("git");
        for (name, _) in std::env::vars_os() {
            if name.to_string_lossy().starts_with("GIT_") {
                command.env_remove(&name);
            }
        }
        command
            .current_dir(self.path())
            .env("GIT_CONFIG_GLOBAL", "/dev/null")
            .env("GIT_CONFIG_NOSYSTEM", "1")
            .env("LC_ALL", "C");
        command
    }

    /// Runs git; it must be content. Gives what it wrote.
    #[track_caller]
    pub fn git(&self, arguments: &[&str]) -> String {
        let output = self.command().args(arguments).output();
        let output = output.expect("git is installed");
        let said = String::from_utf8_lossy(&output.stdout).into_owned();
        let complaint = String::from_utf8_lossy(&output.stderr);
        assert!(
            output.status.success(),
            "git {arguments:?}: {said}{complaint}"
        );
        said.trim_end().to_owned()
    }

    /// Writes a file below the top folder.
    #[track_caller]
    pub fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path().join(name);
        if let Some(folder) = path.parent() {
            std::fs::create_dir_all(folder).expect("a temporary folder");
        }
        std::fs::write(&path, bytes).expect("a temporary file");
        path
    }

    /// Commits everything that stands there. Gives the commit's name.
    #[track_caller]
    pub fn commit(&self, words: &str) -> String {
        self.git(&["add", "-A"]);
        self.git(&["commit", "-q", "--allow-empty", "-m", words]);
        self.git(&["rev-parse", "HEAD"])
    }
}

/// Holds pages against the files kept in a folder of fixtures, one `NAME.txt` for each and none besides. With
/// `UPDATE_EXPECT` set, the pages are written instead.
#[track_caller]
pub fn same_as_kept(folder: &Path, pages: &[(String, String)]) {
    let update = std::env::var_os("UPDATE_EXPECT").is_some();
    let mut wrong = Vec::new();
    for (name, page) in pages {
        let path = folder.join(format!("{name}.txt"));
        if update {
            std::fs::create_dir_all(folder).expect("the folder of the fixtures");
            std::fs::write(&path, page).expect("a fixture can be written");
        }
        let kept = std::fs::read_to_string(&path).unwrap_or_default();
        if kept != *page {
            wrong.push(format!("{name}: kept\n{kept}\nnow\n{page}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    let kept = std::fs::read_dir(folder).map_or(0, |entries| entries.count());
    assert_eq!(
        kept,
        pages.len(),
        "a file under {} belongs to no case",
        folder.display()
    );
}
