//! The gate: what stands in the way of a unit leaving a stage, in the order in which a person would clear it.

use super::Outcome;
use crate::finding::rules;
use crate::finding::{
    Counts, Finding, PointKind, PointState, SealState, Severity, StageState, StageSummary,
    UnitSummary,
};
use crate::syntax::{nearest, parse};
use crate::text::{FileId, Place, Span};
use std::sync::Arc;

/// What a unit comes to at the gate of a stage.
#[derive(Debug)]
pub struct Standing {
    /// The unit's serial, as written.
    pub serial: String,
    /// The document's name.
    pub path: Arc<str>,
    /// The stage asked about.
    pub stage: Arc<str>,
    /// Whether the stage applies to this unit; where it does not, only what comes before it is asked.
    pub applies: bool,
    /// What stands in the way, in order; empty when nothing does.
    pub obstacles: Vec<Obstacle>,
    /// Sums over the stages that were asked about.
    pub counts: Counts,
    /// Points of these stages that are done.
    pub points: Vec<PointDone>,
    /// Findings that do not stand in the way and still have to be known: conceded, accepted.
    pub known: Vec<Finding>,
}

/// A point that is done.
#[derive(Clone, Debug)]
pub struct PointDone {
    /// Its name.
    pub name: Arc<str>,
    /// What was done.
    pub state: PointState,
    /// By whom.
    pub by: String,
    /// When, in the writer's own words.
    pub on: String,
    /// Whether it is sealed.
    pub seal: SealState,
}

/// One thing that stands in the way.
#[derive(Debug)]
pub struct Obstacle {
    /// The stage that it belongs to; `None` for the design and the document as a whole.
    pub stage: Option<Arc<str>>,
    /// What kind of thing.
    pub kind: ObstacleKind,
    /// What it is, in one sentence.
    pub text: String,
    /// The rule, where a finding stands behind it.
    pub rule: Option<&'static str>,
    /// Where, when it stands anywhere.
    pub place: Option<Place>,
}

/// Kinds of obstacles, in the order in which they are cleared within a stage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum ObstacleKind {
    /// Something is still to be recorded.
    Record,
    /// An error.
    Error,
    /// A warning that nobody has accepted.
    Warning,
    /// A point is not witnessed, waived or reviewed.
    Point,
    /// A hold point is not released.
    Hold,
    /// A released point is not sealed although the plan asks for it.
    Seal,
}

impl ObstacleKind {
    /// The word used in every form.
    pub fn word(self) -> &'static str {
        match self {
            ObstacleKind::Record => "record",
            ObstacleKind::Error => "error",
            ObstacleKind::Warning => "warning",
            ObstacleKind::Point => "point",
            ObstacleKind::Hold => "hold",
            ObstacleKind::Seal => "seal",
        }
    }
}

/// How every unit of an outcome stands at the gate of a stage. The error is one sentence: no unit, or a stage
/// that a unit's plan does not have.
pub fn gate(outcome: &Outcome, stage: &str) -> Result<Vec<Standing>, String> {
    if outcome.units.is_empty() {
        return Err("expected at least one unit record that can be judged, found none; `stagebook check` tells why".to_owned());
    }
    outcome
        .units
        .iter()
        .map(|unit| standing(outcome, unit, stage))
        .collect()
}

fn standing(outcome: &Outcome, unit: &UnitSummary, wanted: &str) -> Result<Standing, String> {
    let Some(stage) = unit.stages.iter().find(|stage| *stage.name == *wanted) else {
        let known: Vec<&str> = unit.stages.iter().map(|stage| &*stage.name).collect();
        let near = match nearest(wanted, known.iter().copied()) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("it has {}", known.join(", ")),
        };
        return Err(format!(
            "expected a stage of plan {} (unit {}), found `{wanted}`; {near}",
            unit.plan, unit.serial
        ));
    };
    let asked: Vec<&StageSummary> = unit
        .stages
        .iter()
        .filter(|other| other.name == stage.name || stage.before.contains(&other.name))
        .filter(|other| other.state != StageState::NotApplicable)
        .collect();
    // What the lot still owes to a unit in the works stands in the way of its last hold point only.
    let last_hold = unit
        .stages
        .iter()
        .rev()
        .find(|stage| {
            stage
                .points
                .iter()
                .any(|point| point.kind == PointKind::Hold)
        })
        .map(|stage| &stage.name);
    let leaves = asked.iter().any(|stage| Some(&stage.name) == last_hold);
    let outline = Outline::of(outcome, unit);
    let mut obstacles = Vec::new();
    let mut known = Vec::new();
    for finding in &outcome.findings {
        let own = outline.file == Some(finding.place.file);
        // What is wrong with a plan or a register bears on every unit judged by it; another unit's record does not.
        if !own && is_unit(outcome, finding.place.file) {
            continue;
        }
        let owner = outline.stage_at(finding.place).filter(|_| own);
        let later = owner.as_ref().is_some_and(|owner| {
            !asked.iter().any(|stage| stage.name == *owner)
                && unit.stages.iter().any(|stage| stage.name == *owner)
        });
        if later {
            continue;
        }
        let of_the_lot = [&rules::TYPE_TEST_REFERENCE_MISSING, &rules::TYPE_TESTS_OPEN]
            .iter()
            .any(|rule| rule.name == finding.rule.name);
        if of_the_lot && !leaves && finding.severity == Severity::Pending {
            continue;
        }
        match obstacle(finding, owner) {
            Some(obstacle) => obstacles.push(obstacle),
            None if finding.accepted.is_some() || finding.rule.name == "conceded" => {
                known.push(finding.clone());
            }
            None => {}
        }
    }
    let mut counts = Counts::default();
    let mut points = Vec::new();
    for stage in &asked {
        counts.add(&stage.counts);
        to_be_recorded(stage, &mut obstacles);
        for point in &stage.points {
            match point.state {
                PointState::Done | PointState::Waived => {
                    let (by, on) = point.by.clone().unwrap_or_default();
                    points.push(PointDone {
                        name: point.name.clone(),
                        state: point.state,
                        by,
                        on,
                        seal: point.seal,
                    });
                }
                PointState::Open | PointState::Passed => obstacles.push(Obstacle {
                    stage: Some(stage.name.clone()),
                    kind: match point.kind {
                        PointKind::Hold => ObstacleKind::Hold,
                        PointKind::Witness | PointKind::Review => ObstacleKind::Point,
                    },
                    text: format!(
                        "{} \"{}\" is to be {} by {}",
                        point.name,
                        point.title,
                        done_word(point.kind),
                        point.roles.join(" or ")
                    ),
                    rule: None,
                    place: None,
                }),
            }
        }
    }
    let position = |obstacle: &Obstacle| {
        obstacle.stage.as_ref().map(|name| {
            unit.stages
                .iter()
                .position(|stage| stage.name == *name)
                .unwrap_or(usize::MAX)
        })
    };
    obstacles.sort_by_key(|obstacle| {
        let place = obstacle.place.map(|place| place.span.start);
        (position(obstacle), obstacle.kind, place)
    });
    Ok(Standing {
        serial: unit.serial.clone(),
        path: unit.path.clone(),
        stage: stage.name.clone(),
        applies: stage.state != StageState::NotApplicable,
        obstacles,
        counts,
        points,
        known,
    })
}

/// A finding as an obstacle; `None` when it does not stand in the way.
fn obstacle(finding: &Finding, stage: Option<Arc<str>>) -> Option<Obstacle> {
    if finding.accepted.is_some() {
        return None;
    }
    let kind = match finding.severity {
        Severity::Error => ObstacleKind::Error,
        Severity::Warning => ObstacleKind::Warning,
        Severity::Pending if finding.rule.name == rules::SEAL_MISSING.name => ObstacleKind::Seal,
        // What a stage has to record is counted with the stage.
        Severity::Pending if finding.rule.name != "pending" => ObstacleKind::Record,
        Severity::Pending | Severity::Note => return None,
    };
    Some(Obstacle {
        stage,
        kind,
        text: finding.message.clone(),
        rule: Some(finding.rule.name),
        place: Some(finding.place),
    })
}

fn to_be_recorded(stage: &StageSummary, obstacles: &mut Vec<Obstacle>) {
    // What is missing rather than pending has an error of its own.
    if stage.counts.pending == 0 {
        return;
    }
    obstacles.push(Obstacle {
        stage: Some(stage.name.clone()),
        kind: ObstacleKind::Record,
        text: format!("still to be recorded: {}", stage.pending_words()),
        rule: Some("pending"),
        place: None,
    });
}

fn done_word(kind: PointKind) -> &'static str {
    match kind {
        PointKind::Hold => "released",
        PointKind::Witness => "witnessed or waived",
        PointKind::Review => "reviewed",
    }
}

fn is_unit(outcome: &Outcome, file: FileId) -> bool {
    outcome
        .sources
        .get(file.0 as usize)
        .is_some_and(|source| outcome.units.iter().any(|unit| unit.path == source.name))
}

/// Which stage stands where in a unit's document.
struct Outline {
    file: Option<FileId>,
    stages: Vec<(Span, Arc<str>)>,
}

impl Outline {
    fn of(outcome: &Outcome, unit: &UnitSummary) -> Outline {
        let file = outcome
            .sources
            .iter()
            .position(|source| source.name == unit.path);
        let stages = match file {
            Some(index) => parse(outcome.sources[index].text.clone()).stages(),
            None => Vec::new(),
        };
        Outline {
            file: file.map(|index| FileId(index as u32)),
            stages,
        }
    }

    fn stage_at(&self, place: Place) -> Option<Arc<str>> {
        self.stages
            .iter()
            .find(|(span, _)| span.start <= place.span.start && place.span.start < span.end)
            .map(|(_, name)| name.clone())
    }
}
