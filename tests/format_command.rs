//! `stagebook format` as a person runs it: streams, exit statuses, what is written and what is never touched.

mod common;

use common::{Small, stagebook, stagebook_reads};

const MESSY: &str =
    "unit T-1\n  plan works\n\n\nstage winding\n   turns=277   \n   height = 1612 mm\n";
const CANONICAL: &str =
    "unit T-1\n  plan      works\n\nstage winding\n  turns  = 277\n  height = 1612 mm\n";

#[test]
fn a_file_is_brought_into_its_layout_and_said_so() {
    let small = Small::unchecked(&[]);
    let path = small.write("T-1.ubr", MESSY);
    small.write("notes.txt", MESSY);
    let said = stagebook(small.path(), &["format", "."]).expect(0);
    assert_eq!(
        said.out,
        "T-1.ubr: 4 lines formatted\n1 document, 1 formatted\n"
    );
    assert_eq!(said.err, "");
    let read = |path| std::fs::read_to_string(path).expect("a temporary file");
    assert_eq!(read(&path), CANONICAL);
    assert_eq!(read(&small.path().join("notes.txt")), MESSY);
    let said = stagebook(small.path(), &["format", "T-1.ubr"]).expect(0);
    assert_eq!(said.out, "1 document, all in canonical layout\n");
    let names: Vec<_> = std::fs::read_dir(small.path())
        .expect("a temporary folder")
        .filter_map(|entry| entry.ok().map(|entry| entry.file_name()))
        .collect();
    assert_eq!(names.len(), 2, "nothing is left behind: {names:?}");
}

#[test]
fn check_writes_nothing_and_ends_with_1_where_something_would_change() {
    let small = Small::unchecked(&[]);
    let path = small.write("T-1.ubr", MESSY);
    small.write("T-2.ubr", CANONICAL);
    let said = stagebook(small.path(), &["format", "--check", "."]).expect(1);
    assert_eq!(
        said.out,
        "T-1.ubr: 4 lines would be formatted\n2 documents, 1 would be formatted\n"
    );
    assert_eq!(
        std::fs::read_to_string(&path).expect("a temporary file"),
        MESSY
    );
    stagebook(small.path(), &["format", "--check", "T-2.ubr"]).expect(0);
}

#[test]
fn diff_writes_nothing_and_can_be_applied() {
    let small = Small::unchecked(&[]);
    let path = small.write("T-1.ubr", MESSY);
    let said = stagebook(small.path(), &["format", "--diff", "T-1.ubr"]).expect(0);
    assert_eq!(
        said.out,
        "--- T-1.ubr\n+++ T-1.ubr\n@@ -1,7 +1,6 @@\n unit T-1\n-  plan works\n+  plan      works\n \n-\n stage winding\n-   turns=277   \n-   height = 1612 mm\n+  turns  = 277\n+  height = 1612 mm\n"
    );
    assert_eq!(
        std::fs::read_to_string(&path).expect("a temporary file"),
        MESSY
    );
    let both = stagebook(small.path(), &["format", "--diff", "--check", "T-1.ubr"]).expect(1);
    assert_eq!(both.out, said.out);
    let nothing = stagebook_reads(
        small.path(),
        &["format", "--diff", "-"],
        CANONICAL.as_bytes(),
    );
    assert_eq!(nothing.expect(0).out, "");
}

/// git reads what `--diff` says of every example, made unlike its layout, and gives what `format` writes.
#[test]
fn diffs_of_the_examples_are_applied_by_git() {
    let small = Small::unchecked(&[]);
    let unit = std::fs::read_to_string(common::works().join("units/KFT-0412-1.ubr"))
        .expect("an example is UTF-8");
    let mut messy = String::new();
    for (number, line) in unit.lines().enumerate() {
        match number % 7 {
            0 => messy.push_str(&line.replace(" = ", "=")),
            3 => messy.push_str(&format!("{line}   ")),
            _ => messy.push_str(line),
        }
        messy.push('\n');
        if number % 50 == 0 {
            messy.push_str("\n\n");
        }
    }
    messy.truncate(messy.trim_end().len());
    small.write("unit.ubr", &messy);
    let diff = stagebook(small.path(), &["format", "--diff", "unit.ubr"]).expect(0);
    small.write("changes.diff", &diff.out);
    let applied = std::process::Command::new("git")
        .args(["apply", "-p0", "--unsafe-paths", "changes.diff"])
        .current_dir(small.path())
        .env("GIT_CEILING_DIRECTORIES", small.path())
        .output();
    let applied = match applied {
        Ok(applied) => applied,
        Err(error) => {
            println!("skipped: git does not start ({error})");
            return;
        }
    };
    assert!(
        applied.status.success(),
        "{}",
        String::from_utf8_lossy(&applied.stderr)
    );
    let patched = std::fs::read_to_string(small.path().join("unit.ubr")).expect("a temporary file");
    let piped = stagebook_reads(small.path(), &["format", "-"], messy.as_bytes()).expect(0);
    assert_eq!(patched, piped.out);
    assert_ne!(patched, messy);
}

#[test]
fn standard_input_goes_to_standard_output() {
    let small = Small::unchecked(&[]);
    let said = stagebook_reads(small.path(), &["format", "-"], MESSY.as_bytes()).expect(0);
    assert_eq!(said.out, CANONICAL);
    let said = stagebook_reads(small.path(), &["format", "-"], CANONICAL.as_bytes()).expect(0);
    assert_eq!(said.out, CANONICAL);
    let named = ["format", "--check", "-", "--name", "units/T-1.ubr"];
    let said = stagebook_reads(small.path(), &named, MESSY.as_bytes()).expect(1);
    assert!(
        said.out.starts_with("units/T-1.ubr: 4 lines"),
        "{}",
        said.out
    );
    let said = stagebook_reads(small.path(), &["format", "-", "x.ubr"], b"").expect(2);
    assert!(said.err.contains("expected `-` alone"), "{}", said.err);
}

#[test]
fn carriage_returns_and_a_byte_order_mark_are_kept() {
    let small = Small::unchecked(&[]);
    let crlf = format!("\u{feff}{}", MESSY.replace('\n', "\r\n"));
    let said = stagebook_reads(small.path(), &["format", "-"], crlf.as_bytes()).expect(0);
    assert_eq!(
        said.out,
        format!("\u{feff}{}", CANONICAL.replace('\n', "\r\n"))
    );
}

#[test]
fn a_file_that_is_no_text_is_left_and_the_others_are_formatted() {
    let small = Small::unchecked(&[]);
    let mut bytes = MESSY.as_bytes().to_vec();
    bytes.extend(b"  note \"caf\xe9\"\n");
    let bad = small.write("bad.ubr", &bytes);
    let good = small.write("good.ubr", MESSY);
    let said = stagebook(small.path(), &["format", "."]).expect(2);
    assert_eq!(
        said.err,
        "stagebook: cannot format bad.ubr: expected UTF-8 text, found the byte 0xE9 in line 8; it was left as it is\n"
    );
    assert_eq!(std::fs::read(&bad).expect("a temporary file"), bytes);
    assert_eq!(
        std::fs::read_to_string(&good).expect("a temporary file"),
        CANONICAL
    );
    assert!(said.out.contains("1 document, 1 formatted"), "{}", said.out);
    let said = stagebook_reads(small.path(), &["format", "-"], &bytes).expect(2);
    assert_eq!(said.out, "");
}

#[test]
fn what_cannot_be_read_or_written_is_said() {
    let small = Small::unchecked(&[]);
    let said = stagebook(small.path(), &["format", "missing.ubr"]).expect(2);
    assert!(said.err.contains("cannot read missing.ubr"), "{}", said.err);
    let said = stagebook(small.path(), &["format", "."]).expect(2);
    assert!(said.err.contains("no .ubr file below"), "{}", said.err);
    let path = small.write("T-1.ubr", MESSY);
    let mut permissions = std::fs::metadata(&path)
        .expect("a temporary file")
        .permissions();
    permissions.set_readonly(true);
    std::fs::set_permissions(&path, permissions).expect("a temporary file");
    let said = stagebook(small.path(), &["format", "T-1.ubr"]).expect(2);
    assert!(said.err.contains("it may only be read"), "{}", said.err);
    assert_eq!(
        std::fs::read_to_string(&path).expect("a temporary file"),
        MESSY
    );
}

#[test]
fn logs_and_attachments_are_not_touched() {
    let small = Small::unchecked(&[]);
    let log = "time , pressure\n  2026-03-28 10:00,812.5   \n\n\n";
    let path = small.write("logs/drying.csv", log);
    small.write("T-1.ubr", MESSY);
    stagebook(small.path(), &["format", "."]).expect(0);
    assert_eq!(
        std::fs::read_to_string(&path).expect("a temporary file"),
        log
    );
}

#[cfg(unix)]
#[test]
fn a_link_stays_a_link_and_permissions_stay() {
    use std::os::unix::fs::PermissionsExt;
    let small = Small::unchecked(&[]);
    let path = small.write("real.ubr", MESSY);
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640))
        .expect("a temporary file");
    let link = small.path().join("link.ubr");
    std::os::unix::fs::symlink("real.ubr", &link).expect("a temporary file");
    stagebook(small.path(), &["format", "link.ubr"]).expect(0);
    let kind = std::fs::symlink_metadata(&link).expect("a temporary file");
    assert!(kind.file_type().is_symlink());
    assert_eq!(
        std::fs::read_to_string(&path).expect("a temporary file"),
        CANONICAL
    );
    let mode = std::fs::metadata(&path)
        .expect("a temporary file")
        .permissions()
        .mode();
    assert_eq!(mode & 0o777, 0o640);
}
