from datetime import datetime, time, timedelta

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.urls import reverse

from backoffice.documents.models import Document
from clients.animals.models import Animal
from clients.kit.models import Applicator, Machine
from clients.paperwork.models import Decision
from clients.people.models import Barn, Person
from clients.plans.models import Plan, Service


class Visit(models.Model):
    """One horse at a stop. A stop is one barn on one day in one part of it."""

    class Status(models.TextChoices):
        PENCILLED = "pencilled", "Pencilled"
        BOOKED = "booked", "Booked"
        COMPLETED = "completed", "Completed"
        COULD_NOT_WORK = "could_not_work", "Could not work"
        CANCELLED = "cancelled", "Cancelled"

    class Cause(models.TextChoices):
        UNWELL = "unwell", "Horse unwell"
        WET = "wet", "Horse wet"
        DANGEROUS = "dangerous", "Not safe to handle"
        ABSENT = "absent", "Nobody there"
        WEATHER = "weather", "Weather"
        REFUSED = "refused", "Horse would not have it"

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="visits")
    barn = models.ForeignKey(Barn, models.PROTECT, related_name="visits")
    plan = models.ForeignKey(Plan, models.PROTECT, null=True, blank=True, related_name="visits")
    service = models.ForeignKey(Service, models.PROTECT, related_name="+")
    practitioner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="visits", db_index=False)
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, blank=True, related_name="visits")
    day = models.DateField()
    part = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1), MaxValueValidator(2)])
    starts = models.TimeField(null=True, blank=True, help_text="Local time; empty while only pencilled.")
    minutes = models.PositiveSmallIntegerField(validators=[MinValueValidator(5), MaxValueValidator(300)])
    is_confirmed = models.BooleanField("time confirmed with the owner", default=False)
    is_locked = models.BooleanField("kept at its time", default=False, help_text="By ourselves; nobody was told.")
    status = models.CharField(max_length=14, choices=Status, default=Status.PENCILLED)
    planned_day = models.DateField(null=True, blank=True, help_text="The day that the cadence gave.")
    booking_decision = models.ForeignKey(Decision, models.PROTECT, null=True, blank=True, related_name="+")
    start_decision = models.ForeignKey(Decision, models.PROTECT, null=True, blank=True, related_name="+")
    completed_at = models.DateTimeField(null=True, blank=True)
    outside_hours_reason = models.CharField(
        max_length=300, blank=True, help_text="Why it was booked outside the barn's or the business's hours."
    )
    spot_alone_reason = models.CharField(
        max_length=300, blank=True, help_text="Why this spot was booked without a full body near before it."
    )
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancel_reason = models.CharField(max_length=300, blank=True)
    is_late_cancel = models.BooleanField(default=False)
    cause = models.CharField(max_length=9, choices=Cause, blank=True)
    note = models.TextField(max_length=4000, blank=True)
    report = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")
    earlier_reports = models.ManyToManyField(Document, related_name="+", help_text="Before something was added.")
    call_list_reason = models.CharField(max_length=300, blank=True, help_text="Why no next visit was set on leaving.")

    class Meta:
        ordering = ["day", "part", "starts", "pk"]
        indexes = [
            models.Index(fields=["day"], name="visit_day"),
            models.Index(fields=["practitioner", "day"], name="visit_round"),
            models.Index(fields=["status", "day"], name="visit_status"),
            models.Index(fields=["completed_at"], name="visit_completed"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(status__in=["pencilled", "cancelled"]) | Q(starts__isnull=False),
                name="booked_visit_has_a_time",
            ),
            models.CheckConstraint(
                condition=Q(status__in=["pencilled", "cancelled"]) | Q(booking_decision__isnull=False),
                name="booked_visit_has_a_decision",
            ),
            models.CheckConstraint(
                condition=~Q(status="completed") | Q(completed_at__isnull=False),
                name="completed_visit_has_a_moment",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.animal}, {self.day:%a} {self.day.day} {self.day:%b}"

    def get_absolute_url(self) -> str:
        return reverse("clients:visit", args=[self.pk])

    @property
    def areas_worked(self) -> set[str]:
        """The places of all its sessions, which a page about the visit has read already."""
        return {area.area for session in self.sessions.all() for area in session.areas.all()}

    @property
    def is_open(self) -> bool:
        return self.status in (self.Status.PENCILLED, self.Status.BOOKED)

    @property
    def ends(self) -> time | None:
        if self.starts is None:
            return None
        return (datetime.combine(self.day, self.starts) + timedelta(minutes=self.minutes)).time()


class EarlierWork(models.Model):
    """Work on a horse of before these records, as a diary or list has it: no paper and no money hang on it."""

    animal = models.ForeignKey(Animal, models.CASCADE, related_name="earlier_work")
    service = models.ForeignKey(Service, models.PROTECT, related_name="+")
    day = models.DateField()
    minutes = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MaxValueValidator(300)])
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-day", "-pk"]
        constraints = [models.UniqueConstraint(fields=["animal", "service", "day"], name="earlier_work_once")]

    def __str__(self) -> str:
        return f"{self.service} of {self.day:%-d %b %Y}"


class Session(models.Model):
    """One service given at a visit, as it was done."""

    visit = models.ForeignKey(Visit, models.PROTECT, related_name="sessions")
    service = models.ForeignKey(Service, models.PROTECT, related_name="+")
    minutes = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(300)])
    ease_before = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MaxValueValidator(10)])
    ease_after = models.PositiveSmallIntegerField(null=True, blank=True, validators=[MaxValueValidator(10)])
    reaction = models.CharField(max_length=300, blank=True)
    note = models.TextField(max_length=4000, blank=True)

    class Meta:
        ordering = ["visit", "pk"]

    def __str__(self) -> str:
        return f"{self.service}, {self.minutes} min"


class SessionArea(models.Model):
    """One place on the body: minutes, applicator, setting."""

    session = models.ForeignKey(Session, models.CASCADE, related_name="areas")
    position = models.PositiveSmallIntegerField()
    area = models.CharField(max_length=80)
    minutes = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(120)])
    applicator = models.ForeignKey(Applicator, models.PROTECT, null=True, blank=True, related_name="+")
    setting = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(20)]
    )
    reaction = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["session", "position"]
        constraints = [models.UniqueConstraint(fields=["session", "position"], name="session_area_once")]

    def __str__(self) -> str:
        return f"{self.area} {self.minutes} min"


class ArrivalLook(models.Model):
    """The look-over on arrival, once a stop and horse: what was seen before anything was switched on."""

    visit = models.OneToOneField(Visit, models.CASCADE, related_name="arrival")
    no_stop_sign = models.BooleanField("no stop sign seen")
    is_dry = models.BooleanField("dry, no spray or liniment")
    moves_soundly = models.BooleanField("moving as usual")
    handler_present = models.BooleanField("handler present")
    electronics_away = models.BooleanField("phones and keys 18 in (46 cm) away")
    looked_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"arrival of {self.visit_id}"


class Told(models.Model):
    """Somebody was told something about a visit: marked by hand, since no message leaves by itself."""

    class What(models.TextChoices):
        COMING = "coming", "When we come, and what to prepare"
        LATE = "late", "That we are late"
        FREED = "freed", "That the day fails, and the new day"

    visit = models.ForeignKey(Visit, models.CASCADE, related_name="told")
    person = models.ForeignKey(Person, models.PROTECT, related_name="+")
    what = models.CharField(max_length=6, choices=What)
    day = models.DateField(help_text="The day of the visit as it was told; on another day they are to be told again.")
    told_at = models.DateTimeField()
    told_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["told_at"]

    def __str__(self) -> str:
        return f"{self.person}, {self.get_what_display()}"


class CallLater(models.Model):
    """A horse put away from the call list until a day."""

    animal = models.OneToOneField(Animal, models.CASCADE, related_name="call_later")
    until = models.DateField("on the list again from")
    why = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["until"]

    def __str__(self) -> str:
        return f"{self.animal}, {self.until}"


class StopList(models.Model):
    """What was ticked of a list at one stop: set-up before anything is switched on, cleaning before going on."""

    class Kind(models.TextChoices):
        SET_UP = "set_up", "Set-up list"
        CLEANING = "cleaning", "Cleaning list"

    kind = models.CharField(max_length=8, choices=Kind)
    day = models.DateField()
    practitioner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    barn = models.ForeignKey(Barn, models.PROTECT, related_name="+")
    done = models.JSONField(default=list, help_text="Keys of the lists in stop_lists.")
    noted_at = models.DateTimeField()

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "day", "practitioner", "barn"], name="listed_once_a_stop")
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.barn}, {self.day}"


class VisitPhoto(models.Model):
    """A photo taken at a visit. Whether it may be shared is the owner's to say (`Animal.shares_photos`)."""

    visit = models.ForeignKey(Visit, models.CASCADE, related_name="photos")
    document = models.ForeignKey(Document, models.PROTECT, related_name="+")
    words = models.CharField(max_length=200, blank=True)
    taken_at = models.DateTimeField()

    class Meta:
        ordering = ["taken_at", "pk"]

    def __str__(self) -> str:
        return self.words or f"photo of {self.visit_id}"
