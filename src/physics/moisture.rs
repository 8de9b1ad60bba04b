//! Moisture: vapour pressure over water and ice, dew and frost points, moisture of cellulose, water in oil.

use super::{Domain, STANDARD_ATMOSPHERE, ZERO_CELSIUS, not_negative, positive, within};

/// Saturation vapour pressure (Pa) over water by IAPWS-IF97 region 4; the formula for oven temperatures.
///
/// `theta` in °C. Errors: outside 0 to 370 °C. Source: IAPWS-IF97 from memory, coefficients checked against
/// the `iapws` library. Example: 110 °C: 143 376 Pa.
pub fn saturation_pressure(theta: f64) -> Result<f64, Domain> {
    const N: [f64; 10] = [
        1167.0521452767,
        -724213.16703206,
        -17.073846940092,
        12020.82470247,
        -3232555.0322333,
        14.91510861353,
        -4823.2657361591,
        405113.40542057,
        -0.23855557567849,
        650.17534844798,
    ];
    let t = ZERO_CELSIUS
        + within(
            theta,
            0.0,
            370.0,
            "the temperature must be between 0 and 370 °C",
        )?;
    let [n1, n2, n3, n4, n5, n6, n7, n8, n9, n10] = N;
    let x = t + n9 / (t - n10);
    let a = x * x + n1 * x + n2;
    let b = n3 * x * x + n4 * x + n5;
    let c = n6 * x * x + n7 * x + n8;
    Ok(1e6 * (2.0 * c / (-b + (b * b - 4.0 * a * c).sqrt())).powi(4))
}

/// Saturation vapour pressure (Pa) over water, also super-cooled, by Sonntag (1990).
///
/// `theta` in °C. Errors: outside −100 to 110 °C. Source: Sonntag's formula as found in several open
/// programs. Example: 20 °C: 2339.25 Pa.
pub fn water_pressure(theta: f64) -> Result<f64, Domain> {
    Ok(sonntag_water(within(
        theta,
        -100.0,
        110.0,
        "the temperature must be between -100 and 110 °C",
    )?))
}

fn sonntag_water(theta: f64) -> f64 {
    let t = theta + ZERO_CELSIUS;
    let poly = 21.2409642 - 2.711193e-2 * t + 1.673952e-5 * t * t;
    (-6096.9385 / t + poly + 2.433502 * t.ln()).exp()
}

/// Saturation vapour pressure (Pa) over ice by Sonntag (1990).
///
/// `theta` in °C. Errors: outside −100 to 0.01 °C. Source: as [`water_pressure`]. Example: −40 °C: 12.8370
/// Pa.
pub fn ice_pressure(theta: f64) -> Result<f64, Domain> {
    Ok(sonntag_ice(within(
        theta,
        -100.0,
        0.01,
        "the temperature must be between -100 and 0.01 °C",
    )?))
}

fn sonntag_ice(theta: f64) -> f64 {
    let t = theta + ZERO_CELSIUS;
    let poly = 29.32707 + 1.0613868e-2 * t - 1.3198825e-5 * t * t;
    (-6024.5282 / t + poly - 0.49382577 * t.ln()).exp()
}

/// The dew point (°C) over water, below 0 °C over super-cooled water, of a vapour pressure.
///
/// `pressure` in Pa. Errors: a pressure outside that of −100 to 110 °C. Source: inversion of
/// [`water_pressure`]. Example: 2060.4 Pa: 17.97 °C; 12.84 Pa: −43.74 °C (−43.72 °C by the Magnus formula).
pub fn dew_point(pressure: f64) -> Result<f64, Domain> {
    invert(
        sonntag_water,
        pressure,
        -100.0,
        110.0,
        "the vapour pressure has no dew point from -100 to 110 °C",
    )
}

/// The frost point (°C, over ice) of a vapour pressure.
///
/// `pressure` in Pa. Errors: a pressure outside that of −100 to 0.01 °C. Source: inversion of
/// [`ice_pressure`]. Example: 12.84 Pa: −40.00 °C.
pub fn frost_point(pressure: f64) -> Result<f64, Domain> {
    invert(
        sonntag_ice,
        pressure,
        -100.0,
        0.01,
        "the vapour pressure has no frost point from -100 to 0.01 °C",
    )
}

/// The argument at which a rising function takes a value, by bisection.
fn invert(
    f: fn(f64) -> f64,
    value: f64,
    low: f64,
    high: f64,
    what: &'static str,
) -> Result<f64, Domain> {
    within(value, f(low), f(high), what)?;
    let (mut low, mut high) = (low, high);
    for _ in 0..60 {
        let middle = (low + high) / 2.0;
        if f(middle) < value {
            low = middle
        } else {
            high = middle
        }
    }
    Ok((low + high) / 2.0)
}

/// The vapour pressure (Pa) of gas of a given frost point brought to another total pressure.
///
/// `frost` in °C at `total` (Pa absolute); `new_total` in Pa absolute. Errors: a frost point outside −100 to
/// 0.01 °C, a pressure not above zero. Source: physics (gas law). Example: −45 °C at 126 325 Pa to 101 325
/// Pa: 5.7753 Pa.
pub fn vapour_pressure_at(frost: f64, total: f64, new_total: f64) -> Result<f64, Domain> {
    let what = "the total pressures must be above zero";
    Ok(ice_pressure(frost)? * positive(new_total, what)? / positive(total, what)?)
}

/// The share of water vapour by volume (a fraction; times 10⁶ for ppm) in gas.
///
/// `vapour` and `total` pressure in Pa. Errors: a total not above zero. Source: physics. Example: 7.2003 Pa
/// in 126 325 Pa: 56.998e-6.
pub fn vapour_share(vapour: f64, total: f64) -> Result<f64, Domain> {
    Ok(vapour / positive(total, "the total pressure must be above zero")?)
}

/// The dew point (°C) of air of a relative humidity.
///
/// `theta`: air temperature in °C, 0 to 110; `humidity`: fraction above 0. Errors: outside these. Source: as
/// [`water_pressure`]. Example: 25 °C, 0.65: 17.97 °C.
pub fn dew_point_of_air(theta: f64, humidity: f64) -> Result<f64, Domain> {
    let share = within(
        humidity,
        0.0,
        1.0,
        "the relative humidity must be between 0 and 1",
    )?;
    dew_point(share * water_pressure(theta)?)
}

/// Mass of water vapour in air (kg/m³).
///
/// `vapour` pressure in Pa, `theta` in °C. Errors: a negative pressure, a temperature below absolute zero.
/// Source: physics (gas constant of water 461.52 J/(kg·K)). Example: 2060.4 Pa at 25 °C: 0.01497 kg/m³.
pub fn vapour_density(vapour: f64, theta: f64) -> Result<f64, Domain> {
    let t = positive(
        theta + ZERO_CELSIUS,
        "the temperature lies below absolute zero",
    )?;
    Ok(not_negative(vapour, "the vapour pressure must not be negative")? / (461.523 * t))
}

/// Fessler's factor 2.173·10⁻⁷·exp(4725.6/T), with T in K.
fn fessler(theta: f64) -> Result<f64, Domain> {
    let t = within(
        theta,
        -40.0,
        150.0,
        "the insulation temperature must be between -40 and 150 °C",
    )?;
    Ok(2.173e-7 * (4725.6 / (t + ZERO_CELSIUS)).exp())
}

/// Moisture of cellulose (mass fraction) in equilibrium with a vapour pressure, by Fessler.
///
/// `pressure`: vapour pressure in Pa; `theta`: insulation temperature in °C. Errors: a negative pressure, a
/// temperature outside −40 to 150 °C. Holds only at equilibrium. Source: from memory, Fessler and others,
/// IEEE Trans. Power Delivery 1989; within 2 % of a published chart reading. Example: 590 Pa, 65 °C:
/// 0.0081707.
pub fn paper_moisture(pressure: f64, theta: f64) -> Result<f64, Domain> {
    let p = not_negative(pressure, "the vapour pressure must not be negative")?;
    Ok(fessler(theta)? * (p / STANDARD_ATMOSPHERE).powf(0.6685))
}

/// The vapour pressure (Pa) in equilibrium with cellulose: the inverse of [`paper_moisture`].
///
/// `moisture`: mass fraction; `theta` in °C. Errors: a negative moisture, a temperature as there. Source: as
/// there. Example: 0.005 at 20 °C: 11.433 Pa.
pub fn pressure_of_paper(moisture: f64, theta: f64) -> Result<f64, Domain> {
    let w = not_negative(moisture, "the moisture must not be negative")?;
    Ok(STANDARD_ATMOSPHERE * (w / fessler(theta)?).powf(1.0 / 0.6685))
}

/// Water (mass fraction; times 10⁶ for mg/kg) that mineral oil holds at saturation: 10^(7.0895 − 1567/T)
/// mg/kg.
///
/// `theta` in °C. Errors: outside −40 to 120 °C. Source: from memory, Oommen and CIGRE; within 1 % of a
/// published table from 10 to 100 °C. Example: 20 °C: 55.48e-6.
pub fn oil_water_saturation(theta: f64) -> Result<f64, Domain> {
    let t = within(
        theta,
        -40.0,
        120.0,
        "the oil temperature must be between -40 and 120 °C",
    )?;
    Ok(1e-6 * 10.0_f64.powf(7.0895 - 1567.0 / (t + ZERO_CELSIUS)))
}

/// The relative saturation (fraction) of oil.
///
/// `content`: water as a mass fraction (8e-6 for 8 mg/kg); `theta`: oil temperature in °C. Errors: a negative
/// content, a temperature as [`oil_water_saturation`]. Source: as there. Example: 8e-6 at 60 °C: 0.032899.
pub fn relative_saturation(content: f64, theta: f64) -> Result<f64, Domain> {
    Ok(
        not_negative(content, "the water content must not be negative")?
            / oil_water_saturation(theta)?,
    )
}

/// The mass of water (kg) to be taken out of insulation.
///
/// `insulation` mass in kg; `before`, `after`: mass fractions. Errors: a mass not above zero. Source:
/// physics. Example: 9000 kg, 0.06 to 0.004: 504 kg.
pub fn water_to_remove(insulation: f64, before: f64, after: f64) -> Result<f64, Domain> {
    Ok(positive(insulation, "the insulation mass must be above zero")? * (before - after))
}

/// The extraction rate (1/s; kg of water per kg of insulation and second) of drying.
///
/// `water` in kg, `time` in s, `insulation` in kg. 1 g/(h·t) is 2.7778e-10 1/s. Errors: a time or mass not
/// above zero. Source: physics. Example: 1.8 kg in 24 h from 9000 kg: 2.3148e-9 1/s, which is 8.3333 g/(h·t).
pub fn extraction_rate(water: f64, time: f64, insulation: f64) -> Result<f64, Domain> {
    let time = positive(time, "the time must be above zero")?;
    Ok(water / (time * positive(insulation, "the insulation mass must be above zero")?))
}

/// The time constant (s) of a drying rate that falls by an exponential: of the straight line with least
/// squares through ln(rate) over time.
///
/// `readings`: pairs of time (s) and rate (any one unit). Errors: fewer than two different times, a rate not
/// above zero, rates that do not fall. Source: physics. Example: 40, 24, 14.4, 8.6, 5.2 every 6 h: 11.749 h.
pub fn decay_constant(readings: &[(f64, f64)]) -> Result<f64, Domain> {
    for (_, rate) in readings {
        positive(*rate, "each value must be above zero")?;
    }
    let count = readings.len() as f64;
    let mean_time = readings.iter().map(|(time, _)| time).sum::<f64>() / count;
    let mean_log = readings.iter().map(|(_, rate)| rate.ln()).sum::<f64>() / count;
    let (mut above, mut below) = (0.0, 0.0);
    for (time, rate) in readings {
        above += (time - mean_time) * (rate.ln() - mean_log);
        below += (time - mean_time) * (time - mean_time);
    }
    let below = positive(
        below,
        "there must be at least two readings at different times",
    )?;
    positive(-below / above, "the values do not fall")
}

/// The water still to come out (kg of water per kg of insulation) if the rate goes on falling by an
/// exponential.
///
/// `rate` in 1/s, `time_constant` in s. Errors: a negative rate, a time constant not above zero. Source:
/// physics. Example: 5.2 g/(h·t), 11.749 h: 61.1e-6.
pub fn moisture_still_to_come(rate: f64, time_constant: f64) -> Result<f64, Domain> {
    Ok(not_negative(rate, "the rate must not be negative")?
        * positive(time_constant, "the time constant must be above zero")?)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn vapour_pressures() {
        for (theta, sonntag, if97) in [
            (20.0, 2339.25, 2339.21),
            (25.0, 3169.90, 3169.75),
            (60.0, 19947.7, 19945.8),
            (80.0, 47415.5, 47414.7),
            (100.0, 101419.0, 101418.0),
            (110.0, 143386.1, 143376.0),
        ] {
            near(water_pressure(theta).unwrap(), sonntag, 1e-5 * sonntag);
            near(saturation_pressure(theta).unwrap(), if97, 1e-5 * if97);
        }
        for (theta, ice) in [
            (-60.0, 1.0807),
            (-50.0, 3.9358),
            (-45.0, 7.2003),
            (-40.0, 12.8370),
            (0.0, 611.154),
        ] {
            near(ice_pressure(theta).unwrap(), ice, 1e-4 * ice);
        }
        assert!(saturation_pressure(-1.0).is_err() && ice_pressure(5.0).is_err());
    }

    #[test]
    fn dew_and_frost_points() {
        near(frost_point(12.84).unwrap(), -40.0, 0.005);
        near(dew_point(12.84).unwrap(), -43.74, 0.005);
        near(dew_point_of_air(25.0, 0.65).unwrap(), 17.97, 0.01);
        near(dew_point_of_air(30.0, 0.75).unwrap(), 25.08, 0.01);
        near(dew_point_of_air(20.0, 0.50).unwrap(), 9.27, 0.01);
        let out = vapour_pressure_at(-45.0, 126_325.0, 101_325.0).unwrap();
        near(out, 5.7753, 1e-4);
        near(frost_point(out).unwrap(), -46.851, 0.01);
        near(
            frost_point(vapour_pressure_at(-45.0, 101_325.0, 126_325.0).unwrap()).unwrap(),
            -43.12,
            0.005,
        );
        near(
            1e6 * vapour_share(ice_pressure(-45.0).unwrap(), 126_325.0).unwrap(),
            56.998,
            0.01,
        );
        near(vapour_density(2060.4, 25.0).unwrap(), 0.01497, 5e-6);
        assert!(frost_point(2000.0).is_err() && dew_point(-1.0).is_err());
    }

    #[test]
    fn cellulose() {
        near(100.0 * paper_moisture(590.0, 65.0).unwrap(), 0.81707, 1e-4);
        near(
            100.0 * paper_moisture(ice_pressure(-45.0).unwrap(), 20.0).unwrap(),
            0.36706,
            1e-4,
        );
        near(100.0 * paper_moisture(133.0, 85.0).unwrap(), 0.138, 5e-4);
        let p = pressure_of_paper(0.005, 20.0).unwrap();
        near(p, 11.433, 0.01);
        near(frost_point(p).unwrap(), -41.0, 0.1);
        near(water_to_remove(9000.0, 0.06, 0.004).unwrap(), 504.0, 1e-9);
        near(
            extraction_rate(1.8, 86_400.0, 9000.0).unwrap() * 3.6e9,
            8.3333,
            1e-4,
        );
    }

    #[test]
    fn end_of_drying() {
        let rates = [40.0, 24.0, 14.4, 8.6, 5.2];
        let readings: Vec<_> = (0..5).map(|i| f64::from(i) * 21_600.0).zip(rates).collect();
        let constant = decay_constant(&readings).unwrap();
        near(constant / 3600.0, 11.749, 5e-4);
        near(
            1e6 * moisture_still_to_come(5.2 / 3.6e9, constant).unwrap(),
            61.1,
            0.05,
        );
        assert!(decay_constant(&[(0.0, 1.0), (1.0, 0.0)]).is_err());
        assert!(decay_constant(&[(0.0, 1.0), (1.0, 2.0)]).is_err());
        assert!(decay_constant(&[(0.0, 1.0), (1.0, 1.0)]).is_err());
        assert!(decay_constant(&[(0.0, 1.0)]).is_err() && decay_constant(&[]).is_err());
    }

    #[test]
    fn oil() {
        near(1e6 * oil_water_saturation(20.0).unwrap(), 55.482, 0.01);
        near(1e6 * oil_water_saturation(70.0).unwrap(), 333.41, 0.01);
        near(
            100.0 * relative_saturation(8e-6, 60.0).unwrap(),
            3.2899,
            1e-3,
        );
        near(
            100.0 * relative_saturation(8e-6, 20.0).unwrap(),
            14.42,
            0.005,
        );
        near(
            100.0 * relative_saturation(22e-6, 70.0).unwrap(),
            6.598,
            0.001,
        );
    }
}
