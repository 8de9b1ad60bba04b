//! Seals against the plan: is what has to be sealed sealed, and was anything added below?

use super::{Env, Judge};
use crate::finding::rules;
use crate::finding::{Finding, SealState};
use crate::plan::*;
use crate::record::Act;

impl Judge<'_> {
    /// Points that are done and not sealed although the plan asks, and what stands behind a seal.
    pub(super) fn sealing(&mut self) {
        for (index, point) in self.plan.points.iter().enumerate() {
            let Some(act) = self.last_act(PointId(index as u32)) else {
                continue;
            };
            if self.seal_state(point, Some(act)) != SealState::Missing {
                continue;
            }
            let finding = Finding::new(
                &rules::SEAL_MISSING,
                act.place,
                format!(
                    "expected {} to be sealed, found no seal below it",
                    point.name
                ),
            )
            .related(point.place, "the plan asks for a seal")
            .help(format!(
                "when the record is complete: stagebook seal {} FILE",
                point.name
            ));
            self.findings.push(finding);
        }
        for behind in &self.seals.behind {
            if self.stages[behind.stage.index()].applies && self.open_hold(behind.stage) {
                continue;
            }
            let stage = &self.plan.stages[behind.stage.index()];
            let finding = Finding::new(
                &rules::RECORDED_BEHIND_SEAL,
                behind.place,
                format!(
                    "expected nothing but amendments and their release below the sealed release of stage `{}`, found another statement",
                    stage.name
                ),
            )
            .label("not covered by any release")
            .related(behind.act, "sealed here")
            .help("record work done again as a round of its own, with a release of its own");
            self.findings.push(finding);
        }
    }

    /// Whether a hold point of the stage that applies is still to be released.
    fn open_hold(&self, stage: StageId) -> bool {
        self.plan.stages[stage.index()].points.iter().any(|id| {
            let point = &self.plan.points[id.index()];
            point.kind == PointKind::Hold
                && self.evaluator.when_holds(&point.when, Env::NONE)
                && self.last_act(*id).is_none()
        })
    }

    /// The act in force at a point: the last one of the round that is judged.
    fn last_act(&self, id: PointId) -> Option<&Act> {
        let point = &self.plan.points[id.index()];
        let round = self.round(point.stage)?;
        round.acts.iter().rev().find(|act| act.point == id)
    }

    /// Whether a point is sealed as the plan asks.
    pub(super) fn seal_state(&self, point: &Point, act: Option<&Act>) -> SealState {
        let Some(act) = act else {
            return SealState::NotAsked;
        };
        match self.seals.of(act.place) {
            Some(state) => state,
            None if point.sealed => SealState::Missing,
            None => SealState::NotAsked,
        }
    }
}
