//! The gate of a stage: what stands in the way, in which order, and that nothing else does.

mod common;

use common::{Said, Small, stagebook, works};

const PLAN: &str = "plan p rev A

role quality, production, customer

design
  need mass : mass

stage winding
  reading height : length
    limit <= 1620 mm
    source works \"w\"
  reading width : length
    limit <= 500 mm
    source works \"w\"
    severity warning
  witness W1 \"Height\" by customer
  hold H1 \"Winding\" by quality
  review K1 \"Drawing\" by quality

stage tanking
  reading clearance : length
    limit >= 80 mm
    source works \"w\"
  hold H2 \"Tank\" by quality

stage site
  reading response : length
";

const REGISTER: &str = "register r

person M.Okafor \"Mary Okafor\"
  roles quality

person L.Novak \"Lena Novak\"
  roles production

person C.Moreau \"Claire Moreau\"
  roles customer

instrument TP-1 \"tape\"
  measures length
  calibrated 2026-01-12 due 2027-01-12 certificate \"C-1\"
";

const HEAD: &str = "unit KFT-0500-1 \"small\"
  plan p
  register r
design rev A on 2026-02-01
  mass = 3 t
";

const WINDING: &str = "stage winding
  on 2026-02-19 10:00 by L.Novak with TP-1
  height = 1612 mm
  width = 480 mm
  witnessed W1 by C.Moreau on 2026-02-19 12:00
  reviewed K1 by M.Okafor on 2026-02-19 12:30
  release H1 by M.Okafor on 2026-02-19 13:00
";

const TANKING: &str = "stage tanking
  on 2026-03-02 10:00 by L.Novak with TP-1
  clearance = 95 mm
  release H2 by M.Okafor on 2026-03-02 13:00
";

/// Asks at the gate of a stage about a unit made of these parts.
fn ask(stage: &str, parts: &[&str]) -> Said {
    let small = Small::new(&[PLAN, REGISTER]);
    small.write("unit.ubr", parts.concat());
    stagebook(
        small.path(),
        &["release", stage, "unit.ubr", "--as", "json"],
    )
}

/// Stage and kind of each obstacle, in order.
fn obstacles(said: &Said) -> Vec<(String, String)> {
    let json = said.json();
    let list = json["units"][0]["obstacles"]
        .as_array()
        .expect("a list")
        .clone();
    list.iter()
        .map(|each| {
            let word = |key: &str| each[key].as_str().unwrap_or("").to_owned();
            (word("stage"), word("kind"))
        })
        .collect()
}

#[track_caller]
fn expect(stage: &str, parts: &[&str], wanted: &[(&str, &str)]) -> Said {
    let said = ask(stage, parts).expect(i32::from(!wanted.is_empty()));
    let found = obstacles(&said);
    let found: Vec<(&str, &str)> = found.iter().map(|(a, b)| (&**a, &**b)).collect();
    assert_eq!(found, wanted, "{}", said.out);
    assert_eq!(said.json()["units"][0]["clear"], wanted.is_empty());
    said
}

#[test]
fn a_stage_that_is_done_may_be_left_whatever_comes_after() {
    expect("winding", &[HEAD, WINDING], &[]);
    expect("tanking", &[HEAD, WINDING, TANKING], &[]);
    let wrong_later = TANKING.replace("95 mm", "60 mm");
    expect("winding", &[HEAD, WINDING, &wrong_later], &[]);
}

#[test]
fn what_comes_before_is_looked_at_too() {
    let wrong = WINDING.replace("1612", "1625");
    let said = ask("tanking", &[HEAD, &wrong, TANKING]).expect(1);
    assert!(
        obstacles(&said).iter().all(|(stage, _)| stage == "winding"),
        "{}",
        said.out
    );
    expect(
        "tanking",
        &[HEAD, WINDING],
        &[("tanking", "record"), ("tanking", "hold")],
    );
}

#[test]
fn the_order_is_the_order_of_clearing() {
    let open = "stage winding\n  on 2026-02-19 10:00 by L.Novak with TP-1\n  width = 510 mm\n";
    expect(
        "tanking",
        &[&HEAD.replace("mass = 3 t", "mass = ?"), open],
        &[
            ("", "error"),
            ("winding", "record"),
            ("winding", "warning"),
            ("winding", "point"),
            ("winding", "point"),
            ("winding", "hold"),
            ("tanking", "record"),
            ("tanking", "hold"),
        ],
    );
}

#[test]
fn a_warning_stands_in_the_way_until_somebody_accepts_it() {
    let wide = WINDING.replace("480", "510");
    expect("winding", &[HEAD, &wide], &[("winding", "warning")]);
    let accepted = wide.replace(
        "  width",
        "  accept out-of-limit because \"fits the tank, drawing 7\" by M.Okafor on 2026-02-19\n  width",
    );
    expect("winding", &[HEAD, &accepted], &[]);
    let small = Small::new(&[PLAN, REGISTER]);
    small.write("unit.ubr", format!("{HEAD}{accepted}"));
    let said = stagebook(small.path(), &["release", "winding", "unit.ubr"]).expect(0);
    assert!(
        said.out.contains("accepted by M.Okafor on 2026-02-19") && said.out.contains("drawing 7"),
        "{}",
        said.out
    );
}

#[test]
fn a_failing_reading_stands_in_the_way_until_it_is_conceded() {
    let high = WINDING.replace("1612", "1625");
    let open =
        "nonconformity NC-1 on 2026-02-19 by L.Novak\n  against winding.height\n  found \"high\"\n";
    let said = ask("winding", &[HEAD, &high, open]).expect(1);
    assert!(said.out.contains("nonconformity-open"), "{}", said.out);
    let closed = format!(
        "{open}  disposition use-as-is\n  agreed by M.Okafor on 2026-02-19 12:40\n  closed by M.Okafor on 2026-02-19 12:50\n"
    );
    expect("winding", &[HEAD, &high, &closed], &[]);
}

#[test]
fn a_broken_line_anywhere_in_the_document_stands_in_the_way() {
    let said = ask("winding", &[HEAD, WINDING, "stge tanking\n"]).expect(1);
    assert_eq!(obstacles(&said), [(String::new(), "error".to_owned())]);
}

#[test]
fn what_is_wrong_with_the_register_stands_in_the_way_and_another_unit_does_not() {
    let small = Small::new(&[PLAN, REGISTER]);
    small.write("good.ubr", format!("{HEAD}{WINDING}"));
    let wrong = WINDING.replace("1612", "1625");
    small.write(
        "units/bad.ubr",
        format!("{}{wrong}", HEAD.replace("KFT-0500-1", "KFT-0500-2")),
    );
    let both = stagebook(
        small.path(),
        &["release", "winding", "good.ubr", "units", "--as", "json"],
    )
    .expect(1);
    let json = both.json();
    assert_eq!(json["units"][0]["clear"], true);
    assert_eq!(json["units"][1]["clear"], false);
    small.write("register.ubr", "");
    let broken = Small::unchecked(&[PLAN, &REGISTER.replace("roles quality", "rolls quality")]);
    broken.write("unit.ubr", format!("{HEAD}{WINDING}"));
    stagebook(broken.path(), &["release", "winding", "unit.ubr"]).expect(1);
}

#[test]
fn what_cannot_be_asked_is_said_in_one_sentence() {
    let said = ask("windng", &[HEAD, WINDING]).expect(2);
    assert!(said.err.contains("did you mean `winding`?"), "{}", said.err);
    assert!(said.out.is_empty());
    let said = ask("winding", &["plan q\n"]).expect(2);
    assert!(said.err.contains("unit record"), "{}", said.err);
    let said = ask("winding", &[&HEAD.replace("plan p", "plan q")]).expect(2);
    assert!(said.err.contains("stagebook check"), "{}", said.err);
}

#[test]
fn the_finished_units_may_leave_and_one_digit_keeps_them() {
    for unit in ["KFT-0412-1", "KFT-0420-1"] {
        let path = format!("units/{unit}.ubr");
        let said = stagebook(&works(), &["release", "dispatch", &path]).expect(0);
        assert!(said.out.contains("nothing in the record stands in the way"));
        assert!(said.out.contains("The tool advises"));
    }
    let said = stagebook(&works(), &["release", "dispatch", "units/KFT-0415-1.ubr"]).expect(1);
    assert!(said.out.contains("still to be recorded"), "{}", said.out);
}

#[test]
fn what_is_dated_after_today_stands_in_the_way() {
    let small = Small::new(&[PLAN, REGISTER]);
    small.write("unit.ubr", format!("{HEAD}{WINDING}"));
    for (today, status) in [("2026-02-19", 0), ("2026-02-18", 1)] {
        let arguments = ["release", "winding", "unit.ubr", "--today", today];
        let said = stagebook(small.path(), &arguments).expect(status);
        assert_eq!(
            said.out.contains("dated-in-the-future"),
            status == 1,
            "{}",
            said.out
        );
    }
}
