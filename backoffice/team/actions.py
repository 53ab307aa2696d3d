from datetime import datetime

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.audit import actions as audit
from backoffice.refusal import Refused
from backoffice.team.queries import is_only_owner_manager

LAST_ONE = "This is the only owner-manager. Make somebody else one first, or nobody could change accounts any more."


@audit.action
def add_account(*, account: User, password: str, at: datetime, by: User | None) -> User:
    """Save a new account with its password. `by` is empty only for the very first one."""
    account.set_password(password)
    account.save(force_insert=True)
    audit.record("account added", account, at=at, by=by or account, changes={"role": account.role})
    return account


@audit.action
def change_account(
    *,
    account: User,
    first_name: str,
    last_name: str,
    phone: str,
    role: Role,
    drives_rounds: bool,
    at: datetime,
    by: User,
) -> User:
    account = User.objects.select_for_update().get(pk=account.pk)
    if role != Role.OWNER_MANAGER and is_only_owner_manager(account):
        raise Refused(LAST_ONE)
    before = {"role": account.role, "drives_rounds": account.drives_rounds}
    account.first_name, account.last_name, account.phone = first_name, last_name, phone
    account.role, account.drives_rounds = role.value, drives_rounds
    account.save(update_fields=["first_name", "last_name", "phone", "role", "drives_rounds"])
    after = {"role": account.role, "drives_rounds": account.drives_rounds}
    changes = {name: [before[name], after[name]] for name in before if before[name] != after[name]}
    audit.record("account changed", account, at=at, by=by, changes=changes)
    return account


@audit.action
def close_account(*, account: User, at: datetime, by: User) -> User:
    """The person can no longer sign in, and is signed out everywhere; what they did keeps their name."""
    account = User.objects.select_for_update().get(pk=account.pk)
    if not account.is_active:
        raise Refused("This account is already closed.")
    if is_only_owner_manager(account):
        raise Refused(LAST_ONE)
    if account.pk == by.pk:
        raise Refused("You cannot close the account that you are signed in with.")
    account.is_active = False
    account.save(update_fields=["is_active"])
    audit.record("account closed", account, at=at, by=by)
    return account


@audit.action
def reopen_account(*, account: User, at: datetime, by: User) -> User:
    account = User.objects.select_for_update().get(pk=account.pk)
    if account.is_active:
        raise Refused("This account is already open.")
    account.is_active = True
    account.save(update_fields=["is_active"])
    audit.record("account reopened", account, at=at, by=by)
    return account


@audit.action
def set_password(*, account: User, password: str, at: datetime, by: User) -> User:
    """A new password; whoever is signed in with the old one is signed out."""
    account = User.objects.select_for_update().get(pk=account.pk)
    account.set_password(password)
    account.save(update_fields=["password"])
    audit.record("password set", account, at=at, by=by)
    return account
