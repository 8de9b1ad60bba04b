//! What may come next in a table or log of a record: the cells of its header, then those of its rows.

use super::clauses::{choices, dates, is_number, kind_named, not_applicable, people};
use super::context::Context;
use super::instruments::instruments;
use super::record::{names, stage_id};
use super::{Offer, design, units, words};
use crate::plan::kind::Kind;
use crate::plan::{Plan, StageName};
use crate::record::Record;
use crate::server::open::table;
use crate::server::sight::Sight;
use crate::workspace::desk::UnitView;
use tower_lsp::lsp_types::CompletionItemKind;

/// Cells of a table that are stops of a snippet; a larger one is gone through by hand.
const MOST_STOPS: usize = 200;

/// The table to which the cursor's line belongs.
struct Around<'t> {
    /// The name behind `table` or `log`, where there is one.
    name: Option<&'t str>,
    /// Its rows are in a file; below it stand where its columns come from.
    from_file: bool,
    /// The cells of its header without their units; nothing while the header is being typed.
    header: Option<Vec<&'t str>>,
    /// The first cells of the rows that are there.
    begun: Vec<&'t str>,
}

/// Offers what may stand in a cell; `false` where the line belongs to no table.
pub(super) fn offer(
    sight: &Sight<'_>,
    context: &Context<'_>,
    offset: u32,
    unit: Option<&UnitView<'_>>,
    offer: &mut Offer,
) -> bool {
    let Some(around) = around(sight, context) else {
        return false;
    };
    let Some((unit, plan, record)) = unit.and_then(|unit| Some((unit, unit.plan?, unit.record?)))
    else {
        return true;
    };
    if around.from_file {
        if context.at_line_start {
            mappings(context, plan, around.name, offer);
        }
        return true;
    }
    let Some(header) = &around.header else {
        in_header(context, plan, record, around.name, offer);
        return true;
    };
    let typed = cells(context.before);
    // One blank parts a number from its unit; two part cells.
    let inside = !context.before.is_empty() && !context.before.ends_with("  ");
    let column = typed.len() - usize::from(inside && !typed.is_empty());
    let Some(name) = header.get(column).copied() else {
        return true;
    };
    match name {
        "by" => people(sight, context, offset, Some(unit), offer),
        "with" => instruments(sight, context, offset, Some(unit), offer),
        "on" | "time" => dates(sight, offset, offer),
        _ => in_row(context, plan, record, &around, name, offer),
    }
    true
}

/// The indentation of the table above, where the cursor stands at the beginning of a line below it and every row that
/// the table can have is there.
pub(super) fn behind(
    sight: &Sight<'_>,
    context: &Context<'_>,
    unit: Option<&UnitView<'_>>,
) -> Option<String> {
    let table = context.above.last().filter(|above| above.word == "table")?;
    if !context.at_line_start {
        return None;
    }
    let around = around(sight, context)?;
    let (plan, record) = unit.and_then(|unit| Some((unit.plan?, unit.record?)))?;
    let header = around.header.as_ref()?;
    let set = |column: usize| plan.set_by_name.get(*header.get(column)?);
    let whole = match (set(0), set(1)) {
        (Some(down), None) => {
            let members = &record.domains[down.index()].members;
            let mut names = members.iter().map(ToString::to_string);
            !members.is_empty() && names.all(|name| around.begun.contains(&name.as_str()))
        }
        // The members stand across: one row holds them all.
        (None, _) => !around.begun.is_empty() && around.name.is_some(),
        (Some(_), Some(_)) => false,
    };
    let line = &sight.source.text[table.start as usize..];
    let depth = line.len() - line.trim_start_matches([' ', '\t']).len();
    whole.then(|| line[..depth].to_owned())
}

fn around<'t>(sight: &Sight<'t>, context: &Context<'t>) -> Option<Around<'t>> {
    let table = context.above.last()?;
    if !matches!(table.word, "table" | "log") {
        return None;
    }
    let text: &'t str = &sight.source.text;
    let name = table.rest.split(['[', '(', ' ', '\t']).next();
    let mut lines = text[table.start as usize..context.line_start]
        .lines()
        .skip(1)
        .map(str::trim)
        .filter(|line| !line.is_empty() && !line.starts_with('#') && !line.starts_with("accept "));
    let header = lines.next().map(|line| {
        let cells = line.split_whitespace();
        cells
            .map(|cell| cell.split('(').next().unwrap_or(cell))
            .collect()
    });
    Some(Around {
        name: name.filter(|name| !name.is_empty() && !matches!(*name, "with" | "by" | "on" | "at")),
        from_file: table.word == "log" && table.rest.contains(" from "),
        header,
        begun: lines
            .filter_map(|line| line.split_whitespace().next())
            .collect(),
    })
}

/// The cells of a row, parted by two blanks or a tab.
fn cells(row: &str) -> Vec<&str> {
    row.split("  ")
        .flat_map(|part| part.split('\t'))
        .map(str::trim)
        .filter(|cell| !cell.is_empty())
        .collect()
}

/// From which column of the file each column of a log is taken.
fn mappings(context: &Context<'_>, plan: &Plan, named: Option<&str>, offer: &mut Offer) {
    let stage = stage_id(context, plan).map(|stage| &plan.stages[stage.index()]);
    let Some(StageName::Log(id)) = named.and_then(|name| stage?.names.get(name)) else {
        return;
    };
    let log = &plan.logs[id.index()];
    for column in std::iter::once(log.axis_name()).chain(log.columns.iter().map(|own| &*own.name)) {
        let label = format!("column {column}");
        let snippet = format!("{label} from \"${{1:{column}}}\"");
        let detail = "the heading in the file";
        offer.snippet(&label, &snippet, CompletionItemKind::FIELD, detail);
    }
}

/// Sets and their members, and what the plan asks for.
fn in_header(
    context: &Context<'_>,
    plan: &Plan,
    record: &Record,
    named: Option<&str>,
    offer: &mut Offer,
) {
    let stage = stage_id(context, plan).map(|stage| &plan.stages[stage.index()]);
    let of_stage = |name: &str| stage.and_then(|stage| stage.names.get(name));
    match named.and_then(of_stage) {
        Some(StageName::Reading(id)) => {
            if context.before.is_empty() {
                let (_, snippet) = table(plan, record, *id, "", "");
                let rows = snippet.split_once('\n').map_or("", |(_, rows)| rows);
                let rows: String = rows
                    .lines()
                    .map(|line| format!("{}\n", line.strip_prefix("  ").unwrap_or(line)))
                    .collect();
                offer.snippet(
                    "all rows",
                    &with_stops(rows.trim_end(), 1),
                    CompletionItemKind::STRUCT,
                    "header and every row, kept open",
                );
            }
            for set in &plan.readings[id.index()].indices {
                let set_name = &plan.sets[set.index()].name;
                offer.word(set_name, CompletionItemKind::ENUM, "set");
                for member in &record.domains[set.index()].members {
                    let member = member.to_string();
                    offer.word(&member, CompletionItemKind::ENUM_MEMBER, set_name);
                }
            }
        }
        Some(StageName::Log(id)) => {
            let log = &plan.logs[id.index()];
            if log.over.is_none() {
                offer.word("time", CompletionItemKind::FIELD, "when the row was read");
            }
            for column in log.over.iter().chain(&log.columns) {
                offer.word(&column.name, CompletionItemKind::FIELD, column.kind.name());
            }
        }
        _ => {
            for set in &plan.sets {
                offer.word(&set.name, CompletionItemKind::ENUM, "set");
            }
            names(context, Some(plan), "table", offer);
            if context.inside("design").is_some() {
                for item in &plan.design {
                    let kind = CompletionItemKind::PROPERTY;
                    offer.word(&item.name, kind, item.kind.name());
                }
            }
        }
    }
    if !context.before.is_empty() {
        words(offer, &["at", "with", "by", "on"]);
    }
}

/// Members that have no row yet, or the values that a name takes.
fn in_row(
    context: &Context<'_>,
    plan: &Plan,
    record: &Record,
    around: &Around<'_>,
    column: &str,
    offer: &mut Offer,
) {
    if let Some(set) = plan.set_by_name.get(column) {
        for member in &record.domains[set.index()].members {
            let member = member.to_string();
            if !around.begun.contains(&member.as_str()) {
                offer.word(&member, CompletionItemKind::ENUM_MEMBER, column);
            }
        }
        return;
    }
    let kind = |name: &str| kind_named(name, context, plan);
    let own = kind(column).or_else(|| kind(around.name?));
    // One blank behind a number: its unit comes next.
    if is_number(context.previous) && !context.before.ends_with("  ") {
        if let Some(Kind::Quantity(kind)) = own {
            units(offer, kind.dimension, kind.point, kind.example);
        }
        return;
    }
    choices(own, offer);
    if own == Some(&Kind::Name) {
        design::names(plan, record, column, offer);
    }
    offer.word("?", CompletionItemKind::KEYWORD, "still to be recorded");
    not_applicable(offer);
}

/// The open cells of a text as stops of a snippet, from a number on.
pub(super) fn with_stops(text: &str, first: usize) -> String {
    if text.matches('?').count() > MOST_STOPS {
        return text.to_owned();
    }
    let mut parts = text.split('?');
    let mut out = parts.next().unwrap_or("").to_owned();
    for (number, part) in parts.enumerate() {
        out += &format!("${{{}:?}}{part}", first + number);
    }
    out
}
