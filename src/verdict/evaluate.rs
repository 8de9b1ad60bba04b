//! Evaluation: the value of an expression for one instance, exact where it can be, unknown where an input
//! is not recorded. Total: expressions are finite, calculated values cannot be circular, sets are bounded.

use super::probe::{Probe, Source};
use crate::plan::value::Value;
use crate::plan::*;
use crate::quantity::{Interval, Number, Quantity, QuantityFault};
use crate::record::{EMPTY, Entry, LogData, Record, Recorded, members_of, slot, slots};
use std::cell::RefCell;
use std::sync::Arc;

/// Why there is no value.
#[derive(Clone, Debug, PartialEq)]
pub enum Stop {
    /// An input is not recorded.
    Unknown,
    /// The inputs are there but have no result: division by zero, outside a formula's domain.
    Fault(String),
}

/// A value, or why there is none.
pub type Outcome = Result<Value, Stop>;

/// For which members of which sets an expression is evaluated.
#[derive(Clone, Copy, Debug)]
pub struct Env<'e> {
    /// The sets of the declaration.
    pub sets: &'e [SetId],
    /// A member of each.
    pub members: &'e [u32],
}

impl Env<'_> {
    /// No index at all.
    pub const NONE: Env<'static> = Env {
        sets: &[],
        members: &[],
    };
}

/// Evaluates the expressions of a plan on a record.
pub struct Evaluator<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// The record.
    pub record: &'a Record,
    /// Looks into calculated values, where uncertainties are carried through them.
    pub(super) probe: Option<Probe<'a>>,
    calcs: RefCell<Vec<Vec<Option<Outcome>>>>,
}

impl<'a> Evaluator<'a> {
    /// An evaluator with nothing calculated yet.
    pub fn new(plan: &'a Plan, record: &'a Record) -> Evaluator<'a> {
        let calcs = RefCell::new(plan.calcs.iter().map(|_| Vec::new()).collect());
        Evaluator {
            plan,
            record,
            probe: None,
            calcs,
        }
    }

    /// True for the first unit of a lot, and for a unit without a lot.
    pub fn first_of_lot(&self) -> bool {
        self.record
            .header
            .lot
            .as_ref()
            .and_then(|lot| lot.number)
            .is_none_or(|number| number == 1)
    }

    /// The value of an expression.
    pub fn eval(&self, expr: &Expr, env: Env<'_>) -> Outcome {
        self.worked(1);
        match &expr.node {
            ExprNode::Literal(value) => Ok(value.clone()),
            ExprNode::Variable(index) => self.variable(*index, env),
            ExprNode::Design(id, indices) => {
                let sets = &self.plan.design[id.index()].indices;
                self.gather(sets, indices, env, &|slot| self.design_value(*id, slot))
            }
            ExprNode::Reading(id, indices) => {
                let sets = &self.plan.readings[id.index()].indices;
                self.gather(sets, indices, env, &|slot| self.reading_value(*id, slot))
            }
            ExprNode::Condition(id, which, indices) => {
                let sets = &self.plan.readings[id.index()].indices;
                self.gather(sets, indices, env, &|slot| {
                    self.condition_value(*id, *which, slot)
                })
            }
            ExprNode::Calc(id, indices) => {
                let sets = &self.plan.calcs[id.index()].indices;
                self.gather(sets, indices, env, &|slot| self.calc(*id, slot))
            }
            ExprNode::Column(id, which, indices) => {
                let sets = &self.plan.logs[id.index()].indices;
                self.gather(sets, indices, env, &|slot| self.column(*id, *which, slot))
            }
            ExprNode::Negative(inner) => {
                operate::negative(&self.eval(inner, env)?).map_err(Stop::Fault)
            }
            ExprNode::Not(inner) => not(self.eval(inner, env)?),
            ExprNode::Arithmetic(operator, left, right) => {
                let left = self.eval(left, env)?;
                let right = self.eval(right, env)?;
                operate::arithmetic(*operator, &left, &right).map_err(Stop::Fault)
            }
            ExprNode::Compare(comparison, left, right) => {
                let left = self.eval(left, env)?;
                let right = self.eval(right, env)?;
                operate::compare(*comparison, &left, &right).map_err(Stop::Fault)
            }
            ExprNode::Logic(both, left, right) => self.logic(*both, left, right, env),
            ExprNode::In(left, right) => {
                let left = self.eval(left, env)?;
                let right = match self.interval(right, env)? {
                    Some(interval) => Value::Interval(Arc::new(interval)),
                    None => self.eval(right, env)?,
                };
                operate::inside(&left, &right).map_err(Stop::Fault)
            }
            ExprNode::If(condition, yes, no) => match self.settled().eval(condition, env)? {
                Value::Truth(true) => self.eval(yes, env),
                Value::Truth(false) => self.eval(no, env),
                _ => Err(Stop::Unknown),
            },
            ExprNode::Call(function, arguments) => {
                let values = arguments
                    .iter()
                    .map(|argument| self.eval(argument, env))
                    .collect::<Result<Vec<_>, _>>();
                let values = match values {
                    Ok(values) => values,
                    Err(stop) => {
                        return self
                            .partly_known(function.name, arguments, env)
                            .unwrap_or(Err(stop));
                    }
                };
                (function.evaluate)(&values).map_err(|fault| Stop::Fault(fault.0))
            }
            ExprNode::Recorded(inner) => match self.settled().eval(inner, env) {
                Ok(_) => Ok(Value::Truth(true)),
                Err(_) => Ok(Value::Truth(false)),
            },
            ExprNode::FirstOfLot => Ok(Value::Truth(self.first_of_lot())),
            ExprNode::Range(..) | ExprNode::Around(..) | ExprNode::Toleranced(..) => {
                match self.interval(expr, env)? {
                    Some(interval) => Ok(Value::Interval(Arc::new(interval))),
                    None => Err(Stop::Unknown),
                }
            }
            ExprNode::Wrong => Err(Stop::Unknown),
        }
    }

    /// Functions that have an answer although some elements of their list are unknown.
    fn partly_known(&self, name: &str, arguments: &[Expr], env: Env<'_>) -> Option<Outcome> {
        let [argument] = arguments else { return None };
        let elements = self.elements(argument, env)?;
        match name {
            "count" => {
                let known = elements.iter().filter(|element| element.is_ok()).count();
                Some(Ok(Value::Quantity(Quantity::plain(Number::whole(
                    known as i64,
                )))))
            }
            "all" | "any" => {
                let decisive = name == "any";
                let decided = elements.iter().any(
                    |element| matches!(element, Ok(Value::Truth(truth)) if *truth == decisive),
                );
                decided.then_some(Ok(Value::Truth(decisive)))
            }
            _ => None,
        }
    }

    /// Each element of a plain list reference by itself.
    fn elements(&self, expr: &Expr, env: Env<'_>) -> Option<Vec<Outcome>> {
        let collect = |sets: &[SetId], indices: &[IndexExpr], value: &dyn Fn(usize) -> Outcome| {
            let slots = self.slots_of(sets, indices, env).ok()?;
            self.worked(slots.len() as u64);
            Some(slots.into_iter().map(value).collect())
        };
        match &expr.node {
            ExprNode::Reading(id, indices) => {
                collect(&self.plan.readings[id.index()].indices, indices, &|slot| {
                    self.reading_value(*id, slot)
                })
            }
            ExprNode::Calc(id, indices) => {
                collect(&self.plan.calcs[id.index()].indices, indices, &|slot| {
                    self.calc(*id, slot)
                })
            }
            ExprNode::Design(id, indices) => {
                collect(&self.plan.design[id.index()].indices, indices, &|slot| {
                    self.design_value(*id, slot)
                })
            }
            ExprNode::Compare(comparison, left, right) => {
                let right = self.eval(right, env).ok()?;
                let left = self.elements(left, env)?;
                Some(
                    left.into_iter()
                        .map(|element| {
                            operate::compare(*comparison, &element?, &right).map_err(Stop::Fault)
                        })
                        .collect(),
                )
            }
            _ => None,
        }
    }

    fn logic(&self, both: bool, left: &Expr, right: &Expr, env: Env<'_>) -> Outcome {
        // Three-valued: a known side may decide although the other is unknown.
        let left = self.eval(left, env);
        if let Ok(Value::Truth(truth)) = left
            && truth != both
        {
            return Ok(Value::Truth(truth));
        }
        let right = self.eval(right, env);
        if matches!(left, Ok(Value::List(_))) || matches!(right, Ok(Value::List(_))) {
            return element_by_element(both, left?, right?);
        }
        match (left, right) {
            (_, Ok(Value::Truth(truth))) if truth != both => Ok(Value::Truth(truth)),
            (Ok(Value::Truth(_)), Ok(Value::Truth(_))) => Ok(Value::Truth(both)),
            (Err(Stop::Fault(fault)), _) | (_, Err(Stop::Fault(fault))) => Err(Stop::Fault(fault)),
            _ => Err(Stop::Unknown),
        }
    }

    /// The interval that an expression stands for: a range, a toleranced value, or a design value that
    /// carries its tolerance. `None` when it is something else.
    pub fn interval(&self, expr: &Expr, env: Env<'_>) -> Result<Option<Interval>, Stop> {
        let quantity = |expr: &Expr| match self.eval(expr, env)? {
            Value::Quantity(quantity) => Ok(quantity),
            _ => Err(Stop::Unknown),
        };
        let around = |result: Result<Interval, QuantityFault>| {
            result
                .map(Some)
                .map_err(|fault| Stop::Fault(fault.to_string()))
        };
        match &expr.node {
            ExprNode::Range(low, high) => {
                Ok(Some(Interval::between(quantity(low)?, quantity(high)?)))
            }
            ExprNode::Around(value, tolerance) => {
                let tolerance = quantity(tolerance)?;
                around(Interval::around(quantity(value)?, tolerance, tolerance))
            }
            ExprNode::Toleranced(value, plus, minus) => around(Interval::around(
                quantity(value)?,
                quantity(plus)?,
                quantity(minus)?,
            )),
            ExprNode::Design(id, indices) => {
                let sets = &self.plan.design[id.index()].indices;
                let slots = self.slots_of(sets, indices, env)?;
                let Some(entry) = slots.first().and_then(|slot| self.design_entry(*id, *slot))
                else {
                    return Err(Stop::Unknown);
                };
                match &entry.value {
                    Recorded::Tolerance(_, interval) => Ok(Some((**interval).clone())),
                    Recorded::Value(Value::Quantity(quantity)) => {
                        Ok(Some(Interval::exactly(*quantity)))
                    }
                    Recorded::Value(_) => Ok(None),
                    _ => Err(Stop::Unknown),
                }
            }
            _ => Ok(None),
        }
    }

    fn variable(&self, index: usize, env: Env<'_>) -> Outcome {
        let (Some(set), Some(member)) = (env.sets.get(index), env.members.get(index)) else {
            return Err(Stop::Unknown);
        };
        match self.record.domains[set.index()]
            .members
            .get(*member as usize)
        {
            Some(Member::Name(name)) => Ok(Value::Name(name.clone())),
            Some(Member::Number(number)) => {
                Ok(Value::Quantity(Quantity::plain(Number::whole(*number))))
            }
            None => Err(Stop::Unknown),
        }
    }

    /// One value, or the list of all where an index is `*`.
    fn gather(
        &self,
        sets: &[SetId],
        indices: &[IndexExpr],
        env: Env<'_>,
        value: &dyn Fn(usize) -> Outcome,
    ) -> Outcome {
        if indices
            .iter()
            .any(|index| matches!(index, IndexExpr::Every))
        {
            let slots = self.slots_of(sets, indices, env)?;
            self.worked(slots.len() as u64);
            let values = slots
                .into_iter()
                .map(value)
                .collect::<Result<Vec<_>, _>>()?;
            return Ok(Value::List(values.into()));
        }
        let mut members = [0u32; MAX_INDICES];
        for (position, (index, set)) in indices.iter().zip(sets).enumerate().take(MAX_INDICES) {
            members[position] = self.member(index, *set, env)?;
        }
        value(slot(
            &self.record.domains,
            sets,
            &members[..sets.len().min(MAX_INDICES)],
        ))
    }

    /// The member that one index means.
    fn member(&self, index: &IndexExpr, set: SetId, env: Env<'_>) -> Result<u32, Stop> {
        let domain = &self.record.domains[set.index()];
        match index {
            IndexExpr::Every => Err(Stop::Unknown),
            IndexExpr::Member(name) => domain.lookup.get(name).copied().ok_or(Stop::Unknown),
            IndexExpr::At(expr) => {
                if let ExprNode::Variable(variable) = expr.node
                    && env.sets.get(variable) == Some(&set)
                {
                    return env.members.get(variable).copied().ok_or(Stop::Unknown);
                }
                match self.settled().eval(expr, env)? {
                    Value::Name(name) => domain.lookup.get(&name).copied().ok_or(Stop::Unknown),
                    Value::Quantity(quantity) => {
                        let wanted = quantity.value.to_f64();
                        let is = |member: Option<&Member>| matches!(member, Some(Member::Number(number)) if *number as f64 == wanted);
                        // Positions follow each other without a gap: the member's place can be calculated.
                        let guess = match domain.members.first() {
                            Some(Member::Number(first)) => {
                                (wanted - *first as f64).max(0.0) as usize
                            }
                            _ => return Err(Stop::Unknown),
                        };
                        let found = if is(domain.members.get(guess)) {
                            Some(guess)
                        } else {
                            domain.members.iter().position(|member| is(Some(member)))
                        };
                        found.map(|found| found as u32).ok_or(Stop::Unknown)
                    }
                    _ => Err(Stop::Unknown),
                }
            }
        }
    }

    /// Every slot that a reference covers.
    pub fn slots_of(
        &self,
        sets: &[SetId],
        indices: &[IndexExpr],
        env: Env<'_>,
    ) -> Result<Vec<usize>, Stop> {
        let mut found = vec![0usize];
        for (index, set) in indices.iter().zip(sets) {
            let count = self.record.domains[set.index()].members.len();
            match index {
                // A set whose members the design has not given yet: nothing is known of the list, it is not empty.
                IndexExpr::Every if count == 0 => return Err(Stop::Unknown),
                IndexExpr::Every => {
                    found = found
                        .iter()
                        .flat_map(|base| (0..count).map(move |member| base * count + member))
                        .collect();
                }
                one => {
                    let member = self.member(one, *set, env)? as usize;
                    found
                        .iter_mut()
                        .for_each(|base| *base = *base * count + member);
                }
            }
        }
        Ok(found)
    }

    /// The entry of a design value.
    pub fn design_entry(&self, id: DesignId, slot: usize) -> Option<&'a Entry> {
        let cell = *self.record.design[id.index()].get(slot)?;
        (cell != EMPTY).then(|| &self.record.entries[cell as usize])
    }

    /// The entry of a reading in the last round of its stage.
    pub fn reading_entry(&self, id: ReadingId, slot: usize) -> Option<&'a Entry> {
        let stage = self.plan.readings[id.index()].stage;
        let round = self.record.stages[stage.index()].last()?;
        let cell = *round.readings.get(&id)?.get(slot)?;
        (cell != EMPTY).then(|| &self.record.entries[cell as usize])
    }

    fn design_value(&self, id: DesignId, slot: usize) -> Outcome {
        match self.design_entry(id, slot).map(|entry| &entry.value) {
            Some(Recorded::Value(value)) => Ok(value.clone()),
            Some(Recorded::Tolerance(Some(nominal), _)) => Ok(nominal.clone()),
            Some(Recorded::Tolerance(None, interval)) => Ok(Value::Interval(interval.clone())),
            _ => Err(Stop::Unknown),
        }
    }

    /// The value of a reading.
    pub fn reading_value(&self, id: ReadingId, slot: usize) -> Outcome {
        let value = match self.reading_entry(id, slot).map(|entry| &entry.value) {
            Some(Recorded::Value(value)) => Ok(value.clone()),
            _ => Err(Stop::Unknown),
        };
        self.probed(Source::Reading(id, slot), value)
    }

    fn condition_value(&self, id: ReadingId, which: usize, slot: usize) -> Outcome {
        let entry = self.reading_entry(id, slot).ok_or(Stop::Unknown)?;
        let kind = &self.plan.readings[id.index()].given[which];
        let value = self.record.condition(entry, kind);
        let value = value.map(|condition| condition.value.clone());
        self.probed(
            Source::Condition(id, which, slot),
            value.ok_or(Stop::Unknown),
        )
    }

    /// A log as recorded in the last round of its stage.
    pub fn log_data(&self, id: LogId, slot: usize) -> Option<&'a LogData> {
        let stage = self.plan.logs[id.index()].stage;
        let round = self.record.stages[stage.index()].last()?;
        round.logs.get(&(id, u32::try_from(slot).ok()?))
    }

    fn column(&self, id: LogId, which: usize, slot: usize) -> Outcome {
        let series = self
            .log_data(id, slot)
            .and_then(|data| data.columns.get(which).cloned().flatten())
            .ok_or(Stop::Unknown)?;
        self.worked(series.values.len() as u64);
        self.probed(Source::Column(id, which, slot), Ok(Value::Series(series)))
    }

    /// A calculated value; calculated once.
    pub fn calc(&self, id: CalcId, slot: usize) -> Outcome {
        let sets = &self.plan.calcs[id.index()].indices;
        {
            let mut calcs = self.calcs.borrow_mut();
            let row = &mut calcs[id.index()];
            if row.is_empty() {
                row.resize(slots(&self.record.domains, sets), None);
            }
            if let Some(Some(known)) = row.get(slot) {
                return known.clone();
            }
            // A ring of calculations was reported with the plan; here it must only come to an end.
            if let Some(cell) = row.get_mut(slot) {
                *cell = Some(Err(Stop::Unknown));
            }
        }
        let calc = &self.plan.calcs[id.index()];
        let mut members = Vec::new();
        members_of(&self.record.domains, sets, slot, &mut members);
        let env = Env {
            sets,
            members: &members,
        };
        let applies = calc
            .when
            .as_ref()
            .is_none_or(|when| self.settled().applies(when, env) == Some(true));
        let outcome = if applies {
            self.eval(&calc.expr, env)
        } else {
            Err(Stop::Unknown)
        };
        if let Some(cell) = self.calcs.borrow_mut()[id.index()].get_mut(slot) {
            *cell = Some(outcome.clone());
        }
        outcome
    }

    /// Whether a `when` holds; `None` when that is not known.
    pub fn applies(&self, when: &Expr, env: Env<'_>) -> Option<bool> {
        match self.eval(when, env) {
            Ok(Value::Truth(truth)) => Some(truth),
            _ => None,
        }
    }

    /// Whether something applies; what is not known yet counts as applying, so that it is asked for.
    pub fn when_holds(&self, when: &Option<Expr>, env: Env<'_>) -> bool {
        when.as_ref()
            .is_none_or(|when| self.applies(when, env).unwrap_or(true))
    }
}

/// `and` (both) or `or` of lists, element by element.
fn element_by_element(both: bool, left: Value, right: Value) -> Outcome {
    let join = |a: &Value, b: &Value| match (a, b) {
        (Value::Truth(a), Value::Truth(b)) => {
            Ok(Value::Truth(if both { *a && *b } else { *a || *b }))
        }
        _ => Err(Stop::Unknown),
    };
    let items = match (&left, &right) {
        (Value::List(a), Value::List(b)) if a.len() != b.len() => {
            return Err(Stop::Fault("two lists of different length".to_owned()));
        }
        (Value::List(a), Value::List(b)) => a
            .iter()
            .zip(b.iter())
            .map(|(a, b)| join(a, b))
            .collect::<Result<Vec<_>, _>>()?,
        (Value::List(a), b) => a
            .iter()
            .map(|a| join(a, b))
            .collect::<Result<Vec<_>, _>>()?,
        (a, Value::List(b)) => b
            .iter()
            .map(|b| join(a, b))
            .collect::<Result<Vec<_>, _>>()?,
        (a, b) => return join(a, b),
    };
    Ok(Value::List(items.into()))
}

fn not(value: Value) -> Outcome {
    match value {
        Value::Truth(truth) => Ok(Value::Truth(!truth)),
        Value::List(items) => {
            let items = items
                .iter()
                .map(|item| not(item.clone()))
                .collect::<Result<Vec<_>, _>>()?;
            Ok(Value::List(items.into()))
        }
        _ => Err(Stop::Unknown),
    }
}
