"""Pages beside the comparison: the days lined up, hire against visits, packages by one tap."""

from decimal import Decimal

import pytest
import time_machine
from django.urls import reverse

from billing.packages.models import Package
from billing.quotes import options
from billing.quotes.options import Schedule
from clients.plans.cadence import Phase
from tests.billing.quotes.screens import page_of
from tests.factories.clients import AnimalFactory
from tests.factories.quotes import AT, START, drafted, option_called, owned

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _monday():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def pair(horse, owner_manager):
    other = AnimalFactory(name="Saffron", barn=horse.barn)
    owned(other, horse.ownerships.get().person)
    quote = drafted([horse, other], owner_manager)
    each = {
        horse.pk: Schedule((Phase(28, full_every=7),)),
        other.pk: Schedule((Phase(28, full_every=7),), shift=2),
    }
    options.add_option(quote=quote, name="Apart", text="", schedule=each, at=AT, by=owner_manager)
    return quote


def test_days_are_lined_up_and_taken_back(pair, as_owner_manager):
    option = option_called(pair, "Apart")
    page = reverse("billing:quote-line-up", args=[pair.pk])
    shown = page_of(as_owner_manager.get(page))
    assert "4 stops instead of 8, $120.00 less." in shown
    as_owner_manager.post(reverse("billing:option-line-up", args=[option.pk]))
    shifts = list(option.schedules.values_list("shift", flat=True))
    assert len(set(shifts)) == 1
    assert "4 stops instead of 8" not in page_of(as_owner_manager.get(page))
    again = as_owner_manager.post(reverse("billing:option-line-up", args=[option.pk]))
    assert again.status_code == 409
    as_owner_manager.post(reverse("billing:option-line-up-undo", args=[option.pk]))
    assert list(option.schedules.values_list("shift", flat=True)) == [0, 0]


def test_lining_up_is_for_those_who_change_money(pair, as_assistant, as_bookkeeper):
    option = option_called(pair, "Apart")
    for name in ("option-line-up", "option-line-up-undo"):
        assert as_assistant.post(reverse(f"billing:{name}", args=[option.pk])).status_code == 403
    assert as_assistant.get(reverse("billing:quote-line-up", args=[pair.pk])).status_code == 403
    assert as_bookkeeper.get(reverse("billing:quote-line-up", args=[pair.pk])).status_code == 200


def test_hire_stands_against_visits_with_the_owners_hours_and_the_cautions(quote, owner_manager, as_owner_manager):
    """The worked table: 1,600 for the hire; 13 full bodies or 22 spots alone cost more."""
    address = reverse("billing:quote-hire", args=[quote.pk])
    assert "Add an option by hire" in page_of(as_owner_manager.get(address))
    as_owner_manager.post(reverse("billing:option-quick", args=[quote.pk]), {"key": "hire"})
    page = page_of(as_owner_manager.get(address, {"visits": "Full bodies only", "hire": "nonsense"}))
    assert "$1,250.00" in page
    assert "$1,600.00" in page
    assert "The owner's own time" in page
    assert "16\N{NO-BREAK SPACE}h" in page
    assert "Hire costs less from 13 full-body or 22 spot visits alone." in page
    assert "ask the horse's vet" in page


def test_a_package_on_sale_is_one_tap_away(quote, as_owner_manager):
    package = Package.objects.create(name="Ten full bodies", price=Decimal(800), valid_days=180, since=START)
    package.parts.create(service=quote.full_service, count=10)
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert "With package Ten full bodies" in page
    as_owner_manager.post(reverse("billing:option-quick", args=[quote.pk]), {"key": f"package-{package.pk}"})
    option = option_called(quote, "With package Ten full bodies")
    assert option.package == package
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert "$1,100.00" in page  # 800 and ten call-outs of 30
    assert f'value="package-{package.pk}"' not in page
