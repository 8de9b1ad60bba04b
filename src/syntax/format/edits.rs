//! From what is wanted of each line and gap to edits of what stands there.

use super::Edit;
use super::lines::{AS_IS, Content, Sheet};
use crate::syntax::token::TokenKind;
use crate::syntax::tree::NodeKind;
use crate::text::Span;

pub fn of(sheet: &Sheet<'_>) -> Vec<Edit> {
    let (gone, fresh) = blank_lines(sheet);
    let newline = newline(sheet);
    let mut edits = Vec::new();
    for place in 0..sheet.lines.len() {
        let line = sheet.lines[place];
        let mut push = |from: u32, to: u32, text: String, indentation: bool| {
            let span = Span::new(from, to);
            if sheet.tree.text()[span.range()] != text {
                edits.push(Edit {
                    span,
                    text,
                    line: place as u32,
                    indentation,
                });
            }
        };
        let start = sheet.tree.token_start(line.start);
        let end = end_of(sheet, line.end);
        if gone[place] {
            push(start, end_of(sheet, line.end + 1), String::new(), false);
            continue;
        }
        if fresh[place] {
            push(start, start, newline.to_owned(), false);
        }
        match line.content {
            Content::Alone => continue,
            Content::Blank => {
                push(start, end, String::new(), false);
                continue;
            }
            Content::Statement(number) if sheet.statements[number].frozen => continue,
            Content::Comment | Content::Statement(_) => {}
        }
        if let Some(columns) = line.wanted {
            push(
                start,
                sheet.tree.token_start(line.first),
                " ".repeat(columns),
                true,
            );
        }
        let mut behind = line.first;
        for token in sheet.tokens_of(&line) {
            if token != line.first {
                let from = sheet.tree.tokens[behind].end;
                let to = sheet.tree.token_start(token);
                let broken = sheet
                    .breaks
                    .binary_search_by_key(&token, |(token, _)| *token);
                match (broken, sheet.gaps[token]) {
                    (Ok(found), _) => {
                        let blanks = " ".repeat(sheet.breaks[found].1);
                        push(from, to, format!("{newline}{blanks}"), false);
                    }
                    (Err(_), AS_IS) => {}
                    (Err(_), gap) => push(from, to, " ".repeat(gap as usize), false),
                }
            }
            behind = token;
        }
        let text = sheet.tree.token_text(behind);
        let kept = match sheet.kind(behind) {
            TokenKind::Comment => text.trim_end_matches([' ', '\t']).len(),
            _ => text.len(),
        };
        let kept = sheet.tree.token_start(behind) + kept as u32;
        push(kept, end, String::new(), false);
    }
    final_newline(sheet, &gone, newline, &mut edits);
    edits
}

/// The last byte before a newline, or the end of the text.
fn end_of(sheet: &Sheet<'_>, token: usize) -> u32 {
    if token < sheet.tree.tokens.len() {
        sheet.tree.token_start(token)
    } else {
        sheet.tree.text().len() as u32
    }
}

/// How lines end in this document: as its first does.
fn newline<'t>(sheet: &Sheet<'t>) -> &'t str {
    sheet
        .lines
        .first()
        .filter(|line| line.end < sheet.tree.tokens.len())
        .map_or("\n", |line| sheet.tree.token_text(line.end))
}

/// The last line ends as every line does.
fn final_newline(sheet: &Sheet<'_>, gone: &[bool], newline: &str, edits: &mut Vec<Edit>) {
    let ends = sheet
        .lines
        .last()
        .is_none_or(|line| line.end < sheet.tree.tokens.len());
    // Blank lines at the end go with their newlines; the one before them stays.
    if !ends && gone.last() != Some(&true) {
        let end = sheet.tree.text().len() as u32;
        edits.push(Edit {
            span: Span::new(end, end),
            text: newline.to_owned(),
            line: sheet.lines.len() as u32 - 1,
            indentation: false,
        });
    }
}

/// Which lines go, and before which a blank line is wanted: no two blank lines in a row, none at the beginning or the
/// end, one before each stage, design, nonconformity, person and instrument.
fn blank_lines(sheet: &Sheet<'_>) -> (Vec<bool>, Vec<bool>) {
    let total = sheet.lines.len();
    let blank = |place: usize| sheet.lines[place].content == Content::Blank;
    let mut gone = vec![false; total];
    let mut fresh = vec![false; total];
    let mut seen_blank = true;
    for (place, gone) in gone.iter_mut().enumerate() {
        *gone = blank(place) && seen_blank;
        seen_blank = blank(place);
    }
    for place in (0..total).rev() {
        if !blank(place) {
            break;
        }
        gone[place] = true;
    }
    // A blank line inside a statement would only part what belongs together.
    for statement in &sheet.statements {
        let inside = statement.line + 1..statement.last.max(statement.line + 1);
        if !statement.frozen {
            for (gone, line) in gone[inside.clone()].iter_mut().zip(&sheet.lines[inside]) {
                *gone |= line.content == Content::Blank;
            }
        }
        if statement.level > 0 || statement.frozen || !begins_a_part(statement.kind) {
            continue;
        }
        let mut place = statement.line;
        while place > 0 && belongs_to_next(sheet, place - 1) {
            place -= 1;
        }
        fresh[place] |= place > 0 && !blank(place - 1);
    }
    (gone, fresh)
}

fn begins_a_part(kind: NodeKind) -> bool {
    matches!(
        kind,
        NodeKind::DesignPlan
            | NodeKind::StagePlan
            | NodeKind::Design
            | NodeKind::StageRecord
            | NodeKind::Nonconformity
            | NodeKind::Person
            | NodeKind::Instrument
    )
}

/// Whether a line is a comment or an acceptance of the outermost level, which belongs to what is below it.
fn belongs_to_next(sheet: &Sheet<'_>, place: usize) -> bool {
    match sheet.lines[place].content {
        Content::Comment => sheet.indentation(place) == 0,
        Content::Statement(number) => {
            let statement = sheet.statements[number];
            statement.kind == NodeKind::Accept && statement.level == 0
        }
        Content::Blank | Content::Alone => false,
    }
}
