"""vCards by RFC 6350: lines of at most 75 octets, ended with CRLF (3.2), text escaped (3.4), a name on each (6.2.1)."""

import pytest
from django.urls import reverse

from tests.factories.clients import PersonFactory

pytestmark = pytest.mark.django_db


def unfolded(content: bytes) -> list[str]:
    return content.replace(b"\r\n ", b"").decode().split("\r\n")[:-1]


def test_one_person_as_a_card(as_assistant):
    person = PersonFactory(
        name="Brackwater, Ottilie; " + "é" * 60,
        phone="+1 303 555 0142",
        email="o@x.example",
        address="1 Lane, north\nTown",
    )
    answer = as_assistant.get(reverse("clients:person-vcard", args=[person.pk]))
    assert answer["Content-Type"] == "text/vcard; charset=utf-8"
    assert max(len(line) for line in answer.content.split(b"\r\n")) <= 75
    lines = unfolded(answer.content)
    assert (lines[0], lines[1], lines[-1]) == ("BEGIN:VCARD", "VERSION:4.0", "END:VCARD")
    assert "FN:Brackwater\\, Ottilie\\; " + "é" * 60 in lines
    assert "TEL;VALUE=uri:tel:+1%20303%20555%200142" in lines
    assert "EMAIL:o@x.example" in lines
    assert "ADR:;;1 Lane\\, north\\, Town;;;;" in lines


def test_everybody_on_file_with_a_lasting_id_and_no_note(as_assistant):
    PersonFactory.create_batch(3, note="a word of ours")
    first = as_assistant.get(reverse("clients:people-vcards")).content
    lines = unfolded(first)
    assert lines.count("BEGIN:VCARD") == 3
    assert len({line for line in lines if line.startswith("UID:urn:uuid:")}) == 3
    assert b"a word of ours" not in first
    assert as_assistant.get(reverse("clients:people-vcards")).content == first
