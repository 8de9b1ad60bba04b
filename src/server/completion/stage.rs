//! What may come next in a stage of a record: what is still to be recorded, its points, then the words.

use super::clauses::day_in;
use super::context::Context;
use super::instruments::{self, Wanted};
use super::record::stage_id;
use super::tables::with_stops;
use super::{Offer, literal, words};
use crate::plan::kind::Kind;
use crate::plan::{Plan, PointKind, Reading, ReadingId, StageId};
use crate::record::{EMPTY, Record, index_text};
use crate::register::Register;
use crate::server::open::{example, table, unit_of_limit};
use crate::server::sight::Sight;
use crate::verdict::{Glance, Glances, with_glances};
use crate::workspace::desk::UnitView;
use serde_json::json;
use tower_lsp::lsp_types::CompletionItemKind;

/// From so many open slots on a reading is offered as a table.
const TABLE_FROM: usize = 2;
/// So many open slots of one reading or design value are offered one by one.
pub(super) const MOST_SLOTS: usize = 24;

/// A line of a stage.
pub(super) fn offer(
    sight: &Sight<'_>,
    context: &Context<'_>,
    unit: Option<&UnitView<'_>>,
    offer: &mut Offer,
) {
    let who = |offer: &mut Offer| {
        offer.snippet(
            "on",
            &format!("on ${{1:{}}} by ${{2}}", sight.today()),
            CompletionItemKind::KEYWORD,
            "day and person of what follows in this stage",
        );
    };
    let said = Said::of(sight, context);
    // A stage begins with who did it, and when.
    if !said.begun {
        who(offer);
    }
    with_stage(sight, context, unit, |stage| {
        stage.whole(&said, offer);
        stage.logs(offer);
        stage.acts(offer);
        stage.one_by_one(&said, offer);
    });
    if said.begun {
        who(offer);
    }
    words(
        offer,
        &["table", "log", "note", "attach", "amend", "accept"],
    );
}

/// Behind `table`: the names that a table may have, those that are open with all their rows.
pub(super) fn tables(
    sight: &Sight<'_>,
    context: &Context<'_>,
    unit: Option<&UnitView<'_>>,
    offer: &mut Offer,
) {
    let said = Said::of(sight, context);
    with_stage(sight, context, unit, |stage| {
        for id in stage.readings() {
            let reading = &stage.plan.readings[id.index()];
            let open = stage.glances.open_slots(*id);
            if !stage.is_table(reading, &open) {
                offer.word(
                    &reading.name,
                    CompletionItemKind::FIELD,
                    reading.kind.name(),
                );
                continue;
            }
            let (_, snippet) = stage.table(*id, &open, &said, offer.snippets);
            let snippet = snippet.strip_prefix("table ").unwrap_or(&snippet);
            let detail = format!("{} still to be recorded", open.len());
            offer.snippet(&reading.name, snippet, CompletionItemKind::FIELD, &detail);
        }
    });
}

/// What the lines of a stage above the cursor say of all that follows in it.
struct Said {
    /// A statement stands there.
    begun: bool,
    /// The day of the work, in days since 1970-01-01.
    day: Option<i32>,
    /// An instrument is named.
    instrument: bool,
}

impl Said {
    fn of(sight: &Sight<'_>, context: &Context<'_>) -> Said {
        let Some(stage) = context.inside("stage") else {
            return Said {
                begun: true,
                day: None,
                instrument: false,
            };
        };
        let mut said = Said {
            begun: false,
            day: day_in(stage.rest),
            instrument: false,
        };
        for line in context.stage_text(sight).lines().skip(1) {
            let line = line.split('#').next().unwrap_or("").trim();
            said.begun |= !line.is_empty();
            let mut words = line.split_whitespace();
            if matches!(words.next(), Some("on" | "by" | "with" | "at")) {
                said.day = day_in(line).or(said.day);
                said.instrument |= line.starts_with("with ") || line.contains(" with ");
            }
        }
        said
    }
}

/// A stage of a record with what is known of it.
struct Stage<'a> {
    sight: &'a Sight<'a>,
    plan: &'a Plan,
    record: &'a Record,
    register: Option<&'a Register>,
    id: StageId,
    glances: &'a Glances<'a>,
}

/// Gives the stage in which the cursor stands, where plan and record know it.
fn with_stage(
    sight: &Sight<'_>,
    context: &Context<'_>,
    unit: Option<&UnitView<'_>>,
    look: impl FnOnce(&Stage<'_>),
) {
    if let Some(unit) = unit
        && let (Some(plan), Some(record)) = (unit.plan, unit.record)
        && let Some(id) = stage_id(context, plan)
    {
        with_glances(plan, record, sight.file, sight.desk.sources(), |glances| {
            look(&Stage {
                sight,
                plan,
                record,
                register: unit.register,
                id,
                glances,
            });
        });
    }
}

impl Stage<'_> {
    fn readings(&self) -> &[ReadingId] {
        &self.plan.stages[self.id.index()].readings
    }

    /// Whether the open places of a reading are offered as a table.
    fn is_table(&self, reading: &Reading, open: &[usize]) -> bool {
        open.len() >= TABLE_FROM && (1..=2).contains(&reading.indices.len())
    }

    /// The declaration of a reading, to be told with the item.
    fn declaration(&self, reading: &Reading) -> serde_json::Value {
        let text = self.sight.text(reading.place);
        json!({ "text": format!("```ubr\n{text}\n```") })
    }

    /// Each reading that is open: as a table, or the single one.
    fn whole(&self, said: &Said, offer: &mut Offer) {
        for id in self.readings() {
            let open = self.glances.open_slots(*id);
            let reading = &self.plan.readings[id.index()];
            if !self.is_table(reading, &open) {
                for slot in open.iter().take(MOST_SLOTS) {
                    self.single(*id, *slot, said, offer);
                }
                continue;
            }
            let (label, snippet) = self.table(*id, &open, said, offer.snippets);
            let detail = format!("{} still to be recorded", open.len());
            let item = offer.snippet(&label, &snippet, CompletionItemKind::STRUCT, &detail);
            // Who types the name of the reading means its table first.
            item.filter_text = Some(format!("{} table", reading.name));
            item.data = Some(self.declaration(reading));
        }
    }

    /// The open places of the readings that were offered as tables.
    fn one_by_one(&self, said: &Said, offer: &mut Offer) {
        for id in self.readings() {
            let open = self.glances.open_slots(*id);
            if self.is_table(&self.plan.readings[id.index()], &open) {
                for slot in open.iter().take(MOST_SLOTS) {
                    self.single(*id, *slot, said, offer);
                }
            }
        }
    }

    /// The whole table of a reading: its label and its text with a stop in each place.
    fn table(&self, id: ReadingId, open: &[usize], said: &Said, stops: bool) -> (String, String) {
        let reading = &self.plan.readings[id.index()];
        let glance = self.glances.reading(id, open.first().copied().unwrap_or(0));
        let mut next = 1;
        let unit = unit(
            &reading.kind,
            unit_of_limit(&reading.kind, &glance),
            &mut next,
        );
        let clauses = self.clauses(reading, &glance, said, &mut next, stops);
        let (label, text) = table(self.plan, self.record, id, &unit, &clauses);
        let (head, rows) = text.split_once('\n').unwrap_or((&text, ""));
        let rows = with_stops(rows.trim_end(), next);
        (label, format!("{head}\n{rows}"))
    }

    fn single(&self, id: ReadingId, slot: usize, said: &Said, offer: &mut Offer) {
        let reading = &self.plan.readings[id.index()];
        let index = index_text(&self.record.domains, &reading.indices, slot);
        let label = format!("{}{index}", reading.name);
        let glance = self.glances.reading(id, slot);
        let mut next = 1;
        let value = place(
            &reading.kind,
            unit_of_limit(&reading.kind, &glance),
            &mut next,
        );
        let clauses = self.clauses(reading, &glance, said, &mut next, offer.snippets);
        let snippet = format!("{} = {value}{clauses}", literal(&label));
        let allowed = glance
            .limits
            .first()
            .and_then(|limit| limit.allowed.clone());
        let detail = allowed.map_or_else(
            || reading.kind.name().to_string(),
            |allowed| format!("to be {allowed}"),
        );
        offer
            .snippet(&label, &snippet, CompletionItemKind::FIELD, &detail)
            .data = Some(self.declaration(reading));
    }

    /// What a reading asks for behind its value or its table's name: conditions; the instrument where only one fits;
    /// a person where another is asked for. What nobody has confirmed yet is only proposed as a stop.
    fn clauses(
        &self,
        reading: &Reading,
        glance: &Glance,
        said: &Said,
        next: &mut usize,
        stops: bool,
    ) -> String {
        let mut text = String::new();
        let mut stop = || {
            *next += 1;
            *next - 1
        };
        for kind in &reading.given {
            let unit = example(kind);
            // Nobody reads 500 V as kV by mistake where the unit is a stop of its own.
            let scaled = matches!(kind, Kind::Quantity(kind) if !kind.point);
            text += &match stops && scaled {
                true => format!("  at ${{{}}} ${{{}:{unit}}}", stop(), stop()),
                false => format!("  at ${{{}}} {unit}", stop()),
            };
        }
        if !stops {
            return text;
        }
        if let Some(register) = self.register.filter(|_| !said.instrument) {
            let wanted = Wanted {
                kind: Some(&reading.kind),
                limits: glance
                    .limits
                    .iter()
                    .filter_map(|limit| limit.interval.clone())
                    .collect(),
                day: said.day,
            };
            if let Some(name) =
                instruments::proposed(register, &wanted, |name| self.in_use(name, reading))
            {
                text += &format!("  ${{{}:with {}}}", stop(), literal(&name));
            }
        }
        if !reading.independent_of.is_empty() {
            text += &format!("  by ${{{}}}", stop());
        }
        text
    }

    /// Whether a reading of the same kind, indices and conditions was made with an instrument in this stage. Single
    /// readings are too unlike each other: a tape and a feeler gauge both measure lengths.
    fn in_use(&self, instrument: &str, like: &Reading) -> bool {
        let round = self.record.stages[self.id.index()].last();
        let readings = round.iter().flat_map(|round| &round.readings);
        let alike = readings.filter(|(id, _)| {
            let reading = &self.plan.readings[id.index()];
            !like.indices.is_empty()
                && reading.indices == like.indices
                && reading.kind == like.kind
                && reading.given == like.given
        });
        let entries = alike.flat_map(|(_, slots)| slots.iter().filter(|entry| **entry != EMPTY));
        entries
            .map(|entry| &self.record.entries[*entry as usize])
            .filter_map(|entry| {
                let context = &self.record.contexts[entry.context as usize];
                context.instrument.as_ref()
            })
            .any(|(name, _)| **name == *instrument)
    }

    fn logs(&self, offer: &mut Offer) {
        for id in &self.plan.stages[self.id.index()].logs {
            let log = &self.plan.logs[id.index()];
            let label = format!("log {}", log.name);
            let snippet = format!("{label} from \"${{1:logs/{}.csv}}\"", log.name);
            offer.snippet(&label, &snippet, CompletionItemKind::STRUCT, &log.title);
        }
    }

    /// The points of the stage that are open.
    fn acts(&self, offer: &mut Offer) {
        let round = self.record.stages[self.id.index()].last();
        let done = |id: crate::plan::PointId| {
            round.is_some_and(|round| round.acts.iter().any(|act| act.point == id))
        };
        for id in &self.plan.stages[self.id.index()].points {
            if done(*id) || !self.glances.point_applies(*id) {
                continue;
            }
            let point = &self.plan.points[id.index()];
            let verbs: &[&str] = match point.kind {
                PointKind::Hold => &["release"],
                PointKind::Witness => &["notified", "witnessed", "waived"],
                PointKind::Review => &["reviewed"],
            };
            for verb in verbs {
                let label = format!("{verb} {}", point.name);
                let snippet = format!("{label} by ${{1}} on ${{2:{}}}", self.sight.today());
                let detail = format!("{}, by {}", point.title, point.roles.join(" or "));
                offer.snippet(&label, &snippet, CompletionItemKind::EVENT, &detail);
            }
        }
    }
}

/// A unit, empty where a kind has none. One that no limit gives is a stop, because it may have been read in another.
fn unit(kind: &Kind, of_limit: Option<String>, next: &mut usize) -> String {
    // Of a point on a scale only one unit is in use.
    let only = matches!(kind, Kind::Quantity(kind) if kind.point);
    match (of_limit, example(kind)) {
        (Some(unit), _) => unit,
        (None, "") => String::new(),
        (None, example) if only => example.to_owned(),
        (None, example) => {
            *next += 1;
            format!("${{{}:{example}}}", *next - 1)
        }
    }
}

/// The place of a value as stops from a number on: empty before a unit, else kept open or a choice.
pub(super) fn place(kind: &Kind, of_limit: Option<String>, next: &mut usize) -> String {
    let stop = *next;
    *next += 1;
    match kind {
        Kind::YesNo => format!("${{{stop}|?,yes,no|}}"),
        Kind::Choice(names) => {
            let names: Vec<String> = names.iter().map(|name| literal(name)).collect();
            format!("${{{stop}|?,{}|}}", names.join(","))
        }
        _ => match unit(kind, of_limit, next).as_str() {
            "" => format!("${{{stop}:?}}"),
            unit => format!("${{{stop}}} {unit}"),
        },
    }
}
