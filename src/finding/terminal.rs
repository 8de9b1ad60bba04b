//! A finding for people: headline, the lines of source it is about, and its reasoning laid out below.

use super::printable;
use super::snippet::{self, Marked};
use super::{Accepted, Finding, Input, Reasoning, Severity};
use crate::text::{Place, SourceText};

/// Text is wrapped at this column.
const WIDTH: usize = 100;
/// Width of the words at the left of the reasoning.
const HEAD: usize = 10;
/// Names and values longer than this do not widen the columns of the inputs.
const COLUMN: usize = 36;

/// How to lay out for the terminal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Style {
    /// Whether to colour.
    pub color: bool,
}

/// A way to colour a piece of text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paint {
    /// As it is.
    Plain,
    /// Stands out without a colour.
    Bold,
    /// Steps back.
    Dim,
    /// Wrong.
    Red,
    /// To be looked at.
    Yellow,
    /// In order.
    Green,
    /// A reference.
    Blue,
}

impl Style {
    /// The text in the colour, or as it is when colour is off.
    pub fn paint(self, paint: Paint, text: &str) -> String {
        let code = match paint {
            Paint::Plain => return text.to_string(),
            Paint::Bold => "1",
            Paint::Dim => "2",
            Paint::Red => "1;31",
            Paint::Yellow => "33",
            Paint::Green => "32",
            Paint::Blue => "36",
        };
        if self.color {
            format!("\u{1b}[{code}m{text}\u{1b}[0m")
        } else {
            text.to_string()
        }
    }
}

/// The colour of a severity.
pub fn severity_paint(severity: Severity) -> Paint {
    match severity {
        Severity::Error => Paint::Red,
        Severity::Warning => Paint::Yellow,
        Severity::Note => Paint::Blue,
        Severity::Pending => Paint::Dim,
    }
}

/// Lays one finding out. Ends with a line end; no line ends in a space.
///
/// `sources` are the documents of the run; a place in a document that is not among them is left out.
///
/// A finding that somebody accepted takes its headline, its place, and who and why.
pub fn render(finding: &Finding, sources: &[SourceText], style: Style) -> String {
    if let Some(accepted) = &finding.accepted {
        return accepted_in_short(finding, accepted, sources, style);
    }
    let paint = severity_paint(finding.severity);
    let mut out = headline(finding, style);
    let mut marked = vec![Marked {
        place: finding.place,
        words: &finding.label,
    }];
    marked.extend(finding.related.iter().map(|each| Marked {
        place: each.place,
        words: &each.text,
    }));
    out.push_str(&snippet::draw(&marked, sources, style, paint));
    let mut notes = Notes {
        out: &mut out,
        style,
    };
    if let Some(reasoning) = &finding.reasoning {
        notes.reasoning(reasoning, sources);
    }
    if let Some(help) = &finding.help {
        notes.note("next", help, Paint::Bold);
    }
    if let Some(fix) = &finding.fix {
        notes.note("fix", &fix.title, Paint::Bold);
    }
    out
}

/// The headline, then where it stands and who accepted it.
fn accepted_in_short(
    finding: &Finding,
    accepted: &Accepted,
    sources: &[SourceText],
    style: Style,
) -> String {
    let mut out = headline(finding, style);
    let mut notes = Notes {
        out: &mut out,
        style,
    };
    if let Some(place) = place_words(finding.place, sources) {
        notes.line("at", &style.paint(Paint::Dim, &place));
    }
    let words = format!(
        "by {} on {}: {}",
        accepted.by, accepted.on, accepted.because
    );
    notes.note("accepted", &words, Paint::Plain);
    out
}

/// `error: message (rule)`, wrapped; `accepted error: …` where somebody accepted it.
fn headline(finding: &Finding, style: Style) -> String {
    let (word, paint) = match finding.accepted {
        None => (
            finding.severity.word().to_owned(),
            severity_paint(finding.severity),
        ),
        Some(_) => (format!("accepted {}", finding.severity.word()), Paint::Dim),
    };
    let plain = format!(
        "{word}: {} ({})",
        printable::text(&finding.message),
        finding.rule.name
    );
    let mut out = String::new();
    for (index, line) in wrap(&plain, WIDTH).into_iter().enumerate() {
        let line = if index == 0 {
            let rest = line.strip_prefix(&word).unwrap_or(&line);
            let (colon, message) = rest.split_at(rest.len().min(1));
            let start = style.paint(paint, &format!("{word}{colon}"));
            format!("{start}{message}")
        } else {
            format!("  {line}")
        };
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// Writes the notes below the snippet: a word at the left, the text beside it.
struct Notes<'a> {
    out: &'a mut String,
    style: Style,
}

impl Notes<'_> {
    fn reasoning(&mut self, reasoning: &Reasoning, sources: &[SourceText]) {
        self.inputs(&reasoning.inputs, sources);
        if !reasoning.missing.is_empty() {
            self.note("missing", &reasoning.missing.join(", "), Paint::Plain);
        }
        if let Some(formula) = &reasoning.formula {
            self.note("formula", formula, Paint::Plain);
        }
        for (index, step) in reasoning.steps.iter().enumerate() {
            let head = if index == 0 && reasoning.formula.is_none() {
                "formula"
            } else {
                ""
            };
            self.note(head, step, Paint::Plain);
        }
        let lines = [
            ("result", &reasoning.result),
            ("limit", &reasoning.limit),
            ("margin", &reasoning.margin),
        ];
        for (head, text) in lines {
            if let Some(text) = text {
                self.note(head, text, Paint::Plain);
            }
        }
        if let Some(uncertainty) = &reasoning.uncertainty {
            self.note("uncertain", &uncertainty.words(), Paint::Plain);
            for contribution in &uncertainty.contributions {
                self.note("", &contribution.words(), Paint::Plain);
            }
        }
        if let Some(source) = &reasoning.source {
            let basis = source.basis.words();
            let text = match source.text.as_str() {
                "" => basis.to_string(),
                text => format!("{text} ({basis})"),
            };
            self.note("source", &text, Paint::Plain);
        }
        if let Some(because) = &reasoning.because {
            self.note("because", because, Paint::Plain);
        }
        self.numbered("look at", &reasoning.look);
        if let Some(caution) = &reasoning.caution {
            self.note("caution", caution, Paint::Yellow);
        }
        if let Some(also) = &reasoning.also {
            self.note("also fail", also, Paint::Plain);
        }
        self.numbered("causes", &reasoning.causes);
    }

    /// A list in its order, its head on the first line.
    fn numbered(&mut self, head: &str, items: &[String]) {
        for (index, item) in items.iter().enumerate() {
            let head = if index == 0 { head } else { "" };
            self.note(head, &format!("{}. {item}", index + 1), Paint::Plain);
        }
    }

    /// One input a line: name, value and place in columns.
    fn inputs(&mut self, inputs: &[Input], sources: &[SourceText]) {
        let column = |lengths: &mut dyn Iterator<Item = usize>| {
            lengths
                .filter(|length| *length <= COLUMN)
                .max()
                .unwrap_or(0)
        };
        let names = column(&mut inputs.iter().map(|input| length(&input.name)));
        let values = column(&mut inputs.iter().map(|input| length(&input.value)));
        for (index, input) in inputs.iter().enumerate() {
            let head = if index == 0 { "inputs" } else { "" };
            let name = printable::text(&input.name);
            let value = printable::text(&input.value);
            let mut line = match value.is_empty() {
                // `and 3 more` has no value.
                true => name.to_string(),
                false => format!("{name:<names$} = {value}"),
            };
            if let Some(place) = input.place.and_then(|place| place_words(place, sources)) {
                let gap = values.saturating_sub(length(&input.value)) + 2;
                line.push_str(&" ".repeat(gap));
                line.push_str(&self.style.paint(Paint::Dim, &place));
            }
            self.line(head, &line);
            for amended in &input.amended {
                self.note("", &amended.words(), Paint::Plain);
            }
        }
    }

    /// A word and a text that is wrapped beside it.
    fn note(&mut self, head: &str, text: &str, paint: Paint) {
        let text = printable::text(text);
        for (index, line) in wrap(&text, WIDTH - HEAD - 3).into_iter().enumerate() {
            let line = self.style.paint(paint, &line);
            self.line(if index == 0 { head } else { "" }, &line);
        }
    }

    fn line(&mut self, head: &str, text: &str) {
        let padded = format!("{head:<HEAD$}");
        let line = format!("   {}{text}", self.style.paint(Paint::Dim, &padded));
        self.out.push_str(line.trim_end());
        self.out.push('\n');
    }
}

/// `path:line:column` of a place, when its document is known.
pub fn place_words(place: Place, sources: &[SourceText]) -> Option<String> {
    let source = sources.get(place.file.0 as usize)?;
    let at = source.line_column(place.span.start);
    Some(format!(
        "{}:{}:{}",
        printable::text(&source.name),
        at.line,
        at.column
    ))
}

/// Number of characters.
fn length(text: &str) -> usize {
    text.chars().count()
}

/// Breaks a text at spaces into lines of at most `width` characters; a word that is longer is cut.
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut used = 0;
    for word in text.split([' ', '\n']) {
        let mut word = word;
        let mut size = length(word);
        if used > 0 && used + 1 + size > width {
            lines.push(std::mem::take(&mut line));
            used = 0;
        } else if !line.is_empty() || used > 0 {
            line.push(' ');
            used += 1;
        }
        while size > width {
            let cut = word
                .char_indices()
                .nth(width)
                .map_or(word.len(), |(index, _)| index);
            lines.push(word[..cut].to_string());
            word = &word[cut..];
            size -= width;
        }
        line.push_str(word);
        used += size;
    }
    lines.push(line);
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{Basis, Source, catalogue};
    use crate::text::{FileId, Span};

    const PLAIN: Style = Style { color: false };

    fn place(file: u32, source: &SourceText, text: &str) -> Place {
        let start = source.text.find(text).unwrap_or(0) as u32;
        Place {
            file: FileId(file),
            span: Span::new(start, start + text.len() as u32),
        }
    }

    fn height() -> (Finding, Vec<SourceText>) {
        let unit = format!("{}  height[HV, U] = 1617 mm\n", "# line\n".repeat(120));
        let unit = SourceText::new("units/KFT-0413-1.ubr", unit);
        let plan = SourceText::new(
            "plan.ubr",
            "stage winding\n  limit design.height[winding]\n",
        );
        let at = place(0, &unit, "1617 mm");
        let limit = place(1, &plan, "limit design.height[winding]");
        let reasoning = Reasoning {
            inputs: vec![
                Input {
                    name: "height[HV, U]".into(),
                    value: "1617 mm".into(),
                    place: Some(at),
                    amended: Vec::new(),
                },
                Input {
                    name: "design.height[HV]".into(),
                    value: "1612 mm +3/-0 mm".into(),
                    place: Some(limit),
                    amended: Vec::new(),
                },
            ],
            formula: Some("height[HV, U] within design.height[HV]".into()),
            steps: vec!["= 1617 mm within 1612 mm .. 1615 mm".into()],
            result: Some("1617 mm".into()),
            limit: Some("1612 mm .. 1615 mm".into()),
            margin: Some("-2 mm".into()),
            source: Some(Source {
                basis: Basis::Order,
                text: "design rev D".into(),
            }),
            causes: vec!["spacers swollen".into(), "press force too low".into()],
            ..Reasoning::default()
        };
        let finding = Finding::new(
            &catalogue::OUT_OF_LIMIT,
            at,
            "expected 1612 mm .. 1615 mm, found 1617 mm",
        )
        .label("2 mm too high")
        .related(limit, "the limit")
        .reasoning(reasoning)
        .help("measure again");
        (finding, vec![unit, plan])
    }

    #[test]
    fn the_arithmetic_is_aligned_under_the_lines_it_is_about() {
        let (finding, sources) = height();
        let expected = "\
error: expected 1612 mm .. 1615 mm, found 1617 mm (out-of-limit)
     ╭─ units/KFT-0413-1.ubr:121:19
 121 │   height[HV, U] = 1617 mm
     │                   ───┬───
     │                      ╰───── 2 mm too high
     ├─ plan.ubr:2:3
   2 │   limit design.height[winding]
     │   ──────────────┬─────────────
     │                 ╰─────────────── the limit
   inputs    height[HV, U]     = 1617 mm           units/KFT-0413-1.ubr:121:19
             design.height[HV] = 1612 mm +3/-0 mm  plan.ubr:2:3
   formula   height[HV, U] within design.height[HV]
             = 1617 mm within 1612 mm .. 1615 mm
   result    1617 mm
   limit     1612 mm .. 1615 mm
   margin    -2 mm
   source    design rev D (order or design)
   causes    1. spacers swollen
             2. press force too low
   next      measure again
";
        let drawn = render(&finding, &sources, PLAIN);
        assert_eq!(drawn, expected, "\n{drawn}");
    }

    #[test]
    fn an_accepted_finding_is_told_in_short_with_who_and_why() {
        let (mut finding, sources) = height();
        finding.accepted = Some(Box::new(Accepted {
            by: "M.Okafor".into(),
            on: "2026-03-02".into(),
            because: "pressed again\u{1b}[2J".into(),
            place: finding.place,
        }));
        let expected = "\
accepted error: expected 1612 mm .. 1615 mm, found 1617 mm (out-of-limit)
   at        units/KFT-0413-1.ubr:121:19
   accepted  by M.Okafor on 2026-03-02: pressed again␛[2J
";
        let drawn = render(&finding, &sources, PLAIN);
        assert_eq!(drawn, expected, "\n{drawn}");
        assert!(!finding.fails());
    }

    #[test]
    fn colour_changes_nothing_but_colour() {
        let (finding, sources) = height();
        let coloured = render(&finding, &sources, Style { color: true });
        let mut bare = String::new();
        let mut inside = false;
        for character in coloured.chars() {
            match character {
                '\u{1b}' => inside = true,
                'm' if inside => inside = false,
                _ if !inside => bare.push(character),
                _ => {}
            }
        }
        let bare: Vec<&str> = bare.lines().map(str::trim_end).collect();
        let plain = render(&finding, &sources, PLAIN);
        assert_eq!(bare, plain.lines().collect::<Vec<_>>());
    }

    #[test]
    fn a_line_of_a_megabyte_is_cut_around_the_place() {
        let text = format!("{}°3,14 °{}", "ä".repeat(500_000), "x".repeat(500_000));
        let source = SourceText::new("long.ubr", text);
        let at = place(0, &source, "3,14");
        let finding = Finding::new(&catalogue::DECIMAL_COMMA, at, "expected a point").label("here");
        let drawn = render(&finding, &[source], PLAIN);
        assert!(drawn.len() < 1500, "{}", drawn.len());
        assert!(drawn.contains("long.ubr:1:500002"), "{drawn}");
        assert!(
            drawn.contains("…ä") && drawn.contains("x…") && drawn.contains("3,14"),
            "{drawn}"
        );
        let line = drawn
            .lines()
            .find(|line| line.contains("3,14"))
            .unwrap_or("");
        let under = drawn.lines().find(|line| line.contains('┬')).unwrap_or("");
        let column = |line: &str, sign: char| line.chars().position(|each| each == sign);
        assert_eq!(column(line, '3'), column(under, '─'), "{drawn}");
    }

    #[test]
    fn any_span_in_any_text_is_drawn_without_panic() {
        for text in [
            "",
            "\n",
            "a",
            "°\r\nΩ\tx\r\0\u{1b}[31m",
            "a\u{2028}b\u{85}c\n\n",
            "\u{feff}unit",
        ] {
            let source = SourceText::new("any.ubr", text);
            let sources = [source];
            let end = text.len() as u32 + 3;
            for start in 0..end {
                for stop in start..end {
                    let at = Place {
                        file: FileId(0),
                        span: Span::new(start, stop),
                    };
                    let far = Place {
                        file: FileId(7),
                        span: Span::new(0, 1),
                    };
                    let finding =
                        Finding::new(&catalogue::UNEXPECTED_TEXT, at, "expected x, found y\u{7}")
                            .label("l")
                            .related(at, "same")
                            .related(far, "nowhere");
                    let drawn = render(&finding, &sources, PLAIN);
                    assert!(
                        !drawn.contains(['\u{1b}', '\0', '\u{7}', '\t']),
                        "{drawn:?}"
                    );
                    assert!(
                        drawn.lines().all(|line| line.trim_end() == line),
                        "{drawn:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn wrapping_keeps_every_word_and_the_width() {
        let text = "one two  three ".repeat(30) + &"long".repeat(60);
        let lines = wrap(&text, 40);
        assert!(lines.iter().all(|line| line.chars().count() <= 40));
        let squeeze = |text: &str| text.replace(' ', "");
        assert_eq!(squeeze(&lines.concat()), squeeze(&text));
    }
}
