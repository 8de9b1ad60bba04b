//! Records brought together: each lot is judged once its units have been judged one by one.

use super::Judged;
use super::library::{Library, Plans};
use super::near::LotRecords;
use crate::finding::Finding;
use crate::record::{Header, header};
use crate::text::{FileId, SourceText};
use crate::verdict::{Member, judge_lot};
use rustc_hash::FxHashMap;

/// Judges every lot, and puts into the units' summaries how they stand in theirs.
pub(super) fn judge_lots(
    lots: &[LotRecords],
    judged: &mut [Judged],
    library: &Library,
    plans: &Plans,
    sources: &[SourceText],
    parallel: bool,
) -> Vec<Finding> {
    if lots.is_empty() {
        return Vec::new();
    }
    let by_document: FxHashMap<usize, usize> = judged
        .iter()
        .enumerate()
        .map(|(position, unit)| (unit.document, position))
        .collect();
    let units: &[Judged] = judged;
    let verdicts = super::each(lots.iter().collect(), parallel, |lot: &LotRecords| {
        // A record that could not be judged still has its head.
        let headers: Vec<Option<Header>> = lot
            .members
            .iter()
            .map(|(document, _)| header(&library.documents[*document].tree))
            .collect();
        let mut members = Vec::new();
        for ((document, given), header) in lot.members.iter().zip(&headers) {
            let Some(header) = header else { continue };
            let unit = by_document.get(document).map(|position| &units[*position]);
            members.push(Member {
                file: FileId(*document as u32),
                header,
                plan: unit
                    .and_then(|unit| unit.plan)
                    .and_then(|plan| Some((plan, &**plans.get(&plan)?))),
                judged: unit.and_then(|unit| unit.record.as_ref().zip(unit.lot.as_ref())),
                given: *given,
            });
        }
        let documents: Vec<(usize, bool)> = members
            .iter()
            .map(|member| (member.file.0 as usize, member.given))
            .collect();
        let neighbour = |serial: &str| lot.neighbours.get(serial).cloned();
        (documents, judge_lot(&members, &neighbour, sources))
    });
    let mut findings = Vec::new();
    for (documents, mut verdict) in verdicts {
        findings.append(&mut verdict.findings);
        for ((document, given), summary) in documents.into_iter().zip(verdict.summaries) {
            let unit = by_document.get(&document).filter(|_| given);
            if let Some(unit) = unit.and_then(|position| judged[*position].summary.as_mut()) {
                unit.lot = summary;
            }
        }
    }
    findings
}
