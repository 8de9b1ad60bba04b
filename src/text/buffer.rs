//! A text that is being edited: replacements by position, with the line index kept up to date on the way.

use super::lines::line_starts;
use super::{ColumnUnit, LineIndex, Span};
use std::sync::Arc;

/// A text with the first byte of each of its lines.
#[derive(Clone, Debug)]
pub struct Buffer {
    text: String,
    starts: Vec<u32>,
}

impl Buffer {
    /// Takes a text.
    pub fn new(text: impl Into<String>) -> Buffer {
        let text = text.into();
        let mut starts = vec![0];
        line_starts(text.as_bytes(), 0, text.len(), &mut starts);
        Buffer { text, starts }
    }

    /// The text as it stands.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// A copy of the text that can be shared, and its line index.
    pub fn share(&self) -> (Arc<str>, LineIndex) {
        let index = LineIndex::of(&self.starts, self.text.len() as u32);
        (self.text.as_str().into(), index)
    }

    /// The byte offset of a position from 0. Columns past the line's end give the end of the line's text, lines
    /// past the end the end of the document, a column inside a character its start.
    pub fn offset(&self, line: u32, column: u32, unit: ColumnUnit) -> u32 {
        let length = self.text.len() as u32;
        let start = self.starts.get(line as usize).copied().unwrap_or(length);
        let next = self
            .starts
            .get((line as usize).saturating_add(1))
            .copied()
            .unwrap_or(length);
        let line = Span::new(start, next);
        super::lines::offset_in_line(&self.text[line.range()], start, column, unit)
    }

    /// Replaces the bytes of `span` by `new`. A span that does not lie on character borders of the text is moved
    /// outwards to the next ones, one past the end to the end.
    pub fn replace(&mut self, span: Span, new: &str) {
        let mut start = (span.start as usize).min(self.text.len());
        let mut end = (span.end as usize).clamp(start, self.text.len());
        while !self.text.is_char_boundary(start) {
            start -= 1;
        }
        while !self.text.is_char_boundary(end) {
            end += 1;
        }
        self.text.replace_range(start..end, new);
        // Whether a CR ends a line depends on the byte behind it, so the byte before the edit is looked at again.
        let first = start.saturating_sub(1);
        let last = (start + new.len() + 1).min(self.text.len());
        let grown = new.len() as i64 - (end - start) as i64;
        // Starts that the bytes `first..last` of the new text decide lie in `first + 1 ..= last`.
        let from = self.starts.partition_point(|known| *known <= first as u32);
        let old_last = (last as i64 - grown).max(first as i64) as u32;
        let to = self
            .starts
            .partition_point(|known| *known <= old_last)
            .max(from);
        let mut between = Vec::new();
        line_starts(self.text.as_bytes(), first, last, &mut between);
        let tail = from + between.len();
        self.starts.splice(from..to, between);
        if grown != 0 {
            for known in &mut self.starts[tail..] {
                *known = (i64::from(*known) + grown) as u32;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const UNITS: [ColumnUnit; 3] = [ColumnUnit::Utf8, ColumnUnit::Utf16, ColumnUnit::Utf32];

    #[test]
    fn a_position_means_the_same_as_in_the_line_index() {
        let text = "ϑ = 23.4 °C ± 1\r\n😀Ω x\n\nlast";
        let buffer = Buffer::new(text);
        let index = LineIndex::new(text);
        for unit in UNITS {
            for line in 0..6 {
                for column in 0..30 {
                    assert_eq!(
                        buffer.offset(line, column, unit),
                        index.offset(text, line, column, unit),
                        "{unit:?} {line}:{column}"
                    );
                }
            }
        }
        assert_eq!(
            buffer.offset(u32::MAX, u32::MAX, ColumnUnit::Utf16),
            text.len() as u32
        );
    }

    proptest! {
        #[test]
        fn the_lines_are_those_of_the_new_text(
            text in "[a\r\n°😀]{0,40}",
            edits in prop::collection::vec((0u32..60, 0u32..60, "[a\r\n°😀]{0,6}"), 1..20),
        ) {
            let mut buffer = Buffer::new(text.clone());
            for (one, other, new) in edits {
                buffer.replace(Span::new(one.min(other), one.max(other)), &new);
                let (shared, index) = buffer.share();
                prop_assert_eq!(&*shared, buffer.text());
                prop_assert_eq!(index, LineIndex::new(&shared));
            }
        }
    }
}
