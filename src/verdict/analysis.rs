//! Causes: what the pattern of the readings says of a failing check, most likely first.

use super::Judge;
use super::evaluate::Env;
use crate::plan::value::Value;
use crate::plan::*;
use crate::record::{index_text, slots};

/// A deviation this near to a whole number of turns is called one (common practice, no source).
const WHOLE_TURN: f64 = 0.15;

impl Judge<'_> {
    /// Runs an analysis for one failing instance.
    pub(super) fn analyse(&self, analysis: &Analysis, env: Env<'_>) -> Vec<String> {
        match analysis.kind {
            AnalysisKind::RatioPattern => self.ratio_pattern(analysis, env),
            AnalysisKind::PhasePattern => self.phase_pattern(analysis, env),
        }
    }

    fn subject_sets(&self, subject: Subject) -> &[SetId] {
        match subject {
            Subject::Reading(id) => &self.plan.readings[id.index()].indices,
            Subject::Calc(id) => &self.plan.calcs[id.index()].indices,
            Subject::Design(id) => &self.plan.design[id.index()].indices,
        }
    }

    fn subject_value(&self, subject: Subject, slot: usize) -> Option<f64> {
        let outcome = match subject {
            Subject::Reading(id) => self.evaluator.reading_value(id, slot),
            Subject::Calc(id) => self.evaluator.calc(id, slot),
            Subject::Design(id) => {
                let entry = self.evaluator.design_entry(id, slot)?;
                return match &entry.value {
                    crate::record::Recorded::Value(Value::Quantity(quantity)) => {
                        Some(quantity.value.to_f64())
                    }
                    _ => None,
                };
            }
        };
        match outcome {
            Ok(Value::Quantity(quantity)) => Some(quantity.value.to_f64()),
            _ => None,
        }
    }

    /// The subject's values along its numeric index, the other indices as in the failing instance.
    fn along_taps(&self, subject: Subject, env: Env<'_>) -> Vec<(i64, f64)> {
        let sets = self.subject_sets(subject);
        let Some(tap) = sets.iter().position(|set| {
            matches!(
                self.record.domains[set.index()].members.first(),
                Some(Member::Number(_))
            )
        }) else {
            return Vec::new();
        };
        let mut members: Vec<u32> = Vec::with_capacity(sets.len());
        let mut free: Option<usize> = None;
        for (index, set) in sets.iter().enumerate() {
            let own = env
                .sets
                .iter()
                .position(|known| known == set)
                .map(|index| env.members[index]);
            if own.is_none() && index != tap {
                free = Some(index);
            }
            members.push(own.unwrap_or(0));
        }
        if let Some(free) = free {
            // The failing instance covers all phases: the one that deviates most is looked at.
            members[free] = self.worst_member(subject, sets, &members, free);
        }
        let domain = &self.record.domains[sets[tap].index()];
        let mut values = Vec::new();
        for (index, member) in domain.members.iter().enumerate() {
            members[tap] = index as u32;
            let slot = crate::record::slot(&self.record.domains, sets, &members);
            if let (Member::Number(number), Some(value)) =
                (member, self.subject_value(subject, slot))
            {
                values.push((*number, value));
            }
        }
        values
    }

    /// The member of one index at which the subject's value is largest.
    fn worst_member(&self, subject: Subject, sets: &[SetId], members: &[u32], free: usize) -> u32 {
        let mut members = members.to_vec();
        let count = self.record.domains[sets[free].index()].members.len() as u32;
        let value = |member: u32, members: &mut Vec<u32>| {
            members[free] = member;
            let slot = crate::record::slot(&self.record.domains, sets, members);
            self.subject_value(subject, slot).map_or(0.0, f64::abs)
        };
        (0..count)
            .map(|member| (value(member, &mut members), member))
            .max_by(|a, b| a.0.total_cmp(&b.0))
            .map_or(0, |(_, member)| member)
    }

    /// From the deviation of the voltage ratio over the tappings of the failing phase: arithmetic of
    /// turns (physics; derived from ratio = turns over turns).
    fn ratio_pattern(&self, analysis: &Analysis, env: Env<'_>) -> Vec<String> {
        let Some(deviation) = analysis.subjects.first() else {
            return Vec::new();
        };
        let turns: Vec<(String, f64)> = match analysis.subjects.get(1) {
            Some(subject) => {
                let sets = self.subject_sets(*subject);
                (0..slots(&self.record.domains, sets))
                    .filter_map(|slot| {
                        let name = index_text(&self.record.domains, sets, slot);
                        let name = name.trim_matches(['[', ']']).to_owned();
                        self.subject_value(*subject, slot)
                            .map(|turns| (name, turns))
                    })
                    .collect()
            }
            None => Vec::new(),
        };
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
        let slope = slope(&values);
        let reach = values
            .last()
            .map_or(0.0, |(last, _)| (*last - values[0].0) as f64);
        if (slope * reach).abs() > 0.05 && crosses_zero(&values) {
            causes.push(
                "right near the principal tapping and wrong in proportion to the distance from it: the change-over leads are exchanged, or the tappings are numbered from the other end"
                    .to_owned(),
            );
        }
        if spread < 0.0008 && mean.abs() > 0.0008 {
            causes.extend(whole_turns(&turns, Some(mean)));
            causes.push(format!(
                "the same {:+.2} % at every tapping: the winding without tappings has a wrong number of turns in this phase",
                mean * 100.0
            ));
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

    /// From which phase stands apart.
    fn phase_pattern(&self, analysis: &Analysis, env: Env<'_>) -> Vec<String> {
        let Some(subject) = analysis.subjects.first() else {
            return Vec::new();
        };
        let sets = self.subject_sets(*subject);
        // The index that the failing instance does not fix is the phase.
        let Some(free) = sets.iter().position(|set| !env.sets.contains(set)) else {
            return Vec::new();
        };
        let mut members: Vec<u32> = sets
            .iter()
            .map(|set| {
                env.sets
                    .iter()
                    .position(|known| known == set)
                    .map_or(0, |index| env.members[index])
            })
            .collect();
        let domain = &self.record.domains[sets[free].index()];
        let mut values = Vec::new();
        for (index, member) in domain.members.iter().enumerate() {
            members[free] = index as u32;
            let slot = crate::record::slot(&self.record.domains, sets, &members);
            if let Some(value) = self.subject_value(*subject, slot) {
                values.push((member.to_string(), value));
            }
        }
        if values.len() < 3 {
            return Vec::new();
        }
        let mut sorted: Vec<f64> = values.iter().map(|(_, value)| *value).collect();
        sorted.sort_by(f64::total_cmp);
        let median = sorted[sorted.len() / 2];
        let apart = values
            .iter()
            .max_by(|a, b| (a.1 - median).abs().total_cmp(&(b.1 - median).abs()));
        apart
            .filter(|_| median != 0.0)
            .map(|(name, value)| {
                let direction = if *value > median { "high" } else { "low" };
                format!(
                    "{name} stands apart, {direction} by {:.2} % of the median: a joint, a lead, a strand or a selector contact of that phase",
                    ((value / median - 1.0) * 100.0).abs()
                )
            })
            .into_iter()
            .collect()
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
