from django.conf import settings
from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from backoffice.documents.models import Document
from clients.people.models import Person


class Applicator(models.Model):
    """A loop, pad or paddle. The widest is for general upkeep, the narrowest for a small place."""

    name = models.CharField(max_length=60, unique=True)
    width_cm = models.PositiveSmallIntegerField(null=True, blank=True)
    is_in_use = models.BooleanField(default=True)

    class Meta:
        ordering = ["-width_cm", "name"]

    def __str__(self) -> str:
        return self.name


class Machine(models.Model):
    """A pulsed-field machine; it can be in one place only."""

    name = models.CharField(max_length=80, unique=True)
    serial_number = models.CharField(max_length=60, blank=True)
    inspection_due = models.DateField(null=True, blank=True)
    is_in_use = models.BooleanField(default=True)
    applicators = models.ManyToManyField(Applicator, blank=True, related_name="machines")
    note = models.TextField(max_length=1000, blank=True)

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name

    def get_absolute_url(self) -> str:
        return reverse("clients:machine", args=[self.pk])


class Inspection(models.Model):
    """A machine was looked over for one thing by somebody who may, and when it is due again."""

    class Kind(models.TextChoices):
        MAKER = "maker", "By the maker or its workshop"
        CABLE = "cable", "Cables and plugs"
        PROTECTOR = "protector", "Fault-current protector (GFCI or RCD)"
        LEAD = "lead", "Outdoor lead"

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="inspections")
    kind = models.CharField(max_length=9, choices=Kind, default=Kind.MAKER)
    done_on = models.DateField()
    due_on = models.DateField("due again on")
    done_by = models.CharField("who looked it over", max_length=120)
    note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-done_on", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(due_on__gt=F("done_on")), name="inspection_due_after_done")]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {self.done_on}"


class Fault(models.Model):
    """Something is wrong with a machine. While it takes it out of use, nobody books it or hires it out."""

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="faults")
    seen = models.CharField("what is wrong", max_length=300)
    takes_out_of_use = models.BooleanField("not to be used until it is put right", default=True)
    reported_on = models.DateField()
    reported_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    put_right = models.CharField("how it was put right, and by whom", max_length=300, blank=True)
    put_right_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-reported_on", "-pk"]

    def __str__(self) -> str:
        return self.seen


class Hire(models.Model):
    """A machine out with a payer from a day to a day, both included."""

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="hires")
    person = models.ForeignKey(Person, models.PROTECT, related_name="hires")
    since = models.DateField()
    until = models.DateField()
    returned_on = models.DateField(null=True, blank=True)
    condition_back = models.CharField("how it came back", max_length=300, blank=True)
    missing_back = models.CharField("what did not come back", max_length=300, blank=True)

    class Meta:
        ordering = ["-since"]
        constraints = [models.CheckConstraint(condition=Q(until__gte=F("since")), name="hire_since_before_until")]

    def __str__(self) -> str:
        return f"{self.machine} with {self.person}"

    @property
    def days_late(self) -> int:
        """How many days after its last one it came back."""
        return max(0, (self.returned_on - self.until).days) if self.returned_on else 0


class HourReading(models.Model):
    """What the hour meter of a machine said."""

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="readings")
    read_on = models.DateField()
    hours = models.DecimalField(max_digits=7, decimal_places=1, validators=[MinValueValidator(0)])

    class Meta:
        ordering = ["-read_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.hours} h on {self.read_on}"


class Handover(models.Model):
    """What was handed over and told when a machine went out, ticked and signed by whoever took it; sealed as a PDF."""

    hire = models.OneToOneField(Hire, models.PROTECT, related_name="handover")
    ticked = models.JSONField(help_text="Each line as it was read and ticked.")
    hours = models.DecimalField(max_digits=7, decimal_places=1, null=True)
    name_typed = models.CharField(max_length=120)
    strokes = models.JSONField(blank=True, help_text="Lists of [x, y] points between 0 and 1000.")
    signed_at = models.DateTimeField()
    witnessed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    document = models.ForeignKey(Document, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-signed_at"]

    def __str__(self) -> str:
        return f"Handover of {self.hire_id}"
