from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Protocol

from django.db.models import Case, CharField, F, Prefetch, Q, QuerySet, Value, When
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from clients.animals.models import Animal
from clients.paperwork.facts import Work
from clients.paperwork.gathering import gather_each_day, newest_to_sign_again
from clients.paperwork.models import Decision, Form, PlaceLaw, StopNote, VetReferral, Wording, WordingVersion
from clients.paperwork.permission import Permission, permission_to_work

REMIND_VET_AFTER = timedelta(days=5)


class Offered(Protocol):
    """A service, as far as permission looks at it."""

    @property
    def name(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def uses_machine(self) -> bool: ...
    @property
    def minutes(self) -> int: ...


class Followed(Protocol):
    """A plan, as far as permission looks at it."""

    @property
    def title(self) -> str: ...
    @property
    def needs_vet(self) -> bool: ...


def work_of(
    service: Offered,
    *,
    plan: Followed | None = None,
    minutes: int | None = None,
    places: Sequence[str] = (),
    practitioner: int | None = None,
    for_hire: bool = False,
) -> Work:
    return Work(
        kind=service.kind,
        uses_machine=service.uses_machine,
        name=service.name,
        minutes=service.minutes if minutes is None else minutes,
        places=tuple(places),
        practitioner=practitioner,
        vet_first=plan.title if plan is not None and plan.needs_vet else "",
        for_hire=for_hire,
    )


def permission_for_each(works: Sequence[tuple[Animal, Work]], *, on: date) -> list[Permission]:
    """Permission for each horse with its own work, in the order given: a day's round, a diary page."""
    return permission_each_day([(animal, work, on) for animal, work in works])


def permission_each_day(works: Sequence[tuple[Animal, Work, date]]) -> list[Permission]:
    """The same for work on several days, in the number of queries of one day; none where there is no work."""
    if not works:
        return []
    gathered = gather_each_day([animal for animal, _, _ in works], [day for _, _, day in works])
    return [permission_to_work(gathered[day].facts_of(animal, work)) for animal, work, day in works]


# Lists


def forms_listed() -> QuerySet[Form]:
    return Form.objects.select_related("wording_version__wording", "animal", "barn", "signer")


def forms_listed_on(day: date) -> QuerySet[Form]:
    """With the state to show that day: a signed form whose last day is past has lapsed."""
    is_over = When(state=Form.State.SIGNED, valid_until__lt=day, then=Value(Form.State.LAPSED))
    return forms_listed().annotate(shown_state=Case(is_over, default=F("state"), output_field=CharField()))


def forms_to_sign() -> QuerySet[Form]:
    living = Q(animal__isnull=True) | Q(animal__died_on__isnull=True)
    return forms_listed().filter(living, state=Form.State.TO_SIGN).order_by("made_at", "pk")


def lapsing_before(day: date, *, on: date) -> list[Form]:
    """Signed forms whose last day falls from `on` to before `day`, but not those with a later one already in force."""
    living = Q(animal__isnull=True) | Q(animal__died_on__isnull=True)
    ending = forms_listed().filter(living, state=Form.State.SIGNED, valid_until__gte=on, valid_until__lt=day)
    found = list(ending.order_by("valid_until", "pk"))
    if not found:
        return []
    later = set(
        Form.objects.filter(state=Form.State.SIGNED, valid_until__gte=day, valid_from__lte=day).values_list(
            "wording_version__wording__kind", "animal", "barn", "signer"
        )
    )
    return [form for form in found if _about(form) not in later]


def _about(form: Form) -> tuple[str, int | None, int | None, int]:
    return (form.wording_version.wording.kind, form.animal_id, form.barn_id, form.signer_id)


def referrals_listed() -> QuerySet[VetReferral]:
    return VetReferral.objects.select_related("animal", "practice")


def waiting_for_the_vet() -> QuerySet[VetReferral]:
    waiting = referrals_listed().filter(answer=VetReferral.Answer.WAITING, animal__died_on__isnull=True)
    return waiting.order_by("asked_on", "pk")


def is_quiet(referral: VetReferral, on: date) -> bool:
    """Unanswered, and neither asked nor reminded in the last days: time to remind the vet."""
    last = referral.reminded_on or referral.asked_on
    return referral.answer == VetReferral.Answer.WAITING and last <= on - REMIND_VET_AFTER


def referrals_ending_before(day: date, *, on: date) -> QuerySet[VetReferral]:
    ending = referrals_listed().filter(until__gte=on, until__lt=day, animal__died_on__isnull=True)
    return ending.exclude(answer=VetReferral.Answer.NO).order_by("until", "pk")


def open_stop_notes() -> QuerySet[StopNote]:
    return StopNote.objects.filter(closed_at__isnull=True).select_related("animal__vet_practice", "opened_by")


@dataclass(frozen=True, slots=True)
class Papers:
    """The paper of one horse, for its page."""

    animal: Animal
    forms: list[Form]
    referrals: list[VetReferral]
    stop_notes: list[StopNote]
    decisions: list[Decision]


def papers_of(animal: Animal) -> Papers:
    return Papers(
        animal=animal,
        forms=list(forms_listed().filter(animal=animal)),
        referrals=list(referrals_listed().filter(animal=animal)),
        stop_notes=list(animal.stop_notes.select_related("opened_by", "closed_by")),
        decisions=list(animal.decisions.select_related("decided_by")[:5]),
    )


@dataclass(frozen=True, slots=True)
class Desk:
    """What the Paperwork page shows: everything that waits for somebody."""

    to_sign: list[Form]
    lapsing: list[Form]
    waiting: list[VetReferral]
    ending: list[VetReferral]
    stop_notes: list[StopNote]

    @property
    def is_clear(self) -> bool:
        return not (self.to_sign or self.lapsing or self.waiting or self.ending or self.stop_notes)


def paperwork_on(day: date, *, notice_days: int) -> Desk:
    until = day + timedelta(days=notice_days + 1)
    return Desk(
        to_sign=list(forms_to_sign()),
        lapsing=lapsing_before(until, on=day),
        waiting=list(waiting_for_the_vet()),
        ending=list(referrals_ending_before(until, on=day)),
        stop_notes=list(open_stop_notes()),
    )


def wordings_listed() -> QuerySet[Wording]:
    return Wording.objects.prefetch_related(Prefetch("versions", WordingVersion.objects.order_by("-number")))


def newest_version(wording: Wording) -> WordingVersion | None:
    return wording.versions.order_by("-number").first()


def newest_versions() -> list[WordingVersion]:
    """The version that a new form of each wording would carry. A request to a vet is no form."""
    newest = {}
    rows = WordingVersion.objects.exclude(wording__kind=Wording.Kind.VET).select_related("wording")
    for version in rows.order_by("number"):
        newest[version.wording_id] = version
    return sorted(newest.values(), key=lambda version: (version.wording.kind, version.wording.title))


def newest_of_kind(kind: Wording.Kind) -> WordingVersion | None:
    return WordingVersion.objects.filter(wording__kind=kind).order_by("-published_on", "-number", "-pk").first()


def must_be_signed_again(form: Form, on: date) -> bool:
    version = form.wording_version
    return version.number < newest_to_sign_again(on).get(version.wording_id, 0)


@dataclass(frozen=True, slots=True)
class LawHere:
    """What counts for one place and kind of work, and what was recorded before."""

    place: str
    uses_machine: bool
    now: PlaceLaw
    before: list[PlaceLaw]


def laws_by_place() -> list[LawHere]:
    found: dict[tuple[str, bool], list[PlaceLaw]] = {}
    for law in PlaceLaw.objects.order_by("-recorded_on", "-pk"):
        found.setdefault((law.place.casefold(), law.uses_machine), []).append(law)
    ordered = sorted(found.items(), key=lambda item: (item[0][0], not item[0][1]))
    return [LawHere(rows[0].place, uses_machine, rows[0], rows[1:]) for (_, uses_machine), rows in ordered]


# Doors


def get_form_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> Form:
    """The door to a form. Pass Power.CHANGE_CARE where it is changed."""
    demand(request, power)
    rows = forms_listed().select_related("document", "signature__witnessed_by", "signature__link", "agent")
    return get_object_or_404(rows, pk=pk)


def get_referral_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_HEALTH) -> VetReferral:
    """The door to what a vet was asked and answered."""
    demand(request, power)
    return get_object_or_404(referrals_listed().select_related("animal__barn", "document"), pk=pk)


def get_stop_note_or_404(request: HttpRequest, pk: int) -> StopNote:
    """The door to a stop note, which is opened to close it."""
    demand(request, Power.SEE_HEALTH)
    demand(request, Power.CHANGE_CARE)
    return get_object_or_404(StopNote.objects.select_related("animal__vet_practice", "opened_by"), pk=pk)


def get_wording_or_404(request: HttpRequest, pk: int) -> Wording:
    demand(request, Power.CHANGE_SETTINGS)
    return get_object_or_404(Wording, pk=pk)


def get_decision_or_404(request: HttpRequest, pk: int) -> Decision:
    """The door to a decision: its reasons speak of health."""
    demand(request, Power.SEE_HEALTH)
    return get_object_or_404(Decision.objects.select_related("animal", "decided_by"), pk=pk)
