//! What is known of the word under the cursor.

use super::meaning::{self, Meaning, Sort};
use super::reading;
use super::sight::Sight;
use crate::finding::{Basis, Source, StageState, catalogue};
use crate::pages::{self, escape};
use crate::plan::{Plan, Rationale, Reading, function};
use crate::quantity::moment::format_day;
use crate::quantity::{self, Quantity, Rational, Unit, format_in, parse_unit};
use crate::record::{Record, index_text};
use crate::register::Register;
use crate::syntax::NodeKind;
use crate::text::Span;
use crate::verdict::{Glance, LimitGlance, with_glances};
use crate::workspace::desk::UnitView;
use std::fmt::Write;
use tower_lsp::lsp_types::{Hover, HoverContents, MarkupContent, MarkupKind, Position};

/// At most so many sister units are listed.
const MOST_SISTERS: usize = 8;

/// The page for a position.
pub(super) fn hover(sight: &Sight<'_>, position: Position, markdown: bool) -> Option<Hover> {
    let offset = sight.offset(position);
    let (text, span) = page(sight, offset)?;
    let (kind, value) = match markdown {
        true => (MarkupKind::Markdown, text),
        false => (MarkupKind::PlainText, plain(&text)),
    };
    Some(Hover {
        contents: HoverContents::Markup(MarkupContent { kind, value }),
        range: Some(sight.range(span)),
    })
}

/// Markdown without its signs.
pub(super) fn plain(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut characters = text.chars();
    while let Some(character) = characters.next() {
        match character {
            '\\' => out.extend(characters.next()),
            '*' | '`' => {}
            other => out.push(other),
        }
    }
    out.replace("ubr\n", "\n")
}

fn page(sight: &Sight<'_>, offset: u32) -> Option<(String, Span)> {
    let unit = sight.desk.unit(sight.file);
    let meant = meaning::at(sight, offset);
    let of_reading = |meaning: &Meaning| matches!(meaning.sort, Sort::Reading | Sort::Member);
    let word = meant.as_ref().filter(|(meaning, _)| !of_reading(meaning));
    // A value with its unit belongs to its reading; the unit alone is told below it.
    let is_unit = word.is_some_and(|(meaning, _)| meaning.sort == Sort::Unit);
    if let Some(unit) = unit
        && (word.is_none() || is_unit)
        && let Some((text, span)) = recorded(sight, &unit, offset)
    {
        let below = word.and_then(|(meaning, _)| unit_page(sight, meaning, offset));
        return Some((
            below.map_or_else(|| text.clone(), |below| format!("{text}\n---\n\n{below}")),
            span,
        ));
    }
    let (meaning, span) = meant?;
    let text = match meaning.sort {
        Sort::Unit => unit_page(sight, &meaning, offset)?,
        Sort::Function => pages::function(function::find(&meaning.name)?).markdown(),
        Sort::Rule => pages::rule(catalogue::find(&meaning.name)?).markdown(),
        Sort::Kind => kind_page(&meaning.name),
        Sort::Instrument => instrument(sight, meaning::register_of(sight)?.0, &meaning, offset)?,
        Sort::Person => person(sight, meaning::register_of(sight)?.0, &meaning, offset)?,
        Sort::Plan => plan_page(meaning::plan_of(sight)?.0, &meaning.name),
        _ => declared(sight, &meaning)?,
    };
    Some((text, span))
}

/// A recorded reading: kind, limits, margin, what is calculated from it, sisters.
fn recorded(sight: &Sight<'_>, unit: &UnitView<'_>, offset: u32) -> Option<(String, Span)> {
    let (plan, record) = (unit.plan?, unit.record?);
    let at = reading::at(sight, record, offset)?;
    let item = &plan.readings[at.id.index()];
    let glance = with_glances(plan, record, sight.file, sight.desk.sources(), |glances| {
        glances.reading(at.id, at.slot)
    });
    let mut out = format!(
        "**`{}`** = {}  \n{} of stage `{}`\n",
        glance.name,
        escape(glance.written.as_deref().unwrap_or("not recorded")),
        item.kind.name(),
        plan.stages[item.stage.index()].name
    );
    if !at.last_round {
        out += "\nof an earlier round: the last one is judged\n";
    }
    limits(&mut out, &glance);
    for amended in &glance.amended {
        let _ = write!(out, "\n{}\n", escape(&amended.words()));
    }
    let own = &record.contexts[at.entry.context as usize];
    let mut circumstances = Vec::new();
    if let Some((instrument, _)) = &own.instrument {
        circumstances.push(format!("with {instrument}"));
    }
    if let Some((person, _)) = &own.person {
        circumstances.push(format!("by {person}"));
    }
    if let Some((_, place)) = &own.when {
        circumstances.push(format!("on {}", sight.text(*place)));
    }
    if !circumstances.is_empty() {
        let _ = write!(out, "\n{}\n", escape(&circumstances.join(", ")));
    }
    sisters(
        sight,
        &mut out,
        item,
        &index_text(&record.domains, &item.indices, at.slot),
    );
    Some((out, at.entry.place.span))
}

fn limits(out: &mut String, glance: &Glance) {
    // What is not kept comes first.
    let fails = |limit: &&LimitGlance| {
        let margin = limit.margin.as_deref();
        margin.is_some_and(|margin| margin.starts_with('-'))
    };
    let kept = glance.limits.iter().filter(|limit| !fails(limit));
    for limit in glance.limits.iter().filter(fails).chain(kept) {
        let allowed = limit.allowed.as_deref().unwrap_or("not known yet");
        let _ = write!(out, "\n- allowed: **{}**", escape(allowed));
        if let Some(margin) = &limit.margin {
            let _ = write!(out, ", margin {}", escape(margin));
        }
        let _ = write!(out, "  \n  `{}`", limit.written);
        if !limit.missing.is_empty() {
            let _ = write!(out, "  \n  missing: {}", escape(&limit.missing.join(", ")));
        }
        if let Some(source) = &limit.source {
            let _ = write!(out, "  \n  source: {}", source_text(source));
        }
        if let Some(because) = &limit.because {
            let _ = write!(out, "  \n  because {}", escape(because));
        }
        if let Some(caution) = &limit.caution {
            let _ = write!(out, "  \n  **caution:** {}", escape(caution));
        }
        out.push('\n');
    }
    if let Some(deviation) = &glance.deviation {
        let _ = write!(out, "\ndeviation {}\n", escape(deviation));
    }
    for (name, value) in glance.corrected.iter().chain(&glance.derived) {
        let _ = write!(out, "\n`{name}` = {}  ", escape(value));
    }
    if !glance.corrected.is_empty() || !glance.derived.is_empty() {
        out.push('\n');
    }
}

/// The same reading of the other units of the lot.
fn sisters(sight: &Sight<'_>, out: &mut String, item: &Reading, index: &str) {
    let mut lines = Vec::new();
    for sister in sight.desk.sisters(sight.file) {
        let (Some(plan), Some(record)) = (sister.plan, sister.record) else {
            continue;
        };
        if let Some(value) = same_reading(sight, &sister, plan, record, item, index) {
            lines.push(format!("{} {}", record.header.serial, value));
        }
    }
    if lines.is_empty() {
        return;
    }
    let more = lines.len().saturating_sub(MOST_SISTERS);
    lines.truncate(MOST_SISTERS);
    let _ = write!(out, "\nsisters: {}", escape(&lines.join(", ")));
    if more > 0 {
        let _ = write!(out, " and {more} more");
    }
    out.push('\n');
}

fn same_reading(
    sight: &Sight<'_>,
    sister: &UnitView<'_>,
    plan: &Plan,
    record: &Record,
    item: &Reading,
    index: &str,
) -> Option<String> {
    let (id, other) = plan
        .readings
        .iter()
        .enumerate()
        .find(|(_, other)| other.name == item.name && other.place == item.place)?;
    let slots = crate::record::slots(&record.domains, &other.indices);
    let slot =
        (0..slots).find(|slot| index_text(&record.domains, &other.indices, *slot) == index)?;
    with_glances(plan, record, sister.file, sight.desk.sources(), |glances| {
        glances
            .reading(crate::plan::ReadingId(id as u32), slot)
            .written
    })
}

fn source_text(source: &Source) -> String {
    match (source.text.is_empty(), source.basis) {
        (true, basis) => basis.words().to_owned(),
        (false, Basis::Published) => escape(&source.text),
        (false, basis) => format!("{} ({})", escape(&source.text), basis.words()),
    }
}

/// A unit with what its amount here is in other units.
fn unit_page(sight: &Sight<'_>, meaning: &Meaning, offset: u32) -> Option<String> {
    let mut out = pages::unit(&meaning.name)?.markdown();
    let node = sight.node_at(offset);
    if sight.tree.kind(node) == NodeKind::Quantity
        && let Some((number, text)) = sight.tree.text_of(node).split_once(' ')
        && let (Ok(number), Ok(unit)) = (Rational::parse(number), parse_unit(text.trim()))
    {
        let quantity = Quantity::from_unit(number, &unit);
        let others = conversions(&quantity, &unit);
        if !others.is_empty() {
            let _ = write!(
                out,
                "\n{} = {}\n",
                escape(sight.tree.text_of(node)),
                escape(&others.join(" = "))
            );
        }
    }
    Some(out)
}

/// The same amount in the other usual units of the same dimension.
fn conversions(quantity: &Quantity, own: &Unit) -> Vec<String> {
    let usual = [
        "K", "°C", "°F", "mm", "m", "in", "ft", "kV", "V", "A", "kA", "mohm", "ohm", "Mohm",
        "Gohm", "kW", "W", "MVA", "kVA", "Pa", "mbar", "bar", "kPa", "psi", "mmHg", "h", "min",
        "s", "kg", "t", "l", "m^3", "gal", "N", "kN", "N*m", "pF", "nF", "Hz", "%", "ppm",
    ];
    usual
        .iter()
        .filter_map(|text| Some((text, parse_unit(text).ok()?)))
        .filter(|(_, unit)| {
            unit.dimension == own.dimension
                && unit.offset.is_some() == own.offset.is_some()
                && (unit.factor, unit.offset.is_some()) != (own.factor, own.offset.is_some())
        })
        .map(|(_, unit)| format_in(quantity, &unit, 6))
        .filter(|text| !text.contains('e'))
        .take(5)
        .collect()
}

fn kind_page(name: &str) -> String {
    match crate::plan::kind::quantity_kind(name) {
        Some(kind) => format!(
            "**`{name}`** a kind of quantity\n\n{}{}\n",
            escape(&kind.dimension.to_string()),
            if kind.example.is_empty() {
                String::new()
            } else {
                format!(", for example in `{}`", kind.example)
            }
        ),
        None => format!("**`{name}`** a kind of value\n"),
    }
}

/// The day of the work at a place, in days since 1970-01-01: that of its own line, else of the stage.
pub(super) fn day_at(sight: &Sight<'_>, offset: u32) -> Option<i32> {
    let tree = sight.tree;
    let nodes = sight.nodes_at(offset);
    for node in nodes.iter().rev() {
        let contexts = std::iter::once(*node).chain(tree.children(*node).filter(|child| {
            tree.kind(*child) == NodeKind::Context && tree.span(*child).start <= offset
        }));
        let mut last = None;
        for context in contexts {
            if let Some(on) = tree.child(context, NodeKind::OnClause)
                && let Some(date) = tree.child(on, NodeKind::DateTime)
            {
                let text = tree.text_of(date);
                last = quantity::moment::parse_day(text.split_whitespace().next()?).ok();
                if context == *node {
                    break;
                }
            }
        }
        if last.is_some() {
            return last;
        }
    }
    None
}

/// An instrument: its entry, and whether it was in calibration on the day of the work.
fn instrument(
    sight: &Sight<'_>,
    register: &Register,
    meaning: &Meaning,
    offset: u32,
) -> Option<String> {
    let known = register.instruments.get(&*meaning.name)?;
    let mut out = format!("**`{}`** {}\n", meaning.name, escape(&known.title));
    if !known.measures.is_empty() {
        let _ = write!(out, "\nmeasures {}\n", escape(&known.measures.join(", ")));
    }
    let entry = sight.text(statement(sight, known.place));
    let _ = write!(out, "\n```ubr\n{}\n```\n", entry.trim_end());
    if let Some(retired) = &known.retired {
        let _ = write!(out, "\n{}\n", escape(&retired.words()));
    }
    if let Some(day) = day_at(sight, offset) {
        let covering = known.calibrations.iter().find(|own| own.covers(day));
        let words = match covering {
            Some(own) => format!(
                "in calibration on {}, due {}",
                format_day(day),
                format_day(own.due)
            ),
            None => format!("**not in calibration on {}**", format_day(day)),
        };
        let _ = write!(out, "\n{words}\n");
    }
    Some(out)
}

/// A person: roles, and whether they held on the day.
fn person(
    sight: &Sight<'_>,
    register: &Register,
    meaning: &Meaning,
    offset: u32,
) -> Option<String> {
    let known = register.people.get(&*meaning.name)?;
    let mut out = format!(
        "**`{}`** {}\n\nroles: {}\n",
        meaning.name,
        escape(&known.title),
        escape(&known.roles.join(", "))
    );
    if let Some((first, last)) = known.valid {
        let _ = write!(out, "\nvalid {} .. {}", format_day(first), format_day(last));
        if let Some(day) = day_at(sight, offset)
            && !(first..=last).contains(&day)
        {
            let _ = write!(out, ", **not on {}**", format_day(day));
        }
        out.push('\n');
    }
    if let Some(retired) = &known.retired {
        let _ = write!(out, "\n{}\n", escape(&retired.words()));
    }
    Some(out)
}

fn plan_page(plan: &Plan, name: &str) -> String {
    let rev = plan
        .rev
        .as_ref()
        .map(|rev| format!(" rev {rev}"))
        .unwrap_or_default();
    let own = if *plan.name == *name {
        rev
    } else {
        String::new()
    };
    format!(
        "**`{name}`**{own} a plan\n\n{}\n\n{} stages, {} readings, {} checks, {} points\n",
        escape(&plan.title),
        plan.stages.len(),
        plan.readings.len(),
        plan.checks.len(),
        plan.points.len()
    )
}

/// The whole statement at a place.
fn statement(sight: &Sight<'_>, place: crate::text::Place) -> crate::text::Place {
    let Some(other) = sight.of(place.file) else {
        return place;
    };
    let tree = other.tree;
    let nodes = other.nodes_at(place.span.start);
    let own = nodes.iter().find(|node| {
        !matches!(
            tree.kind(**node),
            NodeKind::Document
                | NodeKind::StagePlan
                | NodeKind::DesignPlan
                | NodeKind::Add
                | NodeKind::LogPlan
        )
    });
    let span = own.map_or(place.span, |node| tree.outline_span(*node));
    // What hangs below may be long: the first lines say it.
    let text = other.source.slice(span);
    let end = text
        .match_indices('\n')
        .nth(11)
        .map_or(text.len(), |(at, _)| at);
    crate::text::Place {
        file: place.file,
        span: Span::new(span.start, span.start + end as u32),
    }
}

/// A name that a plan or record declares: its declaration, and how it stands in this record.
fn declared(sight: &Sight<'_>, meaning: &Meaning) -> Option<String> {
    let place = meaning.declared?;
    let owner = match meaning.owner.is_empty() {
        true => String::new(),
        false => format!(" of `{}`", meaning.owner),
    };
    let mut out = format!("**`{}`** {}{owner}\n", meaning.name, meaning.sort.word());
    if meaning.sort == Sort::Stage || meaning.sort == Sort::Point {
        standing(sight, meaning, &mut out);
    }
    let text = sight.text(statement(sight, place));
    if meaning.sort == Sort::Stage {
        let first = text.lines().next().unwrap_or_default();
        let _ = write!(out, "\n```ubr\n{first}\n```\n");
    } else {
        let _ = write!(out, "\n```ubr\n{}\n```\n", text.trim_end());
    }
    if let Some((plan, _)) = meaning::plan_of(sight)
        && let Some(caution) = rationale(plan, meaning).and_then(|own| own.caution.as_ref())
    {
        let _ = write!(out, "\n**caution:** {}\n", escape(caution));
    }
    Some(out)
}

fn rationale<'p>(plan: &'p Plan, meaning: &Meaning) -> Option<&'p Rationale> {
    match meaning.sort {
        Sort::Reading => {
            let own = |reading: &&Reading| Some(reading.place) == meaning.declared;
            Some(&plan.readings.iter().find(own)?.rationale)
        }
        Sort::Check => {
            let own = |check: &&crate::plan::Check| Some(check.place) == meaning.declared;
            Some(&plan.checks.iter().find(own)?.rationale)
        }
        _ => None,
    }
}

/// How a stage or a point stands in this record: what it covers, and what is missing.
fn standing(sight: &Sight<'_>, meaning: &Meaning, out: &mut String) {
    let Some(unit) = sight.desk.unit(sight.file) else {
        return;
    };
    let Some(summary) = unit.summary else { return };
    let stage = match meaning.sort {
        Sort::Stage => summary
            .stages
            .iter()
            .find(|stage| *stage.name == *meaning.name),
        _ => summary.stages.iter().find(|stage| {
            stage
                .points
                .iter()
                .any(|point| *point.name == *meaning.name)
        }),
    };
    let Some(stage) = stage else { return };
    let _ = write!(out, "\n{}\n", escape(&super::symbols::standing(stage)));
    for point in stage
        .points
        .iter()
        .filter(|point| meaning.sort == Sort::Stage || *point.name == *meaning.name)
    {
        let _ = write!(
            out,
            "\n{} `{}` {}  ",
            point.kind.word(),
            point.name,
            point.state.word()
        );
    }
    out.push('\n');
    if stage.state != StageState::Complete && !stage.pending.is_empty() {
        let _ = write!(
            out,
            "\nstill to be recorded: {}\n",
            escape(&stage.pending_words())
        );
    }
}
