"""The stages from the routine tests to dispatch."""

import math
import random
from datetime import timedelta

from .build_stages import ratio_table, resistance_cell
from .writer import matrix, number

GASES = ("H2", "CH4", "C2H6", "C2H4", "C2H2", "CO", "CO2")
AFTER_LEADS = 1.0012
RESPONSE_POINTS = 301


def routine_tests(w, u, start, moved):
    r, d = u.random, u.d
    names, phases = d.windings, d.phases
    w.stage("routine-tests")
    w.notified("W110", start - timedelta(days=14), f"{u.serial}/2")
    first = start.replace(hour=8, minute=15)
    assert first - moved > timedelta(hours=72)
    w.context("L.Novak", f"{first:%Y-%m-%d %H:%M}")
    w.reading("first-voltage", f"{first:%Y-%m-%d %H:%M}")
    ratio_table(w, u, u.ratio)
    theta = 20.6
    w.table("resistance(mohm)", ["winding", *phases],
            matrix(names, phases, lambda x, p: resistance_cell(u.terminal_resistance(x, p, theta, AFTER_LEADS))),
            f"at {theta} °C", "with MR-04")
    w.table("tap-resistance(mohm)", ["tap", *phases],
            matrix(range(1, d.taps + 1), phases, lambda tap, p: resistance_cell(u.tap_resistance(tap, p, theta, AFTER_LEADS))),
            f"at {theta} °C", "with MR-04")
    base = {p: r.randint(5200, 9800) for p in d.paths}
    w.table("", ["insulation-path", "insulation-60s(Mohm)"], [[p, base[p]] for p in d.paths],
            "at 5000 V", f"at {theta} °C", "with IR-5")
    w.table("", ["insulation-path", "insulation-600s(Mohm)"],
            [[p, round(base[p] * r.uniform(1.7, 2.3))] for p in d.paths], "at 5000 V", f"at {theta} °C", "with IR-5")
    w.table("", ["insulation-path", "tan-delta(%)"], [[p, number(r.uniform(0.19, 0.28), 2)] for p in d.paths],
            "at 10 kV", f"at {theta} °C", "with CB-2")
    w.table("", ["insulation-path", "winding-capacitance(pF)"],
            [[p, c] for p, c in d.farads.items()], "with CB-2")
    w.table("", ["condenser-bushing", "bushing-capacitance(pF)"], [[b, number(u.plate[b] * 1.006, 1)] for b in d.condenser],
            "at 10 kV", "with CB-2")
    w.reading("core-insulation", f"{r.randint(900, 1500)} Mohm", "at 2500 V", "with IR-5")

    w.line()
    w.context("L.Novak", f"{start + timedelta(days=1):%Y-%m-%d} 10:20")
    measured, mean, rms, currents = no_load(u)
    w.reading("no-load-power", f"{measured / 1000:.2f} kW", "with PA-1")
    w.reading("no-load-mean-voltage", f"{mean:.0f} V", "with PA-1")
    w.reading("no-load-rms-voltage", f"{rms:.0f} V", "with PA-1")
    w.reading("no-load-frequency", f"{d.frequency:.2f} Hz", "with PA-1")
    w.table("", ["phase", "no-load-current(A)"], [[p, i] for p, i in zip(phases, currents)], "with PA-1")
    if d.constant == 234.5:
        w.reading("no-load-oil-temperature", "20.8 °C", "with TH-4")
    loading = 20.9
    rows, ends = [], []
    for pair, (upper, _, power) in d.pairs.items():
        share = 0.72
        current = d.line_current(power, upper)
        loss = d.loss_at(pair, loading)
        z = math.hypot(d.impedance[pair] * 1.008, loss / power)
        rows.append([pair, number(loss * share**2 / 1000, 2), number(current * share, 2), number(z * d.voltage[upper] * share, 0)])
        for (own, end), z_end in d.end_impedance.items():
            if own == pair:
                factor = 1 + d.steps(1 if end == "first" else d.taps) * d.tap_step / 100
                ends.append([pair, end, number(current / factor * share, 2),
                             number(z_end * 1.01 * d.voltage[upper] * factor * share, 0)])
    w.table("", ["pair", "load-power(kW)", "load-current(A)", "load-voltage(V)"], rows, "with PA-1")
    if ends:
        w.table("", ["pair", "end-tap", "end-current(A)", "end-voltage(V)"], ends, "with PA-1")
    w.reading("load-temperature", f"{loading} °C", "with TH-4")
    if d.tap_changer == "on-load":
        w.reading("counter-after-tests", "358")
    day = start + timedelta(days=1)
    w.line(f"  witnessed W110 by C.Moreau on {day:%Y-%m-%d} 15:30")
    w.line(f"  release H110 by M.Okafor on {day:%Y-%m-%d} 16:10")


def no_load(u):
    """Power, mean and r.m.s. voltage, currents of the winding that is fed."""
    d = u.d
    loss = d.no_load_loss * u.loss_factor
    mean = d.voltage[d.test_winding]
    rms = mean * 1.0035
    rated = d.line_current(d.power[d.test_winding], d.test_winding)
    shares = (0.00255, 0.00183, 0.00261) if d.three else (0.0041,)
    return loss / (1 + (mean - rms) / mean), mean, rms, [number(rated * s, 2) for s in shares]


def dielectric_tests(w, u, start):
    r, d = u.random, u.d
    phases = d.phases
    w.stage("dielectric-tests")
    w.notified("W115", start - timedelta(days=14), f"{u.serial}/2")
    day = start
    before = dict(zip(GASES, (3, 0.6, 0.2, 0.2, 0, 18, 95)))
    after = dict(zip(GASES, (5, 0.8, 0.2, 0.3, 0, 24, 120)))
    w.context("T.Aldous", f"{day:%Y-%m-%d} 07:40")
    w.table("", ["gas", "gas-before(ul/l)"], [[g, before[g]] for g in GASES], "with OL-2")

    w.context("L.Novak", f"{day:%Y-%m-%d} 15:40")
    if d.switching:
        level = d.switching
        w.reading("switching-impulse-start", f"{day:%Y-%m-%d} 08:30")
        shots = {"reduced": level * 0.6, "full-1": level, "full-2": level * 1.003, "full-3": level * 0.998}
        w.table("switching-peak(kV)", ["phase", *shots],
                [[p, *[round(v * (1 + r.uniform(-0.004, 0.004))) for v in shots.values()]] for p in phases], "with IM-1")
        w.table("", ["phase", "switching-time-to-peak(us)", "switching-time-above-90(us)", "switching-time-to-zero(us)", "switching-traces-alike"],
                [[p, 168, 262, 1380, "yes"] for p in phases], "with IM-1")
    w.reading("lightning-impulse-start", f"{day:%Y-%m-%d} 10:20")
    rows = []
    for x, level in d.impulse.items():
        shots = {"reduced": level * 0.603, "full-1": level * 1.002, "full-2": level * 1.003, "full-3": level}
        rows += [[x, p, *[round(v * (1 + r.uniform(-0.006, 0.006))) for v in shots.values()]] for p in phases]
    w.table("impulse-peak(kV)", ["winding", "phase", "reduced", "full-1", "full-2", "full-3"], rows, "with IM-1")
    w.table("", ["winding", "phase", "impulse-front(us)", "impulse-tail(us)", "impulse-overshoot(%)", "impulse-traces-alike"],
            [[x, p, number(r.uniform(1.1, 1.35), 2), number(r.uniform(46, 51), 1), number(r.uniform(1, 3.4), 1), "yes"]
             for x in d.impulse for p in phases], "with IM-1")
    if d.chopped:
        w.table("", ["winding", "phase", "chopped-impulse", "chopped-peak(kV)", "time-to-chopping(us)"],
                [[x, p, c, round(level * (1 + r.uniform(-0.004, 0.008))), number(r.uniform(3.6, 4.8), 1)]
                 for x, level in d.chopped.items() for p in phases for c in ("chopped-1", "chopped-2")], "with IM-1")
        w.table("", ["winding", "phase", "chopped-traces-alike"], [[x, p, "yes"] for x in d.chopped for p in phases])

    day += timedelta(days=1)
    w.line()
    w.context("L.Novak", f"{day:%Y-%m-%d} 11:40")
    w.reading("applied-voltage-start", f"{day:%Y-%m-%d} 08:25")
    w.table("", ["winding", "applied-voltage(kV)"], [[x, d.applied[x]] for x in d.windings], "at 60 s", "with HD-1")
    rated = d.voltage[d.windings[0]] / (math.sqrt(3) if d.three else 1) / 1000
    frequency = 4 * d.frequency if d.three else 3 * d.frequency
    w.reading("induced-voltage-start", f"{day:%Y-%m-%d} 10:05")
    w.reading("induced-tap", d.principal)
    w.reading("induced-frequency", f"{frequency:.0f} Hz", "with HD-1")
    multiple = 2 if d.three else 1.8  # up to Um 170 kV after IEC twice rated
    w.reading("induced-voltage", f"{math.ceil(rated * multiple) + 0.6:g} kV", "with HD-1")
    w.reading("induced-time", f"{120 * d.frequency / frequency:.0f} s", "with ST-1")
    w.reading("discharge-hour-voltage", f"{math.ceil(rated * 1.58) + 0.5:g} kV", "with HD-1")
    floor = {t: r.randint(18, 27) for t in d.terminals}
    w.table("discharge(pC)", ["minute", *d.terminals],
            matrix(range(0, 61, 5), d.terminals, lambda m, t: floor[t] + r.randint(-3, 5)), "with PD-1")
    w.table("", ["terminal", "discharge-after-hour(pC)"], [[t, floor[t] - 3] for t in d.terminals],
            f"at {math.ceil(rated * 1.2) + 0.4:g} kV", "with PD-1")
    w.reading("discharge-background", "12 pC", "with PD-1")
    w.table("", ["gas", "gas-after(ul/l)"], [[g, after[g]] for g in GASES], "with OL-2", f"on {day:%Y-%m-%d} 15:20")
    w.table("", ["insulation-path", "winding-capacitance-after(pF)"],
            [[p, round(c * (1 + r.uniform(-0.002, 0.002)))] for p, c in d.farads.items()], "with CB-2", f"on {day:%Y-%m-%d} 15:40")
    w.table("", ["condenser-bushing", "bushing-capacitance-after(pF)"],
            [[b, number(u.plate[b] * 1.006 + r.uniform(-0.4, 0.4), 1)] for b in d.condenser], "at 10 kV", "with CB-2",
            f"on {day:%Y-%m-%d} 15:50")
    w.reading("no-load-power-after", f"{no_load(u)[0] * 1.004 / 1000:.2f} kW", "with PA-1", f"on {day:%Y-%m-%d} 16:00")
    w.line(f"  witnessed W115 by C.Moreau on {day:%Y-%m-%d} 16:45")
    w.line(f"  release H115 by M.Okafor on {day:%Y-%m-%d} 17:30")


def cooling_log(u, path, winding, phase, off, hot, oil):
    """Resistance from 90 s after switching off, every half minute for a quarter of an hour."""
    d = u.d
    gradient = hot - oil
    lines = ["time,resistance(mohm)"]
    for step in range(3, 31):
        minutes = step / 2
        theta = oil - 0.06 * minutes + gradient * math.exp(-minutes / 5.5)
        ohms = u.terminal_resistance(winding, phase, theta, AFTER_LEADS)
        places = 3 if ohms > 0.1 else 5 if ohms > 0.01 else 6
        moment = off + timedelta(minutes=minutes)
        lines.append(f"{moment:%Y-%m-%d %H:%M:%S},{ohms * 1000:.{places}f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def type_tests(w, u, start, folder, stem):
    r, d = u.random, u.d
    middle = d.phases[len(d.phases) // 2]
    w.stage("type-tests", "first unit of the lot")
    begin = start.replace(hour=6, minute=0)
    lines = ["time,ambient(°C),top-oil(°C),bottom-oil(°C)"]
    ambient, top, bottom = 21.4, 71.8, 50.6
    for step in range(0, 16 * 6 + 1):
        hours = step / 6
        rise = 1 - math.exp(-hours / 2.6)
        lines.append(f"{begin + timedelta(minutes=10 * step):%Y-%m-%d %H:%M},{ambient + r.uniform(-0.1, 0.1):.1f},"
                     f"{21.4 + (top - 21.4) * rise + r.uniform(-0.05, 0.05):.1f},{21.0 + (bottom - 21.0) * rise + r.uniform(-0.05, 0.05):.1f}")
    (folder / f"{stem}-heat-run.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    w.context("T.Aldous", f"{begin:%Y-%m-%d %H:%M}")
    w.table("", ["gas", "gas-before-rise(ul/l)"], [[g, v] for g, v in zip(GASES, (5, 0.8, 0.2, 0.3, 0, 24, 120))], "with OL-2")
    cold = 20.6
    w.table("", ["winding", "cold-resistance(mohm)"],
            [[x, resistance_cell(u.terminal_resistance(x, middle, cold, AFTER_LEADS))] for x in d.windings],
            f"at {cold} °C", "with MR-04")
    settled = begin + timedelta(hours=16)
    w.context("T.Aldous", f"{settled:%Y-%m-%d %H:%M}")
    w.line(f'  log heat-run from "logs/{stem}-heat-run.csv"  with TH-4')
    # fed on the principal tapping; the tapping of highest loss has a little more
    total = no_load(u)[0] + d.loss_at(next(iter(d.pairs)), d.reference)
    total = math.ceil(total * 1.01 / 1000)
    w.reading("total-loss", f"{total} kW", "with PA-1")
    w.reading("loss-fed", f"{total * 0.985:.1f} kW", "with PA-1")
    w.reading("ambient", f"{ambient} °C", "with TH-4")
    w.reading("top-oil", f"{top} °C", "with TH-4")
    w.reading("bottom-oil", f"{bottom} °C", "with TH-4")
    rows, oils, logs = [], [], []
    for place, x in enumerate(d.windings, 1):
        off = settled + timedelta(hours=2 * place)
        hot, oil = 75.6 + 1.3 * place, 60.4
        cooling_log(u, folder / f"{stem}-cooling-{x}.csv", x, middle, off, hot, oil)
        logs.append(f'  log cooling[{x}] from "logs/{stem}-cooling-{x}.csv"  with MR-04')
        current = d.line_current(d.power[x], x)
        rows.append([x, number(current * 0.99, 1), number(current, 1), f"{off:%Y-%m-%d %H:%M}"])
        oils.append([x, oil])
    end = settled + timedelta(hours=2 * len(d.windings) + 1)
    w.context("T.Aldous", f"{end:%Y-%m-%d %H:%M}")
    for line in logs:
        w.line(line)
    w.table("", ["winding", "current-fed(A)", "rise-current(A)", "switched-off"], rows, "with PA-1")
    w.table("", ["winding", "oil-at-shutdown(°C)"], oils, "with TH-4")
    w.table("", ["gas", "gas-after-rise(ul/l)"], [[g, v] for g, v in zip(GASES, (7, 1.1, 0.4, 0.4, 0, 31, 180))], "with OL-2")
    w.reading("rise-time", "20 h", "with ST-1")
    power, _, _, currents = no_load(u)
    mean_current = sum(float(i) for i in currents) / len(currents)
    w.table("", ["excitation", "no-load-power-at(kW)", "no-load-current-at(A)"],
            [[90, number(power * 0.79 / 1000, 2), number(mean_current * 0.62, 2)],
             [110, number(power * 1.31 / 1000, 2), number(mean_current * 2.4, 2)]], "with PA-1")
    w.line(f"  reviewed R118 by D.Quill on {end + timedelta(hours=8):%Y-%m-%d} 15:00")
    w.line(f"  release H118 by M.Okafor on {end + timedelta(hours=8):%Y-%m-%d} 16:00")


def special_tests(w, u, start):
    r, d = u.random, u.d
    w.stage("special-tests")
    w.context("T.Aldous", f"{start:%Y-%m-%d} 13:10")
    level = 61.5 if d.three else 72.0
    w.table("", ["microphone", "sound(dB(A))"], [[m, number(level + r.uniform(-1.4, 1.8), 1)] for m in range(1, 9)], "with SL-1")
    w.reading("sound-background", "44.0 dB(A)", "with SL-1")
    w.reading("auxiliary-power", "4.6 kW" if d.three else "21.3 kW", "with PA-1")
    if "zero-sequence-test" in d.special:
        z = 0.87 * d.impedance["HV-LV"] * d.voltage["HV"] ** 2 / d.power["HV"]
        w.reading("zero-sequence-voltage", f"{z * 75 / 3:.0f} V", "with PA-1")
        w.reading("zero-sequence-current", "75.0 A", "with PA-1")
        w.reading("zero-sequence-state", '"LV delta closed, terminals open"')
    if "harmonics-test" in d.special:
        w.table("", ["harmonic", "no-load-harmonic(%)"], [[3, 28], [5, 14], [7, 6], [9, 3]], "with PA-1")
    w.line(f"  release H119 by D.Quill on {start:%Y-%m-%d} 16:30")


def response_file(u, curve, path):
    """A plausible smooth frequency response, one resonance below and two above 10 kHz, of each curve a little
    elsewhere. It draws from a generator of its own: one curve more or less changes nothing else of the unit."""
    scatter = random.Random(f"{u.serial} {curve}")
    shift = 1 + 0.06 * u.d.curves.index(curve)
    lines = ["frequency(Hz),magnitude(dB)"]
    for step in range(RESPONSE_POINTS):
        f = 20 * 10 ** (step * 5 / (RESPONSE_POINTS - 1))
        level = -18 - 38 * math.exp(-((math.log10(f / 700 / shift)) / 0.22) ** 2)
        level += 16 * (1 - math.exp(-f / 20000 / shift)) - 14 * math.exp(-((math.log10(f / 60000 / shift)) / 0.12) ** 2)
        level -= 20 * math.exp(-((math.log10(f / 420000 / shift)) / 0.09) ** 2)
        lines.append(f"{f:.1f},{level + scatter.uniform(-0.05, 0.05):.2f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def customer_inspection(w, u, day, folder, stem):
    d = u.d
    w.stage("customer-inspection")
    w.context("T.Aldous", f"{day:%Y-%m-%d} 09:10")
    w.line('  note "frequency response on tapping 1, filled with oil, other windings open"')
    for curve in d.curves:
        response_file(u, curve, folder / f"{stem}-response-{curve}.csv")
        w.line(f'  log response[{curve}] from "logs/{stem}-response-{curve}.csv"')
    w.table("", ["response-curve", "response-tapping", "response-fill"], [[c, 1, "oil"] for c in d.curves])
    w.context("M.Okafor", f"{day:%Y-%m-%d} 13:30")
    w.reading("compared-with-drawings", "yes")
    w.reading("surface-free-of-damage", "yes")
    w.reading("open-remarks", "0")
    w.line(f"  release H120 by C.Moreau on {day:%Y-%m-%d} 15:00")


def dispatch(w, u, day, folder, stem):
    r, d = u.random, u.d
    w.stage("dispatch")
    w.context("S.Rao", f"{day:%Y-%m-%d} 09:00")
    full = 24.5 if d.coldest > -20 else 27.5
    w.reading("gas-pressure-before", f"{full + 0.4:.1f} kPa", "at 18.9 °C", "with MN-5", f"on {day - timedelta(days=1):%Y-%m-%d} 08:10")
    w.reading("gas-pressure-hours", "25 h", "with ST-1")
    w.reading("gas-pressure", f"{full:.1f} kPa", "at 18.2 °C", "with MN-5")
    w.reading("gas-dew-point", "-52 °C", "with TH-4")
    w.reading("insulation-temperature", "17.6 °C", "with TH-4")
    w.reading("barometer", "98.9 kPa", "with MN-5")
    w.reading("indicator-paper-dry", "yes")
    w.reading("core-insulation", f"{r.randint(900, 1500)} Mohm", "at 2500 V", "with IR-5", "by T.Aldous")
    w.reading("core-link-closed", "yes")
    w.table("", ["recorder", "recorder-serial", "recorder-started"],
            [[x, f'"{n}"', f"{day:%Y-%m-%d} 10:3{m}"] for m, (x, n) in enumerate(d.recorders.items())])
    axes = ("longitudinal", "lateral", "vertical")
    w.table("recorder-threshold(gn)", ["recorder", *axes], [[x, "1.0", "1.0", "1.0"] for x in d.recorders], "with SR-1")
    w.table("recorder-first-peak(gn)", ["recorder", *axes],
            [[x, *[number(r.uniform(0.02, 0.3), 2) for _ in axes]] for x in d.recorders], "with SR-1")
    w.table("", ["crate", "crate-contents", "crate-mass(kg)", "crate-packed"],
            [[c, f'"{what}"', mass, "yes"] for c, (what, mass) in d.crates.items()], "with SC-1")
    listed = ["crate,contents,mass(kg)", *[f"{c},{what.replace(',', ';')},{mass}" for c, (what, mass) in d.crates.items()]]
    (folder / "papers" / f"{stem}-packing-list.csv").write_text("\n".join(listed) + "\n", encoding="utf-8")
    w.line(f'  attach "papers/{stem}-packing-list.csv" "packing list that goes with the unit"')
    w.reading("removed-parts", d.removed)
    w.reading("removed-parts-packed", d.removed)
    w.reading("surface-free-of-damage", "yes")
    w.reading("weighed-mass", f"{d.transport_mass * (1 + r.uniform(-0.01, 0.012)):.1f} t", "with SC-1")
    w.reading("blanks-and-valves-checked", "yes")
    w.reading("documents-complete", "yes")
    w.line(f"  reviewed R130 by M.Okafor on {day:%Y-%m-%d} 15:30")
    w.line(f"  release H130 by M.Okafor on {day:%Y-%m-%d} 16:00")
