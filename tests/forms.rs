//! The forms of findings that other programs read: SARIF and JUnit, held against their published schemas, and what
//! every form says of an accepted finding.

mod common;

use common::{Small, outside_check, program, project, run, stagebook, stagebook_reads, works};
use serde_json::Value;
use std::collections::HashSet;
use std::path::Path;
use std::sync::OnceLock;

const PLAN: &str = "plan p rev A

role quality, production

design
  may width : length

stage winding \"Windings\"
  reading height : length
    limit <= 1620 mm
    source works \"w\"
    severity warning
  reading mass : mass
    limit <= 3 t
    source works \"w\"
  reading depth : length
    limit <= 10 mm
    source works \"w\"
  hold H1 \"Winding cleared\" by quality

stage tests \"Tests\"
  reading current : current
    limit <= 3 A
    source works \"w\"
";

const REGISTER: &str = "register r

person M.Okafor \"Mary Okafor\"
  roles quality

person L.Novak \"Lena Novak\"
  roles production

instrument TP-1 \"tape\"
  measures length
  calibrated 2026-01-12 due 2027-03-01 certificate \"C-1\"
";

const HEAD: &str = "unit KFT-0500-1\n  plan p\n  register r\nstage winding\n  on 2026-02-19 by L.Novak with TP-1\n";

fn small() -> Small {
    Small::new(&[PLAN, REGISTER])
}

/// The log of some paths, with what the program said.
#[track_caller]
fn sarif(folder: &Path, paths: &[&str], status: i32) -> Value {
    let mut arguments = vec!["check", "--as", "sarif"];
    arguments.extend(paths);
    let log = stagebook(folder, &arguments).expect(status).json();
    valid(&log);
    log
}

/// Fails unless the published schema takes the log.
#[track_caller]
fn valid(log: &Value) {
    static SCHEMA: OnceLock<jsonschema::Validator> = OnceLock::new();
    let validator = SCHEMA.get_or_init(|| {
        let schema = project().join("tests/schemas/sarif-schema-2.1.0.json");
        let schema = std::fs::read_to_string(schema).expect("part of the project");
        // A lone bracket means itself in the regular expressions of a browser; here it is written so.
        let schema = schema.replace("{2}]?$", "{2}\\\\]?$");
        let schema: Value = serde_json::from_str(&schema).expect("the schema is JSON");
        jsonschema::options()
            .should_validate_formats(true)
            .build(&schema)
            .expect("the schema compiles")
    });
    let errors: Vec<String> = validator
        .iter_errors(log)
        .map(|error| format!("{}: {error}", error.instance_path()))
        .collect();
    assert!(errors.is_empty(), "{errors:#?}");
    assert_eq!(log["version"], "2.1.0");
    assert_eq!(log["runs"].as_array().map(Vec::len), Some(1));
}

fn results(log: &Value) -> &Vec<Value> {
    log["runs"][0]["results"]
        .as_array()
        .expect("the schema says so")
}

/// The first result of a rule.
#[track_caller]
fn of_rule<'a>(log: &'a Value, rule: &str) -> &'a Value {
    let mut all = results(log).iter();
    match all.find(|result| result["ruleId"] == rule) {
        Some(result) => result,
        None => panic!("no {rule} in {log:#}"),
    }
}

fn text<'a>(value: &'a Value, pointer: &str) -> &'a str {
    value.pointer(pointer).and_then(Value::as_str).unwrap_or("")
}

fn number(value: &Value, pointer: &str) -> u64 {
    value.pointer(pointer).and_then(Value::as_u64).unwrap_or(0)
}

fn junit(folder: &Path, paths: &[&str], status: i32) -> String {
    let mut arguments = vec!["check", "--as", "junit"];
    arguments.extend(paths);
    stagebook(folder, &arguments).expect(status).out
}

/// Its name, its attributes, its text.
type Element = (String, Vec<(String, String)>, String);

/// Every element of a report with its attributes and its text. Fails where the report is no XML.
#[track_caller]
fn elements(report: &str) -> Vec<Element> {
    use quick_xml::events::Event;
    let mut reader = quick_xml::Reader::from_str(report);
    reader.config_mut().expand_empty_elements = true;
    let mut found: Vec<Element> = Vec::new();
    let mut open: Vec<usize> = Vec::new();
    loop {
        match reader
            .read_event()
            .unwrap_or_else(|error| panic!("{error}: {report}"))
        {
            Event::Start(start) => {
                let attributes = start.attributes().map(|attribute| {
                    let attribute = attribute.expect("well-formed");
                    let key = attribute.key.as_ref().to_owned();
                    let raw = attribute.value.to_string();
                    let value = quick_xml::escape::unescape(&raw).expect("well-formed");
                    (key, value.into_owned())
                });
                let name = start.name().as_ref().to_owned();
                open.push(found.len());
                found.push((name, attributes.collect(), String::new()));
            }
            Event::End(_) => {
                open.pop();
            }
            Event::Text(words) => {
                if let Some(last) = open.last() {
                    found[*last].2.push_str(&words);
                }
            }
            Event::GeneralRef(reference) => {
                let name = reference.to_string();
                let sign = quick_xml::escape::unescape(&format!("&{name};"))
                    .expect("a known reference")
                    .into_owned();
                if let Some(last) = open.last() {
                    found[*last].2.push_str(&sign);
                }
            }
            Event::Eof => return found,
            _ => {}
        }
    }
}

fn attribute<'a>(element: &'a Element, name: &str) -> &'a str {
    let mut all = element.1.iter();
    all.find(|(key, _)| key == name)
        .map_or("", |(_, value)| value)
}

// ------------------------------------------------------------------------------------------ SARIF

#[test]
fn every_log_is_valid_by_the_published_schema() {
    let works = works();
    let faults = sarif(&works, &["faults"], 1);
    assert!(results(&faults).len() > 50);
    let units = sarif(&works, &["units"], 0);
    assert_eq!(units["runs"][0]["invocations"][0]["exitCode"], 0);
    assert_eq!(faults["runs"][0]["invocations"][0]["exitCode"], 1);
    assert_eq!(
        faults["runs"][0]["invocations"][0]["executionSuccessful"],
        true
    );
    // Nothing found at all.
    let empty = sarif(&works, &["register.ubr"], 0);
    assert_eq!(results(&empty).len(), 0);
    let artifacts = &empty["runs"][0]["artifacts"];
    assert_eq!(
        artifacts[0]["location"]["uri"],
        "examples/kestrel-ford/register.ubr"
    );
    // The schema refuses what it should.
    let mut odd = empty.clone();
    odd["runs"][0]["surprise"] = Value::Null;
    assert!(std::panic::catch_unwind(|| valid(&odd)).is_err());
}

#[test]
fn each_result_names_its_rule_and_each_rule_has_its_page() {
    let log = sarif(&works(), &["faults"], 1);
    let rules = log["runs"][0]["tool"]["driver"]["rules"]
        .as_array()
        .expect("rules")
        .clone();
    assert_eq!(rules.len(), stagebook::finding::catalogue::all().len());
    for result in results(&log) {
        let index = result["ruleIndex"].as_u64().expect("an index") as usize;
        assert_eq!(rules[index]["id"], result["ruleId"]);
    }
    for (rule, page) in rules.iter().zip(stagebook::finding::catalogue::all()) {
        assert_eq!(rule["id"], page.name);
        let help = text(rule, "/help/markdown");
        assert!(
            help.contains("**mend**") && help.contains("```ubr"),
            "{help}"
        );
        assert!(
            !text(rule, "/help/text").is_empty()
                && !text(rule, "/shortDescription/text").is_empty()
        );
    }
}

#[test]
fn severities_become_levels_and_what_is_pending_is_open() {
    let works = small();
    works.write(
        "unit.ubr",
        format!("{HEAD}  height = 1630 mm\n  depth = 11 mm\n"),
    );
    let log = sarif(works.path(), &["unit.ubr"], 1);
    let of = |rule: &str| {
        let result = of_rule(&log, rule);
        (
            text(result, "/kind").to_owned(),
            text(result, "/level").to_owned(),
        )
    };
    let all: Vec<&str> = results(&log)
        .iter()
        .filter(|result| result["ruleId"] == "out-of-limit")
        .map(|result| text(result, "/level"))
        .collect();
    assert_eq!(all, ["warning", "error"]);
    assert_eq!(of("pending"), ("open".to_owned(), "none".to_owned()));
    let unit = of_rule(&log, "out-of-limit");
    assert_eq!(
        text(unit, "/locations/0/logicalLocations/0/name"),
        "KFT-0500-1"
    );
}

#[test]
fn the_reasoning_stands_in_the_message() {
    let log = sarif(&works(), &["faults/KFT-0413-1.ubr"], 1);
    let message = &of_rule(&log, "out-of-limit")["message"];
    let (plain, markdown) = (text(message, "/text"), text(message, "/markdown"));
    for part in [
        "steel-loss",
        "1.07",
        "limit: ",
        "margin: -0.07",
        "source: ",
        "because: ",
        "look at: 2. ",
        "caution: ",
        "next: ",
    ] {
        assert!(plain.contains(part), "{part}: {plain}");
    }
    for part in [
        "| steel-loss | 1.07 |",
        "- **limit** ",
        "- **margin** -0.07",
        "- **because** ",
        "  2. ",
        "- **next** ",
    ] {
        assert!(markdown.contains(part), "{part}: {markdown}");
    }
    assert!(
        plain
            .lines()
            .next()
            .is_some_and(|line| line.starts_with("expected "))
    );
    // The limit stands in the plan, and the input in the record.
    let related = of_rule(&log, "out-of-limit")["relatedLocations"].clone();
    assert!(
        number(&related, "/0/physicalLocation/region/startLine") > 1,
        "{related:#}"
    );
    let texts: Vec<&str> = (0..2)
        .map(|index| text(&related[index], "/message/text"))
        .collect();
    assert!(
        texts.iter().any(|text| text.contains("the limit"))
            && texts.iter().any(|text| text.contains("design."))
    );
}

#[test]
fn columns_are_those_of_an_editor() {
    let works = small();
    let line = "  depth = 12 mm because \"20 °C, Ω, 😀😀\" junk";
    let unit = format!("{HEAD}{line}\n").replace('\n', "\r\n");
    works.write("unit.ubr", &unit);
    let log = sarif(works.path(), &["unit.ubr"], 1);
    assert_eq!(log["runs"][0]["columnKind"], "utf16CodeUnits");
    let region = &of_rule(&log, "unexpected-text")["locations"][0]["physicalLocation"]["region"];
    let before = line.split("junk").next().expect("it stands there");
    let column = before.encode_utf16().count() as u64 + 1;
    assert_eq!(number(region, "/startLine"), 6);
    assert_eq!(number(region, "/startColumn"), column);
    assert_eq!(number(region, "/endColumn"), column + 4);
    assert_eq!(number(region, "/endLine"), 6);
    // As characters it would be two less: the test can tell.
    assert_eq!(before.chars().count() as u64 + 3, column);
}

/// Puts the fixes of a log into a text as a program that knows only SARIF would.
fn mended(log: &Value, text_before: &str) -> String {
    let lines: Vec<Vec<u16>> = text_before
        .split_inclusive('\n')
        .map(|line| line.encode_utf16().collect())
        .collect();
    let offset = |line: u64, column: u64| {
        let before: usize = lines[..line as usize - 1].iter().map(Vec::len).sum();
        before + column as usize - 1
    };
    let mut edits = Vec::new();
    for result in results(log) {
        let Some(replacements) = result.pointer("/fixes/0/artifactChanges/0/replacements") else {
            continue;
        };
        for replacement in replacements.as_array().expect("a list") {
            let region = &replacement["deletedRegion"];
            edits.push((
                offset(number(region, "/startLine"), number(region, "/startColumn")),
                offset(number(region, "/endLine"), number(region, "/endColumn")),
                text(replacement, "/insertedContent/text").to_owned(),
            ));
        }
    }
    edits.sort();
    let mut units: Vec<u16> = lines.concat();
    for (start, end, insert) in edits.into_iter().rev() {
        units.splice(start..end, insert.encode_utf16());
    }
    String::from_utf16(&units).expect("whole characters")
}

#[test]
fn fixes_can_be_applied_from_the_log_alone() {
    let works = small();
    let unit = format!(
        "{HEAD}\theight = 1612mm\n  depth = 9,5 mm  because \"°Ω😀\"\n  mass = 2t because \"😀\" \n"
    );
    works.write("unit.ubr", &unit);
    let log = sarif(works.path(), &["unit.ubr"], 1);
    for rule in ["decimal-comma", "unit-space-missing", "tab-indentation"] {
        assert!(of_rule(&log, rule).get("fixes").is_some(), "{rule}");
    }
    let after = mended(&log, &unit);
    assert!(
        after.contains(
            "  height = 1612 mm\n  depth = 9.5 mm  because \"°Ω😀\"\n  mass = 2 t because"
        ),
        "{after}"
    );
    works.write("unit.ubr", &after);
    let log = sarif(works.path(), &["unit.ubr"], 0);
    assert!(
        results(&log)
            .iter()
            .all(|result| result.get("fixes").is_none())
    );
}

fn fingerprints(log: &Value) -> Vec<String> {
    let one = |result: &Value| text(result, "/partialFingerprints/finding~1v1").to_owned();
    results(log).iter().map(one).collect()
}

#[test]
fn a_fingerprint_stays_when_lines_move_and_when_another_value_fails() {
    let works = small();
    let unit =
        format!("{HEAD}  height = 1630 mm\n  depth = 9,5 mm\n  mass = 4 t\n  depth = 9,5 mm\n");
    works.write("unit.ubr", &unit);
    let before = fingerprints(&sarif(works.path(), &["unit.ubr"], 1));
    let different: HashSet<&String> = before.iter().collect();
    assert_eq!(different.len(), before.len(), "{before:#?}");
    assert!(before.iter().all(|print| !print.is_empty()));
    let moved = unit
        .replace("stage winding", "# a line\n\n# another\n\nstage winding")
        .replace("  mass", "\n  mass");
    works.write("unit.ubr", &moved);
    assert_eq!(fingerprints(&sarif(works.path(), &["unit.ubr"], 1)), before);
    works.write("unit.ubr", unit.replace("1630 mm", "1640 mm"));
    assert_eq!(fingerprints(&sarif(works.path(), &["unit.ubr"], 1)), before);
    // The file's name is no part of it where the unit has a serial.
    works.write("deep/other.ubr", &unit);
    std::fs::remove_file(works.path().join("unit.ubr")).expect("it was written");
    assert_eq!(fingerprints(&sarif(works.path(), &["deep"], 1)), before);
    works.write("deep/other.ubr", unit.replace("KFT-0500-1", "KFT-0500-2"));
    let other = fingerprints(&sarif(works.path(), &["deep"], 1));
    assert!(other.iter().zip(&before).all(|(one, other)| one != other));
    // In the works' many faults every one stands once.
    let all = fingerprints(&sarif(&common::works(), &["faults"], 1));
    assert_eq!(all.iter().collect::<HashSet<_>>().len(), all.len());
}

#[test]
fn an_accepted_finding_is_suppressed_counted_apart_and_never_hidden() {
    let works = small();
    let accept = "  accept out-of-limit because \"shim <4 mm> fitted\" by M.Okafor on 2026-02-20\n";
    let unit = format!("{HEAD}{accept}  height = 1630 mm\n  depth = 9 mm\n");
    works.write("unit.ubr", &unit);
    let log = sarif(works.path(), &["unit.ubr"], 0);
    let result = of_rule(&log, "out-of-limit");
    let suppression = &result["suppressions"][0];
    assert_eq!(text(suppression, "/kind"), "inSource");
    assert_eq!(text(suppression, "/status"), "accepted");
    assert_eq!(
        text(suppression, "/justification"),
        "shim <4 mm> fitted (M.Okafor on 2026-02-20)"
    );
    assert_eq!(
        number(suppression, "/location/physicalLocation/region/startLine"),
        6
    );
    assert_eq!(text(result, "/level"), "warning");
    assert!(
        text(result, "/message/markdown")
            .contains("- **accepted** by M.Okafor on 2026-02-20: shim &lt;4 mm&gt;")
    );
    // All results say whether they are suppressed.
    assert!(
        results(&log)
            .iter()
            .all(|result| result["suppressions"].is_array())
    );

    let said = stagebook(works.path(), &["check", "unit.ubr", "--as", "json"])
        .expect(0)
        .json();
    let found = said["findings"].as_array().expect("findings");
    let found = found
        .iter()
        .find(|finding| finding["rule"] == "out-of-limit")
        .expect("it stays");
    assert_eq!(found["accepted"]["by"], "M.Okafor");
    assert_eq!(found["accepted"]["start"]["line"], 6);

    let said = stagebook(works.path(), &["check", "unit.ubr"]).expect(0);
    assert!(
        said.out.contains("accepted warning: expected height"),
        "{}",
        said.out
    );
    assert!(
        said.out
            .contains("by M.Okafor on 2026-02-20: shim <4 mm> fitted"),
        "{}",
        said.out
    );
    assert!(
        said.out
            .contains("no errors, 0 warnings, 0 notes, 1 accepted"),
        "{}",
        said.out
    );

    let report = junit(works.path(), &["unit.ubr"], 0);
    let all = elements(&report);
    let at = all
        .iter()
        .position(|element| attribute(element, "name").starts_with("out-of-limit: "))
        .expect("it stays");
    assert_eq!(all[at + 1].0, "system-out");
    assert!(
        all[at + 1]
            .2
            .contains("by M.Okafor on 2026-02-20: shim <4 mm> fitted"),
        "{:?}",
        all[at + 1]
    );
    assert!(!report.contains("<failure"));
}

#[test]
fn the_same_documents_give_the_same_text_anywhere() {
    let works = small();
    let bad = format!("{HEAD}  height = 1630 mm\n  depth = 11 mm\n");
    for number in 1..40 {
        works.write(
            &format!("units/u{number}.ubr"),
            bad.replace("0500-1", &format!("0500-{number}")),
        );
    }
    for form in ["sarif", "junit"] {
        let said = |folder: &Path, more: &[&str]| {
            let arguments = [&["check", "units", "--as", form], more].concat();
            stagebook(folder, &arguments).expect(1).out
        };
        let first = said(works.path(), &[]);
        assert_eq!(first, said(works.path(), &["--threads", "1"]), "{form}");
        assert_eq!(first, said(works.path(), &["--threads", "4"]), "{form}");
        // A copy elsewhere.
        let copy = small();
        for number in 1..40 {
            let name = format!("units/u{number}.ubr");
            let text = std::fs::read(works.path().join(&name)).expect("it was written");
            copy.write(&name, text);
        }
        assert_eq!(first, said(copy.path(), &[]), "{form}");
        // Named from elsewhere, by an absolute path: nothing of the machine is told.
        let unit = works.path().join("units/u1.ubr");
        let arguments = ["check", &*unit.to_string_lossy(), "--as", form];
        let absolute = stagebook(&works.path().join("units"), &arguments)
            .expect(1)
            .out;
        let folder = works.path().canonicalize().expect("it is there");
        for name in [works.path(), &folder] {
            let name = name.to_string_lossy().into_owned();
            assert!(
                !absolute.contains(&name) && !first.contains(&name),
                "{form}: {name}"
            );
        }
        assert!(
            !first.contains("\"endTimeUtc\"") && !first.contains("timestamp="),
            "{form}"
        );
    }
}

#[test]
fn paths_count_from_the_root_of_the_repository() {
    let works = small();
    works.write("units/u1.ubr", format!("{HEAD}  depth = 11 mm\n"));
    std::fs::create_dir(works.path().join(".git")).expect("a temporary folder");
    let uri = |log: &Value| {
        text(
            of_rule(log, "out-of-limit"),
            "/locations/0/physicalLocation/artifactLocation/uri",
        )
        .to_owned()
    };
    let units = works.path().join("units");
    assert_eq!(uri(&sarif(works.path(), &["units"], 1)), "units/u1.ubr");
    assert_eq!(uri(&sarif(&units, &["."], 1)), "units/u1.ubr");
    assert_eq!(uri(&sarif(&units, &["../units/u1.ubr"], 1)), "units/u1.ubr");
    let log = sarif(&units, &["u1.ubr"], 1);
    let limit = of_rule(&log, "out-of-limit");
    assert_eq!(
        text(
            limit,
            "/relatedLocations/0/physicalLocation/artifactLocation/uri"
        ),
        "document-0.ubr"
    );
    let artifacts = log["runs"][0]["artifacts"].as_array().expect("a list");
    let uris: Vec<&str> = artifacts
        .iter()
        .map(|artifact| text(artifact, "/location/uri"))
        .collect();
    assert_eq!(uris, ["units/u1.ubr", "document-0.ubr"]);
}

#[test]
fn a_place_in_a_built_in_plan_carries_its_text() {
    let log = sarif(&works(), &["faults/KFT-0413-1.ubr"], 1);
    let places = results(&log).iter().flat_map(|result| {
        result["relatedLocations"]
            .as_array()
            .cloned()
            .unwrap_or_default()
    });
    let place = places
        .map(|related| related["physicalLocation"].clone())
        .find(|place| text(place, "/artifactLocation/uri").starts_with("stagebook:"))
        .expect("a limit of a built-in plan");
    assert_eq!(place.pointer("/artifactLocation/uriBaseId"), None);
    assert!(
        !text(&place, "/region/snippet/text").is_empty(),
        "{place:#}"
    );
}

// ------------------------------------------------------------------------------------------ JUnit

#[test]
fn the_failures_of_a_report_are_the_errors_of_the_check() {
    for (paths, status) in [
        (&["faults"][..], 1),
        (&["units"], 0),
        (&["units", "faults", "plan.ubr"], 1),
    ] {
        let report = junit(&works(), paths, status);
        let mut arguments = vec!["check", "--as", "json"];
        arguments.extend(paths);
        let found = stagebook(&works(), &arguments).expect(status).found();
        let errors = found
            .iter()
            .filter(|(_, _, severity)| severity == "error")
            .count();
        let all = elements(&report);
        let failures = all.iter().filter(|element| element.0 == "failure").count();
        assert_eq!(failures, errors, "{paths:?}");
        assert_eq!(attribute(&all[0], "failures"), errors.to_string());
        for failure in all.iter().filter(|element| element.0 == "failure") {
            assert!(
                failure.2.contains(attribute(failure, "type")),
                "{failure:?}"
            );
            assert!(failure.2.contains("error: "), "{failure:?}");
        }
    }
}

#[test]
fn what_is_pending_is_skipped_and_what_is_complete_passes() {
    let works = small();
    works.write("unit.ubr", format!("{HEAD}  height = 1610 mm\n  mass = 2 t\n  depth = 9 mm\n  release H1 by M.Okafor on 2026-02-20\n"));
    let all = elements(&junit(works.path(), &["."], 0));
    let case = |name: &str| {
        let at = all
            .iter()
            .position(|element| element.0 == "testcase" && attribute(element, "name") == name);
        at.map(|at| {
            (
                attribute(&all[at], "classname").to_owned(),
                all[at + 1].clone(),
            )
        })
    };
    let (class, inner) = case("stage Windings").expect("a case");
    assert_eq!(
        (class.as_str(), inner.0.as_str()),
        ("KFT-0500-1.winding", "system-out")
    );
    let (_, inner) = case("stage Tests").expect("a case");
    assert_eq!(inner.0, "skipped");
    assert_eq!(attribute(&inner, "message"), "to be recorded: current");
    // Each document has a suite, the plan and the register too.
    let suites: Vec<&str> = all
        .iter()
        .filter(|element| element.0 == "testsuite")
        .map(|suite| attribute(suite, "name"))
        .collect();
    assert_eq!(suites, ["document-0.ubr", "document-1.ubr", "KFT-0500-1"]);
    assert!(
        all.iter()
            .any(|element| attribute(element, "name") == "nothing found")
    );
}

#[test]
fn a_failing_stage_is_told_by_its_findings() {
    let works = small();
    works.write(
        "unit.ubr",
        format!("{HEAD}  depth = 11 mm\nstage tests\n  current = 2 A on 2026-02-21 by L.Novak\n"),
    );
    let all = elements(&junit(works.path(), &["unit.ubr"], 1));
    let cases: Vec<(&str, &str)> = all
        .iter()
        .filter(|element| element.0 == "testcase")
        .map(|case| (attribute(case, "classname"), attribute(case, "name")))
        .collect();
    assert!(
        cases
            .iter()
            .any(|(class, name)| *class == "KFT-0500-1.winding"
                && name.starts_with("out-of-limit: ")),
        "{cases:?}"
    );
    assert!(
        !cases.iter().any(|(_, name)| *name == "stage Windings"),
        "{cases:?}"
    );
}

#[test]
fn every_report_is_valid_by_the_published_schema() {
    let works = works();
    let mut reports = vec![
        junit(&works, &["faults"], 1),
        junit(&works, &["units"], 0),
        junit(&works, &["register.ubr"], 0),
    ];
    let hostile = small();
    let unit = hostile_unit();
    reports.push(
        stagebook_reads(
            hostile.path(),
            &["check", "-", "--name", "a<&\"'>%#?b.ubr", "--as", "junit"],
            &unit,
        )
        .expect(1)
        .out,
    );
    let rows = serde_json::to_string(&reports).expect("texts");
    outside_check("junit_against_schema.py", &rows);
}

// --------------------------------------------------------------------------------- hostile, large

/// A record with everything in it that a form could stumble over.
fn hostile_unit() -> Vec<u8> {
    let mut unit = "unit \"KFT <b>&amp;]]>\u{1}\u{202e}\" \"<script>{0}[x](javascript:1)\"\n  plan p\n  register r\nstage winding\n  depth = 11 mm by \"x\u{7}\u{1b}[2J\u{fffe}\u{ffff}\"\n  ]]> <!-- & \"é {1} | `a` *b* _c_ [d](e)\n"
        .as_bytes()
        .to_vec();
    unit.extend_from_slice(b"  height = 1 \xff\xfe mm \0\r\r\n\n");
    unit
}

#[test]
fn hostile_names_and_texts_stay_texts() {
    let works = small();
    let unit = hostile_unit();
    let name = "a<&\"'>%#?\u{1}é 😀.ubr";
    let said = stagebook_reads(
        works.path(),
        &["check", "-", "--name", name, "--as", "sarif"],
        &unit,
    )
    .expect(1);
    let log = said.json();
    valid(&log);
    let uri = text(
        &log,
        "/runs/0/results/0/locations/0/physicalLocation/artifactLocation/uri",
    );
    assert_eq!(uri, "a%3C%26%22%27%3E%25%23%3F%01%C3%A9%20%F0%9F%98%80.ubr");
    for result in results(&log) {
        for pointer in ["/message/text", "/message/markdown"] {
            let words = text(result, pointer);
            assert!(
                !words.contains(['\u{1b}', '\u{7}', '\0', '\u{202e}']),
                "{words:?}"
            );
        }
        let markdown = text(result, "/message/markdown");
        assert!(
            !markdown.contains("<script") && !markdown.contains("<!--"),
            "{markdown}"
        );
    }
    let report = stagebook_reads(
        works.path(),
        &["check", "-", "--name", name, "--as", "junit"],
        &unit,
    )
    .expect(1)
    .out;
    let forbidden =
        |each: char| matches!(each, '\0'..='\u{8}' | '\u{b}'..='\u{1f}' | '\u{fffe}' | '\u{ffff}');
    assert!(!report.contains(forbidden));
    let all = elements(&report);
    assert!(all.iter().any(|element| element.0 == "failure"));
    assert!(
        attribute(&all[1], "file").starts_with("a<&\"'>%#?"),
        "{:?}",
        all[1]
    );
}

#[test]
fn any_prefix_of_a_record_gives_valid_forms() {
    let works = small();
    let unit = hostile_unit();
    for end in (0..unit.len()).step_by(17) {
        let arguments = ["check", "-", "--name", "u.ubr", "--as"];
        let said = |form| {
            run_reading(
                works.path(),
                &[&arguments[..], &[form]].concat(),
                &unit[..end],
            )
        };
        valid(&said("sarif").json());
        elements(&said("junit").out);
    }
}

fn run_reading(folder: &Path, arguments: &[&str], input: &[u8]) -> common::Said {
    let said = stagebook_reads(folder, arguments, input);
    let status = said.status.unwrap_or(-1);
    assert!((0..2).contains(&status), "{}", said.err);
    said.expect(status)
}

#[test]
fn ten_thousand_findings_are_told_in_every_form() {
    let works = small();
    let mut unit = HEAD.to_owned();
    for line in 0..10_000 {
        unit.push_str(&format!("  q{line} = 1,5 mm\n"));
    }
    works.write("unit.ubr", &unit);
    let log = stagebook(works.path(), &["check", "unit.ubr", "--as", "sarif"])
        .expect(1)
        .json();
    assert!(results(&log).len() >= 10_000);
    let different: HashSet<String> = fingerprints(&log).into_iter().collect();
    assert_eq!(different.len(), results(&log).len());
    let report = stagebook(works.path(), &["check", "unit.ubr", "--as", "junit"])
        .expect(1)
        .out;
    assert_eq!(
        elements(&report)
            .iter()
            .filter(|element| element.0 == "failure")
            .count(),
        results(&log)
            .iter()
            .filter(|result| result["level"] == "error")
            .count()
    );
}

#[test]
fn many_findings_on_one_line_are_each_told_with_their_column() {
    let members: Vec<String> = (0..3_000).map(|member| format!("P{member}")).collect();
    let members = members.join(" ");
    let plan = format!(
        "plan wide rev A\nset position = {members}\nstage winding\n  reading row[position] : length\n    limit <= 10 mm\n    source works \"w\"\n"
    );
    let works = Small::unchecked(&[&plan]);
    let cells: Vec<String> = (0..3_000).map(|cell| format!("{}", cell + 11)).collect();
    let cells = cells.join(" ");
    works.write(
        "unit.ubr",
        format!("unit KFT-0500-1 \"°😀\"\n  plan wide\nstage winding\n  table row(mm)\n    {members}\n    {cells}\n"),
    );
    let log = stagebook(works.path(), &["check", "unit.ubr", "--as", "sarif"])
        .expect(1)
        .json();
    let mut columns: Vec<u64> = results(&log)
        .iter()
        .filter(|result| result["ruleId"] == "out-of-limit")
        .map(|result| number(result, "/locations/0/physicalLocation/region/startColumn"))
        .collect();
    columns.sort_unstable();
    columns.dedup();
    assert_eq!(columns.len(), 3_000);
    assert_eq!(columns[2_999] as usize, 5 + cells.len() - 4);
    let report = junit(works.path(), &["unit.ubr"], 1);
    assert_eq!(report.matches("<failure").count(), 3_000);
}

#[test]
fn the_options_choose_what_is_told_in_these_forms_too() {
    let works = small();
    works.write(
        "unit.ubr",
        format!("{HEAD}  height = 1630 mm\n  depth = 11 mm\n"),
    );
    let count = |more: &[&str]| {
        let arguments = [&["check", "unit.ubr", "--as", "sarif"], more].concat();
        let log = run(program(works.path()).args(arguments)).expect(1).json();
        let kinds = |kind: &str| {
            results(&log)
                .iter()
                .filter(|result| result["kind"] == kind)
                .count()
        };
        (kinds("fail"), kinds("open"))
    };
    let (all, open) = count(&[]);
    assert!(all > 1 && open > 0);
    assert_eq!(count(&["--no-pending"]), (all, 0));
    assert_eq!(count(&["--quiet"]), (1, 0));
}
