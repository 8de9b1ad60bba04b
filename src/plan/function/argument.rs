//! What the functions share: matching argument types, taking arguments apart, giving results.

use super::{EvaluationFault, TypeFault};
use crate::physics::ZERO_CELSIUS;
use crate::physics::resistance::Conductor;
use crate::plan::kind::quantity_kind;
use crate::plan::types::Type;
use crate::plan::value::Value;
use crate::quantity::{Number, Quantity, Rational};

/// The type of a quantity of this kind; the kind is one of the language's.
pub(super) fn kind_type(kind: &str) -> Type {
    match quantity_kind(kind) {
        Some(found) => Type::Quantity {
            dimension: found.dimension,
            point: found.point,
        },
        None => Type::Unknown,
    }
}

/// The kind with its article, as it stands after "expected".
fn described(kind: &str) -> String {
    match kind {
        "ratio" | "number" => "a plain number or a ratio".to_owned(),
        "temperature" => "a temperature (a point on the scale, °C)".to_owned(),
        "temperature-rise" => "a temperature difference (K)".to_owned(),
        "name" => "a name or a quoted text".to_owned(),
        "conductor" => "copper, aluminium or a constant in K".to_owned(),
        _ => {
            let article = if kind.starts_with(['a', 'e', 'i', 'o', 'u']) {
                "an"
            } else {
                "a"
            };
            format!("{article} {}", kind.replace('-', " "))
        }
    }
}

/// Matches the arguments of a function that takes one quantity (or name) of a given kind in each place.
pub(super) fn fixed(types: &[Type], kinds: &[&str], result: &str) -> Result<Type, TypeFault> {
    same_count(types, kinds.len())?;
    for (index, (found, kind)) in types.iter().zip(kinds).enumerate() {
        let fits = match (*kind, found) {
            (_, Type::Unknown) | ("name" | "conductor", Type::Name | Type::Text) => true,
            ("conductor", found) => kind_type("temperature-rise") == *found,
            (kind, found) => kind_type(kind) == *found,
        };
        if !fits {
            return Err(fault(index, described(kind), found));
        }
    }
    Ok(if result == "yes-no" {
        Type::Truth
    } else {
        kind_type(result)
    })
}

/// Refuses a wrong number of arguments.
pub(super) fn same_count(types: &[Type], count: usize) -> Result<(), TypeFault> {
    if types.len() == count {
        return Ok(());
    }
    let noun = if count == 1 { "argument" } else { "arguments" };
    Err(TypeFault {
        argument: None,
        expected: format!("{count} {noun}"),
        found: types.len().to_string(),
    })
}

/// The fault of one argument.
pub(super) fn fault(index: usize, expected: impl Into<String>, found: &Type) -> TypeFault {
    TypeFault {
        argument: Some(index),
        expected: expected.into(),
        found: found.to_string(),
    }
}

/// The quantity in one place.
pub(super) fn quantity(values: &[Value], index: usize) -> Result<&Quantity, EvaluationFault> {
    match values.get(index) {
        Some(Value::Quantity(quantity)) => Ok(quantity),
        Some(_) => Err(EvaluationFault(
            "a value that is no single number".to_owned(),
        )),
        None => Err(EvaluationFault("a value is missing".to_owned())),
    }
}

/// The number in one place, in SI base units.
pub(super) fn number(values: &[Value], index: usize) -> Result<f64, EvaluationFault> {
    let number = quantity(values, index)?.value.to_f64();
    if number.is_finite() {
        Ok(number)
    } else {
        Err(no_number())
    }
}

/// The name or text in one place.
pub(super) fn word(values: &[Value], index: usize) -> Result<&str, EvaluationFault> {
    match values.get(index) {
        Some(Value::Name(word) | Value::Text(word)) => Ok(word),
        _ => Err(EvaluationFault("a value that is no name".to_owned())),
    }
}

/// The yes or no in one place.
pub(super) fn truth(values: &[Value], index: usize) -> Result<bool, EvaluationFault> {
    match values.get(index) {
        Some(Value::Truth(truth)) => Ok(*truth),
        _ => Err(EvaluationFault(
            "a value that is neither yes nor no".to_owned(),
        )),
    }
}

/// The temperature in one place, in degrees Celsius.
pub(super) fn celsius(values: &[Value], index: usize) -> Result<f64, EvaluationFault> {
    let kelvin = number(values, index)?;
    if kelvin < 0.0 {
        return Err(EvaluationFault(
            "a temperature below absolute zero".to_owned(),
        ));
    }
    Ok(kelvin - ZERO_CELSIUS)
}

/// The constant of the resistance law in one place (K): named by its material, or given.
pub(super) fn resistance_constant(values: &[Value], index: usize) -> Result<f64, EvaluationFault> {
    if matches!(values.get(index), Some(Value::Quantity(_))) {
        return number(values, index);
    }
    let name = word(values, index)?;
    Conductor::parse(name)
        .map(Conductor::temperature_constant)
        .ok_or_else(|| EvaluationFault(format!("expected copper or aluminium, found `{name}`")))
}

/// The numbers in one place: a list of quantities, in SI base units.
pub(super) fn numbers(values: &[Value], index: usize) -> Result<Vec<f64>, EvaluationFault> {
    match values.get(index) {
        Some(Value::List(items)) => (0..items.len()).map(|at| number(items, at)).collect(),
        _ => Err(EvaluationFault("a value that is no list".to_owned())),
    }
}

/// Matches a list of quantities of one kind in the first place and quantities in the others.
pub(super) fn list_first(types: &[Type], kinds: &[&str], result: &str) -> Result<Type, TypeFault> {
    same_count(types, kinds.len())?;
    match types.first() {
        Some(Type::List(element)) => {
            let mut alike = types.to_vec();
            alike[0] = (**element).clone();
            fixed(&alike, kinds, result)
        }
        Some(Type::Unknown) => fixed(types, kinds, result),
        Some(other) => Err(fault(
            0,
            format!("a list, each {}", described(kinds[0])),
            other,
        )),
        None => fixed(types, kinds, result),
    }
}

/// The number that a plain function works with: degrees Celsius for a temperature, the constant in kelvin for a
/// conductor, SI base units for anything else.
pub(super) fn scalar(values: &[Value], index: usize, kind: &str) -> Result<f64, EvaluationFault> {
    match kind {
        "temperature" => celsius(values, index),
        "conductor" => resistance_constant(values, index),
        _ => number(values, index),
    }
}

/// The result of a plain function: a temperature is computed in degrees Celsius.
pub(super) fn plain_result<E: std::fmt::Display>(
    kind: &str,
    result: Result<f64, E>,
) -> Result<Value, EvaluationFault> {
    match kind {
        "temperature" => temperature(result.map_err(|fault| EvaluationFault(fault.to_string()))?),
        _ => answer_of(kind, result),
    }
}

/// A function of single numbers: its parameters with their kinds and meanings, the kind of its result, and the
/// computation, which gives `Result<f64, Domain>`.
macro_rules! plain_function {
    (
        $name:ident = $text:literal in $subject:ident,
        [$($label:literal $argument:ident: $kind:literal = $what:literal),* $(,)?] -> $result:literal,
        $body:expr,
        $meaning:literal, $formula:literal, $source:literal, $example:literal $(,)?
    ) => {
        pub(super) static $name: $crate::plan::function::Function = $crate::plan::function::Function {
            name: $text,
            subject: $subject,
            parameters: $crate::plan::function::argument::parameters![$($label: $what),*],
            variadic: false,
            check: |types| $crate::plan::function::argument::fixed(types, &[$($kind),*], $result),
            evaluate: |values| {
                let mut places = 0..;
                $(let $argument = $crate::plan::function::argument::scalar(
                    values,
                    places.next().unwrap_or_default(),
                    $kind,
                )?;)*
                $crate::plan::function::argument::plain_result($result, $body)
            },
            meaning: $meaning,
            formula: $formula,
            source: $source,
            example: $example,
        };
    };
}
pub(super) use plain_function;

/// A temperature that was computed in degrees Celsius.
pub(super) fn temperature(celsius: f64) -> Result<Value, EvaluationFault> {
    answer("temperature", celsius + ZERO_CELSIUS)
}

/// A result in SI base units, of this kind.
pub(super) fn answer(kind: &str, number: f64) -> Result<Value, EvaluationFault> {
    if !number.is_finite() {
        return Err(no_number());
    }
    match kind_type(kind) {
        Type::Quantity { dimension, point } => Ok(Value::Quantity(Quantity {
            value: Number::Approx(number),
            dimension,
            point,
        })),
        _ => Err(EvaluationFault(format!("`{kind}` is no kind of quantity"))),
    }
}

/// The same, for a computation that may have no result.
pub(super) fn answer_of<E: std::fmt::Display>(
    kind: &str,
    result: Result<f64, E>,
) -> Result<Value, EvaluationFault> {
    match result {
        Ok(number) => answer(kind, number),
        Err(fault) => Err(EvaluationFault(fault.to_string())),
    }
}

/// A whole plain number.
pub(super) fn whole(count: usize) -> Quantity {
    Quantity::plain(Number::Exact(Rational::whole(
        i64::try_from(count).unwrap_or(i64::MAX),
    )))
}

pub(super) fn no_number() -> EvaluationFault {
    EvaluationFault("the result is no number: an argument is out of range".to_owned())
}

/// The parameters of a function, each with its meaning.
macro_rules! parameters {
    ($($name:literal: $meaning:literal),* $(,)?) => {
        &[$($crate::plan::function::Parameter { name: $name, meaning: $meaning }),*]
    };
}
pub(super) use parameters;

/// Values for tests.
#[cfg(test)]
pub(super) mod tested {
    use super::*;
    use crate::plan::function::find;
    use std::sync::Arc;

    /// "12.5 mm" as a value.
    pub fn q(text: &str) -> Value {
        let (digits, unit) = text.split_once(' ').unwrap_or((text, ""));
        let number = Rational::parse(digits.trim_start_matches('-'));
        let mut number = number.unwrap_or_else(|fault| panic!("{text}: {fault:?}"));
        if digits.starts_with('-') {
            number = number.checked_neg().unwrap_or(number);
        }
        if unit.is_empty() {
            return Value::Quantity(Quantity::plain(Number::Exact(number)));
        }
        let unit =
            crate::quantity::parse_unit(unit).unwrap_or_else(|fault| panic!("{text}: {fault:?}"));
        Value::Quantity(Quantity::from_unit(number, &unit))
    }

    /// A name as a value.
    pub fn name(word: &str) -> Value {
        Value::Name(Arc::from(word))
    }

    /// A list of quantities.
    pub fn list(items: &[&str]) -> Value {
        Value::List(items.iter().map(|item| q(item)).collect())
    }

    fn type_of(value: &Value) -> Type {
        match value {
            Value::Quantity(quantity) => Type::Quantity {
                dimension: quantity.dimension,
                point: quantity.point,
            },
            Value::Truth(_) => Type::Truth,
            Value::Name(_) => Type::Name,
            Value::Text(_) => Type::Text,
            Value::Moment(_) => Type::Moment,
            Value::Names(_) => Type::Names,
            Value::Interval(_) => Type::Unknown,
            Value::List(items) => {
                Type::List(Box::new(items.first().map_or(Type::Unknown, type_of)))
            }
            Value::Series(series) => series.value_type(),
        }
    }

    /// Checks and evaluates; the result must be of the type that the check promised.
    pub fn run(function: &str, values: &[Value]) -> Result<Value, String> {
        let function = find(function).unwrap_or_else(|| panic!("no function {function}"));
        let types: Vec<Type> = values.iter().map(type_of).collect();
        let promised = (function.check)(&types)
            .map_err(|fault| format!("expected {}, found {}", fault.expected, fault.found))?;
        let value = (function.evaluate)(values).map_err(|fault| fault.0)?;
        assert_eq!(type_of(&value), promised, "{}", function.name);
        Ok(value)
    }

    /// The result in a unit ("" for a plain number).
    pub fn result(function: &str, values: &[Value], unit: &str) -> f64 {
        match run(function, values) {
            Ok(Value::Quantity(quantity)) if unit.is_empty() => quantity.value.to_f64(),
            Ok(Value::Quantity(quantity)) => match crate::quantity::parse_unit(unit) {
                Ok(unit) => quantity.in_unit(&unit).to_f64(),
                Err(fault) => panic!("{unit}: {fault:?}"),
            },
            other => panic!("{function}: {other:?}"),
        }
    }

    /// Asserts that the result lies within `tolerance` of what is expected.
    pub fn near(function: &str, values: &[Value], unit: &str, expected: f64, tolerance: f64) {
        let found = result(function, values, unit);
        assert!(
            (found - expected).abs() <= tolerance,
            "{function}: expected {expected} {unit}, found {found}"
        );
    }

    /// The message of the fault that the call must give.
    pub fn refused(function: &str, values: &[Value]) -> String {
        match run(function, values) {
            Err(message) => message,
            Ok(value) => panic!("{function}: expected a fault, found {value:?}"),
        }
    }
}
