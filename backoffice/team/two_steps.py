"""The second step of signing in: an app's codes, recovery codes, passkeys. Each is begun, used and taken away here."""

from datetime import datetime

from django.db.models import QuerySet

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.documents.keys import open_sealed, seal
from backoffice.refusal import Refused
from backoffice.team import codes, passkeys
from backoffice.team.models import CodeApp, Passkey, RecoveryCode

MOST_PASSKEYS = 20


def has_second_step(account: User) -> bool:
    """Whether a password alone does not let the person in."""
    return has_code_app(account) or passkeys_of(account).exists()


def passkeys_of(account: User) -> QuerySet[Passkey]:
    return Passkey.objects.filter(account=account)


def codes_of(account: User) -> QuerySet[RecoveryCode]:
    return RecoveryCode.objects.filter(account=account)


def has_code_app(account: User) -> bool:
    return CodeApp.objects.filter(account=account, confirmed_at__isnull=False).exists()


@audit.action
def begin_code_app(*, account: User, at: datetime) -> str:
    """A new secret for an app to take over; it counts from the first right code on."""
    if has_code_app(account):
        raise Refused("An app shows codes for this account already. Take it away first.")
    CodeApp.objects.filter(account=account).delete()
    secret = codes.new_secret()
    CodeApp.objects.create(account=account, sealed_secret=seal(secret.encode()), made_at=at)
    return secret


def secret_begun(account: User) -> str | None:
    """The secret that waits for its first code."""
    waiting = CodeApp.objects.filter(account=account, confirmed_at__isnull=True).first()
    return open_sealed(bytes(waiting.sealed_secret)).decode() if waiting else None


@audit.action
def confirm_code_app(*, account: User, code: str, at: datetime) -> list[str]:
    """The app is in use from now on. Returns recovery codes, shown this once, where there were none."""
    app = CodeApp.objects.select_for_update().filter(account=account, confirmed_at__isnull=True).first()
    if app is None:
        raise Refused("Begin anew: no app waits for its first code.")
    step = codes.step_of(open_sealed(bytes(app.sealed_secret)).decode(), code, at=at)
    if step is None:
        raise Refused("That code is not right. Wait for the next one; check that the phone’s clock is right.")
    app.confirmed_at, app.last_step = at, step
    app.save(update_fields=["confirmed_at", "last_step"])
    audit.record("code app confirmed", account, at=at, by=account)
    return _first_recovery_codes(account, at)


@audit.action
def use_code(*, account: User, code: str, at: datetime) -> bool:
    """Whether the app's code is right; each one counts once."""
    app = CodeApp.objects.select_for_update().filter(account=account, confirmed_at__isnull=False).first()
    if app is None:
        return False
    step = codes.step_of(open_sealed(bytes(app.sealed_secret)).decode(), code, at=at)
    if step is None or step <= app.last_step:
        return False
    app.last_step = step
    app.save(update_fields=["last_step"])
    return True


@audit.action
def use_recovery_code(*, account: User, code: str, at: datetime) -> bool:
    unused = codes_of(account).select_for_update().filter(used_at__isnull=True, digest=codes.digest_of(code))
    found = unused.first()
    if found is None:
        return False
    found.used_at = at
    found.save(update_fields=["used_at"])
    audit.record("recovery code used", account, at=at, by=account, changes={"left": recovery_codes_left(account)})
    return True


def recovery_codes_left(account: User) -> int:
    return codes_of(account).filter(used_at__isnull=True).count()


@audit.action
def renew_recovery_codes(*, account: User, at: datetime) -> list[str]:
    """Ten new ones; the old ones open nothing any more."""
    if not has_second_step(account):
        raise Refused("Recovery codes stand in for an app or a passkey: set up one of them first.")
    made = _make_recovery_codes(account)
    audit.record("recovery codes made", account, at=at, by=account)
    return made


def _first_recovery_codes(account: User, at: datetime) -> list[str]:
    if recovery_codes_left(account):
        return []
    audit.record("recovery codes made", account, at=at, by=account)
    return _make_recovery_codes(account)


def _make_recovery_codes(account: User) -> list[str]:
    codes_of(account).delete()
    made = codes.new_recovery_codes()
    RecoveryCode.objects.bulk_create(RecoveryCode(account=account, digest=codes.digest_of(code)) for code in made)
    return made


@audit.action
def add_passkey(*, account: User, name: str, key: passkeys.NewKey, at: datetime) -> list[str]:
    """Returns recovery codes, shown this once, where there were none."""
    if passkeys_of(account).count() >= MOST_PASSKEYS:
        raise Refused(f"{MOST_PASSKEYS} passkeys are enough: take one away first.")
    if Passkey.objects.filter(credential_id=key.credential_id).exists():
        raise Refused("This passkey is here already.")
    made = Passkey.objects.create(
        account=account,
        name=name.strip() or "Passkey",
        credential_id=key.credential_id,
        public_key=key.public_key,
        sign_count=key.sign_count,
        made_at=at,
    )
    audit.record("passkey added", account, at=at, by=account, changes={"passkey": made.pk})
    return _first_recovery_codes(account, at)


@audit.action
def use_passkey(*, site: passkeys.Site, answer: str, challenge: str, at: datetime) -> User | None:
    """Whose passkey answered rightly; None where it is unknown, wrong or of a closed account."""
    found = Passkey.objects.select_for_update(of=("self",)).select_related("account")
    key = found.filter(credential_id=passkeys.credential_of(answer), account__is_active=True).first()
    if key is None:
        return None
    count = passkeys.new_count(site, answer, challenge, public_key=bytes(key.public_key), sign_count=key.sign_count)
    if count is None:
        return None
    key.sign_count, key.used_at = count, at
    key.save(update_fields=["sign_count", "used_at"])
    return key.account


@audit.action
def drop_passkey(*, passkey: Passkey, at: datetime) -> None:
    account, key = passkey.account, passkey.pk
    passkey.delete()
    audit.record("passkey taken away", account, at=at, by=account, changes={"passkey": key})
    _drop_idle_recovery_codes(account)


@audit.action
def drop_code_app(*, account: User, at: datetime) -> None:
    CodeApp.objects.filter(account=account).delete()
    audit.record("code app taken away", account, at=at, by=account)
    _drop_idle_recovery_codes(account)


def _drop_idle_recovery_codes(account: User) -> None:
    if not has_second_step(account):
        codes_of(account).delete()


@audit.action
def drop_second_step(*, account: User, at: datetime, by: User) -> None:
    """For somebody who lost phone and codes: the password alone lets them in until they set up a new one."""
    if not has_second_step(account):
        raise Refused(f"{account} signs in with a password alone.")
    CodeApp.objects.filter(account=account).delete()
    passkeys_of(account).delete()
    codes_of(account).delete()
    audit.record("second step taken away", account, at=at, by=by)
