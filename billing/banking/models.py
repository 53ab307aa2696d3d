from decimal import Decimal

from django.conf import settings
from django.db import models
from django.db.models import Q

from billing.banking.lines import BankMove
from billing.fields import money_field
from billing.payments.models import Payment


class BankFile(models.Model):
    """A file from the bank, known again by the hash of its bytes."""

    name = models.CharField(max_length=200)
    sha256 = models.CharField(max_length=64, unique=True)
    format = models.CharField(max_length=10)
    account = models.CharField(max_length=60, blank=True)
    added = models.PositiveIntegerField(default=0)
    known = models.PositiveIntegerField(default=0, help_text="Lines that an earlier file had brought.")
    taken_in_at = models.DateTimeField()
    taken_in_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-taken_in_at", "-pk"]

    def __str__(self) -> str:
        return self.name


class BankLine(models.Model):
    """One line of the bank: waiting until a person books it, ties it to what is booked already, or puts it aside."""

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting"
        BOOKED = "booked", "Booked"
        TIED = "tied", "In the books already"
        ASIDE = "aside", "Put aside"
        OUT = "out", "Went out"

    file = models.ForeignKey(BankFile, models.PROTECT, related_name="lines")
    key = models.CharField(max_length=64, unique=True, help_text="SHA-256 of what it is known by.")
    day = models.DateField()
    amount = money_field()
    text = models.CharField(max_length=500, blank=True)
    name = models.CharField(max_length=140, blank=True)
    reference = models.CharField(max_length=140, blank=True)
    state = models.CharField(max_length=7, choices=State, default=State.WAITING)
    payment = models.OneToOneField(Payment, models.PROTECT, null=True, blank=True, related_name="bank_line")
    tied_to = models.CharField(max_length=40, blank=True, help_text="What was in the books already, such as slip 3.")
    why_aside = models.CharField(max_length=200, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="booked") | Q(payment__isnull=False), name="booked_line_has_payment"
            ),
            models.UniqueConstraint(fields=["tied_to"], condition=~Q(tied_to=""), name="tied_to_once"),
        ]
        indexes = [models.Index(fields=["state", "day"], name="bank_line_waiting")]

    def __str__(self) -> str:
        return f"{self.day} {self.amount} {self.name or self.text}"[:80]

    @property
    def move(self) -> BankMove:
        return BankMove(self.day, Decimal(self.amount), self.text, self.name, self.reference)


class BankColumns(models.Model):
    """Which column of a bank's table is what, known again by the heading."""

    heading = models.TextField(unique=True)
    columns = models.JSONField()

    class Meta:
        verbose_name_plural = "bank columns"

    def __str__(self) -> str:
        return ", ".join(self.heading.split("\x1f"))[:80]


class PendingFile(models.Model):
    """A file whose columns, account or days a person has to say something to first; gone once it is taken in."""

    name = models.CharField(max_length=200)
    content = models.BinaryField()
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")

    def __str__(self) -> str:
        return self.name
