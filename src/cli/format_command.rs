//! `stagebook format`: brings documents into their canonical layout.

use std::path::{Path, PathBuf};

use clap::Args;
use similar::{DiffOp, group_diff_ops};

use super::layout::counted;
use super::{Answer, COULD_NOT_RUN, Complaint, INTERNAL, SAFETY, inputs};
use crate::finding::printable;
use crate::syntax::format::{Edit, apply};
use crate::text::Span;
use crate::workspace::{self, LaidOut};

/// Lines that stand around a change in a diff.
const CONTEXT: usize = 3;

/// What the long help says.
pub const LONG: &str = "Brings documents into their canonical layout: two blanks a level, `=` and the columns of tables in line, numbers \
on their decimal points, long expressions broken behind operators, no blank at the end of a line. Only blanks and line ends change: every \
word, digit and sign stays as it was written, and a sealed record stays sealed. A line in which something is wrong is left exactly as it \
is.\n\nFiles are replaced as a whole or not at all. A folder means all .ubr files below it; ignore files are honoured. With `-` the text \
comes from standard input and goes to standard output.\n\n  stagebook format units\n  stagebook format --check .\n  stagebook format --diff \
KFT-0412-1.ubr";

const EXIT: &str = "Exit status: 0 done, 1 with --check when a document is not in its canonical layout, 2 could not run or a document could not be \
read (it was left as it is), 101 internal error.";

/// The arguments of `format`.
#[derive(Debug, Args)]
#[command(after_long_help = format!("{EXIT}\n\n{SAFETY}"))]
pub struct Arguments {
    /// Files or folders; `-` alone reads standard input and writes standard output
    #[arg(required = true, value_name = "PATH")]
    pub paths: Vec<PathBuf>,
    /// Write nothing; name the documents that are not in their canonical layout and exit with 1 if there are any
    #[arg(long)]
    pub check: bool,
    /// Write nothing; show what would change as a unified diff
    #[arg(long)]
    pub diff: bool,
    /// What standard input is called in what is said of it
    #[arg(long, value_name = "FILE")]
    pub name: Option<String>,
}

/// Formats. Gives an error, with nothing written, when the inputs cannot be read; what cannot be done for one document
/// is a complaint beside the answer.
pub fn run(arguments: &Arguments) -> Result<Answer, String> {
    let piped = arguments.paths.iter().any(|path| path == Path::new("-"));
    if piped && arguments.paths.len() > 1 {
        return Err(
            "expected `-` alone, because its text goes to standard output; found other paths beside it"
                .to_owned(),
        );
    }
    let inputs = inputs::gather(&arguments.paths, arguments.name.as_deref())?;
    let laid_out = workspace::lay_out(&inputs).map_err(|cannot_run| cannot_run.to_string())?;
    let mut answer = Answer::default();
    let mut total = 0;
    let mut changed = 0;
    let writes = !arguments.check && !arguments.diff;
    for document in laid_out {
        let document = match document {
            Ok(document) => document,
            Err(refused) => {
                answer.complaints.push(Complaint {
                    message: printable::text(&refused.message).into_owned(),
                    status: if refused.internal {
                        INTERNAL
                    } else {
                        COULD_NOT_RUN
                    },
                });
                continue;
            }
        };
        total += 1;
        if piped && writes {
            answer.text = document.after();
            return Ok(answer);
        }
        if document.edits.is_empty() {
            continue;
        }
        if writes && let Err(cannot_write) = document.write() {
            answer.complaints.push(Complaint {
                message: printable::text(&cannot_write.to_string()).into_owned(),
                status: COULD_NOT_RUN,
            });
            continue;
        }
        changed += 1;
        if arguments.diff {
            answer.text.push_str(&diff(&document));
        } else {
            let lines = counted(lines_changed(&document.edits), "line");
            let name = printable::text(&document.name);
            let done = if writes {
                "formatted"
            } else {
                "would be formatted"
            };
            answer.text.push_str(&format!("{name}: {lines} {done}\n"));
        }
    }
    answer.failed = arguments.check && changed > 0;
    if !arguments.diff && total > 0 {
        answer.text.push_str(&closing(total, changed, writes));
    }
    Ok(answer)
}

fn closing(total: usize, changed: usize, writes: bool) -> String {
    let documents = counted(total, "document");
    match (changed, writes) {
        (0, _) => format!("{documents}, all in canonical layout\n"),
        (_, true) => format!("{documents}, {changed} formatted\n"),
        (_, false) => format!("{documents}, {changed} would be formatted\n"),
    }
}

fn lines_changed(edits: &[Edit]) -> usize {
    let mut lines: Vec<u32> = edits.iter().map(|edit| edit.line).collect();
    lines.dedup();
    lines.len()
}

/// What changes, as a unified diff. It is read off the edits, so it takes time with the length of the document only.
fn diff(document: &LaidOut) -> String {
    let old: Vec<&str> = document.before.split_inclusive('\n').collect();
    let mut new: Vec<String> = Vec::with_capacity(old.len());
    let mut ops: Vec<DiffOp> = Vec::new();
    let mut edits = document.edits.as_slice();
    let mut start = 0;
    for (place, line) in old.iter().enumerate() {
        let own = edits.partition_point(|edit| (edit.line as usize) <= place);
        let (of_line, rest) = edits.split_at(own);
        edits = rest;
        let new_index = new.len();
        if of_line.is_empty() {
            new.push((*line).to_owned());
            push(
                &mut ops,
                DiffOp::Equal {
                    old_index: place,
                    new_index,
                    len: 1,
                },
            );
        } else {
            let moved: Vec<Edit> = of_line
                .iter()
                .map(|edit| Edit {
                    span: Span::new(edit.span.start - start, edit.span.end - start),
                    ..edit.clone()
                })
                .collect();
            let text = apply(line, &moved);
            new.extend(text.split_inclusive('\n').map(str::to_owned));
            let new_len = new.len() - new_index;
            push(
                &mut ops,
                DiffOp::Replace {
                    old_index: place,
                    old_len: 1,
                    new_index,
                    new_len,
                },
            );
        }
        start += line.len() as u32;
    }
    let name = printable::text(&document.name);
    let mut text = format!("--- {name}\n+++ {name}\n");
    for group in group_diff_ops(ops, CONTEXT) {
        hunk(&group, &old, &new, &mut text);
    }
    text
}

/// Adds an operation on the line behind the ones before, joined to the last one where that is of its kind.
fn push(ops: &mut Vec<DiffOp>, op: DiffOp) {
    match (ops.last_mut(), op) {
        (Some(DiffOp::Equal { len, .. }), DiffOp::Equal { .. }) => *len += 1,
        (
            Some(DiffOp::Replace {
                old_len, new_len, ..
            }),
            DiffOp::Replace {
                new_len: further, ..
            },
        ) => {
            *old_len += 1;
            *new_len += further;
        }
        (_, op) => ops.push(op),
    }
}

fn hunk(group: &[DiffOp], old: &[&str], new: &[String], text: &mut String) {
    let (Some(first), Some(last)) = (group.first(), group.last()) else {
        return;
    };
    let range = |from: usize, to: usize| match to - from {
        0 => format!("{from},0"),
        1 => format!("{}", from + 1),
        count => format!("{},{count}", from + 1),
    };
    text.push_str(&format!(
        "@@ -{} +{} @@\n",
        range(first.old_range().start, last.old_range().end),
        range(first.new_range().start, last.new_range().end)
    ));
    let mut line = |sign: char, line: &str| {
        text.push(sign);
        text.push_str(line);
        if !line.ends_with('\n') {
            text.push_str("\n\\ No newline at end of file\n");
        }
    };
    for op in group {
        let same = matches!(op, DiffOp::Equal { .. });
        for place in op.old_range() {
            line(if same { ' ' } else { '-' }, old[place]);
        }
        if !same {
            for place in op.new_range() {
                line('+', &new[place]);
            }
        }
    }
}
