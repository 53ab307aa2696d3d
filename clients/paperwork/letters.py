"""The letters about signed forms."""

from datetime import datetime

from backoffice.business.queries import the_business
from backoffice.letters.actions import Draft, send_letter
from backoffice.letters.models import Letter
from clients.paperwork.models import Form, Signature


def send_copy(form: Form, signature: Signature, *, at: datetime) -> None:
    """Mail the sealed paper to who signed it: the guardian, where a guardian signed for somebody under age."""
    for_a_ward = signature.capacity == Signature.Capacity.GUARDIAN and form.signer.guardian is not None
    reader = form.signer.guardian if for_a_ward and form.signer.guardian else form.signer
    if form.document is None:
        return
    send_letter(
        Draft(
            kind=Letter.Kind.FORM_COPY,
            to=reader.email,
            subject=f"Your copy: {form.wording_version.wording.title}, {the_business().name}",
            about=form,
            person=form.signer,
            context={"form": form, "name": signature.name_typed},
            papers=[form.document],
        ),
        at=at,
    )
