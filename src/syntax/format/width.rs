//! How many columns a piece of text takes on the screen.

use unicode_width::UnicodeWidthStr;

/// Columns of a text: two for the wide characters of East Asia and for emoji, none for what combines with its neighbour.
///
/// Source: Unicode Standard Annex 11.
pub fn of(text: &str) -> usize {
    if text.is_ascii() {
        text.len()
    } else {
        UnicodeWidthStr::width(text)
    }
}
