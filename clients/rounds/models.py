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
