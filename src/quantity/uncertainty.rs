//! Accuracy statements and what they come to: limits of error, standard and expanded uncertainty.

use super::interval::Interval;
use super::number::Number;
use super::quantities::Quantity;
use std::cmp::Ordering;

/// The coverage factor of every expanded uncertainty that a decision rests on.
///
/// Source: about 95 % for a normal distribution; EA-4/02, from memory.
pub const COVERAGE: f64 = 2.0;

/// One part of an accuracy statement: `0.2 % of reading`, `0.05 % of range`, `0.05 V`.
#[derive(Clone, Copy, Debug)]
pub enum AccuracyTerm {
    /// A share of the value that was read.
    OfReading(Number),
    /// A share of the full scale of the range.
    OfRange(Number),
    /// The same at every value.
    Alone(Quantity),
}

/// An accuracy statement: its parts add up to a half-width, its coverage factor says what that is.
#[derive(Clone, Debug)]
pub struct Accuracy {
    /// Its parts.
    pub terms: Vec<AccuracyTerm>,
    /// The coverage factor that it states.
    pub coverage: Option<f64>,
}

impl Accuracy {
    /// The half-width at a value: the parts added up, as makers state them. `None` where a part means
    /// nothing for it: a share of a temperature on the scale, a share of a range that is not stated,
    /// another dimension.
    pub fn half_width(&self, value: &Quantity, range: Option<&Interval>) -> Option<Quantity> {
        let mut sum: Option<Quantity> = None;
        for term in &self.terms {
            let part = match term {
                AccuracyTerm::OfReading(_) if value.point => return None,
                AccuracyTerm::OfReading(share) => value.abs().ok()?.mul(&Quantity::plain(*share)),
                AccuracyTerm::OfRange(share) => full_scale(range?)?.mul(&Quantity::plain(*share)),
                AccuracyTerm::Alone(amount) => Ok(*amount),
            };
            let part = part.ok()?;
            if part.dimension != value.dimension || part.point {
                return None;
            }
            sum = Some(match sum {
                Some(sum) => sum.add(&part).ok()?,
                None => part,
            });
        }
        sum
    }

    /// What the half-width is divided by to get the standard uncertainty: the coverage factor; without one
    /// the half-width is a limit of error, every value within it is as likely as any other, and its
    /// standard deviation is the half-width over the square root of 3.
    ///
    /// Source: JCGM 100:2008, 4.3.4 (stated coverage factor) and 4.3.7 (limits only), from memory.
    pub fn divisor(&self) -> f64 {
        self.coverage.unwrap_or(3f64.sqrt())
    }
}

/// What a share of a range is a share of: the end that is farther from zero; the span where zero lies inside
/// the range, and for temperatures on the scale, whose zero is a matter of the scale.
///
/// Source: common practice, no source.
pub fn full_scale(range: &Interval) -> Option<Quantity> {
    let (low, high) = (range.low.as_ref()?.at, range.high.as_ref()?.at);
    let span = high.sub(&low).ok()?;
    let inside = low.value.to_f64() < 0.0 && high.value.to_f64() > 0.0;
    if low.point || inside {
        return Some(span);
    }
    let (low, high) = (low.abs().ok()?, high.abs().ok()?);
    Some(match low.compare(&high) {
        Ok(Ordering::Greater) => low,
        _ => high,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Rational, parse_unit};

    fn quantity(number: &str, unit: &str) -> Quantity {
        let (sign, digits) = number
            .strip_prefix('-')
            .map_or((1, number), |digits| (-1, digits));
        let number = Rational::parse(digits)
            .unwrap()
            .checked_mul(Rational::whole(sign))
            .unwrap();
        Quantity::from_unit(number, &parse_unit(unit).unwrap())
    }

    fn share(percent: &str) -> Number {
        quantity(percent, "%").value
    }

    #[test]
    fn the_parts_of_a_statement_add_up() {
        let accuracy = Accuracy {
            terms: vec![
                AccuracyTerm::OfReading(share("0.2")),
                AccuracyTerm::OfRange(share("0.05")),
                AccuracyTerm::Alone(quantity("3", "mV")),
            ],
            coverage: Some(2.0),
        };
        let range = Interval::between(quantity("0", "V"), quantity("300", "V"));
        let half_width = accuracy.half_width(&quantity("-100", "V"), Some(&range));
        let expected = quantity("353", "mV");
        assert_eq!(
            half_width.unwrap().compare(&expected),
            Ok(Ordering::Equal),
            "0.2 V + 0.15 V + 0.003 V"
        );
        assert!(accuracy.half_width(&quantity("100", "V"), None).is_none());
        assert!(
            accuracy
                .half_width(&quantity("1", "A"), Some(&range))
                .is_none()
        );
        assert_eq!(accuracy.divisor(), 2.0);
    }

    #[test]
    fn without_a_coverage_factor_it_is_a_limit_of_error() {
        let accuracy = Accuracy {
            terms: vec![AccuracyTerm::Alone(quantity("0.6", "K"))],
            coverage: None,
        };
        // A thermometer's error is a difference, whatever scale the reading stands on.
        let half_width = accuracy.half_width(&quantity("20", "°C"), None).unwrap();
        assert!((half_width.value.to_f64() / accuracy.divisor() - 0.346_410_161_5).abs() < 1e-9);
        let share = Accuracy {
            terms: vec![AccuracyTerm::OfReading(share("1"))],
            coverage: None,
        };
        assert!(share.half_width(&quantity("20", "°C"), None).is_none());
    }

    #[test]
    fn full_scale_of_a_range() {
        let scale = |low: (&str, &str), high: (&str, &str)| {
            let range = Interval::between(quantity(low.0, low.1), quantity(high.0, high.1));
            full_scale(&range).unwrap().value.to_f64()
        };
        assert_eq!(scale(("2", "bar"), ("10", "bar")), 1e6);
        assert_eq!(scale(("-100", "kPa"), ("0", "kPa")), 1e5);
        assert_eq!(scale(("-1", "bar"), ("3", "bar")), 4e5);
        assert_eq!(scale(("-80", "°C"), ("200", "°C")), 280.0);
    }
}
