"""One-time codes (RFC 6238, six digits, 30 seconds) and recovery codes: made, checked, never stored as they are."""

import hashlib
import hmac
import secrets
from datetime import datetime

import pyotp

SECONDS = 30
ALLOWED_STEPS = (-1, 0, 1)  # a clock may be half a minute off
RECOVERY_CODES = 10
GROUPS, LETTERS_A_GROUP = 5, 5
ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"  # nothing that is mistaken for something else


def new_secret() -> str:
    """160 random bits in base32, as RFC 4226 recommends."""
    return pyotp.random_base32(32)


def address_of(secret: str, *, account: str, business: str) -> str:
    """What the app reads from the picture: an otpauth address."""
    return pyotp.TOTP(secret).provisioning_uri(name=account, issuer_name=business)


def step_of(secret: str, code: str, *, at: datetime) -> int | None:
    """The 30-second step that the code belongs to, one before or after now at most; None for a wrong one."""
    now, found = int(at.timestamp()) // SECONDS, None
    totp = pyotp.TOTP(secret)
    for offset in ALLOWED_STEPS:
        if hmac.compare_digest(totp.generate_otp(now + offset), _digits(code)):
            found = now + offset
    return found


def _digits(code: str) -> str:
    return "".join(letter for letter in code if letter.isascii() and letter.isdigit())


def new_recovery_codes() -> list[str]:
    """Ten, each of 25 letters out of 31, which is 123 bits: enough to be kept under a plain digest."""
    return [_recovery_code() for _ in range(RECOVERY_CODES)]


def _recovery_code() -> str:
    letters = [secrets.choice(ALPHABET) for _ in range(GROUPS * LETTERS_A_GROUP)]
    return "-".join("".join(letters[start : start + LETTERS_A_GROUP]) for start in range(0, len(letters), GROUPS))


def digest_of(code: str) -> str:
    """Of the letters alone, so that spaces, hyphens and capitals do not matter."""
    letters = "".join(letter for letter in code.casefold() if letter in ALPHABET)
    return hashlib.sha256(letters.encode()).hexdigest()
