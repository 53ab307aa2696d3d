"""Every page in the barn in light, dark and bright sun, at twice the text, by accessibility rules and by keyboard."""

from pathlib import Path
from uuid import RFC_4122, UUID

import pytest
from playwright.sync_api import expect

from clients.animals.models import Caution
from clients.paperwork.models import Wording
from clients.visits.models import Visit
from tests.factories.clients import CautionFactory, FormFactory
from tests.factories.paperwork import version_of
from tests.journeys.barn_phone import BarnPhone

pytestmark = pytest.mark.browser
# Modules of their own, that have made no id yet.
MODULES = """
  const main = document.querySelector("script[src*='/js/barn/main']").src;
  const fresh = (name) => import(`${main.replace("main", name)}?new`);
  const [entries, rows] = await Promise.all(["entries", "rows"].map(fresh));
"""

# WCAG 2.2 AA: 1.4.3 and 1.4.6 (contrast), 1.4.4 (text at 200 %), 1.4.10 (reflow), 2.5.8 (target size), by axe and here.


@pytest.fixture
def pictures(request) -> Path | None:
    folder = request.config.getoption("--pictures")
    if folder is None:
        return None
    Path(folder).mkdir(parents=True, exist_ok=True)
    return Path(folder)


def look_over(phone: BarnPhone, visit: Visit) -> None:
    seen = ("no_stop_sign", "is_dry", "moves_soundly", "handler_present", "electronics_away")
    assert phone.note("arrival", visit.pk, dict.fromkeys(seen, True))


def test_each_page_can_be_read_and_used(practice, visits, phones, pictures):
    one, two, three = visits
    form = FormFactory(
        animal=one.animal,
        signer=one.animal.ownerships.get().person,
        wording_version=version_of(Wording.Kind.PHOTOS),
    )
    CautionFactory(animal=one.animal, area="Near hock", note="Old scar")
    assert Caution.objects.count() == 1
    phone = phones(practice)
    phone.lose_signal()
    found: list[str] = []

    def look(name: str, place: str) -> None:
        phone.open(place)
        found.extend(phone.look(name, pictures))

    look("day", "")
    phone.tap("Copper Hasp")
    stop = phone.page.url.split("#/")[1]
    look("stop", stop)
    look("arrival", f"visit/{one.pk}")
    look_over(phone, one)
    look("sheet", f"visit/{one.pk}")
    phone.tap("Show the horse")
    found.extend(phone.look("drawing", pictures))
    phone.tap("Show the list")
    phone.page.locator("#time-Withers").click()
    expect(phone.page.locator(".timer")).to_be_visible()
    found.extend(phone.look("timer", pictures))
    look("sign", f"visit/{one.pk}/sign/{form.pk}")
    look("photo", f"visit/{one.pk}/photo")
    look("money", f"visit/{one.pk}/money")
    look("measures", f"visit/{one.pk}/measures")
    look("measure", f"visit/{one.pk}/measure/tape")
    phone.write(girth="73", length="65")
    phone.tap("Keep it")
    phone.says("Weight by tape: girth 73, length 65 in")
    look("stop-and-call", f"visit/{two.pk}/vet")
    look("could-not-work", f"visit/{two.pk}/could-not")
    look("late", "late")
    phone.note("done", one.pk, {})
    look("next", f"visit/{one.pk}/next")
    phone.note("could_not", two.pk, {"cause": "wet", "note": ""})
    phone.note("stop", three.pk, {"seen": "9:20 Pawing."})
    look("stopped", f"visit/{three.pk}")
    look("leaving", stop)
    look("waiting", "waiting")
    assert found == [], "\n".join(found)


def test_a_visit_is_written_up_by_keyboard_alone(practice, visits, phones):
    visit = visits[0]
    phone = phones(practice)
    phone.lose_signal()
    phone.open()
    phone.press("9:00Copper Hasp")
    phone.says("Code 4417")
    phone.press("Ember Day")
    for n, line in enumerate(("No stop sign", "Dry", "Moving as usual", "Handler", "Phones and keys"), start=1):
        phone.press(line, "Space")
        phone.says(f"{n} to send, no signal")
    phone.press("Show the horse")
    phone.press("Withers, left side", "Space")
    expect(phone.page.locator("#draw-right-Withers")).to_have_attribute("aria-checked", "true")
    phone.press("Show the list")
    phone.press("Complete the visit")
    phone.says("The next visit")
    phone.press("No date yet")
    phone.press("Why there is none yet", "A")
    phone.press("Put on the call list")
    phone.says("The day · 9:00")
    phone.send()
    phone.wait_until_sent()
    visit.refresh_from_db()
    assert (visit.status, visit.call_list_reason) == (Visit.Status.COMPLETED, "A")
    assert [each.area for each in visit.sessions.get().areas.all()] == ["Withers"]


def test_colors_for_bright_sun_stay_through_a_restart_and_hold_at_the_desk(practice, visits, phones):
    phone = phones(practice)
    phone.lose_signal()
    phone.open()
    phone.tap("Colors for bright sun")
    expect(phone.page.locator("html")).to_have_attribute("data-look", "outdoor")
    phone.page.reload()
    expect(phone.page.locator("html")).to_have_attribute("data-look", "outdoor")
    phone.find_signal()
    phone.page.goto(f"{phone.home}/horses/")
    expect(phone.page.locator("html")).to_have_attribute("data-look", "outdoor")
    phone.open()
    phone.tap("Usual colors")
    expect(phone.page.locator("html")).not_to_have_attribute("data-look", "outdoor")


def test_the_ids_of_entries_are_those_of_rfc_9562_and_sort_by_their_moment(phones, practice):
    phone = phones(practice)
    # RFC 9562, appendix A.6: 2022-02-22 19:22:22 UTC is 017F22E2-79B0-7…; variant 10 in the two bits after
    first = phone.page.evaluate(f"async () => {{ {MODULES} return entries.uuid7(0x017F22E279B0); }}")
    assert (first[:15], UUID(first).version, UUID(first).variant) == ("017f22e2-79b0-7", 7, RFC_4122)
    many = phone.page.evaluate(
        f"async () => {{ {MODULES} return Array.from({{ length: 10000 }}, () => entries.uuid7()); }}"
    )
    assert many == sorted(set(many))


def test_the_check_of_a_row_is_the_published_crc_32(phones, practice):
    phone = phones(practice)
    # CRC-32/ISO-HDLC of "123456789" is CBF43926, the check value in the catalogue of parametrised CRC algorithms
    found = phone.page.evaluate(
        f"async () => {{ {MODULES} return rows.crc32(new TextEncoder().encode('123456789')); }}"
    )
    assert found == 0xCBF43926
