"""The keys that the calculator's file may add: what each means, and every error by its place."""

import json

import pytest

from billing.quotes.pricing_file import read_pricing_file
from tests.billing.quotes.test_pricing_file import answer, changed, errors

PLAN = ("options", 0, "horses", "A")
HIRED = ("options", 0, "horses", "B")
BANDS = {
    "bands": [{"to": "10", "amount": "20.00"}, {"to": "25.5", "amount": "35.00"}, {"amount": "60.00"}],
    "distance": "18.4",
    "split": "horse",
}
RADIUS = {"free": "10", "per_unit": "1.50", "distance": "18.4"}
PACKAGE = {"name": "ten", "price": "800.00", "sessions": {"full": 10}, "days": 180}
NUMBER = 'must be a number in quotes such as "95", below a billion'
DAY_OFF = "must be a weekday such as SU, a date such as 2026-03-17 or a calendar such as holidays US"
ALONE = "must be a horse of this option that hires a machine of its own"
MONTHLY = {"name": "two", "price": "170.00", "sessions": {"full": 2}, "beyond": {"full": "85.00"}}


def call_out(value):
    return read_pricing_file(changed((("call_out",), value))).call_out.amount


@pytest.mark.parametrize(
    ("value", "amount"),
    [
        (BANDS, "35.00"),
        ({**BANDS, "distance": "10"}, "20.00"),
        ({**BANDS, "distance": "25.501"}, "60.00"),
        ({**BANDS, "minimum": "36"}, "36.00"),
        (RADIUS, "12.60"),
        ({**RADIUS, "distance": "10"}, "0.00"),
        ({**RADIUS, "minimum": "12.61"}, "12.61"),
        ({**RADIUS, "minimum": "12.59"}, "12.60"),
        ({"amount": "30", "minimum": "40"}, "40.00"),
    ],
)
def test_each_kind_of_call_out_is_one_amount_a_stop(value, amount):
    assert str(call_out(value)) == amount


@pytest.mark.parametrize(
    ("value", "told"),
    [
        (
            {**BANDS, "bands": BANDS["bands"][:2], "distance": "25.6"},
            ["distance: beyond the last band, which ends at 25.5"],
        ),
        ({**BANDS, "bands": []}, ["bands: at least 1"]),
        (
            {**BANDS, "bands": BANDS["bands"][::-1]},
            ["bands[1]: stands after a band without an end", "bands[2].to: more than 25.5"],
        ),
        ({**BANDS, "bands": [{"to": "10", "amount": "1"}, {"to": "10", "amount": "2"}]}, ["bands[1].to: more than 10"]),
        ({**BANDS, "amount": "5"}, ["amount: unknown"]),
        ({**BANDS, "distance": 18}, [f"distance: {NUMBER}"]),
        ({"bands": BANDS["bands"]}, ["distance: missing"]),
        ({"free": "10", "distance": "3"}, ["per_unit: missing"]),
        ({**RADIUS, "distance": "-1"}, ["distance: must not be negative"]),
        ({**RADIUS, "minimum": "-1"}, ["minimum: must not be negative"]),
        ({}, ["amount: missing"]),
    ],
)
def test_a_wrong_call_out_is_told_by_its_place(value, told):
    assert errors(changed((("call_out",), value))) == [f"call_out.{each}" for each in told]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ([("packages", [PACKAGE, PACKAGE])], "packages[1].name: the name of another one"),
        ([("packages", [{**PACKAGE, "sessions": {}}])], "packages[0].sessions: at least one session"),
        ([("packages", [{**PACKAGE, "sessions": {"full": 0}}])], "packages[0].sessions.full: at least 1"),
        ([("packages", [{**PACKAGE, "sessions": {"wash": 1}}])], "packages[0].sessions.wash: unknown"),
        ([("packages", [{**PACKAGE, "days": 0}])], "packages[0].days: at least 1"),
        ([("packages", [{"name": "ten", "price": "1"}])], "packages[0].sessions: missing"),
        ([("packages", {})], "packages: must be a list in brackets"),
        ([("monthly", [MONTHLY, MONTHLY])], "monthly[1].name: the name of another one"),
        ([("monthly", [{**MONTHLY, "beyond": {"full": 5}}])], f"monthly[0].beyond.full: {NUMBER}"),
        ([("monthly", [{**MONTHLY, "beyond": []}])], "monthly[0].beyond: must be an object in braces"),
        ([("booking_deposit", {})], "booking_deposit: percent or amount, one of the two"),
        (
            [("booking_deposit", {"percent": "10", "amount": "10"})],
            "booking_deposit: percent or amount, one of the two",
        ),
        ([("booking_deposit", {"percent": "101"})], "booking_deposit.percent: at most 100"),
        ([("budget", {})], "budget.amount: missing"),
        ([("budget", {"amount": "9", "visits_per_week": 22})], "budget.visits_per_week: at most 21"),
        ([("budget", {"amount": "9", "visits_per_week": None})], "budget.visits_per_week: must be a whole number"),
        ([("budget", {"amount": "9", "owner_minutes_per_day": -1})], "budget.owner_minutes_per_day: at least 0"),
        ([("budget", {"amount": "9", "days_off": ["X"]})], f"budget.days_off[0]: {DAY_OFF}"),
        ([("budget", {"amount": "9", "on_day_off": "skip"})], 'budget.on_day_off: must be "keep" or "next" or "drop"'),
        ([("hire.collection", "-1")], "hire.collection: must not be negative"),
        ([("options.0.discount", {"percent": "10"})], "options[0].discount.reason: missing"),
        ([("options.0.discount", {"reason": "so"})], "options[0].discount: percent or amount, one of the two"),
        ([("options.0.packages", {"Nobody": []})], "options[0].packages.Nobody: not one of the owners"),
        ([("options.0.packages", {"One": ["ten"]})], "options[0].packages.One[0]: not one of the packages"),
        ([("options.0.packages", {"One": "ten"})], "options[0].packages.One: must be a list in brackets"),
        ([("options.0.horses.A.monthly", "two")], "options[0].horses.A.monthly: not one of the monthly plans"),
        (
            [("monthly", [MONTHLY]), ("options.0.horses.B.monthly", "two")],
            "options[0].horses.B.monthly: only for visits",
        ),
        ([("options.0.horses.A.shift", -1)], "options[0].horses.A.shift: at least 0"),
        ([("options.0.horses.A.shift", 28)], "options[0].horses.A.shift: at most 27"),
        ([("options.0.horses.A.with", "B")], "options[0].horses.A.with: only for a hire"),
        (
            [("options.0.horses.B.follow_ups", 0), ("options.0.horses.B.with", "A")],
            f"options[0].horses.B.with: {ALONE}",
        ),
        (
            [("options.0.horses.B.follow_ups", 0), ("options.0.horses.B.with", "B")],
            f"options[0].horses.B.with: {ALONE}",
        ),
    ],
)
def test_each_error_is_told_by_its_place(changes, told):
    steps = [(tuple(int(key) if key.isdigit() else key for key in path.split(".")), value) for path, value in changes]
    assert errors(changed(*steps)) == [told]


def test_follow_ups_are_set_with_the_horse_whose_machine_it_is():
    file = json.loads(changed())
    file["options"][0]["horses"]["A"] = {**file["options"][0]["horses"]["B"], "with": "B"}
    told = "options[0].horses.A.follow_ups: set with B, whose machine this is"
    assert errors(json.dumps(file).encode()) == [told]
    file["options"][0]["horses"]["A"]["follow_ups"] = 0
    option = answer(json.dumps(file).encode())["options"][0]
    assert [option["horses"][name]["hire"] for name in "AB"] == ["755.00", "755.00"]


def test_every_added_key_is_priced():
    content = changed(
        (("packages",), [PACKAGE]),
        (("monthly",), [MONTHLY]),
        (("booking_deposit",), {"percent": "25"}),
        (("hire", "collection"), "40.00"),
        (("options", 0, "packages"), {"One": ["ten"]}),
        (("options", 0, "discount"), {"amount": "50.00", "reason": "two horses"}),
        ((*PLAN, "monthly"), "two"),
        ((*PLAN, "shift"), 1),
        (("budget",), {"amount": "1300", "visits_per_week": 2, "days_off": ["SU"], "on_day_off": "drop"}),
    )
    option = answer(content)["options"][0]
    assert {line["what"]: line.get("name") for line in option["lines"]} == {
        "monthly": "two",
        "call_out": None,
        "rent": None,
        "training": None,
        "follow_up": None,
        "collection": None,
        "package": "ten",
        "discount": "two horses",
    }
    assert option["payments"][0]["on"] is None
    assert sum(float(each["amount"]) for each in option["payments"]) == pytest.approx(float(option["total"]))
    assert set(option["horses"]["A"]) == {"sessions", "call_out", "hire", "discount", "total"}
    assert sum(float(horse["discount"]) for horse in option["horses"].values()) == -50
    assert option["sessions"]["A"][0][0] == "2026-03-03"


def test_a_package_without_a_name_is_one_error():
    assert errors(changed((("packages",), [{"price": "1", "sessions": {"full": 1}}]))) == ["packages[0].name: missing"]
