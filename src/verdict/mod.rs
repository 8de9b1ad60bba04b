//! Verdict: a record judged against its plan and register. Limits and checks hold, fail or are unknown;
//! what is not there is pending until the record itself shows that work went on past it.

mod acceptance;
mod amendments;
mod analysis;
mod apart;
mod attendance;
mod calculate;
mod check_ratio;
mod checks;
mod clock_pattern;
mod dates;
mod day_only;
mod evaluate;
mod explain;
mod fitness;
mod glance;
mod guarded;
mod kept;
mod limits;
mod lot_facts;
mod lots;
mod nonconformities;
mod outside;
mod people;
mod points;
mod probe;
mod progress;
mod proof;
mod propagate;
mod ratio_pattern;
mod sealing;
mod times;
mod uncertainty;

pub use acceptance::{Authority, accept, acceptable};
pub use calculate::{calculate, calculate_value};
pub use evaluate::{Env, Evaluator, Outcome, Stop};
pub use glance::{Glance, Glances, LimitGlance, with_glances};
pub use kept::Kept;
pub use lot_facts::{LotFacts, LotValue};
pub use lots::{LotVerdict, Member, Neighbour, judge_lot};

use crate::finding::{Counts, Finding, UnitSummary};
use crate::plan::value::Value;
use crate::plan::*;
use crate::quantity::moment::When;
use crate::record::{Record, Target};
use crate::register::Register;
use crate::seal::Seals;
use crate::text::{FileId, Place, SourceText};
use explain::Explainer;
use kept::Keeper;
use rustc_hash::FxHashMap;
use std::cell::RefCell;

/// What judging one unit came to.
#[derive(Debug)]
pub struct Verdict {
    /// What was found.
    pub findings: Vec<Finding>,
    /// Where the unit stands.
    pub summary: UnitSummary,
    /// What its lot needs to know of it, where it belongs to one.
    pub lot: Option<LotFacts>,
    /// What of it counts for the next text of the same record, where that was asked for.
    pub kept: Option<Kept>,
}

/// What a record is judged by.
#[derive(Clone, Copy, Debug)]
pub struct Grounds<'a> {
    /// Its plan.
    pub plan: &'a Plan,
    /// Its register, where it has one.
    pub register: Option<&'a Register>,
    /// Its seals, held against what they cover.
    pub seals: &'a Seals,
    /// Its document.
    pub file: FileId,
    /// The texts of all documents.
    pub sources: &'a [SourceText],
    /// In days since 1970-01-01; what is dated later is a finding. Without it nothing is held against the day.
    pub today: Option<i32>,
}

impl<'a> Grounds<'a> {
    /// The plan alone: for a look at single values.
    pub(crate) fn of_plan(
        plan: &'a Plan,
        seals: &'a Seals,
        file: FileId,
        sources: &'a [SourceText],
    ) -> Grounds<'a> {
        Grounds {
            plan,
            register: None,
            seals,
            file,
            sources,
            today: None,
        }
    }
}

/// Judges a record. `kept` is what is known of an earlier text of it, judged by the same plan and register on the same
/// day; an empty one where there is none; nothing where nothing is to be kept.
pub fn judge(record: &Record, grounds: Grounds<'_>, kept: Option<Kept>) -> Verdict {
    let evaluator = Evaluator::new(grounds.plan, record);
    let mut judge = Judge::new(record, &evaluator, grounds);
    judge.keeper = Keeper(kept);
    let entries = record.entries.len() as u32;
    let explainer = &judge.explainer;
    let look = |entries| day_only::any(record, entries, explainer);
    judge.days_alone = judge.keeper.days_alone(entries, look);
    judge.run();
    judge.finish(grounds.sources)
}

/// What is known of one stage while judging.
#[derive(Debug, Default)]
pub(crate) struct StageWork {
    pub applies: bool,
    pub counts: Counts,
    /// Names of what is not recorded, with how many instances of it.
    pub unrecorded: Vec<(std::sync::Arc<str>, Vec<String>, Place)>,
    /// Judgements that stay open: what is judged, which inputs are missing, and where the plan asks.
    pub undecided: Vec<(String, Vec<String>, Place)>,
    /// Failing and unproven items that no nonconformity covers: name with index.
    pub failing: Vec<String>,
    /// Failing items that are conceded, and when and where the concession was closed.
    pub conceded: Vec<(String, Option<(When, Place)>)>,
}

pub(crate) struct Judge<'a> {
    pub plan: &'a Plan,
    pub record: &'a Record,
    pub register: Option<&'a Register>,
    pub seals: &'a Seals,
    pub file: FileId,
    pub today: Option<i32>,
    pub evaluator: &'a Evaluator<'a>,
    pub explainer: Explainer<'a>,
    pub findings: Vec<Finding>,
    pub stages: Vec<StageWork>,
    pub fitness: fitness::Fitness<'a>,
    /// What was done so far to carry uncertainties through checks.
    pub propagated: u64,
    /// Whether an event is written as a day without its time.
    pub days_alone: bool,
    /// What is known of an earlier text of the record.
    pub keeper: Keeper,
    /// When and where each round shows work, by where its stage stands.
    pub work_of_rounds: RefCell<FxHashMap<Place, times::WorkOfRound>>,
    /// How many times something was noted that is told later, or told with something else.
    pub noted: u64,
}

impl<'a> Judge<'a> {
    /// A judge that has not looked at anything yet.
    pub(crate) fn new(
        record: &'a Record,
        evaluator: &'a Evaluator<'a>,
        grounds: Grounds<'a>,
    ) -> Judge<'a> {
        let Grounds {
            plan,
            register,
            seals,
            file,
            sources,
            today,
        } = grounds;
        Judge {
            plan,
            record,
            register,
            seals,
            file,
            today,
            evaluator,
            explainer: Explainer { evaluator, sources },
            findings: Vec::new(),
            stages: plan.stages.iter().map(|_| StageWork::default()).collect(),
            fitness: fitness::Fitness::default(),
            propagated: 0,
            days_alone: false,
            keeper: Keeper::default(),
            work_of_rounds: RefCell::default(),
            noted: 0,
        }
    }

    fn run(&mut self) {
        let plan = self.plan;
        self.design();
        self.checks_of_design();
        for (index, stage) in plan.stages.iter().enumerate() {
            let applies = self.applies(&stage.when, Env::NONE, &stage.name, None);
            self.stages[index].applies = applies;
            // What was recorded although the stage does not apply is judged all the same.
            if !applies && self.record.stages[index].is_empty() {
                continue;
            }
            self.readings(StageId(index as u32));
            self.checks(StageId(index as u32));
            if !applies {
                self.stages[index].unrecorded.clear();
                self.stages[index].undecided.clear();
            }
        }
        self.progress();
        self.points();
        self.sealing();
        self.people();
        self.unfit_instruments();
        self.dates();
        self.amendments();
        self.nonconformities();
    }

    /// The nonconformity that covers an item, and whether it accepts the item as it is. One that was
    /// closed before the item was measured says nothing of it.
    pub(crate) fn covered(
        &self,
        name: &str,
        slot: usize,
        measured: Option<When>,
    ) -> Option<Cover<'a>> {
        let target = |target: &Target| {
            target.name == name && target.slot.is_none_or(|own| own as usize == slot)
        };
        let covers = self
            .record
            .nonconformities
            .iter()
            .filter(|known| known.against.iter().any(target));
        let mut first = None;
        for nonconformity in covers {
            let in_time = match (nonconformity.closed, measured) {
                (Some((closed, _)), Some(measured)) => measured.earliest <= closed.latest,
                _ => true,
            };
            let accepts = nonconformity.closed.is_some()
                && nonconformity.agreed.is_some()
                && in_time
                && nonconformity
                    .disposition
                    .is_some_and(|disposition| disposition.accepts());
            if accepts {
                return Some(Cover {
                    nonconformity,
                    accepts,
                });
            }
            first.get_or_insert(Cover {
                nonconformity,
                accepts,
            });
        }
        first
    }

    /// How much was told or noted so far: what leaves it as it is has been silent.
    pub(crate) fn told(&self) -> (usize, u64) {
        (self.findings.len(), self.noted)
    }

    /// Whether looking at something tells nothing.
    pub(crate) fn silent(&mut self, look: impl FnOnce(&mut Self)) -> bool {
        let told = self.told();
        look(self);
        self.told() == told
    }

    /// When the round of a stage that is judged began.
    pub(crate) fn stage_began(&self, stage: Option<StageId>) -> Option<When> {
        let round = self.record.stages[stage?.index()].last()?;
        self.work_times(round).map(|(first, _)| first.0)
    }

    /// Notes a judgement that stays open for want of inputs.
    pub(crate) fn undecided(
        &mut self,
        stage: Option<StageId>,
        name: &str,
        expr: &Expr,
        env: Env<'_>,
    ) {
        const ENOUGH: usize = 50;
        self.noted += 1;
        let Some(stage) = stage else { return };
        if self.stages[stage.index()].undecided.len() >= ENOUGH {
            return;
        }
        let missing = self.explainer.reasoning(expr, env).missing;
        let work = &mut self.stages[stage.index()];
        if !work.undecided.iter().any(|(known, ..)| known == name) {
            work.undecided.push((name.to_owned(), missing, expr.place));
        }
    }
}

/// A nonconformity against an item.
pub(crate) struct Cover<'a> {
    pub nonconformity: &'a crate::record::Nonconformity,
    pub accepts: bool,
}

/// Evaluates one expression that refers to nothing: its value with a readable unit.
pub fn value_text(expr: &Expr, sources: &[SourceText]) -> Result<String, String> {
    let plan = Plan::default();
    let record = Record::default();
    let evaluator = Evaluator::new(&plan, &record);
    let explainer = Explainer {
        evaluator: &evaluator,
        sources,
    };
    match evaluator.eval(expr, Env::NONE) {
        Ok(Value::Quantity(quantity)) => {
            Ok(explainer.quantity(&quantity, explainer.result_unit(expr, &quantity).as_ref()))
        }
        Ok(value) => Ok(explainer.value(&value, None)),
        Err(Stop::Fault(fault)) => Err(fault),
        Err(Stop::Unknown) => Err("an input that is not known".to_owned()),
    }
}
