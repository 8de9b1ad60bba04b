//! Layout while somebody types: what the line end and the blank just typed make of the lines around.
//!
//! What stands at the cursor is never moved away from it: edits lie before the blanks that were typed last, or in other
//! lines.

use super::lines::{Content, Sheet, Statement, read};
use super::{CONTINUATION, Edit, LEVEL, Unlike, apply, format_lines, wanted};
use crate::syntax::parse;
use crate::syntax::token::TokenKind;
use crate::syntax::tree::{NodeKind, Tree};
use crate::text::Span;
use std::ops::Range;

/// The edits after a line end was typed, `offset` being the place behind it: the line before and the lines that stand
/// in columns with it, and the indentation of the new line where nothing stands in it yet.
///
/// Gives [`Unlike`] where the text would not hold the same tokens in the same outline.
pub fn on_newline(tree: &Tree, offset: u32) -> Result<Vec<Edit>, Unlike> {
    let Some(sheet) = read(tree) else {
        return Ok(Vec::new());
    };
    let typed = tree.text()[..offset as usize].rfind('\n');
    let Some(start) = typed.map(|newline| newline as u32 + 1) else {
        return Ok(Vec::new());
    };
    // The line that the newline ended. Behind the last newline there may be no line yet.
    let behind = |line: &super::lines::Line| tree.token_start(line.start) < start;
    let cursor = sheet.lines.partition_point(behind);
    let Some(before) = cursor.checked_sub(1) else {
        return Ok(Vec::new());
    };
    let Content::Statement(number) = sheet.lines[before].content else {
        return Ok(Vec::new());
    };
    let statement = sheet.statements[number];
    let mut edits = format_lines(tree, in_columns_with(&sheet, number))?;
    edits.retain(|edit| edit.line as usize != cursor);
    let here = sheet.lines.get(cursor);
    if here.is_some_and(|line| line.first < line.end) {
        return Ok(edits);
    }
    // How deep the line before stands when the edits are made.
    let head = statement.line;
    let own = edits
        .iter()
        .find(|edit| edit.indentation && edit.line as usize == head);
    let depth = own.map_or(sheet.lines[head].written, |edit| edit.text.len());
    let deeper = if goes_on(&sheet, before) {
        CONTINUATION
    } else if opens(&statement) {
        LEVEL
    } else {
        0
    };
    let end = here.map_or(start, |line| token_end(tree, line.end));
    let blanks = " ".repeat(depth + deeper);
    if tree.text()[start as usize..end as usize] != blanks {
        let at = edits.partition_point(|edit| edit.span.start < start);
        edits.insert(
            at,
            Edit {
                span: Span::new(start, end),
                text: blanks,
                line: cursor as u32,
                indentation: true,
            },
        );
    }
    Ok(edits)
}

/// The edits after a blank was typed, `offset` being the place behind it. Two blanks behind the last cell of a row end
/// it: the next cell then begins where its column does, and the other rows make room for what was typed.
///
/// Gives [`Unlike`] where the text would not hold the same tokens in the same outline.
pub fn on_blank(tree: &Tree, offset: u32) -> Result<Vec<Edit>, Unlike> {
    let text = tree.text();
    let (before, behind) = text.split_at(offset as usize);
    let written = before.trim_end_matches(' ');
    let typed = before.len() - written.len();
    let rest = behind.split(['\r', '\n']).next().unwrap_or("");
    if typed < 2 || !rest.trim().is_empty() || written.is_empty() || written.ends_with('\n') {
        return Ok(Vec::new());
    }
    let Some(missing) = missing_cells(tree, offset) else {
        return Ok(Vec::new());
    };
    // The row as if the cells still to come were kept open: its layout is what this one grows into.
    let open = vec!["?"; missing].join("  ");
    let complete = parse(format!("{before}{open}{behind}"));
    let Some(sheet) = read(&complete) else {
        return Ok(Vec::new());
    };
    let Some(cursor) = line_at(&sheet, offset) else {
        return Ok(Vec::new());
    };
    let Content::Statement(number) = sheet.lines[cursor].content else {
        return Ok(Vec::new());
    };
    if sheet.statements[number].frozen {
        return Ok(Vec::new());
    }
    let lines = in_columns_with(&sheet, number);
    let mut edits = Vec::new();
    for mut edit in wanted(&complete) {
        if !lines.contains(&edit.line) {
            continue;
        }
        if edit.span.end < offset {
            edits.push(edit);
        } else if edit.span.end == offset {
            // The gap before the next cell: only what is missing is put in, before the blanks that were typed.
            let more = edit.text.len().saturating_sub(typed);
            if more > 0 {
                edit.span = Span::new(written.len() as u32, written.len() as u32);
                edit.text = " ".repeat(more);
                edits.push(edit);
            }
        } else if edit.line as usize > cursor {
            let shift = open.len() as u32;
            edit.span = Span::new(edit.span.start - shift, edit.span.end - shift);
            edits.push(edit);
        }
    }
    keep_what_is_written(tree, &edits)?;
    Ok(edits)
}

/// That nothing but white space changes. The row at the cursor is broken, so its faults may change with its blanks.
fn keep_what_is_written(tree: &Tree, edits: &[Edit]) -> Result<(), Unlike> {
    let after = parse(apply(tree.text(), edits));
    let written = |tree: &Tree| -> Vec<String> {
        (0..tree.tokens.len())
            .filter(|token| {
                !matches!(
                    tree.tokens[*token].kind,
                    TokenKind::Space | TokenKind::Newline
                )
            })
            .map(|token| tree.token_text(token).trim_end().to_owned())
            .collect()
    };
    if written(tree) == written(&after) && tree.nodes.len() == after.nodes.len() {
        Ok(())
    } else {
        Err(Unlike {
            what: "what is written",
        })
    }
}

fn line_at(sheet: &Sheet<'_>, offset: u32) -> Option<usize> {
    let behind = sheet
        .lines
        .partition_point(|line| sheet.tree.token_start(line.start) <= offset);
    let line = behind.checked_sub(1)?;
    // Behind the last line end a line begins that has no token yet.
    let end = token_end(sheet.tree, sheet.lines[line].end);
    (offset <= end).then_some(line)
}

/// The first byte of a token, or the end of the text.
fn token_end(tree: &Tree, token: usize) -> u32 {
    if token < tree.tokens.len() {
        tree.token_start(token)
    } else {
        tree.text().len() as u32
    }
}

/// The lines that stand in columns with a statement: the rows of its table, its neighbours with `=`, or its own.
fn in_columns_with(sheet: &Sheet<'_>, number: usize) -> Range<u32> {
    let statement = sheet.statements[number];
    let (mut first, mut last) = (number, number);
    match statement.kind {
        NodeKind::Row | NodeKind::HeaderRow => {
            let sibling = |other: usize| {
                let other = &sheet.statements[other];
                other.level >= statement.level && other.block == statement.block
            };
            while first > 0 && sibling(first - 1) {
                first -= 1;
            }
            while last + 1 < sheet.statements.len() && sibling(last + 1) {
                last += 1;
            }
        }
        NodeKind::Reading | NodeKind::DesignValue => {
            let neighbours = |one: usize, other: usize| {
                let (one, other) = (&sheet.statements[one], &sheet.statements[other]);
                one.parent == other.parent && one.last + 1 == other.line && one.kind == other.kind
            };
            while first > 0 && neighbours(first - 1, first) {
                first -= 1;
            }
            while last + 1 < sheet.statements.len() && neighbours(last, last + 1) {
                last += 1;
            }
        }
        _ => {}
    }
    sheet.statements[first].line as u32..sheet.statements[last].last as u32 + 1
}

/// Statements below which something is written next.
fn opens(statement: &Statement) -> bool {
    matches!(
        statement.kind,
        NodeKind::Plan
            | NodeKind::Register
            | NodeKind::Unit
            | NodeKind::Design
            | NodeKind::DesignPlan
            | NodeKind::StagePlan
            | NodeKind::StageRecord
            | NodeKind::Person
            | NodeKind::Instrument
            | NodeKind::Nonconformity
            | NodeKind::Tighten
            | NodeKind::Relax
            | NodeKind::Add
            | NodeKind::Check
            | NodeKind::Table
            | NodeKind::Log
    )
}

/// Whether a line ends in the middle of something: in an operator, a comma or `=`, or inside brackets.
fn goes_on(sheet: &Sheet<'_>, place: usize) -> bool {
    use TokenKind::*;
    let line = &sheet.lines[place];
    let mut open = 0i32;
    let mut last = None;
    for token in sheet.tokens_of(line) {
        match sheet.kind(token) {
            Comment => continue,
            OpenBracket | OpenParen => open += 1,
            CloseBracket | CloseParen => open -= 1,
            _ => {}
        }
        last = Some(sheet.kind(token));
    }
    let unfinished = matches!(
        last,
        Some(
            Equals
                | Comma
                | Plus
                | Minus
                | Star
                | Slash
                | Less
                | AtMost
                | Greater
                | AtLeast
                | DotDot
                | PlusMinus
        )
    );
    open > 0 || unfinished
}

/// How many cells the row that is typed at a place still lacks, where it stands below a header and lacks any.
fn missing_cells(tree: &Tree, offset: u32) -> Option<usize> {
    let sheet = read(tree)?;
    let cursor = line_at(&sheet, offset)?;
    let Content::Statement(number) = sheet.lines[cursor].content else {
        return None;
    };
    let statement = sheet.statements[number];
    if statement.kind != NodeKind::Row {
        return None;
    }
    let table = sheet.statements[statement.parent?].node;
    let header = tree.child(table, NodeKind::HeaderRow)?;
    let count = |node| {
        let head = tree.node(node).head;
        tree.children(node)
            .filter(|cell| tree.node(*cell).first < head)
            .count()
    };
    count(header)
        .checked_sub(count(statement.node))
        .filter(|missing| *missing > 0)
}
