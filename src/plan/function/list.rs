//! Functions of a list: its ends, its slope, how it scatters, where a name stands in it.

use super::argument::{fault, no_number, number, parameters, quantity, same_count, whole, word};
use super::reduce::{alike_quantities, failed, mean, quantities};
use super::{EvaluationFault, Function, TypeFault};
use crate::plan::types::Type;
use crate::plan::value::Value;
use crate::quantity::{Number, Quantity, QuantityFault};
use std::cmp::Ordering;

const SUBJECT: &str = "lists";

pub(super) static HEAD: Function = Function {
    name: "head",
    subject: SUBJECT,
    parameters: parameters!["list": "a list", "n": "how many, a whole number from 1"],
    variadic: false,
    check: part_type,
    evaluate: |values| part(values, |items, count| items.get(..count)),
    meaning: "The first n values of a list, as a list; a list with fewer has no result.",
    formula: "",
    source: "arithmetic",
    example: "require spread(head(resistance[*], 3)) <= 2 %",
};

pub(super) static TAIL: Function = Function {
    name: "tail",
    subject: SUBJECT,
    parameters: parameters!["list": "a list", "n": "how many, a whole number from 1"],
    variadic: false,
    check: part_type,
    evaluate: |values| {
        part(values, |items, count| {
            items.get(items.len().checked_sub(count)?..)
        })
    },
    meaning: "The last n values of a list, as a list; a list with fewer has no result.",
    formula: "",
    source: "arithmetic",
    example: "require max(tail(extraction[*], 3)) <= 10 g/h/t",
};

pub(super) static SLOPE: Function = Function {
    name: "slope",
    subject: SUBJECT,
    parameters: parameters![
        "values": "a list of readings in equal steps",
        "spacing": "one step",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 2)?;
        let Type::Quantity { dimension, .. } = list_of_quantities(types, 0, true)? else {
            return Ok(Type::Unknown);
        };
        match types[1] {
            Type::Unknown => Ok(Type::Unknown),
            Type::Quantity {
                dimension: step,
                point: false,
            } => Ok(Type::quantity(dimension.div(step))),
            _ => Err(fault(
                1,
                "a quantity that is no point on a scale",
                &types[1],
            )),
        }
    },
    evaluate: |values| {
        let items = quantities(values.get(..1).unwrap_or(&[]))?;
        let step = quantity(values, 1)?;
        slope(&items, step)
    },
    meaning: "How fast readings in equal steps rise; negative when they fall.",
    formula: "slope of the straight line with least squares through the values",
    source: "arithmetic",
    example: "require slope(tail(moisture[*], 4), 6 h) <= 0.001 %/h",
};

pub(super) static ROOT_SUM_SQUARE: Function = Function {
    name: "root-sum-square",
    subject: SUBJECT,
    parameters: parameters!["x": "a list, or several values"],
    variadic: true,
    check: alike_quantities,
    evaluate: |values| root_sum_square(values).map(Value::Quantity),
    meaning: "The square root of the sum of the squares.",
    formula: "sqrt(x1² + … + xn²)",
    source: "arithmetic",
    example: "root-sum-square(3 mm, 4 mm) -> 5 mm",
};

pub(super) static DEVIATION_FROM_MEAN: Function = Function {
    name: "deviation-from-mean",
    subject: SUBJECT,
    parameters: parameters!["x": "a list, or several values"],
    variadic: true,
    check: |types| {
        alike_quantities(types).map(|ty| match ty {
            Type::Unknown => Type::Unknown,
            _ => Type::NUMBER,
        })
    },
    evaluate: |values| {
        let items = quantities(values)?;
        let middle = mean(&items)?;
        largest_deviation(&items, &middle)
            .and_then(|largest| largest.div(&middle.abs()?))
            .map(Value::Quantity)
            .map_err(failed)
    },
    meaning: "How far the value lies from the mean that lies farthest from it, as a share of the mean.",
    formula: "max |x - mean| / |mean|",
    source: "arithmetic",
    example: "deviation-from-mean(0.10186 ohm, 0.10203 ohm, 0.10179 ohm) -> 0.00134127",
};

pub(super) static PLACE_OF: Function = Function {
    name: "place-of",
    subject: SUBJECT,
    parameters: parameters!["names": "a design value that is a list of names", "name": "one name"],
    variadic: false,
    check: |types| {
        same_count(types, 2)?;
        if !matches!(types[0], Type::Names | Type::Unknown) {
            return Err(fault(0, "a list of names", &types[0]));
        }
        if !matches!(types[1], Type::Name | Type::Text | Type::Unknown) {
            return Err(fault(1, "a name", &types[1]));
        }
        Ok(Type::NUMBER)
    },
    evaluate: |values| {
        let name = word(values, 1)?;
        let Some(Value::Names(names)) = values.first() else {
            return Err(EvaluationFault(
                "a value that is no list of names".to_owned(),
            ));
        };
        match names.iter().position(|member| **member == *name) {
            Some(index) => Ok(Value::Quantity(whole(index + 1))),
            None => Err(EvaluationFault(format!(
                "`{name}` does not stand in the list: {}",
                names.join(", ")
            ))),
        }
    },
    meaning: "The place of a name in a list of names, counted from 1.",
    formula: "",
    source: "logic",
    example: "require place-of(design.windings, HV) > place-of(design.windings, LV)",
};

pub(super) static NAME_AT: Function = Function {
    name: "name-at",
    subject: SUBJECT,
    parameters: parameters!["names": "a design value that is a list of names", "place": "counted from 1"],
    variadic: false,
    check: |types| {
        same_count(types, 2)?;
        if !matches!(types[0], Type::Names | Type::Unknown) {
            return Err(fault(0, "a list of names", &types[0]));
        }
        if types[1] != Type::NUMBER && types[1] != Type::Unknown {
            return Err(fault(1, "a whole number", &types[1]));
        }
        Ok(Type::Name)
    },
    evaluate: |values| {
        let place = number(values, 1)?;
        let Some(Value::Names(names)) = values.first() else {
            return Err(EvaluationFault(
                "a value that is no list of names".to_owned(),
            ));
        };
        let found = (place.fract() == 0.0 && place >= 1.0)
            .then(|| names.get(place as usize - 1))
            .flatten();
        match found {
            Some(name) => Ok(Value::Name(name.clone())),
            None => Err(EvaluationFault(format!(
                "the list has no place {place}; it has {}",
                names.len()
            ))),
        }
    },
    meaning: "The name in one place of a list of names.",
    formula: "",
    source: "logic",
    example: "calc first-winding = name-at(design.windings, 1)",
};

pub(super) static WEIGHTED_SHARE: Function = Function {
    name: "weighted-share",
    subject: SUBJECT,
    parameters: parameters![
        "x": "a list, such as the open times of a tank",
        "limits": "the limit for each of them",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 2)?;
        let values = list_of_quantities(types, 0, false)?;
        let limits = list_of_quantities(types, 1, false)?;
        if values != limits && values != Type::Unknown && limits != Type::Unknown {
            return Err(fault(
                1,
                format!("a list of {values} here as well"),
                &types[1],
            ));
        }
        Ok(Type::NUMBER)
    },
    evaluate: |values| {
        let items = quantities(values.get(..1).unwrap_or(&[]))?;
        let limits = quantities(values.get(1..).unwrap_or(&[]))?;
        weighted_share(&items, &limits)
    },
    meaning: "How much of a common budget is used when each value has a limit of its own: 1 is the whole.",
    formula: "x1 / limit1 + … + xn / limitn",
    source: "common practice, no source",
    example: "require weighted-share(open-time[*], allowed-time[*]) <= 1",
};

/// The type of a part of a list: that of the list.
fn part_type(types: &[Type]) -> Result<Type, TypeFault> {
    same_count(types, 2)?;
    if !matches!(types[0], Type::List(_) | Type::Unknown) {
        return Err(fault(0, "a list", &types[0]));
    }
    if !matches!(types[1], Type::NUMBER | Type::Unknown) {
        return Err(fault(1, "a whole number", &types[1]));
    }
    Ok(types[0].clone())
}

/// The type of one value of the list in one place.
fn list_of_quantities(types: &[Type], index: usize, points: bool) -> Result<Type, TypeFault> {
    let mut element = &types[index];
    let listed = matches!(element, Type::List(_));
    while let Type::List(inner) = element {
        element = inner;
    }
    match element {
        Type::Unknown => Ok(Type::Unknown),
        Type::Quantity { point, .. } if listed && (points || !point) => Ok(element.clone()),
        _ if points => Err(fault(index, "a list of quantities", &types[index])),
        _ => Err(fault(
            index,
            "a list of quantities that are no temperatures on the scale (°C)",
            &types[index],
        )),
    }
}

/// A part of a list, cut by a rule that gives nothing where the list is too short.
fn part(values: &[Value], cut: Cut) -> Result<Value, EvaluationFault> {
    let count = number(values, 1)?;
    if count < 1.0 || count.fract() != 0.0 || count > 1e9 {
        return Err(EvaluationFault(
            "how many to take must be a whole number from 1".to_owned(),
        ));
    }
    let count = count as usize;
    let short = |held: usize| EvaluationFault(format!("the list holds {held}, fewer than {count}"));
    match values.first() {
        Some(Value::List(items)) => cut(items, count)
            .map(|part| Value::List(part.into()))
            .ok_or_else(|| short(items.len())),
        _ => Err(EvaluationFault("a value that is no list".to_owned())),
    }
}

type Cut = fn(&[Value], usize) -> Option<&[Value]>;

/// The slope over equal steps; exact when the values are.
fn slope(items: &[Quantity], step: &Quantity) -> Result<Value, EvaluationFault> {
    if items.len() < 2 {
        return Err(EvaluationFault(
            "a slope needs at least two values".to_owned(),
        ));
    }
    if step.value.to_f64() <= 0.0 {
        return Err(EvaluationFault("the spacing must be above zero".to_owned()));
    }
    // Twice the distance of each place from the middle is a whole number, so that nothing is rounded.
    let last = items.len() as i64 - 1;
    let mut above: Option<Quantity> = None;
    let mut below = Number::whole(0);
    for (index, item) in items.iter().enumerate() {
        let twice = Number::whole(2 * index as i64 - last);
        let free = Quantity {
            point: false,
            ..*item
        };
        let part = free.mul(&Quantity::plain(twice)).map_err(failed)?;
        below = below.add(&twice.mul(&twice));
        above = Some(match above {
            Some(above) => above.add(&part).map_err(failed)?,
            None => part,
        });
    }
    let halved = below.div(&Number::whole(2)).ok_or_else(no_number)?;
    let above = above.ok_or_else(no_number)?;
    above
        .div(&Quantity::plain(halved))
        .and_then(|slope| slope.div(step))
        .map(Value::Quantity)
        .map_err(failed)
}

/// The root of the sum of squares of lists and single values.
pub(super) fn root_sum_square(values: &[Value]) -> Result<Quantity, EvaluationFault> {
    let items = quantities(values)?;
    let mut total: Option<Quantity> = None;
    for item in &items {
        let square = item.mul(item).map_err(failed)?;
        total = Some(match total {
            Some(total) => total.add(&square).map_err(failed)?,
            None => square,
        });
    }
    total.ok_or_else(no_number)?.sqrt().map_err(failed)
}

fn largest_deviation(items: &[Quantity], middle: &Quantity) -> Result<Quantity, QuantityFault> {
    let mut largest = middle.sub(middle)?;
    for item in items {
        let deviation = item.sub(middle)?.abs()?;
        if deviation.value.compare(&largest.value) == Ordering::Greater {
            largest = deviation;
        }
    }
    Ok(largest)
}

fn weighted_share(items: &[Quantity], limits: &[Quantity]) -> Result<Value, EvaluationFault> {
    if items.len() != limits.len() {
        return Err(EvaluationFault(format!(
            "{} values but {} limits",
            items.len(),
            limits.len()
        )));
    }
    let mut total = Quantity::plain(Number::whole(0));
    for (item, limit) in items.iter().zip(limits) {
        if limit.value.to_f64() <= 0.0 {
            return Err(EvaluationFault("each limit must be above zero".to_owned()));
        }
        if item.value.to_f64() < 0.0 {
            return Err(EvaluationFault("a value must not be negative".to_owned()));
        }
        let share = item.div(limit).map_err(failed)?;
        total = total.add(&share).map_err(failed)?;
    }
    Ok(Value::Quantity(total))
}

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;
    use super::*;
    use std::sync::Arc;

    fn exact(function: &str, values: &[Value]) -> bool {
        matches!(run(function, values), Ok(Value::Quantity(quantity)) if quantity.value.is_exact())
    }

    #[test]
    fn ends_of_a_list() {
        let rates = list(&["40 g/h/t", "24 g/h/t", "14.4 g/h/t"]);
        for (function, expected) in [("head", 32.0), ("tail", 19.2)] {
            let part = run(function, &[rates.clone(), q("2")]);
            let part = part.unwrap_or_else(|message| panic!("{message}"));
            near("count", std::slice::from_ref(&part), "", 2.0, 0.0);
            near("mean", &[part], "g/h/t", expected, 1e-9);
            let all = run(function, &[rates.clone(), q("3")]);
            assert!(matches!(all, Ok(Value::List(items)) if items.len() == 3));
            assert!(
                refused(function, &[rates.clone(), q("4")])
                    .contains("the list holds 3, fewer than 4")
            );
            assert!(refused(function, &[rates.clone(), q("0")]).contains("whole number from 1"));
            assert!(refused(function, &[rates.clone(), q("1.5")]).contains("whole number from 1"));
            assert!(
                refused(function, &[q("1 mm"), q("1")]).contains("expected a list, found length")
            );
            assert!(refused(function, &[rates.clone(), q("1 h")]).contains("found time"));
        }
    }

    #[test]
    fn slope_of_equal_steps() {
        let falling = list(&["4 %", "3 %", "2 %", "1 %"]);
        near(
            "slope",
            &[falling.clone(), q("6 h")],
            "1/h",
            -0.01 / 6.0,
            1e-12,
        );
        assert!(exact("slope", &[falling.clone(), q("6 h")]));
        let scattered = list(&["1 mm", "3 mm", "2 mm"]);
        near("slope", &[scattered, q("1")], "mm", 0.5, 1e-12);
        let points = list(&["20 °C", "22 °C"]);
        near("slope", &[points, q("4 h")], "K/h", 0.5, 1e-9);
        assert!(refused("slope", &[list(&["1 mm"]), q("1 h")]).contains("at least two values"));
        assert!(refused("slope", &[falling.clone(), q("0 h")]).contains("above zero"));
        assert!(refused("slope", &[falling, q("20 °C")]).contains("no point on a scale"));
        assert!(refused("slope", &[q("1 mm"), q("1 h")]).contains("expected a list of quantities"));
    }

    #[test]
    fn scatter() {
        near("root-sum-square", &[q("3 mm"), q("4 mm")], "mm", 5.0, 0.0);
        near(
            "root-sum-square",
            &[list(&["1 kV", "2 kV", "2 kV"])],
            "kV",
            3.0,
            0.0,
        );
        assert!(exact("root-sum-square", &[q("3 mm"), q("-4 mm")]));
        assert!(refused("root-sum-square", &[q("20 °C")]).contains("no temperatures"));
        near(
            "deviation-from-mean",
            &[list(&["9 ohm", "10 ohm", "11.6 ohm"])],
            "%",
            13.725_490,
            1e-6,
        );
        near(
            "deviation-from-mean",
            &[q("-9 mm"), q("-11 mm")],
            "%",
            10.0,
            1e-9,
        );
        assert!(
            refused("deviation-from-mean", &[q("-1 mm"), q("1 mm")])
                .to_lowercase()
                .contains("zero")
        );
    }

    #[test]
    fn place_of_a_name() {
        let names = Value::Names(Arc::from([Arc::from("LV"), Arc::from("HV")]));
        near("place-of", &[names.clone(), name("LV")], "", 1.0, 0.0);
        near("place-of", &[names.clone(), name("HV")], "", 2.0, 0.0);
        assert!(
            refused("place-of", &[names.clone(), name("TV")])
                .contains("`TV` does not stand in the list: LV, HV")
        );
        assert!(refused("place-of", &[name("LV"), name("LV")]).contains("a list of names"));
        assert!(refused("place-of", &[names, q("1")]).contains("found a plain number"));
    }

    #[test]
    fn open_times_against_their_limits() {
        let times = list(&["3.0 h", "2.5 h"]);
        let limits = list(&["16 h", "12 h"]);
        near(
            "weighted-share",
            &[times.clone(), limits],
            "",
            0.395_833_333,
            1e-9,
        );
        assert!(
            refused("weighted-share", &[times.clone(), list(&["16 h"])])
                .contains("2 values but 1 limits")
        );
        assert!(
            refused("weighted-share", &[times.clone(), list(&["16 h", "0 h"])])
                .contains("above zero")
        );
        assert!(
            refused("weighted-share", &[list(&["-1 h"]), list(&["16 h"])]).contains("negative")
        );
        assert!(
            refused("weighted-share", &[times, list(&["16 mm"])])
                .contains("found a list of length")
        );
    }
}
