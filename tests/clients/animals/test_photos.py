import pytest
from django.urls import reverse

from backoffice.audit.queries import trail_of
from backoffice.documents.models import Document
from backoffice.documents.uploads import checked
from backoffice.documents.verification import faults_of_files, files_without_a_row
from backoffice.refusal import Refused
from clients.animals.photos import set_photo
from clients.records.about_horse import held_about_horse
from tests.factories.clients import AnimalFactory
from tests.uploads import pdf, photo, upload

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.usefixtures("private_folder")]


@pytest.fixture
def animal(business):
    return AnimalFactory(name="Biscuit")


def test_a_new_photo_takes_the_place_of_the_one_before_whose_bytes_are_destroyed(animal, now, owner_manager):
    first = set_photo(animal=animal, photo=checked(photo()), at=now, by=owner_manager).photo
    second = set_photo(animal=animal, photo=checked(photo("PNG")), at=now, by=owner_manager).photo
    animal.refresh_from_db()
    first.refresh_from_db()
    assert animal.photo == second
    assert (first.erased_at, first.erased_rule) == (now, "horse")
    assert not first.file.storage.exists(first.file.name)
    assert [*faults_of_files(), *files_without_a_row()] == []
    assert [entry.action for entry in trail_of(animal)] == ["photo set", "photo set"]


def test_a_pdf_is_no_photo(animal, now, owner_manager):
    with pytest.raises(Refused, match="not a photo"):
        set_photo(animal=animal, photo=checked(pdf()), at=now, by=owner_manager)


def test_the_photo_goes_with_the_horse_s_identity(animal, now, owner_manager):
    animal = set_photo(animal=animal, photo=checked(photo()), at=now, by=owner_manager)
    (held,) = (held for held in held_about_horse(animal) if held.kind == "horse")
    assert held.documents == (animal.photo,)
    held.empty()
    animal.refresh_from_db()
    assert animal.photo is None


def test_the_photo_is_on_the_horse_s_page_and_opens_for_staff_only(animal, as_assistant, as_bookkeeper, client):
    address = reverse("clients:animal-photo", args=[animal.pk])
    answer = as_assistant.post(
        address, {"photo": upload(photo(located=True), "../biscuit.gif", "image/gif")}, follow=True
    )
    kept = Document.objects.get()
    opened = reverse("backoffice:document", args=[kept.pk])
    assert f'src="{opened}"' in answer.content.decode()
    assert as_bookkeeper.get(opened)["Content-Type"] == "image/jpeg"
    assert client.get(opened).status_code == 302
    assert as_bookkeeper.get(address).status_code == 403


def test_what_is_no_photo_is_refused_at_the_field(animal, as_assistant):
    address = reverse("clients:animal-photo", args=[animal.pk])
    for content, words in ((pdf(), "not a photo"), (b"<svg/>", "not a photo"), (b"", "empty")):
        answer = as_assistant.post(address, {"photo": upload(content, "biscuit.jpg", "image/jpeg")})
        assert answer.status_code == 422
        assert words in str(answer.context["form"].errors["photo"])
    assert "missing" in str(as_assistant.post(address, {"x": "1"}).context["form"].errors["photo"])
    assert not Document.objects.exists()
