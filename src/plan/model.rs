//! A plan made ready: every name resolved, every expression typed.

use super::accuracy::Stated;
use super::compare::Compare;
use super::expression::Expr;
use super::kind::Kind;
use super::readers::Readers;
use super::type_tests::TypeTests;
use crate::finding::{Severity, Source};
use crate::quantity::Accuracy;
use crate::text::Place;
use rustc_hash::FxHashMap;
use std::sync::{Arc, OnceLock};

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)*) => {
        $(
            $(#[$doc])*
            #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
            pub struct $name(pub u32);

            impl $name {
                /// As an index.
                pub fn index(self) -> usize {
                    self.0 as usize
                }
            }
        )*
    };
}

ids! {
    /// Index into [`Plan::sets`].
    SetId;
    /// Index into [`Plan::design`].
    DesignId;
    /// Index into [`Plan::stages`].
    StageId;
    /// Index into [`Plan::readings`].
    ReadingId;
    /// Index into [`Plan::logs`].
    LogId;
    /// Index into [`Plan::calcs`].
    CalcId;
    /// Index into [`Plan::checks`].
    CheckId;
    /// Index into [`Plan::points`].
    PointId;
}

/// How a reading is held against a limit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
pub enum Decide {
    /// The reading is compared with the limit as it stands.
    #[default]
    Simple,
    /// The limit is drawn in by the instrument's expanded uncertainty.
    Guarded,
}

/// How many times the expanded uncertainty goes into a tolerance where a plan does not say.
///
/// Source: common practice, no source.
pub const USUAL_UNCERTAINTY_RATIO: f64 = 4.0;

/// A whole plan.
#[derive(Debug, Default)]
pub struct Plan {
    /// Its name.
    pub name: Arc<str>,
    /// Its revision.
    pub rev: Option<Arc<str>>,
    /// Its title.
    pub title: Arc<str>,
    /// The usual decision rule.
    pub decide: Decide,
    /// How many times the expanded uncertainty must go into a tolerance, where the plan says so.
    pub uncertainty_ratio: Option<f64>,
    /// Who may agree to the disposition of a nonconformity; `None` where the plan does not say.
    pub concessions: Option<Concessions>,
    /// Index sets.
    pub sets: Vec<Set>,
    /// Roles that people may have.
    pub roles: Vec<Arc<str>>,
    /// Design data.
    pub design: Vec<DesignItem>,
    /// Stages in order.
    pub stages: Vec<Stage>,
    /// Readings of all stages.
    pub readings: Vec<Reading>,
    /// Logs of all stages.
    pub logs: Vec<Log>,
    /// Calculated values of all stages and of the design.
    pub calcs: Vec<Calc>,
    /// Checks of all stages and of the design.
    pub checks: Vec<Check>,
    /// Points of all stages.
    pub points: Vec<Point>,
    /// Values that are compared between the units of a lot: first calculated ones, then readings.
    pub compares: Vec<Compare>,
    /// What is asked of the first unit of a lot only.
    pub type_tests: TypeTests,
    /// Finds a stage by its name.
    pub stage_by_name: FxHashMap<Arc<str>, StageId>,
    /// Finds a design item by its name.
    pub design_by_name: FxHashMap<Arc<str>, DesignId>,
    /// Finds a set by its name.
    pub set_by_name: FxHashMap<Arc<str>, SetId>,
    /// Calculated values rest on each other in a ring, which is reported.
    pub has_ring: bool,
    pub(super) readers: OnceLock<Readers>,
}

impl Plan {
    /// Who reads what; gathered when it is first asked for.
    pub fn readers(&self) -> &Readers {
        self.readers.get_or_init(|| Readers::of(self))
    }
}

/// Who may agree to the disposition of a nonconformity.
#[derive(Clone, Debug)]
pub struct Concessions {
    /// The roles.
    pub roles: Vec<Arc<str>>,
    /// True when it may not be the person who raised it.
    pub other_than_raiser: bool,
    /// Where the plan says so.
    pub place: Place,
}

/// An index set.
#[derive(Debug)]
pub struct Set {
    /// Its name, which is also its loop variable's.
    pub name: Arc<str>,
    /// Where it is declared.
    pub place: Place,
    /// Where its members come from.
    pub source: SetSource,
}

/// Where a set's members come from.
#[derive(Debug, Clone)]
pub enum SetSource {
    /// Written in the plan.
    Members(Vec<Member>),
    /// Taken from the unit's design value of kind `names` or `positions`.
    Design(DesignId, bool),
    /// Nowhere: reported when the plan is opened.
    Missing,
}

/// A member of a set.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub enum Member {
    /// A name.
    Name(Arc<str>),
    /// A whole number.
    Number(i64),
}

impl std::fmt::Display for Member {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Member::Name(name) => out.write_str(name),
            Member::Number(number) => write!(out, "{number}"),
        }
    }
}

/// Source, reason, caution and weight of a declaration.
#[derive(Clone, Debug, Default)]
pub struct Rationale {
    /// Where the limit comes from.
    pub source: Option<Source>,
    /// What a failure usually means.
    pub because: Option<Arc<str>>,
    /// What to look at first, in that order.
    pub look: Vec<Arc<str>>,
    /// The usual safety caution.
    pub caution: Option<Arc<str>>,
    /// The weight of a failure.
    pub severity: Option<Severity>,
}

/// A design value asked for.
#[derive(Debug)]
pub struct DesignItem {
    /// Its name.
    pub name: Arc<str>,
    /// Where it is declared.
    pub place: Place,
    /// The sets it is indexed by.
    pub indices: Vec<SetId>,
    /// What it is.
    pub kind: Kind,
    /// `need` (true) or `may` (false).
    pub required: bool,
}

/// A stage.
#[derive(Debug)]
pub struct Stage {
    /// Its name.
    pub name: Arc<str>,
    /// Its title.
    pub title: Arc<str>,
    /// Where it is declared.
    pub place: Place,
    /// Stages that come before it; the stage above it in the plan when none is named.
    pub after: Vec<StageId>,
    /// Every stage that comes before it, through others too; sorted.
    pub before: Vec<StageId>,
    /// For which units it applies.
    pub when: Option<Expr>,
    /// The usual safety caution.
    pub caution: Option<Arc<str>>,
    /// Its readings in order.
    pub readings: Vec<ReadingId>,
    /// Its logs in order.
    pub logs: Vec<LogId>,
    /// Its checks in order.
    pub checks: Vec<CheckId>,
    /// Its points in order.
    pub points: Vec<PointId>,
    /// Finds a reading, log or calculated value of this stage by its name.
    pub names: FxHashMap<Arc<str>, StageName>,
}

/// What a name of a stage means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StageName {
    /// A reading.
    Reading(ReadingId),
    /// A log.
    Log(LogId),
    /// A calculated value.
    Calc(CalcId),
    /// A check.
    Check(CheckId),
}

/// A reading asked for.
#[derive(Debug)]
pub struct Reading {
    /// Its name.
    pub name: Arc<str>,
    /// Its stage.
    pub stage: StageId,
    /// Where it is declared.
    pub place: Place,
    /// The sets it is indexed by.
    pub indices: Vec<SetId>,
    /// What it is.
    pub kind: Kind,
    /// Conditions without which it means nothing.
    pub given: Vec<Kind>,
    /// Its limits; all must hold.
    pub limits: Vec<Limit>,
    /// For which units and indices it applies.
    pub when: Option<Expr>,
    /// Its reasons.
    pub rationale: Rationale,
    /// Its own decision rule.
    pub decide: Option<Decide>,
    /// Its own ratio of tolerance to uncertainty.
    pub uncertainty_ratio: Option<f64>,
    /// What makes it uncertain besides its instrument, and how well its conditions are known.
    pub uncertainties: Vec<Stated<Accuracy>>,
    /// Readings that somebody else has to have made.
    pub independent_of: Vec<ReadingId>,
}

/// One limit of a reading.
#[derive(Debug)]
pub struct Limit {
    /// What it says.
    pub form: LimitForm,
    /// Where it stands.
    pub place: Place,
    /// Its own reasons, where it has any.
    pub rationale: Rationale,
}

/// The forms of a limit.
#[derive(Debug)]
pub enum LimitForm {
    /// `limit = X`
    Exactly(Expr),
    /// `limit <= X` and its like.
    Compare(Comparison, Expr),
    /// `limit a .. b`, `limit X +- T`, `limit X +3/-0 mm`, `limit design.NAME[…]`: an interval.
    Within(Expr),
}

/// A comparison.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Comparison {
    /// `=`
    Equal,
    /// `!=`
    NotEqual,
    /// `<`
    Less,
    /// `<=`
    AtMost,
    /// `>`
    Greater,
    /// `>=`
    AtLeast,
}

impl Comparison {
    /// The sign as people read it.
    pub fn sign(self) -> &'static str {
        match self {
            Comparison::Equal => "=",
            Comparison::NotEqual => "≠",
            Comparison::Less => "<",
            Comparison::AtMost => "≤",
            Comparison::Greater => ">",
            Comparison::AtLeast => "≥",
        }
    }

    /// Whether it holds for this ordering of left and right.
    pub fn holds(self, ordering: std::cmp::Ordering) -> bool {
        match self {
            Comparison::Equal => ordering.is_eq(),
            Comparison::NotEqual => ordering.is_ne(),
            Comparison::Less => ordering.is_lt(),
            Comparison::AtMost => ordering.is_le(),
            Comparison::Greater => ordering.is_gt(),
            Comparison::AtLeast => ordering.is_ge(),
        }
    }
}

impl LimitForm {
    /// What the reading is held against.
    pub fn expr(&self) -> &Expr {
        match self {
            LimitForm::Exactly(expr) | LimitForm::Compare(_, expr) | LimitForm::Within(expr) => {
                expr
            }
        }
    }
}

/// A log asked for.
#[derive(Debug)]
pub struct Log {
    /// Its name.
    pub name: Arc<str>,
    /// Its title.
    pub title: Arc<str>,
    /// Its stage.
    pub stage: StageId,
    /// Where it is declared.
    pub place: Place,
    /// The sets it is indexed by.
    pub indices: Vec<SetId>,
    /// What it runs over; `None` for time.
    pub over: Option<Column>,
    /// Its columns besides the one it runs over.
    pub columns: Vec<Column>,
    /// For which units and indices it applies.
    pub when: Option<Expr>,
}

impl Log {
    /// The name of the column it runs over.
    pub fn axis_name(&self) -> &str {
        self.over.as_ref().map_or("time", |axis| &axis.name)
    }

    /// The header of a file that holds it, each column with a unit that it may have.
    pub fn header(&self) -> Vec<String> {
        let head = |column: &Column| match &column.kind {
            Kind::Quantity(kind) if !kind.example.is_empty() => {
                format!("{}({})", column.name, kind.example)
            }
            _ => column.name.to_string(),
        };
        let axis = self.over.as_ref().map_or_else(|| "time".to_owned(), head);
        std::iter::once(axis)
            .chain(self.columns.iter().map(head))
            .collect()
    }
}

/// A column of a log, or what it runs over.
#[derive(Debug)]
pub struct Column {
    /// Its name.
    pub name: Arc<str>,
    /// What it holds.
    pub kind: Kind,
    /// Where it is declared.
    pub place: Place,
}

/// A calculated value.
#[derive(Debug)]
pub struct Calc {
    /// Its name.
    pub name: Arc<str>,
    /// Its stage; `None` in the design block.
    pub stage: Option<StageId>,
    /// Where it is declared.
    pub place: Place,
    /// The sets it is indexed by.
    pub indices: Vec<SetId>,
    /// What it is.
    pub expr: Expr,
    /// For which units and indices it applies.
    pub when: Option<Expr>,
}

/// A check.
#[derive(Debug)]
pub struct Check {
    /// Its name.
    pub name: Arc<str>,
    /// Its title.
    pub title: Arc<str>,
    /// Its stage; `None` in the design block.
    pub stage: Option<StageId>,
    /// Where it is declared.
    pub place: Place,
    /// The sets it is indexed by.
    pub indices: Vec<SetId>,
    /// What must hold; all must.
    pub requires: Vec<Require>,
    /// For which units and indices it applies.
    pub when: Option<Expr>,
    /// Its reasons.
    pub rationale: Rationale,
    /// An analysis that runs only when it fails.
    pub causes: Option<Analysis>,
    /// Its own decision rule.
    pub decide: Option<Decide>,
    /// Its own ratio of tolerance to uncertainty.
    pub uncertainty_ratio: Option<f64>,
}

/// An analysis of why a check fails.
#[derive(Clone, Debug)]
pub struct Analysis {
    /// Which one.
    pub kind: AnalysisKind,
    /// What it looks at.
    pub subjects: Vec<Subject>,
    /// Where it stands.
    pub place: Place,
}

/// The analyses there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum AnalysisKind {
    /// `clock-pattern(supply, line-ratio, Bb, Cc, Bc, Cb, clock)`: from the voltages with A and a joined.
    ClockPattern,
    /// `ratio-pattern(deviation, design.turns)`: from how the deviation of the voltage ratio runs over the
    /// tappings. With more than two windings the names of the two that were measured follow:
    /// `ratio-pattern(deviation, design.turns, design.upper, design.lower)`.
    RatioPattern,
    /// `phase-pattern(reading)`: from which phase stands apart.
    PhasePattern,
}

impl AnalysisKind {
    /// All analyses with their names.
    pub const ALL: &[(&str, AnalysisKind)] = &[
        ("clock-pattern", AnalysisKind::ClockPattern),
        ("phase-pattern", AnalysisKind::PhasePattern),
        ("ratio-pattern", AnalysisKind::RatioPattern),
    ];
}

/// Something that an analysis looks at, with all its indices.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Subject {
    /// A reading.
    Reading(ReadingId),
    /// A calculated value.
    Calc(CalcId),
    /// A design value.
    Design(DesignId),
}

/// One thing that a check requires.
#[derive(Debug)]
pub struct Require {
    /// What must hold.
    pub expr: Expr,
    /// Where it stands.
    pub place: Place,
    /// Its own reasons, where it has any.
    pub rationale: Rationale,
}

pub use crate::finding::PointKind;

/// A hold, witness or review point.
#[derive(Debug)]
pub struct Point {
    /// Its name.
    pub name: Arc<str>,
    /// Its title.
    pub title: Arc<str>,
    /// Its stage.
    pub stage: StageId,
    /// Where it is declared.
    pub place: Place,
    /// What kind of point.
    pub kind: PointKind,
    /// Who may release it.
    pub roles: Vec<Arc<str>>,
    /// True when nobody may act here who recorded any reading of the stage.
    pub other_than_measurer: bool,
    /// How long before the act the one who attends has to be told, in seconds.
    pub notice: Option<i64>,
    /// Whether its release has to be sealed.
    pub sealed: bool,
    /// For which units it applies.
    pub when: Option<Expr>,
    /// Why it is there.
    pub because: Option<Arc<str>>,
    /// The usual safety caution.
    pub caution: Option<Arc<str>>,
}

impl Plan {
    /// `winding.height`, or `design.NAME` for what stands in the design block.
    pub fn full_name(&self, stage: Option<StageId>, name: &str) -> String {
        match stage {
            Some(stage) => format!("{}.{name}", self.stages[stage.index()].name),
            None => format!("design.{name}"),
        }
    }

    /// True when `earlier` comes before `later`.
    pub fn precedes(&self, earlier: StageId, later: StageId) -> bool {
        self.stages[later.index()]
            .before
            .binary_search(&earlier)
            .is_ok()
    }
}
