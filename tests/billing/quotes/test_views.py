import csv
import io
from datetime import date
from decimal import Decimal
from html import unescape

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from billing.prices.models import CostRates, Price
from billing.quotes.models import OptionPhase, Quote
from clients.plans.models import Service
from tests.conftest import signed_in
from tests.factories.backoffice import UserFactory
from tests.factories.clients import AnimalFactory, GuidelineFactory, GuidelineVersionFactory, PersonFactory
from tests.factories.quotes import AT, START, add_every, drafted, offered, option_called, owned, worked_prices

pytestmark = pytest.mark.django_db
HONEST = "A rule of thumb of the trade, not a promise. Not a substitute for veterinary care."
SCRIPT = "<script>alert(1)</script>"


@pytest.fixture(autouse=True)
def _monday():
    with time_machine.travel(AT, tick=False):
        yield


@pytest.fixture
def horse(business):
    animal = AnimalFactory(name="Tinker's Rest")
    owned(animal)
    return animal


@pytest.fixture
def person(horse):
    return horse.ownerships.get().person


@pytest.fixture
def quote(horse, owner_manager):
    return drafted([horse], owner_manager)


def page_of(response) -> str:
    return unescape(response.content.decode())


def row(quote=None, **fields) -> Quote:
    """A quote without options, for lists."""
    prices, full, _ = worked_prices()
    return Quote.objects.create(
        **{
            "title": "Steady upkeep",
            "person": PersonFactory(),
            "goal": "upkeep",
            "full_service": full,
            "price_list": prices,
            "currency": "USD",
            "start": START,
            "made_at": AT,
            "made_by": UserFactory(),
            **fields,
        }
    )


# The list


def test_an_empty_list_says_what_to_do_next(as_owner_manager):
    page = page_of(as_owner_manager.get(reverse("billing:quotes")))
    assert "No quote yet" in page
    assert reverse("billing:quote-new") in page


def test_the_list_finds_by_title_owner_and_horse(as_owner_manager, quote):
    row(title="Another one")
    for words in ("steady", "Quarrie", "tinker"):
        page = page_of(as_owner_manager.get(reverse("billing:quotes"), {"q": words}))
        assert "Steady upkeep" in page
        assert "Another one" not in page


def test_the_list_filters_by_state_and_sorts(as_owner_manager, business):
    row(title="Later", start=date(2026, 5, 1))
    row(title="Sooner", start=date(2026, 4, 1))
    row(title="Gone", state="lapsed", number=1, frozen={})
    page = page_of(as_owner_manager.get(reverse("billing:quotes"), {"state": "draft", "sort": "start"}))
    assert "Gone" not in page
    assert page.index("Sooner") < page.index("Later")


def test_the_list_has_pages_and_an_export_of_all_of_them(as_owner_manager, business):
    for number in range(30):
        row(title=f"=Quote {number}")
    first = page_of(as_owner_manager.get(reverse("billing:quotes")))
    assert "page=2" in first
    export = as_owner_manager.get(reverse("billing:quotes"), {"_export": "csv"}).content.decode()
    rows = list(csv.reader(io.StringIO(export)))
    assert len(rows) == 31
    assert rows[1][0].startswith("'=Quote")


@pytest.mark.parametrize("rows", [1, 30])
def test_the_list_takes_the_same_queries_at_1_and_at_30_rows(as_owner_manager, horse, rows, django_assert_num_queries):
    for _ in range(rows):
        row().horses.create(animal=horse, position=1)
    with django_assert_num_queries(7):
        as_owner_manager.get(reverse("billing:quotes"))


# Who may


PAGES = ["quotes", "quote-new"]


@pytest.mark.parametrize("name", PAGES)
def test_a_stranger_signs_in_first_and_an_assistant_is_not_let_in(business, as_assistant, as_bookkeeper, name):
    address = reverse(f"billing:{name}")
    assert Client().get(address).url.startswith(reverse("backoffice:sign-in"))
    assert as_assistant.get(address).status_code == 403
    assert as_bookkeeper.get(address).status_code == 200


@pytest.mark.parametrize("name", ["quote", "quote-edit", "quote-pdf", "option-new"])
def test_one_quote_is_for_those_who_see_money(quote, as_assistant, as_bookkeeper, name):
    address = reverse(f"billing:{name}", args=[quote.pk])
    assert Client().get(address).url.startswith(reverse("backoffice:sign-in"))
    assert as_assistant.get(address).status_code == 403
    assert as_bookkeeper.get(address).status_code == 200


@pytest.mark.parametrize("name", ["quote-offer", "quote-link", "quote-replace"])
def test_an_assistant_changes_no_quote(quote, as_assistant, name):
    assert as_assistant.post(reverse(f"billing:{name}", args=[quote.pk])).status_code == 403
    quote.refresh_from_db()
    assert quote.state == "draft"


def test_an_assistant_changes_no_option(quote, as_assistant):
    option = quote.options.first()
    for name in ("option-edit", "option-delete"):
        assert as_assistant.post(reverse(f"billing:{name}", args=[option.pk])).status_code == 403
    assert quote.options.filter(pk=option.pk).exists()


def test_what_an_hour_earns_is_only_for_those_who_see_margins(quote, as_owner_manager, as_bookkeeper):
    CostRates.objects.create(
        vehicle_per_mile=Decimal("0.70"), admin_minutes_per_visit=10, hourly_target=65, since=date(2026, 1, 1)
    )
    assert "Only for you" in page_of(as_owner_manager.get(quote.get_absolute_url()))
    practitioner = signed_in(UserFactory(role="practitioner"))
    for client in (as_bookkeeper, practitioner):
        page = page_of(client.get(quote.get_absolute_url()))
        assert "Only for you" not in page
        assert "Earned an hour" not in page


def test_only_for_you_is_closed_at_every_start(quote, as_owner_manager):
    CostRates.objects.create(since=date(2026, 1, 1))
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert '<details class="more">\n  <summary>Only for you' in page
    assert "<details open" not in page


# The page of a quote


def test_the_page_opens_with_three_options_and_says_what_it_is_not(quote, as_owner_manager):
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    opening, behind = page.split("3 more options", 1)
    for name in ("The whole guideline", "Full bodies only", "Half as often"):
        assert name in opening
    for name in ("Weekly", "Every other week", "Monthly"):
        assert name not in opening
        assert name in behind
    assert "$2,600.00" in opening
    assert "Mon 2 Mar to Sun 29 Mar" in opening
    assert HONEST in page
    assert "closeness to my guideline, in minutes; not benefit" in page


def test_a_chosen_option_is_among_those_it_opens_with(horse, owner_manager, as_owner_manager):
    quote, _ = offered([horse], owner_manager)
    quote.options.filter(name="Monthly").update(is_chosen=True)
    opening = page_of(as_owner_manager.get(quote.get_absolute_url())).split("3 more options")[0]
    assert "Monthly" in opening
    assert "Chosen" in opening
    assert "Half as often" not in opening


@pytest.mark.parametrize(("horses", "more"), [(1, 0), (1, 6), (4, 3)])
def test_the_page_takes_the_same_queries_for_any_number_of_options_and_horses(
    horse, owner_manager, as_owner_manager, *, horses, more, django_assert_num_queries
):
    others = [AnimalFactory(barn=horse.barn) for _ in range(horses - 1)]
    for other in others:
        owned(other)
    quote = drafted([horse, *others], owner_manager)
    for days in range(8, 8 + more):
        add_every(quote, days, owner_manager)
    with django_assert_num_queries(23):
        as_owner_manager.get(quote.get_absolute_url())


def test_a_quote_that_cannot_be_priced_says_what_is_missing(quote, as_owner_manager):
    Price.objects.filter(service=quote.spot_service).delete()
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert "There is no price for the spot service on this price list yet." in page
    assert "Offer to the owner" not in page
    assert HONEST in page


def test_an_offered_quote_is_offered_once_and_shows_its_link_once(quote, as_owner_manager):
    response = as_owner_manager.post(reverse("billing:quote-offer", args=[quote.pk]), follow=True)
    assert "/p/quote/" in page_of(response)
    assert "Not opened yet." in page_of(response)
    again = as_owner_manager.get(quote.get_absolute_url())
    assert "/p/quote/" not in page_of(again)
    refused = as_owner_manager.post(reverse("billing:quote-offer", args=[quote.pk]))
    assert refused.status_code == 409
    assert "Only a draft can be changed." in page_of(refused)


def test_a_new_version_starts_as_a_draft(quote, as_owner_manager):
    as_owner_manager.post(reverse("billing:quote-offer", args=[quote.pk]))
    page = page_of(as_owner_manager.post(reverse("billing:quote-replace", args=[quote.pk]), follow=True))
    assert "Draft" in page
    assert Quote.objects.get(version=2).replaces == quote


def test_a_draft_has_a_paper_of_its_own(quote, as_owner_manager):
    response = as_owner_manager.get(reverse("billing:quote-pdf", args=[quote.pk]))
    assert response["Content-Type"] == "application/pdf"
    assert response.content.startswith(b"%PDF")


# A new quote


def steps(client, person, **changes):
    prices, full, spot = worked_prices()
    typed = {
        "title": "Easing back to work",
        "goal": "upkeep",
        "start": "2026-03-09",
        "days": "28",
        "full_service": full.pk,
        "spot_service": spot.pk,
        "price_list": prices.pk,
        "horses": [animal.pk for animal in [o.animal for o in person.ownerships.all()]],
        **changes,
    }
    return client.post(f"{reverse('billing:quote-new')}?person={person.pk}", typed)


def test_a_new_quote_takes_two_steps(as_bookkeeper, person):
    worked_prices()
    address = reverse("billing:quote-new")
    assert "Who is the quote for?" in page_of(as_bookkeeper.get(address))
    second = page_of(as_bookkeeper.get(address, {"person": person.pk}))
    assert "Step 2 of 2" in second
    assert 'value="2026-03-09"' in second  # a week from today
    response = steps(as_bookkeeper, person)
    quote = Quote.objects.get()
    assert response.url == quote.get_absolute_url()
    assert [option.name for option in quote.options.all()] == ["Weekly", "Every other week", "Monthly"]


@pytest.mark.parametrize("chosen", ["", "abc", "999999", "1; drop table"])
def test_a_wrong_person_stays_at_the_first_step(as_owner_manager, person, chosen):
    response = as_owner_manager.get(reverse("billing:quote-new"), {"person": chosen})
    assert response.status_code == 422
    assert "Step 1 of 2" in page_of(response)


def test_somebody_without_a_horse_is_told_so(as_owner_manager, horse):
    trainer = PersonFactory(name="Idris Fenn")
    owned(AnimalFactory(), trainer)
    trainer.ownerships.update(until=date(2025, 1, 1))
    page = page_of(as_owner_manager.get(reverse("billing:quote-new"), {"person": trainer.pk}))
    assert "Idris Fenn has no horse written down yet." in page


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("title", "", "Write an answer."),
        ("title", "x" * 121, "at most 120 characters; this has 121"),
        ("title", "x" * 5_000_000, "at most 120 characters"),
        ("days", "0", "Write 1 or more."),
        ("days", "-1", "Write 1 or more."),
        ("days", "900", "Write 730 or less."),
        ("days", "a month", "Write a whole number, in figures."),
        ("start", "1926-03-02", "before 1980"),
        ("start", "soon", "Write a date such as"),
        ("budget", "-5", "Write 0"),
        ("budget", "lots", "Write "),
        ("goal", "miracle", "Choose one from the list."),
        ("horses", [], "missing"),
        ("note", "x" * 2001, "at most 2000 characters"),
    ],
)
def test_bad_input_gets_a_sentence_and_loses_nothing(as_owner_manager, person, field, value, sentence):
    response = steps(as_owner_manager, person, **{field: value})
    assert response.status_code == 422
    page = page_of(response)
    assert sentence in page
    if field != "title":
        assert "Easing back to work" in page
    assert "<details class='more' open>" in page
    assert not Quote.objects.exists()


@pytest.mark.parametrize("title", ["ليلى الكحلاني", "🐴 easing", SCRIPT])
def test_a_title_in_any_script_is_kept_and_never_run(as_owner_manager, person, title):
    steps(as_owner_manager, person, title=title, note=title)
    quote = Quote.objects.get()
    assert (quote.title, quote.note) == (title, title)
    assert SCRIPT not in as_owner_manager.get(quote.get_absolute_url()).content.decode()
    assert SCRIPT not in as_owner_manager.get(reverse("billing:quotes")).content.decode()


def test_horses_of_two_barns_are_said_at_the_horses(as_owner_manager, person):
    owned(AnimalFactory(), person)
    response = steps(as_owner_manager, person)
    assert response.status_code == 422
    assert "make a quote for each barn" in page_of(response)


def test_a_guideline_for_another_goal_or_with_spots_nobody_gives_is_refused(as_owner_manager, person, quote):
    other = GuidelineVersionFactory(guideline=GuidelineFactory(goal="event"))
    response = steps(as_owner_manager, person, guideline_version=other.pk)
    assert "This guideline is for another goal" in page_of(response)
    response = steps(as_owner_manager, person, guideline_version=quote.guideline_version.pk, spot_service="")
    assert "This guideline has spots" in page_of(response)


def test_a_horse_of_somebody_else_cannot_be_named(as_owner_manager, person):
    stranger = AnimalFactory()
    response = steps(as_owner_manager, person, horses=[stranger.pk])
    assert response.status_code == 422
    assert not Quote.objects.exists()


# Changing a draft


def edit(client, quote, **changes):
    fields = ("title", "goal", "start", "days", "full_service_id", "spot_service_id", "price_list_id")
    typed = {name.removesuffix("_id"): getattr(quote, name) for name in fields}
    typed["guideline_version"] = quote.guideline_version_id or ""
    return client.post(reverse("billing:quote-edit", args=[quote.pk]), {**typed, **changes})


def test_a_longer_term_stretches_the_options_that_filled_the_old_one(quote, as_owner_manager):
    OptionPhase.objects.filter(schedule__option__name="Monthly").update(days=14)
    assert edit(as_owner_manager, quote, days="56").status_code == 302
    days = dict(OptionPhase.objects.values_list("schedule__option__name", "days"))
    assert (days["Weekly"], days["Monthly"]) == (56, 14)
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert "$1,000.00" in page  # weekly, eight times


def test_a_shorter_term_ends_the_phases(quote, owner_manager, as_owner_manager):
    option = option_called(quote, "Weekly")
    OptionPhase.objects.filter(schedule__option=option).update(days=14)
    schedule = option.schedules.get()
    schedule.phases.create(position=2, days=14, full_every=14)
    edit(as_owner_manager, quote, days="10")
    assert list(schedule.phases.values_list("days", flat=True)) == [10]


def test_the_spot_service_stays_while_options_hold_spots(quote, as_owner_manager):
    response = edit(as_owner_manager, quote, spot_service="", guideline_version="")
    assert response.status_code == 422
    assert "Some options hold spots" in page_of(response)


def test_only_a_draft_is_changed(horse, owner_manager, as_owner_manager):
    quote, _ = offered([horse], owner_manager)
    assert as_owner_manager.get(reverse("billing:quote-edit", args=[quote.pk])).status_code == 409
    assert edit(as_owner_manager, quote, title="Other").status_code == 409


# Options


def option_typed(**changes):
    return {
        "name": "Every fifth day",
        "by": "visits",
        "full_every": "5",
        "on_day_off": "keep",
        "follow_ups": "0",
    } | changes


def add(client, quote, **changes):
    return client.post(reverse("billing:option-new", args=[quote.pk]), option_typed(**changes))


def test_an_option_is_added_and_priced(quote, as_owner_manager):
    assert add(as_owner_manager, quote).url == quote.get_absolute_url()
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert "Every fifth day" in page
    assert "$750.00" in page


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        ("name", "", "missing"),
        ("name", "x" * 81, "at most 80 characters"),
        ("name", "x" * 5_000_000, "at most 80 characters"),
        ("text", "x" * 201, "at most 200 characters"),
        ("by", "post", "Choose one from the list."),
        ("by", "", "Choose one from the list.|missing"),
        ("full_every", "0", "Write 1 or more."),
        ("full_every", "-1", "Write 1 or more."),
        ("full_every", "900", "Write 365 or less."),
        ("full_every", SCRIPT, "Write a whole number, in figures."),
        ("full_every", "🐴", "Write a whole number, in figures."),
        ("full_every", "", "The option holds no session"),
        ("spots", "3", "Write 2 or less."),
        ("days", "731", "Write 730 or less."),
        ("days_2", "14", "Say for how many days the first rhythm lasts."),
        ("follow_ups", "51", "Write 50 or less."),
        ("follow_ups", "", "missing"),
        ("days_off", "XX", "XX|from the list"),
        ("full_rule", "every other Tuesday", "not a rule by days"),
        ("full_rule", "FREQ=HOURLY", "not a rule by days"),
        ("full_rule", "FREQ=DAILY", "choose one of them"),
    ],
)
def test_an_absurd_option_gets_a_sentence_and_loses_nothing(quote, as_owner_manager, field, value, sentence):
    response = add(as_owner_manager, quote, **{"text": "As we said", field: value})
    assert response.status_code == 422
    page = page_of(response)
    assert any(part in page for part in sentence.split("|"))
    if field != "text":
        assert "As we said" in page
    if field != "name":
        assert "Every fifth day" in page
    assert SCRIPT not in response.content.decode()
    assert quote.options.count() == 6


@pytest.mark.parametrize("name", ["ليلى الكحلاني", "🐴 now and then", SCRIPT])
def test_an_option_name_in_any_script_is_kept_and_never_run(quote, as_owner_manager, name):
    add(as_owner_manager, quote, name=name, text=name)
    assert quote.options.filter(name=name).exists()
    page = as_owner_manager.get(quote.get_absolute_url())
    assert SCRIPT not in page.content.decode()
    assert name in page_of(page)
    assert as_owner_manager.get(reverse("billing:quote-pdf", args=[quote.pk])).status_code == 200


def test_a_name_taken_is_said_above_the_form(quote, as_owner_manager):
    response = add(as_owner_manager, quote, name="weekly")
    assert response.status_code == 422
    assert "already has an option called “weekly”" in page_of(response)


def test_a_thirteenth_option_is_refused(quote, owner_manager, as_owner_manager):
    for days in range(8, 14):
        add_every(quote, days, owner_manager)
    response = add(as_owner_manager, quote)
    assert response.status_code == 422
    assert "at most 12 options" in page_of(response)


def test_spots_need_a_spot_service(horse, owner_manager, as_owner_manager):
    quote = drafted([horse], owner_manager, spot_service=None, guideline_version=None)
    response = add(as_owner_manager, quote, spots="1")
    assert response.status_code == 422
    assert "names no spot service" in page_of(response)


def test_an_option_may_change_its_rhythm_and_have_days_off(quote, as_owner_manager):
    add(as_owner_manager, quote, days="14", days_2="14", full_every_2="7", days_off=["SA", "SU"], on_day_off="next")
    option = option_called(quote, "Every fifth day")
    schedule = option.schedules.get()
    assert [(phase.days, phase.full_every) for phase in schedule.phases.all()] == [(14, 5), (14, 7)]
    assert (schedule.days_off, schedule.on_day_off) == (["SA", "SU"], "next")
    page = page_of(as_owner_manager.get(reverse("billing:option-edit", args=[option.pk])))
    assert 'name="days_2" value="14"' in page


def test_an_option_by_rule_and_a_hire(quote, as_owner_manager):
    add(as_owner_manager, quote, name="First Monday", full_every="", full_rule="FREQ=MONTHLY;BYDAY=1MO")
    add(as_owner_manager, quote, name="Hire", by="hire", full_every="3", spots="1", follow_ups="2")
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert "$1,600.00" in page
    assert "Hire costs less from 13 full-body or 22 spot visits alone." in page
    assert "training or follow-up by us" in page


def test_an_option_is_changed_and_taken_out(quote, as_owner_manager):
    option = option_called(quote, "Weekly")
    address = reverse("billing:option-edit", args=[option.pk])
    assert 'value="Weekly"' in page_of(as_owner_manager.get(address))
    as_owner_manager.post(address, option_typed(name="Each week", full_every="7"))
    option.refresh_from_db()
    assert option.name == "Each week"
    page = page_of(as_owner_manager.post(reverse("billing:option-delete", args=[option.pk]), follow=True))
    assert "“Each week” is gone from the quote." in page
    assert not quote.options.filter(pk=option.pk).exists()


def test_options_of_an_offered_quote_stay(horse, owner_manager, as_owner_manager):
    quote, _ = offered([horse], owner_manager)
    response = add(as_owner_manager, quote)
    assert response.status_code == 422
    assert "Only a draft can be changed." in page_of(response)
    option = option_called(quote, "Weekly")
    assert as_owner_manager.post(reverse("billing:option-delete", args=[option.pk])).status_code == 409
    edited = as_owner_manager.post(reverse("billing:option-edit", args=[option.pk]), option_typed())
    assert edited.status_code == 422
    assert "Change Weekly" not in page_of(as_owner_manager.get(quote.get_absolute_url()))


def test_services_that_are_not_offered_cannot_be_quoted(as_owner_manager, person):
    worked_prices()
    Service.objects.filter(kind="full").update(is_offered=False)
    response = steps(as_owner_manager, person)
    assert response.status_code == 422
