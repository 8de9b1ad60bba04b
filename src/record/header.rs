//! The `unit` statement: serial, plan, register, lot and zone, readable without a plan at hand.

use super::model::{Header, Lot};
use crate::register::identity;
use crate::syntax::{NodeId, NodeKind, Tree};

/// Reads the `unit` statement; `None` when the document has none.
pub fn header(tree: &Tree) -> Option<Header> {
    let unit = tree.child(tree.root(), NodeKind::Unit)?;
    let mut header = Header {
        span: tree.span(unit),
        ..Header::default()
    };
    if let Some((serial, part)) = identity(tree, unit) {
        header.serial = serial.to_string();
        let title = tree
            .children(unit)
            .find(|child| *child != part && tree.kind(*child) == NodeKind::TextPart);
        header.title = title.map(|title| tree.unquoted(title)).unwrap_or_default();
    }
    for child in tree.children(unit) {
        match tree.kind(child) {
            NodeKind::PlanChoice => {
                if let Some(name) = tree.child(child, NodeKind::Name) {
                    let rev = tree
                        .child(child, NodeKind::Rev)
                        .and_then(|rev| tree.child(rev, NodeKind::Word))
                        .map(|word| tree.text_of(word).into());
                    header.plan = Some((tree.text_of(name).into(), rev, tree.span(name)));
                }
            }
            NodeKind::RegisterChoice => {
                if let Some(name) = tree.child(child, NodeKind::Name) {
                    header.register = Some((tree.text_of(name).into(), tree.span(name)));
                }
            }
            NodeKind::Lot => {
                header.lot = lot(tree, child);
            }
            NodeKind::Zone => {
                if let Some(zone) = tree.child(child, NodeKind::ZoneName) {
                    header.zone = Some((tree.text_of(zone).to_owned(), tree.span(zone)));
                }
            }
            _ => {}
        }
    }
    Some(header)
}

fn lot(tree: &Tree, line: NodeId) -> Option<Lot> {
    let (name, _) = identity(tree, line)?;
    let mut numbers = tree
        .children(line)
        .filter(|part| tree.kind(*part) == NodeKind::Word)
        .map(|word| tree.text_of(word).parse().ok());
    let number = numbers.next().flatten();
    let total = numbers.next().flatten();
    let type_tested = tree
        .child(line, NodeKind::TypeTested)
        .and_then(|clause| identity(tree, clause))
        .map(|(serial, part)| (serial, tree.span(part)));
    Some(Lot {
        name,
        number,
        total,
        type_tested,
        span: tree.span(line),
    })
}
