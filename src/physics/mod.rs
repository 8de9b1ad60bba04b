//! Physics of the trade: pure functions, one file per subject.
//!
//! Every function takes plain numbers in SI units and gives a plain number in SI units. Temperatures are in
//! degrees Celsius unless the docstring says kelvin, ratios and per-cent values are fractions (0.005 for
//! 0.5 %). A function whose formula holds only in part of the range of its arguments returns
//! `Result<f64, Domain>`. Nothing here knows of documents or findings.
//!
//! The `Source:` line of each function says how well its formula is founded: `physics` (geometry, circuit or
//! gas laws), `from memory` (a standard that was not at hand when the function was written), `common
//! practice, no source`, or the published place the numbers came from.

pub mod arrangement;
pub mod coil_current;
pub mod core;
pub mod curve;
pub mod dielectric;
pub mod dispatch;
pub mod dissolved_gas;
pub mod fastening;
pub mod frequency_response;
pub mod insulation;
pub mod leakage;
pub mod load_loss;
pub mod moisture;
pub mod no_load;
pub mod oil;
pub mod outside;
pub mod phasor;
pub mod ratio;
pub mod resistance;
pub mod sisters;
pub mod sound;
pub mod thermal;
pub mod uncertainty;
pub mod vacuum;
pub mod winding;

/// An argument lies outside the range in which a formula holds. The text names the argument and the range.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Domain(pub &'static str);

impl std::fmt::Display for Domain {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.0)
    }
}

impl std::error::Error for Domain {}

/// 0 °C in kelvin. Source: definition.
pub const ZERO_CELSIUS: f64 = 273.15;
/// The standard atmosphere in Pa. Source: definition.
pub const STANDARD_ATMOSPHERE: f64 = 101_325.0;
/// Magnetic constant in H/m (4π·10⁻⁷). Source: physics.
pub const MAGNETIC_CONSTANT: f64 = 4.0e-7 * std::f64::consts::PI;
/// Standard acceleration of free fall in m/s². Source: definition.
pub const FREE_FALL: f64 = 9.806_65;

/// `x` if it is a finite number above zero, else the domain error `what`.
pub(crate) fn positive(x: f64, what: &'static str) -> Result<f64, Domain> {
    if x.is_finite() && x > 0.0 {
        Ok(x)
    } else {
        Err(Domain(what))
    }
}

/// `x` if it is a finite number at or above zero, else the domain error `what`.
pub(crate) fn not_negative(x: f64, what: &'static str) -> Result<f64, Domain> {
    if x.is_finite() && x >= 0.0 {
        Ok(x)
    } else {
        Err(Domain(what))
    }
}

/// `x` if it is a finite number from `low` to `high`, else the domain error `what`.
pub(crate) fn within(x: f64, low: f64, high: f64, what: &'static str) -> Result<f64, Domain> {
    if x.is_finite() && x >= low && x <= high {
        Ok(x)
    } else {
        Err(Domain(what))
    }
}

/// Asserts that `got` is within `tolerance` of `expected`.
#[cfg(test)]
#[track_caller]
pub(crate) fn near(got: f64, expected: f64, tolerance: f64) {
    assert!(
        (got - expected).abs() <= tolerance,
        "got {got}, expected {expected} ± {tolerance}"
    );
}
