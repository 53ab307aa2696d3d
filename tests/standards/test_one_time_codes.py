"""One-time codes against RFC 6238, appendix B (SHA-1; the last six of its eight digits), and RFC 4226, section 5.3."""

from base64 import b32encode
from datetime import UTC, datetime

import pytest

from backoffice.team.codes import new_secret, step_of

SECRET = b32encode(b"12345678901234567890").decode()


@pytest.mark.parametrize(
    ("seconds", "code"),
    [
        (59, "94287082"),
        (1111111109, "07081804"),
        (1111111111, "14050471"),
        (1234567890, "89005924"),
        (2000000000, "69279037"),
        (20000000000, "65353130"),
    ],
)
def test_the_vectors_of_appendix_b(seconds, code):
    at = datetime.fromtimestamp(seconds, tz=UTC)
    assert step_of(SECRET, code[-6:], at=at) == seconds // 30
    assert step_of(SECRET, "000000", at=at) is None


def test_a_secret_has_the_160_bits_that_rfc_4226_recommends():
    assert len(new_secret()) * 5 == 160
