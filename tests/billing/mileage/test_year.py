from datetime import date, timedelta
from decimal import Decimal
from html import unescape

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from tablib import Dataset

from billing.prices.rules import MileageRate
from clients.miles.models import Trip

pytestmark = pytest.mark.django_db
YEAR_QUERIES = 7
MILE = 1609


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


def trip(driver, now, day=date(2026, 2, 1), miles=100, **fields) -> Trip:
    facts = {"places": "Home, barn, home", "purpose": "Sessions", "metres": round(miles * 1609.344), "written_at": now}
    return Trip.objects.create(day=day, driver=driver, **{**facts, **fields})


def rate(**fields) -> MileageRate:
    facts = {"since": date(2026, 1, 1), "amount": Decimal("0.725"), "source": "IRS Notice 2026-10"}
    return MileageRate.objects.create(**{**facts, **fields})


def page(client, path="/money/mileage/"):
    response = client.get(path)
    assert response.status_code == 200
    return unescape(response.content.decode())


def test_the_year_by_month_with_what_it_is_worth(as_bookkeeper, owner_manager, now):
    rate()
    trip(owner_manager, now, day=date(2026, 1, 31))
    trip(owner_manager, now)
    trip(owner_manager, now, day=date(2025, 12, 31))
    text = page(as_bookkeeper)
    assert "1 Jan 2026 to 31 Dec 2026" in text
    assert "January 2026" in text
    assert "$72.50" in text
    assert "$145.00" in text
    assert "200.0" in text


def test_a_british_tax_year_with_two_bands(as_owner_manager, owner_manager, now, business):
    business.currency = "GBP"
    business.save()
    two_bands = {"amount": Decimal("0.45"), "limit": 10_000, "beyond": Decimal("0.25"), "year_starts": "04-06"}
    rate(since=date(2011, 4, 6), **two_bands)
    for month in range(5, 13):
        trip(owner_manager, now, day=date(2025, month, 1), miles=1200)
    for month in (1, 2):
        trip(owner_manager, now, day=date(2026, month, 1), miles=1200)
    text = page(as_owner_manager)
    assert "6 Apr 2025 to 5 Apr 2026" in text
    assert "£5,000.00" in text


def test_a_corrected_row_counts_once(as_owner_manager, owner_manager, now):
    rate()
    first = trip(owner_manager, now, miles=500)
    trip(owner_manager, now, miles=100, replaces=first, why_changed="Odometer")
    assert "$72.50" in page(as_owner_manager)
    assert "$362.50" not in page(as_owner_manager)


def test_without_a_rate_it_says_what_to_do(as_owner_manager, owner_manager, now):
    assert "Nothing driven in this year" in page(as_owner_manager)
    trip(owner_manager, now)
    assert "Record the rate that your tax office publishes" in page(as_owner_manager)
    rate(since=date(2026, 2, 2))
    assert "1 trip lies before the first rate" in page(as_owner_manager)


def test_the_file_has_a_line_a_trip_and_no_formula(as_bookkeeper, owner_manager, now):
    rate()
    trip(owner_manager, now, purpose="=cmd()", why_changed="+1")
    answer = as_bookkeeper.get("/money/mileage/?day=2026-06-01&export=csv")
    assert answer["Content-Type"] == "text/csv; charset=utf-8"
    header, line = answer.content.decode().strip().split("\r\n")
    assert header == "Day,Driver,From where to where,Purpose,Distance,Unit,Measured by,Amount,Corrected"
    assert line == f"2026-02-01,{owner_manager},\"Home, barn, home\",'=cmd(),100.0,mi,Odometer,72.50,'+1"


def test_a_month_leads_to_its_trips_and_the_months_are_drawn(as_owner_manager, owner_manager, now):
    rate()
    trip(owner_manager, now, day=date(2026, 2, 1), miles=100)
    trip(owner_manager, now, day=date(2026, 3, 1), miles=50)
    text = page(as_owner_manager)
    assert text.count('class="bar-row"') == 2
    assert "/mileage/?since=2026-02-01&until=2026-02-28" in text
    sheet = as_owner_manager.get("/money/mileage/?day=2026-06-01&export=xlsx")
    assert len(Dataset().load(sheet.content, format="xlsx")) == 2


@pytest.mark.parametrize("day", ["nonsense", "", "2026-13-01"])
def test_a_day_that_is_none_shows_this_year(as_owner_manager, day):
    assert "1 Jan 2026" in page(as_owner_manager, f"/money/mileage/?day={day}")


def test_rates_are_written_down_in_settings(as_owner_manager):
    facts = {"amount": "0.725", "beyond": "0", "year_starts": "01-01", "source": "IRS", "since": "2026-01-01"}
    assert as_owner_manager.post("/settings/mileage-rates/new/", facts).status_code == 302
    assert "$0.725" in page(as_owner_manager, "/settings/mileage-rates/")
    wrong = as_owner_manager.post("/settings/mileage-rates/new/", facts | {"beyond": "0.25", "since": "2026-02-01"})
    assert "write how many" in unescape(wrong.content.decode())


def test_an_assistant_does_not_see_it_and_a_stranger_signs_in(client, as_assistant):
    assert as_assistant.get("/money/mileage/").status_code == 403
    assert client.get("/money/mileage/").status_code == 302


@pytest.mark.parametrize("rows", [1, 40])
def test_the_year_takes_the_same_queries_however_long(as_owner_manager, owner_manager, now, rows):
    rate()
    for number in range(rows):
        trip(owner_manager, now, day=date(2026, 1, 1) + timedelta(days=number))
    with CaptureQueriesContext(connection) as queries:
        page(as_owner_manager)
    assert len(queries) == YEAR_QUERIES
