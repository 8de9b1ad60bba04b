//! Dates held against today: what has not happened yet cannot have been recorded.

use super::Judge;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::kind::Kind;
use crate::plan::value::Value;
use crate::quantity::moment::format_day;
use crate::record::{EMPTY, Recorded};
use crate::text::Place;

impl Judge<'_> {
    /// Everything in the record that is dated after today.
    pub(super) fn dates(&mut self) {
        let Some(today) = self.today else {
            return;
        };
        let mut late: Vec<(Place, String)> = Vec::new();
        // Clauses of readings, tables, logs, acts, amendments and nonconformities alike.
        let contexts = self.record.contexts.iter().enumerate();
        late.extend(contexts.filter_map(|(number, context)| {
            if self.keeper.in_order(number) {
                return None;
            }
            let (when, place) = context.when?;
            (when.day > today).then(|| (place, format_day(when.day)))
        }));
        for round in self.record.stages.iter().flatten() {
            for log in round.logs.values() {
                let Some([_, (last, place)]) = log.span else {
                    continue;
                };
                if last.day > today {
                    late.push((place, format_day(last.day)));
                }
            }
            for (id, row) in &round.readings {
                if self.plan.readings[id.index()].kind != Kind::Moment {
                    continue;
                }
                for cell in row.iter().filter(|cell| **cell != EMPTY) {
                    let entry = &self.record.entries[*cell as usize];
                    if let Recorded::Value(Value::Moment(moment)) = entry.value
                        && self.day_of(moment).is_some_and(|day| day > today)
                    {
                        late.push((entry.place, self.explainer.moment(moment)));
                    }
                }
            }
        }
        late.sort();
        late.dedup();
        for (place, found) in late {
            let finding = Finding::new(
                &rules::DATED_IN_THE_FUTURE,
                place,
                format!(
                    "expected a date up to today, {}, found {found}",
                    format_day(today)
                ),
            )
            .help("write the day on which it happened; if this computer's date is wrong, give the right one with --today");
            self.findings.push(finding);
        }
    }

    /// The day of an instant in the record's zone.
    fn day_of(&self, seconds: i64) -> Option<i32> {
        self.explainer.zone().day_of(seconds)
    }
}
