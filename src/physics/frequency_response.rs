//! Comparison of two frequency responses (magnitudes in dB at equal frequencies).

use super::{Domain, positive};

/// The mean of a list.
fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// Refuses lists of unequal length or of fewer than two points.
fn equal_length(x: &[f64], y: &[f64]) -> Result<(), Domain> {
    if x.len() == y.len() && x.len() > 1 {
        Ok(())
    } else {
        Err(Domain(
            "the two responses must have equal and at least two points",
        ))
    }
}

/// The centred correlation coefficient of two responses.
///
/// `x`, `y`: magnitudes in dB. Errors: unequal lengths, fewer than two points, a constant response. Source:
/// from memory, DL/T 911. Example: the five points of the unit test: 0.996788.
pub fn correlation(x: &[f64], y: &[f64]) -> Result<f64, Domain> {
    equal_length(x, y)?;
    let (mx, my) = (mean(x), mean(y));
    let sum = |a: &[f64], ma: f64, b: &[f64], mb: f64| -> f64 {
        a.iter().zip(b).map(|(p, q)| (p - ma) * (q - mb)).sum()
    };
    let spread = (sum(x, mx, x, mx) * sum(y, my, y, my)).sqrt();
    Ok((sum(x, mx, y, my) / positive(spread, "a response is constant")?).clamp(-1.0, 1.0))
}

/// The correlation factor R = −lg(1 − LR) of two responses, at most 10.
///
/// Arguments and errors as [`correlation`]. Source: formula from memory, DL/T 911; its limits were found
/// published. Example: LR 0.996788 gives 2.493.
pub fn correlation_factor(x: &[f64], y: &[f64]) -> Result<f64, Domain> {
    let rest = 1.0 - correlation(x, y)?;
    Ok(if rest < 1e-10 { 10.0 } else { -rest.log10() })
}

/// The mean absolute difference (dB) of two responses.
///
/// Arguments as [`correlation`]. Errors: unequal lengths, fewer than two points. Source: physics. Example:
/// the five points of the unit test: 1.100 dB.
pub fn mean_difference(x: &[f64], y: &[f64]) -> Result<f64, Domain> {
    equal_length(x, y)?;
    Ok(x.iter().zip(y).map(|(a, b)| (a - b).abs()).sum::<f64>() / x.len() as f64)
}

/// The root-mean-square difference (dB) of two responses.
///
/// Arguments and errors as [`mean_difference`]. Source: from memory, Chinese institute guidance. Example: the
/// five points of the unit test: 1.204 dB.
pub fn rms_difference(x: &[f64], y: &[f64]) -> Result<f64, Domain> {
    equal_length(x, y)?;
    Ok((x.iter().zip(y).map(|(a, b)| (a - b).powi(2)).sum::<f64>() / x.len() as f64).sqrt())
}

/// The state of a winding by its correlation factors in three bands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum WindingState {
    /// No deformation seen.
    Normal,
    /// Slight deformation.
    Slight,
    /// Obvious deformation.
    Obvious,
    /// Severe deformation.
    Severe,
    /// Low and middle band good, high band poor: leads or earthing of the test.
    CheckLeads,
}

/// The state of a winding by the correlation factors of the bands 1–100, 100–600 and 600–1000 kHz.
///
/// Source: DL/T 911-2016 thresholds as published; the case of a poor high band alone: physics. Example: 2.1,
/// 1.2, 0.8 is normal; 0.5, 1.2, 0.8 severe.
pub fn winding_state(low: f64, middle: f64, high: f64) -> WindingState {
    if low < 0.6 {
        WindingState::Severe
    } else if low < 1.0 || middle < 0.6 {
        WindingState::Obvious
    } else if low < 2.0 || middle < 1.0 {
        WindingState::Slight
    } else if high < 0.6 {
        WindingState::CheckLeads
    } else {
        WindingState::Normal
    }
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    const X: [f64; 5] = [-10.0, -20.0, -35.0, -50.0, -42.0];
    const Y: [f64; 5] = [-11.0, -20.5, -34.0, -52.0, -41.0];

    #[test]
    fn five_points() {
        near(correlation(&X, &Y).unwrap(), 0.996788, 5e-7);
        near(correlation_factor(&X, &Y).unwrap(), 2.493, 5e-4);
        near(correlation_factor(&X, &X).unwrap(), 10.0, 0.0);
        near(mean_difference(&X, &Y).unwrap(), 1.100, 1e-9);
        near(rms_difference(&X, &Y).unwrap(), 1.45_f64.sqrt(), 1e-9);
        assert!(
            correlation(&X, &Y[..4]).is_err() && correlation(&[1.0, 1.0], &[1.0, 2.0]).is_err()
        );
    }

    #[test]
    fn states() {
        assert_eq!(winding_state(2.1, 1.2, 0.8), WindingState::Normal);
        assert_eq!(winding_state(1.5, 1.2, 0.8), WindingState::Slight);
        assert_eq!(winding_state(2.1, 0.5, 0.8), WindingState::Obvious);
        assert_eq!(winding_state(0.5, 1.2, 0.8), WindingState::Severe);
        assert_eq!(winding_state(2.1, 1.2, 0.5), WindingState::CheckLeads);
    }
}
