//! Core, pressing and leakage field.

use super::Function;
use super::argument::{answer_of, fixed, number, parameters};
use crate::physics::core;
use crate::physics::leakage::{self, Windings};

const SUBJECT: &str = "core and windings";

pub(super) static STACKING_FACTOR: Function = Function {
    name: "stacking-factor",
    subject: SUBJECT,
    parameters: parameters![
        "mass": "mass of the stack",
        "density": "density of the steel",
        "length": "length of the sheets",
        "width": "their width",
        "height": "height of the stack",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["mass", "density", "length", "length", "length"],
            "ratio",
        )
    },
    evaluate: |values| {
        let (mass, density, length) = (number(values, 0)?, number(values, 1)?, number(values, 2)?);
        let (width, height) = (number(values, 3)?, number(values, 4)?);
        answer_of(
            "ratio",
            core::stacking_factor(mass, density, length, width, height),
        )
    },
    meaning: "The share of a stack of sheets that is steel.",
    formula: "mass / (density length width height)",
    source: "physics",
    example: "stacking-factor(1.618 kg, 7650 kg/m^3, 305 mm, 30 mm, 23.9 mm) -> 0.967159",
};

pub(super) static LEAKAGE_REACTANCE: Function = Function {
    name: "leakage-reactance",
    subject: SUBJECT,
    parameters: parameters![
        "turns": "turns of the winding from which it is seen",
        "f": "frequency",
        "radius": "inner radius of the inner winding",
        "inner": "radial build of the inner winding",
        "duct": "radial width of the duct",
        "outer": "radial build of the outer winding",
        "height": "height of the windings",
    ],
    variadic: false,
    check: |types| {
        let kinds = [
            "number",
            "frequency",
            "length",
            "length",
            "length",
            "length",
            "length",
        ];
        fixed(types, &kinds, "resistance")
    },
    evaluate: |values| {
        let (inner, duct, outer) = (number(values, 3)?, number(values, 4)?, number(values, 5)?);
        let sizes =
            Windings::from_inner_radius(number(values, 2)?, inner, duct, outer, number(values, 6)?);
        answer_of(
            "resistance",
            leakage::leakage_reactance(number(values, 0)?, number(values, 1)?, &sizes),
        )
    },
    meaning: "The leakage reactance of two concentric windings, from their sizes as built; good to about 3 \
        %, so take it for differences between phases.",
    formula: "2 pi f mu0 pi turns² (inner D1 / 3 + duct D + outer D2 / 3) KR / height, KR Rogowski's factor",
    source: "textbooks on transformer design, from memory",
    example: "leakage-reactance(433, 50 Hz, 300 mm, 70 mm, 50 mm, 100 mm, 1260 mm) -> 15.0706 ohm",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn a_stack_on_the_scales() {
        let args = [
            q("1.618 kg"),
            q("7650 kg/m^3"),
            q("0.305 m"),
            q("30 mm"),
            q("23.9 mm"),
        ];
        near("stacking-factor", &args, "", 0.967159, 1e-5);
        let args = [
            q("1.618 t/h"),
            q("7650 kg/m^3"),
            q("0.305 m"),
            q("30 mm"),
            q("23.9 mm"),
        ];
        assert!(refused("stacking-factor", &args).starts_with("expected a mass, found mass flow"));
    }

    #[test]
    fn leakage_field_as_built() {
        let args = |duct: &str, height: &str| {
            [
                q("433"),
                q("50 Hz"),
                q("300 mm"),
                q("70 mm"),
                q(duct),
                q("100 mm"),
                q(height),
            ]
        };
        near(
            "leakage-reactance",
            &args("50 mm", "1260 mm"),
            "ohm",
            15.07057,
            1e-5,
        );
        let rated = 33_000.0 / 318.182;
        near(
            "leakage-reactance",
            &args("50 mm", "1250 mm"),
            "ohm",
            0.146402 * rated,
            1e-3,
        );
        near(
            "leakage-reactance",
            &args("52 mm", "1260 mm"),
            "ohm",
            0.148283 * rated,
            1e-3,
        );
        assert!(
            refused("leakage-reactance", &args("50 kg", "1260 mm"))
                .starts_with("expected a length, found mass")
        );
    }
}
