//! Whether an instrument was fit for what was read with it: within its range, and fine enough for the limit.
//! Each is told once for a reading and an instrument, at the value where it is worst.

use super::Judge;
use super::uncertainty::Known;
use crate::finding::{Finding, Reasoning, Severity, rules};
use crate::plan::accuracy::Stated;
use crate::plan::kind::{Kind, QuantityKind};
use crate::plan::{Limit, ReadingId, USUAL_UNCERTAINTY_RATIO};
use crate::quantity::{Interval, Number, Quantity, TOLERANCE, format_number};
use crate::record::{Entry, index_text};
use crate::text::Place;
use rustc_hash::FxHashMap;
use std::sync::Arc;

/// An instrument as a reading uses it.
#[derive(Clone, Copy)]
struct Used<'a> {
    name: &'a Arc<str>,
    kind: &'static QuantityKind,
    range: Option<&'a Stated<Interval>>,
}

/// What was seen of the instruments so far.
#[derive(Default)]
pub(crate) struct Fitness<'a> {
    /// Cells of a table follow each other with the same instrument: the last is kept.
    last: Option<(ReadingId, u32, Option<Used<'a>>)>,
    known: FxHashMap<(ReadingId, Arc<str>, Fault), usize>,
    unfit: Vec<Unfit<'a>>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Fault {
    Range,
    Coarse,
}

/// An instrument that was not fit for a reading, where it was worst.
struct Unfit<'a> {
    reading: ReadingId,
    used: Used<'a>,
    entry: &'a Entry,
    slot: usize,
    count: usize,
    /// The smaller the worse: the ratio, or minus how far outside the range.
    rank: f64,
    fault: Worst,
}

enum Worst {
    Range(Interval, Place),
    Coarse(Box<Coarse>),
}

struct Coarse {
    ratio: f64,
    wanted: f64,
    half_tolerance: Quantity,
    known: Known,
    tolerance: Interval,
    limit: Place,
    severity: Severity,
}

impl<'a> Judge<'a> {
    /// The instrument that a value was read with, where the register has it and it measures the kind.
    fn used(&mut self, id: ReadingId, entry: &Entry) -> Option<Used<'a>> {
        if let Some((reading, context, used)) = self.fitness.last
            && (reading, context) == (id, entry.context)
        {
            return used;
        }
        let plan = self.plan;
        let used = match &plan.readings[id.index()].kind {
            Kind::Quantity(kind) => {
                let context = &self.record.contexts[entry.context as usize];
                let found = self.uncertainties().instrument(context);
                found
                    .filter(|(_, instrument)| instrument.measures_kind(kind))
                    .map(|(name, instrument)| Used {
                        name,
                        kind,
                        range: instrument
                            .range(kind)
                            .filter(|range| instrument.range_is_meant_for(range, kind)),
                    })
            }
            _ => None,
        };
        self.fitness.last = Some((id, entry.context, used));
        used
    }

    /// Notes a value outside the range of its instrument.
    pub(super) fn within_range(
        &mut self,
        id: ReadingId,
        slot: usize,
        entry: &'a Entry,
        value: &Quantity,
    ) {
        let Some(used) = self.used(id, entry) else {
            return;
        };
        let Some(range) = used.range else { return };
        if range.value.contains(value) != Ok(false) {
            return;
        }
        let margin = range.value.margin(value).ok().flatten();
        self.note_unfit(Unfit {
            reading: id,
            used,
            entry,
            slot,
            count: 1,
            rank: margin.map_or(0.0, |margin| margin.value.to_f64()),
            fault: Worst::Range(range.value.clone(), range.place),
        });
    }

    /// Notes a tolerance into which the uncertainty of the instrument does not go often enough. A limit on one
    /// side has no width that an uncertainty could be held against: there only `decide guarded` says something.
    pub(super) fn fine_enough(
        &mut self,
        id: ReadingId,
        slot: usize,
        entry: &'a Entry,
        limit: &Limit,
        value: &Quantity,
        tolerance: &Interval,
    ) {
        let (Some(low), Some(high)) = (&tolerance.low, &tolerance.high) else {
            return;
        };
        let plan = self.plan;
        let reading = &plan.readings[id.index()];
        let stated = reading.uncertainty_ratio.or(plan.uncertainty_ratio);
        let wanted = match stated {
            Some(wanted) => wanted,
            // A guarded limit allows for any uncertainty, so there a ratio is only held where the plan asks for it.
            None if self.guarded(reading) => return,
            None => USUAL_UNCERTAINTY_RATIO,
        };
        let Some(used) = self.used(id, entry) else {
            return;
        };
        let Ok(width) = high.at.sub(&low.at) else {
            return;
        };
        if width.value.to_f64() <= 0.0 {
            return;
        }
        let context = &self.record.contexts[entry.context as usize];
        let Some(known) = self
            .uncertainties()
            .of_instrument_alone(used.kind, value, context)
        else {
            return;
        };
        let half_tolerance = Quantity::si(width.value.to_f64() / 2.0, width.dimension);
        let expanded = known.expanded.value.to_f64();
        let ratio = half_tolerance.value.to_f64() / expanded;
        // A ratio that is met to the last digit is met.
        if expanded <= 0.0 || ratio >= wanted * (1.0 - TOLERANCE) {
            return;
        }
        let weight = limit.rationale.severity.or(reading.rationale.severity);
        self.note_unfit(Unfit {
            reading: id,
            used,
            entry,
            slot,
            count: 1,
            rank: ratio,
            fault: Worst::Coarse(Box::new(Coarse {
                ratio,
                wanted,
                half_tolerance,
                known,
                tolerance: tolerance.clone(),
                limit: limit.place,
                // It weighs no more than the limit that it endangers.
                severity: weight
                    .unwrap_or(Severity::Error)
                    .max(rules::INSTRUMENT_TOO_COARSE.severity),
            })),
        });
    }

    fn note_unfit(&mut self, unfit: Unfit<'a>) {
        self.noted += 1;
        let fault = match unfit.fault {
            Worst::Range(..) => Fault::Range,
            Worst::Coarse(_) => Fault::Coarse,
        };
        let fitness = &mut self.fitness;
        let key = (unfit.reading, unfit.used.name.clone(), fault);
        match fitness.known.get(&key) {
            Some(index) => {
                let known = &mut fitness.unfit[*index];
                let count = known.count + 1;
                if unfit.rank < known.rank {
                    *known = unfit;
                }
                known.count = count;
            }
            None => {
                fitness.known.insert(key, fitness.unfit.len());
                fitness.unfit.push(unfit);
            }
        }
    }

    /// Tells of instruments that were not fit.
    pub(super) fn unfit_instruments(&mut self) {
        for unfit in std::mem::take(&mut self.fitness.unfit) {
            let finding = match &unfit.fault {
                Worst::Range(range, place) => self.outside_range(&unfit, range, *place),
                Worst::Coarse(coarse) => self.too_coarse(&unfit, coarse),
            };
            self.findings.push(finding);
        }
    }

    fn outside_range(&self, unfit: &Unfit<'a>, range: &Interval, place: Place) -> Finding {
        let name = self.instance(unfit);
        let written = self.explainer.written(unfit.entry);
        let range = self
            .explainer
            .interval(range, self.explainer.unit_of(unfit.entry).as_ref());
        Finding::new(
            &rules::OUTSIDE_INSTRUMENT_RANGE,
            unfit.entry.place,
            format!(
                "expected {name} within the range of {}, {range}, found {written}{}",
                unfit.used.name,
                others(unfit.count)
            ),
        )
        .label(format!("{name} = {written}"))
        .related(place, format!("the range of {}", unfit.used.name))
        .help("write the instrument that was used, or measure again with one whose range it is")
    }

    fn too_coarse(&self, unfit: &Unfit<'a>, coarse: &Coarse) -> Finding {
        let explainer = &self.explainer;
        let unit = explainer.unit_of(unfit.entry);
        let unit = unit.as_ref();
        let name = self.instance(unfit);
        let expanded = explainer.difference(&coarse.known.expanded, unit);
        let half = explainer.difference(&coarse.half_tolerance, unit);
        let number = |value: f64| format_number(Number::Approx(value), 3);
        let mut reasoning = Reasoning {
            formula: Some("half the width of the limit / expanded uncertainty".to_owned()),
            steps: vec![format!("= {half} / {expanded}")],
            result: Some(number(coarse.ratio)),
            limit: Some(format!("≥ {}", number(coarse.wanted))),
            ..Reasoning::default()
        };
        reasoning.uncertainty = Some(explainer.uncertainty(&coarse.known, unit));
        let mut finding = Finding::new(
            &rules::INSTRUMENT_TOO_COARSE,
            unfit.entry.place,
            format!(
                "expected the uncertainty of {} to go {} times into the tolerance of {name}, found {} times: {expanded} in ±{half}{}",
                unfit.used.name,
                number(coarse.wanted),
                number(coarse.ratio),
                others(unfit.count)
            ),
        )
        .severity(coarse.severity)
        .label(format!("read with {}", unfit.used.name))
        .related(
            coarse.limit,
            format!("the limit: {}", explainer.interval(&coarse.tolerance, unit)),
        );
        for part in &coarse.known.parts {
            finding = finding.related(part.place, format!("the accuracy of {}", part.name));
        }
        finding
            .help("measure with a finer instrument, or have the plan say `decide guarded`, which allows for the uncertainty, or another `uncertainty-ratio`")
            .reasoning(reasoning)
    }

    fn instance(&self, unfit: &Unfit<'a>) -> String {
        let reading = &self.plan.readings[unfit.reading.index()];
        let index = index_text(&self.record.domains, &reading.indices, unfit.slot);
        format!("{}{index}", reading.name)
    }
}

/// `; the worst of 3`, where it is one of several.
fn others(count: usize) -> String {
    match count {
        0 | 1 => String::new(),
        count => format!("; the worst of {count} readings"),
    }
}
