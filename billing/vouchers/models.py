import secrets
from datetime import date
from decimal import Decimal

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from backoffice.documents.models import Document
from billing.fields import money_field
from billing.packages.sold import Prepaid
from clients.people.models import Person

SIGNS = "23456789ABCDEFGHJKMNPQRSTVWXYZ"  # none that reads like another
CODE_LENGTH = 8


def new_code() -> str:
    return "".join(secrets.choice(SIGNS) for _ in range(CODE_LENGTH))


class Voucher(Prepaid):
    """Money for whoever shows its code: bought by one person, used by any. `earned` is what was used of it."""

    code = models.CharField(max_length=CODE_LENGTH, unique=True, default=new_code)
    payer = models.ForeignKey(Person, models.PROTECT, related_name="vouchers")
    for_whom = models.CharField("for whom", max_length=80, blank=True)
    amount = money_field(validators=[MinValueValidator(0)])
    sold_on = models.DateField()
    ends_on = models.DateField("last day", null=True, blank=True)
    paper = models.ForeignKey(Document, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-sold_on", "-pk"]
        verbose_name = "gift voucher"
        constraints = [
            models.CheckConstraint(condition=Q(amount__gt=0), name="voucher_above_zero"),
            models.CheckConstraint(
                condition=Q(earned__lte=F("net"), net__lte=F("amount")), name="voucher_not_overdrawn"
            ),
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("sold_on")), name="voucher_ends_after_its_sale"
            ),
        ]

    def __str__(self) -> str:
        return f"Gift voucher {self.shown_code}"

    @property
    def shown_code(self) -> str:
        return f"{self.code[:4]}-{self.code[4:]}"

    @property
    def left(self) -> Decimal:
        """What may still be used. Nothing before its invoice is issued."""
        return self.unearned

    def holds_on(self, day: date) -> bool:
        return self.ends_on is None or day <= self.ends_on
