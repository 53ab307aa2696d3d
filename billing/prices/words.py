"""Rates said in one line, for lists and for the page of prices."""

from decimal import Decimal

from backoffice.business.models import Business
from backoffice.ui.words import money
from billing.prices.models import CallOutRule
from billing.prices.rules import FeeRule, MoneyRules

# What may cost something without work, by its column in the rule.
FEE_WORDS = {
    "late_cancel": "cancelled late",
    "absent": "nobody there",
    "wet": "horse wet",
    "dangerous": "not safe to handle",
    "refused": "horse would not have it",
}


def say_call_out(rule: CallOutRule, business: Business) -> str:
    """“$30.00 a stop”, “to 10 mi $20.00, farther $60.00”, “10 mi free, then $1.50 a mi, at least $15.00”."""
    unit, least = business.distance_unit, ""
    if rule.minimum and rule.way != CallOutRule.Way.FLAT:
        least = f", at least {money(rule.minimum, business)}"
    if rule.way == CallOutRule.Way.FLAT:
        return f"{money(rule.amount, business)} a stop"
    if rule.way == CallOutRule.Way.FREE:
        return f"{plain_number(rule.free)} {unit} free, then {money(rule.per_unit, business)} a {unit}{least}"
    bands = [
        f"to {plain_number(band.to)} {unit} {money(band.amount, business)}"
        if band.to is not None
        else f"farther {money(band.amount, business)}"
        for band in rule.bands.all()
    ]
    return ", ".join(bands) + least


def say_deposit(rules: MoneyRules, business: Business) -> str:
    if rules.deposit == MoneyRules.Deposit.PERCENT:
        return f"{plain_number(rules.deposit_percent)} % of the price"
    if rules.deposit == MoneyRules.Deposit.AMOUNT:
        return money(rules.deposit_amount, business)
    return "none"


def say_fees(rule: FeeRule) -> str:
    """“cancelled late 50 %, nobody there 100 %, with their part of the call-out”; “none” where nothing costs."""
    percents = [(words, getattr(rule, name)) for name, words in FEE_WORDS.items()]
    said = [f"{words} {plain_number(percent)} %" for words, percent in percents if percent]
    if said and rule.with_call_out:
        said.append("with their part of the call-out")
    return ", ".join(said) or "none"


def plain_number(number: Decimal) -> str:
    """Without zeros at its end: “10” for 10.0."""
    return f"{number.normalize():f}"
