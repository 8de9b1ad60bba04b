//! The seals of a record, verified against its plan, register and files, and what was changed behind them named
//! from the version history.

use super::library::{Library, Needs};
use super::versions::Versions;
use crate::finding::Finding;
use crate::plan::Plan;
use crate::record::{Files, Header, Record};
use crate::seal::{
    Break, Change, Ground, PlanText, Reason, Seals, Told, Verified, Version, changes_in,
    changes_in_plan, finding_of, seals, verify,
};
use crate::text::FileId;
use rustc_hash::FxHashMap;
use std::sync::Mutex;

/// The digests of the documents of plans, each made once.
#[derive(Debug, Default)]
pub(super) struct PlanTexts(Mutex<FxHashMap<usize, PlanText>>);

impl PlanTexts {
    /// The documents of a plan as they are sealed, the outermost base first.
    pub(super) fn of(&self, library: &Library, plan: usize) -> Vec<PlanText> {
        let chain = library.known_chain(plan);
        chain
            .iter()
            .map(|index| {
                // A digest is whole or not there, so a lock that a panic left behind holds nothing half done.
                let mut known = self.0.lock().unwrap_or_else(|broken| broken.into_inner());
                known
                    .entry(*index)
                    .or_insert_with(|| PlanText::of(&library.documents[*index].tree))
                    .clone()
            })
            .collect()
    }
}

/// Verifies the seals of a record.
pub(super) fn verified(
    need: &Needs,
    plan: &Plan,
    library: &Library,
    texts: &PlanTexts,
    header: &Header,
    record: &Record,
    files: &dyn Files,
) -> Seals {
    let tree = &library.documents[need.document].tree;
    let written = seals(tree);
    if written.is_empty() {
        return Seals::default();
    }
    let plans = need
        .plan
        .map(|plan| texts.of(library, plan))
        .unwrap_or_default();
    let ground = Ground {
        tree,
        header,
        plan,
        plans: &plans,
        register: need.register.map(|index| &library.documents[index].tree),
        files,
    };
    let register = need
        .register
        .and_then(|index| library.registers.get(&index));
    let file = FileId(need.document as u32);
    let Verified { mut seals, breaks } = verify(&ground, &written, record, register, file);
    if !breaks.is_empty() {
        let teller = Teller {
            need,
            library,
            files,
            texts,
        };
        seals.findings.extend(teller.findings(&breaks, header));
    }
    seals
}

/// Names what was changed.
struct Teller<'a> {
    need: &'a Needs,
    library: &'a Library,
    files: &'a dyn Files,
    texts: &'a PlanTexts,
}

impl Teller<'_> {
    fn findings(&self, breaks: &[Break], header: &Header) -> Vec<Finding> {
        let own = FileId(self.need.document as u32);
        let mut versions = Versions::default();
        // What several seals cover alike is looked for once.
        let mut told: FxHashMap<(&str, &str, &str), (FileId, Told)> = FxHashMap::default();
        let mut groups: Vec<(FileId, Option<Change>, Told, Vec<&Break>)> = Vec::new();
        for broken in breaks {
            let cover = &broken.cover;
            let key = (&*cover.kind, &*cover.label, &*cover.digest);
            let (file, told) = told
                .entry(key)
                .or_insert_with(|| self.told(broken, &mut versions))
                .clone();
            let changes = match &told {
                Told::Changes(changes, _) => changes.iter().cloned().map(Some).collect(),
                Told::Nothing(_) => vec![None],
            };
            for change in changes {
                let same = |(other, known, _, members): &&mut (
                    FileId,
                    Option<Change>,
                    Told,
                    Vec<&Break>,
                )| {
                    let first = members[0];
                    *other == file
                        && *known == change
                        && first.cover.kind == cover.kind
                        && first.cover.label == cover.label
                        && !cover.kind.is_empty()
                        && std::mem::discriminant(&first.reason)
                            == std::mem::discriminant(&broken.reason)
                };
                match groups.iter_mut().find(same) {
                    Some((.., members)) => members.push(broken),
                    None => groups.push((file, change, told.clone(), vec![broken])),
                }
            }
        }
        groups
            .iter()
            .map(|(file, change, told, members)| {
                finding_of(members, told, change.as_ref(), *file, own, &header.serial)
            })
            .collect()
    }

    /// Looks for the sealed text in the version history and compares it with the present one. Gives the document
    /// in which the changes stand as well.
    fn told(&self, broken: &Break, versions: &mut Versions) -> (FileId, Told) {
        let own = FileId(self.need.document as u32);
        let nothing = |why: &str| Told::Nothing(why.to_owned());
        if matches!(broken.reason, Reason::NotCovered) {
            return (own, nothing("the seal is not one that this program sets"));
        }
        if matches!(broken.reason, Reason::Gone) {
            return (own, nothing(""));
        }
        let asked = match &*broken.cover.kind {
            "plan" => return self.told_of_plan(broken, versions),
            "file" => {
                let folder = self.library.documents[self.need.document].folder.clone();
                let path = folder.unwrap_or_default().join(&broken.cover.label);
                let bytes = self.files.read(&broken.cover.label).ok();
                let present = bytes.as_deref().map(Version::Bytes);
                let found = versions.find_bytes(&path, |bytes| {
                    changes_in(broken, &Version::Bytes(bytes), present.as_ref())
                });
                return (own, told_or_why(found));
            }
            "register" => self.need.register,
            _ => Some(self.need.document),
        };
        let Some(document) = asked else {
            return (own, nothing("the record names no register"));
        };
        let file = FileId(document as u32);
        let loaded = &self.library.documents[document];
        let Some(path) = &loaded.real else {
            return (file, nothing("the text stands in no file"));
        };
        let present = broken
            .cover
            .kind
            .is_empty()
            .then_some(Version::Document(&loaded.tree));
        let found = versions.find_document(path, |tree| {
            changes_in(broken, &Version::Document(tree), present.as_ref())
        });
        (file, told_or_why(found))
    }

    /// The same of a plan: of its documents one is looked for that makes it what was sealed.
    fn told_of_plan(&self, broken: &Break, versions: &mut Versions) -> (FileId, Told) {
        let own = FileId(self.need.document as u32);
        let Some(plan) = self.need.plan else {
            return (own, Told::Nothing("the plan is not there".to_owned()));
        };
        let chain = self.library.known_chain(plan);
        let texts = self.texts.of(self.library, plan);
        let mut why = "the plan comes with the program, and this version of the program holds another text; keep the plan of a sealed record beside it".to_owned();
        for (position, index) in chain.iter().enumerate().rev() {
            let loaded = &self.library.documents[*index];
            let Some(path) = &loaded.real else {
                continue;
            };
            let found = versions.find_document(path, |version| {
                changes_in_plan(broken, &texts, position, version, &loaded.tree)
            });
            match told_or_why(found) {
                Told::Nothing(own) => why = own,
                told => return (FileId(*index as u32), told),
            }
        }
        (own, Told::Nothing(why))
    }
}

fn told_or_why(found: Result<Option<Told>, String>) -> Told {
    match found {
        Ok(Some(told)) => told,
        Ok(None) => {
            Told::Nothing("the version history does not hold the text that was sealed".to_owned())
        }
        Err(why) => Told::Nothing(why),
    }
}
