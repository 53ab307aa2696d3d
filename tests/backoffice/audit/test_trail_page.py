import pytest
from django.urls import reverse

from backoffice.audit.actions import record
from backoffice.team.trail_views import _said, _value
from tests.factories.clients import AnimalFactory

pytestmark = pytest.mark.django_db
TRAIL = reverse("backoffice:trail")


def test_each_line_says_who_what_when_and_leads_there(as_owner_manager, owner_manager, now):
    horse = AnimalFactory()
    record("horse changed", horse, at=now, by=owner_manager, changes={"barn": [1, 2], "is_new": True})
    page = as_owner_manager.get(TRAIL).content.decode()
    assert f'href="{horse.get_absolute_url()}"' in page
    for words in ("Horse changed", "barn: 1 → 2; is new: yes", str(owner_manager), "Animal"):
        assert words in page


def test_it_is_filtered_by_person_kind_and_day(as_owner_manager, owner_manager, assistant, now):
    horse = AnimalFactory()
    record("horse changed", horse, at=now, by=owner_manager)
    record("horse seen", horse, at=now, by=assistant)
    record("business changed", owner_manager, at=now, by=owner_manager)

    def shown(**asked):
        return {row.record.action for row in as_owner_manager.get(TRAIL, asked).context["table"].rows}

    assert shown(by=assistant.pk) == {"horse seen"}
    assert shown(target="clients.animal") == {"horse changed", "horse seen"}
    assert shown(since="2030-01-01") == set()
    assert shown(q="changed") == {"horse changed", "business changed"}
    assert "horse changed" in as_owner_manager.get(TRAIL, {"_export": "csv"}).content.decode().lower()


@pytest.mark.parametrize("more", [0, 20])
def test_the_queries_do_not_grow(more, as_owner_manager, owner_manager, now, django_assert_num_queries):
    for place in range(1 + more):
        record("horse changed", AnimalFactory() if place % 2 else owner_manager, at=now, by=owner_manager)
    with django_assert_num_queries(6):
        as_owner_manager.get(TRAIL)


def test_only_who_runs_the_office_reads_it(as_assistant, as_bookkeeper):
    assert as_assistant.get(TRAIL).status_code == 403
    assert as_bookkeeper.get(TRAIL).status_code == 403


def test_changes_are_said_in_words():
    assert _said({"a_b": None, "c": [1, 2, 3], "d": {"x": 1}}) == "a b: none; c: 1, 2, 3; d: …"
    assert _value(False) == "no"
