//! What a new record needs: its plan, opened as a record in a folder would find it, and a file of its own.

use super::documents::{Given, Loaded, reason};
use super::library::Library;
use super::{CannotRun, on_deep_stack};
use crate::finding::{Finding, Severity, printable};
use crate::plan::skeleton::is_name;
use crate::plan::{Plan, builtin};
use crate::syntax::{DocumentKind, nearest};
use crate::text::SourceText;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Opens a plan for a record that will stand in `folder`.
///
/// `wanted` is the name of a built-in plan, the name of a plan in the folder or one above it, or the path of a
/// plan's file. A register that is named must be found as well. With `must_be_found`, a plan given by its path
/// must be the one that the record will find by name. Gives one sentence where the plan or register is not
/// found, cannot be read or has an error. Places in the plan refer to the sources by index.
pub fn open_plan(
    wanted: &str,
    register: Option<&str>,
    folder: &Path,
    must_be_found: bool,
) -> Result<(Arc<Plan>, Vec<SourceText>), CannotRun> {
    on_deep_stack(|| open(wanted, register, folder, must_be_found))
}

fn open(
    wanted: &str,
    register: Option<&str>,
    folder: &Path,
    must_be_found: bool,
) -> Result<(Arc<Plan>, Vec<SourceText>), CannotRun> {
    if let Some(register) = register.filter(|register| !is_name(register)) {
        return Err(CannotRun(format!(
            "expected the name of a register, found `{}`",
            printable::text(register)
        )));
    }
    let path = Path::new(wanted);
    let as_path = !is_name(wanted);
    let mut documents = Vec::new();
    let mut name = wanted.to_owned();
    if as_path {
        if !wanted.contains(['/', '\\', '.']) {
            return Err(CannotRun(not_a_plan(wanted)));
        }
        let shown = wanted
            .strip_prefix("./")
            .unwrap_or(wanted)
            .replace('\\', "/");
        let given = Given {
            name: shown.clone(),
            path: Some(path.to_owned()),
            bytes: None,
        };
        if path.is_dir() {
            return Err(CannotRun(format!(
                "cannot read {shown}: it is a folder; name the plan or its file"
            )));
        }
        let document = Loaded::read(given)?;
        let own = super::document_name(&document.tree)
            .filter(|_| document.tree.document == DocumentKind::Plan);
        let Some((own, _)) = own else {
            return Err(CannotRun(format!("expected a plan in {shown}, found none")));
        };
        name = own;
        documents.push(document);
    }
    // A record that asks for the plan and the register finds what the new one will find.
    let register_line = register
        .map(|register| format!("  register {register}\n"))
        .unwrap_or_default();
    let text = format!("unit new\n  plan {name}\n{register_line}");
    let given = Given {
        name: "new record".to_owned(),
        path: None,
        bytes: Some(text.into_bytes()),
    };
    let mut record = Loaded::read(given)?;
    record.folder = Some(folder.to_owned());
    documents.push(record);
    let mut library = Library::new(documents);
    let needs = library.needs();
    let Some(need) = needs.first() else {
        return Err(CannotRun(not_a_plan(wanted)));
    };
    let found = need.plan;
    let index = if as_path { Some(0) } else { found };
    if as_path && must_be_found && found != index {
        return Err(CannotRun(format!(
            "expected the record in the folder of its plan {wanted} or in one below it, so that it finds the plan; found {}",
            printable::text(&folder.to_string_lossy())
        )));
    }
    let missing = need.findings.iter().find(|finding| {
        // A plan given by its path need not be found by its name.
        !(as_path && finding.rule.name == crate::finding::rules::UNKNOWN_PLAN.name)
    });
    if let Some(finding) = missing {
        let from = if folder == Path::new(".") {
            String::new()
        } else {
            format!(
                "; looked for from {} upwards",
                printable::text(&folder.to_string_lossy())
            )
        };
        return Err(CannotRun(format!("{}{from}", sentence(finding))));
    }
    let (mut plans, mut findings) = library.compile(false);
    for (index, document) in library.documents.iter().enumerate() {
        findings.extend(document.findings(crate::text::FileId(index as u32)));
    }
    let errors: Vec<&Finding> = findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error)
        .collect();
    if let Some(first) = errors.first() {
        let file = library.documents.get(first.place.file.0 as usize);
        let file = file.map_or("", |document| &*document.source.name);
        let count = if errors.len() == 1 {
            "an error".to_owned()
        } else {
            format!("{} errors", errors.len())
        };
        return Err(CannotRun(format!(
            "expected a plan and a register without error, found {count}; `stagebook check {}` shows more",
            printable::text(file)
        )));
    }
    let plan = index
        .and_then(|index| plans.remove(&index))
        .ok_or_else(|| CannotRun(not_a_plan(wanted)))?;
    let sources = library
        .documents
        .iter()
        .map(|document| document.source.clone())
        .collect();
    Ok((plan, sources))
}

/// The name of the register that a record in `folder` would find, where all that it would find have one name.
///
/// It may have errors; `open_plan` with its name tells them.
pub fn only_register(folder: &Path) -> Option<String> {
    let mut names: Vec<String> = Library::new(Vec::new())
        .names_near(folder)
        .into_iter()
        .filter(|(kind, _)| *kind == DocumentKind::Register)
        .map(|(_, name)| name)
        .collect();
    names.sort();
    names.dedup();
    match names.as_slice() {
        [only] => Some(only.clone()),
        _ => None,
    }
}

/// A finding as one sentence.
fn sentence(finding: &Finding) -> String {
    match &finding.help {
        Some(help) => format!("{}; {help}", finding.message),
        None => finding.message.clone(),
    }
}

fn not_a_plan(wanted: &str) -> String {
    let near = nearest(wanted, builtin::BUILTIN_PLANS.iter().map(|plan| plan.name));
    let hint = near
        .map(|near| format!("; did you mean `{near}`?"))
        .unwrap_or_default();
    format!(
        "expected the name of a plan or the path of its file, found `{}`{hint}",
        printable::text(wanted)
    )
}

/// Writes a file that is not there yet: whole or not at all, never over another.
///
/// The text goes into a temporary file in the same folder first. Gives one sentence where something stands at the
/// path already or the folder cannot be written.
pub fn write_new(path: &Path, text: &str) -> Result<(), CannotRun> {
    must_be_free(path)?;
    let cannot = |error: std::io::Error| {
        CannotRun(format!(
            "cannot write {}: {}",
            path.display(),
            reason(&error)
        ))
    };
    let (temporary, mut file) = temporary(path).map_err(cannot)?;
    let written = file
        .write_all(text.as_bytes())
        .and_then(|()| file.sync_all());
    drop(file);
    let placed = written.map_err(cannot).and_then(|()| {
        place(&temporary, path).map_err(|error| {
            if error.kind() == std::io::ErrorKind::AlreadyExists {
                taken(path)
            } else {
                cannot(error)
            }
        })
    });
    // After a link, and after a failure, the temporary name is left over; after a rename it is gone.
    let _ = std::fs::remove_file(&temporary);
    placed
}

/// Refuses a path at which something stands, a link that leads nowhere included.
pub fn must_be_free(path: &Path) -> Result<(), CannotRun> {
    if std::fs::symlink_metadata(path).is_ok() {
        Err(taken(path))
    } else {
        Ok(())
    }
}

fn taken(path: &Path) -> CannotRun {
    CannotRun(format!(
        "expected a new file, found that {} exists; nothing was written",
        path.display()
    ))
}

/// A new file beside the one to be written.
pub(super) fn temporary(path: &Path) -> std::io::Result<(PathBuf, std::fs::File)> {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    let mut attempt = 0;
    loop {
        let temporary =
            path.with_file_name(format!(".{name}.{}-{attempt}.tmp", std::process::id()));
        match std::fs::OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&temporary)
        {
            Ok(file) => return Ok((temporary, file)),
            Err(error) if error.kind() == std::io::ErrorKind::AlreadyExists && attempt < 16 => {
                attempt += 1
            }
            Err(error) => return Err(error),
        }
    }
}

/// Gives the finished file its name. A link fails where the name is taken, which a rename does not; a rename is
/// for file systems without links.
fn place(temporary: &Path, path: &Path) -> std::io::Result<()> {
    match std::fs::hard_link(temporary, path) {
        Err(error) if error.kind() != std::io::ErrorKind::AlreadyExists => {
            if std::fs::symlink_metadata(path).is_ok() {
                return Err(std::io::ErrorKind::AlreadyExists.into());
            }
            std::fs::rename(temporary, path)
        }
        linked => linked,
    }
}
