//! Pending or missing: what is not recorded is pending until the record itself shows that work went on.

use super::Judge;
use super::limits::shown;
use super::times::certainly_after;
use crate::finding::rules;
use crate::finding::{Finding, Severity, StageState, StageSummary, UnitSummary};
use crate::plan::*;
use crate::record::Round;
use crate::text::{Place, SourceText};
use std::sync::Arc;

/// Why a stage is behind the work.
pub(super) enum Past {
    /// A hold point of it is released.
    Released(Place),
    /// A later stage has work.
    WorkedOn(StageId, Place),
}

impl<'a> Judge<'a> {
    pub(super) fn round(&self, stage: StageId) -> Option<&'a Round> {
        self.record.stages[stage.index()].last()
    }

    /// The first place at which a stage shows work.
    pub(super) fn first_work(&self, stage: StageId) -> Option<Place> {
        let rounds = &self.record.stages[stage.index()];
        rounds
            .iter()
            .filter_map(|round| self.round_work(round))
            .min()
    }

    /// Whether work went on past a stage.
    pub(super) fn past(&self, stage: StageId) -> Option<Past> {
        let plan = self.plan;
        let release = self.round(stage).and_then(|round| {
            round
                .acts
                .iter()
                .find(|act| plan.points[act.point.index()].kind == PointKind::Hold)
        });
        if let Some(act) = release {
            return Some(Past::Released(act.place));
        }
        (0..plan.stages.len() as u32)
            .map(StageId)
            .find_map(|later| {
                if !plan.precedes(stage, later) {
                    return None;
                }
                self.first_work(later)?;
                let round = self.record.stages[later.index()].first()?;
                Some(Past::WorkedOn(later, round.place))
            })
    }

    /// Judges what is not recorded, stage by stage.
    pub(super) fn progress(&mut self) {
        for index in 0..self.plan.stages.len() {
            let stage = StageId(index as u32);
            let unrecorded = std::mem::take(&mut self.stages[index].unrecorded);
            let count: usize = unrecorded.iter().map(|(_, items, _)| items.len()).sum();
            if count > 0 {
                match self.past(stage) {
                    None => {
                        self.stages[index].counts.pending += count as u32;
                        self.pending(stage, &unrecorded);
                    }
                    Some(past) => {
                        self.stages[index].counts.missing += count as u32;
                        self.missing(stage, &unrecorded, &past);
                    }
                }
            }
            self.stages[index].unrecorded = unrecorded;
            self.open_judgements(stage);
            self.order(stage);
        }
    }

    /// Limits and checks of a stage behind the work that stay undecided for want of an input that no other
    /// finding names.
    fn open_judgements(&mut self, stage: StageId) {
        let undecided = std::mem::take(&mut self.stages[stage.index()].undecided);
        if undecided.is_empty() || self.past(stage).is_none() {
            return;
        }
        let Some(round) = self.round(stage) else {
            return;
        };
        let open: Vec<_> = undecided
            .into_iter()
            .filter(|(_, missing, _)| !missing.iter().any(|name| self.is_asked_for(stage, name)))
            .collect();
        let Some((_, _, first)) = open.first() else {
            return;
        };
        let names: Vec<String> = open
            .iter()
            .map(|(name, missing, _)| match missing.is_empty() {
                true => format!("`{name}`"),
                false => format!("`{name}` (no {})", shown(missing)),
            })
            .collect();
        let finding = Finding::new(
            &rules::UNDECIDED,
            round.place,
            format!(
                "expected everything of stage `{}` to be decided before work goes on, found undecided: {}",
                self.plan.stages[stage.index()].name,
                names.join("; ")
            ),
        )
        .related(*first, "the first of them in the plan")
        .help("give the missing value; if the limit does not apply to this unit, the plan should say so with `when`");
        self.findings.push(finding);
    }

    /// Whether something that a judgement lacks is reported as missing or as needed by itself.
    fn is_asked_for(&self, stage: StageId, name: &str) -> bool {
        let path = name.split('[').next().unwrap_or(name);
        let asked = |stage: StageId, item: &str| {
            self.stages[stage.index()]
                .unrecorded
                .iter()
                .any(|(known, ..)| **known == *item)
        };
        match path.split_once('.') {
            Some(("design", item)) => self
                .plan
                .design_by_name
                .get(item)
                .is_some_and(|id| self.plan.design[id.index()].required),
            Some((owner, item)) => match self.plan.stage_by_name.get(owner) {
                Some(other) => asked(*other, item.split('.').next().unwrap_or(item)),
                // A condition of a reading, or a column of a log: reported with what it belongs to.
                None => true,
            },
            None => asked(stage, path),
        }
    }

    /// One pending finding for each stage that has begun.
    fn pending(&mut self, stage: StageId, unrecorded: &[(Arc<str>, Vec<String>, Place)]) {
        let Some(round) = self.round(stage) else {
            return;
        };
        let declared = &self.plan.stages[stage.index()];
        let names: Vec<String> = unrecorded
            .iter()
            .map(|(name, items, _)| listed(name, items))
            .collect();
        let finding = Finding::new(
            &rules::PENDING,
            round.place,
            format!(
                "still to be recorded in stage `{}`: {}",
                declared.name,
                names.join("; ")
            ),
        )
        .severity(Severity::Pending)
        .related(declared.place, "the stage in the plan");
        self.findings.push(finding);
    }

    fn missing(
        &mut self,
        stage: StageId,
        unrecorded: &[(Arc<str>, Vec<String>, Place)],
        past: &Past,
    ) {
        let declared = &self.plan.stages[stage.index()];
        match past {
            Past::Released(release) => {
                let names: Vec<String> = unrecorded
                    .iter()
                    .map(|(name, items, _)| listed(name, items))
                    .collect();
                let mut finding = Finding::new(
                    &rules::RELEASED_INCOMPLETE,
                    *release,
                    format!(
                        "expected everything of stage `{}` to be recorded before its release, found nothing for {}",
                        declared.name,
                        names.join("; ")
                    ),
                )
                .label("released here")
                .help("record what was measured, with its own date, and release anew; or write n/a with the reason");
                for (name, _, place) in unrecorded.iter().take(3) {
                    finding = finding.related(*place, format!("{name} is asked for here"));
                }
                self.findings.push(finding);
            }
            Past::WorkedOn(later, later_place) => {
                let later_name = &self.plan.stages[later.index()].name;
                let place = self.round(stage).map_or(*later_place, |round| round.place);
                for (name, items, declared_place) in unrecorded {
                    let mut finding = Finding::new(
                        &rules::MISSING_READING,
                        place,
                        format!(
                            "expected {} in stage `{}` before work went on to `{later_name}`, found nothing",
                            listed(name, items),
                            declared.name
                        ),
                    )
                    .related(*declared_place, "asked for here")
                    .help("record it if it was measured; write n/a with the reason if it does not apply; else go back and measure");
                    if place != *later_place {
                        finding = finding.related(*later_place, "work went on here");
                    }
                    self.findings.push(finding);
                }
            }
        }
    }

    /// Work dated before the stage that it comes after had begun.
    fn order(&mut self, stage: StageId) {
        let Some(round) = self.record.stages[stage.index()].first() else {
            return;
        };
        let Some(((began, at), _)) = self.work_times(round) else {
            return;
        };
        for earlier in &self.plan.stages[stage.index()].after {
            let Some(before) = self.record.stages[earlier.index()].first() else {
                continue;
            };
            let Some(((start, start_at), _)) = self.work_times(before) else {
                continue;
            };
            if !certainly_after(start, began) {
                continue;
            }
            let name = &self.plan.stages[stage.index()].name;
            let earlier_name = &self.plan.stages[earlier.index()].name;
            let finding = Finding::new(
                &rules::STAGE_OUT_OF_ORDER,
                at,
                format!("expected stage `{name}` to begin after `{earlier_name}`, found it dated before"),
            )
            .related(start_at, format!("`{earlier_name}` begins here"))
            .help("look at both dates; a slip of the year or the month is usual in the first days of one");
            self.findings.push(finding);
        }
    }

    /// Puts together where the unit stands.
    pub(super) fn finish(self, sources: &[SourceText]) -> super::Verdict {
        let path: Arc<str> = sources
            .get(self.file.0 as usize)
            .map_or_else(|| Arc::from(""), |source| source.name.clone());
        let mut summary = UnitSummary {
            serial: self.record.header.serial.clone(),
            title: self.record.header.title.clone(),
            path,
            plan: match &self.plan.rev {
                Some(rev) => format!("{} rev {rev}", self.plan.name),
                None => self.plan.name.to_string(),
            },
            stage_reached: None,
            lot: None,
            stages: Vec::new(),
            counts: Default::default(),
        };
        for (index, stage) in self.plan.stages.iter().enumerate() {
            let work = &self.stages[index];
            let points = self.point_summaries(StageId(index as u32));
            let round = self.record.stages[index].last();
            if round.is_some() {
                summary.stage_reached = Some(stage.name.clone());
            }
            let holds_open = points.iter().any(|point| {
                point.kind == PointKind::Hold && point.state != crate::finding::PointState::Done
            });
            let state = if !work.applies {
                StageState::NotApplicable
            } else if round.is_none() {
                StageState::NotStarted
            } else if work.counts.pending + work.counts.missing > 0 || holds_open {
                StageState::InProgress
            } else {
                StageState::Complete
            };
            summary.counts.add(&work.counts);
            summary.stages.push(StageSummary {
                name: stage.name.clone(),
                title: stage.title.clone(),
                before: stage
                    .before
                    .iter()
                    .map(|id| self.plan.stages[id.index()].name.clone())
                    .collect(),
                state,
                round: round.map_or(0, |round| round.number),
                counts: work.counts,
                points,
                pending: work
                    .unrecorded
                    .iter()
                    .map(|(name, items, _)| (name.clone(), items.len() as u32))
                    .collect(),
            });
        }
        super::Verdict {
            lot: self.lot_facts(),
            findings: self.findings,
            summary,
            kept: self.keeper.0,
        }
    }
}

/// `ratio [1, U], [1, V] and 15 more`, or just the name of something without index.
fn listed(name: &str, items: &[String]) -> String {
    if items.len() == 1 && items[0].is_empty() {
        return format!("`{name}`");
    }
    format!("`{name}` {}", shown(items))
}
