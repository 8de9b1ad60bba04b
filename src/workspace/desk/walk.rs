//! The documents below a folder, a few at a time.

use std::path::{Path, PathBuf};

/// Goes through a folder and the folders below it, leaving out what a repository ignores.
pub struct Walk {
    entries: ignore::Walk,
}

impl std::fmt::Debug for Walk {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.write_str("Walk")
    }
}

impl Walk {
    /// Begins at a folder.
    pub fn new(folder: &Path) -> Walk {
        Walk {
            entries: ignore::WalkBuilder::new(folder).require_git(false).build(),
        }
    }

    /// The documents among the next so many entries, and whether there may be more.
    pub fn next(&mut self, entries: usize) -> (Vec<PathBuf>, bool) {
        let mut documents = Vec::new();
        for _ in 0..entries {
            let Some(entry) = self.entries.next() else {
                return (documents, false);
            };
            // A folder that cannot be read has nothing to show.
            let Ok(entry) = entry else { continue };
            let is_file = entry.file_type().is_some_and(|kind| kind.is_file());
            let path = entry.into_path();
            if is_file && path.extension().is_some_and(|extension| extension == "ubr") {
                documents.push(path);
            }
        }
        (documents, true)
    }
}
