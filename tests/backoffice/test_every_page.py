"""Every page that a link leads to answers, and every form on them takes absurd input with a sentence, as each role."""

from datetime import date

import pytest
import time_machine

from tests.conftest import NOW, signed_in
from tests.crawl import Crawl
from tests.factories.billing import draft_for, finished_visit, issued_invoice, owned_horse
from tests.factories.clients import ApplicatorFactory, BarnWindowFactory, CautionFactory, FormFactory, MachineFactory
from tests.factories.kit import HireFactory
from tests.factories.paperwork import ready_animal, referral_for
from tests.factories.quotes import drafted, offered, owned
from tests.factories.visits import VisitFactory, running_plan

pytestmark = pytest.mark.django_db
TODAY = date(2026, 3, 2)
SHOWN_AT_LEAST = {"owner_manager": 60, "assistant": 30, "bookkeeper": 20}
FORMS_AT_LEAST = 30


@pytest.fixture
def some_of_everything(private_folder, owner_manager):
    with time_machine.travel(NOW, tick=False):
        horse = ready_animal(name="Biscuit")
        BarnWindowFactory(barn=horse.barn)
        CautionFactory(animal=horse)
        MachineFactory()
        ApplicatorFactory()
        HireFactory()
        referral_for(horse)
        running_plan()
        VisitFactory(booked=True, animal=horse, practitioner=owner_manager, day=TODAY)
        FormFactory(animal=horse, signer=horse.ownerships.get().person)
        payer = horse.ownerships.get().person
        worked = owned_horse(payer)
        drafted([worked], owner_manager)
        quote, _ = offered([worked], owner_manager)
        finished_visit(worked, quote.full_service, day=TODAY)
        issued_invoice(payer, owner_manager)
        draft_for(owned(ready_animal()), owner_manager)
        yield


@pytest.mark.parametrize("role", SHOWN_AT_LEAST)
def test_no_link_leads_nowhere(role, request, some_of_everything):
    crawl = Crawl(signed_in(request.getfixturevalue(role))).follow()
    assert "\n".join(crawl.faults) == ""
    assert len(crawl.pages) >= SHOWN_AT_LEAST[role]


def test_every_form_answers_absurd_input_with_a_sentence(as_owner_manager, some_of_everything):
    crawl = Crawl(as_owner_manager).follow().send_absurd()
    assert "\n".join(crawl.faults) == ""
    assert len(crawl.forms) >= FORMS_AT_LEAST
