//! `stagebook completions`: what a shell needs to complete the arguments.

use clap::{Args, CommandFactory};
use clap_complete::Shell;

use super::{Answer, Cli};

/// The arguments of `completions`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// The shell to write for
    #[arg(value_enum, value_name = "SHELL")]
    pub shell: Shell,
}

/// Writes the completions.
pub fn run(arguments: &Arguments) -> Answer {
    let mut bytes = Vec::new();
    clap_complete::generate(
        arguments.shell,
        &mut Cli::command(),
        "stagebook",
        &mut bytes,
    );
    Answer {
        text: String::from_utf8_lossy(&bytes).into_owned(),
        failed: false,
        ..Answer::default()
    }
}
