//! The tree-sitter grammar of unit build records, for programs that read them with tree-sitter.

use tree_sitter_language::LanguageFn;

// The parser is C code that tree-sitter generates; a foreign function is the only way in.
unsafe extern "C" {
    fn tree_sitter_ubr() -> *const ();
}

/// The grammar, as tree-sitter's bindings take it: `Language::new(LANGUAGE)`.
// SAFETY: `tree_sitter_ubr` is the generated function that gives a language that lives for good, compiled
// by this crate's own build script from this crate's own sources.
pub const LANGUAGE: LanguageFn = unsafe { LanguageFn::from_raw(tree_sitter_ubr) };

/// Colours, in the names of captures that Neovim and tree-sitter's own command share.
pub const HIGHLIGHTS_QUERY: &str = include_str!("../../queries/highlights.scm");
/// What can be folded.
pub const FOLDS_QUERY: &str = include_str!("../../queries/folds.scm");
/// Where the next line is indented.
pub const INDENTS_QUERY: &str = include_str!("../../queries/indents.scm");
/// Text in other languages.
pub const INJECTIONS_QUERY: &str = include_str!("../../queries/injections.scm");
/// What is declared where.
pub const LOCALS_QUERY: &str = include_str!("../../queries/locals.scm");
/// Shape of the tree: every kind of node with its fields and children, as JSON.
pub const NODE_TYPES: &str = include_str!("../../src/node-types.json");
