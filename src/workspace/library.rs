//! The library: plans and registers, found by name in the folders above a record, each loaded once.

use super::document_name;
use super::documents::{Given, Loaded};
use super::near;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::{Document, Plan, builtin, compile, extends};
use crate::record::header;
use crate::register::{Register, read};
use crate::syntax::{DocumentKind, nearest, parse};
use crate::text::{FileId, Place, Span};
use rustc_hash::FxHashMap;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// How many folders above a record are looked into for its plan and register.
const LEVELS: usize = 8;
/// Longest chain of plans that extend each other.
const LONGEST_CHAIN: usize = 16;

/// Compiled plans by the index of their document.
pub(super) type Plans = FxHashMap<usize, Arc<Plan>>;

/// Everything loaded.
pub(super) struct Library {
    /// First the documents given, then those found.
    pub documents: Vec<Arc<Loaded>>,
    /// Registers by the index of their document.
    pub registers: FxHashMap<usize, Register>,
    /// Which documents are to be judged; those behind its end are not.
    given: Vec<bool>,
    /// What stands in a folder: plans and registers by name.
    folders: FxHashMap<PathBuf, Vec<Shelf>>,
    /// For each folder the folders above it, and the root of the repository that it lies in.
    above: FxHashMap<PathBuf, Above>,
    /// What was found for a kind, a name and a folder, and the folder in which it was.
    found: FxHashMap<(DocumentKind, String, PathBuf), Found>,
    by_path: FxHashMap<PathBuf, usize>,
    /// The given documents by the path that they were given with.
    by_name: FxHashMap<PathBuf, usize>,
    /// Documents whose text was given and whose file does not exist yet.
    unsaved: Vec<PathBuf>,
    built_in: FxHashMap<&'static str, usize>,
    /// For each plan that is needed its chain of documents, the outermost base first.
    chains: FxHashMap<usize, Vec<usize>>,
    findings: Vec<Finding>,
}

/// Plans compiled from chains of documents, by the index and the stamp of each.
pub(super) type Compiled = FxHashMap<Vec<(usize, u64)>, (Arc<Plan>, Vec<Finding>)>;

/// The document that a name means, and the folder in which it stands.
type Found = (Option<usize>, Option<PathBuf>);

/// What lies above a folder.
#[derive(Clone, Debug)]
struct Above {
    levels: Vec<PathBuf>,
    repository: Option<PathBuf>,
}

/// A plan or register seen in a folder.
#[derive(Clone, Debug)]
struct Shelf {
    kind: DocumentKind,
    name: String,
    path: PathBuf,
}

/// What one unit document needs.
#[derive(Debug)]
pub(super) struct Needs {
    /// The unit's own document.
    pub document: usize,
    /// The plan's document.
    pub plan: Option<usize>,
    /// The register's document.
    pub register: Option<usize>,
    /// The folder that logs may not leave.
    pub root: PathBuf,
    /// The lot that the unit belongs to.
    pub lot: Option<LotPlace>,
    /// What could not be found.
    pub findings: Vec<Finding>,
}

/// Which lot a unit belongs to, and where its records are looked for.
#[derive(Clone, Debug)]
pub(super) struct LotPlace {
    /// The lot's name.
    pub name: Arc<str>,
    /// The serial of the unit that is named as type-tested.
    pub type_tested: Option<Arc<str>>,
    /// The folder in which and directly below which the records lie.
    pub home: PathBuf,
}

impl Library {
    pub(super) fn new(documents: Vec<Loaded>) -> Library {
        let given = vec![true; documents.len()];
        Library::of(documents.into_iter().map(Arc::new).collect(), given, &[])
    }

    /// A library of documents that are at hand: those `given` are to be judged, those `gone` have no file any
    /// more; the others are found where something needs them.
    pub(super) fn of(documents: Vec<Arc<Loaded>>, given: Vec<bool>, gone: &[usize]) -> Library {
        let by_path = documents
            .iter()
            .enumerate()
            .filter(|(index, _)| !gone.contains(index))
            .filter_map(|(index, document)| document.real.clone().map(|path| (path, index)))
            .collect();
        let by_name = documents
            .iter()
            .enumerate()
            .filter(|(index, document)| given.get(*index) == Some(&true) && document.real.is_some())
            .map(|(index, document)| (PathBuf::from(&*document.source.name), index))
            .collect();
        let unsaved = documents
            .iter()
            .filter(|document| document.is_text)
            .filter_map(|document| document.path.clone())
            .filter(|path| !path.exists())
            .collect();
        let built_in = builtin::BUILTIN_PLANS
            .iter()
            .filter_map(|plan| {
                let known = |document: &Arc<Loaded>| &*document.source.name == plan.path;
                documents.iter().position(known).map(|at| (plan.name, at))
            })
            .collect();
        Library {
            documents,
            registers: FxHashMap::default(),
            given,
            folders: FxHashMap::default(),
            above: FxHashMap::default(),
            found: FxHashMap::default(),
            by_path,
            by_name,
            unsaved,
            built_in,
            chains: FxHashMap::default(),
            findings: Vec::new(),
        }
    }

    /// What each unit among the given documents needs; plans and registers are loaded on the way.
    pub(super) fn needs(&mut self) -> Vec<Needs> {
        let mut needs = Vec::new();
        for index in 0..self.given.len() {
            if !self.given[index] {
                continue;
            }
            match self.documents[index].tree.document {
                DocumentKind::Unit => needs.push(self.unit(index, true)),
                DocumentKind::Plan => {
                    self.chain(index);
                }
                DocumentKind::Register => self.register(index),
                DocumentKind::Unknown => {}
            }
        }
        needs
    }

    /// What a record needs. One that is only looked at beside another (`judged` is false) brings no plan
    /// and no register along that the others do not need as well, and nothing is told of them.
    pub(super) fn unit(&mut self, index: usize, judged: bool) -> Needs {
        let file = FileId(index as u32);
        let folder = self.documents[index]
            .folder
            .clone()
            .unwrap_or_else(|| PathBuf::from("."));
        let mut needs = Needs {
            document: index,
            plan: None,
            register: None,
            root: folder.clone(),
            lot: None,
            findings: Vec::new(),
        };
        let Some(header) = header(&self.documents[index].tree) else {
            return needs;
        };
        let told = self.findings.len();
        let mut reach = 0;
        match &header.plan {
            None => needs.findings.push(
                Finding::new(
                    &rules::UNKNOWN_PLAN,
                    Place { file, span: header.span },
                    "expected a line `plan NAME` below the unit, found none: the record cannot be judged",
                )
                .help(built_in_plans()),
            ),
            Some((name, _, span)) => {
                needs.plan = self.find(DocumentKind::Plan, name, &folder, &mut reach);
                match needs.plan {
                    Some(plan) if !judged => {
                        needs.plan = needs.plan.filter(|_| self.chains.contains_key(&plan));
                    }
                    Some(plan) => {
                        self.chain(plan);
                    }
                    None => {
                        let place = Place { file, span: *span };
                        let finding = self.unknown(DocumentKind::Plan, name, &folder, place);
                        needs.findings.push(finding);
                    }
                }
            }
        }
        if let Some((name, span)) = &header.register {
            needs.register = self.find(DocumentKind::Register, name, &folder, &mut reach);
            match needs.register {
                Some(_) if !judged => needs.register = None,
                Some(register) => self.register(register),
                None => {
                    let place = Place { file, span: *span };
                    let finding = self.unknown(DocumentKind::Register, name, &folder, place);
                    needs.findings.push(finding);
                }
            }
        }
        let above = self.above(&folder);
        if let Some(lot) = header.lot.filter(|_| judged) {
            needs.lot = near::home(&above.levels, reach).map(|home| LotPlace {
                name: lot.name,
                type_tested: lot.type_tested.map(|(serial, _)| serial),
                home: home.clone(),
            });
        }
        let highest = above.levels.get(reach).cloned().unwrap_or(folder);
        needs.root = above.repository.unwrap_or(highest);
        if !judged {
            self.findings.truncate(told);
        }
        needs
    }

    fn register(&mut self, index: usize) {
        if self.registers.contains_key(&index) {
            return;
        }
        let register = read(
            &self.documents[index].tree,
            FileId(index as u32),
            &mut self.findings,
        );
        self.registers.insert(index, register);
    }

    /// The documents of a plan's chain, the outermost base first.
    fn chain(&mut self, plan: usize) -> Vec<usize> {
        if let Some(known) = self.chains.get(&plan) {
            return known.clone();
        }
        let mut chain = vec![plan];
        let mut last = plan;
        while let Some((name, rev, span)) = extends(&self.documents[last].tree) {
            let place = Place {
                file: FileId(last as u32),
                span,
            };
            let folder = self.documents[last].folder.clone();
            let mut reach = 0;
            let found = match folder {
                Some(folder) => self.find(DocumentKind::Plan, &name, &folder, &mut reach),
                None => self.built_in(&name),
            };
            let Some(base) = found else {
                let folder = self.documents[last].folder.clone().unwrap_or_default();
                let finding = self.unknown(DocumentKind::Plan, &name, &folder, place);
                self.findings.push(finding);
                break;
            };
            if chain.contains(&base) || chain.len() >= LONGEST_CHAIN {
                let message = if chain.contains(&base) {
                    format!(
                        "expected a plan that does not come back to this one, found that `{name}` does"
                    )
                } else {
                    format!(
                        "expected at most {LONGEST_CHAIN} plans that extend each other, found more"
                    )
                };
                self.findings.push(
                    Finding::new(&rules::PLAN_EXTENDS_ITSELF, place, message)
                        .help("take out one `extends` of the ring"),
                );
                break;
            }
            let own_rev = rev_of(&self.documents[base]);
            if let (Some(wanted), Some(own)) = (rev, own_rev)
                && wanted != own
            {
                self.findings.push(Finding::new(
                    &rules::PLAN_REVISION_DIFFERS,
                    place,
                    format!("expected plan `{name}` rev {wanted}, found rev {own}"),
                ));
            }
            chain.push(base);
            last = base;
        }
        chain.reverse();
        self.chains.insert(plan, chain.clone());
        chain
    }

    /// The chain of a plan that is needed, as it was found.
    pub(super) fn known_chain(&self, plan: usize) -> &[usize] {
        self.chains.get(&plan).map_or(&[], Vec::as_slice)
    }

    /// Compiles every plan that is needed.
    pub(super) fn compile(&mut self, parallel: bool) -> (Plans, Vec<Finding>) {
        self.compile_anew(parallel, &mut Compiled::default())
    }

    /// Compiles every plan that is needed, except those that `known` holds of the same texts; it holds those of this
    /// library afterwards.
    pub(super) fn compile_anew(
        &mut self,
        parallel: bool,
        known: &mut Compiled,
    ) -> (Plans, Vec<Finding>) {
        let mut chains: Vec<(usize, Vec<usize>)> = self
            .chains
            .iter()
            .map(|(plan, chain)| (*plan, chain.clone()))
            .collect();
        chains.sort();
        let documents = &self.documents;
        let before = std::mem::take(known);
        let compiled = super::each(chains, parallel, |(plan, chain)| {
            let key: Vec<(usize, u64)> = chain
                .iter()
                .map(|index| (*index, documents[*index].stamp))
                .collect();
            if let Some(known) = before.get(&key) {
                return (plan, key, known.clone());
            }
            let parts: Vec<Document<'_>> = chain
                .iter()
                .map(|index| Document {
                    tree: &documents[*index].tree,
                    file: FileId(*index as u32),
                })
                .collect();
            let mut findings = Vec::new();
            let compiled = Arc::new(compile(&parts, &mut findings));
            (plan, key, (compiled, findings))
        });
        let mut findings = std::mem::take(&mut self.findings);
        let mut plans = Plans::default();
        for (index, key, (plan, found)) in compiled {
            findings.extend(found.iter().cloned());
            plans.insert(index, plan.clone());
            known.insert(key, (plan, found));
        }
        (plans, findings)
    }

    pub(super) fn built_in(&mut self, name: &str) -> Option<usize> {
        let plan = builtin::find(name)?;
        if let Some(known) = self.built_in.get(plan.name) {
            return Some(*known);
        }
        let index = self.documents.len();
        let document = Loaded::built_in(plan.path, plan.text);
        self.documents.push(Arc::new(document));
        self.built_in.insert(plan.name, index);
        Some(index)
    }

    /// Finds a plan or register by name: in the record's folder, then in each folder above it, then
    /// among the built-in plans. Notes in `reach` how many folders up was the highest that was needed.
    fn find(
        &mut self,
        kind: DocumentKind,
        name: &str,
        folder: &Path,
        reach: &mut usize,
    ) -> Option<usize> {
        let key = (kind, name.to_owned(), folder.to_owned());
        let (index, level) = match self.found.get(&key) {
            Some(known) => known.clone(),
            None => {
                let found = self.find_anew(kind, name, folder);
                self.found.insert(key, found.clone());
                found
            }
        };
        if let Some(level) = level {
            let levels = self.above(folder).levels;
            let up = levels.iter().position(|known| *known == level);
            *reach = up.unwrap_or(0).max(*reach);
        }
        index
    }

    fn above(&mut self, folder: &Path) -> Above {
        if let Some(known) = self.above.get(folder) {
            return known.clone();
        }
        let above = Above {
            levels: levels(folder),
            repository: repository(folder),
        };
        self.above.insert(folder.to_owned(), above.clone());
        above
    }

    fn find_anew(&mut self, kind: DocumentKind, name: &str, folder: &Path) -> Found {
        let mut matches: Vec<(PathBuf, Shelf)> = Vec::new();
        for level in self.above(folder).levels {
            for shelf in self.shelves(&level) {
                if shelf.kind == kind && shelf.name == name {
                    matches.push((level.clone(), shelf));
                }
            }
        }
        let Some((level, shelf)) = matches.first().cloned() else {
            return (
                if kind == DocumentKind::Plan {
                    self.built_in(name)
                } else {
                    None
                },
                None,
            );
        };
        let Some(index) = self.load(&shelf.path) else {
            return (None, None);
        };
        if kind == DocumentKind::Plan && builtin::find(name).is_some() {
            let span = document_name(&self.documents[index].tree)
                .map_or(Span::default(), |(_, span)| span);
            self.findings.push(
                Finding::new(
                    &rules::DUPLICATE_DOCUMENT,
                    Place { file: FileId(index as u32), span },
                    format!(
                        "expected another name for this plan, found `{name}`, the name of a built-in plan"
                    ),
                )
                .help("give it the works' own name, and let it extend the built-in plan"),
            );
        }
        for (_, other) in matches.iter().skip(1) {
            let Some(other) = self.load(&other.path) else {
                continue;
            };
            let span = document_name(&self.documents[other].tree)
                .map_or(Span::default(), |(_, span)| span);
            let first = document_name(&self.documents[index].tree)
                .map_or(Span::default(), |(_, span)| span);
            let word = if kind == DocumentKind::Plan {
                "plan"
            } else {
                "register"
            };
            self.findings.push(
                Finding::new(
                    &rules::DUPLICATE_DOCUMENT,
                    Place {
                        file: FileId(other as u32),
                        span,
                    },
                    format!("expected one {word} called `{name}` above a record, found a second"),
                )
                .related(
                    Place {
                        file: FileId(index as u32),
                        span: first,
                    },
                    "the other one",
                )
                .help("give one of them another name; until then the nearer one is used"),
            );
        }
        (Some(index), Some(level))
    }

    pub(super) fn load(&mut self, path: &Path) -> Option<usize> {
        if let Some(known) = self.by_name.get(path) {
            return Some(*known);
        }
        let real = path.canonicalize().ok()?;
        if let Some(known) = self.by_path.get(&real) {
            return Some(*known);
        }
        let name = path
            .strip_prefix("./")
            .unwrap_or(path)
            .to_string_lossy()
            .replace('\\', "/");
        let loaded = Loaded::read(Given {
            name,
            path: Some(path.to_owned()),
            bytes: None,
        })
        .ok()?;
        let index = self.documents.len();
        self.documents.push(Arc::new(loaded));
        self.by_path.insert(real, index);
        Some(index)
    }

    /// The given document that a path means.
    pub(super) fn given_at(&self, path: &Path) -> Option<usize> {
        let known = self.by_name.get(path).copied();
        known.or_else(|| {
            // Only a document given under another name is worth following the links for.
            let real = path.canonicalize().ok()?;
            self.by_path
                .get(&real)
                .copied()
                .filter(|index| self.given.get(*index) == Some(&true))
        })
    }

    /// The plans and registers that stand directly in a folder.
    fn shelves(&mut self, folder: &Path) -> Vec<Shelf> {
        if let Some(known) = self.folders.get(folder) {
            return known.clone();
        }
        let mut shelves = Vec::new();
        let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
            .into_iter()
            .flatten()
            .flatten()
            .map(|entry| entry.path())
            .filter(|path| {
                path.extension().is_some_and(|extension| extension == "ubr") && path.is_file()
            })
            .collect();
        // A document that was given and is not in its folder yet.
        let here = |path: &&PathBuf| path.parent() == Some(folder);
        paths.extend(self.unsaved.iter().filter(here).cloned());
        paths.sort();
        for path in paths {
            // What is loaded already need not be opened again.
            let loaded = self.by_name.get(path.strip_prefix("./").unwrap_or(&path));
            let statement = match loaded {
                Some(index) => {
                    let tree = &self.documents[*index].tree;
                    document_name(tree).map(|(name, _)| (tree.document, name))
                }
                None => first_statement(&path),
            };
            if let Some((kind, name)) = statement {
                shelves.push(Shelf { kind, name, path });
            }
        }
        self.folders.insert(folder.to_owned(), shelves.clone());
        shelves
    }

    /// The plans and registers in a folder and those above it, by their names in each, and the built-in plans that a
    /// unit may name.
    pub(super) fn names_near(&mut self, folder: &Path) -> Vec<(DocumentKind, String)> {
        let mut names = Vec::new();
        for level in self.above(folder).levels {
            let shelves = self.shelves(&level);
            let mut own: Vec<_> = shelves
                .into_iter()
                .map(|own| (own.kind, own.name))
                .collect();
            own.sort_by(|one, other| one.1.cmp(&other.1));
            names.extend(own);
        }
        let whole = builtin::BUILTIN_PLANS.iter().filter(|plan| plan.whole);
        names.extend(whole.map(|plan| (DocumentKind::Plan, plan.name.to_owned())));
        names
    }

    fn unknown(&mut self, kind: DocumentKind, name: &str, folder: &Path, place: Place) -> Finding {
        let mut known: Vec<String> = Vec::new();
        for level in self.above(folder).levels {
            known.extend(
                self.shelves(&level)
                    .into_iter()
                    .filter(|shelf| shelf.kind == kind)
                    .map(|shelf| shelf.name),
            );
        }
        let (rule, word) = if kind == DocumentKind::Plan {
            known.extend(
                builtin::BUILTIN_PLANS
                    .iter()
                    .map(|plan| plan.name.to_owned()),
            );
            (&rules::UNKNOWN_PLAN, "plan")
        } else {
            (&rules::UNKNOWN_REGISTER, "register")
        };
        let mut finding = Finding::new(
            rule,
            place,
            format!("expected the name of a {word} in this folder or one above it, found `{name}`"),
        );
        if let Some(near) = nearest(name, known.iter().map(String::as_str)) {
            finding = finding
                .help(format!("did you mean `{near}`?"))
                .fix(format!("write {near}"), vec![(place.span, near.to_owned())]);
        } else if known.is_empty() {
            finding = finding.help(format!(
                "there is none: put the {word}'s .ubr file into the folder of the works"
            ));
        } else {
            finding = finding.help(format!("there is {}", known.join(", ")));
        }
        finding
    }
}

fn rev_of(document: &Loaded) -> Option<String> {
    use crate::syntax::NodeKind;
    let tree = &document.tree;
    let plan = tree.child(tree.root(), NodeKind::Plan)?;
    let rev = tree.child(plan, NodeKind::Rev)?;
    tree.child(rev, NodeKind::Word)
        .map(|word| tree.text_of(word).to_owned())
}

/// A folder and those above it, as far as they are looked into: not past the root of a repository.
fn levels(folder: &Path) -> Vec<PathBuf> {
    let mut levels = vec![folder.to_owned()];
    let mut current = folder.to_owned();
    while levels.len() < LEVELS && !current.join(".git").exists() {
        let above = match current.parent() {
            Some(parent) if !parent.as_os_str().is_empty() => parent.to_owned(),
            // The end of a relative path: go on from where the command stands.
            _ if current.is_relative() => {
                match current
                    .canonicalize()
                    .ok()
                    .and_then(|real| real.parent().map(Path::to_owned))
                {
                    Some(parent) => parent,
                    None => break,
                }
            }
            _ => break,
        };
        levels.push(above.clone());
        current = above;
    }
    levels
}

/// The root of the repository that a folder lies in.
fn repository(folder: &Path) -> Option<PathBuf> {
    let real = folder.canonicalize().ok()?;
    real.ancestors()
        .find(|level| level.join(".git").exists())
        .map(Path::to_owned)
}

/// The kind and name of a plan or register, from the beginning of its file.
fn first_statement(path: &Path) -> Option<(DocumentKind, String)> {
    const ENOUGH: u64 = 4096;
    let mut head = Vec::new();
    std::fs::File::open(path)
        .ok()?
        .take(ENOUGH)
        .read_to_end(&mut head)
        .ok()?;
    let text = String::from_utf8_lossy(&head);
    let line = text
        .trim_start_matches('\u{feff}')
        .lines()
        .map(str::trim)
        .find(|line| !line.is_empty() && !line.starts_with('#'))?;
    let kind = match line.split_whitespace().next()? {
        "plan" => DocumentKind::Plan,
        "register" => DocumentKind::Register,
        _ => return None,
    };
    let tree = parse(line);
    document_name(&tree).map(|(name, _)| (kind, name))
}

/// The built-in plans that a unit may name, for the help of a finding.
fn built_in_plans() -> String {
    let whole = builtin::BUILTIN_PLANS.iter().filter(|plan| plan.whole);
    let names: Vec<&str> = whole.map(|plan| plan.name).collect();
    format!("built-in plans: {}", names.join(", "))
}
