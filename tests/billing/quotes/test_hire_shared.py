"""One machine hired for several horses, and its collection."""

from dataclasses import replace

import pytest

from billing.money.call_out import CallOut, Split
from billing.quotes.comparison import compare
from tests.billing.quotes.requests import HIRE, MONTHLY, WITH_SPOTS, D, hire, option, request, visits

RATES = replace(HIRE, deposit=D("200.00"), collection=D("25.00"))
BOTH = (hire(WITH_SPOTS), hire(MONTHLY, follow_ups=0, machine_of="A"))


def measured(*plans, **changes):
    return compare(request(option("one", *plans), **{"owners": ("One", "One"), "hire": RATES, **changes})).options[0]


def money(result):
    return {horse.name: str(horse.money.total) for horse in result.horses}


def test_collection_is_a_stop_with_a_call_out_on_the_last_day():
    result = measured(hire(WITH_SPOTS), owners=("One",))
    assert (result.visits, result.total) == (4, D("1600.00") + 55)
    last = [(session.on.day, session.kind, by) for session, by in result.horses[0].days.in_order()][-2:]
    assert last == [(29, "full", "owner"), (29, "collection", "us")]
    assert result.lines[-1].what == "collection"


def test_one_machine_is_one_rent_one_training_and_one_deposit():
    result = measured(*BOTH)
    assert (result.total, result.visits, result.deposit) == (D("1655.00"), 4, D("200.00"))
    assert money(result) == {"A": "827.50", "B": "827.50"}
    assert sum("deposit" in notice for notice in result.notices) == 1
    assert result.owner_minutes == 960 + 60


@pytest.mark.parametrize(
    ("split", "parts"),
    [
        # Rent 400.00 each, training 40.00, four call-outs of 10.00, two follow-ups of 31.67 (C 31.66), collection 8.34.
        (Split.HORSE, {"A": "551.68", "B": "551.67", "C": "551.65"}),
        (Split.NONE, {"A": "551.68", "B": "551.67", "C": "551.65"}),
        (Split.OWNER, {"A": "827.50", "B": "413.75", "C": "413.75"}),
    ],
)
def test_it_is_split_like_a_call_out_and_without_a_split_by_horse(split, parts):
    plans = (*BOTH, hire(MONTHLY, follow_ups=0, machine_of="A"))
    result = measured(*plans, owners=("One", "Two", "Two"), call_out=CallOut(D("30.00"), split))
    assert result.total == D("1655.00")
    assert money(result) == parts


def test_without_a_split_a_horse_with_a_visit_of_its_own_at_the_stop_pays_its_own_call_out():
    result = measured(*BOTH, visits(MONTHLY), owners=("One",) * 3, call_out=CallOut(D("30.00")))
    assert money(result) == {"A": "827.50", "B": "827.50", "C": "125.00"}


def test_each_owner_is_promised_at_most_the_whole_machine():
    result = measured(*BOTH, owners=("One", "Two"))
    assert [(owner.total, owner.at_most) for owner in result.owners] == [(D("827.50"), D("1655.00"))] * 2


def test_break_even_counts_visits_to_all_horses_of_the_machine():
    # 1655 / (2 × 95 + 30) = 7.52 and 1655 / (2 × 45 + 30) = 13.79; with a call-out for each, / 250 and / 150.
    assert [(even.full, even.spot) for even in measured(*BOTH).break_evens] == [(8, 14)]
    assert "A: Hire costs less from 8 full-body or 14 spot visits alone to all 2 horses." in measured(*BOTH).notices
    each = measured(*BOTH, call_out=CallOut(D("30.00"))).break_evens
    assert [(even.full, even.spot) for even in each] == [(7, 12)]


def test_sharing_a_machine_that_nobody_hires_is_refused():
    with pytest.raises(ValueError, match="shares a machine that nobody hires"):
        measured(visits(MONTHLY), hire(MONTHLY, machine_of="A"))


def test_what_is_said_of_the_machine_is_said_once():
    plans = hire(MONTHLY, follow_ups=1), hire(MONTHLY, follow_ups=0, machine_of="A")
    notices = measured(*plans, days=1).notices
    assert [notice.partition(":")[0] for notice in notices if "follow-up visit" in notice] == ["A"]
