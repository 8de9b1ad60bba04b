//! What may come next in a unit's record: first what the stage still asks for.

use super::clauses::{against, clauses, dates, is_number, members, people, value};
use super::context::Context;
use super::instruments::instruments;
use super::{Offer, design, stage, tables, unit_snippet, words};
use crate::finding::catalogue;
use crate::plan::{Plan, PointKind, StageId};
use crate::server::sight::Sight;
use crate::syntax::DocumentKind;
use crate::workspace::desk::UnitView;
use serde_json::json;
use tower_lsp::lsp_types::CompletionItemKind;

pub(super) fn offer(
    sight: &Sight<'_>,
    context: &Context<'_>,
    offset: u32,
    near: &[(DocumentKind, String)],
    offer: &mut Offer,
) {
    if context.in_text {
        return;
    }
    let unit = sight.desk.unit(sight.file);
    let plan = unit.and_then(|unit| unit.plan);
    let outer;
    let context = match tables::behind(sight, context, unit.as_ref()) {
        // No row is wanting: what comes next stands beside the table.
        Some(indent) => {
            offer.outdent = Some(indent);
            outer = context.outer();
            &outer
        }
        None => context,
    };
    if tables::offer(sight, context, offset, unit.as_ref(), offer) {
        return;
    }
    if context.at_line_start {
        match context.above.first().map(|above| above.word) {
            None => top(sight, context, plan, unit.as_ref(), near, offer),
            Some("unit") => words(offer, &["plan", "register", "lot", "zone", "note"]),
            Some("stage") if context.above.len() == 1 => {
                stage::offer(sight, context, unit.as_ref(), offer)
            }
            Some("design") if context.above.len() == 1 => {
                design::offer(sight, unit.as_ref(), offer)
            }
            Some("nonconformity") => words(
                offer,
                &[
                    "against",
                    "found",
                    "disposition",
                    "agreed",
                    "closed",
                    "note",
                    "attach",
                ],
            ),
            Some(_) => words(offer, &["note", "attach"]),
        }
        return;
    }
    if let Some((name, position)) = context.index {
        members(context, unit.as_ref(), name, position, offer);
        return;
    }
    match (context.first, context.previous) {
        ("plan", word) if word != "plan" => {
            if let Some(rev) = plan.and_then(|plan| plan.rev.as_ref()) {
                let rev = format!("rev {rev}");
                offer.word(&rev, CompletionItemKind::VALUE, "the revision in force");
            }
        }
        ("plan", "plan") => documents(near, DocumentKind::Plan, offer),
        ("register", "register") => documents(near, DocumentKind::Register, offer),
        ("stage", "stage") => stages(plan, unit.as_ref(), offer),
        ("release" | "witnessed" | "waived" | "reviewed" | "notified", word)
            if word == context.first =>
        {
            points(context, plan, word, offer);
        }
        ("disposition", "disposition") => {
            for word in ["use-as-is", "rework", "repair", "scrap", "regrade"] {
                offer.word(word, CompletionItemKind::ENUM_MEMBER, "disposition");
            }
        }
        ("accept", "accept") => {
            for rule in catalogue::all() {
                offer
                    .word(rule.name, CompletionItemKind::REFERENCE, rule.summary)
                    .data = Some(json!({ "rule": rule.name }));
            }
        }
        ("against", _) => against(context, plan, offer),
        (_, "with") => instruments(sight, context, offset, unit.as_ref(), offer),
        (_, "by") => people(sight, context, offset, unit.as_ref(), offer),
        (_, "on") => dates(sight, offset, offer),
        ("table", "table") if context.inside("stage").is_some() => {
            stage::tables(sight, context, unit.as_ref(), offer);
        }
        ("table" | "log" | "amend", word) if word == context.first => {
            names(context, plan, word, offer)
        }
        ("design", _) => {
            for word in ["rev", "on", "by"] {
                if !context.before.contains(&format!(" {word} ")) {
                    offer.word(word, CompletionItemKind::KEYWORD, "");
                }
            }
        }
        _ if context.before.contains('=') || is_number(context.previous) => {
            value(context, unit.as_ref(), offer)
        }
        _ => clauses(context, offer),
    }
}

fn documents(near: &[(DocumentKind, String)], kind: DocumentKind, offer: &mut Offer) {
    for (_, name) in near.iter().filter(|(own, _)| *own == kind) {
        offer.word(name, CompletionItemKind::FILE, "");
    }
}

/// The top of a record: the design, the stages in their order, a nonconformity.
fn top(
    sight: &Sight<'_>,
    context: &Context<'_>,
    plan: Option<&Plan>,
    unit: Option<&UnitView<'_>>,
    near: &[(DocumentKind, String)],
    offer: &mut Offer,
) {
    let today = sight.today();
    let keyword = CompletionItemKind::KEYWORD;
    // A blank line parts what stands at the top.
    let above = sight.source.text[..context.line_start].lines().next_back();
    let blank = match above.is_none_or(|above| above.trim().is_empty()) {
        true => "",
        false => "\n",
    };
    if unit.is_none() {
        let unit = unit_snippet(sight, near);
        offer.snippet("unit", &unit, keyword, "the unit");
    }
    let record = unit.and_then(|unit| unit.record);
    if record.is_none_or(|record| record.design_place.is_none()) {
        offer.snippet(
            "design",
            &format!("{blank}design rev ${{1:A}} on ${{2:{today}}} by ${{3:NAME}}\n  $0"),
            keyword,
            "the design data of the unit",
        );
    }
    if let Some(plan) = plan {
        let mut recorded = Vec::new();
        for (index, stage) in plan.stages.iter().enumerate() {
            let begun = record.is_some_and(|record| !record.stages[index].is_empty());
            if begun {
                recorded.push(stage);
                continue;
            }
            let label = format!("stage {}", stage.name);
            offer.snippet(
                &label,
                &format!("{blank}{label}\n  $0"),
                CompletionItemKind::MODULE,
                &stage.title,
            );
        }
        for stage in recorded {
            let label = format!("stage {} round", stage.name);
            offer.snippet(
                &label,
                &format!("{blank}{label} ${{1:2}}\n  $0"),
                CompletionItemKind::MODULE,
                "done again",
            );
        }
    }
    offer.snippet(
        "nonconformity",
        &format!("{blank}nonconformity ${{1:NC-1}} on ${{2:{today}}} by ${{3}}\n  against ${{4}}\n  found \"${{5}}\""),
        keyword,
        "a nonconformity",
    );
    words(offer, &["accept"]);
}

fn stages(plan: Option<&Plan>, unit: Option<&UnitView<'_>>, offer: &mut Offer) {
    let summary = unit.and_then(|unit| unit.summary);
    for stage in plan.iter().flat_map(|plan| &plan.stages) {
        let standing = summary
            .and_then(|summary| summary.stages.iter().find(|known| known.name == stage.name))
            .map(crate::server::symbols::standing);
        let begun = unit
            .and_then(|unit| unit.record)
            .and_then(|record| Some(&record.stages[plan?.stage_by_name.get(&stage.name)?.index()]))
            .is_some_and(|rounds| !rounds.is_empty());
        let detail = standing.unwrap_or_else(|| stage.title.to_string());
        let kind = CompletionItemKind::MODULE;
        if begun {
            offer.word(&stage.name, kind, &detail);
        } else {
            offer.snippet(&stage.name, &format!("{}\n  $0", stage.name), kind, &detail);
        }
    }
}

pub(super) fn stage_id(context: &Context<'_>, plan: &Plan) -> Option<StageId> {
    plan.stage_by_name.get(context.name_of("stage")?).copied()
}

fn points(context: &Context<'_>, plan: Option<&Plan>, word: &str, offer: &mut Offer) {
    let Some(plan) = plan else { return };
    let stage = stage_id(context, plan);
    let fits = |kind: PointKind| match word {
        "release" => kind == PointKind::Hold,
        "reviewed" => kind == PointKind::Review,
        "notified" => kind != PointKind::Review,
        _ => kind == PointKind::Witness,
    };
    for point in plan.points.iter().filter(|point| fits(point.kind)) {
        if stage.is_none_or(|stage| stage == point.stage) {
            let detail = format!("{}, by {}", point.title, point.roles.join(" or "));
            offer.word(&point.name, CompletionItemKind::EVENT, &detail);
        }
    }
}

pub(super) fn names(context: &Context<'_>, plan: Option<&Plan>, word: &str, offer: &mut Offer) {
    let Some(plan) = plan else { return };
    let Some(stage) = stage_id(context, plan).map(|id| &plan.stages[id.index()]) else {
        return;
    };
    if word == "log" {
        for id in &stage.logs {
            let log = &plan.logs[id.index()];
            offer.word(&log.name, CompletionItemKind::STRUCT, &log.title);
        }
        return;
    }
    for id in &stage.readings {
        let reading = &plan.readings[id.index()];
        offer.word(
            &reading.name,
            CompletionItemKind::FIELD,
            reading.kind.name(),
        );
    }
}
