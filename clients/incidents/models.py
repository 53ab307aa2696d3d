from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import Q
from django.urls import reverse

from backoffice.documents.models import Document
from clients.animals.models import Animal
from clients.paperwork.models import StopNote
from clients.people.models import Barn


class Incident(models.Model):
    """Something went wrong around a horse or at a place, as it was written down. Never edited; additions are dated."""

    animal = models.ForeignKey(Animal, models.PROTECT, null=True, blank=True, related_name="incidents")
    barn = models.ForeignKey(Barn, models.PROTECT, null=True, blank=True, related_name="incidents")
    happened_at = models.DateTimeField()
    what = models.TextField("what happened", max_length=4000)
    present = models.TextField("who was there", max_length=1000)
    done = models.TextField("what was done", max_length=2000)
    vet_said = models.TextField("the vet", max_length=2000, blank=True)
    horse_hurt = models.BooleanField("a horse", default=False)
    person_hurt = models.BooleanField("a person", default=False)
    thing_damaged = models.BooleanField("a thing", default=False)
    stop_note = models.OneToOneField(StopNote, models.PROTECT, null=True, blank=True, related_name="incident")
    written_at = models.DateTimeField()
    written_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")
    papers = models.ManyToManyField(Document, blank=True, related_name="+", help_text="Sealed, one for each state.")

    class Meta:
        ordering = ["-happened_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(animal__isnull=False) | Q(barn__isnull=False), name="incident_names_horse_or_place"
            )
        ]

    def __str__(self) -> str:
        return f"Incident of {self.happened_at:%Y-%m-%d}"

    def save(self, *args: object, **kwargs: object) -> None:
        refuse_second_save(self)
        super().save(*args, **kwargs)  # type: ignore[arg-type]

    def get_absolute_url(self) -> str:
        return reverse("clients:incident", args=[self.pk])

    @property
    def hurt(self) -> list[str]:
        """What was hurt or damaged, in words."""
        named = ((self.horse_hurt, "a horse"), (self.person_hurt, "a person"), (self.thing_damaged, "a thing"))
        return [words for is_so, words in named if is_so]


class Addition(models.Model):
    """Something added later to an incident note, with its day and its name."""

    incident = models.ForeignKey(Incident, models.PROTECT, related_name="additions")
    text = models.TextField(max_length=4000)
    written_at = models.DateTimeField()
    written_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["written_at", "pk"]

    def __str__(self) -> str:
        return f"Addition of {self.written_at:%Y-%m-%d}"

    def save(self, *args: object, **kwargs: object) -> None:
        refuse_second_save(self)
        super().save(*args, **kwargs)  # type: ignore[arg-type]


def refuse_second_save(row: models.Model) -> None:
    if not row._state.adding:
        raise ValidationError("An incident note is locked once it is saved. Write an addition.")
