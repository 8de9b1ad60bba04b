//! Real editors with the files of `editors/`, each driven by the script `editors/NAME/test/run`.
//!
//! A script ends with 77 where its editor is not installed; then the test says that it was skipped. With
//! `STAGEBOOK_EDITORS=all` in the environment that is a failure, with `quick` for all but VS Code: `.ci/run` installs
//! these, `.ci/run --all` that one too.

use std::path::Path;
use std::process::Command;

/// What a script ends with where its editor is not there.
const NOT_INSTALLED: i32 = 77;

fn drive(editor: &str) {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("editors/{editor}/test/run"));
    let output = Command::new(&script)
        .env("STAGEBOOK", env!("CARGO_BIN_EXE_stagebook"))
        .output()
        .expect("the script can be started");
    let said = format!(
        "{}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    let must_run = match std::env::var("STAGEBOOK_EDITORS").as_deref() {
        Ok("all") => true,
        Ok("quick") => editor != "vscode",
        _ => false,
    };
    match output.status.code() {
        Some(NOT_INSTALLED) if !must_run => println!("skipped: {}", said.trim_end()),
        _ => assert!(output.status.success(), "{said}"),
    }
}

#[test]
fn neovim() {
    drive("neovim");
}

#[test]
fn emacs() {
    drive("emacs");
}

#[test]
fn vim() {
    drive("vim");
}

#[test]
fn vscode() {
    drive("vscode");
}

/// Without the editor, which cannot be installed where the tests run: its file, and the server spoken to as it does.
#[test]
fn helix() {
    drive("helix");
}
