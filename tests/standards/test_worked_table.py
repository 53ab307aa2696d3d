"""The worked table: invented prices, every figure countable by hand (common practice, no published source)."""

import json
from decimal import Decimal
from pathlib import Path

import pytest

from billing.quotes.hire_against import side_by_side
from billing.quotes.pricing_file import price_file, read_pricing_file

FILE = Path(__file__).parent.parent / "billing" / "quotes" / "worked_table.json"

# name, visits, hands-on minutes, alone, shared by three horses, whole percent of the guideline covered
TABLE = [
    ("One full body, then 9 daily spots", 10, 240, "800.00", "600.00", 10),
    ("Full body every third day", 10, 600, "1250.00", "1050.00", 62),
    ("Full body every third day, a spot on every day between", 28, 960, "2600.00", "2040.00", 100),
    ("Weekly full body", 4, 240, "500.00", "420.00", 25),
    ("Monthly full body", 1, 60, "125.00", "105.00", 6),
    ("Hire for four weeks", 3, 0, "1600.00", "1540.00", 100),
]
FRACTIONS = ["5/48", "5/8", "1/1", "1/4", "1/16", "1/1"]


@pytest.fixture(scope="module")
def answer():
    return json.loads(price_file(FILE.read_bytes(), json=True))


@pytest.mark.parametrize(("place", "row"), list(enumerate(TABLE)))
def test_each_row_of_the_table_is_priced_as_by_hand(answer, place, row):
    name, visits, minutes, alone, shared, percent = row
    option = answer["options"][place]
    assert option["name"] == name
    assert (option["visits"], option["minutes"]) == (visits, minutes)
    assert (option["total"], option["total_as_booked"]) == (alone, shared)
    numerator, denominator = map(int, option["covered"].split("/"))
    assert numerator * 100 // denominator == percent
    assert option["covered"] == FRACTIONS[place]


@pytest.mark.parametrize(("place", "row"), list(enumerate(TABLE)))
def test_three_horses_in_one_quote_pay_three_times_the_shared_price(place, row):
    request = json.loads(FILE.read_text())
    del request["others"], request["budget"]
    plan = request["options"][place]["horses"]["A"]
    request["horses"] = {name: {"owner": "One"} for name in "ABC"}
    request["options"] = [{"name": "shared", "horses": dict.fromkeys("ABC", plan)}]
    option = json.loads(price_file(json.dumps(request).encode(), json=True))["options"][0]
    assert {horse["total"] for horse in option["horses"].values()} == {row[4]}
    assert option["visits"] == row[1]


def test_hire_is_the_cheaper_choice_from_13_full_body_or_22_spot_visits_alone(answer):
    assert "A: Hire costs less from 13 full-body or 22 spot visits alone." in answer["options"][5]["notices"]


def test_the_owners_own_time_is_counted_for_the_hire(answer):
    assert answer["options"][5]["owner_minutes"] == 960
    assert [option["owner_minutes"] for option in answer["options"][:5]] == [0] * 5


def test_what_is_paid_when_adds_up_to_each_total(answer):
    for option in answer["options"]:
        assert sum(Decimal(payment["amount"]) for payment in option["payments"]) == Decimal(option["total"])
    assert [(payment["what"], payment["amount"]) for payment in answer["options"][5]["payments"]] == [
        ("Hire of the machine", "1200.00"),
        ("Training visit", "150.00"),
        ("Follow-up visit", "125.00"),
        ("Follow-up visit", "125.00"),
    ]


def test_the_hire_against_the_guideline_and_against_full_bodies_only():
    request = read_pricing_file(FILE.read_bytes())
    _first, full_bodies, whole, *_others, hire = request.options
    found = side_by_side(request, whole, hire)
    assert (found.visits.total, found.hire.total, found.rows[8].hire) == (Decimal(2600), Decimal(1600), 960)
    assert [(even.full, even.spot) for even in found.break_evens] == [(13, 22)]
    # 1,250 less 400 for training, check visits and call-outs leaves 850: two weeks and four days are 840.
    assert side_by_side(request, full_bodies, hire).days_of_hire == 18
