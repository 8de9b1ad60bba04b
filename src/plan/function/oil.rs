//! Oil: particles, treatment, volume, dissolved gases.

use super::argument::{answer_of, fault, fixed, kind_type, number, parameters, same_count, whole};
use super::{EvaluationFault, Function};
use crate::physics::dissolved_gas::{self, Fault, Gases};
use crate::physics::{dispatch, oil};
use crate::plan::types::Type;
use crate::plan::value::Value;
use crate::quantity::Dimension;
use std::sync::Arc;

const SUBJECT: &str = "oil";

pub(super) static PARTICLE_CODE: Function = Function {
    name: "particle-code",
    subject: SUBJECT,
    parameters: parameters![
        "count": "particles of this size and larger in 1 ml, a plain number",
    ],
    variadic: false,
    check: |types| fixed(types, &["number"], "number"),
    evaluate: |values| {
        let code = oil::particle_code(number(values, 0)?)
            .map_err(|fault| EvaluationFault(fault.to_string()))?;
        Ok(Value::Quantity(whole(code as usize)))
    },
    meaning: "The number of the ISO 4406 code for one particle size; a code has one for each of > 4, \
        > 6 and > 14 µm.",
    formula: "classes that double from 0.01 in 1 ml, borders rounded as the standard prints them",
    source: "table of ISO 4406, as reprinted",
    example: "particle-code(1120) -> 17",
};

pub(super) static OIL_VOLUME_CHANGE: Function = Function {
    name: "oil-volume-change",
    subject: SUBJECT,
    parameters: parameters![
        "volume": "volume of the oil",
        "expansion": "expansion, about 0.00075 1/K for mineral oil",
        "change": "change of the mean oil temperature",
    ],
    variadic: false,
    check: |types| {
        same_count(types, 3)?;
        let per_kelvin = Type::quantity(Dimension::NONE.div(Dimension::TEMPERATURE));
        if types[0] != kind_type("volume") && types[0] != Type::Unknown {
            return Err(fault(0, "a volume", &types[0]));
        }
        if types[1] != per_kelvin && types[1] != Type::Unknown {
            return Err(fault(1, "an expansion (1/K)", &types[1]));
        }
        if types[2] != kind_type("temperature-rise") && types[2] != Type::Unknown {
            return Err(fault(2, "a temperature difference (K)", &types[2]));
        }
        Ok(kind_type("volume"))
    },
    evaluate: |values| {
        answer_of(
            "volume",
            dispatch::oil_volume_change(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "By how much the volume of the oil changes with its temperature.",
    formula: "volume expansion change",
    source: "physics; expansion of mineral oil: from memory",
    example: "oil-volume-change(48 m^3, 0.00075 1/K, 55 K) -> 1.98 m^3",
};

pub(super) static MIXED_SHARE: Function = Function {
    name: "mixed-share",
    subject: SUBJECT,
    parameters: parameters![
        "volumes": "how often the volume of the tank was passed",
    ],
    variadic: false,
    check: |types| fixed(types, &["number"], "ratio"),
    evaluate: |values| answer_of("ratio", oil::mixed_share(number(values, 0)?)),
    meaning: "The share of the oil that has not yet passed the treatment, when the tank is fully \
        mixed.",
    formula: "exp(-volumes)",
    source: "physics",
    example: "mixed-share(3) -> 0.0497871",
};

pub(super) static GAS_RATE: Function = Function {
    name: "gas-rate",
    subject: SUBJECT,
    parameters: parameters![
        "before": "gas in the oil in the first sample",
        "after": "gas in the oil in the second sample",
        "time": "time between the samples",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["concentration", "concentration", "time"],
            "drying-rate",
        )
    },
    evaluate: |values| {
        answer_of(
            "drying-rate",
            dissolved_gas::rate_of_rise(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "How fast a gas in the oil rises; negative when it falls.",
    formula: "(after - before) / time",
    source: "arithmetic",
    example: "gas-rate(4 ul/l, 12 ul/l, 10 h) / (1 ul/l/h) -> 0.8",
};

pub(super) static GAS_TRIANGLE: Function = Function {
    name: "gas-triangle",
    subject: SUBJECT,
    parameters: parameters![
        "methane": "methane in the oil",
        "ethylene": "ethylene in the oil",
        "acetylene": "acetylene in the oil",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["concentration", "concentration", "concentration"],
            "concentration",
        )?;
        Ok(Type::Name)
    },
    evaluate: |values| {
        let (methane, ethylene) = (number(values, 0)?, number(values, 1)?);
        let zone = dissolved_gas::triangle_zone(methane, ethylene, number(values, 2)?)
            .map_err(|fault| EvaluationFault(fault.to_string()))?;
        Ok(Value::Name(Arc::from(zone.code())))
    },
    meaning: "The zone of Duval's triangle 1: PD partial discharge, T1, T2, T3 thermal below 300 °C, \
        up to 700 °C and above, D1, D2 discharge of low and high energy, DT both. Not to be applied at \
        trace level.",
    formula: "shares of the three gases in their sum against the borders of the zones",
    source: "corner points from an open program, rules derived from them",
    example: "gas-triangle(10500 ul/l, 17700 ul/l, 750 ul/l) -> T3",
};

pub(super) static GAS_RATIO_FAULTS: Function = Function {
    name: "gas-ratio-faults",
    subject: SUBJECT,
    parameters: parameters![
        "h2": "hydrogen in the oil",
        "ch4": "methane in the oil",
        "c2h6": "ethane in the oil",
        "c2h4": "ethylene in the oil",
        "c2h2": "acetylene in the oil",
    ],
    variadic: false,
    check: |types| {
        fixed(types, &["concentration"; 5], "concentration")?;
        Ok(Type::Text)
    },
    evaluate: |values| {
        let gases = Gases {
            hydrogen: number(values, 0)?,
            methane: number(values, 1)?,
            ethane: number(values, 2)?,
            ethylene: number(values, 3)?,
            acetylene: number(values, 4)?,
        };
        let faults = dissolved_gas::ratio_faults(&gases)
            .map_err(|fault| EvaluationFault(fault.to_string()))?;
        let codes: Vec<&str> = faults.into_iter().map(Fault::code).collect();
        let text = if codes.is_empty() {
            "none".to_owned()
        } else {
            codes.join(", ")
        };
        Ok(Value::Text(Arc::from(text)))
    },
    meaning: "All faults whose row of the ratio table fits, parted by commas, or none. The names are \
        those of gas-triangle. Not to be applied at trace level.",
    formula: "c2h2 / c2h4, ch4 / h2 and c2h4 / c2h6 against the rows of the table",
    source: "IEC 60599 Table 1, from memory",
    example: "gas-ratio-faults(440 ul/l, 89 ul/l, 19 ul/l, 304 ul/l, 757 ul/l) -> \"D1, D2\"",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;
    use super::*;

    fn text(function: &str, values: &[Value]) -> String {
        match run(function, values) {
            Ok(Value::Name(word) | Value::Text(word)) => word.to_string(),
            other => panic!("{function}: {other:?}"),
        }
    }

    fn gases(contents: &[&str]) -> Vec<Value> {
        contents
            .iter()
            .map(|content| q(&format!("{content} ul/l")))
            .collect()
    }

    #[test]
    fn particles_treatment_and_volume() {
        for (count, code) in [("1120", 17.0), ("210", 15.0), ("28", 12.0), ("0", 0.0)] {
            near("particle-code", &[q(count)], "", code, 0.0);
        }
        assert!(refused("particle-code", &[q("-1")]).contains("not be negative"));
        near("mixed-share", &[q("1")], "%", 36.8, 0.05);
        near("mixed-share", &[q("4")], "%", 1.8, 0.05);
        for (change, expected) in [("55 K", 1980.0), ("-40 K", -1440.0)] {
            let values = [q("48 m^3"), q("0.00075 1/K"), q(change)];
            near("oil-volume-change", &values, "l", expected, 1e-9);
        }
        assert!(
            refused("oil-volume-change", &[q("48 m^3"), q("0.00075"), q("55 K")])
                .starts_with("expected an expansion (1/K), found a plain number")
        );
        assert!(
            refused(
                "oil-volume-change",
                &[q("48 m^3"), q("0.00075 1/K"), q("55 °C")]
            )
            .starts_with("expected a temperature difference (K)")
        );
    }

    #[test]
    fn gases_in_the_oil() {
        near(
            "gas-rate",
            &[q("4 ul/l"), q("12 ul/l"), q("10 h")],
            "ul/l/h",
            0.8,
            1e-9,
        );
        assert!(refused("gas-rate", &[q("4 ul/l"), q("12 ul/l"), q("0 h")]).contains("above zero"));
        for (contents, zone) in [
            (["10500", "17700", "750"], "T3"),
            (["20", "13", "28"], "D1"),
            (["89", "304", "757"], "D2"),
            (["18", "4", "0"], "T1"),
        ] {
            assert_eq!(text("gas-triangle", &gases(&contents)), zone);
        }
        assert!(refused("gas-triangle", &gases(&["0", "0", "0"])).contains("no methane, ethylene"));
        for (contents, faults) in [
            (["440", "89", "19", "304", "757"], "D1, D2"),
            (["92600", "10200", "0", "0", "0"], "none"),
            (["6709", "10500", "1400", "17700", "750"], "T3"),
        ] {
            assert_eq!(text("gas-ratio-faults", &gases(&contents)), faults);
        }
        assert!(
            refused(
                "gas-ratio-faults",
                &gases(&["-1", "89", "19", "304", "757"])
            )
            .contains("not be negative")
        );
    }
}
