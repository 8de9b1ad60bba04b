//! The seals of a record, verified against its plan, register and files, and what was changed behind them named
//! from the version history.

use super::library::{Library, Needs};
use super::versions::Versions;
use crate::finding::Finding;
use crate::plan::Plan;
use crate::record::{Files, Header, Record};
use crate::seal::{
    Break, Change, Ground, PlanText, Reason, Seals, Source, Told, Verified, Version, changes_in,
    finding_of, plan_label, seals, verify,
};
use crate::text::FileId;
use rustc_hash::FxHashMap;
use std::path::PathBuf;
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
    if seals(tree).is_empty() {
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
        register: need
            .register
            .map(|index| &library.documents[index].tree),
        files,
    };
    let register = need
        .register
        .and_then(|index| library.registers.get(&index));
    let file = FileId(need.document as u32);
    let Verified { mut seals, breaks } = verify(&ground, record, register, file);
    if !breaks.is_empty() {
        let teller = Teller {
            need,
            library,
            files,
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
}

impl Teller<'_> {
    fn findings(&self, breaks: &[Break], header: &Header) -> Vec<Finding> {
        let own = FileId(self.need.document as u32);
        let mut versions = Versions::default();
        // What several seals cover alike is looked for once.
        let mut told: FxHashMap<(&str, &str, &str), Told> = FxHashMap::default();
        let mut groups: Vec<(FileId, Option<Change>, Told, Vec<&Break>)> = Vec::new();
        for broken in breaks {
            let cover = &broken.cover;
            let key = (&*cover.kind, &*cover.label, &*cover.digest);
            let told = told
                .entry(key)
                .or_insert_with(|| self.told(broken, &mut versions))
                .clone();
            let changes = match &told {
                Told::Changes(changes, _) => changes.iter().cloned().map(Some).collect(),
                Told::Nothing(_) => vec![None],
            };
            let file = self.file_of(broken).unwrap_or(own);
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

    /// Looks for the sealed text in the version history and compares it with the present one.
    fn told(&self, broken: &Break, versions: &mut Versions) -> Told {
        if matches!(broken.reason, Reason::NotCovered) {
            return Told::Nothing("the seal was not written by this program as it stands".to_owned());
        }
        let kind = &*broken.cover.kind;
        let source = match kind {
            "plan" => Source::Plan,
            "register" => Source::Register,
            "file" => Source::File,
            _ => Source::Record,
        };
        let path = match self.path_of(broken, source) {
            Ok(path) => path,
            Err(why) => return Told::Nothing(why),
        };
        let present_bytes;
        let present = match source {
            Source::Plan => self
                .plan_document(broken)
                .map(|index| Version::Document(&self.library.documents[index].tree)),
            Source::File => {
                present_bytes = self.files.read(&broken.cover.label).ok();
                present_bytes.as_deref().map(Version::Bytes)
            }
            Source::Record if kind.is_empty() => Some(Version::Document(
                &self.library.documents[self.need.document].tree,
            )),
            Source::Record | Source::Register => None,
        };
        let found = match source {
            Source::File => versions.find_bytes(&path, |bytes| {
                changes_in(broken, &Version::Bytes(bytes), present.as_ref())
            }),
            _ => versions.find_document(&path, |tree| {
                changes_in(broken, &Version::Document(tree), present.as_ref())
            }),
        };
        match found {
            Ok(Some(told)) => told,
            Ok(None) => Told::Nothing(
                "the version history does not hold the text that was sealed".to_owned(),
            ),
            Err(why) => Told::Nothing(why),
        }
    }

    /// The file whose history holds a part.
    fn path_of(&self, broken: &Break, source: Source) -> Result<PathBuf, String> {
        let document = match source {
            Source::File => {
                let folder = self.library.documents[self.need.document].folder.clone();
                let path = folder
                    .unwrap_or_default()
                    .join(&broken.cover.label);
                return Ok(path);
            }
            Source::Record => Some(self.need.document),
            Source::Register => self.need.register,
            Source::Plan => self.plan_document(broken),
        };
        let document = document.ok_or("it is not there any more")?;
        let loaded = &self.library.documents[document];
        match &loaded.real {
            Some(path) => Ok(path.clone()),
            None if source == Source::Plan => Err(
                "the plan comes with the program, and this version of the program holds another text; keep the plan of a sealed record beside it"
                    .to_owned(),
            ),
            None => Err("the text stands in no file".to_owned()),
        }
    }

    /// The document of the plan's chain that has the name, if not the revision, of a part.
    fn plan_document(&self, broken: &Break) -> Option<usize> {
        let name = |label: &str| label.split(' ').next().unwrap_or("").to_owned();
        let wanted = name(&broken.cover.label);
        let chain = self.library.known_chain(self.need.plan?);
        chain
            .iter()
            .copied()
            .find(|index| name(&plan_label(&self.library.documents[*index].tree)) == wanted)
    }

    /// The document in which the changes of a part stand.
    fn file_of(&self, broken: &Break) -> Option<FileId> {
        let index = match &*broken.cover.kind {
            "plan" => self.plan_document(broken)?,
            "register" => self.need.register?,
            _ => self.need.document,
        };
        Some(FileId(index as u32))
    }
}
