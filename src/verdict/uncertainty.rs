//! How uncertain what was recorded is: from the accuracy that the register states of the instrument, and from
//! what the plan states beside it.

use super::explain::Explainer;
use crate::finding::{Contribution, Uncertainty};
use crate::plan::Reading;
use crate::plan::accuracy::Stated;
use crate::plan::kind::{Kind, QuantityKind};
use crate::quantity::{Accuracy, COVERAGE, Quantity, Unit};
use crate::record::{Context, Record};
use crate::register::{Instrument, Register};
use crate::text::Place;
use std::sync::Arc;

/// Where uncertainties come from.
#[derive(Clone, Copy)]
pub(crate) struct Uncertainties<'a> {
    pub record: &'a Record,
    pub register: Option<&'a Register>,
}

/// An uncertainty that is known.
#[derive(Clone, Debug)]
pub(crate) struct Known {
    /// The expanded uncertainty, k = 2, a difference.
    pub expanded: Quantity,
    /// What it is made of.
    pub parts: Vec<Part>,
}

/// One statement that an uncertainty rests on.
#[derive(Clone, Debug)]
pub(crate) struct Part {
    /// The instrument, or the plan.
    pub name: Arc<str>,
    /// The half-width that it states at the value.
    pub half_width: Quantity,
    /// What the half-width is divided by.
    pub divisor: f64,
    /// True for limits of error, which state no coverage factor.
    pub limits_of_error: bool,
    /// Where it is stated.
    pub place: Place,
}

/// An uncertainty that is not known: what is missing, and a place that belongs to it.
#[derive(Clone, Debug)]
pub(crate) struct Lacking {
    pub what: String,
    pub place: Option<(Place, String)>,
}

impl Part {
    /// The standard uncertainty, in SI base units.
    fn standard(&self) -> f64 {
        self.half_width.value.to_f64() / self.divisor
    }
}

impl Known {
    /// The standard uncertainty, in SI base units.
    pub fn standard(&self) -> f64 {
        self.expanded.value.to_f64() / COVERAGE
    }

    /// Independent parts, added as the squares of their standard uncertainties.
    ///
    /// Source: JCGM 100:2008, 5.1.2 (equation 10), from memory.
    fn of(parts: Vec<Part>) -> Option<Known> {
        let first = parts.first()?;
        if let [one] = &parts[..] {
            return Some(Known::of_one(one.clone()));
        }
        let squares: f64 = parts.iter().map(|part| part.standard().powi(2)).sum();
        let expanded = Quantity::si(COVERAGE * squares.sqrt(), first.half_width.dimension);
        Some(Known { expanded, parts })
    }

    /// A single part. Stated with the factor that a decision rests on, it stays exact, and a limit that is met
    /// exactly is met.
    fn of_one(part: Part) -> Known {
        let expanded = match part.divisor == COVERAGE {
            true => part.half_width,
            false => Quantity::si(COVERAGE * part.standard(), part.half_width.dimension),
        };
        Known {
            expanded,
            parts: vec![part],
        }
    }
}

impl<'a> Uncertainties<'a> {
    /// Of the value of a reading.
    pub fn of_reading(
        &self,
        reading: &Reading,
        kind: &QuantityKind,
        value: &Quantity,
        context: u32,
    ) -> Result<Known, Lacking> {
        self.known(reading, kind, value, context, &|stated| {
            stated.fit(kind).is_some()
        })
    }

    /// Of a condition that a reading was given with. What the plan states of the reading itself says nothing of
    /// it unless it names the kind.
    pub fn of_condition(
        &self,
        reading: &Reading,
        kind: &QuantityKind,
        value: &Quantity,
        context: u32,
    ) -> Result<Known, Lacking> {
        let of_reading = |stated: &Stated<Accuracy>| matches!(&reading.kind, Kind::Quantity(own) if stated.fit(own).is_some());
        self.known(reading, kind, value, context, &|stated| {
            stated.names(kind) || stated.fit(kind).is_some() && !of_reading(stated)
        })
    }

    /// Of one row of a column of a log.
    pub fn of_column(
        &self,
        kind: &QuantityKind,
        value: &Quantity,
        context: u32,
    ) -> Result<Known, Lacking> {
        let context = &self.record.contexts[context as usize];
        match self.of_instrument(kind, value, context) {
            Ok(part) => Ok(Known::of_one(part)),
            Err(Silent::Nothing(lacking) | Silent::Unusable(lacking)) => Err(lacking),
        }
    }

    fn known(
        &self,
        reading: &Reading,
        kind: &QuantityKind,
        value: &Quantity,
        context: u32,
        holds: &dyn Fn(&Stated<Accuracy>) -> bool,
    ) -> Result<Known, Lacking> {
        let context = &self.record.contexts[context as usize];
        let mut parts = Vec::new();
        for stated in reading.uncertainties.iter().filter(|stated| holds(stated)) {
            if let Some(half_width) = stated.value.half_width(value, None) {
                parts.push(part(Arc::from("the plan"), stated, half_width));
            }
        }
        match self.of_instrument(kind, value, context) {
            Ok(own) => parts.insert(0, own),
            // What the plan states stands for the whole where the register states nothing.
            Err(Silent::Nothing(lacking)) if parts.is_empty() => return Err(lacking),
            Err(Silent::Nothing(_)) => {}
            Err(Silent::Unusable(lacking)) => return Err(lacking),
        }
        // There is a part: either the instrument's or one of the plan's.
        Known::of(parts).ok_or_else(|| Lacking {
            what: format!("an uncertainty of {}", kind.name),
            place: None,
        })
    }

    /// The instrument that a context names, where the register has it.
    pub fn instrument(&self, context: &'a Context) -> Option<(&'a Arc<str>, &'a Instrument)> {
        let (name, _) = context.instrument.as_ref()?;
        Some((name, self.register?.instruments.get(name)?))
    }

    /// What the instrument's accuracy comes to at a value.
    fn of_instrument(
        &self,
        kind: &QuantityKind,
        value: &Quantity,
        context: &'a Context,
    ) -> Result<Part, Silent> {
        let nothing = |what: String, place: Option<(Place, String)>| {
            Err(Silent::Nothing(Lacking { what, place }))
        };
        let Some((name, place)) = &context.instrument else {
            return nothing(
                format!("the instrument with which the {} was read", kind.name),
                None,
            );
        };
        let Some((_, instrument)) = self.instrument(context) else {
            return nothing(
                format!("{name} in the register"),
                Some((*place, format!("read with {name}"))),
            );
        };
        let entered = Some((instrument.place, format!("{name}: {}", instrument.title)));
        let Some(stated) = instrument
            .accuracy(kind)
            .filter(|_| instrument.measures_kind(kind))
        else {
            return nothing(
                format!("an accuracy of {name} for {} in the register", kind.name),
                entered,
            );
        };
        let range = instrument.range(kind).map(|range| &range.value);
        match stated.value.half_width(value, range) {
            Some(half_width) => Ok(part(name.clone(), stated, half_width)),
            None => Err(Silent::Unusable(Lacking {
                what: format!(
                    "the range of {name} for {}, of which its accuracy is a share",
                    kind.name
                ),
                place: Some((stated.place, format!("the accuracy of {name}"))),
            })),
        }
    }

    /// The expanded uncertainty of the instrument alone at a value, with its statement; nothing where it states
    /// no accuracy.
    pub fn of_instrument_alone(
        &self,
        kind: &QuantityKind,
        value: &Quantity,
        context: &'a Context,
    ) -> Option<Known> {
        let part = self.of_instrument(kind, value, context).ok()?;
        Some(Known::of_one(part))
    }
}

/// Why an instrument says nothing of a value.
enum Silent {
    /// There is no statement.
    Nothing(Lacking),
    /// There is one, and it comes to nothing.
    Unusable(Lacking),
}

fn part(name: Arc<str>, stated: &Stated<Accuracy>, half_width: Quantity) -> Part {
    Part {
        name,
        half_width,
        divisor: stated.value.divisor(),
        limits_of_error: stated.value.coverage.is_none(),
        place: stated.place,
    }
}

impl Explainer<'_> {
    /// A difference in the unit of the reading; of temperatures in K.
    pub fn difference(&self, difference: &Quantity, unit: Option<&Unit>) -> String {
        let unit = unit.filter(|unit| unit.offset.is_none());
        self.quantity(difference, unit)
    }

    /// An uncertainty as a finding shows it.
    pub fn uncertainty(&self, known: &Known, unit: Option<&Unit>) -> Uncertainty {
        let contributions = known.parts.iter().map(|part| {
            let half_width = self.difference(&part.half_width, unit);
            let standard = Quantity::si(part.standard(), part.half_width.dimension);
            let divisor = match part.limits_of_error {
                true => "√3".to_owned(),
                false => part.divisor.to_string(),
            };
            Contribution {
                name: part.name.to_string(),
                statement: self.flat(part.place),
                standard: format!(
                    "{half_width} / {divisor} = {}",
                    self.difference(&standard, unit)
                ),
                sensitivity: None,
                contribution: None,
                place: Some(part.place),
            }
        });
        Uncertainty {
            expanded: Some(self.difference(&known.expanded, unit)),
            acceptance: None,
            contributions: contributions.collect(),
        }
    }
}
