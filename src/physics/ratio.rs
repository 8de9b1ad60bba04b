//! Voltage ratio: nominal values at each tapping, turns ratios from line voltages, and errors in whole turns.

use super::phasor::{Connection, Group};
use super::{Domain, not_negative, positive};

/// The voltage (V) of one coil of a winding whose line voltage is `line` (V). For a zigzag winding a coil is
/// one of the two half-coils of a phase.
///
/// Errors: a line voltage not above zero. Source: physics. Example: 110 kV in star: 63 508.5 V.
pub fn coil_voltage(connection: Connection, line: f64) -> Result<f64, Domain> {
    let line = positive(line, "the line voltage must be above zero")?;
    Ok(match connection {
        Connection::Star | Connection::Auto => line / 3.0_f64.sqrt(),
        Connection::Delta | Connection::Single => line,
        Connection::Zigzag => line / 3.0,
    })
}

/// The ratio of coil voltages, which is the turns ratio, of the first pair of a group.
///
/// `u_higher`, `u_lower`: line voltages in V. For a zigzag winding the turns are those of one half-coil; for
/// an auto-connection the ratio is all turns in series over the common turns, provided the higher winding is
/// in star or single-phase. Errors: a voltage not above zero, a group without a lower winding.
///
/// Source: physics. Example: YNd11, 110/21 kV: 3.02422.
pub fn phase_ratio(group: &Group, u_higher: f64, u_lower: f64) -> Result<f64, Domain> {
    phase_ratio_between(group, 0, 1, u_higher, u_lower)
}

/// As [`phase_ratio`] for any two windings of a group, numbered 0 for the winding of highest voltage, 1 for
/// the first lower one and so on.
///
/// `u_from`, `u_to`: their line voltages in V. Errors: as [`phase_ratio`], and a number without a winding.
///
/// Source: physics. Example: YNyn0d11, windings 1 and 2, 36.3731/12 kV: 1.75.
pub fn phase_ratio_between(
    group: &Group,
    from: usize,
    to: usize,
    u_from: f64,
    u_to: f64,
) -> Result<f64, Domain> {
    let none = Domain("the vector group has no such winding");
    let from = group.winding(from).ok_or(none)?.connection;
    let to = group.winding(to).ok_or(none)?.connection;
    let coil = |own: Connection| match own {
        Connection::Auto => group.higher.connection,
        _ => own,
    };
    Ok(coil_voltage(coil(from), u_from)? / coil_voltage(coil(to), u_to)?)
}

/// At which end of its range a tapped winding stands on position 1. It must be recorded, never assumed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FirstPosition {
    /// Position 1 has most turns, the highest voltage.
    Highest,
    /// Position 1 has fewest turns, the lowest voltage.
    Lowest,
}

/// The nominal voltage (V) of a tapped winding at a position.
///
/// `rated`: voltage at the principal position in V; `step`: tapping step as a fraction (0.0125 for 1.25 %);
/// `principal`, `position`: position numbers counted from 1; `first`: which end position 1 is. For a tapped
/// lower winding use the result as the lower voltage. Errors: a rated voltage not above zero, a position so
/// far from the principal one that no voltage is left.
///
/// Source: physics. Example: 110 kV, 1.25 %, principal 9, position 1 highest: 121 kV at 1, 99 kV at 17.
pub fn tapping_voltage(
    rated: f64,
    step: f64,
    principal: f64,
    position: f64,
    first: FirstPosition,
) -> Result<f64, Domain> {
    let rated = positive(rated, "the rated voltage must be above zero")?;
    let steps = match first {
        FirstPosition::Highest => principal - position,
        FirstPosition::Lowest => position - principal,
    };
    positive(
        rated * (1.0 + steps * step),
        "the position lies outside any possible tapping range",
    )
}

/// The line ratio of an auto-connection tapped at its neutral, where each step also changes the volts per
/// turn.
///
/// `series`, `common`, `tapped`: turns; `tapped` is positive when added to the common turns, negative when
/// taken away. Errors: no common turns left. Source: physics. Example: 400 series, 600 common, 30 added:
/// 1.634921.
pub fn neutral_tapped_ratio(series: f64, common: f64, tapped: f64) -> Result<f64, Domain> {
    let low = positive(common + tapped, "no common turns are left at this tapping")?;
    Ok((series + low) / low)
}

/// The deviation of a measured ratio from its expected value, as a fraction.
///
/// Errors: an expected ratio not above zero. Source: physics. Example: 699/210 against 3.32664: +0.00058.
pub fn ratio_deviation(measured: f64, expected: f64) -> Result<f64, Domain> {
    Ok(measured / positive(expected, "the expected ratio must be above zero")? - 1.0)
}

/// The permitted deviation of the ratio at the principal tapping of the first pair, as a fraction: the
/// smaller of 0.005 and a tenth of the measured short-circuit impedance.
///
/// `impedance`: fraction (0.12 for 12 %). Errors: a negative impedance.
///
/// Source: IEC 60076-1:1993 Table 1 as seen in a public excerpt; the current edition from memory. Example: 12
/// % gives 0.005, 4 % gives 0.004.
pub fn ratio_tolerance(impedance: f64) -> Result<f64, Domain> {
    Ok((not_negative(impedance, "the impedance must not be negative")? / 10.0).min(0.005))
}

/// Whether one turn of a winding is more than 0.5 % of its voltage, so that the nearest whole turn is
/// accepted instead of ±0.5 %.
///
/// `turns`: turns of the winding. Errors: turns not above zero. Source: from memory, IEEE C57.12.00 clause
/// 9.1. Example: 105 turns yes, 210 turns no.
pub fn nearest_turn_applies(turns: f64) -> Result<bool, Domain> {
    Ok(1.0 / positive(turns, "the number of turns must be above zero")? > 0.005)
}

/// The ratio deviation (fraction) caused by `extra` turns on the higher winding.
///
/// `turns`: turns in circuit. Errors: turns not above zero. Source: physics. Example: 635 and 1: +0.001575.
pub fn deviation_of_higher_turns(turns: f64, extra: f64) -> Result<f64, Domain> {
    Ok(extra / positive(turns, "the number of turns must be above zero")?)
}

/// The ratio deviation (fraction) caused by `extra` turns on the lower winding.
///
/// `turns`: right number of turns. Errors: no turns left. Source: physics. Example: 210 and 1: −0.004739.
pub fn deviation_of_lower_turns(turns: f64, extra: f64) -> Result<f64, Domain> {
    let turns = positive(turns, "the number of turns must be above zero")?;
    Ok(turns / positive(turns + extra, "no turns are left")? - 1.0)
}

/// How many turns too many the higher winding would have if it alone caused a ratio deviation.
///
/// `deviation`: fraction; `turns`: turns in circuit. Errors: turns not above zero. Source: physics.
/// Example: +0.001575 on 635 turns: 1.000.
pub fn extra_higher_turns(deviation: f64, turns: f64) -> Result<f64, Domain> {
    Ok(deviation * positive(turns, "the number of turns must be above zero")?)
}

/// How many turns too many the lower winding would have if it alone caused a ratio deviation.
///
/// `deviation`: fraction above −1; `turns`: right number of turns. Errors: as stated. Source: physics.
/// Example: −0.004739 on 210 turns: 1.000.
pub fn extra_lower_turns(deviation: f64, turns: f64) -> Result<f64, Domain> {
    let turns = positive(turns, "the number of turns must be above zero")?;
    Ok(turns / positive(1.0 + deviation, "the deviation must be above -1")? - turns)
}

/// The whole number of turns, other than 0, that a turn error is within 0.15 of; `None` if it is near none.
///
/// Source: physics; the bound of 0.15: common practice, no source. Example: 0.97 gives 1, 0.4 gives none.
pub fn whole_turns(extra: f64) -> Option<i64> {
    let whole = extra.round();
    let near =
        extra.is_finite() && whole != 0.0 && whole.abs() < 1.0e9 && (extra - whole).abs() < 0.15;
    near.then_some(whole as i64)
}

/// The relative error of a turn count against the rated voltages: turns ratio over nominal ratio, less 1.
///
/// `turns_higher`, `turns_lower`: turns; `nominal`: nominal ratio of coil voltages. Errors: a number not
/// above zero. Source: physics. Example: 912/287 against 110 kV star to 20 kV delta: +0.00071608.
pub fn turns_ratio_error(turns_higher: f64, turns_lower: f64, nominal: f64) -> Result<f64, Domain> {
    let lower = positive(turns_lower, "the number of turns must be above zero")?;
    ratio_deviation(turns_higher / lower, nominal)
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::super::phasor::parse_group;
    use super::*;

    fn ratio(group: &str, higher: f64, lower: f64) -> f64 {
        phase_ratio(&parse_group(group).unwrap(), higher, lower).unwrap()
    }

    #[test]
    fn nominal_ratio_at_every_tapping_of_the_specimen() {
        let rows = [
            (1.0, 121_000.0, 3.32664),
            (2.0, 119_625.0, 3.28883),
            (5.0, 115_500.0, 3.17543),
            (8.0, 111_375.0, 3.06202),
            (9.0, 110_000.0, 3.02422),
            (10.0, 108_625.0, 2.98641),
            (13.0, 104_500.0, 2.87300),
            (16.0, 100_375.0, 2.75960),
            (17.0, 99_000.0, 2.72179),
        ];
        for (position, volts, nominal) in rows {
            let u = tapping_voltage(110e3, 0.0125, 9.0, position, FirstPosition::Highest).unwrap();
            near(u, volts, 1e-6);
            near(ratio("YNd11", u, 21e3), nominal, 5e-6);
        }
        near(
            tapping_voltage(110e3, 0.0125, 9.0, 1.0, FirstPosition::Lowest).unwrap(),
            99e3,
            1e-6,
        );
        assert!(tapping_voltage(110e3, 0.0125, 9.0, 100.0, FirstPosition::Highest).is_err());
        near(
            ratio_deviation(699.0 / 210.0, ratio("YNd11", 121e3, 21e3)).unwrap(),
            0.00058,
            5e-6,
        );
    }

    #[test]
    fn every_connection() {
        let s = 3.0_f64.sqrt();
        near(ratio("Yy0", 6.0, 2.0), 3.0, 1e-12);
        near(ratio("Dd0", 6.0, 2.0), 3.0, 1e-12);
        near(ratio("Ii0", 6.0, 2.0), 3.0, 1e-12);
        near(ratio("YNa0d11", 6.0, 2.0), 3.0, 1e-12);
        near(ratio("Ia0", 6.0, 2.0), 3.0, 1e-12);
        near(ratio("Yd1", 6.0, 2.0), 3.0 / s, 1e-12);
        near(ratio("Dyn11", 6.0, 2.0), 3.0 * s, 1e-12);
        near(ratio("Yzn11", 6.0, 2.0), 3.0 * s, 1e-12);
        near(ratio("Dz0", 6.0, 2.0), 9.0, 1e-12);
        let group = parse_group("YNyn0d11").unwrap();
        near(
            phase_ratio_between(&group, 1, 2, 36_373.1, 12e3).unwrap(),
            1.75,
            1e-5,
        );
        assert!(phase_ratio_between(&group, 0, 3, 1.0, 1.0).is_err());
        assert!(phase_ratio(&parse_group("ZN").unwrap(), 1.0, 1.0).is_err());
        near(
            neutral_tapped_ratio(400.0, 600.0, 30.0).unwrap(),
            1.634921,
            5e-7,
        );
    }

    #[test]
    fn tolerances_and_whole_turns() {
        near(ratio_tolerance(0.12).unwrap(), 0.005, 1e-15);
        near(ratio_tolerance(0.04).unwrap(), 0.004, 1e-15);
        assert!(nearest_turn_applies(105.0).unwrap() && !nearest_turn_applies(210.0).unwrap());
        near(
            deviation_of_lower_turns(210.0, 1.0).unwrap(),
            -0.00474,
            5e-6,
        );
        near(
            deviation_of_lower_turns(210.0, -1.0).unwrap(),
            0.00478,
            6e-6,
        );
        near(
            deviation_of_higher_turns(635.0, 1.0).unwrap(),
            0.001575,
            5e-7,
        );
        near(
            extra_lower_turns(deviation_of_lower_turns(210.0, 1.0).unwrap(), 210.0).unwrap(),
            1.0,
            1e-12,
        );
        near(extra_higher_turns(0.001575, 635.0).unwrap(), 1.0, 1e-3);
        assert_eq!(
            (
                whole_turns(0.97),
                whole_turns(-2.1),
                whole_turns(0.4),
                whole_turns(0.1)
            ),
            (Some(1), Some(-2), None, None)
        );
        assert_eq!(whole_turns(f64::NAN), None);
        near(
            turns_ratio_error(912.0, 287.0, ratio("YNd11", 110e3, 20e3)).unwrap(),
            7.1608e-4,
            1e-7,
        );
    }
}
