"""A barn day to paid invoices for four payers, a bank file, a wrong charge taken back, the month closed; by screens."""

from collections.abc import Callable
from datetime import date, datetime, time, timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from backoffice.access.models import User
from backoffice.upkeep.verification import FOUNDATION, money_checks
from billing.invoices.actions import confirm_charges, draft_invoices, issue_invoice
from billing.invoices.models import Invoice
from billing.invoices.queries import invoices_shown
from billing.journal.models import ClosedMonth
from billing.packages.sold import Use
from billing.prices.models import PayerCap
from clients.animals.models import Role
from clients.people.models import Person
from clients.plans.models import Service
from tests.factories.barnside import BarnEventFactory, HandMoneyFactory, PhoneFactory
from tests.factories.billing import finished_visit, owned_horse
from tests.factories.clients import PersonFactory
from tests.factories.packages import sold_package
from tests.factories.rounds import near_barn
from tests.journeys.conftest import PASSWORD, SIZES
from tests.journeys.walk import Walk

pytestmark = pytest.mark.browser


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """On a phone; where pictures are kept, on a laptop too."""
    if "size" in metafunc.fixturenames:
        metafunc.parametrize("size", list(SIZES) if metafunc.config.getoption("--pictures") else ["phone"])


@pytest.fixture
def work_day() -> date:
    """The last day of the month before, so that its month can be closed."""
    return timezone.localdate().replace(day=1) - timedelta(days=1)


@pytest.fixture
def barn_day(practice: User, work_day: date) -> dict[str, Person]:
    """Four horses at one barn: co-owners of 50/30/20, a trainer with a cap, a package, an owner who pays in cash."""
    service, barn = Service.objects.get(kind="full"), near_barn(name="Copper Hasp")
    people = {name: PersonFactory(name=name, email=f"{name.split()[0].lower()}@example.org") for name in NAMES}
    shared = owned_horse((people[ANN], "1/2"), (people[BEN], "3/10"), (people[CY], "1/5"), name="Ember Day", barn=barn)
    trained = owned_horse(people[OWNER], name="Bramble", barn=barn)
    Role.objects.create(animal=trained, person=people[TRAINER], kind=Role.Kind.PAYER, since=date(2026, 1, 1))
    PayerCap.objects.create(person=people[TRAINER], amount=Decimal("300.00"), since=date(2020, 1, 1))
    packaged = owned_horse(people[PACKAGE], name="Quill", barn=barn)
    own = owned_horse(people[CASH], name="Sorrel", barn=barn)
    for place, horse in enumerate((shared, trained, packaged, own)):
        visit = finished_visit(horse, service, barn=barn, day=work_day, starts=time(9 + place))
    taken_at = timezone.make_aware(datetime.combine(work_day, time(13)))
    event = BarnEventFactory(person=practice, phone=PhoneFactory(person=practice), visit=visit)
    HandMoneyFactory(event=event, person=people[CASH], amount=Decimal("125.00"), slip="P1-0001", taken_at=taken_at)
    return people


ANN, BEN, CY = "Ann Holloway", "Ben Marsh", "Cyrus Vane"
TRAINER, OWNER, PACKAGE, CASH = "Tamsin Rook", "Owen Pell", "Pia Lindqvist", "Carl Oster"
NAMES = (ANN, BEN, CY, TRAINER, OWNER, PACKAGE, CASH)


def signed_in(walk: Walk) -> Walk:
    walk.open("/")
    walk.write(username="holt", password=PASSWORD)
    walk.press("Sign in")
    return walk


def invoice_of(name: str) -> Invoice:
    return invoices_shown(timezone.localdate()).get(payer__name=name, number__isnull=False)


def test_a_barn_day_becomes_paid_invoices_and_its_month_is_closed(
    practice: User, barn_day: dict[str, Person], work_day: date, new_walk: Callable[[], Walk], tmp_path
) -> None:
    walk = signed_in(new_walk())
    charge_the_day(walk, work_day)
    issue_all(walk)
    book_the_cash(walk)
    take_the_bank_file_in(walk, tmp_path)
    bank_the_check(walk)
    take_the_wrong_charge_back(walk, barn_day, work_day, practice)
    look_at_the_books(walk)
    close_the_month(walk, work_day)
    owner = new_walk()
    look_as_an_owner(walk, owner)
    assert [*walk.faults, *owner.faults] == []
    faults = [f"{check.name}: {fault}" for check in [*FOUNDATION, *money_checks()] for fault in check.faults()]
    assert faults == []


def charge_the_day(walk: Walk, work_day: date) -> None:
    walk.open(f"/money/uncharged/?day={work_day.isoformat()}")
    walk.says("Ann Holloway 50 %, Ben Marsh 30 %, Cyrus Vane 20 %", TRAINER)
    walk.look("60-barn-day")
    walk.press("Confirm all of")
    walk.press("Make a draft for each payer")
    walk.says(ANN, BEN, CY, TRAINER, PACKAGE, CASH)


def issue_all(walk: Walk) -> None:
    walk.open("/money/invoices/")
    walk.look("61-invoices")
    walk.press("Issue all 6")
    walk.says("6 of 6 issued")
    walk.look("62-issued-together")
    totals = {name: invoice_of(name).total for name in (ANN, BEN, CY)}
    assert totals[ANN] * 3 == totals[BEN] * 5
    assert totals[BEN] * 2 == totals[CY] * 3
    assert sum(totals.values()) == invoice_of(CASH).total


def book_the_cash(walk: Walk) -> None:
    """What was taken in the barn, its slip named on the receipt."""
    walk.open("/")
    walk.says("Money taken in the barn")
    walk.press(CASH)
    assert walk.page.locator("[name=reference]").input_value() == "slip P1-0001"
    walk.look("63-cash-of-the-barn")
    walk.press("Take the payment")
    walk.says("$125.00")
    assert invoice_of(CASH).shown == "paid"


def take_the_bank_file_in(walk: Walk, tmp_path) -> None:
    """One line names an invoice and pays it exactly, one is known by the name, one is nobody's."""
    ann, ben = invoice_of(ANN), invoice_of(BEN)
    today = timezone.localdate()
    rows = [
        f"{today:%m/%d/%Y},A HOLLOWAY,Invoice {ann.name},{ann.total:.2f}",
        f"{today:%m/%d/%Y},BEN MARSH,thank you,{ben.total:.2f}",
        f"{today:%m/%d/%Y},FEED STORE,refund,12.40",
        f"{today:%m/%d/%Y},FUEL,card,-61.00",
    ]
    file = tmp_path / "bank.csv"
    file.write_text("\n".join(["Date,Name,Details,Amount", *rows]) + "\n")
    walk.open("/money/")
    walk.look("64-money")
    walk.press("Bank file")
    walk.page.locator("main input[type=file]").set_input_files(file)
    walk.press("Take the file in")
    walk.says("Which column is what?", "FEED STORE")
    walk.look("65-bank-columns")
    walk.press("Take it in")
    walk.says("4 lines taken in", "3 lines to look at", "names an invoice and pays exactly what is open")
    walk.look("66-bank-lines")
    walk.press("Book it")
    assert invoice_of(ANN).shown == "paid"
    walk.press(f"Book for {ben.name}")
    assert invoice_of(BEN).shown == "paid"
    walk.press("Say what it is")
    walk.look("67-bank-line")
    walk.write(reason="A refund from the feed store")
    walk.press("Put aside")
    walk.says("Every line is dealt with")
    walk.look("68-bank-done")
    walk.page.locator("main input[type=file]").set_input_files(file)
    walk.page.get_by_role("button", name="Take the file in").click()
    walk.page.get_by_text("Nothing is added.").first.wait_for()
    walk.faults = [fault for fault in walk.faults if "422" not in fault]  # the refusal itself


def bank_the_check(walk: Walk) -> None:
    trainer = invoice_of(TRAINER)
    walk.open(f"/money/payers/{trainer.payer_id}/")
    walk.look("69-account")
    walk.press("Take a payment")
    walk.write(method="Check", reference="4711", amount=f"{trainer.total + 5:.2f}", tip="5.00")
    walk.press("Take the payment")
    walk.says("Tip", "$5.00")
    walk.look("70-payment-by-check")
    walk.open("/money/to-the-bank/")
    walk.says(TRAINER)
    walk.look("71-to-the-bank")
    walk.press("Make the slip")
    with walk.paper():
        walk.click("Slip 1")


def take_the_wrong_charge_back(walk: Walk, people: dict[str, Person], work_day: date, by: User) -> None:
    """The package was bought before the work and written down too late: the session was charged at its price."""
    at = timezone.now()
    service = Service.objects.get(kind="full")
    sold_package(
        people[PACKAGE], service, by, on=work_day, at=at, days=None, animals=[people[PACKAGE].ownerships.get().animal]
    )
    confirm_charges(day=work_day, at=at, by=by)
    (sale,) = draft_invoices(at=at, by=by)
    issue_invoice(invoice=sale, on=timezone.localdate(), at=at, by=by)
    wrong = Invoice.objects.filter(payer=people[PACKAGE]).order_by("number").first()
    line = wrong.lines.get(charge_share__charge__kind="session")
    walk.open(f"/money/invoices/{wrong.pk}/")
    walk.press("Take back, by a credit note")
    walk.write(
        **{f"amount_{line.pk}": f"{line.amount:.2f}", f"anew_{line.pk}": True, "reason": "A package pays for it."}
    )
    walk.look("72-credit-form")
    walk.press("Issue the credit note")
    walk.says("Credited", "A package pays for it.")
    walk.look("73-credited")
    walk.open(f"/money/uncharged/?day={work_day.isoformat()}")
    walk.says("1 of 10 of Ten full bodies")
    walk.look("74-charged-anew")
    walk.press("Confirm all of")
    assert Use.objects.filter(session=line.charge_share.charge.session, undone_at=None).count() == 1


def look_at_the_books(walk: Walk) -> None:
    walk.open("/money/expenses/new/")
    walk.write(what="Disinfectant", amount="18.90", category="Supplies and disinfectant")
    walk.look("75-expense")
    walk.press("Write it down")
    walk.look("76-expenses")
    walk.open("/money/tax/")
    walk.look("77-tax-period")
    walk.open("/money/year/")
    walk.says("Sessions", "Tips", "Supplies and disinfectant")
    walk.look("78-income-and-costs")
    walk.open("/money/reminders/")
    walk.look("79-reminders-at-first")
    walk.press("The letters", within="main")
    walk.press("Begin with three letters")
    walk.look("80-letters")
    Invoice.objects.filter(payer__name=CY).update(due_on=timezone.localdate() - timedelta(days=9))
    walk.open("/money/reminders/")
    walk.press("Draft it")
    walk.look("81-reminders")
    walk.press("I sent it myself")
    walk.says("by hand")
    late = invoice_of(CY)
    walk.open(f"/money/invoices/{late.pk}/write-off/")
    walk.look("82-write-off")
    walk.open(f"/money/payers/{late.payer_id}/statement/")
    walk.look("83-statement")
    walk.open("/money/card-payout/")
    walk.look("84-card-payout")


def close_the_month(walk: Walk, work_day: date) -> None:
    walk.open("/money/month-end/")
    walk.says(f"{work_day:%B %Y}", "all finished work is charged")
    walk.look("85-month-end")
    walk.press(f"Close {work_day:%B %Y}")
    walk.says("closed", "Nothing is booked in")
    assert ClosedMonth.objects.get().first_day == work_day.replace(day=1)
    walk.look("86-month-closed")


def look_as_an_owner(walk: Walk, owner: Walk) -> None:
    """On the private page, without an account: what is open, what is left of the package, a question."""
    late = invoice_of(CY)
    walk.open(f"/money/payers/{late.payer_id}/page/")
    walk.press("Make the page")
    walk.look("87-private-page-made")
    owner.open(walk.page.locator(".notice a").get_attribute("href"))
    owner.says(f"${late.open:.2f} to pay", late.name)
    owner.look("88-owner-money")
    owner.write(text="Was that for two horses?")
    owner.press("Ask")
    owner.says("Your question is on its way")
    owner.look("89-owner-asked")
    walk.open("/money/reminders/")
    walk.press(CY)
    walk.says("Was that for two horses?")
    walk.write(answer="For one; the sheet is on its way.")
    walk.look("90-answer")
    walk.press("Send the answer")
