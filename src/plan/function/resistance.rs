//! Resistances of windings.

use super::argument::{
    answer_of, celsius, fault, fixed, kind_type, list_first, number, numbers, parameters,
    plain_function, resistance_constant, same_count,
};
use super::{EvaluationFault, Function};
use crate::physics::resistance;
use crate::plan::types::Type;
use crate::plan::value::Value;

const SUBJECT: &str = "winding resistance";

pub(super) static RESISTANCE_AT: Function = Function {
    name: "resistance-at",
    subject: SUBJECT,
    parameters: parameters![
        "r": "the resistance as measured",
        "theta": "the temperature of the winding when it was measured",
        "theta-ref": "the temperature wanted",
        "conductor": "copper or aluminium, or the constant K of the resistance law (234.5 K for copper in IEEE tests)",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["resistance", "temperature", "temperature", "conductor"],
            "resistance",
        )
    },
    evaluate: |values| {
        let constant = resistance_constant(values, 3)?;
        let (from, to) = (celsius(values, 1)?, celsius(values, 2)?);
        answer_of(
            "resistance",
            resistance::resistance_at(number(values, 0)?, from, to, constant),
        )
    },
    meaning: "The resistance of a winding at another temperature.",
    formula: "r (K + theta-ref) / (K + theta), K = 235 for copper, 225 for aluminium",
    source: "IEC 60076-1, from memory",
    example: "resistance-at(0.5892 ohm, 22.4 °C, 75 °C, \"copper\") -> 0.709604 ohm",
};

pub(super) static PHASE_RESISTANCE_WYE: Function = Function {
    name: "phase-resistance-wye",
    subject: SUBJECT,
    parameters: parameters![
        "r1": "a line value that contains the phase",
        "r2": "the other line value that contains it",
        "r3": "the line value that doesn't",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["resistance", "resistance", "resistance"],
            "resistance",
        )
    },
    evaluate: |values| {
        let line = [number(values, 0)?, number(values, 2)?, number(values, 1)?];
        answer_of(
            "resistance",
            resistance::phase_resistances_wye(line).map(|[first, ..]| first),
        )
    },
    meaning: "The resistance of one phase of a star winding without neutral, from the three line values.",
    formula: "(r1 + r2 - r3) / 2",
    source: "physics",
    example: "phase-resistance-wye(1.1794 ohm, 1.1775 ohm, 1.1787 ohm) -> 0.5891 ohm",
};

pub(super) static PHASE_RESISTANCE_DELTA: Function = Function {
    name: "phase-resistance-delta",
    subject: SUBJECT,
    parameters: parameters![
        "r1": "the line value across the phase",
        "r2": "another line value",
        "r3": "the third line value",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["resistance", "resistance", "resistance"],
            "resistance",
        )
    },
    evaluate: |values| {
        let line = [number(values, 0)?, number(values, 1)?, number(values, 2)?];
        answer_of(
            "resistance",
            resistance::phase_resistances_delta(line).map(|[first, ..]| first),
        )
    },
    meaning: "The resistance of one phase of a delta winding, from the three line values.",
    formula: "(r1 - s) - r2 r3 / (r1 - s), s = (r1 + r2 + r3) / 2",
    source: "physics",
    example: "phase-resistance-delta(29.720 mohm, 29.790 mohm, 29.750 mohm) -> 44.5301 mohm",
};

pub(super) static WINDING_LOSS: Function = Function {
    name: "winding-loss",
    subject: SUBJECT,
    parameters: parameters![
        "line-resistances": "the three line values, as a list",
        "current": "line current",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 2)?;
        let wanted = Type::List(Box::new(kind_type("resistance")));
        if types[0] != wanted && types[0] != Type::Unknown {
            return Err(fault(0, "a list of resistances", &types[0]));
        }
        fixed(&types[1..], &["current"], "power").map_err(|mut fault| {
            fault.argument = Some(1);
            fault
        })
    },
    evaluate: |values| {
        let line = match values.first() {
            Some(Value::List(items)) if items.len() == 3 => {
                [number(items, 0)?, number(items, 1)?, number(items, 2)?]
            }
            _ => {
                return Err(EvaluationFault(
                    "a winding has three line resistances".to_owned(),
                ));
            }
        };
        answer_of("power", resistance::winding_loss(line, number(values, 1)?))
    },
    meaning: "The d.c. loss of a three-phase winding, from the resistances between its line terminals; the \
        same for star and delta.",
    formula: "1.5 current² mean(line-resistances)",
    source: "physics",
    example: "calc loss[winding] = winding-loss(line-resistance[winding, *], rated-current[winding])",
};

plain_function!(
    RESISTANCE_FROM_DIMENSIONS = "resistance-from-dimensions" in SUBJECT,
    [
        "rho" rho: "resistivity" = "resistivity of the conductor",
        "length" length: "length" = "its length",
        "section" section: "area" = "its section, all strands together",
    ] -> "resistance",
    resistance::resistance_from_dimensions(rho, length, section),
    "The resistance of a conductor from its sizes, at the temperature of the resistivity.",
    "rho length / section", "physics",
    "resistance-from-dimensions(0.0172414 ohm*mm^2/m, 1088.248 m, 184.2037 mm^2) -> 101.86 mohm",
);

plain_function!(
    OPEN_STRAND_RISE = "open-strand-rise" in SUBJECT,
    ["strands" strands: "number" = "equal strands in parallel"] -> "ratio",
    resistance::open_strand_rise(strands),
    "By what share the resistance rises when one of several equal parallel strands is open.",
    "1 / (strands - 1)", "physics", "open-strand-rise(6) -> 0.2",
);

pub(super) static MIRRORED_DIFFERENCE: Function = Function {
    name: "mirrored-difference",
    subject: SUBJECT,
    parameters: parameters!["resistances": "resistances of all tappings in their order, as a list"],
    variadic: false,
    check: |types| list_first(types, &["resistance"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            resistance::mirrored_difference(&numbers(values, 0)?),
        )
    },
    meaning: "The largest difference between mirrored tappings of a reversing regulating winding, as a share: \
        position k against the k-th from the end.",
    formula: "max |r(k) - r(n + 1 - k)| / mean of both",
    source: "physics",
    example: "require mirrored-difference(tap-resistance[*, phase]) <= 1 %",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn factors_of_the_specimen() {
        let args = |material: &str| [q("1 ohm"), q("22.4 °C"), q("75 °C"), name(material)];
        near("resistance-at", &args("copper"), "ohm", 1.20435, 5e-6);
        near("resistance-at", &args("aluminium"), "ohm", 1.21261, 5e-6);
        assert!(
            refused("resistance-at", &args("brass"))
                .contains("expected copper or aluminium, found `brass`")
        );
        let difference = [q("1 ohm"), q("22.4 K"), q("75 °C"), name("copper")];
        let message = refused("resistance-at", &difference);
        assert!(
            message.contains("expected a temperature")
                && message.contains("found temperature difference"),
            "{message}"
        );
        let swapped = [q("20 °C"), q("1 ohm"), q("75 °C"), name("copper")];
        assert!(
            refused("resistance-at", &swapped)
                .starts_with("expected a resistance, found a temperature")
        );
    }

    #[test]
    fn the_constant_of_the_resistance_law_may_be_given() {
        let args = |constant: &str| [q("1 ohm"), q("22.4 °C"), q("75 °C"), q(constant)];
        for (constant, expected) in [("235 K", 1.20435), ("225 K", 1.21261), ("234.5 K", 1.20475)] {
            near("resistance-at", &args(constant), "ohm", expected, 5e-6);
        }
        for constant in ["235", "235 °C"] {
            let message = refused("resistance-at", &args(constant));
            assert!(
                message.starts_with("expected copper, aluminium or a constant in K"),
                "{message}"
            );
        }
        let message = refused("resistance-at", &args("0 K"));
        assert!(message.contains("must be above zero"), "{message}");
    }

    #[test]
    fn from_sizes_strands_and_tappings() {
        let copper = [
            q("0.017241 ohm*mm^2/m"),
            q("1088.248 m"),
            q("184.2037 mm^2"),
        ];
        near("resistance-from-dimensions", &copper, "ohm", 0.101857, 1e-6);
        near("open-strand-rise", &[q("10")], "%", 11.1, 5e-2);
        refused("open-strand-rise", &[q("1")]);
        let tappings = list(&["10 ohm", "8 ohm", "10.1 ohm"]);
        near("mirrored-difference", &[tappings], "%", 0.995, 5e-4);
        let message = refused("mirrored-difference", &[list(&["10 ohm", "8 ohm"])]);
        assert!(message.contains("at least three"), "{message}");
        let message = refused("mirrored-difference", &[list(&["10 V", "8 V", "10 V"])]);
        assert!(message.starts_with("expected a resistance"), "{message}");
    }

    #[test]
    fn phase_values_from_line_values() {
        near(
            "phase-resistance-wye",
            &[q("1.1794 ohm"), q("1.1775 ohm"), q("1.1787 ohm")],
            "ohm",
            0.5891,
            5e-5,
        );
        let lines = ["29.720 mohm", "29.790 mohm", "29.750 mohm"];
        for (own, expected) in [(0, 0.044530), (1, 0.044740), (2, 0.044620)] {
            let values = [
                q(lines[own]),
                q(lines[(own + 1) % 3]),
                q(lines[(own + 2) % 3]),
            ];
            near("phase-resistance-delta", &values, "ohm", expected, 5e-7);
        }
    }

    #[test]
    fn loss_of_the_delta_winding() {
        let lines = list(&["29.720 mohm", "29.790 mohm", "29.750 mohm"]);
        near(
            "winding-loss",
            &[lines.clone(), q("1099.71 A")],
            "kW",
            53.974,
            1e-3,
        );
        assert!(
            refused("winding-loss", &[lines, q("21 kV")])
                .contains("expected a current, found voltage")
        );
        assert!(
            refused("winding-loss", &[q("1 A"), q("1 A")])
                .contains("expected a list of resistances")
        );
    }
}
