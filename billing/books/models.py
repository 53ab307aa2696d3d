from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q

from backoffice.documents.models import Document
from billing.fields import money_field


class Expense(models.Model):
    """A purchase for the business. Taken back, it stays here with its day."""

    class Category(models.TextChoices):
        SUPPLIES = "supplies", "Supplies and disinfectant"
        MACHINE = "machine", "Machine and repairs"
        VEHICLE = "vehicle", "Vehicle, where no mileage is claimed"
        INSURANCE = "insurance", "Insurance and licenses"
        TRAINING = "training", "Training"
        OFFICE = "office", "Office, phone, software"
        FEES = "fees", "Bank and accountant"
        OTHER = "other", "Other"

    class PaidFrom(models.TextChoices):
        BANK = "bank", "Bank"
        CASH = "cash", "Cash in hand"
        OWN = "capital", "My own pocket"

    day = models.DateField()
    what = models.CharField(max_length=120)
    category = models.CharField(max_length=9, choices=Category)
    amount = money_field(validators=[MinValueValidator(0)])
    tax = money_field(default=0, validators=[MinValueValidator(0)])
    paid_from = models.CharField(max_length=7, choices=PaidFrom, default=PaidFrom.BANK)
    photo = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    undone_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-day", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(amount__gt=0), name="expense_above_zero"),
            models.CheckConstraint(condition=Q(tax__gte=0, tax__lte=F("amount")), name="expense_tax_is_part_of_it"),
        ]

    def __str__(self) -> str:
        return self.what


class MileageClaim(models.Model):
    """What confirmed driving comes to, booked when its month is closed."""

    first_day = models.DateField(unique=True)
    metres = models.PositiveBigIntegerField()
    amount = money_field()
    booked_at = models.DateTimeField()

    class Meta:
        ordering = ["-first_day"]

    def __str__(self) -> str:
        return f"Mileage of {self.first_day:%B %Y}"
