//! Dispatch: pressure of the transport gas, oil volume, lifting and weighing, shocks.

use super::{Domain, FREE_FALL, ZERO_CELSIUS, not_negative, positive, within};
use std::f64::consts::PI;

/// The gauge pressure (Pa) of a closed gas filling at another temperature.
///
/// `gauge` in Pa at `theta` (°C); `theta_new` in °C; `barometer` in Pa, the same for both. Errors: an
/// absolute pressure not above zero, a temperature below absolute zero. Source: physics (gas law). Example:
/// 25.0 kPa at 20 °C, 101.3 kPa: 7.77 kPa at −20 °C.
pub fn gas_pressure_at(
    gauge: f64,
    theta: f64,
    theta_new: f64,
    barometer: f64,
) -> Result<f64, Domain> {
    let absolute = positive(
        gauge + barometer,
        "the absolute pressure must be above zero",
    )?;
    let cold = "the temperature lies below absolute zero";
    let ratio = positive(theta_new + ZERO_CELSIUS, cold)? / positive(theta + ZERO_CELSIUS, cold)?;
    Ok(absolute * ratio - barometer)
}

/// The share of gas lost (fraction) between two readings of gauge pressure and temperature.
///
/// Pressures in Pa, temperatures in °C, `barometer` in Pa for both. Errors: as [`gas_pressure_at`]. Source:
/// physics. Example: 25.0 kPa at 20 °C, then 14.0 kPa at 8 °C, 101.3 kPa: 0.04813.
pub fn gas_lost(
    gauge: f64,
    theta: f64,
    later: f64,
    theta_later: f64,
    barometer: f64,
) -> Result<f64, Domain> {
    let then = positive(
        gauge + barometer,
        "the absolute pressure must be above zero",
    )?;
    let now = gas_pressure_at(later, theta_later, theta, barometer)? + barometer;
    Ok(1.0 - now / then)
}

/// The gauge pressure (Pa) to fill a closed tank to, so that a wanted gauge pressure is left in the cold.
///
/// `wanted` gauge pressure in Pa at `theta_cold`; `theta_fill`: temperature of the gas when it is filled;
/// both in °C; `barometer` in Pa, the same for both. Errors: as [`gas_pressure_at`]. Source: physics (gas
/// law). Example: 5 kPa at −20 °C, filled at 20 °C, 101.3 kPa: 21.80 kPa.
pub fn filling_pressure(
    wanted: f64,
    theta_cold: f64,
    theta_fill: f64,
    barometer: f64,
) -> Result<f64, Domain> {
    gas_pressure_at(wanted, theta_cold, theta_fill, barometer)
}

/// The change of oil volume (m³) with temperature.
///
/// `volume` in m³, `expansion` in 1/K (0.00075 mineral oil), `change` in K. Errors: a volume not above zero.
/// Source: from memory for the coefficient. Example: 48 m³, 55 K: 1.980 m³.
pub fn oil_volume_change(volume: f64, expansion: f64, change: f64) -> Result<f64, Domain> {
    Ok(positive(volume, "the oil volume must be above zero")? * expansion * change)
}

/// The distance (m) of the centre of gravity from support A, by weighing on two supports.
///
/// `at_a`, `at_b`: loads (N or kg), `distance` between them in m. Errors: a sum not above zero. Source:
/// physics. Example: 96 t, 84 t, 4.2 m: 1.96 m.
pub fn centre_of_gravity(at_a: f64, at_b: f64, distance: f64) -> Result<f64, Domain> {
    Ok(at_b * distance / positive(at_a + at_b, "the sum of the loads must be above zero")?)
}

/// The force (N) in each leg of a sling.
///
/// `mass` in kg, `legs` that carry, `angle` of a leg to the horizontal in rad. Errors: a value not above
/// zero, an angle above a right angle. Source: physics. Example: 180 t, 4 legs, 60°: 509.7 kN; 3 legs: 679.6
/// kN.
pub fn sling_force(mass: f64, legs: f64, angle: f64) -> Result<f64, Domain> {
    let angle = within(
        angle,
        1e-3,
        PI / 2.0,
        "the angle must be above zero and at most a right angle",
    )?;
    Ok(mass * FREE_FALL / (positive(legs, "there must be at least one leg")? * angle.sin()))
}

/// The velocity change (m/s) of a half-sine shock.
///
/// `peak` in m/s², `duration` in s. Errors: a duration not above zero. Source: physics. Example: 3 g, 20 ms:
/// 0.3746 m/s.
pub fn velocity_change(peak: f64, duration: f64) -> Result<f64, Domain> {
    Ok(2.0 / PI * peak * positive(duration, "the duration must be above zero")?)
}

/// The angle (rad) to which a body can be tipped before it falls: arctan(half base / height).
///
/// `half_base`: from the centre of gravity to the tipping edge, level, in m; `height` of the centre of gravity
/// in m. Errors: a value not above zero. Source: physics. Example: 0.75 m, 2.1 m: 19.65°.
pub fn tip_angle(half_base: f64, height: f64) -> Result<f64, Domain> {
    let what = "half base and height must be above zero";
    Ok((positive(half_base, what)? / positive(height, what)?).atan())
}

/// The share of oxygen (fraction by volume) in a tank of nitrogen after dilution with air: 20.95 %·(1 −
/// exp(−n)).
///
/// `volumes`: how often the gas volume was blown in; the gas is taken as fully mixed and free of oxygen
/// before. Never to be relied on for entry: measure. Errors: a negative number. Source: physics; 20.95 %
/// oxygen in dry air: from memory. Example: 1.96 volumes: 0.180.
pub fn oxygen_after_dilution(volumes: f64) -> Result<f64, Domain> {
    let volumes = not_negative(volumes, "the number of volumes must not be negative")?;
    Ok(OXYGEN_IN_AIR * (1.0 - (-volumes).exp()))
}

/// Oxygen in dry air as a fraction by volume. Source: from memory.
const OXYGEN_IN_AIR: f64 = 0.2095;

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn gas() {
        for (theta, expected) in [
            (-20.0, 7.77),
            (-10.0, 12.07),
            (0.0, 16.38),
            (20.0, 25.0),
            (40.0, 33.62),
            (50.0, 37.93),
        ] {
            near(
                gas_pressure_at(25e3, 20.0, theta, 101.3e3).unwrap() / 1e3,
                expected,
                0.006,
            );
        }
        near(
            gas_pressure_at(14e3, 8.0, 20.0, 101.3e3).unwrap() / 1e3,
            18.921,
            1e-3,
        );
        near(
            filling_pressure(5e3, -20.0, 20.0, 101.3e3).unwrap() / 1e3,
            21.80,
            0.005,
        );
        near(
            gas_lost(25e3, 20.0, 14e3, 8.0, 101.3e3).unwrap(),
            0.04813,
            5e-6,
        );
        assert!(gas_pressure_at(25e3, -300.0, 20.0, 101.3e3).is_err());
        near(oil_volume_change(48.0, 0.00075, 55.0).unwrap(), 1.980, 1e-9);
        near(
            oil_volume_change(48.0, 0.00075, -40.0).unwrap(),
            -1.440,
            1e-9,
        );
    }

    #[test]
    fn lifting_and_shock() {
        near(centre_of_gravity(96e3, 84e3, 4.2).unwrap(), 1.96, 1e-9);
        near(sling_force(180e3, 4.0, PI / 3.0).unwrap(), 509.74e3, 200.0);
        near(sling_force(180e3, 3.0, PI / 3.0).unwrap(), 679.66e3, 300.0);
        near(
            velocity_change(3.0 * FREE_FALL, 0.020).unwrap(),
            0.3747,
            1e-3,
        );
    }

    #[test]
    fn tipping_and_oxygen() {
        near(tip_angle(0.75, 2.1).unwrap().to_degrees(), 19.65, 0.005);
        assert!(tip_angle(0.75, 0.0).is_err());
        for (volumes, share) in [(0.0, 0.0), (1.96, 0.180), (2.67, 0.195), (3.09, 0.200)] {
            near(oxygen_after_dilution(volumes).unwrap(), share, 5e-5);
        }
        assert!(oxygen_after_dilution(-1.0).is_err());
    }
}
