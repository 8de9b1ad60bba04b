//! `stagebook status`: where each unit stands.

use std::path::PathBuf;

use clap::Args;

use super::layout::counted;
use super::today::TodayArgument;
use super::{Answer, Screen, inputs, progress::Bar, status_table};
use crate::finding::Severity;
use crate::finding::terminal::Paint;
use crate::workspace::{self, Options};

/// Up to this many units each gets its own table unasked.
const FEW: usize = 4;

/// What the long help says.
pub const LONG: &str = "Shows where each unit stands, stage by stage: how much is recorded, what is pending, the state of \
every point, and which hold point stops the work. A folder gives a line for each unit, and a table for each when \
they are few or --all is given.\n\nThe exit status tells only whether the command could run; `stagebook check` judges.";

/// The arguments of `status`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Files or folders; `-` reads standard input
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// What standard input is called
    #[arg(long, value_name = "FILE")]
    pub name: Option<String>,
    /// A table for every unit, however many there are
    #[arg(long)]
    pub all: bool,
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

/// Lays out the standing of every unit. Gives an error when the inputs cannot be read or hold no unit.
pub fn run(arguments: &Arguments, screen: &Screen) -> Result<Answer, String> {
    let inputs = inputs::gather(&arguments.paths, arguments.name.as_deref())?;
    let options = Options {
        threads: arguments.threads,
        today: arguments.today.counts(),
    };
    let outcome = workspace::check(&inputs, &options, &Bar::default())
        .map_err(|cannot_run| cannot_run.to_string())?;
    let units = &outcome.units;
    if units.is_empty() {
        let paths: Vec<String> = arguments
            .paths
            .iter()
            .map(|path| path.display().to_string())
            .collect();
        return Err(format!(
            "expected at least one unit record in {}, found none",
            paths.join(", ")
        ));
    }
    let mut text = String::new();
    if units.len() > 1 {
        text.push_str(&status_table::overview(units, screen));
    }
    if units.len() <= FEW || arguments.all {
        for unit in units {
            if !text.is_empty() {
                text.push('\n');
            }
            text.push_str(&status_table::unit(unit, screen));
        }
    } else {
        text.push_str("\n--all shows the stages of every unit.\n");
    }
    let errors = outcome
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error)
        .count();
    if errors > 0 {
        let words = counted(errors, "error");
        let line = format!(
            "{}; `stagebook check` explains.",
            screen.style.paint(Paint::Red, &words)
        );
        text.push_str(&format!("\n{line}\n"));
    }
    Ok(Answer {
        text,
        failed: false,
        ..Answer::default()
    })
}
