//! What the tree-sitter grammar makes of a text.

use super::documents::{Document, root};
use super::parser::line_of;
use super::{Colours, language};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;
use tree_sitter::{Node, Parser, Query, QueryCursor, StreamingIterator, Tree};

/// A statement in the tree.
pub struct Found {
    /// The name of its node.
    pub kind: String,
    /// The line of the statement that it stands below.
    pub parent: Option<usize>,
}

pub fn parse(text: &str) -> Tree {
    let mut parser = Parser::new();
    parser
        .set_language(&language())
        .expect("grammar and runtime are of versions that fit");
    parser
        .parse(text, None)
        .expect("a parser with a language and without a limit gives a tree")
}

/// The nodes of a tree, each before what is inside it.
fn nodes(tree: &Tree) -> Vec<Node<'_>> {
    let mut found = Vec::new();
    let mut open = vec![tree.root_node()];
    while let Some(node) = open.pop() {
        found.push(node);
        let mut cursor = node.walk();
        let children: Vec<Node> = node.children(&mut cursor).collect();
        open.extend(children.into_iter().rev());
    }
    found
}

/// The line (from 0) of the first error or of the first token that is made up.
pub fn first_error(text: &str) -> Option<usize> {
    let tree = parse(text);
    nodes(&tree)
        .iter()
        .find(|node| node.is_error() || node.is_missing())
        .map(|node| node.start_position().row)
}

/// The names of nodes that are statements, out of the grammar itself.
fn statement_kinds() -> &'static BTreeSet<String> {
    static KINDS: OnceLock<BTreeSet<String>> = OnceLock::new();
    KINDS.get_or_init(|| {
        let path = root().join("grammar/tree-sitter-ubr/src/grammar.json");
        let text = std::fs::read_to_string(path).expect("the grammar is part of the project");
        let grammar: serde_json::Value = serde_json::from_str(&text).expect("generated JSON");
        let mut kinds = BTreeSet::new();
        let mut open = vec![&grammar["rules"]["_item"], &grammar["rules"]["_statement"]];
        while let Some(rule) = open.pop() {
            open.extend(rule["members"].as_array().into_iter().flatten());
            if let Some(name) = rule["name"].as_str()
                && !name.starts_with('_')
                && name != "block"
            {
                kinds.insert(name.to_owned());
            }
        }
        kinds
    })
}

/// The statements of a text by the line on which they begin.
pub fn statements(text: &str, starts: &[usize]) -> BTreeMap<usize, Found> {
    let tree = parse(text);
    let is_statement = |node: &Node| node.is_named() && statement_kinds().contains(node.kind());
    // Behind an error a word in the middle of a line can pass for a statement; it begins no line.
    let begins_line = |node: &Node| {
        let start = starts[line_of(starts, node.start_byte())];
        text[start..node.start_byte()]
            .chars()
            .all(|before| before.is_whitespace() || before == '\u{feff}')
    };
    nodes(&tree)
        .iter()
        .filter(|node| is_statement(node) && begins_line(node))
        .map(|node| {
            let above = std::iter::successors(node.parent(), Node::parent).find(is_statement);
            let found = Found {
                kind: node.kind().to_owned(),
                parent: above.map(|above| line_of(starts, above.start_byte())),
            };
            (line_of(starts, node.start_byte()), found)
        })
        .collect()
}

/// What a query captures, by line. Names that begin with `_` are helpers of the query and left out.
pub fn captures(text: &str, query: &str) -> Colours {
    let tree = parse(text);
    let query = Query::new(&language(), query).expect("checked by a test of its own");
    let names = query.capture_names();
    let mut cursor = QueryCursor::new();
    let mut found = cursor.captures(&query, tree.root_node(), text.as_bytes());
    let mut colours = Colours::new();
    while let Some((matched, index)) = found.next() {
        let capture = matched.captures()[*index];
        let (start, end) = (capture.node.start_position(), capture.node.end_position());
        let name = names[capture.index as usize].to_owned();
        colours
            .entry(start.row)
            .or_default()
            .push((start.column, end.column, vec![name]));
    }
    colours
}

/// Nodes that two patterns of a query capture.
pub fn captured_twice(document: &Document, query: &str) -> Vec<String> {
    let mut wrong = Vec::new();
    for (line, ranges) in captures(&document.text, query) {
        let mut seen = BTreeMap::new();
        for (start, end, names) in ranges {
            if let Some(other) = seen.insert((start, end), names.clone()) {
                wrong.push(format!(
                    "{}:{}:{}: {other:?} and {names:?}",
                    document.name,
                    line + 1,
                    start + 1
                ));
            }
        }
    }
    wrong
}
