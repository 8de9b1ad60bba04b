//! Written quantities to quantities: digits, unit, and what can be wrong with either.

use crate::finding::Finding;
use crate::finding::rules;
use crate::quantity::{
    Dimension, Number, NumberFault, Quantity, Rational, Unit, UnitFault, parse_unit,
};
use crate::syntax::QuantityText;
use crate::text::{FileId, Place};

/// Reads a written quantity. A number without a unit is a plain number.
pub fn read(written: &QuantityText<'_>, file: FileId) -> Result<Quantity, Box<Finding>> {
    let number = number(written, file)?;
    match written.unit {
        None => Ok(Quantity {
            value: Number::Exact(number),
            dimension: Dimension::NONE,
            point: false,
        }),
        Some(text) => {
            let unit = unit(
                text,
                Place {
                    file,
                    span: written.unit_span,
                },
            )?;
            Ok(Quantity::from_unit(number, &unit))
        }
    }
}

/// Reads the number of a written quantity, with its sign.
pub fn number(written: &QuantityText<'_>, file: FileId) -> Result<Rational, Box<Finding>> {
    // A decimal comma was reported by the parser; the number is meant as it stands.
    let pointed;
    let digits = if written.number.contains(',') {
        pointed = written.number.replacen(',', ".", 1);
        &pointed
    } else {
        written.number
    };
    match Rational::parse(digits) {
        Ok(number) if written.negative => Ok(number.checked_neg().unwrap_or(number)),
        Ok(number) => Ok(number),
        Err(NumberFault::TooLarge) => Err(Box::new(
            Finding::new(
                &rules::NUMBER_OUT_OF_RANGE,
                Place {
                    file,
                    span: written.number_span,
                },
                format!(
                    "expected a number that can be held exactly (at most 30 digits), found `{}`",
                    short(written.number)
                ),
            )
            .help("check the exponent; choose a unit with a fitting prefix"),
        )),
        Err(NumberFault::NotANumber) => Err(Box::new(Finding::new(
            &rules::UNEXPECTED_TEXT,
            Place {
                file,
                span: written.number_span,
            },
            format!("expected a number, found `{}`", short(written.number)),
        ))),
    }
}

/// Reads a unit; an unknown one is named with the nearest that is known.
pub fn unit(text: &str, place: Place) -> Result<Unit, Box<Finding>> {
    parse_unit(text).map_err(|fault| {
        let shown = short(text);
        let finding = match fault {
            UnitFault::Unknown { part, at, nearest, case_slip } => {
                let start = place.span.start + at.min(text.len()) as u32;
                let span =
                    crate::text::Span::new(start, (start + part.len() as u32).min(place.span.end).max(start));
                let place = Place { file: place.file, span };
                let mut finding = Finding::new(
                    &rules::UNKNOWN_UNIT,
                    place,
                    format!("expected a unit, found `{}`", short(&part)),
                );
                if let Some(right) = case_slip {
                    finding = finding
                        .help(format!("units tell capital and small letters apart: did you mean `{right}`?"))
                        .fix(format!("write {right}"), vec![(span, right)]);
                } else if let Some(near) = nearest {
                    // No fix: the unit belongs to the reading, and only its reader knows which was meant.
                    finding = finding.help(format!("did you mean `{near}`?"));
                } else {
                    finding = finding.help("`stagebook explain units` lists the units");
                }
                finding
            }
            UnitFault::TemperatureInCompound { .. } => Finding::new(
                &rules::UNKNOWN_UNIT,
                place,
                format!("expected a difference of temperature (K) inside a compound unit, found `{shown}`"),
            )
            .help("°C is a point on a scale; per degree is written /K"),
            _ => Finding::new(
                &rules::UNKNOWN_UNIT,
                place,
                format!("expected a unit such as N/mm^2 or mbar*l/s, found `{shown}`"),
            ),
        };
        Box::new(finding)
    })
}

fn short(text: &str) -> String {
    let shown: String = text.chars().take(40).collect();
    if shown.len() < text.len() {
        format!("{shown}…")
    } else {
        shown
    }
}
