import pytest
from django.urls import reverse

pytestmark = pytest.mark.django_db


def test_words_keys_and_cautions_for_everybody_who_signs_in(as_bookkeeper, as_assistant):
    for person in (as_bookkeeper, as_assistant):
        page = person.get(reverse("backoffice:help")).content.decode()
        for words in ("One arrival at a barn", "Ctrl", "call the vet", "promises an outcome", "implanted device"):
            assert words in page
