//! `uncertainty-ratio` under a check: whether the uncertainty of what is compared goes often enough into the tolerance.
//!
//! A tolerance is what a comparison allows to both sides: `x in a .. b`, `x in a +- t`, `abs(x) <= t`. What is compared
//! with one side only has none, and there a ratio says nothing; `decide guarded` judges it.

use super::Judge;
use super::evaluate::{Env, Evaluator};
use super::propagate::Compared;
use crate::finding::{Finding, Reasoning, Severity, rules};
use crate::plan::value::Value;
use crate::plan::{Check, Comparison, Expr, ExprNode, SetId};
use crate::quantity::{Number, Quantity, TOLERANCE, format_number};

/// The instance of a check whose uncertainty goes least often into its tolerance.
pub(super) struct CoarseCheck<'a> {
    ratio: f64,
    require: usize,
    leaf: &'a Expr,
    half: Quantity,
    compared: Compared,
    element: usize,
    sets: &'a [SetId],
    members: Vec<u32>,
    /// The instance as it is shown, and how many there are that are too coarse.
    name: String,
    count: usize,
}

impl<'a> Judge<'a> {
    /// Looks at one instance of a check that states a ratio; keeps the worst that does not reach it.
    pub(super) fn look_at_ratio(
        &mut self,
        check: &'a Check,
        wanted: f64,
        name: &str,
        members: &[u32],
        worst: &mut Option<CoarseCheck<'a>>,
    ) {
        let sets = &check.indices[..];
        for (require, item) in check.requires.iter().enumerate() {
            let mut leaves = Vec::new();
            self.two_sided(&item.expr, Env { sets, members }, &mut leaves);
            for leaf in leaves {
                let Some((ratio, half, compared, element)) = self.smallest(leaf, sets, members)
                else {
                    continue;
                };
                // A ratio that is met to the last digit is met.
                if ratio >= wanted * (1.0 - TOLERANCE) {
                    continue;
                }
                let count = worst.as_ref().map_or(0, |worst| worst.count) + 1;
                match worst {
                    Some(known) if known.ratio <= ratio => known.count = count,
                    _ => {
                        *worst = Some(CoarseCheck {
                            ratio,
                            require,
                            leaf,
                            half,
                            compared,
                            element,
                            sets,
                            members: members.to_vec(),
                            name: name.to_owned(),
                            count,
                        });
                    }
                }
            }
        }
    }

    /// The comparisons with two sides that have to hold.
    fn two_sided(&self, expr: &'a Expr, env: Env<'_>, leaves: &mut Vec<&'a Expr>) {
        match &expr.node {
            ExprNode::In(..) => leaves.push(expr),
            ExprNode::Compare(Comparison::Less | Comparison::AtMost, left, _) if matches!(&left.node, ExprNode::Call(function, _) if function.name == "abs") =>
            {
                leaves.push(expr);
            }
            ExprNode::Logic(true, left, right) => {
                self.two_sided(left, env, leaves);
                self.two_sided(right, env, leaves);
            }
            ExprNode::If(condition, yes, no) => match self.evaluator.eval(condition, env) {
                Ok(Value::Truth(true)) => self.two_sided(yes, env, leaves),
                Ok(Value::Truth(false)) => self.two_sided(no, env, leaves),
                _ => {}
            },
            ExprNode::Call(function, arguments) if function.name == "all" => {
                for argument in arguments {
                    self.two_sided(argument, env, leaves);
                }
            }
            _ => {}
        }
    }

    /// Of the elements of a comparison the one whose uncertainty goes least often into half its tolerance; nothing
    /// where there is no tolerance, or where no uncertainty is known.
    fn smallest(
        &mut self,
        leaf: &Expr,
        sets: &[SetId],
        members: &[u32],
    ) -> Option<(f64, Quantity, Compared, usize)> {
        let env = Env { sets, members };
        let halves = halves(self.evaluator, leaf, env)?;
        let compared = self.propagate(leaf, true, env).ok()??.ok()?;
        let ratios = compared
            .elements
            .iter()
            .enumerate()
            .filter_map(|(at, (_, expanded))| {
                // One tolerance holds for every element, or each has its own.
                let half = if halves.len() == 1 {
                    halves.first()
                } else {
                    halves.get(at)
                }?;
                let (half_width, expanded) = (half.value.to_f64(), expanded.value.to_f64());
                (half_width > 0.0 && expanded > 0.0).then_some((half_width / expanded, *half, at))
            });
        let (ratio, half, element) = ratios.min_by(|one, other| one.0.total_cmp(&other.0))?;
        Some((ratio, half, compared, element))
    }

    /// Tells of a check whose ratio is not reached.
    pub(super) fn check_too_coarse(
        &mut self,
        check: &'a Check,
        wanted: f64,
        coarse: CoarseCheck<'a>,
    ) {
        let env = Env {
            sets: coarse.sets,
            members: &coarse.members,
        };
        let require = &check.requires[coarse.require];
        let explainer = &self.explainer;
        let unit = explainer.unit_in(coarse.leaf, &coarse.half);
        let unit = unit.as_ref();
        let (_, expanded) = &coarse.compared.elements[coarse.element];
        let expanded = explainer.difference(expanded, unit);
        let half = explainer.difference(&coarse.half, unit);
        let number = |value: f64| format_number(Number::Approx(value), 3);
        let inputs = explainer.reasoning(&require.expr, env);
        let place = self.primary_place(&inputs, check.stage);
        let reasoning = Reasoning {
            inputs: inputs.inputs,
            formula: Some("half the width of the tolerance / expanded uncertainty".to_owned()),
            steps: vec![format!("= {half} / {expanded}")],
            result: Some(number(coarse.ratio)),
            limit: Some(format!("≥ {}", number(wanted))),
            uncertainty: Some(self.budget(&coarse.compared, coarse.element, unit)),
            ..Reasoning::default()
        };
        let others = match coarse.count {
            1 => String::new(),
            count => format!("; the worst of {count} instances"),
        };
        let weight = require.rationale.severity.or(check.rationale.severity);
        let finding = Finding::new(
            &rules::INSTRUMENT_TOO_COARSE,
            place,
            format!(
                "expected the uncertainty of {} to go {} times into its tolerance, found {} times: {expanded} in ±{half}{others}",
                coarse.name,
                number(wanted),
                number(coarse.ratio),
            ),
        )
        // It weighs no more than the check that it endangers.
        .severity(
            weight
                .unwrap_or(Severity::Error)
                .max(rules::INSTRUMENT_TOO_COARSE.severity),
        )
        .label("goes into it")
        .related(
            coarse.leaf.place,
            format!("the tolerance: {}", self.explainer.flat(coarse.leaf.place)),
        )
        .help("measure with a finer instrument what adds most to the uncertainty, or have the plan ask for another `uncertainty-ratio`")
        .reasoning(reasoning);
        self.findings.push(finding);
    }
}

/// Half the width that a comparison allows: one for all its elements, or one for each. Nothing where one side is open.
fn halves(evaluator: &Evaluator<'_>, leaf: &Expr, env: Env<'_>) -> Option<Vec<Quantity>> {
    match &leaf.node {
        ExprNode::In(_, right) => {
            let interval = evaluator.interval(right, env).ok()??;
            let (low, high) = (interval.low?, interval.high?);
            let width = high.at.sub(&low.at).ok()?;
            Some(vec![Quantity::si(
                width.value.to_f64() / 2.0,
                width.dimension,
            )])
        }
        ExprNode::Compare(_, _, right) => match evaluator.eval(right, env).ok()? {
            Value::Quantity(half) => Some(vec![half]),
            Value::List(items) => items
                .iter()
                .map(|item| match item {
                    Value::Quantity(half) => Some(*half),
                    _ => None,
                })
                .collect(),
            _ => None,
        },
        _ => None,
    }
}
