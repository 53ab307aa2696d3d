import pytest
from django.db import DatabaseError
from django.urls import reverse

from backoffice.upkeep import health

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("business", "private_folder")]


def test_it_is_good_without_signing_in_and_leaves_nothing(client, private_folder):
    answer = client.get(reverse("backoffice:health"))
    assert (answer.status_code, answer.content.decode()) == (200, "good")
    assert not [file for file in private_folder.rglob("*") if file.is_file()]
    assert "no-store" in answer["Cache-Control"]


def test_a_database_or_files_that_do_not_answer_are_named(client, monkeypatch):
    def broken(*args, **kwargs):
        raise DatabaseError

    monkeypatch.setattr(
        health,
        "default_storage",
        type("Full", (), {"save": staticmethod(_no_space), "delete": staticmethod(_no_space)}),
    )
    monkeypatch.setattr(health, "connection", type("Gone", (), {"cursor": staticmethod(broken)}))
    answer = client.get(reverse("backoffice:health"))
    assert (answer.status_code, answer.content.decode()) == (503, "no database, no files")


def test_it_answers_when_nothing_can_be_read(client, business, django_assert_num_queries):
    with django_assert_num_queries(1):  # its own question to the database
        client.get(reverse("backoffice:health"))


def _no_space(*args, **kwargs):
    raise OSError
