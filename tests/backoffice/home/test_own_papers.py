from datetime import date, timedelta

import pytest
import time_machine

from clients.paperwork.own_actions import add_own_paper
from tests.conftest import NOW

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("business")]


@pytest.mark.parametrize(("days", "is_said"), [(30, True), (31, False)])
def test_a_paper_of_the_practice_that_ends_in_thirty_days_is_on_today(days, is_said, as_owner_manager, owner_manager):
    add_own_paper(
        kind="first_aid",
        holder=owner_manager,
        issuer="Elbert County class",
        number="",
        uses_machine=None,
        place="",
        since=date(2025, 1, 1),
        until=NOW.date() + timedelta(days=days),
        at=NOW,
        by=owner_manager,
    )
    with time_machine.travel(NOW, tick=False):
        assert ("Your own papers" in as_owner_manager.get("/").content.decode()) is is_said
