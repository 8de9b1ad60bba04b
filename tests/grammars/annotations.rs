//! Files that say below a line how it is coloured, in the form that both tools have:
//!
//! ```text
//!   turns[HV] = 512
//! # ^^^^^ property
//! # <- the sign at the first column
//! ```
//!
//! A comment with `^` or `<-` speaks of the nearest line above that is no such comment. `!name` says that
//! a name does not hold there.

use super::Colours;
use super::documents::Document;

/// What the annotations say that the colours do not.
pub fn disagreements(document: &Document, colours: &Colours) -> Vec<String> {
    let mut wrong = Vec::new();
    let mut speaks_of = 0;
    let mut count = 0;
    for (number, line) in document.text.lines().enumerate() {
        let Some((columns, names)) = annotation(line) else {
            speaks_of = number;
            continue;
        };
        count += 1;
        let source = document.text.lines().nth(speaks_of).unwrap_or_default();
        for column in columns {
            let at = source
                .char_indices()
                .nth(column)
                .map_or(source.len(), |(at, _)| at);
            let here: Vec<&String> = colours
                .get(&speaks_of)
                .into_iter()
                .flatten()
                .filter(|(start, end, _)| (*start..*end).contains(&at))
                .flat_map(|(_, _, names)| names)
                .collect();
            for name in &names {
                let (name, wanted) = match name.strip_prefix('!') {
                    Some(name) => (name, false),
                    None => (*name, true),
                };
                let holds = here.iter().any(|found| found.as_str() == name);
                if holds != wanted {
                    wrong.push(format!(
                        "{}:{}:{}: {} `{name}`, there is {here:?}",
                        document.name,
                        speaks_of + 1,
                        column + 1,
                        if wanted { "expected" } else { "expected no" }
                    ));
                }
            }
        }
    }
    assert!(count > 0, "{} has no annotation", document.name);
    wrong
}

/// The columns of which a comment speaks and the names that it gives.
fn annotation(line: &str) -> Option<(Vec<usize>, Vec<&str>)> {
    let comment = line.trim_start().strip_prefix('#')?.trim_start();
    if let Some(names) = comment.strip_prefix("<-") {
        let column = line.chars().position(|character| character == '#')?;
        return Some((vec![column], names.split_whitespace().collect()));
    }
    if !comment.starts_with('^') {
        return None;
    }
    let columns = line
        .chars()
        .enumerate()
        .filter(|(_, character)| *character == '^')
        .map(|(column, _)| column)
        .collect();
    let names = comment.trim_start_matches(['^', ' ']).split_whitespace();
    Some((columns, names.collect()))
}
