//! Intervals: limits, ranges and values with their tolerance.

use super::quantities::{Quantity, QuantityFault};
use std::cmp::Ordering;

/// One end of an interval.
#[derive(Clone, Copy, Debug)]
pub struct Edge {
    /// Where it lies.
    pub at: Quantity,
    /// The end itself does not belong to the interval.
    pub open: bool,
}

/// An interval; an end that is missing is unbounded.
#[derive(Clone, Debug, Default)]
pub struct Interval {
    /// Lower end.
    pub low: Option<Edge>,
    /// Upper end.
    pub high: Option<Edge>,
}

const fn closed(at: Quantity) -> Option<Edge> {
    Some(Edge { at, open: false })
}

const fn open(at: Quantity) -> Option<Edge> {
    Some(Edge { at, open: true })
}

impl Interval {
    /// One value and nothing else.
    pub fn exactly(value: Quantity) -> Interval {
        Interval {
            low: closed(value),
            high: closed(value),
        }
    }

    /// Up to and with a value.
    pub fn at_most(value: Quantity) -> Interval {
        Interval {
            low: None,
            high: closed(value),
        }
    }

    /// From and with a value.
    pub fn at_least(value: Quantity) -> Interval {
        Interval {
            low: closed(value),
            high: None,
        }
    }

    /// Below a value.
    pub fn below(value: Quantity) -> Interval {
        Interval {
            low: None,
            high: open(value),
        }
    }

    /// Above a value.
    pub fn above(value: Quantity) -> Interval {
        Interval {
            low: open(value),
            high: None,
        }
    }

    /// From and with one value to and with another.
    pub fn between(low: Quantity, high: Quantity) -> Interval {
        Interval {
            low: closed(low),
            high: closed(high),
        }
    }

    /// Around a value: `plus` above it and `minus` below it, both differences of its dimension.
    pub fn around(
        value: Quantity,
        plus: Quantity,
        minus: Quantity,
    ) -> Result<Interval, QuantityFault> {
        Ok(Interval::between(value.sub(&minus)?, value.add(&plus)?))
    }

    /// Whether a value lies inside.
    pub fn contains(&self, value: &Quantity) -> Result<bool, QuantityFault> {
        if let Some(low) = &self.low {
            let order = value.compare(&low.at)?;
            if order == Ordering::Less || low.open && order == Ordering::Equal {
                return Ok(false);
            }
        }
        if let Some(high) = &self.high {
            let order = value.compare(&high.at)?;
            if order == Ordering::Greater || high.open && order == Ordering::Equal {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Both ends moved inwards by a difference; what is missing stays unbounded.
    ///
    /// Source: JCGM 106:2012, 8.3.2 (acceptance interval with a guard band), from memory.
    pub fn drawn_in(&self, by: &Quantity) -> Result<Interval, QuantityFault> {
        let moved = |edge: &Edge, at: Quantity| Edge { at, ..*edge };
        let low = self.low.as_ref();
        let high = self.high.as_ref();
        Ok(Interval {
            low: low
                .map(|low| low.at.add(by).map(|at| moved(low, at)))
                .transpose()?,
            high: high
                .map(|high| high.at.sub(by).map(|at| moved(high, at)))
                .transpose()?,
        })
    }

    /// True when its ends have passed each other, so that no value lies inside.
    pub fn is_empty(&self) -> Result<bool, QuantityFault> {
        let (Some(low), Some(high)) = (&self.low, &self.high) else {
            return Ok(false);
        };
        Ok(match low.at.compare(&high.at)? {
            Ordering::Less => false,
            Ordering::Equal => low.open || high.open,
            Ordering::Greater => true,
        })
    }

    /// How far a value is from the nearest end: positive inside, negative outside. `None` when both ends
    /// are missing.
    pub fn margin(&self, value: &Quantity) -> Result<Option<Quantity>, QuantityFault> {
        let above = self
            .low
            .as_ref()
            .map(|low| value.sub(&low.at))
            .transpose()?;
        let below = self
            .high
            .as_ref()
            .map(|high| high.at.sub(value))
            .transpose()?;
        Ok(match (above, below) {
            (Some(above), Some(below)) => Some(if above.compare(&below)? == Ordering::Less {
                above
            } else {
                below
            }),
            (one, other) => one.or(other),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Rational, parse_unit};

    fn millimetres(value: i64) -> Quantity {
        Quantity::from_unit(Rational::whole(value), &parse_unit("mm").unwrap())
    }

    #[test]
    fn an_end_that_is_met_exactly_belongs_to_it() {
        let limit = Interval::around(millimetres(1612), millimetres(3), millimetres(0)).unwrap();
        assert_eq!(limit.contains(&millimetres(1615)), Ok(true));
        assert_eq!(limit.contains(&millimetres(1612)), Ok(true));
        assert_eq!(limit.contains(&millimetres(1616)), Ok(false));
        let margin = limit.margin(&millimetres(1616)).unwrap().unwrap();
        assert_eq!(margin.compare(&millimetres(-1)), Ok(Ordering::Equal));
    }

    #[test]
    fn drawn_in_at_each_end_that_it_has() {
        let limit = Interval::between(millimetres(10), millimetres(20));
        for (by, at, inside, empty) in [
            (4, 14, true, false),
            (4, 13, false, false),
            (4, 17, false, false),
            (5, 15, true, false),
            (6, 15, false, true),
        ] {
            let drawn = limit.drawn_in(&millimetres(by)).unwrap();
            assert_eq!(
                drawn.contains(&millimetres(at)),
                Ok(inside),
                "{at} drawn in by {by}"
            );
            assert_eq!(drawn.is_empty(), Ok(empty), "drawn in by {by}");
        }
        let upper = Interval::below(millimetres(20))
            .drawn_in(&millimetres(3))
            .unwrap();
        assert_eq!(upper.contains(&millimetres(16)), Ok(true));
        assert_eq!(upper.contains(&millimetres(17)), Ok(false));
        assert_eq!(upper.is_empty(), Ok(false));
    }
}
