//! The plans that come with the program, as text.
//!
//! They extend each other: active part, finished unit, tests, delivery, and at the end a plan for each practice.
//! What is common stands in the first four; a unit names one of the last.

/// One built-in plan.
#[derive(Debug)]
pub struct BuiltinPlan {
    /// Its name.
    pub name: &'static str,
    /// How the document is called in findings.
    pub path: &'static str,
    /// Its text.
    pub text: &'static str,
    /// A unit may name it: it is whole. The others are parts that whole plans extend.
    pub whole: bool,
}

macro_rules! builtin {
    ($($name:literal, $whole:literal;)*) => {
        /// All built-in plans, each after those that it extends.
        pub const BUILTIN_PLANS: &[BuiltinPlan] = &[
            $(BuiltinPlan {
                name: $name,
                path: concat!("<built-in>/", $name, ".ubr"),
                text: include_str!(concat!($name, ".ubr")),
                whole: $whole,
            },)*
        ];
    };
}

builtin! {
    "oil-immersed-active-part", false;
    "oil-immersed-unit", false;
    "oil-immersed-tests", false;
    "oil-immersed-delivery", false;
    "oil-immersed-power", true;
    "oil-immersed-power-ieee", true;
}

/// Finds a built-in plan by its name.
pub fn find(name: &str) -> Option<&'static BuiltinPlan> {
    BUILTIN_PLANS.iter().find(|plan| plan.name == name)
}
