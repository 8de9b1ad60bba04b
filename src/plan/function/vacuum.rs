//! Vacuum.

use super::Function;
use super::argument::{answer_of, fixed, number, parameters};
use crate::physics::vacuum;

pub(super) static LEAK_RATE: Function = Function {
    name: "leak-rate",
    subject: "vacuum",
    parameters: parameters![
        "volume": "gas volume: tank less active part, plus what is open to it",
        "rise": "rise of the pressure with the pumps shut off",
        "time": "how long the rise took",
    ],
    variadic: false,
    check: |types| fixed(types, &["volume", "pressure", "time"], "leak-rate"),
    evaluate: |values| {
        answer_of(
            "leak-rate",
            vacuum::leak_rate(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The leak rate from the rise of the pressure; wet insulation gives off vapour that looks like \
        a leak.",
    formula: "volume rise / time",
    source: "definition",
    example: "leak-rate(60 m^3, 0.6 mbar, 30 min) -> 2 W",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn half_a_millibar_in_half_an_hour() {
        near(
            "leak-rate",
            &[q("60 m^3"), q("0.5 mbar"), q("1800 s")],
            "mbar*l/s",
            16.6667,
            1e-4,
        );
        near(
            "leak-rate",
            &[q("1 m^3"), q("3.6 kPa"), q("1800 s")],
            "mbar*l/s",
            20.0,
            1e-9,
        );
        refused("leak-rate", &[q("60 m^3"), q("0.5 mbar"), q("0 s")]);
        let message = refused("leak-rate", &[q("60 m^2"), q("0.5 mbar"), q("1800 s")]);
        assert!(
            message.starts_with("expected a volume, found area"),
            "{message}"
        );
    }
}
