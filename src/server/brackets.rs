//! The brackets that stand open at a place of a text that is being typed.

/// A bracket that is not closed before the place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Open<'t> {
    /// `(` or `[`.
    pub bracket: char,
    /// The name directly before it, dots and all; empty where none is.
    pub head: &'t str,
    /// How many commas of its own stand between it and the place.
    pub commas: usize,
}

/// The brackets open at the end of a text, the innermost first.
pub(super) fn open_brackets(text: &str) -> impl Iterator<Item = Open<'_>> {
    let mut closed = 0;
    let mut commas = 0;
    text.char_indices()
        .rev()
        .filter_map(move |(at, character)| {
            match character {
                ')' | ']' => closed += 1,
                '(' | '[' if closed > 0 => closed -= 1,
                '(' | '[' => {
                    let open = Open {
                        bracket: character,
                        head: &text[name_start(&text[..at], &['-', '_', '.'])..at],
                        commas,
                    };
                    // What stood inside belongs to it.
                    commas = 0;
                    return Some(open);
                }
                ',' if closed == 0 => commas += 1,
                _ => {}
            }
            None
        })
}

/// Where the run of letters, digits and these characters at the end of a text begins.
pub(super) fn name_start(text: &str, besides: &[char]) -> usize {
    text.char_indices()
        .rev()
        .take_while(|(_, own)| own.is_alphanumeric() || besides.contains(own))
        .last()
        .map_or(text.len(), |(at, _)| at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_open_bracket_counts_its_own_commas() {
        let all = |text| -> Vec<(char, &str, usize)> {
            open_brackets(text)
                .map(|open| (open.bracket, open.head, open.commas))
                .collect()
        };
        assert_eq!(all("limit max(a, min(b, c), "), [('(', "max", 2)]);
        assert_eq!(
            all("x = f(r[U, V], 2, s.q[W, "),
            [('[', "s.q", 1), ('(', "f", 2)]
        );
        assert_eq!(all("x = (a + "), [('(', "", 0)]);
        assert_eq!(all("x = f(a)"), []);
    }
}
