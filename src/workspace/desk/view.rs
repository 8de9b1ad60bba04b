//! What can be seen on a desk.

use super::Desk;
use crate::finding::UnitSummary;
use crate::plan::Plan;
use crate::record::Record;
use crate::register::Register;
use crate::syntax::Tree;
use crate::text::{FileId, SourceText};
use std::path::{Path, PathBuf};

/// One unit's record with what it rests on.
#[derive(Clone, Copy, Debug)]
pub struct UnitView<'d> {
    /// The record's document.
    pub file: FileId,
    /// The record bound to its plan; nothing where it could not be bound.
    pub record: Option<&'d Record>,
    /// Its plan, where there is one.
    pub plan: Option<&'d Plan>,
    /// The plan's document.
    pub plan_file: Option<FileId>,
    /// Its register, where there is one.
    pub register: Option<&'d Register>,
    /// The register's document.
    pub register_file: Option<FileId>,
    /// Where it stands.
    pub summary: Option<&'d UnitSummary>,
    /// Whether it is looked after, or only seen beside a sister.
    pub given: bool,
}

impl Desk {
    /// The texts that places refer to.
    pub fn sources(&self) -> &[SourceText] {
        &self.sources
    }

    /// The text of a document.
    pub fn source(&self, file: FileId) -> Option<&SourceText> {
        self.sources.get(file.0 as usize)
    }

    /// The parsed text of a document.
    pub fn tree(&self, file: FileId) -> Option<&Tree> {
        let document = self.library.documents.get(file.0 as usize)?;
        Some(&document.tree)
    }

    /// Where a document stands; nothing for a text without a file and for what comes with the program.
    pub fn path(&self, file: FileId) -> Option<&Path> {
        let document = self.library.documents.get(file.0 as usize)?;
        document.path.as_deref()
    }

    /// The folder in which a document's files are looked for.
    pub fn folder(&self, file: FileId) -> Option<&Path> {
        let document = self.library.documents.get(file.0 as usize)?;
        document.folder.as_deref()
    }

    /// Whether the document comes with the program.
    pub fn is_built_in(&self, file: FileId) -> bool {
        let name = self.source(file).map_or("", |source| &source.name);
        crate::plan::builtin::BUILTIN_PLANS
            .iter()
            .any(|plan| plan.path == name)
    }

    /// The document of this path, where it is known.
    pub fn at(&self, path: &Path) -> Option<FileId> {
        let index = *self.by_path.get(&super::real_path(path))?;
        (!self.gone.contains(&index)).then_some(FileId(index as u32))
    }

    /// Documents that are edited or looked after, in the order of their names.
    pub fn looked_after(&self) -> Vec<FileId> {
        let mut all: Vec<usize> = self.open.union(&self.shelved).copied().collect();
        all.retain(|index| !self.gone.contains(index));
        all.sort_by_key(|index| self.sources[*index].name.clone());
        all.into_iter().map(|index| FileId(index as u32)).collect()
    }

    /// Every document that is known, whether looked after or found on the way.
    pub fn known(&self) -> Vec<FileId> {
        (0..self.library.documents.len())
            .filter(|index| !self.gone.contains(index))
            .map(|index| FileId(index as u32))
            .collect()
    }

    /// Whether the text of a document is edited here.
    pub fn is_open(&self, file: FileId) -> bool {
        self.open.contains(&(file.0 as usize))
    }

    /// The unit of a document.
    pub fn unit(&self, file: FileId) -> Option<UnitView<'_>> {
        let position = *self.unit_of.get(&(file.0 as usize))?;
        let need = &self.needs[position];
        let judged = &self.judged[position];
        let id = |index: usize| FileId(index as u32);
        Some(UnitView {
            file,
            record: judged.record.as_ref(),
            plan: need
                .plan
                .and_then(|plan| self.plans.get(&plan))
                .map(|plan| &**plan),
            plan_file: need.plan.map(id),
            register: need
                .register
                .and_then(|register| self.library.registers.get(&register)),
            register_file: need.register.map(id),
            summary: judged.summary.as_ref(),
            given: position < self.given,
        })
    }

    /// Every unit, those looked after first.
    pub fn units(&self) -> impl Iterator<Item = UnitView<'_>> {
        self.needs
            .iter()
            .filter_map(|need| self.unit(FileId(need.document as u32)))
    }

    /// The compiled plan of a plan document.
    pub fn plan(&self, file: FileId) -> Option<&Plan> {
        self.plans.get(&(file.0 as usize)).map(|plan| &**plan)
    }

    /// Every document of the chain of plans that a plan document rests on, the outermost base first, itself last.
    pub fn chain(&self, plan: FileId) -> Vec<FileId> {
        let chain = self.library.known_chain(plan.0 as usize);
        chain.iter().map(|index| FileId(*index as u32)).collect()
    }

    /// The register of a register document.
    pub fn register(&self, file: FileId) -> Option<&Register> {
        self.library.registers.get(&(file.0 as usize))
    }

    /// The other units of the lots that a unit belongs to.
    pub fn sisters(&self, file: FileId) -> Vec<UnitView<'_>> {
        let index = file.0 as usize;
        let lots = self
            .lots
            .iter()
            .filter(|lot| lot.members.iter().any(|(member, _)| *member == index));
        lots.flat_map(|lot| &lot.members)
            .filter(|(member, _)| *member != index)
            .filter_map(|(member, _)| self.unit(FileId(*member as u32)))
            .collect()
    }

    /// The plans and registers that stand in a document's folder and those above it, and the built-in plans that a
    /// unit may name.
    pub fn names_near(&mut self, file: FileId) -> Vec<(crate::syntax::DocumentKind, String)> {
        let folder = self.folder(file).map(Path::to_owned).unwrap_or_default();
        self.library.names_near(&folder)
    }

    /// The path of a file that a record names, where it is there and lies inside the workspace.
    pub fn named_file(&self, file: FileId, name: &str) -> Option<PathBuf> {
        let root = self.root(file)?;
        let folder = self.folder(file)?;
        crate::workspace::files::WorkspaceFiles::new(folder, &root)
            .locate(name)
            .ok()
    }

    /// The day that counts as today for a record, in days since 1970-01-01.
    pub fn today(&self, file: FileId) -> Option<i32> {
        let record = self.unit(file).and_then(|unit| unit.record);
        let zone = record.and_then(|record| record.header.zone.as_ref());
        self.today?.day(zone.map(|(zone, _)| zone.as_str()))
    }

    /// Whether a reading of a record is out of its limits, at any index.
    pub fn fails(&self, file: FileId, stage: &str, reading: &str) -> bool {
        let Some(position) = self.unit_of.get(&(file.0 as usize)) else {
            return false;
        };
        let Some(plan) = self.unit(file).and_then(|unit| unit.plan) else {
            return false;
        };
        let limits = plan.stage_by_name.get(stage).and_then(|id| {
            let known = plan.stages[id.index()].names.get(reading)?;
            match known {
                crate::plan::StageName::Reading(id) => Some(&plan.readings[id.index()].limits),
                _ => None,
            }
        });
        let of_limit = |place: crate::text::Place| {
            limits.is_some_and(|limits| limits.iter().any(|limit| limit.place == place))
        };
        self.judged[*position].findings.iter().any(|finding| {
            finding.rule.name == crate::finding::rules::OUT_OF_LIMIT.name
                && finding
                    .related
                    .iter()
                    .any(|related| of_limit(related.place))
        })
    }

    /// The root that files named in a record may not leave.
    pub fn root(&self, file: FileId) -> Option<PathBuf> {
        let position = *self.unit_of.get(&(file.0 as usize))?;
        Some(self.needs[position].root.clone())
    }
}
