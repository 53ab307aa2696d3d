from django.conf import settings
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
