//! Typing: a tree's expression to a typed one, each name looked up, each dimension checked.

use super::expression::{Expr, ExprNode, Operator};
use super::model::*;
use super::resolve::{CalcState, MAX_CALC_DEPTH, Resolver};
use super::types::Type;
use super::value::Value;
use crate::finding::Finding;
use crate::finding::rules;
use crate::quantity::{Dimension, Quantity};
use crate::syntax::{NodeId, NodeKind};
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
    Expr {
        node: ExprNode::Wrong,
        place,
        ty: Type::Unknown,
    }
}

pub(super) fn make(node: ExprNode, place: Place, ty: Type) -> Expr {
    Expr { node, place, ty }
}

impl Resolver<'_, '_> {
    pub(super) fn children(&self, document: usize, node: NodeId) -> Vec<NodeId> {
        self.documents[document].tree.children(node).collect()
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

    pub(super) fn expr_inside(
        &mut self,
        document: usize,
        node: NodeId,
        scope: &Scope,
        place: Place,
    ) -> Expr {
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
                Ok(seconds) => make(
                    ExprNode::Literal(Value::Moment(seconds)),
                    place,
                    Type::Moment,
                ),
                Err(fault) => {
                    self.findings
                        .push(Finding::new(&rules::IMPOSSIBLE_DATE, place, fault));
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
                make(
                    ExprNode::Logic(kind == K::And, Box::new(left), Box::new(right)),
                    place,
                    ty,
                )
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
                make(
                    ExprNode::If(Box::new(condition), Box::new(yes), Box::new(no)),
                    place,
                    ty,
                )
            }
            K::Range | K::PlusMinus | K::PlusSlashMinus => {
                self.interval_expr(document, node, scope, place)
            }
            _ => wrong(place),
        }
    }

    pub(super) fn operand(
        &mut self,
        document: usize,
        node: Option<NodeId>,
        scope: &Scope,
        place: Place,
    ) -> Expr {
        match node {
            Some(node) => self.expr(document, node, scope),
            None => wrong(place),
        }
    }

    pub(super) fn literal(&mut self, document: usize, node: NodeId, place: Place) -> Expr {
        let tree = self.documents[document].tree;
        let Some(written) = tree.quantity(node) else {
            return wrong(place);
        };
        let file = self.documents[document].file;
        match super::literal::read(&written, file) {
            Ok(quantity) => {
                let ty = Type::Quantity {
                    dimension: quantity.dimension,
                    point: quantity.point,
                };
                make(ExprNode::Literal(Value::Quantity(quantity)), place, ty)
            }
            Err(finding) => {
                self.findings.push(*finding);
                wrong(place)
            }
        }
    }

    pub(super) fn expect_truth(&mut self, expr: &Expr) {
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

    pub(super) fn mismatch(&mut self, place: Place, message: String, left: &Expr, right: &Expr) {
        let finding = Finding::new(&rules::DIMENSION_MISMATCH, place, message)
            .related(left.place, format!("this is {}", left.ty))
            .related(right.place, format!("this is {}", right.ty));
        self.findings.push(finding);
    }

    pub(super) fn negative_type(&mut self, inner: &Expr) -> Type {
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

    pub(super) fn arithmetic(
        &mut self,
        kind: NodeKind,
        left: Expr,
        right: Expr,
        place: Place,
    ) -> Expr {
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
        make(
            ExprNode::Arithmetic(operator, Box::new(left), Box::new(right)),
            place,
            ty,
        )
    }

    /// Types two sides that must be alike; a bare word on one side is a name when the other side is.
    pub(super) fn compared(
        &mut self,
        document: usize,
        left: Option<NodeId>,
        right: Option<NodeId>,
        scope: &Scope,
        place: Place,
    ) -> (Expr, Expr) {
        let (Some(left), Some(right)) = (left, right) else {
            return (wrong(place), wrong(place));
        };
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
        (
            self.expr(document, left, scope),
            self.expr(document, right, scope),
        )
    }

    /// The word when `node` is one plain name that means nothing in this scope.
    pub(super) fn bare_word(
        &self,
        document: usize,
        node: NodeId,
        scope: &Scope,
    ) -> Option<Arc<str>> {
        let tree = self.documents[document].tree;
        if tree.kind(node) != NodeKind::Reference || tree.child(node, NodeKind::Index).is_some() {
            return None;
        }
        let path = tree.child(node, NodeKind::Path)?;
        let text = tree.text_of(path);
        (!text.contains('.') && self.meaning(text, scope).is_none()).then(|| text.into())
    }

    pub(super) fn word_against(
        &mut self,
        document: usize,
        node: NodeId,
        word: Option<Arc<str>>,
        other: &Expr,
        scope: &Scope,
    ) -> Expr {
        let place = self.place(document, node);
        let Some(word) = word else {
            return wrong(place);
        };
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
    pub(super) fn name_constant(
        &mut self,
        document: usize,
        node: NodeId,
        expr: &mut Expr,
        ty: &Type,
    ) {
        let tree = self.documents[document].tree;
        if *ty == Type::Name && expr.ty == Type::Unknown && tree.kind(node) == NodeKind::Reference {
            // The word was reported as unknown; it is a name after all.
            let place = expr.place;
            self.findings.retain(|finding| {
                finding.place != place || finding.rule.name != rules::UNKNOWN_NAME.name
            });
            let word: Arc<str> = tree.text_of(node).into();
            *expr = make(ExprNode::Literal(Value::Name(word)), place, Type::Name);
        }
    }

    pub(super) fn choices_of(&self, expr: &Expr) -> Option<Vec<Arc<str>>> {
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

    pub(super) fn comparison(
        &mut self,
        kind: NodeKind,
        left: Expr,
        right: Expr,
        place: Place,
    ) -> Expr {
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
            (Type::Truth, Type::Truth) | (Type::Name, Type::Name) | (Type::Text, Type::Text) => {
                equality
            }
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
        let ty = if fits {
            listed(Type::Truth, &[&left.ty, &right.ty])
        } else {
            Type::Unknown
        };
        make(
            ExprNode::Compare(comparison, Box::new(left), Box::new(right)),
            place,
            ty,
        )
    }

    pub(super) fn inside(&mut self, left: Expr, right: Expr, place: Place) -> Expr {
        let fits = match (left.ty.element(), &right.ty) {
            (Type::Unknown, _) | (_, Type::Unknown) => true,
            (
                Type::Quantity {
                    dimension: a,
                    point: p,
                },
                Type::Interval {
                    dimension: b,
                    point: q,
                },
            ) => a == b && p == q,
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
        let ty = if fits {
            listed(Type::Truth, &[&left.ty])
        } else {
            Type::Unknown
        };
        make(ExprNode::In(Box::new(left), Box::new(right)), place, ty)
    }

    pub(super) fn same_types(
        &mut self,
        what: &str,
        left: &Expr,
        right: &Expr,
        place: Place,
    ) -> Type {
        if left.ty == Type::Unknown {
            return right.ty.clone();
        }
        if right.ty != Type::Unknown && left.ty != right.ty {
            let message = format!(
                "expected {what} to be alike, found {} and {}",
                left.ty, right.ty
            );
            self.mismatch(place, message, left, right);
            return Type::Unknown;
        }
        left.ty.clone()
    }

    /// The type of a calculated value; types it first if that has not been done.
    pub(super) fn calc_type(&mut self, id: CalcId) -> Type {
        let index = id.index();
        match self.calc_states[index] {
            CalcState::Done => {
                self.highest = self.highest.max(self.calc_heights[index]);
                // Once all are typed, the expressions stand in the plan.
                let expr = self.calc_exprs[index].as_ref();
                return expr.unwrap_or(&self.plan.calcs[index].expr).ty.clone();
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
                self.plan.has_ring = true;
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
            let before = self.findings.len();
            self.truth(when, &scope);
            // Its own faults are told where it is typed for good; a ring shows only here.
            let rings: Vec<Finding> = self
                .findings
                .drain(before..)
                .filter(|finding| finding.rule.name == rules::CALCULATION_CYCLE.name)
                .collect();
            self.findings.extend(rings);
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
    pub(super) fn too_deep(&mut self, index: usize) -> Expr {
        let place = self.plan.calcs[index].place;
        self.findings.push(Finding::new(
            &rules::PLAN_TOO_LARGE,
            place,
            format!("expected calculations built on each other at most {MAX_CALC_DEPTH} deep, found more"),
        ));
        wrong(place)
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

fn arithmetic_type(
    operator: Operator,
    left: &Type,
    right: &Type,
    right_expr: &Expr,
) -> Result<Type, String> {
    let sign = operator.sign();
    let quantities = match (left, right) {
        (
            Type::Quantity {
                dimension: a,
                point: p,
            },
            Type::Quantity {
                dimension: b,
                point: q,
            },
        ) => Some((*a, *p, *b, *q)),
        _ => None,
    };
    let time = Type::quantity(Dimension::TIME);
    match (operator, quantities) {
        (Operator::Add | Operator::Subtract, None) => match (operator, left, right) {
            (Operator::Subtract, Type::Moment, Type::Moment) => Ok(time),
            (_, Type::Moment, duration) if *duration == time => Ok(Type::Moment),
            _ => Err(format!(
                "expected two quantities around `{sign}`, found {left} and {right}"
            )),
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
            Ok(Type::Quantity {
                dimension: a,
                point,
            })
        }
        (_, None) => Err(format!(
            "expected two quantities around `{sign}`, found {left} and {right}"
        )),
        (_, Some((_, true, ..) | (_, _, _, true))) => Err(format!(
            "expected quantities that can be multiplied around `{sign}`, found a temperature on the scale (°C): take a difference first, as in (X - 0 °C)"
        )),
        (Operator::Multiply, Some((a, _, b, _))) => Ok(Type::quantity(a.mul(b))),
        (Operator::Divide, Some((a, _, b, _))) => Ok(Type::quantity(a.div(b))),
        (Operator::Power, Some((a, _, b, _))) => {
            if !b.is_none() {
                return Err(format!(
                    "expected a plain number as exponent, found {right}"
                ));
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
