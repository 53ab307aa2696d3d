from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from datetime import date, datetime

from django.utils import timezone

from backoffice.business.models import Business

_held: ContextVar[Business | None] = ContextVar("business", default=None)


def the_business() -> Business:
    """The profile; a fresh installation has an unnamed one with the defaults."""
    return _held.get() or Business.objects.filter(pk=1).first() or Business(pk=1, name="My business")


@contextmanager
def held(business: Business) -> Iterator[None]:
    """While a page that changes nothing is made, everybody who asks gets this one, read once."""
    before = _held.set(business)
    try:
        yield
    finally:
        _held.reset(before)


def is_set_up() -> bool:
    return Business.objects.filter(pk=1).exists()


def local_date(at: datetime) -> date:
    """The date of a moment in the business's own time zone, which the middleware or command has switched on."""
    return timezone.localtime(at).date()
