//! Makes any text safe to print: control bytes and invisible direction marks are shown as signs, never
//! sent to the terminal.

use std::borrow::Cow;

/// One character as it may be printed; always exactly one character, so columns stay as they are.
pub fn character(character: char) -> char {
    match character {
        '\u{0}'..='\u{1F}' => char::from_u32(0x2400 + character as u32).unwrap_or('\u{FFFD}'),
        '\u{7F}' => '\u{2421}',
        '\u{80}'..='\u{9F}'
        | '\u{200B}'..='\u{200F}'
        | '\u{2028}'..='\u{202E}'
        | '\u{2060}'..='\u{206F}'
        | '\u{FEFF}'
        | '\u{E000}'..='\u{F8FF}' => '\u{FFFD}',
        other => other,
    }
}

/// A text of one line as it may be printed.
pub fn text(text: &str) -> Cow<'_, str> {
    if text.chars().all(|each| character(each) == each) {
        Cow::Borrowed(text)
    } else {
        Cow::Owned(text.chars().map(character).collect())
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn escape_sequences_lose_their_power() {
        assert_eq!(super::text("a\u{1b}[2Jb\0"), "a␛[2Jb␀");
        assert_eq!(super::text("23.4 °C ± 1 Ω"), "23.4 °C ± 1 Ω");
        assert_eq!(super::text("x\u{202E}y"), "x\u{FFFD}y");
    }
}
