from collections.abc import Sequence
from datetime import date
from itertools import pairwise
from typing import ClassVar

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from billing.fields import money_field
from clients.people.models import Person
from clients.plans.models import Service

ONE_A_DAY = "There is one from that day already. Choose another day, or change that one."


class Rate(models.Model):
    """Anything that holds from a day on, until the next of its kind takes its turn.

    `turns` names what those that take turns have in common, `rows` the relation of the rows that belong to one.
    """

    turns: ClassVar[tuple[str, ...]] = ()
    rows: ClassVar[str] = ""

    since = models.DateField()

    class Meta:
        abstract = True

    def problem_with(self, rows: Sequence[models.Model]) -> str:
        """A sentence when the rows do not fit together, else an empty string."""
        return ""


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


class Price(Rate):
    """A dated price of a service. A new price ends the old one; the past is never rewritten."""

    turns = ("price_list", "service")
    rows = "breaks"

    price_list = models.ForeignKey(PriceList, models.CASCADE, related_name="prices")
    service = models.ForeignKey(Service, models.PROTECT, related_name="+")
    amount = money_field(validators=[MinValueValidator(0), MaxValueValidator(1_000_000)])
    tax_category = models.CharField(max_length=20, default="standard")

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

    def problem_with(self, rows: Sequence[models.Model]) -> str:
        breaks = [row for row in rows if isinstance(row, Break)]
        counts = [each.count for each in breaks]
        amounts = [self.amount, *(each.amount for each in breaks)]
        if any(count < 2 for count in counts) or sorted(set(counts)) != counts:
            return "Each lower price needs a larger number of sessions than the one before, from 2 on."
        if any(later >= earlier for earlier, later in pairwise(amounts)):
            return "A price for a larger number is lower than the one before it."
        return ""


class PersonTerms(Rate):
    """Which price list a payer is charged from, from a day on. Nobody else needs a row: the default list holds."""

    turns = ("person",)

    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    price_list = models.ForeignKey(PriceList, models.PROTECT, related_name="+")

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


class PayerCap(Rate):
    """How much somebody pays in the owners' place, such as a trainer: in a month, or for one charge. What does not fit
    is asked of the owner."""

    turns = ("person",)

    class Per(models.TextChoices):
        MONTH = "month", "In a month"
        ORDER = "order", "For one charge"

    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    per = models.CharField("counted", max_length=5, choices=Per, default=Per.MONTH)
    amount = money_field("at most", validators=[MinValueValidator(0)])

    class Meta:
        ordering = ["person", "-since"]
        constraints = [
            models.UniqueConstraint(fields=["person", "since"], name="one_cap_a_day", violation_error_message=ONE_A_DAY)
        ]

    def __str__(self) -> str:
        return f"{self.person}: {self.amount} from {self.since}"


class TaxExemption(Rate):
    """Somebody who pays no tax, by a certificate of theirs that is on file; by day of work, like the rates."""

    turns = ("person",)

    person = models.ForeignKey(Person, models.PROTECT, related_name="tax_exemptions")
    certificate = models.CharField("number of the certificate", max_length=60)
    reason = models.CharField(max_length=100, help_text="As printed on the invoice, such as: Charity.")
    until = models.DateField("last day", null=True, blank=True)

    class Meta:
        ordering = ["person", "-since"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "since"], name="one_exemption_a_day", violation_error_message=ONE_A_DAY
            ),
            models.CheckConstraint(
                condition=Q(until=None) | Q(until__gte=F("since")),
                name="exemption_ends_after_its_start",
                violation_error_message="The last day is before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.reason}, certificate {self.certificate}"

    def holds_on(self, day: date) -> bool:
        return self.until is None or day <= self.until


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


class CallOutRule(Rate):
    """What a stop costs, from a day on, and how its horses share it. A zone's rule wins over the general one."""

    turns = ("zone",)
    rows = "bands"

    class Split(models.TextChoices):
        NONE = "none", "Each horse pays all of it"
        HORSE = "horse", "Shared equally by the horses"
        OWNER = "owner", "Shared by the owners, then by their horses"

    class Way(models.TextChoices):
        FLAT = "flat", "One amount a stop"
        BANDS = "bands", "By distance, in bands"
        FREE = "free", "Free nearby, then by distance"

    zone = models.CharField(max_length=20, blank=True)
    way = models.CharField(max_length=5, choices=Way, default=Way.FLAT)
    amount = money_field(default=0, validators=[MinValueValidator(0), MaxValueValidator(100_000)])
    free = models.DecimalField(max_digits=6, decimal_places=1, default=0, validators=[MinValueValidator(0)])
    per_unit = money_field(default=0, validators=[MinValueValidator(0), MaxValueValidator(1000)])
    minimum = money_field(default=0, validators=[MinValueValidator(0), MaxValueValidator(100_000)])
    split = models.CharField(max_length=5, choices=Split, default=Split.HORSE)

    class Meta:
        ordering = ["zone", "-since"]
        constraints = [
            models.UniqueConstraint(
                fields=["zone", "since"], name="one_call_out_rule_a_day", violation_error_message=ONE_A_DAY
            )
        ]

    def __str__(self) -> str:
        return f"{self.zone or 'everywhere'} {self.get_way_display()} from {self.since}"

    def problem_with(self, rows: Sequence[models.Model]) -> str:
        if self.way != self.Way.BANDS:
            return ""
        ends = [row.to for row in rows if isinstance(row, CallOutBand)]
        if not ends:
            return "Write at least one band."
        closed = [end for end in ends if end is not None]
        if None in ends[:-1] or sorted(set(closed)) != closed:
            return "Each band ends farther out than the one before; only the last may have no end."
        return ""


class CallOutBand(models.Model):
    """A stop up to this far from the base, and beyond the band before, costs this amount."""

    rule = models.ForeignKey(CallOutRule, models.CASCADE, related_name="bands")
    to = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True, validators=[MinValueValidator(0)])
    amount = money_field(validators=[MinValueValidator(0), MaxValueValidator(100_000)])

    class Meta:
        ordering = [F("to").asc(nulls_last=True)]
        constraints = [models.UniqueConstraint(fields=["rule", "to"], name="one_band_a_distance")]

    def __str__(self) -> str:
        return f"up to {self.to}: {self.amount}" if self.to is not None else f"beyond: {self.amount}"


class HireRate(Rate):
    """What a machine costs by the day and by the week, with its visits and its security deposit."""

    day = money_field(validators=[MinValueValidator(0)])
    week = money_field(validators=[MinValueValidator(0)])
    training = money_field(validators=[MinValueValidator(0)])
    follow_up = money_field(validators=[MinValueValidator(0)])
    delivery = money_field(default=0, validators=[MinValueValidator(0)])
    collection = money_field(default=0, validators=[MinValueValidator(0)])
    deposit = money_field(default=0, validators=[MinValueValidator(0)])

    class Meta:
        ordering = ["-since"]
        constraints = [
            models.CheckConstraint(
                condition=Q(week__gte=F("day")),
                name="week_costs_at_least_a_day",
                violation_error_message="A week costs at least as much as a day.",
            ),
            models.UniqueConstraint(fields=["since"], name="one_hire_rate_a_day", violation_error_message=ONE_A_DAY),
        ]

    def __str__(self) -> str:
        return f"{self.week} a week from {self.since}"


OF_VOUCHERS = "gift voucher"  # the category of what is never taxed: what a voucher pays for is, when it is used


class TaxRate(Rate):
    """A dated rate of a tax category, as the practitioner recorded it. None recorded means no tax."""

    turns = ("category",)

    category = models.CharField(max_length=20)
    percent = models.DecimalField(
        max_digits=6, decimal_places=3, validators=[MinValueValidator(0), MaxValueValidator(100)]
    )
    is_included = models.BooleanField("prices include it", default=False)
    text = models.CharField(
        max_length=200, blank=True, help_text="Printed on the invoice, such as why nothing is charged."
    )

    class Meta:
        ordering = ["category", "-since"]
        constraints = [
            models.UniqueConstraint(
                fields=["category", "since"], name="one_tax_rate_a_day", violation_error_message=ONE_A_DAY
            )
        ]

    def __str__(self) -> str:
        return f"{self.category} {self.percent} % from {self.since}"
