"""`python -m tests.no_skips REPORT…`: exit status 1 if a test was skipped in every run, for want of a tool.

Reads the suite's JUnit reports. Only one reason is good: the design data beside the project is not part of it.
"""

import sys
import xml.etree.ElementTree as ElementTree

GOOD_REASON = "../shared"


def read(report: str) -> tuple[dict[str, str], set[str]]:
    """(test → why it was skipped, the tests that ran) of one report."""
    skipped, ran = {}, set()
    for case in ElementTree.parse(report).iter("testcase"):
        name, skip = f"{case.get('classname')}::{case.get('name')}", case.find("skipped")
        if skip is None:
            ran.add(name)
        elif GOOD_REASON not in (skip.get("message") or ""):
            skipped[name] = skip.get("message") or "no reason"
    return skipped, ran


def main(reports: list[str]) -> int:
    read_all = [read(report) for report in reports]
    ran = {name for _, names in read_all for name in names}
    never = {name: why for skipped, _ in read_all for name, why in skipped.items() if name not in ran}
    for name, why in sorted(never.items()):
        print(f"{name}: {why}")
    print(f"{len(never)} tests ran in no run.")
    return 1 if never else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
