//! `decide guarded` for checks: whether what a check requires is proven, for the comparisons that decide it.

use super::Judge;
use super::evaluate::{Env, Stop};
use super::guarded::unknown;
use super::propagate::Compared;
use super::uncertainty::Lacking;
use crate::finding::{Reasoning, Uncertainty};
use crate::plan::value::Value;
use crate::plan::{Check, Comparison, Decide, Expr, ExprNode, IndexExpr, SetId};
use crate::quantity::{Quantity, TOLERANCE, Unit};
use crate::record::members_of;

/// Whether a requirement that holds as it stands is proven to.
pub(super) enum Proof<'a> {
    /// By more than its uncertainty, or without any.
    Proven,
    /// It does not hold.
    Fails,
    /// It holds, and nothing is proven.
    Open(Box<Doubt<'a>>),
}

/// The comparison that leaves a requirement open.
pub(super) struct Doubt<'a> {
    /// The comparison.
    pub leaf: &'a Expr,
    /// The instance that it is evaluated for: sets and members.
    pub sets: &'a [SetId],
    pub members: Vec<u32>,
    /// Whether it has to hold, or not to.
    pub wanted: bool,
    /// The uncertainty with the element that decides, or why it is not known.
    pub uncertainty: Result<(Compared, usize), Lacking>,
}

impl Doubt<'_> {
    /// How many times its uncertainty an element lacks: the larger the worse.
    pub fn deficit(&self) -> f64 {
        match &self.uncertainty {
            Ok((compared, element)) => {
                let (margin, expanded) = &compared.elements[*element];
                1.0 - margin.value.to_f64() / expanded.value.to_f64().max(f64::MIN_POSITIVE)
            }
            Err(_) => f64::INFINITY,
        }
    }
}

/// What has to be proven of an expression.
#[derive(Clone, Copy)]
struct Aim {
    /// That it holds, or that it does not.
    wanted: bool,
    /// Of each element of a list, or of any.
    every: bool,
}

impl<'a> Judge<'a> {
    /// Whether a requirement is proven. `expr` belongs to the plan.
    pub(super) fn prove(
        &mut self,
        expr: &'a Expr,
        sets: &'a [SetId],
        members: &[u32],
    ) -> Result<Proof<'a>, Stop> {
        let aim = Aim {
            wanted: true,
            every: true,
        };
        self.prove_part(expr, aim, sets, members)
    }

    fn prove_part(
        &mut self,
        expr: &'a Expr,
        aim: Aim,
        sets: &'a [SetId],
        members: &[u32],
    ) -> Result<Proof<'a>, Stop> {
        let env = Env { sets, members };
        match &expr.node {
            ExprNode::Compare(..) | ExprNode::In(..) => self.prove_leaf(expr, aim, sets, members),
            ExprNode::Not(inner) => {
                let aim = Aim {
                    wanted: !aim.wanted,
                    ..aim
                };
                self.prove_part(inner, aim, sets, members)
            }
            ExprNode::Logic(both, left, right) => {
                let left = self.prove_part(left, aim, sets, members);
                // That both hold needs both; that not both hold needs one.
                let needs_both = *both == aim.wanted;
                match (left, needs_both) {
                    (Ok(Proof::Proven), false) => Ok(Proof::Proven),
                    (Ok(Proof::Fails), true) => Ok(Proof::Fails),
                    (left, _) => {
                        let right = self.prove_part(right, aim, sets, members);
                        joined(needs_both, left, right)
                    }
                }
            }
            ExprNode::If(condition, yes, no) => match self.evaluator.eval(condition, env)? {
                Value::Truth(true) => self.prove_part(yes, aim, sets, members),
                Value::Truth(false) => self.prove_part(no, aim, sets, members),
                _ => Err(Stop::Unknown),
            },
            ExprNode::Call(function, arguments) if matches!(function.name, "all" | "any") => {
                let [argument] = &arguments[..] else {
                    return self.as_it_stands(expr, aim, env);
                };
                // That all hold needs each element; that not all hold needs one that does not.
                let every = (function.name == "all") == aim.wanted;
                self.prove_part(argument, Aim { every, ..aim }, sets, members)
            }
            ExprNode::Calc(id, indices)
                if !indices
                    .iter()
                    .any(|index| matches!(index, IndexExpr::Every)) =>
            {
                let plan = self.plan;
                let calc = &plan.calcs[id.index()];
                // A calculated value that does not apply or is not known says so itself.
                self.evaluator.eval(expr, env)?;
                let slots = self.evaluator.slots_of(&calc.indices, indices, env)?;
                let Some(slot) = slots.first() else {
                    return Err(Stop::Unknown);
                };
                let mut inner = Vec::new();
                members_of(&self.record.domains, &calc.indices, *slot, &mut inner);
                self.prove_part(&calc.expr, aim, &calc.indices, &inner)
            }
            _ => self.as_it_stands(expr, aim, env),
        }
    }

    /// What is no comparison of quantities has no uncertainty.
    fn as_it_stands(&self, expr: &Expr, aim: Aim, env: Env<'_>) -> Result<Proof<'a>, Stop> {
        let is = |value: &Value| matches!(value, Value::Truth(truth) if *truth == aim.wanted);
        let holds = match self.evaluator.eval(expr, env)? {
            Value::List(items) if aim.every => items.iter().all(is),
            Value::List(items) => items.iter().any(is),
            value => is(&value),
        };
        Ok(match holds {
            true => Proof::Proven,
            false => Proof::Fails,
        })
    }

    fn prove_leaf(
        &mut self,
        leaf: &'a Expr,
        aim: Aim,
        sets: &'a [SetId],
        members: &[u32],
    ) -> Result<Proof<'a>, Stop> {
        let env = Env { sets, members };
        let doubt = |uncertainty| {
            Proof::Open(Box::new(Doubt {
                leaf,
                sets,
                members: members.to_vec(),
                wanted: aim.wanted,
                uncertainty,
            }))
        };
        let as_it_stands = self.as_it_stands(leaf, aim, env)?;
        if matches!(as_it_stands, Proof::Fails) {
            return Ok(as_it_stands);
        }
        let compared = match self.propagate(leaf, aim.wanted, env)? {
            None => return Ok(as_it_stands),
            Some(Err(lacking)) => return Ok(doubt(Err(lacking))),
            Some(Ok(compared)) => compared,
        };
        // Less than itself is not proven by being as far away as its uncertainty.
        let strict = matches!(
            (&leaf.node, aim.wanted),
            (
                ExprNode::Compare(Comparison::Less | Comparison::Greater, ..),
                true
            ) | (
                ExprNode::Compare(Comparison::AtMost | Comparison::AtLeast, ..),
                false
            )
        );
        let spare = |(margin, expanded): &(Quantity, Quantity)| {
            margin.value.to_f64() - expanded.value.to_f64()
        };
        let proven = |element: &(Quantity, Quantity)| {
            let slack = TOLERANCE * element.1.value.to_f64();
            match strict {
                true => spare(element) > slack,
                false => spare(element) >= -slack,
            }
        };
        let elements = &compared.elements;
        let order = |a: &usize, b: &usize| spare(&elements[*a]).total_cmp(&spare(&elements[*b]));
        let deciding = match aim.every {
            true => (0..elements.len()).min_by(order),
            false => (0..elements.len()).max_by(order),
        };
        Ok(match deciding {
            Some(deciding) if !proven(&elements[deciding]) => doubt(Ok((compared, deciding))),
            _ => Proof::Proven,
        })
    }

    /// Why a comparison is left open, in words; its budget, the limit drawn in and what is missing go into the
    /// reasoning.
    pub(super) fn doubtful(
        &self,
        doubt: &Doubt<'a>,
        unit: Option<&Unit>,
        reasoning: &mut Reasoning,
    ) -> String {
        let (compared, element) = match &doubt.uncertainty {
            Ok(known) => known,
            Err(lacking) => {
                reasoning.missing.push(lacking.what.clone());
                reasoning.uncertainty = Some(Uncertainty::default());
                return unknown(lacking);
            }
        };
        let (margin, expanded) = &compared.elements[*element];
        let mut shown = self.budget(compared, *element, unit);
        shown.acceptance = self.acceptance(doubt, expanded, unit);
        reasoning.uncertainty = Some(shown);
        let margin = self.explainer.difference(margin, unit);
        reasoning.margin = Some(margin.clone());
        let expanded = self.explainer.difference(expanded, unit);
        format!("{margin} inside with an uncertainty of {expanded}")
    }

    /// The right side of a comparison, drawn in by the uncertainty; nothing for lists, whose limits may differ.
    fn acceptance(
        &self,
        doubt: &Doubt<'a>,
        expanded: &Quantity,
        unit: Option<&Unit>,
    ) -> Option<String> {
        let env = Env {
            sets: doubt.sets,
            members: &doubt.members,
        };
        match &doubt.leaf.node {
            _ if !doubt.wanted => None,
            ExprNode::Compare(comparison, _, right) => {
                let Ok(Value::Quantity(right)) = self.evaluator.eval(right, env) else {
                    return None;
                };
                let drawn = match comparison {
                    Comparison::Less | Comparison::AtMost => right.sub(expanded),
                    _ => right.add(expanded),
                };
                let drawn = self.explainer.quantity(&drawn.ok()?, unit);
                Some(format!("{} {drawn}", comparison.sign()))
            }
            ExprNode::In(_, right) => {
                let interval = self.evaluator.interval(right, env).ok()??;
                let drawn = interval.drawn_in(expanded).ok()?;
                Some(match drawn.is_empty() {
                    Ok(true) => "nothing".to_owned(),
                    _ => self.explainer.interval(&drawn, unit),
                })
            }
            _ => None,
        }
    }

    /// Whether a check is decided guarded.
    pub(super) fn guarded_check(&self, check: &Check) -> bool {
        check.decide.unwrap_or(self.plan.decide) == Decide::Guarded
    }
}

/// Two parts of which both or one have to be proven.
fn joined<'a>(
    needs_both: bool,
    left: Result<Proof<'a>, Stop>,
    right: Result<Proof<'a>, Stop>,
) -> Result<Proof<'a>, Stop> {
    if needs_both {
        return match (left?, right?) {
            (Proof::Fails, _) | (_, Proof::Fails) => Ok(Proof::Fails),
            (Proof::Open(doubt), _) | (_, Proof::Open(doubt)) => Ok(Proof::Open(doubt)),
            (Proof::Proven, Proof::Proven) => Ok(Proof::Proven),
        };
    }
    match (left, right) {
        (Ok(Proof::Proven), _) | (_, Ok(Proof::Proven)) => Ok(Proof::Proven),
        (Ok(Proof::Open(left)), Ok(Proof::Open(right))) => {
            let nearer = left.deficit() <= right.deficit();
            Ok(Proof::Open(if nearer { left } else { right }))
        }
        (Ok(Proof::Open(doubt)), _) | (_, Ok(Proof::Open(doubt))) => Ok(Proof::Open(doubt)),
        (Err(stop), _) | (_, Err(stop)) => Err(stop),
        (Ok(Proof::Fails), Ok(Proof::Fails)) => Ok(Proof::Fails),
    }
}
