//! Type tests: what a plan asks of the first unit of a lot only.

use super::expression::{Expr, ExprNode};
use super::model::Plan;

/// Which stages of a plan hold type tests, and which readings, logs and checks of other stages are such.
#[derive(Clone, Debug, Default)]
pub struct TypeTests {
    /// For each stage: it applies for the first unit of a lot.
    pub stages: Vec<bool>,
    /// For each reading.
    pub readings: Vec<bool>,
    /// For each log.
    pub logs: Vec<bool>,
    /// For each check.
    pub checks: Vec<bool>,
    /// For each point.
    pub points: Vec<bool>,
}

impl TypeTests {
    /// What the `when` lines of a plan say.
    pub fn of(plan: &Plan) -> TypeTests {
        let asks = |when: &Option<Expr>| when.as_ref().is_some_and(|when| asks_first(when, true));
        TypeTests {
            stages: plan.stages.iter().map(|item| asks(&item.when)).collect(),
            readings: plan.readings.iter().map(|item| asks(&item.when)).collect(),
            logs: plan.logs.iter().map(|item| asks(&item.when)).collect(),
            checks: plan.checks.iter().map(|item| asks(&item.when)).collect(),
            points: plan.points.iter().map(|item| asks(&item.when)).collect(),
        }
    }

    /// True when the plan has any.
    pub fn any(&self) -> bool {
        [
            &self.stages,
            &self.readings,
            &self.logs,
            &self.checks,
            &self.points,
        ]
        .iter()
        .any(|list| list.contains(&true))
    }
}

/// True when an expression asks for `first-of-lot()` without denying it: what stands behind `not` is for the
/// later units.
fn asks_first(expr: &Expr, affirmed: bool) -> bool {
    match &expr.node {
        ExprNode::FirstOfLot => affirmed,
        ExprNode::Not(inner) => asks_first(inner, !affirmed),
        ExprNode::Logic(_, left, right) => {
            asks_first(left, affirmed) || asks_first(right, affirmed)
        }
        ExprNode::If(condition, yes, no) => {
            asks_first(condition, affirmed) || asks_first(yes, affirmed) || asks_first(no, affirmed)
        }
        _ => false,
    }
}
