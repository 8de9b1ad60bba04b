//! Temperature rise.

use super::argument::{
    answer, celsius, fault, fixed, kind_type, no_number, number, numbers, parameters,
    plain_function, resistance_constant, same_count, temperature, whole,
};
use super::series::OVER_TIME;
use super::{EvaluationFault, Function, TypeFault};
use crate::physics::thermal;
use crate::plan::types::Type;
use crate::plan::value::Value;
use crate::quantity::{Number, Quantity};

const SUBJECT: &str = "temperature rise";

pub(super) static WINDING_TEMPERATURE: Function = Function {
    name: "winding-temperature",
    subject: SUBJECT,
    parameters: parameters![
        "r-cold": "resistance of the cold winding",
        "theta-cold": "its temperature then",
        "r-hot": "resistance of the hot winding, extrapolated to the moment of switching off",
        "conductor": "copper or aluminium, or the constant K of the resistance law (234.5 K for copper in IEEE tests)",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["resistance", "temperature", "resistance", "conductor"],
            "temperature",
        )
    },
    evaluate: |values| {
        let constant = resistance_constant(values, 3)?;
        let (cold, theta, hot) = (number(values, 0)?, celsius(values, 1)?, number(values, 2)?);
        let hot = thermal::winding_temperature(cold, theta, hot, constant);
        temperature(hot.map_err(|fault| EvaluationFault(fault.to_string()))?)
    },
    meaning: "The mean temperature of a winding, from its resistance cold and hot.",
    formula: "r-hot / r-cold (K + theta-cold) - K, K = 235 for copper, 225 for aluminium",
    source: "IEC 60076-2:2011, from memory",
    example: "winding-temperature(0.5840 ohm, 20 °C, 0.70400 ohm, \"copper\") -> 72.3973 °C",
};

pub(super) static HOT_SPOT: Function = Function {
    name: "hot-spot",
    subject: SUBJECT,
    parameters: parameters![
        "top-oil-rise": "rise of the top oil over the ambient temperature",
        "gradient": "mean winding over mean oil, at rated current",
        "factor": "hot-spot factor; 1.3 where none was designed",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["temperature-rise", "temperature-rise", "ratio"],
            "temperature-rise",
        )
    },
    evaluate: |values| {
        let (oil, gradient) = (number(values, 0)?, number(values, 1)?);
        answer(
            "temperature-rise",
            thermal::hot_spot_rise(oil, gradient, number(values, 2)?),
        )
    },
    meaning: "The rise of the hottest spot of a winding over the ambient temperature.",
    formula: "top-oil-rise + factor gradient",
    source: "IEC 60076-2:2011, from memory",
    example: "hot-spot(50.81 K, 16.00 K, 1.3) -> 71.61 K",
};

plain_function!(
    OIL_RISE_CORRECTED = "oil-rise-corrected" in SUBJECT,
    [
        "rise" rise: "temperature-rise" = "rise of the oil in the test",
        "p-total" total: "power" = "total loss",
        "p-test" test: "power" = "loss that was fed",
        "exponent" exponent: "number" = "0.8 or 0.9 natural, 1.0 forced flow of oil",
    ] -> "temperature-rise",
    thermal::oil_rise_corrected(rise, total, test, exponent),
    "The rise of the oil at the full loss; holds where the loss fed is within 20 % of it.",
    "rise (p-total / p-test)^exponent", "IEC 60076-2:2011, 7.13, from memory",
    "oil-rise-corrected(49.3 K, 202.665 kW, 196 kW, 0.9) -> 50.8063 K",
);

plain_function!(
    GRADIENT_CORRECTED = "gradient-corrected" in SUBJECT,
    [
        "gradient" gradient: "temperature-rise" = "mean winding over mean oil in the test",
        "i-rated" rated: "current" = "rated current",
        "i-test" test: "current" = "current that was fed",
        "exponent" exponent: "number" = "1.6, or 2.0 for directed flow of oil",
    ] -> "temperature-rise",
    thermal::gradient_corrected(gradient, rated, test, exponent),
    "The gradient between winding and oil at rated current.", "gradient (i-rated / i-test)^exponent",
    "IEC 60076-2:2011, 7.13, from memory",
    "gradient-corrected(15.40 K, 209.95 A, 205 A, 1.6) -> 15.9993 K",
);

plain_function!(
    ALTITUDE_REDUCTION = "altitude-reduction" in SUBJECT,
    [
        "altitude" altitude: "length" = "height above sea level",
        "per-kelvin" metres: "length" = "400 m natural air, 250 m forced air",
    ] -> "temperature-rise",
    thermal::altitude_reduction(altitude, metres),
    "By how much the limit of a rise falls above 1000 m.", "(altitude - 1000 m) / per-kelvin",
    "IEC 60076-2, from memory", "altitude-reduction(1800 m, 400 m) -> 2 K",
);

/// The readings of a cooling curve as pairs of seconds since shutdown and value: two lists, or a log column and
/// the moment of shutdown.
fn cooling(values: &[Value]) -> Result<Vec<(f64, f64)>, EvaluationFault> {
    match values {
        [Value::Series(series), Value::Moment(off)] => Ok(series
            .times()
            .iter()
            .zip(&series.values)
            .map(|(time, value)| (time.saturating_sub(*off) as f64, value.to_f64()))
            // A logger may have been started while the current still flowed.
            .filter(|(since, _)| *since > 0.0)
            .collect()),
        _ => {
            let (readings, times) = (numbers(values, 0)?, numbers(values, 1)?);
            if readings.len() != times.len() {
                return Err(EvaluationFault(format!(
                    "{} values and {} times: each value needs its time",
                    readings.len(),
                    times.len()
                )));
            }
            Ok(times.into_iter().zip(readings).collect())
        }
    }
}

/// The curve through the readings, with the falling oil.
fn cooling_fit(values: &[Value]) -> Result<thermal::Cooling, EvaluationFault> {
    thermal::extrapolate_to_shutdown(&cooling(values)?, true)
        .map_err(|fault| EvaluationFault(fault.to_string()))
}

/// The type of the readings, where they come with times or with the moment of shutdown.
fn cooling_type(types: &[Type]) -> Result<Type, TypeFault> {
    same_count(types, 2)?;
    match (&types[0], &types[1]) {
        (Type::Unknown, _) | (_, Type::Unknown) => Ok(Type::Unknown),
        (over @ Type::Series { over: Some(_), .. }, _) => Err(fault(0, OVER_TIME, over)),
        (
            Type::Series {
                dimension, point, ..
            },
            Type::Moment,
        ) => Ok(Type::Quantity {
            dimension: *dimension,
            point: *point,
        }),
        (Type::Series { .. }, other) => Err(fault(1, "the moment of switching off", other)),
        (Type::List(element), Type::List(time)) => {
            if !matches!(**element, Type::Quantity { .. } | Type::Unknown) {
                return Err(fault(0, "a list of quantities", &types[0]));
            }
            if **time != kind_type("time") && **time != Type::Unknown {
                return Err(fault(1, "a list of times since switching off", &types[1]));
            }
            Ok((**element).clone())
        }
        (Type::List(_), other) => Err(fault(1, "a list of times since switching off", other)),
        (other, _) => Err(fault(0, "a log column or a list of readings", other)),
    }
}

pub(super) static SHUTDOWN_VALUE: Function = Function {
    name: "shutdown-value",
    subject: SUBJECT,
    parameters: parameters![
        "readings": "a log column, or a list of readings after switching off",
        "off": "the moment of switching off, or a list of the times since then",
    ],
    variadic: false,
    check: cooling_type,
    evaluate: |values| {
        let (dimension, point) = match values.first() {
            Some(Value::Series(series)) => (series.dimension, series.point),
            Some(Value::List(items)) => match items.first() {
                Some(Value::Quantity(first)) => (first.dimension, first.point),
                _ => return Err(no_number()),
            },
            _ => return Err(no_number()),
        };
        Ok(Value::Quantity(Quantity {
            value: Number::Approx(cooling_fit(values)?.at_shutdown),
            dimension,
            point,
        }))
    },
    meaning: "What the resistance (or temperature) of a winding was at the moment of switching off, from readings that \
        fall afterwards: the first reading is always too low.",
    formula: "A + B of the curve A - k t + B e^(-t / tau) with least squares",
    source: "IEC 60076-2, annex C, from memory",
    example: "calc hot = shutdown-value(cooling.resistance, switched-off)",
};

pub(super) static SHUTDOWN_CONSTANT: Function = Function {
    name: "shutdown-constant",
    subject: SUBJECT,
    parameters: parameters![
        "readings": "a log column, or a list of readings after switching off",
        "off": "the moment of switching off, or a list of the times since then",
    ],
    variadic: false,
    check: |types| cooling_type(types).map(|_| kind_type("time")),
    evaluate: |values| answer("time", cooling_fit(values)?.time_constant),
    meaning: "The time constant with which a winding cools to the oil after switching off; 3 to 15 min is usual.",
    formula: "tau of the curve A - k t + B e^(-t / tau) with least squares",
    source: "IEC 60076-2, annex C, from memory",
    example: "calc tau = shutdown-constant(cooling.resistance, switched-off)",
};

/// A column and the moment of switching off.
fn after_switching_off(types: &[Type]) -> Result<(), TypeFault> {
    same_count(types, 2)?;
    match (&types[0], &types[1]) {
        (Type::Series { .. } | Type::Unknown, Type::Moment | Type::Unknown) => Ok(()),
        (Type::Series { .. }, other) => Err(fault(1, "the moment of switching off", other)),
        (other, _) => Err(fault(0, "a log column", other)),
    }
}

pub(super) static FIRST_DELAY: Function = Function {
    name: "first-delay",
    subject: SUBJECT,
    parameters: parameters![
        "column": "a log column of readings after switching off",
        "off": "the moment of switching off",
    ],
    variadic: false,
    check: |types| after_switching_off(types).map(|()| kind_type("time")),
    evaluate: |values| match cooling(values)?.first() {
        Some((since, _)) => answer("time", *since),
        None => Err(EvaluationFault(
            "no entry after the moment of switching off".to_owned(),
        )),
    },
    meaning: "The time from switching off to the first entry after it.",
    formula: "",
    source: "the record",
    example: "require first-delay(cooling.resistance, switched-off) <= 2 min",
};

pub(super) static ROWS_BEFORE: Function = Function {
    name: "rows-before",
    subject: SUBJECT,
    parameters: parameters!["column": "a log column", "moment": "a point in time"],
    variadic: false,
    check: |types| after_switching_off(types).map(|()| Type::NUMBER),
    evaluate: |values| match values {
        [Value::Series(series), Value::Moment(moment)] => {
            let before = series
                .times()
                .iter()
                .filter(|time| **time <= *moment)
                .count();
            Ok(Value::Quantity(whole(before)))
        }
        _ => Err(no_number()),
    },
    meaning: "How many entries of a log lie at or before a moment.",
    formula: "",
    source: "the record",
    example: "require rows-before(cooling.resistance, switched-off) = 0",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;
    use super::*;
    use crate::physics::outside::COOLING_READINGS;
    use crate::plan::value::{Axis, Series};
    use crate::quantity::Number;
    use std::sync::Arc;

    fn seconds(index: usize) -> i64 {
        90 + 30 * i64::try_from(index).unwrap()
    }

    /// The worked readings as two lists.
    fn as_lists() -> [Value; 2] {
        let values: Vec<String> = COOLING_READINGS
            .iter()
            .map(|r| format!("{r} ohm"))
            .collect();
        let times: Vec<String> = (0..values.len())
            .map(|i| format!("{} s", seconds(i)))
            .collect();
        let items = |texts: &[String]| Value::List(texts.iter().map(|text| q(text)).collect());
        [items(&values), items(&times)]
    }

    /// The same as a log column and the moment of switching off.
    fn as_column(off: i64) -> [Value; 2] {
        let Value::Quantity(ohm) = q("1 ohm") else {
            panic!("a resistance is a quantity");
        };
        let column = Series {
            axis: Axis::Time(
                (0..COOLING_READINGS.len())
                    .map(|index| 1_000 + seconds(index))
                    .collect(),
            ),
            values: COOLING_READINGS
                .iter()
                .map(|r| Number::Approx(*r))
                .collect(),
            dimension: ohm.dimension,
            point: false,
        };
        [Value::Series(Arc::new(column)), Value::Moment(off)]
    }

    #[test]
    fn the_moment_of_switching_off() {
        for args in [as_lists(), as_column(1_000)] {
            near("shutdown-value", &args, "ohm", 0.70400, 1e-5);
            near("shutdown-constant", &args, "min", 5.50, 0.01);
        }
        near("first-delay", &as_column(1_000), "s", 90.0, 0.0);
        near("rows-before", &as_column(1_000), "", 0.0, 0.0);
        near("rows-before", &as_column(1_000 + 90), "", 1.0, 0.0);
        let [readings, times] = as_lists();
        let few = [readings.clone(), list(&["30 s", "60 s"])];
        let message = refused("shutdown-value", &few);
        assert!(message.contains("28 values and 2 times"), "{message}");
        // Readings before switching off are left out; here that leaves none.
        let message = refused("shutdown-value", &as_column(2_000));
        assert!(message.contains("too few readings"), "{message}");
        let message = refused("shutdown-value", &[readings, list(&["30 K"])]);
        assert!(message.contains("times since switching off"), "{message}");
        let names = Value::List([name("a")].into_iter().collect());
        let message = refused("shutdown-constant", &[names, times]);
        assert!(message.contains("a list of quantities"), "{message}");
    }

    #[test]
    fn the_heat_run_of_the_specimen() {
        let args = |hot: &str| [q("0.5840 ohm"), q("20 °C"), q(hot), name("copper")];
        near(
            "winding-temperature",
            &args("0.70400 ohm"),
            "°C",
            72.40,
            5e-3,
        );
        near(
            "winding-temperature",
            &args("0.69538 ohm"),
            "°C",
            68.63,
            5e-3,
        );
        let given = |constant: &str| {
            let mut args = args("0.70400 ohm");
            args[3] = q(constant);
            args
        };
        near("winding-temperature", &given("235 K"), "°C", 72.40, 5e-3);
        near("winding-temperature", &given("234.5 K"), "°C", 72.29, 5e-3);
        assert!(refused("winding-temperature", &given("235")).contains("a constant in K"));
        let message = refused(
            "winding-temperature",
            &[q("0.5840 ohm"), q("20 K"), q("0.7 ohm"), name("copper")],
        );
        assert!(
            message
                .contains("expected a temperature (a point on the scale, °C), found temperature"),
            "{message}"
        );
    }

    #[test]
    fn hot_spot_of_the_specimen() {
        near(
            "hot-spot",
            &[q("50.81 K"), q("16.00 K"), q("1.3")],
            "K",
            71.60,
            2e-2,
        );
        let message = refused("hot-spot", &[q("71.8 °C"), q("16 K"), q("1.3")]);
        assert!(
            message.starts_with("expected a temperature difference (K), found a temperature"),
            "{message}"
        );
    }
}
