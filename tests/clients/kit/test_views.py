import pytest

from clients.kit.models import Applicator, Machine
from tests.factories.clients import ApplicatorFactory, MachineFactory
from tests.factories.kit import HireFactory

pytestmark = pytest.mark.django_db
LIST_QUERIES = {"machines": 7, "applicators": 5}


def test_a_machine_is_made_and_shown(as_owner_manager):
    facts = {"name": "Old blue", "inspection_due": "2030-01-01", "is_in_use": "on"}
    response = as_owner_manager.post("/machines/new/", facts, follow=True)
    assert "Free today" in response.content.decode()
    assert "Old blue" in as_owner_manager.get("/machines/").content.decode()


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"name": ""}, "Name is missing."),
        ({"inspection_due": "1926-05-01"}, "This date is before 1980"),
        ({"note": "x" * 5000}, "Write at most 1000 characters"),
        ({"inspection_due": "soon"}, "Write a date such as"),
    ],
)
def test_an_absurd_machine_is_answered_at_its_field(as_owner_manager, typed, sentence):
    response = as_owner_manager.post("/machines/new/", {"name": "آلة 🐴"} | typed)
    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert not Machine.objects.exists()


def test_a_machine_page_says_why_it_is_not_free(as_owner_manager):
    machine = MachineFactory(inspection_due="2020-01-01")
    assert "The inspection of" in as_owner_manager.get(f"/machines/{machine.pk}/").content.decode()


def test_a_machine_is_edited(as_owner_manager):
    machine = MachineFactory()
    assert as_owner_manager.post(f"/machines/{machine.pk}/edit/", {"name": "Grey box"}).status_code == 302
    machine.refresh_from_db()
    assert machine.name == "Grey box"


def test_a_hire_ends_by_a_form(as_owner_manager):
    hire = HireFactory()
    assert as_owner_manager.get(f"/hires/{hire.pk}/back/").status_code == 200
    response = as_owner_manager.post(f"/hires/{hire.pk}/back/", {"on": "2026-03-01"})
    assert response.status_code == 422
    assert "before the hire begins" in response.content.decode()
    assert as_owner_manager.post(f"/hires/{hire.pk}/back/", {"on": "2026-03-20"}).status_code == 302


def test_an_applicator_is_made_and_edited(as_owner_manager):
    facts = {"name": "Wide loop", "width_cm": "60", "is_in_use": "on"}
    assert as_owner_manager.post("/applicators/new/", facts).status_code == 302
    applicator = Applicator.objects.get()
    assert as_owner_manager.post(f"/applicators/{applicator.pk}/", {"name": "Narrow loop"}).status_code == 302
    assert "Narrow loop" in as_owner_manager.get("/applicators/").content.decode()


def test_a_bookkeeper_reads_machines_and_changes_none(as_bookkeeper):
    machine = MachineFactory()
    assert as_bookkeeper.get("/machines/").status_code == 200
    assert as_bookkeeper.get(f"/machines/{machine.pk}/edit/").status_code == 403
    assert as_bookkeeper.get("/machines/new/").status_code == 403


@pytest.mark.parametrize("rows", [1, 30])
@pytest.mark.parametrize("name", ["machines", "applicators"])
def test_a_list_takes_the_same_queries_at_one_and_thirty_rows(as_owner_manager, django_assert_num_queries, name, rows):
    for _ in range(rows):
        HireFactory() if name == "machines" else ApplicatorFactory()
    with django_assert_num_queries(LIST_QUERIES[name]):
        as_owner_manager.get(f"/{name}/")
