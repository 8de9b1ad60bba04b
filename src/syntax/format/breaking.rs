//! Long expressions, broken behind an operator.
//!
//! What the writer broke stays broken there. A line beyond [`LINE_WIDTH`] is broken where its expression is held together
//! least: outside the most brackets, at the loosest operator, far enough right to fill the line.

use super::lines::{AS_IS, Content, Sheet};
use super::spacing::{has_operator, operator_of};
use super::{CONTINUATION, LEVEL, LINE_WIDTH, width};
use crate::syntax::token::TokenKind;
use crate::syntax::tree::{NodeId, NodeKind};

/// A token before which a line may be broken.
struct Candidate {
    token: usize,
    /// Columns that the line has when it is broken here.
    width: usize,
    /// How much is held together here: brackets first, then the operator.
    bond: usize,
}

pub fn set(sheet: &mut Sheet<'_>) {
    let mut operators = None;
    for number in 0..sheet.statements.len() {
        let statement = sheet.statements[number];
        let takes = matches!(
            statement.kind,
            NodeKind::Calc
                | NodeKind::Require
                | NodeKind::Limit
                | NodeKind::When
                | NodeKind::Causes
        );
        if statement.frozen || !takes {
            continue;
        }
        let mut depth = 0;
        for place in statement.line..=statement.last {
            let line = sheet.lines[place];
            if line.content != Content::Statement(number) {
                continue;
            }
            if length(sheet, place) > LINE_WIDTH {
                let operators = operators.get_or_insert_with(|| binary_operators(sheet));
                let first = place == statement.line;
                let breaks = breaks(sheet, place, depth, first, operators);
                sheet.breaks.extend(breaks);
            }
            for token in line.first..line.end {
                depth = deeper(depth, sheet.kind(token));
            }
        }
    }
    sheet.breaks.sort_unstable();
}

/// Columns of a line up to the comment behind it.
fn length(sheet: &Sheet<'_>, place: usize) -> usize {
    let line = sheet.lines[place];
    let comment = sheet.comment_behind(&line);
    sheet
        .tokens_of(&line)
        .filter(|token| Some(*token) != comment)
        .fold(sheet.indentation(place), |columns, token| {
            columns + taken(sheet, token, token == line.first)
        })
}

/// Columns of a token and of the gap before it.
fn taken(sheet: &Sheet<'_>, token: usize, first: bool) -> usize {
    let gap = match sheet.gaps[token] {
        _ if first => 0,
        AS_IS => 0,
        gap => gap as usize,
    };
    gap + width::of(sheet.tree.token_text(token))
}

fn deeper(depth: usize, kind: TokenKind) -> usize {
    match kind {
        TokenKind::OpenBracket | TokenKind::OpenParen => depth + 1,
        TokenKind::CloseBracket | TokenKind::CloseParen => depth.saturating_sub(1),
        _ => depth,
    }
}

/// Which tokens are operators between two operands.
fn binary_operators(sheet: &Sheet<'_>) -> Vec<bool> {
    let tree = sheet.tree;
    let mut operators = vec![false; tree.tokens.len()];
    for number in 0..tree.nodes.len() {
        let kind = tree.nodes[number].kind;
        // A range or a tolerance stands as it is inside a line, but may go on in the next.
        let binary = has_operator(kind) || matches!(kind, NodeKind::Range | NodeKind::PlusMinus);
        if binary && let Some(token) = operator_of(tree, NodeId(number as u32)) {
            operators[token] = true;
        }
    }
    operators
}

/// Where a line is broken, and how deep each piece stands: behind the first line of a statement four blanks deeper, else
/// in line with the line; two more inside brackets that this one opened.
fn breaks(
    sheet: &Sheet<'_>,
    place: usize,
    mut depth: usize,
    first: bool,
    operators: &[bool],
) -> Vec<(usize, usize)> {
    let line = sheet.lines[place];
    let comment = sheet.comment_behind(&line);
    let tokens: Vec<usize> = sheet
        .tokens_of(&line)
        .filter(|token| Some(*token) != comment)
        .collect();
    let mut breaks = Vec::new();
    let mut from = 0;
    let mut indentation = sheet.indentation(place);
    let further = indentation + if first { CONTINUATION } else { 0 };
    let mut open = (!first).then_some(depth);
    loop {
        let Some((token, behind)) = next(sheet, &tokens[from..], depth, indentation, operators)
        else {
            return breaks;
        };
        for token in &tokens[from..from + behind] {
            depth = deeper(depth, sheet.kind(*token));
        }
        let inside = depth > *open.get_or_insert(depth);
        indentation = further + if inside { LEVEL } else { 0 };
        breaks.push((token, indentation));
        from += behind;
    }
}

/// Where the piece that these tokens make is broken: before which token, and how many stand before it.
fn next(
    sheet: &Sheet<'_>,
    tokens: &[usize],
    mut depth: usize,
    indentation: usize,
    operators: &[bool],
) -> Option<(usize, usize)> {
    let mut columns = indentation;
    let mut candidates: Vec<(Candidate, usize)> = Vec::new();
    for (at, token) in tokens.iter().enumerate() {
        if at > 0
            && let Some(bond) = bond(sheet, tokens[at - 1], *token, depth, operators)
        {
            let candidate = Candidate {
                token: *token,
                width: columns,
                bond,
            };
            candidates.push((candidate, at));
        }
        columns += taken(sheet, *token, at == 0);
        depth = deeper(depth, sheet.kind(*token));
    }
    if columns <= LINE_WIDTH {
        return None;
    }
    let least = indentation + (LINE_WIDTH - indentation.min(LINE_WIDTH)) * 2 / 5;
    let fits = |(candidate, _): &&(Candidate, usize)| candidate.width <= LINE_WIDTH;
    let chosen = candidates
        .iter()
        .filter(fits)
        .filter(|(candidate, _)| candidate.width >= least)
        .min_by_key(|(candidate, _)| (candidate.bond, std::cmp::Reverse(candidate.width)))
        .or_else(|| candidates.iter().rfind(fits))
        .or_else(|| candidates.first())?;
    Some((chosen.0.token, chosen.1))
}

/// How much holds a token to the one before it; none where the line cannot be broken between them.
fn bond(
    sheet: &Sheet<'_>,
    before: usize,
    token: usize,
    depth: usize,
    operators: &[bool],
) -> Option<usize> {
    use TokenKind::*;
    const BRACKET: usize = 10;
    let word = |token: usize| match sheet.kind(token) {
        Name => sheet.tree.token_text(token),
        _ => "",
    };
    // Where a bracket is open any line goes on, but not where the next one would read as a statement.
    if starts_a_line(sheet, token) {
        return None;
    }
    let strength = match (word(before), word(token)) {
        ("else", _) if depth == 0 => 0,
        (_, "else") if depth > 0 => 0,
        (_, "then") if depth > 0 => 1,
        ("then", _) if depth == 0 => 7,
        _ => match sheet.kind(before) {
            Comma if depth > 0 => 0,
            _ if !operators[before] => return None,
            Name => match word(before) {
                "or" => 1,
                "and" => 2,
                _ => 3,
            },
            // Outside brackets these do not say that the line goes on.
            NotEqual if depth == 0 => return None,
            Equals | NotEqual | Less | AtMost | Greater | AtLeast => 3,
            DotDot | PlusMinus => 4,
            Plus | Minus => 5,
            _ => 6,
        },
    };
    Some(depth * BRACKET + strength)
}

/// Whether a token would be taken for the first word of a statement if it began a line.
fn starts_a_line(sheet: &Sheet<'_>, token: usize) -> bool {
    sheet.kind(token) == TokenKind::Name
        && crate::syntax::words::statement(sheet.tree.token_text(token), sheet.tree.document)
            .is_some()
        && sheet.tree.tokens[token + 1..]
            .iter()
            .find(|token| token.kind != TokenKind::Space)
            .is_some_and(|next| {
                !matches!(
                    next.kind,
                    TokenKind::Dot | TokenKind::OpenBracket | TokenKind::OpenParen
                )
            })
}
