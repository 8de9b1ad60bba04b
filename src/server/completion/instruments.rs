//! Which instruments of the register fit a reading on its day.

use super::Offer;
use super::clauses::{day_in, kind_named, kind_of, second_name};
use super::context::Context;
use crate::plan::kind::Kind;
use crate::quantity::Interval;
use crate::register::{Instrument, Register};
use crate::server::hover::day_at;
use crate::server::sight::Sight;
use crate::workspace::desk::UnitView;
use tower_lsp::lsp_types::CompletionItemKind;

/// What an instrument is to measure.
#[derive(Default)]
pub(super) struct Wanted<'p> {
    /// The kind of the reading, where it is known.
    pub kind: Option<&'p Kind>,
    /// What its limits allow here.
    pub limits: Vec<Interval>,
    /// The day of the work, in days since 1970-01-01.
    pub day: Option<i32>,
}

/// Why an instrument that measures the kind does not fit; nothing where it does.
fn why_not(known: &Instrument, wanted: &Wanted<'_>) -> Option<&'static str> {
    let valid = wanted.day.is_none_or(|day| {
        known.calibrations.iter().any(|own| own.covers(day))
            && known.retired.as_ref().is_none_or(|own| day <= own.last)
    });
    if !valid {
        return Some("not in calibration on that day");
    }
    let Some(Kind::Quantity(kind)) = wanted.kind else {
        return None;
    };
    let range = known.range(kind)?;
    let edges = wanted
        .limits
        .iter()
        .flat_map(|limit| [&limit.low, &limit.high]);
    let outside = edges
        .flatten()
        .any(|edge| range.value.contains(&edge.at) == Ok(false));
    outside.then_some("the limit lies outside its range")
}

fn measures(known: &Instrument, kind: Option<&Kind>) -> bool {
    kind.is_none_or(|kind| {
        known.measures.is_empty() || known.measures.iter().any(|own| **own == *kind.name())
    })
}

/// The instrument that fits, where it is the only one, or the only one of those in use.
pub(super) fn proposed(
    register: &Register,
    wanted: &Wanted<'_>,
    in_use: impl Fn(&str) -> bool,
) -> Option<String> {
    let fit: Vec<&str> = register
        .instruments
        .iter()
        .filter(|(_, known)| measures(known, wanted.kind) && why_not(known, wanted).is_none())
        .map(|(name, _)| &**name)
        .collect();
    let mut used = fit.iter().filter(|name| in_use(name));
    match (fit.as_slice(), used.next(), used.next()) {
        ([only], ..) => Some(quoted(only)),
        (_, Some(used), None) => Some(quoted(used)),
        _ => None,
    }
}

/// Whether a text has a reading made with this instrument.
fn names(text: &str, instrument: &str) -> bool {
    text.match_indices(&format!("with {instrument}"))
        .any(|(at, own)| text[at + own.len()..].starts_with([' ', '\t', '\r', '\n']))
}

/// Instruments that fit, those first that the text around names already; the others below, with the reason.
pub(super) fn instruments(
    sight: &Sight<'_>,
    context: &Context<'_>,
    offset: u32,
    unit: Option<&UnitView<'_>>,
    offer: &mut Offer,
) {
    let Some(register) = unit.and_then(|unit| unit.register) else {
        return;
    };
    let kind = unit
        .and_then(|unit| unit.plan)
        .and_then(|plan| match context.first {
            "table" => kind_named(second_name(context)?, context, plan),
            _ => kind_of(context, plan),
        });
    let wanted = Wanted {
        kind,
        limits: Vec::new(),
        day: day_at(sight, offset).or_else(|| day_in(context.before)),
    };
    let mut all: Vec<(Option<&str>, bool, String, &Instrument)> = register
        .instruments
        .iter()
        .filter(|(_, known)| measures(known, kind))
        .map(|(name, known)| {
            let name = quoted(name);
            let used = names(context.stage_text(sight), &name);
            (why_not(known, &wanted), !used, name, known)
        })
        .collect();
    all.sort_by(|one, other| (one.0, one.1, &one.2).cmp(&(other.0, other.1, &other.2)));
    for (why_not, _, name, known) in all {
        let detail = match why_not {
            None => known.title.to_string(),
            Some(why) => format!("{}, {why}", known.title),
        };
        offer.word(&name, CompletionItemKind::CONSTANT, &detail);
    }
}

fn quoted(name: &str) -> String {
    match name.split('.').all(crate::plan::skeleton::is_name) {
        true => name.to_owned(),
        false => format!("\"{name}\""),
    }
}
