from datetime import time

import pytest

from backoffice.access.powers import Role
from backoffice.audit.models import Entry
from backoffice.audit.queries import trail_of
from backoffice.business.models import Business
from backoffice.office.actions import change_business
from backoffice.office.forms import BusinessForm
from backoffice.office.hub import GROUPS
from backoffice.refusal import Refused
from tests.conftest import signed_in
from tests.factories.backoffice import UserFactory

URL = "/settings/business/"


def typed(business: Business, **changes: object) -> dict[str, object]:
    """What the browser sends when the page is saved as it stands, but for `changes`."""
    form = BusinessForm(instance=business)
    values = {name: form[name].value() for name in form.fields}
    return {name: value for name, value in {**values, **changes}.items() if value not in (None, False)}


@pytest.mark.parametrize("url", ["/settings/", URL, "/settings/team/"])
def test_settings_open_to_the_owner_manager_only(business, client, url):
    assert client.get(url).status_code == 302
    for role in Role:
        answer = signed_in(UserFactory(role=role)).get(url)
        assert answer.status_code == (200 if role == Role.OWNER_MANAGER else 403)


def test_the_hub_leads_to_each_setting_that_exists(as_owner_manager):
    page = as_owner_manager.get("/settings/").content.decode()
    assert URL in page
    assert "/settings/team/" in page
    assert len({setting.url_name for _, settings in GROUPS for setting in settings}) == 22


def test_a_change_is_saved_and_dated_in_the_trail(as_owner_manager, business, owner_manager):
    answer = as_owner_manager.post(URL, typed(business, quote_days=30, dose_critical_holds="on"))
    assert answer.status_code == 302
    business.refresh_from_db()
    assert (business.quote_days, business.dose_critical_holds) == (30, True)
    (entry,) = trail_of(business)
    assert (entry.action, entry.by) == ("settings changed", owner_manager)
    assert entry.changes == {"quote_days": [21, 30], "dose_critical_holds": [False, True]}


def test_names_and_addresses_stay_out_of_the_trail(as_owner_manager, business):
    as_owner_manager.post(URL, typed(business, name="Adair Sessions", address="2 New Lane", how_to_pay="Cash"))
    (entry,) = trail_of(business)
    assert entry.changes == {"name": "changed", "address": "changed", "how_to_pay": "changed"}


def test_an_iban_is_kept_without_the_gaps_that_people_type(as_owner_manager, business):
    typed_so = typed(business, iban="de89 3704 0044 0532 0130 00", bic="testde12")
    assert as_owner_manager.post(URL, typed_so).status_code == 302
    business.refresh_from_db()
    assert (business.iban, business.bic) == ("DE89370400440532013000", "TESTDE12")


def test_saving_what_stands_there_writes_nothing_into_the_trail(as_owner_manager, business):
    assert as_owner_manager.post(URL, typed(business)).status_code == 302
    assert not Entry.objects.exists()


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("name", "", "Name of the business is missing."),
        ("name", "x" * 500, "Write at most 120 characters; this has 500."),
        ("address", "x" * 5_000_000, "Write at most 400 characters; this has 5000000."),
        ("email", "nobody", "valid email"),
        ("currency", "DOLLARS", "Choose one from the list."),
        ("iban", "DE88 3704 0044 0532 0130 00", "its check digits do not fit"),
        ("bic", "TEST", "8 or 11 letters and digits"),
        ("time_zone", "Denver", "Choose one from the list."),
        ("payment_days", "-1", "or more"),
        ("payment_days", "366", "Write 365 or less."),
        ("quote_days", "0", "Write 1 or more."),
        ("quote_days", "soon", "Write a whole number, in figures."),
        ("signing_age", "15", "Write 16 or more."),
        ("base_lat", "900", "Write 90"),
        ("base_lon", "", "belong together"),
        ("day_end", "07:00", "The day ends before it starts."),
        ("lunch_to", "11:30", "Lunch ends before it starts."),
        ("day_start", "25:00", "Write a time such as 8:30."),
        ("speed_mph", "0", "Write 1 or more."),
        ("circuity", "0.5", "Write 1 or more."),
        ("lunch_minutes", "900", "Write 180 or less."),
    ],
)
def test_each_wrong_value_gets_a_sentence_at_its_field(as_owner_manager, business, field, value, sentence):
    answer = as_owner_manager.post(URL, typed(business, **{field: value}, phone="555-0123"))
    assert answer.status_code == 422
    assert any(sentence in text for text in answer.context["form"].errors[field])
    assert "555-0123" in answer.content.decode()
    business.refresh_from_db()
    assert business.phone == ""


def test_the_currency_stays_once_papers_are_numbered(as_owner_manager, business):
    from billing.numbers.actions import take_number

    assert as_owner_manager.post(URL, typed(business, currency="GBP")).status_code == 302
    take_number("invoice")
    business.refresh_from_db()
    answer = as_owner_manager.post(URL, typed(business, currency="EUR"))
    assert answer.status_code == 422
    assert "The currency stays as it is" in answer.content.decode()
    business.refresh_from_db()
    assert business.currency == "GBP"


def test_the_action_refuses_it_too(business, owner_manager, now):
    from billing.numbers.actions import take_number

    take_number("quote")
    with pytest.raises(Refused, match="currency"):
        change_business(values={"currency": "EUR", "day_start": time(7)}, at=now, by=owner_manager)
    business.refresh_from_db()
    assert business.day_start == time(8)
