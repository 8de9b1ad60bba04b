//! Everything the server knows. Owned by the worker, so nothing here is shared.

use super::client::{ClientAbilities, Trace};
use super::diagnostics::{Report, diagnostic, shown};
use super::looking::Looking;
use super::outbox::Outbox;
use super::settings::Settings;
use super::sight::Sight;
use super::urls::{self, Urls};
use super::work::WayBack;
use crate::text::{Buffer, ColumnUnit, FileId, Span};
use crate::workspace::Today;
use crate::workspace::desk::Desk;
use rustc_hash::{FxHashMap, FxHashSet};
use std::path::PathBuf;
use std::sync::Arc;
use tower_lsp::jsonrpc::{Error, ErrorCode, Result};
use tower_lsp::lsp_types::{Diagnostic, MessageType, TextDocumentContentChangeEvent, Url};

/// Asked for what counts as today.
pub type Clock = Arc<dyn Fn() -> Option<Today> + Send + Sync>;

/// A document that the client has open.
struct Open {
    buffer: Buffer,
    version: i32,
    file: FileId,
    /// It comes with the program; what the client does to its copy changes nothing.
    fixed: bool,
    /// What was pushed last, and for which version.
    pushed: Option<Arc<str>>,
    pushed_version: i32,
}

/// Everything the server knows.
pub(super) struct State {
    pub desk: Desk,
    pub urls: Urls,
    pub client: ClientAbilities,
    pub settings: Settings,
    pub encoding: ColumnUnit,
    pub trace: Trace,
    pub out: Outbox,
    pub looking: Looking,
    pub roots: Vec<PathBuf>,
    /// Tokens as they were last told, by document, for deltas.
    pub tokens: FxHashMap<FileId, super::tokens::Told>,
    open: FxHashMap<Url, Open>,
    reports: FxHashMap<FileId, Report>,
    /// The ids of the reports that were last pulled.
    pulled: FxHashMap<FileId, Arc<str>>,
    /// Open documents whose latest text is not on the desk yet.
    unshared: FxHashSet<Url>,
    /// Documents of which something else may be told than the client knows.
    touched: FxHashSet<FileId>,
    /// Something besides the text in front of the user changed, so that hints and lenses may be others.
    others_changed: bool,
    clock: Clock,
    /// The worker that owns this, for what has to come back to it.
    pub back: WayBack,
}

impl State {
    pub(super) fn new(out: Outbox, clock: Clock, back: WayBack) -> State {
        State {
            desk: Desk::new(None),
            urls: Urls::default(),
            client: ClientAbilities::default(),
            settings: Settings::default(),
            encoding: ColumnUnit::Utf16,
            trace: Trace::Off,
            out,
            looking: Looking::default(),
            roots: Vec::new(),
            tokens: FxHashMap::default(),
            open: FxHashMap::default(),
            reports: FxHashMap::default(),
            pulled: FxHashMap::default(),
            unshared: FxHashSet::default(),
            touched: FxHashSet::default(),
            others_changed: false,
            clock,
            back,
        }
    }

    /// Takes what the client said of itself.
    pub(super) fn begin(
        &mut self,
        client: ClientAbilities,
        encoding: ColumnUnit,
        roots: Vec<PathBuf>,
    ) {
        self.urls.own_documents = client.opens_own_documents;
        self.client = client;
        self.encoding = encoding;
        self.desk = Desk::new(roots.first().cloned());
        self.roots = roots;
    }

    pub(super) fn log(&self, typ: MessageType, message: impl Into<String>) {
        if self.settings.log_level.takes(typ) {
            self.out.log(typ, message.into());
        }
    }

    pub(super) fn trace(&self, message: impl Into<String>, verbose: impl FnOnce() -> String) {
        match self.trace {
            Trace::Off => {}
            Trace::Messages => self.out.trace(message.into(), None),
            Trace::Verbose => self.out.trace(message.into(), Some(verbose())),
        }
    }

    /// A document was opened, or opened again with another text.
    pub(super) fn open(&mut self, url: Url, version: i32, text: String) {
        let buffer = Buffer::new(text);
        let built_in = self.urls.built_in(&url);
        let file = match built_in.and_then(|plan| self.desk.built_in(plan.name)) {
            Some(file) => file,
            None => {
                let file = self.desk.put(&urls::name(&url), &buffer);
                self.urls.opened(file, url.clone());
                file
            }
        };
        let open = Open {
            buffer,
            version,
            file,
            fixed: built_in.is_some(),
            pushed: None,
            pushed_version: version,
        };
        self.open.insert(url, open);
        if !self.client.registers_watching {
            self.desk.look_at_files();
        }
    }

    /// A document was changed; the changes apply one after the other.
    pub(super) fn change(
        &mut self,
        url: &Url,
        version: i32,
        changes: Vec<TextDocumentContentChangeEvent>,
    ) {
        let Some(open) = self.open.get_mut(url) else {
            let message = format!("{url} was changed and is not open: the change is left out");
            self.log(MessageType::WARNING, message);
            return;
        };
        if version < open.version {
            let message = format!("{url} went back from version {} to {version}", open.version);
            self.log(MessageType::WARNING, message);
        }
        let Some(open) = self.open.get_mut(url) else {
            return;
        };
        for change in changes {
            match change.range {
                None => open.buffer = Buffer::new(change.text),
                Some(range) => {
                    let at = |position: tower_lsp::lsp_types::Position| {
                        open.buffer
                            .offset(position.line, position.character, self.encoding)
                    };
                    let (start, end) = (at(range.start), at(range.end));
                    let span = Span::new(start.min(end), end.max(start));
                    open.buffer.replace(span, &change.text);
                }
            }
        }
        open.version = version;
        if !open.fixed {
            // The text is shared once for however many changes came in, when it is looked at.
            self.unshared.insert(url.clone());
        }
    }

    /// Puts the texts that changed onto the desk.
    pub(super) fn share(&mut self) {
        for url in std::mem::take(&mut self.unshared) {
            if let Some(open) = self.open.get(&url) {
                self.desk.put(&urls::name(&url), &open.buffer);
            }
        }
    }

    /// A document was closed; its file counts again.
    pub(super) fn close(&mut self, url: &Url) {
        self.share();
        let Some(open) = self.open.remove(url) else {
            return;
        };
        self.pulled.remove(&open.file);
        self.tokens.remove(&open.file);
        if open.fixed {
            return;
        }
        self.urls.closed(open.file);
        self.desk.close(open.file);
        if !self.client.pulls {
            self.out.publish(url.clone(), Vec::new(), None);
        }
    }

    /// Brings everything up to date.
    pub(super) fn settle(&mut self) {
        self.share();
        self.desk.set_today((self.clock)());
        if self.desk.is_settled() {
            return;
        }
        let began = std::time::Instant::now();
        self.desk.settle();
        for fault in self.desk.take_faults() {
            self.log(MessageType::ERROR, fault);
        }
        let touched = self.desk.take_touched();
        for file in &touched {
            self.reports.remove(file);
        }
        self.touched.extend(touched);
        let took = began.elapsed();
        self.trace("judged what changed", || format!("in {took:?}"));
    }

    pub(super) fn is_settled(&self) -> bool {
        self.unshared.is_empty() && self.desk.is_settled()
    }

    /// Done when nothing is waiting: judges, tells the client, looks through folders. True when there is more to do.
    pub(super) fn rest(&mut self) -> bool {
        self.settle();
        self.tell();
        if !self.settings.workspace {
            return false;
        }
        self.look_further()
    }

    /// Tells the client what has changed: pushes, or asks it to pull.
    fn tell(&mut self) {
        let touched = std::mem::take(&mut self.touched);
        if touched.is_empty() {
            return;
        }
        if self.client.pulls {
            let known: Vec<FileId> = touched
                .into_iter()
                .filter(|file| self.pulled.contains_key(file))
                .collect();
            let differs = known
                .into_iter()
                .any(|file| Some(self.report(file).id) != self.pulled.get(&file).cloned());
            if differs && self.client.refreshes_diagnostics {
                self.out.refresh_diagnostics();
            }
        } else {
            let open: Vec<(Url, FileId, i32)> = self
                .open
                .iter()
                .filter(|(_, open)| touched.contains(&open.file))
                .map(|(url, open)| (url.clone(), open.file, open.version))
                .collect();
            for (url, file, version) in open {
                let report = self.report(file);
                let Some(open) = self.open.get_mut(&url) else {
                    continue;
                };
                // An empty report for a document of which nothing was told would say nothing new, but clients
                // wait for the first one.
                if open.pushed.as_ref() != Some(&report.id) || open.pushed_version != version {
                    open.pushed = Some(report.id.clone());
                    open.pushed_version = version;
                    let items: Vec<Diagnostic> = report.items.to_vec();
                    self.out.publish(url, items, Some(version));
                }
            }
        }
        if std::mem::take(&mut self.others_changed) {
            if self.client.refreshes_hints {
                self.out.refresh_hints();
            }
            if self.client.refreshes_lenses {
                self.out.refresh_lenses();
            }
        }
    }

    /// The diagnostics of a document, as of the last judgement.
    pub(super) fn report(&mut self, file: FileId) -> Report {
        if let Some(known) = self.reports.get(&file) {
            return known.clone();
        }
        let findings = self.desk.findings(file);
        let items = match self.sight(file) {
            None => Vec::new(),
            Some(sight) => findings
                .iter()
                .filter(|finding| shown(finding, &self.settings))
                .map(|finding| diagnostic(finding, &sight, &self.client))
                .collect(),
        };
        let report = Report::new(items);
        self.reports.insert(file, report.clone());
        report
    }

    /// The diagnostics of a document, which the client now knows.
    pub(super) fn pull(&mut self, file: FileId) -> Report {
        let report = self.report(file);
        self.pulled.insert(file, report.id.clone());
        report
    }

    pub(super) fn sight(&self, file: FileId) -> Option<Sight<'_>> {
        Sight::new(&self.desk, &self.urls, file, self.encoding)
    }

    /// The document of an address, where it is open or known otherwise.
    pub(super) fn file(&self, url: &Url) -> Option<FileId> {
        if let Some(open) = self.open.get(url) {
            return Some(open.file);
        }
        let path = url.to_file_path().ok()?;
        self.desk.at(&path)
    }

    /// The version of an open document.
    pub(super) fn version(&self, file: FileId) -> Option<i32> {
        let open = self.open.values().find(|open| open.file == file)?;
        Some(open.version)
    }

    /// What a document shows, judged to the latest text. An error where it is not open.
    pub(super) fn see(&mut self, url: &Url) -> Result<Sight<'_>> {
        self.settle();
        let file = self.open_file(url)?;
        self.sight(file).ok_or_else(|| not_open(url))
    }

    /// The document of an address that has to be open or known.
    pub(super) fn open_file(&self, url: &Url) -> Result<FileId> {
        self.file(url).ok_or_else(|| not_open(url))
    }

    /// Takes other settings.
    pub(super) fn set(&mut self, settings: Settings) {
        if settings == self.settings {
            return;
        }
        self.settings = settings;
        self.reports.clear();
        self.touched
            .extend(self.open.values().map(|open| open.file));
        self.others_changed = true;
    }

    /// Notes that something besides the document in front of the user changed.
    pub(super) fn note_others(&mut self) {
        self.others_changed = true;
    }

    /// What was judged may be half done after a panic: everything is read and judged anew from the texts.
    pub(super) fn after_panic(&mut self) {
        self.log(
            MessageType::ERROR,
            "internal error: everything is judged anew; please report it together with the documents",
        );
        let shelved: Vec<PathBuf> = self
            .desk
            .looked_after()
            .into_iter()
            .filter(|file| !self.desk.is_open(*file))
            .filter_map(|file| self.desk.path(file).map(PathBuf::from))
            .collect();
        self.desk = Desk::new(self.roots.first().cloned());
        self.reports.clear();
        self.pulled.clear();
        self.tokens.clear();
        self.unshared.clear();
        self.urls.forget();
        let mut open: Vec<(&Url, &mut Open)> = self.open.iter_mut().collect();
        open.sort_by(|a, b| a.0.cmp(b.0));
        for (url, open) in open {
            open.pushed = None;
            let built_in = self.urls.built_in(url);
            open.file = match built_in.and_then(|plan| self.desk.built_in(plan.name)) {
                Some(file) => file,
                None => self.desk.put(&urls::name(url), &open.buffer),
            };
            if !open.fixed {
                self.urls.opened(open.file, url.clone());
            }
        }
        for path in shelved {
            self.desk.shelve(&path);
        }
    }
}

fn not_open(url: &Url) -> Error {
    Error {
        code: ErrorCode::InvalidParams,
        message: format!(
            "expected a document that is open or lies in a folder of the workspace, found {url}"
        )
        .into(),
        data: None,
    }
}
