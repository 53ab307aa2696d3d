from datetime import date, timedelta
from decimal import Decimal

import pytest

from backoffice.audit.models import Entry
from backoffice.refusal import Refused
from billing.prices.models import Break, Price
from billing.quotes.acceptance import Signed, accept_quote
from billing.quotes.models import Acceptance, AgreedPlan
from billing.quotes.options import Schedule, add_option
from billing.quotes.queries import why_overtaken
from clients.paperwork.models import Decision
from clients.plans.cadence import Phase
from clients.plans.models import Plan
from clients.visits.actions import note_death, note_sale
from clients.visits.models import Visit
from tests.factories.clients import AnimalFactory, PersonFactory, ServiceFactory
from tests.factories.paperwork import ready_animal
from tests.factories.quotes import AT, DRAWN, drafted, offered, option_called, owned

pytestmark = pytest.mark.django_db
SIGNED = Signed("Desmond Quarrie", DRAWN)


def accept(quote, name="Weekly", signed=SIGNED, at=AT):
    return accept_quote(quote=quote, option=option_called(quote, name), signed=signed, at=at)


def test_accepting_starts_the_plan_at_the_quoted_price_and_pencils_its_visits(business, owner_manager):
    horse = ready_animal(name="Tinker's Rest")
    person = horse.ownerships.get().person
    quote, _ = offered([horse], owner_manager)
    acceptance = accept(quote, signed=Signed(person.name, DRAWN))
    plan = acceptance.plans.get()
    assert (plan.state, plan.animal, plan.days) == (Plan.State.RUNNING, horse, 28)
    assert acceptance.total == Decimal("500.00")
    days = list(Visit.objects.filter(plan=plan).values_list("day", "status"))
    assert days == [(date(2026, 3, day), "pencilled") for day in (2, 9, 16, 23)]
    agreed = AgreedPlan.objects.get(plan=plan)
    assert (agreed.full_price, agreed.call_out_at_most) == (Decimal("95.00"), Decimal("30.00"))
    assert Entry.objects.filter(action="quote accepted", target_pk=str(quote.pk)).count() == 1


def test_a_break_reached_by_the_option_is_the_agreed_price(horse, owner_manager):
    quote = drafted([horse], owner_manager)
    Break.objects.create(price=Price.objects.get(service=quote.full_service), count=4, amount=Decimal("85.00"))
    from billing.quotes.actions import offer_quote

    offer_quote(quote=quote, at=AT, by=owner_manager)
    accept(quote)
    assert AgreedPlan.objects.get().full_price == Decimal("85.00")


def test_on_hold_the_plan_stays_proposed_with_the_decision_stored(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    plan = accept(quote).plans.get()
    decision = Decision.objects.get(door=Decision.Door.ACCEPTANCE)
    assert decision.result == Decision.Result.HOLD
    assert plan.state == Plan.State.PROPOSED


def test_accepting_a_hire_pencils_the_training_and_the_follow_ups(horse, owner_manager):
    ServiceFactory(name="Training", kind="training", minutes=60)
    ServiceFactory(name="Follow-up", kind="follow_up", minutes=30)
    quote = drafted([horse], owner_manager)
    schedule = Schedule((Phase(28, full_every=3, spots_per_day=1),), by="hire", follow_ups=2)
    add_option(quote=quote, name="Hire", text="", schedule=schedule, at=AT, by=owner_manager)
    from billing.quotes.actions import offer_quote

    offer_quote(quote=quote, at=AT, by=owner_manager)
    acceptance = accept(quote, "Hire")
    assert acceptance.total == Decimal("1600.00")
    assert list(Visit.objects.values_list("day", "service__kind")) == [
        (date(2026, 3, 2), "training"),
        (date(2026, 3, 11), "follow_up"),
        (date(2026, 3, 21), "follow_up"),
    ]


@pytest.mark.parametrize(
    ("signed", "sentence"),
    [
        (Signed("", DRAWN), "name is missing"),
        (Signed("Somebody Else", DRAWN), "differs from the name on the quote, Desmond Quarrie"),
        (Signed("Desmond Quarrie", []), "signature is missing"),
        (Signed("Desmond Quarrie", [[[1, 1], [2, 2]]]), "only a dot"),
        (Signed("Desmond Quarrie", {"x": 1}), "did not arrive whole"),
    ],
)
def test_a_signature_that_will_not_do_is_refused_and_leaves_nothing(horse, owner_manager, signed, sentence):
    quote, _ = offered([horse], owner_manager)
    with pytest.raises(Refused, match=sentence):
        accept(quote, signed=signed)
    quote.refresh_from_db()
    assert quote.state == "offered"
    assert not Acceptance.objects.exists()
    assert not Plan.objects.exists()


def test_the_name_may_differ_in_case_and_accents(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    assert accept(quote, signed=Signed("desmond  quarríe", DRAWN)).name_typed == "desmond quarríe"


def test_somebody_under_age_cannot_sign_but_the_guardian_can(business, owner_manager):
    guardian = PersonFactory(name="Halla Orrel")
    animal = AnimalFactory()
    owned(animal, PersonFactory(name="Tamsin Orrel", under_age=True, guardian=guardian))
    quote, _ = offered([animal], owner_manager)
    with pytest.raises(Refused, match="Halla Orrel"):
        accept(quote, signed=Signed("Tamsin Orrel", DRAWN))
    assert accept(quote, signed=Signed("Halla Orrel", DRAWN))


def test_under_age_without_a_guardian_nobody_can_sign(business, owner_manager):
    animal = AnimalFactory()
    owned(animal, PersonFactory(name="Tamsin Orrel", under_age=True))
    quote, _ = offered([animal], owner_manager)
    with pytest.raises(Refused, match="too young to sign"):
        accept(quote, signed=Signed("Tamsin Orrel", DRAWN))


def test_accepting_twice_is_refused(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    accept(quote)
    with pytest.raises(Refused, match="accepted already"):
        accept(quote, "Monthly")


def test_after_the_last_day_it_is_refused(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    with pytest.raises(Refused, match="no longer be answered"):
        accept(quote, at=AT + timedelta(days=22))


def test_an_option_of_another_quote_is_refused(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    other = drafted([horse], owner_manager)
    with pytest.raises(Refused, match="belongs to another quote"):
        accept_quote(quote=quote, option=option_called(other, "Weekly"), signed=SIGNED, at=AT)


def test_a_quote_for_a_horse_that_died_since_is_not_accepted(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    note_death(animal=horse, on=AT.date(), at=AT, by=owner_manager)
    with pytest.raises(Refused, match=r"has died\. Ask for a new quote\."):
        accept(quote)


def test_a_quote_for_a_horse_that_changed_hands_since_is_not_accepted(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    later = AT + timedelta(days=1)
    note_sale(animal=horse, buyer=PersonFactory(), on=later.date(), at=later, by=owner_manager)
    with pytest.raises(Refused, match="changed hands since this was offered"):
        accept(quote, at=later)


def test_owners_who_were_there_when_it_was_offered_do_not_overtake_it(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    assert why_overtaken(quote, AT.date() + timedelta(days=9)) == ""
