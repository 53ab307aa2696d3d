"""What each option adds to the driving of the coming weeks: beside the diary, a range, for the practitioner only."""

from datetime import date, timedelta

import pytest
import time_machine

from backoffice.refusal import Refused
from billing.prices.rules import CostRates
from billing.quotes.driving import coming_of, work_out_driving
from billing.quotes.models import DrivingBeside
from billing.quotes.queries import comparison_of
from clients.people.models import Barn
from clients.rounds.one_more import Coming, cost_beside_the_diary
from clients.rounds.roads import base_of, estimate_of, place_of
from clients.rounds.vehicle_search import Effort
from tests.factories.paperwork import ready_animal
from tests.factories.quotes import START, drafted
from tests.factories.rounds import near_barn
from tests.factories.visits import VisitFactory

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    business.refresh_from_db()
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def quote(owner_manager):
    return drafted([ready_animal(name="Biscuit", barn=near_barn())], owner_manager)


def weekly(minutes=60, first=START + timedelta(days=8)):
    return [Coming(first + timedelta(days=7 * week), minutes, is_fixed=False) for week in range(4)]


def beside(barn, coming, owner_manager, business):
    return cost_beside_the_diary(barn, coming, person=owner_manager, business=business, today=START, effort=Effort(200))


def test_alone_on_the_road_it_costs_each_way_there_and_back(owner_manager, business):
    barn = near_barn()
    cost = beside(barn, weekly(), owner_manager, business)
    there = estimate_of(business).table([base_of(business), place_of(barn)]).seconds[0][1]
    assert (cost.seconds.least, cost.seconds.most, cost.seconds.alone) == (8 * there,) * 3
    assert cost.unplaced == 0


def test_where_we_are_every_week_anyway_it_costs_nothing_more(owner_manager, business):
    barn = near_barn()
    coming = weekly(first=START + timedelta(days=1))
    for each in coming:
        VisitFactory(animal__barn=barn, practitioner=owner_manager, day=each.on)
    cost = beside(barn, coming, owner_manager, business)
    assert cost.seconds.most == 0
    assert cost.seconds.alone > 0
    assert cost.best_weekday == coming[0].on.weekday()


def test_a_plan_that_begins_in_half_a_year_is_reckoned_beside_the_coming_weeks(owner_manager, business):
    barn = near_barn()
    far = beside(barn, weekly(first=START + timedelta(days=7 * 26 + 1)), owner_manager, business)
    assert far == beside(barn, weekly(first=START + timedelta(days=1)), owner_manager, business)
    longer = [*weekly(), Coming(START + timedelta(days=60), 60, is_fixed=False)]
    assert beside(barn, longer, owner_manager, business).visits == 5


def test_nothing_is_known_off_the_map(owner_manager, business):
    assert beside(near_barn(lat=None, lon=None), weekly(), owner_manager, business) is None
    assert beside(near_barn(), [], owner_manager, business) is None


def test_the_days_of_an_option_with_all_its_horses(owner_manager):
    barn = near_barn()
    quote = drafted([ready_animal(barn=barn), ready_animal(barn=barn)], owner_manager)
    row = comparison_of(quote, on=START).rows[0]
    coming = coming_of(row)
    assert len(coming) == len(row.our_days)
    assert sum(each.minutes for each in coming) == row.measures.minutes
    assert not coming[0].is_fixed


def test_found_for_each_option_and_shown_to_whoever_reads_margins(quote, as_owner_manager, as_assistant, monkeypatch):
    monkeypatch.setattr("billing.quotes.driving.EFFORT", Effort(100))
    CostRates.objects.create(since=date(2026, 1, 1))
    path = f"/quotes/{quote.pk}/driving/"
    assert as_assistant.post(path).status_code == 403
    html = as_owner_manager.post(path, follow=True).content.decode()
    found = DrivingBeside.objects.get()
    assert found.state == DrivingBeside.State.DONE
    assert [row["name"] for row in found.found] == [row.option.name for row in comparison_of(quote, on=START).rows]
    for row in found.found:
        least, most, alone = row["minutes"]
        assert 0 <= least <= most <= alone
        assert row["iterations"] == 100
    assert "Extra drive" in html
    assert "Work the driving out again" in html
    assert "Extra drive" not in as_assistant.get(f"/quotes/{quote.pk}/").content.decode()


def test_without_places_it_is_refused_in_words(quote, owner_manager, now):
    Barn.objects.update(lat=None, lon=None)
    with pytest.raises(Refused, match="need their places"):
        work_out_driving(quote=quote, at=now, by=owner_manager)


def test_what_goes_wrong_is_written_on_the_row(quote, owner_manager, now, monkeypatch):
    monkeypatch.setattr("billing.quotes.driving.coming_of", None)
    with pytest.raises(TypeError):
        work_out_driving(quote=quote, at=now, by=owner_manager)
