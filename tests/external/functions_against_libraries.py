#!/usr/bin/env python3
"""Computes results of the plan language's functions another way.

Reads rows {"place", "library", "function", "written", "arguments", "result"} as a JSON list from the file
named on the command line, or from standard input; `tests/external_functions.rs` makes them from
functions.txt and functions_process.txt. Prints a line for each and last `N passed, M failed`. Exits with 1
if a row failed, if there was none, if a row has no route here, or if a route here has no row.

The routes stand in `routes/`; the libraries are pinned in requirements.txt.
"""

import json
import sys
from pathlib import Path

import numpy

sys.dont_write_bytecode = True  # nothing is written beside the sources
sys.path.insert(0, str(Path(__file__).parent))
import routes  # noqa: E402


def near(got, expected, relative, absolute):
    """Whether a result is as expected: texts and truths exactly, numbers within the tolerances."""
    if isinstance(expected, (str, bool, numpy.bool_)) or isinstance(got, (str, bool)):
        return type(got) in (str, bool) and got == expected
    if isinstance(expected, (list, tuple)) and any(isinstance(item, str) for item in expected):
        return got == list(expected)
    got, expected = numpy.atleast_1d(got), numpy.atleast_1d(expected)
    return got.shape == expected.shape and bool(
        numpy.all(numpy.abs(got - expected) <= absolute + relative * numpy.abs(expected))
    )


def check(row, used):
    """Whether the row holds, and what to print about it."""
    key = (row["library"], row["function"])
    if key not in routes.ROUTES:
        return False, f"no route by {row['library']} for this function"
    used.add(key)
    way, relative, absolute, gets = routes.ROUTES[key]
    if gets == "units":
        expected = routes.in_base(way(*map(routes.with_units, row["written"])))
    elif gets == "texts":
        expected = way(*row["written"])
    else:
        expected = way(*row["arguments"])
    result = row["result"]
    return near(result, expected, relative, absolute), f"{result} against {expected}"


def main():
    routes.load()
    if len(sys.argv) > 1:
        with open(sys.argv[1], encoding="utf-8") as file:
            rows = json.load(file)
    else:
        rows = json.load(sys.stdin)
    passed, failed, used = 0, 0, set()
    for row in rows:
        try:
            good, what = check(row, used)
        except Exception as error:  # a row that can't be computed is a failed row
            good, what = False, f"{type(error).__name__}: {error}"
        passed += good
        failed += not good
        call = f"{row['function']}({', '.join(row['written'])})"
        shown = call if len(call) < 120 else f"{call[:117]}..."
        print(f"{'pass' if good else 'FAIL'} {row['place']}: {shown}: {what}")
    for library, function in sorted(routes.ROUTES.keys() - used):
        failed += 1
        print(f"FAIL {function}: its route by {library} has no row")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed or not rows else 0


if __name__ == "__main__":
    sys.exit(main())
