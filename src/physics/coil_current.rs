//! Currents in the coils of a unit while power passes between two of its windings.

use super::phasor::{Connection, Group};
use super::{Domain, positive};

/// The current (A) in a coil of winding `n` while the apparent power `power` (VA) passes between the windings
/// `from` and `to`, whose line voltages are `u_from` and `u_to` (V); 0 for a winding that carries none.
///
/// Windings are numbered from 0 as in [`Group::winding`]; the order of `from` and `to` does not matter. In an
/// auto-connected pair winding 0 is the series winding and the `a` winding the common one: between the two the
/// common winding carries the difference of the line currents; from winding 0 to a third winding series and common
/// winding carry the same current; from the common winding to a third the series winding carries none.
///
/// Errors: a number without a winding, the same winding twice, a power or voltage not above zero. Source: physics
/// (line and phase currents, balance of ampere-turns). Example: YNd11, 40 MVA, 110/20 kV: 209.95 A in the star,
/// 666.67 A in the delta.
pub fn coil_current(
    group: &Group,
    n: usize,
    from: usize,
    to: usize,
    power: f64,
    u_from: f64,
    u_to: f64,
) -> Result<f64, Domain> {
    let none = Domain("the vector group has no such winding");
    let connection = |number: usize| group.winding(number).map(|w| w.connection).ok_or(none);
    connection(n)?;
    connection(from)?;
    connection(to)?;
    if from == to {
        return Err(Domain("power passes between two windings, not within one"));
    }
    let power = positive(power, "the power must be above zero")?;
    let single = group.higher.connection == Connection::Single;
    let phases = if single { 1.0 } else { 3.0_f64.sqrt() };
    let line = |u: f64| Ok(power / (phases * positive(u, "the voltages must be above zero")?));
    let line_of = |number: usize| line(if number == from { u_from } else { u_to });
    let auto = group
        .lower
        .iter()
        .position(|w| w.connection == Connection::Auto)
        .map(|index| index + 1);
    if let Some(common) = auto.filter(|common| n == 0 || n == *common) {
        let (series_in, common_in) = (from == 0 || to == 0, from == common || to == common);
        return match (series_in, common_in) {
            (true, true) if n == 0 => line_of(0),
            (true, true) => Ok((line_of(common)? - line_of(0)?).abs()),
            // The whole length of winding 0 is in circuit, the common part too.
            (true, false) => line_of(0),
            (false, true) if n == common => line_of(common),
            _ => Ok(0.0),
        };
    }
    if n != from && n != to {
        return Ok(0.0);
    }
    let line = line_of(n)?;
    Ok(match connection(n)? {
        Connection::Delta => line / 3.0_f64.sqrt(),
        _ => line,
    })
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::super::phasor::parse_group;
    use super::*;

    #[test]
    fn separate_windings() {
        let group = parse_group("YNd11").unwrap();
        let current = |n| coil_current(&group, n, 0, 1, 40e6, 110e3, 20e3).unwrap();
        near(current(0), 209.946, 5e-4);
        near(current(1), 666.667, 5e-4);
        let back = coil_current(&group, 1, 1, 0, 40e6, 20e3, 110e3).unwrap();
        near(back, 666.667, 5e-4);
        assert!(coil_current(&group, 2, 0, 1, 40e6, 110e3, 20e3).is_err());
        assert!(coil_current(&group, 0, 0, 0, 40e6, 110e3, 20e3).is_err());
    }

    #[test]
    fn an_auto_connected_unit_keeps_the_balance_of_ampere_turns() {
        // 598 turns in series, 398 common, 69 in the third winding. The coil voltages are in proportion to the
        // turns, so the ampere-turns of each leg must balance exactly.
        let [whole, common, third] = [996.0, 398.0, 69.0].map(|turns| 200.0 * turns);
        let root = 3.0_f64.sqrt();
        let single = ("Ia0i0", [whole, common, third]);
        let three_phase = ("YNa0d11", [root * whole, root * common, third]);
        for (group, u) in [single, three_phase] {
            let group = parse_group(group).unwrap();
            let turns = |n, from: usize, to: usize| {
                let current = coil_current(&group, n, from, to, 100e6, u[from], u[to]).unwrap();
                let back = coil_current(&group, n, to, from, 100e6, u[to], u[from]).unwrap();
                near(back, current, 1e-9);
                [598.0, 398.0, 69.0][n] * current
            };
            assert!(turns(0, 0, 1) > 0.0 && turns(2, 0, 2) > 0.0 && turns(2, 1, 2) > 0.0);
            near(turns(0, 0, 1), turns(1, 0, 1), 1e-6);
            near(turns(2, 0, 1), 0.0, 0.0);
            near(turns(0, 0, 2) + turns(1, 0, 2), turns(2, 0, 2), 1e-6);
            near(turns(1, 1, 2), turns(2, 1, 2), 1e-6);
            near(turns(0, 1, 2), 0.0, 0.0);
        }
    }

    #[test]
    fn a_third_winding_carries_none_and_a_zigzag_carries_its_line_current() {
        let group = parse_group("YNyn0+d").unwrap();
        near(
            coil_current(&group, 2, 0, 1, 40e6, 110e3, 20e3).unwrap(),
            0.0,
            0.0,
        );
        let group = parse_group("Dzn0").unwrap();
        let current = coil_current(&group, 1, 0, 1, 1e6, 10e3, 400.0).unwrap();
        near(current, 1443.376, 5e-4);
        for (power, u) in [(0.0, 400.0), (1e6, 0.0)] {
            assert!(coil_current(&group, 1, 0, 1, power, 10e3, u).is_err());
        }
    }
}
