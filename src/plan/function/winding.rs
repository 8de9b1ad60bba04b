//! The winding as built: its conductor and its height.

use super::Function;
use super::argument::{answer_of, fixed, number, parameters};
use crate::physics::winding;

const SUBJECT: &str = "core and windings";

pub(super) static CONDUCTOR_SECTION: Function = Function {
    name: "conductor-section",
    subject: SUBJECT,
    parameters: parameters![
        "width": "width of the bare conductor",
        "thickness": "its thickness",
        "radius": "radius of its corners",
    ],
    variadic: false,
    check: |types| fixed(types, &["length", "length", "length"], "area"),
    evaluate: |values| {
        answer_of(
            "area",
            winding::conductor_section(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The section of a rectangular conductor with rounded corners; bare sizes only, not covered \
        ones.",
    formula: "width thickness - (4 - pi) radius²",
    source: "geometry",
    example: "conductor-section(12.5 mm, 2.5 mm, 0.8 mm) -> 30.7006 mm^2",
};

pub(super) static CORNER_RADIUS: Function = Function {
    name: "corner-radius",
    subject: SUBJECT,
    parameters: parameters!["thickness": "thickness of the bare conductor, 0.5 to 5.6 mm"],
    variadic: false,
    check: |types| fixed(types, &["length"], "length"),
    evaluate: |values| answer_of("length", winding::corner_radius(number(values, 0)?)),
    meaning: "The usual corner radius of a rectangular conductor.",
    formula: "thickness / 2 up to 1 mm; 0.5 mm up to 1.6 mm; 0.65 mm up to 2.24 mm; 0.8 mm up to 3.55 mm; \
        1 mm up to 5.6 mm",
    source: "IEC 60317-0-2, from memory",
    example: "corner-radius(2.5 mm) -> 0.8 mm",
};

pub(super) static CONDUCTOR_LENGTH: Function = Function {
    name: "conductor-length",
    subject: SUBJECT,
    parameters: parameters!["turns": "number of turns", "diameter": "mean diameter of a turn"],
    variadic: false,
    check: |types| fixed(types, &["number", "length"], "length"),
    evaluate: |values| {
        answer_of(
            "length",
            winding::conductor_length(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "The length of the conductor of a winding, without its leads.",
    formula: "turns pi diameter",
    source: "geometry",
    example: "conductor-length(433, 0.8 m) -> 1088.25 m",
};

pub(super) static CONDUCTOR_MASS: Function = Function {
    name: "conductor-mass",
    subject: SUBJECT,
    parameters: parameters![
        "length": "length of the conductor",
        "section": "section of all parallel strands",
        "density": "density of the metal, 8890 kg/m^3 for copper",
    ],
    variadic: false,
    check: |types| fixed(types, &["length", "area", "density"], "mass"),
    evaluate: |values| {
        answer_of(
            "mass",
            winding::conductor_mass(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The mass of the bare conductor.",
    formula: "length section density",
    source: "physics; density of copper: IEC 60028, from memory",
    example: "conductor-mass(1088.248 m, 184.2037 mm^2, 8890 kg/m^3) -> 1.78208 t",
};

pub(super) static BENDING_STRAIN: Function = Function {
    name: "bending-strain",
    subject: SUBJECT,
    parameters: parameters![
        "thickness": "thickness of the conductor across the bend",
        "diameter": "diameter of the coil",
    ],
    variadic: false,
    check: |types| fixed(types, &["length", "length"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            winding::bending_strain(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "The strain of the outer fibre of a conductor that is bent to a coil.",
    formula: "thickness / diameter",
    source: "physics",
    example: "bending-strain(2.5 mm, 800 mm) -> 0.003125",
};

pub(super) static DISC_WINDING_HEIGHT: Function = Function {
    name: "disc-winding-height",
    subject: SUBJECT,
    parameters: parameters![
        "discs": "number of discs",
        "disc-height": "height of one disc",
        "gaps": "number of gaps between discs",
        "spacer": "thickness of the spacers of one gap",
        "compression": "by how much the spacers are pressed, as a share of their thickness",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["number", "length", "number", "length", "ratio"],
            "length",
        )
    },
    evaluate: |values| {
        let (discs, disc) = (number(values, 0)?, number(values, 1)?);
        let (gaps, spacer) = (number(values, 2)?, number(values, 3)?);
        answer_of(
            "length",
            winding::disc_winding_height(discs, disc, gaps, spacer, number(values, 4)?),
        )
    },
    meaning: "The axial height of a disc winding, without its end insulation.",
    formula: "discs disc-height + gaps spacer (1 - compression)",
    source: "geometry",
    example: "disc-winding-height(80, 12.9 mm, 79, 4 mm, 4 %) -> 1335.36 mm",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn conductor_of_a_winding() {
        let section = [q("12.5 mm"), q("2.5 mm"), q("0.8 mm")];
        near("conductor-section", &section, "mm^2", 30.7006, 1e-4);
        near("corner-radius", &[q("2.5 mm")], "mm", 0.8, 1e-9);
        assert!(refused("corner-radius", &[q("6 mm")]).contains("between 0.5 and 5.6 mm"));
        near(
            "conductor-length",
            &[q("433"), q("0.8 m")],
            "m",
            1088.248,
            5e-4,
        );
        let mass = [q("1088.248 m"), q("184.2037 mm^2"), q("8890 kg/m^3")];
        near("conductor-mass", &mass, "kg", 1782.08, 1e-2);
        near(
            "bending-strain",
            &[q("2.5 mm"), q("800 mm")],
            "%",
            0.3125,
            1e-9,
        );
        assert!(
            refused("conductor-length", &[q("433 mm"), q("0.8 m")])
                .starts_with("expected a plain number or a ratio, found length")
        );
    }

    #[test]
    fn free_and_pressed_height() {
        for (compression, expected) in [("0 %", 1348.0), ("4 %", 1335.36)] {
            let values = [q("80"), q("12.9 mm"), q("79"), q("4.0 mm"), q(compression)];
            near("disc-winding-height", &values, "mm", expected, 1e-6);
        }
        let values = [q("80"), q("12.9 mm"), q("79"), q("4.0 mm"), q("104 %")];
        assert!(refused("disc-winding-height", &values).contains("between 0 and 1"));
    }
}
