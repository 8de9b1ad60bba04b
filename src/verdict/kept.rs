//! What is kept of a judgement for the next one, after a change of the record: which readings, checks and contexts
//! nothing had to be told of.
//!
//! Whatever fails, is undecided or has anything to tell is judged again each time. What was silent stays so as long as
//! nothing that it rests on changed, which the plan's expressions tell. So no finding is carried from one text to
//! another, and what is kept is small.

use crate::plan::readers::{By, Index, Read, Reader};
use crate::plan::{CheckId, MAX_INDICES, Plan, ReadingId, SetId};
use crate::record::{Record, Touched, members_of, slot, slots};
use rustc_hash::FxHashSet;
use std::ops::Range;

/// What is known of one instance of a reading or a check.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Said {
    /// Nothing: it is to be judged.
    #[default]
    Unknown,
    /// It holds.
    Holds,
    /// It is recorded, and nothing is asked of its value.
    Recorded,
    /// It does not apply.
    DoesNotApply,
}

/// For each declaration a value for each of its instances; nothing yet where there are none.
#[derive(Debug)]
pub(super) struct BySlot<T>(Vec<Vec<T>>);

impl<T> Default for BySlot<T> {
    fn default() -> BySlot<T> {
        BySlot(Vec::new())
    }
}

impl<T: Clone + Default> BySlot<T> {
    /// Those of one declaration, lent until they are put back.
    fn take(&mut self, declaration: usize, count: usize) -> Vec<T> {
        let mut own = self
            .0
            .get_mut(declaration)
            .map(std::mem::take)
            .unwrap_or_default();
        own.resize(count, T::default());
        own
    }

    fn put(&mut self, declaration: usize, own: Vec<T>) {
        if self.0.len() <= declaration {
            self.0.resize(declaration + 1, Vec::new());
        }
        self.0[declaration] = own;
    }

    fn forget(&mut self, declaration: usize, slot: Option<usize>) {
        let Some(own) = self.0.get_mut(declaration) else {
            return;
        };
        match slot {
            None => own.clear(),
            Some(slot) => {
                if let Some(known) = own.get_mut(slot) {
                    *known = T::default();
                }
            }
        }
    }
}

/// What is kept of a judgement. It holds for one plan, register and day.
#[derive(Debug, Default)]
pub struct Kept {
    readings: BySlot<Said>,
    checks: BySlot<Said>,
    /// Readings of which the instrument, the person and the time are in order.
    accounted: BySlot<bool>,
    /// Contexts of which all that they name is in order.
    contexts: Vec<bool>,
    /// Whether an event was written as a day alone, where that was looked into.
    days_alone: Option<bool>,
    /// Entries that were read since.
    new_entries: Range<u32>,
}

impl Kept {
    /// Forgets what rests on what changed. `record` is what was bound in part from the record that was judged.
    pub fn touch(&mut self, plan: &Plan, record: &Record, touched: &Touched) {
        if plan.has_ring {
            // Which value of a ring comes out unknown hangs on where its evaluation begins.
            *self = Kept::default();
            return;
        }
        self.new_entries = touched.entries.clone();
        match self.contexts.get(touched.contexts.clone()) {
            Some(_) => {
                let new = std::iter::repeat_n(false, touched.contexts_now);
                self.contexts.splice(touched.contexts.clone(), new);
            }
            None => self.contexts.clear(),
        }
        let mut spread = Spread {
            plan,
            record,
            kept: self,
            seen: FxHashSet::default(),
            open: Vec::new(),
        };
        for (id, slot) in &touched.readings {
            let slot = Some(*slot as usize);
            spread.kept.readings.forget(id.index(), slot);
            spread.kept.accounted.forget(id.index(), slot);
            spread.reach(Read::Reading(*id), slot);
        }
        for (id, slot) in &touched.logs {
            spread.reach(Read::Log(*id), Some(*slot as usize));
        }
        spread.run();
    }
}

/// Follows what rests on what.
struct Spread<'a> {
    plan: &'a Plan,
    record: &'a Record,
    kept: &'a mut Kept,
    seen: FxHashSet<(Read, Option<usize>)>,
    open: Vec<(Read, Option<usize>)>,
}

impl Spread<'_> {
    /// An instance of something that is read may be another; without a slot any of its instances may.
    fn reach(&mut self, what: Read, slot: Option<usize>) {
        if self.seen.insert((what, slot)) {
            self.open.push((what, slot));
        }
    }

    fn run(&mut self) {
        let plan = self.plan;
        while let Some((what, slot)) = self.open.pop() {
            let sets = match what {
                Read::Reading(id) => &plan.readings[id.index()].indices,
                Read::Log(id) => &plan.logs[id.index()].indices,
                Read::Calc(id) => &plan.calcs[id.index()].indices,
            };
            let mut members = Vec::new();
            if let Some(slot) = slot {
                members_of(&self.record.domains, sets, slot, &mut members);
            }
            for reader in plan.readers().who_read(what) {
                self.forget(reader, sets, &members);
            }
        }
    }

    /// Forgets the instances of a reader that read an instance with these members; all of them where none are given.
    fn forget(&mut self, reader: &Reader, sets: &[SetId], members: &[u32]) {
        let plan = self.plan;
        let own = match reader.by {
            By::Reading(id) => &plan.readings[id.index()].indices,
            By::Check(id) => &plan.checks[id.index()].indices,
            By::Calc(id) => &plan.calcs[id.index()].indices,
        };
        let mut fixed = [None; MAX_INDICES];
        for ((index, set), member) in reader.indices.iter().zip(sets).zip(members) {
            match index {
                Index::Any => {}
                Index::Member(name) => {
                    let lookup = &self.record.domains[set.index()].lookup;
                    if lookup.get(name) != Some(member) {
                        return;
                    }
                }
                Index::Own(position) => match fixed.get_mut(*position) {
                    Some(Some(known)) if known != member => return,
                    Some(free) => *free = Some(*member),
                    None => {}
                },
            }
        }
        let fixed = &fixed[..own.len().min(MAX_INDICES)];
        if !own.is_empty() && fixed.iter().all(Option::is_none) {
            self.forget_one(reader.by, None);
            return;
        }
        // Every member of the sets that are not fixed.
        let free: Vec<SetId> = own
            .iter()
            .zip(fixed)
            .filter_map(|(set, fixed)| fixed.is_none().then_some(*set))
            .collect();
        let mut chosen = Vec::new();
        for number in 0..slots(&self.record.domains, &free) {
            members_of(&self.record.domains, &free, number, &mut chosen);
            let mut chosen = chosen.iter();
            let all: Vec<u32> = fixed
                .iter()
                .filter_map(|fixed| fixed.or_else(|| chosen.next().copied()))
                .collect();
            let slot = slot(&self.record.domains, own, &all);
            self.forget_one(reader.by, Some(slot));
        }
    }

    fn forget_one(&mut self, by: By, slot: Option<usize>) {
        match by {
            By::Reading(id) => self.kept.readings.forget(id.index(), slot),
            By::Check(id) => self.kept.checks.forget(id.index(), slot),
            By::Calc(id) => self.reach(Read::Calc(id), slot),
        }
    }
}

/// What a judge keeps, where it keeps anything.
#[derive(Debug, Default)]
pub(crate) struct Keeper(pub Option<Kept>);

impl Keeper {
    fn lend<T: Clone + Default>(
        &mut self,
        which: impl Fn(&mut Kept) -> &mut BySlot<T>,
        declaration: usize,
        count: usize,
    ) -> Vec<T> {
        let kept = self.0.as_mut();
        kept.map_or_else(Vec::new, |kept| which(kept).take(declaration, count))
    }

    /// What is known of the instances of a reading; nothing where nothing is kept.
    pub(super) fn reading(&mut self, id: ReadingId, count: usize) -> Vec<Said> {
        self.lend(|kept| &mut kept.readings, id.index(), count)
    }

    /// What is known of the instances of a check.
    pub(super) fn check(&mut self, id: CheckId, count: usize) -> Vec<Said> {
        self.lend(|kept| &mut kept.checks, id.index(), count)
    }

    /// Of which instances of a reading the instrument, the person and the time are in order.
    pub(super) fn accounted(&mut self, id: ReadingId, count: usize) -> Vec<bool> {
        self.lend(|kept| &mut kept.accounted, id.index(), count)
    }

    pub(super) fn keep_reading(&mut self, id: ReadingId, said: Vec<Said>) {
        if let Some(kept) = &mut self.0 {
            kept.readings.put(id.index(), said);
        }
    }

    pub(super) fn keep_check(&mut self, id: CheckId, said: Vec<Said>) {
        if let Some(kept) = &mut self.0 {
            kept.checks.put(id.index(), said);
        }
    }

    pub(super) fn keep_accounted(&mut self, id: ReadingId, accounted: Vec<bool>) {
        if let Some(kept) = &mut self.0 {
            kept.accounted.put(id.index(), accounted);
        }
    }

    /// Which contexts are in order.
    pub(super) fn contexts(&mut self, count: usize) -> Vec<bool> {
        let Some(kept) = &mut self.0 else {
            return Vec::new();
        };
        let mut contexts = std::mem::take(&mut kept.contexts);
        contexts.resize(count, false);
        contexts
    }

    pub(super) fn keep_contexts(&mut self, contexts: Vec<bool>) {
        if let Some(kept) = &mut self.0 {
            kept.contexts = contexts;
        }
    }

    /// Whether a context is known to be in order.
    pub(super) fn in_order(&self, context: usize) -> bool {
        let kept = self.0.as_ref();
        kept.is_some_and(|kept| kept.contexts.get(context) == Some(&true))
    }

    /// Whether an event is written as a day alone. `look` looks for one among some entries; of a record in which there
    /// was none only the new ones count.
    pub(super) fn days_alone(&mut self, all: u32, look: impl Fn(Range<u32>) -> bool) -> bool {
        let Some(kept) = &mut self.0 else {
            return look(0..all);
        };
        let found = match kept.days_alone {
            Some(true) => true,
            Some(false) => look(kept.new_entries.clone()),
            None => look(0..all),
        };
        kept.days_alone = Some(found);
        found
    }
}

/// Marks one instance, where anything is kept.
pub(super) fn keep<T>(known: &mut [T], slot: usize, said: T) {
    if let Some(known) = known.get_mut(slot) {
        *known = said;
    }
}
