//! The members of the sets for one unit, and the bounds on what they multiply to.

use super::bind::{Binder, Slotted};
use super::model::*;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::value::Value;
use crate::plan::*;
use crate::syntax::{NodeId, NodeKind};
use rustc_hash::{FxHashMap, FxHashSet};

impl Binder<'_> {
    /// The `design` statements, the one in force last.
    pub(super) fn design_blocks(&self) -> Vec<NodeId> {
        let tree = self.tree();
        tree.children(tree.root())
            .filter(|node| tree.kind(*node) == NodeKind::Design)
            .collect()
    }

    /// Finds the members of every set, from the plan or from the design.
    pub(super) fn domains(&mut self) {
        let mut sources: FxHashMap<DesignId, Recorded> = FxHashMap::default();
        let wanted: Vec<DesignId> = self
            .plan
            .sets
            .iter()
            .filter_map(|set| match set.source {
                SetSource::Design(id, _) => Some(id),
                _ => None,
            })
            .collect();
        let tree = self.tree();
        for block in self.design_blocks() {
            for line in tree
                .children(block)
                .filter(|line| tree.kind(*line) == NodeKind::DesignValue)
            {
                let Some((name, value)) = self.assignment(line) else {
                    continue;
                };
                let Some(id) = self
                    .plan
                    .design_by_name
                    .get(name)
                    .filter(|id| wanted.contains(id))
                else {
                    continue;
                };
                // Reported when the block is read in full.
                let before = self.values.findings.len();
                let recorded = self.values.value(value, self.wanted(Slotted::Design(*id)));
                self.values.findings.truncate(before);
                self.source_places.insert(*id, self.place(value));
                sources.insert(*id, recorded);
            }
        }
        for set in &self.plan.sets {
            let members = match &set.source {
                SetSource::Members(members) => members.clone(),
                SetSource::Missing => Vec::new(),
                SetSource::Design(id, _) => match sources.get(id) {
                    Some(Recorded::Value(Value::Names(names))) => {
                        let mut members: Vec<Member> = Vec::with_capacity(names.len());
                        let mut seen: FxHashSet<&str> = FxHashSet::default();
                        for name in names.iter() {
                            if seen.insert(name) {
                                members.push(Member::Name(name.clone()));
                            } else if let Some(place) = self.source_places.get(id).copied() {
                                let finding = Finding::new(
                                    &rules::DUPLICATE_DECLARATION,
                                    place,
                                    format!("expected each name once, found `{name}` again"),
                                );
                                self.report(finding);
                            }
                        }
                        members
                    }
                    Some(Recorded::Tolerance(_, interval)) => self.positions(set, interval),
                    _ => Vec::new(),
                },
            };
            self.record.domains.push(Domain::new(members));
        }
        self.bound_instances();
    }

    fn positions(&mut self, set: &Set, interval: &crate::quantity::Interval) -> Vec<Member> {
        let ends = (interval.low.as_ref(), interval.high.as_ref());
        let (Some(low), Some(high)) = ends else {
            return Vec::new();
        };
        let (low, high) = (low.at.value.to_f64() as i64, high.at.value.to_f64() as i64);
        let count = high.abs_diff(low).saturating_add(1);
        if count > MAX_INSTANCES {
            self.can_be_judged = false;
            let finding = too_large(set.place, &set.name, count);
            self.report(finding);
            return Vec::new();
        }
        (low..=high).map(Member::Number).collect()
    }

    /// Refuses a plan whose sets make more instances for this unit than are evaluated.
    fn bound_instances(&mut self) {
        let plan = self.plan;
        let readings = plan
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
        for (name, stage, place, indices) in readings.chain(logs).chain(calcs).chain(checks) {
            let members = |set: &SetId| self.record.domains[set.index()].members.len() as u64;
            let instances = indices.iter().map(members).fold(1u64, u64::saturating_mul);
            total = total.saturating_add(instances);
            if total > MAX_INSTANCES {
                self.can_be_judged = false;
                let finding = too_large(place, &plan.full_name(stage, name), total);
                self.report(finding);
                return;
            }
        }
        self.bound_steps();
    }

    /// Refuses a plan whose lists over whole sets make more steps for this unit than are taken.
    fn bound_steps(&mut self) {
        let plan = self.plan;
        let domains = &self.record.domains;
        let product = |sets: &[SetId]| {
            sets.iter()
                .map(|set| domains[set.index()].members.len() as u64)
                .fold(1u64, u64::saturating_mul)
        };
        let cost = |expr: &Expr| {
            let mut cost = 0u64;
            expr.walk(&mut |inner| {
                let (sets, indices) = match &inner.node {
                    ExprNode::Reading(id, indices) | ExprNode::Condition(id, _, indices) => {
                        (&plan.readings[id.index()].indices, indices)
                    }
                    ExprNode::Calc(id, indices) => (&plan.calcs[id.index()].indices, indices),
                    ExprNode::Design(id, indices) => (&plan.design[id.index()].indices, indices),
                    _ => return,
                };
                let every: Vec<SetId> = sets
                    .iter()
                    .zip(indices)
                    .filter(|(_, index)| matches!(index, IndexExpr::Every))
                    .map(|(set, _)| *set)
                    .collect();
                cost = cost.saturating_add(product(&every));
            });
            cost
        };
        let calcs = plan.calcs.iter().map(|calc| {
            (
                &calc.name,
                calc.stage,
                calc.place,
                &calc.indices,
                vec![&calc.expr],
            )
        });
        let checks = plan.checks.iter().map(|check| {
            let exprs = check
                .requires
                .iter()
                .map(|require| &require.expr)
                .chain(&check.when)
                .collect();
            (&check.name, check.stage, check.place, &check.indices, exprs)
        });
        let readings = plan.readings.iter().map(|reading| {
            let limits = reading.limits.iter().map(|limit| limit.form.expr());
            let exprs = limits.chain(&reading.when).collect();
            (
                &reading.name,
                Some(reading.stage),
                reading.place,
                &reading.indices,
                exprs,
            )
        });
        let mut total = 0u64;
        let mut refused = None;
        for (name, stage, place, indices, exprs) in calcs.chain(checks).chain(readings) {
            let each = exprs.into_iter().map(cost).fold(0u64, u64::saturating_add);
            total = total.saturating_add(product(indices).saturating_mul(each));
            if total > MAX_STEPS {
                refused = Some((place, plan.full_name(stage, name)));
                break;
            }
        }
        if let Some((place, name)) = refused {
            self.can_be_judged = false;
            let finding = Finding::new(
                &rules::PLAN_TOO_LARGE,
                place,
                format!("expected at most {MAX_STEPS} steps over whole sets in all, found more with those of `{name}`"),
            )
            .help("calculate what goes over a whole set once, in a `calc` of its own, instead of for each member");
            self.report(finding);
        }
    }
}
