//! What the server sends by itself: notifications one after the other, requests each in a task of its own.
//!
//! Nothing here is awaited by a handler: a handler that waits for the client while the client waits for it would wait
//! for good.

use serde_json::Value;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::runtime::Handle;
use tokio::sync::mpsc::{UnboundedSender, unbounded_channel};
use tower_lsp::Client;
use tower_lsp::lsp_types::notification::{LogMessage, Notification, Progress, PublishDiagnostics};
use tower_lsp::lsp_types::request::{
    CodeLensRefresh, InlayHintRefreshRequest, RegisterCapability, Request, WorkDoneProgressCreate,
    WorkspaceConfiguration, WorkspaceDiagnosticRefresh,
};
use tower_lsp::lsp_types::{
    ConfigurationItem, ConfigurationParams, Diagnostic, LogMessageParams, MessageType,
    ProgressParams, PublishDiagnosticsParams, Registration, RegistrationParams, Url,
    WorkDoneProgressCreateParams,
};

/// So long an answer of the client is waited for.
const PATIENCE: Duration = Duration::from_secs(10);

/// `$/logTrace`: what the server does, where the client asked for it.
pub(super) enum LogTrace {}

impl Notification for LogTrace {
    type Params = Value;
    const METHOD: &'static str = "$/logTrace";
}

enum Letter {
    Publish(PublishDiagnosticsParams),
    Log(LogMessageParams),
    Progress(ProgressParams),
    Trace(Value),
}

/// Where letters to the client are put.
#[derive(Clone)]
pub(super) struct Outbox {
    letters: UnboundedSender<Letter>,
    client: Client,
    tasks: Handle,
    refreshing: Arc<AtomicBool>,
}

impl Outbox {
    /// An outbox for this client; to be made inside the runtime.
    pub(super) fn new(client: Client) -> Outbox {
        let (letters, mut waiting) = unbounded_channel();
        let tasks = Handle::current();
        let own = client.clone();
        tasks.spawn(async move {
            while let Some(letter) = waiting.recv().await {
                match letter {
                    Letter::Publish(params) => {
                        own.send_notification::<PublishDiagnostics>(params).await;
                    }
                    Letter::Log(params) => own.send_notification::<LogMessage>(params).await,
                    Letter::Progress(params) => own.send_notification::<Progress>(params).await,
                    Letter::Trace(params) => own.send_notification::<LogTrace>(params).await,
                }
            }
        });
        Outbox {
            letters,
            client,
            tasks,
            refreshing: Arc::default(),
        }
    }

    fn put(&self, letter: Letter) {
        // The task ends only with the runtime, and then nobody reads.
        let _ = self.letters.send(letter);
    }

    pub(super) fn publish(&self, url: Url, diagnostics: Vec<Diagnostic>, version: Option<i32>) {
        let params = PublishDiagnosticsParams::new(url, diagnostics, version);
        self.put(Letter::Publish(params));
    }

    pub(super) fn log(&self, typ: MessageType, message: String) {
        self.put(Letter::Log(LogMessageParams { typ, message }));
    }

    pub(super) fn progress(&self, params: ProgressParams) {
        self.put(Letter::Progress(params));
    }

    pub(super) fn trace(&self, message: String, verbose: Option<String>) {
        let mut params = serde_json::json!({ "message": message });
        if let Some(verbose) = verbose {
            params["verbose"] = verbose.into();
        }
        self.put(Letter::Trace(params));
    }

    /// Sends a request in a task of its own; `then` gets the answer, where one came in time.
    fn request<R>(&self, params: R::Params, then: impl FnOnce(Option<R::Result>) + Send + 'static)
    where
        R: Request,
        R::Params: Send + 'static,
        R::Result: Send + 'static,
    {
        let client = self.client.clone();
        self.tasks.spawn(async move {
            let answer = client.send_request::<R>(params);
            let answer = tokio::time::timeout(PATIENCE, answer).await;
            then(answer.ok().and_then(Result::ok));
        });
    }

    /// Asks the client for the settings of `section`.
    pub(super) fn configuration(
        &self,
        section: &str,
        then: impl FnOnce(Option<Value>) + Send + 'static,
    ) {
        let item = ConfigurationItem {
            scope_uri: None,
            section: Some(section.to_owned()),
        };
        let params = ConfigurationParams { items: vec![item] };
        self.request::<WorkspaceConfiguration>(params, |answer| {
            then(answer.and_then(|mut values| values.pop()));
        });
    }

    pub(super) fn register(&self, registrations: Vec<Registration>) {
        self.request::<RegisterCapability>(RegistrationParams { registrations }, |_| {});
    }

    pub(super) fn create_progress(&self, token: &str, then: impl FnOnce(bool) + Send + 'static) {
        let params = WorkDoneProgressCreateParams {
            token: tower_lsp::lsp_types::NumberOrString::String(token.to_owned()),
        };
        self.request::<WorkDoneProgressCreate>(params, |answer| then(answer.is_some()));
    }

    /// Asks the client to pull diagnostics again; nothing while it was asked and has not answered.
    pub(super) fn refresh_diagnostics(&self) {
        if self.refreshing.swap(true, Ordering::Relaxed) {
            return;
        }
        let refreshing = self.refreshing.clone();
        self.request::<WorkspaceDiagnosticRefresh>((), move |_| {
            refreshing.store(false, Ordering::Relaxed);
        });
    }

    pub(super) fn refresh_hints(&self) {
        self.request::<InlayHintRefreshRequest>((), |_| {});
    }

    pub(super) fn refresh_lenses(&self) {
        self.request::<CodeLensRefresh>((), |_| {});
    }
}
