//! Fixes and other actions on the text. None edits a recorded value but its notation, and none makes a failing reading
//! pass: what it writes beside a failing reading waits for a person's name and reason.

mod finding;
mod record;
mod whole;

use super::diagnostics::diagnostic;
use super::sight::Sight;
use super::state::State;
use super::symbols::trimmed;
use crate::finding::Finding;
use crate::syntax::NodeId;
use crate::text::{FileId, Span};
use crate::workspace::desk::UnitView;
use std::collections::HashMap;
use tower_lsp::lsp_types::{
    CodeAction, CodeActionKind, CodeActionOrCommand, Diagnostic, Range, TextEdit, WorkspaceEdit,
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

    /// First byte of the line at a byte, and its indentation.
    fn line_start(&self, offset: u32) -> (u32, &'a str) {
        let (line, text) = self.sight.line(offset);
        let indent = text.len() - text.trim_start_matches([' ', '\t']).len();
        (self.sight.source.lines.start_of(line), &text[..indent])
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

    /// First byte of the line behind a statement with all that belongs to it.
    fn behind(&self, statement: NodeId) -> u32 {
        let outline = trimmed(&self.sight, self.sight.tree.outline_span(statement));
        let (line, _) = self.sight.line(outline.end);
        self.sight.source.lines.start_of(line + 1)
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
}
