//! The cases of `grammar/tree-sitter-ubr/test/corpus`, in tree-sitter's own form: a name between rules of
//! `=`, a text, a rule of `-`, and the tree.

use super::documents::{files_below, root};
use super::tree;

struct Case {
    name: String,
    text: String,
    tree: String,
}

fn is_rule(line: &str, sign: char) -> bool {
    line.len() >= 3 && line.chars().all(|character| character == sign)
}

fn cases(source: &str) -> Vec<Case> {
    let lines: Vec<&str> = source.lines().collect();
    let mut heads = Vec::new();
    let mut at = 0;
    while at + 2 < lines.len() {
        if is_rule(lines[at], '=') && is_rule(lines[at + 2], '=') {
            heads.push(at);
            at += 3;
        } else {
            at += 1;
        }
    }
    let ends = heads.iter().skip(1).copied().chain([lines.len()]);
    heads
        .iter()
        .zip(ends)
        .map(|(head, end)| {
            let body = &lines[head + 3..end];
            let rule = body
                .iter()
                .position(|line| is_rule(line, '-'))
                .unwrap_or_else(|| panic!("no rule of `-` in the case {}", lines[head + 1]));
            Case {
                name: lines[head + 1].to_owned(),
                text: body[..rule].join("\n"),
                tree: body[rule + 1..].join("\n"),
            }
        })
        .collect()
}

/// A tree as text with the white space that `to_sexp` has.
fn plain(tree: &str) -> String {
    let words: Vec<&str> = tree.split_whitespace().collect();
    words.join(" ").replace(" )", ")")
}

/// The cases whose tree is another one.
pub fn disagreements() -> Vec<String> {
    let folder = root().join("grammar/tree-sitter-ubr/test/corpus");
    let mut wrong = Vec::new();
    let mut count = 0;
    for path in files_below(&folder, "txt") {
        let source = std::fs::read_to_string(&path).expect("a corpus file is UTF-8");
        for case in cases(&source) {
            count += 1;
            let found = tree::parse(&case.text).root_node().to_sexp();
            if found != plain(&case.tree) {
                wrong.push(format!(
                    "{} in {}\n  expected {}\n  found    {found}",
                    case.name,
                    path.display(),
                    plain(&case.tree)
                ));
            }
        }
    }
    assert!(count >= 20, "only {count} cases of the corpus were found");
    wrong
}
