//! What may come next in a unit's record: first what the stage still asks for.

use super::clauses::{against, clauses, dates, instruments, is_number, members, people, value};
use super::context::Context;
use super::tables::{self, with_stops};
use super::{Offer, literal, unit_snippet, words};
use crate::finding::catalogue;
use crate::plan::{DesignId, Plan, PointKind, StageId};
use crate::record::{Record, index_text, slots};
use crate::server::open::{example, table, unit_of};
use crate::server::sight::Sight;
use crate::syntax::DocumentKind;
use crate::verdict::{Glances, with_glances};
use crate::workspace::desk::UnitView;
use serde_json::json;
use tower_lsp::lsp_types::CompletionItemKind;

/// From so many open slots on a reading is offered as a table.
const TABLE_FROM: usize = 2;

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
    if tables::offer(sight, context, offset, unit.as_ref(), offer) {
        return;
    }
    if context.at_line_start {
        match context.above.first().map(|above| above.word) {
            None => top(sight, plan, unit.as_ref(), near, offer),
            Some("unit") => words(offer, &["plan", "register", "lot", "zone", "note"]),
            Some("stage") if context.above.len() == 1 => {
                stage(sight, context, unit.as_ref(), offer)
            }
            Some("design") if context.above.len() == 1 => design(sight, unit.as_ref(), offer),
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
        ("table" | "log" | "amend", word) if word == context.first => {
            names(context, plan, word, offer)
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
    plan: Option<&Plan>,
    unit: Option<&UnitView<'_>>,
    near: &[(DocumentKind, String)],
    offer: &mut Offer,
) {
    let today = sight.today();
    let keyword = CompletionItemKind::KEYWORD;
    if unit.is_none() {
        let unit = unit_snippet(sight, near);
        offer.snippet("unit", &unit, keyword, "the unit");
    }
    let record = unit.and_then(|unit| unit.record);
    if record.is_none_or(|record| record.design_place.is_none()) {
        offer.snippet(
            "design",
            &format!("design rev ${{1:A}} on ${{2:{today}}}\n  $0"),
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
                &format!("{label}\n  $0"),
                CompletionItemKind::MODULE,
                &stage.title,
            );
        }
        for stage in recorded {
            let label = format!("stage {} round", stage.name);
            offer.snippet(
                &label,
                &format!("{label} ${{1:2}}\n  $0"),
                CompletionItemKind::MODULE,
                "done again",
            );
        }
    }
    offer.snippet(
        "nonconformity",
        &format!("nonconformity ${{1:NC-1}} on ${{2:{today}}} by ${{3}}\n  against ${{4}}\n  found \"${{5}}\""),
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

/// A line of a stage: what is still to be recorded, then the points, then the words.
fn stage(sight: &Sight<'_>, context: &Context<'_>, unit: Option<&UnitView<'_>>, offer: &mut Offer) {
    let who = |offer: &mut Offer| {
        offer.snippet(
            "on",
            &format!("on ${{1:{}}} by ${{2}}", sight.today()),
            CompletionItemKind::KEYWORD,
            "day and person of what follows in this stage",
        );
    };
    // A stage begins with who did it, and when.
    let begun = stage_has_lines(sight, context);
    if !begun {
        who(offer);
    }
    if let Some(unit) = unit
        && let (Some(plan), Some(record)) = (unit.plan, unit.record)
        && let Some(stage) = stage_id(context, plan)
    {
        with_glances(plan, record, sight.file, sight.desk.sources(), |glances| {
            pending(sight, plan, record, stage, glances, offer);
            acts(sight, plan, record, stage, glances, offer);
        });
    }
    if begun {
        who(offer);
    }
    words(
        offer,
        &["table", "log", "note", "attach", "amend", "accept"],
    );
}

/// Whether a statement stands in the outline of the stage above the cursor's line.
fn stage_has_lines(sight: &Sight<'_>, context: &Context<'_>) -> bool {
    let Some(stage) = context.inside("stage") else {
        return true;
    };
    let mut lines = sight.source.text[stage.start as usize..context.line_start].lines();
    lines.next();
    lines.any(|line| !line.trim_start().is_empty() && !line.trim_start().starts_with('#'))
}

fn pending(
    sight: &Sight<'_>,
    plan: &Plan,
    record: &Record,
    stage: StageId,
    glances: &Glances<'_>,
    offer: &mut Offer,
) {
    for id in &plan.stages[stage.index()].readings {
        let open = glances.open_slots(*id);
        let reading = &plan.readings[id.index()];
        let doc = json!({ "text": format!("```ubr\n{}\n```", sight.text(reading.place)) });
        if open.len() >= TABLE_FROM && reading.indices.len() <= 2 && !reading.indices.is_empty() {
            let unit = unit_of(&reading.kind, &glances.reading(*id, open[0]));
            let (label, snippet) = table(plan, record, *id, &unit);
            let detail = format!("{} still to be recorded", open.len());
            let snippet = with_stops(snippet.trim_end(), reading.given.len() + 1);
            offer
                .snippet(&label, &snippet, CompletionItemKind::STRUCT, &detail)
                .data = Some(doc.clone());
        }
        for slot in open.iter().take(24) {
            let index = index_text(&record.domains, &reading.indices, *slot);
            let label = format!("{}{index}", reading.name);
            let glance = glances.reading(*id, *slot);
            let allowed = glance
                .limits
                .first()
                .and_then(|limit| limit.allowed.clone());
            let given: String = reading
                .given
                .iter()
                .enumerate()
                .map(|(at, kind)| format!(" at ${{{}}} {}", at + 2, example(kind)))
                .collect();
            let snippet = format!(
                "{} = ${{1}}{}{given}",
                literal(&label),
                suffix(&unit_of(&reading.kind, &glance))
            );
            let detail = allowed.map_or_else(
                || reading.kind.name().to_string(),
                |allowed| format!("to be {allowed}"),
            );
            offer
                .snippet(&label, &snippet, CompletionItemKind::FIELD, &detail)
                .data = Some(doc.clone());
        }
    }
    for id in &plan.stages[stage.index()].logs {
        let log = &plan.logs[id.index()];
        let label = format!("log {}", log.name);
        let snippet = format!("{label} from \"${{1:logs/{}.csv}}\"", log.name);
        offer.snippet(&label, &snippet, CompletionItemKind::STRUCT, &log.title);
    }
}

/// A unit behind the place of a number.
fn suffix(unit: &str) -> String {
    match unit {
        "" => String::new(),
        unit => format!(" {unit}"),
    }
}

/// The points of a stage that are open.
fn acts(
    sight: &Sight<'_>,
    plan: &Plan,
    record: &Record,
    stage: StageId,
    glances: &Glances<'_>,
    offer: &mut Offer,
) {
    let done = |id: crate::plan::PointId| {
        let round = record.stages[stage.index()].last();
        round.is_some_and(|round| round.acts.iter().any(|act| act.point == id))
    };
    for id in &plan.stages[stage.index()].points {
        if done(*id) || !glances.point_applies(*id) {
            continue;
        }
        let point = &plan.points[id.index()];
        let verbs: &[&str] = match point.kind {
            PointKind::Hold => &["release"],
            PointKind::Witness => &["notified", "witnessed", "waived"],
            PointKind::Review => &["reviewed"],
        };
        for verb in verbs {
            let label = format!("{verb} {}", point.name);
            let snippet = format!("{label} by ${{1}} on ${{2:{}}}", sight.today());
            let detail = format!("{}, by {}", point.title, point.roles.join(" or "));
            offer.snippet(&label, &snippet, CompletionItemKind::EVENT, &detail);
        }
    }
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

/// Design values that the plan needs and the record does not give.
fn design(sight: &Sight<'_>, unit: Option<&UnitView<'_>>, offer: &mut Offer) {
    if let Some(unit) = unit
        && let (Some(plan), Some(record)) = (unit.plan, unit.record)
    {
        for needed in [true, false] {
            for (index, item) in plan.design.iter().enumerate() {
                let own = &record.design[DesignId(index as u32).index()];
                let count = slots(&record.domains, &item.indices);
                let given = own
                    .iter()
                    .filter(|entry| **entry != crate::record::EMPTY)
                    .count();
                if item.required != needed || (given > 0 && given >= count) {
                    continue;
                }
                let index = if item.indices.is_empty() {
                    String::new()
                } else {
                    let names: Vec<String> = item
                        .indices
                        .iter()
                        .enumerate()
                        .map(|(at, set)| format!("${{{}:{}}}", at + 1, plan.sets[set.index()].name))
                        .collect();
                    format!("[{}]", names.join(", "))
                };
                let stop = item.indices.len() + 1;
                let snippet = format!(
                    "{}{index} = ${{{stop}}}{}",
                    item.name,
                    suffix(example(&item.kind))
                );
                let detail = format!(
                    "{}{}",
                    item.kind.name(),
                    if needed { ", needed" } else { "" }
                );
                offer
                    .snippet(&item.name, &snippet, CompletionItemKind::PROPERTY, &detail)
                    .data =
                    Some(json!({ "text": format!("```ubr\n{}\n```", sight.text(item.place)) }));
            }
        }
    }
    words(offer, &["table", "note", "attach"]);
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
