"""What an accepted option has the owner pay before the work: packages, monthly plans, a deposit; and its discount."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import TypeVar

from backoffice.access.models import User
from backoffice.business.queries import local_date
from backoffice.refusal import Refused
from billing.money.pricing import What
from billing.packages.actions import agree_deduction, sell_package, start_monthly_plan
from billing.packages.models import Offer
from billing.packages.queries import monthly_plans_on_sale, packages_on_sale
from billing.packages.sold import Deduction
from billing.quotes.comparison import OptionMeasures
from billing.quotes.models import Quote
from billing.quotes.request import Option
from clients.animals.models import Animal
from clients.animals.queries import owners_on
from clients.people.models import Person

O = TypeVar("O", bound=Offer)  # noqa: E741


def book_prepaid(
    quote: Quote, animals: Mapping[str, Animal], measures: OptionMeasures, *, at: datetime, by: User | None
) -> None:
    """Each as it was offered; `animals` by their names in the quote's file. A person confirms the charges."""
    today = local_date(at)
    start = max(quote.start, today)
    offered = local_date(quote.offered_at) if quote.offered_at else today
    payers = _payers(quote, animals, measures, today)
    option = measures.option
    for owner, packages in option.packages.items():
        theirs = [animals[horse.name] for horse in measures.horses if horse.days.horse.owner == owner]
        for package in packages:
            sell_package(
                package=_on_sale_when_offered(packages_on_sale(offered), package.name),
                payer=payers[owner],
                on=start,
                at=at,
                by=by,
                animals=theirs,
                price=_less_discount(quote, option, package.price),
                quote_number=quote.number,
            )
    for name, plan in option.plans.items():
        if plan.monthly is not None:
            start_monthly_plan(
                plan=_on_sale_when_offered(monthly_plans_on_sale(offered), plan.monthly.name),
                animal=animals[name],
                start=start,
                ends_on=quote.start + timedelta(days=quote.days - 1),
                price=_less_discount(quote, option, plan.monthly.price),
                at=at,
                by=by,
                quote_number=quote.number,
            )
    _agree(quote, measures, payers, on=today, at=at, by=by)


def _less_discount(quote: Quote, option: Option, price: Decimal) -> Decimal:
    """A percentage comes off each price and each charge; an agreed amount off the invoices."""
    if option.discount is None:
        return price
    return price - option.discount.portion.of_each(price, quote.currency)


def _payers(quote: Quote, animals: Mapping[str, Animal], measures: OptionMeasures, on: date) -> dict[str, Person]:
    """Who is asked for an owner's money: the quote's person where they are among the owners, else the first owner."""
    shares = owners_on(list(animals.values()), on)
    found: dict[str, Person] = {}
    for horse in measures.horses:
        people = [share.person for share in shares[animals[horse.name].pk]]
        theirs = quote.person if quote.person in people or not people else people[0]
        found.setdefault(horse.days.horse.owner, theirs)
    return found


def _on_sale_when_offered(rows: Iterable[O], name: str) -> O:
    row = next((row for row in rows if row.name == name), None)
    if row is None:
        raise Refused(f"“{name}” is not on sale any more. Ask for a new quote.")
    return row


def _agree(
    quote: Quote,
    measures: OptionMeasures,
    payers: Mapping[str, Person],
    *,
    on: date,
    at: datetime,
    by: User | None,
) -> None:
    for owner, payments in measures.owners_payments.items():
        deposit = sum((payment.amount for payment in payments if payment.on is None), Decimal(0))
        if deposit:
            agree_deduction(
                kind=Deduction.Kind.DEPOSIT,
                payer=payers[owner],
                amount=deposit,
                on=on,
                reason=f"booking deposit of quote {quote.number}",
                at=at,
                by=by,
                quote_number=quote.number,
            )
    discount = measures.option.discount
    if discount is None or discount.portion.amount is None:
        return
    for line in measures.lines:
        if line.what == What.DISCOUNT and line.amount < 0:
            agree_deduction(
                kind=Deduction.Kind.DISCOUNT,
                payer=payers[line.owner],
                amount=-line.amount,
                on=on,
                reason=f"{discount.reason}, quote {quote.number}",
                at=at,
                by=by,
                quote_number=quote.number,
            )
