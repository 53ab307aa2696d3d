from datetime import date, timedelta

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.urls import reverse

from clients.animals.models import Animal
from clients.plans import cadence
from clients.plans.rhythm import say_phase


class Service(models.Model):
    """What is done, without its price: kind, hands-on minutes, whether a machine is needed."""

    class Kind(models.TextChoices):
        FULL = "full", "Full body"
        SPOT = "spot", "Spot"
        FOLLOW_UP = "follow_up", "Follow-up"
        TRAINING = "training", "Training"
        OTHER = "other", "Other"

    name = models.CharField(max_length=80, unique=True)
    kind = models.CharField(max_length=10, choices=Kind)
    minutes = models.PositiveSmallIntegerField(validators=[MinValueValidator(5), MaxValueValidator(300)])
    uses_machine = models.BooleanField(default=True)
    is_offered = models.BooleanField(default=True)

    class Meta:
        ordering = ["kind", "name"]

    def __str__(self) -> str:
        return self.name


class Goal(models.TextChoices):
    UPKEEP = "upkeep", "Ongoing maintenance"
    EVENT = "event", "Around an event"
    LONG_STANDING = "long_standing", "Long-standing trouble"
    ACUTE = "acute", "Acute short course"


GOALS_NEEDING_THE_VET = {Goal.LONG_STANDING, Goal.ACUTE}


class Guideline(models.Model):
    """The practitioner's own rule of thumb for a goal; its phases live in dated versions."""

    name = models.CharField(max_length=80, unique=True)
    goal = models.CharField(max_length=14, choices=Goal)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("clients:guideline", args=[self.pk])

    @property
    def needs_vet(self) -> bool:
        return self.goal in GOALS_NEEDING_THE_VET


class GuidelineVersion(models.Model):
    guideline = models.ForeignKey(Guideline, models.CASCADE, related_name="versions")
    number = models.PositiveSmallIntegerField()
    source = models.CharField("where it comes from", max_length=300)
    asks_vet = models.BooleanField("needs the vet", default=False)
    until_vet_says = models.BooleanField("until the vet says so", default=False)
    last_full_days_before = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MaxValueValidator(60)], help_text="Days from the last full body to an event."
    )
    tolerance_days = models.PositiveSmallIntegerField(default=1, validators=[MaxValueValidator(30)])
    spot_needs_full_within = models.PositiveSmallIntegerField(default=3, validators=[MaxValueValidator(60)])
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["guideline", "-number"]
        constraints = [models.UniqueConstraint(fields=["guideline", "number"], name="guideline_version_once")]

    def __str__(self) -> str:
        return f"{self.guideline}, version {self.number}"

    @property
    def needs_vet(self) -> bool:
        """By its goal, which cannot be switched off, or because the practitioner wants it so."""
        return self.asks_vet or self.guideline.needs_vet


class PhaseFields(models.Model):
    """A stretch of days: the columns of `clients.plans.cadence.Phase`."""

    position = models.PositiveSmallIntegerField()
    days = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(730)])
    full_every = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(365)]
    )
    full_rule = models.CharField(max_length=200, blank=True, help_text="An RFC 5545 rule instead of every n days.")
    spots_per_day = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(2)])

    class Meta:
        abstract = True
        ordering = ["position"]

    def __str__(self) -> str:
        return say_phase(cadence.Phase(self.days, self.full_every, self.full_rule, self.spots_per_day))


class GuidelinePhase(PhaseFields):
    version = models.ForeignKey(GuidelineVersion, models.CASCADE, related_name="phases")

    class Meta(PhaseFields.Meta):
        constraints = [models.UniqueConstraint(fields=["version", "position"], name="guideline_phase_once")]


class Plan(models.Model):
    """A horse's schedule from a day on, for a goal, by a guideline."""

    class State(models.TextChoices):
        PROPOSED = "proposed", "Proposed"
        RUNNING = "running", "Running"
        PAUSED = "paused", "Paused"
        FINISHED = "finished", "Finished"
        STOPPED = "stopped", "Stopped"

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="plans")
    goal = models.CharField(max_length=14, choices=Goal)
    title = models.CharField(max_length=120)
    guideline_version = models.ForeignKey(GuidelineVersion, models.PROTECT, null=True, blank=True, related_name="+")
    full_service = models.ForeignKey(Service, models.PROTECT, related_name="+")
    spot_service = models.ForeignKey(Service, models.PROTECT, null=True, blank=True, related_name="+")
    practitioner = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="plans"
    )
    start = models.DateField()
    days = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(730)])
    days_off = models.JSONField(default=list, blank=True)
    on_day_off = models.CharField(
        max_length=4, default="keep", choices=[("keep", "keep"), ("next", "next"), ("drop", "drop")]
    )
    state = models.CharField(max_length=8, choices=State, default=State.PROPOSED)
    spots_alone_reason = models.CharField(
        max_length=300, blank=True, help_text="Why the plan goes on with spots that have no full body near before them."
    )
    review_on = models.DateField(null=True, blank=True)
    reviewed_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-start", "-pk"]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        return reverse("clients:plan", args=[self.pk])

    @property
    def needs_vet(self) -> bool:
        version = self.guideline_version
        return self.goal in GOALS_NEEDING_THE_VET or (version is not None and version.asks_vet)

    @property
    def last_day(self) -> date:
        return self.start + timedelta(days=self.days - 1)


class PlanPhase(PhaseFields):
    plan = models.ForeignKey(Plan, models.CASCADE, related_name="phases")

    class Meta(PhaseFields.Meta):
        constraints = [models.UniqueConstraint(fields=["plan", "position"], name="plan_phase_once")]
