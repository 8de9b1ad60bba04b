//! Uncertainties carried through calculated values, against the library `uncertainties`.
//!
//! Each case is a guarded check that is kept by a hair, so that the finding tells the uncertainty of the calculated
//! value. The script computes it from the same readings and statements by its own formula and by differentiation.
//! Needs `STAGEBOOK_PYTHON`, see `external_physics.rs`.

mod common;

use common::Small;
use std::fmt::Write;

/// One input: the reading's name, kind and value, the instrument, and its statement as share of the reading, amount
/// in SI base units and coverage factor (0 for limits of error). A condition stands behind `at`.
struct Input {
    name: &'static str,
    kind: &'static str,
    value: &'static str,
    share: f64,
    amount: f64,
    k: f64,
    written: &'static str,
    at: Option<(&'static str, &'static str, f64)>,
}

const fn input(
    name: &'static str,
    kind: &'static str,
    value: &'static str,
    statement: (f64, f64, f64),
    written: &'static str,
) -> Input {
    Input {
        name,
        kind,
        value,
        share: statement.0,
        amount: statement.1,
        k: statement.2,
        written,
        at: None,
    }
}

/// A case of the script, its inputs, and what the check requires.
struct Case {
    name: &'static str,
    inputs: Vec<Input>,
    calcs: &'static str,
    require: &'static str,
}

const RATIO: (f64, f64, f64) = (0.0005, 0.0, 2.0);
const OHMS: (f64, f64, f64) = (0.001, 1e-5, 2.0);
const WATTS: (f64, f64, f64) = (0.005, 0.0, 2.0);
const LIMITS: (f64, f64, f64) = (0.002, 0.0, 0.0);
const OHMS_WRITTEN: &str = "0.1 % of reading + 0.01 mohm k = 2";

fn cases() -> Vec<Case> {
    let ohms = |name, value| input(name, "resistance", value, OHMS, OHMS_WRITTEN);
    let at = |mut input: Input, value, kelvin: f64| {
        input.at = Some(("temperature", value, kelvin));
        input
    };
    let watts = |name, value| input(name, "power", value, WATTS, "0.5 % of reading k = 2");
    vec![
        Case {
            name: "deviation",
            inputs: vec![input(
                "r",
                "ratio",
                "3.4946",
                RATIO,
                "0.05 % of reading k = 2",
            )],
            calcs: "calc y = abs(r / 3.485 - 1)",
            require: "y <= 0.2755 %",
        },
        Case {
            name: "resistance",
            inputs: vec![at(ohms("r", "589.2 mohm"), "22.4 °C", 0.5)],
            calcs: "calc y = resistance-at(r, r.temperature, 75 °C, \"copper\")",
            require: "y <= 709.61 mohm",
        },
        Case {
            name: "spread",
            inputs: vec![
                ohms("a", "410 mohm"),
                ohms("b", "412 mohm"),
                ohms("c", "415 mohm"),
            ],
            calcs: "calc y = spread(a, b, c)",
            require: "y <= 1.2127 %",
        },
        Case {
            name: "load-loss",
            inputs: vec![
                watts("p", "157.959 kW"),
                at(ohms("r", "589.2 mohm"), "22.4 °C", 0.5),
            ],
            calcs: "calc i2r = 3 * r * (210 A)^2\n  calc y = load-loss-at(p, i2r, r.temperature, 75 °C, \"copper\")",
            require: "y >= 160.3 kW",
        },
        Case {
            name: "impedance",
            inputs: vec![
                input(
                    "z",
                    "impedance-voltage",
                    "11.974 %",
                    LIMITS,
                    "0.2 % of reading",
                ),
                watts("p", "157.959 kW"),
                watts("q", "180.489 kW"),
            ],
            calcs: "calc y = impedance-at(z, p, q, 40 MVA)",
            require: "y in 11.9 % .. 11.9761 %",
        },
        Case {
            name: "efficiency",
            inputs: vec![watts("p", "22.176 kW"), watts("q", "180.489 kW")],
            calcs: "calc y = efficiency(p, q, 1, 40 MVA, 0.8)",
            require: "99.37 % <= y",
        },
        Case {
            name: "shared",
            inputs: vec![ohms("a", "410 mohm"), ohms("b", "412 mohm")],
            calcs: "calc m = (a + b) / 2\n  calc y = a / m + 2 * m / b",
            require: "y <= 2.9928",
        },
    ]
}

/// What the tool says of a case: the expanded uncertainty in SI base units.
fn told(case: &Case) -> f64 {
    let mut readings = String::new();
    let mut register = "register bench\n".to_owned();
    let mut record = String::new();
    for (index, input) in case.inputs.iter().enumerate() {
        let given = input
            .at
            .map_or(String::new(), |(kind, ..)| format!(" given {kind}"));
        writeln!(readings, "  reading {} : {}{given}", input.name, input.kind).expect("a text");
        if let Some((kind, _, kelvin)) = input.at {
            writeln!(readings, "    uncertainty {kelvin} K for {kind}").expect("a text");
        }
        write!(
            register,
            "\ninstrument I-{index} \"instrument\"\n  measures {}\n  accuracy {}\n  calibrated 2026-01-01 due 2027-01-01 certificate \"C\"\n",
            input.kind, input.written
        )
        .expect("a text");
        let at = input
            .at
            .map_or(String::new(), |(_, at, _)| format!(" at {at}"));
        writeln!(
            record,
            "  {} = {}{at} with I-{index}",
            input.name, input.value
        )
        .expect("a text");
    }
    let plan = format!(
        "plan p rev A\nrole test\nstage s\n{readings}  {}\n  check held\n    require {}\n    source works \"w\"\n    decide guarded\n",
        case.calcs, case.require
    );
    let unit =
        format!("unit KFT-0500-1\n  plan p\n  register bench\nstage s\n  on 2026-02-02\n{record}");
    let came = Small::new(&[&plan, &register]).judge(&unit);
    let finding = came.the("not-proven");
    let reasoning = finding.reasoning.as_deref().expect("it has its reasons");
    let uncertainty = reasoning.uncertainty.as_ref().expect("it is guarded");
    assert_eq!(
        uncertainty.contributions.len(),
        case.inputs.len()
            + case
                .inputs
                .iter()
                .filter(|input| input.at.is_some())
                .count(),
        "{}: {uncertainty:#?}",
        case.name
    );
    in_base(uncertainty.expanded.as_deref().expect("it is known"))
}

/// A written quantity in SI base units; a temperature on the scale in kelvin.
fn in_base(text: &str) -> f64 {
    match stagebook::verdict::calculate_value(text) {
        Ok(stagebook::plan::value::Value::Quantity(quantity)) => quantity.value.to_f64(),
        other => panic!("{text}: {other:?}"),
    }
}

#[test]
fn uncertainties_are_carried_through_as_another_library_does() {
    let mut rows = String::new();
    for case in cases() {
        write!(rows, "{}\t{:e}", case.name, told(&case)).expect("a text");
        for input in &case.inputs {
            let value = in_base(input.value);
            write!(
                rows,
                "\t{value:e}:{}:{:e}:{}",
                input.share, input.amount, input.k
            )
            .expect("a text");
            if let Some((_, at, kelvin)) = input.at {
                // A limit of error in kelvin.
                write!(rows, "\t{:e}:0:{kelvin:e}:0", in_base(at)).expect("a text");
            }
        }
        rows.push('\n');
    }
    common::outside_check("uncertainty_against_library.py", &rows);
}
