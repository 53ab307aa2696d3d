from django.conf import settings
from django.db import models


class BroughtList(models.Model):
    """A list that was kept elsewhere: as it was read, what its columns are, and what came of each row."""

    class State(models.TextChoices):
        READ = "read", "Looked at"
        DONE = "done", "Brought in"
        UNDONE = "undone", "Undone"

    kind = models.CharField(max_length=10)
    name = models.CharField(max_length=120)
    heading = models.JSONField()
    rows = models.JSONField()
    columns = models.JSONField(default=dict, help_text="What each thing that we ask for is called in the list.")
    state = models.CharField(max_length=6, choices=State, default=State.READ)
    made = models.JSONField(default=list, help_text="For each row brought in: its own number in the list, and our key.")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return self.name
