//! Which statement may stand below which: the outline's grammar.

use super::tree::NodeKind;

/// True when `child` may stand directly below `parent`.
pub fn allowed(parent: NodeKind, child: NodeKind) -> bool {
    use NodeKind::*;
    if child == Accept {
        return takes_accept(parent);
    }
    let rationale = matches!(child, SourceLine | Because | Look | Caution | SeverityLine);
    match parent {
        Document => matches!(
            child,
            Plan | Set
                | Role
                | DesignPlan
                | StagePlan
                | Tighten
                | Relax
                | Drop
                | Add
                | Register
                | Person
                | Instrument
                | Unit
                | Design
                | StageRecord
                | Nonconformity
        ),
        Plan => matches!(
            child,
            Title | Decide | UncertaintyRatio | Concessions | SealedPoints | Note
        ),
        DesignPlan => matches!(child, Need | May | Check | Calc | Note),
        Need | May => rationale || child == Note,
        StagePlan => matches!(
            child,
            After
                | When
                | Caution
                | Note
                | ReadingPlan
                | LogPlan
                | Calc
                | Check
                | Hold
                | Witness
                | Review
        ),
        ReadingPlan => {
            rationale
                || matches!(
                    child,
                    Limit
                        | Compare
                        | Independent
                        | When
                        | Decide
                        | UncertaintyRatio
                        | Uncertainty
                        | Note
                )
        }
        LogPlan => matches!(child, ColumnPlan | When | Note | Caution),
        Calc => rationale || matches!(child, Compare | When | Note),
        Check => {
            rationale
                || matches!(
                    child,
                    Require | Causes | When | Decide | UncertaintyRatio | Note
                )
        }
        Hold | Witness | Review => matches!(child, When | Because | Caution | Note),
        Tighten => {
            rationale
                || matches!(
                    child,
                    Limit | Require | Compare | Decide | UncertaintyRatio | Uncertainty | Note
                )
        }
        Relax => {
            rationale
                || matches!(
                    child,
                    Limit
                        | Require
                        | Compare
                        | When
                        | Decide
                        | UncertaintyRatio
                        | Uncertainty
                        | Note
                )
        }
        Add => matches!(
            child,
            Need | May | ReadingPlan | LogPlan | Calc | Check | Hold | Witness | Review | Note
        ),
        Register => matches!(child, Zone | Note),
        Person => matches!(child, Roles | Valid | Retired | Key | Note),
        Instrument => matches!(
            child,
            Measures | InstrumentRange | Accuracy | Calibrated | Valid | Retired | Note
        ),
        Unit => matches!(child, PlanChoice | RegisterChoice | Lot | Zone | Note),
        Design => matches!(child, DesignValue | Table | Note | Attach),
        StageRecord => matches!(
            child,
            Context
                | Reading
                | Table
                | Log
                | Attach
                | Note
                | Release
                | Witnessed
                | Waived
                | Reviewed
                | Notified
                | Amend
        ),
        Release | Witnessed | Waived | Reviewed => matches!(child, Note | Attach | Seal),
        Seal => matches!(child, Covers | Signature),
        Reading | DesignValue | Notified | Amend | Log | Table => {
            matches!(child, Note | Attach | HeaderRow | Row | ColumnMap)
        }
        Nonconformity => matches!(
            child,
            Against | Found | Disposition | Agreed | Closed | Note | Attach
        ),
        _ => false,
    }
}

/// Whether lines below this statement may have an `accept` above them: where a finding may stand.
fn takes_accept(parent: NodeKind) -> bool {
    use NodeKind::*;
    matches!(
        parent,
        Document
            | Plan
            | DesignPlan
            | StagePlan
            | ReadingPlan
            | LogPlan
            | Calc
            | Check
            | Hold
            | Witness
            | Review
            | Tighten
            | Relax
            | Add
            | Register
            | Person
            | Instrument
            | Unit
            | Design
            | StageRecord
            | Table
            | Log
            | Nonconformity
    )
}

/// How the place is called in a message.
pub fn place_name(parent: NodeKind) -> String {
    match parent {
        NodeKind::Document => "the outermost level".to_owned(),
        NodeKind::StageRecord | NodeKind::StagePlan => "a stage".to_owned(),
        NodeKind::DesignPlan | NodeKind::Design => "'design'".to_owned(),
        other => format!("'{}'", other.production().trim_end_matches("-plan")),
    }
}
