//! The command line: arguments in, text and an exit status out. One file a command.
//!
//! A command returns its whole answer as text; only [`main`] writes to standard output and chooses the
//! exit status.

mod calc_command;
mod check_command;
pub mod color;
mod completions;
mod diff;
mod explain_command;
mod explain_list;
mod explain_pages;
mod fix_command;
mod format_command;
mod inputs;
mod layout;
mod lsp_command;
mod manual;
mod progress;
mod release_command;
mod seal_command;
mod start_command;
mod status_command;
mod status_table;
mod today;

use std::io::{ErrorKind, IsTerminal, Write};
use std::process::ExitCode;

use clap::{Parser, Subcommand};

use crate::finding::terminal::Style;
use color::ColorChoice;

/// Nothing found that is an error.
pub const CLEAN: u8 = 0;
/// At least one finding is an error.
pub const ERRORS: u8 = 1;
/// The command could not run: wrong arguments, unreadable files.
pub const COULD_NOT_RUN: u8 = 2;
/// A fault of the program itself.
pub const INTERNAL: u8 = 101;

/// What the tool is and is not; stands in the long help and in the manual.
pub const SAFETY: &str = "The tool advises; it never authorises work. A check without findings releases nothing: \
release is an act of the person whose role it is. Local codes, the works' own rules and licensed practice come \
first, above all at hold points and wherever voltage is applied.";

const LONG: &str = "Judges the build record of a power transformer against its inspection plan: what is recorded, \
what is missing, what is out of limits, what was done past a hold point; with the arithmetic, the source of \
each limit and what to do next.";

const EXIT: &str = "Exit status: 0 no error found, 1 at least one error found, 2 could not run, 101 internal error.";

/// The arguments of the program.
#[derive(Debug, Parser)]
#[command(
    name = "stagebook",
    version,
    about = "Judges unit build records of power transformers against their inspection plans",
    long_about = LONG,
    after_help = EXIT,
    after_long_help = format!("{EXIT}\n\n{SAFETY}"),
    max_term_width = 100
)]
pub struct Cli {
    /// When to colour: `auto` colours on a terminal and follows NO_COLOR, CLICOLOR_FORCE and CLICOLOR.
    #[arg(
        long,
        global = true,
        value_enum,
        default_value_t,
        value_name = "WHEN",
        hide_possible_values = true
    )]
    pub color: ColorChoice,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What the program can do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Judge records and plans and show every finding with its reasoning
    #[command(long_about = check_command::LONG)]
    Check(check_command::Arguments),
    /// Show where each unit stands, stage by stage
    #[command(long_about = status_command::LONG)]
    Status(status_command::Arguments),
    /// Say what stands in the way of a unit leaving a stage: the last look before it goes on
    #[command(long_about = release_command::LONG)]
    Release(release_command::Arguments),
    /// Seal what a release covers, and sign it
    #[command(long_about = seal_command::LONG)]
    Seal(seal_command::Arguments),
    /// Write a new record for a plan, with everything that is asked for kept open
    #[command(long_about = start_command::LONG)]
    Start(start_command::Arguments),
    /// Mend faults of notation: how something is written, never what is written
    #[command(long_about = fix_command::LONG)]
    Fix(fix_command::Arguments),
    /// Bring documents into their canonical layout, without changing what they say
    #[command(long_about = format_command::LONG)]
    Format(format_command::Arguments),
    /// Tell what a rule, a function, a unit or a built-in plan says
    #[command(long_about = explain_command::LONG)]
    Explain(explain_command::Arguments),
    /// Compute an expression of the plan language, with units
    #[command(long_about = calc_command::LONG)]
    Calc(calc_command::Arguments),
    /// Serve an editor: findings while typing, and what is known under the cursor
    #[command(long_about = lsp_command::LONG)]
    Lsp(lsp_command::Arguments),
    /// Write the completions for a shell to standard output
    Completions(completions::Arguments),
    /// Write the manual page to standard output, in roff
    #[command(long_about = manual::LONG)]
    Manual(manual::Arguments),
}

/// How the answer may look.
#[derive(Clone, Copy, Debug, Default)]
pub struct Screen {
    /// Whether to colour.
    pub style: Style,
    /// Whether block characters can be shown.
    pub unicode: bool,
}

/// What a command has to say.
#[derive(Debug, Default)]
pub struct Answer {
    /// For standard output.
    pub text: String,
    /// Whether an error was found.
    pub failed: bool,
    /// What could not be done beside the rest, for standard error.
    pub complaints: Vec<Complaint>,
}

/// Something that could not be done while the rest was.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Complaint {
    /// One sentence.
    pub message: String,
    /// The exit status that it makes: [`COULD_NOT_RUN`] or [`INTERNAL`].
    pub status: u8,
}

/// Runs the program on the arguments of the process. Gives the exit status of the process.
pub fn main() -> ExitCode {
    let cli = match Cli::try_parse() {
        Ok(cli) => cli,
        Err(error) => {
            let status = if error.use_stderr() {
                COULD_NOT_RUN
            } else {
                CLEAN
            };
            // A closed pipe is no reason to fail.
            let _ = error.print();
            return ExitCode::from(status);
        }
    };
    let environment = |name: &str| std::env::var(name).ok();
    let screen = Screen {
        style: Style {
            color: color::wanted(cli.color, environment, std::io::stdout().is_terminal()),
        },
        unicode: color::unicode(environment),
    };
    if let Command::Lsp(arguments) = cli.command {
        // It speaks with its client by itself, for as long as that likes.
        return match lsp_command::run(arguments) {
            Ok(status) => ExitCode::from(status),
            Err(message) => complain(&message),
        };
    }
    match run(&cli.command, &screen) {
        Ok(answer) => {
            let found = if answer.failed { ERRORS } else { CLEAN };
            let statuses = answer.complaints.iter().map(|complaint| complaint.status);
            let status = statuses.fold(found, u8::max);
            let printed = print(&answer.text);
            for complaint in &answer.complaints {
                complain(&complaint.message);
            }
            match printed {
                Ok(()) => ExitCode::from(status),
                Err(error) if error.kind() == ErrorKind::BrokenPipe => ExitCode::from(status),
                Err(error) => complain(&format!("cannot write the answer: {error}")),
            }
        }
        Err(message) => complain(&message),
    }
}

/// Runs one command; an error is one sentence that says why it could not run.
pub fn run(command: &Command, screen: &Screen) -> Result<Answer, String> {
    match command {
        Command::Check(arguments) => check_command::run(arguments, screen),
        Command::Status(arguments) => status_command::run(arguments, screen),
        Command::Release(arguments) => release_command::run(arguments, screen),
        Command::Seal(arguments) => seal_command::run(arguments),
        Command::Start(arguments) => start_command::run(arguments),
        Command::Fix(arguments) => fix_command::run(arguments, screen),
        Command::Format(arguments) => format_command::run(arguments),
        Command::Explain(arguments) => explain_command::run(arguments, screen),
        Command::Calc(arguments) => calc_command::run(arguments, screen),
        Command::Lsp(_) => Err("`lsp` answers a client, not a terminal".to_owned()),
        Command::Completions(arguments) => Ok(completions::run(arguments)),
        Command::Manual(arguments) => manual::run(arguments),
    }
}

fn print(text: &str) -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    out.write_all(text.as_bytes())?;
    out.flush()
}

fn complain(message: &str) -> ExitCode {
    // With standard error closed there is nobody left to tell; the status still does.
    let _ = writeln!(std::io::stderr(), "stagebook: {message}");
    ExitCode::from(COULD_NOT_RUN)
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_arguments_are_consistent() {
        Cli::command().debug_assert();
    }

    #[test]
    fn calc_takes_a_negative_number() {
        let cli = Cli::try_parse_from(["stagebook", "calc", "-5 K", "+", "3 K"]);
        assert!(matches!(cli.map(|cli| cli.command), Ok(Command::Calc(_))));
    }

    #[test]
    fn wrong_arguments_are_refused() {
        for arguments in [
            &["stagebook"][..],
            &["stagebook", "check"],
            &["stagebook", "check", "x", "--as", "xml"],
        ] {
            assert!(Cli::try_parse_from(arguments).is_err(), "{arguments:?}");
        }
    }
}
