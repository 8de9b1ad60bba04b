//! Nonconformities: their steps in order of time, agreed by those who may, closed before work goes on, and
//! a new reading after rework (ISO 9001:2015, 8.7).

use super::Judge;
use super::progress::Past;
use super::times::certainly_after;
use crate::finding::rules;
use crate::finding::{Finding, PointKind};
use crate::plan::{StageId, StageName};
use crate::quantity::moment::When;
use crate::record::{Act, Disposition, EMPTY, Nonconformity, Target};
use crate::text::Place;

impl<'a> Judge<'a> {
    /// Judges every nonconformity of the record.
    pub(super) fn nonconformities(&mut self) {
        for nonconformity in &self.record.nonconformities {
            self.in_order(nonconformity);
            self.authorised(nonconformity);
            self.open_behind(nonconformity);
            self.measured_again(nonconformity);
        }
    }

    fn stage_of(&self, target: &Target) -> Option<StageId> {
        let (stage, _) = target.name.split_once('.')?;
        self.plan.stage_by_name.get(stage).copied()
    }

    /// Raised, agreed, closed: in that order.
    fn in_order(&mut self, nonconformity: &Nonconformity) {
        let raised = nonconformity.raised.map(|when| (when, nonconformity.place));
        let agreed = nonconformity.agreed.as_ref();
        let agreed = agreed.and_then(|agreed| Some((agreed.when?, agreed.place)));
        let closed = nonconformity.closed;
        let steps = [
            (raised, "raised", agreed, "agreed"),
            (agreed, "agreed", closed, "closed"),
            (raised, "raised", closed, "closed"),
        ];
        for (earlier, first, later, second) in steps {
            let (Some((earlier, earlier_place)), Some((later, place))) = (earlier, later) else {
                continue;
            };
            if !certainly_after(earlier, later) {
                continue;
            }
            let finding = Finding::new(
                &rules::TIME_RUNS_BACKWARDS,
                place,
                format!(
                    "expected {} to be {second} after it was {first}, found it dated before",
                    nonconformity.name
                ),
            )
            .related(earlier_place, format!("{first} here"))
            .help("look at both dates; a nonconformity is raised, its disposition agreed, then it is closed");
            self.findings.push(finding);
            // One wrong date is one finding.
            break;
        }
    }

    /// Whether the disposition was agreed by somebody who may.
    fn authorised(&mut self, nonconformity: &Nonconformity) {
        let (Some(rule), Some(agreed)) = (&self.plan.concessions, &nonconformity.agreed) else {
            return;
        };
        let Some((name, place)) = &agreed.person else {
            return;
        };
        let by_raiser = rule.other_than_raiser
            && nonconformity
                .raised_by
                .as_ref()
                .is_some_and(|(raiser, _)| raiser == name);
        // An unknown person is reported with the people.
        let person = self.register.and_then(|own| own.people.get(name));
        let wrong_role =
            person.filter(|person| !person.roles.iter().any(|role| rule.roles.contains(role)));
        let (found, related) = match (by_raiser, wrong_role) {
            (true, _) => (
                format!("{name}, who raised it"),
                Some((nonconformity.place, "raised here".to_owned())),
            ),
            (false, Some(person)) => {
                let roles = match person.roles.is_empty() {
                    true => "no role".to_owned(),
                    false => person.roles.join(", "),
                };
                (
                    format!("{name}, whose role is {roles}"),
                    Some((person.place, format!("{name}: {roles}"))),
                )
            }
            (false, None) => return,
        };
        let mut finding = Finding::new(
            &rules::DISPOSITION_NOT_AUTHORISED,
            *place,
            format!(
                "expected the disposition of {} to be agreed by {}{}, found {found}",
                nonconformity.name,
                rule.roles.join(" or "),
                match rule.other_than_raiser {
                    true => " other than whoever raised it",
                    false => "",
                }
            ),
        )
        .related(rule.place, "the plan says who may")
        .help("have the disposition agreed by a person with the role");
        if let Some((place, text)) = related {
            finding = finding.related(place, text);
        }
        self.findings.push(finding);
    }

    /// Open behind a release or behind work that went on.
    fn open_behind(&mut self, nonconformity: &Nonconformity) {
        let accepts = nonconformity
            .disposition
            .is_some_and(|disposition| disposition.accepts());
        let refused = nonconformity.disposition == Some(Disposition::Scrap)
            && !nonconformity
                .against
                .iter()
                .any(|target| self.made_anew(target, nonconformity));
        let state = match nonconformity.closed {
            _ if refused => "its disposition is scrap",
            None => "it is still open",
            Some(_) if nonconformity.disposition.is_none() => "it is closed without a disposition",
            Some(_) if accepts && nonconformity.agreed.is_none() => {
                "it is closed without anybody having agreed to its disposition"
            }
            Some(closed) => return self.closed_late(nonconformity, closed),
        };
        let mut gone_on: Option<(String, Place)> = None;
        for target in &nonconformity.against {
            let Some(stage) = self.stage_of(target) else {
                continue;
            };
            let name = |stage: StageId| &self.plan.stages[stage.index()].name;
            match self.past(stage) {
                Some(Past::Released(place)) => {
                    gone_on = Some((format!("the release of `{}`", name(stage)), place))
                }
                Some(Past::WorkedOn(later, place)) => {
                    gone_on = Some((format!("stage `{}`", name(later)), place));
                }
                None => {}
            }
        }
        if refused && gone_on.is_none() {
            // What is scrapped goes nowhere: no hold of any stage is released over it.
            gone_on = self
                .released_after(nonconformity.raised)
                .map(|(what, act)| (what, act.place));
        }
        let Some((what, place)) = gone_on else {
            return;
        };
        let finding = Finding::new(
            &rules::NONCONFORMITY_OPEN,
            nonconformity.place,
            format!(
                "expected nonconformity {} to be closed before {what}, found that {state}",
                nonconformity.name
            ),
        )
        .related(place, "work went on here")
        .help("agree a disposition, carry it out, and close it: closed by NAME on DATE");
        self.findings.push(finding);
    }

    /// Closed only after the release that it stood before.
    fn closed_late(
        &mut self,
        nonconformity: &Nonconformity,
        (closed, closed_place): (When, Place),
    ) {
        let Some(raised) = nonconformity.raised else {
            return;
        };
        for target in &nonconformity.against {
            let Some(round) = self.stage_of(target).and_then(|stage| self.round(stage)) else {
                continue;
            };
            let release = round.acts.iter().find_map(|act| {
                let point = &self.plan.points[act.point.index()];
                let (when, _) = act.when?;
                let between = certainly_after(when, raised) && certainly_after(closed, when);
                (point.kind == PointKind::Hold && between).then_some((act, point))
            });
            let Some((act, point)) = release else {
                continue;
            };
            let finding = Finding::new(
                &rules::NONCONFORMITY_OPEN,
                closed_place,
                format!(
                    "expected nonconformity {} to be closed before {} was released on {}, found it closed later",
                    nonconformity.name, point.name, act.when_text
                ),
            )
            .related(nonconformity.place, "raised here")
            .related(act.place, "released here")
            .help("look at the dates; a point that was released over an open nonconformity has to be judged again");
            self.findings.push(finding);
            return;
        }
    }

    /// The first hold that was certainly released after a time.
    fn released_after(&self, raised: Option<When>) -> Option<(String, &'a Act)> {
        let raised = raised?;
        let acts = self
            .record
            .stages
            .iter()
            .flatten()
            .flat_map(|round| &round.acts);
        acts.filter(|act| {
            act.when
                .is_some_and(|(when, _)| certainly_after(when, raised))
        })
        .find_map(|act| {
            let point = &self.plan.points[act.point.index()];
            (point.kind == PointKind::Hold).then(|| (format!("the release of {}", point.name), act))
        })
    }

    /// Whether the stage was done again after the nonconformity: what was scrapped was made anew.
    fn made_anew(&self, target: &Target, nonconformity: &Nonconformity) -> bool {
        let Some(stage) = self.stage_of(target) else {
            return false;
        };
        let rounds = &self.record.stages[stage.index()];
        let (true, Some(last)) = (rounds.len() > 1, rounds.last()) else {
            return false;
        };
        match (self.began(stage, last), nonconformity.raised) {
            (Some((began, _)), Some(raised)) => !certainly_after(raised, began),
            _ => false,
        }
    }

    /// A new reading of what was reworked.
    fn measured_again(&mut self, nonconformity: &Nonconformity) {
        let (Some(Disposition::Rework), Some(raised), Some((_, closed))) = (
            nonconformity.disposition,
            nonconformity.raised,
            nonconformity.closed,
        ) else {
            return;
        };
        let old: Vec<&str> = nonconformity
            .against
            .iter()
            .filter(|target| {
                self.last_measured(target)
                    .is_some_and(|last| certainly_after(raised, last))
            })
            .map(|target| target.name.as_str())
            .collect();
        if old.is_empty() {
            return;
        }
        let finding = Finding::new(
            &rules::REWORK_WITHOUT_NEW_READING,
            closed,
            format!(
                "expected a reading of {} taken after {} was raised, found none",
                old.join(", "),
                nonconformity.name
            ),
        )
        .label("closed as reworked")
        .related(nonconformity.place, "raised here")
        .help(
            "measure again and record it in a new round of the stage, as in: stage winding round 2",
        );
        self.findings.push(finding);
    }

    /// When what a nonconformity is against was measured last; of a check, when anything of its stage was.
    fn last_measured(&self, target: &Target) -> Option<When> {
        let stage = self.stage_of(target)?;
        let (_, name) = target.name.split_once('.')?;
        let round = self.round(stage)?;
        let Some(StageName::Reading(id)) = self.plan.stages[stage.index()].names.get(name) else {
            return self.work_times(round).map(|(_, last)| last.0);
        };
        let row = round.readings.get(id)?;
        let wanted = |slot: usize| target.slot.is_none_or(|own| own as usize == slot);
        row.iter()
            .enumerate()
            .filter(|(slot, cell)| wanted(*slot) && **cell != EMPTY)
            .filter_map(|(_, cell)| {
                let entry = &self.record.entries[*cell as usize];
                self.record.contexts[entry.context as usize].when
            })
            .map(|(when, _)| when)
            .max_by_key(|when| when.latest)
    }
}
