//! What is told of a reading that is outside its limit, or so near to it that nothing is proven.

use super::Judge;
use super::evaluate::Env;
use super::guarded::{Guard, HELP_TOO_NEAR, HELP_UNKNOWN, not_proven};
use super::limits::{Failure, failing, first_list, first_text};
use crate::finding::rules;
use crate::finding::{Finding, Input, Reasoning};
use crate::plan::value::Value;
use crate::plan::{Limit, ReadingId};
use crate::record::{Entry, index_text};

impl<'a> Judge<'a> {
    #[allow(
        clippy::too_many_arguments,
        reason = "the parts of one judgement, used in one place"
    )]
    pub(super) fn out_of_limit(
        &mut self,
        id: ReadingId,
        slot: usize,
        entry: &'a Entry,
        value: &Value,
        limit: &Limit,
        failure: Failure,
        env: Env<'_>,
        full_name: &str,
    ) {
        let plan = self.plan;
        let reading = &plan.readings[id.index()];
        let index = index_text(&self.record.domains, &reading.indices, slot);
        let name = format!("{}{index}", reading.name);
        let unit = self.explainer.unit_of(entry);
        let written = self.explainer.written(entry);
        let mut reasoning: Reasoning = self.explainer.reasoning(&failure.expr, env);
        reasoning.inputs.insert(
            0,
            Input {
                name: name.clone(),
                value: written.clone(),
                place: Some(entry.place),
                amended: self.explainer.amended(entry),
            },
        );
        let limit_text = match (&unit, value) {
            (Some(unit), Value::Quantity(_)) => {
                self.limit_in(limit, env, unit).unwrap_or(failure.limit)
            }
            _ => failure.limit,
        };
        reasoning.formula = Some(format!("{name}: {}", self.explainer.flat(limit.place)));
        reasoning.result = Some(written.clone());
        reasoning.limit = Some(limit_text.clone());
        let margin = failure
            .margin
            .map(|margin| self.explainer.difference(&margin, unit.as_ref()));
        reasoning.margin = margin.clone();
        let rationale = &reading.rationale;
        reasoning.source = limit
            .rationale
            .source
            .clone()
            .or_else(|| rationale.source.clone());
        reasoning.because = first_text(&limit.rationale.because, &rationale.because);
        reasoning.look = first_list(&limit.rationale.look, &rationale.look);
        reasoning.caution =
            first_text(&limit.rationale.caution, &rationale.caution).or_else(|| {
                plan.stages[reading.stage.index()]
                    .caution
                    .as_ref()
                    .map(ToString::to_string)
            });
        let by = match &margin {
            Some(margin) => format!(", {} outside", margin.trim_start_matches('-')),
            None => String::new(),
        };
        let (rule, message) = match &failure.guard {
            Some(guard) if failure.doubtful => (
                &rules::NOT_PROVEN,
                format!(
                    "expected {name} to be proven {limit_text}, found {written}, {}",
                    self.doubt(guard, margin.as_deref(), unit.as_ref())
                ),
            ),
            _ => (
                &rules::OUT_OF_LIMIT,
                format!("expected {name} to be {limit_text}, found {written}{by}"),
            ),
        };
        if let Some(guard) = &failure.guard {
            self.guard_shown(guard, &mut reasoning, unit.as_ref());
        }
        let severity = limit.rationale.severity.or(rationale.severity);
        let design: Vec<_> = self
            .explainer
            .places(&reasoning)
            .into_iter()
            .skip(1)
            .take(2)
            .collect();
        // A value that was corrected later is not what was looked at before.
        let corrected = entry
            .amended
            .and_then(|index| self.record.amendments[index as usize].when);
        let read = self.record.contexts[entry.context as usize].when;
        let measured = corrected.or(read).map(|(when, _)| when);
        let cover = self.covered(full_name, slot, measured);
        let stage = &mut self.stages[reading.stage.index()];
        let mut finding = match cover {
            Some(cover) if cover.accepts => {
                stage.counts.conceded += 1;
                stage
                    .conceded
                    .push((name.clone(), cover.nonconformity.closed));
                Finding::new(
                    &rules::CONCEDED,
                    entry.place,
                    format!("{message}; conceded by {}", cover.nonconformity.name),
                )
                .related(
                    cover.nonconformity.place,
                    "the nonconformity that concedes it",
                )
            }
            cover => {
                let weight = severity.unwrap_or(rule.severity);
                match failure.doubtful {
                    true => not_proven(stage, weight, &name),
                    false => failing(stage, weight, &name),
                }
                let mut finding = Finding::new(rule, entry.place, message);
                if let Some(severity) = severity {
                    finding = finding.severity(severity);
                }
                finding = match cover {
                    Some(cover) => finding
                        .related(cover.nonconformity.place, "raised here, not closed with an agreed disposition that accepts it")
                        .help("close the nonconformity, or put the work right and record the reading anew"),
                    None if failure.doubtful => finding.help(match &failure.guard {
                        Some(Guard {
                            uncertainty: Err(_),
                            ..
                        }) => HELP_UNKNOWN,
                        _ => HELP_TOO_NEAR,
                    }),
                    None => finding.help(
                        "check the instrument, and measure again where the rules of the test allow it; if it stands, put the work right before it is covered, or raise a nonconformity",
                    ),
                };
                finding
            }
        };
        finding = finding
            .label(format!("{name} = {written}"))
            .related(limit.place, format!("the limit: {limit_text}"));
        if let Some(guard) = &failure.guard {
            for (place, text) in guard.places(&self.explainer) {
                finding = finding.related(place, text);
            }
        }
        for (name, value, place) in design {
            finding = finding.related(place, format!("{name} = {value}"));
        }
        self.findings.push(finding.reasoning(reasoning));
    }

    /// The limit in the unit in which the reading was written.
    fn limit_in(
        &self,
        limit: &Limit,
        env: Env<'_>,
        unit: &crate::quantity::Unit,
    ) -> Option<String> {
        self.limit_shown(limit, env, Some(unit))
    }
}
