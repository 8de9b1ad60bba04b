#!/usr/bin/env python3
"""Recomputes results of the physics room with outside libraries.

Reads rows {"function", "arguments", "result"} as a JSON list from the file named on the command line, or from
standard input, prints a line for each and last `N passed, M failed`. Exits with 1 if a row failed, if there was
none, or if a row names a function that has no outside route here.

The libraries are pinned in requirements.txt next to this file: iapws, psychrolib, scipy, numpy.
"""

import json
import math
import sys

import numpy
import psychrolib
import scipy.integrate
import scipy.optimize
import scipy.stats
from iapws.iapws97 import _PSat_T
from iapws._iapws import _Sublimation_Pressure

psychrolib.SetUnitSystem(psychrolib.SI)
KELVIN = 273.15
TURN = numpy.exp(1j * numpy.pi * 2 / 3)


def saturation_pressure(theta):
    """IAPWS-IF97 as the library has it, Pa."""
    return 1e6 * _PSat_T(theta + KELVIN)


def sublimation_pressure(theta):
    """IAPWS pressure over ice, Pa."""
    return 1e6 * _Sublimation_Pressure(theta + KELVIN)


def psychrolib_dew_point(pressure):
    """psychrolib's dew point, over ice below 0 °C; the air is taken warmer so that it isn't saturated."""
    return psychrolib.GetTDewPointFromVapPres(150.0, pressure)


def frost_point(pressure):
    """The temperature at which the IAPWS pressure over ice has this value."""
    return scipy.optimize.brentq(lambda t: sublimation_pressure(t) - pressure, -100.0, 0.0)


def joined_voltage(clock, supply, line_ratio, pair):
    """Terminal A at zero; both triangles drawn from there as complex numbers."""
    upper = [supply / math.sqrt(3) * z for z in (1, TURN**-1, TURN)]
    lag = numpy.exp(-1j * numpy.pi / 6 * clock)
    lower = [supply / line_ratio / math.sqrt(3) * lag * z for z in (1, TURN**-1, TURN)]
    a, b, c = (z - upper[0] for z in upper)
    small = {name: z - lower[0] for name, z in zip("abc", lower)}
    return abs({"A": a, "B": b, "C": c}[pair[0]] - small[pair[1]])


def joined_voltage_single_phase(clock, higher, lower):
    return abs(higher - lower * numpy.exp(-1j * numpy.pi / 6 * clock))


def line_voltage(letter, coil):
    """Line voltage of a winding whose coils have the voltage `coil`, from the coils on the three legs."""
    legs = [coil * z for z in (1, TURN**-1, TURN)]
    if letter == "d":
        return abs(legs[0])
    phases = legs
    if letter == "z":
        phases = [legs[0] - legs[1], legs[1] - legs[2], legs[2] - legs[0]]
    return abs(phases[0] - phases[1])


def phase_ratio(group, higher, lower):
    """Coil voltages that give the two line voltages, from the coils up."""
    first = group[0].lower()
    second = group[1:].lstrip("N")[0]
    second = "y" if second == "a" else second
    return (higher / line_voltage(first, 1.0)) / (lower / line_voltage(second, 1.0))


def between_terminals(edges, nodes):
    """Resistance between the first two terminals of a network, by the pseudo-inverse of its conductance matrix."""
    matrix = numpy.zeros((nodes, nodes))
    for i, j, r in edges:
        matrix[i, i] += 1 / r
        matrix[j, j] += 1 / r
        matrix[i, j] -= 1 / r
        matrix[j, i] -= 1 / r
    inverse = numpy.linalg.pinv(matrix)
    return lambda i, j: inverse[i, i] + inverse[j, j] - 2 * inverse[i, j]


def line_from_delta(phases):
    r = between_terminals([(0, 1, phases[0]), (1, 2, phases[1]), (2, 0, phases[2])], 3)
    return [r(0, 1), r(1, 2), r(2, 0)]


def line_from_wye(phases):
    r = between_terminals([(0, 3, phases[0]), (1, 3, phases[1]), (2, 3, phases[2])], 4)
    return [r(0, 1), r(1, 2), r(2, 0)]


def flux_density(volts, frequency, area):
    """Half the flux swing: the integral of half a wave of the voltage, over twice the area."""
    wave = lambda t: math.sqrt(2) * volts * math.sin(2 * math.pi * frequency * t)
    return scipy.integrate.quad(wave, 0, 0.5 / frequency)[0] / (2 * area)


def voltage_drop(er, ex, load, cos_phi):
    """The drop at which supply (1), load voltage and the drop in the impedance close the triangle."""
    current = load * (cos_phi - 1j * math.sqrt(1 - cos_phi**2))
    gap = lambda u: abs(u + current * (er + 1j * ex)) - 1
    return 1 - scipy.optimize.brentq(gap, 0.3, 1.1, xtol=1e-14)


def regulation_ieee(er, ex, load, cos_phi):
    current = load * (cos_phi - 1j * math.sqrt(1 - cos_phi**2))
    return abs(1 + current * (er + 1j * ex)) - 1


def extrapolate_to_shutdown(times, values, falling_oil):
    """scipy's curve_fit of the same curve; value at shutdown and time constant."""
    times, values = numpy.array(times), numpy.array(values)
    if falling_oil:
        curve = lambda t, a, b, tau, k: a + b * numpy.exp(-t / tau) - k * t
        start = [values[-1], values[0] - values[-1], 300.0, 0.0]
    else:
        curve = lambda t, a, b, tau: a + b * numpy.exp(-t / tau)
        start = [values[-1], values[0] - values[-1], 300.0]
    found, _ = scipy.optimize.curve_fit(
        curve, times, values, p0=start, x_scale=numpy.abs(start) + 1e-6, ftol=1e-15, xtol=1e-15, gtol=1e-15,
        method="trf", max_nfev=100000,
    )
    return [found[0] + found[1], found[2]]


def correlation(x, y):
    return numpy.corrcoef(x, y)[0, 1]


def rise_over_one_hour(times, values):
    return 3600 * numpy.polyfit(times, values, 1)[0]


def medians_of_others(values):
    return [numpy.median(numpy.delete(values, i)) for i in range(len(values))]


def deviations_of_others(values):
    return [scipy.stats.median_abs_deviation(numpy.delete(values, i)) for i in range(len(values))]


def mad_to_sigma():
    return 1 / scipy.stats.norm.ppf(0.75)


# Function: (outside route from the arguments, relative and absolute tolerance). Where the room's formula and
# the outside one differ (Sonntag against IAPWS or psychrolib's Hyland and Wexler), the tolerance is that difference.
ROUTES = {
    "saturation_pressure": (saturation_pressure, 1e-9, 0.0),
    "water_pressure": (saturation_pressure, 2e-4, 0.0),
    "ice_pressure": (sublimation_pressure, 1.2e-3, 0.0),
    "dew_point": (psychrolib_dew_point, 0.0, 0.005),
    "frost_point": (frost_point, 0.0, 0.01),
    "dew_point_of_air": (psychrolib.GetTDewPointFromRelHum, 0.0, 0.005),
    "joined_voltage": (joined_voltage, 1e-9, 1e-6),
    "joined_voltage_single_phase": (joined_voltage_single_phase, 1e-12, 0.0),
    "phase_ratio": (phase_ratio, 1e-12, 0.0),
    "flux_density": (flux_density, 1e-9, 0.0),
    "voltage_drop": (voltage_drop, 1e-9, 0.0),
    "regulation_ieee": (regulation_ieee, 1e-9, 0.0),
    "extrapolate_to_shutdown": (extrapolate_to_shutdown, 1e-5, 0.0),
    "correlation": (correlation, 1e-12, 0.0),
    "rise_over_one_hour": (rise_over_one_hour, 1e-9, 0.0),
    "medians_of_others": (medians_of_others, 1e-13, 0.0),
    "deviations_of_others": (deviations_of_others, 1e-12, 1e-12),
    "mad_to_sigma": (mad_to_sigma, 1e-14, 0.0),
}

# Function: way back from the result to the first argument.
WAYS_BACK = {
    "phase_resistances_delta": (line_from_delta, 1e-9, 0.0),
    "phase_resistances_wye": (line_from_wye, 1e-9, 0.0),
}


def near(got, expected, relative, absolute):
    got, expected = numpy.atleast_1d(got), numpy.atleast_1d(expected)
    return got.shape == expected.shape and bool(
        numpy.all(numpy.abs(got - expected) <= absolute + relative * numpy.abs(expected))
    )


def check(row):
    """Whether the row holds, and what to print about it."""
    name, arguments, result = row["function"], row["arguments"], row["result"]
    if result is None:
        return False, "no result"
    if name in ROUTES:
        route, relative, absolute = ROUTES[name]
        expected = route(*arguments)
        return near(result, expected, relative, absolute), f"{result} against {expected}"
    if name in WAYS_BACK:
        route, relative, absolute = WAYS_BACK[name]
        back = route(result)
        return near(back, arguments[0], relative, absolute), f"back to {back}"
    return False, "no outside route for this function"


def main():
    if len(sys.argv) > 1:
        with open(sys.argv[1], encoding="utf-8") as file:
            rows = json.load(file)
    else:
        rows = json.load(sys.stdin)
    passed = 0
    for row in rows:
        try:
            good, what = check(row)
        except Exception as error:  # a row that can't be recomputed is a failed row
            good, what = False, f"{type(error).__name__}: {error}"
        passed += good
        shown = ", ".join(str(a) if len(str(a)) < 40 else "..." for a in row["arguments"])
        print(f"{'pass' if good else 'FAIL'} {row['function']}({shown}): {what}")
    failed = len(rows) - passed
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not rows else 0


if __name__ == "__main__":
    sys.exit(main())
