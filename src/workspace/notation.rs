//! Faults of notation mended in a text: how something is written, never what is written.
//!
//! One engine for `stagebook fix` and for an editor's "fix all". Nothing is taken on trust: after each round the text
//! before and the text after are parsed and compared value by value and name by name ([`same_content`]); an edit that
//! would make a difference is left out, and its fault stays.

use crate::finding::{Finding, from_fault, rules};
use crate::syntax::{NodeId, NodeKind, TokenKind, Tree, parse};
use crate::text::{FileId, Span};
use std::ops::Range;

/// Rounds of mending: one mended fault can uncover another (`2,5kW`), in a word at most a few times.
const MOST_ROUNDS: usize = 16;

/// Whether a finding is about notation alone, so that there is one mend and it changes no value. A name or unit that is
/// nearest to an unknown one may not be the one that was meant.
pub fn is_notation(finding: &Finding) -> bool {
    [
        &rules::UNIT_SPACE_MISSING,
        &rules::DECIMAL_COMMA,
        &rules::TAB_INDENTATION,
        &rules::BYTE_ORDER_MARK,
        &rules::LONE_CARRIAGE_RETURN,
    ]
    .iter()
    .any(|rule| rule.name == finding.rule.name)
        && finding.accepted.is_none()
}

/// A text whose notation was mended.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Mended {
    /// The text with the mends.
    pub text: String,
    /// How many faults were mended.
    pub count: usize,
}

/// Mends the faults of notation that `findings` of this document tell of, and those of its text that come to light
/// meanwhile. Nothing where there is none that can be mended. What is sealed is not touched.
pub fn mend_notation(tree: &Tree, findings: &[Finding]) -> Option<Mended> {
    let mut edits = edits_of(tree, findings.iter());
    let mut mended: Option<(Tree, usize)> = None;
    for _ in 0..MOST_ROUNDS {
        let before = mended.as_ref().map_or(tree, |(tree, _)| tree);
        let (after, count) = apply_those_that_keep(before, &edits);
        if count == 0 {
            break;
        }
        let so_far = mended.map_or(0, |(_, count)| count);
        let faults: Vec<Finding> = after
            .faults
            .iter()
            .map(|fault| from_fault(fault, FileId(0)))
            .collect();
        edits = edits_of(&after, faults.iter());
        mended = Some((after, so_far + count));
    }
    let (after, count) = mended?;
    // What each round was held to holds for the whole, and costs little to be sure of.
    same_content(tree, &after).then(|| Mended {
        text: after.text().to_string(),
        count,
    })
}

/// The parts of a record that seals hold, in order: there not even the notation is changed.
///
/// In a stage that is all down to its last sealed act; once anything is sealed, all outside the stages too (head,
/// design, nonconformities). Work that goes on in other stages is free.
pub fn sealed_parts(tree: &Tree) -> Vec<Span> {
    let seals: Vec<Span> = (0..tree.len() as u32)
        .map(NodeId)
        .filter(|node| tree.kind(*node) == NodeKind::Seal)
        .map(|node| tree.outline_span(node))
        .collect();
    if seals.is_empty() {
        return Vec::new();
    }
    tree.children(tree.root())
        .filter_map(|node| {
            let whole = tree.outline_span(node);
            if tree.kind(node) != NodeKind::StageRecord {
                return Some(whole);
            }
            let within = |seal: &&Span| whole.start <= seal.start && seal.end <= whole.end;
            let last = seals.iter().rfind(within)?;
            Some(Span::new(whole.start, last.end))
        })
        .collect()
}

/// Whether a place lies in one of these parts or touches it.
pub fn touches_any(parts: &[Span], place: Span) -> bool {
    parts
        .iter()
        .any(|part| part.start <= place.end && place.start <= part.end)
}

/// The edits of these findings, in order, none overlapping another. Where a fault is told of only so often (tabs, lone
/// carriage returns), all of its kind.
fn edits_of<'f>(tree: &Tree, findings: impl Iterator<Item = &'f Finding>) -> Vec<(Span, String)> {
    let (mut tabs, mut returns) = (false, false);
    let mut edits: Vec<(Span, String)> = Vec::new();
    for finding in findings.filter(|finding| is_notation(finding)) {
        if finding.rule.name == rules::TAB_INDENTATION.name {
            tabs = true;
        } else if finding.rule.name == rules::LONE_CARRIAGE_RETURN.name {
            returns = true;
        } else {
            let own = finding.fix.iter().flat_map(|fix| &fix.edits);
            edits.extend(own.cloned());
        }
    }
    if tabs || returns {
        line_edits(tree, tabs, returns, &mut edits);
    }
    edits.sort_by_key(|(span, _)| (span.start, span.end));
    edits.dedup_by(|later, kept| later.0.start < kept.0.end || later.0 == kept.0);
    let sealed = sealed_parts(tree);
    edits.retain(|(span, _)| !touches_any(&sealed, *span));
    edits
}

/// Blanks for the tabs of every indentation, LF for every lone carriage return.
fn line_edits(tree: &Tree, tabs: bool, returns: bool, edits: &mut Vec<(Span, String)>) {
    let mut indentation: Vec<Span> = Vec::new();
    let mut in_indentation = true;
    for (index, token) in tree.tokens().iter().enumerate() {
        let text = tree.token_text(index);
        match token.kind {
            TokenKind::Newline => {
                if returns && text == "\r" {
                    edits.push((tree.token_span(index), "\n".to_owned()));
                }
                indentation.clear();
                in_indentation = true;
            }
            TokenKind::Space if in_indentation => {
                if tabs && text.contains('\t') {
                    indentation.push(tree.token_span(index));
                }
            }
            TokenKind::ByteOrderMark => {}
            _ => {
                // Blank lines keep their blanks: they belong to nothing.
                edits.extend(indentation.drain(..).map(|span| {
                    let blanks = tree.text()[span.range()].replace('\t', "  ");
                    (span, blanks)
                }));
                in_indentation = false;
            }
        }
    }
}

fn applied(text: &str, edits: &[(Span, String)]) -> String {
    let mut out = String::with_capacity(text.len() + edits.len());
    let mut at = 0;
    for (span, new) in edits {
        out.push_str(&text[at..span.start as usize]);
        out.push_str(new);
        at = span.end as usize;
    }
    out.push_str(&text[at..]);
    out
}

/// Applies every edit that leaves the content as it is; gives the text parsed and how many those were.
fn apply_those_that_keep(before: &Tree, edits: &[(Span, String)]) -> (Tree, usize) {
    let kept = those_that_keep(before, edits);
    let tree = parse(applied(before.text(), &kept));
    // Each alone changes nothing; that all together do not is looked at once more.
    if same_content(before, &tree) {
        (tree, kept.len())
    } else {
        (before.clone(), 0)
    }
}

/// Of these edits those that change nothing: all of them nearly always, so halves are only looked at where a whole
/// makes a difference.
fn those_that_keep(before: &Tree, edits: &[(Span, String)]) -> Vec<(Span, String)> {
    let mut kept = Vec::new();
    let mut waiting: Vec<Range<usize>> = Vec::new();
    waiting.push(0..edits.len());
    while let Some(range) = waiting.pop() {
        let own = &edits[range.clone()];
        if own.is_empty() {
            continue;
        }
        if same_content(before, &parse(applied(before.text(), own))) {
            kept.extend_from_slice(own);
        } else if own.len() > 1 {
            let middle = range.start + own.len() / 2;
            waiting.push(middle..range.end);
            waiting.push(range.start..middle);
        }
    }
    kept
}

/// Whether two documents hold the same: the same statements in the same outline with the same names, texts and values,
/// whatever they look like.
pub fn same_content(one: &Tree, other: &Tree) -> bool {
    let mut others = Content::new(other);
    Content::new(one).all(|part| Some(part) == others.next()) && others.next().is_none()
}

/// One part of a document's content: how deep it hangs, what it is, and its own text without blanks and without its
/// parts.
type Part = (usize, NodeKind, String);

/// The content of a document, part by part.
struct Content<'t> {
    tree: &'t Tree,
    waiting: Vec<(NodeId, usize)>,
}

impl<'t> Content<'t> {
    fn new(tree: &'t Tree) -> Content<'t> {
        Content {
            tree,
            waiting: vec![(tree.root(), 0)],
        }
    }
}

impl Iterator for Content<'_> {
    type Item = Part;

    fn next(&mut self) -> Option<Part> {
        let (node, depth) = self.waiting.pop()?;
        let kind = self.tree.kind(node);
        if let Some(amount) = amount(self.tree, node) {
            return Some((depth, NodeKind::Quantity, amount));
        }
        let first = self.waiting.len();
        let children = self.tree.children(node).map(|child| (child, depth + 1));
        self.waiting.extend(children);
        self.waiting[first..].reverse();
        Some((depth, kind, words_between_parts(self.tree, node)))
    }
}

/// What is written as an amount: a number with its unit, with or without a blank between them, with a decimal point or
/// comma. A name that begins with a digit may be one too (`40MVA`).
fn amount(tree: &Tree, node: NodeId) -> Option<String> {
    let quantity = match tree.kind(node) {
        NodeKind::Quantity => true,
        NodeKind::NameList | NodeKind::Reference | NodeKind::Path | NodeKind::Name => false,
        _ => return None,
    };
    let text = own_text(tree, node);
    if !quantity && !text.starts_with(|first: char| first.is_ascii_digit()) {
        return None;
    }
    Some(match quantity {
        true => text.replacen(',', ".", 1),
        false => text,
    })
}

/// The significant tokens of a node's own line that belong to none of its parts, put together.
fn words_between_parts(tree: &Tree, node: NodeId) -> String {
    let mut parts = tree.children(node).map(|part| tree.node(part)).peekable();
    tree.significant(node)
        .filter(|(_, kind)| *kind != TokenKind::ByteOrderMark)
        .filter(|(token, _)| {
            let token = *token as u32;
            while parts.next_if(|part| part.last <= token).is_some() {}
            parts.peek().is_none_or(|part| token < part.first)
        })
        .map(|(token, _)| tree.token_text(token))
        .collect()
}

/// The significant tokens of a node's own line, put together.
fn own_text(tree: &Tree, node: NodeId) -> String {
    tree.significant(node)
        .filter(|(_, kind)| *kind != TokenKind::ByteOrderMark)
        .map(|(token, _)| tree.token_text(token))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn mend(text: &str) -> Option<Mended> {
        let tree = parse(text);
        let findings: Vec<Finding> = tree
            .faults
            .iter()
            .map(|fault| from_fault(fault, FileId(0)))
            .collect();
        mend_notation(&tree, &findings)
    }

    #[track_caller]
    fn comes_to(text: &str, mended: &str, count: usize) {
        let expected = Mended {
            text: mended.to_owned(),
            count,
        };
        assert_eq!(mend(text), Some(expected));
    }

    #[test]
    fn each_fault_of_notation_is_mended() {
        comes_to(
            "unit T-1\nstage s\n  a = 3.5%\n",
            "unit T-1\nstage s\n  a = 3.5 %\n",
            1,
        );
        comes_to(
            "unit T-1\nstage s\n  a = 3,5 kW at 20,5 °C\n",
            "unit T-1\nstage s\n  a = 3.5 kW at 20.5 °C\n",
            2,
        );
        comes_to(
            "unit T-1\nstage s\n\ta = 1\n \tb = 2\n",
            "unit T-1\nstage s\n  a = 1\n   b = 2\n",
            2,
        );
        comes_to("\u{feff}unit T-1\n", "unit T-1\n", 1);
        comes_to(
            "unit T-1\r  plan p\rstage s\r",
            "unit T-1\n  plan p\nstage s\n",
            3,
        );
    }

    #[test]
    fn a_mend_may_uncover_the_next() {
        comes_to(
            "unit T-1\nstage s\n\ta = 2,5kW\n",
            "unit T-1\nstage s\n  a = 2.5 kW\n",
            3,
        );
    }

    #[test]
    fn every_tab_is_replaced_however_many_there_are() {
        let lines = |indent: &str| -> String {
            (0..300)
                .map(|at| format!("{indent}a{at}-x = 1\n"))
                .collect()
        };
        let before = format!("unit T-1\nstage s\n{}", lines("\t"));
        comes_to(&before, &format!("unit T-1\nstage s\n{}", lines("  ")), 300);
    }

    #[test]
    fn what_is_sound_or_sealed_stays() {
        assert_eq!(mend("unit T-1\nstage s\n  a = 2 kW\n"), None);
        assert_eq!(mend("unit T-1\nstage s\n  a = 2kW ? ?\n  los\n"), None);
        let sealed = "unit T-1\nstage s\n  a = 2,5 kW\n  release H1 by A.Bee on 2026-02-02\n    seal \"ab\" after nothing\n";
        assert_eq!(mend(sealed), None);
    }

    #[test]
    fn an_edit_that_would_part_a_cell_is_left_out() {
        // With a blank the row would have the three cells of its header.
        let text = "unit T-1\nstage s\n  table\n    a  b  c\n    1 3.5%\n  d = 2,5 kW\n";
        let mended = mend(text).expect("the comma can be mended");
        assert!(mended.text.contains("d = 2.5 kW"));
        let (before, after) = (parse(text), parse(mended.text));
        assert!(same_content(&before, &after));
    }

    #[test]
    fn what_reads_otherwise_is_not_the_same() {
        let one = parse("unit T-1\nstage s\n  a = 2.5 kW\n  b = yes\n");
        for other in [
            "unit T-1\nstage s\n  a = 2.6 kW\n  b = yes\n",
            "unit T-1\nstage s\n  a = 2.5 W\n  b = yes\n",
            "unit T-1\nstage s\n  a = 25 kW\n  b = yes\n",
            "unit T-1\nstage s\n  b = yes\n  a = 2.5 kW\n",
            "unit T-1\nstage s\n  a = 2.5 kW\n    b = yes\n",
            "unit T-1\nstage s\n  a = 2.5 kW\n",
            "unit T-1\nstage s\n  a = 2.5 kW\n  b = yes\n  c = 1\n",
        ] {
            assert!(!same_content(&one, &parse(other)), "{other}");
        }
        let same = parse("unit T-1 # the first\n\nstage s\n\ta = 2,5kW\n\tb   = yes");
        assert!(same_content(&one, &same));
    }
}
