//! Numbers: exact as long as they can be, else binary floating point with a stated tolerance.

use super::rational::Rational;
use std::cmp::Ordering;

/// Two numbers of which one is not exact count as equal when they differ by no more than this part of
/// the larger one. A limit that is met to within it is met.
pub const TOLERANCE: f64 = 1e-9;

/// A number.
#[derive(Clone, Copy, Debug)]
pub enum Number {
    /// Exact.
    Exact(Rational),
    /// After a root, an exponential or more digits than fit: to about sixteen digits.
    Approx(f64),
}

impl Number {
    /// A whole number.
    pub fn whole(value: i64) -> Number {
        Number::Exact(Rational::whole(value))
    }

    fn combine(
        self,
        other: Number,
        exact: fn(Rational, Rational) -> Option<Rational>,
        approx: fn(f64, f64) -> f64,
    ) -> Number {
        if let (Number::Exact(a), Number::Exact(b)) = (self, other)
            && let Some(result) = exact(a, b)
        {
            return Number::Exact(result);
        }
        Number::Approx(approx(self.to_f64(), other.to_f64()))
    }

    /// The sum.
    pub fn add(&self, other: &Number) -> Number {
        self.combine(*other, Rational::checked_add, |a, b| a + b)
    }

    /// The difference.
    pub fn sub(&self, other: &Number) -> Number {
        self.combine(*other, Rational::checked_sub, |a, b| a - b)
    }

    /// The product.
    pub fn mul(&self, other: &Number) -> Number {
        self.combine(*other, Rational::checked_mul, |a, b| a * b)
    }

    /// The quotient; `None` for division by zero.
    pub fn div(&self, other: &Number) -> Option<Number> {
        if other.is_zero() {
            return None;
        }
        Some(self.combine(*other, Rational::checked_div, |a, b| a / b))
    }

    /// Minus this.
    pub fn neg(&self) -> Number {
        match self {
            Number::Exact(value) => value
                .checked_neg()
                .map_or(Number::Approx(-value.to_f64()), Number::Exact),
            Number::Approx(value) => Number::Approx(-value),
        }
    }

    /// The absolute value.
    pub fn abs(&self) -> Number {
        if self.to_f64() < 0.0 {
            self.neg()
        } else {
            *self
        }
    }

    /// A whole power; `None` for zero to a negative power.
    pub fn powi(&self, exponent: i32) -> Option<Number> {
        if self.is_zero() && exponent < 0 {
            return None;
        }
        if let Number::Exact(value) = self
            && let Some(result) = value.checked_pow(exponent)
        {
            return Some(Number::Exact(result));
        }
        Some(Number::Approx(self.to_f64().powi(exponent)))
    }

    /// The square root, exact where it can be; `None` below zero.
    pub fn sqrt(&self) -> Option<Number> {
        if self.to_f64() < 0.0 {
            return None;
        }
        if let Number::Exact(value) = self
            && let Some(root) = value.exact_sqrt()
        {
            return Some(Number::Exact(root));
        }
        Some(Number::Approx(self.to_f64().sqrt()))
    }

    /// The nearest number in binary floating point.
    pub fn to_f64(&self) -> f64 {
        match self {
            Number::Exact(value) => value.to_f64(),
            Number::Approx(value) => *value,
        }
    }

    /// True when no rounding has taken place.
    pub fn is_exact(&self) -> bool {
        matches!(self, Number::Exact(_))
    }

    /// True for zero.
    pub fn is_zero(&self) -> bool {
        match self {
            Number::Exact(value) => value.is_zero(),
            Number::Approx(value) => *value == 0.0,
        }
    }

    /// How this stands to another: exact when both are, else equal within [`TOLERANCE`].
    pub fn compare(&self, other: &Number) -> Ordering {
        if let (Number::Exact(a), Number::Exact(b)) = (self, other) {
            return a.compare(*b);
        }
        let (a, b) = (self.to_f64(), other.to_f64());
        if (a - b).abs() <= TOLERANCE * a.abs().max(b.abs()) {
            return Ordering::Equal;
        }
        a.total_cmp(&b)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_limit_met_exactly_is_met_after_a_root_too() {
        let three = Number::whole(3);
        let root = three.sqrt().unwrap();
        assert!(!root.is_exact());
        assert_eq!(root.mul(&root).compare(&three), Ordering::Equal);
        assert_eq!(
            Number::Exact(Rational::ratio(9, 4))
                .sqrt()
                .unwrap()
                .compare(&Number::Exact(Rational::ratio(3, 2))),
            Ordering::Equal
        );
    }

    #[test]
    fn overflow_falls_back_and_says_so() {
        let big = Number::Exact(Rational::parse("1e30").unwrap());
        let square = big.mul(&big);
        assert!(!square.is_exact());
        assert!((square.to_f64() - 1e60).abs() < 1e50);
    }
}
