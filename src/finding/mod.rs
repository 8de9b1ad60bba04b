//! The finding: what was seen, where, why it matters and how to mend it, as data.
//!
//! A finding never carries a finished page of text. It carries its parts; the terminal, JSON and any
//! later form each lay the same parts out.

pub mod catalogue;
mod faults;
mod fingerprint;
pub mod json;
pub mod junit;
pub mod printable;
pub mod rules;
pub mod sarif;
mod snippet;
pub mod summary;
pub mod terminal;

pub use catalogue::Rule;
pub use faults::from_fault;
pub use summary::{
    Counts, LotSummary, PointKind, PointState, PointSummary, SealState, StageState, StageSummary,
    TypeTestState, UnitSummary,
};

use crate::text::{Place, Span};
use std::sync::Arc;

/// How much a finding weighs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// The unit may not be released as it stands.
    Error,
    /// A person must look.
    Warning,
    /// Worth knowing.
    Note,
    /// Still to be recorded; never fails a check of work in progress.
    Pending,
}

impl Severity {
    /// The word used in every form.
    pub fn word(self) -> &'static str {
        match self {
            Severity::Error => "error",
            Severity::Warning => "warning",
            Severity::Note => "note",
            Severity::Pending => "pending",
        }
    }
}

/// One finding.
#[derive(Clone, Debug)]
pub struct Finding {
    /// The rule that was broken.
    pub rule: &'static Rule,
    /// Its weight here.
    pub severity: Severity,
    /// What was found, as one sentence: what was expected first, what was found second.
    pub message: String,
    /// Where it stands.
    pub place: Place,
    /// What to say at that place in a few words; empty for nothing.
    pub label: String,
    /// Other places that belong to it (design value, plan limit, hold point), each with a few words.
    pub related: Vec<Related>,
    /// The arithmetic and the reasons, where there are any.
    pub reasoning: Option<Box<Reasoning>>,
    /// What to do next, in one sentence.
    pub help: Option<String>,
    /// A change of notation that mends it.
    pub fix: Option<Fix>,
    /// Who accepted it and why, where somebody did: it stays in every form, and weighs nothing.
    pub accepted: Option<Box<Accepted>>,
}

/// What an `accept` line says of a finding.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Accepted {
    /// Who accepted it.
    pub by: Arc<str>,
    /// When, in the writer's own words.
    pub on: Arc<str>,
    /// Why.
    pub because: Arc<str>,
    /// Where the `accept` line stands.
    pub place: Place,
}

/// A place that belongs to a finding.
#[derive(Clone, Debug)]
pub struct Related {
    /// Where.
    pub place: Place,
    /// What stands there, in a few words.
    pub text: String,
}

/// Why a judgement came out as it did.
#[derive(Clone, Debug, Default)]
pub struct Reasoning {
    /// The readings and design values that went in.
    pub inputs: Vec<Input>,
    /// Inputs that are not known yet, by name.
    pub missing: Vec<String>,
    /// The rule as the plan writes it.
    pub formula: Option<String>,
    /// Each calculated value on the way (`with X = … = …`), then the formula with the numbers put in (`= …`).
    pub steps: Vec<String>,
    /// What came out, with its unit.
    pub result: Option<String>,
    /// What it is held against, with its unit.
    pub limit: Option<String>,
    /// How far inside (positive) or outside (negative) the limit it is, with its unit.
    pub margin: Option<String>,
    /// How uncertain the result is, where that bears on the judgement.
    pub uncertainty: Option<Uncertainty>,
    /// Where the limit comes from.
    pub source: Option<Source>,
    /// What a failure usually means on the shop floor.
    pub because: Option<String>,
    /// What to look at first, in that order.
    pub look: Vec<String>,
    /// The usual safety caution.
    pub caution: Option<String>,
    /// Likely causes, most likely first.
    pub causes: Vec<String>,
    /// Other instances of the same check that fail too.
    pub also: Option<String>,
}

/// How uncertain a result is, and what that makes of its limit.
#[derive(Clone, Debug, Default)]
pub struct Uncertainty {
    /// The expanded uncertainty (k = 2) with its unit; `None` where it is not known.
    pub expanded: Option<String>,
    /// The limit drawn in by it: what is within it is proven to conform.
    pub acceptance: Option<String>,
    /// What it is made of, the largest first.
    pub contributions: Vec<Contribution>,
}

/// One part of an uncertainty.
#[derive(Clone, Debug)]
pub struct Contribution {
    /// The instrument, or the reading that goes into a calculated value.
    pub name: String,
    /// What is stated of it, as the register or the plan writes it.
    pub statement: String,
    /// Its standard uncertainty, with its unit.
    pub standard: String,
    /// By how much the result changes with it; `None` for a part of the reading's own uncertainty.
    pub sensitivity: Option<String>,
    /// What it adds to the standard uncertainty of the result, with its unit.
    pub contribution: Option<String>,
    /// Where it is stated.
    pub place: Option<Place>,
}

impl Uncertainty {
    /// `0.2 mm (k = 2); accepted 1612.2 .. 1614.8 mm`
    pub fn words(&self) -> String {
        let mut words = match &self.expanded {
            Some(expanded) => format!("{expanded} (k = 2)"),
            None => "not known".to_owned(),
        };
        if let Some(acceptance) = &self.acceptance {
            words.push_str("; accepted ");
            words.push_str(acceptance);
        }
        words
    }
}

impl Contribution {
    /// `TP-11: u = 0.2 mm / 2 = 0.1 mm, from accuracy 0.2 mm  k = 2`
    pub fn words(&self) -> String {
        let mut words = format!("{}: u = {}", self.name, self.standard);
        if let Some(sensitivity) = &self.sensitivity {
            words.push_str(&format!(", times {sensitivity}"));
        }
        if let Some(contribution) = &self.contribution {
            words.push_str(&format!(", gives {contribution}"));
        }
        if !self.statement.is_empty() {
            words.push_str(&format!(", from {}", self.statement));
        }
        words
    }
}

/// A reading or design value that went into a judgement.
#[derive(Clone, Debug)]
pub struct Input {
    /// Its name with its index, as the record writes it.
    pub name: String,
    /// Its value in the writer's own digits and unit.
    pub value: String,
    /// Where it stands, when it stands in a document.
    pub place: Option<Place>,
    /// How it came to that value, the latest amendment first; empty for what was never amended.
    pub amended: Vec<Amended>,
}

/// A correction of a reading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Amended {
    /// The value before, in the writer's own digits and unit.
    pub was: String,
    /// Who corrected it; empty where the record does not say.
    pub by: String,
    /// When, in the writer's own words.
    pub on: String,
    /// Why.
    pub because: String,
}

impl Amended {
    /// `was 3.4547, amended by L.Novak on 2026-03-31 07:45: misread display`
    pub fn words(&self) -> String {
        let mut words = format!("was {}, amended", self.was);
        for (word, text) in [
            (" by ", &self.by),
            (" on ", &self.on),
            (": ", &self.because),
        ] {
            if !text.is_empty() {
                words.push_str(word);
                words.push_str(text);
            }
        }
        words
    }
}

/// Where a limit comes from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Source {
    /// What kind of ground it stands on.
    pub basis: Basis,
    /// Standard and clause, or the works' document; may be empty.
    pub text: String,
}

/// The ground that a limit stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basis {
    /// A published document that was read.
    Published,
    /// A published document quoted from memory: to be confirmed against the bought text.
    Memory,
    /// Common practice, no source.
    CommonPractice,
    /// The works' own rule.
    Works,
    /// The order or the issued design.
    Order,
    /// Physics or arithmetic.
    Physics,
}

impl Basis {
    /// The words shown beside the source.
    pub fn words(self) -> &'static str {
        match self {
            Basis::Published => "published",
            Basis::Memory => "quoted from memory, confirm against the standard",
            Basis::CommonPractice => "common practice, no source",
            Basis::Works => "works' rule",
            Basis::Order => "order or design",
            Basis::Physics => "physics",
        }
    }
}

/// A change of notation that mends a finding without touching a measured value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fix {
    /// What it does, in a few words.
    pub title: String,
    /// The replacements, in the finding's own document, in order, not overlapping.
    pub edits: Vec<(Span, String)>,
}

impl Finding {
    /// A finding with a message and a place; the rest is added with the methods below.
    pub fn new(rule: &'static Rule, place: Place, message: impl Into<String>) -> Finding {
        Finding {
            rule,
            severity: rule.severity,
            message: message.into(),
            place,
            label: String::new(),
            related: Vec::new(),
            reasoning: None,
            help: None,
            fix: None,
            accepted: None,
        }
    }

    /// Whether it makes a check fail: an error that nobody accepted.
    pub fn fails(&self) -> bool {
        self.severity == Severity::Error && self.accepted.is_none()
    }

    /// Sets the words shown at the place.
    pub fn label(mut self, label: impl Into<String>) -> Finding {
        self.label = label.into();
        self
    }

    /// Sets the weight.
    pub fn severity(mut self, severity: Severity) -> Finding {
        self.severity = severity;
        self
    }

    /// Adds a place that belongs to it.
    pub fn related(mut self, place: Place, text: impl Into<String>) -> Finding {
        self.related.push(Related {
            place,
            text: text.into(),
        });
        self
    }

    /// Sets what to do next.
    pub fn help(mut self, help: impl Into<String>) -> Finding {
        self.help = Some(help.into());
        self
    }

    /// Sets the reasoning.
    pub fn reasoning(mut self, reasoning: Reasoning) -> Finding {
        self.reasoning = Some(Box::new(reasoning));
        self
    }

    /// Offers a change of notation.
    pub fn fix(mut self, title: impl Into<String>, edits: Vec<(Span, String)>) -> Finding {
        self.fix = Some(Fix {
            title: title.into(),
            edits,
        });
        self
    }
}
