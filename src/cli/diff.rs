//! The difference between two texts of a file, line by line.

use crate::finding::printable;
use crate::finding::terminal::{Paint, Style};
use similar::{ChangeTag, TextDiff};
use std::time::Duration;

/// Lines shown around each change.
const AROUND: usize = 3;
/// So long the smallest difference is looked for; after that a larger one has to do.
const PATIENCE: Duration = Duration::from_secs(2);

/// The unified form that other programs read too: `---` and `+++` with the name, then the changed lines with three
/// lines around them. Signs that would steer a terminal are shown, not sent.
pub(super) fn unified(name: &str, before: &str, after: &str, style: Style) -> String {
    let name = printable::text(name);
    let mut out = format!("--- {name}\n+++ {name}\n");
    let diff = TextDiff::configure()
        .timeout(PATIENCE)
        .diff_lines(before, after);
    for hunk in diff.unified_diff().context_radius(AROUND).iter_hunks() {
        out.push_str(&format!("{}\n", hunk.header()));
        for change in hunk.iter_changes() {
            let (sign, paint) = match change.tag() {
                ChangeTag::Delete => ('-', Paint::Red),
                ChangeTag::Insert => ('+', Paint::Green),
                ChangeTag::Equal => (' ', Paint::Plain),
            };
            let line = change.value().trim_end_matches(['\n', '\r']);
            let line: String = line
                .chars()
                .map(|own| {
                    if own == '\t' {
                        own
                    } else {
                        printable::character(own)
                    }
                })
                .collect();
            out.push_str(&style.paint(paint, &format!("{sign}{line}")));
            out.push('\n');
            if !change.value().ends_with('\n') && !change.value().ends_with('\r') {
                out.push_str("\\ No newline at end of file\n");
            }
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changed_lines_stand_between_those_around_them() {
        let before = "a\nb\nc\nd\ne\n\tf\u{1b}\ng";
        let after = "a\nb\nc\nd\ne\n  f\u{1b}\ng";
        assert_eq!(
            unified("x.ubr", before, after, Style::default()),
            "--- x.ubr\n+++ x.ubr\n@@ -3,5 +3,5 @@\n c\n d\n e\n-\tf␛\n+  f␛\n g\n\\ No newline at end of file\n"
        );
    }
}
