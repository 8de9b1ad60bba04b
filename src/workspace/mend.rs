//! `stagebook fix`: faults of notation mended in files, each replaced as a whole or not at all.

use super::notation::{is_notation, mend_notation, same_content, sealed_parts, touches_any};
use super::replace::replace;
use super::seal_record::bound_values;
use super::{CannotRun, Input, Options, Silent, check, on_deep_stack};
use crate::finding::Finding;
use crate::syntax::parse;
use crate::text::FileId;
use std::path::{Path, PathBuf};

/// Rounds over a document: what a plan or a register says of it may show a fault that the text alone does not.
const MOST_ROUNDS: usize = 8;

/// What mending one document came to.
#[derive(Clone, Debug)]
pub struct MendedFile {
    /// What it is called.
    pub name: String,
    /// Its text before.
    pub before: String,
    /// Its text after; the same where nothing could be mended.
    pub after: String,
    /// How many faults of notation were mended.
    pub mended: usize,
    /// How many are left.
    pub left: usize,
    /// Why some or all are left.
    pub why: Option<Left>,
}

/// Why faults of notation are left.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Left {
    /// What is left is sealed.
    Sealed,
    /// What could be written otherwise would read as something else.
    ReadsOtherwise,
    /// A value came out another: an error of this program, and the file is as it was.
    ValueChanged,
}

/// What mending came to.
#[derive(Debug)]
pub struct Mending {
    /// Each document with a fault of notation, in order.
    pub files: Vec<MendedFile>,
    /// How many documents were looked at.
    pub documents: usize,
}

/// Mends the faults of notation of documents, of those in a folder too, and writes them unless `dry`.
///
/// Never changes a value: the content before and after, and the values bound to the plan, are compared, and a file in
/// which they differ stays as it is. What is sealed stays as it is. Fails where a path cannot be read, a file is no
/// UTF-8, or one cannot be written; what was written before stays written.
pub fn mend(
    paths: &[PathBuf],
    dry: bool,
    options: &Options,
    told: &mut dyn FnMut(&MendedFile),
) -> Result<Mending, CannotRun> {
    let inputs: Vec<Input> = paths.iter().cloned().map(Input::Path).collect();
    let outcome = check(&inputs, options, &Silent)?;
    let mut mending = Mending {
        files: Vec::new(),
        documents: outcome.documents,
    };
    for file in &outcome.checked {
        let faults = notation_of(&outcome.findings, *file);
        if faults.is_empty() {
            continue;
        }
        let source = &outcome.sources[file.0 as usize];
        let path = PathBuf::from(&*source.name);
        let read = super::seal_record::read(&path)?;
        let text = match std::str::from_utf8(&read) {
            Ok(text) if *text == *source.text => text.to_owned(),
            Ok(_) => {
                return Err(CannotRun(format!(
                    "expected {} as it was read, found it changed meanwhile; nothing was written to it, run the command again",
                    path.display()
                )));
            }
            Err(_) => {
                return Err(CannotRun(format!(
                    "expected UTF-8 text in {}, found other bytes; nothing was written to it, save it as UTF-8 first",
                    path.display()
                )));
            }
        };
        let done = mend_one(&source.name, &path, text, faults, options)?;
        if !dry && done.after != done.before {
            replace(&path, &read, done.after.as_bytes())?;
        }
        told(&done);
        mending.files.push(done);
    }
    Ok(mending)
}

fn notation_of(findings: &[Finding], file: FileId) -> Vec<Finding> {
    findings
        .iter()
        .filter(|finding| finding.place.file == file && is_notation(finding))
        .cloned()
        .collect()
}

fn mend_one(
    name: &str,
    path: &Path,
    before: String,
    mut faults: Vec<Finding>,
    options: &Options,
) -> Result<MendedFile, CannotRun> {
    let mut tree = parse(before.as_str());
    let mut done = MendedFile {
        name: name.to_owned(),
        after: before.clone(),
        before,
        mended: 0,
        left: faults.len(),
        why: None,
    };
    for _ in 0..MOST_ROUNDS {
        let Some(mended) = mend_notation(&tree, &faults) else {
            break;
        };
        done.mended += mended.count;
        done.after = mended.text;
        tree = parse(done.after.as_str());
        let again = Input::Text {
            name: name.to_owned(),
            bytes: done.after.clone().into_bytes(),
        };
        let outcome = check(&[again], options, &Silent)?;
        faults = match outcome.checked.first() {
            Some(own) => notation_of(&outcome.findings, *own),
            None => Vec::new(),
        };
        if faults.is_empty() {
            break;
        }
    }
    done.left = faults.len();
    if done.left > 0 {
        let sealed = sealed_parts(&tree);
        let all = faults
            .iter()
            .all(|fault| touches_any(&sealed, fault.place.span));
        done.why = Some(if all {
            Left::Sealed
        } else {
            Left::ReadsOtherwise
        });
    }
    if !proven(path, &done)? {
        done.after = done.before.clone();
        done.left += done.mended;
        done.mended = 0;
        done.why = Some(Left::ValueChanged);
    }
    Ok(done)
}

/// Whether the text after holds what the text before does: its content, and the values bound to the plan where it is
/// a record that can be bound.
fn proven(path: &Path, done: &MendedFile) -> Result<bool, CannotRun> {
    if !same_content(&parse(done.before.as_str()), &parse(done.after.as_str())) {
        return Ok(false);
    }
    on_deep_stack(|| {
        let values = |text: &str| bound_values(path, text.as_bytes().to_vec());
        Ok(values(&done.before) == values(&done.after))
    })
}
