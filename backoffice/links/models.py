from datetime import datetime

from django.conf import settings
from django.db import models


class PrivateLink(models.Model):
    """A way in for somebody without an account, to one thing, for a time. Only the hash of its token is kept."""

    class Purpose(models.TextChoices):
        QUOTE = "quote", "read and answer a quote"
        FORM = "form", "read and sign a form"
        REFERRAL = "referral", "answer as the horse's vet"
        MONEY = "money", "read one's own invoices"
        ACCOUNT = "account", "choose one's own password"
        CALENDAR = "calendar", "read one's own diary in a calendar"

    purpose = models.CharField(max_length=20, choices=Purpose)
    target_pk = models.PositiveBigIntegerField()
    token_hash = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    expires_at = models.DateTimeField()
    revoked_at = models.DateTimeField(null=True, blank=True)
    first_opened_at = models.DateTimeField(null=True, blank=True)
    last_opened_at = models.DateTimeField(null=True, blank=True)
    times_opened = models.PositiveIntegerField(
        default=0, help_text="Sittings: a page more within a while is the same one."
    )

    class Meta:
        indexes = [models.Index(fields=["purpose", "target_pk"], name="link_target")]

    def __str__(self) -> str:
        return f"{self.purpose} {self.target_pk}"

    def is_open(self, at: datetime) -> bool:
        return self.revoked_at is None and at < self.expires_at


class WrongTry(models.Model):
    """A token that fits nothing, counted by a digest of the address it came from."""

    address_digest = models.CharField(max_length=64, db_index=True)
    at = models.DateTimeField()

    def __str__(self) -> str:
        return f"{self.address_digest[:12]} {self.at:%Y-%m-%d %H:%M}"
