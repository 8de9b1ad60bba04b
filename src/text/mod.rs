//! Source text: where a byte stands, in lines and columns of any encoding.
//!
//! Nothing here knows the language. Offsets are bytes into UTF-8 text and fit in 32 bits;
//! [`SourceText::new`] refuses nothing, so the caller caps the size (see `workspace`).

mod buffer;
mod decode;
mod lines;

pub use buffer::Buffer;
pub use decode::{DecodeFault, Decoded, decode};
pub use lines::{ColumnUnit, LineColumn, LineIndex};

use std::sync::Arc;

/// A half-open range of bytes in one text.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub struct Span {
    /// First byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// The range from `start` to `end` (bytes).
    pub fn new(start: u32, end: u32) -> Span {
        debug_assert!(start <= end);
        Span { start, end }
    }

    /// The smallest range that holds both.
    pub fn cover(self, other: Span) -> Span {
        Span {
            start: self.start.min(other.start),
            end: self.end.max(other.end),
        }
    }

    /// The same range so many bytes further on; both lie in a text of at most 4 GiB.
    pub fn moved(self, by: i64) -> Span {
        let moved = |byte: u32| (i64::from(byte) + by) as u32;
        Span::new(moved(self.start), moved(self.end))
    }

    /// Number of bytes.
    pub fn len(self) -> usize {
        (self.end - self.start) as usize
    }

    /// True when no byte is covered.
    pub fn is_empty(self) -> bool {
        self.start == self.end
    }

    /// The range as `usize`, for slicing.
    pub fn range(self) -> std::ops::Range<usize> {
        self.start as usize..self.end as usize
    }
}

/// Names one document of a run: an index into the run's list of sources.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FileId(pub u32);

/// A range in a named document.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// The document.
    pub file: FileId,
    /// The bytes in it.
    pub span: Span,
}

/// One document's text with its name and its line index.
#[derive(Clone, Debug)]
pub struct SourceText {
    /// How the document is called in findings: a path relative to where the command was run.
    pub name: Arc<str>,
    /// The whole text.
    pub text: Arc<str>,
    /// Where its lines begin.
    pub lines: LineIndex,
}

impl SourceText {
    /// Takes a name and a text and indexes the lines.
    pub fn new(name: impl Into<Arc<str>>, text: impl Into<Arc<str>>) -> SourceText {
        let text = text.into();
        let lines = LineIndex::new(&text);
        SourceText {
            name: name.into(),
            text,
            lines,
        }
    }

    /// Takes a text whose lines are known already.
    pub fn with_lines(name: impl Into<Arc<str>>, text: Arc<str>, lines: LineIndex) -> SourceText {
        SourceText {
            name: name.into(),
            text,
            lines,
        }
    }

    /// The characters at `span`; an empty string where the span is not on character borders.
    pub fn slice(&self, span: Span) -> &str {
        self.text.get(span.range()).unwrap_or("")
    }

    /// Line and column, both from 1, the column counted in characters (Unicode scalar values).
    pub fn line_column(&self, offset: u32) -> LineColumn {
        self.lines.line_column(&self.text, offset)
    }
}
