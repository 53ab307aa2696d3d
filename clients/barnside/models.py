import uuid

from django.conf import settings
from django.db import models

from clients.people.models import Person
from clients.visits.models import Visit


class Phone(models.Model):
    """A device that takes the day along. It is one person's; removed here, it is given nothing and nothing is taken."""

    key = models.UUIDField(default=uuid.uuid4, unique=True, help_text="Made on the device.")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="phones")
    name = models.CharField(max_length=120, help_text="In words, from what its browser says.")
    first_seen = models.DateTimeField()
    last_seen = models.DateTimeField()
    removed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-last_seen"]

    def __str__(self) -> str:
        return self.name


class BarnEvent(models.Model):
    """One entry made in the barn, as the device kept it, and what became of it here."""

    class State(models.TextChoices):
        TAKEN = "taken", "Taken"
        OPEN = "open", "Needs a decision"
        SETTLED = "settled", "Decided"

    id = models.UUIDField(primary_key=True, help_text="Made on the device: UUID version 7, RFC 9562.")
    phone = models.ForeignKey(Phone, models.PROTECT, related_name="events")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    kind = models.CharField(max_length=12)
    visit = models.ForeignKey(Visit, models.PROTECT, null=True, related_name="barn_events")
    values = models.JSONField(default=dict)
    device_at = models.DateTimeField(help_text="By the device's own clock.")
    offset_ms = models.BigIntegerField(default=0, help_text="The server's clock less the device's, as known there.")
    happened_at = models.DateTimeField()
    received_at = models.DateTimeField()
    state = models.CharField(max_length=7, choices=State, default=State.TAKEN)
    is_applied = models.BooleanField(default=True, help_text="An open one may be: then only a look at it is wanted.")
    why = models.TextField(max_length=1000, blank=True)
    settled_at = models.DateTimeField(null=True, blank=True)
    settled_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    settled_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["happened_at", "id"]
        indexes = [models.Index(fields=["state"], name="barn_event_state")]

    def __str__(self) -> str:
        return f"{self.kind} of {self.visit_id}"


class HandMoney(models.Model):
    """Money taken in the barn with a slip on the phone. The money side books it as a payment."""

    class Method(models.TextChoices):
        CASH = "cash", "Cash"
        CHECK = "check", "Check"

    event = models.OneToOneField(BarnEvent, models.PROTECT, related_name="money")
    visit = models.ForeignKey(Visit, models.PROTECT, related_name="hand_money")
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    amount = models.DecimalField(max_digits=10, decimal_places=2)
    method = models.CharField(max_length=5, choices=Method)
    words = models.CharField(max_length=120, blank=True, help_text="Such as the number of the check.")
    slip = models.CharField(max_length=16, blank=True, help_text="In the phone's own series, such as P2-0017.")
    taken_at = models.DateTimeField()

    class Meta:
        ordering = ["taken_at", "pk"]
        constraints = [models.CheckConstraint(condition=models.Q(amount__gt=0), name="hand_money_is_more_than_nothing")]

    def __str__(self) -> str:
        return f"{self.amount} from {self.person}"
