from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.core import mail

from backoffice.audit.models import Entry
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from billing.prices.models import Price
from billing.quotes import actions, options
from billing.quotes.models import Quote
from billing.quotes.options import Schedule
from billing.quotes.queries import comparison_of
from clients.plans.cadence import Phase
from tests.factories.clients import AnimalFactory, BarnFactory
from tests.factories.quotes import AT, START, add_every, drafted, offered, option_called, owned, worked_prices

pytestmark = pytest.mark.django_db


def totals(quote, on=START):
    return {row.measures.name: row.measures.total for row in comparison_of(quote, on=on).rows}


def test_a_draft_opens_with_the_options_that_follow_from_its_guideline(horse, owner_manager):
    quote = drafted([horse], owner_manager)
    assert totals(quote) == {
        "The whole guideline": Decimal("2600.00"),
        "Full bodies only": Decimal("1250.00"),
        "Half as often": Decimal("625.00"),
        "Weekly": Decimal("500.00"),
        "Every other week": Decimal("250.00"),
        "Monthly": Decimal("125.00"),
    }


def test_three_horses_of_one_stop_share_its_call_out(horse, owner_manager):
    others = [AnimalFactory(barn=horse.barn) for _ in range(2)]
    for other in others:
        owned(other)
    quote = drafted([horse, *others], owner_manager)
    weekly = next(row for row in comparison_of(quote, on=START).rows if row.option.name == "Weekly")
    assert [each.money.total for each in weekly.measures.horses] == [Decimal("420.00")] * 3


def test_horses_of_two_barns_are_refused(horse, owner_manager):
    with pytest.raises(Refused, match="different barns"):
        drafted([horse, AnimalFactory(barn=BarnFactory())], owner_manager)


def test_a_quote_without_a_horse_is_refused(owner_manager):
    with pytest.raises(Refused, match="at least one horse"):
        actions.draft_quote(quote=Quote(), horses=[], at=AT, by=owner_manager)


def test_two_options_of_one_name_are_refused(horse, owner_manager):
    quote = drafted([horse], owner_manager)
    with pytest.raises(Refused, match="already has an option called “weekly”"):
        add_every(quote, 6, owner_manager, name="weekly")


def test_more_than_twelve_options_are_refused(horse, owner_manager):
    quote = drafted([horse], owner_manager)
    for days in range(8, 14):
        add_every(quote, days, owner_manager)
    with pytest.raises(Refused, match="at most 12"):
        add_every(quote, 20, owner_manager)


@pytest.mark.parametrize("phases", [(), (Phase(7, full_every=3),) * 5])
def test_an_option_has_from_one_to_four_phases(horse, owner_manager, phases):
    quote = drafted([horse], owner_manager)
    with pytest.raises(Refused, match="from one to 4 phases"):
        options.add_option(quote=quote, name="Odd", text="", schedule=Schedule(phases), at=AT, by=owner_manager)


def test_spots_without_a_spot_service_are_refused(horse, owner_manager):
    quote = drafted([horse], owner_manager, spot_service=None, guideline_version=None)
    with pytest.raises(Refused, match="names no spot service"):
        options.add_option(
            quote=quote,
            name="Spots",
            text="",
            schedule=Schedule((Phase(28, spots_per_day=1),)),
            at=AT,
            by=owner_manager,
        )


def test_a_changed_option_is_priced_anew(horse, owner_manager):
    quote = drafted([horse], owner_manager)
    options.change_option(
        option=option_called(quote, "Weekly"),
        name="Twice a month",
        text="",
        schedule=Schedule((Phase(28, full_every=14),)),
        at=AT,
        by=owner_manager,
    )
    assert totals(quote)["Twice a month"] == Decimal("250.00")
    assert "Weekly" not in totals(quote)


def test_offering_freezes_the_prices_numbers_and_mails_the_link(
    horse, owner_manager, time_machine, django_capture_on_commit_callbacks
):
    time_machine.move_to(AT)
    with django_capture_on_commit_callbacks(execute=True):
        quote, token = offered([horse], owner_manager)
    Price.objects.update(amount=Decimal("950.00"))
    assert totals(quote)["Weekly"] == Decimal("500.00")
    assert (quote.state, quote.number, quote.expires_on) == ("offered", 1, START + timedelta(days=21))
    assert quote.document is not None
    letter = mail.outbox[0]
    assert letter.to == [quote.person.email]
    assert letter.subject == "Steady upkeep: a quote from Holt-Adair Horse Sessions"
    assert f"/p/quote/{token}/" in letter.body
    assert f"/p/quote/{token}/" in letter.alternatives[0].content
    assert Entry.objects.filter(action="quote offered").count() == 1


def test_no_mail_is_sent_where_no_address_is_known(horse, owner_manager, django_capture_on_commit_callbacks):
    horse.ownerships.get().person.__class__.objects.update(email="")
    with django_capture_on_commit_callbacks(execute=True):
        offered([horse], owner_manager)
    assert mail.outbox == []


def test_an_offered_quote_is_not_changed(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    with pytest.raises(Refused, match="Only a draft"):
        add_every(quote, 5, owner_manager)
    with pytest.raises(Refused, match="Only a draft"):
        options.remove_option(option=option_called(quote, "Weekly"), at=AT, by=owner_manager)
    with pytest.raises(Refused, match="Only a draft"):
        actions.offer_quote(quote=quote, at=AT, by=owner_manager)


def test_a_quote_without_a_price_is_not_offered(horse, owner_manager):
    quote = drafted([horse], owner_manager)
    Price.objects.filter(service=quote.spot_service).delete()
    with pytest.raises(Refused, match="no price for the spot service"):
        actions.offer_quote(quote=quote, at=AT, by=owner_manager)


def test_a_start_long_ago_is_not_offered(horse, owner_manager):
    quote = drafted([horse], owner_manager, start=date(2025, 1, 1))
    with pytest.raises(Refused, match="90 days back"):
        actions.offer_quote(quote=quote, at=AT, by=owner_manager)


def test_a_quote_for_a_horse_that_died_is_not_offered(horse, owner_manager):
    quote = drafted([horse], owner_manager)
    horse.died_on = START
    horse.save()
    with pytest.raises(Refused, match="has died"):
        actions.offer_quote(quote=quote, at=AT, by=owner_manager)


def test_a_new_version_replaces_the_offered_one_and_closes_its_link(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    fresh = actions.new_version(quote=quote, at=AT, by=owner_manager)
    assert totals(fresh) == totals(quote)
    quote.refresh_from_db()
    assert quote.state == "offered"
    actions.offer_quote(quote=fresh, at=AT, by=owner_manager)
    quote.refresh_from_db()
    fresh.refresh_from_db()
    assert (quote.state, fresh.number, fresh.version) == ("replaced", quote.number, 2)
    assert PrivateLink.objects.get(target_pk=quote.pk).revoked_at == AT
    with pytest.raises(Refused, match="newer version already|follows an offered"):
        actions.new_version(quote=quote, at=AT, by=owner_manager)


def test_a_second_new_version_is_refused(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    actions.new_version(quote=quote, at=AT, by=owner_manager)
    with pytest.raises(Refused, match="newer version already"):
        actions.new_version(quote=quote, at=AT, by=owner_manager)


def test_a_new_link_closes_the_one_before(horse, owner_manager):
    quote, first = offered([horse], owner_manager)
    second = actions.new_link(quote=quote, at=AT, by=owner_manager)
    assert first != second
    assert PrivateLink.objects.filter(target_pk=quote.pk, revoked_at__isnull=True).count() == 1


def test_a_draft_has_no_link(horse, owner_manager):
    with pytest.raises(Refused, match="offered or accepted"):
        actions.new_link(quote=drafted([horse], owner_manager), at=AT, by=owner_manager)


def test_offers_lapse_after_their_last_day(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    assert actions.lapse_quotes(at=AT + timedelta(days=21)) == 0
    assert actions.lapse_quotes(at=AT + timedelta(days=22)) == 1
    quote.refresh_from_db()
    assert quote.state == "lapsed"
    with pytest.raises(Refused, match="no longer be answered"):
        actions.decline_quote(quote=quote, reason="", at=AT, via="private link")


def test_declining_keeps_the_reason(horse, owner_manager):
    quote, _ = offered([horse], owner_manager)
    actions.decline_quote(quote=quote, reason="Not now.", at=AT, via="private link")
    quote.refresh_from_db()
    assert (quote.state, quote.decline_reason) == ("declined", "Not now.")


def test_a_missing_price_is_said_in_plain_words(horse, owner_manager):
    worked_prices()
    quote = drafted([horse], owner_manager)
    Price.objects.all().delete()
    shown = comparison_of(quote, on=START)
    assert "There is no price for the full-body service on this price list yet." in shown.faults


def test_each_change_of_an_option_stands_in_the_trail(horse, owner_manager):
    quote = drafted([horse], owner_manager, guideline_version=None)
    option = add_every(quote, 5, owner_manager)
    schedule = Schedule((Phase(28, full_every=6),))
    options.change_option(option=option, name="Every 6 days", text="", schedule=schedule, at=AT, by=owner_manager)
    options.remove_option(option=option, at=AT, by=owner_manager)
    written = Entry.objects.filter(target="billing.option").order_by("-number")[:3]
    assert [entry.action for entry in written] == [
        "quote option removed",
        "quote option changed",
        "quote option added",
    ]
