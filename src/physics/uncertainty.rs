//! Uncertainty of measurement and what it means for a limit.

use super::{Domain, positive};
use std::f64::consts::{PI, SQRT_2};

/// The probability (fraction) that the true value is not above a limit, for a reading and its standard
/// uncertainty.
///
/// `reading`, `limit` and `u` (standard uncertainty, k = 1) in one unit. The true value is taken as normally
/// distributed around the reading. Errors: an uncertainty not above zero, a value that is no number. Source:
/// from memory, JCGM 106:2012. Example: 0.42, 0.50, 0.03: 0.9962; 0.47: 0.8413; 0.50: 0.5.
pub fn conformity_probability(reading: f64, limit: f64, u: f64) -> Result<f64, Domain> {
    let z = (limit - reading) / positive(u, "the uncertainty must be above zero")?;
    if z.is_nan() {
        return Err(Domain("reading and limit must be numbers"));
    }
    Ok(0.5 * erfc(-z / SQRT_2))
}

/// The complementary error function, to 1e-14: a series near zero, a continued fraction beyond.
///
/// Source: physics (mathematics). Example: 0.5 gives 0.479500122187.
fn erfc(x: f64) -> f64 {
    if x < 0.0 {
        return 2.0 - erfc(-x);
    }
    if x > 27.0 {
        return 0.0;
    }
    let bell = (-x * x).exp();
    if x < 2.5 {
        // erf x = 2/√π exp(−x²) Σ 2ⁿ x^(2n+1) / (1·3·…·(2n+1)): all terms positive, so nothing cancels.
        let (mut term, mut sum) = (x, x);
        for n in 1..100 {
            term *= 2.0 * x * x / f64::from(2 * n + 1);
            sum += term;
            if term <= sum * 1e-17 {
                break;
            }
        }
        return 1.0 - 2.0 / PI.sqrt() * bell * sum;
    }
    // erfc x = exp(−x²)/√π · 1/(x + (1/2)/(x + (2/2)/(x + (3/2)/(x + …)))), from the inside out.
    let fraction = (1..=80)
        .rev()
        .fold(x, |below, n| x + f64::from(n) / 2.0 / below);
    bell / (PI.sqrt() * fraction)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn the_error_function_by_its_known_values() {
        for (x, expected) in [
            (0.0, 1.0),
            (0.5, 0.479_500_122_186_953_5),
            (1.0, 0.157_299_207_050_285_13),
            (2.0, 0.004_677_734_981_047_266),
            (2.499_999, 4.069_541_957_346_353e-4),
            (2.500_001, 4.069_498_391_661_740_3e-4),
            (3.0, 2.209_049_699_858_544e-5),
            (5.0, 1.537_459_794_428_035e-12),
            (-1.0, 1.842_700_792_949_715),
        ] {
            near(erfc(x), expected, 1e-9 * f64::max(expected, 1e-3));
        }
        near(erfc(5.0) / 1.537_459_794_428_035e-12, 1.0, 1e-9);
        near(erfc(40.0), 0.0, 0.0);
    }

    #[test]
    fn moisture_against_its_limit() {
        for (reading, expected) in [
            (0.42, 0.9962),
            (0.44, 0.9772),
            (0.45, 0.9522),
            (0.47, 0.8413),
            (0.50, 0.5000),
        ] {
            near(
                conformity_probability(reading, 0.50, 0.03).unwrap(),
                expected,
                5e-5,
            );
        }
        near(
            conformity_probability(0.53, 0.50, 0.03).unwrap(),
            0.158_655_253_931,
            1e-9,
        );
        assert!(conformity_probability(0.42, 0.50, 0.0).is_err());
        assert!(conformity_probability(f64::NAN, 0.50, 0.1).is_err());
    }
}
