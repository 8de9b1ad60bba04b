"""Connections, clock numbers and tappings."""

import cmath
import math
import re

import numpy
import scipy.optimize

from . import route
from .electrical import between, joined, line_of, terminals, winding_names

WORDS = {"y": "star", "d": "delta", "z": "zigzag", "a": "auto", "i": "single"}


def letter_of(group, n):
    return winding_names(group)[int(n) - 1][0].lower()


def acting(group, n):
    """The connection as it carries voltage: an auto winding is part of the highest one."""
    letter = letter_of(group, n)
    return letter_of(group, 1) if letter == "a" else letter


route("re", "connection")(lambda group, n: WORDS[letter_of(group, n)])
route("re", "phases")(lambda group: 1 if re.match("[Ii]", group) else 3)
route("re", "winding-count")(lambda group: len(re.findall("[YDZIydzia]", group)))


@route("numpy", "coil-voltage")
def coil_voltage(group, n, line):
    letter = acting(group, n)
    return line if letter == "i" else line / line_of(letter)


@route("numpy", "clock-between")
def clock_between(group, n, m):
    """Angle between two windings drawn as phasors."""
    at = lambda k: cmath.exp(-1j * math.pi / 6 * (winding_names(group)[int(k) - 1][1] if k > 1 else 0))
    return round(-cmath.phase(at(m) / at(n)) / (math.pi / 6)) % 12


@route("numpy", "coil-current")
def coil_current(group, n, start, end, s, u_start, u_end):
    """Coil currents from node equations at the terminals; ampere-turns in balance are checked beside them."""
    n, start, end = int(n), int(start), int(end)
    windings = winding_names(group)
    single = letter_of(group, 1) == "i"
    line = {start: s / u_start, end: s / u_end}
    if not single:
        line = {k: i / math.sqrt(3) for k, i in line.items()}
    auto = next((k for k in range(2, len(windings) + 1) if letter_of(group, k) == "a"), None)
    volts = {k: coil_voltage(group, k, u) for k, u in ((start, u_start), (end, u_end))}
    drawn = {}
    for k in range(1, len(windings) + 1):
        flows = line.get(k, 0.0) * (1 if k == start else -1)
        drawn[k] = flows / math.sqrt(3) if letter_of(group, k) == "d" else flows
    coils = dict(drawn)
    if auto:
        # Series between terminals 1 and 2, common from 2 to the neutral: what enters at 1 and 2 leaves there.
        series = drawn[1]
        common = numpy.linalg.solve([[1.0]], [series + drawn[auto]])[0]
        coils[1], coils[auto] = series, common
        if {start, end} == {1, auto}:
            balance = series * (volts[1] - volts[auto]) + common * volts[auto]
        elif 1 in (start, end):
            other = end if start == 1 else start
            balance = series * volts[1] + coils[other] * volts[other]
        else:
            balance = sum(coils[k] * volts[k] for k in (start, end))
    else:
        balance = sum(coils[k] * volts[k] for k in (start, end))
    assert abs(balance) <= 1e-9 * s, "ampere-turns out of balance"
    return abs(coils[n])


@route("numpy", "joined-voltage-single")
def joined_voltage_single(clock, higher, lower):
    return abs(higher - lower * cmath.exp(-1j * math.pi / 6 * clock))


@route("scipy", "recovered-clock", relative=0, absolute=0.02)
def recovered_clock(supply, ratio, bb, bc, cb):
    """The clock number, not whole, whose drawing fits the three readings best."""
    miss = lambda n: sum((joined(n, supply, ratio, p) - v) ** 2 for p, v in (("Bb", bb), ("Bc", bc), ("Cb", cb)))
    best = min(numpy.arange(0, 12, 0.25), key=miss)
    return scipy.optimize.minimize_scalar(miss, bounds=(best - 0.3, best + 0.3), method="bounded", options={"xatol": 1e-9}).x


@route("numpy", "fitting-clocks")
def fitting_clocks(supply, ratio, bb, cc, bc, cb, tolerance):
    read = {"Bb": bb, "Cc": cc, "Bc": bc, "Cb": cb}
    fits = lambda n: all(abs(joined(n, supply, ratio, p) - v) <= tolerance for p, v in read.items())
    return [n for n in range(12) if fits(n)]


@route("numpy", "arrangement-clock")
def arrangement_clock(higher, lower, reversed_, rotated):
    """The coils drawn as phasors, turned and their letters moved, and the angle of the first terminals."""
    variant = lambda text: 1 if "3" in text else 0
    first = terminals(higher[0], variant(higher))[0]
    second = terminals(lower[0], variant(lower))[int(rotated) % 3]
    second *= -1 if reversed_ else 1
    return round(-cmath.phase(second / first) / (math.pi / 6)) % 12


@route("numpy", "tapping-voltage")
def tapping_voltage(u, step, position, principal, first):
    """Step by step from the principal tapping."""
    walk = int(position) - int(principal)
    sign = -1 if first == "most-turns" else 1
    return u + numpy.sum(numpy.full(abs(walk), numpy.sign(walk) * sign * step * u))


@route("numpy", "neutral-tapped-ratio")
def neutral_tapped_ratio(series, common, tapped):
    """Potentials along the turns from the neutral at one volt a turn."""
    along = numpy.cumsum([common + tapped, series])
    return along[1] / along[0]


route("python", "nearest-turn-applies")(lambda turns: 1 / turns > 0.005)


@route("numpy", "coil-resistance")
def coil_resistance(group, n, r):
    """One coil of the network that shows this value between two terminals (or terminal and neutral)."""
    if letter_of(group, n) != "d":
        return r
    return r / between([(0, 1, 1.0), (1, 2, 1.0), (2, 0, 1.0)], 3)(0, 1)
