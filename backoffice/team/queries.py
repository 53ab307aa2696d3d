from django.db.models import QuerySet
from django.http import HttpRequest
from django.shortcuts import get_object_or_404

from backoffice.access.doors import demand
from backoffice.access.models import User
from backoffice.access.powers import Power, Role
from backoffice.business.queries import is_set_up


def accounts() -> QuerySet[User]:
    return User.objects.order_by("-is_active", "first_name", "last_name", "username")


def get_account_or_404(request: HttpRequest, pk: int) -> User:
    """The door of an account."""
    demand(request, Power.CHANGE_SETTINGS)
    return get_object_or_404(User, pk=pk)


def is_only_owner_manager(account: User) -> bool:
    """Whether nobody else who can sign in may change settings and accounts."""
    if not account.is_active or account.role != Role.OWNER_MANAGER:
        return False
    return not User.objects.filter(is_active=True, role=Role.OWNER_MANAGER).exclude(pk=account.pk).exists()


def nobody_is_here() -> bool:
    """A fresh installation: no business and no account, so that the first person makes both."""
    return not is_set_up() and not User.objects.exists()
