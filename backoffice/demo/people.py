"""The demo's barns, people and horses, with everything that is asked about them."""

from collections.abc import Iterator
from datetime import date, time
from decimal import Decimal
from fractions import Fraction
from typing import Any

from backoffice.demo.scenario import Made, Row, Scenario
from backoffice.demo.setting_up import OPENED
from billing.prices.models import PayerCap, PersonTerms, PriceList
from clients.animals.actions import (
    HealthAnswer,
    add_animal,
    add_caution,
    move_to_barn,
    record_health,
    set_owners,
    set_roles,
)
from clients.animals.measuring import take_measure
from clients.animals.models import Animal, HealthFact, Measure, Role
from clients.people.models import Barn, BarnWindow, Person, VetPractice

ASKED = (-75, -14)  # the intake was read through twice


def build_barns(scenario: Scenario, made: Made) -> None:
    for row in scenario.barns:
        barn = Barn.objects.create(
            name=row["name"],
            kind=row["kind"],
            address=row["address"],
            lat=float(row["lat"]),
            lon=float(row["lon"]),
            area=row["area"],
            area_days=scenario.weekday_codes(row["area_days"]),
            power=row["power"],
            signal=row["phone_signal"],
            outdoor_only=bool(row["outdoor_only"]),
            asks_release=bool(row["asks_release"]),
            extra_minutes=int(row["extra_minutes"]),
            call_out_zone=row["zone"],
            note=row["note"],
        )
        if row["window"]:
            opens, closes = (time.fromisoformat(part) for part in row["window"].split("-"))
            BarnWindow.objects.create(barn=barn, opens=opens, closes=closes)
        made.barns[row["id"]] = barn
    for vet in scenario.story["vets"]:
        columns = ("name", "vet_name", "phone", "email")
        made.vets[vet["id"]] = VetPractice.objects.create(**{name: vet[name] for name in columns})


def build_owners(scenario: Scenario, made: Made) -> None:
    for row in scenario.owners:
        made.people[row["id"]] = _person(row, scenario)
    minor = scenario.story["minor"]
    guardian = made.people[minor["owner"]]
    made.people[minor["name"]] = Person.objects.create(
        name=minor["name"], under_age=True, guardian=guardian, note="Sixteen: a parent signs and pays."
    )
    others = [name for shares in scenario.story["co_owners"].values() for name, _share in shares]
    for name in {*others, *scenario.story["trainer"]["owners"].values()}:
        mail = name.split()[-1].lower().replace("-", "")
        made.people[name] = Person.objects.create(name=name, email=f"{mail}@{mail}.example", phone="303-555-0140")
    for row in scenario.owners:
        if row["role"] == "charity":
            charity = PriceList.objects.get(name="Charity")
            PersonTerms.objects.create(person=made.people[row["id"]], price_list=charity, since=scenario.day(OPENED))

    trainer = scenario.story["trainer"]
    agent, cap = made.people[trainer["agent"]], Decimal(trainer["cap"])
    PayerCap.objects.create(person=agent, amount=cap, since=scenario.day(OPENED))


def _person(row: Row, scenario: Scenario) -> Person:
    organization = row["role"] in {"charity", "co-owners"}
    return Person.objects.create(
        name=scenario.story["minor"]["guardian"] if row["role"] == "parent" else row["name"].split(" (")[0],
        kind=Person.Kind.ORGANIZATION if organization else Person.Kind.PERSON,
        phone=row["phone"],
        email=row["email"],
        wants_deposit="deposit" in row["flag"],
        note=". ".join(part.capitalize() for part in (row["payment"], row["flag"]) if part),
    )


def build_horses(scenario: Scenario, made: Made) -> None:
    vets = {barn: made.vets[vet["id"]] for vet in scenario.story["vets"] for barn in vet["barns"]}
    for row in scenario.horses:
        animal = _animal(row, scenario, made, vets[row["barn"]])
        at, since = scenario.at(OPENED + 1), scenario.day(OPENED)
        owner = _owner(row, scenario, made)
        made.animals[row["id"]] = add_animal(animal=animal, owner=owner, since=since, at=at, by=made.manager)
        shares = scenario.story["co_owners"].get(row["id"])
        if shares:
            parts = [(made.people[name], Fraction(int(share.split()[0]), 100)) for name, share in shares]
            set_owners(animal=animal, shares=parts, since=since, at=at, by=made.manager)
        if row["id"] in scenario.story["trainer"]["owners"]:
            agent = made.people[scenario.story["trainer"]["agent"]]
            holders: dict[Role.Kind, Person | None] = {Role.Kind.AGENT: agent, Role.Kind.PAYER: agent}
            set_roles(animal=animal, holders=holders, since=since, at=at, by=made.manager)
    _move(scenario, made)


def _animal(row: Row, scenario: Scenario, made: Made, vet: VetPractice) -> Animal:
    story, pk = scenario.story, row["id"]
    isolation = story["isolation"].get(pk)
    came_from = story["moved"].get(pk)
    return Animal(
        name=row["name"],
        barn=made.barns[came_from["from"] if came_from else row["barn"]],
        sex=row["sex"],
        birth_year=scenario.today.year - int(row["age"]),
        breed=row["breed"],
        color=row["color"],
        vet_practice=vet,
        handling=story["handling"].get(pk, ""),
        note=row["flag"].capitalize(),
        isolation=isolation["state"] if isolation else Animal.Isolation.CLEAN,
        isolated_until=scenario.day(isolation["until"]) if isolation else None,
        event_on=scenario.day(story["events"][pk]) if pk in story["events"] else None,
        shares_photos=False if pk in story["photos_refused"] else None,
    )


def _owner(row: Row, scenario: Scenario, made: Made) -> Person:
    if row["owner"] == scenario.story["minor"]["owner"]:
        return made.people[scenario.story["minor"]["name"]]
    return made.people[scenario.story["trainer"]["owners"].get(row["id"], row["owner"])]


def _move(scenario: Scenario, made: Made) -> None:
    barns = {row["id"]: made.barns[row["barn"]] for row in scenario.horses}
    for horse, move in scenario.story["moved"].items():
        move_to_barn(
            animal=made.animals[horse],
            barn=barns[horse],
            on=scenario.day(move["days"]),
            at=scenario.at(move["days"]),
            by=made.manager,
        )


def ask_about_health(scenario: Scenario, made: Made) -> None:
    """Twice: at the start, and again two weeks ago; what was answered "yes" stands with its own date."""
    for asked in ASKED:
        for row in scenario.horses:
            if row["id"] not in scenario.story["not_asked"]:
                answers = dict(_answers(row["id"], asked, scenario))
                record_health(
                    animal=made.animals[row["id"]],
                    answers=answers,
                    on=scenario.day(asked),
                    at=scenario.at(asked),
                    by=made.manager,
                )
    for fact in scenario.story["health"]:
        kind = HealthFact.Kind(fact["kind"])
        answer = HealthAnswer(HealthFact.State.YES, fact["note"], _covered(fact, scenario))
        record_health(
            animal=made.animals[fact["horse"]],
            answers={kind: answer},
            on=scenario.day(max(fact["days"], ASKED[1])),
            at=scenario.at(max(fact["days"], ASKED[1])),
            by=made.manager,
        )
    for row in scenario.story["cautions"]:
        add_caution(
            animal=made.animals[row["horse"]],
            area=row["area"],
            note=row["note"],
            said_by=row["said_by"],
            said_on=scenario.day(row["days"]),
            at=scenario.at(row["days"]),
            by=made.manager,
        )
    _measure(made, scenario)


def _measure(made: Made, scenario: Scenario) -> None:
    for row in scenario.story["measures"]:
        for days, *given in row["values"]:
            numbers = [Decimal(str(number)) for number in given]
            take_measure(
                animal=made.animals[row["horse"]],
                kind=Measure.Kind(row["kind"]),
                value=numbers[0] if len(numbers) == 1 else (numbers[0], numbers[1]),
                on=scenario.day(days),
                given_by=row["given_by"],
                at=scenario.at(days),
                by=made.manager,
            )


def _answers(horse: str, asked: int, scenario: Scenario) -> Iterator[tuple[HealthFact.Kind, HealthAnswer]]:
    recorded = {fact["kind"] for fact in scenario.story["health"] if fact["horse"] == horse}
    for kind in HealthFact.Kind:
        if kind not in recorded or asked == ASKED[0]:
            yield kind, HealthAnswer(HealthFact.State.NONE)


def _covered(fact: dict[str, Any], scenario: Scenario) -> date | None:
    return scenario.day(fact["covered"]) if "covered" in fact else None
