//! Dissolved gases in oil: rates of rise, the ratio table and triangle 1. Not to be applied at trace level.

use super::{Domain, not_negative, positive};

/// Dissolved gases as volume fractions (µl/l times 10⁻⁶); any common unit serves, only ratios count.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Gases {
    /// H₂.
    pub hydrogen: f64,
    /// CH₄.
    pub methane: f64,
    /// C₂H₆.
    pub ethane: f64,
    /// C₂H₄.
    pub ethylene: f64,
    /// C₂H₂.
    pub acetylene: f64,
}

/// The kind of fault that dissolved gases point to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Fault {
    /// PD: partial discharges.
    PartialDischarge,
    /// D1: discharges of low energy.
    LowEnergy,
    /// D2: discharges of high energy.
    HighEnergy,
    /// T1: thermal, below 300 °C.
    ThermalLow,
    /// T2: thermal, 300 to 700 °C.
    ThermalMiddle,
    /// T3: thermal, above 700 °C.
    ThermalHigh,
    /// DT: thermal and electrical together.
    Mixed,
}

impl Fault {
    /// The usual short name: PD, D1, D2, T1, T2, T3 or DT.
    pub fn code(self) -> &'static str {
        match self {
            Self::PartialDischarge => "PD",
            Self::LowEnergy => "D1",
            Self::HighEnergy => "D2",
            Self::ThermalLow => "T1",
            Self::ThermalMiddle => "T2",
            Self::ThermalHigh => "T3",
            Self::Mixed => "DT",
        }
    }
}

/// The zone of triangle 1 (Duval) from methane, ethylene and acetylene in any common unit.
///
/// Errors: a negative gas, all three zero. Source: corner points from an open program, rules derived from
/// them. Example: 10 500, 17 700, 750 gives T3.
pub fn triangle_zone(methane: f64, ethylene: f64, acetylene: f64) -> Result<Fault, Domain> {
    let what = "a gas content must not be negative";
    let sum = not_negative(methane, what)?
        + not_negative(ethylene, what)?
        + not_negative(acetylene, what)?;
    let sum = positive(sum, "there is no methane, ethylene or acetylene")?;
    // Shares such as 0.98 can't be met exactly by division: a share within 1e-9 of a border counts as on it.
    let share = |gas: f64| 100.0 * gas / sum;
    let (ch4, c2h4, c2h2) = (share(methane), share(ethylene), share(acetylene));
    let least = |x: f64, limit: f64| x >= limit - 1e-9;
    Ok(if least(ch4, 98.0) {
        Fault::PartialDischarge
    } else if !least(c2h2, 4.0) && !least(c2h4, 20.0) {
        Fault::ThermalLow
    } else if !least(c2h2, 4.0) && !least(c2h4, 50.0) {
        Fault::ThermalMiddle
    } else if !least(c2h2, 15.0) && least(c2h4, 50.0) {
        Fault::ThermalHigh
    } else if least(c2h2, 13.0) && !least(c2h4, 23.0) {
        Fault::LowEnergy
    } else if (least(c2h2, 13.0) && !least(c2h4, 40.0)) || least(c2h2, 29.0) {
        Fault::HighEnergy
    } else {
        Fault::Mixed
    })
}

/// The faults whose rows of the ratio table all hold; D1 and D2 may both hold.
///
/// A ratio over zero counts as without bound, zero over zero fits no row but one where the ratio doesn't
/// matter. Errors: a negative gas. Source: from memory, IEC 60599 Table 1. Example: 440, 89, 19, 304, 757
/// gives D1 and D2.
pub fn ratio_faults(gases: &Gases) -> Result<Vec<Fault>, Domain> {
    let what = "a gas content must not be negative";
    let ratio = |top: f64, bottom: f64| {
        let (top, bottom) = (not_negative(top, what)?, not_negative(bottom, what)?);
        Ok(top / bottom)
    };
    let acetylene = ratio(gases.acetylene, gases.ethylene)?;
    let methane = ratio(gases.methane, gases.hydrogen)?;
    let ethylene = ratio(gases.ethylene, gases.ethane)?;
    let rows = [
        (Fault::PartialDischarge, methane < 0.1 && ethylene < 0.2),
        (
            Fault::LowEnergy,
            acetylene > 1.0 && (0.1..=0.5).contains(&methane) && ethylene > 1.0,
        ),
        (
            Fault::HighEnergy,
            (0.6..=2.5).contains(&acetylene) && (0.1..=1.0).contains(&methane) && ethylene > 2.0,
        ),
        (Fault::ThermalLow, methane > 1.0 && ethylene < 1.0),
        (
            Fault::ThermalMiddle,
            acetylene < 0.1 && methane > 1.0 && (1.0..=4.0).contains(&ethylene),
        ),
        (
            Fault::ThermalHigh,
            acetylene < 0.2 && methane > 1.0 && ethylene > 4.0,
        ),
    ];
    Ok(rows
        .into_iter()
        .filter(|(_, holds)| *holds)
        .map(|(fault, _)| fault)
        .collect())
}

/// The rate of rise (1/s) of a gas content between two samples.
///
/// `before`, `after`: volume fractions; `time` between them in s. Errors: a time not above zero. Source:
/// physics. Example: 4e-6 to 12e-6 in 36 000 s: 2.222e-10 1/s, which is 0.80 µl/l per hour.
pub fn rate_of_rise(before: f64, after: f64, time: f64) -> Result<f64, Domain> {
    Ok((after - before) / positive(time, "the time must be above zero")?)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn borders_of_the_triangle() {
        for (ch4, c2h4, c2h2, zone) in [
            (98.0, 1.0, 1.0, "PD"),
            (97.9, 1.1, 1.0, "T1"),
            (80.0, 16.1, 3.9, "T1"),
            (77.0, 20.0, 3.0, "T2"),
            (46.0, 50.0, 4.0, "T3"),
            (45.9, 50.0, 4.1, "T3"),
            (36.0, 50.0, 14.0, "T3"),
            (35.0, 50.0, 15.0, "DT"),
            (64.0, 23.0, 13.0, "D2"),
            (64.1, 22.9, 13.0, "D1"),
            (31.0, 40.0, 29.0, "D2"),
            (35.0, 40.0, 25.0, "DT"),
            (0.0, 71.0, 29.0, "D2"),
            (87.0, 0.0, 13.0, "D1"),
        ] {
            assert_eq!(
                triangle_zone(ch4, c2h4, c2h2).unwrap().code(),
                zone,
                "{ch4} {c2h4} {c2h2}"
            );
        }
        assert!(triangle_zone(0.0, 0.0, 0.0).is_err() && triangle_zone(-1.0, 2.0, 0.0).is_err());
    }

    #[test]
    fn published_cases() {
        let rows: [([f64; 5], &str, &str); 10] = [
            ([32930.0, 2397.0, 157.0, 0.0, 0.0], "PD", "PD"),
            ([92600.0, 10200.0, 0.0, 0.0, 0.0], "PD", ""),
            ([78.0, 20.0, 11.0, 13.0, 28.0], "D1", "D1"),
            ([1230.0, 163.0, 27.0, 233.0, 692.0], "D1", "D1"),
            ([440.0, 89.0, 19.0, 304.0, 757.0], "D2", "D1 D2"),
            ([2850.0, 1115.0, 138.0, 1987.0, 3675.0], "D2", "D1 D2"),
            ([6709.0, 10500.0, 1400.0, 17700.0, 750.0], "T3", "T3"),
            ([2500.0, 10500.0, 4790.0, 13500.0, 6.0], "T3", "T2"),
            ([3420.0, 7870.0, 1500.0, 6990.0, 33.0], "T2", "T3"),
            ([12.0, 18.0, 4.0, 4.0, 0.0], "T1", "T2"),
        ];
        for ([hydrogen, methane, ethane, ethylene, acetylene], zone, table) in rows {
            let gases = Gases {
                hydrogen,
                methane,
                ethane,
                ethylene,
                acetylene,
            };
            assert_eq!(
                triangle_zone(methane, ethylene, acetylene).unwrap().code(),
                zone
            );
            let faults = ratio_faults(&gases).unwrap();
            let codes: Vec<_> = faults.into_iter().map(Fault::code).collect();
            assert_eq!(codes.join(" "), table, "{gases:?}");
        }
        near(
            rate_of_rise(4e-6, 12e-6, 36_000.0).unwrap() * 3.6e9,
            0.80,
            1e-9,
        );
    }
}
