import pytest

from clients.plans.models import Goal, Guideline, Service
from tests.factories.clients import GuidelineFactory, GuidelinePhaseFactory, GuidelineVersionFactory, ServiceFactory

pytestmark = pytest.mark.django_db
LIST_QUERIES = {"services": 5, "guidelines": 7}


def page(client, path):
    return client.get(path).content.decode()


def guideline_post(**changes):
    return {
        "guideline-name": "Ongoing maintenance",
        "guideline-goal": Goal.UPKEEP,
        "version-source": "My own years",
        "version-tolerance_days": "1",
        "version-spot_needs_full_within": "3",
        "phases-TOTAL_FORMS": "2",
        "phases-INITIAL_FORMS": "0",
        "phases-0-days": "28",
        "phases-0-rhythm": "days",
        "phases-0-full_every": "3",
        "phases-0-spots_per_day": "1",
        "phases-1-days": "",
        "phases-1-spots_per_day": "0",
    } | changes


def test_a_service_is_made_and_listed(as_owner_manager):
    facts = {"name": "Full body", "kind": "full", "minutes": "60", "uses_machine": "on", "is_offered": "on"}
    assert as_owner_manager.post("/settings/services/new/", facts).status_code == 302
    assert "Full body" in page(as_owner_manager, "/settings/services/")


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"minutes": "900"}, "Write 300 or less."),
        ({"minutes": "-3"}, "Write 5 or more."),
        ({"name": ""}, "Name is missing."),
        ({"name": "x" * 5000}, "Write at most 80 characters"),
    ],
)
def test_an_absurd_service_is_answered_at_its_field(as_owner_manager, typed, sentence):
    facts = {"name": "Full body", "kind": "full", "minutes": "60"} | typed
    response = as_owner_manager.post("/settings/services/new/", facts)
    assert response.status_code == 422
    assert sentence in response.content.decode()


@pytest.mark.parametrize("name", ["جلسة كاملة", "Full body 🐴", "<script>alert(1)</script>"])
def test_a_name_in_any_script_is_kept_and_escaped(as_owner_manager, name):
    facts = {"name": name, "kind": "full", "minutes": "60"}
    assert as_owner_manager.post("/settings/services/new/", facts).status_code == 302
    assert Service.objects.get().name == name
    assert "<script>alert" not in page(as_owner_manager, "/settings/services/")


def test_a_service_is_edited(as_owner_manager):
    service = ServiceFactory()
    facts = {"name": service.name, "kind": "full", "minutes": "75"}
    assert as_owner_manager.post(f"/settings/services/{service.pk}/", facts).status_code == 302
    service.refresh_from_db()
    assert service.minutes == 75


@pytest.mark.parametrize("path", ["/settings/services/", "/settings/services/new/", "/settings/guidelines/new/"])
def test_settings_are_closed_to_assistant_and_stranger(as_assistant, client, path):
    assert as_assistant.get(path).status_code == 403
    assert client.get(path).status_code == 302


def test_a_guideline_is_published_with_its_phases(as_owner_manager):
    response = as_owner_manager.post("/settings/guidelines/new/", guideline_post(), follow=True)
    guideline = Guideline.objects.get()
    assert guideline.versions.get().phases.count() == 1
    text = response.content.decode()
    assert "a full body every 3 days, a spot on each other day" in text
    assert "full body" in text
    assert "My own years" in text


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"version-tolerance_days": "900"}, "Write 30 or less."),
        ({"version-source": ""}, "Where it comes from is missing."),
        ({"phases-0-days": ""}, "Days is missing."),
        ({"phases-0-days": "1926"}, "Write 730 or less."),
        ({"phases-0-days": "0"}, "Phase 1, days: Write 1 or more."),
        ({"phases-0-days": "", "phases-0-full_every": "-3"}, "Write 1 or more."),
        ({"phases-0-rhythm": "rule", "phases-0-full_rule": "FREQ=SOMETIMES"}, "This is not a rule by days"),
        ({"phases-0-rhythm": "weekdays"}, "Tick at least one weekday."),
        ({"phases-0-DELETE": "on"}, "at least one phase"),
        ({"phases-0-ORDER": "first"}, "Write a whole number, in figures."),
        ({"phases-TOTAL_FORMS": "7"}, "at most 6"),
        ({"phases-0-days": "", "phases-0-full_every": "", "phases-0-spots_per_day": "0"}, "at least one phase"),
        ({"guideline-name": ""}, "Name is missing."),
    ],
)
def test_an_impossible_guideline_is_answered_and_nothing_is_kept(as_owner_manager, typed, sentence):
    response = as_owner_manager.post("/settings/guidelines/new/", guideline_post(**typed))
    assert response.status_code == 422
    assert sentence in response.content.decode()
    assert not Guideline.objects.exists()


def test_phases_are_kept_in_the_order_of_their_places_without_those_left_out(as_owner_manager):
    rows = {
        "phases-TOTAL_FORMS": "3",
        "phases-0-ORDER": "2",
        "phases-1-days": "7",
        "phases-1-rhythm": "weekdays",
        "phases-1-weekdays": ["MO", "TH"],
        "phases-1-ORDER": "1",
        "phases-2-days": "90",
        "phases-2-rhythm": "none",
        "phases-2-DELETE": "on",
    }
    as_owner_manager.post("/settings/guidelines/new/", guideline_post(**rows))
    assert [str(phase) for phase in Guideline.objects.get().versions.get().phases.all()] == [
        "7 days: a full body on Mondays and Thursdays",
        "28 days: a full body every 3 days, a spot on each other day",
    ]


def test_the_phases_are_drawn_as_they_are_edited(as_owner_manager):
    post = guideline_post(**{"phases-1-days": "4", "phases-1-rhythm": "days", "phases-1-full_every": "none"})
    fragment = as_owner_manager.post("/settings/guidelines/draw/", post, headers={"HX-Request": "true"})
    alone = as_owner_manager.post("/settings/guidelines/draw/", post).content.decode()
    text = fragment.content.decode()
    assert "10 full bodies and 18 spots in 28 days." in text
    assert text.count('<li class="full us"') == 10
    assert "Phase 2 cannot be read yet." in text
    assert "<html" not in text
    assert "Nothing is kept yet." in alone
    assert not Guideline.objects.exists()


def test_drawing_nothing_or_nonsense_has_an_answer(as_owner_manager):
    assert "Fill in a phase" in as_owner_manager.post("/settings/guidelines/draw/", {}).content.decode()
    post = guideline_post(**{"phases-0-days": "x" * 5_000_000, "version-last_full_days_before": "٣🐴"})
    assert "cannot be read yet" in as_owner_manager.post("/settings/guidelines/draw/", post).content.decode()


def test_drawing_is_closed_to_assistant_and_stranger(as_assistant, client):
    assert as_assistant.post("/settings/guidelines/draw/", {}).status_code == 403
    assert client.post("/settings/guidelines/draw/", {}).status_code == 302


def test_a_guideline_around_an_event_counts_its_last_full_body_from_the_event(as_owner_manager):
    post = guideline_post(**{"guideline-goal": Goal.EVENT, "version-last_full_days_before": "2"})
    response = as_owner_manager.post("/settings/guidelines/new/", post, follow=True)
    assert "on day 28, falls 2 days before the event: it starts 29 days before it." in response.content.decode()


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ({"version-last_full_days_before": "-1"}, "Write 0 or more."),
        ({"version-last_full_days_before": "2", "phases-0-rhythm": "none"}, "no full body to count from the event"),
    ],
)
def test_a_last_full_body_that_cannot_be_is_answered(as_owner_manager, typed, sentence):
    response = as_owner_manager.post("/settings/guidelines/new/", guideline_post(**{"guideline-goal": "event"} | typed))
    assert response.status_code == 422
    assert sentence in response.content.decode()


def test_needing_the_vet_cannot_be_switched_off_for_an_illness_and_can_be_asked_for_elsewhere(as_owner_manager):
    ill = GuidelineFactory(goal=Goal.ACUTE)
    assert 'name="version-asks_vet"' not in page(as_owner_manager, f"/settings/guidelines/{ill.pk}/version/")
    as_owner_manager.post("/settings/guidelines/new/", guideline_post(**{"version-asks_vet": "on"}))
    well = Guideline.objects.get(goal=Goal.UPKEEP)
    assert "Needs the vet" in page(as_owner_manager, f"/settings/guidelines/{well.pk}/")
    assert page(as_owner_manager, "/settings/guidelines/").count("Needs the vet") >= 2


def test_versions_say_what_changed_between_them(as_owner_manager):
    first = GuidelinePhaseFactory(days=21).version
    path = f"/settings/guidelines/{first.guideline_id}/version/"
    as_owner_manager.post(path, guideline_post())
    text = page(as_owner_manager, f"/settings/guidelines/{first.guideline_id}/")
    assert "Changed in version 2" in text
    assert "Phase 1: was “21 days: a full body every 3 days, a spot on each other day”, now “28 days:" in text
    assert "Where it comes from: was “Common practice”, now “My own years”." in text
    assert "Changed from it to version 2:" in text


def test_a_goal_of_injury_or_illness_says_that_it_needs_the_vet(as_owner_manager):
    guideline = GuidelineFactory(goal=Goal.ACUTE)
    GuidelinePhaseFactory(version__guideline=guideline)
    assert "Needs the vet" in page(as_owner_manager, f"/settings/guidelines/{guideline.pk}/")


def test_a_new_version_starts_from_the_one_before(as_owner_manager):
    version = GuidelinePhaseFactory(days=21).version
    path = f"/settings/guidelines/{version.guideline_id}/version/"
    assert 'value="21"' in page(as_owner_manager, path)
    response = as_owner_manager.post(path, guideline_post(**{"phases-INITIAL_FORMS": "1"}))
    assert response.status_code == 302
    assert version.guideline.versions.count() == 2


def test_starting_texts_come_by_a_button(as_owner_manager):
    response = as_owner_manager.post("/settings/guidelines/starters/", follow=True)
    assert "Around an event" in response.content.decode()


@pytest.mark.parametrize("rows", [1, 30])
@pytest.mark.parametrize("name", ["services", "guidelines"])
def test_a_list_takes_the_same_queries_at_one_and_thirty_rows(as_owner_manager, django_assert_num_queries, name, rows):
    for _ in range(rows):
        if name == "services":
            ServiceFactory()
        else:
            GuidelinePhaseFactory(version=GuidelineVersionFactory())
    with django_assert_num_queries(LIST_QUERIES[name]):
        as_owner_manager.get(f"/settings/{name}/")
