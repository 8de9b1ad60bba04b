//! Core, pressing and leakage field.

use super::argument::{
    answer, answer_of, fixed, list_first, number, numbers, parameters, plain_function, word,
};
use super::{EvaluationFault, Function};
use crate::physics::core;
use crate::physics::leakage::{self, Windings};
use crate::plan::value::Value;

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

plain_function!(
    REACTANCE_SHARE = "reactance-share" in SUBJECT,
    [
        "x" reactance: "impedance" = "leakage reactance of a phase",
        "i" current: "current" = "phase current of the winding from which it is seen",
        "u" voltage: "voltage" = "its phase voltage",
    ] -> "ratio",
    leakage::reactance_fraction(reactance, current, voltage),
    "A leakage reactance as a share of the rated impedance.", "x i / u", "physics",
    "reactance-share(15.0706 ohm, 318.182 A, 33 kV) -> 0.145309",
);

plain_function!(
    ROGOWSKI_FACTOR = "rogowski-factor" in SUBJECT,
    [
        "height" height: "length" = "height of the windings",
        "radial" radial: "length" = "radial build of both windings with the duct",
    ] -> "ratio",
    leakage::rogowski_factor(height, radial),
    "How much the leakage field of real windings is weaker than that of endless ones.",
    "1 - (1 - e^(-pi height / radial)) / (pi height / radial)",
    "textbooks on transformer design, from memory",
    "rogowski-factor(1260 mm, 220 mm) -> 0.944422",
);

plain_function!(
    NET_SECTION = "net-section" in SUBJECT,
    [
        "diameter" diameter: "length" = "of the circle round the limb",
        "fill" fill: "ratio" = "share of the circle that is stack",
        "factor" factor: "ratio" = "stacking factor",
    ] -> "area",
    core::net_section(diameter, fill, factor),
    "The section of steel in a stepped limb.", "pi / 4 diameter² fill factor", "physics",
    "net-section(560 mm, 0.905, 0.965) -> 215101 mm^2",
);

plain_function!(
    SHEETS_IN_STACK = "sheets-in-stack" in SUBJECT,
    [
        "height" height: "length" = "height of the stack",
        "factor" factor: "ratio" = "stacking factor",
        "thickness" thickness: "length" = "thickness of a sheet",
    ] -> "number",
    core::sheets_in_stack(height, factor, thickness),
    "How many sheets a stack takes.", "height factor / thickness", "physics",
    "sheets-in-stack(95 mm, 0.965, 0.23 mm) -> 398.587",
);

plain_function!(
    BUILDING_FACTOR = "building-factor" in SUBJECT,
    [
        "p0" loss: "power" = "loss of the built core",
        "mass" mass: "mass" = "its mass",
        "specific" specific: "number" = "loss of the strip at the same flux density, in W/kg",
    ] -> "ratio",
    core::building_factor(loss, mass, specific),
    "Loss of the built core over that of its strips; 1.08 to 1.35 for three-phase three-limb cores.",
    "p0 / (mass specific)", "TRAFOSEM 2008, paper on building factors (definition and range)",
    "building-factor(49.2 kW, 42000 kg, 0.98) -> 1.19534",
);

/// The two figures in the name of a grade of electrical steel.
fn grade(values: &[Value]) -> Result<(f64, f64), EvaluationFault> {
    core::steel_grade(word(values, 0)?).map_err(|fault| EvaluationFault(fault.to_string()))
}

pub(super) static STEEL_GRADE_LOSS: Function = Function {
    name: "steel-grade-loss",
    subject: SUBJECT,
    parameters: parameters!["grade": "name of the grade, like M100-23P"],
    variadic: false,
    check: |types| fixed(types, &["name"], "number"),
    evaluate: |values| answer("number", grade(values)?.0),
    meaning: "The largest loss in W/kg that a grade of electrical steel promises by its name, at 1.7 T and 50 Hz.",
    formula: "the first figure / 100",
    source: "IEC 60404-8-7, designation of grades, from memory",
    example: "steel-grade-loss(\"M100-23P\") -> 1",
};

pub(super) static STEEL_GRADE_THICKNESS: Function = Function {
    name: "steel-grade-thickness",
    subject: SUBJECT,
    parameters: parameters!["grade": "name of the grade, like M100-23P"],
    variadic: false,
    check: |types| fixed(types, &["name"], "length"),
    evaluate: |values| answer("length", grade(values)?.1),
    meaning: "The nominal thickness that a grade of electrical steel bears in its name.",
    formula: "the second figure / 100 mm",
    source: "IEC 60404-8-7, designation of grades, from memory",
    example: "steel-grade-thickness(\"M100-23P\") -> 230 um",
};

pub(super) static CENTRE_OFFSET: Function = Function {
    name: "centre-offset",
    subject: SUBJECT,
    parameters: parameters!["centres": "mid-heights of the windings of one limb, as a list"],
    variadic: false,
    check: |types| list_first(types, &["length"], "length"),
    evaluate: |values| {
        let centres: Vec<(f64, f64)> = numbers(values, 0)?.into_iter().map(|z| (z, 0.0)).collect();
        answer_of("length", leakage::centre_offset(&centres))
    },
    meaning: "How far the magnetic centres of the windings on one limb lie apart.",
    formula: "largest - smallest",
    source: "geometry",
    example: "require centre-offset(mid-height[*, phase]) <= 4 mm",
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
    fn centres_and_grades() {
        let centres = list(&["811 mm", "811.5 mm", "809 mm"]);
        near("centre-offset", &[centres], "mm", 2.5, 1e-9);
        let message = refused("centre-offset", &[q("811 mm")]);
        assert!(message.contains("a list, each a length"), "{message}");
        assert!(refused("steel-grade-loss", &[name("23P")]).contains("M100-23P"));
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
