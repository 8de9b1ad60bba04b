//! Findings as the test report that build servers read: the JUnit XML of common use.
//!
//! A suite is a unit, or a document that is no unit. A case is a stage, or a finding: a stage in which something is
//! wrong is told by its findings alone, so the failures of the report are the errors of the check, no more and no
//! less. What is not recorded yet is skipped, not failed. Nothing depends on the day or the machine.

use super::terminal::{Style, render};
use super::{Finding, PointState, Severity, StageState, StageSummary, UnitSummary, printable};
use crate::syntax::parse;
use crate::text::{FileId, SourceText};
use quick_xml::Writer;
use quick_xml::events::{BytesDecl, BytesEnd, BytesStart, BytesText, Event};
use rustc_hash::{FxHashMap, FxHashSet};
use std::io;

/// Longest name of a case, in characters.
const LONGEST: usize = 160;
/// What belongs to no stage.
const RECORD: &str = "record";

/// What became of a case.
enum Outcome {
    Passed,
    Skipped(String),
    Failed { rule: &'static str, message: String },
}

/// One case.
struct Case {
    name: String,
    /// The suite, and the stage within it.
    class: String,
    outcome: Outcome,
    /// The whole finding, or where the stage stands.
    words: String,
}

/// One suite.
struct Suite {
    name: String,
    path: String,
    cases: Vec<Case>,
}

/// The whole report.
///
/// The names of `sources` are paths from the root. `checked` are the documents that were asked for; each has a suite,
/// whether or not something was found in it. Gives an error where the report cannot be put together.
pub fn document(
    units: &[UnitSummary],
    findings: &[Finding],
    sources: &[SourceText],
    checked: &[FileId],
) -> io::Result<String> {
    let mut by_file: FxHashMap<FileId, Vec<&Finding>> = FxHashMap::default();
    let mut files: Vec<FileId> = checked.to_vec();
    let mut known: FxHashSet<FileId> = files.iter().copied().collect();
    for finding in findings {
        by_file.entry(finding.place.file).or_default().push(finding);
        if known.insert(finding.place.file) {
            files.push(finding.place.file);
        }
    }
    let judged: FxHashMap<&str, &UnitSummary> =
        units.iter().map(|unit| (&*unit.path, unit)).collect();
    let suites: Vec<Suite> = files
        .iter()
        .map(|file| {
            let source = sources.get(file.0 as usize);
            let path = source.map_or("", |source| &*source.name);
            let found = by_file.get(file).map_or(&[][..], Vec::as_slice);
            match judged.get(path).zip(source) {
                Some((unit, source)) => of_unit(unit, source, found, sources),
                None => of_document(path, found, sources),
            }
        })
        .collect();
    written(&suites)
}

/// The stages of a unit and what was found in its document.
fn of_unit(
    unit: &UnitSummary,
    source: &SourceText,
    found: &[&Finding],
    sources: &[SourceText],
) -> Suite {
    let stages = parse(source.text.clone()).stages();
    let stage_of = |finding: &Finding| {
        let at = finding.place.span.start;
        let after = stages.partition_point(|(span, _)| span.start <= at);
        let (span, name) = stages.get(after.checked_sub(1)?)?;
        (at < span.end).then_some(&**name)
    };
    let failing: FxHashSet<&str> = found
        .iter()
        .filter(|finding| finding.fails())
        .map(|finding| stage_of(finding).unwrap_or(RECORD))
        .collect();
    let class = |stage: &str| format!("{}.{stage}", unit.serial);
    let mut cases = Vec::new();
    for stage in &unit.stages {
        let applies = stage.state != StageState::NotApplicable;
        if applies && !failing.contains(&*stage.name) && !told_by_findings(stage) {
            cases.push(of_stage(stage, class(&stage.name)));
        }
    }
    cases.extend(
        found
            .iter()
            // The stage tells what is pending in it.
            .filter(|finding| finding.severity != Severity::Pending)
            .map(|finding| {
                of_finding(finding, class(stage_of(finding).unwrap_or(RECORD)), sources)
            }),
    );
    if cases.is_empty() {
        cases.push(nothing_found(unit.serial.clone()));
    }
    Suite {
        name: unit.serial.clone(),
        path: unit.path.to_string(),
        cases,
    }
}

/// What was found in a document that is no unit, or one that cannot be judged.
fn of_document(path: &str, found: &[&Finding], sources: &[SourceText]) -> Suite {
    let mut cases: Vec<Case> = found
        .iter()
        .map(|finding| of_finding(finding, path.to_owned(), sources))
        .collect();
    if cases.is_empty() {
        cases.push(nothing_found(path.to_owned()));
    }
    Suite {
        name: path.to_owned(),
        path: path.to_owned(),
        cases,
    }
}

fn nothing_found(class: String) -> Case {
    Case {
        name: "nothing found".to_owned(),
        class,
        outcome: Outcome::Passed,
        words: String::new(),
    }
}

/// Whether something is wrong in a stage. What is missing is told where work went on, which may be another stage.
fn told_by_findings(stage: &StageSummary) -> bool {
    let passed_over = stage
        .points
        .iter()
        .any(|point| point.state == PointState::Passed);
    let counts = &stage.counts;
    counts.missing > 0 || counts.failing > 0 || counts.not_proven > 0 || passed_over
}

fn of_stage(stage: &StageSummary, class: String) -> Case {
    let title = if stage.title.is_empty() {
        &stage.name
    } else {
        &stage.title
    };
    let counts = &stage.counts;
    let open: Vec<String> = stage
        .points
        .iter()
        .filter(|point| point.state == PointState::Open)
        .map(|point| format!("{} {}", point.kind.word(), point.name))
        .collect();
    let mut waits: Vec<String> = stage
        .pending
        .iter()
        .map(|(name, count)| match count {
            1 => name.to_string(),
            count => format!("{name} ({count})"),
        })
        .collect();
    waits.extend(open);
    let outcome = match waits.is_empty() {
        true => Outcome::Passed,
        false => Outcome::Skipped(format!("to be recorded: {}", waits.join(", "))),
    };
    Case {
        name: format!("stage {title}"),
        class,
        outcome,
        words: format!(
            "{} recorded, {} pending, {} limits and checks hold, {} conceded\n",
            counts.recorded, counts.pending, counts.holding, counts.conceded
        ),
    }
}

fn of_finding(finding: &Finding, class: String, sources: &[SourceText]) -> Case {
    let message = printable::text(&finding.message).into_owned();
    let short: String = message.chars().take(LONGEST).collect();
    let outcome = match finding.severity {
        Severity::Pending => Outcome::Skipped(message.clone()),
        _ if finding.fails() => Outcome::Failed {
            rule: finding.rule.name,
            message: message.clone(),
        },
        _ => Outcome::Passed,
    };
    Case {
        name: format!("{}: {short}", finding.rule.name),
        class,
        outcome,
        words: render(finding, sources, Style { color: false }),
    }
}

/// The suites as XML.
fn written(suites: &[Suite]) -> io::Result<String> {
    let mut writer = Writer::new_with_indent(Vec::new(), b' ', 2);
    writer.write_event(Event::Decl(BytesDecl::new("1.0", Some("UTF-8"), None)))?;
    let total = |count: fn(&Case) -> bool| {
        suites
            .iter()
            .map(|suite| counted(suite, count))
            .sum::<usize>()
    };
    let mut whole = BytesStart::new("testsuites");
    for (name, value) in [
        ("name", "stagebook".to_owned()),
        ("tests", total(|_| true).to_string()),
        ("failures", total(failed).to_string()),
        ("errors", "0".to_owned()),
    ] {
        whole.push_attribute((name, &*value));
    }
    writer.write_event(Event::Start(whole))?;
    for suite in suites {
        let mut start = BytesStart::new("testsuite");
        for (name, value) in [
            ("name", suite.name.clone()),
            ("tests", suite.cases.len().to_string()),
            ("failures", counted(suite, failed).to_string()),
            ("errors", "0".to_owned()),
            ("skipped", counted(suite, skipped).to_string()),
            ("file", suite.path.clone()),
        ] {
            start.push_attribute((name, &*allowed(&value)));
        }
        writer.write_event(Event::Start(start))?;
        for case in &suite.cases {
            write_case(&mut writer, case)?;
        }
        writer.write_event(Event::End(BytesEnd::new("testsuite")))?;
    }
    writer.write_event(Event::End(BytesEnd::new("testsuites")))?;
    let mut xml = String::from_utf8(writer.into_inner()).map_err(io::Error::other)?;
    xml.push('\n');
    Ok(xml)
}

fn write_case(writer: &mut Writer<Vec<u8>>, case: &Case) -> io::Result<()> {
    let mut start = BytesStart::new("testcase");
    start.push_attribute(("name", &*allowed(&case.name)));
    start.push_attribute(("classname", &*allowed(&case.class)));
    writer.write_event(Event::Start(start))?;
    let mut element = |name: &str, attributes: &[(&str, &str)], words: &str| -> io::Result<()> {
        let mut start = BytesStart::new(name);
        for (key, value) in attributes {
            start.push_attribute((*key, &*allowed(value)));
        }
        writer.write_event(Event::Start(start))?;
        writer.write_event(Event::Text(BytesText::new(&allowed(words))))?;
        writer.write_event(Event::End(BytesEnd::new(name)))
    };
    match &case.outcome {
        Outcome::Failed { rule, message } => {
            element(
                "failure",
                &[("type", *rule), ("message", message)],
                &case.words,
            )?;
        }
        Outcome::Skipped(why) => {
            element("skipped", &[("message", why)], "")?;
            element("system-out", &[], &case.words)?;
        }
        Outcome::Passed if case.words.is_empty() => {}
        Outcome::Passed => element("system-out", &[], &case.words)?,
    }
    writer.write_event(Event::End(BytesEnd::new("testcase")))
}

fn counted(suite: &Suite, count: fn(&Case) -> bool) -> usize {
    suite.cases.iter().filter(|case| count(case)).count()
}

fn failed(case: &Case) -> bool {
    matches!(case.outcome, Outcome::Failed { .. })
}

fn skipped(case: &Case) -> bool {
    matches!(case.outcome, Outcome::Skipped(_))
}

/// The text with a sign in place of each character that XML 1.0 (2.2) forbids or an attribute would lose.
fn allowed(text: &str) -> String {
    let sign = |character: char| match character {
        '\n' => '\n',
        '\u{fffe}' | '\u{ffff}' => '\u{fffd}',
        other => printable::character(other),
    };
    text.chars().map(sign).collect()
}
