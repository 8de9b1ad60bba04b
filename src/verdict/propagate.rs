//! How uncertain a calculated value is: the uncertainties of what goes in, carried through it.
//!
//! Each value that goes in is shifted by its standard uncertainty to both sides, and half of what the result
//! changes by is its contribution; contributions add as squares, what goes in being taken as independent. Source:
//! JCGM 100:2008, 5.1.2 (equation 10) and the note 2 to 5.1.3, from memory.

use super::Judge;
use super::evaluate::{Env, Evaluator, Stop};
use super::probe::Source;
use super::uncertainty::{Known, Lacking};
use crate::finding::{Contribution, Uncertainty};
use crate::plan::kind::Kind;
use crate::plan::value::{Series, Value};
use crate::plan::{Comparison, Expr, ExprNode, LogId};
use crate::quantity::{
    COVERAGE, Number, Quantity, QuantityFault, Unit, default_unit, format_number,
};
use crate::record::{Recorded, index_text};
use std::sync::Arc;

/// Most expressions, elements of lists and rows of logs visited to carry uncertainties through the checks of one
/// unit. A check in which that much is used up is not proven.
pub(crate) const MAX_PROPAGATION: u64 = 5_000_000;

/// Most contributions shown in one finding; the smaller ones are counted.
const MOST_SHOWN: usize = 12;

/// A comparison with the uncertainty of each of its elements.
pub(super) struct Compared {
    /// How far each element is on the good side, and its expanded uncertainty.
    pub elements: Vec<(Quantity, Quantity)>,
    /// What goes in, and what it contributes to each element's standard uncertainty.
    pub inputs: Vec<Input>,
}

/// One value that goes in.
pub(super) struct Input {
    source: Source,
    known: Known,
    /// To the standard uncertainty of each element, in SI base units.
    contributions: Vec<f64>,
}

/// How far each element of a comparison is on the good side; `None` where it compares no quantities.
pub(super) fn margins(
    evaluator: &Evaluator<'_>,
    leaf: &Expr,
    wanted: bool,
    env: Env<'_>,
) -> Result<Option<Vec<Quantity>>, Stop> {
    let fault = |fault: QuantityFault| Stop::Fault(fault.to_string());
    let found: Option<Vec<Quantity>> = match &leaf.node {
        ExprNode::Compare(comparison, left, right) => {
            let upward = match comparison {
                Comparison::Less | Comparison::AtMost => true,
                Comparison::Greater | Comparison::AtLeast => false,
                Comparison::Equal | Comparison::NotEqual => return Ok(None),
            };
            let (left, right) = (evaluator.eval(left, env)?, evaluator.eval(right, env)?);
            let pairs = pairs(&left, &right);
            let far = |(left, right): (&Value, &Value)| match (left, right) {
                (Value::Quantity(left), Value::Quantity(right)) => Some(match upward {
                    true => right.sub(left),
                    false => left.sub(right),
                }),
                _ => None,
            };
            let far: Option<Vec<_>> = pairs.into_iter().map(far).collect();
            far.map(|far| far.into_iter().collect::<Result<_, _>>())
                .transpose()
                .map_err(fault)?
        }
        ExprNode::In(left, right) => {
            let Some(interval) = evaluator.interval(right, env)? else {
                return Ok(None);
            };
            let left = evaluator.eval(left, env)?;
            let items = match &left {
                Value::List(items) => &items[..],
                one => std::slice::from_ref(one),
            };
            let far = |item: &Value| match item {
                Value::Quantity(quantity) => Some(interval.margin(quantity)),
                _ => None,
            };
            let far: Option<Vec<_>> = items.iter().map(far).collect();
            let far = far
                .map(|far| far.into_iter().collect::<Result<Option<Vec<_>>, _>>())
                .transpose()
                .map_err(fault)?;
            far.flatten()
        }
        _ => None,
    };
    Ok(found.map(|mut far| {
        if !wanted {
            // A difference has an opposite.
            far.iter_mut().for_each(|far| far.value = far.value.neg());
        }
        far
    }))
}

/// Left and right of a comparison, element by element.
fn pairs<'v>(left: &'v Value, right: &'v Value) -> Vec<(&'v Value, &'v Value)> {
    match (left, right) {
        (Value::List(left), Value::List(right)) => left.iter().zip(right.iter()).collect(),
        (Value::List(left), right) => left.iter().map(|left| (left, right)).collect(),
        (left, Value::List(right)) => right.iter().map(|right| (left, right)).collect(),
        one => vec![one],
    }
}

/// What the margin changes by when a value is shifted to both sides. Where it bends there, as at a largest
/// value or an absolute one, the larger change counts: the mean of the two would hide it.
fn change(below: Option<f64>, at: f64, above: Option<f64>) -> Option<f64> {
    let up = above.map(|above| above - at);
    let down = below.map(|below| at - below);
    match (up, down) {
        (Some(up), Some(down)) => {
            let (small, large) = if up.abs() < down.abs() {
                (up, down)
            } else {
                (down, up)
            };
            let bends = small * large <= 0.0 || large.abs() > 2.0 * small.abs();
            Some(if bends { large } else { (up + down) / 2.0 })
        }
        (one, other) => one.or(other),
    }
    .filter(|change| change.is_finite())
}

impl<'a> Judge<'a> {
    /// Carries the uncertainties of what goes in through a comparison. `None` where it compares no quantities or
    /// nothing that goes in was measured.
    pub(super) fn propagate(
        &mut self,
        leaf: &Expr,
        wanted: bool,
        env: Env<'_>,
    ) -> Result<Option<Result<Compared, Lacking>>, Stop> {
        let too_much = || Lacking {
            what: "a check that is small enough to carry uncertainties through".to_owned(),
            place: None,
        };
        if self.propagated > MAX_PROPAGATION {
            return Ok(Some(Err(too_much())));
        }
        let tracing = Evaluator::tracing(self.evaluator);
        let Some(at) = margins(&tracing, leaf, wanted, env)? else {
            return Ok(None);
        };
        self.propagated = self.propagated.saturating_add(tracing.work());
        let mut squares = vec![0.0; at.len()];
        let mut inputs = Vec::new();
        let mut measured = false;
        for source in tracing.sources() {
            let (known, below, above) = match self.shifted(source) {
                Ok(Some(shifted)) => shifted,
                Ok(None) => continue,
                Err(lacking) => return Ok(Some(Err(lacking))),
            };
            measured = true;
            let mut shift = |value: Value| {
                if self.propagated > MAX_PROPAGATION {
                    return Err(());
                }
                let shifted = Evaluator::replacing(self.evaluator, source, value);
                let margins = margins(&shifted, leaf, wanted, env);
                self.propagated = self.propagated.saturating_add(shifted.work());
                // What has no result there, or another number of them, says nothing.
                Ok(margins
                    .ok()
                    .flatten()
                    .filter(|margins| margins.len() == at.len()))
            };
            let (Ok(below), Ok(above)) = (shift(below), shift(above)) else {
                return Ok(Some(Err(too_much())));
            };
            let element = |margins: &Option<Vec<Quantity>>, index: usize| {
                margins
                    .as_ref()
                    .map(|margins| margins[index].value.to_f64())
            };
            let changes: Option<Vec<f64>> = (0..at.len())
                .map(|index| {
                    change(
                        element(&below, index),
                        at[index].value.to_f64(),
                        element(&above, index),
                    )
                })
                .collect();
            let Some(changes) = changes else {
                return Ok(Some(Err(Lacking {
                    what: format!(
                        "a result with {} shifted by its uncertainty",
                        self.source_name(source)
                    ),
                    place: None,
                })));
            };
            for (square, change) in squares.iter_mut().zip(&changes) {
                *square += change * change;
            }
            inputs.push(Input {
                source,
                known,
                contributions: changes,
            });
        }
        if !measured {
            return Ok(None);
        }
        let expanded = |square: &f64, at: &Quantity| {
            let expanded = Quantity::si(COVERAGE * square.sqrt(), at.dimension);
            (*at, expanded)
        };
        let elements = squares.iter().zip(&at).map(|(s, at)| expanded(s, at));
        Ok(Some(Ok(Compared {
            elements: elements.collect(),
            inputs,
        })))
    }

    /// The uncertainty of a source, and its value shifted by the standard uncertainty to both sides; `None` for
    /// what has none: counts, names, times.
    fn shifted(&self, source: Source) -> Result<Option<(Known, Value, Value)>, Lacking> {
        let plan = self.plan;
        let sure = self.uncertainties();
        let (value, known) = match source {
            Source::Reading(id, slot) => {
                let reading = &plan.readings[id.index()];
                let entry = self.evaluator.reading_entry(id, slot);
                let (Some(entry), Kind::Quantity(kind)) = (entry, &reading.kind) else {
                    return Ok(None);
                };
                let Recorded::Value(Value::Quantity(value)) = &entry.value else {
                    return Ok(None);
                };
                (value, sure.of_reading(reading, kind, value, entry.context)?)
            }
            Source::Condition(id, which, slot) => {
                let reading = &plan.readings[id.index()];
                let entry = self.evaluator.reading_entry(id, slot);
                let (Some(entry), Kind::Quantity(kind)) = (entry, &reading.given[which]) else {
                    return Ok(None);
                };
                let condition = self.record.condition(entry, &reading.given[which]);
                let Some(Value::Quantity(value)) = condition.map(|condition| &condition.value)
                else {
                    return Ok(None);
                };
                (
                    value,
                    sure.of_condition(reading, kind, value, entry.context)?,
                )
            }
            Source::Column(id, which, slot) => return self.shifted_column(id, which, slot),
        };
        let by = known.standard();
        let shifted = |by: f64| {
            Value::Quantity(Quantity {
                value: Number::Approx(value.value.to_f64() + by),
                ..*value
            })
        };
        let (below, above) = (shifted(-by), shifted(by));
        Ok(Some((known, below, above)))
    }

    /// A column of a log is read by one instrument: its rows are shifted together, each by its own uncertainty.
    fn shifted_column(
        &self,
        id: LogId,
        which: usize,
        slot: usize,
    ) -> Result<Option<(Known, Value, Value)>, Lacking> {
        let column = &self.plan.logs[id.index()].columns[which];
        let data = self.evaluator.log_data(id, slot);
        let series = data.and_then(|data| Some((data, data.columns.get(which)?.as_ref()?)));
        let (Some((data, series)), Kind::Quantity(kind)) = (series, &column.kind) else {
            return Ok(None);
        };
        let sure = self.uncertainties();
        let mut largest: Option<Known> = None;
        let mut below = Vec::with_capacity(series.values.len());
        let mut above = Vec::with_capacity(series.values.len());
        for number in &series.values {
            let value = Quantity {
                value: *number,
                dimension: series.dimension,
                point: series.point,
            };
            let known = sure.of_column(kind, &value, data.context)?;
            let (at, by) = (number.to_f64(), known.standard());
            below.push(Number::Approx(at - by));
            above.push(Number::Approx(at + by));
            if largest
                .as_ref()
                .is_none_or(|largest| by > largest.standard())
            {
                largest = Some(known);
            }
        }
        let with = |values: Vec<Number>| {
            Value::Series(Arc::new(Series {
                values,
                ..(**series).clone()
            }))
        };
        Ok(largest.map(|largest| (largest, with(below), with(above))))
    }

    /// The name of a source as a finding shows it.
    fn source_name(&self, source: Source) -> String {
        let domains = &self.record.domains;
        match source {
            Source::Reading(id, slot) => {
                let reading = &self.plan.readings[id.index()];
                format!(
                    "{}{}",
                    reading.name,
                    index_text(domains, &reading.indices, slot)
                )
            }
            Source::Condition(id, which, slot) => {
                let reading = &self.plan.readings[id.index()];
                let index = index_text(domains, &reading.indices, slot);
                format!("{}.{}{index}", reading.name, reading.given[which].name())
            }
            Source::Column(id, which, slot) => {
                let log = &self.plan.logs[id.index()];
                let index = index_text(domains, &log.indices, slot);
                format!("{}.{}{index}", log.name, log.columns[which].name)
            }
        }
    }

    /// The unit in which a source was written.
    fn source_unit(&self, source: Source) -> Option<Unit> {
        match source {
            Source::Reading(id, slot) => {
                let entry = self.evaluator.reading_entry(id, slot)?;
                self.explainer.unit_of(entry)
            }
            _ => None,
        }
    }

    /// The budget of one element: what goes in, how strongly, and what it adds, the largest first.
    pub(super) fn budget(
        &self,
        compared: &Compared,
        element: usize,
        unit: Option<&Unit>,
    ) -> Uncertainty {
        let explainer = &self.explainer;
        let (margin, expanded) = &compared.elements[element];
        let mut inputs: Vec<&Input> = compared.inputs.iter().collect();
        let share = |input: &Input| input.contributions[element].abs();
        inputs.sort_by(|a, b| share(b).total_cmp(&share(a)));
        let more = inputs.len().saturating_sub(MOST_SHOWN);
        let mut contributions: Vec<Contribution> = inputs
            .into_iter()
            .take(MOST_SHOWN)
            .map(|input| {
                let own = self.source_unit(input.source);
                let own_dimension = input.known.expanded.dimension;
                let standard = input.known.standard();
                let adds = Quantity::si(share(input), margin.dimension);
                let of = Quantity::si(standard, own_dimension);
                let statements: Vec<String> = input
                    .known
                    .parts
                    .iter()
                    .map(|part| format!("{}: {}", part.name, explainer.flat(part.place)))
                    .collect();
                Contribution {
                    name: self.source_name(input.source),
                    statement: statements.join(" and "),
                    standard: explainer.difference(&of, own.as_ref()),
                    sensitivity: sensitivity(&adds, unit, &of, own.as_ref()),
                    contribution: Some(explainer.difference(&adds, unit)),
                    place: input.known.parts.first().map(|part| part.place),
                }
            })
            .collect();
        if more > 0 {
            contributions.push(Contribution {
                name: format!("and {more} more"),
                statement: String::new(),
                standard: "smaller".to_owned(),
                sensitivity: None,
                contribution: None,
                place: None,
            });
        }
        Uncertainty {
            expanded: Some(explainer.difference(expanded, unit)),
            acceptance: None,
            contributions,
        }
    }
}

/// By how much a result changes with what goes in: `1.21569`, or `1.31 Mohm / K` where their units differ. `None` for
/// what is certain.
fn sensitivity(
    adds: &Quantity,
    unit: Option<&Unit>,
    of: &Quantity,
    own: Option<&Unit>,
) -> Option<String> {
    let shown_in = |quantity: &Quantity, unit: Option<&Unit>| {
        let unit = unit.filter(|unit| unit.offset.is_none()).cloned();
        unit.or_else(|| default_unit(quantity.dimension, false, quantity.value.to_f64()))
    };
    let (unit, own) = (shown_in(adds, unit), shown_in(of, own));
    let number = |quantity: &Quantity, unit: Option<&Unit>| match unit {
        Some(unit) => quantity.in_unit(unit).to_f64(),
        None => quantity.value.to_f64(),
    };
    let symbol = |unit: Option<&Unit>| unit.map_or(String::new(), |unit| unit.symbol.to_string());
    let below = number(of, own.as_ref());
    if below <= 0.0 {
        return None;
    }
    let per = format_number(Number::Approx(number(adds, unit.as_ref()) / below), 6);
    Some(match (symbol(unit.as_ref()), symbol(own.as_ref())) {
        (unit, own) if unit == own => per,
        (unit, own) if own.is_empty() => format!("{per} {unit}"),
        (unit, own) if unit.is_empty() => format!("{per} / {own}"),
        (unit, own) => format!("{per} {unit} / {own}"),
    })
}

#[cfg(test)]
mod tests {
    use super::change;

    #[test]
    fn a_bend_counts_with_its_steeper_side() {
        for (below, at, above, expected) in [
            (Some(1.0), 2.0, Some(3.0), Some(1.0)),
            (Some(1.0), 2.0, Some(3.1), Some(1.05)),
            // An absolute value at its lowest point, and a largest of two equal ones.
            (Some(1.0), 0.0, Some(1.0), Some(1.0)),
            (Some(0.0), 0.0, Some(1.0), Some(1.0)),
            (Some(0.0), 0.0, Some(0.0), Some(0.0)),
            // No result at one side, at both, and none that is a number.
            (None, 2.0, Some(3.0), Some(1.0)),
            (Some(1.5), 2.0, None, Some(0.5)),
            (None, 2.0, None, None),
            (None, 2.0, Some(f64::INFINITY), None),
        ] {
            let found = change(below, at, above).map(|change| (change.abs() * 1e9).round() / 1e9);
            assert_eq!(found, expected, "{below:?} {at} {above:?}");
        }
    }
}
