//! What stands before the protocol library: `exit` ends the server although more could come in, and `"params": null`,
//! which some clients send, counts as no parameters; and a capability that the library looks for under another name is
//! put there.

use serde_json::Value;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use tokio::sync::oneshot;
use tower_lsp::jsonrpc::Request;

/// Exit status after `shutdown` and `exit`.
pub const ORDERLY: u8 = 0;
/// Exit status after `exit` alone.
pub const WITHOUT_SHUTDOWN: u8 = 1;

/// Told once how the server ends.
#[derive(Clone)]
pub(super) struct Ending {
    shut_down: Arc<AtomicBool>,
    told: Arc<Mutex<Option<oneshot::Sender<u8>>>>,
}

impl Ending {
    /// An ending, and where its exit status arrives.
    pub(super) fn new() -> (Ending, oneshot::Receiver<u8>) {
        let (sender, receiver) = oneshot::channel();
        let ending = Ending {
            shut_down: Arc::default(),
            told: Arc::new(Mutex::new(Some(sender))),
        };
        (ending, receiver)
    }

    /// The status with which the server ends as things stand.
    pub(super) fn status(&self) -> u8 {
        match self.shut_down.load(Ordering::Relaxed) {
            true => ORDERLY,
            false => WITHOUT_SHUTDOWN,
        }
    }

    /// Ends the server.
    pub(super) fn now(&self) {
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(sender) = told.take() {
            // Where nobody waits the server has ended already.
            let _ = sender.send(self.status());
        }
    }

    /// Looks at a message on its way to its handler.
    pub(super) fn look_at(&self, request: Request) -> Request {
        match request.method() {
            "shutdown" => self.shut_down.store(true, Ordering::Relaxed),
            "exit" => self.now(),
            _ => {}
        }
        without_null(with_library_names(request))
    }
}

/// The protocol says `workspace.diagnostics`, the library (lsp-types 0.94) reads `workspace.diagnostic`: without this no
/// client would ever be asked to pull again.
fn with_library_names(request: Request) -> Request {
    const WORKSPACE: &str = "/capabilities/workspace";
    let says_it = |params: &Value| params.pointer(WORKSPACE)?.get("diagnostics").cloned();
    if request.method() != "initialize" {
        return request;
    }
    let Some(diagnostics) = request.params().and_then(says_it) else {
        return request;
    };
    let (method, id, params) = request.into_parts();
    let mut params = params.unwrap_or_default();
    if let Some(Value::Object(workspace)) = params.pointer_mut(WORKSPACE) {
        workspace.insert("diagnostic".to_owned(), diagnostics);
    }
    let request = Request::build(method).params(params);
    match id {
        Some(id) => request.id(id).finish(),
        None => request.finish(),
    }
}

fn without_null(request: Request) -> Request {
    if request.params() != Some(&Value::Null) {
        return request;
    }
    let (method, id, _) = request.into_parts();
    match id {
        Some(id) => Request::build(method).id(id).finish(),
        None => Request::build(method).finish(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn null_parameters_are_none() {
        let request = Request::build("shutdown")
            .id(1)
            .params(Value::Null)
            .finish();
        let seen = without_null(request);
        assert_eq!((seen.method(), seen.params()), ("shutdown", None));
        assert!(seen.id().is_some());
        let request = Request::build("x")
            .params(serde_json::json!({"a": 1}))
            .finish();
        assert!(without_null(request).params().is_some());
    }

    #[test]
    fn a_client_that_can_pull_again_is_known_by_the_name_of_the_protocol() {
        let params = serde_json::json!({
            "processId": null,
            "capabilities": { "workspace": { "diagnostics": { "refreshSupport": true } } },
        });
        let request = Request::build("initialize").id(1).params(params).finish();
        let seen = with_library_names(request);
        assert!(seen.id().is_some());
        let params: tower_lsp::lsp_types::InitializeParams =
            serde_json::from_value(seen.params().cloned().unwrap_or_default())
                .expect("these are initialize parameters");
        let abilities = crate::server::client::ClientAbilities::of(&params);
        assert!(abilities.refreshes_diagnostics);
    }

    #[test]
    fn the_status_tells_whether_the_client_shut_down_first() {
        for (methods, status) in [(&["exit"][..], 1), (&["shutdown", "exit"][..], 0)] {
            let (ending, mut told) = Ending::new();
            for method in methods {
                ending.look_at(Request::build(*method).finish());
            }
            assert_eq!(told.try_recv(), Ok(status));
        }
    }
}
