from datetime import date

import pytest
from django.urls import reverse

from backoffice.access.models import User
from backoffice.home.search import search
from billing.payments.actions import take_payment
from billing.payments.models import Payment
from tests.factories.billing import issued_invoice
from tests.factories.clients import AnimalFactory, BarnFactory, MachineFactory, PersonFactory, VetPracticeFactory
from tests.factories.quotes import drafted, owned

pytestmark = pytest.mark.django_db


def found(text: str, user: User | None = None) -> dict[str, list[str]]:
    groups = search(text, user or User(role="owner_manager")).groups
    return {group.title: [hit.name for hit in group.hits] for group in groups}


@pytest.mark.parametrize(
    "text", ["quarrie desmond", "DESMOND", "  mond   qua ", "303-555", "3035550190", "quarrie.example"]
)
def test_a_person_is_found_by_words_in_any_order_phone_or_mail(text):
    PersonFactory(name="Desmond Quarrie", phone="303-555-0190", email="d@quarrie.example")
    PersonFactory(name="Imani Velloran")
    assert found(text) == {"People": ["Desmond Quarrie"]}


def test_case_and_accents_do_not_matter_in_any_script():
    PersonFactory(name="Éloïse Čapek")
    PersonFactory(name="ليلى الحداد")
    assert found("eloise capek") == {"People": ["Éloïse Čapek"]}
    assert found("الحداد") == {"People": ["ليلى الحداد"]}


def test_horses_and_barns_are_found_with_where_they_stand():
    barn = BarnFactory(name="Copper Hasp Stables", area="North")
    AnimalFactory(name="Ember Day", barn=barn, microchip="985112004567890")
    AnimalFactory(name="Old Tin", barn=barn, died_on=date(2025, 1, 3))
    assert found("ember") == {"Horses": ["Ember Day"]}
    assert found("985112004567890") == {"Horses": ["Ember Day"]}
    assert found("copper") == {"Horses": ["Ember Day", "Old Tin"], "Barns": ["Copper Hasp Stables"]}
    (group,) = search("old tin", User(role="assistant")).groups
    assert group.hits[0].under == "Copper Hasp Stables, died Fri 3 Jan 2025"


def test_every_word_must_fit():
    PersonFactory(name="Desmond Quarrie")
    assert found("desmond velloran") == {}


def test_a_quote_is_found_by_title_owner_and_horse_once(owner_manager):
    barn = BarnFactory()
    horses = [AnimalFactory(name="Merrow", barn=barn), AnimalFactory(name="Mistral", barn=barn)]
    owned(horses[0], PersonFactory(name="Delphine Marsh"))
    drafted(horses, owner_manager, title="Steady upkeep")
    for text in ("steady", "marsh upkeep", "m steady", "quote merrow mistral"):
        assert found(text)["Quotes"] == ["Quote draft: Steady upkeep"]


def test_an_invoice_is_found_by_number_and_payer(owner_manager, private_folder):
    invoice = issued_invoice(PersonFactory(name="Imani Velloran"), owner_manager)
    for text in (
        invoice.name,
        str(invoice.number),
        f"{invoice.number:04d}",
        "velloran",
        f"imani {invoice.name}",
        "invoice 1",
    ):
        assert found(text)["Invoices"] == [f"Invoice {invoice.name}"]
    for text in ("1999-0001", "99999999999999999999", "2026-", "-1", "²"):
        assert "Invoices" not in found(text)


@pytest.mark.parametrize(
    ("text", "close"),
    [
        ("Veloran", ("velloran",)),
        ("imany velloran", ("imani",)),
        ("Bsicuit", ("biscuit",)),
        ("copper haps", ("hasp",)),
        ("Cotonwood", ("cottonwood",)),
    ],
)
def test_a_word_spelled_a_little_wrong_finds_what_is_close(as_owner_manager, text, close):
    PersonFactory(name="Imani Velloran")
    AnimalFactory(name="Biscuit", barn=BarnFactory(name="Copper Hasp Stables"))
    VetPracticeFactory(name="Cottonwood Equine Practice")
    assert search(text, User(role="owner_manager")).close == close
    page = as_owner_manager.get(reverse("backoffice:search"), {"q": text}).content.decode()
    assert f"Close to it: <strong>{close[0]}</strong>" in page


@pytest.mark.parametrize("text", ["velloran", "vel", "zzzzzz", "imn", "98511"])
def test_what_is_spelled_right_too_short_or_far_off_is_not_guessed(text):
    PersonFactory(name="Imani Velloran")
    AnimalFactory(name="Biscuit", microchip="985212004567890")
    assert search(text, User(role="owner_manager")).close == ()


def test_vets_machines_payments_and_papers_are_found(owner_manager, private_folder, now):
    VetPracticeFactory(name="South Divide Veterinary", vet_name="Dr. Osei Brandt")
    MachineFactory(name="Field unit two", serial_number="FU-0002")
    payer = PersonFactory(name="Imani Velloran")
    invoice = issued_invoice(payer, owner_manager)
    take_payment(
        payer=payer,
        amount=invoice.total,
        method=Payment.Method.CHECK,
        received_on=invoice.issued_on,
        allocations={invoice: invoice.total},
        reference="4711",
        at=now,
        by=owner_manager,
    )
    assert found("brandt") == {"Vet practices": ["South Divide Veterinary"]}
    assert found("fu-0002") == {"Machines": ["Field unit two"]}
    assert found("4711")["Payments"] == ["Receipt 1"]
    assert found("receipt velloran")["Payments"] == ["Receipt 1"]
    assert f"Invoice {invoice.name}" in found(f"invoice {invoice.name}")["Papers"]
    assert "Papers" not in found(f"invoice {invoice.name}", User(role="assistant"))


def test_somebody_without_money_finds_neither_quotes_nor_invoices(as_assistant, owner_manager, private_folder):
    issued_invoice(PersonFactory(name="Imani Velloran"), owner_manager)
    page = as_assistant.get(reverse("backoffice:search"), {"q": "velloran"}).content.decode()
    assert "Imani Velloran" in page
    assert "Invoice" not in page


def test_of_what_there_is_much_ten_are_shown_and_the_rest_is_not_counted(owner_manager, private_folder):
    payer = PersonFactory(name="Imani Velloran")
    for _ in range(11):
        issued_invoice(payer, owner_manager)
    (group,) = (each for each in search("velloran", owner_manager).groups if each.title == "Invoices")
    assert (len(group.hits), group.count, group.is_cut) == (10, None, True)


def test_ten_of_a_kind_are_shown_and_the_rest_counted(as_owner_manager):
    for place in range(12):
        PersonFactory(name=f"Quarrie {place:02}")
    page = as_owner_manager.get(reverse("backoffice:search"), {"q": "quarrie"}).content.decode()
    assert "Quarrie 09" in page
    assert "Quarrie 10" not in page
    assert "The first 10 of 12." in page


@pytest.mark.parametrize("text", ["<script>alert(1)</script>", "🐴", "' OR 1=1 --", "x" * 5000, "%", "\x00"])
def test_odd_text_finds_nothing_and_is_shown_as_typed(as_owner_manager, text):
    PersonFactory()
    answer = as_owner_manager.get(reverse("backoffice:search"), {"q": text})
    assert answer.status_code == 200
    assert "<script>alert" not in answer.content.decode()
    assert "Nothing found" in answer.content.decode()


def test_no_words_asks_for_some(as_owner_manager):
    page = as_owner_manager.get(reverse("backoffice:search"), {"q": "  "}).content.decode()
    assert "Words in any order;" in page


def test_the_number_of_queries_does_not_grow(
    as_owner_manager, django_assert_num_queries, owner_manager, private_folder
):
    issued_invoice(PersonFactory(name="Quarrie"), owner_manager)
    with django_assert_num_queries(16):
        as_owner_manager.get(reverse("backoffice:search"), {"q": "a"})
    for _ in range(29):
        AnimalFactory(), PersonFactory()
    with django_assert_num_queries(16):
        as_owner_manager.get(reverse("backoffice:search"), {"q": "a"})
