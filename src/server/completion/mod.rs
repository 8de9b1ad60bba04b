//! What may come next where the cursor stands.
//!
//! What stands before the cursor is usually not finished, so the context is read from the text of the line and from
//! the outline above it, not from the tree.

mod clauses;
mod context;
mod design;
mod instruments;
mod plan;
mod record;
mod rows;
mod stage;
mod tables;

pub(super) use rows::missing_rows;

use super::client::ClientAbilities;
use super::hover::plain;
use super::sight::Sight;
use crate::finding::catalogue;
use crate::pages;
use crate::plan::skeleton::is_name;
use crate::plan::{function, kind};
use crate::quantity::{self, Dimension, parse_unit};
use crate::syntax::DocumentKind;
use context::Context;
use serde_json::json;
use tower_lsp::lsp_types::{
    CompletionItem, CompletionItemKind, CompletionList, CompletionResponse, CompletionTextEdit,
    Documentation, InsertTextFormat, InsertTextMode, MarkupContent, MarkupKind, Position, TextEdit,
};

/// More than this are not told at once: a set may have many thousand members. The client asks again as more is typed.
const MOST_ITEMS: usize = 400;

/// What can come next, best first.
pub(super) struct Offer {
    pub items: Vec<CompletionItem>,
    /// Whether the client inserts snippets.
    snippets: bool,
    /// What is offered stands further out than the cursor, at this indentation.
    outdent: Option<String>,
}

impl Offer {
    /// Keeps the first of very many, of those that begin with what is typed. Says whether any were left out.
    fn keep_first(&mut self, typed: &str) -> bool {
        if self.items.len() <= MOST_ITEMS {
            return false;
        }
        let typed = typed.to_lowercase();
        self.items.retain(|item| {
            let text = item.filter_text.as_ref().unwrap_or(&item.label);
            text.to_lowercase().starts_with(&typed)
        });
        self.items.truncate(MOST_ITEMS);
        true
    }

    /// Adds something that stands for itself.
    fn word(&mut self, label: &str, kind: CompletionItemKind, detail: &str) -> &mut CompletionItem {
        self.add(label, None, kind, detail)
    }

    /// Adds something that inserts `snippet`, with the stops of a snippet, under another label.
    fn snippet(
        &mut self,
        label: &str,
        snippet: &str,
        kind: CompletionItemKind,
        detail: &str,
    ) -> &mut CompletionItem {
        self.add(label, Some(snippet), kind, detail)
    }

    fn add(
        &mut self,
        label: &str,
        snippet: Option<&str>,
        kind: CompletionItemKind,
        detail: &str,
    ) -> &mut CompletionItem {
        let insert = snippet.map(|snippet| match self.snippets {
            true => snippet.to_owned(),
            false => without_stops(snippet),
        });
        let format = (insert.is_some() && self.snippets).then_some(InsertTextFormat::SNIPPET);
        let order = self.items.len();
        self.items.push(CompletionItem {
            label: label.to_owned(),
            kind: Some(kind),
            detail: (!detail.is_empty()).then(|| detail.to_owned()),
            // In this order, whatever the letters.
            sort_text: Some(format!("{order:05}")),
            filter_text: Some(label.to_owned()),
            insert_text: insert,
            insert_text_format: format,
            ..CompletionItem::default()
        });
        &mut self.items[order]
    }
}

/// A snippet as plain text: `${1:text}` is its text, `${1|a,b|}` its first choice, `$0` nothing.
fn without_stops(snippet: &str) -> String {
    let mut out = String::new();
    let mut rest = snippet;
    while let Some(at) = rest.find('$') {
        out.push_str(&rest[..at]);
        rest = &rest[at + 1..];
        if let Some(inner) = rest.strip_prefix('{') {
            let end = inner.find('}').unwrap_or(inner.len());
            let inside = &inner[..end];
            if let Some((_, choices)) = inside.split_once('|') {
                out.push_str(choices.split([',', '|']).next().unwrap_or(""));
            } else if let Some((_, text)) = inside.split_once(':') {
                out.push_str(text);
            }
            rest = inner.get(end + 1..).unwrap_or("");
        } else {
            rest = rest.trim_start_matches(|character: char| character.is_ascii_digit());
        }
    }
    out.push_str(rest);
    out.replace("\\}", "}").replace("\\\\", "\\")
}

/// Text inside a snippet, letter by letter.
fn literal(text: &str) -> String {
    text.replace('\\', "\\\\")
        .replace('$', "\\$")
        .replace('}', "\\}")
}

/// What may come next at a position.
pub(super) fn complete(
    sight: &Sight<'_>,
    near: &[(DocumentKind, String)],
    position: Position,
    client: &ClientAbilities,
) -> CompletionResponse {
    let offset = sight.offset(position);
    let context = Context::of(&sight.source.text, offset);
    if context.in_comment {
        return CompletionResponse::Array(Vec::new());
    }
    let mut offer = Offer {
        items: Vec::new(),
        snippets: client.snippets,
        outdent: None,
    };
    match sight.tree.document {
        DocumentKind::Unit => record::offer(sight, &context, offset, near, &mut offer),
        DocumentKind::Plan => plan::offer(sight, &context, near, &mut offer),
        DocumentKind::Register => register(sight, &context, &mut offer),
        DocumentKind::Unknown => beginning(sight, &context, near, &mut offer),
    }
    let is_incomplete = offer.keep_first(context.typed);
    // What is being typed is replaced whole, hyphens and all.
    let typed = offset - context.typed.len() as u32;
    let (_, line) = sight.line(offset);
    let blanks = &line[..line.len() - line.trim_start_matches([' ', '\t']).len()];
    let start = match offer.outdent {
        Some(_) => context.line_start as u32,
        None => typed,
    };
    let range = tower_lsp::lsp_types::Range::new(sight.position(start), position);
    for item in &mut offer.items {
        let mut text = item
            .insert_text
            .take()
            .unwrap_or_else(|| item.label.clone());
        if let Some(indent) = &offer.outdent {
            // The blanks are replaced as well, so they belong to what is compared with the text.
            let filter = item.filter_text.take().unwrap_or_default();
            item.filter_text = Some(format!("{blanks}{filter}"));
            text = format!("{indent}{}", text.replace('\n', &format!("\n{indent}")));
        } else if !client.snippets {
            // A client indents the lines of a snippet; plain text it may insert as it stands.
            text = text.replace('\n', &format!("\n{blanks}"));
        }
        if text.contains('\n') && !client.snippets {
            item.insert_text_mode = client.inserts_as_is.then_some(InsertTextMode::AS_IS);
        }
        item.text_edit = Some(CompletionTextEdit::Edit(TextEdit::new(range, text)));
    }
    match is_incomplete {
        true => CompletionResponse::List(CompletionList {
            is_incomplete,
            items: offer.items,
        }),
        false => CompletionResponse::Array(offer.items),
    }
}

/// An empty document: one of the three.
fn beginning(
    sight: &Sight<'_>,
    context: &Context<'_>,
    near: &[(DocumentKind, String)],
    offer: &mut Offer,
) {
    if !context.at_line_start {
        return;
    }
    let kind = CompletionItemKind::CLASS;
    let name = file_name(sight).unwrap_or("NAME");
    let unit = unit_snippet(sight, near);
    offer.snippet("unit", &unit, kind, "the record of a unit");
    offer.snippet(
        "plan",
        &format!(
            "plan ${{1:{}}} rev ${{2:A}}\n  title \"${{3:title}}\"\n$0",
            literal(name)
        ),
        kind,
        "an inspection plan",
    );
    offer.snippet(
        "register",
        &format!(
            "register ${{1:{}}}\n  zone ${{2:+01:00}}\n$0",
            literal(name)
        ),
        kind,
        "people and instruments",
    );
}

/// The name of the document's file without its ending, where it is a name of the language.
fn file_name<'a>(sight: &Sight<'a>) -> Option<&'a str> {
    let file = sight.source.name.rsplit(['/', '\\']).next()?;
    let stem = file.strip_suffix(".ubr").unwrap_or(file);
    is_name(stem).then_some(stem)
}

/// The head of a record, with the serial of its file's name and the plan and register that it can find.
fn unit_snippet(sight: &Sight<'_>, near: &[(DocumentKind, String)]) -> String {
    let stop = |number: u8, kind: DocumentKind| {
        let names: Vec<&str> = near
            .iter()
            .filter(|(own, _)| *own == kind)
            .map(|(_, name)| name.as_str())
            .collect();
        match names.as_slice() {
            [] => format!("${{{number}}}"),
            [only] => format!("${{{number}:{only}}}"),
            several => format!("${{{number}|{}|}}", several.join(",")),
        }
    };
    format!(
        "unit ${{1:{}}} \"${{2:title}}\"\n  plan {}\n  register {}\n$0",
        literal(file_name(sight).unwrap_or("SERIAL")),
        stop(3, DocumentKind::Plan),
        stop(4, DocumentKind::Register),
    )
}

fn register(sight: &Sight<'_>, context: &Context<'_>, offer: &mut Offer) {
    let keyword = CompletionItemKind::KEYWORD;
    if context.at_line_start {
        match context.above.last().map(|above| above.word) {
            None => {
                offer.snippet(
                    "person",
                    "person ${1:A.Name} \"${2:full name}\"\n  roles ${3}",
                    keyword,
                    "somebody who may act",
                );
                offer.snippet(
                    "instrument",
                    &format!(
                        "instrument ${{1:XX-1}} \"${{2:what it is}}\"\n  measures ${{3}}\n  \
                         calibrated ${{4:{}}} due ${{5:DATE}} certificate \"${{6}}\"",
                        sight.today()
                    ),
                    keyword,
                    "an instrument with its calibration",
                );
            }
            Some("person") => words(offer, &["roles", "valid", "retired", "key", "note"]),
            Some("instrument") => words(
                offer,
                &[
                    "measures",
                    "range",
                    "accuracy",
                    "calibrated",
                    "valid",
                    "retired",
                    "note",
                ],
            ),
            Some("register") => words(offer, &["zone", "note"]),
            Some(_) => {}
        }
        return;
    }
    match context.first {
        "roles" => {
            let mut roles: Vec<String> = sight
                .desk
                .units()
                .filter_map(|unit| unit.plan)
                .flat_map(|plan| plan.roles.iter().map(ToString::to_string))
                .collect();
            roles.sort();
            roles.dedup();
            for role in roles {
                offer.word(&role, CompletionItemKind::ENUM_MEMBER, "role");
            }
        }
        "measures" => kinds(offer),
        "calibrated" if context.before.trim_end().ends_with("due") => {}
        "calibrated" => words(offer, &["due", "certificate"]),
        _ if context.previous == "for" => kinds(offer),
        _ => {}
    }
}

fn words(offer: &mut Offer, words: &[&str]) {
    for word in words {
        offer.word(word, CompletionItemKind::KEYWORD, "");
    }
}

fn kinds(offer: &mut Offer) {
    let quantities = kind::QUANTITY_KINDS
        .iter()
        .map(|kind| (kind.name, kind.example));
    let others = kind::OTHER_KINDS.iter().map(|name| (*name, ""));
    for (name, example) in quantities.chain(others) {
        let detail = if example.is_empty() {
            String::new()
        } else {
            format!("for example in {example}")
        };
        offer.word(name, CompletionItemKind::TYPE_PARAMETER, &detail);
    }
}

/// Units of a dimension, the usual one first.
fn units(offer: &mut Offer, dimension: Dimension, point: bool, usual: &str) {
    let kind = CompletionItemKind::UNIT;
    let fits = |text: &str| {
        parse_unit(text)
            .is_ok_and(|unit| unit.dimension == dimension && unit.offset.is_some() == point)
    };
    let mut seen: Vec<String> = Vec::new();
    let mut symbols: Vec<String> = vec![usual.to_owned()];
    for definition in quantity::unit_definitions() {
        symbols.push(definition.symbol.to_owned());
        for prefix in ["m", "k", "M", "G", "u", "n", "p"] {
            symbols.push(format!("{prefix}{}", definition.symbol));
        }
    }
    for symbol in symbols {
        if !symbol.is_empty() && fits(&symbol) && !seen.contains(&symbol) {
            offer.word(&symbol, kind, "unit").data = Some(json!({ "unit": symbol }));
            seen.push(symbol);
        }
    }
}

/// Adds the documentation of an item.
pub(super) fn resolve(mut item: CompletionItem, markdown: bool) -> CompletionItem {
    let data = item.data.as_ref();
    let of = |key: &str| data.and_then(|data| data.get(key)?.as_str());
    let page = of("function")
        .and_then(function::find)
        .map(pages::function)
        .or_else(|| of("rule").and_then(catalogue::find).map(pages::rule))
        .or_else(|| of("unit").and_then(pages::unit))
        .map(|page| page.markdown());
    let page = page.or_else(|| of("text").map(str::to_owned));
    if let Some(page) = page {
        let (kind, value) = match markdown {
            true => (MarkupKind::Markdown, page),
            false => (MarkupKind::PlainText, plain(&page)),
        };
        item.documentation = Some(Documentation::MarkupContent(MarkupContent { kind, value }));
    }
    item
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_snippet_without_stops_is_what_it_suggests() {
        assert_eq!(without_stops("x[${1:HV}] = ${2} mm$0"), "x[HV] =  mm");
        assert_eq!(without_stops("plan ${3|one,two|}\n"), "plan one\n");
        assert_eq!(without_stops(&format!("{}$1", literal("a}b"))), "a}b");
    }
}
