from datetime import date

import pytest
import time_machine
from django.urls import reverse

from billing.quotes.models import OptionPhase, Quote
from clients.plans.models import Guideline, Service
from tests.billing.quotes.screens import SCRIPT, page_of
from tests.factories.clients import AnimalFactory, GuidelineFactory, GuidelineVersionFactory, PersonFactory
from tests.factories.quotes import AT, add_every, drafted, offered, option_called, owned, worked_prices

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _monday():
    with time_machine.travel(AT, tick=False):
        yield


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
        "rhythm": "days",
        "by": "visits",
        "full_every": "5",
        "on_day_off": "keep",
        "follow_ups": "0",
    } | changes


def add(client, quote, **changes):
    return client.post(reverse("billing:option-new", args=[quote.pk]), option_typed(**changes))


def test_an_option_is_added_and_priced(quote, as_owner_manager):
    assert add(as_owner_manager, quote).url == f"{quote.get_absolute_url()}#options"
    page = page_of(as_owner_manager.get(quote.get_absolute_url()))
    assert "Every fifth day" in page
    assert "$750.00" in page


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
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
        ("full_every", "", "Say every how many days."),
        ("rhythm", "none", "This holds no session"),
        ("rhythm", "weekdays", "Tick at least one weekday."),
        ("spots", "3", "Choose one from the list."),
        ("days", "731", "Write 730 or less."),
        ("days_2", "14", "Say for how many days the first rhythm lasts."),
        ("follow_ups", "51", "Write 50 or less."),
        ("follow_ups", "", "missing"),
        ("off_weekdays", "XX", "XX|from the list"),
        ("off_dates", "Christmas", "This cannot be read"),
        ("off_holidays", "holidays XX", "Choose one from the list."),
        ("shift", "-1", "Write 0 or more."),
        ("discount_percent", "10", "Say why: the owner reads the reason."),
        ("discount_percent", "101", "Write 100 or less."),
        ("discount_amount", "-5", "Write 0.01 or more."),
        ("discount_reason", "A friend", "Write a percentage or an amount"),
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
    add(as_owner_manager, quote, days="14", days_2="14", full_every_2="7", off_weekdays=["SA", "SU"], on_day_off="next")
    option = option_called(quote, "Every fifth day")
    schedule = option.schedules.get()
    assert [(phase.days, phase.full_every) for phase in schedule.phases.all()] == [(14, 5), (14, 7)]
    assert (schedule.days_off, schedule.on_day_off) == (["SA", "SU"], "next")
    page = page_of(as_owner_manager.get(reverse("billing:option-edit", args=[option.pk])))
    assert 'name="days_2" value="14"' in page


def test_an_option_by_rule_and_a_hire(quote, as_owner_manager):
    add(as_owner_manager, quote, name="First Monday", rhythm="rule", full_rule="FREQ=MONTHLY;BYDAY=1MO")
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


# Around an event


def event(quote, **changes):
    Guideline.objects.update(goal="event")
    return {"goal": "event", "guideline_version": quote.guideline_version_id, **changes}


def test_the_start_is_counted_back_from_an_event(quote, as_owner_manager):
    """Full bodies on days 0, 3 … 27 of 28: the last one two days before the event begins 29 days before it."""
    assert edit(as_owner_manager, quote, **event(quote, event_on="2026-04-15", days_before="2")).status_code == 302
    quote.refresh_from_db()
    assert (quote.start, quote.event_on) == (date(2026, 3, 17), date(2026, 4, 15))
    assert "event on Wed 15 Apr" in page_of(as_owner_manager.get(quote.get_absolute_url()))


@pytest.mark.parametrize(
    ("event_on", "sentence"),
    [
        ("2026-02-01", "The event on Sun 1 Feb 2026 is past."),
        ("2026-03-10", "which is past."),
        ("1926-03-10", "before 1980"),
        ("soon", "Write a date such as"),
    ],
)
def test_an_event_that_cannot_be_reached_has_a_sentence(quote, as_owner_manager, event_on, sentence):
    response = edit(as_owner_manager, quote, **event(quote, event_on=event_on, days_before="2"))
    assert response.status_code == 422
    assert sentence in page_of(response)
