//! The documents on which the grammars are compared: all of this project, and wrong ones made of them.

use stagebook::syntax::STATEMENT_WORDS;
use std::path::{Path, PathBuf};
use std::sync::OnceLock;

/// A text with a name that leads to it.
pub struct Document {
    /// Where it comes from.
    pub name: String,
    /// What it holds.
    pub text: String,
}

pub fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

/// All files below a folder whose names end so, in order.
pub fn files_below(folder: &Path, extension: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(folder) = folders.pop() {
        let Ok(entries) = std::fs::read_dir(&folder) else {
            continue;
        };
        for entry in entries.flatten() {
            let path = entry.path();
            if path.is_dir() {
                if !path.ends_with("node_modules") {
                    folders.push(path);
                }
            } else if path.extension().is_some_and(|found| found == extension) {
                found.push(path);
            }
        }
    }
    found.sort();
    found
}

/// The `.ubr` files below a folder.
pub fn below(folder: &Path) -> Vec<Document> {
    let found: Vec<Document> = files_below(folder, "ubr")
        .iter()
        .map(|path| Document {
            name: path
                .strip_prefix(root())
                .unwrap_or(path)
                .display()
                .to_string(),
            text: std::fs::read_to_string(path).expect("a document of this project is UTF-8"),
        })
        .collect();
    assert!(!found.is_empty(), "no documents in {}", folder.display());
    found
}

/// Every document that stands in this project as a file.
pub fn own() -> Vec<Document> {
    ["examples", "src/plan/builtin", "tests/fixtures", "grammar"]
        .iter()
        .flat_map(|folder| below(&root().join(folder)))
        .map(|document| match document.text.split_once("\n---\n") {
            // An input with the faults that it must give below a rule; some signs are written out.
            Some((input, _)) if document.name.contains("fixtures/faults") => Document {
                name: document.name,
                text: input
                    .replace("\\t", "\t")
                    .replace("\\r", "\r")
                    .replace("\\0", "\0")
                    .replace("\\u{feff}", "\u{feff}"),
            },
            _ => document,
        })
        .collect()
}

/// All of them: the project's own, the same with other line ends, and wrong ones.
pub fn all() -> &'static [Document] {
    static ALL: OnceLock<Vec<Document>> = OnceLock::new();
    ALL.get_or_init(make)
}

fn make() -> Vec<Document> {
    let own = own();
    let mut all = statement_words_everywhere();
    for document in own {
        all.push(Document {
            name: format!("{} with CR LF", document.name),
            text: document.text.replace('\n', "\r\n"),
        });
        if document.name.contains("fixtures/grammar") {
            all.extend(mistyped(&document));
        }
        all.push(document);
    }
    all
}

/// Each statement word in each document and place, as a statement, as the name of a reading, in a row.
fn statement_words_everywhere() -> Vec<Document> {
    let mut documents = Vec::new();
    let places = [
        "plan p\n",
        "plan p\nstage s\n  ",
        "plan p\nstage s\n  reading r : length\n    ",
        "plan p\nstage s\n  log l\n    ",
        "plan p\nstage s\n  calc c = (1 +\n      ",
        "register r\n",
        "register r\ninstrument I\n  ",
        "unit U\n",
        "unit U\n  ",
        "unit U\ndesign\n  ",
        "unit U\nstage s\n  ",
        "unit U\nstage s\n  x = 3\n    ",
        "unit U\nstage s\n  table t\n    ",
        "unit U\nstage s\n  table t\n    a  b\n    ",
        "unit U\nstage s\n  log l from \"f\"\n    ",
        "unit U\nnonconformity N\n  ",
        "",
        "# no first statement yet\n  ",
    ];
    let rests = [
        "",
        " x",
        " \"text\"",
        " = 3 mm",
        "[HV] = 3",
        " 4 from \"x\"",
        " r because \"x\"",
        "-x = 2",
        ".y",
        " <= 4 mm",
        "  512  513",
        "(mm)  b",
    ];
    // Words that the grammars treat each in its own way are tried everywhere, the others in a few places.
    let special = [
        "accept", "at", "column", "design", "limit", "log", "plan", "register", "stage", "table",
        "turns", "unit",
    ];
    for word in STATEMENT_WORDS
        .iter()
        .chain(&["at", "by", "on", "with", "turns"])
    {
        let everywhere = special.contains(word);
        for (number, place) in places.iter().enumerate() {
            if !everywhere && ![2, 10, 13].contains(&number) {
                continue;
            }
            for rest in rests {
                documents.push(Document {
                    name: format!("place {number} with `{word}{rest}`"),
                    text: format!("{place}{word}{rest}\n  note \"below\"\nstage after\n  y = 4\n"),
                });
            }
        }
    }
    documents
}

/// Texts as they stand while somebody types: each line cut off, doubled, moved, or with a sign too many.
/// Of the document only the first line and the section around the line are kept.
fn mistyped(document: &Document) -> Vec<Document> {
    let lines: Vec<&str> = document.text.split('\n').collect();
    let outermost = |line: &&str| line.starts_with(|first: char| first.is_alphabetic());
    let Some(head) = lines.iter().position(outermost) else {
        return Vec::new();
    };
    let mut documents = Vec::new();
    for (at, line) in lines.iter().enumerate() {
        if line.trim().is_empty() {
            continue;
        }
        let begin = (0..=at).rev().find(|at| outermost(&lines[*at]));
        let end = (at + 1..lines.len()).find(|at| outermost(&lines[*at]));
        let before = &lines[begin.unwrap_or(0)..at];
        let after = &lines[at + 1..(end.unwrap_or(lines.len()) + 1).min(lines.len())];
        let head = if begin.unwrap_or(0) > head {
            &lines[head..=head]
        } else {
            &[]
        };
        for (what, variant) in variants(line) {
            let parts = [head, before, &[variant.as_str()], after].concat();
            documents.push(Document {
                name: format!("{}, line {} {what} (`{variant}`)", document.name, at + 1),
                text: parts.join("\n"),
            });
        }
        // The text ends in the middle of a line that has no end.
        documents.push(Document {
            name: format!("{}, up to line {}", document.name, at + 1),
            text: [head, before, &[line]].concat().join("\n"),
        });
    }
    documents
}

fn variants(line: &str) -> Vec<(&'static str, String)> {
    let content = line.trim_start();
    let indent = &line[..line.len() - content.len()];
    let mut variants = vec![
        ("without its indentation", content.to_owned()),
        ("deeper by one", format!("  {line}")),
        ("deeper by three", format!("      {line}")),
        ("with a tab", format!("\t{line}")),
        ("behind a letter", format!("{indent}x{content}")),
        ("with an open bracket", format!("{line} (")),
        ("with an open index", format!("{indent}a[{content}")),
        ("with a closing bracket", format!("{line} )]")),
        ("with a comma", format!("{line},")),
        ("with `and`", format!("{line} and")),
        ("with a quote", format!("{line} \"")),
        ("with an equals sign", format!("{line} =")),
        ("with a stray sign", format!("{line} $")),
        ("as a comment", format!("{indent}# {content}")),
        ("gone", String::new()),
    ];
    for (end, _) in content.char_indices().skip(1) {
        let cut = &content[..end];
        if cut.ends_with([' ', '[', '(', '"', '=', '.']) {
            variants.push(("cut off", format!("{indent}{}", cut.trim_end())));
        }
    }
    variants
}

/// Whether some lines are indented by tabs and some by blanks. A TextMate grammar can only compare how lines
/// begin, not how many columns that takes; the parser asks for blanks there anyhow.
pub fn has_mixed_indentation(text: &str) -> bool {
    let indents = || {
        text.lines()
            .map(|line| &line[..line.len() - line.trim_start().len()])
    };
    indents().any(|indent| indent.contains('\t')) && indents().any(|indent| indent.contains(' '))
}
