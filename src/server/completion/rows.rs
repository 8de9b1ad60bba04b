//! The rows that a table of one reading lacks.

use crate::plan::{Plan, StageId, StageName};
use crate::record::Record;
use crate::server::open::{aligned, open_row};
use crate::server::sight::Sight;
use crate::syntax::{NodeId, NodeKind};

/// The missing rows of a table of one reading with two indices, kept open; nothing where none is missing or the table
/// is of another make.
pub(in crate::server) fn missing_rows(
    sight: &Sight<'_>,
    table: NodeId,
    plan: &Plan,
    record: &Record,
    stage: StageId,
) -> Option<String> {
    let tree = sight.tree;
    let declared = tree.child(table, NodeKind::DeclaredValue)?;
    let name = tree.text_of(tree.child(declared, NodeKind::Name)?);
    let StageName::Reading(id) = plan.stages[stage.index()].names.get(name)? else {
        return None;
    };
    let [down, _] = plan.readings[id.index()].indices.as_slice() else {
        return None;
    };
    let header = tree.child(table, NodeKind::HeaderRow)?;
    let mut cells = tree
        .children(header)
        .map(|cell| tree.text_of(cell).to_owned());
    // The rows are those of the first column's set.
    (cells.next()? == *plan.sets[down.index()].name).then_some(())?;
    let columns = cells.count();
    let given: Vec<&str> = tree
        .children(table)
        .filter(|node| tree.kind(*node) == NodeKind::Row)
        .filter_map(|row| tree.children(row).next().map(|cell| tree.text_of(cell)))
        .collect();
    let members = &record.domains[down.index()].members;
    let rows: Vec<Vec<String>> = members
        .iter()
        .map(ToString::to_string)
        .filter(|member| !given.contains(&member.as_str()))
        .map(|member| open_row(member, columns))
        .collect();
    let (_, line) = sight.line(tree.span(header).start);
    let indent = &line[..line.len() - line.trim_start_matches([' ', '\t']).len()];
    let text: String = aligned(&rows)
        .lines()
        .map(|row| format!("{indent}{}\n", row.trim_start()))
        .collect();
    (!rows.is_empty()).then_some(text)
}
