//! `stagebook release`: the last look before a unit leaves a stage.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use serde_json::json;

use super::layout::{counted, thousands};
use super::today::TodayArgument;
use super::{Answer, SAFETY, Screen, inputs, progress::Bar};
use crate::finding::terminal::{Paint, place_words, wrap};
use crate::finding::{PointState, SealState, printable};
use crate::text::SourceText;
use crate::workspace::{self, Obstacle, Options, Standing};

/// Text is wrapped at this column.
const WIDTH: usize = 100;

/// What the long help says.
pub const LONG: &str = "Says what stands in the way of a unit leaving a stage, in the order in which a person would clear it: \
what is still to be recorded, errors, warnings that nobody accepted, points that are not released, seals that \
the plan asks for. Everything that comes before the stage is looked at too. `stagebook release dispatch` is \
the last look before shipping.\n\nIt releases nothing: a release is a line in the record, written by the person whose role it is.";

const EXIT: &str = "Exit status: 0 nothing in the record stands in the way, 1 something does, 2 could not run, 101 internal error.";

/// How to give the answer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Form {
    /// For people.
    #[default]
    Text,
    /// For programs: one JSON object.
    Json,
}

/// The arguments of `release`.
#[derive(Debug, Args)]
#[command(after_long_help = format!("{EXIT}\n\n{SAFETY}"))]
pub struct Arguments {
    /// The stage that is to be left, by its name in the plan
    #[arg(value_name = "STAGE")]
    pub stage: String,
    /// Files or folders; `-` reads standard input
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// The form of the answer
    #[arg(long = "as", value_enum, default_value_t, value_name = "FORM")]
    pub form: Form,
    /// What standard input is called
    #[arg(long, value_name = "FILE")]
    pub name: Option<String>,
    #[command(flatten)]
    pub today: TodayArgument,
}

/// Looks at each unit. Gives an error when the inputs cannot be read, hold no unit, or have no such stage.
pub fn run(arguments: &Arguments, screen: &Screen) -> Result<Answer, String> {
    let inputs = inputs::gather(&arguments.paths, arguments.name.as_deref())?;
    let options = Options {
        today: arguments.today.counts(),
        ..Options::default()
    };
    let outcome = workspace::check(&inputs, &options, &Bar::default())
        .map_err(|cannot_run| cannot_run.to_string())?;
    let standings = workspace::gate(&outcome, &arguments.stage)?;
    let failed = standings
        .iter()
        .any(|standing| !standing.obstacles.is_empty());
    let text = match arguments.form {
        Form::Text => {
            let pages: Vec<String> = standings
                .iter()
                .map(|standing| page(standing, &outcome.sources, screen))
                .collect();
            format!("{}\n{SAFETY_LINE}\n", pages.join("\n"))
        }
        Form::Json => format!("{:#}\n", document(&standings, &outcome.sources)),
    };
    Ok(Answer {
        text,
        failed,
        ..Answer::default()
    })
}

/// Stands below every answer for people.
const SAFETY_LINE: &str =
    "The tool advises: the person whose role it is releases, by local codes and the works' rules.";

fn page(standing: &Standing, sources: &[SourceText], screen: &Screen) -> String {
    let style = screen.style;
    let mut out = String::new();
    let serial = printable::text(&standing.serial).into_owned();
    let stage = &standing.stage;
    let head = match standing.obstacles.len() {
        0 => style.paint(
            Paint::Green,
            &format!("{serial}: nothing in the record stands in the way of leaving stage `{stage}`"),
        ),
        1 => style.paint(
            Paint::Red,
            &format!("{serial}: 1 thing stands in the way of leaving stage `{stage}`"),
        ),
        count => style.paint(
            Paint::Red,
            &format!(
                "{serial}: {} things stand in the way of leaving stage `{stage}`, in the order to clear them",
                thousands(count)
            ),
        ),
    };
    out.push_str(&head);
    out.push('\n');
    if !standing.applies {
        out.push_str(
            "  this stage does not apply to the unit; what comes before it was looked at\n",
        );
    }
    let mut last = None;
    for (index, obstacle) in standing.obstacles.iter().enumerate() {
        if index == 0 || last != Some(&obstacle.stage) {
            let title = match &obstacle.stage {
                Some(name) => format!("stage {name}"),
                None => "the document and its design".to_owned(),
            };
            out.push_str(&format!("\n  {}\n", style.paint(Paint::Bold, &title)));
            last = Some(&obstacle.stage);
        }
        obstacle_lines(index + 1, obstacle, sources, screen, &mut out);
    }
    if standing.obstacles.is_empty() {
        out.push('\n');
        let counts = &standing.counts;
        let mut line = format!(
            "  {}, {} and checks hold",
            counted_of(counts.recorded, "recorded"),
            counted(counts.holding as usize, "limit")
        );
        if counts.conceded > 0 {
            line.push_str(&format!(
                ", {} conceded",
                thousands(counts.conceded as usize)
            ));
        }
        out.push_str(&format!("{line}\n"));
        for point in &standing.points {
            let sealed = match point.seal {
                SealState::Valid | SealState::Signed => format!(", {}", point.seal.word()),
                SealState::NotAsked | SealState::Missing | SealState::Broken => String::new(),
            };
            out.push_str(&format!(
                "  {} {} by {} on {}{sealed}\n",
                point.name,
                match point.state {
                    PointState::Waived => "waived",
                    _ => "done",
                },
                printable::text(&point.by),
                printable::text(&point.on)
            ));
        }
    }
    for finding in &standing.known {
        let words = match &finding.accepted {
            Some(accepted) => format!(
                "accepted by {} on {}: {} ({})",
                accepted.by, accepted.on, finding.message, accepted.because
            ),
            None => finding.message.clone(),
        };
        for (index, line) in wrap(&printable::text(&words), WIDTH - 4)
            .into_iter()
            .enumerate()
        {
            let indent = if index == 0 { "  " } else { "    " };
            out.push_str(&format!("{indent}{line}\n"));
        }
    }
    out
}

fn counted_of(count: u32, word: &str) -> String {
    format!("{} {word}", thousands(count as usize))
}

fn obstacle_lines(
    number: usize,
    obstacle: &Obstacle,
    sources: &[SourceText],
    screen: &Screen,
    out: &mut String,
) {
    let mut text = printable::text(&obstacle.text).into_owned();
    if let Some(rule) = obstacle.rule.filter(|rule| *rule != "pending") {
        text.push_str(&format!(" ({rule})"));
    }
    let number = format!("{number:>4}  ");
    let indent = " ".repeat(number.len());
    for (index, line) in wrap(&text, WIDTH - number.len()).into_iter().enumerate() {
        out.push_str(if index == 0 { &number } else { &indent });
        out.push_str(line.trim_end());
        out.push('\n');
    }
    if let Some(place) = obstacle.place.and_then(|place| place_words(place, sources)) {
        out.push_str(&format!(
            "{indent}{}\n",
            screen.style.paint(Paint::Dim, &place)
        ));
    }
}

fn document(standings: &[Standing], sources: &[SourceText]) -> serde_json::Value {
    let units: Vec<serde_json::Value> = standings
        .iter()
        .map(|standing| {
            let obstacles: Vec<serde_json::Value> = standing
                .obstacles
                .iter()
                .map(|obstacle| {
                    json!({
                        "stage": obstacle.stage.as_deref(),
                        "kind": obstacle.kind.word(),
                        "text": obstacle.text,
                        "rule": obstacle.rule,
                        "place": obstacle.place.and_then(|place| place_words(place, sources)),
                    })
                })
                .collect();
            json!({
                "serial": standing.serial,
                "path": &*standing.path,
                "stage": &*standing.stage,
                "applies": standing.applies,
                "clear": standing.obstacles.is_empty(),
                "obstacles": obstacles,
            })
        })
        .collect();
    json!({ "schema": "stagebook-release-1", "units": units })
}
