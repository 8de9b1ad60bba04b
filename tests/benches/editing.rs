//! How fast the language server answers somebody who types.
//!
//! `cargo bench --bench editing` starts the program, opens generated records of 100 to 100,000 lines and replays an editing
//! session in each: lines and values typed letter by letter, deletions, pasted lines, undone edits, saves. Prints the time from a change
//! sent to its diagnostics received, and of hover and completion after a change, as a client sees them: median, 99th
//! percentile and worst; then the time to answer `initialize`, and the memory with 1,000 open records.

mod generated;

use generated::{PLAN, REGISTER, record};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::{Duration, Instant};

struct Talk {
    child: Child,
    out: ChildStdin,
    input: BufReader<ChildStdout>,
    next: i64,
}

impl Talk {
    fn start(root: &Path) -> (Talk, Duration) {
        let began = Instant::now();
        let mut child = Command::new(env!("CARGO_BIN_EXE_stagebook"))
            .args(["lsp", "--today", "2026-11-25"])
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .expect("the program was built");
        let out = child.stdin.take().expect("it was asked for");
        let input = BufReader::new(child.stdout.take().expect("it was asked for"));
        let mut talk = Talk {
            child,
            out,
            input,
            next: 1,
        };
        let uri = uri(root);
        let folders = json!([{ "uri": uri, "name": "bench" }]);
        let capabilities = json!({ "textDocument": { "diagnostic": {} } });
        talk.ask(
            "initialize",
            &json!({ "processId": null, "rootUri": null, "capabilities": capabilities, "workspaceFolders": folders }),
        );
        let took = began.elapsed();
        talk.notify("initialized", &json!({}));
        (talk, took)
    }

    fn send(&mut self, message: &Value) {
        let text = message.to_string();
        let framed = format!("Content-Length: {}\r\n\r\n{text}", text.len());
        self.out
            .write_all(framed.as_bytes())
            .expect("the server reads");
        self.out.flush().expect("the server reads");
    }

    fn notify(&mut self, method: &str, params: &Value) {
        self.send(&json!({ "jsonrpc": "2.0", "method": method, "params": params }));
    }

    fn ask(&mut self, method: &str, params: &Value) -> Value {
        let id = self.next;
        self.next += 1;
        self.send(&json!({ "jsonrpc": "2.0", "id": id, "method": method, "params": params }));
        loop {
            let message = self.read();
            if message["id"] == json!(id) {
                assert!(message.get("error").is_none(), "{message}");
                return message["result"].clone();
            }
        }
    }

    fn read(&mut self) -> Value {
        let mut length = 0;
        loop {
            let mut line = String::new();
            self.input.read_line(&mut line).expect("the server writes");
            let line = line.trim_end();
            if line.is_empty() {
                break;
            }
            if let Some(own) = line.strip_prefix("Content-Length: ") {
                length = own.parse().expect("a length is a number");
            }
        }
        let mut body = vec![0; length];
        self.input
            .read_exact(&mut body)
            .expect("the server writes all of it");
        serde_json::from_slice(&body).expect("a message is JSON")
    }

    fn open(&mut self, uri: &str, text: &str) {
        let document = json!({ "uri": uri, "languageId": "ubr", "version": 0, "text": text });
        self.notify("textDocument/didOpen", &json!({ "textDocument": document }));
    }

    /// Resident memory in MB, where the system tells it.
    fn memory(&self) -> Option<u64> {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).ok()?;
        let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
        line.split_whitespace()
            .nth(1)?
            .parse::<u64>()
            .ok()
            .map(|kb| kb / 1024)
    }
}

impl Drop for Talk {
    fn drop(&mut self) {
        // It has nothing to lose.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn uri(path: &Path) -> String {
    format!("file://{}", path.display())
}

/// A change as an editor sends it: from a line and column (from 0) to another, and what comes in their place.
struct Edit<'t> {
    from: (usize, usize),
    to: (usize, usize),
    new: &'t str,
}

impl<'t> Edit<'t> {
    fn put(line: usize, column: usize, new: &'t str) -> Edit<'t> {
        let at = (line, column);
        Edit {
            from: at,
            to: at,
            new,
        }
    }

    fn take(from: (usize, usize), to: (usize, usize)) -> Edit<'t> {
        Edit { from, to, new: "" }
    }
}

/// At least `count` changes of a record, each soon undone, so that it stays what it is.
fn edits(text: &str, count: usize) -> Vec<Edit<'_>> {
    let lines: Vec<&str> = text.lines().collect();
    let mut seed = 7_u64;
    let mut dice = |below: usize| {
        seed ^= seed << 13;
        seed ^= seed >> 7;
        seed ^= seed << 17;
        (seed % below as u64) as usize
    };
    let mut all = Vec::new();
    while all.len() < count {
        // Below the head, where readings are recorded.
        let line = 14 + dice(lines.len().saturating_sub(20).max(1));
        match dice(4) {
            0 if lines[line].starts_with("    ") => {
                // The last value of a row taken out letter by letter, and typed again.
                let end = lines[line].len();
                let start = lines[line].rfind(' ').map_or(0, |at| at + 1);
                for column in (start..end).rev() {
                    all.push(Edit::take((line, column), (line, column + 1)));
                }
                for column in start..end {
                    all.push(Edit::put(line, column, &lines[line][column..=column]));
                }
            }
            0 => {
                // A line typed letter by letter where the editor has put its indentation, then taken back.
                all.push(Edit::put(line, 0, "  \n"));
                let mut column = 2;
                for letter in ["n", "o", "t", "e", " ", "\"", "o", "k", "\""] {
                    all.push(Edit::put(line, column, letter));
                    column += 1;
                }
                while column > 2 {
                    column -= 1;
                    all.push(Edit::take((line, column), (line, column + 1)));
                }
                all.push(Edit::take((line, 0), (line + 1, 0)));
            }
            1 => {
                // Two lines pasted, undone.
                let pasted = "    # pasted\n    # as two lines\n";
                all.push(Edit::put(line, 0, pasted));
                all.push(Edit::take((line, 0), (line + 2, 0)));
            }
            2 => {
                // A digit too many, undone.
                let column = lines[line].len().min(14);
                all.push(Edit::put(line, column, "9"));
                all.push(Edit::take((line, column), (line, column + 1)));
            }
            _ => {
                // A line lost, brought back.
                all.push(Edit::put(line, 0, "# "));
                all.push(Edit::take((line, 0), (line, 2)));
            }
        }
    }
    all
}

fn figures(mut times: Vec<Duration>) -> String {
    times.sort();
    let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize].as_secs_f64() * 1000.0;
    format!(
        "p50 {:8.2}  p99 {:8.2}  worst {:8.2} ms",
        at(0.5),
        at(0.99),
        at(1.0)
    )
}

fn main() {
    let folder = std::env::temp_dir().join(format!("stagebook-editing-{}", std::process::id()));
    std::fs::create_dir_all(folder.join(".git")).expect("a folder can be made");
    std::fs::write(folder.join("plan.ubr"), PLAN).expect("a file can be written");
    std::fs::write(folder.join("register.ubr"), REGISTER).expect("a file can be written");
    for (lines, count) in [(100, 400), (1_000, 400), (10_000, 200), (100_000, 40)] {
        let (mut talk, _) = Talk::start(&folder);
        let uri = uri(&folder.join("T-1.ubr"));
        let text = record("T-1", lines);
        talk.open(&uri, &text);
        let id = json!({ "textDocument": { "uri": uri } });
        talk.ask("textDocument/diagnostic", &id);
        let (mut found, mut hovers, mut completions) = (Vec::new(), Vec::new(), Vec::new());
        for (version, edit) in edits(&text, count).into_iter().enumerate() {
            let place = |(line, column)| json!({ "line": line, "character": column });
            let start = place(edit.from);
            let range = json!({ "start": start, "end": place(edit.to) });
            let change = json!({ "range": range, "text": edit.new });
            let document = json!({ "uri": uri, "version": version + 1 });
            let params = json!({ "textDocument": document, "contentChanges": [change] });
            let at = json!({ "textDocument": { "uri": uri }, "position": start });
            let began = Instant::now();
            talk.notify("textDocument/didChange", &params);
            talk.ask("textDocument/diagnostic", &id);
            found.push(began.elapsed());
            let began = Instant::now();
            talk.ask("textDocument/hover", &at);
            hovers.push(began.elapsed());
            let began = Instant::now();
            talk.ask("textDocument/completion", &at);
            completions.push(began.elapsed());
            if version % 50 == 49 {
                talk.notify("textDocument/didSave", &id);
            }
        }
        let left = talk.ask("textDocument/diagnostic", &id);
        assert_eq!(left["items"], json!([]), "the record is whole again");
        println!(
            "{lines:>7} lines  change to diagnostics  {}",
            figures(found)
        );
        println!("               hover                  {}", figures(hovers));
        println!(
            "               completion             {}",
            figures(completions)
        );
    }
    let starts: Vec<Duration> = (0..30).map(|_| Talk::start(&folder).1).collect();
    println!("start to the answer of initialize     {}", figures(starts));
    let (mut talk, _) = Talk::start(&folder);
    for number in 0..1_000 {
        let name = format!("U-{number}");
        let uri = uri(&folder.join(format!("{name}.ubr")));
        talk.open(&uri, &record(&name, 100));
    }
    let last = json!({ "textDocument": { "uri": uri(&folder.join("U-999.ubr")) } });
    talk.ask("textDocument/diagnostic", &last);
    match talk.memory() {
        Some(memory) => println!("1,000 open records of 100 lines       {memory} MB"),
        None => println!("1,000 open records of 100 lines       memory is not told by this system"),
    }
    drop(talk);
    // What could not be removed lies in the folder for temporary files.
    let _ = std::fs::remove_dir_all(&folder);
}
