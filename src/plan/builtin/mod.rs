//! The plans that come with the program, as text.

/// One built-in plan.
#[derive(Debug)]
pub struct BuiltinPlan {
    /// Its name.
    pub name: &'static str,
    /// How the document is called in findings.
    pub path: &'static str,
    /// Its text.
    pub text: &'static str,
}

/// All built-in plans.
pub const BUILTIN_PLANS: &[BuiltinPlan] = &[BuiltinPlan {
    name: "oil-immersed-power",
    path: "<built-in>/oil-immersed-power.ubr",
    text: include_str!("oil-immersed-power.ubr"),
}];

/// Finds a built-in plan by its name.
pub fn find(name: &str) -> Option<&'static BuiltinPlan> {
    BUILTIN_PLANS.iter().find(|plan| plan.name == name)
}
