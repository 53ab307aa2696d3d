"""Packages that are sold and monthly plans that run, each with its own copy of the terms, and what used them."""

from datetime import date
from decimal import Decimal

from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from billing.fields import money_field
from billing.money import monthly
from billing.packages.models import MonthlyPlan, Package, Part
from clients.animals.models import Animal
from clients.people.models import Person
from clients.visits.models import Session


class Prepaid(models.Model):
    """Money taken for sessions to come. `net` is what invoices asked before tax, `earned` what of it became income."""

    net = money_field(default=0)
    earned = money_field(default=0)

    class Meta:
        abstract = True

    @property
    def unearned(self) -> Decimal:
        return Decimal(self.net - self.earned)


class PackageSold(Prepaid):
    """A package that somebody bought, with its own copy of the terms. Without `animals` it serves every horse that
    its payer alone pays for."""

    payer = models.ForeignKey(Person, models.PROTECT, related_name="packages")
    package = models.ForeignKey(Package, models.PROTECT, null=True, blank=True, related_name="sold")
    name = models.CharField(max_length=60)
    price = money_field(validators=[MinValueValidator(0)])
    tax_category = models.CharField(max_length=20, default="standard")
    sold_on = models.DateField()
    ends_on = models.DateField("last day", null=True, blank=True)
    quote_number = models.PositiveIntegerField(null=True, blank=True)
    animals = models.ManyToManyField(Animal, blank=True, related_name="+")
    is_brought = models.BooleanField(default=False, help_text="Sold before the books were kept here: what was left.")
    closed_on = models.DateField(null=True, blank=True, help_text="The day on which its rest was kept or given back.")

    class Meta:
        ordering = [F("ends_on").asc(nulls_last=True), "sold_on", "pk"]
        verbose_name = "sold package"
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("sold_on")), name="package_ends_after_its_sale"
            ),
            models.CheckConstraint(condition=Q(price__gte=0), name="package_price_not_negative"),
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("billing:package", args=[self.pk])

    def holds_on(self, day: date) -> bool:
        return self.closed_on is None and self.sold_on <= day and (self.ends_on is None or day <= self.ends_on)


class PackageSoldPart(Part):
    sold = models.ForeignKey(PackageSold, models.CASCADE, related_name="parts")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["sold", "service"], name="service_once_a_sold_package")]


class MonthlyRun(models.Model):
    """A monthly plan that runs for a horse, with its own copy of the terms; without `ends_on` until it is stopped."""

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="monthly_runs")
    plan = models.ForeignKey(MonthlyPlan, models.PROTECT, null=True, blank=True, related_name="runs")
    name = models.CharField(max_length=60)
    price = money_field(validators=[MinValueValidator(0)])
    tax_category = models.CharField(max_length=20, default="standard")
    start = models.DateField()
    ends_on = models.DateField("last day", null=True, blank=True)
    quote_number = models.PositiveIntegerField(null=True, blank=True)
    stopped_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["animal", "start", "pk"]
        verbose_name = "running monthly plan"
        constraints = [
            models.CheckConstraint(
                condition=Q(ends_on__isnull=True) | Q(ends_on__gte=F("start")), name="monthly_run_ends_after_its_start"
            )
        ]

    def __str__(self) -> str:
        return f"{self.name}, {self.animal}"

    def get_absolute_url(self) -> str:
        return reverse("billing:monthly-run", args=[self.pk])

    def months_until(self, day: date) -> list[monthly.Month]:
        """The plan months that have begun on the day; the last one of a term may be part of a month."""
        last = min(self.ends_on or day, day)
        whole = self.ends_on or monthly.month_after(self.start, 12 * (day.year - self.start.year + 1))
        months = monthly.plan_months(self.start, (whole - self.start).days + 1)
        return [month for month in months if month.first <= last]


class MonthlyRunPart(Part):
    run = models.ForeignKey(MonthlyRun, models.CASCADE, related_name="parts")
    beyond = money_field(null=True, blank=True, validators=[MinValueValidator(0)])

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["run", "service"], name="service_once_a_monthly_run")]


class PlanMonth(Prepaid):
    """One month of a running plan, written down when it is charged or first used."""

    run = models.ForeignKey(MonthlyRun, models.PROTECT, related_name="months")
    first = models.DateField("first day")

    class Meta:
        ordering = ["run", "first"]
        constraints = [models.UniqueConstraint(fields=["run", "first"], name="plan_month_once")]

    def __str__(self) -> str:
        return f"{self.run}, month from {self.first:%-d %b %Y}"

    @property
    def month(self) -> monthly.Month:
        return self.run.months_until(self.first)[-1]

    @property
    def end(self) -> date:
        """The day after its last."""
        return self.month.end


class Use(models.Model):
    """A session that a package or a plan month pays for: one of the two, and one for each session."""

    session = models.ForeignKey(Session, models.PROTECT, related_name="+")
    sold = models.ForeignKey(PackageSold, models.PROTECT, null=True, blank=True, related_name="uses")
    month = models.ForeignKey(PlanMonth, models.PROTECT, null=True, blank=True, related_name="uses")
    reason = models.CharField(max_length=200, help_text="Which one it was, such as “4 of 10”.")
    used_on = models.DateField()
    confirmed_at = models.DateTimeField()
    confirmed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    undone_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["used_on", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["session"], condition=Q(undone_at__isnull=True), name="session_used_once"),
            models.CheckConstraint(
                condition=Q(sold__isnull=False, month__isnull=True) | Q(sold__isnull=True, month__isnull=False),
                name="use_of_package_or_month",
            ),
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True) | ~Q(undone_reason=""), name="undone_use_has_a_reason"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.session}: {self.reason}"


class Deduction(models.Model):
    """What is taken off the next invoices of a payer: a booking deposit, once it was charged, or an agreed discount."""

    class Kind(models.TextChoices):
        DEPOSIT = "deposit", "Booking deposit"
        DISCOUNT = "discount", "Discount"

    kind = models.CharField(max_length=8, choices=Kind)
    payer = models.ForeignKey(Person, models.PROTECT, related_name="deductions")
    amount = money_field(validators=[MinValueValidator(0)])
    tax_category = models.CharField(max_length=20, default="standard")
    agreed_on = models.DateField()
    reason = models.CharField(max_length=200)
    quote_number = models.PositiveIntegerField(null=True, blank=True)

    class Meta:
        ordering = ["agreed_on", "pk"]
        constraints = [models.CheckConstraint(condition=Q(amount__gt=0), name="deduction_above_zero")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.payer}"
