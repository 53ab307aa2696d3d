"""A British business from an empty database to a paid invoice with VAT, on a phone, by what the screens offer.

It counts what a person would do, and says how long the machine took.
"""

import re
from collections.abc import Callable
from datetime import datetime
from time import monotonic
from zoneinfo import ZoneInfo

import pytest

from billing.invoices.models import Invoice
from tests.journeys.conftest import PASSWORD
from tests.journeys.test_enquiry_to_paid import sign_one
from tests.journeys.walk import Walk

pytestmark = pytest.mark.browser

OWNER, YARD, HORSE = "Rosalind Thackray", "Cuckoo Pen Livery", "Pudding"


@pytest.mark.parametrize("size", ["phone"], indirect=True)
def test_a_yard_in_the_cotswolds_is_paid_with_vat(
    transactional_db: None, private_folder: object, new_walk: Callable[[], Walk], capsys: pytest.CaptureFixture[str]
) -> None:
    walk, began = new_walk(), monotonic()
    told = [("set up", *count(walk, began, set_up))]
    told.append(("first quote accepted", *count(walk, began, lambda walk: quoted(walk, new_walk()))))
    told.append(("first visit written up", *count(walk, began, first_visit)))
    told.append(("first invoice paid", *count(walk, began, paid)))
    with capsys.disabled():
        for words, clicks, keys, seconds in told:
            print(f"\n{words}: {clicks} clicks, {keys} keystrokes, {seconds:.0f} s by the machine", end="")  # noqa: T201
    assert walk.faults == []
    invoice = Invoice.objects.get()
    assert (invoice.currency, invoice.net, invoice.tax, invoice.total) == ("GBP", 95, 19, 114)


def count(walk: Walk, began: float, part: Callable[[Walk], None]) -> tuple[int, int, float]:
    clicks, keys = walk.clicks, walk.keystrokes
    part(walk)
    return walk.clicks - clicks, walk.keystrokes - keys, monotonic() - began


def set_up(walk: Walk) -> None:
    walk.open("/")
    walk.write(business_name="Cold Aston Horse Ease", country="United Kingdom", first_name="Hester", username="hester")
    walk.write(password=PASSWORD, password_again=PASSWORD)
    walk.look("96-welcome")
    walk.press("Make the business and sign in")
    walk.says("Step 1 of 5")
    walk.write(address="2 Mill Lane", place_of_law="England", place="51.89, -1.83")
    walk.look("96-where")
    walk.press("Save and go on")
    walk.look("96-hours")
    walk.press("Skip this step")
    walk.says("Coming to the yard")
    walk.write(full_price="70", spot_price="30", call_out="25")
    walk.clicks += 1
    walk.page.locator("[name=uses_machine]").uncheck()
    walk.look("96-prices")
    walk.press("Save and go on")
    walk.write(how_to_pay="By bank transfer.", percent="20")
    walk.look("96-pay")
    walk.press("Save and go on")
    walk.look("96-rhythms")
    walk.press("Save and begin")
    walk.says("Your back office is ready")
    walk.look("96-today")


def quoted(walk: Walk, owner: Walk) -> None:
    walk.press("Log the first enquiry")
    walk.write(name=OWNER, phone="07700 900123", barn_name=YARD, horse_name=HORSE)
    walk.press("Save the enquiry")
    walk.press(YARD)
    walk.look("96-yard")
    walk.press("Change")
    walk.write(place="51.92, -1.80", opens_1="06:00", closes_1="20:00")
    walk.press("Save")
    walk.open("/")
    walk.press("Lay out the first quote")
    walk.write(person=OWNER)
    walk.press("Go on")
    guideline = walk.page.locator("[name=guideline_version] option", has_text="Ongoing maintenance").inner_text()
    today = datetime.now(ZoneInfo("Europe/London")).date().isoformat()
    walk.write(title="Steady upkeep", goal="Ongoing maintenance", guideline_version=guideline, start=today)
    walk.press("Lay out the options")
    walk.says("Weekly", "£")
    walk.look("96-quote")
    walk.press("Offer to the owner")
    link = re.search(r"http\S+/p/quote/\S+", walk.text())
    assert link is not None
    owner.open(link.group())
    owner.look("96-owner-page")
    owner.page.get_by_role("radio", name=re.compile("^Weekly,")).check()
    owner.write(agrees=True, name_typed=OWNER)
    owner.sign()
    owner.press("Accept and sign")
    owner.says("You chose “Weekly”")
    assert owner.faults == []


def first_visit(walk: Walk) -> None:
    walk.open("/settings/wordings/")
    walk.press("Add starting texts")
    walk.open("/settings/laws/new/")
    walk.write(place="England", source="An invented letter")
    for choice in ("[name=uses_machine][value=no]", "[name=rule][value=free]"):
        walk.clicks += 1
        walk.page.locator(choice).check()
    walk.press("Write it down")
    walk.open("/horses/")
    walk.press(HORSE)
    horse = walk.page.url
    walk.press("Ask about health")
    for question in walk.page.locator(".question").all():
        question.get_by_label("None", exact=True).check()
    walk.press("Write it down")
    walk.says("Hold")
    walk.press("New form")
    sign_one(walk, version="Consent", signer=OWNER, name="")
    walk.open(horse)
    walk.press("New form")
    sign_one(walk, version="Terms of business", signer=OWNER, name="")
    walk.open(horse)
    walk.says("Ready")
    walk.look("96-horse-ready")
    walk.press("Steady upkeep")
    walk.press("Book what is ready")
    walk.open("/")
    walk.press("Plan the round")
    walk.says("Every stop fits.", YARD)
    walk.look("96-round")
    walk.open("/")
    walk.press(HORSE, within=".stops")
    walk.press("Visit sheet")
    for seen in ("no_stop_sign", "is_dry", "moves_soundly", "handler_present"):
        walk.page.locator(f"label.tap:has([name={seen}])").click()
    walk.write(ease_before="4", ease_after="6")
    walk.press("Complete the visit")
    walk.says("is written up")
    walk.press("Nothing more to do")


def paid(walk: Walk) -> None:
    walk.open("/money/uncharged/")
    walk.says("£70.00", "£25.00", "£95.00")
    walk.press("Confirm all of")
    walk.press("Make a draft for each payer")
    walk.open("/money/invoices/")
    with walk.page.expect_navigation():
        walk.clicks += 1
        walk.page.locator("main tr", has_text=OWNER).get_by_role("link").first.click()
    walk.says("VAT", "£114.00")
    walk.press("Issue for £114.00")
    walk.look("96-invoice")
    with walk.paper():
        walk.click("Open the PDF")
    walk.press("Take a payment")
    walk.write(method="Cheque", reference="104")
    walk.press("Take the payment")
    walk.says("£114.00", "Cheque")
    walk.look("96-paid")
