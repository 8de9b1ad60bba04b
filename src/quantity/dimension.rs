//! Dimensions: the seven of the SI as rational exponents, tracked at run time.

use std::fmt;

/// Exponents are held in twelfths, so that halves, thirds, quarters and sixths are exact.
const PART: i16 = 12;

/// A dimension: exponents of length, mass, time, current, temperature, amount and luminous intensity,
/// and a mark for logarithmic levels (dB), which mix with nothing else.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug, Default)]
pub struct Dimension([i16; 8]);

const BASE_SYMBOLS: [&str; 8] = ["m", "kg", "s", "A", "K", "mol", "cd", "dB"];

const fn of(exponents: [i16; 8]) -> Dimension {
    let mut twelfths = [0; 8];
    let mut index = 0;
    while index < 8 {
        twelfths[index] = exponents[index] * PART;
        index += 1;
    }
    Dimension(twelfths)
}

/// Dimensions with a name of their own; the first that fits is used in messages.
const NAMED: &[(Dimension, &str)] = &[
    (Dimension::LENGTH, "length"),
    (Dimension::MASS, "mass"),
    (Dimension::TIME, "time"),
    (Dimension::CURRENT, "current"),
    (Dimension::TEMPERATURE, "temperature difference"),
    (Dimension::AMOUNT, "amount of substance"),
    (Dimension::LUMINOUS, "luminous intensity"),
    (Dimension::LEVEL, "level"),
    (Dimension::VOLTAGE, "voltage"),
    (Dimension::RESISTANCE, "resistance"),
    (Dimension::POWER, "power"),
    (Dimension::PRESSURE, "pressure"),
    (Dimension::FORCE, "force"),
    (Dimension::ENERGY, "energy or torque"),
    (of([0, 0, -1, 0, 0, 0, 0, 0]), "frequency or rate"),
    (of([2, 0, 0, 0, 0, 0, 0, 0]), "area"),
    (of([3, 0, 0, 0, 0, 0, 0, 0]), "volume"),
    (of([1, 0, -1, 0, 0, 0, 0, 0]), "speed"),
    (of([1, 0, -2, 0, 0, 0, 0, 0]), "acceleration"),
    (of([3, 0, -1, 0, 0, 0, 0, 0]), "flow"),
    (of([-3, 1, 0, 0, 0, 0, 0, 0]), "density"),
    (of([0, 0, 1, 1, 0, 0, 0, 0]), "charge"),
    (of([-2, -1, 4, 2, 0, 0, 0, 0]), "capacitance"),
    (of([2, 1, -2, -2, 0, 0, 0, 0]), "inductance"),
    (of([-2, -1, 3, 2, 0, 0, 0, 0]), "conductance"),
    (of([0, 1, -2, -1, 0, 0, 0, 0]), "flux density"),
    (of([2, 1, -2, -1, 0, 0, 0, 0]), "magnetic flux"),
    (of([3, 1, -3, -2, 0, 0, 0, 0]), "resistivity"),
    (of([0, 1, -2, 0, 0, 0, 0, 0]), "surface tension"),
    (of([2, 0, -1, 0, 0, 0, 0, 0]), "kinematic viscosity"),
    (of([0, 1, -1, 0, 0, 0, 0, 0]), "mass flow"),
];

impl Dimension {
    /// A plain number.
    pub const NONE: Dimension = Dimension([0; 8]);
    /// Length.
    pub const LENGTH: Dimension = of([1, 0, 0, 0, 0, 0, 0, 0]);
    /// Mass.
    pub const MASS: Dimension = of([0, 1, 0, 0, 0, 0, 0, 0]);
    /// Time.
    pub const TIME: Dimension = of([0, 0, 1, 0, 0, 0, 0, 0]);
    /// Electric current.
    pub const CURRENT: Dimension = of([0, 0, 0, 1, 0, 0, 0, 0]);
    /// Thermodynamic temperature.
    pub const TEMPERATURE: Dimension = of([0, 0, 0, 0, 1, 0, 0, 0]);
    /// Amount of substance.
    pub const AMOUNT: Dimension = of([0, 0, 0, 0, 0, 1, 0, 0]);
    /// Luminous intensity.
    pub const LUMINOUS: Dimension = of([0, 0, 0, 0, 0, 0, 1, 0]);
    /// Logarithmic level; not a dimension of the SI, but kept apart like one.
    pub const LEVEL: Dimension = of([0, 0, 0, 0, 0, 0, 0, 1]);
    /// Voltage.
    pub const VOLTAGE: Dimension = of([2, 1, -3, -1, 0, 0, 0, 0]);
    /// Resistance and impedance.
    pub const RESISTANCE: Dimension = of([2, 1, -3, -2, 0, 0, 0, 0]);
    /// Power of every kind.
    pub const POWER: Dimension = of([2, 1, -3, 0, 0, 0, 0, 0]);
    /// Pressure and stress.
    pub const PRESSURE: Dimension = of([-1, 1, -2, 0, 0, 0, 0, 0]);
    /// Force.
    pub const FORCE: Dimension = of([1, 1, -2, 0, 0, 0, 0, 0]);
    /// Energy; torque has the same dimension.
    pub const ENERGY: Dimension = of([2, 1, -2, 0, 0, 0, 0, 0]);

    /// Whole exponents of the eight slots; for tables of constants.
    pub const fn of_whole(exponents: [i16; 8]) -> Dimension {
        of(exponents)
    }

    /// The n-th base dimension: length, mass, time, current, temperature, amount, luminous intensity.
    pub fn base(index: usize) -> Dimension {
        let mut exponents = [0; 8];
        if let Some(exponent) = exponents.get_mut(index) {
            *exponent = PART;
        }
        Dimension(exponents)
    }

    /// Of a product.
    #[allow(
        clippy::should_implement_trait,
        reason = "named as the operations of Number and Quantity are"
    )]
    pub fn mul(self, other: Dimension) -> Dimension {
        Dimension(std::array::from_fn(|index| {
            self.0[index].saturating_add(other.0[index])
        }))
    }

    /// Of a quotient.
    #[allow(
        clippy::should_implement_trait,
        reason = "named as the operations of Number and Quantity are"
    )]
    pub fn div(self, other: Dimension) -> Dimension {
        Dimension(std::array::from_fn(|index| {
            self.0[index].saturating_sub(other.0[index])
        }))
    }

    /// Of a whole power.
    pub fn powi(self, exponent: i32) -> Dimension {
        let exponent =
            i16::try_from(exponent).unwrap_or(if exponent < 0 { i16::MIN } else { i16::MAX });
        Dimension(self.0.map(|own| own.saturating_mul(exponent)))
    }

    /// Of a root; `None` when the exponents would be finer than twelfths.
    pub fn root(self, degree: i16) -> Option<Dimension> {
        let whole = degree > 0 && self.0.iter().all(|exponent| exponent % degree == 0);
        whole.then(|| Dimension(self.0.map(|exponent| exponent / degree)))
    }

    /// True for a plain number.
    pub fn is_none(self) -> bool {
        self == Dimension::NONE
    }

    /// The exponents of the seven SI dimensions as fractions.
    pub fn exponents(self) -> [(i16, i16); 7] {
        std::array::from_fn(|index| (self.0[index], PART))
    }

    /// Its name, where it has one.
    pub fn name(self) -> Option<&'static str> {
        NAMED
            .iter()
            .find(|(known, _)| *known == self)
            .map(|(_, name)| *name)
    }

    /// As a product of base units: `m²·kg·s⁻³·A⁻¹`.
    pub fn base_units(self) -> String {
        let mut parts = Vec::new();
        for (exponent, symbol) in self.0.iter().zip(BASE_SYMBOLS) {
            match exponent {
                0 => {}
                &PART => parts.push(symbol.to_owned()),
                other if other % PART == 0 => {
                    parts.push(format!("{symbol}{}", superscript(other / PART)))
                }
                other => {
                    let divisor = (1..=PART)
                        .rev()
                        .find(|d| other % d == 0 && PART % d == 0)
                        .unwrap_or(1);
                    parts.push(format!("{symbol}^({}/{})", other / divisor, PART / divisor));
                }
            }
        }
        parts.join("·")
    }
}

fn superscript(value: i16) -> String {
    value
        .to_string()
        .chars()
        .map(|digit| match digit {
            '-' => '⁻',
            '1' => '¹',
            '2' => '²',
            '3' => '³',
            other => char::from_u32(0x2070 + other.to_digit(10).unwrap_or(0)).unwrap_or(other),
        })
        .collect()
}

impl fmt::Display for Dimension {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_none() {
            return out.write_str("a plain number");
        }
        match self.name() {
            Some("level") => out.write_str("a level (dB)"),
            Some(name) => write!(out, "{name} ({})", self.base_units()),
            None => out.write_str(&self.base_units()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_and_powers_come_back() {
        let voltage = Dimension::VOLTAGE;
        assert_eq!(voltage.root(2).map(|root| root.powi(2)), Some(voltage));
        assert_eq!(voltage.div(Dimension::CURRENT), Dimension::RESISTANCE);
    }

    #[test]
    fn messages_name_the_dimension() {
        assert_eq!(Dimension::VOLTAGE.to_string(), "voltage (m²·kg·s⁻³·A⁻¹)");
        assert_eq!(
            Dimension::LENGTH.root(2).map(|root| root.to_string()),
            Some("m^(1/2)".to_owned())
        );
    }
}
