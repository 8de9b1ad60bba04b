//! Earlier versions of files, from git.

use super::git::{GitFault, Repository};
use crate::syntax::{Tree, parse};
use crate::text::decode;
use rustc_hash::FxHashMap;
use std::path::{Path, PathBuf};

/// How many versions of a file are looked at, the newest first.
const LOOKED_AT: usize = 100;

/// The versions of files as far as they were looked at.
#[derive(Debug, Default)]
pub(super) struct Versions {
    known: FxHashMap<PathBuf, Result<History, String>>,
}

/// The versions of one file.
#[derive(Debug)]
struct History {
    repository: Repository,
    path: PathBuf,
    commits: Vec<String>,
    /// The first of them, read.
    read: Vec<Option<Vec<u8>>>,
    /// They as documents.
    trees: FxHashMap<usize, Tree>,
}

impl Versions {
    /// The first answer that `ask` gives of a version, the newest first; the error says why there is no history.
    pub(super) fn find_bytes<T>(
        &mut self,
        path: &Path,
        ask: impl Fn(&[u8]) -> Option<T>,
    ) -> Result<Option<T>, String> {
        let history = self.of(path)?;
        for index in 0..history.commits.len() {
            history.read_to(index)?;
            if let Some(answer) = history.read[index].as_deref().and_then(&ask) {
                return Ok(Some(answer));
            }
        }
        Ok(None)
    }

    /// The same of versions as documents.
    pub(super) fn find_document<T>(
        &mut self,
        path: &Path,
        ask: impl Fn(&Tree) -> Option<T>,
    ) -> Result<Option<T>, String> {
        let history = self.of(path)?;
        for index in 0..history.commits.len() {
            history.read_to(index)?;
            let Some(bytes) = &history.read[index] else {
                continue;
            };
            let tree = history
                .trees
                .entry(index)
                .or_insert_with(|| parse(decode(bytes.clone()).text));
            if let Some(answer) = ask(tree) {
                return Ok(Some(answer));
            }
        }
        Ok(None)
    }

    fn of(&mut self, path: &Path) -> Result<&mut History, String> {
        let history = self
            .known
            .entry(path.to_owned())
            .or_insert_with(|| History::of(path));
        history.as_mut().map_err(|why| why.clone())
    }
}

impl History {
    fn of(path: &Path) -> Result<History, String> {
        let words = |fault: GitFault| match fault {
            GitFault::NotARepository(_) => "the file lies in no git repository".to_owned(),
            other => other.to_string(),
        };
        let folder = match path.parent() {
            Some(folder) if !folder.as_os_str().is_empty() => folder.to_owned(),
            _ => PathBuf::from("."),
        };
        let name = path.file_name().ok_or("it is no file")?;
        // The folder with every link followed; the file itself may be gone.
        let folder = folder
            .canonicalize()
            .map_err(|_| "its folder is not there".to_owned())?;
        let repository = Repository::around(&folder).map_err(words)?;
        let path = folder
            .join(name)
            .strip_prefix(repository.root())
            .map_err(|_| "the file lies in no git repository".to_owned())?
            .to_owned();
        let commits = repository.versions_of(&path, LOOKED_AT).map_err(words)?;
        if commits.is_empty() {
            return Err("the file was never committed".to_owned());
        }
        Ok(History {
            repository,
            path,
            commits,
            read: Vec::new(),
            trees: FxHashMap::default(),
        })
    }

    fn read_to(&mut self, index: usize) -> Result<(), String> {
        while self.read.len() <= index {
            let commit = &self.commits[self.read.len()];
            let bytes = self.repository.file_at(commit, &self.path);
            self.read.push(bytes.map_err(|fault| fault.to_string())?);
        }
        Ok(())
    }
}
