from typing import Any, NoReturn

from django.conf import settings
from django.db import models


class Head(models.Model):
    """The end of the chain: the one row that every state change locks first, so that locks have one order."""

    number = models.PositiveBigIntegerField(default=0)
    hash = models.CharField(max_length=64, default="0" * 64)

    class Meta:
        constraints = [models.CheckConstraint(condition=models.Q(pk=1), name="one_audit_head")]

    def __str__(self) -> str:
        return f"{self.number} {self.hash[:12]}"


class Entry(models.Model):
    """One state change: ids, states and amounts, never personal text; hashed together with the entry before it."""

    number = models.PositiveBigIntegerField(primary_key=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    via = models.CharField(max_length=40, blank=True, help_text="Another way in: a private link, a command.")
    action = models.CharField(max_length=80)
    target = models.CharField(max_length=60)
    target_pk = models.CharField(max_length=40)
    changes = models.JSONField(default=dict)
    previous_hash = models.CharField(max_length=64)
    hash = models.CharField(max_length=64)

    class Meta:
        ordering = ["-number"]
        indexes = [models.Index(fields=["target", "target_pk"], name="audit_target")]
        verbose_name_plural = "entries"

    def __str__(self) -> str:
        return f"{self.number} {self.action} {self.target} {self.target_pk}"

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        raise TypeError("An audit entry is never deleted.")
