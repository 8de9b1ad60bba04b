//! Tokens: the smallest pieces of the text, found by logos.

use logos::Logos;

/// What kind of piece.
#[derive(Logos, Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(u8)]
pub enum TokenKind {
    /// Blanks, tabs and the fixed-width blanks that come with pasted text.
    #[regex("[ \t\u{a0}\u{2009}\u{202f}]+")]
    Space,
    /// LF, CR LF, or a lone CR.
    #[regex("\r\n|\n|\r")]
    Newline,
    /// From `#` to the end of the line.
    #[regex("#[^\r\n]*", allow_greedy = true)]
    Comment,
    /// `"…"` with its closing quote.
    #[regex(r#""([^"\\\r\n]|\\[^\r\n])*""#)]
    Text,
    /// A text whose closing quote is missing.
    #[regex(r#""([^"\\\r\n]|\\[^\r\n])*"#)]
    OpenText,
    /// A decimal number.
    #[regex(r"[0-9]+(\.[0-9]+)?([eE][+-]?[0-9]+)?", priority = 10)]
    Number,
    /// `2026-03-02`, whether or not there is such a day.
    #[regex(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", priority = 11)]
    Date,
    /// `10:15` or `10:15:30`.
    #[regex(r"[0-9]{1,2}:[0-9]{2}(:[0-9]{2})?", priority = 11)]
    Time,
    /// Letters, digits and inner hyphens with at least one letter; also unit signs with a degree sign.
    #[regex(
        r"([0-9]+-)*[0-9]*[\p{L}_][\p{L}\p{N}_]*(-[\p{L}\p{N}_]+)*",
        priority = 3
    )]
    #[regex("°[CF]")]
    #[token("dB(A)", priority = 20)]
    Name,
    /// `n/a`
    #[token("n/a", priority = 20)]
    NotApplicable,
    /// `%`
    #[token("%")]
    Percent,
    /// `=`
    #[token("=")]
    Equals,
    /// `!=` or `≠`
    #[token("!=")]
    #[token("≠")]
    NotEqual,
    /// `<`
    #[token("<")]
    Less,
    /// `<=` or `≤`
    #[token("<=")]
    #[token("≤")]
    AtMost,
    /// `>`
    #[token(">")]
    Greater,
    /// `>=` or `≥`
    #[token(">=")]
    #[token("≥")]
    AtLeast,
    /// `[`
    #[token("[")]
    OpenBracket,
    /// `]`
    #[token("]")]
    CloseBracket,
    /// `(`
    #[token("(")]
    OpenParen,
    /// `)`
    #[token(")")]
    CloseParen,
    /// `,`
    #[token(",")]
    Comma,
    /// `:`
    #[token(":")]
    Colon,
    /// `..`
    #[token("..")]
    DotDot,
    /// `.`
    #[token(".")]
    Dot,
    /// `*`, `·` or `×`
    #[token("*")]
    #[token("·")]
    #[token("×")]
    Star,
    /// `/`
    #[token("/")]
    Slash,
    /// `^`
    #[token("^")]
    Caret,
    /// `+`
    #[token("+")]
    Plus,
    /// `-` or the minus sign `−`
    #[token("-")]
    #[token("−")]
    Minus,
    /// `+-` or `±`
    #[token("+-")]
    #[token("±")]
    PlusMinus,
    /// `?`
    #[token("?")]
    Question,
    /// A byte-order mark.
    #[token("\u{feff}")]
    ByteOrderMark,
    /// Anything else, one character at a time.
    Stray,
}

impl TokenKind {
    /// True for what separates tokens and means nothing by itself.
    pub fn is_trivia(self) -> bool {
        matches!(
            self,
            TokenKind::Space | TokenKind::Newline | TokenKind::Comment | TokenKind::ByteOrderMark
        )
    }
}

/// One token; it begins where the one before it ends.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Token {
    /// One past its last byte.
    pub end: u32,
    /// What it is.
    pub kind: TokenKind,
}

/// Cuts a whole text into tokens; their texts joined give the text again.
pub fn tokenize(text: &str) -> Vec<Token> {
    let mut tokens = Vec::with_capacity(text.len() / 3 + 4);
    tokenize_into(text, 0, &mut tokens);
    tokens
}

/// Cuts whole lines into tokens and puts them behind others; `base` is the first byte of the lines.
pub fn tokenize_into(text: &str, base: u32, tokens: &mut Vec<Token>) {
    let mut lexer = TokenKind::lexer(text);
    while let Some(result) = lexer.next() {
        let end = lexer.span().end as u32;
        match result {
            Ok(kind) => tokens.push(Token {
                end: base + end,
                kind,
            }),
            Err(()) => {
                // A fault may cover several characters; keep each as a token of its own.
                let start = lexer.span().start;
                for (at, character) in text[start..end as usize].char_indices() {
                    let end = base + (start + at + character.len_utf8()) as u32;
                    tokens.push(Token {
                        end,
                        kind: TokenKind::Stray,
                    });
                }
            }
        }
    }
}
