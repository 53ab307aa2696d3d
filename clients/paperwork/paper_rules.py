"""The rules about paper: who may sign, what they signed, and until when it holds."""

from collections.abc import Iterable, Iterator
from datetime import date

from clients.paperwork.facts import Facts, Owner, Paper, WhoSigns
from clients.paperwork.reasons import Reason, ask, day_words, hold

HOW_MANY = {
    WhoSigns.ANY: "By your rule one owner signs",
    WhoSigns.MAJORITY: "By your rule owners of more than half sign",
    WhoSigns.ALL: "By your rule all owners sign",
    WhoSigns.MANAGING: "By your rule an owner whom the others name in writing signs",
}


def _signers(facts: Facts) -> frozenset[int]:
    """Who may sign for the owners of the day: each of them, and the guardian of each."""
    guardians = {owner.guardian for owner in facts.owners if owner.guardian is not None}
    return frozenset(owner.pk for owner in facts.owners) | guardians


def authority_of(facts: Facts, person: int, on: date) -> Paper | None:
    """The written authority in force that lets this person act for the owners of the day."""
    return next((paper for paper in _authorities(facts, on) if paper.agent == person), None)


def _authorities(facts: Facts, on: date) -> Iterator[Paper]:
    for paper in facts.authorities:
        granted = paper.signer in _signers(facts) and not paper.under_age and not paper.sign_again
        if granted and paper.is_in_force(on):
            yield paper


def _may_sign(facts: Facts, paper: Paper) -> bool:
    if paper.signer in _signers(facts):
        return True
    return all(authority_of(facts, paper.signer, day) is not None for day in (paper.signed_on, facts.on))


def _faults(facts: Facts, paper: Paper) -> Iterator[tuple[str, str]]:
    """What keeps a signed consent from counting on the day, as code and sentence."""
    who = f"The consent that {paper.signer_name} signed on {day_words(paper.signed_on)}"
    if paper.withdrawn_on is not None and paper.is_withdrawn(facts.on):
        yield "consent_withdrawn", f"{who} was withdrawn on {day_words(paper.withdrawn_on)}."
    if paper.until < facts.on:
        yield "consent_ends", f"{who} ends on {day_words(paper.until)}, before the day of the visit."
    if paper.since > facts.on:
        yield "consent_later", f"{who} begins on {day_words(paper.since)}, after the day of the visit."
    if paper.under_age and not paper.by_guardian:
        yield "signer_under_age", f"{paper.signer_name} was too young to sign; a parent or guardian signs as such."
    if not _may_sign(facts, paper):
        yield (
            "signer_may_not",
            f"{paper.signer_name} may not sign for {facts.animal}: no owner, and no written authority in force.",
        )
    if paper.owners_then != frozenset(owner.pk for owner in facts.owners):
        yield "owner_changed", f"The owners of {facts.animal} are other persons than on {day_words(paper.signed_on)}."
    if paper.sign_again:
        yield "sign_again", f"{who} has a newer wording that must be signed again."


def good_consents(facts: Facts) -> list[Paper]:
    """The consents that count on the day."""
    return [paper for paper in facts.consents if not any(True for _ in _faults(facts, paper))]


def consent(facts: Facts) -> Iterator[Reason]:
    clears, who = f"A consent signed for {facts.animal}.", "An owner, or an agent with written authority"
    good = good_consents(facts)
    if not facts.consents:
        yield hold("no_consent", f"No consent is signed for {facts.animal}.", clears, who)
    elif not good:
        latest = max(facts.consents, key=lambda paper: (paper.signed_on, paper.pk))
        for code, sentence in _faults(facts, latest):
            yield hold(code, sentence, clears, who)
    else:
        yield from _objections(facts, {paper.signer for paper in good})
        for owner in owners_to_sign(facts, good):
            yield hold(
                "co_owner_missing",
                f"{HOW_MANY[facts.rules.who_signs]}, and {owner.name} has not signed for {facts.animal}.",
                f"The consent of {owner.name}.",
                owner.name,
            )


def consent_until(facts: Facts) -> date | None:
    """The last day on which the consents that count are enough together; nothing where they are not enough."""
    good = good_consents(facts)
    ends = sorted({paper.until for paper in good}, reverse=True)
    enough = (end for end in ends if not owners_to_sign(facts, [paper for paper in good if paper.until >= end]))
    return next(enough, None)


def owners_to_sign(facts: Facts, good: Iterable[Paper]) -> list[Owner]:
    """The owners whose consent is still missing by the practitioner's rule, beside the good ones."""
    signers = {paper.signer for paper in good}
    agreeing = [owner for owner in facts.owners if any(_stands_for(facts, signer, owner) for signer in signers)]
    missing = [owner for owner in facts.owners if owner not in agreeing]
    if not missing or _is_enough(facts, agreeing):
        return []
    managing = facts.rules.who_signs == WhoSigns.MANAGING
    wanted = [owner for owner in facts.owners if _is_named_by_the_others(facts, owner)] if managing else []
    return wanted or missing


def _is_enough(facts: Facts, agreeing: list[Owner]) -> bool:
    """Whether those who agree are enough though others have not signed."""
    match facts.rules.who_signs:
        case WhoSigns.ALL:
            return False
        case WhoSigns.MAJORITY:
            return 2 * sum(owner.share for owner in agreeing) > sum(owner.share for owner in facts.owners)
        case WhoSigns.MANAGING:
            return any(_is_named_by_the_others(facts, owner) for owner in agreeing)
        case WhoSigns.ANY:
            return bool(agreeing)


def _stands_for(facts: Facts, signer: int, owner: Owner) -> bool:
    """As the owner, as the owner's guardian, or by the owner's written authority."""
    return signer in (owner.pk, owner.guardian) or _has_granted(facts, owner, signer)


def _is_named_by_the_others(facts: Facts, managing: Owner) -> bool:
    return all(_has_granted(facts, other, managing.pk) for other in facts.owners if other != managing)


def _has_granted(facts: Facts, owner: Owner, agent: int) -> bool:
    granted = [paper for paper in _authorities(facts, facts.on) if paper.agent == agent]
    return any(paper.signer in (owner.pk, owner.guardian) for paper in granted)


def _objections(facts: Facts, agreeing: set[int]) -> Iterator[Reason]:
    """A co-owner who took back their own consent objects in writing, whatever the others signed."""
    owners = {owner.pk: owner.name for owner in facts.owners}
    against = {paper.signer for paper in facts.consents if paper.is_withdrawn(facts.on)} - agreeing
    for person in sorted(against & owners.keys()):
        yield hold(
            "co_owner_objects",
            f"{owners[person]} owns a share of {facts.animal} and took back the consent in writing.",
            "A new consent signed by this owner.",
            owners[person],
        )


def release(facts: Facts) -> Iterator[Reason]:
    if not facts.barn_asks_release:
        return
    good = [p for p in facts.releases if p.is_in_force(facts.on) and _may_sign(facts, p) and not p.sign_again]
    if not any(paper.by_guardian or not paper.under_age for paper in good):
        yield ask(
            "no_release",
            f"{facts.barn} asks for a signed release and none is in force for {facts.animal}.",
            "The release for the place, signed.",
            "An owner, or an agent with written authority",
        )


def terms(facts: Facts) -> Iterator[Reason]:
    if not facts.has_terms:
        return
    accepted = {paper.signer for paper in facts.terms if paper.is_in_force(facts.on) and not paper.sign_again}
    for payer in facts.payers:
        if payer.pk not in accepted:
            yield ask(
                "no_terms",
                f"{payer.name} pays and has not accepted the terms of business.",
                "The terms, signed.",
                payer.name,
            )


def ordered(facts: Facts) -> Iterator[Reason]:
    person = facts.ordered_by
    if person is None or person.pk in _signers(facts):
        return
    owner_yes, who = "An owner's written yes.", "An owner"
    paper = authority_of(facts, person.pk, facts.on)
    if paper is None:
        yield ask("no_authority", f"{person.name} ordered this without a written authority in force.", owner_yes, who)
    elif paper.cap is not None and facts.spending is None:
        sentence = f"{person.name} may order up to {paper.cap:.2f} a month; what is spent this month is not known here."
        yield ask("spending_unknown", sentence, owner_yes, who)
    elif paper.cap is not None and facts.spending is not None:
        total = facts.spending.so_far + facts.spending.adding
        if total > paper.cap:
            money = facts.spending.currency
            limit = f"{person.name} may order up to {money} {paper.cap:.2f} a month"
            sentence = f"{limit}; with this it would be {money} {total:.2f}."
            yield ask("over_cap", f"{sentence} Beyond it the owners owe nothing until they agree.", owner_yes, who)
