//! `stagebook start`: what it writes checks without error, can be filled and opened stage by stage, and never
//! takes the place of a file.

mod common;

use std::collections::BTreeMap;

use common::{Small, check_text, in_short, stagebook, stagebook_reads, works};
use stagebook::finding::{Severity, StageState};

const SETS: &[&str] = &[
    "--set",
    "winding=HV,LV",
    "--set",
    "tap=1..17",
    "--set",
    "duct=core-LV,LV-HV,HV-regulating",
    "--set",
    "gap=HV-lead-to-tank,LV-lead-to-tank,winding-to-tank,yoke-to-cover",
    "--set",
    "bushing=1U,1V,1W,1N,2U,2V,2W",
    "--set",
    "condenser-bushing=1U,1V,1W",
    "--set",
    "current-transformer=T1U,T1V,T1W,T2N",
    "--set",
    "phase=U,V,W",
    "--set",
    "pair=HV-LV",
    "--set",
    "insulation-path=HV-to-rest,LV-to-rest,both-to-earth",
    "--set",
    "accessory=gas-relay,oil-surge-relay,radiators,conservator,breather,relief-device,oil-level-gauge,\
     tap-changer-drive,oil-thermometer,winding-thermometer,marshalling-box,cable-trays,fans",
    "--set",
    "air-gap=1U-to-1V,1W-to-conservator,2U-to-radiators",
    "--set",
    "terminal=1U,1V,1W",
    "--set",
    "response-curve=HV-U,HV-V,HV-W,LV-U,LV-V,LV-W",
    "--set",
    "recorder=front,rear",
    "--set",
    "crate=C1,C2,C3,C4,C5",
];

/// Takes `# ` away from the lines of one stage, or of all.
fn opened(text: &str, stage: Option<&str>) -> String {
    let mut open = false;
    let lines = text.lines().map(|line| {
        if let Some(name) = line.strip_prefix("# stage ") {
            open = stage.is_none_or(|stage| stage == name);
        }
        match line.strip_prefix("# ") {
            Some(rest) if open => format!("{rest}\n"),
            _ => format!("{line}\n"),
        }
    });
    lines.collect()
}

/// The design values of the finished unit of the examples: by name, and by name and member.
fn design_values() -> BTreeMap<(String, String), String> {
    let text =
        std::fs::read_to_string(works().join("units/KFT-0412-1.ubr")).expect("part of the project");
    let design = text
        .split("\ndesign ")
        .nth(1)
        .and_then(|rest| rest.split("\nstage ").next());
    let mut values = BTreeMap::new();
    let mut header: Vec<(String, String)> = Vec::new();
    let mut in_table = false;
    for line in design.expect("the unit has a design").lines().skip(1) {
        let cells: Vec<&str> = line
            .trim()
            .split("  ")
            .map(str::trim)
            .filter(|cell| !cell.is_empty())
            .collect();
        if line.trim() == "table" {
            (in_table, header) = (true, Vec::new());
        } else if let Some((name, value)) = line.split_once(" = ") {
            let (name, member) = match name.trim().trim_end_matches(']').split_once('[') {
                Some((name, member)) => (name, member),
                None => (name.trim(), ""),
            };
            values.insert((name.to_owned(), member.to_owned()), value.to_owned());
        } else if in_table && header.is_empty() {
            header = cells
                .iter()
                .map(|cell| match cell.split_once('(') {
                    Some((name, unit)) => {
                        (name.to_owned(), format!(" {}", unit.trim_end_matches(')')))
                    }
                    None => (cell.to_string(), String::new()),
                })
                .collect();
        } else if in_table && !cells.is_empty() {
            for ((name, unit), cell) in header.iter().zip(&cells).skip(1) {
                values.insert((name.clone(), cells[0].to_owned()), format!("{cell}{unit}"));
            }
        }
    }
    values
}

/// Fills every `?` of the design block.
fn filled(text: &str) -> String {
    let values = design_values();
    let value = |name: &str, member: &str| {
        let key = (name.to_owned(), member.to_owned());
        values
            .get(&key)
            .unwrap_or_else(|| panic!("the example gives no {key:?}"))
            .clone()
    };
    let mut header: Vec<String> = Vec::new();
    let mut in_design = false;
    let mut out = String::new();
    for line in text.lines() {
        in_design = (in_design || line.starts_with("design")) && !line.starts_with("# ");
        let is_open = in_design && !line.trim_start().starts_with('#');
        let cells: Vec<&str> = line.split_whitespace().collect();
        if let Some(member) = line.strip_prefix("  # lightning-impulse[") {
            // A value that may be left out, but not above 72.5 kV.
            let member = member.split(']').next().unwrap_or_default();
            let level = value("lightning-impulse", member);
            out.push_str(&format!("  lightning-impulse[{member}] = {level}\n"));
        } else if line.starts_with("  # table impedance-at-end") {
            for end in ["first", "last"] {
                let level = value("impedance-at-end", &format!("HV-LV, {end}"));
                out.push_str(&format!("  impedance-at-end[HV-LV, {end}] = {level}\n"));
            }
        } else if is_open && line.contains(" = ?") {
            let name = cells[0];
            out.push_str(&format!("  {name} = {}\n", value(name, "")));
        } else if is_open && line.trim() == "table" {
            header.clear();
            out.push_str(&format!("{line}\n"));
        } else if is_open && line.starts_with("    ") && header.is_empty() {
            header = cells.iter().map(|cell| cell.to_string()).collect();
            out.push_str(&format!("{line}\n"));
        } else if is_open && line.starts_with("    ") {
            let values: Vec<String> = header[1..]
                .iter()
                .map(|name| value(name, cells[0]))
                .collect();
            out.push_str(&format!("    {}  {}\n", cells[0], values.join("  ")));
        } else {
            out.push_str(&format!("{line}\n"));
        }
    }
    out
}

/// Checks a text as a unit of the examples: nothing but what is pending is found.
#[track_caller]
fn only_pending(text: &str) -> stagebook::finding::UnitSummary {
    let outcome = check_text(&works().join("units/new.ubr"), text);
    let found = in_short(&outcome);
    assert!(
        found
            .iter()
            .all(|found| found.severity == Severity::Pending),
        "{found:#?}\n{text}"
    );
    outcome.units.first().expect("a unit").clone()
}

#[test]
fn with_the_built_in_plan_it_checks_with_nothing_but_pending() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    for sets in [&[][..], SETS, &SETS[..2]] {
        let arguments = [
            &[
                "start",
                "oil-immersed-power",
                "20418/1",
                "--title",
                "a \"first\" one",
            ],
            sets,
        ]
        .concat();
        let written = stagebook(folder.path(), &arguments).expect(0);
        assert_eq!(written.err, "");
        assert!(written.out.contains(
            "\nunit \"20418/1\" \"a \\\"first\\\" one\"\n  plan      oil-immersed-power rev B\n"
        ));
        let judged = stagebook_reads(
            folder.path(),
            &["check", "-", "--as", "json"],
            written.out.as_bytes(),
        )
        .expect(0);
        assert!(!judged.found().is_empty());
        assert!(
            judged
                .found()
                .iter()
                .all(|(_, _, severity)| severity == "pending"),
            "{:?}",
            judged.found()
        );
    }
}

#[test]
fn with_the_works_plan_it_names_plan_register_and_zone_and_has_every_stage_and_point() {
    let text = stagebook(
        &works().join("units"),
        &[
            &[
                "start",
                "kestrel-ford",
                "KFT-0500-1",
                "--register",
                "kestrel-ford",
                "--zone",
                "Europe/Vienna",
            ],
            SETS,
        ]
        .concat(),
    )
    .expect(0)
    .out;
    let head = "unit KFT-0500-1\n  plan      kestrel-ford rev C\n  register  kestrel-ford\n  zone      Europe/Vienna\n";
    assert!(text.contains(head), "{text}");
    for part in [
        "  windings = HV, LV  #",
        "  taps = 1 .. 17  #",
        "  # guaranteed-total-loss = ?  # power, such as in kW; may be left out",
        "# stage dispatch\n#   # Preparation and dispatch\n#   # caution: Nitrogen",
        "#     HV-LV  17   ?  ?  ?\n",
        "#   table ratio  # ratio, a plain number or in %; only when design.measured-on[pair, tap]\n#     pair   tap  U  V  W\n#     HV-LV  1    ?  ?  ?\n",
        "#   core-frame-insulation = ?  # resistance, such as in mohm; given its voltage: at … kV\n",
        "only when connection(design.vector-group,\n#   # design.place[winding]) = delta",
        "#   # log oven from \"logs/oven.csv\"",
        "#   # release K55 by NAME on YYYY-MM-DD HH:MM  # Lead routing compared with the model, by design\n",
        "#   # waived W50 by NAME",
    ] {
        // Columns are another matter.
        assert!(squeezed(&text).contains(&squeezed(part)), "{part}\n{text}");
    }
    // Dropped by the works plan.
    let site = text.split("# stage site\n").nth(1).unwrap_or_default();
    assert!(
        site.contains("core-insulation") && !site.contains("table ratio"),
        "{site}"
    );
    assert!(text.lines().all(|line| line.trim_end() == line));
    only_pending(&text);
}

#[test]
fn the_design_can_be_filled_and_the_stages_opened() {
    let text = stagebook(
        &works(),
        &[&["start", "kestrel-ford", "T-1"], SETS].concat(),
    )
    .expect(0)
    .out;
    let unit = only_pending(&filled(&text));
    assert!(
        unit.stages
            .iter()
            .all(|stage| stage.state != StageState::InProgress)
    );
    let waiting = unit.counts.pending;

    let all = opened(&filled(&text), None);
    assert!(all.contains("\nstage winding\n  # Winding\n"));
    let unit = only_pending(&all);
    assert_eq!((unit.counts.recorded, unit.counts.missing), (0, 0));
    // A stage that is laid out keeps its readings open, whether or not this unit needs them.
    assert!(
        unit.counts.pending >= waiting,
        "{} of {waiting}",
        unit.counts.pending
    );

    let first = opened(&filled(&text), Some("winding"));
    let open =
        "  table turns  # count, a whole number\n    winding  U  V  W\n    HV       ?  ?  ?\n";
    assert!(first.contains(open), "{first}");
    let recorded = first.replace(open, &open.replace("?  ?  ?", "880  880  880"));
    let outcome = check_text(&works().join("units/new.ubr"), &recorded);
    assert!(
        in_short(&outcome)
            .iter()
            .all(|found| found.severity != Severity::Error),
        "{outcome:#?}"
    );
    assert_eq!(outcome.units[0].counts.recorded, 3);
    let wrong = recorded.replace("880  880  880", "880  879  880");
    let found = in_short(&check_text(&works().join("units/new.ubr"), &wrong));
    assert!(
        found.iter().any(|found| found.rule == "out-of-limit"),
        "{found:#?}"
    );
}

#[test]
fn it_is_written_to_a_new_file_and_never_over_another() {
    let small = Small::new(&[
        "plan small rev 2\nset phase = U V W\nstage one\n  reading height[phase] : length\n",
    ]);
    std::fs::create_dir(small.path().join("units")).expect("a temporary folder");
    let arguments = ["start", "small", "T-1", "--to", "units/T-1.ubr"];
    let said = stagebook(small.path(), &arguments).expect(0);
    assert!(
        said.out.starts_with("units/T-1.ubr: ") && said.out.lines().count() == 1,
        "{}",
        said.out
    );
    let path = small.path().join("units/T-1.ubr");
    let text = std::fs::read_to_string(&path).expect("it was written");
    assert_eq!(
        text,
        stagebook(small.path(), &["start", "small", "T-1"])
            .expect(0)
            .out
    );
    stagebook(small.path(), &["check", "units/T-1.ubr"]).expect(0);

    std::fs::write(&path, "mine").expect("a temporary file");
    let said = stagebook(small.path(), &arguments).expect(2);
    assert_eq!(said.out, "");
    assert_eq!(
        said.err,
        "stagebook: expected a new file, found that units/T-1.ubr exists; nothing was written\n"
    );
    assert_eq!(std::fs::read_to_string(&path).expect("it is there"), "mine");
    let left: Vec<_> = std::fs::read_dir(small.path().join("units"))
        .expect("a folder")
        .flatten()
        .collect();
    assert_eq!(left.len(), 1, "a temporary file is left over: {left:?}");
}

#[test]
fn the_only_register_that_is_near_is_named() {
    let works = tempfile::tempdir().expect("a temporary folder");
    let units = works.path().join("units");
    let write = |name: &str, text: &str| {
        std::fs::create_dir_all(&units).expect("a folder can be made");
        std::fs::write(works.path().join(name), text).expect("a file can be written");
    };
    std::fs::create_dir(works.path().join(".git")).expect("a folder can be made");
    write("plan.ubr", "plan p rev A\nstage s\n  reading r : count\n");
    let started = || stagebook(&units, &["start", "p", "T-1"]).expect(0).out;
    let open = "\n  # register  NAME  #";
    assert!(started().contains(open), "{}", started());
    write("register.ubr", "register north\n");
    assert!(started().contains("\n  register  north\n"), "{}", started());
    // Of two nobody can say which is meant, and one that cannot be used is meant by nobody.
    write("units/register.ubr", "register south\n");
    assert!(started().contains(open), "{}", started());
    std::fs::remove_file(units.join("register.ubr")).expect("the file is there");
    write(
        "register.ubr",
        "register north\ninstrument A-1 \"gauge\"\n  measures nothing-known\n",
    );
    assert!(started().contains(open), "{}", started());
}

#[cfg(unix)]
#[test]
fn a_link_that_leads_nowhere_is_not_written_through() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    std::os::unix::fs::symlink("elsewhere.ubr", folder.path().join("T-1.ubr")).expect("a link");
    stagebook(
        folder.path(),
        &["start", "oil-immersed-power", "T-1", "--to", "T-1.ubr"],
    )
    .expect(2);
    assert!(!folder.path().join("elsewhere.ubr").exists());
}

#[test]
fn a_plan_is_found_by_name_from_the_folder_upwards_or_by_its_path() {
    let by_name = stagebook(&works(), &["start", "kestrel-ford", "T-1"])
        .expect(0)
        .out;
    let below = stagebook(
        &works().join("units/logs"),
        &["start", "kestrel-ford", "T-1"],
    )
    .expect(0)
    .out;
    let by_path = stagebook(&works(), &["start", "plan.ubr", "T-1"])
        .expect(0)
        .out;
    let from_elsewhere = tempfile::tempdir().expect("a temporary folder");
    let path = works().join("plan.ubr");
    let absolute = stagebook(
        from_elsewhere.path(),
        &["start", &path.to_string_lossy(), "T-1"],
    )
    .expect(0)
    .out;
    assert!(by_name == below && by_name == by_path);
    // There the register of the works is not found.
    assert_eq!(by_name.lines().count(), absolute.lines().count());
    assert!(absolute.contains("\n  # register  NAME  #"), "{absolute}");
    // Written to a folder from which the plan cannot be found, the record could not be judged.
    let to_elsewhere = ["start", &path.to_string_lossy(), "T-1", "--to", "T-1.ubr"];
    let said = stagebook(from_elsewhere.path(), &to_elsewhere).expect(2);
    assert!(
        said.err.contains("in the folder of its plan"),
        "{}",
        said.err
    );
    assert!(!from_elsewhere.path().join("T-1.ubr").exists());
}

#[test]
fn what_does_not_fit_is_told_in_one_line() {
    let cases: &[(&[&str], &str)] = &[
        (&["kestrel-frod", "T"], "did you mean `kestrel-ford`?"),
        (
            &["oil-imersed-power", "T"],
            "did you mean `oil-immersed-power`?",
        ),
        (
            &["no-such.ubr", "T"],
            "cannot read no-such.ubr: no such file or folder",
        ),
        (
            &["register.ubr", "T"],
            "expected a plan in register.ubr, found none",
        ),
        (&[".", "T"], "it is a folder"),
        (
            &["faults/broken-plan.ubr", "T"],
            "`stagebook check faults/broken-plan.ubr` shows more",
        ),
        (
            &["kestrel-ford", "T", "--register", "kestrel-frod"],
            "did you mean `kestrel-ford`?",
        ),
        (
            &["kestrel-ford", "T", "--register", "a b"],
            "expected the name of a register",
        ),
        (
            &["kestrel-ford", "T", "--zone", "Europe/Wien"],
            "expected a time zone",
        ),
        (&["kestrel-ford", "T\nplan x"], "on one line"),
        (&["kestrel-ford", " "], "found an empty text"),
        (
            &["kestrel-ford", "T", "--set", "windin=A"],
            "did you mean `winding`?",
        ),
        (
            &["kestrel-ford", "T", "--set", "impulse=A"],
            "whose members stand in the plan: reduced, full-1",
        ),
        (
            &["kestrel-ford", "T", "--set", "winding"],
            "such as winding=HV,LV",
        ),
        (
            &["kestrel-ford", "T", "--set", "winding=HV,,LV"],
            "parted by commas",
        ),
        (
            &["kestrel-ford", "T", "--set", "winding=HV,HV"],
            "`HV` twice",
        ),
        (
            &["kestrel-ford", "T", "--set", "tap=17..1"],
            "the lower first",
        ),
        (
            &["kestrel-ford", "T", "--set", "tap=1..99999999999"],
            "at most 1000000",
        ),
        (
            &[
                "kestrel-ford",
                "T",
                "--set",
                "tap=-9223372036854775808..9223372036854775807",
            ],
            "at most 1000000",
        ),
        (
            &[
                "kestrel-ford",
                "T",
                "--set",
                "tap=1..400000",
                "--set",
                "phase=U,V,W",
                "--set",
                "pair=HV-LV",
            ],
            "make the sets smaller",
        ),
        (
            &["kestrel-ford", "T", "--to", "no/T.ubr"],
            "expected a folder `no`",
        ),
    ];
    for (arguments, words) in cases {
        let said = stagebook(&works(), &[&["start"], *arguments].concat()).expect(2);
        assert_eq!(said.out, "", "{arguments:?}");
        assert!(
            said.err.contains(words) && said.err.lines().count() == 1,
            "{arguments:?}: {}",
            said.err
        );
    }
}

const ODD: &str = "plan odd rev 7
set phase = on table W
set step from design.steps
set coil from design.coils
set other-coil from design.coils
set many = 1 2 3 4 5 6 7 8 9
design
  need steps : positions
  may  coils : names
  need drawn[coil, step] : length
  may  wished[step] : temperature
stage first \"A # title\"
  when recorded(design.coils) or
      not recorded(design.coils)  # whatever the coils
  reading at[phase] : length
  reading phase[step] : count
  reading plain : number
  reading unit : text
  reading plane[phase, many] : voltage given temperature, frequency
  reading cube[coil, other-coil, step, phase] : count
  reading stage[many] : moment
";

#[test]
fn names_that_mean_something_at_the_head_of_a_column_are_written_one_by_one() {
    let small = Small::new(&[ODD]);
    for sets in [
        &["--set", "step=-2..2", "--set", "coil=at,X1"][..],
        &["--set", "step=0..0"],
        &[],
    ] {
        let text = stagebook(small.path(), &[&["start", "odd", "T-1"], sets].concat())
            .expect(0)
            .out;
        let condition = "only when recorded(design.coils) or not recorded(design.coils)\n";
        assert!(
            text.contains("at[table] = ?") && text.contains(condition),
            "{text}"
        );
        assert_eq!(small.judge(&text).rules(), [], "{text}");
        // Opened, it is understood in full; only the design is not there yet.
        let open = opened(&text, None);
        let came = small.judge(&open);
        assert!(
            came.rules()
                .iter()
                .all(|(_, rule)| *rule == "design-value-missing"),
            "{:#?}\n{open}",
            came.found
        );
    }
}

/// A text with each run of blanks as one.
fn squeezed(text: &str) -> String {
    let mut squeezed = text.to_owned();
    while squeezed.contains("  ") {
        squeezed = squeezed.replace("  ", " ");
    }
    squeezed
}
