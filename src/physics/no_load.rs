//! No-load loss and current, volts per turn, exciting currents and magnetic balance at low voltage.

use super::{Domain, positive, within};

/// Volts per turn (V).
///
/// `u_phase`: coil voltage in V; `turns`. Errors: a value not above zero. Source: physics. Example: 21 000 V
/// on 210 turns: 100 V.
pub fn volts_per_turn(u_phase: f64, turns: f64) -> Result<f64, Domain> {
    let what = "voltage and number of turns must be above zero";
    Ok(positive(u_phase, what)? / positive(turns, what)?)
}

/// The no-load loss (W) corrected for wave form by the IEC rule P·(1 + d), d = (U' − U)/U'.
///
/// `measured` loss in W; `u_mean`: U', 1.111 times the rectified mean voltage, V; `u_rms` in V. Errors: a
/// voltage not above zero, |d| above 0.03, where the rule no longer holds.
///
/// Source: from memory, IEC 60076-1:2011 clause 11.5. Example: 22.40 kW, 21 000 V, 21 210 V: 22.176 kW.
pub fn no_load_loss(measured: f64, u_mean: f64, u_rms: f64) -> Result<f64, Domain> {
    Ok(measured * (1.0 + wave_form_difference(u_mean, u_rms)?))
}

/// The relative difference d = (U' − U)/U' of the wave-form correction; see [`no_load_loss`].
///
/// Errors and source: as there. Example: 21 000 V, 21 210 V: −0.0100.
pub fn wave_form_difference(u_mean: f64, u_rms: f64) -> Result<f64, Domain> {
    let what = "the voltages must be above zero";
    let d = 1.0 - positive(u_rms, what)? / positive(u_mean, what)?;
    within(
        d,
        -0.03 - 1e-12,
        0.03 + 1e-12,
        "the two voltages differ by more than 3 %, the wave form is not acceptable",
    )
}

/// The no-load loss (W) corrected for wave form by the IEEE rule P/(P1 + k·P2), k = (U/U')².
///
/// `hysteresis`: share P1 of the loss (0.5 when unknown), P2 is the rest; the others as [`no_load_loss`].
/// Errors: a voltage not above zero, a share outside 0 to 1. Source: from memory, IEEE C57.12.90 clause 8.
/// Example: 22.40 kW, 21 000 V, 21 210 V, 0.5: 22.177 kW.
pub fn no_load_loss_ieee(
    measured: f64,
    u_mean: f64,
    u_rms: f64,
    hysteresis: f64,
) -> Result<f64, Domain> {
    let what = "the voltages must be above zero";
    let share = within(
        hysteresis,
        0.0,
        1.0,
        "the share of hysteresis loss must be between 0 and 1",
    )?;
    let k = (positive(u_rms, what)? / positive(u_mean, what)?).powi(2);
    Ok(measured / (share + k * (1.0 - share)))
}

/// The no-load loss (W) referred to 20 °C.
///
/// `loss` in W at the mean oil temperature `theta` (°C). Source: from memory, IEEE C57.12.90. Example: 22.177
/// kW at 22.4 °C: 22.212 kW.
pub fn no_load_loss_at_20(loss: f64, theta: f64) -> f64 {
    loss * (1.0 + 0.00065 * (theta - 20.0))
}

/// The no-load current as a fraction of the rated current: mean of the line currents over the rated one.
///
/// `currents` and `rated` in A. Errors: no current, a rated current not above zero. Source: from memory,
/// IEC 60076-1. Example: 1.62, 1.18, 1.66 A on 1099.71 A: 0.001352.
pub fn no_load_current(currents: &[f64], rated: f64) -> Result<f64, Domain> {
    if currents.is_empty() {
        return Err(Domain("the list of currents is empty"));
    }
    let mean = currents.iter().sum::<f64>() / currents.len() as f64;
    Ok(mean / positive(rated, "the rated current must be above zero")?)
}

/// Total harmonic distortion (fraction) of harmonics given as fractions of the fundamental.
///
/// Source: physics. Example: 0.28, 0.14, 0.06, 0.03 gives 0.320.
pub fn harmonic_distortion(harmonics: &[f64]) -> f64 {
    harmonics.iter().map(|h| h * h).sum::<f64>().sqrt()
}

/// The relative difference between the exciting currents of the two outer limbs, over their mean.
///
/// Both in A. Errors: a mean not above zero. Source: from memory, IEEE C57.152. Example: 50 and 52 mA:
/// 0.0392.
pub fn outer_limb_difference(first: f64, third: f64) -> Result<f64, Domain> {
    Ok((first - third).abs() / positive((first + third) / 2.0, "the currents must be above zero")?)
}

/// How far the voltages induced on the other two limbs miss the voltage of the excited limb, as a fraction of
/// it.
///
/// All in V. Errors: an excited voltage not above zero. Source: physics (flux conservation), the example from
/// a published test guide. Example: 84 V excited, 56 and 28 V: 0.
pub fn magnetic_balance(excited: f64, other: f64, third: f64) -> Result<f64, Domain> {
    Ok((other + third) / positive(excited, "the excited voltage must be above zero")? - 1.0)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn losses() {
        near(
            wave_form_difference(21_000.0, 21_210.0).unwrap(),
            -0.0100,
            1e-9,
        );
        near(
            no_load_loss(22.40e3, 21_000.0, 21_210.0).unwrap(),
            22_176.0,
            0.5,
        );
        let ieee = no_load_loss_ieee(22.40e3, 21_000.0, 21_210.0, 0.5).unwrap();
        near(ieee, 22_177.0, 0.5);
        near(no_load_loss_at_20(ieee, 22.4), 22_212.0, 0.5);
        assert!(no_load_loss(1.0, 100.0, 104.0).is_err());
        assert!(no_load_loss(1.0, 100.0, 103.0).is_ok());
    }

    #[test]
    fn currents_and_voltages() {
        near(volts_per_turn(21e3, 210.0).unwrap(), 100.0, 1e-12);
        near(
            volts_per_turn(110e3 / 3.0_f64.sqrt(), 635.0).unwrap(),
            100.013,
            5e-4,
        );
        near(
            no_load_current(&[1.62, 1.18, 1.66], 1099.71).unwrap(),
            0.001352,
            5e-7,
        );
        near(harmonic_distortion(&[0.28, 0.14, 0.06, 0.03]), 0.320, 5e-4);
        near(outer_limb_difference(0.050, 0.052).unwrap(), 0.0392, 5e-5);
        near(magnetic_balance(84.0, 56.0, 28.0).unwrap(), 0.0, 1e-12);
        near(magnetic_balance(84.0, 42.0, 42.0).unwrap(), 0.0, 1e-12);
        assert!(no_load_current(&[], 1.0).is_err());
    }
}
