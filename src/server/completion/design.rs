//! What may come next in the design of a record: what the plan needs first, what belongs together as a table.

use super::stage::{MOST_SLOTS, place};
use super::tables::with_stops;
use super::{Offer, literal, words};
use crate::plan::kind::Kind;
use crate::plan::{DesignId, DesignItem, Plan, SetId};
use crate::record::{EMPTY, Record, index_text, slots};
use crate::server::open::{Open, as_table, beside_each_other, example};
use crate::server::sight::Sight;
use crate::workspace::desk::UnitView;
use serde_json::json;
use tower_lsp::lsp_types::CompletionItemKind;

/// Design values that the plan needs and the record does not give, then those that it may give.
pub(super) fn offer(sight: &Sight<'_>, unit: Option<&UnitView<'_>>, offer: &mut Offer) {
    if let Some(unit) = unit
        && let (Some(plan), Some(record)) = (unit.plan, unit.record)
    {
        let open: Vec<(&DesignItem, Open<'_>)> = plan
            .design
            .iter()
            .enumerate()
            .filter_map(|(index, item)| {
                let open = open(record, DesignId(index as u32), item);
                let indexed = !item.indices.is_empty();
                // The members of its sets may not be known yet.
                let whole = indexed && slots(&record.domains, &item.indices) == 0;
                (whole || !open.slots.is_empty()).then_some((item, open))
            })
            .collect();
        let needed = || open.iter().filter(|(item, _)| item.required);
        let tables = beside_each_other(plan, &record.domains, needed().map(|(_, open)| open));
        let mut begun: Vec<SetId> = Vec::new();
        let mut rest = Vec::new();
        for given in needed() {
            let (item, own) = given;
            let group = tables
                .iter()
                .find(|group| group.iter().any(|other| other.name == own.name));
            let Some(group) = group else {
                single(sight, plan, record, given, offer);
                continue;
            };
            rest.push(given);
            // One table of a set at a time: the next is offered when it stands.
            if group[0].name == own.name && !begun.contains(&item.indices[0]) {
                begun.push(item.indices[0]);
                table(plan, record, group, offer);
            }
        }
        for given in rest {
            single(sight, plan, record, given, offer);
        }
        for given in open.iter().filter(|(item, _)| !item.required) {
            single(sight, plan, record, given, offer);
        }
    }
    words(offer, &["table", "note", "attach"]);
}

/// The places of a design value that are not given.
fn open<'p>(record: &Record, id: DesignId, item: &'p DesignItem) -> Open<'p> {
    let given = &record.design[id.index()];
    let all = slots(&record.domains, &item.indices);
    Open {
        name: &item.name,
        unit: example(&item.kind).to_owned(),
        indices: &item.indices,
        slots: (0..all)
            .filter(|slot| given.get(*slot).is_none_or(|own| *own == EMPTY))
            .collect(),
    }
}

fn table(plan: &Plan, record: &Record, group: &[&Open<'_>], offer: &mut Offer) {
    let names: Vec<&str> = group.iter().map(|own| own.name).collect();
    let label = match group[0].indices {
        [only] => format!("table {}", plan.sets[only.index()].name),
        _ => format!("table {}", group[0].name),
    };
    let text = as_table(plan, &record.domains, group);
    let snippet = with_stops(text.trim_end(), 1);
    let detail = format!("{}: still to be given", names.join(", "));
    offer.snippet(&label, &snippet, CompletionItemKind::STRUCT, &detail);
}

/// A design value by itself: each of its open places, or one whose index is still to be written.
fn single(
    sight: &Sight<'_>,
    plan: &Plan,
    record: &Record,
    (item, open): &(&DesignItem, Open<'_>),
    offer: &mut Offer,
) {
    let members = match item.kind {
        Kind::Name => own_members(plan, record, &item.name),
        _ => Vec::new(),
    };
    let detail = match item.required {
        true => format!("{}, needed", item.kind.name()),
        false => item.kind.name().to_string(),
    };
    let mut add = |label: &str, index: &str, mut stop: usize| {
        let value = match members.is_empty() {
            true => place(&item.kind, None, &mut stop),
            false => format!("${{{stop}|?,{}|}}", members.join(",")),
        };
        let snippet = format!("{}{index} = {value}", item.name);
        let kind = CompletionItemKind::PROPERTY;
        offer.snippet(label, &snippet, kind, &detail).data =
            Some(json!({ "text": format!("```ubr\n{}\n```", sight.text(item.place)) }));
    };
    if open.slots.is_empty() {
        let names: Vec<String> = item
            .indices
            .iter()
            .enumerate()
            .map(|(at, set)| format!("${{{}:{}}}", at + 1, plan.sets[set.index()].name))
            .collect();
        let index = format!("[{}]", names.join(", "));
        return add(&item.name, &index, names.len() + 1);
    }
    for slot in open.slots.iter().take(MOST_SLOTS) {
        let index = index_text(&record.domains, &item.indices, *slot);
        add(&format!("{}{index}", item.name), &literal(&index), 1);
    }
}

/// The members of the set after which a design value is called: the windings for `tapped-winding`.
fn own_members(plan: &Plan, record: &Record, name: &str) -> Vec<String> {
    let called = |set: &&crate::plan::Set| {
        name.strip_suffix(&*set.name)
            .is_some_and(|before| before.is_empty() || before.ends_with('-'))
    };
    let Some(set) = plan.sets.iter().find(called) else {
        return Vec::new();
    };
    let members = plan.set_by_name.get(&set.name).map(|id| {
        let members = &record.domains[id.index()].members;
        members.iter().map(ToString::to_string).collect()
    });
    members.unwrap_or_default()
}

/// Names that a design value may have: the members of the set after which it is called, then those of all others.
pub(super) fn names(plan: &Plan, record: &Record, name: &str, offer: &mut Offer) {
    let mut seen = own_members(plan, record, name);
    for member in &seen {
        offer.word(member, CompletionItemKind::ENUM_MEMBER, "");
    }
    for (set, domain) in plan.sets.iter().zip(&record.domains) {
        for member in &domain.members {
            let member = member.to_string();
            let is_name = crate::plan::skeleton::is_name(&member);
            if is_name && !seen.contains(&member) {
                offer.word(&member, CompletionItemKind::ENUM_MEMBER, &set.name);
                seen.push(member);
            }
        }
    }
}
