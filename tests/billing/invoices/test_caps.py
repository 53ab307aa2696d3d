"""A trainer pays in the owners' place up to a cap; what does not fit is asked of the owner, and the line says so."""

from datetime import date
from decimal import Decimal

import pytest

from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.models import ChargeShare
from billing.invoices.queries import proposals_by_day, proposals_for
from billing.prices.models import PayerCap
from clients.animals.models import Role
from tests.factories.billing import AT, DAY, finished_visit, owned_horse, priced_service
from tests.factories.clients import PersonFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]


@pytest.fixture
def trainer(business):
    return PersonFactory(name="Tamsin Rook")


@pytest.fixture
def horses(trainer):
    """Three horses of three owners; the trainer pays for all of them."""
    found = [owned_horse(PersonFactory(name=f"Owner {number}")) for number in range(3)]
    for horse in found:
        Role.objects.create(animal=horse, person=trainer, kind=Role.Kind.PAYER, since=date(2026, 1, 1))
    return found


def cap(trainer, amount: str, per: str = "month") -> None:
    PayerCap.objects.create(person=trainer, amount=Decimal(amount), per=per, since=date(2026, 1, 1))


def worked(horses, day: date = DAY) -> None:
    service = priced_service("95.00")
    for horse in horses:
        finished_visit(horse, service, day=day)


def asked(day: date = DAY) -> list[str]:
    return [proposal.who for proposal in proposals_for(day)]


def test_without_a_cap_the_trainer_pays_it_all(trainer, horses):
    worked(horses)
    assert asked() == ["Tamsin Rook"] * 3


def test_in_a_month_the_cap_is_used_up_in_order(trainer, horses):
    cap(trainer, "200.00")
    worked(horses)
    assert asked() == ["Tamsin Rook", "Tamsin Rook", "Owner 2"]
    assert "over the $200.00 a month that Tamsin Rook pays: asked of Owner 2" in proposals_for(DAY)[2].reason


def test_what_was_charged_before_counts_and_the_next_month_begins_anew(trainer, horses, owner_manager):
    cap(trainer, "200.00")
    worked(horses[:2])
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    later, next_month = date(2026, 3, 20), date(2026, 4, 1)
    worked(horses[2:], later)
    worked(horses[2:], next_month)
    assert asked(later) == ["Owner 2"]
    assert asked(next_month) == ["Tamsin Rook"]
    both = proposals_by_day([later, next_month])
    assert [each.who for day in sorted(both) for each in both[day]] == ["Owner 2", "Tamsin Rook"]


def test_for_one_charge_only_the_larger_ones_go_to_the_owner(trainer, horses):
    cap(trainer, "100.00", "order")
    worked(horses[:2])
    finished_visit(horses[2], priced_service("120.00"))
    assert asked() == ["Tamsin Rook", "Tamsin Rook", "Owner 2"]


def test_exactly_the_cap_still_fits(trainer, horses):
    cap(trainer, "190.00")
    worked(horses)
    assert asked() == ["Tamsin Rook", "Tamsin Rook", "Owner 2"]


def test_the_bill_shows_whose_horse_it_is_and_the_owners_bill_why(trainer, horses, owner_manager):
    cap(trainer, "100.00")
    worked(horses[:2])
    confirm_charges(day=DAY, at=AT, by=owner_manager)
    bills = [
        issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)
        for draft in draft_invoices(at=AT, by=owner_manager)
    ]
    lines = {bill.payer.name: bill.frozen["lines"][0] for bill in bills}
    assert lines["Tamsin Rook"]["owner"] == "Owner 0"
    assert "asked of Owner 1" in lines["Owner 1"]["reason"]
    assert ChargeShare.objects.filter(payer=trainer).count() == 1


def test_a_cap_of_ones_own_horse_does_not_count(trainer):
    cap(trainer, "1.00")
    worked([owned_horse(trainer)])
    assert asked() == ["Tamsin Rook"]
