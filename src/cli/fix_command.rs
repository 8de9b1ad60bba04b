//! `stagebook fix`: mends faults of notation.

use std::path::{Path, PathBuf};

use clap::Args;

use super::diff::unified;
use super::layout::counted;
use super::{Answer, SAFETY, Screen};
use crate::finding::printable;
use crate::workspace::{self, Left, MendedFile, Options};

/// What the long help says.
pub const LONG: &str = "Mends what has one mend and changes no value: a missing space between number and unit, a decimal comma, \
tabs in the indentation, a byte-order mark, lone carriage returns. Before a file is written its content and the values bound to its plan \
are compared with what they were; a file in which anything differs stays as it is. What is sealed stays as it is. A name or unit \
that is nearest to an unknown one is not put in: only its writer knows what was meant.\n\n  stagebook fix KFT-0413-1.ubr\n  stagebook fix --diff .";

const EXIT: &str = "Exit status: 0 no fault of notation is left, 1 some are left (in a sealed part, or with --diff, which writes nothing), \
2 could not run, 101 internal error.";

/// The arguments of `fix`.
#[derive(Debug, Args)]
#[command(after_long_help = format!("{EXIT}\n\n{SAFETY}"))]
pub struct Arguments {
    /// Files or folders
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// Show what would be changed, and write nothing
    #[arg(long)]
    pub diff: bool,
}

/// Mends the documents. Gives an error when one cannot be read or written.
pub fn run(arguments: &Arguments, screen: &Screen) -> Result<Answer, String> {
    if arguments.paths.iter().any(|path| path == Path::new("-")) {
        return Err("expected files or folders, found `-`: what is mended is a file".to_owned());
    }
    let options = Options::default();
    let mut answer = Answer::default();
    let mut told = |file: &MendedFile| {
        if arguments.diff && file.mended > 0 {
            let diff = unified(&file.name, &file.before, &file.after, screen.style);
            answer.text.push_str(&diff);
        }
        answer.text.push_str(&line(file, arguments.diff));
        answer.failed |= file.left > 0 || (arguments.diff && file.mended > 0);
    };
    let done = workspace::mend(&arguments.paths, arguments.diff, &options, &mut told);
    let done = done.map_err(|cannot_run| {
        // What was written before is told, so that nobody has to guess.
        match answer.text.is_empty() {
            true => cannot_run.to_string(),
            false => format!("{cannot_run}\nbefore that:\n{}", answer.text.trim_end()),
        }
    })?;
    if done.files.is_empty() {
        let documents = counted(done.documents, "document");
        answer.text = format!("no fault of notation in {documents}\n");
    }
    Ok(answer)
}

/// What was done with one document, and what was not.
fn line(file: &MendedFile, dry: bool) -> String {
    let name = printable::text(&file.name);
    let mut out = String::new();
    if file.mended > 0 {
        let faults = counted(file.mended, "fault");
        let mended = if dry { "to be mended" } else { "mended" };
        out.push_str(&format!("{faults} of notation {mended} in {name}\n"));
    }
    let left = counted(file.left, "fault");
    match file.why {
        None => {}
        Some(Left::Sealed) => out.push_str(&format!(
            "{left} of notation left in {name}: what is sealed keeps its notation\n"
        )),
        Some(Left::ReadsOtherwise) => out.push_str(&format!(
            "{left} of notation left in {name}: written otherwise the line would read as something else; mend it by hand\n"
        )),
        Some(Left::ValueChanged) => out.push_str(&format!(
            "{left} of notation left in {name}: internal error: a value came out another, so the file is as it was; please report it together with the file\n"
        )),
    }
    out
}
