//! When things happened: the times of a round's work, logs and events, and what is certain of their order.
//!
//! A date without a time may be any minute of its day, so one time is after another only where every
//! instant that it may mean is.

use super::Judge;
use crate::plan::kind::Kind;
use crate::plan::*;
use crate::quantity::moment::{When, parse_when};
use crate::record::{Act, ActWord, EMPTY, Entry, Recorded, Round};
use crate::text::Place;
use std::sync::Arc;

/// The earliest and the latest time of something, each with its place.
pub(super) type Times = ((When, Place), (When, Place));

/// Whether one time is certainly later than another.
pub(super) fn certainly_after(later: When, earlier: When) -> bool {
    later.earliest > earlier.latest
}

fn span(times: impl Iterator<Item = (When, Place)>) -> Option<Times> {
    let mut span: Option<Times> = None;
    for time in times {
        span = Some(match span {
            None => (time, time),
            Some((first, last)) => (
                if time.0.earliest < first.0.earliest {
                    time
                } else {
                    first
                },
                if time.0.latest > last.0.latest {
                    time
                } else {
                    last
                },
            ),
        });
    }
    span
}

impl<'a> Judge<'a> {
    /// The earliest and the latest time at which anything of a round was read, rows of its logs included.
    pub(super) fn work_times(&self, round: &Round) -> Option<Times> {
        self.work_of_round(round).times
    }

    /// The first place at which a round shows work: a reading, an attendance or a release.
    pub(super) fn round_work(&self, round: &Round) -> Option<Place> {
        self.work_of_round(round).place
    }

    /// Looked up once for each round: many judgements ask for it, and it takes all that was read.
    fn work_of_round(&self, round: &Round) -> WorkOfRound {
        let known = self.work_of_rounds.borrow().get(&round.place).copied();
        known.unwrap_or_else(|| {
            let acts = acts_of_work(round).map(|act| act.place);
            let work = WorkOfRound {
                times: self.read_times(round),
                place: round.work.iter().map(|(_, place)| *place).chain(acts).min(),
            };
            self.work_of_rounds.borrow_mut().insert(round.place, work);
            work
        })
    }

    fn read_times(&self, round: &Round) -> Option<Times> {
        let read = round
            .work
            .iter()
            .filter_map(|(context, _)| self.record.contexts[*context as usize].when);
        let mut logged: Vec<(When, Place)> = round
            .logs
            .values()
            .filter_map(|log| log.span)
            .flatten()
            .collect();
        logged.sort_by_key(|(when, place)| (when.earliest, *place));
        span(read.chain(logged))
    }

    /// When a round certainly or possibly began: its first reading, event, attendance or release.
    pub(super) fn began(&self, stage: StageId, round: &Round) -> Option<(When, Place)> {
        let work = self.work_times(round).map(|(first, _)| first);
        let events = self.events(stage, round).into_iter();
        let events = events.map(|(when, entry, _)| (when, entry.place));
        let acts = acts_of_work(round).filter_map(|act| Some((act.when?.0, act.place)));
        span(work.into_iter().chain(events).chain(acts)).map(|(first, _)| first)
    }

    /// The events of a round: readings that are times, with their names.
    pub(super) fn events(&self, stage: StageId, round: &Round) -> Vec<(When, &'a Entry, Arc<str>)> {
        let mut events = Vec::new();
        for id in &self.plan.stages[stage.index()].readings {
            let reading = &self.plan.readings[id.index()];
            if reading.kind != Kind::Moment {
                continue;
            }
            let Some(row) = round.readings.get(id) else {
                continue;
            };
            for cell in row.iter().filter(|cell| **cell != EMPTY) {
                let entry = &self.record.entries[*cell as usize];
                if !matches!(entry.value, Recorded::Value(_)) {
                    continue;
                }
                // The value knows its first instant only; the text tells whether it stands for a whole day.
                let text = self.explainer.flat(entry.place);
                if let Ok(told) = parse_when(&text, &self.explainer.zone()) {
                    events.push((told.when, entry, reading.name.clone()));
                }
            }
        }
        events
    }

    /// The round of a stage that was the latest begun at a time; of an unknown time the last.
    pub(super) fn round_at(&self, stage: StageId, time: Option<When>) -> Option<&'a Round> {
        let rounds = &self.record.stages[stage.index()];
        let Some(time) = time else {
            return rounds.last();
        };
        rounds
            .iter()
            .rev()
            .find(|round| {
                let began = self.work_times(round).map(|(first, _)| first.0.earliest);
                began.is_none_or(|began| began <= time.latest)
            })
            .or(rounds.first())
    }
}

/// When and where a round shows work.
#[derive(Clone, Copy, Debug)]
pub(crate) struct WorkOfRound {
    times: Option<Times>,
    place: Option<Place>,
}

/// Acts that take place at the unit. A waiver and a review may come before the work.
fn acts_of_work(round: &Round) -> impl Iterator<Item = &Act> {
    round
        .acts
        .iter()
        .filter(|act| matches!(act.word, ActWord::Release | ActWord::Witnessed))
}

/// The first and the last release of a point in a round.
pub(super) fn releases(round: &Round, point: PointId) -> Option<(&Act, &Act)> {
    let mut own = round.acts.iter().filter(|act| act.point == point);
    let first = own.next()?;
    Some((first, own.next_back().unwrap_or(first)))
}
