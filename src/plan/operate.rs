//! Operators on values. Types were checked when the plan was opened, so a mismatch here can only come
//! from a design value whose tolerance has no single number; it is reported as such.

use super::expression::Operator;
use super::model::Comparison;
use super::value::Value;
use crate::quantity::{Number, Quantity, Rational};
use std::cmp::Ordering;
use std::sync::Arc;

/// Why an operation has no result.
pub type Fault = String;

/// Applies an arithmetic operator; a list on either side is worked through element by element.
pub fn arithmetic(operator: Operator, left: &Value, right: &Value) -> Result<Value, Fault> {
    match (left, right) {
        (Value::List(items), _) => {
            if let Value::List(others) = right {
                if items.len() != others.len() {
                    return Err("two lists of different length".to_owned());
                }
                let pairs = items.iter().zip(others.iter());
                return pairs
                    .map(|(a, b)| arithmetic(operator, a, b))
                    .collect::<Result<Vec<_>, _>>()
                    .map(list);
            }
            items
                .iter()
                .map(|item| arithmetic(operator, item, right))
                .collect::<Result<Vec<_>, _>>()
                .map(list)
        }
        (_, Value::List(items)) => items
            .iter()
            .map(|item| arithmetic(operator, left, item))
            .collect::<Result<Vec<_>, _>>()
            .map(list),
        (Value::Quantity(a), Value::Quantity(b)) => quantities(operator, a, b).map(Value::Quantity),
        (Value::Moment(a), Value::Moment(b)) if operator == Operator::Subtract => {
            let seconds = Rational::whole(a.saturating_sub(*b));
            let dimension = crate::quantity::Dimension::TIME;
            Ok(Value::Quantity(Quantity {
                value: Number::Exact(seconds),
                dimension,
                point: false,
            }))
        }
        (Value::Moment(a), Value::Quantity(b)) => {
            let seconds = b.value.to_f64().round() as i64;
            match operator {
                Operator::Add => Ok(Value::Moment(a.saturating_add(seconds))),
                Operator::Subtract => Ok(Value::Moment(a.saturating_sub(seconds))),
                _ => Err("a date cannot be multiplied".to_owned()),
            }
        }
        _ => Err("a value that is no single number".to_owned()),
    }
}

fn list(items: Vec<Value>) -> Value {
    Value::List(Arc::from(items))
}

fn quantities(operator: Operator, left: &Quantity, right: &Quantity) -> Result<Quantity, Fault> {
    let result = match operator {
        Operator::Add => left.add(right),
        Operator::Subtract => left.sub(right),
        Operator::Multiply => left.mul(right),
        Operator::Divide => left.div(right),
        Operator::Power => {
            let exponent = right.value.to_f64();
            if exponent.fract() == 0.0 && exponent.abs() <= 64.0 {
                left.powi(exponent as i32)
            } else {
                let power = left.value.to_f64().powf(exponent);
                if power.is_finite() {
                    return Ok(Quantity::plain(Number::Approx(power)));
                }
                return Err("a power that is no number".to_owned());
            }
        }
    };
    result.map_err(|fault| fault.to_string())
}

/// Minus a value, element by element.
pub fn negative(value: &Value) -> Result<Value, Fault> {
    match value {
        Value::Quantity(quantity) => {
            let value = Number::neg(&quantity.value);
            Ok(Value::Quantity(Quantity { value, ..*quantity }))
        }
        Value::List(items) => items
            .iter()
            .map(negative)
            .collect::<Result<Vec<_>, _>>()
            .map(list),
        _ => Err("a value that is no number".to_owned()),
    }
}

/// How left stands to right; `None` where they can only be equal or not and are not.
fn ordering(left: &Value, right: &Value) -> Result<Option<Ordering>, Fault> {
    let equal = |same: bool| Ok(same.then_some(Ordering::Equal));
    match (left, right) {
        (Value::Quantity(a), Value::Quantity(b)) => {
            a.compare(b).map(Some).map_err(|fault| fault.to_string())
        }
        (Value::Moment(a), Value::Moment(b)) => Ok(Some(a.cmp(b))),
        (Value::Truth(a), Value::Truth(b)) => equal(a == b),
        (Value::Name(a) | Value::Text(a), Value::Name(b) | Value::Text(b)) => equal(a == b),
        _ => Err("two values that cannot be compared".to_owned()),
    }
}

/// Compares, element by element where either side is a list.
pub fn compare(comparison: Comparison, left: &Value, right: &Value) -> Result<Value, Fault> {
    match (left, right) {
        (Value::List(a), Value::List(b)) if a.len() != b.len() => {
            Err("two lists of different length".to_owned())
        }
        (Value::List(a), Value::List(b)) => a
            .iter()
            .zip(b.iter())
            .map(|(a, b)| compare(comparison, a, b))
            .collect::<Result<Vec<_>, _>>()
            .map(list),
        (Value::List(a), _) => a
            .iter()
            .map(|a| compare(comparison, a, right))
            .collect::<Result<Vec<_>, _>>()
            .map(list),
        (_, Value::List(b)) => b
            .iter()
            .map(|b| compare(comparison, left, b))
            .collect::<Result<Vec<_>, _>>()
            .map(list),
        _ => Ok(Value::Truth(match ordering(left, right)? {
            Some(ordering) => comparison.holds(ordering),
            None => comparison == Comparison::NotEqual,
        })),
    }
}

/// Whether left lies in right.
pub fn inside(left: &Value, right: &Value) -> Result<Value, Fault> {
    match (left, right) {
        (Value::List(items), _) => items
            .iter()
            .map(|item| inside(item, right))
            .collect::<Result<Vec<_>, _>>()
            .map(list),
        (Value::Quantity(quantity), Value::Interval(interval)) => interval
            .contains(quantity)
            .map(Value::Truth)
            .map_err(|fault| fault.to_string()),
        (Value::Quantity(_), Value::Quantity(_)) => compare(Comparison::Equal, left, right),
        (Value::Name(name), Value::Names(names)) => Ok(Value::Truth(names.contains(name))),
        _ => Err("two values of which one cannot lie in the other".to_owned()),
    }
}
