//! What may come next inside a line of a record: members, values and their units, instruments, people, days.

use super::context::Context;
use super::record::stage_id;
use super::{Offer, design, units, words};
use crate::plan::kind::{Kind, QUANTITY_KINDS};
use crate::plan::{Plan, StageName};
use crate::quantity::moment::format_day;
use crate::register::Register;
use crate::server::hover::day_at;
use crate::server::sight::Sight;
use crate::workspace::desk::UnitView;
use tower_lsp::lsp_types::CompletionItemKind;

pub(super) fn is_number(word: &str) -> bool {
    word.parse::<f64>().is_ok()
}

/// The members of the set at one position of an index.
pub(super) fn members(
    context: &Context<'_>,
    unit: Option<&UnitView<'_>>,
    name: &str,
    position: usize,
    offer: &mut Offer,
) {
    let Some(unit) = unit else { return };
    let (Some(plan), Some(record)) = (unit.plan, unit.record) else {
        return;
    };
    let (stage, name) = match name.split_once('.') {
        Some((stage, name)) => (plan.stage_by_name.get(stage).copied(), name),
        None => (stage_id(context, plan), name),
    };
    let of_stage = stage.and_then(|stage| plan.stages[stage.index()].names.get(name));
    let indices = match of_stage {
        Some(StageName::Reading(id)) => &plan.readings[id.index()].indices,
        Some(StageName::Log(id)) => &plan.logs[id.index()].indices,
        Some(StageName::Check(id)) => &plan.checks[id.index()].indices,
        Some(StageName::Calc(id)) => &plan.calcs[id.index()].indices,
        None => match plan.design_by_name.get(name) {
            Some(id) => &plan.design[id.index()].indices,
            None => return,
        },
    };
    let Some(set) = indices.get(position) else {
        return;
    };
    for member in &record.domains[set.index()].members {
        offer.word(
            &member.to_string(),
            CompletionItemKind::ENUM_MEMBER,
            &plan.sets[set.index()].name,
        );
    }
}

pub(super) fn against(context: &Context<'_>, plan: Option<&Plan>, offer: &mut Offer) {
    let Some(plan) = plan else { return };
    if let Some(stage) = context.previous.strip_suffix('.') {
        let stage = plan
            .stage_by_name
            .get(stage)
            .map(|id| &plan.stages[id.index()]);
        for id in stage.iter().flat_map(|stage| &stage.readings) {
            offer.word(
                &plan.readings[id.index()].name,
                CompletionItemKind::FIELD,
                "reading",
            );
        }
        for id in stage.iter().flat_map(|stage| &stage.checks) {
            let check = &plan.checks[id.index()];
            offer.word(&check.name, CompletionItemKind::METHOD, &check.title);
        }
        return;
    }
    for stage in &plan.stages {
        offer.word(&stage.name, CompletionItemKind::MODULE, &stage.title);
    }
}

/// The kind of the reading or design value whose line it is.
pub(super) fn kind_of<'p>(context: &Context<'_>, plan: &'p Plan) -> Option<&'p Kind> {
    let name = match context.first {
        "amend" => second_name(context)?,
        other => other,
    };
    kind_named(name, context, plan)
}

/// The name behind the first word of the line: `ratio` of `table ratio(%)`.
pub(super) fn second_name<'t>(context: &Context<'t>) -> Option<&'t str> {
    let word = context.before.split_whitespace().nth(1)?;
    word.split(['[', '(']).next()
}

/// The kind of the reading or design value of this name where the line stands.
pub(super) fn kind_named<'p>(
    name: &str,
    context: &Context<'_>,
    plan: &'p Plan,
) -> Option<&'p Kind> {
    if context.inside("design").is_some() {
        return Some(&plan.design[plan.design_by_name.get(name)?.index()].kind);
    }
    let stage = &plan.stages[stage_id(context, plan)?.index()];
    match stage.names.get(name)? {
        StageName::Reading(id) => Some(&plan.readings[id.index()].kind),
        _ => None,
    }
}

/// The words that a kind takes: yes and no, or its choices. `false` where it takes none of its own.
pub(super) fn choices(kind: Option<&Kind>, offer: &mut Offer) -> bool {
    match kind {
        Some(Kind::YesNo) => words(offer, &["yes", "no"]),
        Some(Kind::Choice(names)) => {
            for name in names {
                offer.word(name, CompletionItemKind::ENUM_MEMBER, "");
            }
        }
        _ => return false,
    }
    true
}

/// That a value does not apply.
pub(super) fn not_applicable(offer: &mut Offer) {
    offer.snippet(
        "n/a",
        "n/a \"${1:reason}\"",
        CompletionItemKind::KEYWORD,
        "does not apply, with the reason",
    );
}

/// A value or its unit.
pub(super) fn value(context: &Context<'_>, unit: Option<&UnitView<'_>>, offer: &mut Offer) {
    let Some(plan) = unit.and_then(|unit| unit.plan) else {
        return;
    };
    if context.previous == "at" {
        return;
    }
    let after_at = context.before.split_whitespace().rev().nth(1) == Some("at");
    let kind = kind_of(context, plan);
    if after_at {
        for kind in QUANTITY_KINDS
            .iter()
            .filter(|kind| matches!(kind.name, "temperature" | "voltage" | "pressure"))
        {
            units(offer, kind.dimension, kind.point, kind.example);
        }
        return;
    }
    let number = is_number(context.previous);
    if context.previous == "="
        && kind == Some(&Kind::Name)
        && let Some(record) = unit.and_then(|unit| unit.record)
    {
        design::names(plan, record, context.first, offer);
    }
    match kind {
        Some(Kind::Quantity(kind)) if number => {
            units(offer, kind.dimension, kind.point, kind.example)
        }
        Some(_) if context.previous == "=" => {
            if !choices(kind, offer) {
                not_applicable(offer);
            }
        }
        _ => clauses(context, offer),
    }
}

pub(super) fn clauses(context: &Context<'_>, offer: &mut Offer) {
    if context.first == "note" || context.first == "attach" || context.before.is_empty() {
        return;
    }
    // A design value has none, and a list goes on behind its comma.
    if context.inside("design").is_some() || context.previous.ends_with(',') {
        return;
    }
    for word in ["at", "with", "by", "on", "because"] {
        if !context.before.contains(&format!(" {word} ")) {
            offer.word(word, CompletionItemKind::KEYWORD, "");
        }
    }
}

fn register<'a>(unit: Option<&UnitView<'a>>) -> Option<&'a Register> {
    unit.and_then(|unit| unit.register)
}

pub(super) fn day_in(text: &str) -> Option<i32> {
    let mut words = text.split_whitespace().skip_while(|word| *word != "on");
    crate::quantity::moment::parse_day(words.nth(1)?).ok()
}

/// People: those first who may do what the line says.
pub(super) fn people(
    sight: &Sight<'_>,
    context: &Context<'_>,
    offset: u32,
    unit: Option<&UnitView<'_>>,
    offer: &mut Offer,
) {
    let Some(register) = register(unit) else {
        return;
    };
    let point = unit.and_then(|unit| unit.plan).and_then(|plan| {
        let acts = ["release", "witnessed", "waived", "reviewed"];
        acts.contains(&context.first).then_some(())?;
        let name = context.before.split_whitespace().nth(1)?;
        plan.points.iter().find(|point| *point.name == *name)
    });
    let day = day_at(sight, offset).or_else(|| day_in(context.before));
    let mut all: Vec<(bool, String, String)> = register
        .people
        .iter()
        .filter(|(_, person)| {
            day.is_none_or(|day| {
                person
                    .valid
                    .is_none_or(|(first, last)| (first..=last).contains(&day))
                    && person.retired.as_ref().is_none_or(|own| day <= own.last)
            })
        })
        .map(|(name, person)| {
            let may = point
                .is_none_or(|point| person.roles.iter().any(|role| point.roles.contains(role)));
            (
                !may,
                name.to_string(),
                format!("{}, {}", person.title, person.roles.join(", ")),
            )
        })
        .collect();
    all.sort();
    for (not, name, detail) in all {
        let detail = if not {
            format!("{detail}; may not release this point")
        } else {
            detail
        };
        offer.word(&name, CompletionItemKind::CLASS, &detail);
    }
}

/// Today, and the days that the record names already, the latest first.
pub(super) fn dates(sight: &Sight<'_>, offset: u32, offer: &mut Offer) {
    let tree = sight.tree;
    let mut days: Vec<i32> = (0..tree.len() as u32)
        .map(crate::syntax::NodeId)
        .filter(|node| {
            tree.kind(*node) == crate::syntax::NodeKind::DateTime && tree.span(*node).end <= offset
        })
        .filter_map(|node| {
            crate::quantity::moment::parse_day(tree.text_of(node).split_whitespace().next()?).ok()
        })
        .collect();
    days.sort_unstable();
    days.dedup();
    if let Some(day) = sight.desk.today(sight.file) {
        offer.word(&format_day(day), CompletionItemKind::VALUE, "today");
        days.retain(|own| *own != day);
    }
    for day in days.into_iter().rev().take(3) {
        offer.word(&format_day(day), CompletionItemKind::VALUE, "named above");
    }
}
