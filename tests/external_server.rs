//! The language server as independent clients see it: every message held against the protocol's types.
//!
//! Needs the packages of `tests/external/requirements.txt`. The environment variable `STAGEBOOK_PYTHON` names an
//! interpreter that has them; where it is not set the tests are skipped, and the output says so.

mod common;

use common::project;
use std::process::Command;

#[test]
fn the_server_speaks_the_protocol_with_an_independent_client() {
    let Some(python) = std::env::var_os("STAGEBOOK_PYTHON") else {
        println!("skipped: STAGEBOOK_PYTHON names no interpreter with the packages");
        return;
    };
    // Else the folders of the last three runs are kept, fifty megabytes each.
    let folder = tempfile::tempdir().expect("the system gives a temporary folder");
    let said = Command::new(python)
        .args(["-m", "pytest", "-q", "-x", "-p", "no:cacheprovider"])
        .arg("--basetemp")
        .arg(folder.path().join("pytest"))
        .args(["-o", "asyncio_default_fixture_loop_scope=function"])
        .args([
            "tests/external/language_server.py",
            "tests/external/language_server_actions.py",
            "tests/external/language_server_comfort.py",
            "tests/external/language_server_tells.py",
        ])
        .env("STAGEBOOK_PROGRAM", env!("CARGO_BIN_EXE_stagebook"))
        .env("PYTHONDONTWRITEBYTECODE", "1")
        .current_dir(project())
        .output()
        .expect("the interpreter can be started");
    assert!(
        said.status.success(),
        "{}\n{}",
        String::from_utf8_lossy(&said.stdout),
        String::from_utf8_lossy(&said.stderr)
    );
}
