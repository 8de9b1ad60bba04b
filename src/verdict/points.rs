//! Points: was work held where it had to be, and had the releaser the right?

use super::Judge;
use super::limits::shown;
use crate::finding::rules;
use crate::finding::{Finding, PointState, PointSummary, Reasoning};
use crate::plan::value::Value;
use crate::plan::*;
use crate::record::{Act, ActWord, EMPTY, Recorded, Round};
use crate::text::Place;

impl<'a> Judge<'a> {
    pub(super) fn points(&mut self) {
        let plan = self.plan;
        for (index, point) in plan.points.iter().enumerate() {
            let applies = self.stages[point.stage.index()].applies
                && self.evaluator.when_holds(&point.when, super::Env::NONE);
            if !applies {
                continue;
            }
            let id = PointId(index as u32);
            let round = self.round(point.stage);
            let act = round.and_then(|round| round.acts.iter().find(|act| act.point == id));
            if let (Some(act), Some(round)) = (act, round) {
                self.right(point, act);
                if act.word != ActWord::Waived {
                    self.covers(point, act, round);
                }
            }
            if point.kind == PointKind::Hold {
                self.held(id, point);
            }
        }
    }

    /// Work recorded past a hold point that is not released, or dated before its release. Where the stage
    /// was done again, work is held against the release of the round that had begun by then.
    fn held(&mut self, id: PointId, point: &Point) {
        let plan = self.plan;
        let owner = &plan.stages[point.stage.index()];
        let rounds = &self.record.stages[point.stage.index()];
        let begins: Vec<Option<i64>> = rounds
            .iter()
            .map(|round| self.work_times(round).map(|(first, _)| first.0.earliest))
            .collect();
        let mut passed: Option<(StageId, Place, Option<Place>, Option<&Act>)> = None;
        let laters = (0..plan.stages.len() as u32)
            .map(StageId)
            .filter(|later| plan.precedes(point.stage, *later));
        for later in laters {
            for round in &self.record.stages[later.index()] {
                let Some((_, first_place)) = round.work.first() else {
                    continue;
                };
                let began = self.work_times(round).map(|(first, _)| first);
                let in_force = match began {
                    Some((began, _)) => rounds
                        .iter()
                        .zip(&begins)
                        .filter(|(_, begin)| begin.is_none_or(|begin| begin <= began.latest))
                        .map(|(round, _)| round)
                        .next_back()
                        .or(rounds.first()),
                    None => rounds.last(),
                };
                let act = in_force.and_then(|round| round.acts.iter().find(|act| act.point == id));
                let found = match (act, began) {
                    (None, _) => Some((round.place, Some(*first_place))),
                    (Some(act), Some((began, at))) => {
                        let late = act
                            .when
                            .is_some_and(|(released, _)| began.latest < released.earliest);
                        late.then_some((at, None))
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
                done_word(act.word),
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
            && released.latest < last.earliest
        {
            let finding = Finding::new(
                    &rules::RELEASE_BEFORE_READING,
                    act.place,
                    format!(
                        "expected {} to be {} after the readings that it covers, found it dated {} before one of them",
                        point.name,
                        done_word(act.word),
                        act.when_text
                    ),
                )
                .label("dated before")
                .related(last_place, "the latest reading of the stage")
                .help("look at both dates; if they are right, the point has to be released again for what came after");
            self.findings.push(finding);
        }
        if let Some((released, _)) = act.when {
            self.moments_after(point, act, released.latest, round);
        }
        if point.kind != PointKind::Hold || self.stages[stage].failing.is_empty() {
            return;
        }
        let failing = shown(&self.stages[stage].failing);
        let count = self.stages[stage].failing.len();
        let finding = Finding::new(
            &rules::RELEASED_OVER_FAILURE,
            act.place,
            format!(
                "expected everything of stage `{}` to pass or to be conceded before {} is released, found {count} failing: {failing}",
                self.plan.stages[stage].name, point.name
            ),
        )
        .label("released here")
        .related(point.place, "the hold point in the plan")
        .help("raise a nonconformity for each, agree and close it, and release anew; or put the work right and measure again");
        self.findings.push(finding);
    }

    /// Events of the stage that are recorded to have happened after its release.
    fn moments_after(&mut self, point: &Point, act: &Act, released: i64, round: &Round) {
        let plan = self.plan;
        for id in &plan.stages[point.stage.index()].readings {
            let reading = &plan.readings[id.index()];
            if reading.kind != kind::Kind::Moment {
                continue;
            }
            let Some(row) = round.readings.get(id) else {
                continue;
            };
            for cell in row.iter().filter(|cell| **cell != EMPTY) {
                let entry = &self.record.entries[*cell as usize];
                let Recorded::Value(Value::Moment(moment)) = entry.value else {
                    continue;
                };
                if moment <= released {
                    continue;
                }
                let finding = Finding::new(
                    &rules::RELEASE_BEFORE_READING,
                    act.place,
                    format!(
                        "expected {} to be {} after what it covers, found `{}` later than its date {}",
                        point.name,
                        done_word(act.word),
                        reading.name,
                        act.when_text
                    ),
                )
                .label("dated before")
                .related(entry.place, format!("`{}`", reading.name))
                .help("look at both dates; if they are right, the point has to be released again for what came after");
                self.findings.push(finding);
            }
        }
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
                let act = round.and_then(|round| round.acts.iter().find(|act| act.point == *id));
                let passed = point.kind == PointKind::Hold
                    && (0..plan.stages.len() as u32).map(StageId).any(|later| {
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

fn done_word(word: ActWord) -> &'static str {
    match word {
        ActWord::Release => "released",
        ActWord::Witnessed => "witnessed",
        ActWord::Waived => "waived",
        ActWord::Reviewed => "reviewed",
        ActWord::Notified => "notified",
    }
}

fn caution(rule: &crate::finding::Rule) -> Option<String> {
    (!rule.caution.is_empty()).then(|| rule.caution.to_owned())
}
