"""The day in the barn with the network off, in a real browser that is killed and started again, against a real server.

Every entry of which the page said that it is kept arrives, and once.
"""

import json
import random
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import timedelta

import pytest
from django.contrib.sessions.models import Session
from django.utils import timezone
from playwright.sync_api import Error, expect

from backoffice.access.models import User
from backoffice.access.powers import Role
from backoffice.ui import words
from clients.barnside import shell, views
from clients.barnside.actions import receive, remove_phone
from clients.barnside.models import BarnEvent, HandMoney, Phone
from clients.barnside.pack import KEPT_FOR
from clients.paperwork.models import Form, Wording
from clients.visits.actions import cancel_visit
from clients.visits.models import Visit
from tests.clients.barnside.entries import ALL_WELL, area
from tests.factories.backoffice import UserFactory
from tests.factories.clients import FormFactory
from tests.factories.paperwork import version_of
from tests.journeys.barn_phone import BARN, BarnPhone
from tests.journeys.conftest import PASSWORD
from tests.journeys.relay import Relay
from tests.uploads import photo

pytestmark = pytest.mark.browser

MOST_TAPS = 10
LOOK_OVER = ("No stop sign seen", "Dry, no spray", "Moving as usual", "Handler present", "Phones and keys")
Phones = Callable[..., BarnPhone]
Taken = BarnEvent.State.TAKEN


def arrived(phone: BarnPhone) -> None:
    """Every entry that this phone kept is at the office, taken, and there is no other."""
    phone.wait_until_sent()
    assert set(phone.confirmed) <= set(phone.kept())
    rows = BarnEvent.objects.exclude(kind="photo")  # a photo is kept as a file of its own, sent last
    assert sorted(str(each.pk) for each in rows) == sorted(phone.kept())
    assert set(BarnEvent.objects.values_list("state", flat=True)) == {Taken}


def work(phone: BarnPhone, visit: Visit) -> int:
    """One ordinary horse from its line to the next one; the taps that it took."""
    before = phone.taps
    phone.tap(visit.animal.name)
    for line in LOOK_OVER:
        phone.tap(line)
    phone.tap("Done as planned")
    phone.tap("Complete the visit")
    phone.says("The next visit")
    phone.tap("No date yet")
    phone.write(next_reason="Asks again after the show.")
    phone.tap("Put on the call list")
    phone.says(visit.barn.name)
    return phone.taps - before


def test_the_whole_day_offline_with_the_browser_killed_in_between(practice, visits, phones, tmp_path, record_property):
    owner = visits[0].animal.ownerships.get().person
    form = FormFactory(animal=visits[0].animal, signer=owner, wording_version=version_of(Wording.Kind.PHOTOS))
    phone = phones(practice)
    phone.lose_signal()
    phone.open()
    phone.says("Copper Hasp", "Ember Day, Bramble, Quill", "3 to do")
    phone.tap("Copper Hasp")
    phone.says("Code 4417")
    phone.tap("All of it is so")
    taps = work(phone, visits[0])
    record_property("taps", taps)
    phone.kill()
    phone.start()
    phone.lose_signal()
    phone.open(f"visit/{visits[0].pk}")
    phone.says("Completed", "to send")
    sign(phone, form, owner.name)
    phone.tap("Photo")
    phone.write(photo_words="Near hock")
    picture = tmp_path / "hock.jpg"
    picture.write_bytes(photo())
    phone.page.locator("#photo").set_input_files(picture)
    phone.says("Photo (1)")
    phone.tap("Money")
    phone.write(amount="95.00")
    phone.tap("Taken in cash")
    phone.says("$95.00 cash", f"Slip P{Phone.objects.get().pk}-0001.")
    phone.open(f"visit/{visits[1].pk}/vet")
    phone.tap("Bears no weight on a leg")
    phone.tap("Write it down and hold the horse")
    phone.says("Stopped")
    phone.open(f"visit/{visits[2].pk}/could-not")
    phone.page.locator("[data-cause=wet]").click()
    phone.says("The next visit")
    phone.find_signal()
    sign_in_again(phone, practice)
    arrived(phone)
    for visit in visits:
        visit.refresh_from_db()
    assert [visit.status for visit in visits] == ["completed", "could_not_work", "could_not_work"]
    assert visits[0].sessions.get().areas.count() == 12
    assert visits[0].photos.get().words == "Near hock"
    form.refresh_from_db()
    assert form.state == Form.State.SIGNED
    assert (HandMoney.objects.get().amount, HandMoney.objects.get().slip[-5:]) == (95, "-0001")
    assert visits[1].animal.stop_notes.count() == 1
    assert taps <= MOST_TAPS, f"an ordinary horse took {taps} taps"


def sign(phone: BarnPhone, form: Form, name: str) -> None:
    phone.tap("To sign")
    phone.write(signer_name=name)
    phone.page.locator("canvas").scroll_into_view_if_needed()
    box = phone.page.locator("canvas").bounding_box()
    assert box is not None
    phone.page.mouse.move(box["x"] + 30, box["y"] + 40)
    phone.page.mouse.down()
    phone.page.mouse.move(box["x"] + 120, box["y"] + 90, steps=6)
    phone.page.mouse.up()
    phone.page.get_by_role("button", name="Sign", exact=True).click()
    expect(phone.page.locator("main h1")).to_have_text("Ember Day")
    expect(phone.page.locator(f'a[href$="sign/{form.pk}"]')).to_have_count(0)


def sign_in_again(phone: BarnPhone, person: User, password: str = PASSWORD) -> None:
    """A browser that was killed may have lost who is signed in; one that was not goes on."""
    phone.sign_in(person.username, password)
    phone.open()


def test_ten_kills_at_random_moments_offline_lose_no_confirmed_entry(practice, visits, phones):
    chance = random.Random(20_260_302)
    phone = phones(practice)
    for _ in range(10):
        phone.lose_signal()
        phone.open()
        phone.note_until_killed(visits[0].pk, chance.uniform(0.05, 0.4))
        phone.start()
    sign_in_again(phone, practice)
    assert len(phone.confirmed) > 10
    assert set(phone.confirmed) <= set(phone.kept())
    arrived(phone)


def test_any_address_opened_offline_leads_to_the_day(practice, visits, phones):
    phone = phones(practice)
    phone.lose_signal()
    phone.page.goto(f"{phone.home}/diary/")
    phone.says("Copper Hasp")
    assert phone.page.url.endswith("/barn/")


def test_a_timer_offline_keeps_its_minutes_through_pause_reload_and_kill(practice, visits, phones):
    phone = phones(practice)
    phone.lose_signal()
    place = f"visit/{visits[0].pk}"
    begin = timezone.now()
    phone.context.clock.set_fixed_time(begin)
    phone.open(place)
    for line in LOOK_OVER:
        phone.tap(line)
    phone.page.locator("#time-Withers").click()
    phone.context.clock.set_fixed_time(begin + timedelta(minutes=2, seconds=10))
    phone.page.locator("#timer-pause").click()
    expect(phone.page.locator(".timer")).to_contain_text("2:10 of 3")
    phone.says("Paused")
    phone.context.clock.set_fixed_time(begin + timedelta(minutes=30))
    phone.page.reload()
    expect(phone.page.locator(".timer")).to_contain_text("2:10 of 3")
    phone.page.locator("#timer-pause").click()
    expect(phone.page.locator("#timer-pause")).to_have_text("Pause")
    phone.kill()
    phone.start()
    phone.lose_signal()
    phone.context.clock.set_fixed_time(begin + timedelta(minutes=32, seconds=1))
    phone.open(place)
    expect(phone.page.locator(".timer")).to_contain_text("4:11 of 3")
    phone.page.locator("#timer-end").click()
    expect(phone.page.locator("#place-Withers")).to_contain_text("4 min")


def test_half_a_batch_that_was_taken_while_the_answer_was_lost_is_not_taken_twice(
    practice, visits, phones, live_server, monkeypatch
):
    relay = Relay(live_server.thread.port)
    phone = phones(practice, home=f"http://localhost:{relay.port}")

    def take_and_lose_the_answer(**given):
        answers = receive(**given)
        relay.cut()
        return answers

    with monkeypatch.context() as patch:
        patch.setattr(views, "receive", take_and_lose_the_answer)
        for n in range(5):
            assert phone.note("how", visits[0].pk, {"ease_before": n})
        expect(phone.page.locator("a.state")).to_contain_text("5 to send, no signal")
    taken = BarnEvent.objects.count()
    assert taken
    relay.mend()
    phone.send()
    arrived(phone)
    relay.cut()


@contextmanager
def office_failing(monkeypatch, at: str = "") -> Iterator[None]:
    """The office answers 500 to every batch that has these words in it."""

    def fail(*, entries, **given):
        if at in json.dumps(entries):
            raise RuntimeError("The office has a fault.")
        return receive(entries=entries, **given)

    with monkeypatch.context() as patch:
        patch.setattr(views, "receive", fail)
        yield


def test_an_entry_that_the_office_answers_with_500_is_halved_out_and_kept(practice, visits, phones, monkeypatch):
    phone = phones(practice)
    phone.lose_signal()
    for n in range(8):
        phone.note("how", visits[0].pk, {"note": "This one hurts." if n == 5 else f"Line {n}"})
    with office_failing(monkeypatch, at="This one hurts."):
        phone.send()
        phone.says("1 to send", "kept here and tried again")
    assert BarnEvent.objects.count() == 7
    phone.send()
    arrived(phone)


def test_an_office_that_dies_loses_nothing_of_what_an_offline_phone_keeps(practice, visits, phones, live_server):
    relay = Relay(live_server.thread.port)
    phone = phones(practice, home=f"http://localhost:{relay.port}")
    relay.cut()
    phone.page.reload()
    phone.says("Copper Hasp")
    for n in range(5):
        assert phone.note("how", visits[0].pk, {"ease_after": n})
    expect(phone.page.locator("a.state")).to_contain_text("5 to send, no signal")
    relay.mend()
    phone.send()
    arrived(phone)
    relay.cut()


def test_a_sign_in_that_ran_out_asks_for_a_new_one_and_then_sends(practice, visits, phones):
    phone = phones(practice)
    Session.objects.all().delete()
    assert phone.note("how", visits[0].pk, {"ease_before": 4})
    phone.says("Sign in to send what waits.", "1 to send")
    sign_in_again(phone, practice)
    arrived(phone)


def test_a_changed_password_ends_the_sign_in_and_loses_nothing(practice, visits, phones):
    phone = phones(practice)
    practice.set_password("another long sentence for this test")
    practice.save()
    assert phone.note("how", visits[0].pk, {"ease_before": 4})
    phone.says("Sign in to send what waits.", "1 to send")
    sign_in_again(phone, practice, "another long sentence for this test")
    arrived(phone)


def test_another_person_on_the_phone_sees_no_day_and_sends_nothing_of_the_first(practice, visits, phones, monkeypatch):
    other = UserFactory(username="lorne", role=Role.PRACTITIONER)
    other.set_password(PASSWORD)
    other.save()
    phone = phones(practice)
    phone.lose_signal()
    assert phone.note("how", visits[0].pk, {"ease_before": 4})
    with office_failing(monkeypatch):
        phone.find_signal()
        sign_out(phone)
        phone.sign_in("lorne", PASSWORD)
    phone.open()
    phone.says("Some entries are another person’s", "1 to send")
    expect(phone.page.locator("main")).not_to_contain_text("Ember Day")
    assert not BarnEvent.objects.exists()
    sign_out(phone)
    sign_in_again(phone, practice)
    arrived(phone)
    assert set(Phone.objects.values_list("person__username", flat=True)) == {practice.username, "lorne"}


def sign_out(phone: BarnPhone) -> None:
    """At the desk, as one does it; the day that was taken along goes with it."""
    phone.page.goto(f"{phone.home}/")
    phone.page.evaluate("document.querySelector('form[data-sign-out]').requestSubmit()")
    phone.page.wait_for_url("**/sign-in/**")
    assert not [name for name in names_on(phone) if name.startswith("pack-")]


def names_on(phone: BarnPhone) -> list[str]:
    return phone.page.evaluate(
        """async () => {
          const folder = await (await navigator.storage.getDirectory()).getDirectoryHandle("barn");
          return Array.fromAsync(folder.keys());
        }"""
    )


def test_a_removed_phone_puts_the_day_away_and_keeps_what_it_could_not_send(practice, visits, phones):
    phone = phones(practice)
    remove_phone(phone=Phone.objects.get(), at=timezone.now(), by=practice)
    assert phone.note("how", visits[0].pk, {"ease_before": 4})
    phone.says("This phone was removed from the office.", "1 to send", "Nothing is taken along")
    assert not BarnEvent.objects.exists()


def test_a_removed_phone_puts_the_day_away_when_it_has_nothing_to_send(practice, visits, phones):
    phone = phones(practice)
    remove_phone(phone=Phone.objects.get(), at=timezone.now(), by=practice)
    phone.send()
    phone.says("This phone was removed from the office.", "Nothing is taken along")
    assert not [name for name in names_on(phone) if name.startswith("pack-")]


def test_an_entry_that_fails_holds_up_none_after_it(practice, visits, phones):
    phone = phones(practice)
    phone.lose_signal()
    with pytest.raises(Error, match="broken"):
        phone.page.evaluate(
            f"async (visit) => {{ {BARN} await barn.note('how', visit, () => {{ throw new Error('broken'); }}); }}",
            visits[0].pk,
        )
    assert phone.note("how", visits[0].pk, {"note": "The next one."})
    phone.send()
    arrived(phone)


def test_a_full_storage_is_said_while_entries_are_still_kept_and_then_none_is_half_written(practice, visits, phones):
    phone = phones(practice)
    phone.lose_signal()
    session = phone.context.new_cdp_session(phone.page)
    session.send("Storage.overrideQuotaForOrigin", {"origin": phone.home, "quotaSize": 3_000_000})
    fill, warning = {"area": "x" * 200_000}, phone.page.get_by_text("almost full: make room before you go on.")
    while not warning.count():
        assert phone.note("timer", visits[0].pk, fill, local=True)
    assert phone.note("how", visits[0].pk, {"note": "In the room kept free."})
    while phone.note("timer", visits[0].pk, fill, local=True):
        phone.says("almost full")
    phone.says("NOT kept: the storage of this phone is full.")
    session.send("Storage.overrideQuotaForOrigin", {"origin": phone.home})
    assert phone.note("how", visits[0].pk, {"note": "Room again."})
    phone.page.reload()
    phone.says("2 to send")
    assert not warning.count()
    phone.send()
    arrived(phone)


@pytest.mark.parametrize("wrong", [timedelta(days=-1), timedelta(days=1)], ids=["a day slow", "a day fast"])
def test_a_phone_whose_clock_is_a_day_wrong_offline_tells_the_right_moment(practice, visits, phones, wrong):
    phone = phones(practice)
    phone.context.clock.set_system_time(timezone.now() + wrong)
    phone.open()
    phone.send()
    phone.page.wait_for_function("() => Math.abs(Number(localStorage.getItem('offset'))) > 3600000")
    phone.lose_signal()
    phone.note("arrival", visits[0].pk, dict.fromkeys(("is_dry", "no_stop_sign"), True))
    phone.send()
    arrived(phone)
    event = BarnEvent.objects.get()
    assert abs(event.device_at - wrong - timezone.now()) < timedelta(minutes=2)
    assert abs(event.happened_at - timezone.now()) < timedelta(minutes=2)


def test_two_phones_on_one_visit_offline_put_their_areas_together_and_a_clash_waits(practice, visits, phones):
    one, two = phones(practice), phones(practice)
    for phone, name, ease in ((one, "Withers", 3), (two, "Loins", 7)):
        phone.lose_signal()
        phone.note("arrival", visits[0].pk, ALL_WELL)
        phone.note("areas", visits[0].pk, {"areas": [area(name)]})
        phone.note("how", visits[0].pk, {"ease_before": ease})
    one.note("done", visits[0].pk, {})
    for phone in (one, two):
        phone.send()
        phone.wait_until_sent()
    session = Visit.objects.get(pk=visits[0].pk).sessions.get()
    assert {each.area for each in session.areas.all()} == {"Withers", "Loins"}
    assert session.ease_before == 3
    assert BarnEvent.objects.filter(state=BarnEvent.State.OPEN).get().values == {"ease_before": 7}
    two.open("waiting")
    two.says("Ease before: here 3, on the phone 7.")


def test_a_visit_called_off_meanwhile_waits_for_a_decision_and_is_not_lost(practice, visits, phones):
    phone = phones(practice)
    phone.lose_signal()
    phone.note("arrival", visits[0].pk, ALL_WELL)
    phone.note("areas", visits[0].pk, {"areas": [area("Withers")]})
    phone.note("done", visits[0].pk, {})
    cancel_visit(visit=visits[0], reason="The owner called.", at=timezone.now(), by=practice)
    phone.send()
    phone.wait_until_sent()
    assert list(BarnEvent.objects.order_by("pk").values_list("kind", "state")) == [
        ("arrival", "taken"),
        ("areas", "taken"),
        ("done", "open"),
    ]
    phone.page.goto(f"{phone.home}/barn/decisions/")
    phone.says("Ember Day", "called off meanwhile: The owner called.")


def test_a_new_version_of_the_page_takes_over_with_a_full_outbox(practice, visits, phones, monkeypatch):
    phone = phones(practice)
    phone.lose_signal()
    for n in range(60):
        phone.note("how", visits[0].pk, {"note": f"Line {n}"})
    monkeypatch.setattr(shell, "version", lambda page: "the-next-one")
    with office_failing(monkeypatch):
        phone.find_signal()
        phone.page.evaluate("navigator.serviceWorker.ready.then((each) => each.update())")
        phone.page.wait_for_function("() => caches.keys().then((names) => names.join() === 'shell-the-next-one')")
        phone.page.reload()
        phone.says("60 to send")
    phone.send()
    arrived(phone)
    assert BarnEvent.objects.count() == 60


def test_a_day_of_yesterday_offline_says_of_when_it_is_and_still_takes_entries(practice, visits, phones):
    phone = phones(practice)
    tomorrow = timezone.now() + timedelta(days=1)
    phone.context.clock.set_system_time(tomorrow)
    phone.lose_signal()
    phone.page.reload()
    expect(phone.page.locator(".taken.old")).to_contain_text(f"Taken along {words.day(timezone.localdate())} ")
    phone.open(f"visit/{visits[0].pk}")
    phone.says("Ember Day")
    phone.note("how", visits[0].pk, {"note": "Entered the day after."})
    phone.send()
    arrived(phone)


def test_a_day_that_is_too_old_is_put_away_and_what_waits_is_not(practice, visits, phones):
    phone = phones(practice)
    phone.lose_signal()
    phone.note("how", visits[0].pk, {"note": "Still to be sent."})
    phone.context.clock.set_system_time(timezone.now() + KEPT_FOR + timedelta(hours=1))
    phone.page.reload()
    phone.says("Nothing is taken along yet", "1 to send")
    assert not [name for name in names_on(phone) if name.startswith("pack-")]
    phone.send()
    phone.wait_until_sent()
    assert BarnEvent.objects.get().values == {"note": "Still to be sent."}
