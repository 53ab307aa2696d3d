"""What the owner reads and signs, behind a private link."""

import io
import json
from datetime import date, timedelta
from decimal import Decimal
from html import unescape

import pytest
import time_machine
from django.urls import reverse
from pypdf import PdfReader

from backoffice.audit.models import Entry
from backoffice.links.models import PrivateLink
from billing.prices.rules import CostRates
from billing.quotes.actions import new_version, offer_quote
from billing.quotes.models import Acceptance, Quote
from billing.quotes.pricing_file import price_file
from clients.animals.models import Ownership
from clients.visits.actions import note_sale
from clients.visits.models import Visit
from tests.factories.clients import PersonFactory
from tests.factories.quotes import AT, DRAWN, drafted, offered, option_called

pytestmark = pytest.mark.django_db
HONEST = "A rule of thumb of the trade, not a promise. Not a substitute for veterinary care."
CLOSED = "This link is closed"


@pytest.fixture(autouse=True)
def _monday():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def quote(horse, owner_manager):
    made, token = offered([horse], owner_manager, note="Pick whatever fits.")
    made.token = token
    return made


def address(quote, name="owner-quote"):
    return reverse(f"billing:{name}", args=[quote.token])


def page_of(response) -> str:
    return unescape(response.content.decode())


def answer(quote, **changes):
    return {
        "option": option_called(quote, "Weekly").pk,
        "name_typed": "Desmond Quarrie",
        "strokes": json.dumps(DRAWN),
        "agrees": "on",
        **changes,
    }


def test_the_owner_reads_the_same_options_without_an_account(client, quote):
    response = client.get(address(quote))
    page = page_of(response)
    assert response.status_code == 200
    assert "Pick whatever fits." in page
    assert "Please answer by Mon 23 Mar." in page
    assert HONEST in page
    assert "Weekly, $500.00" in page
    for total in ("$2,600.00", "$1,250.00", "$625.00", "$500.00", "$250.00", "$125.00"):
        assert total in page
    assert "<nav" not in page


def test_no_option_is_called_best(client, quote):
    page = page_of(client.get(address(quote))).lower()
    for word in ("best", "recommend", "ideal", "cure", "heal "):
        assert word not in page


def test_pages_of_a_link_are_kept_out_of_searches_and_stores(client, quote):
    for name in ("owner-quote", "owner-quote-pdf"):
        response = client.get(address(quote, name))
        assert response["X-Robots-Tag"] == "noindex, nofollow"
        assert "no-store" in response["Cache-Control"]
    assert 'content="noindex, nofollow"' in page_of(client.get(address(quote)))


def test_opening_changes_nothing_but_when_it_was_opened(client, quote):
    before = (Quote.objects.values().get(pk=quote.pk), Entry.objects.count(), Visit.objects.count())
    client.get(address(quote))
    client.get(address(quote, "owner-quote-pdf"))
    assert (Quote.objects.values().get(pk=quote.pk), Entry.objects.count(), Visit.objects.count()) == before
    assert PrivateLink.objects.get(target_pk=quote.pk).first_opened_at == AT


@pytest.mark.parametrize("name", ["owner-quote-accept", "owner-quote-decline", "owner-quote-sign"])
def test_an_answer_is_never_given_by_a_get(client, quote, name):
    assert client.get(address(quote, name)).status_code == 405


@pytest.mark.parametrize(
    "name", ["owner-quote", "owner-quote-pdf", "owner-quote-accept", "owner-quote-decline", "owner-quote-sign"]
)
def test_a_guessed_a_withdrawn_and_an_ended_link_show_one_and_the_same_page(client, quote, name):
    ask = client.get if name in ("owner-quote", "owner-quote-pdf") else client.post
    guessed = ask(reverse(f"billing:{name}", args=["x" * 43]))
    links = PrivateLink.objects.filter(target_pk=quote.pk)
    links.update(revoked_at=AT)
    revoked = ask(address(quote, name))
    links.update(revoked_at=None, expires_at=AT - timedelta(seconds=1))
    ended = ask(address(quote, name))
    assert {response.status_code for response in (guessed, revoked, ended)} == {404}
    assert len({without_nonce(response) for response in (guessed, revoked, ended)}) == 1
    assert not Acceptance.objects.exists()


def without_nonce(response) -> str:
    """The page but for its token against forged requests, which differs each time."""
    return response.content.decode().split("<main")[1]


def test_a_replaced_quote_is_closed(client, quote, owner_manager):
    offer_quote(quote=new_version(quote=quote, at=AT, by=owner_manager), at=AT, by=owner_manager)
    assert client.get(address(quote)).status_code == 404


def test_accepting_shows_what_was_chosen(client, quote):
    response = client.post(address(quote, "owner-quote-accept"), answer(quote), headers={"user-agent": "Owner's phone"})
    assert response.url == address(quote)
    page = page_of(client.get(response.url))
    assert "Thank you. You chose “Weekly”." in page
    assert "$500.00 at most" in page
    assert "Accept and sign" not in page
    kept = Acceptance.objects.get()
    assert (kept.name_typed, kept.device, kept.address) == ("Desmond Quarrie", "Owner's phone", "127.0.0.1")
    assert kept.link.target_pk == quote.pk
    assert Entry.objects.get(action="quote accepted").via == "private link"


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("option", "", "Choose one of the options."),
        ("option", "999999", "Choose one of these."),
        ("option", "abc", "Choose one of these."),
        ("name_typed", "", "missing"),
        ("name_typed", "Somebody Else", "The name typed differs from the name on the quote, Desmond Quarrie."),
        ("name_typed", "x" * 121, "at most 120 characters"),
        ("name_typed", "ليلى الكحلاني", "differs from the name on the quote"),
        ("name_typed", "🐴", "differs from the name on the quote"),
        ("strokes", "", "The signature is missing: draw it in the box."),
        ("strokes", "[]", "The signature is missing: draw it in the box."),
        ("strokes", "[[[1, 1], [2, 2]]]", "That is only a dot"),
        ("strokes", "{", "did not arrive whole"),
        ("strokes", "9" * 700_000, "at most 600000 characters"),
        ("agrees", "", "Please tick that you have read it."),
    ],
)
def test_what_is_missing_is_said_at_its_field_and_nothing_is_lost(client, quote, field, value, sentence):
    response = client.post(address(quote, "owner-quote-accept"), answer(quote, **{field: value}))
    assert response.status_code == 422
    page = page_of(response)
    summary, fields = page.split('id="error-summary"')[1].split("</ul>", 1)
    assert sentence in summary
    assert sentence in fields
    if field != "name_typed":
        assert 'value="Desmond Quarrie"' in fields
    if field != "strokes":
        assert json.dumps(DRAWN) in fields
    if field != "option":
        assert f'value="{option_called(quote, "Weekly").pk}"' in fields
        assert "checked" in fields
    assert not Acceptance.objects.exists()


def test_an_option_of_another_quote_is_not_offered(client, quote, horse, owner_manager):
    other = drafted([horse], owner_manager)
    response = client.post(
        address(quote, "owner-quote-accept"), answer(quote, option=option_called(other, "Weekly").pk)
    )
    assert response.status_code == 422
    assert "Choose one of these." in page_of(response)


def test_accepting_twice_is_refused(client, quote):
    client.post(address(quote, "owner-quote-accept"), answer(quote))
    again = client.post(address(quote, "owner-quote-accept"), answer(quote))
    assert again.status_code == 422
    assert "You chose “Weekly”" in page_of(again)
    assert Acceptance.objects.count() == 1


def test_after_its_last_day_it_can_be_read_but_not_answered(client, quote):
    with time_machine.travel(AT + timedelta(days=22), tick=False):
        page = page_of(client.get(address(quote)))
        assert "This quote can no longer be answered." in page
        assert "Accept and sign" not in page
        assert client.post(address(quote, "owner-quote-accept"), answer(quote)).status_code == 422
    assert not Acceptance.objects.exists()


def test_declining_says_thank_you_in_return(client, quote):
    response = client.post(address(quote, "owner-quote-decline"), {"reason": "Not this winter."}, follow=True)
    assert "you declined it on Mon 2 Mar" in page_of(response)
    quote.refresh_from_db()
    assert (quote.state, quote.decline_reason) == ("declined", "Not this winter.")
    again = client.post(address(quote, "owner-quote-decline"), {"reason": ""})
    assert again.status_code == 409
    assert "can no longer be answered" in page_of(again)


def test_a_reason_too_long_is_said_and_kept(client, quote):
    response = client.post(address(quote, "owner-quote-decline"), {"reason": "x" * 501})
    assert response.status_code == 422
    assert "at most 500 characters; this has 501" in page_of(response)
    assert "x" * 501 in page_of(response)


PRIVATE = (
    "Earned",
    "an hour",
    "Drive",
    "drive",
    "Vehicle",
    "vehicle",
    "0.77",
    "87.50",
    "margin",
    "target",
    "owner's own",
    "Kept back",
    "For my eyes",
)


@pytest.mark.drawn
def test_nothing_private_is_in_the_owner_s_page_or_paper(client, horse, owner_manager, as_owner_manager):
    CostRates.objects.create(
        vehicle_per_mile=Decimal("0.77"),
        admin_minutes_per_visit=17,
        hourly_target=Decimal("87.50"),
        since=date(2026, 1, 1),
    )
    draft = drafted([horse], owner_manager, budget=Decimal(1300))
    draft.options.filter(name="Monthly").update(is_hidden=True, name="Kept back", text="For my eyes")
    token = offer_quote(quote=draft, at=AT, by=owner_manager)
    quote = Quote.objects.get(pk=draft.pk)
    calculated = price_file(json.dumps(quote.frozen).encode(), json=True)
    page = page_of(client.get(reverse("billing:owner-quote", args=[token])))
    staff = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert "$87.50" in staff
    reader = PdfReader(io.BytesIO(client.get(reverse("billing:owner-quote-pdf", args=[token])).content))
    paper = "\n".join(sheet.extract_text() for sheet in reader.pages)
    metadata = f"{dict(reader.metadata or {})} {reader.xmp_metadata.stream.get_data() if reader.xmp_metadata else ''}"
    for word in PRIVATE:
        assert word not in page, word
        assert word not in paper, word
        assert word not in metadata, word
        assert word not in json.dumps(quote.frozen), word
        assert word not in calculated, word
    assert HONEST in " ".join(paper.split())


def test_the_paper_is_the_one_that_was_kept(client, quote):
    response = client.get(address(quote, "owner-quote-pdf"))
    with quote.document.file.open("rb") as kept:
        assert response.content == kept.read()


def test_a_quote_overtaken_by_a_sale_says_so_and_takes_no_answer(client, as_owner_manager, owner_manager, quote, horse):
    Ownership.objects.filter(animal=horse).update(since=date(2026, 1, 1))
    later = AT + timedelta(days=1)
    note_sale(animal=horse, buyer=PersonFactory(), on=later.date(), at=later, by=owner_manager)
    with time_machine.travel(later, tick=False):
        page = page_of(client.get(address(quote)))
        assert f"{horse} has changed hands since this was offered. This quote can no longer be answered" in page
        assert "Choose and sign" not in page
        assert "The owner can no longer answer." in page_of(as_owner_manager.get(quote.get_absolute_url()))
