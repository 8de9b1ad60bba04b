//! How the function is called whose parentheses the cursor stands in.

use super::brackets::open_brackets;
use super::sight::Sight;
use crate::pages;
use crate::plan::function;
use tower_lsp::lsp_types::{
    Documentation, MarkupContent, MarkupKind, ParameterInformation, ParameterLabel, Position,
    SignatureHelp, SignatureInformation,
};

/// The call around the end of a text: the function's name and how many commas stand before the end.
fn call(text: &str) -> Option<(&str, usize)> {
    open_brackets(text)
        .find(|open| open.bracket == '(' && !open.head.is_empty())
        .map(|open| (open.head, open.commas))
}

/// Help for the call at a position.
pub(super) fn help(sight: &Sight<'_>, position: Position) -> Option<SignatureHelp> {
    // A call may go on over lines, but not over a statement.
    const FAR: usize = 4_000;
    let offset = sight.offset(position) as usize;
    let text = &sight.source.text;
    let mut start = offset.saturating_sub(FAR);
    while !text.is_char_boundary(start) {
        start += 1;
    }
    let (name, commas) = call(&text[start..offset])?;
    let function = function::find(name)?;
    let last = function.parameters.len().saturating_sub(1);
    let active = if function.variadic {
        commas.min(last)
    } else {
        commas
    };
    let parameters = function
        .parameters
        .iter()
        .map(|parameter| ParameterInformation {
            label: ParameterLabel::Simple(parameter.name.to_owned()),
            documentation: Some(Documentation::String(parameter.meaning.to_owned())),
        })
        .collect();
    Some(SignatureHelp {
        signatures: vec![SignatureInformation {
            label: pages::signature(function),
            documentation: Some(Documentation::MarkupContent(MarkupContent {
                kind: MarkupKind::Markdown,
                value: format!(
                    "{}\n\nsource: {}",
                    pages::escape(function.meaning),
                    pages::escape(function.source)
                ),
            })),
            parameters: Some(parameters),
            active_parameter: Some(active as u32),
        }],
        active_signature: Some(0),
        active_parameter: Some(active as u32),
    })
}

#[cfg(test)]
mod tests {
    use super::call;

    #[test]
    fn the_innermost_call_counts_its_own_commas() {
        assert_eq!(call("limit max(a, min(b, c), "), Some(("max", 2)));
        assert_eq!(call("x = f(r[U, V], 2, "), Some(("f", 2)));
        assert_eq!(call("x = (a + "), None);
        assert_eq!(call("x = f(r[U, "), Some(("f", 0)));
    }
}
