//! What was changed behind a seal, named from an older text that the seal's digest proves to be the sealed one.

use super::canonical::{Line, digest, digest_of};
use super::cover::{
    PlanText, Source, Standing, design, document_lines, nonconformities, plan_lines, stage_lines,
    unit_lines,
};
use super::text::{Before, text_as_written};
use super::verify::{Break, Reason};
use super::written::{ActLine, acts, seals};
use crate::finding::{Finding, rules};
use crate::record::header;
use crate::syntax::Tree;
use crate::text::{FileId, Place, Span};
use similar::{Algorithm, DiffOp, capture_diff_slices};

/// Most changes of one part that are named one by one.
const NAMED: usize = 5;
/// Longest quotation of a line.
const LONGEST: usize = 120;

/// An older state of a text on which a seal rests.
pub enum Version<'a> {
    /// A document: the record, its register or one of its plans, by what the part is of.
    Document(&'a Tree),
    /// A file that the record names.
    Bytes(&'a [u8]),
}

/// One line that is not as it was sealed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Change {
    /// As it was sealed; none for a line that was added.
    pub was: Option<String>,
    /// As it is; none for a line that was taken out.
    pub now: Option<String>,
    /// Where it stands, or where what was taken out stood.
    pub span: Span,
}

/// What the version history could tell.
#[derive(Clone, Debug)]
pub enum Told {
    /// The changes, at most so many, and how many there are in all.
    Changes(Vec<Change>, usize),
    /// Nothing, and why; empty where the finding says all there is.
    Nothing(String),
}

/// The changes of one document of a plan since a version of it, where with that version the plan is what was sealed.
/// `position` is the document's place among those of the plan.
pub fn changes_in_plan(
    broken: &Break,
    plans: &[PlanText],
    position: usize,
    version: &Tree,
    now: &Tree,
) -> Option<Told> {
    let mut sealed = plans.to_vec();
    *sealed.get_mut(position)? = PlanText::of(version);
    if digest_of(&plan_lines(&sealed)) != broken.cover.digest {
        return None;
    }
    told(compare(
        &document_lines(version),
        &document_lines(now),
        broken.cover.span,
    ))
}

/// The changes since a version, where that version holds what was sealed. `now` is the present text of a part
/// whose lines the break does not hold: the record of the seal itself, the bytes of a file.
pub fn changes_in(
    broken: &Break,
    version: &Version<'_>,
    now: Option<&Version<'_>>,
) -> Option<Told> {
    let sealed = sealed_lines(broken, version)?;
    let present = match (&broken.reason, now) {
        (Reason::Changed(part), _) if part.source != Source::File => part.lines.clone(),
        (Reason::OwnText, Some(Version::Document(tree))) => {
            let seal = seals(tree)
                .into_iter()
                .find(|seal| seal.span == broken.seal.span)?;
            let serial = header(tree)?.serial;
            own_lines(
                &text_as_written(&serial, tree, &seal, Before::Above),
                seal.span,
            )
        }
        (_, Some(Version::Document(tree))) => document_lines(tree),
        (_, Some(Version::Bytes(bytes))) => file_lines(bytes)?,
        (_, None) => Vec::new(),
    };
    // A file's lines have no place in a document: they stand where it is named.
    let elsewhere = match &broken.reason {
        Reason::Changed(part) if part.source == Source::File => part
            .lines
            .first()
            .map_or(broken.cover.span, |line| line.span),
        _ => broken.cover.span,
    };
    told(compare(&sealed, &present, elsewhere))
}

/// The first of the changes and how many there are; none where there are none.
fn told(changes: Vec<Change>) -> Option<Told> {
    if changes.is_empty() {
        return None;
    }
    let count = changes.len();
    Some(Told::Changes(
        changes.into_iter().take(NAMED).collect(),
        count,
    ))
}

/// The canonical lines of a part in an older text, where their digest is the sealed one.
fn sealed_lines(broken: &Break, version: &Version<'_>) -> Option<Vec<Line>> {
    let cover = &broken.cover;
    let own = |lines: Vec<Line>| (digest_of(&lines) == cover.digest).then_some(lines);
    match version {
        Version::Bytes(bytes) => {
            (cover.kind == "file" && digest(bytes) == cover.digest).then(|| file_lines(bytes))?
        }
        Version::Document(tree) => match &*cover.kind {
            "" => seals(tree).into_iter().find_map(|seal| {
                if seal.digest != cover.digest {
                    return None;
                }
                let serial = header(tree)?.serial;
                [Before::Nothing, Before::Above, Before::Below]
                    .into_iter()
                    .map(|before| text_as_written(&serial, tree, &seal, before))
                    .find(|text| digest(text.as_bytes()) == seal.digest)
                    .map(|_| {
                        // Where the seal before stands is told apart from what is written.
                        let text = text_as_written(&serial, tree, &seal, Before::Above);
                        own_lines(&text, seal.span)
                    })
            }),
            "unit" => own(unit_lines(&header(tree)?)),
            "register" => own(broken.used.lines(Some(tree))),
            "stage" => {
                let act = same_act(tree, &broken.seal.act)?;
                own(match cover.label == act.stage {
                    true => stage_lines(tree, &cover.label, act.round, act.start),
                    false => stage_lines(tree, &cover.label, u32::MAX, u32::MAX),
                })
            }
            "design" | "nonconformity" => {
                let part = match &*cover.kind {
                    "design" => design(tree),
                    _ => nonconformities(tree)
                        .into_iter()
                        .find(|part| part.label == cover.label)?,
                };
                match part.held_against(&cover.digest) {
                    Standing::Same => Some(part.lines),
                    Standing::Grown(count) => Some(part.lines[..count].to_vec()),
                    Standing::Changed => None,
                }
            }
            _ => None,
        },
    }
}

/// The same act in another state of the record: of the acts at this point in this round the same in number.
fn same_act(tree: &Tree, act: &ActLine) -> Option<ActLine> {
    acts(tree).into_iter().find(|other| {
        other.stage == act.stage
            && other.round == act.round
            && other.point == act.point
            && other.again == act.again
    })
}

fn own_lines(text: &str, span: Span) -> Vec<Line> {
    text.lines()
        .map(|line| Line {
            text: line.to_owned(),
            span,
        })
        .collect()
}

fn file_lines(bytes: &[u8]) -> Option<Vec<Line>> {
    let text = std::str::from_utf8(bytes).ok()?;
    Some(own_lines(text, Span::default()))
}

/// The lines that differ: changed ones paired, the others taken out or added. What has no place of its own
/// stands at `elsewhere`.
fn compare(sealed: &[Line], now: &[Line], elsewhere: Span) -> Vec<Change> {
    let old: Vec<&str> = sealed.iter().map(|line| &*line.text).collect();
    let new: Vec<&str> = now.iter().map(|line| &*line.text).collect();
    let at = |index: usize| {
        let line = now.get(index).or(now.last());
        line.map(|line| line.span)
            .filter(|span| !span.is_empty())
            .unwrap_or(elsewhere)
    };
    let mut changes = Vec::new();
    for op in capture_diff_slices(Algorithm::Myers, &old, &new) {
        let (old_range, new_range) = (op.old_range(), op.new_range());
        if matches!(op, DiffOp::Equal { .. }) {
            continue;
        }
        for step in 0..old_range.len().max(new_range.len()) {
            let was = old_range.clone().nth(step).map(|index| quoted(old[index]));
            let present = new_range.clone().nth(step);
            changes.push(Change {
                was,
                now: present.map(|index| quoted(new[index])),
                span: at(present.unwrap_or(new_range.end)),
            });
        }
    }
    changes
}

/// A line as it is quoted: its cells parted by two blanks, not too long.
fn quoted(line: &str) -> String {
    let line = line.trim().replace('\t', "  ");
    match line.char_indices().nth(LONGEST) {
        Some((end, _)) => format!("{}…", &line[..end]),
        None => line,
    }
}

/// One finding for what is not as it was, said of all seals that tell the same of it.
///
/// `file` is the document in which the changes stand; `seal_file` the record.
pub fn finding_of(
    broken: &[&Break],
    told: &Told,
    change: Option<&Change>,
    file: FileId,
    seal_file: FileId,
    serial: &str,
) -> Finding {
    let first = broken[0];
    let seal_place = |broken: &Break| Place {
        file: seal_file,
        span: broken.cover.span,
    };
    let of = match file == seal_file {
        true => String::new(),
        false => format!(" of {serial}"),
    };
    let as_sealed = format!("as {} sealed on it", points(broken, &of));
    let part = match &*first.cover.kind {
        "" => format!("the act at {} and its seal", first.seal.act.point),
        _ => first.cover.name(),
    };
    let (place, message) = match (change, &first.reason) {
        (Some(change), _) => {
            let place = Place {
                file,
                span: change.span,
            };
            let message = match (&change.was, &change.now) {
                (Some(was), Some(now)) => {
                    format!("expected `{was}` in {part}, {as_sealed}, found `{now}`")
                }
                (Some(was), None) => {
                    format!("expected `{was}` in {part}, {as_sealed}, found it taken out")
                }
                (None, now) => format!(
                    "expected nothing added to {part}, {as_sealed}, found `{}`",
                    now.as_deref().unwrap_or("")
                ),
            };
            (place, message)
        }
        (None, Reason::Gone) => (
            seal_place(first),
            format!("expected {part}, {as_sealed}, found none"),
        ),
        (None, Reason::NotCovered) => (
            seal_place(first),
            format!(
                "expected the seal of {} to cover {part}, found that it does not",
                first.seal.act.point
            ),
        ),
        (None, _) => (
            seal_place(first),
            format!("expected {part} {as_sealed}, found it changed"),
        ),
    };
    let mut finding = Finding::new(&rules::SEAL_BROKEN, place, message);
    if change.is_some() {
        for one in broken.iter().take(2) {
            let words = format!("sealed with {}", one.seal.act.point);
            finding = finding.related(seal_place(one), words);
        }
    }
    let help = match told {
        Told::Changes(named, count) if *count > named.len() => format!(
            "put back what was sealed; {} more lines differ",
            count - named.len()
        ),
        Told::Changes(..) => "put back what was sealed; a reading that was wrong is corrected by `amend` and released anew".to_owned(),
        Told::Nothing(why) if why.is_empty() => "put back what was sealed".to_owned(),
        Told::Nothing(why) => format!("put back what was sealed; what changed cannot be named: {why}"),
    };
    finding.help(help)
}

/// `H10 was`, `H10 and H20 were`, `H10, H20 and 3 more of KFT-1 were`
fn points(broken: &[&Break], of: &str) -> String {
    let mut names: Vec<&str> = Vec::new();
    for one in broken {
        let name = one.seal.act.point.as_str();
        if !names.contains(&name) {
            names.push(name);
        }
    }
    match &names[..] {
        [one] => format!("{one}{of} was"),
        [one, other] => format!("{one} and {other}{of} were"),
        [one, other, rest @ ..] => format!("{one}, {other} and {} more{of} were", rest.len()),
        [] => "it was".to_owned(),
    }
}
