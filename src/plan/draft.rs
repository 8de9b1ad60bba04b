//! The draft: a plan's statements gathered by name, with what it extends already worked in, before any
//! name is resolved or any expression typed.

use super::accuracy::{Stated, Written};
use super::model::{Decide, Rationale};
use crate::finding::rules;
use crate::finding::{Basis, Finding, PointKind, Severity, Source};
use crate::quantity::Accuracy;
use crate::syntax::{NodeId, NodeKind, Tree, nearest};
use crate::text::{FileId, Place};
use rustc_hash::FxHashMap;
use std::sync::Arc;

/// Most stages of one plan.
pub const MAX_STAGES: usize = 256;
/// Most sets of one plan.
pub const MAX_SETS: usize = 256;
/// Most readings, logs, calculations, checks, points and design values of one plan.
pub const MAX_DECLARATIONS: usize = 20_000;

/// A node in one of the documents that make up the plan.
#[derive(Clone, Copy, Debug)]
pub struct At {
    /// Index into the documents, the outermost base first.
    pub document: usize,
    /// The node.
    pub node: NodeId,
}

/// One document that takes part.
#[derive(Clone, Copy)]
pub struct Document<'t> {
    /// Its tree.
    pub tree: &'t Tree,
    /// Its place among the run's sources.
    pub file: FileId,
}

/// All statements of a plan and what it extends.
#[derive(Default)]
pub struct Draft {
    pub name: Arc<str>,
    pub rev: Option<Arc<str>>,
    pub title: Arc<str>,
    pub decide: Decide,
    pub uncertainty_ratio: Option<f64>,
    pub concessions: Option<At>,
    /// Kinds of points of which all have to be sealed.
    pub sealed: Vec<PointKind>,
    pub sets: Vec<(Arc<str>, At)>,
    pub roles: Vec<Arc<str>>,
    pub design: Vec<Item>,
    pub stages: Vec<DraftStage>,
    /// Where each declaration stands, by its stage and name.
    known: FxHashMap<(Option<usize>, Arc<str>), At>,
    /// Where each stage stands in `stages`.
    stage_index: FxHashMap<Arc<str>, usize>,
    declarations: usize,
    too_many_stages: bool,
}

pub struct DraftStage {
    pub name: Arc<str>,
    pub title: Arc<str>,
    pub at: At,
    pub after: Vec<(Arc<str>, At)>,
    pub when: Option<At>,
    pub caution: Option<Arc<str>>,
    pub items: Vec<Item>,
}

/// A declaration of a stage or of the design block.
pub struct Item {
    pub name: Arc<str>,
    pub kind: ItemKind,
    pub at: At,
    pub limits: Vec<(At, Rationale)>,
    pub requires: Vec<(At, Rationale)>,
    pub compares: Vec<At>,
    pub when: Vec<At>,
    pub causes: Option<At>,
    pub decide: Option<Decide>,
    /// Its own ratio of tolerance to uncertainty.
    pub uncertainty_ratio: Option<f64>,
    /// The smallest ratio that `tighten` asks for.
    pub least_ratio: Option<f64>,
    pub uncertainties: Vec<Stated<Accuracy>>,
    pub independent: Option<At>,
    pub rationale: Rationale,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ItemKind {
    Need,
    May,
    Reading,
    Log,
    Calc,
    Check,
    Point(PointKind),
}

/// Gathers the statements of `documents`, the outermost base first, each one working on what came before.
pub fn gather(documents: &[Document<'_>], findings: &mut Vec<Finding>) -> Draft {
    let mut draft = Draft::default();
    for index in 0..documents.len() {
        let mut gatherer = Gatherer {
            documents,
            document: index,
            draft: &mut draft,
            findings,
        };
        gatherer.document();
    }
    draft
}

pub(super) struct Gatherer<'a, 't> {
    pub(super) documents: &'a [Document<'t>],
    pub(super) document: usize,
    pub(super) draft: &'a mut Draft,
    pub(super) findings: &'a mut Vec<Finding>,
}

impl Gatherer<'_, '_> {
    pub(super) fn tree(&self) -> &Tree {
        self.documents[self.document].tree
    }

    fn at(&self, node: NodeId) -> At {
        At {
            document: self.document,
            node,
        }
    }

    pub(super) fn place(&self, node: NodeId) -> Place {
        Place {
            file: self.documents[self.document].file,
            span: self.tree().span(node),
        }
    }

    pub(super) fn place_of(&self, at: At) -> Place {
        let document = &self.documents[at.document];
        Place {
            file: document.file,
            span: document.tree.span(at.node),
        }
    }

    fn children(&self, node: NodeId) -> Vec<NodeId> {
        self.tree().children(node).collect()
    }

    pub(super) fn name_of(&self, node: NodeId) -> Option<(Arc<str>, NodeId)> {
        let tree = self.tree();
        let holder = tree.child(node, NodeKind::Declared).unwrap_or(node);
        let name = tree.child(holder, NodeKind::Name)?;
        Some((tree.text_of(name).into(), name))
    }

    fn text_in(&self, node: NodeId) -> Option<Arc<str>> {
        let tree = self.tree();
        tree.child(node, NodeKind::TextPart)
            .map(|text| tree.unquoted(text).into())
    }

    fn texts_in(&self, node: NodeId) -> Vec<Arc<str>> {
        let tree = self.tree();
        tree.children(node)
            .filter(|child| tree.kind(*child) == NodeKind::TextPart)
            .map(|text| tree.unquoted(text).into())
            .collect()
    }

    fn document(&mut self) {
        let root = self.tree().root();
        for statement in self.children(root) {
            match self.tree().kind(statement) {
                NodeKind::Plan => self.plan(statement),
                NodeKind::Set => self.set(statement),
                NodeKind::Role => self.roles(statement),
                NodeKind::DesignPlan => self.design(statement),
                NodeKind::StagePlan => self.stage(statement),
                NodeKind::Tighten => self.tighten(statement),
                NodeKind::Relax => self.relax(statement),
                NodeKind::Drop => self.drop_item(statement),
                NodeKind::Add => self.add(statement),
                _ => {}
            }
        }
    }

    fn plan(&mut self, node: NodeId) {
        if let Some((name, _)) = self.name_of(node) {
            self.draft.name = name;
        }
        let tree = self.tree();
        let rev = tree
            .child(node, NodeKind::Rev)
            .and_then(|rev| tree.child(rev, NodeKind::Word))
            .map(|word| Arc::from(tree.text_of(word)));
        self.draft.rev = rev;
        for child in self.children(node) {
            match self.tree().kind(child) {
                NodeKind::Title => {
                    if let Some(title) = self.text_in(child) {
                        self.draft.title = title;
                    }
                }
                NodeKind::Decide => {
                    if let Some(decide) = self.decide(child) {
                        self.header_decide(child, decide);
                    }
                }
                NodeKind::UncertaintyRatio => {
                    if let Some(ratio) = self.uncertainty_ratio(child) {
                        self.header_ratio(child, ratio);
                    }
                }
                NodeKind::Concessions => self.draft.concessions = Some(self.at(child)),
                NodeKind::SealedPoints => self.sealed(child),
                _ => {}
            }
        }
    }

    /// `sealed hold, witness`: an extending plan can ask for more, never for less.
    fn sealed(&mut self, node: NodeId) {
        for child in self.children(node) {
            if self.tree().kind(child) != NodeKind::Name {
                continue;
            }
            let kind = match self.tree().text_of(child) {
                "hold" => PointKind::Hold,
                "witness" => PointKind::Witness,
                "review" => PointKind::Review,
                other => {
                    let message =
                        format!("expected `hold`, `witness` or `review`, found `{other}`");
                    let finding = Finding::new(&rules::WRONG_KIND, self.place(child), message)
                        .help(
                            "name the kinds of points that have to be sealed: sealed hold, witness",
                        );
                    self.findings.push(finding);
                    continue;
                }
            };
            if !self.draft.sealed.contains(&kind) {
                self.draft.sealed.push(kind);
            }
        }
    }

    fn set(&mut self, node: NodeId) {
        let Some((name, name_node)) = self.name_of(node) else {
            return;
        };
        let at = self.at(node);
        match self.draft.sets.iter().position(|(known, _)| *known == name) {
            Some(known) if self.draft.sets[known].1.document == self.document => {
                let first = self.place_of(self.draft.sets[known].1);
                self.duplicate(name_node, "set", &name, first);
            }
            // A plan that extends another may give a set anew: its own members count.
            Some(known) => self.draft.sets[known].1 = at,
            None if self.draft.sets.len() >= MAX_SETS => self.too_many(node, MAX_SETS, "sets"),
            None => self.draft.sets.push((name, at)),
        }
    }

    fn roles(&mut self, node: NodeId) {
        for child in self.children(node) {
            if self.tree().kind(child) == NodeKind::Name {
                let name: Arc<str> = self.tree().text_of(child).into();
                if !self.draft.roles.contains(&name) {
                    self.draft.roles.push(name);
                }
            }
        }
    }

    fn design(&mut self, node: NodeId) {
        for child in self.children(node) {
            if let Some(item) = self.item(child) {
                self.insert(None, item, child);
            }
        }
    }

    fn stage(&mut self, node: NodeId) {
        let Some((name, name_node)) = self.name_of(node) else {
            return;
        };
        let known = self.draft.stage_index.get(&name).copied();
        if known.is_none() && self.draft.stages.len() >= MAX_STAGES {
            if !self.draft.too_many_stages {
                self.draft.too_many_stages = true;
                self.too_many(node, MAX_STAGES, "stages");
            }
            return;
        }
        let index = match known {
            Some(index) if self.draft.stages[index].at.document == self.document => {
                let first = self.place_of(self.draft.stages[index].at);
                self.duplicate(name_node, "stage", &name, first);
                index
            }
            Some(index) => index,
            None => {
                let title = self.text_in(node).unwrap_or_else(|| name.clone());
                let at = self.at(node);
                self.draft
                    .stage_index
                    .insert(name.clone(), self.draft.stages.len());
                self.draft.stages.push(DraftStage {
                    name,
                    title,
                    at,
                    after: Vec::new(),
                    when: None,
                    caution: None,
                    items: Vec::new(),
                });
                self.draft.stages.len() - 1
            }
        };
        for child in self.children(node) {
            match self.tree().kind(child) {
                NodeKind::After => {
                    let names: Vec<_> = self.children(child);
                    for name in names {
                        let text = self.tree().text_of(name).into();
                        let at = self.at(name);
                        self.draft.stages[index].after.push((text, at));
                    }
                }
                NodeKind::When => self.draft.stages[index].when = Some(self.at(child)),
                NodeKind::Caution => self.draft.stages[index].caution = self.text_in(child),
                _ => {
                    if let Some(item) = self.item(child) {
                        self.insert(Some(index), item, child);
                    }
                }
            }
        }
    }

    /// Reads one declaration with what stands below it.
    fn item(&mut self, node: NodeId) -> Option<Item> {
        let kind = match self.tree().kind(node) {
            NodeKind::Need => ItemKind::Need,
            NodeKind::May => ItemKind::May,
            NodeKind::ReadingPlan => ItemKind::Reading,
            NodeKind::LogPlan => ItemKind::Log,
            NodeKind::Calc => ItemKind::Calc,
            NodeKind::Check => ItemKind::Check,
            NodeKind::Hold => ItemKind::Point(PointKind::Hold),
            NodeKind::Witness => ItemKind::Point(PointKind::Witness),
            NodeKind::Review => ItemKind::Point(PointKind::Review),
            _ => return None,
        };
        let (name, _) = self.name_of(node)?;
        let mut item = Item {
            name,
            kind,
            at: self.at(node),
            limits: Vec::new(),
            requires: Vec::new(),
            compares: Vec::new(),
            when: Vec::new(),
            causes: None,
            decide: None,
            uncertainty_ratio: None,
            least_ratio: None,
            uncertainties: Vec::new(),
            independent: None,
            rationale: Rationale::default(),
        };
        let below = self.below(node);
        item.rationale = below.rationale;
        item.limits = below
            .limits
            .into_iter()
            .map(|at| (at, Rationale::default()))
            .collect();
        item.requires = below
            .requires
            .into_iter()
            .map(|at| (at, Rationale::default()))
            .collect();
        item.compares = below.compares;
        item.when = below.when;
        item.causes = below.causes;
        item.decide = below.decide.map(|(_, decide)| decide);
        item.uncertainty_ratio = below.uncertainty_ratio.map(|(_, ratio)| ratio);
        item.uncertainties = below.uncertainties;
        item.independent = below.independent;
        Some(item)
    }

    fn below(&mut self, node: NodeId) -> Below {
        let mut below = Below::default();
        for child in self.children(node) {
            let at = self.at(child);
            match self.tree().kind(child) {
                NodeKind::Limit => below.limits.push(at),
                NodeKind::Require => below.requires.push(at),
                NodeKind::Compare => below.compares.push(at),
                NodeKind::When => below.when.push(at),
                NodeKind::Causes => below.causes = Some(at),
                NodeKind::Decide => {
                    below.decide = self.decide(child).map(|decide| (at, decide));
                }
                NodeKind::UncertaintyRatio => {
                    below.uncertainty_ratio =
                        self.uncertainty_ratio(child).map(|ratio| (at, ratio));
                }
                NodeKind::Uncertainty => {
                    let document = &self.documents[self.document];
                    let written = Written {
                        tree: document.tree,
                        file: document.file,
                    };
                    let stated = written.accuracy(child, self.findings);
                    below.uncertainties.extend(stated);
                }
                NodeKind::Independent => below.independent = Some(at),
                NodeKind::SourceLine => below.rationale.source = self.source(child),
                NodeKind::Because => below.rationale.because = self.text_in(child),
                NodeKind::Look => below.rationale.look = self.texts_in(child),
                NodeKind::Caution => below.rationale.caution = self.text_in(child),
                NodeKind::SeverityLine => below.rationale.severity = self.severity(child),
                _ => {}
            }
        }
        below
    }

    fn source(&mut self, node: NodeId) -> Option<Source> {
        let tree = self.tree();
        let text = self
            .text_in(node)
            .map(|text| text.to_string())
            .unwrap_or_default();
        let memory = tree.child(node, NodeKind::Memory).is_some();
        let Some(word) = tree.child(node, NodeKind::Name) else {
            if text.is_empty() {
                return None;
            }
            let basis = if memory {
                Basis::Memory
            } else {
                Basis::Published
            };
            return Some(Source { basis, text });
        };
        let basis = match tree.text_of(word) {
            "common-practice" => Basis::CommonPractice,
            "works" => Basis::Works,
            "order" => Basis::Order,
            "physics" => Basis::Physics,
            other => {
                let message = format!(
                    "expected a source in quotes, or common-practice, works, order or physics, found `{other}`"
                );
                let place = self.place(word);
                self.findings
                    .push(Finding::new(&rules::UNKNOWN_NAME, place, message));
                return None;
            }
        };
        Some(Source { basis, text })
    }

    fn severity(&mut self, node: NodeId) -> Option<Severity> {
        let (word, at) = self.name_of(node)?;
        match &*word {
            "error" => Some(Severity::Error),
            "warning" => Some(Severity::Warning),
            "note" => Some(Severity::Note),
            _ => {
                let place = self.place(at);
                self.findings.push(Finding::new(
                    &rules::WRONG_KIND,
                    place,
                    format!("expected `error`, `warning` or `note`, found `{word}`"),
                ));
                None
            }
        }
    }

    fn items(&mut self, stage: Option<usize>) -> &mut Vec<Item> {
        match stage {
            Some(index) => &mut self.draft.stages[index].items,
            None => &mut self.draft.design,
        }
    }

    fn insert(&mut self, stage: Option<usize>, item: Item, node: NodeId) {
        self.draft.declarations += 1;
        if self.draft.declarations > MAX_DECLARATIONS {
            if self.draft.declarations == MAX_DECLARATIONS + 1 {
                self.too_many(node, MAX_DECLARATIONS, "declarations");
            }
            return;
        }
        let known = self.draft.known.get(&(stage, item.name.clone())).copied();
        if let Some(known) = known {
            let first = self.place_of(known);
            let name_node = self.name_of(node).map_or(node, |(_, at)| at);
            let name = item.name.clone();
            self.duplicate(name_node, "declaration", &name, first);
            return;
        }
        self.draft.known.insert((stage, item.name.clone()), item.at);
        self.items(stage).push(item);
    }

    fn too_many(&mut self, node: NodeId, most: usize, what: &str) {
        let place = self.place(node);
        let message = format!("expected at most {most} {what} in a plan, found more");
        self.findings.push(
            Finding::new(&rules::PLAN_TOO_LARGE, place, message)
                .help("split the plan; what comes after is not read"),
        );
    }

    fn duplicate(&mut self, node: NodeId, what: &str, name: &str, first: Place) {
        let place = self.place(node);
        self.findings.push(
            Finding::new(
                &rules::DUPLICATE_DECLARATION,
                place,
                format!("expected one {what} called `{name}`, found a second"),
            )
            .label("declared again here")
            .related(first, "first declared here")
            .help("give it another name, or change what is inherited with `tighten`, `relax` or `drop`"),
        );
    }

    /// Finds `stage.name` or `design.name` among what is declared so far.
    fn target(&mut self, node: NodeId) -> Option<(Option<usize>, usize)> {
        let tree = self.tree();
        let path = tree.child(node, NodeKind::Path)?;
        let text = tree.text_of(path).to_owned();
        let place = self.place(path);
        let found = text.split_once('.').and_then(|(stage_name, item_name)| {
            let stage = if stage_name == "design" {
                None
            } else {
                Some(*self.draft.stage_index.get(stage_name)?)
            };
            let position = self
                .items(stage)
                .iter()
                .position(|item| &*item.name == item_name)?;
            Some((stage, position))
        });
        if found.is_none() {
            let mut known: Vec<String> = self
                .draft
                .design
                .iter()
                .map(|item| format!("design.{}", item.name))
                .collect();
            for stage in &self.draft.stages {
                known.extend(
                    stage
                        .items
                        .iter()
                        .map(|item| format!("{}.{}", stage.name, item.name)),
                );
            }
            let mut finding = Finding::new(
                &rules::NO_SUCH_TARGET,
                place,
                format!(
                    "expected the STAGE.NAME of something that the extended plan declares, found `{text}`"
                ),
            );
            if let Some(name) = nearest(&text, known.iter().map(String::as_str)) {
                finding = finding
                    .help(format!("did you mean `{name}`?"))
                    .fix(format!("write {name}"), vec![(place.span, name.to_owned())]);
            }
            self.findings.push(finding);
        }
        found
    }

    /// Adds limits to those inherited: both must hold, so a plan can never loosen by tightening.
    fn tighten(&mut self, node: NodeId) {
        let Some((stage, index)) = self.target(node) else {
            return;
        };
        let below = self.below(node);
        self.refuse_wrong_kind(&below, self.kind_of(stage, index));
        let guarded = self.tightened_decide(&below);
        let item = &mut self.items(stage)[index];
        if guarded {
            item.decide = Some(Decide::Guarded);
        }
        if let Some((_, ratio)) = below.uncertainty_ratio {
            item.least_ratio = Some(item.least_ratio.map_or(ratio, |least| least.max(ratio)));
        }
        item.uncertainties.extend(below.uncertainties);
        let own = below.rationale;
        item.limits
            .extend(below.limits.into_iter().map(|at| (at, own.clone())));
        item.requires
            .extend(below.requires.into_iter().map(|at| (at, own.clone())));
        // Each line is held by itself, so one more can only make the comparison closer.
        item.compares.extend(below.compares);
        if let Some(severity) = own.severity {
            // Weights are ordered from error to pending, and none given means error: it can only grow.
            let inherited = item.rationale.severity.unwrap_or(Severity::Error);
            item.rationale.severity = Some(inherited.min(severity));
        }
    }

    fn kind_of(&self, stage: Option<usize>, index: usize) -> ItemKind {
        match stage {
            Some(stage) => self.draft.stages[stage].items[index].kind,
            None => self.draft.design[index].kind,
        }
    }

    /// A limit belongs to a reading, a requirement to a check: anything else would be lost in silence.
    fn refuse_wrong_kind(&mut self, below: &Below, kind: ItemKind) {
        self.refuse_decision(below, kind);
        let limits = below
            .limits
            .iter()
            .filter(|_| kind != ItemKind::Reading)
            .map(|at| (*at, "limit", "a reading"));
        let requires = below
            .requires
            .iter()
            .filter(|_| kind != ItemKind::Check)
            .map(|at| (*at, "require", "a check"));
        let compares = below
            .compares
            .iter()
            .filter(|_| !matches!(kind, ItemKind::Reading | ItemKind::Calc))
            .map(|at| (*at, "compare", "a reading or a calculated value"));
        for (at, word, owner) in limits.chain(requires).chain(compares).collect::<Vec<_>>() {
            let place = self.place_of(at);
            self.findings.push(
                Finding::new(
                    &rules::MISPLACED_STATEMENT,
                    place,
                    format!("expected `{word}` under {owner}, found it under something else"),
                )
                .help("a reading takes `limit` and `compare`, a calculated value `compare`, a check `require`"),
            );
        }
    }

    /// Replaces what is inherited.
    fn relax(&mut self, node: NodeId) {
        let Some((stage, index)) = self.target(node) else {
            return;
        };
        let below = self.below(node);
        self.refuse_wrong_kind(&below, self.kind_of(stage, index));
        let item = &mut self.items(stage)[index];
        let own = below.rationale;
        if !(below.limits.is_empty() && below.requires.is_empty()) {
            // The old source does not stand behind the new limit.
            item.rationale.source = None;
            item.rationale.because = None;
            item.rationale.look = Vec::new();
        }
        if !below.limits.is_empty() {
            item.limits = below
                .limits
                .into_iter()
                .map(|at| (at, own.clone()))
                .collect();
        }
        if !below.requires.is_empty() {
            item.requires = below
                .requires
                .into_iter()
                .map(|at| (at, own.clone()))
                .collect();
        }
        if !below.compares.is_empty() {
            item.compares = below.compares;
        }
        if !below.when.is_empty() {
            item.when = below.when;
        }
        if let Some((_, decide)) = below.decide {
            item.decide = Some(decide);
        }
        if let Some((_, ratio)) = below.uncertainty_ratio {
            item.uncertainty_ratio = Some(ratio);
            item.least_ratio = None;
        }
        if !below.uncertainties.is_empty() {
            item.uncertainties = below.uncertainties;
        }
        if own.severity.is_some() {
            item.rationale.severity = own.severity;
        }
    }

    fn drop_item(&mut self, node: NodeId) {
        if let Some((stage, index)) = self.target(node) {
            let item = self.items(stage).remove(index);
            self.draft.known.remove(&(stage, item.name));
        }
    }

    fn add(&mut self, node: NodeId) {
        let tree = self.tree();
        let Some(target) = tree.child(node, NodeKind::Target) else {
            return;
        };
        let stage = match tree.child(target, NodeKind::Name) {
            None => None,
            Some(name) => {
                let text = tree.text_of(name).to_owned();
                let Some(index) = self.draft.stage_index.get(text.as_str()).copied() else {
                    let place = self.place(name);
                    let mut finding = Finding::new(
                        &rules::NO_SUCH_TARGET,
                        place,
                        format!("expected a stage that the extended plan declares, found `{text}`"),
                    );
                    if let Some(known) =
                        nearest(&text, self.draft.stages.iter().map(|stage| &*stage.name))
                    {
                        finding = finding.help(format!("did you mean `{known}`?"));
                    } else {
                        finding = finding
                            .help("declare a new stage with `stage NAME \"Title\"` and `after`");
                    }
                    self.findings.push(finding);
                    return;
                };
                Some(index)
            }
        };
        for child in self.children(node) {
            if let Some(item) = self.item(child) {
                self.insert(stage, item, child);
            }
        }
    }
}

#[derive(Default)]
pub(super) struct Below {
    limits: Vec<At>,
    requires: Vec<At>,
    compares: Vec<At>,
    when: Vec<At>,
    causes: Option<At>,
    pub(super) decide: Option<(At, Decide)>,
    pub(super) uncertainty_ratio: Option<(At, f64)>,
    pub(super) uncertainties: Vec<Stated<Accuracy>>,
    independent: Option<At>,
    rationale: Rationale,
}
