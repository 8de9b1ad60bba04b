//! The canonical text of statements: what counts of them, whatever they look like.
//!
//! One line for each statement: its depth as two blanks a level, its tokens parted by one blank each but around dots and
//! inside brackets, the cells of a row parted by tabs. Comments, blank lines, line ends, alignment and the indentation itself do not count; the
//! order of statements and the writer's own digits and units do.

use crate::syntax::{NodeId, NodeKind, TokenKind, Tree};
use crate::text::Span;
use sha2::{Digest as _, Sha256};

/// One canonical line and where its statement stands.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// The text, without a line end.
    pub text: String,
    /// The statement's own line in the document; empty for a fact that stands on no line of it.
    pub span: Span,
}

/// The SHA-256 of some bytes in 64 hexadecimal digits.
///
/// Source: FIPS 180-4.
pub fn digest(bytes: &[u8]) -> String {
    let mut text = String::with_capacity(64);
    for byte in Sha256::digest(bytes) {
        text.push_str(&format!("{byte:02x}"));
    }
    text
}

/// The digest of canonical lines, each ended by a line feed.
pub fn digest_of(lines: &[Line]) -> String {
    digest(text_of(lines).as_bytes())
}

/// Canonical lines as one text, each ended by a line feed.
pub fn text_of(lines: &[Line]) -> String {
    let mut text = String::with_capacity(lines.iter().map(|line| line.text.len() + 1).sum());
    for line in lines {
        text.push_str(&line.text);
        text.push('\n');
    }
    text
}

/// What a seal never covers: seals themselves, which the chain holds, and what `accept` says of findings, which is
/// judged by rules of its own and may come later.
fn left_out(kind: NodeKind) -> bool {
    matches!(kind, NodeKind::Seal | NodeKind::Accept)
}

/// Adds the canonical lines of a statement and of all below it that `keep` wants.
pub fn write(
    tree: &Tree,
    node: NodeId,
    depth: usize,
    keep: &dyn Fn(NodeKind) -> bool,
    lines: &mut Vec<Line>,
) {
    lines.push(Line {
        text: own_line(tree, node, depth),
        span: tree.span(node),
    });
    for child in below(tree, node) {
        let kind = tree.kind(child);
        if !left_out(kind) && keep(kind) {
            write(tree, child, depth + 1, keep, lines);
        }
    }
}

/// Keeps everything.
pub fn all(_: NodeKind) -> bool {
    true
}

/// The statements below a statement, without the parts of its own line.
pub fn below(tree: &Tree, node: NodeId) -> impl Iterator<Item = NodeId> + '_ {
    let head = tree.node(node).head;
    tree.children(node)
        .filter(move |child| tree.node(*child).first >= head)
}

fn own_line(tree: &Tree, node: NodeId, depth: usize) -> String {
    let mut text = "  ".repeat(depth);
    let cells = matches!(tree.kind(node), NodeKind::Row | NodeKind::HeaderRow);
    let starts: Vec<u32> = match cells {
        true => tree
            .children(node)
            .map(|cell| tree.node(cell).first)
            .collect(),
        false => Vec::new(),
    };
    let mut last = None;
    for (token, kind) in tree.significant(node) {
        if let Some(last) = last {
            if cells && starts.binary_search(&(token as u32)).is_ok() {
                text.push('\t');
            } else if parted(last, kind) {
                text.push(' ');
            }
        }
        last = Some(kind);
        text.push_str(tree.token_text(token));
    }
    text
}

/// Whether a blank stands between two tokens. It depends on their kinds alone, so that nothing rests on how they
/// were written.
fn parted(left: TokenKind, right: TokenKind) -> bool {
    use TokenKind::*;
    let joins_left = matches!(left, OpenParen | OpenBracket | Dot | Caret);
    let joins_right = matches!(
        right,
        OpenParen | CloseParen | OpenBracket | CloseBracket | Comma | Dot | Caret
    );
    !joins_left && !joins_right
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::syntax::parse;

    fn canonical(text: &str) -> String {
        let tree = parse(text);
        let mut lines = Vec::new();
        for statement in tree.children(tree.root()) {
            write(&tree, statement, 0, &all, &mut lines);
        }
        text_of(&lines)
    }

    const RECORD: &str = "unit KFT-1\n  plan p\nstage winding\n  table height(mm)\n    winding  U     V\n    HV       1613  1 612\n  height[HV, W] = 1614 mm  by L.Novak\n    note \"as found\"\n";

    #[test]
    fn layout_and_comments_do_not_count() {
        let other = "# a unit\r\nunit   KFT-1 # one\r\n\tplan p\r\n\r\nstage winding\r\n      table height(mm)\r\n          winding    U         V\r\n          HV    1613      1 612 # as read\r\n      height[HV,W]=1614 mm by   L.Novak\r\n          note \"as found\"\r\n";
        assert_eq!(canonical(RECORD), canonical(other));
    }

    #[test]
    fn every_word_digit_and_level_counts() {
        for (from, to) in [
            ("1613", "1616"),
            ("1 612", "1612"),
            ("L.Novak", "T.Aldous"),
            ("1614 mm", "161.4 cm"),
            ("    note", "  note"),
            ("as found", "as  found"),
        ] {
            let changed = RECORD.replacen(from, to, 1);
            assert_ne!(changed, RECORD);
            assert_ne!(canonical(RECORD), canonical(&changed), "{from} -> {to}");
        }
    }

    #[test]
    fn an_accept_line_and_a_seal_are_not_part_of_it() {
        let with = RECORD.replacen(
            "  height[HV, W]",
            "  accept out-of-limit because \"x\" by M.Okafor on 2026-03-01\n  height[HV, W]",
            1,
        );
        assert_eq!(canonical(RECORD), canonical(&with));
    }

    #[test]
    fn digest_of_a_published_example() {
        // FIPS 180-2, B.1.
        assert_eq!(
            digest(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
    }
}
