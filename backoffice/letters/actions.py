"""Letters by mail: plain text and HTML, from the business. Each is written down first, and waits until it has gone."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from smtplib import SMTPAuthenticationError, SMTPRecipientsRefused
from typing import Any

from django.conf import settings
from django.core.mail import EmailMultiAlternatives
from django.db import models
from django.db.models import Q
from django.template.loader import render_to_string
from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.documents.keys import open_sealed, seal
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from backoffice.later.actions import later
from backoffice.letters.models import Letter
from backoffice.links.actions import opens_nothing, without_tokens
from backoffice.refusal import Refused

CUT_OFF = timedelta(minutes=10)  # whoever took a letter up and said nothing since does not send it any more
KEPT_WHOLE = timedelta(days=30)
KEPT = timedelta(days=365)


@dataclass(frozen=True, slots=True)
class Draft:
    """A letter before it is written down; its two templates read `context`."""

    kind: Letter.Kind
    to: str
    subject: str
    about: models.Model
    person: models.Model | None
    context: Mapping[str, Any]
    reply_to: str = ""
    papers: Sequence[Document] = ()

    def drawn(self, form: str, business: Business) -> str:
        """As "txt" or "html"."""
        return render_to_string(f"emails/{self.kind}.{form}", {"business": business, **self.context})

    def reading(self) -> str:
        """As anybody may read it: without what opens a private link."""
        return without_tokens(self.drawn("txt", the_business()))


def send_letter(draft: Draft, *, at: datetime) -> Letter | None:
    """Written down within the caller's change and sent after it. None where no address is known."""
    if not draft.to:
        return None
    business = the_business()
    text, html = draft.drawn("txt", business), draft.drawn("html", business)
    letter = Letter.objects.create(
        kind=draft.kind,
        about=draft.about._meta.label_lower,
        about_pk=draft.about.pk,
        person_pk=draft.person.pk if draft.person else None,
        to=draft.to,
        reply_to=draft.reply_to or business.email,
        subject=" ".join(draft.subject.split())[:300],
        text=without_tokens(text),
        sealed=seal(json.dumps({"text": text, "html": html}).encode()),
        made_at=at,
        state_at=at,
    )
    letter.papers.set(draft.papers)
    if settings.MAIL_GOES:
        later(deliver, letter.pk)
    return letter


def deliver(pk: int) -> bool:
    """Hand a waiting letter to the mail server, once, whoever else tries; whether it went. If not, it says why."""
    now = timezone.now()
    free = Q(taken_at=None) | Q(taken_at__lt=now - CUT_OFF)
    waiting = Letter.objects.filter(pk=pk, state=Letter.State.WAITING)
    if not waiting.filter(free).update(taken_at=now):
        return False
    letter = Letter.objects.get(pk=pk)
    try:
        _message(letter).send()
    except (OSError, ValueError, Refused) as trouble:  # no server, an address that no header takes, a file that is gone
        waiting.update(taken_at=None, trouble=_in_words(trouble))
        return False
    Letter.objects.filter(pk=pk).update(state=Letter.State.SENT, state_at=timezone.now(), taken_at=None, trouble="")
    return True


def as_it_goes(letter: Letter) -> dict[str, str]:
    """Its text and HTML with the private link in them."""
    if letter.sealed is None:
        raise Refused("What went out is no longer kept. Write the letter anew from the page that it is about.")
    parts: dict[str, str] = json.loads(open_sealed(bytes(letter.sealed)))
    if opens_nothing(parts["text"], timezone.now()):
        raise Refused("Its private link opens nothing any more. Do not send it; write anew from the page it is about.")
    return parts


def _message(letter: Letter) -> EmailMultiAlternatives:
    parts = as_it_goes(letter)
    answer_to = [letter.reply_to] if letter.reply_to else None
    message = EmailMultiAlternatives(subject=letter.subject, body=parts["text"], to=[letter.to], reply_to=answer_to)
    message.attach_alternative(parts["html"], "text/html")
    for paper in letter.papers.order_by("pk"):
        message.attach(paper.file_name, bytes_of(paper), paper.content_type)
    return message


def _in_words(trouble: Exception) -> str:
    if isinstance(trouble, Refused):
        return str(trouble)[:200]
    if isinstance(trouble, SMTPRecipientsRefused):
        return "The mail server does not take this address."
    if isinstance(trouble, SMTPAuthenticationError):
        return "The mail server does not know our name and password."
    return "The mail server could not be reached, or did not take it."


@audit.action
def send_again(*, letter: Letter, at: datetime, by: User) -> Letter:
    """One that waits is tried now; one that went goes once more, as it was."""
    letter = Letter.objects.select_for_update().get(pk=letter.pk)
    if not letter.can_go:
        raise Refused("This letter cannot go again. Write it anew from the page that it is about.")
    if not settings.MAIL_GOES:
        raise Refused("No mail server is set. Send it from your own mail program.")
    letter.state, letter.state_at, letter.trouble = Letter.State.WAITING, at, ""
    letter.save(update_fields=["state", "state_at", "trouble"])
    audit.record("letter sent again", letter, at=at, by=by)
    later(deliver, letter.pk)
    return letter


@audit.action
def end_waiting(*, letter: Letter, state: Letter.State, at: datetime, by: User) -> Letter:
    """Somebody sent it by hand, or it is not to go. Its private link is forgotten."""
    letter = Letter.objects.select_for_update().get(pk=letter.pk)
    if not letter.is_waiting:
        raise Refused("This letter waits no more.")
    letter.state, letter.state_at, letter.sealed, letter.trouble = state, at, None, ""
    letter.save(update_fields=["state", "state_at", "sealed", "trouble"])
    audit.record("letter sent by hand" if state == Letter.State.BY_HAND else "letter dropped", letter, at=at, by=by)
    return letter


def deliver_waiting() -> int:
    """Try every letter that waits, the oldest first; how many went."""
    if not settings.MAIL_GOES:
        return 0
    waiting = Letter.objects.filter(state=Letter.State.WAITING).order_by("made_at", "pk")
    return sum(deliver(pk) for pk in list(waiting.values_list("pk", flat=True)))


def forget_letters(at: datetime) -> None:
    """What went out is kept whole for a month, so that it can go again, and to read for a year."""
    settled = Letter.objects.exclude(state=Letter.State.WAITING)
    settled.filter(state_at__lt=at - KEPT_WHOLE).update(sealed=None)
    settled.filter(state_at__lt=at - KEPT).delete()
