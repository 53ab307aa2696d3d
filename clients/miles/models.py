from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse


class Trip(models.Model):
    """One day's driving of one person. A correction is a row of its own that replaces it; the original stays."""

    class Measure(models.TextChoices):
        ESTIMATE = "estimate", "Estimate"
        ROAD = "road", "By road"
        ODOMETER = "odometer", "Odometer"

    day = models.DateField()
    driver = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="trips")
    places = models.CharField(max_length=600, help_text="In the order driven, such as Home, Copper Hasp, home.")
    purpose = models.CharField(max_length=200)
    metres = models.PositiveIntegerField()
    measured = models.CharField(max_length=8, choices=Measure, default=Measure.ODOMETER)
    is_from_round = models.BooleanField(default=False, editable=False)
    replaces = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")
    why_changed = models.CharField("why it is corrected", max_length=200, blank=True)
    written_at = models.DateTimeField()
    written_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-day", "-pk"]
        indexes = [models.Index(fields=["day", "driver"], name="trip_day")]
        constraints = [
            models.UniqueConstraint(
                fields=["day", "driver"],
                condition=Q(is_from_round=True, replaces__isnull=True),
                name="one_driven_round_a_day",
            )
        ]

    def __str__(self) -> str:
        return f"{self.driver}, {self.day}"

    def get_absolute_url(self) -> str:
        return reverse("clients:trip", args=[self.pk])
