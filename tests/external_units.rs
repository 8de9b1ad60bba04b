//! The unit table against an independent unit library.
//!
//! The comparison needs Python with the packages of `tests/external/requirements.txt`. The environment
//! variable `STAGEBOOK_PYTHON` names that interpreter; where it is not set the comparison is skipped, and
//! the output says so, because a newcomer's machine need not have Python at all.

use stagebook::quantity::{parse_unit, unit_definitions, unit_table_json};
use std::io::Write;
use std::process::{Command, Stdio};

#[test]
fn every_unit_agrees_with_an_outside_library() {
    let Some(python) = std::env::var_os("STAGEBOOK_PYTHON") else {
        println!(
            "skipped: STAGEBOOK_PYTHON is not set, so no unit was compared with the outside library"
        );
        return;
    };
    let script = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/external/units_against_pint.py"
    );
    let mut child = Command::new(&python)
        .arg(script)
        .env("PYTHONIOENCODING", "utf-8")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap_or_else(|error| {
            panic!("STAGEBOOK_PYTHON names {python:?}, which does not start: {error}")
        });
    let mut stdin = child
        .stdin
        .take()
        .expect("standard input was asked for above");
    // The script reads everything before it writes, so this can't block on a full output pipe.
    stdin
        .write_all(unit_table_json().as_bytes())
        .expect("the script reads the table");
    drop(stdin);
    let output = child.wait_with_output().expect("the script ends");
    let printed = String::from_utf8_lossy(&output.stdout);
    println!("{printed}");
    assert!(
        output.status.success(),
        "{printed}\n{}",
        String::from_utf8_lossy(&output.stderr)
    );
    let last = printed.lines().last().unwrap_or_default();
    assert!(
        last.ends_with(" passed, 0 failed"),
        "the last line does not sum up: {last:?}"
    );
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
