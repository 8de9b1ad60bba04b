//! The workspace: finds documents, loads them, brings records together with their plans and registers,
//! and has each judged. The only room that reads files.

mod changes;
mod copies;
pub mod desk;
mod documents;
mod files;
mod formatting;
mod gate;
pub mod git;
mod library;
mod mend;
mod near;
pub mod notation;
mod replace;
mod root;
mod seal_record;
mod sealing;
mod start;
mod together;
mod versions;

use crate::finding::rules;
use crate::finding::{Finding, UnitSummary};
use crate::quantity::moment::Zone;
use crate::record::{BoundBefore, Files, Header, NoFiles, Record, bind, header, patch};
use crate::register::Register;
use crate::syntax::{DocumentKind, NodeKind, Tree};
use crate::text::{FileId, Place, SourceText};
use crate::verdict::{Authority, Grounds, Kept, LotFacts, Verdict, accept, judge};
use changes::Changes;
pub use copies::copies_of_built_in_plans;
use documents::{Loaded, gather};
use files::{NamedFile, WorkspaceFiles};
pub use formatting::{LaidOut, Refused, lay_out};
pub use gate::{Obstacle, ObstacleKind, Standing, gate};
use library::{Library, Needs};
pub use mend::{Left, MendedFile, Mending, mend};
use rayon::prelude::*;
pub use root::named_from_root;
use rustc_hash::FxHashSet;
pub use seal_record::{Sealed, SealedRecord, Wanted, seal, text_behind_seal};
use sealing::PlanTexts;
pub use start::{must_be_free, only_register, open_plan, write_new};
use std::fmt;
use std::path::PathBuf;

/// Largest document that is read, in bytes.
pub const MAX_DOCUMENT: u64 = 256 * 1024 * 1024;
/// Stack of the threads that judge, taken from the system only as far as it is used. The deepest
/// evaluation is 64 calculated values built on each other, each 256 operators deep.
pub(crate) const STACK: usize = 512 * 1024 * 1024;

/// How to check.
#[derive(Clone, Copy, Debug, Default)]
pub struct Options {
    /// Number of threads; 0 for as many as there are cores.
    pub threads: usize,
    /// The day that counts as today; without it nothing is held against the day.
    pub today: Option<Today>,
}

/// What counts as today.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Today {
    /// A day, in days since 1970-01-01.
    Day(i32),
    /// An instant, in seconds since 1970-01-01 00:00 UTC: today is the day on which it falls in the zone of
    /// each record.
    Instant(i64),
}

impl Today {
    fn day(self, zone: Option<&str>) -> Option<i32> {
        match self {
            Today::Day(day) => Some(day),
            Today::Instant(seconds) => zone
                .and_then(|zone| Zone::parse(zone).ok())
                .unwrap_or_else(Zone::utc)
                .day_of(seconds),
        }
    }
}

/// Something to check.
#[derive(Clone, Debug)]
pub enum Input {
    /// A file or a folder.
    Path(PathBuf),
    /// A text from elsewhere, with the name it goes by.
    Text {
        /// What it is called; plans, registers and logs are looked for as if it stood there.
        name: String,
        /// Its bytes.
        bytes: Vec<u8>,
    },
}

/// What a check came to.
#[derive(Debug)]
pub struct Outcome {
    /// Every document that took part; places refer to them by index.
    pub sources: Vec<SourceText>,
    /// Everything found, sorted by document and place.
    pub findings: Vec<Finding>,
    /// Every unit, in the order of its document.
    pub units: Vec<UnitSummary>,
    /// The documents that were asked for and checked.
    pub checked: Vec<FileId>,
    /// How many documents were given.
    pub documents: usize,
    /// How many lines they have.
    pub lines: usize,
    /// How many documents were given and left out, because neither they nor what they depend on has changed.
    pub unchanged: usize,
}

/// Why nothing was checked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CannotRun(pub String);

impl fmt::Display for CannotRun {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.write_str(&self.0)
    }
}

impl std::error::Error for CannotRun {}

/// Told how far a check has come.
pub trait Progress: Sync {
    /// So many documents will be judged.
    fn start(&self, total: usize);
    /// One more is done.
    fn step(&self);
    /// All are done.
    fn finish(&self);
}

/// Says nothing.
#[derive(Debug)]
pub struct Silent;

impl Progress for Silent {
    fn start(&self, _: usize) {}
    fn step(&self) {}
    fn finish(&self) {}
}

/// Checks documents: each by itself, each record against its plan and register.
///
/// Fails only where nothing could be checked: a path that does not exist or cannot be read.
pub fn check(
    inputs: &[Input],
    options: &Options,
    progress: &dyn Progress,
) -> Result<Outcome, CannotRun> {
    start(gather(inputs, false)?, None, options, progress)
}

/// Checks those documents that have changed since a git commit, and those that depend on something that has: the
/// plan, a plan that it extends, the register, a log, an attachment, a unit of the same lot. What stands in the
/// working tree counts, committed or not; what cannot be shown to be unchanged counts as changed.
///
/// `revision` is anything by which git knows a commit. Fails where [`check`] does, and where git cannot tell.
pub fn check_since(
    inputs: &[Input],
    revision: &str,
    options: &Options,
    progress: &dyn Progress,
) -> Result<Outcome, CannotRun> {
    // The last record of a folder may be what was deleted.
    let gathered = gather(inputs, true)?;
    let changes = Changes::since(revision, inputs)?;
    start(gathered, Some(&changes), options, progress)
}

fn start(
    gathered: Vec<documents::Given>,
    changes: Option<&Changes>,
    options: &Options,
    progress: &dyn Progress,
) -> Result<Outcome, CannotRun> {
    let parallel = gathered.len() > 1 && options.threads != 1;
    let run = || run(gathered, changes, parallel, options.today, progress);
    if parallel {
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(options.threads)
            .stack_size(STACK)
            .build()
            .map_err(cannot_start)?;
        return pool.install(run);
    }
    on_deep_stack(run)
}

/// Runs something that binds or judges on a thread with the stack that this needs.
fn on_deep_stack<T: Send>(
    work: impl FnOnce() -> Result<T, CannotRun> + Send,
) -> Result<T, CannotRun> {
    std::thread::scope(|scope| {
        let thread = std::thread::Builder::new()
            .stack_size(STACK)
            .spawn_scoped(scope, work)
            .map_err(cannot_start)?;
        match thread.join() {
            Ok(answer) => answer,
            // An internal error is passed on, not hidden.
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}

fn cannot_start(error: impl fmt::Display) -> CannotRun {
    CannotRun(format!("no thread could be started: {error}"))
}

/// Applies `work` to each item, in parallel when asked, keeping the order.
fn each<T: Send, R: Send>(
    items: Vec<T>,
    parallel: bool,
    work: impl Fn(T) -> R + Sync + Send,
) -> Vec<R> {
    if parallel {
        items.into_par_iter().map(work).collect()
    } else {
        items.into_iter().map(work).collect()
    }
}

fn run(
    gathered: Vec<documents::Given>,
    changes: Option<&Changes>,
    parallel: bool,
    today: Option<Today>,
    progress: &dyn Progress,
) -> Result<Outcome, CannotRun> {
    let loaded = each(gathered, parallel, Loaded::read);
    let loaded = loaded
        .into_iter()
        .collect::<Result<Vec<Loaded>, CannotRun>>()?;
    let documents = loaded.len();
    let mut library = Library::new(loaded);
    let needs: Vec<Needs> = library.needs();
    let (lots, sisters) = library.lots(&needs);
    let (plans, mut findings) = library.compile(parallel);
    let affected = changes.map(|changes| changes.affected(&library, &needs, documents));
    let checked: Vec<FileId> = match &affected {
        Some(affected) => affected.documents.clone(),
        None => (0..documents as u32).map(FileId).collect(),
    };
    let lines = checked
        .iter()
        .map(|file| library.documents[file.0 as usize].source.lines.written())
        .sum();
    // Sisters that were not given are only looked at beside the others: nothing is told of them.
    let beside: FxHashSet<FileId> = sisters
        .iter()
        .map(|need| FileId(need.document as u32))
        .collect();
    for (index, document) in library.documents.iter().enumerate() {
        let file = FileId(index as u32);
        if !beside.contains(&file) {
            findings.extend(document.findings(file));
        }
    }
    let sources: Vec<SourceText> = library
        .documents
        .iter()
        .map(|document| document.source.clone())
        .collect();
    // By document what its `accept` lines are judged against.
    let authorities: Vec<(usize, Option<usize>, Option<usize>)> = needs
        .iter()
        .chain(&sisters)
        .map(|need| (need.document, need.plan, need.register))
        .collect();
    let given = needs.len();
    let needs: Vec<Needs> = needs.into_iter().chain(sisters).collect();
    progress.start(needs.len());
    let texts = PlanTexts::default();
    let mut judged = each(needs, parallel, |need| {
        let ground = Surroundings {
            plans: &plans,
            library: &library,
            texts: &texts,
            sources: &sources,
            keeps: false,
        };
        let mut verdict = judge_unit(&need, &ground, today, None);
        if verdict.lot.is_none() {
            // Only its lot looks at a record again.
            verdict.record = None;
        }
        progress.step();
        verdict
    });
    progress.finish();
    for unit in &mut judged[..given] {
        findings.append(&mut unit.told_by_binding);
        findings.append(&mut unit.findings);
    }
    findings.extend(together::judge_lots(
        &lots,
        &mut judged,
        &library,
        &plans,
        &sources,
        parallel,
    ));
    let mut units: Vec<UnitSummary> = judged
        .into_iter()
        .take(given)
        .filter_map(|unit| unit.summary)
        .collect();
    sort(&mut findings);
    accept_lines(&library, &plans, &authorities, &mut findings);
    findings.retain(|finding| {
        !beside.contains(&finding.place.file)
            || finding.rule.name == rules::LOT_WITHOUT_TYPE_TEST.name
    });
    if let Some(affected) = &affected {
        // Everything was judged, so that what is left says what it would say among all.
        findings.retain(|finding| affected.concerns(finding));
        units.retain(|unit| affected.names.contains(&unit.path));
    }
    Ok(Outcome {
        sources,
        findings,
        units,
        unchanged: documents - checked.len(),
        documents: checked.len(),
        lines,
        checked,
    })
}

/// Has the `accept` lines of each document meet its findings, which are sorted by document.
fn accept_lines(
    library: &Library,
    plans: &library::Plans,
    authorities: &[(usize, Option<usize>, Option<usize>)],
    findings: &mut Vec<Finding>,
) {
    let sorted = findings.len();
    for index in 0..library.documents.len() {
        let file = FileId(index as u32);
        let first = findings[..sorted].partition_point(|finding| finding.place.file < file);
        let last = findings[..sorted].partition_point(|finding| finding.place.file <= file);
        let known = authorities
            .binary_search_by_key(&index, |(document, ..)| *document)
            .ok()
            .map(|at| authorities[at]);
        let (plan, register) = known.map_or((None, None), |(_, plan, register)| (plan, register));
        accept_in(
            library,
            plans,
            index,
            (plan, register),
            findings,
            first..last,
        );
    }
    if findings.len() > sorted {
        sort(findings);
    }
}

/// Has the `accept` lines of one document meet its findings, which stand in `own`. With the documents of its plan
/// and register.
fn accept_in(
    library: &Library,
    plans: &library::Plans,
    document: usize,
    (plan, register): (Option<usize>, Option<usize>),
    findings: &mut Vec<Finding>,
    own: std::ops::Range<usize>,
) {
    let authority = Authority {
        plan: plan.and_then(|plan| plans.get(&plan)).map(|plan| &**plan),
        register: register.and_then(|register| library.registers.get(&register)),
    };
    let tree = &library.documents[document].tree;
    accept(tree, FileId(document as u32), authority, findings, own);
}

/// What judging one record came to.
#[derive(Debug, Default)]
struct Judged {
    /// Its document, and that of its plan.
    document: usize,
    plan: Option<usize>,
    /// What was found, but for what binding found.
    findings: Vec<Finding>,
    summary: Option<UnitSummary>,
    /// The record, where it could be bound.
    record: Option<Record>,
    /// What its lot needs to know of it, where it belongs to one.
    lot: Option<LotFacts>,
    /// The files that it names.
    files: Vec<NamedFile>,
    /// The version history was looked into for what was changed behind a seal.
    asked_history: bool,
    /// What was found while it was bound.
    told_by_binding: Vec<Finding>,
    /// What of the judgement counts for the next text of it, where that is kept.
    kept: Option<Kept>,
    /// The stamp of the text that it was bound from.
    stamp: u64,
    /// Only its changed lines were bound, the rest was known.
    in_part: bool,
}

impl Judged {
    /// What binding the record came to, taken out.
    fn take_bound(&mut self) -> Option<Earlier> {
        let bound = BoundBefore {
            record: self.record.take()?,
            findings: std::mem::take(&mut self.told_by_binding),
        };
        Some(Earlier {
            bound,
            kept: self.kept.take().unwrap_or_default(),
            stamp: self.stamp,
            files: std::mem::take(&mut self.files),
        })
    }
}

/// A record as it was bound from an earlier text, with the same plan and register and the same head.
struct Earlier {
    bound: BoundBefore,
    kept: Kept,
    stamp: u64,
    files: Vec<NamedFile>,
}

/// What every record is judged in.
struct Surroundings<'a> {
    plans: &'a library::Plans,
    library: &'a Library,
    texts: &'a PlanTexts,
    sources: &'a [SourceText],
    /// What was judged is kept for the next text of the same record.
    keeps: bool,
}

/// Judges one record. What was bound `earlier` from another text of it saves binding what has not changed.
fn judge_unit(
    need: &Needs,
    around: &Surroundings<'_>,
    today: Option<Today>,
    earlier: Option<Earlier>,
) -> Judged {
    let Surroundings { plans, library, .. } = around;
    let document = &library.documents[need.document];
    let file = FileId(need.document as u32);
    let mut judged = Judged {
        document: need.document,
        plan: need.plan,
        findings: need.findings.clone(),
        stamp: document.stamp,
        ..Judged::default()
    };
    let findings = &mut judged.findings;
    let Some(mut header) = header(&document.tree) else {
        return judged;
    };
    let Some(plan) = need.plan.and_then(|plan| plans.get(&plan)) else {
        return judged;
    };
    if let (Some((name, Some(wanted), span)), Some(rev)) = (&header.plan, &plan.rev)
        && wanted != rev
    {
        findings.push(
                Finding::new(
                    &rules::PLAN_REVISION_DIFFERS,
                    Place { file, span: *span },
                    format!("expected plan `{name}` rev {wanted}, found rev {rev}"),
                )
                .help("judge the record by the plan it was built to, or have the change of plan agreed and write the new revision"),
            );
    }
    let own_files = document.folder.as_ref().map(|folder| {
        let files = WorkspaceFiles::new(folder, &need.root);
        // Whoever judges once never asks whether they changed.
        if around.keeps { files.noting() } else { files }
    });
    let files: &dyn Files = match &own_files {
        Some(files) => files,
        None => &NoFiles,
    };
    let register = need
        .register
        .and_then(|register| library.registers.get(&register));
    keep_zone_of(register, &mut header);
    let zone = header.zone.as_ref().map(|(zone, _)| zone.as_str());
    let today = today.and_then(|today| today.day(zone));
    let patched = earlier.and_then(|earlier| {
        let change = document.change.as_ref();
        let (_, change) = change.filter(|(stamp, _)| *stamp == earlier.stamp)?;
        let (bound, touched) = patch(&document.tree, file, plan, files, earlier.bound, change)?;
        let mut kept = earlier.kept;
        kept.touch(plan, &bound.record, &touched);
        Some((bound, earlier.files, kept))
    });
    judged.in_part = patched.is_some();
    let (bound, known_files, kept) = match patched {
        Some(patched) => patched,
        None => {
            let bound = bind(&document.tree, file, header, plan, files);
            (bound, Vec::new(), Kept::default())
        }
    };
    judged.told_by_binding = bound.findings;
    if !bound.can_be_judged {
        judged.files = named_files(known_files, own_files);
        return judged;
    }
    let mut seals = sealing::verified(
        need,
        plan,
        library,
        around.texts,
        &bound.record.header,
        &bound.record,
        files,
    );
    judged.asked_history = !seals.findings.is_empty();
    findings.append(&mut seals.findings);
    judged.files = named_files(known_files, own_files);
    let Verdict {
        findings: mut found,
        summary,
        lot,
        kept,
    } = judge(
        &bound.record,
        Grounds {
            plan,
            register,
            seals: &seals,
            file,
            sources: around.sources,
            today,
        },
        around.keeps.then_some(kept),
    );
    findings.append(&mut found);
    judged.summary = Some(summary);
    judged.lot = lot;
    judged.kept = kept;
    judged.record = Some(bound.record);
    judged
}

/// The files that a record names: those known from its lines that were not read again, and those just asked for.
fn named_files(mut known: Vec<NamedFile>, asked: Option<WorkspaceFiles>) -> Vec<NamedFile> {
    known.extend(asked.map(WorkspaceFiles::asked).unwrap_or_default());
    known.sort();
    known.dedup();
    known
}

/// A record that states no zone keeps that of its register.
fn keep_zone_of(register: Option<&Register>, header: &mut Header) {
    if let (None, Some(zone)) = (&header.zone, register.and_then(|own| own.zone.as_ref())) {
        header.zone = Some((zone.to_string(), header.span));
    }
}

/// By document, place, rule and message; what was found twice stays once.
fn sort(findings: &mut Vec<Finding>) {
    findings.sort_by(|a, b| {
        (
            a.place.file,
            a.place.span.start,
            a.place.span.end,
            a.severity,
            a.rule.name,
            &a.message,
        )
            .cmp(&(
                b.place.file,
                b.place.span.start,
                b.place.span.end,
                b.severity,
                b.rule.name,
                &b.message,
            ))
    });
    findings.dedup_by(|a, b| {
        a.place == b.place && a.rule.name == b.rule.name && a.message == b.message
    });
}

/// The name that a plan or register document gives itself.
fn document_name(tree: &Tree) -> Option<(String, crate::text::Span)> {
    let kind = match tree.document {
        DocumentKind::Plan => NodeKind::Plan,
        DocumentKind::Register => NodeKind::Register,
        _ => return None,
    };
    let statement = tree.child(tree.root(), kind)?;
    let name = tree.child(statement, NodeKind::Name)?;
    Some((tree.text_of(name).to_owned(), tree.span(name)))
}
