//! What may come next in a plan.

use super::context::Context;
use super::{Offer, kinds, words};
use crate::pages;
use crate::plan::{AnalysisKind, Plan, StageName, function};
use crate::server::meaning;
use crate::server::sight::Sight;
use crate::syntax::DocumentKind;
use serde_json::json;
use tower_lsp::lsp_types::CompletionItemKind;

pub(super) fn offer(
    sight: &Sight<'_>,
    context: &Context<'_>,
    near: &[(DocumentKind, String)],
    offer: &mut Offer,
) {
    if context.in_text {
        return;
    }
    let plan = meaning::plan_of(sight).map(|(plan, _)| plan);
    if context.at_line_start {
        statement(context, offer);
        return;
    }
    match (context.first, context.previous) {
        (_, "extends") => {
            for (_, name) in near.iter().filter(|(kind, _)| *kind == DocumentKind::Plan) {
                offer.word(name, CompletionItemKind::FILE, "plan");
            }
        }
        ("reading" | "need" | "may" | "column" | "log", _) if context.index.is_some() => {
            sets(plan, offer)
        }
        ("calc" | "check", _) if context.index.is_some() && !context.before.contains('=') => {
            sets(plan, offer)
        }
        ("reading" | "need" | "may" | "column" | "log", _) if context.before.contains(':') => {
            kinds(offer);
            words(offer, &["given"]);
        }
        ("hold" | "witness" | "review", "by") | ("concessions", _) => {
            for role in plan.iter().flat_map(|plan| &plan.roles) {
                offer.word(role, CompletionItemKind::ENUM_MEMBER, "role");
            }
        }
        ("hold" | "witness" | "review", _) => {
            words(offer, &["by", "other than measurer", "notice", "sealed"])
        }
        ("after", _) | ("add", "stage") => {
            for stage in plan.iter().flat_map(|plan| &plan.stages) {
                offer.word(&stage.name, CompletionItemKind::MODULE, &stage.title);
            }
            words(offer, &["nothing"]);
        }
        ("source", "source") => words(offer, &["common-practice", "works", "order", "physics"]),
        ("severity", _) => words(offer, &["error", "warning", "note"]),
        ("decide", _) => words(offer, &["simple", "guarded"]),
        ("causes", "causes") => {
            for (name, _) in AnalysisKind::ALL {
                offer.snippet(
                    name,
                    &format!("{name}(${{1}})"),
                    CompletionItemKind::FUNCTION,
                    "analysis",
                );
            }
        }
        ("limit" | "require" | "when" | "calc" | "causes", _) => expression(context, plan, offer),
        ("tighten" | "relax" | "drop", _) => path(context, plan, offer),
        ("independent", _) => in_stage(context, plan, offer),
        // An expression that goes on over the line.
        _ if context
            .above
            .last()
            .is_some_and(|above| matches!(above.word, "calc" | "require" | "limit" | "when")) =>
        {
            expression(context, plan, offer);
        }
        _ => {}
    }
}

fn statement(context: &Context<'_>, offer: &mut Offer) {
    let keyword = CompletionItemKind::KEYWORD;
    match context.above.last().map(|above| above.word) {
        None => {
            offer.snippet(
                "stage",
                "stage ${1:name} \"${2:title}\"\n  $0",
                keyword,
                "a stage",
            );
            offer.snippet("set", "set ${1:phase} = ${2:U V W}\n", keyword, "an index");
            words(
                offer,
                &[
                    "role", "design", "tighten", "relax", "drop", "add", "accept",
                ],
            );
        }
        Some("plan") => words(
            offer,
            &[
                "title",
                "decide",
                "uncertainty-ratio",
                "concessions",
                "sealed",
                "note",
            ],
        ),
        Some("design") => words(offer, &["need", "may", "check", "calc", "note"]),
        Some("stage" | "add") => {
            offer.snippet(
                "reading",
                "reading ${1:name} : ${2:length}\n  limit ${3}\n  source ${4:common-practice}\n  because \"${5}\"\n",
                keyword,
                "what is to be recorded",
            );
            offer.snippet(
                "check",
                "check ${1:name} \"${2:title}\"\n  require ${3}\n  source ${4:common-practice}\n  because \"${5}\"\n",
                keyword,
                "what must hold",
            );
            offer.snippet(
                "calc",
                "calc ${1:name} = ${2}\n",
                keyword,
                "a calculated value",
            );
            offer.snippet(
                "hold",
                "hold ${1:H10} \"${2:title}\" by ${3:quality}\n",
                keyword,
                "work stops here",
            );
            offer.snippet(
                "witness",
                "witness ${1:W20} \"${2:title}\" by ${3:customer}\n",
                keyword,
                "somebody may attend",
            );
            offer.snippet(
                "review",
                "review ${1:R5} \"${2:title}\" by ${3:design}\n",
                keyword,
                "documents are reviewed",
            );
            words(
                offer,
                &["after", "when", "caution", "log", "note", "need", "may"],
            );
        }
        Some("reading" | "tighten" | "relax") => words(
            offer,
            &[
                "limit",
                "source",
                "because",
                "look",
                "caution",
                "severity",
                "when",
                "compare",
                "independent",
                "decide",
                "uncertainty",
                "uncertainty-ratio",
                "require",
                "note",
            ],
        ),
        Some("check") => words(
            offer,
            &[
                "require",
                "source",
                "because",
                "look",
                "caution",
                "severity",
                "causes",
                "when",
                "decide",
                "uncertainty-ratio",
                "note",
            ],
        ),
        Some("calc") => words(offer, &["source", "because", "when", "compare", "note"]),
        Some("log") => words(offer, &["column", "when", "note", "caution"]),
        Some("hold" | "witness" | "review") => {
            words(offer, &["when", "because", "caution", "note"])
        }
        Some(_) => words(offer, &["source", "because", "note"]),
    }
}

fn sets(plan: Option<&Plan>, offer: &mut Offer) {
    for set in plan.iter().flat_map(|plan| &plan.sets) {
        offer.word(&set.name, CompletionItemKind::ENUM, "set");
    }
}

/// The names of the stage in which the line stands.
fn in_stage(context: &Context<'_>, plan: Option<&Plan>, offer: &mut Offer) {
    let Some(plan) = plan else { return };
    let name = context.name_of("stage").or_else(|| {
        let rest = context.inside("add")?.rest;
        rest.strip_prefix("stage ")?.split_whitespace().next()
    });
    let tightened = context
        .inside("tighten")
        .or_else(|| context.inside("relax"))
        .and_then(|above| above.rest.split('.').next());
    if let Some(name) = name.or(tightened) {
        of_stage(plan, name, offer);
    }
}

fn of_stage(plan: &Plan, name: &str, offer: &mut Offer) {
    let Some(id) = plan.stage_by_name.get(name) else {
        return;
    };
    let mut names: Vec<(&str, &StageName)> = plan.stages[id.index()]
        .names
        .iter()
        .map(|(name, what)| (&**name, what))
        .collect();
    names.sort_by_key(|(name, _)| *name);
    for (name, what) in names {
        let (kind, detail) = match what {
            StageName::Reading(id) => (
                CompletionItemKind::FIELD,
                plan.readings[id.index()].kind.name().to_string(),
            ),
            StageName::Log(_) => (CompletionItemKind::STRUCT, "log".to_owned()),
            StageName::Calc(_) => (CompletionItemKind::VARIABLE, "calculated value".to_owned()),
            StageName::Check(_) => continue,
        };
        offer.word(name, kind, &detail);
    }
}

fn path(context: &Context<'_>, plan: Option<&Plan>, offer: &mut Offer) {
    let Some(plan) = plan else { return };
    if let Some(stage) = context.previous.strip_suffix('.') {
        of_stage(plan, stage, offer);
        return;
    }
    for stage in &plan.stages {
        offer.word(&stage.name, CompletionItemKind::MODULE, &stage.title);
    }
}

/// An expression: the names at hand, then the functions.
fn expression(context: &Context<'_>, plan: Option<&Plan>, offer: &mut Offer) {
    let head = context
        .before
        .rsplit(|character: char| {
            !(character.is_alphanumeric() || matches!(character, '-' | '_' | '.'))
        })
        .next();
    if let (Some(head), Some(plan)) = (head.and_then(|head| head.strip_suffix('.')), plan) {
        if head == "design" {
            for item in &plan.design {
                offer.word(&item.name, CompletionItemKind::PROPERTY, item.kind.name());
            }
            return;
        }
        of_stage(plan, head, offer);
        if let Some(log) = plan.logs.iter().find(|log| *log.name == *head) {
            for column in &log.columns {
                offer.word(&column.name, CompletionItemKind::FIELD, column.kind.name());
            }
        }
        return;
    }
    if context.index.is_some() {
        sets(plan, offer);
        offer.word("*", CompletionItemKind::OPERATOR, "all members");
    }
    in_stage(context, plan, offer);
    offer.word("design", CompletionItemKind::MODULE, "design values");
    for stage in plan.iter().flat_map(|plan| &plan.stages) {
        offer.word(&stage.name, CompletionItemKind::MODULE, &stage.title);
    }
    for function in function::all() {
        let stops: Vec<String> = function
            .parameters
            .iter()
            .enumerate()
            .map(|(at, parameter)| format!("${{{}:{}}}", at + 1, parameter.name))
            .collect();
        let snippet = format!("{}({})", function.name, stops.join(", "));
        offer
            .snippet(
                function.name,
                &snippet,
                CompletionItemKind::FUNCTION,
                &pages::signature(function),
            )
            .data = Some(json!({ "function": function.name }));
    }
    words(offer, &["if", "then", "else", "and", "or", "not", "in"]);
}
