//! The names of documents for forms that leave the machine: paths from one root that all of them share.

use super::Outcome;
use crate::text::SourceText;
use rustc_hash::FxHashMap;
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;

/// The same outcome with every document named from the root of the repository in which the command stands, or from
/// where it stands when there is none, or from the nearest folder above that holds them all. No name is absolute and
/// none climbs; plans that come with the program keep theirs.
pub fn named_from_root(mut outcome: Outcome) -> Outcome {
    let here = std::env::current_dir()
        .and_then(|here| here.canonicalize())
        .unwrap_or_default();
    let repository = here.ancestors().find(|level| level.join(".git").exists());
    let mut root = repository.unwrap_or(&here).to_owned();
    let paths: Vec<Option<PathBuf>> = outcome
        .sources
        .iter()
        .map(|source| (!is_own(source)).then(|| absolute(&here, Path::new(&*source.name))))
        .collect();
    for path in paths.iter().flatten() {
        while !path.starts_with(&root) && root.pop() {}
    }
    let mut names: FxHashMap<Arc<str>, Arc<str>> = FxHashMap::default();
    for (source, path) in outcome.sources.iter_mut().zip(&paths) {
        let Some(path) = path else { continue };
        let name = relative(path.strip_prefix(&root).unwrap_or(path));
        names.insert(std::mem::replace(&mut source.name, name.clone()), name);
    }
    for unit in &mut outcome.units {
        if let Some(name) = names.get(&unit.path) {
            unit.path = name.clone();
        }
    }
    outcome
}

/// Whether a document stands in no folder at all.
fn is_own(source: &SourceText) -> bool {
    source.name.starts_with('<')
}

/// The path from the top, with links in the folders followed and without `.` and `..`.
fn absolute(here: &Path, name: &Path) -> PathBuf {
    let joined = here.join(name);
    if let (Some(folder), Some(file)) = (joined.parent(), joined.file_name())
        && let Ok(real) = folder.canonicalize()
    {
        return real.join(file);
    }
    let mut clean = PathBuf::new();
    for part in joined.components() {
        match part {
            Component::ParentDir => {
                clean.pop();
            }
            Component::CurDir => {}
            other => clean.push(other),
        }
    }
    clean
}

/// The parts of a path with slashes between them, whatever stands before them.
fn relative(path: &Path) -> Arc<str> {
    let parts: Vec<_> = path
        .components()
        .filter_map(|part| match part {
            Component::Normal(part) => Some(part.to_string_lossy()),
            _ => None,
        })
        .collect();
    parts.join("/").into()
}
