//! Vacuum.

use super::Function;
use super::argument::{answer_of, fixed, number, parameters};
use crate::physics::vacuum;

const SUBJECT: &str = "vacuum";

pub(super) static LEAK_RATE: Function = Function {
    name: "leak-rate",
    subject: SUBJECT,
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

pub(super) static WATER_THROUGH_LEAK: Function = Function {
    name: "water-through-leak",
    subject: SUBJECT,
    parameters: parameters![
        "leak": "leak rate",
        "density": "water vapour in the air outside, see vapour-density",
        "barometer": "absolute pressure of the air",
    ],
    variadic: false,
    check: |types| fixed(types, &["leak-rate", "density", "pressure"], "mass-flow"),
    evaluate: |values| {
        answer_of(
            "mass-flow",
            vacuum::water_through_leak(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The water that a leak lets in with the air.",
    formula: "leak density / barometer",
    source: "physics",
    example: "water-through-leak(20 mbar*l/s, 14.97 g/m^3, 101.325 kPa) / (1 g/h) -> 1.06375",
};

pub(super) static PRESSURE_AT_BASE: Function = Function {
    name: "pressure-at-base",
    subject: SUBJECT,
    parameters: parameters![
        "cover": "gauge pressure at the cover",
        "density": "density of the oil",
        "height": "height of the oil",
    ],
    variadic: false,
    check: |types| fixed(types, &["pressure", "density", "length"], "pressure"),
    evaluate: |values| {
        answer_of(
            "pressure",
            vacuum::pressure_at_base(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The gauge pressure at the bottom of a tank full of oil.",
    formula: "cover + density gn height",
    source: "physics",
    example: "pressure-at-base(30 kPa, 880 kg/m^3, 3.4 m) -> 59.3415 kPa",
};

pub(super) static TANK_FORCE: Function = Function {
    name: "tank-force",
    subject: SUBJECT,
    parameters: parameters![
        "pressure": "pressure difference between the two sides",
        "length": "length of the wall",
        "height": "height of the wall",
    ],
    variadic: false,
    check: |types| fixed(types, &["pressure", "length", "length"], "force"),
    evaluate: |values| {
        answer_of(
            "force",
            vacuum::tank_force(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The force on a flat wall of the tank.",
    formula: "pressure length height",
    source: "physics",
    example: "tank-force(101.325 kPa, 8 m, 3.4 m) -> 2.75604 MN",
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

    #[test]
    fn leak_test_and_tank() {
        near(
            "water-through-leak",
            &[q("20 mbar*l/s"), q("14.97 g/m^3"), q("101.325 kPa")],
            "g/h",
            1.064,
            1e-3,
        );
        let base = [q("30 kPa"), q("880 kg/m^3"), q("3.4 m")];
        near("pressure-at-base", &base, "kPa", 59.34, 1e-2);
        let wall = [q("101.325 kPa"), q("8.0 m"), q("3.4 m")];
        near("tank-force", &wall, "kN", 2756.0, 0.5);
        assert!(refused("tank-force", &[q("1 kPa"), q("8 m"), q("0 m")]).contains("above zero"));
        assert!(
            refused("pressure-at-base", &[q("30 kPa"), q("880 kg"), q("3.4 m")])
                .starts_with("expected a density, found mass")
        );
    }
}
