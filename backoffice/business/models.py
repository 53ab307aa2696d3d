import re
from decimal import Decimal
from string import Formatter
from zoneinfo import ZoneInfo, available_timezones

from django.core.exceptions import ValidationError
from django.core.validators import MaxValueValidator, MinValueValidator, URLValidator
from django.db import models
from stdnum import bic, iban


def is_time_zone(value: str) -> None:
    if value not in available_timezones():
        raise ValidationError(f"“{value}” is not a time zone of the IANA list, such as America/Denver.")


def is_iban(value: str) -> None:
    if not iban.is_valid(value):
        raise ValidationError("This is no IBAN: its check digits do not fit.")


def is_bic(value: str) -> None:
    if not bic.is_valid(value):
        raise ValidationError("A BIC has 8 or 11 letters and digits.")


def is_tile_address(value: str) -> None:
    """Its host goes into the page's content policy as it stands, so it is held to letters, digits, dots and a port."""
    if not re.fullmatch(r"https?://[A-Za-z0-9.-]+(:\d{1,5})?/[!-~]*", value):
        raise ValidationError("Write a web address, such as https://tiles.example/{z}/{x}/{y}.png.")
    try:
        named = {name for _, name, _, _ in Formatter().parse(value) if name is not None}
    except ValueError:
        named = set()
    if named != {"z", "x", "y"}:
        raise ValidationError("The address holds {z}, {x} and {y} where the numbers of a tile go, and no other braces.")


class Business(models.Model):
    """The one business of this installation: its name on paper, and every rule that is a setting."""

    class Paper(models.TextChoices):
        LETTER = "letter", "US Letter"
        A4 = "a4", "A4"

    class Distance(models.TextChoices):
        MILES = "mi", "miles"
        KILOMETERS = "km", "kilometers"

    class Words(models.TextChoices):
        US = "us", "US: barn, check, sales tax"
        UK = "uk", "UK: yard, cheque, VAT"

    class RoadEngine(models.TextChoices):
        OSRM = "osrm", "OSRM (table)"
        VALHALLA = "valhalla", "Valhalla (sources_to_targets)"

    class WhoSigns(models.TextChoices):
        ANY = "any", "Any one owner"
        MAJORITY = "majority", "Owners of more than half"
        ALL = "all", "All owners"
        MANAGING = "managing", "An owner whom the others name in writing"

    name = models.CharField(max_length=120)
    address = models.TextField(max_length=400, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    currency = models.CharField(max_length=3, default="USD", help_text="ISO 4217 code, such as USD or GBP.")
    distance_unit = models.CharField(max_length=2, choices=Distance, default=Distance.MILES)
    time_zone = models.CharField(max_length=60, default="America/Denver", validators=[is_time_zone])
    paper = models.CharField(max_length=6, choices=Paper, default=Paper.LETTER)
    words = models.CharField(max_length=2, choices=Words, default=Words.US)
    country = models.CharField(max_length=2, default="US", help_text="Where you and, unless told, your owners are.")
    tax_identity = models.CharField(max_length=60, blank=True)
    registration = models.CharField(max_length=60, blank=True)
    iban = models.CharField(max_length=34, blank=True, validators=[is_iban])
    bic = models.CharField(max_length=11, blank=True, validators=[is_bic])
    prints_reference = models.BooleanField(default=False)
    e_invoice = models.BooleanField(default=False)
    asks_second_step = models.BooleanField(
        default=False, help_text="Who has none is led to set one up before anything else."
    )
    place_of_law = models.CharField(
        max_length=80, blank=True, help_text="State or country whose rules you recorded under Paperwork."
    )
    how_to_pay = models.TextField(max_length=400, blank=True, help_text="Printed on each invoice.")
    payment_days = models.PositiveSmallIntegerField(default=14, validators=[MaxValueValidator(365)])
    quote_days = models.PositiveSmallIntegerField(default=21, validators=[MinValueValidator(1), MaxValueValidator(365)])

    base_lat = models.FloatField(null=True, blank=True, validators=[MinValueValidator(-90), MaxValueValidator(90)])
    base_lon = models.FloatField(null=True, blank=True, validators=[MinValueValidator(-180), MaxValueValidator(180)])
    day_start = models.TimeField(default="08:00")
    day_end = models.TimeField(default="17:30")
    lunch_minutes = models.PositiveSmallIntegerField(default=30, validators=[MaxValueValidator(180)])
    lunch_from = models.TimeField(default="11:30")
    lunch_to = models.TimeField(default="13:30")
    setup_minutes = models.PositiveSmallIntegerField(default=10, validators=[MaxValueValidator(120)])
    cancel_notice_hours = models.PositiveSmallIntegerField(
        default=24,
        validators=[MaxValueValidator(336)],
        help_text="A visit cancelled with less notice than this is marked as late.",
    )
    spot_needs_full_within = models.PositiveSmallIntegerField(
        default=3,
        validators=[MaxValueValidator(60)],
        help_text="A spot without one asks for a reason when booked. A guideline may say otherwise.",
    )
    speed_mph = models.DecimalField(
        max_digits=5, decimal_places=1, default=Decimal("38"), validators=[MinValueValidator(1)]
    )
    circuity = models.DecimalField(
        max_digits=4,
        decimal_places=2,
        default=Decimal("1.3"),
        validators=[MinValueValidator(1), MaxValueValidator(5)],
    )

    road_engine = models.CharField(max_length=8, choices=RoadEngine, default=RoadEngine.OSRM)
    road_engine_address = models.URLField(blank=True, validators=[URLValidator(schemes=["http", "https"])])

    tile_address = models.CharField(max_length=300, blank=True, validators=[is_tile_address])
    tile_credit = models.CharField(max_length=120, blank=True)
    preparation_words = models.TextField(
        max_length=500,
        blank=True,
        default="Please: caught and dry, no fly spray or liniment, and somebody there to hold.",
        help_text="Ends the message that you send the day before.",
    )
    first_session_words = models.TextField(
        max_length=800,
        blank=True,
        default="Applicator on the near shoulder with the machine silent; let the horse look at it.\n"
        "Then the weakest setting, upward by the horse’s comfort.\n"
        "Weaker again towards the head; distance weakens it too.",
        help_text="A line each, shown on the sheet of a horse that you see for the first time.",
    )
    after_care_words = models.TextField(
        max_length=800,
        blank=True,
        default="Water and hay as usual. Watch the horse this evening, and write to us what you see.",
        help_text="Read out on leaving and printed on the visit report, below when to call the vet.",
    )
    time_stamp_address = models.URLField(blank=True)
    signing_age = models.PositiveSmallIntegerField(
        default=18, validators=[MinValueValidator(16), MaxValueValidator(25)]
    )
    reask_days = models.PositiveSmallIntegerField(
        default=90, validators=[MinValueValidator(1), MaxValueValidator(3650)]
    )
    who_signs = models.CharField(max_length=8, choices=WhoSigns, default=WhoSigns.ANY)
    consent_notice_days = models.PositiveSmallIntegerField(default=14, validators=[MaxValueValidator(365)])
    own_paper_notice_days = models.PositiveSmallIntegerField(default=30, validators=[MaxValueValidator(365)])
    dose_critical_holds = models.BooleanField(
        default=False, help_text="A dose-critical medicine without the vet's word holds instead of asks."
    )

    class Meta:
        verbose_name_plural = "business"
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="one_business")]

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)
