//! `check --since`: what has changed since a commit and what depends on it, in real repositories.

mod common;

use common::{Repository, program, run, stagebook};
use std::path::Path;

const BASE: &str = "plan base rev A

set position = A B

role quality, production

stage winding
  reading height : length
    limit <= 1620 mm
    source works \"w\"
";

const PLAN: &str = "plan own extends base rev A

stage drying
  log oven
    column pressure : pressure
";

const REGISTER: &str = "register r

person L.Novak \"Lena Novak\"
  roles production
";

/// A unit that fails, so that it shows whether it was checked.
fn unit(serial: &str, plan: &str) -> String {
    format!(
        "unit {serial}\n  plan {plan}\n  register r\nstage winding\n  height = 1630 mm on 2026-02-19 by L.Novak\n"
    )
}

/// Two units of one plan, one of its base, each failing; and a lone plan. Gives the first commit.
fn works() -> (Repository, String) {
    let works = Repository::new();
    works.write("base.ubr", BASE);
    works.write("own.ubr", PLAN);
    works.write("register.ubr", REGISTER);
    works.write("lone.ubr", BASE.replace("plan base", "plan lone"));
    works.write("units/one.ubr", unit("ONE-1", "own"));
    works.write("units/two.ubr", unit("TWO-1", "own"));
    works.write("units/three.ubr", unit("THREE-1", "base"));
    let commit = works.commit("first");
    (works, commit)
}

/// The documents that were checked: each unit fails, and a plan that is checked is counted.
#[track_caller]
fn checked(works: &Repository, revision: &str) -> Vec<String> {
    checked_from(works.path(), &["."], revision)
}

#[track_caller]
fn checked_from(folder: &Path, paths: &[&str], revision: &str) -> Vec<String> {
    let arguments = [&["check", "--as", "junit", "--since", revision], paths].concat();
    let said = run(program(folder).args(&arguments));
    let status = said.status.unwrap_or(-1);
    assert!((0..2).contains(&status), "{}", said.err);
    let mut names: Vec<String> = said
        .out
        .split("<testsuite ")
        .skip(1)
        .filter_map(|suite| suite.split(" file=\"").nth(1)?.split('"').next())
        .map(str::to_owned)
        .collect();
    names.sort();
    names
}

const ALL: [&str; 7] = [
    "base.ubr",
    "lone.ubr",
    "own.ubr",
    "register.ubr",
    "units/one.ubr",
    "units/three.ubr",
    "units/two.ubr",
];

#[test]
fn nothing_changed_is_said_and_is_no_failure() {
    let (works, first) = works();
    for revision in ["HEAD", "main", &first[..12]] {
        let said = stagebook(works.path(), &["check", ".", "--since", revision]).expect(0);
        assert_eq!(
            said.out,
            format!("nothing to check: 7 documents unchanged since {revision}\n")
        );
    }
    let json = stagebook(
        works.path(),
        &["check", ".", "--since", "HEAD", "--as", "json"],
    );
    let json = json.expect(0).json();
    assert_eq!(json["findings"].as_array().map(Vec::len), Some(0));
    assert_eq!(json["units"].as_array().map(Vec::len), Some(0));
    assert!(checked(&works, "HEAD").is_empty());
    // The same works without the option fails: something was left out.
    stagebook(works.path(), &["check", "."]).expect(1);
}

#[test]
fn a_changed_record_is_checked_alone() {
    let (works, first) = works();
    works.write("units/one.ubr", unit("ONE-1", "own") + "# seen\n");
    // Not committed, staged, committed: all the same.
    assert_eq!(checked(&works, "HEAD"), ["units/one.ubr"]);
    works.git(&["add", "-A"]);
    assert_eq!(checked(&works, "HEAD"), ["units/one.ubr"]);
    works.commit("second");
    assert!(checked(&works, "HEAD").is_empty());
    assert_eq!(checked(&works, "HEAD~1"), ["units/one.ubr"]);
    assert_eq!(checked(&works, &first), ["units/one.ubr"]);
    let said = stagebook(works.path(), &["check", ".", "--since", &first]).expect(1);
    assert!(
        said.out.contains("ONE-1") && !said.out.contains("TWO-1"),
        "{}",
        said.out
    );
    let closing: Vec<&str> = said.out.lines().rev().take(2).collect();
    assert_eq!(
        closing[0],
        format!("6 documents left out: unchanged since {first}")
    );
    assert!(
        closing[1].starts_with("1 unit, 1 document, 6 lines: 1 error"),
        "{}",
        closing[1]
    );
    // Changed back: nothing has changed, although it was written anew.
    works.write("units/one.ubr", unit("ONE-1", "own"));
    assert!(checked(&works, &first).is_empty());
}

#[test]
fn what_git_does_not_track_counts_as_changed() {
    let (works, _) = works();
    works.write("units/four.ubr", unit("FOUR-1", "base"));
    assert_eq!(checked(&works, "HEAD"), ["units/four.ubr"]);
    // Ignored, and so passed over by the folder, but named by the user.
    works.write(".gitignore", "four.ubr\n");
    assert!(checked(&works, "HEAD").is_empty());
    let named = checked_from(works.path(), &["units/four.ubr"], "HEAD");
    assert_eq!(named, ["units/four.ubr"]);
    // Git told to look away.
    works.write("units/one.ubr", unit("ONE-1", "own") + "# seen\n");
    works.git(&["update-index", "--assume-unchanged", "units/one.ubr"]);
    assert_eq!(checked(&works, "HEAD"), ["units/one.ubr"]);
}

#[test]
fn a_changed_plan_or_register_takes_its_units_with_it() {
    let (works, _) = works();
    works.write("own.ubr", PLAN.to_owned() + "# seen\n");
    assert_eq!(
        checked(&works, "HEAD"),
        ["own.ubr", "units/one.ubr", "units/two.ubr"]
    );
    works.git(&["checkout", "-q", "."]);
    works.write("base.ubr", BASE.replace("1620", "1640"));
    let extended = [
        "base.ubr",
        "own.ubr",
        "units/one.ubr",
        "units/three.ubr",
        "units/two.ubr",
    ];
    assert_eq!(checked(&works, "HEAD"), extended);
    works.git(&["checkout", "-q", "."]);
    works.write("register.ubr", REGISTER.replace("Lena", "Lene"));
    let held = [
        "register.ubr",
        "units/one.ubr",
        "units/three.ubr",
        "units/two.ubr",
    ];
    assert_eq!(checked(&works, "HEAD"), held);
    // Only the units are asked about: the plan is found and still counts.
    works.git(&["checkout", "-q", "."]);
    works.write("own.ubr", PLAN.to_owned() + "# seen\n");
    let units = checked_from(&works.path().join("units"), &["."], "HEAD");
    assert_eq!(units, ["units/one.ubr", "units/two.ubr"]);
}

#[test]
fn a_plan_that_went_away_or_changed_its_name_takes_its_units_with_it() {
    let (works, _) = works();
    // Deleted, and another of the same name stands farther away: what is found now has not changed.
    works.write("units/base.ubr", BASE.replace("1620", "1625"));
    works.commit("a nearer plan");
    std::fs::remove_file(works.path().join("units/base.ubr")).expect("it was written");
    let found = checked(&works, "HEAD");
    assert!(found.contains(&"units/three.ubr".to_owned()), "{found:?}");
    works.git(&["checkout", "-q", "."]);
    works.write("units/base.ubr", BASE.replace("plan base", "plan other"));
    let found = checked(&works, "HEAD");
    assert!(found.contains(&"units/three.ubr".to_owned()), "{found:?}");
    assert!(!found.contains(&"lone.ubr".to_owned()), "{found:?}");
    works.git(&["checkout", "-q", "."]);
    // The register is gone.
    std::fs::remove_file(works.path().join("register.ubr")).expect("it was written");
    let said = stagebook(works.path(), &["check", ".", "--since", "HEAD"]).expect(1);
    assert!(said.out.contains("unknown-register"), "{}", said.out);
}

#[test]
fn a_new_nearer_plan_takes_its_units_with_it() {
    let (works, _) = works();
    works.write("units/base.ubr", BASE.replace("1620", "1625"));
    let found = checked(&works, "HEAD");
    assert!(found.contains(&"units/three.ubr".to_owned()), "{found:?}");
}

#[test]
fn a_renamed_record_is_checked_under_its_new_name() {
    let (works, _) = works();
    works.git(&["mv", "units/one.ubr", "units/uno é.ubr"]);
    assert_eq!(checked(&works, "HEAD"), ["units/uno é.ubr"]);
    works.commit("renamed");
    assert_eq!(checked(&works, "HEAD~1"), ["units/uno é.ubr"]);
}

#[test]
fn a_deleted_record_leaves_nothing_to_check() {
    let (works, _) = works();
    std::fs::remove_file(works.path().join("units/one.ubr")).expect("it was written");
    assert!(checked(&works, "HEAD").is_empty());
    // The last one: an empty folder is no mistake then.
    for name in ["two", "three"] {
        std::fs::remove_file(works.path().join(format!("units/{name}.ubr")))
            .expect("it was written");
    }
    let said = stagebook(works.path(), &["check", "units", "--since", "HEAD"]).expect(0);
    assert_eq!(
        said.out,
        "nothing to check: 0 documents unchanged since HEAD\n"
    );
}

#[test]
fn a_log_or_an_attachment_takes_its_record_with_it() {
    let (works, _) = works();
    let log = "stage drying\n  log oven from \"../logs/oven.csv\"\n    column time from \"t\"\n    column pressure(mbar) from \"p\"\n";
    works.write("units/one.ubr", unit("ONE-1", "own") + log);
    works.write(
        "units/two.ubr",
        unit("TWO-1", "own") + "  attach \"photo.jpg\" \"coil\"\n",
    );
    works.write(
        "logs/oven.csv",
        "t,p\n2026-02-20 10:00,3\n2026-02-20 11:00,2\n",
    );
    works.write("units/photo.jpg", "jpg");
    works.write("logs/other.csv", "t,p\n");
    works.commit("logs");
    assert!(checked(&works, "HEAD").is_empty());
    works.write(
        "logs/oven.csv",
        "t,p\n2026-02-20 10:00,3\n2026-02-20 11:00,1\n",
    );
    assert_eq!(checked(&works, "HEAD"), ["units/one.ubr"]);
    works.git(&["checkout", "-q", "."]);
    works.write("units/photo.jpg", "another");
    assert_eq!(checked(&works, "HEAD"), ["units/two.ubr"]);
    std::fs::remove_file(works.path().join("units/photo.jpg")).expect("it was written");
    assert_eq!(checked(&works, "HEAD"), ["units/two.ubr"]);
    works.git(&["checkout", "-q", "."]);
    std::fs::remove_dir_all(works.path().join("logs")).expect("it was written");
    assert_eq!(checked(&works, "HEAD"), ["units/one.ubr"]);
    works.git(&["checkout", "-q", "."]);
    works.write("logs/other.csv", "t\n");
    assert!(checked(&works, "HEAD").is_empty());
}

#[cfg(unix)]
#[test]
fn a_link_is_as_old_as_what_it_leads_to() {
    let (works, _) = works();
    let link = works.path().join("units/link.ubr");
    std::os::unix::fs::symlink("../deep/real.ubr", &link).expect("a temporary folder");
    works.write("deep/real.ubr", unit("REAL-1", "base"));
    works.commit("a link");
    assert!(checked_from(works.path(), &["units/link.ubr"], "HEAD").is_empty());
    works.write("deep/real.ubr", unit("REAL-2", "base"));
    assert_eq!(
        checked_from(works.path(), &["units/link.ubr"], "HEAD"),
        ["units/link.ubr"]
    );
    works.git(&["checkout", "-q", "."]);
    std::fs::remove_file(&link).expect("it was made");
    std::os::unix::fs::symlink("one.ubr", &link).expect("a temporary folder");
    assert_eq!(
        checked_from(works.path(), &["units/link.ubr"], "HEAD"),
        ["units/link.ubr"]
    );
}

#[test]
fn what_is_checked_says_what_it_would_say_alone() {
    let (works, _) = works();
    works.write(
        "units/one.ubr",
        unit("ONE-1", "own").replace("1630", "1635"),
    );
    let said = |arguments: &[&str]| {
        let said = stagebook(works.path(), arguments).expect(1).json();
        let findings = said["findings"].as_array().expect("findings").clone();
        let words = |finding: &serde_json::Value| {
            let key = |key: &str| finding[key].to_string();
            [key("rule"), key("message"), key("path"), key("start")].join(" ")
        };
        let found: Vec<String> = findings.iter().map(words).collect();
        (found, said["units"].clone())
    };
    let since = said(&["check", ".", "--as", "json", "--since", "HEAD"]);
    let alone = said(&["check", "units/one.ubr", "--as", "json"]);
    assert_eq!(since, alone);
    // Every document anew since the empty beginning.
    let empty = works.git(&[
        "commit-tree",
        "4b825dc642cb6eb9a060e54bf8d69288fbee4904",
        "-m",
        "empty",
    ]);
    assert_eq!(checked(&works, &empty), ALL);
}

#[test]
fn standard_input_is_always_checked() {
    let (works, _) = works();
    let said = common::stagebook_reads(
        works.path(),
        &["check", "-", "--name", "units/x.ubr", "--since", "HEAD"],
        unit("X-1", "own").as_bytes(),
    );
    assert!(said.expect(1).out.contains("X-1"));
}

#[test]
fn variables_of_a_hook_do_not_lead_elsewhere() {
    let (works, _) = works();
    works.write("units/one.ubr", unit("ONE-1", "own") + "# seen\n");
    let mut command = program(works.path());
    command
        .args(["check", ".", "--since", "HEAD", "--as", "json"])
        .env("GIT_DIR", "/nowhere")
        .env("GIT_WORK_TREE", "/")
        .env("GIT_INDEX_FILE", "/nowhere/index")
        .env("GIT_CONFIG_COUNT", "1")
        .env("GIT_CONFIG_KEY_0", "core.fsmonitor")
        .env("GIT_CONFIG_VALUE_0", "false");
    let json = run(&mut command).expect(1).json();
    assert_eq!(json["units"][0]["serial"], "ONE-1");
    assert_eq!(json["units"].as_array().map(Vec::len), Some(1));
}

#[test]
fn nothing_in_the_repository_is_touched() {
    let (works, _) = works();
    works.write("units/one.ubr", unit("ONE-1", "own") + "# seen\n");
    let state = || {
        let index = works.path().join(".git/index");
        let data = std::fs::metadata(&index).expect("an index");
        (
            std::fs::read(&index).expect("an index"),
            data.modified().expect("a time"),
        )
    };
    let before = state();
    checked(&works, "HEAD");
    assert_eq!(before, state());
    assert!(!works.path().join(".git/index.lock").exists());
}

#[test]
fn what_git_cannot_tell_stops_the_check() {
    let (works, _) = works();
    let stopped = |folder: &Path, revision: &str, words: &str| {
        let said = stagebook(folder, &["check", ".", "--since", revision]).expect(2);
        assert_eq!(said.out, "", "{revision}");
        assert!(
            said.err.contains(words) && said.err.lines().count() == 1,
            "{}",
            said.err
        );
    };
    let unknown = "expected a commit of the repository, found";
    for revision in [
        "nonsense",
        "HEAD~99",
        "--output=stolen",
        "-",
        "--all",
        "HEAD:base.ubr",
        "",
    ] {
        stopped(works.path(), revision, unknown);
    }
    assert!(!works.path().join("stolen").exists());
    let nowhere = tempfile::tempdir().expect("a temporary folder");
    std::fs::write(nowhere.path().join("base.ubr"), BASE).expect("a temporary file");
    stopped(nowhere.path(), "HEAD", "expected a git repository around");
    // No git program on the path.
    let empty = tempfile::tempdir().expect("a temporary folder");
    let mut command = program(works.path());
    command
        .args(["check", ".", "--since", "HEAD"])
        .env("PATH", empty.path());
    let said = run(&mut command).expect(2);
    assert!(
        said.err.contains("expected the program git on the path"),
        "{}",
        said.err
    );
    // Without the option it is not needed.
    let mut command = program(works.path());
    command.args(["check", "."]).env("PATH", empty.path());
    run(&mut command).expect(1);
}
