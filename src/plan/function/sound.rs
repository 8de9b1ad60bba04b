//! Sound levels.

use super::argument::{answer_of, fault, fixed, kind_type, number, parameters};
use super::{EvaluationFault, Function, TypeFault};
use crate::physics::sound;
use crate::plan::types::Type;
use crate::plan::value::Value;

const SUBJECT: &str = "sound";

pub(super) static LEVEL_MEAN: Function = Function {
    name: "level-mean",
    subject: SUBJECT,
    parameters: parameters!["levels": "sound levels, as a list or one by one"],
    variadic: true,
    check: |types| {
        if types.is_empty() {
            let (expected, found) = ("at least 1 argument".to_owned(), "0".to_owned());
            return Err(TypeFault {
                argument: None,
                expected,
                found,
            });
        }
        let level = kind_type("sound-level");
        match types
            .iter()
            .position(|ty| *ty.element() != level && *ty.element() != Type::Unknown)
        {
            Some(index) => Err(fault(
                index,
                "sound levels, as a list or one by one",
                &types[index],
            )),
            None => Ok(level),
        }
    },
    evaluate: |values| {
        let mut levels = Vec::with_capacity(values.len());
        collect(values, &mut levels)?;
        answer_of("sound-level", sound::level_mean(&levels))
    },
    meaning: "The mean of sound levels by their power.",
    formula: "10 lg((10^(0.1 L1) + … + 10^(0.1 Ln)) / n)",
    source: "IEC 60076-10:2016, from memory",
    example: "level-mean(61.2 dB(A), 62 dB(A), 60.8 dB(A), 63.1 dB(A)) -> 61.8661 dB(A)",
};

pub(super) static BACKGROUND_CORRECTED: Function = Function {
    name: "background-corrected",
    subject: SUBJECT,
    parameters: parameters!["level": "level with the transformer on", "background": "level with it off"],
    variadic: false,
    check: |types| fixed(types, &["sound-level", "sound-level"], "sound-level"),
    evaluate: |values| {
        answer_of(
            "sound-level",
            sound::background_corrected(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "A sound level without the background; nothing is taken off from 10 dB between the two, and \
        below 3 dB the measurement does not hold.",
    formula: "10 lg(10^(0.1 level) - 10^(0.1 background))",
    source: "IEC 60076-10:2016, from memory",
    example: "background-corrected(61.91 dB(A), 55 dB(A)) -> 60.9207 dB(A)",
};

fn collect(values: &[Value], levels: &mut Vec<f64>) -> Result<(), EvaluationFault> {
    for (index, value) in values.iter().enumerate() {
        match value {
            Value::List(items) => collect(items, levels)?,
            _ => levels.push(number(values, index)?),
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn eight_points_around_the_specimen() {
        let levels = [
            "61.2 dB", "62.0 dB", "60.8 dB", "63.1 dB", "62.4 dB", "61.7 dB", "60.9 dB", "62.6 dB",
        ];
        near("level-mean", &[list(&levels)], "dB", 61.91, 5e-3);
        near(
            "background-corrected",
            &[q("61.91 dB(A)"), q("55.0 dB(A)")],
            "dB",
            60.92,
            5e-3,
        );
        let message = refused("level-mean", &[q("61.2 dB"), q("61.2 %")]);
        assert!(
            message.starts_with("expected sound levels")
                && message.contains("found a plain number"),
            "{message}"
        );
        assert!(
            refused("background-corrected", &[q("61 dB"), q("1")])
                .starts_with("expected a sound level")
        );
    }
}
