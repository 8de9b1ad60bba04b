"""Head and design block of a record."""

from .writer import number


def head(w, serial, d, plan, lot, place, note, zone="Europe/Vienna"):
    w.line("# Written by make_examples.py. All data are invented: works, people, unit and customer do not exist.")
    w.line()
    w.line(f'unit {serial} "{d.title}, {place}"')
    w.line(f"  plan      {plan}")
    w.line("  register  kestrel-ford")
    w.line(f"  lot       {lot}")
    w.line(f"  zone      {zone}")
    if note:
        w.line(f'  note "{note}"')


def write_design(w, d, rev="D", date="2026-01-19"):
    names = lambda items: ", ".join(items)
    upper = d.windings[0]
    w.line()
    w.line(f"design rev {rev} on {date} by A.Brandt")

    def give(*pairs):
        for name, value in pairs:
            w.line(f"  {name} = {value}")

    give(
        ("rated-power", f"{d.power[upper] / 1e6:.0f} MVA"),
        ("frequency", f"{d.frequency:.0f} Hz"),
        ("vector-group", d.group),
        ("phases", names(d.phases)),
        ("windings", names(d.windings)),
        ("pairs", names(d.pairs)),
        ("reference-temperature", f"{d.reference} °C"),
    )
    w.table("", ["winding", "rated-voltage(kV)", "winding-power(MVA)", "highest-voltage(kV)", "turns", "applied-voltage(kV)"],
            [[x, f"{d.voltage[x] / 1e3:g}", f"{d.power[x] / 1e6:.0f}", d.highest[x], d.turns[x], d.applied[x]] for x in d.windings])
    w.table("", ["pair", "upper", "lower", "impedance(%)", "pair-power(MVA)"],
            [[p, a, b, number(d.impedance[p] * 100, 2), f"{s / 1e6:.0f}"] for p, (a, b, s) in d.pairs.items()])
    give(
        ("taps", f"1 .. {d.taps}"),
        ("tap-positions", d.taps),
        ("principal-tap", d.principal),
        ("tap-step", f"{d.tap_step} %"),
        ("tap-turns", d.tap_turns),
        ("tapped-winding", d.tapped),
        ("first-position", d.first_position),
        ("tap-changer", d.tap_changer),
        ("tapping-arrangement", d.arrangement),
        ("tapping-end", d.tapping_end),
        ("regulating-turns", d.regulating_turns),
    )
    w.table("", ["winding", "conductor", "temperature-constant(K)", "conductor-resistivity(ohm*mm^2/m)", "conductor-section(mm^2)", "mean-diameter(mm)"],
            [[x, "copper", f"{d.constant:g}", 0.0172414, number(d.section[x], 1), number(d.mean_diameter[x], 1)] for x in d.windings])
    w.table("", ["winding", "free-height", "height", "pressing-force(kN)"],
            [[x, f"{d.free_height[x]} mm +- 6 mm", f"{d.height:.0f} mm +3/-0 mm", d.pressing[x]] for x in d.windings])
    give(
        ("inner-winding", d.main_duct[0]),
        ("outer-winding", d.main_duct[1]),
        ("core-form", d.core_form),
        ("core-section", f"{d.core_section:.0f} mm^2"),
        ("core-stack", f"{d.core_stack:.0f} mm +2/-1 mm"),
        ("core-diameter", f"{d.core_diameter:.0f} mm +0/-3 mm"),
        ("core-mass", f"{d.core_mass:.0f} kg"),
        ("flux-density", f"{d.flux_density:.3f} T"),
        ("steel-loss-limit", d.steel_limit),
    )
    if d.steel_grade:
        give(("steel-grade", f'"{d.steel_grade}"'))
    give(("ducts", names(d.ducts)))
    give(*((f"duct-width[{x}]", f"{width} mm {tolerance}") for x, (width, tolerance) in d.ducts.items()))
    give(("gaps", names(d.gaps)))
    give(*((f"minimum-clearance[{x}]", f"{width} mm") for x, width in d.gaps.items()))
    give(
        ("insulation-paths", names(d.paths)),
        ("insulation-mass", f"{d.insulation_mass} t"),
        ("clamping-force", f"{d.clamping_force} kN"),
        ("drying-method", "vapour-phase"),
        ("bushings", names(d.bushings)),
        ("condenser-bushings", names(d.condenser)),
        ("current-transformers", names(d.transformers)),
        ("air-gaps", names(d.air_gaps)),
        ("altitude", f"{d.altitude} m"),
        ("wall-length", f"{d.wall} m"),
        ("standing-time", "72 h" if d.reference == 85 else "48 h"),
        ("accessories", names(d.accessories)),
        ("cooling", d.cooling),
        ("tank-gas-volume", f"{d.gas_volume} m^3"),
        ("oil-mass", f"{d.oil_mass} t"),
        ("paint-thickness", "200 um"),
        ("test-winding", d.test_winding),
        ("without-terminals", "none"),
    )
    w.table("", ["air-gap", "air-clearance(mm)"], list(d.air_gaps.items()))
    w.table("", ["current-transformer", "ordered-ratio", "ordered-ratio-error(%)"],
            [[x, number(a / b, 0), 1] for x, (a, b) in d.transformers.items()])
    w.table("", ["bushing", "joint-torque(N*m)"], [[x, 100] for x in d.bushings])
    give(*((f"lightning-impulse[{x}]", f"{level} kV") for x, level in d.impulse.items()))
    give(*((f"chopped-impulse[{x}]", f"{level} kV") for x, level in d.chopped.items()))
    if d.switching:
        give(("switching-impulse", f"{d.switching} kV"))
    give(("discharge-terminals", names(d.terminals)))
    give(*((f"guaranteed-{name}", value) for name, value in d.guaranteed.items()))
    give(*((f"guaranteed-load-loss[{pair}]", value) for pair, value in d.guaranteed_load.items()))
    give(*((f"impedance-at-end[{pair}, {end}]", f"{z * 100:.2f} %") for (pair, end), z in d.end_impedance.items()))
    give(
        ("oil-exponent", d.oil_exponent),
        ("winding-exponent", d.winding_exponent),
        ("special-tests", names(d.special)),
        *([("zero-sequence-pair", "HV-LV")] if "zero-sequence-test" in d.special else []),
        ("response-curves", names(d.curves)),
        ("shipped-gas-filled", d.fill_gas),
        ("transport-mass", f"{d.transport_mass} t"),
        ("coldest-transport", f"{d.coldest} °C"),
        ("hottest-transport", f"{d.hottest} °C"),
        ("shock-recorders", names(d.recorders)),
        ("crates", names(d.crates)),
    )
