//! Members of sets that the design gives, as told on the command line: `winding=HV,LV`, `tap=1..17`.

use super::is_name;
use crate::plan::kind::Kind;
use crate::plan::{DesignId, MAX_INSTANCES, Member, Plan, SetId, SetSource};
use crate::syntax::nearest;
use rustc_hash::FxHashMap;

/// For a design value that gives a set: its members.
pub type SetMembers = FxHashMap<DesignId, Vec<Member>>;

/// Reads texts such as `winding=HV,LV` and `tap=1..17` against the plan's sets.
///
/// Gives one sentence for a set that does not exist or is written in the plan, for members that do not fit, and
/// where they would make more instances than are judged.
pub fn read_sets(plan: &Plan, texts: &[String]) -> Result<SetMembers, String> {
    let mut known = SetMembers::default();
    for text in texts {
        let Some((name, value)) = text.split_once('=') else {
            return Err(format!(
                "expected a set and its members such as winding=HV,LV or tap=1..17, found `{text}`"
            ));
        };
        let (name, value) = (name.trim(), value.trim());
        let id = source(plan, name)?;
        let members = match plan.design[id.index()].kind {
            Kind::Positions => positions(name, value)?,
            _ => names(name, value)?,
        };
        let before = known.get(&id).is_some_and(|before| *before != members);
        if before {
            return Err(format!(
                "expected one value of design.{} for the set `{name}`, found two that differ",
                plan.design[id.index()].name
            ));
        }
        known.insert(id, members);
    }
    bound(plan, &known)?;
    Ok(known)
}

/// The members of a set, where they are known.
pub(super) fn domain<'a>(
    plan: &'a Plan,
    known: &'a SetMembers,
    set: SetId,
) -> Option<&'a [Member]> {
    match &plan.sets[set.index()].source {
        SetSource::Members(members) => Some(members),
        SetSource::Design(id, _) => known.get(id).map(Vec::as_slice),
        SetSource::Missing => None,
    }
}

/// The design value that gives these members.
pub(super) fn written(kind: &Kind, members: &[Member]) -> String {
    match (kind, members) {
        (Kind::Positions, [first, .., last]) => format!("{first} .. {last}"),
        (Kind::Positions, [only]) => format!("{only} .. {only}"),
        _ => members
            .iter()
            .map(Member::to_string)
            .collect::<Vec<_>>()
            .join(", "),
    }
}

fn source(plan: &Plan, name: &str) -> Result<DesignId, String> {
    let Some(id) = plan.set_by_name.get(name) else {
        let given = |source: &SetSource| matches!(source, SetSource::Design(..));
        let sets = || {
            plan.sets
                .iter()
                .filter(|set| given(&set.source))
                .map(|set| &*set.name)
        };
        let hint = match nearest(name, sets()) {
            Some(near) => format!("did you mean `{near}`?"),
            None if sets().next().is_none() => "the plan has none".to_owned(),
            None => format!("there is {}", sets().collect::<Vec<_>>().join(", ")),
        };
        return Err(format!(
            "expected a set that the design gives, found `{name}`; {hint}"
        ));
    };
    match &plan.sets[id.index()].source {
        SetSource::Design(id, _) => Ok(*id),
        SetSource::Members(members) => {
            let members: Vec<String> = members.iter().take(20).map(Member::to_string).collect();
            Err(format!(
                "expected a set that the design gives, found `{name}`, whose members stand in the plan: {}",
                members.join(", ")
            ))
        }
        SetSource::Missing => Err(format!(
            "expected a set with a source, found `{name}`, which has none"
        )),
    }
}

fn positions(name: &str, value: &str) -> Result<Vec<Member>, String> {
    let wrong = || {
        format!(
            "expected the positions of `{name}` as two whole numbers, the lower first, such as 1..17; found `{value}`"
        )
    };
    let (low, high) = value.split_once("..").ok_or_else(wrong)?;
    let low: i64 = low.trim().parse().map_err(|_| wrong())?;
    let high: i64 = high.trim().parse().map_err(|_| wrong())?;
    if low > high {
        return Err(wrong());
    }
    if low.abs_diff(high) >= MAX_INSTANCES {
        return Err(format!(
            "expected at most {MAX_INSTANCES} members of `{name}`, found {value}"
        ));
    }
    Ok((low..=high).map(Member::Number).collect())
}

fn names(name: &str, value: &str) -> Result<Vec<Member>, String> {
    let mut members: Vec<Member> = Vec::new();
    for part in value.split(',').map(str::trim) {
        if !is_name(part) {
            return Err(format!(
                "expected names for the set `{name}`, parted by commas such as HV,LV; found `{part}`"
            ));
        }
        let member = Member::Name(part.into());
        if members.contains(&member) {
            return Err(format!(
                "expected each member of `{name}` once, found `{part}` twice"
            ));
        }
        members.push(member);
    }
    Ok(members)
}

/// The same bound as when the document is checked.
fn bound(plan: &Plan, known: &SetMembers) -> Result<(), String> {
    let readings = plan.readings.iter().map(|item| (&item.name, &item.indices));
    let logs = plan.logs.iter().map(|item| (&item.name, &item.indices));
    let calcs = plan.calcs.iter().map(|item| (&item.name, &item.indices));
    let checks = plan.checks.iter().map(|item| (&item.name, &item.indices));
    let design = plan.design.iter().map(|item| (&item.name, &item.indices));
    let mut total = 0u64;
    for (name, indices) in design
        .chain(readings)
        .chain(logs)
        .chain(calcs)
        .chain(checks)
    {
        let count = |set: &SetId| domain(plan, known, *set).map_or(1, <[Member]>::len) as u64;
        total = total.saturating_add(indices.iter().map(count).fold(1u64, u64::saturating_mul));
        if total > MAX_INSTANCES {
            return Err(format!(
                "expected at most {MAX_INSTANCES} instances in all, found {total} with those of `{name}`; make the sets smaller"
            ));
        }
    }
    Ok(())
}
