//! How a plan has readings held against their limits: `decide`, `uncertainty-ratio`, `uncertainty`.

use super::accuracy::Stated;
use super::draft::{Below, Gatherer, Item, ItemKind};
use super::expression::{Expr, ExprNode};
use super::kind::Kind;
use super::model::{Comparison, Decide, LimitForm, Plan, ReadingId, USUAL_UNCERTAINTY_RATIO};
use super::resolve::Resolver;
use crate::finding::Finding;
use crate::finding::rules;
use crate::quantity::Accuracy;
use crate::syntax::{NodeId, NodeKind};
use crate::text::Place;

impl Gatherer<'_, '_> {
    pub(super) fn decide(&mut self, node: NodeId) -> Option<Decide> {
        let (word, at) = self.name_of(node)?;
        match &*word {
            "simple" => Some(Decide::Simple),
            "guarded" => Some(Decide::Guarded),
            _ => {
                let place = self.place(at);
                self.findings.push(Finding::new(
                    &rules::WRONG_KIND,
                    place,
                    format!("expected `simple` or `guarded`, found `{word}`"),
                ));
                None
            }
        }
    }

    /// How many times the uncertainty must go into the tolerance.
    pub(super) fn uncertainty_ratio(&mut self, node: NodeId) -> Option<f64> {
        let tree = self.tree();
        let word = tree.child(node, NodeKind::Word)?;
        let text = tree.text_of(word);
        match text.parse::<f64>() {
            Ok(ratio) if ratio.is_finite() && ratio >= 1.0 => Some(ratio),
            _ => {
                let message = format!(
                    "expected how many times the uncertainty goes into the tolerance, 1 or more, found {text}"
                );
                let place = self.place(word);
                self.findings.push(
                    Finding::new(&rules::WRONG_KIND, place, message)
                        .help("write: uncertainty-ratio 4"),
                );
                None
            }
        }
    }

    /// The plan's usual decision rule. What is guarded stays so in the plans that extend it, item by item
    /// relaxed with a reason.
    pub(super) fn header_decide(&mut self, node: NodeId, decide: Decide) {
        if self.draft.decide == Decide::Guarded && decide == Decide::Simple {
            let place = self.place(node);
            self.findings.push(
                Finding::new(
                    &rules::WRONG_KIND,
                    place,
                    "expected `decide guarded`, as the plan that this one extends has it, found `decide simple`",
                )
                .help("write `decide simple` under `relax STAGE.NAME because \"…\"` for each reading or check it is agreed for"),
            );
            return;
        }
        self.draft.decide = decide;
    }

    /// The plan's usual ratio; the plans that extend it can only ask for more.
    pub(super) fn header_ratio(&mut self, node: NodeId, ratio: f64) {
        if let Some(inherited) = self.draft.uncertainty_ratio.filter(|known| *known > ratio) {
            let place = self.place(node);
            self.findings.push(
                Finding::new(
                    &rules::WRONG_KIND,
                    place,
                    format!("expected a ratio of {inherited} or more, as the plan that this one extends has it, found {ratio}"),
                )
                .help("write `uncertainty-ratio` under `relax STAGE.NAME because \"…\"` where less is enough"),
            );
            return;
        }
        self.draft.uncertainty_ratio = Some(ratio);
    }

    /// Whether a `tighten` asks for `decide guarded`; `decide simple` would loosen.
    pub(super) fn tightened_decide(&mut self, below: &Below) -> bool {
        match below.decide {
            Some((_, Decide::Guarded)) => true,
            Some((at, Decide::Simple)) => {
                let place = self.place_of(at);
                self.findings.push(
                    Finding::new(
                        &rules::WRONG_KIND,
                        place,
                        "expected `decide guarded` under `tighten`, found `decide simple`",
                    )
                    .help("tightening only ever adds; to loosen, write `relax … because \"…\"`"),
                );
                false
            }
            None => false,
        }
    }

    /// A decision rule belongs to what is judged, an uncertainty to a reading.
    pub(super) fn refuse_decision(&mut self, below: &Below, kind: ItemKind) {
        let judged = matches!(kind, ItemKind::Reading | ItemKind::Check);
        let decide = below.decide.map(|(at, _)| self.place_of(at));
        let ratio = below.uncertainty_ratio.map(|(at, _)| self.place_of(at));
        let misplaced = [
            (decide.filter(|_| !judged), "decide", "a reading or a check"),
            (
                ratio.filter(|_| !judged),
                "uncertainty-ratio",
                "a reading or a check",
            ),
            (
                below
                    .uncertainties
                    .first()
                    .map(|stated| stated.place)
                    .filter(|_| kind != ItemKind::Reading),
                "uncertainty",
                "a reading",
            ),
        ];
        for (place, word, owner) in misplaced {
            let Some(place) = place else { continue };
            self.findings.push(
                Finding::new(
                    &rules::MISPLACED_STATEMENT,
                    place,
                    format!("expected `{word}` under {owner}, found it under something else"),
                )
                .help("a calculated value is as uncertain as the readings that go into it"),
            );
        }
    }
}

/// Reports limits that are decided guarded and ask for exactly one value of what is measured.
pub(super) fn equalities(plan: &Plan, findings: &mut Vec<Finding>) {
    let guarded = |own: Option<Decide>| own.unwrap_or(plan.decide) == Decide::Guarded;
    let mut report = |place: Place, name: &str| {
        findings.push(
            Finding::new(
                &rules::LIMIT_NOT_PROVABLE,
                place,
                format!("expected a limit of `{name}` that a measured value can be proven to keep, found one that asks for exactly one value"),
            )
            .help("give it a tolerance, or write `decide simple` for it; it is compared as it stands"),
        );
    };
    for reading in &plan.readings {
        let measured = matches!(reading.kind, Kind::Quantity(_));
        for limit in &reading.limits {
            if measured && guarded(reading.decide) && matches!(limit.form, LimitForm::Exactly(_)) {
                report(limit.place, &reading.name);
            }
        }
    }
    for check in plan.checks.iter().filter(|check| guarded(check.decide)) {
        for require in &check.requires {
            require.expr.walk(&mut |part| {
                if let ExprNode::Compare(Comparison::Equal | Comparison::NotEqual, left, right) =
                    &part.node
                    && (measures(plan, left) || measures(plan, right))
                {
                    report(part.place, &check.name);
                }
            });
        }
    }
}

/// True when an expression rests on something measured, through calculated values too.
fn measures(plan: &Plan, expr: &Expr) -> bool {
    let mut seen = vec![false; plan.calcs.len()];
    let mut found = false;
    let mut open = vec![expr];
    while let Some(expr) = open.pop() {
        expr.walk(&mut |part| match &part.node {
            ExprNode::Reading(id, _) => {
                found |= matches!(plan.readings[id.index()].kind, Kind::Quantity(_));
            }
            ExprNode::Condition(..) | ExprNode::Column(..) => found = true,
            ExprNode::Calc(id, _) if !seen[id.index()] => {
                seen[id.index()] = true;
                open.push(&plan.calcs[id.index()].expr);
            }
            _ => {}
        });
    }
    found
}

impl Item {
    /// The ratio that holds for it, where it has one of its own; what `tighten` asks for can only raise it.
    pub(super) fn ratio(&self, usual: Option<f64>) -> Option<f64> {
        let Some(least) = self.least_ratio else {
            return self.uncertainty_ratio;
        };
        let known = self
            .uncertainty_ratio
            .or(usual)
            .unwrap_or(USUAL_UNCERTAINTY_RATIO);
        Some(known.max(least))
    }
}

impl Resolver<'_, '_> {
    /// The uncertainties stated with a reading: of its own kind, or of a condition that it is given with.
    pub(super) fn uncertainties(
        &mut self,
        id: ReadingId,
        stated: Vec<Stated<Accuracy>>,
    ) -> Vec<Stated<Accuracy>> {
        let reading = &self.plan.readings[id.index()];
        let mut kept = Vec::new();
        let mut wrong = Vec::new();
        for one in stated {
            let fits =
                |kind: &Kind| matches!(kind, Kind::Quantity(kind) if one.fit(kind).is_some());
            let problem = if one.of_range() {
                Some((
                    "expected a share of the reading or an amount, found a share of a range"
                        .to_owned(),
                    "only an instrument has a range; write the amount".to_owned(),
                ))
            } else if !(fits(&reading.kind) || reading.given.iter().any(fits)) {
                Some((
                    format!(
                        "expected an uncertainty of `{}` or of a condition that it is given with, found one of neither",
                        reading.name
                    ),
                    "for a condition write its kind: uncertainty 0.5 K for temperature".to_owned(),
                ))
            } else {
                None
            };
            match problem {
                Some((message, help)) => wrong.push(
                    Finding::new(&rules::WRONG_KIND, one.place, message)
                        .help(help)
                        .related(reading.place, "the reading"),
                ),
                None => kept.push(one),
            }
        }
        self.findings.append(&mut wrong);
        kept
    }
}
