//! Exact rationals in 128 bits, reduced only when an operation would not fit otherwise.
//!
//! Literals have powers of ten below the line, so sums and comparisons of readings need no greatest
//! common divisor. Every operation is checked: `None` says that the exact result does not fit.

use std::cmp::Ordering;

/// A rational number; the denominator is positive.
#[derive(Clone, Copy, Debug)]
pub struct Rational {
    numerator: i128,
    denominator: i128,
}

/// Why a text is no number.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NumberFault {
    /// Not a decimal number.
    NotANumber,
    /// More digits or a larger exponent than is held exactly.
    TooLarge,
}

/// Powers of ten that fit.
const LARGEST_POWER: u32 = 37;

fn gcd(a: i128, b: i128) -> i128 {
    let (mut a, mut b) = (a.unsigned_abs(), b.unsigned_abs());
    while b != 0 {
        (a, b) = (b, a % b);
    }
    // The divisor of a positive denominator fits.
    i128::try_from(a).unwrap_or(1)
}

impl Rational {
    /// Zero.
    pub const ZERO: Rational = Rational {
        numerator: 0,
        denominator: 1,
    };
    /// One.
    pub const ONE: Rational = Rational {
        numerator: 1,
        denominator: 1,
    };

    /// A whole number.
    pub const fn whole(value: i64) -> Rational {
        Rational {
            numerator: value as i128,
            denominator: 1,
        }
    }

    /// A fraction of positive denominator known to fit; for tables of constants.
    pub const fn ratio(numerator: i128, denominator: i128) -> Rational {
        assert!(denominator > 0);
        Rational {
            numerator,
            denominator,
        }
    }

    /// A fraction; `None` for a zero denominator or where the sign does not fit.
    pub fn new(numerator: i128, denominator: i128) -> Option<Rational> {
        match denominator {
            0 => None,
            positive if positive > 0 => Some(Rational {
                numerator,
                denominator,
            }),
            negative => Some(Rational {
                numerator: numerator.checked_neg()?,
                denominator: negative.checked_neg()?,
            }),
        }
    }

    /// Reads an unsigned decimal number such as `412.6` or `1.2e-3`, exactly.
    pub fn parse(text: &str) -> Result<Rational, NumberFault> {
        let bytes = text.as_bytes();
        let mut at = 0;
        let mut mantissa: i128 = 0;
        let mut decimals: i64 = 0;
        let mut seen = false;
        let mut point = false;
        while let Some(byte) = bytes.get(at) {
            match byte {
                b'0'..=b'9' => {
                    seen = true;
                    // Zeros behind the last place that fits would change nothing but the fit.
                    mantissa = mantissa
                        .checked_mul(10)
                        .and_then(|value| value.checked_add(i128::from(byte - b'0')))
                        .ok_or(NumberFault::TooLarge)?;
                    if point {
                        decimals += 1;
                    }
                }
                b'.' if !point => point = true,
                b'e' | b'E' => break,
                _ => return Err(NumberFault::NotANumber),
            }
            at += 1;
        }
        if !seen {
            return Err(NumberFault::NotANumber);
        }
        let mut exponent = 0i64;
        if at < bytes.len() {
            let digits = &text[at + 1..];
            exponent = match digits.strip_prefix('+').unwrap_or(digits).parse::<i64>() {
                Ok(exponent) => exponent,
                Err(_)
                    if digits
                        .trim_start_matches(['+', '-'])
                        .bytes()
                        .all(|byte| byte.is_ascii_digit())
                        && digits.len() > 1 =>
                {
                    return Err(NumberFault::TooLarge);
                }
                Err(_) => return Err(NumberFault::NotANumber),
            };
        }
        if mantissa == 0 {
            return Ok(Rational::ZERO);
        }
        let shift = exponent
            .checked_sub(decimals)
            .ok_or(NumberFault::TooLarge)?;
        let power = u32::try_from(shift.unsigned_abs()).unwrap_or(u32::MAX);
        if power > LARGEST_POWER {
            return Err(NumberFault::TooLarge);
        }
        let scale = 10i128.pow(power);
        if shift >= 0 {
            let numerator = mantissa.checked_mul(scale).ok_or(NumberFault::TooLarge)?;
            Ok(Rational {
                numerator,
                denominator: 1,
            })
        } else {
            Ok(Rational {
                numerator: mantissa,
                denominator: scale,
            })
        }
    }

    /// In lowest terms.
    pub fn reduced(self) -> Rational {
        let divisor = gcd(self.numerator, self.denominator).max(1);
        Rational {
            numerator: self.numerator / divisor,
            denominator: self.denominator / divisor,
        }
    }

    /// Numerator in lowest terms.
    pub fn numerator(self) -> i128 {
        self.reduced().numerator
    }

    /// Denominator in lowest terms.
    pub fn denominator(self) -> i128 {
        self.reduced().denominator
    }

    /// Tries an operation as it stands, then with both operands in lowest terms.
    fn attempt(
        self,
        other: Rational,
        operation: fn(Rational, Rational) -> Option<Rational>,
    ) -> Option<Rational> {
        operation(self, other).or_else(|| operation(self.reduced(), other.reduced()))
    }

    /// The sum.
    pub fn checked_add(self, other: Rational) -> Option<Rational> {
        self.attempt(other, |a, b| {
            if a.denominator == b.denominator {
                return Some(Rational {
                    numerator: a.numerator.checked_add(b.numerator)?,
                    ..a
                });
            }
            if a.denominator % b.denominator == 0 {
                let scaled = b.numerator.checked_mul(a.denominator / b.denominator)?;
                return Some(Rational {
                    numerator: a.numerator.checked_add(scaled)?,
                    ..a
                });
            }
            if b.denominator % a.denominator == 0 {
                let scaled = a.numerator.checked_mul(b.denominator / a.denominator)?;
                return Some(Rational {
                    numerator: b.numerator.checked_add(scaled)?,
                    ..b
                });
            }
            let left = a.numerator.checked_mul(b.denominator)?;
            let right = b.numerator.checked_mul(a.denominator)?;
            Some(Rational {
                numerator: left.checked_add(right)?,
                denominator: a.denominator.checked_mul(b.denominator)?,
            })
        })
    }

    /// The difference.
    pub fn checked_sub(self, other: Rational) -> Option<Rational> {
        self.checked_add(other.checked_neg()?)
    }

    /// The product.
    pub fn checked_mul(self, other: Rational) -> Option<Rational> {
        self.attempt(other, |a, b| {
            Some(Rational {
                numerator: a.numerator.checked_mul(b.numerator)?,
                denominator: a.denominator.checked_mul(b.denominator)?,
            })
        })
        .or_else(|| {
            // Divide out across the fractions before multiplying.
            let (a, b) = (self.reduced(), other.reduced());
            let first = gcd(a.numerator, b.denominator).max(1);
            let second = gcd(b.numerator, a.denominator).max(1);
            Some(Rational {
                numerator: (a.numerator / first).checked_mul(b.numerator / second)?,
                denominator: (a.denominator / second).checked_mul(b.denominator / first)?,
            })
        })
    }

    /// The quotient; `None` for a zero divisor too.
    pub fn checked_div(self, other: Rational) -> Option<Rational> {
        let inverse = Rational::new(other.denominator, other.numerator)?;
        self.checked_mul(inverse)
    }

    /// Minus this.
    pub fn checked_neg(self) -> Option<Rational> {
        Some(Rational {
            numerator: self.numerator.checked_neg()?,
            ..self
        })
    }

    /// The absolute value.
    pub fn checked_abs(self) -> Option<Rational> {
        Some(Rational {
            numerator: self.numerator.checked_abs()?,
            ..self
        })
    }

    /// A whole power; `None` for zero to a negative power too.
    pub fn checked_pow(self, exponent: i32) -> Option<Rational> {
        let base = if exponent < 0 {
            Rational::ONE.checked_div(self)?
        } else {
            self
        };
        let mut result = Rational::ONE;
        for _ in 0..exponent.unsigned_abs().min(4096) {
            result = result.checked_mul(base)?;
        }
        Some(result)
    }

    /// How this stands to another; always exact.
    pub fn compare(self, other: Rational) -> Ordering {
        if self.denominator == other.denominator {
            return self.numerator.cmp(&other.numerator);
        }
        let left = self.numerator.checked_mul(other.denominator);
        let right = other.numerator.checked_mul(self.denominator);
        if let (Some(left), Some(right)) = (left, right) {
            return left.cmp(&right);
        }
        compare_by_expansion(self, other)
    }

    /// The nearest number in binary floating point, to about one unit in the last place.
    pub fn to_f64(self) -> f64 {
        const EXACT: i128 = 1 << 53;
        if self.numerator.abs() < EXACT && self.denominator < EXACT {
            return self.numerator as f64 / self.denominator as f64;
        }
        let whole = self.numerator / self.denominator;
        let rest = self.numerator % self.denominator;
        if whole == 0 {
            // Small numbers: the quotient of two correctly rounded numbers.
            return self.numerator as f64 / self.denominator as f64;
        }
        whole as f64 + rest as f64 / self.denominator as f64
    }

    /// The whole number that this is, if it is one.
    pub fn is_whole(self) -> Option<i128> {
        (self.numerator % self.denominator == 0).then(|| self.numerator / self.denominator)
    }

    /// True for zero.
    pub fn is_zero(self) -> bool {
        self.numerator == 0
    }

    /// The square root, where it is a rational that fits.
    pub fn exact_sqrt(self) -> Option<Rational> {
        let lowest = self.reduced();
        if lowest.numerator < 0 {
            return None;
        }
        let root = |value: i128| {
            let root = (value as u128).isqrt() as i128;
            (root.checked_mul(root)? == value).then_some(root)
        };
        Some(Rational {
            numerator: root(lowest.numerator)?,
            denominator: root(lowest.denominator)?,
        })
    }
}

/// Compares by the terms of the continued fractions, which need no product.
fn compare_by_expansion(left: Rational, right: Rational) -> Ordering {
    let (mut a, mut b) = (left, right);
    let mut flipped = false;
    loop {
        let (whole_a, whole_b) = (
            a.numerator.div_euclid(a.denominator),
            b.numerator.div_euclid(b.denominator),
        );
        if whole_a != whole_b {
            let order = whole_a.cmp(&whole_b);
            return if flipped { order.reverse() } else { order };
        }
        let rest_a = a.numerator.rem_euclid(a.denominator);
        let rest_b = b.numerator.rem_euclid(b.denominator);
        let order = match (rest_a, rest_b) {
            (0, 0) => Ordering::Equal,
            (0, _) => Ordering::Less,
            (_, 0) => Ordering::Greater,
            _ => {
                // rest/denominator turned over: the order turns too.
                a = Rational {
                    numerator: a.denominator,
                    denominator: rest_a,
                };
                b = Rational {
                    numerator: b.denominator,
                    denominator: rest_b,
                };
                flipped = !flipped;
                continue;
            }
        };
        return if flipped { order.reverse() } else { order };
    }
}

impl PartialEq for Rational {
    fn eq(&self, other: &Rational) -> bool {
        self.compare(*other) == Ordering::Equal
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn number(text: &str) -> Rational {
        Rational::parse(text).unwrap()
    }

    #[test]
    fn decimals_are_exact() {
        let sum = number("0.1").checked_add(number("0.2")).unwrap();
        assert_eq!(sum, number("0.3"));
        assert_eq!(number("1.2e-3"), Rational::ratio(12, 10_000));
    }

    #[test]
    fn what_does_not_fit_is_said() {
        assert_eq!(Rational::parse("1e999"), Err(NumberFault::TooLarge));
        assert_eq!(
            Rational::parse("1e99999999999999999999"),
            Err(NumberFault::TooLarge)
        );
        assert_eq!(Rational::parse("x"), Err(NumberFault::NotANumber));
        assert_eq!(Rational::parse(&"9".repeat(60)), Err(NumberFault::TooLarge));
        assert_eq!(number("1e30").checked_mul(number("1e30")), None);
    }

    #[test]
    fn comparison_is_exact_where_the_product_does_not_fit() {
        let a = Rational::ratio(i128::MAX - 1, i128::MAX);
        let b = Rational::ratio(i128::MAX - 2, i128::MAX - 1);
        assert_eq!(a.compare(b), Ordering::Greater);
        assert_eq!(b.compare(a), Ordering::Less);
        assert_eq!(a.compare(a), Ordering::Equal);
        let (minus_a, minus_b) = (a.checked_neg().unwrap(), b.checked_neg().unwrap());
        assert_eq!(minus_a.compare(minus_b), Ordering::Less);
    }

    #[test]
    fn arithmetic_agrees_with_small_fractions() {
        for a in -6i128..6 {
            for b in 1i128..6 {
                for c in -6i128..6 {
                    for d in 1i128..6 {
                        let (x, y) = (Rational::ratio(a, b), Rational::ratio(c, d));
                        assert_eq!(x.checked_add(y), Rational::new(a * d + c * b, b * d));
                        assert_eq!(x.checked_mul(y), Rational::new(a * c, b * d));
                        assert_eq!(x.compare(y), (a * d).cmp(&(c * b)));
                        assert_eq!(compare_by_expansion(x, y), (a * d).cmp(&(c * b)));
                    }
                }
            }
        }
    }
}
