//! Acts at points, amendments, attachments and nonconformities.

use super::bind::{Binder, Slotted, StageWork, is_value};
use super::model::*;
use crate::finding::rules;
use crate::finding::{Finding, PointKind};
use crate::plan::value::Value;
use crate::plan::{Comparison, SetId, StageName, operate};
use crate::syntax::{NodeId, NodeKind, nearest};
use std::sync::Arc;

impl Binder<'_> {
    /// `release`, `witnessed`, `waived` or `reviewed`.
    pub(super) fn act(&mut self, line: NodeId, work: &mut StageWork) {
        let tree = self.tree();
        let Some(name_node) = tree.child(line, NodeKind::Name) else {
            return;
        };
        let name = tree.text_of(name_node);
        let stage = &self.plan.stages[work.stage.index()];
        let point = stage
            .points
            .iter()
            .copied()
            .find(|id| *self.plan.points[id.index()].name == *name);
        let Some(point) = point else {
            let elsewhere = self.plan.points.iter().find(|point| *point.name == *name);
            let place = self.place(name_node);
            let mut finding = Finding::new(
                &rules::UNKNOWN_POINT,
                place,
                format!("expected a point of stage `{}`, found `{name}`", stage.name),
            );
            if let Some(point) = elsewhere {
                let owner = &self.plan.stages[point.stage.index()].name;
                finding =
                    finding.related(point.place, format!("`{name}` belongs to stage `{owner}`"));
            } else {
                let known: Vec<&str> = stage
                    .points
                    .iter()
                    .map(|id| &*self.plan.points[id.index()].name)
                    .collect();
                finding = match nearest(name, known.iter().copied()) {
                    Some(near) => finding.help(format!("did you mean `{near}`?")),
                    None if known.is_empty() => finding.help("this stage has no points"),
                    None => finding.help(format!("this stage has {}", known.join(", "))),
                };
            }
            self.report(finding);
            return;
        };
        let word = match tree.kind(line) {
            NodeKind::Release => ActWord::Release,
            NodeKind::Witnessed => ActWord::Witnessed,
            NodeKind::Waived => ActWord::Waived,
            NodeKind::Notified => ActWord::Notified,
            _ => ActWord::Reviewed,
        };
        let declared = &self.plan.points[point.index()];
        let fits = match declared.kind {
            PointKind::Hold => word == ActWord::Release,
            PointKind::Witness => matches!(word, ActWord::Witnessed | ActWord::Waived),
            PointKind::Review => word == ActWord::Reviewed,
        };
        // Notice may be given of any point that somebody from elsewhere attends.
        let fits = fits || word == ActWord::Notified;
        if !fits {
            let right = match declared.kind {
                PointKind::Hold => "release",
                PointKind::Witness => "witnessed` or `waived",
                PointKind::Review => "reviewed",
            };
            let finding = Finding::new(
                &rules::WRONG_POINT_WORD,
                self.place(line),
                format!(
                    "expected `{right}` for the {} point {name}, found `{}`",
                    declared.kind.word(),
                    word.word()
                ),
            )
            .related(declared.place, "declared here");
            self.report(finding);
            return;
        }
        let context = self.clauses(line, 0);
        let context = self.record.contexts[context as usize].clone();
        let missing = match (&context.person, &context.when) {
            (Some(_), Some(_)) => None,
            (None, Some(_)) => Some((&rules::MISSING_PERSON, "the person")),
            (Some(_), None) => Some((&rules::MISSING_DATE, "the date")),
            (None, None) => Some((&rules::MISSING_PERSON, "the person and the date")),
        };
        if let Some((rule, what)) = missing {
            let finding = Finding::new(
                rule,
                self.place(line),
                format!(
                    "expected `{} {name} by PERSON on DATE`, found no {}",
                    word.word(),
                    what.trim_start_matches("the ")
                ),
            )
            .severity(crate::finding::Severity::Error)
            .help("an act at a point counts only with a name and a time");
            self.report(finding);
            return;
        }
        let when_text = self.when_text(line);
        let place = self.place(line);
        let text = tree
            .child(line, NodeKind::TextPart)
            .map(|text| tree.unquoted(text))
            .unwrap_or_default();
        if word == ActWord::Waived && text.trim().is_empty() {
            let finding = Finding::new(
                &rules::REASON_MISSING,
                place,
                "expected the letter in quotes by which the point was waived, found none",
            )
            .help("name the letter or give the reason: waived W20 by a.client on 2026-03-03 \"letter of 2026-03-02\"");
            self.report(finding);
        }
        let act = Act {
            point,
            word,
            place,
            person: context.person,
            when: context.when,
            when_text,
            text,
        };
        if word == ActWord::Notified {
            work.round.notices.push(act);
            return;
        }
        let again = work
            .round
            .acts
            .iter()
            .rfind(|act| act.point == point)
            .map(|act| act.place);
        if let Some(before) = again {
            // A release says that somebody looked; after an amendment somebody has to look again.
            let amended = work.round.amendments.iter().any(|amendment| {
                let amended = self.record.amendments[*amendment as usize].place;
                amended.span.start > before.span.start
            });
            if word != ActWord::Release || !amended {
                let finding = Finding::new(
                    &rules::DUPLICATE_READING,
                    place,
                    format!("expected one line for point {name} in a round, found a second"),
                )
                .related(before, "first here")
                .help("a point is released again only after an amendment, or in a new round of the stage");
                self.report(finding);
                return;
            }
        }
        work.round.acts.push(act);
    }

    /// The writer's own words for when.
    fn when_text(&self, line: NodeId) -> String {
        let tree = self.tree();
        tree.child(line, NodeKind::OnClause)
            .and_then(|on| tree.child(on, NodeKind::DateTime))
            .map(|date| tree.text_of(date).to_owned())
            .unwrap_or_default()
    }

    /// `amend`: the new value takes the slot, the old one is kept beside it.
    pub(super) fn amend(&mut self, line: NodeId, work: &mut StageWork) {
        let tree = self.tree();
        let Some(declared) = tree.child(line, NodeKind::DeclaredValue) else {
            return;
        };
        let Some(item) = self.stage_reading(declared, work.stage) else {
            return;
        };
        let Some(slot) = self.written_slot(declared, item) else {
            return;
        };
        let new = tree
            .children(line)
            .find(|child| is_value(tree.kind(*child)));
        let was = tree
            .child(line, NodeKind::WasClause)
            .and_then(|was| tree.children(was).find(|child| is_value(tree.kind(*child))));
        let (Some(new), Some(was)) = (new, was) else {
            return;
        };
        if tree.child(line, NodeKind::BecauseClause).is_none() {
            let finding = Finding::new(
                &rules::REASON_MISSING,
                self.place(line),
                "expected `because` and a reason in quotes at the end of an amendment, found none",
            )
            .help("say why the value is corrected: because \"misread display\"");
            self.report(finding);
        }
        let new_value = self.values.value(new, self.wanted(item));
        let old_value = self.values.value(was, self.wanted(item));
        let Slotted::Reading(id) = item else { return };
        let known = work
            .round
            .readings
            .get(&id)
            .and_then(|row| row.get(slot))
            .copied()
            .filter(|cell| *cell != EMPTY);
        let name = format!(
            "{}{}",
            self.name(item),
            index_text(&self.record.domains, self.indices(item), slot)
        );
        let Some(known) = known else {
            let finding = Finding::new(
                &rules::AMENDMENT_MISMATCH,
                self.place(line),
                format!("expected a recorded value of `{name}` above the amendment, found none"),
            )
            .help("an amendment stands below the reading that it corrects");
            self.report(finding);
            return;
        };
        let entry = self.record.entries[known as usize].clone();
        let same = match (&entry.value, &old_value) {
            (Recorded::Value(a), Recorded::Value(b)) => equal(a, b),
            _ => false,
        };
        if !same {
            let finding = Finding::new(
                &rules::AMENDMENT_MISMATCH,
                self.place(was),
                format!(
                    "expected `was` to repeat the recorded value of `{name}`, found another one"
                ),
            )
            .label("not what is recorded")
            .related(entry.place, "the recorded value")
            .help("the recorded value stays as it is; write it behind `was` as it stands");
            self.report(finding);
            return;
        }
        let context = self.clauses(line, 0);
        let own = self.record.contexts[context as usize].clone();
        let missing = match (&own.person, &own.when) {
            (Some(_), Some(_)) => None,
            (None, Some(_)) => Some((&rules::MISSING_PERSON, "person")),
            (Some(_), None) => Some((&rules::MISSING_DATE, "date")),
            (None, None) => Some((&rules::MISSING_PERSON, "person and no date")),
        };
        if let Some((rule, what)) = missing {
            let finding = Finding::new(
                rule,
                self.place(line),
                format!("expected `amend {name} = NEW was OLD by PERSON on DATE because \"…\"`, found no {what}"),
            )
            .severity(crate::finding::Severity::Error)
            .help("a correction counts only with the name of whoever made it and the time");
            self.report(finding);
        }
        let conditions = self.conditions(line, self.given(item));
        let place = self.place(new);
        let amendment = Amendment {
            reading: (id, slot as u32),
            place: self.place(line),
            replaced: known,
            person: own.person.clone(),
            when: own.when,
            when_text: self.when_text(line),
            reason: tree
                .child(line, NodeKind::BecauseClause)
                .and_then(|because| tree.child(because, NodeKind::TextPart))
                .map(|text| tree.unquoted(text))
                .unwrap_or_default(),
        };
        let number = self.record.amendments.len() as u32;
        self.record.amendments.push(amendment);
        work.round.amendments.push(number);
        let mut amended = entry;
        amended.amended = Some(number);
        amended.value = new_value;
        amended.place = place;
        amended.unit = None;
        if conditions.1 > 0 {
            amended.conditions = self.completed(conditions, amended.conditions);
        }
        // The reading stays that of whoever took it, with what and when it was taken. An instrument on the
        // line of the amendment says that it was read anew, and then by whom and when that was.
        if own.instrument.is_some() {
            let before = self.record.contexts[amended.context as usize].clone();
            amended.context = self.intern(Context {
                instrument: own.instrument,
                person: own.person.or(before.person),
                when: own.when.or(before.when),
                also_said_elsewhere: false,
            });
        }
        let index = self.record.entries.len() as u32;
        self.record.entries.push(amended);
        if let Some(cell) = work
            .round
            .readings
            .get_mut(&id)
            .and_then(|row| row.get_mut(slot))
        {
            *cell = index;
        }
    }

    pub(super) fn attachment(&mut self, line: NodeId) {
        let tree = self.tree();
        let Some(text) = tree.child(line, NodeKind::TextPart) else {
            return;
        };
        let path = tree.unquoted(text);
        let place = self.place(text);
        let reason = match self.files.exists(&path) {
            Ok(()) => return,
            Err(FileFault::Outside) => "a path that leads out of the workspace".to_owned(),
            Err(FileFault::Unreadable(reason)) => reason,
        };
        let finding = Finding::new(
            &rules::ATTACHMENT_MISSING,
            place,
            format!("expected the attached file at `{path}`, found {reason}"),
        )
        .help("the path counts from the record's own folder");
        self.report(finding);
    }

    pub(super) fn nonconformity(&mut self, node: NodeId) {
        let tree = self.tree();
        let Some(name_node) = tree.child(node, NodeKind::Name) else {
            return;
        };
        let name: Arc<str> = tree.text_of(name_node).into();
        if let Some(first) = self
            .record
            .nonconformities
            .iter()
            .find(|known| known.name == name)
            .map(|known| known.place)
        {
            let finding = Finding::new(
                &rules::DUPLICATE_DECLARATION,
                self.place(name_node),
                format!("expected one nonconformity called `{name}`, found a second"),
            )
            .related(first, "first raised here");
            self.report(finding);
        }
        let context = self.clauses(node, 0);
        let raised = self.record.contexts[context as usize].clone();
        self.signed(node, &raised, "nonconformity NC-1 by PERSON on DATE");
        let mut nonconformity = Nonconformity {
            name,
            place: self.place(node),
            against: Vec::new(),
            disposition: None,
            raised_by: raised.person,
            raised: raised.when.map(|(when, _)| when),
            closed: None,
            agreed: None,
        };
        for child in tree.children(node) {
            match tree.kind(child) {
                NodeKind::Against => {
                    if let Some(target) = self.against(child) {
                        nonconformity.against.push(target);
                    }
                }
                NodeKind::Disposition => nonconformity.disposition = self.disposition(child),
                NodeKind::Agreed => {
                    let context = self.clauses(child, 0);
                    let context = self.record.contexts[context as usize].clone();
                    self.signed(child, &context, "agreed by PERSON on DATE");
                    nonconformity.agreed = Some(Agreed {
                        place: self.place(child),
                        person: context.person,
                        when: context.when.map(|(when, _)| when),
                    });
                }
                NodeKind::Closed => {
                    let context = self.clauses(child, 0);
                    let context = self.record.contexts[context as usize].clone();
                    self.signed(child, &context, "closed by PERSON on DATE");
                    let when = context.when;
                    nonconformity.closed = when.map(|(when, _)| (when, self.place(child)));
                }
                NodeKind::Attach => self.attachment(child),
                _ => {}
            }
        }
        self.record.nonconformities.push(nonconformity);
    }

    /// Reports a step of a nonconformity that nobody put a name or a date to.
    fn signed(&mut self, line: NodeId, context: &Context, wanted: &str) {
        let (rule, what) = match (&context.person, &context.when) {
            (Some(_), Some(_)) => return,
            (None, Some(_)) => (&rules::MISSING_PERSON, "person"),
            (Some(_), None) => (&rules::MISSING_DATE, "date"),
            (None, None) => (&rules::MISSING_PERSON, "person and no date"),
        };
        let finding = Finding::new(
            rule,
            self.place(line),
            format!("expected `{wanted}`, found no {what}"),
        )
        .severity(crate::finding::Severity::Error)
        .help("a nonconformity is raised, agreed and closed by somebody on some day");
        self.report(finding);
    }

    fn against(&mut self, line: NodeId) -> Option<Target> {
        let tree = self.tree();
        let path = tree.child(line, NodeKind::Path)?;
        let text = tree.text_of(path);
        let found = text.split_once('.').and_then(|(stage, name)| {
            let stage = &self.plan.stages[self.plan.stage_by_name.get(stage)?.index()];
            stage.names.get(name).copied()
        });
        let sets: &[SetId] = match found {
            Some(StageName::Reading(id)) => &self.plan.readings[id.index()].indices,
            Some(StageName::Check(id)) => &self.plan.checks[id.index()].indices,
            Some(StageName::Log(id)) => &self.plan.logs[id.index()].indices,
            Some(StageName::Calc(_)) | None => {
                let mut known: Vec<String> = Vec::new();
                for stage in &self.plan.stages {
                    for (name, what) in &stage.names {
                        if !matches!(what, StageName::Calc(_)) {
                            known.push(format!("{}.{name}", stage.name));
                        }
                    }
                }
                known.sort();
                let mut finding = Finding::new(
                    &rules::NONCONFORMITY_TARGET_UNKNOWN,
                    self.place(path),
                    format!(
                        "expected the STAGE.NAME of a reading, a log or a check, found `{text}`"
                    ),
                );
                if let Some(near) = nearest(text, known.iter().map(String::as_str)) {
                    finding = finding.help(format!("did you mean `{near}`?"));
                }
                self.report(finding);
                return None;
            }
        };
        let parts: Vec<NodeId> = tree
            .child(line, NodeKind::Index)
            .map(|index| tree.children(index).collect())
            .unwrap_or_default();
        if parts.is_empty() {
            return Some(Target {
                name: text.to_owned(),
                slot: None,
            });
        }
        if parts.len() != sets.len() {
            let finding = Finding::new(
                &rules::INDEX_COUNT,
                self.place(line),
                format!(
                    "expected {} indices for `{text}`, found {}",
                    sets.len(),
                    parts.len()
                ),
            );
            self.report(finding);
            return None;
        }
        let mut members = Vec::with_capacity(parts.len());
        for (part, set) in parts.iter().zip(sets) {
            members.push(self.member(*part, *set)?);
        }
        let slot = slot(&self.record.domains, sets, &members) as u32;
        Some(Target {
            name: text.to_owned(),
            slot: Some(slot),
        })
    }

    fn disposition(&mut self, line: NodeId) -> Option<Disposition> {
        let tree = self.tree();
        let name = tree.child(line, NodeKind::Name)?;
        let known = ["use-as-is", "rework", "repair", "scrap", "regrade"];
        Some(match tree.text_of(name) {
            "use-as-is" => Disposition::UseAsIs,
            "rework" => Disposition::Rework,
            "repair" => Disposition::Repair,
            "scrap" => Disposition::Scrap,
            "regrade" => Disposition::Regrade,
            other => {
                self.unknown(
                    name,
                    "use-as-is, rework, repair, scrap or regrade",
                    other,
                    known,
                );
                return None;
            }
        })
    }
}

fn equal(left: &Value, right: &Value) -> bool {
    matches!(
        operate::compare(Comparison::Equal, left, right),
        Ok(Value::Truth(true))
    )
}
