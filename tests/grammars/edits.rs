//! Typing: after each edit an editor parses anew only what the edit can have changed. The scanner looks ahead
//! to the next lines, so what it remembers has to be right for that.

use super::documents::{self, Document};
use super::language;
use tree_sitter::{InputEdit, Parser, Point};

/// A small generator of numbers, so that a failure comes again (Knuth's linear congruential generator).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, limit: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) as usize % limit.max(1)
    }
}

const PIECES: &[&str] = &[
    "\n",
    "  ",
    "\n  ",
    "\n    note \"x\"",
    "(",
    ")",
    "[",
    "]",
    ",",
    " =",
    "#",
    "\"",
    "x",
    " 3 mm",
    " and",
    "\t",
    "stage s",
    "\r\n",
    " by a.b",
];

fn point(text: &str, byte: usize) -> Point {
    let before = &text[..byte];
    let row = before.matches('\n').count();
    let column = byte - before.rfind('\n').map_or(0, |at| at + 1);
    Point { row, column }
}

fn boundary(text: &str, mut byte: usize) -> usize {
    while !text.is_char_boundary(byte) {
        byte -= 1;
    }
    byte
}

/// Edits a document step by step; each step is undone by the next but one, so that most texts are nearly
/// right. Tells of steps after which the edited tree is not the one of the text.
pub fn disagreements(document: &Document, steps: usize) -> (Vec<String>, usize) {
    let mut parser = Parser::new();
    parser
        .set_language(&language())
        .expect("grammar and runtime are of versions that fit");
    let mut numbers = Numbers(document.text.len() as u64);
    let mut text = document.text.clone();
    let mut tree = parser.parse(&text, None).expect("a tree without a limit");
    let mut wrong = Vec::new();
    let mut sound = 0;
    let mut undo: Option<(usize, usize, String)> = None;
    for step in 0..steps {
        let (start, old_end, piece) = undo.take().unwrap_or_else(|| {
            let start = boundary(&text, numbers.below(text.len() + 1));
            let end = boundary(&text, (start + numbers.below(12)).min(text.len())).max(start);
            let end = if numbers.below(2) == 0 { start } else { end };
            let piece = PIECES[numbers.below(PIECES.len())].to_owned();
            (start, end, piece)
        });
        let gone = text[start..old_end].to_owned();
        let before = (point(&text, start), point(&text, old_end));
        text.replace_range(start..old_end, &piece);
        let new_end = start + piece.len();
        tree.edit(&InputEdit {
            start_byte: start,
            old_end_byte: old_end,
            new_end_byte: new_end,
            start_position: before.0,
            old_end_position: before.1,
            new_end_position: point(&text, new_end),
        });
        if step % 2 == 0 {
            undo = Some((start, new_end, gone));
        }
        tree = parser
            .parse(&text, Some(&tree))
            .expect("a tree without a limit");
        let fresh = parser.parse(&text, None).expect("a tree without a limit");
        // What an error takes with it may depend on what was there before; a sound text has one tree.
        if fresh.root_node().has_error() {
            continue;
        }
        sound += 1;
        if tree.root_node().to_sexp() != fresh.root_node().to_sexp() {
            wrong.push(format!("{}, step {step}, at byte {start}", document.name));
        }
    }
    (wrong, sound)
}

/// The documents that are edited.
pub fn documents() -> Vec<Document> {
    documents::below(&documents::root().join("tests/fixtures/grammar"))
}
