//! Events of which only the day is written, where a check hangs on their time of day.
//!
//! A date without a time may be any minute of its day. A check that comes out the same at both ends of the day is
//! certain; one that does not is not judged, and says which time it lacks.

use super::Judge;
use super::evaluate::{Env, Evaluator, Outcome};
use super::explain::Explainer;
use super::probe::Source;
use crate::finding::{Finding, Severity, rules};
use crate::plan::kind::Kind;
use crate::plan::value::Value;
use crate::plan::{Check, ReadingId, Require};
use crate::quantity::moment::{When, parse_when};
use crate::record::{Entry, Record, Recorded};

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

/// Whether any event of a record is written as a day alone: nearly none is, and then nothing has to be looked into.
pub(super) fn any(record: &Record, explainer: &Explainer<'_>) -> bool {
    let mut entries = record.entries.iter();
    entries.any(|entry| day_of(explainer, entry).is_some())
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

impl<'a> Judge<'a> {
    /// The event on whose time of day a requirement hangs, where only its day is written.
    pub(super) fn hangs_on_a_time(
        &self,
        require: &Require,
        env: Env<'_>,
        as_it_stands: &Outcome,
    ) -> Option<(ReadingId, &'a Entry)> {
        if !self.days_alone {
            return None;
        }
        let tracing = Evaluator::tracing(self.evaluator);
        // What it comes to is known; what went in is what counts.
        let _ = tracing.eval(&require.expr, env);
        tracing.sources().into_iter().find_map(|source| {
            let Source::Reading(id, slot) = source else {
                return None;
            };
            if self.plan.readings[id.index()].kind != Kind::Moment {
                return None;
            }
            let entry = self.evaluator.reading_entry(id, slot)?;
            let latest = Value::Moment(day_of(&self.explainer, entry)?.latest);
            let later = Evaluator::replacing(self.evaluator, source, latest);
            let differs = !same(&later.eval(&require.expr, env), as_it_stands);
            differs.then_some((id, entry))
        })
    }

    /// Tells of an event whose time of day is needed; once, whatever hangs on it.
    pub(super) fn time_of_day_missing(
        &mut self,
        check: &Check,
        require: &Require,
        (id, entry): (ReadingId, &Entry),
    ) {
        let known = self.findings.iter().any(|finding| {
            finding.rule.name == rules::TIME_OF_DAY_MISSING.name && finding.place == entry.place
        });
        if known {
            return;
        }
        let name = &self.plan.readings[id.index()].name;
        let written = self.explainer.flat(entry.place);
        let weight = require.rationale.severity.or(check.rationale.severity);
        let finding = Finding::new(
            &rules::TIME_OF_DAY_MISSING,
            entry.place,
            format!(
                "expected the time of day of {name}, found {written} alone: whether `{}` holds hangs on it",
                check.name
            ),
        )
        // It weighs no more than the check that it leaves open.
        .severity(weight.unwrap_or(Severity::Error))
        .related(
            require.place,
            format!("it goes in here: {}", self.explainer.flat(require.place)),
        )
        .help(format!(
            "write the time as it was noted behind the day, as in {written} 10:15; a time that nobody noted is answered by a nonconformity"
        ));
        self.findings.push(finding);
    }
}
