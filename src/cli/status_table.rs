//! The tables of `stagebook status`.

use super::Screen;
use super::layout::{
    applicable, asked, clip, lot_words, next_hold, pad, pending_words, points, reached,
    stage_title, thousands, widest,
};
use crate::finding::printable;
use crate::finding::summary::{
    Counts, PointKind, PointState, PointSummary, SealState, StageState, StageSummary, UnitSummary,
};
use crate::finding::terminal::{Paint, wrap};

/// Width of a bar, in characters.
const BAR: usize = 12;
/// The widest a stage's title may make its column.
const TITLE: usize = 30;
/// Width of the words at the left below a table.
const HEAD: usize = 16;
/// Text above and below the table is wrapped at this column.
const WIDTH: usize = 100;

/// One line a unit: serial, how far, bar, counts, the hold point that stops it, title.
pub(super) fn overview(units: &[UnitSummary], screen: &Screen) -> String {
    let serials = widest(units.iter().map(|unit| &*unit.serial)).max(4);
    let stages = widest(units.iter().map(reached)).max(7);
    let mut out = String::new();
    let head = format!(
        "{}  {}  {}  {:>9}  {:>7}  {:>7}  {}  {}",
        pad("unit", serials),
        pad("reached", stages),
        pad("", BAR),
        "recorded",
        "pending",
        "failing",
        pad("next hold", 10),
        "title"
    );
    line(&screen.style.paint(Paint::Dim, head.trim_end()), &mut out);
    for unit in units {
        let hold = match next_hold(unit) {
            Some((_, point)) => &*point.name,
            None => "none",
        };
        let counts = &unit.counts;
        let mut text = screen
            .style
            .paint(Paint::Bold, &pad(&printable::text(&unit.serial), serials));
        text.push_str(&format!(
            "  {}  {}  {:>9}  {:>7}  {}  {}  {}",
            pad(reached(unit), stages),
            bar(counts, screen),
            thousands(counts.recorded as usize),
            thousands(counts.pending as usize),
            failing(counts, 7, screen),
            pad(hold, 10),
            clip(&printable::text(&unit.title), 40),
        ));
        line(&text, &mut out);
    }
    out
}

/// The table of one unit: its stages, then what stops it and what is to be recorded.
pub(super) fn unit(unit: &UnitSummary, screen: &Screen) -> String {
    let style = screen.style;
    let mut out = String::new();
    let serial = printable::text(&unit.serial);
    let beside = WIDTH.saturating_sub(serial.chars().count() + 2);
    let title = wrap(&printable::text(&unit.title), beside.max(WIDTH / 2));
    for (index, part) in title.iter().enumerate() {
        let head = match index {
            0 => format!("{}  ", style.paint(Paint::Bold, &serial)),
            _ => "  ".to_owned(),
        };
        line(&format!("{head}{part}"), &mut out);
    }
    let (done, open, passed) = points(unit);
    let mut about = vec![
        printable::text(&unit.path).to_string(),
        format!("plan {}", unit.plan),
        format!("reached: {}", reached(unit)),
        format!("points: {done} done"),
        format!("{open} open"),
    ];
    if passed > 0 {
        about.push(format!("{passed} passed over"));
    }
    for part in listed(&about) {
        line(&style.paint(Paint::Dim, &part), &mut out);
    }
    out.push('\n');
    let titles = unit
        .stages
        .iter()
        .map(|stage| shown_title(stage, TITLE).chars().count())
        .max()
        .unwrap_or(5)
        .max(5);
    let head = format!(
        "  {}  {}  {:>9}  {:>7}  {:>7}  points",
        pad("stage", titles),
        pad("", BAR),
        "recorded",
        "pending",
        "failing"
    );
    line(&style.paint(Paint::Dim, &head), &mut out);
    let stop = next_hold(unit).map(|(stage, point)| (stage.name.clone(), point.name.clone()));
    for stage in &unit.stages {
        let stops = |point: &PointSummary| {
            stop.as_ref()
                .is_some_and(|(at, name)| *at == stage.name && *name == point.name)
        };
        stage_line(stage, titles, stops, screen, &mut out);
    }
    below(unit, screen, &mut out);
    out
}

/// The stage's title with its round after rework, at most `width` characters.
fn shown_title(stage: &StageSummary, width: usize) -> String {
    let round = if stage.round > 1 {
        format!(" (round {})", stage.round)
    } else {
        String::new()
    };
    format!(
        "{}{round}",
        clip(stage_title(stage), width.saturating_sub(round.len()))
    )
}

fn stage_line(
    stage: &StageSummary,
    titles: usize,
    stops: impl Fn(&PointSummary) -> bool,
    screen: &Screen,
    out: &mut String,
) {
    let style = screen.style;
    let title = shown_title(stage, titles);
    if stage.state == StageState::NotApplicable {
        line(
            &style.paint(
                Paint::Dim,
                &format!("  {}  not for this unit", pad(&title, titles)),
            ),
            out,
        );
        return;
    }
    let counts = &stage.counts;
    let asked = asked(counts);
    let recorded = if asked == 0 {
        "-".to_string()
    } else {
        format!("{}/{asked}", counts.recorded)
    };
    let pending = if counts.pending == 0 {
        String::new()
    } else {
        thousands(counts.pending as usize)
    };
    let mut points: Vec<String> = stage
        .points
        .iter()
        .map(|point| point_words(point, stops(point), screen))
        .collect();
    if counts.not_proven > 0 {
        let doubtful = format!("{} not proven", thousands(counts.not_proven as usize));
        points.push(screen.style.paint(Paint::Red, &doubtful));
    }
    let text = format!(
        "  {}  {}  {recorded:>9}  {pending:>7}  {}  {}",
        pad(&title, titles),
        bar(counts, screen),
        failing(counts, 7, screen),
        points.join("  ")
    );
    line(&text, out);
}

/// A list over as many lines as it needs. Lines end between its parts; inside one only where it fills more than a line.
fn listed(parts: &[String]) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for (index, part) in parts.iter().enumerate() {
        let comma = if index + 1 < parts.len() { "," } else { "" };
        let part = format!("{part}{comma}");
        let width = |text: &str| text.chars().count();
        match lines.last_mut() {
            Some(line) if width(line) + 1 + width(&part) <= WIDTH => {
                line.push(' ');
                line.push_str(&part);
            }
            _ => lines.extend(wrap(&part, WIDTH)),
        }
    }
    lines
}

/// `H10 released`, `W20 open`; the hold that stops the work stands out.
fn point_words(point: &PointSummary, stops: bool, screen: &Screen) -> String {
    let state = match (point.state, point.kind) {
        (PointState::Done, PointKind::Hold) => "released",
        (PointState::Done, PointKind::Witness) => "witnessed",
        (PointState::Done, PointKind::Review) => "reviewed",
        (PointState::Open, _) if stops => "holds",
        (state, _) => state.word(),
    };
    let (sealed, wrong) = match point.seal {
        SealState::NotAsked => ("", None),
        SealState::Missing => (", not sealed", Some(Paint::Yellow)),
        SealState::Valid => (", sealed", None),
        SealState::Signed => (", signed", None),
        SealState::Broken => (", seal broken", Some(Paint::Red)),
    };
    let paint = match point.state {
        PointState::Done | PointState::Waived => Paint::Green,
        PointState::Passed => Paint::Red,
        PointState::Open if stops => Paint::Yellow,
        PointState::Open => Paint::Dim,
    };
    screen.style.paint(
        wrong.unwrap_or(paint),
        &format!("{} {state}{sealed}", point.name),
    )
}

/// What stops the work, what was passed over, what is missing, what is to be recorded.
fn below(unit: &UnitSummary, screen: &Screen, out: &mut String) {
    let mut notes: Vec<(String, String, Paint)> = Vec::new();
    for stage in applicable(unit) {
        for point in stage
            .points
            .iter()
            .filter(|point| point.state == PointState::Passed)
        {
            notes.push((
                "passed over".to_string(),
                point_name(point, stage),
                Paint::Red,
            ));
        }
    }
    if let Some((stage, point)) = next_hold(unit) {
        let text = format!(
            "{}; nothing behind it may begin before its release",
            point_name(point, stage)
        );
        notes.push(("next hold".to_string(), text, Paint::Yellow));
    }
    if unit.counts.missing > 0 {
        let stages: Vec<String> = applicable(unit)
            .filter(|stage| stage.counts.missing > 0)
            .map(|stage| format!("{} {}", stage_title(stage), stage.counts.missing))
            .collect();
        notes.push(("missing".to_string(), stages.join(", "), Paint::Red));
    }
    if let Some(lot) = &unit.lot {
        notes.push(("lot".to_string(), lot_words(lot), Paint::Plain));
    }
    let begun =
        |stage: &&StageSummary| stage.counts.pending > 0 && stage.state == StageState::InProgress;
    for (index, stage) in applicable(unit).filter(begun).enumerate() {
        let head = if index == 0 { "to be recorded" } else { "" };
        notes.push((
            head.to_string(),
            format!("{}: {}", stage_title(stage), pending_words(stage)),
            Paint::Plain,
        ));
    }
    if notes.is_empty() {
        return;
    }
    out.push('\n');
    for (head, text, paint) in notes {
        for (index, part) in wrap(&text, WIDTH - HEAD - 2).into_iter().enumerate() {
            let head = pad(if index == 0 { &head } else { "" }, HEAD);
            let text = format!(
                "  {}{}",
                screen.style.paint(Paint::Dim, &head),
                screen.style.paint(paint, &part)
            );
            line(&text, out);
        }
    }
}

/// `H20 "Connections cleared for drying" of Connections, by quality`.
fn point_name(point: &PointSummary, stage: &StageSummary) -> String {
    let title = if point.title.is_empty() {
        String::new()
    } else {
        format!(" \"{}\"", point.title)
    };
    let roles: Vec<&str> = point.roles.iter().map(|role| &**role).collect();
    let by = if roles.is_empty() {
        String::new()
    } else {
        format!(", by {}", roles.join(" or "))
    };
    format!("{}{title} of {}{by}", point.name, stage_title(stage))
}

fn failing(counts: &Counts, width: usize, screen: &Screen) -> String {
    match counts.failing {
        0 => " ".repeat(width),
        count => screen.style.paint(
            Paint::Red,
            &format!("{:>width$}", thousands(count as usize)),
        ),
    }
}

/// How much is recorded of what is asked, as a bar. Full only when all is recorded.
fn bar(counts: &Counts, screen: &Screen) -> String {
    let asked = asked(counts);
    let (full, empty) = if screen.unicode {
        ('█', '░')
    } else {
        ('#', '.')
    };
    if asked == 0 {
        return " ".repeat(BAR);
    }
    let eighths = counts.recorded as usize * BAR * 8 / asked;
    let mut filled: String = std::iter::repeat_n(full, eighths / 8).collect();
    let part = ['▏', '▎', '▍', '▌', '▋', '▊', '▉'];
    if screen.unicode
        && let Some(sign) = (eighths % 8)
            .checked_sub(1)
            .and_then(|index| part.get(index))
    {
        filled.push(*sign);
    }
    let rest: String = std::iter::repeat_n(empty, BAR - filled.chars().count()).collect();
    let paint = match counts {
        Counts { failing: 1.., .. }
        | Counts { missing: 1.., .. }
        | Counts {
            not_proven: 1.., ..
        } => Paint::Red,
        Counts { pending: 0, .. } => Paint::Green,
        _ => Paint::Plain,
    };
    format!(
        "{}{}",
        screen.style.paint(paint, &filled),
        screen.style.paint(Paint::Dim, &rest)
    )
}

fn line(text: &str, out: &mut String) {
    out.push_str(text.trim_end());
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::finding::{LotSummary, TypeTestState};

    fn sample() -> UnitSummary {
        let point = |name: &str, kind, state| PointSummary {
            name: name.into(),
            title: "Cleared for drying".into(),
            kind,
            state,
            roles: vec!["quality".into()],
            by: None,
            seal: SealState::NotAsked,
        };
        let stage = |name: &str, state, recorded, pending, points| StageSummary {
            name: name.into(),
            title: String::new().into(),
            before: vec![],
            state,
            round: 1,
            counts: Counts {
                recorded,
                pending,
                ..Counts::default()
            },
            points,
            pending: if pending > 0 {
                vec![("ratio".into(), pending)]
            } else {
                vec![]
            },
        };
        let stages = vec![
            stage(
                "winding",
                StageState::Complete,
                24,
                0,
                vec![point("H10", PointKind::Hold, PointState::Done)],
            ),
            stage(
                "connections",
                StageState::InProgress,
                51,
                69,
                vec![
                    point("W20", PointKind::Witness, PointState::Open),
                    point("H20", PointKind::Hold, PointState::Open),
                ],
            ),
            stage("tap-changer", StageState::NotApplicable, 0, 0, vec![]),
        ];
        UnitSummary {
            serial: "KFT-0415-1".into(),
            title: "40 MVA 110/20 kV".into(),
            path: "units/KFT-0415-1.ubr".into(),
            plan: "oil-immersed-power rev C".into(),
            stage_reached: Some("connections".into()),
            lot: Some(LotSummary {
                name: "KFT-0415".into(),
                number: Some(1),
                total: Some(2),
                type_tested: None,
                state: TypeTestState::Complete,
            }),
            counts: Counts {
                recorded: 75,
                pending: 69,
                ..Counts::default()
            },
            stages,
        }
    }

    #[test]
    fn a_list_ends_its_lines_between_its_parts() {
        let path = "p".repeat(80);
        let parts = [
            path.clone(),
            "points: 1 done".to_owned(),
            "1 open".to_owned(),
        ];
        let lines = [format!("{path}, points: 1 done,"), "1 open".to_owned()];
        assert_eq!(listed(&parts), lines);
    }

    #[test]
    fn a_table_a_person_likes_to_read() {
        let expected = "\
KFT-0415-1  40 MVA 110/20 kV
units/KFT-0415-1.ubr, plan oil-immersed-power rev C, reached: connections, points: 1 done, 2 open

  stage                       recorded  pending  failing  points
  winding      ############      24/24                    H10 released
  connections  #####.......     51/120       69           W20 open  H20 holds
  tap-changer  not for this unit

  next hold       H20 \"Cleared for drying\" of connections, by quality; nothing behind it may begin
                  before its release
  lot             KFT-0415: unit 1 of 2, type tests on this unit: complete
  to be recorded  connections: ratio 69
";
        let table = unit(&sample(), &Screen::default());
        assert_eq!(table, expected, "\n{table}");
    }

    #[test]
    fn a_bar_is_full_only_when_all_is_recorded() {
        let screen = Screen {
            unicode: true,
            ..Screen::default()
        };
        let counts = |recorded, pending| Counts {
            recorded,
            pending,
            ..Counts::default()
        };
        assert_eq!(bar(&counts(0, 5), &screen), "░░░░░░░░░░░░");
        assert_eq!(bar(&counts(5, 0), &screen), "████████████");
        assert_ne!(bar(&counts(9_999, 1), &screen), "████████████");
        assert_eq!(bar(&counts(1, 1), &screen), "██████░░░░░░");
        assert_eq!(bar(&counts(0, 0), &screen).len(), BAR);
    }

    #[test]
    fn an_overview_has_one_line_a_unit() {
        let table = overview(&[sample(), sample()], &Screen::default());
        assert_eq!(table.lines().count(), 3, "{table}");
        assert!(
            table.lines().skip(1).all(|line| line.contains("H20")),
            "{table}"
        );
    }
}
