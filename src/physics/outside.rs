//! Rows of results for the check against outside libraries (`tests/external/physics_against_libraries.py`).
//!
//! A row goes in only where the outside route is really another one: another formula, a library's solver,
//! complex arithmetic, or the way back from the result to the arguments.

use super::phasor::{TerminalPair, joined_voltage, joined_voltage_single_phase, parse_group};
use super::resistance::{phase_resistances_delta, phase_resistances_wye};
use super::sisters::others_of_each;
use super::thermal::extrapolate_to_shutdown;
use super::{Domain, core, dielectric, frequency_response, load_loss, moisture, ratio};

/// Hot resistances (Ω) read every 30 s from 90 s after shutdown: a curve with 5.5 min time constant, rounded.
pub const COOLING_READINGS: [f64; 28] = [
    0.69538, 0.69298, 0.69078, 0.68877, 0.68692, 0.68523, 0.68368, 0.68226, 0.68096, 0.67976,
    0.67866, 0.67765, 0.67673, 0.67587, 0.67509, 0.67437, 0.67370, 0.67309, 0.67252, 0.67200,
    0.67152, 0.67107, 0.67065, 0.67027, 0.66991, 0.66958, 0.66927, 0.66898,
];

/// A number as JSON; a number JSON can't hold becomes `null`, which the check counts as a failure.
fn number(x: f64) -> String {
    if x.is_finite() {
        format!("{x:?}")
    } else {
        "null".to_owned()
    }
}

/// A list of numbers as JSON.
fn list(values: &[f64]) -> String {
    let numbers: Vec<String> = values.iter().copied().map(number).collect();
    format!("[{}]", numbers.join(", "))
}

/// Text as JSON (the texts here hold nothing that needs an escape).
fn text(value: &str) -> String {
    format!("\"{value}\"")
}

/// The rows gathered so far.
struct Rows(Vec<String>);

impl Rows {
    /// Adds a row whose arguments and result are JSON already; an error becomes the result `null`.
    fn add(&mut self, function: &str, arguments: &[String], result: Result<String, Domain>) {
        let result = result.unwrap_or_else(|_| "null".to_owned());
        let arguments = arguments.join(", ");
        self.0.push(format!(
            "  {{\"function\": \"{function}\", \"arguments\": [{arguments}], \"result\": {result}}}"
        ));
    }

    /// Adds a row of plain numbers.
    fn plain(&mut self, function: &str, arguments: &[f64], result: Result<f64, Domain>) {
        let arguments: Vec<String> = arguments.iter().copied().map(number).collect();
        self.add(function, &arguments, result.map(number));
    }
}

/// The rows as JSON text: a list of objects with `function`, `arguments` and `result`. Temperatures in °C,
/// all else in SI units.
pub fn outside_check_rows() -> String {
    let mut rows = Rows(Vec::new());
    vapour(&mut rows);
    vectors(&mut rows);
    windings(&mut rows);
    curves(&mut rows);
    sisters(&mut rows);
    format!("[\n{}\n]\n", rows.0.join(",\n"))
}

/// Vapour pressures, dew and frost points.
fn vapour(rows: &mut Rows) {
    for t in [
        0.0, 5.0, 20.0, 25.0, 60.0, 80.0, 100.0, 110.0, 130.0, 200.0, 300.0,
    ] {
        rows.plain(
            "saturation_pressure",
            &[t],
            moisture::saturation_pressure(t),
        );
    }
    for t in [0.1, 10.0, 20.0, 25.0, 40.0, 60.0, 80.0, 100.0, 110.0] {
        rows.plain("water_pressure", &[t], moisture::water_pressure(t));
    }
    for t in [
        -80.0, -60.0, -50.0, -45.0, -40.0, -35.0, -30.0, -20.0, -10.0, -1.0,
    ] {
        rows.plain("ice_pressure", &[t], moisture::ice_pressure(t));
    }
    for p in [
        650.0, 1000.0, 2060.4, 3160.0, 7000.0, 20_000.0, 47_000.0, 101_325.0,
    ] {
        rows.plain("dew_point", &[p], moisture::dew_point(p));
    }
    for p in [0.6, 1.08, 3.94, 7.2, 12.84, 38.0, 103.2, 400.0, 600.0] {
        rows.plain("frost_point", &[p], moisture::frost_point(p));
    }
    for (t, humidity) in [(25.0, 0.65), (30.0, 0.75), (20.0, 0.50), (35.0, 0.30)] {
        rows.plain(
            "dew_point_of_air",
            &[t, humidity],
            moisture::dew_point_of_air(t, humidity),
        );
    }
}

/// Vector groups and joined terminals.
fn vectors(rows: &mut Rows) {
    let pairs = [
        ("Bb", TerminalPair::BB),
        ("Cc", TerminalPair::CC),
        ("Bc", TerminalPair::BC),
        ("Cb", TerminalPair::CB),
    ];
    for (supply, line_ratio) in [(400.0, 110.0 / 21.0), (230.0, 1.0), (400.0, 0.8)] {
        for clock in 0..12_u8 {
            for (name, pair) in pairs {
                let arguments = [
                    number(f64::from(clock)),
                    number(supply),
                    number(line_ratio),
                    text(name),
                ];
                let result = joined_voltage(clock, supply, line_ratio, pair).map(number);
                rows.add("joined_voltage", &arguments, result);
            }
        }
    }
    for clock in [0, 6] {
        let result = joined_voltage_single_phase(clock, 400.0, 76.364);
        rows.plain(
            "joined_voltage_single_phase",
            &[f64::from(clock), 400.0, 76.364],
            result,
        );
    }
    for name in [
        "Yy0", "Dd0", "YNd11", "Yd1", "Yd5", "Dyn11", "Dyn1", "Dyn5", "Dyn7", "Yzn11", "Yz5",
        "Dz0", "Dz6", "YNa0",
    ] {
        let what = Domain("not a vector group");
        let result = parse_group(name)
            .map_err(|_| what)
            .and_then(|g| ratio::phase_ratio(&g, 110e3, 21e3));
        rows.add(
            "phase_ratio",
            &[text(name), number(110e3), number(21e3)],
            result.map(number),
        );
    }
}

/// Resistances, flux, voltage drop.
fn windings(rows: &mut Rows) {
    for line in [
        [29.720e-3, 29.790e-3, 29.750e-3],
        [1.0, 1.1, 0.95],
        [0.002, 0.0025, 0.0018],
    ] {
        let result = phase_resistances_delta(line).map(|r| list(&r));
        rows.add("phase_resistances_delta", &[list(&line)], result);
    }
    let line = [1.1794, 1.1787, 1.1775];
    rows.add(
        "phase_resistances_wye",
        &[list(&line)],
        phase_resistances_wye(line).map(|r| list(&r)),
    );
    for (volts, f, area) in [
        (100.0, 50.0, 0.2650),
        (76.21247, 50.0, 0.2151007),
        (180.0, 60.0, 0.41),
    ] {
        rows.plain(
            "flux_density",
            &[volts, f, area],
            core::flux_density(volts, f, area),
        );
    }
    for (load, cos) in [(1.0, 0.8), (1.0, 1.0), (0.5, 0.9), (1.2, 0.6)] {
        let (er, ex) = (0.004512, 0.119675);
        rows.plain(
            "voltage_drop",
            &[er, ex, load, cos],
            load_loss::voltage_drop(er, ex, load, cos),
        );
        rows.plain(
            "regulation_ieee",
            &[er, ex, load, cos],
            load_loss::regulation_ieee(er, ex, load, cos),
        );
    }
}

/// Fits and correlations.
fn curves(rows: &mut Rows) {
    let times: Vec<f64> = (0..28).map(|i| 90.0 + 30.0 * f64::from(i)).collect();
    let second: Vec<f64> = times
        .iter()
        .map(|t| 0.0312 - 1.1e-7 * t + 0.0021 * (-t / 410.0).exp() + 2e-6 * (t * 7.0).sin())
        .collect();
    for values in [&COOLING_READINGS[..], &second[..]] {
        let readings: Vec<(f64, f64)> = times.iter().copied().zip(values.iter().copied()).collect();
        for falling_oil in [true, false] {
            let result = extrapolate_to_shutdown(&readings, falling_oil)
                .map(|c| list(&[c.at_shutdown, c.time_constant]));
            let arguments = [list(&times), list(values), falling_oil.to_string()];
            rows.add("extrapolate_to_shutdown", &arguments, result);
        }
    }
    let (x, y) = (
        [-10.0, -20.0, -35.0, -50.0, -42.0],
        [-11.0, -20.5, -34.0, -52.0, -41.0],
    );
    rows.add(
        "correlation",
        &[list(&x), list(&y)],
        frequency_response::correlation(&x, &y).map(number),
    );
    let trend = [
        (0.0, 90e-12),
        (300.0, 96e-12),
        (900.0, 93e-12),
        (1800.0, 110e-12),
        (3600.0, 121e-12),
    ];
    let (t, q): (Vec<f64>, Vec<f64>) = trend.iter().copied().unzip();
    rows.add(
        "rise_over_one_hour",
        &[list(&t), list(&q)],
        dielectric::rise_over_one_hour(&trend).map(number),
    );
}

/// Medians and deviations of all others.
fn sisters(rows: &mut Rows) {
    let sets: [&[f64]; 7] = [
        &[10.0, 11.0, 13.0, 20.0],
        &[412.6, 413.1, 411.9, 412.8, 431.0],
        &[5.0, 5.0, 5.0, 5.0],
        &[5.0, 5.0, 5.0, 7.0, 5.0, 5.0],
        &[-3.0, 0.0, 1e-3, 12.5, 12.5, 900.0, -3.0],
        &[2.24041, 2.23626, 2.30707, 2.24249, 2.24026, 2.24057],
        &COOLING_READINGS,
    ];
    for values in sets {
        let others = others_of_each(values);
        let row = |pick: fn(&super::sisters::Sisters) -> f64| {
            let picked = others
                .as_ref()
                .map(|others| others.iter().map(pick).collect());
            picked
                .map(|picked: Vec<f64>| list(&picked))
                .map_err(|fault| *fault)
        };
        rows.add(
            "medians_of_others",
            &[list(values)],
            row(|each| each.median),
        );
        rows.add(
            "deviations_of_others",
            &[list(values)],
            row(|each| each.mad),
        );
    }
    rows.plain("mad_to_sigma", &[], Ok(super::sisters::MAD_TO_SIGMA));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_whole() {
        let rows = outside_check_rows();
        assert!(!rows.contains("null"), "a row has no result");
        let read: serde_json::Value = serde_json::from_str(&rows).unwrap();
        assert!(read.as_array().unwrap().len() > 200);
    }
}
