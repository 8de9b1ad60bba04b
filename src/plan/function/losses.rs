//! No-load loss, load loss, impedance, and what follows from them.

use super::Function;
use super::argument::{
    answer_of, celsius, fixed, number, parameters, plain_function, resistance_constant,
};
use crate::physics::{Domain, core, load_loss, no_load};

const SUBJECT: &str = "losses and impedance";

pub(super) static VOLTS_PER_TURN: Function = Function {
    name: "volts-per-turn",
    subject: SUBJECT,
    parameters: parameters!["u": "phase voltage of the winding", "turns": "its turns"],
    variadic: false,
    check: |types| fixed(types, &["voltage", "number"], "voltage"),
    evaluate: |values| {
        answer_of(
            "voltage",
            no_load::volts_per_turn(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "The voltage of one turn; the same for all windings on a limb.",
    formula: "u / turns",
    source: "physics",
    example: "volts-per-turn(21 kV, 210) -> 0.1 kV",
};

pub(super) static FLUX_DENSITY: Function = Function {
    name: "flux-density",
    subject: SUBJECT,
    parameters: parameters![
        "u-turn": "volts per turn",
        "f": "frequency",
        "section": "net section of the limb",
    ],
    variadic: false,
    check: |types| fixed(types, &["voltage", "frequency", "area"], "flux-density"),
    evaluate: |values| {
        answer_of(
            "flux-density",
            core::flux_density(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The peak flux density in the limb at a sinusoidal voltage.",
    formula: "u-turn / (pi sqrt(2) f section)",
    source: "physics",
    example: "flux-density(100 V, 50 Hz, 0.265 m^2) -> 1.69871 T",
};

pub(super) static NO_LOAD_LOSS: Function = Function {
    name: "no-load-loss",
    subject: SUBJECT,
    parameters: parameters![
        "p": "power as measured",
        "u-mean": "mean-value voltmeter, scaled to r.m.s. (1.111 times the rectified mean)",
        "u-rms": "r.m.s. voltmeter",
    ],
    variadic: false,
    check: |types| fixed(types, &["power", "voltage", "voltage"], "power"),
    evaluate: |values| {
        answer_of(
            "power",
            no_load::no_load_loss(number(values, 0)?, number(values, 1)?, number(values, 2)?),
        )
    },
    meaning: "The no-load loss, corrected for the wave form; the voltage is set by the mean-value \
        voltmeter. The two voltmeters may differ by 3 %.",
    formula: "p (1 + (u-mean - u-rms) / u-mean)",
    source: "IEC 60076-1:2011, 11.5, from memory",
    example: "no-load-loss(22.40 kW, 21000 V, 21210 V) -> 22.176 kW",
};

pub(super) static LOAD_LOSS_AT: Function = Function {
    name: "load-loss-at",
    subject: SUBJECT,
    parameters: parameters![
        "p": "load loss at rated current, at the temperature of the test",
        "p-dc": "loss from the resistances of all windings at that temperature",
        "theta": "temperature of the test",
        "theta-ref": "reference temperature",
        "conductor": "copper or aluminium, or the constant K of the resistance law (234.5 K for copper in IEEE tests)",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["power", "power", "temperature", "temperature", "conductor"],
            "power",
        )
    },
    evaluate: |values| {
        let constant = resistance_constant(values, 4)?;
        let (from, to) = (celsius(values, 2)?, celsius(values, 3)?);
        answer_of(
            "power",
            load_loss::load_loss_at(number(values, 0)?, number(values, 1)?, from, to, constant),
        )
    },
    meaning: "The load loss at the reference temperature: the ohmic part grows with the resistance, the \
        additional part falls with it.",
    formula: "p-dc c + (p - p-dc) / c, c = (K + theta-ref) / (K + theta), K = 235 for copper, 225 for \
        aluminium",
    source: "IEC 60076-1:2011, 11.4 and annex, from memory",
    example: "load-loss-at(157.959 kW, 131.894 kW, 22.4 °C, 75 °C, \"copper\") -> 180.489 kW",
};

pub(super) static IMPEDANCE_AT: Function = Function {
    name: "impedance-at",
    subject: SUBJECT,
    parameters: parameters![
        "z": "short-circuit impedance as measured, as a share of the rated one",
        "p": "load loss at rated current, at the temperature of the test",
        "p-ref": "load loss at the reference temperature",
        "s": "rated power to which z refers",
    ],
    variadic: false,
    check: |types| fixed(types, &["ratio", "power", "power", "power"], "ratio"),
    evaluate: |values| {
        let (z, p) = (number(values, 0)?, number(values, 1)?);
        answer_of(
            "ratio",
            load_loss::impedance_at(z, p, number(values, 2)?, number(values, 3)?),
        )
    },
    meaning: "The short-circuit impedance at the reference temperature; its reactance does not change.",
    formula: "sqrt(z² - (p / s)² + (p-ref / s)²)",
    source: "IEC 60076-1:2011, from memory",
    example: "impedance-at(11.9740 %, 157.959 kW, 180.489 kW, 40 MVA) -> 0.11976",
};

pub(super) static EFFICIENCY: Function = Function {
    name: "efficiency",
    subject: SUBJECT,
    parameters: parameters![
        "p-no-load": "no-load loss",
        "p-load": "load loss at rated current",
        "load": "current as a share of the rated one",
        "s": "rated power",
        "cos-phi": "power factor of the load",
    ],
    variadic: false,
    check: |types| {
        fixed(
            types,
            &["power", "power", "ratio", "power", "ratio"],
            "ratio",
        )
    },
    evaluate: |values| {
        let (no_load, loss, load) = (number(values, 0)?, number(values, 1)?, number(values, 2)?);
        answer_of(
            "ratio",
            load_loss::efficiency(no_load, loss, load, number(values, 3)?, number(values, 4)?),
        )
    },
    meaning: "The efficiency at a load.",
    formula: "1 - (p-no-load + load² p-load) / (load s cos-phi + p-no-load + load² p-load)",
    source: "physics",
    example: "efficiency(22.176 kW, 180.489 kW, 1, 40 MVA, 0.8) -> 0.993707",
};

pub(super) static VOLTAGE_DROP: Function = Function {
    name: "voltage-drop",
    subject: SUBJECT,
    parameters: parameters![
        "er": "resistive part of the impedance",
        "ex": "reactive part of the impedance",
        "load": "current as a share of the rated one",
        "cos-phi": "power factor of the load, current lagging",
    ],
    variadic: false,
    check: |types| fixed(types, &["ratio", "ratio", "ratio", "ratio"], "ratio"),
    evaluate: |values| {
        let (er, ex) = (number(values, 0)?, number(values, 1)?);
        answer_of(
            "ratio",
            load_loss::voltage_drop(er, ex, number(values, 2)?, number(values, 3)?),
        )
    },
    meaning: "By how much the voltage of the loaded winding falls, as a share of its no-load voltage.",
    formula: "a + 1 - sqrt(1 - b²), a = load (er cos-phi + ex sin-phi), b = load (ex cos-phi - er sin-phi)",
    source: "IEC 60076-8, clause 7, from memory",
    example: "voltage-drop(0.4512 %, 11.9675 %, 1, 0.8) -> 0.0797516",
};

plain_function!(
    LOAD_LOSS_AT_CURRENT = "load-loss-at-current" in SUBJECT,
    [
        "p" measured: "power" = "load loss as measured",
        "i" current: "current" = "current of the test",
        "i-rated" rated: "current" = "rated current",
    ] -> "power",
    load_loss::load_loss_at_current(measured, current, rated),
    "The load loss at rated current, at the temperature of the test.",
    "p (i-rated / i)²", "IEC 60076-1:2011, 11.4, from memory",
    "load-loss-at-current(77.40 kW, 146.965 A, 209.95 A) -> 157.959 kW",
);

plain_function!(
    ADDITIONAL_LOSS = "additional-loss" in SUBJECT,
    [
        "p" loss: "power" = "load loss at rated current",
        "p-dc" dc: "power" = "loss from the resistances at the same temperature",
    ] -> "power",
    load_loss::additional_loss(loss, dc),
    "The part of the load loss that direct current would not cause: eddies in the conductors, flux in clamps and tank.",
    "p - p-dc", "physics", "additional-loss(157.959 kW, 131.894 kW) -> 26.065 kW",
);

plain_function!(
    IMPEDANCE_VOLTAGE = "impedance-voltage" in SUBJECT,
    [
        "u" voltage: "voltage" = "voltage of the test",
        "i" current: "current" = "current of the test",
        "u-rated" u_rated: "voltage" = "rated voltage of the winding fed, on the tapping used",
        "i-rated" i_rated: "current" = "its rated current there",
    ] -> "ratio",
    load_loss::impedance(voltage, current, u_rated, i_rated),
    "The short-circuit impedance as a share of the rated one, at the temperature of the test.",
    "u / u-rated * i-rated / i", "physics",
    "impedance-voltage(9220 V, 146.965 A, 110 kV, 209.95 A) -> 0.11974",
);

plain_function!(
    RESISTIVE_PART = "resistive-part" in SUBJECT,
    [
        "p" loss: "power" = "load loss at rated current",
        "s" power: "apparent-power" = "rated power",
    ] -> "ratio",
    load_loss::resistive_part(loss, power),
    "The resistive part of the short-circuit impedance.", "p / s", "physics",
    "resistive-part(157.959 kW, 40 MVA) -> 0.00394898",
);

plain_function!(
    REACTIVE_PART = "reactive-part" in SUBJECT,
    [
        "z" z: "ratio" = "short-circuit impedance",
        "r" r: "ratio" = "its resistive part",
    ] -> "ratio",
    load_loss::reactance(z, r),
    "The reactive part of the short-circuit impedance, which does not change with temperature.",
    "sqrt(z² - r²)", "physics", "reactive-part(11.974 %, 0.3949 %) -> 0.119675",
);

plain_function!(
    IMPEDANCE_OHM = "impedance-ohm" in SUBJECT,
    [
        "z" z: "ratio" = "short-circuit impedance as a share",
        "u" voltage: "voltage" = "rated line voltage of the winding from which it is seen",
        "s" power: "apparent-power" = "power to which z refers",
    ] -> "impedance",
    load_loss::impedance_in_ohm(z, voltage, power),
    "The short-circuit impedance of a phase in ohm.", "z u² / s", "physics",
    "impedance-ohm(11.976 %, 110 kV, 40 MVA) -> 36.2274 ohm",
);

plain_function!(
    IMPEDANCE_ON_BASE = "impedance-on-base" in SUBJECT,
    [
        "z" z: "ratio" = "short-circuit impedance",
        "s" power: "apparent-power" = "power to which it refers",
        "s-new" new: "apparent-power" = "another power",
    ] -> "ratio",
    load_loss::impedance_on_base(z, power, new),
    "A short-circuit impedance referred to another power.", "z s-new / s", "physics",
    "impedance-on-base(7 %, 30 MVA, 100 MVA) -> 0.233333",
);

plain_function!(
    STAR_BRANCH = "star-branch" in SUBJECT,
    [
        "z-first" first: "ratio" = "impedance of the winding with one other",
        "z-second" second: "ratio" = "with the third, on the same power",
        "z-others" others: "ratio" = "of these two others with each other",
    ] -> "ratio",
    Ok::<f64, Domain>(load_loss::star_branches(first, second, others)[0]),
    "The branch of one winding in the star that stands for a three-winding unit; a small negative one is possible.",
    "(z-first + z-second - z-others) / 2", "physics", "star-branch(12 %, 21 %, 7 %) -> 0.13",
);

plain_function!(
    REGULATION_IEEE = "regulation-ieee" in SUBJECT,
    [
        "er" er: "ratio" = "resistive part of the impedance",
        "ex" ex: "ratio" = "reactive part",
        "load" load: "ratio" = "load as a share of rated",
        "cos-phi" cos_phi: "ratio" = "power factor, lagging",
    ] -> "ratio",
    load_loss::regulation_ieee(er, ex, load, cos_phi),
    "The regulation with rated voltage at the load, as IEEE counts it.",
    "sqrt((load er + cos)² + (load ex + sin)²) - 1", "IEEE C57.12.90, clause 14, from memory",
    "regulation-ieee(0.4512 %, 11.9675 %, 1, 0.8) -> 0.0794312",
);

plain_function!(
    BEST_LOAD = "best-load" in SUBJECT,
    [
        "p0" no_load: "power" = "no-load loss",
        "pk" load: "power" = "load loss at rated load",
    ] -> "ratio",
    load_loss::best_load(no_load, load),
    "The load at which the efficiency is highest.", "sqrt(p0 / pk)", "physics",
    "best-load(22.176 kW, 180.489 kW) -> 0.350523",
);

plain_function!(
    PEAK_EFFICIENCY_INDEX = "peak-efficiency-index" in SUBJECT,
    [
        "p0" no_load: "power" = "no-load loss",
        "pk" load: "power" = "load loss at rated load and reference temperature",
        "s" power: "apparent-power" = "rated power",
    ] -> "ratio",
    load_loss::peak_efficiency_index(no_load, load, power),
    "The highest efficiency of transmitted apparent power, no power for cooling counted.",
    "1 - 2 p0 / (s sqrt(p0 / pk))", "IEC TS 60076-20, from memory",
    "peak-efficiency-index(22.176 kW, 180.489 kW, 40 MVA) -> 0.996837",
);

plain_function!(
    ZERO_SEQUENCE_IMPEDANCE = "zero-sequence-impedance" in SUBJECT,
    [
        "u" voltage: "voltage" = "between the joined line terminals and neutral",
        "i" current: "current" = "in the neutral",
    ] -> "impedance",
    load_loss::zero_sequence_impedance(voltage, current),
    "The zero-sequence impedance of a phase.", "3 u / i", "IEC 60076-1:2011, 11.6, from memory",
    "zero-sequence-impedance(774 V, 75 A) -> 30.96 ohm",
);

plain_function!(
    LOSS_PENALTY = "loss-penalty" in SUBJECT,
    [
        "measured" measured: "power" = "loss as found",
        "guaranteed" guaranteed: "power" = "loss as guaranteed",
        "per-kilowatt" rate: "number" = "what the contract asks for each kilowatt above",
    ] -> "number",
    load_loss::loss_penalty(measured, guaranteed, rate),
    "What losses above the guarantee cost, in the money of the contract; 0 when the guarantee is met.",
    "per-kilowatt (measured - guaranteed) / 1 kW, not below 0", "the order",
    "loss-penalty(206.5 kW, 204 kW, 4000) -> 10000",
);

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn flux_of_the_specimen() {
        near("volts-per-turn", &[q("21 kV"), q("210")], "V", 100.0, 1e-9);
        near(
            "flux-density",
            &[q("100 V"), q("50 Hz"), q("0.265 m^2")],
            "T",
            1.6987,
            5e-5,
        );
        near(
            "flux-density",
            &[q("76.212471 V"), q("50 Hz"), q("0.2151007 m^2")],
            "T",
            1.594958,
            1e-5,
        );
        let message = refused("flux-density", &[q("100 V"), q("50 Hz"), q("0.265 m")]);
        assert!(
            message.starts_with("expected an area, found length"),
            "{message}"
        );
    }

    #[test]
    fn no_load_loss_of_the_specimen() {
        near(
            "no-load-loss",
            &[q("22.40 kW"), q("21000 V"), q("21210 V")],
            "kW",
            22.176,
            1e-9,
        );
    }

    #[test]
    fn load_loss_of_the_specimen() {
        let args = [
            q("157.959 kW"),
            q("131.894 kW"),
            q("22.4 °C"),
            q("75 °C"),
            name("copper"),
        ];
        near("load-loss-at", &args, "kW", 180.489, 2e-3);
        let args = [
            q("157.959 kW"),
            q("131.894 kW"),
            q("22.4 °C"),
            q("85 °C"),
            name("copper"),
        ];
        near("load-loss-at", &args, "kW", 184.937, 2e-3);
        let args = [
            q("157.959 kW"),
            q("131.894 kW"),
            q("22.4 °C"),
            q("85 °C"),
            q("234.5 K"),
        ];
        near("load-loss-at", &args, "kW", 184.991, 2e-3);
        let args = [
            q("157.959 kW"),
            q("131.894 kW"),
            q("22.4 °C"),
            q("85 °C"),
            q("235"),
        ];
        assert!(refused("load-loss-at", &args).contains("copper, aluminium or a constant"));
        for (constant, expected) in [("235 K", 180.489), ("225 K", 181.4313)] {
            let args = [
                q("157.959 kW"),
                q("131.894 kW"),
                q("22.4 °C"),
                q("75 °C"),
                q(constant),
            ];
            near("load-loss-at", &args, "kW", expected, 2e-3);
        }
    }

    #[test]
    fn impedance_of_the_specimen() {
        let args = [
            q("11.9740 %"),
            q("157.959 kW"),
            q("180.489 kW"),
            q("40 MVA"),
        ];
        near("impedance-at", &args, "%", 11.9760, 1e-4);
    }

    #[test]
    fn efficiency_and_voltage_drop_of_the_specimen() {
        for (load, cos_phi, expected) in [
            ("1", "1", 99.4959),
            ("1", "0.8", 99.3707),
            ("0.5", "1", 99.6646),
        ] {
            let args = [
                q("22.176 kW"),
                q("180.489 kW"),
                q(load),
                q("40 MVA"),
                q(cos_phi),
            ];
            near("efficiency", &args, "%", expected, 1e-4);
        }
        near(
            "voltage-drop",
            &[q("0.4512 %"), q("11.9675 %"), q("1"), q("0.8")],
            "%",
            7.9752,
            1e-4,
        );
        near(
            "voltage-drop",
            &[q("0.4512 %"), q("11.9675 %"), q("1"), q("1")],
            "%",
            1.1699,
            1e-4,
        );
    }
}
