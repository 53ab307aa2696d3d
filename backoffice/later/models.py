from django.db import models


class Job(models.Model):
    """Long work that a worker is to do, where there is one; it goes when it is done."""

    work = models.CharField(max_length=200, help_text="The function, by its full name.")
    told = models.JSONField(default=list, help_text="What it is told: keys and plain values.")
    made_at = models.DateTimeField()
    taken_at = models.DateTimeField(null=True, help_text="A worker is at it.")
    trouble = models.CharField(max_length=300, blank=True, help_text="Why it failed; it is not tried again.")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.work.rpartition(".")[2].replace("_", " ")
