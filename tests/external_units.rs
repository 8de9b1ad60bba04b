//! The unit table against an independent unit library.
//!
//! The comparison needs Python with the packages of `tests/external/requirements.txt`. The environment
//! variable `STAGEBOOK_PYTHON` names that interpreter; where it is not set the comparison is skipped, and
//! the output says so, because a newcomer's machine need not have Python at all.

mod common;

use stagebook::quantity::{parse_unit, unit_definitions, unit_table_json};

#[test]
fn every_unit_agrees_with_an_outside_library() {
    common::outside_check("units_against_pint.py", &unit_table_json());
}

/// The table skips what its own parser can't read back; without this test such a unit would go
/// uncompared and unnoticed.
#[test]
fn every_unit_and_alias_reaches_the_table_that_is_compared() {
    let table: serde_json::Value =
        serde_json::from_str(&unit_table_json()).expect("the table is JSON");
    let rows = table.as_array().expect("the table is a list");
    for definition in unit_definitions() {
        for symbol in std::iter::once(&definition.symbol).chain(definition.aliases) {
            assert!(
                rows.iter().any(|row| row["symbol"] == *symbol),
                "{symbol} is not in the table"
            );
            let unit = parse_unit(symbol).unwrap_or_else(|fault| panic!("{symbol}: {fault:?}"));
            assert_eq!(
                unit.factor, definition.factor,
                "{symbol} is read as another unit"
            );
            assert_eq!(
                unit.dimension, definition.dimension,
                "{symbol} is read as another unit"
            );
        }
    }
}
