//! What is offered for a whole document: its notation mended, its entries put in order.

use super::{Desk, FIX_ALL, ORGANISE};
use crate::finding::Finding;
use crate::server::organise::organised;
use crate::text::{FileId, Span};
use crate::workspace::notation::mend_notation;
use tower_lsp::lsp_types::{CodeAction, CodeActionDisabled};

impl Desk<'_> {
    /// Every fault of notation mended at once.
    pub(super) fn fix_all(&mut self, findings: &[Finding]) {
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
    pub(super) fn organise(&mut self) {
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
