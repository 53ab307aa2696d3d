from django.db import models


class BackupNote(models.Model):
    """That a backup was made, or restored on trial; or why not."""

    class Kind(models.TextChoices):
        BACKUP = "backup", "Backup"
        DRILL = "drill", "Trial restore"

    kind = models.CharField(max_length=6, choices=Kind)
    at = models.DateTimeField()
    name = models.CharField(max_length=120, blank=True)
    is_good = models.BooleanField()
    words = models.CharField(max_length=300)

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} of {self.at:%Y-%m-%d}: {self.words}"
