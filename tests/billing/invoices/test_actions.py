import hashlib
import re
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest

from backoffice.audit.models import Entry
from backoffice.audit.queries import breaks_in_chain
from backoffice.documents.models import Document
from backoffice.documents.queries import bytes_of
from backoffice.refusal import Refused
from billing.invoices import actions
from billing.invoices.actions import (
    Change,
    confirm_charges,
    discard_invoice,
    draft_invoices,
    issue_invoice,
    waive_charge,
)
from billing.invoices.models import Charge, ChargeShare, Invoice
from billing.invoices.queries import proposals_for, shares_to_invoice, uncharged_sessions
from billing.journal.models import Account, Posting, Transaction
from billing.numbers.models import NumberSeries
from billing.prices.models import CallOutRule
from clients.animals.models import Ownership, Role
from clients.visits.models import Visit
from tests.factories.billing import (
    AT,
    DAY,
    CallOutRuleFactory,
    TaxRateFactory,
    confirmed_work,
    draft_for,
    finished_visit,
    issued_invoice,
    owned_horse,
    priced_service,
    stop_of,
    visit_row,
)
from tests.factories.clients import PersonFactory, RoleFactory, ServiceFactory

pytestmark = pytest.mark.django_db


def shares() -> list[tuple[str, Decimal]]:
    return [(share.payer.name, share.amount) for share in ChargeShare.objects.select_related("payer")]


def balances() -> dict[str, Decimal]:
    found: dict[str, Decimal] = {}
    for posting in Posting.objects.all():
        found[posting.account] = found.get(posting.account, Decimal(0)) + posting.amount
    return found


class TestConfirming:
    def test_writes_each_charge_with_its_reason_and_one_audit_entry(self, business, owner_manager):
        CallOutRuleFactory()
        stop_of(owned_horse(PersonFactory()), owned_horse(PersonFactory()))
        charges = confirm_charges(day=DAY, at=AT, by=owner_manager)
        assert [charge.amount for charge in charges] == [Decimal(n) for n in ("95.00", "15.00", "95.00", "15.00")]
        assert charges[3].reason == "second horse at the stop: $30.00 / 2"
        assert Entry.objects.filter(action="charge confirmed").count() == 4
        assert proposals_for(DAY) == []
        assert not uncharged_sessions().exists()

    def test_co_owners_at_50_30_20_share_an_odd_cent_exactly(self, business, owner_manager):
        owners = [PersonFactory(name=name) for name in ("Delphine", "Corin", "Tomas")]
        horse = owned_horse((owners[0], "1/2"), (owners[1], "3/10"), (owners[2], "1/5"))
        finished_visit(horse, priced_service("95.01"))
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        assert shares() == [
            ("Delphine", Decimal("47.51")),
            ("Corin", Decimal("28.50")),
            ("Tomas", Decimal("19.00")),
        ]
        assert sum(amount for _, amount in shares()) == Decimal("95.01")

    def test_payers_are_those_of_the_day_of_work_not_of_today(self, business, owner_manager):
        seller, buyer = PersonFactory(name="Seller"), PersonFactory(name="Buyer")
        horse = owned_horse(seller)
        Ownership.objects.update(until=DAY)
        Ownership.objects.create(animal=horse, person=buyer, since=DAY + timedelta(days=1))
        finished_visit(horse, priced_service())
        confirm_charges(day=DAY, at=AT + timedelta(days=9), by=owner_manager)
        assert [name for name, _ in shares()] == ["Seller"]

    def test_a_trainer_who_pays_keeps_the_owner_on_the_share(self, business, owner_manager):
        owner, trainer = PersonFactory(), PersonFactory()
        horse = owned_horse(owner)
        RoleFactory(animal=horse, person=trainer, kind=Role.Kind.PAYER)
        finished_visit(horse, priced_service())
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        share = ChargeShare.objects.get()
        assert (share.payer, share.owner) == (trainer, owner)

    def test_a_changed_amount_keeps_its_reason(self, business, owner_manager):
        finished_visit(owned_horse(PersonFactory()), priced_service())
        (proposal,) = proposals_for(DAY)
        changes = {proposal.key: Change(Decimal("50.00"), "Half the time only")}
        (charge,) = confirm_charges(day=DAY, at=AT, by=owner_manager, changes=changes)
        assert (charge.amount, charge.changed_reason) == (Decimal("50.00"), "Half the time only")

    @pytest.mark.parametrize(
        ("amount", "reason", "sentence"),
        [
            ("50.00", " ", "A changed amount needs a reason."),
            ("-0.01", "why", "A charge is from 0 to $1,000,000.00."),
            ("10000000", "why", "A charge is from 0 to $1,000,000.00."),
            ("10.005", "why", "An amount of USD has 2 decimals."),
        ],
    )
    def test_an_odd_change_is_refused(self, business, owner_manager, amount, reason, sentence):
        finished_visit(owned_horse(PersonFactory()), priced_service())
        (proposal,) = proposals_for(DAY)
        with pytest.raises(Refused, match=re.escape(sentence)):
            confirm_charges(day=DAY, at=AT, by=owner_manager, changes={proposal.key: Change(Decimal(amount), reason)})
        assert not Charge.objects.exists()

    def test_a_day_without_work_is_refused(self, business, owner_manager):
        with pytest.raises(Refused, match="Nothing of 2 Mar 2026 is left to charge."):
            confirm_charges(day=DAY, at=AT, by=owner_manager)

    def test_confirming_twice_is_refused(self, business, owner_manager):
        confirmed_work(PersonFactory(), owner_manager)
        with pytest.raises(Refused, match="Nothing"):
            confirm_charges(day=DAY, at=AT, by=owner_manager)

    def test_what_misses_a_price_waits_and_the_rest_is_charged(self, business, owner_manager):
        horse = owned_horse(PersonFactory())
        finished_visit(horse, ServiceFactory(name="Massage"))
        finished_visit(horse, priced_service(), part=2)
        assert len(confirm_charges(day=DAY, at=AT, by=owner_manager)) == 1
        (waiting,) = proposals_for(DAY)
        with pytest.raises(Refused, match="No price of Massage"):
            confirm_charges(day=DAY, at=AT, by=owner_manager)
        confirm_charges(
            day=DAY, at=AT, by=owner_manager, changes={waiting.key: Change(Decimal("70"), "agreed at the barn")}
        )
        assert proposals_for(DAY) == []

    def test_a_horse_without_an_owner_is_not_charged_to_nobody(self, business, owner_manager):
        finished_visit(owned_horse(), priced_service())
        with pytest.raises(Refused, match="has no owner"):
            confirm_charges(day=DAY, at=AT, by=owner_manager)

    def test_a_late_entry_never_makes_more_than_one_call_out(self, business, owner_manager):
        CallOutRuleFactory()
        (first,) = stop_of(owned_horse(PersonFactory()))
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        finished_visit(owned_horse(PersonFactory()), first.service, barn=first.barn)
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        late = Charge.objects.filter(kind="call_out").latest("pk")
        assert late.amount == 0
        assert late.reason == "second horse at the stop: $30.00 / 2; $30.00 is charged already"

    def test_a_fee_of_nothing_is_settled_and_never_billed(self, business, owner_manager):
        visit_row(owned_horse(PersonFactory()), priced_service(), status="could_not_work", cause=Visit.Cause.WEATHER)
        (charge,) = confirm_charges(day=DAY, at=AT, by=owner_manager)
        assert charge.amount == 0
        assert not shares_to_invoice().exists()


class TestWaiving:
    def test_keeps_the_amount_and_the_reason_and_asks_nobody_for_it(self, business, owner_manager):
        finished_visit(owned_horse(PersonFactory()), priced_service())
        (proposal,) = proposals_for(DAY)
        charge = waive_charge(day=DAY, key=proposal.key, reason="A gift", at=AT, by=owner_manager)
        assert (charge.state, charge.amount, charge.waived_reason) == ("waived", Decimal("95.00"), "A gift")
        assert not shares_to_invoice().exists()
        assert not uncharged_sessions().exists()

    def test_needs_a_reason(self, business, owner_manager):
        finished_visit(owned_horse(PersonFactory()), priced_service())
        (proposal,) = proposals_for(DAY)
        with pytest.raises(Refused, match="Waiving needs a reason."):
            waive_charge(day=DAY, key=proposal.key, reason="  ", at=AT, by=owner_manager)

    def test_what_is_charged_already_is_refused(self, business, owner_manager):
        (charge,) = confirmed_work(PersonFactory(), owner_manager)
        with pytest.raises(Refused, match="charged or waived already"):
            waive_charge(day=DAY, key=f"session-{charge.session_id}", reason="Late", at=AT, by=owner_manager)


class TestDrafting:
    def test_makes_one_draft_a_payer(self, business, owner_manager):
        one, two = PersonFactory(), PersonFactory()
        finished_visit(owned_horse((one, "1/2"), (two, "1/2")), priced_service("95.01"))
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        drafts = draft_invoices(at=AT, by=owner_manager)
        assert {draft.payer: draft.total for draft in drafts} == {one: Decimal("47.51"), two: Decimal("47.50")}
        assert [draft.number for draft in drafts] == [None, None]

    def test_an_open_draft_takes_the_new_lines(self, business, owner_manager):
        payer = PersonFactory()
        first = draft_for(payer, owner_manager)
        second = draft_for(payer, owner_manager, "45.00")
        assert first == second
        assert second.total == Decimal("140.00")
        assert [line.position for line in second.lines.all()] == [1, 2]

    def test_nothing_to_draft_is_refused(self, business, owner_manager):
        with pytest.raises(Refused, match="Nothing confirmed waits"):
            draft_invoices(at=AT, by=owner_manager)

    def test_a_discarded_draft_uses_no_number_and_its_lines_wait_again(self, business, owner_manager):
        draft = draft_for(PersonFactory(), owner_manager)
        discard_invoice(invoice=draft, at=AT, by=owner_manager)
        assert not Invoice.objects.exists()
        assert shares_to_invoice().count() == 1
        assert not NumberSeries.objects.filter(name="invoice").exists()

    def test_an_issued_invoice_is_not_discarded(self, business, owner_manager):
        with pytest.raises(Refused, match="an issued invoice stands"):
            discard_invoice(invoice=issued_invoice(PersonFactory(), owner_manager), at=AT, by=owner_manager)


class TestIssuing:
    def test_takes_number_paper_postings_and_audit_entry_together(self, business, owner_manager):
        payer = PersonFactory(address="22 Creek Lane")
        invoice = issued_invoice(payer, owner_manager)
        document = Document.objects.get()
        assert (invoice.name, invoice.state) == ("2026-0001", "issued")
        assert invoice.due_on == DAY + timedelta(days=14)
        assert document.sha256 == hashlib.sha256(bytes_of(document)).hexdigest()
        assert balances() == {Account.RECEIVABLE: Decimal("95"), Account.INCOME_SESSIONS: Decimal("-95")}
        assert Posting.objects.get(account=Account.RECEIVABLE).payer == payer
        entry = Entry.objects.get(action="invoice issued")
        assert entry.changes["total"] == "95.00"
        assert not list(breaks_in_chain())

    def test_freezes_names_addresses_lines_shares_and_how_to_pay(self, business, owner_manager):
        business.how_to_pay = "Check or cash at the barn."
        business.save()
        payer = PersonFactory(name="Corin Vale-Ashby", address="22 Creek Lane")
        horse = owned_horse((PersonFactory(), "7/10"), (payer, "3/10"), name="Merrow")
        finished_visit(horse, priced_service("95.00", name="Full body"))
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        (draft,) = draft_invoices(at=AT, by=owner_manager, payer=payer)
        invoice = issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)
        payer.name, payer.address = "Somebody Else", "Elsewhere"
        payer.save()
        invoice.refresh_from_db()
        frozen = invoice.frozen
        assert frozen["payer"] == {"name": "Corin Vale-Ashby", "address": "22 Creek Lane", "country": "US"}
        assert frozen["how_to_pay"] == "Check or cash at the barn."
        (line,) = frozen["lines"]
        assert (line["text"], line["whole"], line["share"], line["amount"]) == (
            "Full body, Merrow",
            "95.00",
            "30 %",
            "28.50",
        )

    def test_tax_of_the_recorded_rate_is_added_and_owed(self, business, owner_manager):
        TaxRateFactory(percent=Decimal("7.25"))
        invoice = issued_invoice(PersonFactory(), owner_manager, "95.00")
        assert (invoice.net, invoice.tax, invoice.total) == (Decimal("95.00"), Decimal("6.89"), Decimal("101.89"))
        assert balances()[Account.TAX_PAYABLE] == Decimal("-6.89")
        assert sum(balances().values()) == 0

    def test_tax_that_is_included_leaves_the_price_as_promised(self, business, owner_manager):
        TaxRateFactory(percent=Decimal("20"), is_included=True)
        invoice = issued_invoice(PersonFactory(), owner_manager, "95.00")
        assert (invoice.net, invoice.tax, invoice.total) == (Decimal("79.17"), Decimal("15.83"), Decimal("95.00"))
        assert invoice.lines.get().net == Decimal("79.17")
        assert sum(balances().values()) == 0

    def test_each_line_is_taxed_by_the_rate_of_its_day_of_work(self, business, owner_manager):
        TaxRateFactory(percent=Decimal("5"))
        TaxRateFactory(percent=Decimal("10"), since=DAY)
        payer = PersonFactory()
        confirmed_work(payer, owner_manager, "100.00", day=DAY - timedelta(days=1))
        draft = draft_for(payer, owner_manager, "100.00")
        assert draft.tax == Decimal("15.00")

    def test_without_a_rate_there_is_no_tax(self, business, owner_manager):
        assert issued_invoice(PersonFactory(), owner_manager).tax == 0

    def test_income_is_posted_by_kind(self, business, owner_manager):
        CallOutRuleFactory(split=CallOutRule.Split.NONE)
        stop_of(owned_horse(PersonFactory()))
        confirm_charges(day=DAY, at=AT, by=owner_manager)
        (draft,) = draft_invoices(at=AT, by=owner_manager)
        issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)
        assert balances() == {
            Account.RECEIVABLE: Decimal("125"),
            Account.INCOME_SESSIONS: Decimal("-95"),
            Account.INCOME_CALL_OUTS: Decimal("-30"),
        }

    def test_issuing_twice_is_refused(self, business, owner_manager):
        invoice = issued_invoice(PersonFactory(), owner_manager)
        with pytest.raises(Refused, match="Only a draft can be issued."):
            issue_invoice(invoice=invoice, on=DAY, at=AT, by=owner_manager)

    @pytest.mark.parametrize(
        ("on", "sentence"),
        [
            (date(2026, 3, 1), "has work of 2 Mar 2026"),
            (date(2026, 3, 3), "not dated ahead of today"),
            (date(1926, 3, 2), "has work of 2 Mar 2026"),
        ],
    )
    def test_an_odd_date_is_refused(self, business, owner_manager, on, sentence):
        draft = draft_for(PersonFactory(), owner_manager)
        with pytest.raises(Refused, match=sentence):
            issue_invoice(invoice=draft, on=on, at=AT, by=owner_manager)

    def test_numbers_and_dates_run_the_same_way(self, business, owner_manager):
        later = datetime(2026, 3, 9, 20, tzinfo=UTC)
        issued_invoice(PersonFactory(), owner_manager, on=date(2026, 3, 9), at=later)
        draft = draft_for(PersonFactory(), owner_manager)
        with pytest.raises(Refused, match="numbers and dates run the same way"):
            issue_invoice(invoice=draft, on=DAY, at=later, by=owner_manager)

    def test_a_draft_without_lines_is_refused(self, business, owner_manager):
        empty = Invoice.objects.create(payer=PersonFactory(), made_at=AT, currency="USD")
        with pytest.raises(Refused, match="without lines"):
            issue_invoice(invoice=empty, on=DAY, at=AT, by=owner_manager)

    def test_a_failing_render_leaves_nothing_half_done(self, business, owner_manager, monkeypatch):
        draft = draft_for(PersonFactory(), owner_manager)

        def fail(*args: object, **more: object) -> bytes:
            raise RuntimeError("no paper")

        with monkeypatch.context() as patch:
            patch.setattr(actions, "printed", fail)
            with pytest.raises(RuntimeError):
                issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager)
        draft.refresh_from_db()
        assert (draft.state, draft.number) == ("draft", None)
        assert not Transaction.objects.exists()
        assert issue_invoice(invoice=draft, on=DAY, at=AT, by=owner_manager).number == 1
