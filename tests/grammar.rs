//! The parser against the normative grammar, in both directions.
//!
//! `grammar/ubr.ebnf` is what other tools are written from, so a construct that only one of the two knows
//! is a defect. Each production is named by a fixture under `tests/fixtures/grammar` in a line
//! `# productions: a, b, c`, and the tree of that fixture must hold what the production stands for.

use stagebook::syntax::{DocumentKind, NodeId, NodeKind, TokenKind, Tree, parse};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn grammar() -> String {
    std::fs::read_to_string(root().join("grammar/ubr.ebnf"))
        .expect("the grammar is part of the project")
}

/// The grammar without its comments and with its terminals and prose blanked, so that what is left are
/// names and signs.
fn bare_grammar() -> String {
    let text = grammar();
    let mut bare = String::new();
    let mut rest = text.as_str();
    while let Some(character) = rest.chars().next() {
        let end = match character {
            _ if rest.starts_with("(*") => rest.find("*)").map(|at| at + 2),
            '\'' | '"' | '?' => rest[1..].find(character).map(|at| at + 2),
            _ => {
                bare.push(character);
                rest = &rest[character.len_utf8()..];
                continue;
            }
        };
        let end =
            end.unwrap_or_else(|| panic!("`{character}` is opened and not closed in the grammar"));
        bare.push(' ');
        rest = &rest[end..];
    }
    bare
}

/// Each production with the productions that it uses.
fn productions() -> BTreeMap<String, BTreeSet<String>> {
    let bare = bare_grammar();
    let mut found = BTreeMap::new();
    for rule in bare.split(';').filter(|rule| !rule.trim().is_empty()) {
        let (name, body) = rule
            .split_once('=')
            .unwrap_or_else(|| panic!("no `=` in the rule `{}`", rule.trim()));
        let uses = body
            .split(|character: char| !(character.is_alphanumeric() || character == '-'))
            .filter(|word| !word.is_empty())
            .map(str::to_owned)
            .collect();
        let before = found.insert(name.trim().to_owned(), uses);
        assert!(before.is_none(), "`{}` is defined twice", name.trim());
    }
    found
}

struct Fixture {
    name: String,
    productions: Vec<String>,
    tree: Tree,
}

fn fixtures() -> Vec<Fixture> {
    let folder = root().join("tests/fixtures/grammar");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(&folder)
        .expect("the fixtures are part of the project")
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "ubr"))
        .collect();
    paths.sort();
    paths
        .iter()
        .map(|path| {
            let text = std::fs::read_to_string(path).expect("a fixture is UTF-8");
            let productions = text
                .lines()
                .filter_map(|line| line.strip_prefix("# productions:"))
                .flat_map(|names| names.split(','))
                .map(|name| name.trim().to_owned())
                .collect();
            let name = path
                .file_name()
                .map(|name| name.to_string_lossy().into_owned())
                .unwrap_or_default();
            Fixture {
                name,
                productions,
                tree: parse(text),
            }
        })
        .collect()
}

fn nodes(tree: &Tree) -> impl Iterator<Item = NodeId> + '_ {
    (0..tree.len() as u32).map(NodeId)
}

fn has_token(tree: &Tree, kinds: &[TokenKind]) -> bool {
    tree.tokens()
        .iter()
        .any(|token| kinds.contains(&token.kind))
}

/// Lines of the text that hold nothing but white space, or nothing but a comment.
fn has_line(tree: &Tree, test: impl Fn(&str) -> bool) -> bool {
    tree.text().lines().any(|line| test(line.trim()))
}

/// Some node of `kinds` has a child of `parts`.
fn has_inside(tree: &Tree, kinds: &[NodeKind], parts: &[NodeKind]) -> bool {
    nodes(tree).any(|id| {
        kinds.contains(&tree.kind(id))
            && tree
                .children(id)
                .any(|part| parts.contains(&tree.kind(part)))
    })
}

/// Whether the tree shows that the production was read. A production that a node kind stands for needs a
/// node of that kind; the others are listed here by what they leave behind in the tree.
fn exercised(production: &str, tree: &Tree) -> Option<bool> {
    use NodeKind::*;
    use TokenKind as T;
    // These kinds also hold what could not be read, so their presence shows nothing.
    let stands =
        |kind: &&NodeKind| kind.production() == production && !matches!(kind, Broken | Rest);
    let kinds: Vec<NodeKind> = NodeKind::ALL.iter().filter(stands).copied().collect();
    let clauses = [AtClause, WithClause, ByClause, OnClause];
    let statements = |parents: &[NodeKind]| has_inside(tree, &[Document], parents);
    Some(match production {
        // Only header cells have a node for the unit; a quantity keeps it in its own tokens.
        "unit-name" => nodes(tree).any(|id| {
            let written = tree.kind(id) == Quantity
                && tree.quantity(id).is_some_and(|parts| parts.unit.is_some());
            written || tree.kind(id) == UnitPart
        }),
        _ if !kinds.is_empty() => nodes(tree).any(|id| kinds.contains(&tree.kind(id))),
        "plan-doc" => tree.document == DocumentKind::Plan && statements(&[Plan]),
        "register-doc" => tree.document == DocumentKind::Register && statements(&[Register]),
        "unit-doc" => tree.document == DocumentKind::Unit && statements(&[Unit]),
        "plan-statement" => {
            statements(&[Set, Role, DesignPlan, StagePlan])
                || statements(&[Tighten, Relax, Drop, Add])
        }
        "rationale" => nodes(tree)
            .any(|id| matches!(tree.kind(id), SourceLine | Because | Caution | SeverityLine)),
        "interval" => has_inside(
            tree,
            &[Limit, In],
            &[Range, NodeKind::PlusMinus, PlusSlashMinus],
        ),
        "bound-sign" => {
            nodes(tree).any(|id| matches!(tree.kind(id), Bound | Less | AtMost | Greater | AtLeast))
        }
        "identity" => has_inside(
            tree,
            &[Instrument, Unit, Lot, WithClause],
            &[Path, TextPart],
        ),
        "clause" => nodes(tree).any(|id| clauses.contains(&tree.kind(id))),
        "unit-power" => {
            nodes(tree).any(|id| tree.kind(id) == Quantity && tree.text_of(id).contains('^'))
        }
        "number" | "digit" => has_token(tree, &[T::Number]),
        "minus" => has_token(tree, &[T::Minus]),
        "date" => has_token(tree, &[T::Date]),
        "time" => has_token(tree, &[T::Time]),
        "comment" => has_token(tree, &[T::Comment]),
        "blank-line" => has_line(tree, str::is_empty),
        "comment-line" => has_line(tree, |line| line.starts_with('#')),
        _ => return None,
    })
}

#[test]
fn every_fixture_parses_without_a_fault_and_prints_as_it_was() {
    let mut wrong = Vec::new();
    for fixture in fixtures() {
        for fault in &fixture.tree.faults {
            let line = fixture.tree.text()[..fault.span.start as usize]
                .lines()
                .count()
                .max(1);
            wrong.push(format!(
                "{}:{line} {:?}: {}",
                fixture.name, fault.kind, fault.message
            ));
        }
        for id in nodes(&fixture.tree) {
            if matches!(fixture.tree.kind(id), NodeKind::Broken | NodeKind::Rest) {
                wrong.push(format!(
                    "{} has an unread part `{}`",
                    fixture.name,
                    fixture.tree.text_of(id)
                ));
            }
        }
        assert_eq!(
            fixture.tree.print(),
            fixture.tree.text().as_ref(),
            "{}",
            fixture.name
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn every_production_is_named_by_a_fixture() {
    let named: BTreeSet<String> = fixtures()
        .into_iter()
        .flat_map(|fixture| fixture.productions)
        .collect();
    let known = productions();
    let missing: Vec<&String> = known.keys().filter(|name| !named.contains(*name)).collect();
    let invented: Vec<&String> = named
        .iter()
        .filter(|name| !known.contains_key(*name))
        .collect();
    assert!(
        missing.is_empty(),
        "productions that no fixture names: {missing:?}"
    );
    assert!(
        invented.is_empty(),
        "fixtures name productions that the grammar does not have: {invented:?}"
    );
}

#[test]
fn every_production_that_a_fixture_names_is_found_in_its_tree() {
    let mut wrong = Vec::new();
    for fixture in fixtures() {
        for production in &fixture.productions {
            match exercised(production, &fixture.tree) {
                Some(true) => {}
                Some(false) => wrong.push(format!(
                    "{} names `{production}`, its tree has none",
                    fixture.name
                )),
                None => wrong.push(format!(
                    "{}: the test can't tell whether `{production}` was read",
                    fixture.name
                )),
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A node kind that stands for several productions' worth of forms is one alternative each: all of them
/// must be met, or an alternative could drop out of the parser unseen.
#[test]
fn every_node_kind_is_met_in_some_fixture() {
    let fixtures = fixtures();
    let met = |kind: NodeKind| {
        fixtures
            .iter()
            .any(|fixture| nodes(&fixture.tree).any(|id| fixture.tree.kind(id) == kind))
    };
    let unread = [NodeKind::Broken, NodeKind::Rest];
    let missing: Vec<&NodeKind> = NodeKind::ALL
        .iter()
        .filter(|kind| !unread.contains(kind) && !met(**kind))
        .collect();
    assert!(
        missing.is_empty(),
        "node kinds that no fixture brings about: {missing:?}"
    );
}

#[test]
fn every_node_kind_stands_for_a_production_of_the_grammar() {
    let known = productions();
    let missing: Vec<String> = NodeKind::ALL
        .iter()
        .filter(|kind| !known.contains_key(kind.production()))
        .map(|kind| format!("{kind:?} => {}", kind.production()))
        .collect();
    assert!(
        missing.is_empty(),
        "node kinds whose production is not in the grammar: {missing:?}"
    );
}

#[test]
fn the_grammar_uses_only_what_it_defines_and_defines_only_what_it_uses() {
    let known = productions();
    let used: BTreeSet<&String> = known.values().flatten().collect();
    let undefined: Vec<&&String> = used
        .iter()
        .filter(|name| !known.contains_key(**name))
        .collect();
    assert!(undefined.is_empty(), "used and not defined: {undefined:?}");
    let unused: Vec<&String> = known
        .keys()
        .filter(|name| *name != "document" && !used.contains(name))
        .collect();
    assert!(unused.is_empty(), "defined and not used: {unused:?}");
}
