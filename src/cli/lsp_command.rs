//! `stagebook lsp`: the language server.

use std::net::SocketAddr;
use std::sync::Arc;

use clap::Args;

use super::today::TodayArgument;
use crate::server::{self, Clock};

/// What the long help says.
pub const LONG: &str = "Serves an editor by the Language Server Protocol 3.17 on standard input and output, or, with --listen, \
on one connection to this machine. Started by the editor; see the README for the settings.\n\nThe exit status is 0 after \
`shutdown` and `exit`, 1 where the client left without.";

/// The arguments of `lsp`.
#[derive(Debug, Args)]
pub struct Arguments {
    /// Wait for one connection at an address of this machine, such as 127.0.0.1:9257, instead
    #[arg(long, value_name = "ADDRESS:PORT")]
    pub listen: Option<SocketAddr>,
    /// Taken for the sake of clients that always give it; it is what happens anyway
    #[arg(long, conflicts_with = "listen", hide = true)]
    pub stdio: bool,
    #[command(flatten)]
    pub today: TodayArgument,
}

/// Serves until the client is done. Gives the exit status, or one sentence why it could not serve.
pub fn run(arguments: Arguments) -> Result<u8, String> {
    let Arguments { listen, today, .. } = arguments;
    let clock: Clock = Arc::new(move || today.counts());
    match listen {
        None => server::serve_stdio(&clock),
        Some(address) => server::serve_tcp(address, &clock, |address| {
            // Standard output is free here; whoever started this waits for the line, and may have left.
            use std::io::Write;
            let _ = writeln!(std::io::stderr(), "stagebook: listening on {address}");
        }),
    }
}
