//! Semantic tokens: what each word is, for colours.

use super::sight::Sight;
use crate::syntax::{NodeId, NodeKind, TokenKind};
use crate::text::Span;
use tower_lsp::lsp_types::{
    SemanticToken, SemanticTokenModifier, SemanticTokenType, SemanticTokensEdit,
    SemanticTokensLegend,
};

/// The types, in the order of their numbers.
const TYPES: &[SemanticTokenType] = &[
    SemanticTokenType::KEYWORD,
    SemanticTokenType::COMMENT,
    SemanticTokenType::STRING,
    SemanticTokenType::NUMBER,
    SemanticTokenType::OPERATOR,
    SemanticTokenType::NAMESPACE,
    SemanticTokenType::PROPERTY,
    SemanticTokenType::VARIABLE,
    SemanticTokenType::FUNCTION,
    SemanticTokenType::TYPE,
    SemanticTokenType::ENUM_MEMBER,
    SemanticTokenType::EVENT,
    SemanticTokenType::CLASS,
];
const KEYWORD: u32 = 0;
const COMMENT: u32 = 1;
const STRING: u32 = 2;
const NUMBER: u32 = 3;
const OPERATOR: u32 = 4;
const NAMESPACE: u32 = 5;
const PROPERTY: u32 = 6;
const VARIABLE: u32 = 7;
const FUNCTION: u32 = 8;
const TYPE: u32 = 9;
const MEMBER: u32 = 10;
const EVENT: u32 = 11;
const PERSON: u32 = 12;
/// The modifier of what is declared here.
const DECLARATION: u32 = 1;

/// Tokens as they were last told.
#[derive(Clone, Debug)]
pub(super) struct Told {
    pub id: String,
    pub tokens: Vec<SemanticToken>,
}

pub(super) fn legend() -> SemanticTokensLegend {
    SemanticTokensLegend {
        token_types: TYPES.to_vec(),
        token_modifiers: vec![SemanticTokenModifier::DECLARATION],
    }
}

/// The tokens of a document, or of a part of it.
pub(super) fn tokens(sight: &Sight<'_>, part: Option<Span>) -> Vec<SemanticToken> {
    let tree = sight.tree;
    let mut kinds: Vec<Option<(u32, u32)>> = vec![None; tree.tokens().len()];
    for index in 0..tree.len() as u32 {
        paint(sight, NodeId(index), &mut kinds);
    }
    let mut out = Vec::new();
    let (mut last_line, mut last_column) = (0, 0);
    for (index, token) in tree.tokens().iter().enumerate() {
        let span = tree.token_span(index);
        if part.is_some_and(|part| span.end < part.start || span.start > part.end) {
            continue;
        }
        let kind = match token.kind {
            TokenKind::Comment => Some((COMMENT, 0)),
            TokenKind::Space | TokenKind::Newline | TokenKind::ByteOrderMark => None,
            other => kinds[index].or_else(|| usual(other)),
        };
        let Some((kind, modifiers)) = kind else {
            continue;
        };
        let text = tree.token_text(index).trim_end_matches(['\r', '\n']);
        let (start, end) = (
            sight.position(span.start),
            sight.position(span.start + text.len() as u32),
        );
        if start.line != end.line || end.character == start.character {
            continue;
        }
        let same_line = start.line == last_line;
        out.push(SemanticToken {
            delta_line: start.line - last_line,
            delta_start: if same_line {
                start.character - last_column
            } else {
                start.character
            },
            length: end.character - start.character,
            token_type: kind,
            token_modifiers_bitset: modifiers,
        });
        (last_line, last_column) = (start.line, start.character);
    }
    out
}

fn usual(kind: TokenKind) -> Option<(u32, u32)> {
    Some(match kind {
        TokenKind::Text | TokenKind::OpenText => (STRING, 0),
        TokenKind::Number | TokenKind::Date | TokenKind::Time => (NUMBER, 0),
        _ => return None,
    })
}

/// Gives the tokens of one node their kind; inner nodes come later and win.
fn paint(sight: &Sight<'_>, node: NodeId, kinds: &mut [Option<(u32, u32)>]) {
    let tree = sight.tree;
    let kind = tree.kind(node);
    let own = tree.node(node);
    let mut set = |tokens: std::ops::Range<u32>, value: (u32, u32)| {
        for token in tokens {
            if let Some(slot) = kinds.get_mut(token as usize) {
                *slot = Some(value);
            }
        }
    };
    let parent = tree.parent(node).map(|parent| tree.kind(parent));
    match kind {
        NodeKind::Document
        | NodeKind::Row
        | NodeKind::HeaderRow
        | NodeKind::Rest
        | NodeKind::Broken => {}
        NodeKind::UnitPart => set(own.first..own.head, (TYPE, 0)),
        NodeKind::Quantity => {
            let number = tree
                .significant(node)
                .find(|(_, kind)| *kind == TokenKind::Number);
            if let Some((at, _)) = number {
                set(at as u32 + 1..own.head, (TYPE, 0));
            }
        }
        NodeKind::Pending | NodeKind::NotApplicable => set(own.first..own.first + 1, (KEYWORD, 0)),
        NodeKind::Path | NodeKind::Name | NodeKind::Member => {
            set(own.first..own.head, name(sight, node, parent));
        }
        NodeKind::Sum
        | NodeKind::Difference
        | NodeKind::Product
        | NodeKind::Quotient
        | NodeKind::Power
        | NodeKind::AtMost
        | NodeKind::AtLeast
        | NodeKind::Less
        | NodeKind::Greater
        | NodeKind::Equal
        | NodeKind::NotEqual
        | NodeKind::Range
        | NodeKind::Bound
        | NodeKind::PlusMinus => {
            for (at, token) in tree.significant(node).collect::<Vec<_>>() {
                if !matches!(token, TokenKind::Number | TokenKind::Name | TokenKind::Text) {
                    set(at as u32..at as u32 + 1, (OPERATOR, 0));
                }
            }
        }
        NodeKind::And | NodeKind::Or | NodeKind::Not | NodeKind::If | NodeKind::In => {
            for (at, token) in tree.significant(node).collect::<Vec<_>>() {
                if token == TokenKind::Name && is_word(tree.token_text(at)) {
                    set(at as u32..at as u32 + 1, (KEYWORD, 0));
                }
            }
        }
        _ => {
            // The first word of a statement or clause.
            let first = tree.significant(node).next();
            if let Some((at, TokenKind::Name)) = first
                && starts_with_word(tree.token_text(at), kind)
            {
                set(at as u32..at as u32 + 1, (KEYWORD, 0));
            }
        }
    }
}

fn is_word(text: &str) -> bool {
    matches!(text, "and" | "or" | "not" | "if" | "then" | "else" | "in")
}

fn starts_with_word(text: &str, kind: NodeKind) -> bool {
    let bare = matches!(
        kind,
        NodeKind::Reading
            | NodeKind::DesignValue
            | NodeKind::DeclaredValue
            | NodeKind::Declared
            | NodeKind::Reference
            | NodeKind::Call
            | NodeKind::Index
            | NodeKind::Kind
            | NodeKind::HeaderCell
            | NodeKind::NameList
            | NodeKind::Group
            | NodeKind::Negative
            | NodeKind::Word
    );
    !bare
        && text
            .chars()
            .all(|character| character.is_ascii_lowercase() || character == '-')
}

fn name(sight: &Sight<'_>, node: NodeId, parent: Option<NodeKind>) -> (u32, u32) {
    let tree = sight.tree;
    let first = tree
        .parent(node)
        .is_some_and(|parent| tree.children(parent).next() == Some(node));
    match parent {
        Some(NodeKind::StagePlan | NodeKind::Set) if first => (NAMESPACE, DECLARATION),
        Some(
            NodeKind::StageRecord
            | NodeKind::After
            | NodeKind::Target
            | NodeKind::PlanChoice
            | NodeKind::RegisterChoice
            | NodeKind::Extends,
        ) => (NAMESPACE, 0),
        Some(NodeKind::Plan | NodeKind::Register | NodeKind::Unit) => (NAMESPACE, DECLARATION),
        Some(NodeKind::Declared) if first => (PROPERTY, DECLARATION),
        Some(NodeKind::DeclaredValue) => (PROPERTY, 0),
        Some(NodeKind::Call) => (FUNCTION, 0),
        Some(NodeKind::Kind | NodeKind::Given | NodeKind::Measures | NodeKind::ForKinds) => {
            (TYPE, 0)
        }
        Some(NodeKind::ByClause) => (PERSON, 0),
        Some(NodeKind::Person | NodeKind::Instrument) => (PERSON, DECLARATION),
        Some(NodeKind::WithClause) => (PERSON, 0),
        Some(NodeKind::Hold | NodeKind::Witness | NodeKind::Review | NodeKind::Nonconformity)
            if first =>
        {
            (EVENT, DECLARATION)
        }
        Some(
            NodeKind::Release
            | NodeKind::Witnessed
            | NodeKind::Waived
            | NodeKind::Reviewed
            | NodeKind::Notified
            | NodeKind::Accept,
        ) => (EVENT, 0),
        Some(
            NodeKind::Role
            | NodeKind::Roles
            | NodeKind::Hold
            | NodeKind::Witness
            | NodeKind::Review
            | NodeKind::NameList
            | NodeKind::Set,
        ) => (MEMBER, 0),
        Some(NodeKind::Reference | NodeKind::From) => (VARIABLE, 0),
        _ => (PROPERTY, 0),
    }
}

/// The edits that turn one list of tokens into another: what stands between the common beginning and the common end.
pub(super) fn delta(before: &[SemanticToken], after: &[SemanticToken]) -> Vec<SemanticTokensEdit> {
    let same_start = before.iter().zip(after).take_while(|(a, b)| a == b).count();
    let (rest_before, rest_after) = (&before[same_start..], &after[same_start..]);
    let same_end = rest_before
        .iter()
        .rev()
        .zip(rest_after.iter().rev())
        .take_while(|(a, b)| a == b)
        .count();
    let removed = rest_before.len() - same_end;
    let inserted = &rest_after[..rest_after.len() - same_end];
    if removed == 0 && inserted.is_empty() {
        return Vec::new();
    }
    vec![SemanticTokensEdit {
        // Counted in numbers, of which each token has five.
        start: same_start as u32 * 5,
        delete_count: removed as u32 * 5,
        data: Some(inserted.to_vec()),
    }]
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn token(value: u32) -> SemanticToken {
        SemanticToken {
            delta_line: value,
            delta_start: 0,
            length: 1,
            token_type: 0,
            token_modifiers_bitset: 0,
        }
    }

    proptest! {
        #[test]
        fn a_delta_turns_one_list_into_the_other(
            before in prop::collection::vec(0u32..3, 0..12),
            after in prop::collection::vec(0u32..3, 0..12),
        ) {
            let list = |values: &[u32]| values.iter().map(|value| token(*value)).collect::<Vec<_>>();
            let (before, after) = (list(&before), list(&after));
            let mut patched = before.clone();
            for edit in delta(&before, &after) {
                let start = edit.start as usize / 5;
                let end = start + edit.delete_count as usize / 5;
                patched.splice(start..end, edit.data.unwrap_or_default());
            }
            prop_assert_eq!(patched, after);
        }
    }
}
