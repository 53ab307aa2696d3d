"""The seal, judged by others than us.

ETSI EN 319 142-1 V1.2.1, 5.3 and 6.3 (PAdES baseline, level B-B): SubFilter ETSI.CAdES.detached, one signer, a
signing-certificate-v2 attribute, the moment in /M and not in the CMS signing-time attribute, the byte range over the
whole file but the signature itself.
"""

import subprocess
from io import BytesIO

import pytest
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.validation import SignatureCoverageLevel, validate_pdf_signature
from pyhanko_certvalidator import ValidationContext

from backoffice.documents.render import pdf_of_html
from backoffice.documents.seal import seal_pdf
from tests.pdf_tools import needs_tool


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
