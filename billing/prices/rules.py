"""What the business decides for itself: what its own work costs it, how money is handled, what a lost visit costs."""

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from billing.fields import money_field
from billing.money.portion import Portion
from billing.prices.models import ONE_A_DAY, Rate


class CostRates(Rate):
    """Only for the practitioner: what the work costs, and what an hour should earn."""

    vehicle_per_mile = money_field(default=0, validators=[MinValueValidator(0)])
    admin_minutes_per_visit = models.PositiveSmallIntegerField(default=5, validators=[MaxValueValidator(120)])
    hourly_target = money_field(default=0, validators=[MinValueValidator(0)])

    class Meta:
        ordering = ["-since"]
        verbose_name_plural = "cost rates"
        constraints = [
            models.UniqueConstraint(fields=["since"], name="one_cost_rate_a_day", violation_error_message=ONE_A_DAY)
        ]

    def __str__(self) -> str:
        return f"cost rates from {self.since}"


class MileageRate(Rate):
    """What driving for the business is worth, as a tax office publishes it; yours to change when it does."""

    class Year(models.TextChoices):
        JANUARY = "01-01", "1 January"
        APRIL = "04-06", "6 April (UK)"
        JULY = "07-01", "1 July"

    amount = models.DecimalField(max_digits=7, decimal_places=4, validators=[MinValueValidator(0)])
    limit = models.PositiveIntegerField("up to so many in a year", null=True, blank=True)
    beyond = models.DecimalField(
        "beyond that", max_digits=7, decimal_places=4, default=0, validators=[MinValueValidator(0)]
    )
    year_starts = models.CharField("the year starts on", max_length=5, choices=Year, default=Year.JANUARY)
    source = models.CharField(max_length=120, help_text="Where the rate is published, and for which year.")

    class Meta:
        ordering = ["-since"]
        constraints = [
            models.UniqueConstraint(fields=["since"], name="one_mileage_rate_a_day", violation_error_message=ONE_A_DAY)
        ]

    def __str__(self) -> str:
        return f"mileage rate from {self.since}"


class MoneyRules(Rate):
    """How money is handled from a day on: where tax is rounded, the booking deposit, what a package leaves unused."""

    class Rounding(models.TextChoices):
        TOTAL = "total", "Once for each invoice"
        LINE = "line", "On each line"

    class Deposit(models.TextChoices):
        NONE = "none", "No booking deposit"
        PERCENT = "percent", "A part of the price"
        AMOUNT = "amount", "An amount"

    tax_rounding = models.CharField(max_length=5, choices=Rounding, default=Rounding.TOTAL)
    deposit = models.CharField("booking deposit", max_length=7, choices=Deposit, default=Deposit.NONE)
    deposit_percent = models.DecimalField(
        max_digits=5, decimal_places=2, default=0, validators=[MinValueValidator(0), MaxValueValidator(100)]
    )
    deposit_amount = money_field(default=0, validators=[MinValueValidator(0), MaxValueValidator(100_000)])
    keeps_unused = models.BooleanField("what a package leaves unused at its end is kept", default=False)
    keeps_unused_source = models.CharField("who says that it may be kept", max_length=200, blank=True)

    class Meta:
        ordering = ["-since"]
        verbose_name_plural = "money rules"
        constraints = [
            models.UniqueConstraint(fields=["since"], name="one_money_rules_a_day", violation_error_message=ONE_A_DAY),
            models.CheckConstraint(
                condition=Q(keeps_unused=False) | ~Q(keeps_unused_source=""), name="kept_unused_has_a_source"
            ),
        ]

    def __str__(self) -> str:
        return f"money rules from {self.since}"

    def deposit_of(self, total: Decimal, currency: str) -> Decimal:
        """The booking deposit on a total: nothing, a part of it, or an amount that is never more than it."""
        if self.deposit == self.Deposit.PERCENT:
            return Portion(percent=self.deposit_percent).of(total, currency)
        if self.deposit == self.Deposit.AMOUNT:
            return Portion(amount=self.deposit_amount).of(total, currency)
        return total * 0


def fee_field(label: str) -> "models.DecimalField[Decimal, Decimal]":
    return models.DecimalField(
        label,
        max_digits=5,
        decimal_places=2,
        default=0,
        validators=[MinValueValidator(0), MaxValueValidator(100)],
    )


class FeeRule(Rate):
    """What a visit without work costs, in percent of the price of its service; a person confirms it.

    A horse that is unwell or held, the weather, and our own cancelling cost nothing, whatever is recorded.
    """

    late_cancel = fee_field("cancelled late")
    absent = fee_field("nobody there")
    wet = fee_field("horse wet")
    dangerous = fee_field("not safe to handle")
    refused = fee_field("horse would not have it")
    with_call_out = models.BooleanField("and their part of the call-out", default=False)

    class Meta:
        ordering = ["-since"]
        constraints = [
            models.UniqueConstraint(fields=["since"], name="one_fee_rule_a_day", violation_error_message=ONE_A_DAY)
        ]

    def __str__(self) -> str:
        return f"fees from {self.since}"
