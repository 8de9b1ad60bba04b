//! `stagebook start`: a new record for a plan, with everything that is asked for kept open.

use std::path::{Path, PathBuf};

use clap::Args;

use super::layout::{counted, thousands};
use super::{Answer, SAFETY};
use crate::finding::printable;
use crate::plan::skeleton::{Beginning, read_sets, skeleton};
use crate::quantity::moment::Zone;
use crate::workspace;

/// What the long help says.
pub const LONG: &str = "Writes a new unit record for a plan: the design data and every reading that the plan asks for, kept \
open with `?`, each with its kind and a unit. Each stage stands as a comment, with its cautions, tables, logs and \
points, until its work begins. What it writes checks without error.\n\nThe plan is the name of a built-in one, the name of one in this folder or a folder above, or the path of \
its file. Sets that the design gives are laid out when their members are told:\n\n  \
stagebook start oil-immersed-power T-1 --set winding=HV,LV --set tap=1..17 --to T-1.ubr";

/// The arguments of `start`.
#[derive(Debug, Args)]
#[command(after_long_help = format!("Exit status: 0 written, 2 could not run, 101 internal error.\n\n{SAFETY}"))]
pub struct Arguments {
    /// The plan: its name, or the path of its file
    #[arg(value_name = "PLAN")]
    pub plan: String,
    /// The serial of the unit
    #[arg(value_name = "SERIAL")]
    pub serial: String,
    /// What the unit is
    #[arg(long, value_name = "TEXT")]
    pub title: Option<String>,
    /// Write to this new file instead of standard output; a file that exists is never touched
    #[arg(long, value_name = "FILE")]
    pub to: Option<PathBuf>,
    /// The register of people and instruments; without it the only one in this folder and those above
    #[arg(long, value_name = "NAME")]
    pub register: Option<String>,
    /// The time zone, such as Europe/Vienna or +01:00
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    pub zone: Option<String>,
    /// Members of a set that the design gives, such as winding=HV,LV or tap=1..17; may be repeated
    #[arg(long = "set", value_name = "SET=MEMBERS")]
    pub sets: Vec<String>,
}

/// Writes the record. Gives an error when the arguments do not fit, the plan cannot be opened or the file exists.
pub fn run(arguments: &Arguments) -> Result<Answer, String> {
    one_line("serial", Some(&arguments.serial))?;
    one_line("title", arguments.title.as_deref())?;
    if let Some(zone) = &arguments.zone {
        one_line("zone", Some(zone))?;
        Zone::parse(zone)?;
    }
    let folder = match &arguments.to {
        None => Path::new("."),
        Some(path) => {
            workspace::must_be_free(path).map_err(|cannot_run| cannot_run.to_string())?;
            match path.parent() {
                Some(parent) if !parent.as_os_str().is_empty() => parent,
                _ => Path::new("."),
            }
        }
    };
    if !folder.is_dir() {
        return Err(format!(
            "expected a folder `{}` for the new record, found none",
            folder.display()
        ));
    }
    let open = |register: Option<&str>| {
        workspace::open_plan(&arguments.plan, register, folder, arguments.to.is_some())
            .map_err(|cannot_run| cannot_run.to_string())
    };
    // The only register that is there is meant, unless it cannot be used; then nobody asked for it.
    let found = match arguments.register {
        Some(_) => None,
        None => workspace::only_register(folder),
    };
    let opened = found.as_deref().and_then(|found| open(Some(found)).ok());
    let register = match opened {
        Some(_) => found,
        None => arguments.register.clone(),
    };
    let (plan, sources) = opened.map_or_else(|| open(register.as_deref()), Ok)?;
    let beginning = Beginning {
        serial: arguments.serial.clone(),
        title: arguments.title.clone(),
        register,
        zone: arguments.zone.as_deref().map(|zone| zone.trim().to_owned()),
        sets: read_sets(&plan, &arguments.sets)?,
    };
    let text = skeleton(&plan, &sources, &beginning);
    let Some(path) = &arguments.to else {
        return Ok(Answer {
            text,
            failed: false,
            ..Answer::default()
        });
    };
    workspace::write_new(path, &text).map_err(|cannot_run| cannot_run.to_string())?;
    let lines = text.lines().count();
    let shown = printable::text(&path.to_string_lossy()).into_owned();
    let counted = if lines < 1000 {
        counted(lines, "line")
    } else {
        format!("{} lines", thousands(lines))
    };
    Ok(Answer {
        text: format!("{shown}: {counted} written; `stagebook check {shown}` judges it.\n"),
        failed: false,
        ..Answer::default()
    })
}

/// Refuses what is empty or would not stand on one line of the record.
fn one_line(what: &str, text: Option<&str>) -> Result<(), String> {
    let Some(text) = text else { return Ok(()) };
    if text.trim().is_empty() {
        return Err(format!("expected a {what}, found an empty text"));
    }
    if *printable::text(text) != *text {
        return Err(format!(
            "expected a {what} on one line without control characters, found `{}`",
            printable::text(text)
        ));
    }
    Ok(())
}
