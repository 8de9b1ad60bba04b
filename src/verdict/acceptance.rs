//! `accept` lines: a finding that a named person has looked at stays in every form, with the name and the
//! reason, and weighs nothing.

use crate::finding::{Accepted, Finding, Rule, Severity, catalogue, rules};
use crate::plan::Plan;
use crate::quantity::moment::{format_day, parse_day};
use crate::register::{Person, Register};
use crate::syntax::{NodeId, NodeKind, Tree, nearest};
use crate::text::{FileId, Place};
use std::ops::Range;
use std::sync::Arc;

/// Errors that a person who may release a hold point can accept: what the record lacks about people,
/// instruments and papers and cannot always be had again. Every other error is mended or conceded.
const ACCEPTABLE_ERRORS: [&str; 9] = [
    "attachment-missing",
    "instrument-does-not-measure",
    "instrument-out-of-calibration",
    "missing-date",
    "missing-instrument",
    "missing-person",
    "person-not-valid",
    "unknown-instrument",
    "unknown-person",
];

/// Whether an `accept` line can quiet a finding at all; who may write it is another question.
pub fn acceptable(finding: &Finding) -> bool {
    match finding.severity {
        Severity::Warning | Severity::Note => true,
        Severity::Error => ACCEPTABLE_ERRORS.contains(&finding.rule.name),
        Severity::Pending => false,
    }
}

/// Against what the `accept` lines of a document are judged.
#[derive(Clone, Copy, Debug, Default)]
pub struct Authority<'a> {
    /// The unit's plan; without one nobody is known to release anything.
    pub plan: Option<&'a Plan>,
    /// The unit's register; without one no name can be looked up.
    pub register: Option<&'a Register>,
}

/// Marks the findings of one document that its `accept` lines meet, and adds what is wrong with those
/// lines. `own` is where the document's findings stand in `findings`.
pub fn accept(
    tree: &Tree,
    file: FileId,
    authority: Authority<'_>,
    findings: &mut Vec<Finding>,
    own: Range<usize>,
) {
    // Nearly every document has none; the text is searched faster than the tree is walked.
    if !tree.text().contains("accept") {
        return;
    }
    let mut clerk = Clerk {
        tree,
        file,
        authority,
        wrong: Vec::new(),
    };
    for id in (0..tree.len() as u32).map(NodeId) {
        if tree.kind(id) == NodeKind::Accept {
            clerk.line(id, &mut findings[own.clone()]);
        }
    }
    findings.append(&mut clerk.wrong);
}

struct Clerk<'a> {
    tree: &'a Tree,
    file: FileId,
    authority: Authority<'a>,
    wrong: Vec<Finding>,
}

impl<'a> Clerk<'a> {
    fn place(&self, node: NodeId) -> Place {
        Place {
            file: self.file,
            span: self.tree.span(node),
        }
    }

    fn line(&mut self, line: NodeId, findings: &mut [Finding]) {
        let Some((rule, accepted)) = self.read(line) else {
            return;
        };
        let below = self.below(line);
        let mut met = false;
        for finding in findings {
            let here = below.is_some_and(|span| {
                span.start <= finding.place.span.start && finding.place.span.start < span.end
            });
            if !here || !std::ptr::eq(finding.rule, rule) || finding.accepted.is_some() {
                continue;
            }
            met = true;
            match self.refusal(finding, &accepted) {
                Some(refusal) => self.wrong.push(refusal),
                None => finding.accepted = Some(Box::new(accepted.clone())),
            }
        }
        if !met {
            self.wrong.push(
                Finding::new(
                    &rules::ACCEPT_WITHOUT_FINDING,
                    accepted.place,
                    format!(
                        "expected a finding `{}` at the line below, found none",
                        rule.name
                    ),
                )
                .help("remove the line, or move it directly above the line at which the finding stands"),
            );
        }
    }

    /// The line that an `accept` stands above: the next one of its level that is no `accept` itself.
    fn below(&self, line: NodeId) -> Option<crate::text::Span> {
        let parent = self.tree.parent(line)?;
        self.tree
            .children(parent)
            .skip_while(|child| *child != line)
            .find(|child| self.tree.kind(*child) != NodeKind::Accept)
            .map(|child| self.tree.span(child))
    }

    /// The rule and the acceptance; `None` after a finding when the line says too little.
    fn read(&mut self, line: NodeId) -> Option<(&'static Rule, Accepted)> {
        let tree = self.tree;
        let name = tree.child(line, NodeKind::Name)?;
        let rule_name = tree.text_of(name);
        let Some(rule) = catalogue::find(rule_name) else {
            let mut finding = Finding::new(
                &rules::UNKNOWN_NAME,
                self.place(name),
                format!("expected the name of a rule, found `{rule_name}`"),
            );
            let known = catalogue::all().iter().map(|rule| rule.name);
            finding = match nearest(rule_name, known) {
                Some(near) => finding.help(format!("did you mean `{near}`?")),
                None => finding.help(
                    "the rule's name stands in brackets at the end of the finding's first line",
                ),
            };
            self.wrong.push(finding);
            return None;
        };
        let part = |clause: NodeKind, part: NodeKind| {
            tree.child(line, clause)
                .and_then(|clause| tree.child(clause, part))
        };
        let because = part(NodeKind::BecauseClause, NodeKind::TextPart);
        let by = part(NodeKind::ByClause, NodeKind::Path);
        let on = part(NodeKind::OnClause, NodeKind::DateTime);
        let reason = because.map(|text| tree.unquoted(text));
        let lacks = if reason
            .as_ref()
            .is_none_or(|reason| reason.trim().is_empty())
        {
            Some((&rules::REASON_MISSING, "reason"))
        } else if by.is_none() {
            Some((&rules::MISSING_PERSON, "person"))
        } else if on.is_none() {
            Some((&rules::MISSING_DATE, "date"))
        } else {
            None
        };
        if let Some((rule, what)) = lacks {
            self.wrong.push(
                Finding::new(
                    rule,
                    self.place(line),
                    format!(
                        "expected `accept {rule_name} because \"…\" by PERSON on DATE`, found no {what}"
                    ),
                )
                .severity(Severity::Error)
                .help("a finding is accepted by a person, on a day, for a reason; it stays in every form"),
            );
            return None;
        }
        let (by, on) = (by?, on?);
        let accepted = Accepted {
            by: tree.text_of(by).into(),
            on: tree.text_of(on).into(),
            because: reason.unwrap_or_default().into(),
            place: self.place(line),
        };
        let day = tree.text_of(on).split_ascii_whitespace().next();
        match parse_day(day.unwrap_or("")) {
            Ok(day) => self
                .is_known(&accepted.by, by, day)
                .then_some((rule, accepted)),
            Err(message) => {
                let place = self.place(on);
                self.wrong
                    .push(Finding::new(&rules::IMPOSSIBLE_DATE, place, message));
                None
            }
        }
    }

    /// Whether the person is in the register and valid on the day; a finding when not.
    fn is_known(&mut self, name: &str, node: NodeId, day: i32) -> bool {
        let Some(register) = self.authority.register else {
            return true;
        };
        let Some(person) = register.people.get(name) else {
            let mut finding = Finding::new(
                &rules::UNKNOWN_PERSON,
                self.place(node),
                format!(
                    "expected a person of register `{}`, found `{name}`",
                    register.name
                ),
            );
            if let Some(near) = nearest(name, register.people.keys().map(|known| &**known)) {
                finding = finding.help(format!("did you mean `{near}`?"));
            }
            self.wrong.push(finding);
            return false;
        };
        let Some((from, to)) = person.valid else {
            return true;
        };
        if from <= day && day <= to {
            return true;
        }
        self.wrong.push(
            Finding::new(
                &rules::PERSON_NOT_VALID,
                self.place(node),
                format!(
                    "expected {name} to be valid on {}, found {} .. {}",
                    format_day(day),
                    format_day(from),
                    format_day(to)
                ),
            )
            .related(person.place, "entered here"),
        );
        false
    }

    /// Why this finding cannot be accepted by this line; `None` when it can.
    fn refusal(&self, finding: &Finding, accepted: &Accepted) -> Option<Finding> {
        let rule = finding.rule.name;
        let refused = |message: String, help: &str| {
            Some(
                Finding::new(&rules::ACCEPT_REFUSED, accepted.place, message)
                    .related(finding.place, format!("the finding `{rule}`"))
                    .help(help),
            )
        };
        match finding.severity {
            Severity::Warning | Severity::Note => return None,
            Severity::Pending => {
                return refused(
                    format!("expected what is pending to be recorded, found `{rule}` accepted"),
                    "record it, or write n/a with the reason",
                );
            }
            Severity::Error => {}
        }
        if !ACCEPTABLE_ERRORS.contains(&rule) {
            return refused(
                format!("expected the error `{rule}` to be mended or conceded, found it accepted"),
                "put it right; a failing reading or check is conceded by a nonconformity with an agreed disposition",
            );
        }
        let person: Option<&Person> = self
            .authority
            .register
            .and_then(|register| register.people.get(&*accepted.by));
        let roles: Vec<&Arc<str>> = self
            .authority
            .plan
            .map(|plan| plan.points.iter())
            .into_iter()
            .flatten()
            .filter(|point| point.kind == crate::finding::PointKind::Hold)
            .flat_map(|point| &point.roles)
            .collect();
        let may =
            person.is_some_and(|person| person.roles.iter().any(|role| roles.contains(&role)));
        if may {
            return None;
        }
        let mut names: Vec<&str> = roles.iter().map(|role| &***role).collect();
        names.sort_unstable();
        names.dedup();
        refused(
            format!(
                "expected the error `{rule}` to be accepted by someone who may release a hold point ({}), found {}",
                names.join(", "),
                accepted.by
            ),
            "have it looked at by such a person, who puts their own name and date",
        )
    }
}
