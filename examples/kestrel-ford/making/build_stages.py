"""The stages from winding to the finished unit."""

import math
from datetime import timedelta

from .unit import joined_voltages
from .writer import matrix, number


def resistance_places(ohms):
    return 1 if ohms > 0.1 else 3 if ohms > 0.01 else 4


def resistance_cell(ohms):
    """In milliohm, with the digits a resistance meter shows."""
    return number(ohms * 1000, resistance_places(ohms))


def winding(w, u, start):
    r, d = u.random, u.d
    d1, d2 = start, start + timedelta(days=1)
    names, phases = d.windings, d.phases
    w.stage("winding")
    w.context("J.Lindqvist", f"{d1:%Y-%m-%d}")
    w.table("turns", ["winding", *phases], matrix(names, phases, lambda x, p: d.turns[x]), "with TC-2")
    w.table("turns-second-count", ["winding", *phases], matrix(names, phases, lambda x, p: d.turns[x]), "with TC-2", "by S.Rao")
    w.table("", ["phase", "regulating-turns"], [[p, d.regulating_turns] for p in phases], "with TC-2")
    w.table("inner-diameter(mm)", ["winding", *phases],
            matrix(names, phases, lambda x, p: number(d.diameters[x][0] + r.uniform(0, 0.8), 1)), "with TP-11")
    w.table("outer-diameter(mm)", ["winding", *phases],
            matrix(names, phases, lambda x, p: number(d.diameters[x][1] + r.uniform(-1.2, 1.0), 1)), "with TP-11")
    w.table("height(mm)", ["winding", *phases],
            matrix(names, phases, lambda x, p: number(d.free_height[x] + r.uniform(-3.5, 4), 1)), "with TP-11")
    w.table("insulation-intact", ["winding", *phases], matrix(names, phases, lambda x, p: "yes"))
    w.table("ducts-free", ["winding", *phases], matrix(names, phases, lambda x, p: "yes"))
    w.table("joints", ["winding", *phases], matrix(names, phases, lambda x, p: 2 if x == names[0] else 0))
    w.line()
    w.context("L.Novak", f"{d2:%Y-%m-%d} 09:30")
    w.table("strand-insulation(Mohm)", ["winding", *phases],
            matrix(names, phases, lambda x, p: round(r.uniform(60, 240))), "at 500 V", "with IR-5")
    theta = 18.4
    w.table("conductor-resistance(mohm)", ["winding", *phases],
            matrix(names, phases, lambda x, p: resistance_cell(u.winding_resistance(x, p, theta))),
            f"at {theta} °C", "with MR-04")
    w.line(f"  release H10 by M.Okafor on {d2:%Y-%m-%d} 15:40")


def pressing(w, u, start):
    r, d = u.random, u.d
    names, phases = d.windings, d.phases
    area = 8 * math.pi / 4 * 60.0**2
    w.stage("winding-pressing")
    w.context("S.Rao", f"{start:%Y-%m-%d}")
    w.table("dried", ["winding", *phases], matrix(names, phases, lambda x, p: "yes"))
    w.table("impregnated", ["winding", *phases], matrix(names, phases, lambda x, p: "yes"))
    w.reading("jack-diameter", "60 mm", "with MM-3")
    w.reading("jack-count", "8")
    w.table("jack-pressure(bar)", ["winding", *phases],
            matrix(names, phases, lambda x, p: number(d.pressing[x] * 1e3 / area * 10 * (1 + r.uniform(-0.012, 0.02)), 1)),
            "with PG-7")
    w.table("pressed-height(mm)", ["winding", *phases],
            matrix(names, phases, lambda x, p: number(u.pressed[x, p], 1)), "with TP-11")
    w.table("shims(mm)", ["winding", *phases],
            matrix(names, phases, lambda x, p: number(r.choice((-4, -2, 0, 2, 2, 4, 9 if x == names[0] else 3)), 1)), "with MM-3")
    w.line(f"  release H20 by M.Okafor on {start:%Y-%m-%d} 16:20")


def core(w, u, start):
    r, d = u.random, u.d
    w.stage("core")
    w.context("J.Lindqvist", f"{start:%Y-%m-%d}")
    w.reading("steel-loss", number(float(d.steel_limit) - 0.04 + r.uniform(0, 0.03), 2), "with EP-1")
    w.reading("burr", f"{0.012 + r.randint(0, 4) / 1000:.3f} mm", "with MM-3")
    w.table("", ["stacking-step", "insulation-while-stacking(Mohm)"],
            [[step, r.randint(60, 120)] for step in ("third", "two-thirds", "full")], "at 500 V", "with IR-5", "by T.Aldous")
    w.table("", ["phase", "stack-thickness(mm)", "limb-diameter(mm)"],
            [[p, number(u.stack[p], 1), number(d.core_diameter - 0.6 - r.uniform(0, 1.5), 1)] for p in d.phases], "with TP-11")
    w.reading("window-diagonal-difference", f"{r.choice((1.0, 1.5, 2.0))} mm", "with TP-11")
    w.table("", ["phase", "limb-tilt(%)"], [[p, number(r.uniform(0.02, 0.07), 2)] for p in d.phases], "with IN-1")
    w.reading("joint-gap", "0.6 mm", "with MM-3")
    w.reading("core-mass", f"{d.core_mass * (1 + r.uniform(-0.006, 0.004)) / 1000:.2f} t", "with SC-1")
    w.reading("core-frame-insulation", f"{r.randint(40, 90)} Mohm", "at 500 V", "with IR-5", "by T.Aldous")
    w.line(f"  release H30 by D.Quill on {start:%Y-%m-%d} 15:05")


def assembly(w, u, start):
    r, d = u.random, u.d
    w.stage("core-and-winding-assembly")
    w.context("S.Rao", f"{start:%Y-%m-%d}")
    w.table("duct-width(mm)", ["duct", *d.phases],
            matrix(d.ducts, d.phases, lambda x, p: number(d.ducts[x][0] + r.uniform(-0.6, 0.7), 1)), "with MM-3")
    centre = {p: d.height / 2 + 180 + r.uniform(-1, 1) for p in d.phases}
    w.table("mid-height(mm)", ["winding", *d.phases],
            matrix(d.windings, d.phases, lambda x, p: number(centre[p] + r.uniform(-1, 1), 1)), "with TP-11")
    w.table("", ["phase", "yoke-gap(mm)"], [[p, number(r.uniform(0.3, 0.8), 1)] for p in d.phases], "with MM-3")
    w.reading("core-frame-insulation", f"{r.randint(300, 700)} Mohm", "at 500 V", "with IR-5", "by T.Aldous")
    w.reading("tools-counted", "yes")
    w.line(f"  release H40 by M.Okafor on {start:%Y-%m-%d} 17:10")


def ratio_table(w, u, ratio, done=None):
    d = u.d
    rows = []
    for pair in d.pairs:
        for tap in d.taps_of(pair):
            cells = [number(ratio(pair, tap, p), 4) if done is None or tap <= done else "?" for p in d.phases]
            rows.append([pair, tap, *cells])
    w.table("ratio", ["pair", "tap", *d.phases], rows, "with TTR-3")


def connections(w, u, start, partly=False, ratio=None):
    r, d = u.random, u.d
    names, phases = d.windings, d.phases
    ratio = ratio or u.ratio
    w.stage("connections")
    w.notified("W50", start - timedelta(days=7), f"{u.serial}/1")
    w.context("L.Novak", f"{start:%Y-%m-%d} 14:10")
    ratio_table(w, u, ratio, 8 if partly else None)
    if partly:
        w.table("resistance(mohm)", ["winding", *phases], matrix(names, phases, lambda x, p: "?"))
        w.reading("joints-inspected", "yes")
        return
    if d.core_form == "three-limb":
        w.table("", ["phase", "low-voltage-current(mA)"], [["U", 12.4], ["V", 8.1], ["W", 12.7]], "at 400 V", "with VM-6")
        w.reading("balance-supply", "231.4 V", "with VM-6")
        w.table("", ["limb-path", "balance-voltage(V)"],
                [["outer-to-middle", 168.9], ["outer-to-far", 61.7], ["middle-to-left", 116.2], ["middle-to-right", 114.6]], "with VM-6")
    theta = 21.8
    w.table("resistance(mohm)", ["winding", *phases],
            matrix(names, phases, lambda x, p: resistance_cell(u.terminal_resistance(x, p, theta))),
            f"at {theta} °C", "with MR-04")
    w.table("joint-resistance(%)", ["winding", *phases],
            matrix(names, phases, lambda x, p: r.randint(88, 101)), "with VM-6")
    if d.three:
        w.reading("open-corner[LV]", "0.6 %", "with VM-6")
    supply = 400.2
    if d.three:
        bb, cc, bc, cb = joined_voltages(supply, d.turns["HV"] * math.sqrt(3) / d.turns["LV"], 11)
        w.reading("joined-supply[HV-LV]", f"{supply:.1f} V", "with VM-6")
        for name, value in (("joined-Bb", bb), ("joined-Cc", cc), ("joined-Bc", bc), ("joined-Cb", cb)):
            w.reading(f"{name}[HV-LV]", f"{value + r.uniform(-0.3, 0.3):.1f} V", "with VM-6")
    else:
        rows = []
        for pair in d.pairs:
            ends = supply * (1 - 1 / d.ratio_at(pair, d.principal))
            rows.append([pair, number(supply, 1), number(ends + r.uniform(-0.2, 0.2), 1)])
        w.table("", ["pair", "joined-supply(V)", "joined-ends(V)"], rows, "with VM-6")
    w.table("", ["insulation-path", "insulation-60s(Mohm)"], [[p, r.randint(420, 780)] for p in d.paths],
            "at 1000 V", f"at {theta} °C", "with IR-5")
    w.reading("core-frame-insulation", f"{r.randint(300, 650)} Mohm", "at 500 V", "with IR-5")
    w.reading("joints-inspected", "yes", "by J.Lindqvist")
    w.reading("lead-insulation-checked", "yes", "by J.Lindqvist")
    w.line(f"  witnessed W50 by C.Moreau on {start:%Y-%m-%d} 16:30")
    day = start + timedelta(days=1)
    w.line(f"  release K55 by A.Brandt on {day:%Y-%m-%d} 08:50")
    w.line(f"  release H50 by M.Okafor on {day:%Y-%m-%d} 09:30")


def drying_log(u, start, path, minutes):
    """Vapour phase: water rate rises and falls, pressure falls once the solvent is drawn off."""
    r = u.random
    mass = u.d.insulation_mass
    slow = 1 if mass < 6 else 1.08
    length = 6000 if mass < 6 else 7200
    water_per_tonne = 57_000.0  # g
    tau = 10.0 * slow
    top = water_per_tonne / (math.e * tau)
    lines, water = ["time,temperature(°C),pressure(mbar),rate(g/h/t)"], 0.0
    for step in range(length // minutes):
        hours = step * minutes / 60
        temperature = 21 + 97 * (1 - math.exp(-hours / 9)) + 0.6 * math.sin(hours * 2.1) * min(1, hours / 20)
        if hours < 1:
            pressure = 1008 - 780 * hours
        elif hours < 30:
            pressure = 60 + 168 * math.exp(-(hours - 1) / 4)
        else:
            pressure = 0.14 + 60 * math.exp(-(hours - 30) / 4.4)
        pressure *= 1 + r.uniform(-0.02, 0.02)
        x = hours / tau
        rate = top * x * math.exp(1 - x) * (1 + r.uniform(-0.03, 0.03))
        water += rate * mass * minutes / 60 / 1000
        moment = start + timedelta(minutes=minutes * step)
        lines.append(f"{moment:%Y-%m-%d %H:%M},{temperature + r.uniform(-0.2, 0.2):.1f},"
                     f"{pressure:.4g},{rate:.1f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return water, moment


def vacuum_log(u, start, path, minutes):
    """Pump-down, a rise test after ten hours, then the hold."""
    r = u.random
    lines = ["time,pressure(mbar),temperature(°C)"]
    leak = {}
    for step in range(0, minutes):
        if step < 95:
            pressure = 985 * math.exp(-step / 13.5) + 0.9
        else:
            pressure = 0.34 + 1.3 * math.exp(-(step - 95) / 95)
        pressure *= 1 + r.uniform(-0.02, 0.02)
        if 600 <= step <= 630:
            rise = 0.32 * 24 / u.d.gas_volume
            pressure = leak.setdefault(600, pressure) + rise * (step - 600) / 30
            leak[step] = pressure
        moment = start + timedelta(minutes=step)
        lines.append(f"{moment:%Y-%m-%d %H:%M},{pressure:.4g},{33 + 4 * math.exp(-step / 500) + r.uniform(-0.1, 0.1):.1f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return leak[600], leak[630]


def drying(w, u, start, folder, log, minutes=2):
    water, end = drying_log(u, start, folder / log, minutes)
    w.stage("drying")
    w.context("S.Rao", f"{start:%Y-%m-%d %H:%M}")
    w.reading("initial-moisture", "5.9 %", "with OV-2")
    w.reading("oven-closed", f"{start - timedelta(minutes=20):%Y-%m-%d %H:%M}")
    w.line(f'  log oven from "{log}"  with OV-2')
    w.context("S.Rao", f"{end:%Y-%m-%d %H:%M}")
    w.reading("water-collected", f"{water * 0.985:.0f} kg", "with OV-2")
    w.reading("equilibrium-pressure", "0.46 mbar", "at 115 °C", "with OV-2")
    w.line(f"  release H60 by D.Quill on {end + timedelta(minutes=25):%Y-%m-%d %H:%M}")
    return end + timedelta(minutes=40)


def clamping(w, u, opened):
    r, d = u.random, u.d
    done = opened + timedelta(hours=4, minutes=10)
    area = d.clamping_jacks * math.pi / 4 * d.clamping_jack**2
    w.stage("final-clamping")
    w.context("J.Lindqvist", f"{opened:%Y-%m-%d %H:%M}")
    w.reading("oven-opened", f"{opened:%Y-%m-%d %H:%M}")
    w.context("J.Lindqvist", f"{done:%Y-%m-%d %H:%M}")
    w.reading("hall-humidity", "47 %", "with HM-1")
    w.reading("jack-diameter", f"{d.clamping_jack:.0f} mm", "with MM-3")
    w.reading("jack-count", f"{d.clamping_jacks}")
    w.table("", ["phase", "jack-pressure(bar)"],
            [[p, number(d.clamping_force * 1e3 / area * 10 * (1 + r.uniform(-0.012, 0.02)), 1)] for p in d.phases], "with PG-7")
    w.table("height-after(mm)", ["winding", *d.phases],
            matrix(d.windings, d.phases, lambda x, p: number(max(d.height, u.pressed[x, p] - r.choice((0, 0.5))), 1)), "with TP-11")
    w.reading("core-frame-insulation", f"{r.randint(1200, 2400)} Mohm", "at 500 V", "with IR-5", "by T.Aldous")
    theta = 61.5
    w.table("resistance(mohm)", ["winding", *d.phases],
            matrix(d.windings, d.phases, lambda x, p: resistance_cell(u.terminal_resistance(x, p, theta, 1.0004))),
            f"at {theta} °C", "with MR-04", "by T.Aldous")
    w.table("", ["insulation-path", "insulation-60s(Mohm)"], [[p, r.randint(2400, 4600)] for p in d.paths],
            "at 1000 V", f"at {theta} °C", "with IR-5", "by T.Aldous")
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
    w.reading("part-temperature", "58 °C", "with HM-1")
    w.table("", ["gap", "clearance(mm)"], [[g, v + r.randint(4, 15)] for g, v in u.d.gaps.items()], "with TP-11")
    w.reading("core-tank-insulation", f"{r.randint(1200, 2200)} Mohm", "at 500 V", "with IR-5", "by T.Aldous")
    w.reading("tools-counted", "yes")
    w.reading("tank-clean", "yes")
    w.line(f"  release H80 by M.Okafor on {start + timedelta(hours=2):%Y-%m-%d %H:%M}")
    return start + timedelta(hours=2, minutes=20)


def bushings(w, u, closed):
    r, d = u.random, u.d
    tested = closed + timedelta(hours=14)
    fitted = closed + timedelta(hours=20)
    w.stage("bushings")
    w.context("J.Lindqvist", f"{closed:%Y-%m-%d %H:%M}")
    w.reading("tank-closed", f"{closed:%Y-%m-%d %H:%M}")
    w.context("T.Aldous", f"{tested:%Y-%m-%d %H:%M}")
    plate = u.plate
    w.table("", ["condenser-bushing", "plate-capacitance(pF)"], [[n, c] for n, c in plate.items()], "with CB-2")
    w.table("", ["condenser-bushing", "capacitance(pF)"],
            [[n, number(c + r.uniform(-1.5, 2), 1)] for n, c in plate.items()], "at 10 kV", "with CB-2")
    w.table("", ["condenser-bushing", "tan-delta(%)"],
            [[n, number(r.uniform(0.31, 0.38), 2)] for n in plate], "at 20.9 °C", "with CB-2")
    rows = []
    for name, (primary, secondary) in d.transformers.items():
        error = r.uniform(-0.35, 0.1) / 100
        rows.append([name, number(primary / secondary, 0), primary, number(secondary * (1 + error), 4)])
    w.table("", ["current-transformer", "current-transformer-ratio", "primary-current(A)", "secondary-current(A)"], rows, "with CT-6")
    w.table("", ["current-transformer", "current-transformer-polarity-right"], [[c, "yes"] for c in d.transformers])
    w.context("J.Lindqvist", f"{fitted:%Y-%m-%d %H:%M}")
    w.reading("fitting-humidity", "48 %", "with HM-1")
    w.reading("open-for-fitting", "3.5 h", "with ST-1")
    w.table("", ["bushing", "serial", "joint-torque(N*m)"],
            [[n, f'"{24000 + r.randint(100, 899)}"', 100 + r.randint(-4, 4)] for n in d.bushings], "with TW-9")
    w.table("", ["condenser-bushing", "tap-earthed"], [[n, "yes"] for n in plate])
    w.line(f"  release H85 by M.Okafor on {by_day(fitted + timedelta(hours=4)):%Y-%m-%d %H:%M}")
    return by_day(closed + timedelta(hours=40))


def by_day(moment):
    """The next time at which the office is staffed."""
    if moment.hour < 7:
        return moment.replace(hour=7, minute=30)
    if moment.hour >= 20:
        return moment.replace(hour=7, minute=30) + timedelta(days=1)
    return moment


def vacuum(w, u, start, closed, folder, log, minutes=2000):
    first, last = vacuum_log(u, start, folder / log, minutes)
    # open for the fitting, and an hour and a half until the pumps ran
    dry_air = (start - closed).total_seconds() / 3600 - 5
    w.stage("vacuum")
    w.context("S.Rao", f"{start:%Y-%m-%d %H:%M}")
    w.reading("vacuum-started", f"{start:%Y-%m-%d %H:%M}")
    w.reading("dry-air-time", f"{dry_air:.1f} h", "with ST-1")
    w.reading("dry-air-dew-point", "-51 °C", "with TH-4")
    w.reading("dry-air-lowest-pressure", "8.5 kPa", "with MN-5")
    w.line(f'  log pumping from "{log}"  with VG-8')
    w.context("S.Rao", f"{start + timedelta(minutes=630):%Y-%m-%d %H:%M}")
    w.reading("leak-pressure-start", f"{first:.3f} mbar", "with VG-8")
    w.reading("leak-pressure-end", f"{last:.3f} mbar", "with VG-8")
    w.reading("leak-time", "30 min", "with ST-1")
    held = by_day(start + timedelta(minutes=minutes + 30))
    w.context("J.Lindqvist", f"{held:%Y-%m-%d %H:%M}")
    w.reading("tank-deflection", "21.5 mm", "with TP-11")
    w.reading("tank-permanent-set", "2.0 mm", "with TP-11")
    w.line(f"  release H88 by M.Okafor on {held + timedelta(minutes=20):%Y-%m-%d %H:%M}")
    return held + timedelta(minutes=30)


def oil_filling(w, u, start, ieee=False):
    r = u.random
    w.stage("oil-filling")
    w.context("T.Aldous", f"{start:%Y-%m-%d %H:%M}")
    w.reading("oil-batch", '"OB-2026-31"')
    shots = range(1, 6 if ieee else 7)
    low, high = (64, 73) if ieee else (69, 79)
    w.table("", ["shot", "breakdown-shot(kV)"], [[s, r.randint(low, high)] for s in shots], "with OL-1")
    w.reading("oil-water", "3.8 mg/kg", "with OL-2")
    w.reading("oil-acidity", "0.008 mg/g", "with OL-2")
    if ieee:
        w.reading("oil-power-factor-25", "0.010 %", "with OL-2")
    else:
        w.reading("oil-tan-delta", "0.0012", "at 90 °C", "with OL-2")
    filled = start + timedelta(hours=7 if u.d.oil_mass < 30 else 13)
    w.context("S.Rao", f"{filled:%Y-%m-%d %H:%M}")
    w.reading("oil-temperature", "52 °C", "with FM-2")
    w.reading("filling-started", f"{start + timedelta(hours=1):%Y-%m-%d %H:%M}")
    w.reading("filling-rate", "4.4 m^3/h", "with FM-2")
    w.reading("filling-pressure", "0.9 mbar", "with VG-8")
    w.reading("filling-valve", "bottom")
    w.reading("interruptions", "0")
    w.reading("filling-finished", f"{filled:%Y-%m-%d %H:%M}")
    released = by_day(filled + timedelta(hours=2))
    w.line(f"  release H90 by M.Okafor on {released:%Y-%m-%d %H:%M}")
    return released + timedelta(minutes=30)


def standing(w, u, start, ieee=False):
    moved = start + timedelta(hours=60)
    volume = u.d.oil_mass / 0.88
    w.stage("standing")
    w.context("S.Rao", f"{moved:%Y-%m-%d %H:%M}")
    w.reading("circulation-inlet", "bottom")
    w.reading("circulation-outlet", "top")
    w.reading("circulation-diagonal", "yes")
    w.reading("circulated-volume", f"{volume * 3.4:.0f} m^3", "with FM-2")
    w.reading("circulation-time", "56 h", "with ST-1")
    w.reading("treated-oil-temperature", "62 °C", "with FM-2")
    w.reading("tank-oil-temperature", "51 °C", "with FM-2")
    w.reading("vented", "yes")
    w.reading("last-oil-movement", f"{moved:%Y-%m-%d %H:%M}")
    w.reading("oil-level", "48 %", "with LG-1")
    tested = by_day(moved + timedelta(hours=26))
    w.context("T.Aldous", f"{tested:%Y-%m-%d %H:%M}")
    w.reading("test-pressure", "35 kPa", "with MN-5")
    w.reading("pressure-time", "24.5 h", "with ST-1")
    w.reading("leaks-found", "0")
    w.reading("oil-water", "4.6 mg/kg", "with OL-2")
    w.reading("oil-acidity", "0.009 mg/g", "with OL-2")
    w.reading("interfacial-tension", "44 mN/m", "with OL-2")
    w.reading("particles-per-millilitre", "48", "with OL-2")
    w.reading("breakdown-voltage", "67 kV" if ieee else "74 kV", "with OL-1")
    if ieee:
        w.reading("oil-power-factor-25", "0.012 %", "with OL-2")
        w.reading("oil-power-factor-100", "0.14 %", "with OL-2")
        w.reading("oil-gas-content", "0.3 %", "with OL-2")
    else:
        w.reading("oil-tan-delta", "0.0016", "at 90 °C", "with OL-2")
        w.reading("oil-resistivity", "310 Gohm*m", "with OL-2")
    w.line(f"  release H100 by D.Quill on {tested + timedelta(hours=3):%Y-%m-%d %H:%M}")
    return moved, tested


def accessories(w, u, day):
    r, d = u.random, u.d
    w.stage("accessories")
    w.context("T.Aldous", f"{day:%Y-%m-%d}")
    w.table("", ["accessory", "mounted", "checked", "certificate"],
            [[a, "yes", "yes", f'"P-{3100 + r.randint(0, 799)}"'] for a in d.accessories])
    w.reading("wiring-test", "2.0 kV", "at 60 s", "with HD-1")
    w.reading("current-wiring-test", "2.5 kV", "at 60 s", "with HD-1")
    if d.tap_changer == "on-load":
        w.reading("counter-start", "14")
        w.reading("counter-end", "310")
        w.reading("undervoltage-cycle-right", "yes")
    w.reading("positions-agree", "yes")
    w.reading("motors-turn-right", "yes")
    w.reading("relief-device-setting", "69 kPa", "with MN-5")
    w.reading("gas-relay-tested", "yes")
    w.table("", ["air-gap", "clearance-in-air(mm)"], [[x, gap + r.randint(15, 60)] for x, gap in d.air_gaps.items()], "with TP-11")
    w.table("", ["paint-spot", "paint(um)"], [[s, r.randint(204, 242)] for s in range(1, 11)], "with PT-1")
    w.line(f"  reviewed R105 by D.Quill on {day + timedelta(days=1):%Y-%m-%d} 11:00")
    w.line(f"  release H105 by M.Okafor on {day + timedelta(days=1):%Y-%m-%d} 13:30")
