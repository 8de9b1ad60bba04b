#!/usr/bin/env python3
"""Writes the example units of the invented Kestrel Ford works and their logs.

Every value comes from one invented design (class Design): turns and volts per turn give ratio and flux
density; conductor length, section and temperature give resistances and ohmic loss; duct and winding sizes
give the impedance; core mass and flux density give the no-load loss. What scatters in real work scatters
here by a generator with a fixed seed, so a second run writes the same bytes. Only the standard library is
used.

    python3 make_examples.py          # writes units/ and faults/
"""

import math
import random
from datetime import datetime, timedelta
from pathlib import Path

HERE = Path(__file__).resolve().parent
PHASES = ("U", "V", "W")
RHO_20 = 0.0172414  # copper, ohm*mm^2/m at 20 °C
COPPER = 235.0
MU_0 = 4e-7 * math.pi


def copper(temperature, reference=20.0):
    """Factor from a resistance at `reference` to one at `temperature`."""
    return (COPPER + temperature) / (COPPER + reference)


class Design:
    """40 MVA, 110/20 kV, 50 Hz, YNd11, +-8 x 1.25 % at the neutral end of HV."""

    rated_power = 40e6
    frequency = 50.0
    voltage = {"HV": 110e3, "LV": 20e3}
    turns = {"HV": 880, "LV": 277}
    taps = 17
    principal = 9
    tap_turns = 11
    section = {"HV": 70.0, "LV": 222.0}  # mm^2
    regulating_section = 80.0  # mm^2
    height = 1612.0  # mm under pressing force
    core_diameter = 530.0  # mm
    core_section = 193500.0  # mm^2 of steel
    core_stack = 498.0
    # radial sizes in mm, from the core outwards
    core_to_lv = 17.5
    lv_build = 58.0
    lv_to_hv = 49.0
    hv_build = 70.0
    hv_to_regulating = 42.0
    regulating_build = 22.0
    limb_pitch = 1210.0
    window_height = 1860.0
    specific_loss = 0.92  # W/kg at the flux density of this core
    building_factor = 1.17

    def __init__(self):
        self.turn_voltage = self.voltage["LV"] / self.turns["LV"]
        self.flux_density = self.turn_voltage / (
            math.pi * math.sqrt(2) * self.frequency * self.core_section * 1e-6)
        self.lv_inner = self.core_diameter + 2 * self.core_to_lv
        self.lv_outer = self.lv_inner + 2 * self.lv_build
        self.hv_inner = self.lv_outer + 2 * self.lv_to_hv
        self.hv_outer = self.hv_inner + 2 * self.hv_build
        self.regulating_inner = self.hv_outer + 2 * self.hv_to_regulating
        self.mean_diameter = {
            "HV": (self.hv_inner + self.hv_outer) / 2,
            "LV": (self.lv_inner + self.lv_outer) / 2,
        }
        regulating_mean = self.regulating_inner + self.regulating_build
        self.resistance_20 = {
            w: RHO_20 * math.pi * self.mean_diameter[w] / 1000 * self.turns[w] / self.section[w]
            for w in ("HV", "LV")
        }
        self.regulating_turn_20 = RHO_20 * math.pi * regulating_mean / 1000 / self.regulating_section
        self.current = {
            w: self.rated_power / (math.sqrt(3) * self.voltage[w]) for w in ("HV", "LV")
        }
        self.impedance = self.leakage_reactance()
        limbs = 3 * self.window_height + 4 * self.limb_pitch + 6 * self.core_diameter * 0.42
        self.core_mass = 7650 * self.core_section * 1e-6 * limbs / 1000
        self.no_load_loss = self.core_mass * self.specific_loss * self.building_factor
        ohmic = 3 * self.resistance_20["HV"] * self.current["HV"] ** 2
        ohmic += 3 * self.resistance_20["LV"] * (self.current["LV"] / math.sqrt(3)) ** 2
        self.ohmic_20 = ohmic * 1.006  # with leads
        self.stray_20 = 0.16 * self.ohmic_20
        self.load_loss_75 = self.ohmic_20 * copper(75) + self.stray_20 / copper(75)

    def leakage_reactance(self):
        """Per unit, from duct and builds, with Rogowski's factor for the height."""
        t1, tg, t2 = self.lv_build / 1000, self.lv_to_hv / 1000, self.hv_build / 1000
        d1, d2 = self.mean_diameter["LV"] / 1000, self.mean_diameter["HV"] / 1000
        dg = (self.lv_outer + self.hv_inner) / 2000
        area = t1 * d1 / 3 + tg * dg + t2 * d2 / 3
        width, height = t1 + tg + t2, self.height / 1000
        x = math.pi * height / width
        equivalent = height / (1 - (1 - math.exp(-x)) / x)
        current = self.rated_power / 3 / self.voltage["LV"]
        ohms = 2 * math.pi * self.frequency * MU_0 * math.pi * self.turns["LV"] ** 2 * area / equivalent
        return ohms * current / self.voltage["LV"]

    def turns_at(self, tap):
        return self.turns["HV"] + (self.principal - tap) * self.tap_turns


D = Design()


def number(value, places):
    return f"{value:.{places}f}"


class Writer:
    """Collects the lines of a record."""

    def __init__(self):
        self.lines = []

    def line(self, text=""):
        self.lines.append(text.rstrip())

    def stage(self, name, comment=None):
        self.line()
        self.line(f"stage {name}" + (f"  # {comment}" if comment else ""))

    def context(self, person, moment):
        self.line(f"  on {moment} by {person}")

    def reading(self, name, value, *clauses):
        self.line("  " + "  ".join([f"{name} = {value}", *clauses]))

    def table(self, head, header, rows, *clauses):
        self.line("  " + "  ".join(["table" + (f" {head}" if head else ""), *clauses]))
        cells = [[str(cell) for cell in row] for row in [header, *rows]]
        widths = [max(len(row[at]) for row in cells) for at in range(len(header))]
        for row in cells:
            self.line("    " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths)))

    def text(self):
        return "\n".join(self.lines) + "\n"


def matrix(rows, columns, value):
    return [[row, *[value(row, column) for column in columns]] for row in rows]


class Unit:
    """One unit as built: the design with the small differences of real work."""

    def __init__(self, serial, seed, design=D):
        self.serial = serial
        self.random = random.Random(seed)
        r = self.random
        self.d = design
        self.resistance_factor = {(w, p): 1 + r.uniform(-0.003, 0.004) for w in ("HV", "LV") for p in PHASES}
        self.regulating_factor = {p: 1 + r.uniform(-0.003, 0.003) for p in PHASES}
        self.lead_factor = {(w, p): 1.003 + r.uniform(0, 0.0015) for w in ("HV", "LV") for p in PHASES}
        self.ratio_factor = {p: 1 + r.uniform(-0.00012, 0.00012) for p in PHASES}
        self.pressed = {(w, p): 1613 + r.choice((-0.5, 0, 0.5, 1.0)) for w in ("HV", "LV") for p in PHASES}
        self.stack = {p: round(498 + r.uniform(-0.8, 0.8), 1) for p in PHASES}
        self.loss_factor = 1 + r.uniform(-0.02, 0.01)

    # ------------------------------------------------------------------------------- what is measured

    def winding_resistance(self, winding, phase, temperature):
        """One winding by itself."""
        return self.d.resistance_20[winding] * self.resistance_factor[winding, phase] * copper(temperature)

    def terminal_resistance(self, winding, phase, temperature, extra=1.0):
        """HV to neutral; LV between the line terminals of its delta."""
        def of(p):
            leads = self.lead_factor[winding, p] * extra
            return self.winding_resistance(winding, p, temperature) * leads
        if winding == "HV":
            return of(phase)
        a, b, c = (of(p) for p in (phase, *(p for p in PHASES if p != phase)))
        return a * (b + c) / (a + b + c)

    def tap_resistance(self, tap, phase, temperature, extra=1.0):
        regulating = abs(self.d.principal - tap) * self.d.tap_turns * self.d.regulating_turn_20
        main = self.terminal_resistance("HV", phase, temperature, extra)
        return main + regulating * self.regulating_factor[phase] * copper(temperature)

    def ratio(self, tap, phase, hv_extra=0, lv_extra=0):
        turns = (self.d.turns_at(tap) + hv_extra) / (self.d.turns["LV"] + lv_extra)
        return turns * self.ratio_factor[phase] * (1 + self.random.uniform(-4e-5, 4e-5))

    def flux_density(self):
        stack = sum(self.stack.values()) / 3
        return self.d.flux_density * self.d.core_stack / stack


# ------------------------------------------------------------------------------------ the design block


def write_design(w, rev="D", date="2026-01-19"):
    d = D
    w.line()
    w.line(f"design rev {rev} on {date} by A.Brandt")
    for name, value in (
        ("rated-power", "40 MVA"),
        ("frequency", "50 Hz"),
        ("vector-group", "YNd11"),
        ("windings", "HV, LV"),
        ("impedance", f"{d.impedance * 100:.2f} %"),
        ("taps", "1 .. 17"),
        ("tap-positions", "17"),
        ("principal-tap", "9"),
        ("tap-step", "1.25 %"),
        ("tap-turns", "11"),
        ("on-load-tap-changer", "yes"),
        ("core-section", f"{d.core_section:.0f} mm^2"),
        ("core-stack", f"{d.core_stack:.0f} mm +2/-1 mm"),
        ("core-diameter", f"{d.core_diameter:.0f} mm +0/-3 mm"),
        ("core-mass", f"{d.core_mass:.0f} kg"),
        ("flux-density", f"{d.flux_density:.3f} T"),
        ("steel-loss-limit", "1.00"),
        ("ducts", "core-LV, LV-HV, HV-regulating"),
        ("duct-width[core-LV]", f"{d.core_to_lv} mm +1.5/-1 mm"),
        ("duct-width[LV-HV]", f"{d.lv_to_hv:.0f} mm +- 1 mm"),
        ("duct-width[HV-regulating]", f"{d.hv_to_regulating:.0f} mm +- 1 mm"),
        ("gaps", "HV-lead-to-tank, LV-lead-to-tank, winding-to-tank, yoke-to-cover"),
        ("minimum-clearance[HV-lead-to-tank]", "180 mm"),
        ("minimum-clearance[LV-lead-to-tank]", "60 mm"),
        ("minimum-clearance[winding-to-tank]", "140 mm"),
        ("minimum-clearance[yoke-to-cover]", "120 mm"),
        ("insulation-mass", "4.1 t"),
        ("clamping-force", "312 kN"),
        ("bushings", "1U, 1V, 1W, 1N, 2U, 2V, 2W"),
        ("condenser-bushings", "1U, 1V, 1W"),
        ("current-transformers", "T1U, T1V, T1W, T2N"),
        ("tank-gas-volume", "24 m^3"),
        ("oil-mass", "18.6 t"),
        ("shipped-gas-filled", "yes"),
        ("transport-mass", "46.5 t"),
        ("coldest-transport", "-15 °C"),
        ("paint-thickness", "200 um"),
        ("lightning-impulse", "550 kV"),
        ("guaranteed-no-load-loss", "19.5 kW"),
        ("guaranteed-no-load-current", "0.30 %"),
        ("guaranteed-load-loss", "185 kW"),
        ("guaranteed-total-loss", "204.5 kW"),
        ("guaranteed-sound-level", "66 dB(A)"),
    ):
        w.line(f"  {name} = {value}")
    w.table("", ["winding", "rated-voltage(kV)", "highest-voltage(kV)", "star-connected", "turns", "applied-voltage(kV)"],
            [["HV", 110, 123, "yes", d.turns["HV"], 140], ["LV", 20, 24, "no", d.turns["LV"], 50]])
    w.table("", ["winding", "conductor", "conductor-resistivity(ohm*mm^2/m)", "conductor-section(mm^2)", "mean-diameter(mm)"],
            [[x, "copper", RHO_20, number(d.section[x], 1), number(d.mean_diameter[x], 1)] for x in ("HV", "LV")])
    w.table("", ["winding", "free-height", "height", "pressing-force(kN)"],
            [["HV", "1640 mm +- 6 mm", "1612 mm +3/-0 mm", 168],
             ["LV", "1636 mm +- 6 mm", "1612 mm +3/-0 mm", 144]])


# ------------------------------------------------------------------------------------------ the stages


def winding(w, u, start):
    r = u.random
    d1, d2 = start, start + timedelta(days=1)
    w.stage("winding")
    w.context("J.Lindqvist", f"{d1:%Y-%m-%d}")
    w.table("turns", ["winding", *PHASES], matrix(("HV", "LV"), PHASES, lambda x, p: u.d.turns[x]), "with TC-2")
    w.table("turns-second-count", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: u.d.turns[x]), "with TC-2", "by S.Rao")
    w.table("", ["phase", "regulating-turns"], [[p, u.d.tap_turns * 8] for p in PHASES], "with TC-2")
    inner = {"HV": u.d.hv_inner, "LV": u.d.lv_inner}
    outer = {"HV": u.d.hv_outer, "LV": u.d.lv_outer}
    w.table("inner-diameter(mm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: number(inner[x] + r.uniform(0, 0.8), 1)), "with TP-11")
    w.table("outer-diameter(mm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: number(outer[x] + r.uniform(-1.2, 1.0), 1)), "with TP-11")
    free = {"HV": 1640, "LV": 1636}
    w.table("height(mm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: number(free[x] + r.uniform(-3.5, 4), 1)), "with TP-11")
    w.table("joints", ["winding", *PHASES], matrix(("HV", "LV"), PHASES, lambda x, p: {"HV": 2, "LV": 0}[x]))
    w.line()
    w.context("L.Novak", f"{d2:%Y-%m-%d} 09:30")
    w.table("strand-insulation(Mohm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: round(r.uniform(60, 240))), "at 500 V", "with IR-5")
    theta = 18.4
    w.table("conductor-resistance(mohm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES,
                   lambda x, p: number(u.winding_resistance(x, p, theta) * 1000, 1 if x == "HV" else 3)),
            f"at {theta} °C", "with MR-04")
    w.line(f"  release H10 by M.Okafor on {d2:%Y-%m-%d} 15:40")


def pressing(w, u, start):
    r = u.random
    area = 8 * math.pi / 4 * 60.0**2
    force = {"HV": 168e3, "LV": 144e3}
    w.stage("winding-pressing")
    w.context("S.Rao", f"{start:%Y-%m-%d}")
    w.reading("jack-diameter", "60 mm", "with MM-3")
    w.reading("jack-count", "8")
    w.table("jack-pressure(bar)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: number(force[x] / area * 10 * (1 + r.uniform(-0.012, 0.02)), 1)),
            "with PG-7")
    w.table("pressed-height(mm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: number(u.pressed[x, p], 1)), "with TP-11")
    w.table("shims(mm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: number(r.choice((-4, -2, 0, 2, 2, 4, 9 if x == "HV" else 3)), 1)), "with MM-3")
    w.line(f"  release H20 by M.Okafor on {start:%Y-%m-%d} 16:20")


def core(w, u, start):
    r = u.random
    w.stage("core")
    w.context("J.Lindqvist", f"{start:%Y-%m-%d}")
    w.reading("steel-loss", number(0.96 + r.uniform(0, 0.03), 2), "with EP-1")
    w.reading("burr", f"{0.012 + r.randint(0, 4) / 1000:.3f} mm", "with MM-3")
    w.table("", ["phase", "stack-thickness(mm)", "limb-diameter(mm)"],
            [[p, number(u.stack[p], 1), number(529.4 - r.uniform(0, 1.5), 1)] for p in PHASES], "with TP-11")
    w.reading("window-diagonal-difference", f"{r.choice((1.0, 1.5, 2.0))} mm", "with TP-11")
    w.table("", ["phase", "limb-tilt(%)"], [[p, number(r.uniform(0.02, 0.07), 2)] for p in PHASES], "with IN-1")
    w.reading("joint-gap", "0.6 mm", "with MM-3")
    w.reading("core-mass", f"{u.d.core_mass * (1 + r.uniform(-0.006, 0.004)) / 1000:.2f} t", "with SC-1")
    w.reading("core-frame-insulation", f"{r.randint(40, 90)} Mohm", "at 500 V", "with IR-5", "by T.Aldous")
    w.line(f"  release H30 by D.Quill on {start:%Y-%m-%d} 15:05")


def assembly(w, u, start):
    r = u.random
    w.stage("core-and-winding-assembly")
    w.context("S.Rao", f"{start:%Y-%m-%d}")
    ducts = {"core-LV": u.d.core_to_lv, "LV-HV": u.d.lv_to_hv, "HV-regulating": u.d.hv_to_regulating}
    w.table("duct-width(mm)", ["duct", *PHASES],
            matrix(ducts, PHASES, lambda x, p: number(ducts[x] + r.uniform(-0.6, 0.7), 1)), "with MM-3")
    centre = {p: 986 + r.uniform(-1, 1) for p in PHASES}
    w.table("mid-height(mm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: number(centre[p] + r.uniform(-1, 1), 1)), "with TP-11")
    w.table("", ["phase", "yoke-gap(mm)"], [[p, number(r.uniform(0.3, 0.8), 1)] for p in PHASES], "with MM-3")
    w.reading("core-frame-insulation", f"{r.randint(300, 700)} Mohm", "at 500 V", "with IR-5", "by T.Aldous")
    w.reading("tools-counted", "yes")
    w.line(f"  release H40 by M.Okafor on {start:%Y-%m-%d} 17:10")


def joined_voltages(supply, ratio, clock):
    """Voltages with A and a joined: B-b, C-c, B-c, C-b."""
    small, angle = supply / ratio, math.radians(30 * clock)

    def between(turn):
        return math.sqrt(supply**2 + small**2 - 2 * supply * small * math.cos(angle + math.radians(turn)))

    return between(0), between(0), between(60), between(-60)


def connections(w, u, start, partly=False, ratio=None):
    r = u.random
    ratio = ratio or (lambda tap, p: u.ratio(tap, p))
    done = 8 if partly else 17
    w.stage("connections")
    w.context("L.Novak", f"{start:%Y-%m-%d} 14:10")
    w.table("ratio", ["tap", *PHASES],
            matrix(range(1, 18), PHASES, lambda tap, p: number(ratio(tap, p), 4) if tap <= done else "?"),
            "with TTR-3")
    if partly:
        w.table("resistance(mohm)", ["winding", *PHASES], matrix(("HV", "LV"), PHASES, lambda x, p: "?"))
        w.reading("joints-inspected", "yes")
        return
    theta = 21.8
    w.table("resistance(mohm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES,
                   lambda x, p: number(u.terminal_resistance(x, p, theta) * 1000, 1 if x == "HV" else 3)),
            f"at {theta} °C", "with MR-04")
    w.table("joint-resistance(%)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: r.randint(88, 101)), "with VM-6")
    w.reading("open-corner[LV]", "0.6 %", "with VM-6")
    supply = 400.2
    bb, cc, bc, cb = joined_voltages(supply, u.d.turns["HV"] * math.sqrt(3) / u.d.turns["LV"], 11)
    w.reading("joined-supply", f"{supply:.1f} V", "with VM-6")
    for name, value in (("joined-Bb", bb), ("joined-Cc", cc), ("joined-Bc", bc), ("joined-Cb", cb)):
        w.reading(name, f"{value + r.uniform(-0.3, 0.3):.1f} V", "with VM-6")
    w.reading("core-frame-insulation", f"{r.randint(300, 650)} Mohm", "at 500 V", "with IR-5")
    w.reading("joints-inspected", "yes", "by J.Lindqvist")
    w.reading("lead-insulation-checked", "yes", "by J.Lindqvist")
    w.line(f"  witnessed W50 by C.Moreau on {start:%Y-%m-%d} 16:30")
    day = start + timedelta(days=1)
    w.line(f"  release K55 by A.Brandt on {day:%Y-%m-%d} 08:50")
    w.line(f"  release H50 by M.Okafor on {day:%Y-%m-%d} 09:30")


def drying_log(u, start, path, minutes=2):
    """Vapour phase: water rate rises and falls, pressure falls once the solvent is drawn off."""
    r = u.random
    mass = 4.1  # t of insulation
    water_per_tonne = 57_000.0  # g
    tau = 10.0
    top = water_per_tonne / (math.e * tau)
    lines, water = ["time,temperature(°C),pressure(mbar),rate(g/h/t)"], 0.0
    for step in range(6000 // minutes):
        hours = step * minutes / 60
        temperature = 21 + 97 * (1 - math.exp(-hours / 9)) + 0.6 * math.sin(hours * 2.1) * min(1, hours / 20)
        if hours < 1:
            pressure = 1008 - 780 * hours
        elif hours < 30:
            pressure = 60 + 168 * math.exp(-(hours - 1) / 4)
        else:
            pressure = 0.21 + 60 * math.exp(-(hours - 30) / 4.4)
        pressure *= 1 + r.uniform(-0.02, 0.02)
        x = hours / tau
        rate = top * x * math.exp(1 - x) * (1 + r.uniform(-0.03, 0.03))
        water += rate * mass * minutes / 60 / 1000
        moment = start + timedelta(minutes=minutes * step)
        lines.append(f"{moment:%Y-%m-%d %H:%M},{temperature + r.uniform(-0.2, 0.2):.1f},"
                     f"{pressure:.4g},{rate:.1f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return water, moment


def vacuum_log(u, start, path):
    """Pump-down, a rise test after ten hours, then the hold."""
    r = u.random
    lines = ["time,pressure(mbar),temperature(°C)"]
    leak = {}
    for step in range(2000):
        if step < 95:
            pressure = 985 * math.exp(-step / 13.5) + 0.9
        else:
            pressure = 0.34 + 1.3 * math.exp(-(step - 95) / 95)
        pressure *= 1 + r.uniform(-0.02, 0.02)
        if 600 <= step <= 630:
            pressure = leak.setdefault(600, pressure) + 0.32 * (step - 600) / 30
            leak[step] = pressure
        moment = start + timedelta(minutes=step)
        lines.append(f"{moment:%Y-%m-%d %H:%M},{pressure:.4g},{33 + 4 * math.exp(-step / 500) + r.uniform(-0.1, 0.1):.1f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return leak[600], leak[630]


def drying(w, u, start, log, folder="units", minutes=2):
    water, end = drying_log(u, start, HERE / folder / log, minutes)
    w.stage("drying")
    w.context("S.Rao", f"{start:%Y-%m-%d %H:%M}")
    w.reading("initial-moisture", "5.9 %", "with OV-2")
    w.reading("oven-closed", f"{start - timedelta(minutes=20):%Y-%m-%d %H:%M}")
    w.line(f'  log oven from "{log}"  with OV-2')
    w.context("S.Rao", f"{end:%Y-%m-%d %H:%M}")
    w.reading("water-collected", f"{water * 0.985:.0f} kg", "with OV-2")
    w.reading("equilibrium-pressure", "0.46 mbar", "at 112 °C", "with OV-2")
    w.line(f"  release H60 by D.Quill on {end + timedelta(minutes=25):%Y-%m-%d %H:%M}")
    return end + timedelta(minutes=40)


def clamping(w, u, opened):
    r = u.random
    done = opened + timedelta(hours=4, minutes=10)
    w.stage("final-clamping")
    w.context("J.Lindqvist", f"{opened:%Y-%m-%d %H:%M}")
    w.reading("oven-opened", f"{opened:%Y-%m-%d %H:%M}")
    w.context("J.Lindqvist", f"{done:%Y-%m-%d %H:%M}")
    w.table("", ["phase", "clamping-force(kN)"], [[p, round(312 + r.uniform(-4, 6))] for p in PHASES], "with LC-3")
    w.table("height-after(mm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES, lambda x, p: number(max(1612.0, u.pressed[x, p] - r.choice((0, 0.5))), 1)), "with TP-11")
    w.reading("core-frame-insulation", f"{r.randint(1200, 2400)} Mohm", "at 500 V", "with IR-5", "by T.Aldous")
    w.reading("fasteners-locked", "yes")
    w.reading("clamping-finished", f"{done:%Y-%m-%d %H:%M}")
    w.line(f"  release H70 by M.Okafor on {done + timedelta(minutes=30):%Y-%m-%d %H:%M}")
    return done + timedelta(hours=1)


def tanking(w, u, start):
    r = u.random
    w.stage("tanking")
    w.context("J.Lindqvist", f"{start:%Y-%m-%d %H:%M}")
    w.reading("oxygen-at-entry", "20.8 %", "with HM-1")
    w.reading("hall-temperature", "21.6 °C", "with HM-1")
    w.reading("hall-humidity", "46 %", "with HM-1")
    w.reading("part-temperature", "74 °C", "with HM-1")
    gaps = {"HV-lead-to-tank": 180, "LV-lead-to-tank": 60, "winding-to-tank": 140, "yoke-to-cover": 120}
    w.table("", ["gap", "clearance(mm)"], [[g, v + r.randint(4, 15)] for g, v in gaps.items()], "with TP-11")
    w.reading("core-tank-insulation", f"{r.randint(1200, 2200)} Mohm", "at 500 V", "with IR-5", "by T.Aldous")
    w.reading("tools-counted", "yes")
    w.reading("tank-clean", "yes")
    w.line(f"  release H80 by M.Okafor on {start + timedelta(hours=2):%Y-%m-%d %H:%M}")
    return start + timedelta(hours=2, minutes=20)


def bushings(w, u, closed):
    r = u.random
    tested = closed + timedelta(hours=14)
    fitted = closed + timedelta(hours=20)
    w.stage("bushings")
    w.context("J.Lindqvist", f"{closed:%Y-%m-%d %H:%M}")
    w.reading("tank-closed", f"{closed:%Y-%m-%d %H:%M}")
    names = ("1U", "1V", "1W", "1N", "2U", "2V", "2W")
    serials = {n: f'"{24000 + r.randint(100, 899)}"' for n in names}
    mounted = [[n, serials[n], {"1": 85, "2": 120}[n[0]] + r.randint(-2, 2)] for n in names]
    w.context("T.Aldous", f"{tested:%Y-%m-%d %H:%M}")
    plate = {n: 296 + r.randint(-6, 6) for n in names[:3]}
    w.table("", ["condenser-bushing", "plate-capacitance(pF)"], [[n, c] for n, c in plate.items()], "with CB-2")
    w.table("", ["condenser-bushing", "capacitance(pF)"],
            [[n, number(c + r.uniform(-1.5, 2), 1)] for n, c in plate.items()], "at 10 kV", "with CB-2")
    w.table("", ["condenser-bushing", "tan-delta(%)"],
            [[n, number(r.uniform(0.31, 0.38), 2)] for n in plate], "at 20.9 °C", "with CB-2")
    cts = ("T1U", "T1V", "T1W", "T2N")
    w.table("", ["current-transformer", "current-transformer-error(%)"],
            [[c, number(r.uniform(-0.35, 0.1), 2)] for c in cts], "with CT-6")
    w.table("", ["current-transformer", "current-transformer-polarity-right"], [[c, "yes"] for c in cts])
    w.context("J.Lindqvist", f"{fitted:%Y-%m-%d %H:%M}")
    w.table("", ["bushing", "serial", "joint-torque(N*m)"], mounted, "with TW-9")
    w.table("", ["condenser-bushing", "tap-earthed"], [[n, "yes"] for n in plate])
    return closed + timedelta(hours=40)


def by_day(moment):
    """The next time at which the office is staffed."""
    if moment.hour < 7:
        return moment.replace(hour=7, minute=30)
    if moment.hour >= 20:
        return moment.replace(hour=7, minute=30) + timedelta(days=1)
    return moment


def vacuum_and_oil(w, u, start, opened, closed, log):
    r = u.random
    first, last = vacuum_log(u, start, HERE / "units" / log)
    dry_air = (start - closed).total_seconds() / 3600 - 1.5
    filled = start + timedelta(hours=39, minutes=20)
    w.stage("vacuum-and-oil")
    w.context("S.Rao", f"{start:%Y-%m-%d %H:%M}")
    w.reading("vacuum-started", f"{start:%Y-%m-%d %H:%M}")
    w.reading("dry-air-time", f"{dry_air:.1f} h", "with ST-1")
    w.line(f'  log vacuum from "{log}"  with VG-8')
    w.context("S.Rao", f"{start + timedelta(minutes=630):%Y-%m-%d %H:%M}")
    w.reading("leak-pressure-start", f"{first:.3f} mbar", "with VG-8")
    w.reading("leak-pressure-end", f"{last:.3f} mbar", "with VG-8")
    w.reading("leak-time", "30 min", "with ST-1")
    w.context("T.Aldous", f"{start + timedelta(hours=32):%Y-%m-%d %H:%M}")
    w.table("", ["shot", "breakdown-shot(kV)"], [[s, r.randint(69, 79)] for s in range(1, 7)], "with OL-1")
    w.reading("oil-water", "3.8 mg/kg", "with OL-2")
    w.reading("oil-tan-delta", "0.0012", "at 90 °C", "with OL-2")
    w.reading("oil-acidity", "0.008 mg/g", "with OL-2")
    w.context("S.Rao", f"{filled:%Y-%m-%d %H:%M}")
    w.reading("oil-temperature", "52 °C", "with FM-2")
    w.reading("filling-rate", "4.4 m^3/h", "with FM-2")
    w.reading("filling-pressure", "0.9 mbar", "with VG-8")
    w.reading("filling-finished", f"{filled:%Y-%m-%d %H:%M}")
    released = by_day(filled + timedelta(hours=2))
    w.line(f"  release H90 by M.Okafor on {released:%Y-%m-%d %H:%M}")
    return released + timedelta(minutes=30)


def standing(w, u, start):
    moved = start + timedelta(hours=60)
    w.stage("standing")
    w.context("S.Rao", f"{moved:%Y-%m-%d %H:%M}")
    w.reading("circulated-volume", "72 m^3", "with FM-2")
    w.reading("vented", "yes")
    w.reading("last-oil-movement", f"{moved:%Y-%m-%d %H:%M}")
    w.reading("oil-level", "48 %", "with LG-1")
    tested = by_day(moved + timedelta(hours=26))
    w.context("T.Aldous", f"{tested:%Y-%m-%d %H:%M}")
    w.reading("test-pressure", "35 kPa", "with MN-5")
    w.reading("pressure-time", "24.5 h", "with ST-1")
    w.reading("leaks-found", "0")
    w.reading("oil-water-after", "4.6 mg/kg", "with OL-2")
    w.reading("breakdown-after", "74 kV", "with OL-1")
    w.line(f"  release H100 by D.Quill on {tested + timedelta(hours=3):%Y-%m-%d %H:%M}")
    return moved


def accessories(w, u, day):
    r = u.random
    w.stage("accessories")
    w.context("T.Aldous", f"{day:%Y-%m-%d}")
    w.reading("wiring-test", "2.0 kV", "at 60 s", "with HD-1")
    w.reading("counter-start", "14")
    w.reading("counter-end", "352")
    w.reading("undervoltage-cycle-right", "yes")
    w.reading("fan-rotation-right", "yes")
    w.reading("relief-device-setting", "69 kPa", "with MN-5")
    w.reading("gas-relay-tested", "yes")
    w.table("", ["paint-spot", "paint(um)"], [[s, r.randint(204, 242)] for s in range(1, 11)], "with PT-1")
    w.line(f"  reviewed R105 by D.Quill on {day + timedelta(days=1):%Y-%m-%d} 11:00")


def response_file(u, path):
    """A plausible smooth frequency response, one resonance below and two above 10 kHz."""
    lines = ["frequency(Hz),magnitude(dB)"]
    for step in range(301):
        f = 20 * 10 ** (step * 5 / 300)
        level = -18 - 38 * math.exp(-((math.log10(f / 700)) / 0.22) ** 2)
        level += 16 * (1 - math.exp(-f / 20000)) - 14 * math.exp(-((math.log10(f / 60000)) / 0.12) ** 2)
        level -= 20 * math.exp(-((math.log10(f / 420000)) / 0.09) ** 2)
        lines.append(f"{f:.1f},{level + u.random.uniform(-0.05, 0.05):.2f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def factory_tests(w, u, start, moved, papers):
    r, d = u.random, u.d
    w.stage("factory-tests", "first unit of the lot: with temperature rise")
    first = start.replace(hour=8, minute=15)
    assert first - moved > timedelta(hours=24)
    w.context("L.Novak", f"{first:%Y-%m-%d %H:%M}")
    w.reading("first-voltage", f"{first:%Y-%m-%d %H:%M}")
    w.table("ratio", ["tap", *PHASES],
            matrix(range(1, 18), PHASES, lambda tap, p: number(u.ratio(tap, p), 4)), "with TTR-3")
    theta, extra = 20.6, 1.0012
    w.table("resistance(mohm)", ["winding", *PHASES],
            matrix(("HV", "LV"), PHASES,
                   lambda x, p: number(u.terminal_resistance(x, p, theta, extra) * 1000, 1 if x == "HV" else 3)),
            f"at {theta} °C", "with MR-04")
    w.table("tap-resistance(mohm)", ["tap", *PHASES],
            matrix(range(1, 18), PHASES, lambda tap, p: number(u.tap_resistance(tap, p, theta, extra) * 1000, 1)),
            f"at {theta} °C", "with MR-04")
    paths = ("HV-to-rest", "LV-to-rest", "both-to-earth")
    base = {p: r.randint(5200, 9800) for p in paths}
    w.table("", ["insulation-path", "insulation-60s(Mohm)"], [[p, base[p]] for p in paths],
            f"at {theta} °C", "with IR-5")
    w.table("", ["insulation-path", "insulation-600s(Mohm)"],
            [[p, round(base[p] * r.uniform(1.7, 2.3))] for p in paths], f"at {theta} °C", "with IR-5")
    w.table("", ["insulation-path", "tan-delta(%)"], [[p, number(r.uniform(0.19, 0.28), 2)] for p in paths],
            f"at {theta} °C", "with CB-2")
    farads = {"HV-to-rest": 3120, "LV-to-rest": 8450, "both-to-earth": 7630}
    w.table("", ["insulation-path", "winding-capacitance(pF)"],
            [[p, round(c * (1 + r.uniform(-0.02, 0.02)))] for p, c in farads.items()], "with CB-2")
    w.reading("core-insulation", f"{r.randint(900, 1500)} Mohm", "at 2500 V", "with IR-5")

    w.line()
    w.context("L.Novak", f"{start + timedelta(days=1):%Y-%m-%d} 10:20")
    loss = d.no_load_loss * u.loss_factor
    mean, rms = 20000.0, 20070.0
    w.reading("no-load-power", f"{loss / (1 + (mean - rms) / mean) / 1000:.2f} kW", "with PA-1")
    w.reading("no-load-mean-voltage", f"{mean:.0f} V", "with PA-1")
    w.reading("no-load-rms-voltage", f"{rms:.0f} V", "with PA-1")
    w.table("", ["phase", "no-load-current(A)"], [["U", 2.94], ["V", 2.11], ["W", 3.01]], "with PA-1")
    loading, current = 20.9, 0.72
    ohmic, stray = d.ohmic_20 * copper(loading), d.stray_20 / copper(loading)
    power = (ohmic + stray) * current**2
    x, resist = d.impedance, (ohmic + stray) / d.rated_power
    z = math.sqrt((x * 1.008) ** 2 + resist**2)
    w.reading("load-power", f"{power / 1000:.2f} kW", "with PA-1")
    w.reading("load-current", f"{d.current['HV'] * current:.2f} A", "with PA-1")
    w.reading("load-voltage", f"{z * d.voltage['HV'] * current:.0f} V", "with PA-1")
    w.reading("load-temperature", f"{loading} °C", "with TH-4")
    gases = ("H2", "CH4", "C2H6", "C2H4", "C2H2", "CO", "CO2")
    before = dict(zip(gases, (3, 0.6, 0.2, 0.2, 0, 18, 95)))
    after = dict(zip(gases, (5, 0.8, 0.2, 0.3, 0, 24, 120)))
    w.table("", ["gas", "gas-before(ul/l)"], [[g, before[g]] for g in gases], "with OL-2")

    w.line()
    w.context("L.Novak", f"{start + timedelta(days=2):%Y-%m-%d} 13:00")
    levels = {"reduced": 332, "full-1": 551, "full-2": 552, "full-3": 550}
    w.reading("lightning-impulse-start", f"{start + timedelta(days=2):%Y-%m-%d} 10:20")
    w.table("impulse-peak(kV)", ["phase", *levels],
            [[p, *[v + r.randint(-3, 4) for v in levels.values()]] for p in PHASES], "with IM-1")
    w.table("", ["phase", "impulse-front(us)", "impulse-tail(us)"],
            [[p, number(r.uniform(1.1, 1.35), 2), number(r.uniform(46, 51), 1)] for p in PHASES], "with IM-1")
    w.table("", ["phase", "impulse-traces-alike"], [[p, "yes"] for p in PHASES])
    w.context("L.Novak", f"{start + timedelta(days=3):%Y-%m-%d} 11:40")
    tested = f"{start + timedelta(days=3):%Y-%m-%d}"
    w.reading("applied-voltage-start", f"{tested} 08:25")
    w.table("", ["winding", "applied-voltage(kV)"], [["HV", 140], ["LV", 50]], "at 60 s", "with HD-1")
    w.reading("induced-voltage-start", f"{tested} 10:05")
    w.reading("induced-tap", "9")
    w.reading("induced-frequency", "200 Hz", "with HD-1")
    w.reading("induced-voltage", "115 kV", "with HD-1")
    w.reading("induced-time", "30 s", "with ST-1")
    w.reading("discharge-hour-voltage", "101 kV", "with HD-1")
    floor = {p: r.randint(18, 27) for p in PHASES}
    w.table("discharge(pC)", ["minute", *PHASES],
            matrix(range(0, 61, 5), PHASES, lambda m, p: floor[p] + r.randint(-3, 5)), "with PD-1")
    w.table("", ["phase", "discharge-after-hour(pC)"], [[p, floor[p] - 3] for p in PHASES], "at 77 kV", "with PD-1")
    w.reading("discharge-background", "12 pC", "with PD-1")
    w.table("", ["gas", "gas-after(ul/l)"], [[g, after[g]] for g in gases], "with OL-2")

    w.line()
    w.context("T.Aldous", f"{start + timedelta(days=4):%Y-%m-%d} 15:10")
    w.table("", ["microphone", "sound(dB(A))"], [[m, number(61.5 + r.uniform(-1.4, 1.8), 1)] for m in range(1, 9)], "with SL-1")
    w.reading("sound-background", "44.0 dB(A)", "with SL-1")
    cold, hot = 20.6, 77.4
    w.reading("ambient", "21.4 °C", "with TH-4")
    w.reading("top-oil", "71.8 °C", "with TH-4")
    w.reading("bottom-oil", "50.6 °C", "with TH-4")
    w.table("", ["winding", "cold-resistance(mohm)"],
            [[x, number(u.terminal_resistance(x, "V", cold, extra) * 1000, 1 if x == "HV" else 3)] for x in ("HV", "LV")],
            f"at {cold} °C", "with MR-04")
    w.table("", ["winding", "hot-resistance(mohm)"],
            [["HV", number(u.terminal_resistance("HV", "V", hot, extra) * 1000, 1)],
             ["LV", number(u.terminal_resistance("LV", "V", hot + 1.6, extra) * 1000, 3)]], "with MR-04")
    w.reading("frequency-response-recorded", "yes")
    if papers:
        response_file(u, HERE / "units" / papers)
        w.line(f'  attach "{papers}" "frequency response 1U-1N, tap 1, filled, LV open"')
    day = start + timedelta(days=4)
    w.line(f"  witnessed W110 by C.Moreau on {day:%Y-%m-%d} 16:45")
    w.line(f"  release H110 by M.Okafor on {day + timedelta(days=3):%Y-%m-%d} 09:00")
    return day + timedelta(days=10)  # drained, stripped, filled with gas


def dispatch(w, u, day):
    r = u.random
    w.stage("dispatch")
    w.context("S.Rao", f"{day:%Y-%m-%d} 09:00")
    w.reading("gas-pressure", "24.5 kPa", "at 18.2 °C", "with MN-5")
    w.reading("gas-dew-point", "-52 °C", "with TH-4")
    w.reading("barometer", "98.9 kPa", "with MN-5")
    w.reading("core-insulation", f"{r.randint(900, 1500)} Mohm", "at 2500 V", "with IR-5", "by T.Aldous")
    w.reading("core-link-closed", "yes")
    w.table("", ["recorder", "recorder-serial", "recorder-started"],
            [[x, f'"{n}"', f"{day:%Y-%m-%d} 10:3{m}"] for m, (x, n) in enumerate((("front", 7714), ("rear", 7719)))])
    w.table("", ["recorder", "recorder-threshold(gn)"], [["front", "1.0"], ["rear", "1.0"]], "with SR-1")
    w.reading("crates-listed", "23")
    w.reading("crates-packed", "23")
    w.reading("weighed-mass", f"{46.5 * (1 + r.uniform(-0.01, 0.012)):.1f} t", "with SC-1")
    w.reading("blanks-and-valves-checked", "yes")
    w.reading("documents-complete", "yes")
    w.line(f"  reviewed R120 by M.Okafor on {day:%Y-%m-%d} 15:30")
    w.line(f"  release H120 by M.Okafor on {day:%Y-%m-%d} 16:00")


def head(w, serial, lot, place, note):
    w.line("# Written by make_examples.py. All data are invented: works, people, unit and customer do not exist.")
    w.line()
    w.line(f'unit {serial} "40 MVA 110/20 kV, {place}"')
    w.line("  plan      kestrel-ford rev B")
    w.line("  register  kestrel-ford")
    w.line(f"  lot       {lot}")
    w.line("  zone      Europe/Vienna")
    if note:
        w.line(f'  note "{note}"')


def complete_unit():
    u, w = Unit("KFT-0412-1", 412), Writer()
    head(w, u.serial, "KFT-0412  unit 1 of 3", "Harrow Vale substation", None)
    write_design(w)
    winding(w, u, datetime(2026, 2, 18))
    pressing(w, u, datetime(2026, 2, 25))
    core(w, u, datetime(2026, 3, 4))
    assembly(w, u, datetime(2026, 3, 11))
    connections(w, u, datetime(2026, 3, 30))
    opened = drying(w, u, datetime(2026, 4, 2, 6, 0), "logs/KFT-0412-1-drying.csv")
    tank = clamping(w, u, opened)
    closed = tanking(w, u, tank)
    start = bushings(w, u, closed)
    filled = vacuum_and_oil(w, u, start, opened, closed, "logs/KFT-0412-1-vacuum.csv")
    moved = standing(w, u, filled)
    accessories(w, u, moved + timedelta(days=3))
    day = factory_tests(w, u, datetime(2026, 4, 20), moved, "papers/KFT-0412-1-frequency-response.csv")
    dispatch(w, u, day)
    (HERE / "units" / "KFT-0412-1.ubr").write_text(w.text(), encoding="utf-8")


def unit_in_progress():
    u, w = Unit("KFT-0415-1", 415), Writer()
    head(w, u.serial, "KFT-0415  unit 1 of 2", "Harrow Vale substation, second bay", "same design as KFT-0412, revision E without change of values")
    write_design(w, "E", "2026-03-16")
    winding(w, u, datetime(2026, 4, 14))
    pressing(w, u, datetime(2026, 4, 21))
    core(w, u, datetime(2026, 4, 28))
    assembly(w, u, datetime(2026, 5, 6))
    connections(w, u, datetime(2026, 5, 19), partly=True)
    (HERE / "units" / "KFT-0415-1.ubr").write_text(w.text(), encoding="utf-8")


# --------------------------------------------------------------------- units with planted faults


class Planter:
    """Plants faults in a clean record and writes the expected finding at the end of the line."""

    def __init__(self, text):
        self.lines = text.splitlines()

    def find(self, stage, start, nth=0):
        """The nth line of `stage` that begins with `start`, blanks apart."""
        inside, found = False, 0
        for at, line in enumerate(self.lines):
            if line and not line.startswith((" ", "#")):
                inside = line.split()[:2] == stage.split() if " " in stage else line.split()[0] == stage
            if inside and line.strip().startswith(start):
                if found == nth:
                    return at
                found += 1
        raise LookupError(f"{stage}: {start}")

    def mark(self, at, rules):
        if rules:
            self.lines[at] += f"  #! {rules}"

    def change(self, stage, start, old, new, rules=None, nth=0):
        at = self.find(stage, start, nth)
        assert old in self.lines[at], (self.lines[at], old)
        self.lines[at] = self.lines[at].replace(old, new, 1)
        self.mark(at, rules)

    def remove(self, stage, start):
        del self.lines[self.find(stage, start)]

    def expect(self, stage, start, rules, nth=0):
        self.mark(self.find(stage, start, nth), rules)

    def expect_worst(self, stage, rules):
        """Marks the rows with the worst instance of each rule: a check that fails often is told once."""
        rows = {}
        for tap in range(1, D.taps + 1):
            at = self.find(stage, f"{tap} ")
            rows[at] = (tap, [float(cell) for cell in self.lines[at].split()[1:4]])
        marks = {}
        for rule, measure in rules:
            worst = max(rows, key=lambda at: (measure(*rows[at]), at))
            marks.setdefault(worst, []).append(rule)
        for at, found in marks.items():
            self.mark(at, ", ".join(found))

    def insert(self, stage, start, *new):
        """Puts lines below the one that begins with `start`."""
        at = self.find(stage, start) + 1
        self.lines[at:at] = new

    def append(self, *new):
        self.lines.extend(new)

    def text(self):
        return "\n".join(self.lines) + "\n"


def turn_error(tap, ratios):
    return max(abs(D.turns["LV"] * (D.turns_at(tap) / D.turns["LV"] / ratio - 1)) for ratio in ratios)


def spread(tap, ratios):
    return (max(ratios) - min(ratios)) / (sum(ratios) / len(ratios))


def ratio_deviation(tap, ratios):
    nominal = D.voltage["HV"] * (1 + (D.principal - tap) * 0.0125) / math.sqrt(3) / D.voltage["LV"]
    return max(abs(ratio / nominal - 1) for ratio in ratios)


FAULTS_NOTE = "planted faults; the finding expected is written at the end of the line"


def faulty_unit():
    """LV phase V has 278 turns; and what else goes wrong around it on paper."""
    u, w = Unit("KFT-0413-1", 413), Writer()
    head(w, u.serial, "KFT-0413  unit 1 of 2", "Harrow Vale substation, spare", FAULTS_NOTE)
    write_design(w)
    winding(w, u, datetime(2026, 2, 18))
    pressing(w, u, datetime(2026, 2, 25))
    core(w, u, datetime(2026, 3, 4))
    assembly(w, u, datetime(2026, 3, 11))
    connections(w, u, datetime(2026, 3, 30), ratio=lambda tap, p: u.ratio(tap, p, lv_extra=1 if p == "V" else 0))
    opened = drying(w, u, datetime(2026, 4, 2, 6, 0), "logs/KFT-0413-1-drying.csv", "faults", 10)
    tank = clamping(w, u, opened)
    tanking(w, u, tank)
    p = Planter(w.text())

    p.remove("design", "oil-mass")
    p.expect("design", "design rev", "design-value-missing")

    p.change("stage winding", "HV       16", p.lines[p.find("stage winding", "HV       16")].split()[1], "1649.5", "conceded")
    p.insert("stage winding", "release H10", '  attach "photos/KFT-0413-1-hv-u.jpg" "HV, phase U, as wound"  #! attachment-missing')

    p.change("stage winding-pressing", "jack-diameter", "with MM-3", "with MM-3  by P.Okello", "person-not-valid")
    p.change("stage winding-pressing", "release H20", "M.Okafor", "S.Rao", "role-may-not-release")

    p.change("stage core", "steel-loss", p.lines[p.find("stage core", "steel-loss")].split()[2], "1.07", "out-of-limit")
    p.change("stage core", "burr", "with MM-3", "with MM-3  by J.Lindquist", "unknown-person")
    p.change("stage core", "window-diagonal", "with TP-11", "with TP-12", "unknown-instrument")
    p.change("stage core", "core-frame-insulation", "  at 500 V", "", "missing-condition")
    p.expect("stage core", "release H30", "released-over-failure")

    p.insert("stage core-and-winding-assembly", "tools-counted", "  tools-counted = yes  #! duplicate-reading")
    p.change("stage core-and-winding-assembly", "release H40", "2026-03-11", "2026-03-10", "release-before-reading")

    # whole-turn and phases-alike fail on all 17 tappings; each is told once, at its worst
    p.expect_worst("stage connections", (("check-failed", turn_error), ("check-failed", spread)))
    p.change("stage connections", "open-corner", "with VM-6", "with TTR-1", "instrument-out-of-calibration")
    p.change("stage connections", "joined-supply", "with VM-6", "with TP-11", "instrument-does-not-measure")
    p.insert("stage connections", "joined-Cb",
             '  amend joined-Bb = 339.1 V was 333.9 V by L.Novak on 2026-03-30 15:20 because "digits exchanged"  #! amendment-mismatch')
    p.change("stage connections", "witnessed W50", "witnessed", "release", "wrong-point-word")
    p.insert("stage connections", "release W50",
             "  reviewed R50 by A.Brandt on 2026-03-30 17:00  #! unknown-point")
    p.expect("stage connections", "release K55", "released-over-failure")
    p.expect("stage connections", "release H50", "released-over-failure")

    p.remove("stage drying", "release H60")
    p.expect("stage final-clamping", "stage final-clamping", "hold-passed")
    p.remove("stage final-clamping", "fasteners-locked")
    p.expect("stage final-clamping", "release H70", "released-incomplete")
    p.change("stage tanking", "hall-temperature", "with HM-1", "with HM-1  on 2026-04-05 15:50", "stage-out-of-order, hold-passed")

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
    (HERE / "faults" / "KFT-0413-1.ubr").write_text(p.text(), encoding="utf-8")


def exchanged_leads():
    """The selector leads of the fourth and fifth section of phase W are exchanged."""
    u, w = Unit("KFT-0413-2", 4132), Writer()
    head(w, u.serial, "KFT-0413  unit 2 of 2", "Harrow Vale substation, spare", FAULTS_NOTE)
    write_design(w)
    winding(w, u, datetime(2026, 2, 18))
    pressing(w, u, datetime(2026, 2, 25))
    core(w, u, datetime(2026, 3, 4))
    assembly(w, u, datetime(2026, 3, 11))
    exchanged = {4: 5, 5: 4, 13: 14, 14: 13}
    connections(w, u, datetime(2026, 3, 30), ratio=lambda tap, p: u.ratio(exchanged.get(tap, tap) if p == "W" else tap, p))
    p = Planter(w.text())
    # ratio-deviation, whole-turn and phases-alike fail on four tappings; each is told once, at its worst
    p.expect_worst("stage connections",
                   (("check-failed", ratio_deviation), ("check-failed", turn_error), ("check-failed", spread)))
    for start in ("witnessed W50", "release K55", "release H50"):
        p.remove("stage connections", start)
    (HERE / "faults" / "KFT-0413-2.ubr").write_text(p.text(), encoding="utf-8")


def main():
    for folder in ("units/logs", "units/papers", "faults/logs"):
        (HERE / folder).mkdir(parents=True, exist_ok=True)
    complete_unit()
    unit_in_progress()
    faulty_unit()
    exchanged_leads()


if __name__ == "__main__":
    main()
