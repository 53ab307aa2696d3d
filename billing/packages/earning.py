"""How prepaid money becomes income, session by session."""

from decimal import Decimal
from fractions import Fraction

from billing.money.rounding import round_money


def earned_by(net: Decimal, used: int, sessions: int, currency: str) -> Decimal:
    """What of `net` is earned after `used` of `sessions`: cumulative and half up, so that the last use empties it.

    Source of the rule: IFRS 15 ¶106 (a prepayment is a liability until the service is given). Without sessions
    nothing is earned by use.
    """
    if not sessions:
        return net * 0
    return round_money(Fraction(net) * min(used, sessions) / sessions, currency)
