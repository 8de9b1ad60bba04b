//! Every function of the plan language against something outside this project, and the page that says
//! which.
//!
//! `tests/external/functions.txt` and a second file hold the rows; the first lines explain how to write one.
//! Values that others printed are compared here. Rows of the other kind go to `functions_against_libraries.py`, which
//! computes them another way; that needs `STAGEBOOK_PYTHON`, see `external_physics.rs`.
//!
//! `UPDATE_EXPECT=1 cargo test --test external_functions` writes the page of sources anew; read the
//! difference before keeping it.

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;
use std::sync::Arc;

use serde_json::json;
use stagebook::plan::builtin::BUILTIN_PLANS;
use stagebook::plan::function::{self, Function};
use stagebook::plan::types::Type;
use stagebook::plan::value::{Axis, Series, Value};
use stagebook::quantity::{Dimension, Number};
use stagebook::syntax::{NodeId, NodeKind, Tree, parse};
use stagebook::verdict::calculate_value;

/// The files of rows.
const FILES: [(&str, &str); 2] = [
    ("functions.txt", include_str!("external/functions.txt")),
    (
        "functions_process.txt",
        include_str!("external/functions_process.txt"),
    ),
];

/// Functions without a row, each with the reason. A name that has a row must not stand here.
const WITHOUT: &[(&str, &str)] = &[
    ("all", "logic: yes when every answer is yes"),
    ("any", "logic: yes when one answer is yes"),
    (
        "first-of-lot",
        "only the register of a works tells it; tests/verdict_rules.rs",
    ),
    ("has", "logic: whether a name stands in a list"),
    (
        "load-sound-estimate",
        "an estimate recalled from IEC 60076-10; no printed copy at hand",
    ),
    (
        "recorded",
        "only the record of a unit tells it; tests/verdict_rules.rs",
    ),
];

/// The first entry of a log column in a row: 2026-01-01 00:00 UTC.
const LOG_START: i64 = 1_767_225_600;

/// Where a row stands.
#[derive(Clone, Copy)]
struct Place {
    file: &'static str,
    line: usize,
}

impl std::fmt::Display for Place {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "{}:{}", self.file, self.line)
    }
}

/// One row under its heading.
struct Row {
    place: Place,
    heading: &'static str,
    function: &'static Function,
    /// The arguments as they are written.
    written: Vec<&'static str>,
    arguments: Vec<Value>,
    result: Value,
    /// What was printed elsewhere, with its tolerance; none for a row that is computed anew.
    published: Option<(&'static str, Option<&'static str>)>,
}

impl Row {
    /// The library of an `against` heading.
    fn library(&self) -> Option<&'static str> {
        Some(self.heading.strip_prefix("against ")?.split_once(": ")?.0)
    }
}

fn rows() -> Vec<Row> {
    let mut rows = Vec::new();
    for (file, lines) in FILES {
        let mut heading = "";
        for (number, text) in lines.lines().enumerate() {
            let place = Place {
                file,
                line: number + 1,
            };
            let text = text.split("  #").next().unwrap_or("").trim_end();
            if text.is_empty() || text.starts_with('#') {
                continue;
            }
            if !text.starts_with(' ') {
                assert!(
                    text.starts_with("published ")
                        || text.starts_with("against ") && text.contains(": "),
                    "{place}: expected `against LIBRARY: ROUTE` or `published SOURCE`, found {text}"
                );
                heading = text;
                continue;
            }
            rows.push(row(place, heading, text.trim()));
        }
    }
    rows
}

fn row(place: Place, heading: &'static str, text: &'static str) -> Row {
    let (call, published) = match text.rsplit_once(") = ") {
        Some((call, rest)) => {
            let (value, tolerance) = match rest.split_once(" +- ") {
                Some((value, tolerance)) => (value, Some(tolerance)),
                None => (rest, None),
            };
            (&text[..call.len() + 1], Some((value, tolerance)))
        }
        None => (text, None),
    };
    assert_eq!(
        published.is_some(),
        heading.starts_with("published "),
        "{place}: a row below `published` has ` = value`, a row below `against` has none: {text}"
    );
    let parts = call
        .split_once('(')
        .and_then(|(name, rest)| Some((name, rest.strip_suffix(')')?)));
    let Some((name, inside)) = parts else {
        panic!("{place}: expected one call of a function, found {call}")
    };
    let Some(function) = function::find(name) else {
        panic!("{place}: there is no function `{name}`")
    };
    let written = split(inside);
    let arguments: Vec<Value> = written.iter().map(|text| value(place, text)).collect();
    // What the language can write goes the whole way through it; lists and logs are handed in.
    let result = if inside.contains(['[', '{']) {
        let types: Vec<Type> = arguments.iter().map(type_of).collect();
        if let Err(fault) = (function.check)(&types) {
            panic!(
                "{place}: {call}: expected {}, found {}",
                fault.expected, fault.found
            );
        }
        match (function.evaluate)(&arguments) {
            Ok(value) => value,
            Err(fault) => panic!("{place}: {call}: {fault}"),
        }
    } else {
        value(place, call)
    };
    Row {
        place,
        heading,
        function,
        written,
        arguments,
        result,
        published,
    }
}

/// The parts between the commas that stand in no bracket and no quotes.
fn split(text: &str) -> Vec<&str> {
    let (mut parts, mut start, mut depth, mut quoted) = (Vec::new(), 0, 0, false);
    for (at, sign) in text.char_indices() {
        match sign {
            '"' => quoted = !quoted,
            '(' | '[' | '{' if !quoted => depth += 1,
            ')' | ']' | '}' if !quoted => depth -= 1,
            ',' if !quoted && depth == 0 => {
                parts.push(text[start..at].trim());
                start = at + 1;
            }
            _ => {}
        }
    }
    if !text[start..].trim().is_empty() {
        parts.push(text[start..].trim());
    }
    parts
}

/// The value of an argument or a result: a list, a log column, or an expression of the language.
fn value(place: Place, text: &str) -> Value {
    let inside = |open, close| text.strip_prefix(open)?.strip_suffix(close);
    if let Some(items) = inside('[', ']') {
        let items: Vec<Value> = split(items).iter().map(|item| value(place, item)).collect();
        let names: Option<Vec<Arc<str>>> = items
            .iter()
            .map(|item| match item {
                Value::Text(name) => Some(name.clone()),
                _ => None,
            })
            .collect();
        return match names {
            Some(names) if !names.is_empty() => Value::Names(names.into()),
            _ => Value::List(items.into()),
        };
    }
    if let Some(entries) = inside('{', '}') {
        return series(place, entries);
    }
    match text {
        "yes" => return Value::Truth(true),
        "no" => return Value::Truth(false),
        _ => {}
    }
    match calculate_value(text) {
        Ok(value) => value,
        Err((_, findings)) => panic!("{place}: {text}: {}", findings[0].message),
    }
}

/// A log column: `{0 h: 40 Pa, 2 h: 25 Pa}`, or over another quantity `{1 kHz: -20 dB, 2 kHz: -24 dB}`.
fn series(place: Place, entries: &str) -> Value {
    let (mut points, mut values) = (Vec::new(), Vec::new());
    let (mut dimension, mut point) = (Dimension::NONE, false);
    let mut over = Dimension::TIME;
    for entry in split(entries) {
        let Some((stands, reading)) = entry.split_once(": ") else {
            panic!("{place}: expected `time: value`, found {entry}")
        };
        let (Value::Quantity(stands), Value::Quantity(reading)) =
            (value(place, stands), value(place, reading))
        else {
            panic!("{place}: expected two quantities, found {entry}")
        };
        over = stands.dimension;
        points.push(stands.value);
        (dimension, point) = (reading.dimension, reading.point);
        values.push(reading.value);
    }
    let axis = if over == Dimension::TIME {
        let times = points
            .iter()
            .map(|time| LOG_START + time.to_f64().round() as i64);
        Axis::Time(times.collect())
    } else {
        Axis::Quantity {
            points: points.into(),
            dimension: over,
        }
    };
    Value::Series(Arc::new(Series {
        axis,
        values,
        dimension,
        point,
    }))
}

fn type_of(value: &Value) -> Type {
    match value {
        Value::Quantity(quantity) => Type::Quantity {
            dimension: quantity.dimension,
            point: quantity.point,
        },
        Value::Truth(_) => Type::Truth,
        Value::Name(_) => Type::Name,
        Value::Text(_) => Type::Text,
        Value::Moment(_) => Type::Moment,
        Value::Names(_) => Type::Names,
        Value::Interval(_) => Type::Unknown,
        Value::List(items) => Type::List(Box::new(items.first().map_or(Type::Unknown, type_of))),
        Value::Series(series) => series.value_type(),
    }
}

/// A value for the other side: quantities as numbers in SI base units.
fn as_json(value: &Value) -> serde_json::Value {
    match value {
        Value::Quantity(quantity) => json!(quantity.value.to_f64()),
        Value::Truth(truth) => json!(truth),
        Value::Name(word) | Value::Text(word) => json!(**word),
        Value::Moment(seconds) => json!(seconds - LOG_START),
        Value::Names(names) => names.iter().map(|name| json!(**name)).collect(),
        Value::Interval(_) => serde_json::Value::Null,
        Value::List(items) => items.iter().map(as_json).collect(),
        Value::Series(series) => {
            let values: Vec<f64> = series.values.iter().map(Number::to_f64).collect();
            match &series.axis {
                Axis::Time(times) => json!({
                    "times": times.iter().map(|time| time - LOG_START).collect::<Vec<_>>(),
                    "values": values,
                }),
                Axis::Quantity { points, dimension } => json!({
                    "over": dimension.to_string(),
                    "points": points.iter().map(Number::to_f64).collect::<Vec<_>>(),
                    "values": values,
                }),
            }
        }
    }
}

/// Whether a result is what was printed. A tolerance without a unit is relative where the value has one.
fn agrees(found: &Value, printed: &Value, tolerance: Option<&Value>) -> bool {
    match (found, printed) {
        (Value::Quantity(a), Value::Quantity(b)) => {
            let allowed = match tolerance {
                Some(Value::Quantity(t)) if t.dimension == b.dimension && !t.point => {
                    t.value.to_f64()
                }
                Some(Value::Quantity(t)) if t.dimension.is_none() => {
                    t.value.to_f64() * b.value.to_f64().abs()
                }
                Some(_) => return false,
                None => 0.0,
            };
            let (x, y) = (a.value.to_f64(), b.value.to_f64());
            // Room for the rounding of the last binary digits, which is no disagreement.
            let rounding = 1e-9 * y.abs();
            (a.dimension, a.point) == (b.dimension, b.point) && (x - y).abs() <= allowed + rounding
        }
        (Value::List(a), Value::List(b)) => {
            a.len() == b.len() && a.iter().zip(b.iter()).all(|(x, y)| agrees(x, y, tolerance))
        }
        (Value::Name(a) | Value::Text(a), Value::Name(b) | Value::Text(b)) => a == b,
        (Value::Truth(a), Value::Truth(b)) => a == b,
        _ => false,
    }
}

#[test]
fn functions_give_the_values_that_others_printed() {
    let mut wrong = String::new();
    let mut compared = 0;
    for row in rows() {
        let Some((printed, tolerance)) = row.published else {
            continue;
        };
        compared += 1;
        let tolerance = tolerance.map(|text| value(row.place, text));
        let same = agrees(&row.result, &value(row.place, printed), tolerance.as_ref());
        if !same {
            let _ = writeln!(
                wrong,
                "{}: {}({}): {} expected {printed}, found {} in SI units",
                row.place,
                row.function.name,
                row.written.join(", "),
                row.heading,
                as_json(&row.result)
            );
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(compared > 0, "no published value was compared");
}

#[test]
fn functions_agree_with_outside_libraries() {
    let rows: Vec<serde_json::Value> = rows()
        .iter()
        .filter_map(|row| {
            Some(json!({
                "place": row.place.to_string(),
                "library": row.library()?,
                "function": row.function.name,
                "written": row.written,
                "arguments": row.arguments.iter().map(as_json).collect::<Vec<_>>(),
                "result": as_json(&row.result),
            }))
        })
        .collect();
    assert!(!rows.is_empty(), "no row is computed anew");
    common::outside_check(
        "functions_against_libraries.py",
        &serde_json::Value::from(rows).to_string(),
    );
}

#[test]
fn each_function_has_a_row_or_a_reason() {
    let with: BTreeSet<&str> = rows().iter().map(|row| row.function.name).collect();
    let mut wrong = Vec::new();
    for function in function::all() {
        let excused = WITHOUT.iter().any(|(name, _)| *name == function.name);
        match (with.contains(function.name), excused) {
            (false, false) => wrong.push(format!("{} has no outside check", function.name)),
            (true, true) => wrong.push(format!(
                "{} has a row, so it needs no reason",
                function.name
            )),
            _ => {}
        }
    }
    for (name, _) in WITHOUT {
        if function::find(name).is_none() {
            wrong.push(format!("{name} is no function"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Where a limit or check comes from, in the words of the page.
const BASES: [&str; 7] = [
    "published",
    "from memory",
    "common practice",
    "works",
    "order",
    "physics",
    "none given",
];

/// A limit or requirement of a plan.
struct Stated {
    name: String,
    requires: String,
    source: String,
    basis: &'static str,
}

/// The limits and requirements that a plan document itself states.
fn stated(text: &str) -> Vec<Stated> {
    let tree = parse(text);
    let mut found = Vec::new();
    for block in tree.children(tree.root()) {
        match tree.kind(block) {
            NodeKind::DesignPlan => items(&tree, block, "design", &mut found),
            NodeKind::StagePlan => {
                let stage = part(&tree, block, NodeKind::Name);
                items(&tree, block, &stage, &mut found);
            }
            NodeKind::Add => {
                let target = part(&tree, block, NodeKind::Target);
                let stage = target.trim_start_matches("stage").trim();
                items(&tree, block, stage, &mut found);
            }
            NodeKind::Tighten | NodeKind::Relax => {
                let path = part(&tree, block, NodeKind::Path);
                statements(&tree, block, &path, &mut found);
            }
            _ => {}
        }
    }
    found
}

fn items(tree: &Tree, block: NodeId, stage: &str, found: &mut Vec<Stated>) {
    for item in tree.children(block) {
        let name = part(tree, item, NodeKind::Declared);
        statements(tree, item, &format!("{stage}.{name}"), found);
    }
}

/// The `limit` and `require` lines below a statement, each with the `source` that follows it, else with the
/// last one before it, else with the one that several such lines share.
fn statements(tree: &Tree, item: NodeId, name: &str, found: &mut Vec<Stated>) {
    let children: Vec<NodeId> = tree.children(item).collect();
    let judges = |id: &NodeId| matches!(tree.kind(*id), NodeKind::Limit | NodeKind::Require);
    for (at, child) in children.iter().enumerate().filter(|(_, id)| judges(id)) {
        let after = children[at + 1..].iter().take_while(|id| !judges(id));
        let before = children[..at].iter().rev();
        let source = after
            .chain(before)
            .chain(&children)
            .find(|id| tree.kind(**id) == NodeKind::SourceLine);
        let (basis, source) =
            source.map_or(("none given", String::new()), |id| rationale(tree, *id));
        found.push(Stated {
            name: name.to_owned(),
            requires: collapsed(tree.text_of(*child)),
            source,
            basis,
        });
    }
}

/// Basis and words of a `source` line.
fn rationale(tree: &Tree, line: NodeId) -> (&'static str, String) {
    let words = tree
        .child(line, NodeKind::TextPart)
        .map_or(String::new(), |text| tree.unquoted(text));
    let text = tree.text_of(line);
    let kind = text.split_whitespace().nth(1).unwrap_or("");
    let basis = match kind {
        "common-practice" => "common practice",
        "works" => "works",
        "order" => "order",
        "physics" => "physics",
        _ if tree.child(line, NodeKind::Memory).is_some() => "from memory",
        _ => "published",
    };
    (basis, collapsed(&words))
}

fn part(tree: &Tree, node: NodeId, kind: NodeKind) -> String {
    tree.child(node, kind)
        .map_or(String::new(), |id| collapsed(tree.text_of(id)))
}

/// The text on one line, without comments.
fn collapsed(text: &str) -> String {
    let lines = text.lines().map(|line| match line.split_once(" #") {
        Some((before, _)) => before,
        None => line,
    });
    let lines: Vec<&str> = lines.collect();
    lines
        .join(" ")
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ")
}

/// A cell of a table.
fn cell(text: &str) -> String {
    text.replace('|', "\\|")
}

fn page() -> String {
    let mut checks: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
    for row in rows() {
        let headings = checks.entry(row.function.name).or_default();
        if !headings.contains(&row.heading) {
            headings.push(row.heading);
        }
    }
    let plans: Vec<(&str, Vec<Stated>)> = BUILTIN_PLANS
        .iter()
        .map(|plan| (plan.name, stated(plan.text)))
        .collect();
    let all: Vec<&Stated> = plans.iter().flat_map(|(_, stated)| stated).collect();
    let mut text = String::from(
        "# Where functions and limits come from\n\n\
         Written by `UPDATE_EXPECT=1 cargo test --test external_functions`; do not edit.\n\n",
    );
    let _ = writeln!(
        text,
        "- {} functions, {} of them checked against something outside this project, {} with a reason why not",
        function::all().len(),
        checks.len(),
        WITHOUT.len()
    );
    let _ = write!(
        text,
        "- {} limits and checks of the built-in plans:",
        all.len()
    );
    let counted = BASES.iter().filter_map(|basis| {
        let count = all.iter().filter(|stated| stated.basis == *basis).count();
        (count > 0).then(|| format!(" {count} {basis}"))
    });
    let _ = writeln!(text, "{}", counted.collect::<Vec<_>>().join(","));
    text.push_str("\n## Functions\n\n| function | formula from | checked |\n| --- | --- | --- |\n");
    for function in function::all() {
        let checked = match (checks.get(function.name), reason(function.name)) {
            (Some(headings), _) => headings.join("; "),
            (None, Some(reason)) => format!("not checked: {reason}"),
            (None, None) => "not checked".to_owned(),
        };
        let _ = writeln!(
            text,
            "| {} | {} | {} |",
            function.name,
            cell(function.source),
            cell(&checked)
        );
    }
    for (name, stated) in &plans {
        let _ = write!(
            text,
            "\n## Limits and checks of the plan {name}\n\n\
             | name | requires | source | basis |\n| --- | --- | --- | --- |\n"
        );
        for one in stated {
            let _ = writeln!(
                text,
                "| {} | `{}` | {} | {} |",
                cell(&one.name),
                cell(&one.requires),
                cell(&one.source),
                one.basis
            );
        }
    }
    text
}

fn reason(name: &str) -> Option<&'static str> {
    WITHOUT
        .iter()
        .find(|(without, _)| *without == name)
        .map(|(_, reason)| *reason)
}

#[test]
fn the_page_of_sources_is_as_the_functions_and_plans_are() {
    let path = common::project().join("src/plan/builtin/sources.md");
    let now = page();
    if std::env::var_os("UPDATE_EXPECT").is_some() {
        std::fs::write(&path, &now).expect("the page can be written");
    }
    let kept = std::fs::read_to_string(&path).unwrap_or_default();
    let differs = kept
        .lines()
        .zip(now.lines())
        .find(|(kept, now)| kept != now);
    assert!(
        kept == now,
        "{} is out of date at {differs:?}\n\
         UPDATE_EXPECT=1 cargo test --test external_functions writes it anew",
        path.display()
    );
}

#[test]
fn each_basis_of_a_limit_is_told_apart() {
    let plan = "plan p\nset phase = U V W\nstage s\n  reading a[phase] : length\n    limit 1 mm ..\n        2 mm\n    \
        source \"IEC 1\" from memory\n    limit <= 3 mm\n    source works \"drawing\"\n  check c\n    source physics\n    \
        require 1 = 1\n  check d\n    require 1 = 1\n    require 2 = 2\n    source order\ntighten s.a\n  limit <= 1 mm\n  source \"IEC 2\"\nadd stage s\n  reading b : length\n    limit <= 1 mm\n";
    let found: Vec<_> = stated(plan)
        .into_iter()
        .map(|one| {
            format!(
                "{}; {}; {}; {}",
                one.name, one.requires, one.source, one.basis
            )
        })
        .collect();
    assert_eq!(
        found,
        [
            "s.a[phase]; limit 1 mm .. 2 mm; IEC 1; from memory",
            "s.a[phase]; limit <= 3 mm; drawing; works",
            "s.c; require 1 = 1; ; physics",
            "s.d; require 1 = 1; ; order",
            "s.d; require 2 = 2; ; order",
            "s.a; limit <= 1 mm; IEC 2; published",
            "s.b; limit <= 1 mm; ; none given",
        ]
    );
}
