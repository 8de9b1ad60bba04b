//! The functions of the plan language: what they take, what they give, and where they come from.
//!
//! Each subject has a file. A function checks the types of its arguments when a plan is opened and
//! computes when a unit is judged; arguments that are not recorded never reach it.

mod argument;
mod connection;
mod core;
mod curve;
mod dielectric;
mod dispatch;
mod fastening;
mod frequency_response;
mod general;
mod insulation;
mod list;
mod losses;
mod moisture;
mod no_load;
mod oil;
mod pressing;
mod ratio;
mod reduce;
mod resistance;
mod series;
mod sound;
mod thermal;
mod uncertainty;
mod vacuum;
mod winding;

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
    &insulation::ABSORPTION_RATIO,
    &uncertainty::ACCEPTANCE_LIMIT,
    &losses::ADDITIONAL_LOSS,
    &general::ALL,
    &thermal::ALTITUDE_REDUCTION,
    &general::ANY,
    &connection::ARRANGEMENT_CLOCK,
    &sound::BACKGROUND_CORRECTED,
    &curve::BAND_DIFFERENCE,
    &curve::BAND_FACTOR,
    &series::BEND_OF_RISE,
    &winding::BENDING_STRAIN,
    &losses::BEST_LOAD,
    &fastening::BOLT_FORCE,
    &core::BUILDING_FACTOR,
    &insulation::CAPACITANCE_CHANGE,
    &general::CEIL,
    &dispatch::CENTRE_OF_GRAVITY,
    &core::CENTRE_OFFSET,
    &dielectric::CLEARANCE_FACTOR,
    &ratio::CLOCK,
    &connection::CLOCK_BETWEEN,
    &connection::COIL_CURRENT,
    &connection::COIL_RESISTANCE,
    &connection::COIL_VOLTAGE,
    &uncertainty::COMBINED_UNCERTAINTY,
    &winding::CONDUCTOR_LENGTH,
    &winding::CONDUCTOR_MASS,
    &winding::CONDUCTOR_SECTION,
    &uncertainty::CONFORMITY_PROBABILITY,
    &connection::CONNECTION,
    &fastening::CORD_FILL,
    &winding::CORNER_RADIUS,
    &reduce::COUNT,
    &dielectric::CURRENT_RATIO_ERROR,
    &series::DECAY_CONSTANT,
    &list::DEVIATION_FROM_MEAN,
    &moisture::DEW_POINT,
    &moisture::DEW_POINT_OF_AIR,
    &winding::DISC_WINDING_HEIGHT,
    &insulation::DISSIPATION_FACTOR_AT,
    &series::DROP,
    &series::DURATION,
    &losses::EFFICIENCY,
    &sound::ENVIRONMENT_CORRECTION,
    &general::EXP,
    &uncertainty::EXPANDED_UNCERTAINTY,
    &moisture::EXTRACTION_RATE,
    &dispatch::FILLING_PRESSURE,
    &series::FIRST,
    &thermal::FIRST_DELAY,
    &general::FIRST_OF_LOT,
    &connection::FITTING_CLOCKS,
    &general::FLOOR,
    &losses::FLUX_DENSITY,
    &moisture::FROST_POINT,
    &dispatch::GAS_LOST,
    &dispatch::GAS_PRESSURE_AT,
    &oil::GAS_RATE,
    &oil::GAS_RATIO_FAULTS,
    &oil::GAS_TRIANGLE,
    &fastening::GASKET_SQUEEZE,
    &thermal::GRADIENT_CORRECTED,
    &no_load::HARMONIC_DISTORTION,
    &general::HAS,
    &list::HEAD,
    &thermal::HOT_SPOT,
    &moisture::ICE_PRESSURE,
    &losses::IMPEDANCE_AT,
    &losses::IMPEDANCE_OHM,
    &losses::IMPEDANCE_ON_BASE,
    &losses::IMPEDANCE_VOLTAGE,
    &dielectric::INDUCED_TEST_CYCLES,
    &dielectric::INDUCED_TEST_TIME,
    &insulation::INSULATION_RESISTANCE_AT,
    &insulation::INSULATION_RESISTANCE_BY,
    &pressing::JACK_FORCE,
    &pressing::JACK_PRESSURE,
    &ratio::JOINED_VOLTAGE,
    &connection::JOINED_VOLTAGE_SINGLE,
    &series::LAST,
    &vacuum::LEAK_RATE,
    &core::LEAKAGE_REACTANCE,
    &insulation::LEAST_INSULATION_RESISTANCE,
    &sound::LEVEL_MEAN,
    &sound::LEVEL_SUM,
    &general::LG,
    &general::LN,
    &losses::LOAD_LOSS_AT,
    &losses::LOAD_LOSS_AT_CURRENT,
    &sound::LOAD_SOUND_CORRECTION,
    &sound::LOAD_SOUND_ESTIMATE,
    &losses::LOSS_PENALTY,
    &no_load::MAGNETIC_BALANCE,
    &reduce::MAX,
    &reduce::MEAN,
    &sound::MEASURING_SURFACE,
    &reduce::MEDIAN,
    &reduce::MIN,
    &resistance::MIRRORED_DIFFERENCE,
    &oil::MIXED_SHARE,
    &moisture::MOISTURE_STILL_TO_COME,
    &list::NAME_AT,
    &connection::NEAREST_TURN_APPLIES,
    &core::NET_SECTION,
    &connection::NEUTRAL_TAPPED_RATIO,
    &no_load::NO_LOAD_CURRENT,
    &losses::NO_LOAD_LOSS,
    &no_load::NO_LOAD_LOSS_AT_20,
    &no_load::NO_LOAD_LOSS_IEEE,
    &thermal::OIL_RISE_CORRECTED,
    &oil::OIL_VOLUME_CHANGE,
    &moisture::OIL_WATER_SATURATION,
    &resistance::OPEN_STRAND_RISE,
    &dispatch::OXYGEN_AFTER_DILUTION,
    &moisture::PAPER_MOISTURE,
    &oil::PARTICLE_CODE,
    &losses::PEAK_EFFICIENCY_INDEX,
    &ratio::PHASE_RATIO,
    &resistance::PHASE_RESISTANCE_DELTA,
    &resistance::PHASE_RESISTANCE_WYE,
    &connection::PHASES,
    &list::PLACE_OF,
    &insulation::POLARIZATION_INDEX,
    &ratio::POSSIBLE_GROUP,
    &insulation::POWER_FACTOR,
    &pressing::PRELOAD_LOSS,
    &pressing::PRESSING_FORCE,
    &vacuum::PRESSURE_AT_BASE,
    &moisture::PRESSURE_OF_PAPER,
    &series::RATE,
    &core::REACTANCE_SHARE,
    &losses::REACTIVE_PART,
    &general::RECORDED,
    &connection::RECOVERED_CLOCK,
    &losses::REGULATION_IEEE,
    &moisture::RELATIVE_SATURATION,
    &resistance::RESISTANCE_AT,
    &resistance::RESISTANCE_FROM_DIMENSIONS,
    &losses::RESISTIVE_PART,
    &frequency_response::RESPONSE_CORRELATION,
    &frequency_response::RESPONSE_DIFFERENCE,
    &frequency_response::RESPONSE_FACTOR,
    &frequency_response::RESPONSE_RMS,
    &frequency_response::RESPONSE_STATE,
    &core::ROGOWSKI_FACTOR,
    &list::ROOT_SUM_SQUARE,
    &general::ROUND,
    &thermal::ROWS_BEFORE,
    &moisture::SATURATION_PRESSURE,
    &core::SHEETS_IN_STACK,
    &insulation::SHORTED_LAYER_RISE,
    &thermal::SHUTDOWN_CONSTANT,
    &thermal::SHUTDOWN_VALUE,
    &dispatch::SLING_FORCE,
    &list::SLOPE,
    &sound::SOUND_POWER_LEVEL,
    &reduce::SPREAD,
    &general::SQRT,
    &core::STACKING_FACTOR,
    &losses::STAR_BRANCH,
    &core::STEEL_GRADE_LOSS,
    &core::STEEL_GRADE_THICKNESS,
    &reduce::SUM,
    &list::TAIL,
    &vacuum::TANK_FORCE,
    &connection::TAPPING_VOLTAGE,
    &dielectric::TEST_FLUX_DENSITY,
    &dielectric::TEST_VOLTAGE_TO_EARTH,
    &fastening::TIGHTENING_TORQUE,
    &series::TIME_ABOVE,
    &series::TIME_BELOW,
    &dispatch::TIP_ANGLE,
    &uncertainty::UNCERTAINTY_RATIO,
    &curve::VALUE_ON,
    &moisture::VAPOUR_DENSITY,
    &moisture::VAPOUR_PRESSURE_AT,
    &moisture::VAPOUR_SHARE,
    &dispatch::VELOCITY_CHANGE,
    &losses::VOLTAGE_DROP,
    &losses::VOLTS_PER_TURN,
    &vacuum::WATER_THROUGH_LEAK,
    &moisture::WATER_TO_REMOVE,
    &list::WEIGHTED_SHARE,
    &connection::WINDING_COUNT,
    &resistance::WINDING_LOSS,
    &thermal::WINDING_TEMPERATURE,
    &losses::ZERO_SEQUENCE_IMPEDANCE,
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
