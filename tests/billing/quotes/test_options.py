from decimal import Decimal

import pytest

from backoffice.audit.models import Entry
from backoffice.refusal import Refused
from billing.quotes import options
from billing.quotes.actions import new_version, offer_quote
from billing.quotes.models import Quote
from billing.quotes.options import Discount, Schedule
from billing.quotes.queries import comparison_of, sorted_rows
from clients.plans.cadence import Phase
from tests.factories.clients import AnimalFactory
from tests.factories.quotes import AT, START, drafted, offered, option_called, owned

pytestmark = pytest.mark.django_db


def names(rows):
    return [row.option.name for row in rows]


def test_a_hidden_option_stays_with_the_practitioner(quote, owner_manager):
    options.hide_option(option=option_called(quote, "Weekly"), hidden=True, at=AT, by=owner_manager)
    assert "Weekly" not in names(comparison_of(quote, on=START).rows)
    own = comparison_of(quote, on=START, with_hidden=True)
    assert (names(own.hidden), len(own.rows)) == (["Weekly"], 5)
    options.hide_option(option=option_called(quote, "Weekly"), hidden=False, at=AT, by=owner_manager)
    assert "Weekly" in names(comparison_of(quote, on=START).rows)


def test_a_hidden_option_does_not_beat_those_that_are_shown(quote, owner_manager):
    for name in ("Monthly", "Every other week"):
        options.hide_option(option=option_called(quote, name), hidden=True, at=AT, by=owner_manager)
    shown = comparison_of(quote, on=START, with_hidden=True)
    assert next(row.option.name for row in shown.rows if row.measures.frontier) == "The whole guideline"
    assert next(row for row in shown.rows if row.option.name == "Weekly").measures.frontier


def test_a_hidden_option_is_not_frozen_with_the_offer(quote, owner_manager):
    options.hide_option(option=option_called(quote, "Weekly"), hidden=True, at=AT, by=owner_manager)
    offer_quote(quote=quote, at=AT, by=owner_manager)
    quote.refresh_from_db()
    assert "Weekly" not in [option["name"] for option in quote.frozen["options"]]
    again = new_version(quote=quote, at=AT, by=owner_manager)
    assert option_called(again, "Weekly").is_hidden


def test_the_last_option_shown_is_not_hidden(quote, owner_manager):
    *most, last = quote.options.all()
    for option in most:
        options.hide_option(option=option, hidden=True, at=AT, by=owner_manager)
    with pytest.raises(Refused, match="at least one option"):
        options.hide_option(option=last, hidden=True, at=AT, by=owner_manager)


def test_one_option_is_preferred_with_a_reason(quote, owner_manager):
    weekly, monthly = option_called(quote, "Weekly"), option_called(quote, "Monthly")
    with pytest.raises(Refused, match="Say why"):
        options.prefer_option(option=weekly, why="  ", at=AT, by=owner_manager)
    options.prefer_option(option=weekly, why="Steady, and one drive a week.", at=AT, by=owner_manager)
    options.prefer_option(option=monthly, why="Little, but kept up.", at=AT, by=owner_manager)
    assert [(each.name, each.preferred_why) for each in quote.options.filter(is_preferred=True)] == [
        ("Monthly", "Little, but kept up.")
    ]
    options.hide_option(option=option_called(quote, "Monthly"), hidden=True, at=AT, by=owner_manager)
    assert not quote.options.filter(is_preferred=True).exists()


def test_a_preferred_option_opens_with_the_page_and_can_be_unmarked(quote, owner_manager):
    options.prefer_option(option=option_called(quote, "Monthly"), why="As we said.", at=AT, by=owner_manager)
    assert "Monthly" in names(comparison_of(quote, on=START).opening)
    options.prefer_none(quote=quote, at=AT, by=owner_manager)
    assert "Monthly" not in names(comparison_of(quote, on=START).opening)


def test_an_offered_quote_keeps_its_marks(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    option = option_called(quote, "Weekly")
    for change in (
        lambda: options.hide_option(option=option, hidden=True, at=AT, by=owner_manager),
        lambda: options.prefer_option(option=option, why="Late.", at=AT, by=owner_manager),
        lambda: options.prefer_none(quote=quote, at=AT, by=owner_manager),
    ):
        with pytest.raises(Refused, match="Only a draft"):
            change()


def test_each_horse_may_have_its_own_schedule(horse, owner_manager):
    other = AnimalFactory(name="Saffron", barn=horse.barn)
    owned(other, horse.ownerships.get().person)
    quote = drafted([horse, other], owner_manager)
    each = {
        horse.pk: Schedule((Phase(28, full_every=7),)),
        other.pk: Schedule((Phase(28, full_every=14),), days_off=["SU"], on_day_off="drop"),
    }
    options.add_option(quote=quote, name="Each its own", text="", schedule=each, at=AT, by=owner_manager)
    row = next(row for row in comparison_of(quote, on=START).rows if row.option.name == "Each its own")
    assert [len(found.days.ours) for found in row.measures.horses] == [4, 2]
    assert len(row.strips) == 2


def test_a_discount_needs_a_reason(quote, owner_manager):
    schedule = Schedule((Phase(28, full_every=4),))
    with pytest.raises(Refused, match="has a reason"):
        options.add_option(
            quote=quote,
            name="Less",
            text="",
            schedule=schedule,
            discount=Discount(" ", percent=Decimal(10)),
            at=AT,
            by=owner_manager,
        )


@pytest.mark.parametrize(
    ("sort", "first", "last"),
    [
        ("total", "Monthly", "The whole guideline"),
        ("-total", "The whole guideline", "Monthly"),
        ("covered", "The whole guideline", "Monthly"),
        ("visits", "Monthly", "The whole guideline"),
        ("gap", "The whole guideline", "Monthly"),
        ("", "The whole guideline", "Monthly"),
        ("margin; drop table", "The whole guideline", "Monthly"),
    ],
)
def test_rows_are_sorted_by_a_measure(quote, sort, first, last):
    rows = names(sorted_rows(comparison_of(quote, on=START), sort).rows)
    assert (rows[0], rows[-1]) == (first, last)


def test_the_trail_tells_of_each_mark(quote, owner_manager):
    options.hide_option(option=option_called(quote, "Weekly"), hidden=True, at=AT, by=owner_manager)
    options.prefer_option(option=option_called(quote, "Monthly"), why="Kept up.", at=AT, by=owner_manager)
    told = list(Entry.objects.order_by("-number").values_list("action", flat=True)[:2])
    assert told == ["quote option preferred", "quote option hidden"]
    assert Quote.objects.get().state == "draft"
