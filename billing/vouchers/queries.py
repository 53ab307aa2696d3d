from datetime import date
from typing import Any

from django.db.models import Case, F, QuerySet, Value, When

from billing.vouchers.models import CODE_LENGTH, Voucher


def voucher_of_code(typed: str) -> Voucher | None:
    """By its code as somebody types it: small letters, gaps and dashes do not matter."""
    code = "".join(sign for sign in typed.upper() if sign.isalnum())
    return Voucher.objects.filter(code=code).first() if len(code) == CODE_LENGTH else None


def vouchers_listed(on: date) -> QuerySet[Any]:
    """With what is `rest` of each and its `state` in a word."""
    shown: QuerySet[Any] = Voucher.objects.select_related("payer").annotate(
        rest=F("net") - F("earned"),
        state=Case(
            When(net=0, then=Value("not in force")),
            When(net=F("earned"), then=Value("used up")),
            When(ends_on__lt=on, then=Value("lapsed")),
            default=Value("open"),
        ),
    )
    return shown
