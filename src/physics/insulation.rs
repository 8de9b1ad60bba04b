//! Insulation resistance, its temperature rules and indices, and the dissipation factor.

use super::{Domain, positive, within};

/// How an insulation resistance is referred to another temperature. The record must name the rule it used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum TemperatureRule {
    /// Halves for each 10 K of warming. Source: common practice, no source.
    HalvesPer10K,
    /// Falls by the factor 1.5 for each 10 K. Source: from memory, Chinese national practice (DL/T 596).
    OneAndAHalfPer10K,
    /// The published correction table for oil-filled units, 0 to 70 °C, to 20 °C.
    Table,
}

/// Correction factors of a published table for oil-filled units: temperature in °C, factor to 20 °C.
const TABLE: [(f64, f64); 13] = [
    (0.0, 0.25),
    (5.0, 0.36),
    (10.0, 0.50),
    (15.0, 0.74),
    (20.0, 1.00),
    (25.0, 1.40),
    (30.0, 1.98),
    (35.0, 2.80),
    (40.0, 3.95),
    (45.0, 5.60),
    (50.0, 7.85),
    (60.0, 15.85),
    (70.0, 31.75),
];

/// Dissipation-factor divisors: temperature in °C, divisor to 20 °C.
const DISSIPATION: [(f64, f64); 13] = [
    (10.0, 0.80),
    (15.0, 0.90),
    (20.0, 1.00),
    (25.0, 1.12),
    (30.0, 1.25),
    (35.0, 1.40),
    (40.0, 1.55),
    (45.0, 1.75),
    (50.0, 1.95),
    (55.0, 2.18),
    (60.0, 2.42),
    (65.0, 2.70),
    (70.0, 3.00),
];

/// The value of a table at `x`, straight in the logarithm between its rows.
fn between_rows(table: &[(f64, f64)], x: f64, what: &'static str) -> Result<f64, Domain> {
    for pair in table.windows(2) {
        if let [(x1, y1), (x2, y2)] = pair
            && (*x1..=*x2).contains(&x)
        {
            return Ok(y1 * (y2 / y1).powf((x - x1) / (x2 - x1)));
        }
    }
    Err(Domain(what))
}

/// An insulation resistance referred to another temperature, halving for each 10 K of warming.
///
/// `r` in Ω at `theta` (°C); `theta_ref` in °C; result in Ω. Errors: a resistance not above zero, a
/// temperature outside −40 to 120 °C. Source: common practice, no source; agrees within 3 % with a published
/// table for oil-filled units. Example: 1200 MΩ at 35 °C: 3394 MΩ at 20 °C.
pub fn insulation_resistance_at(r: f64, theta: f64, theta_ref: f64) -> Result<f64, Domain> {
    insulation_resistance_by(TemperatureRule::HalvesPer10K, r, theta, theta_ref)
}

/// As [`insulation_resistance_at`] by a named rule.
///
/// Errors: as there; by the table a temperature outside 0 to 70 °C. Source: see [`TemperatureRule`]. Example:
/// 1200 MΩ at 35 °C: by the table 3360 MΩ, by the factor 1.5 2205 MΩ.
pub fn insulation_resistance_by(
    rule: TemperatureRule,
    r: f64,
    theta: f64,
    theta_ref: f64,
) -> Result<f64, Domain> {
    let r = positive(r, "the insulation resistance must be above zero")?;
    let what = "the temperature must be between -40 and 120 °C";
    let steps =
        (within(theta, -40.0, 120.0, what)? - within(theta_ref, -40.0, 120.0, what)?) / 10.0;
    Ok(match rule {
        TemperatureRule::HalvesPer10K => r * 2.0_f64.powf(steps),
        TemperatureRule::OneAndAHalfPer10K => r * 1.5_f64.powf(steps),
        TemperatureRule::Table => {
            let what = "the correction table holds from 0 to 70 °C";
            r * between_rows(&TABLE, theta, what)? / between_rows(&TABLE, theta_ref, what)?
        }
    })
}

/// The polarisation index: resistance after 600 s over that after 60 s (both Ω).
///
/// Errors: a value not above zero. Source: common practice, IEEE C57.152 from memory. Example: 9 GΩ and 6 GΩ:
/// 1.5.
pub fn polarization_index(r60: f64, r600: f64) -> Result<f64, Domain> {
    let what = "the insulation resistance must be above zero";
    Ok(positive(r600, what)? / positive(r60, what)?)
}

/// The absorption ratio: resistance after 60 s over that after 15 s (or 30 s, as the record says), both Ω.
///
/// Errors: a value not above zero. Source: common practice, no source. Example: 6 GΩ and 4 GΩ: 1.5.
pub fn absorption_ratio(r_early: f64, r60: f64) -> Result<f64, Domain> {
    polarization_index(r_early, r60)
}

/// The least insulation resistance (Ω) at 20 °C by the rule C·E/√S.
///
/// `constant`: 1.5 for oil-filled, 30 for an active part without oil; `voltage`: winding voltage in V (line
/// value in delta, phase value in wye); `power`: rated power of the winding in VA. Errors: a value not above
/// zero. Source: from memory, older maintenance handbooks. Example: 1.5, 110 kV, 40 MVA: 825 MΩ.
pub fn least_insulation_resistance(constant: f64, voltage: f64, power: f64) -> Result<f64, Domain> {
    let constant = positive(constant, "the constant must be above zero")?;
    let voltage = positive(voltage, "the voltage must be above zero")?;
    Ok(1e6 * constant * voltage
        / (positive(power, "the rated power must be above zero")? / 1e3).sqrt())
}

/// A dissipation factor referred to another temperature.
///
/// `tan`: tan δ as a fraction at `theta` (°C); `theta_ref` in °C; result a fraction. Errors: a temperature
/// outside 10 to 70 °C. Source: from memory, the table of IEEE C57.12.90 that later editions withdrew;
/// measure near 20 °C where possible. Example: 0.42 % at 35 °C: 0.30 % at 20 °C.
pub fn dissipation_factor_at(tan: f64, theta: f64, theta_ref: f64) -> Result<f64, Domain> {
    let what = "the correction of the dissipation factor holds from 10 to 70 °C";
    Ok(tan * between_rows(&DISSIPATION, theta_ref, what)?
        / between_rows(&DISSIPATION, theta, what)?)
}

/// The power factor (fraction) of a dielectric from its dissipation factor (fraction).
///
/// Source: physics. Example: 0.01 gives 0.0099995.
pub fn power_factor(tan: f64) -> f64 {
    tan / (1.0 + tan * tan).sqrt()
}

/// The relative rise of a condenser bushing's capacitance when one of `layers` grading layers is shorted.
///
/// Errors: fewer than two layers. Source: physics. Example: 25 layers: 0.0417.
pub fn shorted_layer_rise(layers: f64) -> Result<f64, Domain> {
    Ok(1.0 / positive(layers - 1.0, "there must be at least two layers")?)
}

/// By what fraction a capacitance has changed.
///
/// `capacitance` and `before` in F. Errors: an earlier capacitance not above zero. Source: physics. Example: 312 and
/// 300 pF: 0.04.
pub fn capacitance_change(capacitance: f64, before: f64) -> Result<f64, Domain> {
    Ok(capacitance / positive(before, "the earlier capacitance must be above zero")? - 1.0)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn referred_to_20_degrees() {
        near(
            insulation_resistance_at(1200e6, 35.0, 20.0).unwrap(),
            3394e6,
            0.5e6,
        );
        let by = |rule| insulation_resistance_by(rule, 1200e6, 35.0, 20.0).unwrap();
        near(by(TemperatureRule::Table), 3360e6, 1.0);
        near(by(TemperatureRule::OneAndAHalfPer10K), 2205e6, 0.5e6);
        assert!(insulation_resistance_at(-1.0, 20.0, 20.0).is_err());
        assert!(insulation_resistance_by(TemperatureRule::Table, 1.0, 71.0, 20.0).is_err());
    }

    #[test]
    fn indices_and_dissipation_factor() {
        near(polarization_index(6e9, 9e9).unwrap(), 1.5, 1e-12);
        near(absorption_ratio(4e9, 6e9).unwrap(), 1.5, 1e-12);
        near(
            least_insulation_resistance(1.5, 110e3, 40e6).unwrap(),
            825e6,
            1.0,
        );
        near(
            dissipation_factor_at(0.0042, 35.0, 20.0).unwrap(),
            0.0030,
            1e-9,
        );
        assert!(dissipation_factor_at(0.0042, 5.0, 20.0).is_err());
        near(power_factor(0.01), 0.0099995, 1e-9);
        near(shorted_layer_rise(25.0).unwrap(), 0.0417, 5e-5);
        assert!(shorted_layer_rise(1.0).is_err());
        near(capacitance_change(312e-12, 300e-12).unwrap(), 0.04, 1e-12);
        assert!(capacitance_change(312e-12, 0.0).is_err());
    }
}
