//! Settings: what the client may choose. Each is documented here and in the README; what is not given keeps its
//! default, what cannot be read is told and keeps its default too.

use serde::Deserialize;
use serde_json::Value;
use tower_lsp::lsp_types::MessageType;

/// The name under which an editor keeps them.
pub(super) const SECTION: &str = "stagebook";

/// All settings.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(rename_all = "camelCase", default)]
pub(super) struct Settings {
    /// Whether what is still to be recorded is shown, as hints.
    pub pending: bool,
    /// Whether findings that somebody accepted are shown, as hints.
    pub accepted: bool,
    /// Whether the documents of the folders are looked through, and not only those that are open.
    pub workspace: bool,
    /// Which inlay hints are shown.
    pub inlay_hints: InlayHints,
    /// Whether lenses are shown above stages and plan readings.
    pub code_lens: bool,
    /// What is written to the client's log.
    pub log_level: LogLevel,
}

/// Which inlay hints are shown.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "camelCase", default)]
pub(super) struct InlayHints {
    /// How far a reading is from what it should be.
    pub deviation: bool,
    /// Calculated values that rest on one reading, such as its value at reference temperature.
    pub corrected: bool,
    /// What the limits of a reading allow.
    pub range: bool,
    /// How far a reading is inside its limits.
    pub margin: bool,
}

/// What is written to the client's log.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Deserialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum LogLevel {
    /// Nothing.
    Off,
    /// Faults of the program.
    Error,
    /// And what could not be done as asked.
    Warning,
    /// And what was done.
    Info,
    /// And how long it took.
    Debug,
}

impl LogLevel {
    /// Whether a message of this type is written.
    pub(super) fn takes(self, typ: MessageType) -> bool {
        let level = match typ {
            MessageType::ERROR => LogLevel::Error,
            MessageType::WARNING => LogLevel::Warning,
            MessageType::INFO => LogLevel::Info,
            _ => LogLevel::Debug,
        };
        self >= level
    }
}

impl Default for Settings {
    fn default() -> Settings {
        Settings {
            pending: true,
            accepted: true,
            workspace: true,
            inlay_hints: InlayHints::default(),
            code_lens: true,
            log_level: LogLevel::Warning,
        }
    }
}

impl Default for InlayHints {
    fn default() -> InlayHints {
        InlayHints {
            deviation: true,
            corrected: true,
            range: true,
            margin: false,
        }
    }
}

impl Settings {
    /// Reads them; gives those that could be read and one sentence for each that could not.
    pub(super) fn read(value: &Value) -> (Settings, Vec<String>) {
        let Value::Object(own) = value else {
            return (Settings::default(), Vec::new());
        };
        // One by one, so that a mistake in one leaves the others.
        let mut good = serde_json::Map::new();
        let mut faults = Vec::new();
        for (name, value) in own {
            let mut one = serde_json::Map::new();
            one.insert(name.clone(), value.clone());
            match serde_json::from_value::<Settings>(Value::Object(one)) {
                Ok(_) => {
                    good.insert(name.clone(), value.clone());
                }
                Err(error) => faults.push(format!("setting `{SECTION}.{name}`: {error}")),
            }
        }
        let settings = serde_json::from_value(Value::Object(good)).unwrap_or_default();
        (settings, faults)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_mistake_in_one_setting_leaves_the_others() {
        let (settings, faults) = Settings::read(&json!({
            "pending": false,
            "codeLens": "often",
            "inlayHints": { "margin": true },
            "somethingElse": 1,
        }));
        assert!(!settings.pending && settings.code_lens && settings.inlay_hints.margin);
        assert!(settings.inlay_hints.range);
        assert_eq!(faults.len(), 1, "{faults:?}");
        assert!(faults[0].contains("codeLens"));
    }

    #[test]
    fn no_settings_are_the_usual_ones() {
        assert_eq!(
            Settings::read(&Value::Null),
            (Settings::default(), Vec::new())
        );
    }

    #[test]
    fn the_log_takes_what_weighs_enough() {
        assert!(LogLevel::Info.takes(MessageType::WARNING));
        assert!(!LogLevel::Warning.takes(MessageType::INFO));
        assert!(!LogLevel::Off.takes(MessageType::ERROR));
    }
}
