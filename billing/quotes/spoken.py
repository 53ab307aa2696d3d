"""The free texts of a quote that its owner reads, and the promises of outcome in them."""

from collections.abc import Iterator
from dataclasses import dataclass

from django.urls import reverse

from backoffice.promises.rules import Promise, promises_in
from billing.quotes.models import Quote


@dataclass(frozen=True, slots=True)
class Spoken:
    """One text, where it stands and where it is changed, with what it promises."""

    where: str
    href: str
    promises: tuple[Promise, ...]


def promises_of(quote: Quote) -> list[Spoken]:
    """Each text with at least one promise, in the order in which the owner reads them."""
    return [Spoken(where, href, found) for where, text, href in _texts(quote) if (found := promises_in(text))]


def _texts(quote: Quote) -> Iterator[tuple[str, str, str]]:
    edit = reverse("billing:quote-edit", args=[quote.pk])
    yield "The title", quote.title, edit
    yield "Your words to the owner", quote.note, edit
    for option in quote.options.all():
        if not option.is_hidden:
            change = reverse("billing:option-edit", args=[option.pk])
            yield f"The name of “{option.name}”", option.name, change
            yield f"The words of “{option.name}”", option.text, change
            yield f"Why you would choose “{option.name}”", option.preferred_why, quote.get_absolute_url()
            yield f"The reason of the discount on “{option.name}”", option.discount_reason, change
