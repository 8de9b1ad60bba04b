//! Whether to colour and whether block characters can be shown.

use clap::ValueEnum;

/// When to colour.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum ColorChoice {
    /// On a terminal, unless the environment says otherwise.
    #[default]
    Auto,
    /// Always.
    Always,
    /// Never.
    Never,
}

/// Decides on colour: the option first, then `NO_COLOR`, `CLICOLOR_FORCE`, `CLICOLOR`, then whether the
/// output is a terminal that can.
pub fn wanted(
    choice: ColorChoice,
    environment: impl Fn(&str) -> Option<String>,
    terminal: bool,
) -> bool {
    let set = |name: &str| environment(name).filter(|value| !value.is_empty());
    match choice {
        ColorChoice::Always => return true,
        ColorChoice::Never => return false,
        ColorChoice::Auto => {}
    }
    if set("NO_COLOR").is_some() {
        return false;
    }
    if set("CLICOLOR_FORCE").is_some_and(|value| value != "0") {
        return true;
    }
    if set("CLICOLOR").is_some_and(|value| value == "0") {
        return false;
    }
    terminal && set("TERM").is_none_or(|term| term != "dumb")
}

/// Whether the locale can show block characters: the first of `LC_ALL`, `LC_CTYPE` and `LANG` that is
/// set names UTF-8.
pub fn unicode(environment: impl Fn(&str) -> Option<String>) -> bool {
    let locale = ["LC_ALL", "LC_CTYPE", "LANG"]
        .iter()
        .find_map(|name| environment(name).filter(|value| !value.is_empty()));
    match locale {
        Some(locale) => {
            let locale = locale.to_lowercase();
            locale.contains("utf-8") || locale.contains("utf8")
        }
        None => cfg!(windows),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn with<'a>(pairs: &'a [(&'a str, &'a str)]) -> impl Fn(&str) -> Option<String> + 'a {
        move |name| {
            pairs
                .iter()
                .find(|(key, _)| *key == name)
                .map(|(_, value)| value.to_string())
        }
    }

    #[test]
    fn the_order_of_the_switches() {
        let auto =
            |pairs: &[(&str, &str)], terminal| wanted(ColorChoice::Auto, with(pairs), terminal);
        assert!(auto(&[], true));
        assert!(!auto(&[], false));
        assert!(!auto(&[("NO_COLOR", "1"), ("CLICOLOR_FORCE", "1")], true));
        assert!(auto(&[("NO_COLOR", ""), ("CLICOLOR_FORCE", "1")], false));
        assert!(auto(&[("CLICOLOR_FORCE", "1"), ("CLICOLOR", "0")], false));
        assert!(!auto(&[("CLICOLOR_FORCE", "0"), ("CLICOLOR", "0")], true));
        assert!(!auto(&[("CLICOLOR", "1")], false));
        assert!(!auto(&[("TERM", "dumb")], true));
        assert!(wanted(
            ColorChoice::Always,
            with(&[("NO_COLOR", "1")]),
            false
        ));
        assert!(!wanted(
            ColorChoice::Never,
            with(&[("CLICOLOR_FORCE", "1")]),
            true
        ));
    }

    #[test]
    fn the_locale_decides_on_blocks() {
        assert!(unicode(with(&[("LANG", "de_AT.UTF-8")])));
        assert!(!unicode(with(&[("LC_ALL", "C"), ("LANG", "de_AT.UTF-8")])));
    }
}
