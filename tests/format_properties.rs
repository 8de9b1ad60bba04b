//! What must hold of the formatter for any document at all: it changes blanks and line ends only, says the same twice,
//! leaves broken lines as they are, and its answer hangs on what is written, not on how it was laid out.

use proptest::prelude::*;
use stagebook::syntax::format::{Edit, apply, format, format_lines};
use stagebook::syntax::{FaultKind, NodeId, NodeKind, TokenKind, Tree, parse};
use std::collections::HashSet;
use std::path::{Path, PathBuf};

fn documents_below(folder: &Path, found: &mut Vec<(String, String)>) {
    let mut entries: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the folder is part of the project")
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            documents_below(&path, found);
        } else if path.extension().is_some_and(|extension| extension == "ubr") {
            let text = std::fs::read_to_string(&path).expect("a document of the project is UTF-8");
            found.push((path.display().to_string(), text));
        }
    }
}

/// Every document of the project, right and wrong ones.
fn documents() -> Vec<(String, String)> {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let mut found = Vec::new();
    for folder in ["src/plan/builtin", "examples", "tests/fixtures"] {
        documents_below(&root.join(folder), &mut found);
    }
    assert!(found.len() > 60, "found {} documents only", found.len());
    found
}

/// What is written: the tokens without white space.
fn written(tree: &Tree) -> Vec<&str> {
    (0..tree.tokens().len())
        .filter(|token| {
            !matches!(
                tree.tokens()[*token].kind,
                TokenKind::Space | TokenKind::Newline
            )
        })
        .map(|token| match tree.tokens()[token].kind {
            TokenKind::Comment => tree.token_text(token).trim_end_matches([' ', '\t']),
            _ => tree.token_text(token),
        })
        .collect()
}

/// Every node in a form without places.
fn outline(tree: &Tree) -> Vec<String> {
    (0..tree.len() as u32)
        .map(|number| {
            let id = NodeId(number);
            let words: Vec<&str> = tree
                .significant(id)
                .map(|(token, _)| tree.token_text(token))
                .collect();
            let words = if number == 0 { Vec::new() } else { words };
            format!("{:?} below {:?}: {words:?}", tree.kind(id), tree.parent(id))
        })
        .collect()
}

/// The physical lines of statements in which something is wrong.
fn broken_lines(tree: &Tree) -> Vec<String> {
    let text = tree.text();
    let mut found = Vec::new();
    for fault in &tree.faults {
        if matches!(
            fault.kind,
            FaultKind::TabIndentation | FaultKind::ByteOrderMark | FaultKind::EmptyDocument
        ) {
            continue;
        }
        let at = fault.span.start as usize;
        let from = text[..at].rfind('\n').map_or(0, |newline| newline + 1);
        let to = text[at..].find('\n').map_or(text.len(), |end| at + end);
        found.push(text[from..to].to_owned());
    }
    found
}

fn blank(text: &str) -> bool {
    text.chars().all(char::is_whitespace)
}

fn hold(text: &str) -> Result<String, String> {
    let tree = parse(text);
    let edits = format(&tree).map_err(|unlike| unlike.to_string())?;
    let mut behind = 0;
    for Edit {
        span, text: new, ..
    } in &edits
    {
        if span.start < behind {
            return Err("edits overlap".to_owned());
        }
        behind = span.end;
        if !blank(&text[span.range()]) || !blank(new) {
            return Err(format!(
                "{:?} -> {new:?} is no white space",
                &text[span.range()]
            ));
        }
    }
    let made = apply(text, &edits);
    let after = parse(made.as_str());
    if written(&tree) != written(&after) {
        return Err("what is written has changed".to_owned());
    }
    if outline(&tree) != outline(&after) {
        return Err("the outline has changed".to_owned());
    }
    let again = format(&after).map_err(|unlike| unlike.to_string())?;
    if let Some(edit) = again.first() {
        return Err(format!("a second time changes {edit:?} in\n{made}"));
    }
    let end = |line: &str| line.trim_end_matches('\r').to_owned();
    let lines: HashSet<String> = made.split('\n').map(end).collect();
    for line in broken_lines(&tree) {
        if !lines.contains(&end(&line)) {
            return Err(format!("the broken line {line:?} has changed"));
        }
    }
    Ok(made)
}

#[track_caller]
fn must_hold(text: &str, about: impl std::fmt::Display) -> String {
    match hold(text) {
        Ok(made) => made,
        Err(what) => panic!("{about}: {what}\n--- the document:\n{text}"),
    }
}

#[test]
fn every_document_of_the_project_keeps_what_it_says() {
    for (name, text) in documents() {
        must_hold(&text, &name);
        let crlf = text.replace("\r\n", "\n").replace('\n', "\r\n");
        let made = must_hold(&crlf, format!("{name} with CR LF"));
        let ends = made.matches('\n').count();
        assert_eq!(ends, made.matches("\r\n").count(), "{name}: CR LF is kept");
    }
}

#[test]
fn every_prefix_of_the_fixtures_keeps_what_it_says() {
    for (name, text) in documents() {
        if text.len() > 6_000 {
            continue;
        }
        for end in (0..text.len()).step_by(7) {
            if text.is_char_boundary(end) {
                must_hold(&text[..end], format!("{name} up to byte {end}"));
            }
        }
    }
}

#[test]
fn lines_chosen_are_the_only_ones_that_change() {
    for (name, text) in documents() {
        if text.len() > 6_000 {
            continue;
        }
        let tree = parse(text.as_str());
        let lines = text.matches('\n').count() as u32 + 1;
        for from in (0..lines).step_by(3) {
            let range = from..from + 5;
            let edits = format_lines(&tree, range.clone())
                .unwrap_or_else(|unlike| panic!("{name}, lines {range:?}: {unlike}"));
            assert!(
                edits.iter().all(|edit| range.contains(&edit.line)),
                "{name}"
            );
            let after = parse(apply(&text, &edits));
            assert_eq!(written(&tree), written(&after), "{name}, lines {range:?}");
            assert_eq!(outline(&tree), outline(&after), "{name}, lines {range:?}");
        }
    }
}

/// A piece of text that may stand anywhere in a document that somebody is typing.
fn piece() -> impl Strategy<Value = String> {
    prop_oneof![
        Just(" ".to_owned()),
        Just("  ".to_owned()),
        Just("\t".to_owned()),
        Just("\n".to_owned()),
        Just("\r\n".to_owned()),
        Just("\n\n\n".to_owned()),
        Just("\n      ".to_owned()),
        Just(" # remark  ".to_owned()),
        Just("\n# remark\n".to_owned()),
        Just("\n     # remark\n".to_owned()),
        Just("(".to_owned()),
        Just("]".to_owned()),
        Just("\"".to_owned()),
        Just("= ".to_owned()),
        Just(",".to_owned()),
        Just(" + ".to_owned()),
        Just("-".to_owned()),
        Just("..".to_owned()),
        Just("+-".to_owned()),
        Just("\u{feff}".to_owned()),
        Just("\u{a0}".to_owned()),
        Just("\0".to_owned()),
        Just("µm".to_owned()),
        Just(" in ".to_owned()),
        Just(" not ".to_owned()),
        Just("accept row-length because \"seen\" by A.B on 2026-01-02\n".to_owned()),
        Just("\n  note \"x\"\n".to_owned()),
        Just("\nstage s\n".to_owned()),
        Just("\n  table t\n    a  b\n    1  2.5\n".to_owned()),
        "\\PC{1,3}",
    ]
}

/// One change of a document: where, how much is taken away, what is put there.
fn change() -> impl Strategy<Value = (prop::sample::Index, usize, String)> {
    let taken = prop_oneof![Just(0usize), 0..4usize, 0..60usize];
    let put = prop_oneof![Just(String::new()), piece()];
    (any::<prop::sample::Index>(), taken, put)
}

fn changed(text: &str, changes: &[(prop::sample::Index, usize, String)]) -> String {
    let mut text = text.to_owned();
    for (at, taken, put) in changes {
        let mut from = at.index(text.len() + 1);
        while !text.is_char_boundary(from) {
            from -= 1;
        }
        let mut to = (from + taken).min(text.len());
        while !text.is_char_boundary(to) {
            to += 1;
        }
        text.replace_range(from..to, put);
    }
    text
}

/// A stretch of some lines of a document of the project, below its first statement.
fn stretch() -> impl Strategy<Value = String> {
    let all: Vec<String> = documents().into_iter().map(|(_, text)| text).collect();
    (0..all.len(), any::<prop::sample::Index>(), 5..60usize).prop_map(move |(number, at, count)| {
        let text = &all[number];
        let lines: Vec<&str> = text.split_inclusive('\n').collect();
        if lines.len() <= count {
            return text.clone();
        }
        let from = at.index(lines.len() - count);
        let head = lines
            .iter()
            .find(|line| !line.trim().is_empty() && !line.starts_with('#'))
            .copied()
            .unwrap_or("");
        format!("{head}{}", lines[from..from + count].concat())
    })
}

/// Some statements of the outermost level of a document without a fault, with all that belongs to them, below its first.
fn parts() -> impl Strategy<Value = String> {
    let all: Vec<Vec<String>> = documents()
        .into_iter()
        .map(|(_, text)| parse(text.as_str()))
        .filter(|tree| tree.faults.is_empty())
        .map(|tree| {
            let parts: Vec<NodeId> = tree.children(tree.root()).collect();
            let text = |part: &NodeId| tree.text()[tree.outline_span(*part).range()].to_owned();
            parts.iter().map(text).collect()
        })
        .filter(|parts: &Vec<String>| parts.len() > 1)
        .collect();
    (0..all.len(), any::<prop::sample::Index>(), 1..5usize).prop_map(move |(number, at, count)| {
        let parts = &all[number];
        let from = 1 + at.index(parts.len() - 1);
        let to = (from + count).min(parts.len());
        format!("{}\n\n{}\n", parts[0], parts[from..to].join("\n\n"))
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn documents_that_somebody_is_typing_keep_what_they_say(
        text in stretch(),
        changes in prop::collection::vec(change(), 0..6),
    ) {
        let text = changed(&text, &changes);
        prop_assert!(hold(&text).is_ok(), "{}\n---\n{text:?}\n---\n{text}", hold(&text).unwrap_err());
    }

    #[test]
    fn any_characters_keep_what_they_say(text in "\\PC{0,120}") {
        prop_assert!(hold(&text).is_ok(), "{:?}\n{text:?}", hold(&text));
    }

    #[test]
    fn any_layout_of_what_is_written_gives_the_same_document(
        text in parts(),
        seed in any::<u64>(),
    ) {
        let canonical = must_hold(&text, "the stretch");
        let messy = laid_out_anew(&canonical, seed);
        prop_assert_eq!(&must_hold(&messy, "the messy stretch"), &canonical, "from\n{}", messy);
    }
}

/// The next number of a simple generator.
///
/// Source: Steele, Lea, Flood, Fast splittable pseudorandom number generators (splitmix64).
fn roll(state: &mut u64, below: u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut value = *state;
    value = (value ^ (value >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    value = (value ^ (value >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    (value ^ (value >> 31)) % below
}

/// The same statements with other blanks: each gap wider or narrower, other steps of indentation, blank lines doubled.
fn laid_out_anew(text: &str, seed: u64) -> String {
    let mut state = seed;
    let step = 1 + roll(&mut state, 4) as usize;
    let tree = parse(text);
    let nodes = || (1..tree.len() as u32).map(NodeId);
    // Statements below a statement stand behind its own line, parts of it within.
    let first_of_statement: HashSet<u32> = nodes()
        .filter(|id| {
            tree.parent(*id).is_some_and(|parent| {
                parent == tree.root() || tree.node(*id).first >= tree.node(parent).head
            })
        })
        .map(|id| tree.node(id).first)
        .collect();
    let in_rows: HashSet<usize> = nodes()
        .filter(|id| matches!(tree.kind(*id), NodeKind::Row | NodeKind::HeaderRow))
        .flat_map(|id| tree.node(id).first as usize..tree.node(id).head as usize)
        .collect();
    let mut messy = String::new();
    let mut fresh = true;
    for (token, kind) in tree.tokens().iter().map(|token| token.kind).enumerate() {
        let text = tree.token_text(token);
        let behind = tree.tokens().get(token + 1).map(|token| token.kind);
        match kind {
            TokenKind::Newline => {
                messy.push_str(&" ".repeat(roll(&mut state, 3) as usize));
                messy.push_str(text);
                if fresh {
                    // A blank line more; the formatter keeps one.
                    messy.push_str(text);
                }
                fresh = true;
                continue;
            }
            TokenKind::Space if fresh => {
                // Lines that go on with a statement keep their distance to each other.
                let statement = first_of_statement.contains(&(token as u32 + 1))
                    || behind == Some(TokenKind::Comment);
                if statement && text.len().is_multiple_of(2) {
                    messy.push_str(&" ".repeat(text.len() / 2 * step));
                } else {
                    messy.push_str(&" ".repeat(text.len() + 4 * step));
                }
            }
            TokenKind::Space => {
                let more = roll(&mut state, 4) as usize;
                // Inside a cell one blank has a meaning, between cells two.
                let wide = match (in_rows.contains(&token), text.len()) {
                    (true, 1) => 1,
                    (true, _) => 2 + more,
                    (false, _) => 1 + more,
                };
                messy.push_str(&" ".repeat(wide));
            }
            _ => messy.push_str(text),
        }
        fresh = false;
    }
    messy
}
