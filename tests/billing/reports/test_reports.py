"""Reports on worked days that are reckoned by hand, by role, and in a constant number of queries."""

import csv
import io
from datetime import date, time, timedelta
from decimal import Decimal
from fractions import Fraction

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from billing.invoices.actions import confirm_charges
from billing.invoices.models import Charge
from billing.packages.sold import Use
from billing.prices.rules import CostRates
from billing.reports import care, earned, money
from billing.reports.index import REPORTS
from billing.reports.report import Column, Kind, Report, Row, summed
from billing.reports.work import work_between
from clients.visits.models import Visit
from tests.factories.billing import (
    AT,
    DAY,
    TaxRateFactory,
    confirmed_work,
    finished_visit,
    issued_invoice,
    owned_horse,
    priced_service,
)
from tests.factories.clients import BarnFactory, PersonFactory
from tests.factories.packages import sold_package
from tests.factories.plans import PlanFactory, PlanPhaseFactory
from tests.factories.visits import VisitFactory

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("private_folder")]
SPAN = (DAY, DAY + timedelta(days=6))


@pytest.fixture(autouse=True)
def _at_noon(business, time_machine):
    business.setup_minutes = 10
    business.save()
    time_machine.move_to(AT, tick=False)


@pytest.fixture
def payer():
    return PersonFactory(name="Desmond Quarrie")


def confirm_all(by, day=DAY):
    return confirm_charges(day=day, at=AT, by=by)


def find(report: Report, label: str) -> tuple:
    (row,) = [row for row in report.rows if row.cells[0] == label]
    return row.cells


class TestWork:
    def test_the_day_s_driving_falls_on_the_stops_that_cause_it(self, payer, owner_manager):
        """A near barn and one due north of it, twice as far: the drive home from the far one serves both."""
        near, far = BarnFactory(name="Near", lat=39.45, lon=-104.6), BarnFactory(name="Far", lat=39.55, lon=-104.6)
        service = priced_service(minutes=60)
        first = finished_visit(owned_horse(payer), service, barn=near)
        finished_visit(owned_horse(payer), service, barn=far, starts=time(11))
        alone = work_between(*SPAN)
        driving = {row.visit.barn.name: row.hours.driving for row in alone.rows}
        assert driving["Far"] / driving["Near"] == pytest.approx(2, rel=0.01)
        whole = sum(driving.values())
        Visit.objects.filter(pk=first.pk).update(status="cancelled")
        (only,) = work_between(*SPAN).rows
        assert float(only.hours.driving) == pytest.approx(float(whole), rel=0.01)

    def test_two_horses_of_a_stop_share_its_drive_and_set_up(self, payer, owner_manager):
        barn = BarnFactory(lat=39.45, lon=-104.6)
        long, short = priced_service(minutes=60), priced_service(minutes=20)
        finished_visit(owned_horse(payer), long, barn=barn)
        finished_visit(owned_horse(payer), short, barn=barn, starts=time(10))
        one, two = work_between(*SPAN).rows
        assert one.hours.driving == 3 * two.hours.driving
        assert (one.hours.set_up, two.hours.set_up) == (5, 5)

    def test_a_barn_that_is_not_on_the_map_is_told(self, payer):
        finished_visit(owned_horse(payer), priced_service(), barn=BarnFactory(lat=None, lon=None))
        work = work_between(*SPAN)
        assert work.unplaced == 1
        report = earned.earned(work, "barn", *SPAN, "USD")
        assert any("not on the map" in note for note in report.notes)

    def test_tax_that_prices_hold_is_not_earned(self, payer, owner_manager):
        TaxRateFactory(percent=Decimal(20), is_included=True)
        confirmed_work(payer, owner_manager, "120.00")
        (row,) = work_between(*SPAN).rows
        assert row.money == 100

    def test_a_session_of_a_package_brings_its_part_of_what_was_paid(self, payer, owner_manager):
        service = priced_service()
        sold = sold_package(payer, service, owner_manager, count=10, price="800.00")
        sold.refresh_from_db()
        visit = finished_visit(owned_horse(payer), service)
        session = visit.sessions.get()
        Use.objects.create(
            session=session, sold=sold, reason="1 of 10", used_on=DAY, confirmed_at=AT, confirmed_by=owner_manager
        )
        (row,) = work_between(*SPAN).rows
        assert row.parts == {payer: Fraction(sold.net) / 10}


class TestEarned:
    def test_an_hour_by_hand(self, payer, owner_manager):
        CostRates.objects.create(
            since=DAY, vehicle_per_mile=Decimal("0.50"), admin_minutes_per_visit=5, hourly_target=Decimal(60)
        )
        confirmed_work(payer, owner_manager, "95.00")
        work = work_between(*SPAN)
        (row,) = work.rows
        report = earned.earned(work, "payer", *SPAN, "USD")
        cells = find(report, "Desmond Quarrie")
        hours = row.hours.minutes / 60
        assert (cells[1], cells[6], report.target) == (1, Decimal("95.00"), 60)
        assert cells[8] == round(Decimal(float((95 - row.vehicle) / hours)), 2)
        assert row.hours.admin == 5

    @pytest.mark.parametrize("way", sorted(earned.WAYS))
    def test_whatever_it_is_grouped_by_the_whole_is_the_same(self, way, payer, owner_manager):
        for place in range(4):
            finished_visit(owned_horse(payer), priced_service("50.00"), day=DAY + timedelta(days=place // 2))
        confirm_all(owner_manager)
        work = work_between(*SPAN)
        report = earned.earned(work, way, *SPAN, "USD")
        assert sum(row.cells[6] for row in report.rows) == 100
        assert sum(row.cells[2] for row in report.rows) == sum(row.hours.hands_on for row in work.rows)

    def test_each_row_leads_to_its_visits_and_they_to_the_visit(self, as_owner_manager, payer, owner_manager):
        visit = finished_visit(owned_horse(payer), priced_service())
        finished_visit(owned_horse(payer), priced_service(), day=DAY + timedelta(days=1))
        confirm_all(owner_manager)
        page = as_owner_manager.get(
            reverse("billing:report", args=["earned"]), {"since": SPAN[0], "until": SPAN[1], "by": "weekday"}
        )
        (row, *_) = page.context["report"].rows
        made_of = as_owner_manager.get(row.href)
        assert [each.href for each in made_of.context["report"].rows] == [visit.get_absolute_url()]
        assert f"Earned an hour: {DAY:%A}" in made_of.content.decode()


class TestCadence:
    def test_kept_against_planned(self):
        plan = PlanFactory(state="running", days=28, start=DAY - timedelta(days=28))
        PlanPhaseFactory(plan=plan, position=1, days=28, full_every=7, spots_per_day=0)
        for days in (0, 8, 14):  # of 0, 7, 14 and 21
            day = plan.start + timedelta(days=days)
            VisitFactory(
                animal=plan.animal,
                plan=plan,
                service=plan.full_service,
                completed=True,
                day=day,
                planned_day=day - timedelta(days=days == 8),
            )
        (row,) = care.cadence(plan.start, plan.last_day).rows
        tolerance = plan.guideline_version.tolerance_days if plan.guideline_version else 1
        assert tolerance >= 1
        assert row.cells[2:] == ("3 of 4", "none planned", Fraction(75), 7, 14, 1)

    def test_a_plan_of_another_time_is_left_out(self):
        PlanPhaseFactory(plan=PlanFactory(state="running", days=28, start=DAY), position=1, days=28, full_every=7)
        assert care.cadence(DAY - timedelta(days=60), DAY - timedelta(days=30)).rows == ()


class TestMoney:
    def test_unpaid_by_how_long_it_is_late(self, payer, owner_manager):
        invoice = issued_invoice(payer, owner_manager, "95.00")
        for days, place in ((0, 1), (1, 2), (30, 2), (31, 3), (61, 4), (90, 4), (91, 5)):
            report = money.unpaid(invoice.due_on + timedelta(days=days))
            cells = find(report, "Desmond Quarrie")
            assert cells[place] == 95, days
            assert cells[-1] == 95

    def test_income_by_month_is_what_the_papers_say(self, payer, owner_manager):
        issued_invoice(payer, owner_manager, "95.00")
        report = money.income(date(2026, 1, 1), date(2026, 12, 31))
        assert find(report, f"{DAY:%B %Y}")[1:] == (Decimal(95), 0, 0, 0)
        assert len(report.rows) == 12
        assert report.sums[1] == 95

    def test_waived_with_why_and_by_whom(self, payer, owner_manager):
        (charge,) = confirmed_work(payer, owner_manager)
        Charge.objects.update(state=Charge.State.WAIVED, waived_reason="A gift")
        (row,) = money.waived(*SPAN).rows
        assert (row.cells[3], row.cells[4], row.cells[5]) == ("A gift", str(owner_manager), 95)
        assert row.href == charge.session.visit.get_absolute_url()

    def test_what_is_owed_in_work_is_the_liability_of_the_books(self, payer, owner_manager):
        sold = sold_package(payer, priced_service(), owner_manager)
        type(sold).objects.update(net=Decimal(800), earned=Decimal(80))
        (row,) = money.prepaid().rows
        assert row.cells[-3:] == (800, 80, 720)


class TestReport:
    columns = (Column("What"), Column("How many", Kind.COUNT, is_drawn=True, is_summed=True), Column("Note"))

    def test_the_drawn_column_is_what_a_picture_shows(self):
        rows = (Row(("a", 10, "")), Row(("b", None, "")))
        assert Report(self.columns, rows).figures == [("a", 10), ("b", None)]
        assert Report((Column("What"),), (Row(("a",)),)).figures == []

    def test_only_summed_columns_are_summed(self):
        rows = [Row(("a", 1, "x")), Row(("b", None, "y"))]
        assert summed(self.columns, rows) == ("In all", 1, None)
        assert summed(self.columns, rows[:1]) == ()


class TestPages:
    @pytest.mark.parametrize("name", sorted(REPORTS))
    def test_page_csv_and_xlsx_say_the_same(self, name, as_owner_manager, payer, owner_manager):
        issued_invoice(payer, owner_manager)
        plan = PlanFactory(state="running", days=28, start=DAY - timedelta(days=7))
        PlanPhaseFactory(plan=plan, position=1, days=28, full_every=7)
        address = reverse("billing:report", args=[name])
        asked = {"since": "2026-01-01", "until": "2026-12-31"}
        page = as_owner_manager.get(address, asked)
        assert page.status_code == 200
        wanted = [column.label for column in page.context["report"].columns]
        rows = list(
            csv.reader(io.StringIO(as_owner_manager.get(address, {**asked, "_export": "csv"}).content.decode()))
        )
        assert [cell.partition(",")[0] for cell in rows[0]] == wanted
        report = page.context["report"]
        assert len(rows) == 1 + len(report.rows) + bool(report.sums)
        book = load_workbook(io.BytesIO(as_owner_manager.get(address, {**asked, "_export": "xlsx"}).content))
        assert book.active.max_row == len(rows)

    def test_each_role_reads_what_it_may(self, as_owner_manager, as_assistant, as_bookkeeper, client):
        people = (as_owner_manager, as_bookkeeper, as_assistant, client)
        answers = {
            name: [each.get(reverse("billing:report", args=[name])).status_code for each in people] for name in REPORTS
        }
        for name in ("earned", "hours"):
            assert answers.pop(name) == [200, 403, 403, 302]
        assert answers.pop("cadence") == [200, 200, 200, 302]
        assert set(map(tuple, answers.values())) == {(200, 200, 403, 302)}
        assert "An hour" not in as_bookkeeper.get(reverse("billing:report", args=["week"])).content.decode()
        listed = as_assistant.get(reverse("billing:reports")).content.decode()
        assert "Cadence kept" in listed
        assert "Unpaid" not in listed

    def test_a_bad_time_gets_a_sentence(self, as_owner_manager):
        address = reverse("billing:report", args=["income"])
        for asked, sentence in (
            ({"since": "2026-02-01", "until": "2026-01-01"}, "ends before it begins"),
            ({"since": "2001-01-01", "until": "2026-01-01"}, "At most three years"),
        ):
            page = as_owner_manager.get(address, asked)
            assert page.status_code == 200
            assert sentence in page.content.decode()
        assert as_owner_manager.get(address, {"since": "soon"}).context["form"].errors["since"]
        assert as_owner_manager.get(reverse("billing:report", args=["nothing"])).status_code == 404

    @pytest.mark.parametrize("name", sorted(REPORTS))
    def test_the_queries_do_not_grow(self, name, as_owner_manager, payer, owner_manager):
        def counted() -> int:
            with CaptureQueriesContext(
                connection,
            ) as queries:
                as_owner_manager.get(
                    reverse("billing:report", args=[name]), {"since": "2026-01-01", "until": "2026-12-31"}
                )
            return len(queries)

        def more(number: int) -> None:
            for _ in range(number):
                plan = PlanFactory(state="running", days=28, start=DAY - timedelta(days=7))
                PlanPhaseFactory(plan=plan, position=1, days=28, full_every=7)
                finished_visit(owned_horse(payer), priced_service(), barn=BarnFactory(lat=39.5, lon=-104.7))
            confirm_all(owner_manager)

        more(2)
        before = counted()
        more(5)
        assert counted() == before
