//! The worker: one thread that owns all state. What is sent to it is done in the order in which it was sent, so a
//! question is answered on the text as it was when it was asked, and two changes never overtake each other.
//!
//! When nothing is waiting the worker judges what has changed: while somebody types faster than that, only the latest
//! text is judged. A panic ends the piece of work in which it arose and nothing else.

use super::state::State;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, TryRecvError, channel};
use std::sync::{Arc, Weak};
use std::time::{Duration, Instant};
use tokio::sync::oneshot;
use tower_lsp::jsonrpc::{Error, Result};

/// Stack of the worker; the same as that of the threads that judge.
const STACK: usize = crate::workspace::STACK;
/// So long something may stay unjudged while work keeps coming in.
const LONGEST_WAIT: Duration = Duration::from_millis(150);
/// How often the worker wakes by itself, for the change of the day.
const IDLE: Duration = Duration::from_secs(60);

type Job = Box<dyn FnOnce(&mut State) + Send>;

/// Where work is sent.
#[derive(Clone)]
pub(super) struct Worker {
    jobs: Arc<Sender<Job>>,
}

/// A way back to the worker for what it owns itself, which does not keep it alive.
#[derive(Clone, Default)]
pub(super) struct WayBack(Weak<Sender<Job>>);

impl WayBack {
    /// The worker, unless it has ended.
    pub(super) fn worker(&self) -> Option<Worker> {
        self.0.upgrade().map(|jobs| Worker { jobs })
    }
}

impl Worker {
    /// Starts the thread. It ends when the last `Worker` is gone.
    pub(super) fn start(
        make: impl FnOnce(WayBack) -> Option<State> + Send + 'static,
    ) -> std::io::Result<Worker> {
        let (jobs, waiting) = channel();
        let jobs = Arc::new(jobs);
        let back = WayBack(Arc::downgrade(&jobs));
        std::thread::Builder::new()
            .name("judge".to_owned())
            .stack_size(STACK)
            .spawn(move || {
                if let Some(state) = make(back) {
                    run(&waiting, state);
                }
            })?;
        Ok(Worker { jobs })
    }

    /// Has something done. Sent before this returns, so calls in a row are done in that order.
    pub(super) fn tell(&self, job: impl FnOnce(&mut State) + Send + 'static) {
        // Without a thread nobody is left to be told; every question then gets an internal error.
        let _ = self.jobs.send(Box::new(job));
    }

    /// Asks something. Sent at once; the answer is awaited. Skipped when nobody waits for it any more.
    pub(super) fn ask<R, Q>(
        &self,
        question: Q,
    ) -> impl Future<Output = Result<R>> + Send + use<R, Q>
    where
        R: Send + 'static,
        Q: FnOnce(&mut State) -> Result<R> + Send + 'static,
    {
        let (answer, waiting) = oneshot::channel();
        self.tell(move |state| {
            if answer.is_closed() {
                return;
            }
            let result = catch_unwind(AssertUnwindSafe(|| question(state)));
            let result = result.unwrap_or_else(|_| {
                state.after_panic();
                Err(internal("the question could not be answered"))
            });
            // Whoever asked may have given up meanwhile.
            let _ = answer.send(result);
        });
        async move {
            waiting
                .await
                .unwrap_or_else(|_| Err(internal("the worker has ended")))
        }
    }
}

fn internal(message: &'static str) -> Error {
    let mut error = Error::internal_error();
    error.message =
        format!("internal error: {message}; please report it together with the documents").into();
    error
}

fn run(waiting: &Receiver<Job>, mut state: State) {
    let mut unjudged: Option<Instant> = None;
    loop {
        let job = match waiting.try_recv() {
            Ok(job) => Some(job),
            Err(TryRecvError::Disconnected) => return,
            Err(TryRecvError::Empty) => {
                unjudged = None;
                // Nothing is waiting: judge, then look for more to do.
                if guarded(&mut state, State::rest) {
                    None
                } else {
                    match waiting.recv_timeout(IDLE) {
                        Ok(job) => Some(job),
                        Err(RecvTimeoutError::Timeout) => None,
                        Err(RecvTimeoutError::Disconnected) => return,
                    }
                }
            }
        };
        let Some(job) = job else { continue };
        guarded(&mut state, |state| {
            job(state);
            false
        });
        if state.is_settled() {
            unjudged = None;
        } else if unjudged.get_or_insert_with(Instant::now).elapsed() > LONGEST_WAIT {
            guarded(&mut state, State::rest);
            unjudged = None;
        }
    }
}

/// Does something; a panic counts as done.
fn guarded(state: &mut State, work: impl FnOnce(&mut State) -> bool) -> bool {
    match catch_unwind(AssertUnwindSafe(|| work(state))) {
        Ok(more) => more,
        Err(_) => {
            state.after_panic();
            false
        }
    }
}
