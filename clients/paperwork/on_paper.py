"""A form signed with a pen: printed to take along, and its scan brought in. The rules are those of signing here."""

from collections.abc import Sequence
from datetime import date, datetime

from django.utils import timezone

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.queries import the_business
from backoffice.documents.render import render_pdf
from backoffice.documents.uploads import Given
from backoffice.refusal import Refused
from clients.animals.actions import say_day, today_of
from clients.paperwork.models import Form, Signature
from clients.paperwork.signers import capacities_of, name_to_type, text_of
from clients.paperwork.signing import digest_of, keep_signature, locked_to_sign, text_to_sign, title_of


def paper_to_sign(form: Form, *, on: date) -> bytes:
    """The form as a PDF to print: the text as it reads on that day, with lines for name, day and signature."""
    if form.state != Form.State.TO_SIGN:
        raise Refused("This form is not to sign any more. Ask for a new one.")
    business = the_business()
    capacities, text = capacities_of(form, on=on, business=business), text_of(form, on=on, business=business)
    names = sorted({name_to_type(form, capacity) for capacity in capacities} - {""})
    context = {
        "form": form,
        "title": title_of(form),
        "text": text,
        "digest": digest_of(text),
        "capacities": [capacity.label for capacity in capacities],
        "names": names,
    }
    with timezone.override(business.zone):
        return render_pdf("documents/form_to_sign.html", context)


@audit.action
def sign_on_paper(
    *,
    form: Form,
    name_typed: str,
    capacity: str,
    signed_on: date,
    scan: Sequence[Given],
    says_the_same: bool = False,
    until: date | None = None,
    at: datetime,
    by: User,
) -> Form:
    """Keep the scan as one sealed PDF, and each file as given. The form holds from the day on the paper.

    A paper that is older than the wording carries other words. With `says_the_same` somebody here has read it and
    answers for it: what was signed is then the scan, and who may sign is judged as of today. It never holds longer than
    the wording does; `until` ends it earlier.
    """
    form = locked_to_sign(form)
    if not scan:
        raise Refused("Choose the scan, or take a photo of each page.")
    if signed_on > today_of(at):
        raise Refused("The day on the paper is still to come.")
    published = form.wording_version.published_on
    if signed_on < published:
        text = _words_of_before(form, name_typed, capacity, says_the_same=says_the_same, at=at, by=by)
    else:
        text = text_to_sign(form, on=signed_on, name_typed=name_typed, capacity=capacity)
    signature = Signature(
        form=form,
        name_typed=" ".join(name_typed.split()),
        capacity=capacity,
        strokes=[],
        text=text,
        text_sha256=digest_of(text),
        signed_at=at,
        paper_signed_on=signed_on,
        witnessed_by=by,
    )
    return keep_signature(form, signature, on=signed_on, until=until, by=by, scan=scan)


def _words_of_before(form: Form, name_typed: str, capacity: str, *, says_the_same: bool, at: datetime, by: User) -> str:
    published = say_day(form.wording_version.published_on)
    if not says_the_same:
        raise Refused(
            f"This wording is of {published}: a paper signed before it carries another text. If you read it and it "
            "says the same, tick that below."
        )
    text_to_sign(form, on=today_of(at), name_typed=name_typed, capacity=capacity)
    return (
        f"What was signed is on the scan: a paper from before the wording “{title_of(form)}” of {published}. "
        f"{by} has read it and says that it covers the same."
    )
