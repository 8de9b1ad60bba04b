//! Temperature rise.

use super::argument::{answer, celsius, fixed, number, parameters, temperature};
use super::resistance::material;
use super::{EvaluationFault, Function};
use crate::physics::thermal;

const SUBJECT: &str = "temperature rise";

pub(super) static WINDING_TEMPERATURE: Function = Function {
    name: "winding-temperature",
    subject: SUBJECT,
    parameters: parameters![
        "r-cold": "resistance of the cold winding",
        "theta-cold": "its temperature then",
        "r-hot": "resistance of the hot winding, extrapolated to the moment of switching off",
        "material": "copper or aluminium",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["resistance", "temperature", "resistance", "name"],
            "temperature",
        )
    },
    evaluate: |values| {
        let material = material(values, 3)?;
        let (cold, theta, hot) = (number(values, 0)?, celsius(values, 1)?, number(values, 2)?);
        let hot = thermal::winding_temperature(cold, theta, hot, material);
        temperature(hot.map_err(|fault| EvaluationFault(fault.to_string()))?)
    },
    meaning: "The mean temperature of a winding, from its resistance cold and hot.",
    formula: "r-hot / r-cold (K + theta-cold) - K, K = 235 for copper, 225 for aluminium",
    source: "IEC 60076-2:2011, from memory",
    example: "winding-temperature(0.5840 ohm, 20 °C, 0.70400 ohm, \"copper\") -> 72.3973 °C",
};

pub(super) static HOT_SPOT: Function = Function {
    name: "hot-spot",
    subject: SUBJECT,
    parameters: parameters![
        "top-oil-rise": "rise of the top oil over the ambient temperature",
        "gradient": "mean winding over mean oil, at rated current",
        "factor": "hot-spot factor; 1.3 where none was designed",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["temperature-rise", "temperature-rise", "ratio"],
            "temperature-rise",
        )
    },
    evaluate: |values| {
        let (oil, gradient) = (number(values, 0)?, number(values, 1)?);
        answer(
            "temperature-rise",
            thermal::hot_spot_rise(oil, gradient, number(values, 2)?),
        )
    },
    meaning: "The rise of the hottest spot of a winding over the ambient temperature.",
    formula: "top-oil-rise + factor gradient",
    source: "IEC 60076-2:2011, from memory",
    example: "hot-spot(50.81 K, 16.00 K, 1.3) -> 71.61 K",
};

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn the_heat_run_of_the_specimen() {
        let args = |hot: &str| [q("0.5840 ohm"), q("20 °C"), q(hot), name("copper")];
        near(
            "winding-temperature",
            &args("0.70400 ohm"),
            "°C",
            72.40,
            5e-3,
        );
        near(
            "winding-temperature",
            &args("0.69538 ohm"),
            "°C",
            68.63,
            5e-3,
        );
        let message = refused(
            "winding-temperature",
            &[q("0.5840 ohm"), q("20 K"), q("0.7 ohm"), name("copper")],
        );
        assert!(
            message
                .contains("expected a temperature (a point on the scale, °C), found temperature"),
            "{message}"
        );
    }

    #[test]
    fn hot_spot_of_the_specimen() {
        near(
            "hot-spot",
            &[q("50.81 K"), q("16.00 K"), q("1.3")],
            "K",
            71.60,
            2e-2,
        );
        let message = refused("hot-spot", &[q("71.8 °C"), q("16 K"), q("1.3")]);
        assert!(
            message.starts_with("expected a temperature difference (K), found a temperature"),
            "{message}"
        );
    }
}
