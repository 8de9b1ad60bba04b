//! Functions of a log's column: what it shows over time.

use super::argument::{
    answer_of, fault, kind_type, no_number, number, parameters, quantity, same_count,
};
use super::reduce::at;
use super::{EvaluationFault, Function, TypeFault};
use crate::physics::{moisture, vacuum};
use crate::plan::types::Type;
use crate::plan::value::{Series, Value};
use crate::quantity::{Dimension, Number, Quantity, Rational};
use std::cmp::Ordering;

const SUBJECT: &str = "logs";

/// What a function of time expects where the column runs over something else.
pub(super) const OVER_TIME: &str = "a log column over time";

pub(super) static FIRST: Function = Function {
    name: "first",
    subject: SUBJECT,
    parameters: parameters!["column": "a log column"],
    variadic: false,
    check: |types| column_value(types, 1),
    evaluate: |values| {
        let series = column(values)?;
        series
            .values
            .first()
            .map(|value| Value::Quantity(at(series, *value)))
            .ok_or_else(empty)
    },
    meaning: "The first entry.",
    formula: "",
    source: "the record",
    example: "calc start = first(oven.temperature)",
};

pub(super) static LAST: Function = Function {
    name: "last",
    subject: SUBJECT,
    parameters: parameters!["column": "a log column"],
    variadic: false,
    check: |types| column_value(types, 1),
    evaluate: |values| {
        let series = column(values)?;
        series
            .values
            .last()
            .map(|value| Value::Quantity(at(series, *value)))
            .ok_or_else(empty)
    },
    meaning: "The last entry.",
    formula: "",
    source: "the record",
    example: "require last(vacuum.pressure) <= 133 Pa",
};

pub(super) static DURATION: Function = Function {
    name: "duration",
    subject: SUBJECT,
    parameters: parameters!["column": "a log column"],
    variadic: false,
    check: |types| {
        column_value(types, 1)?;
        Ok(kind_type("time"))
    },
    evaluate: |values| {
        let series = column(values)?;
        match (series.times().first(), series.times().last()) {
            (Some(first), Some(last)) => Ok(seconds(last.saturating_sub(*first))),
            _ => Err(empty()),
        }
    },
    meaning: "The time from the first entry to the last.",
    formula: "t last - t first",
    source: "the record",
    example: "require duration(oven.temperature) >= 24 h",
};

pub(super) static TIME_BELOW: Function = Function {
    name: "time-below",
    subject: SUBJECT,
    parameters: parameters!["column": "a log column", "limit": "the highest value that still counts"],
    variadic: false,
    check: limit_type,
    evaluate: |values| longest(values, Ordering::Greater),
    meaning: "The longest time without a break in which every entry lies at or below the limit. Time \
        between two entries counts when both keep the limit.",
    formula: "",
    source: "the record",
    example: "require time-below(vacuum.pressure, 133 Pa) >= 24 h",
};

pub(super) static TIME_ABOVE: Function = Function {
    name: "time-above",
    subject: SUBJECT,
    parameters: parameters!["column": "a log column", "limit": "the lowest value that still counts"],
    variadic: false,
    check: limit_type,
    evaluate: |values| longest(values, Ordering::Less),
    meaning: "The longest time without a break in which every entry lies at or above the limit. Time \
        between two entries counts when both keep the limit.",
    formula: "",
    source: "the record",
    example: "require time-above(oven.temperature, 105 °C) >= 6 h",
};

pub(super) static RATE: Function = Function {
    name: "rate",
    subject: SUBJECT,
    parameters: parameters!["column": "a log column", "window": "how much of the log, from its end"],
    variadic: false,
    check: |types| match window_type(types)? {
        Type::Quantity { dimension, .. } => Ok(Type::quantity(dimension.div(Dimension::TIME))),
        other => Ok(other),
    },
    evaluate: |values| {
        let series = column(values)?;
        let start = window_start(series, number(values, 1)?)?;
        slope(series, start)
    },
    meaning: "How fast the values change at the end of the log; negative when they fall.",
    formula: "slope of the straight line with least squares through the entries of the window",
    source: "arithmetic",
    example: "require rate(heat-run.top-oil, 3 h) <= 1 K/h",
};

pub(super) static DROP: Function = Function {
    name: "drop",
    subject: SUBJECT,
    parameters: parameters!["column": "a log column", "window": "how much of the log, from its end"],
    variadic: false,
    check: |types| match window_type(types)? {
        Type::Quantity { dimension, .. } => Ok(Type::quantity(dimension)),
        other => Ok(other),
    },
    evaluate: |values| {
        let series = column(values)?;
        let start = window_start(series, number(values, 1)?)?;
        match (series.values.get(start), series.values.last()) {
            (Some(first), Some(last)) => {
                let difference = at(series, *first).sub(&at(series, *last));
                difference
                    .map(Value::Quantity)
                    .map_err(|fault| EvaluationFault(fault.to_string()))
            }
            _ => Err(empty()),
        }
    },
    meaning: "How much the values fell in the last part of the log; negative when they rose.",
    formula: "first of the window - last",
    source: "arithmetic",
    example: "require drop(leak-test.pressure, 24 h) <= 1 kPa",
};

pub(super) static DECAY_CONSTANT: Function = Function {
    name: "decay-constant",
    subject: SUBJECT,
    parameters: parameters!["column": "a log column", "window": "how much of the log, from its end"],
    variadic: false,
    check: |types| {
        if let Type::Quantity { point: true, .. } = window_type(types)? {
            return Err(fault(
                0,
                "a log column that holds no temperatures on the scale (°C)",
                &types[0],
            ));
        }
        Ok(kind_type("time"))
    },
    evaluate: |values| {
        let series = column(values)?;
        let start = window_start(series, number(values, 1)?)?;
        let points = pairs(series, start)?;
        answer_of("time", moisture::decay_constant(&points))
    },
    meaning: "The time in which falling values, such as the rate of drying, come down to 37 %. For the whole \
        log write its duration as the window.",
    formula: "-1 / slope of the straight line with least squares through ln(value) over time",
    source: "arithmetic",
    example: "calc constant = decay-constant(oven.rate, 24 h)",
};

pub(super) static BEND_OF_RISE: Function = Function {
    name: "bend-of-rise",
    subject: SUBJECT,
    parameters: parameters!["column": "a log column of the pressure with the pumps shut off"],
    variadic: false,
    check: |types| match column_value(types, 1)? {
        ty if ty == Type::Unknown || ty == kind_type("pressure") => Ok(kind_type("ratio")),
        _ => Err(fault(0, "a log column of pressure", &types[0])),
    },
    evaluate: |values| {
        let points = pairs(column(values)?, 0)?;
        answer_of("ratio", vacuum::bend_of_rise(&points))
    },
    meaning: "How far a rising pressure bends: near 0 it is a leak, clearly negative it is water vapour.",
    formula: "slope of the later half / slope of the earlier half - 1",
    source: "a published leak-test guide for the fact; the measure: common practice, no source",
    example: "require bend-of-rise(leak-test.pressure) >= -0.2",
};

/// The type of one value of the column that stands first.
fn column_value(types: &[Type], count: usize) -> Result<Type, TypeFault> {
    same_count(types, count)?;
    match &types[0] {
        Type::Series {
            dimension,
            point,
            over: None,
        } => Ok(Type::Quantity {
            dimension: *dimension,
            point: *point,
        }),
        Type::Unknown => Ok(Type::Unknown),
        other @ Type::Series { .. } => Err(fault(0, OVER_TIME, other)),
        other => Err(fault(0, "a log column", other)),
    }
}

fn limit_type(types: &[Type]) -> Result<Type, TypeFault> {
    let value = column_value(types, 2)?;
    if value != Type::Unknown && types[1] != Type::Unknown && types[1] != value {
        return Err(fault(1, format!("{value}, as the column is"), &types[1]));
    }
    Ok(kind_type("time"))
}

fn window_type(types: &[Type]) -> Result<Type, TypeFault> {
    let value = column_value(types, 2)?;
    if types[1] != Type::Unknown && types[1] != kind_type("time") {
        return Err(fault(1, "a time", &types[1]));
    }
    Ok(value)
}

fn column(values: &[Value]) -> Result<&Series, EvaluationFault> {
    match values.first() {
        Some(Value::Series(series))
            if series.values.is_empty() || series.times().len() != series.values.len() =>
        {
            Err(empty())
        }
        Some(Value::Series(series)) => Ok(series),
        _ => Err(EvaluationFault("a value that is no log column".to_owned())),
    }
}

fn empty() -> EvaluationFault {
    EvaluationFault("the log is empty".to_owned())
}

fn seconds(count: i64) -> Value {
    let value = Number::Exact(Rational::whole(count));
    Value::Quantity(Quantity {
        value,
        dimension: Dimension::TIME,
        point: false,
    })
}

/// The longest unbroken run of entries that do not stand to the limit as `beyond` says.
fn longest(values: &[Value], beyond: Ordering) -> Result<Value, EvaluationFault> {
    let series = column(values)?;
    let limit = quantity(values, 1)?.value;
    let mut best = 0;
    let mut since = None;
    for (time, value) in series.times().iter().zip(&series.values) {
        if value.compare(&limit) == beyond {
            since = None;
            continue;
        }
        let start = *since.get_or_insert(*time);
        best = best.max(time.saturating_sub(start));
    }
    Ok(seconds(best))
}

/// The first entry of the window at the end of the log.
fn window_start(series: &Series, window: f64) -> Result<usize, EvaluationFault> {
    if window <= 0.0 {
        return Err(EvaluationFault(
            "the window must be longer than no time".to_owned(),
        ));
    }
    let (Some(first), Some(last)) = (series.times().first(), series.times().last()) else {
        return Err(empty());
    };
    let age = |time: i64| last.saturating_sub(time) as f64;
    if age(*first) < window {
        let covered = age(*first) / 3600.0;
        let asked = window / 3600.0;
        return Err(EvaluationFault(format!(
            "the log covers {} h, less than the window of {} h",
            short(covered),
            short(asked)
        )));
    }
    Ok(series.times().partition_point(|time| age(*time) > window))
}

/// A number of hours for a message.
fn short(hours: f64) -> String {
    crate::quantity::format_number(Number::Approx(hours), 3)
}

/// Pairs of time (s, counted from the first entry of all) and value, from `start` on.
fn pairs(series: &Series, start: usize) -> Result<Vec<(f64, f64)>, EvaluationFault> {
    let origin = *series.times().first().ok_or_else(empty)?;
    let entries = series.times().iter().zip(&series.values).skip(start);
    Ok(entries
        .map(|(time, value)| (time.saturating_sub(origin) as f64, value.to_f64()))
        .collect())
}

fn slope(series: &Series, start: usize) -> Result<Value, EvaluationFault> {
    let last = *series.times().last().ok_or_else(empty)?;
    let points: Vec<(f64, f64)> = series
        .times()
        .iter()
        .zip(&series.values)
        .skip(start)
        .map(|(time, value)| (time.saturating_sub(last) as f64, value.to_f64()))
        .collect();
    let count = points.len() as f64;
    let mean_time = points.iter().map(|(time, _)| time).sum::<f64>() / count;
    let mean_value = points.iter().map(|(_, value)| value).sum::<f64>() / count;
    let (mut above, mut below) = (0.0, 0.0);
    for (time, value) in points {
        above += (time - mean_time) * (value - mean_value);
        below += (time - mean_time) * (time - mean_time);
    }
    if below == 0.0 {
        return Err(EvaluationFault(
            "the window holds fewer than two entries".to_owned(),
        ));
    }
    let slope = above / below;
    if !slope.is_finite() {
        return Err(no_number());
    }
    let dimension = series.dimension.div(Dimension::TIME);
    Ok(Value::Quantity(Quantity {
        value: Number::Approx(slope),
        dimension,
        point: false,
    }))
}

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;
    use super::*;
    use crate::plan::value::Axis;
    use std::sync::Arc;

    /// One entry an hour.
    fn hourly(unit: &str, values: &[&str]) -> Value {
        let quantities = values
            .iter()
            .map(|value| match q(&format!("{value} {unit}")) {
                Value::Quantity(quantity) => quantity,
                other => panic!("{other:?}"),
            });
        let quantities: Vec<Quantity> = quantities.collect();
        let times: Vec<i64> = (0..values.len())
            .map(|hour| 1_750_000_000 + hour as i64 * 3600)
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

    #[test]
    fn ends_and_length() {
        let log = hourly("°C", &["20", "60", "105"]);
        near("first", std::slice::from_ref(&log), "°C", 20.0, 1e-9);
        near("last", std::slice::from_ref(&log), "°C", 105.0, 1e-9);
        near("duration", std::slice::from_ref(&log), "h", 2.0, 0.0);
        assert!(refused("first", &[q("1 mm")]).contains("expected a log column, found length"));
    }

    #[test]
    fn the_longest_unbroken_time_counts() {
        let log = hourly(
            "Pa",
            &["300", "133", "120", "140", "133", "100", "90", "80"],
        );
        near("time-below", &[log.clone(), q("133 Pa")], "h", 3.0, 0.0);
        near("time-below", &[log.clone(), q("10 Pa")], "h", 0.0, 0.0);
        near("time-below", &[log.clone(), q("1 kPa")], "h", 7.0, 0.0);
        near("time-above", &[log.clone(), q("133 Pa")], "h", 1.0, 0.0);
        let heat = hourly("°C", &["100", "105", "106", "104"]);
        near("time-above", &[heat.clone(), q("105 °C")], "h", 1.0, 0.0);
        let message = refused("time-above", &[heat, q("105 K")]);
        assert!(
            message.contains("expected a temperature") && message.contains("as the column is"),
            "{message}"
        );
        assert!(refused("time-below", &[log, q("1 mm")]).contains("found length"));
    }

    #[test]
    fn slope_and_fall_over_the_end_of_the_log() {
        let oil = hourly("°C", &["20", "50", "60", "60.5", "61", "61.5"]);
        near("rate", &[oil.clone(), q("3 h")], "K/h", 0.5, 1e-9);
        near("drop", &[oil.clone(), q("3 h")], "K", -1.5, 1e-9);
        assert!(
            refused("rate", &[oil.clone(), q("6 h")])
                .contains("covers 5 h, less than the window of 6 h")
        );
        assert!(refused("rate", &[oil.clone(), q("10 min")]).contains("fewer than two"));
        assert!(refused("drop", &[oil.clone(), q("0 h")]).contains("longer than no time"));
        assert!(refused("rate", &[oil, q("3 K")]).contains("expected a time"));
        let rate = hourly("g/h/t", &["40", "24", "14.4"]);
        near("drop", &[rate, q("2 h")], "g/h/t", 25.6, 1e-9);
    }

    /// One entry every six hours.
    fn slowly(unit: &str, values: &[&str]) -> Value {
        match hourly(unit, values) {
            Value::Series(series) => {
                let first = series.times()[0];
                let times = series.times().iter().map(|time| first + 6 * (time - first));
                Value::Series(Arc::new(Series {
                    axis: Axis::Time(times.collect()),
                    ..(*series).clone()
                }))
            }
            other => panic!("{other:?}"),
        }
    }

    #[test]
    fn a_drying_rate_that_falls() {
        let rates = slowly("g/h/t", &["40", "24", "14.4", "8.6", "5.2"]);
        near(
            "decay-constant",
            &[rates.clone(), q("24 h")],
            "h",
            11.749,
            5e-4,
        );
        assert!(
            refused("decay-constant", &[rates.clone(), q("25 h")])
                .contains("covers 24 h, less than the window of 25 h")
        );
        assert!(refused("decay-constant", &[rates, q("1 h")]).contains("two readings"));
        let dry = slowly("g/h/t", &["4", "2", "0"]);
        assert!(refused("decay-constant", &[dry, q("12 h")]).contains("above zero"));
        let rising = slowly("g/h/t", &["4", "5"]);
        assert!(refused("decay-constant", &[rising, q("6 h")]).contains("do not fall"));
        let oven = slowly("°C", &["110", "105"]);
        assert!(refused("decay-constant", &[oven, q("6 h")]).contains("no temperatures"));
    }

    #[test]
    fn a_straight_rise_and_a_bent_one() {
        let leak = hourly("Pa", &["100", "110", "120", "130", "140"]);
        near("bend-of-rise", &[leak], "", 0.0, 1e-12);
        let vapour = hourly("Pa", &["100", "120", "130", "132", "133"]);
        near("bend-of-rise", &[vapour], "", -0.9, 1e-12);
        let short = hourly("Pa", &["100", "110", "120"]);
        assert!(refused("bend-of-rise", &[short]).contains("at least four readings"));
        let oven = hourly("°C", &["20", "30", "40", "50"]);
        assert!(refused("bend-of-rise", &[oven]).contains("expected a log column of pressure"));
    }
}
