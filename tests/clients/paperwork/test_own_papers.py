"""The practice's own papers on its settings pages, on Today and on Monday's list."""

from datetime import date, time, timedelta

import pytest
import time_machine
from django.urls import reverse

from backoffice.audit.queries import trail_of
from backoffice.documents.uploads import checked
from backoffice.refusal import Refused
from clients.paperwork.models import Decision
from clients.paperwork.own_actions import add_own_paper, drop_own_paper, end_own_paper, renew_own_paper
from clients.paperwork.own_models import OwnPaper
from clients.paperwork.own_queries import own_papers_to_renew
from clients.paperwork.queries import permission_for_each
from clients.visits.actions import book_visit
from clients.visits.queries import work_of_visit
from tests.conftest import NOW
from tests.factories.backoffice import UserFactory
from tests.factories.visits import ready_visit
from tests.uploads import photo, upload

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder", "business")]
TODAY = date(2026, 3, 2)
ON_IT = {"issuer": "Larkspur Mutual", "number": "LM-1", "since": date(2025, 4, 1), "until": date(2026, 3, 31)}
NEXT = {"issuer": "Larkspur Mutual", "number": "LM-2", "since": date(2026, 4, 1), "until": date(2027, 3, 31)}


@pytest.fixture(autouse=True)
def _on_the_day():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def add(now, owner_manager):
    def add_it(**changes) -> OwnPaper:
        facts = {"kind": "insurance", "holder": None, "uses_machine": None, "place": "", **ON_IT, **changes}
        return add_own_paper(**facts, at=now, by=owner_manager)

    return add_it


def permission_on(visit, day):
    return permission_for_each([(visit.animal, work_of_visit(visit))], on=day)[0]


def test_the_last_day_is_ready_with_a_note_and_the_day_after_holds_until_the_renewal(add, now, owner_manager):
    visit = ready_visit()
    paper = add()
    last, after = ON_IT["until"], ON_IT["until"] + timedelta(days=1)
    assert [note.code for note in permission_on(visit, last).notes] == ["own_paper_ends_soon"]
    assert [reason.code for reason in permission_on(visit, after).reasons] == ["own_paper_ended"]
    renew_own_paper(paper=paper, **NEXT, at=now, by=owner_manager)
    assert permission_on(visit, last).notes == ()
    assert permission_on(visit, after).is_ready


def test_only_the_visits_of_its_holder_are_held(add, owner_manager):
    visit = ready_visit()
    paper = add(holder=UserFactory(), until=date(2026, 3, 2))
    assert permission_on(visit, date(2026, 3, 3)).is_ready
    OwnPaper.objects.filter(pk=paper.pk).update(holder=visit.practitioner)
    assert permission_on(visit, date(2026, 3, 3)).is_hold


def test_a_paper_ended_early_refuses_the_booking_and_is_kept_with_the_decision(add, now, owner_manager):
    visit, paper = ready_visit(), add()
    booked = book_visit(visit=visit, starts=time(10, 0), at=now, by=owner_manager)
    decision = Decision.objects.get(pk=booked.booking_decision_id)
    assert decision.facts["own_papers"][0]["name"] == "Insurance, Larkspur Mutual"
    end_own_paper(paper=paper, last_day=TODAY, why="Cancelled by them", at=now, by=owner_manager)
    assert permission_on(visit, TODAY).is_ready
    assert permission_on(visit, TODAY + timedelta(days=1)).is_hold
    assert [entry.action for entry in trail_of(paper)] == ["own paper ended early", "own paper written down"]


def test_a_paper_that_nobody_needs_any_more_holds_nothing(add, now, owner_manager):
    visit, paper = ready_visit(), add(kind="vehicle", until=TODAY)
    drop_own_paper(paper=paper, is_mistake=False, why="Sold the van", at=now, by=owner_manager)
    assert permission_on(visit, TODAY + timedelta(days=1)).is_ready


def test_a_scan_is_kept_with_its_paper(add):
    assert add(scan=[checked(photo())]).scans.get().kind == "own_paper"


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"issuer": " "}, "who issued it"),
        ({"until": date(2025, 3, 1)}, "before the first"),
        ({"until": date(2026, 3, 1)}, "already past"),
        ({"kind": "vehicle", "place": "Utah"}, "every visit"),
        ({"kind": "vehicle", "uses_machine": True}, "every visit"),
    ],
)
def test_a_paper_that_cannot_be_is_refused(changes, match, add):
    with pytest.raises(Refused, match=match):
        add(**changes)
    assert not OwnPaper.objects.exists()


def test_a_renewal_follows_one_paper_once_and_begins_after_it_began(add, now, owner_manager):
    paper = add()

    def renew(match, **changes):
        with pytest.raises(Refused, match=match):
            renew_own_paper(paper=paper, **{**NEXT, **changes}, at=now, by=owner_manager)

    renew("begins after", since=ON_IT["since"])
    renew("before the first", until=date(2026, 3, 30))
    renewal = renew_own_paper(paper=paper, **NEXT, at=now, by=owner_manager)
    assert (renewal.kind, renewal.follows) == (paper.kind, paper)
    renew("already renewed")
    with pytest.raises(Refused, match="already renewed"):
        drop_own_paper(paper=paper, is_mistake=True, why="No", at=now, by=owner_manager)
    drop_own_paper(paper=renewal, is_mistake=True, why="Wrong date", at=now, by=owner_manager)
    assert renew_own_paper(paper=paper, **NEXT, at=now, by=owner_manager).follows == paper


@pytest.mark.parametrize("day", [date(2025, 3, 31), date(2026, 3, 31), date(2026, 4, 1)])
def test_an_early_end_lies_within_the_paper(day, add, now, owner_manager):
    with pytest.raises(Refused, match="Name a day from"):
        end_own_paper(paper=add(), last_day=day, why="Cancelled", at=now, by=owner_manager)


def test_ending_and_putting_away_take_a_reason_and_happen_once(add, now, owner_manager):
    paper, day = add(), date(2026, 3, 10)
    for act in (
        lambda why: end_own_paper(paper=paper, last_day=day, why=why, at=now, by=owner_manager),
        lambda why: drop_own_paper(paper=paper, is_mistake=False, why=why, at=now, by=owner_manager),
    ):
        with pytest.raises(Refused, match="Write why"):
            act(" ")
        act("Cancelled")
        with pytest.raises(Refused, match="already|put away"):
            act("Again")
    with pytest.raises(Refused, match="put away"):
        renew_own_paper(paper=paper, **NEXT, at=now, by=owner_manager)


# Screens


@pytest.mark.parametrize(("who", "status"), [("owner_manager", 200), ("assistant", 403), ("bookkeeper", 403)])
def test_only_the_owner_manager_opens_the_pages(who, status, add, client, request):
    paper = add()
    names = ("own-paper", "own-paper-renew", "own-paper-end", "own-paper-drop")
    addresses = [reverse("clients:own-papers"), reverse("clients:own-paper-new")]
    for address in [*addresses, *(reverse(f"clients:{name}", args=[paper.pk]) for name in names)]:
        client.logout()
        assert client.get(address).status_code == 302
        client.force_login(request.getfixturevalue(who))
        assert client.get(address).status_code == status


def test_a_paper_is_written_down_renewed_and_ended_on_the_pages(as_owner_manager):
    assert "Nothing written down yet" in as_owner_manager.get("/settings/own-papers/").content.decode()
    data = {"kind": "insurance", "issuer": "Larkspur", "since": "2025-04-01", "until": "2026-03-20", "place": ""}
    answer = as_owner_manager.post(
        "/settings/own-papers/new/", {**data, "scan": [upload(photo(), "p.jpg", "image/jpeg")]}
    )
    paper = OwnPaper.objects.get()
    assert (answer.status_code, paper.uses_machine, paper.scans.count()) == (302, None, 1)
    assert "Ends soon" in as_owner_manager.get("/settings/own-papers/").content.decode()
    new = {"issuer": "Larkspur", "number": "2", "since": "2026-03-21", "until": "2027-03-20"}
    assert as_owner_manager.post(f"/settings/own-papers/{paper.pk}/renew/", new).status_code == 302
    assert "Renewed from" in as_owner_manager.get(paper.get_absolute_url()).content.decode()
    renewal = OwnPaper.objects.get(follows=paper)
    end = {"last_day": "2026-12-31", "why": "Changed insurer"}
    assert as_owner_manager.post(f"/settings/own-papers/{renewal.pk}/end/", end).status_code == 302
    drop = {"is_mistake": "no", "why": "Gave up"}
    assert as_owner_manager.post(f"/settings/own-papers/{renewal.pk}/put-away/", drop).status_code == 302
    assert "Not needed" in as_owner_manager.get("/settings/own-papers/").content.decode()


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"until": "2025-03-01"}, "until", "before the first"),
        ({"until": "soon"}, "until", ""),
        ({"issuer": ""}, "issuer", ""),
        ({"kind": "vehicle", "place": "Utah"}, "place", "every visit"),
        ({"issuer": "x" * 500}, "issuer", ""),
    ],
)
def test_bad_input_is_said_at_its_field(changes, field, says, as_owner_manager):
    data = {"kind": "insurance", "issuer": "Larkspur", "since": "2025-04-01", "until": "2026-03-20", "place": ""}
    form = as_owner_manager.post("/settings/own-papers/new/", {**data, **changes}).context["form"]
    assert says in str(form.errors[field])
    assert "scan" not in form.errors


@pytest.mark.parametrize("rows", [1, 30])
def test_the_list_costs_the_same_for_thirty(rows, add, as_owner_manager, django_assert_num_queries):
    for _ in range(rows):
        add(holder=UserFactory())
    with django_assert_num_queries(5):
        as_owner_manager.get("/settings/own-papers/")


def test_what_ends_soon_is_on_mondays_list_until_it_is_renewed(add, now, owner_manager, as_owner_manager):
    paper = add(until=TODAY + timedelta(days=9))
    assert "Your own papers" in as_owner_manager.get("/paperwork/monday/").content.decode()
    renew_own_paper(paper=paper, **NEXT | {"since": TODAY + timedelta(days=10)}, at=now, by=owner_manager)
    assert "Your own papers" not in as_owner_manager.get("/paperwork/monday/").content.decode()
    assert own_papers_to_renew(TODAY + timedelta(days=30), on=TODAY) == []
