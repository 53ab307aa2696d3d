from datetime import date

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from backoffice.documents.models import Document
from backoffice.links.models import PrivateLink
from clients.animals.models import Animal
from clients.people.models import Barn, Person, VetPractice


class Wording(models.Model):
    """A form's text, the practitioner's own, in versions."""

    class Kind(models.TextChoices):
        CONSENT = "consent", "Consent to sessions"
        RELEASE = "release", "Release for the place"
        PHOTOS = "photos", "Photo permission"
        AUTHORITY = "authority", "Agent's authority"
        HIRE = "hire", "Hire agreement"
        TERMS = "terms", "Terms of business"
        PACKAGE = "package", "Package terms"
        VET = "vet", "Vet-referral request"

    kind = models.CharField(max_length=10, choices=Kind)
    title = models.CharField(max_length=120)

    class Meta:
        ordering = ["kind", "title"]

    def __str__(self) -> str:
        return self.title

    def get_absolute_url(self) -> str:
        return reverse("clients:wording", args=[self.pk])


class WordingVersion(models.Model):
    wording = models.ForeignKey(Wording, models.CASCADE, related_name="versions")
    number = models.PositiveSmallIntegerField()
    text = models.TextField(max_length=20_000)
    must_sign_again = models.BooleanField(default=False)
    valid_months = models.PositiveSmallIntegerField(
        default=12, validators=[MinValueValidator(1), MaxValueValidator(120)]
    )
    signed_by = models.JSONField(default=list, blank=True, help_text="Capacities that may sign it; none means any.")
    place = models.CharField(max_length=80, blank=True, help_text="State or country it is for; empty means everywhere.")
    warning = models.TextField(max_length=4000, blank=True, help_text="As the practitioner pasted it.")
    warning_source = models.CharField(max_length=300, blank=True)
    warning_on = models.DateField(null=True, blank=True)
    is_starter = models.BooleanField("starting text, not legal advice", default=False)
    published_on = models.DateField()

    class Meta:
        ordering = ["wording", "-number"]
        constraints = [
            models.UniqueConstraint(fields=["wording", "number"], name="wording_version_once"),
            models.CheckConstraint(
                condition=Q(warning="") | (~Q(warning_source="") & Q(warning_on__isnull=False)),
                name="warning_has_source_and_date",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.wording}, version {self.number}"

    @property
    def signed_by_words(self) -> str:
        return ", ".join(str(Signature.Capacity(capacity).label) for capacity in self.signed_by)


class Form(models.Model):
    """One paper for one signer about one horse or place. Once signed it is never edited."""

    class State(models.TextChoices):
        TO_SIGN = "to_sign", "To sign"
        SIGNED = "signed", "Signed"
        WITHDRAWN = "withdrawn", "Withdrawn"
        LAPSED = "lapsed", "Lapsed"

    wording_version = models.ForeignKey(WordingVersion, models.PROTECT, related_name="forms")
    animal = models.ForeignKey(Animal, models.PROTECT, null=True, blank=True, related_name="forms")
    barn = models.ForeignKey(Barn, models.PROTECT, null=True, blank=True, related_name="forms")
    signer = models.ForeignKey(Person, models.PROTECT, related_name="forms")
    agent = models.ForeignKey(
        Person,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="authorities",
        help_text="Who may act, where the paper is an agent's authority.",
    )
    state = models.CharField(max_length=9, choices=State, default=State.TO_SIGN)
    made_at = models.DateTimeField()
    valid_from = models.DateField(null=True, blank=True)
    valid_until = models.DateField(null=True, blank=True)
    withdrawn_on = models.DateField(null=True, blank=True)
    cap_amount = models.DecimalField(
        "spending cap a month",
        max_digits=12,
        decimal_places=3,
        null=True,
        blank=True,
        validators=[MinValueValidator(0)],
    )
    document = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")
    scans = models.ManyToManyField(Document, blank=True, related_name="+", help_text="Files as given, where on paper.")

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=~Q(state="signed") | (Q(valid_from__isnull=False) & Q(valid_until__gte=F("valid_from"))),
                name="signed_form_has_dates",
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_on__isnull=True) | Q(state="withdrawn"), name="withdrawn_form_says_so"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.wording_version.wording.get_kind_display()}: {self.signer}"

    def get_absolute_url(self) -> str:
        return reverse("clients:form", args=[self.pk])

    def state_on(self, day: date) -> str:
        """The state as it is shown: a signed form whose last day is past has lapsed."""
        is_over = self.valid_until is not None and self.valid_until < day
        return self.State.LAPSED if self.state == self.State.SIGNED and is_over else self.state

    def is_in_force(self, day: date) -> bool:
        if (
            self.state not in (self.State.SIGNED, self.State.WITHDRAWN)
            or self.valid_from is None
            or self.valid_until is None
        ):
            return False
        return self.valid_from <= day <= self.valid_until and (self.withdrawn_on is None or day < self.withdrawn_on)


class Signature(models.Model):
    """What was signed, by whom, as what, when and on what: evidence, kept with the exact text."""

    class Capacity(models.TextChoices):
        SELF = "self", "For myself"
        OWNER = "owner", "Owner"
        CO_OWNER = "co_owner", "Co-owner"
        GUARDIAN = "guardian", "Parent or guardian"
        AGENT = "agent", "Agent with written authority"
        ORGANIZATION = "organization", "For the organization"

    form = models.OneToOneField(Form, models.PROTECT, related_name="signature")
    name_typed = models.CharField(max_length=120)
    capacity = models.CharField(max_length=12, choices=Capacity)
    strokes = models.JSONField(
        blank=True, help_text="Lists of [x, y] points between 0 and 1000; none where it was signed on paper."
    )
    text = models.TextField()
    text_sha256 = models.CharField(max_length=64)
    signed_at = models.DateTimeField()
    paper_signed_on = models.DateField(
        null=True, blank=True, help_text="The day on the paper, where it was signed on paper and scanned in."
    )
    device = models.CharField(max_length=300, blank=True)
    address = models.GenericIPAddressField(null=True, blank=True)
    link = models.ForeignKey(PrivateLink, models.PROTECT, null=True, blank=True, related_name="+")
    witnessed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    def __str__(self) -> str:
        return f"{self.name_typed} ({self.get_capacity_display()})"


class VetReferral(models.Model):
    """What a vet was asked about a horse, and the written answer with its limits and dates."""

    class Answer(models.TextChoices):
        WAITING = "waiting", "Not answered"
        YES = "yes", "Yes"
        CONDITIONS = "conditions", "Yes, with conditions"
        NO = "no", "No"

    class Confirmed(models.TextChoices):
        CALL_BACK = "call_back", "We called the practice back on a number we knew"
        KNOWN_ADDRESS = "known_address", "It came from an address of the practice that we knew"
        OTHER = "other", "In another way"

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="referrals")
    practice = models.ForeignKey(VetPractice, models.PROTECT, related_name="referrals")
    asked = models.TextField("what is asked", max_length=2000)
    asked_on = models.DateField()
    reminded_on = models.DateField(null=True, blank=True)
    answer = models.CharField(max_length=10, choices=Answer, default=Answer.WAITING)
    answered_on = models.DateField(null=True, blank=True)
    vet_name = models.CharField(max_length=120, blank=True)
    registration_number = models.CharField(max_length=60, blank=True)
    examined_on = models.DateField(null=True, blank=True)
    service_kinds = models.JSONField(default=list, blank=True, help_text="Kinds of service covered; empty means all.")
    places = models.JSONField(default=list, blank=True, help_text="Places on the body covered; empty means all.")
    conditions = models.TextField(max_length=2000, blank=True)
    max_minutes = models.PositiveSmallIntegerField(
        null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(300)]
    )
    since = models.DateField(null=True, blank=True)
    until = models.DateField(null=True, blank=True)
    document = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")
    scans = models.ManyToManyField(Document, blank=True, related_name="+", help_text="The letter as given, if one.")
    confirmed = models.CharField("how we confirmed the letter", max_length=13, choices=Confirmed, blank=True)
    confirmed_note = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["-asked_on", "-pk"]

    def __str__(self) -> str:
        return f"{self.animal}: {self.get_answer_display()}"

    def get_absolute_url(self) -> str:
        return reverse("clients:referral", args=[self.pk])


class VetCall(models.Model):
    """What a vet said on the telephone: a note. It lifts nothing that needs writing; a no holds all the same."""

    referral = models.ForeignKey(VetReferral, models.PROTECT, related_name="calls")
    vet_name = models.CharField("who spoke", max_length=120)
    said = models.TextField("what was said", max_length=2000)
    says_no = models.BooleanField("it was a no", default=False)
    heard_at = models.DateTimeField()
    heard_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["heard_at", "pk"]

    def __str__(self) -> str:
        return f"Call about {self.referral}"


class PlaceLaw(models.Model):
    """The law as the practitioner recorded it, for a place and a kind of service, with its source and date."""

    class Rule(models.TextChoices):
        UNKNOWN = "unknown", "Unknown"
        FREE = "free", "Free"
        VET_FIRST = "vet_first", "Vet first"
        NOT_ALLOWED = "not_allowed", "Not allowed"

    place = models.CharField(max_length=80)
    uses_machine = models.BooleanField("for machine work", default=True)
    rule = models.CharField(max_length=11, choices=Rule)
    source = models.CharField(max_length=300)
    recorded_on = models.DateField()

    class Meta:
        ordering = ["place", "-recorded_on"]

    def __str__(self) -> str:
        return f"{self.place}: {self.get_rule_display()}"


class StopNote(models.Model):
    """Work was stopped for the vet: holds the horse until closed by name, with what the vet said."""

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="stop_notes")
    seen = models.TextField(max_length=2000)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    vet_said = models.TextField(max_length=2000, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-opened_at"]

    def __str__(self) -> str:
        return f"Stop note of {self.opened_at:%Y-%m-%d}"


class Decision(models.Model):
    """Permission to work as it was decided at one door, with the facts used, so that it can be shown years later."""

    class Door(models.TextChoices):
        QUOTE = "quote", "Quoting"
        ACCEPTANCE = "acceptance", "Acceptance"
        BOOKING = "booking", "Booking"
        ROUND = "round", "The morning's round"
        BARN = "barn", "At the barn"
        HIRE = "hire", "Handing over a hired machine"

    class Result(models.TextChoices):
        READY = "ready", "Ready"
        ASK = "ask", "Ask"
        HOLD = "hold", "Hold"

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="decisions")
    door = models.CharField(max_length=10, choices=Door)
    for_day = models.DateField()
    result = models.CharField(max_length=5, choices=Result)
    reasons = models.JSONField(default=list)
    facts = models.JSONField(default=dict)
    override_reason = models.CharField(max_length=500, blank=True)
    decided_at = models.DateTimeField()
    decided_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-decided_at", "-pk"]

    def __str__(self) -> str:
        return f"{self.animal} {self.for_day}: {self.get_result_display()}"
