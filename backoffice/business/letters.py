"""Letters by mail: plain text and HTML, from the business."""

from collections.abc import Sequence
from typing import Any

from django.core.mail import EmailMultiAlternatives
from django.template.loader import render_to_string

from backoffice.business.queries import the_business


def send_letter(
    template: str,
    subject: str,
    to: str,
    context: dict[str, Any],
    *,
    reply_to: str = "",
    papers: Sequence[tuple[str, bytes]] = (),
) -> None:
    """Nothing is sent where no address is known. `papers` are names and bytes of PDFs to attach."""
    business = the_business()
    if not to:
        return
    context = {"business": business, **context}
    answer_to = reply_to or business.email
    letter = EmailMultiAlternatives(
        subject=" ".join(subject.split()),
        body=render_to_string(f"emails/{template}.txt", context),
        to=[to],
        reply_to=[answer_to] if answer_to else None,
    )
    letter.attach_alternative(render_to_string(f"emails/{template}.html", context), "text/html")
    for name, content in papers:
        letter.attach(name, content, "application/pdf")
    letter.send()
