//! People and instruments: known, valid on the day, and fit for what was measured.

use super::Judge;
use super::kept::keep;
use super::limits::shown;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::kind::Kind;
use crate::plan::{ReadingId, StageId};
use crate::quantity::moment::format_day;
use crate::record::{Context, EMPTY, Entry, Recorded, index_text};
use crate::register::{Instrument, Register, Retired};
use crate::syntax::nearest;
use crate::text::Place;
use rustc_hash::FxHashMap;
use std::sync::Arc;

/// The names of readings without an instrument, a person or a time, each with its place.
type Without = [Vec<(String, Place)>; 3];

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
        let mut in_order = self.keeper.contexts(record.contexts.len());
        // What was found of each person and each instrument on each day: told once, nothing (true) or something.
        let mut people: FxHashMap<(Place, Option<i32>), bool> = FxHashMap::default();
        let mut instruments: FxHashMap<(Arc<str>, Option<i32>), bool> = FxHashMap::default();
        for (number, context) in record.contexts.iter().enumerate() {
            if in_order.get(number) == Some(&true) {
                continue;
            }
            let day = context.when.map(|(when, _)| when.day);
            let mut silent = self
                .today
                .is_none_or(|today| day.is_none_or(|day| day <= today));
            if let Some((name, place)) = &context.person {
                silent &= self.person_on(register, name, *place, day, &mut people);
            }
            if let Some((name, place)) = &context.instrument {
                silent &= match instruments.get(&(name.clone(), day)) {
                    Some(silent) => *silent,
                    None => {
                        let silent =
                            self.silent(|judge| judge.instrument(register, name, *place, context));
                        instruments.insert((name.clone(), day), silent);
                        silent
                    }
                };
            }
            keep(&mut in_order, number, silent);
        }
        self.keeper.keep_contexts(in_order);
        let acts = record.stages.iter().flatten().flat_map(|round| &round.acts);
        for act in acts {
            if let Some((name, place)) = &act.person {
                let day = act.when.map(|(when, _)| when.day);
                self.person_on(register, name, *place, day, &mut people);
            }
        }
    }

    /// Looks at a person on a day, once for each place: a name given once for a whole stage counts on each day on which
    /// something was read. True where there is nothing to tell.
    fn person_on(
        &mut self,
        register: &Register,
        name: &str,
        place: Place,
        day: Option<i32>,
        known: &mut FxHashMap<(Place, Option<i32>), bool>,
    ) -> bool {
        if let Some(silent) = known.get(&(place, day)) {
            return *silent;
        }
        let silent = self.silent(|judge| judge.person(register, name, place, day));
        known.insert((place, day), silent);
        silent
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
        let mut without = Without::default();
        for id in &self.plan.stages[stage.index()].readings {
            let Some(row) = round.readings.get(id) else {
                continue;
            };
            let mut accounted = self.keeper.accounted(*id, row.len());
            // Of each context whether there was nothing to tell. Cells of a table follow each other with the same.
            let mut seen: FxHashMap<u32, bool> = FxHashMap::default();
            let mut last = (u32::MAX, true);
            for (slot, cell) in row.iter().enumerate().filter(|(_, cell)| **cell != EMPTY) {
                if accounted.get(slot) == Some(&true) {
                    continue;
                }
                let entry = &self.record.entries[*cell as usize];
                if !matches!(entry.value, Recorded::Value(_)) {
                    continue;
                }
                if entry.context != last.0 {
                    let known = seen.get(&entry.context).copied();
                    last = (
                        entry.context,
                        known.unwrap_or_else(|| self.accounted(*id, entry, &mut without)),
                    );
                    seen.insert(last.0, last.1);
                }
                keep(&mut accounted, slot, last.1);
            }
            self.keeper.keep_accounted(*id, accounted);
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

    /// Notes what is missing around a reading. True where nothing is, and its instrument measures what was read.
    fn accounted(&mut self, id: ReadingId, entry: &Entry, without: &mut Without) -> bool {
        let reading = &self.plan.readings[id.index()];
        let measured = matches!(reading.kind, Kind::Quantity(_));
        let context = &self.record.contexts[entry.context as usize];
        let missing = [
            measured && context.instrument.is_none(),
            context.person.is_none(),
            context.when.is_none(),
        ];
        for (without, _) in without
            .iter_mut()
            .zip(missing)
            .filter(|(_, missing)| *missing)
        {
            without.push((reading.name.to_string(), entry.place));
        }
        !missing.contains(&true) && (!measured || self.measures(context, id))
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

    /// Whether an instrument measures what was read with it, as far as the register knows it.
    fn measures(&mut self, context: &Context, id: ReadingId) -> bool {
        let Some(register) = self.register else {
            return true;
        };
        let Some((name, place)) = &context.instrument else {
            return true;
        };
        let Some(instrument) = register.instruments.get(name) else {
            return true;
        };
        let reading = &self.plan.readings[id.index()];
        let kind = reading.kind.name();
        if instrument.measures.is_empty() || instrument.measures.iter().any(|own| **own == *kind) {
            return true;
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
        false
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
