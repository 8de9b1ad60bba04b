//! The committed parser is what `grammar.js` gives, byte by byte: whoever changes the grammar and forgets
//! `tree-sitter generate --abi 14`, or changes the parser by hand, is told here.
//!
//! `grammar.js` is read by Node; without it the parser is generated from `src/grammar.json`, which then is
//! not compared itself.

use std::path::{Path, PathBuf};
use std::process::Command;
use tree_sitter_generate::{OptLevel, generate_parser_in_directory};

/// The oldest version that the generator writes: editors with an older runtime can load it.
const ABI: usize = 14;

fn generate(from: &Path, into: &Path) {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let mut said = Vec::new();
    let result = generate_parser_in_directory(
        root,
        Some(into),
        Some(from),
        ABI,
        None,
        None,
        true,
        OptLevel::default(),
        &mut said,
    );
    if let Err(error) = result {
        panic!("the grammar gives no parser: {error}");
    }
}

#[test]
fn the_committed_parser_is_what_the_grammar_gives() {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let node = Command::new("node").arg("--version").output();
    let has_node = node.is_ok_and(|output| output.status.success());
    assert!(
        has_node || std::env::var_os("STAGEBOOK_EDITORS").is_none(),
        "grammar.js has to be read with STAGEBOOK_EDITORS, and `node` is not on the path"
    );
    let from = if has_node {
        "grammar.js"
    } else {
        "src/grammar.json"
    };
    let into = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("generated");
    generate(&root.join(from), &into);
    let mut files = vec![
        "parser.c",
        "node-types.json",
        "tree_sitter/parser.h",
        "tree_sitter/alloc.h",
    ];
    if has_node {
        files.push("grammar.json");
    } else {
        eprintln!(
            "skipped, grammar.js is not compared with grammar.json: `node` is not on the path"
        );
    }
    for file in files {
        let fresh = std::fs::read_to_string(into.join(file)).expect("it was generated just now");
        let kept = std::fs::read_to_string(root.join("src").join(file)).expect("it is committed");
        assert!(
            fresh.trim_end() == kept.trim_end(),
            "src/{file} is not what {from} gives: run `tree-sitter generate --abi {ABI}`"
        );
    }
}
