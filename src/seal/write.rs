//! A new seal as text, and where it goes.

use super::canonical::{below, digest};
use super::cover::Part;
use super::text::{Before, seal_text};
use super::written::{ActLine, Seal};
use crate::syntax::{NodeKind, Tree};
use rustc_hash::FxHashSet;

/// A seal to be written.
#[derive(Clone, Debug)]
pub struct NewSeal {
    /// Its digest.
    pub digest: String,
    /// The text that it is the digest of.
    pub text: String,
    /// The seal before it.
    pub after: Option<String>,
    /// What it covers: kind, digest, label.
    pub covers: Vec<(String, String, String)>,
}

impl NewSeal {
    /// The seal of an act, behind the seal before it. The error names a file that cannot be read.
    pub fn of(
        serial: &str,
        tree: &Tree,
        act: &ActLine,
        after: Option<&Seal>,
        parts: Vec<Part>,
    ) -> Result<NewSeal, String> {
        let mut covers = Vec::with_capacity(parts.len());
        for part in parts {
            match part.digest {
                Some(digest) => covers.push((part.kind.to_owned(), digest, part.label)),
                None => return Err(part.label),
            }
        }
        let before = before_new(act, after);
        let after = after.map(|seal| seal.digest.clone());
        let listed = covers
            .iter()
            .map(|(kind, digest, label)| (&**kind, &**digest, &**label));
        let text = seal_text(serial, tree, act, after.as_deref(), before, listed);
        Ok(NewSeal {
            digest: digest(text.as_bytes()),
            text,
            after,
            covers,
        })
    }

    /// The lines of the seal as they go into the record, for an act that is indented so far.
    pub fn lines(&self, indent: &str, signature: Option<&str>, end: &str) -> String {
        let mut lines = format!("{indent}  seal \"{}\" after ", self.digest);
        match &self.after {
            Some(after) => lines.push_str(&format!("\"{after}\"")),
            None => lines.push_str("nothing"),
        }
        lines.push_str(end);
        for (kind, digest, label) in &self.covers {
            let written = match label.is_empty() {
                true => digest.clone(),
                false => format!("{digest}  {}", escaped(label)),
            };
            lines.push_str(&format!("{indent}    covers {kind} \"{written}\"{end}"));
        }
        if let Some(signature) = signature {
            lines.push_str(&signature_line(indent, signature, end));
        }
        lines
    }
}

/// The line of a signature below a seal, for an act that is indented so far.
pub fn signature_line(indent: &str, signature: &str, end: &str) -> String {
    format!("{indent}    signature \"{signature}\"{end}")
}

/// Where the act sealed before stands, seen from one that is to be sealed.
pub fn before_new(act: &ActLine, after: Option<&Seal>) -> Before {
    match after {
        None => Before::Nothing,
        Some(seal) if seal.act.start > act.start => Before::Below,
        Some(_) => Before::Above,
    }
}

/// The last seal of the chain: the one that no other names.
pub fn head(written: &[Seal]) -> Option<&Seal> {
    let named: FxHashSet<&str> = written
        .iter()
        .filter_map(|seal| seal.after.as_deref())
        .collect();
    written
        .iter()
        .rev()
        .find(|seal| !named.contains(seal.digest.as_str()))
}

/// Where new lines go below an act: the byte behind its last line or the last line below it, the indentation of the
/// act, and the line end that the document uses.
pub fn insertion(tree: &Tree, act: &ActLine) -> (usize, String, &'static str) {
    let last = below(tree, act.node).last();
    let line = last.map_or(act.node, |statement| deepest(tree, statement));
    behind_line(tree, tree.span(line).end as usize, act)
}

/// The same for a line that goes below a seal, behind what it covers.
pub fn insertion_below(tree: &Tree, seal: &Seal) -> Option<(usize, String, &'static str)> {
    let node = below(tree, seal.act.node)
        .find(|node| tree.kind(*node) == NodeKind::Seal && tree.span(*node) == seal.span)?;
    let line = deepest(tree, node);
    Some(behind_line(tree, tree.span(line).end as usize, &seal.act))
}

fn deepest(tree: &Tree, node: crate::syntax::NodeId) -> crate::syntax::NodeId {
    match below(tree, node).last() {
        Some(child) => deepest(tree, child),
        None => node,
    }
}

fn behind_line(tree: &Tree, end: usize, act: &ActLine) -> (usize, String, &'static str) {
    let text = tree.text();
    let behind = text[end..]
        .find('\n')
        .map_or(text.len(), |offset| end + offset + 1);
    let start = act.start as usize;
    let line = text[..start].rfind('\n').map_or(0, |at| at + 1);
    let indent: String = text[line..start]
        .chars()
        .take_while(|character| matches!(character, ' ' | '\t'))
        .collect();
    let first = text.find('\n');
    let crlf = first.is_some_and(|at| text[..at].ends_with('\r'));
    (behind, indent, if crlf { "\r\n" } else { "\n" })
}

fn escaped(label: &str) -> String {
    label.replace('\\', "\\\\").replace('"', "\\\"")
}
