from collections.abc import Iterable, Mapping
from datetime import date

from django.db.models import Exists, OuterRef, Prefetch, Q, QuerySet, Subquery
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.powers import Power
from clients.animals.facts import AnimalFacts, PayerShare
from clients.animals.models import Animal, Caution, HealthFact, Measure, Ownership, Role
from clients.people.models import Barn, Person


def owners_on(animals: Iterable[Animal], day: date) -> dict[int, list[Ownership]]:
    """Horse → its shares on that day in their stated order, persons loaded; one query for all horses."""
    owners: dict[int, list[Ownership]] = {animal.pk: [] for animal in animals}
    shares = Ownership.objects.on(day).filter(animal__in=list(owners)).select_related("person__guardian")
    for ownership in shares.order_by("animal_id", "position", "pk"):
        owners[ownership.animal_id].append(ownership)
    return owners


def roles_on(animals: Iterable[Animal], day: date) -> dict[int, dict[str, Role]]:
    """Horse → kind of role → who has it on that day; one query for all horses."""
    roles: dict[int, dict[str, Role]] = {animal.pk: {} for animal in animals}
    for role in Role.objects.on(day).filter(animal__in=list(roles)).select_related("person").order_by("since", "pk"):
        roles[role.animal_id][role.kind] = role
    return roles


def payers_for(animals: Iterable[Animal], day: date) -> dict[int, list[PayerShare]]:
    """Horse → who pays which owner's share on that day; two queries for all horses.

    Somebody with the role of payer pays for every owner; else an owner too young to sign is paid for by the guardian,
    and everybody else pays the own share. An agent orders and does not pay.
    """
    return payers_each_day(animals, [day])[day]


def payers_each_day(
    animals: Iterable[Animal], days: Iterable[date], shares: Iterable[Ownership] | None = None
) -> dict[date, dict[int, list[PayerShare]]]:
    """Day → horse → who pays which owner's share then; two queries for all days and horses.

    `shares` are all the horses' shares, each horse's in order, where they are read already.
    """
    pks = {animal.pk for animal in animals}
    owners = list(_shares_of(pks) if shares is None else shares)
    roles = list(Role.objects.filter(animal__in=pks).select_related("person").order_by("since", "pk"))
    return {day: _payers_on(pks, day, owners, roles) for day in days}


def _shares_of(pks: Iterable[int]) -> QuerySet[Ownership]:
    shares = Ownership.objects.filter(animal__in=pks).select_related("person__guardian")
    return shares.order_by("animal_id", "position", "pk")


def _payers_on(
    pks: Iterable[int], day: date, owners: Iterable[Ownership], roles: Iterable[Role]
) -> dict[int, list[PayerShare]]:
    held: dict[int, dict[str, Role]] = {pk: {} for pk in pks}
    for role in roles:
        if role.holds_on(day):
            held[role.animal_id][role.kind] = role
    paid: dict[int, list[PayerShare]] = {pk: [] for pk in held}
    for ownership in owners:
        if ownership.holds_on(day):
            paid[ownership.animal_id].append(_who_pays(ownership, held[ownership.animal_id]))
    return paid


def _who_pays(ownership: Ownership, roles: Mapping[str, Role]) -> PayerShare:
    owner = ownership.person
    payer = owner.guardian if owner.under_age and owner.guardian else owner
    if Role.Kind.PAYER in roles:
        payer = roles[Role.Kind.PAYER].person
    return PayerShare(payer, owner, ownership.share)


def payers_on(animal: Animal, day: date) -> list[PayerShare]:
    return payers_for([animal], day)[animal.pk]


def _latest_of(facts: QuerySet[HealthFact]) -> QuerySet[HealthFact]:
    return facts.order_by("-asked_on", "-pk")


def latest_health(animals: Iterable[Animal]) -> dict[int, dict[str, HealthFact]]:
    """Horse → kind → the answer that holds; one query for all horses. A kind never asked about is absent."""
    latest: dict[int, dict[str, HealthFact]] = {animal.pk: {} for animal in animals}
    same = HealthFact.objects.filter(animal=OuterRef("animal"), kind=OuterRef("kind"))
    facts = HealthFact.objects.filter(animal__in=list(latest), pk=Subquery(_latest_of(same).values("pk")[:1]))
    for fact in facts.select_related("recorded_by"):
        latest[fact.animal_id][fact.kind] = fact
    return latest


def health_history(animal: Animal) -> list[HealthFact]:
    """Every answer ever given, the latest first."""
    return list(_latest_of(animal.health_facts.select_related("recorded_by")))


def cautions_on(animals: Iterable[Animal], day: date) -> dict[int, list[Caution]]:
    """Horse → the places to take care with on that day; one query for all horses."""
    cautions: dict[int, list[Caution]] = {animal.pk: [] for animal in animals}
    for caution in _cautions_in_force(day).filter(animal__in=list(cautions)):
        cautions[caution.animal_id].append(caution)
    return cautions


def _cautions_in_force(day: date) -> QuerySet[Caution]:
    return Caution.objects.filter(Q(ended_on__isnull=True) | Q(ended_on__gt=day), said_on__lte=day)


def animals_listed(day: date) -> QuerySet[Animal]:
    """Horses with their flags and owners of that day, in two queries whatever their number."""
    owners = Ownership.objects.on(day).select_related("person").order_by("position", "pk")
    return (
        Animal.objects.select_related("barn")
        .prefetch_related(Prefetch("ownerships", queryset=owners, to_attr="owners_today"))
        .annotate(
            in_foal=_is_recorded(HealthFact.Kind.IN_FOAL),
            has_epm=_is_recorded(HealthFact.Kind.EPM),
            has_caution=Exists(_cautions_in_force(day).filter(animal=OuterRef("pk"))),
            is_isolated=Q(isolation__in=[Animal.Isolation.EXPOSED, Animal.Isolation.INFECTED])
            & (Q(isolated_until__isnull=True) | Q(isolated_until__gte=day)),
        )
    )


def _is_recorded(kind: HealthFact.Kind) -> Exists:
    """Whether the answer that holds is yes."""
    same = HealthFact.objects.filter(animal=OuterRef(OuterRef("pk")), kind=kind)
    return Exists(HealthFact.objects.filter(pk=Subquery(_latest_of(same).values("pk")[:1]), state=HealthFact.State.YES))


def others_named(name: str, barn: Barn) -> QuerySet[Animal]:
    return Animal.objects.filter(name__iexact=name.strip(), barn=barn, died_on__isnull=True)


def horses_owned_by(person: Person, day: date) -> list[Ownership]:
    owned = Ownership.objects.on(day).filter(person=person).select_related("animal__barn")
    return list(owned.order_by("animal__name", "pk"))


def roles_of(person: Person, day: date) -> list[Role]:
    return list(
        Role.objects.on(day).filter(person=person).select_related("animal__barn").order_by("animal__name", "pk")
    )


def horses_at(barn: Barn, day: date) -> list[Animal]:
    return list(animals_listed(day).filter(barn=barn, died_on__isnull=True))


def get_animal_or_404(request: HttpRequest, pk: int, power: Power = Power.SEE_CARE) -> Animal:
    """The door to a horse. Pass Power.CHANGE_CARE where it is changed, Power.SEE_HEALTH where its health shows."""
    demand(request, power)
    return get_object_or_404(Animal.objects.select_related("barn", "vet_practice"), pk=pk)


def get_caution_or_404(request: HttpRequest, pk: int) -> Caution:
    """The door to a caution, which is only opened to change it."""
    demand(request, Power.SEE_HEALTH)
    demand(request, Power.CHANGE_CARE)
    return get_object_or_404(Caution.objects.select_related("animal__barn"), pk=pk)


def get_measure_or_404(request: HttpRequest, pk: int) -> Measure:
    for power in (Power.SEE_HEALTH, Power.CHANGE_CARE):
        demand(request, power)
    return get_object_or_404(Measure.objects.select_related("animal"), pk=pk)


def measures_of(animal: Animal) -> dict[str, list[Measure]]:
    """Scale → its values, the earliest first; only scales with a value, in the order of the scales."""
    found: dict[str, list[Measure]] = {}
    for measure in animal.measures.all():
        found.setdefault(measure.kind, []).append(measure)
    return {kind: found[kind] for kind in Measure.Kind.values if kind in found}


def animal_facts(animal: Animal, on: date) -> AnimalFacts:
    return AnimalFacts(
        animal=animal,
        on=on,
        owners=owners_on([animal], on)[animal.pk],
        roles=roles_on([animal], on)[animal.pk],
        payers=payers_on(animal, on),
        health=latest_health([animal])[animal.pk],
        cautions=cautions_on([animal], on)[animal.pk],
        stays=list(animal.stays.select_related("barn")),
    )
