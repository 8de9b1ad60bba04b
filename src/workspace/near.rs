//! Records near each other: which units of a lot are at hand.
//!
//! A record's lot is looked for in one place: the folder above the record's own, where that still belongs to
//! the works, else its own folder; in it and in the folders directly below it. The works reach up to the
//! highest folder from which the record's plan or register was taken. So it makes no difference whether one
//! record is checked or the whole folder.

use super::library::{Library, Needs};
use crate::record::{Header, header};
use crate::syntax::{DocumentKind, parse};
use crate::text::FileId;
use crate::verdict::Neighbour;
use rustc_hash::{FxHashMap, FxHashSet};
use std::collections::BTreeMap;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A unit record seen near another.
#[derive(Debug)]
struct Seen {
    path: PathBuf,
    /// Its document among those given, where it is one.
    given: Option<usize>,
    serial: String,
    lot: Option<Arc<str>>,
}

/// A lot of which some record is to be judged.
#[derive(Debug)]
pub(super) struct LotRecords {
    /// The documents at hand, in the order of their names; true for those to be judged in this lot.
    pub members: Vec<(usize, bool)>,
    /// Records of other lots that a record of this one names, by serial.
    pub neighbours: FxHashMap<String, Neighbour>,
}

/// The place where the lot of a record is looked for. `levels` are its own folder and those above it, `reach`
/// the highest of them from which its plan or register was taken.
pub(super) fn home(levels: &[PathBuf], reach: usize) -> Option<&PathBuf> {
    levels.get(reach.min(1))
}

impl Library {
    /// The lots of these units with all their records at hand, and what the records need that were not
    /// given themselves. Those are read on the way.
    pub(super) fn lots(&mut self, needs: &[Needs]) -> (Vec<LotRecords>, Vec<Needs>) {
        let mut wanted: BTreeMap<(PathBuf, Arc<str>), Vec<&Needs>> = BTreeMap::new();
        for need in needs {
            if let Some(lot) = &need.lot {
                let key = (lot.home.clone(), lot.name.clone());
                wanted.entry(key).or_default().push(need);
            }
        }
        let mut places: FxHashMap<PathBuf, Vec<Seen>> = FxHashMap::default();
        let mut read: FxHashSet<usize> = FxHashSet::default();
        let mut lots = Vec::new();
        let mut sisters = Vec::new();
        for ((home, name), units) in wanted {
            let seen = places
                .entry(home)
                .or_insert_with_key(|home| self.records(home));
            // One file given under two names is one record.
            let mut files: FxHashSet<&PathBuf> = FxHashSet::default();
            let mut members: BTreeMap<usize, bool> = units
                .iter()
                .filter(|need| match &self.documents[need.document].real {
                    Some(real) => files.insert(real),
                    None => true,
                })
                .map(|need| (need.document, true))
                .collect();
            let given_files: FxHashSet<PathBuf> = files.into_iter().cloned().collect();
            let mut serials: FxHashSet<&str> = FxHashSet::default();
            for record in seen.iter().filter(|seen| seen.lot.as_ref() == Some(&name)) {
                serials.insert(&record.serial);
                let Some(index) = record.given.or_else(|| self.load(&record.path)) else {
                    continue;
                };
                let known = match record.given {
                    Some(given) => self.documents[given].real.as_ref(),
                    None => None,
                };
                if known.is_some_and(|real| given_files.contains(real)) {
                    continue;
                }
                members.entry(index).or_insert(false);
                if record.given.is_none() && read.insert(index) {
                    sisters.push(self.unit(index, false));
                }
            }
            let mut neighbours = FxHashMap::default();
            let named = units.iter().filter_map(|need| need.lot.as_ref());
            for serial in named.filter_map(|lot| lot.type_tested.as_deref()) {
                if serials.contains(serial) || neighbours.contains_key(serial) {
                    continue;
                }
                let Some(record) = seen.iter().find(|seen| seen.serial == serial) else {
                    continue;
                };
                let Some(index) = record.given.or_else(|| self.load(&record.path)) else {
                    continue;
                };
                let span = header(&self.documents[index].tree).map(|header| header.span);
                let neighbour = Neighbour {
                    file: FileId(index as u32),
                    lot: record.lot.clone(),
                    span: span.unwrap_or_default(),
                };
                neighbours.insert(serial.to_owned(), neighbour);
            }
            let mut members: Vec<(usize, bool)> = members.into_iter().collect();
            members.sort_by(|(a, _), (b, _)| {
                let name = |index: &usize| &self.documents[*index].source.name;
                name(a).cmp(name(b))
            });
            lots.push(LotRecords {
                members,
                neighbours,
            });
        }
        sisters.sort_by_key(|need| need.document);
        (lots, sisters)
    }

    /// The unit records of a place, sorted by path.
    fn records(&self, home: &Path) -> Vec<Seen> {
        let current = std::env::current_dir().unwrap_or_default();
        let mut paths: Vec<PathBuf> = ignore::WalkBuilder::new(home)
            .require_git(false)
            .max_depth(Some(2))
            .build()
            .flatten()
            .filter(|entry| entry.file_type().is_some_and(|kind| kind.is_file()))
            .map(ignore::DirEntry::into_path)
            .filter(|path| path.extension().is_some_and(|extension| extension == "ubr"))
            // As a person who stands in the current folder would call it.
            .map(|path| match path.strip_prefix(&current) {
                Ok(short) => short.to_owned(),
                Err(_) => path.strip_prefix("./").unwrap_or(&path).to_owned(),
            })
            .collect();
        paths.sort();
        let mut seen = Vec::new();
        for path in paths {
            let given = self.given_at(&path);
            let header = match given {
                Some(index) => {
                    let tree = &self.documents[index].tree;
                    let is_unit = tree.document == DocumentKind::Unit;
                    is_unit.then(|| header(tree)).flatten()
                }
                None => header_of(&path),
            };
            if let Some(header) = header {
                seen.push(Seen {
                    path,
                    given,
                    serial: header.serial,
                    lot: header.lot.map(|lot| lot.name),
                });
            }
        }
        seen
    }
}

/// The `unit` statement at the beginning of a file, where it is a unit's record.
fn header_of(path: &Path) -> Option<Header> {
    const ENOUGH: u64 = 16 * 1024;
    let mut head = Vec::new();
    std::fs::File::open(path)
        .ok()?
        .take(ENOUGH)
        .read_to_end(&mut head)
        .ok()?;
    // A head that goes on is cut at a line's end: half a line could name another lot.
    if head.len() as u64 == ENOUGH {
        let whole = head.iter().rposition(|byte| *byte == b'\n')?;
        head.truncate(whole + 1);
    }
    let text = String::from_utf8_lossy(&head);
    let text = text.trim_start_matches('\u{feff}');
    let mut end = None;
    let mut at = 0;
    for line in text.split_inclusive('\n') {
        let blank = line.trim().is_empty() || line.trim_start().starts_with('#');
        let indented = line.starts_with([' ', '\t']);
        match end {
            _ if blank => {}
            None if line.split_whitespace().next() == Some("unit") => end = Some(at + line.len()),
            None => return None,
            Some(_) if indented => end = Some(at + line.len()),
            Some(_) => break,
        }
        at += line.len();
    }
    header(&parse(&text[..end?]))
}
