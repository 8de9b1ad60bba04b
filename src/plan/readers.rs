//! Who reads what: from a reading, a log or a calculated value to the limits, checks and calculated values in which it
//! stands, and to their instances.

use super::expression::{Expr, ExprNode, IndexExpr};
use super::model::*;
use std::sync::Arc;

/// What expressions read, for each of its instances.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Read {
    /// A reading or a condition of it.
    Reading(ReadingId),
    /// A column of a log.
    Log(LogId),
    /// A calculated value.
    Calc(CalcId),
}

/// Whose expressions read something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum By {
    /// The limits of a reading, or what says whether it is asked for.
    Reading(ReadingId),
    /// A check.
    Check(CheckId),
    /// A calculated value.
    Calc(CalcId),
}

/// One place at which something is read.
#[derive(Debug)]
pub struct Reader {
    /// In whose expression it stands.
    pub by: By,
    /// The indices behind it.
    pub indices: Box<[Index]>,
}

/// Which member an index means.
#[derive(Debug)]
pub enum Index {
    /// That of the reader's n-th set: one instance of the reader reads one member.
    Own(usize),
    /// This one.
    Member(Arc<str>),
    /// All, or one that is calculated.
    Any,
}

/// Every place of a plan at which something is read, by what is read.
#[derive(Debug, Default)]
pub struct Readers {
    readings: Vec<Vec<Reader>>,
    logs: Vec<Vec<Reader>>,
    calcs: Vec<Vec<Reader>>,
}

impl Readers {
    /// Gathers them from all expressions of a plan.
    pub fn of(plan: &Plan) -> Readers {
        let none = |count: usize| (0..count).map(|_| Vec::new()).collect();
        let mut readers = Readers {
            readings: none(plan.readings.len()),
            logs: none(plan.logs.len()),
            calcs: none(plan.calcs.len()),
        };
        for (index, reading) in plan.readings.iter().enumerate() {
            let by = By::Reading(ReadingId(index as u32));
            let limits = reading.limits.iter().map(|limit| limit.form.expr());
            for expr in limits.chain(&reading.when) {
                readers.gather(plan, by, &reading.indices, expr);
            }
        }
        for (index, check) in plan.checks.iter().enumerate() {
            let by = By::Check(CheckId(index as u32));
            let requires = check.requires.iter().map(|require| &require.expr);
            for expr in requires.chain(&check.when) {
                readers.gather(plan, by, &check.indices, expr);
            }
        }
        for (index, calc) in plan.calcs.iter().enumerate() {
            let by = By::Calc(CalcId(index as u32));
            for expr in std::iter::once(&calc.expr).chain(&calc.when) {
                readers.gather(plan, by, &calc.indices, expr);
            }
        }
        readers
    }

    /// Where something is read.
    pub fn who_read(&self, what: Read) -> &[Reader] {
        match what {
            Read::Reading(id) => &self.readings[id.index()],
            Read::Log(id) => &self.logs[id.index()],
            Read::Calc(id) => &self.calcs[id.index()],
        }
    }

    fn gather(&mut self, plan: &Plan, by: By, own: &[SetId], expr: &Expr) {
        expr.walk(&mut |part| {
            let (readers, sets, indices) = match &part.node {
                ExprNode::Reading(id, indices) | ExprNode::Condition(id, _, indices) => {
                    let sets = &plan.readings[id.index()].indices;
                    (&mut self.readings[id.index()], sets, indices)
                }
                ExprNode::Column(id, _, indices) => {
                    let sets = &plan.logs[id.index()].indices;
                    (&mut self.logs[id.index()], sets, indices)
                }
                ExprNode::Calc(id, indices) => {
                    let sets = &plan.calcs[id.index()].indices;
                    (&mut self.calcs[id.index()], sets, indices)
                }
                _ => return,
            };
            let indices = indices.iter().zip(sets);
            readers.push(Reader {
                by,
                indices: indices
                    .map(|(index, set)| meant(index, *set, own))
                    .collect(),
            });
        });
    }
}

fn meant(index: &IndexExpr, set: SetId, own: &[SetId]) -> Index {
    match index {
        IndexExpr::Member(name) => Index::Member(name.clone()),
        // The variable of another set means a member of the same name, which is looked up.
        IndexExpr::At(Expr {
            node: ExprNode::Variable(variable),
            ..
        }) if own.get(*variable) == Some(&set) => Index::Own(*variable),
        IndexExpr::At(_) | IndexExpr::Every => Index::Any,
    }
}
