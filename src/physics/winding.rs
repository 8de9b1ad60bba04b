//! The winding as built: conductor section, length and mass, build, pressing and jack forces.

use super::{Domain, not_negative, positive, within};
use std::f64::consts::PI;

/// The section (m²) of a rectangular conductor with rounded corners.
///
/// `width`, `thickness` and corner `radius` in m. Errors: a size not above zero, a radius above half the
/// smaller side. Source: geometry. Example: 12.5 × 2.5 mm, radius 0.80 mm: 30.7006 mm².
pub fn conductor_section(width: f64, thickness: f64, radius: f64) -> Result<f64, Domain> {
    let what = "width and thickness must be above zero";
    let (b, a) = (positive(width, what)?, positive(thickness, what)?);
    let half = a.min(b) / 2.0 * (1.0 + 1e-12);
    let r = within(
        radius,
        0.0,
        half,
        "the corner radius must be between 0 and half the smaller side",
    )?;
    Ok(a * b - (4.0 - PI) * r * r)
}

/// The usual corner radius (m) of a rectangular conductor by its thickness (m).
///
/// Errors: a thickness outside 0.5 to 5.6 mm. Source: from memory, IEC 60317-0-2. Example: 2.5 mm: 0.80 mm.
pub fn corner_radius(thickness: f64) -> Result<f64, Domain> {
    let a = 1e3
        * within(
            thickness,
            0.5e-3,
            5.6e-3 + 1e-12,
            "the thickness must be between 0.5 and 5.6 mm",
        )?;
    let upto = |limit: f64| a <= limit + 1e-9;
    Ok(1e-3
        * match () {
            () if upto(1.0) => a / 2.0,
            () if upto(1.6) => 0.50,
            () if upto(2.24) => 0.65,
            () if upto(3.55) => 0.80,
            () => 1.00,
        })
}

/// The conductor length (m) of a winding.
///
/// `turns`; `diameter`: mean turn diameter in m. Errors: a value not above zero. Source: geometry. Example:
/// 433 turns, 0.80 m: 1088.248 m.
pub fn conductor_length(turns: f64, diameter: f64) -> Result<f64, Domain> {
    let turns = positive(turns, "the number of turns must be above zero")?;
    Ok(turns * PI * positive(diameter, "the mean diameter must be above zero")?)
}

/// The conductor mass (kg).
///
/// `length` in m, `section` of all strands in m², `density` in kg/m³. Errors: a value not above zero. Source:
/// physics. Example: 1088.248 m, 184.2037 mm², 8890 kg/m³: 1782.08 kg.
pub fn conductor_mass(length: f64, section: f64, density: f64) -> Result<f64, Domain> {
    let what = "length, section and density must be above zero";
    Ok(positive(length, what)? * positive(section, what)? * positive(density, what)?)
}

/// The strain (fraction) of a conductor bent to a coil: thickness over diameter, both in m.
///
/// Errors: a diameter not above zero. Source: physics. Example: 2.5 mm on 800 mm: 0.003125.
pub fn bending_strain(thickness: f64, diameter: f64) -> Result<f64, Domain> {
    Ok(thickness / positive(diameter, "the diameter must be above zero")?)
}

/// The axial height (m) of a disc winding.
///
/// `discs`, `disc_height` in m, `gaps`, `spacer` thickness in m, `compression` of the spacers as a fraction.
/// Errors: a negative value, a compression outside 0 to 1. Source: geometry. Example: 80 × 12.9 mm, 79 × 4.0
/// mm, 0.04: 1335.36 mm.
pub fn disc_winding_height(
    discs: f64,
    disc_height: f64,
    gaps: f64,
    spacer: f64,
    compression: f64,
) -> Result<f64, Domain> {
    let what = "discs, gaps and sizes must not be negative";
    let share = within(
        compression,
        0.0,
        1.0,
        "the compression must be between 0 and 1",
    )?;
    let copper = not_negative(discs, what)? * not_negative(disc_height, what)?;
    Ok(copper + not_negative(gaps, what)? * not_negative(spacer, what)? * (1.0 - share))
}

/// The pressing force (N) on a winding for a stress on its spacers.
///
/// `columns` of spacers, `width` of a spacer and `overlap` with the winding in m, `stress` in Pa. Errors: a
/// value not above zero. Source: physics. Example: 24, 40 mm, 75 mm, 3 N/mm²: 216 kN.
pub fn pressing_force(columns: f64, width: f64, overlap: f64, stress: f64) -> Result<f64, Domain> {
    let what = "columns, width, overlap and stress must be above zero";
    Ok(positive(columns, what)?
        * positive(width, what)?
        * positive(overlap, what)?
        * positive(stress, what)?)
}

/// The force (N) of hydraulic jacks.
///
/// `pressure` in Pa (gauge), `diameter` of a piston in m, `count` of jacks. Errors: a value not above zero.
/// Source: physics. Example: 18 MPa, 80 mm, 8 jacks: 723.823 kN.
pub fn jack_force(pressure: f64, diameter: f64, count: f64) -> Result<f64, Domain> {
    let what = "pressure, piston diameter and number of jacks must be above zero";
    let diameter = positive(diameter, what)?;
    Ok(positive(count, what)? * PI / 4.0 * diameter * diameter * positive(pressure, what)?)
}

/// The jack pressure (Pa) for a force: the inverse of [`jack_force`].
///
/// `force` in N, `diameter` in m, `count`. Errors and source: as there. Example: 216 kN, 80 mm, 8: 5.3715
/// MPa.
pub fn jack_pressure(force: f64, diameter: f64, count: f64) -> Result<f64, Domain> {
    Ok(force / jack_force(1.0, diameter, count)?)
}

/// The stress (Pa) lost when the clamped insulation gets thinner: E·Δh/h.
///
/// `modulus` in Pa (150 N/mm² is an assumption to be replaced by a test), `change` and `height` in m. Errors:
/// a height not above zero. Source: physics; the modulus: common practice, no source. Example: 150 N/mm², 0.5
/// mm of 300 mm: 0.25 N/mm².
pub fn preload_loss(modulus: f64, change: f64, height: f64) -> Result<f64, Domain> {
    Ok(modulus * change / positive(height, "the insulation height must be above zero")?)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn conductor() {
        let section = conductor_section(12.5e-3, 2.5e-3, corner_radius(2.5e-3).unwrap()).unwrap();
        near(1e6 * section, 30.7006, 1e-4);
        near(
            1e6 * conductor_section(12.5e-3, 2.5e-3, 0.65e-3).unwrap(),
            30.8873,
            1e-4,
        );
        let length = conductor_length(433.0, 0.80).unwrap();
        near(length, 1088.248, 5e-4);
        near(
            conductor_mass(length, 6.0 * section, 8890.0).unwrap(),
            1782.08,
            0.01,
        );
        near(bending_strain(2.5e-3, 0.8).unwrap(), 0.003125, 1e-12);
        near(corner_radius(0.8e-3).unwrap(), 0.4e-3, 1e-12);
        near(corner_radius(5.6e-3).unwrap(), 1.0e-3, 1e-12);
        assert!(conductor_section(12.5e-3, 2.5e-3, 2e-3).is_err() && corner_radius(0.01).is_err());
    }

    #[test]
    fn forces_and_height() {
        near(
            disc_winding_height(80.0, 12.9e-3, 79.0, 4e-3, 0.0).unwrap(),
            1.3480,
            1e-9,
        );
        near(
            disc_winding_height(80.0, 12.9e-3, 79.0, 4e-3, 0.04).unwrap(),
            1.33536,
            1e-9,
        );
        near(
            pressing_force(24.0, 0.040, 0.075, 3e6).unwrap(),
            216e3,
            1e-6,
        );
        let force = jack_force(18e6, 0.080, 8.0).unwrap();
        near(force, 723.823e3, 10.0);
        near(force / 72_000e-6, 10.0531e6, 1e3);
        near(jack_pressure(216e3, 0.080, 8.0).unwrap(), 5.3715e6, 1e3);
        near(preload_loss(150e6, 0.5e-3, 0.3).unwrap(), 0.25e6, 1e-6);
    }
}
