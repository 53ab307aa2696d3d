"""British words in the app's own text, and never in what people wrote."""

import pytest
from django.template.loader import render_to_string
from django.urls import reverse

from backoffice import british
from clients.people.forms import BarnForm
from tests.factories.clients import BarnFactory


@pytest.fixture
def in_britain(business):
    business.words, business.currency, business.paper = "uk", "GBP", "a4"
    business.save()
    yield business
    british.use("us")


@pytest.mark.parametrize(
    ("american", "wanted"),
    [
        ("The barn and its color", "The yard and its colour"),
        ("Barns", "Yards"),
        ("Check the year. A check came back.", "Check the year. A cheque came back."),
        ("checks and cash on a slip", "cheques and cash on a slip"),
        ("Paid by check", "Paid by cheque"),
        ("It checks that it is you", "It checks that it is you"),
        ("Check", "Cheque"),
        ("Please check", "Please check"),
        ("barnacle", "barnacle"),
    ],
)
def test_words(american, wanted):
    assert british.british(american) == wanted


def test_a_name_that_people_gave_stays():
    british.use("uk")
    assert british.spoken_within("Tin Bucket Barn has no barn window.") == "Tin Bucket Barn has no yard window."
    british.use("us")
    assert british.spoken_within("the barn") == "the barn"


def test_a_template_is_turned_outside_of_its_code():
    source = (
        '{# barn #}<a class="barn" href="{% url \'clients:barn\' barn.pk %}">Barn {{ barn.name }} in the barn</a>'
        '{% include "x.html" with title="No barn" barn=barn %}'
    )
    assert british.template_in_british(source) == (
        '{# barn #}<a class="barn" href="{% url \'clients:barn\' barn.pk %}">Yard {{ barn.name }} in the yard</a>'
        '{% include "x.html" with title="No yard" barn=barn %}'
    )


def test_both_stand_side_by_side():
    context = {"title": "A barn", "text": "", "url": ""}
    british.use("uk")
    uk = render_to_string("ui/_empty.html", context)
    british.use("us")
    us = render_to_string("ui/_empty.html", context)
    assert ("yard" in uk, "yard" in us) == (True, False)


@pytest.mark.django_db
def test_pages_and_forms_speak_so(in_britain, as_owner_manager):
    BarnFactory(name="Tin Bucket Barn")
    page = as_owner_manager.get(reverse("clients:barns")).content.decode()
    assert '<html lang="en-GB"' in page
    assert "Yards" in page
    assert "Tin Bucket Barn" in page
    new = as_owner_manager.get(reverse("clients:barn-new")).content.decode()
    assert "New yard" in new
    british.use("uk")
    labels = [str(field.label) for field in BarnForm().fields.values()]
    assert not [label for label in labels if "barn" in label.lower()]
    in_britain.words = "us"
    in_britain.save()
    assert "Barns" in as_owner_manager.get(reverse("clients:barns")).content.decode()


def test_the_page_in_the_barn_is_told_the_words_that_differ(client, in_britain):
    page = client.get(reverse("clients:barn-shell")).content.decode()
    assert 'data-barn="yard" data-check="cheque" data-labored="laboured"' in page
    assert "In the yard" in page
    assert client.get(reverse("clients:barn-manifest")).json()["short_name"] == "In the yard"
