//! The TextMate grammar in the engine of the editors that use it, under Node.

use super::Colours;
use super::documents::{Document, root};
use serde_json::{Value, json};
use std::io::Write;
use std::ops::Range;
use std::path::PathBuf;
use std::process::{Command, Stdio};

/// What the grammar shows at the beginning of a line.
pub struct Shown {
    /// Where the scope of a statement word is, in UTF-16.
    pub word: Option<Range<usize>>,
    /// The first word of the line has the scope of a reading's name.
    pub reading: bool,
}

/// Why the grammar can't be run here.
fn skip(why: &str) -> Option<Value> {
    assert!(
        std::env::var_os("STAGEBOOK_EDITORS").is_none(),
        "the TextMate grammar has to be tested with STAGEBOOK_EDITORS: {why}"
    );
    eprintln!("skipped, the TextMate grammar is not tested: {why}");
    None
}

fn modules() -> Option<PathBuf> {
    ["target/ci-editors/textmate", "grammar/textmate/test"]
        .iter()
        .map(|folder| root().join(folder).join("node_modules"))
        .find(|folder| folder.join("vscode-textmate").is_dir())
}

/// Runs the engine over all documents at once; none where it is not installed.
fn run(request: &Value) -> Option<Value> {
    let Some(modules) = modules() else {
        return skip("run `npm ci` in grammar/textmate/test");
    };
    let child = Command::new("node")
        .arg(root().join("grammar/textmate/test/scopes.js"))
        .env("NODE_PATH", modules)
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn();
    let Ok(mut child) = child else {
        return skip("`node` is not on the path");
    };
    let mut input = child.stdin.take().expect("its input is a pipe");
    input
        .write_all(request.to_string().as_bytes())
        .expect("the engine reads its input");
    drop(input);
    let output = child.wait_with_output().expect("the engine ends by itself");
    assert!(output.status.success(), "the engine failed");
    Some(serde_json::from_slice(&output.stdout).expect("the engine answers in JSON"))
}

fn request(documents: &[Document], what: &str) -> Value {
    let texts: Vec<&str> = documents
        .iter()
        .map(|document| document.text.as_str())
        .collect();
    json!({
        "grammar": root().join("grammar/textmate/ubr.tmLanguage.json"),
        "what": what,
        "texts": texts,
    })
}

/// For each line of each document what its beginning shows.
pub fn statement_words(documents: &[Document]) -> Option<Vec<Vec<Shown>>> {
    let answer = run(&request(documents, "statement words"))?;
    let texts = answer.as_array().expect("one answer a text");
    let lines = |text: &Value| {
        let lines = text.as_array().expect("one answer a line");
        lines.iter().map(shown).collect()
    };
    Some(texts.iter().map(lines).collect())
}

fn number(value: &Value) -> usize {
    value.as_u64().expect("a column") as usize
}

fn shown(line: &Value) -> Shown {
    let word = &line["word"];
    Shown {
        word: word.is_array().then(|| number(&word[0])..number(&word[1])),
        reading: line["reading"] == true,
    }
}

/// All scopes of all documents.
pub fn scopes(documents: &[Document]) -> Option<Vec<Colours>> {
    let answer = run(&request(documents, "scopes"))?;
    let texts = answer.as_array().expect("one answer a text").iter();
    Some(
        texts
            .zip(documents)
            .map(|(lines, document)| {
                let lines = lines.as_array().expect("one answer a line");
                let sources = document.text.lines();
                lines
                    .iter()
                    .zip(sources)
                    .enumerate()
                    .map(|(number, (tokens, source))| (number, ranges(tokens, source)))
                    .collect()
            })
            .collect(),
    )
}

fn ranges(tokens: &Value, source: &str) -> Vec<(usize, usize, Vec<String>)> {
    let byte = |column: usize| {
        let mut units = 0;
        for (at, character) in source.char_indices() {
            if units >= column {
                return at;
            }
            units += character.len_utf16();
        }
        source.len()
    };
    let tokens = tokens.as_array().expect("one entry a token");
    tokens
        .iter()
        .map(|token| {
            let scopes = token[2].as_array().expect("a list of scopes");
            let names = scopes
                .iter()
                .map(|scope| scope.as_str().unwrap_or_default().to_owned());
            (
                byte(number(&token[0])),
                byte(number(&token[1])),
                names.collect(),
            )
        })
        .collect()
}
