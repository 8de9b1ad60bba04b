//! Sound levels: energy mean, background and environment correction, sound power. Levels are in dB.

use super::{Domain, positive};

/// The energy mean of sound levels (dB).
///
/// Errors: an empty list. Source: from memory, IEC 60076-10; physics. Example: 61.2 62.0 60.8 63.1 62.4 61.7
/// 60.9 62.6 dB: 61.91 dB.
pub fn level_mean(levels: &[f64]) -> Result<f64, Domain> {
    let sum: f64 = levels.iter().map(|l| 10.0_f64.powf(0.1 * l)).sum();
    Ok(10.0 * (positive(sum, "the list of levels is empty")? / levels.len() as f64).log10())
}

/// The energy sum of sound levels (dB).
///
/// Errors: an empty list. Source: physics. Example: 79.49 and 67.8 dB: 79.78 dB.
pub fn level_sum(levels: &[f64]) -> Result<f64, Domain> {
    Ok(level_mean(levels)? + 10.0 * (levels.len() as f64).log10())
}

/// A sound level (dB) freed of the background (dB).
///
/// A difference of 10 dB or more is left as it is. Errors: a difference below 3 dB, where the measurement
/// doesn't hold. Source: from memory, IEC 60076-10:2016. Example: 61.91 and 55.0 dB: 60.92 dB.
pub fn background_corrected(level: f64, background: f64) -> Result<f64, Domain> {
    let difference = level - background;
    if difference >= 10.0 {
        return Ok(level);
    }
    if !difference.is_finite() || difference < 3.0 - 1e-9 {
        return Err(Domain(
            "the level must exceed the background by at least 3 dB",
        ));
    }
    Ok(10.0 * (10.0_f64.powf(0.1 * level) - 10.0_f64.powf(0.1 * background)).log10())
}

/// The environment correction K (dB) from absorption area over measuring surface.
///
/// Errors: a ratio not above zero. Source: from memory, IEC 60076-10. Example: 12 gives 1.25 dB.
pub fn environment_correction(ratio: f64) -> Result<f64, Domain> {
    Ok(10.0 * (1.0 + 4.0 / positive(ratio, "the ratio of areas must be above zero")?).log10())
}

/// The measuring surface (m²) at 0.3 m: 1.25·height·contour, or at 2 m: (height + 2)·contour.
///
/// `height` of the tank and `contour` length in m; `forced`: cooling in service, contour at 2 m. Errors: a
/// size not above zero. Source: from memory, IEC 60076-10. Example: 3.2 m, 24 m, 0.3 m: 96.0 m².
pub fn measuring_surface(height: f64, contour: f64, forced: bool) -> Result<f64, Domain> {
    let what = "height and contour must be above zero";
    let (h, l) = (positive(height, what)?, positive(contour, what)?);
    Ok(if forced { (h + 2.0) * l } else { 1.25 * h * l })
}

/// The sound power level (dB) from the corrected sound pressure level (dB) and the measuring surface (m²).
///
/// Errors: a surface not above zero. Source: physics. Example: 59.67 dB, 96.0 m²: 79.49 dB.
pub fn sound_power_level(pressure_level: f64, surface: f64) -> Result<f64, Domain> {
    Ok(pressure_level + 10.0 * positive(surface, "the surface must be above zero")?.log10())
}

/// The sound power level (dB) of the load current, estimated from the rated power (VA): 39 + 18·lg(S/1 MVA).
///
/// Errors: a power not above zero. Source: from memory, IEC 60076-10. Example: 40 MVA: 67.8 dB.
pub fn load_sound_estimate(power: f64) -> Result<f64, Domain> {
    Ok(39.0 + 18.0 * (positive(power, "the rated power must be above zero")? / 1e6).log10())
}

/// What to add (dB) to load-current sound measured at a lower current: 40·lg(Ir/I).
///
/// `rated` and `current` in A. Errors: a current not above zero. Source: from memory, IEC 60076-10. Example:
/// 70 %: 6.20 dB.
pub fn load_sound_correction(rated: f64, current: f64) -> Result<f64, Domain> {
    let what = "the currents must be above zero";
    Ok(40.0 * (positive(rated, what)? / positive(current, what)?).log10())
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn worked_example() {
        let mean = level_mean(&[61.2, 62.0, 60.8, 63.1, 62.4, 61.7, 60.9, 62.6]).unwrap();
        near(mean, 61.91, 0.005);
        let own = background_corrected(mean, 55.0).unwrap();
        near(own, 60.92, 0.005);
        let k = environment_correction(12.0).unwrap();
        near(k, 1.25, 0.005);
        let surface = measuring_surface(3.2, 24.0, false).unwrap();
        near(surface, 96.0, 1e-9);
        let power = sound_power_level(own - k, surface).unwrap();
        near(power, 79.49, 0.006);
        near(load_sound_estimate(40e6).unwrap(), 67.8, 0.05);
        near(
            level_sum(&[power, load_sound_estimate(40e6).unwrap()]).unwrap(),
            79.78,
            0.01,
        );
        near(load_sound_correction(1.0, 0.7).unwrap(), 6.20, 0.005);
        near(background_corrected(60.0, 50.0).unwrap(), 60.0, 0.0);
        assert!(background_corrected(60.0, 58.0).is_err() && level_mean(&[]).is_err());
    }
}
