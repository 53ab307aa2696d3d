"""An accepted quote, through its visits to the invoice: the agreed prices, and "at most", whatever happened since."""

from datetime import date
from decimal import Decimal

import pytest

from backoffice.refusal import Refused
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.models import Invoice, InvoiceLine
from billing.invoices.queries import proposals_for
from billing.packages.models import Package, PackagePart
from billing.packages.sold import Deduction, PackageSold
from billing.prices.models import CallOutRule, Price
from billing.prices.rules import MoneyRules
from billing.quotes.acceptance import Signed, accept_quote
from billing.quotes.actions import offer_quote
from billing.quotes.models import Acceptance, Quote
from clients.paperwork.models import Form
from clients.plans.actions import run_plan
from clients.plans.models import Plan
from clients.visits.models import Visit
from tests.factories.billing import finished_visit
from tests.factories.clients import AnimalFactory, PersonFactory
from tests.factories.paperwork import make_ready
from tests.factories.quotes import AT, DRAWN, START, drafted, offered, option_called, owned

pytestmark = pytest.mark.django_db
SECOND = date(2026, 3, 9)


@pytest.fixture
def first(business):
    horse = AnimalFactory(name="Tinker's Rest")
    owned(horse)
    make_ready(horse)
    return horse


@pytest.fixture
def neighbor(first):
    """A horse of another owner in the same quote, at the same barn."""
    horse = AnimalFactory(name="Maple Row", barn=first.barn)
    owned(horse, PersonFactory(name="Corin Vale"))
    make_ready(horse)
    return horse


def accepted(quote, name="Weekly"):
    return accept_quote(quote=quote, option=option_called(quote, name), signed=Signed(quote.person.name, DRAWN), at=AT)


def done(visit, **changes):
    """The pencilled visit of the plan, given."""
    given = finished_visit(visit.animal, visit.service, day=visit.day, **{"plan": visit.plan, **changes})
    Visit.objects.filter(pk=visit.pk).delete()
    return given


def billed(day, payer, by):
    at = AT + (day - START)
    confirm_charges(day=day, at=at, by=by)
    (draft,) = draft_invoices(at=at, by=by, payer=payer)
    issue_invoice(invoice=draft, on=day, at=at, by=by)
    return sorted(InvoiceLine.objects.filter(invoice__payer=payer).values_list("amount", flat=True))


def test_the_accepted_prices_survive_a_dearer_list(first, owner_manager):
    quote, _ = offered([first], owner_manager)
    accepted(quote)
    Price.objects.update(amount=Decimal(999))
    CallOutRule.objects.update(amount=Decimal(77))
    done(Visit.objects.get(day=START))
    assert billed(START, quote.person, owner_manager) == [Decimal("30.00"), Decimal("95.00")]
    assert Invoice.objects.get().state == "issued"


def test_an_old_price_cannot_reach_an_invoice_without_its_quote(first, owner_manager):
    """Work on no accepted plan costs what the list says on its day."""
    quote, _ = offered([first], owner_manager)
    plan = accepted(quote).plans.get()
    Price.objects.update(amount=Decimal(120))
    done(Visit.objects.get(day=START), plan=None)
    assert billed(START, quote.person, owner_manager) == [Decimal("30.00"), Decimal("120.00")]
    assert plan.state == Plan.State.RUNNING


def test_at_most_holds_on_the_invoice_when_the_others_cancel(first, neighbor, owner_manager):
    quote, _ = offered([first, neighbor], owner_manager)
    kept = accepted(quote)
    assert (kept.total, kept.at_most) == (
        Decimal("880.00"),
        {"Desmond Quarrie": "500.00", "Corin Vale": "500.00"},
    )
    both = {visit.animal_id: visit for visit in Visit.objects.filter(day=START)}
    for visit in both.values():
        done(visit)
    assert billed(START, quote.person, owner_manager) == [Decimal("15.00"), Decimal("95.00")]
    Visit.objects.filter(day=SECOND, animal=neighbor).delete()
    done(Visit.objects.get(day=SECOND, animal=first))
    amounts = billed(SECOND, quote.person, owner_manager)
    assert amounts == [Decimal("15.00"), Decimal("30.00"), Decimal("95.00"), Decimal("95.00")]
    assert sum(amounts) <= Decimal(kept.at_most["Desmond Quarrie"])


def test_the_booking_deposit_of_the_offer_is_asked_and_not_that_of_a_later_rule(first, owner_manager):
    rules = MoneyRules.objects.create(since=date(2026, 1, 1), deposit="percent", deposit_percent=Decimal(25))
    quote, _ = offered([first], owner_manager)
    assert quote.frozen["booking_deposit"] == {"percent": "25"}
    MoneyRules.objects.filter(pk=rules.pk).update(deposit_percent=Decimal(90))
    accepted(quote)
    deposit = Deduction.objects.get()
    assert (deposit.kind, deposit.payer, deposit.amount, deposit.quote_number) == (
        "deposit",
        quote.person,
        Decimal("125.00"),
        quote.number,
    )


def test_an_agreed_discount_is_taken_off_with_its_reason(first, owner_manager):
    quote = drafted([first], owner_manager)
    quote.options.filter(name="Weekly").update(discount_percent=Decimal(10), discount_reason="three horses")
    offer_quote(quote=quote, at=AT, by=owner_manager)
    assert accepted(quote).total == Decimal("450.00")
    assert not Deduction.objects.exists()
    done(Visit.objects.get(day=START))
    assert billed(START, quote.person, owner_manager) == [Decimal("27.00"), Decimal("85.50")]
    assert "three horses" in InvoiceLine.objects.get(amount=Decimal("85.50")).reason


def test_an_agreed_amount_comes_off_the_invoices_once(first, owner_manager):
    quote = drafted([first], owner_manager)
    quote.options.filter(name="Weekly").update(discount_amount=Decimal(50), discount_reason="three horses")
    offer_quote(quote=quote, at=AT, by=owner_manager)
    assert accepted(quote).total == Decimal("450.00")
    done(Visit.objects.get(day=START))
    assert billed(START, quote.person, owner_manager) == [Decimal("-50.00"), Decimal("30.00"), Decimal("95.00")]
    done(Visit.objects.get(day=SECOND))
    assert sum(billed(SECOND, quote.person, owner_manager)) == Decimal("200.00")


def test_accepted_on_hold_nothing_is_charged_until_the_plan_runs(first, owner_manager):
    MoneyRules.objects.create(since=date(2026, 1, 1), deposit="percent", deposit_percent=Decimal(25))
    quote, _ = offered([first], owner_manager)
    Form.objects.filter(animal=first).update(state=Form.State.WITHDRAWN, withdrawn_on=AT.date())
    plan = accepted(quote).plans.get()
    assert plan.state == Plan.State.PROPOSED
    deposit = proposals_for(AT.date())[0]
    assert (deposit.amount, deposit.missing) == (
        Decimal("125.00"),
        f"{first} is on hold: nothing is charged until its plan runs.",
    )
    with pytest.raises(Refused, match="is on hold"):
        confirm_charges(day=AT.date(), at=AT, by=owner_manager)
    Form.objects.filter(animal=first).update(state=Form.State.SIGNED, withdrawn_on=None)
    run_plan(plan=plan, at=AT, by=owner_manager)
    assert confirm_charges(day=AT.date(), at=AT, by=owner_manager)[0].amount == Decimal("125.00")


def test_a_package_of_the_option_is_sold_at_the_offered_price(first, owner_manager):
    quote, _ = offered([first], owner_manager)
    package = Package.objects.create(name="Four full bodies", price=Decimal(340), since=date(2026, 1, 1))
    PackagePart.objects.create(package=package, service=quote.full_service, count=4)
    frozen = quote.frozen
    frozen["packages"] = [{"name": "Four full bodies", "price": "340", "sessions": {"full": 4}}]
    weekly = next(option for option in frozen["options"] if option["name"] == "Weekly")
    weekly["packages"] = {"Desmond Quarrie": ["Four full bodies"]}
    Quote.objects.filter(pk=quote.pk).update(frozen=frozen)
    Package.objects.update(price=Decimal(999))
    quote.refresh_from_db()
    accepted(quote)
    sold = PackageSold.objects.get()
    assert (sold.price, sold.payer, sold.quote_number) == (Decimal("340.00"), quote.person, quote.number)
    assert Acceptance.objects.get().total == Decimal("460.00")


def test_a_horse_that_starts_later_has_its_plan_later(first, owner_manager):
    quote = drafted([first], owner_manager)
    option = option_called(quote, "Weekly")
    option.schedules.update(shift=2)
    offer_quote(quote=quote, at=AT, by=owner_manager)
    plan = accepted(quote).plans.get()
    assert (plan.start, plan.days) == (date(2026, 3, 4), 26)
    assert Visit.objects.filter(plan=plan).order_by("day").first().day == date(2026, 3, 4)
