"""Compares civil times across zones with `zoneinfo`, the time zones of Python's own library.

Reads JSON on standard input: one row a time, with its zone, the first and the last second since
1970-01-01 00:00 UTC that it may mean, and whether the clocks showed it twice, never, or not with the offset
written. Prints what disagrees and ends with `N passed, M failed`; the exit status is 1 when any failed.
"""

import json
import sys
from datetime import datetime, timedelta, timezone
from zoneinfo import ZoneInfo

UTC = timezone.utc


def instants(local, zone):
    """Both instants that a local time may mean, and what is doubtful about it."""
    first, second = (local.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    shown = [aware.astimezone(UTC).astimezone(zone).replace(tzinfo=None) == local for aware in (first, second)]
    if first.utcoffset() == second.utcoffset():
        return first.timestamp(), second.timestamp(), "none"
    # Both read as they were written: shown twice. Neither does: never shown, and the instant is taken with
    # the offset before the change.
    doubt = "repeated" if all(shown) else "skipped"
    return first.timestamp(), second.timestamp() if all(shown) else first.timestamp(), doubt


def expected(row):
    zone, parts = ZoneInfo(row["zone"]), row["text"].split()
    if len(parts) == 1:
        midnight = datetime.fromisoformat(parts[0])
        start, _, _ = instants(midnight, zone)
        _, end, _ = instants(midnight + timedelta(hours=23, minutes=59, seconds=59), zone)
        return start, end, "none"
    local = datetime.fromisoformat(f"{parts[0]} {parts[1]}")
    length = 0 if parts[1].count(":") == 2 else 59
    if len(parts) == 3:
        aware = datetime.fromisoformat(f"{parts[0]} {parts[1]}{parts[2]}")
        own = {local.replace(tzinfo=zone, fold=fold).utcoffset() for fold in (0, 1)}
        doubt = "none" if aware.utcoffset() in own else "other-offset"
        return aware.timestamp(), aware.timestamp() + length, doubt
    start, end, doubt = instants(local, zone)
    return start, end + length, doubt


def main():
    passed = failed = 0
    for row in json.load(sys.stdin):
        start, end, doubt = expected(row)
        if (row["earliest"], row["latest"], row["doubt"]) == (start, end, doubt):
            passed += 1
        else:
            failed += 1
            print(f"{row}: expected {start:.0f} {end:.0f} {doubt}")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
