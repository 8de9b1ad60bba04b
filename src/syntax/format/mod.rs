//! The formatter: a tree in, edits of white space out.
//!
//! It never changes a token. Everything it does is a change of the blanks and line ends between tokens, so digits,
//! signs, quotes and code points stay as they were typed, and a sealed record stays sealed. What it makes is parsed
//! again and held against the tree it came from; where they differ, nothing is given back but [`Unlike`].
//!
//! The order of work: physical lines with the statements they belong to (`lines`), indentation (`indent`), blanks
//! inside a line (`spacing`), long expressions (`breaking`), columns (`columns`), edits (`edits`), proof (`proof`).

mod breaking;
mod columns;
mod edits;
mod indent;
mod lines;
mod proof;
mod spacing;
mod typing;
mod width;

use super::tree::Tree;
use crate::text::Span;
use std::ops::Range;

pub use typing::{on_blank, on_newline};

/// Columns after which an expression is broken at an operator: the width of the built-in plans.
pub const LINE_WIDTH: usize = 132;
/// Blanks of one level of the outline.
pub const LEVEL: usize = 2;
/// How much deeper than its statement a line stands that goes on with it.
pub const CONTINUATION: usize = 4;
/// Most blanks that a line takes so that its `=` or its comment stands below that of its neighbours.
pub const FARTHEST: usize = 16;

/// One change of white space.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edit {
    /// What is replaced: white space, or nothing.
    pub span: Span,
    /// What stands there instead: white space, or nothing.
    pub text: String,
    /// The line that it changes, counted from 0.
    pub line: u32,
    /// Whether it changes how deep the line stands.
    pub indentation: bool,
}

/// The formatted text would not have meant the same: a fault of the formatter. Nothing may be written then.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unlike {
    /// What would have differed.
    pub what: &'static str,
}

impl std::fmt::Display for Unlike {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(to, "{} would differ behind the formatter", self.what)
    }
}

/// The edits that bring a document into its canonical layout, in order; none where it is canonical already.
///
/// Gives [`Unlike`] where the formatted text would not hold the same tokens in the same outline.
pub fn format(tree: &Tree) -> Result<Vec<Edit>, Unlike> {
    let edits = wanted(tree);
    proof::same(tree, &edits)?;
    Ok(edits)
}

/// The edits for some lines of a document, counted from 0. How deep a line stands is left alone where changing it in
/// these lines only would change the outline.
///
/// Gives [`Unlike`] where even so the text would not hold the same tokens in the same outline.
pub fn format_lines(tree: &Tree, lines: Range<u32>) -> Result<Vec<Edit>, Unlike> {
    let mut edits = wanted(tree);
    edits.retain(|edit| lines.contains(&edit.line));
    if proof::same(tree, &edits).is_ok() {
        return Ok(edits);
    }
    edits.retain(|edit| !edit.indentation);
    proof::same(tree, &edits)?;
    Ok(edits)
}

/// The text with the edits made, which stand in order and apart from each other.
pub fn apply(text: &str, edits: &[Edit]) -> String {
    let mut made = String::with_capacity(text.len() + edits.len());
    let mut behind = 0;
    for edit in edits {
        made.push_str(&text[behind..edit.span.start as usize]);
        made.push_str(&edit.text);
        behind = edit.span.end as usize;
    }
    made.push_str(&text[behind..]);
    made
}

fn wanted(tree: &Tree) -> Vec<Edit> {
    let Some(mut sheet) = lines::read(tree) else {
        return Vec::new();
    };
    indent::set(&mut sheet);
    spacing::set(&mut sheet);
    breaking::set(&mut sheet);
    columns::set(&mut sheet);
    edits::of(&sheet)
}
