//! Values of expressions.

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

/// One column of a log over time.
#[derive(Clone, Debug)]
pub struct Series {
    /// Seconds since 1970-01-01 00:00 UTC, ascending.
    pub times: Arc<[i64]>,
    /// Values in SI base units, one for each time.
    pub values: Vec<Number>,
    /// Dimension of the values.
    pub dimension: Dimension,
    /// The values are points on a scale.
    pub point: bool,
}
