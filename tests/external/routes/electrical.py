"""Ratio, resistance, losses, impedance, insulation, temperature rise."""

import cmath
import functools
import itertools
import math
import re

import numpy
import scipy.integrate
import scipy.optimize
import scipy.sparse
import scipy.sparse.linalg

from . import KELVIN, route

TURN = cmath.exp(2j * math.pi / 3)
LEGS = [1, TURN**-1, TURN]
MU_0 = 4e-7 * math.pi


def winding_names(group):
    """Letter and clock of each winding of a vector group name, by a pattern: YNyn0d11 to [("Y", 0), …]."""
    return [
        (letter, int(clock or 0))
        for letter, clock in re.findall(r"([YDZIydzia])[Nn]?(\d*)", group)
    ]


def terminals(letter, variant=0, coil=1.0):
    """Terminal voltages to the neutral of a symmetrical winding, from coils on three legs in phase with LEGS.

    `variant` 0 or 1 is the coil between terminals 1 and 2 or 1 and 3 of a delta, or the second half-coil of
    a zigzag on leg 2 or 3.
    """
    coils = [coil * leg for leg in LEGS]
    letter = letter.lower()
    if letter in "ya":
        return coils
    if letter == "z":
        step = 1 + variant
        return [coils[i] - coils[(i + step) % 3] for i in range(3)]
    # Delta: each coil is the difference of two terminals; the voltages to their mean follow by least squares.
    ends = [(i, (i + 1) % 3) if variant == 0 else (i, (i + 2) % 3) for i in range(3)]
    matrix = numpy.zeros((4, 3))
    for row, (a, b) in enumerate(ends):
        matrix[row, a], matrix[row, b] = 1, -1
    matrix[3] = 1
    return list(numpy.linalg.lstsq(matrix, numpy.array([*coils, 0]), rcond=None)[0])


def line_of(letter):
    """Line voltage of a winding whose coils have 1 V."""
    u = terminals(letter)
    return abs(u[0] - u[1])


@route("numpy", "phase-ratio")
def phase_ratio(group, higher, lower):
    first, second = [letter for letter, _ in winding_names(group)[:2]]
    second = first if second == "a" else second
    return (higher / line_of(first)) / (lower / line_of(second))


@functools.cache
def reachable(higher, lower):
    """Clock numbers that a pair of connections can have, by trying every way to draw it."""
    found = set()
    for upper, under, reverse, shift in itertools.product((0, 1), (0, 1), (1, -1), (0, 1, 2)):
        first = terminals(higher, upper)[0]
        second = reverse * terminals(lower, under)[-shift % 3]
        lag = -cmath.phase(second / first) / (math.pi / 6)
        assert abs(lag - round(lag)) < 1e-9, (higher, lower, lag)
        found.add(round(lag) % 12)
    return found


@route("numpy", "possible-group")
def possible_group(group):
    (first, _), *others = winding_names(group)
    return all(clock in reachable(first, letter) for letter, clock in others)


route("re", "clock")(lambda group: winding_names(group)[1][1])


def joined(clock, supply, ratio, pair):
    """Terminals A and a at one point; the others of both triangles from there."""
    upper = [supply / math.sqrt(3) * z for z in LEGS]
    lag = cmath.exp(-1j * math.pi / 6 * clock)
    lower = [supply / ratio / math.sqrt(3) * lag * z for z in LEGS]
    at = dict(zip("ABC", (z - upper[0] for z in upper)))
    at.update(zip("abc", (z - lower[0] for z in lower)))
    return abs(at[pair[0]] - at[pair[1]])


@route("numpy", "joined-voltage")
def joined_voltage(group, supply, ratio, pair):
    clock = winding_names(group)[1][1] if isinstance(group, str) else group
    return joined(clock, supply, ratio, pair)


def between(edges, nodes):
    """Resistance between two nodes of a network, from its conductance matrix."""
    matrix = numpy.zeros((nodes, nodes))
    for i, j, r in edges:
        for a, b in ((i, j), (j, i)):
            matrix[a, a] += 1 / r
            matrix[a, b] -= 1 / r
    inverse = numpy.linalg.pinv(matrix)
    return lambda i, j: inverse[i, i] + inverse[j, j] - 2 * inverse[i, j]


def solved(network, line):
    """The three branch resistances for which a network shows these line values."""
    scale = numpy.mean(line)
    gap = lambda x: numpy.array(network(x * scale)) / scale - numpy.array(line) / scale
    return scale * scipy.optimize.fsolve(gap, numpy.ones(3), xtol=1e-11)


@route("scipy", "phase-resistance-delta", relative=1e-8)
def phase_resistance_delta(across, second, third):
    def network(x):
        r = between([(0, 1, x[0]), (1, 2, x[1]), (2, 0, x[2])], 3)
        return [r(0, 1), r(1, 2), r(2, 0)]

    return solved(network, [across, second, third])[0]


@route("scipy", "phase-resistance-wye", relative=1e-8)
def phase_resistance_wye(one, two, without):
    def network(x):
        r = between([(0, 3, x[0]), (1, 3, x[1]), (2, 3, x[2])], 4)
        return [r(0, 1), r(0, 2), r(1, 2)]

    return solved(network, [one, two, without])[0]


@route("numpy", "winding-loss")
def winding_loss(line, current):
    """Real power that three balanced currents leave in the star with these line resistances."""
    star = [phase_resistance_wye(line[0], line[2], line[1]), 0, 0]
    star[1] = line[0] - star[0]
    star[2] = line[2] - star[0]
    currents = [current * leg for leg in LEGS]
    return sum((r * i * numpy.conj(i)).real for r, i in zip(star, currents))


# Resistance falls on a straight line to zero: at -235 °C for copper, at -225 °C for aluminium.
ZERO = {"copper": KELVIN - 235.0, "aluminium": KELVIN - 225.0}


def zero_of(conductor):
    """Where the line of a conductor meets zero, K; a temperature difference is the constant itself."""
    return ZERO[conductor] if isinstance(conductor, str) else KELVIN - conductor


@route("numpy", "resistance-at")
def resistance_at(r, theta, wanted, conductor):
    line = numpy.polynomial.Polynomial.fit([zero_of(conductor), theta], [0.0, r], 1)
    return line(wanted)


@route("scipy", "winding-temperature")
def winding_temperature(cold, theta, hot, conductor):
    gap = lambda t: resistance_at(cold, theta, t, conductor) - hot
    return scipy.optimize.brentq(gap, 200.0, 600.0, xtol=1e-12)


@route("numpy", "load-loss-at")
def load_loss_at(p, dc, theta, wanted, conductor):
    """A winding and a solid plate that eddy currents heat: one ohm each, scaled to the losses."""
    now, then = (resistance_at(1.0, 300.0, t, conductor) for t in (theta, wanted))
    current, induced = math.sqrt(dc / now), math.sqrt((p - dc) * now)
    return current**2 * then + induced**2 / then


@route("numpy", "impedance-at")
def impedance_at(z, p, p_ref, s):
    angle = math.acos(p / s / z)
    measured = cmath.rect(z, angle)
    return abs(complex(p_ref / s, measured.imag))


@route("pint", "efficiency", gets="units")
def efficiency(no_load, loss, load, s, cos_phi):
    out = load * s * cos_phi
    return out / (out + no_load + loss * load**2)


@route("scipy", "voltage-drop")
def voltage_drop(er, ex, load, cos_phi):
    """The drop at which supply (1), load voltage and the drop in the impedance close the triangle."""
    current = load * cmath.rect(1, -math.acos(cos_phi))
    gap = lambda u: abs(u + current * complex(er, ex)) - 1
    return 1 - scipy.optimize.brentq(gap, 0.3, 1.1, xtol=1e-14)


@route("scipy", "flux-density")
def flux_density(volts, frequency, area):
    """Half the swing of the flux: the integral of half a wave of the voltage."""
    wave = lambda t: math.sqrt(2) * volts * math.sin(2 * math.pi * frequency * t)
    return scipy.integrate.quad(wave, 0, 0.5 / frequency)[0] / (2 * area)


route("pint", "volts-per-turn", gets="units")(lambda u, turns: u / turns)


# IEC's correction and IEEE's (half hysteresis, half eddy loss) are two formulas; for voltmeters that differ
# by up to 2 % they differ by 1e-3.
@route("numpy", "no-load-loss", relative=1e-3)
def no_load_loss(p, mean, rms):
    hysteresis, eddy = 0.5, 0.5
    return p / (hysteresis + eddy * (rms / mean) ** 2)


def leakage_field(turns, frequency, radius, inner, duct, outer, height):
    """Reactance from the field energy: flux function on a grid round the axis, between iron limb and yokes.

    The limb is 20 mm from the inner winding, the yokes 50 mm from the ends, the tank far outside.
    """
    r_iron, end, far = radius - 0.02, 0.05, radius + inner + duct + outer + 0.3
    half = height / 2 + end
    nr, nz = round((far - r_iron) / 0.0025), round(half / 0.01)
    dr, dz = (far - r_iron) / nr, half / nz
    r = r_iron + (numpy.arange(nr) + 0.5) * dr
    z = (numpy.arange(nz) + 0.5) * dz

    def covered(centres, step, low, high):
        """Share of each cell that lies between two bounds."""
        return numpy.clip(
            numpy.minimum(centres + step / 2, high) - numpy.maximum(centres - step / 2, low), 0, None
        ) / step

    density = 1 / (inner * height), 1 / (outer * height)
    start = radius + inner + duct
    profile = density[0] * covered(r, dr, radius, radius + inner) - density[1] * covered(
        r, dr, start, start + outer
    )
    source = numpy.outer(profile, covered(z, dz, 0, height / 2))
    # d/dr(1/r dψ/dr) + d/dz(1/r dψ/dz) = -mu0 J; no field along the iron, no flux through the tank.
    index = numpy.arange(nr * nz).reshape(nr, nz)
    rows, columns, entries = [], [], []
    diagonal = numpy.zeros((nr, nz))

    def couple(a, b, weight):
        rows.extend([a.ravel(), b.ravel()])
        columns.extend([b.ravel(), a.ravel()])
        entries.extend([-weight.ravel(), -weight.ravel()])

    radial = 1 / (r_iron + numpy.arange(1, nr) * dr)[:, None] / dr**2 * numpy.ones((1, nz))
    couple(index[:-1], index[1:], radial)
    diagonal[:-1] += radial
    diagonal[1:] += radial
    axial = 1 / r[:, None] / dz**2 * numpy.ones((1, nz - 1))
    couple(index[:, :-1], index[:, 1:], axial)
    diagonal[:, :-1] += axial
    diagonal[:, 1:] += axial
    diagonal[-1] += 2 / far / dr**2
    rows.append(index.ravel())
    columns.append(index.ravel())
    entries.append(diagonal.ravel())
    matrix = scipy.sparse.csr_matrix(
        (numpy.concatenate(entries), (numpy.concatenate(rows), numpy.concatenate(columns)))
    )
    flux = scipy.sparse.linalg.spsolve(matrix, MU_0 * source.ravel())
    energy = 2 * math.pi * numpy.sum(flux * source.ravel()) * dr * dz  # both halves of the window
    return 2 * math.pi * frequency * 2 * energy * turns**2


# Rogowski's formula against the field: it knows neither limb nor yokes, and is good to about 3 %.
route("scipy", "leakage-reactance", relative=0.03)(leakage_field)


route("pint", "stacking-factor", gets="units")(
    lambda mass, density, length, width, height: mass / density / (length * width * height)
)


@route("numpy", "induced-test-time")
def induced_test_time(rated, test):
    """As many cycles as 60 s at twice the rated frequency have, between 15 and 60 s."""
    return float(numpy.clip(60 * 2 * rated / test, 15, 60))


@route("scipy", "insulation-resistance-at", relative=1e-6)
def insulation_resistance_at(r, theta, wanted):
    """Loses half of itself every 10 K, step by step."""
    fall = lambda t, x: -x * math.log(2) / 10
    return scipy.integrate.solve_ivp(fall, (theta, wanted), [r], rtol=1e-9, atol=0).y[0, -1]


route("pint", "polarization-index", gets="units")(lambda r60, r600: r600 / r60)


@route("scipy", "hot-spot", relative=1e-6)
def hot_spot(oil, gradient, factor):
    """Oil and winding heated by constant losses until nothing changes: the steady state of the loading guide."""

    def warm(_, state):
        top, over = state
        return [(oil - top) / 3.0, (factor * gradient - over) / 0.15]

    end = scipy.integrate.solve_ivp(warm, (0, 60), [0, 0], method="LSODA", rtol=1e-10, atol=1e-10).y[:, -1]
    return end.sum()
