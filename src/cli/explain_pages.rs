//! The pages of `stagebook explain` on a terminal: one for a rule, a function, a unit.

use super::Screen;
use super::layout::pad;
use crate::finding::Rule;
use crate::finding::terminal::{Paint, severity_paint, wrap};
use crate::pages::{self, Manner};
use crate::plan::function::Function;

/// Text is wrapped at this column.
const WIDTH: usize = 96;
/// Width of the words at the left of a page.
const HEAD: usize = 10;

/// Writes a page: a heading, then parts with a word at the left.
struct Page<'a> {
    screen: &'a Screen,
    out: String,
}

impl<'a> Page<'a> {
    fn new(screen: &'a Screen, name: &str, kind: &str) -> Page<'a> {
        let head = format!("{}  {kind}", screen.style.paint(Paint::Bold, name));
        Page {
            screen,
            out: format!("{head}\n\n"),
        }
    }

    /// Text across the whole width.
    fn prose(&mut self, text: &str) {
        for line in wrap(text, WIDTH) {
            self.push(&format!("  {line}"));
        }
        self.out.push('\n');
    }

    /// A word at the left and text beside it; line ends and indentation stand as they are.
    fn part(&mut self, head: &str, text: &str, paint: Paint) {
        let mut head = head;
        for given in text.lines() {
            let indent = given.len() - given.trim_start_matches(' ').len();
            for line in wrap(given.trim_start_matches(' '), WIDTH - HEAD - indent.min(20)) {
                let body = format!("{}{line}", " ".repeat(indent));
                let left = self.screen.style.paint(Paint::Dim, &pad(head, HEAD));
                self.push(&format!(
                    "  {left}{}",
                    self.screen.style.paint(paint, &body)
                ));
                head = "";
            }
        }
    }

    fn push(&mut self, line: &str) {
        self.out.push_str(line.trim_end());
        self.out.push('\n');
    }
}

/// The page of a rule.
pub(super) fn rule(rule: &Rule, screen: &Screen) -> String {
    lay_out(
        &pages::rule(rule),
        Some(severity_paint(rule.severity)),
        screen,
    )
}

/// The page of a function.
pub(super) fn function(function: &Function, screen: &Screen) -> String {
    lay_out(&pages::function(function), None, screen)
}

/// The page of a unit; nothing when the text is no unit.
pub(super) fn unit(text: &str, screen: &Screen) -> Option<String> {
    Some(lay_out(&pages::unit(text)?, None, screen))
}

fn lay_out(page: &pages::Page, kind: Option<Paint>, screen: &Screen) -> String {
    let painted = match kind {
        Some(paint) => screen.style.paint(paint, &page.kind),
        None => page.kind.clone(),
    };
    let mut out = Page::new(screen, &page.name, &painted);
    for paragraph in &page.prose {
        out.prose(paragraph);
    }
    for part in &page.parts {
        let paint = match part.manner {
            Manner::Text | Manner::Code => Paint::Plain,
            Manner::Aside => Paint::Dim,
            Manner::Caution => Paint::Yellow,
        };
        out.part(part.head, &part.text, paint);
        if part.apart {
            out.out.push('\n');
        }
    }
    out.out
}
