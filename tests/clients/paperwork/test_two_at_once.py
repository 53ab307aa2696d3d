"""One private link used by two at the same moment: the first counts, the second hears so, nothing is half."""

import pytest

from backoffice.audit.models import Entry
from backoffice.documents.models import Document
from backoffice.refusal import Refused
from clients.paperwork.models import Signature, VetReferral
from clients.paperwork.referring import answer_referral
from clients.paperwork.signing import sign_form
from tests.at_once import at_once
from tests.conftest import NOW
from tests.factories.backoffice import BusinessFactory
from tests.factories.clients import AnimalFactory, FormFactory, OwnershipFactory
from tests.factories.paperwork import DRAWN, referral_for, vet_word

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("private_folder")]


def test_of_two_signatures_at_once_one_is_kept():
    BusinessFactory()
    owner = OwnershipFactory(animal=AnimalFactory()).person
    form = FormFactory(animal=owner.ownerships.get().animal, signer=owner)

    def signing():
        return sign_form(form=form, name_typed=owner.name, capacity="owner", strokes=DRAWN, at=NOW)

    refused = [answer for answer in at_once([signing, signing]) if isinstance(answer, Refused)]
    assert [answer.sentence for answer in refused] == ["This form is already signed. A signed form is never edited."]
    assert (Signature.objects.count(), Document.objects.count()) == (1, 1)
    assert Entry.objects.filter(action="form signed").count() == 1


def test_of_two_answers_of_a_vet_at_once_one_is_kept():
    BusinessFactory()
    waiting = referral_for(AnimalFactory(), answer="waiting", answered_on=None, since=None, until=None)

    def answering(answer):
        return lambda: answer_referral(referral=waiting, word=vet_word(answer=answer), at=NOW)

    refused = [answer for answer in at_once([answering("yes"), answering("no")]) if isinstance(answer, Refused)]
    assert len(refused) == 1
    kept = VetReferral.objects.get()
    assert Entry.objects.get(action="vet answered").changes["answer"] == kept.answer
    assert Document.objects.count() == 1
