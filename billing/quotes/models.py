from datetime import date
from decimal import Decimal

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from backoffice.documents.models import Document
from backoffice.links.models import PrivateLink
from billing.fields import StatedOrderJSON, money_field
from billing.packages.models import MonthlyPlan, Package
from billing.prices.models import PriceList
from clients.animals.models import Animal
from clients.people.models import Person
from clients.plans.models import Goal, GuidelineVersion, PhaseFields, Plan, Service
from clients.visits.models import Visit


class Quote(models.Model):
    """Several schedules for the same horses, priced on one day; `frozen` holds what an offered one was priced with."""

    class State(models.TextChoices):
        DRAFT = "draft", "Draft"
        OFFERED = "offered", "Offered"
        ACCEPTED = "accepted", "Accepted"
        DECLINED = "declined", "Declined"
        LAPSED = "lapsed", "Lapsed"
        REPLACED = "replaced", "Replaced"

    number = models.PositiveIntegerField(null=True, blank=True, help_text="Given when it is first offered.")
    version = models.PositiveSmallIntegerField(default=1)
    state = models.CharField(max_length=8, choices=State, default=State.DRAFT)
    title = models.CharField(max_length=120)
    person = models.ForeignKey(Person, models.PROTECT, related_name="quotes")
    goal = models.CharField(max_length=14, choices=Goal)
    guideline_version = models.ForeignKey(GuidelineVersion, models.PROTECT, null=True, blank=True, related_name="+")
    full_service = models.ForeignKey(Service, models.PROTECT, related_name="+")
    spot_service = models.ForeignKey(Service, models.PROTECT, null=True, blank=True, related_name="+")
    price_list = models.ForeignKey(PriceList, models.PROTECT, related_name="+")
    currency = models.CharField(max_length=3)
    event_on = models.DateField("day of the event", null=True, blank=True)
    start = models.DateField()
    days = models.PositiveSmallIntegerField(default=28, validators=[MinValueValidator(1), MaxValueValidator(730)])
    budget = money_field(null=True, blank=True, validators=[MinValueValidator(0)])
    note = models.TextField("words to the owner", max_length=2000, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    offered_at = models.DateTimeField(null=True, blank=True)
    expires_on = models.DateField(null=True, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    decline_reason = models.CharField(max_length=500, blank=True)
    frozen = StatedOrderJSON(
        null=True, blank=True, help_text="The pricing request as offered, in the calculator's format."
    )
    document = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")
    replaces = models.OneToOneField("self", models.PROTECT, null=True, blank=True, related_name="replaced_by")

    class Meta:
        ordering = ["-made_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["number", "version"], name="quote_number_once"),
            models.CheckConstraint(
                condition=Q(state="draft") | (Q(number__isnull=False) & Q(frozen__isnull=False)),
                name="offered_quote_is_frozen",
            ),
        ]

    def __str__(self) -> str:
        return f"Quote {self.number or 'draft'}: {self.title}"

    def get_absolute_url(self) -> str:
        return reverse("billing:quote", args=[self.pk])

    @property
    def is_draft(self) -> bool:
        return self.state == self.State.DRAFT

    def state_on(self, day: date) -> str:
        """The state in words; an offer past its last day is lapsed even before the night has marked it."""
        over = self.state == self.State.OFFERED and not self.is_answerable(day)
        return self.State.LAPSED if over else self.state

    def is_answerable(self, day: date) -> bool:
        return self.state == self.State.OFFERED and self.expires_on is not None and day <= self.expires_on


class QuoteHorse(models.Model):
    quote = models.ForeignKey(Quote, models.CASCADE, related_name="horses")
    animal = models.ForeignKey(Animal, models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["quote", "animal"], name="horse_once_a_quote")]

    def __str__(self) -> str:
        return str(self.animal)


class Option(models.Model):
    """One row of the comparison: a schedule for each horse.

    A hidden one stays with the practitioner: it is neither offered nor drawn. At most one is preferred, shown to
    the owner as "the one I would choose" with its reason.
    """

    quote = models.ForeignKey(Quote, models.CASCADE, related_name="options")
    position = models.PositiveSmallIntegerField()
    name = models.CharField(max_length=80)
    text = models.CharField(max_length=200, blank=True)
    is_chosen = models.BooleanField(default=False)
    is_hidden = models.BooleanField(default=False)
    is_preferred = models.BooleanField(default=False)
    preferred_why = models.CharField(max_length=300, blank=True)
    package = models.ForeignKey(
        Package, models.PROTECT, null=True, blank=True, related_name="+", help_text="Each owner buys one."
    )
    monthly_plan = models.ForeignKey(
        MonthlyPlan, models.PROTECT, null=True, blank=True, related_name="+", help_text="For each horse by visits."
    )
    discount_percent = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    discount_amount = money_field(null=True, blank=True)
    discount_reason = models.CharField(max_length=120, blank=True)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["quote", "name"], name="option_name_once"),
            models.UniqueConstraint(fields=["quote"], condition=Q(is_chosen=True), name="one_chosen_option"),
            models.UniqueConstraint(fields=["quote"], condition=Q(is_preferred=True), name="one_preferred_option"),
            models.CheckConstraint(
                condition=Q(is_preferred=False) | Q(is_hidden=False), name="preferred_option_is_shown"
            ),
            models.CheckConstraint(
                condition=(Q(discount_percent__isnull=True) & Q(discount_amount__isnull=True))
                | (~Q(discount_reason="") & (Q(discount_percent__isnull=True) | Q(discount_amount__isnull=True))),
                name="option_discount_has_a_reason",
            ),
        ]

    def __str__(self) -> str:
        return self.name


class OptionSchedule(models.Model):
    class By(models.TextChoices):
        VISITS = "visits", "Visits"
        HIRE = "hire", "Hire"

    option = models.ForeignKey(Option, models.CASCADE, related_name="schedules")
    animal = models.ForeignKey(Animal, models.PROTECT, related_name="+")
    by = models.CharField(max_length=6, choices=By, default=By.VISITS)
    follow_ups = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(50)])
    hired_with = models.ForeignKey(
        Animal, models.PROTECT, null=True, blank=True, related_name="+", help_text="The horse whose machine it shares."
    )
    shift = models.PositiveSmallIntegerField(default=0, help_text="Days after the quote's start.")
    days_off = models.JSONField(default=list, blank=True)
    on_day_off = models.CharField(
        max_length=4, default="keep", choices=[("keep", "keep"), ("next", "next"), ("drop", "drop")]
    )

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["option", "animal"], name="schedule_once_a_horse")]

    def __str__(self) -> str:
        return f"{self.option}: {self.animal}"


class OptionPhase(PhaseFields):
    schedule = models.ForeignKey(OptionSchedule, models.CASCADE, related_name="phases")

    class Meta(PhaseFields.Meta):
        constraints = [models.UniqueConstraint(fields=["schedule", "position"], name="option_phase_once")]


class Acceptance(models.Model):
    """The owner's yes to one option: name, strokes, moment and the figures they saw."""

    quote = models.OneToOneField(Quote, models.PROTECT, related_name="acceptance")
    option = models.ForeignKey(Option, models.PROTECT, related_name="+")
    name_typed = models.CharField(max_length=120)
    strokes = models.JSONField()
    signed_at = models.DateTimeField()
    device = models.CharField(max_length=300, blank=True)
    address = models.GenericIPAddressField(null=True, blank=True)
    link = models.ForeignKey(PrivateLink, models.PROTECT, null=True, blank=True, related_name="+")
    total = money_field()
    at_most = StatedOrderJSON(default=dict, help_text="The promise to each owner named in the quote, as amounts.")
    plans = models.ManyToManyField(Plan, related_name="+")

    def __str__(self) -> str:
        return f"{self.quote} accepted by {self.name_typed}"


class AgreedPlan(models.Model):
    """A plan that was quoted: the price of each session is the quote's, whatever the price list says later."""

    plan = models.OneToOneField(Plan, models.PROTECT, related_name="+")
    quote = models.ForeignKey(Quote, models.PROTECT, related_name="agreed_plans")
    option = models.ForeignKey(Option, models.PROTECT, related_name="+")
    full_price = money_field(null=True, blank=True)
    spot_price = money_field(null=True, blank=True)
    call_out_at_most = money_field(default=0)

    def __str__(self) -> str:
        return f"{self.plan} at {self.quote}"

    def price_of(self, service: Service) -> Decimal | None:
        """None for a service that the plan does not hold; `plan` is loaded."""
        return {self.plan.full_service_id: self.full_price, self.plan.spot_service_id: self.spot_price}.get(service.pk)


class AgreedHire(models.Model):
    """A machine that was quoted, at the quote's prices: one rent and the same visits for all horses that share it.

    Without `collection` the owner returns the machine; at nothing, its call-out alone is charged.
    """

    class Split(models.TextChoices):
        HORSE = "horse", "Equally by horse"
        OWNER = "owner", "Equally by owner, then by horse"

    quote = models.ForeignKey(Quote, models.PROTECT, related_name="agreed_hires")
    option = models.ForeignKey(Option, models.PROTECT, related_name="+")
    start = models.DateField("first day")
    last_day = models.DateField()
    split = models.CharField(max_length=5, choices=Split)
    rent = money_field()
    rent_words = models.CharField(max_length=120)
    delivery = money_field(default=0)
    collection = money_field(null=True, blank=True)
    training = money_field(default=0)
    follow_up = money_field(default=0)
    call_out_at_most = money_field(default=0)
    visits = models.ManyToManyField(Visit, related_name="+")

    class Meta:
        ordering = ["start", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(last_day__gte=F("start")), name="agreed_hire_ends_after_its_start")
        ]

    def __str__(self) -> str:
        return f"Hire by {self.quote}"

    @property
    def animals(self) -> list[Animal]:
        """In the stated order; `horses` are loaded."""
        return [horse.animal for horse in self.horses.all()]

    def price_of(self, service: Service) -> Decimal | None:
        """What a training or a follow-up costs; None for a service that is no part of a hire."""
        prices = {Service.Kind.TRAINING: self.training, Service.Kind.FOLLOW_UP: self.follow_up}
        return prices.get(Service.Kind(service.kind))


class AgreedHireHorse(models.Model):
    hire = models.ForeignKey(AgreedHire, models.CASCADE, related_name="horses")
    animal = models.ForeignKey(Animal, models.PROTECT, related_name="+")
    position = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["position"]
        constraints = [models.UniqueConstraint(fields=["hire", "animal"], name="horse_once_a_hire")]

    def __str__(self) -> str:
        return str(self.animal)


class Question(models.Model):
    """What the owner asked on the page of the quote, and the answer once it is given."""

    quote = models.ForeignKey(Quote, models.CASCADE, related_name="questions")
    text = models.TextField(max_length=1000)
    asked_at = models.DateTimeField()
    answer = models.TextField(max_length=2000, blank=True)
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["asked_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(answered_at__isnull=True, answer="")
                | (Q(answered_at__isnull=False, answered_by__isnull=False) & ~Q(answer="")),
                name="question_answered_whole",
            )
        ]

    def __str__(self) -> str:
        return f"{self.quote}: {self.text[:60]}"


class DrivingBeside(models.Model):
    """What each option of a quote would add to the driving of the coming weeks, only for the practitioner."""

    class State(models.TextChoices):
        RUNNING = "running", "Running"
        DONE = "done", "Done"
        FAILED = "failed", "Failed"

    quote = models.OneToOneField(Quote, models.CASCADE, related_name="driving")
    state = models.CharField(max_length=7, choices=State, default=State.RUNNING)
    asked_at = models.DateTimeField()
    found = models.JSONField(
        default=list, help_text="Per option its name, the extra drive as a range, seed and effort."
    )

    def __str__(self) -> str:
        return f"Driving of {self.quote}"
