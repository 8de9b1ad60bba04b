//! One reading at a glance: what its limits allow, how far inside it is, and what is calculated from it alone.

use super::evaluate::{Env, Evaluator};
use super::limits::{Required, first_text};
use super::{Grounds, Judge, Stop};
use crate::finding::{Amended, Source};
use crate::plan::value::Value;
use crate::plan::*;
use crate::quantity::{Interval, Quantity, Unit, format_number, parse_unit};
use crate::record::{Entry, Record, Recorded, index_text, members_of, slots};
use crate::seal::Seals;
use crate::text::{FileId, SourceText};

/// One reading at a glance.
#[derive(Clone, Debug, Default)]
pub struct Glance {
    /// Its name with its index.
    pub name: String,
    /// Its value in the writer's own digits and unit; nothing where none is recorded.
    pub written: Option<String>,
    /// Its limits, in the order of the plan.
    pub limits: Vec<LimitGlance>,
    /// How far it is from the value that it should have, in percent of that: `+0.12 %`. Only for limits that
    /// name such a value.
    pub deviation: Option<String>,
    /// What is calculated from it and no other reading of its kind: name and value. Of the reading's own dimension, as
    /// its value at reference temperature.
    pub corrected: Vec<(String, String)>,
    /// The same of another dimension, as its deviation from the design.
    pub derived: Vec<(String, String)>,
    /// How it came to its value, the latest amendment first.
    pub amended: Vec<Amended>,
}

/// One limit at a glance.
#[derive(Clone, Debug)]
pub struct LimitGlance {
    /// As the plan writes it.
    pub written: String,
    /// What it comes to here; nothing while an input is not known.
    pub allowed: Option<String>,
    /// The same as a quantity's interval, where it is one.
    pub interval: Option<Interval>,
    /// How far inside (positive) or outside (negative) the value is.
    pub margin: Option<String>,
    /// Where it comes from.
    pub source: Option<Source>,
    /// What a failure usually means.
    pub because: Option<String>,
    /// The usual safety caution.
    pub caution: Option<String>,
    /// Inputs that are not known yet.
    pub missing: Vec<String>,
}

/// Looks at a record's readings; `look` is given to do so.
pub fn with_glances<R>(
    plan: &Plan,
    record: &Record,
    file: FileId,
    sources: &[SourceText],
    look: impl FnOnce(&Glances<'_>) -> R,
) -> R {
    let evaluator = Evaluator::new(plan, record);
    let seals = Seals::default();
    let judge = Judge::new(
        record,
        &evaluator,
        Grounds::of_plan(plan, &seals, file, sources),
    );
    look(&Glances { judge: &judge })
}

/// The readings of one record, to be looked at.
pub struct Glances<'a> {
    judge: &'a Judge<'a>,
}

impl Glances<'_> {
    /// One reading.
    pub fn reading(&self, id: ReadingId, slot: usize) -> Glance {
        let judge = self.judge;
        let reading = &judge.plan.readings[id.index()];
        let domains = &judge.record.domains;
        let name = format!(
            "{}{}",
            reading.name,
            index_text(domains, &reading.indices, slot)
        );
        let entry = judge.evaluator.reading_entry(id, slot);
        let entry = entry.filter(|entry| matches!(entry.value, Recorded::Value(_)));
        let mut members = Vec::new();
        members_of(domains, &reading.indices, slot, &mut members);
        let env = Env {
            sets: &reading.indices,
            members: &members,
        };
        let mut glance = Glance {
            name,
            written: entry.map(|entry| judge.explainer.written(entry)),
            amended: entry
                .map(|entry| judge.explainer.amended(entry))
                .unwrap_or_default(),
            ..Glance::default()
        };
        for limit in &reading.limits {
            let (limit, deviation) = self.limit(reading, limit, entry, env);
            glance.limits.push(limit);
            glance.deviation = glance.deviation.or(deviation);
        }
        if entry.is_some() {
            self.calculated(id, slot, entry, &mut glance);
        }
        glance
    }

    /// A calculated value, as text; nothing while an input is not known.
    pub fn calc(&self, id: CalcId, slot: usize) -> Option<String> {
        let value = self.judge.evaluator.calc(id, slot).ok()?;
        let calc = &self.judge.plan.calcs[id.index()];
        let unit = match &value {
            Value::Quantity(quantity) => self.judge.explainer.unit_in(&calc.expr, quantity),
            _ => None,
        };
        Some(self.judge.explainer.value(&value, unit.as_ref()))
    }

    /// Whether a reading is asked for of this unit.
    pub fn applies(&self, id: ReadingId, slot: usize) -> bool {
        let reading = &self.judge.plan.readings[id.index()];
        let stage = &self.judge.plan.stages[reading.stage.index()];
        let mut members = Vec::new();
        members_of(
            &self.judge.record.domains,
            &reading.indices,
            slot,
            &mut members,
        );
        let env = Env {
            sets: &reading.indices,
            members: &members,
        };
        self.judge.evaluator.when_holds(&stage.when, Env::NONE)
            && self.judge.evaluator.when_holds(&reading.when, env)
    }

    /// Whether a stage is asked for of this unit.
    pub fn stage_applies(&self, id: StageId) -> bool {
        let when = &self.judge.plan.stages[id.index()].when;
        self.judge.evaluator.when_holds(when, Env::NONE)
    }

    /// Whether a point is asked for of this unit.
    pub fn point_applies(&self, id: PointId) -> bool {
        let when = &self.judge.plan.points[id.index()].when;
        self.judge.evaluator.when_holds(when, Env::NONE)
    }

    /// The slots of a reading that are asked for and not recorded.
    pub fn open_slots(&self, id: ReadingId) -> Vec<usize> {
        let reading = &self.judge.plan.readings[id.index()];
        let all = slots(&self.judge.record.domains, &reading.indices);
        (0..all)
            .filter(|slot| {
                let entry = self.judge.evaluator.reading_entry(id, *slot);
                entry.is_none_or(|entry| matches!(entry.value, Recorded::Pending))
                    && self.applies(id, *slot)
            })
            .collect()
    }

    fn limit(
        &self,
        reading: &Reading,
        limit: &Limit,
        entry: Option<&Entry>,
        env: Env<'_>,
    ) -> (LimitGlance, Option<String>) {
        let judge = self.judge;
        let required = judge.required(limit, env);
        let value = match entry.map(|entry| &entry.value) {
            Some(Recorded::Value(Value::Quantity(quantity))) => Some(*quantity),
            _ => None,
        };
        let unit = entry.and_then(|entry| judge.explainer.unit_of(entry));
        let mut margin = None;
        let mut deviation = None;
        let allowed = match &required {
            Ok(Required::Inside(interval)) => {
                if let Some(value) = &value {
                    let inside = interval.margin(value).ok().flatten();
                    margin = inside.map(|inside| {
                        let unit = unit.as_ref().filter(|unit| unit.offset.is_none());
                        judge.explainer.quantity(&inside, unit)
                    });
                    deviation =
                        nominal(judge, limit, env).and_then(|wanted| percent(value, &wanted));
                }
                let like = value.or_else(|| interval.low.as_ref().map(|edge| edge.at));
                let own = unit.clone().or_else(|| {
                    like.and_then(|like| judge.explainer.unit_in(limit.form.expr(), &like))
                });
                let own = own.or_else(|| example_unit(&reading.kind));
                Some(judge.explainer.interval(interval, own.as_ref()))
            }
            Ok(Required::Compared(comparison, wanted)) => {
                let text = judge.explainer.value(wanted, None);
                Some(match comparison {
                    Comparison::Equal => text,
                    other => format!("{} {text}", other.sign()),
                })
            }
            Err(_) => None,
        };
        let missing = match required {
            Err(Stop::Unknown) => judge.explainer.reasoning(limit.form.expr(), env).missing,
            _ => Vec::new(),
        };
        let rationale = &reading.rationale;
        let interval = match &required {
            Ok(Required::Inside(interval)) => Some(interval.clone()),
            _ => None,
        };
        let glance = LimitGlance {
            interval,
            written: judge.explainer.flat(limit.place),
            allowed,
            margin,
            source: limit
                .rationale
                .source
                .clone()
                .or_else(|| rationale.source.clone()),
            because: first_text(&limit.rationale.because, &rationale.because),
            caution: first_text(&limit.rationale.caution, &rationale.caution),
            missing,
        };
        (glance, deviation)
    }

    /// Calculated values that run over the same indices and rest on this reading at the same index.
    fn calculated(&self, id: ReadingId, slot: usize, entry: Option<&Entry>, glance: &mut Glance) {
        let plan = self.judge.plan;
        let reading = &plan.readings[id.index()];
        let written = entry.and_then(|entry| self.judge.explainer.unit_of(entry));
        for (index, calc) in plan.calcs.iter().enumerate() {
            if calc.stage != Some(reading.stage)
                || calc.indices != reading.indices
                || !rests_on(calc, id)
            {
                continue;
            }
            let Ok(Value::Quantity(value)) = self.judge.evaluator.calc(CalcId(index as u32), slot)
            else {
                continue;
            };
            let same = kind_dimension(&reading.kind)
                .is_some_and(|dimension| dimension == value.dimension && !dimension.is_none());
            let unit = match (same, &written) {
                (true, Some(unit)) if unit.offset.is_none() => Some(unit.clone()),
                _ => self.judge.explainer.unit_in(&calc.expr, &value),
            };
            let share =
                value.dimension.is_none() && unit.is_none() && value.value.to_f64().abs() < 1.0;
            let unit = if share { parse_unit("%").ok() } else { unit };
            let text = self.judge.explainer.quantity(&value, unit.as_ref());
            let list = if same {
                &mut glance.corrected
            } else {
                &mut glance.derived
            };
            list.push((calc.name.to_string(), text));
        }
    }
}

/// The value that a limit says the reading should have, where it names one.
fn nominal(judge: &Judge<'_>, limit: &Limit, env: Env<'_>) -> Option<Quantity> {
    let expr = match &limit.form {
        LimitForm::Exactly(expr) => expr,
        LimitForm::Within(expr) => match &expr.node {
            ExprNode::Around(value, _) | ExprNode::Toleranced(value, ..) => value,
            ExprNode::Design(..) => expr,
            _ => return None,
        },
        LimitForm::Compare(..) => return None,
    };
    match judge.evaluator.eval(expr, env).ok()? {
        Value::Quantity(wanted) => Some(wanted),
        _ => None,
    }
}

/// `+0.12 %`; nothing for a point on a scale, and where the wanted value is zero.
fn percent(value: &Quantity, wanted: &Quantity) -> Option<String> {
    if value.point || wanted.value.is_zero() {
        return None;
    }
    let share = value.sub(wanted).ok()?.div(wanted).ok()?;
    let hundred = share.in_unit(&parse_unit("%").ok()?);
    let rounded = (hundred.to_f64() * 1000.0).round() / 1000.0;
    if rounded == 0.0 {
        return Some("0 %".to_owned());
    }
    let sign = if rounded > 0.0 { "+" } else { "" };
    let number = format_number(crate::quantity::Number::Approx(rounded), 4);
    Some(format!("{sign}{number} %"))
}

fn kind_dimension(kind: &kind::Kind) -> Option<crate::quantity::Dimension> {
    match kind {
        kind::Kind::Quantity(kind) => Some(kind.dimension),
        _ => None,
    }
}

fn example_unit(kind: &kind::Kind) -> Option<Unit> {
    match kind {
        kind::Kind::Quantity(kind) => parse_unit(kind.example).ok(),
        _ => None,
    }
}

/// Whether a calculated value rests on a reading at its own index.
fn rests_on(calc: &Calc, id: ReadingId) -> bool {
    let mut found = false;
    calc.expr.walk(&mut |part| {
        if let ExprNode::Reading(own, indices) = &part.node
            && *own == id
        {
            let own_index = indices.iter().enumerate().all(|(at, index)| {
                matches!(index, IndexExpr::At(expr) if matches!(expr.node, ExprNode::Variable(which) if which == at))
            });
            found |= own_index;
        }
    });
    found
}
