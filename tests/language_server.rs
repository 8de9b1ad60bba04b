//! The language server as a process: malformed messages, messages in the wrong order, floods, and its end.

mod common;

use common::{LONGEST, TODAY, project};
use serde_json::{Value, json};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

/// A connection to a server.
struct Talk {
    out: Box<dyn Write>,
    messages: Receiver<Value>,
    next: i64,
}

impl Talk {
    fn new(input: impl Read + Send + 'static, out: impl Write + 'static) -> Talk {
        let (sender, messages) = channel();
        std::thread::spawn(move || {
            let mut input = BufReader::new(input);
            while let Some(message) = read(&mut input) {
                if sender.send(message).is_err() {
                    return;
                }
            }
        });
        Talk {
            out: Box::new(out),
            messages,
            next: 1,
        }
    }

    fn raw(&mut self, bytes: &[u8]) {
        self.out.write_all(bytes).expect("the server reads");
        self.out.flush().expect("the server reads");
    }

    fn body(&mut self, text: &str) {
        self.raw(format!("Content-Length: {}\r\n\r\n{text}", text.len()).as_bytes());
    }

    fn notify(&mut self, method: &str, params: &Value) {
        let message = json!({ "jsonrpc": "2.0", "method": method, "params": params });
        self.body(&message.to_string());
    }

    fn ask(&mut self, method: &str, params: &Value) -> Value {
        let id = self.next;
        self.next += 1;
        let message = json!({ "jsonrpc": "2.0", "id": id, "method": method, "params": params });
        self.body(&message.to_string());
        self.wait(|message| message["id"] == json!(id) && message.get("method").is_none())
    }

    fn wait(&mut self, wanted: impl Fn(&Value) -> bool) -> Value {
        let end = Instant::now() + LONGEST;
        loop {
            let left = end.saturating_duration_since(Instant::now());
            let message = self
                .messages
                .recv_timeout(left)
                .expect("the server answers");
            if wanted(&message) {
                return message;
            }
        }
    }

    fn begin(&mut self) -> Value {
        let capabilities = json!({ "textDocument": { "diagnostic": {} } });
        let params = json!({ "processId": null, "rootUri": null, "capabilities": capabilities });
        let answer = self.ask("initialize", &params);
        self.notify("initialized", &json!({}));
        answer
    }

    fn open(&mut self, uri: &str, text: &str) {
        let document = json!({ "uri": uri, "languageId": "ubr", "version": 0, "text": text });
        self.notify("textDocument/didOpen", &json!({ "textDocument": document }));
    }

    fn diagnostics(&mut self, uri: &str) -> Value {
        let answer = self.ask(
            "textDocument/diagnostic",
            &json!({ "textDocument": { "uri": uri } }),
        );
        answer["result"]["items"].clone()
    }
}

fn read(input: &mut impl BufRead) -> Option<Value> {
    let mut length = 0;
    loop {
        let mut line = String::new();
        if input.read_line(&mut line).ok()? == 0 {
            return None;
        }
        let line = line.trim_end();
        if line.is_empty() {
            break;
        }
        if let Some(own) = line.strip_prefix("Content-Length: ") {
            length = own.parse().ok()?;
        }
    }
    let mut body = vec![0; length];
    input.read_exact(&mut body).ok()?;
    serde_json::from_slice(&body).ok()
}

/// A server as a process, ended with the test.
struct Server {
    child: Child,
    talk: Talk,
}

impl Server {
    fn start() -> Server {
        let mut child = Command::new(env!("CARGO_BIN_EXE_stagebook"))
            .args(["lsp", "--today", TODAY])
            .current_dir(project())
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("the program can be started");
        let input = child.stdout.take().expect("it was asked for");
        let out = child.stdin.take().expect("it was asked for");
        Server {
            child,
            talk: Talk::new(input, out),
        }
    }

    /// Waits for the process to end, with its input held open.
    fn status(&mut self) -> Option<i32> {
        let end = Instant::now() + LONGEST;
        while Instant::now() < end {
            if let Some(status) = self.child.try_wait().expect("it can be waited for") {
                return status.code();
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        panic!("the server does not end");
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

const SMALL: &str = "unit T-1\n  plan nothing-like-it\n";

#[test]
fn the_process_ends_as_the_protocol_says() {
    let mut server = Server::start();
    server.talk.begin();
    let answer = server.talk.ask("shutdown", &Value::Null);
    assert!(answer.get("error").is_none(), "{answer}");
    // After `shutdown` nothing is answered any more but with an error.
    let late = server.talk.ask("textDocument/hover", &json!({}));
    assert_eq!(late["error"]["code"], json!(-32600), "{late}");
    server.talk.notify("exit", &Value::Null);
    assert_eq!(server.status(), Some(0));
    let mut server = Server::start();
    server.talk.begin();
    server.talk.notify("exit", &Value::Null);
    assert_eq!(server.status(), Some(1));
}

#[test]
fn a_closed_input_ends_it_too() {
    let mut server = Server::start();
    server.talk.begin();
    server.talk.out = Box::new(std::io::sink());
    assert_eq!(server.status(), Some(1));
}

#[test]
fn malformed_messages_get_errors_and_the_next_is_understood() {
    let mut server = Server::start();
    let talk = &mut server.talk;
    talk.begin();
    talk.body("{ this is no JSON");
    let answer = talk.wait(|message| message["id"].is_null() && message.get("error").is_some());
    assert_eq!(answer["error"]["code"], json!(-32700), "{answer}");
    talk.body("{\"jsonrpc\":\"2.0\"}");
    let answer = talk.wait(|message| message["id"].is_null() && message.get("error").is_some());
    assert_eq!(answer["error"]["code"], json!(-32600), "{answer}");
    talk.raw(b"Content-Type: nonsense\r\n\r\n");
    talk.raw(b"Content-Length: seven\r\n\r\n");
    let unknown = talk.ask("textDocument/somethingElse", &json!({}));
    assert_eq!(unknown["error"]["code"], json!(-32601), "{unknown}");
    let wrong = talk.ask("textDocument/hover", &json!({ "position": "here" }));
    assert_eq!(wrong["error"]["code"], json!(-32602), "{wrong}");
    talk.open("untitled:a", SMALL);
    assert_eq!(
        talk.diagnostics("untitled:a")[0]["code"],
        json!("unknown-plan")
    );
}

#[test]
fn messages_in_the_wrong_order_get_errors() {
    let mut server = Server::start();
    let talk = &mut server.talk;
    let early = talk.ask(
        "textDocument/hover",
        &json!({ "textDocument": { "uri": "untitled:a" }, "position": { "line": 0, "character": 0 } }),
    );
    assert_eq!(early["error"]["code"], json!(-32002), "{early}");
    talk.begin();
    let params = json!({ "processId": null, "rootUri": null, "capabilities": {} });
    let again = talk.ask("initialize", &params);
    assert_eq!(again["error"]["code"], json!(-32600), "{again}");
    // Changed, saved and closed without having been opened.
    let change = json!({ "textDocument": { "uri": "untitled:b", "version": 3 }, "contentChanges": [{ "text": "x" }] });
    talk.notify("textDocument/didChange", &change);
    let id = json!({ "textDocument": { "uri": "untitled:b" } });
    talk.notify("textDocument/didSave", &id);
    talk.notify("textDocument/didClose", &id);
    // Opened twice: the latter text counts.
    talk.open("untitled:a", "unit T-0\n");
    talk.open("untitled:a", SMALL);
    assert_eq!(
        talk.diagnostics("untitled:a")[0]["code"],
        json!("unknown-plan")
    );
    talk.notify(
        "textDocument/didClose",
        &json!({ "textDocument": { "uri": "untitled:a" } }),
    );
    let closed = talk.ask(
        "textDocument/diagnostic",
        &json!({ "textDocument": { "uri": "untitled:a" } }),
    );
    assert_eq!(closed["error"]["code"], json!(-32602), "{closed}");
}

#[test]
fn ten_thousand_changes_without_waiting_come_to_the_last_text() {
    let mut server = Server::start();
    let talk = &mut server.talk;
    talk.begin();
    talk.open("untitled:a", "\n");
    for version in 1..=10_000 {
        // Typed in front, so that each moves what is there.
        let start = json!({ "line": 0, "character": 0 });
        let change = json!({ "range": { "start": start, "end": start }, "text": "#" });
        let params = json!({
            "textDocument": { "uri": "untitled:a", "version": version },
            "contentChanges": [change],
        });
        talk.notify("textDocument/didChange", &params);
    }
    let far = json!({ "line": 0, "character": 10_000 });
    let change = json!({ "range": { "start": far, "end": far }, "text": "\nunit T-1\n  plan nothing-like-it\n" });
    let params = json!({ "textDocument": { "uri": "untitled:a", "version": 10_001 }, "contentChanges": [change] });
    talk.notify("textDocument/didChange", &params);
    let found = talk.diagnostics("untitled:a");
    assert_eq!(found[0]["code"], json!("unknown-plan"), "{found}");
    assert_eq!(found[0]["range"]["start"]["line"], json!(2));
}

#[test]
fn a_huge_document_is_read() {
    let mut server = Server::start();
    let talk = &mut server.talk;
    talk.begin();
    let mut text = String::from("unit T-1\n  plan oil-immersed-power\nstage winding\n");
    for _ in 0..100_000 {
        text += "  note \"nothing °\"\n";
    }
    text += "  nonsense\n";
    talk.open("untitled:a", &text);
    let found = talk.diagnostics("untitled:a");
    let last = json!(100_003);
    let lines = found.as_array().expect("a list").iter();
    assert!(
        lines
            .map(|one| &one["range"]["start"]["line"])
            .any(|line| *line == last),
        "{found}"
    );
}

#[test]
fn a_cancelled_request_is_answered_as_cancelled() {
    let mut server = Server::start();
    let talk = &mut server.talk;
    talk.begin();
    talk.open("untitled:a", SMALL);
    let id = talk.next;
    talk.next += 1;
    let params = json!({ "textDocument": { "uri": "untitled:a" } });
    let ask = json!({ "jsonrpc": "2.0", "id": id, "method": "textDocument/diagnostic", "params": params });
    let cancel = json!({ "jsonrpc": "2.0", "method": "$/cancelRequest", "params": { "id": id } });
    talk.body(&ask.to_string());
    talk.body(&cancel.to_string());
    // Either the answer was ready, or it is told to be cancelled; nothing hangs.
    let answer = talk.wait(|message| message["id"] == json!(id));
    let cancelled = answer["error"]["code"] == json!(-32800);
    assert!(cancelled || answer.get("result").is_some(), "{answer}");
    assert_eq!(
        talk.diagnostics("untitled:a")[0]["code"],
        json!("unknown-plan")
    );
}

#[test]
fn one_client_is_served_on_a_local_connection() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_stagebook"))
        .args(["lsp", "--listen", "127.0.0.1:0"])
        .stderr(Stdio::piped())
        .spawn()
        .expect("the program can be started");
    let mut line = String::new();
    BufReader::new(child.stderr.take().expect("it was asked for"))
        .read_line(&mut line)
        .expect("it says where it listens");
    let address = line
        .trim()
        .rsplit(' ')
        .next()
        .expect("the address is last")
        .to_owned();
    let stream = TcpStream::connect(&address).expect("it can be connected to");
    let input = stream.try_clone().expect("a stream has two ends");
    let talk = Talk::new(input, stream);
    let mut server = Server { child, talk };
    server.talk.begin();
    server.talk.open("untitled:a", SMALL);
    assert_eq!(
        server.talk.diagnostics("untitled:a")[0]["code"],
        json!("unknown-plan")
    );
    server.talk.ask("shutdown", &Value::Null);
    server.talk.notify("exit", &Value::Null);
    assert_eq!(server.status(), Some(0));
}

#[test]
fn it_listens_to_this_machine_only() {
    let said = Command::new(env!("CARGO_BIN_EXE_stagebook"))
        .args(["lsp", "--listen", "0.0.0.0:0"])
        .output()
        .expect("the program can be started");
    assert_eq!(said.status.code(), Some(2));
    let err = String::from_utf8_lossy(&said.stderr);
    assert!(
        err.contains("expected an address of this machine itself"),
        "{err}"
    );
}
