#!/usr/bin/env python3
"""Writes the example units of the invented Kestrel Ford works and their logs.

Every value comes from one of two invented designs (making/design.py): turns and volts per turn give ratio and
flux density; conductor length, section and temperature give resistances and ohmic loss; duct and winding sizes
give the impedance; core mass and flux density give the no-load loss. What scatters in real work scatters
here by a generator with a fixed seed, so a second run writes the same bytes. Only the standard library is
used.

    python3 make_examples.py ../../target/debug/stagebook          # writes units/ and faults/, lays them out, and seals units/

Without the program the units are written unsealed.
"""

import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

sys.dont_write_bytecode = True

from making import build_stages as build
from making import test_stages as tests
from making.design import AutoConnected, SeparateWindings
from making.design_block import head, write_design
from making.faults import Planter, spread, turn_error, turns_deviation, upper_turns
from making.unit import Unit
from making.writer import Writer

HERE = Path(__file__).resolve().parent
UNITS, FAULTS = HERE / "units", HERE / "faults"
SEPARATE, AUTO = SeparateWindings(), AutoConnected()
PLAN = "kestrel-ford rev C"
FAULTS_NOTE = "planted faults; the finding expected is written at the end of the line"


def through_all_stages(w, u, name, days, ieee=False):
    """From winding to dispatch; `days` are the first days of the stages that wait for people: winding, pressing, core,
    assembly, connections, drying, and the tests up to dispatch. None falls on a Sunday or a holiday of the place."""
    build.winding(w, u, days[0])
    build.pressing(w, u, days[1])
    build.core(w, u, days[2])
    build.assembly(w, u, days[3])
    build.connections(w, u, days[4])
    opened = build.drying(w, u, days[5], UNITS, f"logs/{name}-drying.csv", 10 if ieee else 2)
    closed = build.tanking(w, u, build.clamping(w, u, opened))
    pumping = build.bushings(w, u, closed)
    filling = build.vacuum(w, u, pumping, closed, UNITS, f"logs/{name}-vacuum.csv", 2400 if ieee else 2000)
    circulating = build.oil_filling(w, u, filling, ieee)
    moved, tested = build.standing(w, u, circulating, ieee)
    build.accessories(w, u, (tested + timedelta(days=1)).replace(hour=0, minute=0))
    tests.routine_tests(w, u, days[6], moved)
    tests.dielectric_tests(w, u, days[7])
    tests.type_tests(w, u, days[8], UNITS / "logs", name)
    tests.special_tests(w, u, days[9])
    tests.customer_inspection(w, u, days[10], UNITS / "logs", name)
    tests.dispatch(w, u, days[11], UNITS, name)  # drained, stripped, filled with gas in between


def complete_unit():
    u, w = Unit("KFT-0412-1", 412, SEPARATE), Writer()
    head(w, u.serial, u.d, PLAN, "KFT-0412  unit 1 of 3", "Harrow Vale substation", None)
    write_design(w, u.d)
    days = [datetime(2026, 2, 18), datetime(2026, 2, 25), datetime(2026, 3, 4), datetime(2026, 3, 11), datetime(2026, 3, 30),
            datetime(2026, 4, 9, 6, 0), datetime(2026, 4, 27), datetime(2026, 4, 29), datetime(2026, 5, 4), datetime(2026, 5, 7),
            datetime(2026, 5, 11), datetime(2026, 5, 21)]
    through_all_stages(w, u, u.serial, days)
    (UNITS / "KFT-0412-1.ubr").write_text(w.text(), encoding="utf-8")


def auto_connected_unit():
    u, w = Unit("KFT-0420-1", 420, AUTO), Writer()
    head(w, u.serial, u.d, "kestrel-ford-ieee rev A", "KFT-0420  unit 1 of 3", "Harrow Vale interconnector, phase A",
         "one of three units of a bank; voltages are those of the unit")
    write_design(w, u.d, "C", "2026-01-26")
    days = [datetime(2026, 3, 16), datetime(2026, 3, 24), datetime(2026, 3, 31), datetime(2026, 4, 9), datetime(2026, 4, 16),
            datetime(2026, 4, 22, 6, 0), datetime(2026, 5, 18), datetime(2026, 5, 20), datetime(2026, 5, 26), datetime(2026, 5, 29),
            datetime(2026, 6, 1), datetime(2026, 6, 11)]
    through_all_stages(w, u, u.serial, days, ieee=True)
    (UNITS / "KFT-0420-1.ubr").write_text(w.text(), encoding="utf-8")


def unit_in_progress():
    u, w = Unit("KFT-0415-1", 415, SEPARATE), Writer()
    head(w, u.serial, u.d, PLAN, "KFT-0415  unit 1 of 2", "Harrow Vale substation, second bay",
         "same design as KFT-0412, revision E without change of values")
    write_design(w, u.d, "E", "2026-03-16")
    build.winding(w, u, datetime(2026, 4, 14))
    build.pressing(w, u, datetime(2026, 4, 21))
    build.core(w, u, datetime(2026, 4, 28))
    build.assembly(w, u, datetime(2026, 5, 6))
    build.connections(w, u, datetime(2026, 5, 19), partly=True)
    (UNITS / "KFT-0415-1.ubr").write_text(w.text(), encoding="utf-8")


# --------------------------------------------------------------------- units with planted faults


def as_far_as_connections(w, u, ratio):
    build.winding(w, u, datetime(2026, 2, 18))
    build.pressing(w, u, datetime(2026, 2, 25))
    build.core(w, u, datetime(2026, 3, 4))
    build.assembly(w, u, datetime(2026, 3, 11))
    build.connections(w, u, datetime(2026, 3, 30), ratio=ratio)


def faulty_unit():
    """LV phase V has 278 turns; and what else goes wrong around it on paper."""
    u, w = Unit("KFT-0413-1", 413, SEPARATE), Writer()
    d = u.d
    head(w, u.serial, d, PLAN, "KFT-0413  unit 1 of 2", "Harrow Vale substation, spare", FAULTS_NOTE)
    write_design(w, d)
    as_far_as_connections(w, u, lambda pair, tap, p: u.ratio(pair, tap, p, lower_extra=1 if p == "V" else 0))
    opened = build.drying(w, u, datetime(2026, 4, 9, 6, 0), FAULTS, "logs/KFT-0413-1-drying.csv", 10)
    build.tanking(w, u, build.clamping(w, u, opened))
    p = Planter(w.text())

    p.remove("design", "oil-mass")
    p.expect("design", "design rev", "design-value-missing")

    p.change("stage winding", "HV 16", p.cell("stage winding", "HV 16", 1), "1649.5", "conceded")
    p.insert("stage winding", "release H10", '  attach "photos/KFT-0413-1-hv-u.jpg" "HV, phase U, as wound"  #! attachment-missing')

    p.change("stage winding-pressing", "jack-diameter", "with MM-3", "with MM-3  by P.Okello", "person-not-valid")
    p.change("stage winding-pressing", "release H20", "M.Okafor", "S.Rao", "role-may-not-release")

    p.change("stage core", "steel-loss", p.cell("stage core", "steel-loss", 2), "1.07", "out-of-limit")
    p.change("stage core", "burr", "with MM-3", "with MM-3  by J.Lindquist", "unknown-person")
    p.change("stage core", "window-diagonal", "with TP-11", "with TP-12", "unknown-instrument")
    p.change("stage core", "core-frame-insulation", "  at 500 V", "", "missing-condition")
    p.expect("stage core", "release H30", "released-over-failure")

    p.insert("stage core-and-winding-assembly", "tools-counted", "  tools-counted = yes  #! duplicate-reading")
    p.change("stage core-and-winding-assembly", "release H40", "2026-03-11", "2026-03-10", "release-before-reading")

    # whole-turn, whole-turn-upper and phases-alike fail on all 17 tappings; each is told once, at its worst
    p.expect_worst("stage connections", d,
                   (("check-failed", turn_error), ("check-failed", upper_turns), ("check-failed", spread)))
    p.change("stage connections", "open-corner", "with VM-6", "with TTR-1", "instrument-out-of-calibration, outside-instrument-range")
    p.change("stage connections", "joined-supply", "with VM-6", "with TP-11", "instrument-does-not-measure")
    p.insert("stage connections", "joined-Cb",
             '  amend joined-Bb[HV-LV] = 339.1 V was 333.9 V by L.Novak on 2026-03-30 15:20 because "digits exchanged"  #! amendment-mismatch')
    p.change("stage connections", "witnessed W50", "witnessed", "release", "wrong-point-word")
    p.insert("stage connections", "release W50",
             "  reviewed R50 by A.Brandt on 2026-03-30 17:00  #! unknown-point")
    p.expect("stage connections", "release K55", "released-over-failure, witness-passed")
    p.expect("stage connections", "release H50", "released-over-failure")

    p.remove("stage drying", "release H60")
    p.expect("stage final-clamping", "stage final-clamping", "hold-passed")
    p.remove("stage final-clamping", "fasteners-locked")
    p.expect("stage final-clamping", "release H70", "released-incomplete")
    p.change("stage tanking", "hall-temperature", "with HM-1", "with HM-1  on 2026-04-12 15:50", "stage-out-of-order, hold-passed")

    p.append(
        "",
        "nonconformity NC-1 on 2026-02-18 by J.Lindqvist",
        "  against winding.height[HV, U]",
        '  found "free height 3.5 mm over"',
        "  disposition use-as-is",
        "  agreed by A.Brandt on 2026-02-19",
        "  closed by M.Okafor on 2026-02-19",
        "",
        "nonconformity NC-2 on 2026-03-11 by S.Rao  #! nonconformity-open",
        "  against core-and-winding-assembly.yoke-gap[V]",
        '  found "one sheet folded at the mitre"',
        "",
        "nonconformity NC-3 on 2026-03-30 by L.Novak",
        "  against connections.resistence[HV, V]  #! nonconformity-target-unknown",
        '  found "reading drifts for a minute"',
        "  disposition use-as-is",
        "  agreed by A.Brandt on 2026-03-30",
        "  closed by M.Okafor on 2026-03-30",
    )
    (FAULTS / "KFT-0413-1.ubr").write_text(p.text(), encoding="utf-8")


def without_releases(p):
    for start in ("witnessed W50", "release K55", "release H50"):
        p.remove("stage connections", start)


def exchanged_leads():
    """The selector leads of the fourth and fifth section of phase W are exchanged."""
    u, w = Unit("KFT-0413-2", 4132, SEPARATE), Writer()
    head(w, u.serial, u.d, PLAN, "KFT-0413  unit 2 of 2 type-tested KFT-0413-1", "Harrow Vale substation, spare", FAULTS_NOTE)
    write_design(w, u.d)
    exchanged = {4: 5, 5: 4, 13: 14, 14: 13}
    as_far_as_connections(w, u, lambda pair, tap, p: u.ratio(pair, exchanged.get(tap, tap) if p == "W" else tap, p))
    p = Planter(w.text())
    # ratio-on-tapping, whole-turn, whole-turn-upper and phases-alike fail on four tappings; each is told once, at its worst
    p.expect_worst("stage connections", u.d,
                   (("check-failed", turns_deviation), ("check-failed", turn_error), ("check-failed", upper_turns),
                    ("check-failed", spread)))
    without_releases(p)
    (FAULTS / "KFT-0413-2.ubr").write_text(p.text(), encoding="utf-8")


def lay_out(program):
    written = [*sorted(UNITS.glob("*.ubr")), FAULTS / "KFT-0413-1.ubr", FAULTS / "KFT-0413-2.ubr"]
    subprocess.run([program, "format", *written], check=True, stdout=subprocess.DEVNULL)


def seal_units(program):
    for unit in sorted(UNITS.glob("*.ubr")):
        subprocess.run([program, "seal", "all", unit, "--today", "2026-07-31"], check=True, stdout=subprocess.DEVNULL)


def main():
    for folder in (UNITS / "logs", UNITS / "papers", FAULTS / "logs"):
        folder.mkdir(parents=True, exist_ok=True)
    complete_unit()
    auto_connected_unit()
    unit_in_progress()
    faulty_unit()
    exchanged_leads()
    for program in sys.argv[1:]:
        lay_out(program)
        seal_units(program)


if __name__ == "__main__":
    main()
