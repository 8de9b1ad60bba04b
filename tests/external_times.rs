//! Civil times across zones and changes of the clock against an independent library of time zones.
//!
//! The comparison needs Python 3.11 or later; its `zoneinfo` is part of it, and `tzdata` gives it the IANA
//! list where the system has none. The environment variable `STAGEBOOK_PYTHON` names the interpreter; where it is not
//! set the comparison is skipped, and the output says so.

mod common;

use serde_json::json;
use stagebook::quantity::moment::{Clock, Doubt, Zone, parse_when};

/// Zones of many kinds: whole and half hours, both hemispheres, a change of half an hour, a change at
/// midnight, none at all. The rules of these years are settled.
const ZONES: [&str; 9] = [
    "Europe/Vienna",
    "Europe/Lisbon",
    "America/New_York",
    "America/St_Johns",
    "America/Havana",
    "America/Sao_Paulo",
    "Australia/Lord_Howe",
    "Australia/Adelaide",
    "Asia/Kolkata",
];

/// Days at and around the changes of the clock of those zones.
const DAYS: [&str; 12] = [
    "2018-02-17",
    "2018-02-18",
    "2018-11-03",
    "2018-11-04",
    "2023-03-12",
    "2023-03-26",
    "2023-04-02",
    "2023-10-01",
    "2023-10-29",
    "2023-11-05",
    "2024-02-29",
    "2024-07-15",
];

#[test]
fn every_quarter_of_an_hour_agrees_with_an_outside_library() {
    let mut rows = Vec::new();
    for name in ZONES {
        let zone = Zone::parse(name).expect("a zone of the IANA list");
        let mut clock = Clock::new(zone.clone());
        for day in DAYS {
            let times =
                (0..96).map(|quarter| format!("{day} {:02}:{:02}", quarter / 4, quarter % 4 * 15));
            for text in times.chain([day.to_owned(), format!("{day} 02:30:17")]) {
                let told = parse_when(&text, &zone).expect("a time that can be read");
                assert_eq!(
                    clock.read(&text).as_ref(),
                    Ok(&told),
                    "{name} {text}: the fast way differs"
                );
                let doubt = match &told.doubt {
                    None => "none",
                    Some(Doubt::Repeated { .. }) => "repeated",
                    Some(Doubt::Skipped(..)) => "skipped",
                    Some(Doubt::OtherOffset(..)) => "other-offset",
                };
                rows.push(json!({
                    "zone": name,
                    "text": text,
                    "earliest": told.when.earliest,
                    "latest": told.when.latest,
                    "doubt": doubt,
                }));
            }
            for (time, offset) in [
                ("02:30", "+01:00"),
                ("02:30", "+02:00"),
                ("01:30", "-04:00"),
                ("12:00", "+05:30"),
            ] {
                let text = format!("{day} {time} {offset}");
                let told = parse_when(&text, &zone).expect("a time that can be read");
                rows.push(json!({
                    "zone": name,
                    "text": text,
                    "earliest": told.when.earliest,
                    "latest": told.when.latest,
                    "doubt": if told.doubt.is_some() { "other-offset" } else { "none" },
                }));
            }
        }
    }
    let doubtful = |kind: &str| rows.iter().filter(|row| row["doubt"] == kind).count();
    for kind in ["repeated", "skipped", "other-offset"] {
        assert!(
            doubtful(kind) > 20,
            "the table holds too few times that are {kind}"
        );
    }
    common::outside_check("times_against_zoneinfo.py", &json!(rows).to_string());
}
