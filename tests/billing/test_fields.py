"""Fields of the money side."""

import pytest

from billing.quotes.models import Quote
from tests.factories.clients import AnimalFactory, BarnFactory
from tests.factories.quotes import offered

pytestmark = pytest.mark.django_db


def test_what_is_frozen_keeps_the_stated_order_of_the_horses(owner_manager):
    barn = BarnFactory()
    horses = [AnimalFactory(name=name, barn=barn) for name in ("Tinker's Rest", "Bo", "Alder Row")]
    quote, _ = offered(horses, owner_manager)
    assert list(Quote.objects.get(pk=quote.pk).frozen["horses"]) == ["Tinker's Rest", "Bo", "Alder Row"]
    Quote.objects.filter(pk=quote.pk).update(frozen={"b": 1, "a": [{"é": None}]})
    assert list(Quote.objects.get(pk=quote.pk).frozen.items()) == [("b", 1), ("a", [{"é": None}])]
