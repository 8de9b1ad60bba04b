//! The git program as the workspace asks it: what it answers, and what a repository from elsewhere cannot do.

mod common;

use common::Repository as Made;
use stagebook::workspace::git::{GitFault, Repository};
use std::path::{Path, PathBuf};

fn names(paths: Vec<PathBuf>) -> Vec<String> {
    let mut names: Vec<String> = paths
        .iter()
        .map(|path| path.to_string_lossy().into_owned())
        .collect();
    names.sort();
    names
}

#[test]
fn it_tells_what_differs_from_a_commit_and_what_stood_there() {
    let made = Made::new();
    for name in [
        "same.ubr",
        "edited.ubr",
        "staged.ubr",
        "gone.ubr",
        "old.ubr",
        "bück °.csv",
    ] {
        made.write(name, format!("unit {name}\n").repeat(20));
    }
    let first = made.commit("first");
    made.write("edited.ubr", "unit edited\n");
    made.write("staged.ubr", "unit staged\n");
    made.write("bück °.csv", "time\n");
    made.write("new.ubr", "unit new\n");
    std::fs::remove_file(made.path().join("gone.ubr")).expect("it was written");
    made.git(&["add", "staged.ubr"]);
    made.git(&["mv", "old.ubr", "deep-er.ubr"]);
    std::fs::create_dir(made.path().join("deep")).expect("a temporary folder");

    let repository = Repository::around(&made.path().join("deep")).expect("a repository");
    assert_eq!(
        repository.root(),
        made.path().canonicalize().expect("it is there")
    );
    for revision in ["HEAD", "main", &first[..10], &first] {
        assert_eq!(
            repository.commit(revision).as_ref(),
            Ok(&first),
            "{revision}"
        );
    }
    let changed = names(repository.changed_since(&first).expect("a commit"));
    assert_eq!(
        changed,
        [
            "bück °.csv",
            "deep-er.ubr",
            "edited.ubr",
            "gone.ubr",
            "old.ubr",
            "staged.ubr"
        ]
    );
    let tracked = names(repository.tracked().expect("an index"));
    assert!(tracked.contains(&"same.ubr".to_owned()) && !tracked.contains(&"new.ubr".to_owned()));
    let at = |path: &str| {
        repository
            .file_at(&first, Path::new(path))
            .expect("a commit")
    };
    assert_eq!(
        at("gone.ubr"),
        Some("unit gone.ubr\n".repeat(20).into_bytes())
    );
    assert_eq!(at("new.ubr"), None);
    assert_eq!(at(""), None);
}

#[test]
fn a_file_that_git_was_told_to_pass_over_is_not_among_the_compared() {
    let made = Made::new();
    made.write("assumed.ubr", "unit a\n");
    made.write("skipped.ubr", "unit b\n");
    made.write("plain.ubr", "unit c\n");
    made.commit("first");
    made.git(&["update-index", "--assume-unchanged", "assumed.ubr"]);
    made.git(&["update-index", "--skip-worktree", "skipped.ubr"]);
    let repository = Repository::around(made.path()).expect("a repository");
    assert_eq!(
        names(repository.tracked().expect("an index")),
        ["plain.ubr"]
    );
}

#[test]
fn what_cannot_be_answered_has_its_own_fault() {
    let nowhere = tempfile::tempdir().expect("a temporary folder");
    let fault = Repository::around(nowhere.path()).err();
    assert!(
        matches!(fault, Some(GitFault::NotARepository(_))),
        "{fault:?}"
    );

    let made = Made::new();
    made.write("a.ubr", "unit a\n");
    let repository = Repository::around(made.path()).expect("a repository");
    // No commit yet.
    assert!(matches!(
        repository.commit("HEAD"),
        Err(GitFault::UnknownRevision { shallow: false, .. })
    ));
    made.commit("first");
    for revision in [
        "",
        "nonsense",
        "-",
        "--all",
        "--output=x",
        "a\0b",
        "HEAD:a.ubr",
        "HEAD~9",
        "..",
        "HEAD..",
        "^HEAD",
    ] {
        let fault = repository.commit(revision).err();
        assert!(
            matches!(fault, Some(GitFault::UnknownRevision { .. })),
            "{revision:?}: {fault:?}"
        );
    }
    let said = repository.answer(&["no-such-command"]).err();
    assert!(
        matches!(&said, Some(GitFault::Refused(words)) if words.contains("no-such-command")),
        "{said:?}"
    );
    assert!(!made.path().join("x").exists());
}

#[test]
fn a_part_of_a_history_is_told_from_an_unknown_revision() {
    let made = Made::new();
    made.write("a.ubr", "unit a\n");
    let first = made.commit("first");
    made.commit("second");
    let clone = tempfile::tempdir().expect("a temporary folder");
    let from = format!("file://{}", made.path().display());
    let to = clone.path().join("clone");
    made.git(&["clone", "-q", "--depth", "1", &from, &to.to_string_lossy()]);
    let repository = Repository::around(&to).expect("a repository");
    assert!(repository.commit("HEAD").is_ok());
    let fault = repository.commit(&first).err();
    assert!(
        matches!(fault, Some(GitFault::UnknownRevision { shallow: true, .. })),
        "{fault:?}"
    );
    assert!(fault.is_some_and(|fault| fault.to_string().contains("a part of the history")));
}

/// Settings of a repository can name programs. None is started, and what they would have changed is still told.
#[cfg(unix)]
#[test]
fn no_program_that_a_repository_names_is_started() {
    use std::os::unix::fs::PermissionsExt;
    let made = Made::new();
    made.write("a.ubr", "unit a\n");
    made.write("odd.csv", "1\n");
    let first = made.commit("first");
    let sign = made.path().join("started");
    let trap = made.write(
        "trap",
        format!("#!/bin/sh\necho \"$0 $*\" >> '{}'\ncat\n", sign.display()),
    );
    std::fs::set_permissions(&trap, std::fs::Permissions::from_mode(0o755)).expect("own file");
    let trap = trap.to_string_lossy().into_owned();
    let hooks = made.path().join("hooks");
    std::fs::create_dir(&hooks).expect("a temporary folder");
    std::fs::copy(&trap, hooks.join("post-index-change")).expect("own file");
    for (name, value) in [
        ("core.fsmonitor", &*trap),
        ("core.hooksPath", &hooks.to_string_lossy()),
        ("core.pager", &trap),
        ("diff.external", &trap),
        ("diff.trap.command", &trap),
        ("diff.trap.textconv", &trap),
        ("filter.trap.clean", &trap),
        ("filter.trap.smudge", &trap),
        ("filter.a=b.process", &trap),
        ("filter.a=b.required", "true"),
    ] {
        made.git(&["config", name, value]);
    }
    made.write(
        ".gitattributes",
        "*.ubr filter=trap diff=trap\n*.csv filter=a=b\n",
    );
    made.write("a.ubr", "unit a  # edited\n");
    made.write("odd.csv", "2\n");
    // Without the guards git starts them: the trap is real.
    let mut careless = made.command();
    let _ = careless
        .args(["diff", &first])
        .output()
        .expect("git is installed");
    assert!(sign.exists(), "the trap does not work");
    std::fs::remove_file(&sign).expect("it is there");

    let repository = Repository::around(made.path()).expect("a repository");
    let changed = names(repository.changed_since(&first).expect("a commit"));
    assert_eq!(changed, ["a.ubr", "odd.csv"]);
    assert!(repository.tracked().is_ok());
    assert!(
        repository
            .file_at(&first, Path::new("a.ubr"))
            .is_ok_and(|file| file.is_some())
    );
    assert!(
        !sign.exists(),
        "started: {}",
        std::fs::read_to_string(&sign).unwrap_or_default()
    );
}
