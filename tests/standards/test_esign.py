"""What a signer is told before agreeing to an electronic record.

Source: Electronic Signatures in Global and National Commerce Act, 15 USC 7001(c)(1) and (d), 7006(5).
"""

import json

import pytest
from django.urls import reverse
from django.utils import timezone

from clients.paperwork.models import Form, Signature
from clients.paperwork.signing import link_to_sign
from tests.factories.clients import AnimalFactory, FormFactory, OwnershipFactory
from tests.factories.paperwork import DRAWN

pytestmark = pytest.mark.django_db

# clause → (the paragraph of the page, words that must stand in it)
CLAUSES = {
    "(c)(1)(B)(i)(I) the option of paper": ("paper-option", ("on paper", "costs nothing")),
    "(c)(1)(B)(i)(II) the right to withdraw, consequences, fees": (
        "how-to-withdraw",
        ("at any time", "without a fee", "no longer holds"),
    ),
    "(c)(1)(B)(ii) what the consent covers": ("what-it-covers", ("this one form only",)),
    "(c)(1)(B)(iii) how to withdraw": ("how-to-withdraw", ("hello@holt-adair.example",)),
    "(c)(1)(B)(iii) how to update an address": ("new-address", ("email or phone",)),
    "(c)(1)(B)(iv) a paper copy afterwards, and its fee": ("paper-copy", ("copy on paper", "costs nothing")),
    "(c)(1)(C)(i) hardware and software": ("what-is-needed", ("web browser", "PDF", "storage or a printer")),
}


@pytest.fixture
def address(business, owner_manager) -> str:
    animal = AnimalFactory()
    owner = OwnershipFactory(animal=animal, person__name="Ottilie Brackwater").person
    form = FormFactory(animal=animal, signer=owner)
    token = link_to_sign(form=form, at=timezone.now(), by=owner_manager)
    return reverse("clients:owner-form", args=[token])


def paragraph(text: str, name: str) -> str:
    return text.split(f'id="{name}"', 1)[1].split("</li>", 1)[0]


@pytest.mark.parametrize("clause", CLAUSES)
def test_each_clause_is_shown_before_signing(clause, address, client):
    text = client.get(address).content.decode()
    name, words = CLAUSES[clause]
    shown = paragraph(text, name)
    assert [word for word in words if word not in shown] == []
    assert text.index(f'id="{name}"') < text.index('name="electronic"') < text.index("data-signature")


def test_nobody_signs_without_agreeing_first(address, client):
    """(c)(1)(A) affirmative consent; (c)(1)(C)(ii) given electronically, on the page that shows the record itself."""
    data = {"capacity": "owner", "name_typed": "Ottilie Brackwater", "strokes": json.dumps(DRAWN)}
    assert client.post(address, data).status_code == 422
    assert client.post(address, {**data, "electronic": "on"}).status_code == 302


def test_the_record_is_kept_as_it_was_signed_and_can_be_had_again(address, client):
    """(d)(1) retained record: accurate, accessible, able to be reproduced. UETA section 12 says the same."""
    data = {"capacity": "owner", "name_typed": "Ottilie Brackwater", "strokes": json.dumps(DRAWN), "electronic": "on"}
    client.post(address, data)
    form, signature = Form.objects.get(), Signature.objects.get()
    version = form.wording_version
    version.text = "Something else."
    version.save()
    assert "I agree to sessions for" in signature.text
    assert client.get(f"{address}copy/").content.startswith(b"%PDF")
    assert "Signed on" in client.get(address).content.decode()
