//! The grammars for editors, held against the real parser.
//!
//! `src/syntax` decides what a text means. The tree-sitter and the TextMate grammar only colour and fold
//! it, but what they show has to be what the parser reads: on every document of this project, and on many
//! thousand wrong ones, a statement is the same statement on the same line in all three.
//!
//! The TextMate grammar runs in the engine that editors use, under Node. Without Node, or without the
//! modules of `grammar/textmate/test/package.json`, that part says that it was skipped; with
//! `STAGEBOOK_EDITORS` it must run.

mod annotations;
mod corpus;
mod documents;
mod edits;
mod parser;
mod text_mate;
mod tree;

use documents::Document;
use std::collections::BTreeMap;
use tree_sitter::{Language, Query};

fn language() -> Language {
    tree_sitter_ubr::LANGUAGE.into()
}

/// The first few of many complaints, and how many there are.
fn report(wrong: &[String]) {
    let shown: Vec<&String> = wrong.iter().take(12).collect();
    assert!(
        wrong.is_empty(),
        "{} disagreements, the first of them:\n{}",
        wrong.len(),
        shown
            .iter()
            .map(|line| line.as_str())
            .collect::<Vec<_>>()
            .join("\n")
    );
}

#[test]
fn what_the_parser_takes_without_a_fault_the_tree_has_no_error_in() {
    let mut wrong = Vec::new();
    let mut clean = 0;
    for (document, read) in documents::all().iter().zip(parser::all()) {
        if read.faults > 0 {
            continue;
        }
        clean += 1;
        if let Some(line) = tree::first_error(&document.text) {
            wrong.push(format!("{}:{}", document.name, line + 1));
        }
    }
    report(&wrong);
    assert!(
        clean > 500,
        "only {clean} documents without a fault: the corpus is not what it was"
    );
}

#[test]
fn statements_are_the_same_in_the_tree_as_in_the_parser() {
    let mut wrong = Vec::new();
    let mut compared = 0;
    for (document, read) in documents::all().iter().zip(parser::all()) {
        let found = tree::statements(&document.text, &read.line_starts);
        let mut sound_before = true;
        for line in 0..read.lines() {
            let place = || format!("{}:{}", document.name, line + 1);
            let seen = found.get(&line);
            match read.at(line) {
                None => {
                    if let Some(seen) = seen
                        && !read.broken_lines.contains(&line)
                    {
                        wrong.push(format!(
                            "{}: no statement begins here, the tree has {}",
                            place(),
                            seen.kind
                        ));
                    }
                }
                Some(statement) if !statement.broken => {
                    compared += 1;
                    if seen.is_none_or(|seen| seen.kind != statement.kind) {
                        wrong.push(format!(
                            "{}: {} to the parser, {} in the tree",
                            place(),
                            statement.kind,
                            seen.map_or("nothing", |seen| seen.kind.as_str())
                        ));
                    } else if statement.sound_above
                        && sound_before
                        && seen.is_some_and(|seen| seen.parent != statement.parent)
                    {
                        wrong.push(format!("{}: it stands below another statement", place()));
                    }
                }
                // Of a broken line the tree may keep the statement or not; it must not become another.
                Some(statement) => {
                    if let Some(seen) = seen
                        && seen.kind != statement.kind
                    {
                        wrong.push(format!(
                            "{}: a broken {} to the parser, {} in the tree",
                            place(),
                            statement.kind,
                            seen.kind
                        ));
                    }
                }
            }
            sound_before = read
                .at(line)
                .map_or(sound_before, |statement| !statement.broken);
        }
    }
    report(&wrong);
    assert!(
        compared > 50_000,
        "only {compared} lines compared: the corpus is not what it was"
    );
}

#[test]
fn statement_words_have_the_colour_of_a_keyword_exactly_where_the_parser_sees_them() {
    let documents = documents::all();
    let Some(colours) = text_mate::statement_words(documents) else {
        return;
    };
    let mut wrong = Vec::new();
    let mut compared = 0;
    for ((document, read), lines) in documents.iter().zip(parser::all()).zip(&colours) {
        assert_eq!(lines.len(), read.lines(), "{}", document.name);
        if documents::has_mixed_indentation(&document.text) {
            continue;
        }
        for (line, shown) in lines.iter().enumerate() {
            let statement = read.at(line);
            let below_broken = statement.is_some_and(|statement| !statement.sound_above);
            let goes_on_broken = statement.is_none() && read.broken_lines.contains(&line);
            // Nothing stands below a header; the grammar cannot tell how deep one is and sees rows there.
            let below_header = std::iter::successors(statement, |inner| {
                inner.parent.and_then(|line| read.at(line))
            })
            .skip(1)
            .any(|above| above.kind == "header_row");
            if below_broken || goes_on_broken || below_header {
                continue;
            }
            let expected = statement.and_then(|statement| statement.word.clone());
            compared += usize::from(expected.is_some());
            if shown.word != expected {
                wrong.push(format!(
                    "{}:{}: statement word at {expected:?}, keyword at {:?}",
                    document.name,
                    line + 1,
                    shown.word
                ));
            }
            let reading = statement.is_some_and(|statement| {
                matches!(statement.kind.as_str(), "reading" | "design_value")
            });
            if shown.reading != reading {
                wrong.push(format!(
                    "{}:{}: a reading is {reading} to the parser, {} in colour",
                    document.name,
                    line + 1,
                    shown.reading
                ));
            }
        }
    }
    report(&wrong);
    assert!(
        compared > 50_000,
        "only {compared} words compared: the corpus is not what it was"
    );
}

#[test]
fn the_scanner_knows_the_statement_words_of_the_parser() {
    let header =
        std::fs::read_to_string(documents::root().join("grammar/tree-sitter-ubr/src/words.h"))
            .expect("the header is part of the project");
    let listed: Vec<&str> = header
        .split_once('{')
        .map_or("", |(_, rest)| rest)
        .split('"')
        .skip(1)
        .step_by(2)
        .collect();
    let mut known: Vec<&str> = stagebook::syntax::STATEMENT_WORDS.to_vec();
    known.extend(["at", "by", "on", "with"]);
    known.sort_unstable();
    assert_eq!(listed, known, "words.h and src/syntax/words.rs differ");
    let longest = known.iter().map(|word| word.len()).max().unwrap_or(0);
    assert!(header.contains(&format!("#define LONGEST_WORD {longest}\n")));
}

#[test]
fn an_edited_tree_is_that_of_the_edited_text() {
    let mut wrong = Vec::new();
    let mut compared = 0;
    for document in edits::documents() {
        let (disagreements, sound) = edits::disagreements(&document, 400);
        wrong.extend(disagreements);
        compared += sound;
    }
    report(&wrong);
    assert!(compared > 1_000, "only {compared} texts compared");
}

#[test]
fn each_corpus_case_gives_the_tree_that_stands_below_it() {
    report(&corpus::disagreements());
}

#[test]
fn queries_are_valid_and_colour_nothing_twice() {
    let folder = documents::root().join("grammar/tree-sitter-ubr/queries");
    let mut paths = documents::files_below(&folder, "scm");
    paths.sort();
    assert!(paths.len() >= 8, "queries are missing: {paths:?}");
    for path in &paths {
        let source = std::fs::read_to_string(path).expect("a query is UTF-8");
        if let Err(error) = Query::new(&language(), &source) {
            panic!("{}: {error}", path.display());
        }
        if path.ends_with("highlights.scm") {
            let mut wrong = Vec::new();
            for document in documents::own() {
                wrong.extend(tree::captured_twice(&document, &source));
            }
            report(&wrong);
        }
    }
}

#[test]
fn the_colours_of_helix_are_on_the_same_nodes() {
    let folder = documents::root().join("grammar/tree-sitter-ubr/queries/helix/highlights.scm");
    let helix = std::fs::read_to_string(folder).expect("the query is part of the project");
    let places = |colours: Colours| -> Vec<(usize, usize, usize)> {
        let mut places: Vec<_> = colours
            .into_iter()
            .flat_map(|(line, ranges)| {
                ranges
                    .into_iter()
                    .map(move |(from, to, _)| (line, from, to))
            })
            .collect();
        places.sort_unstable();
        places
    };
    for document in documents::own() {
        assert_eq!(
            places(tree::captures(&document.text, &helix)),
            places(tree::captures(
                &document.text,
                tree_sitter_ubr::HIGHLIGHTS_QUERY
            )),
            "{}",
            document.name
        );
    }
}

#[test]
fn tree_sitter_colours_what_the_annotated_files_say() {
    let folder = documents::root().join("grammar/tree-sitter-ubr/test/highlight");
    let mut wrong = Vec::new();
    for document in documents::below(&folder) {
        let colours = tree::captures(&document.text, tree_sitter_ubr::HIGHLIGHTS_QUERY);
        wrong.extend(annotations::disagreements(&document, &colours));
    }
    report(&wrong);
}

#[test]
fn text_mate_colours_what_the_annotated_files_say() {
    let folder = documents::root().join("grammar/textmate/test");
    let documents: Vec<Document> = documents::below(&folder);
    let Some(colours) = text_mate::scopes(&documents) else {
        return;
    };
    let mut wrong = Vec::new();
    for (document, colours) in documents.iter().zip(&colours) {
        wrong.extend(annotations::disagreements(document, colours));
    }
    report(&wrong);
}

/// Colours of a document: for each line the ranges in bytes with all names that hold there.
pub type Colours = BTreeMap<usize, Vec<(usize, usize, Vec<String>)>>;
