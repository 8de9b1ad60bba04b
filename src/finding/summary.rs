//! Where a unit stands: counts per stage and the state of its points, for the closing lines, the
//! status table and the machine-readable forms.

use std::sync::Arc;

/// How many things were asked for and what became of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Counts {
    /// Readings recorded (or marked not applicable with a reason).
    pub recorded: u32,
    /// Readings still to be recorded, with nothing wrong about that yet.
    pub pending: u32,
    /// Readings that should have been there already.
    pub missing: u32,
    /// Limits and checks that fail and are not conceded.
    pub failing: u32,
    /// Limits that are kept by less than the uncertainty of what is held against them, and not conceded.
    pub not_proven: u32,
    /// Limits and checks that fail and are covered by an accepted, closed nonconformity.
    pub conceded: u32,
    /// Limits and checks that hold.
    pub holding: u32,
    /// Limits and checks that cannot be decided yet.
    pub unknown: u32,
}

impl Counts {
    /// Adds another set of counts to this one.
    pub fn add(&mut self, other: &Counts) {
        self.recorded += other.recorded;
        self.pending += other.pending;
        self.missing += other.missing;
        self.failing += other.failing;
        self.not_proven += other.not_proven;
        self.conceded += other.conceded;
        self.holding += other.holding;
        self.unknown += other.unknown;
    }
}

/// What kind of point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PointKind {
    /// Work stops here until it is released.
    Hold,
    /// Somebody is told in time and may attend.
    Witness,
    /// Documents are reviewed.
    Review,
}

impl PointKind {
    /// The word the language uses.
    pub fn word(self) -> &'static str {
        match self {
            PointKind::Hold => "hold",
            PointKind::Witness => "witness",
            PointKind::Review => "review",
        }
    }
}

/// What became of a point.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PointState {
    /// Nothing recorded for it yet.
    Open,
    /// Released (hold), witnessed, or reviewed.
    Done,
    /// A witness point given up in writing.
    Waived,
    /// Open, and work went on past it.
    Passed,
}

impl PointState {
    /// The word used in every form.
    pub fn word(self) -> &'static str {
        match self {
            PointState::Open => "open",
            PointState::Done => "done",
            PointState::Waived => "waived",
            PointState::Passed => "passed over",
        }
    }
}

/// Whether a point is sealed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum SealState {
    /// Not sealed, and the plan does not ask for it (or nothing is released yet).
    #[default]
    NotAsked,
    /// The plan asks for a seal, the point is done, and there is none.
    Missing,
    /// Sealed, and unchanged since.
    Valid,
    /// Sealed and signed with a key of the person; both hold.
    Signed,
    /// Changed since it was sealed, or the chain, the signature or the signer does not hold.
    Broken,
}

impl SealState {
    /// The word used in every form.
    pub fn word(self) -> &'static str {
        match self {
            SealState::NotAsked => "none",
            SealState::Missing => "missing",
            SealState::Valid => "sealed",
            SealState::Signed => "signed",
            SealState::Broken => "broken",
        }
    }
}

/// One point of one stage.
#[derive(Clone, Debug)]
pub struct PointSummary {
    /// Its name in the plan, `H10`.
    pub name: Arc<str>,
    /// Its title.
    pub title: Arc<str>,
    /// What kind of point.
    pub kind: PointKind,
    /// What became of it.
    pub state: PointState,
    /// Who may release it.
    pub roles: Vec<Arc<str>>,
    /// Who released, witnessed or reviewed it, and the writer's own words for when.
    pub by: Option<(String, String)>,
    /// Whether it is sealed.
    pub seal: SealState,
}

/// What a stage has come to.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StageState {
    /// The plan's `when` says this unit does not have it.
    NotApplicable,
    /// Nothing recorded.
    NotStarted,
    /// Something recorded, something still open.
    InProgress,
    /// Everything recorded and every hold point released.
    Complete,
}

/// One stage of one unit.
#[derive(Clone, Debug)]
pub struct StageSummary {
    /// Its name in the plan.
    pub name: Arc<str>,
    /// Its title.
    pub title: Arc<str>,
    /// Every stage that comes before it, through others too.
    pub before: Vec<Arc<str>>,
    /// What it has come to.
    pub state: StageState,
    /// The round judged, from 1; 0 when nothing is recorded.
    pub round: u32,
    /// Its counts.
    pub counts: Counts,
    /// Its points in the plan's order.
    pub points: Vec<PointSummary>,
    /// Names of what is still to be recorded, each with how many: `ratio`, 17.
    pub pending: Vec<(Arc<str>, u32)>,
}

impl StageSummary {
    /// What is still to be recorded, each with how many where there are several: `height, ratio 17`.
    pub fn pending_words(&self) -> String {
        let names: Vec<String> = self
            .pending
            .iter()
            .map(|(name, count)| match count {
                1 => name.to_string(),
                count => format!("{name} {count}"),
            })
            .collect();
        names.join(", ")
    }
}

/// How a unit stands to the type tests of its lot.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum TypeTestState {
    /// Its plan has none.
    None,
    /// They are complete on the unit on which they are made.
    Complete,
    /// They are open there: what, stage by stage.
    Open(Vec<String>),
    /// The unit does not say on which they were made.
    NotNamed,
    /// The unit that it names cannot be the one.
    Wrong,
    /// The record of the unit that it names is not at hand.
    NotAtHand,
    /// The record of that unit cannot be judged.
    Unreadable,
}

impl TypeTestState {
    /// The word used in every form.
    pub fn word(&self) -> &'static str {
        match self {
            TypeTestState::None => "none asked for",
            TypeTestState::Complete => "complete",
            TypeTestState::Open(_) => "open",
            TypeTestState::NotNamed => "not named",
            TypeTestState::Wrong => "wrong unit named",
            TypeTestState::NotAtHand => "record not at hand",
            TypeTestState::Unreadable => "record cannot be judged",
        }
    }
}

/// A unit in its lot.
#[derive(Clone, Debug)]
pub struct LotSummary {
    /// The lot's name.
    pub name: Arc<str>,
    /// The unit's number in it, from 1.
    pub number: Option<i64>,
    /// How many units it has.
    pub total: Option<i64>,
    /// The serial of the unit on which the type tests were made, as the record names it.
    pub type_tested: Option<Arc<str>>,
    /// How the type tests stand.
    pub state: TypeTestState,
}

/// One unit.
#[derive(Clone, Debug)]
pub struct UnitSummary {
    /// The serial, as written.
    pub serial: String,
    /// What the unit is, as written.
    pub title: String,
    /// The document's name.
    pub path: Arc<str>,
    /// The plan's name and revision.
    pub plan: String,
    /// The last stage with anything recorded.
    pub stage_reached: Option<Arc<str>>,
    /// How it stands in its lot, where it belongs to one.
    pub lot: Option<LotSummary>,
    /// All stages in the plan's order.
    pub stages: Vec<StageSummary>,
    /// Sums over the stages.
    pub counts: Counts,
}
