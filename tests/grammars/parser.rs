//! What the real parser reads, line by line.

use super::documents;
use stagebook::syntax::{FaultKind, NodeId, NodeKind, TokenKind, Tree, parse};
use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;
use std::sync::OnceLock;

/// A statement as the parser reads it.
pub struct Statement {
    /// Its production, written as tree-sitter writes names.
    pub kind: String,
    /// The line of the statement that it stands below.
    pub parent: Option<usize>,
    /// Its own line has a fault that keeps it from being read as it was meant.
    pub broken: bool,
    /// No statement above it in the outline is broken.
    pub sound_above: bool,
    /// Where its statement word stands in its line, in UTF-16; none where the line begins otherwise.
    pub word: Option<Range<usize>>,
}

/// The statements of a text by the line on which they begin.
pub struct Statements {
    /// First bytes of the lines.
    pub line_starts: Vec<usize>,
    /// How many faults the parser found.
    pub faults: usize,
    /// Lines of broken statements, those among them that only go on with one.
    pub broken_lines: BTreeSet<usize>,
    by_line: BTreeMap<usize, Statement>,
}

impl Statements {
    /// Number of lines of the text.
    pub fn lines(&self) -> usize {
        self.line_starts.len()
    }

    /// The statement that begins on a line.
    pub fn at(&self, line: usize) -> Option<&Statement> {
        self.by_line.get(&line)
    }
}

/// First bytes of the lines, as the parser parts them.
fn line_starts(tree: &Tree) -> Vec<usize> {
    let ends = tree.tokens().iter();
    std::iter::once(0)
        .chain(
            ends.filter(|token| token.kind == TokenKind::Newline)
                .map(|token| token.end as usize),
        )
        .collect()
}

/// The line on which a byte stands.
pub fn line_of(starts: &[usize], byte: usize) -> usize {
    starts.partition_point(|start| *start <= byte) - 1
}

/// What is read of every document of the comparison.
pub fn all() -> &'static [Statements] {
    static ALL: OnceLock<Vec<Statements>> = OnceLock::new();
    ALL.get_or_init(|| {
        let documents = documents::all().iter();
        documents
            .map(|document| statements(&document.text))
            .collect()
    })
}

fn statements(text: &str) -> Statements {
    let tree = parse(text);
    let starts = line_starts(&tree);
    let mut found = Statements {
        line_starts: starts.clone(),
        faults: tree.faults.len(),
        broken_lines: BTreeSet::new(),
        by_line: BTreeMap::new(),
    };
    let mut open = vec![(tree.root(), None, true)];
    while let Some((id, line, sound)) = open.pop() {
        for child in below(&tree, id) {
            let statement = statement(&tree, &starts, child, line, sound);
            let own_line = line_of(&starts, tree.span(child).start as usize);
            open.push((child, Some(own_line), sound && !statement.broken));
            if statement.broken {
                let last = (tree.span(child).end as usize).max(1) - 1;
                found
                    .broken_lines
                    .extend(own_line..=line_of(&starts, last).max(own_line));
            }
            found.by_line.insert(own_line, statement);
        }
    }
    found
}

/// The statements below another: what is neither a part of its own line nor an empty one that is missing.
fn below(tree: &Tree, id: NodeId) -> Vec<NodeId> {
    let own = |child: &NodeId| tree.node(*child).first < tree.node(id).head;
    tree.children(id)
        .filter(|child| id == tree.root() || !own(child) && !tree.span(*child).is_empty())
        .collect()
}

fn statement(
    tree: &Tree,
    starts: &[usize],
    id: NodeId,
    parent: Option<usize>,
    sound_above: bool,
) -> Statement {
    use NodeKind::*;
    let span = tree.span(id);
    let line = line_of(starts, span.start as usize);
    let last = line_of(starts, (span.end as usize).max(span.start as usize + 1) - 1);
    let begin = starts[line];
    let end = starts
        .get(last + 1)
        .map_or(tree.text().len() + 1, |next| *next);
    // These leave the statement what it is: it stands in the wrong place, or is not written as it should be.
    let harmless = [
        FaultKind::MisplacedStatement,
        FaultKind::TabIndentation,
        FaultKind::RowLength,
        FaultKind::UnknownDocument,
        FaultKind::OutlineTooDeep,
        FaultKind::ByteOrderMark,
        FaultKind::LoneCarriageReturn,
        FaultKind::UnterminatedText,
    ];
    let kind = tree.kind(id);
    let left_over = tree.child(id, Rest).is_some();
    let faulty = tree.faults.iter().any(|fault| {
        (begin..end).contains(&(fault.span.start as usize)) && !harmless.contains(&fault.kind)
    });
    let broken = kind != Broken && (faulty || left_over);
    let worded = !matches!(kind, Reading | DesignValue | HeaderRow | Row | Broken);
    let word = worded.then(|| {
        let before = tree.text()[begin..span.start as usize]
            .encode_utf16()
            .count();
        let word = tree.token_text(tree.node(id).first as usize);
        before..before + word.encode_utf16().count()
    });
    Statement {
        kind: match kind {
            Broken => "unread_line".to_owned(),
            kind => kind.production().replace('-', "_"),
        },
        parent,
        broken,
        sound_above,
        word,
    }
}
