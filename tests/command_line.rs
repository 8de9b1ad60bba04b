//! The command line as a person or a script meets it: the real program, its streams and exit statuses.

mod common;

use std::io::Read;
use std::process::Stdio;

use common::{program, project, run, stagebook, stagebook_reads, works};

const CLEAN: &str = "units/KFT-0412-1.ubr";
const PROGRESS: &str = "units/KFT-0415-1.ubr";
const FAULTY: &str = "faults/KFT-0413-1.ubr";

#[test]
fn the_exit_status_is_0_without_an_error_1_with_one_and_2_when_it_could_not_run() {
    let works = works();
    for clean in [CLEAN, PROGRESS, "plan.ubr", "register.ubr"] {
        stagebook(&works, &["check", clean]).expect(0);
    }
    for faulty in [FAULTY, "faults/broken-plan.ubr", "faults"] {
        stagebook(&works, &["check", faulty]).expect(1);
    }
    let wrong: &[&[&str]] = &[
        &[],
        &["judge"],
        &["check"],
        &["check", CLEAN, "--as", "xml"],
        &["check", CLEAN, "--color", "blue"],
        &["check", "-", "-"],
        &["check", CLEAN, "--name", "x.ubr"],
        &["check", "no-such-file.ubr"],
        &["status", "no-such-file.ubr"],
        &["status", "plan.ubr"],
        &["explain", "no-such-word"],
        &["completions", "no-such-shell"],
        &["calc"],
    ];
    for arguments in wrong {
        let said = stagebook(&works, arguments).expect(2);
        assert_eq!(said.out, "", "{arguments:?}");
        assert!(!said.err.trim().is_empty(), "{arguments:?}");
    }
}

#[test]
fn warnings_alone_do_not_fail() {
    let said = stagebook(
        &works(),
        &["check", "faults/KFT-0413-2.ubr", "--as", "json"],
    )
    .expect(1);
    assert!(
        said.found()
            .iter()
            .any(|(_, _, severity)| severity == "warning")
    );
    let text = std::fs::read_to_string(works().join(CLEAN)).expect("part of the project");
    // Sealed, every change of it would be an error.
    let unsealed: String = text
        .split_inclusive('\n')
        .filter(|line| !line.starts_with("    seal ") && !line.starts_with("      covers "))
        .collect();
    let text = unsealed.replace("  burr       = 0.016 mm", "  burr       = 0.026 mm");
    let said = stagebook_reads(
        &works(),
        &["check", "-", "--name", CLEAN, "--as", "json"],
        text.as_bytes(),
    )
    .expect(0);
    let found = said.found();
    let warnings: Vec<_> = found
        .iter()
        .filter(|(_, rule, _)| rule != "seal-missing")
        .collect();
    assert!(
        warnings.len() == 1 && warnings[0].1 == "out-of-limit" && warnings[0].2 == "warning",
        "{found:?}"
    );
}

#[test]
fn a_missing_path_is_told_in_one_line() {
    let said = stagebook(&works(), &["check", "units/KFT-9999-9.ubr"]).expect(2);
    assert_eq!(said.out, "");
    assert_eq!(
        said.err,
        "stagebook: cannot read units/KFT-9999-9.ubr: no such file or folder\n"
    );
    let empty = tempfile::tempdir().expect("a temporary folder");
    let said = stagebook(empty.path(), &["check", "."]).expect(2);
    assert_eq!(said.err.lines().count(), 1, "{}", said.err);
}

#[test]
fn findings_go_to_standard_output_and_nothing_to_standard_error() {
    for arguments in [
        &["check", "faults"][..],
        &["check", "faults", "--as", "json"],
        &["status", "units"],
    ] {
        let said = stagebook(&works(), arguments);
        assert!(!said.out.is_empty(), "{arguments:?}");
        assert_eq!(said.err, "", "{arguments:?}");
    }
}

#[test]
fn help_and_version_go_to_standard_output() {
    for arguments in [
        &["--help"][..],
        &["-h"],
        &["--version"],
        &["check", "--help"],
        &["help", "calc"],
    ] {
        let said = stagebook(&works(), arguments).expect(0);
        assert!(!said.out.is_empty() && said.err.is_empty(), "{arguments:?}");
    }
    let said = stagebook(&works(), &["--help"]).expect(0);
    for word in [
        "check",
        "status",
        "explain",
        "calc",
        "completions",
        "manual",
        "Exit status",
        "advises",
    ] {
        assert!(said.out.contains(word), "{word}");
    }
    assert!(
        stagebook(&works(), &["--version"])
            .out
            .contains(env!("CARGO_PKG_VERSION"))
    );
}

#[test]
fn standard_input_bears_the_name_that_it_is_given() {
    let works = works();
    let text = std::fs::read(works.join(CLEAN)).expect("part of the project");
    // Plan, register and logs are looked for as if it stood there.
    stagebook_reads(&works, &["check", "-", "--name", CLEAN], &text).expect(0);
    let said = stagebook_reads(
        &works,
        &["check", "-", "--name", "units/desk.ubr"],
        b"unit X\n  plan nothing\n",
    )
    .expect(1);
    assert!(said.out.contains("units/desk.ubr:2"), "{}", said.out);
    let said = stagebook_reads(&works, &["check", "-"], b"unit X\n  plan nothing\n").expect(1);
    assert!(said.out.contains("standard-input.ubr:2"), "{}", said.out);
}

#[test]
fn a_check_of_standard_input_says_what_a_check_of_the_file_says() {
    let works = works();
    let text = std::fs::read(works.join(FAULTY)).expect("part of the project");
    let file = stagebook(&works, &["check", FAULTY]).expect(1);
    let input = stagebook_reads(&works, &["check", "-", "--name", FAULTY], &text).expect(1);
    assert_eq!(file.out, input.out);
}

#[test]
fn colour_is_for_terminals_unless_it_is_asked_for() {
    let works = works();
    let coloured = |arguments: &[&str], environment: &[(&str, &str)]| {
        let mut command = program(&works);
        command
            .args(["check", "faults/KFT-0413-5.ubr"])
            .args(arguments);
        for (name, value) in environment {
            command.env(name, value);
        }
        run(&mut command).expect(1).out.contains('\u{1b}')
    };
    assert!(!coloured(&[], &[]), "a pipe is no terminal");
    assert!(coloured(&[], &[("CLICOLOR_FORCE", "1")]));
    assert!(!coloured(&[], &[("CLICOLOR_FORCE", "0")]));
    assert!(!coloured(
        &[],
        &[("CLICOLOR_FORCE", "1"), ("NO_COLOR", "1")]
    ));
    assert!(coloured(&["--color", "always"], &[("NO_COLOR", "1")]));
    assert!(!coloured(&["--color", "never"], &[("CLICOLOR_FORCE", "1")]));
    assert!(!coloured(&["--color", "auto"], &[]));
}

#[test]
fn colour_changes_no_word() {
    let plain = stagebook(&works(), &["check", FAULTY]).expect(1).out;
    let coloured = stagebook(&works(), &["check", FAULTY, "--color", "always"])
        .expect(1)
        .out;
    let mut bare = String::new();
    let mut rest = coloured.as_str();
    while let Some(start) = rest.find('\u{1b}') {
        bare.push_str(&rest[..start]);
        let end = rest[start..].find('m').expect("a colour ends with m");
        rest = &rest[start + end + 1..];
    }
    bare.push_str(rest);
    assert_eq!(bare, plain);
}

#[test]
fn json_is_never_coloured() {
    let said = stagebook(
        &works(),
        &["check", FAULTY, "--as", "json", "--color", "always"],
    )
    .expect(1);
    assert!(!said.out.contains('\u{1b}'));
}

#[test]
fn the_same_documents_give_the_same_bytes_whatever_the_number_of_threads() {
    for form in ["text", "json"] {
        let answer = |threads: &str| {
            let arguments = [
                "check",
                "faults",
                "units",
                "--as",
                form,
                "--threads",
                threads,
            ];
            stagebook(&works(), &arguments).expect(1).out
        };
        let first = answer("1");
        for threads in ["1", "2", "4", "4", "0"] {
            assert!(first == answer(threads), "{form} with {threads} threads");
        }
    }
}

#[test]
fn the_order_of_the_paths_does_not_matter() {
    let one = stagebook(&works(), &["check", FAULTY, CLEAN, PROGRESS]).expect(1);
    let other = stagebook(&works(), &["check", PROGRESS, FAULTY, CLEAN, CLEAN]).expect(1);
    assert_eq!(one.out, other.out);
}

// ------------------------------------------------------------------------------------------------ JSON

/// The schema that stands beside the code.
fn schema() -> jsonschema::Validator {
    let text = std::fs::read_to_string(project().join("src/finding/check.schema.json"))
        .expect("the schema is part of the project");
    let schema = serde_json::from_str(&text).expect("the schema is JSON");
    jsonschema::meta::validate(&schema)
        .unwrap_or_else(|error| panic!("the schema itself: {error}"));
    jsonschema::validator_for(&schema).unwrap_or_else(|error| panic!("the schema itself: {error}"))
}

#[track_caller]
fn valid(said: &common::Said, schema: &jsonschema::Validator) {
    let json = said.json();
    let errors: Vec<String> = schema
        .iter_errors(&json)
        .map(|error| format!("{} at {}", error, error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{errors:#?}");
}

#[test]
fn every_json_answer_follows_the_schema() {
    let schema = schema();
    for (path, status) in [
        (CLEAN, 0),
        (PROGRESS, 0),
        ("units", 0),
        ("faults", 1),
        ("plan.ubr", 0),
        ("register.ubr", 0),
    ] {
        let said = stagebook(&works(), &["check", path, "--as", "json"]).expect(status);
        valid(&said, &schema);
    }
    let inputs: &[&[u8]] = &[
        b"",
        b"\n\n",
        b"\0",
        b"\xff\xfe\x00",
        b"unit",
        b"unit X\n",
        b"unit X\n  plan oil-immersed-power\n",
        b"unit X\n  plan oil-immersed-power\nstage winding\n  height[HV, U] = 1e999 mm\n",
        b"plan p\nstage",
        b"register r\ninstrument",
        b"\xef\xbb\xbfunit \"\x1b[31m\" \"\xc3\xa4\"\r\n  plan p\r",
        b"what is this",
    ];
    for input in inputs {
        let folder = tempfile::tempdir().expect("a temporary folder");
        let said = stagebook_reads(folder.path(), &["check", "-", "--as", "json"], input);
        assert!(
            matches!(said.status, Some(0 | 1)),
            "{:?} for {input:?}: {}",
            said.status,
            said.err
        );
        valid(&said, &schema);
        assert!(!said.out.contains('\u{1b}'), "{input:?}");
    }
}

#[test]
fn the_schema_refuses_what_is_wrong() {
    let schema = schema();
    let mut json = stagebook(&works(), &["check", FAULTY, "--as", "json"])
        .expect(1)
        .json();
    assert!(schema.is_valid(&json));
    json["findings"][0]["start"]["line"] = 0.into();
    assert!(!schema.is_valid(&json));
}

#[test]
fn json_shows_the_reasoning_of_a_failing_check() {
    let json = stagebook(&works(), &["check", FAULTY, "--as", "json"])
        .expect(1)
        .json();
    let findings = json["findings"].as_array().expect("the schema says so");
    let finding = findings
        .iter()
        .find(|finding| finding["rule"] == "check-failed" && finding["severity"] == "error")
        .expect("one check of the faulty unit fails");
    assert_eq!(finding["path"], FAULTY);
    for key in ["formula", "limit", "because", "margin"] {
        assert!(
            finding[key].as_str().is_some_and(|text| !text.is_empty()),
            "{key}: {finding:#}"
        );
    }
    assert!(finding["source"]["text"].is_string(), "{finding:#}");
    let inputs = finding["inputs"].as_array().expect("the schema says so");
    assert!(
        inputs
            .iter()
            .any(|input| input["path"] == FAULTY && input["start"]["line"].is_u64())
    );
    assert!(
        finding["causes"]
            .as_array()
            .is_some_and(|causes| !causes.is_empty()),
        "{finding:#}"
    );
}

#[test]
fn json_tells_where_each_unit_stands() {
    let json = stagebook(&works(), &["check", "units", "--as", "json"])
        .expect(0)
        .json();
    let units = json["units"].as_array().expect("the schema says so");
    let serials: Vec<_> = units
        .iter()
        .map(|unit| unit["serial"].as_str().unwrap_or(""))
        .collect();
    assert_eq!(serials, ["KFT-0412-1", "KFT-0415-1", "KFT-0420-1"]);
    assert_eq!(units[0]["stage_reached"], "dispatch");
    assert!(units[0]["points"].as_array().is_some_and(|points| {
        points
            .iter()
            .all(|p| p["stage"] == "site" || p["state"] == "done")
    }));
    assert!(
        units[1]["counts"]["pending"]
            .as_u64()
            .is_some_and(|count| count > 0)
    );
}

#[test]
fn quiet_and_no_pending_leave_out_what_they_say() {
    let severities = |options: &[&str]| -> Vec<String> {
        let mut arguments = vec!["check", FAULTY, PROGRESS, "--as", "json"];
        arguments.extend(options);
        let found = stagebook(&works(), &arguments).expect(1).found();
        let mut severities: Vec<String> =
            found.into_iter().map(|(_, _, severity)| severity).collect();
        severities.sort();
        severities.dedup();
        severities
    };
    assert_eq!(severities(&["--quiet"]), ["error"]);
    assert_eq!(severities(&["--no-pending"]), ["error", "note", "warning"]);
    assert_eq!(severities(&[]), ["error", "note", "pending", "warning"]);
}

// --------------------------------------------------------------------------------------------- folders

#[test]
fn a_folder_means_every_record_below_it_that_is_not_ignored() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let write = |name: &str, text: &str| {
        let path = folder.path().join(name);
        std::fs::create_dir_all(path.parent().expect("it stands in a folder"))
            .expect("a temporary folder");
        std::fs::write(path, text).expect("a temporary file");
    };
    let unit = |serial: &str| format!("unit {serial} \"test\"\n  plan oil-immersed-power\n");
    write("KFT-1.ubr", &unit("KFT-1"));
    write("deep/er/KFT-2.ubr", &unit("KFT-2"));
    write("ignored/KFT-3.ubr", &unit("KFT-3"));
    write("deep/KFT-4.draft.ubr", &unit("KFT-4"));
    write("deep/.hidden/KFT-5.ubr", &unit("KFT-5"));
    write("deep/notes.txt", "not a record");
    write("plain/KFT-6.ubr", &unit("KFT-6"));
    write(".gitignore", "ignored/\n");
    write("deep/.gitignore", "*.draft.ubr\n");
    write("plain/.ignore", "KFT-6.ubr\n");
    let json = stagebook(folder.path(), &["check", ".", "--as", "json"])
        .expect(0)
        .json();
    let units = json["units"].as_array().expect("the schema says so");
    let serials: Vec<_> = units
        .iter()
        .map(|unit| unit["serial"].as_str().unwrap_or(""))
        .collect();
    assert_eq!(serials, ["KFT-1", "KFT-2"]);
    let paths: Vec<_> = units
        .iter()
        .map(|unit| unit["path"].as_str().unwrap_or(""))
        .collect();
    assert_eq!(paths, ["KFT-1.ubr", "deep/er/KFT-2.ubr"]);
    // A file that is named is checked, ignored or not.
    stagebook(folder.path(), &["check", "ignored/KFT-3.ubr"]).expect(0);
}

// ---------------------------------------------------------------------------------------------- status

#[test]
fn status_shows_every_stage_and_the_point_that_blocks() {
    let said = stagebook(&works(), &["status", PROGRESS]).expect(0);
    for word in [
        "KFT-0415-1",
        "next hold",
        "to be recorded",
        "H50",
        "pending",
        "points",
        "Dispatch",
        "dispatch",
    ] {
        assert!(
            said.out.to_lowercase().contains(&word.to_lowercase()),
            "{word}:\n{}",
            said.out
        );
    }
    let said = stagebook(&works(), &["status", "units"]).expect(0);
    let overview = said.out.lines().next().unwrap_or("");
    assert!(
        overview.contains("unit") && overview.contains("next hold"),
        "{}",
        said.out
    );
    assert!(said.out.contains("KFT-0412-1") && said.out.contains("KFT-0415-1"));
}

#[test]
fn status_keeps_its_head_within_the_width_of_its_tables() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    std::fs::create_dir(folder.path().join(".git")).expect("a folder can be made");
    for name in ["plan.ubr", "register.ubr"] {
        std::fs::copy(works().join(name), folder.path().join(name)).expect("it can be copied");
    }
    let text = std::fs::read_to_string(works().join(PROGRESS)).expect("the record is there");
    let title = "a long title of many words ".repeat(9);
    let start = text.find("unit KFT-0415-1 \"").expect("its first line") + 17;
    let text = format!("{}{title}{}", &text[..start], &text[start..]);
    let deep = folder
        .path()
        .join("units/a-folder-with-a-long-name/and-another-one-below-it");
    std::fs::create_dir_all(&deep).expect("folders can be made");
    std::fs::write(deep.join("KFT-0415-1.ubr"), text).expect("a file can be written");
    let said = stagebook(
        folder.path(),
        &[
            "status",
            "units/a-folder-with-a-long-name/and-another-one-below-it/KFT-0415-1.ubr",
        ],
    )
    .expect(0);
    let head: Vec<&str> = said
        .out
        .lines()
        .take_while(|line| !line.is_empty())
        .collect();
    assert!(head.len() > 4, "{}", said.out);
    assert!(
        head[0].starts_with("KFT-0415-1  a long title"),
        "{}",
        said.out
    );
    let widest = head.iter().map(|line| line.chars().count()).max();
    assert!(widest <= Some(100), "{}", said.out);
}

#[test]
fn status_tells_of_errors_but_does_not_judge() {
    let said = stagebook(&works(), &["status", FAULTY]).expect(0);
    assert!(said.out.contains("passed over"), "{}", said.out);
    assert!(
        said.out.contains("`stagebook check` explains"),
        "{}",
        said.out
    );
}

#[test]
fn status_draws_with_plain_signs_where_the_locale_has_no_others() {
    let blocks = |locale: &str| {
        let said = run(program(&works())
            .env("LANG", locale)
            .args(["status", PROGRESS]))
        .expect(0);
        (said.out.contains('█'), said.out.contains('#'))
    };
    assert_eq!(blocks("C.UTF-8"), (true, false));
    assert_eq!(blocks("C"), (false, true));
}

// --------------------------------------------------------------------------------------- explain, calc

#[test]
fn explain_tells_of_rules_functions_and_units() {
    let explain = |word: &str| stagebook(&works(), &["explain", word]).expect(0).out;
    let rule = explain("hold-passed");
    assert!(
        rule.contains("hold-passed") && rule.contains("licensed practice come first"),
        "{rule}"
    );
    let function = explain("resistance-at");
    assert!(
        function.contains("resistance-at") && function.contains("234.5")
            || function.contains("235"),
        "{function}"
    );
    let unit = explain("mbar");
    assert!(unit.contains("mbar") && unit.contains("100"), "{unit}");
    let list = stagebook(&works(), &["explain"]).expect(0).out;
    for word in ["hold-passed", "resistance-at", "mbar"] {
        assert!(list.contains(word), "{word}");
    }
}

#[test]
fn explain_knows_every_rule() {
    for rule in stagebook::finding::catalogue::all() {
        let said = stagebook(&works(), &["explain", rule.name]).expect(0);
        assert!(
            said.out.contains(rule.name) && said.out.lines().count() > 5,
            "{}",
            rule.name
        );
    }
}

#[test]
fn an_unknown_word_brings_the_nearest_known_one() {
    let said = stagebook(&works(), &["explain", "hold-past"]).expect(2);
    assert!(
        said.err.contains("hold-passed") && said.err.lines().count() <= 2,
        "{}",
        said.err
    );
    let said = stagebook(&works(), &["explain", "resistence-at"]).expect(2);
    assert!(said.err.contains("resistance-at"), "{}", said.err);
}

#[test]
fn calc_gives_exact_results() {
    let cases = [
        ("0.1 kV + 0.2 kV", "0.3 kV"),
        ("0.1 kV + 200 V = 300 V", "yes"),
        ("0.1 kV + 0.2 kV <= 300 V", "yes"),
        ("0.1 + 0.2 = 0.3", "yes"),
        ("65 °C - 20 °C", "45 K"),
        ("20 °C + 45 K", "65 °C"),
        ("512 mohm * (235 + 75) / (235 + 23.4)", "614.241 mohm"),
        ("1 / 4", "0.25"),
        ("2 ^ 10", "1024"),
        ("3 kV * 2 A", "6 kW"),
        ("not (1 kV > 2 kV)", "yes"),
        ("max(3 mm, 2 mm)", "3 mm"),
        ("sqrt(16 m^2)", "4 m"),
    ];
    let mut wrong = Vec::new();
    for (expression, result) in cases {
        let said = stagebook(&works(), &["calc", expression]).expect(0);
        if said.out.trim_end() != result {
            wrong.push(format!(
                "{expression}: expected {result}, found {}",
                said.out.trim_end()
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn calc_joins_its_words_and_takes_a_leading_minus() {
    let said = stagebook(&works(), &["calc", "-5", "K", "+", "3", "K"]).expect(0);
    assert_eq!(said.out, "-2 K\n");
}

#[test]
fn calc_says_what_is_wrong_with_an_expression() {
    for (expression, rule) in [
        ("65 °C + 20 °C", "dimension-mismatch"),
        ("1 kV + 1 A", "dimension-mismatch"),
        ("1 m / 0", "cannot-be-calculated"),
        ("5 furlong", "unknown-unit"),
        ("nonsense(1)", "unknown-function"),
        ("height + 1 mm", "unknown-name"),
        ("1 +", "unexpected-text"),
        ("1e999 * 2", "number-out-of-range"),
        ("3,5 mm + 1 mm", "decimal-comma"),
        ("(1 + 2", "unexpected-text"),
        ("", "unexpected-text"),
    ] {
        let said = stagebook(&works(), &["calc", expression]).expect(1);
        assert!(
            said.out.contains(rule),
            "{expression}: expected {rule}\n{}",
            said.out
        );
        assert_eq!(said.err, "", "{expression}");
    }
}

// --------------------------------------------------------------------- completions, manual, streams

#[test]
fn completions_are_written_for_each_shell() {
    for (shell, sign) in [
        ("bash", "complete -F"),
        ("zsh", "#compdef stagebook"),
        ("fish", "complete -c stagebook"),
    ] {
        let said = stagebook(&works(), &["completions", shell]).expect(0);
        assert!(
            said.out.contains(sign) && said.out.contains("status"),
            "{shell}"
        );
    }
}

#[test]
fn the_manual_page_is_roff_and_names_every_command() {
    let said = stagebook(&works(), &["manual"]).expect(0);
    assert!(
        said.out.contains(".TH"),
        "{}",
        said.out.lines().next().unwrap_or("")
    );
    for word in [
        "check",
        "status",
        "explain",
        "calc",
        "completions",
        "NO\\_COLOR",
        "101",
    ] {
        assert!(
            said.out.contains(word) || said.out.contains(&word.replace('\\', "")),
            "{word}"
        );
    }
}

#[test]
fn a_reader_that_goes_away_is_no_reason_to_panic() {
    for arguments in [
        &["check", "faults"][..],
        &["explain"],
        &["manual"],
        &["--help"],
    ] {
        let mut child = program(&works())
            .args(arguments)
            .spawn()
            .expect("the program was built with the test");
        drop(child.stdout.take());
        let mut err = String::new();
        let mut pipe = child.stderr.take().expect("it was asked for");
        pipe.read_to_string(&mut err)
            .expect("the program writes UTF-8");
        let status = child.wait().expect("the program ends");
        assert_ne!(status.code(), Some(101), "{arguments:?}: {err}");
        assert!(
            !err.contains("panic") && !err.contains("stagebook: internal error"),
            "{arguments:?}: {err}"
        );
    }
}

#[test]
fn closed_standard_error_does_not_panic() {
    let mut command = program(&works());
    command
        .args(["check", "no-such-file.ubr"])
        .stderr(Stdio::piped());
    let mut child = command
        .spawn()
        .expect("the program was built with the test");
    drop(child.stderr.take());
    assert_eq!(child.wait().expect("the program ends").code(), Some(2));
}
