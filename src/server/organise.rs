//! A register put in order: people, then instruments, each by name; the calibrations of an instrument by date.
//!
//! A comment directly above an entry goes where the entry goes, and so does an `accept` line. A comment that stands by
//! itself heads what follows: entries are ordered between two such comments and never moved past one. Blank lines stay
//! where they are. A record keeps its order, because its order is time, and a plan keeps the order in which its
//! author tells it.

use crate::quantity::moment::parse_day;
use crate::syntax::{DocumentKind, NodeId, NodeKind, Tree, parse};
use std::cmp::Ordering;

/// The text in order: nothing where it is in order already, or is no register. The error says why it cannot be put in
/// order.
pub(super) fn organised(tree: &Tree) -> Result<Option<String>, String> {
    if tree.document != DocumentKind::Register {
        return Ok(None);
    }
    if !tree.faults.is_empty() {
        return Err("expected a register whose every line can be read, found one that cannot: mend it first".to_owned());
    }
    let lines = Lines::of(tree);
    let mut order: Vec<usize> = (0..lines.texts.len()).collect();
    let entries = entries(tree, &lines);
    for section in entries.chunk_by(|one, other| one.section == other.section) {
        let blocks = section.iter().map(|entry| entry.lines.clone());
        let mut sorted: Vec<&Entry> = section.iter().collect();
        sorted.sort_by(|one, other| one.before(other));
        let sorted = sorted.into_iter().map(|entry| entry.in_order(tree, &lines));
        rearrange(&mut order, &blocks.collect::<Vec<_>>(), sorted.collect());
    }
    let text = lines.put_together(&order);
    if text == **tree.text() {
        return Ok(None);
    }
    // Lines were moved and nothing else, and each is read as before.
    let again = parse(text.as_str());
    match again.faults.is_empty() && again.len() == tree.len() {
        true => Ok(Some(text)),
        false => {
            Err("the entries hang together in a way that their order cannot be changed".to_owned())
        }
    }
}

/// Puts blocks of line numbers into the place of others: the first of `sorted` where the first of `blocks` was.
fn rearrange(order: &mut Vec<usize>, blocks: &[std::ops::Range<usize>], sorted: Vec<Vec<usize>>) {
    let (Some(first), Some(last)) = (blocks.first(), blocks.last()) else {
        return;
    };
    let mut new = Vec::new();
    let mut at = first.start;
    for (block, lines) in blocks.iter().zip(sorted) {
        // What lies between two blocks, blank lines, stays between the two that are there now.
        new.extend(at..block.start);
        new.extend(lines);
        at = block.end;
    }
    // Lines before the first block are where they were: nothing before it moves out of its section.
    order.splice(first.start..last.end, new);
}

/// The lines of a document.
struct Lines<'t> {
    /// Each with its end.
    texts: Vec<&'t str>,
    starts: Vec<u32>,
}

impl<'t> Lines<'t> {
    fn of(tree: &'t Tree) -> Lines<'t> {
        let texts: Vec<&str> = tree.text().split_inclusive('\n').collect();
        let mut at = 0;
        let starts = texts.iter().map(|line| {
            let start = at;
            at += line.len() as u32;
            start
        });
        Lines {
            starts: starts.collect(),
            texts,
        }
    }

    fn at(&self, offset: u32) -> usize {
        self.starts.partition_point(|start| *start <= offset) - 1
    }

    fn is_blank(&self, line: usize) -> bool {
        self.texts[line].trim().is_empty()
    }

    fn is_comment(&self, line: usize) -> bool {
        self.texts[line].trim_start().starts_with('#')
    }

    fn is_indented(&self, line: usize) -> bool {
        self.texts[line].starts_with([' ', '\t'])
    }

    /// The lines of a statement with all that belongs to it, without blank lines at its end.
    fn outline(&self, tree: &Tree, node: NodeId) -> std::ops::Range<usize> {
        let span = tree.outline_span(node);
        let first = self.at(span.start);
        let mut last = self.at(span.end.max(span.start + 1) - 1);
        while last > first && self.is_blank(last) {
            last -= 1;
        }
        first..last + 1
    }

    /// The lines in another order. The last line gets an end where it had none and is the last no longer.
    fn put_together(&self, order: &[usize]) -> String {
        let end = match self
            .texts
            .first()
            .is_some_and(|line| line.ends_with("\r\n"))
        {
            true => "\r\n",
            false => "\n",
        };
        let closed = self.texts.last().is_none_or(|line| line.ends_with('\n'));
        let mut text = String::new();
        for line in order {
            text.push_str(self.texts[*line].trim_end_matches(['\n', '\r']));
            text.push_str(match self.texts[*line] {
                line if line.ends_with("\r\n") => "\r\n",
                line if line.ends_with('\n') => "\n",
                _ => end,
            });
        }
        if !closed {
            let bare = text.trim_end_matches(['\n', '\r']).len();
            text.truncate(bare);
        }
        text
    }
}

/// A person or an instrument with everything that goes with it.
struct Entry {
    node: NodeId,
    instrument: bool,
    name: String,
    lines: std::ops::Range<usize>,
    /// Counts the comments that stand by themselves above it.
    section: usize,
}

impl Entry {
    fn before(&self, other: &Entry) -> Ordering {
        self.instrument
            .cmp(&other.instrument)
            .then_with(|| by_name(&self.name, &other.name))
    }

    /// Its lines with the calibrations by date.
    fn in_order(&self, tree: &Tree, lines: &Lines<'_>) -> Vec<usize> {
        let mut calibrations: Vec<(Vec<i32>, std::ops::Range<usize>)> = tree
            .children(self.node)
            .filter(|child| tree.kind(*child) == NodeKind::Calibrated)
            .map(|child| {
                let own = lines.outline(tree, child);
                (
                    days(tree, child),
                    with_lead(tree, lines, own, self.lines.start + 1),
                )
            })
            .collect();
        let blocks: Vec<_> = calibrations.iter().map(|(_, own)| own.clone()).collect();
        calibrations.sort_by(|one, other| one.0.cmp(&other.0));
        let sorted = calibrations.into_iter().map(|(_, own)| own.collect());
        let mut order: Vec<usize> = (0..lines.texts.len()).collect();
        rearrange(&mut order, &blocks, sorted.collect());
        order[self.lines.clone()].to_vec()
    }
}

/// The days that a calibration names.
fn days(tree: &Tree, calibrated: NodeId) -> Vec<i32> {
    let mut waiting = vec![calibrated];
    let mut days = Vec::new();
    while let Some(node) = waiting.pop() {
        if tree.kind(node) == NodeKind::DateTime {
            days.extend(parse_day(tree.text_of(node)));
        }
        let first = waiting.len();
        waiting.extend(tree.children(node));
        waiting[first..].reverse();
    }
    days
}

/// The lines of a statement with the comments and `accept` lines directly above it, down to `least`.
fn with_lead(
    tree: &Tree,
    lines: &Lines<'_>,
    own: std::ops::Range<usize>,
    least: usize,
) -> std::ops::Range<usize> {
    let indented = lines.is_indented(own.start);
    let accepts = |line: usize| {
        let text = lines.texts[line].trim_start();
        text.starts_with("accept ") && tree.document == DocumentKind::Register
    };
    let mut first = own.start;
    while first > least
        && (lines.is_comment(first - 1) || accepts(first - 1))
        && lines.is_indented(first - 1) == indented
    {
        first -= 1;
    }
    first..own.end
}

fn entries(tree: &Tree, lines: &Lines<'_>) -> Vec<Entry> {
    let mut entries: Vec<Entry> = Vec::new();
    let mut section = 0;
    let mut above = 0;
    for node in tree.children(tree.root()) {
        let kind = tree.kind(node);
        let own = lines.outline(tree, node);
        let instrument = kind == NodeKind::Instrument;
        if !instrument && kind != NodeKind::Person {
            if kind != NodeKind::Accept {
                // What is no entry stays, and nothing moves past it.
                section += 1;
                above = own.end;
            }
            continue;
        }
        let own = with_lead(tree, lines, own, above);
        if (above..own.start).any(|line| lines.is_comment(line) && !lines.is_indented(line)) {
            section += 1;
        }
        let mut end = own.end;
        // Comments at the level of its parts belong to it.
        while end < lines.texts.len() && lines.is_comment(end) && lines.is_indented(end) {
            end += 1;
        }
        above = end;
        let name = tree
            .children(node)
            .next()
            .map(|name| match tree.kind(name) {
                NodeKind::TextPart => tree.unquoted(name),
                _ => tree.text_of(name).to_owned(),
            });
        entries.push(Entry {
            node,
            instrument,
            name: name.unwrap_or_default(),
            lines: own.start..end,
            section,
        });
    }
    entries
}

/// The order of names: numbers in them count as numbers, so that TP-2 stands before TP-11.
fn by_name(one: &str, other: &str) -> Ordering {
    let (mut left, mut right) = (one, other);
    loop {
        let digits = |text: &str| {
            let end = text.find(|own: char| !own.is_ascii_digit());
            end.unwrap_or(text.len())
        };
        match (digits(left), digits(right)) {
            (0, _) | (_, 0) => match (left.chars().next(), right.chars().next()) {
                (Some(a), Some(b)) if a == b => {
                    left = &left[a.len_utf8()..];
                    right = &right[b.len_utf8()..];
                }
                (None, None) => return one.cmp(other),
                (a, b) => return a.cmp(&b),
            },
            (a, b) => {
                let number = |text: &str| text.trim_start_matches('0').to_owned();
                let (first, second) = (number(&left[..a]), number(&right[..b]));
                let order = first.len().cmp(&second.len()).then(first.cmp(&second));
                if order.is_ne() {
                    return order;
                }
                left = &left[a..];
                right = &right[b..];
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[track_caller]
    fn comes_to(text: &str, expected: &str) {
        let tree = parse(text);
        let came = organised(&tree);
        assert_eq!(came, Ok(Some(expected.to_owned())));
        assert_eq!(organised(&parse(expected)), Ok(None), "put in order twice");
    }

    #[test]
    fn people_stand_before_instruments_each_by_name() {
        comes_to(
            "register r\n  zone +01:00\n\ninstrument TP-11 \"tape\"\n  measures length\n\nperson M.Okafor \"Mary\"\n  roles quality\n\ninstrument TP-2 \"tape\"\n  measures length\n\nperson A.Brandt \"Anna\"\n  roles design",
            "register r\n  zone +01:00\n\nperson A.Brandt \"Anna\"\n  roles design\n\nperson M.Okafor \"Mary\"\n  roles quality\n\ninstrument TP-2 \"tape\"\n  measures length\n\ninstrument TP-11 \"tape\"\n  measures length",
        );
    }

    #[test]
    fn comments_and_accepted_findings_go_with_their_entry() {
        comes_to(
            "register r\nperson B.B \"B\"\n  roles quality\n  # until further notice\n# the first\naccept unused because \"so\" by B.B on 2026-01-01\nperson A.A \"A\"\n  roles test\n",
            "register r\n# the first\naccept unused because \"so\" by B.B on 2026-01-01\nperson A.A \"A\"\n  roles test\nperson B.B \"B\"\n  roles quality\n  # until further notice\n",
        );
    }

    #[test]
    fn nothing_is_moved_past_a_comment_that_heads_what_follows() {
        comes_to(
            "register r\n\ninstrument B-1 \"b\"\n\n# ---- test field\n\ninstrument A-2 \"a\"\n\nperson P.P \"p\"\n\ninstrument A-1 \"a\"\n",
            "register r\n\ninstrument B-1 \"b\"\n\n# ---- test field\n\nperson P.P \"p\"\n\ninstrument A-1 \"a\"\n\ninstrument A-2 \"a\"\n",
        );
    }

    #[test]
    fn calibrations_stand_by_date_with_what_is_said_of_them() {
        comes_to(
            "register r\r\ninstrument A-1 \"a\"\r\n  measures length\r\n  calibrated 2026-02-09 due 2027-02-09\r\n  # after repair\r\n  calibrated 2025-02-10 due 2026-02-10 certificate \"C-1\"\r\n  note \"x\"\r\n",
            "register r\r\ninstrument A-1 \"a\"\r\n  measures length\r\n  # after repair\r\n  calibrated 2025-02-10 due 2026-02-10 certificate \"C-1\"\r\n  calibrated 2026-02-09 due 2027-02-09\r\n  note \"x\"\r\n",
        );
    }

    #[test]
    fn records_and_plans_keep_their_order_and_a_broken_register_is_refused() {
        let record = parse("unit T-1\nstage b\nstage a\n");
        assert_eq!(organised(&record), Ok(None));
        let plan = parse("plan p\nstage b\nstage a\n");
        assert_eq!(organised(&plan), Ok(None));
        let broken = parse("register r\nperson B.B \"B\"\n  rolls ???\nperson A.A \"A\"\n");
        assert!(organised(&broken).is_err_and(|reason| reason.contains("mend it first")));
    }
}
