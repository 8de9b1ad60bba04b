//! The reasoning behind a judgement: what went in, the formula with the numbers put in, what came out.

use super::evaluate::{Env, Evaluator};
use crate::finding::{Amended, Input, Reasoning};
use crate::plan::value::Value;
use crate::plan::*;
use crate::quantity::moment::{Zone, format_in_zone, format_utc};
use crate::quantity::{Quantity, Unit, format_in, format_number, format_readable, parse_unit};
use crate::record::{Entry, Recorded, index_text, members_of};
use crate::text::{Place, SourceText};
use rustc_hash::FxHashSet;

/// Most inputs listed in one finding; more are counted.
const MOST_INPUTS: usize = 12;
/// Most steps shown in one finding.
const MOST_STEPS: usize = 8;

/// Writes reasoning from the texts of plan and record.
pub struct Explainer<'a> {
    /// The evaluator.
    pub evaluator: &'a Evaluator<'a>,
    /// The run's sources.
    pub sources: &'a [SourceText],
}

/// What is gathered on the way.
#[derive(Default)]
struct Gathered {
    inputs: Vec<Input>,
    missing: Vec<String>,
    steps: Vec<String>,
    seen: FxHashSet<String>,
    places: FxHashSet<Place>,
    /// Units written in the formula that is explained: what is of their dimension is shown in them.
    units: Vec<Unit>,
}

impl<'a> Explainer<'a> {
    fn text(&self, place: Place) -> &'a str {
        self.sources
            .get(place.file.0 as usize)
            .map_or("", |source| source.slice(place.span))
    }

    /// The text at a place on one line.
    pub fn flat(&self, place: Place) -> String {
        flatten(self.text(place))
    }

    /// A recorded value in the writer's own digits and unit.
    pub fn written(&self, entry: &Entry) -> String {
        let text = self.flat(entry.place);
        match (&entry.unit, &entry.value) {
            (Some(unit), Recorded::Value(_)) if !text.contains(' ') => format!("{text} {unit}"),
            _ => text,
        }
    }

    /// The amendments that gave an entry its value, the latest first.
    pub fn amended(&self, entry: &Entry) -> Vec<Amended> {
        let record = self.evaluator.record;
        let mut chain = Vec::new();
        let mut next = entry.amended;
        // Each amendment replaces an entry above it, so the chain ends.
        while let Some(amendment) = next.and_then(|index| record.amendments.get(index as usize)) {
            let before = &record.entries[amendment.replaced as usize];
            chain.push(Amended {
                was: self.written(before),
                by: amendment
                    .person
                    .as_ref()
                    .map(|(name, _)| name.to_string())
                    .unwrap_or_default(),
                on: amendment.when_text.clone(),
                because: amendment.reason.clone(),
            });
            next = before.amended;
        }
        chain
    }

    /// The reasoning of one expression: inputs, formula, steps.
    pub fn reasoning(&self, expr: &Expr, env: Env<'_>) -> Reasoning {
        let mut gathered = Gathered {
            units: self.units_in(expr),
            ..Gathered::default()
        };
        let formula = self.flat(expr.place);
        let put_in = self.put_in(expr, env, &mut gathered);
        let mut steps = gathered.steps;
        if put_in != formula {
            steps.push(format!("= {put_in}"));
        }
        let mut inputs = gathered.inputs;
        let more = inputs.len().saturating_sub(MOST_INPUTS);
        inputs.truncate(MOST_INPUTS);
        if more > 0 {
            inputs.push(Input {
                name: format!("and {more} more"),
                value: String::new(),
                place: None,
                amended: Vec::new(),
            });
        }
        Reasoning {
            inputs,
            missing: gathered.missing,
            formula: Some(formula),
            steps,
            ..Reasoning::default()
        }
    }

    /// The units that the literals of an expression are written in.
    fn units_in(&self, expr: &Expr) -> Vec<Unit> {
        let mut units = Vec::new();
        expr.walk(&mut |part| {
            if !matches!(part.node, ExprNode::Literal(Value::Quantity(_))) {
                return;
            }
            let text = self.flat(part.place);
            if let Some((_, unit)) = text.split_once(' ')
                && let Ok(unit) = parse_unit(unit)
            {
                units.push(unit);
            }
        });
        units
    }

    /// The text of an expression with every reference replaced by its value.
    fn put_in(&self, expr: &Expr, env: Env<'_>, gathered: &mut Gathered) -> String {
        let mut references: Vec<&Expr> = Vec::new();
        collect_references(expr, &mut references);
        references.sort_by_key(|reference| reference.place.span.start);
        let text = self.text(expr.place);
        let base = expr.place.span.start;
        let mut out = String::new();
        let mut at = 0usize;
        for reference in references {
            let start = reference.place.span.start.saturating_sub(base) as usize;
            let end = reference.place.span.end.saturating_sub(base) as usize;
            if reference.place.file != expr.place.file || start < at || end > text.len() {
                continue;
            }
            out.push_str(text.get(at..start).unwrap_or(""));
            out.push_str(&self.reference(reference, env, gathered));
            at = end;
        }
        out.push_str(text.get(at..).unwrap_or(""));
        flatten(&out)
    }

    /// One reference: noted as an input or a step; its value as text.
    fn reference(&self, expr: &Expr, env: Env<'_>, gathered: &mut Gathered) -> String {
        let plan = self.evaluator.plan;
        match &expr.node {
            ExprNode::Design(id, indices) => {
                let item = &plan.design[id.index()];
                let full = format!("design.{}", item.name);
                self.entries(&full, &item.indices, indices, env, gathered, &|slot| {
                    self.evaluator.design_entry(*id, slot)
                })
            }
            ExprNode::Reading(id, indices) => {
                let item = &plan.readings[id.index()];
                let written = self.path_text(expr);
                let name = if written.is_empty() {
                    item.name.to_string()
                } else {
                    written
                };
                self.entries(&name, &item.indices, indices, env, gathered, &|slot| {
                    self.evaluator.reading_entry(*id, slot)
                })
            }
            ExprNode::Condition(id, which, indices) => {
                self.conditions(*id, *which, indices, env, gathered)
            }
            ExprNode::Calc(id, indices) => self.calcs(*id, indices, env, gathered),
            ExprNode::Column(id, which, indices) => {
                // As the plan writes it, so that `response` of two stages can be told apart.
                let path = self.path_text(expr);
                self.column(path, *id, *which, indices, env, gathered)
            }
            _ => match self.evaluator.eval(expr, env) {
                Ok(value) => self.value(&value, None),
                Err(_) => "?".to_owned(),
            },
        }
    }

    /// The name by which an expression refers to something: `connections.ratio` of another stage.
    fn path_text(&self, expr: &Expr) -> String {
        let text = self.text(expr.place);
        text.split('[').next().unwrap_or(text).trim().to_owned()
    }

    fn entries(
        &self,
        name: &str,
        sets: &[SetId],
        indices: &[IndexExpr],
        env: Env<'_>,
        gathered: &mut Gathered,
        entry: &dyn Fn(usize) -> Option<&'a Entry>,
    ) -> String {
        let Ok(slots) = self.evaluator.slots_of(sets, indices, env) else {
            gathered.missing.push(name.to_owned());
            return "?".to_owned();
        };
        let many = slots.len() != 1;
        let mut texts = Vec::new();
        for slot in &slots {
            let name = format!(
                "{name}{}",
                index_text(&self.evaluator.record.domains, sets, *slot)
            );
            let found = entry(*slot).filter(|entry| {
                matches!(entry.value, Recorded::Value(_) | Recorded::Tolerance(..))
            });
            match found {
                Some(entry) => {
                    let value = self.written(entry);
                    texts.push(value.clone());
                    if gathered.places.insert(entry.place) {
                        gathered.inputs.push(Input {
                            name,
                            value,
                            place: Some(entry.place),
                            amended: self.amended(entry),
                        });
                    }
                }
                None => {
                    texts.push("?".to_owned());
                    if gathered.seen.insert(name.clone()) {
                        gathered.missing.push(name);
                    }
                }
            }
        }
        listed(texts, many)
    }

    fn conditions(
        &self,
        id: ReadingId,
        which: usize,
        indices: &[IndexExpr],
        env: Env<'_>,
        gathered: &mut Gathered,
    ) -> String {
        let reading = &self.evaluator.plan.readings[id.index()];
        let Ok(slots) = self.evaluator.slots_of(&reading.indices, indices, env) else {
            return "?".to_owned();
        };
        let kind = &reading.given[which];
        let mut texts = Vec::new();
        for slot in &slots {
            let index = index_text(&self.evaluator.record.domains, &reading.indices, *slot);
            let name = format!("{}.{}{index}", reading.name, kind.name());
            let found = self
                .evaluator
                .reading_entry(id, *slot)
                .and_then(|entry| self.evaluator.record.condition(entry, kind));
            match found {
                Some(condition) => {
                    let value = match &condition.value {
                        Value::Quantity(quantity) => format_readable(quantity, 6),
                        other => self.value(other, None),
                    };
                    texts.push(value.clone());
                    if gathered.seen.insert(name.clone()) {
                        gathered.inputs.push(Input {
                            name,
                            value,
                            place: Some(condition.place),
                            amended: Vec::new(),
                        });
                    }
                }
                None => {
                    texts.push("?".to_owned());
                    gathered.missing.push(name);
                }
            }
        }
        listed(texts, slots.len() != 1)
    }

    fn calcs(
        &self,
        id: CalcId,
        indices: &[IndexExpr],
        env: Env<'_>,
        gathered: &mut Gathered,
    ) -> String {
        let calc = &self.evaluator.plan.calcs[id.index()];
        let Ok(slots) = self.evaluator.slots_of(&calc.indices, indices, env) else {
            return "?".to_owned();
        };
        let mut texts = Vec::new();
        for slot in &slots {
            let index = index_text(&self.evaluator.record.domains, &calc.indices, *slot);
            let name = format!("{}{index}", calc.name);
            let outcome = self.evaluator.calc(id, *slot);
            let value = match &outcome {
                Ok(value) => {
                    let mut units = self.units_in(&calc.expr);
                    units.extend(gathered.units.iter().cloned());
                    self.value(value, unit_of(value, &units))
                }
                Err(_) => "?".to_owned(),
            };
            if gathered.seen.insert(name.clone()) && gathered.steps.len() < MOST_STEPS {
                let mut members = Vec::new();
                members_of(
                    &self.evaluator.record.domains,
                    &calc.indices,
                    *slot,
                    &mut members,
                );
                let inner = Env {
                    sets: &calc.indices,
                    members: &members,
                };
                let put_in = self.put_in(&calc.expr, inner, gathered);
                gathered
                    .steps
                    .push(format!("with {name} = {put_in} = {value}"));
            }
            texts.push(value);
        }
        listed(texts, slots.len() != 1)
    }

    fn column(
        &self,
        path: String,
        id: LogId,
        which: usize,
        indices: &[IndexExpr],
        env: Env<'_>,
        gathered: &mut Gathered,
    ) -> String {
        let log = &self.evaluator.plan.logs[id.index()];
        let mut name = match path.is_empty() {
            true => format!("{}.{}", log.name, log.columns[which].name),
            false => path,
        };
        // A column has no `*`, so its index means one slot or, where that is not known, none.
        let slot = self.evaluator.slots_of(&log.indices, indices, env);
        let slot = slot.ok().and_then(|slots| slots.first().copied());
        if let Some(slot) = slot {
            name += &index_text(&self.evaluator.record.domains, &log.indices, slot);
        }
        let found = slot
            .and_then(|slot| self.evaluator.log_data(id, slot))
            .and_then(|data| Some((data.place, data.columns.get(which)?.as_ref()?)));
        match found {
            Some((place, series)) => {
                if gathered.seen.insert(name.clone()) {
                    gathered.inputs.push(Input {
                        name: name.clone(),
                        value: format!("{} rows", series.values.len()),
                        place: Some(place),
                        amended: Vec::new(),
                    });
                }
                name
            }
            None => {
                if gathered.seen.insert(name.clone()) {
                    gathered.missing.push(name);
                }
                "?".to_owned()
            }
        }
    }

    /// A value as people read it, in `unit` where one is given.
    pub fn value(&self, value: &Value, unit: Option<&Unit>) -> String {
        match value {
            Value::Quantity(quantity) => self.quantity(quantity, unit),
            Value::Truth(true) => "yes".to_owned(),
            Value::Truth(false) => "no".to_owned(),
            Value::Name(name) => name.to_string(),
            Value::Text(text) => format!("\"{text}\""),
            Value::Moment(seconds) => self.moment(*seconds),
            Value::Names(names) => names.join(", "),
            Value::Interval(interval) => self.interval(interval, unit),
            Value::List(items) => {
                let texts = items.iter().map(|item| self.value(item, unit)).collect();
                listed(texts, true)
            }
            Value::Series(series) => format!("{} rows", series.values.len()),
        }
    }

    /// A time as the record's own zone has it.
    pub fn moment(&self, seconds: i64) -> String {
        match self.evaluator.record.header.zone {
            Some(_) => format_in_zone(seconds, &self.zone()),
            None => format_utc(seconds),
        }
    }

    /// The record's zone; UTC where it gives none that is known, which is reported where it is read.
    pub fn zone(&self) -> Zone {
        let zone = self.evaluator.record.header.zone.as_ref();
        zone.and_then(|(text, _)| Zone::parse(text).ok())
            .unwrap_or_else(Zone::utc)
    }

    /// A quantity as people read it.
    pub fn quantity(&self, quantity: &Quantity, unit: Option<&Unit>) -> String {
        match unit {
            Some(unit)
                if unit.dimension == quantity.dimension
                    && (unit.offset.is_some() == quantity.point) =>
            {
                format_in(quantity, unit, 6)
            }
            _ => format_readable(quantity, 6),
        }
    }

    /// An interval as people read it.
    pub fn interval(&self, interval: &crate::quantity::Interval, unit: Option<&Unit>) -> String {
        let (low, high) = (interval.low.as_ref(), interval.high.as_ref());
        match (low, high) {
            (Some(low), Some(high))
                if matches!(low.at.compare(&high.at), Ok(std::cmp::Ordering::Equal)) =>
            {
                self.quantity(&low.at, unit)
            }
            (Some(low), Some(high)) => match unit {
                Some(unit) => format!(
                    "{} .. {}",
                    format_number(low.at.in_unit(unit), 6),
                    self.quantity(&high.at, Some(unit))
                ),
                None => format!(
                    "{} .. {}",
                    self.quantity(&low.at, None),
                    self.quantity(&high.at, None)
                ),
            },
            (Some(low), None) => {
                format!(
                    "{} {}",
                    if low.open { ">" } else { "≥" },
                    self.quantity(&low.at, unit)
                )
            }
            (None, Some(high)) => {
                format!(
                    "{} {}",
                    if high.open { "<" } else { "≤" },
                    self.quantity(&high.at, unit)
                )
            }
            (None, None) => "anything".to_owned(),
        }
    }

    /// The unit that a reading was written in.
    pub fn unit_of(&self, entry: &Entry) -> Option<Unit> {
        if let Some(unit) = &entry.unit {
            return parse_unit(unit).ok();
        }
        let text = self.text(entry.place);
        let (_, unit) = text
            .trim()
            .split_once([' ', '\u{a0}', '\u{202f}', '\u{2009}'])?;
        parse_unit(unit.trim()).ok()
    }

    /// The first unit of this dimension that the plan writes in an expression: results are shown in it.
    pub fn unit_in(&self, expr: &Expr, like: &Quantity) -> Option<Unit> {
        let mut found = None;
        expr.walk(&mut |inner| {
            if found.is_some() {
                return;
            }
            if let ExprNode::Literal(Value::Quantity(quantity)) = &inner.node
                && quantity.dimension == like.dimension
                && quantity.point == like.point
            {
                let text = self.text(inner.place);
                let unit = text
                    .trim()
                    .split_once(' ')
                    .and_then(|(_, unit)| parse_unit(unit.trim()).ok());
                found = unit;
            }
        });
        found
    }

    /// Places of the readings and design values that an expression rests on, those of readings first.
    pub fn places(&self, reasoning: &Reasoning) -> Vec<(String, String, Place)> {
        reasoning
            .inputs
            .iter()
            .filter_map(|input| {
                input
                    .place
                    .map(|place| (input.name.clone(), input.value.clone(), place))
            })
            .collect()
    }
}

fn collect_references<'e>(expr: &'e Expr, references: &mut Vec<&'e Expr>) {
    match &expr.node {
        ExprNode::Design(..)
        | ExprNode::Reading(..)
        | ExprNode::Condition(..)
        | ExprNode::Calc(..)
        | ExprNode::Column(..)
        | ExprNode::Variable(_) => references.push(expr),
        _ => {
            let mut inner: Vec<&Expr> = Vec::new();
            direct(expr, &mut inner);
            for part in inner {
                collect_references(part, references);
            }
        }
    }
}

fn direct<'e>(expr: &'e Expr, parts: &mut Vec<&'e Expr>) {
    match &expr.node {
        ExprNode::Negative(inner) | ExprNode::Not(inner) | ExprNode::Recorded(inner) => {
            parts.push(inner)
        }
        ExprNode::Arithmetic(_, left, right)
        | ExprNode::Compare(_, left, right)
        | ExprNode::Logic(_, left, right)
        | ExprNode::In(left, right)
        | ExprNode::Range(left, right)
        | ExprNode::Around(left, right) => parts.extend([&**left, &**right]),
        ExprNode::If(a, b, c) | ExprNode::Toleranced(a, b, c) => parts.extend([&**a, &**b, &**c]),
        ExprNode::Call(_, arguments) => parts.extend(arguments.iter()),
        _ => {}
    }
}

fn listed(texts: Vec<String>, many: bool) -> String {
    if !many {
        return texts.into_iter().next().unwrap_or_default();
    }
    let shown = texts.iter().take(6).cloned().collect::<Vec<_>>().join(", ");
    if texts.len() > 6 {
        format!("[{shown}, … {} in all]", texts.len())
    } else {
        format!("[{shown}]")
    }
}

/// One line, single blanks, comments left out.
fn flatten(text: &str) -> String {
    let without_comments: Vec<&str> = text
        .lines()
        .map(|line| match line.find(" #") {
            Some(at) if line[..at].matches('"').count() % 2 == 0 => &line[..at],
            _ => line,
        })
        .collect();
    without_comments
        .join(" ")
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

/// The unit among these in which a value is best shown. A share is left alone: 3.2 is not 320 %.
fn unit_of<'u>(value: &Value, units: &'u [Unit]) -> Option<&'u Unit> {
    let quantity = match value {
        Value::Quantity(quantity) => quantity,
        Value::List(items) => match items.first() {
            Some(Value::Quantity(quantity)) => quantity,
            _ => return None,
        },
        _ => return None,
    };
    if quantity.dimension.is_none() || quantity.point {
        return None;
    }
    units
        .iter()
        .find(|unit| unit.dimension == quantity.dimension)
}
