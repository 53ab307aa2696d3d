import pytest
from django.urls import reverse

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.audit.models import Entry
from backoffice.business.models import Business
from backoffice.documents.models import SealKey
from backoffice.office.actions import set_up
from backoffice.refusal import Refused
from tests.factories.backoffice import BusinessFactory, UserFactory

PASSWORD = "a quiet mare in the rain"
TYPED = {
    "business_name": "Holt-Adair Horse Sessions",
    "currency": "USD",
    "time_zone": "America/Denver",
    "paper": "letter",
    "distance_unit": "mi",
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
