//! Which reading stands at a place of a record.

use super::sight::Sight;
use crate::plan::ReadingId;
use crate::record::{EMPTY, Entry, Record};
use crate::syntax::NodeKind;
use crate::text::Span;

/// A recorded reading.
#[derive(Clone, Copy, Debug)]
pub(super) struct At<'a> {
    pub id: ReadingId,
    pub slot: usize,
    pub entry: &'a Entry,
    /// It belongs to the last round of its stage, which is the one that is judged.
    pub last_round: bool,
}

/// Every recorded reading of a record whose value stands in `span`, in the order of their places.
pub(super) fn within<'a>(sight: &Sight<'_>, record: &'a Record, span: Span) -> Vec<At<'a>> {
    let mut found = Vec::new();
    for rounds in &record.stages {
        for (number, round) in rounds.iter().enumerate() {
            for (id, slots) in &round.readings {
                for (slot, entry) in slots
                    .iter()
                    .enumerate()
                    .filter(|(_, entry)| **entry != EMPTY)
                {
                    let entry = &record.entries[*entry as usize];
                    let own = entry.place.span;
                    if entry.place.file == sight.file
                        && own.start <= span.end
                        && own.end >= span.start
                    {
                        found.push(At {
                            id: *id,
                            slot,
                            entry,
                            last_round: number + 1 == rounds.len(),
                        });
                    }
                }
            }
        }
    }
    found.sort_by_key(|at| at.entry.place.span.start);
    found
}

/// The reading at a byte: the cell of a table that it stands in, or the reading of its line, where it stands in the
/// reading's name, index or value.
pub(super) fn at<'a>(sight: &Sight<'_>, record: &'a Record, offset: u32) -> Option<At<'a>> {
    let nodes = sight.nodes_at(offset);
    let tree = sight.tree;
    for node in nodes.iter().rev() {
        match tree.kind(*node) {
            NodeKind::WithClause | NodeKind::ByClause | NodeKind::OnClause | NodeKind::AtClause => {
                return None;
            }
            NodeKind::Row => return within(sight, record, Span::new(offset, offset)).pop(),
            NodeKind::Reading | NodeKind::Amend => {
                return within(sight, record, tree.span(*node)).into_iter().next();
            }
            _ => {}
        }
    }
    None
}
