from django.conf import settings
from django.db import models
from django.urls import reverse

from backoffice.documents.models import Document


class DayRound(models.Model):
    """The order of one practitioner's day as last planned, with what did not fit and why."""

    day = models.DateField()
    practitioner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="rounds")
    planned_at = models.DateTimeField()
    leaves = models.TimeField(null=True)
    back = models.TimeField(null=True)
    lunch = models.TimeField(null=True)
    drive_minutes = models.PositiveSmallIntegerField(default=0)
    distance_meters = models.PositiveIntegerField(default=0)
    is_by_road = models.BooleanField(default=False, help_text="From a road engine, not an estimate.")
    unplaced = models.JSONField(default=list, help_text="Barn, visits and reasons of each stop that does not fit.")
    notices = models.JSONField(default=list)
    is_own_order = models.BooleanField(default=False, help_text="Ordered by hand, not by the search.")
    sheet = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-day"]
        constraints = [models.UniqueConstraint(fields=["day", "practitioner"], name="one_round_a_day")]

    def __str__(self) -> str:
        return f"{self.practitioner}, {self.day}"

    def get_absolute_url(self) -> str:
        return reverse("clients:round", args=[self.day.isoformat(), self.practitioner_id])


class RoundStop(models.Model):
    """One stop of the planned day, in order."""

    day_round = models.ForeignKey(DayRound, models.CASCADE, related_name="stops")
    position = models.PositiveSmallIntegerField()
    barn = models.ForeignKey("clients.Barn", models.PROTECT, related_name="+")
    isolation = models.CharField(max_length=8)
    visits = models.ManyToManyField("clients.Visit", related_name="round_stops")
    arrives = models.TimeField()
    starts = models.TimeField()
    ends = models.TimeField()
    drive_minutes = models.PositiveSmallIntegerField()
    drive_meters = models.PositiveIntegerField()

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["day_round", "position"], name="round_stop_once")]

    def __str__(self) -> str:
        return f"{self.position}. {self.barn}"


class FailedDay(models.Model):
    """A day that could not be driven: its visits went to other days; how each stood is kept, to undo it."""

    class Cause(models.TextChoices):
        WEATHER = "weather", "Weather"
        ILLNESS = "illness", "Illness"
        BREAKDOWN = "breakdown", "Vehicle or machine"
        OTHER = "other", "Something else"

    day = models.DateField()
    practitioner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="failed_days")
    cause = models.CharField(max_length=9, choices=Cause)
    words = models.CharField("what owners are told", max_length=120, help_text="It begins each message.")
    freed_at = models.DateTimeField()
    freed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-day", "-pk"]

    def __str__(self) -> str:
        return f"{self.practitioner}, {self.day}"

    def get_absolute_url(self) -> str:
        return reverse("clients:failed-day", args=[self.pk])


class FreedVisit(models.Model):
    """A visit of a failed day as it stood, and the day proposed for it; without one it was released."""

    failed_day = models.ForeignKey(FailedDay, models.CASCADE, related_name="freed")
    visit = models.ForeignKey("clients.Visit", models.PROTECT, related_name="freed")
    was_status = models.CharField(max_length=14)
    was_starts = models.TimeField(null=True)
    was_part = models.PositiveSmallIntegerField()
    was_confirmed = models.BooleanField()
    was_locked = models.BooleanField(default=False)
    new_day = models.DateField(null=True)

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["failed_day", "visit"], name="visit_freed_once_a_day")]

    def __str__(self) -> str:
        return f"{self.visit_id} to {self.new_day}"


class PlanningRun(models.Model):
    """One search for better days over some weeks: how far it is, and the proposal that came of it."""

    class State(models.TextChoices):
        RUNNING = "running", "Running"
        DONE = "done", "Done"
        STOPPED = "stopped", "Stopped, with the best so far"
        FAILED = "failed", "Failed"

    first_day = models.DateField()
    days = models.PositiveSmallIntegerField()
    people = models.ManyToManyField(settings.AUTH_USER_MODEL, related_name="+")
    state = models.CharField(max_length=7, choices=State, default=State.RUNNING)
    percent_done = models.PositiveSmallIntegerField(default=0)
    seen_at = models.DateTimeField(help_text="When the search last said how far it is.")
    stop_asked = models.BooleanField(default=False)
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    visits = models.PositiveSmallIntegerField(default=0)
    seconds_before = models.PositiveIntegerField(default=0)
    seconds_after = models.PositiveIntegerField(default=0)
    metres_before = models.PositiveIntegerField(default=0)
    metres_after = models.PositiveIntegerField(default=0)
    unplaced = models.JSONField(default=list, help_text="Number and name of each visit without a place, and why.")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.first_day}, {self.days} days"

    def get_absolute_url(self) -> str:
        return reverse("clients:planning", args=[self.pk])

    @property
    def minutes_before(self) -> int:
        return round(self.seconds_before / 60)

    @property
    def minutes_after(self) -> int:
        return round(self.seconds_after / 60)

    @property
    def minutes_saved(self) -> int:
        return self.minutes_before - self.minutes_after

    @property
    def metres_saved(self) -> int:
        return self.metres_before - self.metres_after


class ProposedMove(models.Model):
    """A visit that would stand better on another day. Moves of one barn from day to day share a line."""

    class State(models.TextChoices):
        OPEN = "open", "Open"
        ACCEPTED = "accepted", "Accepted"
        LEFT = "left", "Left where it was"

    run = models.ForeignKey(PlanningRun, models.CASCADE, related_name="moves")
    line = models.PositiveSmallIntegerField()
    visit = models.ForeignKey("clients.Visit", models.CASCADE, related_name="+")
    from_day = models.DateField()
    to_day = models.DateField()
    seconds_saved = models.IntegerField(help_text="By this line alone.")
    state = models.CharField(max_length=8, choices=State, default=State.OPEN)
    why_left = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["run", "line", "pk"]
        constraints = [models.UniqueConstraint(fields=["run", "visit"], name="visit_proposed_once_a_run")]

    def __str__(self) -> str:
        return f"{self.visit_id} to {self.to_day}"

    @property
    def minutes_saved(self) -> int:
        return round(self.seconds_saved / 60)
