//! Vector groups and the voltage ratio.

use super::argument::{answer_of, fixed, number, parameters, whole, word};
use super::connection::clock_of;
use super::{EvaluationFault, Function};
use crate::physics::phasor::{self, Group, TerminalPair};
use crate::physics::ratio;
use crate::plan::types::Type;
use crate::plan::value::Value;

const SUBJECT: &str = "ratio and vector group";

pub(super) static PHASE_RATIO: Function = Function {
    name: "phase-ratio",
    subject: SUBJECT,
    parameters: parameters![
        "group": "the vector group",
        "u-higher": "line voltage of the winding of highest voltage",
        "u-lower": "line voltage of the first lower winding",
    ],
    variadic: false,
    check: |types| fixed(types, &["name", "voltage", "voltage"], "ratio"),
    evaluate: |values| {
        answer_of(
            "ratio",
            ratio::phase_ratio(&group(values)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The ratio of the phase voltages, which is the turns ratio, for these line voltages. A zigzag \
        winding counts with the turns of one half-coil.",
    formula: "u-higher / u-lower, each line voltage divided by sqrt(3) for a star and by 3 for a zigzag \
        winding",
    source: "physics",
    example: "phase-ratio(\"YNd11\", 110 kV, 21 kV) -> 3.02422",
};

pub(super) static CLOCK: Function = Function {
    name: "clock",
    subject: SUBJECT,
    parameters: parameters!["group": "the vector group"],
    variadic: false,
    check: |types| fixed(types, &["name"], "number"),
    evaluate: |values| match group(values)?.clock() {
        Some(clock) => Ok(Value::Quantity(whole(usize::from(clock)))),
        None => Err(EvaluationFault(
            "the vector group has no clock number".to_owned(),
        )),
    },
    meaning: "The clock number of the first pair of windings: by how many steps of 30° the lower voltage \
        lags.",
    formula: "",
    source: "IEC 60076-1, clause 7, from memory",
    example: "clock(\"YNd11\") -> 11",
};

pub(super) static POSSIBLE_GROUP: Function = Function {
    name: "possible-group",
    subject: SUBJECT,
    parameters: parameters!["group": "the vector group"],
    variadic: false,
    check: |types| fixed(types, &["name"], "yes-no"),
    evaluate: |values| Ok(Value::Truth(phasor::possible_group(word(values, 0)?))),
    meaning: "Yes when windings can be connected to this vector group: even clock numbers need like \
        connections, odd ones a star with a delta or zigzag.",
    formula: "",
    source: "letters: IEC 60076-1, clause 7, from memory; parity: physics",
    example: "possible-group(\"Dy0\") -> no",
};

pub(super) static JOINED_VOLTAGE: Function = Function {
    name: "joined-voltage",
    subject: SUBJECT,
    parameters: parameters![
        "group": "the vector group, of its first pair; or a clock number",
        "u": "line voltage applied to the winding of highest voltage",
        "line-ratio": "ratio of the line voltages at this tapping",
        "pair": "the two terminals, capitals on the higher side: Bb, Cb, AB, bc and so on",
    ],
    variadic: false,
    check: |types| {
        let first = if types.first() == Some(&Type::NUMBER) {
            "number"
        } else {
            "name"
        };
        fixed(types, &[first, "voltage", "ratio", "name"], "voltage").map_err(|mut fault| {
            if fault.argument == Some(0) {
                fault.expected = "a vector group or a clock number".to_owned();
            }
            fault
        })
    },
    evaluate: |values| {
        let clock = clock_of(values)?;
        let pair = word(values, 3)?;
        let pair = TerminalPair::parse(pair).ok_or_else(|| {
            EvaluationFault(format!(
                "expected two of A, B, C, a, b, c such as Bb, found `{pair}`"
            ))
        })?;
        answer_of(
            "voltage",
            phasor::joined_voltage(clock, number(values, 1)?, number(values, 2)?, pair),
        )
    },
    meaning: "The voltage between two terminals when A and a are joined and the neutrals float: it proves \
        the clock number.",
    formula: "for two sides sqrt(u² + v² - 2 u v cos(30° clock + turn)), v = u / line-ratio; turn = 0 for Bb and Cc, 60° \
        for Bc, -60° for Cb",
    source: "physics",
    example: "joined-voltage(\"YNd11\", 400 V, 5.2381, \"Cb\") -> 407.224 V",
};

pub(super) fn group(values: &[Value]) -> Result<Group, EvaluationFault> {
    phasor::parse_group(word(values, 0)?).map_err(EvaluationFault)
}

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;
    use super::*;

    #[test]
    fn nominal_ratio_of_the_specimen() {
        for (upper, expected) in [("121 kV", 3.32664), ("110 kV", 3.02422), ("99 kV", 2.72179)] {
            near(
                "phase-ratio",
                &[name("YNd11"), q(upper), q("21 kV")],
                "",
                expected,
                5e-6,
            );
        }
        let message = refused("phase-ratio", &[name("YNd11"), q("110 kV"), q("21 A")]);
        assert!(
            message.starts_with("expected a voltage, found "),
            "{message}"
        );
        assert!(
            refused("phase-ratio", &[name("YNd6"), q("110 kV"), q("21 kV")])
                .contains("odd clock number")
        );
    }

    #[test]
    fn clock_numbers() {
        near("clock", &[name("YNyn0d11")], "", 0.0, 0.0);
        near("clock", &[name("Dyn5")], "", 5.0, 0.0);
        for (group, possible) in [
            ("YNd11", true),
            ("Dy0", false),
            ("Yy11", false),
            ("Dz0", true),
        ] {
            let found = run("possible-group", &[name(group)]);
            assert!(
                matches!(found, Ok(Value::Truth(truth)) if truth == possible),
                "{group}"
            );
        }
        assert!(
            refused("clock", &[q("11")])
                .contains("expected a name or a quoted text, found a plain number")
        );
    }

    #[test]
    fn terminal_voltages_of_the_specimen() {
        let ratio = Value::Quantity(crate::quantity::Quantity::plain(
            crate::quantity::Number::Approx(110.0 / 21.0),
        ));
        for (pair, expected) in [
            ("Bb", 336.04),
            ("Cc", 336.04),
            ("Bc", 336.04),
            ("Cb", 407.22),
        ] {
            let values = [name("YNd11"), q("400 V"), ratio.clone(), name(pair)];
            near("joined-voltage", &values, "V", expected, 5e-3);
        }
        let by_number = |clock| [q(clock), q("400 V"), ratio.clone(), name("Cb")];
        near("joined-voltage", &by_number("11"), "V", 407.22, 5e-3);
        near("joined-voltage", &by_number("5"), "V", 407.22, 5e-3);
        near("joined-voltage", &by_number("1"), "V", 336.04, 5e-3);
        for clock in ["12", "1.5", "-1"] {
            assert!(refused("joined-voltage", &by_number(clock)).contains("must be 0 to 11"));
        }
        assert!(
            refused("joined-voltage", &by_number("11 A"))
                .starts_with("expected a vector group or a clock number, found current")
        );
        let values = [name("YNd11"), q("400 V"), ratio, name("Ax")];
        assert!(refused("joined-voltage", &values).contains("found `Ax`"));
    }
}
