"""A comparison written out: as JSON for other programs, as a table in plain text for people."""

import json
from collections.abc import Iterator, Sequence
from decimal import Decimal
from fractions import Fraction

from billing.money.pricing import Line
from billing.money.rounding import minor_digits
from billing.quotes.budget import Best
from billing.quotes.comparison import Comparison, OptionMeasures
from billing.quotes.owner_money import HorseMoney
from billing.quotes.payments import Payment
from clients.plans.cadence import say_date

HONEST_SENTENCE = "A rule of thumb of the trade, not a promise. Not a substitute for veterinary care."


def as_json(comparison: Comparison, best: Best | None) -> str:
    """Every option with its measures; money and fractions are strings."""
    currency = comparison.request.currency
    answer = {
        "options": [option_values(option, currency) for option in comparison.options],
        "best": best_values(best, currency) if best is not None else None,
    }
    return json.dumps(answer, ensure_ascii=False, indent=1)


def option_values(option: OptionMeasures, currency: str) -> dict[str, object]:
    """One option as plain JSON values."""

    def money(amount: Decimal) -> str:
        return plain_money(amount, currency)

    coverage = option.coverage
    return {
        "name": option.name,
        "total": money(option.total),
        "total_as_booked": money(option.total_as_booked),
        "per_week": money(option.per_week),
        "visits": option.visits,
        "minutes": option.minutes,
        "owner_minutes": option.owner_minutes,
        "covered": plain_fraction(option.covered),
        "full_bodies": coverage.full_bodies if coverage else None,
        "spots": coverage.spots if coverage else None,
        "longest_gap": option.longest_gap,
        "frontier": option.frontier,
        "lines": [_line_values(line, currency) for line in option.lines],
        "owners": {owner.name: money(owner.total) for owner in option.owners},
        "horses": {
            horse.name: _horse_values(horse.money, currency, discounted=option.option.discount is not None)
            for horse in option.horses
        },
        "notices": list(option.notices),
        "sessions": {
            horse.name: [[session.on.isoformat(), session.kind, by] for session, by in horse.days.in_order()]
            for horse in option.horses
        },
        "payments": [
            {"on": each.on.isoformat() if each.on else None, "what": each.what, "amount": money(each.amount)}
            for each in option.payments
        ],
    }


def _line_values(line: Line, currency: str) -> dict[str, object]:
    values: dict[str, object] = {
        "horse": line.horse or None,
        "owner": line.owner,
        "what": line.what,
        "count": line.count,
        "each": plain_money(line.each, currency),
        "amount": plain_money(line.amount, currency),
    }
    return {**values, "name": line.name} if line.name else values


def _horse_values(money: HorseMoney, currency: str, *, discounted: bool) -> dict[str, str]:
    columns = ("sessions", "call_out", "hire", *(("discount",) if discounted else ()), "total")
    return {column: plain_money(getattr(money, column), currency) for column in columns}


def best_values(best: Best, currency: str) -> dict[str, object]:
    """The option that fits the budget best (its `name` is null if none does), and the next better one in brief."""
    following = best.next_better
    values = option_values(best.option, currency) if best.option else {"name": None}
    return {
        **values,
        "budget": plain_money(best.budget.amount, currency),
        "sentence": best.sentence,
        "next_better": {
            "name": following.name,
            "total": plain_money(following.total, currency),
            "covered": plain_fraction(following.covered),
        }
        if following
        else None,
    }


def plain_money(amount: Decimal, currency: str) -> str:
    """An amount with all decimals of its currency, such as "1250.00"."""
    return f"{amount:.{minor_digits(currency)}f}"


def plain_fraction(part: Fraction | None) -> str | None:
    """A fraction in lowest terms, such as "1/4" or "1/1"; None stays None."""
    return f"{part.numerator}/{part.denominator}" if part is not None else None


HEADINGS = ("Option", "Visits", "Minutes", "Own min", "Covered", "Full", "Spots", "Gap", "Total", "As booked", "Week")


def as_table(comparison: Comparison, best: Best | None) -> str:
    """A row per option, then what each owner pays and what is to be said about it."""
    request = comparison.request
    rows = [HEADINGS, *(_row(option, request.currency) for option in comparison.options)]
    last = request.start.toordinal() + request.days - 1
    head = f"{request.days} days, {say_date(request.start)} to {say_date(request.start.fromordinal(last))}, "
    lines = [f"{head}{request.currency}", "", *_aligned(rows), ""]
    lines.append("* No other option costs no more, covers no less and is better in one of the two.")
    for option in comparison.options:
        lines += _about(option, request.currency)
    if best is not None:
        lines += _about_best(best, request.currency)
    return "\n".join([*lines, "", HONEST_SENTENCE])


def _row(option: OptionMeasures, currency: str) -> tuple[str, ...]:
    coverage = option.coverage
    return (
        f"{'* ' if option.frontier else '  '}{option.name}",
        str(option.visits),
        str(option.minutes),
        str(option.owner_minutes),
        f"{coverage.percent} %" if coverage else "-",
        coverage.full_bodies if coverage else "-",
        coverage.spots if coverage else "-",
        str(option.longest_gap),
        *(plain_money(each, currency) for each in (option.total, option.total_as_booked, option.per_week)),
    )


def _aligned(rows: Sequence[Sequence[str]]) -> list[str]:
    widths = [max(len(cell) for cell in column) for column in zip(*rows, strict=True)]
    return [
        "  ".join(
            cell.ljust(width) if place == 0 else cell.rjust(width)
            for place, (cell, width) in enumerate(zip(row, widths, strict=True))
        ).rstrip()
        for row in rows
    ]


def _about(option: OptionMeasures, currency: str) -> list[str]:
    sentences = list(option.notices)
    if len(option.owners) > 1:
        owners = (
            f"{owner.name} {plain_money(owner.total, currency)} (at most {plain_money(owner.at_most, currency)})"
            for owner in option.owners
        )
        sentences.insert(0, "Owners: " + ", ".join(owners) + ".")
    if option.payments:
        sentences.insert(0, "Paid: " + "; ".join(_paid(option.payments, currency)) + ".")
    return ["", option.name, *(f"  {sentence}" for sentence in sentences)] if sentences else []


def _paid(payments: Sequence[Payment], currency: str) -> Iterator[str]:
    """The payments in brief, those for the same thing together."""
    for what in dict.fromkeys(each.what for each in payments):
        alike = [each for each in payments if each.what == what]
        amount = plain_money(alike[0].amount, currency)
        if len({each.amount for each in alike}) > 1:
            amount = f"{plain_money(sum((each.amount for each in alike), Decimal(0)), currency)} together"
        first = say_date(alike[0].on) if alike[0].on else ""
        times = f"{len(alike)} × " if len(alike) > 1 else ""
        when = f"{'from' if times else 'on'} {first}" if first else "when accepted"
        yield f"{times}{what} {amount} {when}"


def _about_best(best: Best, currency: str) -> list[str]:
    lines = ["", f"Within {plain_money(best.budget.amount, currency)}"]
    if best.option is not None:
        row = dict(zip(HEADINGS, _row(best.option, currency), strict=True))
        lines.append(f"  {row['Option'].strip()}: {row['Total']}, covers {row['Covered']}, {row['Visits']} visits.")
    return [*lines, f"  {best.sentence}"]
