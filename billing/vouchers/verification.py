"""What `verify` looks at among gift vouchers."""

from collections.abc import Iterator
from decimal import Decimal

from billing.journal.models import Account, Posting
from billing.vouchers.models import Voucher


def count_looked_at() -> str:
    return f"{Voucher.objects.count()} gift vouchers"


def faults_of_vouchers() -> Iterator[str]:
    """What the books owe to those who hold a voucher against what is left of each."""
    left = sum((voucher.left for voucher in Voucher.objects.all()), Decimal(0))
    booked = -sum(Posting.objects.filter(account=Account.VOUCHERS).values_list("amount", flat=True), Decimal(0))
    if left != booked:
        yield f"gift vouchers: the books still owe {booked:f}, {left:f} is left of them."
