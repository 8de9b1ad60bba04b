//! Documents: which files are meant, and one file read and parsed.

use super::{CannotRun, Input, MAX_DOCUMENT};
use crate::finding::rules;
use crate::finding::{Finding, from_fault};
use crate::syntax::{Change, Tree, parse, reparse};
use crate::text::{DecodeFault, FileId, Place, SourceText, Span, decode};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

/// A document to be read.
#[derive(Debug)]
pub(super) struct Given {
    /// What it is called in findings.
    pub name: String,
    /// Where it stands; a text from elsewhere may stand nowhere.
    pub path: Option<PathBuf>,
    /// Its bytes, where they are at hand already.
    pub bytes: Option<Vec<u8>>,
}

/// A document read and parsed.
#[derive(Debug)]
pub(super) struct Loaded {
    pub source: SourceText,
    pub tree: Tree,
    /// Where it stands; a built-in plan stands nowhere.
    pub path: Option<PathBuf>,
    /// Its bytes were given, not read from a file.
    pub is_text: bool,
    /// Tells it from every other document that was read in this process, of the same file or not.
    pub stamp: u64,
    /// Its folder: where plans, registers and logs are looked for.
    pub folder: Option<PathBuf>,
    /// Its path with every link followed: the same file under two names is one document.
    pub real: Option<PathBuf>,
    /// What has changed since another version of it, by that version's stamp.
    pub change: Option<(u64, Change)>,
    decode_fault: Option<DecodeFault>,
    too_large: Option<u64>,
}

/// The documents meant by the inputs, sorted by path, each once. A folder without any is a mistake, unless it
/// `may_be_empty`.
pub(super) fn gather(inputs: &[Input], may_be_empty: bool) -> Result<Vec<Given>, CannotRun> {
    let mut given: Vec<Given> = Vec::new();
    for input in inputs {
        match input {
            Input::Text { name, bytes } => {
                let path = if name.starts_with('<') {
                    None
                } else {
                    Some(PathBuf::from(name))
                };
                given.push(Given {
                    name: name.clone(),
                    path,
                    bytes: Some(bytes.clone()),
                });
            }
            Input::Path(path) => {
                let data = std::fs::metadata(path).map_err(|error| {
                    CannotRun(format!(
                        "cannot read {}: {}",
                        path.display(),
                        reason(&error)
                    ))
                })?;
                if data.is_dir() {
                    folder(path, &mut given, may_be_empty)?;
                } else if data.is_file() {
                    given.push(file(path));
                } else {
                    return Err(CannotRun(format!(
                        "cannot read {}: it is neither a file nor a folder",
                        path.display()
                    )));
                }
            }
        }
    }
    given.sort_by(|a, b| a.name.cmp(&b.name));
    given.dedup_by(|a, b| {
        a.path.is_some() && a.path == b.path && a.bytes.is_none() && b.bytes.is_none()
    });
    Ok(given)
}

fn file(path: &Path) -> Given {
    let clean = path.strip_prefix("./").unwrap_or(path);
    Given {
        name: clean.to_string_lossy().replace('\\', "/"),
        path: Some(clean.to_owned()),
        bytes: None,
    }
}

fn folder(path: &Path, given: &mut Vec<Given>, may_be_empty: bool) -> Result<(), CannotRun> {
    let before = given.len();
    for entry in ignore::WalkBuilder::new(path).require_git(false).build() {
        let entry = entry
            .map_err(|error| CannotRun(format!("cannot read below {}: {error}", path.display())))?;
        let is_file = entry.file_type().is_some_and(|kind| kind.is_file());
        if is_file
            && entry
                .path()
                .extension()
                .is_some_and(|extension| extension == "ubr")
        {
            given.push(file(entry.path()));
        }
    }
    if given.len() == before && !may_be_empty {
        return Err(CannotRun(format!("no .ubr file below {}", path.display())));
    }
    Ok(())
}

pub(super) fn reason(error: &std::io::Error) -> String {
    match error.kind() {
        std::io::ErrorKind::NotFound => "no such file or folder".to_owned(),
        std::io::ErrorKind::PermissionDenied => "no permission".to_owned(),
        _ => error.to_string(),
    }
}

fn stamp() -> u64 {
    static NEXT: AtomicU64 = AtomicU64::new(0);
    NEXT.fetch_add(1, Ordering::Relaxed)
}

impl Loaded {
    /// Reads and parses a document.
    pub(super) fn read(given: Given) -> Result<Loaded, CannotRun> {
        let mut too_large = None;
        let is_text = given.bytes.is_some();
        let bytes = match (given.bytes, &given.path) {
            (Some(bytes), _) => bytes,
            (None, Some(path)) => {
                let cannot = |error: std::io::Error| {
                    CannotRun(format!("cannot read {}: {}", given.name, reason(&error)))
                };
                let size = std::fs::metadata(path).map_err(cannot)?.len();
                if size > MAX_DOCUMENT {
                    too_large = Some(size);
                    Vec::new()
                } else {
                    std::fs::read(path).map_err(cannot)?
                }
            }
            (None, None) => Vec::new(),
        };
        if bytes.len() as u64 > MAX_DOCUMENT {
            too_large = Some(bytes.len() as u64);
        }
        let bytes = if too_large.is_some() {
            Vec::new()
        } else {
            bytes
        };
        let decoded = decode(bytes);
        let source = SourceText::new(given.name, decoded.text);
        let tree = parse(source.text.clone());
        let folder = match &given.path {
            Some(path) => Some(match path.parent() {
                Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
                _ => PathBuf::from("."),
            }),
            None => Some(PathBuf::from(".")),
        };
        let real = given
            .path
            .as_ref()
            .and_then(|path| path.canonicalize().ok());
        Ok(Loaded {
            source,
            tree,
            path: given.path,
            is_text,
            stamp: stamp(),
            folder,
            real,
            change: None,
            decode_fault: decoded.fault,
            too_large,
        })
    }

    /// A document that is being edited: its text is at hand, and so are its lines. `folder` is where it looks for
    /// plans, registers and logs; `real` its path with every link followed; `before` the tree and the stamp of the
    /// version that was there before.
    pub(super) fn edited(
        source: SourceText,
        path: Option<PathBuf>,
        folder: Option<PathBuf>,
        real: Option<PathBuf>,
        before: Option<(Tree, u64)>,
    ) -> Loaded {
        let size = source.text.len() as u64;
        let too_large = (size > MAX_DOCUMENT).then_some(size);
        let source = match too_large {
            Some(_) => SourceText::new(source.name, ""),
            None => source,
        };
        let (tree, change) = match before {
            Some((tree, stamp)) => {
                let (tree, change) = reparse(tree, source.text.clone());
                (tree, change.map(|change| (stamp, change)))
            }
            None => (parse(source.text.clone()), None),
        };
        Loaded {
            tree,
            source,
            path,
            is_text: true,
            stamp: stamp(),
            folder,
            real,
            change,
            decode_fault: None,
            too_large,
        }
    }

    /// A document that comes with the program.
    pub(super) fn built_in(name: &'static str, text: &'static str) -> Loaded {
        let source = SourceText::new(name, text);
        let tree = parse(source.text.clone());
        Loaded {
            source,
            tree,
            path: None,
            is_text: false,
            stamp: stamp(),
            folder: None,
            real: None,
            change: None,
            decode_fault: None,
            too_large: None,
        }
    }

    /// What is wrong with the document's bytes and text.
    pub(super) fn findings(&self, file: FileId) -> Vec<Finding> {
        if let Some(size) = self.too_large {
            let place = Place {
                file,
                span: Span::new(0, 0),
            };
            let message = format!(
                "expected a document of at most {} MB, found {} MB",
                MAX_DOCUMENT / 1024 / 1024,
                size / 1024 / 1024
            );
            return vec![Finding::new(&rules::FILE_TOO_LARGE, place, message)];
        }
        let mut findings: Vec<Finding> = Vec::new();
        if let Some(fault) = self.decode_fault {
            let end = fault.offset + '\u{fffd}'.len_utf8() as u32;
            let place = Place {
                file,
                span: Span::new(fault.offset, end),
            };
            findings.push(
                Finding::new(
                    &rules::INVALID_UTF8,
                    place,
                    format!("expected UTF-8 text, found the byte 0x{:02X}", fault.byte),
                )
                .help("save the file as UTF-8; the rest was read, with a mark where bytes could not be"),
            );
        }
        findings.extend(self.tree.faults.iter().map(|fault| from_fault(fault, file)));
        findings
    }
}
