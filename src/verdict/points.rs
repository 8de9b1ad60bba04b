//! Points: was work held where it had to be, and had the releaser the right?

use super::Judge;
use super::limits::shown;
use super::times::{certainly_after, releases};
use crate::finding::rules;
use crate::finding::{Finding, PointState, PointSummary, Reasoning};
use crate::plan::*;
use crate::quantity::moment::When;
use crate::record::{Act, ActWord, Round};
use crate::text::Place;

impl<'a> Judge<'a> {
    pub(super) fn points(&mut self) {
        let plan = self.plan;
        for (index, point) in plan.points.iter().enumerate() {
            let applies = self.stages[point.stage.index()].applies
                && self.applies(&point.when, super::Env::NONE, &point.name, None);
            if !applies {
                continue;
            }
            let id = PointId(index as u32);
            if let Some(round) = self.round(point.stage) {
                for act in round.acts.iter().filter(|act| act.point == id) {
                    self.right(point, act);
                    self.not_own(point, act, round);
                }
                if let Some((first, last)) = releases(round, id) {
                    self.noticed(id, point, first, round);
                    if last.word != ActWord::Waived {
                        self.covers(point, last, round);
                    }
                }
            }
            match point.kind {
                PointKind::Hold => self.held(id, point),
                PointKind::Witness | PointKind::Review => self.attended(id, point),
            }
        }
    }

    /// Work recorded past a hold point that is not released, or dated before its release. Where the stage
    /// was done again, work is held against the release of the round that had begun by then.
    fn held(&mut self, id: PointId, point: &Point) {
        let plan = self.plan;
        let owner = &plan.stages[point.stage.index()];
        let mut passed: Option<(StageId, Place, Option<Place>, Option<&Act>)> = None;
        let laters = (0..plan.stages.len() as u32)
            .map(StageId)
            .filter(|later| plan.precedes(point.stage, *later));
        for later in laters {
            for round in &self.record.stages[later.index()] {
                let Some(first_place) = self.round_work(round) else {
                    continue;
                };
                let began = self.began(later, round);
                let act = self
                    .round_at(point.stage, began.map(|(when, _)| when))
                    .and_then(|own| releases(own, id))
                    .map(|(first, _)| first);
                let found = match (act, began) {
                    (None, _) => Some((round.place, Some(first_place))),
                    (Some(act), Some((began, at))) => {
                        let early = act
                            .when
                            .is_some_and(|(released, _)| certainly_after(released, began));
                        early.then_some((at, None))
                    }
                    (Some(_), None) => None,
                };
                if let (Some((place, work)), None) = (found, &passed) {
                    passed = Some((later, place, work, act));
                }
            }
        }
        let Some((later, place, work, act)) = passed else {
            return;
        };
        let later_name = &plan.stages[later.index()].name;
        let message = match act {
            None => format!(
                "expected hold point {} of stage `{}` to be released before work goes on, found work in stage `{later_name}`",
                point.name, owner.name
            ),
            Some(act) => format!(
                "expected work in stage `{later_name}` to begin after hold point {} was released ({}), found it dated before",
                point.name, act.when_text
            ),
        };
        let mut finding = Finding::new(&rules::HOLD_PASSED, place, message).related(
            point.place,
            format!(
                "{} \"{}\" by {}",
                point.name,
                point.title,
                point.roles.join(", ")
            ),
        );
        finding = match (act, work) {
            (Some(act), _) => finding.related(act.place, "released here"),
            (None, Some(work)) if work != place => finding.related(work, "the first work past it"),
            _ => finding,
        };
        let finding = finding
            .help("stop; have the point judged by the role that may release it, and raise a nonconformity for the work done past it")
            .reasoning(Reasoning {
                because: point.because.as_ref().map(ToString::to_string),
                caution: point.caution.as_ref().map(ToString::to_string).or_else(|| caution(&rules::HOLD_PASSED)),
                ..Reasoning::default()
            });
        self.findings.push(finding);
    }

    /// Whether the person may act at this point.
    fn right(&mut self, point: &Point, act: &Act) {
        let Some((name, place)) = &act.person else {
            return;
        };
        let Some(register) = self.register else {
            return;
        };
        // An unknown person is reported with the people.
        let Some(person) = register.people.get(name) else {
            return;
        };
        if person.roles.iter().any(|role| point.roles.contains(role)) {
            return;
        }
        let roles = if person.roles.is_empty() {
            "no role".to_owned()
        } else {
            person.roles.join(", ")
        };
        let finding = Finding::new(
            &rules::ROLE_MAY_NOT_RELEASE,
            *place,
            format!(
                "expected {} to be {} by {}, found {name}, whose role is {roles}",
                point.name,
                act.word.done(),
                point.roles.join(" or ")
            ),
        )
        .related(person.place, format!("{name}: {roles}"))
        .related(
            point.place,
            format!("{} is for {}", point.name, point.roles.join(", ")),
        )
        .help("the right person looks at the record and puts their own name and date");
        self.findings.push(finding);
    }

    /// Whether what a release covers was there and passing.
    fn covers(&mut self, point: &Point, act: &Act, round: &Round) {
        let stage = point.stage.index();
        if let (Some((released, _)), Some((_, (last, last_place)))) =
            (act.when, self.work_times(round))
            && certainly_after(last, released)
        {
            let finding = Finding::new(
                    &rules::RELEASE_BEFORE_READING,
                    act.place,
                    format!(
                        "expected {} to be {} after the readings that it covers, found it dated {} before one of them",
                        point.name,
                        act.word.done(),
                        act.when_text
                    ),
                )
                .label("dated before")
                .related(last_place, "the latest reading of the stage")
                .help("look at both dates; if they are right, the point has to be released again for what came after");
            self.findings.push(finding);
        }
        if let Some((released, _)) = act.when {
            self.events_after(point, act, released, round);
        }
        if point.kind == PointKind::Hold {
            self.conceded_late(point, act);
        }
        if point.kind != PointKind::Hold || self.stages[stage].failing.is_empty() {
            return;
        }
        let failing = shown(&self.stages[stage].failing);
        let count = self.stages[stage].failing.len();
        let how = match self.stages[stage].counts.not_proven {
            0 => "failing",
            _ => "failing or not proven",
        };
        let finding = Finding::new(
            &rules::RELEASED_OVER_FAILURE,
            act.place,
            format!(
                "expected everything of stage `{}` to pass or to be conceded before {} is released, found {count} {how}: {failing}",
                self.plan.stages[stage].name, point.name
            ),
        )
        .label("released here")
        .related(point.place, "the hold point in the plan")
        .help("raise a nonconformity for each, agree and close it, and release anew; or put the work right and measure again");
        self.findings.push(finding);
    }

    /// Failing items that were conceded only after the release.
    fn conceded_late(&mut self, point: &Point, act: &Act) {
        let Some((released, _)) = act.when else {
            return;
        };
        let stage = &self.stages[point.stage.index()];
        let late: Vec<&(String, Option<(When, Place)>)> = stage
            .conceded
            .iter()
            .filter(|(_, closed)| closed.is_some_and(|(when, _)| certainly_after(when, released)))
            .collect();
        let Some((_, Some((_, closed)))) = late.first() else {
            return;
        };
        let names: Vec<String> = late.iter().map(|(name, _)| name.clone()).collect();
        let finding = Finding::new(
            &rules::RELEASED_OVER_FAILURE,
            act.place,
            format!(
                "expected everything of stage `{}` to pass or to be conceded before {} is released, found conceded only after {}: {}",
                self.plan.stages[point.stage.index()].name,
                point.name,
                act.when_text,
                shown(&names)
            ),
        )
        .label("released here")
        .related(*closed, "closed here")
        .help("look at both dates; a concession comes before the release that rests on it");
        self.findings.push(finding);
    }

    /// Events of the stage that are recorded to have happened after its release.
    fn events_after(&mut self, point: &Point, act: &Act, released: When, round: &Round) {
        for (when, entry, name) in self.events(point.stage, round) {
            if !certainly_after(when, released) {
                continue;
            }
            let finding = Finding::new(
                &rules::RELEASE_BEFORE_READING,
                act.place,
                format!(
                    "expected {} to be {} after what it covers, found `{name}` later than its date {}",
                    point.name,
                    act.word.done(),
                    act.when_text
                ),
            )
            .label("dated before")
            .related(entry.place, format!("`{name}`"))
            .help("look at both dates; if they are right, the point has to be released again for what came after");
            self.findings.push(finding);
        }
    }

    /// Whether somebody acts at a point that the plan keeps from those who measured in its stage.
    fn not_own(&mut self, point: &Point, act: &Act, round: &Round) {
        let (true, Some((name, place))) = (point.other_than_measurer, &act.person) else {
            return;
        };
        let read = round.work.iter().find_map(|(context, work)| {
            let context = &self.record.contexts[*context as usize];
            let (person, _) = context.person.as_ref()?;
            (person == name).then_some((*work, "recorded here"))
        });
        let amended = round.amendments.iter().find_map(|index| {
            let amendment = &self.record.amendments[*index as usize];
            let (person, _) = amendment.person.as_ref()?;
            (person == name).then_some((amendment.place, "amended here"))
        });
        let Some((own, how)) = read.or(amended) else {
            return;
        };
        let finding = Finding::new(
            &rules::RELEASED_OWN_READING,
            *place,
            format!(
                "expected {} to be {} by somebody other than those who measured in stage `{}`, found {name}, who did",
                point.name,
                act.word.done(),
                self.plan.stages[point.stage.index()].name
            ),
        )
        .related(own, format!("{how} by {name}"))
        .related(point.place, "the plan says: other than measurer")
        .help("have it released by another person with the role; never change the name of whoever measured");
        self.findings.push(finding);
    }

    /// The points of a stage, for the closing lines.
    pub(super) fn point_summaries(&self, stage: StageId) -> Vec<PointSummary> {
        let plan = self.plan;
        let round = self.round(stage);
        plan.stages[stage.index()]
            .points
            .iter()
            .filter(|id| {
                self.stages[stage.index()].applies
                    && self
                        .evaluator
                        .when_holds(&plan.points[id.index()].when, super::Env::NONE)
            })
            .map(|id| {
                let point = &plan.points[id.index()];
                let act = round
                    .and_then(|round| releases(round, *id))
                    .map(|(_, last)| last);
                let behind = point.kind != PointKind::Hold
                    && round.is_some_and(|round| {
                        let kind = |act: &Act| plan.points[act.point.index()].kind;
                        round.acts.iter().any(|act| kind(act) == PointKind::Hold)
                    });
                let passed = behind
                    || (0..plan.stages.len() as u32).map(StageId).any(|later| {
                        plan.precedes(stage, later) && self.first_work(later).is_some()
                    });
                let state = match act {
                    Some(act) if act.word == ActWord::Waived => PointState::Waived,
                    Some(_) => PointState::Done,
                    None if passed => PointState::Passed,
                    None => PointState::Open,
                };
                PointSummary {
                    name: point.name.clone(),
                    title: point.title.clone(),
                    kind: point.kind,
                    state,
                    roles: point.roles.clone(),
                    by: act.map(|act| {
                        let person = act
                            .person
                            .as_ref()
                            .map(|(name, _)| name.to_string())
                            .unwrap_or_default();
                        (person, act.when_text.clone())
                    }),
                    seal: self.seal_state(point, act),
                }
            })
            .collect()
    }
}

fn caution(rule: &crate::finding::Rule) -> Option<String> {
    (!rule.caution.is_empty()).then(|| rule.caution.to_owned())
}
