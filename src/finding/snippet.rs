//! The lines of source around the places of a finding, drawn by ariadne.
//!
//! Only the lines that carry a label are handed over, cut to a window where they are long, so that the
//! cost of a finding never depends on the length of its document. Line numbers and file headings are
//! then set to where the lines really stand.

use std::fmt;

use ariadne::{Cache, CharSet, Config, IndexType, Label, Report, ReportKind, Source};

use super::printable;
use super::terminal::{Paint, Style};
use crate::text::{Place, SourceText};

/// A line longer than this is cut (characters).
const WHOLE_LINE: usize = 160;
/// Characters kept before the label of a cut line.
const BEFORE: usize = 60;
/// Characters kept from the start of the label of a cut line.
const FROM: usize = 140;
/// Stands around the number of an excerpt in a heading until the true heading replaces it; never
/// present in printable text.
const MARK: char = '\u{E000}';

/// A place with the words to show at it.
pub(super) struct Marked<'a> {
    pub(super) place: Place,
    pub(super) words: &'a str,
}

/// The labelled lines of one document.
struct Excerpt<'a> {
    source: &'a SourceText,
    heading: u32,
    text: String,
    characters: usize,
    /// The true line (from 1) of each line of `text`.
    numbers: Vec<usize>,
    /// Byte where the last line taken begins, to take a line once for all its labels.
    last_whole: Option<(usize, usize)>,
}

/// A label in characters of an excerpt.
struct Spot<'a> {
    excerpt: usize,
    start: usize,
    end: usize,
    words: &'a str,
    primary: bool,
}

/// Draws the places, the first of which is the finding's own; an empty text when none can be shown.
pub(super) fn draw(
    marked: &[Marked],
    sources: &[SourceText],
    style: Style,
    paint: Paint,
) -> String {
    let mut order: Vec<(usize, usize, &Marked)> = Vec::new();
    let mut files = Vec::new();
    for (index, each) in marked.iter().enumerate() {
        if sources.get(each.place.file.0 as usize).is_none() {
            continue;
        }
        let rank = files
            .iter()
            .position(|file| *file == each.place.file)
            .unwrap_or_else(|| {
                files.push(each.place.file);
                files.len() - 1
            });
        order.push((rank, index, each));
    }
    order.sort_by_key(|(rank, index, each)| (*rank, each.place.span.start, *index));
    let mut excerpts: Vec<Excerpt> = Vec::new();
    let mut spots = Vec::new();
    for (rank, index, each) in order {
        let source = &sources[each.place.file.0 as usize];
        if excerpts.len() == rank {
            excerpts.push(Excerpt {
                source,
                heading: each.place.span.start,
                text: String::new(),
                characters: 0,
                numbers: Vec::new(),
                last_whole: None,
            });
        }
        let excerpt = &mut excerpts[rank];
        if index == 0 {
            excerpt.heading = each.place.span.start;
        }
        let (start, end) = excerpt.take(each.place);
        spots.push(Spot {
            excerpt: rank,
            start,
            end,
            words: each.words,
            primary: index == 0,
        });
    }
    match spots.iter().find(|spot| spot.primary).or(spots.first()) {
        Some(first) => restore(&drawn(first, &spots, &excerpts), &excerpts, style, paint),
        None => String::new(),
    }
}

impl Excerpt<'_> {
    /// Adds the line of a place (unless it is there already) and gives the characters it covers. A
    /// place over many lines is shown by its first line.
    fn take(&mut self, place: Place) -> (usize, usize) {
        let text = &*self.source.text;
        let mut at = (place.span.start as usize).min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        let line = self.source.lines.line_of(at as u32);
        let begin = self.source.lines.start_of(line) as usize;
        let finish = self.source.lines.start_of(line + 1) as usize;
        let content = text[begin..finish].trim_end_matches(['\n', '\r']);
        let finish = begin + content.len();
        at = at.min(finish);
        let mut end = (place.span.end as usize).clamp(at, finish);
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        let long = content.len() > WHOLE_LINE && content.chars().nth(WHOLE_LINE).is_some();
        let (from, to) = if long {
            let from = text[begin..at]
                .char_indices()
                .rev()
                .nth(BEFORE - 1)
                .map_or(begin, |(i, _)| begin + i);
            let to = text[at..finish]
                .char_indices()
                .nth(FROM)
                .map_or(finish, |(i, _)| at + i);
            (from, to)
        } else {
            (begin, finish)
        };
        let line_start = match self.last_whole {
            Some((same, start)) if same == line && !long => start,
            _ => {
                let start = self.characters;
                if from > begin {
                    self.push('…');
                }
                for character in text[from..to].chars() {
                    self.push(if character == '\t' {
                        '\t'
                    } else {
                        printable::character(character)
                    });
                }
                if to < finish {
                    self.push('…');
                }
                self.push(' ');
                self.push('\n');
                self.numbers.push(line + 1);
                self.last_whole = (!long).then_some((line, start));
                start
            }
        };
        let start = line_start + usize::from(from > begin) + text[from..at].chars().count();
        let covered = text[at..end.clamp(at, to.max(at))]
            .trim_end()
            .chars()
            .count();
        (start, start + covered.max(1))
    }

    fn push(&mut self, character: char) {
        self.text.push(character);
        self.characters += 1;
    }
}

/// Hands the excerpts to ariadne by their number.
struct Excerpts {
    sources: Vec<Source<String>>,
}

impl Cache<usize> for Excerpts {
    type Storage = String;

    fn fetch(&mut self, id: &usize) -> Result<&Source<String>, impl fmt::Debug> {
        self.sources.get(*id).ok_or("no such excerpt")
    }

    fn display<'a>(&self, id: &'a usize) -> Option<impl fmt::Display + 'a> {
        Some(format!("{MARK}{id}{MARK}"))
    }
}

/// What ariadne draws, without its headline.
fn drawn(first: &Spot, spots: &[Spot], excerpts: &[Excerpt]) -> String {
    let config = Config::new()
        .with_color(false)
        .with_compact(false)
        .with_char_set(CharSet::Unicode)
        .with_index_type(IndexType::Char);
    let mut report = Report::build(ReportKind::Error, (first.excerpt, first.start..first.end))
        .with_config(config);
    for spot in spots {
        // A label without words would not be underlined.
        let words = if spot.words.is_empty() {
            "here"
        } else {
            spot.words
        };
        let label = Label::new((spot.excerpt, spot.start..spot.end));
        report = report.with_label(label.with_message(printable::text(words)));
    }
    let cache = Excerpts {
        sources: excerpts
            .iter()
            .map(|each| Source::from(each.text.clone()))
            .collect(),
    };
    let mut bytes = Vec::new();
    match report.finish().write(cache, &mut bytes) {
        Ok(()) => String::from_utf8_lossy(&bytes).into_owned(),
        // Writing to memory does not fail; without a drawing the rest of the finding is still shown.
        Err(_) => String::new(),
    }
}

/// Puts the true headings and line numbers into a drawing and colours it.
fn restore(drawing: &str, excerpts: &[Excerpt], style: Style, paint: Paint) -> String {
    let digits = |numbers: &[usize]| numbers.iter().max().copied().unwrap_or(1).to_string().len();
    let width = excerpts
        .iter()
        .map(|each| digits(&each.numbers))
        .max()
        .unwrap_or(1);
    let mut current: Option<&Excerpt> = None;
    let mut previous = None;
    let mut accent = paint;
    let mut out = String::new();
    for line in drawing.lines().skip(1) {
        let line = line.trim_end();
        if let Some(number) = line
            .split(MARK)
            .nth(1)
            .and_then(|number| number.parse::<usize>().ok())
        {
            if current.is_some() {
                accent = Paint::Blue;
            }
            let Some(excerpt) = excerpts.get(number) else {
                continue;
            };
            let at = excerpt.source.line_column(excerpt.heading);
            let corner = if current.is_none() {
                "╭─"
            } else {
                "├─"
            };
            let name = printable::text(&excerpt.source.name);
            let place = format!("{name}:{}:{}", at.line, at.column);
            out.push_str(&" ".repeat(width + 2));
            out.push_str(&style.paint(Paint::Dim, corner));
            out.push_str(&format!(" {}\n", style.paint(Paint::Bold, &place)));
            current = Some(excerpt);
            previous = None;
            continue;
        }
        let trimmed = line.trim_start();
        if trimmed.starts_with('─') {
            continue;
        }
        let Some((margin, rest)) = split_margin(trimmed) else {
            continue;
        };
        let number = margin.parse::<usize>().ok();
        let true_line =
            number.and_then(|number| current?.numbers.get(number.checked_sub(1)?).copied());
        if let (Some(before), Some(now)) = (previous, true_line)
            && now > before + 1
        {
            let gap = format!("{}┆", " ".repeat(width + 2));
            out.push_str(&style.paint(Paint::Dim, &gap));
            out.push('\n');
        }
        if number.is_none() && rest.is_empty() {
            continue;
        }
        let left = match true_line {
            Some(now) => {
                previous = Some(now);
                format!(" {now:>width$} │")
            }
            None => format!("{}│", " ".repeat(width + 2)),
        };
        out.push_str(&style.paint(Paint::Dim, &left));
        if !rest.is_empty() {
            out.push(' ');
            match true_line {
                Some(_) => out.push_str(rest),
                None => out.push_str(&style.paint(accent, rest)),
            }
        }
        out.push('\n');
    }
    out
}

/// Parts a drawn line into its line number (or nothing) and what stands right of the bar.
fn split_margin(line: &str) -> Option<(&str, &str)> {
    let (left, right) = line.split_once(['│', '┆'])?;
    let left = left.trim();
    let right = right.strip_prefix(' ').unwrap_or(right).trim_end();
    left.chars()
        .all(|each| each.is_ascii_digit())
        .then_some((left, right))
}
