//! Accuracy statements and ranges as written: `0.2 % of reading + 0.05 V  k = 2 for voltage`. Registers state
//! them of instruments, plans of what stands beside the instrument.

use super::kind::{QUANTITY_KINDS, QuantityKind, quantity_kind};
use super::literal;
use crate::finding::Finding;
use crate::finding::rules;
use crate::quantity::{Accuracy, AccuracyTerm, Dimension, Interval, Number, Quantity};
use crate::syntax::{NodeId, NodeKind, Tree, nearest};
use crate::text::{FileId, Place};
use std::cmp::Ordering;

/// Something stated of some kinds of quantity.
#[derive(Clone, Debug)]
pub struct Stated<T> {
    /// What is stated.
    pub value: T,
    /// The kinds that `for` names; empty for every kind that it fits.
    pub kinds: Vec<&'static QuantityKind>,
    /// Where it stands.
    pub place: Place,
}

impl<T> Stated<T> {
    /// True when `for` names this kind.
    pub fn names(&self, kind: &QuantityKind) -> bool {
        self.kinds.contains(&kind)
    }
}

/// How closely a statement fits a kind; the closest counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Fit {
    /// Shares only: it holds for every kind that shares can be taken of.
    Any,
    /// An amount in it, or its range, is of the kind's dimension.
    Dimension,
    /// `for` names the kind.
    Named,
}

impl Stated<Accuracy> {
    /// The dimension of the parts that are no shares.
    pub fn dimension(&self) -> Option<Dimension> {
        self.value.terms.iter().find_map(|term| match term {
            AccuracyTerm::Alone(amount) => Some(amount.dimension),
            _ => None,
        })
    }

    /// True when a part is a share of the range.
    pub fn of_range(&self) -> bool {
        let terms = &self.value.terms;
        terms
            .iter()
            .any(|term| matches!(term, AccuracyTerm::OfRange(_)))
    }

    /// How closely it fits a kind; `None` when it says nothing of it.
    pub fn fit(&self, kind: &QuantityKind) -> Option<Fit> {
        let of_reading = |term: &AccuracyTerm| matches!(term, AccuracyTerm::OfReading(_));
        // There is no share of a temperature on the scale, nor of a level in decibels.
        if (kind.point || kind.dimension == Dimension::LEVEL)
            && self.value.terms.iter().any(of_reading)
        {
            return None;
        }
        let dimension = self.dimension();
        if dimension.is_some_and(|own| own != kind.dimension) {
            return None;
        }
        match (self.kinds.is_empty(), dimension) {
            (false, _) => self.names(kind).then_some(Fit::Named),
            (true, Some(_)) => Some(Fit::Dimension),
            (true, None) => Some(Fit::Any),
        }
    }
}

impl Stated<Interval> {
    /// How closely it fits a kind; `None` when it says nothing of it.
    pub fn fit(&self, kind: &QuantityKind) -> Option<Fit> {
        let edge = self.value.low.as_ref().or(self.value.high.as_ref())?;
        if edge.at.dimension != kind.dimension || edge.at.point != kind.point {
            return None;
        }
        match self.kinds.is_empty() {
            false => self.names(kind).then_some(Fit::Named),
            true => Some(Fit::Dimension),
        }
    }
}

/// A document whose statements are read.
#[derive(Clone, Copy)]
pub struct Written<'t> {
    /// Its tree.
    pub tree: &'t Tree,
    /// Its place among the run's sources.
    pub file: FileId,
}

impl Written<'_> {
    fn place(&self, node: NodeId) -> Place {
        Place {
            file: self.file,
            span: self.tree.span(node),
        }
    }

    /// Reads `accuracy` or `uncertainty`; `None` when it cannot be used, which is reported.
    pub fn accuracy(&self, node: NodeId, findings: &mut Vec<Finding>) -> Option<Stated<Accuracy>> {
        let tree = self.tree;
        let mut terms = Vec::new();
        for term in tree
            .children(node)
            .filter(|child| tree.kind(*child) == NodeKind::AccuracyTerm)
        {
            terms.push(self.term(term, findings)?);
        }
        if terms.is_empty() {
            // The parser said what is missing.
            return None;
        }
        let stated = Stated {
            value: Accuracy {
                terms,
                coverage: self.coverage(node, findings)?,
            },
            kinds: self.kinds(node, findings)?,
            place: self.place(node),
        };
        let amounts = stated.value.terms.iter().filter_map(|term| match term {
            AccuracyTerm::Alone(amount) => Some(amount.dimension),
            _ => None,
        });
        let other = amounts
            .clone()
            .find(|dimension| Some(*dimension) != stated.dimension());
        if let (Some(first), Some(other)) = (stated.dimension(), other) {
            findings.push(
                Finding::new(
                    &rules::DIMENSION_MISMATCH,
                    stated.place,
                    format!("expected parts that add up, found {first} and {other}"),
                )
                .help("write a line for each kind of quantity: accuracy 0.2 % of reading + 0.05 V"),
            );
            return None;
        }
        for kind in &stated.kinds {
            if stated.fit(kind).is_none() {
                findings.push(unfit(&stated, kind));
                return None;
            }
        }
        Some(stated)
    }

    fn term(&self, node: NodeId, findings: &mut Vec<Finding>) -> Option<AccuracyTerm> {
        let tree = self.tree;
        let written = tree.child(node, NodeKind::Quantity)?;
        let place = self.place(written);
        let amount = match literal::read(&tree.quantity(written)?, self.file) {
            Ok(amount) => amount,
            Err(finding) => {
                findings.push(*finding);
                return None;
            }
        };
        if amount.value.to_f64() < 0.0 {
            findings.push(
                Finding::new(
                    &rules::WRONG_KIND,
                    place,
                    format!(
                        "expected an accuracy of zero or more, found {}",
                        tree.text_of(written)
                    ),
                )
                .help("it goes to both sides: 0.2 % means plus and minus 0.2 %"),
            );
            return None;
        }
        if amount.point {
            findings.push(
                Finding::new(
                    &rules::WRONG_KIND,
                    place,
                    format!(
                        "expected a difference of temperature, found {}, a point on the scale",
                        tree.text_of(written)
                    ),
                )
                .help("write it in kelvin: accuracy 0.2 K"),
            );
            return None;
        }
        let Some(word) = tree.child(node, NodeKind::Name) else {
            return Some(AccuracyTerm::Alone(amount));
        };
        let share: fn(Number) -> AccuracyTerm = match tree.text_of(word) {
            "reading" => AccuracyTerm::OfReading,
            "range" => AccuracyTerm::OfRange,
            other => {
                findings.push(Finding::new(
                    &rules::UNKNOWN_NAME,
                    self.place(word),
                    format!("expected `of reading` or `of range`, found `of {other}`"),
                ));
                return None;
            }
        };
        if !amount.dimension.is_none() {
            findings.push(
                Finding::new(
                    &rules::WRONG_KIND,
                    place,
                    format!(
                        "expected a share such as 0.2 %, found {}",
                        tree.text_of(written)
                    ),
                )
                .help("an amount stands alone: accuracy 0.2 % of reading + 0.05 V"),
            );
            return None;
        }
        Some(share(amount.value))
    }

    /// The coverage factor, where one stands there; `None` when it cannot be one.
    fn coverage(&self, node: NodeId, findings: &mut Vec<Finding>) -> Option<Option<f64>> {
        let tree = self.tree;
        let Some(coverage) = tree.child(node, NodeKind::Coverage) else {
            return Some(None);
        };
        let word = tree.child(coverage, NodeKind::Word)?;
        match tree.text_of(word).parse::<f64>() {
            Ok(factor) if factor.is_finite() && factor >= 1.0 => Some(Some(factor)),
            _ => {
                findings.push(
                    Finding::new(
                        &rules::WRONG_KIND,
                        self.place(word),
                        format!(
                            "expected a coverage factor of 1 or more, found {}",
                            tree.text_of(word)
                        ),
                    )
                    .help("it stands on the certificate; leave it out where the statement is a limit of error"),
                );
                None
            }
        }
    }

    /// The kinds that `for` names; `None` when one is no kind of quantity.
    fn kinds(
        &self,
        node: NodeId,
        findings: &mut Vec<Finding>,
    ) -> Option<Vec<&'static QuantityKind>> {
        let tree = self.tree;
        let Some(part) = tree.child(node, NodeKind::ForKinds) else {
            return Some(Vec::new());
        };
        let mut kinds = Vec::new();
        for name in tree.children(part) {
            let text = tree.text_of(name);
            let Some(kind) = quantity_kind(text) else {
                let mut finding = Finding::new(
                    &rules::UNKNOWN_NAME,
                    self.place(name),
                    format!("expected a kind of quantity such as voltage, found `{text}`"),
                );
                if let Some(near) = nearest(text, QUANTITY_KINDS.iter().map(|kind| kind.name)) {
                    finding = finding.help(format!("did you mean `{near}`?"));
                }
                findings.push(finding);
                return None;
            };
            kinds.push(kind);
        }
        Some(kinds)
    }

    /// Reads the `range` of an instrument; `None` when it cannot be used, which is reported.
    pub fn range(&self, node: NodeId, findings: &mut Vec<Finding>) -> Option<Stated<Interval>> {
        let tree = self.tree;
        let value = tree.children(node).next()?;
        let place = self.place(node);
        let mut wrong = |message: String, help: &str| {
            findings.push(Finding::new(&rules::WRONG_KIND, place, message).help(help));
        };
        if tree.kind(value) != NodeKind::Range {
            wrong(
                "expected a range, found another value".to_owned(),
                "write: range 0.8 .. 15000",
            );
            return None;
        }
        let ends: Vec<_> = tree
            .children(value)
            .filter_map(|end| tree.quantity(end))
            .collect();
        let [mut low, high] = ends.try_into().ok()?;
        if low.unit.is_none() && high.unit.is_some() {
            // `0 .. 300 V`: the unit stands once, at the end.
            low.unit = high.unit;
            low.unit_span = high.unit_span;
        }
        let ends = (
            literal::read(&low, self.file),
            literal::read(&high, self.file),
        );
        let (low, high): (Quantity, Quantity) = match ends {
            (Ok(low), Ok(high)) => (low, high),
            (Err(finding), _) | (_, Err(finding)) => {
                findings.push(*finding);
                return None;
            }
        };
        match low.compare(&high) {
            Ok(Ordering::Less) => {}
            Ok(_) => {
                wrong(
                    "expected the lower end of the range first and a higher one after it, found no such order".to_owned(),
                    "write: range 0 V .. 300 V",
                );
                return None;
            }
            Err(fault) => {
                wrong(
                    format!("expected both ends of the range to be alike, found {fault}"),
                    "write both ends in units of one kind: range 0 V .. 300 V",
                );
                return None;
            }
        }
        let stated = Stated {
            value: Interval::between(low, high),
            kinds: self.kinds(node, findings)?,
            place,
        };
        if let Some(kind) = stated.kinds.iter().find(|kind| stated.fit(kind).is_none()) {
            findings.push(
                Finding::new(
                    &rules::DIMENSION_MISMATCH,
                    place,
                    format!(
                        "expected a range of {}, found one of another dimension",
                        kind.name
                    ),
                )
                .help(format!("its ends have a unit such as {}", kind.example)),
            );
            return None;
        }
        Some(stated)
    }
}

/// The finding for an accuracy that names a kind which it cannot be stated of.
fn unfit(stated: &Stated<Accuracy>, kind: &QuantityKind) -> Finding {
    let other_dimension = stated.dimension().is_some_and(|own| own != kind.dimension);
    if other_dimension {
        return Finding::new(
            &rules::DIMENSION_MISMATCH,
            stated.place,
            format!(
                "expected an accuracy of {}, found one of another dimension",
                kind.name
            ),
        )
        .help(format!(
            "an amount has a unit such as {}",
            difference_unit(kind)
        ));
    }
    Finding::new(
        &rules::WRONG_KIND,
        stated.place,
        format!(
            "expected an amount for {}, found a share of the reading",
            kind.name
        ),
    )
    .help(format!(
        "its zero is a matter of the scale: write an amount such as 0.5 {}",
        difference_unit(kind)
    ))
}

/// A unit in which an error of this kind is written.
pub fn difference_unit(kind: &QuantityKind) -> &'static str {
    if kind.point { "K" } else { kind.example }
}
