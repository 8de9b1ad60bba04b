//! The built-in plans hold what they promise: without a fault, and each limit with its source, its reason and what to
//! look at first, weighed as the policy says.

use std::collections::BTreeSet;

use stagebook::finding::{Basis, Finding, Severity};
use stagebook::plan::builtin::{self, BUILTIN_PLANS};
use stagebook::plan::{Document, Plan, Rationale, compile};
use stagebook::syntax::{Tree, parse};
use stagebook::text::FileId;

/// Common practice that is an error all the same: what the record itself denies, and two ends that must be reached.
const ERRORS_BY_PRACTICE: &[&str] = &[
    "accessories.positions-shown",
    "accessories.protection-works",
    "bushings.taps-earthed",
    "connections.joints-seen",
    "connections.open-corner",
    "core-and-winding-assembly.tools-returned",
    "dispatch.closed-for-transport",
    "dispatch.paper-dry",
    "drying.end-pressure",
    "drying.end-rate",
    "drying.end-still-there",
    "drying.end-temperature",
    "final-clamping.locked",
    "standing.all-vented",
    "tanking.closed-clean",
    "vacuum.vacuum-reached",
    "winding-pressing.dried-before-pressing",
    "winding.conductor-insulation-intact",
    "winding.oil-ducts-free",
    "winding.second-count",
];

/// A whole plan with all that it extends.
fn compiled(name: &str) -> (Plan, Vec<Finding>) {
    let mut chain: Vec<&str> = Vec::new();
    let mut next = Some(name.to_owned());
    while let Some(name) = next {
        let plan = builtin::find(&name).expect("a built-in plan extends built-in plans");
        chain.insert(0, plan.text);
        let first = plan.text.lines().find(|line| line.starts_with("plan "));
        let words: Vec<&str> = first.unwrap_or_default().split_whitespace().collect();
        let base = words.iter().position(|word| *word == "extends");
        next = base.map(|at| words[at + 1].to_owned());
    }
    let trees: Vec<Tree> = chain.into_iter().map(parse).collect();
    let documents: Vec<Document<'_>> = trees
        .iter()
        .enumerate()
        .map(|(index, tree)| Document {
            tree,
            file: FileId(index as u32),
        })
        .collect();
    assert!(trees.iter().all(|tree| tree.faults.is_empty()), "{name}");
    let mut findings = Vec::new();
    let plan = compile(&documents, &mut findings);
    (plan, findings)
}

fn whole_plans() -> impl Iterator<Item = &'static str> {
    BUILTIN_PLANS
        .iter()
        .filter(|plan| plan.whole)
        .map(|plan| plan.name)
}

/// Each limit and requirement: its name, its own reasons and those of what it belongs to.
fn judged(plan: &Plan) -> Vec<(String, &Rationale, &Rationale)> {
    let mut all = Vec::new();
    for reading in &plan.readings {
        let name = plan.full_name(Some(reading.stage), &reading.name);
        for limit in &reading.limits {
            all.push((name.clone(), &limit.rationale, &reading.rationale));
        }
    }
    for check in &plan.checks {
        let name = plan.full_name(check.stage, &check.name);
        for require in &check.requires {
            all.push((name.clone(), &require.rationale, &check.rationale));
        }
    }
    all
}

#[test]
fn they_are_without_a_fault() {
    for name in whole_plans() {
        let (plan, findings) = compiled(name);
        let found: Vec<&str> = findings.iter().map(|finding| &*finding.message).collect();
        assert!(found.is_empty(), "{name}: {found:#?}");
        assert!(plan.stages.len() >= 18, "{name}");
    }
}

#[test]
fn each_limit_has_its_source_its_reason_and_what_to_look_at() {
    let mut wrong = BTreeSet::new();
    for name in whole_plans() {
        let (plan, _) = compiled(name);
        for (item, own, inherited) in judged(&plan) {
            if own.source.is_none() && inherited.source.is_none() {
                wrong.insert(format!("{name}: {item} has no source"));
            }
            if own.because.is_none() && inherited.because.is_none() {
                wrong.insert(format!("{name}: {item} has no reason"));
            }
            let look = if own.look.is_empty() {
                &inherited.look
            } else {
                &own.look
            };
            if !(2..=3).contains(&look.len()) {
                wrong.insert(format!(
                    "{name}: {item} names {} things to look at",
                    look.len()
                ));
            }
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn common_practice_is_no_error_but_where_it_is_named() {
    let mut errors = BTreeSet::new();
    for name in whole_plans() {
        let (plan, _) = compiled(name);
        for (item, own, inherited) in judged(&plan) {
            let source = own.source.as_ref().or(inherited.source.as_ref());
            let practice = source.is_some_and(|source| source.basis == Basis::CommonPractice);
            let severity = own.severity.or(inherited.severity);
            if practice && severity.unwrap_or(Severity::Error) == Severity::Error {
                errors.insert(item);
            }
        }
    }
    let errors: Vec<&str> = errors.iter().map(String::as_str).collect();
    assert_eq!(errors, ERRORS_BY_PRACTICE);
}
