//! Dielectric tests.

use super::Function;
use super::argument::{answer_of, fixed, number, parameters, plain_function};
use crate::physics::dielectric;

const SUBJECT: &str = "dielectric tests";

pub(super) static INDUCED_TEST_TIME: Function = Function {
    name: "induced-test-time",
    subject: SUBJECT,
    parameters: parameters!["f-rated": "rated frequency", "f-test": "frequency of the test"],
    variadic: false,
    check: |types| fixed(types, &["frequency", "frequency"], "time"),
    evaluate: |values| {
        answer_of(
            "time",
            dielectric::induced_test_time(number(values, 0)?, number(values, 1)?),
        )
    },
    meaning: "How long the enhanced voltage of the induced test is held: 60 s up to twice the rated \
        frequency, less above it, but never below 15 s. For equipment up to 800 kV.",
    formula: "120 s f-rated / f-test, at most 60 s, at least 15 s",
    source: "IEC 60076-3:2013, 11.2 and 11.3, from memory",
    example: "induced-test-time(50 Hz, 200 Hz) -> 30 s",
};

plain_function!(
    INDUCED_TEST_CYCLES = "induced-test-cycles" in SUBJECT,
    ["f" frequency: "frequency" = "frequency of the test"] -> "time",
    dielectric::induced_test_cycles(frequency),
    "How long 7200 cycles last at the test frequency.", "7200 / f", "IEEE C57.12.90, clause 10, from memory",
    "induced-test-cycles(180 Hz) -> 40 s",
);

plain_function!(
    TEST_FLUX_DENSITY = "test-flux-density" in SUBJECT,
    [
        "b" rated_flux: "flux-density" = "flux density at rated voltage and frequency",
        "u" voltage: "voltage" = "test voltage",
        "u-rated" rated_voltage: "voltage" = "rated voltage of the same terminals",
        "f-rated" rated: "frequency" = "rated frequency",
        "f" test: "frequency" = "frequency of the test",
    ] -> "flux-density",
    dielectric::test_flux_density(rated_flux, voltage / rated_voltage, rated, test),
    "The flux density of the core during an induced test.", "b u / u-rated * f-rated / f", "physics",
    "test-flux-density(1.6987 T, 220 kV, 110 kV, 50 Hz, 200 Hz) -> 0.84935 T",
);

plain_function!(
    CLEARANCE_FACTOR = "clearance-factor" in SUBJECT,
    ["altitude" altitude: "length" = "height above sea level"] -> "ratio",
    dielectric::clearance_factor(altitude),
    "By what factor a clearance in air grows with the altitude.", "1 + 1 % for each 100 m above 1000 m",
    "IEC 60076-3, from memory", "clearance-factor(1500 m) -> 1.05",
);

plain_function!(
    TEST_VOLTAGE_TO_EARTH = "test-voltage-to-earth" in SUBJECT,
    [
        "multiple" multiple: "ratio" = "test voltage as a multiple of the phase voltage, such as 1.58",
        "u-rated" rated: "voltage" = "rated line voltage on the tapping used",
    ] -> "voltage",
    dielectric::phase_test_voltage(multiple, rated),
    "The voltage from a phase to earth in an induced test.", "multiple u-rated / sqrt(3)", "physics",
    "test-voltage-to-earth(1.58, 110 kV) -> 100.343 kV",
);

plain_function!(
    CURRENT_RATIO_ERROR = "current-ratio-error" in SUBJECT,
    [
        "ratio" ratio: "ratio" = "rated ratio, primary over secondary current",
        "i-secondary" secondary: "current" = "secondary current",
        "i-primary" primary: "current" = "primary current",
    ] -> "ratio",
    dielectric::current_ratio_error(ratio, secondary, primary),
    "The ratio error of a current transformer.", "(ratio i-secondary - i-primary) / i-primary",
    "IEC 61869-2, from memory", "current-ratio-error(400, 1.496 A, 600 A) -> -0.00266667",
);

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

    #[test]
    fn voltages_of_the_induced_test() {
        let args = [q("40 %"), q("110 kV")];
        near("test-voltage-to-earth", &args, "kV", 25.403, 5e-4);
        let message = refused("test-voltage-to-earth", &[q("1.58"), q("0 V")]);
        assert!(message.contains("above zero"), "{message}");
        // Twice the voltage at the rated frequency would saturate the core.
        let args = |f| [q("1.6987 T"), q("220 kV"), q("110 kV"), q("50 Hz"), q(f)];
        near("test-flux-density", &args("50 Hz"), "T", 3.3974, 1e-4);
        near("clearance-factor", &[q("200 m")], "", 1.0, 1e-12);
        let args = [q("400"), q("0.748 A"), q("600 A")];
        near("current-ratio-error", &args, "%", -50.133, 1e-3);
    }

    #[test]
    fn time_by_frequency() {
        for (frequency, expected) in [
            ("50 Hz", 60.0),
            ("75 Hz", 60.0),
            ("100 Hz", 60.0),
            ("120 Hz", 50.0),
            ("150 Hz", 40.0),
            ("200 Hz", 30.0),
            ("250 Hz", 24.0),
            ("400 Hz", 15.0),
            ("500 Hz", 15.0),
        ] {
            near(
                "induced-test-time",
                &[q("50 Hz"), q(frequency)],
                "s",
                expected,
                1e-9,
            );
        }
        assert!(
            refused("induced-test-time", &[q("50 Hz"), q("60 s")])
                .starts_with("expected a frequency, found time")
        );
    }
}
