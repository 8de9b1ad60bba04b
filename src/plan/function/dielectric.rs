//! Dielectric tests.

use super::Function;
use super::argument::{answer_of, fixed, number, parameters};
use crate::physics::dielectric;

pub(super) static INDUCED_TEST_TIME: Function = Function {
    name: "induced-test-time",
    subject: "dielectric tests",
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

#[cfg(test)]
mod tests {
    use super::super::argument::tested::*;

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
