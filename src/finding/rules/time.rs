//! Rules about dates and times, and about who is told when.

use crate::finding::{Rule, Severity};

/// `ambiguous-time`: a time in the hour that is repeated when the clocks go back.
pub static AMBIGUOUS_TIME: Rule = Rule {
    name: "ambiguous-time",
    severity: Severity::Error,
    summary: "A time stands in the hour that is repeated when the clocks go back, without its offset.",
    why: "Two instants an hour apart bear that time. Nothing that hangs on it can be judged: order, holding \
        times, time in the open. In a log the order of the rows tells which of the two is meant, as soon as \
        the clock steps back in it.",
    wrong: "zone Europe/Vienna
vacuum-on = 2026-10-25 02:30",
    mend: "Write the offset from UTC that the clock had: `2026-10-25 02:30 +02:00` before the clocks went \
        back, `2026-10-25 02:30 +01:00` after.",
    reference: "ISO 8601-1:2019, 4.3.13 (time shift), from memory; zones after the IANA list",
    caution: "",
};

/// `time-does-not-exist`: a time that the clocks skipped when they went forward.
pub static TIME_DOES_NOT_EXIST: Rule = Rule {
    name: "time-does-not-exist",
    severity: Severity::Error,
    summary: "A time stands in the hour that the clocks skipped when they went forward.",
    why: "No clock of that zone showed it. Either it is misread, or the clock was not set forward and other \
        times of that day are an hour off too.",
    wrong: "zone Europe/Vienna
vacuum-on = 2026-03-29 02:30",
    mend: "Find out what was meant. A clock that was not set forward still had the old offset: \
        `2026-03-29 02:30 +01:00`.",
    reference: "ISO 8601-1:2019, 4.3.13 (time shift), from memory; zones after the IANA list",
    caution: "",
};

/// `offset-does-not-fit`: an offset that the record's zone does not have at that time.
pub static OFFSET_DOES_NOT_FIT: Rule = Rule {
    name: "offset-does-not-fit",
    severity: Severity::Error,
    summary: "An offset from UTC is written that the record's zone does not have at that time.",
    why: "The time or its offset is wrong by whole hours, or the record states the wrong zone; then all its \
        other times are wrong too.",
    wrong: "zone Europe/Vienna
release H10 by M.Okafor on 2026-07-01 16:20 +01:00     # it is +02:00 in July",
    mend: "Write the offset that holds there on that day, or none, or mend the record's `zone`. `Z` in a log \
        file means UTC and fits everywhere.",
    reference: "ISO 8601-1:2019, 4.3.13 (time shift), from memory; zones after the IANA list",
    caution: "",
};

/// `time-of-day-missing`: an event on whose time a check hangs is written as a day alone.
pub static TIME_OF_DAY_MISSING: Rule = Rule {
    name: "time-of-day-missing",
    severity: Severity::Error,
    summary: "An event on whose time of day a judgement hangs is written as a day without its time.",
    why: "A day alone may be any of its minutes. Time in the open, standing and holding times are counted in \
        hours, so a check or a limit could hold or fail, a `when` could be true or false, and none is judged. Where it comes out the same for every \
        minute of the day nothing is asked.",
    wrong: "tank-closed = 2026-04-14          # the plan: require tank-closed - oven-opened <= 16 h",
    mend: "Write the time as it was noted: `tank-closed = 2026-04-14 09:40`. A time that nobody noted is answered \
        by a nonconformity against what is left open.",
    reference: "ISO 8601-1:2019 for the notation; common practice for the rule",
    caution: "",
};

/// `dated-in-the-future`: something is dated after today.
pub static DATED_IN_THE_FUTURE: Rule = Rule {
    name: "dated-in-the-future",
    severity: Severity::Error,
    summary: "Something is dated after today.",
    why: "What has not happened yet cannot have been read or released. Most often the year or the month is a \
        slip of the pen; at worst a release was written in advance.",
    wrong: "release H10 by M.Okafor on 2062-02-27 16:20",
    mend: "Write the day on which it happened. Today is the day in the record's zone, or that given with \
        `--today`, for a computer whose date is wrong or to judge a record as it stood.",
    reference: "common practice, no source",
    caution: "",
};

/// `notice-missing`: a witness point that needs notice was attended or waived without any.
pub static NOTICE_MISSING: Rule = Rule {
    name: "notice-missing",
    severity: Severity::Error,
    summary: "A point whose plan asks for notice was witnessed or waived, and no notification is recorded.",
    why: "Nothing shows that those who have the right to attend were told in time. A waiver without a \
        notification is the first thing that is disputed.",
    wrong: "# the plan: witness W20 \"Ratio\" by customer notice 5 d
waived W20 by S.Verhoeven on 2026-03-30 \"letter of 2026-03-28\"",
    mend: "Add the notification that was given, with its own date: \
        `notified W20 by L.Novak on 2026-03-20 \"letter 41\"`.",
    reference: "ISO 10005:2018 (quality plans), from memory; the order",
    caution: "",
};

/// `notice-too-short`: the notice of a witness point was shorter than the plan asks for.
pub static NOTICE_TOO_SHORT: Rule = Rule {
    name: "notice-too-short",
    severity: Severity::Warning,
    summary: "The notice given of a witness point was shorter than the plan asks for.",
    why: "Those who have the right to attend were given less time than was agreed. Notice in whole days is \
        counted in days of the calendar, in hours by the clock.",
    wrong: "# the plan: witness W20 \"Ratio\" by customer notice 5 d
notified W20 by L.Novak on 2026-03-28 \"letter 41\"
witnessed W20 by S.Verhoeven on 2026-03-30 14:00",
    mend: "Have it agreed in writing that the shorter notice is accepted, and attach the letter. Never date a \
        notification earlier than it was sent.",
    reference: "ISO 10005:2018 (quality plans), from memory; the order",
    caution: "",
};

/// `witness-passed`: work went on past a witness point that was neither attended nor waived.
pub static WITNESS_PASSED: Rule = Rule {
    name: "witness-passed",
    severity: Severity::Error,
    summary: "Work went on past a witness point that was neither attended nor waived by then.",
    why: "Whoever had the right to see it can no longer do so without undoing what came after. A waiver \
        written afterwards does not say that the right was given up in time.",
    wrong: "# W20 is open
release H20 by M.Okafor on 2026-03-31 11:00",
    mend: "If it was attended or waived, record it with its true date. Else tell those concerned and raise a \
        nonconformity; repeat the test where they ask for it.",
    reference: "ISO 9001:2015, 8.6; ISO 10005:2018 (quality plans), from memory",
    caution: "",
};

/// `review-passed`: work went on past a review point that was not reviewed.
pub static REVIEW_PASSED: Rule = Rule {
    name: "review-passed",
    severity: Severity::Warning,
    summary: "Work went on past a review point that was not reviewed by then.",
    why: "The papers of a stage are reviewed so that what is wrong in them is found while it can be mended. \
        A review can be made up for, so this is a warning.",
    wrong: "# R5 is open
release H20 by M.Okafor on 2026-03-31 11:00",
    mend: "Have the papers reviewed now and record it with its true date.",
    reference: "ISO 9001:2015, 8.6",
    caution: "",
};

/// `amended-after-release`: a reading was amended after the release that covers it.
pub static AMENDED_AFTER_RELEASE: Rule = Rule {
    name: "amended-after-release",
    severity: Severity::Error,
    summary: "A reading was amended after the release of the point that covers it.",
    why: "Whoever released looked at the old value. The new one, even a better one, was released by nobody.",
    wrong: "release H10 by M.Okafor on 2026-02-27 16:20
amend height[HV, U] = 1613 mm was 1631 mm by L.Novak on 2026-03-02 08:10 because \"figures turned round\"",
    mend: "Have the point released again below the amendment: a further \
        `release H10 by M.Okafor on 2026-03-02 09:00`. The first release stays.",
    reference: "ISO 9001:2015, 7.5.3 and 8.6",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `released-own-reading`: the releaser recorded readings of the stage.
pub static RELEASED_OWN_READING: Rule = Rule {
    name: "released-own-reading",
    severity: Severity::Error,
    summary: "The person who acted at the point recorded readings of its stage, which the plan forbids.",
    why: "The point exists so that a second pair of eyes looks at the work. Nobody finds their own misreading.",
    wrong: "# the plan: hold H90 \"Tests complete\" by test, quality other than measurer
on 2026-05-11 08:00 by T.Lindgren
release H90 by T.Lindgren on 2026-05-12 16:00",
    mend: "Have it released by another person with the role. Never change the name of whoever measured.",
    reference: "ISO 9001:2015, 8.6; common practice for the separation of duties",
    caution: "A hold point protects people as well as the unit. Work past it only when it is released; local \
        codes, the works' rules and licensed practice come first, and this tool authorises nothing.",
};

/// `reading-not-independent`: two readings that two people have to make are by one person.
pub static READING_NOT_INDEPENDENT: Rule = Rule {
    name: "reading-not-independent",
    severity: Severity::Error,
    summary: "Two readings that have to be made independently of each other are by the same person.",
    why: "A second count repeats what the first found when the same person makes it: the figure is known.",
    wrong: "# the plan: reading second-count[winding, phase] : count
#             independent of turns
turns[HV, U] = 880 by L.Novak
second-count[HV, U] = 880 by L.Novak",
    mend: "Have another person make the second reading, without knowing the first, and record it under \
        their own name.",
    reference: "common practice, no source",
    caution: "",
};
