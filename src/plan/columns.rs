//! The columns of a log, and what it runs over.

use super::draft::At;
use super::kind::Kind;
use super::model::Column;
use super::resolve::Resolver;
use crate::finding::Finding;
use crate::finding::rules;
use crate::syntax::{NodeId, NodeKind};
use std::sync::Arc;

impl Resolver<'_, '_> {
    /// What a log runs over, where it says so: `over frequency : frequency`.
    pub(super) fn over(&mut self, at: At) -> Option<Column> {
        let over = self.tree(at).child(at.node, NodeKind::Over)?;
        let axis = self.named_kind(at.document, over)?;
        if &*axis.name == "time" {
            // Its header would read like that of a log over time, and its rows would not.
            self.findings.push(
                Finding::new(
                    &rules::WRONG_KIND,
                    axis.place,
                    "expected another name than `time` behind `over`, found `time`",
                )
                .help("a log without `over` runs over time, written as date and time; an elapsed time needs a name of its own, such as elapsed"),
            );
            return Some(unknown(axis));
        }
        let scale = match &axis.kind {
            Kind::Quantity(kind) => kind.point,
            _ => true,
        };
        if scale {
            self.findings.push(
                Finding::new(
                    &rules::WRONG_KIND,
                    axis.place,
                    format!(
                        "expected a kind of quantity behind `over` that is no point on a scale, found `{}`",
                        axis.kind.name()
                    ),
                )
                .help("write: log response \"Response\" over frequency : frequency"),
            );
            return Some(unknown(axis));
        }
        Some(axis)
    }

    /// One column of a log that runs over `axis`.
    pub(super) fn column(&mut self, document: usize, node: NodeId, axis: &str) -> Option<Column> {
        let column = self.named_kind(document, node)?;
        if *column.name == *axis {
            let every = if axis == "time" {
                ", which every log has"
            } else {
                ", which the log runs over"
            };
            self.findings.push(Finding::new(
                &rules::DUPLICATE_DECLARATION,
                column.place,
                format!("expected columns besides `{axis}`{every}, found `{axis}`"),
            ));
            return None;
        }
        if !matches!(column.kind, Kind::Quantity(_) | Kind::Count) {
            self.findings.push(Finding::new(
                &rules::WRONG_KIND,
                column.place,
                format!(
                    "expected a kind of quantity for a log's column, found `{}`",
                    column.kind.name()
                ),
            ));
            return None;
        }
        Some(column)
    }

    fn named_kind(&mut self, document: usize, node: NodeId) -> Option<Column> {
        let tree = self.documents[document].tree;
        let name = tree.child(node, NodeKind::Name)?;
        let place = self.place(document, name);
        let name: Arc<str> = tree.text_of(name).into();
        let kind = tree.child(node, NodeKind::Kind)?;
        let kind = self.kind_node(document, kind);
        Some(Column { name, kind, place })
    }
}

/// After a fault: of no kind that has a type, so that no function is refused for the same mistake.
fn unknown(axis: Column) -> Column {
    Column {
        kind: Kind::Text,
        ..axis
    }
}
