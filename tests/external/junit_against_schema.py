"""Holds test reports against the published XML Schema of the JUnit form.

Reads a JSON list of reports on standard input. Each must be valid by `tests/schemas/junit-10.xsd`, and the counts in
its attributes must be those of its elements. A report that is known to be wrong must be refused. Ends with
`N passed, M failed`; the exit status is 1 when any failed.
"""

import json
import sys
import xml.etree.ElementTree as tree
from pathlib import Path

import xmlschema

SCHEMA = xmlschema.XMLSchema10(str(Path(__file__).parent.parent / "schemas" / "junit-10.xsd"))
WRONG = '<testsuites><testsuite name="a" tests="1" failures="0"><testcase/></testsuite></testsuites>'


def complaint(report: str) -> str:
    """What is wrong with a report; empty for nothing."""
    root = tree.fromstring(report)
    for error in SCHEMA.iter_errors(root):
        return f"{error.path}: {error.reason}"
    for suite in root.iter("testsuite"):
        counted = {
            "tests": len(suite.findall("testcase")),
            "failures": len(suite.findall("testcase/failure")),
            "errors": len(suite.findall("testcase/error")),
            "skipped": len(suite.findall("testcase/skipped")),
        }
        for name, count in counted.items():
            if int(suite.get(name)) != count:
                return f"{suite.get('name')}: {name} is {suite.get(name)}, found {count}"
    for name in ("tests", "failures", "errors"):
        total = sum(int(suite.get(name)) for suite in root.iter("testsuite"))
        if int(root.get(name)) != total:
            return f"{name} is {root.get(name)}, found {total}"
    return ""


def main() -> int:
    passed = failed = 0
    try:
        refused = bool(complaint(WRONG))
    except TypeError:
        refused = True
    rows = [("a wrong report", "" if refused else "it is not refused")]
    reports = json.load(sys.stdin)
    rows += [(f"report {index}", complaint(report)) for index, report in enumerate(reports)]
    for name, wrong in rows:
        passed += not wrong
        failed += bool(wrong)
        print(f"{name}: {wrong or 'valid'}")
    print(f"{passed} passed, {failed} failed")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
