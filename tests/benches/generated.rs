//! Generated records in which every reading is judged, with their plan and register.

use std::fmt::Write as _;

/// The plan of the generated records: every reading has a limit or takes part in a check.
pub const PLAN: &str = r#"plan speed rev A
  title "Generated records"

set phase = U V W
set section from design.sections

role production, quality

design
  need sections : positions
  need turns : count
  need height : length

stage winding "Winding"
  reading turns[section, phase] : count
    limit = design.turns
    source common-practice
    because "a wrong count shifts the ratio"
  reading height[section] : length
    limit design.height
    source works "winding instruction"
    because "a taller winding does not enter the press"
  reading resistance[section] : resistance given temperature
  calc expected[section] = resistance-at(400 mohm, 20 °C, 25 °C, "copper")
  check even[section] "Resistance beside the expected one"
    require abs(resistance[section] / expected[section] - 1) <= 10 %
    source common-practice
    because "a cold joint shows here first"
  hold H10 "Cleared for drying" by quality
    because "what is dried is closed"

stage drying "Drying"
  log oven "Oven"
    column temperature : temperature
    column pressure : pressure
  check end-pressure "End pressure"
    require last(oven.pressure) <= 1 mbar
    source common-practice
    because "water still leaving"
  check hot "Temperature"
    require max(oven.temperature) <= 125 °C
    source works "drying instruction"
    because "cellulose ages"
"#;

/// The register of the generated records.
pub const REGISTER: &str = r#"register speed
  zone +01:00

person L.Novak "Lena Novak"
  roles production
  valid 2024-01-01 .. 2027-12-31

person M.Okafor "Mary Okafor"
  roles quality

instrument TP-11 "tape"
  measures length
  calibrated 2025-11-02 due 2026-11-02 certificate "L-11"

instrument MR-04 "resistance meter"
  measures resistance
  calibrated 2025-11-02 due 2026-11-02 certificate "R-04"
"#;

/// A clean record of about `lines` lines: a quarter of them table rows of three readings each, a half readings on
/// lines of their own with instrument, conditions, person and time, the rest rows of a log.
pub fn record(serial: &str, lines: usize) -> String {
    let sections = (lines.saturating_sub(25) / 4).max(1);
    let rows = lines.saturating_sub(25 + 3 * sections);
    let mut text = String::with_capacity(lines * 60);
    let _ = write!(
        text,
        "unit {serial} \"generated\"\n  plan speed\n  register speed\n  zone +01:00\n\n\
         design rev A on 2026-01-10\n  sections = 1 .. {sections}\n  turns = 110\n  height = 1612 mm +3/-1 mm\n\n\
         stage winding\n  on 2026-02-02 07:30 by L.Novak\n  table turns\n    section  U    V    W\n"
    );
    for section in 1..=sections {
        let _ = writeln!(text, "    {section:<7}  110  110  110");
    }
    for section in 1..=sections {
        let day = 3 + section % 20;
        let _ = writeln!(
            text,
            "  height[{section}] = {}.{} mm  with TP-11  by L.Novak  on 2026-02-{day:02} 10:{:02}",
            1611 + section % 4,
            section % 10,
            section % 60
        );
        let _ = writeln!(
            text,
            "  resistance[{section}] = 41{}.{} mohm  at 23.{} °C  with MR-04  by L.Novak  on 2026-02-{day:02} 11:{:02}",
            section % 10,
            section % 7,
            section % 9,
            section % 60
        );
    }
    text.push_str("  release H10 by M.Okafor on 2026-02-26 16:20\n\n");
    text.push_str(
        "stage drying\n  by L.Novak\n  log oven\n    time  temperature(°C)  pressure(mbar)\n",
    );
    for row in 0..rows {
        let (day, minute) = (row / 1440, row % 1440);
        let (month, day) = (3 + day / 28, 1 + day % 28);
        let _ = writeln!(
            text,
            "    2026-{month:02}-{day:02} {:02}:{:02}  {}.{}  0.{}",
            minute / 60,
            minute % 60,
            80 + row % 40,
            row % 10,
            1 + row % 9
        );
    }
    text
}
