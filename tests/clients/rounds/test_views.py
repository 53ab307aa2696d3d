from datetime import time

import pytest
import time_machine
from django.test import Client

from clients.paperwork.models import Decision
from clients.rounds.actions import NOT_PLACED, plan_round
from clients.rounds.models import DayRound
from tests.factories.backoffice import UserFactory
from tests.factories.clients import AnimalFactory, BarnFactory, BarnWindowFactory, MachineFactory
from tests.factories.paperwork import ready_animal
from tests.factories.rounds import booked_visit, near_barn
from tests.factories.visits import MONDAY

pytestmark = pytest.mark.django_db
ROUND_QUERIES = 27


@pytest.fixture(autouse=True)
def _on_monday_morning(business, now):
    with time_machine.travel(now, tick=False):
        yield


@pytest.fixture
def path(owner_manager) -> str:
    return f"/rounds/2026-03-02/{owner_manager.pk}/"


def plan(practitioner, now) -> DayRound:
    return plan_round(day=MONDAY, practitioner=practitioner, at=now, by=practitioner)


def page(client, path):
    response = client.get(path)
    assert response.status_code == 200, path
    return response.content.decode()


def test_an_empty_day_says_so(as_owner_manager, path):
    assert "Nothing to drive to" in page(as_owner_manager, path)


def test_a_day_not_planned_yet_lists_its_stops(as_owner_manager, path, owner_manager):
    booked_visit(owner_manager, barn=near_barn(name="Copper Hasp"))
    html = page(as_owner_manager, path)
    assert "Not planned yet" in html
    assert "Copper Hasp" in html
    assert "Plan the round" in html


def test_planning_shows_the_stops_with_times_and_permission(as_owner_manager, path, owner_manager):
    booked_visit(owner_manager, animal=ready_animal(name="هادئ 🐴 <script>", barn=near_barn(name="Copper Hasp")))
    booked_visit(owner_manager, animal=AnimalFactory(name="Juniper", barn=near_barn()))
    html = as_owner_manager.post(f"{path}plan/", follow=True).content.decode()
    assert "The round is planned. Every stop fits." in html
    assert "2 stops · 2 horses" in html
    assert "هادئ 🐴 &lt;script&gt;" in html
    assert "Ready" in html
    assert "Hold" in html


def test_what_does_not_fit_is_listed_with_its_reason_and_each_visit_named(as_owner_manager, path, owner_manager):
    barn = BarnFactory(name="Lost Gate", lat=None, lon=None)
    for name in ("Juniper", "Biscuit"):
        booked_visit(owner_manager, animal=ready_animal(name=name, barn=barn))
    html = as_owner_manager.post(f"{path}plan/", follow=True).content.decode()
    assert "1 stop does not fit; the reason stands below." in html
    assert NOT_PLACED in html
    assert "Open the visit of Juniper" in html
    assert "Open the visit of Biscuit" in html
    assert "leave" not in html[html.index("Does not fit") - 400 : html.index("Does not fit")]


def test_an_unplaced_visit_taken_out_of_the_diary_is_no_longer_linked(as_owner_manager, path, owner_manager, now):
    visit = booked_visit(owner_manager, barn=BarnFactory(name="Lost Gate", lat=None, lon=None))
    plan(owner_manager, now)
    visit.delete()
    html = page(as_owner_manager, path)
    assert "Lost Gate" in html
    assert "Open the visit" not in html


def test_a_changed_diary_asks_to_plan_again(as_owner_manager, path, owner_manager, now):
    booked_visit(owner_manager)
    plan(owner_manager, now)
    assert "The diary changed" not in page(as_owner_manager, path)
    booked_visit(owner_manager)
    assert "The diary changed since this round was planned." in page(as_owner_manager, path)


def test_a_done_stop_is_shown_as_done(as_owner_manager, path, owner_manager, now):
    booked_visit(owner_manager, completed=True, starts=time(5))
    plan(owner_manager, now)
    html = page(as_owner_manager, path)
    assert "Done" in html
    assert "Does not fit" not in html


def test_lunch_at_home_is_told_before_leaving(as_owner_manager, path, owner_manager, now):
    booked_visit(owner_manager, starts=time(14), is_confirmed=True)
    day_round = plan(owner_manager, now)
    DayRound.objects.filter(pk=day_round.pk).update(leaves=time(13), lunch=time(11, 30))
    assert "lunch 11:30 before leaving" in page(as_owner_manager, path)
    DayRound.objects.filter(pk=day_round.pk).update(leaves=time(9))
    assert "before leaving" not in page(as_owner_manager, path)
    DayRound.objects.filter(pk=day_round.pk).update(leaves=time(8), back=time(10))
    assert "lunch 11:30 at home" in page(as_owner_manager, path)


def test_a_refusal_is_said_on_the_page(as_owner_manager, path, business):
    business.base_lat = None
    business.save()
    response = as_owner_manager.post(f"{path}plan/", follow=True)
    assert "Where does the day begin?" in response.content.decode()
    assert not DayRound.objects.exists()


def test_a_shared_machine_is_refused_in_words(as_owner_manager, path, owner_manager, assistant):
    machine = MachineFactory(name="Unit one")
    booked_visit(assistant, machine=machine, starts=time(8), minutes=300)
    booked_visit(owner_manager, machine=machine)
    assert "Unit one is with somebody else then" in as_owner_manager.post(f"{path}plan/", follow=True).content.decode()


def test_the_sheet_is_a_pdf_and_its_decisions_are_kept(as_owner_manager, path, owner_manager, now, private_folder):
    booked_visit(owner_manager)
    plan(owner_manager, now)
    response = as_owner_manager.post(f"{path}sheet/", follow=True)
    assert response["Content-Type"] == "application/pdf"
    assert response.content.startswith(b"%PDF-")
    assert Decision.objects.filter(door=Decision.Door.ROUND).count() == 1


def test_a_day_nobody_planned_has_no_sheet(as_owner_manager, path):
    assert as_owner_manager.post(f"{path}sheet/").status_code == 404


# Who may


def test_a_stranger_is_sent_to_sign_in(path):
    for client, method in ((Client(), "get"), (Client(), "post")):
        target = path if method == "get" else f"{path}plan/"
        response = getattr(client, method)(target)
        assert response.status_code == 302
        assert response["Location"].startswith("/sign-in/")


def test_an_assistant_plans_and_prints(as_assistant, path, owner_manager, private_folder):
    booked_visit(owner_manager)
    assert as_assistant.post(f"{path}plan/").status_code == 302
    assert as_assistant.post(f"{path}sheet/").status_code == 302
    assert DayRound.objects.get().sheet is not None


def test_a_bookkeeper_looks_and_may_not_plan(as_bookkeeper, path, owner_manager, now):
    booked_visit(owner_manager, animal=AnimalFactory(name="Juniper", barn=near_barn()))
    plan(owner_manager, now)
    html = page(as_bookkeeper, path)
    assert "Juniper" in html
    assert "Plan again" not in html
    assert "consent" not in html.lower()
    assert as_bookkeeper.post(f"{path}plan/").status_code == 403
    assert as_bookkeeper.post(f"{path}sheet/").status_code == 403


@pytest.mark.parametrize("day", ["2026-02-30", "monday", "1926-03-02", "9999-12-31", "2026-3-2", "🐴"])
def test_a_day_that_is_none_is_not_found(as_owner_manager, owner_manager, day):
    assert as_owner_manager.get(f"/rounds/{day}/{owner_manager.pk}/").status_code == 404
    assert as_owner_manager.post(f"/rounds/{day}/{owner_manager.pk}/plan/").status_code == 404


def test_only_somebody_who_drives_has_rounds(as_owner_manager, bookkeeper):
    assert as_owner_manager.get(f"/rounds/2026-03-02/{bookkeeper.pk}/").status_code == 404
    assert as_owner_manager.get("/rounds/2026-03-02/999999/").status_code == 404


def test_planning_is_asked_for_and_never_fetched(as_owner_manager, path):
    assert as_owner_manager.get(f"{path}plan/").status_code == 405
    assert as_owner_manager.get(f"{path}sheet/").status_code == 405


@pytest.mark.parametrize("count", [1, 6])
def test_the_page_reads_the_same_however_many_stops(as_owner_manager, count, now, django_assert_num_queries):
    driver = UserFactory()
    for _ in range(count):
        booked_visit(driver, minutes=20)
        booked_visit(driver, barn=BarnFactory(lat=None, lon=None))
    plan(driver, now)
    with django_assert_num_queries(ROUND_QUERIES):
        page(as_owner_manager, f"/rounds/2026-03-02/{driver.pk}/")


# The order by hand


@pytest.fixture
def line_of_three(owner_manager, now):
    """Three barns on one road, the nearest first."""
    for number, name in enumerate(("Near", "Middle", "Far")):
        booked_visit(
            owner_manager, animal=ready_animal(name=f"Horse {name}", barn=near_barn(name=name, lat=39.4 + number / 10))
        )
    return plan(owner_manager, now)


def order_of(practitioner) -> list[str]:
    return [stop.barn.name for stop in DayRound.objects.get(practitioner=practitioner).stops.select_related("barn")]


def test_a_stop_is_put_earlier_and_the_page_says_what_that_costs(as_assistant, path, owner_manager, line_of_three):
    first, second, third = order_of(owner_manager)
    key = page(as_assistant, path).split('name="up" value="')[1].split('"')[0]
    html = as_assistant.post(f"{path}order/", {"up": key}, follow=True).content.decode()
    assert order_of(owner_manager) == [second, first, third]
    assert "This is your own order; the best one drives" in html
    assert "Best order" in html
    html = as_assistant.post(f"{path}plan/", follow=True).content.decode()
    assert order_of(owner_manager) == [first, second, third]
    assert "your own order" not in html


def test_an_order_that_breaks_a_window_says_which_barn(as_assistant, path, owner_manager, now):
    early = near_barn(name="Early Gate", lat=39.4)
    BarnWindowFactory(barn=early, weekday=0, opens=time(8), closes=time(9))
    booked_visit(owner_manager, animal=ready_animal(barn=early), starts=time(8))
    booked_visit(owner_manager, animal=ready_animal(barn=near_barn(name="Far", lat=39.8)), starts=time(11))
    plan(owner_manager, now)
    key = page(as_assistant, path).split('name="down" value="')[1].split('"')[0]
    html = as_assistant.post(f"{path}order/", {"down": key}, follow=True).content.decode()
    assert "Early Gate starts at" in html
    assert "after its window ends at" in html


@pytest.mark.parametrize("posted", [{}, {"up": "nonsense"}, {"down": "1-1-clean<script>"}])
def test_a_move_of_nothing_keeps_the_order(as_assistant, path, owner_manager, line_of_three, posted):
    before = order_of(owner_manager)
    assert as_assistant.post(f"{path}order/", posted).status_code == 302
    assert order_of(owner_manager) == before


def test_a_day_not_planned_has_no_order_to_change(as_assistant, as_bookkeeper, path, line_of_three):
    assert as_bookkeeper.post(f"{path}order/").status_code == 403
    DayRound.objects.all().delete()
    assert as_assistant.post(f"{path}order/").status_code == 404
