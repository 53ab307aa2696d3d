from collections.abc import Iterator

from django.db.models import F, Q

from billing.banking.models import BankLine


def count_lines() -> str:
    return f"{BankLine.objects.count()} lines of the bank"


def faults_of_lines() -> Iterator[str]:
    """Lines whose payment has another amount, and waiting lines that have one."""
    lines = BankLine.objects.select_related("payment").order_by("pk")
    other = lines.filter(payment__isnull=False).exclude(amount=F("payment__amount"))
    for pk, amount, number, paid in other.values_list("pk", "amount", "payment__number", "payment__amount"):
        yield f"bank line {pk} is {amount:f}, its payment {number} is {paid:f}."
    settled = Q(state__in=[BankLine.State.BOOKED, BankLine.State.TIED])
    for line in lines.filter(payment__isnull=False).exclude(settled):
        yield f"bank line {line.pk} says {line.state} and has a payment."
