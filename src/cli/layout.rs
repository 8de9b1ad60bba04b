//! Small pieces of layout that several commands share.

use crate::finding::printable;
use crate::finding::summary::{
    Counts, LotSummary, PointKind, PointState, StageState, StageSummary, TypeTestState, UnitSummary,
};

/// `1 error`, `2 errors`.
pub(super) fn counted(count: usize, word: &str) -> String {
    let s = if count == 1 { "" } else { "s" };
    format!("{} {word}{s}", thousands(count))
}

/// `12,345`.
pub(super) fn thousands(count: usize) -> String {
    let digits = count.to_string();
    let mut out = String::new();
    for (index, digit) in digits.chars().enumerate() {
        if index > 0 && (digits.len() - index).is_multiple_of(3) {
            out.push(',');
        }
        out.push(digit);
    }
    out
}

/// Fills up with spaces to `width` characters.
pub(super) fn pad(text: &str, width: usize) -> String {
    let fill = width.saturating_sub(text.chars().count());
    format!("{text}{}", " ".repeat(fill))
}

/// The widest of the texts, in characters.
pub(super) fn widest<'a>(texts: impl Iterator<Item = &'a str>) -> usize {
    texts.map(|text| text.chars().count()).max().unwrap_or(0)
}

/// At most `width` characters, the rest cut off with a sign.
pub(super) fn clip(text: &str, width: usize) -> String {
    match text.char_indices().nth(width) {
        None => text.to_string(),
        Some(_) => {
            let kept: String = text.chars().take(width.saturating_sub(1)).collect();
            format!("{}…", kept.trim_end())
        }
    }
}

/// What a stage is called: its title, or its name where it has none.
pub(super) fn stage_title(stage: &StageSummary) -> &str {
    if stage.title.is_empty() {
        &stage.name
    } else {
        &stage.title
    }
}

/// The title of the stage that the unit has reached.
pub(super) fn reached(unit: &UnitSummary) -> &str {
    let name = match &unit.stage_reached {
        Some(name) => name,
        None => return "nothing recorded",
    };
    unit.stages
        .iter()
        .find(|stage| stage.name == *name)
        .map_or(name, stage_title)
}

/// How many of the unit's points are done (or waived), open, and passed over.
pub(super) fn points(unit: &UnitSummary) -> (usize, usize, usize) {
    let mut sums = (0, 0, 0);
    for point in applicable(unit).flat_map(|stage| &stage.points) {
        match point.state {
            PointState::Done | PointState::Waived => sums.0 += 1,
            PointState::Open => sums.1 += 1,
            PointState::Passed => sums.2 += 1,
        }
    }
    sums
}

/// The stages that this unit has.
pub(super) fn applicable(unit: &UnitSummary) -> impl Iterator<Item = &StageSummary> {
    unit.stages
        .iter()
        .filter(|stage| stage.state != StageState::NotApplicable)
}

/// The first hold point that is not released, with its stage.
pub(super) fn next_hold(
    unit: &UnitSummary,
) -> Option<(&StageSummary, &crate::finding::summary::PointSummary)> {
    applicable(unit).find_map(|stage| {
        let point = stage.points.iter().find(|point| {
            point.kind == PointKind::Hold
                && matches!(point.state, PointState::Open | PointState::Passed)
        });
        point.map(|point| (stage, point))
    })
}

/// `KFT-0412: unit 2 of 3, type tests on KFT-0412-1: complete`.
pub(super) fn lot_words(lot: &LotSummary) -> String {
    let mut words = printable::text(&lot.name).into_owned();
    if let Some(number) = lot.number {
        words.push_str(&format!(": unit {number}"));
        if let Some(total) = lot.total {
            words.push_str(&format!(" of {total}"));
        }
    }
    match (&lot.state, &lot.type_tested) {
        (TypeTestState::None, _) => return words,
        (_, Some(serial)) => {
            words.push_str(&format!(", type tests on {}", printable::text(serial)));
        }
        (TypeTestState::NotNamed, None) => words.push_str(", type-tested unit"),
        (_, None) => words.push_str(", type tests on this unit"),
    }
    words.push_str(&format!(": {}", lot.state.word()));
    if let TypeTestState::Open(open) = &lot.state {
        words.push_str(&format!(" ({})", open.join("; ")));
    }
    words
}

/// What a stage still has to record: `ratio 17, resistance 6`.
pub(super) fn pending_words(stage: &StageSummary) -> String {
    let words: Vec<String> = stage
        .pending
        .iter()
        .map(|(name, count)| {
            if *count == 1 {
                name.to_string()
            } else {
                format!("{name} {}", thousands(*count as usize))
            }
        })
        .collect();
    words.join(", ")
}

/// How many readings the counts are about.
pub(super) fn asked(counts: &Counts) -> usize {
    (counts.recorded + counts.pending + counts.missing) as usize
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_widths() {
        assert_eq!(counted(1, "error"), "1 error");
        assert_eq!(counted(12_345, "line"), "12,345 lines");
        assert_eq!(thousands(999), "999");
        assert_eq!(clip("Harrow Vale substation", 11), "Harrow Val…");
        assert_eq!(pad("°C", 4), "°C  ");
    }
}
