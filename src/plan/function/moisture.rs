//! Water in air, gas, paper and oil.

use super::argument::{answer_of, celsius, fixed, number, parameters, temperature};
use super::{EvaluationFault, Function};
use crate::physics::moisture;

const SUBJECT: &str = "moisture";

pub(super) static SATURATION_PRESSURE: Function = Function {
    name: "saturation-pressure",
    subject: SUBJECT,
    parameters: parameters!["theta": "temperature"],
    variadic: false,
    check: |types| fixed(types, &["temperature"], "pressure"),
    evaluate: |values| {
        answer_of(
            "pressure",
            moisture::saturation_pressure(celsius(values, 0)?),
        )
    },
    meaning: "The pressure of water vapour over water at this temperature, from 0 to 370 °C.",
    formula: "IAPWS-IF97, region 4",
    source: "IAPWS-IF97, from memory; checked against the iapws library",
    example: "saturation-pressure(110 °C) -> 143.376 kPa",
};

pub(super) static ICE_PRESSURE: Function = Function {
    name: "ice-pressure",
    subject: SUBJECT,
    parameters: parameters!["theta": "temperature, not above 0 °C"],
    variadic: false,
    check: |types| fixed(types, &["temperature"], "pressure"),
    evaluate: |values| answer_of("pressure", moisture::ice_pressure(celsius(values, 0)?)),
    meaning: "The pressure of water vapour over ice at this temperature, from -100 to 0 °C.",
    formula: "ln p = -6024.5282 / T + 29.32707 + 1.0613868e-2 T - 1.3198825e-5 T² - 0.49382577 ln T, p in \
        Pa, T in K",
    source: "Sonntag, 1990, as found in open programs",
    example: "ice-pressure(-40 °C) -> 12.837 Pa",
};

pub(super) static DEW_POINT: Function = Function {
    name: "dew-point",
    subject: SUBJECT,
    parameters: parameters!["p": "pressure of the water vapour"],
    variadic: false,
    check: |types| fixed(types, &["pressure"], "temperature"),
    evaluate: |values| {
        let point = moisture::dew_point(number(values, 0)?);
        temperature(point.map_err(|fault| EvaluationFault(fault.to_string()))?)
    },
    meaning: "The temperature at which water would condense, also below 0 °C; see frost-point for ice.",
    formula: "the temperature at which ln p = -6096.9385 / T + 21.2409642 - 2.711193e-2 T + 1.673952e-5 T² \
        + 2.433502 ln T",
    source: "Sonntag, 1990, as found in open programs",
    example: "dew-point(2060.4 Pa) -> 17.9672 °C",
};

pub(super) static FROST_POINT: Function = Function {
    name: "frost-point",
    subject: SUBJECT,
    parameters: parameters!["p": "pressure of the water vapour"],
    variadic: false,
    check: |types| fixed(types, &["pressure"], "temperature"),
    evaluate: |values| {
        let point = moisture::frost_point(number(values, 0)?);
        temperature(point.map_err(|fault| EvaluationFault(fault.to_string()))?)
    },
    meaning: "The temperature at which ice would form.",
    formula: "the temperature at which ice-pressure gives p",
    source: "Sonntag, 1990, as found in open programs",
    example: "frost-point(12.837 Pa) -> -40 °C",
};

pub(super) static PAPER_MOISTURE: Function = Function {
    name: "paper-moisture",
    subject: SUBJECT,
    parameters: parameters![
        "p": "pressure of the water vapour in equilibrium with the insulation",
        "theta": "temperature of the insulation",
    ],
    variadic: false,
    check: |types| fixed(types, &["pressure", "temperature"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            moisture::paper_moisture(number(values, 0)?, celsius(values, 1)?),
        )
    },
    meaning: "The water in paper and pressboard, as a share of the mass; only in equilibrium, which takes a \
        day or more.",
    formula: "2.173e-7 (p / 101325 Pa)^0.6685 exp(4725.6 K / T)",
    source: "Fessler, Rouse, McNutt and Compton, 1989, from memory",
    example: "paper-moisture(590 Pa, 65 °C) -> 0.00817069",
};

pub(super) static OIL_WATER_SATURATION: Function = Function {
    name: "oil-water-saturation",
    subject: SUBJECT,
    parameters: parameters!["theta": "temperature of the oil"],
    variadic: false,
    check: |types| fixed(types, &["temperature"], "ratio"),
    evaluate: |values| answer_of("ratio", moisture::oil_water_saturation(celsius(values, 0)?)),
    meaning: "The most water that new mineral oil dissolves at this temperature, as a share of the mass.",
    formula: "10^(7.0895 - 1567 K / T) mg/kg",
    source: "Oommen's constants, from memory",
    example: "oil-water-saturation(20 °C) -> 0.0000554771",
};

pub(super) static RELATIVE_SATURATION: Function = Function {
    name: "relative-saturation",
    subject: SUBJECT,
    parameters: parameters!["c": "water in the oil by mass", "theta": "temperature of the oil"],
    variadic: false,
    check: |types| fixed(types, &["ratio", "temperature"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            moisture::relative_saturation(number(values, 0)?, celsius(values, 1)?),
        )
    },
    meaning: "How much of the water that mineral oil can dissolve at this temperature is in it.",
    formula: "c / oil-water-saturation(theta)",
    source: "Oommen's constants, from memory",
    example: "relative-saturation(8 mg/kg, 60 °C) -> 0.0328986",
};

pub(super) static DEW_POINT_OF_AIR: Function = Function {
    name: "dew-point-of-air",
    subject: SUBJECT,
    parameters: parameters![
        "theta": "temperature of the air",
        "humidity": "relative humidity of the air",
    ],
    variadic: false,
    check: |types| fixed(types, &["temperature", "ratio"], "temperature"),
    evaluate: |values| {
        let point = moisture::dew_point_of_air(celsius(values, 0)?, number(values, 1)?);
        temperature(point.map_err(|fault| EvaluationFault(fault.to_string()))?)
    },
    meaning: "The temperature at which water condenses from this air: no dried part may be colder.",
    formula: "dew-point of humidity times the pressure of water vapour over water at theta",
    source: "Sonntag, 1990, as found in open programs",
    example: "dew-point-of-air(25 °C, 65 %) -> 17.9675 °C",
};

pub(super) static VAPOUR_PRESSURE_AT: Function = Function {
    name: "vapour-pressure-at",
    subject: SUBJECT,
    parameters: parameters![
        "frost-point": "frost point as the meter shows it",
        "p-total": "absolute pressure of the gas in the meter",
        "p-new": "absolute pressure of the gas in the tank",
    ],
    variadic: false,
    check: |types| fixed(types, &["temperature", "pressure", "pressure"], "pressure"),
    evaluate: |values| {
        answer_of(
            "pressure",
            moisture::vapour_pressure_at(
                celsius(values, 0)?,
                number(values, 1)?,
                number(values, 2)?,
            ),
        )
    },
    meaning: "The pressure of the water vapour in a gas that was measured at another total pressure.",
    formula: "ice-pressure(frost-point) p-new / p-total",
    source: "physics",
    example: "vapour-pressure-at(-45 °C, 126325 Pa, 101325 Pa) -> 5.77533 Pa",
};

pub(super) static VAPOUR_SHARE: Function = Function {
    name: "vapour-share",
    subject: SUBJECT,
    parameters: parameters![
        "p-vapour": "pressure of the water vapour",
        "p-total": "absolute pressure of the gas",
    ],
    variadic: false,
    check: |types| fixed(types, &["pressure", "pressure"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            moisture::vapour_share(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "The share of water vapour in a gas, by volume.",
    formula: "p-vapour / p-total",
    source: "physics",
    example: "vapour-share(7.2003 Pa, 126.325 kPa) / (1 ppm) -> 56.9982",
};

pub(super) static PRESSURE_OF_PAPER: Function = Function {
    name: "pressure-of-paper",
    subject: SUBJECT,
    parameters: parameters![
        "moisture": "water in the paper, as a share of the mass",
        "theta": "temperature of the paper",
    ],
    variadic: false,
    check: |types| fixed(types, &["ratio", "temperature"], "pressure"),
    evaluate: |values| {
        answer_of(
            "pressure",
            moisture::pressure_of_paper(number(values, 0)?, celsius(values, 1)?),
        )
    },
    meaning: "The pressure of water vapour in equilibrium with paper and pressboard: paper-moisture \
        the other way round.",
    formula: "101325 Pa (moisture / (2.173e-7 exp(4725.6 K / T)))^(1 / 0.6685)",
    source: "Fessler, Rouse, McNutt and Compton, 1989, from memory",
    example: "pressure-of-paper(0.5 %, 20 °C) -> 11.4327 Pa",
};

pub(super) static VAPOUR_DENSITY: Function = Function {
    name: "vapour-density",
    subject: SUBJECT,
    parameters: parameters![
        "p": "pressure of the water vapour",
        "theta": "temperature of the air",
    ],
    variadic: false,
    check: |types| fixed(types, &["pressure", "temperature"], "density"),
    evaluate: |values| {
        answer_of(
            "density",
            moisture::vapour_density(number(values, 0)?, celsius(values, 1)?),
        )
    },
    meaning: "The mass of water vapour in a volume of air.",
    formula: "p / (461.523 J/(kg K) T)",
    source: "physics",
    example: "vapour-density(2060.4 Pa, 25 °C) / (1 g/m^3) -> 14.9735",
};

pub(super) static WATER_TO_REMOVE: Function = Function {
    name: "water-to-remove",
    subject: SUBJECT,
    parameters: parameters![
        "mass": "mass of the dry insulation",
        "before": "moisture before drying",
        "after": "moisture wanted",
    ],
    variadic: false,
    check: |types| fixed(types, &["mass", "ratio", "ratio"], "mass"),
    evaluate: |values| {
        answer_of(
            "mass",
            moisture::water_to_remove(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The water that drying must take out.",
    formula: "mass (before - after)",
    source: "physics",
    example: "water-to-remove(9000 kg, 6 %, 0.4 %) -> 504 kg",
};

pub(super) static EXTRACTION_RATE: Function = Function {
    name: "extraction-rate",
    subject: SUBJECT,
    parameters: parameters![
        "water": "water collected",
        "time": "how long it took",
        "insulation-mass": "mass of the insulation",
    ],
    variadic: false,
    check: |types| fixed(types, &["mass", "time", "mass"], "drying-rate"),
    evaluate: |values| {
        answer_of(
            "drying-rate",
            moisture::extraction_rate(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "How fast drying takes water out. A low rate proves slow removal, not dryness: read it \
        with temperature and pressure.",
    formula: "water / (time insulation-mass)",
    source: "physics",
    example: "extraction-rate(1800 g, 24 h, 9 t) / (1 g/h/t) -> 8.33333",
};

pub(super) static MOISTURE_STILL_TO_COME: Function = Function {
    name: "moisture-still-to-come",
    subject: SUBJECT,
    parameters: parameters![
        "rate": "drying rate now",
        "time-constant": "time in which the rate falls to 37 %, see decay-constant",
    ],
    variadic: false,
    check: |types| fixed(types, &["drying-rate", "time"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            moisture::moisture_still_to_come(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "The water still to come out if the rate goes on falling as it did, as a share of the \
        mass.",
    formula: "rate time-constant",
    source: "physics",
    example: "moisture-still-to-come(5.2 g/h/t, 11.749 h) -> 0.0000610948",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn vapour_over_water_and_ice() {
        near("saturation-pressure", &[q("110 °C")], "Pa", 143_376.0, 1.0);
        near("saturation-pressure", &[q("25 °C")], "Pa", 3169.75, 0.5);
        near("ice-pressure", &[q("-40 °C")], "Pa", 12.8370, 6e-3);
        near("frost-point", &[q("12.84 Pa")], "°C", -40.0, 1e-2);
        near("frost-point", &[q("5.7753 Pa")], "°C", -46.85, 1e-2);
        near("dew-point", &[q("2060.4 Pa")], "°C", 17.97, 5e-2);
        assert!(refused("ice-pressure", &[q("-40 K")]).contains("found temperature difference"));
        assert!(
            refused("dew-point", &[q("20 °C")])
                .starts_with("expected a pressure, found a temperature")
        );
    }

    #[test]
    fn water_in_paper() {
        near(
            "paper-moisture",
            &[q("590 Pa"), q("65 °C")],
            "%",
            0.81707,
            1e-4,
        );
        near(
            "paper-moisture",
            &[q("11.433 Pa"), q("20 °C")],
            "%",
            0.5,
            1e-3,
        );
    }

    #[test]
    fn water_in_oil() {
        near("oil-water-saturation", &[q("20 °C")], "mg/kg", 55.482, 1e-2);
        near(
            "relative-saturation",
            &[q("8 mg/kg"), q("60 °C")],
            "%",
            3.2899,
            1e-3,
        );
        near(
            "relative-saturation",
            &[q("22 mg/kg"), q("70 °C")],
            "%",
            6.598,
            1e-3,
        );
    }

    #[test]
    fn air_of_the_shop_and_gas_of_the_tank() {
        for (theta, humidity, expected) in [
            ("25 °C", "65 %", 17.97),
            ("30 °C", "75 %", 25.08),
            ("20 °C", "50 %", 9.27),
        ] {
            near(
                "dew-point-of-air",
                &[q(theta), q(humidity)],
                "°C",
                expected,
                1e-2,
            );
        }
        let gas = [q("-45 °C"), q("126.325 kPa"), q("101.325 kPa")];
        near("vapour-pressure-at", &gas, "Pa", 5.7753, 1e-4);
        near(
            "vapour-share",
            &[q("7.2003 Pa"), q("126.325 kPa")],
            "ppm",
            56.998,
            1e-2,
        );
        near(
            "vapour-density",
            &[q("2060.4 Pa"), q("25 °C")],
            "g/m^3",
            14.97,
            5e-3,
        );
        assert!(refused("vapour-share", &[q("7 Pa"), q("0 Pa")]).contains("above zero"));
        assert!(refused("dew-point-of-air", &[q("25 °C"), q("130 %")]).contains("between 0 and 1"));
    }

    #[test]
    fn drying_of_the_insulation() {
        near(
            "pressure-of-paper",
            &[q("0.5 %"), q("20 °C")],
            "Pa",
            11.433,
            1e-2,
        );
        near(
            "water-to-remove",
            &[q("9 t"), q("6 %"), q("0.4 %")],
            "kg",
            504.0,
            1e-9,
        );
        for (water, time, expected) in [("1800 g", "24 h", 8.3333), ("600 g", "12 h", 5.5556)] {
            near(
                "extraction-rate",
                &[q(water), q(time), q("9 t")],
                "g/h/t",
                expected,
                1e-4,
            );
        }
        near(
            "moisture-still-to-come",
            &[q("5.2 g/h/t"), q("11.749 h")],
            "%",
            0.0061,
            5e-5,
        );
        assert!(
            refused("extraction-rate", &[q("1 kg"), q("9 t"), q("24 h")])
                .starts_with("expected a time, found mass")
        );
    }
}
