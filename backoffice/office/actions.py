from collections.abc import Mapping
from datetime import datetime

from django.apps import apps

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.documents.keys import make_key
from backoffice.refusal import Refused
from backoffice.team.actions import add_account
from backoffice.team.queries import nobody_is_here

WORDS_OF_ITS_OWN = {"name", "address", "email", "phone", "tax_identity", "registration", "iban", "bic", "how_to_pay"}


@audit.action
def set_up(*, business: Business, owner_manager: User, password: str, at: datetime) -> User:
    """The business, its owner-manager and its seal key, in one step; only on an empty installation."""
    if not nobody_is_here():
        raise Refused("This back office is already set up. Sign in.")
    business.pk = 1
    business.save(force_insert=True)
    account = add_account(account=owner_manager, password=password, at=at, by=None)
    audit.record("business set up", business, at=at, by=account)
    make_key(at=at)
    return account


@audit.action
def change_business(*, values: Mapping[str, object], at: datetime, by: User) -> Business:
    """Change the settings named in `values`. The trail keeps old and new rules; of a name, that it changed."""
    business = Business.objects.select_for_update().filter(pk=1).first() or the_business()
    before = {name: getattr(business, name) for name in values}
    changed = [name for name, value in values.items() if before[name] != value]
    if "currency" in changed and _numbers_are_given_out():
        raise Refused("The currency stays as it is: quotes, invoices or payments have been numbered in it.")
    for name in changed:
        setattr(business, name, values[name])
    business.save()
    changes = {name: "changed" if name in WORDS_OF_ITS_OWN else [before[name], values[name]] for name in changed}
    if changes:
        audit.record("settings changed", business, at=at, by=by, changes=changes)
    return business


def _numbers_are_given_out() -> bool:
    if not apps.is_installed("billing"):
        return False
    from billing.numbers.models import NumberSeries

    return NumberSeries.objects.exists()
