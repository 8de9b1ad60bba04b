//! The physics room against outside libraries.
//!
//! The comparison needs Python with the packages of `tests/external/requirements.txt`. The environment
//! variable `STAGEBOOK_PYTHON` names that interpreter; where it is not set the comparison is skipped, and
//! the output says so, because a newcomer's machine need not have Python at all.

use stagebook::physics::outside::outside_check_rows;
use std::io::Write;
use std::process::{Command, Stdio};

#[test]
fn physics_agrees_with_outside_libraries() {
    let Some(python) = std::env::var_os("STAGEBOOK_PYTHON") else {
        println!(
            "skipped: STAGEBOOK_PYTHON is not set, so no result was compared with the outside libraries"
        );
        return;
    };
    let script = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/external/physics_against_libraries.py"
    );
    let mut child = Command::new(&python)
        .arg(script)
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
    // The script reads everything before it writes, so this can't block on a full output pipe. A script that
    // ends early closes the pipe; what it said is shown below.
    let written = stdin.write_all(outside_check_rows().as_bytes());
    drop(stdin);
    let output = child.wait_with_output().expect("the script ends");
    let printed = String::from_utf8_lossy(&output.stdout);
    let failed: Vec<&str> = printed
        .lines()
        .filter(|line| line.starts_with("FAIL"))
        .collect();
    let errors = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{}\n{errors}", failed.join("\n"));
    assert!(
        written.is_ok(),
        "the script did not read all rows: {written:?}\n{errors}"
    );
    let last = printed.lines().last().unwrap_or_default();
    println!("{last}");
    assert!(
        last.ends_with(" passed, 0 failed"),
        "the last line does not sum up: {last:?}"
    );
}
