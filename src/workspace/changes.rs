//! What changed since a commit, and so which documents must be checked again.
//!
//! Whatever cannot be shown to be as it was counts as changed: a file that git does not track, one that git was told
//! to pass over, one outside the repository, a text that is no file.

use super::documents::Loaded;
use super::git::{GitFault, Repository};
use super::library::{Library, Needs};
use super::{CannotRun, Input, document_name};
use crate::finding::{Finding, rules};
use crate::plan::extends;
use crate::record::header;
use crate::syntax::{DocumentKind, NodeId, NodeKind, Tree, parse};
use crate::text::{FileId, decode};
use rustc_hash::{FxHashMap, FxHashSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The changes of every repository in which something is to be checked.
#[derive(Debug, Default)]
pub(super) struct Changes {
    repositories: Vec<Known>,
    /// Plans and registers as they were called in files that have changed: what asks for one by name may find
    /// another now, or none.
    former: FxHashSet<(DocumentKind, String)>,
    /// The lots to which units in changed files belonged.
    former_lots: FxHashSet<Arc<str>>,
}

/// What must be checked again.
#[derive(Debug, Default)]
pub(super) struct Affected {
    /// The given documents that have changed or depend on something that has.
    pub documents: Vec<FileId>,
    /// Their names.
    pub names: FxHashSet<Arc<str>>,
    /// They, their plans and their registers.
    reached: FxHashSet<FileId>,
}

impl Affected {
    /// Whether a finding is one of theirs.
    pub(super) fn concerns(&self, finding: &Finding) -> bool {
        let places = finding.related.iter().map(|related| related.place);
        let mut files = places.chain([finding.place]).map(|place| place.file);
        self.reached.contains(&finding.place.file)
            || (finding.rule.name == rules::DUPLICATE_DOCUMENT.name
                && files.any(|file| self.reached.contains(&file)))
    }
}

/// One repository and what became of its files.
#[derive(Debug)]
struct Known {
    root: PathBuf,
    changed: FxHashSet<PathBuf>,
    tracked: FxHashSet<PathBuf>,
}

impl Changes {
    /// Asks git. Gives one sentence where something to be checked lies in no repository, where a repository does
    /// not know the revision, or where git does not answer.
    pub(super) fn since(revision: &str, inputs: &[Input]) -> Result<Changes, CannotRun> {
        let cannot = |fault: GitFault| CannotRun(format!("--since: {fault}"));
        let mut changes = Changes::default();
        let mut seen: FxHashSet<PathBuf> = FxHashSet::default();
        for input in inputs {
            let folder = match input {
                Input::Path(path) if path.is_dir() => path.clone(),
                Input::Path(path) => folder_of(path),
                Input::Text { .. } => PathBuf::from("."),
            };
            let real = folder.canonicalize().unwrap_or(folder);
            let nearest = real.ancestors().find(|level| level.join(".git").exists());
            if nearest.is_some_and(|nearest| !seen.insert(nearest.to_owned())) {
                continue;
            }
            let repository = Repository::around(&real).map_err(cannot)?;
            changes.take(&repository, revision).map_err(cannot)?;
        }
        Ok(changes)
    }

    fn take(&mut self, repository: &Repository, revision: &str) -> Result<(), GitFault> {
        let commit = repository.commit(revision)?;
        let changed = repository.changed_since(&commit)?;
        let documents: Vec<PathBuf> = changed
            .iter()
            .filter(|path| path.extension().is_some_and(|extension| extension == "ubr"))
            .cloned()
            .collect();
        for bytes in repository
            .files_at(&commit, &documents)?
            .into_iter()
            .flatten()
        {
            let tree = parse(decode(bytes).text);
            if let Some((name, _)) = document_name(&tree) {
                self.former.insert((tree.document, name));
            }
            self.former_lots.extend(lot_of(&tree));
        }
        let root = repository.root().to_owned();
        let whole = |paths: Vec<PathBuf>| paths.iter().map(|path| root.join(path)).collect();
        self.repositories.push(Known {
            changed: whole(changed),
            tracked: whole(repository.tracked()?),
            root: root.clone(),
        });
        // The innermost repository knows its files.
        self.repositories
            .sort_by_key(|known| std::cmp::Reverse(known.root.components().count()));
        Ok(())
    }

    /// The given documents that must be checked again, and what they need.
    pub(super) fn affected(&self, library: &Library, needs: &[Needs], given: usize) -> Affected {
        let documents = &library.documents;
        let changed: Vec<bool> = documents
            .iter()
            .map(|document| self.document(document))
            .collect();
        let lots: FxHashSet<Arc<str>> = documents
            .iter()
            .zip(&changed)
            .filter(|(document, changed)| **changed || self.files_of(document))
            .filter_map(|(document, _)| lot_of(&document.tree))
            .chain(self.former_lots.iter().cloned())
            .collect();
        let had = |kind, name: Option<&str>| name.is_some_and(|name| self.had(kind, name));
        let plan_changed = |plan: usize| {
            library.known_chain(plan).iter().any(|index| {
                let base = extends(&documents[*index].tree);
                changed[*index] || had(DocumentKind::Plan, base.as_ref().map(|(name, ..)| &**name))
            })
        };
        let needs: FxHashMap<usize, &Needs> =
            needs.iter().map(|need| (need.document, need)).collect();
        let unit_affected = |need: &Needs| {
            let document = &documents[need.document];
            let header = header(&document.tree);
            let header = header.as_ref();
            let plan = header
                .and_then(|header| header.plan.as_ref())
                .map(|(name, ..)| &**name);
            let register = header
                .and_then(|header| header.register.as_ref())
                .map(|(name, _)| &**name);
            need.plan.is_some_and(plan_changed)
                || need.register.is_some_and(|register| changed[register])
                || had(DocumentKind::Plan, plan)
                || had(DocumentKind::Register, register)
                || lot_of(&document.tree).is_some_and(|lot| lots.contains(&lot))
                || self.files_of(document)
        };
        let mut affected = Affected::default();
        for index in 0..given {
            let need = needs.get(&index);
            let is_affected = changed[index]
                || need.is_some_and(|need| unit_affected(need))
                || (documents[index].tree.document == DocumentKind::Plan && plan_changed(index));
            if !is_affected {
                continue;
            }
            affected.documents.push(FileId(index as u32));
            affected.names.insert(documents[index].source.name.clone());
            let plan = need.map_or(Some(index), |need| need.plan);
            let chain = plan.map_or(&[][..], |plan| library.known_chain(plan));
            let register = need.and_then(|need| need.register);
            let all = chain.iter().copied().chain(register).chain([index]);
            affected
                .reached
                .extend(all.map(|index| FileId(index as u32)));
        }
        affected
    }

    /// Whether a log or an attachment that a record names is not known to be as it was.
    fn files_of(&self, document: &Loaded) -> bool {
        let tree = &document.tree;
        let Some(folder) = &document.folder else {
            return false;
        };
        let names = (0..tree.len() as u32).map(NodeId).filter(|node| {
            let parent = tree.parent(*node).map(|parent| tree.kind(parent));
            let of_file = matches!(parent, Some(NodeKind::Attach | NodeKind::Log));
            of_file && tree.kind(*node) == NodeKind::TextPart
        });
        let mut paths = names
            .map(|node| tree.unquoted(node))
            .filter(|name| !name.is_empty());
        tree.document == DocumentKind::Unit && paths.any(|path| self.file(&folder.join(path)))
    }

    /// Whether a document is not known to be as it was.
    fn document(&self, document: &Loaded) -> bool {
        match (&document.path, document.is_text) {
            (_, true) => true,
            (Some(path), _) => self.file(path),
            // It comes with the program.
            (None, _) => false,
        }
    }

    /// Whether a file is not known to be as it was. One that is not there has changed if the commit had it.
    fn file(&self, path: &Path) -> bool {
        let folder = folder_of(path);
        let Some(name) = path.file_name() else {
            return true;
        };
        let written = match folder.canonicalize() {
            Ok(folder) => folder.join(name),
            // Its folder is gone as well: what is left is the way it is written.
            Err(_) => match std::path::absolute(path) {
                Ok(path) => without_climbing(&path),
                Err(_) => return true,
            },
        };
        match path.canonicalize() {
            Ok(real) => {
                self.differs(&written, true) || (real != written && self.differs(&real, true))
            }
            Err(_) => self.differs(&written, false),
        }
    }

    fn differs(&self, path: &Path, there: bool) -> bool {
        let Some(known) = self
            .repositories
            .iter()
            .find(|known| path.starts_with(&known.root))
        else {
            return there;
        };
        // A folder among the changed ones is a repository within, or a link.
        let mut levels = path.ancestors().take_while(|level| *level != known.root);
        levels.any(|level| known.changed.contains(level))
            || (there && !known.tracked.contains(path))
    }

    /// Whether a plan or register of this name stood in a file that has changed.
    fn had(&self, kind: DocumentKind, name: &str) -> bool {
        !self.former.is_empty() && self.former.contains(&(kind, name.to_owned()))
    }
}

/// The folder of a path; where the command stands for a bare name.
fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
        _ => PathBuf::from("."),
    }
}

fn without_climbing(path: &Path) -> PathBuf {
    let mut clean = PathBuf::new();
    for part in path.components() {
        match part {
            std::path::Component::ParentDir => {
                clean.pop();
            }
            other => clean.push(other),
        }
    }
    clean
}

/// The lot that a unit says it belongs to.
fn lot_of(tree: &Tree) -> Option<Arc<str>> {
    header(tree)?.lot.map(|lot| lot.name)
}
