from datetime import UTC, date, datetime, time
from decimal import Decimal
from fractions import Fraction

import pytest

from backoffice.business.models import Business
from backoffice.ui import words

THIN = "\N{NO-BREAK SPACE}"


@pytest.mark.parametrize(
    ("amount", "currency", "written"),
    [
        (Decimal("1250"), "USD", "$1,250.00"),
        (Decimal("0.005"), "USD", "$0.01"),
        (Decimal("-27.5"), "USD", "\N{MINUS SIGN}$27.50"),
        (Decimal("0"), "GBP", "£0.00"),
        (Decimal("1250.4"), "JPY", "¥1,250"),
        ("12.3456", "KWD", "KWD12.346"),
        (None, "USD", ""),
    ],
)
def test_money_has_the_currency_of_the_business_and_its_decimals(amount, currency, written):
    assert words.money(amount, Business(currency=currency)) == written


@pytest.mark.parametrize(
    ("rate", "written"), [("0.725", "$0.725"), ("0.2500", "$0.25"), ("0.7", "$0.70"), (2, "$2.00")]
)
def test_a_rate_for_one_mile_keeps_its_decimals(rate, written):
    assert words.money(rate, Business(), is_rate=True) == written


def test_money_in_uk_words_names_dollars_apart_from_pounds():
    assert words.money(Decimal("5"), Business(currency="USD", words="uk")) == "US$5.00"


def test_a_day_shows_its_year_only_when_it_is_another_year():
    today = date(2026, 3, 2)
    assert words.day(date(2026, 3, 12), today) == "Thu 12 Mar"
    assert words.day(date(2025, 12, 31), today) == "Wed 31 Dec 2025"
    assert words.day(None, today) == ""


def test_a_moment_is_shown_as_the_local_day_and_time(settings):
    settings.TIME_ZONE = "America/Denver"
    late = datetime(2026, 3, 3, 3, 5, tzinfo=UTC)
    assert words.day(late, date(2026, 1, 1)) == "Mon 2 Mar"
    assert words.clock(late) == "20:05"
    assert words.clock(time(8, 30)) == "8:30"
    assert words.clock(None) == ""


@pytest.mark.parametrize(
    ("minutes", "written"),
    [
        (0, f"0{THIN}min"),
        (20, f"20{THIN}min"),
        (60, f"1{THIN}h"),
        (80, f"1{THIN}h{THIN}20"),
        (185, f"3{THIN}h{THIN}05"),
        (Decimal("79.5"), f"1{THIN}h{THIN}20"),
        (-15, f"\N{MINUS SIGN}15{THIN}min"),
        (None, ""),
    ],
)
def test_minutes_are_written_as_hours(minutes, written):
    assert words.hours(minutes) == written


@pytest.mark.parametrize(
    ("share", "written"),
    [
        (Decimal("0.999"), f"99{THIN}%"),
        (Decimal("1"), f"100{THIN}%"),
        (0.29, f"29{THIN}%"),
        (Fraction(2, 3), f"66{THIN}%"),
        (None, ""),
    ],
)
def test_a_share_is_rounded_down(share, written):
    assert words.percent_down(share) == written


def test_money_of_a_frozen_paper_has_the_currency_of_the_paper():
    assert words.money(Decimal("95"), {"currency": "EUR", "words": "us"}) == "€95.00"
    assert words.money(Decimal("95"), {"currency": "USD", "words": "uk"}) == "US$95.00"
