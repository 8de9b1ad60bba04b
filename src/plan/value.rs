//! Values of expressions.

use super::types::Type;
use crate::quantity::{Dimension, Interval, Number, Quantity};
use std::sync::Arc;

/// A value.
#[derive(Clone, Debug)]
pub enum Value {
    /// A number with a dimension.
    Quantity(Quantity),
    /// Yes or no.
    Truth(bool),
    /// One name.
    Name(Arc<str>),
    /// Free text.
    Text(Arc<str>),
    /// A point in time, in seconds since 1970-01-01 00:00 UTC.
    Moment(i64),
    /// A list of names.
    Names(Arc<[Arc<str>]>),
    /// A range or a value with its tolerance.
    Interval(Arc<Interval>),
    /// One value for each member of a set.
    List(Arc<[Value]>),
    /// A log's column.
    Series(Arc<Series>),
}

/// One column of a log.
#[derive(Clone, Debug)]
pub struct Series {
    /// What it runs over.
    pub axis: Axis,
    /// Values in SI base units, one for each point of the axis.
    pub values: Vec<Number>,
    /// Dimension of the values.
    pub dimension: Dimension,
    /// The values are points on a scale.
    pub point: bool,
}

/// What a log runs over.
#[derive(Clone, Debug)]
pub enum Axis {
    /// Seconds since 1970-01-01 00:00 UTC, ascending.
    Time(Arc<[i64]>),
    /// Another quantity, such as frequency.
    Quantity {
        /// In SI base units, strictly ascending.
        points: Arc<[Number]>,
        /// Their dimension.
        dimension: Dimension,
    },
}

impl Axis {
    /// The dimension that the type of the column names; `None` for time.
    pub fn over(&self) -> Option<Dimension> {
        match self {
            Axis::Time(_) => None,
            Axis::Quantity { dimension, .. } => Some(*dimension),
        }
    }
}

impl Series {
    /// Its times; none where it runs over something else.
    pub fn times(&self) -> &[i64] {
        match &self.axis {
            Axis::Time(times) => times,
            Axis::Quantity { .. } => &[],
        }
    }

    /// Its type.
    pub fn value_type(&self) -> Type {
        Type::Series {
            dimension: self.dimension,
            point: self.point,
            over: self.axis.over(),
        }
    }
}
