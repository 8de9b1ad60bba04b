//! Holds what the formatter made against what it was made from.

use super::{Edit, Unlike, apply};
use crate::syntax::fault::{Fault, FaultKind};
use crate::syntax::token::TokenKind;
use crate::syntax::tree::{NONE, Tree};
use crate::syntax::{parse, tree};

/// That the edited text holds the same tokens, statements, parts of statements and faults, the faults that white space
/// alone makes left out.
pub fn same(before: &Tree, edits: &[Edit]) -> Result<(), Unlike> {
    if edits.is_empty() {
        return Ok(());
    }
    let after = parse(apply(before.text(), edits));
    let unlike = |what| Err(Unlike { what });
    if !tokens(before).eq(tokens(&after)) {
        return unlike("what is written");
    }
    if before.document != after.document || before.nodes.len() != after.nodes.len() {
        return unlike("the statements");
    }
    let (old, new) = (ordinals(before), ordinals(&after));
    for (one, other) in before.nodes.iter().zip(&after.nodes) {
        if shape(one) != shape(other) {
            return unlike("the outline");
        }
        let held = |node: &tree::Node, count: &[u32]| {
            (
                count[node.first as usize],
                count[node.head as usize],
                count[node.last as usize],
            )
        };
        if held(one, &old) != held(other, &new) {
            return unlike("what belongs together in a line");
        }
    }
    if !faults(before).eq(faults(&after)) {
        return unlike("the faults");
    }
    Ok(())
}

fn tokens(tree: &Tree) -> impl Iterator<Item = &str> {
    (0..tree.tokens.len()).filter_map(|token| {
        let text = tree.token_text(token);
        match tree.tokens[token].kind {
            TokenKind::Space | TokenKind::Newline => None,
            TokenKind::Comment => Some(text.trim_end_matches([' ', '\t'])),
            _ => Some(text),
        }
    })
}

/// For each token, and for the end: how many tokens before it are no white space and no comment.
fn ordinals(tree: &Tree) -> Vec<u32> {
    let mut count = 0;
    let mut counts = Vec::with_capacity(tree.tokens.len() + 1);
    for token in &tree.tokens {
        counts.push(count);
        count += u32::from(!token.kind.is_trivia());
    }
    counts.push(count);
    counts
}

fn shape(node: &tree::Node) -> (crate::syntax::NodeKind, u32, bool, u32) {
    (node.kind, node.parent, node.child == NONE, node.next)
}

fn faults(tree: &Tree) -> impl Iterator<Item = (FaultKind, &str)> {
    let counts = |fault: &&Fault| fault.kind != FaultKind::TabIndentation;
    tree.faults
        .iter()
        .filter(counts)
        .map(|fault| (fault.kind, fault.message.as_str()))
}
