//! The program: runs the command line and turns a fault of its own into one line and exit status 101.

use std::io::Write;
use std::process::ExitCode;

#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    std::panic::set_hook(Box::new(|panic| {
        let what = match (
            panic.payload().downcast_ref::<&str>(),
            panic.payload().downcast_ref::<String>(),
        ) {
            (Some(text), _) => text,
            (None, Some(text)) => text.as_str(),
            (None, None) => "unknown cause",
        };
        let place = panic
            .location()
            .map(|at| format!(" at {}:{}", at.file(), at.line()))
            .unwrap_or_default();
        let line = what.lines().next().unwrap_or_default();
        let ask = "please report it together with the file that caused it";
        // With standard error closed there is nobody left to tell; the status still does.
        let _ = writeln!(
            std::io::stderr(),
            "stagebook: internal error{place}: {line}; {ask}"
        );
    }));
    match std::panic::catch_unwind(stagebook::cli::main) {
        Ok(status) => status,
        Err(_) => ExitCode::from(stagebook::cli::INTERNAL),
    }
}
