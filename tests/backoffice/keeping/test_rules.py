from datetime import date

import pytest

from backoffice.keeping.kinds import KINDS
from backoffice.keeping.rules import Held, Rule, judge


def held(**changes) -> Held:
    fields = {"kind": "form", "words": "Consent", "counted": date(2020, 2, 29), "told": {}, "empty": lambda: None}
    return Held(**{**fields, **changes})


@pytest.mark.parametrize(
    ("on", "stays"),
    [(date(2026, 2, 28), True), (date(2026, 3, 1), False), (date(2020, 3, 1), True)],
)
def test_the_years_count_from_their_day_and_the_last_day_is_kept(on, stays):
    [verdict] = judge([held()], {"form": Rule(6, "The insurer says so.")}, on)
    assert verdict.stays is stays
    assert verdict.why == ("The insurer says so." if stays else "")


def test_no_years_keep_nothing():
    [verdict] = judge([held(counted=date(2026, 3, 2))], {"form": Rule(0, "Nothing needs it.")}, date(2026, 3, 2))
    assert not verdict.stays


def test_what_is_bound_stays_whatever_the_years_say():
    [verdict] = judge([held(bound="It is another person's.")], {"form": Rule(0, "")}, date(2090, 1, 1))
    assert (verdict.stays, verdict.until, verdict.why) == (True, None, "It is another person's.")


def test_every_kind_starts_with_a_reason():
    assert all(kind.why and kind.counted_from and len(kind.name) <= 12 for kind in KINDS)
