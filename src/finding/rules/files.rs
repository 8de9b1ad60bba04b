//! Rules about logs and attachments: files that a record names.

use crate::finding::{Rule, Severity};

/// `log-unreadable`: the log file is missing, is no regular file or cannot be read.
pub static LOG_UNREADABLE: Rule = Rule {
    name: "log-unreadable",
    severity: Severity::Error,
    summary: "The log file is missing, is no regular file or cannot be read.",
    why: "The drying or vacuum run is proven by its log. Without it, everything computed from it is \
        unknown.",
    wrong: r#"log drying from "logs/dryng.csv""#,
    mend: "Correct the path, which counts from the record's own folder, or put the file there.",
    reference: "common practice, no source",
    caution: "",
};

/// `log-outside-workspace`: the path of a log, or a link on it, leads out of the workspace.
pub static LOG_OUTSIDE_WORKSPACE: Rule = Rule {
    name: "log-outside-workspace",
    severity: Severity::Error,
    summary: "The path of a log, or a link on it, leads out of the workspace.",
    why: "A record from anywhere is safe to open: it cannot make the checker read other files of the \
        machine. And a file outside would not travel with the record.",
    wrong: r#"log drying from "../../etc/passwd""#,
    mend: "Copy the log into the folder of the works and name it there. The workspace is the folder that is \
        checked.",
    reference: "limit of this program",
    caution: "",
};

/// `log-not-a-table`: the log file is not the table that the record says it is.
pub static LOG_NOT_A_TABLE: Rule = Rule {
    name: "log-not-a-table",
    severity: Severity::Error,
    summary: "The log file is not the table that the record says it is.",
    why: "A row with too few columns or a word in the place of a number means that a transfer broke off or \
        the logger changed its form. A curve whose frequencies do not rise from row to row has no value \
        between them.",
    wrong: r#"log drying from "logs/drying.csv"
  column pressure(mbar) from "p_oven"      # the file has no column p_oven"#,
    mend: "Export it again as CSV with one header line, and name its columns as they are called there. \
        A log over another quantity than time is sorted by it, each value once.",
    reference: "RFC 4180 (CSV)",
    caution: "",
};

/// `attachment-missing`: the attached file is not there.
pub static ATTACHMENT_MISSING: Rule = Rule {
    name: "attachment-missing",
    severity: Severity::Warning,
    summary: "The attached file is not there.",
    why: "The photo or certificate is what remains to be seen once the tank is closed.",
    wrong: r#"attach "photos/hv-u-presed.jpg""#,
    mend: "Correct the path, which counts from the record's own folder, or put the file there.",
    reference: "common practice, no source",
    caution: "",
};
