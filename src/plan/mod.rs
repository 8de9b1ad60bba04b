//! Plans: what must be recorded at each stage, with limits, calculations, checks and points.
//!
//! [`compile`] works one or more documents (a plan and what it extends) into a [`Plan`], with everything
//! that is wrong with it found while no unit is at hand.

pub mod accuracy;
mod acting;
pub mod builtin;
mod calling;
mod columns;
mod compare;
mod conditions;
mod decisions;
mod draft;
pub mod expression;
pub mod function;
mod intervals;
pub mod kind;
pub mod literal;
pub mod model;
mod naming;
pub mod operate;
pub mod readers;
mod resolve;
pub mod skeleton;
mod soundness;
mod type_tests;
pub mod types;
mod typing;
pub mod value;

pub use compare::{Compare, CompareBound, Compared, Floor, USUAL_FLOOR, USUAL_THRESHOLD};
pub use draft::{Document, MAX_DECLARATIONS, MAX_SETS, MAX_STAGES};
pub use expression::{Expr, ExprNode, IndexExpr, Operator};
pub use model::*;
pub use resolve::{MAX_CALC_DEPTH, MAX_INDICES};
pub use soundness::{MAX_INSTANCES, MAX_STEPS, constant, too_large};
pub use type_tests::TypeTests;

use crate::finding::Finding;

/// Works documents into one plan: the outermost base first, the plan itself last.
pub fn compile(documents: &[Document<'_>], findings: &mut Vec<Finding>) -> Plan {
    let draft = draft::gather(documents, findings);
    resolve::resolve(documents, draft, findings)
}

/// Types one expression that stands alone and refers to no plan.
pub fn type_alone(document: Document<'_>, findings: &mut Vec<Finding>) -> Option<Expr> {
    resolve::type_alone(document, findings)
}

/// The name of the plan that a plan document extends, and where it says so.
pub fn extends(tree: &crate::syntax::Tree) -> Option<(String, Option<String>, crate::text::Span)> {
    use crate::syntax::NodeKind;
    let plan = tree.child(tree.root(), NodeKind::Plan)?;
    let extends = tree.child(plan, NodeKind::Extends)?;
    let name = tree.child(extends, NodeKind::Name)?;
    let rev = tree
        .child(extends, NodeKind::Rev)
        .and_then(|rev| tree.child(rev, NodeKind::Word));
    Some((
        tree.text_of(name).to_owned(),
        rev.map(|rev| tree.text_of(rev).to_owned()),
        tree.span(extends),
    ))
}
