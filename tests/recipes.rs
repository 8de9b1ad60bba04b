//! The recipes of the README, run as they stand there: the lines of a build and the hook before a commit.

mod common;

use common::{Repository, project};
use std::path::Path;
use std::process::{Command, Output};

const PLAN: &str = "plan p rev A

role production

stage winding
  reading height : length
    limit <= 1620 mm
    source works \"w\"
";

fn unit(serial: &str, height: u32) -> String {
    format!(
        "unit {serial}\n  plan p\n  register r\nstage winding\n  height = {height} mm with TP-1 on 2026-02-19 by L.Novak\n"
    )
}

const REGISTER: &str = "register r

person L.Novak \"Lena Novak\"
  roles production

instrument TP-1 \"tape\"
  measures length
  calibrated 2026-01-12 due 2027-03-01 certificate \"C-1\"
";

/// The blocks of one language in a section of the README.
fn blocks(language: &str) -> Vec<String> {
    let readme = std::fs::read_to_string(project().join("README.md")).expect("part of the project");
    let section = readme
        .split("### In a build")
        .nth(1)
        .expect("the section is there");
    let section = section.split("\n## ").next().expect("a section ends");
    let fence = format!("```{language}\n");
    let parts = section.split(&*fence).skip(1);
    parts
        .filter_map(|part| part.split("```").next())
        .map(str::to_owned)
        .collect()
}

/// The folder of the program first on the path, so that the recipes find it.
fn with_program(command: &mut Command) -> &mut Command {
    let program = Path::new(env!("CARGO_BIN_EXE_stagebook"));
    let mut folders = vec![
        program
            .parent()
            .expect("a file stands in a folder")
            .to_owned(),
    ];
    let path = std::env::var_os("PATH").unwrap_or_default();
    folders.extend(std::env::split_paths(&path));
    command.env(
        "PATH",
        std::env::join_paths(folders).expect("folders of a path"),
    )
}

/// A repository with the hook of the README and a first commit that went through it.
fn works() -> Repository {
    let works = Repository::new();
    let hooks = blocks("sh");
    assert_eq!(hooks.len(), 1);
    let hook = works.write(".git/hooks/pre-commit", &hooks[0]);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let executable = std::fs::Permissions::from_mode(0o755);
        std::fs::set_permissions(&hook, executable).expect("own file");
    }
    works.write("plan.ubr", PLAN);
    works.write("register.ubr", REGISTER);
    works.write("units/one.ubr", unit("ONE-1", 1610));
    works.write("units/two.ubr", unit("TWO-1", 1619));
    works.git(&["add", "-A"]);
    let first = commit(&works, &["-m", "first"]);
    assert!(first.status.success(), "{first:?}");
    works
}

fn commit(works: &Repository, arguments: &[&str]) -> Output {
    let mut command = works.command();
    with_program(&mut command)
        .args(["commit", "-q"])
        .args(arguments);
    command.output().expect("git is installed")
}

#[track_caller]
fn refused(works: &Repository, arguments: &[&str], words: &str) {
    let before = works.git(&["rev-parse", "HEAD"]);
    let output = commit(works, arguments);
    let said = String::from_utf8_lossy(&output.stdout).into_owned()
        + &String::from_utf8_lossy(&output.stderr);
    assert!(!output.status.success() && said.contains(words), "{said}");
    assert_eq!(works.git(&["rev-parse", "HEAD"]), before);
}

#[track_caller]
fn taken(works: &Repository, arguments: &[&str]) {
    let output = commit(works, arguments);
    assert!(output.status.success(), "{output:?}");
}

#[cfg(unix)]
#[test]
fn the_hook_lets_no_error_into_the_history() {
    let works = works();
    works.write("units/one.ubr", unit("ONE-1", 1612));
    works.git(&["add", "-A"]);
    taken(&works, &["-m", "in order"]);
    works.write("units/one.ubr", unit("ONE-1", 1630));
    works.git(&["add", "-A"]);
    refused(&works, &["-m", "an error"], "out-of-limit");
    // Mended in the folder, but what is staged still has it.
    works.write("units/one.ubr", unit("ONE-1", 1611));
    refused(&works, &["-m", "an error"], "out-of-limit");
    works.git(&["add", "-A"]);
    taken(&works, &["-m", "mended"]);
    // An error that stands in the folder only is not committed, so it does not matter yet.
    works.write("units/one.ubr", unit("ONE-1", 1630));
    works.write("units/two.ubr", unit("TWO-1", 1618));
    works.git(&["add", "units/two.ubr"]);
    taken(&works, &["-m", "another"]);
    refused(&works, &["-a", "-m", "all"], "out-of-limit");
    works.git(&["checkout", "-q", "."]);
    // A new record, and one that a plan makes wrong.
    works.write("units/three.ubr", unit("THREE-1", 1640));
    works.git(&["add", "-A"]);
    refused(&works, &["-m", "new"], "THREE-1");
    works.git(&["rm", "-q", "-f", "units/three.ubr"]);
    works.write("plan.ubr", PLAN.replace("1620", "1615"));
    works.git(&["add", "-A"]);
    refused(&works, &["-m", "tighter"], "TWO-1");
    // Nothing is left behind, and the repository is as it was.
    assert_eq!(
        works.git(&["rev-parse", "--show-toplevel"]),
        works
            .path()
            .canonicalize()
            .expect("it is there")
            .to_string_lossy()
    );
    assert_eq!(works.git(&["status", "--short"]), "M  plan.ubr");
}

#[cfg(unix)]
#[test]
fn the_hook_works_in_a_second_working_tree_and_from_a_folder_within() {
    let works = works();
    let beside = tempfile::tempdir().expect("a temporary folder");
    let tree = beside.path().join("second");
    works.git(&["worktree", "add", "-q", &tree.to_string_lossy()]);
    std::fs::write(tree.join("units/one.ubr"), unit("ONE-1", 1630)).expect("a temporary file");
    let mut command = works.command();
    with_program(&mut command)
        .current_dir(tree.join("units"))
        .args(["commit", "-q", "-a", "-m", "an error"]);
    let output = command.output().expect("git is installed");
    assert!(!output.status.success());
    assert!(
        String::from_utf8_lossy(&output.stdout).contains("out-of-limit")
            || String::from_utf8_lossy(&output.stderr).contains("out-of-limit"),
        "{output:?}"
    );
}

#[cfg(unix)]
#[test]
fn the_lines_of_a_build_run_and_leave_their_report() {
    let lines: Vec<String> = blocks("yaml")
        .iter()
        .flat_map(|block| block.lines())
        .filter_map(|line| line.find("stagebook check").map(|at| line[at..].to_owned()))
        .collect();
    assert_eq!(lines.len(), 2);
    for (height, status) in [(1610, 0), (1630, 1)] {
        let works = works();
        works.write("units/one.ubr", unit("ONE-1", height));
        for line in &lines {
            let mut command = Command::new("sh");
            command.args(["-c", line]).current_dir(works.path());
            let output = with_program(&mut command).output().expect("a shell");
            assert_eq!(output.status.code(), Some(status), "{line}: {output:?}");
            let report = line.rsplit(' ').next().expect("a file");
            let report = std::fs::read_to_string(works.path().join(report)).expect("a report");
            assert_eq!(
                report.contains("out-of-limit: ")
                    || report.contains("\"ruleId\": \"out-of-limit\""),
                status == 1,
                "{line}"
            );
        }
    }
}
