//! Places in SARIF: artifacts by relative URI, regions in lines and columns of UTF-16.

use super::ROOT;
use crate::finding::UnitSummary;
use crate::text::{ColumnUnit, FileId, Place, SourceText, Span};
use rustc_hash::FxHashMap;
use serde_json::{Value, json};

/// How the names of the plans that come with the program begin.
const BUILT_IN: &str = "<built-in>/";
/// Longest text of a built-in plan that is repeated beside its region, in characters.
const LONGEST_SNIPPET: usize = 400;
const MARK: char = '\u{feff}';

/// The documents of a run and those of them that the log lists.
pub(super) struct Places<'a> {
    sources: &'a [SourceText],
    /// For each document its index in the list of artifacts.
    index: FxHashMap<FileId, usize>,
    listed: Vec<(FileId, bool)>,
    /// The last first place: findings come sorted, so columns need not be counted anew from the line's beginning.
    last: Option<At>,
    /// Each unit by its document's name, filled when first asked for.
    units: Option<FxHashMap<String, usize>>,
}

/// A place already counted.
#[derive(Clone, Copy)]
struct At {
    file: FileId,
    line: usize,
    offset: u32,
    column: usize,
}

impl<'a> Places<'a> {
    pub(super) fn new(sources: &'a [SourceText]) -> Places<'a> {
        Places {
            sources,
            index: FxHashMap::default(),
            listed: Vec::new(),
            last: None,
            units: None,
        }
    }

    pub(super) fn sources(&self) -> &'a [SourceText] {
        self.sources
    }

    /// The name of a document; empty where it is not among those of the run.
    pub(super) fn name(&self, file: FileId) -> &'a str {
        self.sources
            .get(file.0 as usize)
            .map_or("", |source| &*source.name)
    }

    /// The unit of a document.
    pub(super) fn unit<'b>(
        &mut self,
        path: &str,
        units: &'b [UnitSummary],
    ) -> Option<&'b UnitSummary> {
        let known = self.units.get_or_insert_with(|| {
            let named = units.iter().enumerate();
            named
                .map(|(index, unit)| (unit.path.to_string(), index))
                .collect()
        });
        known.get(path).and_then(|index| units.get(*index))
    }

    /// Puts a document on the list. Gives its index, and nothing for one that is not among those of the run.
    pub(super) fn list(&mut self, file: FileId, checked: bool) -> Option<usize> {
        self.sources.get(file.0 as usize)?;
        Some(*self.index.entry(file).or_insert_with(|| {
            self.listed.push((file, checked));
            self.listed.len() - 1
        }))
    }

    /// Every document on the list.
    pub(super) fn artifacts(&self) -> Vec<Value> {
        let artifact = |(file, checked): &(FileId, bool)| {
            let mut artifact = json!({ "location": location(self.name(*file)) });
            if *checked {
                artifact["roles"] = json!(["analysisTarget"]);
            }
            if let Some(plan) = built_in(self.name(*file)) {
                artifact["description"] = json!({
                    "text": format!("a plan that comes with the program: `stagebook explain {plan}` gives its text"),
                });
            }
            artifact
        };
        self.listed.iter().map(artifact).collect()
    }

    /// Where a document is, with its index on the list.
    pub(super) fn artifact(&mut self, file: FileId) -> Option<Value> {
        let index = self.list(file, false)?;
        let mut location = location(self.name(file));
        location["index"] = json!(index);
        Some(location)
    }

    /// The place of a finding itself. Quick when findings are asked for in their order.
    pub(super) fn first(&mut self, place: Place) -> Option<Value> {
        let source = self.sources.get(place.file.0 as usize)?;
        let start = self.at(place.file, source, place.span.start);
        self.last = Some(start);
        self.physical(place)
    }

    /// Any other place.
    pub(super) fn other(&mut self, place: Place) -> Option<Value> {
        self.physical(place)
    }

    fn physical(&mut self, place: Place) -> Option<Value> {
        let source = self.sources.get(place.file.0 as usize)?;
        let mut region = self.region(place.file, source, place.span);
        if built_in(&source.name).is_some() {
            // There is no such file for a reader to open.
            let text: String = source
                .slice(place.span)
                .chars()
                .take(LONGEST_SNIPPET)
                .collect();
            region["snippet"] = json!({ "text": text });
        }
        Some(json!({
            "artifactLocation": self.artifact(place.file)?,
            "region": region,
        }))
    }

    /// What an edit takes away. A byte order mark has no column, so nothing can be said of it.
    pub(super) fn deleted(&self, file: FileId, span: Span) -> Option<Value> {
        let source = self.sources.get(file.0 as usize)?;
        let mark = source.text.starts_with(MARK);
        if mark && span.start < MARK.len_utf8() as u32 {
            return None;
        }
        Some(self.region(file, source, span))
    }

    fn region(&self, file: FileId, source: &SourceText, span: Span) -> Value {
        let start = self.at(file, source, span.start);
        let end = self.at(file, source, span.end.max(span.start));
        json!({
            "startLine": start.line + 1,
            "startColumn": start.column + 1,
            "endLine": end.line + 1,
            "endColumn": end.column + 1,
        })
    }

    fn at(&self, file: FileId, source: &SourceText, offset: u32) -> At {
        let mut offset = (offset as usize).min(source.text.len());
        while !source.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = source.lines.line_of(offset as u32);
        // A byte order mark is no part of the text, so nothing is counted from before it.
        let mark = line == 0 && source.text.starts_with(MARK);
        let known = self.last.filter(|last| {
            let before = last.file == file && last.line == line && last.offset as usize <= offset;
            before && !(mark && last.offset == 0)
        });
        let column = match known {
            Some(last) => {
                let between = &source.text[last.offset as usize..offset];
                last.column + between.encode_utf16().count()
            }
            None => {
                let (_, column) =
                    source
                        .lines
                        .position(&source.text, offset as u32, ColumnUnit::Utf16);
                column as usize - usize::from(mark && offset > 0)
            }
        };
        At {
            file,
            line,
            offset: offset as u32,
            column,
        }
    }
}

/// The name of a built-in plan, from the name of its document.
fn built_in(name: &str) -> Option<&str> {
    name.strip_prefix(BUILT_IN)?.strip_suffix(".ubr")
}

/// A path from the root as a relative URI; a built-in plan has a URI of its own.
fn location(name: &str) -> Value {
    match built_in(name) {
        Some(plan) => json!({ "uri": format!("stagebook:built-in/{}", encoded(plan)) }),
        None => json!({ "uri": encoded(name), "uriBaseId": ROOT }),
    }
}

/// Percent-encoded but for what RFC 3986 never reserves, and the slash between the parts of a path.
fn encoded(path: &str) -> String {
    let mut uri = String::with_capacity(path.len());
    for byte in path.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' | b'/' => {
                uri.push(byte as char)
            }
            _ => uri.push_str(&format!("%{byte:02X}")),
        }
    }
    uri
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_becomes_a_uri_that_means_it() {
        for (path, uri) in [
            ("units/KFT-0412-1.ubr", "units/KFT-0412-1.ubr"),
            ("a b/50 %.ubr", "a%20b/50%20%25.ubr"),
            ("c:x#1?.ubr", "c%3Ax%231%3F.ubr"),
            ("°.ubr", "%C2%B0.ubr"),
        ] {
            assert_eq!(location(path), json!({ "uri": uri, "uriBaseId": ROOT }));
        }
        let own = location("<built-in>/oil-immersed-unit.ubr");
        assert_eq!(
            own,
            json!({ "uri": "stagebook:built-in/oil-immersed-unit" })
        );
    }

    #[test]
    fn columns_count_from_the_last_place_as_from_the_beginning() {
        let text = "\u{feff}a °Ω 😀 b\r\n😀😀 x\ry\n".to_owned() + &"😀°".repeat(40);
        let sources = [SourceText::new("a.ubr", text.clone())];
        let file = FileId(0);
        let mut walking = Places::new(&sources);
        for offset in 0..=text.len() as u32 + 2 {
            let place = Place {
                file,
                span: Span::new(offset, offset + 1),
            };
            let mut fresh = Places::new(&sources);
            assert_eq!(walking.first(place), fresh.first(place), "{offset}");
            let region = fresh.region(file, &sources[0], place.span);
            let start = text.floor_char_boundary(offset as usize);
            let (line, column) = sources[0]
                .lines
                .position(&text, start as u32, ColumnUnit::Utf16);
            let mark = u32::from(line == 0 && start > 0);
            assert_eq!(region["startLine"], line + 1);
            assert_eq!(region["startColumn"], column + 1 - mark, "{offset}");
        }
        assert!(walking.deleted(file, Span::new(0, 3)).is_none());
        assert!(walking.deleted(file, Span::new(3, 4)).is_some());
    }
}
