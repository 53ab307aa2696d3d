from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from billing.fields import money_field
from billing.invoices.models import Charge, Invoice
from clients.people.models import Person


class ReminderStage(models.Model):
    """So many days after an invoice was due, this is written. Without a stage nobody is reminded."""

    days = models.PositiveSmallIntegerField(
        "days after it was due", unique=True, validators=[MinValueValidator(1), MaxValueValidator(365)]
    )
    words = models.TextField(
        max_length=800,
        help_text="{name}, {invoice}, {open}, {due} and {days} stand for what their names say. How to pay follows.",
    )
    late_fee = money_field(default=0, validators=[MinValueValidator(0), MaxValueValidator(10_000)])
    goes_by_itself = models.BooleanField(
        default=False, help_text="Mailed by night where an address is known. Else it waits for you."
    )

    class Meta:
        ordering = ["days"]

    def __str__(self) -> str:
        return f"{self.days} days late"


class Reminder(models.Model):
    """One letter about one invoice: drafted by rule, then sent or dropped."""

    class State(models.TextChoices):
        DRAFTED = "drafted", "Drafted"
        SENT = "sent", "Sent"
        DROPPED = "dropped", "Not sent"

    invoice = models.ForeignKey(Invoice, models.PROTECT, related_name="reminders")
    stage = models.ForeignKey(ReminderStage, models.PROTECT, related_name="+")
    state = models.CharField(max_length=7, choices=State, default=State.DRAFTED)
    text = models.TextField(max_length=2000)
    drafted_on = models.DateField()
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    by_mail = models.BooleanField(default=False)
    fee = models.ForeignKey(Charge, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["drafted_on", "pk"]
        constraints = [models.UniqueConstraint(fields=["invoice", "stage"], name="reminded_once_a_stage")]

    def __str__(self) -> str:
        return f"Reminder of {self.invoice}"

    @property
    def how(self) -> str:
        return "by mail" if self.by_mail else "by hand"


class MoneyQuestion(models.Model):
    """What a payer asks about their invoices. Reminders to them wait until it is answered."""

    person = models.ForeignKey(Person, models.PROTECT, related_name="money_questions")
    text = models.TextField(max_length=1000)
    asked_at = models.DateTimeField()
    answer = models.TextField(max_length=2000, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["asked_at"]
        constraints = [
            models.CheckConstraint(condition=Q(answered_at=None) | ~Q(answer=""), name="money_answer_has_words")
        ]

    def __str__(self) -> str:
        return self.text[:60]
