//! A page as Markdown, as editors show it.

use super::{Manner, Page};

impl Page {
    /// The page as Markdown.
    pub fn markdown(&self) -> String {
        let mut out = format!("**`{}`** {}\n", self.name, escape(&self.kind));
        for paragraph in &self.prose {
            out += &format!("\n{}\n", escape(paragraph));
        }
        for part in &self.parts {
            match part.manner {
                Manner::Code => {
                    out += &format!("\n{}\n\n```ubr\n{}\n```\n", part.head, part.text.trim_end());
                }
                Manner::Text if part.head.is_empty() => {
                    out += &format!("  \n{}", code_line(&part.text))
                }
                Manner::Text if part.head == "takes" => {
                    out += &format!("\ntakes {}", code_line(&part.text));
                }
                Manner::Text => out += &format!("\n{}: {}\n", part.head, escape(&part.text)),
                Manner::Aside => out += &format!("\n*{}*\n", escape(&part.text)),
                Manner::Caution => out += &format!("\n**{}:** {}\n", part.head, escape(&part.text)),
            }
        }
        out
    }
}

/// `name  meaning` with the name as code.
fn code_line(text: &str) -> String {
    match text.split_once("  ") {
        Some((name, meaning)) => format!("`{}` {}", name.trim(), escape(meaning.trim())),
        None => escape(text),
    }
}

/// Text as Markdown shows it letter by letter.
pub fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        if matches!(
            character,
            '*' | '_' | '`' | '<' | '[' | ']' | '\\' | '#' | '|'
        ) {
            out.push('\\');
        }
        out.push(character);
    }
    out
}

#[cfg(test)]
mod tests {
    use crate::finding::catalogue;
    use crate::plan::function;

    #[test]
    fn every_rule_function_and_unit_has_a_page() {
        for rule in catalogue::all() {
            let page = super::super::rule(rule).markdown();
            assert!(
                page.contains(rule.name) && page.contains(rule.wrong.trim_end()),
                "{page}"
            );
        }
        for function in function::all() {
            let page = super::super::function(function).markdown();
            assert!(page.contains(function.name), "{page}");
            for parameter in function.parameters {
                assert!(page.contains(&format!("`{}`", parameter.name)), "{page}");
            }
        }
        let page = super::super::unit("kV").map(|page| page.markdown());
        assert!(page.is_some_and(|page| page.contains("kilovolt")));
        assert!(super::super::unit("nothing").is_none());
    }

    #[test]
    fn signs_of_markdown_stand_as_they_are() {
        assert_eq!(super::escape("a*b [c]"), "a\\*b \\[c\\]");
    }
}
