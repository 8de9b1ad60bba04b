//! Expressions made ready: names resolved, types known.

use super::function::Function;
use super::model::{CalcId, Comparison, DesignId, LogId, ReadingId};
use super::types::Type;
use super::value::Value;
use crate::text::Place;
use std::sync::Arc;

/// A typed expression.
#[derive(Clone, Debug)]
pub struct Expr {
    /// What it is.
    pub node: ExprNode,
    /// Where it stands.
    pub place: Place,
    /// The type of its value.
    pub ty: Type,
}

/// The forms of an expression.
#[derive(Clone, Debug)]
pub enum ExprNode {
    /// A value written in the plan.
    Literal(Value),
    /// The loop variable of the n-th set that the declaration is indexed by.
    Variable(usize),
    /// A design value.
    Design(DesignId, Vec<IndexExpr>),
    /// A reading.
    Reading(ReadingId, Vec<IndexExpr>),
    /// The n-th condition of a reading.
    Condition(ReadingId, usize, Vec<IndexExpr>),
    /// A calculated value.
    Calc(CalcId, Vec<IndexExpr>),
    /// The n-th column of a log.
    Column(LogId, usize, Vec<IndexExpr>),
    /// Minus.
    Negative(Box<Expr>),
    /// Not.
    Not(Box<Expr>),
    /// Arithmetic.
    Arithmetic(Operator, Box<Expr>, Box<Expr>),
    /// A comparison.
    Compare(Comparison, Box<Expr>, Box<Expr>),
    /// Both must hold (true) or one must (false).
    Logic(bool, Box<Expr>, Box<Expr>),
    /// Left lies in right.
    In(Box<Expr>, Box<Expr>),
    /// If, then, else.
    If(Box<Expr>, Box<Expr>, Box<Expr>),
    /// A function of the catalogue.
    Call(&'static Function, Vec<Expr>),
    /// `recorded(x)`: whether a reading is there.
    Recorded(Box<Expr>),
    /// `first-of-lot()`.
    FirstOfLot,
    /// `a .. b`.
    Range(Box<Expr>, Box<Expr>),
    /// `x +- t`.
    Around(Box<Expr>, Box<Expr>),
    /// `x +3/-0 mm`.
    Toleranced(Box<Expr>, Box<Expr>, Box<Expr>),
    /// Could not be resolved; reported.
    Wrong,
}

/// One index of a reference.
#[derive(Clone, Debug)]
pub enum IndexExpr {
    /// `*`: all members.
    Every,
    /// One member, named in the plan.
    Member(Arc<str>),
    /// One member, calculated.
    At(Expr),
}

/// Arithmetic operators.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Operator {
    /// `+`
    Add,
    /// `-`
    Subtract,
    /// `*`
    Multiply,
    /// `/`
    Divide,
    /// `^`
    Power,
}

impl Operator {
    /// The sign as people read it.
    pub fn sign(self) -> &'static str {
        match self {
            Operator::Add => "+",
            Operator::Subtract => "-",
            Operator::Multiply => "*",
            Operator::Divide => "/",
            Operator::Power => "^",
        }
    }
}

impl Expr {
    /// Calls `visit` on this expression and everything inside it.
    pub fn walk<'e>(&'e self, visit: &mut dyn FnMut(&'e Expr)) {
        visit(self);
        match &self.node {
            ExprNode::Design(_, indices)
            | ExprNode::Reading(_, indices)
            | ExprNode::Condition(_, _, indices)
            | ExprNode::Calc(_, indices)
            | ExprNode::Column(_, _, indices) => {
                for index in indices {
                    if let IndexExpr::At(expr) = index {
                        expr.walk(visit);
                    }
                }
            }
            ExprNode::Negative(inner) | ExprNode::Not(inner) | ExprNode::Recorded(inner) => {
                inner.walk(visit)
            }
            ExprNode::Arithmetic(_, left, right)
            | ExprNode::Compare(_, left, right)
            | ExprNode::Logic(_, left, right)
            | ExprNode::In(left, right)
            | ExprNode::Range(left, right)
            | ExprNode::Around(left, right) => {
                left.walk(visit);
                right.walk(visit);
            }
            ExprNode::If(a, b, c) | ExprNode::Toleranced(a, b, c) => {
                a.walk(visit);
                b.walk(visit);
                c.walk(visit);
            }
            ExprNode::Call(_, arguments) => {
                arguments.iter().for_each(|argument| argument.walk(visit))
            }
            ExprNode::Literal(_)
            | ExprNode::Variable(_)
            | ExprNode::FirstOfLot
            | ExprNode::Wrong => {}
        }
    }
}
