"""All that may need attention, in order of how soon it hurts, and who is shown what."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date
from functools import partial

from backoffice.access.models import User
from backoffice.access.powers import Power
from backoffice.home import care, desk, money
from backoffice.home.blocks import Block
from backoffice.home.queries import Outlook


@dataclass(frozen=True, slots=True)
class Watch:
    """Something watched: how its block is made, and the power that it takes to see it."""

    power: Power
    block: Callable[[date], Block]


WATCHES: Mapping[str, Watch] = {
    "not-ready": Watch(Power.SEE_HEALTH, care.not_ready),
    "stopped": Watch(Power.SEE_HEALTH, care.stopped),
    "from-barn": Watch(Power.SEE_HEALTH, care.from_the_barn),
    "unwritten": Watch(Power.CHANGE_CARE, care.unwritten),
    "uncharged": Watch(Power.SEE_MONEY, money.uncharged),
    "barn-money": Watch(Power.CHANGE_MONEY, money.from_the_barn),
    "overdue": Watch(Power.SEE_MONEY, money.overdue),
    "vet": Watch(Power.SEE_HEALTH, care.waiting_for_vet),
    "to-tell": Watch(Power.CHANGE_CARE, care.to_tell),
    "lapsing": Watch(Power.CHANGE_CARE, care.lapsing),
    "letters": Watch(Power.CHANGE_MONEY, desk.letters),
    "jobs": Watch(Power.CHANGE_SETTINGS, desk.jobs),
    "backups": Watch(Power.CHANGE_SETTINGS, desk.backups),
    "own-papers": Watch(Power.CHANGE_SETTINGS, care.own_papers),
    "rule-books": Watch(Power.CHANGE_CARE, care.rule_books),
    "questions": Watch(Power.CHANGE_MONEY, money.questions),
    "quotes": Watch(Power.SEE_MONEY, money.quotes),
    "plans": Watch(Power.CHANGE_CARE, care.plans_waiting),
    "reviews": Watch(Power.CHANGE_CARE, care.reviews),
    "machines": Watch(Power.CHANGE_CARE, care.machines),
    "call-list": Watch(Power.CHANGE_CARE, care.to_call),
}


def attention_for(user: User, on: date, ahead: Outlook) -> list[Block]:
    """The blocks with something in them that this person may see; `ahead` is the coming week, read already."""
    ready = Watch(Power.SEE_HEALTH, partial(care.not_ready, ahead=ahead))
    watches = {**WATCHES, "not-ready": ready}
    blocks = [watch.block(on) for watch in watches.values() if user.may(watch.power)]
    return [block for block in blocks if block.rows]
