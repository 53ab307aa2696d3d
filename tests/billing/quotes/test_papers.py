"""From the accepted quote through the consent to a running plan with booked visits."""

import json
from datetime import timedelta
from html import unescape

import pytest
import time_machine
from django.urls import reverse

from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from billing.quotes.acceptance import Signed, accept_quote
from billing.quotes.papers import open_paper, papers_missing
from clients.paperwork.actions import publish_wording_version
from clients.paperwork.models import Form, Wording
from clients.paperwork.signing import ask_to_sign
from clients.plans.models import Plan
from clients.visits.models import Visit
from tests.factories.clients import (
    AnimalFactory,
    FormFactory,
    MachineFactory,
    OwnershipFactory,
    PersonFactory,
    RoleFactory,
    WordingVersionFactory,
)
from tests.factories.paperwork import make_ready, version_of
from tests.factories.quotes import AT, DRAWN, START, offered, option_called, owned

pytestmark = pytest.mark.django_db
NEXT_WEEK = START + timedelta(days=7)


@pytest.fixture(autouse=True)
def _monday():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def horse(business):
    """Everything is in order but the consent."""
    animal = AnimalFactory(name="Tinker's Rest")
    owned(animal)
    make_ready(animal).delete()
    return animal


def accepted(horses, by, *, name="Desmond Quarrie"):
    quote, token = offered(horses, by, start=NEXT_WEEK)
    accept_quote(quote=quote, option=option_called(quote, "Weekly"), signed=Signed(name, DRAWN), at=AT)
    quote.refresh_from_db()
    return quote, token


def titles(quote):
    return [(paper.title, str(paper.signer or ""), paper.waits_for) for paper in papers_missing(quote, on=START)]


def test_a_consent_for_each_horse_and_the_terms_are_missing(horse, owner_manager):
    version_of(Wording.Kind.TERMS)
    other = AnimalFactory(name="Maple Row", barn=horse.barn)
    owned(other, horse.ownerships.get().person)
    quote, _ = accepted([horse, other], owner_manager)
    assert titles(quote) == [
        ("Consent to sessions, Tinker's Rest", "Desmond Quarrie", ""),
        ("Consent to sessions, Maple Row", "Desmond Quarrie", ""),
        ("Terms of business", "Desmond Quarrie", ""),
    ]


def test_nothing_is_missing_where_no_wording_was_written(business, owner_manager):
    animal = AnimalFactory()
    owned(animal)
    quote, _ = accepted([animal], owner_manager)
    assert titles(quote) == []


def test_a_consent_in_force_is_not_asked_again(horse, owner_manager):
    make_ready(horse)
    quote, _ = accepted([horse], owner_manager)
    assert titles(quote) == []


def test_who_may_not_sign_is_told_who_does(horse, owner_manager):
    stranger = AnimalFactory(name="Old Peter", barn=horse.barn)
    owned(stranger, PersonFactory(name="Ottilie Brackwater"))
    version_of(Wording.Kind.TERMS)
    quote, _ = accepted([horse, stranger], owner_manager)
    missing = titles(quote)
    assert ("Consent to sessions, Old Peter", "", "Ottilie Brackwater") in missing
    assert ("Terms of business", "", "Ottilie Brackwater") in missing
    keys = [paper.key for paper in papers_missing(quote, on=START) if paper.signer is None]
    with pytest.raises(Refused, match="not yours to sign"):
        open_paper(quote=quote, key=keys[0], at=AT)


def test_where_all_owners_sign_the_paper_waits_for_the_one_who_has_not(business, horse, owner_manager):
    business.who_signs = business.WhoSigns.ALL
    business.save()
    OwnershipFactory(animal=horse, person__name="Imani Velloran")
    quote, _ = accepted([horse], owner_manager)
    assert titles(quote) == [("Consent to sessions, Tinker's Rest", "Desmond Quarrie", "")]
    signer = quote.person
    FormFactory(animal=horse, signer=signer, wording_version=version_of(Wording.Kind.CONSENT), signed=True)
    assert titles(quote) == [("Consent to sessions, Tinker's Rest", "", "Imani Velloran")]


def test_an_agent_without_authority_may_not_sign(horse, owner_manager):
    trainer = PersonFactory(name="Idris Fenn")
    RoleFactory(animal=horse, person=trainer)
    quote, _ = offered([horse], owner_manager, person=trainer)
    assert titles(quote) == [("Consent to sessions, Tinker's Rest", "", "Desmond Quarrie")]


@pytest.mark.parametrize("horses", [1, 5])
def test_missing_papers_take_the_same_queries_for_any_number_of_horses(
    horse, owner_manager, horses, django_assert_num_queries
):
    version_of(Wording.Kind.TERMS)
    others = [AnimalFactory(barn=horse.barn) for _ in range(horses - 1)]
    for other in others:
        owned(other, horse.ownerships.get().person)
    quote, _ = offered([horse, *others], owner_manager)
    with django_assert_num_queries(16):
        papers_missing(quote, on=START)


def test_before_acceptance_nothing_is_signed(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    with pytest.raises(Refused, match="once the quote is accepted"):
        open_paper(quote=quote, key="1-1", at=AT)


def test_the_link_to_a_paper_lives_for_a_day_and_the_form_waits_once(horse, owner_manager):
    quote, _ = accepted([horse], owner_manager)
    key = papers_missing(quote, on=START)[0].key
    assert open_paper(quote=quote, key=key, at=AT) != open_paper(quote=quote, key=key, at=AT)
    form = Form.objects.get()
    assert (form.state, form.signer, form.animal) == ("to_sign", quote.person, horse)
    links = PrivateLink.objects.filter(purpose="form", target_pk=form.pk)
    assert {link.expires_at for link in links} == {AT + timedelta(days=1)}


def test_a_form_with_an_older_wording_is_withdrawn_and_asked_anew(horse, owner_manager):
    quote, _ = accepted([horse], owner_manager)
    old = ask_to_sign(version=version_of("consent"), signer=quote.person, animal=horse, at=AT, by=owner_manager)
    WordingVersionFactory(wording=old.wording_version.wording, number=2)
    open_paper(quote=quote, key=papers_missing(quote, on=START)[0].key, at=AT)
    assert list(Form.objects.order_by("pk").values_list("state", "wording_version__number")) == [
        ("withdrawn", 1),
        ("to_sign", 2),
    ]


def test_a_key_that_fits_nothing_is_refused(client, horse, owner_manager):
    _, token = accepted([horse], owner_manager)
    for key in ("", "0-0", "<script>", "9" * 5000):
        response = client.post(reverse("billing:owner-quote-sign", args=[token]), {"paper": key})
        assert response.status_code == 409
        assert "signed already, or it is not yours" in response.content.decode()
    assert not Form.objects.exists()


def test_from_acceptance_through_the_consent_to_booked_visits(client, as_owner_manager, horse, owner_manager):
    MachineFactory()
    quote, token = accepted([horse], owner_manager)
    plan = Plan.objects.get()
    assert plan.state == Plan.State.PROPOSED
    plan_page = reverse("clients:plan", args=[plan.pk])
    assert "Not signed yet: Consent to sessions" in unescape(
        as_owner_manager.get(quote.get_absolute_url()).content.decode()
    )

    page = unescape(client.get(reverse("billing:owner-quote", args=[token])).content.decode())
    assert "Still to sign before the first visit" in page
    key = papers_missing(quote, on=START)[0].key
    opened = client.post(reverse("billing:owner-quote-sign", args=[token]), {"paper": key})
    assert opened.url.startswith("/p/form/")
    typed = {"electronic": "on", "capacity": "owner", "name_typed": "Desmond Quarrie", "strokes": json.dumps(DRAWN)}
    signed = client.post(opened.url, typed)
    assert signed.url == opened.url
    back = reverse("billing:owner-quote", args=[token])
    assert f'href="{back}">Back to your quote' in client.get(signed.url).content.decode()
    assert Form.objects.get().state == "signed"
    assert "Still to sign" not in client.get(reverse("billing:owner-quote", args=[token])).content.decode()
    assert "Not signed yet" not in as_owner_manager.get(quote.get_absolute_url()).content.decode()

    assert "Set running" in as_owner_manager.get(plan_page).content.decode()
    as_owner_manager.post(reverse("clients:plan-run", args=[plan.pk]))
    as_owner_manager.post(reverse("clients:plan-book-all", args=[plan.pk]))
    plan.refresh_from_db()
    assert plan.state == Plan.State.RUNNING
    assert set(Visit.objects.filter(plan=plan).values_list("status", flat=True)) == {"booked"}
    assert Visit.objects.filter(plan=plan).count() == 4


@pytest.mark.parametrize("back", ["https://elsewhere.example/p/quote/" + "a" * 43 + "/", "//elsewhere/", "/p/quote/x/"])
def test_the_way_back_from_a_paper_leads_nowhere_else(client, horse, owner_manager, back):
    quote, _ = accepted([horse], owner_manager)
    token = open_paper(quote=quote, key=papers_missing(quote, on=START)[0].key, at=AT)
    response = client.get(reverse("clients:owner-form", args=[token]), {"back": back})
    assert response.status_code == 200
    assert "Back to your quote" not in response.content.decode()


def test_while_on_hold_nothing_is_booked_and_the_reason_is_said(as_owner_manager, horse, owner_manager):
    MachineFactory()
    accepted([horse], owner_manager)
    plan = Plan.objects.get()
    response = as_owner_manager.post(reverse("clients:plan-book-all", args=[plan.pk]), follow=True)
    assert "No consent is signed for Tinker's Rest" in unescape(response.content.decode())
    assert set(Visit.objects.values_list("status", flat=True)) == {"pencilled"}


def test_a_wording_published_by_its_own_action_is_the_one_asked_for(horse, owner_manager):
    version = version_of("consent")
    publish_wording_version(
        wording=version.wording,
        text="I agree, {horse}.",
        must_sign_again=False,
        valid_months=12,
        at=AT,
        by=owner_manager,
    )
    quote, _ = accepted([horse], owner_manager)
    assert papers_missing(quote, on=START)[0].version.number == 2
