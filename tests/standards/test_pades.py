"""The seal, judged by others than us.

ETSI EN 319 142-1 V1.2.1, 5.3 and 6.3 (PAdES baseline, level B-B): SubFilter ETSI.CAdES.detached, one signer, a
signing-certificate-v2 attribute, the moment in /M and not in the CMS signing-time attribute, the byte range over the
whole file but the signature itself.
"""

import subprocess
from asyncio import events
from datetime import timedelta
from io import BytesIO

import pytest
from asn1crypto import keys, x509
from cryptography import x509 as crypto
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.timestamps import DummyTimeStamper, TimestampRequestError
from pyhanko.sign.validation import SignatureCoverageLevel, validate_pdf_signature
from pyhanko_certvalidator import ValidationContext

from backoffice.documents import seal as seal_module
from backoffice.documents.models import SealKey
from backoffice.documents.render import pdf_of_html
from backoffice.documents.seal import fault_of_seal, seal_pdf
from tests.pdf_tools import needs_tool


@pytest.fixture(autouse=True)
def _outside_the_browsers_loop():
    """A browser test before this one leaves its event loop running in the process; the validator starts its own."""
    loop = events._get_running_loop()
    events._set_running_loop(None)
    yield
    events._set_running_loop(loop)


@pytest.fixture
def sealed(business, now) -> bytes:
    page = '<html lang="en"><head><title>Consent</title></head><body><p>I agree.</p></body></html>'
    return seal_pdf(pdf_of_html(page, paper="letter"), reason="Signed", at=now)


def test_it_is_of_the_baseline_b_form(sealed, now):
    (seal,) = PdfFileReader(BytesIO(sealed)).embedded_regular_signatures
    assert seal.sig_object["/SubFilter"] == "/ETSI.CAdES.detached"
    attributes = {attribute["type"].native for attribute in seal.signer_info["signed_attrs"]}
    assert {"content_type", "message_digest", "signing_certificate_v2"} <= attributes
    assert "signing_time" not in attributes
    assert seal.self_reported_timestamp == now
    start, before, after, rest = (int(value) for value in seal.byte_range)
    assert (start, after + rest) == (0, len(sealed))
    assert sealed[before : before + 1] == b"<"
    assert sealed[after - 1 : after] == b">"


def test_pyhanko_s_validator_agrees(sealed, now):
    (seal,) = PdfFileReader(BytesIO(sealed)).embedded_regular_signatures
    context = ValidationContext(trust_roots=[seal.signer_cert], moment=now, allow_fetching=False)
    status = validate_pdf_signature(seal, context)
    assert status.bottom_line
    assert status.coverage == SignatureCoverageLevel.ENTIRE_FILE


def pdfsig(content: bytes, folder) -> str:
    file = folder / "sealed.pdf"
    file.write_bytes(content)
    return subprocess.run(["pdfsig", "-nocert", file], capture_output=True, text=True).stdout


@pytest.mark.pdf
@needs_tool("pdfsig")
def test_poppler_agrees(sealed, tmp_path):
    told = pdfsig(sealed, tmp_path)
    assert "Signature is Valid." in told
    assert "Total document signed" in told
    assert "ETSI.CAdES.detached" in told


@pytest.mark.pdf
@needs_tool("pdfsig")
def test_poppler_notices_one_changed_byte(sealed, tmp_path):
    changed = bytearray(sealed)
    changed[sealed.index(b"/Title") + 9] ^= 1
    assert "Signature is Valid." not in pdfsig(bytes(changed), tmp_path)


@pytest.mark.pdf
@needs_tool("pdfsig")
def test_poppler_notices_an_added_line(sealed, tmp_path):
    assert "Not total document signed" in pdfsig(sealed + b"\n% more", tmp_path)


# ETSI EN 319 142-1, 6.3 (level B-T): the same, and a time stamp of somebody else among the unsigned attributes.


@pytest.fixture
def stamped(business, now, monkeypatch) -> bytes:
    business.time_stamp_address = "https://stamps.invalid/"
    business.save()
    monkeypatch.setattr(seal_module, "_time_stamper", lambda address: dummy_stamper(now) if address else None)
    page = '<html lang="en"><head><title>Consent</title></head><body><p>I agree.</p></body></html>'
    return seal_pdf(pdf_of_html(page, paper="letter"), reason="Signed", at=now)


def dummy_stamper(moment) -> DummyTimeStamper:
    """A time-stamp service in this process, with a certificate of its own: no network."""
    private = rsa.generate_private_key(public_exponent=65537, key_size=2048)
    name = crypto.Name([crypto.NameAttribute(NameOID.COMMON_NAME, "Invented time stamps")])
    certificate = (
        crypto.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(private.public_key())
        .serial_number(7)
        .not_valid_before(moment - timedelta(days=1))
        .not_valid_after(moment + timedelta(days=30))
        .add_extension(crypto.ExtendedKeyUsage([ExtendedKeyUsageOID.TIME_STAMPING]), critical=True)
        .sign(private, hashes.SHA256())
    )
    der = private.private_bytes(Encoding.DER, PrivateFormat.PKCS8, NoEncryption())
    loaded = x509.Certificate.load(certificate.public_bytes(Encoding.DER))
    return DummyTimeStamper(loaded, keys.PrivateKeyInfo.load(der), fixed_dt=moment)


def test_with_a_time_stamp_service_it_is_of_the_baseline_t_form(stamped, now):
    (seal,) = PdfFileReader(BytesIO(stamped)).embedded_regular_signatures
    [stamp] = stamps_of(seal)
    roots = [seal.signer_cert, *(choice.chosen for choice in stamp["content"]["certificates"])]
    context = ValidationContext(trust_roots=roots, moment=now, allow_fetching=False)
    status = validate_pdf_signature(seal, context, ts_validation_context=context)
    assert status.bottom_line
    assert status.timestamp_validity.timestamp == now
    assert fault_of_seal(stamped, keys_pem=[key.certificate_pem for key in SealKey.objects.all()]) is None


def stamps_of(seal) -> list:
    """The signature time stamps among the unsigned attributes."""
    unsigned = seal.signer_info["unsigned_attrs"]
    found = [attribute for attribute in unsigned if attribute["type"].native == "signature_time_stamp_token"]
    return [value for attribute in found for value in attribute["values"]]


@pytest.mark.pdf
@needs_tool("pdfsig")
def test_poppler_agrees_with_a_stamped_seal(stamped, tmp_path):
    assert "Signature is Valid." in pdfsig(stamped, tmp_path)


def test_without_an_answer_of_the_service_the_seal_is_of_the_baseline_b_form(business, now, monkeypatch, caplog):
    class Silent(DummyTimeStamper):
        async def async_timestamp(self, *args, **kwargs):
            raise TimestampRequestError("no answer")

        async def async_dummy_response(self, *args, **kwargs):
            raise TimestampRequestError("no answer")

    business.time_stamp_address = "https://stamps.invalid/"
    business.save()
    silent = dummy_stamper(now)
    silent.__class__ = Silent
    monkeypatch.setattr(seal_module, "_time_stamper", lambda address: silent)
    page = '<html lang="en"><head><title>Consent</title></head><body><p>I agree.</p></body></html>'
    sealed = seal_pdf(pdf_of_html(page, paper="letter"), reason="Signed", at=now)
    (seal,) = PdfFileReader(BytesIO(sealed)).embedded_regular_signatures
    assert stamps_of(seal) == []
    assert "No time stamp" in caplog.text
