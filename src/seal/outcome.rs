//! What verifying the seals of a record came to.

use crate::finding::{Finding, SealState};
use crate::plan::StageId;
use crate::text::Place;
use rustc_hash::FxHashMap;

/// The seals of one record, verified.
#[derive(Debug, Default)]
pub struct Seals {
    /// What is wrong with them.
    pub findings: Vec<Finding>,
    /// What stands below the last sealed release of a round with no later act to cover it.
    pub behind: Vec<Behind>,
    /// The state of each seal by the first byte of the act's line.
    pub states: FxHashMap<u32, SealState>,
}

impl Seals {
    /// The state of the seal below an act; nothing when it has none.
    pub fn of(&self, act: Place) -> Option<SealState> {
        self.states.get(&act.span.start).copied()
    }
}

/// A statement below a sealed release.
#[derive(Clone, Copy, Debug)]
pub struct Behind {
    /// The stage.
    pub stage: StageId,
    /// The statement.
    pub place: Place,
    /// The sealed act above it.
    pub act: Place,
}
