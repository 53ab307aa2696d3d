"""Two versions side by side, from their files alone."""

import copy
import json
from decimal import Decimal

import pytest

from billing.quotes.comparison import compare
from billing.quotes.pricing_file import read_pricing_file
from billing.quotes.versions import Priced, side_by_side

FILE = {
    "currency": "USD",
    "start": "2026-03-02",
    "days": 28,
    "services": {
        "full": {"minutes": 60, "price": "95", "breaks": [{"from": 6, "price": "85"}]},
        "spot": {"minutes": 20, "price": "45"},
    },
    "call_out": {"amount": "30", "split": "horse"},
    "guideline": {"phases": [{"days": 28, "full_every": 3, "spots_per_day": 1}], "tolerance_days": 1},
    "horses": {"Willow": {"owner": "Delphine"}, "Maple": {"owner": "Corin"}},
    "options": [
        {
            "name": "Weekly",
            "horses": {
                "Willow": {"by": "visits", "phases": [{"days": 28, "full_every": 7}]},
                "Maple": {"by": "visits", "phases": [{"days": 28, "full_every": 7}]},
            },
        }
    ],
}


def priced(file):
    return Priced(file, compare(read_pricing_file(json.dumps(file).encode())))


def changed(**changes):
    file = copy.deepcopy(FILE)
    file.update(changes)
    return {
        (fact.group, fact.what): (fact.before, fact.after)
        for fact in side_by_side(priced(FILE), priced(file))
        if fact.is_changed
    }


def test_nothing_changed_is_nothing_to_say():
    assert changed() == {}


def test_a_dearer_session_is_named_with_what_the_options_come_to():
    services = {
        "full": {"minutes": 60, "price": "105", "breaks": [{"from": 6, "price": "85"}]},
        "spot": FILE["services"]["spot"],
    }
    assert changed(services=services) == {
        ("Prices", "Full body"): (Decimal(95), Decimal(105)),
        ("Weekly", "Total"): (Decimal("880.00"), Decimal("960.00")),
        ("Weekly", "Delphine at most"): (Decimal("500.00"), Decimal("540.00")),
        ("Weekly", "Corin at most"): (Decimal("500.00"), Decimal("540.00")),
    }


def test_a_break_that_goes_is_named_by_its_count():
    services = {"full": {"minutes": 60, "price": "95"}, "spot": FILE["services"]["spot"]}
    assert changed(services=services) == {("Prices", "Full body from 6"): (Decimal(85), None)}


@pytest.mark.parametrize(
    ("changes", "group", "what"),
    [
        ({"start": "2026-03-09"}, "Term", "Starts"),
        ({"days": 35}, "Term", "Days"),
        ({"call_out": {"amount": "30"}}, "Prices", "Call-out shared by"),
        ({"tax": {"rate": "7.25"}}, "Prices", "Tax in percent"),
        ({"budget": "900"}, "Prices", "Budget"),
        ({"hire": {"day": "60", "week": "300", "training": "120", "follow_up": "95"}}, "Prices", "Hire a week"),
    ],
)
def test_each_part_of_the_file_is_compared(changes, group, what):
    assert (group, what) in changed(**changes)


def test_an_option_that_came_and_one_that_went_are_said_whole():
    weekly = FILE["options"][0]
    found = changed(options=[{**weekly, "name": "Every seventh day"}])
    assert found["Weekly", "Total"] == (Decimal("880.00"), None)
    assert found["Every seventh day", "Total"] == (None, Decimal("880.00"))


def test_a_horse_with_another_rhythm_is_named():
    weekly = copy.deepcopy(FILE["options"][0])
    weekly["horses"]["Maple"]["phases"][0]["full_every"] = 14
    found = changed(options=[weekly])
    assert found["Weekly", "Rhythm of Maple"] == (None, "28 days: a full body every 14 days")


def test_a_difference_is_counted_only_between_two_amounts():
    facts = {
        (fact.group, fact.what): fact
        for fact in side_by_side(priced(FILE), priced({**FILE, "days": 14, "budget": "9"}))
    }
    assert facts["Weekly", "Total"].more == Decimal("-440.00")
    assert facts["Term", "Days"].more is None
    assert facts["Prices", "Budget"].more is None
    assert {facts["Weekly", "Total"].kind, facts["Term", "Starts"].kind, facts["Term", "Days"].kind} == {
        "money",
        "day",
        "words",
    }
