//! What the program says of itself is held against what it does: the examples of functions give the
//! results they claim, and every name that the pages use is one that the program knows.

use stagebook::finding::catalogue;
use stagebook::plan::function;
use stagebook::plan::kind::QUANTITY_KINDS;
use stagebook::quantity::{find_unit_definition, parse_unit, unit_definitions};
use stagebook::verdict::calculate;

#[test]
fn each_function_with_a_result_in_its_example_gives_that_result() {
    let mut calculated = 0;
    for function in function::all() {
        let Some((expression, result)) = function.example.split_once(" -> ") else {
            continue;
        };
        calculated += 1;
        match calculate(expression) {
            Ok(found) => assert_eq!(found, result, "{}: {expression}", function.name),
            Err((_, findings)) => {
                panic!("{}: {expression}: {}", function.name, findings[0].message)
            }
        }
    }
    assert!(
        calculated >= 40,
        "only {calculated} functions have an example with a result"
    );
}

#[test]
fn each_function_says_what_it_means_and_its_source() {
    for function in function::all() {
        for (what, text) in [("meaning", function.meaning), ("source", function.source)] {
            assert!(!text.is_empty(), "{} has no {what}", function.name);
        }
        for parameter in function.parameters {
            assert!(
                !parameter.meaning.is_empty(),
                "{}({})",
                function.name,
                parameter.name
            );
        }
    }
}

#[test]
fn a_word_means_one_thing_only_to_explain() {
    for rule in catalogue::all() {
        assert!(
            function::find(rule.name).is_none(),
            "{} is a rule and a function",
            rule.name
        );
        assert!(
            find_unit_definition(rule.name).is_none(),
            "{} is a rule and a unit",
            rule.name
        );
    }
}

#[test]
fn each_kind_suggests_a_unit_that_it_takes() {
    for kind in QUANTITY_KINDS
        .iter()
        .filter(|kind| !kind.example.is_empty())
    {
        let unit = parse_unit(kind.example).expect(kind.name);
        assert_eq!(unit.dimension, kind.dimension, "{}", kind.name);
    }
}

#[test]
fn each_conversion_factor_names_its_source() {
    for unit in unit_definitions() {
        let known = ["SI Brochure", "NIST SP 811", "IEC ", "definition"];
        assert!(
            known.iter().any(|source| unit.source.starts_with(source)),
            "{}: {}",
            unit.symbol,
            unit.source
        );
    }
}

#[test]
fn arithmetic_is_exact_where_a_verdict_hangs_on_it() {
    for (expression, result) in [
        ("0.1 kV + 0.2 kV <= 300 V", "yes"),
        ("0.1 kV + 0.2 kV = 300 V", "yes"),
        ("0.3 kV < 300 V", "no"),
        ("65 °C - 20 °C = 45 K", "yes"),
        ("20 °C + 45 K = 65 °C", "yes"),
        ("-40 °C = -40 °F", "yes"),
        ("0.1 + 0.2 = 0.3", "yes"),
        ("1 in = 25.4 mm", "yes"),
        ("100 mbar*l/s = 10 Pa*m^3/s", "yes"),
        ("sqrt(2) * sqrt(2) = 2", "yes"),
        ("-2^2 = -4", "yes"),
    ] {
        assert_eq!(
            calculate(expression).map_err(|(_, findings)| findings[0].message.clone()),
            Ok(result.to_owned()),
            "{expression}"
        );
    }
}
