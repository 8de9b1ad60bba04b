//! The language server: an editor's messages become changes on a desk and questions to it. Speaks the Language
//! Server Protocol 3.17 over standard input and output, or over one TCP connection.
//!
//! One thread, the worker (`work.rs`), owns everything (`state.rs`); the protocol's side (`backend.rs`) only hands on.
//! Each feature is a file with a function from what is seen (`sight.rs`) to the answer.

mod actions;
mod backend;
mod calls;
mod capabilities;
mod client;
mod completion;
mod diagnostics;
mod documents;
mod framing;
mod hints;
mod hover;
mod layer;
mod layout;
mod lenses;
mod lifecycle;
mod looking;
mod meaning;
mod navigation;
mod open;
mod organise;
mod outbox;
mod pull;
mod reading;
mod rename;
mod settings;
mod shape;
mod sight;
mod signature;
mod state;
mod symbols;
mod tokens;
mod urls;
mod work;

#[cfg(test)]
mod cures;

pub use layer::{ORDERLY, WITHOUT_SHUTDOWN};
pub use state::Clock;

use backend::Backend;
use layer::Ending;
use outbox::Outbox;
use state::State;
use std::net::SocketAddr;
use tokio::io::{AsyncRead, AsyncWrite};
use tower::ServiceExt;
use tower_lsp::{LspService, Server};
use work::Worker;

/// So many messages are in work at once; the worker takes them one by one.
const AT_ONCE: usize = 64;

/// Serves one client on standard input and output, until it says `exit`, closes the input, or its process is gone.
/// Gives the exit status that the protocol asks for.
///
/// `clock` tells what counts as today. Fails where no thread can be started.
pub fn serve_stdio(clock: &Clock) -> Result<u8, String> {
    let runtime = runtime()?;
    let status = runtime.block_on(serve(tokio::io::stdin(), tokio::io::stdout(), clock));
    // A thread that still reads standard input is not waited for.
    runtime.shutdown_background();
    status
}

/// Serves one client on a TCP connection to `address`, which has to be of this machine itself. `ready` is told the
/// address once it can be connected to.
///
/// Fails where the address is not a loopback address or cannot be listened on.
pub fn serve_tcp(
    address: SocketAddr,
    clock: &Clock,
    ready: impl FnOnce(SocketAddr),
) -> Result<u8, String> {
    if !address.ip().is_loopback() {
        return Err(format!(
            "expected an address of this machine itself, such as 127.0.0.1:9257, found {address}: \
             what is served is not protected"
        ));
    }
    let runtime = runtime()?;
    let status = runtime.block_on(async {
        let cannot = |error: std::io::Error| format!("cannot listen on {address}: {error}");
        let listener = tokio::net::TcpListener::bind(address)
            .await
            .map_err(cannot)?;
        ready(listener.local_addr().map_err(cannot)?);
        let (stream, _) = listener.accept().await.map_err(cannot)?;
        // Answers are short and waited for.
        let _ = stream.set_nodelay(true);
        let (input, output) = stream.into_split();
        serve(input, output, clock).await
    });
    runtime.shutdown_background();
    status
}

fn runtime() -> Result<tokio::runtime::Runtime, String> {
    tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .enable_all()
        .build()
        .map_err(|error| format!("cannot start: {error}"))
}

/// Bytes between the look at a message and the library.
const PIPE: usize = 256 * 1024;

async fn both(one: impl Future<Output = ()>, other: impl Future<Output = ()>) -> ((), ()) {
    tokio::join!(one, other)
}

/// Serves one client until it is done.
async fn serve(
    input: impl AsyncRead + Unpin,
    output: impl AsyncWrite,
    clock: &Clock,
) -> Result<u8, String> {
    let (ending, ended) = Ending::new();
    let (outbox, waiting) = std::sync::mpsc::channel();
    let clock = clock.clone();
    // The worker waits for the outbox, which needs the client.
    let worker = Worker::start(move |back| Some(State::new(waiting.recv().ok()?, clock, back)))
        .map_err(|error| format!("cannot start a thread: {error}"))?;
    let (service, socket) = {
        let ending = ending.clone();
        let builder = LspService::build(move |client| {
            // The worker waits at the other end.
            let _ = outbox.send(Outbox::new(client));
            Backend::new(worker, ending)
        });
        let builder = builder
            .custom_method("$/setTrace", Backend::set_trace)
            .custom_method("window/workDoneProgress/cancel", Backend::cancel_progress)
            .custom_method(framing::MALFORMED, Backend::malformed)
            .custom_method("stagebook/document", Backend::own_document);
        #[cfg(test)]
        let builder = builder
            .custom_method("test/panic", Backend::panic)
            .custom_method("test/text", Backend::text)
            .custom_method("test/askClient", Backend::ask_client);
        builder.finish()
    };
    let looking = ending.clone();
    let service = service.map_request(move |request| looking.look_at(request));
    let (looked_at, input_end) = tokio::io::duplex(PIPE);
    let server = Server::new(input_end, output, socket).concurrency_level(AT_ONCE);
    tokio::select! {
        ((), ()) = both(framing::pass_on(input, looked_at), server.serve(service)) => Ok(ending.status()),
        status = ended => Ok(status.unwrap_or(WITHOUT_SHUTDOWN)),
    }
}
