from django.conf import settings
from django.db import models
from django.utils.text import get_valid_filename

from backoffice.access.powers import Power


class Document(models.Model):
    """A file that stands: its bytes are outside the web root and never change; their SHA-256 shows it.

    Erased, it leaves a tombstone: the hash, by which rule of keeping, when and by whom.
    """

    class Kind(models.TextChoices):
        QUOTE = "quote", "Quote"
        FORM = "form", "Signed form"
        REFERRAL = "referral", "Vet referral"
        ROUND_SHEET = "round_sheet", "Round sheet"
        VISIT_REPORT = "visit_report", "Visit report"
        INVOICE = "invoice", "Invoice"
        CREDIT_NOTE = "credit_note", "Credit note"
        RECEIPT = "receipt", "Receipt"
        VOUCHER = "voucher", "Gift voucher"
        DEPOSIT_SLIP = "deposit_slip", "Deposit slip"
        BILL = "bill", "Bill of an expense"
        HISTORY = "history", "History file"
        ERASURE = "erasure", "Erasure certificate"
        INCIDENT = "incident", "Incident note"
        PHOTO = "photo", "Photo of a horse"
        HANDOVER = "handover", "Handover sheet"
        OWN_PAPER = "own_paper", "Paper of our own"

    class ContentType(models.TextChoices):
        PDF = "application/pdf", "PDF"
        PHOTO = "image/jpeg", "Photo"

    SUFFIXES = {ContentType.PDF: ".pdf", ContentType.PHOTO: ".jpg"}
    POWER_TO_READ = {
        Kind.QUOTE: Power.SEE_MONEY,
        Kind.FORM: Power.SEE_CARE,
        Kind.REFERRAL: Power.SEE_HEALTH,
        Kind.ROUND_SHEET: Power.SEE_HEALTH,
        Kind.VISIT_REPORT: Power.SEE_HEALTH,
        Kind.INVOICE: Power.SEE_MONEY,
        Kind.CREDIT_NOTE: Power.SEE_MONEY,
        Kind.RECEIPT: Power.SEE_MONEY,
        Kind.VOUCHER: Power.SEE_MONEY,
        Kind.DEPOSIT_SLIP: Power.SEE_MONEY,
        Kind.BILL: Power.SEE_MONEY,
        Kind.HISTORY: Power.SEE_HEALTH,
        Kind.ERASURE: Power.CHANGE_SETTINGS,
        Kind.INCIDENT: Power.SEE_HEALTH,
        Kind.PHOTO: Power.SEE_CARE,
        Kind.HANDOVER: Power.SEE_CARE,
        Kind.OWN_PAPER: Power.CHANGE_SETTINGS,
    }

    kind = models.CharField(max_length=20, choices=Kind)
    title = models.CharField(max_length=200)
    content_type = models.CharField(max_length=20, choices=ContentType, default=ContentType.PDF)
    file = models.FileField(upload_to="documents/%Y/%m/", max_length=200)
    size = models.PositiveBigIntegerField()
    sha256 = models.CharField(max_length=64)
    is_sealed = models.BooleanField(default=False)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    erased_at = models.DateTimeField(null=True, blank=True)
    erased_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+")
    erased_rule = models.CharField(max_length=12, blank=True)

    class Meta:
        ordering = ["-made_at", "-pk"]
        indexes = [models.Index(fields=["-made_at", "-id"], name="document_newest_first")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(erased_at__isnull=True, erased_rule="")
                | (models.Q(erased_at__isnull=False) & ~models.Q(erased_rule="")),
                name="erased_file_names_its_rule",
            )
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def power_to_read(self) -> Power:
        return self.POWER_TO_READ[self.Kind(self.kind)]

    @property
    def suffix(self) -> str:
        return self.SUFFIXES[self.ContentType(self.content_type)]

    @property
    def file_name(self) -> str:
        """What the file is called where it is saved."""
        return get_valid_filename(f"{self.title[:80]}{self.suffix}")


class SealKey(models.Model):
    """The business's own signing key, made at set-up. The private half is encrypted with the installation's secret."""

    certificate_pem = models.TextField()
    encrypted_key = models.BinaryField()
    made_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"seal key of {self.made_at:%Y-%m-%d}"
