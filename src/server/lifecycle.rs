//! The beginning: what the client is, its folders and settings; and the end, where the client is gone.

use super::client::{self, ClientAbilities};
use super::layer::Ending;
use super::settings::{SECTION, Settings};
use super::state::State;
use crate::text::ColumnUnit;
use serde_json::json;
use std::path::{Path, PathBuf};
use std::time::Duration;
use tower_lsp::lsp_types::{
    DidChangeWatchedFilesRegistrationOptions, FileSystemWatcher, GlobPattern, InitializeParams,
    MessageType, Registration, WorkspaceFolder,
};

/// How often it is looked whether the client still runs.
const LOOK: Duration = Duration::from_secs(5);
/// Files outside the editor on which a judgement may rest: documents, logs, attachments.
const WATCHED: &[&str] = &[
    "**/*.ubr",
    "**/*.{csv,tsv,txt,log}",
    "**/*.{pdf,jpg,jpeg,png}",
];

/// Takes what `initialize` says.
pub(super) fn begin(
    state: &mut State,
    params: InitializeParams,
    abilities: ClientAbilities,
    encoding: ColumnUnit,
) {
    #[allow(
        deprecated,
        reason = "clients that know no folders give the root only so"
    )]
    let root = params.root_uri;
    let roots = match params.workspace_folders {
        Some(folders) => self::folders(folders),
        None => root
            .and_then(|url| url.to_file_path().ok())
            .into_iter()
            .collect(),
    };
    state.trace = client::trace(params.trace);
    state.begin(abilities, encoding, roots);
    if let Some(options) = &params.initialization_options {
        take_settings(state, Settings::read(options));
    }
}

/// The client is ready: asks for settings and watching, looks through the folders.
pub(super) fn initialized(state: &mut State) {
    let mut registrations = Vec::new();
    if state.client.registers_watching {
        let watchers = WATCHED
            .iter()
            .map(|pattern| FileSystemWatcher {
                glob_pattern: GlobPattern::String((*pattern).to_owned()),
                kind: None,
            })
            .collect();
        let options = DidChangeWatchedFilesRegistrationOptions { watchers };
        registrations.push(Registration {
            id: "stagebook/files".to_owned(),
            method: "workspace/didChangeWatchedFiles".to_owned(),
            register_options: serde_json::to_value(options).ok(),
        });
    }
    if state.client.registers_configuration {
        registrations.push(Registration {
            id: "stagebook/settings".to_owned(),
            method: "workspace/didChangeConfiguration".to_owned(),
            register_options: Some(json!({ "section": SECTION })),
        });
    }
    if !registrations.is_empty() {
        state.out.register(registrations);
    }
    ask_settings(state);
    for root in state.roots.clone() {
        state.looking.add(root);
    }
}

/// Asks the client for its settings, where it can be asked.
pub(super) fn ask_settings(state: &State) {
    if !state.client.configuration {
        return;
    }
    let back = state.back.clone();
    state.out.configuration(SECTION, move |value| {
        let (Some(value), Some(worker)) = (value, back.worker()) else {
            return;
        };
        worker.tell(move |state| {
            // A client without any gives null: what it said at the beginning stays.
            if !value.is_null() {
                take_settings(state, Settings::read(&value));
            }
        });
    });
}

/// Takes settings, and tells of those that could not be read.
pub(super) fn take_settings(state: &mut State, (settings, faults): (Settings, Vec<String>)) {
    state.set(settings);
    for fault in faults {
        state.log(MessageType::WARNING, fault);
    }
}

/// The paths of folders; what is no file is no folder.
pub(super) fn folders(folders: Vec<WorkspaceFolder>) -> Vec<PathBuf> {
    folders
        .into_iter()
        .filter_map(|folder| folder.uri.to_file_path().ok())
        .collect()
}

/// Ends the server when the client's process is gone without having closed standard input, as when something between
/// them holds it open. Where the system does not list its processes, the end of the input has to do.
pub(super) fn watch(process: u32, ending: Ending) {
    let own = PathBuf::from(format!("/proc/{process}"));
    if !own.exists() {
        return;
    }
    tokio::spawn(async move {
        while Path::new(&own).exists() {
            tokio::time::sleep(LOOK).await;
        }
        ending.now();
    });
}
