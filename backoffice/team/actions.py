from datetime import datetime, timedelta

from django.urls import reverse

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.letters.actions import Draft, send_letter
from backoffice.letters.models import Letter
from backoffice.links.actions import full_address, issue_link, revoke_links
from backoffice.links.models import PrivateLink
from backoffice.refusal import Refused
from backoffice.team.queries import is_only_owner_manager
from backoffice.team.sessions import end_sessions, signed_in_of

INVITED_FOR = timedelta(days=3)

LAST_ONE = "This is the only owner-manager. Make somebody else one first, or nobody could change accounts any more."


@audit.action
def add_account(*, account: User, password: str, at: datetime, by: User | None) -> User:
    """Save a new account with its password, or without one until they choose it. `by` is empty for the very first."""
    account.set_password(password or None)
    account.save(force_insert=True)
    audit.record("account added", account, at=at, by=by or account, changes={"role": account.role})
    return account


@audit.action
def change_account(
    *,
    account: User,
    first_name: str,
    last_name: str,
    email: str,
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
    account.first_name, account.last_name = first_name, last_name
    account.email, account.phone = email, phone
    account.role, account.drives_rounds = role.value, drives_rounds
    account.save(update_fields=["first_name", "last_name", "email", "phone", "role", "drives_rounds"])
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
def invite(*, account: User, at: datetime, by: User) -> str:
    """The address where they choose a password of their own, good once and for three days; mailed if one is known."""
    if not account.is_active:
        raise Refused("This account is closed. Open it again first.")
    revoke_links(purpose=PrivateLink.Purpose.ACCOUNT, target=account, at=at, by=by)
    _, token = issue_link(purpose=PrivateLink.Purpose.ACCOUNT, target=account, at=at, valid_for=INVITED_FOR, by=by)
    address = full_address(reverse("backoffice:account-choose", args=[token]))
    send_letter(
        Draft(
            kind=Letter.Kind.INVITATION,
            to=account.email,
            subject=f"Choose your password, {the_business().name}",
            about=account,
            person=None,
            context={"account": account, "address": address},
        ),
        at=at,
    )
    return address


@audit.action
def choose_password(*, account: User, password: str, at: datetime) -> User:
    """They chose it themselves, on their private page, which closes; whoever was signed in is signed out."""
    revoke_links(purpose=PrivateLink.Purpose.ACCOUNT, target=account, at=at, by=None)
    end_sessions(account=account, places=signed_in_of(account, at), at=at, by=account)
    return set_password(account=account, password=password, at=at, by=account)


@audit.action
def set_password(*, account: User, password: str, at: datetime, by: User) -> User:
    """A new password; whoever is signed in with the old one is signed out."""
    account = User.objects.select_for_update().get(pk=account.pk)
    account.set_password(password)
    account.save(update_fields=["password"])
    audit.record("password set", account, at=at, by=by)
    return account
