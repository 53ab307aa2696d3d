"""A hire from the accepted quote to the invoice: each part once, for all horses that share it, at the agreed prices."""

from datetime import date
from decimal import Decimal

import pytest

from backoffice.refusal import Refused
from billing.invoices.actions import confirm_charges, draft_invoices
from billing.invoices.models import Charge, InvoiceLine
from billing.invoices.queries import proposals_for, uncharged_days
from billing.prices.models import CallOutRule, HireRate
from billing.quotes.acceptance import Signed, accept_quote
from billing.quotes.actions import offer_quote
from billing.quotes.models import AgreedHire
from billing.quotes.options import Schedule, add_option
from clients.animals.models import Ownership
from clients.plans.cadence import Phase
from clients.visits.models import Session, Visit
from tests.factories.billing import finished_visit
from tests.factories.clients import AnimalFactory, PersonFactory, ServiceFactory
from tests.factories.kit import HireFactory
from tests.factories.paperwork import make_ready
from tests.factories.quotes import AT, DRAWN, START, drafted, option_called, owned

pytestmark = pytest.mark.django_db
LAST = date(2026, 3, 29)
PHASES = (Phase(28, full_every=3, spots_per_day=1),)


@pytest.fixture
def first(business):
    ServiceFactory(name="Training", kind="training", minutes=60)
    ServiceFactory(name="Follow-up", kind="follow_up", minutes=30)
    horse = AnimalFactory(name="Tinker's Rest")
    owned(horse)
    make_ready(horse)
    return horse


@pytest.fixture
def neighbor(first):
    """A horse of another owner at the same barn."""
    horse = AnimalFactory(name="Maple Row", barn=first.barn)
    owned(horse, PersonFactory(name="Corin Vale"))
    make_ready(horse)
    return horse


def hired(horses, by, at=AT, split="horse", is_out=True, **rates):
    """The accepted quote: one machine for all the horses, with two follow-ups, handed out on the first day."""
    quote = drafted(horses, by)
    HireRate.objects.update(**rates)
    CallOutRule.objects.update(split=split)
    with_first = {
        horse.pk: Schedule(PHASES, by="hire", follow_ups=2, hired_with=None if horse == horses[0] else horses[0].pk)
        for horse in horses
    }
    add_option(quote=quote, name="Hire", text="", schedule=with_first, at=AT, by=by)
    offer_quote(quote=quote, at=AT, by=by)
    quote.refresh_from_db()
    if is_out:
        HireFactory(person=quote.person, since=START, until=LAST)
    signed = Signed(quote.person.name, DRAWN)
    return accept_quote(quote=quote, option=option_called(quote, "Hire"), signed=signed, at=at)


def give_all():
    """Every pencilled visit, done."""
    for visit in list(Visit.objects.filter(status="pencilled")):
        done = finished_visit(visit.animal, visit.service, day=visit.day)
        session = done.sessions.get()
        Visit.objects.filter(pk=visit.pk).update(
            status="completed", starts=done.starts, completed_at=AT, booking_decision=done.booking_decision
        )
        Session.objects.filter(pk=session.pk).update(visit=visit)
        done.delete()


def charged(by, until=LAST):
    for day in uncharged_days(until):
        confirm_charges(day=day, at=AT, by=by)
    draft_invoices(at=AT, by=by)
    return InvoiceLine.objects.all()


def amounts(lines, payer):
    return sorted(lines.filter(invoice__payer__name=payer).values_list("amount", flat=True))


def test_a_hire_alone_is_invoiced_to_the_quoted_total(first, owner_manager):
    """The worked table of the price rules: 1,200 + 120 + 2 × 95 + 3 × 30 = 1,600."""
    acceptance = hired([first], owner_manager)
    assert acceptance.total == Decimal(1600)
    give_all()
    assert amounts(charged(owner_manager), "Desmond Quarrie") == [30, 30, 30, 95, 95, 120, 1200]
    assert uncharged_days(LAST) == []


def test_the_rent_waits_until_the_machine_is_handed_out(first, owner_manager):
    person = hired([first], owner_manager, is_out=False).quote.person
    missing = "No machine is written down as handed out to Desmond Quarrie from 2 Mar 2026."
    assert proposals_for(START)[0].missing == missing
    with pytest.raises(Refused, match=missing):
        confirm_charges(day=START, at=AT, by=owner_manager)
    HireFactory(person=person, since=date(2026, 2, 1), until=date(2026, 3, 1))
    assert proposals_for(START)[0].missing == missing
    HireFactory(person=person, since=LAST, until=LAST)
    assert proposals_for(START)[0].missing == ""


def test_rent_and_delivery_say_why_on_the_first_day_and_are_proposed_once(first, owner_manager):
    number = hired([first], owner_manager, delivery=Decimal(25)).quote.number
    found = [(each.kind, each.amount, each.reason) for each in proposals_for(START)]
    assert found == [
        ("rent", Decimal(1200), f"4 weeks at $300.00, agreed in quote {number}"),
        ("delivery", Decimal(25), f"agreed in quote {number}"),
    ]
    confirm_charges(day=START, at=AT, by=owner_manager)
    assert proposals_for(START) == []
    assert Charge.objects.get(kind="rent").hire == AgreedHire.objects.get()


def test_later_prices_of_hires_do_not_reach_it(first, owner_manager):
    hired([first], owner_manager)
    HireRate.objects.update(week=Decimal(999), day=Decimal(99), training=Decimal(999), follow_up=Decimal(999))
    CallOutRule.objects.update(amount=Decimal(77))
    give_all()
    assert sum(amounts(charged(owner_manager), "Desmond Quarrie")) == 1600


def test_a_collection_is_due_on_the_last_day_with_its_call_out(first, owner_manager):
    acceptance = hired([first], owner_manager, collection=Decimal(40))
    assert acceptance.total == Decimal(1670)
    give_all()
    assert [(each.kind, each.amount) for each in proposals_for(LAST)] == [
        ("collection", Decimal(40)),
        ("call_out", Decimal(30)),
    ]
    assert sum(amounts(charged(owner_manager), "Desmond Quarrie")) == acceptance.total
    assert uncharged_days(LAST) == []


def test_a_collection_shares_the_stop_with_other_work_there(first, neighbor, owner_manager):
    hired([first], owner_manager, collection=Decimal(40))
    finished_visit(neighbor, Visit.objects.first().service, day=LAST)
    found = {(each.kind, each.who): each.amount for each in proposals_for(LAST) if each.kind == "call_out"}
    assert found == {("call_out", "Desmond Quarrie"): 15, ("call_out", "Corin Vale"): 15}


@pytest.mark.parametrize("split", ["horse", "owner", "none"])
def test_two_horses_of_one_hire_share_each_charge(first, neighbor, owner_manager, split):
    """One rent, training, set of follow-ups and call-outs, half each; split `none` counts as `horse`."""
    acceptance = hired([first, neighbor], owner_manager, split=split, collection=Decimal(40))
    assert acceptance.total == Decimal(1670)
    days = list(Visit.objects.order_by("day").values_list("day", "service__kind"))
    assert days == [
        (START, "training"), (date(2026, 3, 11), "follow_up"), (date(2026, 3, 21), "follow_up"),
    ]  # fmt: skip
    give_all()
    lines = charged(owner_manager)
    half = [15, 15, 15, 15, 20, Decimal("47.50"), Decimal("47.50"), 60, 600]
    assert amounts(lines, "Desmond Quarrie") == amounts(lines, "Corin Vale") == half


def test_by_owner_two_horses_of_one_owner_weigh_as_one(first, neighbor, owner_manager):
    second = AnimalFactory(name="Bramble", barn=first.barn)
    owned(second, first.ownerships.get().person)
    make_ready(second)
    hired([first, second, neighbor], owner_manager, split="owner")
    rent = proposals_for(START)[0]
    assert rent.who == "Desmond Quarrie 1/2, Corin Vale 1/2".replace("1/2", "50 %")
    assert rent.text == "Hire of the machine, Tinker's Rest, Bramble and Maple Row"


def test_accepted_late_the_hire_and_its_visits_begin_that_day(first, owner_manager):
    late = AT.replace(day=5)
    hired([first], owner_manager, at=late)
    hire = AgreedHire.objects.get()
    assert (hire.start, hire.last_day) == (date(2026, 3, 5), date(2026, 4, 1))
    assert Visit.objects.order_by("day").first().day == hire.start
    assert proposals_for(START) == []


def test_a_horse_of_the_hire_without_an_owner_says_so(first, neighbor, owner_manager):
    hired([first, neighbor], owner_manager)
    Ownership.objects.filter(animal=neighbor).delete()
    rent = proposals_for(START)[0]
    assert rent.missing == "Maple Row has no owner on 2 Mar 2026: write down who owns it."
