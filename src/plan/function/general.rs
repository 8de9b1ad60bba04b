//! Functions of single values; a list is worked through element by element.

use super::argument::{fault, no_number, parameters, same_count, word};
use super::{EvaluationFault, Function, TypeFault};
use crate::plan::types::Type;
use crate::plan::value::Value;
use crate::quantity::{Number, Quantity, Rational, TOLERANCE};

const SUBJECT: &str = "numbers";

pub(super) static ABS: Function = Function {
    name: "abs",
    subject: SUBJECT,
    parameters: parameters!["x": "a quantity, or a list"],
    variadic: false,
    check: |types| {
        map_type(types, |ty| match ty {
            Type::Quantity { point: false, .. } => Ok(ty.clone()),
            _ => Err("a quantity that is no point on a scale"),
        })
    },
    evaluate: |values| {
        map(values, |quantity| {
            quantity
                .abs()
                .map_err(|fault| EvaluationFault(fault.to_string()))
        })
    },
    meaning: "The amount without its sign.",
    formula: "|x|",
    source: "arithmetic",
    example: "abs(-3.2 mm) -> 3.2 mm",
};

pub(super) static SQRT: Function = Function {
    name: "sqrt",
    subject: SUBJECT,
    parameters: parameters!["x": "a quantity that is not negative, or a list"],
    variadic: false,
    check: |types| {
        map_type(types, |ty| match ty {
            Type::Quantity {
                dimension,
                point: false,
            } => dimension
                .root(2)
                .map(Type::quantity)
                .ok_or("a quantity whose square root has a dimension"),
            _ => Err("a quantity that is no point on a scale"),
        })
    },
    evaluate: |values| {
        map(values, |quantity| {
            if quantity.value.to_f64() < 0.0 {
                return Err(EvaluationFault(
                    "the square root of a negative number".to_owned(),
                ));
            }
            quantity
                .sqrt()
                .map_err(|fault| EvaluationFault(fault.to_string()))
        })
    },
    meaning: "The square root; exact when it comes out even.",
    formula: "x^(1/2)",
    source: "arithmetic",
    example: "sqrt(6.25) -> 2.5",
};

pub(super) static EXP: Function = Function {
    name: "exp",
    subject: SUBJECT,
    parameters: parameters!["x": "a plain number, or a list"],
    variadic: false,
    check: plain_type,
    evaluate: |values| real(values, f64::exp),
    meaning: "The exponential function.",
    formula: "e^x",
    source: "arithmetic",
    example: "exp(-1) -> 0.367879",
};

pub(super) static LN: Function = Function {
    name: "ln",
    subject: SUBJECT,
    parameters: parameters!["x": "a plain number above zero, or a list"],
    variadic: false,
    check: plain_type,
    evaluate: |values| logarithm(values, f64::ln),
    meaning: "The natural logarithm.",
    formula: "ln x",
    source: "arithmetic",
    example: "ln(10) -> 2.30259",
};

pub(super) static LG: Function = Function {
    name: "lg",
    subject: SUBJECT,
    parameters: parameters!["x": "a plain number above zero, or a list"],
    variadic: false,
    check: plain_type,
    evaluate: |values| logarithm(values, f64::log10),
    meaning: "The logarithm to base 10.",
    formula: "lg x",
    source: "arithmetic",
    example: "lg(1000) -> 3",
};

pub(super) static ROUND: Function = Function {
    name: "round",
    subject: SUBJECT,
    parameters: parameters!["x": "a plain number, or a list"],
    variadic: false,
    check: plain_type,
    evaluate: |values| map(values, |quantity| Ok(to_whole(quantity, Rounding::Nearest))),
    meaning: "The nearest whole number; halves go away from zero.",
    formula: "",
    source: "arithmetic",
    example: "round(-2.5) -> -3",
};

pub(super) static FLOOR: Function = Function {
    name: "floor",
    subject: SUBJECT,
    parameters: parameters!["x": "a plain number, or a list"],
    variadic: false,
    check: plain_type,
    evaluate: |values| map(values, |quantity| Ok(to_whole(quantity, Rounding::Down))),
    meaning: "The largest whole number that is not above x.",
    formula: "",
    source: "arithmetic",
    example: "floor(398.59) -> 398",
};

pub(super) static CEIL: Function = Function {
    name: "ceil",
    subject: SUBJECT,
    parameters: parameters!["x": "a plain number, or a list"],
    variadic: false,
    check: plain_type,
    evaluate: |values| map(values, |quantity| Ok(to_whole(quantity, Rounding::Up))),
    meaning: "The smallest whole number that is not below x.",
    formula: "",
    source: "arithmetic",
    example: "ceil(398.59) -> 399",
};

pub(super) static ALL: Function = Function {
    name: "all",
    subject: "yes and no",
    parameters: parameters!["list": "answers yes or no, as a list or one by one"],
    variadic: true,
    check: truth_types,
    evaluate: |values| Ok(Value::Truth(truths(values)?.into_iter().all(|truth| truth))),
    meaning: "Yes when every answer is yes.",
    formula: "",
    source: "logic",
    example: "require all(duct-width[oil-1, *] >= 6 mm)",
};

pub(super) static ANY: Function = Function {
    name: "any",
    subject: "yes and no",
    parameters: parameters!["list": "answers yes or no, as a list or one by one"],
    variadic: true,
    check: truth_types,
    evaluate: |values| Ok(Value::Truth(truths(values)?.into_iter().any(|truth| truth))),
    meaning: "Yes when at least one answer is yes.",
    formula: "",
    source: "logic",
    example: "require not any(gas-after[*] > 20 ul/l)",
};

pub(super) static HAS: Function = Function {
    name: "has",
    subject: "yes and no",
    parameters: parameters!["names": "a design value that is a list of names", "name": "one name"],
    variadic: false,
    check: |types| {
        same_count(types, 2)?;
        if types[0] != Type::Names {
            return Err(fault(0, "a list of names", &types[0]));
        }
        if !matches!(types[1], Type::Name | Type::Text) {
            return Err(fault(1, "a name", &types[1]));
        }
        Ok(Type::Truth)
    },
    evaluate: |values| {
        let name = word(values, 1)?;
        match values.first() {
            Some(Value::Names(names)) => {
                Ok(Value::Truth(names.iter().any(|member| **member == *name)))
            }
            _ => Err(EvaluationFault(
                "a value that is no list of names".to_owned(),
            )),
        }
    },
    meaning: "Yes when the name stands in the list.",
    formula: "",
    source: "logic",
    example: "when has(design.windings, tertiary)",
};

pub(super) static RECORDED: Function = Function {
    name: "recorded",
    subject: "yes and no",
    parameters: parameters!["x": "a reading or a design value"],
    variadic: false,
    check: |types| same_count(types, 1).map(|()| Type::Truth),
    evaluate: |_| {
        Err(EvaluationFault(
            "only a unit's record can tell what is recorded".to_owned(),
        ))
    },
    meaning: "Yes when the record or the design issue holds the value.",
    formula: "",
    source: "the record",
    example: "when recorded(design.guaranteed-load-loss)",
};

pub(super) static FIRST_OF_LOT: Function = Function {
    name: "first-of-lot",
    subject: "yes and no",
    parameters: &[],
    variadic: false,
    check: |types| same_count(types, 0).map(|()| Type::Truth),
    evaluate: |_| {
        Err(EvaluationFault(
            "only the register can tell which unit is the first of its lot".to_owned(),
        ))
    },
    meaning: "Yes for unit 1 of a lot, and for a unit without a lot: type tests are made on it.",
    formula: "",
    source: "the register",
    example: "when first-of-lot()",
};

/// Types a function of one value that works through lists.
fn map_type(
    types: &[Type],
    rule: fn(&Type) -> Result<Type, &'static str>,
) -> Result<Type, TypeFault> {
    same_count(types, 1)?;
    element_type(&types[0], rule)
        .map_err(|expected| fault(0, format!("{expected}, or a list of such"), &types[0]))
}

fn element_type(
    ty: &Type,
    rule: fn(&Type) -> Result<Type, &'static str>,
) -> Result<Type, &'static str> {
    match ty {
        Type::Unknown => Ok(Type::Unknown),
        Type::List(element) => Ok(Type::List(Box::new(element_type(element, rule)?))),
        other => rule(other),
    }
}

fn plain_type(types: &[Type]) -> Result<Type, TypeFault> {
    map_type(types, |ty| {
        if *ty == Type::NUMBER {
            Ok(Type::NUMBER)
        } else {
            Err("a plain number")
        }
    })
}

/// Computes a function of one value that works through lists.
fn map(
    values: &[Value],
    rule: impl Fn(&Quantity) -> Result<Quantity, EvaluationFault>,
) -> Result<Value, EvaluationFault> {
    match values.first() {
        Some(value) => map_value(value, &rule),
        None => Err(EvaluationFault("a value is missing".to_owned())),
    }
}

fn map_value(
    value: &Value,
    rule: &impl Fn(&Quantity) -> Result<Quantity, EvaluationFault>,
) -> Result<Value, EvaluationFault> {
    match value {
        Value::Quantity(quantity) => rule(quantity).map(Value::Quantity),
        Value::List(items) => {
            let items: Result<Vec<Value>, _> =
                items.iter().map(|item| map_value(item, rule)).collect();
            Ok(Value::List(items?.into()))
        }
        _ => Err(EvaluationFault(
            "a value that is no single number".to_owned(),
        )),
    }
}

/// A function of a plain number.
fn real(values: &[Value], rule: fn(f64) -> f64) -> Result<Value, EvaluationFault> {
    map(values, |quantity| {
        let number = rule(quantity.value.to_f64());
        if number.is_finite() {
            Ok(Quantity::plain(Number::Approx(number)))
        } else {
            Err(no_number())
        }
    })
}

fn logarithm(values: &[Value], rule: fn(f64) -> f64) -> Result<Value, EvaluationFault> {
    map(values, |quantity| {
        let number = quantity.value.to_f64();
        if number > 0.0 {
            Ok(Quantity::plain(Number::Approx(rule(number))))
        } else {
            Err(EvaluationFault(
                "the logarithm of a number that is not above zero".to_owned(),
            ))
        }
    })
}

#[derive(Clone, Copy)]
enum Rounding {
    Nearest,
    Down,
    Up,
}

/// A whole number next to a plain number; one that is whole within the tolerance of comparisons is taken
/// as whole.
fn to_whole(quantity: &Quantity, rounding: Rounding) -> Quantity {
    let exact = match quantity.value {
        Number::Exact(rational) => whole_of(rational.numerator(), rational.denominator(), rounding),
        Number::Approx(_) => None,
    };
    let value = match exact.and_then(|whole| Rational::new(whole, 1)) {
        Some(whole) => Number::Exact(whole),
        None => {
            let number = quantity.value.to_f64();
            let nearest = number.round();
            let whole = match rounding {
                _ if (number - nearest).abs() <= TOLERANCE * number.abs() => nearest,
                Rounding::Nearest => nearest,
                Rounding::Down => number.floor(),
                Rounding::Up => number.ceil(),
            };
            if whole.abs() < 9e15 {
                Number::Exact(Rational::whole(whole as i64))
            } else {
                Number::Approx(whole)
            }
        }
    };
    Quantity { value, ..*quantity }
}

fn whole_of(numerator: i128, denominator: i128, rounding: Rounding) -> Option<i128> {
    match rounding {
        Rounding::Down => Some(numerator.div_euclid(denominator)),
        Rounding::Up => Some(-(numerator.checked_neg()?.div_euclid(denominator))),
        Rounding::Nearest => {
            let twice = numerator
                .checked_abs()?
                .checked_mul(2)?
                .checked_add(denominator)?;
            let amount = twice.div_euclid(denominator.checked_mul(2)?);
            Some(if numerator < 0 { -amount } else { amount })
        }
    }
}

fn truth_types(types: &[Type]) -> Result<Type, TypeFault> {
    if types.is_empty() {
        return Err(TypeFault {
            argument: None,
            expected: "at least 1 argument".to_owned(),
            found: "0".to_owned(),
        });
    }
    for (index, ty) in types.iter().enumerate() {
        let mut inner = ty;
        while let Type::List(element) = inner {
            inner = element;
        }
        if !matches!(inner, Type::Truth | Type::Unknown) {
            return Err(fault(index, "yes or no, or a list of such", ty));
        }
    }
    Ok(Type::Truth)
}

fn truths(values: &[Value]) -> Result<Vec<bool>, EvaluationFault> {
    let mut found = Vec::new();
    for value in values {
        match value {
            Value::Truth(truth) => found.push(*truth),
            Value::List(items) => found.extend(truths(items)?),
            _ => return Err(EvaluationFault("a value that is not yes or no".to_owned())),
        }
    }
    Ok(found)
}

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;
    use super::*;
    use std::sync::Arc;

    fn truth(value: Result<Value, String>) -> bool {
        matches!(value, Ok(Value::Truth(true)))
    }

    #[test]
    fn amounts_keep_their_unit_and_stay_exact() {
        near("abs", &[q("-3.2 mm")], "mm", 3.2, 0.0);
        match run("abs", &[list(&["-3 mm", "2 mm"])]) {
            Ok(Value::List(items)) => assert_eq!(items.len(), 2),
            other => panic!("{other:?}"),
        }
        assert!(matches!(run("sqrt", &[q("6.25")]), Ok(Value::Quantity(q)) if q.value.is_exact()));
        near("sqrt", &[q("4 mm^2")], "mm", 2.0, 1e-12);
        assert!(refused("sqrt", &[q("-1")]).contains("negative"));
    }

    #[test]
    fn a_temperature_has_no_amount_and_no_root() {
        for function in ["abs", "sqrt"] {
            let message = refused(function, &[q("-5 °C")]);
            assert!(
                message.starts_with("expected a quantity that is no point on a scale"),
                "{message}"
            );
            assert!(message.contains("found a temperature"), "{message}");
        }
    }

    #[test]
    fn exponentials_and_logarithms_take_plain_numbers() {
        near("exp", &[q("-1")], "", 0.367_879_441, 1e-9);
        near("ln", &[q("10")], "", std::f64::consts::LN_10, 1e-12);
        near("lg", &[q("1000")], "", 3.0, 1e-12);
        assert!(refused("ln", &[q("0")]).contains("not above zero"));
        assert!(refused("exp", &[q("1000")]).contains("no number"));
        assert!(refused("lg", &[q("1 mm")]).contains("expected a plain number"));
    }

    #[test]
    fn whole_numbers() {
        for (function, number, expected) in [
            ("round", "2.5", 3.0),
            ("round", "-2.5", -3.0),
            ("round", "2.49", 2.0),
            ("floor", "-0.1", -1.0),
            ("floor", "398.59", 398.0),
            ("ceil", "398.59", 399.0),
            ("ceil", "-0.5", 0.0),
            ("ceil", "7", 7.0),
        ] {
            near(function, &[q(number)], "", expected, 0.0);
        }
        let almost = Value::Quantity(Quantity::plain(Number::Approx(2.999_999_999_999_9)));
        near("floor", &[almost], "", 3.0, 0.0);
        assert!(refused("round", &[q("2.5 mm")]).contains("expected a plain number"));
    }

    #[test]
    fn yes_and_no() {
        let both = Value::List(Arc::from([Value::Truth(true), Value::Truth(false)]));
        assert!(!truth(run("all", std::slice::from_ref(&both))));
        assert!(truth(run("any", std::slice::from_ref(&both))));
        assert!(truth(run("all", &[Value::Truth(true), Value::Truth(true)])));
        assert!(refused("all", &[q("1")]).contains("expected yes or no"));
        let names = Value::Names(Arc::from([Arc::from("HV"), Arc::from("LV")]));
        assert!(truth(run("has", &[names.clone(), name("HV")])));
        assert!(!truth(run("has", &[names.clone(), name("MV")])));
        assert!(
            refused("has", &[name("HV"), name("HV")])
                .contains("expected a list of names, found a name")
        );
        assert!(refused("has", &[names, q("1")]).contains("expected a name, found a plain number"));
    }

    #[test]
    fn what_only_a_record_can_tell() {
        assert!(refused("recorded", &[q("1")]).contains("record"));
        assert!(refused("first-of-lot", &[]).contains("register"));
    }
}
