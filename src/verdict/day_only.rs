//! Events of which only the day is written, where something hangs on their time of day.
//!
//! A date without a time may be any minute of its day. What comes out the same at both ends of the day is certain; what
//! does not is not judged, and says which time it lacks: a check, a limit, or a `when` that decides whether something
//! applies.

use super::Judge;
use super::evaluate::{Env, Evaluator, Outcome};
use super::explain::Explainer;
use super::limits::{Required, required};
use super::probe::Source;
use crate::finding::{Finding, Severity, rules};
use crate::plan::kind::Kind;
use crate::plan::operate;
use crate::plan::value::Value;
use crate::plan::{Expr, Limit, ReadingId};
use crate::quantity::moment::{When, parse_when};
use crate::record::{Entry, Record, Recorded};
use crate::text::Place;
use std::ops::Range;

/// Longer than this a written time is a day and not a minute, also on the day on which the clock changes.
const HALF_A_DAY: i64 = 12 * 3600;

/// What an event may mean where only its day is written.
fn day_of(explainer: &Explainer<'_>, entry: &Entry) -> Option<When> {
    if !matches!(entry.value, Recorded::Value(Value::Moment(_))) {
        return None;
    }
    // The value knows its first instant only.
    let when = parse_when(&explainer.flat(entry.place), &explainer.zone())
        .ok()?
        .when;
    (when.latest - when.earliest > HALF_A_DAY).then_some(when)
}

/// Whether any event among some entries of a record is written as a day alone: nearly none is, and then nothing has to be
/// looked into.
pub(super) fn any(record: &Record, among: Range<u32>, explainer: &Explainer<'_>) -> bool {
    let entries = &record.entries[among.start as usize..among.end as usize];
    entries
        .iter()
        .any(|entry| day_of(explainer, entry).is_some())
}

/// Whether two outcomes of a requirement say the same.
fn same(one: &Outcome, other: &Outcome) -> bool {
    fn alike(one: &Value, other: &Value) -> bool {
        match (one, other) {
            (Value::Truth(one), Value::Truth(other)) => one == other,
            (Value::List(one), Value::List(other)) => {
                one.len() == other.len() && one.iter().zip(other.iter()).all(|(a, b)| alike(a, b))
            }
            _ => false,
        }
    }
    match (one, other) {
        (Ok(one), Ok(other)) => alike(one, other),
        (Err(_), Err(_)) => true,
        _ => false,
    }
}

/// What hangs on a time of day.
pub(super) struct Hanging<'p> {
    /// What nobody can say without it: "whether `x` holds".
    pub question: String,
    /// Where the plan asks.
    pub place: Place,
    /// What it weighs there; an error where nothing is said.
    pub severity: Option<Severity>,
    /// The event.
    pub event: (ReadingId, &'p Entry),
}

impl<'a> Judge<'a> {
    /// The event on whose time of day something hangs that evaluators come to, where only its day is written.
    /// `as_it_stands` is what it comes to with every day at its first instant.
    fn event_behind<T>(
        &self,
        evaluate: impl Fn(&Evaluator<'a>) -> T,
        same: impl Fn(&T, &T) -> bool,
        as_it_stands: &T,
    ) -> Option<(ReadingId, &'a Entry)> {
        if !self.days_alone {
            return None;
        }
        let tracing = Evaluator::tracing_decisions(self.evaluator);
        // What it comes to is known; what went in is what counts.
        let _ = evaluate(&tracing);
        tracing.sources().into_iter().find_map(|source| {
            let Source::Reading(id, slot) = source else {
                return None;
            };
            if self.plan.readings[id.index()].kind != Kind::Moment {
                return None;
            }
            let entry = self.evaluator.reading_entry(id, slot)?;
            let latest = Value::Moment(day_of(&self.explainer, entry)?.latest);
            let later = Evaluator::deciding_with(self.evaluator, source, latest);
            (!same(&evaluate(&later), as_it_stands)).then_some((id, entry))
        })
    }

    /// The event on whose time of day an expression hangs that is true or false, such as a requirement.
    pub(super) fn hangs_on_a_time(
        &self,
        expr: &Expr,
        env: Env<'_>,
        as_it_stands: &Outcome,
    ) -> Option<(ReadingId, &'a Entry)> {
        self.event_behind(|evaluator| evaluator.eval(expr, env), same, as_it_stands)
    }

    /// The event on whose time of day it hangs whether a value keeps a limit: one that goes into the limit, or the
    /// value itself.
    pub(super) fn limit_hangs_on_a_time(
        &self,
        (id, entry): (ReadingId, &'a Entry),
        limit: &Limit,
        value: &Value,
        env: Env<'_>,
    ) -> Option<(ReadingId, &'a Entry)> {
        if !self.days_alone {
            return None;
        }
        let kept = |evaluator: &Evaluator<'a>, value: &Value| {
            let required = required(evaluator, limit, env).ok()?;
            match (required, value) {
                (Required::Compared(comparison, wanted), value) => {
                    match operate::compare(comparison, value, &wanted) {
                        Ok(Value::Truth(truth)) => Some(truth),
                        _ => None,
                    }
                }
                (Required::Inside(interval), Value::Quantity(quantity)) => {
                    interval.contains(quantity).ok()
                }
                (Required::Inside(_), _) => None,
            }
        };
        let as_it_stands = kept(self.evaluator, value);
        let own = day_of(&self.explainer, entry)
            .filter(|when| kept(self.evaluator, &Value::Moment(when.latest)) != as_it_stands);
        if own.is_some() {
            return Some((id, entry));
        }
        let equal = |one: &Option<bool>, other: &Option<bool>| one == other;
        self.event_behind(|evaluator| kept(evaluator, value), equal, &as_it_stands)
    }

    /// Whether something applies, as `Evaluator::when_holds` says; where that hangs on a time of day that is not
    /// written, it is asked for.
    pub(super) fn applies(
        &mut self,
        when: &Option<Expr>,
        env: Env<'_>,
        name: &str,
        severity: Option<Severity>,
    ) -> bool {
        if let Some(expr) = when {
            self.when_hangs(expr, env, name, severity);
        }
        self.evaluator.when_holds(when, env)
    }

    /// Whether a `when` hangs on a time of day that is not written; then it is asked for.
    pub(super) fn when_hangs(
        &mut self,
        when: &Expr,
        env: Env<'_>,
        name: &str,
        severity: Option<Severity>,
    ) -> bool {
        if !self.days_alone {
            return false;
        }
        let outcome = self.evaluator.eval(when, env);
        let Some(event) = self.hangs_on_a_time(when, env, &outcome) else {
            return false;
        };
        self.time_of_day_missing(&Hanging {
            question: format!("whether `{name}` applies"),
            place: when.place,
            severity,
            event,
        });
        true
    }

    /// Tells of an event whose time of day is needed; once, whatever hangs on it.
    pub(super) fn time_of_day_missing(&mut self, hanging: &Hanging<'_>) {
        self.noted += 1;
        let (id, entry) = hanging.event;
        let known = self.findings.iter().any(|finding| {
            finding.rule.name == rules::TIME_OF_DAY_MISSING.name && finding.place == entry.place
        });
        if known {
            return;
        }
        let name = &self.plan.readings[id.index()].name;
        let written = self.explainer.flat(entry.place);
        let finding = Finding::new(
            &rules::TIME_OF_DAY_MISSING,
            entry.place,
            format!(
                "expected the time of day of {name}, found {written} alone: {} hangs on it",
                hanging.question
            ),
        )
        // It weighs no more than what it leaves open.
        .severity(hanging.severity.unwrap_or(Severity::Error))
        .related(
            hanging.place,
            format!("it goes in here: {}", self.explainer.flat(hanging.place)),
        )
        .help(format!(
            "write the time as it was noted behind the day, as in {written} 10:15; a time that nobody noted is answered by a nonconformity"
        ));
        self.findings.push(finding);
    }
}
