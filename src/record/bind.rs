//! Binding: each statement of a unit document to what the plan declares.

use super::model::*;
use super::values::{ValueReader, Wanted};
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::kind::{Kind, with_article};
use crate::plan::value::Value;
use crate::plan::*;
use crate::quantity::moment::{Clock, Zone};
use crate::register::identity;
use crate::syntax::{NodeId, NodeKind, Tree, nearest};
use crate::text::{FileId, Place};
use rustc_hash::{FxHashMap, FxHashSet};

/// Binds a unit document to its plan.
pub fn bind(tree: &Tree, file: FileId, header: Header, plan: &Plan, files: &dyn Files) -> Bound {
    let mut findings = Vec::new();
    let zone = zone(&header, file, &mut findings);
    let record = Record {
        header,
        design: plan.design.iter().map(|_| Box::default()).collect(),
        stages: plan.stages.iter().map(|_| Vec::new()).collect(),
        contexts: vec![Context::default()],
        ..Record::default()
    };
    let mut binder = Binder::new(tree, file, zone, plan, files, record, &mut findings);
    binder.domains();
    if binder.can_be_judged {
        binder.designs();
        binder.record.of_design = OfDesign {
            entries: binder.record.entries.len(),
            contexts: binder.record.contexts.len(),
        };
        for statement in tree.children(tree.root()) {
            match tree.kind(statement) {
                NodeKind::StageRecord => binder.stage(statement),
                NodeKind::Nonconformity => binder.nonconformity(statement),
                _ => {}
            }
        }
    }
    let Binder {
        record,
        can_be_judged,
        ..
    } = binder;
    Bound {
        record,
        findings,
        can_be_judged,
    }
}

pub(super) fn zone(header: &Header, file: FileId, findings: &mut Vec<Finding>) -> Zone {
    let Some((text, span)) = &header.zone else {
        return Zone::utc();
    };
    Zone::parse(text).unwrap_or_else(|message| {
        findings.push(
            Finding::new(
                &rules::IMPOSSIBLE_ZONE,
                Place { file, span: *span },
                message,
            )
            .help("times are read as UTC until the zone is known"),
        );
        Zone::utc()
    })
}

pub(super) struct Binder<'a> {
    pub plan: &'a Plan,
    pub files: &'a dyn Files,
    pub values: ValueReader<'a>,
    pub record: Record,
    pub can_be_judged: bool,
    /// Sets without members that have been told of.
    pub empty_sets: FxHashSet<SetId>,
    /// Where the design values stand that give the members of sets.
    pub source_places: FxHashMap<DesignId, Place>,
    /// The line being read leaves a reading behind that names its context.
    pub leaves_reading: bool,
    /// Something was put where an entry stands that is put aside for the time (`patch.rs`).
    pub collided: bool,
}

/// Something with slots: a reading or a design value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Slotted {
    Reading(ReadingId),
    Design(DesignId),
}

/// Where slots of the stage being read live.
pub(super) struct StageWork {
    pub stage: StageId,
    pub round: Round,
}

impl<'a> Binder<'a> {
    /// A binder that puts what it reads into a record. Times are read in `zone`.
    pub(super) fn new(
        tree: &'a Tree,
        file: FileId,
        zone: Zone,
        plan: &'a Plan,
        files: &'a dyn Files,
        record: Record,
        findings: &'a mut Vec<Finding>,
    ) -> Binder<'a> {
        Binder {
            plan,
            files,
            values: ValueReader {
                tree,
                file,
                findings,
                clock: Clock::new(zone),
                last_unit: None,
            },
            record,
            can_be_judged: true,
            empty_sets: FxHashSet::default(),
            source_places: FxHashMap::default(),
            leaves_reading: false,
            collided: false,
        }
    }

    pub(super) fn tree(&self) -> &'a Tree {
        self.values.tree
    }

    pub(super) fn place(&self, node: NodeId) -> Place {
        self.values.place(node)
    }

    pub(super) fn report(&mut self, finding: Finding) {
        self.values.report(finding);
    }

    pub(super) fn indices(&self, item: Slotted) -> &'a [SetId] {
        match item {
            Slotted::Reading(id) => &self.plan.readings[id.index()].indices,
            Slotted::Design(id) => &self.plan.design[id.index()].indices,
        }
    }

    pub(super) fn name(&self, item: Slotted) -> &'a str {
        match item {
            Slotted::Reading(id) => &self.plan.readings[id.index()].name,
            Slotted::Design(id) => &self.plan.design[id.index()].name,
        }
    }

    pub(super) fn wanted(&self, item: Slotted) -> Wanted<'a> {
        match item {
            Slotted::Reading(id) => {
                let reading = &self.plan.readings[id.index()];
                Wanted {
                    kind: &reading.kind,
                    declared: reading.place,
                    unit: None,
                    tolerances: false,
                }
            }
            Slotted::Design(id) => {
                let item = &self.plan.design[id.index()];
                Wanted {
                    kind: &item.kind,
                    declared: item.place,
                    unit: None,
                    tolerances: true,
                }
            }
        }
    }

    /// The name and the value of an assignment.
    pub(super) fn assignment(&self, line: NodeId) -> Option<(&'a str, NodeId)> {
        let tree = self.tree();
        let declared = tree.child(line, NodeKind::DeclaredValue)?;
        let name = tree.child(declared, NodeKind::Name)?;
        let value = tree
            .children(line)
            .find(|child| is_value(tree.kind(*child)))?;
        Some((tree.text_of(name), value))
    }

    fn designs(&mut self) {
        let blocks = self.design_blocks();
        let tree = self.tree();
        for (index, block) in blocks.iter().enumerate() {
            // A later revision overrides what an earlier one says; twice in one block is a mistake.
            let first_entry = self.record.entries.len() as u32;
            if index + 1 == blocks.len() {
                self.record.design_place = Some(self.place(*block));
            }
            let context = self.clauses(*block, 0);
            for line in tree.children(*block) {
                match tree.kind(line) {
                    NodeKind::DesignValue => self.design_value(line, context, first_entry),
                    NodeKind::Table => self.table(line, None, context, (0, 0), first_entry),
                    NodeKind::Attach => self.attachment(line),
                    _ => {}
                }
            }
        }
    }

    fn design_value(&mut self, line: NodeId, context: u32, first_entry: u32) {
        let tree = self.tree();
        let Some((name, value)) = self.assignment(line) else {
            return;
        };
        let Some(declared) = tree.child(line, NodeKind::DeclaredValue) else {
            return;
        };
        let Some(id) = self.plan.design_by_name.get(name).copied() else {
            self.unknown_design(declared, name);
            return;
        };
        let item = Slotted::Design(id);
        let Some(slot) = self.written_slot(declared, item) else {
            return;
        };
        let recorded = self.values.value(value, self.wanted(item));
        let place = self.place(value);
        let conditions = self.conditions(line, &[]);
        let entry = Entry {
            value: recorded,
            place,
            context,
            conditions,
            unit: None,
            amended: None,
        };
        self.put(None, item, slot, entry, first_entry);
    }

    pub(super) fn unknown_design(&mut self, at: NodeId, name: &str) {
        let node = self.tree().child(at, NodeKind::Name).unwrap_or(at);
        let known = self.plan.design.iter().map(|item| &*item.name);
        self.unknown(node, "a design value that the plan declares", name, known);
    }

    pub(super) fn unknown<'n>(
        &mut self,
        node: NodeId,
        expected: &str,
        found: &str,
        known: impl IntoIterator<Item = &'n str>,
    ) {
        let place = self.place(node);
        let mut finding = Finding::new(
            &rules::UNKNOWN_NAME,
            place,
            format!("expected {expected}, found `{found}`"),
        );
        if let Some(name) = nearest(found, known) {
            finding = finding
                .help(format!("did you mean `{name}`?"))
                .fix(format!("write {name}"), vec![(place.span, name.to_owned())]);
        }
        self.report(finding);
    }

    /// The slot that `name[index, …]` names.
    pub(super) fn written_slot(&mut self, declared: NodeId, item: Slotted) -> Option<usize> {
        let declared_at = self.wanted(item).declared;
        self.slot_among(declared, self.name(item), self.indices(item), declared_at)
    }

    /// The slot that the index behind `name` means among the members of `indices`.
    pub(super) fn slot_among(
        &mut self,
        declared: NodeId,
        name: &str,
        indices: &[SetId],
        declared_at: Place,
    ) -> Option<usize> {
        let tree = self.tree();
        let parts: Vec<NodeId> = tree
            .child(declared, NodeKind::Index)
            .map(|index| tree.children(index).collect())
            .unwrap_or_default();
        if parts.len() != indices.len() {
            let names: Vec<&str> = indices
                .iter()
                .map(|set| &*self.plan.sets[set.index()].name)
                .collect();
            let shown = if names.is_empty() {
                "no index".to_owned()
            } else {
                format!("[{}]", names.join(", "))
            };
            let finding = Finding::new(
                &rules::INDEX_COUNT,
                self.place(declared),
                format!(
                    "expected {shown} behind `{name}`, found {} indices",
                    parts.len()
                ),
            )
            .related(declared_at, "declared here");
            self.report(finding);
            return None;
        }
        let mut members = Vec::with_capacity(parts.len());
        for (part, set) in parts.iter().zip(indices) {
            members.push(self.member(*part, *set)?);
        }
        Some(slot(&self.record.domains, indices, &members))
    }

    /// The position of a written member in its set.
    pub(super) fn member(&mut self, node: NodeId, set: SetId) -> Option<u32> {
        let text = self.tree().text_of(node);
        if let Some(member) = self.record.domains[set.index()].lookup.get(text) {
            return Some(*member);
        }
        let domain = &self.record.domains[set.index()];
        if domain.members.is_empty() && !self.empty_sets.insert(set) {
            // A set without members is told of once; every row of the record would repeat it.
            return None;
        }
        let set = &self.plan.sets[set.index()];
        let names: Vec<String> = domain.members.iter().map(Member::to_string).collect();
        let listed = match names.len() {
            0 => "none is known yet: the design does not give them".to_owned(),
            1..=12 => names.join(", "),
            _ => format!("{} to {}", names[0], names[names.len() - 1]),
        };
        let place = self.place(node);
        let mut finding = Finding::new(
            &rules::UNKNOWN_MEMBER,
            place,
            format!(
                "expected a member of `{}` ({listed}), found `{text}`",
                set.name
            ),
        )
        .related(set.place, "the set is declared here");
        if let Some(near) = nearest(text, names.iter().map(String::as_str)) {
            // No fix: which phase or tapping was meant is for the person who read the instrument to say.
            finding = finding.help(format!("did you mean `{near}`?"));
        }
        self.report(finding);
        None
    }

    /// Puts an entry into its slot; reports a second one. Entries before `first_entry` may be overridden.
    pub(super) fn put(
        &mut self,
        work: Option<&mut StageWork>,
        item: Slotted,
        slot: usize,
        entry: Entry,
        first_entry: u32,
    ) {
        let count = slots(&self.record.domains, self.indices(item));
        let empty = || vec![EMPTY; count].into_boxed_slice();
        let row = match (item, work) {
            (Slotted::Design(id), _) => {
                let row = &mut self.record.design[id.index()];
                if row.is_empty() {
                    *row = empty();
                }
                row
            }
            (Slotted::Reading(id), Some(work)) => {
                work.round.readings.entry(id).or_insert_with(empty)
            }
            (Slotted::Reading(_), None) => return,
        };
        let Some(cell) = row.get_mut(slot) else {
            return;
        };
        let known = *cell;
        if known != EMPTY && known >= first_entry {
            let Some(first) = self.record.entries.get(known as usize) else {
                self.collided = true;
                return;
            };
            if !matches!(first.value, Recorded::Pending) {
                let name = format!(
                    "{}{}",
                    self.name(item),
                    index_text(&self.record.domains, self.indices(item), slot)
                );
                let finding = Finding::new(
                    &rules::DUPLICATE_READING,
                    entry.place,
                    format!("expected one value for `{name}`, found a second"),
                )
                .label("recorded again here")
                .related(first.place, "first recorded here")
                .help("a correction is an amendment, which keeps the old value: amend NAME[INDEX] = NEW was OLD by … on … because \"…\"");
                self.report(finding);
                return;
            }
        }
        *cell = self.record.entries.len() as u32;
        self.record.entries.push(entry);
    }

    fn stage(&mut self, node: NodeId) {
        let tree = self.tree();
        let Some((name_node, number)) = tree.stage_and_round(node) else {
            return;
        };
        let name = tree.text_of(name_node);
        let Some(stage) = self.plan.stage_by_name.get(name).copied() else {
            let known = self.plan.stages.iter().map(|stage| &*stage.name);
            self.unknown(name_node, "a stage of the plan", name, known);
            return;
        };
        let existing = self.record.stages[stage.index()]
            .iter()
            .position(|round| round.number == number);
        // A stage may be written in several pieces: they are one round.
        let round = match existing {
            Some(index) => self.record.stages[stage.index()].remove(index),
            None => Round {
                number,
                place: self.place(node),
                readings: FxHashMap::default(),
                logs: FxHashMap::default(),
                acts: Vec::new(),
                notices: Vec::new(),
                amendments: Vec::new(),
                work: Vec::new(),
                scopes: Vec::new(),
            },
        };
        let mut work = StageWork { stage, round };
        let mut context = 0;
        // Conditions that hold for what follows in the stage.
        let mut inherited = (0, 0);
        for line in tree.children(node) {
            match tree.kind(line) {
                NodeKind::Context => {
                    context = self.clauses(line, 0);
                    inherited = self.conditions(line, &[]);
                    work.round.scopes.push(Scope {
                        place: self.place(line),
                        of_table: false,
                        context,
                        conditions: inherited,
                    });
                }
                NodeKind::Reading => self.reading(line, &mut work, context, inherited),
                NodeKind::Table => {
                    let inner = self.clauses(line, context);
                    self.table(line, Some(&mut work), inner, inherited, 0);
                }
                NodeKind::Log => {
                    let inner = self.clauses(line, context);
                    self.log(line, &mut work, inner);
                }
                NodeKind::Attach => self.attachment(line),
                NodeKind::Release
                | NodeKind::Witnessed
                | NodeKind::Waived
                | NodeKind::Reviewed
                | NodeKind::Notified => self.act(line, &mut work),
                NodeKind::Amend => self.amend(line, &mut work),
                _ => {}
            }
        }
        let rounds = &mut self.record.stages[stage.index()];
        let at = rounds.partition_point(|round| round.number < number);
        rounds.insert(at, work.round);
    }

    pub(super) fn reading(
        &mut self,
        line: NodeId,
        work: &mut StageWork,
        context: u32,
        inherited: (u32, u32),
    ) {
        let tree = self.tree();
        let Some(declared) = tree.child(line, NodeKind::DeclaredValue) else {
            return;
        };
        let Some(item) = self.stage_reading(declared, work.stage) else {
            return;
        };
        let Some(value) = tree
            .children(line)
            .find(|child| is_value(tree.kind(*child)))
        else {
            return;
        };
        let Some(slot) = self.written_slot(declared, item) else {
            return;
        };
        let recorded = self.values.value(value, self.wanted(item));
        let place = self.place(value);
        let given = self.given(item);
        let own = self.conditions(line, given);
        let conditions = self.completed(own, inherited);
        self.leaves_reading = true;
        let context = self.clauses(line, context);
        self.leaves_reading = false;
        for child in tree
            .children(line)
            .filter(|child| tree.kind(*child) == NodeKind::Attach)
        {
            self.attachment(child);
        }
        self.mark_work(work, context, place, &recorded);
        let entry = Entry {
            value: recorded,
            place,
            context,
            conditions,
            unit: None,
            amended: None,
        };
        self.put(Some(work), item, slot, entry, 0);
    }

    pub(super) fn given(&self, item: Slotted) -> &'a [Kind] {
        match item {
            Slotted::Reading(id) => &self.plan.readings[id.index()].given,
            Slotted::Design(_) => &[],
        }
    }

    /// The reading of this stage that a name means.
    pub(super) fn stage_reading(&mut self, declared: NodeId, stage: StageId) -> Option<Slotted> {
        let tree = self.tree();
        let name_node = tree.child(declared, NodeKind::Name)?;
        let name = tree.text_of(name_node);
        let stage = &self.plan.stages[stage.index()];
        match stage.names.get(name) {
            Some(StageName::Reading(id)) => Some(Slotted::Reading(*id)),
            found => {
                let readings = stage
                    .readings
                    .iter()
                    .map(|id| &*self.plan.readings[id.index()].name);
                let what = match found {
                    Some(StageName::Calc(_)) => "a reading, not a calculated value,",
                    Some(StageName::Log(_)) => "a reading; a log is written with `log`,",
                    _ => "a reading",
                };
                let expected = format!("{what} that the plan asks for in stage `{}`", stage.name);
                self.unknown(name_node, &expected, name, readings);
                None
            }
        }
    }

    /// Notes that something was recorded under this context.
    pub(super) fn mark_work(
        &mut self,
        work: &mut StageWork,
        context: u32,
        place: Place,
        value: &Recorded,
    ) {
        if matches!(value, Recorded::Pending) {
            return;
        }
        if !work
            .round
            .work
            .iter()
            .rev()
            .take(4)
            .any(|(known, _)| *known == context)
        {
            work.round.work.push((context, place));
        }
    }

    /// The conditions of a line's `at` clauses, checked against what the plan asks for.
    pub(super) fn conditions(&mut self, line: NodeId, given: &[Kind]) -> (u32, u32) {
        let tree = self.tree();
        let first = self.record.conditions.len() as u32;
        let clauses: Vec<NodeId> = tree
            .children(line)
            .filter(|child| tree.kind(*child) == NodeKind::AtClause)
            .collect();
        for clause in clauses {
            for node in tree.children(clause) {
                let Some(written) = tree.quantity(node) else {
                    continue;
                };
                match crate::plan::literal::read(&written, self.values.file) {
                    Ok(quantity) => {
                        let place = self.place(node);
                        self.check_condition(&quantity, place, given, written.unit.unwrap_or(""));
                        self.record.conditions.push(Condition {
                            value: Value::Quantity(quantity),
                            place,
                        });
                    }
                    Err(finding) => self.report(*finding),
                }
            }
        }
        (first, self.record.conditions.len() as u32 - first)
    }

    /// Conditions just read, completed by those inherited that are of another kind.
    pub(super) fn completed(&mut self, own: (u32, u32), inherited: (u32, u32)) -> (u32, u32) {
        if own.1 == 0 || inherited.1 == 0 {
            return if own.1 == 0 { inherited } else { own };
        }
        let kind = |condition: &Condition| match &condition.value {
            Value::Quantity(quantity) => Some((quantity.dimension, quantity.point)),
            _ => None,
        };
        let mut count = own.1;
        for index in inherited.0..inherited.0 + inherited.1 {
            let condition = self.record.conditions[index as usize].clone();
            let given = &self.record.conditions[own.0 as usize..(own.0 + own.1) as usize];
            if !given.iter().any(|known| kind(known) == kind(&condition)) {
                self.record.conditions.push(condition);
                count += 1;
            }
        }
        (own.0, count)
    }

    fn check_condition(
        &mut self,
        quantity: &crate::quantity::Quantity,
        place: Place,
        given: &[Kind],
        unit: &str,
    ) {
        if given.is_empty() || given.iter().any(|kind| kind.fits(quantity)) {
            return;
        }
        let names: Vec<String> = given.iter().map(|kind| with_article(kind.name())).collect();
        let finding = Finding::new(
            &rules::WRONG_UNIT,
            place,
            format!(
                "expected the condition to be {}, found one in `{unit}`",
                names.join(" or ")
            ),
        )
        .help("a temperature is written in °C; K is a difference");
        self.report(finding);
    }

    /// The context of a line: what it inherits with its own clauses put over it.
    pub(super) fn clauses(&mut self, line: NodeId, inherited: u32) -> u32 {
        let tree = self.tree();
        let mut context = None;
        for child in tree.children(line) {
            let kind = tree.kind(child);
            if !matches!(
                kind,
                NodeKind::WithClause | NodeKind::ByClause | NodeKind::OnClause
            ) {
                continue;
            }
            let base = &self.record.contexts[inherited as usize];
            let context = context.get_or_insert_with(|| base.clone());
            let file = self.values.file;
            match kind {
                NodeKind::OnClause => {
                    let Some(date) = tree.child(child, NodeKind::DateTime) else {
                        continue;
                    };
                    let place = Place {
                        file,
                        span: tree.span(date),
                    };
                    if let Some(when) = self.values.when(tree.text_of(date), place) {
                        context.when = Some((when, place));
                    }
                }
                _ => {
                    let Some((name, part)) = identity(tree, child) else {
                        continue;
                    };
                    let place = Place {
                        file,
                        span: tree.span(part),
                    };
                    if kind == NodeKind::WithClause {
                        context.instrument = Some((name, place));
                    } else {
                        context.person = Some((name, place));
                    }
                }
            }
        }
        match context {
            None => inherited,
            Some(context) => self.intern(context),
        }
    }

    /// The number of a context, the same for equal ones that follow each other.
    pub(super) fn intern(&mut self, context: Context) -> u32 {
        let contexts = &mut self.record.contexts;
        let recent = contexts.len().saturating_sub(INTERNED);
        if let Some(found) = contexts[recent..]
            .iter()
            .position(|known| same_context(known, &context))
        {
            contexts[recent + found].also_said_elsewhere |= !self.leaves_reading;
            return (recent + found) as u32;
        }
        contexts.push(Context {
            also_said_elsewhere: false,
            ..context
        });
        contexts.len() as u32 - 1
    }
}

/// How many of the last contexts are looked through for an equal one.
pub(super) const INTERNED: usize = 8;

/// Equal but for the places.
pub(super) fn same_context(left: &Context, right: &Context) -> bool {
    left.instrument.as_ref().map(|(name, _)| name)
        == right.instrument.as_ref().map(|(name, _)| name)
        && left.person.as_ref().map(|(name, _)| name) == right.person.as_ref().map(|(name, _)| name)
        && left.when.map(|(when, _)| when) == right.when.map(|(when, _)| when)
}

pub(super) fn is_value(kind: NodeKind) -> bool {
    matches!(
        kind,
        NodeKind::Pending
            | NodeKind::NotApplicable
            | NodeKind::Bound
            | NodeKind::Range
            | NodeKind::PlusMinus
            | NodeKind::PlusSlashMinus
            | NodeKind::Quantity
            | NodeKind::DateTime
            | NodeKind::NameList
            | NodeKind::TextPart
    )
}
