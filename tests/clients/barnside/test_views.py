"""What a phone asks for, who may have it, and the desk's pages about it."""

import json
from datetime import time, timedelta

import pytest
from django.test import Client

from clients.barnside import shell
from clients.barnside.actions import remove_phone
from clients.barnside.models import BarnEvent, Phone
from clients.barnside.pack import VERSION
from clients.visits.actions import book_visit, cancel_visit
from tests.clients.barnside.entries import OTHER_KEY, PHONE_KEY, entry, phone_of, send, whole_visit
from tests.conftest import signed_in
from tests.factories.paperwork import FormFactory
from tests.factories.visits import ready_visit

PACK_QUERIES = 60
PHONE = {"HTTP_X_PHONE": str(PHONE_KEY)}


@pytest.fixture(autouse=True)
def _at_noon(time_machine, now):
    time_machine.move_to(now, tick=False)


@pytest.fixture
def visit(owner_manager, now):
    return book_visit(visit=ready_visit(practitioner=owner_manager), starts=time(9, 0), at=now, by=owner_manager)


def post(client: Client, body: object, **headers):
    return client.post("/barn/entries/", json.dumps(body), content_type="application/json", **{**PHONE, **headers})


def test_the_shell_and_its_keeper_hold_nobodys_data_and_are_given_to_anybody(client, business):
    page = client.get("/barn/")
    assert page.status_code == 200
    assert business.name not in page.content.decode()
    assert "csrf" not in page.content.decode()
    keeper = client.get("/barn-keeper.js")
    assert keeper["Content-Type"] == "text/javascript"
    assert "importScripts" in keeper.content.decode()


def test_the_keeper_names_every_script_of_the_folder(client, business):
    kept = json.loads(client.get("/barn-keeper.js").content.decode().split("self.kept = ")[1].split(";\n")[0])
    there = {path.name for path in shell.folder().glob("*.js")} - {"along.js"}
    assert {address.rsplit("/", 1)[1] for address in kept["addresses"] if "/js/barn/" in address} == there


def test_the_page_reads_the_very_form_of_the_day_that_the_office_gives():
    script = (shell.folder() / "store.js").read_text()
    assert f"const PACK_VERSION = {VERSION};" in script


def test_the_version_of_the_shell_changes_with_the_page(business):
    assert shell.version("<p>one</p>") != shell.version("<p>two</p>")


def test_the_manifest_has_what_a_browser_asks_of_an_app_to_install(client, business):
    manifest = client.get("/barn/manifest.webmanifest").json()
    assert {"name", "short_name", "start_url", "display", "icons"} <= set(manifest)
    assert {icon["sizes"] for icon in manifest["icons"]} == {"192x192", "512x512"}


def test_a_stranger_is_sent_to_sign_in_by_a_redirect(client, business):
    for path in ("/barn/hello/", "/barn/pack/", "/barn/decisions/", "/phones/"):
        assert client.get(path, **PHONE).status_code == 302
    assert post(client, {}).status_code == 302


def test_a_bookkeeper_takes_nothing_along(as_bookkeeper):
    assert as_bookkeeper.get("/barn/pack/", **PHONE).status_code == 403
    assert as_bookkeeper.get("/barn/hello/").status_code == 403
    assert post(as_bookkeeper, {"now": 0, "entries": []}).status_code == 403
    assert as_bookkeeper.get("/barn/decisions/").status_code == 403


def test_a_phone_is_called_what_a_person_would_call_it(as_owner_manager, visit):
    agent = "Mozilla/5.0 (iPhone; CPU iPhone OS 18_1 like Mac OS X) AppleWebKit/605.1.15 Version/18.1 Safari/604.1"
    as_owner_manager.get("/barn/pack/", **PHONE, headers={"user-agent": agent})
    assert Phone.objects.get().name == "Safari on iPhone"
    assert "Safari on iPhone" in as_owner_manager.get("/phones/").content.decode()


def test_hello_says_who_and_when_and_gives_a_token_that_the_entries_take(owner_manager, now, visit):
    client = Client(enforce_csrf_checks=True)
    client.force_login(owner_manager)
    hello = client.get("/barn/hello/").json()
    assert (hello["person"], hello["now"]) == (owner_manager.pk, int(now.timestamp() * 1000))
    body = {"now": hello["now"], "entries": [entry("how", visit, now, note="Calm.")]}
    assert post(client, body).status_code == 403
    answer = post(client, body, HTTP_X_CSRFTOKEN=hello["token"])
    assert [each["state"] for each in answer.json()["answers"]] == ["taken"]


def test_the_day_is_taken_along_with_all_that_the_barn_needs(as_owner_manager, visit, owner_manager):
    visit.animal.handling = "Loose in the stall."
    visit.animal.save()
    form = FormFactory(animal=visit.animal, signer=visit.animal.ownerships.get().person)
    pack = as_owner_manager.get("/barn/pack/", **PHONE).json()
    (stop,), about = pack["days"][0]["stops"], pack["days"][0]["visits"][str(visit.pk)]
    assert (stop["barn"], stop["visits"], stop["starts"]) == (visit.barn.name, [visit.pk], "9:00")
    assert (pack["phone"], pack["slips"]) == (Phone.objects.get().pk, 0)
    assert "Watch the horse this evening" in pack["business"]["after_care"][0]
    assert len(pack["business"]["first_session"]) == 3
    assert (about["horse"], about["handling"]) == (visit.animal.name, "Loose in the stall.")
    assert about["permission"]["result"] == "ready"
    assert [each["pk"] for each in about["forms"]] == [form.pk]
    assert about["people"][0][2] == "Owner"
    assert Phone.objects.get().person == owner_manager
    assert [day["day"] for day in pack["days"]] == ["2026-03-02", "2026-03-03"]


def test_each_person_takes_their_own_round_along(as_assistant, visit):
    assert as_assistant.get("/barn/pack/", **PHONE).json()["days"][0]["stops"] == []


@pytest.mark.parametrize("rows", [1, 12])
def test_a_full_day_takes_the_same_queries(as_owner_manager, owner_manager, django_assert_max_num_queries, rows):
    for _ in range(rows):
        ready_visit(practitioner=owner_manager)
    as_owner_manager.get("/barn/pack/", **PHONE)
    with django_assert_max_num_queries(PACK_QUERIES):
        pack = as_owner_manager.get("/barn/pack/", **PHONE).json()
    assert len(pack["days"][0]["visits"]) == rows


def test_a_phone_must_say_which_it_is_and_be_ones_own(as_owner_manager, assistant, now, visit):
    assert as_owner_manager.get("/barn/pack/").status_code == 400
    phone_of(assistant, now, PHONE_KEY)
    answer = as_owner_manager.get("/barn/pack/", **PHONE)
    assert (answer.status_code, answer.json()["removed"]) == (403, True)


def test_a_removed_phone_is_given_nothing_and_nothing_is_taken_from_it(as_owner_manager, owner_manager, now, visit):
    remove_phone(phone=phone_of(owner_manager, now), at=now, by=owner_manager)
    assert as_owner_manager.get("/barn/pack/", **PHONE).json()["removed"]
    answer = post(as_owner_manager, {"now": 0, "entries": whole_visit(visit, now)})
    assert (answer.status_code, BarnEvent.objects.count()) == (403, 0)


@pytest.mark.parametrize(
    "body", [[], {}, {"now": "x", "entries": []}, {"now": 0, "entries": 5}, {"now": 1e300, "entries": []}]
)
def test_what_is_no_batch_is_answered_with_a_sentence(as_owner_manager, body):
    answer = post(as_owner_manager, body)
    assert answer.status_code == 400
    assert "batch" in answer.json()["sentence"]


def test_a_batch_has_an_end(as_owner_manager, visit, now):
    assert post(as_owner_manager, {"now": 0, "entries": [{}] * 201}).status_code == 400


def test_json_without_end_is_no_batch(as_owner_manager):
    sent = "[" * 100_000
    assert as_owner_manager.post("/barn/entries/", sent, content_type="application/json", **PHONE).status_code == 400


def test_decisions_show_both_sides_and_are_made_by_a_person(as_owner_manager, owner_manager, visit, now):
    cancel_visit(visit=visit, reason="Away.", at=now, by=owner_manager)
    send(phone_of(owner_manager, now), *whole_visit(visit, now), at=now)
    html = as_owner_manager.get("/barn/decisions/").content.decode()
    assert "Visit done" in html
    assert "The visit was called off meanwhile: " in html
    event = BarnEvent.objects.get(state="open")
    path = f"/barn/decisions/{event.pk}"
    html = as_owner_manager.post(f"{path}/leave/", {"reason": ""}, follow=True).content.decode()
    assert "Say why the entry is left" in html
    html = as_owner_manager.post(f"{path}/leave/", {"reason": "Wrong horse."}, follow=True).content.decode()
    assert "Left as it stands here" in html
    assert "Nothing waits." in html
    assert as_owner_manager.post(f"{path}/take/").status_code == 404


def test_taking_an_entry_that_still_cannot_be_taken_says_why(as_owner_manager, owner_manager, visit, now):
    send(phone_of(owner_manager, now), entry("done", visit, now), at=now)
    event = BarnEvent.objects.get()
    page = {"HTTP_REFERER": "http://testserver/barn/decisions/"}
    assert as_owner_manager.post(f"/barn/decisions/{event.pk}/take/", **page).status_code == 303
    assert "look-over on arrival was not noted" in as_owner_manager.get("/barn/decisions/").content.decode()


@pytest.mark.parametrize("rows", [1, 30])
def test_decisions_take_the_same_queries_however_many(
    as_owner_manager, owner_manager, now, rows, django_assert_num_queries
):
    phone = phone_of(owner_manager, now)
    for _ in range(rows):
        send(phone, entry("done", ready_visit(practitioner=owner_manager), now), at=now)
    with django_assert_num_queries(5):
        as_owner_manager.get("/barn/decisions/")


def test_an_assistant_sees_only_the_own_phones_and_lets_none_in_again(as_assistant, assistant, owner_manager, now):
    own, other = phone_of(assistant, now), phone_of(owner_manager, now, OTHER_KEY)
    assert as_assistant.get("/phones/").content.decode().count("last seen") == 1
    assert as_assistant.post(f"/phones/{other.pk}/remove/").status_code == 404
    as_assistant.post(f"/phones/{own.pk}/remove/")
    own.refresh_from_db()
    assert own.removed_at == now
    assert as_assistant.post(f"/phones/{own.pk}/let-in/").status_code == 403
    signed_in(owner_manager).post(f"/phones/{own.pk}/let-in/")
    own.refresh_from_db()
    assert own.removed_at is None


def test_last_seen_is_noted_once_a_minute(as_owner_manager, time_machine, now):
    as_owner_manager.get("/barn/pack/", **PHONE)
    time_machine.move_to(now + timedelta(minutes=5), tick=False)
    as_owner_manager.get("/barn/pack/", **PHONE)
    assert Phone.objects.get().last_seen == now + timedelta(minutes=5)


def test_hello_tells_a_removed_phone_so_but_nobody_elses(as_owner_manager, owner_manager, assistant, now):
    phone = phone_of(owner_manager, now)
    assert as_owner_manager.get("/barn/hello/", **PHONE).json()["removed"] == ""
    remove_phone(phone=phone, at=now, by=owner_manager)
    assert "removed from the office" in as_owner_manager.get("/barn/hello/", **PHONE).json()["removed"]
    assert signed_in(assistant).get("/barn/hello/", **PHONE).json()["removed"] == ""
