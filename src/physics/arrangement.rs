//! From how the coils on the three legs are connected to the clock number.

use super::Domain;

/// The clock number of a pair of windings from the arrangement of their coils.
///
/// `higher`: `Y`, `D(1-2)` (the coil of leg 1 lies between terminals 1 and 2) or `D(1-3)`; `lower`: `y`, `d(1-2)`,
/// `d(1-3)`, `z(1-2)` (phase 1 is half a coil on leg 1 minus half a coil on leg 2) or `z(1-3)`; `reversed`: all lower
/// coils turned round; `rotated`: by how many places the letters of the lower terminals are moved on, 0 to 2.
///
/// Errors: another text, a rotation above 2. Source: physics (sum of the steps of each part, modulo 12). Example:
/// Y and d(1-3): 11; reversed: 5.
pub fn arrangement_clock(
    higher: &str,
    lower: &str,
    reversed: bool,
    rotated: u8,
) -> Result<u8, Domain> {
    let higher: u8 = match higher {
        "Y" => 0,
        "D(1-2)" => 11,
        "D(1-3)" => 1,
        _ => return Err(Domain("the higher side is one of Y, D(1-2), D(1-3)")),
    };
    let lower: u8 = match lower {
        "y" => 0,
        "d(1-2)" | "z(1-3)" => 1,
        "d(1-3)" | "z(1-2)" => 11,
        _ => {
            return Err(Domain(
                "the lower side is one of y, d(1-2), d(1-3), z(1-2), z(1-3)",
            ));
        }
    };
    if rotated > 2 {
        return Err(Domain("the letters can be moved on by 0, 1 or 2 places"));
    }
    Ok((higher + lower + if reversed { 6 } else { 0 } + 4 * rotated) % 12)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_whole_table_of_arrangements() {
        let table = [
            ("Y", "y", 0, 6, [4, 8], [10, 2]),
            ("Y", "d(1-2)", 1, 7, [5, 9], [11, 3]),
            ("Y", "d(1-3)", 11, 5, [3, 7], [9, 1]),
            ("Y", "z(1-2)", 11, 5, [3, 7], [9, 1]),
            ("Y", "z(1-3)", 1, 7, [5, 9], [11, 3]),
            ("D(1-2)", "y", 11, 5, [3, 7], [9, 1]),
            ("D(1-2)", "d(1-2)", 0, 6, [4, 8], [10, 2]),
            ("D(1-2)", "d(1-3)", 10, 4, [2, 6], [8, 0]),
            ("D(1-2)", "z(1-2)", 10, 4, [2, 6], [8, 0]),
            ("D(1-2)", "z(1-3)", 0, 6, [4, 8], [10, 2]),
            ("D(1-3)", "y", 1, 7, [5, 9], [11, 3]),
            ("D(1-3)", "d(1-2)", 2, 8, [6, 10], [0, 4]),
            ("D(1-3)", "d(1-3)", 0, 6, [4, 8], [10, 2]),
            ("D(1-3)", "z(1-2)", 0, 6, [4, 8], [10, 2]),
            ("D(1-3)", "z(1-3)", 2, 8, [6, 10], [0, 4]),
        ];
        for (higher, lower, drawn, reversed, rotated, both) in table {
            let clock = |turned, places| arrangement_clock(higher, lower, turned, places);
            assert_eq!(clock(false, 0), Ok(drawn), "{higher} {lower}");
            assert_eq!(clock(true, 0), Ok(reversed), "{higher} {lower} reversed");
            for places in [1_u8, 2] {
                let at = usize::from(places) - 1;
                assert_eq!(clock(false, places), Ok(rotated[at]), "{higher} {lower}");
                assert_eq!(clock(true, places), Ok(both[at]), "{higher} {lower}");
            }
        }
        assert!(arrangement_clock("y", "y", false, 0).is_err());
        assert!(arrangement_clock("Y", "D", false, 0).is_err());
        assert!(arrangement_clock("Y", "y", false, 3).is_err());
    }
}
