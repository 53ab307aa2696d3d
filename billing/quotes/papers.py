"""What is still to sign once a quote is accepted: a consent for each horse, the terms of business for each payer."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from backoffice.audit import actions as audit
from backoffice.business.queries import local_date
from backoffice.links.actions import issue_link
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from billing.quotes.models import Quote
from billing.quotes.queries import horses_of
from clients.animals.models import Animal
from clients.paperwork.facts import Facts, WhoSigns, Work
from clients.paperwork.gathering import gather
from clients.paperwork.models import Form, Wording, WordingVersion
from clients.paperwork.paper_rules import authority_of, consent, good_consents, owners_to_sign, terms
from clients.paperwork.queries import newest_versions
from clients.paperwork.signing import ask_to_sign, withdraw_form
from clients.people.models import Person

SIGN_WITHIN = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Paper:
    """One missing paper. `signer` is the person of the quote where they may sign it; else `waits_for` says who may."""

    version: WordingVersion
    animal: Animal | None
    signer: Person | None
    waits_for: str = ""

    @property
    def key(self) -> str:
        return f"{self.version.pk}-{self.animal.pk if self.animal else 0}"

    @property
    def title(self) -> str:
        title = self.version.wording.title
        return f"{title}, {self.animal}" if self.animal else title


def papers_missing(quote: Quote, *, on: date) -> list[Paper]:
    """What is not signed for the first day of the quote, in the order of its horses, in a fixed number of queries."""
    newest: dict[str, WordingVersion] = {}
    for version in newest_versions():
        newest.setdefault(version.wording.kind, version)
    animals = [animal for animal in horses_of(quote) if animal.died_on is None]
    gathered = gather(animals, max(quote.start, on))
    facts = [(animal, gathered.facts_of(animal, Work(kind="", uses_machine=False))) for animal in animals]
    return [*_consents(quote.person, facts, newest), *_terms(quote.person, facts, newest)]


def _consents(
    person: Person, facts: Sequence[tuple[Animal, Facts]], newest: Mapping[str, WordingVersion]
) -> Iterator[Paper]:
    version = newest.get(Wording.Kind.CONSENT)
    for animal, its in facts:
        if version is not None and any(True for _ in consent(its)):
            good = good_consents(its)
            has_signed = any(paper.signer == person.pk for paper in good)
            signer = person if _may_sign(person, its) and not has_signed else None
            joined = " and " if its.rules.who_signs == WhoSigns.ALL else " or "
            waits_for = joined.join(owner.name for owner in owners_to_sign(its, good))
            yield Paper(version, animal, signer, "" if signer else waits_for)


def _may_sign(person: Person, facts: Facts) -> bool:
    owners = {owner.pk for owner in facts.owners} | {owner.guardian for owner in facts.owners}
    return person.pk in owners or authority_of(facts, person.pk, facts.on) is not None


def _terms(
    person: Person, facts: Sequence[tuple[Animal, Facts]], newest: Mapping[str, WordingVersion]
) -> Iterator[Paper]:
    version = newest.get(Wording.Kind.TERMS)
    waiting = {payer.pk: payer for _, its in facts for payer in its.payers if _has_not_accepted(its, payer.pk)}
    for payer in waiting.values():
        if version is not None:
            signer = person if payer.pk == person.pk else None
            yield Paper(version, None, signer, "" if signer else payer.name)


def _has_not_accepted(facts: Facts, payer: int) -> bool:
    alone = replace(facts, payers=tuple(each for each in facts.payers if each.pk == payer))
    return any(True for _ in terms(alone))


@audit.action
def open_paper(*, quote: Quote, key: str, at: datetime) -> str:
    """The token of a link, good for a day, to the paper that the holder of the quote's link wants to sign."""
    if quote.state != Quote.State.ACCEPTED:
        raise Refused("Papers are signed once the quote is accepted.")
    missing = {paper.key: paper for paper in papers_missing(quote, on=local_date(at)) if paper.signer}
    paper = missing.get(key)
    if paper is None or paper.signer is None:
        raise Refused("This paper is signed already, or it is not yours to sign.")
    form = _waiting_form(paper, at=at) or ask_to_sign(
        version=paper.version, signer=paper.signer, animal=paper.animal, at=at, by=None
    )
    _, token = issue_link(purpose=PrivateLink.Purpose.FORM, target=form, at=at, valid_for=SIGN_WITHIN, by=None)
    return token


def _waiting_form(paper: Paper, *, at: datetime) -> Form | None:
    """The form that already waits for this signer; one with an older wording is withdrawn."""
    forms = Form.objects.filter(
        wording_version__wording=paper.version.wording,
        signer=paper.signer,
        animal=paper.animal,
        barn=None,
        agent=None,
        state=Form.State.TO_SIGN,
    )
    for form in forms:
        if form.wording_version_id == paper.version.pk:
            return form
        withdraw_form(form=form, at=at, by=None)
    return None
