//! Dispatch: transport under gas, lifting and weighing, shocks.

use super::Function;
use super::argument::{answer_of, celsius, fixed, number, parameters};
use crate::physics::dispatch;

const SUBJECT: &str = "dispatch";

pub(super) static GAS_PRESSURE_AT: Function = Function {
    name: "gas-pressure-at",
    subject: SUBJECT,
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

pub(super) static GAS_LOST: Function = Function {
    name: "gas-lost",
    subject: SUBJECT,
    parameters: parameters![
        "p": "gauge pressure at first",
        "theta": "temperature of the gas then",
        "p-2": "gauge pressure later",
        "theta-2": "temperature of the gas then",
        "barometer": "absolute pressure of the air, both times",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &[
                "pressure",
                "temperature",
                "pressure",
                "temperature",
                "pressure",
            ],
            "ratio",
        )
    },
    evaluate: |values| {
        answer_of(
            "ratio",
            dispatch::gas_lost(
                number(values, 0)?,
                celsius(values, 1)?,
                number(values, 2)?,
                celsius(values, 3)?,
                number(values, 4)?,
            ),
        )
    },
    meaning: "The share of the gas that a closed tank lost between two readings.",
    formula: "1 - (p-2 + barometer) T1 / ((p + barometer) T2)",
    source: "physics",
    example: "gas-lost(25 kPa, 20 °C, 14 kPa, 8 °C, 101.3 kPa) -> 0.0481297",
};

pub(super) static FILLING_PRESSURE: Function = Function {
    name: "filling-pressure",
    subject: SUBJECT,
    parameters: parameters![
        "wanted": "gauge pressure that must be left in the cold",
        "theta-cold": "the coldest temperature on the way",
        "theta-fill": "temperature of the gas at filling",
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
        answer_of(
            "pressure",
            dispatch::filling_pressure(
                number(values, 0)?,
                celsius(values, 1)?,
                celsius(values, 2)?,
                number(values, 3)?,
            ),
        )
    },
    meaning: "The gauge pressure to fill a tank to, so that enough is left in the cold.",
    formula: "(wanted + barometer) T-fill / T-cold - barometer",
    source: "physics",
    example: "filling-pressure(5 kPa, -20 °C, 20 °C, 101.3 kPa) -> 21.7964 kPa",
};

pub(super) static CENTRE_OF_GRAVITY: Function = Function {
    name: "centre-of-gravity",
    subject: SUBJECT,
    parameters: parameters![
        "at-a": "load on support A",
        "at-b": "load on support B",
        "distance": "distance between the supports",
    ],
    variadic: false,
    check: |types| fixed(types, &["mass", "mass", "length"], "length"),
    evaluate: |values| {
        answer_of(
            "length",
            dispatch::centre_of_gravity(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The distance of the centre of gravity from support A, by weighing on two supports.",
    formula: "at-b distance / (at-a + at-b)",
    source: "physics",
    example: "centre-of-gravity(96 t, 84 t, 4.2 m) -> 1.96 m",
};

pub(super) static SLING_FORCE: Function = Function {
    name: "sling-force",
    subject: SUBJECT,
    parameters: parameters![
        "mass": "mass of the load",
        "legs": "legs that carry; of four, count three when the load is rigid",
        "angle": "angle of a leg to the horizontal",
    ],
    variadic: false,
    check: |types| fixed(types, &["mass", "number", "angle"], "force"),
    evaluate: |values| {
        answer_of(
            "force",
            dispatch::sling_force(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The force in each leg of a sling.",
    formula: "mass gn / (legs sin(angle))",
    source: "physics",
    example: "sling-force(180 t, 4, 60 deg) -> 509.568 kN",
};

pub(super) static VELOCITY_CHANGE: Function = Function {
    name: "velocity-change",
    subject: SUBJECT,
    parameters: parameters![
        "peak": "peak of the shock",
        "duration": "its duration",
    ],
    variadic: false,
    check: |types| fixed(types, &["acceleration", "time"], "speed"),
    evaluate: |values| {
        answer_of(
            "speed",
            dispatch::velocity_change(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "The change of speed in a shock shaped as a half sine; it tells more than the peak \
        alone.",
    formula: "2 / pi peak duration",
    source: "physics",
    example: "velocity-change(3 gn, 20 ms) -> 374.586 mm/s",
};

pub(super) static TIP_ANGLE: Function = Function {
    name: "tip-angle",
    subject: SUBJECT,
    parameters: parameters![
        "half-base": "level distance from the centre of gravity to the edge",
        "height": "height of the centre of gravity",
    ],
    variadic: false,
    check: |types| fixed(types, &["length", "length"], "angle"),
    evaluate: |values| {
        answer_of(
            "angle",
            dispatch::tip_angle(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "The angle at which a standing part tips over.",
    formula: "arctan(half-base / height)",
    source: "physics",
    example: "tip-angle(0.75 m, 2.1 m) / (1 deg) -> 19.6538",
};

pub(super) static OXYGEN_AFTER_DILUTION: Function = Function {
    name: "oxygen-after-dilution",
    subject: SUBJECT,
    parameters: parameters![
        "volumes": "how often the gas volume was blown in as dry air",
    ],
    variadic: false,
    check: |types| fixed(types, &["number"], "ratio"),
    evaluate: |values| answer_of("ratio", dispatch::oxygen_after_dilution(number(values, 0)?)),
    meaning: "The oxygen, by volume, in a tank that held pure nitrogen. Never enter by this number: \
        measure at the bottom, in the middle and at the top.",
    formula: "20.95 % (1 - exp(-volumes)), fully mixed",
    source: "physics; oxygen in dry air: from memory",
    example: "oxygen-after-dilution(1.96) -> 0.17999",
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

    #[test]
    fn gas_lost_and_gas_to_fill() {
        let lost = [
            q("25 kPa"),
            q("20 °C"),
            q("14 kPa"),
            q("8 °C"),
            q("101.3 kPa"),
        ];
        near("gas-lost", &lost, "%", 4.813, 1e-3);
        let fill = [q("5 kPa"), q("-20 °C"), q("20 °C"), q("101.3 kPa")];
        near("filling-pressure", &fill, "kPa", 21.80, 5e-3);
        let empty = [q("-102 kPa"), q("-20 °C"), q("20 °C"), q("101.3 kPa")];
        assert!(refused("filling-pressure", &empty).contains("absolute pressure"));
        for (volumes, expected) in [("1.96", 18.0), ("2.67", 19.5), ("3.09", 20.0)] {
            near("oxygen-after-dilution", &[q(volumes)], "%", expected, 0.01);
        }
        assert!(refused("oxygen-after-dilution", &[q("-1")]).contains("not be negative"));
    }

    #[test]
    fn lifting_weighing_and_shocks() {
        let supports = [q("96 t"), q("84 t"), q("4.2 m")];
        near("centre-of-gravity", &supports, "m", 1.96, 1e-9);
        for (legs, expected) in [("4", 509.57), ("3", 679.42)] {
            let sling = [q("180 t"), q(legs), q("60 deg")];
            near("sling-force", &sling, "kN", expected, 5e-2);
        }
        assert!(
            refused("sling-force", &[q("180 t"), q("4"), q("120 deg")]).contains("right angle")
        );
        near(
            "velocity-change",
            &[q("3 gn"), q("20 ms")],
            "m/s",
            0.3747,
            1e-3,
        );
        near("tip-angle", &[q("0.75 m"), q("2.1 m")], "deg", 19.65, 5e-3);
        assert!(
            refused("velocity-change", &[q("3 m/s"), q("20 ms")])
                .starts_with("expected an acceleration, found speed")
        );
    }
}
