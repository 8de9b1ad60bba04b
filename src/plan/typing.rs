//! Typing: a tree's expression to a typed one, each name looked up, each dimension checked.

use super::draft::At;
use super::expression::{Expr, ExprNode, IndexExpr, Operator};
use super::function;
use super::model::*;
use super::resolve::{CalcState, MAX_CALC_DEPTH, Resolver};
use super::types::Type;
use super::value::Value;
use crate::finding::Finding;
use crate::finding::rules;
use crate::quantity::{Dimension, Quantity};
use crate::syntax::{NodeId, NodeKind, nearest};
use crate::text::Place;
use std::sync::Arc;

/// Deepest expression, brackets and operators counted alike: it bounds the stack that evaluation needs.
const MAX_DEPTH: usize = 256;

/// Where an expression stands: which names mean what.
#[derive(Clone, Debug, Default)]
pub struct Scope {
    /// The stage; `None` in the design block and at the prompt.
    pub stage: Option<StageId>,
    /// The sets whose members it is evaluated for.
    pub variables: Vec<SetId>,
}

/// An expression that could not be resolved.
pub(super) fn wrong(place: Place) -> Expr {
    Expr { node: ExprNode::Wrong, place, ty: Type::Unknown }
}

fn make(node: ExprNode, place: Place, ty: Type) -> Expr {
    Expr { node, place, ty }
}

/// What a path means.
enum Meaning {
    Variable(usize),
    Design(DesignId),
    Reading(ReadingId),
    Condition(ReadingId, usize),
    Calc(CalcId),
    Column(LogId, usize),
    Truth(bool),
    /// A log without its column, or a check.
    NoValue(&'static str),
}

impl Resolver<'_, '_> {
    fn children(&self, document: usize, node: NodeId) -> Vec<NodeId> {
        self.documents[document].tree.children(node).collect()
    }

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
        let interval = matches!(kind, NodeKind::Range | NodeKind::PlusMinus | NodeKind::PlusSlashMinus);
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

    fn same_as_reading(&mut self, expr: &Expr, ty: &Type, at: At) -> Option<()> {
        let limit = match &expr.ty {
            Type::Interval { dimension, point } => Type::Quantity { dimension: *dimension, point: *point },
            other => other.clone(),
        };
        if limit == Type::Unknown || *ty == Type::Unknown || limit == *ty {
            return Some(());
        }
        let holder = self.tree(at).parent(at.node).map(|parent| self.place(at.document, parent));
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
        let name = tree.child(call, NodeKind::Name).filter(|_| tree.kind(call) == NodeKind::Call);
        let word = name.map(|name| tree.text_of(name).to_owned()).unwrap_or_default();
        let Some((_, kind)) = AnalysisKind::ALL.iter().find(|(known, _)| *known == word) else {
            let known = AnalysisKind::ALL.iter().map(|(name, _)| *name);
            let list: Vec<String> = known.map(|name| format!("{name}(…)")).collect();
            self.findings.push(
                Finding::new(
                    &rules::UNKNOWN_FUNCTION,
                    place,
                    format!("expected an analysis, found `{}`", self.tree(at).text_of(call)),
                )
                .help(format!("there are {}", list.join(" and "))),
            );
            return None;
        };
        let mut subjects = Vec::new();
        for argument in self.children(at.document, call).into_iter().skip(1) {
            let tree = self.documents[at.document].tree;
            let path = tree.child(argument, NodeKind::Path);
            let text = path.map(|path| tree.text_of(path).to_owned()).unwrap_or_default();
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
        Some(Analysis { kind: *kind, subjects, place })
    }

    /// Types one expression.
    pub(super) fn expr(&mut self, document: usize, node: NodeId, scope: &Scope) -> Expr {
        let place = self.place(document, node);
        if self.depth >= MAX_DEPTH {
            self.findings.push(
                Finding::new(
                    &rules::NESTING_TOO_DEEP,
                    place,
                    format!("expected an expression at most {MAX_DEPTH} operators deep, found a deeper one"),
                )
                .help("split the expression into several `calc` lines"),
            );
            return wrong(place);
        }
        self.depth += 1;
        let expr = self.expr_inside(document, node, scope, place);
        self.depth -= 1;
        expr
    }

    fn expr_inside(&mut self, document: usize, node: NodeId, scope: &Scope, place: Place) -> Expr {
        use NodeKind as K;
        let tree = self.documents[document].tree;
        let kind = tree.kind(node);
        let children = self.children(document, node);
        let operand = |index: usize| children.get(index).copied();
        match kind {
            K::Group => match operand(0) {
                Some(inner) => self.expr(document, inner, scope),
                None => wrong(place),
            },
            K::Quantity => self.literal(document, node, place),
            K::TextPart => {
                let text: Arc<str> = tree.unquoted(node).into();
                make(ExprNode::Literal(Value::Text(text)), place, Type::Text)
            }
            K::DateTime => match crate::quantity::moment::parse_utc(tree.text_of(node)) {
                Ok(seconds) => make(ExprNode::Literal(Value::Moment(seconds)), place, Type::Moment),
                Err(fault) => {
                    self.findings.push(Finding::new(&rules::IMPOSSIBLE_DATE, place, fault));
                    wrong(place)
                }
            },
            K::Reference => self.reference(document, node, scope, place),
            K::Call => self.call(document, node, scope, place),
            K::Negative => {
                let inner = self.operand(document, operand(0), scope, place);
                let ty = self.negative_type(&inner);
                make(ExprNode::Negative(Box::new(inner)), place, ty)
            }
            K::Not => {
                let inner = self.operand(document, operand(0), scope, place);
                self.expect_truth(&inner);
                let ty = listed(Type::Truth, &[&inner.ty]);
                make(ExprNode::Not(Box::new(inner)), place, ty)
            }
            K::Sum | K::Difference | K::Product | K::Quotient | K::Power => {
                let left = self.operand(document, operand(0), scope, place);
                let right = self.operand(document, operand(1), scope, place);
                self.arithmetic(kind, left, right, place)
            }
            K::Equal | K::NotEqual | K::Less | K::AtMost | K::Greater | K::AtLeast => {
                let (left, right) = self.compared(document, operand(0), operand(1), scope, place);
                self.comparison(kind, left, right, place)
            }
            K::And | K::Or => {
                let left = self.operand(document, operand(0), scope, place);
                let right = self.operand(document, operand(1), scope, place);
                self.expect_truth(&left);
                self.expect_truth(&right);
                let ty = listed(Type::Truth, &[&left.ty, &right.ty]);
                make(ExprNode::Logic(kind == K::And, Box::new(left), Box::new(right)), place, ty)
            }
            K::In => {
                let left = self.operand(document, operand(0), scope, place);
                let right = self.operand(document, operand(1), scope, place);
                self.inside(left, right, place)
            }
            K::If => {
                let condition = self.operand(document, operand(0), scope, place);
                self.expect_truth(&condition);
                self.expect_one(&condition);
                let (yes, no) = self.compared(document, operand(1), operand(2), scope, place);
                let ty = self.same_types("both branches of `if`", &yes, &no, place);
                make(ExprNode::If(Box::new(condition), Box::new(yes), Box::new(no)), place, ty)
            }
            K::Range | K::PlusMinus | K::PlusSlashMinus => self.interval_expr(document, node, scope, place),
            _ => wrong(place),
        }
    }

    fn operand(&mut self, document: usize, node: Option<NodeId>, scope: &Scope, place: Place) -> Expr {
        match node {
            Some(node) => self.expr(document, node, scope),
            None => wrong(place),
        }
    }

    fn literal(&mut self, document: usize, node: NodeId, place: Place) -> Expr {
        let tree = self.documents[document].tree;
        let Some(written) = tree.quantity(node) else { return wrong(place) };
        let file = self.documents[document].file;
        match super::literal::read(&written, file) {
            Ok(quantity) => {
                let ty = Type::Quantity { dimension: quantity.dimension, point: quantity.point };
                make(ExprNode::Literal(Value::Quantity(quantity)), place, ty)
            }
            Err(finding) => {
                self.findings.push(*finding);
                wrong(place)
            }
        }
    }

    fn interval_expr(&mut self, document: usize, node: NodeId, scope: &Scope, place: Place) -> Expr {
        let kind = self.documents[document].tree.kind(node);
        let children = self.children(document, node);
        let mut parts: Vec<Expr> = children.iter().map(|child| self.expr(document, *child, scope)).collect();
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
                    Type::Quantity { dimension: a, point: first_point },
                    Type::Quantity { dimension: b, point: other_point },
                ) => a == b && if difference { !other_point } else { first_point == other_point },
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
                    format!("expected both ends of the range to be alike, found {} and {}", a.ty, b.ty)
                };
                self.mismatch(place, message, &a, &b);
                return wrong(place);
            }
        }
        let ty = match &parts[0].ty {
            Type::Quantity { dimension, point } => Type::Interval { dimension: *dimension, point: *point },
            _ => Type::Unknown,
        };
        let mut parts = parts.into_iter();
        let (Some(first), Some(second)) = (parts.next(), parts.next()) else { return wrong(place) };
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
    fn unit_only_before(&self, document: usize, children: &[NodeId]) -> bool {
        let tree = self.documents[document].tree;
        let units: Option<Vec<bool>> = children
            .iter()
            .map(|child| tree.quantity(*child).map(|written| written.unit.is_some()))
            .collect();
        units.is_some_and(|units| units.last() == Some(&false) && units.contains(&true))
    }

    fn share_unit(&mut self, document: usize, upper: NodeId, lower: NodeId, parts: &mut [Expr]) {
        let tree = self.documents[document].tree;
        let file = self.documents[document].file;
        let (Some(mut plus), Some(minus)) = (tree.quantity(upper), tree.quantity(lower)) else { return };
        if plus.unit.is_none() && minus.unit.is_some() {
            plus.unit = minus.unit;
            plus.unit_span = minus.unit_span;
            if let Ok(quantity) = super::literal::read(&plus, file) {
                parts[1].ty = Type::Quantity { dimension: quantity.dimension, point: quantity.point };
                parts[1].node = ExprNode::Literal(Value::Quantity(quantity));
            }
        }
    }

    fn share_range_unit(&mut self, document: usize, lower: NodeId, upper: NodeId, parts: &mut [Expr]) {
        let tree = self.documents[document].tree;
        let file = self.documents[document].file;
        let (Some(mut low), Some(high)) = (tree.quantity(lower), tree.quantity(upper)) else { return };
        if low.unit.is_none() && high.unit.is_some() {
            low.unit = high.unit;
            low.unit_span = high.unit_span;
            if let Ok(quantity) = super::literal::read(&low, file) {
                parts[0].ty = Type::Quantity { dimension: quantity.dimension, point: quantity.point };
                parts[0].node = ExprNode::Literal(Value::Quantity(quantity));
            }
        }
    }

    fn expect_truth(&mut self, expr: &Expr) {
        if !matches!(expr.ty.element(), Type::Truth | Type::Unknown) {
            let finding = Finding::new(
                &rules::WRONG_KIND,
                expr.place,
                format!("expected yes or no here, found {}", expr.ty),
            )
            .help("compare it with something: X <= 5 K");
            self.findings.push(finding);
        }
    }

    /// A condition that decides for the whole must be one yes or no, not one for each member.
    pub(super) fn expect_one(&mut self, expr: &Expr) {
        if matches!(expr.ty, Type::List(_)) {
            let finding = Finding::new(
                &rules::WRONG_KIND,
                expr.place,
                format!("expected one yes or no here, found {}", expr.ty),
            )
            .help("say whether it must hold for all or for any of them: all(…) or any(…)");
            self.findings.push(finding);
        }
    }

    fn mismatch(&mut self, place: Place, message: String, left: &Expr, right: &Expr) {
        let finding = Finding::new(&rules::DIMENSION_MISMATCH, place, message)
            .related(left.place, format!("this is {}", left.ty))
            .related(right.place, format!("this is {}", right.ty));
        self.findings.push(finding);
    }

    fn negative_type(&mut self, inner: &Expr) -> Type {
        match inner.ty.element() {
            Type::Quantity { point: false, .. } | Type::Unknown => inner.ty.clone(),
            // `-5 °C` is the point below zero, written with its sign.
            Type::Quantity { point: true, .. } if matches!(inner.node, ExprNode::Literal(_)) => {
                inner.ty.clone()
            }
            _ => {
                let finding = Finding::new(
                    &rules::DIMENSION_MISMATCH,
                    inner.place,
                    format!("expected a number after `-`, found {}", inner.ty),
                );
                self.findings.push(finding);
                Type::Unknown
            }
        }
    }

    fn arithmetic(&mut self, kind: NodeKind, left: Expr, right: Expr, place: Place) -> Expr {
        let operator = match kind {
            NodeKind::Sum => Operator::Add,
            NodeKind::Difference => Operator::Subtract,
            NodeKind::Product => Operator::Multiply,
            NodeKind::Quotient => Operator::Divide,
            _ => Operator::Power,
        };
        let element = match (left.ty.element(), right.ty.element()) {
            (Type::Unknown, _) | (_, Type::Unknown) => Ok(Type::Unknown),
            (a, b) => arithmetic_type(operator, a, b, &right),
        };
        let ty = match element {
            Ok(element) => listed(element, &[&left.ty, &right.ty]),
            Err(message) => {
                self.mismatch(place, message, &left, &right);
                Type::Unknown
            }
        };
        make(ExprNode::Arithmetic(operator, Box::new(left), Box::new(right)), place, ty)
    }

    /// Types two sides that must be alike; a bare word on one side is a name when the other side is.
    fn compared(
        &mut self,
        document: usize,
        left: Option<NodeId>,
        right: Option<NodeId>,
        scope: &Scope,
        place: Place,
    ) -> (Expr, Expr) {
        let (Some(left), Some(right)) = (left, right) else { return (wrong(place), wrong(place)) };
        let left_word = self.bare_word(document, left, scope);
        let right_word = self.bare_word(document, right, scope);
        if right_word.is_some() && left_word.is_none() {
            let typed = self.expr(document, left, scope);
            let word = self.word_against(document, right, right_word, &typed, scope);
            return (typed, word);
        }
        if left_word.is_some() && right_word.is_none() {
            let typed = self.expr(document, right, scope);
            let word = self.word_against(document, left, left_word, &typed, scope);
            return (word, typed);
        }
        (self.expr(document, left, scope), self.expr(document, right, scope))
    }

    /// The word when `node` is one plain name that means nothing in this scope.
    fn bare_word(&self, document: usize, node: NodeId, scope: &Scope) -> Option<Arc<str>> {
        let tree = self.documents[document].tree;
        if tree.kind(node) != NodeKind::Reference || tree.child(node, NodeKind::Index).is_some() {
            return None;
        }
        let path = tree.child(node, NodeKind::Path)?;
        let text = tree.text_of(path);
        (!text.contains('.') && self.meaning(text, scope).is_none()).then(|| text.into())
    }

    fn word_against(
        &mut self,
        document: usize,
        node: NodeId,
        word: Option<Arc<str>>,
        other: &Expr,
        scope: &Scope,
    ) -> Expr {
        let place = self.place(document, node);
        let Some(word) = word else { return wrong(place) };
        match other.ty.element() {
            Type::Name => {
                if let Some(choices) = self.choices_of(other)
                    && !choices.contains(&word)
                {
                    self.unknown_name(
                        place,
                        "one of the names that the plan gives",
                        &word,
                        choices.iter().map(|c| &**c),
                    );
                }
                make(ExprNode::Literal(Value::Name(word)), place, Type::Name)
            }
            Type::Unknown => wrong(place),
            _ => self.expr(document, node, scope),
        }
    }

    /// A bare word where a reading of type `ty` has a limit: `limit = intact`.
    fn name_constant(&mut self, document: usize, node: NodeId, expr: &mut Expr, ty: &Type) {
        let tree = self.documents[document].tree;
        if *ty == Type::Name && expr.ty == Type::Unknown && tree.kind(node) == NodeKind::Reference {
            // The word was reported as unknown; it is a name after all.
            let place = expr.place;
            self.findings
                .retain(|finding| finding.place != place || finding.rule.name != rules::UNKNOWN_NAME.name);
            let word: Arc<str> = tree.text_of(node).into();
            *expr = make(ExprNode::Literal(Value::Name(word)), place, Type::Name);
        }
    }

    fn choices_of(&self, expr: &Expr) -> Option<Vec<Arc<str>>> {
        let kind = match &expr.node {
            ExprNode::Design(id, _) => &self.plan.design[id.index()].kind,
            ExprNode::Reading(id, _) => &self.plan.readings[id.index()].kind,
            _ => return None,
        };
        match kind {
            super::kind::Kind::Choice(choices) => Some(choices.clone()),
            _ => None,
        }
    }

    fn comparison(&mut self, kind: NodeKind, left: Expr, right: Expr, place: Place) -> Expr {
        let comparison = match kind {
            NodeKind::Equal => Comparison::Equal,
            NodeKind::NotEqual => Comparison::NotEqual,
            NodeKind::Less => Comparison::Less,
            NodeKind::AtMost => Comparison::AtMost,
            NodeKind::Greater => Comparison::Greater,
            _ => Comparison::AtLeast,
        };
        let equality = matches!(comparison, Comparison::Equal | Comparison::NotEqual);
        let fits = match (left.ty.element(), right.ty.element()) {
            (Type::Unknown, _) | (_, Type::Unknown) => true,
            (Type::Quantity { .. }, Type::Quantity { .. }) | (Type::Moment, Type::Moment) => {
                left.ty.element() == right.ty.element()
            }
            (Type::Truth, Type::Truth) | (Type::Name, Type::Name) | (Type::Text, Type::Text) => equality,
            (Type::Name, Type::Text) | (Type::Text, Type::Name) => equality,
            _ => false,
        };
        if !fits {
            let message = format!(
                "expected both sides of `{}` to be alike, found {} on the left and {} on the right",
                comparison.sign(),
                left.ty.element(),
                right.ty.element()
            );
            self.mismatch(place, message, &left, &right);
        }
        let ty = if fits { listed(Type::Truth, &[&left.ty, &right.ty]) } else { Type::Unknown };
        make(ExprNode::Compare(comparison, Box::new(left), Box::new(right)), place, ty)
    }

    fn inside(&mut self, left: Expr, right: Expr, place: Place) -> Expr {
        let fits = match (left.ty.element(), &right.ty) {
            (Type::Unknown, _) | (_, Type::Unknown) => true,
            (Type::Quantity { dimension: a, point: p }, Type::Interval { dimension: b, point: q }) => {
                a == b && p == q
            }
            (Type::Quantity { .. }, Type::Quantity { .. }) => {
                matches!(right.node, ExprNode::Design(..)) && left.ty.element() == &right.ty
            }
            (Type::Name, Type::Names) => true,
            _ => false,
        };
        if !fits {
            let message = format!(
                "expected a value and a range of the same dimension around `in`, found {} and {}",
                left.ty, right.ty
            );
            self.mismatch(place, message, &left, &right);
        }
        let ty = if fits { listed(Type::Truth, &[&left.ty]) } else { Type::Unknown };
        make(ExprNode::In(Box::new(left), Box::new(right)), place, ty)
    }

    fn same_types(&mut self, what: &str, left: &Expr, right: &Expr, place: Place) -> Type {
        if left.ty == Type::Unknown {
            return right.ty.clone();
        }
        if right.ty != Type::Unknown && left.ty != right.ty {
            let message = format!("expected {what} to be alike, found {} and {}", left.ty, right.ty);
            self.mismatch(place, message, left, right);
            return Type::Unknown;
        }
        left.ty.clone()
    }

    fn call(&mut self, document: usize, node: NodeId, scope: &Scope, place: Place) -> Expr {
        let tree = self.documents[document].tree;
        let children = self.children(document, node);
        let Some((name_node, arguments)) = children.split_first() else { return wrong(place) };
        let name = tree.text_of(*name_node).to_owned();
        let name_place = self.place(document, *name_node);
        if name == "first-of-lot" {
            return make(ExprNode::FirstOfLot, place, Type::Truth);
        }
        let Some(function) = function::find(&name) else {
            let known: Vec<&str> = function::all().iter().map(|function| function.name).collect();
            let mut finding = Finding::new(
                &rules::UNKNOWN_FUNCTION,
                name_place,
                format!("expected a function of the language, found `{name}`"),
            );
            finding = match nearest(&name, known) {
                Some(near) => finding
                    .help(format!("did you mean `{near}`?"))
                    .fix(format!("write {near}"), vec![(name_place.span, near.to_owned())]),
                None => finding.help("`stagebook explain functions` lists them"),
            };
            self.findings.push(finding);
            return wrong(place);
        };
        if name == "recorded" {
            let argument = arguments.first().map(|argument| self.expr(document, *argument, scope));
            return match argument {
                Some(argument)
                    if matches!(
                        argument.node,
                        ExprNode::Reading(..) | ExprNode::Design(..) | ExprNode::Wrong
                    ) =>
                {
                    make(ExprNode::Recorded(Box::new(argument)), place, Type::Truth)
                }
                _ => {
                    self.findings.push(
                        Finding::new(
                            &rules::WRONG_ARGUMENTS,
                            place,
                            "expected one reading or design value in `recorded(…)`",
                        )
                        .help("write: recorded(ratio[1, U])"),
                    );
                    wrong(place)
                }
            };
        }
        let mut typed = Vec::with_capacity(arguments.len());
        let mut words = Vec::new();
        for (index, argument) in arguments.iter().enumerate() {
            match self.bare_word(document, *argument, scope) {
                Some(word) => {
                    let place = self.place(document, *argument);
                    words.push(index);
                    typed.push(make(ExprNode::Literal(Value::Name(word)), place, Type::Name));
                }
                None => typed.push(self.expr(document, *argument, scope)),
            }
        }
        let count = function.parameters.len();
        let fits = if function.variadic { typed.len() >= count } else { typed.len() == count };
        if !fits {
            let parameters: Vec<&str> = function.parameters.iter().map(|parameter| parameter.name).collect();
            self.findings.push(
                Finding::new(
                    &rules::WRONG_ARGUMENTS,
                    place,
                    format!("expected {count} arguments for `{name}`, found {}", typed.len()),
                )
                .help(format!("write: {name}({})", parameters.join(", "))),
            );
            return wrong(place);
        }
        let types: Vec<Type> = typed.iter().map(|argument| argument.ty.clone()).collect();
        if types.contains(&Type::Unknown) {
            return make(ExprNode::Call(function, typed), place, Type::Unknown);
        }
        match (function.check)(&types) {
            Ok(ty) => make(ExprNode::Call(function, typed), place, ty),
            Err(fault) => {
                let at = fault
                    .argument
                    .and_then(|index| typed.get(index))
                    .map_or(place, |argument| argument.place);
                let word = fault.argument.filter(|index| words.contains(index));
                if let Some(index) = word {
                    let text = self.documents[document].tree.text_of(arguments[index]).to_owned();
                    let known = self.known_names(scope);
                    self.unknown_name(at, "a name of this plan", &text, known.iter().map(String::as_str));
                } else {
                    let parameters: Vec<&str> =
                        function.parameters.iter().map(|parameter| parameter.name).collect();
                    self.findings.push(
                        Finding::new(
                            &rules::WRONG_ARGUMENTS,
                            at,
                            format!("expected {} for `{name}`, found {}", fault.expected, fault.found),
                        )
                        .help(format!(
                            "{name}({}): {}",
                            parameters.join(", "),
                            function.meaning
                        )),
                    );
                }
                wrong(place)
            }
        }
    }

    /// What a path means in a scope; the index is looked at later.
    fn meaning(&self, path: &str, scope: &Scope) -> Option<Meaning> {
        let mut segments = path.split('.');
        let first = segments.next()?;
        let rest: Vec<&str> = segments.collect();
        let own = scope.stage.map(|stage| &self.plan.stages[stage.index()]);
        let stage_name = |stage: &Stage, name: &str| stage.names.get(name).copied();
        match rest.as_slice() {
            [] => {
                if let Some(index) =
                    scope.variables.iter().position(|set| *self.plan.sets[set.index()].name == *first)
                {
                    return Some(Meaning::Variable(index));
                }
                if let Some(found) = own.and_then(|stage| stage_name(stage, first)) {
                    return Some(self.stage_meaning(found));
                }
                if let (None, Some(calc)) = (scope.stage, self.design_calcs.get(first)) {
                    return Some(Meaning::Calc(*calc));
                }
                match first {
                    "yes" => Some(Meaning::Truth(true)),
                    "no" => Some(Meaning::Truth(false)),
                    _ => None,
                }
            }
            [name] if first == "design" => match self.plan.design_by_name.get(*name) {
                Some(id) => Some(Meaning::Design(*id)),
                None => self.design_calcs.get(*name).map(|calc| Meaning::Calc(*calc)),
            },
            [part] => {
                if let Some(found) = own.and_then(|stage| stage_name(stage, first))
                    && let Some(meaning) = self.part_of(found, part)
                {
                    return Some(meaning);
                }
                let stage = self.plan.stage_by_name.get(first)?;
                let found = stage_name(&self.plan.stages[stage.index()], part)?;
                Some(self.stage_meaning(found))
            }
            [name, part] => {
                let stage = self.plan.stage_by_name.get(first)?;
                let found = stage_name(&self.plan.stages[stage.index()], name)?;
                self.part_of(found, part)
            }
            _ => None,
        }
    }

    fn stage_meaning(&self, found: StageName) -> Meaning {
        match found {
            StageName::Reading(id) => Meaning::Reading(id),
            StageName::Calc(id) => Meaning::Calc(id),
            StageName::Log(_) => Meaning::NoValue("a log: name one of its columns, LOG.COLUMN"),
            StageName::Check(_) => Meaning::NoValue("a check, which has no value"),
        }
    }

    fn part_of(&self, found: StageName, part: &str) -> Option<Meaning> {
        match found {
            StageName::Reading(id) => {
                let given = &self.plan.readings[id.index()].given;
                given.iter().position(|kind| kind.name() == part).map(|index| Meaning::Condition(id, index))
            }
            StageName::Log(id) => {
                let columns = &self.plan.logs[id.index()].columns;
                columns
                    .iter()
                    .position(|column| *column.name == *part)
                    .map(|index| Meaning::Column(id, index))
            }
            _ => None,
        }
    }

    fn known_names(&self, scope: &Scope) -> Vec<String> {
        let mut known: Vec<String> =
            scope.variables.iter().map(|set| self.plan.sets[set.index()].name.to_string()).collect();
        known.extend(self.plan.design.iter().map(|item| format!("design.{}", item.name)));
        known.extend(self.design_calcs.keys().map(|name| format!("design.{name}")));
        for (index, stage) in self.plan.stages.iter().enumerate() {
            let own = scope.stage.is_some_and(|own| own.index() == index);
            for (name, found) in &stage.names {
                let full = if own { name.to_string() } else { format!("{}.{name}", stage.name) };
                match found {
                    StageName::Reading(id) => {
                        for kind in &self.plan.readings[id.index()].given {
                            known.push(format!("{full}.{}", kind.name()));
                        }
                    }
                    StageName::Log(id) => {
                        for column in &self.plan.logs[id.index()].columns {
                            known.push(format!("{full}.{}", column.name));
                        }
                    }
                    _ => {}
                }
                known.push(full);
            }
        }
        known.sort();
        known
    }

    fn reference(&mut self, document: usize, node: NodeId, scope: &Scope, place: Place) -> Expr {
        let tree = self.documents[document].tree;
        let Some(path) = tree.child(node, NodeKind::Path) else { return wrong(place) };
        let text = tree.text_of(path).to_owned();
        let path_place = self.place(document, path);
        let index = tree.child(node, NodeKind::Index);
        let Some(meaning) = self.meaning(&text, scope) else {
            if text.ends_with('.') {
                // Half-typed: the parser has said so already.
                return wrong(place);
            }
            if let Some(literal) = self.glued(&text, path_place).filter(|_| index.is_none()) {
                return literal;
            }
            let known = self.known_names(scope);
            let what = if text.starts_with("design.") {
                "a design value of this plan"
            } else {
                "a name of this plan"
            };
            self.unknown_name(path_place, what, &text, known.iter().map(String::as_str));
            return wrong(place);
        };
        let (indices, ty, declared) = match &meaning {
            Meaning::Variable(slot) => {
                let numeric = self.is_numeric(scope.variables[*slot]);
                let ty = if numeric { Type::NUMBER } else { Type::Name };
                (Vec::new(), ty, None)
            }
            Meaning::Design(id) => {
                let item = &self.plan.design[id.index()];
                (item.indices.clone(), item.kind.value_type(), Some(item.place))
            }
            Meaning::Reading(id) => {
                let reading = &self.plan.readings[id.index()];
                (reading.indices.clone(), reading.kind.value_type(), Some(reading.place))
            }
            Meaning::Condition(id, which) => {
                let reading = &self.plan.readings[id.index()];
                (reading.indices.clone(), reading.given[*which].value_type(), Some(reading.place))
            }
            Meaning::Calc(id) => {
                let ty = self.calc_type(*id);
                let calc = &self.plan.calcs[id.index()];
                (calc.indices.clone(), ty, Some(calc.place))
            }
            Meaning::Column(id, which) => {
                let column = &self.plan.logs[id.index()].columns[*which];
                let ty = match column.kind.value_type() {
                    Type::Quantity { dimension, point } => Type::Series { dimension, point },
                    _ => Type::Unknown,
                };
                (Vec::new(), ty, Some(column.place))
            }
            Meaning::Truth(_) => (Vec::new(), Type::Truth, None),
            Meaning::NoValue(what) => {
                let finding = Finding::new(
                    &rules::WRONG_KIND,
                    path_place,
                    format!("expected something that has a value, found `{text}`, which is {what}"),
                );
                self.findings.push(finding);
                return wrong(place);
            }
        };
        let written = index.map(|index| self.children(document, index)).unwrap_or_default();
        if written.len() != indices.len() {
            let names: Vec<String> =
                indices.iter().map(|set| self.plan.sets[set.index()].name.to_string()).collect();
            let expected = match names.len() {
                0 => format!("expected `{text}` without an index"),
                1 => format!("expected one index for `{text}`, [{}]", names[0]),
                count => format!("expected {count} indices for `{text}`, [{}]", names.join(", ")),
            };
            let mut finding =
                Finding::new(&rules::INDEX_COUNT, place, format!("{expected}, found {}", written.len()));
            if let Some(declared) = declared {
                finding = finding.related(declared, "declared here");
            }
            self.findings.push(finding);
            return wrong(place);
        }
        let mut parts = Vec::with_capacity(written.len());
        let mut many = false;
        for (part, set) in written.iter().zip(&indices) {
            match self.index_part(document, *part, *set, scope) {
                Some(part) => {
                    many |= matches!(part, IndexExpr::Every);
                    parts.push(part);
                }
                None => return make(ExprNode::Wrong, place, Type::Unknown),
            }
        }
        let ty = if many && ty != Type::Unknown { Type::List(Box::new(ty)) } else { ty };
        let node = match meaning {
            Meaning::Variable(slot) => ExprNode::Variable(slot),
            Meaning::Design(id) => ExprNode::Design(id, parts),
            Meaning::Reading(id) => ExprNode::Reading(id, parts),
            Meaning::Condition(id, which) => ExprNode::Condition(id, which, parts),
            Meaning::Calc(id) => ExprNode::Calc(id, parts),
            Meaning::Column(id, which) => ExprNode::Column(id, which),
            Meaning::Truth(truth) => ExprNode::Literal(Value::Truth(truth)),
            Meaning::NoValue(_) => ExprNode::Wrong,
        };
        make(node, place, ty)
    }

    /// `40MVA`: one word that is a number with its unit; reported, and read as meant.
    fn glued(&mut self, text: &str, place: Place) -> Option<Expr> {
        let split = text.find(|character: char| !character.is_ascii_digit())?;
        let (number, unit) = text.split_at(split);
        let unit = crate::quantity::parse_unit(unit).ok()?;
        let number = crate::quantity::Rational::parse(number).ok()?;
        let border = place.span.start + split as u32;
        let finding = Finding::new(
            &rules::UNIT_SPACE_MISSING,
            place,
            format!("expected a space between number and unit, found `{text}`"),
        )
        .help(format!("write {} {}, as ISO 80000-1 does", &text[..split], &text[split..]))
        .fix("put a space before the unit", vec![(crate::text::Span::new(border, border), " ".to_owned())]);
        self.findings.push(finding);
        let quantity = Quantity::from_unit(number, &unit);
        let ty = Type::Quantity { dimension: quantity.dimension, point: quantity.point };
        Some(make(ExprNode::Literal(Value::Quantity(quantity)), place, ty))
    }

    pub(super) fn is_numeric(&self, set: SetId) -> bool {
        match &self.plan.sets[set.index()].source {
            SetSource::Members(members) => matches!(members.first(), Some(Member::Number(_))),
            SetSource::Design(_, numeric) => *numeric,
            SetSource::Missing => false,
        }
    }

    fn index_part(&mut self, document: usize, node: NodeId, set: SetId, scope: &Scope) -> Option<IndexExpr> {
        let tree = self.documents[document].tree;
        if tree.kind(node) == NodeKind::Star {
            return Some(IndexExpr::Every);
        }
        let place = self.place(document, node);
        let set_name = self.plan.sets[set.index()].name.clone();
        if let Some(word) = self.bare_word(document, node, scope) {
            if let SetSource::Members(members) = &self.plan.sets[set.index()].source {
                let known: Vec<String> = members.iter().map(Member::to_string).collect();
                if !known.iter().any(|member| **member == *word) {
                    let declared = self.plan.sets[set.index()].place;
                    let mut finding = Finding::new(
                        &rules::UNKNOWN_MEMBER,
                        place,
                        format!("expected a member of `{set_name}` ({}), found `{word}`", known.join(", ")),
                    )
                    .related(declared, "the set is declared here");
                    if let Some(near) = nearest(&word, known.iter().map(String::as_str)) {
                        finding = finding
                            .help(format!("did you mean `{near}`?"))
                            .fix(format!("write {near}"), vec![(place.span, near.to_owned())]);
                    }
                    self.findings.push(finding);
                    return None;
                }
            } else if self.is_numeric(set) {
                let known = self.known_names(scope);
                self.unknown_name(
                    place,
                    &format!("a number or a name that is one, as an index of `{set_name}`"),
                    &word,
                    known.iter().map(String::as_str),
                );
                return None;
            }
            return Some(IndexExpr::Member(word));
        }
        let expr = self.expr(document, node, scope);
        let variable_of = match expr.node {
            ExprNode::Variable(slot) => scope.variables.get(slot).copied(),
            _ => None,
        };
        let fits = match &expr.ty {
            Type::Unknown => return None,
            _ if variable_of.is_some() => {
                variable_of == Some(set) || self.is_numeric(set) && expr.ty == Type::NUMBER
            }
            ty if self.is_numeric(set) => *ty == Type::NUMBER,
            ty => *ty == Type::Name,
        };
        if !fits {
            let found = match variable_of {
                Some(other) => format!("the index `{}`", self.plan.sets[other.index()].name),
                None => expr.ty.to_string(),
            };
            let declared = self.plan.sets[set.index()].place;
            let finding = Finding::new(
                &rules::UNKNOWN_MEMBER,
                place,
                format!("expected a member of `{set_name}` here, found {found}"),
            )
            .related(declared, "the set is declared here")
            .help("indices stand in the order in which the reading declares them");
            self.findings.push(finding);
            return None;
        }
        Some(IndexExpr::At(expr))
    }

    /// The type of a calculated value; types it first if that has not been done.
    pub(super) fn calc_type(&mut self, id: CalcId) -> Type {
        let index = id.index();
        match self.calc_states[index] {
            CalcState::Done => {
                self.highest = self.highest.max(self.calc_heights[index]);
                return self.calc_exprs[index].as_ref().map_or(Type::Unknown, |expr| expr.ty.clone());
            }
            CalcState::Underway => {
                let calc = &self.plan.calcs[index];
                let finding = Finding::new(
                    &rules::CALCULATION_CYCLE,
                    calc.place,
                    format!(
                        "expected `{}` to follow from other values, found that it follows from itself",
                        calc.name
                    ),
                )
                .help(
                    "break the ring: one of the calculations in it must start from readings or design values",
                );
                self.findings.push(finding);
                return Type::Unknown;
            }
            CalcState::Untouched => {}
        }
        self.calc_states[index] = CalcState::Underway;
        self.calc_depth += 1;
        let (at, when, scope) = self.calc_items[index].clone();
        // Each calculated value is evaluated on a depth of its own; the chain of them is bounded apart.
        let outer_depth = std::mem::take(&mut self.depth);
        let outer_highest = std::mem::take(&mut self.highest);
        let mut expr = if self.calc_depth > MAX_CALC_DEPTH {
            self.too_deep(index)
        } else {
            let node = self
                .children(at.document, at.node)
                .into_iter()
                .find(|child| is_expression(self.documents[at.document].tree.kind(*child)));
            match node {
                Some(node) => self.expr(at.document, node, &scope),
                None => wrong(self.place(at.document, at.node)),
            }
        };
        // What `when` refers to belongs to the same ring.
        if let Some(when) = when {
            let findings = self.findings.len();
            self.truth(when, &scope);
            self.findings.truncate(findings);
        }
        // A chain declared from its foot upwards is never deep while it is typed, only when it is evaluated.
        let mut height = self.highest + 1;
        if height > MAX_CALC_DEPTH {
            expr = self.too_deep(index);
            height = 0;
        }
        self.calc_heights[index] = height;
        self.highest = outer_highest.max(height);
        self.depth = outer_depth;
        self.calc_depth -= 1;
        let ty = expr.ty.clone();
        self.calc_exprs[index] = Some(expr);
        self.calc_states[index] = CalcState::Done;
        ty
    }

    /// Reports a chain of calculated values that is too long; nothing follows from its end.
    fn too_deep(&mut self, index: usize) -> Expr {
        let place = self.plan.calcs[index].place;
        self.findings.push(Finding::new(
            &rules::PLAN_TOO_LARGE,
            place,
            format!("expected calculations built on each other at most {MAX_CALC_DEPTH} deep, found more"),
        ));
        wrong(place)
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

/// True for nodes that an expression may consist of.
pub(super) fn is_expression(kind: NodeKind) -> bool {
    use NodeKind::*;
    matches!(
        kind,
        Quantity
            | TextPart
            | DateTime
            | Reference
            | Call
            | Group
            | Negative
            | Not
            | Sum
            | Difference
            | Product
            | Quotient
            | Power
            | Equal
            | NotEqual
            | Less
            | AtMost
            | Greater
            | AtLeast
            | In
            | And
            | Or
            | If
            | Range
            | PlusMinus
            | PlusSlashMinus
    )
}

/// `element`, as a list when any of the operands is one.
fn listed(element: Type, operands: &[&Type]) -> Type {
    if element != Type::Unknown && operands.iter().any(|ty| matches!(ty, Type::List(_))) {
        Type::List(Box::new(element))
    } else {
        element
    }
}

fn arithmetic_type(operator: Operator, left: &Type, right: &Type, right_expr: &Expr) -> Result<Type, String> {
    let sign = operator.sign();
    let quantities = match (left, right) {
        (Type::Quantity { dimension: a, point: p }, Type::Quantity { dimension: b, point: q }) => {
            Some((*a, *p, *b, *q))
        }
        _ => None,
    };
    let time = Type::quantity(Dimension::TIME);
    match (operator, quantities) {
        (Operator::Add | Operator::Subtract, None) => match (operator, left, right) {
            (Operator::Subtract, Type::Moment, Type::Moment) => Ok(time),
            (_, Type::Moment, duration) if *duration == time => Ok(Type::Moment),
            _ => Err(format!("expected two quantities around `{sign}`, found {left} and {right}")),
        },
        (Operator::Add | Operator::Subtract, Some((a, left_point, b, right_point))) => {
            if a != b {
                return Err(format!(
                    "expected both sides of `{sign}` to have the same dimension, found {left} on the left and {right} on the right"
                ));
            }
            let point = match (operator, left_point, right_point) {
                (Operator::Add, true, true) => {
                    return Err("expected at most one temperature on the scale in a sum: two points (°C) cannot be added"
                        .to_owned());
                }
                (Operator::Subtract, false, true) => {
                    return Err("expected a difference (K) after `-`: a point on the scale (°C) cannot be taken from a difference"
                        .to_owned());
                }
                (Operator::Subtract, true, true) => false,
                (_, left_point, right_point) => left_point || right_point,
            };
            Ok(Type::Quantity { dimension: a, point })
        }
        (_, None) => Err(format!("expected two quantities around `{sign}`, found {left} and {right}")),
        (_, Some((_, true, ..) | (_, _, _, true))) => Err(format!(
            "expected quantities that can be multiplied around `{sign}`, found a temperature on the scale (°C): take a difference first, as in (X - 0 °C)"
        )),
        (Operator::Multiply, Some((a, _, b, _))) => Ok(Type::quantity(a.mul(b))),
        (Operator::Divide, Some((a, _, b, _))) => Ok(Type::quantity(a.div(b))),
        (Operator::Power, Some((a, _, b, _))) => {
            if !b.is_none() {
                return Err(format!("expected a plain number as exponent, found {right}"));
            }
            let exponent = whole_literal(right_expr);
            match exponent {
                Some(exponent) if exponent.abs() <= 8 => Ok(Type::quantity(a.powi(exponent))),
                _ if a.is_none() => Ok(Type::quantity(a)),
                _ => Err(format!(
                    "expected a whole exponent of at most 8 for {left}, found `{}`",
                    "another one"
                )),
            }
        }
    }
}

/// The whole number that an exponent is written as.
pub(super) fn whole_literal(expr: &Expr) -> Option<i32> {
    match &expr.node {
        ExprNode::Literal(Value::Quantity(Quantity { value, .. })) => {
            let number = value.to_f64();
            (number.fract() == 0.0 && number.abs() <= 64.0).then_some(number as i32)
        }
        ExprNode::Negative(inner) => whole_literal(inner).map(|value| -value),
        _ => None,
    }
}
