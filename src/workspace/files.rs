//! Files that a record names: only those inside the workspace are read.

use super::documents::reason;
use crate::record::{FileFault, Files};
use std::path::{Component, Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::SystemTime;

/// Largest log file that is read, in bytes.
const MAX_LOG: u64 = 256 * 1024 * 1024;

/// A file that a record names.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct NamedFile {
    pub path: PathBuf,
    /// Its size and time when it was asked for, before anything was read; nothing where nothing stood there.
    stamp: Option<(u64, Option<SystemTime>)>,
    /// Whether it may be read.
    opens: bool,
}

impl NamedFile {
    fn now(path: PathBuf) -> NamedFile {
        let data = std::fs::metadata(&path).ok();
        // Only of a regular file: others may keep whoever opens them waiting.
        let opens = data.as_ref().is_some_and(std::fs::Metadata::is_file)
            && std::fs::File::open(&path).is_ok();
        NamedFile {
            opens,
            stamp: data.map(|data| (data.len(), data.modified().ok())),
            path,
        }
    }

    /// Whether something else stands there than when it was asked for.
    pub(super) fn changed(&self) -> bool {
        NamedFile::now(self.path.clone()) != *self
    }
}

/// Files below a root, named from a record's own folder.
#[derive(Debug)]
pub(super) struct WorkspaceFiles {
    folder: PathBuf,
    root: PathBuf,
    /// The files that were asked for, where they are noted.
    asked: Option<Mutex<Vec<NamedFile>>>,
}

impl WorkspaceFiles {
    pub(super) fn new(folder: &Path, root: &Path) -> WorkspaceFiles {
        WorkspaceFiles {
            folder: folder.to_owned(),
            root: root.to_owned(),
            asked: None,
        }
    }

    /// Notes each file that is asked for.
    pub(super) fn noting(self) -> WorkspaceFiles {
        WorkspaceFiles {
            asked: Some(Mutex::default()),
            ..self
        }
    }

    /// The files that were asked for, whether or not anything stood there; none where they were not noted.
    pub(super) fn asked(self) -> Vec<NamedFile> {
        let asked = self.asked.unwrap_or_default();
        asked.into_inner().unwrap_or_else(PoisonError::into_inner)
    }

    fn note(&self, path: &str) {
        if let Some(asked) = &self.asked {
            let file = NamedFile::now(self.folder.join(path));
            let mut asked = asked.lock().unwrap_or_else(PoisonError::into_inner);
            asked.push(file);
        }
    }

    /// The real path of a file inside the workspace.
    pub(super) fn locate(&self, path: &str) -> Result<PathBuf, FileFault> {
        let path = Path::new(path);
        let absolute = path.is_absolute()
            || path
                .components()
                .any(|part| matches!(part, Component::Prefix(_) | Component::RootDir));
        if absolute {
            return Err(FileFault::Outside);
        }
        let unreadable = |error: &std::io::Error| FileFault::Unreadable(reason(error));
        let root = self
            .root
            .canonicalize()
            .map_err(|error| unreadable(&error))?;
        let joined = self.folder.join(path);
        match joined.canonicalize() {
            // Links are followed before the comparison, so that none leads out.
            Ok(real) if real.starts_with(&root) => Ok(real),
            Ok(_) => Err(FileFault::Outside),
            Err(error) => {
                // A path that climbs out is refused whether or not the file is there.
                let folder = self
                    .folder
                    .canonicalize()
                    .map_err(|error| unreadable(&error))?;
                let mut lexical = folder;
                for part in path.components() {
                    match part {
                        Component::ParentDir => {
                            lexical.pop();
                        }
                        Component::Normal(name) => lexical.push(name),
                        _ => {}
                    }
                }
                if lexical.starts_with(&root) {
                    Err(unreadable(&error))
                } else {
                    Err(FileFault::Outside)
                }
            }
        }
    }
}

impl Files for WorkspaceFiles {
    fn read(&self, path: &str) -> Result<Arc<[u8]>, FileFault> {
        self.note(path);
        let real = self.locate(path)?;
        let data =
            std::fs::metadata(&real).map_err(|error| FileFault::Unreadable(reason(&error)))?;
        if !data.is_file() {
            return Err(FileFault::Unreadable(
                "something that is no regular file".to_owned(),
            ));
        }
        if data.len() > MAX_LOG {
            return Err(FileFault::Unreadable(format!(
                "a file above {} MB",
                MAX_LOG / 1024 / 1024
            )));
        }
        std::fs::read(&real)
            .map(Arc::from)
            .map_err(|error| FileFault::Unreadable(reason(&error)))
    }

    fn exists(&self, path: &str) -> Result<(), FileFault> {
        self.note(path);
        self.locate(path).map(|_| ())
    }
}
