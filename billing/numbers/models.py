from django.db import models


class NumberSeries(models.Model):
    """The next number of a kind of paper; locked while it is taken, so there are no gaps and no twins."""

    name = models.CharField(max_length=20, primary_key=True)
    first_number = models.PositiveIntegerField(default=1)
    next_number = models.PositiveIntegerField(default=1)

    class Meta:
        verbose_name_plural = "number series"

    def __str__(self) -> str:
        return f"{self.name} {self.next_number}"
