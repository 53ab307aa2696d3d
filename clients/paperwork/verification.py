"""What `verify` looks at among signed forms."""

from collections.abc import Iterator

from backoffice.audit.models import Entry
from clients.paperwork.models import Form, Signature
from clients.paperwork.signing import evidence_of
from clients.people.keyed import digest_with


def count_signatures() -> str:
    return f"{Signature.objects.exclude(name_typed='').count()} signatures"


def faults_of_signatures() -> Iterator[str]:
    """Signatures that are not the ones of the trail: the keyed digest of name, role, text, strokes and moment differs.

    An erased signature is empty and its person's key is gone, so there is nothing to compare.
    """
    entries = Entry.objects.filter(action="form signed", target=Form._meta.label_lower)
    noted = {entry.target_pk: entry.changes.get("evidence") for entry in entries.iterator()}
    signed = Signature.objects.exclude(name_typed="").select_related("form__signer__key").order_by("pk")
    for signature in signed.iterator():
        key = getattr(signature.form.signer, "key", None)
        if key is None or noted.get(str(signature.form_id)) != digest_with(bytes(key.key), evidence_of(signature)):
            yield f"form {signature.form_id}: its signature is not the one that the trail keeps a digest of."
