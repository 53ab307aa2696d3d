from datetime import date, datetime

from django.utils import timezone

from backoffice.business.models import Business


def the_business() -> Business:
    """The profile; a fresh installation has an unnamed one with the defaults."""
    return Business.objects.filter(pk=1).first() or Business(pk=1, name="My business")


def is_set_up() -> bool:
    return Business.objects.filter(pk=1).exists()


def local_date(at: datetime) -> date:
    """The date of a moment in the business's own time zone, which the middleware or command has switched on."""
    return timezone.localtime(at).date()
