//! Rules about plans: whether a plan can be evaluated and says where its limits come from.

use crate::finding::{Rule, Severity};

/// `dimension-mismatch`: two sides of an expression measure different things.
pub static DIMENSION_MISMATCH: Rule = Rule {
    name: "dimension-mismatch",
    severity: Severity::Error,
    summary: "Two sides of an expression measure different things.",
    why: "Volts cannot be compared with ohms, and a temperature cannot be added to a temperature. The plan \
        is checked before any unit is, so that the slip shows at the desk and not at the test bay.",
    wrong: "check insulation
  require resistance[HV, U] <= 5 kV",
    mend: "Bring both sides to one dimension; the message names both and the part of the expression.",
    reference: "SI Brochure, 9th edition",
    caution: "",
};

/// `unknown-function`: the function is not known.
pub static UNKNOWN_FUNCTION: Rule = Rule {
    name: "unknown-function",
    severity: Severity::Error,
    summary: "The function is not known.",
    why: "Physics comes from a fixed list of documented functions, each with its formula and source; a \
        plan cannot bring its own.",
    wrong: "calc r75[winding, phase] = resistance-to(resistance[winding, phase], 75 °C)",
    mend: "Use a listed function; the nearest is named. `stagebook explain` with no word lists all.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `wrong-arguments`: the function is called with the wrong number or kind of arguments.
pub static WRONG_ARGUMENTS: Rule = Rule {
    name: "wrong-arguments",
    severity: Severity::Error,
    summary: "The function is called with the wrong number or kind of arguments.",
    why: "A function with its arguments in the wrong order may still give a number, only not the right \
        one. Kinds and dimensions of all arguments are checked.",
    wrong: "calc r75 = resistance-at(75 °C, resistance[HV, U])",
    mend: "Give the arguments as the function's page lists them: `stagebook explain resistance-at`.",
    reference: "common practice, no source",
    caution: "",
};

/// `calculation-cycle`: calculated values depend on each other in a circle.
pub static CALCULATION_CYCLE: Rule = Rule {
    name: "calculation-cycle",
    severity: Severity::Error,
    summary: "Calculated values depend on each other in a circle.",
    why: "A value that needs itself can never be computed. The circle is listed.",
    wrong: "calc a = b + 1
calc b = a - 1",
    mend: "Compute one of them from readings or design values.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `stage-cycle`: stages come after each other in a circle.
pub static STAGE_CYCLE: Rule = Rule {
    name: "stage-cycle",
    severity: Severity::Error,
    summary: "Stages come after each other in a circle.",
    why: "In a circle no stage could ever begin, and no hold point would stop anything.",
    wrong: "stage winding
  after drying
stage drying
  after winding",
    mend: "Take one `after` out of the circle.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `set-without-source`: a set has neither members nor a design value to come from.
pub static SET_WITHOUT_SOURCE: Rule = Rule {
    name: "set-without-source",
    severity: Severity::Error,
    summary: "A set has neither members nor a design value to come from.",
    why: "Without members no reading over the set is asked of any unit, and its checks run over nothing.",
    wrong: "set winding",
    mend: "List the members, `set phase = U V W`, or name the design value, `set winding from \
        design.windings`.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `hold-without-role`: a hold point does not say who may release it.
pub static HOLD_WITHOUT_ROLE: Rule = Rule {
    name: "hold-without-role",
    severity: Severity::Error,
    summary: "A hold point does not say who may release it.",
    why: "A hold that anybody may release holds nothing.",
    wrong: r#"hold H10 "Windings cleared for assembly""#,
    mend: "Name the role: `hold H10 \"Windings cleared for assembly\" by quality`.",
    reference: "ISO 9001:2015, 8.6 (release by an authorised person)",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `check-never-applies`: the condition of this check can never be met.
pub static CHECK_NEVER_APPLIES: Rule = Rule {
    name: "check-never-applies",
    severity: Severity::Warning,
    summary: "The condition of this check can never be met.",
    why: "The check looks like a safeguard and guards nothing.",
    wrong: "check tap-order
  when 1 kV > 2 kV
  require ratio[1, U] > ratio[2, U]",
    mend: "Correct the condition, or drop the check with a reason.",
    reference: "common practice, no source",
    caution: "",
};

/// `plan-extends-itself`: a plan extends itself, directly or over other plans.
pub static PLAN_EXTENDS_ITSELF: Rule = Rule {
    name: "plan-extends-itself",
    severity: Severity::Error,
    summary: "A plan extends itself, directly or over other plans.",
    why: "Inheritance in a circle has no beginning, so no limit of such a plan is settled.",
    wrong: "plan works-plan extends works-plan",
    mend: "Name the plan that it is built on: `plan works-plan extends oil-immersed-power rev C`.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};

/// `plan-too-large`: the sets of the plan make more than 1,000,000 instances.
pub static PLAN_TOO_LARGE: Rule = Rule {
    name: "plan-too-large",
    severity: Severity::Error,
    summary: "The sets of the plan make more than 1,000,000 instances.",
    why: "Every reading and check is judged once for each combination of its indices. The bound keeps \
        every plan safe to run, wherever it comes from.",
    wrong: "set step = 1 2 3 …      # 200 members
reading x[step, tap, phase, winding] : number",
    mend: "Index each reading only by what it is really taken for; keep series over time in a `log`.",
    reference: "limit of this program",
    caution: "",
};

/// `limit-without-source`: a limit or check does not say where it comes from.
pub static LIMIT_WITHOUT_SOURCE: Rule = Rule {
    name: "limit-without-source",
    severity: Severity::Warning,
    summary: "A limit or check does not say where it comes from.",
    why: "A limit without a source cannot be defended against a customer and cannot be kept up to date \
        when its standard changes.",
    wrong: "reading no-load-loss : power
  limit <= design.guaranteed-no-load-loss",
    mend: "Add the line: `source \"IEC 60076-1:2011, clause 10\"`, or `source common-practice`, `works`, \
        `order`, `physics`.",
    reference: "common practice, no source",
    caution: "",
};

/// `limit-not-provable`: a limit that is decided guarded asks for exactly one value of what is measured.
pub static LIMIT_NOT_PROVABLE: Rule = Rule {
    name: "limit-not-provable",
    severity: Severity::Warning,
    summary: "A limit that is decided guarded asks for exactly one value of what is measured.",
    why: "No reading with an uncertainty above zero can prove that something is exactly so: the limit drawn in \
        leaves nothing. Such a limit is compared as it stands, and the plan says less than it seems to.",
    wrong: "reading height : length
  limit = 1612 mm
  decide guarded",
    mend: "Give it a tolerance: `limit 1612 mm +- 2 mm`; or write `decide simple` for it. What is counted has \
        no uncertainty and may be asked for exactly.",
    reference: "JCGM 106:2012, 8.3.2, from memory",
    caution: "",
};

/// `relax-without-reason`: a limit is relaxed or dropped without a reason.
pub static RELAX_WITHOUT_REASON: Rule = Rule {
    name: "relax-without-reason",
    severity: Severity::Error,
    summary: "A limit is relaxed or dropped without a reason.",
    why: "A works may relax an inherited limit, but someone must answer for it later, and the reason is \
        what is asked for first.",
    wrong: "plan works-plan extends oil-immersed-power
relax winding.height
  limit design.height[winding]",
    mend: "State it: `relax winding.height because \"agreed with customer, letter of 2026-01-12\"`.",
    reference: "ISO 9001:2015, 8.2.4 (changes to requirements)",
    caution: "",
};

/// `no-such-target`: what is to be tightened, relaxed, dropped or added to does not exist in the inherited plan.
pub static NO_SUCH_TARGET: Rule = Rule {
    name: "no-such-target",
    severity: Severity::Error,
    summary: "What is to be tightened, relaxed, dropped or added to does not exist in the inherited plan.",
    why: "The change would have no effect, and the works would go on believing that the tighter limit is \
        in force.",
    wrong: "tighten winding.hight
  limit <= 1613 mm",
    mend: "Name it as stage.name: `tighten winding.height`.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "",
};
