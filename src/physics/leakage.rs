//! Leakage reactance of two concentric windings from their sizes as built.

use super::{Domain, MAGNETIC_CONSTANT, not_negative, positive};
use std::f64::consts::PI;

/// Sizes of two concentric windings and the duct between them, all in m.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Windings {
    /// Mean diameter of the inner winding.
    pub inner_diameter: f64,
    /// Radial build of the inner winding.
    pub inner_build: f64,
    /// Mean diameter of the duct.
    pub duct_diameter: f64,
    /// Radial width of the duct.
    pub duct: f64,
    /// Mean diameter of the outer winding.
    pub outer_diameter: f64,
    /// Radial build of the outer winding.
    pub outer_build: f64,
    /// Height of the windings.
    pub height: f64,
}

impl Windings {
    /// The sizes from the inner radius, the three radial sizes and the height (all in m).
    ///
    /// Source: geometry. Example: 300, 70, 50, 100 mm: mean diameters 0.67, 0.79, 0.94 m.
    pub fn from_inner_radius(radius: f64, inner: f64, duct: f64, outer: f64, height: f64) -> Self {
        Self {
            inner_diameter: 2.0 * radius + inner,
            inner_build: inner,
            duct_diameter: 2.0 * (radius + inner) + duct,
            duct,
            outer_diameter: 2.0 * (radius + inner + duct) + outer,
            outer_build: outer,
            height,
        }
    }
}

/// Rogowski's factor, by which the height is divided to allow for the field at the winding ends.
///
/// `height` and `radial` (both builds and the duct) in m. Errors: a size not above zero. Source: from memory,
/// transformer-design textbooks. Example: 1.26 m and 0.22 m: 0.944422.
pub fn rogowski_factor(height: f64, radial: f64) -> Result<f64, Domain> {
    let x = PI * positive(height, "the winding height must be above zero")?
        / positive(radial, "the radial size must be above zero")?;
    Ok(1.0 - (1.0 - (-x).exp()) / x)
}

/// The leakage reactance (Ω) seen from a winding of `turns` turns, with equal heights.
///
/// `sizes` in m, `frequency` in Hz. Good to about 3 %: use it for differences between phases. Errors: a size,
/// frequency or number of turns not above zero, a negative duct. Source: from memory, transformer-design
/// textbooks. Example: 433 turns, 50 Hz, diameters 0.67, 0.79, 0.94 m, radial 70, 50, 100 mm, height 1.26 m:
/// 15.07057 Ω.
pub fn leakage_reactance(turns: f64, frequency: f64, sizes: &Windings) -> Result<f64, Domain> {
    let what = "the winding sizes must be above zero";
    let inner = positive(sizes.inner_build, what)?;
    let outer = positive(sizes.outer_build, what)?;
    let duct = not_negative(sizes.duct, "the duct must not be negative")?;
    let area = inner * positive(sizes.inner_diameter, what)? / 3.0
        + duct * positive(sizes.duct_diameter, what)?
        + outer * positive(sizes.outer_diameter, what)? / 3.0;
    let height = sizes.height / rogowski_factor(sizes.height, inner + duct + outer)?;
    let turns = positive(turns, "the number of turns must be above zero")?;
    let omega = 2.0 * PI * positive(frequency, "the frequency must be above zero")?;
    Ok(omega * MAGNETIC_CONSTANT * PI * turns * turns * area / height)
}

/// A reactance as a fraction of the rated one: X·I/U.
///
/// `reactance` in Ω, `current` and `voltage` of the same coil in A and V. Errors: a voltage not above zero.
/// Source: physics. Example: 15.07057 Ω, 318.182 A, 33 kV: 0.145309.
pub fn reactance_fraction(reactance: f64, current: f64, voltage: f64) -> Result<f64, Domain> {
    Ok(reactance * current / positive(voltage, "the voltage must be above zero")?)
}

/// The offset (m) between the mid-heights of windings on one limb: largest less smallest.
///
/// `windings`: lower edge and height of each in m. Errors: an empty list. Source: geometry. Example: (182,
/// 1258) and (180, 1262) mm: 0.
pub fn centre_offset(windings: &[(f64, f64)]) -> Result<f64, Domain> {
    if windings.is_empty() {
        return Err(Domain("the list of windings is empty"));
    }
    let mid = || {
        windings
            .iter()
            .map(|(bottom, height)| bottom + height / 2.0)
    };
    Ok(mid().fold(f64::NEG_INFINITY, f64::max) - mid().fold(f64::INFINITY, f64::min))
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    fn fraction(duct: f64, outer: f64, height: f64) -> f64 {
        let sizes = Windings::from_inner_radius(0.300, 0.070, duct, outer, height);
        reactance_fraction(
            leakage_reactance(433.0, 50.0, &sizes).unwrap(),
            318.182,
            33e3,
        )
        .unwrap()
    }

    #[test]
    fn worked_example_and_its_sensitivity() {
        near(rogowski_factor(1.26, 0.22).unwrap(), 0.944422, 5e-7);
        let sizes = Windings::from_inner_radius(0.300, 0.070, 0.050, 0.100, 1.26);
        near(sizes.outer_diameter, 0.94, 1e-12);
        near(
            leakage_reactance(433.0, 50.0, &sizes).unwrap(),
            15.07057,
            5e-5,
        );
        near(fraction(0.050, 0.100, 1.26), 0.145309, 1e-5);
        near(fraction(0.050, 0.100, 1.25), 0.146402, 1e-5);
        near(fraction(0.050, 0.100, 1.24), 0.147512, 1e-5);
        near(fraction(0.052, 0.100, 1.26), 0.148283, 1e-5);
        near(fraction(0.050, 0.103, 1.26), 0.146943, 1e-5);
        assert!(rogowski_factor(0.0, 0.2).is_err());
    }

    #[test]
    fn mid_heights() {
        near(
            centre_offset(&[(0.182, 1.258), (0.180, 1.262)]).unwrap(),
            0.0,
            1e-12,
        );
        near(
            centre_offset(&[(0.182, 1.258), (0.185, 1.262)]).unwrap(),
            0.005,
            1e-12,
        );
        assert!(centre_offset(&[]).is_err());
    }
}
