//! Sound levels.

use super::argument::{answer_of, fault, fixed, kind_type, number, parameters, same_count, word};
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
    check: level_types,
    evaluate: |values| answer_of("sound-level", sound::level_mean(&levels(values)?)),
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

pub(super) static LEVEL_SUM: Function = Function {
    name: "level-sum",
    subject: SUBJECT,
    parameters: parameters![
        "levels": "sound levels, as a list or one by one",
    ],
    variadic: true,
    check: level_types,
    evaluate: |values| answer_of("sound-level", sound::level_sum(&levels(values)?)),
    meaning: "The sound level of several sources together.",
    formula: "10 lg(10^(0.1 L1) + … + 10^(0.1 Ln))",
    source: "physics",
    example: "level-sum(79.49 dB(A), 67.8 dB(A)) -> 79.7748 dB(A)",
};

pub(super) static ENVIRONMENT_CORRECTION: Function = Function {
    name: "environment-correction",
    subject: SUBJECT,
    parameters: parameters![
        "ratio": "absorption area of the room over the measuring surface",
    ],
    variadic: false,
    check: |types| fixed(types, &["ratio"], "attenuation"),
    evaluate: |values| {
        answer_of(
            "attenuation",
            sound::environment_correction(number(values, 0)?),
        )
    },
    meaning: "What the room adds to a sound level; to be taken off.",
    formula: "10 lg(1 + 4 / ratio)",
    source: "IEC 60076-10, from memory",
    example: "environment-correction(12) -> 1.24939 dB",
};

pub(super) static MEASURING_SURFACE: Function = Function {
    name: "measuring-surface",
    subject: SUBJECT,
    parameters: parameters![
        "height": "height of the tank",
        "contour": "length of the measuring contour",
        "forced": "yes with forced cooling in service, measured at 2 m; no at 0.3 m",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 3)?;
        fixed(&types[..2], &["length", "length"], "area")?;
        match &types[2] {
            Type::Truth | Type::Name | Type::Text | Type::Unknown => Ok(kind_type("area")),
            other => Err(fault(2, "yes or no", other)),
        }
    },
    evaluate: |values| {
        answer_of(
            "area",
            sound::measuring_surface(number(values, 0)?, number(values, 1)?, forced(values)?),
        )
    },
    meaning: "The surface through which the sound passes at the distance of the microphones.",
    formula: "1.25 height contour; with forced cooling (height + 2 m) contour",
    source: "IEC 60076-10, from memory",
    example: "measuring-surface(3.2 m, 24 m, no) -> 96 m^2",
};

pub(super) static SOUND_POWER_LEVEL: Function = Function {
    name: "sound-power-level",
    subject: SUBJECT,
    parameters: parameters![
        "level": "corrected sound pressure level",
        "surface": "measuring surface, see measuring-surface",
    ],
    variadic: false,
    check: |types| fixed(types, &["sound-level", "area"], "sound-level"),
    evaluate: |values| {
        answer_of(
            "sound-level",
            sound::sound_power_level(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "The sound power level from the sound pressure level around the transformer.",
    formula: "level + 10 lg(surface / 1 m²)",
    source: "physics",
    example: "sound-power-level(59.67 dB(A), 96 m^2) -> 79.4927 dB(A)",
};

pub(super) static LOAD_SOUND_ESTIMATE: Function = Function {
    name: "load-sound-estimate",
    subject: SUBJECT,
    parameters: parameters![
        "s": "rated power",
    ],
    variadic: false,
    check: |types| fixed(types, &["apparent-power"], "sound-level"),
    evaluate: |values| {
        answer_of(
            "sound-level",
            sound::load_sound_estimate(number(values, 0)?),
        )
    },
    meaning: "An estimate of the sound power level that the load current makes.",
    formula: "39 + 18 lg(s / 1 MVA)",
    source: "IEC 60076-10, from memory",
    example: "load-sound-estimate(40 MVA) -> 67.8371 dB",
};

pub(super) static LOAD_SOUND_CORRECTION: Function = Function {
    name: "load-sound-correction",
    subject: SUBJECT,
    parameters: parameters![
        "i-rated": "rated current",
        "i": "current in the test",
    ],
    variadic: false,
    check: |types| fixed(types, &["current", "current"], "attenuation"),
    evaluate: |values| {
        answer_of(
            "attenuation",
            sound::load_sound_correction(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "What to add to the sound of the load current that was measured at a lower current.",
    formula: "40 lg(i-rated / i)",
    source: "IEC 60076-10, from memory",
    example: "load-sound-correction(100 A, 70 A) -> 6.19608 dB",
};

/// The type of levels that may stand in lists.
fn level_types(types: &[Type]) -> Result<Type, TypeFault> {
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
}

/// The levels of lists and single values.
fn levels(values: &[Value]) -> Result<Vec<f64>, EvaluationFault> {
    let mut levels = Vec::with_capacity(values.len());
    collect(values, &mut levels)?;
    Ok(levels)
}

/// Whether the cooling is in service: a reading of yes or no, or the bare word.
fn forced(values: &[Value]) -> Result<bool, EvaluationFault> {
    if let Some(Value::Truth(truth)) = values.get(2) {
        return Ok(*truth);
    }
    match word(values, 2)? {
        "yes" => Ok(true),
        "no" => Ok(false),
        other => Err(EvaluationFault(format!(
            "`{other}` where yes or no belongs"
        ))),
    }
}

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
    use super::*;

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

    #[test]
    fn from_pressure_to_power() {
        let surface = |forced| [q("3.2 m"), q("24 m"), forced];
        near("measuring-surface", &surface(name("no")), "m^2", 96.0, 1e-9);
        near(
            "measuring-surface",
            &surface(Value::Truth(true)),
            "m^2",
            124.8,
            1e-9,
        );
        assert!(
            refused("measuring-surface", &surface(name("on")))
                .contains("`on` where yes or no belongs")
        );
        assert!(refused("measuring-surface", &surface(q("1"))).starts_with("expected yes or no"));
        near("environment-correction", &[q("12")], "dB", 1.25, 5e-3);
        near(
            "sound-power-level",
            &[q("59.67 dB(A)"), q("96 m^2")],
            "dB",
            79.49,
            6e-3,
        );
        near("load-sound-estimate", &[q("40 MVA")], "dB", 67.8, 0.05);
        near(
            "level-sum",
            &[q("79.49 dB(A)"), q("67.8 dB(A)")],
            "dB",
            79.78,
            1e-2,
        );
        near(
            "load-sound-correction",
            &[q("100 A"), q("70 A")],
            "dB",
            6.20,
            5e-3,
        );
        assert!(refused("load-sound-correction", &[q("100 A"), q("0 A")]).contains("above zero"));
        assert!(
            refused("level-sum", &[q("79 dB"), q("67 m")]).starts_with("expected sound levels")
        );
    }
}
