//! Checks: what must hold between readings, calculated and design values.

use super::Judge;
use super::day_only::Hanging;
use super::evaluate::{Env, Stop};
use super::explain::Explainer;
use super::guarded::{HELP_TOO_NEAR, HELP_UNKNOWN, not_proven};
use super::kept::{Said, keep};
use super::limits::{failing, first_list, first_text, shown};
use super::proof::{Doubt, Proof};
use crate::finding::rules;
use crate::finding::{Finding, Reasoning, Severity};
use crate::plan::value::Value;
use crate::plan::*;
use crate::quantity::{Quantity, Unit};
use crate::record::{index_text, members_of, slots};
use crate::text::Place;

/// From how many failing instances on a check is reported once, with its worst instance.
const GROUP_FROM: usize = 4;

/// One failing instance of a check.
struct Failing {
    slot: usize,
    require: usize,
    /// How far outside, as a part of the limit; the largest is the worst.
    excess: f64,
    /// It holds as it stands, and its uncertainty leaves it open.
    doubtful: bool,
}

/// What a group of failing instances is told as.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Told {
    Failing,
    NotProven,
    Conceded,
}

impl<'a> Judge<'a> {
    pub(super) fn checks_of_design(&mut self) {
        let plan = self.plan;
        for (index, _) in plan
            .checks
            .iter()
            .enumerate()
            .filter(|(_, check)| check.stage.is_none())
        {
            self.check(CheckId(index as u32));
        }
    }

    pub(super) fn checks(&mut self, stage: StageId) {
        let plan = self.plan;
        for id in &plan.stages[stage.index()].checks {
            self.check(*id);
        }
    }

    fn check(&mut self, id: CheckId) {
        let plan = self.plan;
        let check = &plan.checks[id.index()];
        let sets = &check.indices;
        let full_name = plan.full_name(check.stage, &check.name);
        let mut members = Vec::new();
        let mut failed: Vec<Failing> = Vec::new();
        let mut conceded: Vec<Failing> = Vec::new();
        let mut doubtful: Vec<Failing> = Vec::new();
        let guarded = self.guarded_check(check);
        let mut holding = 0;
        let mut unknown = 0;
        let mut coarse = None;
        let count = slots(&self.record.domains, sets);
        let mut known = self.keeper.check(id, count);
        // What a guarded check may use up, and which instance is the coarsest, hangs on all instances together.
        let may_be_kept = !guarded && check.uncertainty_ratio.is_none();
        for slot in 0..count {
            match known.get(slot) {
                Some(Said::Holds) => {
                    holding += 1;
                    continue;
                }
                Some(Said::DoesNotApply) => continue,
                Some(Said::Recorded | Said::Unknown) | None => {}
            }
            let told = self.told();
            members_of(&self.record.domains, sets, slot, &mut members);
            let env = Env {
                sets,
                members: &members,
            };
            if let Some(when) = &check.when {
                if self.when_hangs(when, env, &check.name, check.rationale.severity) {
                    unknown += 1;
                    continue;
                }
                match self.evaluator.eval(when, env) {
                    Ok(Value::Truth(true)) => {}
                    Ok(Value::Truth(false)) => {
                        if may_be_kept && self.told() == told {
                            keep(&mut known, slot, Said::DoesNotApply);
                        }
                        continue;
                    }
                    Err(Stop::Fault(fault)) => {
                        unknown += 1;
                        let reasoning = self.explainer.reasoning(when, env);
                        let place = self.primary_place(&reasoning, check.stage);
                        self.cannot_be_calculated(when.place, &full_name, &fault, place, reasoning);
                        continue;
                    }
                    Ok(_) | Err(Stop::Unknown) => {
                        unknown += 1;
                        self.undecided(check.stage, &check.name, when, env);
                        continue;
                    }
                }
            }
            let mut outcome = Some(true);
            for (require, item) in check.requires.iter().enumerate() {
                let value = self.evaluator.eval(&item.expr, env);
                if let Some(event) = self.hangs_on_a_time(&item.expr, env, &value) {
                    outcome = None;
                    let began = self.stage_began(check.stage);
                    let cover = self.covered(&full_name, slot, began);
                    if !cover.is_some_and(|cover| cover.accepts) {
                        self.time_of_day_missing(&Hanging {
                            question: format!("whether `{}` holds", check.name),
                            place: item.place,
                            severity: item.rationale.severity.or(check.rationale.severity),
                            event,
                        });
                    }
                    continue;
                }
                let failing = match &value {
                    // Nothing was compared: what no element says is not known.
                    Ok(Value::List(items)) if items.is_empty() => {
                        outcome = None;
                        self.undecided(check.stage, &check.name, &item.expr, env);
                        continue;
                    }
                    Ok(Value::Truth(false)) => Some(false),
                    Ok(Value::List(items))
                        if !items.iter().all(|item| matches!(item, Value::Truth(true))) =>
                    {
                        Some(false)
                    }
                    Ok(Value::Truth(true) | Value::List(_)) => guarded.then_some(true),
                    _ => None,
                };
                let failing = match failing {
                    Some(false) => Some(Failing {
                        slot,
                        require,
                        excess: self.excess(&item.expr, env),
                        doubtful: false,
                    }),
                    Some(true) => self.doubt_of(item, sets, &members).map(|doubt| Failing {
                        slot,
                        require,
                        excess: doubt.deficit(),
                        doubtful: true,
                    }),
                    None => None,
                };
                if let Some(failing) = failing {
                    outcome = Some(false);
                    let began = self.stage_began(check.stage);
                    let conceded_here = self
                        .covered(&full_name, slot, began)
                        .is_some_and(|cover| cover.accepts);
                    let open = failing.doubtful;
                    match (conceded_here, open) {
                        (true, _) => conceded.push(failing),
                        (false, true) => doubtful.push(failing),
                        (false, false) => failed.push(failing),
                    }
                    break;
                }
                match value {
                    Ok(Value::Truth(_) | Value::List(_)) => {}
                    Ok(_) | Err(Stop::Unknown) => {
                        outcome = None;
                        self.undecided(check.stage, &check.name, &item.expr, env);
                    }
                    Err(Stop::Fault(fault)) => {
                        outcome = None;
                        let reasoning = self.explainer.reasoning(&item.expr, env);
                        let place = self.primary_place(&reasoning, check.stage);
                        self.cannot_be_calculated(item.place, &full_name, &fault, place, reasoning);
                    }
                }
            }
            if let Some(wanted) = check.uncertainty_ratio {
                let index = index_text(&self.record.domains, sets, slot);
                let name = format!("{}{index}", check.name);
                self.look_at_ratio(check, wanted, &name, &members, &mut coarse);
            }
            match outcome {
                Some(true) => {
                    holding += 1;
                    if may_be_kept && self.told() == told {
                        keep(&mut known, slot, Said::Holds);
                    }
                }
                None => unknown += 1,
                Some(false) => {}
            }
        }
        self.keeper.keep_check(id, known);
        if let Some(stage) = check.stage {
            let counts = &mut self.stages[stage.index()].counts;
            counts.holding += holding;
            counts.unknown += unknown;
        }
        if let (Some(wanted), Some(coarse)) = (check.uncertainty_ratio, coarse) {
            self.check_too_coarse(check, wanted, coarse);
        }
        self.report(id, &full_name, failed, Told::Failing);
        self.report(id, &full_name, doubtful, Told::NotProven);
        self.report(id, &full_name, conceded, Told::Conceded);
    }

    /// Why a requirement that holds as it stands is not proven; nothing where it is.
    fn doubt_of(
        &mut self,
        require: &'a Require,
        sets: &'a [SetId],
        members: &[u32],
    ) -> Option<Box<Doubt<'a>>> {
        match self.prove(&require.expr, sets, members) {
            Ok(Proof::Open(doubt)) => Some(doubt),
            // It holds as it stands, so a part that has no result decides nothing.
            Ok(Proof::Proven | Proof::Fails) | Err(_) => None,
        }
    }

    fn report(&mut self, id: CheckId, full_name: &str, mut items: Vec<Failing>, told: Told) {
        if items.is_empty() {
            return;
        }
        let check = &self.plan.checks[id.index()];
        let severity = |failing: &Failing| {
            let rationale = &check.requires[failing.require].rationale;
            rationale
                .severity
                .or(check.rationale.severity)
                .unwrap_or(rules::CHECK_FAILED.severity)
        };
        let names: Vec<String> = items
            .iter()
            .map(|item| {
                format!(
                    "{}{}",
                    check.name,
                    index_text(&self.record.domains, &check.indices, item.slot)
                )
            })
            .collect();
        if let Some(stage) = check.stage {
            let began = self.stage_began(check.stage);
            for (item, name) in items.iter().zip(&names) {
                let cover = self.covered(full_name, item.slot, began);
                let closed = cover.and_then(|cover| cover.nonconformity.closed);
                let work = &mut self.stages[stage.index()];
                match told {
                    Told::Conceded => {
                        work.counts.conceded += 1;
                        work.conceded.push((name.clone(), closed));
                    }
                    Told::NotProven => not_proven(work, severity(item), name),
                    Told::Failing => failing(work, severity(item), name),
                }
            }
        }
        if items.len() >= GROUP_FROM {
            let worst = (0..items.len())
                .max_by(|a, b| items[*a].excess.total_cmp(&items[*b].excess))
                .unwrap_or(0);
            let others: Vec<String> = names
                .iter()
                .enumerate()
                .filter(|(index, _)| *index != worst)
                .map(|(_, name)| name.clone())
                .collect();
            let worst = items.swap_remove(worst);
            // The heaviest of the group counts: an error is not hidden behind a warning.
            let weight = items
                .iter()
                .map(severity)
                .fold(severity(&worst), Severity::min);
            self.failure(id, full_name, &worst, weight, &others, told);
            return;
        }
        for item in &items {
            let weight = severity(item);
            self.failure(id, full_name, item, weight, &[], told);
        }
    }

    fn failure(
        &mut self,
        id: CheckId,
        full_name: &str,
        item: &Failing,
        severity: Severity,
        others: &[String],
        told: Told,
    ) {
        let plan = self.plan;
        let check = &plan.checks[id.index()];
        let require = &check.requires[item.require];
        let mut members = Vec::new();
        members_of(
            &self.record.domains,
            &check.indices,
            item.slot,
            &mut members,
        );
        let env = Env {
            sets: &check.indices,
            members: &members,
        };
        let index = index_text(&self.record.domains, &check.indices, item.slot);
        let mut reasoning = self.explainer.reasoning(&require.expr, env);
        let doubt = match item.doubtful {
            true => self.doubt_of(require, &check.indices, &members),
            false => None,
        };
        let sides = match &doubt {
            Some(doubt) => {
                let env = Env {
                    sets: doubt.sets,
                    members: &doubt.members,
                };
                self.sides_of(doubt.leaf, env, &mut reasoning)
            }
            None => self
                .failing_part(&require.expr, env)
                .and_then(|part| self.sides_of(part, env, &mut reasoning)),
        };
        reasoning.source = require
            .rationale
            .source
            .clone()
            .or_else(|| check.rationale.source.clone());
        reasoning.because = first_text(&require.rationale.because, &check.rationale.because);
        reasoning.look = first_list(&require.rationale.look, &check.rationale.look);
        reasoning.caution = first_text(&require.rationale.caution, &check.rationale.caution)
            .or_else(|| {
                check.stage.and_then(|stage| {
                    plan.stages[stage.index()]
                        .caution
                        .as_ref()
                        .map(ToString::to_string)
                })
            });
        if let Some(analysis) = &check.causes {
            reasoning.causes = self.analyse(analysis, env);
        }
        let title = match (check.title == check.name, index.is_empty()) {
            (true, _) => format!("{}{index}", check.name),
            (false, true) => format!("\"{}\"", check.title),
            (false, false) => format!("\"{}\" {index}", check.title),
        };
        let mut message = match (&doubt, &sides) {
            (Some(doubt), sides) => {
                let unit = sides.as_ref().and_then(|(.., unit)| unit.as_ref());
                let why = self.doubtful(doubt, unit, &mut reasoning);
                match sides {
                    Some((left, sign, right, _)) => {
                        let not = if doubt.wanted { "" } else { "not " };
                        format!(
                            "expected {title} to be proven {not}{sign} {right}, found {left}, {why}"
                        )
                    }
                    None => format!(
                        "expected {title} to be proven: {}, found it {why}",
                        self.explainer.flat(doubt.leaf.place)
                    ),
                }
            }
            (None, Some((left, sign, right, _))) => {
                format!("expected {title} to be {sign} {right}, found {left}")
            }
            (None, None) => format!(
                "expected {title} to hold: {}",
                self.explainer.flat(require.expr.place)
            ),
        };
        if !others.is_empty() {
            let how = match item.doubtful {
                true => "are not proven",
                false => "fail",
            };
            message.push_str(&format!("; the worst of {} that {how}", others.len() + 1));
        }
        let place = self.primary_place(&reasoning, check.stage);
        let conceded = told == Told::Conceded;
        let rule = match told {
            Told::Conceded => &rules::CONCEDED,
            Told::NotProven => &rules::NOT_PROVEN,
            Told::Failing => &rules::CHECK_FAILED,
        };
        let mut finding =
            Finding::new(rule, place, message).label(primary_label(&reasoning, place));
        finding = finding.related(
            require.place,
            format!("required here, by check `{}`", check.name),
        );
        let mut shown_places = 0;
        for (name, value, input) in self.explainer.places(&reasoning) {
            if input != place && shown_places < 3 {
                shown_places += 1;
                finding = finding.related(input, format!("{name} = {value}"));
            }
        }
        if !others.is_empty() {
            reasoning.also = Some(shown(others));
        }
        let cover = self.covered(full_name, item.slot, self.stage_began(check.stage));
        finding = match cover {
            Some(cover) if conceded => {
                finding.related(cover.nonconformity.place, "the nonconformity that concedes it")
            }
            Some(cover) => finding
                .severity(severity)
                .related(cover.nonconformity.place, "raised here, not closed with an agreed disposition that accepts it")
                .help("close the nonconformity, or put the work right and record the readings anew"),
            None if item.doubtful => finding.severity(severity).help(
                match doubt.as_ref().map(|doubt| doubt.uncertainty.is_ok()) {
                    Some(false) => HELP_UNKNOWN,
                    _ => HELP_TOO_NEAR,
                },
            ),
            None => finding.severity(severity).help(
                "look for the cause before the next stage covers it, measure again only where the rules of the test allow it, or raise a nonconformity",
            ),
        };
        self.findings.push(finding.reasoning(reasoning));
    }

    /// The two sides of a comparison, with the unit they are shown in; also notes result, limit and margin.
    fn sides_of(
        &self,
        failing: &Expr,
        env: Env<'_>,
        reasoning: &mut Reasoning,
    ) -> Option<(String, String, String, Option<Unit>)> {
        let explainer = &self.explainer;
        match &failing.node {
            ExprNode::Compare(comparison, left, right) => {
                let left_value = self.evaluator.eval(left, env).ok()?;
                let right_value = self.evaluator.eval(right, env).ok()?;
                let unit = self.unit_for(failing, left, env, &left_value, &right_value);
                let left_text = explainer.value(&left_value, unit.as_ref());
                let right_text = explainer.value(&right_value, unit.as_ref());
                if let (Value::Quantity(a), Value::Quantity(b)) = (&left_value, &right_value) {
                    let distance = match comparison {
                        Comparison::Greater | Comparison::AtLeast => a.sub(b),
                        _ => b.sub(a),
                    };
                    if let Ok(distance) = distance {
                        reasoning.margin = Some(explainer.difference(&distance, unit.as_ref()));
                    }
                }
                reasoning.result = Some(format!("{} = {left_text}", explainer.flat(left.place)));
                reasoning.limit = Some(format!("{} {right_text}", comparison.sign()));
                Some((left_text, comparison.sign().to_owned(), right_text, unit))
            }
            ExprNode::In(left, right) => {
                let left_value = self.evaluator.eval(left, env).ok()?;
                let interval = self.evaluator.interval(right, env).ok().flatten()?;
                let Value::Quantity(quantity) = &left_value else {
                    return None;
                };
                let unit = explainer.unit_in(failing, quantity);
                let left_text = explainer.quantity(quantity, unit.as_ref());
                let right_text = explainer.interval(&interval, unit.as_ref());
                if let Ok(Some(margin)) = interval.margin(quantity) {
                    reasoning.margin = Some(explainer.difference(&margin, unit.as_ref()));
                }
                reasoning.result = Some(format!("{} = {left_text}", explainer.flat(left.place)));
                reasoning.limit = Some(right_text.clone());
                Some((left_text, "within".to_owned(), right_text, unit))
            }
            _ => None,
        }
    }

    fn unit_for(
        &self,
        failing: &Expr,
        left: &Expr,
        env: Env<'_>,
        left_value: &Value,
        right_value: &Value,
    ) -> Option<Unit> {
        let quantity = match (left_value, right_value) {
            (Value::Quantity(quantity), _) | (_, Value::Quantity(quantity)) => quantity,
            _ => return None,
        };
        let written = self.explainer.unit_in(failing, quantity);
        written.or_else(|| self.reading_unit(left, env, quantity))
    }

    /// The unit in which the first reading of the same dimension was written.
    fn reading_unit(&self, expr: &Expr, env: Env<'_>, like: &Quantity) -> Option<Unit> {
        let mut found = None;
        expr.walk(&mut |inner| {
            if found.is_some() {
                return;
            }
            if let ExprNode::Reading(id, indices) = &inner.node {
                let sets = &self.plan.readings[id.index()].indices;
                let slot = self
                    .evaluator
                    .slots_of(sets, indices, env)
                    .ok()
                    .and_then(|slots| slots.first().copied());
                let entry = slot.and_then(|slot| self.evaluator.reading_entry(*id, slot));
                let unit = entry.and_then(|entry| self.explainer.unit_of(entry));
                found = unit.filter(|unit| {
                    unit.dimension == like.dimension && unit.offset.is_some() == like.point
                });
            }
        });
        found
    }

    /// The part of a condition that makes it fail: of several joined by `and`, the first that does.
    fn failing_part<'e>(&self, expr: &'e Expr, env: Env<'_>) -> Option<&'e Expr> {
        match &expr.node {
            ExprNode::Logic(true, left, right) => {
                let left_holds = match self.evaluator.eval(left, env) {
                    Ok(Value::Truth(truth)) => truth,
                    Ok(Value::List(items)) => {
                        items.iter().all(|item| matches!(item, Value::Truth(true)))
                    }
                    _ => false,
                };
                self.failing_part(if left_holds { right } else { left }, env)
            }
            ExprNode::Compare(..) | ExprNode::In(..) => Some(expr),
            _ => None,
        }
    }

    fn excess(&self, expr: &Expr, env: Env<'_>) -> f64 {
        let Some(failing) = self.failing_part(expr, env) else {
            return 0.0;
        };
        let ExprNode::Compare(_, left, right) = &failing.node else {
            return 0.0;
        };
        match (
            self.evaluator.eval(left, env),
            self.evaluator.eval(right, env),
        ) {
            (Ok(Value::Quantity(a)), Ok(Value::Quantity(b))) => {
                let (a, b) = (a.value.to_f64(), b.value.to_f64());
                (a - b).abs() / b.abs().max(f64::MIN_POSITIVE)
            }
            _ => 0.0,
        }
    }

    /// Where a failing check is shown: at the first reading that went in, else at its stage.
    pub(super) fn primary_place(&self, reasoning: &Reasoning, stage: Option<StageId>) -> Place {
        let in_record: Vec<Place> = reasoning
            .inputs
            .iter()
            .filter(|input| !input.name.starts_with("design."))
            .filter_map(|input| input.place)
            .collect();
        in_record
            .first()
            .copied()
            .or_else(|| reasoning.inputs.iter().find_map(|input| input.place))
            .or_else(|| {
                stage
                    .and_then(|stage| self.record.stages[stage.index()].last())
                    .map(|round| round.place)
            })
            .unwrap_or(Place {
                file: self.file,
                span: self.record.header.span,
            })
    }
}

fn primary_label(reasoning: &Reasoning, place: Place) -> String {
    let input = reasoning
        .inputs
        .iter()
        .find(|input| input.place == Some(place));
    input.map_or_else(String::new, |input| {
        format!("{} = {}", input.name, input.value)
    })
}

impl Explainer<'_> {
    /// The unit to show a calculated value in: that of a literal of its dimension, if one stands there.
    pub(super) fn result_unit(&self, expr: &Expr, value: &Quantity) -> Option<Unit> {
        if value.dimension.is_none() {
            return None;
        }
        self.unit_in(expr, value)
    }
}
