//! Causes of a wrong vector group, from the voltages read with A and a joined (physics: each clock number has its
//! own pattern of voltages; how a connection error moves the clock number is arithmetic of coils).

use super::Judge;
use super::evaluate::Env;
use crate::physics::phasor::{JoinedReadings, fitting_clocks, recovered_clock, sequence_reversed};
use crate::plan::*;
use std::f64::consts::PI;

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
    if found.is_empty() {
        let fits = |expected: JoinedReadings| {
            let pairs = [
                (expected.bb, readings.bb),
                (expected.cc, readings.cc),
                (expected.bc, readings.bc),
                (expected.cb, readings.cb),
            ];
            pairs.iter().all(|(a, b)| (a - b).abs() <= tolerance)
        };
        let crossings = [(1, 2), (0, 1), (0, 2)];
        for (one, other) in crossings {
            if fits(with_leads_crossed(supply, ratio, asked, one, other)) {
                return vec![format!(
                    "with {} and {} in each other's place the readings fit clock number {asked}: these two leads of one side are crossed",
                    LETTERS[one], LETTERS[other]
                )];
            }
        }
        for (coil, letter) in LETTERS.iter().enumerate() {
            if fits(with_coil_reversed(supply, ratio, asked, coil)) {
                return vec![format!(
                    "the readings are those of clock number {asked} with coil {letter} of a star turned round"
                )];
            }
        }
        for clock in 0..12 {
            if fits(with_leads_crossed(supply, ratio, clock, 1, 2)) {
                return vec![format!(
                    "with b and c in each other's place the readings fit clock number {clock}: two leads of one side are crossed, and that side is turned as well"
                )];
            }
        }
        if sequence_reversed(readings.bb, readings.cc, tolerance) {
            return vec![
                "B to b and C to c differ: two leads of one side are crossed, or one coil is turned round"
                    .to_owned(),
            ];
        }
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

/// The terminals of the lower side.
const LETTERS: [&str; 3] = ["a", "b", "c"];

/// What is read when the three phases of the lower side stand at these points (V) and A and a are joined.
fn read(supply: f64, lower: [(f64, f64); 3]) -> JoinedReadings {
    let upper = phases(supply, 0.0);
    let place = |points: &[(f64, f64); 3], at: usize| {
        (points[at].0 - points[0].0, points[at].1 - points[0].1)
    };
    let between = |high: usize, low: usize| {
        let (a, b) = (place(&upper, high), place(&lower, low));
        (a.0 - b.0).hypot(a.1 - b.1)
    };
    JoinedReadings {
        bb: between(1, 1),
        cc: between(2, 2),
        bc: between(1, 2),
        cb: between(2, 1),
    }
}

/// The ends of three phases about their star point, for a line voltage and a lag in rad.
fn phases(line: f64, lag: f64) -> [(f64, f64); 3] {
    [0.0, 1.0, 2.0].map(|phase| {
        let angle = -2.0 * PI / 3.0 * phase - lag;
        let length = line / 3.0_f64.sqrt();
        (length * angle.cos(), length * angle.sin())
    })
}

/// As it reads with two leads of the lower side in each other's place.
fn with_leads_crossed(
    supply: f64,
    ratio: f64,
    clock: i64,
    one: usize,
    other: usize,
) -> JoinedReadings {
    let mut lower = phases(supply / ratio, clock as f64 * PI / 6.0);
    lower.swap(one, other);
    read(supply, lower)
}

/// As it reads with one coil of a star on the lower side turned round.
fn with_coil_reversed(supply: f64, ratio: f64, clock: i64, coil: usize) -> JoinedReadings {
    let mut lower = phases(supply / ratio, clock as f64 * PI / 6.0);
    lower[coil] = (-lower[coil].0, -lower[coil].1);
    read(supply, lower)
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
        for (one, other, words) in [(0, 1, "a and b"), (0, 2, "a and c"), (1, 2, "b and c")] {
            for asked in [0, 1, 5, 6, 11] {
                let found = causes(
                    400.0,
                    5.5,
                    with_leads_crossed(400.0, 5.5, asked, one, other),
                    asked,
                );
                assert!(found[0].contains(words), "{words} for {asked}: {found:?}");
            }
        }
        for (coil, letter) in LETTERS.iter().enumerate() {
            let found = causes(400.0, 5.5, with_coil_reversed(400.0, 5.5, 0, coil), 0);
            assert!(found[0].contains(&format!("coil {letter}")), "{found:?}");
        }
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
