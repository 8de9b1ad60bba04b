//! The line index: byte offset to line and column, and back, in each encoding an editor may ask for.
//!
//! A line ends at LF, at CR LF or at a lone CR, as editors' protocols count them.

use std::sync::Arc;

/// A position as people count: both from 1, columns in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct LineColumn {
    /// Line, from 1.
    pub line: u32,
    /// Column, from 1, in characters.
    pub column: u32,
}

/// How columns are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ColumnUnit {
    /// Bytes of UTF-8.
    Utf8,
    /// 16-bit units of UTF-16.
    Utf16,
    /// Characters.
    Utf32,
}

/// Start offsets of every line of a text. Cheap to clone.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct LineIndex {
    starts: Arc<[u32]>,
    length: u32,
}

impl LineIndex {
    /// Indexes `text` in one pass.
    pub fn new(text: &str) -> LineIndex {
        let bytes = text.as_bytes();
        let mut starts = Vec::with_capacity(bytes.len() / 24 + 1);
        starts.push(0);
        line_starts(bytes, 0, bytes.len(), &mut starts);
        LineIndex {
            starts: starts.into(),
            length: bytes.len() as u32,
        }
    }

    /// An index whose lines are known: the first byte of each, in order, the first of them 0, and the text's length.
    pub(super) fn of(starts: &[u32], length: u32) -> LineIndex {
        LineIndex {
            starts: starts.into(),
            length,
        }
    }

    /// Number of lines; an empty text has one.
    pub fn count(&self) -> usize {
        self.starts.len()
    }

    /// Number of lines that have anything on them or a line end: what a person would count.
    pub fn written(&self) -> usize {
        let last_is_empty = self.starts.last() == Some(&self.length);
        self.starts.len() - usize::from(last_is_empty)
    }

    /// The line (from 0) that holds `offset`; offsets past the end belong to the last line.
    pub fn line_of(&self, offset: u32) -> usize {
        self.starts.partition_point(|start| *start <= offset) - 1
    }

    /// First byte of a line (from 0); the text's length for a line past the end.
    pub fn start_of(&self, line: usize) -> u32 {
        self.starts.get(line).copied().unwrap_or(self.length)
    }

    /// Line and column from 1, columns in characters.
    pub fn line_column(&self, text: &str, offset: u32) -> LineColumn {
        let (line, column) = self.position(text, offset, ColumnUnit::Utf32);
        LineColumn {
            line: line + 1,
            column: column + 1,
        }
    }

    /// Line and column from 0 in the given unit; an offset inside a character is moved to its start.
    pub fn position(&self, text: &str, offset: u32, unit: ColumnUnit) -> (u32, u32) {
        let mut offset = (offset.min(self.length)) as usize;
        while !text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = self.line_of(offset as u32);
        let before = &text[self.starts[line] as usize..offset];
        let column = match unit {
            ColumnUnit::Utf8 => before.len(),
            ColumnUnit::Utf16 => before.encode_utf16().count(),
            ColumnUnit::Utf32 => before.chars().count(),
        };
        (line as u32, column as u32)
    }

    /// The byte offset of a position from 0; columns past the line's end give the end of the line's
    /// text, lines past the end give the end of the document.
    pub fn offset(&self, text: &str, line: u32, column: u32, unit: ColumnUnit) -> u32 {
        let start = self.start_of(line as usize);
        let next = self.start_of((line as usize).saturating_add(1));
        offset_in_line(&text[start as usize..next as usize], start, column, unit)
    }
}

/// Adds the line starts that the bytes `from..to` make: each lies one past a byte that ends a line.
pub(super) fn line_starts(bytes: &[u8], from: usize, to: usize, starts: &mut Vec<u32>) {
    for (index, byte) in bytes.iter().enumerate().take(to).skip(from) {
        let ends = match byte {
            b'\n' => true,
            b'\r' => bytes.get(index + 1) != Some(&b'\n'),
            _ => false,
        };
        if ends {
            starts.push(index as u32 + 1);
        }
    }
}

/// The byte offset of a column in a line that begins at `start` and is given with its line end.
pub(super) fn offset_in_line(line: &str, start: u32, column: u32, unit: ColumnUnit) -> u32 {
    let content = line.trim_end_matches(['\n', '\r']);
    let mut left = column as usize;
    for (at, character) in content.char_indices() {
        let width = match unit {
            ColumnUnit::Utf8 => character.len_utf8(),
            ColumnUnit::Utf16 => character.len_utf16(),
            ColumnUnit::Utf32 => 1,
        };
        if left < width {
            return start + at as u32;
        }
        left -= width;
    }
    start + content.len() as u32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_line_ending_ends_one_line() {
        let index = LineIndex::new("a\r\nb\rc\nd");
        assert_eq!(index.count(), 4);
        assert_eq!(index.line_of(0), 0);
        assert_eq!(index.line_of(3), 1);
        assert_eq!(index.line_of(5), 2);
    }

    #[test]
    fn positions_round_trip_in_every_encoding() {
        let text = "ϑ = 23.4 °C ± 1\r\n😀Ω x\n\nlast";
        let index = LineIndex::new(text);
        for unit in [ColumnUnit::Utf8, ColumnUnit::Utf16, ColumnUnit::Utf32] {
            for (offset, character) in text.char_indices() {
                if character == '\n' || character == '\r' {
                    continue;
                }
                let (line, column) = index.position(text, offset as u32, unit);
                assert_eq!(
                    index.offset(text, line, column, unit),
                    offset as u32,
                    "{unit:?} at {offset}"
                );
            }
        }
    }

    #[test]
    fn columns_are_characters() {
        let text = "a °C x";
        let index = LineIndex::new(text);
        let at = text
            .find('x')
            .map(|offset| index.line_column(text, offset as u32));
        assert_eq!(at, Some(LineColumn { line: 1, column: 6 }));
    }
}
