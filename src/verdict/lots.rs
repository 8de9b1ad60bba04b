//! A lot: are its units numbered as one lot is, were its type tests made, and is each unit like its sisters?

use super::apart;
use super::limits::shown;
use super::lot_facts::LotFacts;
use crate::finding::rules;
use crate::finding::{Finding, LotSummary, Rule, Severity, TypeTestState};
use crate::plan::Plan;
use crate::record::{Header, Lot, Record};
use crate::text::{FileId, Place, SourceText, Span};
use rustc_hash::FxHashMap;
use std::sync::Arc;

/// One record of a lot.
#[derive(Debug)]
pub struct Member<'a> {
    /// Its document.
    pub file: FileId,
    /// What its `unit` statement says; it names the lot.
    pub header: &'a Header,
    /// The document of its plan, and the plan; `None` where that could not be read.
    pub plan: Option<(usize, &'a Plan)>,
    /// The record and what the lot needs to know of it; `None` where it could not be judged.
    pub judged: Option<(&'a Record, &'a LotFacts)>,
    /// True for a record that is to be judged, false for one that is only looked at beside it.
    pub given: bool,
}

impl Member<'_> {
    fn place(&self) -> Place {
        let span = self
            .header
            .lot
            .as_ref()
            .map_or(self.header.span, |lot| lot.span);
        self.at(span)
    }

    fn at(&self, span: Span) -> Place {
        Place {
            file: self.file,
            span,
        }
    }

    fn number(&self) -> Option<i64> {
        self.header.lot.as_ref().and_then(|lot| lot.number)
    }

    /// True for the unit on which the type tests are made.
    fn is_first(&self) -> bool {
        self.number().is_none_or(|number| number == 1)
    }

    fn plan_has_type_tests(&self) -> bool {
        self.plan.is_some_and(|(_, plan)| plan.type_tests.any())
    }

    fn left(&self) -> Option<Place> {
        self.judged.and_then(|(_, facts)| facts.left)
    }

    fn open(&self) -> &[String] {
        self.judged.map_or(&[], |(_, facts)| &facts.type_tests_open)
    }

    fn type_tested(&self) -> Option<(&str, Place)> {
        let lot = self.header.lot.as_ref()?;
        let (serial, span) = lot.type_tested.as_ref()?;
        Some((serial, self.at(*span)))
    }
}

/// A record that lies near the lot and does not belong to it.
#[derive(Clone, Debug)]
pub struct Neighbour {
    /// Its document.
    pub file: FileId,
    /// Its lot, where it has one.
    pub lot: Option<Arc<str>>,
    /// Where its `unit` statement stands.
    pub span: Span,
}

/// What judging a lot came to.
#[derive(Debug, Default)]
pub struct LotVerdict {
    /// Findings of the given records, and those of the lot as a whole.
    pub findings: Vec<Finding>,
    /// For each member, in order, how it stands in its lot.
    pub summaries: Vec<Option<LotSummary>>,
}

/// Judges the records of one lot, all that are at hand, in the order of their documents' names.
/// `neighbour` finds a record that lies near them and is not of the lot by its serial.
pub fn judge_lot(
    members: &[Member<'_>],
    neighbour: &dyn Fn(&str) -> Option<Neighbour>,
    sources: &[SourceText],
) -> LotVerdict {
    let mut judge = LotJudge {
        members,
        by_serial: FxHashMap::default(),
        first_numbered: FxHashMap::default(),
        findings: Vec::new(),
    };
    for (position, member) in members.iter().enumerate() {
        judge
            .by_serial
            .entry(&member.header.serial)
            .or_default()
            .push(position);
        if let Some(number) = member.number() {
            judge
                .first_numbered
                .entry(number)
                .or_default()
                .push(position);
        }
    }
    judge.numbers();
    let summaries = (0..members.len())
        .map(|position| judge.type_tests(position, neighbour))
        .collect();
    judge.without_type_test();
    let mut findings = judge.findings;
    apart::compare(members, sources, &mut findings);
    LotVerdict {
        findings,
        summaries,
    }
}

struct LotJudge<'a> {
    members: &'a [Member<'a>],
    by_serial: FxHashMap<&'a str, Vec<usize>>,
    first_numbered: FxHashMap<i64, Vec<usize>>,
    findings: Vec<Finding>,
}

/// The first of these that is not `own`.
fn another(positions: Option<&Vec<usize>>, own: usize) -> Option<usize> {
    positions?.iter().copied().find(|other| *other != own)
}

impl LotJudge<'_> {
    /// A number outside its lot, a total that the others do not give, a number or a serial given twice.
    fn numbers(&mut self) {
        let usual = self.usual_total();
        for (position, member) in self.members.iter().enumerate() {
            let Some(lot) = member.header.lot.as_ref().filter(|_| member.given) else {
                continue;
            };
            let place = member.place();
            if let (Some(number), Some(total)) = (lot.number, lot.total)
                && (number < 1 || number > total)
            {
                let expected = match total {
                    ..1 => "a lot of at least one unit".to_owned(),
                    1 => "unit 1 of 1".to_owned(),
                    _ => format!("a unit from 1 to {total} of {total}"),
                };
                self.findings.push(
                    Finding::new(
                        &rules::LOT_NUMBERS_DISAGREE,
                        place,
                        format!("expected {expected}, found unit {number} of {total}"),
                    )
                    .help("a lot that was enlarged has its new number of units in every record"),
                );
            }
            if let (Some(total), Some((wanted, from))) = (lot.total, usual)
                && total != wanted
            {
                let other = &self.members[from];
                self.findings.push(
                    Finding::new(
                        &rules::LOT_NUMBERS_DISAGREE,
                        place,
                        format!(
                            "expected lot {} to have {wanted} units, as most of its records say, found {total}",
                            lot.name
                        ),
                    )
                    .related(other.place(), format!("{} says {wanted}", other.header.serial))
                    .help("a lot that was enlarged has its new number of units in every record"),
                );
            }
            self.twice(position, lot);
        }
    }

    fn twice(&mut self, position: usize, lot: &Lot) {
        let member = &self.members[position];
        let same_serial = another(self.by_serial.get(&*member.header.serial), position);
        if let Some(other) = same_serial {
            let other = &self.members[other];
            self.findings.push(
                Finding::new(
                    &rules::DUPLICATE_SERIAL,
                    member.at(member.header.span),
                    format!(
                        "expected one record of unit {}, found a second",
                        member.header.serial
                    ),
                )
                .related(other.at(other.header.span), "the other one")
                .help(
                    "keep one record of a unit; what is in the other belongs into it as amendments",
                ),
            );
            return;
        }
        let same_number = lot
            .number
            .and_then(|number| another(self.first_numbered.get(&number), position));
        if let (Some(other), Some(number)) = (same_number, lot.number) {
            let other = &self.members[other];
            self.findings.push(
                Finding::new(
                    &rules::LOT_NUMBERS_DISAGREE,
                    member.place(),
                    format!(
                        "expected one unit {number} of lot {}, found {} and {}",
                        lot.name, member.header.serial, other.header.serial
                    ),
                )
                .related(
                    other.place(),
                    format!("{} says so too", other.header.serial),
                )
                .help("give each unit its own number; the serial does not count here"),
            );
        }
    }

    /// The number of units that most records give, and the first that does.
    fn usual_total(&self) -> Option<(i64, usize)> {
        let mut counts: FxHashMap<i64, (usize, usize)> = FxHashMap::default();
        for (position, member) in self.members.iter().enumerate() {
            if let Some(total) = member.header.lot.as_ref().and_then(|lot| lot.total) {
                counts.entry(total).or_insert((0, position)).0 += 1;
            }
        }
        counts
            .into_iter()
            // Of two that are equally frequent the one of the first record.
            .max_by_key(|(_, (count, first))| (*count, std::cmp::Reverse(*first)))
            .map(|(total, (_, first))| (total, first))
    }

    /// Whether a later unit says on which unit the type tests were made, and whether they were.
    fn type_tests(
        &mut self,
        position: usize,
        neighbour: &dyn Fn(&str) -> Option<Neighbour>,
    ) -> Option<LotSummary> {
        let members = self.members;
        let member = &members[position];
        let lot = member.header.lot.as_ref()?;
        let state = self.type_test_state(member, lot, neighbour);
        Some(LotSummary {
            name: lot.name.clone(),
            number: lot.number,
            total: lot.total,
            type_tested: lot.type_tested.as_ref().map(|(serial, _)| serial.clone()),
            state,
        })
    }

    fn type_test_state(
        &mut self,
        member: &Member<'_>,
        lot: &Lot,
        neighbour: &dyn Fn(&str) -> Option<Neighbour>,
    ) -> TypeTestState {
        if !member.plan_has_type_tests() {
            return TypeTestState::None;
        }
        if member.is_first() {
            if let Some((serial, place)) = member.type_tested()
                && serial != member.header.serial
            {
                let message = format!(
                    "expected unit 1 of lot {} to be the one that is type-tested, found that it names {serial}",
                    lot.name
                );
                self.wrong_reference(member, place, message, None);
            }
            return match member.judged {
                None => TypeTestState::Unreadable,
                Some((_, facts)) if facts.type_tests_open.is_empty() => TypeTestState::Complete,
                Some((_, facts)) => TypeTestState::Open(facts.type_tests_open.clone()),
            };
        }
        let Some((serial, place)) = member.type_tested() else {
            self.no_reference(member, lot);
            return TypeTestState::NotNamed;
        };
        let named = self.by_serial.get(serial).and_then(|found| found.first());
        let Some(tested) = named.map(|found| &self.members[*found]) else {
            if let Some(other) = neighbour(serial) {
                let lot_name = other
                    .lot
                    .as_ref()
                    .map_or_else(|| "no lot".to_owned(), |name| format!("lot {name}"));
                let message = format!(
                    "expected a type-tested unit of lot {}, found {serial} of {lot_name}",
                    lot.name
                );
                let other = Place {
                    file: other.file,
                    span: other.span,
                };
                self.wrong_reference(member, place, message, Some((other, "its own record")));
                return TypeTestState::Wrong;
            }
            self.not_at_hand(member, serial, place, "found none");
            return TypeTestState::NotAtHand;
        };
        let about = Some((tested.place(), "what its record says"));
        if !tested.is_first() {
            let number = tested.number().unwrap_or_default();
            let message = format!(
                "expected the unit on which the type tests are made, found {serial}, unit {number} of its lot, on which they are not"
            );
            self.wrong_reference(member, place, message, about);
            return TypeTestState::Wrong;
        }
        let plan_of = |member: &Member<'_>| match &member.header.plan {
            Some((name, ..)) => name.to_string(),
            None => String::new(),
        };
        let (own, its) = (plan_of(member), plan_of(tested));
        if own != its && !its.is_empty() {
            let message = format!(
                "expected the type-tested unit to be built to the same plan `{own}`, found {serial} built to `{its}`"
            );
            self.wrong_reference(member, place, message, about);
            return TypeTestState::Wrong;
        }
        if tested.judged.is_none() {
            self.not_at_hand(member, serial, place, "found one that cannot be judged");
            return TypeTestState::Unreadable;
        }
        if tested.open().is_empty() {
            return TypeTestState::Complete;
        }
        let open = tested.open().to_vec();
        let mut finding = Finding::new(
            &rules::TYPE_TESTS_OPEN,
            place,
            format!(
                "expected the type tests on {serial} to be complete, found open: {}",
                shown(&open)
            ),
        )
        .severity(pending_until_left(member, &rules::TYPE_TESTS_OPEN))
        .related(tested.place(), "the unit that is type-tested")
        .help("the design is proven when they are complete; until then no later unit of the lot should leave");
        if let Some(left) = member.left() {
            finding = finding.related(left, "its last hold point was released here");
        }
        self.tell(member, finding);
        TypeTestState::Open(open)
    }

    fn tell(&mut self, member: &Member<'_>, finding: Finding) {
        if member.given {
            self.findings.push(finding);
        }
    }

    fn no_reference(&mut self, member: &Member<'_>, lot: &Lot) {
        let first = self
            .first_numbered
            .get(&1)
            .and_then(|found| found.first())
            .map(|found| &self.members[*found]);
        let number = lot.number.unwrap_or_default();
        let total = lot
            .total
            .map_or_else(String::new, |total| format!(" of {total}"));
        let serial = first.map_or("SERIAL", |first| &*first.header.serial);
        let mut finding = Finding::new(
            &rules::TYPE_TEST_REFERENCE_MISSING,
            member.place(),
            format!(
                "expected unit {number} of lot {} to name the unit on which the type tests were made, found none",
                lot.name
            ),
        )
        .severity(pending_until_left(member, &rules::TYPE_TEST_REFERENCE_MISSING))
        .help(format!(
            "write: lot {} unit {number}{total} type-tested {serial}",
            lot.name
        ));
        if let Some(first) = first {
            finding = finding.related(first.place(), "unit 1 of the lot");
        }
        if let Some(left) = member.left() {
            finding = finding.related(left, "its last hold point was released here");
        }
        self.tell(member, finding);
    }

    fn wrong_reference(
        &mut self,
        member: &Member<'_>,
        place: Place,
        message: String,
        about: Option<(Place, &str)>,
    ) {
        let mut finding = Finding::new(&rules::TYPE_TEST_REFERENCE_WRONG, place, message).help(
            "name the unit of this lot on which the type tests of this plan were made; a type test on another design proves nothing here",
        );
        if let Some((place, text)) = about {
            finding = finding.related(place, text);
        }
        self.tell(member, finding);
    }

    fn not_at_hand(&mut self, member: &Member<'_>, serial: &str, place: Place, found: &str) {
        let finding = Finding::new(
            &rules::TYPE_TESTED_UNIT_NOT_AT_HAND,
            place,
            format!(
                "expected the record of {serial} beside this one, to see whether its type tests are complete, {found}"
            ),
        )
        .help("put the records of a lot into one folder, or into folders beside each other; until then look it up by hand");
        self.tell(member, finding);
    }

    /// One finding for a lot whose type tests nobody can point to.
    fn without_type_test(&mut self) {
        let mut asked: Vec<&Member<'_>> = self
            .members
            .iter()
            .filter(|member| member.plan_has_type_tests())
            .collect();
        // Units that name the type-tested one are answered for one by one.
        let tested: Vec<&Member<'_>> = asked
            .iter()
            .copied()
            .filter(|member| member.is_first())
            .collect();
        asked.retain(|member| !member.is_first() && member.type_tested().is_none());
        // Of a single record its own finding says all.
        if self.members.len() < 2 {
            return;
        }
        let (Some(first), Some(asking)) = (self.members.first(), asked.first()) else {
            return;
        };
        let Some(lot) = &first.header.lot else {
            return;
        };
        let left = asked.iter().find_map(|member| {
            let place = member.left()?;
            Some((&member.header.serial, place))
        });
        let (message, severity) = match (tested.first(), left) {
            (None, left) => {
                let severity = if left.is_some() {
                    rules::LOT_WITHOUT_TYPE_TEST.severity
                } else {
                    Severity::Note
                };
                let message = format!(
                    "expected lot {} to have a unit on which the type tests are made, found unit 1 among none of its {} records at hand",
                    lot.name,
                    self.members.len()
                );
                (message, severity)
            }
            (Some(_), Some(_)) if tested.iter().all(|unit| !unit.open().is_empty()) => {
                let open: Vec<String> = tested
                    .iter()
                    .map(|unit| format!("{}: {}", unit.header.serial, shown(unit.open())))
                    .collect();
                let message = format!(
                    "expected the type tests of lot {} to be complete before a unit leaves, found open on {}",
                    lot.name,
                    shown(&open)
                );
                (message, rules::LOT_WITHOUT_TYPE_TEST.severity)
            }
            _ => return,
        };
        let mut finding = Finding::new(&rules::LOT_WITHOUT_TYPE_TEST, first.place(), message)
            .severity(severity)
            .help("make the type tests on unit 1, or name the unit on which they were made in each later one: type-tested SERIAL");
        if asking.place() != first.place() {
            finding = finding.related(asking.place(), "this unit names none");
        }
        if let Some((serial, place)) = left {
            finding = finding.related(place, format!("{serial} was released to leave here"));
        }
        // Told once a lot, whichever of its records are judged.
        self.findings.push(finding);
    }
}

/// While the unit is in the works its type tests may still be made; once its last hold point is released
/// they must have been.
fn pending_until_left(member: &Member<'_>, rule: &Rule) -> Severity {
    match member.left() {
        Some(_) => rule.severity,
        None => Severity::Pending,
    }
}
