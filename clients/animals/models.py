from datetime import date, timedelta
from fractions import Fraction
from typing import Any, Self

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from backoffice.documents.models import Document
from clients.animals.scales import SCALES, Scale, say_number, to_pounds
from clients.animals.shares import say_share
from clients.people.models import Barn, Person, VetPractice


class Animal(models.Model):
    """A horse."""

    class Sex(models.TextChoices):
        UNKNOWN = "unknown", "Not asked"
        MARE = "mare", "Mare"
        GELDING = "gelding", "Gelding"
        STALLION = "stallion", "Stallion"

    class Isolation(models.TextChoices):
        CLEAN = "clean", "None"
        EXPOSED = "exposed", "Exposed"
        INFECTED = "infected", "Isolated"

    name = models.CharField(max_length=80)
    barn = models.ForeignKey(Barn, models.PROTECT, related_name="animals")
    sex = models.CharField(max_length=8, choices=Sex, default=Sex.UNKNOWN)
    birth_year = models.PositiveSmallIntegerField(null=True, blank=True)
    breed = models.CharField(max_length=60, blank=True)
    color = models.CharField(max_length=60, blank=True)
    markings = models.CharField(max_length=200, blank=True)
    microchip = models.CharField(max_length=15, blank=True)
    ueln = models.CharField("UELN", max_length=15, blank=True)
    passport_name = models.CharField(max_length=120, blank=True)
    photo = models.ForeignKey(
        Document, models.PROTECT, null=True, blank=True, related_name="+", help_text="One, to know the horse by."
    )
    vet_practice = models.ForeignKey(VetPractice, models.SET_NULL, null=True, blank=True, related_name="animals")
    handling = models.TextField(
        "handling note", max_length=1000, blank=True, help_text="Kicks when tied, loose in the stall…"
    )
    note = models.TextField(max_length=2000, blank=True)
    isolation = models.CharField(max_length=8, choices=Isolation, default=Isolation.CLEAN)
    isolated_until = models.DateField(null=True, blank=True, help_text="The end that the vet gave.")
    event_on = models.DateField("next event", null=True, blank=True)
    rules_read = models.BooleanField("event rule book read", default=False)
    shares_photos = models.BooleanField("photos may be shared", null=True, blank=True)
    died_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("clients:animal", args=[self.pk])

    def isolation_on(self, day: date) -> str:
        if self.isolated_until is not None and day > self.isolated_until:
            return self.Isolation.CLEAN
        return self.isolation


class DatedQuerySet(models.QuerySet[Any]):
    """Rows that hold from a day on, until a last day if there is one."""

    def on(self, day: date) -> Self:
        return self.filter(Q(until__isnull=True) | Q(until__gte=day), since__lte=day)


class Ownership(models.Model):
    """A dated share of a horse, kept as an exact fraction; the shares of a day sum to one."""

    animal = models.ForeignKey(Animal, models.CASCADE, related_name="ownerships")
    person = models.ForeignKey(Person, models.PROTECT, related_name="ownerships")
    numerator = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])
    denominator = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(10_000)])
    position = models.PositiveSmallIntegerField(default=0)
    since = models.DateField()
    until = models.DateField(null=True, blank=True, help_text="Last day of this share.")

    objects = DatedQuerySet.as_manager()

    class Meta:
        ordering = ["animal", "position", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(numerator__gte=1) & Q(numerator__lte=F("denominator")), name="share_at_most_one"
            ),
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("since")), name="share_since_before_until"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.numerator}/{self.denominator}"

    def holds_on(self, day: date) -> bool:
        return self.since <= day and (self.until is None or day <= self.until)

    @property
    def share(self) -> Fraction:
        return Fraction(self.numerator, self.denominator)

    @property
    def share_text(self) -> str:
        return say_share(self.share)


class Role(models.Model):
    """Who else stands around a horse, from a date on."""

    class Kind(models.TextChoices):
        AGENT = "agent", "Agent (orders for the owners)"
        PAYER = "payer", "Payer in the owners' place"
        HANDLER = "handler", "Handler"

    animal = models.ForeignKey(Animal, models.CASCADE, related_name="roles")
    person = models.ForeignKey(Person, models.PROTECT, related_name="roles")
    kind = models.CharField(max_length=8, choices=Kind)
    since = models.DateField()
    until = models.DateField(null=True, blank=True)

    objects = DatedQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "since", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(until__isnull=True) | Q(until__gte=F("since")), name="role_since_before_until"
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} ({self.get_kind_display()})"

    def holds_on(self, day: date) -> bool:
        return self.since <= day and (self.until is None or day <= self.until)


class Stay(models.Model):
    """Where the horse stood before; its history follows it."""

    animal = models.ForeignKey(Animal, models.CASCADE, related_name="stays")
    barn = models.ForeignKey(Barn, models.PROTECT, related_name="+")
    since = models.DateField(null=True, blank=True)
    until = models.DateField()

    class Meta:
        ordering = ["-until"]

    def __str__(self) -> str:
        return f"{self.barn} until {self.until}"


GESTATION = timedelta(days=340)  # seen in secondary pages, with a spread of 320 to 362 days: always shown as "about"


class HealthFact(models.Model):
    """One answer to one question, with its date. The latest answer of each kind holds; earlier ones stay readable."""

    class Kind(models.TextChoices):
        EPM = "epm", "EPM, now or in the past"
        IN_FOAL = "in_foal", "In foal, or covered since"
        DEHYDRATED = "dehydrated", "Dehydrated"
        TOXICITY = "toxicity", "Systemic toxicity"
        BLEEDING = "bleeding", "Possible internal bleeding"
        SLOW_HEALING = "slow_healing", "Repair that the vet wants slow"
        DOSE_CRITICAL = "dose_critical", "Dose-critical medicine"
        MEDICINE = "medicine", "Other medicine"
        INJURY = "injury", "Fresh injury or illness"

    class State(models.TextChoices):
        NOT_ASKED = "not_asked", "Not asked"
        NONE = "none", "None"
        YES = "yes", "Yes"

    animal = models.ForeignKey(Animal, models.CASCADE, related_name="health_facts")
    kind = models.CharField(max_length=14, choices=Kind)
    state = models.CharField(max_length=9, choices=State)
    asked_on = models.DateField()
    note = models.CharField(max_length=500, blank=True)
    covered_on = models.DateField("covering date", null=True, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-asked_on", "-pk"]
        indexes = [models.Index(fields=["animal", "kind", "-asked_on"], name="health_latest")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.get_state_display()}"

    @property
    def due_about(self) -> date | None:
        """About when the foal comes, if a covering date is known."""
        return None if self.covered_on is None else self.covered_on + GESTATION


class Caution(models.Model):
    """A place on the body to take care with: who said it, and when."""

    animal = models.ForeignKey(Animal, models.CASCADE, related_name="cautions")
    area = models.CharField(max_length=80)
    note = models.CharField(max_length=300, blank=True)
    said_by = models.CharField(max_length=120)
    said_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-said_on", "pk"]

    def __str__(self) -> str:
        return f"{self.area} ({self.said_by})"

    def holds_on(self, day: date) -> bool:
        return self.said_on <= day and (self.ended_on is None or day < self.ended_on)


class Measure(models.Model):
    """One value on one named scale on one day, and who took it or gave it. A record, never a verdict."""

    class Kind(models.TextChoices):
        CONDITION = "condition", "Body condition"
        TAPE = "tape", "Weight by tape"
        WEIGHED = "weighed", "Weight on a scale"
        HEART = "heart", "Heart rate at rest"
        BREATHING = "breathing", "Breathing rate at rest"
        GRIMACE = "grimace", "Horse Grimace Scale"
        LAMENESS = "lameness", "Lameness grade"

    animal = models.ForeignKey(Animal, models.CASCADE, related_name="measures")
    kind = models.CharField(max_length=10, choices=Kind)
    value = models.DecimalField(max_digits=6, decimal_places=1)
    girth_cm = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    length_cm = models.DecimalField(max_digits=5, decimal_places=1, null=True, blank=True)
    taken_on = models.DateField()
    given_by = models.CharField(max_length=120)
    note = models.CharField(max_length=300, blank=True)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["taken_on", "pk"]
        indexes = [models.Index(fields=["animal", "kind", "taken_on"], name="measures_over_time")]
        constraints = [
            models.CheckConstraint(
                condition=Q(kind="tape", girth_cm__isnull=False, length_cm__isnull=False)
                | (~Q(kind="tape") & Q(girth_cm__isnull=True, length_cm__isnull=True)),
                name="measure_tape_has_girth_and_length",
            )
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.words}"

    @property
    def scale(self) -> Scale:
        return SCALES[self.kind]

    @property
    def words(self) -> str:
        """The value with its unit; a weight in pounds too."""
        if self.scale.unit == "kg":
            return f"{say_number(self.value)} kg ({to_pounds(self.value):,} lb)"
        return " ".join(filter(None, [say_number(self.value), self.scale.unit]))
