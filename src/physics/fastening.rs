//! Gaskets and bolts: squeeze of flat gaskets and cords, bolt force and tightening torque.

use super::{Domain, not_negative, positive, within};
use std::f64::consts::PI;

/// The squeeze (fraction) of a gasket pressed to a stop or into a groove: (thickness − stop) / thickness.
///
/// `thickness` of the free gasket or diameter of a cord in m; `stop`: height of the stop or depth of the
/// groove in m. Errors: a thickness not above zero, a stop below zero or above the thickness. Source:
/// geometry. Example: 10 mm to 7 mm: 0.30; a cord of 10 mm in a groove of 7.6 mm: 0.24.
pub fn gasket_squeeze(thickness: f64, stop: f64) -> Result<f64, Domain> {
    let thickness = positive(thickness, "the gasket thickness must be above zero")?;
    let stop = within(
        stop,
        0.0,
        thickness,
        "the stop must lie between zero and the gasket thickness",
    )?;
    Ok((thickness - stop) / thickness)
}

/// The share of a rectangular groove (fraction) that a round cord fills; above 1 it does not go in.
///
/// `diameter` of the cord, `width` and `depth` of the groove in m. Errors: a size not above zero. Source:
/// geometry. Example: 10 mm in 12 × 7.6 mm: 0.8612.
pub fn cord_fill(diameter: f64, width: f64, depth: f64) -> Result<f64, Domain> {
    let what = "cord diameter, groove width and groove depth must be above zero";
    let diameter = positive(diameter, what)?;
    Ok(PI / 4.0 * diameter * diameter / (positive(width, what)? * positive(depth, what)?))
}

/// The tightening torque (N·m) for a bolt force: K·F·d.
///
/// `k`: torque coefficient (about 0.2 dry), `force` in N, `diameter`: nominal thread diameter in m. Errors: a
/// coefficient or diameter not above zero, a negative force. Source: common practice, no source; within 10 %
/// of a published list for M8 to M24 of class 8.8. Example: 0.2, 70.336 kN, 16 mm: 225.08 N·m.
pub fn tightening_torque(k: f64, force: f64, diameter: f64) -> Result<f64, Domain> {
    let k = positive(k, "the torque coefficient must be above zero")?;
    let diameter = positive(diameter, "the thread diameter must be above zero")?;
    Ok(k * not_negative(force, "the bolt force must not be negative")? * diameter)
}

/// The bolt force (N) at a share of the proof stress.
///
/// `share`: fraction, 0 to 1; `proof` stress in Pa (640 N/mm² for class 8.8); `area`: stress area in m².
/// Errors: a share outside 0 to 1, a stress or area not above zero. Source: physics. Example: 0.7, 640 N/mm²,
/// 157 mm²: 70.336 kN.
pub fn bolt_force(share: f64, proof: f64, area: f64) -> Result<f64, Domain> {
    let what = "proof stress and stress area must be above zero";
    let share = within(
        share,
        0.0,
        1.0,
        "the share of the proof stress must be between 0 and 1",
    )?;
    Ok(share * positive(proof, what)? * positive(area, what)?)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn gaskets() {
        near(gasket_squeeze(0.010, 0.007).unwrap(), 0.30, 1e-12);
        near(gasket_squeeze(0.010, 0.0076).unwrap(), 0.24, 1e-12);
        near(cord_fill(0.010, 0.012, 0.0076).unwrap(), 0.8612, 5e-5);
        assert!(gasket_squeeze(0.007, 0.010).is_err() && cord_fill(0.010, 0.0, 0.0076).is_err());
    }

    #[test]
    fn bolts() {
        // Nominal diameter (mm), stress area (mm²), torque (N·m) worked out, torque of a published list.
        for (diameter, area, expected, published) in [
            (8.0, 36.6, 26.2, 24.0),
            (10.0, 58.0, 52.0, 50.0),
            (12.0, 84.3, 90.6, 85.0),
            (16.0, 157.0, 225.1, 210.0),
            (20.0, 245.0, 439.0, 410.0),
            (24.0, 353.0, 759.1, 700.0),
        ] {
            let force = bolt_force(0.7, 640e6, area * 1e-6).unwrap();
            let torque = tightening_torque(0.2, force, diameter * 1e-3).unwrap();
            near(torque, expected, 0.06);
            near(torque / published, 1.0, 0.10);
        }
        near(bolt_force(0.7, 640e6, 157e-6).unwrap(), 70.336e3, 1e-6);
        assert!(bolt_force(1.2, 640e6, 157e-6).is_err() && bolt_force(0.7, 0.0, 157e-6).is_err());
        assert!(tightening_torque(0.2, -1.0, 0.016).is_err());
    }
}
