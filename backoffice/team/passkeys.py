"""Passkeys (W3C Web Authentication), through the library: what a browser is asked, and whether its answer stands."""

from collections.abc import Iterable
from dataclasses import dataclass

from webauthn import (
    generate_authentication_options,
    generate_registration_options,
    options_to_json,
    verify_authentication_response,
    verify_registration_response,
)
from webauthn.helpers import base64url_to_bytes, bytes_to_base64url
from webauthn.helpers.exceptions import WebAuthnException
from webauthn.helpers.parse_authentication_credential_json import parse_authentication_credential_json
from webauthn.helpers.structs import (
    AuthenticatorSelectionCriteria,
    PublicKeyCredentialDescriptor,
    ResidentKeyRequirement,
    UserVerificationRequirement,
)

LONGEST_ANSWER = 20_000
WRONG = (WebAuthnException, ValueError, KeyError, TypeError)


@dataclass(frozen=True, slots=True)
class Site:
    """Where the page stands: a passkey is bound to the name of its host."""

    host: str
    origin: str

    @property
    def can_have_passkeys(self) -> bool:
        """A host with a name, over https or on this very machine; never a bare number."""
        named = not self.host.replace(".", "").isdecimal() and ":" not in self.host
        return named and (self.origin.startswith("https://") or self.host == "localhost")


@dataclass(frozen=True, slots=True)
class NewKey:
    credential_id: str
    public_key: bytes
    sign_count: int


@dataclass(frozen=True, slots=True)
class Asked:
    """The question as the browser takes it, and the challenge that its answer must carry."""

    json: str
    challenge: str


def ask_to_make(site: Site, *, business: str, account_pk: int, username: str, known: Iterable[str]) -> Asked:
    """The device must check the person (finger, face, PIN), so that a passkey is two steps in one."""
    options = generate_registration_options(
        rp_id=site.host,
        rp_name=business or site.host,
        user_id=f"account-{account_pk}".encode(),
        user_name=username,
        authenticator_selection=AuthenticatorSelectionCriteria(
            resident_key=ResidentKeyRequirement.REQUIRED, user_verification=UserVerificationRequirement.REQUIRED
        ),
        exclude_credentials=[PublicKeyCredentialDescriptor(id=base64url_to_bytes(each)) for each in known],
    )
    return Asked(options_to_json(options), bytes_to_base64url(options.challenge))


def made_key(site: Site, answer: str, challenge: str) -> NewKey | None:
    """The key that was made, or None where the answer does not stand."""
    if not challenge or len(answer) > LONGEST_ANSWER:
        return None
    try:
        made = verify_registration_response(
            credential=answer,
            expected_challenge=base64url_to_bytes(challenge),
            expected_rp_id=site.host,
            expected_origin=site.origin,
            require_user_verification=True,
        )
    except WRONG:
        return None
    return NewKey(bytes_to_base64url(made.credential_id), made.credential_public_key, made.sign_count)


def ask_to_sign(site: Site) -> Asked:
    """Whoever it is: the device offers the passkeys that it has for this host."""
    options = generate_authentication_options(rp_id=site.host, user_verification=UserVerificationRequirement.REQUIRED)
    return Asked(options_to_json(options), bytes_to_base64url(options.challenge))


def credential_of(answer: str) -> str:
    """The id of the key that the answer names; "" where it names none."""
    if len(answer) > LONGEST_ANSWER:
        return ""
    try:
        return bytes_to_base64url(parse_authentication_credential_json(answer).raw_id)
    except WRONG:
        return ""


def new_count(site: Site, answer: str, challenge: str, *, public_key: bytes, sign_count: int) -> int | None:
    """The counter of the device after this answer; None where the answer does not stand."""
    if not challenge:
        return None
    try:
        checked = verify_authentication_response(
            credential=answer,
            expected_challenge=base64url_to_bytes(challenge),
            expected_rp_id=site.host,
            expected_origin=site.origin,
            credential_public_key=public_key,
            credential_current_sign_count=sign_count,
            require_user_verification=True,
        )
    except WRONG:
        return None
    return int(checked.new_sign_count)
