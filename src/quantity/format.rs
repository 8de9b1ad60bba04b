//! Numbers as people read them: few digits, a readable unit.

use super::dimension::Dimension;
use super::number::Number;
use super::quantities::Quantity;
use super::unit::{Unit, parse_unit};

/// Writes a number with at most `digits` significant digits, without trailing zeros.
pub fn format_number(number: Number, digits: usize) -> String {
    let value = number.to_f64();
    if value == 0.0 {
        return "0".to_owned();
    }
    if !value.is_finite() {
        return value.to_string();
    }
    let digits = digits.clamp(1, 17);
    let exponent = value.abs().log10().floor() as i32;
    if !(-6..=11).contains(&exponent) {
        let text = format!("{value:.*e}", digits - 1);
        let (mantissa, power) = text.split_once('e').unwrap_or((&text, "0"));
        return format!("{}e{power}", trimmed(mantissa));
    }
    let decimals = (digits as i32 - 1 - exponent).max(0) as usize;
    trimmed(&format!("{value:.decimals$}")).to_owned()
}

fn trimmed(text: &str) -> &str {
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.')
    } else {
        text
    }
}

/// Writes a quantity in a unit.
pub fn format_in(quantity: &Quantity, unit: &Unit, digits: usize) -> String {
    let number = format_number(quantity.in_unit(unit), digits);
    if unit.symbol.is_empty() {
        number
    } else {
        format!("{number} {}", unit.symbol)
    }
}

/// Units to choose from for a dimension, smallest first.
const READABLE: &[&[&str]] = &[
    &["nm", "um", "mm", "m", "km"],
    &["mm^2", "m^2"],
    &["ml", "l", "m^3"],
    &["mg", "g", "kg", "t"],
    &["us", "ms", "s", "min", "h", "d"],
    &["uA", "mA", "A", "kA"],
    &["uV", "mV", "V", "kV", "MV"],
    &["uohm", "mohm", "ohm", "kohm", "Mohm", "Gohm"],
    &["mW", "W", "kW", "MW"],
    &["mPa", "Pa", "kPa", "MPa"],
    &["N", "kN", "MN"],
    &["J", "kJ", "MJ"],
    &["Hz", "kHz", "MHz"],
    &["pC", "nC", "uC", "mC", "C"],
    &["pF", "nF", "uF", "mF", "F"],
    &["uH", "mH", "H"],
    &["mT", "T"],
    &["mWb", "Wb"],
    &["mm/s", "m/s"],
    &["m/s^2"],
    &["l/s", "m^3/s"],
    &["kg/m^3"],
    &["Pa*m^3/s"],
    &["mN/m", "N/m"],
    &["mm^2/s"],
    &["dB"],
    &["K"],
];

/// A readable unit for a quantity; `None` for a plain number or a dimension without a usual unit.
pub fn default_unit(dimension: Dimension, point: bool, magnitude: f64) -> Option<Unit> {
    if point {
        return parse_unit("°C").ok();
    }
    let family = READABLE.iter().find(|family| {
        family
            .first()
            .and_then(|symbol| parse_unit(symbol).ok())
            .is_some_and(|unit| unit.dimension == dimension)
    })?;
    let units: Vec<Unit> = family
        .iter()
        .filter_map(|symbol| parse_unit(symbol).ok())
        .collect();
    let wanted = magnitude.abs();
    // The largest unit that is not larger than the quantity; for zero the plain one.
    let fitting = units
        .iter()
        .rev()
        .find(|unit| unit.factor.to_f64() <= wanted * (1.0 + 1e-12));
    fitting
        .or_else(|| units.iter().find(|unit| unit.factor.to_f64() >= 1.0))
        .or(units.first())
        .cloned()
}

/// Writes a quantity in a readable unit.
pub fn format_readable(quantity: &Quantity, digits: usize) -> String {
    if quantity.dimension.is_none() {
        return format_number(quantity.value, digits);
    }
    match default_unit(quantity.dimension, quantity.point, quantity.value.to_f64()) {
        Some(unit) => format_in(quantity, &unit, digits),
        None => format!(
            "{} {}",
            format_number(quantity.value, digits),
            quantity.dimension.base_units()
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::Rational;

    #[test]
    fn numbers_are_short_and_plain() {
        let exact = |text: &str| Number::Exact(Rational::parse(text).unwrap());
        assert_eq!(format_number(exact("412.600"), 5), "412.6");
        assert_eq!(format_number(exact("15000"), 3), "15000");
        assert_eq!(format_number(exact("0.00012345678"), 4), "0.0001235");
        assert_eq!(format_number(exact("1e-9"), 4), "1e-9");
        assert_eq!(format_number(Number::Approx(-3.17542648), 5), "-3.1754");
    }

    #[test]
    fn a_readable_unit_is_chosen() {
        let ohms = Quantity::si(0.4951, Dimension::RESISTANCE);
        assert_eq!(format_readable(&ohms, 4), "495.1 mohm");
        let zero = Quantity::si(0.0, Dimension::VOLTAGE);
        assert_eq!(format_readable(&zero, 4), "0 V");
    }
}
