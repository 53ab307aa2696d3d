import json

import pytest
import time_machine
from django.urls import reverse

from backoffice.documents.models import Document
from backoffice.erasing.actions import erase_person
from backoffice.erasing.collecting import verdicts_on
from backoffice.erasing.traces import traces_of
from backoffice.keeping.models import Erasure
from billing.invoices.models import Invoice
from billing.payments.models import Payment
from billing.quotes.models import Acceptance, Quote
from clients.animals.models import Animal
from clients.paperwork.models import Decision, Form
from clients.people.names import erased_name
from clients.visits.models import Visit
from tests.backoffice.erasing.conftest import LATER, NAME, YEARS_LATER
from tests.conftest import signed_in
from tests.factories.backoffice import UserFactory
from tests.factories.clients import MachineFactory
from tests.factories.paperwork import DRAWN, ready_animal
from tests.factories.quotes import offered


def kept(person) -> str:
    return reverse("backoffice:person-kept", args=[person.pk])


@time_machine.travel(LATER, tick=False)
def test_looking_changes_nothing_and_says_what_goes_and_what_stays(person, as_owner_manager):
    page = as_owner_manager.get(kept(person)).content.decode()
    assert "Name, address, phone, notes" in page
    assert "Until Sat 31 Dec 2033" in page
    person.refresh_from_db()
    assert person.name == NAME


@time_machine.travel(LATER, tick=False)
def test_erasing_asks_for_a_tick_then_shows_the_certificate(person, as_owner_manager):
    assert as_owner_manager.post(kept(person), {"asked": "person"}).status_code == 422
    answer = as_owner_manager.post(kept(person), {"asked": "person", "sure": "on"}, follow=True)
    assert f"Certificate {Erasure.objects.get().pk}" in answer.content.decode()


def test_only_the_owner_manager_comes_in(person, as_assistant, as_bookkeeper):
    practitioner = signed_in(UserFactory(role="practitioner"))
    for client in (as_assistant, as_bookkeeper, practitioner):
        assert client.get(kept(person)).status_code == 403
        assert client.post(reverse("backoffice:person-data", args=[person.pk])).status_code == 403
        assert client.get(reverse("backoffice:keeping")).status_code == 403


@time_machine.travel(LATER, tick=False)
def test_a_rule_is_changed_with_its_reason_and_day(person, as_owner_manager):
    address = reverse("backoffice:keep-rule", args=["form"])
    bad = as_owner_manager.post(address, {"years": "101", "why": "", "since": "2026-06-01"})
    assert bad.status_code == 422
    as_owner_manager.post(address, {"years": "10", "why": "My insurer, by letter", "since": "2026-06-01"})
    page = as_owner_manager.get(reverse("backoffice:keeping")).content.decode()
    assert "10 years from the last day the form held" in page
    assert as_owner_manager.get(reverse("backoffice:keep-rule", args=["nothing"])).status_code == 404


@time_machine.travel(LATER, tick=False)
def test_the_data_comes_as_a_zip(person, as_owner_manager):
    answer = as_owner_manager.post(reverse("backoffice:person-data", args=[person.pk]))
    assert answer["Content-Type"] == "application/zip"
    assert answer["Cache-Control"] == "no-store"


@pytest.mark.parametrize("rows", [1, 30])
def test_the_list_of_erasures_takes_the_same_queries_whatever_its_length(
    as_owner_manager, owner_manager, rows, django_assert_num_queries
):
    for number in range(rows):
        Erasure.objects.create(person_pk=number + 1, asked="person", at=LATER, by=owner_manager)
    as_owner_manager.get(reverse("backoffice:keeping"))
    with django_assert_num_queries(5):
        as_owner_manager.get(reverse("backoffice:keeping"))


@time_machine.travel(LATER, tick=False)
def test_somebody_without_the_owner_s_power_sees_no_link(person, as_owner_manager, as_assistant):
    page = person.get_absolute_url()
    assert kept(person) in as_owner_manager.get(page).content.decode()
    assert kept(person) not in as_assistant.get(page).content.decode()


@time_machine.travel(YEARS_LATER, tick=False)
def test_every_page_about_what_was_erased_still_answers(person, owner_manager):
    erase_person(person=person, asked="person", at=YEARS_LATER, by=owner_manager)
    client = signed_in(owner_manager)
    rows = [person, *Animal.objects.all(), *Form.objects.all(), *Invoice.objects.all(), *Payment.objects.all()]
    addresses = [row.get_absolute_url() for row in [*rows, *Visit.objects.all()]]
    addresses += [reverse("clients:decision", args=[decision.pk]) for decision in Decision.objects.all()]
    addresses += [reverse("clients:animal-history", args=[horse.pk]) for horse in Animal.objects.all()]
    for address in [*addresses, "/people/", "/horses/", "/paperwork/forms/", kept(person), "/"]:
        answer = client.get(address)
        assert answer.status_code == 200, address
        assert NAME not in answer.content.decode(), address


@time_machine.travel(YEARS_LATER, tick=False)
def test_an_erased_file_says_so(person, owner_manager):
    erase_person(person=person, asked="person", at=YEARS_LATER, by=owner_manager)
    document = Document.objects.get(kind="form")
    answer = signed_in(owner_manager).get(reverse("backoffice:document", args=[document.pk]))
    assert "erased by a rule of keeping" in answer.content.decode()


@time_machine.travel(YEARS_LATER, tick=False)
def test_a_declined_quote_keeps_its_figures_without_the_name(owner_manager, private_folder, settings, tmp_path):
    settings.ERASURES_FILE = tmp_path / "erasures.jsonl"
    horse = ready_animal()
    owner = horse.ownerships.get().person
    owner.name = NAME
    owner.save()
    quote, _token = offered([horse], owner_manager)
    assert NAME in json.dumps(quote.frozen)
    Quote.objects.filter(pk=quote.pk).update(state="declined", answered_at=LATER)
    erase_person(person=owner, asked="person", at=YEARS_LATER, by=owner_manager)
    page = signed_in(owner_manager).get(quote.get_absolute_url())
    assert page.status_code == 200
    assert NAME not in page.content.decode()
    assert erased_name(owner.pk) in json.dumps(Quote.objects.get(pk=quote.pk).frozen)
    assert list(traces_of(NAME)) == []


def test_how_a_quote_was_accepted_goes_when_its_years_are_over(owner_manager, private_folder, settings, tmp_path):
    settings.ERASURES_FILE = tmp_path / "erasures.jsonl"
    horse = ready_animal()
    owner = horse.ownerships.get().person
    quote, _token = offered([horse], owner_manager)
    Quote.objects.filter(pk=quote.pk).update(state="accepted", answered_at=LATER)
    signed = {"name_typed": owner.name, "strokes": DRAWN, "signed_at": LATER, "device": "Phone", "address": "192.0.2.7"}
    Acceptance.objects.create(
        quote=quote, option=quote.options.first(), total=95, at_most={owner.name: "95.00"}, **signed
    )
    kinds = {verdict.held.kind: verdict for verdict in verdicts_on(owner, LATER.date())}
    assert kinds["agreement"].stays
    erase_person(person=owner, asked="person", at=YEARS_LATER, by=owner_manager)
    kept_row = Acceptance.objects.get()
    assert (kept_row.name_typed, kept_row.strokes, kept_row.device, kept_row.address) == ("", [], "", None)
    assert kept_row.at_most == {erased_name(owner.pk): "95.00"}
    assert kept_row.total == 95


@time_machine.travel(LATER, tick=False)
def test_no_form_list_or_search_offers_somebody_who_was_erased(person, owner_manager, as_owner_manager):
    horse, machine = person.ownerships.first().animal, MachineFactory()
    erase_person(person=person, asked="person", at=LATER, by=owner_manager)
    name = erased_name(person.pk)
    assert name not in as_owner_manager.get(reverse("clients:people")).content.decode()
    assert name not in as_owner_manager.get(reverse("backoffice:search"), {"q": "erased"}).content.decode()
    for page, args in [
        ("animal-new", []),
        ("animal-owners", [horse.pk]),
        ("animal-roles", [horse.pk]),
        ("animal-sold", [horse.pk]),
        ("form-new", []),
        ("person-new", []),
        ("barn-edit", [horse.barn_id]),
        ("hire-new", [machine.pk]),
    ]:
        shown = as_owner_manager.get(reverse(f"clients:{page}", args=args))
        assert shown.status_code == 200, page
        assert f">{name}</option>" not in shown.content.decode(), page
    shown = as_owner_manager.get(reverse("billing:quote-new"))
    assert f">{name}</option>" not in shown.content.decode()
