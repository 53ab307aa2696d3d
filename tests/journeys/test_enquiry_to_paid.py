"""One horse's road from the first call to a paid invoice, by the screens only, on a phone and on a laptop."""

import re
from collections.abc import Callable
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command

from backoffice.access.models import User
from billing.invoices.models import Invoice
from tests.journeys.conftest import PASSWORD
from tests.journeys.walk import Walk

pytestmark = pytest.mark.browser

FIRST, SECOND, BARN, HORSE = "Ottilie Brackwater", "Desmond Quarrie", "Copper Hasp Stables", "Biscuit"
RHYTHM = "Weekly"


def test_an_enquiry_becomes_a_paid_invoice(practice: User, new_walk: Callable[[], Walk]) -> None:
    walk = new_walk()
    sign_in(walk)
    take_the_enquiry(walk)
    complete_the_barn(walk)
    horse = share_the_horse(walk)
    ask_about_health(walk, horse)
    sign_the_papers(walk, horse)
    quote, link = offer_a_quote(walk)
    owner = new_walk()
    accept_as_the_owner(owner, link)
    book_the_plan(walk, quote)
    plan_the_day(walk)
    write_up_the_visit(walk)
    confirm_the_charges(walk)
    invoice_both_owners(walk)
    see_nothing_left(walk)
    assert [*walk.faults, *owner.faults] == []


def sign_in(walk: Walk) -> None:
    walk.open("/")
    walk.look("01-sign-in")
    walk.write(username="holt", password=PASSWORD)
    walk.press("Sign in")
    walk.look("02-today-at-first")


def take_the_enquiry(walk: Walk) -> None:
    walk.press("Enquiry")
    walk.write(name=FIRST, phone="303 555 0142", barn_name=BARN, horse_name=HORSE, asked_about="Stiff after a drive?")
    walk.look("03-enquiry")
    walk.press("Save the enquiry")
    walk.says(FIRST, HORSE, "Stiff after a drive?")
    walk.look("04-person")


def complete_the_barn(walk: Walk) -> None:
    walk.press(BARN)
    walk.press("Change")
    walk.write(place="39.5, -104.72", opens_1="06:00", closes_1="20:00")
    walk.look("05-barn-form")
    walk.press("Save")
    walk.says("6:00", "39.5")
    walk.look("06-barn")


def share_the_horse(walk: Walk) -> str:
    walk.press(HORSE)
    horse = walk.page.url
    walk.says("Hold")
    walk.look("07-horse-at-first")
    walk.press("Owners and shares")
    walk.press("Write the person down first.")
    walk.write(name=SECOND, phone="303 555 0143", email="desmond@quarrie.example")
    walk.press("Save")
    walk.open(horse)
    walk.press("Owners and shares")
    walk.write(share_1="60 %", owner_2=SECOND, share_2="40 %")
    walk.look("08-owners")
    walk.press("Save the owners")
    walk.says("60 %", "40 %")
    return horse


def ask_about_health(walk: Walk, horse: str) -> None:
    walk.press("Ask about health")
    for question in walk.page.locator(".question").all():
        question.get_by_label("None", exact=True).check()
    walk.look("09-health")
    walk.press("Write it down")
    assert walk.page.url == horse


def sign_the_papers(walk: Walk, horse: str) -> None:
    walk.press("New form")
    walk.look("10-new-form")
    sign_one(walk, version="Consent", signer=FIRST, name="consent")
    for signer in (FIRST, SECOND):
        walk.open(horse)
        walk.press("New form")
        sign_one(walk, version="Terms of business", signer=signer, name="")
    walk.open(horse)
    walk.says("Ready")
    walk.look("13-horse-ready")


def sign_one(walk: Walk, *, version: str, signer: str, name: str) -> None:
    """Ask for one form and sign it on the device. A name keeps the two pages among the pictures."""
    listed = walk.page.locator("[name=version] option", has_text=version).first.inner_text()
    walk.write(version=listed, signer=signer)
    walk.press("Make the form")
    walk.press("Sign here")
    walk.write(name_typed=signer)
    walk.sign()
    if name:
        walk.look(f"11-sign-{name}")
    walk.press("Sign")
    walk.says("Signed")
    if name:
        walk.look(f"12-signed-{name}")
        with walk.paper():
            walk.click("Sealed paper")


def offer_a_quote(walk: Walk) -> tuple[str, str]:
    """The addresses of the quote and of the owner's private page."""
    walk.open("/quotes/")
    walk.press("New quote")
    walk.write(person=FIRST)
    walk.press("Go on")
    today = walk.page.evaluate("new Date().toLocaleDateString('sv')")
    walk.write(title="Steady upkeep", start=today, days="28")
    guideline = walk.page.locator("[name=guideline_version] option", has_text="Ongoing maintenance").inner_text()
    walk.write(goal=walk.page.locator("[name=goal] option[value=upkeep]").inner_text(), guideline_version=guideline)
    walk.look("14-new-quote")
    walk.press("Lay out the options")
    quote = walk.page.url
    walk.press("Monthly")
    assert walk.page.locator("table.comparison tbody tr").count() == 4
    walk.look("15-quote-draft")
    walk.press("Offer to the owner")
    link = re.search(r"http\S+/p/quote/\S+", walk.text())
    assert link is not None
    walk.look("16-quote-offered")
    with walk.paper():
        walk.click("PDF")
    return quote, link.group()


def accept_as_the_owner(walk: Walk, link: str) -> None:
    walk.open(link)
    walk.look("17-owner-page")
    walk.page.get_by_role("radio", name=re.compile(f"^{RHYTHM},")).check()
    walk.write(agrees=True, name_typed=FIRST)
    walk.sign()
    walk.look("18-owner-signs")
    walk.press("Accept and sign")
    walk.says(f"You chose “{RHYTHM}”", FIRST)
    walk.look("19-owner-accepted")
    with walk.paper():
        walk.click("PDF")


def book_the_plan(walk: Walk, quote: str) -> None:
    walk.open(quote)
    walk.says("Accepted", "running")
    walk.look("20-quote-accepted")
    walk.press(f"{HORSE}'s plan")
    walk.says("Running", "0 completed of 4 planned sessions", "Pencilled")
    walk.look("21-plan-proposed")
    walk.press("Book what is ready")
    walk.says("4 visits are booked")
    walk.look("22-plan-booked")
    walk.open("/diary/")
    walk.says(HORSE, "Full body", "Booked")
    walk.look("23-diary")


def plan_the_day(walk: Walk) -> None:
    walk.open("/")
    walk.press("Plan the round")
    walk.says("Every stop fits.", BARN)
    walk.look("24-round")
    with walk.paper():
        walk.click("On one sheet")
    walk.open("/")
    walk.says(BARN, HORSE)
    walk.look("25-today-with-the-round")


def write_up_the_visit(walk: Walk) -> None:
    walk.press(HORSE, within=".stops")
    walk.look("26-visit")
    walk.press("Visit sheet")
    for seen in ("no_stop_sign", "is_dry", "moves_soundly", "handler_present", "electronics_away"):
        walk.page.locator(f"label.tap:has([name={seen}])").click()
    walk.write(ease_before="4", ease_after="6", reaction="Licked and chewed", note="Softer over the back at the end.")
    walk.look("27-visit-sheet")
    walk.press("Complete the visit")
    walk.says("is written up", "in the diary already")
    walk.look("28-next-visit")
    with walk.paper():
        walk.click("Visit report (PDF)")
    walk.press("Nothing more to do")
    walk.says("Completed", "Licked and chewed")
    walk.look("29-visit-completed")


def confirm_the_charges(walk: Walk) -> None:
    walk.open("/")
    walk.says("Work not yet charged", "1 visit, Copper Hasp Stables")
    walk.look("30-today-uncharged")
    walk.open("/money/uncharged/")
    walk.says("$95.00", "$30.00", "$125.00")
    walk.look("31-uncharged")
    walk.press("Confirm all of")
    walk.says("All finished work is charged", "$125.00 is confirmed")
    walk.look("32-ready-for-invoices")


def invoice_both_owners(walk: Walk) -> None:
    walk.press("Make a draft for each payer")
    walk.says(FIRST, SECOND)
    walk.look("33-drafts")
    for payer, share in ((FIRST, "$75.00"), (SECOND, "$50.00")):
        walk.open("/money/invoices/")
        row = walk.page.locator("main tr", has_text=payer)
        with walk.page.expect_navigation():
            row.get_by_role("link").first.click()
        if payer == FIRST:
            walk.look("34-invoice-draft")
        walk.press(f"Issue for {share}")
        walk.says(share, payer)
        if payer == FIRST:
            walk.look("35-invoice")
        with walk.paper():
            walk.click("Open the PDF")
        take_the_payment(walk, share, is_shown=payer == FIRST)
    assert sorted(Invoice.objects.values_list("total", flat=True)) == [Decimal("50.00"), Decimal("75.00")]


def take_the_payment(walk: Walk, share: str, *, is_shown: bool) -> None:
    invoice = walk.page.url
    walk.press("Take a payment")
    walk.write(method="Check", reference="1042")
    if is_shown:
        walk.look("36-take-a-payment")
    walk.press("Take the payment")
    walk.says(share)
    if is_shown:
        walk.look("37-payment")
    with walk.paper():
        walk.click("Open the receipt")
    walk.open(invoice)
    walk.says("paid", "$0.00")
    if is_shown:
        walk.look("38-invoice-paid")


def see_nothing_left(walk: Walk) -> None:
    walk.open("/money/")
    walk.look("39-money")
    walk.open("/")
    assert "not yet charged" not in walk.text().lower()
    walk.look("40-today-at-last")
    said = StringIO()
    call_command("verify", stdout=said)
    assert "Nothing wrong." in said.getvalue()
