"""Two people book the same machine for the same time at the same moment."""

from datetime import time
from threading import Barrier, Thread

import pytest
from django.db import connection

from backoffice.refusal import Refused
from clients.visits.actions import book_visit
from clients.visits.models import Visit
from tests.factories.backoffice import BusinessFactory
from tests.factories.clients import MachineFactory
from tests.factories.visits import ready_visit


@pytest.mark.django_db(transaction=True)
def test_one_of_two_bookings_of_a_machine_at_once_is_refused(now):
    BusinessFactory()
    machine = MachineFactory()
    waiting = [ready_visit(machine=machine) for _ in range(2)]
    together, refused = Barrier(2), []

    def book(visit):
        together.wait()
        try:
            book_visit(visit=visit, starts=time(9, 0), at=now, by=None)
        except Refused as refusal:
            refused.append(refusal.sentence)
        finally:
            connection.close()

    threads = [Thread(target=book, args=[visit]) for visit in waiting]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert Visit.objects.filter(status=Visit.Status.BOOKED).count() == 1
    assert len(refused) == 1
    assert str(machine) in refused[0]
