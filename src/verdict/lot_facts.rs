//! What the other units of a lot need to know of one unit: its type tests, whether it has left, and the
//! values that are compared.

use super::Judge;
use super::limits::shown;
use crate::plan::value::Value;
use crate::plan::*;
use crate::quantity::Unit;
use crate::record::{Entry, index_text, slots};
use crate::text::Place;

/// One unit as its lot sees it.
#[derive(Debug, Default)]
pub struct LotFacts {
    /// What is open of the type tests, stage by stage; empty for a unit to which none apply.
    pub type_tests_open: Vec<String>,
    /// Where the last hold point that applies to the unit is released.
    pub left: Option<Place>,
    /// The values that the plan compares.
    pub values: Vec<LotValue>,
}

/// One value that is compared.
#[derive(Debug)]
pub struct LotValue {
    /// Index into [`Plan::compares`].
    pub compare: usize,
    /// Its index as written: `[HV, U]`, or nothing.
    pub index: String,
    /// Its slot.
    pub slot: usize,
    /// In SI base units.
    pub value: f64,
    /// What one step of its last written digit is, in SI base units; 0 for what is calculated.
    pub step: f64,
}

impl Judge<'_> {
    /// Gathers what the lot needs; nothing for a unit that belongs to none.
    pub(super) fn lot_facts(&self) -> Option<LotFacts> {
        self.record.header.lot.as_ref()?;
        Some(LotFacts {
            type_tests_open: self.type_tests_open(),
            left: self.last_release(),
            values: self.compared_values(),
        })
    }

    fn type_tests_open(&self) -> Vec<String> {
        let tests = &self.plan.type_tests;
        if !self.evaluator.first_of_lot() || !tests.any() {
            return Vec::new();
        }
        let mut open = Vec::new();
        for (index, stage) in self.plan.stages.iter().enumerate() {
            let work = &self.stages[index];
            if !work.applies {
                continue;
            }
            let whole = tests.stages[index];
            if whole && self.record.stages[index].is_empty() {
                open.push(format!("stage `{}` is not begun", stage.name));
                continue;
            }
            let belongs = |name: &str| {
                whole
                    || match stage.names.get(name) {
                        Some(StageName::Reading(id)) => tests.readings[id.index()],
                        Some(StageName::Log(id)) => tests.logs[id.index()],
                        Some(StageName::Check(id)) => tests.checks[id.index()],
                        _ => false,
                    }
            };
            let mut parts = Vec::new();
            let unrecorded: Vec<String> = work
                .unrecorded
                .iter()
                .filter(|(name, ..)| belongs(name))
                .map(|(name, ..)| format!("`{name}`"))
                .collect();
            if !unrecorded.is_empty() {
                parts.push(format!("{} not recorded", shown(&unrecorded)));
            }
            let failing: Vec<String> = work
                .failing
                .iter()
                .filter(|name| belongs(name.split('[').next().unwrap_or(name)))
                .cloned()
                .collect();
            if !failing.is_empty() {
                parts.push(format!("{} failing", shown(&failing)));
            }
            let round = self.record.stages[index].last();
            let points: Vec<String> = stage
                .points
                .iter()
                .filter(|id| {
                    let point = &self.plan.points[id.index()];
                    (whole && point.kind == PointKind::Hold || tests.points[id.index()])
                        && self.evaluator.when_holds(&point.when, super::Env::NONE)
                        && !round
                            .is_some_and(|round| round.acts.iter().any(|act| act.point == **id))
                })
                .map(|id| self.plan.points[id.index()].name.to_string())
                .collect();
            if !points.is_empty() {
                parts.push(format!("{} open", shown(&points)));
            }
            if !parts.is_empty() {
                open.push(format!("stage `{}`: {}", stage.name, parts.join(", ")));
            }
        }
        open
    }

    /// The release of the last hold point of the plan that applies to this unit.
    fn last_release(&self) -> Option<Place> {
        let last = self
            .plan
            .points
            .iter()
            .enumerate()
            .rev()
            .find(|(_, point)| {
                point.kind == PointKind::Hold
                    && self.stages[point.stage.index()].applies
                    && self.evaluator.when_holds(&point.when, super::Env::NONE)
            });
        let (index, point) = last?;
        let id = PointId(index as u32);
        let round = self.round(point.stage)?;
        round
            .acts
            .iter()
            .find(|act| act.point == id)
            .map(|act| act.place)
    }

    fn compared_values(&self) -> Vec<LotValue> {
        let mut values = Vec::new();
        for (number, compare) in self.plan.compares.iter().enumerate() {
            let sets = compare.value.indices(self.plan);
            for slot in 0..slots(&self.record.domains, sets) {
                let (outcome, entry) = match compare.value {
                    Compared::Reading(id) => (
                        self.evaluator.reading_value(id, slot),
                        self.evaluator.reading_entry(id, slot),
                    ),
                    Compared::Calc(id) => (self.evaluator.calc(id, slot), None),
                };
                let Ok(Value::Quantity(quantity)) = outcome else {
                    continue;
                };
                let value = quantity.value.to_f64();
                if !value.is_finite() {
                    continue;
                }
                values.push(LotValue {
                    compare: number,
                    index: index_text(&self.record.domains, sets, slot),
                    slot,
                    value,
                    step: entry.map_or(0.0, |entry| self.step(entry)),
                });
            }
        }
        values
    }

    fn step(&self, entry: &Entry) -> f64 {
        let factor = |unit: Unit| unit.factor.to_f64();
        let unit = self.explainer.unit_of(entry).map_or(1.0, factor);
        last_digit(&self.explainer.flat(entry.place)) * unit
    }
}

/// One step of the last digit of a written number: 0.1 for `412.6 mohm`, 10 for `1.23e3`.
fn last_digit(text: &str) -> f64 {
    let number = text.split_whitespace().next().unwrap_or("");
    let (digits, exponent) = match number.split_once(['e', 'E']) {
        Some((digits, exponent)) => (digits, exponent.parse::<i32>().unwrap_or(0)),
        None => (number, 0),
    };
    let decimals = digits
        .split_once(['.', ','])
        .map_or(0, |(_, decimals)| decimals.len());
    let decimals = i32::try_from(decimals).unwrap_or(0);
    10_f64.powi(exponent.saturating_sub(decimals))
}

#[cfg(test)]
mod tests {
    use super::last_digit;

    #[test]
    fn the_step_of_the_last_written_digit() {
        for (text, step) in [
            ("412.6 mohm", 0.1),
            ("412 mohm", 1.0),
            ("1.23e3", 10.0),
            ("1.23e-3 A", 1e-5),
            ("0,35 %", 0.01),
            ("-8.0 °C", 0.1),
            ("", 1.0),
        ] {
            let found = last_digit(text);
            assert!((found / step - 1.0).abs() < 1e-12, "{text}: {found}");
        }
    }
}
