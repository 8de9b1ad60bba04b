//! Documents brought into their canonical layout: read, laid out, and written back where that is asked for.

use super::documents::{Given, gather};
use super::replace::replace;
use super::{CannotRun, Input, MAX_DOCUMENT};
use crate::syntax::format::{Edit, apply, format};
use crate::syntax::parse;
use crate::text::decode;
use rayon::prelude::*;
use std::path::PathBuf;
use std::sync::Arc;

/// A document and its canonical layout.
#[derive(Debug)]
pub struct LaidOut {
    /// What it is called.
    pub name: String,
    /// The text as it stands.
    pub before: Arc<str>,
    /// What the layout changes, in order; nothing where the document is canonical already.
    pub edits: Vec<Edit>,
    path: Option<PathBuf>,
}

/// Why a document was not laid out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Refused {
    /// One sentence that says why, and that the document is as it was.
    pub message: String,
    /// Whether it is a fault of the program itself.
    pub internal: bool,
}

impl LaidOut {
    /// The text in its canonical layout.
    pub fn after(&self) -> String {
        apply(&self.before, &self.edits)
    }

    /// Writes the layout into the document's file, as a whole or not at all. Does nothing where nothing changes or the
    /// text came from elsewhere. The error says that nothing was written.
    pub fn write(&self) -> Result<(), CannotRun> {
        match &self.path {
            Some(path) if !self.edits.is_empty() => {
                replace(path, self.before.as_bytes(), self.after().as_bytes())
            }
            _ => Ok(()),
        }
    }
}

/// Lays out every document that the inputs mean, in the order of their names. Nothing is written.
///
/// Fails where a path does not exist or cannot be read; a document that is no UTF-8 or too large is refused by itself.
pub fn lay_out(inputs: &[Input]) -> Result<Vec<Result<LaidOut, Refused>>, CannotRun> {
    let given = gather(inputs, false)?;
    Ok(given.into_par_iter().map(one).collect())
}

fn one(given: Given) -> Result<LaidOut, Refused> {
    let Given { name, path, bytes } = given;
    let refused = |why: String| Refused {
        message: format!("cannot format {name}: {why}; it was left as it is"),
        internal: false,
    };
    let from_file = bytes.is_none();
    let bytes = match (bytes, &path) {
        (Some(bytes), _) => bytes,
        (None, Some(path)) => {
            let cannot = |error: std::io::Error| refused(super::documents::reason(&error));
            let size = std::fs::metadata(path).map_err(cannot)?.len();
            if size > MAX_DOCUMENT {
                return Err(refused(too_large(size)));
            }
            std::fs::read(path).map_err(cannot)?
        }
        (None, None) => Vec::new(),
    };
    if bytes.len() as u64 > MAX_DOCUMENT {
        return Err(refused(too_large(bytes.len() as u64)));
    }
    let decoded = decode(bytes);
    if let Some(fault) = decoded.fault {
        let line = decoded.text[..fault.offset as usize].matches('\n').count() + 1;
        return Err(refused(format!(
            "expected UTF-8 text, found the byte 0x{:02X} in line {line}",
            fault.byte
        )));
    }
    let tree = parse(decoded.text);
    let edits = format(&tree).map_err(|unlike| Refused {
        message: format!("internal error: {unlike}, so {name} was left as it is; please report it together with this file"),
        internal: true,
    })?;
    Ok(LaidOut {
        before: tree.text().clone(),
        name,
        edits,
        path: path.filter(|_| from_file),
    })
}

fn too_large(size: u64) -> String {
    format!(
        "expected a document of at most {} MB, found {} MB",
        MAX_DOCUMENT / 1024 / 1024,
        size / 1024 / 1024
    )
}
