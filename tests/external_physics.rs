//! The physics room against outside libraries.
//!
//! The comparison needs Python with the packages of `tests/external/requirements.txt`. The environment
//! variable `STAGEBOOK_PYTHON` names that interpreter; where it is not set the comparison is skipped, and
//! the output says so, because a newcomer's machine need not have Python at all.

mod common;

use stagebook::physics::outside::outside_check_rows;

#[test]
fn physics_agrees_with_outside_libraries() {
    common::outside_check("physics_against_libraries.py", &outside_check_rows());
}
