//! The text that a seal is the digest of.

use super::canonical::{Line, all, digest, text_of, write};
use super::written::{ActLine, Seal};
use crate::syntax::Tree;

/// The first line: what this is, and in which form.
pub const FORM: &str = "stagebook seal 1";

/// Where the act that was sealed before stands in the document.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Before {
    /// There is none.
    Nothing,
    /// Above this one.
    Above,
    /// Below this one.
    Below,
}

impl Before {
    fn word(self) -> &'static str {
        match self {
            Before::Nothing => "nothing",
            Before::Above => "above",
            Before::Below => "below",
        }
    }
}

/// The act with what is noted and attached below it.
pub fn act_lines(tree: &Tree, act: &ActLine) -> Vec<Line> {
    let mut lines = Vec::new();
    write(tree, act.node, 0, &all, &mut lines);
    lines
}

/// The text of a seal: the unit, the act, the seal before it, and for each part its digest and its name.
///
/// `covers` holds name of the kind, digest and label of each part.
pub fn seal_text<'c>(
    serial: &str,
    tree: &Tree,
    act: &ActLine,
    after: Option<&str>,
    before: Before,
    covers: impl Iterator<Item = (&'c str, &'c str, &'c str)>,
) -> String {
    let mut text = format!(
        "{FORM}\nunit {serial:?}\nstage {} round {}\n",
        act.stage, act.round
    );
    text.push_str(&text_of(&act_lines(tree, act)));
    match after {
        Some(after) => text.push_str(&format!("after {after} {}\n", before.word())),
        None => text.push_str("after nothing\n"),
    }
    for (kind, digest, label) in covers {
        let line = format!("{digest}  {kind} {label}");
        text.push_str(line.trim_end());
        text.push('\n');
    }
    text
}

/// The text of a seal as it is written, taking `before` for where the seal before it stands.
pub fn text_as_written(serial: &str, tree: &Tree, seal: &Seal, before: Before) -> String {
    seal_text(
        serial,
        tree,
        &seal.act,
        seal.after.as_deref(),
        before,
        seal.covers
            .iter()
            .map(|cover| (&*cover.kind, &*cover.digest, &*cover.label)),
    )
}

/// Whether a seal is the digest of its text.
pub fn holds(serial: &str, tree: &Tree, seal: &Seal, before: Before) -> bool {
    digest(text_as_written(serial, tree, seal, before).as_bytes()) == seal.digest
}
