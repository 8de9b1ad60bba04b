//! Types of expressions, checked when a plan is opened and no unit is at hand.

use crate::quantity::Dimension;
use std::fmt;

/// The type of an expression's value.
#[derive(Clone, Debug, PartialEq)]
pub enum Type {
    /// A number with a dimension; `point` marks a point on the temperature scale.
    Quantity {
        /// Its dimension.
        dimension: Dimension,
        /// A point on a scale, not a difference.
        point: bool,
    },
    /// Yes or no.
    Truth,
    /// One name.
    Name,
    /// Free text.
    Text,
    /// A point in time.
    Moment,
    /// A list of names, as a design value.
    Names,
    /// A range with a lower and an upper end.
    Interval {
        /// Dimension of its ends.
        dimension: Dimension,
        /// Its ends are points on a scale.
        point: bool,
    },
    /// One value for each member of a set.
    List(Box<Type>),
    /// A log's column.
    Series {
        /// Dimension of its values.
        dimension: Dimension,
        /// Its values are points on a scale.
        point: bool,
        /// Dimension of what it runs over; `None` for time.
        over: Option<Dimension>,
    },
    /// After an error: fits everything, so that one mistake gives one finding.
    Unknown,
}

impl Type {
    /// A plain number.
    pub const NUMBER: Type = Type::Quantity {
        dimension: Dimension::NONE,
        point: false,
    };

    /// A quantity that is no point on a scale.
    pub fn quantity(dimension: Dimension) -> Type {
        Type::Quantity {
            dimension,
            point: false,
        }
    }

    /// A point on the temperature scale.
    pub fn temperature_point() -> Type {
        Type::Quantity {
            dimension: Dimension::TEMPERATURE,
            point: true,
        }
    }

    /// The type of its elements when it is a list, else itself.
    pub fn element(&self) -> &Type {
        match self {
            Type::List(element) => element,
            other => other,
        }
    }
}

impl fmt::Display for Type {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Type::Quantity { point: true, .. } => {
                out.write_str("a temperature (a point on the scale, °C)")
            }
            Type::Quantity { dimension, .. } if dimension.is_none() => {
                out.write_str("a plain number")
            }
            Type::Quantity { dimension, .. } => write!(out, "{dimension}"),
            Type::Truth => out.write_str("yes or no"),
            Type::Name => out.write_str("a name"),
            Type::Text => out.write_str("a text"),
            Type::Moment => out.write_str("a date or time"),
            Type::Names => out.write_str("a list of names"),
            Type::Interval { dimension, .. } if dimension.is_none() => {
                out.write_str("a range of plain numbers")
            }
            Type::Interval { dimension, .. } => write!(out, "a range of {dimension}"),
            Type::List(element) => write!(out, "a list of {element}"),
            Type::Series {
                dimension, over, ..
            } => {
                if dimension.is_none() {
                    out.write_str("a log column of plain numbers")?;
                } else {
                    write!(out, "a log column of {dimension}")?;
                }
                match over {
                    None => Ok(()),
                    Some(over) if over.is_none() => out.write_str(" over a plain number"),
                    Some(over) => write!(out, " over {over}"),
                }
            }
            Type::Unknown => out.write_str("something that could not be understood"),
        }
    }
}
