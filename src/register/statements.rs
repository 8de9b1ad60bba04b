//! Which of an instrument's statements holds for which kind, and what is wrong with them as a whole.

use super::Instrument;
use crate::finding::Finding;
use crate::finding::rules;
use crate::plan::accuracy::{Fit, Stated, difference_unit};
use crate::plan::kind::{QUANTITY_KINDS, QuantityKind, quantity_kind};
use crate::quantity::{Accuracy, Interval};

impl Instrument {
    /// The accuracy that holds for a kind: the one that names it, else one of its dimension, else one that
    /// holds for any.
    pub fn accuracy(&self, kind: &QuantityKind) -> Option<&Stated<Accuracy>> {
        closest(&self.accuracies, |stated| stated.fit(kind)).map(|(_, stated)| stated)
    }

    /// The range that holds for a kind: the one that names it, else one of its dimension.
    pub fn range(&self, kind: &QuantityKind) -> Option<&Stated<Interval>> {
        closest(&self.ranges, |stated| stated.fit(kind)).map(|(_, stated)| stated)
    }

    /// True when a range that fits a kind can be meant for no other: the line names the kind, or it is the
    /// only kind of that dimension which the instrument measures.
    pub fn range_is_meant_for(&self, range: &Stated<Interval>, kind: &QuantityKind) -> bool {
        let mut others = self.kinds().into_iter().filter(|other| *other != kind);
        range.names(kind)
            || (!self.measures.is_empty() && others.all(|other| range.fit(other).is_none()))
    }

    /// True when it measures a kind: it names the kind, or none at all.
    pub fn measures_kind(&self, kind: &QuantityKind) -> bool {
        self.measures.is_empty() || self.measures.iter().any(|own| **own == *kind.name)
    }

    /// The kinds of quantity that it measures; every kind when it names none.
    fn kinds(&self) -> Vec<&'static QuantityKind> {
        match self.measures.is_empty() {
            true => QUANTITY_KINDS.iter().collect(),
            false => self
                .measures
                .iter()
                .filter_map(|name| quantity_kind(name))
                .collect(),
        }
    }
}

/// The statement that fits closest, the first of several that fit alike.
fn closest<T>(
    statements: &[Stated<T>],
    fit: impl Fn(&Stated<T>) -> Option<Fit>,
) -> Option<(Fit, &Stated<T>)> {
    let mut found: Option<(Fit, &Stated<T>)> = None;
    for stated in statements {
        if let Some(fit) = fit(stated)
            && found.is_none_or(|(known, _)| fit > known)
        {
            found = Some((fit, stated));
        }
    }
    found
}

/// Reports statements that hold for nothing the instrument measures, two for one kind, and shares of a range
/// that is not stated.
pub(super) fn check(name: &str, instrument: &Instrument, findings: &mut Vec<Finding>) {
    let kinds = instrument.kinds();
    one_each(
        name,
        instrument,
        &kinds,
        &instrument.ranges,
        "range",
        &|stated, kind| stated.fit(kind),
        findings,
    );
    one_each(
        name,
        instrument,
        &kinds,
        &instrument.accuracies,
        "accuracy",
        &|stated, kind| stated.fit(kind),
        findings,
    );
    for stated in instrument
        .accuracies
        .iter()
        .filter(|stated| stated.of_range())
    {
        let without = kinds.iter().find(|kind| {
            let counts = instrument
                .accuracy(kind)
                .is_some_and(|counting| counting.place == stated.place);
            counts && instrument.range(kind).is_none()
        });
        if let Some(kind) = without.filter(|_| !instrument.measures.is_empty()) {
            findings.push(
                Finding::new(
                    &rules::WRONG_KIND,
                    stated.place,
                    format!(
                        "expected {name} to state a range of {}, of which its accuracy is a share, found none",
                        kind.name
                    ),
                )
                .help(format!(
                    "add a line such as: range 0 .. 100 {}",
                    kind.example
                )),
            );
        }
    }
}

fn one_each<T>(
    name: &str,
    instrument: &Instrument,
    kinds: &[&'static QuantityKind],
    statements: &[Stated<T>],
    word: &str,
    fit: &dyn Fn(&Stated<T>, &QuantityKind) -> Option<Fit>,
    findings: &mut Vec<Finding>,
) {
    for (index, stated) in statements.iter().enumerate() {
        let other = stated.kinds.iter().find(|kind| !kinds.contains(kind));
        let fits_one = kinds.iter().any(|kind| fit(stated, kind).is_some());
        if other.is_some() || !fits_one {
            let found = match other {
                Some(kind) => format!("found one for {}", kind.name),
                None => "found one that fits none of them".to_owned(),
            };
            let help = match kinds.first() {
                Some(kind) => format!(
                    "for {} write a unit such as {}, `of reading` behind a share, or complete `measures`",
                    kind.name,
                    difference_unit(kind)
                ),
                None => "what is counted or answered by yes or no has neither range nor accuracy"
                    .to_owned(),
            };
            findings.push(
                Finding::new(
                    &rules::WRONG_KIND,
                    stated.place,
                    format!(
                        "expected the {word} of {name} to be of what it measures ({}), {found}",
                        instrument.measures.join(", ")
                    ),
                )
                .help(help),
            );
            continue;
        }
        let twice = statements[..index].iter().find_map(|earlier| {
            let kind = kinds.iter().find(|kind| {
                fit(stated, kind).is_some() && fit(stated, kind) == fit(earlier, kind)
            })?;
            Some((earlier.place, kind.name))
        });
        if let Some((first, kind)) = twice {
            findings.push(
                Finding::new(
                    &rules::DUPLICATE_DECLARATION,
                    stated.place,
                    format!("expected one {word} of {name} for {kind}, found a second"),
                )
                .related(first, "first stated here")
                .help("say with `for` which kind each line is for"),
            );
        }
    }
}
