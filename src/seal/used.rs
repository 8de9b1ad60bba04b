//! What of a register a released stage rests on: the people and instruments that it names, as they stood on the
//! days on which they are named.
//!
//! Only the facts that the judgement used are sealed, so that a register can grow: another calibration, another
//! person, a longer validity do not touch what was released.

use super::canonical::{Line, all, below, write};
use super::written::ActLine;
use crate::plan::Plan;
use crate::quantity::moment::{format_day, parse_day};
use crate::record::{Context, Record};
use crate::register::identity;
use crate::syntax::{NodeId, NodeKind, Tree};
use crate::text::Span;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

type Days = BTreeSet<i32>;

/// People and instruments with the days on which they are named, in days since 1970-01-01.
#[derive(Clone, Debug, Default)]
pub struct Used {
    people: BTreeMap<Arc<str>, Days>,
    instruments: BTreeMap<Arc<str>, Days>,
}

impl Used {
    /// What an act and what stands above it in its stage name.
    pub fn by(record: &Record, plan: &Plan, act: &ActLine) -> Used {
        let mut used = Used::default();
        let Some(stage) = plan.stage_by_name.get(act.stage.as_str()) else {
            return used;
        };
        let rounds = record.stages[stage.index()]
            .iter()
            .filter(|round| round.number <= act.round);
        for round in rounds {
            for (context, place) in &round.work {
                if place.span.start < act.start {
                    used.context(&record.contexts[*context as usize]);
                }
            }
            let acts = round.acts.iter().chain(&round.notices);
            for one in acts.filter(|one| one.place.span.start <= act.start) {
                let day = one.when.map(|(when, _)| when.day);
                used.person(one.person.as_ref().map(|(name, _)| name), day);
            }
            for amendment in &round.amendments {
                let amendment = &record.amendments[*amendment as usize];
                if amendment.place.span.start < act.start {
                    let day = amendment.when.map(|(when, _)| when.day);
                    used.person(amendment.person.as_ref().map(|(name, _)| name), day);
                }
            }
        }
        used
    }

    fn context(&mut self, context: &Context) {
        let day = context.when.map(|(when, _)| when.day);
        self.person(context.person.as_ref().map(|(name, _)| name), day);
        if let Some((name, _)) = &context.instrument {
            let days = self.instruments.entry(name.clone()).or_default();
            days.extend(day);
        }
    }

    fn person(&mut self, name: Option<&Arc<str>>, day: Option<i32>) {
        if let Some(name) = name {
            self.people.entry(name.clone()).or_default().extend(day);
        }
    }

    /// The facts as canonical lines, by name; their places are in the register.
    pub fn lines(&self, register: Option<&Tree>) -> Vec<Line> {
        let mut lines = Vec::new();
        let Some(tree) = register else {
            return lines;
        };
        let entries: BTreeMap<Arc<str>, NodeId> = tree
            .children(tree.root())
            .filter(|node| matches!(tree.kind(*node), NodeKind::Person | NodeKind::Instrument))
            .filter_map(|node| Some((identity(tree, node)?.0, node)))
            .collect();
        let people = self.people.iter().map(|entry| (entry, NodeKind::Person));
        let instruments = self
            .instruments
            .iter()
            .map(|entry| (entry, NodeKind::Instrument));
        for ((name, days), kind) in people.chain(instruments) {
            match entries.get(name).filter(|node| tree.kind(**node) == kind) {
                Some(node) => entry(tree, *node, days, &mut lines),
                None => lines.push(Line {
                    text: format!("{name} is not entered"),
                    span: Span::default(),
                }),
            }
        }
        lines
    }
}

/// What an entry says for some days.
fn entry(tree: &Tree, node: NodeId, days: &Days, lines: &mut Vec<Line>) {
    let lasting = |kind| {
        matches!(
            kind,
            NodeKind::Roles | NodeKind::Measures | NodeKind::InstrumentRange | NodeKind::Accuracy
        )
    };
    write(tree, node, 0, &lasting, lines);
    for line in below(tree, node).filter(|line| tree.kind(*line) == NodeKind::Calibrated) {
        let span = calibration(tree, line);
        if span.is_some_and(|(from, due)| days.range(from..=due.max(from)).next().is_some()) {
            write(tree, line, 1, &all, lines);
        }
    }
    for day in days {
        let serves = below(tree, node).all(|line| serves(tree, line, *day));
        lines.push(Line {
            text: format!(
                "  {} on {}",
                if serves { "valid" } else { "not valid" },
                format_day(*day)
            ),
            span: tree.span(node),
        });
    }
}

/// First and last day of a calibration.
fn calibration(tree: &Tree, line: NodeId) -> Option<(i32, i32)> {
    let due = tree.child(line, NodeKind::Due)?;
    Some((day_in(tree, line)?, day_in(tree, due)?))
}

/// Whether a `valid` or `retired` line leaves a day in service; other lines do not ask.
fn serves(tree: &Tree, line: NodeId, day: i32) -> bool {
    match tree.kind(line) {
        NodeKind::Valid => {
            let mut days = tree
                .children(line)
                .filter(|part| tree.kind(*part) == NodeKind::DateTime)
                .map(|part| parse_day(tree.text_of(part)).ok());
            let (from, to) = (days.next().flatten(), days.next().flatten());
            from.is_none_or(|from| from <= day) && to.is_none_or(|to| day <= to)
        }
        NodeKind::Retired => day_in(tree, line).is_none_or(|last| day <= last),
        _ => true,
    }
}

fn day_in(tree: &Tree, node: NodeId) -> Option<i32> {
    let day = tree.child(node, NodeKind::DateTime)?;
    parse_day(tree.text_of(day)).ok()
}
