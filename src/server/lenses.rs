//! Lines above a stage or a plan's reading that say how it stands.

use super::sight::Sight;
use super::symbols::standing;
use crate::plan::{ReadingId, StageName};
use crate::record::EMPTY;
use crate::syntax::{NodeId, NodeKind};
use tower_lsp::lsp_types::{CodeLens, Command};

/// The lenses of a document.
pub(super) fn lenses(sight: &Sight<'_>) -> Vec<CodeLens> {
    let tree = sight.tree;
    let mut lenses = Vec::new();
    for node in tree.children(tree.root()) {
        match tree.kind(node) {
            NodeKind::StageRecord => lenses.extend(stage(sight, node)),
            NodeKind::StagePlan | NodeKind::Add => {
                let readings = tree
                    .children(node)
                    .filter(|child| tree.kind(*child) == NodeKind::ReadingPlan);
                lenses.extend(readings.filter_map(|child| reading(sight, node, child)));
            }
            _ => {}
        }
    }
    lenses
}

fn lens(sight: &Sight<'_>, node: NodeId, title: String) -> CodeLens {
    CodeLens {
        range: sight.range(super::symbols::trimmed(sight, sight.tree.span(node))),
        command: Some(Command {
            title,
            // It only tells; there is nothing to do.
            command: String::new(),
            arguments: None,
        }),
        data: None,
    }
}

/// A stage of a record: what is recorded and pending, and its points.
fn stage(sight: &Sight<'_>, node: NodeId) -> Option<CodeLens> {
    let name = sight.tree.text_of(sight.tree.child(node, NodeKind::Name)?);
    let summary = sight.desk.unit(sight.file)?.summary?;
    let stage = summary.stages.iter().find(|stage| *stage.name == *name)?;
    let mut title = standing(stage);
    for point in &stage.points {
        title += &format!(" · {} {}", point.name, point.state.word());
    }
    Some(lens(sight, node, title))
}

/// A reading of a plan: in how many units it is recorded, and in how many it is out of limit.
fn reading(sight: &Sight<'_>, stage: NodeId, node: NodeId) -> Option<CodeLens> {
    let tree = sight.tree;
    let target = match tree.kind(stage) {
        NodeKind::Add => tree.child(stage, NodeKind::Target)?,
        _ => stage,
    };
    let stage = tree.text_of(tree.child(target, NodeKind::Name)?);
    let declared = tree.child(node, NodeKind::Declared)?;
    let name = tree.text_of(tree.child(declared, NodeKind::Name)?);
    let (mut units, mut recorded, mut outside) = (0, 0, 0);
    for unit in sight.desk.units().filter(|unit| unit.given) {
        let Some(plan) = unit.plan else { continue };
        let found = plan
            .stage_by_name
            .get(stage)
            .and_then(|id| plan.stages[id.index()].names.get(name));
        let Some(StageName::Reading(id)) = found else {
            continue;
        };
        if plan.readings[id.index()].place.file != sight.file {
            continue;
        }
        units += 1;
        recorded += usize::from(is_recorded(&unit, *id));
        outside += usize::from(sight.desk.fails(unit.file, stage, name));
    }
    if units == 0 {
        return None;
    }
    let mut title = format!("recorded in {recorded} of {units} open units");
    if outside > 0 {
        title += &format!(" · out of limit in {outside}");
    }
    Some(lens(sight, node, title))
}

fn is_recorded(unit: &crate::workspace::desk::UnitView<'_>, id: ReadingId) -> bool {
    let Some(record) = unit.record else {
        return false;
    };
    record.stages.iter().flatten().any(|round| {
        let slots = round.readings.get(&id);
        slots.is_some_and(|slots| slots.iter().any(|entry| *entry != EMPTY))
    })
}
