"""The calculator's file: what it may leave out, and every error by its place."""

import copy
import json
import subprocess
import sys

import pytest

from billing.quotes.pricing_file import price_file, read_pricing_file
from billing.quotes.reading import WrongFile

FILE = {
    "currency": "USD",
    "start": "2026-03-02",
    "days": 28,
    "services": {
        "full": {"minutes": 60, "price": "95.00", "breaks": [{"from": 6, "price": "85.00"}]},
        "spot": {"minutes": 20, "price": "45.00"},
    },
    "call_out": {"amount": "30.00", "split": "horse"},
    "hire": {
        "day": "60.00",
        "week": "300.00",
        "training": "120.00",
        "follow_up": "95.00",
        "delivery": "0.00",
        "deposit": "200.00",
    },
    "guideline": {
        "phases": [{"days": 28, "full_every": 3, "spots_per_day": 1}],
        "tolerance_days": 1,
        "spot_needs_full_within": 3,
    },
    "tax": {"rate": "0", "rounding": "total", "included": False},
    "horses": {"A": {"owner": "One"}, "B": {"owner": "Two"}},
    "others": [{"date": "2026-03-02", "owner": "Three", "horses": 2}],
    "options": [
        {
            "name": "Every third day",
            "horses": {
                "A": {
                    "by": "visits",
                    "phases": [{"days": 28, "full_every": 3}],
                    "days_off": ["SU", "2026-03-17"],
                    "on_day_off": "next",
                },
                "B": {
                    "by": "hire",
                    "follow_ups": 2,
                    "phases": [{"days": 28, "full_every": 3, "spots_per_day": 1}],
                },
            },
        }
    ],
    "budget": "1300.00",
}
MISSING = object()


def changed(*changes):
    file = copy.deepcopy(FILE)
    for path, value in changes:
        place = file
        for key in path[:-1]:
            place = place[key]
        if value is MISSING:
            del place[path[-1]]
        else:
            place[path[-1]] = value
    return json.dumps(file).encode()


def errors(content):
    with pytest.raises(WrongFile) as caught:
        read_pricing_file(content)
    return list(caught.value.errors)


def answer(content):
    return json.loads(price_file(content, json=True))


def test_the_example_of_the_format_is_priced():
    result = answer(changed())
    option = result["options"][0]
    assert set(option) == {
        "name", "total", "total_as_booked", "per_week", "visits", "minutes", "owner_minutes", "covered",
        "full_bodies", "spots", "longest_gap", "frontier", "lines", "owners", "horses", "notices", "sessions",
        "payments",
    }  # fmt: skip
    assert option["total"] == "2575.00"
    assert option["total_as_booked"] == "2560.00"
    assert option["per_week"] == "643.75"
    assert option["covered"] == "25/32"
    assert (option["full_bodies"], option["spots"]) == ("19 of 20", "18 of 36")
    assert option["owners"] == {"One": "1005.00", "Two": "1570.00"}
    assert option["horses"]["B"] == {
        "sessions": "0.00",
        "call_out": "60.00",
        "hire": "1510.00",
        "total": "1570.00",
    }
    assert option["sessions"]["A"][2] == ["2026-03-09", "full", "us"]
    assert option["sessions"]["B"][:2] == [["2026-03-02", "training", "us"], ["2026-03-02", "full", "owner"]]


def test_all_that_may_be_left_out_can_be_left_out():
    plan = {"by": "visits", "phases": [{"days": 28, "full_every": 7}]}
    least = {
        "currency": "USD",
        "start": "2026-03-02",
        "days": 28,
        "services": {"full": {"minutes": 60, "price": "95"}},
        "call_out": {"amount": "30"},
        "horses": {"A": {"owner": "One"}, "B": {"owner": "Two"}},
        "options": [{"name": "Weekly", "horses": {"A": plan, "B": plan}}],
    }
    result = answer(json.dumps(least).encode())
    assert result["best"] is None
    option = result["options"][0]
    assert (option["total"], option["visits"]) == ("1000.00", 4)
    assert (option["covered"], option["full_bodies"], option["spots"]) == (None, None, None)
    assert option["frontier"] is True


def test_a_budget_gives_the_best_within_it():
    best = answer(changed())["best"]
    assert (best["name"], best["total"], best["covered"]) == ("Full body every 5 days", "1200.00", "3/8")
    assert best["next_better"]["name"] == "Full body every 4 days"
    assert answer(changed((("budget",), "10.00")))["best"]["name"] is None


PHASE = ("options", 0, "horses", "A", "phases", 0)
PLACE = "options[0].horses.A.phases[0]"


@pytest.mark.parametrize(
    ("path", "value", "error"),
    [
        ((*PHASE, "days"), 0, f"{PLACE}.days: at least 1"),
        ((*PHASE, "days"), 3661, f"{PLACE}.days: at most 3660"),
        ((*PHASE, "days"), "28", f"{PLACE}.days: must be a whole number"),
        ((*PHASE, "days"), 28.0, f"{PLACE}.days: must be a whole number"),
        ((*PHASE, "days"), True, f"{PLACE}.days: must be a whole number"),
        ((*PHASE, "days"), 10**40, f"{PLACE}.days: must be a whole number"),
        ((*PHASE, "days"), MISSING, f"{PLACE}.days: missing"),
        ((*PHASE, "full_every"), 0, f"{PLACE}.full_every: at least 1"),
        ((*PHASE, "full_rule"), "FREQ=DAILY", f"{PLACE}: full_every or full_rule, not both"),
        ((*PHASE, "spots_per_day"), 3, f"{PLACE}.spots_per_day: at most 2"),
        ((*PHASE, "every"), 3, f"{PLACE}.every: unknown"),
        (PHASE, [], f"{PLACE}: must be an object in braces"),
        (PHASE[:-1], {}, "options[0].horses.A.phases: must be a list in brackets"),
        (PHASE[:-1], [], "options[0].horses.A.phases: at least 1"),
        ((*PHASE[:-2], "by"), "post", 'options[0].horses.A.by: must be "visits" or "hire"'),
        ((*PHASE[:-2], "by"), MISSING, "options[0].horses.A.by: missing"),
        ((*PHASE[:-2], "follow_ups"), 2, "options[0].horses.A.follow_ups: only for a hire"),
        (
            (*PHASE[:-2], "days_off", 1),
            "someday",
            "options[0].horses.A.days_off[1]: "
            "must be a weekday such as SU, a date such as 2026-03-17 or a calendar such as holidays US",
        ),
        ((*PHASE[:-2], "days_off", 0), 7, "options[0].horses.A.days_off[0]: must be text in quotes"),
        (
            (*PHASE[:-2], "on_day_off"),
            "skip",
            'options[0].horses.A.on_day_off: must be "keep" or "next" or "drop"',
        ),
        (("options", 0, "horses", "B", "follow_ups"), 29, "options[0].horses.B.follow_ups: at most 28"),
        (
            ("options", 0, "horses", "B"),
            MISSING,
            "options[0].horses.B: missing: an option names every horse",
        ),
        (
            ("options", 0, "horses", "Sea Fret"),
            {"by": "visits", "phases": [{"days": 1}]},
            'options[0].horses["Sea Fret"]: not one of the horses',
        ),
        (("options", 0, "name"), "", "options[0].name: must not be empty"),
        (("options", 0, "name"), "x" * 201, "options[0].name: at most 200 characters"),
        (("options",), [], "options: at least 1"),
        (("currency",), "XYZ", "currency: must be an ISO 4217 code such as USD"),
        (("currency",), 840, "currency: must be text in quotes"),
        (("start",), "2026-02-30", "start: must be a date such as 2026-03-02"),
        (("start",), "02/03/2026", "start: must be a date such as 2026-03-02"),
        (("start",), 20260302, "start: must be text in quotes"),
        (("start",), "1066-10-14", "start: must be from 1900-01-01 to 2200-12-31"),
        (("days",), 0, "days: at least 1"),
        (("days",), 4000, "days: at most 3660"),
        (("days",), MISSING, "days: missing"),
        (("services", "full", "minutes"), 900, "services.full.minutes: at most 600"),
        (("services", "full", "price"), "-95.00", "services.full.price: must not be negative"),
        (("services", "full", "price"), "95.001", "services.full.price: at most 2 decimals in USD"),
        (
            ("services", "full", "price"),
            95.0,
            'services.full.price: must be a number in quotes such as "95", below a billion',
        ),
        (
            ("services", "full", "price"),
            "1e9",
            'services.full.price: must be a number in quotes such as "95", below a billion',
        ),
        (
            ("services", "full", "price"),
            "9" * 40,
            'services.full.price: must be a number in quotes such as "95", below a billion',
        ),
        (("services", "full", "breaks", 0, "from"), 1, "services.full.breaks[0].from: at least 2"),
        (
            ("services", "full", "breaks", 0, "price"),
            "96.00",
            "services.full.breaks[0].price: at most 95.00, the price before it",
        ),
        (("services", "massage"), {}, "services.massage: unknown"),
        (("services", "spot"), MISSING, "services.spot: missing, and guideline.phases[0] needs it"),
        (("hire",), MISSING, "hire: missing, and options[0].horses.B needs it"),
        (("hire", "week"), MISSING, "hire.week: missing"),
        (("call_out", "split"), "half", 'call_out.split: must be "none" or "horse" or "owner"'),
        (("tax", "rate"), "101", "tax.rate: at most 100"),
        (("tax", "included"), "no", "tax.included: must be true or false"),
        (("guideline", "tolerance_days"), -1, "guideline.tolerance_days: at least 0"),
        (("guideline", "phases"), [{"days": 5}], "guideline.phases: no session falls within the term"),
        (("horses", "A", "owner"), "", "horses.A.owner: must not be empty"),
        (("horses", "A"), "One", "horses.A: must be an object in braces"),
        (("others", 0, "horses"), 0, "others[0].horses: at least 1"),
        (("others", 0, "date"), "soon", "others[0].date: must be a date such as 2026-03-02"),
        (("budget",), 1300, 'budget: must be a number in quotes such as "95", below a billion'),
        (("color",), "red", "color: unknown"),
    ],
)
def test_each_error_is_told_by_its_place(path, value, error):
    assert errors(changed((path, value))) == [error]


def test_every_error_of_a_file_is_told_at_once():
    content = changed(
        (("days",), 0),
        (("services", "full", "price"), "-1"),
        ((*PHASE, "days"), 0),
        (("options", 0, "horses", "B", "by"), "mail"),
        (("budget",), None),
    )
    assert [error.partition(":")[0] for error in errors(content)] == [
        "days",
        "services.full.price",
        f"{PLACE}.days",
        "options[0].horses.B.by",
        "budget",
    ]


def test_a_rule_that_cannot_be_read_says_why():
    content = changed(((*PHASE, "full_every"), MISSING), ((*PHASE, "full_rule"), "FREQ=HOURLY"))
    assert errors(content) == [f"{PLACE}.full_rule: not a rule by days: FREQ must be DAILY, WEEKLY, MONTHLY or YEARLY"]


def test_a_rule_that_never_ends_is_fine_since_its_phase_ends_it():
    content = changed(((*PHASE, "full_every"), MISSING), ((*PHASE, "full_rule"), "FREQ=WEEKLY;BYDAY=TU"))
    assert len(answer(content)["options"][0]["sessions"]["A"]) == 4


def test_two_options_of_one_name_are_told():
    file = json.loads(changed())
    file["options"].append(file["options"][0])
    assert errors(json.dumps(file).encode()) == ["options[1].name: already the name of options[0]"]


def test_a_key_that_stands_twice_is_told():
    content = changed().replace(b'"A": {"owner": "One"}', b'"A": {"owner": "One"}, "A": {"owner": "Two"}')
    assert errors(content) == ["horses.A: stands twice"]


@pytest.mark.parametrize(
    ("content", "start"),
    [
        (b"", "line 1, column 1: not JSON"),
        (b'{"currency": "USD",\n "start" 5}', "line 2, column 10: not JSON"),
        (b"[1, 2]", "file: must be an object in braces"),
        (b"null", "file: must be an object in braces"),
        (b"\xff\xfe\x00", "file: not UTF-8 text at byte 0"),
        (b"[" * 200_000, "file: nested too deeply"),
        (b" " * 5_000_001, "file: at most 5000000 bytes"),
    ],
)
def test_what_is_not_a_pricing_file_is_told(content, start):
    assert errors(content)[0].startswith(start)


def test_numbers_that_are_none_are_told():
    content = changed().replace(b'"days": 28, "services"', b'"days": NaN, "services"')
    assert errors(content) == ["days: must be a whole number"]


def test_a_byte_order_mark_and_names_in_any_script_are_fine():
    file = json.loads(changed())
    file["horses"] = {"مهرة 🐎": {"owner": "<script>"}}
    file["options"][0]["horses"] = {"مهرة 🐎": file["options"][0]["horses"]["A"]}
    content = b"\xef\xbb\xbf" + json.dumps(file, ensure_ascii=False).encode()
    assert answer(content)["options"][0]["owners"] == {"<script>": "1035.00"}
    assert "مهرة 🐎" in price_file(content)


def test_yen_have_no_decimals():
    assert "services.full.price: at most 0 decimals in JPY" in errors(changed((("currency",), "JPY")))


def test_the_table_shows_the_same_figures_as_the_json():
    table, option = price_file(changed()), answer(changed())["options"][0]
    row = next(line for line in table.splitlines() if "Every third day" in line)
    for figure in ("total", "total_as_booked", "per_week", "full_bodies", "spots"):
        assert option[figure] in row
    assert "78 %" in row
    assert "One 1005.00 (at most 1035.00)" in table
    assert table.endswith("Not a substitute for veterinary care.")


def test_pricing_needs_no_framework():
    code = "import sys, billing.quotes.pricing_file; sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
