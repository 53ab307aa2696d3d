"""The payments of an option in few lines: alike ones are said once, with their number and their days."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from billing.quotes.payments import Payment


@dataclass(frozen=True, slots=True)
class PaymentStep:
    """`count` payments of `each` from the first to the last day; without a day, when the option is accepted."""

    what: str
    each: Decimal
    days: tuple[date, ...]
    count: int

    @property
    def amount(self) -> Decimal:
        return self.each * self.count

    @property
    def first(self) -> date | None:
        return self.days[0] if self.days else None

    @property
    def last(self) -> date | None:
        return self.days[-1] if self.days else None


def steps_of(payments: Sequence[Payment]) -> tuple[PaymentStep, ...]:
    """In the order of their first payment; the amounts add up to those of the payments."""
    alike: dict[tuple[str, Decimal, bool], list[Payment]] = {}
    for payment in payments:
        alike.setdefault((payment.what, payment.amount, payment.on is None), []).append(payment)
    return tuple(
        PaymentStep(what, each, tuple(payment.on for payment in found if payment.on), len(found))
        for (what, each, _), found in alike.items()
    )
