//! How deep each line stands.
//!
//! A statement stands two blanks deeper for each level. Broken lines stay where they are; where a statement would then
//! no longer belong to what it belongs to, all statements of that part of the outermost level stay where they are. A
//! comment on a line of its own stands as deep as the statement below it, or, at the end of an outline, as deep as the
//! statement above it with which it was written in line. Of the further lines of a statement the shallowest stands four
//! blanks deeper than its first, and they keep their distance to each other.

use super::lines::{Content, Sheet};
use super::{CONTINUATION, LEVEL};
use crate::syntax::fault::FaultKind;
use crate::syntax::placement;
use crate::syntax::tree::NodeKind;

pub fn set(sheet: &mut Sheet<'_>) {
    let stays = parts_that_stay(sheet);
    for number in 0..sheet.statements.len() {
        let statement = sheet.statements[number];
        if statement.frozen || stays[statement.block] {
            continue;
        }
        let indentation = statement.level * LEVEL;
        sheet.lines[statement.line].wanted = Some(indentation);
        let further: Vec<usize> = (statement.line + 1..=statement.last)
            .filter(|place| sheet.lines[*place].content == Content::Statement(number))
            .collect();
        let shallowest = further
            .iter()
            .map(|place| sheet.lines[*place].written)
            .min();
        for place in further {
            let line = &mut sheet.lines[place];
            let deeper = line.written - shallowest.unwrap_or(line.written);
            line.wanted = Some(indentation + CONTINUATION + deeper);
        }
    }
    comments(sheet);
}

/// For each statement of the outermost level: whether all below it stays as deep as it is.
fn parts_that_stay(sheet: &Sheet<'_>) -> Vec<bool> {
    let total = sheet.statements.len();
    let too_deep = |kind| kind == FaultKind::OutlineTooDeep;
    if sheet.tree.faults.iter().any(|fault| too_deep(fault.kind)) {
        return vec![true; total];
    }
    let mut stays = vec![false; total];
    if !sheet.statements.iter().any(|statement| statement.frozen) {
        return stays;
    }
    // Each round fixes at least one more part; after a few, whatever is still wrong is rare enough to leave all alone.
    for _ in 0..8 {
        let mut changed = false;
        let mut open: Vec<(usize, usize)> = Vec::new();
        for (number, statement) in sheet.statements.iter().enumerate() {
            let indentation = if statement.frozen || stays[statement.block] {
                sheet.lines[statement.line].written
            } else {
                statement.level * LEVEL
            };
            while open.last().is_some_and(|(deep, _)| *deep >= indentation) {
                open.pop();
            }
            let parent = open.last().map(|(_, number)| *number);
            if parent != statement.parent {
                for block in [
                    Some(statement.block),
                    parent.map(|parent| sheet.statements[parent].block),
                ]
                .into_iter()
                .flatten()
                {
                    changed |= !stays[block];
                    stays[block] = true;
                }
            }
            open.push((indentation, number));
        }
        if !changed {
            return stays;
        }
    }
    vec![true; total]
}

fn comments(sheet: &mut Sheet<'_>) {
    // The statement line below each line, found from the end.
    let mut below: Option<usize> = None;
    let mut next = vec![None; sheet.lines.len()];
    for place in (0..sheet.lines.len()).rev() {
        next[place] = below;
        if matches!(sheet.lines[place].content, Content::Statement(_)) {
            below = Some(place);
        }
    }
    let mut above: Option<usize> = None;
    for (place, next) in next.into_iter().enumerate() {
        match sheet.lines[place].content {
            Content::Statement(number) => above = Some(number),
            Content::Comment => {
                let indentation = comment(sheet, place, above, next);
                sheet.lines[place].wanted = Some(indentation);
            }
            Content::Blank | Content::Alone => {}
        }
    }
}

fn comment(sheet: &Sheet<'_>, place: usize, above: Option<usize>, below: Option<usize>) -> usize {
    let number_below = below.and_then(|line| match sheet.lines[line].content {
        Content::Statement(number) => Some(number),
        _ => None,
    });
    let as_below = below.map_or(0, |line| sheet.indentation(line));
    let Some(above) = above else {
        return as_below;
    };
    if number_below == Some(above) {
        return as_below;
    }
    let level_below = number_below.map_or(0, |number| sheet.statements[number].level);
    let written = sheet.lines[place].written;
    let over = sheet.statements[above];
    if level_below > over.level {
        return as_below;
    }
    let opens = placement::allowed(over.kind, NodeKind::Accept);
    if opens && written >= sheet.lines[over.line].written + LEVEL {
        return sheet.indentation(over.line) + LEVEL;
    }
    let mut candidate = Some(above);
    while let Some(number) = candidate {
        let statement = sheet.statements[number];
        if statement.level <= level_below {
            break;
        }
        if sheet.lines[statement.line].written <= written {
            return sheet.indentation(statement.line);
        }
        candidate = statement.parent;
    }
    as_below
}
