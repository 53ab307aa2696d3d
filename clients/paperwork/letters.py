"""The letters about signed forms."""

from backoffice.business.letters import send_letter
from backoffice.business.queries import the_business
from backoffice.documents.queries import bytes_of
from clients.paperwork.models import Form, Signature


def send_copy(form_pk: int) -> None:
    """Mail the sealed paper to who signed it: the guardian, where a guardian signed for somebody under age."""
    rows = Form.objects.select_related("wording_version__wording", "animal", "barn", "signer__guardian", "document")
    form = rows.select_related("signature").get(pk=form_pk)
    for_a_ward = form.signature.capacity == Signature.Capacity.GUARDIAN and form.signer.guardian is not None
    reader = form.signer.guardian if for_a_ward and form.signer.guardian else form.signer
    if form.document is None:
        return
    subject = f"Your copy: {form.wording_version.wording.title}, {the_business().name}"
    context = {"form": form, "name": form.signature.name_typed}
    papers = [(f"{form.wording_version.wording.kind}.pdf", bytes_of(form.document))] if reader.email else []
    send_letter("form_copy", subject, reader.email, context, papers=papers)
