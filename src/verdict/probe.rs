//! Looking into a calculated value: which recorded values go into it, and what it comes to with one of them
//! replaced by another.

use super::evaluate::{Evaluator, Outcome};
use crate::plan::value::Value;
use crate::plan::{LogId, Plan, ReadingId};
use crate::record::Record;
use rustc_hash::FxHashSet;
use std::cell::{Cell, RefCell};

/// Something recorded that goes into a calculated value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) enum Source {
    /// A reading by its slot.
    Reading(ReadingId, usize),
    /// A condition that a reading was given with, by its number among the given and the slot.
    Condition(ReadingId, usize, usize),
    /// A column of a log by its number and the slot of the log.
    Column(LogId, usize, usize),
}

/// What an evaluator does beside evaluating.
pub(super) struct Probe<'a> {
    /// The evaluator of the record as it stands. What decides on the way (`if`, `when`, `recorded`, an index that
    /// is calculated) is left to it: a small shift leaves decisions as they are.
    settled: &'a Evaluator<'a>,
    /// Decisions are looked into and made anew as well.
    decides: bool,
    /// Every source seen, in the order in which they were.
    seen: RefCell<(FxHashSet<Source>, Vec<Source>)>,
    replaced: Option<(Source, Value)>,
    work: Cell<u64>,
}

impl<'a> Evaluator<'a> {
    /// An evaluator that notes what goes in, with nothing replaced.
    pub(super) fn tracing(settled: &'a Evaluator<'a>) -> Evaluator<'a> {
        Evaluator::probing(settled, None, false)
    }

    /// An evaluator that notes what goes in and what decides on the way, with nothing replaced.
    pub(super) fn tracing_decisions(settled: &'a Evaluator<'a>) -> Evaluator<'a> {
        Evaluator::probing(settled, None, true)
    }

    /// An evaluator that takes a source for another value, also where it decides something.
    pub(super) fn deciding_with(settled: &'a Evaluator<'a>, source: Source, value: Value) -> Self {
        Evaluator::probing(settled, Some((source, value)), true)
    }

    /// An evaluator that takes a source for another value.
    pub(super) fn replacing(settled: &'a Evaluator<'a>, source: Source, value: Value) -> Self {
        Evaluator::probing(settled, Some((source, value)), false)
    }

    fn probing(
        settled: &'a Evaluator<'a>,
        replaced: Option<(Source, Value)>,
        decides: bool,
    ) -> Evaluator<'a> {
        let (plan, record): (&'a Plan, &'a Record) = (settled.plan, settled.record);
        let mut evaluator = Evaluator::new(plan, record);
        evaluator.probe = Some(Probe {
            settled,
            decides,
            seen: RefCell::default(),
            replaced,
            work: Cell::new(0),
        });
        evaluator
    }

    /// The evaluator that makes the decisions: that of the record as it stands, unless they are looked into.
    pub(super) fn settled(&self) -> &Evaluator<'a> {
        let probe = self.probe.as_ref().filter(|probe| !probe.decides);
        probe.map_or(self, |probe| probe.settled)
    }

    /// What went in so far.
    pub(super) fn sources(&self) -> Vec<Source> {
        let probe = self.probe.as_ref();
        probe.map_or_else(Vec::new, |probe| probe.seen.borrow().1.clone())
    }

    /// How much was done: expressions and rows of logs visited.
    pub(super) fn work(&self) -> u64 {
        self.probe.as_ref().map_or(0, |probe| probe.work.get())
    }

    /// Counts work where it is watched.
    pub(super) fn worked(&self, steps: u64) {
        if let Some(probe) = &self.probe {
            probe.work.set(probe.work.get().saturating_add(steps));
        }
    }

    /// The value of a source: noted, and replaced where it is the one to be.
    pub(super) fn probed(&self, source: Source, value: Outcome) -> Outcome {
        let Some(probe) = &self.probe else {
            return value;
        };
        let value = value?;
        if let Some((wanted, other)) = &probe.replaced {
            return Ok(if *wanted == source {
                other.clone()
            } else {
                value
            });
        }
        let (known, order) = &mut *probe.seen.borrow_mut();
        if known.insert(source) {
            order.push(source);
        }
        Ok(value)
    }
}
