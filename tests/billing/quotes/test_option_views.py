from datetime import date
from decimal import Decimal

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from billing.quotes.models import Option, Quote
from tests.billing.quotes.screens import SCRIPT, page_of
from tests.factories.clients import AnimalFactory
from tests.factories.quotes import AT, START, add_every, drafted, offered, option_called, owned

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _monday():
    with time_machine.travel(AT, tick=False):
        yield


def do(client, name, pk, **typed):
    return client.post(reverse(f"billing:{name}", args=[pk]), typed)


def page(client, quote, **asked):
    return page_of(client.get(quote.get_absolute_url(), asked))


# One tap


def test_one_tap_adds_what_is_not_there(quote, as_owner_manager):
    option_called(quote, "Half as often").delete()
    assert 'value="half"' in page(as_owner_manager, quote)
    assert 'value="weekly"' not in page(as_owner_manager, quote)
    do(as_owner_manager, "option-quick", quote.pk, key="half")
    assert option_called(quote, "Half as often").schedules.get().phases.get().full_every == 6
    assert 'value="half"' not in page(as_owner_manager, quote)


def test_a_schedule_that_is_there_by_another_name_is_not_offered(quote, owner_manager, as_owner_manager):
    option_called(quote, "Weekly").delete()
    add_every(quote, 7, owner_manager, name="Each Monday")
    assert 'value="weekly"' not in page(as_owner_manager, quote)


@pytest.mark.parametrize("key", ["weekly", "", "margin", SCRIPT])
def test_a_tap_that_is_not_offered_is_refused(quote, as_owner_manager, key):
    assert do(as_owner_manager, "option-quick", quote.pk, key=key).status_code == 409
    assert quote.options.count() == 6


def test_one_tap_hires_one_machine_for_all_horses(horse, owner_manager, as_owner_manager):
    other = AnimalFactory(name="Saffron", barn=horse.barn)
    owned(other, horse.ownerships.get().person)
    quote = drafted([horse, other], owner_manager)
    do(as_owner_manager, "option-quick", quote.pk, key="hire")
    first, second = option_called(quote, "By hire").schedules.all()
    assert (first.by, first.follow_ups, first.hired_with) == ("hire", 2, None)
    assert (second.by, second.hired_with) == ("hire", horse)


# Within an amount


def test_what_fits_an_amount_is_found_and_the_next_better_one_is_said(quote, as_owner_manager):
    response = do(as_owner_manager, "option-fitting", quote.pk, amount="700", on_day_off="keep")
    assert response.status_code == 302
    quote.refresh_from_db()
    assert quote.budget == Decimal("700.00")
    found = quote.options.last()
    assert found.text == "Covers most of the guideline for $700.00"
    shown = page(as_owner_manager, quote)
    assert "The next better one costs" in shown
    assert "budget" in shown


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("amount", "", "missing"),
        ("amount", "-5", "Write 0"),
        ("amount", "lots", "Write a number"),
        ("amount", "10", "Nothing fits $10.00. The cheapest costs $125.00"),
        ("visits_per_week", "0", "Write 1 or more."),
        ("owner_minutes_per_day", "-1", "Write 0 or more."),
        ("off_dates", "Christmas", "This cannot be read"),
    ],
)
def test_an_amount_that_fits_nothing_has_a_sentence(quote, as_owner_manager, field, value, sentence):
    response = do(as_owner_manager, "option-fitting", quote.pk, **{"amount": "700", "on_day_off": "keep", field: value})
    assert response.status_code == 422
    assert sentence in page_of(response)
    assert quote.options.count() == 6


def test_limits_of_the_search_are_kept(quote, as_owner_manager):
    do(
        as_owner_manager,
        "option-fitting",
        quote.pk,
        amount="2000",
        visits_per_week="1",
        owner_minutes_per_day="0",
        off_weekdays=["SU"],
        on_day_off="next",
    )
    schedule = quote.options.last().schedules.get()
    assert (schedule.by, schedule.days_off, schedule.phases.get().full_every) == ("visits", ["SU"], 7)


# By hand


def test_an_option_without_a_name_is_named_by_what_happens(quote, as_owner_manager):
    typed = {"rhythm": "weekdays", "weekdays": ["MO", "TH"], "spots": "1", "by": "visits", "on_day_off": "keep"}
    do(as_owner_manager, "option-new", quote.pk, follow_ups="0", **typed)
    assert quote.options.last().name == "Full body on Mondays and Thursdays, a spot on each day between"


def test_each_horse_is_drawn_by_itself(horse, owner_manager, as_owner_manager):
    other = AnimalFactory(name="Saffron", barn=horse.barn)
    owned(other, horse.ownerships.get().person)
    quote = drafted([horse, other], owner_manager)
    address = reverse("billing:option-new", args=[quote.pk])
    assert "The same for all 2 horses." in page_of(as_owner_manager.get(address))
    typed = {}
    for animal, every in ((horse, "7"), (other, "14")):
        its = {"rhythm": "days", "full_every": every, "by": "visits", "on_day_off": "keep", "follow_ups": "0"}
        typed |= {f"h{animal.pk}-{name}": value for name, value in its.items()}
    as_owner_manager.post(f"{address}?each", typed)
    option = quote.options.last()
    assert option.name == "Each horse its own"
    assert [each.phases.get().full_every for each in option.schedules.all()] == [7, 14]
    again = page_of(as_owner_manager.get(reverse("billing:option-edit", args=[option.pk])))
    assert f'name="h{other.pk}-full_every" value="14"' in again
    wrong = as_owner_manager.post(f"{address}?each", {**typed, f"h{other.pk}-full_every": "0"})
    assert wrong.status_code == 422
    assert "Write 1 or more." in page_of(wrong)


def test_what_was_absorbed_or_dropped_is_said_in_words(quote, as_owner_manager):
    typed = {"rhythm": "days", "full_every": "1", "by": "visits", "on_day_off": "next", "follow_ups": "0"}
    do(as_owner_manager, "option-new", quote.pk, off_dates="2026-03-17", **typed)
    assert "The full body of Tue 17 Mar 2026 is absorbed by the full body of Wed 18 Mar 2026." in page(
        as_owner_manager, quote
    )


# Sorting, hiding, preferring


def test_rows_are_sorted_by_a_link(quote, as_owner_manager):
    shown = page(as_owner_manager, quote, sort="total")
    assert shown.index("Monthly") < shown.index("Full bodies only")
    assert "?sort=-total#options" in shown


def test_an_option_is_hidden_and_shown_again(quote, as_owner_manager):
    option = option_called(quote, "Weekly")
    do(as_owner_manager, "option-hide", option.pk)
    assert "1 hidden, not offered" in page(as_owner_manager, quote)
    do(as_owner_manager, "option-hide", option.pk, show="1")
    assert "hidden, not offered" not in page(as_owner_manager, quote)


def test_one_is_marked_as_the_one_i_would_choose(quote, as_owner_manager):
    option = option_called(quote, "Weekly")
    assert do(as_owner_manager, "option-prefer", option.pk, why="").status_code == 422
    do(as_owner_manager, "option-prefer", option.pk, why=f"Steady {SCRIPT}")
    response = as_owner_manager.get(quote.get_absolute_url())
    assert "The one I would choose" in page_of(response)
    assert SCRIPT not in response.content.decode()
    assert " best" not in page_of(response).lower()
    do(as_owner_manager, "option-prefer-none", quote.pk)
    assert "The one I would choose" not in page(as_owner_manager, quote)


# The start


@pytest.mark.parametrize(
    ("days", "start"),
    [("-7", date(2026, 2, 23)), ("-1", date(2026, 3, 1)), ("1", date(2026, 3, 3)), ("7", date(2026, 3, 9))],
)
def test_the_start_moves_by_a_day_or_a_week(quote, as_owner_manager, days, start):
    do(as_owner_manager, "quote-start", quote.pk, days=days)
    assert Quote.objects.get().start == start


@pytest.mark.parametrize("days", ["", "5", "3000000", "soon"])
def test_the_start_moves_by_nothing_else(quote, as_owner_manager, days):
    assert do(as_owner_manager, "quote-start", quote.pk, days=days).status_code == 409
    assert Quote.objects.get().start == START


# Who may


def test_only_those_who_change_money_change_options(quote, as_assistant):
    option = quote.options.first()
    doors = [("option-quick", quote.pk), ("option-fitting", quote.pk), ("quote-start", quote.pk)]
    doors += [("option-prefer-none", quote.pk), ("option-hide", option.pk), ("option-prefer", option.pk)]
    for name, pk in doors:
        assert do(as_assistant, name, pk, days="1", key="half", why="So").status_code == 403
        assert do(Client(), name, pk).url.startswith(reverse("backoffice:sign-in"))
    assert not Option.objects.filter(is_hidden=True).exists()


def test_an_offered_quote_has_nothing_to_tap(horse, owner_manager, as_owner_manager):
    quote, _ = offered([horse], owner_manager)
    shown = page(as_owner_manager, quote)
    assert "Add an option" not in shown
    assert "Starts" not in shown.split("<main")[1].split("Option")[0]
    assert do(as_owner_manager, "quote-start", quote.pk, days="7").status_code == 409
