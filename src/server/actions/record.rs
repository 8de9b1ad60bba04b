//! What is offered at a place of a record: an amendment, another unit, what is still open.

use super::{Desk, NAME, REASON};
use crate::plan::kind::Kind;
use crate::plan::{PointKind, StageId};
use crate::quantity::{Number, Rational, format_number, parse_unit};
use crate::record::{index_text, slots};
use crate::server::completion::missing_rows;
use crate::server::open::{Open, example, laid_out, unit_of};
use crate::server::reading;
use crate::syntax::{NodeId, NodeKind};
use crate::text::Span;
use crate::verdict::with_glances;
use tower_lsp::lsp_types::CodeActionKind;

impl Desk<'_> {
    /// At a reading: an amendment, and the value in the plan's unit.
    pub(super) fn of_reading(&mut self, span: Span) {
        let Some((_, plan, record)) = self.bound() else {
            return;
        };
        let Some(at) = reading::at(&self.sight, record, span.start) else {
            return;
        };
        let item = &plan.readings[at.id.index()];
        let name = format!(
            "{}{}",
            item.name,
            index_text(&record.domains, &item.indices, at.slot)
        );
        let own = at.entry.place.span;
        let written = match &at.entry.unit {
            Some(unit) => format!("{} {unit}", self.sight.source.slice(own)),
            None => self.sight.source.slice(own).to_owned(),
        };
        if matches!(at.entry.value, crate::record::Recorded::Value(_)) {
            // Behind the statement in which the reading stands, at its level.
            let nodes = self.sight.nodes_at(own.start);
            let statement = nodes.iter().find(|node| {
                matches!(
                    self.sight.tree.kind(**node),
                    NodeKind::Reading | NodeKind::Table | NodeKind::Amend
                )
            });
            if let Some(statement) = statement {
                let (_, indent) = self.line_start(self.sight.tree.span(*statement).start);
                let text = format!(
                    "{indent}amend {name} = ? was {written} by {NAME} on {} because \"{REASON}\"\n",
                    self.sight.today()
                );
                let end = self.behind(*statement);
                self.insert(
                    format!("Amend {name}"),
                    CodeActionKind::REFACTOR,
                    end,
                    text,
                    None,
                );
            }
        }
        self.in_declared_unit(item, own);
    }

    /// The same amount in the unit that the plan suggests, where that can be written exactly.
    fn in_declared_unit(&mut self, item: &crate::plan::Reading, span: Span) {
        let Kind::Quantity(kind) = &item.kind else {
            return;
        };
        let text = self.sight.source.slice(span);
        let Some((number, unit)) = text.split_once(' ') else {
            return;
        };
        let (Ok(number), Ok(from), Ok(to)) = (
            Rational::parse(number),
            parse_unit(unit.trim()),
            parse_unit(kind.example),
        ) else {
            return;
        };
        if self.sight.is_sealed_at(span)
            || from.dimension != to.dimension
            || from.offset.is_some()
            || to.offset.is_some()
            || unit.trim() == kind.example
        {
            return;
        }
        let converted = number
            .checked_mul(from.factor)
            .and_then(|amount| amount.checked_div(to.factor));
        let Some(converted) = converted else { return };
        // Only what reads back as the same amount is a change of notation.
        let exact =
            |text: &String| Rational::parse(text).is_ok_and(|read| read.compare(converted).is_eq());
        let written = (1..=17)
            .map(|digits| format_number(Number::Exact(converted), digits))
            .find(exact);
        if let Some(written) = written.filter(|written| !written.contains('e')) {
            let edits = vec![(self.sight.file, span, format!("{written} {}", kind.example))];
            let title = format!("Write as {written} {}", kind.example);
            self.add(title, CodeActionKind::REFACTOR_REWRITE, edits, None);
        }
    }

    /// At a stage: the rest of it kept open, its open points, the rows that a table lacks.
    pub(super) fn of_stage(&mut self, span: Span) {
        let Some((_, plan, record)) = self.bound() else {
            return;
        };
        let nodes = self.nodes_of_line(span.start);
        let tree = self.sight.tree;
        let Some(stage) = nodes
            .iter()
            .find(|node| tree.kind(**node) == NodeKind::StageRecord)
        else {
            return;
        };
        let name = tree
            .child(*stage, NodeKind::Name)
            .map(|name| tree.text_of(name));
        let Some(id) = name.and_then(|name| plan.stage_by_name.get(name).copied()) else {
            return;
        };
        if let Some(table) = nodes
            .iter()
            .find(|node| tree.kind(**node) == NodeKind::Table)
        {
            self.missing_rows(*table, id);
        }
        let end = self.behind(*stage);
        let sources = self.sight.desk.sources();
        let (rest, points) = with_glances(plan, record, self.sight.file, sources, |glances| {
            let round = record.stages[id.index()].last();
            // What is kept open already stands there.
            let stands = |reading, slot: usize| {
                round.is_some_and(|round| {
                    let slots = round.readings.get(&reading);
                    slots.is_some_and(|slots| slots[slot] != crate::record::EMPTY)
                })
            };
            let open: Vec<Open<'_>> = plan.stages[id.index()]
                .readings
                .iter()
                .filter_map(|reading| {
                    let item = &plan.readings[reading.index()];
                    let mut slots = glances.open_slots(*reading);
                    slots.retain(|slot| !stands(*reading, *slot));
                    let first = *slots.first()?;
                    Some(Open {
                        name: &item.name,
                        unit: unit_of(&item.kind, &glances.reading(*reading, first)),
                        indices: &item.indices,
                        slots,
                    })
                })
                .collect();
            let rest = laid_out(plan, &record.domains, &open);
            let open = |point: &&crate::plan::PointId| {
                glances.point_applies(**point)
                    && !round.is_some_and(|round| round.acts.iter().any(|act| act.point == **point))
            };
            let points: Vec<_> = plan.stages[id.index()]
                .points
                .iter()
                .filter(open)
                .copied()
                .collect();
            (rest, points)
        });
        let stage_name = &plan.stages[id.index()].name;
        if !rest.is_empty() {
            self.insert(
                format!("Keep the rest of `{stage_name}` open"),
                CodeActionKind::REFACTOR,
                end,
                rest,
                None,
            );
        }
        for point in points {
            let point = &plan.points[point.index()];
            let word = match point.kind {
                PointKind::Hold => "release",
                PointKind::Witness => "witnessed",
                PointKind::Review => "reviewed",
            };
            let text = format!(
                "  {word} {} by {NAME} on {}\n",
                point.name,
                self.sight.today()
            );
            self.insert(
                format!("Write the line `{word} {}`", point.name),
                CodeActionKind::REFACTOR,
                end,
                text,
                None,
            );
        }
    }

    /// At the unit's first line or its design: what the design still lacks, kept open.
    pub(super) fn of_design(&mut self, span: Span) {
        let Some((_, plan, record)) = self.bound() else {
            return;
        };
        let tree = self.sight.tree;
        let nodes = self.nodes_of_line(span.start);
        let at = |kind| nodes.iter().find(|node| tree.kind(**node) == kind);
        let there = tree
            .children(tree.root())
            .find(|node| tree.kind(*node) == NodeKind::Design);
        let Some(head) = at(NodeKind::Design).or(at(NodeKind::Unit)) else {
            return;
        };
        let open: Vec<Open<'_>> = plan
            .design
            .iter()
            .zip(&record.design)
            .filter(|(item, _)| item.required)
            .map(|(item, given)| Open {
                name: &item.name,
                unit: example(&item.kind).to_owned(),
                indices: &item.indices,
                slots: (0..slots(&record.domains, &item.indices))
                    .filter(|slot| {
                        given
                            .get(*slot)
                            .is_none_or(|own| *own == crate::record::EMPTY)
                    })
                    .collect(),
            })
            .filter(|open| !open.slots.is_empty())
            .collect();
        let mut text = laid_out(plan, &record.domains, &open);
        if text.is_empty() {
            return;
        }
        if there.is_none() {
            text = format!("\ndesign rev A on {} by {NAME}\n{text}", self.sight.today());
        }
        self.insert(
            "Keep the rest of the design open".to_owned(),
            CodeActionKind::REFACTOR,
            self.behind(there.unwrap_or(*head)),
            text,
            None,
        );
    }

    fn missing_rows(&mut self, table: NodeId, stage: StageId) {
        let Some((_, plan, record)) = self.bound() else {
            return;
        };
        let Some(rows) = missing_rows(&self.sight, table, plan, record, stage) else {
            return;
        };
        let end = self.behind(table);
        self.insert(
            "Add the missing rows, kept open".to_owned(),
            CodeActionKind::REFACTOR,
            end,
            rows,
            None,
        );
    }
}
