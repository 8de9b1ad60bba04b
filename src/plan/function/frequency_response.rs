//! Frequency response: two sweeps of one winding held against each other.

use super::argument::{answer_of, fault, fixed, kind_type, number, parameters, same_count};
use super::reduce::quantities;
use super::{EvaluationFault, Function, TypeFault};
use crate::physics::Domain;
use crate::physics::frequency_response::{self, WindingState};
use crate::plan::types::Type;
use crate::plan::value::Value;
use std::sync::Arc;

const SUBJECT: &str = "frequency response";

pub(super) static RESPONSE_CORRELATION: Function = Function {
    name: "response-correlation",
    subject: SUBJECT,
    parameters: parameters![
        "x": "the first response, a list in dB",
        "y": "the second response at the same frequencies",
    ],
    variadic: false,
    check: |types| responses(types, "ratio"),
    evaluate: |values| compare("ratio", values, frequency_response::correlation),
    meaning: "The correlation of two responses: 1 when they have the same shape.",
    formula: "sum (x - mean x)(y - mean y) / sqrt(sum (x - mean x)² sum (y - mean y)²)",
    source: "DL/T 911, from memory",
    example: "require response-correlation(before[*], after[*]) >= 0.99",
};

pub(super) static RESPONSE_FACTOR: Function = Function {
    name: "response-factor",
    subject: SUBJECT,
    parameters: parameters![
        "x": "the first response, a list in dB",
        "y": "the second response at the same frequencies",
    ],
    variadic: false,
    check: |types| responses(types, "number"),
    evaluate: |values| compare("number", values, frequency_response::correlation_factor),
    meaning: "The correlation factor R of two responses, at most 10.",
    formula: "-lg(1 - response-correlation)",
    source: "DL/T 911, from memory",
    example: "require response-factor(before[*], after[*]) >= 2",
};

pub(super) static RESPONSE_DIFFERENCE: Function = Function {
    name: "response-difference",
    subject: SUBJECT,
    parameters: parameters![
        "x": "the first response, a list in dB",
        "y": "the second response at the same frequencies",
    ],
    variadic: false,
    check: |types| responses(types, "attenuation"),
    evaluate: |values| compare("attenuation", values, frequency_response::mean_difference),
    meaning: "The mean difference of two responses, without its sign.",
    formula: "(|x1 - y1| + … + |xn - yn|) / n",
    source: "arithmetic",
    example: "require response-difference(before[*], after[*]) <= 1 dB",
};

pub(super) static RESPONSE_RMS: Function = Function {
    name: "response-rms",
    subject: SUBJECT,
    parameters: parameters![
        "x": "the first response, a list in dB",
        "y": "the second response at the same frequencies",
    ],
    variadic: false,
    check: |types| responses(types, "attenuation"),
    evaluate: |values| compare("attenuation", values, frequency_response::rms_difference),
    meaning: "The root-mean-square difference of two responses.",
    formula: "sqrt(((x1 - y1)² + … + (xn - yn)²) / n)",
    source: "Chinese institute guidance, from memory",
    example: "require response-rms(before[*], after[*]) <= 1 dB",
};

pub(super) static RESPONSE_STATE: Function = Function {
    name: "response-state",
    subject: SUBJECT,
    parameters: parameters![
        "low": "correlation factor from 1 to 100 kHz",
        "middle": "correlation factor from 100 to 600 kHz",
        "high": "correlation factor from 600 to 1000 kHz",
    ],
    variadic: false,
    check: |types| {
        fixed(types, &["number", "number", "number"], "number")?;
        Ok(Type::Name)
    },
    evaluate: |values| {
        let (low, middle) = (number(values, 0)?, number(values, 1)?);
        let state = frequency_response::winding_state(low, middle, number(values, 2)?);
        Ok(Value::Name(Arc::from(state_name(state))))
    },
    meaning: "The state of a winding by the correlation factors of three bands: normal, slight, \
        obvious, severe, or check-leads where only the high band is poor.",
    formula: "severe: low < 0.6; obvious: low < 1 or middle < 0.6; slight: low < 2 or middle < 1; \
        check-leads: high < 0.6",
    source: "DL/T 911-2016, limits as published; the case of a poor high band alone: physics",
    example: "response-state(2.1, 1.2, 0.8) -> normal",
};

fn state_name(state: WindingState) -> &'static str {
    match state {
        WindingState::Normal => "normal",
        WindingState::Slight => "slight",
        WindingState::Obvious => "obvious",
        WindingState::Severe => "severe",
        WindingState::CheckLeads => "check-leads",
    }
}

/// Matches two lists of levels.
fn responses(types: &[Type], result: &str) -> Result<Type, TypeFault> {
    same_count(types, 2)?;
    let level = kind_type("attenuation");
    for (index, ty) in types.iter().enumerate() {
        let mut element = ty;
        while let Type::List(inner) = element {
            element = inner;
        }
        let listed = matches!(ty, Type::List(_)) && *element == level;
        if !listed && *element != Type::Unknown {
            return Err(fault(index, "a list of levels (dB)", ty));
        }
    }
    Ok(kind_type(result))
}

/// Computes a measure of two responses.
fn compare(
    kind: &str,
    values: &[Value],
    measure: fn(&[f64], &[f64]) -> Result<f64, Domain>,
) -> Result<Value, EvaluationFault> {
    let (x, y) = (response(values, 0)?, response(values, 1)?);
    answer_of(kind, measure(&x, &y))
}

fn response(values: &[Value], index: usize) -> Result<Vec<f64>, EvaluationFault> {
    let items = quantities(values.get(index..=index).unwrap_or(&[]))?;
    Ok(items.iter().map(|item| item.value.to_f64()).collect())
}

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;
    use super::*;

    const X: [&str; 5] = ["-10 dB", "-20 dB", "-35 dB", "-50 dB", "-42 dB"];
    const Y: [&str; 5] = ["-11 dB", "-20.5 dB", "-34 dB", "-52 dB", "-41 dB"];

    #[test]
    fn five_points_of_two_sweeps() {
        let both = [list(&X), list(&Y)];
        near("response-correlation", &both, "", 0.996_788, 5e-7);
        near("response-factor", &both, "", 2.493, 5e-4);
        near("response-difference", &both, "dB", 1.1, 1e-9);
        near("response-rms", &both, "dB", 1.204, 5e-4);
        near("response-factor", &[list(&X), list(&X)], "", 10.0, 0.0);
        let short = [list(&X), list(&Y[..4])];
        for function in [
            "response-correlation",
            "response-factor",
            "response-difference",
            "response-rms",
        ] {
            assert!(refused(function, &short).contains("equal and at least two points"));
        }
        assert!(
            refused("response-rms", &[list(&X), list(&["1 mm"])])
                .starts_with("expected a list of levels (dB), found a list of length")
        );
        assert!(
            refused("response-rms", &[list(&X), q("-1 dB")])
                .starts_with("expected a list of levels")
        );
    }

    #[test]
    fn state_of_a_winding() {
        for (factors, expected) in [
            (["2.1", "1.2", "0.8"], "normal"),
            (["1.5", "1.2", "0.8"], "slight"),
            (["2.1", "0.5", "0.8"], "obvious"),
            (["0.5", "1.2", "0.8"], "severe"),
            (["2.1", "1.2", "0.5"], "check-leads"),
        ] {
            let found = run("response-state", &factors.map(q));
            assert!(
                matches!(&found, Ok(Value::Name(name)) if **name == *expected),
                "{found:?}"
            );
        }
        assert!(
            refused("response-state", &[q("2.1"), q("1.2"), q("1 dB")])
                .contains("found a level (dB)")
        );
    }
}
