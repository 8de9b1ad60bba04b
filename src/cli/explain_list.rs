//! The list that `stagebook explain` gives with no word.

use super::Screen;
use super::layout::{pad, widest};
use crate::finding::catalogue;
use crate::finding::terminal::{Paint, severity_paint, wrap};
use crate::plan::{builtin, function};
use crate::quantity;

/// The list is at most this wide.
const WIDTH: usize = 100;

/// All rules with their severity and sentence, all functions by subject, all units, the built-in plans.
pub(super) fn list(screen: &Screen) -> String {
    let mut out = String::new();
    heading("rules", screen, &mut out);
    let names = widest(catalogue::all().iter().map(|rule| rule.name));
    for rule in catalogue::all() {
        let word = screen
            .style
            .paint(severity_paint(rule.severity), &pad(rule.severity.word(), 7));
        for (index, line) in wrap(rule.summary, WIDTH - names - 13)
            .into_iter()
            .enumerate()
        {
            let left = match index {
                0 => format!("{}  {word}", pad(rule.name, names)),
                _ => " ".repeat(names + 9),
            };
            push(&format!("  {left}  {line}"), &mut out);
        }
    }
    out.push('\n');
    heading("functions", screen, &mut out);
    let mut subjects: Vec<&str> = function::all()
        .iter()
        .map(|function| function.subject)
        .collect();
    subjects.sort_unstable();
    subjects.dedup();
    let width = widest(subjects.iter().copied());
    for subject in subjects {
        let of_subject = function::all()
            .iter()
            .filter(|function| function.subject == subject);
        let names: Vec<&str> = of_subject.map(|function| function.name).collect();
        for (index, line) in wrap(&names.join(", "), WIDTH - width - 4)
            .into_iter()
            .enumerate()
        {
            push(
                &format!(
                    "  {}  {line}",
                    pad(if index == 0 { subject } else { "" }, width)
                ),
                &mut out,
            );
        }
    }
    out.push('\n');
    heading("units", screen, &mut out);
    let symbols: Vec<&str> = quantity::unit_definitions()
        .iter()
        .map(|unit| unit.symbol)
        .collect();
    for line in wrap(&symbols.join("  "), WIDTH - 2) {
        push(&format!("  {line}"), &mut out);
    }
    push(
        "  with the SI prefixes where they make sense, and products such as N/mm^2 or mbar*l/s",
        &mut out,
    );
    out.push('\n');
    heading("built-in plans", screen, &mut out);
    let width = widest(builtin::BUILTIN_PLANS.iter().map(|plan| plan.name));
    for plan in builtin::BUILTIN_PLANS {
        let what = if plan.whole {
            "for a unit to name or a works to extend"
        } else {
            "a part that they extend"
        };
        push(&format!("  {}  {what}", pad(plan.name, width)), &mut out);
    }
    out
}

fn heading(text: &str, screen: &Screen, out: &mut String) {
    push(&screen.style.paint(Paint::Bold, text), out);
}

fn push(line: &str, out: &mut String) {
    out.push_str(line.trim_end());
    out.push('\n');
}
