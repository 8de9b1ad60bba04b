//! What must hold of the syntax tree for any input at all.
//!
//! The formatter, the fixes and the editor all stand on the tree, and an editor parses half-typed text on
//! every key. So no text may panic the parser, lose a byte, or disturb statements that it does not touch.

use proptest::prelude::*;
use stagebook::syntax::{NodeId, NodeKind, Tree, parse, parse_expression, reparse};
use stagebook::text::{Span, decode};
use std::path::{Path, PathBuf};

/// Larger inputs than this are sampled, to keep the tests quick in a debug build.
const SMALL: usize = 4_000;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

fn fixtures() -> Vec<(String, String)> {
    let mut paths: Vec<PathBuf> = std::fs::read_dir(root().join("tests/fixtures/grammar"))
        .expect("the fixtures are part of the project")
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "ubr"))
        .collect();
    paths.sort();
    paths
        .iter()
        .map(|path| (path.display().to_string(), read(path)))
        .collect()
}

fn builtin_plan() -> (String, String) {
    let path = root().join("src/plan/builtin/oil-immersed-power.ubr");
    (path.display().to_string(), read(&path))
}

/// Statements are the nodes whose chain of parents up to the document are statements too, each beginning a
/// line of its own.
fn is_statement(tree: &Tree, id: NodeId) -> bool {
    let Some(parent) = tree.parent(id) else {
        return false;
    };
    // Parts of a statement lie within the tokens of its line, statements below it behind them.
    parent == tree.root()
        || is_statement(tree, parent) && tree.node(id).first >= tree.node(parent).head
}

fn statements(tree: &Tree) -> Vec<NodeId> {
    (1..tree.len() as u32)
        .map(NodeId)
        .filter(|id| tree.parent(*id).is_some() && is_statement(tree, *id))
        .collect()
}

/// The kind and the text of a statement and of all its parts.
fn written(tree: &Tree, id: NodeId, into: &mut Vec<(NodeKind, String)>) {
    into.push((tree.kind(id), tree.text_of(id).to_owned()));
    let head = tree.node(id).head;
    for part in tree
        .children(id)
        .filter(|part| tree.node(*part).first < head)
    {
        written(tree, part, into);
    }
}

fn check_lossless(text: &str) -> Result<Tree, String> {
    let tree = parse(text);
    if tree.print() != text {
        return Err("printing the tree does not give the text again".to_owned());
    }
    if tree.tokens().last().map_or(0, |token| token.end as usize) != text.len() {
        return Err("the tokens do not cover the text".to_owned());
    }
    for fault in &tree.faults {
        let range = fault.span.range();
        if fault.span.start > fault.span.end || text.get(range.clone()).is_none() {
            return Err(format!(
                "a fault's span {range:?} is no part of the text: {fault:?}"
            ));
        }
        for (span, _) in fault.fix.iter().flat_map(|(_, replacements)| replacements) {
            if text.get(span.range()).is_none() {
                return Err(format!(
                    "a fix's span {:?} is no part of the text: {fault:?}",
                    span.range()
                ));
            }
        }
    }
    Ok(tree)
}

fn inside(inner: Span, outer: Span) -> bool {
    outer.start <= inner.start && inner.end <= outer.end
}

/// Spans nest, children stand in order, and no two statements side by side overlap.
fn check_shape(tree: &Tree) -> Result<(), String> {
    let whole = Span::new(0, tree.text().len() as u32);
    let mut waiting = vec![tree.root()];
    let mut reached = 0;
    while let Some(id) = waiting.pop() {
        reached += 1;
        if reached > tree.len() {
            return Err("the tree has a circle".to_owned());
        }
        let outer = tree.outline_span(id);
        if !inside(outer, whole) || !inside(tree.span(id), outer) {
            return Err(format!(
                "{:?} at {:?} lies outside its own outline {outer:?}",
                tree.kind(id),
                tree.span(id)
            ));
        }
        let mut behind = outer.start;
        for child in tree.children(id) {
            if tree.parent(child) != Some(id) {
                return Err(format!("{:?} does not know its parent", tree.kind(child)));
            }
            let span = tree.outline_span(child);
            if !inside(span, outer) {
                return Err(format!(
                    "{:?} {span:?} lies outside {:?} {outer:?}",
                    tree.kind(child),
                    tree.kind(id)
                ));
            }
            if span.start < behind {
                let text = &tree.text()[span.range()];
                return Err(format!(
                    "{:?} `{text}` begins before its neighbour ends",
                    tree.kind(child)
                ));
            }
            behind = span.end;
            waiting.push(child);
        }
    }
    Ok(())
}

fn check(text: &str) -> Result<(), String> {
    check_lossless(text).and_then(|tree| check_shape(&tree))
}

#[track_caller]
fn must_hold(text: &str, name: impl std::fmt::Display) {
    if let Err(wrong) = check(text) {
        panic!(
            "{name}: {wrong}\n----\n{}",
            text.chars().take(2_000).collect::<String>()
        );
    }
}

/// Pieces of the language; joined at random they come nearer to its borders than random bytes do.
fn fragment() -> impl Strategy<Value = String> {
    const FRAGMENTS: &[&str] = &[
        "plan",
        "unit",
        "register",
        "stage",
        "design",
        "reading",
        "calc",
        "check",
        "require",
        "limit",
        "set",
        "table",
        "log",
        "column",
        "from",
        "hold",
        "by",
        "on",
        "at",
        "with",
        "because",
        "was",
        "amend",
        "need",
        "given",
        "extends",
        "rev",
        "notice",
        "add",
        "relax",
        "context",
        "accuracy",
        "of",
        "k",
        "range",
        "lot",
        "release",
        "zone",
        "nonconformity",
        "against",
        "if",
        "then",
        "else",
        "and",
        "or",
        "not",
        "in",
        "HV",
        "1U",
        "MR-04",
        "x.y",
        "x.",
        "design.",
        "0",
        "12",
        "3,1769",
        "5%",
        "40MVA",
        "1e999",
        "1e",
        "-8.5 °C",
        "412.6 mohm",
        "mbar*l/s",
        "N/mm^2",
        "^-",
        "1/s",
        "%",
        "dB(A)",
        "n/a",
        "?",
        "2026-03-02",
        "2026-02-30",
        "10:15",
        "\"text\"",
        "\"open",
        "\\\"",
        "[",
        "]",
        "(",
        ")",
        ",",
        ":",
        "..",
        ".",
        "*",
        "·",
        "/",
        "^",
        "+",
        "-",
        "−",
        "+-",
        "±",
        "+3/-0",
        "=",
        "!=",
        "<",
        "<=",
        "≥",
        "#",
        "# note\n",
        "\n",
        "\n",
        "\n",
        "\n  ",
        "\n  ",
        "\n    ",
        "\n      ",
        "\r\n",
        "\r",
        "\t",
        "\n\t",
        " ",
        "  ",
        "\u{a0}",
        "\u{feff}",
        "\0",
        "é",
        "😀",
    ];
    prop_oneof![
        4 => proptest::sample::select(FRAGMENTS).prop_map(str::to_owned),
        2 => proptest::sample::select(FRAGMENTS).prop_map(|piece| format!("{piece} ")),
        1 => "[a-zA-Z0-9.,:/+\\-]{1,6}".prop_map(|piece| piece),
    ]
}

/// Texts that begin as a document, so that its statements are read as such.
fn document() -> impl Strategy<Value = String> {
    let head = proptest::sample::select(
        &[
            "",
            "plan p\n",
            "unit u\nstage s\n  ",
            "register r\n",
            "unit u\nstage s\n  table t\n    ",
        ][..],
    );
    (head, proptest::collection::vec(fragment(), 0..60))
        .prop_map(|(head, pieces)| format!("{head}{}", pieces.concat()))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 512, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_bytes_are_read_and_printed_again(bytes in proptest::collection::vec(any::<u8>(), 0..600)) {
        let decoded = decode(bytes.clone());
        if decoded.fault.is_none() {
            prop_assert_eq!(decoded.text.as_bytes(), &bytes[..]);
        }
        prop_assert_eq!(check(&decoded.text), Ok(()));
    }

    #[test]
    fn any_characters_are_read_and_printed_again(text in "\\PC{0,200}") {
        prop_assert_eq!(check(&text), Ok(()));
    }

    #[test]
    fn any_fragments_of_the_language_are_read_and_printed_again(text in document()) {
        prop_assert_eq!(check(&text), Ok(()));
    }

    #[test]
    fn any_expression_alone_is_read_and_printed_again(pieces in proptest::collection::vec(fragment(), 0..30)) {
        let text = pieces.concat();
        let tree = parse_expression(text.as_str());
        prop_assert_eq!(tree.print(), text);
        prop_assert_eq!(check_shape(&tree), Ok(()));
    }
}

/// How far to step so that a text is tried at a bounded number of places.
fn step(text: &str) -> usize {
    if text.len() <= SMALL {
        1
    } else {
        37 * text.len().div_ceil(60_000)
    }
}

#[test]
fn every_prefix_of_a_document_is_read_and_printed_again() {
    for (name, text) in fixtures() {
        for end in (0..=text.len())
            .step_by(step(&text))
            .filter(|end| text.is_char_boundary(*end))
        {
            must_hold(&text[..end], format_args!("{name} up to byte {end}"));
        }
    }
    // Each prefix of the large plan costs its whole length, so the steps are longer there.
    let (name, text) = builtin_plan();
    for end in (0..=text.len())
        .step_by(37 * 11)
        .filter(|end| text.is_char_boundary(*end))
    {
        must_hold(&text[..end], format_args!("{name} up to byte {end}"));
    }
}

#[test]
fn every_document_with_one_byte_missing_is_read_and_printed_again() {
    for (name, text) in fixtures() {
        for at in (0..text.len()).step_by(step(&text)) {
            let mut bytes = text.clone().into_bytes();
            bytes.remove(at);
            must_hold(
                &decode(bytes).text,
                format_args!("{name} without byte {at}"),
            );
        }
    }
}

/// Deleting in the large plan is tried on a window of lines about the place, which is what the parser could
/// be confused by; the plan's head stays in front so that the window is read as a plan.
#[test]
fn every_37th_byte_missing_from_the_builtin_plan_is_survived() {
    let (name, text) = builtin_plan();
    for at in (0..text.len()).step_by(37) {
        let before = &text.as_bytes()[..at.saturating_sub(400)];
        let from = before
            .iter()
            .rposition(|byte| *byte == b'\n')
            .map_or(0, |line| line + 1);
        let to = text.as_bytes()[at..]
            .iter()
            .skip(400)
            .position(|byte| *byte == b'\n')
            .map_or(text.len(), |end| at + 400 + end);
        let mut bytes = b"plan p\n".to_vec();
        bytes.extend_from_slice(&text.as_bytes()[from..at]);
        bytes.extend_from_slice(&text.as_bytes()[at + 1..to]);
        must_hold(
            &decode(bytes).text,
            format_args!("{name} without byte {at}"),
        );
    }
}

#[test]
fn every_fixture_and_the_builtin_plan_have_a_sound_tree() {
    for (name, text) in fixtures().into_iter().chain([builtin_plan()]) {
        must_hold(&text, &name);
        let tree = parse(text.as_str());
        let mut spans: Vec<Span> = tree
            .children(tree.root())
            .map(|statement| tree.outline_span(statement))
            .collect();
        spans.sort();
        assert!(
            spans.windows(2).all(|pair| pair[0].end <= pair[1].start),
            "{name}: outlines overlap"
        );
    }
}

/// Statements that lie wholly outside `hole`, as written.
fn outside(tree: &Tree, hole: Span, end_shift: i64) -> Vec<(i64, Vec<(NodeKind, String)>)> {
    let mut found = Vec::new();
    for id in statements(tree) {
        let span = tree.span(id);
        if span.end > hole.start && span.start < hole.end {
            continue;
        }
        let shift = if span.start >= hole.end { end_shift } else { 0 };
        let mut parts = Vec::new();
        written(tree, id, &mut parts);
        found.push((i64::from(span.start) + shift, parts));
    }
    found
}

#[test]
fn a_wrong_line_changes_no_statement_outside_its_own_outline() {
    let garbage = [
        "zzz qqq",
        "?? !! ;;",
        "= 4",
        "\"open",
        "12 34 mm 5",
        "note",
        "@",
        "calc x = (a,",
        "x[HV = ((",
        ")]",
    ];
    for (name, text) in fixtures() {
        let tree = parse(text.as_str());
        for statement in statements(&tree) {
            let parent = tree.parent(statement).unwrap_or(tree.root());
            // The first statement says what the document is, and a header says how many cells a row has:
            // everything hangs on those two by design.
            let decides_others = tree.node(statement).first <= first_significant(&tree)
                || tree.kind(statement) == NodeKind::HeaderRow;
            if decides_others {
                continue;
            }
            let line = tree.span(statement);
            let own = tree.outline_span(statement);
            for wrong in garbage {
                let mut changed = text.clone();
                changed.replace_range(line.range(), wrong);
                let broken = parse(changed.as_str());
                let shift = wrong.len() as i64 - line.len() as i64;
                let hole = Span::new(
                    own.start,
                    (i64::from(own.end) + shift).max(i64::from(own.start) + wrong.len() as i64)
                        as u32,
                );
                let before = outside(&tree, own, shift);
                let after = outside(&broken, hole, 0);
                assert_eq!(
                    before,
                    after,
                    "{name}: `{}` under {:?} was replaced by `{wrong}`",
                    &text[line.range()],
                    tree.kind(parent)
                );
            }
        }
    }
}

fn first_significant(tree: &Tree) -> u32 {
    tree.tokens()
        .iter()
        .position(|token| !token.kind.is_trivia())
        .unwrap_or(0) as u32
}

/// Everything that a tree holds.
fn whole(tree: &Tree) -> String {
    let nodes: Vec<_> = (0..tree.len() as u32)
        .map(|id| tree.node(NodeId(id)))
        .collect();
    let nodes: Vec<String> = nodes.iter().map(|node| format!("{node:?}")).collect();
    format!(
        "{:?}\n{:?}\n{:#?}\n{}",
        tree.document,
        tree.tokens(),
        tree.faults,
        nodes.join("\n")
    )
}

/// Lines of all three documents, and what somebody types, pastes or loses among them.
fn pieces() -> Vec<String> {
    let mut pieces: Vec<String> = [
        "\n",
        "\r\n",
        "\r",
        "  ",
        "    ",
        "\t",
        "#",
        "\"",
        "=",
        "[",
        "(",
        ")",
        ",",
        " and ",
        "±",
        "°",
        "😀",
        "\u{1}",
        "\u{feff}",
        "1",
        ".5",
        " mm",
        "stage winding\n",
        "  table turns\n",
        "    section  U  V  W\n",
        "    1  2  3  4\n",
        "  note \"ok\"\n",
        "  x[1] = 4 mm  by A.B  on 2026-01-02 10:15\n",
        "n",
        "  log oven\n",
        "  accept limit because \"x\"\n",
        "nonconformity N-1 \"x\"\n",
        "design rev B\n",
        "unit K-1 \"t\"\n",
        "plan p\n",
        "calc a = b +\n",
        "      c\n",
        "  limit =\n",
        "    column t from \"T\"\n",
    ]
    .map(str::to_owned)
    .into();
    for (_, text) in fixtures().iter().take(8) {
        pieces.extend(text.lines().take(12).map(|line| format!("{line}\n")));
    }
    pieces
}

/// Applies edits one after the other; after each the spliced tree has to be the tree of the whole text.
fn edit_and_compare(start: &str, edits: &[(u32, u32, usize, bool)], pieces: &[String]) {
    let mut text = start.to_owned();
    let mut tree = parse(text.clone());
    for (at, length, piece, only_take) in edits {
        let mut from = *at as usize % (text.len() + 1);
        while !text.is_char_boundary(from) {
            from -= 1;
        }
        let mut to = (from + *length as usize).min(text.len());
        while !text.is_char_boundary(to) {
            to += 1;
        }
        let new = if *only_take {
            ""
        } else {
            &*pieces[piece % pieces.len()]
        };
        let before = text.clone();
        text.replace_range(from..to, new);
        let (again, change) = reparse(tree, text.as_str().into());
        let wanted = parse(text.clone());
        let (found, wanted) = (whole(&again), whole(&wanted));
        let differs = found
            .lines()
            .zip(wanted.lines())
            .find(|(found, wanted)| found != wanted);
        assert!(
            found == wanted,
            "{from}..{to} -> {new:?} in\n{before}\nfirst difference: {differs:#?}\n{found}"
        );
        if let Some(change) = change {
            let (old, new) = (change.before, change.after);
            assert_eq!(before[..old.start as usize], text[..new.start as usize]);
            assert_eq!(before[old.end as usize..], text[new.end as usize..]);
            for removed in &change.removed {
                assert!(old.start <= removed.span.start && removed.span.end <= old.end);
            }
            let inside: Vec<NodeId> = statements(&again)
                .into_iter()
                .filter(|id| {
                    let at = again.span(*id).start;
                    // A part for what is missing takes nothing and stands where a statement could.
                    let is_part = again.parent(*id).is_some_and(|parent| parent > *id);
                    new.start <= at && at < new.end && !is_part
                })
                .collect();
            assert_eq!(inside, change.added);
        }
        tree = again;
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, ..ProptestConfig::default() })]

    #[test]
    fn a_tree_that_was_spliced_is_the_tree_of_the_text(
        lines in prop::collection::vec(0usize..500, 0..25),
        edits in prop::collection::vec((any::<u32>(), prop_oneof![Just(0u32), 0u32..4, 0u32..80], any::<usize>(), any::<bool>()), 1..12),
    ) {
        let pieces = pieces();
        let start: String = ["unit K-1 \"t\"\n  plan p\n", "stage winding\n"]
            .map(str::to_owned)
            .into_iter()
            .chain(lines.iter().map(|line| pieces[line % pieces.len()].clone()))
            .collect();
        edit_and_compare(&start, &edits, &pieces);
    }
}

#[test]
fn letters_typed_into_a_document_leave_the_tree_of_its_text() {
    let pieces: Vec<String> = ["x", "\n", "  ", "9", "\"", "# ", "by A.B", "="]
        .map(str::to_owned)
        .into();
    let mut seed = 3_u32;
    for (_, text) in fixtures() {
        let text: String = text.chars().take(SMALL).collect();
        let edits: Vec<(u32, u32, usize, bool)> = (0..40)
            .map(|_| {
                seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (
                    seed >> 3,
                    (seed >> 7) % 3,
                    (seed >> 11) as usize,
                    seed.is_multiple_of(5),
                )
            })
            .collect();
        edit_and_compare(&text, &edits, &pieces);
    }
}
