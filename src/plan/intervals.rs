//! Ranges and tolerances in expressions.

use super::expression::{Expr, ExprNode};
use super::resolve::Resolver;
use super::types::Type;
use super::typing::{Scope, make, wrong};
use super::value::Value;
use crate::finding::Finding;
use crate::finding::rules;
use crate::syntax::{NodeId, NodeKind};
use crate::text::Place;

impl Resolver<'_, '_> {
    pub(super) fn interval_expr(
        &mut self,
        document: usize,
        node: NodeId,
        scope: &Scope,
        place: Place,
    ) -> Expr {
        let kind = self.documents[document].tree.kind(node);
        let children = self.children(document, node);
        let mut parts: Vec<Expr> = children
            .iter()
            .map(|child| self.expr(document, *child, scope))
            .collect();
        if kind == NodeKind::PlusSlashMinus && parts.len() == 3 {
            // `+3/-0 mm`: the unit stands once, at the end, and goes for both.
            self.share_unit(document, children[1], children[2], &mut parts);
        }
        if kind == NodeKind::Range && parts.len() == 2 {
            self.share_range_unit(document, children[0], children[1], &mut parts);
        }
        if parts.len() < 2 {
            return wrong(place);
        }
        if self.unit_only_before(document, &children) {
            let last = parts[parts.len() - 1].place;
            self.findings.push(
                Finding::new(
                    &rules::UNIT_MISSING,
                    last,
                    "expected a unit behind the last number too, found none",
                )
                .help("a unit written once stands at the end: 1 .. 5 %"),
            );
            return wrong(place);
        }
        let difference = kind != NodeKind::Range;
        for index in 1..parts.len() {
            let (first, other) = (&parts[0], &parts[index]);
            let fits = match (&first.ty, &other.ty) {
                (Type::Unknown, _) | (_, Type::Unknown) => true,
                (
                    Type::Quantity {
                        dimension: a,
                        point: first_point,
                    },
                    Type::Quantity {
                        dimension: b,
                        point: other_point,
                    },
                ) => {
                    a == b
                        && if difference {
                            !other_point
                        } else {
                            first_point == other_point
                        }
                }
                (Type::Moment, Type::Moment) => !difference,
                _ => false,
            };
            if !fits {
                let (a, b) = (parts[0].clone(), parts[index].clone());
                let message = if difference {
                    format!(
                        "expected a tolerance of the same dimension as its value, found {} and {}",
                        a.ty, b.ty
                    )
                } else {
                    format!(
                        "expected both ends of the range to be alike, found {} and {}",
                        a.ty, b.ty
                    )
                };
                self.mismatch(place, message, &a, &b);
                return wrong(place);
            }
        }
        let ty = match &parts[0].ty {
            Type::Quantity { dimension, point } => Type::Interval {
                dimension: *dimension,
                point: *point,
            },
            _ => Type::Unknown,
        };
        let mut parts = parts.into_iter();
        let (Some(first), Some(second)) = (parts.next(), parts.next()) else {
            return wrong(place);
        };
        let node = match (kind, parts.next()) {
            (NodeKind::Range, _) => ExprNode::Range(Box::new(first), Box::new(second)),
            (NodeKind::PlusSlashMinus, Some(third)) => {
                ExprNode::Toleranced(Box::new(first), Box::new(second), Box::new(third))
            }
            _ => ExprNode::Around(Box::new(first), Box::new(second)),
        };
        make(node, place, ty)
    }

    /// `1 % .. 5`: a number with its unit and, at the end, one without.
    pub(super) fn unit_only_before(&self, document: usize, children: &[NodeId]) -> bool {
        let tree = self.documents[document].tree;
        let units: Option<Vec<bool>> = children
            .iter()
            .map(|child| tree.quantity(*child).map(|written| written.unit.is_some()))
            .collect();
        units.is_some_and(|units| units.last() == Some(&false) && units.contains(&true))
    }

    pub(super) fn share_unit(
        &mut self,
        document: usize,
        upper: NodeId,
        lower: NodeId,
        parts: &mut [Expr],
    ) {
        let tree = self.documents[document].tree;
        let file = self.documents[document].file;
        let (Some(mut plus), Some(minus)) = (tree.quantity(upper), tree.quantity(lower)) else {
            return;
        };
        if plus.unit.is_none() && minus.unit.is_some() {
            plus.unit = minus.unit;
            plus.unit_span = minus.unit_span;
            if let Ok(quantity) = super::literal::read(&plus, file) {
                parts[1].ty = Type::Quantity {
                    dimension: quantity.dimension,
                    point: quantity.point,
                };
                parts[1].node = ExprNode::Literal(Value::Quantity(quantity));
            }
        }
    }

    pub(super) fn share_range_unit(
        &mut self,
        document: usize,
        lower: NodeId,
        upper: NodeId,
        parts: &mut [Expr],
    ) {
        let tree = self.documents[document].tree;
        let file = self.documents[document].file;
        let (Some(mut low), Some(high)) = (tree.quantity(lower), tree.quantity(upper)) else {
            return;
        };
        if low.unit.is_none() && high.unit.is_some() {
            low.unit = high.unit;
            low.unit_span = high.unit_span;
            if let Ok(quantity) = super::literal::read(&low, file) {
                parts[0].ty = Type::Quantity {
                    dimension: quantity.dimension,
                    point: quantity.point,
                };
                parts[0].node = ExprNode::Literal(Value::Quantity(quantity));
            }
        }
    }
}
