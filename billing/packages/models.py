"""What is on sale besides single sessions: packages of several, and monthly plans."""

from collections.abc import Sequence

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from billing.fields import money_field
from billing.prices.models import ONE_A_DAY, Rate
from clients.plans.models import Service

MOST_SESSIONS = 500


class Offer(Rate):
    """Sessions at one price, on sale from a day on. A new row of the same name ends the one before."""

    turns = ("name",)
    rows = "parts"

    name = models.CharField(max_length=60)
    price = money_field(validators=[MinValueValidator(0), MaxValueValidator(1_000_000)])
    tax_category = models.CharField(max_length=20, default="standard")
    is_offered = models.BooleanField("on sale", default=True)

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.name

    def problem_with(self, rows: Sequence[models.Model]) -> str:
        services = [row.service_id for row in rows if isinstance(row, Part)]
        if not services:
            return "Write which sessions are in it, and how many."
        if len(set(services)) < len(services):
            return "A service is named twice: write one line with the sum."
        return ""


class Part(models.Model):
    """How many sessions of one service."""

    service = models.ForeignKey(Service, models.PROTECT, related_name="+")
    count = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(MOST_SESSIONS)])

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return f"{self.count} × {self.service}"


class Package(Offer):
    """Sessions prepaid at one price; `valid_days` are counted from the day of sale, none is without an end."""

    valid_days = models.PositiveSmallIntegerField(
        "days it is valid", null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(3650)]
    )

    class Meta:
        ordering = ["name", "-since"]
        constraints = [
            models.UniqueConstraint(
                fields=["name", "since"], name="one_package_a_day", violation_error_message=ONE_A_DAY
            )
        ]


class PackagePart(Part):
    package = models.ForeignKey(Package, models.CASCADE, related_name="parts")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["package", "service"], name="service_once_a_package")]


class MonthlyPlan(Offer):
    """A price a month for one horse's sessions; those beyond its number cost `beyond`, or the list price."""

    class Meta:
        ordering = ["name", "-since"]
        constraints = [
            models.UniqueConstraint(
                fields=["name", "since"], name="one_monthly_plan_a_day", violation_error_message=ONE_A_DAY
            )
        ]


class MonthlyPart(Part):
    plan = models.ForeignKey(MonthlyPlan, models.CASCADE, related_name="parts")
    beyond = money_field(null=True, blank=True, validators=[MinValueValidator(0), MaxValueValidator(1_000_000)])

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["plan", "service"], name="service_once_a_monthly_plan")]
