//! Functions of a log's column over another quantity than time: a curve.

use super::argument::{answer_of, fault, kind_type, no_number, parameters, quantity, same_count};
use super::reduce::at;
use super::{EvaluationFault, Function, TypeFault};
use crate::physics::Domain;
use crate::physics::{curve, frequency_response};
use crate::plan::types::Type;
use crate::plan::value::{Axis, Series, Value};
use crate::quantity::{Dimension, Number, Quantity, format_readable};

/// Fewest points of a band that a shape can be judged by.
const FEWEST: usize = 3;

pub(super) static VALUE_ON: Function = Function {
    name: "value-on",
    subject: "logs",
    parameters: parameters![
        "column": "a log column over another quantity than time",
        "x": "where to read it off, a quantity as the log runs over",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 2)?;
        let (value, over) = match &types[0] {
            Type::Unknown => return Ok(Type::Unknown),
            Type::Series {
                dimension,
                point,
                over: Some(over),
            } => {
                let value = Type::Quantity {
                    dimension: *dimension,
                    point: *point,
                };
                (value, Type::quantity(*over))
            }
            other => {
                return Err(fault(
                    0,
                    "a log column over another quantity than time",
                    other,
                ));
            }
        };
        if types[1] != Type::Unknown && types[1] != over {
            return Err(fault(1, format!("{over}, as the log runs over"), &types[1]));
        }
        Ok(value)
    },
    evaluate: |values| {
        let curve = Curve::of(values, 0)?;
        let x = quantity(values, 1)?;
        let (Some(first), Some(last)) = (curve.points.first(), curve.points.last()) else {
            return Err(empty());
        };
        if x.value.compare(first).is_lt() || x.value.compare(last).is_gt() {
            return Err(EvaluationFault(format!(
                "{} lies outside the log, which runs from {} to {}",
                format_readable(x, 6),
                curve.shown(*first),
                curve.shown(*last)
            )));
        }
        // What equals an end but for the rounding of its last digits is that end.
        let inside = x.value.to_f64().max(first.to_f64()).min(last.to_f64());
        let value = curve.value(inside).map_err(no_value)?;
        if !value.is_finite() {
            return Err(no_number());
        }
        Ok(Value::Quantity(at(curve.series, Number::Approx(value))))
    },
    meaning: "The value of a column at one point of what its log runs over, between two entries on the straight line \
        through them. Of a log over frequency the line is straight over the logarithm of the frequency. Outside \
        the log there is no result.",
    formula: "y1 + (y2 - y1) (x - x1) / (x2 - x1); over frequency with ln x in place of x",
    source: "arithmetic",
    example: "require value-on(response.magnitude[HV-U], 10 kHz) <= -20 dB",
};

pub(super) static BAND_FACTOR: Function = Function {
    name: "band-factor",
    subject: "frequency response",
    parameters: parameters![
        "column": "a log column of levels (dB) over frequency",
        "reference": "another one, such as the sweep taken in the works",
        "from": "lower end of the band",
        "to": "upper end of the band",
    ],
    variadic: false,
    check: |types| band_type(types, "number"),
    evaluate: |values| band(values, "number", frequency_response::correlation_factor),
    meaning: "The correlation factor R of two responses within a band, at most 10: of the entries of the first column \
        that lie in the band and what the reference has at their frequencies, between its own entries on a line \
        straight over the logarithm of the frequency. There is no result with fewer than 3 entries in the band, or \
        where the reference does not cover it.",
    formula: "-lg(1 - response-correlation)",
    source: "DL/T 911, from memory",
    example: "calc low = band-factor(response.magnitude[HV-U], works.response.magnitude[HV-U], 1 kHz, 100 kHz)",
};

pub(super) static BAND_DIFFERENCE: Function = Function {
    name: "band-difference",
    subject: "frequency response",
    parameters: parameters![
        "column": "a log column of levels (dB) over frequency",
        "reference": "another one, such as the sweep taken in the works",
        "from": "lower end of the band",
        "to": "upper end of the band",
    ],
    variadic: false,
    check: |types| band_type(types, "attenuation"),
    evaluate: |values| band(values, "attenuation", frequency_response::mean_difference),
    meaning: "The mean difference of two responses within a band, without its sign: of the entries of the first column \
        that lie in the band and what the reference has at their frequencies, as `band-factor` takes them.",
    formula: "(|x1 - y1| + … + |xn - yn|) / n",
    source: "arithmetic",
    example: "require band-difference(after.magnitude, before.magnitude, 1 kHz, 1 MHz) <= 1 dB",
};

/// A column with the points that it stands over.
struct Curve<'v> {
    series: &'v Series,
    points: &'v [Number],
    over: Dimension,
    /// The points as plain numbers, for reading off between them.
    plain: Vec<f64>,
    values: Vec<f64>,
}

impl<'v> Curve<'v> {
    fn of(values: &'v [Value], index: usize) -> Result<Curve<'v>, EvaluationFault> {
        let Some(Value::Series(series)) = values.get(index) else {
            return Err(EvaluationFault("a value that is no log column".to_owned()));
        };
        let Axis::Quantity { points, dimension } = &series.axis else {
            return Err(EvaluationFault(
                "a log column that runs over time".to_owned(),
            ));
        };
        if series.values.is_empty() || series.values.len() != points.len() {
            return Err(empty());
        }
        Ok(Curve {
            series,
            points,
            over: *dimension,
            plain: points.iter().map(Number::to_f64).collect(),
            values: series.values.iter().map(Number::to_f64).collect(),
        })
    }

    fn value(&self, x: f64) -> Result<f64, Domain> {
        let logarithmic = kind_type("frequency") == Type::quantity(self.over);
        curve::value_on(&self.plain, &self.values, x, logarithmic)
    }

    /// A point of the axis for a message.
    fn shown(&self, point: Number) -> String {
        let quantity = Quantity {
            value: point,
            dimension: self.over,
            point: false,
        };
        format_readable(&quantity, 6)
    }
}

fn empty() -> EvaluationFault {
    EvaluationFault("the log is empty".to_owned())
}

fn no_value(fault: Domain) -> EvaluationFault {
    EvaluationFault(fault.to_string())
}

/// Matches two responses and the ends of a band.
fn band_type(types: &[Type], result: &str) -> Result<Type, TypeFault> {
    same_count(types, 4)?;
    let (level, frequency) = (kind_type("attenuation"), kind_type("frequency"));
    for (index, ty) in types.iter().enumerate() {
        let fits = match ty {
            Type::Unknown => true,
            Type::Series {
                dimension,
                point,
                over: Some(over),
            } if index < 2 => {
                let value = Type::Quantity {
                    dimension: *dimension,
                    point: *point,
                };
                value == level && Type::quantity(*over) == frequency
            }
            other => index >= 2 && *other == frequency,
        };
        if !fits {
            let expected = if index < 2 {
                "a log column of levels (dB) over frequency"
            } else {
                "a frequency"
            };
            return Err(fault(index, expected, ty));
        }
    }
    Ok(kind_type(result))
}

/// Computes a measure of two responses over the entries of the first one in a band.
fn band(
    values: &[Value],
    kind: &str,
    measure: fn(&[f64], &[f64]) -> Result<f64, Domain>,
) -> Result<Value, EvaluationFault> {
    let (column, reference) = (Curve::of(values, 0)?, Curve::of(values, 1)?);
    let (from, to) = (quantity(values, 2)?, quantity(values, 3)?);
    let shown = || format!("{} to {}", format_readable(from, 6), format_readable(to, 6));
    // A sweep that broke off early must not pass by the part it has.
    for (what, curve) in [("log", &column), ("reference", &reference)] {
        let (Some(first), Some(last)) = (curve.points.first(), curve.points.last()) else {
            return Err(empty());
        };
        if first.compare(&from.value).is_gt() || last.compare(&to.value).is_lt() {
            return Err(EvaluationFault(format!(
                "the {what} runs from {} to {} and does not cover the band from {}",
                curve.shown(*first),
                curve.shown(*last),
                shown()
            )));
        }
    }
    let (Some(first), Some(last)) = (reference.points.first(), reference.points.last()) else {
        return Err(empty());
    };
    let (mut own, mut other) = (Vec::new(), Vec::new());
    let start = column
        .points
        .partition_point(|point| point.compare(&from.value).is_lt());
    for (index, point) in column.points.iter().enumerate().skip(start) {
        if point.compare(&to.value).is_gt() {
            break;
        }
        let inside = column.plain[index].max(first.to_f64()).min(last.to_f64());
        own.push(column.values[index]);
        other.push(reference.value(inside).map_err(no_value)?);
    }
    if own.len() < FEWEST {
        return Err(EvaluationFault(format!(
            "the log has {} entries in the band from {}, fewer than {FEWEST}",
            own.len(),
            shown()
        )));
    }
    answer_of(kind, measure(&own, &other))
}

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;
    use super::*;
    use std::sync::Arc;

    /// A column over another quantity, from pairs such as ("1 kHz", "-20 dB").
    fn curve(entries: &[(&str, &str)]) -> Value {
        let quantity = |text: &str| match q(text) {
            Value::Quantity(quantity) => quantity,
            other => panic!("{other:?}"),
        };
        let over = quantity(entries[0].0).dimension;
        let first = quantity(entries[0].1);
        let points = entries.iter().map(|(point, _)| quantity(point).value);
        Value::Series(Arc::new(Series {
            axis: Axis::Quantity {
                points: points.collect(),
                dimension: over,
            },
            values: entries
                .iter()
                .map(|(_, value)| quantity(value).value)
                .collect(),
            dimension: first.dimension,
            point: first.point,
        }))
    }

    fn over_time() -> Value {
        Value::Series(Arc::new(Series {
            axis: Axis::Time([0, 60].into()),
            values: [q("-1 dB"), q("-2 dB")]
                .iter()
                .filter_map(|value| match value {
                    Value::Quantity(quantity) => Some(quantity.value),
                    _ => None,
                })
                .collect(),
            dimension: match q("1 dB") {
                Value::Quantity(quantity) => quantity.dimension,
                other => panic!("{other:?}"),
            },
            point: false,
        }))
    }

    #[test]
    fn a_value_between_two_entries() {
        let response = curve(&[
            ("1 kHz", "-20 dB"),
            ("100 kHz", "-40 dB"),
            ("1 MHz", "-10 dB"),
        ]);
        let at = |x: &str| [response.clone(), q(x)];
        near("value-on", &at("10 kHz"), "dB", -30.0, 1e-9);
        near("value-on", &at("1 kHz"), "dB", -20.0, 0.0);
        near("value-on", &at("1000000 Hz"), "dB", -10.0, 0.0);
        let message = refused("value-on", &at("999 Hz"));
        assert!(
            message.contains("999 Hz lies outside the log, which runs from 1 kHz to 1 MHz"),
            "{message}"
        );
        assert!(refused("value-on", &at("1001 kHz")).contains("lies outside"));
        assert!(refused("value-on", &at("1 mm")).contains(", as the log runs over, found length"));
        let oil = curve(&[("10 K", "20 °C"), ("20 K", "30 °C")]);
        near("value-on", &[oil, q("15 K")], "°C", 25.0, 1e-9);
        assert!(
            refused("value-on", &[over_time(), q("1 kHz")])
                .starts_with("expected a log column over another quantity than time")
        );
        let still = curve(&[("0 Hz", "0 dB"), ("10 Hz", "-10 dB")]);
        assert!(refused("value-on", &[still, q("5 Hz")]).contains("above zero"));
    }

    const SWEEP: [(&str, &str); 5] = [
        ("1 kHz", "-10 dB"),
        ("2 kHz", "-20 dB"),
        ("4 kHz", "-35 dB"),
        ("8 kHz", "-50 dB"),
        ("16 kHz", "-42 dB"),
    ];

    fn band_of(column: &[(&str, &str)], reference: &[(&str, &str)], ends: [&str; 2]) -> [Value; 4] {
        [curve(column), curve(reference), q(ends[0]), q(ends[1])]
    }

    #[test]
    fn two_sweeps_held_against_each_other_in_a_band() {
        let other = [
            ("1 kHz", "-11 dB"),
            ("2 kHz", "-20.5 dB"),
            ("4 kHz", "-34 dB"),
            ("8 kHz", "-52 dB"),
            ("16 kHz", "-41 dB"),
        ];
        let whole = band_of(&SWEEP, &other, ["1 kHz", "16 kHz"]);
        near("band-factor", &whole, "", 2.493, 5e-4);
        near("band-difference", &whole, "dB", 1.1, 1e-9);
        // The ends of the band are part of it; what lies beyond is left out.
        let part = band_of(&SWEEP, &other, ["2 kHz", "8 kHz"]);
        near("band-difference", &part, "dB", 3.5 / 3.0, 1e-9);
        // A reference with other frequencies is read off between its entries: here on one straight line.
        let line = [("1 kHz", "0 dB"), ("16 kHz", "-40 dB")];
        let between = band_of(&SWEEP, &line, ["1 kHz", "16 kHz"]);
        near("band-difference", &between, "dB", 57.0 / 5.0, 1e-9);
        let same = band_of(&SWEEP, &SWEEP, ["1 kHz", "16 kHz"]);
        near("band-factor", &same, "", 10.0, 0.0);
    }

    #[test]
    fn a_band_without_enough_entries_or_reference() {
        for function in ["band-factor", "band-difference"] {
            let few = band_of(&SWEEP, &SWEEP, ["2 kHz", "7 kHz"]);
            let message = refused(function, &few);
            assert!(
                message.contains("2 entries in the band from 2 kHz to 7 kHz, fewer than 3"),
                "{message}"
            );
            let beyond = band_of(&SWEEP, &SWEEP[1..], ["1 kHz", "16 kHz"]);
            let message = refused(function, &beyond);
            assert!(
                message.contains("the reference runs from 2 kHz to 16 kHz and does not cover the band from 1 kHz to 16 kHz"),
                "{message}"
            );
            let broken_off = band_of(&SWEEP[..SWEEP.len() - 1], &SWEEP, ["1 kHz", "16 kHz"]);
            let message = refused(function, &broken_off);
            assert!(message.contains("the log runs from 1 kHz to "), "{message}");
            let turned = band_of(&SWEEP, &SWEEP, ["16 kHz", "1 kHz"]);
            assert!(refused(function, &turned).contains("0 entries"));
            let args = [over_time(), curve(&SWEEP), q("1 kHz"), q("2 kHz")];
            assert!(
                refused(function, &args)
                    .starts_with("expected a log column of levels (dB) over frequency")
            );
            let args = [curve(&SWEEP), curve(&SWEEP), q("1 kHz"), q("2 m")];
            assert!(refused(function, &args).contains("expected a frequency, found length"));
        }
        let flat = [("1 kHz", "-3 dB"), ("2 kHz", "-3 dB"), ("4 kHz", "-3 dB")];
        let message = refused("band-factor", &band_of(&flat, &SWEEP, ["1 kHz", "4 kHz"]));
        assert!(message.contains("a response is constant"), "{message}");
    }

    #[test]
    fn functions_of_time_refuse_a_curve() {
        let response = curve(&SWEEP);
        let alone = ["first", "last", "duration", "mean", "bend-of-rise"];
        let limited = ["time-below", "time-above"];
        let windowed = ["rate", "drop", "decay-constant"];
        let off = ["shutdown-value", "shutdown-constant"];
        let calls = alone
            .iter()
            .map(|name| (name, None))
            .chain(limited.iter().map(|name| (name, Some(q("-20 dB")))))
            .chain(windowed.iter().map(|name| (name, Some(q("1 h")))))
            .chain(off.iter().map(|name| (name, Some(Value::Moment(0)))));
        for (function, second) in calls {
            let mut arguments = vec![response.clone()];
            arguments.extend(second);
            let message = refused(function, &arguments);
            assert!(
                message.starts_with("expected a log column over time, found a log column of")
                    && message.contains("over frequency"),
                "{function}: {message}"
            );
        }
        near("max", std::slice::from_ref(&response), "dB", -10.0, 0.0);
        near("min", std::slice::from_ref(&response), "dB", -50.0, 0.0);
    }
}
