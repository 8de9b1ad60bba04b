//! Insulation resistance and dissipation factor.

use super::Function;
use super::argument::{answer_of, celsius, fixed, number, parameters};
use crate::physics::insulation;

const SUBJECT: &str = "insulation";

pub(super) static INSULATION_RESISTANCE_AT: Function = Function {
    name: "insulation-resistance-at",
    subject: SUBJECT,
    parameters: parameters![
        "r": "the insulation resistance as measured",
        "theta": "the temperature of the insulation when it was measured",
        "theta-ref": "the temperature wanted",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["resistance", "temperature", "temperature"],
            "resistance",
        )
    },
    evaluate: |values| {
        let (from, to) = (celsius(values, 1)?, celsius(values, 2)?);
        answer_of(
            "resistance",
            insulation::insulation_resistance_at(number(values, 0)?, from, to),
        )
    },
    meaning: "The insulation resistance at another temperature: half as much for every 10 K more. Some \
        works take 1.5 for every 10 K; the record must say which.",
    formula: "r 2^((theta - theta-ref) / 10 K)",
    source: "common practice, no source",
    example: "insulation-resistance-at(1200 Mohm, 35 °C, 20 °C) -> 3394.11 Mohm",
};

pub(super) static POLARIZATION_INDEX: Function = Function {
    name: "polarization-index",
    subject: SUBJECT,
    parameters: parameters![
        "r60": "insulation resistance after 60 s",
        "r600": "insulation resistance after 600 s",
    ],
    variadic: false,
    check: |types| fixed(types, &["resistance", "resistance"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            insulation::polarization_index(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "How much the insulation resistance grows from one minute to ten.",
    formula: "r600 / r60",
    source: "definition; IEEE C57.152, from memory",
    example: "polarization-index(1200 Mohm, 2400 Mohm) -> 2",
};

pub(super) static DISSIPATION_FACTOR_AT: Function = Function {
    name: "dissipation-factor-at",
    subject: SUBJECT,
    parameters: parameters![
        "tan-delta": "the dissipation factor as measured",
        "theta": "the temperature of the insulation when it was measured",
        "theta-ref": "the temperature wanted",
    ],
    variadic: false,
    check: |types| fixed(types, &["ratio", "temperature", "temperature"], "ratio"),
    evaluate: |values| {
        let (from, to) = (celsius(values, 1)?, celsius(values, 2)?);
        answer_of(
            "ratio",
            insulation::dissipation_factor_at(number(values, 0)?, from, to),
        )
    },
    meaning: "The dissipation factor at another temperature, by an old table that newer editions have \
        withdrawn: better to measure between 15 and 25 °C.",
    formula: "tan-delta K(theta-ref) / K(theta)",
    source: "IEEE C57.12.90, editions up to 2006, from memory",
    example: "dissipation-factor-at(0.42 %, 35 °C, 20 °C) -> 0.003",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn resistance_doubles_for_ten_kelvin_less() {
        near(
            "insulation-resistance-at",
            &[q("1200 Mohm"), q("35 °C"), q("20 °C")],
            "Mohm",
            3394.0,
            0.5,
        );
        near(
            "insulation-resistance-at",
            &[q("1 Gohm"), q("20 °C"), q("30 °C")],
            "Mohm",
            500.0,
            1e-6,
        );
        let message = refused(
            "insulation-resistance-at",
            &[q("1 Gohm"), q("20 K"), q("20 °C")],
        );
        assert!(
            message.contains("found temperature difference"),
            "{message}"
        );
    }

    #[test]
    fn ten_minutes_over_one() {
        near(
            "polarization-index",
            &[q("2 Gohm"), q("5 Gohm")],
            "",
            2.5,
            1e-12,
        );
        refused("polarization-index", &[q("0 ohm"), q("5 Gohm")]);
        assert!(
            refused("polarization-index", &[q("2 Gohm"), q("5 GW")])
                .contains("expected a resistance, found power")
        );
    }

    #[test]
    fn dissipation_factor_by_the_old_table() {
        near(
            "dissipation-factor-at",
            &[q("0.42 %"), q("35 °C"), q("20 °C")],
            "%",
            0.30,
            1e-9,
        );
        near(
            "dissipation-factor-at",
            &[q("0.3 %"), q("20 °C"), q("20 °C")],
            "%",
            0.30,
            1e-9,
        );
    }
}
