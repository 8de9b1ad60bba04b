//! Syntax: text to tokens to a lossless tree. Parsing never fails; what is wrong becomes a [`Fault`]
//! beside the tree, and every byte of the text belongs to exactly one token.
//!
//! The normative grammar is `grammar/ubr.ebnf`; each [`NodeKind`] names the production it stands for.

mod cursor;
mod expression;
mod fault;
pub mod format;
mod nodes;
mod outline;
mod placement;
mod row;
mod splice;
mod statement;
mod token;
mod tree;
mod value;
mod words;

pub use fault::{Fault, FaultKind};
pub use splice::{Change, Removed, reparse};
pub use token::{Token, TokenKind};
pub use tree::{DocumentKind, Node, NodeId, NodeKind, Tree};
pub use value::QuantityText;
pub use words::{STATEMENT_WORDS, nearest};

/// Deepest outline that is read; deeper lines are kept at this level and reported.
pub const MAX_OUTLINE_DEPTH: usize = 64;
/// Deepest nesting of brackets and operators inside one expression.
pub const MAX_NESTING: usize = 64;
/// Most operators or arguments in one chain of an expression.
pub const MAX_CHAIN: usize = 200;

/// Parses a document of any kind.
pub fn parse(text: impl Into<std::sync::Arc<str>>) -> Tree {
    outline::parse_document(text.into())
}

/// Parses one expression standing alone, as at the prompt. The root is a `require` statement.
pub fn parse_expression(text: impl Into<std::sync::Arc<str>>) -> Tree {
    outline::parse_expression_alone(text.into())
}
