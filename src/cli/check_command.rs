//! `stagebook check`: judges documents and shows what was found.

use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use rayon::prelude::*;

use super::layout::{
    applicable, counted, lot_words, pad, pending_words, points, reached, stage_title, thousands,
    widest,
};
use super::today::TodayArgument;
use super::{Answer, SAFETY, Screen, inputs, progress::Bar};
use crate::finding::summary::{StageState, TypeTestState, UnitSummary};
use crate::finding::terminal::{Paint, render, wrap};
use crate::finding::{Finding, Severity, json, junit, printable, sarif};
use crate::workspace::{self, Options, Outcome};

/// How many findings of one rule in one document are shown in full.
const MOST_OF_ONE_RULE: usize = 50;
/// From how many findings on they are laid out in parallel.
const MANY_FINDINGS: usize = 100;

/// How to give the answer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Form {
    /// For people.
    #[default]
    Text,
    /// For programs: one JSON object.
    Json,
    /// For viewers of static analysis: SARIF 2.1.0.
    Sarif,
    /// For build servers: a JUnit XML test report.
    Junit,
}

/// What the long help says.
pub const LONG: &str = "Judges records and plans. Every finding shows the lines it is about, the readings that went in, \
the formula with the numbers put in, the limit with its source, and what to do next. What is not recorded yet \
is pending, not wrong, until the record itself shows that work went on past it.\n\nA folder means all .ubr files \
below it; ignore files are honoured. `stagebook explain RULE` tells more about a rule.\n\nWith --since, a document is \
checked when it has changed since the commit, or when its plan, a plan that this extends, its register, a log, an \
attachment or a unit of its lot has. What stands in the folder counts, committed or not.";

/// The arguments of `check`.
#[derive(Debug, Args)]
#[command(
    after_long_help = format!("{}\n\n{SAFETY}", super::EXIT)
)]
pub struct Arguments {
    /// Files or folders; `-` reads standard input
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// The form of the answer
    #[arg(long = "as", value_enum, default_value_t, value_name = "FORM")]
    pub form: Form,
    /// Check only what has changed since this git commit, and what depends on it
    #[arg(long, value_name = "REV", allow_hyphen_values = true)]
    pub since: Option<String>,
    /// What standard input is called in findings
    #[arg(long, value_name = "FILE")]
    pub name: Option<String>,
    /// Show errors and the closing lines only
    #[arg(long, short)]
    pub quiet: bool,
    /// Show every finding, however many of one rule there are in one document
    #[arg(long)]
    pub all: bool,
    /// Leave out what is still to be recorded
    #[arg(long)]
    pub no_pending: bool,
    #[command(flatten)]
    pub today: TodayArgument,
    /// How many threads to use; 0 means one for each core
    #[arg(
        long,
        default_value_t = 0,
        value_name = "COUNT",
        hide_default_value = true
    )]
    pub threads: usize,
}

/// Checks and lays the outcome out. Gives an error when the inputs cannot be read.
pub fn run(arguments: &Arguments, screen: &Screen) -> Result<Answer, String> {
    let inputs = inputs::gather(&arguments.paths, arguments.name.as_deref())?;
    let options = Options {
        threads: arguments.threads,
        today: arguments.today.counts(),
    };
    let bar = Bar::default();
    let outcome = match &arguments.since {
        None => workspace::check(&inputs, &options, &bar),
        Some(revision) => workspace::check_since(&inputs, revision, &options, &bar),
    };
    let outcome = outcome.map_err(|cannot_run| cannot_run.to_string())?;
    let failed = outcome.findings.iter().any(Finding::fails);
    let text = match arguments.form {
        Form::Text => text(&outcome, arguments, screen),
        form => for_programs(form, outcome, arguments)?,
    };
    Ok(Answer {
        text,
        failed,
        ..Answer::default()
    })
}

/// The forms that other programs read.
fn for_programs(form: Form, mut outcome: Outcome, arguments: &Arguments) -> Result<String, String> {
    let exit = match outcome.findings.iter().any(Finding::fails) {
        true => super::ERRORS,
        false => super::CLEAN,
    };
    outcome
        .findings
        .retain(|finding| is_shown(finding, arguments));
    if form != Form::Json {
        // They leave the machine: no path in them counts from its root.
        outcome = workspace::named_from_root(outcome);
    }
    let Outcome {
        units,
        findings,
        sources,
        checked,
        ..
    } = &outcome;
    match form {
        Form::Junit => junit::document(units, findings, sources, checked)
            .map_err(|error| format!("the report cannot be put together: {error}")),
        Form::Sarif => sarif::document(units, findings, sources, checked, exit)
            .map_err(|error| format!("the log cannot be put together: {error}")),
        Form::Json | Form::Text => {
            let document = json::document(units, findings, sources);
            Ok(format!("{document:#}\n"))
        }
    }
}

/// The first findings of each rule in each document, and how many more there are of which.
fn capped(told: Vec<&Finding>) -> (Vec<&Finding>, Vec<(u32, &'static str, usize)>) {
    let mut counts: BTreeMap<(u32, &'static str), usize> = BTreeMap::new();
    let kept = told
        .into_iter()
        .filter(|finding| {
            let count = counts
                .entry((finding.place.file.0, finding.rule.name))
                .or_default();
            *count += 1;
            *count <= MOST_OF_ONE_RULE
        })
        .collect();
    let left_out = counts
        .into_iter()
        .filter(|(_, count)| *count > MOST_OF_ONE_RULE)
        .map(|((file, rule), count)| (file, rule, count - MOST_OF_ONE_RULE))
        .collect();
    (kept, left_out)
}

/// Whether the options leave this finding in.
fn is_shown(finding: &Finding, arguments: &Arguments) -> bool {
    match finding.severity {
        Severity::Error if finding.accepted.is_some() => !arguments.quiet,
        Severity::Error => true,
        Severity::Warning | Severity::Note => !arguments.quiet,
        Severity::Pending => !arguments.quiet && !arguments.no_pending,
    }
}

/// The findings one by one, what is pending in short, and the closing lines.
fn text(outcome: &Outcome, arguments: &Arguments, screen: &Screen) -> String {
    let mut out = String::new();
    let told: Vec<&Finding> = outcome
        .findings
        .iter()
        .filter(|finding| finding.severity != Severity::Pending && is_shown(finding, arguments))
        .collect();
    let (told, left_out) = if arguments.all {
        (told, Vec::new())
    } else {
        capped(told)
    };
    let page = |finding: &&Finding| render(finding, &outcome.sources, screen.style);
    // A few findings are laid out before a pool of threads would have started.
    let pages: Vec<String> = if told.len() < MANY_FINDINGS {
        told.iter().map(page).collect()
    } else {
        told.par_iter().map(page).collect()
    };
    for page in pages {
        out.push_str(&page);
        out.push('\n');
    }
    for (file, rule, count) in left_out {
        let name = outcome
            .sources
            .get(file as usize)
            .map_or("", |source| &source.name);
        let path = printable::text(name);
        out.push_str(&format!(
            "and {} more {rule} in {path}; --all shows them\n\n",
            thousands(count)
        ));
    }
    if !arguments.quiet && !arguments.no_pending {
        for unit in outcome.units.iter().filter(|unit| unit.counts.pending > 0) {
            pending(unit, screen, &mut out);
        }
    }
    match &arguments.since {
        Some(revision) if outcome.checked.is_empty() => {
            out.push_str(&format!(
                "nothing to check: {} unchanged since {}\n",
                counted(outcome.unchanged, "document"),
                printable::text(revision)
            ));
        }
        Some(revision) => {
            closing(outcome, screen, &mut out);
            if outcome.unchanged > 0 {
                out.push_str(&format!(
                    "{} left out: unchanged since {}\n",
                    counted(outcome.unchanged, "document"),
                    printable::text(revision)
                ));
            }
        }
        None => closing(outcome, screen, &mut out),
    }
    out
}

/// What a unit still has to record, one line a stage that is begun, one line for the rest.
fn pending(unit: &UnitSummary, screen: &Screen, out: &mut String) {
    let style = screen.style;
    let begun: Vec<_> = applicable(unit)
        .filter(|stage| stage.counts.pending > 0 && stage.state != StageState::NotStarted)
        .collect();
    let ahead: Vec<_> = applicable(unit)
        .filter(|stage| stage.counts.pending > 0 && stage.state == StageState::NotStarted)
        .collect();
    let head = format!("to be recorded: {}", printable::text(&unit.serial));
    out.push_str(&format!("{}\n", style.paint(Paint::Bold, &head)));
    let width = widest(begun.iter().map(|stage| stage_title(stage))).clamp(12, 32);
    let mut line = |head: &str, text: &str| {
        for (index, part) in wrap(text, 96 - width).into_iter().enumerate() {
            let head = pad(if index == 0 { head } else { "" }, width);
            out.push_str(format!("  {head}  {part}").trim_end());
            out.push('\n');
        }
    };
    for stage in begun {
        line(stage_title(stage), &pending_words(stage));
    }
    let lot = unit.lot.as_ref().filter(|lot| {
        matches!(
            lot.state,
            TypeTestState::Open(_) | TypeTestState::NotNamed | TypeTestState::NotAtHand
        )
    });
    if let Some(lot) = lot.filter(|lot| lot.number.is_some_and(|number| number != 1)) {
        line("lot", &lot_words(lot));
    }
    if !ahead.is_empty() {
        let names: Vec<&str> = ahead.iter().map(|stage| stage_title(stage)).collect();
        let sum: u32 = ahead.iter().map(|stage| stage.counts.pending).sum();
        let readings = counted(sum as usize, "reading");
        line("not begun", &format!("{} ({readings})", names.join(", ")));
    }
    out.push('\n');
}

/// One line a unit and one for the whole.
fn closing(outcome: &Outcome, screen: &Screen, out: &mut String) {
    let style = screen.style;
    let units = &outcome.units;
    let serials = widest(units.iter().map(|unit| &*unit.serial));
    let stages = widest(units.iter().map(reached));
    let digits = |count: fn(&UnitSummary) -> usize| {
        units
            .iter()
            .map(|unit| thousands(count(unit)).len())
            .max()
            .unwrap_or(1)
    };
    let recorded = digits(|unit| unit.counts.recorded as usize);
    let waiting = digits(|unit| unit.counts.pending as usize);
    let failing = digits(|unit| unit.counts.failing as usize);
    for unit in units {
        let counts = &unit.counts;
        let mut line = format!(
            "{}  {}  {:>recorded$} recorded  {:>waiting$} pending  ",
            style.paint(Paint::Bold, &pad(&printable::text(&unit.serial), serials)),
            pad(reached(unit), stages),
            thousands(counts.recorded as usize),
            thousands(counts.pending as usize),
        );
        let fails = format!("{:>failing$} failing", thousands(counts.failing as usize));
        line.push_str(&style.paint(
            if counts.failing > 0 {
                Paint::Red
            } else {
                Paint::Plain
            },
            &fails,
        ));
        if counts.not_proven > 0 {
            let doubtful = format!("{} not proven", thousands(counts.not_proven as usize));
            line.push_str(&format!("  {}", style.paint(Paint::Red, &doubtful)));
        }
        if counts.missing > 0 {
            let missing = format!("{} missing", thousands(counts.missing as usize));
            line.push_str(&format!("  {}", style.paint(Paint::Red, &missing)));
        }
        if counts.conceded > 0 {
            line.push_str(&format!(
                "  {} conceded",
                thousands(counts.conceded as usize)
            ));
        }
        let (done, open, passed) = points(unit);
        line.push_str(&format!("  points: {done} done, {open} open"));
        if passed > 0 {
            line.push_str(&format!(
                ", {}",
                style.paint(Paint::Red, &format!("{passed} passed over"))
            ));
        }
        out.push_str(line.trim_end());
        out.push('\n');
    }
    let count = |severity| {
        outcome
            .findings
            .iter()
            .filter(|finding| finding.severity == severity && finding.accepted.is_none())
            .count()
    };
    let accepted = outcome
        .findings
        .iter()
        .filter(|finding| finding.accepted.is_some())
        .count();
    let (errors, warnings, notes) = (
        count(Severity::Error),
        count(Severity::Warning),
        count(Severity::Note),
    );
    let pending = match units
        .iter()
        .map(|unit| unit.counts.pending as usize)
        .sum::<usize>()
    {
        0 => count(Severity::Pending),
        sum => sum,
    };
    let mut judged = format!(
        "{}, {}",
        counted(outcome.documents, "document"),
        counted(outcome.lines, "line")
    );
    if !units.is_empty() {
        judged = format!("{}, {judged}", counted(units.len(), "unit"));
    }
    let verdict = if errors == 0 {
        style.paint(Paint::Green, "no errors")
    } else {
        style.paint(Paint::Red, &counted(errors, "error"))
    };
    let mut line = format!(
        "{judged}: {verdict}, {}, {}",
        counted(warnings, "warning"),
        counted(notes, "note")
    );
    if accepted > 0 {
        line.push_str(&format!(", {} accepted", thousands(accepted)));
    }
    if pending > 0 {
        line.push_str(&format!(", {} pending", thousands(pending)));
    }
    out.push_str(&line);
    out.push('\n');
}
