from datetime import date

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q

from clients.people.models import WEEKDAYS
from clients.people.place import say_place


class WorkingHours(models.Model):
    """When somebody works on one weekday (0 is Monday). Whoever has none at all works the hours of the business."""

    practitioner = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="working_hours")
    weekday = models.PositiveSmallIntegerField(choices=list(enumerate(WEEKDAYS.values())))
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ["weekday"]
        constraints = [
            models.UniqueConstraint(fields=["practitioner", "weekday"], name="hours_once_a_weekday"),
            models.CheckConstraint(condition=Q(closes__gt=F("opens")), name="hours_open_before_they_close"),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()}, {self.opens:%H:%M} to {self.closes:%H:%M}"


class Absence(models.Model):
    """Days on which somebody does not work, both included; without a person the whole business is closed."""

    class Why(models.TextChoices):
        HOLIDAY = "holiday", "Holiday"
        ILLNESS = "illness", "Illness"
        TRAINING = "training", "Training"
        OTHER = "other", "Other"

    practitioner = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.CASCADE, null=True, blank=True, related_name="absences"
    )
    since = models.DateField("first day")
    until = models.DateField("last day")
    why = models.CharField(max_length=8, choices=Why, default=Why.HOLIDAY)
    note = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["since", "pk"]
        constraints = [models.CheckConstraint(condition=Q(until__gte=F("since")), name="absence_since_before_until")]

    def __str__(self) -> str:
        return f"{self.practitioner or 'Closed'}, {self.get_why_display().lower()}"

    def holds_on(self, day: date) -> bool:
        return self.since <= day <= self.until


class OwnBase(models.Model):
    """Where somebody's days begin and end, when it is not the base of the business."""

    practitioner = models.OneToOneField(settings.AUTH_USER_MODEL, models.CASCADE, related_name="own_base")
    lat = models.FloatField(validators=[MinValueValidator(-90), MaxValueValidator(90)])
    lon = models.FloatField(validators=[MinValueValidator(-180), MaxValueValidator(180)])

    def __str__(self) -> str:
        return say_place(self.lat, self.lon)
