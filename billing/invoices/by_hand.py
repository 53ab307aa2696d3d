"""A charge that no rule proposes, made by a person; and a confirmed charge taken back before it is on paper."""

from datetime import date, datetime
from decimal import Decimal
from typing import Any

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.refusal import Refused
from billing.invoices.models import BY_HAND, WORK, Charge, ChargeShare, InvoiceLine
from billing.journal.actions import look_again_from
from billing.money.rounding import minor_digits, round_money
from billing.money.words import say_amount
from clients.people.models import Person

HIGHEST_CHARGE = Decimal(1_000_000)


def refuse_bad_amount(amount: Decimal, currency: str) -> None:
    if not 0 <= amount <= HIGHEST_CHARGE:
        raise Refused(f"A charge is from 0 to {say_amount(HIGHEST_CHARGE, currency)}.")
    if round_money(amount, currency) != amount:
        raise Refused(f"An amount of {currency} has {minor_digits(currency)} decimals.")


@audit.action
def charge_by_hand(
    *,
    kind: Charge.Kind,
    payer: Person,
    text: str,
    amount: Decimal,
    on: date,
    at: datetime,
    by: User,
    tax_category: str = "standard",
    reason: str = "",
) -> Charge:
    """A day at a show, a machine that came back late, or something else: one payer, on their next invoice."""
    if kind not in BY_HAND:
        raise Refused(f"{kind.label} is charged where the work is.")
    if not text.strip():
        raise Refused("Say what it is for.")
    if not amount:
        raise Refused("A charge is more than nothing.")
    refuse_bad_amount(amount, the_business().currency)
    if on > local_date(at):
        raise Refused("Nothing is charged ahead of its day.")
    told = {"text": text.strip()[:200], "reason": reason.strip()[:300], "tax_category": tax_category}
    charge = charge_whole(kind=kind, payer=payer, amount=amount, on=on, at=at, by=by, **told)
    changes = {"kind": kind.value, "payer": payer.pk, "amount": amount}
    audit.record("charge made by hand", charge, at=at, by=by, changes=changes)
    return charge


def charge_whole(
    *, kind: Charge.Kind, payer: Person, amount: Decimal, on: date, at: datetime, by: User, **terms: Any
) -> Charge:
    """A confirmed charge, all of it asked of one payer. Whoever calls records it in the audit trail."""
    charge = Charge.objects.create(kind=kind, work_day=on, amount=amount, confirmed_at=at, confirmed_by=by, **terms)
    ChargeShare.objects.create(
        charge=charge, payer=payer, owner=payer, position=1, numerator=1, denominator=1, amount=amount
    )
    return charge


@audit.action
def take_charge_back(*, charge: Charge, reason: str, at: datetime, by: User) -> Charge:
    """Unconfirm what is on no invoice yet: work waits to be charged again, what was charged by hand is gone."""
    charge = Charge.objects.select_for_update(of=("self",)).get(pk=charge.pk)
    if not reason.strip():
        raise Refused("Taking back needs a reason.")
    if charge.state != Charge.State.CONFIRMED:
        raise Refused("Only a confirmed charge is taken back.")
    if Charge.Kind(charge.kind) not in WORK:
        raise Refused(f"{charge.get_kind_display()}: it is taken back on its invoice, by a credit note.")
    line = InvoiceLine.objects.filter(charge_share__charge=charge).select_related("invoice").first()
    if line is not None:
        is_draft = line.invoice.state == line.invoice.State.DRAFT
        raise Refused("Throw the draft away first." if is_draft else f"It is on {line.invoice}: credit it there.")
    charge.state, charge.changed_reason = Charge.State.TAKEN_BACK, reason.strip()[:300]
    charge.save(update_fields=["state", "changed_reason"])
    look_again_from(charge.work_day)
    audit.record("charge taken back", charge, at=at, by=by, changes={"reason": charge.changed_reason})
    return charge
