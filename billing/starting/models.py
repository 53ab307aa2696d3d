from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models

from billing.fields import money_field


class StartingDay(models.Model):
    """The one day from which the books are kept here, and the money that was there on its morning."""

    day = models.DateField("first day")
    bank = money_field("in the bank", default=0)
    cash = money_field("in cash", default=0)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="one_starting_day")]

    def __str__(self) -> str:
        return f"Starting day {self.day}"


class MilesBefore(models.Model):
    """How far somebody had driven for the business in the tax year of the first day, before it."""

    start = models.ForeignKey(StartingDay, models.CASCADE, related_name="driven")
    driver = models.OneToOneField(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    distance = models.DecimalField(
        max_digits=7, decimal_places=1, validators=[MinValueValidator(0)], help_text="In the unit of the business."
    )

    class Meta:
        ordering = ["driver"]

    def __str__(self) -> str:
        return f"{self.driver}, before {self.start.day}"
