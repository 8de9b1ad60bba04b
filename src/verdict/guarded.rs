//! `decide guarded`: limits drawn in by the expanded uncertainty, and three answers.
//!
//! Within the drawn-in limit a reading is proven to conform; outside the limit itself it fails; between the two
//! nothing is proven. Source: ISO 14253-1:2017; JCGM 106:2012, 8.3.2, both from memory.

use super::explain::Explainer;
use super::uncertainty::{Known, Lacking, Uncertainties};
use super::{Judge, StageWork};
use crate::finding::{Reasoning, Severity, Uncertainty};
use crate::plan::kind::Kind;
use crate::plan::{Decide, Limit, LimitForm, Reading, ReadingId};
use crate::quantity::{Interval, Quantity, Unit};
use crate::record::Entry;
use crate::text::Place;

pub(super) const HELP_TOO_NEAR: &str = "measure again with an instrument of smaller uncertainty; if it stands, put the work right before it is covered, or raise a nonconformity";
pub(super) const HELP_UNKNOWN: &str = "have the register state the accuracy of the instrument, or the plan the uncertainty; if neither can be had, measure again with an instrument whose accuracy is known";

/// How a limit stands with the uncertainty of what is held against it.
pub(super) struct Guard {
    /// The uncertainty, or why it is not known.
    pub uncertainty: Result<Known, Lacking>,
    /// The limit drawn in by it; `None` where it is not known.
    acceptance: Option<Interval>,
}

impl Guard {
    /// Whether a value is proven to conform.
    pub fn proves(&self, value: &Quantity) -> bool {
        let acceptance = self.acceptance.as_ref();
        acceptance.is_some_and(|acceptance| acceptance.contains(value) == Ok(true))
    }

    /// Whether no value at all could be proven to.
    fn proves_nothing(&self) -> bool {
        let acceptance = self.acceptance.as_ref();
        acceptance.is_some_and(|acceptance| acceptance.is_empty() == Ok(true))
    }

    /// Where its parts are stated, or what is missing.
    pub fn places(&self, explainer: &Explainer<'_>) -> Vec<(Place, String)> {
        match &self.uncertainty {
            Ok(known) => known
                .parts
                .iter()
                .map(|part| {
                    let text = format!("{}: {}", part.name, explainer.flat(part.place));
                    (part.place, text)
                })
                .collect(),
            Err(lacking) => lacking.place.iter().cloned().collect(),
        }
    }
}

impl<'a> Judge<'a> {
    /// Where uncertainties come from.
    pub(super) fn uncertainties(&self) -> Uncertainties<'a> {
        Uncertainties {
            record: self.record,
            register: self.register,
        }
    }

    /// Whether a reading is decided guarded.
    pub(super) fn guarded(&self, reading: &Reading) -> bool {
        reading.decide.unwrap_or(self.plan.decide) == Decide::Guarded
    }

    /// How a limit stands with the uncertainty; nothing where it is compared as it stands: under `decide simple`,
    /// for what is counted or named, and for `limit = X`, which no uncertainty could ever prove.
    pub(super) fn guard(
        &self,
        id: ReadingId,
        entry: &Entry,
        limit: &Limit,
        value: &Quantity,
        interval: &Interval,
    ) -> Option<Guard> {
        let reading = &self.plan.readings[id.index()];
        let Kind::Quantity(kind) = &reading.kind else {
            return None;
        };
        if !self.guarded(reading) || matches!(limit.form, LimitForm::Exactly(_)) {
            return None;
        }
        let uncertainty = self
            .uncertainties()
            .of_reading(reading, kind, value, entry.context);
        let acceptance = uncertainty
            .as_ref()
            .ok()
            .and_then(|known| interval.drawn_in(&known.expanded).ok());
        Some(Guard {
            uncertainty,
            acceptance,
        })
    }

    /// Why a reading within its limit is not proven to be.
    pub(super) fn doubt(&self, guard: &Guard, margin: Option<&str>, unit: Option<&Unit>) -> String {
        match &guard.uncertainty {
            Err(lacking) => format!(
                "whose uncertainty is not known: {} is missing",
                lacking.what
            ),
            Ok(known) => {
                let expanded = self.explainer.difference(&known.expanded, unit);
                if guard.proves_nothing() {
                    return format!(
                        "with an uncertainty of {expanded}, which leaves nothing of the limit"
                    );
                }
                let margin = margin.unwrap_or("nothing");
                format!("{margin} inside with an uncertainty of {expanded}")
            }
        }
    }

    /// Puts the uncertainty, the drawn-in limit and what is missing into the reasoning.
    pub(super) fn guard_shown(
        &self,
        guard: &Guard,
        reasoning: &mut Reasoning,
        unit: Option<&Unit>,
    ) {
        let mut shown = match &guard.uncertainty {
            Ok(known) => self.explainer.uncertainty(known, unit),
            Err(lacking) => {
                reasoning.missing.push(lacking.what.clone());
                Uncertainty::default()
            }
        };
        if let Some(acceptance) = &guard.acceptance {
            shown.acceptance = Some(match guard.proves_nothing() {
                true => "nothing".to_owned(),
                false => self.explainer.interval(acceptance, unit),
            });
        }
        reasoning.uncertainty = Some(shown);
    }
}

/// What is missing, in words.
pub(super) fn unknown(lacking: &Lacking) -> String {
    format!(
        "whose uncertainty is not known: {} is missing",
        lacking.what
    )
}

/// Notes an item that is not proven; those that only warn do not stop a release.
pub(super) fn not_proven(stage: &mut StageWork, severity: Severity, name: &str) {
    stage.counts.not_proven += 1;
    if severity == Severity::Error {
        stage.failing.push(name.to_owned());
    }
}
