//! No-load loss and current.

use super::Function;
use super::argument::{answer, answer_of, list_first, number, numbers, parameters, plain_function};
use crate::physics::{Domain, no_load};

const SUBJECT: &str = "losses and impedance";

plain_function!(
    NO_LOAD_LOSS_IEEE = "no-load-loss-ieee" in SUBJECT,
    [
        "p" measured: "power" = "no-load loss as measured",
        "u-mean" mean: "voltage" = "1.111 times the rectified mean voltage, set to the rated one",
        "u-rms" rms: "voltage" = "r.m.s. voltage",
        "hysteresis" share: "ratio" = "share of the loss that is hysteresis; 0.5 when unknown",
    ] -> "power",
    no_load::no_load_loss_ieee(measured, mean, rms, share),
    "The no-load loss corrected for the wave form, as IEEE counts it.",
    "p / (hysteresis + (1 - hysteresis) (u-rms / u-mean)²)", "IEEE C57.12.90, clause 8, from memory",
    "no-load-loss-ieee(22.40 kW, 21000 V, 21210 V, 0.5) -> 22.1771 kW",
);

plain_function!(
    NO_LOAD_LOSS_AT_20 = "no-load-loss-at-20" in SUBJECT,
    [
        "p" loss: "power" = "no-load loss",
        "theta" theta: "temperature" = "mean temperature of the oil in the test",
    ] -> "power",
    Ok::<f64, Domain>(no_load::no_load_loss_at_20(loss, theta)),
    "The no-load loss referred to 20 °C.", "p (1 + 0.00065 (theta - 20 °C))",
    "IEEE C57.12.90, clause 8, from memory",
    "no-load-loss-at-20(22.1771 kW, 22.4 °C) -> 22.2117 kW",
);

plain_function!(
    MAGNETIC_BALANCE = "magnetic-balance" in SUBJECT,
    [
        "excited" excited: "voltage" = "voltage of the limb that is excited",
        "other" other: "voltage" = "voltage induced on one other limb",
        "third" third: "voltage" = "on the third",
    ] -> "ratio",
    no_load::magnetic_balance(excited, other, third),
    "How far the voltages of the other two limbs miss that of the excited one: flux that leaves one limb comes back \
        through the others.",
    "(other + third) / excited - 1", "physics", "magnetic-balance(84 V, 56 V, 28 V) -> 0",
);

pub(super) static NO_LOAD_CURRENT: Function = Function {
    name: "no-load-current",
    subject: SUBJECT,
    parameters: parameters![
        "currents": "r.m.s. currents of the lines, as a list",
        "i-rated": "rated current of the winding that is fed",
    ],
    variadic: false,
    check: |types| list_first(types, &["current", "current"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            no_load::no_load_current(&numbers(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "The no-load current as a share of the rated one.",
    formula: "mean(currents) / i-rated",
    source: "IEC 60076-1:2011, 11.5, from memory",
    example: "calc share = no-load-current(no-load-current[*], rated-current[LV])",
};

pub(super) static HARMONIC_DISTORTION: Function = Function {
    name: "harmonic-distortion",
    subject: SUBJECT,
    parameters: parameters!["harmonics": "each harmonic as a share of the fundamental, as a list"],
    variadic: false,
    check: |types| list_first(types, &["ratio"], "ratio"),
    evaluate: |values| answer("ratio", no_load::harmonic_distortion(&numbers(values, 0)?)),
    meaning: "The total harmonic distortion.",
    formula: "sqrt(h1² + h2² + …)",
    source: "physics",
    example: "calc distortion = harmonic-distortion(no-load-harmonic[*])",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn lists_of_the_worked_examples() {
        let currents = list(&["1.62 A", "1.18 A", "1.66 A"]);
        near(
            "no-load-current",
            &[currents, q("1099.71 A")],
            "%",
            0.1352,
            5e-5,
        );
        near(
            "harmonic-distortion",
            &[list(&["28 %", "14 %", "6 %", "3 %"])],
            "%",
            32.02,
            5e-3,
        );
        let refused = refused("no-load-current", &[q("1 A"), q("1 A")]);
        assert!(refused.contains("a list, each a current"), "{refused}");
    }
}
