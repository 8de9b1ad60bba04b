//! The unit table: every unit with its factor to SI and where the factor comes from.

use super::dimension::Dimension;
use super::rational::Rational;

/// What a unit may be used for beyond its dimension.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Tag {
    /// Anything of its dimension.
    Plain,
    /// Active power only.
    ActivePower,
    /// Apparent power only.
    ApparentPower,
    /// Reactive power only.
    ReactivePower,
    /// Energy, not torque.
    Energy,
    /// A point on the temperature scale.
    TemperaturePoint,
    /// A logarithmic level.
    Level,
}

/// Which prefixes a unit takes.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub enum Prefixed {
    /// None.
    No,
    /// All SI prefixes.
    All,
}

/// One unit.
#[derive(Debug)]
pub struct UnitDefinition {
    /// The canonical symbol.
    pub symbol: &'static str,
    /// Other ways to write it.
    pub aliases: &'static [&'static str],
    /// Its name.
    pub name: &'static str,
    /// How many SI base units it is.
    pub factor: Rational,
    /// For a point on a scale: what zero on it is in kelvin.
    pub offset: Option<Rational>,
    /// Its dimension.
    pub dimension: Dimension,
    /// What it may be used for.
    pub tag: Tag,
    /// Which prefixes it takes.
    pub prefixed: Prefixed,
    /// Where the factor comes from.
    pub source: &'static str,
    /// A remark; may be empty.
    pub note: &'static str,
}

/// One SI prefix.
#[derive(Debug)]
pub struct Prefix {
    /// Its symbol.
    pub symbol: &'static str,
    /// Its name.
    pub name: &'static str,
    /// Power of ten.
    pub exponent: i32,
}

const BASE: &str = "SI Brochure, 9th ed. (2019), Table 2";
const DERIVED: &str = "SI Brochure, 9th ed. (2019), Table 4";
const ACCEPTED: &str = "SI Brochure, 9th ed. (2019), Table 8";
const SP811: &str = "NIST SP 811 (2008), Appendix B.8";
const DEFINITION: &str = "definition";

const fn whole(value: i64) -> Rational {
    Rational::whole(value)
}

const fn ratio(numerator: i128, denominator: i128) -> Rational {
    Rational::ratio(numerator, denominator)
}

#[allow(clippy::too_many_arguments, reason = "one row of a table")]
const fn row(
    symbol: &'static str,
    aliases: &'static [&'static str],
    name: &'static str,
    factor: Rational,
    dimension: [i16; 8],
    tag: Tag,
    prefixed: Prefixed,
    source: &'static str,
) -> UnitDefinition {
    UnitDefinition {
        symbol,
        aliases,
        name,
        factor,
        offset: None,
        dimension: Dimension::of_whole(dimension),
        tag,
        prefixed,
        source,
        note: "",
    }
}

const fn noted(definition: UnitDefinition, note: &'static str) -> UnitDefinition {
    UnitDefinition { note, ..definition }
}

const fn offset(definition: UnitDefinition, offset: Rational) -> UnitDefinition {
    UnitDefinition {
        offset: Some(offset),
        ..definition
    }
}

const D0: [i16; 8] = [0, 0, 0, 0, 0, 0, 0, 0];
const LENGTH: [i16; 8] = [1, 0, 0, 0, 0, 0, 0, 0];
const MASS: [i16; 8] = [0, 1, 0, 0, 0, 0, 0, 0];
const TIME: [i16; 8] = [0, 0, 1, 0, 0, 0, 0, 0];
const TEMPERATURE: [i16; 8] = [0, 0, 0, 0, 1, 0, 0, 0];
const FORCE: [i16; 8] = [1, 1, -2, 0, 0, 0, 0, 0];
const PRESSURE: [i16; 8] = [-1, 1, -2, 0, 0, 0, 0, 0];
const ENERGY: [i16; 8] = [2, 1, -2, 0, 0, 0, 0, 0];
const POWER: [i16; 8] = [2, 1, -3, 0, 0, 0, 0, 0];
const CHARGE: [i16; 8] = [0, 0, 1, 1, 0, 0, 0, 0];
const VOLTAGE: [i16; 8] = [2, 1, -3, -1, 0, 0, 0, 0];
const RESISTANCE: [i16; 8] = [2, 1, -3, -2, 0, 0, 0, 0];
const CONDUCTANCE: [i16; 8] = [-2, -1, 3, 2, 0, 0, 0, 0];
const CAPACITANCE: [i16; 8] = [-2, -1, 4, 2, 0, 0, 0, 0];
const FLUX: [i16; 8] = [2, 1, -2, -1, 0, 0, 0, 0];
const FLUX_DENSITY: [i16; 8] = [0, 1, -2, -1, 0, 0, 0, 0];
const INDUCTANCE: [i16; 8] = [2, 1, -2, -2, 0, 0, 0, 0];
const VOLUME: [i16; 8] = [3, 0, 0, 0, 0, 0, 0, 0];
const RATE: [i16; 8] = [0, 0, -1, 0, 0, 0, 0, 0];
const ACCELERATION: [i16; 8] = [1, 0, -2, 0, 0, 0, 0, 0];
const LEVEL: [i16; 8] = [0, 0, 0, 0, 0, 0, 0, 1];

use Prefixed::{All, No};
use Tag::*;

/// Pi to thirty places: the factor of the degree is irrational, and this is its stated approximation.
const DEGREE: Rational = ratio(
    3_141_592_653_589_793_238_462_643_383_280,
    180_000_000_000_000_000_000_000_000_000_000,
);

static UNITS: &[UnitDefinition] = &[
    // Base units.
    row("m", &[], "metre", whole(1), LENGTH, Plain, All, BASE),
    row("g", &[], "gram", ratio(1, 1000), MASS, Plain, All, BASE),
    row("s", &[], "second", whole(1), TIME, Plain, All, BASE),
    row(
        "A",
        &[],
        "ampere",
        whole(1),
        [0, 0, 0, 1, 0, 0, 0, 0],
        Plain,
        All,
        BASE,
    ),
    noted(
        row("K", &[], "kelvin", whole(1), TEMPERATURE, Plain, All, BASE),
        "A difference of temperature; a point on the scale is written in °C.",
    ),
    row(
        "mol",
        &[],
        "mole",
        whole(1),
        [0, 0, 0, 0, 0, 1, 0, 0],
        Plain,
        All,
        BASE,
    ),
    row(
        "cd",
        &[],
        "candela",
        whole(1),
        [0, 0, 0, 0, 0, 0, 1, 0],
        Plain,
        All,
        BASE,
    ),
    // Derived units with names of their own.
    row("rad", &[], "radian", whole(1), D0, Plain, All, DERIVED),
    row("sr", &[], "steradian", whole(1), D0, Plain, No, DERIVED),
    row("Hz", &[], "hertz", whole(1), RATE, Plain, All, DERIVED),
    row("N", &[], "newton", whole(1), FORCE, Plain, All, DERIVED),
    row("Pa", &[], "pascal", whole(1), PRESSURE, Plain, All, DERIVED),
    row("J", &[], "joule", whole(1), ENERGY, Energy, All, DERIVED),
    row("W", &[], "watt", whole(1), POWER, ActivePower, All, DERIVED),
    row("C", &[], "coulomb", whole(1), CHARGE, Plain, All, DERIVED),
    row("V", &[], "volt", whole(1), VOLTAGE, Plain, All, DERIVED),
    row(
        "F",
        &[],
        "farad",
        whole(1),
        CAPACITANCE,
        Plain,
        All,
        DERIVED,
    ),
    row(
        "ohm",
        &["Ω", "Ω"],
        "ohm",
        whole(1),
        RESISTANCE,
        Plain,
        All,
        DERIVED,
    ),
    row(
        "S",
        &[],
        "siemens",
        whole(1),
        CONDUCTANCE,
        Plain,
        All,
        DERIVED,
    ),
    row("Wb", &[], "weber", whole(1), FLUX, Plain, All, DERIVED),
    row(
        "T",
        &[],
        "tesla",
        whole(1),
        FLUX_DENSITY,
        Plain,
        All,
        DERIVED,
    ),
    row("H", &[], "henry", whole(1), INDUCTANCE, Plain, All, DERIVED),
    row(
        "lm",
        &[],
        "lumen",
        whole(1),
        [0, 0, 0, 0, 0, 0, 1, 0],
        Plain,
        All,
        DERIVED,
    ),
    row(
        "lx",
        &[],
        "lux",
        whole(1),
        [-2, 0, 0, 0, 0, 0, 1, 0],
        Plain,
        All,
        DERIVED,
    ),
    row("Bq", &[], "becquerel", whole(1), RATE, Plain, All, DERIVED),
    row(
        "Gy",
        &[],
        "gray",
        whole(1),
        [2, 0, -2, 0, 0, 0, 0, 0],
        Plain,
        All,
        DERIVED,
    ),
    row(
        "Sv",
        &[],
        "sievert",
        whole(1),
        [2, 0, -2, 0, 0, 0, 0, 0],
        Plain,
        All,
        DERIVED,
    ),
    row(
        "kat",
        &[],
        "katal",
        whole(1),
        [0, 0, -1, 0, 0, 1, 0, 0],
        Plain,
        All,
        DERIVED,
    ),
    offset(
        noted(
            row(
                "°C",
                &["degC", "℃"],
                "degree Celsius",
                whole(1),
                TEMPERATURE,
                TemperaturePoint,
                No,
                DERIVED,
            ),
            "A point on the scale; differences are written in K.",
        ),
        ratio(27315, 100),
    ),
    // Accepted for use with the SI.
    row("min", &[], "minute", whole(60), TIME, Plain, No, ACCEPTED),
    row("h", &[], "hour", whole(3600), TIME, Plain, No, ACCEPTED),
    row("d", &[], "day", whole(86_400), TIME, Plain, No, ACCEPTED),
    noted(
        row(
            "deg",
            &["°"],
            "degree of angle",
            DEGREE,
            D0,
            Plain,
            No,
            ACCEPTED,
        ),
        "Pi is taken to thirty places.",
    ),
    row(
        "l",
        &["L"],
        "litre",
        ratio(1, 1000),
        VOLUME,
        Plain,
        All,
        ACCEPTED,
    ),
    row("t", &[], "tonne", whole(1000), MASS, Plain, No, ACCEPTED),
    noted(
        row("dB", &[], "decibel", whole(1), LEVEL, Level, No, ACCEPTED),
        "A logarithmic level; it is kept apart from plain numbers.",
    ),
    noted(
        row(
            "dB(A)",
            &["dBA"],
            "decibel, A-weighted",
            whole(1),
            LEVEL,
            Level,
            No,
            "IEC 61672-1, A-weighting",
        ),
        "A-weighted sound level; the weighting is not converted.",
    ),
    // Of the trade.
    row(
        "VA",
        &[],
        "volt-ampere",
        whole(1),
        POWER,
        ApparentPower,
        All,
        "IEC 60027-1; 1 VA = 1 W by definition",
    ),
    row(
        "var",
        &[],
        "var",
        whole(1),
        POWER,
        ReactivePower,
        All,
        "IEC 60027-1; 1 var = 1 W by definition",
    ),
    row(
        "Wh",
        &[],
        "watt-hour",
        whole(3600),
        ENERGY,
        Energy,
        All,
        SP811,
    ),
    row(
        "Ah",
        &[],
        "ampere-hour",
        whole(3600),
        CHARGE,
        Plain,
        All,
        SP811,
    ),
    row(
        "bar",
        &[],
        "bar",
        whole(100_000),
        PRESSURE,
        Plain,
        All,
        SP811,
    ),
    row(
        "atm",
        &[],
        "standard atmosphere",
        whole(101_325),
        PRESSURE,
        Plain,
        No,
        SP811,
    ),
    noted(
        row(
            "mmHg",
            &[],
            "millimetre of mercury, conventional",
            ratio(133_322_387_415, 1_000_000_000),
            PRESSURE,
            Plain,
            No,
            SP811,
        ),
        "13.5951 times gn to the last place.",
    ),
    row(
        "torr",
        &["Torr"],
        "torr",
        ratio(101_325, 760),
        PRESSURE,
        Plain,
        All,
        SP811,
    ),
    noted(
        row(
            "psi",
            &[],
            "pound-force per square inch",
            ratio(8_896_443_230_521, 1_290_320_000),
            PRESSURE,
            Plain,
            No,
            SP811,
        ),
        "From the exact pound (0.453 592 37 kg), gn and the inch.",
    ),
    row(
        "kgf",
        &["kp"],
        "kilogram-force",
        ratio(980_665, 100_000),
        FORCE,
        Plain,
        No,
        SP811,
    ),
    row(
        "lbf",
        &[],
        "pound-force",
        ratio(8_896_443_230_521, 2_000_000_000_000),
        FORCE,
        Plain,
        No,
        SP811,
    ),
    row(
        "lb",
        &[],
        "pound",
        ratio(45_359_237, 100_000_000),
        MASS,
        Plain,
        No,
        SP811,
    ),
    row(
        "gn",
        &["g0"],
        "standard acceleration of free fall",
        ratio(980_665, 100_000),
        ACCELERATION,
        Plain,
        No,
        SP811,
    ),
    row(
        "in",
        &[],
        "inch",
        ratio(254, 10_000),
        LENGTH,
        Plain,
        No,
        SP811,
    ),
    row(
        "ft",
        &[],
        "foot",
        ratio(3048, 10_000),
        LENGTH,
        Plain,
        No,
        SP811,
    ),
    row(
        "mil",
        &[],
        "mil (0.001 inch)",
        ratio(254, 10_000_000),
        LENGTH,
        Plain,
        No,
        SP811,
    ),
    row(
        "gal",
        &[],
        "gallon (US)",
        ratio(3_785_411_784, 1_000_000_000_000),
        VOLUME,
        Plain,
        No,
        SP811,
    ),
    offset(
        row(
            "°F",
            &["degF", "℉"],
            "degree Fahrenheit",
            ratio(5, 9),
            TEMPERATURE,
            TemperaturePoint,
            No,
            SP811,
        ),
        ratio(45_967, 180),
    ),
    row(
        "rpm",
        &[],
        "revolution per minute",
        ratio(1, 60),
        RATE,
        Plain,
        No,
        SP811,
    ),
    row(
        "%",
        &["percent"],
        "per cent",
        ratio(1, 100),
        D0,
        Plain,
        No,
        DEFINITION,
    ),
    row(
        "‰",
        &[],
        "per mille",
        ratio(1, 1000),
        D0,
        Plain,
        No,
        DEFINITION,
    ),
    row(
        "ppm",
        &[],
        "part per million",
        ratio(1, 1_000_000),
        D0,
        Plain,
        No,
        DEFINITION,
    ),
    row(
        "ppb",
        &[],
        "part per 1000 million",
        ratio(1, 1_000_000_000),
        D0,
        Plain,
        No,
        DEFINITION,
    ),
    noted(
        row("pu", &[], "per unit", whole(1), D0, Plain, No, DEFINITION),
        "Referred to the rated value of the same quantity.",
    ),
];

static PREFIXES: &[Prefix] = &[
    Prefix {
        symbol: "Q",
        name: "quetta",
        exponent: 30,
    },
    Prefix {
        symbol: "R",
        name: "ronna",
        exponent: 27,
    },
    Prefix {
        symbol: "Y",
        name: "yotta",
        exponent: 24,
    },
    Prefix {
        symbol: "Z",
        name: "zetta",
        exponent: 21,
    },
    Prefix {
        symbol: "E",
        name: "exa",
        exponent: 18,
    },
    Prefix {
        symbol: "P",
        name: "peta",
        exponent: 15,
    },
    Prefix {
        symbol: "T",
        name: "tera",
        exponent: 12,
    },
    Prefix {
        symbol: "G",
        name: "giga",
        exponent: 9,
    },
    Prefix {
        symbol: "M",
        name: "mega",
        exponent: 6,
    },
    Prefix {
        symbol: "k",
        name: "kilo",
        exponent: 3,
    },
    Prefix {
        symbol: "h",
        name: "hecto",
        exponent: 2,
    },
    Prefix {
        symbol: "da",
        name: "deca",
        exponent: 1,
    },
    Prefix {
        symbol: "d",
        name: "deci",
        exponent: -1,
    },
    Prefix {
        symbol: "c",
        name: "centi",
        exponent: -2,
    },
    Prefix {
        symbol: "m",
        name: "milli",
        exponent: -3,
    },
    Prefix {
        symbol: "u",
        name: "micro",
        exponent: -6,
    },
    Prefix {
        symbol: "µ",
        name: "micro",
        exponent: -6,
    },
    Prefix {
        symbol: "μ",
        name: "micro",
        exponent: -6,
    },
    Prefix {
        symbol: "n",
        name: "nano",
        exponent: -9,
    },
    Prefix {
        symbol: "p",
        name: "pico",
        exponent: -12,
    },
    Prefix {
        symbol: "f",
        name: "femto",
        exponent: -15,
    },
    Prefix {
        symbol: "a",
        name: "atto",
        exponent: -18,
    },
    Prefix {
        symbol: "z",
        name: "zepto",
        exponent: -21,
    },
    Prefix {
        symbol: "y",
        name: "yocto",
        exponent: -24,
    },
    Prefix {
        symbol: "r",
        name: "ronto",
        exponent: -27,
    },
    Prefix {
        symbol: "q",
        name: "quecto",
        exponent: -30,
    },
];

/// All units.
pub fn unit_definitions() -> &'static [UnitDefinition] {
    UNITS
}

/// All SI prefixes (SI Brochure, 9th ed. with the 2022 additions, Table 7).
pub fn prefixes() -> &'static [Prefix] {
    PREFIXES
}
