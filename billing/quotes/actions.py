from collections.abc import Sequence
from datetime import date, datetime, timedelta

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.letters.actions import send_letter
from backoffice.links.actions import issue_link, revoke_links
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from billing.numbers.actions import take_number
from billing.quotes.letters import offer_letter
from billing.quotes.models import Option, OptionPhase, OptionSchedule, Quote, QuoteHorse
from billing.quotes.options import add_suggestion, lock_draft
from billing.quotes.paper import quote_pdf
from billing.quotes.queries import comparison_of, guideline_phases, horses_of
from billing.quotes.quote_file import file_of
from billing.quotes.spoken import promises_of
from billing.quotes.suggestions import opening, suggest
from clients.animals.models import Animal


@audit.action
def draft_quote(*, quote: Quote, horses: Sequence[Animal], at: datetime, by: User) -> Quote:
    """Save a new draft for the horses, opened with the options that follow from its guideline."""
    if not horses:
        raise Refused("A quote names at least one horse.")
    if len({horse.barn_id for horse in horses}) > 1:
        raise Refused("These horses stand at different barns. A stop is at one barn: make a quote for each.")
    quote.currency, quote.made_at, quote.made_by = the_business().currency, at, by
    quote.save(force_insert=True)
    QuoteHorse.objects.bulk_create(
        QuoteHorse(quote=quote, animal=animal, position=position) for position, animal in enumerate(horses, start=1)
    )
    for suggestion in opening(suggest(guideline_phases(quote), quote.days)):
        add_suggestion(quote=quote, suggestion=suggestion, at=at, by=by)
    audit.record("quote drafted", quote, at=at, by=by, changes={"person": quote.person_id, "horses": list(horses)})
    return quote


@audit.action
def change_quote(*, quote: Quote, by: User) -> Quote:
    """Save a draft with its changed fields; options that filled the old term fill the new one."""
    before = lock_draft(quote)
    phases = OptionPhase.objects.filter(schedule__option__quote=before)
    if quote.spot_service is None and phases.filter(spots_per_day__gt=0).exists():
        raise Refused("Some options hold spots: choose the spot service, or change those options first.")
    if quote.days != before.days:
        for schedule in OptionSchedule.objects.filter(option__quote=before).prefetch_related("phases"):
            _refit(list(schedule.phases.all()), before.days, quote.days)
    quote.save()
    return quote


@audit.action
def move_start(*, quote: Quote, by_days: int, at: datetime, by: User) -> Quote:
    """The whole quote so many days later, or earlier if negative."""
    quote = lock_draft(quote)
    quote.start += timedelta(days=by_days)
    quote.save(update_fields=["start"])
    audit.record("quote start moved", quote, at=at, by=by, changes={"start": quote.start.isoformat()})
    return quote


def _refit(phases: Sequence[OptionPhase], old: int, new: int) -> None:
    """Stretch the last phase to the new term, or end with it, where the phases filled the old one exactly."""
    if sum(phase.days for phase in phases) != old:
        return
    begun = 0
    for phase in phases:
        last = phase is phases[-1] or begun + phase.days >= new
        if begun >= new:
            phase.delete()
        elif last:
            phase.days = new - begun
            phase.save(update_fields=["days"])
        begun += phase.days


@audit.action
def offer_quote(*, quote: Quote, at: datetime, by: User, words_read: bool = False) -> str:
    """Freeze the prices of today, number the quote, keep its PDF, mail the private link. Returns the link's token.

    `words_read` says that a person has looked at the promises of outcome in its texts and goes on with them.
    """
    quote = lock_draft(quote)
    on = local_date(at)
    promises = promises_of(quote)
    if promises and not words_read:
        raise Refused(f"{promises[0].where} promises an outcome: “{promises[0].promises[0].words}”. Look at it first.")
    _check_offer(quote, on)
    quote.number = quote.replaces.number if quote.replaces else take_number("quote")
    quote.frozen = file_of(quote, on=on)
    quote.state, quote.offered_at = Quote.State.OFFERED, at
    quote.expires_on = on + timedelta(days=the_business().quote_days)
    content = quote_pdf(quote, on=on)
    quote.document = store_document(
        kind=Document.Kind.QUOTE, title=f"Quote {quote.number}, version {quote.version}", content=content, at=at, by=by
    )
    quote.save(update_fields=["number", "frozen", "state", "offered_at", "expires_on", "document"])
    if quote.replaces:
        _replace(quote.replaces, at=at, by=by)
    token = _link(quote, at=at, by=by)
    facts = {"number": quote.number, "version": quote.version, "promises kept": len(promises)}
    audit.record("quote offered", quote, at=at, by=by, changes=facts)
    send_letter(offer_letter(quote, token), at=at)
    return token


def _check_offer(quote: Quote, on: date) -> None:
    shown = comparison_of(quote, on=on)
    if shown.faults:
        raise Refused(" ".join(shown.faults))
    if quote.start < on - timedelta(days=90):
        raise Refused("The start lies more than 90 days back. Change it before offering.")
    dead = [str(animal) for animal in horses_of(quote) if animal.died_on]
    if dead:
        raise Refused(f"{dead[0]} has died; the quote cannot be offered.")


def _replace(quote: Quote, *, at: datetime, by: User) -> None:
    revoke_links(purpose=PrivateLink.Purpose.QUOTE, target=quote, at=at, by=by)
    quote.state = Quote.State.REPLACED
    quote.save(update_fields=["state"])
    audit.record("quote replaced", quote, at=at, by=by)


def _link(quote: Quote, *, at: datetime, by: User) -> str:
    days = the_business().quote_days + 90  # the accepted quote stays readable for a while
    _, token = issue_link(purpose=PrivateLink.Purpose.QUOTE, target=quote, at=at, valid_for=timedelta(days=days), by=by)
    return token


@audit.action
def new_link(*, quote: Quote, at: datetime, by: User) -> str:
    """Another private link; the one sent before stops working."""
    quote = Quote.objects.select_for_update().get(pk=quote.pk)
    if quote.state not in (Quote.State.OFFERED, Quote.State.ACCEPTED):
        raise Refused("Only an offered or accepted quote has a private link.")
    revoke_links(purpose=PrivateLink.Purpose.QUOTE, target=quote, at=at, by=by)
    return _link(quote, at=at, by=by)


@audit.action
def new_version(*, quote: Quote, at: datetime, by: User) -> Quote:
    """A draft that starts from this quote, at the prices of the day it will be offered."""
    old = Quote.objects.select_for_update().get(pk=quote.pk)
    if old.state not in (Quote.State.OFFERED, Quote.State.LAPSED, Quote.State.DECLINED):
        raise Refused("A new version follows an offered, declined or lapsed quote.")
    if Quote.objects.filter(replaces=old).exists():
        raise Refused("There is a newer version already.")
    horses = horses_of(old)
    fresh = Quote.objects.create(
        version=old.version + 1,
        title=old.title,
        person=old.person,
        goal=old.goal,
        guideline_version=old.guideline_version,
        event_on=old.event_on,
        full_service=old.full_service,
        spot_service=old.spot_service,
        price_list=old.price_list,
        currency=the_business().currency,
        start=max(old.start, local_date(at)),
        days=old.days,
        budget=old.budget,
        note=old.note,
        made_at=at,
        made_by=by,
        replaces=old,
    )
    QuoteHorse.objects.bulk_create(
        QuoteHorse(quote=fresh, animal=animal, position=position) for position, animal in enumerate(horses, start=1)
    )
    for option in old.options.prefetch_related("schedules__phases"):
        _copy(option, fresh)
    audit.record("quote version drafted", fresh, at=at, by=by, changes={"from": old})
    return fresh


def _copy(option: Option, quote: Quote) -> None:
    schedules = list(option.schedules.all())
    option.pk, option.quote, option.is_chosen = None, quote, False
    option._state.adding = True
    option.save(force_insert=True)
    for schedule in schedules:
        phases = list(schedule.phases.all())
        schedule.pk, schedule.option = None, option
        schedule._state.adding = True
        schedule.save(force_insert=True)
        for phase in phases:
            phase.pk, phase.schedule = None, schedule
            phase._state.adding = True
            phase.save(force_insert=True)


@audit.action
def decline_quote(*, quote: Quote, reason: str, at: datetime, via: str, by: User | None = None) -> Quote:
    quote = lock_answerable(quote, at=at)
    quote.state, quote.answered_at, quote.decline_reason = Quote.State.DECLINED, at, reason
    quote.save(update_fields=["state", "answered_at", "decline_reason"])
    audit.record("quote declined", quote, at=at, by=by, via=via)
    return quote


def lock_answerable(quote: Quote, *, at: datetime) -> Quote:
    """The quote, locked, if it can still be answered; else the sentence why not."""
    quote = Quote.objects.select_for_update().get(pk=quote.pk)
    if quote.state == Quote.State.ACCEPTED:
        raise Refused("This quote has been accepted already.")
    if not quote.is_answerable(local_date(at)):
        raise Refused("This quote can no longer be answered. Ask for a new one.")
    return quote


@audit.action
def lapse_quotes(*, at: datetime, by: User | None = None) -> int:
    """Offered quotes whose last day has passed become lapsed. Returns how many."""
    passed = list(Quote.objects.select_for_update().filter(state=Quote.State.OFFERED, expires_on__lt=local_date(at)))
    for quote in passed:
        quote.state = Quote.State.LAPSED
        quote.save(update_fields=["state"])
        audit.record("quote lapsed", quote, at=at, by=by)
    return len(passed)
