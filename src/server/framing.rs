//! Messages as bytes. The protocol library ends for good at the first message that it cannot read; so each is looked at
//! before, and one that is malformed is passed on as a request that gets the error as its answer.

use serde::Deserialize;
use serde::de::IgnoredAny;
use tokio::io::{
    AsyncBufRead, AsyncBufReadExt, AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, BufReader,
};

/// The method under which a malformed message is passed on.
pub(super) const MALFORMED: &str = "stagebook/malformed";
/// More than this in one message is not read: the largest document, escaped, with room.
const LONGEST: usize = 1 << 30;
/// A header line longer than this is none.
const LONGEST_LINE: u64 = 4_096;

/// JSON-RPC's code for what is no JSON.
const PARSE_ERROR: i64 = -32_700;
/// JSON-RPC's code for JSON that is no message.
const INVALID_REQUEST: i64 = -32_600;

/// As much of a message as tells that it is one.
#[derive(Deserialize)]
struct Shape {
    jsonrpc: String,
    method: Option<String>,
    #[serde(default)]
    id: Option<IgnoredAny>,
    #[serde(default)]
    params: Option<Params>,
    #[serde(default)]
    result: Option<IgnoredAny>,
    #[serde(default)]
    error: Option<IgnoredAny>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum Params {
    Object(
        #[allow(dead_code, reason = "only its form counts")]
        std::collections::HashMap<String, IgnoredAny>,
    ),
    Array(#[allow(dead_code, reason = "only its form counts")] Vec<IgnoredAny>),
}

/// Passes messages on until the input ends.
pub(super) async fn pass_on(input: impl AsyncRead + Unpin, mut output: impl AsyncWrite + Unpin) {
    let mut input = BufReader::with_capacity(64 * 1024, input);
    while let Some(message) = read(&mut input).await {
        let body = match message.and_then(look) {
            Ok(body) => body,
            Err(code) => malformed(code),
        };
        let head = format!("Content-Length: {}\r\n\r\n", body.len());
        // Where the server has ended nobody reads any more.
        if output.write_all(head.as_bytes()).await.is_err()
            || output.write_all(&body).await.is_err()
        {
            return;
        }
    }
    // The other end sees that nothing more comes.
    let _ = output.shutdown().await;
}

fn malformed(code: i64) -> Vec<u8> {
    let message = serde_json::json!({
        "jsonrpc": "2.0",
        "id": null,
        "method": MALFORMED,
        "params": { "code": code },
    });
    message.to_string().into_bytes()
}

/// One message; the code of the error where its header says nothing of use; nothing where the input ends.
async fn read(input: &mut (impl AsyncBufRead + Unpin)) -> Option<Result<Vec<u8>, i64>> {
    let mut length = None;
    let mut any = false;
    loop {
        let mut line = Vec::new();
        let read = (&mut *input)
            .take(LONGEST_LINE)
            .read_until(b'\n', &mut line)
            .await
            .ok()?;
        if read == 0 {
            return None;
        }
        let line = String::from_utf8_lossy(&line);
        let line = line.trim();
        if line.is_empty() {
            match any {
                true => break,
                // Blank lines between messages mean nothing.
                false => continue,
            }
        }
        any = true;
        if let Some((name, value)) = line.split_once(':')
            && name.trim().eq_ignore_ascii_case("content-length")
        {
            length = value.trim().parse::<usize>().ok();
        }
    }
    let Some(length) = length.filter(|length| *length <= LONGEST) else {
        return Some(Err(PARSE_ERROR));
    };
    let mut body = Vec::new();
    // Grown as bytes come: what the header promises need not come.
    let read = (&mut *input)
        .take(length as u64)
        .read_to_end(&mut body)
        .await
        .ok()?;
    (read == length).then_some(Ok(body))
}

/// The message itself where it is one.
fn look(body: Vec<u8>) -> Result<Vec<u8>, i64> {
    match serde_json::from_slice::<Shape>(&body) {
        Ok(shape) => {
            let asks = shape.method.is_some();
            let answers = shape.id.is_some() && (shape.result.is_some() || shape.error.is_some());
            let empty_answer = shape.id.is_some() && shape.params.is_none() && !asks;
            match shape.jsonrpc == "2.0" && (asks || answers || empty_answer) {
                true => Ok(body),
                false => Err(INVALID_REQUEST),
            }
        }
        Err(error) if error.is_data() => Err(INVALID_REQUEST),
        Err(_) => Err(PARSE_ERROR),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    async fn passed(bytes: &[u8]) -> String {
        let mut out = Vec::new();
        pass_on(bytes, &mut out).await;
        String::from_utf8(out).expect("messages are text")
    }

    #[tokio::test]
    async fn a_good_message_passes_byte_by_byte() {
        let body = r#"{"jsonrpc":"2.0","method":"exit","params":null}"#;
        let framed = format!("Content-Length: {}\r\n\r\n{body}", body.len());
        assert_eq!(passed(framed.as_bytes()).await, framed);
    }

    #[tokio::test]
    async fn what_is_malformed_becomes_an_error_and_the_next_passes() {
        let good = r#"{"jsonrpc":"2.0","id":1,"result":null}"#;
        let framed = |body: &str| format!("Content-Length: {}\r\n\r\n{body}", body.len());
        for (bad, code) in [
            (framed("{ no"), PARSE_ERROR),
            (framed("[]"), INVALID_REQUEST),
            (framed(r#"{"jsonrpc":"1.0","method":"x"}"#), INVALID_REQUEST),
            (framed(r#"{"jsonrpc":"2.0","method":7}"#), INVALID_REQUEST),
            (
                framed(r#"{"jsonrpc":"2.0","method":"x","params":3}"#),
                INVALID_REQUEST,
            ),
            ("Content-Length: many\r\n\r\n".to_owned(), PARSE_ERROR),
            ("Nonsense\r\n\r\n".to_owned(), PARSE_ERROR),
        ] {
            let out = passed(format!("{bad}{}", framed(good)).as_bytes()).await;
            assert!(out.contains(&format!("\"code\":{code}")), "{bad}: {out}");
            assert!(out.ends_with(&framed(good)), "{bad}: {out}");
        }
    }
}
