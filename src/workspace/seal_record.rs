//! Seals set below the acts of a record.

use super::documents::{Given, Loaded, reason};
use super::files::WorkspaceFiles;
use super::library::Library;
use super::replace::replace;
use super::sealing::PlanTexts;
use super::{CannotRun, Input, MAX_DOCUMENT, Options, Silent, check, keep_zone_of, on_deep_stack};
use crate::finding::{Severity, printable, rules};
use crate::record::{Act, Record, bind, header};
use crate::register::Register;
use crate::seal::canonical::text_of;
use crate::seal::{
    ActLine, Ground, NewSeal, Part, Seal, Shared, Used, acts, head, insertion, insertion_below,
    parts, seals, signature, signature_line,
};
use crate::syntax::nearest;
use crate::text::FileId;
use ssh_key::PrivateKey;
use std::path::Path;

/// Which acts to seal.
#[derive(Clone, Copy, Debug)]
pub enum Wanted<'a> {
    /// Every act that has no seal, in the order of time.
    All,
    /// The last act at one point.
    Point(&'a str),
}

/// A seal that was set, or signed.
#[derive(Clone, Debug)]
pub struct Sealed {
    /// The stage.
    pub stage: String,
    /// The point.
    pub point: String,
    /// The seal.
    pub digest: String,
    /// Who signed it; none where it is not signed.
    pub signer: Option<String>,
    /// The seal stood there already, and only the signature is new.
    pub only_signed: bool,
}

/// What sealing a record came to.
#[derive(Clone, Debug, Default)]
pub struct SealedRecord {
    /// The unit's serial.
    pub serial: String,
    /// What was written, in order.
    pub sealed: Vec<Sealed>,
    /// Points whose act is by somebody else than the owner of the key, sealed and not signed.
    pub by_others: Vec<String>,
    /// How many acts had a seal already.
    pub already: usize,
}

/// Seals acts of a record and writes it anew as a whole, signed where a key is given. The record must have no error
/// in what is sealed. Only lines of seals are added; on an error nothing is written.
pub fn seal(
    path: &Path,
    wanted: Wanted<'_>,
    key: Option<&PrivateKey>,
    options: &Options,
) -> Result<SealedRecord, CannotRun> {
    let errors = errors_by_stage(path, options)?;
    on_deep_stack(|| {
        let read = read(path)?;
        let mut bytes = read.clone();
        let mut done = SealedRecord::default();
        let targets = with_record(path, bytes.clone(), |opened| {
            done.serial = opened.record.header.serial.clone();
            let targets = opened.targets(wanted, key.is_some())?;
            done.already = opened.seals_of_wanted(wanted);
            for target in &targets {
                errors.refuse(target)?;
            }
            Ok(targets)
        })?;
        for target in &targets {
            let (text, sealed, by_other) = with_record(path, bytes.clone(), |opened| {
                opened.sealed(target, wanted, key)
            })?;
            done.by_others.extend(by_other);
            done.sealed.push(sealed);
            bytes = text.into_bytes();
        }
        if bytes != read {
            replace(path, &read, &bytes)?;
        }
        Ok(done)
    })
}

/// The text behind a seal, for whoever wants to follow it by hand: of the last act at a point the text whose digest
/// the seal is (`part` is `seal`), or the canonical text of one part.
pub fn text_behind_seal(path: &Path, point: &str, part: &str) -> Result<String, CannotRun> {
    on_deep_stack(|| {
        let bytes = read(path)?;
        with_record(path, bytes, |opened| {
            let act = opened.act_at(point)?;
            let parts = opened.parts(&act);
            if part == "seal" {
                return match opened.seal_of(&act) {
                    Some(seal) => Ok(opened.text_of_seal(&seal)),
                    None => opened.new_seal(&act).map(|new| new.text),
                };
            }
            let names: Vec<String> = parts.iter().map(Part::name).collect();
            let found = parts
                .iter()
                .find(|own| own.name() == part || (own.kind == part && own.label == act.stage));
            match found {
                Some(part) if part.kind == "file" || part.kind == "plan" => {
                    Err(CannotRun(format!(
                        "{} is digested as it stands: {}",
                        part.name(),
                        match part.kind {
                            "file" => "`sha256sum` of the file gives the same",
                            _ => "by its statements; open the document itself",
                        }
                    )))
                }
                Some(part) => Ok(text_of(&part.lines)),
                None => Err(CannotRun(format!(
                    "expected `seal` or a part that {point} covers, found `{}`; it covers {}",
                    printable::text(part),
                    names.join(", ")
                ))),
            }
        })
    })
}

/// Reads the file of a document.
pub(super) fn read(path: &Path) -> Result<Vec<u8>, CannotRun> {
    let cannot = |error: std::io::Error| {
        CannotRun(format!(
            "cannot read {}: {}",
            path.display(),
            reason(&error)
        ))
    };
    let data = std::fs::metadata(path).map_err(cannot)?;
    if !data.is_file() || data.len() > MAX_DOCUMENT {
        return Err(CannotRun(format!(
            "expected the file of a document, found {} at {}",
            if data.is_file() {
                "one that is too large"
            } else {
                "no file"
            },
            path.display()
        )));
    }
    std::fs::read(path).map_err(cannot)
}

/// Every value of a record as it is bound to its plan, in order, as text that tells any two of them apart; nothing where
/// it cannot be bound.
pub(super) fn bound_values(path: &Path, bytes: Vec<u8>) -> Option<Vec<String>> {
    let values = with_record(path, bytes, |opened| {
        let record = opened.record;
        let entries = record.entries.iter().map(|entry| {
            let (first, count) = entry.conditions;
            let own = first as usize..(first + count) as usize;
            let conditions: Vec<_> = record.conditions[own]
                .iter()
                .map(|own| &own.value)
                .collect();
            format!("{:?} under {conditions:?}", entry.value)
        });
        Ok(entries.collect())
    });
    values.ok()
}

/// The errors of a record, by the stage in which they stand.
struct Errors {
    path: String,
    /// In no stage, or about the seals that are there: nothing can be sealed on them.
    of_the_whole: Vec<String>,
    of_stages: Vec<(String, String)>,
}

impl Errors {
    fn refuse(&self, act: &ActLine) -> Result<(), CannotRun> {
        let own = self
            .of_stages
            .iter()
            .filter(|(stage, _)| *stage == act.stage)
            .map(|(_, message)| message);
        let mut all = self.of_the_whole.iter().chain(own);
        let Some(first) = all.next() else {
            return Ok(());
        };
        let more = match all.count() {
            0 => String::new(),
            count => format!(" (and {count} more)"),
        };
        Err(CannotRun(format!(
            "expected no error in what {} covers, found: {first}{more}; `stagebook check {}` tells all; nothing was written",
            act.point, self.path
        )))
    }
}

fn errors_by_stage(path: &Path, options: &Options) -> Result<Errors, CannotRun> {
    let outcome = check(&[Input::Path(path.to_owned())], options, &Silent)?;
    let mut errors = Errors {
        path: path.display().to_string(),
        of_the_whole: Vec::new(),
        of_stages: Vec::new(),
    };
    let about_seals = [
        &rules::SEAL_BROKEN,
        &rules::SEAL_CHAIN_BROKEN,
        &rules::SIGNATURE_INVALID,
        &rules::SIGNER_UNKNOWN,
    ]
    .map(|rule| rule.name);
    let Some(own) = outcome.checked.first() else {
        return Ok(errors);
    };
    let outlines = crate::syntax::parse(outcome.sources[own.0 as usize].text.clone()).stages();
    for finding in &outcome.findings {
        if finding.accepted.is_some() || finding.severity != Severity::Error {
            continue;
        }
        let at = finding.place.span.start;
        let stage = outlines
            .iter()
            .find(|(span, _)| finding.place.file == *own && span.start <= at && at < span.end);
        match stage {
            Some((_, stage)) if !about_seals.contains(&finding.rule.name) => errors
                .of_stages
                .push((stage.to_string(), finding.message.clone())),
            _ => errors.of_the_whole.push(finding.message.clone()),
        }
    }
    Ok(errors)
}

/// A record opened with everything that its seals rest on.
struct Opened<'a> {
    ground: Ground<'a>,
    /// The seals that it has.
    seals: Vec<Seal>,
    record: &'a Record,
    register: Option<&'a Register>,
    path: &'a Path,
}

/// Opens a record as a check would, from these bytes.
fn with_record<T>(
    path: &Path,
    bytes: Vec<u8>,
    work: impl FnOnce(&Opened<'_>) -> Result<T, CannotRun>,
) -> Result<T, CannotRun> {
    if std::str::from_utf8(&bytes).is_err() {
        return Err(CannotRun(format!(
            "expected UTF-8 text in {}, found other bytes; nothing was written",
            path.display()
        )));
    }
    let loaded = Loaded::read(Given {
        name: path.to_string_lossy().replace('\\', "/"),
        path: Some(path.to_owned()),
        bytes: Some(bytes),
    })?;
    let mut library = Library::new(vec![loaded]);
    let needs = library.needs();
    let (plans, _) = library.compile(false);
    let none = || {
        CannotRun(format!(
            "expected a unit record with a plan that is found, found none in {}; `stagebook check` tells why",
            path.display()
        ))
    };
    let need = needs.first().ok_or_else(none)?;
    let plan_index = need.plan.ok_or_else(none)?;
    let plan = plans.get(&plan_index).ok_or_else(none)?;
    let document = &library.documents[need.document];
    let mut head = header(&document.tree).ok_or_else(none)?;
    let folder = document.folder.clone().unwrap_or_default();
    let files = WorkspaceFiles::new(&folder, &need.root);
    let register = need
        .register
        .and_then(|index| library.registers.get(&index));
    keep_zone_of(register, &mut head);
    let bound = bind(
        &document.tree,
        FileId(need.document as u32),
        head,
        plan,
        &files,
    );
    let texts = PlanTexts::default().of(&library, plan_index);
    work(&Opened {
        ground: Ground {
            tree: &document.tree,
            header: &bound.record.header,
            plan,
            plans: &texts,
            register: need.register.map(|index| &library.documents[index].tree),
            files: &files,
        },
        seals: seals(&document.tree),
        record: &bound.record,
        register,
        path,
    })
}

impl Opened<'_> {
    fn act_of(&self, line: &ActLine) -> Option<&Act> {
        let rounds = self.record.stages.iter().flatten();
        rounds
            .flat_map(|round| &round.acts)
            .find(|act| act.place.span.start == line.start)
    }

    fn seal_of(&self, line: &ActLine) -> Option<Seal> {
        self.seals
            .iter()
            .find(|seal| seal.act.start == line.start)
            .cloned()
    }

    /// The last act at a point. The error names the points at which there is one.
    fn act_at(&self, point: &str) -> Result<ActLine, CannotRun> {
        let lines = acts(self.ground.tree);
        if let Some(line) = lines.iter().rev().find(|line| line.point == point) {
            return Ok(line.clone());
        }
        let plan = self.ground.plan;
        let known: Vec<&str> = plan.points.iter().map(|point| &*point.name).collect();
        let found = match known.contains(&point) {
            true => {
                format!("found that {point} is open: seal it when the act stands in the record")
            }
            false => match nearest(point, known.iter().copied()) {
                Some(near) => format!("found `{}`; did you mean `{near}`?", printable::text(point)),
                None => format!(
                    "found `{}`; the plan has {}",
                    printable::text(point),
                    known.join(", ")
                ),
            },
        };
        Err(CannotRun(format!(
            "expected a point of {} that is released, witnessed, waived or reviewed, {found}",
            self.record.header.serial
        )))
    }

    /// The acts that are to be sealed, or signed, in the order of time.
    fn targets(&self, wanted: Wanted<'_>, sign: bool) -> Result<Vec<ActLine>, CannotRun> {
        let to_do = |line: &ActLine| match self.seal_of(line) {
            None => true,
            Some(seal) => sign && seal.signature.is_none(),
        };
        match wanted {
            Wanted::Point(point) => {
                let line = self.act_at(point)?;
                if self.act_of(&line).is_none() {
                    return Err(CannotRun(format!(
                        "expected an act at {point} that can be judged, found one that cannot; `stagebook check {}` tells why",
                        self.path.display()
                    )));
                }
                if !to_do(&line) {
                    return Err(CannotRun(format!(
                        "expected {point} without a seal, found it {}; a seal is never set anew over another",
                        if sign { "signed" } else { "sealed" }
                    )));
                }
                Ok(vec![line])
            }
            Wanted::All => {
                let mut lines: Vec<(i64, ActLine)> = acts(self.ground.tree)
                    .into_iter()
                    .filter(|line| to_do(line))
                    .filter_map(|line| {
                        let (when, _) = self.act_of(&line)?.when?;
                        Some((when.earliest, line))
                    })
                    .collect();
                lines.sort_by_key(|(when, line)| (*when, line.start));
                Ok(lines.into_iter().map(|(_, line)| line).collect())
            }
        }
    }

    fn seals_of_wanted(&self, wanted: Wanted<'_>) -> usize {
        match wanted {
            Wanted::All => self.seals.len(),
            Wanted::Point(_) => 0,
        }
    }

    fn parts(&self, act: &ActLine) -> Vec<Part> {
        let used = Used::by(self.record, self.ground.plan, act);
        parts(&self.ground, &Shared::of(&self.ground), act, &used)
    }

    fn new_seal(&self, act: &ActLine) -> Result<NewSeal, CannotRun> {
        let before = head(&self.seals);
        NewSeal::of(
            &self.record.header.serial,
            self.ground.tree,
            act,
            before,
            self.parts(act),
        )
        .map_err(|file| {
            CannotRun(format!(
                "expected the file {} that {} covers, found that it cannot be read; nothing was written",
                printable::text(&file),
                act.point
            ))
        })
    }

    fn text_of_seal(&self, seal: &Seal) -> String {
        crate::seal::text_in_place(&self.record.header.serial, self.ground.tree, seal)
    }

    /// The record with one more seal, or one more signature: the text, what was done, and the point where the
    /// owner of the key is somebody else.
    fn sealed(
        &self,
        target: &ActLine,
        wanted: Wanted<'_>,
        key: Option<&PrivateKey>,
    ) -> Result<(String, Sealed, Option<String>), CannotRun> {
        let tree = self.ground.tree;
        // Its place has moved with what was written above it; what it is has not.
        let act = acts(tree)
            .into_iter()
            .find(|act| {
                (&act.stage, act.round, &act.point, act.again)
                    == (&target.stage, target.round, &target.point, target.again)
            })
            .ok_or_else(|| CannotRun(format!("the act at {} is gone", target.point)))?;
        let person = self
            .act_of(&act)
            .and_then(|act| act.person.as_ref())
            .map(|(name, _)| name.to_string())
            .unwrap_or_default();
        let signer = match key {
            None => None,
            Some(key) => match (self.owns(&person, key), wanted) {
                (Ok(()), _) => Some(key),
                (Err(why), Wanted::Point(_)) => return Err(why),
                (Err(_), Wanted::All) => None,
            },
        };
        let by_other = (key.is_some() && signer.is_none()).then(|| act.point.clone());
        let own = self.seal_of(&act);
        let mut done = Sealed {
            stage: act.stage.clone(),
            point: act.point.clone(),
            digest: String::new(),
            signer: signer.map(|_| person),
            only_signed: own.is_some(),
        };
        let sign = |digest: &str| {
            let signed = signer.map(|key| signature::sign(key, digest)).transpose();
            signed.map_err(|error| CannotRun(format!("cannot sign: {error}; nothing was written")))
        };
        let text = tree.text();
        let (at, lines, end) = match &own {
            None => {
                let new = self.new_seal(&act)?;
                done.digest = new.digest.clone();
                let (at, indent, end) = insertion(tree, &act);
                let signature = sign(&new.digest)?;
                (at, new.lines(&indent, signature.as_deref(), end), end)
            }
            Some(seal) => {
                done.digest = seal.digest.clone();
                let gone = || CannotRun(format!("the seal of {} is gone", act.point));
                let (at, indent, end) = insertion_below(tree, seal).ok_or_else(gone)?;
                let signature = sign(&seal.digest)?;
                let lines = signature
                    .map(|signature| signature_line(&indent, &signature, end))
                    .unwrap_or_default();
                (at, lines, end)
            }
        };
        let mut new = String::with_capacity(text.len() + lines.len() + 2);
        new.push_str(&text[..at]);
        if !lines.is_empty() && !new.ends_with('\n') {
            new.push_str(end);
        }
        new.push_str(&lines);
        new.push_str(&text[at..]);
        Ok((new, done, by_other))
    }

    /// Whether a key is one of a person's in the register.
    fn owns(&self, person: &str, key: &PrivateKey) -> Result<(), CannotRun> {
        let entry = self
            .register
            .and_then(|register| register.people.get(person));
        let public = key.public_key();
        let owned = entry.is_some_and(|entry| {
            let mut keys = entry.keys.iter();
            keys.any(|known| known.key_data() == public.key_data())
        });
        if owned {
            return Ok(());
        }
        let fingerprint = public.fingerprint(ssh_key::HashAlg::Sha256);
        let found = match entry {
            Some(entry) if !entry.keys.is_empty() => {
                format!("the key {fingerprint}, which is not entered for {person}")
            }
            Some(_) => format!("no key of {person} in the register"),
            None => format!("no {person} in the register"),
        };
        Err(CannotRun(format!(
            "expected a key of {person}, who stands at the act, found {found}; the quality office enters the public key in the register; nothing was written"
        )))
    }
}
