from django.db import models
from django.urls import reverse

from backoffice.access.powers import Power
from backoffice.documents.models import Document


class Letter(models.Model):
    """A letter by mail: it waits until it has gone, and is kept for a while after.

    What goes out is sealed, since it may hold a private link; what anybody reads here shows none.
    """

    class Kind(models.TextChoices):
        """The name is the template's."""

        INVITATION = "invitation", "Invitation to the team"
        FORM_COPY = "form_copy", "Copy of a signed form"
        QUOTE_OFFERED = "quote_offered", "Quote"
        QUOTE_QUESTION = "quote_question", "Question about a quote"
        QUOTE_ANSWER = "quote_answer", "Answer about a quote"
        INVOICE = "invoice", "Invoice"
        REMINDER = "reminder", "Reminder"
        MONEY_QUESTION = "money_question", "Question about money"
        MONEY_ANSWER = "money_answer", "Answer about money"

    class State(models.TextChoices):
        WAITING = "waiting", "Waits"
        SENT = "sent", "Sent"
        BY_HAND = "by_hand", "Sent by hand"
        DROPPED = "dropped", "Not sent"

    POWERS = {  # to read, and to send; any other letter is about money
        Kind.INVITATION: (Power.CHANGE_SETTINGS, Power.CHANGE_SETTINGS),
        Kind.FORM_COPY: (Power.SEE_CARE, Power.CHANGE_CARE),
    }
    ABOUT_MONEY = (Power.SEE_MONEY, Power.CHANGE_MONEY)

    kind = models.CharField(max_length=20, choices=Kind)
    about = models.CharField(max_length=60, help_text="What it is about: the name of a table,")
    about_pk = models.PositiveBigIntegerField(help_text="and the row.")
    person_pk = models.PositiveBigIntegerField(null=True, help_text="The person it goes to, or came from.")
    to = models.EmailField()
    reply_to = models.EmailField(blank=True)
    subject = models.CharField(max_length=300)
    text = models.TextField(help_text="As it reads, without its private link.")
    papers = models.ManyToManyField(Document, related_name="+")
    sealed = models.BinaryField(null=True, help_text="Text and HTML as they go out, until they can go no more.")
    made_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    state_at = models.DateTimeField()
    taken_at = models.DateTimeField(null=True, help_text="Somebody is sending it.")
    trouble = models.CharField(max_length=200, blank=True, help_text="Why the last try failed.")

    class Meta:
        ordering = ["-made_at", "-pk"]
        indexes = [
            models.Index(fields=["about", "about_pk"], name="letter_about"),
            models.Index(fields=["person_pk"], name="letter_person"),
            models.Index(fields=["state"], name="letter_state"),
        ]

    def __str__(self) -> str:
        return self.subject

    def get_absolute_url(self) -> str:
        return reverse("backoffice:letter", args=[self.pk])

    @property
    def power_to_read(self) -> Power:
        return self.POWERS.get(self.Kind(self.kind), self.ABOUT_MONEY)[0]

    @property
    def power_to_send(self) -> Power:
        return self.POWERS.get(self.Kind(self.kind), self.ABOUT_MONEY)[1]

    @property
    def is_waiting(self) -> bool:
        return self.state == self.State.WAITING

    @property
    def can_go(self) -> bool:
        """It waits, or went so lately that what went is still here."""
        return self.sealed is not None and self.state in {self.State.WAITING, self.State.SENT}
