//! Fixes and other actions on the text. None edits a recorded value but its notation, and none makes a failing reading
//! pass: what it writes beside a failing reading waits for a person's name and reason.

use super::completion::missing_rows;
use super::diagnostics::diagnostic;
use super::open::{Open, laid_out, unit_of};
use super::organise::organised;
use super::reading;
use super::state::State;
use crate::finding::{Finding, Severity, rules};
use crate::plan::kind::Kind;
use crate::plan::{PointKind, StageId};
use crate::quantity::{Number, Rational, format_number, parse_unit};
use crate::record::{index_text, slots};
use crate::server::sight::Sight;
use crate::syntax::{NodeId, NodeKind};
use crate::text::{FileId, Span};
use crate::verdict::{acceptable, with_glances};
use crate::workspace::desk::UnitView;
use crate::workspace::notation::mend_notation;
use std::collections::HashMap;
use tower_lsp::lsp_types::{
    CodeAction, CodeActionDisabled, CodeActionKind, CodeActionOrCommand, Diagnostic, Range,
    TextEdit, WorkspaceEdit,
};

/// `source.fixAll` of this server.
pub(super) const FIX_ALL: CodeActionKind = CodeActionKind::new("source.fixAll.stagebook");
/// `source.organize` of this server.
pub(super) const ORGANISE: CodeActionKind = CodeActionKind::new("source.organize.stagebook");

/// Stands where a person has to put a name.
const NAME: &str = "NAME";
/// Stands where a person has to put a reason.
const REASON: &str = "REASON";

/// The actions at a range, of the kinds that are asked for.
pub(super) fn actions(
    state: &State,
    file: FileId,
    range: Range,
    only: Option<&[CodeActionKind]>,
) -> Vec<CodeActionOrCommand> {
    let Some(sight) = state.sight(file) else {
        return Vec::new();
    };
    if sight.desk.is_built_in(file) {
        return Vec::new();
    }
    let findings = sight.desk.findings(file);
    let span = sight.span(range);
    let mut desk = Desk {
        sight,
        state,
        out: Vec::new(),
    };
    for finding in findings.iter().filter(|finding| touches(finding, span)) {
        desk.of_finding(finding);
    }
    desk.of_reading(span);
    desk.of_stage(span);
    desk.of_design(span);
    desk.fix_all(&findings);
    desk.organise();
    let wanted = |kind: &CodeActionKind| {
        only.is_none_or(|only| {
            only.iter().any(|asked| {
                let asked = asked.as_str();
                kind.as_str() == asked || kind.as_str().starts_with(&format!("{asked}."))
            })
        })
    };
    desk.out
        .into_iter()
        .filter(|action| action.kind.as_ref().is_some_and(wanted))
        // An action on the whole is for who asks for it, not for every bulb.
        .filter(|action| {
            let kind = action.kind.as_ref();
            only.is_some() || (kind != Some(&FIX_ALL) && kind != Some(&ORGANISE))
        })
        .map(CodeActionOrCommand::CodeAction)
        .collect()
}

fn touches(finding: &Finding, span: Span) -> bool {
    let own = finding.place.span;
    own.start <= span.end && own.end >= span.start
}

struct Desk<'a> {
    sight: Sight<'a>,
    state: &'a State,
    out: Vec<CodeAction>,
}

impl<'a> Desk<'a> {
    fn add(
        &mut self,
        title: String,
        kind: CodeActionKind,
        edits: Vec<(FileId, Span, String)>,
        mends: Option<&Finding>,
    ) -> Option<&mut CodeAction> {
        let mut changes: HashMap<_, Vec<TextEdit>> = HashMap::new();
        for (file, span, text) in edits {
            let other = self.sight.of(file)?;
            let edit = TextEdit::new(other.range(span), text);
            changes.entry(self.sight.url(file)?).or_default().push(edit);
        }
        let diagnostics: Option<Vec<Diagnostic>> =
            mends.map(|finding| vec![diagnostic(finding, &self.sight, &self.state.client)]);
        self.out.push(CodeAction {
            title,
            kind: Some(kind),
            diagnostics,
            edit: Some(WorkspaceEdit::new(changes)),
            ..CodeAction::default()
        });
        self.out.last_mut()
    }

    fn insert(
        &mut self,
        title: String,
        kind: CodeActionKind,
        at: u32,
        text: String,
        mends: Option<&Finding>,
    ) {
        let file = self.sight.file;
        let text = self.with_line_ends(&text);
        self.add(title, kind, vec![(file, Span::new(at, at), text)], mends);
    }

    /// In a document of CR LF lines new lines end so too.
    fn with_line_ends(&self, text: &str) -> String {
        match self.sight.source.text.contains("\r\n") {
            true => text.replace('\n', "\r\n"),
            false => text.to_owned(),
        }
    }

    fn unit(&self) -> Option<UnitView<'a>> {
        self.sight.desk.unit(self.sight.file)
    }

    fn of_finding(&mut self, finding: &Finding) {
        let file = self.sight.file;
        // What is sealed keeps even its faults of notation.
        let sealed = self.sight.is_sealed_at(finding.place.span);
        if let Some(fix) = finding.fix.as_ref().filter(|_| !sealed) {
            let edits = fix
                .edits
                .iter()
                .map(|(span, text)| (file, *span, text.clone()))
                .collect();
            let mut title = fix.title.clone();
            title[..1].make_ascii_uppercase();
            let sole = self.add(title, CodeActionKind::QUICKFIX, edits, Some(finding));
            if let Some(action) = sole {
                action.is_preferred = Some(true);
            }
        }
        if finding.accepted.is_some() {
            return;
        }
        if finding.rule.name == rules::OUT_OF_LIMIT.name && finding.severity == Severity::Error {
            self.nonconformity(finding);
        }
        if finding.rule.name == rules::UNKNOWN_INSTRUMENT.name {
            self.register_entry(finding);
        }
        if finding.rule.name == rules::MISSING_CONDITION.name {
            self.condition(finding);
        }
        if acceptable(finding) {
            let (start, indent) = self.line_start(finding.place.span.start);
            let text = format!(
                "{indent}accept {} because \"{REASON}\" by {NAME} on {}\n",
                finding.rule.name,
                self.today()
            );
            let title = format!("Accept `{}` with a reason", finding.rule.name);
            self.insert(title, CodeActionKind::QUICKFIX, start, text, Some(finding));
        }
    }

    fn today(&self) -> String {
        let today = self.sight.desk.today(self.sight.file);
        today.map_or_else(|| "DATE".to_owned(), crate::quantity::moment::format_day)
    }

    /// First byte of the line at a byte, and its indentation.
    fn line_start(&self, offset: u32) -> (u32, &'a str) {
        let (line, text) = self.sight.line(offset);
        let indent = text.len() - text.trim_start_matches([' ', '\t']).len();
        (self.sight.source.lines.start_of(line), &text[..indent])
    }

    /// A nonconformity for a failing reading, at the end of the record.
    fn nonconformity(&mut self, finding: &Finding) {
        let Some((unit, plan, record)) = self.bound() else {
            return;
        };
        let offset = finding.place.span.start;
        let Some(at) = reading::within(&self.sight, record, finding.place.span).pop() else {
            return;
        };
        let reading = &plan.readings[at.id.index()];
        let stage = &plan.stages[reading.stage.index()].name;
        let index = index_text(&record.domains, &reading.indices, at.slot);
        let number = record.nonconformities.len() + 1;
        let name = (number..)
            .map(|number| format!("NC-{number}"))
            .find(|name| {
                !record
                    .nonconformities
                    .iter()
                    .any(|known| *known.name == **name)
            });
        let name = name.unwrap_or_else(|| "NC-1".to_owned());
        let text = format!(
            "\nnonconformity {name} on {} by {NAME}\n  against {stage}.{}{index}\n  found \"{}\"\n",
            self.today(),
            reading.name,
            finding.message.replace('"', "'")
        );
        let end = self.sight.source.text.len() as u32;
        let broken = !self.sight.source.text.ends_with('\n');
        let text = if broken { format!("\n{text}") } else { text };
        let title = format!("Raise {name} against {}{index}", reading.name);
        self.insert(title, CodeActionKind::QUICKFIX, end, text, Some(finding));
        let _ = (unit, offset);
    }

    /// A place for the conditions that a reading lacks: behind its value, or in the head of its table.
    fn condition(&mut self, finding: &Finding) {
        let Some((_, plan, record)) = self.bound() else {
            return;
        };
        let Some(at) = reading::within(&self.sight, record, finding.place.span).pop() else {
            return;
        };
        let missing: Vec<_> = plan.readings[at.id.index()]
            .given
            .iter()
            .filter(|kind| record.condition(at.entry, kind).is_none())
            .collect();
        let names: Vec<&str> = missing.iter().map(|kind| kind.name()).collect();
        // The place is kept open with `?`: what was not noted down cannot be guessed.
        let kept: Vec<String> = missing
            .iter()
            .map(|kind| match kind {
                Kind::Quantity(kind) => format!("? {}", kind.example),
                _ => "?".to_owned(),
            })
            .collect();
        let tree = self.sight.tree;
        let nodes = self.sight.nodes_at(finding.place.span.start);
        let table = nodes.iter().find(|node| tree.kind(**node) == NodeKind::Table);
        let end = match table {
            Some(table) => super::symbols::trimmed(&self.sight, tree.span(*table)).end,
            None => finding.place.span.end,
        };
        if !kept.is_empty() && !self.sight.is_sealed() {
            self.insert(
                format!("Write at which {} it was read", names.join(" and ")),
                CodeActionKind::QUICKFIX,
                end,
                format!(" at {}", kept.join(", ")),
                Some(finding),
            );
        }
    }

    fn bound(
        &self,
    ) -> Option<(
        UnitView<'a>,
        &'a crate::plan::Plan,
        &'a crate::record::Record,
    )> {
        let unit = self.unit()?;
        Some((unit, unit.plan?, unit.record?))
    }

    /// An entry in the register for an instrument that it does not know.
    fn register_entry(&mut self, finding: &Finding) {
        let Some(register) = self.unit().and_then(|unit| unit.register_file) else {
            return;
        };
        let Some(source) = self.sight.desk.source(register) else {
            return;
        };
        let written = self.sight.source.slice(finding.place.span);
        let name = written.trim();
        if name.is_empty() || name.contains('\n') {
            return;
        }
        let gap = if source.text.ends_with('\n') {
            "\n"
        } else {
            "\n\n"
        };
        let text = format!(
            "{gap}instrument {name} \"\"\n  note \"entered from a record: kind, accuracy and calibration are missing\"\n"
        );
        let end = source.text.len() as u32;
        let edits = vec![(register, Span::new(end, end), text)];
        self.add(
            format!("Enter {name} in the register"),
            CodeActionKind::QUICKFIX,
            edits,
            Some(finding),
        );
    }

    /// At a reading: an amendment, and the value in the plan's unit.
    fn of_reading(&mut self, span: Span) {
        let Some((_, plan, record)) = self.bound() else {
            return;
        };
        let Some(at) = reading::at(&self.sight, record, span.start) else {
            return;
        };
        let item = &plan.readings[at.id.index()];
        let name = format!(
            "{}{}",
            item.name,
            index_text(&record.domains, &item.indices, at.slot)
        );
        let own = at.entry.place.span;
        let written = match &at.entry.unit {
            Some(unit) => format!("{} {unit}", self.sight.source.slice(own)),
            None => self.sight.source.slice(own).to_owned(),
        };
        if matches!(at.entry.value, crate::record::Recorded::Value(_)) {
            // Behind the statement in which the reading stands, at its level.
            let nodes = self.sight.nodes_at(own.start);
            let statement = nodes.iter().find(|node| {
                matches!(
                    self.sight.tree.kind(**node),
                    NodeKind::Reading | NodeKind::Table | NodeKind::Amend
                )
            });
            if let Some(statement) = statement {
                let (_, indent) = self.line_start(self.sight.tree.span(*statement).start);
                let text = format!(
                    "{indent}amend {name} = ? was {written} by {NAME} on {} because \"{REASON}\"\n",
                    self.today()
                );
                let end = self.behind(*statement);
                self.insert(
                    format!("Amend {name}"),
                    CodeActionKind::REFACTOR,
                    end,
                    text,
                    None,
                );
            }
        }
        self.in_declared_unit(item, own);
    }

    /// First byte of the line behind a statement with all that belongs to it.
    fn behind(&self, statement: NodeId) -> u32 {
        let outline = super::symbols::trimmed(&self.sight, self.sight.tree.outline_span(statement));
        let (line, _) = self.sight.line(outline.end);
        self.sight.source.lines.start_of(line + 1)
    }

    /// The same amount in the unit that the plan suggests, where that can be written exactly.
    fn in_declared_unit(&mut self, item: &crate::plan::Reading, span: Span) {
        let Kind::Quantity(kind) = &item.kind else {
            return;
        };
        let text = self.sight.source.slice(span);
        let Some((number, unit)) = text.split_once(' ') else {
            return;
        };
        let (Ok(number), Ok(from), Ok(to)) = (
            Rational::parse(number),
            parse_unit(unit.trim()),
            parse_unit(kind.example),
        ) else {
            return;
        };
        if self.sight.is_sealed_at(span)
            || from.dimension != to.dimension
            || from.offset.is_some()
            || to.offset.is_some()
            || unit.trim() == kind.example
        {
            return;
        }
        let converted = number
            .checked_mul(from.factor)
            .and_then(|amount| amount.checked_div(to.factor));
        let Some(converted) = converted else { return };
        // Only what reads back as the same amount is a change of notation.
        let exact =
            |text: &String| Rational::parse(text).is_ok_and(|read| read.compare(converted).is_eq());
        let written = (1..=17)
            .map(|digits| format_number(Number::Exact(converted), digits))
            .find(exact);
        if let Some(written) = written.filter(|written| !written.contains('e')) {
            let edits = vec![(self.sight.file, span, format!("{written} {}", kind.example))];
            let title = format!("Write as {written} {}", kind.example);
            self.add(title, CodeActionKind::REFACTOR_REWRITE, edits, None);
        }
    }

    /// The nodes at a byte; on a blank line those of the statement above it, to whose outline it will belong.
    fn nodes_of_line(&self, offset: u32) -> Vec<NodeId> {
        let (_, line) = self.sight.line(offset);
        if !line.trim().is_empty() {
            return self.sight.nodes_at(offset);
        }
        let above = self.sight.source.text[..offset as usize].trim_end();
        self.sight.nodes_at(above.len().saturating_sub(1) as u32)
    }

    /// At a stage: the rest of it kept open, its open points, the rows that a table lacks.
    fn of_stage(&mut self, span: Span) {
        let Some((_, plan, record)) = self.bound() else {
            return;
        };
        let nodes = self.nodes_of_line(span.start);
        let tree = self.sight.tree;
        let Some(stage) = nodes
            .iter()
            .find(|node| tree.kind(**node) == NodeKind::StageRecord)
        else {
            return;
        };
        let name = tree
            .child(*stage, NodeKind::Name)
            .map(|name| tree.text_of(name));
        let Some(id) = name.and_then(|name| plan.stage_by_name.get(name).copied()) else {
            return;
        };
        if let Some(table) = nodes
            .iter()
            .find(|node| tree.kind(**node) == NodeKind::Table)
        {
            self.missing_rows(*table, id);
        }
        let end = self.behind(*stage);
        let sources = self.sight.desk.sources();
        let (rest, points) = with_glances(plan, record, self.sight.file, sources, |glances| {
            let round = record.stages[id.index()].last();
            // What is kept open already stands there.
            let stands = |reading, slot: usize| {
                round.is_some_and(|round| {
                    let slots = round.readings.get(&reading);
                    slots.is_some_and(|slots| slots[slot] != crate::record::EMPTY)
                })
            };
            let open: Vec<Open<'_>> = plan.stages[id.index()]
                .readings
                .iter()
                .map(|reading| {
                    let item = &plan.readings[reading.index()];
                    let mut slots = glances.open_slots(*reading);
                    slots.retain(|slot| !stands(*reading, *slot));
                    Open {
                        name: &item.name,
                        unit: unit_of(plan, *reading, slots.first().copied().unwrap_or(0), glances),
                        indices: &item.indices,
                        slots,
                    }
                })
                .filter(|open| !open.slots.is_empty())
                .collect();
            let rest = laid_out(plan, &record.domains, &open);
            let open = |point: &&crate::plan::PointId| {
                glances.point_applies(**point)
                    && !round.is_some_and(|round| round.acts.iter().any(|act| act.point == **point))
            };
            let points: Vec<_> = plan.stages[id.index()]
                .points
                .iter()
                .filter(open)
                .copied()
                .collect();
            (rest, points)
        });
        let stage_name = &plan.stages[id.index()].name;
        if !rest.is_empty() {
            self.insert(
                format!("Keep the rest of `{stage_name}` open"),
                CodeActionKind::REFACTOR,
                end,
                rest,
                None,
            );
        }
        for point in points {
            let point = &plan.points[point.index()];
            let word = match point.kind {
                PointKind::Hold => "release",
                PointKind::Witness => "witnessed",
                PointKind::Review => "reviewed",
            };
            let text = format!("  {word} {} by {NAME} on {}\n", point.name, self.today());
            self.insert(
                format!("Write the line `{word} {}`", point.name),
                CodeActionKind::REFACTOR,
                end,
                text,
                None,
            );
        }
    }

    /// At the unit's first line or its design: what the design still lacks, kept open.
    fn of_design(&mut self, span: Span) {
        let Some((_, plan, record)) = self.bound() else {
            return;
        };
        let tree = self.sight.tree;
        let nodes = self.nodes_of_line(span.start);
        let at = |kind| nodes.iter().find(|node| tree.kind(**node) == kind);
        let there = tree
            .children(tree.root())
            .find(|node| tree.kind(*node) == NodeKind::Design);
        let Some(head) = at(NodeKind::Design).or(at(NodeKind::Unit)) else {
            return;
        };
        let open: Vec<Open<'_>> = plan
            .design
            .iter()
            .zip(&record.design)
            .filter(|(item, _)| item.required)
            .map(|(item, given)| Open {
                name: &item.name,
                // A design value carries its own unit, often with a tolerance.
                unit: String::new(),
                indices: &item.indices,
                slots: (0..slots(&record.domains, &item.indices))
                    .filter(|slot| {
                        given
                            .get(*slot)
                            .is_none_or(|own| *own == crate::record::EMPTY)
                    })
                    .collect(),
            })
            .filter(|open| !open.slots.is_empty())
            .collect();
        let mut text = laid_out(plan, &record.domains, &open);
        if text.is_empty() {
            return;
        }
        if there.is_none() {
            text = format!("\ndesign rev A on {} by {NAME}\n{text}", self.today());
        }
        self.insert(
            "Keep the rest of the design open".to_owned(),
            CodeActionKind::REFACTOR,
            self.behind(there.unwrap_or(*head)),
            text,
            None,
        );
    }

    fn missing_rows(&mut self, table: NodeId, stage: StageId) {
        let Some((_, plan, record)) = self.bound() else {
            return;
        };
        let Some(rows) = missing_rows(&self.sight, table, plan, record, stage) else {
            return;
        };
        let end = self.behind(table);
        self.insert(
            "Add the missing rows, kept open".to_owned(),
            CodeActionKind::REFACTOR,
            end,
            rows,
            None,
        );
    }

    /// Every fault of notation mended at once.
    fn fix_all(&mut self, findings: &[Finding]) {
        if let Some(mended) = mend_notation(self.sight.tree, findings) {
            let edits = self.edits_to(&mended.text);
            self.add(
                "Mend all faults of notation".to_owned(),
                FIX_ALL,
                edits,
                None,
            );
        }
    }

    /// The document put in order; where it cannot be, why not.
    fn organise(&mut self) {
        const TITLE: &str = "Put people and instruments in order";
        match organised(self.sight.tree) {
            Ok(None) => {}
            Ok(Some(text)) => {
                let edits = self.edits_to(&text);
                self.add(TITLE.to_owned(), ORGANISE, edits, None);
            }
            Err(reason) if self.state.client.disabled_actions => self.out.push(CodeAction {
                title: TITLE.to_owned(),
                kind: Some(ORGANISE),
                disabled: Some(CodeActionDisabled { reason }),
                ..CodeAction::default()
            }),
            Err(_) => {}
        }
    }

    /// The edits that make another text of the document: line by line where it has as many lines, so that marks and
    /// cursors stay where they can.
    fn edits_to(&self, text: &str) -> Vec<(FileId, Span, String)> {
        let file = self.sight.file;
        let before = &self.sight.source.text;
        let lines = || before.split_inclusive('\n');
        if lines().count() != text.split_inclusive('\n').count() {
            return vec![(file, Span::new(0, before.len() as u32), text.to_owned())];
        }
        let mut start = 0;
        let mut edits = Vec::new();
        for (old, new) in lines().zip(text.split_inclusive('\n')) {
            let end = start + old.len() as u32;
            if old != new {
                edits.push((file, Span::new(start, end), new.to_owned()));
            }
            start = end;
        }
        edits
    }
}
