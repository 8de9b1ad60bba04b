//! What stands before the protocol library: `exit` ends the server although more could come in, and `"params": null`,
//! which some clients send, counts as no parameters.

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
        without_null(request)
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
