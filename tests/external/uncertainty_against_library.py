"""Uncertainties of calculated values, recomputed with the library `uncertainties`.

Reads rows from standard input: the case, the expanded uncertainty that the tool told (SI base units), then each
input as value:share:amount:k, where the accuracy is share * |value| + amount and k = 0 marks limits of error.
The library differentiates; the tool shifts by the standard uncertainty and writes six digits. Both together differ
by less than TOLERANCE. Ends with `N passed, M failed`; the exit status is 1 when any failed.
"""

import math
import sys

from uncertainties import ufloat, umath

TOLERANCE = 2e-5
COPPER = 235 - 273.15  # with temperatures in kelvin
REFERENCE = 75 + 273.15


def at_reference(r, theta):
    return r * (COPPER + REFERENCE) / (COPPER + theta)


def load_loss(p, r, theta):
    ohmic = 3 * r * 210**2
    factor = (COPPER + REFERENCE) / (COPPER + theta)
    return ohmic * factor + (p - ohmic) / factor


def shared(a, b):
    m = (a + b) / 2
    return a / m + 2 * m / b


CASES = {
    "deviation": lambda r: abs(r / 3.485 - 1),
    "resistance": at_reference,
    "spread": lambda a, b, c: (c - a) / ((a + b + c) / 3),
    "load-loss": load_loss,
    "impedance": lambda z, p, q: umath.sqrt(z**2 + (q**2 - p**2) / 40e6**2),
    "efficiency": lambda p, q: 40e6 * 0.8 / (40e6 * 0.8 + p + q),
    "shared": shared,
}


def standard(value, share, amount, k):
    return (share * abs(value) + amount) / (k or math.sqrt(3))


def main():
    passed = failed = 0
    met = set()
    for line in sys.stdin.read().splitlines():
        name, told, *inputs = line.split("\t")
        met.add(name)
        numbers = [[float(part) for part in each.split(":")] for each in inputs]
        values = [ufloat(each[0], standard(*each)) for each in numbers]
        wanted = 2 * CASES[name](*values).std_dev
        if abs(float(told) - wanted) <= TOLERANCE * wanted:
            passed += 1
        else:
            failed += 1
            print(f"{name}: told {told}, the library gives {wanted}")
    for name in CASES.keys() - met:
        failed += 1
        print(f"{name}: no row")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


sys.exit(main())
