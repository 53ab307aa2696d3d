"""`python -m tests.no_skips REPORT…`: exit status 1 if a test was skipped in every run, for want of a tool.

Reads the suite's JUnit reports. Only one reason is good: the design data beside the project is not part of it.
"""

import sys
import xml.etree.ElementTree as ElementTree

GOOD_REASON = "../shared"


def skipped(report: str) -> dict[str, str]:
    """Test name → reason, of every test of the report that did not run."""
    found = {}
    for case in ElementTree.parse(report).iter("testcase"):
        skip = case.find("skipped")
        if skip is not None and GOOD_REASON not in (skip.get("message") or ""):
            found[f"{case.get('classname')}::{case.get('name')}"] = skip.get("message") or "no reason"
    return found


def main(reports: list[str]) -> int:
    runs = [skipped(report) for report in reports]
    everywhere = set.intersection(*(set(run) for run in runs)) if runs else set()
    for name in sorted(everywhere):
        print(f"{name}: {runs[0][name]}")
    print(f"{len(everywhere)} tests were skipped in every run.")
    return 1 if everywhere else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
