//! A bar on standard error over many files; silent when standard error is no terminal.

use std::io::IsTerminal;
use std::sync::OnceLock;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::workspace::Progress;

/// Up to this many files no bar is shown.
const FEW: usize = 20;

/// The bar, once it is started.
#[derive(Default)]
pub(super) struct Bar {
    bar: OnceLock<ProgressBar>,
}

impl Progress for Bar {
    fn start(&self, total: usize) {
        if total <= FEW || !std::io::stderr().is_terminal() {
            return;
        }
        self.bar.get_or_init(|| {
            let bar =
                ProgressBar::with_draw_target(Some(total as u64), ProgressDrawTarget::stderr());
            if let Ok(style) = ProgressStyle::with_template("checking {bar:30} {pos}/{len}") {
                bar.set_style(style);
            }
            bar
        });
    }

    fn step(&self) {
        if let Some(bar) = self.bar.get() {
            bar.inc(1);
        }
    }

    fn finish(&self) {
        if let Some(bar) = self.bar.get() {
            bar.finish_and_clear();
        }
    }
}
