from datetime import date

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from clients.people.place import say_place


class Person(models.Model):
    """Anybody we deal with: owner, co-owner, agent, payer, handler; a person or an organization."""

    class Kind(models.TextChoices):
        PERSON = "person", "Person"
        ORGANIZATION = "organization", "Organization"

    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=12, choices=Kind, default=Kind.PERSON)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(max_length=400, blank=True)
    country = models.CharField(max_length=2, blank=True, help_text="Only where it is another than yours.")
    born_on = models.DateField(
        "date of birth", null=True, blank=True, help_text="Only needed where age decides who may sign."
    )
    under_age = models.BooleanField(default=False, help_text="Too young to sign: a parent or guardian signs and pays.")
    guardian = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="wards")
    wants_deposit = models.BooleanField("ask for a booking deposit", default=False)
    note = models.TextField(max_length=2000, blank=True)
    asked_on = models.DateField("first asked on", null=True, blank=True)
    asked_about = models.TextField(max_length=2000, blank=True)
    asked_barn = models.ForeignKey(
        "Barn", models.SET_NULL, null=True, blank=True, related_name="asked_by", verbose_name="barn they asked about"
    )
    erased_on = models.DateField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["name", "pk"]
        verbose_name_plural = "people"

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("clients:person", args=[self.pk])


class PersonKey(models.Model):
    """The key of the digests about a person in the audit trail. Destroyed, those digests prove nothing any more."""

    person = models.OneToOneField(Person, models.CASCADE, related_name="key")
    key = models.BinaryField()

    def __str__(self) -> str:
        return f"key of person {self.person_id}"


class VetPractice(models.Model):
    name = models.CharField(max_length=120)
    vet_name = models.CharField(max_length=120, blank=True)
    phone = models.CharField(max_length=40, blank=True)
    email = models.EmailField(blank=True)
    address = models.TextField(max_length=400, blank=True)

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("clients:vet-practice", args=[self.pk])


WEEKDAYS = {"MO": "Mon", "TU": "Tue", "WE": "Wed", "TH": "Thu", "FR": "Fri", "SA": "Sat", "SU": "Sun"}


class Barn(models.Model):
    """A place where horses stand: how to get in, what there is, when somebody is there."""

    class Kind(models.TextChoices):
        PRIVATE = "private", "Private"
        BOARDING = "boarding", "Boarding"
        TRAINING = "training", "Training"
        BREEDING = "breeding", "Breeding"
        CHARITY = "charity", "Charity"
        ARENA = "arena", "Arena"

    class Answer(models.TextChoices):
        UNKNOWN = "unknown", "Not asked"
        YES = "yes", "Yes"
        NO = "no", "No"

    class Signal(models.TextChoices):
        UNKNOWN = "unknown", "Not asked"
        GOOD = "ok", "Good"
        WEAK = "weak", "Weak"
        NONE = "none", "None"

    name = models.CharField(max_length=120)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.PRIVATE)
    address = models.TextField(max_length=400, blank=True)
    lat = models.FloatField(
        "latitude", null=True, blank=True, validators=[MinValueValidator(-90), MaxValueValidator(90)]
    )
    lon = models.FloatField(
        "longitude", null=True, blank=True, validators=[MinValueValidator(-180), MaxValueValidator(180)]
    )
    area = models.CharField(
        max_length=60, blank=True, help_text="The part of the country you drive together, such as North."
    )
    area_days = models.CharField(
        max_length=30, blank=True, help_text="Weekdays you are usually there, as two letters: MO, TU."
    )
    contact = models.ForeignKey(Person, models.SET_NULL, null=True, blank=True, related_name="+")
    phone = models.CharField("landline", max_length=40, blank=True)
    power = models.CharField(max_length=7, choices=Answer, default=Answer.UNKNOWN)
    signal = models.CharField("phone signal", max_length=7, choices=Signal, default=Signal.UNKNOWN)
    outdoor_only = models.BooleanField(default=False)
    asks_release = models.BooleanField("asks for a signed release", default=False)
    extra_minutes = models.PositiveSmallIntegerField(
        default=0,
        validators=[MaxValueValidator(120)],
        help_text="Added to each drive: gravel, gates, a long lane.",
    )
    call_out_zone = models.CharField(max_length=20, blank=True)
    note = models.TextField(max_length=2000, blank=True)

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("clients:barn", args=[self.pk])

    @property
    def is_placed(self) -> bool:
        return self.lat is not None and self.lon is not None

    @property
    def place_text(self) -> str:
        return say_place(self.lat, self.lon) if self.lat is not None and self.lon is not None else ""

    @property
    def area_weekdays(self) -> tuple[int, ...]:
        """The usual weekdays as numbers, 0 is Monday."""
        codes = {code.strip().upper() for code in self.area_days.split(",")}
        return tuple(number for number, code in enumerate(WEEKDAYS) if code in codes)

    @property
    def area_day_names(self) -> str:
        names = list(WEEKDAYS.values())
        return ", ".join(names[number] for number in self.area_weekdays)


class BarnWindow(models.Model):
    """When work at the barn may start: every day, or on one weekday (0 is Monday)."""

    barn = models.ForeignKey(Barn, models.CASCADE, related_name="windows")
    weekday = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MaxValueValidator(6)])
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ["weekday", "opens"]
        constraints = [models.CheckConstraint(condition=Q(closes__gt=F("opens")), name="window_opens_before_it_closes")]

    def __str__(self) -> str:
        return f"{self.opens:%H:%M}–{self.closes:%H:%M}"

    @property
    def day_name(self) -> str:
        return "Every day" if self.weekday is None else list(WEEKDAYS.values())[self.weekday]

    def holds_on(self, day: date) -> bool:
        return self.weekday is None or self.weekday == day.weekday()
