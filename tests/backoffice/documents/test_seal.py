from datetime import UTC, datetime, timedelta
from io import BytesIO

import pytest
from cryptography import x509
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import load_der_private_key
from pyhanko.pdf_utils.reader import PdfFileReader

from backoffice.audit.models import Entry
from backoffice.documents.keys import current_key, make_key, private_der
from backoffice.documents.models import SealKey
from backoffice.documents.render import pdf_of_html
from backoffice.documents.seal import fault_of_seal, seal_pdf
from backoffice.refusal import Refused

PAGE = '<html lang="en"><head><title>Consent</title></head><body><p>I agree.</p></body></html>'


@pytest.fixture(scope="module")
def plain() -> bytes:
    return pdf_of_html(PAGE, paper="letter")


@pytest.fixture
def sealed(business, now, plain) -> bytes:
    return seal_pdf(plain, reason="Signed", at=now)


def our_keys() -> list[str]:
    return list(SealKey.objects.values_list("certificate_pem", flat=True))


def test_a_sealed_file_is_the_same_file_with_the_seal_behind_it(sealed, plain):
    assert sealed.startswith(plain)
    assert fault_of_seal(sealed, keys_pem=our_keys()) is None


def test_every_changed_byte_is_noticed(sealed, plain):
    for place in (10, len(plain) // 3, len(plain) - 20):
        changed = bytearray(sealed)
        changed[place] ^= 1
        assert fault_of_seal(bytes(changed), keys_pem=our_keys()) is not None


def test_bytes_added_after_the_seal_are_noticed(sealed):
    assert fault_of_seal(sealed + b"\n% more", keys_pem=our_keys()) == "was added to after it was sealed"


def test_a_file_without_a_seal_is_named(plain):
    assert fault_of_seal(plain, keys_pem=[]) == "carries 0 seals instead of one"


def test_a_seal_of_somebody_else_is_named(sealed):
    assert fault_of_seal(sealed, keys_pem=[]) == "is sealed by a key that is not ours"


def test_what_is_no_pdf_is_named():
    assert fault_of_seal(b"not a PDF", keys_pem=[]).startswith("has a seal that cannot be read")


def test_the_key_is_made_once_and_its_making_is_in_the_trail(business, now):
    first = make_key(at=now)
    assert make_key(at=now + timedelta(days=1)) == first == current_key(at=now)
    assert Entry.objects.filter(action="seal key made").count() == 1


def test_the_certificate_names_the_business_and_is_for_sealing_only(business, now):
    certificate = x509.load_pem_x509_certificate(make_key(at=now).certificate_pem.encode())
    assert certificate.subject.rfc4514_string() == "CN=Holt-Adair Horse Sessions"
    assert isinstance(certificate.public_key().curve, ec.SECP256R1)
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    assert usage.digital_signature
    assert usage.content_commitment
    assert not usage.key_cert_sign
    assert certificate.not_valid_before_utc <= now < certificate.not_valid_after_utc


def test_a_very_long_name_still_gives_a_certificate(business, now):
    business.name = "Häuser & Söhne " * 8
    business.save()
    assert make_key(at=now).certificate_pem


def test_the_private_half_is_kept_encrypted(business, now):
    key = make_key(at=now)
    der = private_der(key)
    assert load_der_private_key(der, password=None)
    assert der not in bytes(key.encrypted_key)


def test_another_secret_does_not_open_the_key_and_says_what_to_do(business, now, settings):
    key = make_key(at=now)
    old = settings.SECRET_KEY
    settings.SECRET_KEY = "x" * 60
    with pytest.raises(Refused, match="SECRET_KEY_FALLBACKS"):
        private_der(key)
    settings.SECRET_KEY_FALLBACKS = [old]
    assert private_der(key)


def test_the_seal_states_the_moment_of_the_action(sealed, now):
    (seal,) = PdfFileReader(BytesIO(sealed)).embedded_regular_signatures
    assert seal.self_reported_timestamp == now


def test_a_moment_long_ago_or_ahead_can_be_sealed(business, plain):
    make_key(at=datetime(2026, 3, 2, tzinfo=UTC))
    for at in (datetime(2026, 3, 2, tzinfo=UTC), datetime(2031, 1, 1, tzinfo=UTC)):
        assert fault_of_seal(seal_pdf(plain, reason="Signed", at=at), keys_pem=our_keys()) is None
