//! The fingerprint: what makes a finding the same finding in the next run, wherever its line has moved to.

use super::Finding;
use super::UnitSummary;
use super::printable;
use crate::text::SourceText;
use rustc_hash::FxHashMap;

/// Longest part of a place's text that goes into a fingerprint, in characters.
const LONGEST: usize = 60;

/// One fingerprint for each finding, in their order.
///
/// It is made of the rule, the unit's serial (the document's name where there is none) and what the finding is
/// about, never of a line or column. Of a judgement that is what was expected, so that another reading that fails in
/// the same place stays the same finding. Equal ones are numbered in their order, so that each stands once.
pub fn fingerprints(
    units: &[UnitSummary],
    findings: &[Finding],
    sources: &[SourceText],
) -> Vec<String> {
    let serials: FxHashMap<&str, &str> = units
        .iter()
        .map(|unit| (&*unit.path, &*unit.serial))
        .collect();
    let mut seen: FxHashMap<String, usize> = FxHashMap::default();
    findings
        .iter()
        .map(|finding| {
            let source = sources.get(finding.place.file.0 as usize);
            let name = source.map_or("", |source| &*source.name);
            let owner = serials.get(name).copied().unwrap_or(name);
            let key = format!("{}/{owner}/{}", finding.rule.name, subject(finding, source));
            let key = printable::text(&key).into_owned();
            let count = seen.entry(key.clone()).or_insert(0);
            *count += 1;
            match *count {
                1 => key,
                count => format!("{key}/{count}"),
            }
        })
        .collect()
}

/// What a finding is about.
fn subject(finding: &Finding, source: Option<&SourceText>) -> String {
    if finding.reasoning.is_some() {
        let expected = finding.message.split(", found ").next();
        return expected.unwrap_or(&finding.message).to_owned();
    }
    let at = source.map_or("", |source| source.slice(finding.place.span));
    let line = at.lines().next().unwrap_or("").trim();
    let line: String = line.chars().take(LONGEST).collect();
    format!("{}/{line}", finding.message)
}
