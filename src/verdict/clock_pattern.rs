//! Causes of a wrong vector group, from the voltages read with A and a joined (physics: each clock number has its
//! own pattern of voltages; how a connection error moves the clock number is arithmetic of coils).

use super::Judge;
use super::evaluate::Env;
use crate::physics::phasor::{JoinedReadings, fitting_clocks, recovered_clock, sequence_reversed};
use crate::plan::*;

/// Share of the supply within which a voltage fits (common practice, no source).
const FITS: f64 = 0.01;

impl Judge<'_> {
    /// From supply, line ratio, the four voltages and the clock number that is asked for.
    pub(super) fn clock_pattern(&self, analysis: &Analysis, env: Env<'_>) -> Vec<String> {
        let values: Vec<Option<f64>> = analysis
            .subjects
            .iter()
            .map(|subject| self.value_here(*subject, env))
            .collect();
        let [
            Some(supply),
            Some(ratio),
            Some(bb),
            Some(cc),
            Some(bc),
            Some(cb),
            Some(clock),
        ] = values.as_slice()
        else {
            return Vec::new();
        };
        let readings = JoinedReadings {
            bb: *bb,
            cc: *cc,
            bc: *bc,
            cb: *cb,
        };
        causes(*supply, *ratio, readings, clock.round() as i64)
    }
}

/// What the readings say where the plan asks for `asked`.
fn causes(supply: f64, ratio: f64, readings: JoinedReadings, asked: i64) -> Vec<String> {
    let tolerance = FITS * supply;
    let fitting = |readings| fitting_clocks(supply, ratio, readings, tolerance).unwrap_or_default();
    let found = fitting(readings);
    if let [clock] = found.as_slice() {
        let clock = i64::from(*clock);
        return if clock == asked {
            Vec::new()
        } else {
            vec![format!(
                "the readings fit clock number {clock}, asked is {asked}: {}",
                error_of((clock - asked).rem_euclid(12), asked)
            )]
        };
    }
    if sequence_reversed(readings.bb, readings.cc, tolerance) {
        // As they would read with b and c in each other's place.
        let crossed = fitting(JoinedReadings {
            bb: readings.bc,
            cc: readings.cb,
            bc: readings.bb,
            cb: readings.cc,
        });
        return match crossed.as_slice() {
            [clock] if i64::from(*clock) == asked => vec![format!(
                "with b and c in each other's place the readings fit clock number {asked}: these two leads of one side are crossed"
            )],
            [clock] => vec![format!(
                "with b and c in each other's place the readings fit clock number {clock}: two leads of one side are crossed, and that side is turned as well"
            )],
            _ => vec![
                "B to b and C to c differ, so the phase sequence of one side is reversed: two of its leads are crossed"
                    .to_owned(),
            ],
        };
    }
    if found.len() > 1 {
        let found: Vec<String> = found.iter().map(u8::to_string).collect();
        return vec![format!(
            "the readings fit clock numbers {}: use a meter of finer class, or a pair of windings of lower ratio",
            found.join(" and ")
        )];
    }
    match recovered_clock(supply, ratio, readings.bb, readings.bc, readings.cb) {
        Ok(near) => vec![format!(
            "no clock number fits (by angle {near:.2}): a terminal not joined, an unbalanced supply, or a coil of another phase"
        )],
        Err(_) => Vec::new(),
    }
}

/// Which connection error moves the clock number by `steps`.
fn error_of(steps: i64, asked: i64) -> &'static str {
    match steps {
        6 => "the coils of one side are reversed",
        4 => "the terminals of the lower side are rotated by one place",
        8 => "the terminals of the lower side are rotated by two places",
        2 | 10 if asked % 2 == 1 => "the delta (or zigzag) is closed the other way round",
        2 | 10 => "one side is reversed and its terminals are rotated",
        _ => "another connection than drawn: a star where a delta belongs, or one coil reversed",
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::physics::phasor::{TerminalPair, joined_voltage};

    fn readings(clock: u8, crossed: bool) -> JoinedReadings {
        let read = |pair| joined_voltage(clock, 400.0, 5.5, pair).unwrap();
        let [bb, cc, bc, cb] = [
            TerminalPair::BB,
            TerminalPair::CC,
            TerminalPair::BC,
            TerminalPair::CB,
        ]
        .map(read);
        if crossed {
            JoinedReadings {
                bb: bc,
                cc: cb,
                bc: bb,
                cb: cc,
            }
        } else {
            JoinedReadings { bb, cc, bc, cb }
        }
    }

    #[test]
    fn each_error_is_named() {
        for (clock, asked, words) in [
            (5, 11, "reversed"),
            (3, 11, "rotated by one place"),
            (7, 11, "rotated by two places"),
            (1, 11, "closed the other way round"),
            (2, 0, "reversed and its terminals are rotated"),
            (6, 0, "coils of one side are reversed"),
            (0, 11, "another connection"),
        ] {
            let found = causes(400.0, 5.5, readings(clock, false), asked);
            assert_eq!(found.len(), 1, "{clock} for {asked}");
            assert!(found[0].contains(words), "{clock} for {asked}: {found:?}");
        }
        assert!(causes(400.0, 5.5, readings(11, false), 11).is_empty());
    }

    #[test]
    fn crossed_leads_are_named_and_nonsense_is_not_a_clock_number() {
        let found = causes(400.0, 5.5, readings(11, true), 11);
        assert!(
            found[0].contains("these two leads of one side are crossed"),
            "{found:?}"
        );
        let found = causes(
            400.0,
            5.5,
            JoinedReadings {
                bb: 350.0,
                cc: 350.0,
                bc: 400.0,
                cb: 410.0,
            },
            11,
        );
        assert!(found[0].contains("no clock number fits"), "{found:?}");
    }
}
