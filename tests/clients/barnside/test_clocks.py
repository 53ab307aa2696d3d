"""When something happened, by a clock that may be wrong."""

from datetime import UTC, datetime, timedelta

import pytest

from clients.barnside.clocks import happened

NOW = datetime(2026, 3, 2, 18, 0, tzinfo=UTC)
DAY, HOUR, NONE = timedelta(days=1), timedelta(hours=1), timedelta(0)


@pytest.mark.parametrize(
    ("device_at", "offset", "drift", "wanted"),
    [
        (NOW - HOUR, NONE, NONE, NOW - HOUR),  # a right clock
        (NOW - HOUR - DAY, DAY, DAY, NOW - HOUR),  # a day slow, and known
        (NOW - HOUR + DAY, -DAY, -DAY, NOW - HOUR),  # a day fast, and known
        (NOW - HOUR + DAY, NONE, -DAY, NOW - HOUR),  # set wrong after it was last known: the drift on sending tells
        (NOW + DAY, NONE, NONE, NOW),  # the future, and nothing tells: the moment it came
        (NOW - timedelta(days=900), NONE, NONE, NOW),  # no battery since 2023
    ],
)
def test_the_moment_is_set_right_by_what_is_known(device_at, offset, drift, wanted):
    assert happened(device_at, offset, drift, NOW) == wanted
