//! What the parser says of wrong text.
//!
//! Each file under `tests/fixtures/faults` holds one input and, below a line `---`, the faults that it must
//! give: `line:column kind message`, then the help and the fix where there is one. Signs that a text file
//! can't show plainly are written `\t`, `\r`, `\0` and `\u{feff}` in the input.
//!
//! `UPDATE_EXPECT=1 cargo test --test syntax_faults` writes what the parser says now below each input; read
//! the difference before keeping it.

mod common;

use common::{plain, visible};
use stagebook::syntax::{Fault, FaultKind, Tree, parse, parse_expression};
use stagebook::text::LineIndex;
use std::fmt::Write;
use std::path::PathBuf;
use std::time::{Duration, Instant};

const RULE: &str = "\n---\n";

/// Every kind of fault. The `match` is there so that a new kind can't be added without a case: it no longer
/// compiles until the kind stands in the list too.
fn all_kinds() -> Vec<FaultKind> {
    use FaultKind::*;
    let kinds = vec![
        UnexpectedText,
        UnknownStatement,
        MisplacedStatement,
        UnterminatedText,
        DecimalComma,
        UnitSpaceMissing,
        TabIndentation,
        ControlCharacter,
        ByteOrderMark,
        LoneCarriageReturn,
        OutlineTooDeep,
        NestingTooDeep,
        RowLength,
        ReasonMissing,
        RelaxWithoutReason,
        UnknownDocument,
        EmptyDocument,
    ];
    for kind in &kinds {
        match kind {
            UnexpectedText | UnknownStatement | MisplacedStatement | UnterminatedText
            | DecimalComma => {}
            UnitSpaceMissing | TabIndentation | ControlCharacter | ByteOrderMark
            | LoneCarriageReturn => {}
            OutlineTooDeep | NestingTooDeep | RowLength | ReasonMissing | RelaxWithoutReason => {}
            UnknownDocument | EmptyDocument => {}
        }
    }
    kinds
}

fn cases() -> Vec<(PathBuf, String)> {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/faults");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the cases are part of the project")
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "ubr"))
        .collect();
    paths.sort();
    paths
        .into_iter()
        .map(|path| {
            (
                path.clone(),
                std::fs::read_to_string(&path).expect("a case is UTF-8"),
            )
        })
        .collect()
}

/// The input of a case, its written-out signs put in.
fn input_of(case: &str) -> String {
    let input = match case.find(RULE) {
        Some(at) => &case[..at + 1],
        None => case.strip_prefix(&RULE[1..]).map_or(case, |_| ""),
    };
    plain(input)
}

fn render(fault: &Fault, text: &str, lines: &LineIndex) -> String {
    let place = |offset: u32| {
        let at = lines.line_column(text, offset);
        format!("{}:{}", at.line, at.column)
    };
    let mut said = format!(
        "{} {:?} {}\n",
        place(fault.span.start),
        fault.kind,
        fault.message
    );
    if let Some(help) = &fault.help {
        let _ = writeln!(said, "  help: {help}");
    }
    if let Some((title, replacements)) = &fault.fix {
        let _ = writeln!(said, "  fix: {title}");
        for (span, with) in replacements {
            let old = &text[span.range()];
            let _ = writeln!(said, "    {} `{old}` -> `{with}`", place(span.start));
        }
    }
    visible(&said)
}

fn said_of(text: &str) -> String {
    let lines = LineIndex::new(text);
    parse(text)
        .faults
        .iter()
        .map(|fault| render(fault, text, &lines))
        .collect()
}

#[test]
fn every_case_gives_the_faults_written_below_it() {
    let update = std::env::var_os("UPDATE_EXPECT").is_some();
    let mut wrong = String::new();
    for (path, case) in cases() {
        let said = said_of(&input_of(&case));
        let (input, expected) = match case.find(RULE) {
            Some(at) => (&case[..at], &case[at + RULE.len()..]),
            None => (case.trim_end_matches('\n'), ""),
        };
        if expected == said {
            continue;
        }
        if update {
            std::fs::write(&path, format!("{input}{RULE}{said}")).expect("the case can be written");
        } else {
            let _ = writeln!(
                wrong,
                "{}\nexpected:\n{expected}\nfound:\n{said}",
                path.display()
            );
        }
    }
    assert!(
        wrong.is_empty(),
        "{wrong}\nUPDATE_EXPECT=1 cargo test --test syntax_faults takes these over"
    );
}

#[test]
fn every_kind_of_fault_has_a_case() {
    let mut met: Vec<FaultKind> = Vec::new();
    for (_, case) in cases() {
        met.extend(parse(input_of(&case)).faults.iter().map(|fault| fault.kind));
    }
    let missing: Vec<FaultKind> = all_kinds()
        .into_iter()
        .filter(|kind| !met.contains(kind))
        .collect();
    assert!(
        missing.is_empty(),
        "no case under tests/fixtures/faults gives {missing:?}"
    );
}

/// A fix that does not mend its fault, or that brings in another, is worse than none.
#[test]
fn every_fix_mends_the_fault_that_it_belongs_to() {
    for (path, case) in cases() {
        let text = input_of(&case);
        let before = parse(text.as_str());
        for fault in &before.faults {
            let Some((title, replacements)) = &fault.fix else {
                continue;
            };
            let mut mended = text.clone();
            let mut sorted = replacements.clone();
            sorted.sort_by_key(|(span, _)| std::cmp::Reverse(span.start));
            for (span, with) in sorted {
                mended.replace_range(span.range(), &with);
            }
            let after = parse(mended.as_str());
            assert!(
                after.faults.len() < before.faults.len(),
                "{}: `{title}` leaves {} faults of {}:\n{mended}",
                path.display(),
                after.faults.len(),
                before.faults.len()
            );
        }
    }
}

/// House rule: a message says what was expected and what was found.
#[test]
fn every_message_says_what_was_expected_and_what_was_found() {
    for (path, case) in cases() {
        for fault in parse(input_of(&case)).faults {
            let message = &fault.message;
            assert!(
                message.starts_with("expected ") && message.contains("found"),
                "{}: {message}",
                path.display()
            );
        }
    }
}

// ------------------------------------------------------------------------------------------ hard inputs

/// Parses what is meant to be hard. The bound is generous, since a debug build on a busy machine is slow;
/// what it catches is work that grows with the square of the input.
fn parse_in_time(name: &str, text: String) -> Tree {
    let bound = Duration::from_millis(if cfg!(debug_assertions) {
        60_000
    } else {
        6_000
    });
    let length = text.len();
    let began = Instant::now();
    let tree = parse(text);
    let took = began.elapsed();
    assert!(took < bound, "{name}: {length} bytes took {took:?}");
    assert!(
        tree.print() == tree.text().as_ref(),
        "{name}: the text is not printed as it was"
    );
    tree
}

/// At most `most` faults, and one of `kind` among them when a kind is named.
fn few_faults(name: &str, text: String, kind: Option<FaultKind>, most: usize) {
    let tree = parse_in_time(name, text);
    let count = tree.faults.len();
    let first: Vec<String> = tree
        .faults
        .iter()
        .take(3)
        .map(|fault| format!("{:?}: {}", fault.kind, fault.message))
        .collect();
    assert!(
        count <= most,
        "{name}: {count} faults where {most} are enough; the first are {first:#?}"
    );
    if let Some(kind) = kind {
        assert!(
            tree.faults.iter().any(|fault| fault.kind == kind),
            "{name}: no {kind:?} among {first:#?}"
        );
    }
    for fault in &tree.faults {
        assert!(
            fault.message.len() < 300,
            "{name}: a message of {} bytes",
            fault.message.len()
        );
        assert!(
            fault.help.as_ref().is_none_or(|help| help.len() < 300),
            "{name}: a help too long to read"
        );
    }
}

const STAGE: &str = "unit X-1\nstage s\n";

#[test]
fn nul_bytes_are_reported_a_few_times_and_no_more() {
    few_faults(
        "one NUL",
        format!("{STAGE}  a = 1 \0mm\n"),
        Some(FaultKind::ControlCharacter),
        3,
    );
    few_faults(
        "only NUL",
        "\0".repeat(1_000_000),
        Some(FaultKind::ControlCharacter),
        30,
    );
    few_faults(
        "NUL lines",
        "\0\n".repeat(100_000),
        Some(FaultKind::ControlCharacter),
        30,
    );
}

#[test]
fn a_byte_order_mark_is_reported_once_and_hinders_nothing() {
    few_faults(
        "mark",
        format!("\u{feff}{STAGE}  a = 1 mm\n"),
        Some(FaultKind::ByteOrderMark),
        1,
    );
    few_faults(
        "mark alone",
        "\u{feff}".to_owned(),
        Some(FaultKind::ByteOrderMark),
        2,
    );
}

#[test]
fn lines_that_end_in_a_lone_return_are_read_and_reported_once() {
    let text = format!("{STAGE}{}", "  a = 1 mm\n".repeat(10_000)).replace('\n', "\r");
    few_faults("lone returns", text, Some(FaultKind::LoneCarriageReturn), 1);
    few_faults(
        "CR LF",
        format!("{STAGE}  a = 1 mm\n").replace('\n', "\r\n"),
        None,
        0,
    );
}

#[test]
fn a_megabyte_on_one_line_gives_few_faults() {
    few_faults(
        "one word",
        "x".repeat(1_000_000),
        Some(FaultKind::UnknownDocument),
        3,
    );
    few_faults(
        "one unit",
        format!("{STAGE}  a = 1.5{}\n", "m".repeat(1_000_000)),
        Some(FaultKind::UnitSpaceMissing),
        1,
    );
    few_faults(
        "one comma",
        format!("{STAGE}  a = 1,{}\n", "1".repeat(1_000_000)),
        Some(FaultKind::DecimalComma),
        1,
    );
    few_faults(
        "one text",
        format!("{STAGE}  note \"{}\"\n", "x".repeat(1_000_000)),
        None,
        0,
    );
    few_faults(
        "one comment",
        format!("{STAGE}# {}\n", "x".repeat(1_000_000)),
        None,
        0,
    );
    few_faults(
        "words",
        format!("{STAGE}  a = 1 mm {}\n", "word ".repeat(200_000)),
        Some(FaultKind::UnexpectedText),
        2,
    );
    few_faults(
        "digits",
        format!("{STAGE}  a = {}\n", "1".repeat(1_000_000)),
        None,
        0,
    );
    few_faults(
        "names",
        format!("{STAGE}  a = x{}\n", ", x".repeat(300_000)),
        None,
        0,
    );
    few_faults(
        "dots",
        format!("{STAGE}  a = x{}\n", ".x".repeat(300_000)),
        None,
        0,
    );
    few_faults(
        "blanks",
        format!("{STAGE}  a ={}1 mm\n", " ".repeat(1_000_000)),
        None,
        0,
    );
    few_faults(
        "conditions",
        format!("{STAGE}  a = 1 mm at 1 K{}\n", ", 1 K".repeat(200_000)),
        None,
        0,
    );
    few_faults(
        "unit",
        format!("{STAGE}  a = 1 m{}\n", "*m".repeat(300_000)),
        None,
        0,
    );
}

#[test]
fn deep_outlines_are_capped_with_one_finding() {
    // The text of a staircase grows with the square of its steps: two thousand steps are two megabytes.
    let stairs: String = (0..2_000)
        .map(|level| format!("{}x\n", " ".repeat(level)))
        .collect();
    few_faults(
        "stairs",
        format!("unit X-1\n{stairs}"),
        Some(FaultKind::OutlineTooDeep),
        2_100,
    );
    let notes: String = (0..2_000)
        .map(|level| format!("{}note \"x\"\n", " ".repeat(level)))
        .collect();
    few_faults(
        "stairs of notes",
        format!("unit X-1\n{notes}"),
        Some(FaultKind::OutlineTooDeep),
        2_100,
    );
    let tabs: String = (0..2_000)
        .map(|level| format!("{}note \"x\"\n", "\t".repeat(level)))
        .collect();
    few_faults(
        "stairs of tabs",
        format!("unit X-1\n{tabs}"),
        Some(FaultKind::OutlineTooDeep),
        2_300,
    );
    few_faults(
        "one far line",
        format!("{STAGE}{}a = 1 mm\n", " ".repeat(100_000)),
        None,
        0,
    );
}

#[test]
fn deep_expressions_are_capped_with_one_finding() {
    let calc = |body: String| format!("plan p\nstage s\n  calc x = {body}\n");
    let deep = Some(FaultKind::NestingTooDeep);
    few_faults(
        "parentheses",
        calc(format!("{}1{}", "(".repeat(100_000), ")".repeat(100_000))),
        deep,
        2,
    );
    few_faults("open parentheses", calc("(".repeat(100_000)), deep, 2);
    few_faults(
        "closing parentheses",
        calc(")".repeat(100_000)),
        Some(FaultKind::UnexpectedText),
        2,
    );
    few_faults(
        "calls",
        calc(format!("{}1{}", "f(".repeat(100_000), ")".repeat(100_000))),
        deep,
        2,
    );
    few_faults(
        "indices",
        calc(format!("{}1{}", "f[".repeat(100_000), "]".repeat(100_000))),
        deep,
        2,
    );
    few_faults(
        "minus signs",
        calc(format!("{}x", "-".repeat(100_000))),
        deep,
        2,
    );
    few_faults(
        "spaced minus signs",
        calc(format!("{}1", "- ".repeat(100_000))),
        deep,
        2,
    );
    few_faults(
        "nots",
        calc(format!("{}x", "not ".repeat(100_000))),
        deep,
        2,
    );
    few_faults("ifs", calc("if ".repeat(100_000)), deep, 2);
    few_faults(
        "else ifs",
        calc(format!("{}1", "if a then b else ".repeat(100_000))),
        deep,
        2,
    );
    few_faults(
        "sums",
        calc(format!("1{}", " + 1".repeat(100_000))),
        deep,
        2,
    );
    let brackets = Some(FaultKind::UnexpectedText);
    few_faults(
        "powers",
        calc(format!("x{}", "^x".repeat(100_000))),
        brackets,
        2,
    );
    few_faults(
        "ors",
        calc(format!("x{}", " or x".repeat(100_000))),
        deep,
        2,
    );
    few_faults(
        "arguments",
        calc(format!("f(1{})", ", 1".repeat(100_000))),
        None,
        2,
    );
    few_faults(
        "nested ranges",
        calc(format!("a{}", " in (a .. b)".repeat(100_000))),
        None,
        2,
    );
    let alone = parse_expression(format!("{}1{}", "(".repeat(100_000), ")".repeat(100_000)));
    assert!(
        alone.faults.len() <= 2,
        "{} faults at the prompt",
        alone.faults.len()
    );
}

#[test]
fn a_table_of_a_hundred_thousand_rows_is_read_without_a_fault() {
    let rows: String = (0..100_000)
        .map(|row| format!("    {row}  412.6  23.4\n"))
        .collect();
    few_faults(
        "table",
        format!("{STAGE}  table resistance(mohm)\n    tap  U(mohm)  at(°C)\n{rows}"),
        None,
        0,
    );
}

#[test]
fn a_long_document_costs_as_much_a_line_as_a_short_one() {
    let lines = |count: usize| {
        format!(
            "{STAGE}{}",
            "  height[HV, U] = 1612 mm at 23.4 °C by m.harrow\n".repeat(count)
        )
    };
    few_faults("lines", lines(100_000), None, 0);
    few_faults(
        "unfinished lines",
        format!("{STAGE}{}", "  a =\n".repeat(100_000)),
        Some(FaultKind::UnexpectedText),
        100_000,
    );
    few_faults(
        "blank lines below an open line",
        format!("{STAGE}  a = (\n{}", "\n".repeat(300_000)),
        None,
        3,
    );
    let open = format!(
        "plan p\nstage s\n  calc x = (1 +\n{}",
        "    1 +\n".repeat(100_000)
    );
    few_faults("one statement over many lines", open, None, 5);
    let comments = format!(
        "plan p\nstage s\n  calc x =\n{}",
        "    # why\n".repeat(100_000)
    );
    few_faults("comments below an open line", comments, None, 3);
}

#[test]
fn unclosed_brackets_and_quotes_break_only_their_own_line() {
    for (name, line) in [
        ("bracket", "  a[HV = 1 mm"),
        ("parenthesis", "  a = n/a (\"why\""),
        ("quote", "  note \"why"),
        ("quote with a backslash", "  note \"why\\"),
        ("both", "  a[\"HV = 1 mm"),
    ] {
        few_faults(
            name,
            format!("{STAGE}{line}\n  b = 2 mm\n  c = 3 mm\n"),
            None,
            3,
        );
    }
    few_faults(
        "quotes",
        format!("{STAGE}{}", "\"".repeat(100_001)),
        Some(FaultKind::UnexpectedText),
        3,
    );
}

#[test]
fn tabs_in_the_indentation_are_reported_up_to_a_hundred_times() {
    few_faults(
        "tabs",
        format!("{STAGE}{}", "\ta = 1 mm\n".repeat(10_000)),
        Some(FaultKind::TabIndentation),
        100,
    );
    few_faults(
        "mixed",
        format!("{STAGE}\ta = 1 mm\n  b = 1 mm\n\t c = 1 mm\n"),
        Some(FaultKind::TabIndentation),
        3,
    );
}

#[test]
fn numbers_and_dates_out_of_range_are_left_to_those_who_read_them() {
    few_faults(
        "1e999",
        format!(
            "{STAGE}  a = 1e999 mm\n  b = 1e-999 mm\n  c = 2026-02-30\n  d = 2026-99-99 99:99\n"
        ),
        None,
        0,
    );
}

#[test]
fn an_empty_file_gives_one_finding() {
    for text in ["", "\n", "   ", "\n\n# only a comment\n", "\t\r\n"] {
        few_faults("empty", text.to_owned(), Some(FaultKind::EmptyDocument), 1);
    }
}
