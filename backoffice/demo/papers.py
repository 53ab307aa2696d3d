"""The demo's paper: consents, releases, terms, an agent's authority, what the vets were asked and answered."""

from datetime import timedelta
from decimal import Decimal

from dateutil.relativedelta import relativedelta

from backoffice.business.queries import the_business
from backoffice.demo.scenario import Made, Row, Scenario
from backoffice.erasing.actions import erase_person
from clients.animals.actions import log_enquiry
from clients.animals.models import Animal
from clients.animals.queries import owners_on, payers_for
from clients.incidents.actions import add_to_incident, write_incident
from clients.incidents.models import Incident
from clients.paperwork.models import Form, Wording, WordingVersion
from clients.paperwork.own_actions import add_own_paper
from clients.paperwork.queries import newest_version
from clients.paperwork.referring import VetWord, answer_referral, request_referral
from clients.paperwork.signers import capacities_of, name_to_type
from clients.paperwork.signing import ask_to_sign, sign_form
from clients.people.models import Barn, Person
from clients.records.actions import make_history

SIGNED = -76
NAME = [[[90, 250], [140, 110], [200, 260], [260, 120], [330, 250], [420, 160], [520, 240], [640, 150], [760, 210]]]


def sign_papers(scenario: Scenario, made: Made) -> None:
    horses = [made.animals[pk] for pk in at_work(scenario)]
    _sign_consents(scenario, made)
    payers = {
        share.payer.pk: share.payer for shares in payers_for(horses, scenario.day(SIGNED)).values() for share in shares
    }
    for payer in payers.values():
        _sign(scenario, made, Wording.Kind.TERMS, payer)
    asking = {barn.pk: barn for barn in made.barns.values() if barn.asks_release}
    done: set[tuple[int, int]] = set()
    for animal in horses:
        owner = owners_on([animal], scenario.day(SIGNED))[animal.pk][0].person
        if animal.barn_id in asking and (owner.pk, animal.barn_id) not in done:
            done.add((owner.pk, animal.barn_id))
            _sign(scenario, made, Wording.Kind.RELEASE, owner, barn=asking[animal.barn_id])
    _sign_authorities(scenario, made)
    for hire in scenario.story["hires"]:
        horse, on = made.animals[hire["horse"]], hire["since"] - 1
        _sign(scenario, made, Wording.Kind.HIRE, made.people[hire["owner"]], animal=horse, on=on)
    for horse in scenario.story["asked_to_sign"]:
        animal = made.animals[horse]
        ask_to_sign(
            version=_newest(Wording.Kind.CONSENT),
            signer=owners_on([animal], scenario.day(-3))[animal.pk][0].person,
            animal=animal,
            at=scenario.at(-3, 10),
            by=made.manager,
        )


def at_work(scenario: Scenario) -> list[str]:
    """The horses that are worked with, or about to be: the others have signed nothing yet."""
    story = scenario.story
    quoted = {horse for quote in story["quotes"] for horse in quote["horses"]}
    known = quoted | set(story["last_seen"]) | {row["horse"] for row in story["referrals"]}
    return [row["id"] for row in scenario.horses if row["every_days"] or row["id"] in known]


def _sign_consents(scenario: Scenario, made: Made) -> None:
    at_work_now = at_work(scenario)
    for row in scenario.horses:
        if row["id"] not in at_work_now:
            continue
        animal = made.animals[row["id"]]
        signer = owners_on([animal], scenario.day(SIGNED))[animal.pk][0].person
        _sign(scenario, made, Wording.Kind.CONSENT, signer, animal=animal, on=_signed_on(row, scenario))


def _signed_on(row: Row, scenario: Scenario) -> int:
    """Days ago, so that a consent which the scenario lets end soon ends on its day."""
    ends = scenario.story["consent_ends"].get(row["owner"])
    if ends is None:
        return SIGNED
    months = _newest(Wording.Kind.CONSENT).valid_months
    return (scenario.day(ends + 1) - relativedelta(months=months) - scenario.today).days


def _newest(kind: Wording.Kind) -> WordingVersion:
    version = newest_version(Wording.objects.get(kind=kind))
    if version is None:
        raise LookupError(kind)
    return version


def _sign_authorities(scenario: Scenario, made: Made) -> None:
    trainer = scenario.story["trainer"]
    agent = made.people[trainer["agent"]]
    for name in sorted(set(trainer["owners"].values())):
        form = ask_to_sign(
            version=_newest(Wording.Kind.AUTHORITY),
            signer=made.people[name],
            agent=agent,
            cap=Decimal(trainer["cap"]),
            at=scenario.at(SIGNED, 10),
            by=made.manager,
        )
        _put_name(scenario, made, form, SIGNED)


def _sign(
    scenario: Scenario,
    made: Made,
    kind: Wording.Kind,
    signer: Person,
    *,
    animal: Animal | None = None,
    barn: Barn | None = None,
    on: int = SIGNED,
) -> None:
    form = ask_to_sign(
        version=_newest(kind), signer=signer, animal=animal, barn=barn, at=scenario.at(on, 10), by=made.manager
    )
    _put_name(scenario, made, form, on)


def _put_name(scenario: Scenario, made: Made, form: Form, on: int) -> None:
    capacity = capacities_of(form, on=scenario.day(on), business=the_business())[0]
    sign_form(
        form=form,
        name_typed=name_to_type(form, capacity) or "Committee of the rescue",
        capacity=capacity,
        strokes=NAME,
        at=scenario.at(on, 10, 5),
        device="Phone of the practitioner, in the barn",
        witnessed_by=made.manager,
    )


def write_down_own_papers(scenario: Scenario, made: Made) -> None:
    """The practice's own; the one of first aid ends within the notice."""
    for row in scenario.story["own_papers"]:
        add_own_paper(
            kind=row["kind"],
            holder=made.manager if row["personal"] else None,
            issuer=row["issuer"],
            number=row["number"],
            uses_machine=row.get("uses_machine"),
            place="",
            since=scenario.day(row["since"]),
            until=scenario.day(row["until"]),
            at=scenario.at(SIGNED, 9),
            by=made.manager,
        )


def write_incident_down(scenario: Scenario, made: Made) -> None:
    row, by = scenario.story["incident"], made.manager
    horse, happened = made.animals[row["horse"]], scenario.at(row["days"], row["hour"])
    words = {name: row[name] for name in ("what", "present", "done", "vet_said")}
    note = Incident(animal=horse, barn=horse.barn, happened_at=happened, thing_damaged=True, **words)
    write_incident(incident=note, at=scenario.at(row["days"], 18), by=by)
    add_to_incident(incident=note, text=row["added"], at=scenario.at(row["days"] + 1, 8), by=by)


def hand_over_and_erase(scenario: Scenario, made: Made) -> None:
    """A history file for a vet; and somebody who once asked and never came back is erased on request."""
    row = next(row for row in scenario.story["referrals"] if row["answer"] != "waiting")
    make_history(animal=made.animals[row["horse"]], reader="vet", at=scenario.at(0, 7), by=made.manager)
    asked = scenario.story["asked_once"]
    person = log_enquiry(
        name=asked["name"],
        phone=asked["phone"],
        email="",
        barn=made.barns[asked["barn"]],
        barn_name="",
        asked_about=asked["about"],
        on=scenario.day(asked["day"]),
        at=scenario.at(asked["day"], 12),
        by=made.manager,
    )
    erase_person(person=person, asked="person", at=scenario.at(-1, 9), by=made.manager)


def ask_the_vets(scenario: Scenario, made: Made) -> None:
    for row in scenario.story["referrals"]:
        animal = made.animals[row["horse"]]
        practice = animal.vet_practice
        if practice is None:
            raise LookupError(row["horse"])
        referral, token = request_referral(
            animal=animal, practice=practice, asked=row["asked"], at=scenario.at(row["days"], 12), by=made.manager
        )
        made.referrals[row["horse"]] = referral
        if row["answer"] == "waiting":
            made.tokens["vet"] = token
            continue
        answered = row["days"] + 1
        word = VetWord(
            answer=row["answer"],
            vet_name=practice.vet_name,
            registration_number="CO-0000 (invented)",
            examined_on=scenario.day(answered),
            since=scenario.day(answered),
            until=scenario.day(answered) + timedelta(days=row["valid"]),
            service_kinds=row["kinds"],
            places=row.get("places", ()),
            max_minutes=row.get("minutes"),
            conditions=row.get("conditions", ""),
        )
        answer_referral(referral=referral, word=word, at=scenario.at(answered, 12), by=made.manager)
