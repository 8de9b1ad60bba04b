//! People and instruments: known, valid on the day, and fit for what was measured.

use super::Judge;
use super::limits::shown;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::kind::Kind;
use crate::plan::{ReadingId, StageId};
use crate::quantity::moment::format_day;
use crate::record::{Context, EMPTY, Recorded, index_text};
use crate::register::{Instrument, Register, Retired};
use crate::syntax::nearest;
use crate::text::Place;
use rustc_hash::FxHashSet;
use std::sync::Arc;

impl Judge<'_> {
    pub(super) fn people(&mut self) {
        self.named();
        for stage in 0..self.plan.stages.len() {
            self.stage_readings(StageId(stage as u32));
            self.independent(StageId(stage as u32));
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
        let Some((found, entered)) = out_of_service(day, person.valid, person.retired.as_ref())
        else {
            return;
        };
        let finding = Finding::new(
            &rules::PERSON_NOT_VALID,
            place,
            format!(
                "expected {name} to be valid on {}, found {found}",
                format_day(day.unwrap_or_default())
            ),
        )
        .related(entered.unwrap_or(person.place), "entered here")
        .help("look at the date; else a person who is valid on that day has to judge it");
        self.findings.push(finding);
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
        if let Some((found, entered)) = out_of_service(
            Some(when.day),
            instrument.valid,
            instrument.retired.as_ref(),
        ) {
            let finding = Finding::new(
                &rules::INSTRUMENT_NOT_IN_SERVICE,
                place,
                format!(
                    "expected {name} to be in service on {}, found {found}",
                    format_day(when.day)
                ),
            )
            .label("used here")
            .related(when_place, "on this day")
            .related(entered.unwrap_or(instrument.place), "entered here")
            .help(
                "measure again with an instrument in service; if it was, have the register mended",
            );
            self.findings.push(finding);
        }
        let covering: Vec<_> = instrument
            .calibrations
            .iter()
            .filter(|known| known.covers(when.day))
            .collect();
        if let Some(first) = covering.first() {
            if covering.iter().all(|known| known.certificate.is_none()) {
                let finding = Finding::new(
                    &rules::CALIBRATION_WITHOUT_CERTIFICATE,
                    first.place,
                    format!("expected the certificate behind the calibration of {name}, which readings rest on, found none"),
                )
                .help("write it at its end: certificate \"C-11\"");
                self.findings.push(finding);
            }
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

    /// Readings that have to be made independently of each other, by one person.
    fn independent(&mut self, stage: StageId) {
        let Some(round) = self.round(stage) else {
            return;
        };
        let person_of = |cell: u32| {
            let entry = self.record.entries.get(cell as usize)?;
            let read = matches!(entry.value, Recorded::Value(_));
            let person = self.record.contexts[entry.context as usize].person.as_ref();
            person.filter(|_| read).map(|(name, _)| (name, entry.place))
        };
        let mut found = Vec::new();
        for id in &self.plan.stages[stage.index()].readings {
            let reading = &self.plan.readings[id.index()];
            for other in &reading.independent_of {
                let (Some(row), Some(other_row)) =
                    (round.readings.get(id), round.readings.get(other))
                else {
                    continue;
                };
                let same: Vec<_> = row
                    .iter()
                    .zip(other_row)
                    .enumerate()
                    .filter_map(|(slot, (own, first))| {
                        let (name, place) = person_of(*own)?;
                        let (first, first_place) = person_of(*first)?;
                        (name == first).then_some((slot, name, place, first_place))
                    })
                    .collect();
                let Some((_, name, place, first_place)) = same.first() else {
                    continue;
                };
                let names: Vec<String> = same
                    .iter()
                    .map(|(slot, ..)| {
                        let index = index_text(&self.record.domains, &reading.indices, *slot);
                        format!("{}{index}", reading.name)
                    })
                    .collect();
                let other = &self.plan.readings[other.index()].name;
                found.push(
                    Finding::new(
                        &rules::READING_NOT_INDEPENDENT,
                        *place,
                        format!(
                            "expected {} to be made by somebody other than whoever made `{other}`, found {name} for both",
                            shown(&names)
                        ),
                    )
                    .related(*first_place, format!("`{other}`, also by {name}"))
                    .related(reading.place, format!("the plan says: independent of {other}"))
                    .help("have another person make it without knowing the first, and record it under their own name"),
                );
            }
        }
        self.findings.append(&mut found);
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

/// Why somebody or something did not count on a day, and where the register says so when that is not the
/// entry itself.
fn out_of_service(
    day: Option<i32>,
    valid: Option<(i32, i32)>,
    retired: Option<&Retired>,
) -> Option<(String, Option<Place>)> {
    let day = day?;
    if let Some(retired) = retired.filter(|retired| day > retired.last) {
        return Some((retired.words(), Some(retired.place)));
    }
    let (from, to) = valid.filter(|(from, to)| day < *from || day > *to)?;
    Some((format!("{} .. {}", format_day(from), format_day(to)), None))
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
