"""Tests of resistance, insulation, losses, impedance, dielectric strength and temperature rise."""

import cmath
import math
import re

import numpy
import scipy.integrate
import scipy.optimize

from . import route
from .electrical import between

route("pint", "resistance-from-dimensions", gets="units")(lambda rho, length, section: rho * length / section)


@route("numpy", "open-strand-rise")
def open_strand_rise(strands):
    whole, broken = (between([(0, 1, 1.0)] * int(n), 2)(0, 1) for n in (strands, strands - 1))
    return broken / whole - 1


@route("numpy", "mirrored-difference")
def mirrored_difference(values):
    there, back = numpy.array(values), numpy.array(values)[::-1]
    return numpy.max(2 * numpy.abs(there - back) / (there + back))


route("pint", "absorption-ratio", gets="units")(lambda early, late: late / early)
route("numpy", "power-factor")(lambda tan: math.cos(cmath.phase(complex(tan, -1))))


@route("numpy", "shorted-layer-rise")
def shorted_layer_rise(layers):
    """Capacitors in series, one of them shorted."""
    series = lambda n: 1 / numpy.sum(numpy.ones(int(n)))
    return series(layers - 1) / series(layers) - 1


@route("scipy", "insulation-resistance-by", relative=1e-6)
def insulation_resistance_by(rule, r, theta, wanted):
    """What is lost from kelvin to kelvin, as a differential equation."""
    kept = {"halves-per-10K": 1 / 2, "one-and-a-half-per-10K": 1 / 1.5}[rule]
    change = lambda t, x: x * math.log(kept) / 10
    return scipy.integrate.solve_ivp(change, (theta, wanted), [r], rtol=1e-9, atol=0).y[0, -1]


route("python", "least-insulation-resistance")(lambda c, u, s: 1e6 * c * u / math.sqrt(s / 1000))
route("pint", "capacitance-change", gets="units")(lambda c, before: c / before - 1)


@route("scipy", "no-load-loss-ieee", relative=1e-6)
def no_load_loss_ieee(p, mean, rms, hysteresis):
    """A wave with a fifth harmonic that both voltmeters read so; eddy loss goes with its square."""
    crest = 1.0
    x = numpy.linspace(0, 2 * math.pi, 40001)
    wave = lambda a: crest * (numpy.sin(x) + a * numpy.sin(5 * x))
    square = lambda a: scipy.integrate.trapezoid(wave(a) ** 2, x) / 2 / math.pi
    average = lambda a: math.pi / 2 / math.sqrt(2) * scipy.integrate.trapezoid(abs(wave(a)), x) / 2 / math.pi
    gap = lambda a: math.sqrt(square(a)) / average(a) - rms / mean
    amplitude = scipy.optimize.brentq(gap, 0, 0.9, xtol=1e-14)
    # A pure sine of the same mean value has the same crest of flux, so the same hysteresis loss.
    eddy = square(amplitude) / average(amplitude) ** 2
    return p / (hysteresis + (1 - hysteresis) * eddy)


route("python", "no-load-loss-at-20")(lambda p, kelvin: p + p * 0.00065 * (kelvin - 293.15))
route("numpy", "no-load-current")(lambda currents, rated: numpy.mean(numpy.array(currents) / rated))


@route("numpy", "harmonic-distortion", relative=1e-8)
def harmonic_distortion(shares):
    """The wave itself: what is left of its r.m.s. value beside the fundamental, by Fourier transform."""
    t = numpy.arange(4096) / 4096
    wave = numpy.sin(2 * math.pi * t)
    for order, share in enumerate(shares, start=2):
        wave = wave + share * numpy.sin(2 * math.pi * (2 * order - 1) * t)
    lines = numpy.abs(numpy.fft.rfft(wave))
    return numpy.linalg.norm(numpy.delete(lines, [0, 1])) / lines[1]


route("pint", "magnetic-balance", gets="units")(lambda excited, other, third: (other + third - excited) / excited)
route("pint", "building-factor", gets="units")(lambda p, mass, specific: p / mass / specific)
route("re", "steel-grade-loss")(lambda grade: int(re.fullmatch(r"M(\d+)-(\d\d)\w", grade)[1]) / 100)
route("re", "steel-grade-thickness")(lambda grade: int(re.fullmatch(r"M(\d+)-(\d\d)\w", grade)[2]) * 1e-5)
route("pint", "net-section", gets="units")(lambda d, fill, factor: math.pi * (d / 2) ** 2 * fill * factor)
route("pint", "sheets-in-stack", gets="units")(lambda height, factor, thickness: height / (thickness / factor))
route("pint", "load-loss-at-current", gets="units")(lambda p, i, rated: p / i**2 * rated**2)
route("pint", "additional-loss", gets="units")(lambda p, dc: p - dc)
route("pint", "impedance-voltage", gets="units")(lambda u, i, u_rated, i_rated: u * (i_rated / i) / u_rated)
route("pint", "resistive-part", gets="units")(lambda p, s: p / s)
route("numpy", "reactive-part")(lambda z, r: cmath.rect(z, math.acos(r / z)).imag)
route("pint", "impedance-ohm", gets="units")(lambda z, u, s: z * (u**2 / s))
route("pint", "impedance-on-base", gets="units")(lambda z, s, new: z / s * new)


@route("numpy", "star-branch")
def star_branch(first, second, other):
    """The star of which each pair of branches in series shows one of the three values."""
    pairs = numpy.array([[1, 1, 0], [1, 0, 1], [0, 1, 1]])
    return numpy.linalg.solve(pairs, [first, second, other])[0]


@route("numpy", "regulation-ieee")
def regulation_ieee(er, ex, load, cos_phi):
    current = load * cmath.rect(1, -math.acos(cos_phi))
    return abs(1 + current * complex(er, ex)) - 1


def lowest(no_load, loss):
    """Load of least loss for what is carried, by search."""
    share = lambda k: (no_load + k**2 * loss) / k
    return scipy.optimize.minimize_scalar(share, bounds=(1e-3, 10), method="bounded", options={"xatol": 1e-10})


route("scipy", "best-load", relative=1e-6)(lambda no_load, loss: lowest(no_load, loss).x)
route("scipy", "peak-efficiency-index", relative=1e-9)(lambda p0, pk, s: 1 - lowest(p0, pk).fun / s)


@route("numpy", "zero-sequence-impedance")
def zero_sequence_impedance(u, i):
    """Three equal branches side by side between the joined terminals and the neutral."""
    return u / i / between([(0, 1, 1.0)] * 3, 2)(0, 1)


route("numpy", "loss-penalty")(lambda measured, guaranteed, each: each * numpy.clip(measured - guaranteed, 0, None) / 1000)
route("pint", "reactance-share", gets="units")(lambda x, i, u: x * i / u)


@route("scipy", "rogowski-factor")
def rogowski_factor(height, radial):
    """The mean of a field that falls off from the end of the windings."""
    a = math.pi * height / radial
    return scipy.integrate.quad(lambda x: 1 - math.exp(-a * x), 0, 1, epsabs=1e-13, limit=200, points=[1 / a])[0]


route("numpy", "centre-offset")(lambda heights: numpy.ptp(heights))


@route("numpy", "test-voltage-to-earth")
def test_voltage_to_earth(multiple, u_rated):
    """Corner of an equilateral triangle with this side, seen from its centre."""
    corners = multiple * u_rated * numpy.array([0, 1, numpy.exp(1j * numpy.pi / 3)])
    return abs(corners[0] - corners.mean())


@route("scipy", "test-flux-density")
def test_flux_density(b, u, u_rated, f_rated, f):
    """Volt-seconds of half a wave, test against rated."""
    half = lambda volts, hertz: scipy.integrate.quad(
        lambda t: volts * math.sin(2 * math.pi * hertz * t), 0, 0.5 / hertz
    )[0]
    return b * half(u, f) / half(u_rated, f_rated)


route("numpy", "clearance-factor")(lambda h: numpy.interp(h, [-500, 1000, 9000], [1, 1, 1.8]))
route("python", "induced-test-cycles")(lambda f: 60 * 120 / f)


route("pint", "current-ratio-error", gets="units")(lambda ratio, secondary, primary: ratio * secondary / primary - 1)


def grown(value, start, end, exponent):
    """A power law followed as a differential equation."""
    return scipy.integrate.solve_ivp(
        lambda x, y: exponent * y / x, (1, end / start), [value], rtol=1e-11, atol=0
    ).y[0, -1]


@route("scipy", "oil-rise-corrected", relative=1e-8)
def oil_rise_corrected(rise, total, test, exponent):
    return grown(rise, test, total, exponent)


@route("scipy", "gradient-corrected", relative=1e-8)
def gradient_corrected(gradient, rated, test, exponent):
    return grown(gradient, test, rated, exponent)


route("numpy", "altitude-reduction")(lambda altitude, metres: numpy.clip(altitude - 1000, 0, None) / metres)


def cooled(values, times):
    """scipy's fit of value at the end, fall of the oil, and what the winding loses with its time constant."""
    if isinstance(values, dict):
        times, values = numpy.array(values["times"]) - times, values["values"]
    times, values = numpy.array(times), numpy.array(values)
    curve = lambda t, a, b, tau, k: a + b * numpy.exp(-t / tau) - k * t
    start = [values[-1], values[0] - values[-1], numpy.ptp(times) / 3, 0.0]
    scale = numpy.abs(start) + 1e-6
    found, _ = scipy.optimize.curve_fit(
        curve, times, values, p0=start, x_scale=scale, ftol=1e-15, xtol=1e-15, gtol=1e-15, method="trf", max_nfev=100000
    )
    return found


@route("scipy", "shutdown-value", relative=1e-5)
def shutdown_value(values, times):
    a, b, _, _ = cooled(values, times)
    return a + b


@route("scipy", "shutdown-constant", relative=1e-3)
def shutdown_constant(values, times):
    return cooled(values, times)[2]
