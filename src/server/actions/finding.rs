//! What is offered at a finding: its mend, or what answers it.

use super::{Desk, NAME, REASON};
use crate::finding::{Finding, Severity, rules};
use crate::plan::kind::Kind;
use crate::record::index_text;
use crate::server::reading;
use crate::server::symbols::trimmed;
use crate::syntax::NodeKind;
use crate::text::Span;
use crate::verdict::acceptable;
use tower_lsp::lsp_types::CodeActionKind;

impl Desk<'_> {
    pub(super) fn of_finding(&mut self, finding: &Finding) {
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
                self.sight.today()
            );
            let title = format!("Accept `{}` with a reason", finding.rule.name);
            self.insert(title, CodeActionKind::QUICKFIX, start, text, Some(finding));
        }
    }

    /// A nonconformity for a failing reading, at the end of the record.
    fn nonconformity(&mut self, finding: &Finding) {
        let Some((_, plan, record)) = self.bound() else {
            return;
        };
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
            self.sight.today(),
            reading.name,
            finding.message.replace('"', "'")
        );
        let end = self.sight.source.text.len() as u32;
        let broken = !self.sight.source.text.ends_with('\n');
        let text = if broken { format!("\n{text}") } else { text };
        let title = format!("Raise {name} against {}{index}", reading.name);
        self.insert(title, CodeActionKind::QUICKFIX, end, text, Some(finding));
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
        let table = nodes
            .iter()
            .find(|node| tree.kind(**node) == NodeKind::Table);
        let end = match table {
            Some(table) => trimmed(&self.sight, tree.span(*table)).end,
            None => finding.place.span.end,
        };
        if !kept.is_empty() && !self.sight.is_sealed_at(finding.place.span) {
            self.insert(
                format!("Write at which {} it was read", names.join(" and ")),
                CodeActionKind::QUICKFIX,
                end,
                format!(" at {}", kept.join(", ")),
                Some(finding),
            );
        }
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
}
