//! Tables: many readings at once. The header says what each column is; each row fills slots.

use super::bind::{Binder, Slotted, StageWork};
use super::model::*;
use super::values::Wanted;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::kind::{Kind, with_article};
use crate::plan::{SetId, StageName};
use crate::quantity::Unit;
use crate::syntax::{NodeId, NodeKind};
use crate::text::Place;

/// What a column holds.
pub(super) enum Column {
    /// Members of a set.
    Index(SetId),
    /// Values of one reading, at a member of a set where the header names one.
    Value {
        item: Slotted,
        member: Option<(SetId, u32)>,
        unit: Option<Unit>,
    },
    /// A condition.
    At(Option<Unit>),
    With,
    By,
    On,
    /// Could not be understood; reported.
    Skip,
}

/// What the table as a whole fixes.
pub(super) struct Head {
    item: Option<Slotted>,
    unit: Option<Unit>,
    /// Fixed members, from `table resistance[HV, *, *]`.
    fixed: Vec<(SetId, u32)>,
}

impl Binder<'_> {
    /// Reads a table of a stage (`work`) or of a design block.
    pub(super) fn table(
        &mut self,
        node: NodeId,
        mut work: Option<&mut StageWork>,
        context: u32,
        inherited: (u32, u32),
        first_entry: u32,
    ) {
        let tree = self.tree();
        let Some(head) = self.table_head(node, work.as_deref()) else {
            return;
        };
        let given: Vec<Kind> = head
            .item
            .map(|item| self.given(item).to_vec())
            .unwrap_or_default();
        let own = self.conditions(node, &given);
        let conditions = self.completed(own, inherited);
        let place = self.place(node);
        if let Some(work) = work.as_deref_mut() {
            work.round.scopes.push(Scope {
                place,
                of_table: true,
                context,
                conditions,
            });
        }
        let mut columns: Vec<Column> = Vec::new();
        let mut cells: Vec<NodeId> = Vec::new();
        for line in tree.children(node) {
            match tree.kind(line) {
                NodeKind::HeaderRow => {
                    columns = self.header(line, &head, work.as_deref());
                    self.check_complete(line, &columns, &head);
                }
                NodeKind::Row => {
                    self.cells(line, &mut cells);
                    self.row(
                        &cells,
                        &columns,
                        &head,
                        context,
                        conditions,
                        work.as_deref_mut(),
                        first_entry,
                    );
                }
                _ => {}
            }
        }
    }

    /// The cells of a row.
    fn cells(&self, row: NodeId, into: &mut Vec<NodeId>) {
        let tree = self.tree();
        into.clear();
        into.extend(
            tree.children(row)
                .filter(|child| is_cell(tree.kind(*child))),
        );
    }

    /// What a table and its header say once more; what is wrong with them was told.
    pub(super) fn columns_again(
        &mut self,
        table: NodeId,
        header: NodeId,
        work: &StageWork,
    ) -> Option<(Head, Vec<Column>)> {
        let told = self.values.findings.len();
        let head = self.table_head(table, Some(work));
        let again = head.map(|head| {
            let columns = self.header(header, &head, Some(work));
            (head, columns)
        });
        self.values.findings.truncate(told);
        again
    }

    /// Reads one row of a stage's table.
    pub(super) fn row_again(
        &mut self,
        row: NodeId,
        (head, columns): &(Head, Vec<Column>),
        context: u32,
        conditions: (u32, u32),
        work: &mut StageWork,
    ) {
        let mut cells = Vec::new();
        self.cells(row, &mut cells);
        self.row(&cells, columns, head, context, conditions, Some(work), 0);
    }

    fn table_head(&mut self, node: NodeId, work: Option<&StageWork>) -> Option<Head> {
        let tree = self.tree();
        let mut head = Head {
            item: None,
            unit: None,
            fixed: Vec::new(),
        };
        let Some(declared) = tree.child(node, NodeKind::DeclaredValue) else {
            return Some(head);
        };
        let item = match work {
            Some(work) => self.stage_reading(declared, work.stage)?,
            None => {
                let name = tree
                    .child(declared, NodeKind::Name)
                    .map(|name| tree.text_of(name))
                    .unwrap_or("");
                match self.plan.design_by_name.get(name) {
                    Some(id) => Slotted::Design(*id),
                    None => {
                        self.unknown_design(declared, name);
                        return None;
                    }
                }
            }
        };
        head.item = Some(item);
        if let Some(unit) = tree.child(declared, NodeKind::UnitPart) {
            head.unit = self.column_unit(unit, self.wanted(item));
        }
        if let Some(index) = tree.child(declared, NodeKind::Index) {
            let parts: Vec<NodeId> = tree.children(index).collect();
            let sets = self.indices(item);
            if parts.len() > sets.len() {
                let finding = Finding::new(
                    &rules::INDEX_COUNT,
                    self.place(index),
                    format!(
                        "expected at most {} indices for `{}`, found {}",
                        sets.len(),
                        self.name(item),
                        parts.len()
                    ),
                );
                self.report(finding);
                return None;
            }
            for (part, set) in parts.iter().zip(sets) {
                if tree.kind(*part) != NodeKind::Star {
                    head.fixed.push((*set, self.member(*part, *set)?));
                }
            }
        }
        Some(head)
    }

    /// Reads the unit of a column and holds it against the kind.
    fn column_unit(&mut self, node: NodeId, wanted: Wanted<'_>) -> Option<Unit> {
        let text = self.tree().text_of(node);
        let place = self.place(node);
        match wanted.kind {
            Kind::Quantity(kind) => self.values.unit(text, place, kind, wanted.declared),
            _ => {
                let finding = Finding::new(
                    &rules::WRONG_UNIT,
                    place,
                    format!(
                        "expected no unit for {}, found `{text}`",
                        with_article(wanted.kind.name())
                    ),
                )
                .related(wanted.declared, "declared here");
                self.report(finding);
                None
            }
        }
    }

    fn header(&mut self, line: NodeId, head: &Head, work: Option<&StageWork>) -> Vec<Column> {
        let tree = self.tree();
        let cells: Vec<NodeId> = tree
            .children(line)
            .filter(|cell| tree.kind(*cell) == NodeKind::HeaderCell)
            .collect();
        let mut columns: Vec<Column> = Vec::with_capacity(cells.len());
        for cell in &cells {
            let name_node = tree.child(*cell, NodeKind::Name).unwrap_or(*cell);
            let name = tree.text_of(name_node);
            let unit_node = tree.child(*cell, NodeKind::UnitPart);
            let column = match name {
                "with" => Column::With,
                "by" => Column::By,
                "on" => Column::On,
                "at" => {
                    let unit = unit_node.and_then(|unit| {
                        let place = self.place(unit);
                        match crate::plan::literal::unit(tree.text_of(unit), place) {
                            Ok(unit) => Some(unit),
                            Err(finding) => {
                                self.report(*finding);
                                None
                            }
                        }
                    });
                    Column::At(unit)
                }
                _ => self.value_column(name, name_node, unit_node, head, work, &columns),
            };
            columns.push(column);
        }
        columns
    }

    fn value_column(
        &mut self,
        name: &str,
        name_node: NodeId,
        unit_node: Option<NodeId>,
        head: &Head,
        work: Option<&StageWork>,
        before: &[Column],
    ) -> Column {
        if let Some(set) = self.plan.set_by_name.get(name) {
            let used = head
                .item
                .is_none_or(|item| self.indices(item).contains(set));
            if used {
                return Column::Index(*set);
            }
        }
        let unit = |binder: &mut Self, item: Slotted| match unit_node {
            Some(node) => binder.column_unit(node, binder.wanted(item)),
            None => head.unit.clone(),
        };
        if let Some(item) = head.item {
            if name == self.name(item) {
                let unit = unit(self, item);
                return Column::Value {
                    item,
                    member: None,
                    unit,
                };
            }
            let taken = |set: &SetId| {
                before
                    .iter()
                    .any(|column| matches!(column, Column::Index(known) if known == set))
                    || head.fixed.iter().any(|(known, _)| known == set)
            };
            let sets: Vec<SetId> = self
                .indices(item)
                .iter()
                .copied()
                .filter(|set| !taken(set))
                .collect();
            for set in &sets {
                if let Some(member) = self.record.domains[set.index()].lookup.get(name).copied() {
                    let unit = unit(self, item);
                    return Column::Value {
                        item,
                        member: Some((*set, member)),
                        unit,
                    };
                }
            }
            let mut known: Vec<String> = self
                .indices(item)
                .iter()
                .map(|set| self.plan.sets[set.index()].name.to_string())
                .collect();
            for set in &sets {
                known.extend(
                    self.record.domains[set.index()]
                        .members
                        .iter()
                        .take(50)
                        .map(ToString::to_string),
                );
            }
            let expected = format!(
                "an index or a member of `{}`, or at, with, by, on",
                self.name(item)
            );
            self.unknown(name_node, &expected, name, known.iter().map(String::as_str));
            return Column::Skip;
        }
        let found = match work {
            Some(work) => match self.plan.stages[work.stage.index()].names.get(name) {
                Some(StageName::Reading(id)) => Some(Slotted::Reading(*id)),
                _ => None,
            },
            None => self
                .plan
                .design_by_name
                .get(name)
                .map(|id| Slotted::Design(*id)),
        };
        match found {
            Some(item) => {
                let unit = unit(self, item);
                Column::Value {
                    item,
                    member: None,
                    unit,
                }
            }
            None => {
                let known: Vec<&str> = match work {
                    Some(work) => self.plan.stages[work.stage.index()]
                        .readings
                        .iter()
                        .map(|id| &*self.plan.readings[id.index()].name)
                        .collect(),
                    None => self.plan.design.iter().map(|item| &*item.name).collect(),
                };
                let sets = self.plan.sets.iter().map(|set| &*set.name);
                let what = if work.is_some() {
                    "an index or a reading of this stage"
                } else {
                    "an index or a design value"
                };
                self.unknown(name_node, what, name, known.into_iter().chain(sets));
                Column::Skip
            }
        }
    }

    /// Reports a column whose reading has indices that neither the header nor the table gives.
    fn check_complete(&mut self, line: NodeId, columns: &[Column], head: &Head) {
        for column in columns {
            let Column::Value { item, member, .. } = column else {
                continue;
            };
            let missing: Vec<&str> = self
                .indices(*item)
                .iter()
                .filter(|set| {
                    let in_header = columns
                        .iter()
                        .any(|column| matches!(column, Column::Index(known) if known == *set));
                    let fixed = head.fixed.iter().any(|(known, _)| known == *set);
                    let named = member.is_some_and(|(known, _)| known == **set);
                    !in_header && !fixed && !named
                })
                .map(|set| &*self.plan.sets[set.index()].name)
                .collect();
            if missing.is_empty() {
                continue;
            }
            let finding = Finding::new(
                &rules::INDEX_COUNT,
                self.place(line),
                format!(
                    "expected a column for each index of `{}`, found none for {}",
                    self.name(*item),
                    missing.join(", ")
                ),
            )
            .related(self.wanted(*item).declared, "declared here");
            self.report(finding);
            return;
        }
    }

    #[allow(
        clippy::too_many_arguments,
        reason = "the parts of one row, used in one place"
    )]
    fn row(
        &mut self,
        cells: &[NodeId],
        columns: &[Column],
        head: &Head,
        context: u32,
        conditions: (u32, u32),
        mut work: Option<&mut StageWork>,
        first_entry: u32,
    ) {
        let mut members: [Option<(SetId, u32)>; 8] = [None; 8];
        let mut count = 0;
        let mut push = |pair: (SetId, u32)| {
            if count < members.len() {
                members[count] = Some(pair);
                count += 1;
            }
        };
        head.fixed.iter().for_each(|pair| push(*pair));
        for (cell, column) in cells.iter().zip(columns) {
            if let Column::Index(set) = column {
                match self.member(*cell, *set) {
                    Some(member) => push((*set, member)),
                    None => return,
                }
            }
        }
        let (context, conditions) = self.row_clauses(cells, columns, context, conditions);
        for (cell, column) in cells.iter().zip(columns) {
            let Column::Value { item, member, unit } = column else {
                continue;
            };
            let sets = self.indices(*item);
            let mut wanted_members = [0u32; 8];
            let mut complete = true;
            for (position, set) in sets.iter().enumerate().take(8) {
                let named = member.filter(|(known, _)| known == set);
                let found = named.or_else(|| {
                    members
                        .iter()
                        .flatten()
                        .find(|(known, _)| known == set)
                        .copied()
                });
                match found {
                    Some((_, member)) => wanted_members[position] = member,
                    None => complete = false,
                }
            }
            if !complete {
                continue;
            }
            let slot = slot(
                &self.record.domains,
                sets,
                &wanted_members[..sets.len().min(8)],
            );
            let wanted = Wanted {
                unit: unit.as_ref(),
                ..self.wanted(*item)
            };
            let value = self.values.value(*cell, wanted);
            let place = self.place(*cell);
            if let Some(work) = work.as_deref_mut() {
                self.mark_work(work, context, place, &value);
            }
            let unit = unit.as_ref().map(|unit| unit.symbol.clone());
            let entry = Entry {
                value,
                place,
                context,
                conditions,
                unit,
                amended: None,
            };
            self.put(work.as_deref_mut(), *item, slot, entry, first_entry);
        }
    }

    fn row_clauses(
        &mut self,
        cells: &[NodeId],
        columns: &[Column],
        context: u32,
        conditions: (u32, u32),
    ) -> (u32, (u32, u32)) {
        let has = columns.iter().any(|column| {
            matches!(
                column,
                Column::With | Column::By | Column::On | Column::At(_)
            )
        });
        if !has {
            return (context, conditions);
        }
        let tree = self.tree();
        let mut own = self.record.contexts[context as usize].clone();
        let first = self.record.conditions.len() as u32;
        for (cell, column) in cells.iter().zip(columns) {
            let kind = tree.kind(*cell);
            if matches!(
                kind,
                NodeKind::Pending | NodeKind::NotApplicable | NodeKind::Rest
            ) {
                continue;
            }
            let place = self.place(*cell);
            match column {
                Column::With => own.instrument = Some((self.cell_name(*cell), place)),
                Column::By => own.person = Some((self.cell_name(*cell), place)),
                Column::On => {
                    if let Some(when) = self.values.when(tree.text_of(*cell), place) {
                        own.when = Some((when, place));
                    }
                }
                Column::At(unit) => self.row_condition(*cell, unit.as_ref(), place),
                _ => {}
            }
        }
        let count = self.record.conditions.len() as u32 - first;
        let conditions = self.completed((first, count), conditions);
        (self.intern(own), conditions)
    }

    fn cell_name(&self, cell: NodeId) -> std::sync::Arc<str> {
        match self.tree().kind(cell) {
            NodeKind::TextPart => self.tree().unquoted(cell).into(),
            _ => self.tree().text_of(cell).into(),
        }
    }

    fn row_condition(&mut self, cell: NodeId, unit: Option<&Unit>, place: Place) {
        let Some(written) = self.tree().quantity(cell) else {
            return;
        };
        let quantity = match (unit, written.unit) {
            (Some(unit), None) => match crate::plan::literal::number(&written, self.values.file) {
                Ok(number) => crate::quantity::Quantity::from_unit(number, unit),
                Err(finding) => {
                    self.report(*finding);
                    return;
                }
            },
            _ => match crate::plan::literal::read(&written, self.values.file) {
                Ok(quantity) => quantity,
                Err(finding) => {
                    self.report(*finding);
                    return;
                }
            },
        };
        let value = crate::plan::value::Value::Quantity(quantity);
        self.record.conditions.push(Condition { value, place });
    }
}

fn is_cell(kind: NodeKind) -> bool {
    super::bind::is_value(kind) || kind == NodeKind::Rest
}
