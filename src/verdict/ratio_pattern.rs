//! Causes of a wrong voltage ratio: arithmetic of turns (physics; derived from ratio = turns over turns).

use super::Judge;
use super::evaluate::Env;
use crate::plan::*;
use crate::record::{index_text, slots};

/// A deviation this near to a whole number of turns is called one (common practice, no source).
const WHOLE_TURN: f64 = 0.15;

impl Judge<'_> {
    /// The turns of the two windings that were measured against each other, the upper one first: those that the
    /// analysis names, else all in their order.
    fn turns_of_both(&self, analysis: &Analysis, env: Env<'_>) -> Vec<(String, f64)> {
        let Some(subject) = analysis.subjects.get(1).copied() else {
            return Vec::new();
        };
        let sets = self.subject_sets(subject);
        let all: Vec<(String, f64)> = (0..slots(&self.record.domains, sets))
            .filter_map(|slot| {
                let name = index_text(&self.record.domains, sets, slot);
                let name = name.trim_matches(['[', ']']).to_owned();
                self.subject_value(subject, slot).map(|turns| (name, turns))
            })
            .collect();
        let named: Vec<Option<String>> = analysis.subjects[2..]
            .iter()
            .map(|subject| self.name_here(*subject, env))
            .collect();
        let [Some(upper), Some(lower)] = named.as_slice() else {
            return all;
        };
        [upper, lower]
            .into_iter()
            .filter_map(|name| all.iter().find(|(known, _)| known == name).cloned())
            .collect()
    }

    /// From the deviation of the voltage ratio over the tappings of the failing phase.
    pub(super) fn ratio_pattern(&self, analysis: &Analysis, env: Env<'_>) -> Vec<String> {
        let Some(deviation) = analysis.subjects.first() else {
            return Vec::new();
        };
        let turns = self.turns_of_both(analysis, env);
        let values = self.along_taps(*deviation, env);
        if values.len() < 3 {
            return whole_turns(&turns, values.first().map(|(_, value)| *value));
        }
        let mut causes = Vec::new();
        let count = values.len() as f64;
        let mean = values.iter().map(|(_, value)| value).sum::<f64>() / count;
        let spread = values
            .iter()
            .map(|(_, value)| (value - mean).abs())
            .fold(0.0, f64::max);
        let wrong: Vec<&(i64, f64)> = values
            .iter()
            .filter(|(_, value)| value.abs() > 0.003)
            .collect();
        if let Some(pair) = exchanged(&values) {
            causes.push(format!(
                "tappings {} and {} deviate by about one step in opposite directions while the others are right: two selector leads are exchanged",
                pair.0, pair.1
            ));
        }
        if let Some(end) = one_position_off(&values) {
            causes.push(format!(
                "every tapping but {end} deviates by about one step, all in the same direction: drive and selector are coupled one position off"
            ));
        }
        let slope = slope(&values);
        let reach = values
            .last()
            .map_or(0.0, |(last, _)| (*last - values[0].0) as f64);
        if (slope * reach).abs() > 0.05 && crosses_zero(&values) {
            causes.push(
                "right near the principal tapping and wrong in proportion to the distance from it: the tappings are numbered from the other end, or the change-over leads of a reversing winding are exchanged"
                    .to_owned(),
            );
        }
        if spread < 0.0008 && mean.abs() > 0.0008 {
            let whole = whole_turns(&turns, Some(mean));
            if whole.is_empty() {
                causes.push(format!(
                    "the same {:+.2} % at every tapping: the winding without tappings has a wrong number of turns in this phase",
                    mean * 100.0
                ));
            }
            causes.extend(whole);
        } else if causes.is_empty() && wrong.len() == values.len() {
            causes.extend(whole_turns(&turns, Some(mean)));
        }
        let constant = values.iter().map(|(_, value)| 1.0 + value).sum::<f64>() / count;
        for (factor, words) in [
            (
                3f64.sqrt(),
                "a factor of √3: line and phase voltages are mixed up, or the connection is entered wrong",
            ),
            (
                1.0 / 3f64.sqrt(),
                "a factor of 1/√3: line and phase voltages are mixed up, or the connection is entered wrong",
            ),
            (
                2.0,
                "a factor of 2: measured on another limb, or half a winding",
            ),
            (
                0.5,
                "a factor of ½: measured on another limb, or half a winding",
            ),
        ] {
            if (constant / factor - 1.0).abs() < 0.01 {
                causes.insert(0, words.to_owned());
            }
        }
        if causes.is_empty() && wrong.len() <= 2 {
            causes.push("only single tappings: look at the selector contact and the lead of that tapping, and measure it again".to_owned());
        }
        causes
    }
}

fn slope(values: &[(i64, f64)]) -> f64 {
    let count = values.len() as f64;
    let mean_x = values.iter().map(|(x, _)| *x as f64).sum::<f64>() / count;
    let mean_y = values.iter().map(|(_, y)| y).sum::<f64>() / count;
    let (mut up, mut down) = (0.0, 0.0);
    for (x, y) in values {
        up += (*x as f64 - mean_x) * (y - mean_y);
        down += (*x as f64 - mean_x).powi(2);
    }
    if down == 0.0 { 0.0 } else { up / down }
}

fn crosses_zero(values: &[(i64, f64)]) -> bool {
    values.iter().any(|(_, value)| value.abs() < 0.003)
}

/// Two neighbouring tappings with opposite deviations while most others are right.
fn exchanged(values: &[(i64, f64)]) -> Option<(i64, i64)> {
    let right = values
        .iter()
        .filter(|(_, value)| value.abs() < 0.003)
        .count();
    if right * 2 < values.len() {
        return None;
    }
    values.windows(2).find_map(|pair| {
        let [(first, a), (second, b)] = pair else {
            return None;
        };
        let opposite = a.signum() != b.signum() && a.abs() > 0.004 && b.abs() > 0.004;
        opposite.then_some((*first, *second))
    })
}

/// Which winding a deviation of a whole number of turns would belong to. The higher voltage's turns stand
/// above the line, so turns too many there raise the ratio; turns too many below it lower it.
fn whole_turns(turns: &[(String, f64)], deviation: Option<f64>) -> Vec<String> {
    let Some(deviation) = deviation else {
        return Vec::new();
    };
    let mut found: Vec<(f64, String)> = Vec::new();
    for (index, (name, count)) in turns.iter().enumerate() {
        // ratio = upper / lower: upper·(1+d) turns, or lower/(1+d).
        let off = if index == 0 {
            count * deviation
        } else {
            count / (1.0 + deviation) - count
        };
        let whole = off.round();
        if whole == 0.0 || whole.abs() > 20.0 || (off - whole).abs() >= WHOLE_TURN {
            continue;
        }
        let many = if whole > 0.0 { "too many" } else { "too few" };
        let turns_word = if whole.abs() == 1.0 { "turn" } else { "turns" };
        found.push((
            (off - whole).abs() + whole.abs() * 0.05,
            format!(
                "{} {turns_word} {many} in {name} ({off:+.2} turns of {count:.0} by arithmetic)",
                whole.abs()
            ),
        ));
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found.into_iter().map(|(_, text)| text).collect()
}

/// The tapping at one end that is right while all others deviate alike, by about one step.
fn one_position_off(values: &[(i64, f64)]) -> Option<i64> {
    let (first, rest) = values.split_first()?;
    let alike = |end: &(i64, f64), others: &[(i64, f64)]| {
        let mean = others.iter().map(|(_, value)| value).sum::<f64>() / others.len() as f64;
        let near =
            |value: f64| value.signum() == mean.signum() && (value / mean - 1.0).abs() < 0.35;
        (others.len() >= 3
            && end.1.abs() < 0.003
            && mean.abs() > 0.004
            && others.iter().all(|(_, value)| near(*value)))
        .then_some(end.0)
    };
    alike(first, rest).or_else(|| {
        let (last, others) = values.split_last()?;
        alike(last, others)
    })
}
