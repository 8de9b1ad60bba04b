//! Transport under gas.

use super::Function;
use super::argument::{answer_of, celsius, fixed, number, parameters};
use crate::physics::dispatch;

pub(super) static GAS_PRESSURE_AT: Function = Function {
    name: "gas-pressure-at",
    subject: "dispatch",
    parameters: parameters![
        "p": "gauge pressure as read",
        "theta": "temperature of the gas then",
        "theta-2": "the temperature wanted",
        "barometer": "absolute pressure of the air",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["pressure", "temperature", "temperature", "pressure"],
            "pressure",
        )
    },
    evaluate: |values| {
        let (from, to) = (celsius(values, 1)?, celsius(values, 2)?);
        answer_of(
            "pressure",
            dispatch::gas_pressure_at(number(values, 0)?, from, to, number(values, 3)?),
        )
    },
    meaning: "The gauge pressure of the gas in a closed tank at another temperature, under the same air \
        pressure.",
    formula: "(p + barometer) T2 / T1 - barometer",
    source: "physics",
    example: "gas-pressure-at(25 kPa, 20 °C, -20 °C, 101.3 kPa) -> 7.7665 kPa",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn a_cold_night_on_the_way() {
        let at = |theta: &str| [q("25 kPa"), q("20 °C"), q(theta), q("101.3 kPa")];
        for (theta, expected) in [
            ("-20 °C", 7.77),
            ("0 °C", 16.38),
            ("40 °C", 33.62),
            ("50 °C", 37.93),
        ] {
            near("gas-pressure-at", &at(theta), "kPa", expected, 5e-3);
        }
        near(
            "gas-pressure-at",
            &[q("14 kPa"), q("8 °C"), q("20 °C"), q("101.3 kPa")],
            "kPa",
            18.921,
            5e-3,
        );
        let message = refused(
            "gas-pressure-at",
            &[q("25 kPa"), q("20 °C"), q("20 K"), q("101.3 kPa")],
        );
        assert!(
            message.contains("found temperature difference"),
            "{message}"
        );
    }
}
