//! Causes: what the pattern of the readings says of a failing check, most likely first.

use super::Judge;
use super::evaluate::Env;
use crate::plan::value::Value;
use crate::plan::*;

impl Judge<'_> {
    /// Runs an analysis for one failing instance.
    pub(super) fn analyse(&self, analysis: &Analysis, env: Env<'_>) -> Vec<String> {
        match analysis.kind {
            AnalysisKind::ClockPattern => self.clock_pattern(analysis, env),
            AnalysisKind::RatioPattern => self.ratio_pattern(analysis, env),
            AnalysisKind::PhasePattern => self.phase_pattern(analysis, env),
        }
    }

    pub(super) fn subject_sets(&self, subject: Subject) -> &[SetId] {
        match subject {
            Subject::Reading(id) => &self.plan.readings[id.index()].indices,
            Subject::Calc(id) => &self.plan.calcs[id.index()].indices,
            Subject::Design(id) => &self.plan.design[id.index()].indices,
        }
    }

    pub(super) fn subject_value(&self, subject: Subject, slot: usize) -> Option<f64> {
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

    /// The slot of the subject whose indices the failing instance fixes; the others at their first member.
    fn slot_here(&self, subject: Subject, env: Env<'_>) -> usize {
        let sets = self.subject_sets(subject);
        let members: Vec<u32> = sets
            .iter()
            .map(|set| {
                env.sets
                    .iter()
                    .position(|known| known == set)
                    .map_or(0, |index| env.members[index])
            })
            .collect();
        crate::record::slot(&self.record.domains, sets, &members)
    }

    /// The subject's value for the failing instance.
    pub(super) fn value_here(&self, subject: Subject, env: Env<'_>) -> Option<f64> {
        self.subject_value(subject, self.slot_here(subject, env))
    }

    /// A design value that is a name, for the failing instance.
    pub(super) fn name_here(&self, subject: Subject, env: Env<'_>) -> Option<String> {
        let Subject::Design(id) = subject else {
            return None;
        };
        match &self
            .evaluator
            .design_entry(id, self.slot_here(subject, env))?
            .value
        {
            crate::record::Recorded::Value(Value::Name(name)) => Some(name.to_string()),
            _ => None,
        }
    }

    /// The subject's values along its numeric index, the other indices as in the failing instance.
    pub(super) fn along_taps(&self, subject: Subject, env: Env<'_>) -> Vec<(i64, f64)> {
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
                    "{name} stands apart, {direction} by {:.2} % of the median: a joint, a lead or a strand of that phase; on a tapped winding a selector contact",
                    ((value / median - 1.0) * 100.0).abs()
                )
            })
            .into_iter()
            .collect()
    }
}
