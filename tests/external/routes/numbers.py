"""Numbers, lists and log columns."""

import decimal
import itertools
import math
import statistics

import numpy
import scipy.integrate
import scipy.optimize
import scipy.stats
import uncertainties

from . import route

decimal.getcontext().prec = 50


def exact(text):
    """A written number, read by decimal."""
    number, _, unit = text.partition(" ")
    assert not unit, text
    return decimal.Decimal(number)


route("decimal", "abs", gets="texts")(lambda x: float(abs(exact(x))))
route("decimal", "sqrt", gets="texts", relative=1e-15)(lambda x: float(exact(x).sqrt()))
route("decimal", "exp", gets="texts", relative=1e-15)(lambda x: float(exact(x).exp()))
route("decimal", "ln", gets="texts", relative=1e-15)(lambda x: float(exact(x).ln()))
route("decimal", "lg", gets="texts", relative=1e-15)(lambda x: float(exact(x).log10()))


def rounded(mode):
    return lambda x: float(exact(x).to_integral_value(mode))


# decimal's ROUND_HALF_UP takes halves away from zero.
route("decimal", "round", gets="texts")(rounded(decimal.ROUND_HALF_UP))
route("decimal", "floor", gets="texts")(rounded(decimal.ROUND_FLOOR))
route("decimal", "ceil", gets="texts")(rounded(decimal.ROUND_CEILING))


def flat(arguments):
    """Lists and single values in one row."""
    for argument in arguments:
        if isinstance(argument, list):
            yield from flat(argument)
        elif isinstance(argument, dict):
            yield from argument["values"]
        else:
            yield argument


route("numpy", "min")(lambda *x: numpy.min(list(flat(x))))
route("numpy", "max")(lambda *x: numpy.max(list(flat(x))))
route("statistics", "sum")(lambda *x: math.fsum(flat(x)))
route("statistics", "median")(lambda *x: statistics.median(flat(x)))
route("statistics", "count")(lambda *x: len(list(flat(x))))


@route("statistics", "mean")
def mean(*x):
    return statistics.fmean(flat(x))


@route("scipy", "mean")
def mean_over_time(column):
    """Area below the log by scipy, over its length."""
    times, values = column["times"], column["values"]
    return scipy.integrate.trapezoid(values, times) / (times[-1] - times[0])


@route("numpy", "spread")
def spread(*x):
    values = list(flat(x))
    return numpy.ptp(values) / numpy.mean(values)


route("numpy", "first")(lambda column: column["values"][0])
route("numpy", "last")(lambda column: column["values"][-1])


@route("numpy", "rows-before")
def rows_before(column, moment):
    """Where the moment would be sorted in behind equal times."""
    return int(numpy.searchsorted(numpy.array(column["times"]), moment, side="right"))


@route("numpy", "first-delay")
def first_delay(column, moment):
    since = numpy.array(column["times"]) - moment
    return since[since > 0].min()


route("numpy", "duration")(lambda column: numpy.ptp(column["times"]))


def end_of(column, window):
    """The entries of the last part of a log."""
    times, values = numpy.array(column["times"]), numpy.array(column["values"])
    inside = times >= times[-1] - window
    return times[inside], values[inside]


@route("numpy", "drop")
def drop(column, window):
    _, values = end_of(column, window)
    return values[0] - values[-1]


@route("scipy", "rate", relative=1e-7)
def rate(column, window):
    return scipy.stats.linregress(*end_of(column, window)).slope


def longest(column, kept):
    """The longest run of neighbouring entries that keep a limit."""
    entries = zip(column["times"], map(kept, column["values"]))
    runs = [[time for time, _ in run] for good, run in itertools.groupby(entries, lambda e: e[1]) if good]
    return max((run[-1] - run[0] for run in runs), default=0)


route("numpy", "time-below")(lambda column, limit: longest(column, lambda value: value <= limit))
route("numpy", "time-above")(lambda column, limit: longest(column, lambda value: value >= limit))


route("numpy", "head")(lambda values, n: list(numpy.array(values)[: int(n)]))
route("numpy", "tail")(lambda values, n: list(numpy.array(values)[-int(n) :]))
route("numpy", "root-sum-square")(lambda *x: numpy.linalg.norm(list(flat(x))))
route("uncertainties", "combined-uncertainty")(
    # Standard deviation of a sum of independent quantities, by linear propagation.
    lambda *x: sum(uncertainties.ufloat(0, u) for u in flat(x)).std_dev
)


@route("scipy", "slope")
def slope(values, spacing):
    return scipy.stats.linregress(numpy.arange(len(values)) * spacing, values).slope


@route("numpy", "deviation-from-mean")
def deviation_from_mean(*x):
    values = numpy.array(list(flat(x)))
    return numpy.max(numpy.abs(values / numpy.mean(values) - 1))


route("python", "place-of")(lambda names, name: 1 + names.index(name))
route("python", "name-at")(lambda names, place: ([""] + names)[int(place)])
route("numpy", "weighted-share")(lambda values, limits: numpy.dot(values, 1 / numpy.array(limits)))


@route("scipy", "decay-constant", relative=1e-6)
def decay_constant(column, window):
    """The exponential that fits the logarithms best, by a general minimiser instead of the normal equations."""
    times, values = end_of(column, window)
    start = [math.log(values[0]), math.log(values[0] / values[-1]) / numpy.ptp(times) * 1e4]
    gap = lambda p: p[0] - p[1] * (times - times[0]) / 1e4 - numpy.log(values)
    return 1e4 / scipy.optimize.least_squares(gap, start, xtol=1e-15, ftol=1e-15, gtol=1e-15).x[1]


@route("numpy", "bend-of-rise")
def bend_of_rise(column):
    """Mean steepness of the interpolated curve before and after its middle entry."""
    times, values = numpy.array(column["times"]), numpy.array(column["values"])
    middle = len(times) // 2
    mean = lambda part: numpy.average(
        numpy.diff(values)[part] / numpy.diff(times)[part], weights=numpy.diff(times)[part]
    )
    return mean(slice(middle, None)) / mean(slice(0, middle)) - 1


# The normal distribution of the reading, integrated up to the limit.
@route("scipy", "conformity-probability", relative=1e-8)
def conformity_probability(y, limit, u):
    return scipy.integrate.quad(
        lambda x: math.exp(-((x - y) ** 2) / 2 / u**2) / u / math.sqrt(2 * math.pi),
        y - 12 * u, limit, epsabs=1e-14, epsrel=1e-12, limit=200, points=[y] if limit > y else None,
    )[0]


route("pint", "expanded-uncertainty", gets="units")(lambda u, k: k * u)
route("pint", "uncertainty-ratio", gets="units")(lambda half, expanded: half / expanded)
route("pint", "acceptance-limit", gets="units")(lambda limit, expanded: limit - expanded)


def correlation(x, y):
    return scipy.stats.pearsonr(x, y).statistic


route("scipy", "response-correlation")(correlation)
route("scipy", "response-factor", relative=1e-7)(lambda x, y: -math.log10(1 - correlation(x, y)))
route("numpy", "response-difference")(lambda x, y: numpy.mean(numpy.abs(numpy.subtract(x, y))))
route("numpy", "response-rms")(lambda x, y: numpy.sqrt(numpy.mean(numpy.square(numpy.subtract(x, y)))))


@route("numpy", "value-on")
def value_on(column, x):
    scale = numpy.log if column["over"].startswith("frequency") else numpy.asarray
    return numpy.interp(scale(x), scale(column["points"]), column["values"])


def in_band(column, reference, low, high):
    """The levels of one response in a band, and of the other at the same frequencies."""
    points, levels = numpy.array(column["points"]), numpy.array(column["values"])
    inside = (points >= low) & (points <= high)
    other = numpy.interp(numpy.log(points[inside]), numpy.log(reference["points"]), reference["values"])
    return levels[inside], other


@route("numpy", "band-factor", relative=1e-7)
def band_factor(*arguments):
    return -numpy.log10(1 - numpy.corrcoef(*in_band(*arguments))[0, 1])


@route("numpy", "band-difference")
def band_difference(*arguments):
    own, other = in_band(*arguments)
    return numpy.mean(numpy.abs(own - other))
