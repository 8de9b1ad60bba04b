//! Load loss, short-circuit impedance, voltage drop, efficiency and zero-sequence impedance.

use super::resistance::temperature_factor;
use super::{Domain, not_negative, positive, within};

/// The load loss (W) at rated current from one measured at a lower current.
///
/// `measured` in W, `current` and `rated` in A. Errors: a current not above zero. Source: from memory, IEC
/// 60076-1 clause 11.4 (test current at least half the rated one). Example: 77.40 kW at 146.96 A of 209.95 A:
/// 157.96 kW.
pub fn load_loss_at_current(measured: f64, current: f64, rated: f64) -> Result<f64, Domain> {
    Ok(measured * (rated / positive(current, "the test current must be above zero")?).powi(2))
}

/// The load loss (W) referred to another temperature: d.c. loss times c, additional loss over c.
///
/// `measured`: load loss at rated current in W; `dc_loss`: sum of I²R at `theta` in W; `theta`, `theta_ref`
/// in °C; `constant`: of the resistance law in K (235 copper, 225 aluminium, 234.5 copper in IEEE tests).
/// Errors: a d.c. loss above the measured loss (the additional loss can't be negative), a temperature below the
/// zero of the resistance law. Source: from memory, IEC 60076-1:2011 Annex E. Example: 157.959 kW, 131.894 kW,
/// 22.4 to 75 °C, copper: 180.489 kW.
pub fn load_loss_at(
    measured: f64,
    dc_loss: f64,
    theta: f64,
    theta_ref: f64,
    constant: f64,
) -> Result<f64, Domain> {
    let c = temperature_factor(theta, theta_ref, constant)?;
    Ok(dc_loss * c + additional_loss(measured, dc_loss)? / c)
}

/// The additional (stray) loss (W): load loss less d.c. loss at the same temperature, both in W.
///
/// Errors: a d.c. loss above the load loss. Source: physics. Example: 157.959 and 131.894 kW: 26.065 kW.
pub fn additional_loss(load_loss: f64, dc_loss: f64) -> Result<f64, Domain> {
    not_negative(load_loss - dc_loss, "the d.c. loss exceeds the load loss")
}

/// The short-circuit impedance as a fraction from a test at reduced current.
///
/// `voltage`, `u_rated` in V; `current`, `i_rated` in A. Errors: a value not above zero. Source: physics.
/// Example: 9220 V at 146.96 A, 110 kV, 209.95 A: 0.11974.
pub fn impedance(voltage: f64, current: f64, u_rated: f64, i_rated: f64) -> Result<f64, Domain> {
    let what = "voltages and currents must be above zero";
    Ok(
        positive(voltage, what)? / positive(u_rated, what)? * positive(i_rated, what)?
            / positive(current, what)?,
    )
}

/// The reactance (fraction) left of an impedance when the resistance is taken away as vectors.
///
/// `z`, `r`: fractions. Errors: a resistance above the impedance. Source: physics. Example: 0.11974,
/// 0.003949: 0.119675.
pub fn reactance(z: f64, r: f64) -> Result<f64, Domain> {
    Ok(not_negative(z * z - r * r, "the resistance exceeds the impedance")?.sqrt())
}

/// The short-circuit impedance (fraction) at another temperature; the reactance doesn't change.
///
/// `z`: fraction; `loss`: load loss in W at the temperature of the test; `loss_ref`: load loss in W at the
/// reference temperature; `power`: rated power in VA. Errors: a power not above zero, a loss that exceeds the
/// impedance. Source: physics. Example: 0.11974, 157.959 kW, 180.489 kW, 40 MVA: 0.119760.
pub fn impedance_at(z: f64, loss: f64, loss_ref: f64, power: f64) -> Result<f64, Domain> {
    let power = positive(power, "the rated power must be above zero")?;
    Ok(reactance(z, loss / power)?.hypot(loss_ref / power))
}

/// The impedance (Ω per phase) that a fraction stands for.
///
/// `z`: fraction; `u_rated` in V (line); `power` in VA. Errors: a power not above zero. Source: physics.
/// Example: 0.11976, 110 kV, 40 MVA: 36.227 Ω.
pub fn impedance_in_ohm(z: f64, u_rated: f64, power: f64) -> Result<f64, Domain> {
    Ok(z * u_rated * u_rated / positive(power, "the rated power must be above zero")?)
}

/// An impedance (fraction) on another power base: `z` on `power`, result on `new_power`, both in VA.
///
/// Errors: a power not above zero. Source: physics. Example: 0.06 on 20 MVA: 0.12 on 40 MVA.
pub fn impedance_on_base(z: f64, power: f64, new_power: f64) -> Result<f64, Domain> {
    Ok(z * new_power / positive(power, "the rated power must be above zero")?)
}

/// The resistive part of the short-circuit impedance, as a fraction: load loss over rated power.
///
/// `loss` in W at rated current, `power` in VA. Errors: a power not above zero. Source: physics. Example: 157.959
/// kW of 40 MVA: 0.00394897.
pub fn resistive_part(loss: f64, power: f64) -> Result<f64, Domain> {
    Ok(loss / positive(power, "the rated power must be above zero")?)
}

/// What a loss above the guarantee costs, in the money of the contract; 0 within the guarantee.
///
/// `measured`, `guaranteed` in W; `rate` for each kilowatt. Errors: a negative rate. Source: the order (commercial
/// term). Example: 206.5 kW against 204 kW at 4000: 10 000.
pub fn loss_penalty(measured: f64, guaranteed: f64, rate: f64) -> Result<f64, Domain> {
    let rate = not_negative(rate, "the price of a kilowatt must not be negative")?;
    Ok(rate * ((measured - guaranteed) / 1000.0).max(0.0))
}

/// The three branches of the star that stands for a three-winding unit, from the pairs HM, HL, ML on one
/// base.
///
/// All fractions (or all Ω); a small negative branch is possible. Source: physics. Example: 12, 21, 7 gives
/// 13, −1, 8 for H, M, L.
pub fn star_branches(hm: f64, hl: f64, ml: f64) -> [f64; 3] {
    [
        (hm + hl - ml) / 2.0,
        (hm + ml - hl) / 2.0,
        (hl + ml - hm) / 2.0,
    ]
}

/// The components a and b of the voltage drop along and across the voltage.
fn drop_components(er: f64, ex: f64, load: f64, cos_phi: f64) -> Result<(f64, f64, f64), Domain> {
    let cos = within(
        cos_phi,
        0.0,
        1.0,
        "the power factor must be between 0 and 1",
    )?;
    let sin = (1.0 - cos * cos).sqrt();
    Ok((
        load * (er * cos + ex * sin),
        load * (ex * cos - er * sin),
        sin,
    ))
}

/// The voltage drop (fraction) at load with the supply held, by the IEC rule a + 1 − √(1 − b²).
///
/// `er`, `ex`: resistance and reactance as fractions; `load`: current over rated current; `cos_phi`: lagging
/// power factor. Errors: a power factor outside 0 to 1, a drop the rule can't hold. Source: from memory, IEC
/// 60076-8 clause 7. Example: 0.004512, 0.119675, 1, 0.8: 0.079752.
pub fn voltage_drop(er: f64, ex: f64, load: f64, cos_phi: f64) -> Result<f64, Domain> {
    let (a, b, _) = drop_components(er, ex, load, cos_phi)?;
    Ok(a + 1.0 - not_negative(1.0 - b * b, "the voltage drop is too large for the rule")?.sqrt())
}

/// The voltage regulation (fraction) by the IEEE rule, with the secondary voltage held.
///
/// Arguments and errors as [`voltage_drop`]. Source: from memory, IEEE C57.12.90 clause 14. Example:
/// 0.004512, 0.119675, 1, 0.8: 0.079431.
pub fn regulation_ieee(er: f64, ex: f64, load: f64, cos_phi: f64) -> Result<f64, Domain> {
    let (_, _, sin) = drop_components(er, ex, load, cos_phi)?;
    Ok((er * load + cos_phi).hypot(ex * load + sin) - 1.0)
}

/// The efficiency (fraction).
///
/// `no_load`, `load_loss`: losses in W; `load`: power over rated power; `power`: rated power in VA;
/// `cos_phi`. Errors: a power, load or power factor not above zero. Source: physics. Example: 22.176 kW,
/// 180.489 kW, 1, 40 MVA, 0.8: 0.993707.
pub fn efficiency(
    no_load: f64,
    load_loss: f64,
    load: f64,
    power: f64,
    cos_phi: f64,
) -> Result<f64, Domain> {
    let what = "rated power, load and power factor must be above zero";
    let out = positive(power, what)? * positive(load, what)? * positive(cos_phi, what)?;
    let loss = no_load + load * load * load_loss;
    Ok(1.0 - loss / (out + loss))
}

/// The load (power over rated power) at which the efficiency is highest, from the losses in W.
///
/// Errors: a load loss not above zero, a negative no-load loss. Source: physics. Example: 22.176, 180.489 kW:
/// 0.3505.
pub fn best_load(no_load: f64, load_loss: f64) -> Result<f64, Domain> {
    let p0 = not_negative(no_load, "the no-load loss must not be negative")?;
    Ok((p0 / positive(load_loss, "the load loss must be above zero")?).sqrt())
}

/// The peak efficiency index (fraction) without cooling power: 1 − 2·P0/(S·√(P0/Pk)).
///
/// Losses in W, `power` in VA. Errors: a value not above zero. Source: from memory, IEC TS 60076-20. Example:
/// 22.176 kW, 180.489 kW, 40 MVA: 0.996837.
pub fn peak_efficiency_index(no_load: f64, load_loss: f64, power: f64) -> Result<f64, Domain> {
    let best = positive(
        best_load(no_load, load_loss)?,
        "the no-load loss must be above zero",
    )?;
    Ok(1.0 - 2.0 * no_load / (positive(power, "the rated power must be above zero")? * best))
}

/// The zero-sequence impedance (Ω per phase) with the line terminals joined: 3·U/I.
///
/// `voltage` between terminals and neutral in V, `current` in the neutral in A. Errors: a current not above
/// zero. Source: from memory, IEC 60076-1:2011 clause 11.6. Example: 774 V, 75 A: 30.960 Ω.
pub fn zero_sequence_impedance(voltage: f64, current: f64) -> Result<f64, Domain> {
    Ok(3.0 * voltage / positive(current, "the neutral current must be above zero")?)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn load_loss() {
        let p = load_loss_at_current(77.40e3, 0.7 * 209.95, 209.95).unwrap();
        near(p, 157_959.0, 1.0);
        near(
            additional_loss(157_959.0, 131_894.0).unwrap(),
            26_065.0,
            0.5,
        );
        near(
            load_loss_at(157_959.0, 131_894.0, 22.4, 75.0, 235.0).unwrap(),
            180_489.0,
            1.5,
        );
        near(
            load_loss_at(157_959.0, 131_894.0, 22.4, 85.0, 235.0).unwrap(),
            184_937.0,
            1.5,
        );
        assert!(additional_loss(1.0, 2.0).is_err());
    }

    #[test]
    fn impedance_and_drop() {
        let z = impedance(9220.0, 0.7, 110e3, 1.0).unwrap();
        near(z, 0.119740, 5e-7);
        let er = 157_959.0 / 40e6;
        near(er, 0.003949, 5e-7);
        let ex = reactance(z, er).unwrap();
        near(ex, 0.119675, 5e-7);
        let z75 = impedance_at(z, 157_959.0, 180_489.0, 40e6).unwrap();
        near(z75, 0.119760, 5e-7);
        near(impedance_in_ohm(z75, 110e3, 40e6).unwrap(), 36.227, 5e-4);
        near(impedance_on_base(0.06, 20e6, 40e6).unwrap(), 0.12, 1e-12);
        assert_eq!(star_branches(12.0, 21.0, 7.0), [13.0, -1.0, 8.0]);
        near(
            voltage_drop(0.004512, ex, 1.0, 0.8).unwrap(),
            0.079752,
            1e-6,
        );
        near(
            voltage_drop(0.004512, ex, 1.0, 1.0).unwrap(),
            0.011699,
            1e-6,
        );
        near(
            regulation_ieee(0.004512, ex, 1.0, 0.8).unwrap(),
            0.079431,
            1e-6,
        );
        near(
            regulation_ieee(0.004512, ex, 1.0, 1.0).unwrap(),
            0.011616,
            1e-6,
        );
    }

    #[test]
    fn efficiency_and_zero_sequence() {
        near(
            efficiency(22_176.0, 180_489.0, 1.0, 40e6, 1.0).unwrap(),
            0.994959,
            5e-7,
        );
        near(
            efficiency(22_176.0, 180_489.0, 1.0, 40e6, 0.8).unwrap(),
            0.993707,
            5e-7,
        );
        near(
            efficiency(22_176.0, 180_489.0, 0.5, 40e6, 1.0).unwrap(),
            0.996646,
            5e-7,
        );
        near(best_load(22_176.0, 180_489.0).unwrap(), 0.3505, 5e-5);
        near(
            peak_efficiency_index(22_176.0, 180_489.0, 40e6).unwrap(),
            0.996837,
            5e-7,
        );
        near(zero_sequence_impedance(774.0, 75.0).unwrap(), 30.960, 1e-9);
    }
}
