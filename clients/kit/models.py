from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from clients.people.models import Person


class Machine(models.Model):
    """A pulsed-field machine; it can be in one place only."""

    name = models.CharField(max_length=80, unique=True)
    serial_number = models.CharField(max_length=60, blank=True)
    inspection_due = models.DateField(null=True, blank=True)
    is_in_use = models.BooleanField(default=True)
    note = models.TextField(max_length=1000, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("clients:machine", args=[self.pk])


class Applicator(models.Model):
    """A loop, pad or paddle. The widest is for general upkeep, the narrowest for a small place."""

    name = models.CharField(max_length=60, unique=True)
    width_cm = models.PositiveSmallIntegerField(null=True, blank=True)
    is_in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["-width_cm", "name"]

    def __str__(self) -> str:
        return self.name


class Hire(models.Model):
    """A machine out with a payer from a day to a day, both included."""

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="hires")
    person = models.ForeignKey(Person, models.PROTECT, related_name="hires")
    since = models.DateField()
    until = models.DateField()
    returned_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-since"]
        constraints = [models.CheckConstraint(condition=Q(until__gte=F("since")), name="hire_since_before_until")]

    def __str__(self) -> str:
        return f"{self.machine} with {self.person}"
