//! Formatting: a document, some of its lines, and what was just typed. The layout has no settings, so the client's tab
//! size and its wish for tabs are not asked: two blanks a level are part of the language.

use super::sight::Sight;
use crate::syntax::format::{Edit, Unlike, format, format_lines, on_blank, on_newline};
use tower_lsp::lsp_types::{Position, Range, TextEdit};

/// The characters after which the lines around are laid out.
pub(super) const TYPED: [&str; 2] = ["\n", " "];

/// The edits that lay out the whole document.
pub(super) fn document(sight: &Sight<'_>) -> Result<Option<Vec<TextEdit>>, Unlike> {
    edits(sight, format(sight.tree))
}

/// The edits that lay out the lines of a range; a line at whose beginning the range ends is not one of them.
pub(super) fn range(sight: &Sight<'_>, range: Range) -> Result<Option<Vec<TextEdit>>, Unlike> {
    let (first, last) = (range.start.line, range.end.line);
    let end = match range.end.character {
        0 if last > first => last,
        _ => last.saturating_add(1),
    };
    edits(sight, format_lines(sight.tree, first..end))
}

/// The edits after one of [`TYPED`] was typed before a position.
pub(super) fn typed(
    sight: &Sight<'_>,
    position: Position,
    character: &str,
) -> Result<Option<Vec<TextEdit>>, Unlike> {
    let offset = sight.offset(position);
    let found = match character {
        "\n" => on_newline(sight.tree, offset),
        " " => on_blank(sight.tree, offset),
        _ => return Ok(None),
    };
    edits(sight, found)
}

fn edits(
    sight: &Sight<'_>,
    found: Result<Vec<Edit>, Unlike>,
) -> Result<Option<Vec<TextEdit>>, Unlike> {
    if sight.desk.is_built_in(sight.file) {
        return Ok(None);
    }
    let edit = |edit: Edit| TextEdit::new(sight.range(edit.span), edit.text);
    Ok(Some(found?.into_iter().map(edit).collect()))
}
