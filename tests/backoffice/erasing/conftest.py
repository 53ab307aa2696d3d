from datetime import UTC, datetime
from decimal import Decimal

import pytest

from billing.payments.actions import take_payment
from billing.payments.models import Payment
from clients.animals.measuring import take_measure
from clients.animals.models import Measure
from clients.paperwork.models import Decision, Wording
from clients.paperwork.signing import ask_to_sign, sign_form
from clients.people.models import Person
from clients.visits.models import Visit
from tests.factories.billing import AT, DAY, issued_invoice, owned_horse
from tests.factories.clients import CautionFactory, HealthFactFactory, PersonFactory
from tests.factories.paperwork import DRAWN, version_of

NAME = "Ottilie Quill Brackwater"
LATER = datetime(2026, 6, 1, 17, tzinfo=UTC)
YEARS_LATER = datetime(2045, 6, 1, 17, tzinfo=UTC)


@pytest.fixture
def person(business, owner_manager, private_folder, settings, tmp_path) -> Person:
    """Somebody with all there is: a horse, a signed consent, a form never signed, an invoice paid."""
    settings.ERASURES_FILE = tmp_path / "erasures.jsonl"
    person = PersonFactory(name=NAME, address="Brackwater Farm", note="Call after six.")
    horse = owned_horse(person, name="Biscuit")
    HealthFactFactory(animal=horse, note=f"{NAME} says none")
    CautionFactory(animal=horse, said_by=NAME)
    take_measure(
        animal=horse, kind=Measure.Kind.HEART, value=Decimal(36), on=DAY, given_by=NAME, at=AT, by=owner_manager
    )
    version = version_of(Wording.Kind.CONSENT, text="I, {signer}, agree to sessions for {horse}.")
    form = ask_to_sign(version=version, signer=person, animal=horse, at=AT, by=owner_manager)
    sign_form(
        form=form, name_typed=NAME, capacity="owner", strokes=DRAWN, at=AT, witnessed_by=owner_manager, device="Phone"
    )
    ask_to_sign(
        version=version_of(Wording.Kind.TERMS, text="Terms."), signer=person, animal=horse, at=AT, by=owner_manager
    )
    invoice = issued_invoice(person, owner_manager)
    take_payment(
        payer=person,
        amount=invoice.total,
        method=Payment.Method.CASH,
        received_on=DAY,
        allocations={invoice: invoice.total},
        at=AT,
        by=owner_manager,
    )
    for visit in Visit.objects.all():
        Visit.objects.filter(pk=visit.pk).update(start_decision=visit.booking_decision, note=f"{NAME} was there")
    Decision.objects.update(facts={"owners": [{"pk": person.pk, "name": NAME}]}, override_reason=f"{NAME} said so")
    return person
