"""Moisture, vacuum, oil, gas, sound, dispatch, pressing."""

import math

import CoolProp.CoolProp as coolprop
import numpy
import psychrolib
import scipy.constants
import scipy.integrate
import scipy.optimize
from iapws._iapws import _Sublimation_Pressure
from iapws.iapws97 import _PSat_T

from . import KELVIN, UNITS, route

psychrolib.SetUnitSystem(psychrolib.SI)


def over_ice(kelvin):
    """IAPWS pressure over ice, Pa."""
    return 1e6 * _Sublimation_Pressure(kelvin)


def over_water(kelvin):
    """IAPWS-IF97 pressure over water, Pa."""
    return 1e6 * _PSat_T(kelvin)


route("iapws", "saturation-pressure")(over_water)


# IAPWS-95 with IF97: two equations of state for the same water.
@route("CoolProp", "saturation-pressure", relative=1e-3)
def saturation_pressure(kelvin):
    return coolprop.PropsSI("P", "T", kelvin, "Q", 1, "Water")


# Sonntag's formula against the IAPWS equation.
route("iapws", "ice-pressure", relative=1.2e-3)(over_ice)


@route("psychrolib", "dew-point", absolute=0.005, relative=0)
def dew_point(pressure):
    return KELVIN + psychrolib.GetTDewPointFromVapPres(150.0, pressure)


@route("iapws", "frost-point", absolute=0.01, relative=0)
def frost_point(pressure):
    return scipy.optimize.brentq(lambda t: over_ice(t) - pressure, 173.15, 273.15)


# Nitrogen as CoolProp knows it against the ideal gas.
@route("CoolProp", "gas-pressure-at", relative=0, absolute=60.0)
def gas_pressure_at(gauge, theta, wanted, barometer):
    density = coolprop.PropsSI("D", "P", gauge + barometer, "T", theta, "Nitrogen")
    return coolprop.PropsSI("P", "D", density, "T", wanted, "Nitrogen") - barometer


@route("numpy", "level-mean")
def level_mean(*levels):
    """Mean square of sound pressures, 20 µPa for 0 dB."""
    levels = levels[0] if isinstance(levels[0], list) else levels
    pressures = 20e-6 * numpy.power(10.0, numpy.array(levels) / 20)
    return 20 * math.log10(math.sqrt(numpy.mean(pressures**2)) / 20e-6)


@route("scipy", "background-corrected")
def background_corrected(level, background):
    """The source that gives this level together with the background."""
    if level - background >= 10:
        return level
    together = lambda x: 10 * math.log10(10 ** (x / 10) + 10 ** (background / 10)) - level
    return scipy.optimize.brentq(together, level - 20, level, xtol=1e-12)


route("pint", "jack-force", gets="units")(lambda p, d, n: n * p * math.pi * (d / 2) ** 2)
route("pint", "leak-rate", gets="units")(lambda volume, rise, time: volume * rise / time)
route("pint", "jack-pressure", gets="units")(lambda force, d, n: force / n / (math.pi * (d / 2) ** 2))
route("pint", "pressing-force", gets="units")(lambda n, width, overlap, stress: stress * n * width * overlap)
route("pint", "preload-loss", gets="units")(lambda modulus, change, height: modulus * (change / height))


@route("psychrolib", "dew-point-of-air", absolute=0.005, relative=0)
def dew_point_of_air(theta, humidity):
    return KELVIN + psychrolib.GetTDewPointFromRelHum(theta - KELVIN, humidity)


@route("iapws", "vapour-pressure-at", relative=1.2e-3)
def vapour_pressure_at(frost, total, new):
    """The share of molecules stays."""
    return over_ice(frost) / total * new


route("pint", "vapour-share", gets="units")(lambda vapour, total: vapour / total)


# The inverse of Fessler's formula, searched; the formula itself is held by the published reading.
@route("scipy", "pressure-of-paper", relative=1e-8)
def pressure_of_paper(moisture, kelvin):
    wet = lambda lg: 2.173e-7 * (10**lg / 101325) ** 0.6685 * math.exp(4725.6 / kelvin) - moisture
    return 10 ** scipy.optimize.brentq(wet, -6, 8, xtol=1e-13)


# Water vapour as CoolProp knows it against the ideal gas.
@route("CoolProp", "vapour-density", relative=3e-3)
def vapour_density(pressure, kelvin):
    return coolprop.PropsSI("D", "P", pressure, "T", kelvin, "Water")


route("pint", "water-to-remove", gets="units")(lambda mass, before, after: mass * before - mass * after)
route("pint", "extraction-rate", gets="units")(lambda water, time, mass: water / time / mass)


@route("scipy", "moisture-still-to-come", relative=1e-7)
def moisture_still_to_come(rate, constant):
    """The falling rate integrated for all time to come."""
    return scipy.integrate.quad(lambda t: rate * math.exp(-t / constant), 0, 60 * constant, limit=200)[0]


route("pint", "water-through-leak", gets="units")(lambda leak, density, air: leak / air * density)


@route("scipy", "pressure-at-base", relative=1e-9)
def pressure_at_base(cover, density, height):
    """Hydrostatics as a differential equation down the oil."""
    return scipy.integrate.solve_ivp(
        lambda z, p: density * scipy.constants.g * numpy.ones_like(p), (0, height), [cover], rtol=1e-12
    ).y[0, -1]


@route("scipy", "tank-force", relative=1e-9)
def tank_force(pressure, length, height):
    return scipy.integrate.dblquad(lambda y, x: pressure, 0, length, 0, height)[0]


@route("numpy", "particle-code")
def particle_code(count):
    """The first class of ISO 4406 whose upper end is not below the count: 0.01 in 1 ml, doubled each time."""
    ends = 0.01 * 2.0 ** numpy.arange(31)
    return float(numpy.searchsorted(ends, count * (1 - 1e-12)))


route("pint", "oil-volume-change", gets="units")(
    lambda volume, expansion, change: volume * (1 + expansion * change) - volume
)


@route("scipy", "mixed-share", relative=1e-7)
def mixed_share(volumes):
    """A stirred tank whose inflow is treated oil."""
    return scipy.integrate.solve_ivp(lambda n, x: -x, (0, volumes), [1.0], rtol=1e-10, atol=1e-14).y[0, -1]


@route("scipy", "oxygen-after-dilution", relative=1e-7)
def oxygen_after_dilution(volumes):
    return scipy.integrate.solve_ivp(
        lambda n, x: 0.2095 - x, (0, volumes), [0.0], rtol=1e-10, atol=1e-14
    ).y[0, -1]


@route("python", "gas-rate")
def gas_rate(before, after, time):
    return after / time - before / time


# Corner points of Duval's triangle 1 as an open program has them (% ethylene, % methane); what lies in none
# of these is DT.
ZONES = {
    "PD": [(0, 98), (0, 100), (2, 98)],
    "T1": [(0, 96), (0, 98), (2, 98), (20, 80), (20, 76)],
    "T2": [(20, 76), (20, 80), (50, 50), (50, 46)],
    "T3": [(50, 35), (50, 50), (100, 0), (85, 0)],
    "D1": [(0, 0), (0, 87), (23, 64), (23, 0)],
    "D2": [(23, 0), (23, 64), (40, 47), (40, 31), (71, 0)],
}


def inside(point, corners):
    """Winding number of a polygon about a point, by the angles to its corners."""
    vectors = [complex(x - point[0], y - point[1]) for x, y in corners]
    turns = sum(numpy.angle(b / a) for a, b in zip(vectors, vectors[1:] + vectors[:1]))
    return abs(turns) > math.pi


@route("numpy", "gas-triangle")
def gas_triangle(methane, ethylene, acetylene):
    total = methane + ethylene + acetylene
    point = 100 * ethylene / total, 100 * methane / total
    return next((zone for zone, corners in ZONES.items() if inside(point, corners)), "DT")


# IEC 60599, Table 1: low and high end of each of three ratios.
ANY = (0, math.inf)
RATIOS = {
    "PD": (ANY, (0, 0.1), (0, 0.2)),
    "D1": ((1, math.inf), (0.1, 0.5), (1, math.inf)),
    "D2": ((0.6, 2.5), (0.1, 1), (2, math.inf)),
    "T1": (ANY, (1, math.inf), (0, 1)),
    "T2": ((0, 0.1), (1, math.inf), (1, 4)),
    "T3": ((0, 0.2), (1, math.inf), (4, math.inf)),
}


@route("numpy", "gas-ratio-faults")
def gas_ratio_faults(h2, ch4, c2h6, c2h4, c2h2):
    with numpy.errstate(divide="ignore", invalid="ignore"):
        # 0/0 counts as 0: nothing of either gas.
        ratios = numpy.nan_to_num(numpy.divide([c2h2, ch4, c2h4], [c2h4, h2, c2h6]), nan=0.0, posinf=math.inf)
    fit = [
        fault
        for fault, bounds in RATIOS.items()
        if all(low <= x <= high for x, (low, high) in zip(ratios, bounds))
    ]
    return ", ".join(fit) or "none"


# Nitrogen as CoolProp knows it against the ideal gas.
@route("CoolProp", "gas-lost", relative=0, absolute=3e-4)
def gas_lost(p, theta, later, theta_later, barometer):
    density = lambda gauge, t: coolprop.PropsSI("D", "P", gauge + barometer, "T", t, "Nitrogen")
    return 1 - density(later, theta_later) / density(p, theta)


@route("CoolProp", "filling-pressure", relative=0, absolute=80.0)
def filling_pressure(wanted, cold, fill, barometer):
    return gas_pressure_at(wanted, cold, fill, barometer)


@route("scipy", "centre-of-gravity")
def centre_of_gravity(at_a, at_b, distance):
    """The point about which the two supports have no moment."""
    return scipy.optimize.brentq(lambda x: at_a * x - at_b * (distance - x), 0, distance, xtol=1e-14)


@route("scipy", "sling-force")
def sling_force(mass, legs, angle):
    """Legs spread evenly round the hook; their upward parts carry the weight."""
    up = lambda force: legs * force * numpy.cross([math.cos(angle), 0, math.sin(angle)], [0, -1, 0])[0]
    return scipy.optimize.brentq(lambda f: up(f) - mass * scipy.constants.g, 0, 1e9, xtol=1e-6)


@route("scipy", "velocity-change")
def velocity_change(peak, duration):
    return scipy.integrate.quad(lambda t: peak * math.sin(math.pi * t / duration), 0, duration)[0]


@route("scipy", "tip-angle")
def tip_angle(half_base, height):
    """The tilt at which the centre of gravity stands above the edge."""
    aside = lambda a: -half_base * math.cos(a) + height * math.sin(a)
    return scipy.optimize.brentq(aside, 0, math.pi / 2, xtol=1e-14)


@route("numpy", "level-sum")
def level_sum(*levels):
    levels = levels[0] if isinstance(levels[0], list) else levels
    pressures = 20e-6 * numpy.power(10.0, numpy.array(levels) / 20)
    return 20 * math.log10(numpy.linalg.norm(pressures) / 20e-6)


@route("numpy", "environment-correction")
def environment_correction(ratio):
    """Direct intensity 1 on the surface; the echo of the room adds four times power over absorption area."""
    direct, power = 1.0, 1.0
    echo = 4 * power / ratio
    return 10 * math.log10((direct + echo) / direct)


@route("pint", "measuring-surface", gets="units")
def measuring_surface(height, contour, forced):
    return contour * (height + UNITS.Quantity(2, "m")) if forced else contour * height * 1.25


@route("numpy", "sound-power-level")
def sound_power_level(level, surface):
    """Intensity of the level, times the surface, over a picowatt."""
    return 10 * math.log10(1e-12 * 10 ** (level / 10) * surface / 1e-12)


@route("numpy", "load-sound-correction")
def load_sound_correction(rated, current):
    """Forces go with the current squared, sound power with the force squared."""
    force = lambda i: i**2
    return 10 * math.log10((force(rated) / force(current)) ** 2)




@route("scipy", "conductor-section", relative=1e-7)
def conductor_section(width, thickness, radius):
    """The outline integrated along the width."""

    def deep(x):
        from_edge = min(x, width - x)
        if from_edge >= radius:
            return thickness
        return thickness - 2 * (radius - math.sqrt(radius**2 - (radius - from_edge) ** 2))

    parts = [0, radius, width - radius, width]
    return sum(scipy.integrate.quad(deep, a, b, epsabs=0, epsrel=1e-10)[0] for a, b in zip(parts, parts[1:]))


@route("numpy", "conductor-length", relative=1e-6)
def conductor_length(turns, diameter):
    """A circle of many chords, gone round once for each turn."""
    corners = diameter / 2 * numpy.exp(2j * math.pi * numpy.linspace(0, 1, 100001))
    return turns * numpy.sum(numpy.abs(numpy.diff(corners)))


route("pint", "conductor-mass", gets="units")(lambda length, section, density: length * section * density)


@route("numpy", "bending-strain")
def bending_strain(thickness, diameter):
    """Length of the outer fibre over that of the middle one, on a circle of this mean diameter."""
    return (math.pi * (diameter + thickness) - math.pi * diameter) / (math.pi * diameter)


@route("pint", "disc-winding-height", gets="units")
def disc_winding_height(discs, disc, gaps, spacer, compression):
    return discs * disc + gaps * (spacer - compression * spacer)


route("pint", "gasket-squeeze", gets="units")(lambda thickness, stop: 1 - stop / thickness)
route("pint", "cord-fill", gets="units")(lambda d, width, depth: math.pi * (d / 2) ** 2 / (width * depth))
route("pint", "tightening-torque", gets="units")(lambda k, force, diameter: force * (k * diameter))
route("pint", "bolt-force", gets="units")(lambda share, stress, area: stress * (share * area))
