from decimal import Decimal
from fractions import Fraction
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.urls import reverse

from backoffice.documents.models import Document
from billing.fields import money_field
from billing.packages.sold import Deduction, PackageSold, PlanMonth
from billing.quotes.models import AgreedHire
from billing.vouchers.models import Voucher
from clients.animals.models import Animal
from clients.animals.shares import say_share
from clients.people.models import Person
from clients.visits.models import Session, Visit


class Charges(models.QuerySet["Charge"]):
    def standing(self) -> Self:
        """Those that still say that their work is charged or waived."""
        return self.exclude(state=Charge.State.TAKEN_BACK)


class Charge(models.Model):
    """What is owed for one thing, and why it is what it is. Confirmed, or waived, by a person."""

    class Kind(models.TextChoices):
        SESSION = "session", "Session"
        CALL_OUT = "call_out", "Call-out"
        COULD_NOT_WORK = "could_not_work", "Could-not-work fee"
        LATE_CANCEL = "late_cancel", "Late-cancel fee"
        LATE_FEE = "late_fee", "Late fee"
        DAY_RATE = "day_rate", "Day at a show"
        LATE_RETURN = "late_return", "Late return of the machine"
        OTHER = "other", "Something else"
        RENT = "rent", "Hire of the machine"
        DELIVERY = "delivery", "Delivery of the machine"
        COLLECTION = "collection", "Collection of the machine"
        PACKAGE = "package", "Package"
        PLAN_MONTH = "plan_month", "Month of a plan"
        VOUCHER = "voucher", "Gift voucher"
        DEPOSIT = "deposit", "Booking deposit"
        DEPOSIT_OFF = "deposit_off", "Booking deposit taken off"
        DISCOUNT = "discount", "Discount taken off"

    class State(models.TextChoices):
        CONFIRMED = "confirmed", "Confirmed"
        WAIVED = "waived", "Waived"
        TAKEN_BACK = "taken_back", "Taken back"  # work is charged anew

    kind = models.CharField(max_length=14, choices=Kind)
    state = models.CharField(max_length=10, choices=State, default=State.CONFIRMED)
    animal = models.ForeignKey(Animal, models.PROTECT, null=True, blank=True, related_name="+")
    visit = models.ForeignKey(Visit, models.PROTECT, null=True, blank=True, related_name="+")
    session = models.ForeignKey(Session, models.PROTECT, null=True, blank=True, related_name="+")
    sold = models.OneToOneField(PackageSold, models.PROTECT, null=True, blank=True, related_name="charge")
    plan_month = models.OneToOneField(PlanMonth, models.PROTECT, null=True, blank=True, related_name="charge")
    voucher = models.OneToOneField(Voucher, models.PROTECT, null=True, blank=True, related_name="charge")
    hire = models.ForeignKey(AgreedHire, models.PROTECT, null=True, blank=True, related_name="charges")
    deduction = models.ForeignKey(Deduction, models.PROTECT, null=True, blank=True, related_name="charges")
    work_day = models.DateField()
    text = models.CharField(max_length=200)
    reason = models.CharField(max_length=300, help_text="Why it is this amount.")
    amount = money_field()
    tax_category = models.CharField(max_length=20, default="standard")
    changed_reason = models.CharField(max_length=300, blank=True)
    waived_reason = models.CharField(max_length=300, blank=True)
    confirmed_at = models.DateTimeField()
    confirmed_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    objects = Charges.as_manager()

    class Meta:
        ordering = ["work_day", "pk"]
        indexes = [models.Index(fields=["work_day"], name="charge_day")]
        constraints = [
            models.UniqueConstraint(
                fields=["session"],
                condition=Q(session__isnull=False) & ~Q(state="taken_back"),
                name="session_charged_once",
            ),
            models.UniqueConstraint(
                fields=["visit"],
                condition=Q(kind="call_out") & ~Q(state="taken_back"),
                name="call_out_charged_once_a_visit",
            ),
            models.UniqueConstraint(
                fields=["visit"],
                condition=Q(kind__in=["could_not_work", "late_cancel"]) & ~Q(state="taken_back"),
                name="fee_charged_once_a_visit",
            ),
            models.UniqueConstraint(
                fields=["hire", "kind"],
                condition=Q(hire__isnull=False) & ~Q(state="taken_back"),
                name="each_part_of_a_hire_charged_once",
            ),
            models.UniqueConstraint(fields=["deduction"], condition=Q(kind="deposit"), name="deposit_charged_once"),
            models.CheckConstraint(
                condition=Q(amount__gte=0) | Q(kind__in=["deposit_off", "discount"]), name="charge_not_negative"
            ),
            models.CheckConstraint(condition=~Q(state="waived") | ~Q(waived_reason=""), name="waived_with_a_reason"),
            models.CheckConstraint(
                condition=~Q(kind="session") | Q(session__isnull=False), name="session_charge_has_session"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.text}: {self.amount}"

    @property
    def place(self) -> str:
        return self.visit.barn.name if self.visit else ""


BY_HAND = (Charge.Kind.DAY_RATE, Charge.Kind.LATE_RETURN, Charge.Kind.OTHER)  # no rule proposes them
PREPAID = frozenset({Charge.Kind.PACKAGE, Charge.Kind.PLAN_MONTH, Charge.Kind.VOUCHER})
PROPOSED_ANEW = frozenset(
    {
        Charge.Kind.SESSION,
        Charge.Kind.CALL_OUT,
        Charge.Kind.COULD_NOT_WORK,
        Charge.Kind.LATE_CANCEL,
        Charge.Kind.RENT,
        Charge.Kind.DELIVERY,
        Charge.Kind.COLLECTION,
    }
)
WORK = PROPOSED_ANEW | {Charge.Kind.LATE_FEE, *BY_HAND}


class ChargeShare(models.Model):
    """One payer's exact part of a charge; the parts of a charge sum to it."""

    charge = models.ForeignKey(Charge, models.CASCADE, related_name="shares")
    payer = models.ForeignKey(Person, models.PROTECT, related_name="charge_shares")
    owner = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    position = models.PositiveSmallIntegerField()
    numerator = models.PositiveIntegerField()
    denominator = models.PositiveIntegerField()
    amount = money_field()
    is_on_paper = models.BooleanField(default=False, help_text="On an issued invoice; noted by `look_through`.")

    class Meta:
        ordering = ["charge", "position"]
        indexes = [models.Index(fields=["payer"], name="share_not_on_paper", condition=Q(is_on_paper=False))]
        constraints = [models.UniqueConstraint(fields=["charge", "position"], name="charge_share_once")]

    def __str__(self) -> str:
        return f"{self.payer} {self.amount}"

    @property
    def share(self) -> Fraction:
        return Fraction(self.numerator, self.denominator)

    @property
    def words(self) -> str:
        return say_share(self.share)


class Invoice(models.Model):
    """A payer's bill. Issued, it keeps its number, words, prices, tax and PDF for good."""

    class State(models.TextChoices):
        DRAFT = "draft", "Draft"
        ISSUED = "issued", "Issued"
        CREDITED = "credited", "Credited"

    state = models.CharField(max_length=8, choices=State, default=State.DRAFT)
    number = models.PositiveIntegerField(null=True, blank=True, unique=True)
    brought_as = models.CharField(max_length=40, blank=True, help_text="Its old number, where it is of before.")
    payer = models.ForeignKey(Person, models.PROTECT, related_name="invoices")
    made_at = models.DateTimeField()
    issued_on = models.DateField(null=True, blank=True)
    issued_at = models.DateTimeField(null=True, blank=True)
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    due_on = models.DateField(null=True, blank=True)
    currency = models.CharField(max_length=3)
    net = money_field(default=0)
    tax = money_field(default=0)
    total = money_field(default=0)
    frozen = models.JSONField(null=True, blank=True, help_text="Names, addresses, lines and tax as printed.")
    document = models.ForeignKey(Document, models.PROTECT, null=True, blank=True, related_name="+")
    is_settled = models.BooleanField(default=False, help_text="Nothing of it is open; noted by `look_through`.")

    # given by `invoices_shown`
    paid: Decimal
    credited: Decimal
    written_off: Decimal
    open: Decimal
    shown: str

    class Meta:
        ordering = ["-issued_at", "-pk"]
        indexes = [
            models.Index(fields=["-issued_at", "-id"], name="invoice_newest_first"),
            models.Index(fields=["payer"], name="invoice_unsettled", condition=Q(is_settled=False)),
            models.Index(fields=["issued_on"], name="invoice_day"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(state="draft", number__isnull=True)
                | (
                    Q(number__isnull=False)
                    & Q(issued_on__isnull=False)
                    & Q(frozen__isnull=False)
                    & Q(document__isnull=False)
                )
                | (Q(issued_on__isnull=False, frozen__isnull=False, number__isnull=True) & ~Q(brought_as="")),
                name="issued_invoice_is_frozen",
            ),
            models.UniqueConstraint(fields=["brought_as"], condition=~Q(brought_as=""), name="brought_along_once"),
        ]

    def __str__(self) -> str:
        return f"Invoice {self.name}"

    def get_absolute_url(self) -> str:
        return reverse("billing:invoice", args=[self.pk])

    @property
    def name(self) -> str:
        if self.brought_as:
            return self.brought_as
        return f"{self.issued_on:%Y}-{self.number:04d}" if self.number and self.issued_on else "draft"


class InvoiceLine(models.Model):
    invoice = models.ForeignKey(Invoice, models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    charge_share = models.OneToOneField(ChargeShare, models.PROTECT, related_name="line")
    text = models.CharField(max_length=300)
    reason = models.CharField(max_length=400, blank=True)
    amount = money_field()
    net = money_field(default=0, help_text="The amount before tax.")
    tax_percent = models.DecimalField(max_digits=6, decimal_places=3, default=0)
    tax_group = models.CharField(max_length=2, default="O", help_text="UNCL 5305: S, Z, E, or O where no rate stands.")

    class Meta:
        ordering = ["invoice", "position"]
        constraints = [models.UniqueConstraint(fields=["invoice", "position"], name="invoice_line_once")]

    def __str__(self) -> str:
        return f"{self.text} {self.amount}"


class InvoiceRun(models.Model):
    """Drafts that are issued together, beside the request. It says how far it is."""

    on = models.DateField()
    total = models.PositiveIntegerField()
    issued = models.PositiveIntegerField(default=0)
    refused = models.JSONField(default=list, help_text="Drafts that were refused: their payer, and why.")
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    seen_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-started_at"]

    def __str__(self) -> str:
        return f"{self.issued} of {self.total} invoices"

    @property
    def percent_done(self) -> int:
        return 100 * (self.issued + len(self.refused)) // self.total if self.total else 100


class WriteOff(models.Model):
    """What somebody will not pay, given up by a person. Taken up again, it stays here with its day."""

    invoice = models.ForeignKey(Invoice, models.PROTECT, related_name="write_offs")
    on = models.DateField()
    amount = money_field()
    tax = money_field(default=0, help_text="The part of it that is tax and is asked back.")
    reason = models.CharField(max_length=300)
    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    undone_on = models.DateField(null=True, blank=True)

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["invoice"], condition=Q(undone_on=None), name="written_off_once"),
            models.CheckConstraint(condition=Q(amount__gt=0), name="write_off_above_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.amount} of {self.invoice} written off"


class CreditNote(models.Model):
    """Takes back all or part of one issued invoice, to the payer who was charged. It stands like an invoice."""

    number = models.PositiveIntegerField(unique=True)
    invoice = models.ForeignKey(Invoice, models.PROTECT, related_name="credit_notes")
    issued_on = models.DateField()
    issued_at = models.DateTimeField()
    issued_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    reason = models.CharField(max_length=300)
    net = money_field()
    tax = money_field()
    total = money_field()
    frozen = models.JSONField(help_text="Names, addresses, lines and tax as printed.")
    document = models.ForeignKey(Document, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-issued_at", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(total__gt=0), name="credit_note_above_zero")]

    def __str__(self) -> str:
        return f"Credit note {self.name}"

    @property
    def name(self) -> str:
        return f"{self.issued_on:%Y}-C{self.number:04d}"


class CreditLine(models.Model):
    """What is taken back of one line: as printed, before tax, and the tax that goes with it."""

    credit_note = models.ForeignKey(CreditNote, models.CASCADE, related_name="lines")
    position = models.PositiveSmallIntegerField()
    line = models.ForeignKey(InvoiceLine, models.PROTECT, related_name="credits")
    amount = money_field()
    net = money_field()
    tax = money_field()

    class Meta:
        ordering = ["credit_note", "position"]
        constraints = [
            models.UniqueConstraint(fields=["credit_note", "position"], name="credit_line_once"),
            models.CheckConstraint(condition=Q(amount__gt=0), name="credit_line_above_zero"),
        ]

    def __str__(self) -> str:
        return f"{self.line.text} {self.amount}"
