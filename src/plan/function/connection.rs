//! What a vector group says of each winding: its connection, coil voltage and coil current, its clock number.

use super::argument::{
    answer_of, fault, fixed, number, parameters, plain_function, same_count, truth, whole, word,
};
use super::ratio::group;
use super::{EvaluationFault, Function};
use crate::physics::phasor::{self, Connection, Group, JoinedReadings};
use crate::physics::{arrangement, coil_current, ratio, resistance};
use crate::plan::types::Type;
use crate::plan::value::Value;
use crate::quantity::Quantity;

const SUBJECT: &str = "ratio and vector group";

pub(super) static COIL_VOLTAGE: Function = Function {
    name: "coil-voltage",
    subject: SUBJECT,
    parameters: parameters![
        "group": "the vector group",
        "n": "which winding, 1 for the highest voltage",
        "u-line": "its line voltage",
    ],
    variadic: false,
    check: |types| fixed(types, &["name", "number", "voltage"], "voltage"),
    evaluate: |values| {
        let group = group(values)?;
        let connection = coil_connection(&group, place(values, 1)?)?;
        answer_of(
            "voltage",
            ratio::coil_voltage(connection, number(values, 2)?),
        )
    },
    meaning: "The voltage of one coil of a winding: divided by the turns it gives the volts per turn. An \
        auto-connected winding counts like the one of highest voltage, from terminal to neutral.",
    formula: "u-line / sqrt(3) for a star, u-line / 3 for a zigzag winding, u-line for a delta and a single phase",
    source: "physics",
    example: "coil-voltage(\"YNd11\", 1, 110 kV) -> 63.5085 kV",
};

pub(super) static CONNECTION: Function = Function {
    name: "connection",
    subject: SUBJECT,
    parameters: parameters!["group": "the vector group", "n": "which winding, 1 for the highest voltage"],
    variadic: false,
    check: |types| {
        fixed(types, &["name", "number"], "number")?;
        Ok(Type::Name)
    },
    evaluate: |values| {
        let name = match winding(&group(values)?, place(values, 1)?)? {
            Connection::Star => "star",
            Connection::Delta => "delta",
            Connection::Zigzag => "zigzag",
            Connection::Auto => "auto",
            Connection::Single => "single",
        };
        Ok(Value::Name(name.into()))
    },
    meaning: "How a winding is connected: star, delta, zigzag, auto or single.",
    formula: "",
    source: "IEC 60076-1, clause 7, from memory",
    example: "when connection(design.vector-group, 2) = delta",
};

pub(super) static PHASES: Function = Function {
    name: "phases",
    subject: SUBJECT,
    parameters: parameters!["group": "the vector group"],
    variadic: false,
    check: |types| fixed(types, &["name"], "number"),
    evaluate: |values| {
        let single = group(values)?.higher.connection == Connection::Single;
        Ok(Value::Quantity(whole(if single { 1 } else { 3 })))
    },
    meaning: "How many phases a unit of this vector group has.",
    formula: "",
    source: "IEC 60076-1, clause 7, from memory",
    example: "phases(\"Ia0i0\") -> 1",
};

pub(super) static WINDING_COUNT: Function = Function {
    name: "winding-count",
    subject: SUBJECT,
    parameters: parameters!["group": "the vector group"],
    variadic: false,
    check: |types| fixed(types, &["name"], "number"),
    evaluate: |values| Ok(Value::Quantity(whole(1 + group(values)?.lower.len()))),
    meaning: "How many windings the vector group names, a stabilising one counted.",
    formula: "",
    source: "IEC 60076-1, clause 7, from memory",
    example: "winding-count(\"YNyn0d11\") -> 3",
};

pub(super) static CLOCK_BETWEEN: Function = Function {
    name: "clock-between",
    subject: SUBJECT,
    parameters: parameters![
        "group": "the vector group",
        "n": "one winding, 1 for the highest voltage",
        "m": "the winding that lags behind it",
    ],
    variadic: false,
    check: |types| fixed(types, &["name", "number", "number"], "number"),
    evaluate: |values| {
        let clock = group(values)?.clock_between(place(values, 1)?, place(values, 2)?);
        clock
            .map(|clock| Value::Quantity(whole(usize::from(clock))))
            .ok_or_else(|| {
                EvaluationFault(
                    "the vector group gives no clock number between these windings".to_owned(),
                )
            })
    },
    meaning: "The clock number between two windings: by how many steps of 30° the second lags.",
    formula: "lag of m - lag of n, modulo 12",
    source: "physics",
    example: "clock-between(\"YNyn0d11\", 2, 3) -> 11",
};

pub(super) static COIL_CURRENT: Function = Function {
    name: "coil-current",
    subject: SUBJECT,
    parameters: parameters![
        "group": "the vector group",
        "n": "which winding, 1 for the highest voltage",
        "from": "one winding of the pair",
        "to": "the other",
        "s": "apparent power that passes between them",
        "u-from": "line voltage of the one",
        "u-to": "line voltage of the other",
    ],
    variadic: false,
    check: |types| {
        let kinds = [
            "name",
            "number",
            "number",
            "number",
            "apparent-power",
            "voltage",
            "voltage",
        ];
        fixed(types, &kinds, "current")
    },
    evaluate: |values| {
        answer_of(
            "current",
            coil_current::coil_current(
                &group(values)?,
                place(values, 1)?,
                place(values, 2)?,
                place(values, 3)?,
                number(values, 4)?,
                number(values, 5)?,
                number(values, 6)?,
            ),
        )
    },
    meaning: "The current in a coil of a winding while power passes between two windings, 0 A where it carries \
        none. In an auto-connected unit winding 1 is the series winding and the `a` winding the common one.",
    formula: "line current s / (sqrt(3) u), single-phase s / u; divided by sqrt(3) in a delta; the difference of \
        both line currents in the common winding of an auto-connected pair",
    source: "physics",
    example: "coil-current(\"YNd11\", 2, 1, 2, 40 MVA, 110 kV, 20 kV) -> 666.667 A",
};

pub(super) static COIL_RESISTANCE: Function = Function {
    name: "coil-resistance",
    subject: "winding resistance",
    parameters: parameters![
        "group": "the vector group",
        "n": "which winding, 1 for the highest voltage",
        "r": "resistance between two lines of a delta, else from terminal to neutral or end",
    ],
    variadic: false,
    check: |types| fixed(types, &["name", "number", "resistance"], "resistance"),
    evaluate: |values| {
        let delta = winding(&group(values)?, place(values, 1)?)? == Connection::Delta;
        answer_of(
            "resistance",
            resistance::coil_resistance(delta, number(values, 2)?),
        )
    },
    meaning: "The resistance of one coil of a symmetrical winding.",
    formula: "1.5 r for a delta, r for any other",
    source: "physics",
    example: "coil-resistance(\"YNd11\", 2, 29.75 mohm) -> 44.625 mohm",
};

plain_function!(
    JOINED_VOLTAGE_SINGLE = "joined-voltage-single" in SUBJECT,
    [
        "clock" clock: "number" = "clock number, 0 or 6",
        "u-higher" higher: "voltage" = "voltage of the winding of higher voltage",
        "u-lower" lower: "voltage" = "voltage of the winding of lower voltage",
    ] -> "voltage",
    phasor::joined_voltage_single_phase(clock_number(clock), higher, lower),
    "The voltage between the far ends of a single-phase unit whose first terminals are joined.",
    "|u-higher - u-lower| for clock number 0, u-higher + u-lower for 6", "physics",
    "joined-voltage-single(0, 400 V, 76.364 V) -> 323.636 V",
);

plain_function!(
    RECOVERED_CLOCK = "recovered-clock" in SUBJECT,
    [
        "u" supply: "voltage" = "line voltage applied to the winding of highest voltage",
        "line-ratio" ratio: "ratio" = "ratio of the line voltages",
        "Bb" bb: "voltage" = "B to b, A and a joined",
        "Bc" bc: "voltage" = "B to c",
        "Cb" cb: "voltage" = "C to b",
    ] -> "number",
    phasor::recovered_clock(supply, ratio, bb, bc, cb),
    "The clock number by the angle between both sides, as a number that need not be whole; the distance to the \
        nearest whole number tells how well the readings fit.",
    "angle / 30°, cosine = (u² + v² - Bb²) / (2 u v), sine = (Bc² - Cb²) / (2 sqrt(3) u v), v = u / line-ratio",
    "physics",
    "recovered-clock(400 V, 4, 317.49 V, 317.49 V, 412.31 V) -> 11",
);

pub(super) static FITTING_CLOCKS: Function = Function {
    name: "fitting-clocks",
    subject: SUBJECT,
    parameters: parameters![
        "u": "line voltage applied to the winding of highest voltage",
        "line-ratio": "ratio of the line voltages",
        "Bb": "B to b, A and a joined",
        "Cc": "C to c",
        "Bc": "B to c",
        "Cb": "C to b",
        "tolerance": "how far a voltage may lie from the expected one",
    ],
    variadic: false,
    check: |types| {
        let kinds = [
            "voltage", "ratio", "voltage", "voltage", "voltage", "voltage", "voltage",
        ];
        fixed(types, &kinds, "number").map(|element| Type::List(Box::new(element)))
    },
    evaluate: |values| {
        let readings = JoinedReadings {
            bb: number(values, 2)?,
            cc: number(values, 3)?,
            bc: number(values, 4)?,
            cb: number(values, 5)?,
        };
        let clocks = phasor::fitting_clocks(
            number(values, 0)?,
            number(values, 1)?,
            readings,
            number(values, 6)?,
        )
        .map_err(|fault| EvaluationFault(fault.to_string()))?;
        let clocks = clocks
            .into_iter()
            .map(|clock| Value::Quantity(whole(usize::from(clock))));
        Ok(Value::List(clocks.collect()))
    },
    meaning: "The clock numbers that all four voltages fit, as a list. None: the phase sequence of one side is \
        reversed, or the readings are wrong. Several: the ratio is too high for the meter.",
    formula: "",
    source: "physics",
    example: "require count(fitting-clocks(u, line-ratio, Bb, Cc, Bc, Cb, 4 V)) = 1",
};

pub(super) static ARRANGEMENT_CLOCK: Function = Function {
    name: "arrangement-clock",
    subject: SUBJECT,
    parameters: parameters![
        "higher": "coils of the higher side: \"Y\", \"D(1-2)\" or \"D(1-3)\"",
        "lower": "coils of the lower side: \"y\", \"d(1-2)\", \"d(1-3)\", \"z(1-2)\" or \"z(1-3)\"",
        "reversed": "yes when all lower coils are turned round",
        "rotated": "by how many places the lower letters are moved on: 0, 1 or 2",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 4)?;
        if !matches!(types[2], Type::Truth | Type::Unknown) {
            return Err(fault(2, "yes or no", &types[2]));
        }
        let mut others = types.to_vec();
        others[2] = Type::Unknown;
        fixed(&others, &["name", "name", "number", "number"], "number")
    },
    evaluate: |values| {
        let clock = arrangement::arrangement_clock(
            word(values, 0)?,
            word(values, 1)?,
            truth(values, 2)?,
            clock_number(number(values, 3)?),
        )
        .map_err(|fault| EvaluationFault(fault.to_string()))?;
        Ok(Value::Quantity(whole(usize::from(clock))))
    },
    meaning: "The clock number that an arrangement of coils gives. D(1-2): the coil of leg 1 lies between \
        terminals 1 and 2; z(1-2): phase 1 is half a coil on leg 1 minus half a coil on leg 2.",
    formula: "Y 0, D(1-2) -1, D(1-3) +1; y 0, d(1-2) +1, d(1-3) -1, z(1-2) -1, z(1-3) +1; reversed +6; each place \
        +4; modulo 12",
    source: "physics",
    example: "arrangement-clock(\"Y\", \"d(1-3)\", yes, 0) -> 5",
};

pub(super) static TAPPING_VOLTAGE: Function = Function {
    name: "tapping-voltage",
    subject: SUBJECT,
    parameters: parameters![
        "u": "rated voltage, on the principal tapping",
        "step": "tapping step",
        "position": "position of the tap-changer",
        "principal": "principal position",
        "first": "what position 1 is: most-turns or fewest-turns",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["voltage", "ratio", "number", "number", "name"],
            "voltage",
        )
    },
    evaluate: |values| {
        let first = match word(values, 4)? {
            "most-turns" => ratio::FirstPosition::Highest,
            "fewest-turns" => ratio::FirstPosition::Lowest,
            other => {
                return Err(EvaluationFault(format!(
                    "expected most-turns or fewest-turns, found `{other}`"
                )));
            }
        };
        let (position, principal) = (number(values, 2)?, number(values, 3)?);
        answer_of(
            "voltage",
            ratio::tapping_voltage(
                number(values, 0)?,
                number(values, 1)?,
                principal,
                position,
                first,
            ),
        )
    },
    meaning: "The nominal voltage of a tapped winding on one position.",
    formula: "u (1 + (principal - position) step), the difference with the other sign where position 1 has the \
        fewest turns",
    source: "physics",
    example: "tapping-voltage(110 kV, 1.25 %, 1, 9, \"most-turns\") -> 121 kV",
};

plain_function!(
    NEUTRAL_TAPPED_RATIO = "neutral-tapped-ratio" in SUBJECT,
    [
        "series" series: "number" = "turns of the series winding",
        "common" common: "number" = "turns of the common winding",
        "tapped" tapped: "number" = "turns added to the common winding; negative when taken away",
    ] -> "ratio",
    ratio::neutral_tapped_ratio(series, common, tapped),
    "The ratio of an auto-connected unit that is tapped at its neutral: each step changes the volts per turn too.",
    "(series + common + tapped) / (common + tapped)", "physics",
    "neutral-tapped-ratio(400, 600, 30) -> 1.63492",
);

pub(super) static NEAREST_TURN_APPLIES: Function = Function {
    name: "nearest-turn-applies",
    subject: SUBJECT,
    parameters: parameters!["turns": "turns of the winding"],
    variadic: false,
    check: |types| fixed(types, &["number"], "yes-no"),
    evaluate: |values| {
        ratio::nearest_turn_applies(number(values, 0)?)
            .map(Value::Truth)
            .map_err(|fault| EvaluationFault(fault.to_string()))
    },
    meaning: "Yes when one turn is more than 0.5 % of the winding: then the nearest whole turn is accepted.",
    formula: "1 / turns > 0.5 %",
    source: "IEEE C57.12.00, clause 9.1, from memory",
    example: "nearest-turn-applies(105) -> yes",
};

/// The winding's place counted from 0, from one counted from 1.
fn place(values: &[Value], index: usize) -> Result<usize, EvaluationFault> {
    let place = number(values, index)?;
    if place.fract() == 0.0 && (1.0..=1000.0).contains(&place) {
        Ok(place as usize - 1)
    } else {
        Err(EvaluationFault(format!(
            "expected the number of a winding, counted from 1, found {place}"
        )))
    }
}

/// A small whole number, or one that no function takes.
fn clock_number(value: f64) -> u8 {
    if value.fract() == 0.0 && (0.0..=12.0).contains(&value) {
        value as u8
    } else {
        u8::MAX
    }
}

fn winding(group: &Group, place: usize) -> Result<Connection, EvaluationFault> {
    group
        .winding(place)
        .map(|w| w.connection)
        .ok_or_else(|| EvaluationFault(format!("the vector group has no winding {}", place + 1)))
}

/// The connection that decides the coil voltage: an auto-connected winding is part of the highest one.
fn coil_connection(group: &Group, place: usize) -> Result<Connection, EvaluationFault> {
    Ok(match winding(group, place)? {
        Connection::Auto => group.higher.connection,
        own => own,
    })
}

/// The clock number given as the first argument: as a number, or by a vector group.
pub(super) fn clock_of(values: &[Value]) -> Result<u8, EvaluationFault> {
    if let Some(Value::Quantity(Quantity { value, .. })) = values.first() {
        return Ok(clock_number(value.to_f64()));
    }
    group(values)?
        .clock()
        .ok_or_else(|| EvaluationFault("the vector group has no clock number".to_owned()))
}

#[cfg(test)]
mod tests {
    use super::super::argument::{kind_type, tested::*};
    use super::*;

    #[test]
    fn windings_of_a_group() {
        for (n, connection) in [("1", "star"), ("2", "auto"), ("3", "delta")] {
            match run("connection", &[name("YNa0d11"), q(n)]) {
                Ok(Value::Name(found)) => assert_eq!(&*found, connection),
                other => panic!("{other:?}"),
            }
        }
        near(
            "coil-voltage",
            &[name("YNa0d11"), q("2"), q("138 kV")],
            "kV",
            79.674,
            5e-4,
        );
        near(
            "clock-between",
            &[name("YNa0d11"), q("2"), q("3")],
            "",
            11.0,
            0.0,
        );
        for n in ["3", "0", "1.5"] {
            let message = refused("coil-voltage", &[name("YNd11"), q(n), q("1 kV")]);
            assert!(message.contains("winding"), "{message}");
        }
        assert!(refused("connection", &[name("YNd11"), q("3")]).contains("has no winding 3"));
        for (group, phases, count) in [
            ("YNd11", 3.0, 2.0),
            ("Ia0i0", 1.0, 3.0),
            ("YNyn0+d", 3.0, 3.0),
            ("ZN", 3.0, 1.0),
        ] {
            near("phases", &[name(group)], "", phases, 0.0);
            near("winding-count", &[name(group)], "", count, 0.0);
        }
        // A stabilising winding has no clock number.
        refused("clock-between", &[name("YNyn0+d"), q("1"), q("3")]);
    }

    #[test]
    fn currents_and_resistances_of_coils() {
        let current = |group, n, from, to, u_from, u_to, expected| {
            let values = [
                name(group),
                q(n),
                q(from),
                q(to),
                q("40 MVA"),
                q(u_from),
                q(u_to),
            ];
            near("coil-current", &values, "A", expected, 5e-3);
        };
        current("YNd11", "1", "1", "2", "110 kV", "21 kV", 209.95);
        current("YNd11", "2", "1", "2", "110 kV", "21 kV", 634.92);
        current("YNd11", "2", "2", "1", "21 kV", "110 kV", 634.92);
        current("YNa0d11", "1", "1", "2", "220 kV", "110 kV", 104.97);
        current("YNa0d11", "2", "1", "2", "220 kV", "110 kV", 104.97);
        current("YNa0d11", "2", "1", "3", "220 kV", "10 kV", 104.97);
        current("YNa0d11", "3", "1", "3", "220 kV", "10 kV", 1333.33);
        current("YNa0d11", "1", "2", "3", "110 kV", "10 kV", 0.0);
        current("YNa0d11", "3", "1", "2", "220 kV", "110 kV", 0.0);
        let volts = ["110 kV", "21 kV"].map(q);
        let [high, low] = volts;
        let within = [
            name("YNd11"),
            q("1"),
            q("2"),
            q("2"),
            q("40 MVA"),
            high,
            low,
        ];
        assert!(refused("coil-current", &within).contains("between two windings"));
        for (n, expected) in [("1", 29.75), ("2", 44.625)] {
            let values = [name("YNd11"), q(n), q("29.75 mohm")];
            near("coil-resistance", &values, "mohm", expected, 1e-9);
        }
    }

    #[test]
    fn arrangements_of_coils() {
        let clock = |higher, lower, reversed, rotated, expected| {
            let values = [
                name(higher),
                name(lower),
                Value::Truth(reversed),
                q(rotated),
            ];
            near("arrangement-clock", &values, "", expected, 0.0);
        };
        clock("Y", "d(1-3)", false, "0", 11.0);
        clock("Y", "d(1-3)", true, "0", 5.0);
        clock("D(1-2)", "y", false, "2", 7.0);
        let values = |reversed, rotated| [name("Y"), name("y"), reversed, q(rotated)];
        let message = refused("arrangement-clock", &values(q("1"), "0"));
        assert!(message.starts_with("expected yes or no"), "{message}");
        for rotated in ["3", "0.5"] {
            refused("arrangement-clock", &values(Value::Truth(false), rotated));
        }
    }

    #[test]
    fn tappings_and_turns() {
        for (first, expected) in [("most-turns", 121.0), ("fewest-turns", 99.0)] {
            let values = [q("110 kV"), q("1.25 %"), q("1"), q("9"), name(first)];
            near("tapping-voltage", &values, "kV", expected, 1e-9);
        }
        let values = [q("110 kV"), q("1.25 %"), q("1"), q("9"), name("highest")];
        assert!(refused("tapping-voltage", &values).contains("found `highest`"));
        let turns = |tapped| [q("400"), q("600"), q(tapped)];
        near("neutral-tapped-ratio", &turns("30"), "", 1.634921, 5e-7);
        refused("neutral-tapped-ratio", &turns("-600"));
        for (turns, applies) in [("105", true), ("210", false)] {
            let found = run("nearest-turn-applies", &[q(turns)]);
            assert!(matches!(found, Ok(Value::Truth(truth)) if truth == applies));
        }
    }

    #[test]
    fn joined_terminals() {
        let readings =
            |bb, cc, bc, cb| [q("400 V"), q("5.5"), q(bb), q(cc), q(bc), q(cb), q("4 V")];
        let found = run(
            "fitting-clocks",
            &readings("339.1 V", "338.9 V", "339.0 V", "406.6 V"),
        );
        match found {
            Ok(Value::List(items)) => {
                assert!(matches!(&items[..], [Value::Quantity(one)] if one.value.to_f64() == 11.0))
            }
            other => panic!("{other:?}"),
        }
        // An empty list shows no element, so its promised type is asked for apart.
        let voltage = kind_type("voltage");
        let mut types = vec![voltage; 7];
        types[1] = Type::NUMBER;
        let promised = (super::FITTING_CLOCKS.check)(&types);
        assert_eq!(promised, Ok(Type::List(Box::new(Type::NUMBER))));
        let crossed =
            (super::FITTING_CLOCKS.evaluate)(&readings("339 V", "406.6 V", "339 V", "339 V"));
        assert!(matches!(crossed, Ok(Value::List(items)) if items.is_empty()));
        let ratio = q("5.238095238");
        let values = [q("400 V"), ratio, q("336.0 V"), q("336.0 V"), q("407.2 V")];
        near("recovered-clock", &values, "", 11.0, 5e-3);
        for (clock, expected) in [("0", 323.636), ("6", 476.364)] {
            let values = [q(clock), q("400 V"), q("76.364 V")];
            near("joined-voltage-single", &values, "V", expected, 1e-9);
        }
        let wrong = refused("joined-voltage-single", &[q("3"), q("400 V"), q("70 V")]);
        assert!(wrong.contains("0 or 6"), "{wrong}");
    }
}
