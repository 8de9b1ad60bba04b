//! Findings in the standard form of static analysis: SARIF 2.1.0 (OASIS Standard with errata 01).
//!
//! Nothing in it depends on the day, the machine or the folder above the root: the same documents always give the
//! same text.

mod message;
mod place;
mod rule;

use super::fingerprint::fingerprints;
use super::{Finding, Severity, UnitSummary, catalogue};
use crate::text::{FileId, SourceText};
use place::Places;
use serde::{Serialize, Serializer};
use serde_json::{Value, json};
use std::cell::RefCell;

/// Where the published schema of this form stands.
pub const SCHEMA: &str =
    "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";

/// The base that every path counts from: the top folder of the works' documents.
const ROOT: &str = "%SRCROOT%";

/// The whole log.
#[derive(Serialize)]
struct Log<'a> {
    #[serde(rename = "$schema")]
    schema: &'static str,
    version: &'static str,
    runs: [Run<'a>; 1],
}

/// Its one run. The results come before the artifacts, because they tell which documents are listed.
#[derive(Serialize)]
#[serde(rename_all = "camelCase")]
struct Run<'a> {
    tool: Value,
    invocations: Value,
    original_uri_base_ids: Value,
    column_kind: &'static str,
    newline_sequences: [&'static str; 3],
    default_encoding: &'static str,
    results: Results<'a>,
    artifacts: Artifacts<'a>,
}

/// Each finding becomes a value when its turn to be written comes, so that many do not fill the memory.
struct Results<'a> {
    units: &'a [UnitSummary],
    findings: &'a [Finding],
    fingerprints: Vec<String>,
    places: &'a RefCell<Places<'a>>,
}

impl Serialize for Results<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let all = self.findings.iter().zip(&self.fingerprints);
        serializer.collect_seq(all.map(|(finding, fingerprint)| {
            result(
                finding,
                fingerprint,
                self.units,
                &mut self.places.borrow_mut(),
            )
        }))
    }
}

/// The documents listed by then.
struct Artifacts<'a>(&'a RefCell<Places<'a>>);

impl Serialize for Artifacts<'_> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.0.borrow().artifacts())
    }
}

/// One log with one run, as text.
///
/// The names of `sources` are paths from the root. `checked` are the documents that were asked for; they are listed
/// whether or not something was found in them. `exit` is the exit status that goes with the run. Gives an error where
/// the log cannot be put together.
pub fn document(
    units: &[UnitSummary],
    findings: &[Finding],
    sources: &[SourceText],
    checked: &[FileId],
    exit: u8,
) -> serde_json::Result<String> {
    let mut places = Places::new(sources);
    for file in checked {
        places.list(*file, true);
    }
    let places = RefCell::new(places);
    let rules: Vec<Value> = catalogue::all()
        .iter()
        .map(|rule| rule::descriptor(rule))
        .collect();
    let run = Run {
        tool: json!({ "driver": {
            "name": "stagebook",
            "version": env!("CARGO_PKG_VERSION"),
            "semanticVersion": env!("CARGO_PKG_VERSION"),
            "shortDescription": { "text": env!("CARGO_PKG_DESCRIPTION") },
            "rules": rules,
        }}),
        invocations: json!([{
            "executionSuccessful": true,
            "exitCode": exit,
            "exitCodeDescription": match exit {
                0 => "no error found",
                _ => "at least one error found",
            },
        }]),
        original_uri_base_ids: json!({ ROOT: {
            "description": { "text": "the top folder of the repository or of the works' documents" },
        }}),
        // As editors count; a lone CR ends a line too.
        column_kind: "utf16CodeUnits",
        newline_sequences: ["\r\n", "\n", "\r"],
        default_encoding: "UTF-8",
        results: Results {
            units,
            findings,
            fingerprints: fingerprints(units, findings, sources),
            places: &places,
        },
        artifacts: Artifacts(&places),
    };
    let mut text = serde_json::to_string_pretty(&Log {
        schema: SCHEMA,
        version: "2.1.0",
        runs: [run],
    })?;
    text.push('\n');
    Ok(text)
}

/// `fail` with its level, or `open` for what is not recorded yet: SARIF gives only failures a level.
fn kind_and_level(severity: Severity) -> (&'static str, &'static str) {
    match severity {
        Severity::Error => ("fail", "error"),
        Severity::Warning => ("fail", "warning"),
        Severity::Note => ("fail", "note"),
        Severity::Pending => ("open", "none"),
    }
}

fn result(
    finding: &Finding,
    fingerprint: &str,
    units: &[UnitSummary],
    places: &mut Places<'_>,
) -> Value {
    let (kind, level) = kind_and_level(finding.severity);
    let index = catalogue::all()
        .binary_search_by(|rule| rule.name.cmp(finding.rule.name))
        .ok();
    let mut location = json!({});
    if let Some(place) = places.first(finding.place) {
        location["physicalLocation"] = place;
    }
    let path = places.name(finding.place.file);
    if let Some(unit) = places.unit(path, units) {
        location["logicalLocations"] = json!([{
            "name": unit.serial,
            "fullyQualifiedName": unit.serial,
            "kind": "unit",
        }]);
    }
    let mut result = json!({
        "ruleId": finding.rule.name,
        "kind": kind,
        "level": level,
        "message": message::message(finding, places.sources()),
        "locations": [location],
        "partialFingerprints": { "finding/v1": fingerprint },
        // In one run either every result says whether it is suppressed, or none does.
        "suppressions": suppressions(finding, places),
    });
    if let Some(index) = index {
        result["ruleIndex"] = json!(index);
    }
    let related = related(finding, places);
    if !related.is_empty() {
        result["relatedLocations"] = json!(related);
    }
    if let Some(fix) = fix(finding, places) {
        result["fixes"] = json!([fix]);
    }
    result
}

/// Who accepted it.
fn suppressions(finding: &Finding, places: &mut Places<'_>) -> Vec<Value> {
    let Some(accepted) = &finding.accepted else {
        return Vec::new();
    };
    let mut suppression = json!({
        "kind": "inSource",
        "status": "accepted",
        "justification": message::plain(&format!("{} ({} on {})", accepted.because, accepted.by, accepted.on)),
    });
    if let Some(place) = places.other(accepted.place) {
        suppression["location"] = json!({ "physicalLocation": place });
    }
    vec![suppression]
}

/// The places that belong to it, then those of its inputs; each once.
fn related(finding: &Finding, places: &mut Places<'_>) -> Vec<Value> {
    let mut seen = vec![finding.place];
    let mut found = Vec::new();
    let own = finding
        .related
        .iter()
        .map(|each| (each.place, each.text.clone()));
    let reasoning = finding.reasoning.iter();
    let inputs = reasoning
        .flat_map(|reasoning| &reasoning.inputs)
        .filter_map(|input| {
            let place = input.place?;
            Some((place, format!("{} = {}", input.name, input.value)))
        });
    for (place, text) in own.chain(inputs) {
        if seen.contains(&place) {
            continue;
        }
        seen.push(place);
        if let Some(physical) = places.other(place) {
            found.push(json!({
                "id": found.len() + 1,
                "physicalLocation": physical,
                "message": { "text": message::plain(&text) },
            }));
        }
    }
    found
}

/// The change of notation that mends it; none where a region of this form cannot say what is replaced.
fn fix(finding: &Finding, places: &mut Places<'_>) -> Option<Value> {
    let fix = finding.fix.as_ref()?;
    let mut replacements = Vec::with_capacity(fix.edits.len());
    for (span, text) in &fix.edits {
        replacements.push(json!({
            "deletedRegion": places.deleted(finding.place.file, *span)?,
            "insertedContent": { "text": text },
        }));
    }
    if replacements.is_empty() {
        return None;
    }
    Some(json!({
        "description": { "text": message::plain(&fix.title) },
        "artifactChanges": [{
            "artifactLocation": places.artifact(finding.place.file)?,
            "replacements": replacements,
        }],
    }))
}
