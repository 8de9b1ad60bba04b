//! People and instruments: known, valid on the day, and fit for what was measured.

use super::Judge;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::kind::Kind;
use crate::plan::{ReadingId, StageId};
use crate::quantity::moment::format_day;
use crate::record::{Context, EMPTY, Recorded};
use crate::register::{Instrument, Register};
use crate::syntax::nearest;
use crate::text::Place;
use rustc_hash::FxHashSet;
use std::sync::Arc;

impl Judge<'_> {
    pub(super) fn people(&mut self) {
        self.named();
        for stage in 0..self.plan.stages.len() {
            self.stage_readings(StageId(stage as u32));
        }
    }

    /// Everyone and everything named anywhere in the record.
    fn named(&mut self) {
        let Some(register) = self.register else {
            return;
        };
        let record = self.record;
        let mut seen: FxHashSet<(Place, Option<i32>)> = FxHashSet::default();
        let acts = record.stages.iter().flatten().flat_map(|round| &round.acts);
        let acts = acts.map(|act| (act.person.as_ref(), act.when));
        let contexts = record
            .contexts
            .iter()
            .map(|context| (context.person.as_ref(), context.when));
        for (person, when) in contexts.chain(acts) {
            let Some((name, place)) = person else {
                continue;
            };
            // A name given once for a whole stage counts on each day on which something was read.
            let day = when.map(|(when, _)| when.day);
            if seen.insert((*place, day)) {
                self.person(register, name, *place, day);
            }
        }
        let mut judged: FxHashSet<(Arc<str>, Option<i32>)> = FxHashSet::default();
        for context in &record.contexts {
            let Some((name, place)) = &context.instrument else {
                continue;
            };
            let day = context.when.map(|(when, _)| when.day);
            if judged.insert((name.clone(), day)) {
                self.instrument(register, name, *place, context);
            }
        }
    }

    fn person(&mut self, register: &Register, name: &str, place: Place, day: Option<i32>) {
        let Some(person) = register.people.get(name) else {
            let mut finding = Finding::new(
                &rules::UNKNOWN_PERSON,
                place,
                format!(
                    "expected a person of register `{}`, found `{name}`",
                    register.name
                ),
            );
            finding = match nearest(name, register.people.keys().map(|known| &**known)) {
                Some(near) => finding.help(format!("did you mean `{near}`?")),
                None => finding.help("have the quality office enter the person in the register"),
            };
            self.findings.push(finding);
            return;
        };
        let (Some((from, to)), Some(day)) = (person.valid, day) else {
            return;
        };
        if day < from || day > to {
            let finding = Finding::new(
                &rules::PERSON_NOT_VALID,
                place,
                format!(
                    "expected {name} to be valid on {}, found {} .. {}",
                    format_day(day),
                    format_day(from),
                    format_day(to)
                ),
            )
            .related(person.place, "entered here")
            .help("look at the date; else a person who is valid on that day has to judge it");
            self.findings.push(finding);
        }
    }

    fn instrument(&mut self, register: &Register, name: &str, place: Place, context: &Context) {
        let Some(instrument) = register.instruments.get(name) else {
            let mut finding = Finding::new(
                &rules::UNKNOWN_INSTRUMENT,
                place,
                format!(
                    "expected an instrument of register `{}`, found `{name}`",
                    register.name
                ),
            );
            finding = match nearest(name, register.instruments.keys().map(|known| &**known)) {
                Some(near) => finding.help(format!("did you mean `{near}`?")),
                None => finding
                    .help("have the quality office enter the instrument with its calibration"),
            };
            self.findings.push(finding);
            return;
        };
        let Some((when, when_place)) = context.when else {
            return;
        };
        if instrument
            .calibrations
            .iter()
            .any(|known| known.from <= when.day && when.day <= known.due)
        {
            return;
        }
        let finding = Finding::new(
            &rules::INSTRUMENT_OUT_OF_CALIBRATION,
            place,
            format!(
                "expected {name} to be in calibration on {}, found {}",
                format_day(when.day),
                calibration_words(instrument, when.day)
            ),
        )
        .label("used here")
        .related(when_place, "on this day")
        .related(
            instrument.calibrations.last().map_or(instrument.place, |last| last.place),
            "its latest calibration",
        )
        .help("have it calibrated; if it was out of tolerance, every reading since its last good calibration has to be reviewed");
        self.findings.push(finding);
    }

    /// What is missing around the readings of a stage, and instruments that measure something else.
    fn stage_readings(&mut self, stage: StageId) {
        let Some(round) = self.round(stage) else {
            return;
        };
        let behind = self.past(stage).is_some();
        let mut seen: FxHashSet<(u32, ReadingId)> = FxHashSet::default();
        let mut without: [Vec<(String, Place)>; 3] = Default::default();
        for id in &self.plan.stages[stage.index()].readings {
            let Some(row) = round.readings.get(id) else {
                continue;
            };
            let reading = &self.plan.readings[id.index()];
            let measured = matches!(reading.kind, Kind::Quantity(_));
            let mut last = u32::MAX;
            for cell in row.iter().filter(|cell| **cell != EMPTY) {
                let entry = &self.record.entries[*cell as usize];
                if entry.context == last || !matches!(entry.value, Recorded::Value(_)) {
                    continue;
                }
                last = entry.context;
                if !seen.insert((entry.context, *id)) {
                    continue;
                }
                let context = &self.record.contexts[entry.context as usize];
                let name = reading.name.to_string();
                if measured && context.instrument.is_none() {
                    without[0].push((name.clone(), entry.place));
                }
                if context.person.is_none() {
                    without[1].push((name.clone(), entry.place));
                }
                if context.when.is_none() {
                    without[2].push((name, entry.place));
                }
                if measured {
                    self.measures(context, *id);
                }
            }
        }
        if !behind {
            return;
        }
        let words = [
            (
                &rules::MISSING_INSTRUMENT,
                "the instrument that it was read with",
                "with INSTRUMENT",
            ),
            (
                &rules::MISSING_PERSON,
                "the person who read it",
                "by PERSON",
            ),
            (
                &rules::MISSING_DATE,
                "the time at which it was read",
                "on 2026-03-02 10:15",
            ),
        ];
        for ((rule, what, how), items) in words.into_iter().zip(without) {
            let Some((_, place)) = items.first() else {
                continue;
            };
            let names: Vec<&str> = items
                .iter()
                .map(|(name, _)| name.as_str())
                .take(8)
                .collect();
            let finding = Finding::new(
                rule,
                *place,
                format!(
                    "expected {what} with each reading of a stage that work has passed, found none for {}",
                    names.join(", ")
                ),
            )
            .help(format!("write it once for the stage, the table or the reading: {how}"));
            self.findings.push(finding);
        }
    }

    fn measures(&mut self, context: &Context, id: ReadingId) {
        let Some(register) = self.register else {
            return;
        };
        let Some((name, place)) = &context.instrument else {
            return;
        };
        let Some(instrument) = register.instruments.get(name) else {
            return;
        };
        let reading = &self.plan.readings[id.index()];
        let kind = reading.kind.name();
        if instrument.measures.is_empty() || instrument.measures.iter().any(|own| **own == *kind) {
            return;
        }
        let finding = Finding::new(
            &rules::INSTRUMENT_DOES_NOT_MEASURE,
            *place,
            format!(
                "expected an instrument that measures {kind} for `{}`, found {name}, which measures {}",
                reading.name,
                instrument.measures.join(", ")
            ),
        )
        .related(instrument.place, format!("{name}: {}", instrument.title))
        .related(reading.place, "the reading in the plan")
        .help("write the instrument that was used, or have the register mended");
        let repeated = self.findings.iter().rev().take(20).any(|known| {
            known.rule.name == finding.rule.name
                && known.place == finding.place
                && known.message == finding.message
        });
        if !repeated {
            self.findings.push(finding);
        }
    }
}

fn calibration_words(instrument: &Instrument, day: i32) -> String {
    let before = instrument
        .calibrations
        .iter()
        .filter(|known| known.due < day)
        .map(|known| known.due)
        .max();
    let after = instrument
        .calibrations
        .iter()
        .filter(|known| known.from > day)
        .map(|known| known.from)
        .min();
    match (before, after) {
        (Some(due), Some(next)) => {
            format!(
                "it fell due on {} and was next calibrated on {}",
                format_day(due),
                format_day(next)
            )
        }
        (Some(due), None) => format!("it fell due on {}", format_day(due)),
        (None, Some(next)) => format!("its first calibration is of {}", format_day(next)),
        (None, None) => "no calibration in the register".to_owned(),
    }
}
