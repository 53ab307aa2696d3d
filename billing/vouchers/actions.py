from datetime import date, datetime
from decimal import Decimal

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import local_date, the_business
from backoffice.documents.actions import store_document
from backoffice.documents.models import Document
from backoffice.documents.render import prepare_renderer, render_pdf
from backoffice.refusal import Refused
from billing.money.rounding import minor_digits, round_money
from billing.money.words import say_amount
from billing.vouchers.models import Voucher
from clients.people.models import Person

HIGHEST = Decimal(100_000)


def sell_voucher(
    *, payer: Person, amount: Decimal, for_whom: str, ends_on: date | None, at: datetime, by: User
) -> Voucher:
    """Sell a voucher; its charge waits to be confirmed, and it is good once its invoice is issued."""
    prepare_renderer()
    return _sell(payer=payer, amount=amount, for_whom=for_whom.strip(), ends_on=ends_on, at=at, by=by)


@audit.action
def _sell(*, payer: Person, amount: Decimal, for_whom: str, ends_on: date | None, at: datetime, by: User) -> Voucher:
    currency, today = the_business().currency, local_date(at)
    if not 0 < amount <= HIGHEST or round_money(amount, currency) != amount:
        highest = say_amount(HIGHEST, currency)
        raise Refused(f"A voucher is more than nothing, up to {highest}, with {minor_digits(currency)} decimals.")
    if ends_on is not None and ends_on < today:
        raise Refused("Its last day is over already.")
    voucher = Voucher(payer=payer, amount=amount, for_whom=for_whom, sold_on=today, ends_on=ends_on)
    content = render_pdf("documents/voucher.html", {"voucher": voucher})
    title = f"Gift voucher of {payer}"
    voucher.paper = store_document(kind=Document.Kind.VOUCHER, title=title[:200], content=content, at=at, by=by)
    voucher.save(force_insert=True)
    changes = {"payer": payer.pk, "amount": amount, "ends_on": ends_on}
    audit.record("gift voucher sold", voucher, at=at, by=by, changes=changes)
    return voucher


def take_in(voucher: Voucher, net: Decimal) -> None:
    """Its invoice asks for it: from now on that much is owed to whoever shows the code."""
    Voucher.objects.filter(pk=voucher.pk).update(net=voucher.net + net)


def give_back(voucher: Voucher, net: Decimal) -> None:
    """A credit note takes back what nobody has used."""
    Voucher.objects.filter(pk=voucher.pk).update(net=voucher.net - net)


def use_voucher(voucher: Voucher, amount: Decimal, on: date) -> Voucher:
    """Take `amount` off what is left of it, within the caller's transaction."""
    voucher, currency = Voucher.objects.select_for_update().get(pk=voucher.pk), the_business().currency
    if not voucher.net:
        raise Refused(f"{voucher} is not good yet: issue its invoice first.")
    if not voucher.holds_on(on):
        raise Refused(f"{voucher} was good until {voucher.ends_on:%-d %b %Y}.")
    if amount > voucher.left:
        raise Refused(
            f"{voucher} has {say_amount(voucher.left, currency)} left, less than {say_amount(amount, currency)}."
        )
    voucher.earned += amount
    voucher.save(update_fields=["earned"])
    return voucher
