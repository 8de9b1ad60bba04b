//! `stagebook manual`: the manual page, made from the arguments themselves.

use clap::{Args, CommandFactory};
use clap_mangen::Man;

use super::{Answer, Cli, SAFETY};

/// What the long help says.
pub const LONG: &str =
    "Writes the manual page in roff, for `man`:\n\n  stagebook manual | man -l -";

/// The arguments of `manual`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The command to describe; without one, the whole program
    #[arg(value_name = "COMMAND")]
    pub command: Option<String>,
}

const STATUS: &str = ".SH \"EXIT STATUS\"
.TP
0
No error found.
.TP
1
At least one finding is an error.
.TP
2
The command could not run: wrong arguments, or a file that cannot be read.
.TP
101
A fault of the program itself; please report it.
";

const ENVIRONMENT: &str = ".SH ENVIRONMENT
.TP
NO_COLOR
When set and not empty, nothing is coloured.
.TP
CLICOLOR_FORCE
When set and not 0, output is coloured even when it is no terminal.
.TP
CLICOLOR
When 0, nothing is coloured.
.PP
The option \\-\\-color comes before all three.
";

/// Writes the page. Gives an error for a command that does not exist.
pub fn run(arguments: &Arguments) -> Result<Answer, String> {
    let mut whole = Cli::command();
    whole.build();
    let (command, top) = match arguments.command.as_deref() {
        None => (whole, true),
        Some(name) => {
            let known: Vec<&str> = whole
                .get_subcommands()
                .map(|each| each.get_name())
                .collect();
            match whole.find_subcommand(name) {
                // The texts after the help are told in sections of their own below.
                Some(found) => (
                    found.clone().display_name(format!("stagebook-{name}")),
                    false,
                ),
                None => {
                    return Err(format!(
                        "expected one of the commands {}; found `{name}`",
                        known.join(", ")
                    ));
                }
            }
        }
    };
    let command = command.after_help("").after_long_help("");
    let page = Man::new(command).section("1");
    let mut bytes = Vec::new();
    let parts = [
        Man::render_title,
        Man::render_name_section,
        Man::render_synopsis_section,
        Man::render_description_section,
        Man::render_options_section,
    ];
    let written = parts
        .iter()
        .try_for_each(|part| part(&page, &mut bytes))
        .and_then(|()| {
            if top {
                page.render_subcommands_section(&mut bytes)
            } else {
                Ok(())
            }
        });
    written.map_err(|error| format!("cannot write the manual page: {error}"))?;
    let mut text = String::from_utf8_lossy(&bytes).into_owned();
    text.push_str(STATUS);
    if top {
        text.push_str(ENVIRONMENT);
    }
    text.push_str(&format!(".SH SAFETY\n{SAFETY}\n"));
    Ok(Answer {
        text,
        failed: false,
        ..Answer::default()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_manual_ends_with_the_safety_note() {
        for command in [None, Some("check".to_string()), Some("calc".to_string())] {
            let text = run(&Arguments { command })
                .map(|answer| answer.text)
                .unwrap_or_default();
            assert!(
                text.contains(".SH NAME") && text.contains(".SH \"EXIT STATUS\""),
                "{text}"
            );
            assert!(text.trim_end().ends_with("wherever voltage is applied."));
        }
        assert!(
            run(&Arguments {
                command: Some("chekc".to_string())
            })
            .is_err()
        );
    }
}
