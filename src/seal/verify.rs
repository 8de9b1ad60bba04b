//! Seals held against the record, plan, register and files as they are now.

use super::chain;
use super::cover::{Ground, Part, Shared, Standing, parts};
use super::outcome::{Behind, Seals};
use super::signature::{self, Signed};
use super::text::{Before, holds, text_as_written};
use super::used::Used;
use super::written::{ActLine, Cover, Seal, acts, is_act, seals, stage_of};
use crate::finding::{Finding, SealState, rules};
use crate::record::Record;
use crate::register::Register;
use crate::seal::canonical::below;
use crate::syntax::{NodeKind, Tree};
use crate::text::{FileId, Place, Span};
use rustc_hash::FxHashMap;

/// Most seals of a record for which it is searched to which act one belongs that holds nowhere it stands.
const SEARCHED: usize = 256;

/// What verifying came to.
#[derive(Debug, Default)]
pub struct Verified {
    /// States of the seals, and what is wrong beside what was changed.
    pub seals: Seals,
    /// What was changed, to be named as far as the version history can tell.
    pub breaks: Vec<Break>,
}

/// Something that a seal covers and that is not as it was.
#[derive(Clone, Debug)]
pub struct Break {
    /// The seal.
    pub seal: Seal,
    /// The part that is concerned, as sealed; for the seal's own text the seal's line.
    pub cover: Cover,
    /// What is wrong with it.
    pub reason: Reason,
    /// What of the register the act rests on.
    pub used: Used,
}

/// What is wrong with a part.
#[derive(Clone, Debug)]
pub enum Reason {
    /// It is not what was sealed.
    Changed(Part),
    /// It is not there any more.
    Gone,
    /// The seal does not cover it.
    NotCovered,
    /// The act, or the seal itself, is not what was sealed.
    OwnText,
}

/// Verifies every seal of a record, as [`seals`] reads them.
pub fn verify(
    ground: &Ground<'_>,
    written: &[Seal],
    record: &Record,
    register: Option<&Register>,
    file: FileId,
) -> Verified {
    let tree = ground.tree;
    let mut verified = Verified::default();
    let shared = Shared::of(ground);
    let mut broken = chain::check(written, file, &mut verified.seals.findings);
    let positions: FxHashMap<&str, u32> = written
        .iter()
        .map(|seal| (seal.digest.as_str(), seal.act.start))
        .collect();
    let mut revised: Vec<(Span, &Seal)> = Vec::new();
    for (index, seal) in written.iter().enumerate() {
        let before = before_of(seal, &positions);
        let used = Used::by(record, ground.plan, &seal.act);
        let mut found = Found {
            seal,
            used: &used,
            breaks: &mut verified.breaks,
        };
        let first = found.breaks.len();
        let mut elsewhere = false;
        if !holds(&ground.header.serial, tree, seal, before) {
            match misplaced(ground, written, seal, before, file) {
                Some(finding) => {
                    verified.seals.findings.push(finding);
                    elsewhere = true;
                }
                None => found.add(own_cover(seal), Reason::OwnText),
            }
        }
        if !elsewhere {
            let own_text = found.breaks.len() > first;
            let parts = parts(ground, &shared, &seal.act, &used);
            if let Some(span) = hold_parts(&mut found, parts, own_text) {
                revised.push((span, seal));
            }
        }
        broken[index] |= elsewhere || verified.breaks.len() > first;
        let act_span = tree.span(seal.act.node);
        let person = act_person(record, seal, file);
        let signed = signed(seal, person.as_deref(), register, file);
        let state = match signed {
            Ok(_) if broken[index] => SealState::Broken,
            Ok(true) => SealState::Signed,
            Ok(false) => SealState::Valid,
            Err(finding) => {
                verified.seals.findings.push(*finding);
                SealState::Broken
            }
        };
        let known = verified.seals.states.entry(act_span.start).or_insert(state);
        if state == SealState::Broken {
            *known = state;
        }
    }
    design_revised(&revised, file, &mut verified.seals.findings);
    verified.seals.behind = behind(ground, written, file);
    verified
}

/// The text of a seal as it stands in its record.
pub fn text_in_place(serial: &str, tree: &Tree, seal: &Seal) -> String {
    let written = seals(tree);
    let positions = written
        .iter()
        .map(|seal| (seal.digest.as_str(), seal.act.start))
        .collect();
    text_as_written(serial, tree, seal, before_of(seal, &positions))
}

/// Where the act sealed before stands, seen from this one.
fn before_of(seal: &Seal, positions: &FxHashMap<&str, u32>) -> Before {
    match &seal.after {
        None => Before::Nothing,
        Some(after) => match positions.get(after.as_str()) {
            Some(start) if *start > seal.act.start => Before::Below,
            _ => Before::Above,
        },
    }
}

struct Found<'a> {
    seal: &'a Seal,
    used: &'a Used,
    breaks: &'a mut Vec<Break>,
}

impl Found<'_> {
    fn add(&mut self, cover: Cover, reason: Reason) {
        self.breaks.push(Break {
            seal: self.seal.clone(),
            cover,
            reason,
            used: self.used.clone(),
        });
    }
}

/// A cover that stands for the seal's own text.
fn own_cover(seal: &Seal) -> Cover {
    Cover {
        kind: String::new(),
        digest: seal.digest.clone(),
        label: String::new(),
        span: seal.span,
    }
}

/// Holds each part that was sealed against what is there, and asks that nothing is left out. Gives the place of a
/// design that was added since.
fn hold_parts(found: &mut Found<'_>, parts: Vec<Part>, own_text: bool) -> Option<Span> {
    let mut revised = None;
    let seal = found.seal;
    for cover in &seal.covers {
        let part = parts.iter().find(|part| is_of(part, cover));
        match part {
            None if own_text => {}
            None => found.add(cover.clone(), Reason::Gone),
            Some(part) if part.digest.is_none() => found.add(cover.clone(), Reason::Gone),
            Some(part) => match part.held_against(&cover.digest) {
                Standing::Same => {}
                Standing::Grown(count) if part.kind == "design" => {
                    revised = part.lines.get(count).map(|line| line.span);
                }
                Standing::Grown(_) => {}
                Standing::Changed => found.add(cover.clone(), Reason::Changed(part.clone())),
            },
        }
    }
    if own_text {
        return revised;
    }
    for part in parts.into_iter().filter(|part| part.required) {
        let covered = seal.covers.iter().any(|cover| is_of(&part, cover));
        if !covered {
            let cover = Cover {
                kind: part.kind.to_owned(),
                digest: String::new(),
                label: part.label,
                span: seal.span,
            };
            found.add(cover, Reason::NotCovered);
        }
    }
    revised
}

/// Whether a part is the one that a seal means. There is one plan, whatever its revision is called now.
fn is_of(part: &Part, cover: &Cover) -> bool {
    part.kind == cover.kind && (part.label == cover.label || part.kind == "plan")
}

/// A seal that would hold where the seal before it stood on the other side, or below another act.
fn misplaced(
    ground: &Ground<'_>,
    written: &[Seal],
    seal: &Seal,
    before: Before,
    file: FileId,
) -> Option<Finding> {
    let tree = ground.tree;
    let serial = &ground.header.serial;
    let place = |span| Place { file, span };
    let other_side = match before {
        Before::Above => Some((Before::Below, "below", "above")),
        Before::Below => Some((Before::Above, "above", "below")),
        Before::Nothing => None,
    };
    if let Some((side, wanted, is)) = other_side
        && holds(serial, tree, seal, side)
    {
        let sealed_before = seal.after.as_ref().and_then(|after| {
            let mut others = written.iter();
            others.find(|other| other.digest == *after)
        })?;
        return Some(
            Finding::new(
                &rules::SEAL_CHAIN_BROKEN,
                place(tree.span(seal.act.node)),
                format!(
                    "expected {}, which was sealed before {}, to stand {wanted} it, found it {is}: stages or releases were put into another order",
                    sealed_before.act.point, seal.act.point
                ),
            )
            .related(place(tree.span(sealed_before.act.node)), "sealed before")
            .help("put them back as they were; the order in which the work was recorded is part of the record"),
        );
    }
    if written.len() > SEARCHED {
        return None;
    }
    let owner = acts(tree).into_iter().find(|act| {
        act.start != seal.act.start
            && [Before::Above, Before::Below, Before::Nothing]
                .into_iter()
                .any(|side| {
                    let moved = Seal {
                        act: act.clone(),
                        ..seal.clone()
                    };
                    holds(serial, tree, &moved, side)
                })
    })?;
    Some(
        Finding::new(
            &rules::SEAL_BROKEN,
            place(seal.span),
            format!(
                "expected a seal of {} below it, found the seal of {}",
                seal.act.point, owner.point
            ),
        )
        .related(place(tree.span(owner.node)), "it was set here")
        .help("put each seal back below the act that it was set for"),
    )
}

/// Who gave the act that a seal stands below.
fn act_person(record: &Record, seal: &Seal, file: FileId) -> Option<String> {
    let mut acts = record
        .stages
        .iter()
        .flatten()
        .flat_map(|round| round.acts.iter());
    let act = acts.find(|act| act.place.file == file && act.place.span.start == seal.act.start)?;
    act.person.as_ref().map(|(name, _)| name.to_string())
}

/// Whether a seal is signed by the person who gave the act; an error when its signature does not hold.
fn signed(
    seal: &Seal,
    person: Option<&str>,
    register: Option<&Register>,
    file: FileId,
) -> Result<bool, Box<Finding>> {
    let Some((signature, span)) = &seal.signature else {
        return Ok(false);
    };
    let place = Place { file, span: *span };
    let act = Place {
        file,
        span: seal.span,
    };
    let name = person.unwrap_or("the person of the act");
    let entry = register.and_then(|register| register.people.get(person?));
    let keys = entry.map_or(&[][..], |entry| &entry.keys);
    let finding = match signature::verify(signature, &seal.digest, keys) {
        Signed::Valid => return Ok(true),
        Signed::Invalid(found) => Finding::new(
            &rules::SIGNATURE_INVALID,
            place,
            format!(
                "expected a signature of the seal of {}, found {found}",
                seal.act.point
            ),
        )
        .help(
            "take the seal out and have it set and signed again by the person whose release it is",
        ),
        Signed::OtherKey(fingerprint) => {
            let mut finding = Finding::new(
                &rules::SIGNER_UNKNOWN,
                place,
                format!(
                    "expected the seal of {} to be signed with a key of {name}, found {}",
                    seal.act.point,
                    match keys.is_empty() {
                        true =>
                            format!("the key {fingerprint}, and no key of {name} in the register"),
                        false => format!("the key {fingerprint}, which is none of theirs"),
                    }
                ),
            );
            if let Some(entry) = entry {
                finding = finding.related(entry.place, format!("{name} is entered here"));
            }
            finding.help("find out who signed; only the person who releases signs the seal")
        }
    };
    Err(Box::new(finding.related(act, "the seal")))
}

/// One finding for each later design, with the points that were sealed before it.
fn design_revised(revised: &[(Span, &Seal)], file: FileId, findings: &mut Vec<Finding>) {
    let mut spans: Vec<Span> = revised.iter().map(|(span, _)| *span).collect();
    spans.sort_by_key(|span| span.start);
    spans.dedup();
    for span in spans {
        let seals: Vec<&Seal> = revised
            .iter()
            .filter(|(own, _)| *own == span)
            .map(|(_, seal)| *seal)
            .collect();
        let names: Vec<&str> = seals.iter().map(|seal| &*seal.act.point).collect();
        let mut finding = Finding::new(
            &rules::DESIGN_REVISED_BEHIND_SEAL,
            Place { file, span },
            format!(
                "expected the design on which {} sealed to be in force, found a later one",
                match names.len() {
                    1 => format!("{} was", names[0]),
                    _ => format!("{} were", names.join(", ")),
                }
            ),
        )
        .help("have the released stages looked at against it; accept this with the reason, or release a new round");
        if let Some(seal) = seals.first() {
            let place = Place {
                file,
                span: seal.span,
            };
            finding = finding.related(place, "sealed on the design before it");
        }
        findings.push(finding);
    }
}

/// What stands below the last sealed act of a round and is no correction and no act.
fn behind(ground: &Ground<'_>, written: &[Seal], file: FileId) -> Vec<Behind> {
    let tree = ground.tree;
    let mut last: FxHashMap<(&str, u32), &ActLine> = FxHashMap::default();
    for seal in written {
        last.insert((&*seal.act.stage, seal.act.round), &seal.act);
    }
    let all = acts(tree);
    let mut latest: FxHashMap<(&str, u32), u32> = FxHashMap::default();
    for act in &all {
        // They stand in the order of the document.
        latest.insert((&*act.stage, act.round), act.start);
    }
    let mut behind = Vec::new();
    for block in tree.children(tree.root()) {
        if tree.kind(block) != NodeKind::StageRecord {
            continue;
        }
        let Some((name, round)) = stage_of(tree, block) else {
            continue;
        };
        let (Some(act), Some(stage)) = (
            last.get(&(name, round)),
            ground.plan.stage_by_name.get(name),
        ) else {
            continue;
        };
        let later_act = latest.get(&(name, round)).copied().unwrap_or(0);
        for statement in below(tree, block) {
            let kind = tree.kind(statement);
            let allowed = is_act(kind)
                || matches!(
                    kind,
                    NodeKind::Amend | NodeKind::Accept | NodeKind::Notified
                );
            let span = tree.span(statement);
            if allowed || span.start < act.start || span.start < later_act {
                continue;
            }
            behind.push(Behind {
                stage: *stage,
                place: Place { file, span },
                act: Place {
                    file,
                    span: tree.span(act.node),
                },
            });
        }
    }
    behind
}
