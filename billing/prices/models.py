from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from billing.fields import money_field
from clients.people.models import Person
from clients.plans.models import Service

ONE_A_DAY = "There is one from that day already. Choose another day, or change that one."


class PriceList(models.Model):
    """A set of prices; a charity rate is a list of its own."""

    name = models.CharField(max_length=60, unique=True)
    is_default = models.BooleanField(default=False)

    class Meta:
        ordering = ["-is_default", "name"]
        constraints = [
            models.UniqueConstraint(fields=["is_default"], condition=Q(is_default=True), name="one_default_price_list")
        ]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("billing:price-list", args=[self.pk])


class Price(models.Model):
    """A dated price of a service. A new price ends the old one; the past is never rewritten."""

    price_list = models.ForeignKey(PriceList, models.CASCADE, related_name="prices")
    service = models.ForeignKey(Service, models.PROTECT, related_name="+")
    amount = money_field(validators=[MinValueValidator(0), MaxValueValidator(1_000_000)])
    tax_category = models.CharField(max_length=20, default="standard")
    since = models.DateField()

    class Meta:
        ordering = ["price_list", "service", "-since"]
        constraints = [
            models.UniqueConstraint(
                fields=["price_list", "service", "since"], name="one_price_a_day", violation_error_message=ONE_A_DAY
            ),
            models.CheckConstraint(condition=Q(amount__gte=0), name="price_not_negative"),
        ]

    def __str__(self) -> str:
        return f"{self.service} {self.amount} from {self.since}"


class PersonTerms(models.Model):
    """Which price list a payer is charged from, from a day on. Nobody else needs a row: the default list holds."""

    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    price_list = models.ForeignKey(PriceList, models.PROTECT, related_name="+")
    since = models.DateField()

    class Meta:
        ordering = ["person", "-since"]
        verbose_name = "terms of a person"
        verbose_name_plural = "terms of people"
        constraints = [
            models.UniqueConstraint(
                fields=["person", "since"], name="one_price_list_a_day", violation_error_message=ONE_A_DAY
            )
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.price_list} from {self.since}"


class Break(models.Model):
    """All-units break: with this many or more, every one costs this amount."""

    price = models.ForeignKey(Price, models.CASCADE, related_name="breaks")
    count = models.PositiveSmallIntegerField("from", validators=[MinValueValidator(2), MaxValueValidator(1000)])
    amount = money_field(validators=[MinValueValidator(0)])

    class Meta:
        ordering = ["count"]
        constraints = [models.UniqueConstraint(fields=["price", "count"], name="one_break_a_count")]

    def __str__(self) -> str:
        return f"{self.count} or more: {self.amount}"


class CallOutRule(models.Model):
    """What a stop costs, from a day on, and how its horses share it. A zone's rule wins over the general one."""

    class Split(models.TextChoices):
        NONE = "none", "Each horse pays all of it"
        HORSE = "horse", "Shared equally by the horses"
        OWNER = "owner", "Shared by the owners, then by their horses"

    zone = models.CharField(max_length=20, blank=True)
    amount = money_field(validators=[MinValueValidator(0), MaxValueValidator(100_000)])
    split = models.CharField(max_length=5, choices=Split, default=Split.HORSE)
    since = models.DateField()

    class Meta:
        ordering = ["zone", "-since"]
        constraints = [
            models.UniqueConstraint(
                fields=["zone", "since"], name="one_call_out_rule_a_day", violation_error_message=ONE_A_DAY
            )
        ]

    def __str__(self) -> str:
        return f"{self.zone or 'everywhere'} {self.amount} from {self.since}"


class HireRate(models.Model):
    """What a machine costs by the day and by the week, with its visits and its security deposit."""

    day = money_field(validators=[MinValueValidator(0)])
    week = money_field(validators=[MinValueValidator(0)])
    training = money_field(validators=[MinValueValidator(0)])
    follow_up = money_field(validators=[MinValueValidator(0)])
    delivery = money_field(default=0, validators=[MinValueValidator(0)])
    deposit = money_field(default=0, validators=[MinValueValidator(0)])
    since = models.DateField(unique=True)

    class Meta:
        ordering = ["-since"]
        constraints = [
            models.CheckConstraint(
                condition=Q(week__gte=F("day")),
                name="week_costs_at_least_a_day",
                violation_error_message="A week costs at least as much as a day.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.week} a week from {self.since}"


class TaxRate(models.Model):
    """A dated rate of a tax category, as the practitioner recorded it. None recorded means no tax."""

    category = models.CharField(max_length=20)
    percent = models.DecimalField(
        max_digits=6, decimal_places=3, validators=[MinValueValidator(0), MaxValueValidator(100)]
    )
    is_included = models.BooleanField("prices include it", default=False)
    text = models.CharField(
        max_length=200, blank=True, help_text="Printed on the invoice, such as why nothing is charged."
    )
    since = models.DateField()

    class Meta:
        ordering = ["category", "-since"]
        constraints = [
            models.UniqueConstraint(
                fields=["category", "since"], name="one_tax_rate_a_day", violation_error_message=ONE_A_DAY
            )
        ]

    def __str__(self) -> str:
        return f"{self.category} {self.percent} % from {self.since}"


class CostRates(models.Model):
    """Only for the practitioner: what the work costs, and what an hour should earn."""

    vehicle_per_mile = money_field(default=0, validators=[MinValueValidator(0)])
    admin_minutes_per_visit = models.PositiveSmallIntegerField(default=5, validators=[MaxValueValidator(120)])
    hourly_target = money_field(default=0, validators=[MinValueValidator(0)])
    since = models.DateField(unique=True)

    class Meta:
        ordering = ["-since"]
        verbose_name_plural = "cost rates"

    def __str__(self) -> str:
        return f"cost rates from {self.since}"
