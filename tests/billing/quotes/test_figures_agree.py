"""One offer, shown four ways: page, owner's page, paper, calculator. The same figures."""

import io
import json
import re
from datetime import date
from decimal import Decimal
from html import unescape
from itertools import chain

import pytest
import time_machine
from django.core.management import call_command
from django.urls import reverse
from pypdf import PdfReader

from backoffice.ui.words import money
from billing.packages.models import Package, PackagePart
from billing.prices.models import Price, TaxRate
from billing.prices.rules import MoneyRules
from billing.quotes.actions import offer_quote
from billing.quotes.options import Discount, Prepaid, Schedule, add_option
from clients.plans.cadence import Phase
from tests.factories.clients import AnimalFactory
from tests.factories.quotes import AT, drafted, owned

pytestmark = pytest.mark.django_db


@pytest.fixture
def offer(business, owner_manager):
    """Two horses of one owner; a hire, a package and a discount among the options; tax, a deposit, a budget.

    Prices change after the offer.
    """
    first = AnimalFactory(name="Tinker's Rest")
    person = owned(first)
    second = AnimalFactory(name="Maple Row", barn=first.barn)
    owned(second, person)
    TaxRate.objects.create(category="standard", percent=Decimal("7.25"), since=AT.date())
    quote = drafted([first, second], owner_manager, budget=Decimal(1300))
    hire = Schedule((Phase(28, full_every=3, spots_per_day=1),), by="hire", follow_ups=2)
    add_option(quote=quote, name="Hire", text="", schedule=hire, at=AT, by=owner_manager)
    package = Package.objects.create(name="Five full bodies", price=Decimal("391.35"), since=date(2026, 1, 1))
    PackagePart.objects.create(package=package, service=quote.full_service, count=5)
    MoneyRules.objects.create(since=date(2026, 1, 1), deposit="percent", deposit_percent=Decimal("12.5"))
    fortnight = Schedule((Phase(28, full_every=14),))
    prepaid, less = Prepaid(package=package.pk), Discount("two horses", percent=Decimal("7.5"))
    add_option(quote=quote, name="Prepaid", text="", schedule=fortnight, prepaid=prepaid, at=AT, by=owner_manager)
    add_option(quote=quote, name="Less", text="", schedule=fortnight, discount=less, at=AT, by=owner_manager)
    token = offer_quote(quote=quote, at=AT, by=owner_manager)
    Price.objects.update(amount=Decimal(999))
    quote.refresh_from_db()
    return quote, token


def calculated(quote, tmp_path):
    file = tmp_path / "quote.json"
    file.write_text(json.dumps(quote.frozen))
    said = io.StringIO()
    call_command("price", str(file), "--json", stdout=said)
    return json.loads(said.getvalue())["options"]


def as_shown(options, business):
    """What each option must say, in the calculator's order: visits, percent, a week, total."""
    shown = []
    for option in options:
        credited, possible = map(int, option["covered"].split("/"))
        percent = f"{credited * 100 // possible} %"
        shown.append(
            (option["name"], str(option["visits"]), percent, money(option["per_week"]), money(option["total"]))
        )
    return shown


def rows_of_page(page):
    rows = []
    for row in re.findall(r'<tr role="row"(?: class="chosen")?>\s*<th scope="row".*?</tr>', page, re.DOTALL):
        name = re.search(r'class="option-name"[^>]*>(?:<span class="visually-hidden">Change </span>)?([^<]+)<', row)[1]
        cells = {label: value for label, value in re.findall(r'data-label="([^"]+)">\s*([^<]+)', row)}
        total = re.search(r'class="num total">\s*([^<]+)', row)[1]
        rows.append((name, cells["Visits"], cells["Guideline covered"], cells["A week"], total))
    return [tuple(part.replace("\xa0", " ").strip() for part in row) for row in rows]


@pytest.mark.drawn
def test_the_four_ways_agree(client, as_owner_manager, business, offer, tmp_path):
    quote, token = offer
    wanted = as_shown(calculated(quote, tmp_path), business)
    assert len(wanted) == 9
    with time_machine.travel(AT, tick=False):
        staff = unescape(as_owner_manager.get(quote.get_absolute_url()).content.decode())
        owner = unescape(client.get(reverse("billing:owner-quote", args=[token])).content.decode())
        content = client.get(reverse("billing:owner-quote-pdf", args=[token])).content
    assert rows_of_page(staff) == wanted
    assert rows_of_page(owner) == wanted
    paper = " ".join(" ".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(content)).pages).split())
    for name, visits, percent, per_week, total in wanted:
        row = re.search(rf"{name}(?:(?!{name}).)*?{re.escape(total)}", paper)
        assert row, (name, total)
        for figure in (visits, percent, per_week):
            assert figure in row[0].replace("\xa0", " "), (name, figure, row[0])


def test_the_sums_under_each_total_add_up_to_it(as_owner_manager, offer, tmp_path):
    quote, _ = offer
    for option in calculated(quote, tmp_path):
        assert sum(Decimal(owner) for owner in option["owners"].values()) == Decimal(option["total"])
    page = unescape(as_owner_manager.get(quote.get_absolute_url()).content.decode())
    made, paid = page.split("how its total is made")[1].split("What is paid when")
    tables = [re.findall(r'<table class="arithmetic">.*?</table>', part, re.DOTALL) for part in (made, paid)]
    assert [len(each) for each in tables] == [9, 9]
    for table in chain(*tables):
        cells = re.findall('<td class="num">(\N{MINUS SIGN}?)[$]([0-9,.]+)</td></tr>', table)
        *amounts, total = [Decimal(f"{'-' * bool(sign)}{amount.replace(',', '')}") for sign, amount in cells]
        assert sum(amounts) == total


@pytest.mark.drawn
def test_what_is_paid_when_is_the_same_everywhere_and_adds_up(client, as_owner_manager, offer, tmp_path):
    quote, token = offer
    with time_machine.travel(AT, tick=False):
        staff = unescape(as_owner_manager.get(quote.get_absolute_url()).content.decode())
        owner = unescape(client.get(reverse("billing:owner-quote", args=[token])).content.decode())
        content = client.get(reverse("billing:owner-quote-pdf", args=[token])).content
    paper = " ".join(" ".join(sheet.extract_text() for sheet in PdfReader(io.BytesIO(content)).pages).split())
    paid_on_paper = paper.split("What is paid when")[1].replace("\xa0", " ")
    for option in calculated(quote, tmp_path):
        payments = [(each["what"], Decimal(each["amount"])) for each in option["payments"]]
        assert payments[0][0] == "Booking deposit"
        assert sum(amount for _, amount in payments) == Decimal(option["total"])
        for page in (staff, owner):
            table = page.split("What is paid when")[1].split(f'<h2 class="sum-name">{option["name"]}</h2>')[1]
            assert sorted(steps_of(table.split("</table>")[0])) == sorted(payments)
        for what, amount in payments:
            assert re.search(rf"{what}, (\d+ × )?{re.escape(money(amount))}: ", paid_on_paper), (option["name"], what)


def steps_of(table):
    """Each payment of a table: what, and its amount; “3 × $30.00” counts as three."""
    for what, amount in re.findall(r'</td><td>([^<]+)</td><td class="num">\$([\d,.]+)</td>', table):
        several = re.fullmatch(r"(.+), (\d+) × \$([\d,.]+)", what.replace("\xa0", " "))
        if several:
            yield from [(several[1], Decimal(several[3].replace(",", "")))] * int(several[2])
        else:
            yield what.strip(), Decimal(amount.replace(",", ""))


def test_what_is_accepted_is_what_was_shown(client, offer, tmp_path):
    quote, token = offer
    strokes = json.dumps([[[100, 200], [300, 120], [420, 260]]])
    typed = {"name_typed": "Desmond Quarrie", "strokes": strokes, "agrees": "on"}
    option = quote.options.get(name="Weekly")
    with time_machine.travel(AT, tick=False):
        client.post(reverse("billing:owner-quote-accept", args=[token]), {**typed, "option": option.pk})
    total = next(each["total"] for each in calculated(quote, tmp_path) if each["name"] == "Weekly")
    quote.refresh_from_db()
    assert quote.acceptance.total == Decimal(total)
