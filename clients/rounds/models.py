from django.conf import settings
from django.db import models
from django.urls import reverse

from backoffice.documents.models import Document


class DayRound(models.Model):
    """The order of one practitioner's day as last planned, with what did not fit and why."""

    day = models.DateField()
    practitioner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="rounds")
    planned_at = models.DateTimeField()
    leaves = models.TimeField(null=True)
    back = models.TimeField(null=True)
    lunch = models.TimeField(null=True)
    drive_minutes = models.PositiveSmallIntegerField(default=0)
    distance_meters = models.PositiveIntegerField(default=0)
    unplaced = models.JSONField(default=list, help_text="Barn, visits and reasons of each stop that does not fit.")
    notices = models.JSONField(default=list)
    sheet = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-day"]
        constraints = [models.UniqueConstraint(fields=["day", "practitioner"], name="one_round_a_day")]

    def __str__(self) -> str:
        return f"{self.practitioner}, {self.day}"

    def get_absolute_url(self) -> str:
        return reverse("clients:round", args=[self.day.isoformat(), self.practitioner_id])


class RoundStop(models.Model):
    """One stop of the planned day, in order."""

    day_round = models.ForeignKey(DayRound, models.CASCADE, related_name="stops")
    position = models.PositiveSmallIntegerField()
    barn = models.ForeignKey("clients.Barn", models.PROTECT, related_name="+")
    isolation = models.CharField(max_length=8)
    visits = models.ManyToManyField("clients.Visit", related_name="round_stops")
    arrives = models.TimeField()
    starts = models.TimeField()
    ends = models.TimeField()
    drive_minutes = models.PositiveSmallIntegerField()
    drive_meters = models.PositiveIntegerField()

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["day_round", "position"], name="round_stop_once")]

    def __str__(self) -> str:
        return f"{self.position}. {self.barn}"


class FailedDay(models.Model):
    """A day that could not be driven: its visits went to other days; how each stood is kept, to undo it."""

    class Cause(models.TextChoices):
        WEATHER = "weather", "Weather"
        ILLNESS = "illness", "Illness"
        BREAKDOWN = "breakdown", "Vehicle or machine"
        OTHER = "other", "Something else"

    day = models.DateField()
    practitioner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="failed_days")
    cause = models.CharField(max_length=9, choices=Cause)
    words = models.CharField("what owners are told", max_length=120, help_text="It begins each message.")
    freed_at = models.DateTimeField()
    freed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-day", "-pk"]

    def __str__(self) -> str:
        return f"{self.practitioner}, {self.day}"

    def get_absolute_url(self) -> str:
        return reverse("clients:failed-day", args=[self.pk])


class FreedVisit(models.Model):
    """A visit of a failed day as it stood, and the day proposed for it; without one it was released."""

    failed_day = models.ForeignKey(FailedDay, models.CASCADE, related_name="freed")
    visit = models.ForeignKey("clients.Visit", models.PROTECT, related_name="freed")
    was_status = models.CharField(max_length=14)
    was_starts = models.TimeField(null=True)
    was_part = models.PositiveSmallIntegerField()
    was_confirmed = models.BooleanField()
    new_day = models.DateField(null=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["failed_day", "visit"], name="visit_freed_once_a_day")]

    def __str__(self) -> str:
        return f"{self.visit_id} to {self.new_day}"
