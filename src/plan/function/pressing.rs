//! Pressing of windings.

use super::Function;
use super::argument::{answer_of, fixed, number, parameters};
use crate::physics::winding;

const SUBJECT: &str = "core and windings";

pub(super) static JACK_FORCE: Function = Function {
    name: "jack-force",
    subject: SUBJECT,
    parameters: parameters![
        "p": "pressure at the jacks",
        "d": "diameter of the piston",
        "n": "number of jacks",
    ],
    variadic: false,
    check: |types| fixed(types, &["pressure", "length", "number"], "force"),
    evaluate: |values| {
        answer_of(
            "force",
            winding::jack_force(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The force of hydraulic jacks, without friction.",
    formula: "n p pi d² / 4",
    source: "physics",
    example: "jack-force(180 bar, 80 mm, 8) -> 723.823 kN",
};

pub(super) static JACK_PRESSURE: Function = Function {
    name: "jack-pressure",
    subject: SUBJECT,
    parameters: parameters![
        "force": "force wanted",
        "d": "diameter of the piston",
        "n": "number of jacks",
    ],
    variadic: false,
    check: |types| fixed(types, &["force", "length", "number"], "pressure"),
    evaluate: |values| {
        answer_of(
            "pressure",
            winding::jack_pressure(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The pressure at hydraulic jacks that gives a force, without friction.",
    formula: "4 force / (n pi d²)",
    source: "physics",
    example: "jack-pressure(216 kN, 80 mm, 8) / (1 bar) -> 53.7148",
};

pub(super) static PRESSING_FORCE: Function = Function {
    name: "pressing-force",
    subject: SUBJECT,
    parameters: parameters![
        "columns": "columns of spacers around the circle",
        "width": "width of a spacer",
        "overlap": "radial overlap of spacer and winding",
        "stress": "stress wanted on the spacers",
    ],
    variadic: false,
    check: |types| fixed(types, &["number", "length", "length", "pressure"], "force"),
    evaluate: |values| {
        answer_of(
            "force",
            winding::pressing_force(
                number(values, 0)?,
                number(values, 1)?,
                number(values, 2)?,
                number(values, 3)?,
            ),
        )
    },
    meaning: "The force that presses a winding with this stress on its spacers.",
    formula: "columns width overlap stress",
    source: "physics",
    example: "pressing-force(24, 40 mm, 75 mm, 3 N/mm^2) -> 216 kN",
};

pub(super) static PRELOAD_LOSS: Function = Function {
    name: "preload-loss",
    subject: SUBJECT,
    parameters: parameters![
        "modulus": "modulus of the pressed insulation, from the supplier's test; 150 N/mm^2 is an assumption",
        "change": "by how much the insulation gets thinner",
        "height": "height of all insulation in the stack",
    ],
    variadic: false,
    check: |types| fixed(types, &["pressure", "length", "length"], "pressure"),
    evaluate: |values| {
        answer_of(
            "pressure",
            winding::preload_loss(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The stress that a clamped winding loses when its insulation gets thinner.",
    formula: "modulus change / height",
    source: "physics; the modulus: common practice, no source",
    example: "preload-loss(150 N/mm^2, 0.5 mm, 300 mm) -> 0.25 N/mm^2",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn eight_jacks() {
        near(
            "jack-force",
            &[q("180 bar"), q("80 mm"), q("8")],
            "kN",
            723.823,
            1e-2,
        );
        assert!(
            refused("jack-force", &[q("180 kN"), q("80 mm"), q("8")])
                .starts_with("expected a pressure, found force")
        );
    }

    #[test]
    fn force_and_pressure_for_a_stress() {
        let stack = [q("24"), q("40 mm"), q("75 mm"), q("3 N/mm^2")];
        near("pressing-force", &stack, "kN", 216.0, 1e-9);
        let jacks = [q("216 kN"), q("80 mm"), q("8")];
        near("jack-pressure", &jacks, "bar", 53.715, 1e-2);
        let stack = [q("150 N/mm^2"), q("0.5 mm"), q("300 mm")];
        near("preload-loss", &stack, "N/mm^2", 0.25, 1e-9);
        assert!(
            refused("jack-pressure", &[q("216 kN"), q("80 mm"), q("0")]).contains("above zero")
        );
        assert!(
            refused("preload-loss", &[q("150 N/mm^2"), q("0.5 mm"), q("0.3 kg")])
                .starts_with("expected a length, found mass")
        );
    }
}
