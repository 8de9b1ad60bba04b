//! A unit document to begin with: everything that a plan asks for, laid out and kept open with `?`.
//!
//! What is not known yet (members of a set that the design gives) and what is an act of a person (releases,
//! clauses, logs) stands as a comment, so that the text checks without error and releases nothing. So does
//! each stage as a whole: a `stage` statement says that the stage has begun, and from then on a design value
//! that is not there is an error.

mod layout;
mod members;

pub use layout::{CLAUSES, heads_otherwise};
pub use members::{SetMembers, read_sets};

use super::model::*;
use super::{Expr, constant};
use crate::plan::kind::Kind;
use crate::plan::value::Value;
use crate::syntax::{NodeKind, parse};
use crate::text::SourceText;
use layout::{Item, Page};

/// What a new unit document says of its unit.
#[derive(Clone, Debug, Default)]
pub struct Beginning {
    /// The serial, as people write it.
    pub serial: String,
    /// What the unit is.
    pub title: Option<String>,
    /// The register's name.
    pub register: Option<String>,
    /// The zone, `Europe/Vienna` or `+01:00`.
    pub zone: Option<String>,
    /// Members of sets that the design gives.
    pub sets: SetMembers,
}

/// Writes a unit document for a plan; conditions of the plan are quoted from `sources`.
///
/// The text has no error for `check` as long as the plan has none and the plan and register can be found
/// from where the document stands.
pub fn skeleton(plan: &Plan, sources: &[SourceText], beginning: &Beginning) -> String {
    let mut page = Page::new(plan, &beginning.sets);
    unit(&mut page, beginning);
    design(&mut page, plan, &beginning.sets);
    if !plan.stages.is_empty() {
        page.blank();
        page.comment(
            0,
            "The stages in the plan's order. A stage that has begun is a statement: take the `#` and the blank \
             behind it away from the lines of a stage when its work begins, the design being complete.",
        );
    }
    for stage in plan.stages.iter().filter(|stage| !never(&stage.when)) {
        page.blank();
        let from = page.text.len();
        record(&mut page, plan, sources, stage);
        page.lay_out(from);
        page.comment_out(from);
    }
    page.lay_out(0);
    page.text
}

fn unit(page: &mut Page<'_>, beginning: &Beginning) {
    let plan = page.plan;
    page.comment(
        0,
        "`?` keeps a place open. Write over it what was read, with its unit: 412.6 mohm. In a table the unit \
         may stand once, in the header: height(mm).",
    );
    page.comment(
        0,
        "Behind a reading or a table: with INSTRUMENT, by PERSON, on 2026-03-02 10:15, at 20.5 °C. What does not \
         apply is n/a \"reason\".",
    );
    page.comment(
        0,
        "Lines behind `#` are proposals: take the `#` and the blank behind it away and complete them.",
    );
    page.blank();
    let title = beginning
        .title
        .as_ref()
        .map(|title| format!(" {}", quoted(title)))
        .unwrap_or_default();
    page.line(0, &format!("unit {}{title}", identity(&beginning.serial)));
    let rev = plan
        .rev
        .as_ref()
        .map(|rev| format!(" rev {rev}"))
        .unwrap_or_default();
    page.line(2, &format!("plan      {}{rev}", plan.name));
    match &beginning.register {
        Some(register) => page.line(2, &format!("register  {register}")),
        None => page.line(2, "# register  NAME  # the works' people and instruments"),
    }
    match &beginning.zone {
        Some(zone) => page.line(2, &format!("zone      {zone}")),
        None => page.line(2, "# zone      +01:00  # without it times are read in the zone of the register, else as UTC"),
    }
}

fn design(page: &mut Page<'_>, plan: &Plan, sets: &SetMembers) {
    if plan.design.is_empty() {
        return;
    }
    page.blank();
    page.line(
        0,
        "design  # when it is issued: design rev A on 2026-01-19 by NAME",
    );
    for required in [true, false] {
        let items: Vec<(usize, &DesignItem)> = plan
            .design
            .iter()
            .enumerate()
            .filter(|(_, item)| item.required == required)
            .collect();
        for (index, item) in items.iter().filter(|(_, item)| item.indices.is_empty()) {
            let id = DesignId(*index as u32);
            let gives: Vec<&str> = plan
                .sets
                .iter()
                .filter(|set| matches!(set.source, SetSource::Design(source, _) if source == id))
                .map(|set| &*set.name)
                .collect();
            let mut about = kind_words(&item.kind);
            if !gives.is_empty() {
                about.push_str(&format!("; gives the set {}", gives.join(", ")));
            }
            let known = sets.get(&id);
            if !required {
                about.push_str("; may be left out");
            }
            let value = known.map_or_else(
                || "?".to_owned(),
                |members| members::written(&item.kind, members),
            );
            let mark = if required || known.is_some() {
                ""
            } else {
                "# "
            };
            page.line(2, &format!("{mark}{} = {value}  # {about}", item.name));
        }
        let mut tables: Vec<(&[SetId], Vec<Item<'_>>)> = Vec::new();
        for (_, item) in items.iter().filter(|(_, item)| !item.indices.is_empty()) {
            let mut about = kind_words(&item.kind);
            if !required {
                about.push_str("; may be left out");
            }
            let entry = Item {
                name: &item.name,
                indices: &item.indices,
                about,
            };
            match tables
                .iter_mut()
                .find(|(indices, _)| *indices == &item.indices[..])
            {
                Some((_, entries)) => entries.push(entry),
                None => tables.push((&item.indices, vec![entry])),
            }
        }
        for (_, entries) in &tables {
            page.tables(entries, !required);
        }
    }
}

fn record(page: &mut Page<'_>, plan: &Plan, sources: &[SourceText], stage: &Stage) {
    page.line(0, &format!("stage {}", stage.name));
    if !stage.title.is_empty() {
        page.comment(2, &stage.title);
    }
    if let Some(condition) = condition(&stage.when, sources) {
        page.comment(2, &format!("only when {condition}"));
    }
    page.said.clear();
    page.caution(stage.caution.as_ref());
    page.line(
        2,
        "# on YYYY-MM-DD HH:MM by NAME with INSTRUMENT  # holds for what follows",
    );
    let readings: Vec<&Reading> = stage
        .readings
        .iter()
        .map(|id| &plan.readings[id.index()])
        .filter(|reading| !never(&reading.when))
        .collect();
    let mut from = 0;
    while from < readings.len() {
        let first = readings[from];
        let about = about(first, sources);
        // Neighbours with the same one index and the same conditions share a table.
        let mut to = from + 1;
        while first.indices.len() == 1
            && to < readings.len()
            && readings[to].indices == first.indices
            && readings[to].given == first.given
            && condition(&readings[to].when, sources) == condition(&first.when, sources)
        {
            to += 1;
        }
        let group = &readings[from..to];
        for reading in group {
            page.caution(reading.rationale.caution.as_ref());
            for limit in &reading.limits {
                page.caution(limit.rationale.caution.as_ref());
            }
        }
        if first.indices.is_empty() {
            page.reading(&first.name, &about);
        } else {
            let items: Vec<Item<'_>> = group
                .iter()
                .map(|reading| Item {
                    name: &reading.name,
                    indices: &reading.indices,
                    about: self::about(reading, sources),
                })
                .collect();
            page.tables(&items, false);
        }
        from = to;
    }
    for log in stage
        .logs
        .iter()
        .map(|id| &plan.logs[id.index()])
        .filter(|log| !never(&log.when))
    {
        let about = [(!log.title.is_empty()).then(|| log.title.to_string()), {
            condition(&log.when, sources).map(|condition| format!("only when {condition}"))
        }];
        let about: Vec<String> = about.into_iter().flatten().collect();
        page.log(log, &about.join("; "));
    }
    for id in &stage.checks {
        page.caution(plan.checks[id.index()].rationale.caution.as_ref());
    }
    for point in stage
        .points
        .iter()
        .map(|id| &plan.points[id.index()])
        .filter(|point| !never(&point.when))
    {
        page.caution(point.caution.as_ref());
        let mut about = format!("by {}", point.roles.join(" or "));
        if !point.title.is_empty() {
            about = format!("{}, {about}", point.title);
        }
        if let Some(condition) = condition(&point.when, sources) {
            about.push_str(&format!("; only when {condition}"));
        }
        let word = match point.kind {
            PointKind::Hold => "release",
            PointKind::Witness => "witnessed",
            PointKind::Review => "reviewed",
        };
        page.line(
            2,
            &format!(
                "# {word} {} by NAME on YYYY-MM-DD HH:MM  # {about}",
                point.name
            ),
        );
        if point.kind == PointKind::Witness {
            let waived = format!(
                "# waived {} by NAME on YYYY-MM-DD \"letter of YYYY-MM-DD\"",
                point.name
            );
            page.line(
                2,
                &format!("{waived}  # instead, when it was given up in writing"),
            );
        }
    }
}

/// What a reading is: its kind, a unit, its conditions, when it applies.
fn about(reading: &Reading, sources: &[SourceText]) -> String {
    let mut about = kind_words(&reading.kind);
    for given in &reading.given {
        let unit = match given {
            Kind::Quantity(kind) if !kind.example.is_empty() => format!(": at … {}", kind.example),
            _ => String::new(),
        };
        about.push_str(&format!("; given its {}{unit}", given.name()));
    }
    if let Some(condition) = condition(&reading.when, sources) {
        about.push_str(&format!("; only when {condition}"));
    }
    about
}

/// A kind in words, with a unit or a value to show how it is written.
fn kind_words(kind: &Kind) -> String {
    match kind {
        Kind::Quantity(kind) if kind.example.is_empty() => format!("{}, without unit", kind.name),
        Kind::Quantity(kind) if kind.name == "ratio" => "ratio, a plain number or in %".to_owned(),
        Kind::Quantity(kind) => format!("{}, such as in {}", kind.name, kind.example),
        Kind::Count => "count, a whole number".to_owned(),
        Kind::Positions => "positions, such as 1 .. 17".to_owned(),
        Kind::Moment => "moment, such as 2026-03-02 10:15".to_owned(),
        Kind::Text => "text, in quotes".to_owned(),
        Kind::YesNo => "yes or no".to_owned(),
        Kind::Choice(choices) => format!("one of {}", choices.join(", ")),
        Kind::VectorGroup => "vector group, such as YNd11".to_owned(),
        Kind::Name => "name".to_owned(),
        Kind::Names => "names, such as A, B".to_owned(),
    }
}

/// The plan's own words for a condition, on one line.
fn condition(when: &Option<Expr>, sources: &[SourceText]) -> Option<String> {
    let when = when.as_ref()?;
    let text = sources
        .get(when.place.file.0 as usize)?
        .text
        .get(when.place.span.range())?;
    // A comment of the plan may stand between the lines of a long condition.
    let lines = text
        .lines()
        .map(|line| line.split(" #").next().unwrap_or(line));
    Some(
        lines
            .flat_map(str::split_whitespace)
            .collect::<Vec<_>>()
            .join(" "),
    )
}

/// True when a condition cannot hold whatever the unit.
fn never(when: &Option<Expr>) -> bool {
    when.as_ref()
        .is_some_and(|when| matches!(constant(when), Some(Value::Truth(false))))
}

/// True when a text is one name of the language.
pub fn is_name(text: &str) -> bool {
    let tree = parse(format!("plan {text}"));
    let statement = tree.child(tree.root(), NodeKind::Plan);
    let name = statement.and_then(|plan| tree.child(plan, NodeKind::Name));
    tree.faults.is_empty() && name.is_some_and(|name| tree.text_of(name) == text)
}

/// A serial or the like as it is written: as a word where it is one, else in quotes.
fn identity(text: &str) -> String {
    if text.split('.').all(is_name) {
        text.to_owned()
    } else {
        quoted(text)
    }
}

fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_serial_is_a_word_only_where_the_language_has_it_as_one() {
        for (serial, written) in [
            ("KFT-0412-1", "KFT-0412-1"),
            ("a.b", "a.b"),
            ("20418/1", "\"20418/1\""),
            ("20418", "\"20418\""),
            ("say \"x\"", "\"say \\\"x\\\"\""),
            ("a # b", "\"a # b\""),
            ("a rev", "\"a rev\""),
        ] {
            assert_eq!(identity(serial), written);
        }
    }

    #[test]
    fn an_empty_plan_gives_a_unit_statement() {
        let beginning = Beginning {
            serial: "T-1".to_owned(),
            ..Beginning::default()
        };
        let plan = Plan {
            name: "empty".into(),
            ..Plan::default()
        };
        let text = skeleton(&plan, &[], &beginning);
        assert!(text.contains("\nunit T-1\n  plan      empty\n"), "{text}");
        assert!(parse(text).faults.is_empty());
    }
}
