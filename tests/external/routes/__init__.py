"""Other ways to the results of the plan language's functions, one file a subject.

A route is registered with `@route(LIBRARY, FUNCTION, …)`. It gets the arguments of a row and gives what the
function must give: numbers in SI base units (temperatures on the scale in kelvin), texts, yes or no as bool,
lists. A log column is a dictionary with `times` (seconds) and `values`. Tolerances are relative and absolute;
they stand at the numerical noise of the route unless the comment beside them names the difference between
the two formulas.
"""

import importlib
import pkgutil

import pint

UNITS = pint.UnitRegistry()
KELVIN = 273.15

# (library, function): (route, relative tolerance, absolute tolerance, what it gets)
ROUTES = {}

# Spellings of the plan language that pint knows under another name.
SPELLING = {
    "°C": "degC",
    "°": "degree",
    "h": "hour",
    "d": "day",
    "t": "metric_ton",
    "g0": "standard_gravity",
    "kWh": "kilowatt_hour",
    "dB(A)": "",
    "dB": "",
    "pu": "",
}


def route(library, *functions, relative=1e-9, absolute=0.0, gets="numbers"):
    """Registers a route for functions. `gets` is "numbers", "texts" (as written) or "units" (pint's)."""

    def register(way):
        for function in functions:
            key = (library, function)
            if key in ROUTES:
                raise ValueError(f"two routes for {key}")
            ROUTES[key] = (way, relative, absolute, gets)
        return way

    return register


def with_units(text):
    """A written argument read by pint alone: "12.5 mm" to a quantity, a list to a list of them."""
    text = text.strip()
    if text.startswith("["):
        return [with_units(item) for item in text[1:-1].split(",")]
    if text.startswith('"'):
        return text.strip('"')
    if text in ("yes", "no"):
        return text == "yes"
    number, _, unit = text.partition(" ")
    number = float(number)
    for ours, theirs in sorted(SPELLING.items(), key=lambda pair: -len(pair[0])):
        parts = unit.replace("*", " * ").replace("/", " / ").split()
        unit = "".join(theirs if part == ours else part for part in parts)
    if unit == "degC":
        return UNITS.Quantity(number, unit).to("kelvin")
    return UNITS.Quantity(number, unit.replace("%", "percent"))


def in_base(value):
    """A result of pint in SI base units."""
    if isinstance(value, (list, tuple)):
        return [in_base(item) for item in value]
    if isinstance(value, UNITS.Quantity):
        return value.to_base_units().magnitude
    return value


def load():
    for module in pkgutil.iter_modules(__path__):
        importlib.import_module(f"{__name__}.{module.name}")
    return ROUTES
