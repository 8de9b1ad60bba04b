//! Known faults of the protocol library, each with a test that its cure holds; and what else only a test inside the
//! program can provoke.

use super::serve;
use crate::workspace::Today;
use serde_json::{Value, json};
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncReadExt, AsyncWriteExt, DuplexStream, ReadHalf, WriteHalf, duplex, split};
use tokio::task::JoinHandle;

/// Longer than this is a hang.
const LONGEST: Duration = Duration::from_secs(60);

/// A client that keeps its end of the input open.
struct Talk {
    out: WriteHalf<DuplexStream>,
    back: ReadHalf<DuplexStream>,
    server: JoinHandle<Result<u8, String>>,
    next: i64,
    /// Everything that came besides answers.
    heard: Vec<Value>,
    /// Requests of the server are left unanswered.
    deaf: bool,
}

impl Talk {
    fn start() -> Talk {
        let (client, server) = duplex(1 << 20);
        let (out, back) = {
            let (back, out) = split(client);
            (out, back)
        };
        let (input, output) = split(server);
        let clock: super::Clock = Arc::new(|| Some(Today::Day(20_600)));
        let server = tokio::spawn(async move { serve(input, output, &clock).await });
        Talk {
            out,
            back,
            server,
            next: 1,
            heard: Vec::new(),
            deaf: false,
        }
    }

    async fn send(&mut self, message: &Value) {
        let text = message.to_string();
        let framed = format!("Content-Length: {}\r\n\r\n{text}", text.len());
        self.out
            .write_all(framed.as_bytes())
            .await
            .expect("the server reads");
    }

    async fn notify(&mut self, method: &str, params: Value) {
        self.send(&json!({ "jsonrpc": "2.0", "method": method, "params": params }))
            .await;
    }

    async fn ask(&mut self, method: &str, params: Value) -> i64 {
        let id = self.next;
        self.next += 1;
        let message = json!({ "jsonrpc": "2.0", "id": id, "method": method, "params": params });
        self.send(&message).await;
        id
    }

    async fn read(&mut self) -> Value {
        let read = async {
            let mut head = Vec::new();
            while !head.ends_with(b"\r\n\r\n") {
                head.push(self.back.read_u8().await.expect("the server writes"));
            }
            let head = String::from_utf8(head).expect("a header is ASCII");
            let length = head
                .lines()
                .find_map(|line| line.strip_prefix("Content-Length: ")?.parse().ok())
                .expect("a header gives the length");
            let mut body = vec![0; length];
            self.back
                .read_exact(&mut body)
                .await
                .expect("the server writes all of it");
            serde_json::from_slice(&body).expect("a message is JSON")
        };
        tokio::time::timeout(LONGEST, read)
            .await
            .expect("the server answers")
    }

    /// The answer to a question; what else comes is kept, and requests are answered with nothing.
    async fn answer(&mut self, id: i64) -> Value {
        loop {
            let message = self.read().await;
            if message.get("method").is_none() {
                if message["id"] == json!(id) {
                    return message;
                }
                self.heard.push(message);
                continue;
            }
            if let Some(own) = message.get("id").filter(|_| !self.deaf) {
                let result = json!({ "jsonrpc": "2.0", "id": own, "result": null });
                self.send(&result).await;
            }
            self.heard.push(message);
        }
    }

    async fn begin(&mut self, capabilities: Value) -> Value {
        let params = json!({ "processId": null, "rootUri": null, "capabilities": capabilities });
        let id = self.ask("initialize", params).await;
        let answer = self.answer(id).await;
        self.notify("initialized", json!({})).await;
        answer
    }

    async fn open(&mut self, uri: &str, text: &str) {
        let document = json!({ "uri": uri, "languageId": "ubr", "version": 0, "text": text });
        self.notify("textDocument/didOpen", json!({ "textDocument": document }))
            .await;
    }

    /// Reads until diagnostics of this version were pushed.
    async fn pushed(&mut self, version: i64) -> Vec<Value> {
        loop {
            let message = self.read().await;
            let params = &message["params"];
            if message["method"] == "textDocument/publishDiagnostics"
                && params["version"] == json!(version)
            {
                return params["diagnostics"]
                    .as_array()
                    .cloned()
                    .unwrap_or_default();
            }
        }
    }

    async fn end(self) -> u8 {
        let Talk { server, out, .. } = self;
        let status = tokio::time::timeout(LONGEST, server)
            .await
            .expect("the server ends")
            .expect("the server does not panic")
            .expect("the server could start");
        // The input was held open until now.
        drop(out);
        status
    }
}

#[tokio::test]
async fn exit_ends_the_server_although_its_input_stays_open() {
    let mut talk = Talk::start();
    talk.begin(json!({})).await;
    let id = talk.ask("shutdown", Value::Null).await;
    let answer = talk.answer(id).await;
    assert_eq!(
        (&answer["result"], answer.get("error")),
        (&Value::Null, None),
        "{answer}"
    );
    talk.notify("exit", Value::Null).await;
    assert_eq!(talk.end().await, super::ORDERLY);
}

#[tokio::test]
async fn exit_without_shutdown_is_told_by_the_status() {
    let mut talk = Talk::start();
    talk.begin(json!({})).await;
    talk.notify("exit", Value::Null).await;
    assert_eq!(talk.end().await, super::WITHOUT_SHUTDOWN);
}

#[tokio::test]
async fn fast_changes_apply_in_order() {
    const CHANGES: i64 = 1_500;
    let mut talk = Talk::start();
    talk.begin(json!({ "textDocument": { "diagnostic": {} } }))
        .await;
    let uri = "untitled:a";
    talk.open(uri, "unit T-1\n").await;
    // Each is typed where only the text of all before it makes the place right.
    let mut expected = String::from("unit T-1\n");
    for version in 1..=CHANGES {
        let new = format!("# {version}\n");
        let start = json!({ "line": version, "character": 0 });
        let change = json!({ "range": { "start": start, "end": start }, "text": new });
        let document = json!({ "uri": uri, "version": version });
        let params = json!({ "textDocument": document, "contentChanges": [change] });
        talk.notify("textDocument/didChange", params).await;
        expected += &new;
    }
    let id = talk.ask("test/text", json!({ "uri": uri })).await;
    let answer = talk.answer(id).await;
    assert_eq!(answer["result"].as_str(), Some(&*expected), "{answer}");
}

#[tokio::test]
async fn a_panic_is_answered_and_survived() {
    let mut talk = Talk::start();
    talk.begin(json!({})).await;
    talk.open("untitled:a", "unit T-1\n  plan nothing-like-it\n")
        .await;
    let before = talk.pushed(0).await;
    assert!(!before.is_empty());
    let id = talk.ask("test/panic", Value::Null).await;
    let answer = talk.answer(id).await;
    assert_eq!(answer["error"]["code"], json!(-32603), "{answer}");
    // What was open is still known, and judged anew.
    let change = json!({ "text": "unit T-1\n  plan nothing-like-it\n\n" });
    let params = json!({
        "textDocument": { "uri": "untitled:a", "version": 1 },
        "contentChanges": [change],
    });
    talk.notify("textDocument/didChange", params).await;
    assert_eq!(talk.pushed(1).await, before);
}

#[tokio::test]
async fn handlers_that_want_something_of_the_client_do_not_wait_for_it() {
    let mut talk = Talk::start();
    talk.begin(json!({})).await;
    talk.deaf = true;
    let mut asked = Vec::new();
    for _ in 0..8 {
        asked.push(talk.ask("test/askClient", Value::Null).await);
    }
    for id in asked {
        if talk
            .heard
            .iter()
            .any(|message| message["id"] == json!(id) && message.get("method").is_none())
        {
            continue;
        }
        assert!(talk.answer(id).await.get("error").is_none());
    }
}

#[tokio::test]
async fn what_is_pulled_is_not_pushed() {
    let mut talk = Talk::start();
    let answer = talk
        .begin(json!({ "textDocument": { "diagnostic": {} } }))
        .await;
    assert!(answer["result"]["capabilities"]["diagnosticProvider"].is_object());
    talk.open("untitled:a", "unit T-1\n  plan nothing-like-it\n")
        .await;
    let document = json!({ "textDocument": { "uri": "untitled:a" } });
    let id = talk.ask("textDocument/diagnostic", document.clone()).await;
    let first = talk.answer(id).await;
    assert_eq!(
        first["result"]["items"][0]["code"],
        json!("unknown-plan"),
        "{first}"
    );
    let known = json!({
        "textDocument": { "uri": "untitled:a" },
        "previousResultId": first["result"]["resultId"],
    });
    let id = talk.ask("textDocument/diagnostic", known).await;
    let second = talk.answer(id).await;
    assert_eq!(second["result"]["kind"], json!("unchanged"), "{second}");
    let pushed = |message: &Value| message["method"] == "textDocument/publishDiagnostics";
    assert!(!talk.heard.iter().any(pushed));
}

#[tokio::test]
async fn a_push_client_is_not_offered_to_pull() {
    let mut talk = Talk::start();
    let answer = talk.begin(json!({})).await;
    let capabilities = &answer["result"]["capabilities"];
    assert!(
        capabilities.get("diagnosticProvider").is_none(),
        "{capabilities}"
    );
    assert_eq!(capabilities["positionEncoding"], json!("utf-16"));
}
