//! Vacuum and tightness of the tank.

use super::{Domain, FREE_FALL, positive};

/// The leak rate (Pa·m³/s) from a pressure rise. 1 Pa·m³/s is 10 mbar·l/s.
///
/// `volume`: gas volume in m³; `rise` in Pa; `time` in s. Errors: a volume or time not above zero. Source: a
/// published leak-test guide; physics. Example: 60 m³, 50 Pa in 1800 s: 1.66667 Pa·m³/s.
pub fn leak_rate(volume: f64, rise: f64, time: f64) -> Result<f64, Domain> {
    let volume = positive(volume, "the gas volume must be above zero")?;
    Ok(volume * rise / positive(time, "the time must be above zero")?)
}

/// The water (kg/s) that a leak carries in from the air.
///
/// `leak` in Pa·m³/s; `density`: water vapour in the air in kg/m³; `barometer` in Pa. Errors: a barometer not
/// above zero. Source: physics. Example: 2 Pa·m³/s, 14.97 g/m³, 101 325 Pa: 2.955e-7 kg/s, which is 1.064
/// g/h.
pub fn water_through_leak(leak: f64, density: f64, barometer: f64) -> Result<f64, Domain> {
    Ok(leak / positive(barometer, "the barometer must be above zero")? * density)
}

/// The gauge pressure (Pa) at the bottom of a tank under an oil-pressure test.
///
/// `cover`: gauge pressure at the cover in Pa; `density` of the oil in kg/m³; `height` of the oil in m.
/// Errors: a density not above zero. Source: physics. Example: 30 kPa, 880 kg/m³, 3.4 m: 59.34 kPa.
pub fn pressure_at_base(cover: f64, density: f64, height: f64) -> Result<f64, Domain> {
    Ok(cover + positive(density, "the density must be above zero")? * FREE_FALL * height)
}

/// The force (N) of a pressure difference on a flat wall.
///
/// `pressure` difference in Pa, `length` and `height` of the wall in m. Errors: a size not above zero.
/// Source: physics. Example: 101.325 kPa, 8.0 m, 3.4 m: 2756 kN.
pub fn tank_force(pressure: f64, length: f64, height: f64) -> Result<f64, Domain> {
    let what = "length and height of the wall must be above zero";
    Ok(pressure * positive(length, what)? * positive(height, what)?)
}

/// How far the pressure curve bends: mean slope of the later half of the time over that of the earlier half,
/// less 1.
///
/// `readings`: pairs of time (s) and pressure (Pa) in order of time. Near 0 a leak, clearly negative water
/// vapour or outgassing. Errors: fewer than four readings, times that don't rise, no rise of pressure in the
/// earlier half. Source: a published leak-test guide for the fact, the measure: common practice, no source.
/// Example: 0, 10, 20, 30, 40 Pa at equal steps: 0.
pub fn bend_of_rise(readings: &[(f64, f64)]) -> Result<f64, Domain> {
    let (Some(first), Some(last)) = (readings.first(), readings.last()) else {
        return Err(Domain("there must be at least four readings"));
    };
    let middle = readings.get(readings.len() / 2).copied().unwrap_or(*first);
    if readings.len() < 4
        || readings
            .windows(2)
            .any(|w| matches!(w, [a, b] if a.0 >= b.0))
    {
        return Err(Domain(
            "there must be at least four readings with rising times",
        ));
    }
    let slope = |a: (f64, f64), b: (f64, f64)| (b.1 - a.1) / (b.0 - a.0);
    let early = positive(
        slope(*first, middle),
        "the pressure doesn't rise in the earlier half",
    )?;
    Ok(slope(middle, *last) / early - 1.0)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn worked_examples() {
        near(10.0 * leak_rate(60.0, 50.0, 1800.0).unwrap(), 16.6667, 1e-4);
        near(10.0 * leak_rate(1.0, 3600.0, 1800.0).unwrap(), 20.0, 1e-9);
        near(
            3.6e6 * water_through_leak(2.0, 0.01497, 101_325.0).unwrap(),
            1.064,
            1e-3,
        );
        near(pressure_at_base(30e3, 880.0, 3.4).unwrap(), 59.35e3, 20.0);
        near(tank_force(101_325.0, 8.0, 3.4).unwrap(), 2756e3, 500.0);
        assert!(tank_force(101_325.0, 0.0, 3.4).is_err());
        let line: Vec<_> = (0..5)
            .map(|i| (f64::from(i) * 60.0, f64::from(i) * 10.0))
            .collect();
        near(bend_of_rise(&line).unwrap(), 0.0, 1e-12);
        let bent = [(0.0, 0.0), (60.0, 10.0), (120.0, 15.0), (180.0, 17.0)];
        assert!(bend_of_rise(&bent).unwrap() < -0.5);
        assert!(bend_of_rise(&[]).is_err() && leak_rate(1.0, 1.0, 0.0).is_err());
    }
}
