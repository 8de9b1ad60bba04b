//! Moving what was bound along with its text, when something before it grew or shrank.

use super::model::*;
use crate::finding::Finding;
use crate::text::{FileId, Place, Span};

/// Moves every place of one document that begins at or behind a byte.
#[derive(Clone, Copy)]
pub(super) struct Moving {
    pub file: FileId,
    /// First byte that moves, in the text before.
    pub from: u32,
    /// By so many bytes.
    pub by: i64,
}

impl Moving {
    fn span(self, span: &mut Span) {
        if span.start >= self.from {
            *span = span.moved(self.by);
        }
    }

    fn place(self, place: &mut Place) {
        if place.file == self.file {
            self.span(&mut place.span);
        }
    }

    fn with<T>(self, known: &mut Option<(T, Place)>) {
        if let Some((_, place)) = known {
            self.place(place);
        }
    }

    /// Moves a record. Every part that has a place is named here, so that a new one is not forgotten.
    pub fn record(self, record: &mut Record) {
        if self.by == 0 {
            return;
        }
        let Record {
            // Stands at the head, before everything that moves.
            header: _,
            domains: _,
            design: _,
            design_place,
            stages,
            entries,
            conditions,
            contexts,
            nonconformities,
            amendments,
            of_design: _,
        } = record;
        if let Some(place) = design_place {
            self.place(place);
        }
        for entry in entries {
            self.place(&mut entry.place);
        }
        for condition in conditions {
            self.place(&mut condition.place);
        }
        for context in contexts {
            let Context {
                instrument,
                person,
                when,
                also_said_elsewhere: _,
            } = context;
            self.with(instrument);
            self.with(person);
            self.with(when);
        }
        for round in stages.iter_mut().flatten() {
            self.round(round);
        }
        for nonconformity in nonconformities {
            let Nonconformity {
                name: _,
                place,
                against: _,
                disposition: _,
                raised_by,
                raised: _,
                closed,
                agreed,
            } = nonconformity;
            self.place(place);
            self.with(raised_by);
            self.with(closed);
            if let Some(Agreed {
                place,
                person,
                when: _,
            }) = agreed
            {
                self.place(place);
                self.with(person);
            }
        }
        for amendment in amendments {
            let Amendment {
                reading: _,
                place,
                replaced: _,
                person,
                when,
                when_text: _,
                reason: _,
            } = amendment;
            self.place(place);
            self.with(person);
            self.with(when);
        }
    }

    pub fn round(self, round: &mut Round) {
        let Round {
            number: _,
            place,
            readings: _,
            logs,
            acts,
            notices,
            amendments: _,
            work,
            scopes,
        } = round;
        if self.by == 0 {
            return;
        }
        self.place(place);
        for log in logs.values_mut() {
            let LogData {
                place,
                context: _,
                columns: _,
                span,
                unreadable: _,
            } = log;
            self.place(place);
            for (_, place) in span.iter_mut().flatten() {
                self.place(place);
            }
        }
        for act in acts.iter_mut().chain(notices) {
            let Act {
                point: _,
                word: _,
                place,
                person,
                when,
                when_text: _,
                text: _,
            } = act;
            self.place(place);
            self.with(person);
            self.with(when);
        }
        for (_, place) in work {
            self.place(place);
        }
        for scope in scopes {
            self.place(&mut scope.place);
        }
    }

    /// Moves what was found while binding.
    pub fn findings(self, findings: &mut [Finding]) {
        findings
            .iter_mut()
            .for_each(|finding| self.finding(finding));
    }

    fn finding(self, finding: &mut Finding) {
        self.place(&mut finding.place);
        for related in &mut finding.related {
            self.place(&mut related.place);
        }
        if finding.place.file == self.file {
            for (span, _) in finding.fix.iter_mut().flat_map(|fix| &mut fix.edits) {
                self.span(span);
            }
        }
    }
}
