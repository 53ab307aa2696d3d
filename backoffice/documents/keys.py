"""The business's own signing key: EC P-256, self-signed, its private half encrypted with the installation's secret."""

import base64
from datetime import datetime, timedelta

from cryptography import x509
from cryptography.fernet import Fernet, InvalidToken, MultiFernet
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.x509.oid import NameOID
from django.conf import settings
from django.utils.encoding import force_bytes

from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.documents.models import SealKey
from backoffice.refusal import Refused

CERTIFICATE_YEARS = 30
LOCKED_OTHERWISE = "was locked with another SECRET_KEY. Put that key back, or list it in SECRET_KEY_FALLBACKS."


def current_key(*, at: datetime) -> SealKey:
    return _newest_key() or make_key(at=at)


def _newest_key() -> SealKey | None:
    """Of those whose private half is here: a key that was brought from elsewhere only proves old seals."""
    return next((key for key in SealKey.objects.order_by("-made_at", "-pk") if key.encrypted_key), None)


@audit.action
def make_key(*, at: datetime) -> SealKey:
    """The first key of the installation. Whoever comes second, after waiting for the lock, gets the same one."""
    existing = _newest_key()
    if existing is not None:
        return existing
    private = ec.generate_private_key(ec.SECP256R1())
    der = private.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    certificate = _self_signed(private, name=the_business().name, at=at)
    key = SealKey.objects.create(
        certificate_pem=certificate.public_bytes(serialization.Encoding.PEM).decode(),
        encrypted_key=seal(der),
        made_at=at,
    )
    audit.record("seal key made", key, at=at, by=None)
    return key


def private_der(key: SealKey) -> bytes:
    """The private half as PKCS #8 DER. Refused when the installation's secret is not the one it was encrypted with."""
    try:
        return _cipher().decrypt(bytes(key.encrypted_key))
    except InvalidToken:
        raise Refused(f"The seal key {LOCKED_OTHERWISE}") from None


def seal(secret: bytes) -> bytes:
    """Encrypted with the installation's secret, for what the database must hold and nobody should read in it."""
    return _cipher().encrypt(secret)


def open_sealed(sealed: bytes) -> bytes:
    try:
        return _cipher().decrypt(sealed)
    except InvalidToken:
        raise Refused(f"This {LOCKED_OTHERWISE}") from None


def _cipher() -> MultiFernet:
    return MultiFernet([_fernet(secret) for secret in [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]])


def _fernet(secret: str | bytes) -> Fernet:
    derived = HKDF(algorithm=hashes.SHA256(), length=32, salt=None, info=b"backoffice.documents.seal")
    return Fernet(base64.urlsafe_b64encode(derived.derive(force_bytes(secret))))


def _self_signed(private: ec.EllipticCurvePrivateKey, *, name: str, at: datetime) -> x509.Certificate:
    # RFC 5280, ub-common-name: 64 characters; the library counts bytes
    common_name = name.encode()[:64].decode(errors="ignore")
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common_name)])
    usage = x509.KeyUsage(
        digital_signature=True,
        content_commitment=True,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=False,
        crl_sign=False,
        encipher_only=False,
        decipher_only=False,
    )
    return (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(private.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(at - timedelta(days=1))
        .not_valid_after(at + timedelta(days=365 * CERTIFICATE_YEARS))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(usage, critical=True)
        .sign(private, hashes.SHA256())
    )
