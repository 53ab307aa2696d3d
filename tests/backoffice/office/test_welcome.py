from dataclasses import astuple
from datetime import date, time
from zoneinfo import available_timezones

import pytest
from django.urls import reverse

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.audit.models import Entry
from backoffice.business.models import Business
from backoffice.documents.models import SealKey
from backoffice.office.actions import set_up
from backoffice.office.usual import usual_in
from backoffice.refusal import Refused
from backoffice.ui.countries import country_choices
from billing.prices.models import Price, TaxRate
from clients.plans.models import Guideline
from tests.factories.backoffice import BusinessFactory, UserFactory

PASSWORD = "a quiet mare in the rain"
TYPED = {
    "business_name": "Holt-Adair Horse Sessions",
    "country": "US",
    "first_name": "June",
    "last_name": "Holt",
    "username": "june",
    "password": PASSWORD,
    "password_again": PASSWORD,
}
WELCOME = "/welcome/"


def test_a_fresh_installation_leads_to_the_welcome_page(db, client):
    answer = client.get(reverse("backoffice:settings"), follow=True)
    assert answer.redirect_chain[-1][0] == WELCOME
    assert "Set up your back office" in answer.content.decode()


def test_it_makes_the_business_and_its_owner_manager_and_signs_in(db, client):
    answer = client.post(WELCOME, TYPED, follow=True)
    assert answer.status_code == 200
    business, person = Business.objects.get(), User.objects.get()
    assert (business.pk, business.name, business.time_zone) == (1, "Holt-Adair Horse Sessions", "America/Denver")
    assert (person.role, person.is_superuser, person.check_password(PASSWORD)) == (Role.OWNER_MANAGER, False, True)
    assert answer.context["user"] == person
    assert SealKey.objects.count() == 1
    assert set(Entry.objects.values_list("action", flat=True)) == {"account added", "business set up", "seal key made"}
    assert set(Entry.objects.exclude(action="seal key made").values_list("by", flat=True)) == {person.pk}


def test_once_set_up_the_page_is_closed(client, owner_manager):
    assert client.get(WELCOME)["Location"] == reverse("backoffice:sign-in")
    assert client.post(WELCOME, TYPED)["Location"] == reverse("backoffice:sign-in")
    assert User.objects.count() == 1


@pytest.mark.parametrize("make", [BusinessFactory, UserFactory])
def test_half_a_set_up_closes_it_too(db, client, make):
    make()
    assert client.get(WELCOME).status_code == 302
    assert client.get(reverse("backoffice:sign-in")).status_code == 200


def test_the_action_itself_refuses_a_second_time(owner_manager, now):
    with pytest.raises(Refused, match="already set up"):
        set_up(business=Business(name="Other"), owner_manager=User(username="other"), password=PASSWORD, at=now)
    assert Business.objects.get().name != "Other"


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("business_name", "", "Name of the business is missing."),
        ("business_name", "x" * 121, "Write at most 120 characters; this has 121."),
        ("business_name", "bell\x07", "hidden character"),
        ("currency", "XXX", "Choose one from the list."),
        ("time_zone", "Mars/Olympus", "Choose one from the list."),
        ("first_name", "", "Your first name is missing."),
        ("username", "two words", "valid username"),
        ("username", "🐴", "valid username"),
        ("password", "short", "too short"),
        ("password", "", "Password is missing."),
        ("password_again", "another quiet mare", "The two passwords differ."),
    ],
)
def test_each_wrong_thing_gets_a_sentence_and_nothing_typed_is_lost(db, client, field, value, sentence):
    answer = client.post(WELCOME, {**TYPED, field: value})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert sentence in page
    assert answer.context["form"].errors.keys() >= {field} or "password" in field
    assert "june" in page or field == "username"
    assert not Business.objects.exists()
    assert not User.objects.exists()


def test_a_name_in_any_script_stays_as_typed(db, client):
    client.post(WELCOME, {**TYPED, "business_name": "خيل <script>alert(1)</script> 🐴"})
    assert Business.objects.get().name == "خيل <script>alert(1)</script> 🐴"


def test_a_password_like_the_name_is_refused(db, client):
    answer = client.post(
        WELCOME, {**TYPED, "username": "quietmareintherain", "password": "quietmareintherain1", "password_again": "x"}
    )
    assert "too similar" in answer.content.decode()


# What is usual in a country: currency by the Unicode CLDR, paper by ISO 216, zones by the IANA table


@pytest.mark.parametrize(
    ("country", "usual"),
    [
        ("US", ("USD", "letter", "mi", "us", "America/Denver")),
        ("GB", ("GBP", "a4", "mi", "uk", "Europe/London")),
        ("IE", ("EUR", "a4", "km", "uk", "Europe/Dublin")),
        ("DE", ("EUR", "a4", "km", "us", "Europe/Berlin")),
        ("JP", ("JPY", "a4", "km", "us", "Asia/Tokyo")),
        ("AQ", None),
    ],
)
def test_the_country_says_the_rest(country, usual):
    found = usual_in(country, date(2026, 3, 2))
    if usual:
        assert astuple(found) == usual
    assert found.time_zone in available_timezones()


def test_each_country_of_the_list_can_be_chosen(db):
    for country, _ in country_choices():
        usual = usual_in(country, date(2026, 3, 2))
        assert usual.time_zone in available_timezones(), country
        assert len(usual.currency) == 3


def test_a_yard_in_gloucestershire(db, client):
    client.post(WELCOME, {**TYPED, "country": "GB", "distance_unit": "km"})
    business = Business.objects.get()
    assert (business.currency, business.paper, business.words, business.distance_unit) == ("GBP", "a4", "uk", "km")
    assert business.country == "GB"


# The first steps


def first(name):
    return reverse("backoffice:first-step", args=[name])


def test_the_steps_follow_each_other_and_each_can_be_skipped(db, client):
    sent = client.post(WELCOME, {**TYPED, "country": "GB"})
    pages, address = [], sent.url
    while address != "/":
        page = client.get(address)
        pages.append(page.context["step"].title)
        address = page.context["after"]
        assert f'href="{address}">Skip this step' in page.content.decode()
    assert len(pages) == 5
    assert "Coming to the yard" in client.get(first("prices")).content.decode()
    assert client.get(first("nothing")).status_code == 404


def test_each_step_saves_what_it_asks(as_owner_manager, business):
    said = {
        "where": {"address": "1 Lane", "phone": "", "email": "", "place_of_law": "England", "place": "51.94, -2.26"},
        "hours": {"day_start": "07:30", "day_end": "16:00", "lunch_minutes": "20", "setup_minutes": "5"},
        "prices": {"full_minutes": "60", "full_price": "70", "spot_minutes": "20", "call_out": "25", "split": "horse"},
        "pay": {"how_to_pay": "By transfer.", "payment_days": "7", "percent": "20", "is_included": "on"},
        "rhythms": {"takes_starters": "on"},
    }
    for name, data in said.items():
        assert as_owner_manager.post(first(name), data).status_code == 302, name
    business.refresh_from_db()
    assert (business.base_lat, business.place_of_law, business.setup_minutes) == (51.94, "England", 5)
    assert (business.day_start, business.how_to_pay, business.payment_days) == (time(7, 30), "By transfer.", 7)
    assert TaxRate.objects.get().is_included
    assert (Price.objects.get().amount, Guideline.objects.count()) == (70, 2)
    refused = as_owner_manager.post(first("prices"), said["prices"])
    assert "There are prices already" in refused.content.decode()


@pytest.mark.parametrize(
    ("name", "data", "sentence"),
    [
        ("where", {"place": "the old mill"}, "latitude"),
        ("hours", {"day_start": "9:00", "day_end": "8:00", "lunch_minutes": "0", "setup_minutes": "0"}, "ends before"),
        ("pay", {"payment_days": "900"}, "365"),
    ],
)
def test_a_bad_answer_gets_a_sentence(as_owner_manager, name, data, sentence):
    answer = as_owner_manager.post(first(name), data)
    assert answer.status_code == 422
    assert sentence in answer.content.decode().lower()


def test_only_who_runs_the_office(as_bookkeeper):
    assert as_bookkeeper.get(first("where")).status_code == 403
