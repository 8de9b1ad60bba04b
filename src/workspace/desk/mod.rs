//! The desk: documents that stay open between changes. What an editor sees.
//!
//! A check reads, judges and forgets; a desk keeps what it read and judged, and after a change does again only what
//! rests on what changed. It comes to what [`check`](super::check) would say of the same texts. The text on the
//! desk wins over the file of the same path.

mod judging;
mod view;
mod walk;

use super::documents::{Given, Loaded};
use super::files::NamedFile;
use super::library::{Compiled, Library, Needs, Plans};
use super::near::LotRecords;
use super::{Judged, STACK, Today};
use crate::finding::Finding;
use crate::syntax::{Tree, parse};
use crate::text::{Buffer, FileId, SourceText};
use judging::Key;
use rustc_hash::{FxHashMap, FxHashSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;
pub use view::UnitView;
pub use walk::Walk;

/// Documents with what they came to.
pub struct Desk {
    library: Library,
    /// The texts of the library's documents, as findings refer to them.
    sources: Vec<SourceText>,
    /// The real path of each document, to find it again.
    by_path: FxHashMap<PathBuf, usize>,
    /// Documents whose text is edited here.
    open: FxHashSet<usize>,
    /// Documents that belong to the folders looked after.
    shelved: FxHashSet<usize>,
    /// Documents whose file is gone.
    gone: Vec<usize>,
    /// Size and time of the files that documents were read from.
    read: FxHashMap<usize, Option<(u64, SystemTime)>>,
    /// The folder in which a document without one looks for its plan.
    home: Option<PathBuf>,
    today: Option<Today>,
    pool: Option<rayon::ThreadPool>,

    compiled: Compiled,
    plans: Plans,
    /// What was found of plans, registers and the bringing together, sorted by document.
    of_library: Vec<Finding>,
    needs: Vec<Needs>,
    /// How many of the needs are of documents that are looked after; sisters follow.
    given: usize,
    lots: Vec<LotRecords>,
    of_lots: Vec<Vec<Finding>>,
    judged: Vec<Judged>,
    keys: Vec<Key>,
    /// Position in `needs` by document.
    unit_of: FxHashMap<usize, usize>,

    /// Something changed on which more than one record may rest.
    unsettled: bool,
    /// Records that changed below their first statement.
    changed: FxHashSet<usize>,
    /// Documents of which something else may be told than before.
    touched: FxHashSet<usize>,
    bound_in_part: u64,
    faults: Vec<String>,
}

impl std::fmt::Debug for Desk {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        out.debug_struct("Desk")
            .field("documents", &self.library.documents.len())
            .field("open", &self.open.len())
            .finish_non_exhaustive()
    }
}

impl Desk {
    /// An empty desk. `home` is the folder in which a document that has none itself looks for its plan.
    pub fn new(home: Option<PathBuf>) -> Desk {
        Desk {
            library: Library::new(Vec::new()),
            sources: Vec::new(),
            by_path: FxHashMap::default(),
            open: FxHashSet::default(),
            shelved: FxHashSet::default(),
            gone: Vec::new(),
            read: FxHashMap::default(),
            home,
            today: None,
            pool: None,
            compiled: Compiled::default(),
            plans: Plans::default(),
            of_library: Vec::new(),
            needs: Vec::new(),
            given: 0,
            lots: Vec::new(),
            of_lots: Vec::new(),
            judged: Vec::new(),
            keys: Vec::new(),
            unit_of: FxHashMap::default(),
            unsettled: false,
            changed: FxHashSet::default(),
            touched: FxHashSet::default(),
            bound_in_part: 0,
            faults: Vec::new(),
        }
    }

    /// Sets what counts as today. Another day has everything judged again.
    pub fn set_today(&mut self, today: Option<Today>) {
        let day = |today: Option<Today>| match today {
            Some(Today::Instant(seconds)) => Some((true, seconds.div_euclid(900))),
            Some(Today::Day(day)) => Some((false, i64::from(day))),
            None => None,
        };
        // Offsets from UTC are whole quarters of an hour, so a day begins nowhere within one.
        if day(today) != day(self.today) {
            self.today = today;
            self.unsettled = true;
        }
    }

    /// Puts a text on the desk, or another text for one that is there. `name` is its absolute path, or a name that
    /// begins with `<` where it has none.
    pub fn put(&mut self, name: &str, text: &Buffer) -> FileId {
        let (text, lines) = text.share();
        let source = SourceText::with_lines(name, text, lines);
        let path = (!name.starts_with('<')).then(|| PathBuf::from(name));
        let real = match &path {
            Some(path) => real_path(path),
            None => PathBuf::from(name),
        };
        let folder = match &path {
            Some(path) => path.parent().map(Path::to_owned),
            None => self.home.clone(),
        };
        let on_disk = path.is_some().then(|| real.clone());
        let known = self.by_path.get(&real).copied();
        let known = known.filter(|index| self.open.contains(index) && !self.gone.contains(index));
        let head = known.and_then(|index| judging::head(&self.library.documents[index]));
        let head = head.map(str::to_owned);
        let before = known.map(|index| self.take_tree(index));
        let document = Loaded::edited(source, path, folder, on_disk, before);
        let index = self.place(real, document, head.as_deref());
        self.open.insert(index);
        self.read.remove(&index);
        FileId(index as u32)
    }

    /// The document of a plan that comes with the program, and the plan compiled.
    pub fn built_in(&mut self, name: &str) -> Option<FileId> {
        let index = self.library.built_in(name)?;
        for known in self.sources.len()..self.library.documents.len() {
            let source = self.library.documents[known].source.clone();
            self.sources.push(source);
        }
        if self.shelved.insert(index) {
            self.unsettled = true;
        }
        Some(FileId(index as u32))
    }

    /// Takes a text off the desk; its file counts again, if there is one.
    pub fn close(&mut self, file: FileId) {
        let index = file.0 as usize;
        if !self.open.remove(&index) {
            return;
        }
        self.unsettled = true;
        match self.library.documents[index].path.clone() {
            Some(path) if path.is_file() => self.read_file(index, &path),
            _ => self.leave(index),
        }
    }

    /// Looks after a file: it is judged and told of although its text is not on the desk.
    pub fn shelve(&mut self, path: &Path) {
        let real = real_path(path);
        if let Some(known) = self.by_path.get(&real).copied() {
            if self.shelved.insert(known) {
                self.unsettled = true;
            }
            self.look_again(known);
            return;
        }
        let given = Given {
            name: path.to_string_lossy().replace('\\', "/"),
            path: Some(path.to_owned()),
            bytes: None,
        };
        let stamp = file_stamp(path);
        if let Ok(document) = Loaded::read(given) {
            let index = self.place(real, document, None);
            self.shelved.insert(index);
            self.read.insert(index, stamp);
        }
    }

    /// Looks after a file no longer, as when it was deleted or its folder was left.
    pub fn unshelve(&mut self, path: &Path) {
        let known = self.by_path.get(&real_path(path)).copied();
        if let Some(index) = known.filter(|index| self.shelved.remove(index)) {
            self.unsettled = true;
            if !self.open.contains(&index) {
                self.leave(index);
            }
        }
    }

    /// Looks at every file again from which something was read, and whether files came or went beside them.
    pub fn look_at_files(&mut self) {
        for index in 0..self.library.documents.len() {
            if !self.open.contains(&index) && !self.gone.contains(&index) {
                self.look_again(index);
            }
        }
        self.unsettled = true;
        // What a record names besides documents may have changed as well.
        for (judged, key) in self.judged.iter().zip(&mut self.keys) {
            if judged.asked_history || judged.files.iter().any(NamedFile::changed) {
                key.forget_files();
            }
        }
    }

    /// A file that is no document may have changed: those that name it are judged again.
    pub fn file_changed(&mut self, path: &Path) {
        let real = real_path(path);
        for (judged, key) in self.judged.iter().zip(&mut self.keys) {
            if judged
                .files
                .iter()
                .any(|file| real_path(&file.path) == real)
            {
                key.forget_files();
                self.unsettled = true;
            }
        }
    }

    /// Looks at one file again, where something was read from it or it may be missing.
    pub fn look_at(&mut self, path: &Path) {
        if let Some(index) = self.by_path.get(&real_path(path)).copied() {
            self.look_again(index);
        }
        self.unsettled = true;
    }

    fn look_again(&mut self, index: usize) {
        if self.open.contains(&index) {
            return;
        }
        let Some(path) = self.library.documents[index].path.clone() else {
            return;
        };
        let now = file_stamp(&path);
        if now.is_none() {
            self.shelved.remove(&index);
            self.leave(index);
        } else if self.read.get(&index) != Some(&now) {
            self.read_file(index, &path);
        }
    }

    fn read_file(&mut self, index: usize, path: &Path) {
        let given = Given {
            name: self.library.documents[index].source.name.to_string(),
            path: Some(path.to_owned()),
            bytes: None,
        };
        let stamp = file_stamp(path);
        match Loaded::read(given) {
            Ok(document) => {
                self.read.insert(index, stamp);
                self.gone.retain(|gone| *gone != index);
                self.set(index, document);
                self.unsettled = true;
            }
            Err(_) => self.leave(index),
        }
    }

    /// The document has neither text nor file any more. Its place stays, for what still refers to it.
    fn leave(&mut self, index: usize) {
        if !self.gone.contains(&index) {
            self.gone.push(index);
        }
        self.unsettled = true;
        self.touched.insert(index);
    }

    /// Takes the tree of a document out, with its stamp: another takes its place at once.
    fn take_tree(&mut self, index: usize) -> (Tree, u64) {
        let document = &mut self.library.documents[index];
        let stamp = document.stamp;
        let tree = match Arc::get_mut(document) {
            Some(document) => std::mem::replace(&mut document.tree, parse("")),
            None => document.tree.clone(),
        };
        (tree, stamp)
    }

    /// Puts a document into its place, a new one if it has none. `head` is its first statement, where it was edited
    /// here before.
    fn place(&mut self, real: PathBuf, document: Loaded, head: Option<&str>) -> usize {
        if let Some(index) = self.by_path.get(&real).copied() {
            let same_head = head.is_some()
                && head == judging::head(&document)
                && self.unit_of.contains_key(&index);
            if same_head {
                self.changed.insert(index);
            } else {
                self.unsettled = true;
            }
            self.gone.retain(|gone| *gone != index);
            self.set(index, document);
            return index;
        }
        let index = self.library.documents.len();
        self.sources.push(document.source.clone());
        self.library.documents.push(Arc::new(document));
        self.by_path.insert(real, index);
        self.unsettled = true;
        self.touched.insert(index);
        index
    }

    fn set(&mut self, index: usize, document: Loaded) {
        self.sources[index] = document.source.clone();
        self.library.documents[index] = Arc::new(document);
        self.touched.insert(index);
    }

    fn pool(&mut self) -> Option<&rayon::ThreadPool> {
        if self.pool.is_none() {
            self.pool = rayon::ThreadPoolBuilder::new()
                .stack_size(STACK)
                .build()
                .ok();
        }
        self.pool.as_ref()
    }
}

/// The path with every link followed, as far as it exists.
fn real_path(path: &Path) -> PathBuf {
    if let Ok(real) = path.canonicalize() {
        return real;
    }
    match (path.parent().map(Path::canonicalize), path.file_name()) {
        (Some(Ok(folder)), Some(name)) => folder.join(name),
        _ => path.to_owned(),
    }
}

fn file_stamp(path: &Path) -> Option<(u64, SystemTime)> {
    let data = std::fs::metadata(path)
        .ok()
        .filter(std::fs::Metadata::is_file)?;
    Some((data.len(), data.modified().ok()?))
}
