//! Where the cursor stands: what is being typed, what stands before it on the line, and which statements are above.

use crate::server::brackets::{name_start, open_brackets};
use crate::server::sight::Sight;

/// A statement above the cursor's line, to whose outline the line belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Above<'t> {
    /// Its first word.
    pub word: &'t str,
    /// The rest of its line.
    pub rest: &'t str,
    /// First byte of its line.
    pub start: u32,
}

/// Where the cursor stands.
#[derive(Clone, Debug)]
pub(super) struct Context<'t> {
    /// The part of a name that is typed already.
    pub typed: &'t str,
    /// The line up to what is being typed, without its indentation.
    pub before: &'t str,
    /// The first word of the line; empty while that is being typed.
    pub first: &'t str,
    /// The word before what is being typed.
    pub previous: &'t str,
    /// The first word of the line is being typed.
    pub at_line_start: bool,
    /// The statements above, the outermost first.
    pub above: Vec<Above<'t>>,
    /// First byte of the line.
    pub line_start: usize,
    pub in_comment: bool,
    pub in_text: bool,
    /// The name before the `[` in which the cursor stands, and how many commas stand between.
    pub index: Option<(&'t str, usize)>,
}

impl<'t> Context<'t> {
    /// The context at a byte.
    pub(super) fn of(text: &'t str, offset: u32) -> Context<'t> {
        let offset = offset as usize;
        let start = text[..offset].rfind(['\n', '\r']).map_or(0, |at| at + 1);
        let line = &text[start..offset];
        let mut typed_at = name_start(line, &['-', '_']);
        // The name of a person or an instrument is one word to whoever types it, dots and all.
        let dotted = name_start(line, &['-', '_', '.']);
        let asked = line[..dotted].split_whitespace().next_back().unwrap_or("");
        if matches!(asked, "by" | "with" | "person" | "instrument") {
            typed_at = dotted;
        }
        let typed = &line[typed_at..];
        let before = line[..typed_at].trim_start_matches([' ', '\t']);
        let indent = line.len() - line.trim_start_matches([' ', '\t']).len();
        let first = before.split([' ', '\t', '=', '[']).next().unwrap_or("");
        let previous = before.split_whitespace().next_back().unwrap_or("");
        let quotes = before.matches('"').count() - before.matches("\\\"").count();
        let in_text = quotes % 2 == 1;
        Context {
            typed,
            before,
            first,
            previous,
            at_line_start: before.is_empty(),
            above: above(text, start, indent),
            line_start: start,
            in_comment: !in_text && before.contains('#'),
            in_text,
            index: index(before),
        }
    }

    /// The statement with this first word to whose outline the line belongs.
    pub(super) fn inside(&self, word: &str) -> Option<&Above<'t>> {
        self.above.iter().rev().find(|above| above.word == word)
    }

    /// The same a level further out.
    pub(super) fn outer(&self) -> Context<'t> {
        let mut outer = self.clone();
        outer.above.pop();
        outer
    }

    /// The text of the stage from its first line to the cursor's line; empty outside a stage.
    pub(super) fn stage_text(&self, sight: &Sight<'t>) -> &'t str {
        let text: &'t str = &sight.source.text;
        self.inside("stage")
            .map_or("", |stage| &text[stage.start as usize..self.line_start])
    }

    /// The name behind the first word of the innermost statement of this kind: `winding` of `stage winding`.
    pub(super) fn name_of(&self, word: &str) -> Option<&'t str> {
        self.inside(word)?.rest.split_whitespace().next()
    }
}

fn above(text: &str, start: usize, indent: usize) -> Vec<Above<'_>> {
    let mut found = Vec::new();
    let mut least = indent;
    let mut end = start;
    while end > 0 && least > 0 {
        let content_end = end - 1;
        let line_start = text[..content_end].rfind('\n').map_or(0, |at| at + 1);
        let line = text[line_start..content_end].trim_end_matches('\r');
        let own = line.trim_start_matches([' ', '\t']);
        let depth = line.len() - own.len();
        if !own.is_empty() && !own.starts_with('#') && depth < least {
            let (word, rest) = own.split_once([' ', '\t']).unwrap_or((own, ""));
            found.push(Above {
                word,
                rest: rest.trim_start(),
                start: line_start as u32,
            });
            least = depth;
        }
        end = line_start;
    }
    found.reverse();
    found
}

fn index(before: &str) -> Option<(&str, usize)> {
    let innermost = open_brackets(before).next()?;
    (innermost.bracket == '[').then_some((innermost.head, innermost.commas))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(marked: &str) -> (String, u32) {
        let offset = marked.find('|').expect("the test marks a place");
        (marked.replace('|', ""), offset as u32)
    }

    #[test]
    fn the_outline_above_is_known_although_the_line_is_not_finished() {
        let (text, offset) =
            at("unit T\n  plan p\nstage winding\n  # note\n  table turns\n    U V\n    27|");
        let context = Context::of(&text, offset);
        let words: Vec<&str> = context.above.iter().map(|above| above.word).collect();
        assert_eq!(words, ["stage", "table"]);
        assert_eq!(context.name_of("stage"), Some("winding"));
        assert_eq!((context.typed, context.at_line_start), ("27", true));
    }

    #[test]
    fn an_index_is_known_by_its_name_and_position() {
        let (text, offset) = at("stage s\n  resistance[HV, |");
        let context = Context::of(&text, offset);
        assert_eq!(context.index, Some(("resistance", 1)));
        let (text, offset) = at("  require max(r[w, *]) <= f(|");
        assert_eq!(Context::of(&text, offset).index, None);
    }

    #[test]
    fn the_words_of_a_line_are_told_apart() {
        let (text, offset) = at("stage s\r\n  r = 4 mohm with M|");
        let context = Context::of(&text, offset);
        assert_eq!(
            (context.first, context.previous, context.typed),
            ("r", "with", "M")
        );
        let (text, offset) = at("stage s\n  on 2026-02-18 by J.L|");
        let context = Context::of(&text, offset);
        assert_eq!((context.previous, context.typed), ("by", "J.L"));
        let (text, offset) = at("stage s\n  check c\n    require x > design.t|");
        assert_eq!(Context::of(&text, offset).typed, "t");
        let (text, offset) = at("  note \"x # y|");
        let context = Context::of(&text, offset);
        assert!(context.in_text && !context.in_comment);
    }
}
