"""Rows read as facts: what is on file about some horses on one day, in one number of queries for one horse or fifty."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from fractions import Fraction
from typing import TypeVar, cast

from django.db.models import Q, QuerySet
from django.utils import timezone

from backoffice.business.models import Business
from backoffice.business.queries import the_business
from clients.animals.facts import PayerShare
from clients.animals.models import Animal, Caution, HealthFact, Ownership
from clients.animals.queries import latest_health, payers_each_day
from clients.paperwork import facts, own_rules
from clients.paperwork.models import Form, PlaceLaw, Signature, StopNote, VetReferral, Wording, WordingVersion
from clients.paperwork.own_queries import own_papers_to_count
from clients.people.models import Person

Row = TypeVar("Row", Caution, Ownership, VetReferral, StopNote)
ISOLATED = [Animal.Isolation.EXPOSED, Animal.Isolation.INFECTED]


def is_too_young(person: Person, on: date, signing_age: int) -> bool:
    """By the mark on the person, or by the date of birth where it is known."""
    if person.under_age or person.born_on is None:
        return person.under_age
    had_birthday = (on.month, on.day) >= (person.born_on.month, person.born_on.day)
    return on.year - person.born_on.year - (0 if had_birthday else 1) < signing_age


def vet_words(referral: VetReferral) -> str:
    return referral.vet_name or referral.practice.vet_name or referral.practice.name


@dataclass(frozen=True, slots=True)
class Gathered:
    """Everything on file that permission to work may look at, for some horses and one day."""

    on: date
    business: Business
    animals: Mapping[int, Animal]
    ownerships: Mapping[int, list[Ownership]]
    payers: Mapping[int, list[PayerShare]]
    health: Mapping[int, dict[str, HealthFact]]
    cautions: Mapping[int, list[Caution]]
    referrals: Mapping[int, list[VetReferral]]
    stop_notes: Mapping[int, list[StopNote]]
    isolated: Mapping[int, list[str]]
    laws: Mapping[bool, PlaceLaw]
    has_terms: bool
    own_papers: Sequence[facts.OwnPaper]
    papers: Mapping[str, list[tuple[Form, facts.Paper]]] = field(default_factory=dict)

    def facts_of(self, animal: Animal, work: facts.Work) -> facts.Facts:
        animal = self.animals[animal.pk]
        shares = [share for share in self.ownerships[animal.pk] if share.holds_on(self.on)]
        law = self._law(work)
        return facts.Facts(
            animal=animal.name,
            on=self.on,
            work=work,
            law=law,
            rules=facts.Rules(
                reask_days=self.business.reask_days,
                consent_notice_days=self.business.consent_notice_days,
                dose_critical_holds=self.business.dose_critical_holds,
                who_signs=facts.WhoSigns(self.business.who_signs),
                own_paper_notice_days=self.business.own_paper_notice_days,
            ),
            may_be_in_foal=animal.sex in (Animal.Sex.MARE, Animal.Sex.UNKNOWN),
            died_on=animal.died_on,
            health=tuple(_health(answer) for answer in self.health[animal.pk].values()),
            cautions=tuple(_caution(caution) for caution in self.cautions[animal.pk]),
            referrals=tuple(answer for referral in self.referrals[animal.pk] for answer in self._answers(referral)),
            stop_notes=tuple(
                timezone.localdate(note.opened_at, self.business.zone) for note in self.stop_notes[animal.pk]
            ),
            owners=tuple(_owner(share) for share in shares),
            payers=_persons(share.payer for share in self.payers[animal.pk]),
            consents=self._papers(animal, Wording.Kind.CONSENT),
            authorities=self._papers(animal, Wording.Kind.AUTHORITY),
            releases=self._papers(animal, Wording.Kind.RELEASE),
            terms=self._papers(animal, Wording.Kind.TERMS),
            has_terms=self.has_terms,
            barn=animal.barn.name,
            barn_asks_release=animal.barn.asks_release,
            isolated_at_barn=tuple(self.isolated[animal.barn_id]),
            own_papers=own_rules.counting(self.own_papers, work=work, place=law.place, on=self.on),
        )

    def _answers(self, referral: VetReferral) -> Iterator[facts.VetAnswer]:
        """What was said no to on the telephone, and the written answer, which counts over a call of the same day."""
        for call in referral.calls.all():
            day = timezone.localdate(call.heard_at, self.business.zone)
            if call.says_no and day <= self.on:
                vet = f"{call.vet_name} (on the telephone)"
                yield facts.VetAnswer(referral.pk, "no", vet, asked_on=referral.asked_on, answered_on=day)
        yield _referral(referral)

    def _law(self, work: facts.Work) -> facts.Law:
        law = self.laws.get(work.uses_machine)
        if law is None:
            return facts.Law(place=self.business.place_of_law)
        return facts.Law(law.place, law.rule, law.source, law.recorded_on)

    def _papers(self, animal: Animal, kind: Wording.Kind) -> tuple[facts.Paper, ...]:
        return tuple(
            self._with_owners_then(animal, paper)
            for form, paper in self.papers.get(kind, [])
            if _speaks_of(form, animal, kind)
        )

    def _with_owners_then(self, animal: Animal, paper: facts.Paper) -> facts.Paper:
        shares = self.ownerships[animal.pk]
        then = frozenset(share.person_id for share in shares if share.holds_on(paper.signed_on))
        return replace(paper, owners_then=then)


def gather(animals: Iterable[Animal], on: date) -> Gathered:
    """Read afresh: what the given rows remember from earlier is not trusted."""
    return gather_each_day(animals, [on])[on]


def gather_each_day(animals: Iterable[Animal], days: Iterable[date]) -> dict[date, Gathered]:
    """The same for several days, in the number of queries of one: what holds on a day is sorted out here."""
    pks, days = [animal.pk for animal in animals], sorted(set(days))
    business = the_business()
    horses = {animal.pk: animal for animal in Animal.objects.filter(pk__in=pks).select_related("barn")}
    ownerships = _by_animal(pks, Ownership.objects.filter(animal__in=pks).select_related("person__guardian"))
    shares = [share for of_horse in ownerships.values() for share in of_horse]
    payers = payers_each_day(horses.values(), days, shares)
    everybody = _people(ownerships, payers.values())
    undated = Gathered(
        on=date.min,
        business=business,
        animals=horses,
        ownerships=ownerships,
        payers={},
        health=latest_health(horses.values()),
        cautions={},
        referrals=_by_animal(pks, _referrals(pks)),
        stop_notes=_by_animal(pks, StopNote.objects.filter(animal__in=pks, closed_at__isnull=True)),
        isolated={},
        laws=_laws(business.place_of_law),
        has_terms=False,
        own_papers=own_papers_to_count(),
    )
    cautions = _by_animal(pks, Caution.objects.filter(animal__in=pks))
    isolated = list(Animal.objects.filter(barn__in=_barns(horses), isolation__in=ISOLATED, died_on__isnull=True))
    forms, versions = _signed_forms(pks, everybody), _versions_to_know()
    return {
        day: replace(
            undated,
            on=day,
            payers=payers[day],
            cautions={pk: [each for each in cautions[pk] if each.holds_on(day)] for pk in horses},
            isolated=_isolated(isolated, day),
            has_terms=any(_are_terms(version) and version.published_on <= day for version in versions),
            papers=_papers_on(day, forms, versions, business),
        )
        for day in days
    }


def newest_to_sign_again(on: date) -> dict[int, int]:
    """Wording → number of its latest version that had to be signed again by that day."""
    return _newest_by(on, _versions_to_know())


def _versions_to_know() -> list[WordingVersion]:
    """Those that had to be signed again, and all terms: in force or not, that is a question of the day."""
    known = Q(must_sign_again=True) | Q(wording__kind=Wording.Kind.TERMS)
    return list(WordingVersion.objects.filter(known).select_related("wording").order_by("number"))


def _are_terms(version: WordingVersion) -> bool:
    return version.wording.kind == Wording.Kind.TERMS


def _newest_by(day: date, versions: Iterable[WordingVersion]) -> dict[int, int]:
    again = [version for version in versions if version.must_sign_again and version.published_on <= day]
    return {version.wording_id: version.number for version in again}


def _signed_forms(pks: list[int], people: set[int]) -> list[Form]:
    return list(
        Form.objects.exclude(state=Form.State.TO_SIGN)
        .filter(Q(animal__in=pks) | Q(animal__isnull=True, signer__in=people), valid_from__isnull=False)
        .select_related("signer", "wording_version__wording", "signature")
        .order_by("pk")
    )


def _papers_on(
    day: date, forms: Iterable[Form], versions: Iterable[WordingVersion], business: Business
) -> dict[str, list[tuple[Form, facts.Paper]]]:
    """Kind of wording → the signed forms of that kind, as papers."""
    again = _newest_by(day, versions)
    papers: dict[str, list[tuple[Form, facts.Paper]]] = defaultdict(list)
    for form in forms:
        papers[form.wording_version.wording.kind].append((form, _paper(form, again, business)))
    return papers


def _paper(form: Form, again: Mapping[int, int], business: Business) -> facts.Paper:
    since, until = cast(date, form.valid_from), cast(date, form.valid_until)  # a constraint of the table
    signature: Signature | None = getattr(form, "signature", None)
    signed_on = timezone.localdate(signature.signed_at, business.zone) if signature else since
    version = form.wording_version
    return facts.Paper(
        pk=form.pk,
        signer=form.signer_id,
        signer_name=form.signer.name,
        signed_on=signed_on,
        since=since,
        until=until,
        withdrawn_on=form.withdrawn_on,
        under_age=is_too_young(form.signer, signed_on, business.signing_age),
        by_guardian=signature is not None and signature.capacity == Signature.Capacity.GUARDIAN,
        sign_again=version.number < again.get(version.wording_id, 0),
        agent=form.agent_id,
        cap=form.cap_amount,
    )


def _speaks_of(form: Form, animal: Animal, kind: Wording.Kind) -> bool:
    if kind == Wording.Kind.CONSENT:
        return form.animal_id == animal.pk
    if kind == Wording.Kind.RELEASE and form.barn_id != animal.barn_id:
        return False
    return form.animal_id in (None, animal.pk)


def _health(answer: HealthFact) -> facts.HealthAnswer:
    return facts.HealthAnswer(
        kind=answer.kind,
        state=facts.State(answer.state),
        asked_on=answer.asked_on,
        recorded_by=str(answer.recorded_by) if answer.recorded_by else "",
        note=answer.note,
    )


def _referrals(pks: list[int]) -> QuerySet[VetReferral]:
    return VetReferral.objects.filter(animal__in=pks).select_related("practice").prefetch_related("calls")


def _owner(share: Ownership) -> facts.Owner:
    owner = share.person
    return facts.Owner(owner.pk, owner.name, owner.guardian_id, Fraction(share.numerator, share.denominator))


def _caution(caution: Caution) -> str:
    said = f"{caution.area} (said by {caution.said_by})"
    return f"{said}: {caution.note}" if caution.note else said


def _referral(referral: VetReferral) -> facts.VetAnswer:
    return facts.VetAnswer(
        pk=referral.pk,
        answer=referral.answer,
        vet=vet_words(referral),
        asked_on=referral.asked_on,
        answered_on=referral.answered_on,
        since=referral.since,
        until=referral.until,
        services=frozenset(referral.service_kinds),
        places=tuple(referral.places),
        conditions=referral.conditions,
        max_minutes=referral.max_minutes,
    )


def _persons(people: Iterable[Person]) -> tuple[facts.Person, ...]:
    return tuple({person.pk: facts.Person(person.pk, person.name) for person in people}.values())


def _people(ownerships: Mapping[int, list[Ownership]], payers: Iterable[Mapping[int, list[PayerShare]]]) -> set[int]:
    """Everybody whose own papers may speak of the horses: owners, their guardians, and payers."""
    owners = [share.person for shares in ownerships.values() for share in shares]
    guardians = {owner.guardian_id for owner in owners if owner.guardian_id is not None}
    paying = {share.payer.pk for of_day in payers for shares in of_day.values() for share in shares}
    return {owner.pk for owner in owners} | guardians | paying


def _barns(horses: Mapping[int, Animal]) -> set[int]:
    return {horse.barn_id for horse in horses.values()}


def _by_animal(pks: list[int], rows: Iterable[Row]) -> dict[int, list[Row]]:
    found: dict[int, list[Row]] = {pk: [] for pk in pks}
    for row in rows:
        found[row.animal_id].append(row)
    return found


def _isolated(horses: Iterable[Animal], on: date) -> dict[int, list[str]]:
    """Barn → the names of the horses isolated there on the day."""
    found: dict[int, list[str]] = defaultdict(list)
    for horse in horses:
        if horse.isolation_on(on) != Animal.Isolation.CLEAN:
            found[horse.barn_id].append(horse.name)
    return found


def _laws(place: str) -> dict[bool, PlaceLaw]:
    """The latest record for the place, for work with a machine and without."""
    return {law.uses_machine: law for law in PlaceLaw.objects.filter(place__iexact=place).order_by("recorded_on", "pk")}
