"""Compares the unit table with pint, an independent unit library.

Reads the JSON of `stagebook::quantity::unit_table_json()` on standard input: one row a symbol, with the
factor and the offset to SI base units as exact fractions and the exponents of the seven SI dimensions.
Prints one line a symbol and ends with `N passed, M failed`; the exit status is 1 when any failed.

The factor and the offset must agree to 1e-12 relative, the dimension exactly. The reference values are
pint's, never ours: a symbol is only translated where pint spells the same unit differently.
"""

import json
import sys
from fractions import Fraction

import pint

TOLERANCE = 1e-12

# Where pint spells the same unit differently. A prefix stands before the pint name too: `kohm`, `kvar`.
SPELLING = {
    "°C": "degC",
    "℃": "degC",
    "°F": "degF",
    "℉": "degF",
    "°": "degree",
    "Ω": "ohm",  # Greek capital omega
    "\u2126": "ohm",  # the ohm sign
    "C": "coulomb",
    "F": "farad",
    "h": "hour",
    "d": "day",
    "t": "metric_ton",
    "VA": "volt_ampere",
    "cd": "candela",  # pint reads `mcd` as a milli-centi-day
    "var": "volt_ampere",  # pint has no var; IEC 60027-1 makes it the reactive volt-ampere
    "Wh": "watt_hour",
    "Ah": "ampere_hour",
    "g0": "standard_gravity",
    "gn": "standard_gravity",
    "kp": "kilogram_force",
    "kgf": "kilogram_force",
    "lbf": "pound_force",
    "mil": "thou",
    "gal": "US_liquid_gallon",
    "mmHg": "millimeter_Hg",
    "atm": "standard_atmosphere",
    "torr": "torr",
    "Torr": "torr",
    "Gy": "gray",
    "Sv": "sievert",
    "kat": "katal",
    "Bq": "becquerel",
    "T": "tesla",
    "pu": "dimensionless",
}
PREFIXES = {"k": "kilo", "m": "milli", "u": "micro", "M": "mega"}

# What pint cannot judge, with the reason.
WITHOUT_REFERENCE = {
    "dB": "pint holds the decibel as a logarithm of a plain ratio; here a level is kept apart from every number",
    "dB(A)": "pint has no frequency weighting",
    "dBA": "pint has no frequency weighting",
    "ppb": "pint does not define it; 1e-9 by definition",
}

# Per minute as a rate: pint counts the revolution as two pi radians, which ISO 80000-3 does for angular
# velocity; here `rpm` is a rotational frequency (ISO 80000-3, item 3-17.2), so it is judged as 1/minute.
AS_QUANTITY = {"rpm": "1/minute"}

# pint's base units in the order of the exponents.
BASE = ["[length]", "[mass]", "[time]", "[current]", "[temperature]", "[substance]", "[luminosity]"]
KELVIN_LIKE = {"degC", "degF"}


def translate(symbol, known):
    """pint's expression for a symbol; a prefixed symbol is its prefix and the translated rest."""
    if symbol in AS_QUANTITY:
        return AS_QUANTITY[symbol]
    if symbol in SPELLING:
        return SPELLING[symbol]
    prefix, rest = symbol[:1], symbol[1:]
    if prefix in PREFIXES and rest in SPELLING and rest in known:
        return PREFIXES[prefix] + SPELLING[rest]
    return symbol


def reference(registry, expression):
    """Factor and offset to SI base units, and the exponents, as pint has them."""
    if expression in KELVIN_LIKE:
        zero = registry.Quantity(Fraction(0), expression).to("kelvin").magnitude
        one = registry.Quantity(Fraction(1), expression).to("kelvin").magnitude
        return float(one - zero), float(zero), [0, 0, 0, 0, 1, 0, 0]
    unit = registry.parse_units(expression) if expression[0] != "1" else registry.parse_expression(expression).units
    base = registry.Quantity(1.0, unit).to_base_units()
    exponents = [unit.dimensionality.get(name, 0) for name in BASE]
    return float(base.magnitude), 0.0, exponents


def close(ours, theirs):
    return ours == theirs or abs(ours - theirs) <= TOLERANCE * abs(theirs)


def judge(row, registry, known):
    """What is wrong with one row, in words; an empty list when it agrees."""
    expression = translate(row["symbol"], known)
    try:
        factor, offset, exponents = reference(registry, expression)
    except Exception as error:  # pint raises many kinds; each means that the symbol was not understood
        return expression, [f"pint does not know it: {error}"]
    own_factor = float(Fraction(int(row["factor"][0]), int(row["factor"][1])))
    own_offset = float(Fraction(int(row["offset"][0]), int(row["offset"][1])))
    own_exponents = [Fraction(up, down) for up, down in row["exponents"]]
    wrong = []
    if not close(own_factor, factor):
        wrong.append(f"factor {own_factor!r}, pint has {factor!r}")
    if not close(own_offset, offset):
        wrong.append(f"offset {own_offset!r}, pint has {offset!r}")
    if own_exponents != [Fraction(exponent) for exponent in exponents]:
        wrong.append(f"exponents {[str(exponent) for exponent in own_exponents]}, pint has {exponents}")
    return expression, wrong


def main():
    rows = json.load(sys.stdin)
    registry = pint.UnitRegistry(system="SI", non_int_type=float, cache_folder=None)
    known = {row["symbol"] for row in rows}
    passed = failed = 0
    for row in rows:
        symbol = row["symbol"]
        if symbol in WITHOUT_REFERENCE:
            print(f"none  {symbol}: {WITHOUT_REFERENCE[symbol]}")
            continue
        expression, wrong = judge(row, registry, known)
        if wrong:
            failed += 1
            print(f"FAIL  {symbol} ({expression}): {'; '.join(wrong)}")
        else:
            passed += 1
            print(f"pass  {symbol} ({expression})")
    if not rows:
        failed += 1
        print("FAIL  the table is empty")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
