"""Long work beside the request: in a thread, at once, or by a worker."""

import io
import threading
from datetime import UTC, datetime, timedelta

import pytest
from django.core.management.base import OutputWrapper
from django.db import transaction
from django.utils.module_loading import import_string

from backoffice.business.models import Business
from backoffice.later.actions import do_job, later, take_job
from backoffice.later.models import Job
from backoffice.letters.actions import deliver, deliver_waiting
from backoffice.management.commands import work
from backoffice.management.commands.work import Command
from billing.invoices.batch import carry_out as issue_drafts
from billing.quotes.driving import carry_out as price_driving
from clients.barnside.actions import write_reports
from clients.rounds.planning import carry_out as plan_fortnight

NOW = datetime(2026, 3, 2, 17, 0, tzinfo=UTC)
ALL_LONG_WORK = (deliver, deliver_waiting, write_reports, plan_fortnight, issue_drafts, price_driving)


@pytest.mark.django_db(transaction=True)
def test_long_work_begins_in_a_thread_of_its_own_once_the_transaction_is_through(settings, business):
    settings.WORK_AT_ONCE = False
    done, seen = threading.Event(), []

    def work() -> None:
        seen.append((threading.current_thread() is threading.main_thread(), Business.objects.get().name))
        done.set()

    with transaction.atomic():
        Business.objects.update(name="Changed")
        later(work)
        assert not done.wait(0.05)
    assert done.wait(10)
    assert seen == [(False, "Changed")]


def test_where_work_is_done_at_once_it_is_done_before_going_on(settings):
    settings.WORK_AT_ONCE = True
    seen = []
    later(lambda: seen.append(1))
    assert seen == [1]


def rename(pk: int, name: str) -> None:
    Business.objects.filter(pk=pk).update(name=name)


def stumble(pk: int) -> None:
    raise LookupError(f"no row {pk}")


@pytest.fixture
def worker(settings, business):
    settings.WORK_AT_ONCE, settings.WORKER = False, True
    return business


class TestWorker:
    def test_work_waits_in_the_database_and_is_done_by_the_worker(self, worker):
        later(rename, worker.pk, "Changed")
        assert Business.objects.get().name != "Changed"
        assert do_job(take_job(NOW))
        assert Business.objects.get().name == "Changed"
        assert take_job(NOW) is None

    def test_what_was_never_committed_is_never_done(self, worker):
        with transaction.atomic():
            later(rename, worker.pk, "Changed")
            transaction.set_rollback(True)
        assert not Job.objects.exists()

    def test_the_oldest_comes_first_and_nobody_takes_it_twice(self, worker):
        for name in ("one", "two"):
            later(rename, worker.pk, name)
        assert [take_job(NOW).told[1], take_job(NOW).told[1], take_job(NOW)] == ["one", "two", None]

    def test_what_a_worker_left_half_done_is_taken_up_again(self, worker):
        later(rename, worker.pk, "Changed")
        take_job(NOW)
        assert take_job(NOW + timedelta(minutes=59)) is None
        assert take_job(NOW + timedelta(minutes=61)) is not None

    def test_what_fails_stays_with_its_cause_until_somebody_has_looked(self, worker, as_owner_manager, caplog):
        later(stumble, 17)
        assert not do_job(take_job(NOW))
        assert take_job(NOW + timedelta(days=1)) is None
        assert "job" in caplog.text
        assert "LookupError: no row 17" in as_owner_manager.get("/").content.decode()
        page = as_owner_manager.get("/settings/backups/").content.decode()
        assert "Stumble" in page
        assert "LookupError: no row 17" in page
        as_owner_manager.post("/settings/backups/forget-failed-work/")
        assert not Job.objects.exists()

    def test_today_says_when_no_worker_takes_work_up(self, worker, as_owner_manager):
        later(rename, worker.pk, "Changed")
        assert "No worker takes it up" not in as_owner_manager.get("/").content.decode()
        Job.objects.update(made_at=NOW - timedelta(days=400))
        assert "No worker takes it up" in as_owner_manager.get("/").content.decode()

    @pytest.mark.parametrize("each", ALL_LONG_WORK)
    def test_every_long_work_can_be_found_by_its_name(self, each):
        assert import_string(f"{each.__module__}.{each.__qualname__}") is each


@pytest.mark.django_db(transaction=True)
def test_the_command_works_until_it_is_stopped(worker, monkeypatch):
    later(rename, worker.pk, "Changed")
    said, command = io.StringIO(), Command()
    command.stdout = OutputWrapper(said)
    monkeypatch.setattr(work.time, "sleep", lambda seconds: command._stop())
    monkeypatch.setattr(work.signal, "signal", lambda *each: None)
    command.handle()
    assert said.getvalue().splitlines() == ["Waiting for work.", "rename: done."]
    assert Business.objects.get().name == "Changed"
