//! Functions that make one value of many: of a list, of several values, or of a log's column.

use super::argument::{fault, no_number, parameters, whole};
use super::series::OVER_TIME;
use super::{EvaluationFault, Function, TypeFault};
use crate::plan::types::Type;
use crate::plan::value::{Series, Value};
use crate::quantity::{Number, Quantity, QuantityFault};
use std::cmp::Ordering;

const SUBJECT: &str = "lists";

pub(super) static MIN: Function = Function {
    name: "min",
    subject: SUBJECT,
    parameters: parameters!["x": "a list, several values, or a log column"],
    variadic: true,
    check: |types| {
        alike(
            types,
            Accept {
                points: true,
                series: true,
                moments: true,
            },
        )
    },
    evaluate: |values| extreme(values, Ordering::Less),
    meaning: "The smallest.",
    formula: "",
    source: "arithmetic",
    example: "min(0.5 %, 1.2 %) -> 0.005",
};

pub(super) static MAX: Function = Function {
    name: "max",
    subject: SUBJECT,
    parameters: parameters!["x": "a list, several values, or a log column"],
    variadic: true,
    check: |types| {
        alike(
            types,
            Accept {
                points: true,
                series: true,
                moments: true,
            },
        )
    },
    evaluate: |values| extreme(values, Ordering::Greater),
    meaning: "The largest.",
    formula: "",
    source: "arithmetic",
    example: "max(1258 mm, 1262 mm) -> 1262 mm",
};

pub(super) static MEAN: Function = Function {
    name: "mean",
    subject: SUBJECT,
    parameters: parameters!["x": "a list, several values, or a log column"],
    variadic: true,
    check: |types| {
        if let [over @ Type::Series { over: Some(_), .. }] = types {
            return Err(fault(0, OVER_TIME, over));
        }
        alike(
            types,
            Accept {
                points: true,
                series: true,
                moments: false,
            },
        )
    },
    evaluate: |values| match values {
        [Value::Series(series)] => mean_over_time(series).map(Value::Quantity),
        _ => mean(&quantities(values)?).map(Value::Quantity),
    },
    meaning: "The mean; of a log column, the mean over time between its first and last entry.",
    formula: "(x1 + … + xn) / n",
    source: "arithmetic",
    example: "mean(68 kV, 74 kV, 71 kV, 66 kV, 73 kV, 70 kV) -> 70.3333 kV",
};

pub(super) static MEDIAN: Function = Function {
    name: "median",
    subject: SUBJECT,
    parameters: parameters!["x": "a list, or several values"],
    variadic: true,
    check: |types| {
        alike(
            types,
            Accept {
                points: true,
                series: false,
                moments: false,
            },
        )
    },
    evaluate: |values| {
        let mut items = quantities(values)?;
        let exact = items.iter().all(|item| item.value.is_exact());
        items.sort_by(|a, b| order(a, b, exact));
        let middle = items.len() / 2;
        let pair = if items.len() % 2 == 1 {
            items.get(middle..=middle)
        } else {
            items.get(middle - 1..=middle)
        };
        mean(pair.unwrap_or(&[])).map(Value::Quantity)
    },
    meaning: "The one in the middle; of an even number, the mean of the two in the middle.",
    formula: "",
    source: "arithmetic",
    example: "median(68 kV, 74 kV, 71 kV) -> 71 kV",
};

pub(super) static SUM: Function = Function {
    name: "sum",
    subject: SUBJECT,
    parameters: parameters!["x": "a list, or several values"],
    variadic: true,
    check: |types| {
        alike(
            types,
            Accept {
                points: false,
                series: false,
                moments: false,
            },
        )
    },
    evaluate: |values| sum(&quantities(values)?).map(Value::Quantity),
    meaning: "The sum.",
    formula: "x1 + … + xn",
    source: "arithmetic",
    example: "sum(45 kg, 18 kg, 7.5 kg) -> 70.5 kg",
};

pub(super) static SPREAD: Function = Function {
    name: "spread",
    subject: SUBJECT,
    parameters: parameters!["x": "a list, or several values"],
    variadic: true,
    check: |types| {
        alike(
            types,
            Accept {
                points: false,
                series: false,
                moments: false,
            },
        )
        .map(|ty| match ty {
            Type::Unknown => Type::Unknown,
            _ => Type::NUMBER,
        })
    },
    evaluate: |values| {
        let items = quantities(values)?;
        let range =
            extreme_of(&items, Ordering::Greater)?.sub(&extreme_of(&items, Ordering::Less)?);
        let middle = mean(&items)?.abs();
        range
            .and_then(|range| range.div(&middle?))
            .map(Value::Quantity)
            .map_err(failed)
    },
    meaning: "How far apart the values lie, as a share of their mean: the unbalance of three phases.",
    formula: "(max - min) / mean",
    source: "common practice, no source",
    example: "spread(0.10186 ohm, 0.10203 ohm, 0.10179 ohm) -> 0.0023554",
};

pub(super) static COUNT: Function = Function {
    name: "count",
    subject: SUBJECT,
    parameters: parameters!["list": "a list, several values, or a design value that is a list of names"],
    variadic: true,
    check: |types| {
        if types.is_empty() {
            return Err(none());
        }
        if matches!(types, [Type::Names]) {
            return Ok(Type::NUMBER);
        }
        match types.iter().position(|ty| {
            matches!(
                ty,
                Type::Series { .. } | Type::Interval { .. } | Type::Names
            )
        }) {
            Some(index) => Err(fault(index, "a list, or several values", &types[index])),
            None => Ok(Type::NUMBER),
        }
    },
    evaluate: |values| match values {
        [Value::Names(names)] => Ok(Value::Quantity(whole(names.len()))),
        _ => Ok(Value::Quantity(whole(leaves(values)))),
    },
    meaning: "How many values or names are there.",
    formula: "n",
    source: "arithmetic",
    example: "count(1.2 mm, 1.4 mm, 1.1 mm) -> 3",
};

/// What beyond plain quantities a function takes.
#[derive(Clone, Copy)]
struct Accept {
    points: bool,
    series: bool,
    moments: bool,
}

impl Accept {
    fn expected(self) -> String {
        let points = if self.points {
            ""
        } else {
            " that are no temperatures on the scale (°C)"
        };
        let series = if self.series {
            ", or one log column"
        } else {
            ""
        };
        format!("quantities{points}, as a list or one by one{series}")
    }
}

fn none() -> TypeFault {
    TypeFault {
        argument: None,
        expected: "at least 1 argument".to_owned(),
        found: "0".to_owned(),
    }
}

/// The type of one of several values that must be alike.
fn alike(types: &[Type], accept: Accept) -> Result<Type, TypeFault> {
    if let (
        [
            Type::Series {
                dimension, point, ..
            },
        ],
        true,
    ) = (types, accept.series)
    {
        return Ok(Type::Quantity {
            dimension: *dimension,
            point: *point,
        });
    }
    let mut common: Option<&Type> = None;
    for (index, ty) in types.iter().enumerate() {
        let mut element = ty;
        while let Type::List(inner) = element {
            element = inner;
        }
        let fits = match element {
            Type::Unknown => continue,
            Type::Quantity { point, .. } => accept.points || !point,
            Type::Moment => accept.moments,
            _ => false,
        };
        if !fits {
            return Err(fault(index, accept.expected(), ty));
        }
        match common {
            Some(first) if first != element => {
                return Err(fault(
                    index,
                    format!("{first} here as well, as in the first place"),
                    ty,
                ));
            }
            _ => common = Some(element),
        }
    }
    match common {
        Some(ty) => Ok(ty.clone()),
        None if types.is_empty() => Err(none()),
        None => Ok(Type::Unknown),
    }
}

/// The type of one of several quantities that must be alike and are no points on a scale.
pub(super) fn alike_quantities(types: &[Type]) -> Result<Type, TypeFault> {
    alike(
        types,
        Accept {
            points: false,
            series: false,
            moments: false,
        },
    )
}

pub(super) fn failed(fault: QuantityFault) -> EvaluationFault {
    EvaluationFault(fault.to_string())
}

fn leaves(values: &[Value]) -> usize {
    values
        .iter()
        .map(|value| {
            if let Value::List(items) = value {
                leaves(items)
            } else {
                1
            }
        })
        .sum()
}

/// The quantities of lists and single values, in order.
pub(super) fn quantities(values: &[Value]) -> Result<Vec<Quantity>, EvaluationFault> {
    let mut found = Vec::with_capacity(values.len());
    collect(values, &mut found)?;
    if found.is_empty() {
        Err(EvaluationFault("the list is empty".to_owned()))
    } else {
        Ok(found)
    }
}

fn collect(values: &[Value], found: &mut Vec<Quantity>) -> Result<(), EvaluationFault> {
    for value in values {
        match value {
            Value::Quantity(quantity) => found.push(*quantity),
            Value::List(items) => collect(items, found)?,
            _ => {
                return Err(EvaluationFault(
                    "a value that is no single number".to_owned(),
                ));
            }
        }
    }
    Ok(())
}

/// A total order: by the exact numbers when all are exact, else by their nearest floating-point numbers.
fn order(a: &Quantity, b: &Quantity, exact: bool) -> Ordering {
    if exact {
        a.value.compare(&b.value)
    } else {
        a.value.to_f64().total_cmp(&b.value.to_f64())
    }
}

fn extreme(values: &[Value], wanted: Ordering) -> Result<Value, EvaluationFault> {
    if let [Value::Series(series)] = values {
        let items = series.values.iter().map(|value| at(series, *value));
        return extreme_of(&items.collect::<Vec<_>>(), wanted).map(Value::Quantity);
    }
    let mut moments = Vec::new();
    collect_moments(values, &mut moments);
    if !moments.is_empty() {
        let found = if wanted == Ordering::Less {
            moments.iter().min()
        } else {
            moments.iter().max()
        };
        return found
            .map(|moment| Value::Moment(*moment))
            .ok_or_else(no_number);
    }
    extreme_of(&quantities(values)?, wanted).map(Value::Quantity)
}

fn collect_moments(values: &[Value], found: &mut Vec<i64>) {
    for value in values {
        match value {
            Value::Moment(moment) => found.push(*moment),
            Value::List(items) => collect_moments(items, found),
            _ => {}
        }
    }
}

fn extreme_of(items: &[Quantity], wanted: Ordering) -> Result<Quantity, EvaluationFault> {
    let exact = items.iter().all(|item| item.value.is_exact());
    let better = |best: Quantity, item: &Quantity| {
        if order(item, &best, exact) == wanted {
            *item
        } else {
            best
        }
    };
    match items.split_first() {
        Some((first, rest)) => Ok(rest.iter().fold(*first, better)),
        None => Err(EvaluationFault("the list is empty".to_owned())),
    }
}

/// The sum of the numbers; points are taken as the numbers they are.
fn sum(items: &[Quantity]) -> Result<Quantity, EvaluationFault> {
    let (first, rest) = items
        .split_first()
        .ok_or_else(|| EvaluationFault("the list is empty".to_owned()))?;
    let mut total = Quantity {
        point: false,
        ..*first
    };
    for item in rest {
        total = total
            .add(&Quantity {
                point: false,
                ..*item
            })
            .map_err(failed)?;
    }
    Ok(total)
}

pub(super) fn mean(items: &[Quantity]) -> Result<Quantity, EvaluationFault> {
    let point = items.first().is_some_and(|first| first.point);
    let mean = sum(items)?.div(&whole(items.len())).map_err(failed)?;
    Ok(Quantity { point, ..mean })
}

/// One value of a log's column.
pub(super) fn at(series: &Series, value: Number) -> Quantity {
    Quantity {
        value,
        dimension: series.dimension,
        point: series.point,
    }
}

/// The mean over time, with straight lines between the entries.
fn mean_over_time(series: &Series) -> Result<Quantity, EvaluationFault> {
    let count = series.times().len().min(series.values.len());
    let (Some(start), Some(end)) = (
        series.times().first(),
        series.times().get(count.wrapping_sub(1)),
    ) else {
        return Err(EvaluationFault("the log is empty".to_owned()));
    };
    let covered = end.saturating_sub(*start);
    if covered <= 0 {
        return mean(
            &series
                .values
                .iter()
                .map(|value| at(series, *value))
                .collect::<Vec<_>>(),
        );
    }
    // Each entry weighs half the time from the one before it to the one after it.
    let mut total: Option<Quantity> = None;
    for index in 0..count {
        let before = series.times()[index.saturating_sub(1)];
        let after = series.times()[(index + 1).min(count - 1)];
        let weight = usize::try_from(after.saturating_sub(before)).unwrap_or(0);
        let part = Quantity {
            point: false,
            ..at(series, series.values[index])
        }
        .mul(&whole(weight))
        .map_err(failed)?;
        total = Some(match total {
            Some(total) => total.add(&part).map_err(failed)?,
            None => part,
        });
    }
    let twice = usize::try_from(covered)
        .unwrap_or(usize::MAX)
        .saturating_mul(2);
    let total = total
        .ok_or_else(no_number)?
        .div(&whole(twice))
        .map_err(failed)?;
    Ok(Quantity {
        point: series.point,
        ..total
    })
}

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;
    use super::*;
    use crate::plan::value::Axis;
    use std::sync::Arc;

    fn series(times: &[i64], values: &[&str]) -> Value {
        let quantities: Vec<Quantity> = values
            .iter()
            .map(|value| match q(value) {
                Value::Quantity(quantity) => quantity,
                other => panic!("{other:?}"),
            })
            .collect();
        let (dimension, point) = (quantities[0].dimension, quantities[0].point);
        let values = quantities
            .into_iter()
            .map(|quantity| quantity.value)
            .collect();
        Value::Series(Arc::new(Series {
            axis: Axis::Time(times.into()),
            values,
            dimension,
            point,
        }))
    }

    fn exact(function: &str, values: &[Value]) -> bool {
        matches!(run(function, values), Ok(Value::Quantity(quantity)) if quantity.value.is_exact())
    }

    #[test]
    fn six_breakdown_shots() {
        let shots = list(&["68 kV", "74 kV", "71 kV", "66 kV", "73 kV", "70 kV"]);
        near(
            "mean",
            std::slice::from_ref(&shots),
            "kV",
            70.333_333_333,
            1e-6,
        );
        near("median", std::slice::from_ref(&shots), "kV", 70.5, 0.0);
        near("min", std::slice::from_ref(&shots), "kV", 66.0, 0.0);
        near("max", std::slice::from_ref(&shots), "kV", 74.0, 0.0);
        near("sum", std::slice::from_ref(&shots), "kV", 422.0, 0.0);
        near("count", std::slice::from_ref(&shots), "", 6.0, 0.0);
        for function in ["mean", "median", "min", "max", "sum", "spread"] {
            assert!(exact(function, std::slice::from_ref(&shots)), "{function}");
        }
    }

    #[test]
    fn unbalance_of_three_phases() {
        near(
            "spread",
            &[list(&["0.10186 ohm", "0.10203 ohm", "0.10179 ohm"])],
            "",
            0.002_355,
            5e-7,
        );
        near(
            "spread",
            &[list(&["0.5891 ohm", "0.5903 ohm", "0.5884 ohm"])],
            "",
            0.003_22,
            5e-6,
        );
        assert!(
            refused("spread", &[q("-1 mm"), q("1 mm")])
                .to_lowercase()
                .contains("zero")
        );
    }

    #[test]
    fn several_values_and_lists_in_one_call() {
        near("max", &[q("1 mm"), list(&["3 mm", "2 mm"])], "mm", 3.0, 0.0);
        near(
            "mean",
            &[Value::List(Arc::from([
                list(&["1 mm", "2 mm"]),
                list(&["6 mm"]),
            ]))],
            "mm",
            3.0,
            0.0,
        );
        near(
            "median",
            &[
                q("3"),
                q("1"),
                Value::Quantity(Quantity::plain(Number::Approx(2.0))),
            ],
            "",
            2.0,
            0.0,
        );
    }

    #[test]
    fn temperatures_have_a_mean_but_no_sum() {
        near("mean", &[q("20 °C"), q("25 °C")], "°C", 22.5, 1e-9);
        near("max", &[q("20 °C"), q("25 °C")], "°C", 25.0, 1e-9);
        near(
            "median",
            &[q("20 °C"), q("25 °C"), q("60 °C")],
            "°C",
            25.0,
            1e-9,
        );
        let message = refused("sum", &[q("20 °C"), q("25 °C")]);
        assert!(
            message.contains("no temperatures on the scale")
                && message.contains("found a temperature"),
            "{message}"
        );
    }

    #[test]
    fn unlike_values_are_refused() {
        let message = refused("max", &[q("1 mm"), q("1 kg")]);
        assert!(
            message.contains("length") && message.contains("mass"),
            "{message}"
        );
        assert!(refused("min", &[name("HV")]).contains("expected quantities"));
        assert!(refused("mean", &[Value::Moment(0)]).contains("found a date or time"));
        assert!(refused("median", &[series(&[0, 1], &["1 Pa", "2 Pa"])]).contains("log column"));
        assert!(
            refused("count", &[series(&[0, 1], &["1 Pa", "2 Pa"])]).contains("expected a list")
        );
    }

    #[test]
    fn dates_have_a_first_and_a_last() {
        let days = [Value::Moment(86_400), Value::Moment(0)];
        assert!(matches!(run("min", &days), Ok(Value::Moment(0))));
        assert!(matches!(run("max", &days), Ok(Value::Moment(86_400))));
    }

    #[test]
    fn a_log_column_is_weighed_by_time() {
        let log = series(&[0, 10, 110], &["0 Pa", "100 Pa", "100 Pa"]);
        near(
            "mean",
            std::slice::from_ref(&log),
            "Pa",
            (500.0 + 10_000.0) / 110.0,
            1e-9,
        );
        near("max", std::slice::from_ref(&log), "Pa", 100.0, 0.0);
        near("min", std::slice::from_ref(&log), "Pa", 0.0, 0.0);
        assert!(exact("mean", std::slice::from_ref(&log)));
        near(
            "mean",
            &[series(&[0, 60], &["20 °C", "30 °C"])],
            "°C",
            25.0,
            1e-9,
        );
        near("mean", &[series(&[7], &["20 °C"])], "°C", 20.0, 1e-9);
    }
}
