//! The functions of the plan language: what they take, what they give, and where they come from.
//!
//! Each subject has a file. A function checks the types of its arguments when a plan is opened and
//! computes when a unit is judged; arguments that are not recorded never reach it.

mod argument;
mod core;
mod dielectric;
mod dispatch;
mod general;
mod insulation;
mod losses;
mod moisture;
mod pressing;
mod ratio;
mod reduce;
mod resistance;
mod series;
mod sound;
mod thermal;
mod vacuum;

use super::types::Type;
use super::value::Value;

/// A function of the language.
pub struct Function {
    /// Its name.
    pub name: &'static str,
    /// What it is about; functions are listed by subject.
    pub subject: &'static str,
    /// Its parameters, in order.
    pub parameters: &'static [Parameter],
    /// The last parameter may repeat.
    pub variadic: bool,
    /// The type of the result for arguments of these types.
    pub check: fn(&[Type]) -> Result<Type, TypeFault>,
    /// The result.
    pub evaluate: fn(&[Value]) -> Result<Value, EvaluationFault>,
    /// What it gives, in the trade's words.
    pub meaning: &'static str,
    /// How it is computed.
    pub formula: &'static str,
    /// Where the formula comes from.
    pub source: &'static str,
    /// An expression, ` -> ` and its result; or a plan line, where the arguments can only come from a record.
    pub example: &'static str,
}

impl std::fmt::Debug for Function {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "Function({})", self.name)
    }
}

/// A parameter of a function.
#[derive(Debug)]
pub struct Parameter {
    /// Its name.
    pub name: &'static str,
    /// What goes there.
    pub meaning: &'static str,
}

/// Arguments of the wrong type.
#[derive(Clone, Debug, PartialEq)]
pub struct TypeFault {
    /// Which argument, counted from 0; `None` when it is about all of them.
    pub argument: Option<usize>,
    /// What was expected, fitting after "expected".
    pub expected: String,
    /// What was found.
    pub found: String,
}

/// A computation without a result, such as "division by zero".
#[derive(Clone, Debug, PartialEq)]
pub struct EvaluationFault(pub String);

impl std::fmt::Display for EvaluationFault {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str(&self.0)
    }
}

impl std::error::Error for EvaluationFault {}

/// Every function, sorted by name.
static FUNCTIONS: &[&Function] = &[
    &general::ABS,
    &general::ALL,
    &general::ANY,
    &sound::BACKGROUND_CORRECTED,
    &general::CEIL,
    &ratio::CLOCK,
    &reduce::COUNT,
    &moisture::DEW_POINT,
    &insulation::DISSIPATION_FACTOR_AT,
    &series::DROP,
    &series::DURATION,
    &losses::EFFICIENCY,
    &general::EXP,
    &series::FIRST,
    &general::FIRST_OF_LOT,
    &general::FLOOR,
    &losses::FLUX_DENSITY,
    &moisture::FROST_POINT,
    &dispatch::GAS_PRESSURE_AT,
    &general::HAS,
    &thermal::HOT_SPOT,
    &moisture::ICE_PRESSURE,
    &losses::IMPEDANCE_AT,
    &dielectric::INDUCED_TEST_TIME,
    &insulation::INSULATION_RESISTANCE_AT,
    &pressing::JACK_FORCE,
    &ratio::JOINED_VOLTAGE,
    &series::LAST,
    &vacuum::LEAK_RATE,
    &core::LEAKAGE_REACTANCE,
    &sound::LEVEL_MEAN,
    &general::LG,
    &general::LN,
    &losses::LOAD_LOSS_AT,
    &reduce::MAX,
    &reduce::MEAN,
    &reduce::MEDIAN,
    &reduce::MIN,
    &losses::NO_LOAD_LOSS,
    &moisture::OIL_WATER_SATURATION,
    &moisture::PAPER_MOISTURE,
    &ratio::PHASE_RATIO,
    &resistance::PHASE_RESISTANCE_DELTA,
    &resistance::PHASE_RESISTANCE_WYE,
    &insulation::POLARIZATION_INDEX,
    &ratio::POSSIBLE_GROUP,
    &series::RATE,
    &general::RECORDED,
    &moisture::RELATIVE_SATURATION,
    &resistance::RESISTANCE_AT,
    &general::ROUND,
    &moisture::SATURATION_PRESSURE,
    &reduce::SPREAD,
    &general::SQRT,
    &core::STACKING_FACTOR,
    &reduce::SUM,
    &series::TIME_ABOVE,
    &series::TIME_BELOW,
    &losses::VOLTAGE_DROP,
    &losses::VOLTS_PER_TURN,
    &resistance::WINDING_LOSS,
    &thermal::WINDING_TEMPERATURE,
];

/// Finds a function by its name.
pub fn find(name: &str) -> Option<&'static Function> {
    FUNCTIONS
        .binary_search_by(|function| function.name.cmp(name))
        .ok()
        .map(|index| FUNCTIONS[index])
}

/// Every function, sorted by name.
pub fn all() -> &'static [&'static Function] {
    FUNCTIONS
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_unique_and_sorted_so_that_the_search_finds_each() {
        for pair in FUNCTIONS.windows(2) {
            assert!(
                pair[0].name < pair[1].name,
                "{} stands before {}",
                pair[0].name,
                pair[1].name
            );
        }
        for function in all() {
            assert_eq!(
                find(function.name).map(|found| found.name),
                Some(function.name)
            );
        }
        assert!(find("absolute").is_none());
    }

    #[test]
    fn every_function_is_explained() {
        for function in all() {
            for text in [
                function.subject,
                function.meaning,
                function.source,
                function.example,
            ] {
                assert!(!text.is_empty(), "{}", function.name);
            }
            assert!(function.meaning.ends_with('.'), "{}", function.name);
            assert!(
                function.example.contains(function.name),
                "{}",
                function.name
            );
            assert!(
                !function.variadic || !function.parameters.is_empty(),
                "{}",
                function.name
            );
            assert!(
                function
                    .parameters
                    .iter()
                    .all(|parameter| !parameter.meaning.is_empty()),
                "{}",
                function.name
            );
        }
    }

    #[test]
    fn a_wrong_number_of_arguments_is_refused() {
        for function in all().iter().filter(|function| !function.variadic) {
            let many = vec![Type::Text; function.parameters.len() + 1];
            assert!((function.check)(&many).is_err(), "{}", function.name);
        }
    }
}
