//! A rule's page as SARIF carries it.

use super::kind_and_level;
use super::message::{escaped, plain};
use crate::finding::Rule;
use serde_json::{Value, json};

/// The descriptor of a rule.
pub(super) fn descriptor(rule: &Rule) -> Value {
    let (_, level) = kind_and_level(rule.severity);
    let mut properties = json!({ "reference": rule.reference });
    if !rule.caution.is_empty() {
        properties["caution"] = json!(rule.caution);
    }
    json!({
        "id": rule.name,
        "name": joined(rule.name),
        "shortDescription": { "text": plain(rule.summary) },
        "fullDescription": { "text": plain(rule.why) },
        "help": { "text": text(rule), "markdown": markdown(rule) },
        "defaultConfiguration": { "level": level },
        "properties": properties,
    })
}

/// `out-of-limit` as `OutOfLimit`.
fn joined(name: &str) -> String {
    let word = |word: &str| {
        let mut letters = word.chars();
        let first = letters.next().map(|first| first.to_ascii_uppercase());
        first.into_iter().chain(letters).collect::<String>()
    };
    name.split('-').map(word).collect()
}

/// The page line by line.
fn text(rule: &Rule) -> String {
    let mut parts = vec![
        ("wrong", rule.wrong),
        ("mend", rule.mend),
        ("source", rule.reference),
    ];
    if !rule.caution.is_empty() {
        parts.push(("caution", rule.caution));
    }
    let mut out = lines(rule.why);
    for (head, text) in parts {
        out.push_str(&format!("\n\n{head}:\n{}", lines(text)));
    }
    out
}

/// The page as markdown.
fn markdown(rule: &Rule) -> String {
    let mut out = format!("{}\n\n{}\n\n", escaped(rule.summary), escaped(rule.why));
    let example = rule.wrong.replace('{', "{{").replace('}', "}}");
    out.push_str(&format!("**wrong**\n\n```ubr\n{example}\n```\n\n"));
    out.push_str(&format!("**mend** {}\n\n", paragraph(rule.mend)));
    out.push_str(&format!("**source** {}\n", escaped(rule.reference)));
    if !rule.caution.is_empty() {
        out.push_str(&format!("\n**caution** {}\n", escaped(rule.caution)));
    }
    out
}

/// A text of several lines, each made safe.
fn lines(text: &str) -> String {
    text.lines().map(plain).collect::<Vec<_>>().join("\n")
}

/// A text of several lines as one paragraph with its line ends kept.
fn paragraph(text: &str) -> String {
    text.lines().map(escaped).collect::<Vec<_>>().join("  \n")
}
