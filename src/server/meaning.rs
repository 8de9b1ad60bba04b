//! What a word of a document means: the thing that it names, and where that is declared.

use super::sight::Sight;
use crate::plan::{Plan, SetSource, StageId, StageName};
use crate::register::Register;
use crate::syntax::{NodeId, NodeKind};
use crate::text::{FileId, Place, Span};

/// What kind of thing a word names.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Sort {
    Plan,
    Register,
    Stage,
    Reading,
    Log,
    Column,
    Calc,
    Check,
    Point,
    Design,
    Set,
    Member,
    Role,
    Person,
    Instrument,
    Function,
    Unit,
    Kind,
    Rule,
    Nonconformity,
    Serial,
    Lot,
}

impl Sort {
    /// The word for it.
    pub(super) fn word(self) -> &'static str {
        match self {
            Sort::Plan => "plan",
            Sort::Register => "register",
            Sort::Stage => "stage",
            Sort::Reading => "reading",
            Sort::Log => "log",
            Sort::Column => "column",
            Sort::Calc => "calculated value",
            Sort::Check => "check",
            Sort::Point => "point",
            Sort::Design => "design value",
            Sort::Set => "set",
            Sort::Member => "member of a set",
            Sort::Role => "role",
            Sort::Person => "person",
            Sort::Instrument => "instrument",
            Sort::Function => "function",
            Sort::Unit => "unit of measurement",
            Sort::Kind => "kind",
            Sort::Rule => "rule",
            Sort::Nonconformity => "nonconformity",
            Sort::Serial => "unit",
            Sort::Lot => "lot",
        }
    }
}

/// A thing with a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Meaning {
    pub sort: Sort,
    /// The stage of a reading, the log of a column; empty for what stands alone.
    pub owner: String,
    pub name: String,
    /// Where it is declared, where that is in a document.
    pub declared: Option<Place>,
}

impl Meaning {
    fn new(sort: Sort, name: &str) -> Meaning {
        Meaning {
            sort,
            owner: String::new(),
            name: name.to_owned(),
            declared: None,
        }
    }

    fn of(mut self, owner: &str) -> Meaning {
        self.owner = owner.to_owned();
        self
    }

    fn at(mut self, declared: Option<Place>) -> Meaning {
        self.declared = declared;
        self
    }
}

/// The plan against which the words of a document are read, and its document: a record's own; a plan document's own, or
/// one that extends it.
pub(super) fn plan_of<'a>(sight: &Sight<'a>) -> Option<(&'a Plan, FileId)> {
    if let Some(unit) = sight.desk.unit(sight.file) {
        return Some((unit.plan?, unit.plan_file?));
    }
    if let Some(plan) = sight.desk.plan(sight.file) {
        return Some((plan, sight.file));
    }
    let extending = sight
        .desk
        .known()
        .into_iter()
        .find(|file| sight.desk.chain(*file).contains(&sight.file))?;
    Some((sight.desk.plan(extending)?, extending))
}

/// The register against which the words of a document are read, and its document.
pub(super) fn register_of<'a>(sight: &Sight<'a>) -> Option<(&'a Register, FileId)> {
    if let Some(register) = sight.desk.register(sight.file) {
        return Some((register, sight.file));
    }
    let unit = sight.desk.unit(sight.file)?;
    Some((unit.register?, unit.register_file?))
}

/// What the word at a byte means, and where the word stands. Right behind a word that word is meant, unless another
/// begins there.
pub(super) fn at(sight: &Sight<'_>, offset: u32) -> Option<(Meaning, Span)> {
    of_node(sight, sight.node_at(offset), offset).or_else(|| {
        let (before, _) = sight.source.text[..offset as usize]
            .char_indices()
            .next_back()?;
        let found = of_node(sight, sight.node_at(before as u32), before as u32)?;
        (found.1.end == offset).then_some(found)
    })
}

/// What the word of a node means; of a path the part at `offset`.
pub(super) fn of_node(sight: &Sight<'_>, node: NodeId, offset: u32) -> Option<(Meaning, Span)> {
    let tree = sight.tree;
    let span = tree.span(node);
    let text = tree.text_of(node);
    let parent = tree.parent(node)?;
    match tree.kind(node) {
        NodeKind::UnitPart => return Some((Meaning::new(Sort::Unit, text), span)),
        NodeKind::Quantity => {
            // A quantity's unit is part of it; in an index a number is a member.
            let at = text.find(' ')?;
            let unit = Span::new(span.start + at as u32 + 1, span.end);
            let inside = offset >= unit.start && offset <= unit.end;
            return inside.then(|| (Meaning::new(Sort::Unit, sight.source.slice(unit)), unit));
        }
        NodeKind::Name | NodeKind::Path | NodeKind::TextPart | NodeKind::Member => {}
        _ => return None,
    }
    let names = Names::of(sight, node);
    let kind = tree.kind(parent);
    let mut word = span;
    let meaning = match kind {
        NodeKind::WithClause | NodeKind::Instrument => names.instrument(&identity(tree, node)?),
        NodeKind::ByClause | NodeKind::Person => names.person(text),
        NodeKind::Unit if first(sight, parent, node) => {
            Meaning::new(Sort::Serial, &identity(tree, node)?).at(Some(sight.place(span)))
        }
        NodeKind::TypeTested => Meaning::new(Sort::Serial, &identity(tree, node)?),
        NodeKind::Lot => Meaning::new(Sort::Lot, &identity(tree, node)?),
        _ if tree.kind(node) == NodeKind::TextPart => return None,
        NodeKind::PlanChoice | NodeKind::Extends => names.plan_document(text),
        NodeKind::RegisterChoice => names.register_document(text),
        NodeKind::Plan => Meaning::new(Sort::Plan, text).at(Some(sight.place(span))),
        NodeKind::Register => Meaning::new(Sort::Register, text).at(Some(sight.place(span))),
        NodeKind::StageRecord | NodeKind::StagePlan | NodeKind::After | NodeKind::Target => {
            names.stage(text)?
        }
        NodeKind::Set if tree.kind(node) == NodeKind::Name => names.set(text)?,
        NodeKind::Set => Meaning::new(Sort::Member, text),
        NodeKind::Role | NodeKind::Roles | NodeKind::Concessions => names.role(text),
        NodeKind::Hold | NodeKind::Witness | NodeKind::Review => match first(sight, parent, node) {
            true => names.point(text)?,
            false => names.role(text),
        },
        NodeKind::Release
        | NodeKind::Witnessed
        | NodeKind::Waived
        | NodeKind::Reviewed
        | NodeKind::Notified => names.point(text)?,
        NodeKind::Accept => Meaning::new(Sort::Rule, text),
        NodeKind::Nonconformity => {
            Meaning::new(Sort::Nonconformity, text).at(Some(sight.place(span)))
        }
        NodeKind::Call => Meaning::new(Sort::Function, text),
        NodeKind::Kind | NodeKind::Given | NodeKind::Measures | NodeKind::ForKinds => {
            Meaning::new(Sort::Kind, text)
        }
        NodeKind::ColumnPlan | NodeKind::Over => {
            names.column(&names.log_above(sight, node)?, text)?
        }
        NodeKind::DeclaredValue => names.item(text)?,
        NodeKind::Declared => match first(sight, parent, node) {
            true => names.item(text)?,
            false => names.set(text)?,
        },
        NodeKind::HeaderCell => names.header(sight, node, text)?,
        NodeKind::Independent => names.item(text)?,
        NodeKind::Reference
        | NodeKind::From
        | NodeKind::Against
        | NodeKind::Tighten
        | NodeKind::Relax
        | NodeKind::Drop => {
            let (meaning, part) = names.path(text, span, offset)?;
            word = part;
            meaning
        }
        NodeKind::NameList => Meaning::new(Sort::Member, text),
        _ => return None,
    };
    Some((meaning, word))
}

/// The text of a path, or of a quoted text without its quotes.
fn identity(tree: &crate::syntax::Tree, node: NodeId) -> Option<String> {
    Some(match tree.kind(node) {
        NodeKind::TextPart => tree.unquoted(node),
        NodeKind::Path | NodeKind::Name => tree.text_of(node).to_owned(),
        _ => return None,
    })
}

fn first(sight: &Sight<'_>, parent: NodeId, node: NodeId) -> bool {
    sight.tree.children(parent).next() == Some(node)
}

/// The names that are known where a word stands.
struct Names<'a> {
    plan: Option<&'a Plan>,
    plan_file: Option<FileId>,
    register: Option<&'a Register>,
    sight: Sight<'a>,
    /// The stage in which the word stands.
    stage: Option<StageId>,
    in_design: bool,
}

impl<'a> Names<'a> {
    fn of(sight: &Sight<'a>, node: NodeId) -> Names<'a> {
        let (plan, plan_file) = plan_of(sight).unzip();
        let mut names = Names {
            plan,
            plan_file,
            register: register_of(sight).map(|(register, _)| register),
            sight: *sight,
            stage: None,
            in_design: false,
        };
        let mut above = Some(node);
        while let Some(node) = above {
            let tree = sight.tree;
            let name = |node| {
                tree.child(node, NodeKind::Name)
                    .map(|name| tree.text_of(name))
            };
            match tree.kind(node) {
                NodeKind::StageRecord | NodeKind::StagePlan => names.in_stage(name(node)),
                NodeKind::Add => match tree.child(node, NodeKind::Target) {
                    Some(target) if tree.text_of(target).starts_with("stage") => {
                        names.in_stage(name(target));
                    }
                    _ => names.in_design = true,
                },
                NodeKind::Tighten | NodeKind::Relax | NodeKind::Drop => {
                    let path = tree
                        .child(node, NodeKind::Path)
                        .map(|path| tree.text_of(path));
                    names.in_stage(path.and_then(|path| path.split('.').next()));
                }
                NodeKind::Design | NodeKind::DesignPlan => names.in_design = true,
                _ => {}
            }
            above = tree.parent(node);
        }
        names
    }

    fn in_stage(&mut self, name: Option<&str>) {
        let plan = self.plan;
        self.stage = name.and_then(|name| plan?.stage_by_name.get(name).copied());
    }

    fn instrument(&self, name: &str) -> Meaning {
        let known = self
            .register
            .and_then(|register| register.instruments.get(name));
        Meaning::new(Sort::Instrument, name).at(known.map(|known| known.place))
    }

    fn person(&self, name: &str) -> Meaning {
        let known = self.register.and_then(|register| register.people.get(name));
        Meaning::new(Sort::Person, name).at(known.map(|known| known.place))
    }

    /// A plan named by a record or by a plan that extends it.
    fn plan_document(&self, name: &str) -> Meaning {
        let chain = self
            .plan_file
            .map(|plan| self.sight.desk.chain(plan))
            .unwrap_or_default();
        let declared = chain
            .into_iter()
            .find_map(|file| self.named(file, NodeKind::Plan, name));
        Meaning::new(Sort::Plan, name).at(declared)
    }

    fn register_document(&self, name: &str) -> Meaning {
        let file = register_of(&self.sight).map(|(_, file)| file);
        let declared = file.and_then(|file| self.named(file, NodeKind::Register, name));
        Meaning::new(Sort::Register, name).at(declared)
    }

    /// Where a document gives itself this name.
    fn named(&self, file: FileId, kind: NodeKind, name: &str) -> Option<Place> {
        let tree = self.sight.desk.tree(file)?;
        let statement = tree.child(tree.root(), kind)?;
        let own = tree.child(statement, NodeKind::Name)?;
        let span = tree.span(own);
        (tree.text_of(own) == name).then_some(Place { file, span })
    }

    fn stage(&self, name: &str) -> Option<Meaning> {
        let plan = self.plan?;
        let stage = &plan.stages[plan.stage_by_name.get(name)?.index()];
        Some(Meaning::new(Sort::Stage, name).at(Some(stage.place)))
    }

    fn set(&self, name: &str) -> Option<Meaning> {
        let plan = self.plan?;
        let set = &plan.sets[plan.set_by_name.get(name)?.index()];
        Some(Meaning::new(Sort::Set, name).at(Some(set.place)))
    }

    fn role(&self, name: &str) -> Meaning {
        let declared = self.plan_file.and_then(|plan| {
            let files = self.sight.desk.chain(plan);
            files
                .into_iter()
                .find_map(|file| role_in(&self.sight, file, name))
        });
        Meaning::new(Sort::Role, name).at(declared)
    }

    fn point(&self, name: &str) -> Option<Meaning> {
        let plan = self.plan?;
        let own = |point: &&crate::plan::Point| {
            &*point.name == name && self.stage.is_none_or(|stage| stage == point.stage)
        };
        let point = plan.points.iter().find(own)?;
        Some(Meaning::new(Sort::Point, name).at(Some(point.place)))
    }

    fn design(&self, name: &str) -> Option<Meaning> {
        let plan = self.plan?;
        if let Some(id) = plan.design_by_name.get(name) {
            let item = &plan.design[id.index()];
            return Some(
                Meaning::new(Sort::Design, name)
                    .of("design")
                    .at(Some(item.place)),
            );
        }
        let calc = plan
            .calcs
            .iter()
            .find(|calc| calc.stage.is_none() && &*calc.name == name);
        if let Some(calc) = calc {
            return Some(
                Meaning::new(Sort::Calc, name)
                    .of("design")
                    .at(Some(calc.place)),
            );
        }
        let check = plan
            .checks
            .iter()
            .find(|check| check.stage.is_none() && &*check.name == name)?;
        Some(
            Meaning::new(Sort::Check, name)
                .of("design")
                .at(Some(check.place)),
        )
    }

    fn in_stage_named(&self, stage: StageId, name: &str) -> Option<Meaning> {
        let plan = self.plan?;
        let stage = &plan.stages[stage.index()];
        let (sort, place) = match *stage.names.get(name)? {
            StageName::Reading(id) => (Sort::Reading, plan.readings[id.index()].place),
            StageName::Log(id) => (Sort::Log, plan.logs[id.index()].place),
            StageName::Calc(id) => (Sort::Calc, plan.calcs[id.index()].place),
            StageName::Check(id) => (Sort::Check, plan.checks[id.index()].place),
        };
        Some(Meaning::new(sort, name).of(&stage.name).at(Some(place)))
    }

    /// A name that stands alone: of the stage, of the design, a set, a member of one.
    fn item(&self, name: &str) -> Option<Meaning> {
        let of_stage = self
            .stage
            .and_then(|stage| self.in_stage_named(stage, name));
        let of_design = || self.in_design.then(|| self.design(name)).flatten();
        of_stage.or_else(of_design)
    }

    fn column(&self, log: &str, name: &str) -> Option<Meaning> {
        let plan = self.plan?;
        let own = |known: &&crate::plan::Log| {
            &*known.name == log && self.stage.is_none_or(|stage| stage == known.stage)
        };
        let log = plan.logs.iter().find(own)?;
        let mut columns = log.over.iter().chain(&log.columns);
        let column = columns.find(|column| &*column.name == name)?;
        Some(
            Meaning::new(Sort::Column, name)
                .of(&log.name)
                .at(Some(column.place)),
        )
    }

    fn log_above(&self, sight: &Sight<'_>, node: NodeId) -> Option<String> {
        let tree = sight.tree;
        let mut above = Some(node);
        while let Some(node) = above {
            if matches!(tree.kind(node), NodeKind::Log | NodeKind::LogPlan) {
                let declared = tree.children(node).find(|child| {
                    matches!(
                        tree.kind(*child),
                        NodeKind::Declared | NodeKind::DeclaredValue
                    )
                })?;
                let name = tree.child(declared, NodeKind::Name)?;
                return Some(tree.text_of(name).to_owned());
            }
            above = tree.parent(node);
        }
        None
    }

    /// A cell of a header: a column of a log, a set, a reading or design value, a member.
    fn header(&self, sight: &Sight<'_>, node: NodeId, name: &str) -> Option<Meaning> {
        if let Some(log) = self.log_above(sight, node) {
            return self.column(&log, name);
        }
        let known = self.item(name).or_else(|| self.set(name));
        Some(known.unwrap_or_else(|| Meaning::new(Sort::Member, name)))
    }

    /// One part of a path in an expression.
    fn path(&self, text: &str, span: Span, offset: u32) -> Option<(Meaning, Span)> {
        let parts: Vec<&str> = text.split('.').collect();
        let mut start = span.start;
        let mut which = 0;
        for (index, part) in parts.iter().enumerate() {
            which = index;
            if offset <= start + part.len() as u32 {
                break;
            }
            start += part.len() as u32 + 1;
        }
        let word = Span::new(start, start + parts.get(which)?.len() as u32);
        let name = parts[which];
        let stage = |name: &str| Some(*self.plan?.stage_by_name.get(name)?);
        let meaning = match (which, parts.as_slice()) {
            (0, ["design", _, ..]) => return None,
            (1, ["design", ..]) => self.design(name)?,
            (0, [only]) => {
                let known = self
                    .item(only)
                    .or_else(|| self.set(only))
                    .or_else(|| self.stage(only));
                known.unwrap_or_else(|| Meaning::new(Sort::Member, only))
            }
            (0, [head, ..]) => match self.stage(head) {
                Some(known) if self.item(head).is_none() => known,
                _ => self.item(head)?,
            },
            (1, [head, ..]) => match stage(head).filter(|_| self.item(head).is_none()) {
                Some(stage) => self
                    .in_stage_named(stage, name)
                    .or_else(|| self.point(name))?,
                None => self.column(head, name)?,
            },
            (2, [_, log, ..]) => {
                let known = self.plan?.logs.iter().any(|known| &*known.name == *log);
                known.then(|| self.column(log, name)).flatten()?
            }
            _ => return None,
        };
        Some((meaning, word))
    }
}

/// Where a plan document declares a role.
fn role_in(sight: &Sight<'_>, file: FileId, name: &str) -> Option<Place> {
    let tree = sight.desk.tree(file)?;
    let roles = tree
        .children(tree.root())
        .filter(|node| tree.kind(*node) == NodeKind::Role);
    let mut names = roles.flat_map(|node| tree.children(node));
    let own = names.find(|own| tree.text_of(*own) == name)?;
    Some(Place {
        file,
        span: tree.span(own),
    })
}

/// The design value from which the members of a set are taken, where they are.
pub(super) fn members_from(plan: &Plan, set: &str) -> Option<String> {
    let set = &plan.sets[plan.set_by_name.get(set)?.index()];
    match &set.source {
        SetSource::Design(id, _) => Some(plan.design[id.index()].name.to_string()),
        _ => None,
    }
}
