"""Two answers to one quote at the same moment, on whichever database the suite runs: one wins, nothing is half."""

import pytest

from backoffice.refusal import Refused
from billing.quotes.acceptance import Signed, accept_quote
from billing.quotes.models import Acceptance, Quote
from clients.plans.models import Plan
from tests.at_once import at_once
from tests.factories.backoffice import BusinessFactory, UserFactory
from tests.factories.clients import AnimalFactory
from tests.factories.quotes import AT, DRAWN, offered, option_called, owned


@pytest.mark.django_db(transaction=True)
def test_of_two_acceptances_at_once_one_wins():
    BusinessFactory()
    horse = AnimalFactory()
    owned(horse)
    quote, _ = offered([horse], UserFactory())

    def accepting(name):
        option = option_called(quote, name)
        return lambda: accept_quote(quote=quote, option=option, signed=Signed("Desmond Quarrie", DRAWN), at=AT)

    answers = at_once([accepting("Weekly"), accepting("Monthly")])
    assert sorted(type(answer) for answer in answers if isinstance(answer, Refused)) == [Refused]
    kept = Acceptance.objects.get()
    assert Quote.objects.get().state == "accepted"
    assert kept.option == Quote.objects.get().options.get(is_chosen=True)
    assert Plan.objects.count() == 1
