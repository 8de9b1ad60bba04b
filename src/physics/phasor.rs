//! Vector groups: their letters and clock numbers, and the test with one terminal of each side joined.

use super::{Domain, positive, within};
use std::f64::consts::PI;
use std::fmt;

/// How the phase windings of one winding are connected.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Connection {
    /// `Y`, `y`.
    Star,
    /// `D`, `d`.
    Delta,
    /// `Z`, `z`.
    Zigzag,
    /// `a`: shares its turns with the winding of highest voltage.
    Auto,
    /// `I`, `i`: single-phase.
    Single,
}

/// One winding of a vector group.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Winding {
    /// How its phases are connected.
    pub connection: Connection,
    /// The neutral is brought out (`N`, `n`).
    pub neutral: bool,
    /// Lag behind the winding of highest voltage in steps of 30°; none for a stabilising winding (`+d`) and
    /// for the winding of highest voltage itself.
    pub clock: Option<u8>,
}

/// A vector group: the winding of highest voltage and the others in the order written.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct Group {
    /// The winding of highest voltage.
    pub higher: Winding,
    /// The other windings.
    pub lower: Vec<Winding>,
}

impl Group {
    /// The clock number of the first pair: by how many steps of 30° the first lower winding lags. `None` for
    /// an earthing transformer (`ZN`) without a lower winding.
    ///
    /// Source: from memory, IEC 60076-1 clause 7. Example: `YNd11` gives 11, `YNyn0d11` gives 0.
    pub fn clock(&self) -> Option<u8> {
        self.lower.first().and_then(|w| w.clock)
    }

    /// The clock number between two windings, 0 the winding of highest voltage, 1 the first lower one and so
    /// on.
    ///
    /// Source: physics (difference of two lags). Example: `YNyn0d11` from winding 1 to winding 2 gives 11.
    pub fn clock_between(&self, from: usize, to: usize) -> Option<u8> {
        let lag = |i: usize| {
            if i == 0 {
                Some(0)
            } else {
                self.lower.get(i - 1).and_then(|w| w.clock)
            }
        };
        Some((lag(to)? + 12 - lag(from)?) % 12)
    }

    /// The winding numbered as in [`Group::clock_between`].
    pub fn winding(&self, number: usize) -> Option<&Winding> {
        if number == 0 {
            Some(&self.higher)
        } else {
            self.lower.get(number - 1)
        }
    }
}

impl fmt::Display for Group {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let letter = |c: Connection| match c {
            Connection::Star => "y",
            Connection::Delta => "d",
            Connection::Zigzag => "z",
            Connection::Auto => "a",
            Connection::Single => "i",
        };
        f.write_str(&letter(self.higher.connection).to_uppercase())?;
        f.write_str(if self.higher.neutral { "N" } else { "" })?;
        for w in &self.lower {
            if w.clock.is_none() {
                f.write_str("+")?;
            }
            f.write_str(letter(w.connection))?;
            f.write_str(if w.neutral { "n" } else { "" })?;
            if let Some(n) = w.clock {
                write!(f, "{n}")?;
            }
        }
        Ok(())
    }
}

/// Reads a vector group such as `YNd11`, `Dyn5`, `YNyn0d11`, `YNa0d11`, `YNyn0+d`, `Ii0` or `ZN`.
///
/// The result is the group; the error says in a short sentence what is wrong: a letter that is none, a
/// missing clock number, a number above 11, or a number whose parity the two connections can't give (even for
/// like connections, odd for a wye with a delta or zigzag; 0 or 6 for single-phase; 0 for an
/// auto-connection).
///
/// Source: from memory, IEC 60076-1 clause 7; parity: physics. Example: `Yd6` is refused, `Dz0` is read.
pub fn parse_group(text: &str) -> Result<Group, String> {
    let mut rest = text.trim();
    let (connection, neutral) = match_letters(&mut rest, true)
        .ok_or_else(|| format!("`{text}` doesn't start with Y, YN, D, Z, ZN or I"))?;
    let higher = Winding {
        connection,
        neutral,
        clock: None,
    };
    let mut lower = Vec::new();
    while !rest.is_empty() {
        let stabilising = rest.strip_prefix('+').map(|after| rest = after).is_some();
        let (connection, neutral) = match_letters(&mut rest, false).ok_or_else(|| {
            format!("`{rest}` in `{text}` doesn't start with y, yn, d, z, zn, a or i")
        })?;
        let digits = rest.len() - rest.trim_start_matches(|c: char| c.is_ascii_digit()).len();
        let (number, after) = rest.split_at(digits);
        rest = after;
        let clock = if number.is_empty() && stabilising {
            None
        } else if number.is_empty() {
            return Err(format!("`{text}` has a winding without a clock number"));
        } else {
            match number.parse::<u8>() {
                Ok(n) if n <= 11 && n.to_string() == number => Some(n),
                _ => {
                    return Err(format!(
                        "clock number {number} in `{text}` isn't one of 0 to 11"
                    ));
                }
            }
        };
        if let Some(n) = clock {
            parity(higher.connection, connection, n).map_err(|why| format!("`{text}`: {why}"))?;
        } else if (connection == Connection::Single) != (higher.connection == Connection::Single) {
            return Err(format!(
                "`{text}`: a single-phase and a three-phase winding can't form a group"
            ));
        }
        lower.push(Winding {
            connection,
            neutral,
            clock,
        });
    }
    if lower.is_empty() && higher.connection != Connection::Zigzag {
        return Err(format!("`{text}` names no lower winding"));
    }
    Ok(Group { higher, lower })
}

/// Takes the connection letters at the start of `rest`.
fn match_letters(rest: &mut &str, capital: bool) -> Option<(Connection, bool)> {
    let first = rest.chars().next()?;
    let connection = match (first, capital) {
        ('Y', true) | ('y', false) => Connection::Star,
        ('D', true) | ('d', false) => Connection::Delta,
        ('Z', true) | ('z', false) => Connection::Zigzag,
        ('I', true) | ('i', false) => Connection::Single,
        ('a', false) => Connection::Auto,
        _ => return None,
    };
    *rest = &rest[1..];
    let may_have = matches!(
        connection,
        Connection::Star | Connection::Zigzag | Connection::Auto
    );
    let after = rest
        .strip_prefix(if capital { 'N' } else { 'n' })
        .filter(|_| may_have);
    *rest = after.unwrap_or(rest);
    Some((connection, after.is_some()))
}

/// Whether two connections can give clock number `n`; the error says which numbers they can give.
fn parity(higher: Connection, lower: Connection, n: u8) -> Result<(), &'static str> {
    use Connection::*;
    match (higher, lower) {
        (Star | Single, Auto) if n != 0 => {
            Err("an auto-connected winding is in phase, its clock number is 0")
        }
        (Star | Single, Auto) => Ok(()),
        (_, Auto) => Err("an auto-connected winding goes with Y, YN or I"),
        (Single, Single) if n != 0 && n != 6 => {
            Err("a single-phase winding has clock number 0 or 6")
        }
        (Single, Single) => Ok(()),
        (Single, _) | (_, Single) => {
            Err("a single-phase and a three-phase winding can't form a group")
        }
        _ => match ((higher == Star) == (lower == Star), n % 2) {
            (true, 1) => Err("like connections give an even clock number"),
            (false, 0) => Err("a wye with a delta or zigzag gives an odd clock number"),
            _ => Ok(()),
        },
    }
}

/// Whether the text is a vector group that can be built. See [`parse_group`] for the rules and the source.
///
/// Example: `Dyn11` can, `Dy0` can't.
pub fn possible_group(text: &str) -> bool {
    parse_group(text).is_ok()
}

/// One terminal of the joined-terminals test: side and phase.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
struct Terminal {
    /// On the higher side.
    higher: bool,
    /// 0 for A, 1 for B, 2 for C.
    phase: u8,
}

impl Terminal {
    /// `A`, `B`, `C` of the higher side, `a`, `b`, `c` of the lower one.
    fn parse(letter: char) -> Option<Self> {
        let higher = letter.is_ascii_uppercase();
        let phase = match letter.to_ascii_uppercase() {
            'A' => 0,
            'B' => 1,
            'C' => 2,
            _ => return None,
        };
        Some(Self { higher, phase })
    }

    /// Where the terminal stands in the plane (V) while A and a are at zero; `turn`: lag of the lower side in rad.
    fn position(self, upper: f64, lower: f64, turn: f64) -> (f64, f64) {
        let (line, turn) = if self.higher {
            (upper, 0.0)
        } else {
            (lower, turn)
        };
        let at = |phase: u8| {
            let angle = -2.0 * PI / 3.0 * f64::from(phase) - turn;
            let length = line / 3.0_f64.sqrt();
            (length * angle.cos(), length * angle.sin())
        };
        let (own, joined) = (at(self.phase), at(0));
        (own.0 - joined.0, own.1 - joined.1)
    }
}

/// The pair of terminals between which a voltage is read while A and a are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct TerminalPair(Terminal, Terminal);

impl TerminalPair {
    /// B of the higher side to b of the lower side.
    pub const BB: Self = Self::crossed(1, 1);
    /// C to c.
    pub const CC: Self = Self::crossed(2, 2);
    /// B to c.
    pub const BC: Self = Self::crossed(1, 2);
    /// C to b.
    pub const CB: Self = Self::crossed(2, 1);

    const fn crossed(upper: u8, lower: u8) -> Self {
        Self(
            Terminal {
                higher: true,
                phase: upper,
            },
            Terminal {
                higher: false,
                phase: lower,
            },
        )
    }

    /// Reads two letters, capital for the higher side: `Bb`, `Cb`, `AB`, `bc`; `None` for anything else.
    pub fn parse(text: &str) -> Option<Self> {
        let mut letters = text.chars().map(Terminal::parse);
        let pair = Self(letters.next()??, letters.next()??);
        letters.next().is_none().then_some(pair)
    }
}

/// The voltage (V) expected between two terminals when A and a are joined, neutrals floating.
///
/// `clock` 0 to 11; `supply`: balanced line voltage on the higher side in V; `line_ratio`: line voltage of
/// the higher side over that of the lower at this tapping. Errors: clock above 11, supply or ratio not above
/// zero.
///
/// Source: physics; the method is common test-floor practice. Example: 400 V on 110/21 kV, clock 11:
/// Bb = Bc = 336.04 V, Cb = 407.22 V.
pub fn joined_voltage(
    clock: u8,
    supply: f64,
    line_ratio: f64,
    pair: TerminalPair,
) -> Result<f64, Domain> {
    if clock > 11 {
        return Err(Domain("the clock number must be 0 to 11"));
    }
    let upper = positive(supply, "the supply voltage must be above zero")?;
    let lower = upper / positive(line_ratio, "the voltage ratio must be above zero")?;
    let turn = f64::from(clock) * PI / 6.0;
    let from = pair.0.position(upper, lower, turn);
    let to = pair.1.position(upper, lower, turn);
    Ok((from.0 - to.0).hypot(from.1 - to.1))
}

/// The four voltages (V) read in the test with A and a joined.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct JoinedReadings {
    /// B to b, V.
    pub bb: f64,
    /// C to c, V.
    pub cc: f64,
    /// B to c, V.
    pub bc: f64,
    /// C to b, V.
    pub cb: f64,
}

/// The clock numbers whose four expected voltages all lie within `tolerance` (V) of the readings.
///
/// `supply` in V, `line_ratio` as for [`joined_voltage`]. An empty list means that no clock number fits: the
/// phase sequence of one side is then often reversed (see [`sequence_reversed`]). Errors as
/// [`joined_voltage`], and a negative tolerance.
///
/// Source: physics. Example: Bb = Cc = 336.0, Bc = 336.0, Cb = 407.2 V at 400 V on 110/21 kV with 2 V gives
/// 11 alone.
pub fn fitting_clocks(
    supply: f64,
    line_ratio: f64,
    readings: JoinedReadings,
    tolerance: f64,
) -> Result<Vec<u8>, Domain> {
    within(
        tolerance,
        0.0,
        f64::MAX,
        "the tolerance must not be negative",
    )?;
    let mut fitting = Vec::new();
    for clock in 0..12 {
        let mut all = true;
        let JoinedReadings { bb, cc, bc, cb } = readings;
        for (pair, read) in [
            (TerminalPair::BB, bb),
            (TerminalPair::CC, cc),
            (TerminalPair::BC, bc),
            (TerminalPair::CB, cb),
        ] {
            all &= (joined_voltage(clock, supply, line_ratio, pair)? - read).abs() <= tolerance;
        }
        if all {
            fitting.push(clock);
        }
    }
    Ok(fitting)
}

/// The clock number recovered from the readings, as a number that need not be whole: the distance to the
/// nearest whole number tells how well the readings fit (0.2 is the usual bound).
///
/// `supply` in V, `line_ratio` as for [`joined_voltage`]; result from −0.5 to below 11.5. Errors as there,
/// and readings that fix no angle (all voltages equal).
///
/// Source: physics. Example: 336.0, 336.0, 407.2 V at 400 V on 110/21 kV gives 11.00.
pub fn recovered_clock(
    supply: f64,
    line_ratio: f64,
    bb: f64,
    bc: f64,
    cb: f64,
) -> Result<f64, Domain> {
    let upper = positive(supply, "the supply voltage must be above zero")?;
    let lower = upper / positive(line_ratio, "the voltage ratio must be above zero")?;
    let cosine = (upper * upper + lower * lower - bb * bb) / (2.0 * upper * lower);
    let sine = (bc * bc - cb * cb) / (2.0 * 3.0_f64.sqrt() * upper * lower);
    within(
        cosine.hypot(sine),
        0.1,
        f64::MAX,
        "the voltages fix no phase displacement",
    )?;
    let clock = (sine.atan2(cosine) * 6.0 / PI).rem_euclid(12.0);
    Ok(if clock >= 11.5 { clock - 12.0 } else { clock })
}

/// Whether Bb and Cc differ by more than `tolerance` (V): the phase sequence of one side is reversed, two of
/// its leads are crossed.
///
/// Source: physics. Example: 336.04 and 407.22 V with 2 V: yes.
pub fn sequence_reversed(bb: f64, cc: f64, tolerance: f64) -> bool {
    (bb - cc).abs() > tolerance
}

/// The voltage (V) between the free terminals of a single-phase unit whose first terminals are joined: the
/// difference for clock 0, the sum for clock 6.
///
/// `higher` and `lower`: winding voltages in V. Errors: a clock other than 0 or 6.
///
/// Source: physics. Example: 400 V and 76.364 V: 323.636 V for Ii0, 476.364 V for Ii6.
pub fn joined_voltage_single_phase(clock: u8, higher: f64, lower: f64) -> Result<f64, Domain> {
    match clock {
        0 => Ok((higher - lower).abs()),
        6 => Ok(higher + lower),
        _ => Err(Domain("a single-phase clock number is 0 or 6")),
    }
}

/// The voltage (V) across the open corner of three coils in series, `reversed` of which are turned round.
///
/// `coil`: voltage of one coil in V. Nearly zero when all coils run the same way, twice the coil voltage
/// otherwise: closing that corner is a short-circuit. Errors: more than three coils.
///
/// Source: physics. Example: coils of 100 V, one reversed: 200 V.
pub fn open_corner_voltage(coil: f64, reversed: u8) -> Result<f64, Domain> {
    match reversed {
        0 | 3 => Ok(0.0),
        1 | 2 => Ok(2.0 * coil.abs()),
        _ => Err(Domain("a delta has three coils")),
    }
}

#[cfg(test)]
mod tests {
    use super::super::near;
    use super::*;

    #[test]
    fn groups_are_read_and_shown() {
        for text in [
            "YNd11", "Dyn5", "YNyn0d11", "YNa0d11", "Ii0", "Dd0", "Yzn11", "Dz0", "ZN", "YNyn0+d",
            "Ia0",
        ] {
            assert_eq!(parse_group(text).unwrap().to_string(), text);
        }
        let group = parse_group("YNyn0d11").unwrap();
        assert_eq!(group.clock(), Some(0));
        assert_eq!(
            (group.clock_between(0, 2), group.clock_between(1, 2)),
            (Some(11), Some(11))
        );
        assert!(group.lower[0].neutral && group.higher.neutral && !group.lower[1].neutral);
        assert_eq!(parse_group("ZN").unwrap().clock(), None);
    }

    #[test]
    fn impossible_groups_are_refused() {
        for text in [
            "Yy11", "Dd5", "Dy0", "Yd6", "Dz11", "Yz0", "Ii3", "YNa6", "Da0", "Yi0", "Yy12", "Yy",
            "yd1", "D", "", "Xy0", "Dn11", "Yä0", "YNyn0+i", "Yy999", "Yy00",
        ] {
            assert!(!possible_group(text), "{text}");
        }
    }

    #[test]
    fn joined_voltages_match_the_worked_table() {
        let table = [
            (323.64, 367.81, 367.81),
            (336.04, 407.22, 336.04),
            (367.81, 443.14, 323.64),
            (407.22, 467.69, 336.04),
            (443.14, 476.36, 367.81),
            (467.69, 467.69, 407.22),
            (476.36, 443.14, 443.14),
            (467.69, 407.22, 467.69),
            (443.14, 367.81, 476.36),
            (407.22, 336.04, 467.69),
            (367.81, 323.64, 443.14),
            (336.04, 336.04, 407.22),
        ];
        let ratio = 110.0 / 21.0;
        for (clock, (bb, bc, cb)) in (0_u8..).zip(table) {
            near(
                joined_voltage(clock, 400.0, ratio, TerminalPair::BB).unwrap(),
                bb,
                0.005,
            );
            near(
                joined_voltage(clock, 400.0, ratio, TerminalPair::CC).unwrap(),
                bb,
                0.005,
            );
            near(
                joined_voltage(clock, 400.0, ratio, TerminalPair::BC).unwrap(),
                bc,
                0.005,
            );
            near(
                joined_voltage(clock, 400.0, ratio, TerminalPair::CB).unwrap(),
                cb,
                0.005,
            );
            let readings = JoinedReadings { bb, cc: bb, bc, cb };
            assert_eq!(
                fitting_clocks(400.0, ratio, readings, 2.0).unwrap(),
                vec![clock]
            );
            near(
                recovered_clock(400.0, ratio, bb, bc, cb).unwrap(),
                f64::from(clock),
                0.01,
            );
        }
    }

    #[test]
    fn crossed_leads_fit_no_clock_number() {
        let readings = JoinedReadings {
            bb: 336.04,
            cc: 407.22,
            bc: 336.04,
            cb: 336.04,
        };
        assert!(
            fitting_clocks(400.0, 110.0 / 21.0, readings, 2.0)
                .unwrap()
                .is_empty()
        );
        assert!(sequence_reversed(readings.bb, readings.cc, 2.0));
        assert!(joined_voltage(12, 400.0, 5.0, TerminalPair::BB).is_err());
        assert!(joined_voltage(1, 400.0, 0.0, TerminalPair::BB).is_err());
        assert_eq!(TerminalPair::parse("Cb"), Some(TerminalPair::CB));
        for text in ["Xb", "B", "Bbb", ""] {
            assert_eq!(TerminalPair::parse(text), None, "{text}");
        }
    }

    #[test]
    fn every_pair_of_terminals_has_its_voltage() {
        let ratio = 110.0 / 21.0;
        let between =
            |pair| joined_voltage(11, 400.0, ratio, TerminalPair::parse(pair).unwrap()).unwrap();
        let lower = 400.0 / ratio;
        for (pair, volts) in [
            ("AB", 400.0),
            ("CA", 400.0),
            ("bc", lower),
            // A and a are one point.
            ("Aa", 0.0),
            ("Ab", lower),
            ("cA", lower),
            ("aB", 400.0),
            ("bC", 407.22),
        ] {
            near(between(pair), volts, 0.005);
        }
    }

    #[test]
    fn single_phase_and_open_corner() {
        near(
            joined_voltage_single_phase(0, 400.0, 76.364).unwrap(),
            323.636,
            1e-9,
        );
        near(
            joined_voltage_single_phase(6, 400.0, 76.364).unwrap(),
            476.364,
            1e-9,
        );
        assert!(joined_voltage_single_phase(5, 400.0, 76.0).is_err());
        near(open_corner_voltage(100.0, 0).unwrap(), 0.0, 0.0);
        near(open_corner_voltage(100.0, 1).unwrap(), 200.0, 0.0);
        assert!(open_corner_voltage(100.0, 4).is_err());
    }
}
