from django.db import models

from backoffice.documents.models import Document
from clients.animals.models import Animal


class HistoryFile(models.Model):
    """A history of a horse that was made to be handed over, and for whom."""

    class Reader(models.TextChoices):
        OWNER = "owner", "The owner"
        VET = "vet", "The vet"
        INSURER = "insurer", "The insurer"

    animal = models.ForeignKey(Animal, models.PROTECT, related_name="history_files")
    reader = models.CharField("for", max_length=7, choices=Reader)
    since = models.DateField(null=True, blank=True)
    made_at = models.DateTimeField()
    document = models.ForeignKey(Document, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return f"History of {self.animal} for {self.get_reader_display().lower()}"
