//! Insulation resistance and dissipation factor.

use super::argument::{answer_of, celsius, fixed, number, parameters, plain_function, word};
use super::{EvaluationFault, Function};
use crate::physics::{Domain, insulation};

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

plain_function!(
    ABSORPTION_RATIO = "absorption-ratio" in SUBJECT,
    [
        "r15" early: "resistance" = "insulation resistance after 15 s (or 30 s: say which)",
        "r60" late: "resistance" = "after 60 s",
    ] -> "ratio",
    insulation::absorption_ratio(early, late),
    "How much the insulation resistance grows in the first minute.", "r60 / r15",
    "common practice, no source", "absorption-ratio(4 Gohm, 6 Gohm) -> 1.5",
);

plain_function!(
    POWER_FACTOR = "power-factor" in SUBJECT,
    ["tan-delta" tan: "ratio" = "dissipation factor"] -> "ratio",
    Ok::<f64, Domain>(insulation::power_factor(tan)),
    "The power factor that belongs to a dissipation factor.", "tan-delta / sqrt(1 + tan-delta²)", "physics",
    "power-factor(0.05) -> 0.0499376",
);

plain_function!(
    SHORTED_LAYER_RISE = "shorted-layer-rise" in SUBJECT,
    ["layers" layers: "number" = "grading layers of the bushing"] -> "ratio",
    insulation::shorted_layer_rise(layers),
    "By what share the capacitance of a bushing rises when one grading layer is shorted.", "1 / (layers - 1)",
    "physics", "shorted-layer-rise(26) -> 0.04",
);

plain_function!(
    LEAST_INSULATION_RESISTANCE = "least-insulation-resistance" in SUBJECT,
    [
        "constant" constant: "number" = "1.5 for an oil-filled unit at 20 °C, 30 for an active part without oil",
        "u" voltage: "voltage" = "line voltage of a delta, phase voltage of a star winding",
        "s" power: "apparent-power" = "power of the winding",
    ] -> "resistance",
    insulation::least_insulation_resistance(constant, voltage, power),
    "An old rule for the lowest insulation resistance that is accepted at 20 °C.",
    "constant u / sqrt(s) in Mohm, u in V, s in kVA", "maintenance handbooks, from memory",
    "least-insulation-resistance(1.5, 110 kV, 40 MVA) -> 825 Mohm",
);

plain_function!(
    CAPACITANCE_CHANGE = "capacitance-change" in SUBJECT,
    [
        "c" capacitance: "capacitance" = "capacitance now",
        "c-before" before: "capacitance" = "as on the rating plate or measured before",
    ] -> "ratio",
    insulation::capacitance_change(capacitance, before),
    "By what share a capacitance has changed: a grading layer shorted, or a winding that has moved.",
    "c / c-before - 1", "physics", "capacitance-change(312 pF, 300 pF) -> 0.04",
);

pub(super) static INSULATION_RESISTANCE_BY: Function = Function {
    name: "insulation-resistance-by",
    subject: SUBJECT,
    parameters: parameters![
        "rule": "halves-per-10K, one-and-a-half-per-10K or table",
        "r": "insulation resistance as measured",
        "theta": "temperature of the test",
        "theta-ref": "temperature wanted",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["name", "resistance", "temperature", "temperature"],
            "resistance",
        )
    },
    evaluate: |values| {
        let rule = match word(values, 0)? {
            "halves-per-10K" => insulation::TemperatureRule::HalvesPer10K,
            "one-and-a-half-per-10K" => insulation::TemperatureRule::OneAndAHalfPer10K,
            "table" => insulation::TemperatureRule::Table,
            other => {
                return Err(EvaluationFault(format!(
                    "expected halves-per-10K, one-and-a-half-per-10K or table, found `{other}`"
                )));
            }
        };
        answer_of(
            "resistance",
            insulation::insulation_resistance_by(
                rule,
                number(values, 1)?,
                celsius(values, 2)?,
                celsius(values, 3)?,
            ),
        )
    },
    meaning: "The insulation resistance at another temperature, by a rule that is named: there are several, and they \
        differ.",
    formula: "r 2^((theta - theta-ref) / 10 K), r 1.5^(…), or factors of a table from 0 to 70 °C",
    source: "table: a published table for oil-filled units; halving: common practice, no source; 1.5: DL/T 596, from \
        memory",
    example: "insulation-resistance-by(\"table\", 1200 Mohm, 35 °C, 20 °C) -> 3360 Mohm",
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

    #[test]
    fn resistance_at_another_temperature_by_each_rule() {
        let args = |rule, theta| [name(rule), q("1200 Mohm"), q(theta), q("20 °C")];
        for (rule, expected) in [
            ("halves-per-10K", 3394.11),
            ("one-and-a-half-per-10K", 2204.54),
            ("table", 3360.0),
        ] {
            let args = args(rule, "35 °C");
            near("insulation-resistance-by", &args, "Mohm", expected, 5e-3);
        }
        let message = refused("insulation-resistance-by", &args("tripled", "35 °C"));
        assert!(message.contains("found `tripled`"), "{message}");
        refused("insulation-resistance-by", &args("table", "71 °C"));
    }

    #[test]
    fn indices_and_shares() {
        near(
            "absorption-ratio",
            &[q("4 Gohm"), q("6 Gohm")],
            "",
            1.5,
            1e-12,
        );
        refused("absorption-ratio", &[q("0 ohm"), q("6 Gohm")]);
        near("power-factor", &[q("1 %")], "", 0.0099995, 5e-8);
        near("shorted-layer-rise", &[q("25")], "%", 4.17, 5e-3);
        refused("shorted-layer-rise", &[q("1")]);
        let rule = [q("1.5"), q("110 kV"), q("40 MVA")];
        near("least-insulation-resistance", &rule, "Mohm", 825.0, 1e-6);
        near(
            "capacitance-change",
            &[q("312 pF"), q("300 pF")],
            "%",
            4.0,
            1e-9,
        );
        let message = refused("capacitance-change", &[q("312 pF"), q("300 ohm")]);
        assert!(message.starts_with("expected a capacitance"), "{message}");
    }
}
