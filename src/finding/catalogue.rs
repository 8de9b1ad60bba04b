//! The rule catalogue: every rule the tool can raise, each with its page.

use super::Severity;

/// One rule and its page.
#[derive(Debug)]
pub struct Rule {
    /// Its kebab-case name.
    pub name: &'static str,
    /// Its usual weight; a plan or a place may change it.
    pub severity: Severity,
    /// What it says, in one sentence.
    pub summary: &'static str,
    /// Why it matters, in a few sentences.
    pub why: &'static str,
    /// A few lines that break it.
    pub wrong: &'static str,
    /// The same lines mended, or how to mend them.
    pub mend: &'static str,
    /// Standards or other sources; `common practice, no source` where there is none.
    pub reference: &'static str,
}
