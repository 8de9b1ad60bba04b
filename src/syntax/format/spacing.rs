//! Blanks inside a line: one between words, one around operators, two before what is said of a reading and before a
//! comment. Columns are widened later.

use super::lines::{Content, Sheet, Statement};
use crate::syntax::token::TokenKind;
use crate::syntax::tree::{NodeId, NodeKind, Tree};

/// An operator between two operands: a blank on each side.
const OPERATOR: u8 = 1;
/// Begins what stands two blanks behind the rest.
const APART: u8 = 2;
/// Stands right behind what is before it.
const CLOSE: u8 = 4;
/// Begins a cell of a row.
const CELL: u8 = 8;

pub fn set(sheet: &mut Sheet<'_>) {
    let marks = marks(sheet.tree);
    for place in 0..sheet.lines.len() {
        let line = sheet.lines[place];
        let Content::Statement(number) = line.content else {
            continue;
        };
        let statement = sheet.statements[number];
        if statement.frozen {
            continue;
        }
        let row = matches!(statement.kind, NodeKind::Row | NodeKind::HeaderRow);
        let mut before = None;
        for token in line.first..line.end {
            if sheet.kind(token) == TokenKind::Space {
                continue;
            }
            if let Some(before) = before {
                let parted = token > before + 1;
                sheet.gaps[token] = if row {
                    in_row(sheet.kind(token), marks[token], parted)
                } else {
                    let first = before == line.first && place == statement.line;
                    let column = first.then(|| column_of_first(sheet, &statement)).flatten();
                    gap(sheet, &marks, before, token, parted, column)
                };
            }
            before = Some(token);
        }
    }
}

fn in_row(kind: TokenKind, marks: u8, parted: bool) -> u32 {
    if kind == TokenKind::Comment || marks & CELL != 0 {
        2
    } else {
        u32::from(parted)
    }
}

fn gap(
    sheet: &Sheet<'_>,
    marks: &[u8],
    before: usize,
    token: usize,
    parted: bool,
    column: Option<u32>,
) -> u32 {
    use TokenKind::*;
    let (left, right) = (sheet.kind(before), sheet.kind(token));
    if right == Comment || marks[token] & APART != 0 {
        return 2;
    }
    if let Some(column) = column {
        // Statement words are ASCII, so bytes are columns.
        let word = sheet.tree.token_span(before).len() as u32;
        return column.saturating_sub(word).max(1);
    }
    if matches!(right, Comma | CloseBracket | CloseParen) || matches!(left, OpenBracket | OpenParen)
    {
        return 0;
    }
    if marks[token] & CLOSE != 0 {
        return 0;
    }
    let operator = |token: usize, kind: TokenKind| {
        marks[token] & OPERATOR != 0
            || matches!(
                kind,
                Equals | NotEqual | Less | AtMost | Greater | AtLeast | Colon | DotDot | PlusMinus
            )
    };
    if left == Comma || operator(before, left) || operator(token, right) {
        return 1;
    }
    u32::from(parted)
}

/// Where the second word of a line stands, counted from its first: in the head of a unit below each other, and
/// the names that `need` and `may` declare as well.
fn column_of_first(sheet: &Sheet<'_>, statement: &Statement) -> Option<u32> {
    let parent = statement.parent.map(|parent| sheet.statements[parent].kind);
    match statement.kind {
        NodeKind::PlanChoice | NodeKind::RegisterChoice | NodeKind::Lot | NodeKind::Zone
            if parent == Some(NodeKind::Unit) =>
        {
            Some("register  ".len() as u32)
        }
        NodeKind::Need | NodeKind::May => Some("need ".len() as u32),
        _ => None,
    }
}

/// What the tree says of each token.
fn marks(tree: &Tree) -> Vec<u8> {
    let mut marks = vec![0; tree.tokens.len()];
    for number in 0..tree.nodes.len() {
        let id = NodeId(number as u32);
        let node = &tree.nodes[number];
        if node.first >= node.head {
            continue;
        }
        let first = node.first as usize;
        let parent = tree.parent(id).map(|parent| tree.kind(parent));
        match node.kind {
            NodeKind::AtClause
            | NodeKind::WithClause
            | NodeKind::ByClause
            | NodeKind::OnClause
            | NodeKind::BecauseClause => {
                if matches!(
                    parent,
                    Some(
                        NodeKind::Reading | NodeKind::DesignValue | NodeKind::Table | NodeKind::Log
                    )
                ) {
                    marks[first] |= APART;
                }
            }
            NodeKind::Coverage | NodeKind::TypeTested => marks[first] |= APART,
            NodeKind::Lot => {
                let unit = tree.significant(id).find(|(token, kind)| {
                    *kind == TokenKind::Name && tree.token_text(*token) == "unit"
                });
                // The lot itself might be called `unit`; the word then stands behind it.
                if let Some((token, _)) = unit
                    && tree.significant(id).nth(1).map(|(at, _)| at) != Some(token)
                {
                    marks[token] |= APART;
                }
            }
            NodeKind::Index => marks[first] |= CLOSE,
            NodeKind::Declared | NodeKind::Kind => {
                let bracket = tree.significant(id).nth(1);
                if let Some((token, TokenKind::OpenBracket | TokenKind::OpenParen)) = bracket {
                    marks[token] |= CLOSE;
                }
            }
            NodeKind::Row | NodeKind::HeaderRow => {
                let head = node.head;
                for cell in tree.children(id) {
                    let cell = tree.node(cell).first;
                    if cell < head {
                        marks[cell as usize] |= CELL;
                    }
                }
            }
            kind if has_operator(kind) => {
                if let Some(token) = operator_of(tree, id) {
                    marks[token] |= OPERATOR;
                }
            }
            NodeKind::Accuracy | NodeKind::Uncertainty => {
                // The pluses between the terms.
                let terms: Vec<NodeId> = tree
                    .children(id)
                    .filter(|child| tree.kind(*child) == NodeKind::AccuracyTerm)
                    .collect();
                for pair in terms.windows(2) {
                    let from = tree.node(pair[0]).head as usize;
                    let plus = (from..tree.node(pair[1]).first as usize)
                        .find(|token| tree.tokens[*token].kind == TokenKind::Plus);
                    if let Some(token) = plus {
                        marks[token] |= OPERATOR;
                    }
                }
            }
            _ => {}
        }
    }
    marks
}

/// Whether a node joins two operands by an operator with a blank on both sides.
pub fn has_operator(kind: NodeKind) -> bool {
    matches!(
        kind,
        NodeKind::Or
            | NodeKind::And
            | NodeKind::Equal
            | NodeKind::NotEqual
            | NodeKind::Less
            | NodeKind::AtMost
            | NodeKind::Greater
            | NodeKind::AtLeast
            | NodeKind::In
            | NodeKind::Sum
            | NodeKind::Difference
            | NodeKind::Product
            | NodeKind::Quotient
    )
}

/// The operator of a node with two operands.
pub fn operator_of(tree: &Tree, id: NodeId) -> Option<usize> {
    let mut operands = tree.children(id);
    let left = tree.node(operands.next()?);
    let right = tree.node(operands.next()?);
    (left.head as usize..right.first as usize).find(|token| !tree.tokens[*token].kind.is_trivia())
}
