"""Which of the practice's own papers speak of a work on a day, and what they say."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from clients.paperwork.facts import Work, as_record
from clients.paperwork.own_rules import counting
from clients.paperwork.permission import permission_to_work
from clients.paperwork.telling import facts_in_words
from tests.clients.paperwork.facts import DAY, own_paper, ready

WREN, NED = 11, 12
MACHINE = Work("full", uses_machine=True, practitioner=WREN)
BY_HAND = Work("other", uses_machine=False, practitioner=WREN)
NOBODY_YET = Work("full", uses_machine=True)
ENDED = DAY - timedelta(1)


def said(*papers, work=MACHINE, place="Colorado"):
    facts = replace(ready(), work=work, own_papers=counting(papers, work=work, place=place, on=DAY))
    return permission_to_work(facts)


def test_a_practice_that_writes_down_nothing_is_not_held_up():
    assert said().is_ready


@pytest.mark.parametrize("kind", ["license", "insurance", "vehicle", "first_aid"])
def test_each_kind_of_paper_holds_from_the_day_after_its_last(kind):
    assert said(own_paper(kind=kind, until=DAY)).is_ready
    assert said(own_paper(kind=kind, until=ENDED)).is_hold


def test_the_reason_says_what_ended_what_clears_it_and_who():
    [reason] = said(own_paper(until=ENDED)).reasons
    assert reason.sentence == "Insurance, Larkspur Mutual: ended on Wed 11 Mar 2026."
    assert reason.clears == "Its renewal, written down under Settings, Your own papers."
    assert reason.who == "The owner-manager"
    [reason] = said(own_paper(until=ENDED, holder=WREN, holder_name="Wren Holt")).reasons
    assert reason.who == "Wren Holt"


@pytest.mark.parametrize(
    ("only_for", "work", "place", "holds"),
    [
        ({}, BY_HAND, "Colorado", True),
        ({"uses_machine": True}, MACHINE, "Colorado", True),
        ({"uses_machine": True}, BY_HAND, "Colorado", False),
        ({"uses_machine": False}, BY_HAND, "Colorado", True),
        ({"uses_machine": False}, MACHINE, "Colorado", False),
        ({"place": "colorado"}, MACHINE, "Colorado", True),
        ({"place": "Utah"}, MACHINE, "Colorado", False),
        ({"place": "Utah"}, MACHINE, "", True),
        ({"holder": WREN}, MACHINE, "Colorado", True),
        ({"holder": NED}, MACHINE, "Colorado", False),
        ({"uses_machine": True, "place": "Colorado", "holder": WREN}, MACHINE, "Colorado", True),
        ({"uses_machine": True, "place": "Utah", "holder": WREN}, MACHINE, "Colorado", False),
    ],
)
def test_a_paper_that_ended_holds_its_work_its_place_and_its_person_and_no_other(only_for, work, place, holds):
    assert said(own_paper(until=ENDED, **only_for), work=work, place=place).is_hold == holds


def test_a_renewal_in_force_takes_the_place_of_the_paper_that_ended():
    old, new = own_paper(until=ENDED), own_paper(pk=2, since=DAY, follows=1)
    assert said(old, new).is_ready
    assert [paper.pk for paper in counting([old, new], work=MACHINE, place="", on=DAY)] == [2]
    assert [paper.pk for paper in counting([old, new], work=MACHINE, place="", on=ENDED)] == [1, 2]


def test_another_paper_of_the_kind_is_no_renewal():
    assert said(own_paper(until=ENDED), own_paper(pk=2, since=DAY)).is_hold


def test_a_gap_before_the_renewal_holds_and_says_when_it_is_over():
    renewal = own_paper(pk=2, since=DAY + timedelta(5), follows=1)
    [reason] = said(own_paper(until=ENDED), renewal).reasons
    assert reason.sentence.endswith("ended on Wed 11 Mar 2026. Its renewal holds from Tue 17 Mar 2026.")


def test_of_a_line_of_papers_that_all_ended_only_the_newest_speaks():
    line = [
        own_paper(until=date(2025, 12, 31)),
        own_paper(pk=2, since=date(2026, 1, 1), until=date(2026, 1, 31), follows=1),
        own_paper(pk=3, since=date(2026, 2, 1), until=ENDED, follows=2),
    ]
    assert len(said(*line).reasons) == 1


def test_a_paper_put_away_says_nothing_from_that_day_and_wakes_no_older_one():
    old, sold = own_paper(until=date(2025, 12, 31)), own_paper(pk=2, since=date(2026, 1, 1), follows=1, dropped_on=DAY)
    assert counting([old, sold], work=MACHINE, place="", on=DAY) == ()
    assert counting([replace(sold, dropped_on=DAY + timedelta(1))], work=MACHINE, place="", on=DAY) != ()


def test_while_nobody_is_named_anothers_paper_of_the_kind_is_enough():
    wren = own_paper(kind="license", until=ENDED, holder=WREN)
    ned = own_paper(pk=2, kind="license", holder=NED)
    assert said(wren, work=NOBODY_YET).is_hold
    assert said(wren, ned, work=NOBODY_YET).is_ready
    assert said(wren, replace(ned, kind="first_aid"), work=NOBODY_YET).is_hold
    assert said(wren, replace(ned, until=ENDED), work=NOBODY_YET).is_hold
    assert said(wren, replace(ned, holder=WREN), work=NOBODY_YET).is_hold
    assert said(wren, replace(ned, holder=None), work=NOBODY_YET).is_hold
    assert said(replace(wren, holder=None), ned, work=NOBODY_YET).is_hold


def test_thirty_days_before_the_end_a_note_says_so():
    assert said(own_paper(until=DAY + timedelta(31))).notes == ()
    permission = said(own_paper(until=DAY + timedelta(30)))
    assert permission.is_ready
    [note] = permission.notes
    assert (note.code, note.sentence) == (
        "own_paper_ends_soon",
        "Insurance, Larkspur Mutual: ends on Sat 11 Apr 2026.",
    )


def test_the_days_of_notice_are_a_setting():
    facts = replace(ready(), own_papers=(own_paper(until=DAY + timedelta(30)),))
    assert permission_to_work(replace(facts, rules=replace(facts.rules, own_paper_notice_days=29))).notes == ()


def test_no_note_where_the_renewal_carries_on_the_day_after():
    ends = own_paper(until=DAY + timedelta(9))
    assert said(ends, own_paper(pk=2, since=DAY + timedelta(10), follows=1)).notes == ()
    assert len(said(ends, own_paper(pk=2, since=DAY + timedelta(11), follows=1)).notes) == 1


def test_a_stored_decision_tells_the_own_papers_it_looked_at():
    facts = replace(ready(), own_papers=(own_paper(number="77-1"), own_paper(pk=2, name="First aid, Red barn")))
    assert dict(facts_in_words(as_record(facts)))["Your own papers"] == [
        "Insurance, Larkspur Mutual, no. 77-1: Sat 1 Mar 2025 to Sun 28 Feb 2027",
        "First aid, Red barn: Sat 1 Mar 2025 to Sun 28 Feb 2027",
    ]
    assert dict(facts_in_words({}))["Your own papers"] == ["None recorded for this"]
