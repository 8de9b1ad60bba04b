//! Dielectric tests: duration and core flux of the induced test, test levels, trend of partial discharges.

use super::{Domain, not_negative, positive};

/// The duration (s) of the induced test at a raised frequency: 60 s up to twice the rated frequency, then
/// 120·fr/f seconds but at least 15 s.
///
/// `rated`, `test`: frequencies in Hz. Errors: a frequency not above zero. For Um above 800 kV use
/// [`induced_test_time_uhv`]. Source: from memory, IEC 60076-3:2013 clause 11. Example: 50 Hz unit: 30 s at
/// 200 Hz, 15 s at 400 and 500 Hz.
pub fn induced_test_time(rated: f64, test: f64) -> Result<f64, Domain> {
    let times = frequency_ratio(rated, test)?;
    Ok(if times <= 2.0 {
        60.0
    } else {
        (120.0 / times).max(15.0)
    })
}

/// The duration (s) of the enhancement level for Um above 800 kV: five times longer, at least 75 s.
///
/// Arguments and errors as [`induced_test_time`]. Source: from memory, IEC 60076-3:2013 clause 11. Example:
/// 50 Hz unit at 200 Hz: 150 s.
pub fn induced_test_time_uhv(rated: f64, test: f64) -> Result<f64, Domain> {
    let times = frequency_ratio(rated, test)?;
    Ok(if times <= 2.0 {
        300.0
    } else {
        (600.0 / times).max(75.0)
    })
}

/// Test over rated frequency.
fn frequency_ratio(rated: f64, test: f64) -> Result<f64, Domain> {
    let what = "the frequencies must be above zero";
    Ok(positive(test, what)? / positive(rated, what)?)
}

/// The crest flux density (T) in the core during an induced test.
///
/// `rated_flux` in T at rated voltage and frequency; `voltage`: test voltage over rated voltage; `rated`,
/// `test`: frequencies in Hz. Errors: a value not above zero. Source: physics. Example: 1.6987 T, twice the
/// voltage, 200 Hz on a 50 Hz unit: 0.849 T.
pub fn test_flux_density(
    rated_flux: f64,
    voltage: f64,
    rated: f64,
    test: f64,
) -> Result<f64, Domain> {
    let what = "flux density and voltage must be above zero";
    Ok(positive(rated_flux, what)? * positive(voltage, what)? / frequency_ratio(rated, test)?)
}

/// How long (s) 7200 cycles last.
///
/// `frequency` of the test in Hz. Errors: a frequency not above zero. Source: from memory, IEEE C57.12.90 clause 10.
/// Example: 180 Hz: 40 s.
pub fn induced_test_cycles(frequency: f64) -> Result<f64, Domain> {
    Ok(7200.0 / positive(frequency, "the frequency must be above zero")?)
}

/// The ratio error of a current transformer, as a fraction.
///
/// `ratio`: rated primary over rated secondary current; `secondary`, `primary`: currents in A. Errors: a primary
/// current not above zero. Source: from memory, IEC 61869-2. Example: 400, 1.496 A, 600 A: −0.00267.
pub fn current_ratio_error(ratio: f64, secondary: f64, primary: f64) -> Result<f64, Domain> {
    Ok(ratio * secondary / positive(primary, "the primary current must be above zero")? - 1.0)
}

/// A phase-to-earth test voltage (V) given as a multiple of Ur/√3.
///
/// `multiple`: 1.58 and so on; `rated`: rated line voltage at the tapping used, V. Errors: a value not above
/// zero. Source: physics. Example: 1.58 and 110 kV: 100.34 kV.
pub fn phase_test_voltage(multiple: f64, rated: f64) -> Result<f64, Domain> {
    let what = "multiple and rated voltage must be above zero";
    Ok(positive(multiple, what)? * positive(rated, what)? / 3.0_f64.sqrt())
}

/// The factor by which a clearance in air grows with altitude: 1 % for each 100 m above 1000 m.
///
/// `altitude` in m. Errors: an altitude below −500 m. Source: from memory, IEC 60076-3. Example: 1500 m:
/// 1.05.
pub fn clearance_factor(altitude: f64) -> Result<f64, Domain> {
    not_negative(altitude + 500.0, "the altitude must be above -500 m")?;
    Ok(1.0 + ((altitude - 1000.0) / 100.0 * 0.01).max(0.0))
}

/// The rise over one hour of a reading, by the least-squares slope: partial discharges in C (or any unit).
///
/// `readings`: pairs of time (s) and value. The result has the unit of the value. Errors: fewer than two
/// readings or no span of time. Source: physics; the criterion: from memory, IEC 60076-3:2013. Example: 100
/// pC at 0 and 130 pC at 1800 s: 60 pC.
pub fn rise_over_one_hour(readings: &[(f64, f64)]) -> Result<f64, Domain> {
    let n = readings.len() as f64;
    let t_mean = readings.iter().map(|r| r.0).sum::<f64>() / n;
    let v_mean = readings.iter().map(|r| r.1).sum::<f64>() / n;
    let tt: f64 = readings.iter().map(|r| (r.0 - t_mean).powi(2)).sum();
    let tv: f64 = readings
        .iter()
        .map(|r| (r.0 - t_mean) * (r.1 - v_mean))
        .sum();
    Ok(3600.0 * tv / positive(tt, "there must be readings at two times or more")?)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn time_and_flux_of_the_worked_table() {
        let rows = [
            (50.0, 60.0, 3.397, 3.058),
            (75.0, 60.0, 2.265, 2.038),
            (100.0, 60.0, 1.699, 1.529),
            (120.0, 50.0, 1.416, 1.274),
            (150.0, 40.0, 1.132, 1.019),
            (200.0, 30.0, 0.849, 0.764),
            (250.0, 24.0, 0.679, 0.612),
            (400.0, 15.0, 0.425, 0.382),
            (500.0, 15.0, 0.340, 0.306),
        ];
        for (f, time, twice, enhanced) in rows {
            near(induced_test_time(50.0, f).unwrap(), time, 1e-9);
            near(
                test_flux_density(1.6987, 2.0, 50.0, f).unwrap(),
                twice,
                6e-4,
            );
            near(
                test_flux_density(1.6987, 1.8, 50.0, f).unwrap(),
                enhanced,
                6e-4,
            );
        }
        near(induced_test_time_uhv(50.0, 200.0).unwrap(), 150.0, 1e-9);
        assert!(induced_test_time(50.0, 0.0).is_err());
    }

    #[test]
    fn voltages_clearance_and_trend() {
        near(phase_test_voltage(1.58, 110e3).unwrap(), 100.34e3, 5.0);
        near(phase_test_voltage(0.4, 110e3).unwrap(), 25.40e3, 5.0);
        assert!(phase_test_voltage(1.58, 0.0).is_err());
        near(clearance_factor(1500.0).unwrap(), 1.05, 1e-12);
        near(clearance_factor(200.0).unwrap(), 1.0, 1e-12);
        near(
            rise_over_one_hour(&[(0.0, 100e-12), (1800.0, 130e-12)]).unwrap(),
            60e-12,
            1e-20,
        );
        assert!(rise_over_one_hour(&[]).is_err());
        assert!(rise_over_one_hour(&[(5.0, 1.0)]).is_err());
    }
}
