//! Quantities: exact numbers, dimensions, units, tolerances, dates. Nothing of the trade.

mod dimension;
mod format;
mod interval;
pub mod moment;
mod number;
mod quantities;
mod rational;
mod uncertainty;
mod unit;
mod unit_table;

pub use dimension::Dimension;
pub use format::{default_unit, format_in, format_number, format_readable};
pub use interval::{Edge, Interval};
pub use number::{Number, TOLERANCE};
pub use quantities::{Quantity, QuantityFault};
pub use rational::{NumberFault, Rational};
pub use uncertainty::{Accuracy, AccuracyTerm, COVERAGE, full_scale};
pub use unit::{Unit, UnitFault, find_unit_definition, parse_unit, unit_table_json};
pub use unit_table::{Prefix, Tag, UnitDefinition, prefixes, unit_definitions};
