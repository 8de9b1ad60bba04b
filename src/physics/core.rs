//! The core: stacking factor, sections, flux density, building factor.

use super::{Domain, positive};
use std::f64::consts::PI;

/// The stacking factor: steel volume over stack volume.
///
/// `mass` in kg; `density` in kg/m³ (7650 for grain-oriented steel); `length`, `width`, `height` of the stack
/// in m. Errors: a value not above zero. Source: physics. Example: 1.618 kg, 7650, 0.305 × 0.030 m, 23.9 mm:
/// 0.967159.
pub fn stacking_factor(
    mass: f64,
    density: f64,
    length: f64,
    width: f64,
    height: f64,
) -> Result<f64, Domain> {
    let what = "mass, density and sizes of the stack must be above zero";
    let volume = positive(length, what)? * positive(width, what)? * positive(height, what)?;
    Ok(positive(mass, what)? / (positive(density, what)? * volume))
}

/// How many sheets a stack holds (not rounded).
///
/// `height` of the stack in m, `factor`: stacking factor, `thickness` of a sheet in m. Errors: a value not
/// above zero. Source: physics. Example: 95 mm, 0.965, 0.23 mm: 398.59.
pub fn sheets_in_stack(height: f64, factor: f64, thickness: f64) -> Result<f64, Domain> {
    let what = "height, stacking factor and thickness must be above zero";
    Ok(positive(height, what)? * positive(factor, what)? / positive(thickness, what)?)
}

/// The net steel section (m²) of a limb.
///
/// `diameter` of the circle round the limb in m; `fill`: share of the circle filled by the steps; `factor`:
/// stacking factor. Errors: a value not above zero. Source: physics. Example: 0.56 m, 0.905, 0.965: 0.2151007
/// m².
pub fn net_section(diameter: f64, fill: f64, factor: f64) -> Result<f64, Domain> {
    let what = "diameter, fill and stacking factor must be above zero";
    let diameter = positive(diameter, what)?;
    Ok(PI / 4.0 * diameter * diameter * positive(fill, what)? * positive(factor, what)?)
}

/// The crest flux density (T) for a sine-shaped voltage, with the exact factor π·√2 = 4.4429.
///
/// `volts_per_turn` in V r.m.s.; `frequency` in Hz; `area`: net steel section in m². Errors: a value not
/// above zero. Source: physics. Example: 100 V, 50 Hz, 0.2650 m²: 1.6987 T.
pub fn flux_density(volts_per_turn: f64, frequency: f64, area: f64) -> Result<f64, Domain> {
    let what = "volts per turn, frequency and section must be above zero";
    let volts = positive(volts_per_turn, what)?;
    Ok(volts / (PI * 2.0_f64.sqrt() * positive(frequency, what)? * positive(area, what)?))
}

/// The building factor: no-load loss of the built core over strip loss times mass.
///
/// `loss` in W, `mass` in kg, `specific` strip loss in W/kg at the same flux density. Errors: a value not
/// above zero. Source: a published paper on building factors. Example: 49.2 kW, 42 000 kg, 0.98 W/kg: 1.1953.
pub fn building_factor(loss: f64, mass: f64, specific: f64) -> Result<f64, Domain> {
    let what = "loss, mass and specific loss must be above zero";
    Ok(positive(loss, what)? / (positive(mass, what)? * positive(specific, what)?))
}

/// The largest specific loss (W/kg, 1.7 T, 50 Hz) that a grade name of electrical steel promises, and the
/// nominal thickness (m).
///
/// Errors: a text that isn't M, two digits or more, a hyphen, two digits and a letter. Source: from memory,
/// IEC 60404-8-7. Example: `M100-23P` gives 1.00 W/kg and 0.23 mm.
pub fn steel_grade(name: &str) -> Result<(f64, f64), Domain> {
    let bad = Domain("a steel grade is written like M100-23P");
    let (loss, rest) = name
        .strip_prefix('M')
        .and_then(|n| n.split_once('-'))
        .ok_or(bad)?;
    let thickness = rest.strip_suffix(['S', 'P', 'N', 'R', 'D']).ok_or(bad)?;
    let number = |text: &str, least: usize| {
        let plain =
            text.len() >= least && text.len() <= 4 && text.chars().all(|c| c.is_ascii_digit());
        text.parse::<f64>().ok().filter(|_| plain).ok_or(bad)
    };
    Ok((number(loss, 2)? / 100.0, number(thickness, 2)? / 1e5))
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn stack_and_sections() {
        near(
            stacking_factor(1.618, 7650.0, 0.305, 0.030, 0.0239).unwrap(),
            0.967159,
            1e-5,
        );
        near(
            sheets_in_stack(0.095, 0.965, 0.23e-3).unwrap(),
            398.59,
            0.005,
        );
        near(net_section(0.56, 0.905, 0.965).unwrap(), 0.2151007, 5e-8);
        assert!(stacking_factor(1.0, 0.0, 1.0, 1.0, 1.0).is_err());
    }

    #[test]
    fn flux_and_loss() {
        near(flux_density(100.0, 50.0, 0.2650).unwrap(), 1.6987, 5e-5);
        near(
            flux_density(76.212471, 50.0, 0.2151007).unwrap(),
            1.594958,
            1e-5,
        );
        near(building_factor(49.2e3, 42e3, 0.98).unwrap(), 1.1953, 5e-5);
        let (loss, thickness) = steel_grade("M100-23P").unwrap();
        near(loss, 1.0, 1e-12);
        near(thickness, 0.23e-3, 1e-12);
        for bad in [
            "", "100-23P", "M100", "M100-23", "M-23P", "M1e2-23P", "M100-é",
        ] {
            assert!(steel_grade(bad).is_err(), "{bad}");
        }
    }
}
