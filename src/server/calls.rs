//! Which calculated values and checks rest on which: the hierarchy of calls.

use super::meaning::{self, Sort};
use super::navigation::name_in;
use super::sight::Sight;
use crate::plan::{CalcId, CheckId, Expr, ExprNode, Plan};
use crate::text::Place;
use serde_json::{Value, json};
use tower_lsp::lsp_types::{
    CallHierarchyIncomingCall, CallHierarchyItem, CallHierarchyOutgoingCall, Position, Range,
    SymbolKind,
};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Item {
    Calc(CalcId),
    Check(CheckId),
}

impl Item {
    fn place(self, plan: &Plan) -> Place {
        match self {
            Item::Calc(id) => plan.calcs[id.index()].place,
            Item::Check(id) => plan.checks[id.index()].place,
        }
    }

    fn exprs(self, plan: &Plan) -> Vec<&Expr> {
        match self {
            Item::Calc(id) => vec![&plan.calcs[id.index()].expr],
            Item::Check(id) => plan.checks[id.index()]
                .requires
                .iter()
                .map(|own| &own.expr)
                .collect(),
        }
    }

    fn show(self, sight: &Sight<'_>, plan: &Plan) -> Option<CallHierarchyItem> {
        let (name, detail, kind, word, number) = match self {
            Item::Calc(id) => {
                let calc = &plan.calcs[id.index()];
                (
                    &calc.name,
                    plan.full_name(calc.stage, &calc.name),
                    SymbolKind::FUNCTION,
                    "calc",
                    id.0,
                )
            }
            Item::Check(id) => {
                let check = &plan.checks[id.index()];
                (
                    &check.name,
                    check.title.to_string(),
                    SymbolKind::METHOD,
                    "check",
                    id.0,
                )
            }
        };
        let place = self.place(plan);
        let own = name_in(sight, place, name);
        let location = sight.location(own)?;
        Some(CallHierarchyItem {
            name: name.to_string(),
            kind,
            tags: None,
            detail: Some(detail),
            uri: location.uri,
            range: location.range,
            selection_range: location.range,
            data: Some(json!({ "asked": sight.url(sight.file), word: number })),
        })
    }
}

/// The calculated value or check at a position.
pub(super) fn prepare(sight: &Sight<'_>, position: Position) -> Option<Vec<CallHierarchyItem>> {
    let (meaning, _) = meaning::at(sight, sight.offset(position))?;
    let (plan, _) = meaning::plan_of(sight)?;
    let item = match meaning.sort {
        Sort::Calc => {
            let at = plan
                .calcs
                .iter()
                .position(|calc| Some(calc.place) == meaning.declared)?;
            Item::Calc(CalcId(at as u32))
        }
        Sort::Check => {
            let at = plan
                .checks
                .iter()
                .position(|check| Some(check.place) == meaning.declared)?;
            Item::Check(CheckId(at as u32))
        }
        _ => return None,
    };
    Some(vec![item.show(sight, plan)?])
}

fn item(plan: &Plan, data: Option<&Value>) -> Option<Item> {
    let number = |word: &str| data?.get(word)?.as_u64().map(|number| number as u32);
    if let Some(id) = number("calc").filter(|id| (*id as usize) < plan.calcs.len()) {
        return Some(Item::Calc(CalcId(id)));
    }
    let id = number("check").filter(|id| (*id as usize) < plan.checks.len())?;
    Some(Item::Check(CheckId(id)))
}

/// Where each expression names a calculated value.
fn named(exprs: &[&Expr]) -> Vec<(CalcId, Place)> {
    let mut found = Vec::new();
    for expr in exprs {
        expr.walk(&mut |part| {
            if let ExprNode::Calc(id, _) = &part.node {
                found.push((*id, part.place));
            }
        });
    }
    found
}

fn ranges(sight: &Sight<'_>, places: impl Iterator<Item = Place>) -> Vec<Range> {
    places
        .filter_map(|place| Some(sight.location(place)?.range))
        .collect()
}

/// What rests on a calculated value.
pub(super) fn incoming(
    sight: &Sight<'_>,
    data: Option<&Value>,
) -> Option<Vec<CallHierarchyIncomingCall>> {
    let (plan, _) = meaning::plan_of(sight)?;
    let Item::Calc(wanted) = item(plan, data)? else {
        // Nothing rests on a check.
        return Some(Vec::new());
    };
    let calcs = (0..plan.calcs.len() as u32).map(|id| Item::Calc(CalcId(id)));
    let checks = (0..plan.checks.len() as u32).map(|id| Item::Check(CheckId(id)));
    let mut calls = Vec::new();
    for item in calcs.chain(checks) {
        let found = named(&item.exprs(plan));
        let from_ranges = ranges(
            sight,
            found
                .iter()
                .filter(|(id, _)| *id == wanted)
                .map(|(_, place)| *place),
        );
        if !from_ranges.is_empty()
            && let Some(from) = item.show(sight, plan)
        {
            calls.push(CallHierarchyIncomingCall { from, from_ranges });
        }
    }
    Some(calls)
}

/// What a calculated value or check rests on.
pub(super) fn outgoing(
    sight: &Sight<'_>,
    data: Option<&Value>,
) -> Option<Vec<CallHierarchyOutgoingCall>> {
    let (plan, _) = meaning::plan_of(sight)?;
    let found = named(&item(plan, data)?.exprs(plan));
    let mut seen: Vec<CalcId> = Vec::new();
    let mut calls = Vec::new();
    for (id, _) in &found {
        if seen.contains(id) {
            continue;
        }
        seen.push(*id);
        if let Some(to) = Item::Calc(*id).show(sight, plan) {
            let own = found
                .iter()
                .filter(|(other, _)| other == id)
                .map(|(_, place)| *place);
            calls.push(CallHierarchyOutgoingCall {
                to,
                from_ranges: ranges(sight, own),
            });
        }
    }
    Some(calls)
}
