from django.conf import settings
from django.core.validators import MaxValueValidator
from django.db import models

from backoffice.documents.models import Document
from backoffice.keeping.kinds import BY_NAME, KINDS


class KeepRule(models.Model):
    """How long one kind of record is kept, from a day on. A change is a new row; what was erased by it stays so."""

    kind = models.CharField(max_length=12, choices=[(kind.name, kind.label) for kind in KINDS])
    years = models.PositiveSmallIntegerField(validators=[MaxValueValidator(100)])
    why = models.CharField("why", max_length=300)
    since = models.DateField("holds from")

    class Meta:
        ordering = ["kind", "-since"]
        constraints = [models.UniqueConstraint(fields=["kind", "since"], name="one_keep_rule_a_day")]

    def __str__(self) -> str:
        return f"{BY_NAME[self.kind].label}: {self.years} years"


class Erasure(models.Model):
    """What was emptied of a person by the rules of that day, and what stayed: counts and reasons, no personal text."""

    class Asked(models.TextChoices):
        PERSON = "person", "The person asked"
        OURS = "ours", "Our own rule: nothing needs it any more"

    person_pk = models.PositiveBigIntegerField()
    asked = models.CharField("why now", max_length=6, choices=Asked)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    gone = models.JSONField(default=list, help_text="Kind and number of records.")
    stays = models.JSONField(default=list, help_text="Kind, number, last day kept and why.")
    certificate = models.ForeignKey(Document, models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"Erasure {self.pk}"
