"""What an option adds to the driving of the coming weeks, beside what the diary holds: private, found on request."""

from datetime import datetime

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.models import Business
from backoffice.business.queries import local_date, the_business
from backoffice.later.actions import later
from backoffice.refusal import Refused
from billing.quotes.models import DrivingBeside, Quote
from billing.quotes.queries import Row, comparison_of, horses_of
from clients.people.models import WEEKDAYS, Barn
from clients.plans.cadence import Kind
from clients.rounds.one_more import Coming, cost_beside_the_diary
from clients.rounds.vehicle_search import Effort
from clients.visits.queries import practitioners

EFFORT = Effort(1_000)
State = DrivingBeside.State


@audit.action
def work_out_driving(*, quote: Quote, at: datetime, by: User) -> DrivingBeside:
    """Begin the search for every option, in place of what was found before; the row says how far it is."""
    barn, business = horses_of(quote)[0].barn, the_business()
    if business.base_lat is None or not barn.is_placed:
        raise Refused("Your base and the barn need their places on the map first.")
    if not practitioners().exists():
        raise Refused("Nobody drives rounds yet; that is set under Team.")
    asked = {"state": State.RUNNING, "asked_at": at, "found": []}
    driving, _ = DrivingBeside.objects.update_or_create(quote=quote, defaults=asked)
    audit.record("driving worked out", quote, at=at, by=by)
    later(carry_out, driving.pk)
    return driving


def carry_out(pk: int) -> None:
    """One option after the other, each kept when it is found. Whatever goes wrong is written on the row."""
    driving = DrivingBeside.objects.select_related("quote").get(pk=pk)
    try:
        business, on = the_business(), local_date(driving.asked_at)
        barn = horses_of(driving.quote)[0].barn
        for row in comparison_of(driving.quote, on=on).rows:
            driving.found.append({"name": row.option.name, **_found(row, barn, business, driving)})
            driving.save(update_fields=["found"])
        driving.state = State.DONE
    except Exception:
        driving.state = State.FAILED
        raise
    finally:
        driving.save(update_fields=["state"])


def _found(row: Row, barn: Barn, business: Business, driving: DrivingBeside) -> dict[str, object]:
    today, person = local_date(driving.asked_at), practitioners()[0]
    cost = cost_beside_the_diary(barn, coming_of(row), person=person, business=business, today=today, effort=EFFORT)
    if cost is None:
        return {"visits": 0}
    return {
        "visits": cost.visits,
        "minutes": [round(each / 60) for each in (cost.seconds.least, cost.seconds.most, cost.seconds.alone)],
        "metres": [cost.metres.least, cost.metres.most, cost.metres.alone],
        "weekday": None if cost.best_weekday is None else list(WEEKDAYS.values())[cost.best_weekday],
        "unplaced": cost.unplaced,
        "seed": cost.seed,
        "seeds": cost.seeds,
        "iterations": cost.iterations,
    }


def coming_of(row: Row) -> list[Coming]:
    """Each day on which we come, with the minutes of all horses; fixed where no horse has a full body."""
    minutes: dict[object, int] = {}
    fulls = set()
    services = row.measures.request.services
    for horse in row.measures.horses:
        for session in horse.days.ours:
            length = services[session.kind].minutes if session.kind in services else 0
            minutes[session.on] = minutes.get(session.on, 0) + length
            if session.kind is Kind.FULL:
                fulls.add(session.on)
    return [Coming(on, minutes[on], is_fixed=on not in fulls) for on in row.our_days]
