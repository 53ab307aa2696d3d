"""Many at once: no gap, no twin, no deadlock, whatever else each of them locks."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from backoffice.access.models import User
from backoffice.audit import actions as audit
from backoffice.audit.models import Entry
from backoffice.audit.queries import breaks_in_chain
from tests.factories.backoffice import BusinessFactory, UserFactory

THREADS = 20


@pytest.mark.django_db(transaction=True)
def test_twenty_at_once_record_without_a_gap(now):
    BusinessFactory()
    people = [UserFactory() for _ in range(4)]

    @audit.action
    def change(step: int) -> int:
        # each locks two rows in an order of its own, which would deadlock without the head locked first
        for person in (people if step % 2 else people[::-1])[:2]:
            User.objects.select_for_update().get(pk=person.pk)
        return audit.record("changed", people[0], at=now, by=None).number

    def in_its_own_connection(step: int) -> int:
        try:
            return change(step)
        finally:
            connection.close()

    with ThreadPoolExecutor(THREADS) as pool:
        numbers = list(pool.map(in_its_own_connection, range(THREADS)))
    assert sorted(numbers) == list(range(1, THREADS + 1))
    assert Entry.objects.count() == THREADS
    assert list(breaks_in_chain()) == []
