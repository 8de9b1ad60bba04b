//! The pages of `stagebook explain`: one for a rule, a function, a unit.

use super::Screen;
use super::layout::{pad, widest};
use crate::finding::terminal::{Paint, severity_paint, wrap};
use crate::finding::{Rule, Severity};
use crate::plan::function::Function;
use crate::quantity::{self, Number};

/// Text is wrapped at this column.
const WIDTH: usize = 96;
/// Width of the words at the left of a page.
const HEAD: usize = 10;

/// Writes a page: a heading, then parts with a word at the left.
struct Page<'a> {
    screen: &'a Screen,
    out: String,
}

impl<'a> Page<'a> {
    fn new(screen: &'a Screen, name: &str, kind: &str) -> Page<'a> {
        let head = format!("{}  {kind}", screen.style.paint(Paint::Bold, name));
        Page {
            screen,
            out: format!("{head}\n\n"),
        }
    }

    /// Text across the whole width.
    fn prose(&mut self, text: &str) {
        for line in wrap(text, WIDTH) {
            self.push(&format!("  {line}"));
        }
        self.out.push('\n');
    }

    /// A word at the left and text beside it; line ends and indentation stand as they are.
    fn part(&mut self, head: &str, text: &str, paint: Paint) {
        let mut head = head;
        for given in text.lines() {
            let indent = given.len() - given.trim_start_matches(' ').len();
            for line in wrap(given.trim_start_matches(' '), WIDTH - HEAD - indent.min(20)) {
                let body = format!("{}{line}", " ".repeat(indent));
                let left = self.screen.style.paint(Paint::Dim, &pad(head, HEAD));
                self.push(&format!(
                    "  {left}{}",
                    self.screen.style.paint(paint, &body)
                ));
                head = "";
            }
        }
    }

    fn push(&mut self, line: &str) {
        self.out.push_str(line.trim_end());
        self.out.push('\n');
    }
}

/// The page of a rule.
pub(super) fn rule(rule: &Rule, screen: &Screen) -> String {
    let severity = match rule.severity {
        Severity::Error => "a rule; error: the unit may not be released as it stands",
        Severity::Warning => "a rule; warning: a person must look",
        Severity::Note => "a rule; note: worth knowing",
        Severity::Pending => "a rule; pending: never fails a check of work in progress",
    };
    let kind = screen.style.paint(severity_paint(rule.severity), severity);
    let mut page = Page::new(screen, rule.name, &kind);
    page.prose(rule.summary);
    page.prose(rule.why);
    page.part("wrong", rule.wrong, Paint::Plain);
    page.out.push('\n');
    page.part("mend", rule.mend, Paint::Plain);
    page.out.push('\n');
    page.part("source", rule.reference, Paint::Plain);
    if rule.reference.contains("ISO ") || rule.reference.contains("IEC ") {
        page.part(
            "",
            "Clauses are named from memory: confirm them against the bought standard.",
            Paint::Dim,
        );
    }
    if !rule.caution.is_empty() {
        page.part("caution", rule.caution, Paint::Yellow);
    }
    page.out
}

/// The page of a function.
pub(super) fn function(function: &Function, screen: &Screen) -> String {
    let names: Vec<&str> = function
        .parameters
        .iter()
        .map(|parameter| parameter.name)
        .collect();
    let more = if function.variadic { ", …" } else { "" };
    let call = format!("{}({}{more})", function.name, names.join(", "));
    let mut page = Page::new(screen, &call, &format!("a function; {}", function.subject));
    page.prose(function.meaning);
    let width = widest(names.iter().copied());
    for (index, parameter) in function.parameters.iter().enumerate() {
        let head = if index == 0 { "takes" } else { "" };
        page.part(
            head,
            &format!("{}  {}", pad(parameter.name, width), parameter.meaning),
            Paint::Plain,
        );
    }
    if !function.formula.is_empty() {
        page.part("formula", function.formula, Paint::Plain);
    }
    page.part("source", function.source, Paint::Plain);
    if !function.example.is_empty() {
        page.part("example", function.example, Paint::Plain);
    }
    if concerns_voltage(function.subject) {
        let caution = "This computes; it does not allow a test. Wherever voltage is applied, local codes, the works' \
            rules and licensed practice come first.";
        page.part("caution", caution, Paint::Yellow);
    }
    page.out
}

/// Whether the subject is about insulation or applied voltage.
fn concerns_voltage(subject: &str) -> bool {
    let subject = subject.to_lowercase();
    ["dielectric", "insulation", "voltage"]
        .iter()
        .any(|word| subject.contains(word))
}

/// The page of a unit; nothing when the text is no unit.
pub(super) fn unit(text: &str, screen: &Screen) -> Option<String> {
    let unit = quantity::parse_unit(text).ok()?;
    let mut page = Page::new(screen, text, "a unit of measurement");
    let definition = quantity::find_unit_definition(text);
    if let Some((definition, prefix)) = definition {
        let prefix = prefix.map_or("", |prefix| prefix.name);
        page.part(
            "name",
            &format!("{prefix}{}", definition.name),
            Paint::Plain,
        );
    }
    page.part("measures", &unit.dimension.to_string(), Paint::Plain);
    let factor = quantity::format_number(Number::Exact(unit.factor), 15);
    let meaning = match unit.offset {
        Some(offset) => {
            let offset = quantity::format_number(Number::Exact(offset), 15);
            format!("a point on a scale: kelvin = number * {factor} + {offset}")
        }
        None => format!("1 {text} = {factor} in SI base units"),
    };
    page.part("equals", &meaning, Paint::Plain);
    if let Some((definition, _)) = definition {
        if !definition.aliases.is_empty() {
            page.part("also", &definition.aliases.join("  "), Paint::Plain);
        }
        page.part("source", definition.source, Paint::Plain);
        if !definition.note.is_empty() {
            page.part("note", definition.note, Paint::Plain);
        }
    } else {
        page.part(
            "source",
            "made of other units; explain each by itself for its source",
            Paint::Plain,
        );
    }
    page.part("example", &format!("12.5 {text}"), Paint::Plain);
    Some(page.out)
}
