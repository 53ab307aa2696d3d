from datetime import date

import pytest
from django.urls import reverse

from backoffice.home.search import search
from tests.factories.billing import issued_invoice
from tests.factories.clients import AnimalFactory, BarnFactory, PersonFactory
from tests.factories.quotes import drafted, owned

pytestmark = pytest.mark.django_db


def found(text: str, *, with_money: bool = True) -> dict[str, list[str]]:
    return {group.title: [hit.name for hit in group.hits] for group in search(text, with_money=with_money)}


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
    (group,) = search("old tin", with_money=False)
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


def test_somebody_without_money_finds_neither_quotes_nor_invoices(as_assistant, owner_manager, private_folder):
    issued_invoice(PersonFactory(name="Imani Velloran"), owner_manager)
    page = as_assistant.get(reverse("backoffice:search"), {"q": "velloran"}).content.decode()
    assert "Imani Velloran" in page
    assert "Invoice" not in page


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
    assert "Words in any order." in page


def test_the_number_of_queries_does_not_grow(
    as_owner_manager, django_assert_num_queries, owner_manager, private_folder
):
    issued_invoice(PersonFactory(name="Quarrie"), owner_manager)
    with django_assert_num_queries(12):
        as_owner_manager.get(reverse("backoffice:search"), {"q": "a"})
    for _ in range(29):
        AnimalFactory(), PersonFactory()
    with django_assert_num_queries(12):
        as_owner_manager.get(reverse("backoffice:search"), {"q": "a"})
