//! A number with its dimension, in SI base units.

use super::dimension::Dimension;
use super::number::Number;
use super::rational::Rational;
use super::unit::Unit;
use std::cmp::Ordering;
use std::fmt;

/// A number with a dimension, in SI base units.
#[derive(Clone, Copy, Debug)]
pub struct Quantity {
    /// In SI base units; a point on the temperature scale in kelvin.
    pub value: Number,
    /// Its dimension.
    pub dimension: Dimension,
    /// A point on the temperature scale, not a difference.
    pub point: bool,
}

/// Why an operation has no result.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum QuantityFault {
    /// Two dimensions that do not go together.
    Dimensions(Dimension, Dimension),
    /// Two points on the temperature scale were added.
    TwoPoints,
    /// A point on the temperature scale was multiplied.
    ScaledPoint,
    /// Division by zero.
    DivisionByZero,
    /// The square root of a negative number.
    NegativeRoot,
}

impl fmt::Display for QuantityFault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            QuantityFault::Dimensions(left, right) => {
                write!(out, "{left} and {right} do not go together")
            }
            QuantityFault::TwoPoints => {
                out.write_str("two temperatures on the scale cannot be added")
            }
            QuantityFault::ScaledPoint => {
                out.write_str("a temperature on the scale cannot be multiplied")
            }
            QuantityFault::DivisionByZero => out.write_str("division by zero"),
            QuantityFault::NegativeRoot => out.write_str("the square root of a negative number"),
        }
    }
}

impl Quantity {
    /// A number read in a unit.
    pub fn from_unit(number: Rational, unit: &Unit) -> Quantity {
        let factor = Number::Exact(unit.factor);
        let scaled = Number::Exact(number).mul(&factor);
        let value = match unit.offset {
            Some(offset) => scaled.add(&Number::Exact(offset)),
            None => scaled,
        };
        Quantity {
            value,
            dimension: unit.dimension,
            point: unit.offset.is_some(),
        }
    }

    /// A plain number.
    pub fn plain(value: Number) -> Quantity {
        Quantity {
            value,
            dimension: Dimension::NONE,
            point: false,
        }
    }

    /// A number of SI base units of a dimension.
    pub fn si(value: f64, dimension: Dimension) -> Quantity {
        Quantity {
            value: Number::Approx(value),
            dimension,
            point: false,
        }
    }

    /// The number of units that this is.
    pub fn in_unit(&self, unit: &Unit) -> Number {
        let shifted = match unit.offset {
            Some(offset) if self.point => self.value.sub(&Number::Exact(offset)),
            _ => self.value,
        };
        shifted.div(&Number::Exact(unit.factor)).unwrap_or(shifted)
    }

    fn same_dimension(&self, other: &Quantity) -> Result<(), QuantityFault> {
        if self.dimension == other.dimension {
            Ok(())
        } else {
            Err(QuantityFault::Dimensions(self.dimension, other.dimension))
        }
    }

    /// The sum; a point and a difference give a point.
    pub fn add(&self, other: &Quantity) -> Result<Quantity, QuantityFault> {
        self.same_dimension(other)?;
        if self.point && other.point {
            return Err(QuantityFault::TwoPoints);
        }
        let value = self.value.add(&other.value);
        Ok(Quantity {
            value,
            dimension: self.dimension,
            point: self.point || other.point,
        })
    }

    /// The difference; two points give a difference.
    pub fn sub(&self, other: &Quantity) -> Result<Quantity, QuantityFault> {
        self.same_dimension(other)?;
        if !self.point && other.point {
            return Err(QuantityFault::TwoPoints);
        }
        let value = self.value.sub(&other.value);
        Ok(Quantity {
            value,
            dimension: self.dimension,
            point: self.point && !other.point,
        })
    }

    /// The product.
    pub fn mul(&self, other: &Quantity) -> Result<Quantity, QuantityFault> {
        if self.point || other.point {
            return Err(QuantityFault::ScaledPoint);
        }
        let dimension = self.dimension.mul(other.dimension);
        Ok(Quantity {
            value: self.value.mul(&other.value),
            dimension,
            point: false,
        })
    }

    /// The quotient.
    pub fn div(&self, other: &Quantity) -> Result<Quantity, QuantityFault> {
        if self.point || other.point {
            return Err(QuantityFault::ScaledPoint);
        }
        let value = self
            .value
            .div(&other.value)
            .ok_or(QuantityFault::DivisionByZero)?;
        Ok(Quantity {
            value,
            dimension: self.dimension.div(other.dimension),
            point: false,
        })
    }

    /// Minus this; points have no opposite.
    pub fn neg(&self) -> Result<Quantity, QuantityFault> {
        if self.point {
            return Err(QuantityFault::ScaledPoint);
        }
        Ok(Quantity {
            value: self.value.neg(),
            ..*self
        })
    }

    /// The absolute value.
    pub fn abs(&self) -> Result<Quantity, QuantityFault> {
        if self.point {
            return Err(QuantityFault::ScaledPoint);
        }
        Ok(Quantity {
            value: self.value.abs(),
            ..*self
        })
    }

    /// A whole power.
    pub fn powi(&self, exponent: i32) -> Result<Quantity, QuantityFault> {
        if self.point {
            return Err(QuantityFault::ScaledPoint);
        }
        let value = self
            .value
            .powi(exponent)
            .ok_or(QuantityFault::DivisionByZero)?;
        Ok(Quantity {
            value,
            dimension: self.dimension.powi(exponent),
            point: false,
        })
    }

    /// The square root.
    pub fn sqrt(&self) -> Result<Quantity, QuantityFault> {
        if self.point {
            return Err(QuantityFault::ScaledPoint);
        }
        let value = self.value.sqrt().ok_or(QuantityFault::NegativeRoot)?;
        let dimension = self
            .dimension
            .root(2)
            .ok_or(QuantityFault::Dimensions(self.dimension, self.dimension))?;
        Ok(Quantity {
            value,
            dimension,
            point: false,
        })
    }

    /// How this stands to another of the same dimension.
    pub fn compare(&self, other: &Quantity) -> Result<Ordering, QuantityFault> {
        self.same_dimension(other)?;
        if self.point != other.point {
            return Err(QuantityFault::TwoPoints);
        }
        Ok(self.value.compare(&other.value))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::parse_unit;

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

    #[test]
    fn a_sum_of_readings_meets_its_limit_exactly() {
        let sum = quantity("0.1", "kV").add(&quantity("0.2", "kV")).unwrap();
        assert_eq!(sum.compare(&quantity("300", "V")), Ok(Ordering::Equal));
    }

    #[test]
    fn temperatures_are_points_and_differences() {
        let rise = quantity("65", "°C").sub(&quantity("20", "°C")).unwrap();
        assert!(!rise.point);
        assert_eq!(rise.compare(&quantity("45", "K")), Ok(Ordering::Equal));
        assert_eq!(
            quantity("65", "°C").add(&quantity("20", "°C")).unwrap_err(),
            QuantityFault::TwoPoints
        );
        let back = quantity("20", "°C").add(&quantity("45", "K")).unwrap();
        assert_eq!(back.compare(&quantity("149", "°F")), Ok(Ordering::Equal));
        assert_eq!(
            quantity("-40", "°C").compare(&quantity("-40", "°F")),
            Ok(Ordering::Equal)
        );
    }
}
