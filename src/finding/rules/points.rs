//! Rules about hold, witness and review points, releases and the order of work.

use crate::finding::{Rule, Severity};

/// `hold-passed`: work is recorded behind a hold point that is not released.
pub static HOLD_PASSED: Rule = Rule {
    name: "hold-passed",
    severity: Severity::Error,
    summary: "Work is recorded behind a hold point that is not released.",
    why: "A hold point stands where what comes next covers what is to be looked at. Past it, a look costs \
        draining, untanking or unwinding.",
    wrong: "stage winding
  height[HV, U] = 1613 mm       # H10 is not released
stage core-and-winding-assembly
  on 2026-03-04 by L.Novak",
    mend: "Stop, have the point inspected and released by the role that may. If it can no longer be \
        inspected, open a nonconformity; a release must bear the true time, never an earlier one.",
    reference: "ISO 9001:2015, 8.6; the plan",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `release-before-reading`: a release is dated before a reading that it covers.
pub static RELEASE_BEFORE_READING: Rule = Rule {
    name: "release-before-reading",
    severity: Severity::Error,
    summary: "A release is dated before a reading that it covers.",
    why: "Whoever released cannot have seen that reading. Either one of the times is wrong, or the release \
        was given on trust.",
    wrong: "height[HV, U] = 1613 mm on 2026-02-28 09:00
release H10 by M.Okafor on 2026-02-27 16:20",
    mend: "Release again after the last reading, or amend the time that was misread.",
    reference: "ISO 9001:2015, 8.6",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `released-over-failure`: a point is released although something it covers fails.
pub static RELEASED_OVER_FAILURE: Rule = Rule {
    name: "released-over-failure",
    severity: Severity::Error,
    summary: "A point is released although something it covers fails.",
    why: "A release says that everything behind it holds or was accepted by the right people. A failing \
        item needs a closed nonconformity with an accepting disposition first.",
    wrong: "height[HV, W] = 1619 mm          # limit 1615 mm
release H10 by M.Okafor on 2026-02-27 16:20",
    mend: "Open a nonconformity against the item, have it disposed of, agreed and closed, then release.",
    reference: "ISO 9001:2015, 8.6 and 8.7",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `released-incomplete`: a point is released although something it covers is not recorded.
pub static RELEASED_INCOMPLETE: Rule = Rule {
    name: "released-incomplete",
    severity: Severity::Error,
    summary: "A point is released although something it covers is not recorded.",
    why: "Nobody can have looked at what is not there.",
    wrong: "turns[HV, V] = ?
release H10 by M.Okafor on 2026-02-27 16:20",
    mend: "Record what is missing and release again, or state `n/a` with the reason.",
    reference: "ISO 9001:2015, 8.6",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `role-may-not-release`: the person has none of the roles that may act on this point.
pub static ROLE_MAY_NOT_RELEASE: Rule = Rule {
    name: "role-may-not-release",
    severity: Severity::Error,
    summary: "The person has none of the roles that may act on this point.",
    why: "The plan gives each point to a role, so that the one who decides is not the one under pressure \
        to go on.",
    wrong: "release H10 by L.Novak on 2026-02-27 16:20     # H10 is for quality; L.Novak has test",
    mend: "Have it released by a person with that role, or correct the roles in the register if they are \
        out of date.",
    reference: "ISO 9001:2015, 5.3 and 8.6",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `wrong-point-word`: the word does not fit the kind of the point.
pub static WRONG_POINT_WORD: Rule = Rule {
    name: "wrong-point-word",
    severity: Severity::Error,
    summary: "The word does not fit the kind of the point.",
    why: "A hold point is released, a witness point is witnessed or waived, a review point is reviewed. \
        Witnessing a hold point does not release it.",
    wrong: "witnessed H10 by M.Okafor on 2026-02-27 16:20",
    mend: "Use the word of the point: `release` for hold, `witnessed` or `waived` for witness, `reviewed` \
        for review.",
    reference: "grammar/ubr.ebnf, the normative grammar of the language",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `unknown-point`: the plan has no such point in this stage.
pub static UNKNOWN_POINT: Rule = Rule {
    name: "unknown-point",
    severity: Severity::Error,
    summary: "The plan has no such point in this stage.",
    why: "A release of a mistyped point releases nothing; the real one stays open.",
    wrong: "release H1O by M.Okafor on 2026-02-27 16:20     # letter O in place of zero",
    mend: "Use the name in the plan; the nearest is named. A point is released in its own stage.",
    reference: "common practice, no source",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `stage-out-of-order`: a stage is recorded although a stage that it comes after has not begun.
pub static STAGE_OUT_OF_ORDER: Rule = Rule {
    name: "stage-out-of-order",
    severity: Severity::Error,
    summary: "A stage is recorded although a stage that it comes after has not begun.",
    why: "The order of stages is the order in which things can still be seen. What was skipped is usually \
        what was forgotten.",
    wrong: "stage drying
  on 2026-04-02 by L.Novak        # connections, which drying comes after, is empty",
    mend: "Record the earlier stage, or correct `after` in the plan if the order is truly free.",
    reference: "common practice, no source",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `time-runs-backwards`: times in the record run backwards.
pub static TIME_RUNS_BACKWARDS: Rule = Rule {
    name: "time-runs-backwards",
    severity: Severity::Error,
    summary: "Times in the record run backwards.",
    why: "A reading before its stage could begin, or a log whose clock goes back, is a wrong date or a \
        wrong clock, and everything judged by time hangs on it.",
    wrong: "log drying
  time              pressure(mbar)
  2026-04-02 10:00  0.8
  2026-04-02 09:30  0.7",
    mend: "Find the wrong time. Amend a reading's; for a log, note the clock fault and export again with \
        the clock set.",
    reference: "ISO 8601-1:2019 for the notation; common practice for the rule",
    caution: "",
};
