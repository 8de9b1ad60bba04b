//! Looking through the folders of the workspace, a little at a time while nothing else is waiting.

use super::state::State;
use crate::workspace::desk::Walk;
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use tower_lsp::lsp_types::{
    MessageType, NumberOrString, ProgressParams, ProgressParamsValue, WorkDoneProgress,
    WorkDoneProgressBegin, WorkDoneProgressEnd, WorkDoneProgressReport,
};

/// So many entries of folders are looked at before something else may come in between.
const ENTRIES: usize = 500;
/// So many documents are taken in before something else may come in between.
const DOCUMENTS: usize = 32;
/// More entries than these are not looked at: somebody opened a whole disk.
const MOST_ENTRIES: usize = 500_000;
/// From so many documents on the client is told how far it is.
const WORTH_TELLING: usize = 200;

/// How far the folders are looked through.
#[derive(Default)]
pub(super) struct Looking {
    folders: VecDeque<PathBuf>,
    walk: Option<Walk>,
    entries: usize,
    waiting: VecDeque<PathBuf>,
    taken: usize,
    progress: Option<Bar>,
    /// Told once when the client can no longer be asked for a bar.
    bars: u32,
}

/// A bar that the client shows.
struct Bar {
    token: String,
    /// The client has agreed to show it.
    begun: bool,
    cancelled: bool,
}

impl Looking {
    /// Looks through another folder.
    pub(super) fn add(&mut self, folder: PathBuf) {
        self.folders.push_back(folder);
    }

    /// The user does not want to wait for it.
    pub(super) fn cancel(&mut self, token: &str) {
        if let Some(bar) = self.progress.as_mut().filter(|bar| bar.token == token) {
            bar.cancelled = true;
        }
    }

    /// The client shows the bar.
    pub(super) fn agreed(&mut self, token: &str) -> bool {
        match self.progress.as_mut().filter(|bar| bar.token == token) {
            Some(bar) => {
                bar.begun = true;
                true
            }
            None => false,
        }
    }

    fn drop_folder(&mut self, folder: &Path) {
        self.folders.retain(|known| known != folder);
        self.waiting.retain(|path| !path.starts_with(folder));
    }
}

impl State {
    /// Looks a little further. True when there is more to look at.
    pub(super) fn look_further(&mut self) -> bool {
        if self
            .looking
            .progress
            .as_ref()
            .is_some_and(|bar| bar.cancelled)
        {
            self.looking.folders.clear();
            self.looking.walk = None;
            self.looking.waiting.clear();
            self.log(
                MessageType::INFO,
                "looking through the folders was cancelled: only documents looked at so far are known",
            );
            self.end_bar();
            return false;
        }
        if self.looking.walk.is_none() {
            self.looking.walk = self
                .looking
                .folders
                .pop_front()
                .map(|root| Walk::new(&root));
        }
        if let Some(walk) = &mut self.looking.walk {
            let (paths, more) = walk.next(ENTRIES);
            self.looking.entries += ENTRIES;
            self.looking.waiting.extend(paths);
            if !more {
                self.looking.walk = None;
            } else if self.looking.entries > MOST_ENTRIES {
                self.looking.walk = None;
                self.looking.folders.clear();
                self.log(
                    MessageType::WARNING,
                    format!("the folders have more than {MOST_ENTRIES} entries: the rest is not looked through"),
                );
            }
            return true;
        }
        if self.looking.waiting.is_empty() {
            return false;
        }
        self.begin_bar();
        for _ in 0..DOCUMENTS {
            let Some(path) = self.looking.waiting.pop_front() else {
                break;
            };
            self.desk.shelve(&path);
            self.looking.taken += 1;
        }
        self.settle();
        self.report_bar();
        if self.looking.waiting.is_empty() {
            let message = format!("{} documents looked through", self.looking.taken);
            self.log(MessageType::INFO, message);
            self.looking.taken = 0;
            self.end_bar();
        }
        true
    }

    /// A folder of the workspace was added or taken away.
    pub(super) fn folders_changed(&mut self, added: Vec<PathBuf>, removed: &[PathBuf]) {
        for folder in removed {
            self.looking.drop_folder(folder);
            self.roots.retain(|root| root != folder);
            let below: Vec<PathBuf> = self
                .desk
                .looked_after()
                .into_iter()
                .filter_map(|file| self.desk.path(file).map(Path::to_owned))
                .filter(|path| path.starts_with(folder))
                .filter(|path| !self.roots.iter().any(|root| path.starts_with(root)))
                .collect();
            for path in below {
                self.desk.unshelve(&path);
            }
        }
        for folder in added {
            self.looking.add(folder.clone());
            self.roots.push(folder);
        }
        self.note_others();
    }

    fn begin_bar(&mut self) {
        let enough = self.looking.waiting.len() >= WORTH_TELLING;
        if !self.client.progress || self.looking.progress.is_some() || !enough {
            return;
        }
        self.looking.bars += 1;
        let token = format!("stagebook/looking/{}", self.looking.bars);
        self.looking.progress = Some(Bar {
            token: token.clone(),
            begun: false,
            cancelled: false,
        });
        let back = self.back.clone();
        self.out.create_progress(&token.clone(), move |agreed| {
            let Some(worker) = back.worker().filter(|_| agreed) else {
                return;
            };
            worker.tell(move |state| {
                if state.looking.agreed(&token) {
                    state.send_progress(WorkDoneProgress::Begin(WorkDoneProgressBegin {
                        title: "Looking through the records".to_owned(),
                        cancellable: Some(true),
                        message: None,
                        percentage: Some(0),
                    }));
                }
            });
        });
    }

    fn report_bar(&mut self) {
        let (taken, waiting) = (self.looking.taken, self.looking.waiting.len());
        let percentage = taken * 100 / (taken + waiting).max(1);
        self.send_progress(WorkDoneProgress::Report(WorkDoneProgressReport {
            cancellable: Some(true),
            message: Some(format!("{taken} of {}", taken + waiting)),
            percentage: Some(percentage as u32),
        }));
    }

    fn end_bar(&mut self) {
        self.send_progress(WorkDoneProgress::End(WorkDoneProgressEnd { message: None }));
        self.looking.progress = None;
    }

    fn send_progress(&self, value: WorkDoneProgress) {
        if let Some(bar) = self.looking.progress.as_ref().filter(|bar| bar.begun) {
            self.out.progress(ProgressParams {
                token: NumberOrString::String(bar.token.clone()),
                value: ProgressParamsValue::WorkDone(value),
            });
        }
    }
}
