//! Readings: what is recorded, what is not, and whether each lies within its limits.

use super::day_only::Hanging;
use super::evaluate::{Env, Evaluator, Stop};
use super::guarded::Guard;
use super::kept::{Said, keep};
use super::{Judge, StageWork};
use crate::finding::rules;
use crate::finding::{Finding, Reasoning, Severity};
use crate::plan::value::Value;
use crate::plan::*;
use crate::quantity::{Interval, Quantity};
use crate::record::{Entry, Recorded, index_text, members_of, slots};

/// What one limit says of one reading.
enum Judged {
    Holds,
    Fails(Box<Failure>),
    Unknown,
    Fault(String),
}

/// What a limit comes to: an interval for a quantity, else a value to compare with.
pub(super) enum Required {
    Inside(Interval),
    Compared(Comparison, Value),
}

/// A limit that is not kept, or not proven to be.
pub(super) struct Failure {
    pub limit: String,
    pub margin: Option<Quantity>,
    pub expr: Expr,
    /// How the limit stands with the uncertainty, where it is guarded.
    pub guard: Option<Guard>,
    /// The limit is kept as it stands, and the uncertainty leaves it open.
    pub doubtful: bool,
}

/// What a limit comes to for one instance, as an evaluator sees it.
pub(super) fn required(
    evaluator: &Evaluator<'_>,
    limit: &Limit,
    env: Env<'_>,
) -> Result<Required, Stop> {
    let (comparison, expr) = match &limit.form {
        LimitForm::Exactly(expr) => (Comparison::Equal, expr),
        LimitForm::Compare(comparison, expr) => (*comparison, expr),
        LimitForm::Within(expr) => {
            if let Some(interval) = evaluator.interval(expr, env)? {
                return Ok(Required::Inside(interval));
            }
            (Comparison::Equal, expr)
        }
    };
    Ok(match evaluator.eval(expr, env)? {
        Value::Quantity(wanted) => Required::Inside(match comparison {
            Comparison::Less => Interval::below(wanted),
            Comparison::AtMost => Interval::at_most(wanted),
            Comparison::Greater => Interval::above(wanted),
            Comparison::AtLeast => Interval::at_least(wanted),
            Comparison::Equal | Comparison::NotEqual => Interval::exactly(wanted),
        }),
        // Only numbers and times have an order; what else stands behind a sign stays undecided.
        wanted if comparison != Comparison::Equal && !matches!(wanted, Value::Moment(_)) => {
            return Err(Stop::Unknown);
        }
        wanted => Required::Compared(comparison, wanted),
    })
}

impl<'a> Judge<'a> {
    /// Design values that the plan needs and the record does not give.
    pub(super) fn design(&mut self) {
        let plan = self.plan;
        let started = self.record.stages.iter().any(|rounds| !rounds.is_empty());
        let place = self.record.design_place.unwrap_or(crate::text::Place {
            file: self.file,
            span: self.record.header.span,
        });
        // Before work begins one finding says what is still to come; then each value that is not there counts.
        let mut to_come = Vec::new();
        for (index, item) in plan
            .design
            .iter()
            .enumerate()
            .filter(|(_, item)| item.required)
        {
            let id = DesignId(index as u32);
            let count = slots(&self.record.domains, &item.indices);
            let missing: Vec<String> = (0..count)
                .filter(|slot| {
                    !matches!(
                        self.evaluator
                            .design_entry(id, *slot)
                            .map(|entry| &entry.value),
                        Some(
                            Recorded::Value(_)
                                | Recorded::Tolerance(..)
                                | Recorded::NotApplicable
                                | Recorded::Unreadable
                        )
                    )
                })
                .map(|slot| {
                    format!(
                        "{}{}",
                        item.name,
                        index_text(&self.record.domains, &item.indices, slot)
                    )
                })
                .collect();
            if missing.is_empty() {
                continue;
            }
            if !started {
                to_come.extend(missing);
                continue;
            }
            let finding = Finding::new(
                &rules::DESIGN_VALUE_MISSING,
                place,
                format!(
                    "expected the design to give {}, found nothing for it",
                    shown(&missing)
                ),
            )
            .label("the design in force")
            .related(item.place, format!("needed here, as {}", item.kind.name()))
            .help("limits and checks that rest on it stay undecided until it is there");
            self.findings.push(finding);
        }
        if !to_come.is_empty() {
            let finding = Finding::new(
                &rules::DESIGN_VALUE_MISSING,
                place,
                format!("still to be given by the design: {}", shown(&to_come)),
            )
            .severity(Severity::Pending)
            .label("the design in force")
            .help("no stage begins before the design is complete");
            self.findings.push(finding);
        }
    }

    /// Counts and judges the readings of a stage.
    pub(super) fn readings(&mut self, stage: StageId) {
        let plan = self.plan;
        let mut members = Vec::new();
        for id in &plan.stages[stage.index()].readings {
            let reading = &plan.readings[id.index()];
            let sets = &reading.indices;
            let count = slots(&self.record.domains, sets);
            let full_name = plan.full_name(Some(stage), &reading.name);
            let mut unrecorded = Vec::new();
            let mut known = self.keeper.reading(*id, count);
            for slot in 0..count {
                let said = known.get(slot).copied().unwrap_or_default();
                if said != Said::Unknown {
                    self.count(stage, said);
                    continue;
                }
                let told = self.told();
                members_of(&self.record.domains, sets, slot, &mut members);
                let env = Env {
                    sets,
                    members: &members,
                };
                let entry = self.evaluator.reading_entry(*id, slot);
                // What is recorded although it does not apply is judged all the same.
                let severity = reading.rationale.severity;
                if entry.is_none() && !self.applies(&reading.when, env, &reading.name, severity) {
                    if self.told() == told {
                        keep(&mut known, slot, Said::DoesNotApply);
                    }
                    continue;
                }
                let Some(entry) = entry.filter(|entry| !matches!(entry.value, Recorded::Pending))
                else {
                    unrecorded.push(index_text(&self.record.domains, sets, slot));
                    continue;
                };
                let said = self.reading(*id, slot, entry, env, &full_name);
                self.count(stage, said);
                if self.told() == told {
                    keep(&mut known, slot, said);
                }
            }
            self.keeper.keep_reading(*id, known);
            if !unrecorded.is_empty() {
                self.stages[stage.index()].unrecorded.push((
                    reading.name.clone(),
                    unrecorded,
                    reading.place,
                ));
            }
        }
        for id in &plan.stages[stage.index()].logs {
            let log = &plan.logs[id.index()];
            let sets = &log.indices;
            let mut unrecorded = Vec::new();
            for slot in 0..slots(&self.record.domains, sets) {
                members_of(&self.record.domains, sets, slot, &mut members);
                let env = Env {
                    sets,
                    members: &members,
                };
                if !self.applies(&log.when, env, &log.name, None) {
                    continue;
                }
                if self.evaluator.log_data(*id, slot).is_some() {
                    self.stages[stage.index()].counts.recorded += 1;
                } else {
                    unrecorded.push(index_text(&self.record.domains, sets, slot));
                }
            }
            if !unrecorded.is_empty() {
                let entry = (log.name.clone(), unrecorded, log.place);
                self.stages[stage.index()].unrecorded.push(entry);
            }
        }
    }

    /// Counts a reading that was judged.
    fn count(&mut self, stage: StageId, said: Said) {
        let counts = &mut self.stages[stage.index()].counts;
        match said {
            Said::Holds => {
                counts.recorded += 1;
                counts.holding += 1;
            }
            Said::Recorded => counts.recorded += 1,
            Said::Unknown | Said::DoesNotApply => {}
        }
    }

    /// Judges a reading that is recorded. What it says is counted by the caller; what it tells, here.
    fn reading(
        &mut self,
        id: ReadingId,
        slot: usize,
        entry: &'a Entry,
        env: Env<'_>,
        full_name: &str,
    ) -> Said {
        let plan = self.plan;
        let reading = &plan.readings[id.index()];
        if !reading.given.is_empty() && matches!(entry.value, Recorded::Value(_)) {
            self.given(id, slot, entry);
        }
        let Recorded::Value(value) = &entry.value else {
            return Said::Recorded;
        };
        if let Value::Quantity(quantity) = value {
            self.within_range(id, slot, entry, quantity);
        }
        if reading.limits.is_empty() {
            return Said::Recorded;
        }
        let mut worst: Option<(&Limit, Box<Failure>)> = None;
        let mut unknown = false;
        for limit in &reading.limits {
            if let Some(event) = self.limit_hangs_on_a_time((id, entry), limit, value, env) {
                unknown = true;
                self.time_of_day_missing(&Hanging {
                    question: format!("whether `{}` is within its limit", reading.name),
                    place: limit.place,
                    severity: limit.rationale.severity.or(reading.rationale.severity),
                    event,
                });
                continue;
            }
            match self.limit(id, slot, entry, limit, value, env) {
                Judged::Holds => {}
                Judged::Unknown => {
                    unknown = true;
                    self.undecided(Some(reading.stage), &reading.name, limit.form.expr(), env);
                }
                Judged::Fault(fault) => {
                    unknown = true;
                    let reasoning = Reasoning::default();
                    self.cannot_be_calculated(
                        limit.place,
                        full_name,
                        &fault,
                        entry.place,
                        reasoning,
                    );
                }
                Judged::Fails(failure) => {
                    let weight = |limit: &Limit, failure: &Failure| {
                        let severity = limit.rationale.severity.or(reading.rationale.severity);
                        (severity.unwrap_or(Severity::Error), failure.doubtful)
                    };
                    // Of several limits that fail the heaviest is told; no severity of its own is an error.
                    let heavier = worst
                        .as_ref()
                        .is_none_or(|(known, told)| weight(limit, &failure) < weight(known, told));
                    if heavier {
                        worst = Some((limit, failure));
                    }
                }
            }
        }
        let stage = reading.stage.index();
        match worst {
            Some((limit, failure)) => {
                self.noted += 1;
                self.out_of_limit(id, slot, entry, value, limit, *failure, env, full_name);
            }
            None if unknown => self.stages[stage].counts.unknown += 1,
            None => return Said::Holds,
        }
        Said::Recorded
    }

    /// What a limit comes to for one instance.
    pub(super) fn required(&self, limit: &Limit, env: Env<'_>) -> Result<Required, Stop> {
        required(self.evaluator, limit, env)
    }

    fn limit(
        &mut self,
        id: ReadingId,
        slot: usize,
        entry: &'a Entry,
        limit: &Limit,
        value: &Value,
        env: Env<'_>,
    ) -> Judged {
        let expr = limit.form.expr();
        match self.required(limit, env) {
            Err(Stop::Fault(fault)) => Judged::Fault(fault),
            Err(Stop::Unknown) => Judged::Unknown,
            Ok(Required::Compared(comparison, wanted)) => {
                match operate::compare(comparison, value, &wanted) {
                    Ok(Value::Truth(true)) => Judged::Holds,
                    Ok(_) => {
                        let text = self.explainer.value(&wanted, None);
                        let limit = match comparison {
                            Comparison::Equal => text,
                            other => format!("{} {text}", other.sign()),
                        };
                        Judged::Fails(Box::new(Failure {
                            limit,
                            margin: None,
                            expr: expr.clone(),
                            guard: None,
                            doubtful: false,
                        }))
                    }
                    Err(fault) => Judged::Fault(fault),
                }
            }
            Ok(Required::Inside(interval)) => {
                let Value::Quantity(quantity) = value else {
                    return Judged::Unknown;
                };
                let inside = match interval.contains(quantity) {
                    Ok(inside) => inside,
                    Err(fault) => return Judged::Fault(fault.to_string()),
                };
                self.fine_enough(id, slot, entry, limit, quantity, &interval);
                let guard = self.guard(id, entry, limit, quantity, &interval);
                let proven = guard.as_ref().is_none_or(|guard| guard.proves(quantity));
                if inside && proven {
                    return Judged::Holds;
                }
                let unit = self.explainer.unit_in(expr, quantity);
                Judged::Fails(Box::new(Failure {
                    limit: self.explainer.interval(&interval, unit.as_ref()),
                    margin: interval.margin(quantity).ok().flatten(),
                    expr: expr.clone(),
                    guard,
                    doubtful: inside,
                }))
            }
        }
    }

    /// A limit as people read it, in `unit` where one is given; nothing where it is not known yet.
    pub(super) fn limit_shown(
        &self,
        limit: &Limit,
        env: Env<'_>,
        unit: Option<&crate::quantity::Unit>,
    ) -> Option<String> {
        match self.required(limit, env).ok()? {
            Required::Inside(interval) => Some(self.explainer.interval(&interval, unit)),
            Required::Compared(..) => None,
        }
    }

    /// A reading without the condition that it must be recorded with.
    fn given(&mut self, id: ReadingId, slot: usize, entry: &Entry) {
        let reading = &self.plan.readings[id.index()];
        for kind in &reading.given {
            if self.record.condition(entry, kind).is_some() {
                continue;
            }
            self.noted += 1;
            // One finding for a whole table: its first cell stands for the rest.
            let known = self.findings.iter_mut().rev().take(3).find(|finding| {
                finding.rule.name == rules::MISSING_CONDITION.name
                    && finding
                        .related
                        .first()
                        .is_some_and(|related| related.place == reading.place)
            });
            if let Some(known) = known {
                if let Some(reasoning) = &mut known.reasoning {
                    let index = index_text(&self.record.domains, &reading.indices, slot);
                    if reasoning.missing.len() < 12 {
                        reasoning.missing.push(format!("{}{index}", reading.name));
                    }
                }
                continue;
            }
            let name = format!(
                "{}{}",
                reading.name,
                index_text(&self.record.domains, &reading.indices, slot)
            );
            let example = match kind {
                kind::Kind::Quantity(kind) => format!("at … {}", kind.example),
                _ => "at …".to_owned(),
            };
            let finding = Finding::new(
                &rules::MISSING_CONDITION,
                entry.place,
                format!(
                    "expected the {} at which {name} was read, found none",
                    kind.name()
                ),
            )
            .related(
                reading.place,
                format!("asked for here: given {}", kind.name()),
            )
            .help(format!("write it behind the value: {example}"))
            .reasoning(Reasoning {
                because: reading.rationale.because.as_ref().map(ToString::to_string),
                ..Reasoning::default()
            });
            self.findings.push(finding);
        }
    }

    /// A judgement whose inputs are there but have no result.
    pub(super) fn cannot_be_calculated(
        &mut self,
        plan_place: crate::text::Place,
        name: &str,
        fault: &str,
        place: crate::text::Place,
        reasoning: Reasoning,
    ) {
        self.noted += 1;
        let repeated = self.findings.iter().rev().take(50).any(|finding| {
            finding.rule.name == rules::CANNOT_BE_CALCULATED.name
                && finding
                    .related
                    .first()
                    .is_some_and(|related| related.place == plan_place)
        });
        if repeated {
            return;
        }
        let mut finding = Finding::new(
            &rules::CANNOT_BE_CALCULATED,
            place,
            format!("expected `{name}` to have a result, found {fault}"),
        )
        .related(plan_place, "calculated here");
        for (name, value, input) in self.explainer.places(&reasoning).into_iter().take(6) {
            if input != place {
                finding = finding.related(input, format!("{name} = {value}"));
            }
        }
        let finding = finding.reasoning(reasoning)
        .help("look at the readings and design values that go in; one of them may be zero or out of the formula's domain");
        self.findings.push(finding);
    }
}

/// Notes a failing item; those that only warn do not stop a release.
pub(super) fn failing(stage: &mut StageWork, severity: Severity, name: &str) {
    stage.counts.failing += 1;
    if severity == Severity::Error {
        stage.failing.push(name.to_owned());
    }
}

pub(super) fn first_text(
    own: &Option<std::sync::Arc<str>>,
    inherited: &Option<std::sync::Arc<str>>,
) -> Option<String> {
    own.as_ref().or(inherited.as_ref()).map(ToString::to_string)
}

/// The texts of the limit or requirement itself, else those of what it belongs to.
pub(super) fn first_list(
    own: &[std::sync::Arc<str>],
    inherited: &[std::sync::Arc<str>],
) -> Vec<String> {
    let list = if own.is_empty() { inherited } else { own };
    list.iter().map(ToString::to_string).collect()
}

/// A few names, and how many more.
pub(super) fn shown(names: &[String]) -> String {
    let first = names.iter().take(6).cloned().collect::<Vec<_>>().join(", ");
    match names.len() {
        0..=6 => first,
        count => format!("{first} and {} more", count - 6),
    }
}
