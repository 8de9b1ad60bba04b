//! What the formatter makes of a document, and that the project's own documents are in its layout.
//!
//! Each file under `tests/fixtures/format` holds one input and, below a line `---`, its canonical layout. Signs that a text
//! file can't show plainly are written `\t`, `\r` and `\u{feff}`.
//!
//! `UPDATE_EXPECT=1 cargo test --test format` writes what the formatter makes now below each input; read the
//! difference before keeping it.

mod common;

use common::{plain, visible};
use stagebook::syntax::format::{apply, format, format_lines, on_blank, on_newline};
use stagebook::syntax::parse;
use std::path::PathBuf;

const RULE: &str = "\n---\n";

fn formatted(text: &str) -> String {
    let tree = parse(text);
    let edits = format(&tree).expect("the formatter keeps what the document says");
    apply(text, &edits)
}

fn cases() -> Vec<PathBuf> {
    let folder = common::project().join("tests/fixtures/format");
    let mut paths: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the cases are part of the project")
        .filter_map(|entry| entry.ok().map(|entry| entry.path()))
        .filter(|path| path.extension().is_some_and(|extension| extension == "ubr"))
        .collect();
    paths.sort();
    paths
}

#[test]
fn every_case_gives_the_layout_written_below_it() {
    let update = std::env::var_os("UPDATE_EXPECT").is_some();
    let mut wrong = String::new();
    let mut seen = 0;
    for path in cases() {
        let case = std::fs::read_to_string(&path).expect("a case is UTF-8");
        let (input, expected) = match case.find(RULE) {
            Some(at) => (&case[..at + 1], &case[at + RULE.len()..]),
            None => (case.as_str(), ""),
        };
        let made = visible(&formatted(&plain(input)));
        seen += 1;
        if made == expected {
            continue;
        }
        if update {
            std::fs::write(&path, format!("{input}{}{made}", &RULE[1..]))
                .expect("the case can be written");
        } else {
            wrong.push_str(&format!(
                "{}\n--- expected\n{expected}--- made\n{made}\n",
                path.display()
            ));
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(seen >= 7, "found {seen} cases only");
}

#[test]
fn every_document_of_the_project_is_in_its_canonical_layout() {
    let mut seen = 0;
    for folder in ["src/plan/builtin", "examples"] {
        let walk = ignore::WalkBuilder::new(common::project().join(folder)).build();
        for entry in walk {
            let path = entry
                .expect("the folder is part of the project")
                .into_path();
            if path.extension().is_none_or(|extension| extension != "ubr") {
                continue;
            }
            let text = std::fs::read_to_string(&path).expect("a document is UTF-8");
            // One planted fault is a tab, which the formatter takes away.
            let planted: Vec<usize> = text
                .lines()
                .enumerate()
                .filter(|(_, line)| line.starts_with('\t') && line.ends_with("#! tab-indentation"))
                .map(|(number, _)| number)
                .collect();
            let tree = parse(text.as_str());
            let edits = format(&tree).expect("the formatter keeps what the document says");
            let changed: Vec<usize> = edits.iter().map(|edit| edit.line as usize).collect();
            assert_eq!(changed, planted, "{}", path.display());
            seen += 1;
        }
    }
    assert!(seen > 25, "found {seen} documents only");
}

#[test]
fn a_new_record_is_in_its_canonical_layout_with_its_stages_begun_or_not() {
    let settings = [
        "--set",
        "phase=U,V,W",
        "--set",
        "winding=HV,LV",
        "--set",
        "pair=HV-LV",
        "--set",
        "tap=1..17",
        "--set",
        "bushing=1U,1V",
    ];
    for (plan, sets) in [
        ("oil-immersed-power", &settings[..]),
        ("oil-immersed-power-ieee", &[][..]),
    ] {
        let arguments = [&["start", plan, "T-2"][..], sets].concat();
        let text = common::stagebook(&common::works(), &arguments)
            .expect(0)
            .out;
        assert_eq!(formatted(&text), text, "{plan}");
        // Every stage begun, as the text itself says: the `#` and the blank behind it taken away.
        let at = text.find("\n# stage ").expect("it has stages") + 1;
        let begun: String = text[at..]
            .split_inclusive('\n')
            .map(|line| line.strip_prefix("# ").unwrap_or(line))
            .collect();
        let begun = format!("{}{begun}", &text[..at]);
        assert_eq!(formatted(&begun), begun, "{plan}");
    }
}

#[test]
fn lines_of_a_badly_indented_part_keep_their_indentation_when_only_they_are_asked_for() {
    let text = "unit A\n\nstage s\n     a=1\n     b=2\n\nstage t\n  c=3\n";
    let tree = parse(text);
    let of_one = format_lines(&tree, 3..4).expect("the outline is kept");
    assert_eq!(
        apply(text, &of_one),
        text.replace("a=1", "a = 1"),
        "in line with its neighbour, which is not asked for"
    );
    let of_both = format_lines(&tree, 3..5).expect("the outline is kept");
    let both = text.replace("     a=1\n     b=2", "  a = 1\n  b = 2");
    assert_eq!(apply(text, &of_both), both);
}

#[test]
fn a_sealed_record_that_was_laid_out_anew_still_verifies() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    copy(&common::works(), folder.path());
    let unit = folder.path().join("units/KFT-0412-1.ubr");
    let sealed = std::fs::read_to_string(&unit).expect("an example is UTF-8");
    assert!(sealed.contains("    seal \""), "the example is sealed");
    let messy: String = sealed
        .lines()
        .map(|line| {
            let text = line.trim_start();
            let depth = line.len() - text.len();
            let text = text
                .replacen(" = ", "   =     ", 1)
                .replace("  with", "       with");
            format!("{}{text}  \n\n", " ".repeat(depth * 2))
        })
        .collect();
    std::fs::write(&unit, &messy).expect("a temporary file");
    let messy_check = ["check", "units/KFT-0412-1.ubr", "--as", "json"];
    assert_eq!(
        common::stagebook(folder.path(), &messy_check)
            .expect(0)
            .found(),
        Vec::new()
    );
    common::stagebook(folder.path(), &["format", "units/KFT-0412-1.ubr"]).expect(0);
    let made = std::fs::read_to_string(&unit).expect("the program writes UTF-8");
    assert_ne!(made, messy);
    assert_eq!(
        common::stagebook(folder.path(), &messy_check)
            .expect(0)
            .found(),
        Vec::new()
    );
    // But for blank lines, of which it keeps one, it is what was sealed.
    let lines = |text: &str| -> Vec<String> {
        text.lines()
            .filter(|line| !line.is_empty())
            .map(str::to_owned)
            .collect()
    };
    let spread: Vec<String> = lines(&made);
    assert_eq!(spread.len(), lines(&sealed).len());
    for (made, sealed) in spread.iter().zip(lines(&sealed)) {
        let words = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
        assert_eq!(words(made), words(&sealed));
    }
}

#[test]
fn check_finds_the_same_before_and_after() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    copy(&common::works(), folder.path());
    let found = || {
        let said = common::stagebook(folder.path(), &["check", ".", "--as", "json", "--all"]);
        let json = said.expect(1).json();
        let findings = json["findings"].as_array().expect("the schema says so");
        let mut found: Vec<String> = findings
            .iter()
            .filter(|finding| finding["rule"] != "tab-indentation")
            .map(|finding| {
                format!(
                    "{} {} {}",
                    finding["path"], finding["rule"], finding["message"]
                )
            })
            .collect();
        found.sort();
        found
    };
    // The examples are laid out already: first something else is made of them.
    for entry in ignore::WalkBuilder::new(folder.path()).build() {
        let path = entry.expect("a temporary folder can be read").into_path();
        if path.extension().is_some_and(|extension| extension == "ubr") {
            let text = std::fs::read_to_string(&path).expect("an example is UTF-8");
            let wide: String = text
                .split_inclusive('\n')
                .map(|line| {
                    let blanks = line.len() - line.trim_start_matches(' ').len();
                    format!("{}{line}", " ".repeat(blanks))
                })
                .collect();
            std::fs::write(&path, wide).expect("a temporary file");
        }
    }
    let before = found();
    assert!(before.len() > 80, "{} findings", before.len());
    common::stagebook(folder.path(), &["format", "."]).expect(0);
    assert_eq!(found(), before);
    common::stagebook(folder.path(), &["format", "--check", "."]).expect(0);
}

fn copy(from: &std::path::Path, to: &std::path::Path) {
    for entry in std::fs::read_dir(from).expect("a folder of the project") {
        let path = entry.expect("a folder of the project").path();
        let target = to.join(path.file_name().expect("it has a name"));
        if path.is_dir() {
            std::fs::create_dir(&target).expect("a temporary folder");
            copy(&path, &target);
        } else {
            std::fs::copy(&path, &target).expect("a temporary file");
        }
    }
}

#[test]
fn the_documents_of_the_readme_are_in_their_canonical_layout() {
    let readme = std::fs::read_to_string(common::project().join("README.md")).expect("it is UTF-8");
    let documents: Vec<&str> = readme
        .split("```ubr\n")
        .skip(1)
        .filter_map(|rest| rest.split("```").next())
        .collect();
    assert!(documents.len() >= 3, "{} documents", documents.len());
    for document in documents {
        assert_eq!(formatted(document), document);
    }
}

/// The text after something was typed at `|`, with the cursor where an editor keeps it: before what is put in at its place.
#[track_caller]
fn typed(text: &str, what: &str) -> String {
    let at = text.find('|').expect("the text has a cursor");
    let text = text.replacen('|', what, 1);
    let cursor = at + what.len();
    let tree = parse(text.as_str());
    let edits = match what {
        "\n" | "\r\n" => on_newline(&tree, cursor as u32),
        _ => on_blank(&tree, cursor as u32),
    };
    let edits = edits.expect("nothing but white space changes");
    let moved: i64 = edits
        .iter()
        .filter(|edit| {
            edit.span.end as usize <= cursor && (edit.span.start as usize) < cursor
                || edit.span.start as usize == cursor && edit.indentation
        })
        .map(|edit| edit.text.len() as i64 - edit.span.len() as i64)
        .sum();
    let mut made = apply(&text, &edits);
    made.insert(
        usize::try_from(cursor as i64 + moved).expect("it is in the text"),
        '|',
    );
    made
}

#[test]
fn a_line_end_lays_out_the_line_before_and_indents_the_new_one() {
    let cases = [
        ("unit A\n\nstage winding|", "unit A\n\nstage winding\n  |"),
        (
            "unit A\n\nstage s\n  long-name = 1\n  b=2|\n",
            "unit A\n\nstage s\n  long-name = 1\n  b         = 2\n  |\n",
        ),
        (
            "unit A\n\nstage s\n  table t|\n",
            "unit A\n\nstage s\n  table t\n    |\n",
        ),
        (
            "unit A\n\nstage s\n  table t\n    winding U V\n    HV 1.5 100|\n\nstage t\n",
            "unit A\n\nstage s\n  table t\n    winding  U    V\n    HV       1.5  100\n    |\n\nstage t\n",
        ),
        // Only what stands in columns with the line before.
        (
            "unit A\n\nstage s\n  x=1\n  note   \"n\"\n  b=2|\n  c  =3\n",
            "unit A\n\nstage s\n  x=1\n  note   \"n\"\n  b = 2\n  |\n  c  =3\n",
        ),
        // In the middle of a line nothing is indented anew.
        (
            "unit A\n\nstage s\n  b=2 |# r\n",
            "unit A\n\nstage s\n  b = 2\n|# r\n",
        ),
        (
            "plan p\n\ndesign\n  calc a = max(1,|\n",
            "plan p\n\ndesign\n  calc a = max(1,\n      |\n",
        ),
        // A broken line stays, and the next stands as deep.
        (
            "unit A\n\nstage s\n   hieght  1|\n",
            "unit A\n\nstage s\n   hieght  1\n   |\n",
        ),
        ("unit A\n|\n", "unit A\n\n|\n"),
    ];
    for (text, expected) in cases {
        assert_eq!(typed(text, "\n"), expected, "from {text:?}");
        let crlf = |text: &str| text.replace('\n', "\r\n");
        assert_eq!(
            typed(&crlf(text), "\r\n"),
            crlf(expected),
            "from {text:?} with CR LF"
        );
    }
}

#[test]
fn two_blanks_behind_a_cell_lead_to_the_next_column() {
    let cases = [
        (
            "unit A\n\nstage s\n  table t\n    winding  U  V\n    HV |\n",
            "unit A\n\nstage s\n  table t\n    winding  U  V\n    HV       |\n",
        ),
        // The rows above make room.
        (
            "unit A\n\nstage s\n  table t\n    winding  U    V\n    HV       1    2\n    LV       1234.5 |\n",
            "unit A\n\nstage s\n  table t\n    winding  U       V\n    HV          1    2\n    LV       1234.5  |\n",
        ),
        // So do those below.
        (
            "unit A\n\nstage s\n  table t\n    winding  U  V\n    regulating |\n    HV       1  2\n",
            "unit A\n\nstage s\n  table t\n    winding     U  V\n    regulating  |\n    HV          1  2\n",
        ),
        // One blank may stand inside a cell.
        (
            "unit A\n\nstage s\n  table t\n    winding  U    V\n    HV|\n",
            "unit A\n\nstage s\n  table t\n    winding  U    V\n    HV |\n",
        ),
        // The last cell has no column behind it, and a full row is not being typed.
        (
            "unit A\n\nstage s\n  table t\n    winding  U\n    HV  1 |\n",
            "unit A\n\nstage s\n  table t\n    winding  U\n    HV  1  |\n",
        ),
        // Not in a header, not outside tables.
        (
            "unit A\n\nstage s\n  table t\n    winding |\n",
            "unit A\n\nstage s\n  table t\n    winding  |\n",
        ),
        (
            "unit A\n\nstage s\n  b=2 |\n",
            "unit A\n\nstage s\n  b=2  |\n",
        ),
    ];
    for (text, expected) in cases {
        assert_eq!(typed(text, " "), expected, "from {text:?}");
    }
}
