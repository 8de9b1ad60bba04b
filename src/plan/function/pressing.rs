//! Pressing of windings.

use super::Function;
use super::argument::{answer_of, fixed, number, parameters};
use crate::physics::winding;

pub(super) static JACK_FORCE: Function = Function {
    name: "jack-force",
    subject: "core and windings",
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
}
