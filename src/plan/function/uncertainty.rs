//! Uncertainty of measurement, and what it means for a limit.

use super::argument::{answer_of, fault, number, parameters, quantity, same_count};
use super::list::root_sum_square;
use super::reduce::{alike_quantities, failed};
use super::{EvaluationFault, Function, TypeFault};
use crate::physics::uncertainty;
use crate::plan::types::Type;
use crate::plan::value::Value;

const SUBJECT: &str = "uncertainty";

pub(super) static COMBINED_UNCERTAINTY: Function = Function {
    name: "combined-uncertainty",
    subject: SUBJECT,
    parameters: parameters![
        "u": "standard uncertainties (k = 1) in one dimension, as a list or one by one",
    ],
    variadic: true,
    check: alike_quantities,
    evaluate: |values| root_sum_square(values).map(Value::Quantity),
    meaning: "The standard uncertainty of a result from those of its parts, when the parts do not \
        depend on each other.",
    formula: "sqrt(u1² + … + un²)",
    source: "JCGM 100:2008, from memory",
    example: "combined-uncertainty(0.3 mm, 0.4 mm) -> 0.5 mm",
};

pub(super) static EXPANDED_UNCERTAINTY: Function = Function {
    name: "expanded-uncertainty",
    subject: SUBJECT,
    parameters: parameters![
        "u": "standard uncertainty (k = 1)",
        "k": "coverage factor, 2 for about 95 %",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 2)?;
        if !matches!(types[1], Type::NUMBER | Type::Unknown) {
            return Err(fault(1, "a plain number", &types[1]));
        }
        difference(types, 0).cloned()
    },
    evaluate: |values| {
        not_negative(values, 0)?;
        let expanded = quantity(values, 0)?.mul(quantity(values, 1)?);
        expanded.map(Value::Quantity).map_err(failed)
    },
    meaning: "The expanded uncertainty.",
    formula: "k u",
    source: "JCGM 100:2008, from memory",
    example: "expanded-uncertainty(0.03 mm, 2) -> 0.06 mm",
};

pub(super) static UNCERTAINTY_RATIO: Function = Function {
    name: "uncertainty-ratio",
    subject: SUBJECT,
    parameters: parameters![
        "half-width": "half the width of the tolerance",
        "expanded": "expanded uncertainty (k = 2) of the measurement",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 2)?;
        same(difference(types, 0)?, types, 1)?;
        Ok(Type::NUMBER)
    },
    evaluate: |values| {
        not_negative(values, 1)?;
        let ratio = quantity(values, 0)?.div(quantity(values, 1)?);
        ratio.map(Value::Quantity).map_err(failed)
    },
    meaning: "How much wider the tolerance is than the uncertainty of the measurement.",
    formula: "half-width / expanded",
    source: "common practice, no source",
    example: "uncertainty-ratio(1 mm, 0.2 mm) -> 5",
};

pub(super) static ACCEPTANCE_LIMIT: Function = Function {
    name: "acceptance-limit",
    subject: SUBJECT,
    parameters: parameters![
        "limit": "an upper limit",
        "expanded": "expanded uncertainty of the measurement",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 2)?;
        let limit = any_quantity(types, 0)?;
        same(&difference_of(limit), types, 1)?;
        Ok(limit.clone())
    },
    evaluate: |values| {
        not_negative(values, 1)?;
        let guarded = quantity(values, 0)?.sub(quantity(values, 1)?);
        guarded.map(Value::Quantity).map_err(failed)
    },
    meaning: "The highest reading that proves that an upper limit is kept, with the whole \
        uncertainty as guard band.",
    formula: "limit - expanded",
    source: "ISO 14253-1, from memory",
    example: "acceptance-limit(65 K, 1.5 K) -> 63.5 K",
};

pub(super) static CONFORMITY_PROBABILITY: Function = Function {
    name: "conformity-probability",
    subject: SUBJECT,
    parameters: parameters![
        "y": "the reading",
        "limit": "an upper limit",
        "u": "standard uncertainty (k = 1) of the reading",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 3)?;
        let reading = any_quantity(types, 0)?;
        same(reading, types, 1)?;
        same(&difference_of(reading), types, 2)?;
        Ok(Type::NUMBER)
    },
    evaluate: |values| {
        let (reading, limit) = (number(values, 0)?, number(values, 1)?);
        answer_of(
            "ratio",
            uncertainty::conformity_probability(reading, limit, number(values, 2)?),
        )
    },
    meaning: "The probability that the true value keeps an upper limit, normally distributed around \
        the reading.",
    formula: "Phi((limit - y) / u), the normal distribution",
    source: "JCGM 106:2012, from memory",
    example: "conformity-probability(0.47 %, 0.5 %, 0.03 %) -> 0.841345",
};

/// The type of a quantity of any kind.
fn any_quantity(types: &[Type], index: usize) -> Result<&Type, TypeFault> {
    match &types[index] {
        ty @ (Type::Quantity { .. } | Type::Unknown) => Ok(ty),
        other => Err(fault(index, "a quantity", other)),
    }
}

/// The type of a quantity that is no point on a scale.
fn difference(types: &[Type], index: usize) -> Result<&Type, TypeFault> {
    match &types[index] {
        ty @ (Type::Quantity { point: false, .. } | Type::Unknown) => Ok(ty),
        other => Err(fault(
            index,
            "a quantity that is no point on a scale",
            other,
        )),
    }
}

/// The type of the difference of two such quantities.
fn difference_of(ty: &Type) -> Type {
    match ty {
        Type::Quantity { dimension, .. } => Type::quantity(*dimension),
        other => other.clone(),
    }
}

/// Refuses an argument that is not of this type.
fn same(wanted: &Type, types: &[Type], index: usize) -> Result<(), TypeFault> {
    if *wanted == types[index] || *wanted == Type::Unknown || types[index] == Type::Unknown {
        Ok(())
    } else {
        Err(fault(index, format!("{wanted} here"), &types[index]))
    }
}

fn not_negative(values: &[Value], index: usize) -> Result<(), EvaluationFault> {
    if number(values, index)? < 0.0 {
        return Err(EvaluationFault(
            "an uncertainty must not be negative".to_owned(),
        ));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn uncertainty_of_a_result() {
        near(
            "combined-uncertainty",
            &[list(&["0.3 K", "0.4 K", "1.2 K"])],
            "K",
            1.3,
            1e-12,
        );
        near(
            "expanded-uncertainty",
            &[q("0.03 %"), q("2")],
            "%",
            0.06,
            1e-12,
        );
        near(
            "uncertainty-ratio",
            &[q("1.0 mm"), q("0.2 mm")],
            "",
            5.0,
            0.0,
        );
        assert!(refused("uncertainty-ratio", &[q("1 mm"), q("0 mm")]).contains("zero"));
        assert!(refused("uncertainty-ratio", &[q("1 mm"), q("-1 mm")]).contains("negative"));
        assert!(
            refused("uncertainty-ratio", &[q("1 mm"), q("1 kg")])
                .starts_with("expected length (m) here, found mass")
        );
        assert!(
            refused("expanded-uncertainty", &[q("20 °C"), q("2")])
                .starts_with("expected a quantity that is no point on a scale")
        );
    }

    #[test]
    fn moisture_against_its_limit() {
        near(
            "acceptance-limit",
            &[q("0.50 %"), q("0.06 %")],
            "%",
            0.44,
            0.0,
        );
        near(
            "acceptance-limit",
            &[q("95 °C"), q("2 K")],
            "°C",
            93.0,
            1e-9,
        );
        assert!(
            refused("acceptance-limit", &[q("95 °C"), q("2 °C")]).contains("found a temperature")
        );
        assert!(refused("acceptance-limit", &[q("0.5 %"), q("-0.1 %")]).contains("negative"));
        for (reading, expected) in [
            ("0.42 %", 0.9962),
            ("0.44 %", 0.9772),
            ("0.45 %", 0.9522),
            ("0.47 %", 0.8413),
            ("0.50 %", 0.5),
        ] {
            let values = [q(reading), q("0.50 %"), q("0.03 %")];
            near("conformity-probability", &values, "", expected, 5e-5);
        }
        let values = [q("93 °C"), q("95 °C"), q("1 K")];
        near("conformity-probability", &values, "", 0.977_25, 1e-5);
        let values = [q("0.42 %"), q("0.50 %"), q("0 %")];
        assert!(refused("conformity-probability", &values).contains("above zero"));
    }
}
