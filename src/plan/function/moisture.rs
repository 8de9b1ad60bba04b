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
}
