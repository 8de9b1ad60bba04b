//! The times of a log as they come: a repeated hour told apart by their order, and where the log begins and
//! ends.

use super::values::doubtful;
use crate::finding::Finding;
use crate::quantity::moment::{Doubt, Told, When};
use crate::text::Place;

/// Takes the times of one log, row by row.
#[derive(Default)]
pub(super) struct LogTimes {
    last: Option<i64>,
    span: Option<[(When, Place); 2]>,
    /// What is to be said if order does not tell which pass of a repeated hour is meant.
    open: Option<Finding>,
    /// Whether a doubt that order cannot lift was reported; once a log is enough.
    reported: bool,
}

impl LogTimes {
    /// The instant of the next row, and what is to be reported of it.
    ///
    /// In a repeated hour the rows are taken as the first pass until the clock steps back; from there on they
    /// are the second. A log that never steps back leaves open which of the two it recorded: a logger whose
    /// clock is not set back looks the same as one with a gap of an hour.
    pub(super) fn take(&mut self, told: Told, text: &str, place: Place) -> (i64, Option<Finding>) {
        let Told { mut when, doubt } = told;
        let mut report = None;
        match &doubt {
            None => {}
            Some(repeated @ Doubt::Repeated { first, second }) => {
                let length = when.latest - second.0;
                let pass = if self.last.is_some_and(|last| last > first.0) {
                    self.open = None;
                    second.0
                } else {
                    if self.open.is_none() {
                        self.open = Some(doubtful(repeated, text, place).help(
                            "the log never steps back, so its order does not tell; write the offset in the rows of that hour, or give the record the zone that the logger's clock keeps",
                        ));
                    }
                    first.0
                };
                when.earliest = pass;
                when.latest = pass + length;
            }
            Some(other) if !self.reported => {
                self.reported = true;
                report = Some(doubtful(other, text, place));
            }
            Some(_) => {}
        }
        self.last = Some(when.earliest);
        match &mut self.span {
            None => self.span = Some([(when, place), (when, place)]),
            Some([_, end]) => *end = (when, place),
        }
        (when.earliest, report)
    }

    /// Where the log begins and ends, and what is still open about its times.
    pub(super) fn finish(self) -> (Option<[(When, Place); 2]>, Option<Finding>) {
        (self.span, self.open)
    }
}
