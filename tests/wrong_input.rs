//! Wrong input gets a finding at its place or an error of one line: never a panic, never a hang.
//!
//! Every case runs the real program, and every case must end within ten seconds in debug.

mod common;

use common::{Said, Small, stagebook, stagebook_reads};

const PLAN: &str = "\
plan bench rev A
  title \"Bench\"

set phase = U V W

role quality

stage winding \"Winding\"
  reading height[phase] : length
    limit <= 1700 mm
    source common-practice
  reading turns : count
  hold H10 \"Cleared\" by quality

stage drying \"Drying\"
  after winding
  log oven \"Oven\"
    column temperature : temperature
  check hot \"Hot enough\"
    require max(oven.temperature) >= 90 °C
    source common-practice
";

/// Head of a unit of the plan above: three lines.
const HEAD: &str = "unit KFT-0500-1 \"bench\"\n  plan bench rev A\n  zone +01:00\n";

fn works() -> Small {
    Small::new(&[PLAN])
}

/// Checks a document that stands beside the plan.
#[track_caller]
fn check(works: &Small, bytes: impl AsRef<[u8]>, status: i32) -> Said {
    works.write("unit.ubr", bytes);
    let text = stagebook(works.path(), &["check", "unit.ubr"]).expect(status);
    assert!(!text.out.is_empty() && text.err.is_empty(), "{}", text.err);
    stagebook(works.path(), &["check", "unit.ubr", "--as", "json"]).expect(status)
}

/// Fails unless this rule was found on this line.
#[track_caller]
fn has(said: &Said, line: u64, rule: &str) {
    let found = said.found();
    assert!(
        found
            .iter()
            .any(|(at, name, _)| *at == line && name == rule),
        "{rule} on {line}: {found:?}"
    );
}

/// Fails unless exactly these errors, warnings and notes were found.
#[track_caller]
fn only(said: &Said, rules: &[(u64, &str)]) {
    let found: Vec<(u64, String)> = said
        .found()
        .into_iter()
        .filter(|(.., severity)| severity != "pending")
        .map(|(line, rule, _)| (line, rule))
        .collect();
    let rules: Vec<(u64, String)> = rules
        .iter()
        .map(|(line, rule)| (*line, (*rule).to_owned()))
        .collect();
    assert_eq!(found, rules);
}

// --------------------------------------------------------------------------------------------- the bytes

#[test]
fn invalid_utf8_is_placed_and_the_rest_is_read() {
    let mut bytes = HEAD.as_bytes().to_vec();
    bytes.extend(
        b"\nstage winding\n  height[U] = 1600 mm\n  turns = 8\xff0\n  height[V] = 1800 mm\n",
    );
    let said = check(&works(), bytes, 1);
    has(&said, 7, "invalid-utf8");
    has(&said, 8, "out-of-limit");
    let json = said.json();
    let finding = json["findings"]
        .as_array()
        .and_then(|findings| {
            findings
                .iter()
                .find(|finding| finding["rule"] == "invalid-utf8")
        })
        .expect("it was found above");
    assert_eq!(finding["start"]["column"], 12, "{finding:#}");
    assert!(
        finding["message"]
            .as_str()
            .is_some_and(|text| text.contains("0xFF")),
        "{finding:#}"
    );
}

#[test]
fn random_bytes_are_told_in_one_line_each() {
    let mut state = 1_u32;
    let bytes: Vec<u8> = std::iter::repeat_with(|| {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        (state >> 24) as u8
    })
    .take(200_000)
    .collect();
    let said = check(&works(), &bytes, 1);
    assert!(
        said.found()
            .iter()
            .any(|(_, rule, _)| rule == "invalid-utf8")
    );
}

#[test]
fn a_nul_byte_is_found_on_its_line() {
    let text = format!("{HEAD}\nstage winding\n  turns = 8\0 0\n");
    has(&check(&works(), text, 1), 6, "control-character");
    check(&works(), vec![0; 100_000], 1);
}

#[test]
fn a_byte_order_mark_is_noted_and_the_record_is_read() {
    let text = format!("\u{feff}{HEAD}\nstage winding\n  height[U] = 1800 mm\n");
    only(
        &check(&works(), text, 1),
        &[(1, "byte-order-mark"), (6, "out-of-limit")],
    );
}

#[test]
fn lines_that_end_in_a_carriage_return_alone_are_found() {
    let text = format!("{HEAD}\nstage winding\n  turns = 80\n").replace('\n', "\r");
    let said = check(&works(), text, 1);
    assert!(
        said.found()
            .iter()
            .any(|(_, rule, _)| rule == "lone-carriage-return"),
        "{:?}",
        said.found()
    );
}

#[test]
fn windows_line_ends_are_no_fault() {
    let text = format!("{HEAD}\nstage winding\n  turns = 80\n").replace('\n', "\r\n");
    only(&check(&works(), text, 0), &[]);
}

#[test]
fn an_empty_document_is_named_so() {
    for text in ["", "\n", "   \n\n", "# only a comment\n", "\u{feff}"] {
        let said = check(&works(), text, 0);
        assert!(
            said.found()
                .iter()
                .any(|(_, rule, _)| rule == "empty-document"),
            "{text:?}: {:?}",
            said.found()
        );
    }
}

#[test]
fn another_kind_of_text_is_named_so() {
    has(
        &check(&works(), "Dear all,\nplease find the record attached.\n", 1),
        1,
        "unknown-document",
    );
}

// ---------------------------------------------------------------------------------------------- the size

#[test]
fn a_megabyte_on_one_line_is_read() {
    let long = "x".repeat(1 << 20);
    let said = check(
        &works(),
        format!("{HEAD}\nstage winding\n  turns = {long}\n"),
        1,
    );
    has(&said, 6, "wrong-kind");
    assert!(said.out.len() < 3 << 20);
    let said = check(
        &works(),
        format!("{HEAD}\nstage winding\n  note \"{long}\"\n"),
        0,
    );
    only(&said, &[]);
    let said = check(
        &works(),
        format!(
            "{HEAD}\nstage winding\n  turns = {}\n",
            "7 ".repeat(1 << 19)
        ),
        1,
    );
    has(&said, 6, "unexpected-text");
    let said = check(
        &works(),
        format!("{HEAD}\nstage winding\n  turns = {}\n", "7".repeat(1 << 20)),
        1,
    );
    has(&said, 6, "number-out-of-range");
}

#[test]
fn a_finding_on_a_long_line_is_shown_in_short() {
    let works = works();
    works.write(
        "unit.ubr",
        format!(
            "{HEAD}\nstage winding\n  {}turns = 8O\n",
            "height ".repeat(150_000)
        ),
    );
    let said = stagebook(works.path(), &["check", "unit.ubr"]).expect(1);
    assert!(said.out.len() < 20_000, "{} bytes", said.out.len());
}

#[test]
fn a_hundred_thousand_levels_of_indentation_are_capped_with_a_finding() {
    let mut text = format!("{HEAD}\nstage winding\n");
    // One level a line would be gigabytes of blanks at the end: a thousand lines go deeper, one goes all the way.
    for level in 1..1_000 {
        text.push_str(&" ".repeat(level * 2));
        text.push_str("note \"deeper\"\n");
    }
    text.push_str(&" ".repeat(200_000));
    text.push_str("note \"deepest\"\n  height[U] = 1800 mm\n");
    let said = check(&works(), text, 1);
    assert!(
        said.found()
            .iter()
            .any(|(_, rule, _)| rule == "outline-too-deep")
    );
    has(&said, 1006, "out-of-limit");
}

#[test]
fn a_hundred_thousand_nested_parentheses_are_capped_with_a_finding() {
    let (open, close) = ("(".repeat(100_000), ")".repeat(100_000));
    for expression in [
        format!("{open}1{close}"),
        open.clone(),
        close.clone(),
        "abs(".repeat(100_000),
        "not ".repeat(100_000),
        "- ".repeat(100_000),
        "if 1 = 1 then ".repeat(100_000),
        "2 ^ ".repeat(100_000),
        "1 + ".repeat(100_000),
        "[".repeat(100_000),
    ] {
        let text = format!(
            "plan deep rev A\n\nstage winding\n  reading a : number\n  calc b = {expression}\n"
        );
        let said = check(&works(), text, 1);
        let found = said.found();
        assert!(
            found.iter().any(|(line, ..)| *line == 5),
            "{}…: {found:?}",
            &expression[..12]
        );
        if expression.starts_with("((") {
            assert!(
                found.iter().any(|(_, rule, _)| rule == "nesting-too-deep"),
                "{found:?}"
            );
        }
        let said = stagebook_reads(
            works().path(),
            &["check", "-"],
            format!("unit {expression}\n").as_bytes(),
        );
        said.expect(1);
    }
}

#[test]
fn calc_bounds_a_nested_expression() {
    // Longer arguments than this the system itself refuses.
    for expression in [
        "(".repeat(100_000),
        format!("{}1", "-".repeat(100_000)),
        "1+".repeat(50_000),
    ] {
        stagebook(works().path(), &["calc", &expression]).expect(1);
    }
}

#[test]
fn calc_bounds_the_size_of_a_number() {
    for expression in [
        "10 ^ 1000000000",
        "2 ^ 2 ^ 2 ^ 2 ^ 2 ^ 2",
        "(1 / 3) ^ 100000",
        "1e300 * 1e300 * 1e300",
    ] {
        let said = stagebook(works().path(), &["calc", expression]);
        assert!(
            matches!(said.status, Some(0 | 1)),
            "{expression}: {:?} {}",
            said.status,
            said.err
        );
        assert!(
            said.took < common::LONGEST,
            "{expression} took {:?}",
            said.took
        );
    }
}

#[test]
fn a_table_of_a_hundred_thousand_rows_is_read() {
    let mut text =
        format!("{HEAD}\nstage drying\n  on 2026-03-02\n  log oven\n    time  temperature(°C)\n");
    for row in 0..100_000 {
        let (day, hour, minute) = (row / 1440 % 28 + 1, row / 60 % 24, row % 60);
        let month = row / 1440 / 28 + 3;
        text.push_str(&format!(
            "    2026-{month:02}-{day:02} {hour:02}:{minute:02}  101.5\n"
        ));
    }
    let said = check(&works(), &text, 1);
    // Work in the oven with nothing recorded of the winding: the log itself is in order.
    let found = said.found();
    assert!(
        found.iter().all(|(line, ..)| *line <= 7),
        "{:?}",
        &found[..found.len().min(5)]
    );

    let mut text = format!("{HEAD}\nstage winding\n  table\n    phase  height(mm)\n");
    for _ in 0..30_000 {
        text.push_str("    U      1600\n");
    }
    let said = check(&works(), &text, 1);
    has(&said, 9, "duplicate-reading");
}

#[test]
fn twenty_thousand_faults_are_all_told() {
    let mut text = format!("{HEAD}\nstage winding\n");
    for _ in 0..20_000 {
        text.push_str("  hieght[U] = 1600 mm\n");
    }
    let found = check(&works(), &text, 1).found();
    assert_eq!(
        found
            .iter()
            .filter(|(_, rule, _)| rule == "unknown-name")
            .count(),
        20_000
    );
}

// ------------------------------------------------------------------------------------------------- values

#[test]
fn a_wrong_value_is_found_on_its_line_and_breaks_nothing_else() {
    let cases = [
        ("turns = 1e999", "number-out-of-range"),
        ("turns = 1e-999999999999", "number-out-of-range"),
        ("height[U] = 1612,5 mm", "decimal-comma"),
        ("height[U] = 1612mm", "unit-space-missing"),
        ("height[U] = 5 furlong", "unknown-unit"),
        ("height[U] = 5 mm^99999999999", "unknown-unit"),
        ("height[U] = 5 kg", "wrong-unit"),
        ("height[U] = 5", "unit-missing"),
        ("height[U] = yes", "wrong-kind"),
        ("height[X] = 5 mm", "unknown-member"),
        ("height[U, V] = 5 mm", "index-count"),
        ("height = 5 mm", "index-count"),
        ("turns = 3.5", "wrong-kind"),
        ("turns = \"80", "unterminated-text"),
        ("turns = n/a", "reason-missing"),
        ("turns = ", "unexpected-text"),
        ("turns 80", "unknown-statement"),
        ("on 2026-02-30", "impossible-date"),
        ("on 2026-13-01", "impossible-date"),
        ("on 2026-03-02 25:00", "impossible-date"),
        ("turns = 80 on 2025-02-29", "impossible-date"),
        ("release H10 by M.Okafor on 2026-06-31", "impossible-date"),
    ];
    let works = works();
    let mut wrong = Vec::new();
    for (line, rule) in cases {
        let text = format!("{HEAD}\nstage winding\n  {line}\n  height[W] = 1800 mm\n");
        works.write("unit.ubr", &text);
        let said = stagebook(works.path(), &["check", "unit.ubr", "--as", "json"]).expect(1);
        let found = said.found();
        let here = found.iter().any(|(at, name, _)| *at == 6 && name == rule);
        if !here
            || !found
                .iter()
                .any(|(at, name, _)| *at == 7 && name == "out-of-limit")
        {
            wrong.push(format!("{line}: expected {rule}, found {found:?}"));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn tabs_and_blanks_mixed_are_found_and_read() {
    let text = format!(
        "{HEAD}\nstage winding\n\tturns = 80\n  height[U] = 1600 mm\n\theight[V] = 1800 mm\n"
    );
    let said = check(&works(), text, 1);
    has(&said, 6, "tab-indentation");
    has(&said, 8, "tab-indentation");
    has(&said, 8, "out-of-limit");
}

#[test]
fn an_unknown_zone_is_found() {
    let text = "unit KFT-0500-1\n  plan bench\n  zone Europe/Atlantis\n";
    has(&check(&works(), text, 1), 3, "impossible-zone");
}

// ------------------------------------------------------------------------------------ plans and registers

#[test]
fn a_plan_that_extends_itself_is_found() {
    let works = Small::unchecked(&[
        "plan one extends two\n",
        "plan two extends three\n",
        "plan three extends one\n",
        "plan self extends self\n",
    ]);
    for name in ["document-0.ubr", "document-3.ubr"] {
        let said = stagebook(works.path(), &["check", name, "--as", "json"]).expect(1);
        assert!(
            said.found()
                .iter()
                .any(|(_, rule, _)| rule == "plan-extends-itself"),
            "{:?}",
            said.found()
        );
    }
    let said = check(
        &works,
        "unit KFT-0500-1\n  plan one\nstage winding\n  turns = 80\n",
        1,
    );
    assert!(
        said.found()
            .iter()
            .any(|(_, rule, _)| rule == "plan-extends-itself"),
        "{:?}",
        said.found()
    );
    let all = stagebook(works.path(), &["check", ".", "--as", "json"]).expect(1);
    assert!(
        all.found()
            .iter()
            .any(|(_, rule, _)| rule == "plan-extends-itself")
    );
}

#[test]
fn a_long_chain_of_plans_is_bounded() {
    let plans: Vec<String> = (0..200)
        .map(|index| format!("plan p-{index} extends p-{}\n", index + 1))
        .collect();
    let plans: Vec<&str> = plans.iter().map(String::as_str).collect();
    let works = Small::unchecked(&plans);
    let said = stagebook(works.path(), &["check", "document-0.ubr", "--as", "json"]).expect(1);
    assert!(
        said.found()
            .iter()
            .any(|(_, rule, _)| rule == "plan-extends-itself"),
        "{:?}",
        said.found()
    );
}

#[test]
fn two_plans_of_one_name_are_found() {
    let works = Small::unchecked(&[PLAN, PLAN]);
    let said = check(
        &works,
        format!("{HEAD}\nstage winding\n  height[U] = 1800 mm\n"),
        1,
    );
    let json = said.json();
    let findings = json["findings"].as_array().expect("the schema says so");
    assert!(
        findings.iter().any(|finding| {
            finding["rule"] == "duplicate-document"
                && finding["path"]
                    .as_str()
                    .is_some_and(|path| path.starts_with("document-"))
                && finding["start"]["line"] == 1
        }),
        "{:?}",
        said.found()
    );
    has(&said, 6, "out-of-limit");
}

#[test]
fn a_plan_or_register_that_is_not_there_is_named_with_the_nearest() {
    let works = works();
    let said = check(
        &works,
        "unit KFT-0500-1\n  plan bensh\n  register nobody\nstage winding\n",
        1,
    );
    has(&said, 2, "unknown-plan");
    has(&said, 3, "unknown-register");
    assert!(said.out.contains("did you mean `bench`"), "{}", said.out);
    has(
        &check(&works, "unit KFT-0500-1\nstage winding\n", 1),
        1,
        "unknown-plan",
    );
}

#[test]
fn a_unit_whose_plan_has_errors_is_judged_by_what_is_left_of_it() {
    let broken = PLAN.replace(
        "  reading turns : count\n",
        "  reading turns : cuont\n  calc = = =\n",
    );
    let works = Small::unchecked(&[&broken]);
    let said = check(
        &works,
        format!("{HEAD}\nstage winding\n  height[U] = 1800 mm\n  turns = 80\n"),
        1,
    );
    has(&said, 6, "out-of-limit");
    assert!(
        said.out.contains("document-0.ubr"),
        "the plan's own errors are told: {}",
        said.out
    );
}

#[test]
fn a_ring_of_calculations_is_found() {
    let plan = "plan ring rev A\n\nstage winding\n  reading x : number\n  calc a = b + 1\n  calc b = c + x\n  calc c = a\n  \
                calc d = d\n";
    let said = check(&Small::unchecked(&[]), plan, 1);
    let found = said.found();
    assert!(
        found
            .iter()
            .filter(|(_, rule, _)| rule == "calculation-cycle")
            .count()
            >= 2,
        "{found:?}"
    );
}

#[test]
fn a_long_chain_of_calculations_is_bounded() {
    let mut plan =
        String::from("plan chain rev A\n\nstage winding\n  reading x : number\n  calc c-0 = x\n");
    for index in 1..10_000 {
        plan.push_str(&format!("  calc c-{index} = c-{} + 1\n", index - 1));
    }
    plan.push_str("  check last \"Last\"\n    require c-9999 < 10\n    source common-practice\n");
    let works = Small::unchecked(&[&plan]);
    let said = check(
        &works,
        "unit KFT-0500-1\n  plan chain\nstage winding\n  x = 1\n",
        1,
    );
    let words = said.out;
    assert!(
        words.contains("calculation-cycle") || words.contains("plan-too-large"),
        "{}",
        &words[..2000]
    );
}

#[test]
fn calculations_that_double_at_each_step_are_bounded() {
    let mut plan = String::from(
        "plan doubling rev A\n\nstage winding\n  reading x : number\n  calc c-0 = x\n",
    );
    for index in 1..100 {
        plan.push_str(&format!(
            "  calc c-{index} = c-{} + c-{}\n",
            index - 1,
            index - 1
        ));
    }
    plan.push_str("  check last \"Last\"\n    require c-99 < 10\n    source common-practice\n");
    let works = Small::unchecked(&[&plan]);
    let said = check(
        &works,
        "unit KFT-0500-1\n  plan doubling\nstage winding\n  x = 1\n",
        1,
    );
    let found = said.found();
    let bounded = [
        "check-failed",
        "plan-too-large",
        "calculation-cycle",
        "cannot-be-calculated",
    ];
    assert!(
        found
            .iter()
            .any(|(_, rule, _)| bounded.contains(&rule.as_str())),
        "{found:?}"
    );
}

fn many(count: usize) -> String {
    (1..=count).map(|member| format!(" {member}")).collect()
}

#[test]
fn a_plan_that_makes_too_many_instances_is_refused_and_not_run() {
    let members = many(1000);
    let mut plan = String::from("plan large rev A\n\n");
    for set in ["a", "b", "c", "d"] {
        plan.push_str(&format!("set {set} ={members}\n"));
    }
    plan.push_str(
        "\nstage winding\n  reading x[a, b, c, d] : length\n    limit <= 1 mm\n    source common-practice\n",
    );
    let works = Small::unchecked(&[&plan]);
    let said = stagebook(works.path(), &["check", "document-0.ubr", "--as", "json"]).expect(1);
    has(&said, 9, "plan-too-large");
    let said = check(
        &works,
        "unit KFT-0500-1\n  plan large\nstage winding\n  x[1, 1, 1, 1] = 2 mm\n",
        1,
    );
    assert!(
        said.found()
            .iter()
            .any(|(_, rule, _)| rule == "plan-too-large"),
        "{:?}",
        said.found()
    );
}

#[test]
fn a_set_that_a_unit_fills_is_bounded_too() {
    let plan = "plan wide rev A\n\nset a from design.as\nset b from design.bs\n\ndesign\n  need as : positions\n  need bs : positions\n\n\
                stage winding\n  reading x[a, b] : length\n  check any-small[a] \"Any\"\n    require min(x[a, *]) < 1 mm\n    source common-practice\n";
    let works = Small::new(&[plan]);
    for members in ["1 .. 100000", "1 .. 1000000000000", "1 .. 1e300"] {
        let text = format!(
            "unit KFT-0500-1\n  plan wide\n\ndesign rev A\n  as = {members}\n  bs = {members}\n\nstage winding\n  x[1, 1] = 2 mm\n"
        );
        let said = check(&works, text, 1);
        assert!(
            said.found().iter().any(|(line, rule, _)| {
                rule == "plan-too-large" || (*line == 5 && rule == "number-out-of-range")
            }),
            "{members}: {:?}",
            said.found()
        );
    }
}

#[test]
fn a_set_of_a_hundred_thousand_members_is_read() {
    let plan = format!(
        "plan long rev A\n\nset a ={}\n\nstage winding\n  reading x[a] : length\n  check most \"Most\"\n    require max(x[*]) < 1 mm\n    source common-practice\n",
        many(100_000)
    );
    let works = Small::unchecked(&[&plan]);
    check(
        &works,
        "unit KFT-0500-1\n  plan long\nstage winding\n  x[99999] = 2 mm\n",
        0,
    );
}

#[test]
fn a_division_by_zero_is_found_when_a_reading_makes_it() {
    let plan = "plan zero rev A\n\nstage winding\n  reading a : length\n  reading b : length\n  check share \"Share\"\n    \
                require a / b < 2\n    source common-practice\n";
    let works = Small::new(&[plan]);
    let said = check(
        &works,
        "unit KFT-0500-1\n  plan zero\nstage winding\n  a = 2 mm\n  b = 0 mm\n",
        1,
    );
    assert!(
        said.found()
            .iter()
            .any(|(_, rule, _)| rule == "cannot-be-calculated"),
        "{:?}",
        said.found()
    );
    // A constant one in the plan stops no check of the plan.
    let plan = plan.replace("a / b < 2", "a / 0 mm < 2");
    let works = Small::unchecked(&[&plan]);
    let said = check(
        &works,
        "unit KFT-0500-1\n  plan zero\nstage winding\n  a = 2 mm\n  b = 0 mm\n",
        1,
    );
    assert!(
        said.found()
            .iter()
            .any(|(_, rule, _)| rule == "cannot-be-calculated"),
        "{:?}",
        said.found()
    );
}

// --------------------------------------------------------------------------------------------------- logs

/// The rule found for a log file of this name, in a works whose root is the folder of the plan.
#[track_caller]
fn log_rule(works: &Small, path: &str) -> Vec<String> {
    let text = format!("{HEAD}\nstage drying\n  log oven from \"{path}\"\n");
    works.write("unit.ubr", text);
    let said = stagebook(works.path(), &["check", "unit.ubr", "--as", "json"]).expect(1);
    said.found()
        .into_iter()
        .filter(|(line, ..)| *line == 6)
        .map(|(_, rule, _)| rule)
        .collect()
}

#[test]
fn a_log_that_is_not_there_is_found() {
    let works = works();
    assert_eq!(log_rule(&works, "logs/none.csv"), ["log-unreadable"]);
    std::fs::create_dir(works.path().join("folder.csv")).expect("a temporary folder");
    assert_eq!(log_rule(&works, "folder.csv"), ["log-unreadable"]);
    assert_eq!(log_rule(&works, "."), ["log-unreadable"]);
    assert_eq!(log_rule(&works, ""), ["log-unreadable"]);
}

#[test]
fn a_log_outside_the_workspace_is_not_read() {
    let outside = tempfile::tempdir().expect("a temporary folder");
    let secret = outside.path().join("secret.csv");
    std::fs::write(&secret, "time,temperature(°C)\n2026-03-02 10:00,777\n")
        .expect("a temporary file");
    let works = works();
    let relative = format!(
        "../{}/secret.csv",
        outside
            .path()
            .file_name()
            .and_then(|n| n.to_str())
            .unwrap_or("")
    );
    let slashes = secret.to_string_lossy().replace('\\', "/");
    for path in [
        &*relative,
        &*slashes,
        "../../../../../../../../etc/hosts",
        "logs/../../secret.csv",
    ] {
        assert_eq!(log_rule(&works, path), ["log-outside-workspace"], "{path}");
    }
}

#[cfg(unix)]
#[test]
fn a_link_out_of_the_workspace_is_not_followed() {
    let outside = tempfile::tempdir().expect("a temporary folder");
    let secret = outside.path().join("secret.csv");
    std::fs::write(&secret, "time,temperature(°C)\n2026-03-02 10:00,777\n")
        .expect("a temporary file");
    let works = works();
    std::os::unix::fs::symlink(&secret, works.path().join("link.csv")).expect("a temporary link");
    std::os::unix::fs::symlink(outside.path(), works.path().join("linked"))
        .expect("a temporary link");
    std::os::unix::fs::symlink("loop.csv", works.path().join("loop.csv"))
        .expect("a temporary link");
    assert_eq!(log_rule(&works, "link.csv"), ["log-outside-workspace"]);
    assert_eq!(
        log_rule(&works, "linked/secret.csv"),
        ["log-outside-workspace"]
    );
    assert_eq!(log_rule(&works, "loop.csv"), ["log-unreadable"]);
    let said = stagebook(works.path(), &["check", "unit.ubr"]).expect(1);
    assert!(!said.out.contains("777"));
}

#[cfg(unix)]
#[test]
fn a_device_or_a_pipe_is_no_log_and_no_document() {
    let works = works();
    let made = std::process::Command::new("mkfifo")
        .arg(works.path().join("pipe.csv"))
        .status();
    if made.is_ok_and(|status| status.success()) {
        assert_eq!(log_rule(&works, "pipe.csv"), ["log-unreadable"]);
        let said = stagebook(works.path(), &["check", "pipe.csv"]).expect(2);
        assert_eq!(said.err.lines().count(), 1);
    }
    stagebook(works.path(), &["check", "/dev/null"]).expect(2);
}

#[test]
fn a_log_that_is_no_table_is_found() {
    let works = works();
    let cases: &[(&str, &[u8])] = &[
        ("empty.csv", b""),
        ("blank.csv", b"\n\n\n"),
        ("words.csv", b"Oven notes\nwarm in the morning\n"),
        ("no-time.csv", b"minute,temperature(\xc2\xb0C)\n1,20\n"),
        ("binary.csv", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"),
        (
            "bytes.csv",
            b"time,temperature(\xb0C)\n2026-03-02 10:00,20\n",
        ),
    ];
    let mut wrong = Vec::new();
    for (name, bytes) in cases {
        works.write(name, bytes);
        let rules = log_rule(&works, name);
        if rules != ["log-not-a-table"] {
            wrong.push(format!("{name}: {rules:?}"));
        }
    }
    assert!(wrong.is_empty(), "{wrong:#?}");
}

#[test]
fn a_wrong_cell_of_a_log_is_found() {
    let works = works();
    for (name, row) in [
        ("date.csv", "2026-02-30 10:00,20"),
        ("number.csv", "2026-03-02 10:00,1e999"),
        ("word.csv", "2026-03-02 10:00,warm"),
        ("short.csv", "2026-03-02 10:00"),
        ("long.csv", "2026-03-02 10:00,20,21,22"),
    ] {
        works.write(
            name,
            format!("time,temperature(°C)\n2026-03-02 09:00,20\n{row}\n"),
        );
        let text = format!("{HEAD}\nstage drying\n  log oven from \"{name}\"\n");
        works.write("unit.ubr", text);
        let said = stagebook(works.path(), &["check", "unit.ubr"]).expect(1);
        assert!(
            said.out.contains("log-not-a-table"),
            "{name}:\n{}",
            said.out
        );
    }
}

#[test]
fn a_log_whose_time_runs_backwards_is_found() {
    let works = works();
    works.write(
        "log.csv",
        "time,temperature(°C)\n2026-03-02 10:00,20\n2026-03-02 09:00,20\n",
    );
    assert_eq!(log_rule(&works, "log.csv"), ["time-runs-backwards"]);
}

// ---------------------------------------------------------------------------------------- everything else

#[test]
fn every_beginning_of_a_record_and_of_a_plan_is_answered() {
    let works = works();
    let unit = format!(
        "{HEAD}\nstage winding\n  on 2026-03-02\n  table\n    phase  height(mm)\n    U      1600\n  turns = 80 by M.Okafor\n  \
         release H10 by M.Okafor on 2026-03-03\n"
    );
    for text in [unit.as_str(), PLAN] {
        for end in (0..text.len()).filter(|end| text.is_char_boundary(*end)) {
            let path = works.path().join("cut.ubr");
            // In one process, because there are a thousand of them.
            let outcome = common::check_text(&path, &text[..end]);
            assert!(outcome.findings.len() < 100);
        }
    }
}
