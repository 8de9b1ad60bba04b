//! `compare`: which values are held beside those of the other units of the lot, and how narrowly.

use super::draft::{At, Item};
use super::model::{CalcId, Plan, ReadingId, SetId, StageId};
use super::resolve::Resolver;
use super::types::Type;
use crate::finding::Finding;
use crate::finding::rules;
use crate::quantity::Dimension;
use crate::syntax::NodeKind;
use crate::text::Place;
use std::sync::Arc;

/// How many times the scatter of its sisters a unit may lie away from their median, where the plan gives no
/// number of its own. Source: B. Iglewicz and D. C. Hoaglin, How to Detect and Handle Outliers, ASQC 1993
/// (modified z-score, 3.5), from memory.
pub const USUAL_THRESHOLD: f64 = 3.5;

/// The least scatter that is reckoned with, as a share of the median, where the plan gives none. Common
/// practice, no source: of the order of what two measurements of one winding differ by.
pub const USUAL_FLOOR: f64 = 0.005;

/// A value that is compared between the units of a lot.
#[derive(Clone, Debug)]
pub struct Compare {
    /// Which.
    pub value: Compared,
    /// When it stands apart; one is enough.
    pub bounds: Vec<CompareBound>,
}

/// What may be compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Compared {
    /// A reading as it was written.
    Reading(ReadingId),
    /// A calculated value, such as a resistance at reference temperature.
    Calc(CalcId),
}

impl Compared {
    /// The sets that it is indexed by.
    pub fn indices(self, plan: &Plan) -> &[SetId] {
        match self {
            Compared::Reading(id) => &plan.readings[id.index()].indices,
            Compared::Calc(id) => &plan.calcs[id.index()].indices,
        }
    }

    /// Its stage, none for the design, and its name.
    pub fn named(self, plan: &Plan) -> (Option<StageId>, &Arc<str>) {
        match self {
            Compared::Reading(id) => {
                let reading = &plan.readings[id.index()];
                (Some(reading.stage), &reading.name)
            }
            Compared::Calc(id) => {
                let calc = &plan.calcs[id.index()];
                (calc.stage, &calc.name)
            }
        }
    }
}

/// One `compare` line.
#[derive(Clone, Copy, Debug)]
pub struct CompareBound {
    /// Multiples of the scatter.
    pub threshold: f64,
    /// The least scatter.
    pub floor: Floor,
    /// Where the line stands.
    pub place: Place,
}

/// The least scatter that is reckoned with, however alike the sisters are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Floor {
    /// A share of the sisters' median.
    Share(f64),
    /// In SI base units of the value.
    Absolute(f64),
}

impl Floor {
    /// The floor in SI base units of the value.
    pub fn at(self, median: f64) -> f64 {
        match self {
            Floor::Share(share) => share * median.abs(),
            Floor::Absolute(value) => value,
        }
    }
}

impl Resolver<'_, '_> {
    /// Reads the `compare` lines of a declaration.
    pub(super) fn compares(&mut self, value: Compared, ty: &Type, item: &Item) {
        let mut bounds = Vec::new();
        for at in &item.compares {
            bounds.extend(self.compare_bound(*at, ty));
        }
        if !bounds.is_empty() {
            self.plan.compares.push(Compare { value, bounds });
        }
    }

    fn compare_bound(&mut self, at: At, ty: &Type) -> Option<CompareBound> {
        let place = self.place(at.document, at.node);
        let (dimension, point) = match ty {
            Type::Quantity { dimension, point } => (*dimension, *point),
            Type::Unknown => return None,
            other => {
                self.wrong_compare(
                    place,
                    format!("expected `compare` below a quantity, found it below {other}"),
                    "compare a calculated value of it, one number for each instance",
                );
                return None;
            }
        };
        let tree = self.documents[at.document].tree;
        let threshold = match tree.child(at.node, NodeKind::Beyond) {
            None => USUAL_THRESHOLD,
            Some(beyond) => {
                let word = tree.child(beyond, NodeKind::Word)?;
                let threshold: f64 = tree.text_of(word).parse().ok()?;
                if !(threshold > 0.0 && threshold.is_finite()) {
                    let place = self.place(at.document, word);
                    let message = format!(
                        "expected a number greater than zero, found {}",
                        tree.text_of(word)
                    );
                    self.wrong_compare(place, message, "write: compare beyond 3.5");
                    return None;
                }
                threshold
            }
        };
        let floor = match tree.child(at.node, NodeKind::Floor) {
            Some(node) => self.floor(at, node, dimension)?,
            // A share of 20 °C or of 60 dB means nothing: zero is not the absence of either.
            None if point || dimension == Dimension::LEVEL => {
                let unit = if point { "1 K" } else { "1 dB" };
                self.wrong_compare(
                    place,
                    format!("expected `floor` and the usual scatter of {ty}, found none"),
                    &format!("write: compare floor {unit}"),
                );
                return None;
            }
            None => Floor::Share(USUAL_FLOOR),
        };
        Some(CompareBound {
            threshold,
            floor,
            place,
        })
    }

    fn floor(
        &mut self,
        at: At,
        node: crate::syntax::NodeId,
        dimension: Dimension,
    ) -> Option<Floor> {
        let document = self.documents[at.document];
        let tree = document.tree;
        let written = tree.child(node, NodeKind::Quantity)?;
        let place = self.place(at.document, written);
        let quantity = match super::literal::read(&tree.quantity(written)?, document.file) {
            Ok(quantity) => quantity,
            Err(finding) => {
                self.findings.push(*finding);
                return None;
            }
        };
        let of_median = tree.child(node, NodeKind::OfMedian).is_some();
        let wanted = if of_median {
            Dimension::NONE
        } else {
            dimension
        };
        if quantity.dimension != wanted || quantity.point {
            let expected = match (of_median, dimension) {
                (true, _) => "a share of the median, such as 0.5 %".to_owned(),
                (false, dimension) if dimension == Dimension::TEMPERATURE => {
                    "a difference of temperature in K".to_owned()
                }
                (false, dimension) => format!("{}", Type::quantity(dimension)),
            };
            let found = tree.text_of(written);
            self.findings.push(
                Finding::new(
                    &rules::DIMENSION_MISMATCH,
                    place,
                    format!("expected the floor to be {expected}, found `{found}`"),
                )
                .help("write: floor 0.5 % of median, or the floor in the value's own unit"),
            );
            return None;
        }
        let value = quantity.value.to_f64();
        if !(value > 0.0 && value.is_finite()) {
            let message = format!(
                "expected a floor greater than zero, found `{}`",
                tree.text_of(written)
            );
            self.wrong_compare(
                place,
                message,
                "sisters that are alike to the last digit have no scatter, and nothing could be held against it",
            );
            return None;
        }
        Some(if of_median {
            Floor::Share(value)
        } else {
            Floor::Absolute(value)
        })
    }

    fn wrong_compare(&mut self, place: Place, message: String, help: &str) {
        self.findings
            .push(Finding::new(&rules::WRONG_KIND, place, message).help(help));
    }
}
