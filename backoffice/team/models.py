from django.db import models

from backoffice.access.models import User


class CodeApp(models.Model):
    """An app on somebody's phone that shows a new code every 30 seconds (RFC 6238). Its secret is sealed."""

    account = models.OneToOneField(User, models.CASCADE, related_name="+")
    sealed_secret = models.BinaryField()
    made_at = models.DateTimeField()
    confirmed_at = models.DateTimeField(null=True, blank=True)
    last_step = models.PositiveBigIntegerField(default=0, help_text="Of the last code used: none is taken twice.")

    def __str__(self) -> str:
        return f"Code app of {self.account}"


class RecoveryCode(models.Model):
    """One way in when phone and passkey are lost: used once, kept as a digest."""

    account = models.ForeignKey(User, models.CASCADE, related_name="+")
    digest = models.CharField(max_length=64)
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["account", "digest"], name="recovery_code_once")]

    def __str__(self) -> str:
        return f"Recovery code of {self.account}"


class Passkey(models.Model):
    """A key pair that a device keeps for somebody (WebAuthn); here is its public half."""

    account = models.ForeignKey(User, models.CASCADE, related_name="+")
    name = models.CharField(max_length=60)
    credential_id = models.CharField(max_length=1400, unique=True, help_text="In base64url.")
    public_key = models.BinaryField()
    sign_count = models.PositiveBigIntegerField(default=0)
    made_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.name


class SignedIn(models.Model):
    """Where somebody is signed in; it ends with its session."""

    account = models.ForeignKey(User, models.CASCADE, related_name="+")
    session_key = models.CharField(max_length=40, unique=True)
    device = models.CharField(max_length=80)
    address = models.GenericIPAddressField(null=True, blank=True)
    began_at = models.DateTimeField()
    seen_at = models.DateTimeField()

    class Meta:
        ordering = ["-seen_at", "-pk"]

    def __str__(self) -> str:
        return self.device
