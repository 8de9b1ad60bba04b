//! Columns: the `=` of neighbouring readings, the cells of a table with their decimal points, comments behind lines.

use super::lines::{AS_IS, Content, Sheet};
use super::{FARTHEST, width};
use crate::syntax::token::TokenKind;
use crate::syntax::tree::{NodeId, NodeKind, Tree};

/// A text or a reason in a cell that is longer than this does not widen its column.
const LONG_TEXT: usize = 40;

pub fn set(sheet: &mut Sheet<'_>) {
    equals(sheet);
    for number in 0..sheet.statements.len() {
        if matches!(
            sheet.statements[number].kind,
            NodeKind::Table | NodeKind::Log
        ) {
            rows(sheet, number);
        }
    }
    comments(sheet);
}

/// One of neighbouring lines in which something is to stand in line.
struct Entry {
    /// The token.
    token: usize,
    /// Columns up to the end of what stands before it.
    before: usize,
}

/// Puts the tokens in line, over as many neighbours as it takes at most [`FARTHEST`] blanks for each.
fn align(sheet: &mut Sheet<'_>, run: &[Entry], least: usize) {
    let mut from = 0;
    while from < run.len() {
        let (mut narrow, mut wide) = (run[from].before, run[from].before);
        let mut to = from + 1;
        while to < run.len() {
            let (narrower, wider) = (narrow.min(run[to].before), wide.max(run[to].before));
            if wider - narrower + least > FARTHEST {
                break;
            }
            (narrow, wide) = (narrower, wider);
            to += 1;
        }
        for entry in &run[from..to] {
            sheet.gaps[entry.token] = (wide - entry.before + least) as u32;
        }
        from = to;
    }
}

/// Columns of some tokens of a line with the gaps before them, the first token's left out.
fn columns(sheet: &Sheet<'_>, from: usize, to: usize, first: usize) -> usize {
    (from..to)
        .filter(|token| sheet.kind(*token) != TokenKind::Space)
        .map(|token| {
            let gap = match sheet.gaps[token] {
                _ if token == first => 0,
                AS_IS => 0,
                gap => gap as usize,
            };
            gap + width::of(sheet.tree.token_text(token))
        })
        .sum()
}

fn equals(sheet: &mut Sheet<'_>) {
    let mut run: Vec<Entry> = Vec::new();
    let mut before: Option<usize> = None;
    for number in 0..sheet.statements.len() {
        let statement = sheet.statements[number];
        let entry = matches!(statement.kind, NodeKind::Reading | NodeKind::DesignValue)
            .then(|| equals_of(sheet, number))
            .flatten();
        let neighbours = before.is_some_and(|before| {
            let before = &sheet.statements[before];
            before.parent == statement.parent && before.last + 1 == statement.line
        });
        if !neighbours || entry.is_none() {
            align(sheet, &run, 1);
            run.clear();
        }
        run.extend(entry);
        before = Some(number);
    }
    align(sheet, &run, 1);
}

fn equals_of(sheet: &Sheet<'_>, number: usize) -> Option<Entry> {
    let statement = sheet.statements[number];
    let line = sheet.lines[statement.line];
    if statement.frozen {
        return None;
    }
    let name = sheet.tree.child(statement.node, NodeKind::DeclaredValue)?;
    let behind = sheet.tree.node(name).head as usize;
    let token = (behind..line.end).find(|token| sheet.kind(*token) == TokenKind::Equals)?;
    Some(Entry {
        token,
        before: sheet.indentation(statement.line) + columns(sheet, line.first, token, line.first),
    })
}

/// A cell of a row.
#[derive(Clone, Copy)]
struct Cell {
    token: usize,
    /// Columns that it takes.
    wide: usize,
    /// Columns up to its decimal point, where it begins with a number.
    point: Option<usize>,
    /// Too long to widen its column.
    long: bool,
}

/// Puts the cells below a table or log in columns. The first column stands at the indentation, which has a meaning.
fn rows(sheet: &mut Sheet<'_>, table: usize) {
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    for number in table + 1..sheet.statements.len() {
        let statement = sheet.statements[number];
        if statement.level <= sheet.statements[table].level {
            break;
        }
        let row = matches!(statement.kind, NodeKind::Row | NodeKind::HeaderRow);
        if row && statement.parent == Some(table) && !statement.frozen {
            rows.push(cells(sheet, statement.node));
        }
    }
    let count = rows.iter().map(Vec::len).max().unwrap_or(0);
    let mut start = 0;
    let mut reached = vec![0; rows.len()];
    for column in 0..count {
        let cells = || rows.iter().filter_map(|row| row.get(column));
        let before_point = match column {
            0 => 0,
            _ => cells().filter_map(|cell| cell.point).max().unwrap_or(0),
        };
        let lead = |cell: &Cell| match cell.point {
            Some(point) if column > 0 => before_point - point,
            _ => 0,
        };
        let wide = cells()
            .filter(|cell| !cell.long)
            .map(|cell| lead(cell) + cell.wide)
            .max()
            .unwrap_or(0);
        for (row, reached) in rows.iter().zip(&mut reached) {
            let Some(cell) = row.get(column) else {
                continue;
            };
            let place = match column {
                0 => 0,
                _ => (start + lead(cell)).max(*reached + 2),
            };
            if column > 0 {
                sheet.gaps[cell.token] = (place - *reached) as u32;
            }
            *reached = place + cell.wide;
        }
        start += wide + 2;
    }
}

fn cells(sheet: &Sheet<'_>, row: NodeId) -> Vec<Cell> {
    let tree = sheet.tree;
    let head = tree.node(row).head;
    tree.children(row)
        .filter(|cell| tree.node(*cell).first < head)
        .map(|cell| {
            let node = tree.node(cell);
            let (from, to) = (node.first as usize, node.head as usize);
            let wide = columns(sheet, from, to, from);
            Cell {
                token: from,
                wide,
                point: point(tree, cell).map(|(token, digits)| {
                    let before = columns(sheet, from, token, from);
                    let gap = match sheet.gaps[token] {
                        _ if token == from => 0,
                        AS_IS => 0,
                        gap => gap as usize,
                    };
                    before + gap + digits
                }),
                long: wide > LONG_TEXT
                    && matches!(node.kind, NodeKind::NotApplicable | NodeKind::TextPart),
            }
        })
        .collect()
}

/// The number with which a cell begins, a sign before it or not, and how many digits it has before its point.
fn point(tree: &Tree, cell: NodeId) -> Option<(usize, usize)> {
    let number = matches!(
        tree.kind(cell),
        NodeKind::Quantity
            | NodeKind::Bound
            | NodeKind::Range
            | NodeKind::PlusMinus
            | NodeKind::PlusSlashMinus
    );
    if !number {
        return None;
    }
    let (token, _) = tree
        .significant(cell)
        .take(3)
        .find(|(_, kind)| *kind == TokenKind::Number)?;
    let digits = tree.token_text(token);
    let before = digits.find(['.', 'e', 'E']).unwrap_or(digits.len());
    Some((token, before))
}

/// Comments behind neighbouring lines of one level stand below each other.
fn comments(sheet: &mut Sheet<'_>) {
    let mut run: Vec<Entry> = Vec::new();
    let mut level = None;
    for place in 0..sheet.lines.len() {
        let line = sheet.lines[place];
        let statement = match line.content {
            Content::Statement(number) if !sheet.statements[number].frozen => {
                Some(sheet.statements[number])
            }
            _ => None,
        };
        let entry = statement.and_then(|statement| {
            let comment = sheet.comment_behind(&line)?;
            Some((statement.level, comment_entry(sheet, place, comment)))
        });
        let own = entry.as_ref().map(|(level, _)| *level);
        if own.is_none() || own != level {
            align(sheet, &run, 2);
            run.clear();
        }
        level = own;
        run.extend(entry.map(|(_, entry)| entry));
    }
    align(sheet, &run, 2);
}

fn comment_entry(sheet: &Sheet<'_>, place: usize, comment: usize) -> Entry {
    let line = sheet.lines[place];
    // Of a line that is broken the comment stands behind the last piece.
    let until = sheet.breaks.partition_point(|(token, _)| *token <= comment);
    let broken = sheet.breaks[..until]
        .last()
        .filter(|(token, _)| *token > line.first);
    let (first, indentation) = match broken {
        Some((token, indentation)) => (*token, *indentation),
        None => (line.first, sheet.indentation(place)),
    };
    Entry {
        token: comment,
        before: indentation + columns(sheet, first, comment, first),
    }
}
