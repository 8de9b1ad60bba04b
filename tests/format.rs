//! What the formatter makes of a document, and that the project's own documents are in its layout.
//!
//! Each file under `tests/fixtures/format` holds one input and, below a line `---`, its canonical layout. Signs that a text
//! file can't show plainly are written `\t`, `\r` and `\u{feff}`.
//!
//! `UPDATE_EXPECT=1 cargo test --test format` writes what the formatter makes now below each input; read the
//! difference before keeping it.

mod common;

use stagebook::syntax::format::{apply, format, format_lines};
use stagebook::syntax::parse;
use std::path::PathBuf;

const RULE: &str = "\n---\n";

fn plain(text: &str) -> String {
    text.replace("\\t", "\t")
        .replace("\\r", "\r")
        .replace("\\u{feff}", "\u{feff}")
}

fn visible(text: &str) -> String {
    text.replace('\t', "\\t")
        .replace('\r', "\\r")
        .replace('\u{feff}', "\\u{feff}")
}

fn formatted(text: &str) -> String {
    let tree = parse(text);
    let edits = format(&tree).expect("the formatter keeps what the document says");
    apply(text, &edits)
}

fn cases() -> Vec<PathBuf> {
    let folder = common::project().join("tests/fixtures/format");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the cases are part of the project")
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "ubr"))
        .collect();
    paths.sort();
    paths
}

#[test]
fn every_case_gives_the_layout_written_below_it() {
    let update = std::env::var_os("UPDATE_EXPECT").is_some();
    let mut wrong = String::new();
    let mut seen = 0;
    for path in cases() {
        let case = std::fs::read_to_string(&path).expect("a case is UTF-8");
        let (input, expected) = match case.find(RULE) {
            Some(at) => (&case[..at + 1], &case[at + RULE.len()..]),
            None => (case.as_str(), ""),
        };
        let made = visible(&formatted(&plain(input)));
        seen += 1;
        if made == expected {
            continue;
        }
        if update {
            std::fs::write(&path, format!("{input}{}{made}", &RULE[1..]))
                .expect("the case can be written");
        } else {
            wrong.push_str(&format!(
                "{}\n--- expected\n{expected}--- made\n{made}\n",
                path.display()
            ));
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(seen >= 7, "found {seen} cases only");
}
