"""Facts of a horse that is ready, and one change for each rule that makes it not ready."""

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from clients.paperwork.facts import (
    Facts,
    HealthAnswer,
    Law,
    Look,
    MachineFacts,
    Owner,
    OwnPaper,
    Paper,
    Person,
    Spending,
    State,
    VetAnswer,
    WhoSigns,
    Work,
)

DAY = date(2026, 3, 12)  # a Thursday
ASKED = date(2026, 3, 1)
OWNER, CO_OWNER, TRAINER, STRANGER = 1, 2, 3, 4


def paper(**changes) -> Paper:
    base = Paper(
        pk=1,
        signer=OWNER,
        signer_name="Ottilie Brackwater",
        signed_on=date(2026, 1, 5),
        since=date(2026, 1, 5),
        until=date(2026, 12, 31),
        owners_then=frozenset({OWNER}),
    )
    return replace(base, **changes)


def own_paper(**changes) -> OwnPaper:
    base = OwnPaper(
        pk=1, kind="insurance", name="Insurance, Larkspur Mutual", since=date(2025, 3, 1), until=date(2027, 2, 28)
    )
    return replace(base, **changes)


def vet_answer(**changes) -> VetAnswer:
    base = VetAnswer(
        pk=1,
        answer="yes",
        vet="Dr. Ada Lindqvist",
        asked_on=date(2026, 2, 1),
        answered_on=date(2026, 2, 3),
        since=date(2026, 2, 3),
        until=date(2026, 4, 3),
    )
    return replace(base, **changes)


def asked(kind: str, state: State = State.NONE, on: date = ASKED) -> HealthAnswer:
    return HealthAnswer(kind=kind, state=state, asked_on=on, recorded_by="Wren Holt")


def ready() -> Facts:
    return Facts(
        animal="Biscuit",
        on=DAY,
        work=Work(kind="full", uses_machine=True, name="Full body", minutes=60),
        law=Law(place="Colorado", rule="free", source="Invented board letter", recorded_on=date(2026, 1, 2)),
        health=tuple(asked(kind) for kind in ("epm", "in_foal", "slow_healing", "dose_critical")),
        owners=(Owner(OWNER, "Ottilie Brackwater"),),
        payers=(Person(OWNER, "Ottilie Brackwater"),),
        consents=(paper(),),
        barn="Copper Hasp Stables",
    )


def answered(facts: Facts, kind: str, state: State, on: date = ASKED) -> Facts:
    others = tuple(answer for answer in facts.health if answer.kind != kind)
    return replace(facts, health=(*others, asked(kind, state, on)))


def consents(facts: Facts, **changes) -> Facts:
    return replace(facts, consents=tuple(replace(one, **changes) for one in facts.consents))


def referred(facts: Facts, **changes) -> Facts:
    """Adds a vet's answer, after those that are there."""
    return replace(facts, referrals=(*facts.referrals, vet_answer(pk=len(facts.referrals) + 1, **changes)))


def law(rule: str):
    return lambda facts: replace(facts, law=replace(facts.law, rule=rule))


STOP_KINDS = ("epm", "in_foal", "dehydrated", "toxicity", "bleeding", "slow_healing", "injury")
STANDING_KINDS = ("epm", "in_foal", "slow_healing", "dose_critical")
LONG_AGO = DAY - timedelta(days=91)

# rule → (what makes it so, the result, the code of its reason)
BREAKERS = {
    "died": (lambda f: replace(f, died_on=date(2026, 3, 1)), "hold", "died"),
    "stop note": (lambda f: replace(f, stop_notes=(date(2026, 3, 2),)), "hold", "stop_note"),
    "stop sign": (lambda f: replace(f, look=Look.SEEN), "hold", "stop_sign"),
    "no look-over": (lambda f: replace(f, look=Look.MISSING), "ask", "no_look"),
    **{
        f"{kind} yes": (lambda f, kind=kind: answered(f, kind, State.YES), "hold", f"stop_{kind}")
        for kind in STOP_KINDS
    },
    "vet says no": (lambda f: referred(f, answer="no", answered_on=DAY, since=None, until=None), "hold", "vet_no"),
    "vet limits minutes": (lambda f: referred(f, max_minutes=20), "hold", "vet_minutes"),
    "vet limits places": (lambda f: referred(f, places=("Withers",)), "hold", "vet_places"),
    "plan only with the vet": (
        lambda f: replace(f, work=replace(f.work, vet_first="After the vet's visit")),
        "hold",
        "vet_first",
    ),
    "dose-critical yes": (lambda f: answered(f, "dose_critical", State.YES), "ask", "dose_critical"),
    "law not allowed": (law("not_allowed"), "hold", "law_not_allowed"),
    "law vet first": (law("vet_first"), "hold", "law_vet_first"),
    "law unknown": (law("unknown"), "ask", "law_unknown"),
    "no consent": (lambda f: replace(f, consents=()), "hold", "no_consent"),
    "consent withdrawn": (lambda f: consents(f, withdrawn_on=DAY), "hold", "consent_withdrawn"),
    "consent ends before": (lambda f: consents(f, until=DAY - timedelta(days=1)), "hold", "consent_ends"),
    "consent begins later": (lambda f: consents(f, since=DAY + timedelta(days=1)), "hold", "consent_later"),
    "signer under age": (lambda f: consents(f, under_age=True), "hold", "signer_under_age"),
    "signer may not": (lambda f: consents(f, signer=STRANGER), "hold", "signer_may_not"),
    "owner changed": (lambda f: consents(f, owners_then=frozenset({STRANGER})), "hold", "owner_changed"),
    "a co-owner has not signed": (
        lambda f: consents(
            replace(
                f,
                owners=(*f.owners, Owner(CO_OWNER, "Imani Velloran")),
                rules=replace(f.rules, who_signs=WhoSigns.ALL),
            ),
            owners_then=frozenset({OWNER, CO_OWNER}),
        ),
        "hold",
        "co_owner_missing",
    ),
    "sign again": (lambda f: consents(f, sign_again=True), "hold", "sign_again"),
    "inspection overdue": (
        lambda f: replace(f, machine=replace(f.machine or MachineFacts("Unit one"), inspection_due=DAY - timedelta(1))),
        "hold",
        "inspection_overdue",
    ),
    "machine on hire": (
        lambda f: replace(f, machine=replace(f.machine or MachineFacts("Unit one"), is_on_hire=True)),
        "hold",
        "on_hire",
    ),
    "own paper ended": (
        lambda f: replace(f, own_papers=(own_paper(until=DAY - timedelta(1)),)),
        "hold",
        "own_paper_ended",
    ),
    **{
        f"{kind} not asked": (lambda f, kind=kind: answered(f, kind, State.NOT_ASKED), "ask", f"ask_{kind}")
        for kind in STANDING_KINDS
    },
    "epm asked long ago": (lambda f: answered(f, "epm", State.NONE, LONG_AGO), "ask", "ask_epm"),
    "no release": (lambda f: replace(f, barn_asks_release=True), "ask", "no_release"),
    "no terms": (lambda f: replace(f, has_terms=True), "ask", "no_terms"),
    "no authority": (lambda f: replace(f, ordered_by=Person(STRANGER, "A stranger")), "ask", "no_authority"),
}


def with_trainer(facts: Facts, *, so_far: str | None = "290", adding: str = "0", cap: str | None = "300") -> Facts:
    authority = paper(pk=9, agent=TRAINER, cap=None if cap is None else Decimal(cap))
    spending = None if so_far is None else Spending(Decimal(so_far), Decimal(adding), "USD")
    return replace(facts, authorities=(authority,), ordered_by=Person(TRAINER, "Corin Ashlund"), spending=spending)
