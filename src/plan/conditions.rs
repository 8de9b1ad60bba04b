//! What stands below `when`, `require`, `limit` and `causes`.

use super::draft::At;
use super::expression::{Expr, ExprNode};
use super::model::*;
use super::naming::Meaning;
use super::resolve::Resolver;
use super::types::Type;
use super::typing::Scope;
use crate::finding::Finding;
use crate::finding::rules;
use crate::syntax::{NodeId, NodeKind};

impl Resolver<'_, '_> {
    /// The expression below a `when` or `require` line, which must say yes or no.
    pub(super) fn truth(&mut self, at: At, scope: &Scope) -> Option<Expr> {
        let node = self.children(at.document, at.node).into_iter().next()?;
        let expr = self.expr(at.document, node, scope);
        if !matches!(expr.ty.element(), Type::Truth | Type::Unknown) {
            let finding = Finding::new(
                &rules::WRONG_KIND,
                expr.place,
                format!("expected a condition that is yes or no, found {}", expr.ty),
            )
            .help("compare it with something: X <= 5 K");
            self.findings.push(finding);
            return None;
        }
        Some(expr)
    }

    /// What stands below a `limit` line of a reading of type `ty`.
    pub(super) fn limit(&mut self, at: At, scope: &Scope, ty: &Type) -> Option<LimitForm> {
        let node = self.children(at.document, at.node).into_iter().next()?;
        let tree = self.tree(at);
        let exactly = tree
            .significant(at.node)
            .nth(1)
            .is_some_and(|(_, kind)| kind == crate::syntax::TokenKind::Equals);
        let kind = tree.kind(node);
        if kind == NodeKind::Bound {
            let comparison = comparison_of_bound(tree, node);
            let inner = self.children(at.document, node).into_iter().next()?;
            let expr = self.expr(at.document, inner, scope);
            self.same_as_reading(&expr, ty, at)?;
            return Some(LimitForm::Compare(comparison, expr));
        }
        let mut expr = self.expr(at.document, node, scope);
        if exactly {
            self.name_constant(at.document, node, &mut expr, ty);
            self.same_as_reading(&expr, ty, at)?;
            return Some(LimitForm::Exactly(expr));
        }
        let interval = matches!(
            kind,
            NodeKind::Range | NodeKind::PlusMinus | NodeKind::PlusSlashMinus
        );
        let design = matches!(expr.node, ExprNode::Design(..));
        if !interval && !design && expr.ty != Type::Unknown {
            self.findings.push(
                Finding::new(
                    &rules::UNEXPECTED_TEXT,
                    expr.place,
                    "expected `=`, `<=`, `>=`, a range or a design value that carries its tolerance, found a plain value",
                )
                .help("write: limit = X, limit <= X, limit A .. B, limit X +- T, or limit design.NAME"),
            );
            return None;
        }
        self.same_as_reading(&expr, ty, at)?;
        Some(LimitForm::Within(expr))
    }

    pub(super) fn same_as_reading(&mut self, expr: &Expr, ty: &Type, at: At) -> Option<()> {
        let limit = match &expr.ty {
            Type::Interval { dimension, point } => Type::Quantity {
                dimension: *dimension,
                point: *point,
            },
            other => other.clone(),
        };
        if limit == Type::Unknown || *ty == Type::Unknown || limit == *ty {
            return Some(());
        }
        let holder = self
            .tree(at)
            .parent(at.node)
            .map(|parent| self.place(at.document, parent));
        let mut finding = Finding::new(
            &rules::DIMENSION_MISMATCH,
            expr.place,
            format!("expected a limit that is {ty}, as the reading is, found {limit}"),
        )
        .label(format!("this is {limit}"));
        if let Some(place) = holder {
            finding = finding.related(place, format!("the reading is {ty}"));
        }
        self.findings.push(finding);
        None
    }

    /// `causes NAME(subject, …)`.
    pub(super) fn analysis(&mut self, at: At, scope: &Scope) -> Option<Analysis> {
        let call = self.children(at.document, at.node).into_iter().next()?;
        let place = self.place(at.document, call);
        let tree = self.tree(at);
        let name = tree
            .child(call, NodeKind::Name)
            .filter(|_| tree.kind(call) == NodeKind::Call);
        let word = name
            .map(|name| tree.text_of(name).to_owned())
            .unwrap_or_default();
        let Some((_, kind)) = AnalysisKind::ALL.iter().find(|(known, _)| *known == word) else {
            let known = AnalysisKind::ALL.iter().map(|(name, _)| *name);
            let list: Vec<String> = known.map(|name| format!("{name}(…)")).collect();
            self.findings.push(
                Finding::new(
                    &rules::UNKNOWN_FUNCTION,
                    place,
                    format!(
                        "expected an analysis, found `{}`",
                        self.tree(at).text_of(call)
                    ),
                )
                .help(format!("there are {}", list.join(" and "))),
            );
            return None;
        };
        let mut subjects = Vec::new();
        for argument in self.children(at.document, call).into_iter().skip(1) {
            let tree = self.documents[at.document].tree;
            let path = tree.child(argument, NodeKind::Path);
            let text = path
                .map(|path| tree.text_of(path).to_owned())
                .unwrap_or_default();
            let place = self.place(at.document, argument);
            match self.meaning(&text, scope) {
                Some(Meaning::Reading(id)) => subjects.push(Subject::Reading(id)),
                Some(Meaning::Calc(id)) => subjects.push(Subject::Calc(id)),
                Some(Meaning::Design(id)) => subjects.push(Subject::Design(id)),
                _ => {
                    let known = self.known_names(scope);
                    self.unknown_name(
                        place,
                        "the name of a reading, a calculated or a design value, without index",
                        &text,
                        known.iter().map(String::as_str),
                    );
                    return None;
                }
            }
        }
        Some(Analysis {
            kind: *kind,
            subjects,
            place,
        })
    }
}

fn comparison_of_bound(tree: &crate::syntax::Tree, node: NodeId) -> Comparison {
    use crate::syntax::TokenKind;
    match tree.significant(node).next().map(|(_, kind)| kind) {
        Some(TokenKind::Less) => Comparison::Less,
        Some(TokenKind::Greater) => Comparison::Greater,
        Some(TokenKind::AtLeast) => Comparison::AtLeast,
        _ => Comparison::AtMost,
    }
}
