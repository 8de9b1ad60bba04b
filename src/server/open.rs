//! What is still asked for, laid out to be filled in: a table where every place of a name is open, else lines.

use crate::plan::kind::Kind;
use crate::plan::skeleton::{CLAUSES, heads_otherwise};
use crate::plan::{Plan, ReadingId, SetId};
use crate::quantity::parse_unit;
use crate::record::{Domain, Record, index_text, slots};
use crate::verdict::Glance;

/// Rows of a table that is offered whole.
const MOST_ROWS: usize = 200;
/// Characters of a row after which a further name begins a table of its own.
const WIDTH: usize = 100;

/// A name with the places of it that are open.
pub(super) struct Open<'p> {
    /// The name of the reading or design value.
    pub name: &'p str,
    /// The unit that heads its columns; empty where each cell has its own.
    pub unit: String,
    /// What it is indexed by.
    pub indices: &'p [SetId],
    /// The places that are open.
    pub slots: Vec<usize>,
}

/// Statements that keep every open place open, one level deep.
///
/// Names with the same single index share a table, as far as its rows stay of readable width.
pub(super) fn laid_out(plan: &Plan, domains: &[Domain], items: &[Open<'_>]) -> String {
    let mut text = String::new();
    let mut at = 0;
    while let Some(item) = items.get(at) {
        if !fills_a_table(plan, domains, item) {
            lines(domains, item, &mut text);
            at += 1;
            continue;
        }
        let mut together = vec![item];
        if item.indices.len() == 1 {
            let mut width = item.head().len();
            for next in &items[at + 1..] {
                width += next.head().len() + 2;
                let alike = next.indices == item.indices && fills_a_table(plan, domains, next);
                if !alike || width > WIDTH {
                    break;
                }
                together.push(next);
            }
        }
        at += together.len();
        for line in as_table(plan, domains, &together).lines() {
            text += &format!("  {line}\n");
        }
    }
    text
}

/// The table of names that fill one together: of one with two indices, or of several with the same single one.
pub(super) fn as_table(plan: &Plan, domains: &[Domain], together: &[&Open<'_>]) -> String {
    let Some(item) = together.first() else {
        return String::new();
    };
    let (head, rows) = match item.indices {
        [down, across] => (
            format!(" {}", item.head()),
            crossed(plan, domains, *down, *across),
        ),
        _ => (String::new(), side_by_side(plan, domains, together)),
    };
    format!("table{head}\n{}", aligned(&rows))
}

/// The names that fill a table, those with the same single index together as far as rows stay of readable width; each
/// group where its first name stands.
pub(super) fn beside_each_other<'a, 'p>(
    plan: &Plan,
    domains: &[Domain],
    items: impl Iterator<Item = &'a Open<'p>>,
) -> Vec<Vec<&'a Open<'p>>> {
    let mut groups: Vec<(usize, Vec<&'a Open<'p>>)> = Vec::new();
    for item in items.filter(|item| fills_a_table(plan, domains, item)) {
        let width = item.head().len() + 2;
        let group = groups.iter_mut().find(|(taken, group)| {
            item.indices.len() == 1 && group[0].indices == item.indices && taken + width <= WIDTH
        });
        match group {
            Some((taken, group)) => {
                *taken += width;
                group.push(item);
            }
            None => groups.push((width, vec![item])),
        }
    }
    groups.into_iter().map(|(_, group)| group).collect()
}

/// A name as it heads a table or a column.
fn head(name: &str, unit: &str) -> String {
    match unit {
        "" => name.to_owned(),
        unit => format!("{name}({unit})"),
    }
}

impl Open<'_> {
    fn head(&self) -> String {
        head(self.name, &self.unit)
    }
}

/// Whether all places of a name are open and its indices make the rows and columns of a table.
fn fills_a_table(plan: &Plan, domains: &[Domain], item: &Open<'_>) -> bool {
    let of_clauses = |set: &SetId| CLAUSES.contains(&&*plan.sets[set.index()].name);
    (1..=2).contains(&item.indices.len())
        && item.slots.len() > 1
        && item.slots.len() == slots(domains, item.indices)
        && !item.indices.iter().any(of_clauses)
        && !heads_otherwise(plan, item.name)
        && !(item.indices.len() == 2 && item.indices[0] == item.indices[1])
        && domains[item.indices[0].index()].members.len() <= MOST_ROWS
}

fn lines(domains: &[Domain], item: &Open<'_>, text: &mut String) {
    for slot in &item.slots {
        let index = index_text(domains, item.indices, *slot);
        *text += &format!("  {}{index} = ?\n", item.name);
    }
}

fn members(domains: &[Domain], set: SetId) -> Vec<String> {
    let members = &domains[set.index()].members;
    members.iter().map(ToString::to_string).collect()
}

/// Header and rows of a table with the members of one set down and of another across.
fn crossed(plan: &Plan, domains: &[Domain], down: SetId, across: SetId) -> Vec<Vec<String>> {
    let columns = members(domains, across);
    let mut head = vec![plan.sets[down.index()].name.to_string()];
    head.extend(columns.iter().cloned());
    let rows = members(domains, down).into_iter().take(MOST_ROWS);
    let rows = rows.map(|member| open_row(member, columns.len()));
    std::iter::once(head).chain(rows).collect()
}

/// Header and rows of a table with the members of a set down and names across.
fn side_by_side(plan: &Plan, domains: &[Domain], items: &[&Open<'_>]) -> Vec<Vec<String>> {
    let set = items[0].indices[0];
    let mut head = vec![plan.sets[set.index()].name.to_string()];
    head.extend(items.iter().map(|item| item.head()));
    let rows = members(domains, set).into_iter();
    let rows = rows.map(|member| open_row(member, items.len()));
    std::iter::once(head).chain(rows).collect()
}

/// A row of a table with a place kept open in each of its columns.
pub(super) fn open_row(member: String, columns: usize) -> Vec<String> {
    std::iter::once(member)
        .chain(std::iter::repeat_n("?".to_owned(), columns))
        .collect()
}

/// A whole table of one reading: the last index across, the other down. `clauses` stand behind its name.
pub(super) fn table(
    plan: &Plan,
    record: &Record,
    id: ReadingId,
    unit: &str,
    clauses: &str,
) -> (String, String) {
    let reading = &plan.readings[id.index()];
    let label = format!("table {}", reading.name);
    let mut text = format!("table {}{clauses}\n", head(&reading.name, unit));
    let rows = match reading.indices.as_slice() {
        [only] => {
            let across = members(&record.domains, *only);
            let open = vec!["?".to_owned(); across.len()];
            vec![across, open]
        }
        [down, across] => crossed(plan, &record.domains, *down, *across),
        _ => Vec::new(),
    };
    text += &aligned(&rows);
    (label, text)
}

/// Rows with their columns in line, each a level deeper than the table.
pub(super) fn aligned(rows: &[Vec<String>]) -> String {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let width = |column: usize| {
        let cells = rows.iter().filter_map(|row| row.get(column));
        cells.map(|cell| cell.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..columns).map(width).collect();
    let mut out = String::new();
    for row in rows {
        let cells: Vec<String> = row
            .iter()
            .zip(&widths)
            .map(|(cell, width)| format!("{cell:width$}"))
            .collect();
        out += &format!("  {}\n", cells.join("  ").trim_end());
    }
    out
}

/// The unit in which a reading of a kind is asked for: that of its limit, else a common one of its kind.
pub(super) fn unit_of(kind: &Kind, glance: &Glance) -> String {
    unit_of_limit(kind, glance).unwrap_or_else(|| example(kind).to_owned())
}

/// The unit in which the limit of a reading is written, where it is one of the reading's kind.
pub(super) fn unit_of_limit(kind: &Kind, glance: &Glance) -> Option<String> {
    let Kind::Quantity(quantity) = kind else {
        return None;
    };
    glance
        .limits
        .iter()
        .filter_map(|limit| limit.allowed.as_deref()?.split_whitespace().next_back())
        .find(|word| {
            // The number of a limit without unit is not its unit.
            word.parse::<f64>().is_err()
                && parse_unit(word).is_ok_and(|unit| {
                    unit.dimension == quantity.dimension && unit.offset.is_some() == quantity.point
                })
        })
        .map(str::to_owned)
}

/// A unit in which a kind is commonly written; empty where it has none.
pub(super) fn example(kind: &Kind) -> &'static str {
    match kind {
        // As often a plain number as a share: a unit would turn 300 into 3.
        Kind::Quantity(kind) if kind.name == "ratio" => "",
        Kind::Quantity(kind) => kind.example,
        _ => "",
    }
}
