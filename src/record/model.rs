//! A unit's record bound to its plan: every reading in its slot, every act at its point.

use crate::finding::Finding;
use crate::plan::kind::Kind;
use crate::plan::value::{Series, Value};
use crate::plan::{LogId, Member, PointId, ReadingId};
use crate::quantity::Interval;
use crate::quantity::moment::When;
use crate::text::{Place, Span};
use rustc_hash::FxHashMap;
use std::sync::Arc;

/// What the `unit` statement says.
#[derive(Clone, Debug, Default)]
pub struct Header {
    /// The serial, as written.
    pub serial: String,
    /// What the unit is.
    pub title: String,
    /// The plan's name, its revision, and where they stand.
    pub plan: Option<(Arc<str>, Option<Arc<str>>, Span)>,
    /// The register's name and where it stands.
    pub register: Option<(Arc<str>, Span)>,
    /// The lot that it belongs to.
    pub lot: Option<Lot>,
    /// The zone as written and where it stands.
    pub zone: Option<(String, Span)>,
    /// Where the `unit` statement stands.
    pub span: Span,
}

/// What the `lot` line says.
#[derive(Clone, Debug)]
pub struct Lot {
    /// The lot's name.
    pub name: Arc<str>,
    /// The unit's number in it, from 1.
    pub number: Option<i64>,
    /// How many units it has.
    pub total: Option<i64>,
    /// The serial of the unit on which the type tests were made, and where it is named.
    pub type_tested: Option<(Arc<str>, Span)>,
    /// Where the line stands.
    pub span: Span,
}

/// The index into [`Record::entries`] that says "nothing here".
pub const EMPTY: u32 = u32::MAX;

/// The record of one unit.
#[derive(Debug, Default)]
pub struct Record {
    /// What the `unit` statement says.
    pub header: Header,
    /// Members of each set of the plan.
    pub domains: Vec<Domain>,
    /// Design values: for each of the plan's design items its slots.
    pub design: Vec<Box<[u32]>>,
    /// Where the design in force is written.
    pub design_place: Option<Place>,
    /// For each of the plan's stages the rounds recorded, in order.
    pub stages: Vec<Vec<Round>>,
    /// Everything recorded.
    pub entries: Vec<Entry>,
    /// Conditions of the entries.
    pub conditions: Vec<Condition>,
    /// Who, with what and when.
    pub contexts: Vec<Context>,
    /// Nonconformities.
    pub nonconformities: Vec<Nonconformity>,
    /// Amendments, in the order in which they stand.
    pub amendments: Vec<Amendment>,
    /// What comes first in the lists above, because the design is read first.
    pub of_design: OfDesign,
}

/// How many of a record's entries and contexts belong to its design blocks.
#[derive(Clone, Copy, Debug, Default)]
pub struct OfDesign {
    /// Entries.
    pub entries: usize,
    /// Contexts, the empty one among them.
    pub contexts: usize,
}

impl Record {
    /// The condition of a kind under which an entry holds.
    pub fn condition(&self, entry: &Entry, kind: &Kind) -> Option<&Condition> {
        let (first, count) = entry.conditions;
        self.conditions[first as usize..(first + count) as usize].iter().find(
            |condition| matches!(&condition.value, Value::Quantity(quantity) if kind.fits(quantity)),
        )
    }
}

/// The members of a set for this unit.
#[derive(Debug, Default)]
pub struct Domain {
    /// In order.
    pub members: Vec<Member>,
    /// Position by the text of the member.
    pub lookup: FxHashMap<Arc<str>, u32>,
}

impl Domain {
    /// A domain of these members.
    pub fn new(members: Vec<Member>) -> Domain {
        let lookup = members
            .iter()
            .enumerate()
            .map(|(index, member)| (member.to_string().into(), index as u32))
            .collect();
        Domain { members, lookup }
    }
}

/// One stage done once.
#[derive(Debug)]
pub struct Round {
    /// Its number, from 1.
    pub number: u32,
    /// Where its `stage` statement stands.
    pub place: Place,
    /// Slots of each reading of the stage that has anything recorded.
    pub readings: FxHashMap<ReadingId, Box<[u32]>>,
    /// Logs recorded, each by its slot.
    pub logs: FxHashMap<(LogId, u32), LogData>,
    /// What was released, witnessed, waived or reviewed. A hold point has several releases where readings
    /// were amended between them.
    pub acts: Vec<Act>,
    /// Who was told when of a witness or hold point to come.
    pub notices: Vec<Act>,
    /// What was amended: indices into [`Record::amendments`].
    pub amendments: Vec<u32>,
    /// Every context under which something was recorded, and where first.
    pub work: Vec<(u32, Place)>,
    /// What lines hold that say it for those behind or below them, in order.
    pub scopes: Vec<Scope>,
}

/// What a line of a stage says for the readings behind it, or a table for its rows.
#[derive(Clone, Debug)]
pub struct Scope {
    /// The line.
    pub place: Place,
    /// Whether it is a table's.
    pub of_table: bool,
    /// Who, with what and when: index into [`Record::contexts`].
    pub context: u32,
    /// First condition and number of conditions in [`Record::conditions`].
    pub conditions: (u32, u32),
}

/// One reading or design value as recorded.
#[derive(Clone, Debug)]
pub struct Entry {
    /// What stands there.
    pub value: Recorded,
    /// Where.
    pub place: Place,
    /// Who, with what and when: index into [`Record::contexts`].
    pub context: u32,
    /// First condition and number of conditions in [`Record::conditions`].
    pub conditions: (u32, u32),
    /// The unit of the table's column, where the cell gives none itself.
    pub unit: Option<Arc<str>>,
    /// The latest amendment that gave it its value: index into [`Record::amendments`].
    pub amended: Option<u32>,
}

/// A correction of a reading: the old value stays, with who corrected it, when and why.
#[derive(Clone, Debug)]
pub struct Amendment {
    /// The reading and its slot.
    pub reading: (ReadingId, u32),
    /// Where the `amend` line stands.
    pub place: Place,
    /// The entry that it replaced: index into [`Record::entries`].
    pub replaced: u32,
    /// Who corrected it.
    pub person: Option<(Arc<str>, Place)>,
    /// When.
    pub when: Option<(When, Place)>,
    /// The writer's own words for when.
    pub when_text: String,
    /// Why; empty where the line does not say, which is reported.
    pub reason: String,
}

/// What may stand in a slot.
#[derive(Clone, Debug)]
pub enum Recorded {
    /// A value.
    Value(Value),
    /// A design value with a tolerance, a bound or a range: its nominal value, and what it allows.
    Tolerance(Option<Value>, Arc<Interval>),
    /// `?`
    Pending,
    /// `n/a` with its reason.
    NotApplicable,
    /// Something that was found faulty and reported.
    Unreadable,
}

/// One condition under which a reading holds.
#[derive(Clone, Debug)]
pub struct Condition {
    /// Its value.
    pub value: Value,
    /// Where it stands.
    pub place: Place,
}

/// Who, with what and when.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Context {
    /// The instrument and where it is named.
    pub instrument: Option<(Arc<str>, Place)>,
    /// The person and where it is named.
    pub person: Option<(Arc<str>, Place)>,
    /// The time and where it is written.
    pub when: Option<(When, Place)>,
    /// A line that leaves no reading behind says the same, and may have copied it: an act, a scope, a row.
    pub also_said_elsewhere: bool,
}

/// A log as recorded.
#[derive(Debug)]
pub struct LogData {
    /// Where its statement stands.
    pub place: Place,
    /// Who, with what and when: index into [`Record::contexts`].
    pub context: u32,
    /// One series for each of the plan's columns that is there.
    pub columns: Vec<Option<Arc<Series>>>,
    /// The first and the last time of a log over time, each with its place.
    pub span: Option<[(When, Place); 2]>,
    /// True when it could not be read; reported.
    pub unreadable: bool,
}

/// What was done at a point.
#[derive(Debug)]
pub struct Act {
    /// The point.
    pub point: PointId,
    /// `release`, `witnessed`, `waived` or `reviewed`.
    pub word: ActWord,
    /// Where the line stands.
    pub place: Place,
    /// Who.
    pub person: Option<(Arc<str>, Place)>,
    /// When.
    pub when: Option<(When, Place)>,
    /// The writer's own words for when.
    pub when_text: String,
    /// What stands behind it in quotes: a letter, a remark; empty for nothing.
    pub text: String,
}

/// The words for acts at a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ActWord {
    /// A hold point is released.
    Release,
    /// A witness point was attended.
    Witnessed,
    /// A witness point was given up in writing.
    Waived,
    /// A review point was reviewed.
    Reviewed,
    /// Those who may attend were told of the point to come.
    Notified,
}

impl ActWord {
    /// The word as written.
    pub fn word(self) -> &'static str {
        match self {
            ActWord::Release => "release",
            ActWord::Witnessed => "witnessed",
            ActWord::Waived => "waived",
            ActWord::Reviewed => "reviewed",
            ActWord::Notified => "notified",
        }
    }

    /// The word for what was done: a release is released.
    pub fn done(self) -> &'static str {
        match self {
            ActWord::Release => "released",
            other => other.word(),
        }
    }
}

/// A nonconformity.
#[derive(Debug)]
pub struct Nonconformity {
    /// Its number.
    pub name: Arc<str>,
    /// Where it stands.
    pub place: Place,
    /// What it is against.
    pub against: Vec<Target>,
    /// What is to be done with the unit.
    pub disposition: Option<Disposition>,
    /// Who raised it.
    pub raised_by: Option<(Arc<str>, Place)>,
    /// When it was raised.
    pub raised: Option<When>,
    /// When it was closed, and where that is written.
    pub closed: Option<(When, Place)>,
    /// Who agreed to the disposition and when.
    pub agreed: Option<Agreed>,
}

/// The line by which somebody agrees to a disposition.
#[derive(Clone, Debug)]
pub struct Agreed {
    /// Where it stands.
    pub place: Place,
    /// Who.
    pub person: Option<(Arc<str>, Place)>,
    /// When.
    pub when: Option<When>,
}

/// What a nonconformity is against: a reading or a check, of all indices or of some.
#[derive(Clone, Debug, PartialEq)]
pub struct Target {
    /// The stage's name and the reading's or check's: `winding.height`.
    pub name: String,
    /// The slot; `None` for all.
    pub slot: Option<u32>,
}

/// Dispositions in the terms of ISO 9000.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Disposition {
    /// Accepted as it is, by concession.
    UseAsIs,
    /// Brought back to what was required.
    Rework,
    /// Made fit for use, possibly not as required.
    Repair,
    /// Not to be used.
    Scrap,
    /// Given other requirements.
    Regrade,
}

impl Disposition {
    /// True when the thing may stay as it was measured.
    pub fn accepts(self) -> bool {
        matches!(
            self,
            Disposition::UseAsIs | Disposition::Repair | Disposition::Regrade
        )
    }
}

/// Reads files that a record names. Implemented where files may be read: in the workspace.
pub trait Files {
    /// The bytes of a file inside the workspace; the path counts from the record's own folder.
    fn read(&self, path: &str) -> Result<Arc<[u8]>, FileFault>;
    /// Whether a file inside the workspace is there.
    fn exists(&self, path: &str) -> Result<(), FileFault>;
}

/// Why a file could not be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum FileFault {
    /// Not there, not a regular file, or not readable: the reason.
    Unreadable(String),
    /// The path, or a link on it, leads out of the workspace.
    Outside,
}

/// No files at all: what standard input has.
#[derive(Debug)]
pub struct NoFiles;

impl Files for NoFiles {
    fn read(&self, _: &str) -> Result<Arc<[u8]>, FileFault> {
        Err(FileFault::Unreadable(
            "a record from standard input has no folder".to_owned(),
        ))
    }

    fn exists(&self, _: &str) -> Result<(), FileFault> {
        Err(FileFault::Unreadable(
            "a record from standard input has no folder".to_owned(),
        ))
    }
}

/// The slot of an instance: its position in the product of its sets, the last index running fastest.
pub fn slot(domains: &[Domain], sets: &[crate::plan::SetId], members: &[u32]) -> usize {
    let mut slot = 0;
    for (set, member) in sets.iter().zip(members) {
        slot = slot * domains[set.index()].members.len() + *member as usize;
    }
    slot
}

/// How many instances a product of sets has.
pub fn slots(domains: &[Domain], sets: &[crate::plan::SetId]) -> usize {
    sets.iter()
        .map(|set| domains[set.index()].members.len())
        .product()
}

/// The members of a slot, in the sets' order.
pub fn members_of(
    domains: &[Domain],
    sets: &[crate::plan::SetId],
    mut slot: usize,
    members: &mut Vec<u32>,
) {
    members.clear();
    members.resize(sets.len(), 0);
    for (index, set) in sets.iter().enumerate().rev() {
        let count = domains[set.index()].members.len().max(1);
        members[index] = (slot % count) as u32;
        slot /= count;
    }
}

/// `[2, V]`, or nothing for something without index.
pub fn index_text(domains: &[Domain], sets: &[crate::plan::SetId], slot: usize) -> String {
    if sets.is_empty() {
        return String::new();
    }
    let mut members = Vec::new();
    members_of(domains, sets, slot, &mut members);
    let names: Vec<String> = members
        .iter()
        .zip(sets)
        .filter_map(|(member, set)| domains[set.index()].members.get(*member as usize))
        .map(Member::to_string)
        .collect();
    format!("[{}]", names.join(", "))
}

/// What binding came to: the record, or the reason why nothing was judged.
#[derive(Debug)]
pub struct Bound {
    /// The record.
    pub record: Record,
    /// What is wrong with it.
    pub findings: Vec<Finding>,
    /// False when the sets make more instances than are evaluated.
    pub can_be_judged: bool,
}
