//! Winding resistance: temperature correction, line and phase values, unbalance, resistance from dimensions.

use super::{Domain, not_negative, positive};

/// Conductor material of a winding.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Conductor {
    /// Annealed copper.
    Copper,
    /// Aluminium.
    Aluminium,
}

impl Conductor {
    /// Reads `copper` or `aluminium` (or `aluminum`); `None` for anything else.
    pub fn parse(text: &str) -> Option<Self> {
        match text {
            "copper" => Some(Self::Copper),
            "aluminium" | "aluminum" => Some(Self::Aluminium),
            _ => None,
        }
    }

    /// The constant K (K) of the correction (K + θ₂)/(K + θ₁): 235 for copper, 225 for aluminium.
    ///
    /// Source: a published guide to winding-resistance tests, in line with IEC 60076-1. IEEE C57.12.90 uses
    /// 234.5 for copper (from memory).
    pub fn temperature_constant(self) -> f64 {
        match self {
            Self::Copper => 235.0,
            Self::Aluminium => 225.0,
        }
    }

    /// Resistivity at 20 °C in Ω·m: 0.017241 µΩ·m for copper (58 MS/m rounded), 0.028264 µΩ·m for aluminium.
    ///
    /// Source: copper: a public summary of IEC 60028; aluminium: from memory, IEC 60889.
    pub fn resistivity(self) -> f64 {
        match self {
            Self::Copper => 0.017241e-6,
            Self::Aluminium => 0.028264e-6,
        }
    }

    /// Density in kg/m³: 8890 for copper, 2703 for aluminium.
    ///
    /// Source: from memory, IEC 60028 and IEC 60889.
    pub fn density(self) -> f64 {
        match self {
            Self::Copper => 8890.0,
            Self::Aluminium => 2703.0,
        }
    }
}

/// The factor from a resistance at `theta` to the same resistance at `theta_ref` for the constant `k`.
///
/// `theta`, `theta_ref` in °C, `k` in K (235 copper, 225 aluminium, 234.5 copper in IEEE tests). Errors: a
/// constant not above zero, a temperature at or below −`k`. Source: IEC 60076-1 and a published guide. Example: 22.4 to 75 °C, copper:
/// 1.20435.
pub fn temperature_factor(theta: f64, theta_ref: f64, k: f64) -> Result<f64, Domain> {
    let k = positive(k, "the constant of the resistance law must be above zero")?;
    let below = "the temperature lies below the zero of the resistance law";
    Ok(positive(k + theta_ref, below)? / positive(k + theta, below)?)
}

/// A winding resistance referred to another temperature.
///
/// `r`: resistance in Ω at `theta` (°C, mean winding temperature); `theta_ref` in °C;
/// `constant` in K as for [`temperature_factor`]; result in Ω. Errors: as [`temperature_factor`], and a
/// resistance not above zero.
///
/// Source: as [`temperature_factor`]. Example: 0.58927 Ω copper, 22.4 to 75 °C: 0.70968 Ω.
pub fn resistance_at(r: f64, theta: f64, theta_ref: f64, constant: f64) -> Result<f64, Domain> {
    let r = positive(r, "the resistance must be above zero")?;
    Ok(r * temperature_factor(theta, theta_ref, constant)?)
}

/// The resistances (Ω) of the phases U, V, W of a wye from those between its line terminals UV, VW, WU (Ω).
///
/// Errors: values that leave a phase without resistance. Source: physics. Example: 1.1794, 1.1787, 1.1775 Ω
/// gives 0.5891, 0.5903, 0.5884 Ω.
pub fn phase_resistances_wye(line: [f64; 3]) -> Result<[f64; 3], Domain> {
    let [uv, vw, wu] = line;
    let what = "the three line resistances can't belong to one wye";
    Ok([
        positive((uv + wu - vw) / 2.0, what)?,
        positive((uv + vw - wu) / 2.0, what)?,
        positive((vw + wu - uv) / 2.0, what)?,
    ])
}

/// The resistances (Ω) of the phases of a delta that lie between U and V, V and W, W and U, from those
/// between the line terminals UV, VW, WU (Ω).
///
/// Errors: values that no delta can have. Source: physics. Example: 29.720, 29.790, 29.750 mΩ gives 44.530,
/// 44.740, 44.620 mΩ.
pub fn phase_resistances_delta(line: [f64; 3]) -> Result<[f64; 3], Domain> {
    let half = line.iter().sum::<f64>() / 2.0;
    let what = "the three line resistances can't belong to one delta";
    let phase = |own: f64, next: f64, last: f64| {
        let rest = own - half;
        positive(-rest, what)?;
        positive(rest - next * last / rest, what)
    };
    let [uv, vw, wu] = line;
    Ok([phase(uv, vw, wu)?, phase(vw, wu, uv)?, phase(wu, uv, vw)?])
}

/// Largest less smallest over the mean of a list, as a fraction.
///
/// Errors: an empty list, a mean not above zero. Source: common practice, no source. Example: 0.5891, 0.5903,
/// 0.5884 gives 0.00322.
pub fn unbalance(values: &[f64]) -> Result<f64, Domain> {
    if values.is_empty() {
        return Err(Domain("the list of values is empty"));
    }
    let mean = positive(
        values.iter().sum::<f64>() / values.len() as f64,
        "the mean must be above zero",
    )?;
    let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let low = values.iter().copied().fold(f64::INFINITY, f64::min);
    Ok((high - low) / mean)
}

/// The d.c. loss (W) of a three-phase winding, wye or delta, from its line resistances.
///
/// `line`: resistances UV, VW, WU in Ω; `current`: line current in A. Errors: a resistance not above zero.
/// Source: physics. Example: 29.720, 29.790, 29.750 mΩ at 1099.71 A: 53.974 kW.
pub fn winding_loss(line: [f64; 3], current: f64) -> Result<f64, Domain> {
    for r in line {
        positive(r, "the resistance must be above zero")?;
    }
    Ok(0.5 * line.iter().sum::<f64>() * current * current)
}

/// The resistance (Ω) of a conductor, at the temperature of its resistivity.
///
/// `resistivity` in Ω·m, `length` in m, `section` in m² (all parallel strands); result in Ω. Errors: a value
/// not above zero. Source: physics; resistivity see [`Conductor::resistivity`]. Example: 1088.248 m of
/// 184.2037 mm² copper: 0.1018572 Ω at 20 °C.
pub fn resistance_from_dimensions(
    resistivity: f64,
    length: f64,
    section: f64,
) -> Result<f64, Domain> {
    let resistivity = positive(resistivity, "the resistivity must be above zero")?;
    let length = positive(length, "the conductor length must be above zero")?;
    Ok(resistivity * length / positive(section, "the conductor section must be above zero")?)
}

/// The resistance (Ω) of one coil of a symmetrical winding.
///
/// `r`: between two line terminals of a delta, else from terminal to neutral or end, Ω. Errors: a resistance not
/// above zero. Source: physics (two coils in series beside the third). Example: delta, 29.75 mΩ: 44.625 mΩ.
pub fn coil_resistance(delta: bool, r: f64) -> Result<f64, Domain> {
    let r = positive(r, "the resistance must be above zero")?;
    Ok(if delta { 1.5 * r } else { r })
}

/// The relative rise of resistance when one of `strands` equal parallel strands is open.
///
/// Errors: fewer than two strands. Source: physics. Example: 10 strands: 0.111; 6 strands: 0.2.
pub fn open_strand_rise(strands: f64) -> Result<f64, Domain> {
    Ok(1.0 / positive(strands - 1.0, "there must be at least two parallel strands")?)
}

/// Of the resistances at mirrored tapping positions (position k and last + 1 − k) of a reversing
/// arrangement, the largest relative difference, as a fraction.
///
/// `values`: resistances in Ω from the first position to the last. Errors: fewer than three values, one not
/// above zero. Source: physics. Example: 10, 8, 10.1 gives 0.00995.
pub fn mirrored_difference(values: &[f64]) -> Result<f64, Domain> {
    if values.len() < 3 {
        return Err(Domain("there must be at least three tapping positions"));
    }
    let mut largest = 0.0_f64;
    for (a, b) in values
        .iter()
        .zip(values.iter().rev())
        .take(values.len() / 2)
    {
        let mean = (not_negative(*a, "a resistance is negative")? + b) / 2.0;
        largest = largest.max((a - b).abs() / positive(mean, "the resistance must be above zero")?);
    }
    Ok(largest)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn correction_to_another_temperature() {
        let copper = Conductor::Copper.temperature_constant();
        near(
            temperature_factor(22.4, 75.0, 235.0).unwrap(),
            1.20435,
            5e-6,
        );
        near(
            temperature_factor(22.4, 75.0, 225.0).unwrap(),
            1.21261,
            5e-6,
        );
        near(
            resistance_at(0.58927, 22.4, 75.0, copper).unwrap(),
            0.70968,
            1e-5,
        );
        assert!(resistance_at(0.5, -240.0, 75.0, copper).is_err());
        assert!(resistance_at(0.0, 20.0, 75.0, 225.0).is_err());
        assert!(resistance_at(0.5, 20.0, 75.0, 0.0).is_err());
        near(Conductor::Aluminium.temperature_constant(), 225.0, 0.0);
        assert_eq!(Conductor::parse("aluminium"), Some(Conductor::Aluminium));
        assert_eq!(Conductor::parse("iron"), None);
    }

    #[test]
    fn line_and_phase_values() {
        let wye = phase_resistances_wye([1.1794, 1.1787, 1.1775]).unwrap();
        for (got, expected) in wye.into_iter().zip([0.5891, 0.5903, 0.5884]) {
            near(got, expected, 1e-9);
        }
        let line = [29.720e-3, 29.790e-3, 29.750e-3];
        let delta = phase_resistances_delta(line).unwrap();
        for (got, expected) in delta.into_iter().zip([0.044530, 0.044740, 0.044620]) {
            near(got, expected, 5e-7);
        }
        near(unbalance(&line).unwrap(), 0.00235, 5e-6);
        near(unbalance(&delta).unwrap(), 0.00471, 5e-6);
        near(unbalance(&wye).unwrap(), 0.00322, 5e-6);
        near(winding_loss(line, 1099.71).unwrap(), 53_974.0, 0.6);
        assert!(phase_resistances_delta([1.0, 1.0, 3.0]).is_err());
        assert!(phase_resistances_wye([1.0, 1.0, 3.0]).is_err());
        assert!(unbalance(&[]).is_err());
    }

    #[test]
    fn from_dimensions() {
        let copper = Conductor::Copper.resistivity();
        let r20 = resistance_from_dimensions(copper, 1088.248, 184.2037e-6).unwrap();
        near(r20, 0.1018572, 1e-6);
        near(
            r20 * temperature_factor(20.0, 75.0, 234.5).unwrap(),
            0.1238695,
            1e-6,
        );
        near(
            r20 * temperature_factor(20.0, 23.4, 234.5).unwrap(),
            0.1032180,
            1e-6,
        );
        near(
            resistance_from_dimensions(copper, 1.0, 30.7006e-6).unwrap(),
            5.61585e-4,
            1e-8,
        );
        near(open_strand_rise(10.0).unwrap(), 0.111, 5e-4);
        near(open_strand_rise(6.0).unwrap(), 0.2, 1e-12);
        near(
            mirrored_difference(&[10.0, 8.0, 10.1]).unwrap(),
            0.00995,
            5e-6,
        );
        assert!(resistance_from_dimensions(0.0, 1.0, 1e-6).is_err());
        assert!(open_strand_rise(1.0).is_err());
        assert!(mirrored_difference(&[10.0, 8.0]).is_err());
    }

    #[test]
    fn one_coil_of_a_symmetrical_winding() {
        let r = coil_resistance(true, 29.75e-3).unwrap();
        near(r, 44.625e-3, 1e-9);
        // Back again: one coil beside the two others in series.
        near(r * 2.0 * r / (3.0 * r), 29.75e-3, 1e-12);
        near(coil_resistance(false, 0.589).unwrap(), 0.589, 0.0);
        assert!(coil_resistance(true, 0.0).is_err());
    }
}
