"""The vet: asked in writing, answering on a private page with limits and dates."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.documents.actions import store_document, store_given
from backoffice.documents.bundle import one_pdf
from backoffice.documents.models import Document
from backoffice.documents.render import render_pdf
from backoffice.documents.seal import seal_pdf
from backoffice.documents.uploads import Given
from backoffice.links.actions import issue_link, revoke_links
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from clients.animals.actions import say_day, today_of
from clients.animals.areas import FULL_BODY
from clients.animals.models import Animal
from clients.paperwork.facts import KINDS_OF_WORK
from clients.paperwork.models import VetCall, VetReferral
from clients.people.models import VetPractice

LINK_GOOD_FOR = timedelta(days=30)
LONGEST_DAYS = 731
OLDEST_EXAMINATION_DAYS = 366
PLACES = tuple(area.name for area in FULL_BODY)
Answer = VetReferral.Answer


@dataclass(frozen=True, slots=True)
class VetWord:
    """What the vet wrote: the answer, its limits, and who gives it."""

    answer: str
    vet_name: str
    registration_number: str
    examined_on: date
    since: date | None = None
    until: date | None = None
    service_kinds: Sequence[str] = ()
    places: Sequence[str] = ()
    max_minutes: int | None = None
    conditions: str = ""


@dataclass(frozen=True, slots=True)
class Letter:
    """The vet's letter as it was scanned in, and how we made sure that it is the vet's."""

    scan: Sequence[Given]
    confirmed: str
    confirmed_note: str = ""


@audit.action
def request_referral(
    *, animal: Animal, practice: VetPractice, asked: str, at: datetime, by: User
) -> tuple[VetReferral, str]:
    """The question to the vet, and the token of the private link on which it is answered."""
    if not asked.strip():
        raise Refused("Write what the vet is asked.")
    if animal.died_on is not None:
        raise Refused(f"{animal} died on {say_day(animal.died_on)}; nothing is asked any more.")
    if VetReferral.objects.filter(animal=animal, practice=practice, answer=Answer.WAITING).exists():
        raise Refused(f"{practice} was already asked about {animal} and has not answered. Send that link again.")
    referral = VetReferral.objects.create(animal=animal, practice=practice, asked=asked.strip(), asked_on=today_of(at))
    audit.record("vet asked", referral, at=at, by=by, changes={"animal": animal.pk, "practice": practice.pk})
    return referral, link_to_answer(referral=referral, at=at, by=by)


@audit.action
def link_to_answer(*, referral: VetReferral, at: datetime, by: User) -> str:
    """The token of a new private link for the vet; earlier ones close."""
    referral = _locked(referral)
    _refuse_unless_waiting(referral)
    revoke_links(purpose=PrivateLink.Purpose.REFERRAL, target=referral, at=at, by=by)
    purpose = PrivateLink.Purpose.REFERRAL
    _, token = issue_link(purpose=purpose, target=referral, at=at, valid_for=LINK_GOOD_FOR, by=by)
    return token


def _locked(referral: VetReferral) -> VetReferral:
    rows = VetReferral.objects.select_for_update(of=("self",)).select_related("animal__barn", "practice")
    return rows.get(pk=referral.pk)


def _refuse_unless_waiting(referral: VetReferral) -> None:
    if referral.answer != Answer.WAITING:
        raise Refused("This request is already answered. A written answer is never edited; a new request can be made.")


@audit.action
def note_call(
    *, referral: VetReferral, vet_name: str, said: str, says_no: bool = False, at: datetime, by: User
) -> VetCall:
    """Write down what the vet said on the telephone. Only a no changes anything: it holds until a written yes."""
    referral = _locked(referral)
    if not vet_name.strip() or not said.strip():
        raise Refused("Write who spoke and what was said.")
    call = VetCall.objects.create(
        referral=referral, vet_name=vet_name.strip(), said=said.strip(), says_no=says_no, heard_at=at, heard_by=by
    )
    audit.record("vet's call noted", referral, at=at, by=by, changes={"call": call.pk, "no": says_no})
    return call


@audit.action
def answer_referral(
    *, referral: VetReferral, word: VetWord, at: datetime, link: PrivateLink | None = None, by: User | None = None
) -> VetReferral:
    """Keep the vet's written answer and its sealed PDF. Permission to work follows it from this moment on."""
    referral = _locked(referral)
    _refuse_unless_waiting(referral)
    return _keep_answer(referral, word, None, link=link, at=at, by=by)


@audit.action
def record_letter(*, referral: VetReferral, word: VetWord, letter: Letter, at: datetime, by: User) -> VetReferral:
    """The vet's answer came as a letter: kept as scanned, counted like one given on the private page."""
    referral = _locked(referral)
    _refuse_unless_waiting(referral)
    if not letter.scan:
        raise Refused("Choose the scan of the letter. A telephone answer is a note and lifts nothing.")
    if letter.confirmed not in VetReferral.Confirmed.values:
        raise Refused("Say how you made sure that the letter is the vet's.")
    if letter.confirmed == VetReferral.Confirmed.OTHER and not letter.confirmed_note.strip():
        raise Refused("Write in which other way you made sure.")
    referral.confirmed, referral.confirmed_note = letter.confirmed, letter.confirmed_note.strip()
    referral = _keep_answer(referral, word, letter, link=None, at=at, by=by)
    revoke_links(purpose=PrivateLink.Purpose.REFERRAL, target=referral, at=at, by=by)
    return referral


def _keep_answer(
    referral: VetReferral,
    word: VetWord,
    letter: Letter | None,
    *,
    link: PrivateLink | None,
    at: datetime,
    by: User | None,
) -> VetReferral:
    scan = letter.scan if letter else ()
    _fill_in(referral, word, today_of(at))
    referral.document = _sealed_copy(referral, scan, link=link, at=at, by=by)
    referral.save()
    changes: dict[str, object] = {"answer": word.answer, "since": referral.since, "until": referral.until, "link": link}
    if letter is not None and by is not None:
        title = referral.document.title
        referral.scans.set(store_given(kind=Document.Kind.REFERRAL, title=title, given=scan, at=at, by=by))
        changes |= {"confirmed": letter.confirmed, "given": [one.given_sha256 for one in scan]}
    via = "private link" if link else "letter" if letter else ""
    audit.record("vet answered", referral, at=at, by=by, via=via, changes=changes)
    return referral


def _fill_in(referral: VetReferral, word: VetWord, today: date) -> None:
    _refuse_bad_word(word, today)
    is_yes = word.answer != Answer.NO
    referral.answer, referral.answered_on = word.answer, today
    referral.vet_name, referral.registration_number = word.vet_name.strip(), word.registration_number.strip()
    referral.examined_on = word.examined_on
    referral.service_kinds = [kind for kind in KINDS_OF_WORK if kind in word.service_kinds]
    referral.places = [place for place in PLACES if place in word.places]
    referral.conditions = word.conditions.strip()
    referral.max_minutes = word.max_minutes if is_yes else None
    referral.since, referral.until = (word.since, word.until) if is_yes else (None, None)
    referral.full_clean(exclude=["animal", "practice", "document"])


def _refuse_bad_word(word: VetWord, today: date) -> None:
    if word.answer not in (Answer.YES, Answer.CONDITIONS, Answer.NO):
        raise Refused("Choose yes, yes with conditions, or no.")
    if not word.vet_name.strip() or not word.registration_number.strip():
        raise Refused("An answer carries the vet's name and registration number.")
    if word.examined_on > today:
        raise Refused("The day of the examination is still to come.")
    if (today - word.examined_on).days > OLDEST_EXAMINATION_DAYS:
        raise Refused("The examination is more than a year ago. Write down a newer one.")
    if any(kind not in KINDS_OF_WORK for kind in word.service_kinds):
        raise Refused("Choose the services from the list.")
    if any(place not in PLACES for place in word.places):
        raise Refused("Choose the places from the list.")
    limits = word.conditions.strip() or word.max_minutes is not None or word.places
    if word.answer == Answer.CONDITIONS and not limits:
        raise Refused("Write the conditions, or choose a plain yes.")
    if word.answer != Answer.NO:
        _refuse_bad_days(word, today)


def _refuse_bad_days(word: VetWord, today: date) -> None:
    if word.since is None or word.until is None:
        raise Refused("A yes has a first day and a last day.")
    if word.until < word.since:
        raise Refused("The last day is before the first.")
    if word.until < today:
        raise Refused("The last day is already past.")
    if (word.until - word.since).days > LONGEST_DAYS:
        raise Refused("A yes lasts at most two years. Choose an earlier last day.")
    if word.max_minutes is not None and not 1 <= word.max_minutes <= 300:
        raise Refused("Minutes a session are between 1 and 300.")


def _sealed_copy(
    referral: VetReferral, scan: Sequence[Given], *, link: PrivateLink | None, at: datetime, by: User | None
) -> Document:
    title = f"Vet's answer, {referral.animal}"
    services = [KINDS_OF_WORK[kind] for kind in referral.service_kinds]
    context = {"referral": referral, "services": services, "link": link, "answered_at": at, "title": title}
    with timezone.override(the_business().zone):
        paper = render_pdf("documents/referral.html", context)
    sealed = seal_pdf(one_pdf(paper, scan) if scan else paper, reason="A vet's written answer", at=at)
    return store_document(kind=Document.Kind.REFERRAL, title=title, content=sealed, at=at, by=by, sealed=True)
