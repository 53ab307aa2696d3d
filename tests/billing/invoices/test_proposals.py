from datetime import date, timedelta
from decimal import Decimal

import pytest

from billing.invoices.queries import (
    proposals_by_day,
    proposals_for,
    uncharged_days,
    uncharged_sessions,
    uncharged_visits,
)
from billing.prices.models import CallOutRule
from billing.prices.rules import FeeRule
from clients.visits.models import Session
from tests.factories.billing import (
    DAY,
    CallOutRuleFactory,
    PersonTermsFactory,
    PriceFactory,
    PriceListFactory,
    agreed_plan,
    finished_visit,
    owned_horse,
    priced_service,
    stop_of,
    visit_row,
)
from tests.factories.clients import BarnFactory, PersonFactory, ServiceFactory

pytestmark = pytest.mark.django_db


def amounts(kind: str) -> list[Decimal]:
    return [proposal.amount for proposal in proposals_for(DAY) if proposal.kind == kind]


def reasons(kind: str) -> list[str]:
    return [proposal.reason for proposal in proposals_for(DAY) if proposal.kind == kind]


def test_a_finished_session_costs_the_list_price_of_its_day(business):
    service = priced_service("95.00")
    PriceFactory(service=service, amount=Decimal("120.00"), since=date(2026, 3, 3))
    finished_visit(owned_horse(PersonFactory()), service)
    (proposal,) = proposals_for(DAY)
    assert proposal.amount == Decimal("95.00")
    assert proposal.reason == "Standard price from 1 Jan 2026"
    assert proposal.key == f"session-{Session.objects.get().pk}"


def test_booked_and_cancelled_visits_are_not_proposed(business):
    horse, service = owned_horse(PersonFactory()), priced_service()
    visit_row(horse, service, status="booked")
    visit_row(horse, service, status="cancelled")
    assert proposals_for(DAY) == []
    assert uncharged_days(DAY) == []


def test_the_price_agreed_in_a_quote_wins_over_the_list(business, owner_manager):
    owner = PersonFactory()
    horse, service = owned_horse(owner), priced_service("95.00")
    plan = agreed_plan(horse, service, owner, owner_manager, full_price=Decimal("85.00"))
    finished_visit(horse, service, plan=plan)
    (proposal,) = proposals_for(DAY)
    assert (proposal.amount, proposal.reason) == (Decimal("85.00"), "agreed in quote 14")


def test_another_service_given_on_a_quoted_plan_is_at_the_list_price(business, owner_manager):
    owner = PersonFactory()
    horse, quoted, other = owned_horse(owner), priced_service("95.00"), priced_service("80.00")
    plan = agreed_plan(horse, quoted, owner, owner_manager, full_price=Decimal("85.00"))
    finished_visit(horse, other, plan=plan)
    assert amounts("session") == [Decimal("80.00")]


def test_a_charity_pays_by_its_own_list_and_the_default_list_fills_its_gaps(business):
    charity, full, spot = PersonFactory(), priced_service("95.00"), priced_service("45.00")
    PersonTermsFactory(person=charity, price_list=PriceListFactory(name="Charity", is_default=False))
    PriceFactory(service=full, price_list=PriceListFactory(name="Charity", is_default=False), amount=Decimal("60.00"))
    horse = owned_horse(charity)
    finished_visit(horse, full)
    finished_visit(horse, spot, part=2)
    assert amounts("session") == [Decimal("60.00"), Decimal("45.00")]
    assert reasons("session") == ["Charity price from 1 Jan 2026", "Standard price from 1 Jan 2026"]


def test_a_service_without_a_price_says_what_is_missing(business):
    finished_visit(owned_horse(PersonFactory()), ServiceFactory(name="Massage"))
    (proposal,) = proposals_for(DAY)
    assert proposal.amount is None
    assert proposal.missing.startswith("No price of Massage is recorded")


def test_a_horse_without_an_owner_says_so(business):
    finished_visit(owned_horse(name="Biscuit"), priced_service())
    (proposal,) = proposals_for(DAY)
    assert proposal.missing == "Biscuit has no owner on 2 Mar 2026: write down who owns it."


def test_three_horses_split_a_call_out_and_say_how(business):
    CallOutRuleFactory(amount=Decimal("30.00"))
    stop_of(*(owned_horse(PersonFactory()) for _ in range(3)))
    assert amounts("call_out") == [Decimal("10.00")] * 3
    assert reasons("call_out")[2] == "third horse at the stop: $30.00 / 3"


def test_an_odd_cent_of_a_call_out_is_nobodys_loss(business):
    CallOutRuleFactory(amount=Decimal("20.00"))
    stop_of(*(owned_horse(PersonFactory()) for _ in range(3)))
    assert amounts("call_out") == [Decimal("6.67"), Decimal("6.67"), Decimal("6.66")]


def test_owners_split_first_and_their_horses_then(business):
    CallOutRuleFactory(amount=Decimal("30.00"), split=CallOutRule.Split.OWNER)
    one, two = PersonFactory(), PersonFactory()
    stop_of(owned_horse(one), owned_horse(two), owned_horse(two))
    assert amounts("call_out") == [Decimal("15.00"), Decimal("7.50"), Decimal("7.50")]
    assert reasons("call_out")[1] == "second owner at the stop: $30.00 / 2 / 2 horses"


def test_co_owners_of_one_horse_are_one_owner_of_a_stop(business):
    CallOutRuleFactory(amount=Decimal("30.00"), split=CallOutRule.Split.OWNER)
    shared = owned_horse((PersonFactory(), "1/2"), (PersonFactory(), "1/2"))
    stop_of(shared, owned_horse(PersonFactory()))
    assert amounts("call_out") == [Decimal("15.00"), Decimal("15.00")]


def test_without_a_split_each_horse_pays_all_of_it(business):
    CallOutRuleFactory(amount=Decimal("30.00"), split=CallOutRule.Split.NONE)
    stop_of(owned_horse(PersonFactory()), owned_horse(PersonFactory()))
    assert amounts("call_out") == [Decimal("30.00"), Decimal("30.00")]
    assert reasons("call_out")[0] == "$30.00 for each horse"


def test_a_zone_has_its_own_rule(business):
    CallOutRuleFactory(amount=Decimal("30.00"))
    CallOutRuleFactory(amount=Decimal("55.00"), zone="C")
    stop_of(owned_horse(PersonFactory()), barn=BarnFactory(call_out_zone="C"))
    assert amounts("call_out") == [Decimal("55.00")]
    assert reasons("call_out") == ["only horse at the stop: $55.00"]


def test_each_part_of_the_day_and_each_barn_is_a_stop_of_its_own(business):
    CallOutRuleFactory(amount=Decimal("30.00"))
    horse, service = owned_horse(PersonFactory()), priced_service()
    finished_visit(horse, service)
    finished_visit(horse, service, part=2)
    stop_of(owned_horse(PersonFactory()))
    assert amounts("call_out") == [Decimal("30.00")] * 3


def test_a_horse_with_two_visits_at_one_stop_is_driven_to_once(business):
    CallOutRuleFactory(amount=Decimal("30.00"))
    horse, service = owned_horse(PersonFactory()), priced_service()
    finished_visit(horse, service)
    finished_visit(horse, service)
    assert amounts("call_out") == [Decimal("30.00")]


@pytest.mark.parametrize(
    "fields", [{"status": "could_not_work", "cause": "absent"}, {"status": "cancelled", "is_late_cancel": True}]
)
def test_nobodys_part_of_a_call_out_rises_when_another_visit_is_lost_late(business, fields):
    CallOutRuleFactory(amount=Decimal("30.00"))
    horse, service = owned_horse(PersonFactory()), priced_service()
    finished_visit(horse, service)
    visit_row(owned_horse(PersonFactory(), barn=horse.barn), service, **fields)
    assert amounts("call_out") == [Decimal("15.00")]


def test_a_stop_where_nobody_was_worked_costs_no_call_out(business):
    CallOutRuleFactory(amount=Decimal("30.00"))
    visit_row(owned_horse(PersonFactory()), priced_service(), status="could_not_work", cause="weather")
    assert amounts("call_out") == []


@pytest.mark.parametrize(
    ("fields", "amount", "reason"),
    [
        ({"status": "cancelled", "is_late_cancel": True}, "47.50", "cancelled late: 50 % of $95.00"),
        ({"status": "could_not_work", "cause": "absent"}, "95.00", "nobody there: 100 % of $95.00"),
        ({"status": "could_not_work", "cause": "wet"}, "0", "horse wet: no fee by your rule"),
        ({"status": "could_not_work", "cause": "weather"}, "0", "no fee in any case"),
        ({"status": "could_not_work", "cause": "unwell"}, "0", "no fee in any case"),
    ],
)
def test_a_lost_visit_is_proposed_by_the_rule(business, fields, amount, reason):
    FeeRule.objects.create(since=date(2026, 1, 1), late_cancel=50, absent=100)
    visit_row(owned_horse(PersonFactory(), name="Biscuit"), priced_service(), **fields)
    (proposal,) = proposals_for(DAY)
    assert (proposal.amount, proposal.reason, proposal.missing) == (Decimal(amount), reason, "")


def test_a_fee_takes_their_part_of_the_call_out_where_the_rule_says_so(business):
    FeeRule.objects.create(since=date(2026, 1, 1), absent=50, with_call_out=True)
    CallOutRuleFactory(amount=Decimal("30.00"))
    horse, service = owned_horse(PersonFactory()), priced_service()
    finished_visit(horse, service)
    visit_row(owned_horse(PersonFactory(), barn=horse.barn), service, status="could_not_work", cause="absent")
    assert amounts("could_not_work") == [Decimal("62.50")]
    assert reasons("could_not_work") == ["nobody there: 50 % of $95.00, and $15.00 of the call-out"]
    assert amounts("call_out") == [Decimal("15.00")]


def test_a_fee_goes_by_the_agreed_price_and_the_rule_of_its_day(business, owner_manager):
    FeeRule.objects.create(since=date(2026, 1, 1), absent=50)
    FeeRule.objects.create(since=DAY + timedelta(days=1), absent=100)
    owner = PersonFactory()
    horse, service = owned_horse(owner), priced_service()
    plan = agreed_plan(horse, service, owner, owner_manager, full_price=Decimal("80.00"))
    visit_row(horse, service, plan=plan, status="could_not_work", cause="absent")
    assert amounts("could_not_work") == [Decimal("40.00")]


def test_a_fee_without_a_price_asks_for_one(business):
    FeeRule.objects.create(since=date(2026, 1, 1), absent=50)
    visit_row(owned_horse(PersonFactory()), ServiceFactory(), status="could_not_work", cause="absent")
    (proposal,) = proposals_for(DAY)
    assert proposal.amount is None
    assert "No price of" in proposal.missing


def test_the_promise_at_most_is_kept_and_the_difference_is_said(business, owner_manager):
    CallOutRuleFactory(amount=Decimal("30.00"))
    owner = PersonFactory()
    horse, service = owned_horse(owner), priced_service()
    plan = agreed_plan(horse, service, owner, owner_manager, call_out_at_most=Decimal("25.00"))
    finished_visit(horse, service, plan=plan)
    assert amounts("call_out") == [Decimal("25.00")]
    assert reasons("call_out") == ["only horse at the stop: $30.00; at most $25.00 by quote 14, we bear $5.00"]


def test_a_part_below_the_promise_stays_as_it_is(business, owner_manager):
    CallOutRuleFactory(amount=Decimal("30.00"))
    owner = PersonFactory()
    horse, service = owned_horse(owner), priced_service()
    plan = agreed_plan(horse, service, owner, owner_manager, call_out_at_most=Decimal("25.00"))
    finished_visit(horse, service, plan=plan)
    finished_visit(owned_horse(PersonFactory(), barn=horse.barn), service)
    assert amounts("call_out") == [Decimal("15.00"), Decimal("15.00")]


@pytest.mark.parametrize(
    ("fields", "kind"),
    [
        ({"status": "could_not_work", "cause": "unwell"}, "could_not_work"),
        ({"status": "cancelled", "is_late_cancel": True}, "late_cancel"),
    ],
)
def test_a_lost_visit_is_proposed_at_nothing_and_names_no_condition(business, fields, kind):
    visit_row(owned_horse(PersonFactory(), name="Biscuit"), priced_service(), **fields)
    (proposal,) = proposals_for(DAY)
    assert (proposal.kind, proposal.amount) == (kind, Decimal(0))
    assert "unwell" not in f"{proposal.text} {proposal.reason}".lower()


def test_uncharged_work_is_found_by_day_oldest_first(business):
    horse, service = owned_horse(PersonFactory()), priced_service()
    finished_visit(horse, service)
    finished_visit(horse, service, day=date(2026, 2, 27))
    assert uncharged_sessions().count() == 2
    assert len(uncharged_visits()) == 2
    assert uncharged_days(DAY) == [date(2026, 2, 27), DAY]


def test_proposals_of_a_day_take_the_same_queries_for_one_and_for_thirty(business, django_assert_num_queries):
    CallOutRuleFactory()
    service = priced_service()
    stop_of(owned_horse(PersonFactory()), service=service)
    with django_assert_num_queries(25):
        proposals_for(DAY)
    for _ in range(29):
        finished_visit(owned_horse(PersonFactory()), service)
    with django_assert_num_queries(25):
        assert len(proposals_for(DAY)) == 60


def test_many_days_take_the_queries_of_one(business, django_assert_num_queries):
    service = priced_service()
    days = [date(2026, 2, day) for day in range(2, 28)]
    for day in days:
        finished_visit(owned_horse(PersonFactory()), service, day=day)
    with django_assert_num_queries(24):
        assert len(proposals_by_day(days)) == len(days)
