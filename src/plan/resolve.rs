//! From the draft to the plan: names are resolved, expressions typed, and everything that is wrong with
//! a plan by itself is found here, with no unit at hand.

use super::acting::PointParts;
use super::compare::Compared;
use super::draft::{At, Document, Draft, Item, ItemKind};
use super::expression::Expr;
use super::kind::{Kind, OTHER_KINDS, QUANTITY_KINDS};
use super::model::*;
use super::type_tests::TypeTests;
use super::types::Type;
use super::typing::Scope;
use crate::finding::Finding;
use crate::finding::rules;
use crate::syntax::{NodeId, NodeKind, Tree, nearest};
use crate::text::Place;
use rustc_hash::{FxHashMap, FxHashSet};
use std::sync::Arc;

/// Most sets that one declaration may be indexed by.
pub const MAX_INDICES: usize = 4;
/// Deepest chain of calculated values built on each other.
pub const MAX_CALC_DEPTH: usize = 64;

/// How far the typing of a calculated value has come.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum CalcState {
    Untouched,
    Underway,
    Done,
}

/// Works a draft into a plan.
pub struct Resolver<'a, 't> {
    pub(super) documents: &'a [Document<'t>],
    pub(super) plan: Plan,
    pub(super) findings: &'a mut Vec<Finding>,
    pub(super) calc_states: Vec<CalcState>,
    pub(super) calc_items: Vec<(At, Option<At>, Scope)>,
    pub(super) calc_exprs: Vec<Option<Expr>>,
    pub(super) calc_depth: usize,
    /// How many calculated values stand above each other below each one that is typed.
    pub(super) calc_heights: Vec<usize>,
    /// The largest of those heights that the calculated value being typed refers to.
    pub(super) highest: usize,
    /// How deep in an expression the typing stands.
    pub(super) depth: usize,
    pub(super) design_calcs: FxHashMap<Arc<str>, CalcId>,
    /// Kinds of points of which all have to be sealed.
    sealed_kinds: Vec<PointKind>,
}

/// What is still to be typed once every name is known.
#[derive(Default)]
struct Later {
    stage_whens: Vec<(StageId, At)>,
    readings: Vec<(ReadingId, Item)>,
    logs: Vec<(LogId, Item)>,
    checks: Vec<(CheckId, Item)>,
    points: Vec<(PointId, Item)>,
    calcs: Vec<(CalcId, Item)>,
}

/// Works `draft` into a plan; what is wrong goes to `findings`.
pub fn resolve(documents: &[Document<'_>], draft: Draft, findings: &mut Vec<Finding>) -> Plan {
    let mut resolver = Resolver::new(documents, findings);
    resolver.run(draft);
    resolver.plan
}

impl<'a, 't> Resolver<'a, 't> {
    fn new(documents: &'a [Document<'t>], findings: &'a mut Vec<Finding>) -> Resolver<'a, 't> {
        Resolver {
            documents,
            plan: Plan::default(),
            findings,
            calc_states: Vec::new(),
            calc_items: Vec::new(),
            calc_exprs: Vec::new(),
            calc_depth: 0,
            calc_heights: Vec::new(),
            highest: 0,
            depth: 0,
            design_calcs: FxHashMap::default(),
            sealed_kinds: Vec::new(),
        }
    }
}

impl Resolver<'_, '_> {
    pub(super) fn tree(&self, at: At) -> &Tree {
        self.documents[at.document].tree
    }

    pub(super) fn place(&self, document: usize, node: NodeId) -> Place {
        let document = &self.documents[document];
        Place {
            file: document.file,
            span: document.tree.span(node),
        }
    }

    pub(super) fn place_at(&self, at: At) -> Place {
        self.place(at.document, at.node)
    }

    /// The place of the name a declaration gives.
    pub(super) fn name_place(&self, at: At) -> Place {
        let tree = self.tree(at);
        let holder = tree.child(at.node, NodeKind::Declared).unwrap_or(at.node);
        self.place(
            at.document,
            tree.child(holder, NodeKind::Name).unwrap_or(at.node),
        )
    }

    fn run(&mut self, draft: Draft) {
        self.plan.name = draft.name.clone();
        self.plan.rev = draft.rev.clone();
        self.plan.title = draft.title.clone();
        self.plan.decide = draft.decide;
        self.plan.uncertainty_ratio = draft.uncertainty_ratio;
        self.sealed_kinds = draft.sealed.clone();
        self.plan.roles = draft.roles.clone();
        self.plan.concessions = draft.concessions.map(|at| self.concessions(at));
        let mut later = Later::default();
        for (index, (name, at)) in draft.sets.iter().enumerate() {
            self.plan
                .set_by_name
                .insert(name.clone(), SetId(index as u32));
            let place = self.name_place(*at);
            self.plan.sets.push(Set {
                name: name.clone(),
                place,
                source: SetSource::Missing,
            });
        }
        let mut design_rest = Vec::new();
        for item in draft.design {
            match item.kind {
                ItemKind::Need | ItemKind::May => self.design_item(&item),
                _ => design_rest.push(item),
            }
        }
        for (index, (_, at)) in draft.sets.iter().enumerate() {
            self.plan.sets[index].source = self.set_source(*at, index);
        }
        for (index, stage) in draft.stages.iter().enumerate() {
            self.plan
                .stage_by_name
                .insert(stage.name.clone(), StageId(index as u32));
        }
        for item in design_rest {
            self.declare(None, item, &mut later);
        }
        for (index, stage) in draft.stages.into_iter().enumerate() {
            let id = StageId(index as u32);
            let place = self.name_place(stage.at);
            let after = self.after(id, &stage.after);
            self.plan.stages.push(Stage {
                name: stage.name,
                title: stage.title,
                place,
                after,
                before: Vec::new(),
                when: None,
                caution: stage.caution,
                readings: Vec::new(),
                logs: Vec::new(),
                checks: Vec::new(),
                points: Vec::new(),
                names: FxHashMap::default(),
            });
            if let Some(at) = stage.when {
                later.stage_whens.push((id, at));
            }
            for item in stage.items {
                self.declare(Some(id), item, &mut later);
            }
        }
        self.order_stages();
        self.type_everything(later);
        self.plan.type_tests = TypeTests::of(&self.plan);
        super::soundness::check(self);
    }

    fn after(&mut self, id: StageId, names: &[(Arc<str>, At)]) -> Vec<StageId> {
        if names.is_empty() {
            return if id.0 == 0 {
                Vec::new()
            } else {
                vec![StageId(id.0 - 1)]
            };
        }
        // A stage that needs no other first says so: work on core and windings runs side by side.
        if let [(only, _)] = names
            && &**only == "nothing"
            && !self.plan.stage_by_name.contains_key(only)
        {
            return Vec::new();
        }
        let mut after = Vec::new();
        for (name, at) in names {
            match self.plan.stage_by_name.get(name) {
                Some(stage) => after.push(*stage),
                None => {
                    let known: Vec<Arc<str>> = self.plan.stage_by_name.keys().cloned().collect();
                    let place = self.place_at(*at);
                    self.unknown_name(
                        place,
                        "a stage of this plan",
                        name,
                        known.iter().map(|name| &**name),
                    );
                }
            }
        }
        after
    }

    /// Fills in which stages come before which, and reports a ring.
    fn order_stages(&mut self) {
        let count = self.plan.stages.len();
        let mut before: Vec<Vec<bool>> = vec![vec![false; count]; count];
        for (index, stage) in self.plan.stages.iter().enumerate() {
            for earlier in &stage.after {
                before[index][earlier.index()] = true;
            }
        }
        for through in 0..count {
            let row = before[through].clone();
            for line in &mut before {
                if line[through] {
                    for (cell, reached) in line.iter_mut().zip(&row) {
                        *cell |= *reached;
                    }
                }
            }
        }
        for (index, row) in before.iter().enumerate() {
            if row[index] {
                let stage = &self.plan.stages[index];
                let finding = Finding::new(
                    &rules::STAGE_CYCLE,
                    stage.place,
                    format!(
                        "expected the stages to have an order, found that `{}` comes after itself",
                        stage.name
                    ),
                )
                .help("look at its `after` line and at those of the stages that it names");
                self.findings.push(finding);
                continue;
            }
            let stage = &mut self.plan.stages[index];
            stage.before = (0..count)
                .filter(|earlier| row[*earlier])
                .map(|earlier| StageId(earlier as u32))
                .collect();
        }
    }

    fn set_source(&mut self, at: At, set: usize) -> SetSource {
        let tree = self.tree(at);
        let name = self.plan.sets[set].name.clone();
        if let Some(from) = tree.child(at.node, NodeKind::From) {
            let path = tree.child(from, NodeKind::Path);
            let text = path.map(|path| tree.text_of(path)).unwrap_or("").to_owned();
            let place = self.place(at.document, path.unwrap_or(from));
            let Some(wanted) = text.strip_prefix("design.") else {
                self.findings.push(
                    Finding::new(
                        &rules::SET_WITHOUT_SOURCE,
                        place,
                        format!("expected `set {name} from design.NAME`, found `{text}`"),
                    )
                    .help("name a design value of kind `names` or `positions`"),
                );
                return SetSource::Missing;
            };
            let Some(id) = self.plan.design_by_name.get(wanted).copied() else {
                let known: Vec<Arc<str>> = self
                    .plan
                    .design
                    .iter()
                    .filter(|item| matches!(item.kind, Kind::Names | Kind::Positions))
                    .map(|item| item.name.clone())
                    .collect();
                let mut finding = Finding::new(
                    &rules::SET_WITHOUT_SOURCE,
                    place,
                    format!(
                        "expected a design value that gives the members of `{name}`, found no `{text}`"
                    ),
                );
                finding = match nearest(wanted, known.iter().map(|name| &**name)) {
                    Some(name) => finding.help(format!("did you mean `design.{name}`?")),
                    None => finding.help(format!("declare it: need {wanted} : names")),
                };
                self.findings.push(finding);
                return SetSource::Missing;
            };
            let item = &self.plan.design[id.index()];
            return match item.kind {
                Kind::Names => SetSource::Design(id, false),
                Kind::Positions => SetSource::Design(id, true),
                _ => {
                    let finding = Finding::new(
                        &rules::SET_WITHOUT_SOURCE,
                        place,
                        format!(
                            "expected a design value of kind `names` or `positions` to give the members of `{name}`, found `{text}` of kind `{}`",
                            item.kind.name()
                        ),
                    )
                    .related(item.place, "declared here");
                    self.findings.push(finding);
                    SetSource::Missing
                }
            };
        }
        let mut members = Vec::new();
        let mut known: FxHashSet<Member> = FxHashSet::default();
        let mut numbers = 0;
        let nodes: Vec<NodeId> = tree
            .children(at.node)
            .filter(|child| tree.kind(*child) == NodeKind::Member)
            .collect();
        for node in nodes {
            let text = self.tree(at).text_of(node).to_owned();
            let member = match text.parse::<i64>() {
                Ok(number) => {
                    numbers += 1;
                    Member::Number(number)
                }
                Err(_) => Member::Name(text.as_str().into()),
            };
            if !known.insert(member.clone()) {
                let place = self.place(at.document, node);
                self.findings.push(Finding::new(
                    &rules::DUPLICATE_DECLARATION,
                    place,
                    format!("expected each member of `{name}` once, found `{text}` again"),
                ));
                continue;
            }
            members.push(member);
        }
        if members.is_empty() {
            let place = self.place_at(at);
            self.findings.push(
                Finding::new(
                    &rules::SET_WITHOUT_SOURCE,
                    place,
                    format!(
                        "expected `set {name} = MEMBERS` or `set {name} from design.NAME`, found neither"
                    ),
                )
                .help("write the members, or the design value that gives them"),
            );
            return SetSource::Missing;
        }
        if numbers > 0 && numbers < members.len() {
            // Mixed members: all are names.
            for member in &mut members {
                if let Member::Number(number) = member {
                    *member = Member::Name(number.to_string().into());
                }
            }
        }
        SetSource::Members(members)
    }

    fn indices(&mut self, at: At) -> Vec<SetId> {
        let tree = self.tree(at);
        let Some(declared) = tree.child(at.node, NodeKind::Declared) else {
            return Vec::new();
        };
        let names: Vec<NodeId> = tree
            .children(declared)
            .filter(|child| tree.kind(*child) == NodeKind::Name)
            .skip(1)
            .collect();
        let mut indices = Vec::new();
        for node in names {
            let text = self.tree(at).text_of(node).to_owned();
            match self.plan.set_by_name.get(text.as_str()).copied() {
                Some(set) if indices.len() < MAX_INDICES => indices.push(set),
                Some(_) => {
                    let place = self.place(at.document, node);
                    self.findings.push(Finding::new(
                        &rules::INDEX_COUNT,
                        place,
                        format!("expected at most {MAX_INDICES} indices, found more"),
                    ));
                }
                None => {
                    let known: Vec<Arc<str>> =
                        self.plan.sets.iter().map(|set| set.name.clone()).collect();
                    let place = self.place(at.document, node);
                    self.unknown_name(
                        place,
                        "a set of this plan",
                        &text,
                        known.iter().map(|name| &**name),
                    );
                }
            }
        }
        indices
    }

    fn kind(&mut self, at: At) -> Kind {
        let tree = self.tree(at);
        match tree.child(at.node, NodeKind::Kind) {
            Some(kind) => self.kind_node(at.document, kind),
            None => Kind::Text,
        }
    }

    pub(super) fn kind_node(&mut self, document: usize, node: NodeId) -> Kind {
        let tree = self.documents[document].tree;
        let mut names = tree
            .children(node)
            .filter(|child| tree.kind(*child) == NodeKind::Name);
        let Some(name) = names.next() else {
            return Kind::Text;
        };
        let choices: Vec<Arc<str>> = names.map(|choice| tree.text_of(choice).into()).collect();
        self.kind_named(document, name, choices)
    }

    fn kind_named(&mut self, document: usize, node: NodeId, choices: Vec<Arc<str>>) -> Kind {
        let text = self.documents[document].tree.text_of(node).to_owned();
        let place = self.place(document, node);
        let given_choices = !choices.is_empty();
        match Kind::find(&text, choices) {
            Some(kind) => {
                let needs = matches!(kind, Kind::Choice(_));
                if needs != given_choices {
                    let message = if needs {
                        "expected the names to choose from, found none".to_owned()
                    } else {
                        format!(
                            "expected names to choose from only after `choice`, found them after `{text}`"
                        )
                    };
                    let finding = Finding::new(&rules::WRONG_KIND, place, message)
                        .help("write: choice(intact, damaged)");
                    self.findings.push(finding);
                }
                kind
            }
            None => {
                let known = QUANTITY_KINDS
                    .iter()
                    .map(|kind| kind.name)
                    .chain(OTHER_KINDS.iter().copied());
                self.unknown_name(place, "a kind such as length or voltage", &text, known);
                Kind::Text
            }
        }
    }

    fn given(&mut self, at: At) -> Vec<Kind> {
        let tree = self.tree(at);
        let Some(kind) = tree.child(at.node, NodeKind::Kind) else {
            return Vec::new();
        };
        let Some(given) = tree.child(kind, NodeKind::Given) else {
            return Vec::new();
        };
        let nodes: Vec<NodeId> = tree.children(given).collect();
        nodes
            .into_iter()
            .map(|node| self.kind_named(at.document, node, Vec::new()))
            .collect()
    }

    fn design_item(&mut self, item: &Item) {
        let indices = self.indices(item.at);
        let kind = self.kind(item.at);
        let id = DesignId(self.plan.design.len() as u32);
        let place = self.name_place(item.at);
        self.plan.design_by_name.insert(item.name.clone(), id);
        self.plan.design.push(DesignItem {
            name: item.name.clone(),
            place,
            indices,
            kind,
            required: item.kind == ItemKind::Need,
        });
    }

    fn declare(&mut self, stage: Option<StageId>, item: Item, later: &mut Later) {
        let place = self.name_place(item.at);
        let name = item.name.clone();
        match (item.kind, stage) {
            (ItemKind::Reading, Some(stage)) => {
                let indices = self.indices(item.at);
                let kind = self.kind(item.at);
                let given = self.given(item.at);
                let id = ReadingId(self.plan.readings.len() as u32);
                self.plan.readings.push(Reading {
                    name: name.clone(),
                    stage,
                    place,
                    indices,
                    kind,
                    given,
                    limits: Vec::new(),
                    when: None,
                    rationale: item.rationale.clone(),
                    decide: item.decide,
                    uncertainty_ratio: item.ratio(self.plan.uncertainty_ratio),
                    uncertainties: Vec::new(),
                    independent_of: Vec::new(),
                });
                let stage = &mut self.plan.stages[stage.index()];
                stage.readings.push(id);
                stage.names.insert(name, StageName::Reading(id));
                later.readings.push((id, item));
            }
            (ItemKind::Log, Some(stage)) => {
                let tree = self.tree(item.at);
                let title = tree
                    .child(item.at.node, NodeKind::TextPart)
                    .map_or_else(|| name.clone(), |text| tree.unquoted(text).into());
                let columns: Vec<NodeId> = tree
                    .children(item.at.node)
                    .filter(|child| tree.kind(*child) == NodeKind::ColumnPlan)
                    .collect();
                let over = self.over(item.at);
                let axis = over.as_ref().map_or("time", |axis| &axis.name);
                let columns = columns
                    .into_iter()
                    .filter_map(|node| self.column(item.at.document, node, axis))
                    .collect();
                let indices = self.indices(item.at);
                let id = LogId(self.plan.logs.len() as u32);
                self.plan.logs.push(Log {
                    name: name.clone(),
                    title,
                    stage,
                    place,
                    indices,
                    over,
                    columns,
                    when: None,
                });
                let stage = &mut self.plan.stages[stage.index()];
                stage.logs.push(id);
                stage.names.insert(name, StageName::Log(id));
                later.logs.push((id, item));
            }
            (ItemKind::Calc, stage) => {
                let indices = self.indices(item.at);
                let id = CalcId(self.plan.calcs.len() as u32);
                let scope = Scope {
                    stage,
                    variables: indices.clone(),
                };
                self.calc_items
                    .push((item.at, item.when.first().copied(), scope));
                self.calc_states.push(CalcState::Untouched);
                self.calc_exprs.push(None);
                self.calc_heights.push(0);
                self.plan.calcs.push(Calc {
                    name: name.clone(),
                    stage,
                    place,
                    indices,
                    expr: super::typing::wrong(place),
                    when: None,
                });
                match stage {
                    Some(stage) => {
                        self.plan.stages[stage.index()]
                            .names
                            .insert(name, StageName::Calc(id));
                    }
                    None => {
                        self.design_calcs.insert(name, id);
                    }
                }
                later.calcs.push((id, item));
            }
            (ItemKind::Check, stage) => {
                let indices = self.indices(item.at);
                let tree = self.tree(item.at);
                let title = tree
                    .child(item.at.node, NodeKind::TextPart)
                    .map_or_else(|| name.clone(), |text| tree.unquoted(text).into());
                let id = CheckId(self.plan.checks.len() as u32);
                self.plan.checks.push(Check {
                    name: name.clone(),
                    title,
                    stage,
                    place,
                    indices,
                    requires: Vec::new(),
                    when: None,
                    rationale: item.rationale.clone(),
                    causes: None,
                    decide: item.decide,
                    uncertainty_ratio: item.ratio(self.plan.uncertainty_ratio),
                });
                if let Some(stage) = stage {
                    let stage = &mut self.plan.stages[stage.index()];
                    stage.checks.push(id);
                    stage.names.insert(name, StageName::Check(id));
                }
                later.checks.push((id, item));
            }
            (ItemKind::Point(kind), Some(stage)) => {
                let PointParts {
                    title,
                    roles,
                    other_than_measurer,
                    notice,
                } = self.point_parts(&item);
                let Rationale {
                    because, caution, ..
                } = item.rationale.clone();
                let asked = self.tree(item.at).child(item.at.node, NodeKind::Sealed);
                let sealed = asked.is_some() || self.sealed_kinds.contains(&kind);
                let id = PointId(self.plan.points.len() as u32);
                self.plan.points.push(Point {
                    name,
                    title,
                    stage,
                    place,
                    kind,
                    roles,
                    other_than_measurer,
                    notice,
                    sealed,
                    when: None,
                    because,
                    caution,
                });
                self.plan.stages[stage.index()].points.push(id);
                later.points.push((id, item));
            }
            _ => {}
        }
    }

    fn type_everything(&mut self, later: Later) {
        for index in 0..self.plan.calcs.len() {
            self.calc_type(CalcId(index as u32));
        }
        for index in 0..self.plan.calcs.len() {
            if let Some(expr) = self.calc_exprs[index].take() {
                self.plan.calcs[index].expr = expr;
            }
        }
        for (id, item) in later.calcs {
            let scope = self.calc_items[id.index()].2.clone();
            self.plan.calcs[id.index()].when = self.when(&item.when, &scope);
            let ty = self.plan.calcs[id.index()].expr.ty.clone();
            self.compares(Compared::Calc(id), &ty, &item);
        }
        for (id, at) in later.stage_whens {
            let scope = Scope {
                stage: Some(id),
                variables: Vec::new(),
            };
            self.plan.stages[id.index()].when = self.when(&[at], &scope);
        }
        for (id, item) in later.readings {
            let reading = &self.plan.readings[id.index()];
            let scope = Scope {
                stage: Some(reading.stage),
                variables: reading.indices.clone(),
            };
            let ty = reading.kind.value_type();
            let when = self.when(&item.when, &scope);
            self.compares(Compared::Reading(id), &ty, &item);
            let uncertainties = self.uncertainties(id, item.uncertainties);
            let limits = item
                .limits
                .into_iter()
                .filter_map(|(at, rationale)| {
                    let form = self.limit(at, &scope, &ty)?;
                    Some(Limit {
                        form,
                        place: self.place_at(at),
                        rationale,
                    })
                })
                .collect();
            let independent_of = match item.independent {
                Some(at) => self.independent_of(id, at),
                None => Vec::new(),
            };
            let reading = &mut self.plan.readings[id.index()];
            reading.when = when;
            reading.independent_of = independent_of;
            reading.limits = limits;
            reading.uncertainties = uncertainties;
        }
        for (id, item) in later.logs {
            let log = &self.plan.logs[id.index()];
            let scope = Scope {
                stage: Some(log.stage),
                variables: log.indices.clone(),
            };
            self.plan.logs[id.index()].when = self.when(&item.when, &scope);
        }
        for (id, item) in later.checks {
            let check = &self.plan.checks[id.index()];
            let scope = Scope {
                stage: check.stage,
                variables: check.indices.clone(),
            };
            let when = self.when(&item.when, &scope);
            let requires = item
                .requires
                .into_iter()
                .filter_map(|(at, rationale)| {
                    let expr = self.truth(at, &scope)?;
                    Some(Require {
                        expr,
                        place: self.place_at(at),
                        rationale,
                    })
                })
                .collect();
            let causes = item.causes.and_then(|at| self.analysis(at, &scope));
            let check = &mut self.plan.checks[id.index()];
            check.when = when;
            check.requires = requires;
            check.causes = causes;
        }
        for (id, item) in later.points {
            let scope = Scope {
                stage: Some(self.plan.points[id.index()].stage),
                variables: Vec::new(),
            };
            self.plan.points[id.index()].when = self.when(&item.when, &scope);
        }
    }

    /// Several `when` lines must all hold.
    fn when(&mut self, at: &[At], scope: &Scope) -> Option<Expr> {
        let mut all: Option<Expr> = None;
        for at in at {
            let Some(expr) = self.truth(*at, scope) else {
                continue;
            };
            self.expect_one(&expr);
            all = Some(match all {
                None => expr,
                Some(before) => {
                    let place = expr.place;
                    let node =
                        super::expression::ExprNode::Logic(true, Box::new(before), Box::new(expr));
                    Expr {
                        node,
                        place,
                        ty: Type::Truth,
                    }
                }
            });
        }
        all
    }

    /// Reports a name that is not known, with the nearest one that is.
    pub(super) fn unknown_name<'n>(
        &mut self,
        place: Place,
        expected: &str,
        found: &str,
        known: impl IntoIterator<Item = &'n str>,
    ) {
        let mut finding = Finding::new(
            &rules::UNKNOWN_NAME,
            place,
            format!("expected {expected}, found `{found}`"),
        );
        // `found` may be a path: only its last part is replaced.
        if let Some(name) = nearest(found, known) {
            finding = finding
                .help(format!("did you mean `{name}`?"))
                .fix(format!("write {name}"), vec![(place.span, name.to_owned())]);
        }
        self.findings.push(finding);
    }
}

/// Types one expression that stands alone.
pub fn type_alone(document: Document<'_>, findings: &mut Vec<Finding>) -> Option<Expr> {
    let documents = [document];
    let mut resolver = Resolver::new(&documents, findings);
    let tree = document.tree;
    let line = tree.children(tree.root()).next()?;
    let node = tree.children(line).next()?;
    let before = resolver.findings.len();
    let expr = resolver.expr(0, node, &Scope::default());
    let faulty = resolver.findings[before..]
        .iter()
        .any(|finding| finding.severity == crate::finding::Severity::Error);
    (!faulty && expr.ty != Type::Unknown).then_some(expr)
}
