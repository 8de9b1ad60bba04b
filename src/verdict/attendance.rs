//! Witness and review points: was the work held for them, and was notice given in time?

use super::Judge;
use super::times::{certainly_after, releases};
use crate::finding::rules;
use crate::finding::{Finding, PointKind, Reasoning};
use crate::plan::*;
use crate::record::{Act, Round};
use crate::text::Place;

/// How work went on past a point.
enum Passed<'a> {
    /// A hold of its own stage was released.
    Hold(&'a Act),
    /// A later stage was begun.
    Stage(StageId, Place),
}

const DAY: i64 = 86_400;

impl<'a> Judge<'a> {
    /// Work that went on past a witness or review point before it was attended, waived or reviewed.
    pub(super) fn attended(&mut self, id: PointId, point: &Point) {
        let plan = self.plan;
        let mut passed: Option<(Passed<'a>, Option<&'a Act>)> = None;
        'rounds: for round in &self.record.stages[point.stage.index()] {
            let act = releases(round, id).map(|(_, last)| last);
            for hold in &round.acts {
                let is_hold = plan.points[hold.point.index()].kind == PointKind::Hold;
                if is_hold && open_at(act, hold.when.map(|(when, _)| when)) {
                    passed = Some((Passed::Hold(hold), act));
                    break 'rounds;
                }
            }
        }
        let laters = (0..plan.stages.len() as u32)
            .map(StageId)
            .filter(|later| plan.precedes(point.stage, *later));
        for later in laters {
            if passed.is_some() {
                break;
            }
            for round in &self.record.stages[later.index()] {
                let Some(place) = self.round_work(round) else {
                    continue;
                };
                let began = self.began(later, round);
                let time = began.map(|(when, _)| when);
                let act = self
                    .round_at(point.stage, time)
                    .and_then(|own| releases(own, id))
                    .map(|(_, last)| last);
                if open_at(act, time) {
                    passed = Some((Passed::Stage(later, place), act));
                    break;
                }
            }
        }
        let Some((how, act)) = passed else {
            return;
        };
        let (rule, wanted) = match point.kind {
            PointKind::Review => (&rules::REVIEW_PASSED, "reviewed"),
            _ => (&rules::WITNESS_PASSED, "witnessed or waived"),
        };
        let (what, place) = match &how {
            Passed::Hold(hold) => {
                let name = &plan.points[hold.point.index()].name;
                (format!("{name} was released"), hold.place)
            }
            Passed::Stage(later, place) => {
                let name = &plan.stages[later.index()].name;
                (format!("work went on to stage `{name}`"), *place)
            }
        };
        let (message, at) = match act {
            None => (
                format!(
                    "expected {} point {} to be {wanted} before {what}, found it open",
                    point.kind.word(),
                    point.name
                ),
                place,
            ),
            Some(act) => (
                format!(
                    "expected {} point {} to be {wanted} before {what}, found it dated {}, which is later",
                    point.kind.word(),
                    point.name,
                    act.when_text
                ),
                act.place,
            ),
        };
        let mut finding = Finding::new(rule, at, message).related(
            point.place,
            format!(
                "{} \"{}\" by {}",
                point.name,
                point.title,
                point.roles.join(", ")
            ),
        );
        if at != place {
            finding = finding.related(place, "work went on here");
        }
        let help = match point.kind {
            PointKind::Review => "have the papers reviewed now and record it with its true date",
            _ => {
                "if it was attended or waived, record it with its true date; else tell those concerned and raise a nonconformity"
            }
        };
        let finding = finding.help(help).reasoning(Reasoning {
            because: point.because.as_ref().map(ToString::to_string),
            caution: point.caution.as_ref().map(ToString::to_string),
            ..Reasoning::default()
        });
        self.findings.push(finding);
    }

    /// Whether notice was given of a point, and long enough before the act.
    pub(super) fn noticed(&mut self, id: PointId, point: &Point, act: &Act, round: &Round) {
        let (Some(notice), Some((when, _))) = (point.notice, act.when) else {
            return;
        };
        let asked = notice_words(notice);
        // Where a point was put off, the first notification of it counts: the time to prepare was given.
        let told = round
            .notices
            .iter()
            .filter(|told| told.point == id)
            .filter_map(|told| Some((told, told.when?.0)))
            .min_by_key(|(_, when)| when.earliest);
        let Some((told, given)) = told else {
            let finding = Finding::new(
                &rules::NOTICE_MISSING,
                act.place,
                format!(
                    "expected notice of {} at least {asked} before it was {}, found no notification",
                    point.name,
                    act.word.done()
                ),
            )
            .related(point.place, format!("{} asks for notice {asked}", point.name))
            .help(format!(
                "add the notification that was given, with its own date: notified {} by PERSON on DATE \"letter\"",
                point.name
            ));
            self.findings.push(finding);
            return;
        };
        // Whole days are days of the calendar, whatever the hour; less is counted by the clock.
        let (short, given_words) = if notice % DAY == 0 {
            let days = i64::from(when.day) - i64::from(given.day);
            (days < notice / DAY, format!("{days} d"))
        } else {
            let seconds = when.latest - given.earliest;
            (seconds < notice, notice_words(seconds.max(0)))
        };
        if !short {
            return;
        }
        let found = if certainly_after(given, when) {
            "a notification dated after it".to_owned()
        } else {
            given_words
        };
        let finding = Finding::new(
            &rules::NOTICE_TOO_SHORT,
            told.place,
            format!(
                "expected notice of {} at least {asked} before it was {} on {}, found {found}",
                point.name,
                act.word.done(),
                act.when_text
            ),
        )
        .label("notified here")
        .related(act.place, format!("{} here", act.word.done()))
        .related(
            point.place,
            format!("{} asks for notice {asked}", point.name),
        )
        .help(
            "have it agreed in writing that the shorter notice is accepted, and attach the letter",
        );
        self.findings.push(finding);
    }
}

/// Whether a point was still open at a time: it has no act, or one that is certainly later.
fn open_at(act: Option<&Act>, time: Option<crate::quantity::moment::When>) -> bool {
    match (act, time) {
        (None, _) => true,
        (Some(act), Some(time)) => act
            .when
            .is_some_and(|(when, _)| certainly_after(when, time)),
        (Some(_), None) => false,
    }
}

/// `5 d`, `36 h`, `90 min`
fn notice_words(seconds: i64) -> String {
    match seconds {
        _ if seconds % DAY == 0 => format!("{} d", seconds / DAY),
        _ if seconds % 3600 == 0 => format!("{} h", seconds / 3600),
        _ => format!("{} min", seconds / 60),
    }
}
