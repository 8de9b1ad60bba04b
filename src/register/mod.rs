//! Registers: the works' instruments with their calibrations, and its people with their roles.

mod statements;

use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::accuracy::{Stated, Written};
use crate::plan::kind::{OTHER_KINDS, quantity_kind};
use crate::quantity::moment::{Zone, format_day, parse_day};
use crate::quantity::{Accuracy, Interval};
use crate::syntax::{NodeId, NodeKind, Tree, nearest};
use crate::text::{FileId, Place};
use rustc_hash::FxHashMap;
use ssh_key::{Algorithm, PublicKey};
use std::sync::Arc;

/// A works' register.
#[derive(Debug, Default)]
pub struct Register {
    /// Its name.
    pub name: Arc<str>,
    /// Its zone, which holds for the records that name the register and give none of their own.
    pub zone: Option<Arc<str>>,
    /// People by their name in the language.
    pub people: FxHashMap<Arc<str>, Person>,
    /// Instruments by their number.
    pub instruments: FxHashMap<Arc<str>, Instrument>,
}

/// A person.
#[derive(Debug)]
pub struct Person {
    /// Full name.
    pub title: Arc<str>,
    /// Roles.
    pub roles: Vec<Arc<str>>,
    /// First and last day of validity, in days since 1970-01-01.
    pub valid: Option<(i32, i32)>,
    /// When the person left, or gave up what is registered.
    pub retired: Option<Retired>,
    /// Public keys with which the person signs, all Ed25519.
    pub keys: Vec<PublicKey>,
    /// Where the person is entered.
    pub place: Place,
}

/// An instrument.
#[derive(Debug)]
pub struct Instrument {
    /// What it is.
    pub title: Arc<str>,
    /// Kinds that it measures; empty for any.
    pub measures: Vec<Arc<str>>,
    /// Where it measures, each of the kinds that it fits.
    pub ranges: Vec<Stated<Interval>>,
    /// How well it measures, each of the kinds that it fits.
    pub accuracies: Vec<Stated<Accuracy>>,
    /// Its calibrations.
    pub calibrations: Vec<Calibration>,
    /// First and last day of service, in days since 1970-01-01.
    pub valid: Option<(i32, i32)>,
    /// When it was taken out of service.
    pub retired: Option<Retired>,
    /// Where it is entered.
    pub place: Place,
}

/// The end of a person's duties or of an instrument's service.
#[derive(Debug)]
pub struct Retired {
    /// The last day, in days since 1970-01-01.
    pub last: i32,
    /// Why; empty where the register does not say.
    pub reason: Arc<str>,
    /// Where it is entered.
    pub place: Place,
}

impl Retired {
    /// `retired on 2026-05-01: dropped`
    pub fn words(&self) -> String {
        let day = format_day(self.last);
        match self.reason.is_empty() {
            true => format!("retired on {day}"),
            false => format!("retired on {day}: {}", self.reason),
        }
    }
}

/// One calibration.
#[derive(Debug)]
pub struct Calibration {
    /// First day, in days since 1970-01-01.
    pub from: i32,
    /// Last day.
    pub due: i32,
    /// The certificate's number.
    pub certificate: Option<Arc<str>>,
    /// Where it is entered.
    pub place: Place,
}

impl Calibration {
    /// Whether it holds on a day, in days since 1970-01-01.
    pub fn covers(&self, day: i32) -> bool {
        self.from <= day && day <= self.due
    }
}

/// Reads a register; what is wrong with it goes to `findings`.
pub fn read(tree: &Tree, file: FileId, findings: &mut Vec<Finding>) -> Register {
    let mut reader = Reader {
        tree,
        file,
        findings,
        register: Register::default(),
    };
    for statement in tree.children(tree.root()) {
        match tree.kind(statement) {
            NodeKind::Register => {
                if let Some(name) = tree.child(statement, NodeKind::Name) {
                    reader.register.name = tree.text_of(name).into();
                }
                reader.zone(statement);
            }
            NodeKind::Person => reader.person(statement),
            NodeKind::Instrument => reader.instrument(statement),
            _ => {}
        }
    }
    reader.register
}

/// The text of a `path` or of a quoted text: how people, instruments, lots and units are called.
pub fn identity(tree: &Tree, node: NodeId) -> Option<(Arc<str>, NodeId)> {
    let part = tree
        .children(node)
        .find(|child| matches!(tree.kind(*child), NodeKind::Path | NodeKind::TextPart))?;
    let name: Arc<str> = match tree.kind(part) {
        NodeKind::TextPart => tree.unquoted(part).into(),
        _ => tree.text_of(part).into(),
    };
    Some((name, part))
}

struct Reader<'a> {
    tree: &'a Tree,
    file: FileId,
    findings: &'a mut Vec<Finding>,
    register: Register,
}

impl<'a> Reader<'a> {
    fn written(&self) -> Written<'a> {
        Written {
            tree: self.tree,
            file: self.file,
        }
    }

    fn place(&self, node: NodeId) -> Place {
        Place {
            file: self.file,
            span: self.tree.span(node),
        }
    }

    fn day(&mut self, node: NodeId) -> Option<i32> {
        match parse_day(self.tree.text_of(node)) {
            Ok(day) => Some(day),
            Err(message) => {
                let place = self.place(node);
                self.findings
                    .push(Finding::new(&rules::IMPOSSIBLE_DATE, place, message));
                None
            }
        }
    }

    /// The title: the text behind the identity.
    fn title(&self, node: NodeId, identity: NodeId) -> Arc<str> {
        let tree = self.tree;
        let title = tree
            .children(node)
            .find(|child| *child != identity && tree.kind(*child) == NodeKind::TextPart);
        title.map_or_else(|| Arc::from(""), |title| tree.unquoted(title).into())
    }

    fn duplicate(&mut self, node: NodeId, what: &str, name: &str, first: Place) {
        let place = self.place(node);
        self.findings.push(
            Finding::new(
                &rules::DUPLICATE_DECLARATION,
                place,
                format!("expected one {what} called `{name}`, found a second"),
            )
            .related(first, "first entered here"),
        );
    }

    fn names(&self, node: NodeId) -> Vec<(Arc<str>, NodeId)> {
        let tree = self.tree;
        tree.children(node)
            .filter(|child| tree.kind(*child) == NodeKind::Name)
            .map(|child| (tree.text_of(child).into(), child))
            .collect()
    }

    fn person(&mut self, node: NodeId) {
        let Some((name, part)) = identity(self.tree, node) else {
            return;
        };
        let mut person = Person {
            title: self.title(node, part),
            roles: Vec::new(),
            valid: None,
            retired: None,
            keys: Vec::new(),
            place: self.place(part),
        };
        for child in self.tree.children(node) {
            match self.tree.kind(child) {
                NodeKind::Roles => person
                    .roles
                    .extend(self.names(child).into_iter().map(|(name, _)| name)),
                NodeKind::Valid => person.valid = self.validity(child),
                NodeKind::Retired => person.retired = self.retired(child),
                NodeKind::Key => person.keys.extend(self.key(child)),
                _ => {}
            }
        }
        if let Some(first) = self.register.people.get(&name).map(|known| known.place) {
            self.duplicate(part, "person", &name, first);
            return;
        }
        self.register.people.insert(name, person);
    }

    fn zone(&mut self, register: NodeId) {
        let tree = self.tree;
        let line = tree.child(register, NodeKind::Zone);
        let Some(name) = line.and_then(|line| tree.child(line, NodeKind::ZoneName)) else {
            return;
        };
        let text = tree.text_of(name);
        match Zone::parse(text) {
            Ok(_) => self.register.zone = Some(text.into()),
            Err(message) => {
                let place = self.place(name);
                let finding = Finding::new(&rules::IMPOSSIBLE_ZONE, place, message)
                    .help("times are read as UTC until the zone is known");
                self.findings.push(finding);
            }
        }
    }

    fn retired(&mut self, node: NodeId) -> Option<Retired> {
        let tree = self.tree;
        let last = self.day(tree.child(node, NodeKind::DateTime)?)?;
        let reason = tree.child(node, NodeKind::TextPart);
        Some(Retired {
            last,
            reason: reason.map_or_else(|| Arc::from(""), |text| tree.unquoted(text).into()),
            place: self.place(node),
        })
    }

    /// A `key` line; what is no Ed25519 public key is reported without being repeated.
    fn key(&mut self, node: NodeId) -> Option<PublicKey> {
        let text = self.tree.child(node, NodeKind::TextPart)?;
        let written = self.tree.unquoted(text);
        let found = match PublicKey::from_openssh(written.trim()) {
            Ok(key) if key.algorithm() == Algorithm::Ed25519 => return Some(key),
            Ok(key) => format!("a key of the kind {}", key.algorithm()),
            Err(_) if written.contains("PRIVATE KEY") => {
                "a private key; take it out at once and make a new pair".to_owned()
            }
            Err(_) => "a text that is none".to_owned(),
        };
        let finding = Finding::new(
            &rules::PUBLIC_KEY_UNREADABLE,
            self.place(text),
            format!("expected an Ed25519 public key in one line, found {found}"),
        )
        .help("copy the line of the public key file as it stands: key \"ssh-ed25519 AAAA… name\"");
        self.findings.push(finding);
        None
    }

    fn validity(&mut self, node: NodeId) -> Option<(i32, i32)> {
        let tree = self.tree;
        let days: Vec<NodeId> = tree
            .children(node)
            .filter(|child| tree.kind(*child) == NodeKind::DateTime)
            .collect();
        let from = self.day(*days.first()?)?;
        let to = self.day(*days.get(1)?)?;
        if from > to {
            let place = self.place(node);
            self.findings.push(Finding::new(
                &rules::TIME_RUNS_BACKWARDS,
                place,
                "expected the first day before the last, found them the other way round",
            ));
        }
        Some((from, to))
    }

    fn instrument(&mut self, node: NodeId) {
        let Some((name, part)) = identity(self.tree, node) else {
            return;
        };
        let mut instrument = Instrument {
            title: self.title(node, part),
            measures: Vec::new(),
            ranges: Vec::new(),
            accuracies: Vec::new(),
            calibrations: Vec::new(),
            valid: None,
            retired: None,
            place: self.place(part),
        };
        for child in self.tree.children(node) {
            match self.tree.kind(child) {
                NodeKind::Measures => {
                    for (kind, at) in self.names(child) {
                        if quantity_kind(&kind).is_none() && !OTHER_KINDS.contains(&&*kind) {
                            let known = crate::plan::kind::QUANTITY_KINDS
                                .iter()
                                .map(|kind| kind.name);
                            let known = known.chain(OTHER_KINDS.iter().copied());
                            let mut finding = Finding::new(
                                &rules::UNKNOWN_NAME,
                                self.place(at),
                                format!(
                                    "expected a kind such as resistance or length, found `{kind}`"
                                ),
                            );
                            if let Some(near) = nearest(&kind, known) {
                                finding = finding.help(format!("did you mean `{near}`?"));
                            }
                            self.findings.push(finding);
                        }
                        instrument.measures.push(kind);
                    }
                }
                NodeKind::Valid => instrument.valid = self.validity(child),
                NodeKind::Retired => instrument.retired = self.retired(child),
                NodeKind::InstrumentRange => {
                    let range = self.written().range(child, self.findings);
                    instrument.ranges.extend(range);
                }
                NodeKind::Accuracy => {
                    let accuracy = self.written().accuracy(child, self.findings);
                    instrument.accuracies.extend(accuracy);
                }
                NodeKind::Calibrated => {
                    let tree = self.tree;
                    let from = tree.child(child, NodeKind::DateTime);
                    let due = tree
                        .child(child, NodeKind::Due)
                        .and_then(|due| tree.child(due, NodeKind::DateTime));
                    let certificate = tree
                        .child(child, NodeKind::TextPart)
                        .map(|text| tree.unquoted(text).into());
                    let (Some(from), Some(due)) = (from, due) else {
                        continue;
                    };
                    if let (Some(from), Some(due)) = (self.day(from), self.day(due)) {
                        let place = self.place(child);
                        instrument.calibrations.push(Calibration {
                            from,
                            due,
                            certificate,
                            place,
                        });
                    }
                }
                _ => {}
            }
        }
        statements::check(&name, &instrument, self.findings);
        if let Some(first) = self
            .register
            .instruments
            .get(&name)
            .map(|known| known.place)
        {
            self.duplicate(part, "instrument", &name, first);
            return;
        }
        self.register.instruments.insert(name, instrument);
    }
}
