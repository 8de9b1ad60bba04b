//! Who may act: the roles at points and over nonconformities, who is too near to what is judged, and how
//! long before an act notice has to be given.

use super::draft::{At, Item};
use super::literal;
use super::model::*;
use super::resolve::Resolver;
use crate::finding::Finding;
use crate::finding::rules;
use crate::quantity::Dimension;
use crate::syntax::{NodeId, NodeKind, nearest};
use std::sync::Arc;

/// What a point's own line says besides its name.
pub(super) struct PointParts {
    pub title: Arc<str>,
    pub roles: Vec<Arc<str>>,
    pub other_than_measurer: bool,
    pub notice: Option<i64>,
}

impl Resolver<'_, '_> {
    pub(super) fn point_parts(&mut self, item: &Item) -> PointParts {
        let tree = self.tree(item.at);
        let title = tree
            .child(item.at.node, NodeKind::TextPart)
            .map_or_else(|| item.name.clone(), |text| tree.unquoted(text).into());
        let names: Vec<NodeId> = tree
            .children(item.at.node)
            .filter(|child| tree.kind(*child) == NodeKind::Name)
            .skip(1)
            .collect();
        let other_than_measurer = self.other_than(item.at, "measurer");
        let roles = self.roles_of(item.at, names);
        if roles.is_empty() {
            let place = self.name_place(item.at);
            self.findings.push(
                Finding::new(
                    &rules::HOLD_WITHOUT_ROLE,
                    place,
                    format!(
                        "expected `by` and the role that may release `{}`, found none",
                        item.name
                    ),
                )
                .help("write: hold H10 \"Title\" by quality"),
            );
        }
        PointParts {
            title,
            roles,
            other_than_measurer,
            notice: self.notice(item.at),
        }
    }

    /// `concessions by quality, design other than raiser`
    pub(super) fn concessions(&mut self, at: At) -> Concessions {
        let tree = self.tree(at);
        let names: Vec<NodeId> = tree
            .children(at.node)
            .filter(|child| tree.kind(*child) == NodeKind::Name)
            .collect();
        Concessions {
            other_than_raiser: self.other_than(at, "raiser"),
            roles: self.roles_of(at, names),
            place: self.place_at(at),
        }
    }

    /// The roles named, each reported that the plan does not declare.
    fn roles_of(&mut self, at: At, names: Vec<NodeId>) -> Vec<Arc<str>> {
        let mut roles = Vec::new();
        for node in names {
            let role: Arc<str> = self.tree(at).text_of(node).into();
            if !self.plan.roles.contains(&role) {
                let known = self.plan.roles.clone();
                let place = self.place(at.document, node);
                self.unknown_name(
                    place,
                    "a role of this plan",
                    &role,
                    known.iter().map(|name| &**name),
                );
            }
            roles.push(role);
        }
        roles
    }

    /// Whether `other than WHOM` stands on a line; another word than the one that fits there is reported.
    fn other_than(&mut self, at: At, whom: &str) -> bool {
        let tree = self.tree(at);
        let Some(node) = tree.child(at.node, NodeKind::OtherThan) else {
            return false;
        };
        // The parser has reported any other word and read no further.
        tree.significant(node)
            .any(|(token, _)| tree.token_text(token) == whom)
    }

    /// `notice 5 d` in seconds.
    fn notice(&mut self, at: At) -> Option<i64> {
        let tree = self.tree(at);
        let notice = tree.child(at.node, NodeKind::Notice)?;
        let written = tree.quantity(tree.child(notice, NodeKind::Quantity)?)?;
        let place = self.place(at.document, notice);
        let seconds = match literal::read(&written, place.file) {
            Ok(quantity) if quantity.dimension == Dimension::TIME => quantity.value.to_f64(),
            Ok(_) => {
                let finding = Finding::new(
                    &rules::WRONG_UNIT,
                    place,
                    "expected a time of notice, found another unit",
                )
                .help("write it in days or hours: notice 5 d");
                self.findings.push(finding);
                return None;
            }
            Err(finding) => {
                self.findings.push(*finding);
                return None;
            }
        };
        // Longer than any contract runs is a slip of the unit, and must not overflow.
        if !(0.0..=3.2e8).contains(&seconds) {
            let finding = Finding::new(
                &rules::WRONG_KIND,
                place,
                "expected a notice of at most ten years and not below zero, found another",
            )
            .help("write it in days or hours: notice 5 d");
            self.findings.push(finding);
            return None;
        }
        Some(seconds.round() as i64)
    }

    /// `independent of turns`: readings of the same stage with the same indices.
    pub(super) fn independent_of(&mut self, id: ReadingId, at: At) -> Vec<ReadingId> {
        let tree = self.tree(at);
        let names: Vec<NodeId> = tree
            .children(at.node)
            .filter(|child| tree.kind(*child) == NodeKind::Name)
            .collect();
        let reading = &self.plan.readings[id.index()];
        let (own, sets) = (reading.name.clone(), reading.indices.clone());
        let stage = reading.stage;
        let mut others = Vec::new();
        for node in names {
            let name: Arc<str> = self.tree(at).text_of(node).into();
            let place = self.place(at.document, node);
            let declared = &self.plan.stages[stage.index()];
            match declared.names.get(&name) {
                Some(StageName::Reading(other)) if *other != id => {
                    let found = &self.plan.readings[other.index()];
                    if found.indices == sets {
                        others.push(*other);
                        continue;
                    }
                    let finding = Finding::new(
                        &rules::INDEX_COUNT,
                        place,
                        format!("expected a reading with the indices of `{own}`, found `{name}` with others"),
                    )
                    .related(found.place, "declared here")
                    .help("each is held against the one of the same winding and phase, so both need the same sets");
                    self.findings.push(finding);
                }
                _ => {
                    let known: Vec<Arc<str>> = declared
                        .readings
                        .iter()
                        .map(|other| self.plan.readings[other.index()].name.clone())
                        .filter(|other| *other != own)
                        .collect();
                    let mut finding = Finding::new(
                        &rules::UNKNOWN_NAME,
                        place,
                        format!(
                            "expected another reading of stage `{}`, found `{name}`",
                            declared.name
                        ),
                    );
                    if let Some(near) = nearest(&name, known.iter().map(|known| &**known)) {
                        finding = finding.help(format!("did you mean `{near}`?"));
                    }
                    self.findings.push(finding);
                }
            }
        }
        others
    }
}
