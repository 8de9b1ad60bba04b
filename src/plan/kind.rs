//! Kinds: what a reading, a condition, a design value or a log column may be.

use super::types::Type;
use crate::quantity::{Dimension, Quantity, Tag};
use std::sync::Arc;

/// A declared kind.
#[derive(Clone, Debug, PartialEq)]
pub enum Kind {
    /// A quantity with a dimension.
    Quantity(&'static QuantityKind),
    /// A whole number.
    Count,
    /// A range of whole numbers, `1 .. 17`.
    Positions,
    /// A date, or a date and a time.
    Moment,
    /// Free text.
    Text,
    /// `yes` or `no`.
    YesNo,
    /// One name of a list.
    Choice(Vec<Arc<str>>),
    /// A connection symbol such as YNd11.
    VectorGroup,
    /// Any name.
    Name,
    /// A list of names.
    Names,
}

/// A kind of quantity: its name, its dimension, and the units it takes beyond the dimension.
#[derive(Debug)]
pub struct QuantityKind {
    /// The kind's name in the language.
    pub name: &'static str,
    /// Its dimension.
    pub dimension: Dimension,
    /// True for a point on the temperature scale.
    pub point: bool,
    /// Units that mean another kind of the same dimension are refused.
    pub tags: &'static [Tag],
    /// A unit to suggest.
    pub example: &'static str,
}

impl PartialEq for QuantityKind {
    fn eq(&self, other: &QuantityKind) -> bool {
        self.name == other.name
    }
}

const PLAIN: &[Tag] = &[Tag::Plain];

macro_rules! kinds {
    ($($name:literal, $dimension:expr, $point:literal, $tags:expr, $example:literal;)*) => {
        /// Every kind of quantity, sorted by name.
        pub static QUANTITY_KINDS: &[QuantityKind] = &[
            $(QuantityKind { name: $name, dimension: $dimension, point: $point, tags: $tags, example: $example },)*
        ];
    };
}

/// A dimension by its exponents of length, mass, time, current, temperature, amount, luminous intensity.
const fn base(exponents: [i16; 7]) -> Dimension {
    let [length, mass, time, current, temperature, amount, luminous] = exponents;
    Dimension::of_whole([
        length,
        mass,
        time,
        current,
        temperature,
        amount,
        luminous,
        0,
    ])
}

kinds! {
    "acceleration", base([1, 0, -2, 0, 0, 0, 0]), false, PLAIN, "gn";
    "acidity", Dimension::NONE, false, PLAIN, "mg/g";
    "angle", Dimension::NONE, false, PLAIN, "deg";
    "apparent-power", base([2, 1, -3, 0, 0, 0, 0]), false, &[Tag::ApparentPower], "MVA";
    "area", base([2, 0, 0, 0, 0, 0, 0]), false, PLAIN, "mm^2";
    "attenuation", Dimension::LEVEL, false, &[Tag::Level], "dB";
    "capacitance", base([-2, -1, 4, 2, 0, 0, 0]), false, PLAIN, "pF";
    "charge", base([0, 0, 1, 1, 0, 0, 0]), false, PLAIN, "pC";
    "concentration", Dimension::NONE, false, PLAIN, "ul/l";
    "conductance", base([-2, -1, 3, 2, 0, 0, 0]), false, PLAIN, "S";
    "current", base([0, 0, 0, 1, 0, 0, 0]), false, PLAIN, "A";
    "density", base([-3, 1, 0, 0, 0, 0, 0]), false, PLAIN, "kg/m^3";
    "drying-rate", base([0, 0, -1, 0, 0, 0, 0]), false, PLAIN, "g/h/t";
    "duration", base([0, 0, 1, 0, 0, 0, 0]), false, PLAIN, "h";
    "energy", base([2, 1, -2, 0, 0, 0, 0]), false, &[Tag::Energy, Tag::Plain], "kWh";
    "flow", base([3, 0, -1, 0, 0, 0, 0]), false, PLAIN, "l/h";
    "flux-density", base([0, 1, -2, -1, 0, 0, 0]), false, PLAIN, "T";
    "force", base([1, 1, -2, 0, 0, 0, 0]), false, PLAIN, "kN";
    "frequency", base([0, 0, -1, 0, 0, 0, 0]), false, PLAIN, "Hz";
    "humidity", Dimension::NONE, false, PLAIN, "%";
    "impedance", base([2, 1, -3, -2, 0, 0, 0]), false, PLAIN, "ohm";
    "impedance-voltage", Dimension::NONE, false, PLAIN, "%";
    "inductance", base([2, 1, -2, -2, 0, 0, 0]), false, PLAIN, "mH";
    "leak-rate", base([2, 1, -3, 0, 0, 0, 0]), false, PLAIN, "mbar*l/s";
    "length", base([1, 0, 0, 0, 0, 0, 0]), false, PLAIN, "mm";
    "magnetic-field", base([-1, 0, 0, 1, 0, 0, 0]), false, PLAIN, "A/m";
    "magnetic-flux", base([2, 1, -2, -1, 0, 0, 0]), false, PLAIN, "Wb";
    "mass", base([0, 1, 0, 0, 0, 0, 0]), false, PLAIN, "kg";
    "mass-flow", base([0, 1, -1, 0, 0, 0, 0]), false, PLAIN, "kg/h";
    "moisture", Dimension::NONE, false, PLAIN, "%";
    "number", Dimension::NONE, false, PLAIN, "";
    "power", base([2, 1, -3, 0, 0, 0, 0]), false, &[Tag::ActivePower], "kW";
    "pressure", base([-1, 1, -2, 0, 0, 0, 0]), false, PLAIN, "mbar";
    "ratio", Dimension::NONE, false, PLAIN, "%";
    "reactive-power", base([2, 1, -3, 0, 0, 0, 0]), false, &[Tag::ReactivePower], "kvar";
    "resistance", base([2, 1, -3, -2, 0, 0, 0]), false, PLAIN, "mohm";
    "resistivity", base([3, 1, -3, -2, 0, 0, 0]), false, PLAIN, "ohm*m";
    "sound-level", Dimension::LEVEL, false, &[Tag::Level], "dB(A)";
    "speed", base([1, 0, -1, 0, 0, 0, 0]), false, PLAIN, "mm/min";
    "surface-tension", base([0, 1, -2, 0, 0, 0, 0]), false, PLAIN, "mN/m";
    "temperature", base([0, 0, 0, 0, 1, 0, 0]), true, &[Tag::TemperaturePoint], "°C";
    "temperature-rise", base([0, 0, 0, 0, 1, 0, 0]), false, PLAIN, "K";
    "time", base([0, 0, 1, 0, 0, 0, 0]), false, PLAIN, "min";
    "torque", base([2, 1, -2, 0, 0, 0, 0]), false, PLAIN, "N*m";
    "viscosity", base([2, 0, -1, 0, 0, 0, 0]), false, PLAIN, "mm^2/s";
    "voltage", base([2, 1, -3, -1, 0, 0, 0]), false, PLAIN, "kV";
    "volume", base([3, 0, 0, 0, 0, 0, 0]), false, PLAIN, "m^3";
}

/// Kinds that are no quantity.
pub const OTHER_KINDS: &[&str] = &[
    "choice",
    "count",
    "moment",
    "name",
    "names",
    "positions",
    "text",
    "vector-group",
    "yes-no",
];

impl Kind {
    /// Finds a kind by its name; `choices` go with `choice`. `None` when there is no such kind.
    pub fn find(name: &str, choices: Vec<Arc<str>>) -> Option<Kind> {
        Some(match name {
            "count" => Kind::Count,
            "positions" => Kind::Positions,
            "moment" => Kind::Moment,
            "text" => Kind::Text,
            "yes-no" => Kind::YesNo,
            "choice" => Kind::Choice(choices),
            "vector-group" => Kind::VectorGroup,
            "name" => Kind::Name,
            "names" => Kind::Names,
            _ => Kind::Quantity(quantity_kind(name)?),
        })
    }

    /// The kind's name.
    pub fn name(&self) -> &'static str {
        match self {
            Kind::Quantity(kind) => kind.name,
            Kind::Count => "count",
            Kind::Positions => "positions",
            Kind::Moment => "moment",
            Kind::Text => "text",
            Kind::YesNo => "yes-no",
            Kind::Choice(_) => "choice",
            Kind::VectorGroup => "vector-group",
            Kind::Name => "name",
            Kind::Names => "names",
        }
    }

    /// True for a quantity of this kind's dimension that is a point on a scale, or a difference, as it is.
    pub fn fits(&self, quantity: &Quantity) -> bool {
        matches!(self, Kind::Quantity(kind)
            if kind.dimension == quantity.dimension && kind.point == quantity.point)
    }

    /// The type of its values in an expression.
    pub fn value_type(&self) -> Type {
        match self {
            Kind::Quantity(kind) => Type::Quantity {
                dimension: kind.dimension,
                point: kind.point,
            },
            Kind::Count => Type::Quantity {
                dimension: Dimension::NONE,
                point: false,
            },
            Kind::Positions => Type::Interval {
                dimension: Dimension::NONE,
                point: false,
            },
            Kind::Moment => Type::Moment,
            Kind::Text => Type::Text,
            Kind::YesNo => Type::Truth,
            Kind::Choice(_) | Kind::VectorGroup | Kind::Name => Type::Name,
            Kind::Names => Type::Names,
        }
    }
}

/// Finds a kind of quantity by its name.
pub fn quantity_kind(name: &str) -> Option<&'static QuantityKind> {
    QUANTITY_KINDS
        .binary_search_by(|kind| kind.name.cmp(name))
        .ok()
        .map(|index| &QUANTITY_KINDS[index])
}

/// The name of a kind behind its article: `a length`, `an apparent-power`.
pub fn with_article(name: &str) -> String {
    let article = if name.starts_with(['a', 'e', 'i', 'o']) {
        "an"
    } else {
        "a"
    };
    format!("{article} {name}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn kinds_are_sorted_so_that_the_search_finds_each() {
        for kind in QUANTITY_KINDS {
            assert_eq!(
                quantity_kind(kind.name).map(|found| found.name),
                Some(kind.name)
            );
        }
    }

    #[test]
    fn a_kind_has_the_article_that_is_spoken() {
        assert_eq!(with_article("apparent-power"), "an apparent-power");
        assert_eq!(with_article("length"), "a length");
    }

    #[test]
    fn each_example_unit_fits_its_kind() {
        for kind in QUANTITY_KINDS
            .iter()
            .filter(|kind| !kind.example.is_empty())
        {
            let unit =
                crate::quantity::parse_unit(kind.example).map_err(|fault| format!("{fault:?}"));
            let unit = unit.unwrap_or_else(|fault| panic!("{}: {fault}", kind.name));
            assert_eq!(unit.dimension, kind.dimension, "{}", kind.name);
            assert!(
                kind.tags.contains(&unit.tag),
                "{}: {:?}",
                kind.name,
                unit.tag
            );
        }
    }
}
