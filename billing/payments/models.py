from decimal import Decimal

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from backoffice.documents.models import Document
from billing.fields import money_field
from billing.invoices.models import Invoice
from billing.vouchers.models import Voucher
from clients.barnside.models import HandMoney
from clients.people.models import Person


class Payment(models.Model):
    """Money received from a payer. What no invoice takes is credit on account."""

    class Method(models.TextChoices):
        CASH = "cash", "Cash"
        CHECK = "check", "Check"
        TRANSFER = "transfer", "Bank transfer"
        CARD = "card", "Card, taken elsewhere"
        VOUCHER = "voucher", "Gift voucher"
        BROUGHT = "brought", "Brought along from before"

    number = models.PositiveIntegerField(unique=True)
    payer = models.ForeignKey(Person, models.PROTECT, related_name="payments")
    received_on = models.DateField()
    amount = money_field(validators=[MinValueValidator(0)])
    method = models.CharField(max_length=8, choices=Method)
    reference = models.CharField(max_length=120, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    receipt = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")
    tip = money_field(default=0, validators=[MinValueValidator(0)])
    slip = models.ForeignKey("DepositSlip", models.PROTECT, null=True, blank=True, related_name="checks")
    returned_on = models.DateField(null=True, blank=True, help_text="The day on which the check came back unpaid.")
    returned_reason = models.CharField(max_length=200, blank=True)
    voucher = models.ForeignKey(Voucher, models.PROTECT, null=True, blank=True, related_name="payments")
    hand_money = models.OneToOneField(
        HandMoney, models.PROTECT, null=True, blank=True, related_name="+", help_text="Taken in the barn."
    )

    # given by `payments_shown`
    allocated: Decimal
    refunded: Decimal
    credit: Decimal

    class Meta:
        ordering = ["-received_on", "-pk"]
        indexes = [models.Index(fields=["-received_on", "-id"], name="payment_newest_first")]
        constraints = [
            models.CheckConstraint(condition=Q(amount__gt=0), name="payment_above_zero"),
            models.CheckConstraint(
                condition=Q(method="voucher", voucher__isnull=False) | (~Q(method="voucher") & Q(voucher=None)),
                name="payment_by_voucher_names_it",
            ),
            models.CheckConstraint(condition=Q(tip__gte=0, tip__lte=F("amount")), name="tip_is_part_of_the_payment"),
        ]

    def __str__(self) -> str:
        return f"Payment {self.number}: {self.amount}"

    def get_absolute_url(self) -> str:
        return reverse("billing:payment", args=[self.pk])


OF_MONEY = [
    (method.value, method.label)
    for method in (Payment.Method.CASH, Payment.Method.CHECK, Payment.Method.TRANSFER, Payment.Method.CARD)
]


class Allocation(models.Model):
    """The part of a payment that settles (part of) an invoice."""

    payment = models.ForeignKey(Payment, models.PROTECT, related_name="allocations")
    invoice = models.ForeignKey(Invoice, models.PROTECT, related_name="allocations")
    amount = money_field()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["payment", "invoice"], name="allocated_once"),
            models.CheckConstraint(condition=Q(amount__gt=0), name="allocation_above_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.amount} of {self.payment} to {self.invoice}"


class Refund(models.Model):
    """Credit on account that was given back to the payer."""

    number = models.PositiveIntegerField(unique=True)
    payer = models.ForeignKey(Person, models.PROTECT, related_name="refunds")
    given_on = models.DateField()
    amount = money_field()
    method = models.CharField(max_length=8, choices=Payment.Method)
    reference = models.CharField(max_length=120, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    receipt = models.ForeignKey(Document, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-given_on", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(amount__gt=0), name="refund_above_zero")]

    def __str__(self) -> str:
        return f"Refund {self.number}: {self.amount}"


class RefundPart(models.Model):
    """From which payment's credit it was taken."""

    refund = models.ForeignKey(Refund, models.CASCADE, related_name="parts")
    payment = models.ForeignKey(Payment, models.PROTECT, related_name="refund_parts")
    amount = money_field()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["refund", "payment"], name="refunded_once"),
            models.CheckConstraint(condition=Q(amount__gt=0), name="refund_part_above_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.amount} of {self.payment}"


class DepositSlip(models.Model):
    """Checks and cash that were taken to the bank together."""

    number = models.PositiveIntegerField(unique=True)
    banked_on = models.DateField()
    cash = money_field(default=0)
    total = money_field()
    document = models.ForeignKey(Document, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    checks: "models.Manager[Payment]"

    class Meta:
        ordering = ["-banked_on", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(total__gt=0, cash__gte=0), name="slip_above_zero")]

    def __str__(self) -> str:
        return f"Deposit slip {self.number}"

    @property
    def checks_total(self) -> Decimal:
        return Decimal(self.total - self.cash)


class CardPayout(models.Model):
    """What a card service paid into the bank, and the fee that it kept."""

    paid_on = models.DateField()
    amount = money_field()
    fee = money_field(default=0)
    reference = models.CharField(max_length=120, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-paid_on", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(amount__gte=0, fee__gte=0), name="payout_not_negative")]

    def __str__(self) -> str:
        return f"Card payout of {self.paid_on}"


class SecurityDeposit(models.Model):
    """Money held against the loss of a machine. It is no income and in no total; it is given back, or kept with a
    reason."""

    class KeptFor(models.TextChoices):
        DAMAGE = "damage", "Damage"
        DAYS = "days", "More days of hire"

    number = models.PositiveIntegerField(unique=True)
    person = models.ForeignKey(Person, models.PROTECT, related_name="security_deposits")
    what = models.CharField(max_length=120)
    amount = money_field()
    method = models.CharField(max_length=8, choices=Payment.Method)
    taken_on = models.DateField()
    receipt = models.ForeignKey(Document, models.PROTECT, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    settled_on = models.DateField(null=True, blank=True)
    given_back = money_field(default=0)
    given_back_by = models.CharField(max_length=8, choices=Payment.Method, blank=True)
    kept = money_field(default=0)
    kept_for = models.CharField(max_length=6, choices=KeptFor, blank=True)
    kept_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-taken_on", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(amount__gt=0), name="security_deposit_above_zero"),
            models.CheckConstraint(
                condition=Q(settled_on=None) | Q(amount=F("given_back") + F("kept")), name="deposit_settled_whole"
            ),
            models.CheckConstraint(
                condition=Q(kept=0) | (~Q(kept_for="") & ~Q(kept_reason="")), name="deposit_kept_with_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"Security deposit {self.number}"
