//! `stagebook calc`: the plan's expression language at the prompt.

use clap::Args;

use super::{Answer, Screen};
use crate::finding::terminal::render;

/// What the long help says.
pub const LONG: &str = "Computes an expression of the plan language. Every number may carry a unit; the result carries \
its own. Numbers are exact until a root or an exponential is taken.\n\n  stagebook calc \"512 mohm * (235 + 75) / (235 + 23.4)\"\n  \
stagebook calc \"65 °C - 20 °C\"\n\n`stagebook explain` with no word lists the functions and units.";

/// The arguments of `calc`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The expression; several words are joined with spaces
    #[arg(
        required = true,
        allow_hyphen_values = true,
        trailing_var_arg = true,
        value_name = "EXPRESSION"
    )]
    pub expression: Vec<String>,
}

/// Computes the expression; a finding about it is the answer when it cannot be computed.
pub fn run(arguments: &Arguments, screen: &Screen) -> Result<Answer, String> {
    let expression = arguments.expression.join(" ");
    match crate::verdict::calculate(&expression) {
        Ok(result) => Ok(Answer {
            text: format!("{result}\n"),
            failed: false,
            ..Answer::default()
        }),
        Err((source, findings)) => {
            let sources = [source];
            let text = findings
                .iter()
                .map(|finding| render(finding, &sources, screen.style))
                .collect();
            Ok(Answer {
                text,
                failed: true,
                ..Answer::default()
            })
        }
    }
}
