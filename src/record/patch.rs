//! Binding again after a change: of a record whose text changed in a few lines, only these lines are read again.
//!
//! What comes out is what [`bind`](super::bind()) would give for the new text. So this steps back wherever a line
//! bears on other lines in a way that is not followed here, and the caller binds the whole. Conditions that are no
//! longer used may stay behind; nothing refers to them.

use super::bind::{Binder, INTERNED, StageWork, same_context, zone};
use super::model::*;
use super::moved::Moving;
use crate::finding::{Finding, rules};
use crate::plan::{LogId, Plan, ReadingId};
use crate::syntax::{Change, NodeId, NodeKind, Removed, Tree};
use crate::text::{FileId, Place, Span};
use rustc_hash::FxHashMap;
use std::collections::hash_map;
use std::ops::Range;

/// More changed lines than this are bound with the whole.
const MOST_LINES: usize = 64;
/// A slot that refers to an entry behind the changed ones holds its number among those behind, from here on.
const BEHIND: u32 = 1 << 30;

/// A record that was bound, and what was found while binding it.
#[derive(Debug)]
pub struct BoundBefore {
    /// The record.
    pub record: Record,
    /// What binding found; nothing that came later.
    pub findings: Vec<Finding>,
}

/// What is other in a record than before the change. All else says what it said, be it at another place.
#[derive(Debug, Default)]
pub struct Touched {
    /// Slots of readings that have another entry, or none any more.
    pub readings: Vec<(ReadingId, u32)>,
    /// Logs that were read again.
    pub logs: Vec<(LogId, u32)>,
    /// Entries that were read again, by their number now.
    pub entries: Range<u32>,
    /// Contexts that are not there any more, by their number before.
    pub contexts: Range<usize>,
    /// How many contexts stand in their place.
    pub contexts_now: usize,
}

/// Binds the changed lines of a record anew. `tree` is the tree of the new text, `change` what changed since the
/// text that `before` was bound from; plan and header have to be the same. Gives the record and what of it is other than
/// before; nothing where the whole has to be bound.
pub fn patch(
    tree: &Tree,
    file: FileId,
    plan: &Plan,
    files: &dyn Files,
    before: BoundBefore,
    change: &Change,
) -> Option<(Bound, Touched)> {
    let lines = Lines::of(tree, change)?;
    let BoundBefore {
        mut record,
        mut findings,
    } = before;
    let without_members = record
        .domains
        .iter()
        .any(|domain| domain.members.is_empty());
    let tells_of_others = |finding: &Finding| {
        let rule = finding.rule.name;
        rule == rules::DUPLICATE_READING.name
            || rule == rules::AMENDMENT_MISMATCH.name
            || finding.reasoning.is_some()
            // A set without members is told of where it is first used.
            || without_members && rule == rules::UNKNOWN_MEMBER.name
    };
    if findings.iter().any(tells_of_others)
        || record.entries.len() as u32 >= BEHIND
        || record.conditions.len() > 2 * record.entries.len() + 1_000
    {
        return None;
    }
    let moving = Moving {
        file,
        from: lines.old.end,
        by: i64::from(lines.new.end) - i64::from(lines.old.end),
    };
    let mut told = Vec::new();
    let mut touched = Touched::default();
    if lines.added.is_empty() && lines.removed.is_empty() {
        moving.record(&mut record);
    } else {
        let zone = zone(&record.header, file, &mut Vec::new());
        let mut binder = Binder::new(tree, file, zone, plan, files, record, &mut told);
        let read_again = binder.read_again(&lines, moving, &mut touched)?;
        if !binder.empty_sets.is_empty() {
            return None;
        }
        record = binder.record;
        let again = |place: &Place| {
            let at = place.span.start;
            place.file == file && read_again.start <= at && at < read_again.end
        };
        findings.retain(|finding| !again(&finding.place));
        let mut related = findings.iter().flat_map(|finding| &finding.related);
        if related.any(|related| again(&related.place)) {
            return None;
        }
    }
    moving.findings(&mut findings);
    findings.append(&mut told);
    let bound = Bound {
        record,
        findings,
        can_be_judged: true,
    };
    Some((bound, touched))
}

/// What the changed lines had made.
struct Gone<'a> {
    /// The numbers of the contexts, and what they were.
    numbers: Range<u32>,
    contexts: &'a [Context],
    marks: &'a [(u32, Place)],
}

/// What stands behind the changed lines.
struct Behind<'a> {
    /// Its first byte.
    from: u32,
    entries: &'a [Entry],
    contexts: &'a [Context],
    marks: &'a [(u32, Place)],
}

/// The lines that differ, without those that were only parsed again.
struct Lines<'c> {
    removed: &'c [Removed],
    added: &'c [NodeId],
    /// Their bytes in the text before and now; what lies behind moves.
    old: Span,
    new: Span,
    /// The `stage` statement that they stand in.
    stage: NodeId,
    /// The log whose rows they are.
    log: Option<NodeId>,
}

impl<'c> Lines<'c> {
    fn of(tree: &Tree, change: &'c Change) -> Option<Lines<'c>> {
        let (mut removed, mut added) = (&*change.removed, &*change.added);
        let (mut old, mut new) = (change.before, change.after);
        // The first number that was given anew; smaller ones mean the same in both trees.
        let mut fresh = change.kept;
        while let (Some((before, rest)), Some((after, later))) =
            (removed.split_first(), added.split_first())
        {
            let span = tree.span(*after);
            let same = before.id == *after
                && before.kind == tree.kind(*after)
                && before.span == span
                && span.end <= change.differs.start
                && tree.parent(*after) == Some(before.parent);
            if !same {
                break;
            }
            (removed, added) = (rest, later);
            (old.start, new.start) = (span.end, span.end);
            fresh = after.0 + 1;
        }
        let stays = |id: NodeId| id.0 < fresh;
        while let (Some((before, rest)), Some((after, later))) =
            (removed.split_last(), added.split_last())
        {
            let span = tree.span(*after);
            let same = before.kind == tree.kind(*after)
                && before.span.start >= change.differs.end
                && before.span.len() == span.len()
                && tree.parent(*after) == Some(before.parent)
                && stays(before.parent);
            if !same {
                break;
            }
            (removed, added) = (rest, later);
            (old.end, new.end) = (before.span.start, span.start);
        }
        if removed.len() > MOST_LINES || added.len() > MOST_LINES {
            return None;
        }
        let mut lines = Lines {
            removed,
            added,
            old,
            new,
            stage: tree.root(),
            log: None,
        };
        let mut parents: Vec<(NodeKind, NodeId)> = removed
            .iter()
            .map(|removed| (removed.kind, removed.parent))
            .collect();
        for id in added {
            parents.push((tree.kind(*id), tree.parent(*id)?));
        }
        for (kind, parent) in parents {
            if !stays(parent) {
                return None;
            }
            let place = tree.kind(parent);
            let stage = match (place, kind) {
                (NodeKind::StageRecord, NodeKind::Reading | NodeKind::Note | NodeKind::Broken) => {
                    parent
                }
                (
                    NodeKind::Table | NodeKind::Log,
                    NodeKind::Row | NodeKind::Note | NodeKind::Broken,
                ) => tree.parent(parent)?,
                _ => return None,
            };
            let log = (place == NodeKind::Log).then_some(parent);
            let first = lines.stage == tree.root();
            if tree.kind(stage) != NodeKind::StageRecord
                || !first && (lines.stage != stage || lines.log != log)
            {
                return None;
            }
            (lines.stage, lines.log) = (stage, log);
        }
        Some(lines)
    }
}

impl Binder<'_> {
    /// Reads the changed lines of a stage again. Gives the bytes of the text before of which what was told is told
    /// anew: those of the lines, or of the whole log.
    fn read_again(
        &mut self,
        lines: &Lines<'_>,
        moving: Moving,
        touched: &mut Touched,
    ) -> Option<Span> {
        let tree = self.tree();
        let (name, number) = tree.stage_and_round(lines.stage)?;
        let stage = *self.plan.stage_by_name.get(tree.text_of(name))?;
        let rounds = &mut self.record.stages[stage.index()];
        let at = rounds.iter().position(|round| round.number == number)?;
        if !rounds[at].amendments.is_empty() {
            return None;
        }
        let mut work = StageWork {
            stage,
            round: rounds.remove(at),
        };
        let again = match lines.log {
            Some(log) => {
                let (log, span) = self.log_again(&mut work, log, lines, moving)?;
                touched.logs.push(log);
                span
            }
            None => {
                self.lines_again(&mut work, lines, moving, touched)?;
                lines.old
            }
        };
        self.record.stages[stage.index()].insert(at, work.round);
        Some(again)
    }

    /// Reads a log again whose rows changed. Gives which one, and the bytes that it took in the text before.
    fn log_again(
        &mut self,
        work: &mut StageWork,
        log: NodeId,
        lines: &Lines<'_>,
        moving: Moving,
    ) -> Option<((LogId, u32), Span)> {
        let place = self.place(log);
        let logs = &mut work.round.logs;
        let key = *logs.iter().find(|(_, data)| data.place == place)?.0;
        let context = logs.remove(&key)?.context;
        moving.record(&mut self.record);
        moving.round(&mut work.round);
        // That something was recorded here is noted already.
        let noted = std::mem::take(&mut work.round.work);
        self.log(log, work, context);
        work.round.work = noted;
        work.round.logs.contains_key(&key).then_some(())?;
        let span = self.tree().outline_span(log);
        let end = if span.end > lines.new.end {
            (i64::from(span.end) - moving.by) as u32
        } else {
            lines.old.end
        };
        Some((key, Span::new(span.start, end.max(lines.old.end))))
    }

    /// Reads readings and rows again.
    fn lines_again(
        &mut self,
        work: &mut StageWork,
        lines: &Lines<'_>,
        moving: Moving,
        touched: &mut Touched,
    ) -> Option<()> {
        let entries = self.record.of_design.entries..self.record.entries.len();
        let entries = within(&self.record.entries, entries, lines.old, |entry| {
            entry.place.span.start
        })?;
        let contexts = self.record.of_design.contexts..self.record.contexts.len();
        let contexts = within(&self.record.contexts, contexts, lines.old, made_at)?;
        let marks = 0..work.round.work.len();
        let marks = within(&work.round.work, marks, lines.old, |(_, place)| {
            place.span.start
        })?;
        self.clear_slots(work, &entries, touched)?;
        moving.record(&mut self.record);
        moving.round(&mut work.round);
        // Contexts and marks that lie behind are put aside, so that the new lines find what they would find in the
        // whole. Entries are found by their slots alone: the new ones stand at the end for the time.
        let known = self.record.entries.len();
        let contexts_behind = self.record.contexts.split_off(contexts.end);
        let mut marks_behind = work.round.work.split_off(marks.end);
        let contexts_gone = self.record.contexts.split_off(contexts.start);
        let marks_gone = work.round.work.split_off(marks.start);
        self.read_lines(work, lines)?;
        let gone = Gone {
            numbers: contexts.start as u32..contexts.end as u32,
            contexts: &contexts_gone,
            marks: &marks_gone,
        };
        let behind = Behind {
            from: lines.new.end,
            entries: &self.record.entries[entries.end..known],
            contexts: &contexts_behind,
            marks: &marks_behind,
        };
        if self.collided || !self.others_stay(work, &gone, &behind, marks.start) {
            return None;
        }
        let more = self.record.contexts.len() as i64 - contexts.end as i64;
        let renumber = |number: &mut u32| {
            if *number >= gone.numbers.end {
                *number = (i64::from(*number) + more) as u32;
            }
        };
        if more != 0 {
            let entries = self.record.entries[..known].iter_mut();
            entries.for_each(|entry| renumber(&mut entry.context));
            let rounds = self.record.stages.iter_mut().flatten();
            for round in rounds.chain([&mut work.round]) {
                round
                    .scopes
                    .iter_mut()
                    .for_each(|scope| renumber(&mut scope.context));
                round
                    .logs
                    .values_mut()
                    .for_each(|log| renumber(&mut log.context));
            }
            // The other marks of this round were made before, or just now.
            let others = self.record.stages.iter_mut().flatten();
            let marks = others.flat_map(|round| &mut round.work);
            marks
                .chain(&mut marks_behind)
                .for_each(|(number, _)| renumber(number));
        }
        let read = self.record.entries.split_off(known);
        let (first, known) = (entries.start as u32, known as u32);
        let behind = first + read.len() as u32;
        for (id, slot, cell) in cells_of_stages(&mut self.record, &mut work.round) {
            if *cell == EMPTY || *cell < known {
                continue;
            }
            *cell = match cell.checked_sub(BEHIND) {
                Some(number) => number + behind,
                None => {
                    touched.readings.push((id, slot));
                    *cell - known + first
                }
            };
        }
        touched.entries = first..behind;
        touched.contexts = contexts.start..contexts.end;
        touched.contexts_now = (contexts.end as i64 + more) as usize - contexts.start;
        let end = entries.end as u32;
        for amendment in &mut self.record.amendments {
            if amendment.replaced >= end {
                amendment.replaced = amendment.replaced - end + behind;
            }
        }
        self.record.entries.splice(entries, read);
        self.record.contexts.extend(contexts_behind);
        work.round.work.extend(marks_behind);
        Some(())
    }

    /// Whether the lines that stay would be given the contexts and marks that they have. A context is looked for among
    /// the last few before it, and a mark is made where it is not among the last few: what the changed lines made
    /// bears on that.
    fn others_stay(
        &self,
        work: &StageWork,
        gone: &Gone<'_>,
        behind: &Behind<'_>,
        first_mark: usize,
    ) -> bool {
        let contexts = &self.record.contexts;
        let first = gone.numbers.start as usize;
        let new = &contexts[first..];
        let is_gone = |number: u32| gone.numbers.contains(&number);
        let kept = |number: u32| {
            let at = (number - gone.numbers.start) as usize;
            new.len() == gone.contexts.len() && same_context(&gone.contexts[at], &new[at])
        };
        let stays = |number: u32| !is_gone(number) || kept(number);
        let rounds = || self.record.stages.iter().flatten().chain([&work.round]);
        // Whoever found a context again has copied it with its places, or left no trace of it.
        let elsewhere = |context: &Context| context.also_said_elsewhere;
        let scopes = rounds().flat_map(|round| &round.scopes);
        let logs = || rounds().flat_map(|round| round.logs.values());
        if !behind.entries.iter().all(|entry| stays(entry.context))
            || !behind.marks.iter().all(|(number, _)| stays(*number))
            || !logs().all(|log| stays(log.context))
            || scopes.clone().any(|scope| is_gone(scope.context))
            || gone.contexts.iter().any(elsewhere)
        {
            return false;
        }
        let all = |at: usize| match contexts.get(at) {
            Some(context) => context,
            None => &behind.contexts[at - contexts.len()],
        };
        let among_behind = contexts.len()..contexts.len() + behind.contexts.len().min(INTERNED);
        let would_be_shared = |at: usize| {
            let mut recent = at.saturating_sub(INTERNED)..at;
            recent.any(|before| same_context(all(before), all(at)))
        };
        if among_behind.into_iter().any(would_be_shared) {
            return false;
        }
        if new.len() > gone.contexts.len() {
            // With more in between, what stands before might not be found any more.
            let recent = first.saturating_sub(INTERNED) as u32..first as u32;
            let end = behind.contexts.get(INTERNED).map_or(u32::MAX, made_at);
            let near = |place: Place| (behind.from..end).contains(&place.span.start);
            let mut entries = behind.entries.iter().take_while(|entry| near(entry.place));
            let mut scopes = scopes.filter(|scope| near(scope.place));
            if contexts[recent.start as usize..first].iter().any(elsewhere)
                || entries.any(|entry| recent.contains(&entry.context))
                || scopes.any(|scope| recent.contains(&scope.context))
                || logs().any(|log| near(log.place) && recent.contains(&log.context))
            {
                return false;
            }
        }
        let (marks_before, marks_new) = work.round.work.split_at(first_mark);
        let marked = |marks: &[(u32, Place)], number| marks.iter().any(|(own, _)| *own == number);
        let needs_its_mark = |number: u32| {
            behind.entries.iter().any(|entry| entry.context == number)
                || work.round.logs.values().any(|log| log.context == number)
        };
        gone.marks.iter().all(|(number, _)| {
            marked(marks_new, *number)
                || !is_gone(*number) && marked(marks_before, *number)
                || !needs_its_mark(*number)
        })
    }

    /// Empties the slots of the entries that go, and has those of the entries behind say so. Nothing where an entry
    /// was put over another: the other one would have to come back.
    fn clear_slots(
        &mut self,
        work: &mut StageWork,
        gone: &Range<usize>,
        touched: &mut Touched,
    ) -> Option<()> {
        let (first, behind) = (gone.start as u32, gone.end as u32);
        let mut referred = 0;
        for (id, slot, cell) in cells_of_stages(&mut self.record, &mut work.round) {
            if *cell == EMPTY {
                continue;
            }
            referred += 1;
            if *cell >= behind {
                *cell = *cell - behind + BEHIND;
            } else if *cell >= first {
                *cell = EMPTY;
                touched.readings.push((id, slot));
            }
        }
        let record = &self.record;
        let known = record.entries.len() - record.of_design.entries - record.amendments.len();
        (referred == known).then_some(())
    }

    /// Reads the lines that are new or changed, in order.
    fn read_lines(&mut self, work: &mut StageWork, lines: &Lines<'_>) -> Option<()> {
        let tree = self.tree();
        let mut tables = FxHashMap::default();
        for id in lines.added {
            let parent = tree.parent(*id)?;
            match tree.kind(*id) {
                NodeKind::Reading => {
                    let from = tree.span(parent).start;
                    let before = |scope: &&Scope| {
                        let at = scope.place.span.start;
                        !scope.of_table && from <= at && at < lines.new.start
                    };
                    let scope = work.round.scopes.iter().rfind(before);
                    let (context, conditions) =
                        scope.map_or((0, (0, 0)), |scope| (scope.context, scope.conditions));
                    self.reading(*id, work, context, conditions);
                }
                NodeKind::Row => {
                    let place = self.place(parent);
                    let own = |scope: &&Scope| scope.of_table && scope.place == place;
                    let scope = work.round.scopes.iter().find(own)?;
                    let (context, conditions) = (scope.context, scope.conditions);
                    let columns = match tables.entry(parent) {
                        hash_map::Entry::Occupied(known) => known.into_mut(),
                        hash_map::Entry::Vacant(free) => {
                            let header = tree.child(parent, NodeKind::HeaderRow)?;
                            if tree.span(header).end > lines.new.start {
                                return None;
                            }
                            free.insert(self.columns_again(parent, header, work)?)
                        }
                    };
                    self.row_again(*id, columns, context, conditions, work);
                }
                _ => {}
            }
        }
        Some(())
    }
}

/// Those of a part of a list that stand in a range of bytes. Nothing where the part is not in order of place.
fn within<T>(
    list: &[T],
    part: Range<usize>,
    bytes: Span,
    at: impl Fn(&T) -> u32,
) -> Option<Range<usize>> {
    let among = list.get(part.clone())?;
    if !among.is_sorted_by_key(&at) {
        return None;
    }
    let first = among.partition_point(|known| at(known) < bytes.start);
    let end = among.partition_point(|known| at(known) < bytes.end);
    Some(part.start + first..part.start + end)
}

/// Where the line stands that made a context: what it inherits stands before.
fn made_at(context: &Context) -> u32 {
    let names = [&context.instrument, &context.person];
    let names = names.into_iter().flatten().map(|(_, place)| *place);
    let places = names.chain(context.when.map(|(_, place)| place));
    places.map(|place| place.span.start).max().unwrap_or(0)
}

/// The slots of all readings of all stages, with what each says.
fn cells_of_stages<'r>(
    record: &'r mut Record,
    round: &'r mut Round,
) -> impl Iterator<Item = (ReadingId, u32, &'r mut u32)> {
    let rounds = record.stages.iter_mut().flatten().chain([round]);
    rounds.flat_map(|round| {
        round.readings.iter_mut().flat_map(|(id, slots)| {
            let slots = slots.iter_mut().enumerate();
            slots.map(|(slot, cell)| (*id, slot as u32, cell))
        })
    })
}
