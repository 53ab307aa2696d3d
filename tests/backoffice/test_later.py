import threading

import pytest
from django.db import transaction

from backoffice.business.models import Business
from backoffice.later import later


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
