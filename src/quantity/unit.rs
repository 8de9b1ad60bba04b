//! Unit expressions: `N/mm^2`, `mbar*l/s`, `dB(A)`.

use super::dimension::Dimension;
use super::rational::Rational;
use super::unit_table::{Prefix, Prefixed, Tag, UnitDefinition, prefixes, unit_definitions};
use rustc_hash::FxHashMap;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// Most units multiplied in one expression.
const MOST_FACTORS: usize = 16;
/// Largest exponent of a unit.
const LARGEST_EXPONENT: i32 = 12;

/// A unit ready for use.
#[derive(Clone, Debug)]
pub struct Unit {
    /// As written.
    pub symbol: Arc<str>,
    /// How many SI base units it is.
    pub factor: Rational,
    /// For a point on a scale: what zero on it is in kelvin.
    pub offset: Option<Rational>,
    /// Its dimension.
    pub dimension: Dimension,
    /// What it may be used for.
    pub tag: Tag,
}

/// Why a text is no unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum UnitFault {
    /// A part that is no known unit.
    Unknown {
        /// The part.
        part: String,
        /// Where it begins in the text (bytes).
        at: usize,
        /// The nearest known unit.
        nearest: Option<String>,
        /// The unit that it would be with other capitals.
        case_slip: Option<String>,
    },
    /// °C or °F inside a product, a quotient or a power.
    TemperatureInCompound {
        /// The unit.
        part: String,
    },
    /// An exponent that is missing, not whole or too large.
    Exponent {
        /// Where it stands (bytes).
        at: usize,
    },
    /// More units than are multiplied.
    TooComplex,
    /// Nothing.
    Empty,
}

fn index() -> &'static FxHashMap<&'static str, &'static UnitDefinition> {
    static INDEX: OnceLock<FxHashMap<&'static str, &'static UnitDefinition>> = OnceLock::new();
    INDEX.get_or_init(|| {
        let mut index = FxHashMap::default();
        for definition in unit_definitions() {
            index.insert(definition.symbol, definition);
            for alias in definition.aliases {
                index.insert(*alias, definition);
            }
        }
        index
    })
}

/// Finds a unit by its symbol, with a prefix if it has one.
pub fn find_unit_definition(
    symbol: &str,
) -> Option<(&'static UnitDefinition, Option<&'static Prefix>)> {
    let index = index();
    if let Some(definition) = index.get(symbol) {
        return Some((definition, None));
    }
    prefixes().iter().find_map(|prefix| {
        let rest = symbol.strip_prefix(prefix.symbol)?;
        let definition = index.get(rest)?;
        (definition.prefixed == Prefixed::All).then_some((*definition, Some(prefix)))
    })
}

/// Reads a unit expression.
pub fn parse_unit(text: &str) -> Result<Unit, UnitFault> {
    if text.is_empty() {
        return Err(UnitFault::Empty);
    }
    if let Some((definition, prefix)) = find_unit_definition(text) {
        let factor = scaled(definition.factor, prefix, 1).ok_or(UnitFault::TooComplex)?;
        return Ok(Unit {
            symbol: text.into(),
            factor,
            offset: definition.offset,
            dimension: definition.dimension,
            tag: definition.tag,
        });
    }
    compound(text)
}

fn scaled(factor: Rational, prefix: Option<&Prefix>, exponent: i32) -> Option<Rational> {
    let with_prefix = match prefix {
        Some(prefix) => factor.checked_mul(Rational::whole(10).checked_pow(prefix.exponent)?)?,
        None => factor,
    };
    with_prefix.checked_pow(exponent)
}

fn compound(text: &str) -> Result<Unit, UnitFault> {
    let mut factor = Rational::ONE;
    let mut dimension = Dimension::NONE;
    let mut tag = Tag::Plain;
    let mut count = 0;
    let mut at = 0;
    let mut divided = false;
    loop {
        let rest = &text[at..];
        let length = rest.find(['*', '·', '/', '^']).unwrap_or(rest.len());
        let (name, power) = split_superscript(&rest[..length]);
        let start = at;
        at += length;
        let mut exponent = power.unwrap_or(1);
        if text[at..].starts_with('^') {
            let digits = &text[at + 1..];
            let length = digits
                .char_indices()
                .find(|(index, character)| {
                    !(character.is_ascii_digit() || *index == 0 && *character == '-')
                })
                .map_or(digits.len(), |(index, _)| index);
            exponent = digits[..length]
                .parse()
                .map_err(|_| UnitFault::Exponent { at })?;
            at += 1 + length;
        }
        if exponent.abs() > LARGEST_EXPONENT || exponent == 0 {
            return Err(UnitFault::Exponent { at: start });
        }
        if divided {
            exponent = -exponent;
        }
        count += 1;
        if count > MOST_FACTORS {
            return Err(UnitFault::TooComplex);
        }
        if name != "1" {
            let (definition, prefix) =
                find_unit_definition(name).ok_or_else(|| unknown(name, start))?;
            if definition.offset.is_some() {
                return Err(UnitFault::TemperatureInCompound {
                    part: name.to_owned(),
                });
            }
            let part = scaled(definition.factor, prefix, exponent).ok_or(UnitFault::TooComplex)?;
            factor = factor.checked_mul(part).ok_or(UnitFault::TooComplex)?;
            dimension = dimension.mul(definition.dimension.powi(exponent));
            if definition.tag == Tag::Level {
                tag = Tag::Level;
            }
        }
        let Some(operator) = text[at..].chars().next() else {
            break;
        };
        match operator {
            '/' => divided = true,
            '*' | '·' => divided = false,
            _ => return Err(unknown(&text[at..], at)),
        }
        at += operator.len_utf8();
        if at >= text.len() {
            return Err(UnitFault::Empty);
        }
    }
    Ok(Unit {
        symbol: text.into(),
        factor: factor.reduced(),
        offset: None,
        dimension,
        tag,
    })
}

/// `mm²` as `mm` and 2.
fn split_superscript(name: &str) -> (&str, Option<i32>) {
    const DIGITS: &str = "⁰¹²³⁴⁵⁶⁷⁸⁹";
    let start = name.find(|character: char| character == '⁻' || DIGITS.contains(character));
    let Some(start) = start else {
        return (name, None);
    };
    let mut value = 0i32;
    let mut negative = false;
    for character in name[start..].chars() {
        match DIGITS.chars().position(|digit| digit == character) {
            Some(digit) => value = value.saturating_mul(10).saturating_add(digit as i32),
            None if character == '⁻' => negative = true,
            None => return (name, None),
        }
    }
    (&name[..start], Some(if negative { -value } else { value }))
}

/// Every symbol with the prefixes that are in common use.
fn candidates() -> &'static [(String, String, u64)] {
    static CANDIDATES: OnceLock<Vec<(String, String, u64)>> = OnceLock::new();
    CANDIDATES.get_or_init(|| {
        let mut all = Vec::new();
        for definition in unit_definitions() {
            for symbol in std::iter::once(&definition.symbol).chain(definition.aliases) {
                all.push((*symbol).to_owned());
                if definition.prefixed == Prefixed::All {
                    for prefix in prefixes()
                        .iter()
                        .filter(|prefix| prefix.exponent.abs() <= 12)
                    {
                        all.push(format!("{}{symbol}", prefix.symbol));
                    }
                }
            }
        }
        all.into_iter()
            .map(|name| {
                let (folded, letters) = (name.to_lowercase(), letters(&name));
                (name, folded, letters)
            })
            .collect()
    })
}

/// One bit for each character that stands in a text.
fn letters(text: &str) -> u64 {
    text.chars()
        .fold(0, |bits, character| bits | 1 << (u32::from(character) % 64))
}

/// What is near to an unknown unit: the nearest known one, and the one that it would be with other capitals.
type Near = (Option<String>, Option<String>);

fn unknown(part: &str, at: usize) -> UnitFault {
    /// How many different unknown units are remembered.
    const MOST: usize = 1024;
    static KNOWN: OnceLock<Mutex<FxHashMap<String, Near>>> = OnceLock::new();
    let shown: String = part.chars().take(60).collect();
    let known = KNOWN.get_or_init(Mutex::default);
    // A lock poisoned by a panic elsewhere still holds a usable map.
    let remembered = known
        .lock()
        .unwrap_or_else(PoisonError::into_inner)
        .get(&shown)
        .cloned();
    let (nearest, case_slip) = remembered.unwrap_or_else(|| {
        let near = near(&shown);
        let mut map = known.lock().unwrap_or_else(PoisonError::into_inner);
        if map.len() < MOST {
            map.insert(shown.clone(), near.clone());
        }
        near
    });
    UnitFault::Unknown {
        part: shown,
        at,
        nearest,
        case_slip,
    }
}

fn near(shown: &str) -> Near {
    if shown.len() > 16 {
        return (None, None);
    }
    let folded = shown.to_lowercase();
    let mut slips: Vec<&str> = Vec::new();
    let mut nearest: Option<(usize, &str)> = None;
    let own = letters(shown);
    for (candidate, candidate_folded, theirs) in candidates() {
        if *candidate_folded == folded && !slips.contains(&candidate.as_str()) {
            slips.push(candidate);
        }
        // One change brings in or takes out at most one letter: what differs in more is not compared.
        if (own & !theirs).count_ones() > 2 || (theirs & !own).count_ones() > 2 {
            continue;
        }
        let distance = strsim::damerau_levenshtein(shown, candidate);
        let near = distance <= 2 && distance < shown.chars().count();
        if near && nearest.is_none_or(|(best, _)| distance < best) {
            nearest = Some((distance, candidate));
        }
    }
    // `mw` may be meant as mW or as MW, a factor of 10^9 apart: only one answer is an answer.
    let case_slip = match slips.as_slice() {
        [one] => Some((*one).to_owned()),
        _ => None,
    };
    let nearest = match slips.as_slice() {
        [] | [_] => nearest.map(|(_, name)| name.to_owned()),
        several => Some(several.join("` or `")),
    };
    (nearest, case_slip)
}

/// All units, their aliases and some prefixed forms as JSON, for comparison with an outside library.
pub fn unit_table_json() -> String {
    let mut rows = Vec::new();
    for definition in unit_definitions() {
        let mut symbols = vec![definition.symbol.to_owned()];
        symbols.extend(definition.aliases.iter().map(|alias| (*alias).to_owned()));
        if definition.prefixed == Prefixed::All {
            symbols.extend(
                ["k", "m", "u", "M"]
                    .iter()
                    .map(|prefix| format!("{prefix}{}", definition.symbol)),
            );
        }
        for symbol in symbols {
            // Each is read back through the parser, so that the parser is compared too.
            let Ok(unit) = parse_unit(&symbol) else {
                continue;
            };
            let offset = unit.offset.unwrap_or(Rational::ZERO);
            let exponents: Vec<String> = unit
                .dimension
                .exponents()
                .iter()
                .map(|(up, down)| format!("[{up},{down}]"))
                .collect();
            rows.push(format!(
                "{{\"symbol\":\"{symbol}\",\"factor\":[\"{}\",\"{}\"],\"offset\":[\"{}\",\"{}\"],\"exponents\":[{}],\"tag\":\"{:?}\"}}",
                unit.factor.numerator(),
                unit.factor.denominator(),
                offset.numerator(),
                offset.denominator(),
                exponents.join(","),
                unit.tag
            ));
        }
    }
    format!("[\n{}\n]\n", rows.join(",\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn factor(text: &str) -> f64 {
        parse_unit(text)
            .unwrap_or_else(|fault| panic!("{text}: {fault:?}"))
            .factor
            .to_f64()
    }

    #[test]
    fn units_of_the_trade_are_read() {
        assert_eq!(factor("kV"), 1e3);
        assert_eq!(factor("N/mm^2"), 1e6);
        assert_eq!(factor("mm²"), 1e-6);
        assert_eq!(factor("mbar*l/s"), 0.1);
        assert_eq!(factor("min"), 60.0);
        assert_eq!(factor("mΩ"), 1e-3);
        assert_eq!(factor("µΩ"), 1e-6);
        assert_eq!(factor("ul/l"), 1e-6);
        assert_eq!(factor("mg/kg"), 1e-6);
        assert_eq!(factor("1/s"), 1.0);
        assert_eq!(
            parse_unit("g/h/t").unwrap().dimension,
            Dimension::TIME.powi(-1)
        );
        assert_eq!(parse_unit("dB(A)").unwrap().tag, Tag::Level);
        assert_eq!(parse_unit("MVA").unwrap().tag, Tag::ApparentPower);
    }

    #[test]
    fn psi_is_its_definition() {
        // 0.45359237 kg × 9.80665 m/s² over (0.0254 m)², all exact.
        let pound = Rational::ratio(45_359_237, 100_000_000);
        let force = pound
            .checked_mul(Rational::ratio(980_665, 100_000))
            .unwrap();
        let inch = Rational::ratio(254, 10_000);
        let psi = force.checked_div(inch.checked_mul(inch).unwrap()).unwrap();
        assert_eq!(parse_unit("psi").unwrap().factor, psi);
    }

    #[test]
    fn slips_are_told_from_unknown_units() {
        let Err(UnitFault::Unknown { case_slip, .. }) = parse_unit("kv") else {
            panic!("kv is no unit")
        };
        assert_eq!(case_slip.as_deref(), Some("kV"));
        let Err(UnitFault::Unknown { nearest, at, .. }) = parse_unit("N/mmm^2") else {
            panic!("no such unit")
        };
        assert_eq!((nearest.as_deref(), at), (Some("mm"), 2));
        assert!(matches!(
            parse_unit("W/°C"),
            Err(UnitFault::TemperatureInCompound { .. })
        ));
    }

    #[test]
    fn any_text_is_answered() {
        for text in [
            "",
            "/",
            "m/",
            "^2",
            "m^",
            "m^999999999999",
            "m^-",
            "(((",
            &"m*".repeat(100_000),
            &"x".repeat(1_000_000),
        ] {
            assert!(parse_unit(text).is_err());
        }
    }

    #[test]
    fn each_definition_is_found_and_has_a_source() {
        for definition in unit_definitions() {
            assert!(!definition.source.is_empty(), "{}", definition.symbol);
            let (found, prefix) = find_unit_definition(definition.symbol).unwrap();
            assert_eq!((found.symbol, prefix.is_none()), (definition.symbol, true));
        }
    }
}
