"""The signer gets a copy by mail where an address is known."""

from datetime import date

import pytest

from clients.paperwork.signing import sign_form
from tests.factories.clients import FormFactory, OwnershipFactory, PersonFactory
from tests.factories.paperwork import DRAWN


@pytest.fixture
def form(business, private_folder):
    share = OwnershipFactory(person__name="Ottilie Brackwater", person__email="ottilie@brackwater.example")
    return FormFactory(animal=share.animal, signer=share.person)


def signed(form, at, capture, **options):
    options = {"name_typed": form.signer.name, "capacity": "owner", **options}
    with capture(execute=True):
        return sign_form(form=form, strokes=DRAWN, at=at, **options)


def test_the_signer_gets_the_sealed_paper(form, now, mailoutbox, django_capture_on_commit_callbacks):
    done = signed(form, now, django_capture_on_commit_callbacks)
    [letter] = mailoutbox
    assert letter.to == ["ottilie@brackwater.example"]
    assert letter.subject == "Your copy: Consent to sessions, Holt-Adair Horse Sessions"
    [(name, content, kind)] = letter.attachments
    with done.document.file.open("rb") as stored:
        assert content == stored.read()
    assert (name, kind) == (done.document.file_name, "application/pdf")
    html = letter.alternatives[0].content
    for body in (letter.body, html):
        assert "your copy of what was signed" in body


def test_nobody_is_written_to_without_an_address(form, now, mailoutbox, django_capture_on_commit_callbacks):
    form.signer.email = ""
    form.signer.save()
    signed(form, now, django_capture_on_commit_callbacks)
    assert mailoutbox == []


def test_a_guardian_who_signed_gets_the_copy(form, now, mailoutbox, django_capture_on_commit_callbacks):
    guardian = PersonFactory(name="Corin Ashlund", email="corin@ashlund.example")
    form.signer.guardian, form.signer.born_on = guardian, date(2015, 1, 1)
    form.signer.save()
    signed(form, now, django_capture_on_commit_callbacks, name_typed="Corin Ashlund", capacity="guardian")
    assert mailoutbox[0].to == ["corin@ashlund.example"]


def no_server(letter):
    raise ConnectionRefusedError


def test_mail_that_cannot_be_sent_undoes_no_signature(form, now, monkeypatch, django_capture_on_commit_callbacks):
    monkeypatch.setattr("backoffice.letters.actions._message", no_server)
    assert signed(form, now, django_capture_on_commit_callbacks).state == "signed"
