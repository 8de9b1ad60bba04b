//! What can be said of a finished plan as a whole: limits without a source, checks that never apply,
//! more instances than are evaluated.

use super::decisions;
use super::expression::{Expr, ExprNode};
use super::model::*;
use super::operate;
use super::resolve::Resolver;
use super::value::Value;
use crate::finding::Finding;
use crate::finding::rules;
use crate::text::Place;

/// Most instances of readings, logs, calculations and checks that one unit may have in all.
///
/// An instance is one member of a reading's, calculation's or check's index sets: `ratio[tap, phase]`
/// with 17 tappings and 3 phases has 51. Evaluation visits each expression once an instance, so this
/// bounds its time.
pub const MAX_INSTANCES: u64 = 1_000_000;

/// Most elements of lists over whole sets (`x[*]`) that judging one unit may visit.
pub const MAX_STEPS: u64 = 50_000_000;

pub(super) fn check(resolver: &mut Resolver<'_, '_>) {
    let mut findings = Vec::new();
    let plan = &resolver.plan;
    sources(plan, &mut findings);
    ranges(plan, &mut findings);
    applicability(plan, &mut findings);
    sizes(plan, &mut findings);
    decisions::equalities(plan, &mut findings);
    resolver.findings.append(&mut findings);
}

fn sources(plan: &Plan, findings: &mut Vec<Finding>) {
    let mut missing = |place: Place, what: String| {
        findings.push(
            Finding::new(
                &rules::LIMIT_WITHOUT_SOURCE,
                place,
                format!("expected a source for the limit of {what}, found none"),
            )
            .help("add a line `source \"STANDARD, CLAUSE\"`, or source common-practice, works, order or physics"),
        );
    };
    for reading in &plan.readings {
        for limit in &reading.limits {
            if reading.rationale.source.is_none() && limit.rationale.source.is_none() {
                missing(
                    limit.place,
                    format!("`{}`", plan.full_name(Some(reading.stage), &reading.name)),
                );
            }
        }
    }
    for check in &plan.checks {
        for require in &check.requires {
            if check.rationale.source.is_none() && require.rationale.source.is_none() {
                missing(
                    require.place,
                    format!("`{}`", plan.full_name(check.stage, &check.name)),
                );
            }
        }
    }
}

/// Ranges that are written the wrong way round.
fn ranges(plan: &Plan, findings: &mut Vec<Finding>) {
    let mut look = |expr: &Expr| {
        expr.walk(&mut |inner| {
            let ExprNode::Range(low, high) = &inner.node else {
                return;
            };
            let (Some(low), Some(high)) = (constant(low), constant(high)) else {
                return;
            };
            if matches!(
                operate::compare(Comparison::Greater, &low, &high),
                Ok(Value::Truth(true))
            ) {
                findings.push(
                    Finding::new(
                        &rules::WRONG_KIND,
                        inner.place,
                        "expected the lower end of the range first, found the upper one",
                    )
                    .help("nothing lies in a range that runs backwards"),
                );
            }
        });
    };
    for limit in plan.readings.iter().flat_map(|reading| &reading.limits) {
        look(limit.form.expr());
    }
    for require in plan.checks.iter().flat_map(|check| &check.requires) {
        look(&require.expr);
    }
}

fn applicability(plan: &Plan, findings: &mut Vec<Finding>) {
    let mut never = |place: Place, what: &str, name: String| {
        findings.push(
            Finding::new(
                &rules::CHECK_NEVER_APPLIES,
                place,
                format!("expected a condition that some unit can meet, found one that is never met: {what} `{name}` can never apply"),
            )
            .help("mend the condition, or take the line out"),
        );
    };
    let is_never = |when: &Option<Expr>| {
        when.as_ref()
            .is_some_and(never_true)
            .then(|| when.as_ref().map(|w| w.place))
    };
    for check in &plan.checks {
        let name = plan.full_name(check.stage, &check.name);
        if let Some(Some(place)) = is_never(&check.when) {
            never(place, "check", name);
        } else if check.requires.is_empty() {
            never(check.place, "without a `require` line the check", name);
        }
    }
    for reading in &plan.readings {
        if let Some(Some(place)) = is_never(&reading.when) {
            never(
                place,
                "reading",
                plan.full_name(Some(reading.stage), &reading.name),
            );
        }
    }
    for stage in &plan.stages {
        if let Some(Some(place)) = is_never(&stage.when) {
            never(place, "stage", stage.name.to_string());
        }
    }
    for point in &plan.points {
        if let Some(Some(place)) = is_never(&point.when) {
            never(
                place,
                "point",
                plan.full_name(Some(point.stage), &point.name),
            );
        }
    }
}

/// True when a condition cannot hold whatever the unit: it is constant and false, or asks one value to
/// lie on both sides of a gap.
fn never_true(expr: &Expr) -> bool {
    if let Some(Value::Truth(false)) = constant(expr) {
        return true;
    }
    let mut parts = Vec::new();
    conjuncts(expr, &mut parts);
    if parts.len() > 1 && parts.iter().any(|part| never_true(part)) {
        return true;
    }
    parts.iter().enumerate().any(|(index, first)| {
        parts[index + 1..]
            .iter()
            .any(|second| contradict(first, second))
    })
}

fn conjuncts<'e>(expr: &'e Expr, parts: &mut Vec<&'e Expr>) {
    match &expr.node {
        ExprNode::Logic(true, left, right) => {
            conjuncts(left, parts);
            conjuncts(right, parts);
        }
        _ => parts.push(expr),
    }
}

/// `x > 3 and x < 2`, `x = a and x = b`: the same value compared with two constants that exclude each other.
fn contradict(first: &Expr, second: &Expr) -> bool {
    use Comparison::*;
    let (ExprNode::Compare(a, x, low), ExprNode::Compare(b, y, high)) = (&first.node, &second.node)
    else {
        return false;
    };
    if !same_reference(x, y) {
        return false;
    }
    let (Some(low), Some(high)) = (constant(low), constant(high)) else {
        return false;
    };
    let compare = |comparison| {
        matches!(
            operate::compare(comparison, &low, &high),
            Ok(Value::Truth(true))
        )
    };
    match (a, b) {
        (Equal, Equal) => compare(NotEqual),
        (Greater | AtLeast, Less | AtMost) => {
            if *a == AtLeast && *b == AtMost {
                compare(Greater)
            } else {
                compare(AtLeast)
            }
        }
        (Less | AtMost, Greater | AtLeast) => {
            if *a == AtMost && *b == AtLeast {
                compare(Less)
            } else {
                compare(AtMost)
            }
        }
        _ => false,
    }
}

fn same_reference(left: &Expr, right: &Expr) -> bool {
    use super::expression::IndexExpr;
    let indices = |a: &[IndexExpr], b: &[IndexExpr]| {
        a.len() == b.len()
            && a.iter().zip(b).all(|(a, b)| match (a, b) {
                (IndexExpr::Member(a), IndexExpr::Member(b)) => a == b,
                (IndexExpr::At(a), IndexExpr::At(b)) => same_reference(a, b),
                _ => false,
            })
    };
    match (&left.node, &right.node) {
        (ExprNode::Design(a, i), ExprNode::Design(b, j)) => a == b && indices(i, j),
        (ExprNode::Reading(a, i), ExprNode::Reading(b, j)) => a == b && indices(i, j),
        (ExprNode::Calc(a, i), ExprNode::Calc(b, j)) => a == b && indices(i, j),
        (ExprNode::Variable(a), ExprNode::Variable(b)) => a == b,
        _ => false,
    }
}

/// The value of an expression that refers to nothing.
pub fn constant(expr: &Expr) -> Option<Value> {
    match &expr.node {
        ExprNode::Literal(value) => Some(value.clone()),
        ExprNode::Negative(inner) => operate::negative(&constant(inner)?).ok(),
        ExprNode::Not(inner) => match constant(inner)? {
            Value::Truth(truth) => Some(Value::Truth(!truth)),
            _ => None,
        },
        ExprNode::Arithmetic(operator, left, right) => {
            operate::arithmetic(*operator, &constant(left)?, &constant(right)?).ok()
        }
        ExprNode::Compare(comparison, left, right) => {
            operate::compare(*comparison, &constant(left)?, &constant(right)?).ok()
        }
        ExprNode::Logic(both, left, right) => match (constant(left), constant(right)) {
            (Some(Value::Truth(a)), Some(Value::Truth(b))) => {
                Some(Value::Truth(if *both { a && b } else { a || b }))
            }
            (Some(Value::Truth(one)), _) | (_, Some(Value::Truth(one))) if one != *both => {
                Some(Value::Truth(one))
            }
            _ => None,
        },
        ExprNode::Call(function, arguments) => {
            let values: Option<Vec<Value>> = arguments.iter().map(constant).collect();
            (function.evaluate)(&values?).ok()
        }
        _ => None,
    }
}

fn sizes(plan: &Plan, findings: &mut Vec<Finding>) {
    let size = |set: &SetId| match &plan.sets[set.index()].source {
        SetSource::Members(members) => members.len() as u64,
        // Known only with a unit at hand; judged again then.
        SetSource::Design(..) | SetSource::Missing => 1,
    };
    let declared = plan
        .readings
        .iter()
        .map(|item| (&item.name, Some(item.stage), item.place, &item.indices));
    let logs = plan
        .logs
        .iter()
        .map(|item| (&item.name, Some(item.stage), item.place, &item.indices));
    let calcs = plan
        .calcs
        .iter()
        .map(|item| (&item.name, item.stage, item.place, &item.indices));
    let checks = plan
        .checks
        .iter()
        .map(|item| (&item.name, item.stage, item.place, &item.indices));
    let mut total = 0u64;
    for (name, stage, place, indices) in declared.chain(logs).chain(calcs).chain(checks) {
        let instances = indices.iter().map(size).fold(1u64, u64::saturating_mul);
        total = total.saturating_add(instances);
        if total > MAX_INSTANCES {
            findings.push(too_large(place, &plan.full_name(stage, name), total));
            return;
        }
    }
}

/// The finding for a plan whose sets make more instances than are evaluated.
pub fn too_large(place: Place, name: &str, total: u64) -> Finding {
    Finding::new(
        &rules::PLAN_TOO_LARGE,
        place,
        format!("expected at most {MAX_INSTANCES} instances in all, found {total} with those of `{name}`"),
    )
    .help("make the sets smaller, or index by fewer of them; nothing of the plan was evaluated")
}
