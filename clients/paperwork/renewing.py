"""What is asked again before it ends: signed forms by the night's work, an unanswered vet by a reminder."""

from collections.abc import Iterator
from contextlib import suppress
from datetime import date, datetime, timedelta

from django.db import transaction

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.business.models import Business
from backoffice.business.queries import the_business
from backoffice.refusal import Refused
from clients.animals.actions import today_of
from clients.paperwork.models import Form, VetReferral, Wording
from clients.paperwork.queries import lapsing_before, newest_version
from clients.paperwork.referring import link_to_answer
from clients.paperwork.signers import all_capacities
from clients.paperwork.signing import ask_to_sign

RENEWED = {Wording.Kind.CONSENT, Wording.Kind.RELEASE, Wording.Kind.PHOTOS, Wording.Kind.AUTHORITY, Wording.Kind.TERMS}


def draft_renewals(*, at: datetime) -> list[Form]:
    """A new form to sign for each that ends within the notice, once; those that cannot be asked for are left alone.

    Hire agreements and package terms end with what they are about. Run it as often as you like.
    """
    business, on = the_business(), today_of(at)
    drafted = []
    for form in _ending(business, on):
        version = newest_version(form.wording_version.wording)
        if version is None or not any(all_capacities(form, on, business)):
            continue
        with suppress(Refused), transaction.atomic():
            renewal = ask_to_sign(
                version=version,
                signer=form.signer,
                animal=form.animal,
                barn=form.barn,
                agent=form.agent,
                cap=form.cap_amount,
                at=at,
                by=None,
            )
            drafted.append(renewal)
    return drafted


def _ending(business: Business, on: date) -> Iterator[Form]:
    """Ending forms that nobody was asked to sign again since their notice began: a draft taken back stays so."""
    notice = timedelta(days=business.consent_notice_days)
    for form in lapsing_before(on + notice + timedelta(days=1), on=on):
        if form.wording_version.wording.kind not in RENEWED or form.valid_until is None:
            continue
        same = Form.objects.filter(
            wording_version__wording=form.wording_version.wording,
            signer=form.signer,
            animal=form.animal,
            barn=form.barn,
            agent=form.agent,
        )
        if not any(today_of(other.made_at) >= form.valid_until - notice for other in same.exclude(pk=form.pk)):
            yield form


@audit.action
def remind_vet(*, referral: VetReferral, at: datetime, by: User) -> str:
    """The token of a new private link to send with the reminder; the earlier one closes."""
    token = link_to_answer(referral=referral, at=at, by=by)
    VetReferral.objects.filter(pk=referral.pk).update(reminded_on=today_of(at))
    audit.record("vet reminded", referral, at=at, by=by)
    return token
