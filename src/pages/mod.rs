//! Pages: what a rule, a function or a unit of measurement means, as parts that the terminal and an editor each lay out.

mod markdown;

pub use markdown::escape;

use crate::finding::{Rule, Severity};
use crate::plan::function::Function;
use crate::quantity::{self, Number};

/// What a word means.
#[derive(Clone, Debug, Default)]
pub struct Page {
    /// The word itself; a function with its parameters.
    pub name: String,
    /// What it is: `a rule; error: …`.
    pub kind: String,
    /// Paragraphs that explain it.
    pub prose: Vec<String>,
    /// The parts, in order.
    pub parts: Vec<Part>,
}

/// A part of a page.
#[derive(Clone, Debug)]
pub struct Part {
    /// The word at its left; empty where it goes on with the part above.
    pub head: &'static str,
    /// Its text; line ends and indentation stand as they are.
    pub text: String,
    /// How it is to be read.
    pub manner: Manner,
    /// A blank line stands below it.
    pub apart: bool,
}

/// How a part is to be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// As text.
    Text,
    /// As a piece of a document, letter by letter.
    Code,
    /// As an aside.
    Aside,
    /// As a caution.
    Caution,
}

impl Page {
    fn new(name: impl Into<String>, kind: impl Into<String>) -> Page {
        Page {
            name: name.into(),
            kind: kind.into(),
            ..Page::default()
        }
    }

    fn part(&mut self, head: &'static str, text: impl Into<String>, manner: Manner) -> &mut Part {
        self.parts.push(Part {
            head,
            text: text.into(),
            manner,
            apart: false,
        });
        let last = self.parts.len() - 1;
        &mut self.parts[last]
    }
}

/// The page of a rule.
pub fn rule(rule: &Rule) -> Page {
    let kind = match rule.severity {
        Severity::Error => "a rule; error: the unit may not be released as it stands",
        Severity::Warning => "a rule; warning: a person must look",
        Severity::Note => "a rule; note: worth knowing",
        Severity::Pending => "a rule; pending: never fails a check of work in progress",
    };
    let mut page = Page::new(rule.name, kind);
    page.prose = vec![rule.summary.to_owned(), rule.why.to_owned()];
    page.part("wrong", rule.wrong, Manner::Code).apart = true;
    page.part("mend", rule.mend, Manner::Code).apart = true;
    page.part("source", rule.reference, Manner::Text);
    if rule.reference.contains("ISO ") || rule.reference.contains("IEC ") {
        let memory = "Clauses are named from memory: confirm them against the bought standard.";
        page.part("", memory, Manner::Aside);
    }
    if !rule.caution.is_empty() {
        page.part("caution", rule.caution, Manner::Caution);
    }
    page
}

/// How a function is called: `resistance-at(r, theta, theta-ref, conductor)`.
pub fn signature(function: &Function) -> String {
    let names: Vec<&str> = function
        .parameters
        .iter()
        .map(|parameter| parameter.name)
        .collect();
    let more = if function.variadic { ", …" } else { "" };
    format!("{}({}{more})", function.name, names.join(", "))
}

/// The page of a function.
pub fn function(function: &Function) -> Page {
    let kind = format!("a function; {}", function.subject);
    let mut page = Page::new(signature(function), kind);
    page.prose.push(function.meaning.to_owned());
    let names = function.parameters.iter().map(|parameter| parameter.name);
    let width = names.map(|name| name.chars().count()).max().unwrap_or(0);
    for (index, parameter) in function.parameters.iter().enumerate() {
        let head = if index == 0 { "takes" } else { "" };
        let text = format!("{:width$}  {}", parameter.name, parameter.meaning);
        page.part(head, text, Manner::Text);
    }
    if !function.formula.is_empty() {
        page.part("formula", function.formula, Manner::Text);
    }
    page.part("source", function.source, Manner::Text);
    if !function.example.is_empty() {
        page.part("example", function.example, Manner::Code);
    }
    if concerns_voltage(function.subject) {
        let caution = "This computes; it does not allow a test. Wherever voltage is applied, local codes, the works' \
            rules and licensed practice come first.";
        page.part("caution", caution, Manner::Caution);
    }
    page
}

/// Whether the subject is about insulation or applied voltage.
fn concerns_voltage(subject: &str) -> bool {
    let subject = subject.to_lowercase();
    ["dielectric", "insulation", "voltage"]
        .iter()
        .any(|word| subject.contains(word))
}

/// The page of a unit; nothing when the text is no unit.
pub fn unit(text: &str) -> Option<Page> {
    let unit = quantity::parse_unit(text).ok()?;
    let mut page = Page::new(text, "a unit of measurement");
    let definition = quantity::find_unit_definition(text);
    if let Some((definition, prefix)) = definition {
        let prefix = prefix.map_or("", |prefix| prefix.name);
        page.part("name", format!("{prefix}{}", definition.name), Manner::Text);
    }
    page.part("measures", unit.dimension.to_string(), Manner::Text);
    let factor = quantity::format_number(Number::Exact(unit.factor), 15);
    let meaning = match unit.offset {
        Some(offset) => {
            let offset = quantity::format_number(Number::Exact(offset), 15);
            format!("a point on a scale: kelvin = number * {factor} + {offset}")
        }
        None => format!("1 {text} = {factor} in SI base units"),
    };
    page.part("equals", meaning, Manner::Text);
    if let Some((definition, _)) = definition {
        if !definition.aliases.is_empty() {
            page.part("also", definition.aliases.join("  "), Manner::Text);
        }
        page.part("source", definition.source, Manner::Text);
        if !definition.note.is_empty() {
            page.part("note", definition.note, Manner::Text);
        }
    } else {
        let source = "made of other units; explain each by itself for its source";
        page.part("source", source, Manner::Text);
    }
    page.part("example", format!("12.5 {text}"), Manner::Code);
    Some(page)
}
