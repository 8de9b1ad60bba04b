//! A unit beside its sisters: which compared values stand apart, told with the sisters' own values.

use super::evaluate::{Env, Evaluator};
use super::limits::shown;
use super::lots::Member;
use super::{Grounds, Judge, LotValue};
use crate::finding::rules;
use crate::finding::{Basis, Finding, Input, Reasoning, Source};
use crate::physics::sisters::{FEWEST_SISTERS, MAD_TO_SIGMA, Sisters, others_of_each};
use crate::plan::value::Value;
use crate::plan::*;
use crate::quantity::{
    Number, Quantity, Unit, default_unit, format_in, format_number, format_readable,
};
use crate::record::members_of;
use crate::seal::Seals;
use crate::text::SourceText;
use rustc_hash::FxHashMap;

/// Most sisters whose values are shown in one finding; more are counted.
const MOST_SHOWN: usize = 12;

/// The values of one instance of what is compared: of which member of the lot, and the value.
type Values<'a> = Vec<(usize, &'a LotValue)>;

/// A value that stands apart.
struct Apart<'a> {
    value: &'a LotValue,
    sisters: Sisters,
    bound: CompareBound,
    /// The scatter that it is held against, in SI base units.
    scatter: f64,
    /// The coarsest last digit among the values.
    step: f64,
    /// The units that were compared, by their place in the lot, each with its value.
    compared: std::rc::Rc<Values<'a>>,
}

impl Apart<'_> {
    fn distance(&self) -> f64 {
        self.value.value - self.sisters.median
    }

    /// How many times the scatter it lies away.
    fn score(&self) -> f64 {
        self.distance().abs() / self.scatter
    }
}

/// Compares the units of a lot, each with all others that were built to the same plan.
pub(super) fn compare(members: &[Member<'_>], sources: &[SourceText], findings: &mut Vec<Finding>) {
    // Instances are matched by their index as written: units may have more or fewer tappings.
    let mut groups: FxHashMap<(usize, usize, &str), Values<'_>> = FxHashMap::default();
    for (position, member) in members.iter().enumerate() {
        let (Some((plan, _)), Some((_, facts))) = (member.plan, member.judged) else {
            continue;
        };
        for value in &facts.values {
            let key = (plan, value.compare, &*value.index);
            groups.entry(key).or_default().push((position, value));
        }
    }
    let mut apart: FxHashMap<(usize, usize), Vec<Apart<'_>>> = FxHashMap::default();
    for ((_, compare, _), compared) in groups {
        if compared.len() <= FEWEST_SISTERS {
            continue;
        }
        let values: Vec<f64> = compared.iter().map(|(_, value)| value.value).collect();
        let Ok(others) = others_of_each(&values) else {
            continue;
        };
        let step = compared
            .iter()
            .map(|(_, value)| value.step)
            .fold(0.0, f64::max);
        let compared = std::rc::Rc::new(compared);
        for (at, (position, value)) in compared.iter().enumerate() {
            let member = &members[*position];
            let Some((_, plan)) = member.plan.filter(|_| member.given) else {
                continue;
            };
            let sisters = others[at];
            let found = plan.compares[compare]
                .bounds
                .iter()
                .map(|bound| Apart {
                    value,
                    sisters,
                    bound: *bound,
                    scatter: (MAD_TO_SIGMA * sisters.mad)
                        .max(bound.floor.at(sisters.median))
                        .max(step),
                    step,
                    compared: compared.clone(),
                })
                // Without any scatter there is nothing to hold the distance against.
                .find(|apart| apart.scatter > 0.0 && apart.score() > apart.bound.threshold);
            if let Some(found) = found {
                apart.entry((*position, compare)).or_default().push(found);
            }
        }
    }
    let mut apart: Vec<_> = apart.into_iter().collect();
    apart.sort_by_key(|(key, _)| *key);
    for ((position, _), mut items) in apart {
        // One finding for each compared value; the instance that is furthest off stands for the rest.
        items.sort_by(|a, b| {
            b.score()
                .total_cmp(&a.score())
                .then(a.value.slot.cmp(&b.value.slot))
        });
        findings.extend(finding(members, position, &items, sources));
    }
}

fn finding(
    members: &[Member<'_>],
    position: usize,
    items: &[Apart<'_>],
    sources: &[SourceText],
) -> Option<Finding> {
    let member = &members[position];
    let (_, plan) = member.plan?;
    let (record, _) = member.judged?;
    let (worst, rest) = items.split_first()?;
    let evaluator = Evaluator::new(plan, record);
    let seals = Seals::default();
    let judge = Judge::new(
        record,
        &evaluator,
        Grounds::of_plan(plan, &seals, member.file, sources),
    );
    let compared = plan.compares[worst.value.compare].value;
    let sets = compared.indices(plan);
    let mut at = Vec::new();
    members_of(&record.domains, sets, worst.value.slot, &mut at);
    let env = Env { sets, members: &at };
    let (stage, own_name) = compared.named(plan);
    let name = format!("{own_name}{}", worst.value.index);
    let mut reasoning = Reasoning::default();
    let (quantity, unit, place) = match compared {
        Compared::Reading(id) => {
            let entry = evaluator.reading_entry(id, worst.value.slot)?;
            let Ok(Value::Quantity(quantity)) = evaluator.reading_value(id, worst.value.slot)
            else {
                return None;
            };
            (quantity, judge.explainer.unit_of(entry), entry.place)
        }
        Compared::Calc(id) => {
            let calc = &plan.calcs[id.index()];
            let Ok(Value::Quantity(quantity)) = evaluator.calc(id, worst.value.slot) else {
                return None;
            };
            let own = judge.explainer.reasoning(&calc.expr, env);
            let place = judge.primary_place(&own, calc.stage);
            let unit = judge.explainer.unit_in(&calc.expr, &quantity);
            reasoning.steps = own.steps;
            reasoning.inputs = own.inputs;
            // One unit for all that is told, so that the distance can be seen beside the value.
            let unit = unit.or_else(|| {
                let magnitude = quantity.value.to_f64();
                default_unit(quantity.dimension, quantity.point, magnitude)
            });
            (quantity, unit, place)
        }
    };
    let amount = |value: f64| {
        let quantity = Quantity {
            value: Number::Approx(value),
            ..quantity
        };
        judge.explainer.quantity(&quantity, unit.as_ref())
    };
    let difference = |value: f64| {
        let quantity = Quantity {
            value: Number::Approx(value),
            dimension: quantity.dimension,
            point: false,
        };
        match unit.as_ref().filter(|unit| unit.offset.is_none()) {
            Some(unit) => format_in(&quantity, unit, 3),
            None => format_readable(&quantity, 3),
        }
    };
    let own = value_text(&judge, compared, worst.value.slot, unit.as_ref())?;
    if let Some(last) = reasoning.steps.last_mut()
        && let Some(put_in) = last.strip_prefix("= ")
    {
        *last = format!("with {name} = {put_in} = {own}");
    }
    let count = worst.compared.len() - 1;
    let mut inputs = vec![Input {
        name: format!("{name} of {}", member.header.serial),
        value: own.clone(),
        place: Some(place),
        amended: Vec::new(),
    }];
    let (shown_sisters, place_of_nearest) =
        sisters(members, worst, position, unit.as_ref(), sources, &name);
    inputs.extend(shown_sisters);
    // What the value was calculated from comes last: the comparison is what is told here.
    inputs.append(&mut reasoning.inputs);
    reasoning.inputs = inputs;
    reasoning.formula = Some(format!(
        "abs({name} - median of the sisters) / scatter <= {}",
        plain(worst.bound.threshold)
    ));
    let median = worst.sisters.median;
    let mut parts = vec![
        format!("1.4826 * {}", difference(worst.sisters.mad)),
        match worst.bound.floor {
            Floor::Share(share) => format!(
                "{} % of the median = {}",
                plain(100.0 * share),
                difference(share * median.abs())
            ),
            Floor::Absolute(value) => format!("the floor {}", difference(value)),
        },
    ];
    if worst.step > 0.0 {
        parts.push(format!("the last digit {}", difference(worst.step)));
    }
    reasoning.steps.extend([
        format!(
            "with median of the {count} sisters = {}, median of their deviations from it = {}",
            amount(median),
            difference(worst.sisters.mad)
        ),
        format!(
            "with scatter = {}, the largest of: {}",
            difference(worst.scatter),
            parts.join("; ")
        ),
        format!(
            "= {} / {} = {}",
            difference(worst.distance().abs()),
            difference(worst.scatter),
            plain(worst.score())
        ),
    ]);
    if let Compared::Reading(id) = compared {
        let reading = &plan.readings[id.index()];
        let limits: Vec<String> = reading
            .limits
            .iter()
            .filter_map(|limit| judge.limit_shown(limit, env, unit.as_ref()))
            .collect();
        if !limits.is_empty() {
            reasoning
                .steps
                .push(format!("its own limit in the plan: {}", limits.join("; ")));
        }
        reasoning.look = reading
            .rationale
            .look
            .iter()
            .map(ToString::to_string)
            .collect();
        reasoning.because = reading.rationale.because.as_ref().map(ToString::to_string);
    }
    reasoning.result = Some(plain(worst.score()));
    reasoning.limit = Some(format!("≤ {}", plain(worst.bound.threshold)));
    reasoning.source = Some(Source {
        basis: Basis::Memory,
        text: "B. Iglewicz and D. C. Hoaglin, How to Detect and Handle Outliers, ASQC 1993: modified z-score"
            .to_owned(),
    });
    if !rest.is_empty() {
        let names: Vec<String> = rest
            .iter()
            .map(|item| format!("{own_name}{}", item.value.index))
            .collect();
        reasoning.also = Some(shown(&names));
    }
    let direction = if worst.distance() > 0.0 {
        "above"
    } else {
        "below"
    };
    let mut finding = Finding::new(
        &rules::APART_FROM_SISTERS,
        place,
        format!(
            "expected {name} to be like that of its {count} sister units, {} in the middle, found {own}, {} {direction}: {} times their scatter",
            amount(median),
            difference(worst.distance().abs()),
            plain(worst.score())
        ),
    )
    .label(format!("{name} = {own}"))
    .related(worst.bound.place, "compared here");
    if let Some((serial, value, place)) = place_of_nearest {
        finding = finding.related(place, format!("{serial}: {value}"));
    }
    let stage_name = stage.map_or("design", |stage| &plan.stages[stage.index()].name);
    Some(
        finding
            .help(format!(
                "it is no failure: look at the instrument and the conditions of `{stage_name}.{own_name}` first, then at what may differ in this unit; who has looked accepts it with the reason"
            ))
            .reasoning(reasoning),
    )
}

/// The sisters' values with their serials, in the order of the serials, and the one nearest to the median
/// with its place.
fn sisters(
    members: &[Member<'_>],
    apart: &Apart<'_>,
    own: usize,
    unit: Option<&Unit>,
    sources: &[SourceText],
    name: &str,
) -> (Vec<Input>, Option<(String, String, crate::text::Place)>) {
    let mut others: Vec<&(usize, &LotValue)> = apart
        .compared
        .iter()
        .filter(|(position, _)| *position != own)
        .collect();
    others.sort_by_key(|(position, _)| (&members[*position].header.serial, *position));
    let off = |value: &LotValue| (value.value - apart.sisters.median).abs();
    let nearest = others
        .iter()
        .min_by(|a, b| off(a.1).total_cmp(&off(b.1)))
        .map(|(position, _)| *position);
    let mut inputs = Vec::new();
    let mut middle = None;
    for (count, (position, value)) in others.iter().enumerate() {
        let wanted = Some(*position) == nearest;
        if count >= MOST_SHOWN && !wanted {
            continue;
        }
        let member = &members[*position];
        let (Some((_, plan)), Some((record, _))) = (member.plan, member.judged) else {
            continue;
        };
        let evaluator = Evaluator::new(plan, record);
        let seals = Seals::default();
        let judge = Judge::new(
            record,
            &evaluator,
            Grounds::of_plan(plan, &seals, member.file, sources),
        );
        let compared = plan.compares[value.compare].value;
        let Some(text) = value_text(&judge, compared, value.slot, unit) else {
            continue;
        };
        let place = match compared {
            Compared::Reading(id) => evaluator
                .reading_entry(id, value.slot)
                .map(|entry| entry.place),
            Compared::Calc(_) => None,
        };
        if let (true, Some(place)) = (wanted, place) {
            middle = Some((member.header.serial.clone(), text.clone(), place));
        }
        if count < MOST_SHOWN {
            inputs.push(Input {
                name: format!("{name} of {}", member.header.serial),
                value: text,
                place,
                amended: Vec::new(),
            });
        }
    }
    if others.len() > MOST_SHOWN {
        inputs.push(Input {
            name: format!("and {} more sisters", others.len() - MOST_SHOWN),
            value: String::new(),
            place: None,
            amended: Vec::new(),
        });
    }
    (inputs, middle)
}

/// A compared value: a reading as it was written, a calculated one in `unit`.
fn value_text(
    judge: &Judge<'_>,
    compared: Compared,
    slot: usize,
    unit: Option<&Unit>,
) -> Option<String> {
    match compared {
        Compared::Reading(id) => {
            let entry = judge.evaluator.reading_entry(id, slot)?;
            Some(judge.explainer.written(entry))
        }
        Compared::Calc(id) => {
            let value = judge.evaluator.calc(id, slot).ok()?;
            Some(judge.explainer.value(&value, unit))
        }
    }
}

/// A plain number with three digits.
fn plain(value: f64) -> String {
    format_number(Number::Approx(value), 3)
}
