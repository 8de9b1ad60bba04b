//! The seals of a record as they are written.

use super::canonical::below;
use crate::syntax::{NodeId, NodeKind, Tree};
use crate::text::Span;
use rustc_hash::FxHashMap;

/// The kinds of acts that can be sealed.
pub fn is_act(kind: NodeKind) -> bool {
    matches!(
        kind,
        NodeKind::Release | NodeKind::Witnessed | NodeKind::Waived | NodeKind::Reviewed
    )
}

/// An act at a point: where it stands in the document.
#[derive(Clone, Debug)]
pub struct ActLine {
    /// The stage's name.
    pub stage: String,
    /// The round.
    pub round: u32,
    /// The point's name.
    pub point: String,
    /// How many acts at this point stand above it in the round: a point is released anew after an amendment.
    pub again: usize,
    /// The act's node.
    pub node: NodeId,
    /// First byte of the act's line: what stands before it in its stage is what it covers.
    pub start: u32,
}

/// A seal below an act.
#[derive(Clone, Debug)]
pub struct Seal {
    /// The act that it seals.
    pub act: ActLine,
    /// Its own digest, as written.
    pub digest: String,
    /// The seal before it; `None` for `after nothing`.
    pub after: Option<String>,
    /// What it covers, in the order written.
    pub covers: Vec<Cover>,
    /// The signature and where it stands.
    pub signature: Option<(String, Span)>,
    /// Where its line stands.
    pub span: Span,
}

/// One part that a seal covers.
#[derive(Clone, Debug)]
pub struct Cover {
    /// What kind of part: `stage`, `file`.
    pub kind: String,
    /// Its digest.
    pub digest: String,
    /// Which one: a stage's name, a file's path; empty where there is one only.
    pub label: String,
    /// Where it stands.
    pub span: Span,
}

impl Cover {
    /// `stage winding`, `file logs/oven.csv`, `design`
    pub fn name(&self) -> String {
        part_name(&self.kind, &self.label)
    }
}

/// The name of a part from its kind and its label.
pub fn part_name(kind: &str, label: &str) -> String {
    match label.is_empty() {
        true => kind.to_owned(),
        false => format!("{kind} {label}"),
    }
}

/// The name and round of a `stage` statement.
pub fn stage_of(tree: &Tree, node: NodeId) -> Option<(&str, u32)> {
    let (name, round) = tree.stage_and_round(node)?;
    Some((tree.text_of(name), round))
}

/// Every act of a record, in the order of the document.
pub fn acts(tree: &Tree) -> Vec<ActLine> {
    let mut acts = Vec::new();
    let mut counts: FxHashMap<(&str, u32, &str), usize> = FxHashMap::default();
    for stage in tree.children(tree.root()) {
        if tree.kind(stage) != NodeKind::StageRecord {
            continue;
        }
        let Some((name, round)) = stage_of(tree, stage) else {
            continue;
        };
        for node in below(tree, stage).filter(|node| is_act(tree.kind(*node))) {
            let Some(point) = tree.child(node, NodeKind::Name) else {
                continue;
            };
            let point = tree.text_of(point);
            let count = counts.entry((name, round, point)).or_default();
            *count += 1;
            acts.push(ActLine {
                again: *count - 1,
                stage: name.to_owned(),
                round,
                point: point.to_owned(),
                node,
                start: tree.span(node).start,
            });
        }
    }
    acts
}

/// Every seal of a record, in the order of the document. A second seal below one act is a seal of its own.
pub fn seals(tree: &Tree) -> Vec<Seal> {
    let mut seals = Vec::new();
    // Most records have none while they are written, and their acts need not be looked for.
    if !tree.holds(NodeKind::Seal) {
        return seals;
    }
    for act in acts(tree) {
        for node in below(tree, act.node).filter(|node| tree.kind(*node) == NodeKind::Seal) {
            seals.push(seal(tree, &act, node));
        }
    }
    seals
}

fn seal(tree: &Tree, act: &ActLine, node: NodeId) -> Seal {
    let text = |node: NodeId| {
        let text = tree.child(node, NodeKind::TextPart);
        text.map(|text| tree.unquoted(text))
    };
    let mut seal = Seal {
        act: act.clone(),
        digest: text(node).unwrap_or_default(),
        after: tree.child(node, NodeKind::Predecessor).and_then(text),
        covers: Vec::new(),
        signature: None,
        span: tree.span(node),
    };
    for line in below(tree, node) {
        match tree.kind(line) {
            NodeKind::Covers => {
                let parts = tree
                    .children(line)
                    .filter(|part| tree.kind(*part) == NodeKind::Part);
                for part in parts {
                    let kind = tree.child(part, NodeKind::Name);
                    let written = text(part).unwrap_or_default();
                    // As `sha256sum` writes it: the digest, two blanks, the name.
                    let (digest, label) = written.split_once("  ").unwrap_or((&written, ""));
                    seal.covers.push(Cover {
                        kind: kind.map_or("", |kind| tree.text_of(kind)).to_owned(),
                        digest: digest.to_owned(),
                        label: label.to_owned(),
                        span: tree.span(part),
                    });
                }
            }
            NodeKind::Signature => seal.signature = text(line).map(|text| (text, tree.span(line))),
            _ => {}
        }
    }
    seal
}
