from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from backoffice.documents.models import Document


class OwnPaper(models.Model):
    """A paper of the practice itself, with its last day. Never edited: its renewal is a new row that follows it."""

    class Kind(models.TextChoices):
        LICENSE = "license", "License or registration"
        INSURANCE = "insurance", "Insurance"
        VEHICLE = "vehicle", "Vehicle"
        FIRST_AID = "first_aid", "First aid"

    kind = models.CharField(max_length=9, choices=Kind)
    holder = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Empty means the business as a whole.",
    )
    issuer = models.CharField(max_length=120)
    number = models.CharField(max_length=60, blank=True)
    since = models.DateField()
    until = models.DateField()
    uses_machine = models.BooleanField(null=True, blank=True, help_text="Empty means all work.")
    place = models.CharField(max_length=80, blank=True, help_text="State or country; empty means everywhere.")
    follows = models.ForeignKey("self", models.PROTECT, null=True, blank=True, related_name="renewals")
    scans = models.ManyToManyField(Document, blank=True, related_name="+", help_text="Files as given.")
    ended_on = models.DateField(null=True, blank=True, help_text="The last day, where it ended before its day.")
    ended_why = models.CharField(max_length=300, blank=True)
    dropped_on = models.DateField(null=True, blank=True, help_text="From this day on it is not asked for any more.")
    is_mistake = models.BooleanField("was written down wrongly", default=False)
    dropped_why = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["until", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(until__gte=F("since")), name="own_paper_ends_after_it_begins"),
            models.CheckConstraint(
                condition=Q(ended_on__isnull=True) | Q(ended_on__gte=F("since"), ended_on__lt=F("until")),
                name="own_paper_ends_early",
            ),
            models.CheckConstraint(
                condition=Q(is_mistake=False) | Q(dropped_on__isnull=False), name="own_paper_mistake_has_a_day"
            ),
            models.UniqueConstraint(
                fields=["follows"], condition=Q(is_mistake=False), name="own_paper_is_renewed_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title}, {self.issuer}"

    def get_absolute_url(self) -> str:
        return reverse("clients:own-paper", args=[self.pk])

    @property
    def title(self) -> str:
        return f"{self.get_kind_display()} of {self.holder}" if self.holder else self.get_kind_display()

    @property
    def ends(self) -> date:
        """The last day on which it holds."""
        return self.ended_on or self.until

    @property
    def what_for(self) -> str:
        works = {None: "all work", True: "work with a machine", False: "work by hand"}
        return f"{works[self.uses_machine]}, {f'in {self.place}' if self.place else 'everywhere'}"
