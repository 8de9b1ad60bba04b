//! Temperature-rise test: winding temperature by resistance, extrapolation to shutdown, corrected rises.

use super::{Domain, positive};

/// The mean winding temperature (°C) from its resistance.
///
/// `r1`: cold resistance in Ω at `theta1` (°C); `r2`: hot resistance in Ω; `constant`: of the resistance law in
/// K, 235 for copper, 225 for aluminium, 234.5 for copper in IEEE tests. Errors: a resistance not above zero, a
/// cold temperature below the zero of the law. Source: IEC 60076-2 from memory. Example: 0.5840 Ω at 20.0 °C,
/// 0.70400 Ω, copper: 72.40 °C.
pub fn winding_temperature(r1: f64, theta1: f64, r2: f64, constant: f64) -> Result<f64, Domain> {
    let what = "the resistances must be above zero";
    let k = constant;
    positive(
        k + theta1,
        "the cold temperature lies below the zero of the resistance law",
    )?;
    Ok(positive(r2, what)? / positive(r1, what)? * (k + theta1) - k)
}

/// A curve fitted to resistances read after shutdown: A − k·t + B·exp(−t/τ).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Cooling {
    /// The resistance A + B at the moment of shutdown, in the unit of the readings.
    pub at_shutdown: f64,
    /// The constant A, in the unit of the readings.
    pub base: f64,
    /// The slope k of the falling oil temperature, in the unit of the readings per second; 0 when not fitted.
    pub slope: f64,
    /// The amplitude B, in the unit of the readings.
    pub amplitude: f64,
    /// The time constant τ of the winding in s.
    pub time_constant: f64,
    /// Root-mean-square distance of the readings from the curve, in their unit.
    pub scatter: f64,
}

/// Fits the cooling curve by least squares and extrapolates it to the moment of shutdown.
///
/// `readings`: pairs of time since shutdown (s) and resistance (Ω; temperatures in °C serve as well);
/// `falling_oil`: whether the linear term is fitted. Errors: fewer than five readings with the linear term or
/// four without, a time before shutdown, a span of time of zero, readings that fit no decay, a time constant
/// that runs to the end of its range (a fiftieth to ten times the span).
///
/// Source: from memory, IEC 60076-2 Annex C. Example: the 28 readings from 1.5 to 15 min of the unit test:
/// R(0) = 0.70400 Ω, τ = 330 s; without the linear term 0.70372 Ω, 357 s.
pub fn extrapolate_to_shutdown(
    readings: &[(f64, f64)],
    falling_oil: bool,
) -> Result<Cooling, Domain> {
    if readings.len() < if falling_oil { 5 } else { 4 } {
        return Err(Domain("too few readings to fit the cooling curve"));
    }
    if readings
        .iter()
        .any(|(t, r)| !(t.is_finite() && r.is_finite() && *t >= 0.0))
    {
        return Err(Domain("the readings must be numbers taken after shutdown"));
    }
    let early = readings.iter().map(|r| r.0).fold(f64::INFINITY, f64::min);
    let late = readings.iter().map(|r| r.0).fold(0.0, f64::max);
    let span = positive(late - early, "the readings span no time")?;
    let (low, high) = ((span / 50.0).ln(), (span * 10.0).ln());
    const STEPS: usize = 120;
    let step = (high - low) / STEPS as f64;
    let scatter =
        |x: f64| fit_for(readings, x.exp(), falling_oil).map_or(f64::INFINITY, |f| f.scatter);
    let best = (0..=STEPS)
        .map(|i| (i, scatter(low + step * i as f64)))
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(0, |(i, _)| i);
    if best == 0 || best == STEPS {
        return Err(Domain(
            "the readings show no decay of the winding temperature",
        ));
    }
    let centre = low + step * best as f64;
    let (mut a, mut b) = (centre - step, centre + step);
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    for _ in 0..60 {
        let (c, d) = (b - golden * (b - a), a + golden * (b - a));
        if scatter(c) < scatter(d) {
            b = d
        } else {
            a = c
        }
    }
    fit_for(readings, ((a + b) / 2.0).exp(), falling_oil)
        .filter(|fit| fit.amplitude > 0.0)
        .ok_or(Domain(
            "the readings show no decay of the winding temperature",
        ))
}

/// The linear least-squares fit of the other constants for a given time constant.
fn fit_for(readings: &[(f64, f64)], tau: f64, falling_oil: bool) -> Option<Cooling> {
    let width = if falling_oil { 3 } else { 2 };
    let reach = readings.iter().map(|r| r.0).fold(0.0, f64::max);
    let row = |t: f64| [1.0, (-t / tau).exp(), -t / reach];
    let mean = readings.iter().map(|r| r.1).sum::<f64>() / readings.len() as f64;
    let mut normal = [[0.0_f64; 4]; 3];
    for (t, r) in readings {
        let terms = row(*t);
        for (line, own) in normal.iter_mut().zip(terms).take(width) {
            for (cell, other) in line.iter_mut().zip(terms).take(width) {
                *cell += own * other;
            }
            line[3] += own * (r - mean);
        }
    }
    let solved = solve(&mut normal, width)?;
    let [base, amplitude, fall] = solved;
    let squares: f64 = readings
        .iter()
        .map(|(t, r)| {
            let terms = row(*t);
            (base + amplitude * terms[1] + fall * terms[2] + mean - r).powi(2)
        })
        .sum();
    Some(Cooling {
        at_shutdown: base + amplitude + mean,
        base: base + mean,
        slope: fall / reach,
        amplitude,
        time_constant: tau,
        scatter: (squares / readings.len() as f64).sqrt(),
    })
}

/// Solves up to three linear equations, the right-hand side in the fourth column, by elimination with row
/// exchange.
fn solve(rows: &mut [[f64; 4]; 3], width: usize) -> Option<[f64; 3]> {
    for i in 0..width {
        let pivot = (i..width).max_by(|a, b| rows[*a][i].abs().total_cmp(&rows[*b][i].abs()))?;
        rows.swap(i, pivot);
        if rows[i][i].abs() < 1e-13 {
            return None;
        }
        for j in 0..width {
            if j != i {
                let factor = rows[j][i] / rows[i][i];
                let source = rows[i];
                for (cell, from) in rows[j].iter_mut().zip(source) {
                    *cell -= factor * from;
                }
            }
        }
    }
    let mut out = [0.0; 3];
    for (i, value) in out.iter_mut().enumerate().take(width) {
        *value = rows[i][3] / rows[i][i];
    }
    Some(out)
}

/// A rise of the oil (K) corrected to the full loss: rise·(P_total/P_test)^x.
///
/// `rise` in K; `total`, `test`: losses in W; `exponent` x: 0.8 small natural cooling, 0.9 natural or fan
/// cooling, 1.0 forced oil. Errors: a loss not above zero, a test loss more than 20 % off. Source: from
/// memory, IEC 60076-2:2011 clause 7.13. Example: 49.3 K, 202.665 and 196.0 kW, 0.9: 50.81 K.
pub fn oil_rise_corrected(rise: f64, total: f64, test: f64, exponent: f64) -> Result<f64, Domain> {
    let what = "the losses must be above zero";
    let ratio = positive(total, what)? / positive(test, what)?;
    if !(1.0 / 1.2 - 1e-9..=1.25 + 1e-9).contains(&ratio) {
        return Err(Domain(
            "the test loss differs from the total loss by more than 20 %",
        ));
    }
    Ok(rise * ratio.powf(exponent))
}

/// A winding gradient (K) corrected to rated current: g·(Ir/It)^y.
///
/// `gradient` in K; `rated`, `test`: currents in A; `exponent` y: 1.6, or 2.0 for directed oil flow. Errors:
/// a current not above zero. Source: from memory, IEC 60076-2:2011 clause 7.13. Example: 15.40 K, 209.95 and
/// 205.0 A, 1.6: 16.00 K.
pub fn gradient_corrected(
    gradient: f64,
    rated: f64,
    test: f64,
    exponent: f64,
) -> Result<f64, Domain> {
    let what = "the currents must be above zero";
    Ok(gradient * (positive(rated, what)? / positive(test, what)?).powf(exponent))
}

/// The hot-spot rise (K): top-oil rise plus hot-spot factor times winding gradient.
///
/// `top_oil` and `gradient` in K, `factor` 1.1 to 1.3 as a rule. Source: IEC 60076-2 from memory, range of
/// the factor from an open thermal-model library. Example: 50.81 K, 16.00 K, 1.3: 71.61 K.
pub fn hot_spot_rise(top_oil: f64, gradient: f64, factor: f64) -> f64 {
    top_oil + factor * gradient
}

/// The fall of the permitted rise (K) above 1000 m: 1 K for each `metres` (400 m natural air, 250 m forced
/// air).
///
/// `altitude` in m. Errors: `metres` not above zero. Source: from memory, IEC 60076-2. Example: 1800 m, 400
/// m: 2 K.
pub fn altitude_reduction(altitude: f64, metres: f64) -> Result<f64, Domain> {
    Ok(
        (altitude - 1000.0).max(0.0)
            / positive(metres, "the height per kelvin must be above zero")?,
    )
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn extrapolation_of_the_worked_example() {
        let readings: Vec<(f64, f64)> = super::super::outside::COOLING_READINGS
            .iter()
            .enumerate()
            .map(|(i, r)| (90.0 + 30.0 * i as f64, *r))
            .collect();
        let fit = extrapolate_to_shutdown(&readings, true).unwrap();
        near(fit.at_shutdown, 0.70400, 1e-5);
        near(fit.time_constant / 60.0, 5.50, 0.01);
        near(
            winding_temperature(0.5840, 20.0, fit.at_shutdown, 235.0).unwrap(),
            72.40,
            0.01,
        );
        let plain = extrapolate_to_shutdown(&readings, false).unwrap();
        near(plain.at_shutdown, 0.70372, 1e-5);
        near(plain.time_constant / 60.0, 5.95, 0.01);
        assert!(extrapolate_to_shutdown(&readings[..4], true).is_err());
        let flat: Vec<_> = readings.iter().map(|(t, _)| (*t, 1.0 - 1e-4 * t)).collect();
        assert!(extrapolate_to_shutdown(&flat, false).is_err());
        let rising: Vec<_> = readings.iter().map(|(t, r)| (*t, -r)).collect();
        assert!(extrapolate_to_shutdown(&rising, true).is_err());
        let at_once = [(60.0, 1.0); 6];
        assert!(extrapolate_to_shutdown(&at_once, true).is_err());
    }

    #[test]
    fn rises() {
        near(
            winding_temperature(0.5840, 20.0, 0.69538, 235.0).unwrap(),
            68.63,
            0.005,
        );
        near(
            oil_rise_corrected(49.3, 202.665e3, 196.0e3, 0.9).unwrap(),
            50.81,
            0.005,
        );
        near(
            oil_rise_corrected(37.0, 202.665e3, 196.0e3, 0.9).unwrap(),
            38.13,
            0.005,
        );
        near(
            gradient_corrected(15.40, 209.95, 205.0, 1.6).unwrap(),
            16.00,
            0.005,
        );
        near(hot_spot_rise(50.81, 16.00, 1.3), 71.60, 0.02);
        near(altitude_reduction(1800.0, 400.0).unwrap(), 2.0, 1e-12);
        assert!(oil_rise_corrected(50.0, 200.0, 100.0, 0.9).is_err());
    }
}
