//! Gaskets and bolts.

use super::Function;
use super::argument::{answer_of, fixed, number, parameters};
use crate::physics::fastening;

const SUBJECT: &str = "gaskets and bolts";

pub(super) static GASKET_SQUEEZE: Function = Function {
    name: "gasket-squeeze",
    subject: SUBJECT,
    parameters: parameters![
        "thickness": "thickness of the free gasket, or diameter of the cord",
        "stop": "height of the stop, or depth of the groove",
    ],
    variadic: false,
    check: |types| fixed(types, &["length", "length"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            fastening::gasket_squeeze(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "How much a gasket is squeezed when its joint is closed, as a share of its thickness.",
    formula: "(thickness - stop) / thickness",
    source: "geometry",
    example: "gasket-squeeze(10 mm, 7 mm) -> 0.3",
};

pub(super) static CORD_FILL: Function = Function {
    name: "cord-fill",
    subject: SUBJECT,
    parameters: parameters![
        "diameter": "diameter of the round cord",
        "width": "width of the groove",
        "depth": "depth of the groove",
    ],
    variadic: false,
    check: |types| fixed(types, &["length", "length", "length"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            fastening::cord_fill(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "How much of a rectangular groove a round cord fills.",
    formula: "pi diameter² / (4 width depth)",
    source: "geometry",
    example: "cord-fill(10 mm, 12 mm, 7.6 mm) -> 0.861182",
};

pub(super) static TIGHTENING_TORQUE: Function = Function {
    name: "tightening-torque",
    subject: SUBJECT,
    parameters: parameters![
        "k": "torque coefficient, about 0.2 for a dry thread",
        "force": "force in the bolt",
        "diameter": "nominal diameter of the thread",
    ],
    variadic: false,
    check: |types| fixed(types, &["ratio", "force", "length"], "torque"),
    evaluate: |values| {
        answer_of(
            "torque",
            fastening::tightening_torque(
                number(values, 0)?,
                number(values, 1)?,
                number(values, 2)?,
            ),
        )
    },
    meaning: "The torque that gives a bolt this force.",
    formula: "k force diameter",
    source: "common practice, no source",
    example: "tightening-torque(0.2, 70.336 kN, 16 mm) / (1 N*m) -> 225.075",
};

pub(super) static BOLT_FORCE: Function = Function {
    name: "bolt-force",
    subject: SUBJECT,
    parameters: parameters![
        "share": "share of the proof stress that is used",
        "proof-stress": "proof stress of the bolt, 640 N/mm^2 for class 8.8",
        "area": "stress area of the thread",
    ],
    variadic: false,
    check: |types| fixed(types, &["ratio", "pressure", "area"], "force"),
    evaluate: |values| {
        answer_of(
            "force",
            fastening::bolt_force(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The force of a bolt that is tightened to a share of its proof stress.",
    formula: "share proof-stress area",
    source: "physics",
    example: "bolt-force(70 %, 640 N/mm^2, 157 mm^2) -> 70.336 kN",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn gasket_and_cord() {
        near("gasket-squeeze", &[q("10 mm"), q("7 mm")], "%", 30.0, 1e-9);
        near(
            "gasket-squeeze",
            &[q("10 mm"), q("7.6 mm")],
            "%",
            24.0,
            1e-9,
        );
        near(
            "cord-fill",
            &[q("10 mm"), q("12 mm"), q("7.6 mm")],
            "%",
            86.12,
            5e-3,
        );
        assert!(
            refused("gasket-squeeze", &[q("7 mm"), q("10 mm")])
                .contains("between zero and the gasket thickness")
        );
        assert!(
            refused("cord-fill", &[q("10 mm"), q("12 mm"), q("7.6 kg")]).contains("found mass")
        );
    }

    #[test]
    fn bolts_of_class_8_8() {
        for (area, force) in [("84.3 mm^2", 37.8), ("157 mm^2", 70.3)] {
            let values = [q("0.7"), q("640 N/mm^2"), q(area)];
            near("bolt-force", &values, "kN", force, 0.05);
        }
        near(
            "tightening-torque",
            &[q("0.2"), q("70.336 kN"), q("16 mm")],
            "N*m",
            225.1,
            0.05,
        );
        assert!(
            refused("tightening-torque", &[q("0.2"), q("70 MPa"), q("16 mm")])
                .starts_with("expected a force, found pressure")
        );
    }
}
