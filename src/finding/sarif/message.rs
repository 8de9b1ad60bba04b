//! A finding's words in SARIF: the same parts as plain text and as markdown.

use crate::finding::terminal::place_words;
use crate::finding::{Contribution, Finding, Input, Reasoning, printable};
use crate::text::SourceText;
use serde_json::{Value, json};

/// One part of the reasoning: its word, then one text or several in their order.
type Part<'a> = (&'static str, Vec<&'a str>);

/// The message object: what was found, then the reasoning.
pub(super) fn message(finding: &Finding, sources: &[SourceText]) -> Value {
    let none = Reasoning::default();
    let reasoning = finding.reasoning.as_deref().unwrap_or(&none);
    let source = reasoning
        .source
        .as_ref()
        .map(|source| match source.text.as_str() {
            "" => source.basis.words().to_owned(),
            text => format!("{text} ({})", source.basis.words()),
        });
    let missing = reasoning.missing.join(", ");
    let accepted = finding.accepted.as_ref().map(|accepted| {
        format!(
            "by {} on {}: {}",
            accepted.by, accepted.on, accepted.because
        )
    });
    let one = |text: &'_ Option<String>| -> Vec<String> { text.iter().cloned().collect() };
    let formula: Vec<String> = reasoning
        .formula
        .iter()
        .chain(&reasoning.steps)
        .cloned()
        .collect();
    let uncertainty: Vec<String> = reasoning
        .uncertainty
        .iter()
        .flat_map(|uncertainty| {
            let parts = uncertainty.contributions.iter();
            std::iter::once(uncertainty.words()).chain(parts.map(Contribution::words))
        })
        .collect();
    let all: [(&'static str, Vec<String>); 14] = [
        (
            "missing",
            if missing.is_empty() {
                Vec::new()
            } else {
                vec![missing]
            },
        ),
        ("formula", formula),
        ("result", one(&reasoning.result)),
        ("limit", one(&reasoning.limit)),
        ("margin", one(&reasoning.margin)),
        ("uncertainty", uncertainty),
        ("source", one(&source)),
        ("because", one(&reasoning.because)),
        ("look at", reasoning.look.clone()),
        ("caution", one(&reasoning.caution)),
        ("also fail", one(&reasoning.also)),
        ("causes", reasoning.causes.clone()),
        ("next", one(&finding.help)),
        ("accepted", one(&accepted)),
    ];
    let parts: Vec<Part<'_>> = all
        .iter()
        .filter(|(_, texts)| !texts.is_empty())
        .map(|(head, texts)| (*head, texts.iter().map(String::as_str).collect()))
        .collect();
    json!({
        "text": text(finding, &reasoning.inputs, &parts),
        "markdown": markdown(finding, &reasoning.inputs, &parts, sources),
    })
}

/// The sentence, then one line for each input and each part.
fn text(finding: &Finding, inputs: &[Input], parts: &[Part<'_>]) -> String {
    let mut out = plain(&finding.message);
    for input in inputs {
        let line = match input.value.is_empty() {
            true => input.name.clone(),
            false => format!("{} = {}", input.name, input.value),
        };
        out.push_str(&format!("\ninput: {}", plain(&line)));
    }
    for (head, texts) in parts {
        for (index, text) in texts.iter().enumerate() {
            let number = match numbered(head) {
                true => format!("{}. ", index + 1),
                false => String::new(),
            };
            out.push_str(&format!("\n{head}: {number}{}", plain(text)));
        }
    }
    out
}

/// The sentence, a table of the inputs, and a list of the parts.
fn markdown(
    finding: &Finding,
    inputs: &[Input],
    parts: &[Part<'_>],
    sources: &[SourceText],
) -> String {
    let mut out = escaped(&finding.message);
    out.push('\n');
    if !inputs.is_empty() {
        out.push_str("\n| input | value | place |\n| --- | --- | --- |\n");
        for input in inputs {
            let place = input.place.and_then(|place| place_words(place, sources));
            out.push_str(&format!(
                "| {} | {} | {} |\n",
                escaped(&input.name),
                escaped(&input.value),
                escaped(&place.unwrap_or_default())
            ));
        }
    }
    if !parts.is_empty() {
        out.push('\n');
    }
    for (head, texts) in parts {
        match texts.as_slice() {
            [text] => out.push_str(&format!("- **{head}** {}\n", escaped(text))),
            texts => {
                out.push_str(&format!("- **{head}**\n"));
                for (index, text) in texts.iter().enumerate() {
                    let sign = match numbered(head) {
                        true => format!("{}.", index + 1),
                        false => "-".to_owned(),
                    };
                    out.push_str(&format!("  {sign} {}\n", escaped(text)));
                }
            }
        }
    }
    out
}

/// Whether the order of a part's texts means something.
fn numbered(head: &str) -> bool {
    matches!(head, "look at" | "causes")
}

/// A text of one line for a message: nothing that a terminal would obey, braces and links as the standard writes
/// them when they mean themselves (3.11.5, 3.11.6).
pub(super) fn plain(text: &str) -> String {
    let text = text.replace("](", "] (");
    let text = text.replace('{', "{{").replace('}', "}}");
    printable::text(&text).into_owned()
}

/// The same with every sign that markdown or HTML would take for its own.
pub(super) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 8);
    for character in printable::text(text).chars() {
        match character {
            '{' => out.push_str("{{"),
            '}' => out.push_str("}}"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '&' => out.push_str("&amp;"),
            '\\' | '`' | '*' | '_' | '[' | ']' | '|' | '~' | '#' | '!' => {
                out.push('\\');
                out.push(character);
            }
            other => out.push(other),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_in_a_text_is_taken_for_markup() {
        assert_eq!(
            escaped("a[HV, *] <b> & `x` | {0}\n"),
            "a\\[HV, \\*\\] &lt;b&gt; &amp; \\`x\\` \\| {{0}}␊"
        );
        assert_eq!(plain("a[1](2) {0}\u{1b}[31m"), "a[1] (2) {{0}}␛[31m");
        assert_eq!(escaped("23.4 °C ± 1 Ω"), "23.4 °C ± 1 Ω");
    }
}
