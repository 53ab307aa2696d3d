"""The seal: a PAdES signature by the business's own key. It shows that a file has not changed since its moment.

Level B-B; B-T, with a time stamp of somebody else, where the business has set the address of a time-stamp service.

It does not prove who signed a form; that evidence is kept with the form. Not a qualified signature.
"""

import logging
from concurrent.futures import ThreadPoolExecutor
from datetime import datetime
from io import BytesIO
from typing import Any

from asn1crypto import keys, pem, x509

from backoffice.business.queries import the_business
from backoffice.documents.keys import current_key, private_der
from backoffice.documents.models import SealKey

FIELD_NAME = "Seal"
STAMP_SECONDS = 5
log = logging.getLogger(__name__)


def seal_pdf(content: bytes, *, reason: str, at: datetime) -> bytes:
    """The same PDF with the seal appended, over the entire file. Seal last: a later byte breaks it."""
    key = current_key(at=at)
    signer = _signer_of(key)
    business = the_business()
    name, stamper = business.name, _time_stamper(business.time_stamp_address)
    # pyHanko drives its own event loop, which a thread that already runs one (a browser test) would refuse
    with ThreadPoolExecutor(max_workers=1) as pool:

        def sign(stamper: Any) -> bytes:
            return pool.submit(_sign, content, signer=signer, name=name, reason=reason, at=at, stamper=stamper).result()

        try:
            return sign(stamper)
        except (OSError, ValueError) as error:
            if stamper is None:
                raise
            # a signature in the barn does not wait for somebody else's server: the seal is B-B then, and says so
            log.warning("No time stamp from %s (%s): sealed without one.", business.time_stamp_address, error)
            return sign(None)


def fault_of_seal(content: bytes, *, keys_pem: list[str]) -> str | None:
    """What is wrong with the seal of a PDF, as the end of a sentence; None when it is whole, and by one of our keys."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        return pool.submit(_fault, content, keys_pem=keys_pem).result()


def _time_stamper(address: str) -> Any:
    from pyhanko.sign.timestamps import HTTPTimeStamper

    return HTTPTimeStamper(address, timeout=STAMP_SECONDS) if address else None


def certificate_of(certificate_pem: str) -> x509.Certificate:
    _kind, _headers, der = pem.unarmor(certificate_pem.encode())
    return x509.Certificate.load(der)


def _signer_of(key: SealKey) -> Any:
    from pyhanko.sign.signers import SimpleSigner
    from pyhanko_certvalidator.registry import SimpleCertificateStore

    return SimpleSigner(
        signing_cert=certificate_of(key.certificate_pem),
        signing_key=keys.PrivateKeyInfo.load(private_der(key)),
        cert_registry=SimpleCertificateStore(),  # type: ignore[no-untyped-call]
    )


def _sign(content: bytes, *, signer: Any, name: str, reason: str, at: datetime, stamper: Any) -> bytes:
    from pyhanko.pdf_utils.incremental_writer import IncrementalPdfFileWriter
    from pyhanko.sign.fields import SigFieldSpec, SigSeedSubFilter
    from pyhanko.sign.signers import PdfSignatureMetadata, PdfSigner

    class SignerAt(PdfSigner):
        """States the moment of the action, not the moment that the machine's clock shows."""

        def init_signing_session(self, *args: Any, **kwargs: Any) -> Any:
            session = super().init_signing_session(*args, **kwargs)
            session.system_time = at
            return session

    meaning = PdfSignatureMetadata(
        field_name=FIELD_NAME, md_algorithm="sha256", subfilter=SigSeedSubFilter.PADES, reason=reason, name=name
    )
    sealed = SignerAt(meaning, signer, timestamper=stamper, new_field_spec=SigFieldSpec(FIELD_NAME)).sign_pdf(
        IncrementalPdfFileWriter(BytesIO(content))
    )
    return bytes(sealed.getvalue())


def _fault(content: bytes, *, keys_pem: list[str]) -> str | None:
    from pyhanko.pdf_utils.misc import PdfError
    from pyhanko.pdf_utils.reader import PdfFileReader
    from pyhanko.sign.validation import SignatureCoverageLevel, validate_pdf_signature
    from pyhanko.sign.validation.errors import SignatureValidationError
    from pyhanko_certvalidator import ValidationContext

    try:
        seals = PdfFileReader(BytesIO(content)).embedded_regular_signatures
        if len(seals) != 1:
            return f"carries {len(seals)} seals instead of one"
        seal = seals[0]
        if seal.signer_cert.sha256 not in {certificate_of(text).sha256 for text in keys_pem}:
            return "is sealed by a key that is not ours"
        moment = seal.self_reported_timestamp
        context = ValidationContext(trust_roots=[seal.signer_cert], moment=moment, allow_fetching=False)
        status = validate_pdf_signature(seal, context, skip_diff=True)
    except (PdfError, SignatureValidationError, ValueError) as error:
        return f"has a seal that cannot be read ({error})"
    if not (status.intact and status.valid):
        return "has a seal that does not match its content"
    if status.coverage != SignatureCoverageLevel.ENTIRE_FILE:
        return "was added to after it was sealed"
    return None
