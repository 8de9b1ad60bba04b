//! Amendments: not before the reading that they correct, and released anew where they come after a release
//! (ISO 9001:2015, 7.5.3 and 8.6).

use super::Judge;
use super::times::{certainly_after, releases};
use crate::finding::rules;
use crate::finding::{Finding, PointKind};
use crate::plan::{PointId, StageId};
use crate::record::{Amendment, Round, index_text};

impl Judge<'_> {
    /// Judges every amendment of the record.
    pub(super) fn amendments(&mut self) {
        let record = self.record;
        for (index, rounds) in record.stages.iter().enumerate() {
            for round in rounds {
                for number in &round.amendments {
                    let amendment = &record.amendments[*number as usize];
                    self.after_the_reading(amendment);
                    self.released_anew(StageId(index as u32), round, amendment);
                }
            }
        }
    }

    fn amended_name(&self, amendment: &Amendment) -> String {
        let (id, slot) = amendment.reading;
        let reading = &self.plan.readings[id.index()];
        let index = index_text(&self.record.domains, &reading.indices, slot as usize);
        format!("{}{index}", reading.name)
    }

    fn after_the_reading(&mut self, amendment: &Amendment) {
        let before = &self.record.entries[amendment.replaced as usize];
        let earlier = before
            .amended
            .and_then(|number| self.record.amendments[number as usize].when);
        let read = self.record.contexts[before.context as usize].when;
        let (Some((when, place)), Some((earlier, earlier_place))) =
            (amendment.when, earlier.or(read))
        else {
            return;
        };
        if !certainly_after(earlier, when) {
            return;
        }
        let finding = Finding::new(
            &rules::TIME_RUNS_BACKWARDS,
            place,
            format!(
                "expected the amendment of {} to be dated after the value that it corrects, found it dated before",
                self.amended_name(amendment)
            ),
        )
        .related(earlier_place, "the value that it corrects is of this time")
        .help("look at both dates");
        self.findings.push(finding);
    }

    fn released_anew(&mut self, stage: StageId, round: &Round, amendment: &Amendment) {
        let plan = self.plan;
        let behind = |point: &PointId| {
            let declared = &plan.points[point.index()];
            let (_, last) = releases(round, *point)?;
            let below = amendment.place.span.start > last.place.span.start;
            let later = match (amendment.when, last.when) {
                (Some((amended, _)), Some((released, _))) => certainly_after(amended, released),
                _ => false,
            };
            (declared.kind == PointKind::Hold && (below || later)).then_some((declared, last))
        };
        let points: Vec<_> = plan.stages[stage.index()]
            .points
            .iter()
            .filter_map(behind)
            .collect();
        let Some((_, first)) = points.first() else {
            return;
        };
        let names: Vec<&str> = points.iter().map(|(point, _)| &*point.name).collect();
        let names = names.join(", ");
        let finding = Finding::new(
            &rules::AMENDED_AFTER_RELEASE,
            amendment.place,
            format!(
                "expected {names} to be released again after the amendment of {}, found only the release before it ({})",
                self.amended_name(amendment),
                first.when_text
            ),
        )
        .label("amended here")
        .related(first.place, "released here, over the value before")
        .help(format!(
            "have it judged and released again, on a line below the amendment: release {} by NAME on DATE",
            points[0].0.name
        ));
        self.findings.push(finding);
    }
}
